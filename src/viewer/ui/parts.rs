//! What do the desks' layouts share? Places that are filled, scrolled or edged, and the strip that says what is wrong.

use bevy_egui::egui::{Pos2, Rect, ScrollArea, StrokeKind, Ui, Vec2};

use super::context::PanelContext;
use super::site::problems_ui;
use super::style::{WindowStyle, card, within};

/// A window that is narrower has its desks along the top, in units of the drawing.
pub(super) const TWO_COLUMNS: f32 = 640.0;

/// A card with something in it.
pub(super) fn filled(ui: &mut Ui, style: &WindowStyle, name: &str, rect: Rect, contents: impl FnOnce(&mut Ui)) {
    card(ui, style, rect);
    within(ui, name, rect.shrink2(Vec2::new(style.px(14.0), style.px(11.0))), contents);
}

/// A card that scrolls.
pub(super) fn scrolled(ui: &mut Ui, style: &WindowStyle, name: &str, rect: Rect, contents: impl FnOnce(&mut Ui)) {
    filled(ui, style, name, rect, |ui| {
        ScrollArea::vertical().id_salt("layout 1").auto_shrink([false, false]).show(ui, contents);
    });
}

/// Lays the faults of the site file, where there are some, at the top of a place; what is left of it.
pub(super) fn problem_strip(ui: &mut Ui, panel: &PanelContext<'_>, place: Rect) -> Rect {
    let style = &panel.style;
    if panel.desk.site_problems().is_none() {
        return place;
    }
    let strip = Rect::from_min_size(place.min, Vec2::new(place.width(), style.px(118.0).min(0.3 * place.height())));
    within(ui, "faults", strip, |ui| problems_ui(ui, panel, strip.height()));
    let below = strip.bottom() + style.px(8.0);
    ui.painter().hline(place.x_range(), below - style.px(4.0), style.hairline());
    Rect::from_min_max(Pos2::new(place.left(), below), place.max)
}

pub(super) fn has_cautions(panel: &PanelContext<'_>) -> bool {
    !panel.measured().cautions.is_empty()
}

/// The edge of a card that a drawing runs under.
pub(super) fn edge(ui: &Ui, style: &WindowStyle, rect: Rect) {
    ui.painter().rect_stroke(rect, 2.0, style.hairline(), StrokeKind::Inside);
}
