//! Where must one stand so that the sun is at the subject's edge at a given moment?
//!
//! On the rim of the subject's shadow, as it falls at the height of the eye: a band as wide as the sun's disc makes the
//! shadow soft. Each spot is looked at with its own ground.

use crate::outline::Subject;
use crate::pose::{PlanPoint, WorldPoint};
use crate::sight::Sight;
use crate::site::Model;

use super::cast::block_shadow;
use super::disc::{Cover, SkinFromEye};
use super::sky::SunPosition;

/// The distance between spots along the rim of the shadow.
const APART_M: f64 = 1.0;
/// Spots farther from the subject are not looked at.
const FARTHEST_M: f64 = 2000.0;
/// How far to either side the band is followed.
const ASIDE_M: f64 = 10.0;

/// A spot from which the sun's disc is at the subject's edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EdgeSpot {
    /// Where, in plan.
    pub at: PlanPoint,
    /// How far one may go to the left and to the right, facing the sun, before the disc is clear of the edge or gone
    /// behind it; 10 m where it is farther.
    pub aside_m: (f64, f64),
}

/// The band on open ground from which the disc is at the edge, with the eye so high over the ground: block by block, along
/// the rim of the shadow. Empty while the sun is at the horizon or below.
pub fn edge_band(model: &Model, subject: &Subject, sight: &Sight, sun: &SunPosition, eye_m: f64) -> Vec<EdgeSpot> {
    let tangent = sun.altitude.tan();
    if sun.altitude.radians() <= 0.0 || (subject.highest_m - subject.base_m) / tangent > FARTHEST_M {
        return Vec::new();
    }
    let to_sun = sun.direction();
    let (sine, cosine) = sun.azimuth.sin_cos();
    let cover = |(x, y): PlanPoint| {
        let eye = WorldPoint::new(x, y, model.surface_m((x, y)) + eye_m);
        let inside = model.block_around(&eye).is_some();
        (!inside).then(|| SkinFromEye::of(model, subject, &eye).cover(&to_sun, sun.semi_diameter.radians()))
    };
    let level_m = subject.base_m + eye_m;
    let mut spots = Vec::new();
    for &block in &subject.blocks {
        let rim = block_shadow(model, block, level_m, sun);
        for (index, &from) in rim.iter().enumerate() {
            let to = rim[(index + 1) % rim.len()];
            let steps = ((to.0 - from.0).hypot(to.1 - from.1) / APART_M).ceil().max(1.0);
            for step in 0..steps as usize {
                let share = step as f64 / steps;
                let flat = (from.0 + share * (to.0 - from.0), from.1 + share * (to.1 - from.1));
                // On higher ground the shadow's rim lies nearer to the subject: towards the sun.
                let mut at = flat;
                for _ in 0..8 {
                    let nearer_m = (model.surface_m(at) + eye_m - level_m) / tangent;
                    at = (flat.0 + nearer_m * sine, flat.1 + nearer_m * cosine);
                }
                let stands = model.footing(at, None).is_ok_and(|footing| footing.may_be_stood_on());
                if !stands || cover(at) != Some(Cover::Partly) {
                    continue;
                }
                let eye = WorldPoint::new(at.0, at.1, model.surface_m(at) + eye_m);
                let seen = super::disc::rim(&to_sun, sun.semi_diameter.radians());
                if !seen.step_by(6).any(|limb| sight.is_open_towards(&eye, &limb)) {
                    continue;
                }
                // To the right of whoever faces the sun.
                let aside = |sign: f64| {
                    let holds = |reach_m: f64| {
                        cover((at.0 + sign * reach_m * cosine, at.1 - sign * reach_m * sine)) == Some(Cover::Partly)
                    };
                    let (mut low, mut high) = (0.0, 0.05);
                    while high < ASIDE_M && holds(high) {
                        (low, high) = (high, 2.0 * high);
                    }
                    if high >= ASIDE_M && holds(ASIDE_M) {
                        return ASIDE_M;
                    }
                    while high - low > 0.005 {
                        let middle = 0.5 * (low + high);
                        if holds(middle) { low = middle } else { high = middle }
                    }
                    low
                };
                spots.push(EdgeSpot { at, aside_m: (aside(-1.0), aside(1.0)) });
            }
        }
    }
    spots
}
