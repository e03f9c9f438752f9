//! Does the sun shine there?
//!
//! Points near one another look for the same few things towards the sun, so these are looked up once for a ball of points
//! and kept at hand.

use crate::pose::{WorldPoint, WorldVector};
use crate::sight::{Bundle, BundleBounds, RayTargets, Sight};

use super::ground::GroundSurface;
use super::tones::SunDisc;

/// How many balls are kept at hand: ground, a wall or two, and what is behind them.
const KEPT: usize = 4;
/// Larger balls meet too much to be worth their while.
const LARGEST_M: f64 = 25.0;

/// What casts shadows, as found so far along one strip of the picture.
pub(super) struct Shadows<'a> {
    sight: &'a Sight,
    sun: Option<&'a SunDisc>,
    among: RayTargets,
    balls: [Ball; KEPT],
    oldest: usize,
}

#[derive(Default)]
struct Ball {
    centre: WorldPoint,
    /// Below nought for a ball that was never filled.
    radius_m: f64,
    occluders: Bundle,
}

/// What may cast a shadow under this sun: gentle ground casts none, on itself or on what stands on it.
pub(super) fn casting(relief: &GroundSurface<'_>, sun: Option<&SunDisc>) -> RayTargets {
    let gentle = sun.is_some_and(|sun| relief.steepest() < sun.lowest_slope());
    if gentle { RayTargets::Blocks } else { RayTargets::Everything }
}

impl<'a> Shadows<'a> {
    pub(super) fn new(sight: &'a Sight, sun: Option<&'a SunDisc>, among: RayTargets) -> Self {
        let balls = std::array::from_fn(|_| Ball { radius_m: -1.0, ..Ball::default() });
        Self { sight, sun, among, balls, oldest: 0 }
    }

    /// Whether a point of the sun's disc shines on a point of a surface; true for every surface when there is no sun.
    ///
    /// Points about `reach_m` around are likely to be asked about too.
    pub(super) fn is_lit(
        &mut self,
        point: &WorldPoint,
        normal: &WorldVector,
        clearance_m: f64,
        to_sun: &WorldVector,
        reach_m: f64,
    ) -> bool {
        let Some(sun) = self.sun else { return true };
        // Away from the sun the light makes no difference, so the shadow is not looked for.
        if normal.dot(to_sun) <= 0.0 {
            return false;
        }
        let start = point + normal * clearance_m;
        if reach_m > LARGEST_M {
            return self.sight.is_open_towards(&start, to_sun);
        }
        let near = |ball: &Ball| (ball.centre - start).norm_squared() <= ball.radius_m * ball.radius_m.abs();
        let ball = self.balls.iter().position(near).unwrap_or_else(|| {
            let ball = self.oldest;
            self.oldest = (ball + 1) % KEPT;
            self.fill(ball, start, reach_m.max(0.02), sun);
            ball
        });
        self.sight.is_open_in(&self.balls[ball].occluders, &start, to_sun)
    }

    /// Whether nothing at all can stand between the sun and the points of a reach about a start that was just asked about.
    pub(super) fn is_clear(&self, start: &WorldPoint, reach_m: f64) -> bool {
        let near = |ball: &&Ball| (ball.centre - start).norm_squared() <= ball.radius_m * ball.radius_m.abs();
        self.sun.is_none()
            || (reach_m <= LARGEST_M && self.balls.iter().find(near).is_some_and(|ball| ball.occluders.is_empty()))
    }

    fn fill(&mut self, index: usize, centre: WorldPoint, radius_m: f64, sun: &SunDisc) {
        let ball = &mut self.balls[index];
        (ball.centre, ball.radius_m) = (centre, radius_m);
        self.sight.gather(&sun.bounds(centre, radius_m), self.among, &mut ball.occluders);
    }
}

impl SunDisc {
    /// The tangent of the altitude of the sun's lower limb.
    fn lowest_slope(&self) -> f64 {
        let low = self.toward((0.0, -1.0));
        low.z / low.xy().norm().max(1e-12)
    }

    /// The bounds of all lines from the points of a ball to the points of the disc.
    fn bounds(&self, eye: WorldPoint, tolerance_m: f64) -> BundleBounds {
        let axis = self.toward((0.0, 0.0));
        let (aside, above) = (self.toward((1.0, 0.0)) - axis, self.toward((0.0, 1.0)) - axis);
        let side = |across: WorldVector| {
            let outward = (across - axis * across.dot(&axis)).normalize();
            outward - axis * (across.norm() * 1.01)
        };
        BundleBounds { eye, axis, sides: [side(aside), side(-aside), side(above), side(-above)], tolerance_m }
    }
}
