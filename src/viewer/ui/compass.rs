//! Which way does the camera look? A compass band that slides under a fixed index.

use bevy_egui::egui::{self, Pos2, Sense, Stroke, Ui, Vec2};

use crate::angle::Angle;

use super::figures::number_in;
use super::lens_scale::{ScaleInput, scale_ground, steps, tell, value_line};
use super::style::{WindowStyle, bracket, index_mark};
use crate::viewer::render::narrow::screen;

/// Half of what the band shows.
const HALF_DEG: f64 = 34.0;

/// What the band shows besides its degrees.
pub(super) struct CompassBand<'a> {
    /// Where the camera looks.
    pub(super) heading: Angle,
    /// What is written: "352.0°, compass 352.4°".
    pub(super) value: &'a str,
    /// How far the compass needle is off.
    pub(super) needle: &'a str,
    /// Where the subject is.
    pub(super) subject: Option<Angle>,
    /// Where the sun is, while it is up.
    pub(super) sun: Option<Angle>,
    /// How far it may be off, either way.
    pub(super) tolerance: Option<Angle>,
}

impl CompassBand<'_> {
    /// Draws the band and tells a heading that was asked for.
    pub(super) fn ui(&self, ui: &mut Ui, style: &WindowStyle) -> Option<Angle> {
        let id = ui.make_persistent_id("compass band");
        let typed = value_line(ui, style, id, "heading", "Bearing", self.value);
        let (outer, _) = ui.allocate_exact_size(Vec2::new(ui.available_width(), style.px(39.0)), Sense::hover());
        let top = outer.min + Vec2::new(0.0, style.px(7.0));
        let well = egui::Rect::from_min_size(top, Vec2::new(outer.width(), style.px(25.0)));
        let response = ui.interact(well, id, Sense::click_and_drag());
        let points_a_degree = 0.5 * f64::from(well.width()) / HALF_DEG;
        let now = self.heading.compass_degrees();
        let mut asked = None;
        if response.dragged() {
            asked = Some(now - f64::from(response.drag_delta().x) / points_a_degree);
        } else if response.clicked()
            && let Some(place) = response.interact_pointer_pos()
        {
            asked = Some(now + f64::from(place.x - well.center().x) / points_a_degree);
        }
        match typed.or_else(|| steps(ui, &response)) {
            Some(ScaleInput::Stops(count)) => asked = Some(now + f64::from(count)),
            Some(ScaleInput::Fine(count)) => asked = Some(now + 0.1 * f64::from(count)),
            Some(ScaleInput::Typed(text)) => asked = number_in(&text).or(asked),
            Some(ScaleInput::End(_) | ScaleInput::To(_)) | None => {}
        }
        self.draw(ui, style, well, points_a_degree);
        super::style::focus_ring(ui, style, &response, well);
        index_mark(ui.painter(), style, Pos2::new(well.center().x, well.top()));
        if let Some(tolerance) = self.tolerance {
            let reach = screen(tolerance.degrees() * points_a_degree).min(0.5 * well.width());
            let middle = well.center().x;
            bracket(ui.painter(), style, [middle - reach, middle + reach], well.bottom() + style.px(4.0));
        }
        tell(ui, &response, "heading", self.value, now);
        response.on_hover_and_drag_cursor(egui::CursorIcon::ResizeHorizontal).on_hover_text(self.needle);
        asked.map(|degrees| Angle::from_degrees(degrees.rem_euclid(360.0)))
    }

    fn draw(&self, ui: &Ui, style: &WindowStyle, well: egui::Rect, points_a_degree: f64) {
        let painter = ui.painter().with_clip_rect(well.intersect(ui.clip_rect()));
        scale_ground(&painter, style, well);
        let now = self.heading.compass_degrees();
        let at = |degrees: f64| well.center().x + screen(degrees * points_a_degree);
        let first = ((now - HALF_DEG) / 5.0).ceil();
        let last = ((now + HALF_DEG) / 5.0).floor();
        let mut step = first;
        while step <= last {
            let degrees = 5.0 * step;
            let x = at(degrees - now);
            let whole = (step.rem_euclid(2.0)).abs() < 0.5;
            let depth = style.px(if whole { 7.0 } else { 4.0 });
            painter.vline(x, well.top()..=well.top() + depth, Stroke::new(1.0, style.soft()));
            if whole {
                let compass = degrees.rem_euclid(360.0).round();
                let point = [(0.0, "N"), (90.0, "E"), (180.0, "S"), (270.0, "W")]
                    .into_iter()
                    .find(|(value, _)| (compass - value).abs() < 0.5);
                let (text, font, ink) = match point {
                    Some((_, name)) => (name.to_owned(), style.strong(11.0), style.ink()),
                    None => (format!("{compass:.0}"), style.figure(), style.soft()),
                };
                let galley = painter.layout_no_wrap(text, font, ink);
                let left = x - 0.5 * galley.size().x;
                // A figure that the end of the band would cut is left out.
                if left > well.left() + 2.0 && left + galley.size().x < well.right() - 2.0 {
                    painter.galley(Pos2::new(left, well.bottom() - galley.size().y - style.px(0.5)), galley, ink);
                }
            }
            step += 1.0;
        }
        let off = |angle: Angle| (angle - self.heading).wrapped().degrees();
        if let Some(off) = self.subject.map(off).filter(|off| off.abs() < HALF_DEG) {
            let x = at(off);
            painter.vline(x, well.bottom() - style.px(6.0)..=well.bottom(), Stroke::new(style.px(2.5), style.side()));
        }
        if let Some(off) = self.sun.map(off).filter(|off| off.abs() < HALF_DEG) {
            painter.circle_stroke(
                Pos2::new(at(off), well.top() + style.px(7.0)),
                style.px(3.0),
                Stroke::new(style.px(1.4), style.ink()),
            );
        }
    }
}
