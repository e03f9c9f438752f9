//! Which keys are there, and what do the words mean?

use bevy_egui::egui::{self, Modal, ScrollArea, Ui, Vec2};

use super::guide::STEPS;
use super::style::{Look, button};
use super::table::Table;
use crate::viewer::state::desk::{Action, SettingAction};

/// The trade's words as they are used on the screen.
pub(super) const WORDS: [(&str, &str); 15] = [
    ("stance", "where the camera is and where it looks, with its body and lens as set"),
    ("verticals", "lines that are plumb in reality; drawn in plumb red where they are seen, dotted where hidden"),
    ("flanks", "the outline of a block that truly tapers; they are not plumb, and never counted as verticals"),
    ("lean", "the angle in the picture between a line and the picture's own vertical"),
    ("closes, opens", "by how much the two plumb lines that touch the subject lean together toward the top, or apart"),
    ("largest lean", "the largest lean among the subject's verticals; in view, among all that are seen"),
    ("reads as upright", "the largest lean is no larger than people notice: 0.6° unless you set another"),
    ("taper", "the subject's width at its head over that at its foot: its own shape, times what the tilt adds"),
    ("detail", "pixels of the sensor for each metre of surface, at the worst point that is seen"),
    ("if straightened", "the detail and the pixels that remain once the picture is made upright afterwards"),
    ("rise", "the lens moved up, parallel to the sensor: shows more of the top without a tilt"),
    ("plumb gauge", "the subject as a level camera sees it, dashed; as this one does, filled; and a plumb line"),
    ("slack", "how far off the stance may be before a lean changes"),
    ("print", "a pinned stance"),
    ("capture", "a still and its record: everything needed to take the same picture"),
];

/// The help over the whole window.
pub(super) fn help_ui(ui: &mut Ui, table: &Table<'_>, keys: &[(&str, &str, &str)], actions: &mut Vec<Action>) {
    if !table.desk.help() {
        return;
    }
    let look = &table.look;
    let window = ui.ctx().content_rect().size();
    let width = (window.x - look.px(64.0)).min(look.px(860.0));
    let height = (window.y - look.px(120.0)).max(look.px(120.0));
    let modal = Modal::new(egui::Id::new("help")).show(ui.ctx(), |ui| {
        ui.set_width(width);
        ui.label(look.title("Keys and words"));
        ScrollArea::vertical().id_salt("help 1").max_height(height).auto_shrink([false, true]).show(ui, |ui| {
            if width >= look.px(620.0) {
                ui.columns_const(|[left, right]: &mut [Ui; 2]| {
                    keys_ui(left, look, keys);
                    words_ui(right, look);
                });
            } else {
                keys_ui(ui, look, keys);
                words_ui(ui, look);
            }
        });
        button(ui, look, "Close", look.px(80.0)).clicked()
    });
    if modal.inner || modal.should_close() {
        actions.push(SettingAction::Help(false).into());
    }
}

fn keys_ui(ui: &mut Ui, look: &Look, keys: &[(&str, &str, &str)]) {
    ui.spacing_mut().item_spacing = Vec2::new(look.px(8.0), look.px(3.0));
    ui.label(egui::RichText::new("The first minute").font(look.strong(12.0)).color(look.ink()));
    for (word, rest) in STEPS {
        pair_ui(ui, look, word, rest, 0.36);
    }
    let mut group = "";
    for (of, key, what) in keys {
        if *of != group {
            group = of;
            ui.add_space(look.px(6.0));
            ui.label(egui::RichText::new(group).font(look.strong(12.0)).color(look.ink()));
        }
        pair_ui(ui, look, key, what, 0.36);
    }
}

fn words_ui(ui: &mut Ui, look: &Look) {
    ui.spacing_mut().item_spacing = Vec2::new(look.px(8.0), look.px(3.0));
    ui.add_space(look.px(6.0));
    ui.label(egui::RichText::new("Words").font(look.strong(12.0)).color(look.ink()));
    for (word, meaning) in WORDS {
        pair_ui(ui, look, word, meaning, 0.3);
    }
}

/// A term at the left, what it means at the right.
fn pair_ui(ui: &mut Ui, look: &Look, term: &str, meaning: &str, share: f32) {
    let width = ui.available_width() - look.px(8.0);
    let left = share * width;
    let term_galley = look.wrapped(ui.painter(), term, look.strong(11.5), look.ink(), left - look.px(8.0));
    let meaning_galley = look.wrapped(ui.painter(), meaning, look.caption(), look.soft(), width - left);
    let height = term_galley.size().y.max(meaning_galley.size().y);
    let (rect, response) = ui.allocate_exact_size(Vec2::new(width, height), egui::Sense::hover());
    response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Label, true, format!("{term}: {meaning}")));
    ui.painter().galley(rect.min, term_galley, look.ink());
    ui.painter().galley(rect.min + Vec2::new(left, 0.0), meaning_galley, look.soft());
}
