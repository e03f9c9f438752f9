//! What is shown, in which units, under which sun, by which threshold? The line at the top: each word of it can be changed.

use bevy_egui::egui::{
    self, Align2, Popup, PopupCloseBehavior, Pos2, Rect, Response, Sense, Ui, Vec2, WidgetInfo, WidgetType,
};

use crate::angle::Angle;
use crate::theme::Theme;
use crate::units::Units;

use super::figures::{number_in, short};
use super::notices::notices_ui;
use super::site::{Typing, site_ui};
use super::style::{Look, choice, focus_ring, within, word_button};
use super::sun::sun_ui;
use super::table::Table;
use crate::viewer::state::desk::{Action, NoticeKind, SettingAction};

/// Draws the line in its rectangle.
pub(super) fn top_ui(ui: &mut Ui, table: &Table<'_>, typing: &mut Typing, rect: Rect, actions: &mut Vec<Action>) {
    let look = &table.look;
    let narrow = rect.width() < look.px(920.0);
    let words = rect.width() * if narrow { 0.5 } else { 0.46 };
    let left = Rect::from_min_max(rect.min, Pos2::new(rect.right() - words, rect.bottom()));
    within(ui, "site line", left, |ui| site_line(ui, table, typing, left, narrow, actions));
    let right = Rect::from_min_max(Pos2::new(left.right(), rect.top()), rect.max);
    within(ui, "settings line", right, |ui| {
        let layout = egui::Layout::right_to_left(egui::Align::Center);
        ui.with_layout(layout, |ui| {
            ui.spacing_mut().item_spacing.x = look.px(2.0);
            if narrow { more_ui(ui, table, actions) } else { words_ui(ui, table, actions) }
        });
    });
}

fn site_line(ui: &mut Ui, table: &Table<'_>, typing: &mut Typing, rect: Rect, narrow: bool, actions: &mut Vec<Action>) {
    let look = &table.look;
    let name = &table.desk.survey().model.site.name;
    let room = rect.width() * if narrow { 1.0 } else { 0.62 } - look.px(22.0);
    let galley = look.fitted(ui, name, look.strong(15.0), look.ink(), room);
    let size = Vec2::new(galley.size().x + look.px(18.0), galley.size().y + look.px(4.0));
    let button = Rect::from_min_size(Pos2::new(rect.left(), rect.center().y - 0.5 * size.y), size);
    let response = ui.interact(button, egui::Id::new("site"), Sense::click());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Button, true, format!("site: {name}; open another")));
    ui.painter().galley(button.min + Vec2::new(0.0, look.px(2.0)), galley, look.ink());
    let tip = Pos2::new(button.right() - look.px(7.0), button.center().y + look.px(3.0));
    let wing = look.px(4.0);
    ui.painter().line(
        vec![tip + Vec2::new(-wing, -wing), tip, tip + Vec2::new(wing, -wing)],
        egui::Stroke::new(look.px(1.3), look.soft()),
    );
    focus_ring(ui, look, &response, button);
    menu(&response, |ui| site_ui(ui, table, typing, actions));
    response.on_hover_cursor(egui::CursorIcon::PointingHand);
    if !narrow {
        let at = Pos2::new(button.right() + look.px(10.0), rect.center().y + look.px(1.0));
        let room = rect.right() - at.x - look.px(6.0);
        let stance = look.fitted(ui, &table.desk.stance().name, look.body(), look.soft(), room);
        let spoken = format!("stance: {}", table.desk.stance().name);
        let id = egui::Id::new("stance name");
        super::style::drawn_text(ui, id, at, Align2::LEFT_CENTER, stance, &spoken, look.soft());
    }
}

pub(super) fn menu(response: &Response, contents: impl FnOnce(&mut Ui)) {
    Popup::from_toggle_button_response(response).close_behavior(PopupCloseBehavior::CloseOnClickOutside).show(contents);
}

/// From the right: help, notices, threshold, sun, dress, units.
fn words_ui(ui: &mut Ui, table: &Table<'_>, actions: &mut Vec<Action>) {
    let look = &table.look;
    if word_button(ui, look, "help", "help").on_hover_text("every key, and what the words mean").clicked() {
        actions.push(SettingAction::Help(!table.desk.help()).into());
    }
    dot(ui, look);
    notices_word(ui, table, actions);
    dot(ui, look);
    let upright = short(table.desk.settings().upright.degrees());
    let response = word_button(ui, look, &format!("{upright}° reads as upright"), "largest lean that reads as upright");
    menu(&response, |ui| threshold_ui(ui, table, actions));
    dot(ui, look);
    let response = word_button(ui, look, &sun_words(table), "where the sun stands");
    menu(&response, |ui| sun_ui(ui, table, actions));
    dot(ui, look);
    let (dress, other) = match table.desk.settings().theme {
        Theme::Paper => ("paper", Theme::Dusk),
        Theme::Dusk => ("dusk", Theme::Paper),
    };
    if word_button(ui, look, dress, &format!("dressed in {dress}; change")).clicked() {
        actions.push(SettingAction::Theme(other).into());
    }
    dot(ui, look);
    let (units, other) = match table.units() {
        Units::M => ("metres", Units::Ft),
        Units::Ft => ("feet", Units::M),
    };
    if word_button(ui, look, units, &format!("lengths in {units}; change")).clicked() {
        actions.push(SettingAction::Units(other).into());
    }
}

fn dot(ui: &mut Ui, look: &Look) {
    let (rect, _) = ui.allocate_exact_size(Vec2::new(look.px(5.0), look.px(14.0)), Sense::hover());
    ui.painter().circle_filled(rect.center(), look.px(1.1), look.soft());
}

fn sun_words(table: &Table<'_>) -> String {
    match table.sun() {
        Some(sun) if sun.altitude_deg < 0.0 => "sun is down".into(),
        Some(sun) => format!("sun at {:.0}°, {:.0}° up", sun.azimuth_deg.rem_euclid(360.0), sun.altitude_deg),
        None => "no sun".into(),
    }
}

fn notices_word(ui: &mut Ui, table: &Table<'_>, actions: &mut Vec<Action>) {
    let look = &table.look;
    let number = table.desk.notices().len();
    let grave = table.desk.notices().iter().any(|notice| notice.kind == NoticeKind::Error);
    let word = match number {
        0 => "no notices".to_owned(),
        1 => "1 notice".to_owned(),
        number => format!("{number} notices"),
    };
    let response = word_button(ui, look, &word, &word);
    if grave {
        let place = response.rect.left_center() + Vec2::new(look.px(0.5), 0.0);
        ui.painter().circle_filled(place, look.px(2.4), look.ask());
    }
    menu(&response, |ui| notices_ui(ui, table, actions));
}

/// The largest lean that reads as upright.
fn threshold_ui(ui: &mut Ui, table: &Table<'_>, actions: &mut Vec<Action>) {
    let look = &table.look;
    ui.set_max_width(look.px(260.0));
    ui.label(look.title("What reads as upright"));
    ui.label(look.note(
        "A line that leans by no more than this passes for plumb. People notice about 0.6° on average; a strict client \
         may notice less.",
    ));
    let now = table.desk.settings().upright.degrees();
    ui.horizontal(|ui| {
        for degrees in [0.2, 0.4, 0.6, 1.0, 2.0] {
            let words = format!("{degrees}°");
            if choice(ui, look, &words, &words, (now - degrees).abs() < 1e-9, look.px(44.0)).clicked() {
                actions.push(SettingAction::Upright(Angle::from_degrees(degrees)).into());
            }
        }
    });
    let id = ui.id().with("typed threshold");
    let mut text: String = ui.data(|data| data.get_temp(id)).unwrap_or_default();
    let response = ui.add(egui::TextEdit::singleline(&mut text).desired_width(look.px(90.0)).hint_text("another"));
    ui.ctx().accesskit_node_builder(response.id, |node| node.set_label("another threshold in degrees"));
    if response.lost_focus()
        && let Some(degrees) = number_in(&text).filter(|degrees| (0.01..=45.0).contains(degrees))
    {
        actions.push(SettingAction::Upright(Angle::from_degrees(degrees)).into());
        text.clear();
    }
    ui.data_mut(|data| data.insert_temp(id, text));
}

/// Everything of the line behind one word, where there is no room for it.
fn more_ui(ui: &mut Ui, table: &Table<'_>, actions: &mut Vec<Action>) {
    let look = &table.look;
    let number = table.desk.notices().len();
    let word = if number == 0 { "more".to_owned() } else { format!("more ({number})") };
    let response = word_button(ui, look, &word, "more: units, sun, notices, help");
    menu(&response, |ui| {
        ui.set_max_width(look.px(250.0));
        egui::ScrollArea::vertical()
            .id_salt("top 1")
            .max_height(ui.ctx().content_rect().height() - look.px(90.0))
            .show(ui, |ui| {
                let half = 0.5 * (ui.available_width() - look.px(8.0));
                if choice(ui, look, "Help", "help", table.desk.help(), half).clicked() {
                    actions.push(SettingAction::Help(!table.desk.help()).into());
                }
                switches_ui(ui, table, actions);
                ui.separator();
                sun_ui(ui, table, actions);
                ui.separator();
                threshold_ui(ui, table, actions);
                ui.separator();
                notices_ui(ui, table, actions);
            });
    });
}

/// Units, dress and the like as pairs of buttons.
pub(super) fn switches_ui(ui: &mut Ui, table: &Table<'_>, actions: &mut Vec<Action>) {
    let look = &table.look;
    let settings = table.desk.settings();
    let pairs = [
        (
            "Metres",
            "Feet",
            settings.units == Units::M,
            SettingAction::Units(Units::M).into(),
            SettingAction::Units(Units::Ft).into(),
        ),
        (
            "Paper",
            "Dusk",
            settings.theme == Theme::Paper,
            SettingAction::Theme(Theme::Paper).into(),
            SettingAction::Theme(Theme::Dusk).into(),
        ),
        (
            "Frame only",
            "Surround too",
            !settings.surround,
            SettingAction::Surround(false).into(),
            SettingAction::Surround(true).into(),
        ),
        (
            "Things glide",
            "Less motion",
            !settings.less_motion,
            SettingAction::LessMotion(false).into(),
            SettingAction::LessMotion(true).into(),
        ),
    ];
    let half = 0.5 * (ui.available_width() - look.px(8.0));
    for (one, other, first, to_one, to_other) in pairs {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = look.px(6.0);
            if choice(ui, look, one, one, first, half).clicked() {
                actions.push(to_one);
            }
            if choice(ui, look, other, other, !first, half).clicked() {
                actions.push(to_other);
            }
        });
    }
}
