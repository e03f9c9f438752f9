//! Where on a canvas is something, and what room does it take?

/// A place on a canvas: points to the right and down.
pub type CanvasPoint = (f64, f64);

/// An upright rectangle of the canvas.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Room {
    /// Its left side.
    pub left: f64,
    /// Its top.
    pub top: f64,
    /// Its right side.
    pub right: f64,
    /// Its bottom.
    pub bottom: f64,
}

impl Room {
    /// Whether two have a place in common once they are held so far apart.
    pub fn meets(&self, other: &Self, apart_pt: f64) -> bool {
        self.left < other.right + apart_pt
            && other.left < self.right + apart_pt
            && self.top < other.bottom + apart_pt
            && other.top < self.bottom + apart_pt
    }

    /// Whether a place lies in it.
    pub fn holds(&self, (x, y): CanvasPoint) -> bool {
        x >= self.left && x <= self.right && y >= self.top && y <= self.bottom
    }

    /// As much larger on every side.
    pub(super) fn grown(&self, by_pt: f64) -> Self {
        Self { left: self.left - by_pt, top: self.top - by_pt, right: self.right + by_pt, bottom: self.bottom + by_pt }
    }

    /// Its corners, clockwise from the top left.
    pub(super) fn corners(&self) -> Vec<CanvasPoint> {
        vec![(self.left, self.top), (self.right, self.top), (self.right, self.bottom), (self.left, self.bottom)]
    }
}
