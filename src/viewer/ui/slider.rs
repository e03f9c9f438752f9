//! How is a requirement set? A line with a knob on it that stops at round values; anything between can be typed.

use bevy_egui::egui::{self, Pos2, Rect, Sense, Stroke, Ui, Vec2};

use super::figures::number_in;
use super::lens_scale::{ScaleInput, steps, tell, value_line};
use super::style::{WindowStyle, count, focus_ring};
use crate::viewer::render::narrow::screen;

/// Where a line ends in "any": the requirement is none.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum AnyEnd {
    /// Nowhere.
    Nowhere,
    /// At its left end.
    Left,
    /// At its right end.
    Right,
}

/// A line with stops.
pub(super) struct Slider<'a> {
    /// What it sets, in words; what a reader of the screen calls it.
    pub(super) name: &'a str,
    /// What stands over it at the left.
    pub(super) caption: &'a str,
    /// Its stops, rising.
    pub(super) stops: &'a [f64],
    /// Where it ends in "any".
    pub(super) any: AnyEnd,
    /// What is set; nothing is "any".
    pub(super) value: Option<f64>,
    /// Least and most that may be typed.
    pub(super) range: (f64, f64),
    /// How a value is written.
    pub(super) written: &'a dyn Fn(f64) -> String,
    /// How what was typed is read, where it is not a plain number.
    pub(super) read: &'a dyn Fn(&str) -> Option<f64>,
    /// What is told below it; nothing is no line.
    pub(super) note: Option<String>,
}

/// How a plain number is read.
pub(super) fn plain_number(text: &str) -> Option<f64> {
    number_in(text)
}

impl Slider<'_> {
    /// How many places there are for the knob.
    fn places(&self) -> usize {
        self.stops.len() + usize::from(self.any != AnyEnd::Nowhere)
    }

    /// The stop before which "any" stands, if it does.
    fn before(&self) -> usize {
        usize::from(self.any == AnyEnd::Left)
    }

    /// The knob's place of a value, between stops where it lies between them.
    fn place(&self, value: Option<f64>) -> f64 {
        let Some(value) = value else {
            return if self.any == AnyEnd::Right { self.stops.len() as f64 } else { 0.0 };
        };
        let upper = self.stops.iter().position(|&stop| stop >= value).unwrap_or(self.stops.len().saturating_sub(1));
        let lower = upper.saturating_sub(1);
        let (from, to) = (self.stops[lower], self.stops[upper]);
        let share = if to > from { ((value - from) / (to - from)).clamp(0.0, 1.0) } else { 1.0 };
        self.before() as f64 + lower as f64 + share * (upper - lower) as f64
    }

    /// The value of a whole place.
    fn value_at(&self, place: usize) -> Option<f64> {
        let stop = place.min(self.places() - 1).checked_sub(self.before())?;
        self.stops.get(stop).copied()
    }

    /// Draws the line and tells what is required now, where that has changed.
    pub(super) fn ui(&self, ui: &mut Ui, style: &WindowStyle) -> Option<Option<f64>> {
        let id = ui.make_persistent_id(("slide", self.name));
        let value = self.value.map_or_else(|| "any".to_owned(), self.written);
        let typed = value_line(ui, style, id, self.name, self.caption, &value);
        let (line, _) = ui.allocate_exact_size(Vec2::new(ui.available_width(), style.px(16.0)), Sense::hover());
        let response = ui.interact(line, id, Sense::click_and_drag());
        let inner = line.shrink2(Vec2::new(style.px(7.0), 0.0));
        let last = self.places().saturating_sub(1).max(1) as f64;
        let now = self.place(self.value);
        let mut requirement_words = None;
        if let Some(hand) = response.interact_pointer_pos().filter(|_| response.dragged() || response.clicked()) {
            let share = f64::from(((hand.x - inner.left()) / inner.width().max(1.0)).clamp(0.0, 1.0));
            requirement_words = Some(self.value_at((share * last).round() as usize));
        }
        let to = |by: i32| {
            // From between two stops the next one is meant, whichever way.
            let from = if by > 0 { now.floor() } else { now.ceil() };
            self.value_at((from + f64::from(by)).clamp(0.0, last) as usize)
        };
        match typed.or_else(|| steps(ui, &response)) {
            Some(ScaleInput::Stops(by) | ScaleInput::Fine(by)) => requirement_words = Some(to(by)),
            Some(ScaleInput::End(far)) => {
                requirement_words = Some(self.value_at(if far { self.places() - 1 } else { 0 }))
            }
            Some(ScaleInput::Typed(text)) => {
                requirement_words = match (self.read)(&text) {
                    Some(value) => Some(Some(value.clamp(self.range.0, self.range.1))),
                    None if self.any != AnyEnd::Nowhere => Some(None),
                    None => requirement_words,
                };
            }
            Some(ScaleInput::To(_)) | None => {}
        }
        let share = screen(now / last);
        let knob = Pos2::new(inner.left() + share * inner.width(), line.center().y);
        self.draw(ui, style, inner, knob);
        focus_ring(ui, style, &response, line);
        tell(ui, &response, self.name, &value, self.value.unwrap_or_default());
        response.on_hover_and_drag_cursor(egui::CursorIcon::ResizeHorizontal);
        if let Some(note) = &self.note {
            ui.add(egui::Label::new(style.note(note)).wrap());
        }
        requirement_words.filter(|requirement_words| *requirement_words != self.value)
    }

    fn draw(&self, ui: &Ui, style: &WindowStyle, inner: Rect, knob: Pos2) {
        let painter = ui.painter();
        let y = knob.y;
        let well =
            Rect::from_min_max(Pos2::new(inner.left(), y - style.px(2.5)), Pos2::new(inner.right(), y + style.px(2.5)));
        painter.rect(well, 2.5, style.well(), style.hairline(), egui::StrokeKind::Inside);
        // What is exclude lies on the side that is not required for.
        let kept = match self.any {
            AnyEnd::Left => Rect::from_min_max(Pos2::new(knob.x, well.top()), well.max),
            AnyEnd::Right | AnyEnd::Nowhere => Rect::from_min_max(well.min, Pos2::new(knob.x, well.bottom())),
        };
        painter.rect_filled(kept, 2.5, style.soft().gamma_multiply(0.55));
        let last = count(self.places().saturating_sub(1).max(1));
        for place in 0..self.places() {
            let x = inner.left() + count(place) / last * inner.width();
            painter.vline(x, well.bottom()..=well.bottom() + style.px(2.0), Stroke::new(1.0, style.line()));
        }
        painter.circle(knob, style.px(5.5), style.panel(), Stroke::new(style.px(1.5), style.ink()));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn slide(any: AnyEnd, value: Option<f64>) -> Slider<'static> {
        Slider {
            name: "largest lean at most",
            caption: "",
            stops: &[1.0, 2.0, 4.0],
            any,
            value,
            range: (0.0, 90.0),
            written: &|value| value.to_string(),
            read: &plain_number,
            note: None,
        }
    }

    #[test]
    fn stops_have_places_and_places_have_stops() {
        for (any, place, value) in [
            (AnyEnd::Right, 0.0, Some(1.0)),
            (AnyEnd::Right, 3.0, None),
            (AnyEnd::Left, 0.0, None),
            (AnyEnd::Left, 1.0, Some(1.0)),
            (AnyEnd::Nowhere, 2.0, Some(4.0)),
        ] {
            let slide = slide(any, value);
            assert_eq!(slide.place(value), place, "{any:?}");
            assert_eq!(slide.value_at(place as usize), value, "{any:?}");
        }
        // Half-way between 2 and 4.
        assert_eq!(slide(AnyEnd::Nowhere, None).place(Some(3.0)), 1.5);
        assert_eq!(slide(AnyEnd::Nowhere, None).place(Some(9.0)), 2.0);
    }
}
