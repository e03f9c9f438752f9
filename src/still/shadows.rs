//! Does the sun shine there?
//!
//! Points near one another look for the same few things towards the sun, so these are looked up once for a ball of points
//! and kept at hand.

use crate::pose::{WorldPoint, WorldVector};
use crate::sight::{Bundle, BundleBounds, Patch, RayTargets, Sight};

use super::ground::GroundSurface;
use super::tones::SunDisc;

/// How many balls are kept at hand: ground, a wall or two, and what is behind them.
const KEPT: usize = 4;
/// Larger balls meet too much to be worth their while.
const LARGEST_M: f64 = 25.0;
/// Surfaces turned so little to the light or away from it (the sine) may be both within a pixel.
const GRAZING: f64 = 0.02;
/// A round surface turned more to the light than this casts no shadow on itself, whichever of its flat pieces is met.
const OPEN: f64 = 0.12;

/// A round surface that turns by more than this (radians) within a pixel is not told by the turn in the pixel's middle.
const MOST_TURN: f64 = 0.25;

/// A place on a surface that light may fall on.
pub(super) struct Receiver<'p> {
    pub(super) point: &'p WorldPoint,
    pub(super) normal: &'p WorldVector,
    /// How far off the surface rays to the sun begin.
    pub(super) clearance_m: f64,
    pub(super) block: Option<u32>,
    /// How closely the surface is curved there; infinite where it is flat.
    pub(super) radius_m: f64,
}

impl<'p> Receiver<'p> {
    pub(super) fn of_ground(point: &'p WorldPoint, normal: &'p WorldVector) -> Self {
        Self { point, normal, clearance_m: 0.01, block: None, radius_m: f64::INFINITY }
    }

    fn start(&self) -> WorldPoint {
        self.point + self.normal * self.clearance_m
    }
}

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
    /// Whether all of it lies in one shadow.
    dark: bool,
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
    pub(super) fn is_lit(&mut self, on: &Receiver<'_>, to_sun: &WorldVector, reach_m: f64) -> bool {
        let Some(sun) = self.sun else { return true };
        // Away from the sun the light makes no difference, so the shadow is not looked for.
        if on.normal.dot(to_sun) <= 0.0 {
            return false;
        }
        let start = on.start();
        if reach_m > LARGEST_M {
            return self.sight.is_open_towards(&start, to_sun);
        }
        let near = |ball: &Ball| (ball.centre - start).norm_squared() <= ball.radius_m * ball.radius_m.abs();
        let ball = self.balls.iter().position(near).unwrap_or_else(|| self.next(start, reach_m.max(0.02), sun));
        let ball = &self.balls[ball];
        !ball.dark && self.sight.is_open_in(&ball.occluders, &start, to_sun)
    }

    /// [`Shadows::is_lit`] for all points of a surface within `patch_m` of one and all points of the disc, where it is the same
    /// for all of them; `None` where it is not, or not known without a ray.
    pub(super) fn is_all_lit(&mut self, on: &Receiver<'_>, patch_m: f64, reach_m: f64) -> Option<bool> {
        let turn = patch_m / on.radius_m;
        if turn > MOST_TURN {
            return None;
        }
        let Some(sun) = self.sun else { return Some(true) };
        let light = sun.light();
        let facing = on.normal.dot(&light.toward);
        if facing.abs() < GRAZING + turn {
            return None;
        }
        if facing < 0.0 {
            return Some(false);
        }
        let start = on.start();
        let reach_m = reach_m.max(2.0 * patch_m).max(0.02);
        if reach_m > LARGEST_M {
            return None;
        }
        let around = |ball: &Ball| (ball.centre - start).norm() + patch_m <= ball.radius_m;
        let ball = self.balls.iter().position(around).unwrap_or_else(|| self.next(start, reach_m, sun));
        let ball = &self.balls[ball];
        if ball.dark {
            return Some(false);
        }
        let block = on.block.filter(|_| facing > OPEN);
        let patch = Patch { middle: start, normal: *on.normal, radius_m: patch_m, block };
        self.sight.is_all_lit(&ball.occluders, &patch, &light)
    }

    /// Fills the oldest ball anew.
    fn next(&mut self, centre: WorldPoint, radius_m: f64, sun: &SunDisc) -> usize {
        let index = self.oldest;
        self.oldest = (index + 1) % KEPT;
        let ball = &mut self.balls[index];
        (ball.centre, ball.radius_m) = (centre, radius_m);
        self.sight.gather(&sun.bounds(centre, radius_m), self.among, &mut ball.occluders);
        ball.dark = self.sight.sift_light(&mut ball.occluders, &centre, radius_m, &sun.light());
        index
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
