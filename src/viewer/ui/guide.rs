//! What does a newcomer need in the first minute? A card that can be closed; the help holds the same steps.

use bevy_egui::egui::{Pos2, Rect, RichText, ScrollArea, Ui, Vec2};

use super::context::PanelContext;
use super::style::{WindowStyle, button, count, within};
use crate::viewer::state::desk::{Action, SettingAction};

/// The first minute, step by step.
pub(super) const STEPS: [(&str, &str); 5] = [
    ("Walk", "with W A S D, or click the plan. Drag the picture to look around."),
    ("Zoom", "with the wheel over the picture. F fills the frame, L levels the camera."),
    ("Read the verdict", "beside the picture: what is wrong. Leans are drawn in plumb red."),
    ("Change height", "on the height scale: crouch, stand, climb. A higher camera tilts less."),
    ("Pin", "a stance: its print lies at the left. Show two side by side on the Compare desk."),
];

/// The height of the guide's strip.
pub(super) fn guide_height(style: &WindowStyle) -> f32 {
    style.px(88.0)
}

/// The guide along the foot of the sheet: the picture stays free.
pub(super) fn guide_strip_ui(ui: &mut Ui, panel: &PanelContext<'_>, rect: Rect, actions: &mut Vec<Action>) {
    let style = &panel.style;
    ui.painter().rect_filled(rect, 4.0, style.well());
    let inner = rect.shrink2(Vec2::new(style.px(12.0), style.px(8.0)));
    let last = style.px(74.0);
    let gap = style.px(12.0);
    let width = (inner.width() - last) / count(STEPS.len()) - gap;
    for (index, (word, rest)) in STEPS.into_iter().enumerate() {
        let corner = inner.min + Vec2::new(count(index) * (width + gap), 0.0);
        let column = Rect::from_min_size(corner, Vec2::new(width, inner.height()));
        within(ui, word, column, |ui| {
            ScrollArea::vertical().id_salt(word).auto_shrink([false, false]).show(ui, |ui| {
                ui.spacing_mut().item_spacing.y = style.px(1.0);
                ui.label(RichText::new(word).font(style.strong(12.0)).color(style.ink()));
                ui.label(RichText::new(rest).font(style.caption()).color(style.soft()));
            });
        });
    }
    let foot = Rect::from_min_max(Pos2::new(inner.right() - last, inner.top()), inner.max);
    within(ui, "close the guide", foot, |ui| {
        if button(ui, style, "Close", last).on_hover_text("Help lists every key").clicked() {
            actions.push(SettingAction::Guide(false).into());
        }
    });
}
