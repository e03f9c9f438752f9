//! Which keys are there, and what do the words mean?

use bevy_egui::egui::{self, Modal, ScrollArea, Ui, Vec2};

use super::bindings::{BINDINGS, Binding};
use super::context::PanelContext;
use super::guide::STEPS;
use super::style::{WindowStyle, button};
use crate::viewer::state::desk::{Action, SettingAction};

/// The trade's words as they are used on the screen.
pub(super) const WORDS: [(&str, &str); 15] = [
    ("stance", "where the camera is and where it looks, with its sensor and lens settings"),
    ("verticals", "lines that are plumb in reality; drawn in red where visible, dotted where hidden"),
    ("sides", "the outline of a block that truly tapers; not plumb, and never counted as verticals"),
    ("lean", "the angle in the picture between a line and the picture's own vertical"),
    ("convergence", "how far the two plumb lines that bound the subject converge toward the top, or diverge"),
    ("largest lean", "the largest lean among the subject's verticals; in the picture, among all visible ones"),
    ("upright", "the largest lean is too small for people to notice: 0.6° unless you set another value"),
    ("taper", "the subject's width at the top divided by that at the base: true taper × tilt"),
    ("detail", "sensor pixels for each metre of surface; lowest detail, at the worst visible point"),
    ("if straightened", "the detail and pixels that remain after the picture is made upright"),
    ("rise", "the lens moved up, parallel to the sensor; shows more of the top without tilt"),
    ("plumb gauge", "the subject as a level camera sees it (dashed) and as this one does (filled), with a plumb line"),
    ("tolerance", "how far the camera can move before a lean changes"),
    ("print", "a pinned stance, with its picture"),
    ("capture", "a still with its record: everything needed to take the same picture"),
];

/// The help over the whole window.
pub(super) fn help_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    if !panel.desk.help() {
        return;
    }
    let style = &panel.style;
    let window = ui.ctx().content_rect().size();
    let width = (window.x - style.px(64.0)).min(style.px(860.0));
    let height = (window.y - style.px(120.0)).max(style.px(120.0));
    let modal = Modal::new(egui::Id::new("help")).show(ui.ctx(), |ui| {
        ui.set_width(width);
        ui.label(style.title("Keys and terms"));
        ScrollArea::vertical().id_salt("help 1").max_height(height).auto_shrink([false, true]).show(ui, |ui| {
            if width >= style.px(620.0) {
                ui.columns_const(|[left, right]: &mut [Ui; 2]| {
                    keys_ui(left, style);
                    terms_ui(right, style);
                });
            } else {
                keys_ui(ui, style);
                terms_ui(ui, style);
            }
        });
        button(ui, style, "Close", style.px(80.0)).clicked()
    });
    if modal.inner || modal.should_close() {
        actions.push(SettingAction::Help(false).into());
    }
}

fn keys_ui(ui: &mut Ui, style: &WindowStyle) {
    ui.spacing_mut().item_spacing = Vec2::new(style.px(8.0), style.px(3.0));
    ui.label(egui::RichText::new("The first minute").font(style.strong(12.0)).color(style.ink()));
    for (word, rest) in STEPS {
        pair_ui(ui, style, word, rest, 0.36);
    }
    let mut group = "";
    for Binding { group: of, keys: key, words: what, .. } in BINDINGS {
        if *of != group {
            group = of;
            ui.add_space(style.px(6.0));
            ui.label(egui::RichText::new(group).font(style.strong(12.0)).color(style.ink()));
        }
        pair_ui(ui, style, key, what, 0.36);
    }
}

fn terms_ui(ui: &mut Ui, style: &WindowStyle) {
    ui.spacing_mut().item_spacing = Vec2::new(style.px(8.0), style.px(3.0));
    ui.add_space(style.px(6.0));
    ui.label(egui::RichText::new("Terms").font(style.strong(12.0)).color(style.ink()));
    for (word, meaning) in WORDS {
        pair_ui(ui, style, word, meaning, 0.3);
    }
}

/// A term at the left, what it means at the right.
fn pair_ui(ui: &mut Ui, style: &WindowStyle, term: &str, meaning: &str, share: f32) {
    let width = ui.available_width() - style.px(8.0);
    let left = share * width;
    let term_galley = style.wrapped(ui.painter(), term, style.strong(11.5), style.ink(), left - style.px(8.0));
    let meaning_galley = style.wrapped(ui.painter(), meaning, style.caption(), style.soft(), width - left);
    let height = term_galley.size().y.max(meaning_galley.size().y);
    let (rect, response) = ui.allocate_exact_size(Vec2::new(width, height), egui::Sense::hover());
    response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Label, true, format!("{term}: {meaning}")));
    ui.painter().galley(rect.min, term_galley, style.ink());
    ui.painter().galley(rect.min + Vec2::new(left, 0.0), meaning_galley, style.soft());
}
