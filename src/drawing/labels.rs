//! Where does a label find room, so that no two lie on one another?

use super::canvas::Canvas;
use super::{Align, CanvasPoint, Role, Room, Text};

/// How far labels are held apart.
const APART_PT: f64 = 2.0;

/// The rooms that are taken, and the lines that labels avoid.
pub(super) struct Labels {
    taken: Vec<Room>,
    lines: Vec<[CanvasPoint; 2]>,
    canvas: Room,
}

/// A label that looks for its room.
pub(super) struct Label<'a> {
    pub(super) text: &'a str,
    pub(super) at: CanvasPoint,
    /// How far to the side, and up and down, what it names reaches about its point.
    pub(super) clear_pt: (f64, f64),
    pub(super) role: Role,
    pub(super) strong: bool,
    /// Whether it may, and best does, stand on its point itself.
    pub(super) upon: bool,
    /// No more lines than this may be hidden; where it would hide more it is left out.
    pub(super) hides: usize,
}

impl<'a> Label<'a> {
    /// A plain label beside what it names, whatever it hides.
    pub(super) const fn beside(text: &'a str, at: CanvasPoint, clear_pt: (f64, f64), role: Role) -> Self {
        Self { text, at, clear_pt, role, strong: false, upon: false, hides: usize::MAX }
    }

    /// A plain label on its point, whatever it hides.
    pub(super) const fn upon(text: &'a str, at: CanvasPoint, role: Role) -> Self {
        Self { upon: true, ..Self::beside(text, at, (0.0, 0.0), role) }
    }
}

impl Labels {
    pub(super) fn on(canvas: &Canvas, taken: Vec<Room>) -> Self {
        let (right, bottom) = (canvas.drawing.width_pt, canvas.drawing.height_pt);
        Self { taken, lines: Vec::new(), canvas: Room { left: 0.0, top: 0.0, right, bottom } }
    }

    pub(super) fn take(&mut self, room: Room) {
        self.taken.push(room);
    }

    /// Lines that a label avoids.
    pub(super) fn keep_clear(&mut self, points: &[CanvasPoint]) {
        self.lines.extend(points.windows(2).map(|pair| [pair[0], pair[1]]));
    }

    /// Whether a room is free.
    pub(super) fn is_free(&self, room: &Room) -> bool {
        let inside = room.left >= self.canvas.left
            && room.right <= self.canvas.right
            && room.top >= self.canvas.top
            && room.bottom <= self.canvas.bottom;
        inside && !self.taken.iter().any(|other| other.meets(room, APART_PT))
    }

    /// Writes a label where it finds room beside its point; whether it found any.
    pub(super) fn write(&mut self, canvas: &mut Canvas, label: &Label<'_>) -> bool {
        if !self.canvas.holds(label.at) {
            return false;
        }
        let mut text = Text::caption(label.text, label.at, Align::Start, label.role);
        text.plate = true;
        if label.strong {
            text.weight = super::Weight::Semibold;
        }
        let (x, y) = label.at;
        let (gap, line) = (label.clear_pt.0 + 0.32 * text.size_pt + APART_PT + 1.0, text.size_pt * 1.45);
        let over = label.clear_pt.1 + 0.72 * text.size_pt + APART_PT + 1.0;
        let mut places: Vec<(CanvasPoint, Align)> = Vec::new();
        if label.upon {
            places.push(((x, y), Align::Middle));
        }
        places.extend([
            ((x + gap, y), Align::Start),
            ((x - gap, y), Align::End),
            ((x, y - over), Align::Middle),
            ((x, y + over), Align::Middle),
        ]);
        for step in [1.0, 2.0] {
            for (right, align) in [(gap, Align::Start), (-gap, Align::End)] {
                for down in [-step * line * 0.8, step * line * 0.8] {
                    places.push(((x + right, y + down), align));
                }
            }
        }
        let best = places
            .into_iter()
            .enumerate()
            .map(|(order, (at, align))| (order, Text { at, align, ..text.clone() }))
            .filter(|(_, text)| self.is_free(&text.room()))
            .map(|(order, text)| {
                let room = text.room();
                // A place that hides a line is as bad as one three steps further on.
                let hidden = self.lines.iter().filter(|line| super::clip::within(line[0], line[1], &room).is_some());
                (hidden.count(), order, text)
            })
            .filter(|(hidden, ..)| *hidden <= label.hides)
            .map(|(hidden, order, text)| (order + 3 * hidden, text))
            .min_by_key(|(order, _)| *order);
        let Some((_, text)) = best else { return false };
        self.taken.push(text.room());
        canvas.text(text);
        true
    }
}
