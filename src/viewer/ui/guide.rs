//! What does a newcomer need in the first minute? A card that can be put away; the help keeps what it says.

use bevy_egui::egui::{FontId, Pos2, Rect, RichText, ScrollArea, Ui, Vec2};

use super::style::{button, card, count, within};
use super::table::Table;
use crate::viewer::state::desk::{Action, SettingAction};

/// The first minute, step by step.
pub(super) const STEPS: [(&str, &str); 5] = [
    ("Walk", "with W A S D, or click on the plan. Drag the picture to look around."),
    ("Turn the lens", "with the wheel over the picture. F fills the frame, L levels the camera."),
    ("Read", "leans drawn in plumb red. The large figures say whether it reads as upright."),
    ("Change height", "on the staff: crouch, stand, climb. A higher camera tilts less."),
    ("Pin", "a stance: its print lies here. Lay two side by side on the Compare desk."),
];

/// The guide beside the pinning, where prints will lie: the picture stays free.
pub(super) fn guide_strip_ui(ui: &mut Ui, table: &Table<'_>, rect: Rect, actions: &mut Vec<Action>) {
    let look = &table.look;
    card(ui, look, rect);
    let inner = rect.shrink2(Vec2::new(look.px(12.0), look.px(8.0)));
    let last = look.px(74.0);
    let gap = look.px(12.0);
    let width = (inner.width() - last) / count(STEPS.len()) - gap;
    for (index, (word, rest)) in STEPS.into_iter().enumerate() {
        let corner = inner.min + Vec2::new(count(index) * (width + gap), 0.0);
        let column = Rect::from_min_size(corner, Vec2::new(width, inner.height()));
        within(ui, word, column, |ui| {
            ScrollArea::vertical().id_salt(word).auto_shrink([false, false]).show(ui, |ui| {
                ui.spacing_mut().item_spacing.y = look.px(1.0);
                ui.label(RichText::new(word).font(look.strong(11.5)).color(look.ink()));
                ui.label(RichText::new(rest).font(FontId::proportional(look.px(10.5))).color(look.soft()));
            });
        });
    }
    let foot = Rect::from_min_max(Pos2::new(inner.right() - last, inner.top()), inner.max);
    within(ui, "put the guide away", foot, |ui| {
        if button(ui, look, "Put away", last).on_hover_text("every key is under help").clicked() {
            actions.push(SettingAction::Guide(false).into());
        }
    });
}
