//! How are units, colours and the like chosen? Each as a pair of buttons.

use bevy_egui::egui::Ui;

use crate::still::Look;
use crate::theme::Theme;
use crate::units::Units;
use crate::viewer::state::desk::{Action, SettingAction};
use crate::wording;

use super::context::PanelContext;
use super::style::{button, choice};

/// Units, colours and the like as pairs of buttons.
pub(super) fn switches_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let settings = panel.desk.settings();
    let pairs = [
        (
            "Metres",
            "Feet",
            settings.units == Units::M,
            SettingAction::Units(Units::M).into(),
            SettingAction::Units(Units::Ft).into(),
        ),
        (
            "Light",
            "Dark",
            settings.theme == Theme::Paper,
            SettingAction::Theme(Theme::Paper).into(),
            SettingAction::Theme(Theme::Dusk).into(),
        ),
        (
            "Frame only",
            "With surround",
            !settings.surround,
            SettingAction::Surround(false).into(),
            SettingAction::Surround(true).into(),
        ),
        (
            "Finder of card",
            "In materials",
            settings.finder_look == Look::Card,
            SettingAction::FinderLook(Look::Card).into(),
            SettingAction::FinderLook(Look::Materials).into(),
        ),
        (
            "Animations",
            "Less motion",
            !settings.less_motion,
            SettingAction::LessMotion(false).into(),
            SettingAction::LessMotion(true).into(),
        ),
    ];
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = style.px(6.0);
        let now = settings.text_size;
        let step = style.px(34.0);
        if button(ui, style, "−", step).on_hover_text("smaller text (Ctrl Minus)").clicked() {
            actions.push(SettingAction::TextSize(now - 0.1).into());
        }
        let words = format!("Text {}", wording::percent(now));
        let width = ui.available_width() - step - style.px(8.0);
        if choice(ui, style, &words, &format!("text size {}; usual size", wording::percent(now)), now > 1.0, width)
            .on_hover_text("the usual size (Ctrl 0)")
            .clicked()
        {
            actions.push(SettingAction::TextSize(1.0).into());
        }
        if button(ui, style, "+", step).on_hover_text("larger text (Ctrl Plus)").clicked() {
            actions.push(SettingAction::TextSize(now + 0.1).into());
        }
    });
    let half = 0.5 * (ui.available_width() - style.px(8.0));
    for (one, other, first, to_one, to_other) in pairs {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = style.px(6.0);
            if choice(ui, style, one, one, first, half).clicked() {
                actions.push(to_one);
            }
            if choice(ui, style, other, other, !first, half).clicked() {
                actions.push(to_other);
            }
        });
    }
}
