//! Is the camera level? Two spirit levels, one for the pitch and one for the roll.
//!
//! A bubble runs to the high side: to the right when the camera looks up, to the left when it is turned clockwise. Far from
//! level the glass is pressed together, so that the bubble never leaves it. A double click levels.

use bevy_egui::egui::{Pos2, Rect, Sense, Stroke, StrokeKind, Ui, Vec2};

use super::figures::number_in;
use super::lens_scale::{ScaleInput, steps, tell, value_line};
use super::style::{WindowStyle, bracket, focus_ring};
use crate::viewer::render::narrow::screen;

/// Half of the glass is spent on this angle.
const HALF_WAY_DEG: f64 = 12.0;

/// One spirit level.
pub(super) struct BubbleLevel<'a> {
    /// "pitch" or "roll".
    pub(super) name: &'a str,
    /// What stands over it.
    pub(super) caption: &'a str,
    /// The angle as it is.
    pub(super) angle_deg: f64,
    /// What is written: "15.5° up".
    pub(super) value: &'a str,
    /// Which way the bubble runs for a positive angle: 1 right, −1 left.
    pub(super) sense: f32,
    /// The largest angle either way.
    pub(super) most_deg: f64,
    /// How far it may be off, either way.
    pub(super) tolerance_deg: Option<f64>,
}

/// What is asked of a spirit level's camera.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum LevelInput {
    /// To this angle.
    To(f64),
    /// Level.
    Level,
}

/// The place of the bubble from −1 to 1.
fn place(angle_deg: f64) -> f32 {
    screen(angle_deg / (angle_deg.abs() + HALF_WAY_DEG))
}

/// The angle at a place of the bubble.
fn angle_deg(place: f32) -> f64 {
    let place = f64::from(place).clamp(-0.98, 0.98);
    HALF_WAY_DEG * place / (1.0 - place.abs())
}

impl BubbleLevel<'_> {
    /// Draws the level and tells what was asked.
    pub(super) fn ui(&self, ui: &mut Ui, style: &WindowStyle) -> Option<LevelInput> {
        let id = ui.make_persistent_id(("level", self.name));
        let typed = value_line(ui, style, id, self.name, self.caption, self.value);
        let (outer, _) = ui.allocate_exact_size(Vec2::new(ui.available_width(), style.px(30.0)), Sense::hover());
        let glass = Rect::from_min_size(outer.min, Vec2::new(outer.width(), style.px(22.0)));
        let response = ui.interact(glass, id, Sense::click_and_drag());
        let radius = style.px(8.0);
        let reach = 0.5 * glass.width() - radius - style.px(4.0);
        let bubble = Pos2::new(glass.center().x + self.sense * place(self.angle_deg) * reach, glass.center().y);
        let mut asked = None;
        if response.double_clicked() {
            asked = Some(LevelInput::Level);
        } else if response.dragged()
            && let Some(hand) = response.interact_pointer_pos()
        {
            asked = Some(LevelInput::To(angle_deg(self.sense * (hand.x - glass.center().x) / reach)));
        }
        let moved = |by: f64| Some(LevelInput::To(((self.angle_deg + by) * 10.0).round() / 10.0));
        match typed.or_else(|| steps(ui, &response)) {
            Some(ScaleInput::Stops(count)) => asked = moved(f64::from(count) * 0.5),
            Some(ScaleInput::Fine(count)) => asked = moved(f64::from(count) * 0.1),
            Some(ScaleInput::End(_)) => asked = Some(LevelInput::Level),
            Some(ScaleInput::Typed(text)) => asked = self.typed(&text).map(LevelInput::To).or(asked),
            Some(ScaleInput::To(_)) | None => {}
        }
        self.draw(ui, style, glass, bubble, radius);
        if let Some(tolerance_deg) = self.tolerance_deg {
            let at = |degrees: f64| glass.center().x + self.sense * place(degrees) * reach;
            let ends = [at(self.angle_deg - tolerance_deg), at(self.angle_deg + tolerance_deg)];
            let [from, to] = if ends[0] <= ends[1] { ends } else { [ends[1], ends[0]] };
            bracket(ui.painter(), style, [from, to], glass.bottom() + style.px(5.0));
        }
        focus_ring(ui, style, &response, glass);
        tell(ui, &response, self.name, self.value, self.angle_deg);
        response.on_hover_text("drag the bubble, or double-click to level");
        asked.map(|asked| match asked {
            LevelInput::To(angle) => LevelInput::To(angle.clamp(-self.most_deg, self.most_deg)),
            LevelInput::Level => LevelInput::Level,
        })
    }

    fn typed(&self, text: &str) -> Option<f64> {
        let number = number_in(text)?;
        let down = text.contains("down") || text.contains("left");
        Some(if down { -number.abs() } else { number })
    }

    fn draw(&self, ui: &Ui, style: &WindowStyle, glass: Rect, bubble: Pos2, radius: f32) {
        let painter = ui.painter();
        painter.rect(glass, 0.5 * glass.height(), style.well(), style.control(), StrokeKind::Inside);
        for side in [-1.0, 1.0] {
            let x = glass.center().x + side * (radius + style.px(2.0));
            painter.vline(x, glass.shrink(1.0).y_range(), Stroke::new(style.px(1.2), style.soft()));
        }
        let level = self.angle_deg.abs() < 0.05;
        let ink = Stroke::new(style.px(1.8), style.ink());
        painter.circle(bubble, radius, if level { style.line() } else { style.panel() }, ink);
        // The light on the bubble.
        let shine = bubble + Vec2::new(-0.35 * radius, -0.4 * radius);
        painter.line_segment([shine, shine + Vec2::new(0.4 * radius, -0.12 * radius)], Stroke::new(1.0, style.soft()));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bubble_stays_in_its_glass_and_returns() {
        for degrees in [-89.0, -30.0, -0.1, 0.0, 0.5, 12.0, 45.0, 89.0] {
            let place = place(degrees);
            assert!(place.abs() < 1.0);
            assert!((angle_deg(place) - degrees).abs() < 1e-3, "{degrees}");
        }
    }
}
