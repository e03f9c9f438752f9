//! What is typed on the pages that open over the Build desk, before it is agreed to.

use crate::site::PlanPoint;

/// How things are repeated along a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct RepeatInput {
    pub(super) copies: usize,
    pub(super) every_m: f64,
    pub(super) bearing_deg: f64,
}

impl Default for RepeatInput {
    fn default() -> Self {
        Self { copies: 3, every_m: 6.0, bearing_deg: 90.0 }
    }
}

/// Three places with the height of the ground there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct SlopeInput {
    pub(super) places: [(PlanPoint, f64); 3],
}

impl Default for SlopeInput {
    fn default() -> Self {
        Self { places: [((0.0, 0.0), 0.0), ((50.0, 0.0), 0.0), ((0.0, 50.0), 0.0)] }
    }
}
