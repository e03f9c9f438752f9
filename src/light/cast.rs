//! Where does the subject's own shadow fall?
//!
//! On level ground at the height of its base: a point h over it throws its shadow h / tan(altitude) away from the sun.

use crate::angle::Angle;
use crate::outline::{Subject, hull};
use crate::pose::{PlanPoint, WorldPoint};
use crate::site::Model;

use super::sky::SunPosition;

/// A shadow longer than this is not drawn: the sun is about to set.
const LONGEST_M: f64 = 20_000.0;

/// The shadow of the subject.
#[derive(Clone, Debug, PartialEq)]
pub struct CastShadow {
    /// How far the shadow of its top reaches from below its top.
    pub length_m: f64,
    /// The bearing it runs along: away from the sun.
    pub towards: Angle,
    /// For each of its blocks the outline of its shadow in plan, anticlockwise, its own footprint included: exact for a
    /// convex block, else the hull about it.
    pub outlines: Vec<Vec<PlanPoint>>,
}

/// The subject's shadow under a sun; `None` while the sun is at the horizon or below.
pub fn cast_shadow(model: &Model, subject: &Subject, sun: &SunPosition) -> Option<CastShadow> {
    let tangent = sun.altitude.tan();
    let high_m = subject.highest_m - subject.base_m;
    if sun.altitude.radians() <= 0.0 || high_m / tangent > LONGEST_M {
        return None;
    }
    let outlines = subject.blocks.iter().map(|&block| block_shadow(model, block, subject.base_m, sun)).collect();
    Some(CastShadow {
        length_m: high_m / tangent,
        towards: (sun.azimuth + Angle::from_radians(std::f64::consts::PI)).wrapped(),
        outlines,
    })
}

/// The outline of a block's shadow on the level of a height.
pub(super) fn block_shadow(model: &Model, block: usize, level_m: f64, sun: &SunPosition) -> Vec<PlanPoint> {
    // What lies under the level stands in the ground there.
    let landing = |corner: &WorldPoint| {
        if corner.z > level_m { shadow_of(corner, level_m, sun) } else { (corner.x, corner.y) }
    };
    hull(model.solids[block].vertices.iter().map(landing).collect())
}

/// Where on a level the shadow of a point falls.
fn shadow_of(point: &WorldPoint, level_m: f64, sun: &SunPosition) -> PlanPoint {
    let reach_m = (point.z - level_m) / sun.altitude.tan();
    let (sine, cosine) = sun.azimuth.sin_cos();
    (point.x - reach_m * sine, point.y - reach_m * cosine)
}
