//! Does a distant disc, such as the sun's, shine on all of a small patch, or on none of it?
//!
//! A triangle's shadow is a prism along the light. A patch that lies wholly within it, or wholly beside it, by more than the
//! disc blurs it, needs no ray to tell.

use glam::Vec3A;
use nalgebra::Vector3;

use crate::pose::{WorldPoint, WorldVector};

use super::sift::wide;
use super::{Bundle, NearTriangles, Sight, Surface, TOUCH_M};

/// How far from a shadow's side a point must lie, in metres and as a share of how far off the triangle is.
const MARGIN_M: f64 = 3e-3;
const MARGIN: f64 = 2e-5;

/// A distant disc that gives light.
#[derive(Clone, Copy, Debug)]
pub struct DistantLight {
    /// The direction to its middle, of length 1.
    pub toward: WorldVector,
    /// The tangent of its radius.
    pub radius: f64,
}

/// A small piece of a surface.
#[derive(Clone, Copy, Debug)]
pub struct Patch {
    /// Its middle, where rays to the light begin.
    pub middle: WorldPoint,
    /// Its normal, of length 1.
    pub normal: WorldVector,
    /// How far its points are from the middle at most.
    pub radius_m: f64,
    /// The block on whose outside it lies.
    pub block: Option<u32>,
}

/// How the shadow of a triangle falls.
#[derive(PartialEq)]
enum Shadow {
    Beside,
    OverAll,
    Unknown,
}

impl Sight {
    /// Takes out of a bundle, gathered for light on the points of a ball, what casts no shadow on any of them; says whether
    /// something casts one on all of them.
    pub fn sift_light(&self, bundle: &mut Bundle, centre: &WorldPoint, radius_m: f64, light: &DistantLight) -> bool {
        if !bundle.few || bundle.found.is_empty() {
            return false;
        }
        let (middle, toward) = (self.local(centre), self.axes.turn(light.toward));
        let Bundle { near, found, .. } = bundle;
        let mut over_all = false;
        found.retain(|(.., corners)| {
            let shadow = shadow(corners, &middle, None, radius_m, &toward, light.radius);
            over_all |= shadow == Shadow::OverAll;
            shadow != Shadow::Beside
        });
        near.clear();
        near.extend(NearTriangles::in_fours(found));
        over_all
    }

    /// Whether all of a disc shines on all of a patch, among what the bundle was gathered for: `Some(false)` where none of it
    /// shines on any of it, `None` where it is not known without a ray.
    pub fn is_all_lit(&self, bundle: &Bundle, patch: &Patch, light: &DistantLight) -> Option<bool> {
        if !bundle.few || patch.middle.z - patch.radius_m < self.highest_level_m() && patch.normal.z < 0.999_999 {
            return None;
        }
        if patch.middle.z < self.highest_level_m() {
            return None;
        }
        let (middle, toward) = (self.local(&patch.middle), self.axes.turn(light.toward));
        let normal = self.axes.turn(patch.normal);
        let mut all = true;
        // A convex block casts no shadow on a side that faces the light.
        let own = patch.block.filter(|&block| self.convex[block as usize]);
        for (_, place, corners) in &bundle.found {
            if own.is_some() && own == self.block_at(*place) {
                continue;
            }
            match shadow(corners, &middle, Some(&normal), patch.radius_m, &toward, light.radius) {
                Shadow::OverAll => return Some(false),
                Shadow::Beside => {}
                Shadow::Unknown => all = false,
            }
        }
        all.then_some(true)
    }

    fn block_at(&self, place: u32) -> Option<u32> {
        match self.surfaces.get(place as usize)? {
            Surface::Block { block, .. } => Some(*block),
            Surface::Ground | Surface::Water => None,
        }
    }

    fn local(&self, point: &WorldPoint) -> Vector3<f64> {
        self.axes.turn(point - self.axes.origin)
    }
}

/// How a triangle's shadow falls on the points within `radius_m` of a middle: on a plane, where a normal is given.
fn shadow(
    corners: &[Vec3A; 3],
    middle: &Vector3<f64>,
    patch_normal: Option<&Vector3<f64>>,
    radius_m: f64,
    toward: &Vector3<f64>,
    disc: f64,
) -> Shadow {
    let [a, b, c] = corners.map(|corner| wide(corner) - middle);
    let normal = (b - a).cross(&(c - a));
    let area = normal.norm();
    if area < 1e-9 {
        return Shadow::Unknown;
    }
    let facing = normal.dot(toward) / area;
    // The plane's height over the middle, counted along the light; a patch in its own plane has none to spare.
    let above_m = normal.dot(&a) / area * facing.signum();
    let tilt = patch_normal.map_or(1.0, |patch| (1.0 - (patch.dot(&normal) / area).powi(2)).max(0.0).sqrt());
    let reach_m = radius_m * tilt;
    let is_plain = facing.abs() > 2.0 * disc;
    if is_plain && above_m + reach_m < -0.5 * TOUCH_M {
        return Shadow::Beside;
    }
    let farthest_m = a.dot(toward).max(b.dot(toward)).max(c.dot(toward)) + radius_m;
    if farthest_m < -MARGIN_M {
        return Shadow::Beside;
    }
    let spare_m = radius_m + farthest_m.max(0.0) * (1.02 * disc + MARGIN) + MARGIN_M;
    let mut covers = is_plain && above_m - reach_m > 2.0 * TOUCH_M;
    for (from, to) in [(a, b), (b, c), (c, a)] {
        let across = (to - from).cross(toward);
        let length = across.norm();
        if length < 1e-9 {
            covers = false;
            continue;
        }
        // Anticlockwise as seen along the light or not, the inside is where the third corner is.
        let inside_m = across.dot(&from) / length * facing.signum();
        if is_plain && inside_m < -spare_m {
            return Shadow::Beside;
        }
        covers &= inside_m > spare_m;
    }
    if covers { Shadow::OverAll } else { Shadow::Unknown }
}

#[cfg(test)]
mod tests {
    use super::*;

    const UP: DistantLight = DistantLight { toward: WorldVector::new(0.0, 0.0, 1.0), radius: 0.004_65 };

    fn falls(corners: [[f32; 3]; 3], middle: (f64, f64, f64), radius_m: f64) -> Shadow {
        let middle = Vector3::new(middle.0, middle.1, middle.2);
        shadow(&corners.map(Vec3A::from_array), &middle, Some(&Vector3::z()), radius_m, &UP.toward, UP.radius)
    }

    #[test]
    fn a_shadow_is_known_but_near_its_sides() {
        for turned in [false, true] {
            let mut roof = [[-10.0, -10.0, 5.0], [10.0, -10.0, 5.0], [0.0, 10.0, 5.0]];
            if turned {
                roof.swap(0, 1);
            }
            assert!(falls(roof, (0.0, 0.0, 0.0), 0.5) == Shadow::OverAll);
            assert!(falls(roof, (0.0, 0.0, 6.0), 0.5) == Shadow::Beside);
            assert!(falls(roof, (0.0, 12.0, 0.0), 0.5) == Shadow::Beside);
            assert!(falls(roof, (0.0, -10.0, 0.0), 0.5) == Shadow::Unknown);
            // 5 m off, a disc of 0.00465 blurs a side by 23 mm.
            assert!(falls(roof, (0.0, -9.98, 0.0), 1e-4) == Shadow::Unknown);
            assert!(falls(roof, (0.0, -9.96, 0.0), 1e-4) == Shadow::OverAll);
            assert!(falls(roof, (0.0, -10.04, 0.0), 1e-4) == Shadow::Beside);
        }
    }

    #[test]
    fn a_patch_casts_no_shadow_on_itself() {
        let ground = [[-10.0, -10.0, 0.0], [10.0, -10.0, 0.0], [0.0, 10.0, 0.0]];
        assert!(falls(ground, (0.0, 0.0, 0.004), 2.0) == Shadow::Beside);
    }
}
