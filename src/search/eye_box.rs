//! Where may the eyes be that are looked from at once?

use crate::pose::{WorldPoint, WorldVector};

/// A box of eyes.
#[derive(Clone, Copy, Debug)]
pub(super) struct EyeBox {
    pub(super) low: WorldPoint,
    pub(super) high: WorldPoint,
    pub(super) middle: WorldPoint,
    pub(super) half: WorldVector,
}

impl EyeBox {
    pub(super) fn between(low: WorldPoint, high: WorldPoint) -> Self {
        let middle = nalgebra::center(&low, &high);
        // No corner may lie outside by rounding.
        Self { low, high, middle, half: (high - low) * 0.5 + WorldVector::repeat(1e-9) }
    }

    pub(super) const fn corners(&self) -> (WorldPoint, WorldPoint) {
        (self.low, self.high)
    }

    /// How far the farthest of them is.
    pub(super) fn farthest_m(&self, from: &WorldPoint) -> f64 {
        ((self.middle - from).abs() + self.half).norm()
    }
}
