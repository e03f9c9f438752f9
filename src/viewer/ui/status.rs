//! What is shown, in which units, under which sun, by which threshold? The line at the top: each word of it can be changed.

use bevy_egui::egui::{self, Popup, PopupCloseBehavior, Pos2, Rect, Response, Sense, Ui, Vec2, WidgetInfo, WidgetType};

use crate::angle::Angle;
use crate::theme::Theme;
use crate::units::Units;

use super::context::PanelContext;
use super::figures::{number_in, short};
use super::notices::notices_ui;
use super::site::{TypedPath, site_ui};
use super::style::{button, button_width, choice, focus_ring, mark_down, menu_button, within};
use super::sun::sun_ui;
use super::switches::switches_ui;
use crate::viewer::state::desk::{Action, NoticeKind, SettingAction};

/// Draws the line in its rectangle; what of it is free for what is reported.
pub(super) fn top_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    typed: &mut TypedPath,
    rect: Rect,
    actions: &mut Vec<Action>,
) -> Rect {
    let style = &panel.style;
    let narrow = rect.width() < style.px(900.0);
    let mut settings_left = rect.right();
    within(ui, "settings line", rect, |ui| {
        let layout = egui::Layout::right_to_left(egui::Align::Center);
        ui.with_layout(layout, |ui| {
            ui.spacing_mut().item_spacing.x = style.px(8.0);
            if narrow {
                more_ui(ui, panel, actions)
            } else {
                settings_line_ui(ui, panel, actions)
            }
            settings_left = ui.min_rect().left();
        });
    });
    let left = Rect::from_min_max(rect.min, Pos2::new(settings_left - style.px(12.0), rect.bottom()));
    let name_right = within(ui, "site line", left, |ui| site_line(ui, panel, typed, left, narrow, actions));
    if narrow { left } else { left.with_min_x(name_right + style.px(16.0)) }
}

/// The site by its name, which opens another; where the name ends.
fn site_line(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    typed: &mut TypedPath,
    rect: Rect,
    narrow: bool,
    actions: &mut Vec<Action>,
) -> f32 {
    let style = &panel.style;
    let name = &panel.desk.survey().model.site.name;
    let room = rect.width() * if narrow { 1.0 } else { 0.66 } - style.px(22.0);
    let galley = style.fitted(ui, name, style.strong(15.0), style.ink(), room);
    let size = Vec2::new(galley.size().x + style.px(22.0), galley.size().y + style.px(4.0));
    let button = Rect::from_min_size(Pos2::new(rect.left(), rect.center().y - 0.5 * size.y), size);
    let response = ui.interact(button, egui::Id::new("site"), Sense::click());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Button, true, format!("site: {name}; open another")));
    if response.hovered() {
        ui.painter().rect_filled(button.expand2(Vec2::new(4.0, 0.0)), 4.0, style.well());
    }
    ui.painter().galley(button.min + Vec2::new(0.0, style.px(2.0)), galley, style.ink());
    mark_down(ui.painter(), style, Pos2::new(button.right() - style.px(8.0), button.center().y));
    focus_ring(ui, style, &response, button);
    menu(&response, |ui| site_ui(ui, panel, typed, actions));
    response.on_hover_cursor(egui::CursorIcon::PointingHand);
    button.right()
}

pub(super) fn menu(response: &Response, contents: impl FnOnce(&mut Ui)) {
    Popup::from_toggle_button_response(response).close_behavior(PopupCloseBehavior::CloseOnClickOutside).show(contents);
}

/// From the right: help, notices, threshold, sun, units and colours.
fn settings_line_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let help = button_width(ui, style, "Help");
    if button(ui, style, "Help", help).on_hover_text("all keys and terms (H)").clicked() {
        actions.push(SettingAction::Help(!panel.desk.help()).into());
    }
    notices_word(ui, panel, actions);
    let upright = short(panel.desk.settings().upright.degrees());
    let words = format!("Upright up to {upright}°");
    let response = menu_button(ui, style, &words, "largest lean that is upright", None);
    menu(&response, |ui| threshold_ui(ui, panel, actions));
    let response = menu_button(ui, style, &sun_words(panel), "position of the sun", None);
    menu(&response, |ui| {
        // On a low window the card of the year would not fit.
        let height = ui.ctx().content_rect().height() - style.px(70.0);
        // A menu takes itself to be 400 points high at first.
        let scrolled = egui::ScrollArea::vertical().id_salt("sun").max_height(height).min_scrolled_height(height);
        scrolled.show(ui, |ui| sun_ui(ui, panel, actions));
    });
    let units = match panel.units() {
        Units::M => "Metres",
        Units::Ft => "Feet",
    };
    let colours = match panel.desk.settings().theme {
        Theme::Paper => "light",
        Theme::Dusk => "dark",
    };
    let response = menu_button(ui, style, &format!("{units}, {colours}"), "units, colours and text size", None);
    menu(&response, |ui| {
        ui.set_width(style.px(240.0));
        switches_ui(ui, panel, actions);
    });
}

fn sun_words(panel: &PanelContext<'_>) -> String {
    let light = panel.desk.light();
    if let (Ok(sky), Some(moment)) = (light.sky, light.moment) {
        let clock = sky.zone().clock(moment);
        return format!("{} {}", clock.day, sky.zone().minutes(moment));
    }
    match panel.sun() {
        Some(sun) if sun.altitude_deg < 0.0 => "Sun below the horizon".into(),
        Some(sun) => format!("Sun {:.0}°, {:.0}° up", sun.azimuth_deg.rem_euclid(360.0), sun.altitude_deg),
        None => "Default light".into(),
    }
}

fn notices_word(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let number = panel.desk.notices().len();
    let grave = panel.desk.notices().iter().any(|notice| notice.kind == NoticeKind::Error);
    let word = match number {
        0 => "No notices".to_owned(),
        1 => "1 notice".to_owned(),
        number => format!("{number} notices"),
    };
    let response = menu_button(ui, style, &word, &word, None);
    if grave {
        let place = response.rect.left_center() + Vec2::new(style.px(4.5), 0.0);
        ui.painter().circle_filled(place, style.px(2.4), style.ask());
    }
    menu(&response, |ui| notices_ui(ui, panel, actions));
}

/// The largest lean that is upright.
fn threshold_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    ui.set_max_width(style.px(260.0));
    ui.label(style.title("What is upright"));
    ui.label(style.note(
        "A line that leans by no more than this reads as plumb. People notice about 0.6° on average; a strict client \
         may notice less.",
    ));
    let now = panel.desk.settings().upright.degrees();
    ui.horizontal(|ui| {
        for degrees in [0.2, 0.4, 0.6, 1.0, 2.0] {
            let words = format!("{degrees}°");
            if choice(ui, style, &words, &words, (now - degrees).abs() < 1e-9, style.px(44.0)).clicked() {
                actions.push(SettingAction::Upright(Angle::from_degrees(degrees)).into());
            }
        }
    });
    let id = ui.id().with("typed threshold");
    let mut text: String = ui.data(|data| data.get_temp(id)).unwrap_or_default();
    let response = ui.add(egui::TextEdit::singleline(&mut text).desired_width(style.px(90.0)).hint_text("another"));
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
fn more_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let number = panel.desk.notices().len();
    let word = if number == 0 { "More".to_owned() } else { format!("More ({number})") };
    let response = menu_button(ui, style, &word, "more: units, sun, notices, help", None);
    menu(&response, |ui| {
        ui.set_max_width(style.px(250.0));
        egui::ScrollArea::vertical()
            .id_salt("top 1")
            .max_height(ui.ctx().content_rect().height() - style.px(90.0))
            .show(ui, |ui| {
                let half = 0.5 * (ui.available_width() - style.px(8.0));
                if choice(ui, style, "Help", "help", panel.desk.help(), half).clicked() {
                    actions.push(SettingAction::Help(!panel.desk.help()).into());
                }
                switches_ui(ui, panel, actions);
                ui.separator();
                sun_ui(ui, panel, actions);
                ui.separator();
                threshold_ui(ui, panel, actions);
                ui.separator();
                notices_ui(ui, panel, actions);
            });
    });
}
