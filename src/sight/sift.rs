//! Which triangles of a bundle can any of its rays meet first?
//!
//! Rays that leave one point and lie between four directions are sums of these with no negative share. A triangle's sides
//! as seen from that point, and the reciprocal of the distance to a plane, are linear in the direction, so what holds for
//! the four holds for every ray between them.

use glam::Vec3A;
use nalgebra::Vector3;

use crate::pose::{WorldPoint, WorldVector};

use super::hierarchy::Leaf;
use super::{Bundle, NearTriangles, Sight};

/// How far inside or outside of a triangle's side rays must run, in radians: far more than a ray loses to `f32`.
const MARGIN: f64 = 2e-5;
/// How much nearer than what it hides a triangle must be, in metres and as a share.
pub(super) const NEARER_M: f64 = 0.02;
pub(super) const NEARER: f64 = 1e-3;
/// Triangles seen flatter than this (the sine) hide nothing for certain.
const FLATTEST: f64 = 0.03;

/// How a triangle lies to four directions.
struct Placed {
    /// Whether every ray between them runs through it.
    covers: bool,
    /// Whether none does.
    missed: bool,
    /// The reciprocal of the distance to its plane along each.
    nearness: [f64; 4],
    /// Whether it is seen flat along any.
    flat: bool,
}

impl Sight {
    /// Takes out of a bundle what no ray from `eye` between four directions (in order, of length 1) meets first; the answers
    /// for such rays stay bit for bit what they were.
    pub fn sift(&self, bundle: &mut Bundle, eye: &WorldPoint, directions: &[WorldVector; 4]) {
        if !bundle.few || bundle.found.is_empty() {
            return;
        }
        let origin = wide(self.axes.point(eye));
        let directions = directions.map(|direction| self.axes.turn(direction));
        let Bundle { near, found, placed, .. } = bundle;
        placed.clear();
        placed.extend(found.iter().map(|(.., corners)| {
            let place = Placed::of(&corners.map(|corner| wide(corner) - origin), &directions);
            (place.covers && !place.flat, place.missed, place.nearness)
        }));
        // The nearest of those that cover all; any would do.
        let cover = placed
            .iter()
            .filter(|(covers, ..)| *covers)
            .map(|(.., nearness)| *nearness)
            .reduce(|one, other| if other[0] > one[0] { other } else { one });
        let hides = |nearness: &[f64; 4]| {
            cover.is_some_and(|cover| {
                (0..4).all(|at| nearness[at] * (1.0 + NEARER) < cover[at] / (1.0 + NEARER_M * cover[at]))
            })
        };
        let mut kept = placed.iter().map(|(_, missed, nearness)| !missed && !hides(nearness));
        found.retain(|_| kept.next().unwrap_or(true));
        near.clear();
        near.extend(NearTriangles::in_fours(found));
    }
}

impl NearTriangles {
    /// Found triangles, the nearest first, four by four.
    pub(super) fn in_fours(found: &[(f32, u32, [Vec3A; 3])]) -> impl Iterator<Item = Self> + '_ {
        found.chunks(4).map(|some| Self {
            least_m: some[0].0,
            places: std::array::from_fn(|lane| some.get(lane).map_or(0, |&(_, place, _)| place)),
            leaf: Leaf::of(some.iter().map(|&(.., corners)| corners)),
        })
    }
}

impl Placed {
    /// Of a triangle whose corners are counted from where the rays begin.
    fn of(corners: &[Vector3<f64>; 3], directions: &[Vector3<f64>; 4]) -> Self {
        let [a, b, c] = corners;
        let normal = (b - a).cross(&(c - a));
        let (area, offset) = (normal.norm(), normal.dot(a));
        let unknown = Self { covers: false, missed: false, nearness: [f64::INFINITY; 4], flat: true };
        // Of no area, or with the rays' beginning in its plane.
        if area < 1e-9 || offset.abs() < 1e-6 * area {
            return unknown;
        }
        let nearness = directions.map(|direction| direction.dot(&normal) / offset);
        let (mut covers, mut missed) = (true, nearness.iter().all(|&nearness| nearness < 0.0));
        for (from, to) in [(a, b), (b, c), (c, a)] {
            let side = from.cross(to);
            let length = side.norm();
            if length < 1e-9 {
                return unknown;
            }
            let side = side * (offset.signum() / length);
            let inside = directions.map(|direction| side.dot(&direction));
            covers &= inside.iter().all(|&inside| inside > MARGIN);
            missed |= inside.iter().all(|&inside| inside < -MARGIN);
        }
        let flat = directions.iter().any(|direction| direction.dot(&normal).abs() < FLATTEST * area);
        Self { covers, missed, nearness, flat }
    }
}

pub(super) fn wide(point: Vec3A) -> Vector3<f64> {
    Vector3::new(f64::from(point.x), f64::from(point.y), f64::from(point.z))
}
