//! What stands between the eye and a point?
//!
//! One bounding-volume hierarchy over the triangles of every solid and of the terrain, in `f32` about a local origin;
//! level ground and water have no bounds and are met exactly. This file is the core's one place where `f64` becomes
//! `f32`. A hit is as exact as that; a still computes it again in `f64` from the triangle it names.

use std::time::Duration;

use glam::Vec3A;
use obvhs::cwbvh::CwBvh;
use obvhs::cwbvh::builder::build_cwbvh_from_tris;
use obvhs::ray::{Ray, RayHit};
use obvhs::rt_triangle::RtTriangle;
use obvhs::triangle::Triangle as HierarchyTriangle;
use obvhs::{BvhBuildParams, ploc::SortPrecision};

use crate::pose::{WorldPoint, WorldVector};
use crate::site::{Model, Terrain};

/// Points nearer than this along a ray count as touching: the step of `f32` at the far end of a site (5 km) is 0.5 mm.
const TOUCH_M: f64 = 2e-3;
/// Beyond this distance nothing is looked for.
const FARTHEST_M: f64 = 60_000.0;
/// Above this many triangles the hierarchy is built faster and traced a little slower.
const LARGE: usize = 200_000;

/// Answers what is seen from where on a site.
pub struct Sight {
    hierarchy: Option<CwBvh>,
    /// In the hierarchy's own order.
    triangles: Vec<RtTriangle>,
    surfaces: Vec<Surface>,
    origin: WorldPoint,
    level_ground_m: Option<f64>,
    water_m: Option<f64>,
}

/// What a ray meets.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Surface {
    /// A triangle of a block's solid.
    Block {
        /// The block, and its solid, by index.
        block: u32,
        /// The triangle of the solid.
        triangle: u32,
    },
    /// The bare ground.
    Ground,
    /// Still water.
    Water,
}

/// What a narrow bundle of rays from about one point can meet, looked up once for all of them.
///
/// See [`Sight::gather`].
#[derive(Debug, Default)]
pub struct Bundle {
    /// By their least distance, which stands beside them; meaningless unless `few`.
    near: Vec<(f32, u32)>,
    few: bool,
    waiting: Vec<u32>,
}

/// The bounds of a bundle of rays.
///
/// A point p that a ray of the bundle passes through has `side` · (p − eye) ≤ `slack_m` for each side.
#[derive(Clone, Copy, Debug)]
pub struct BundleBounds {
    /// Where the rays come from, within `slack_m`.
    pub eye: WorldPoint,
    /// The middle direction, of length 1.
    pub axis: WorldVector,
    /// Outward normals, each not longer than 2.
    pub sides: [WorldVector; 4],
    /// How far from the eye, and outside the sides, a ray may run.
    pub slack_m: f64,
}

/// What is looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Among {
    /// Blocks and ground.
    Everything,
    /// Blocks alone, where the ground is known to be out of the way.
    Blocks,
}

/// The longest list that is looked through ray by ray; above it the hierarchy is faster.
const FEW: usize = 64;

/// Where a ray first meets something.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hit {
    /// How far along the ray.
    pub distance_m: f64,
    /// Where.
    pub point: WorldPoint,
    /// On what.
    pub surface: Surface,
}

impl std::fmt::Debug for Sight {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Sight").field("triangles", &self.triangles.len()).finish_non_exhaustive()
    }
}

impl Sight {
    /// Prepares a site for looking.
    pub fn over(model: &Model) -> Self {
        let terrain = model.site.terrain.triangles();
        let count = terrain.len() + model.solids.iter().map(|solid| solid.triangles.len()).sum::<usize>();
        let mut corners = Vec::with_capacity(count);
        let mut surfaces = Vec::with_capacity(count);
        for (block, solid) in model.solids.iter().enumerate() {
            for (triangle, part) in solid.triangles.iter().enumerate() {
                corners.push(solid.corners(part));
                surfaces.push(Surface::Block { block: block as u32, triangle: triangle as u32 });
            }
        }
        surfaces.resize(count, Surface::Ground);
        corners.extend(terrain);
        let origin = local_origin(model);
        let narrow = |point: &WorldPoint| narrow(point - origin);
        let hierarchy_triangles: Vec<_> =
            corners.iter().map(|[a, b, c]| HierarchyTriangle { v0: narrow(a), v1: narrow(b), v2: narrow(c) }).collect();
        let hierarchy = (!hierarchy_triangles.is_empty()).then(|| {
            let quick = hierarchy_triangles.len() > LARGE;
            let params = BvhBuildParams {
                sort_precision: SortPrecision::U64,
                ..if quick { BvhBuildParams::fast_build() } else { BvhBuildParams::medium_build() }
            };
            build_cwbvh_from_tris(&hierarchy_triangles, params, &mut Duration::default())
        });
        let order: Vec<usize> =
            hierarchy.iter().flat_map(|built| built.primitive_indices.iter().map(|&index| index as usize)).collect();
        Self {
            triangles: order.iter().map(|&index| RtTriangle::from(&hierarchy_triangles[index])).collect(),
            surfaces: order.iter().map(|&index| surfaces[index]).collect(),
            hierarchy,
            origin,
            level_ground_m: match model.site.terrain {
                Terrain::Plane { height_m } => Some(height_m),
                Terrain::Grid(_) => None,
            },
            water_m: model.site.water_level_m,
        }
    }

    /// Whether the straight line from one point to another is free, both ends excepted.
    pub fn is_free(&self, from: &WorldPoint, to: &WorldPoint) -> bool {
        let span = to - from;
        let length_m = span.norm();
        if length_m <= 2.0 * TOUCH_M {
            return true;
        }
        let direction = span / length_m;
        let end_m = length_m - TOUCH_M.max(2e-5 * length_m);
        self.level_hits(from, &direction).iter().flatten().all(|&(distance_m, _)| distance_m >= end_m)
            && self.misses(from, &direction, end_m)
    }

    /// Whether nothing stands in a direction, however far: towards the sun, say.
    pub fn is_open_towards(&self, from: &WorldPoint, direction: &WorldVector) -> bool {
        self.level_hits(from, direction).iter().all(Option::is_none) && self.misses(from, direction, FARTHEST_M)
    }

    /// The first thing met in a direction (of length 1), from `nearest_m` on.
    pub fn first_hit(&self, from: &WorldPoint, direction: &WorldVector, nearest_m: f64) -> Option<Hit> {
        self.nearer_of(from, direction, nearest_m, |ray| {
            let hierarchy = self.hierarchy.as_ref()?;
            let mut hit = RayHit::none();
            hierarchy
                .ray_traverse(ray, &mut hit, |ray, index| self.triangles[index].intersect(ray))
                .then_some((hit.t, hit.primitive_id))
        })
    }

    /// The nearer of level ground or water and what `meet` finds among the triangles.
    fn nearer_of(
        &self,
        from: &WorldPoint,
        direction: &WorldVector,
        nearest_m: f64,
        meet: impl FnOnce(Ray) -> Option<(f32, u32)>,
    ) -> Option<Hit> {
        let level = self
            .level_hits(from, direction)
            .into_iter()
            .flatten()
            .filter(|&(distance_m, _)| distance_m >= nearest_m)
            .min_by(|a, b| a.0.total_cmp(&b.0));
        let farthest_m = level.map_or(FARTHEST_M, |(distance_m, _)| distance_m.min(FARTHEST_M));
        let ray = Ray::new(narrow(from - self.origin), narrow(*direction), nearest_m as f32, farthest_m as f32);
        let (distance_m, surface) = match meet(ray) {
            Some((distance, index)) => {
                let distance_m = f64::from(distance);
                // Ground that the water covers is seen as water, which the ray has met on its way down.
                match level {
                    Some((level_m, level_surface)) if level_m <= distance_m => (level_m, level_surface),
                    _ => (distance_m, self.surfaces[index as usize]),
                }
            }
            None => level?,
        };
        Some(Hit { distance_m, point: from + direction * distance_m, surface })
    }

    /// Looks up what the rays of a bundle can meet, among `what` there is; `bundle` is filled anew.
    pub fn gather(&self, bounds: &BundleBounds, what: Among, bundle: &mut Bundle) {
        bundle.near.clear();
        bundle.few = true;
        let Some(hierarchy) = &self.hierarchy else { return };
        // Rounding to `f32` moves a far corner by less than this.
        let slack = bounds.slack_m as f32 + 2.0 * TOUCH_M as f32;
        let eye = narrow(bounds.eye - self.origin);
        let (axis, sides) = (narrow(bounds.axis), bounds.sides.map(narrow));
        let outside = |low: Vec3A, high: Vec3A| {
            // The corner of the box that lies farthest inside each side.
            sides.iter().any(|side| {
                let inmost = Vec3A::select(side.cmpgt(Vec3A::ZERO), low, high);
                side.dot(inmost - eye) > slack
            })
        };
        bundle.waiting.clear();
        bundle.waiting.push(0);
        while let Some(node) = bundle.waiting.pop() {
            let node = &hierarchy.nodes[node as usize];
            for child in (0..8).filter(|&child| !node.is_child_empty(child)) {
                let bounds = node.child_aabb(child);
                if outside(bounds.min, bounds.max) {
                    continue;
                }
                if !node.is_leaf(child) {
                    bundle.waiting.push(node.child_node_index(child));
                    continue;
                }
                let (first, count) = node.child_primitives(child);
                for index in first..first + count {
                    if what == Among::Blocks && self.surfaces[index as usize] == Surface::Ground {
                        continue;
                    }
                    let triangle = &self.triangles[index as usize];
                    let corners = [triangle.v0, triangle.v0 - triangle.e1, triangle.v0 + triangle.e2];
                    let apart = sides.iter().any(|side| corners.iter().all(|corner| side.dot(*corner - eye) > slack));
                    let [a, b, c] = corners.map(|corner| axis.dot(corner - eye));
                    if apart || a.max(b).max(c) < -slack {
                        continue;
                    }
                    if bundle.near.len() == FEW {
                        bundle.few = false;
                        return;
                    }
                    bundle.near.push((a.min(b).min(c) - slack, index));
                }
            }
        }
        bundle.near.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    }

    /// [`Sight::first_hit`] for a ray within the bounds that the bundle was gathered for.
    pub fn first_hit_in(
        &self,
        bundle: &Bundle,
        from: &WorldPoint,
        direction: &WorldVector,
        nearest_m: f64,
    ) -> Option<Hit> {
        if !bundle.few {
            return self.first_hit(from, direction, nearest_m);
        }
        self.nearer_of(from, direction, nearest_m, |ray| {
            let mut nearest = (ray.tmax, u32::MAX);
            for &(least, index) in &bundle.near {
                if least > nearest.0 {
                    break;
                }
                let distance = self.triangles[index as usize].intersect(&ray);
                if distance < nearest.0 {
                    nearest = (distance, index);
                }
            }
            (nearest.1 != u32::MAX).then_some(nearest)
        })
    }

    /// [`Sight::is_open_towards`] for a ray within the bounds that the bundle was gathered for.
    pub fn is_open_in(&self, bundle: &Bundle, from: &WorldPoint, direction: &WorldVector) -> bool {
        if !bundle.few {
            return self.is_open_towards(from, direction);
        }
        if !self.level_hits(from, direction).iter().all(Option::is_none) {
            return false;
        }
        let ray = Ray::new(narrow(from - self.origin), narrow(*direction), TOUCH_M as f32, FARTHEST_M as f32);
        bundle.near.iter().all(|&(_, index)| self.triangles[index as usize].intersect(&ray) >= ray.tmax)
    }

    /// Where a ray meets level ground or water, if it does.
    fn level_hits(&self, from: &WorldPoint, direction: &WorldVector) -> [Option<(f64, Surface)>; 2] {
        let at = |level_m: Option<f64>, surface| {
            let distance_m = (level_m? - from.z) / direction.z;
            // A ray that starts on the level itself leaves it; rounding must not send it back.
            (direction.z != 0.0 && distance_m > TOUCH_M && distance_m < FARTHEST_M).then_some((distance_m, surface))
        };
        [at(self.level_ground_m, Surface::Ground), at(self.water_m, Surface::Water)]
    }

    fn misses(&self, from: &WorldPoint, direction: &WorldVector, end_m: f64) -> bool {
        let Some(hierarchy) = &self.hierarchy else { return true };
        let ray = Ray::new(narrow(from - self.origin), narrow(*direction), TOUCH_M as f32, end_m as f32);
        hierarchy.ray_traverse_miss(ray, |ray, index| self.triangles[index].intersect(ray))
    }
}

fn narrow(vector: WorldVector) -> Vec3A {
    Vec3A::new(vector.x as f32, vector.y as f32, vector.z as f32)
}

/// The middle of the subject, else of all blocks, else of the ground: where precision matters.
fn local_origin(model: &Model) -> WorldPoint {
    let subject: Vec<usize> = model.subject().collect();
    let middle = |indices: &mut dyn Iterator<Item = usize>| {
        let bounds = indices.map(|index| model.solids[index].bounds()).reduce(|a, b| (a.0.inf(&b.0), a.1.sup(&b.1)));
        bounds.map(|(low, high)| nalgebra::center(&low, &high))
    };
    middle(&mut subject.into_iter())
        .or_else(|| middle(&mut (0..model.solids.len())))
        .unwrap_or_else(|| WorldPoint::new(0.0, 0.0, model.site.terrain.height_m((0.0, 0.0))))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::site::Site;

    fn model(text: &str) -> Model {
        let site: Site = crate::files::ron_options().from_str(text).expect("a site");
        Model::build(site)
    }

    #[test]
    fn a_wall_hides_what_is_behind_it_and_no_more() {
        let model = model(
            "(format: 1, name: \"t\", blocks: [(name: \"hoarding\", at: (0, 10), shape: Box(width_m: 20, depth_m: 0.2, height_m: 3))])",
        );
        let sight = Sight::over(&model);
        let eye = WorldPoint::new(0.0, 0.0, 1.6);
        // By similar triangles the near top edge (9.9 m away) hides up to 1.6 + 1.4·30/9.9 at 30 m.
        let hidden_m = 1.6 + 1.4 * 30.0 / 9.9;
        assert!(!sight.is_free(&eye, &WorldPoint::new(0.0, 30.0, hidden_m - 0.01)));
        assert!(sight.is_free(&eye, &WorldPoint::new(0.0, 30.0, hidden_m + 0.01)));
        let hit = sight.first_hit(&eye, &WorldVector::y(), 0.0).expect("the wall");
        assert!((hit.distance_m - 9.9).abs() < 1e-5);
        assert!(matches!(hit.surface, Surface::Block { block: 0, .. }));
        assert!(sight.is_open_towards(&eye, &WorldVector::z()));
        assert!(!sight.is_open_towards(&eye, &WorldVector::y()));
    }

    #[test]
    fn level_ground_is_met_exactly_and_hides_what_is_under_it() {
        let sight = Sight::over(&model("(format: 1, name: \"t\")"));
        let eye = WorldPoint::new(0.0, 0.0, 1.6);
        let down = WorldVector::new(0.0, 1.0, -0.001).normalize();
        let hit = sight.first_hit(&eye, &down, 0.0).expect("ground");
        assert!((hit.point.y - 1600.0).abs() < 1e-6);
        assert_eq!(hit.surface, Surface::Ground);
        assert!(!sight.is_free(&eye, &WorldPoint::new(0.0, 50.0, -0.5)));
        assert!(sight.is_free(&eye, &WorldPoint::new(0.0, 50.0, 0.0)));
    }

    #[test]
    fn a_bundle_meets_what_its_rays_meet() {
        let posts: Vec<String> = (0..12)
            .map(|row| {
                let posts: Vec<String> =
                    (0..12).map(|column| f64::from((row * 7 + column * 5) % 4).to_string()).collect();
                format!("[{}]", posts.join(","))
            })
            .collect();
        let model = model(&format!(
            "(format: 1, name: \"t\", terrain: Grid((south_west: (-60, -60), spacing_m: (11, 11), rows: [{}])), blocks: [
                (name: \"tower\", at: (3, 20), shape: RoundTaper(foot_radius_m: 3, head_radius_m: 2, height_m: 25)),
                (name: \"house\", at: (-14, 25), heading_deg: 20, shape: Gable(width_m: 12, depth_m: 8, eaves_m: 5, ridge_m: 9)),
                (name: \"stage\", at: (9, 5), shape: Stage(width_m: 5, depth_m: 3, floor_m: 2.5, rail_m: 1))])",
            posts.join(",")
        ));
        let sight = Sight::over(&model);
        let eye = WorldPoint::new(0.0, -30.0, 6.0);
        let mut bundle = Bundle::default();
        let (mut met, mut open, mut few) = (0, 0, 0);
        for heading in (-50..50).step_by(3) {
            for pitch in (-30..40).step_by(3) {
                let (turn, up) = (f64::from(heading).to_radians(), f64::from(pitch).to_radians());
                let axis = WorldVector::new(turn.sin() * up.cos(), turn.cos() * up.cos(), up.sin());
                let right = axis.cross(&WorldVector::z()).normalize();
                let top = right.cross(&axis);
                let sides = [right, -right, top, -top].map(|side| side - axis * 0.0201);
                let bounds = BundleBounds { eye, axis, sides, slack_m: 0.0 };
                sight.gather(&bounds, Among::Everything, &mut bundle);
                few += usize::from(bundle.few);
                for (across, over) in [(0.0, 0.0), (0.02, 0.02), (-0.02, 0.01), (0.013, -0.02)] {
                    let direction = (axis + right * across + top * over).normalize();
                    let alone = sight.first_hit(&eye, &direction, 0.0);
                    assert_eq!(sight.first_hit_in(&bundle, &eye, &direction, 0.0), alone);
                    met += usize::from(alone.is_some());
                    let is_open = sight.is_open_towards(&eye, &direction);
                    assert_eq!(sight.is_open_in(&bundle, &eye, &direction), is_open);
                    open += usize::from(is_open);
                }
            }
        }
        assert!(met > 500 && open > 500 && few > 400, "{met} {open} {few}");
    }

    #[test]
    fn a_hill_hides_and_water_lies_over_its_bed() {
        let model = model(
            "(format: 1, name: \"t\", water_level_m: -1, terrain: Grid((south_west: (-50, -50), spacing_m: (50, 50), rows: [[-5, -5, -5], [4, 4, 4], [0, 0, 0]])))",
        );
        let sight = Sight::over(&model);
        let eye = WorldPoint::new(0.0, -40.0, 2.0);
        assert!(!sight.is_free(&eye, &WorldPoint::new(0.0, 45.0, 1.0)));
        assert!(sight.is_free(&eye, &WorldPoint::new(0.0, 45.0, 30.0)));
        let above = WorldPoint::new(0.0, 45.0, 30.0);
        assert_eq!(sight.first_hit(&above, &-WorldVector::z(), 0.0).expect("water").surface, Surface::Water);
    }
}
