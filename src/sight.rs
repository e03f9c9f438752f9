//! What stands between the eye and a point?
//!
//! A hierarchy over the triangles of every solid, and the terrain's posts as they lie, in `f32` about a local origin and
//! along the axes of the terrain's grid; level ground and water have no bounds and are met exactly. A hit is as exact as
//! that; a still computes it again in `f64` from the triangle it names.
//!
//! A point of a surface that is seen at a grazing angle would hide itself, by rounding: it is looked at a few millimetres off.

mod axes;
mod hierarchy;
mod relief;
mod seams;
mod shade;
mod sift;

use std::sync::Arc;

use glam::Vec3A;
use obvhs::ray::Ray;
use obvhs::triangle::Triangle;

use crate::pose::{WorldPoint, WorldVector};
use crate::site::{Model, Terrain};

use self::axes::{RayAxes, length};
use self::hierarchy::{Hierarchy, Leaf, Spread, TOGETHER};
use self::relief::Relief;

pub use self::seams::{Joined, PixelCorners, PixelSet, Sole, TILE_SIDE, TileSeams};
pub use self::shade::{DistantLight, Patch};

/// Points nearer than this along a ray count as touching: the step of `f32` at the far end of a site (5 km) is 0.5 mm.
const TOUCH_M: f64 = 2e-3;
/// Beyond this distance nothing is looked for.
const FARTHEST_M: f64 = 60_000.0;

/// Answers what is seen from where on a site.
pub struct Sight {
    blocks: Hierarchy,
    /// By the hierarchy's places; whatever has none is ground.
    surfaces: Vec<Surface>,
    relief: Option<Arc<Relief>>,
    axes: RayAxes,
    level_ground_m: Option<f64>,
    water_m: Option<f64>,
    /// Which blocks are convex.
    convex: Vec<bool>,
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
    /// What can be met, by its least distance; meaningless unless `few`.
    near: Vec<NearTriangles>,
    few: bool,
    /// Room to work in: least distance, place and corners of what was found.
    found: Vec<(f32, u32, [Vec3A; 3])>,
    /// How each of them lies to the directions it is sifted by: whether it covers all, whether it is missed, how near it is.
    placed: Vec<(bool, bool, [f64; 4])>,
    waiting: Vec<u32>,
    pieces: Vec<(usize, usize, usize)>,
}

/// Up to four triangles of a bundle.
#[derive(Debug)]
struct NearTriangles {
    /// None of them is met before this.
    least_m: f32,
    /// Their places in the hierarchy.
    places: [u32; 4],
    leaf: Leaf,
}

/// The bounds of a bundle of rays.
///
/// A point p that a ray of the bundle passes through has `side` · (p − eye) ≤ `tolerance_m` for each side.
#[derive(Clone, Copy, Debug)]
pub struct BundleBounds {
    /// Where the rays come from, within `tolerance_m`.
    pub eye: WorldPoint,
    /// The middle direction, of length 1.
    pub axis: WorldVector,
    /// Outward normals, each not longer than 2.
    pub sides: [WorldVector; 4],
    /// How far from the eye, and outside the sides, a ray may run.
    pub tolerance_m: f64,
}

/// What is looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RayTargets {
    /// Blocks and ground.
    Everything,
    /// Blocks alone, where the ground is known to be out of the way.
    Blocks,
}

/// The place of ground.
const GROUND: u32 = u32::MAX;

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
        f.debug_struct("Sight").field("surfaces", &self.surfaces.len()).finish_non_exhaustive()
    }
}

impl Sight {
    /// Prepares a site for looking.
    pub fn over(model: &Model) -> Self {
        let axes = RayAxes::of(model);
        let (blocks, surfaces) = sorted(model, &axes, 0..model.solids.len());
        let relief = match &model.site.terrain {
            Terrain::Plane { .. } => None,
            Terrain::Grid(grid) => {
                let (lines, heights) = axes.posts(grid);
                Some(Relief::over(lines, heights))
            }
        };
        Self {
            surfaces,
            blocks,
            relief: relief.map(Arc::new),
            axes,
            level_ground_m: match model.site.terrain {
                Terrain::Plane { height_m } => Some(height_m),
                Terrain::Grid(_) => None,
            },
            water_m: model.site.water_level_m,
            convex: model.solids.iter().map(|solid| solid.is_convex()).collect(),
        }
    }

    /// Prepares a model that was rebuilt from the one `before`, whose sight this is, and whose terrain it has: in a fraction of
    /// the time, for a look in passing. Where two surfaces lie in one plane, another of the two may be named than afresh.
    #[must_use]
    pub fn grafted(&self, before: &Model, model: &Model) -> Self {
        let shared = model.shared_with(before);
        let mut now = vec![None; before.solids.len()];
        for (index, kept) in shared.iter().enumerate() {
            if let Some(kept) = kept {
                now[*kept] = Some(index as u32);
            }
        }
        let new = (0..model.solids.len()).filter(|&index| shared[index].is_none());
        let (others, their_surfaces) = sorted(model, &self.axes, new);
        let still = |surface: Surface| match surface {
            Surface::Block { block, triangle } => now[block as usize].map(|block| Surface::Block { block, triangle }),
            Surface::Ground | Surface::Water => Some(surface),
        };
        let kept: Vec<Option<Surface>> = self.surfaces.iter().map(|&surface| still(surface)).collect();
        let blocks = self.blocks.grafted(|place| kept[place].is_none(), &others);
        let mut surfaces: Vec<Surface> = kept.into_iter().map(|kept| kept.unwrap_or(Surface::Ground)).collect();
        surfaces.extend(their_surfaces);
        Self {
            blocks,
            surfaces,
            relief: self.relief.clone(),
            axes: self.axes,
            level_ground_m: self.level_ground_m,
            water_m: model.site.water_level_m,
            convex: model.solids.iter().map(|solid| solid.is_convex()).collect(),
        }
    }

    /// Whether the straight line from one point to another is free, both ends excepted.
    pub fn is_free(&self, from: &WorldPoint, to: &WorldPoint) -> bool {
        self.in_question(from, to).map_or_else(|known| known, |ray| !self.is_met(&Spread::of(&ray)))
    }

    /// Whether one convex block stands between a point and both ends of a straight line, and so between it and all of the
    /// line: the block's shadow is convex, too. A line that several blocks hide together is not reported.
    pub fn is_hidden_by_one(&self, from: &WorldPoint, ends: [&WorldPoint; 2]) -> bool {
        let [one, other] = ends.map(|end| self.block_between(from, end));
        one.is_some_and(|block| other == Some(block) && self.convex[block as usize])
    }

    /// A block between two points, not always the nearest; `None` where there is none, or level ground or water hide anyway.
    fn block_between(&self, from: &WorldPoint, to: &WorldPoint) -> Option<u32> {
        let ray = self.in_question(from, to).ok()?;
        match self.surfaces.get(self.blocks.any_met(&Spread::of(&ray))? as usize)? {
            Surface::Block { block, .. } => Some(*block),
            Surface::Ground | Surface::Water => None,
        }
    }

    /// Which of many points can be seen from one: [`Sight::is_free`] of each, at less cost.
    ///
    /// Lines that run near each other are looked along together, whatever order the points come in.
    pub fn free_many(&self, from: &WorldPoint, points: &[WorldPoint]) -> Vec<bool> {
        let mut free = vec![true; points.len()];
        let mut questions: Vec<(u32, u32)> = Vec::with_capacity(points.len());
        let mut rays = Vec::with_capacity(points.len());
        for (index, point) in points.iter().enumerate() {
            match self.in_question(from, point) {
                Ok(ray) => {
                    questions.push((direction_key(ray.direction), rays.len() as u32));
                    rays.push((ray, index));
                }
                Err(known) => free[index] = known,
            }
        }
        questions.sort_unstable();
        let mut together = Vec::with_capacity(TOGETHER);
        for some in questions.chunks(TOGETHER) {
            together.clear();
            together.extend(some.iter().map(|&(_, question)| Spread::of(&rays[question as usize].0)));
            let mut met = self.blocks.are_met(&together);
            if let Some(relief) = &self.relief {
                for (bit, ray) in together.iter().enumerate() {
                    if met >> bit & 1 == 0 && relief.is_met(ray) {
                        met |= 1 << bit;
                    }
                }
            }
            for (bit, &(_, question)) in some.iter().enumerate() {
                free[rays[question as usize].1] = met >> bit & 1 == 0;
            }
        }
        free
    }

    /// The ray that the triangles must be asked about to tell whether a line is free; or whether it is, where that is known
    /// without them.
    fn in_question(&self, from: &WorldPoint, to: &WorldPoint) -> Result<Ray, bool> {
        let span = to - from;
        let length_m = span.norm();
        if length_m <= 2.0 * TOUCH_M {
            return Err(true);
        }
        let direction = span / length_m;
        let end_m = length_m - TOUCH_M.max(2e-5 * length_m);
        if self.level_hits(from, &direction).iter().flatten().any(|&(distance_m, _)| distance_m < end_m) {
            return Err(false);
        }
        Ok(self.ray(from, &direction, TOUCH_M, end_m))
    }

    /// Whether nothing stands in a direction, however far: towards the sun, say.
    pub fn is_open_towards(&self, from: &WorldPoint, direction: &WorldVector) -> bool {
        self.level_hits(from, direction).iter().all(Option::is_none)
            && !self.is_met(&Spread::of(&self.ray(from, direction, TOUCH_M, FARTHEST_M)))
    }

    /// Whether a ray meets any triangle.
    fn is_met(&self, ray: &Spread) -> bool {
        self.blocks.is_met(ray) || self.relief.as_ref().is_some_and(|relief| relief.is_met(ray))
    }

    /// The first triangle that a ray meets: how far off, and at which place.
    fn first_met(&self, ray: &Spread) -> Option<(f32, u32)> {
        let block = self.blocks.first_met(ray);
        let most = block.map_or(ray.most.x, |(distance, _)| distance);
        let ground = self.relief.as_ref().and_then(|relief| relief.first_met(ray, most));
        ground.map(|distance| (distance, GROUND)).or(block)
    }

    /// The first thing met in a direction (of length 1), from `nearest_m` on.
    pub fn first_hit(&self, from: &WorldPoint, direction: &WorldVector, nearest_m: f64) -> Option<Hit> {
        self.nearer_of(from, direction, nearest_m, |ray| self.first_met(&Spread::of(&ray)))
    }

    /// The nearer of level ground or water and what `meet` finds among the triangles.
    fn nearer_of(
        &self,
        from: &WorldPoint,
        direction: &WorldVector,
        nearest_m: f64,
        meet: impl FnOnce(Ray) -> Option<(f32, u32)>,
    ) -> Option<Hit> {
        let level = self.nearest_level(from, direction, nearest_m);
        let farthest_m = level.map_or(FARTHEST_M, |(distance_m, _)| distance_m.min(FARTHEST_M));
        let (distance_m, surface) = match meet(self.ray(from, direction, nearest_m, farthest_m)) {
            Some((distance, place)) => {
                let distance_m = f64::from(distance);
                // Ground that the water covers is seen as water, which the ray has met on its way down.
                match level {
                    Some((level_m, level_surface)) if level_m <= distance_m => (level_m, level_surface),
                    _ => (distance_m, self.surfaces.get(place as usize).copied().unwrap_or(Surface::Ground)),
                }
            }
            None => level?,
        };
        Some(Hit { distance_m, point: from + direction * distance_m, surface })
    }

    /// Looks up what the rays of a bundle can meet, among `what` there is; `bundle` is filled anew.
    pub fn gather(&self, bounds: &BundleBounds, what: RayTargets, bundle: &mut Bundle) {
        bundle.near.clear();
        bundle.few = true;
        // Rounding to `f32` moves a far corner by less than this.
        let tolerance = length(bounds.tolerance_m) + 2.0 * length(TOUCH_M);
        let eye = self.axes.point(&bounds.eye);
        let (axis, sides) = (self.axes.vector(bounds.axis), bounds.sides.map(|side| self.axes.vector(side)));
        let outside = |low: Vec3A, high: Vec3A| {
            // The corner of the box that lies farthest inside each side.
            sides.iter().any(|side| {
                let inmost = Vec3A::select(side.cmpgt(Vec3A::ZERO), low, high);
                side.dot(inmost - eye) > tolerance
            })
        };
        let Bundle { near, few, found, waiting, pieces, .. } = bundle;
        found.clear();
        let mut find = |place: u32, corners: [Vec3A; 3]| {
            let apart = sides.iter().any(|side| corners.iter().all(|corner| side.dot(*corner - eye) > tolerance));
            let [a, b, c] = corners.map(|corner| axis.dot(corner - eye));
            if apart || a.max(b).max(c) < -tolerance {
                return true;
            }
            *few = found.len() < FEW;
            if *few {
                found.push((a.min(b).min(c) - tolerance, place, corners));
            }
            *few
        };
        self.blocks.look_through(waiting, outside, &mut find);
        if let (Some(relief), RayTargets::Everything) = (&self.relief, what) {
            relief.look_through(pieces, outside, |cell| (0..4).all(|side| find(GROUND, cell.triangle(side))));
        }
        if !*few {
            return;
        }
        found.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        near.extend(NearTriangles::in_fours(found));
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
        if bundle.near.is_empty() {
            return self.nearest_level(from, direction, nearest_m).map(|(distance_m, surface)| Hit {
                distance_m,
                point: from + direction * distance_m,
                surface,
            });
        }
        self.nearer_of(from, direction, nearest_m, |ray| {
            let spread = Spread::of(&ray);
            let (mut most, mut first) = (ray.tmax, None);
            for near in &bundle.near {
                if near.least_m > most {
                    break;
                }
                if let Some((distance, lane)) = near.leaf.first_met(&spread, most) {
                    most = distance;
                    first = Some((distance, near.places[lane as usize]));
                }
            }
            first
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
        if bundle.near.is_empty() {
            return true;
        }
        let ray = Spread::of(&self.ray(from, direction, TOUCH_M, FARTHEST_M));
        bundle.near.iter().all(|near| !near.leaf.is_met(&ray))
    }

    /// The height above which no ray from above meets level ground or water.
    fn highest_level_m(&self) -> f64 {
        self.level_ground_m.into_iter().chain(self.water_m).fold(f64::NEG_INFINITY, f64::max)
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

    /// The nearer of level ground and water, from `nearest_m` on.
    fn nearest_level(&self, from: &WorldPoint, direction: &WorldVector, nearest_m: f64) -> Option<(f64, Surface)> {
        let levels = self.level_hits(from, direction).into_iter().flatten();
        levels.filter(|&(distance_m, _)| distance_m >= nearest_m).min_by(|a, b| a.0.total_cmp(&b.0))
    }

    /// A part of a ray as the hierarchy takes it.
    fn ray(&self, from: &WorldPoint, direction: &WorldVector, nearest_m: f64, farthest_m: f64) -> Ray {
        Ray::new(self.axes.point(from), self.axes.vector(*direction), length(nearest_m), length(farthest_m))
    }
}

/// The triangles of some blocks, and what each place stands for.
fn sorted(model: &Model, axes: &RayAxes, blocks: impl Iterator<Item = usize> + Clone) -> (Hierarchy, Vec<Surface>) {
    let count = blocks.clone().map(|block| model.solids[block].triangles.len()).sum();
    let (mut triangles, mut surfaces) = (Vec::with_capacity(count), Vec::with_capacity(count));
    for block in blocks {
        let solid = &model.solids[block];
        for (triangle, part) in solid.triangles.iter().enumerate() {
            let [v0, v1, v2] = solid.corners(part).map(|corner| axes.point(&corner));
            triangles.push(Triangle { v0, v1, v2 });
            surfaces.push(Surface::Block { block: block as u32, triangle: triangle as u32 });
        }
    }
    let hierarchy = Hierarchy::over(triangles);
    // No ray meets an empty place: what is said of its surface is never asked.
    let surfaces = hierarchy.by_place(&surfaces, Surface::Ground);
    (hierarchy, surfaces)
}

/// A number that is near for most directions that are near: each half of an octahedron about the eye, laid flat, the bits
/// of both coordinates by turns.
fn direction_key(direction: Vec3A) -> u32 {
    let flat = direction / direction.abs().element_sum().max(f32::MIN_POSITIVE);
    let steps = |coordinate: f32| ((coordinate + 1.0) * 16_383.0) as u32;
    // Fifteen bits, each moved apart from the next by halves, quarters and so on.
    let apart = |bits: u32| {
        let bits = (bits | bits << 8) & 0x00ff_00ff;
        let bits = (bits | bits << 4) & 0x0f0f_0f0f;
        let bits = (bits | bits << 2) & 0x3333_3333;
        (bits | bits << 1) & 0x5555_5555
    };
    u32::from(direction.z < 0.0) << 30 | apart(steps(flat.y)) << 1 | apart(steps(flat.x))
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
    fn one_sees_through_the_crown_of_a_bare_tree_and_not_of_one_in_leaf() {
        let open_share = |bare: bool| {
            let tree =
                format!("Tree(height_m: 12, crown_radius_m: 4, crown_base_m: 3, trunk_radius_m: 0.25, bare: {bare})");
            let model =
                model(&format!("(format: 1, name: \"t\", blocks: [(name: \"tree\", at: (0, 20), shape: {tree})])"));
            let sight = Sight::over(&model);
            let eye = WorldPoint::new(0.0, 0.0, 1.6);
            // Behind the middle of the crown.
            let behind = (0..400_u32).map(|index| {
                let (across, up) = (f64::from(index % 20) / 19.0 - 0.5, f64::from(index / 20) / 19.0 - 0.5);
                WorldPoint::new(8.0 * across, 40.0, 13.0 + 8.0 * up)
            });
            behind.filter(|point| sight.is_free(&eye, point)).count() as f64 / 400.0
        };
        assert_eq!(open_share(false), 0.0);
        let bare = open_share(true);
        assert!(bare > 0.6 && bare < 0.97, "{bare}");
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
        for turned_deg in [0, 27] {
            bundles_meet_what_their_rays_meet(&posts.join(","), turned_deg);
        }
    }

    fn bundles_meet_what_their_rays_meet(rows: &str, turned_deg: i32) {
        let model = model(&format!(
            "(format: 1, name: \"t\", terrain: Grid((south_west: (-60, -60), spacing_m: (11, 11), turned_deg: {turned_deg}, rows: [{rows}])), blocks: [
                (name: \"tower\", at: (3, 20), shape: RoundTaper(foot_radius_m: 3, head_radius_m: 2, height_m: 25)),
                (name: \"house\", at: (-14, 25), heading_deg: 20, shape: Gable(width_m: 12, depth_m: 8, eaves_m: 5, ridge_m: 9)),
                (name: \"stage\", at: (9, 5), shape: Stage(width_m: 5, depth_m: 3, floor_m: 2.5, rail_m: 1))])"
        ));
        let sight = Sight::over(&model);
        let eye = WorldPoint::new(0.0, -30.0, 6.0);
        let mut bundle = Bundle::default();
        let (mut met, mut open, mut few, mut fewer, mut all) = (0, 0, 0, 0, 0);
        for heading in (-50..50).step_by(3) {
            for pitch in (-30..40).step_by(3) {
                let (turn, up) = (f64::from(heading).to_radians(), f64::from(pitch).to_radians());
                let axis = WorldVector::new(turn.sin() * up.cos(), turn.cos() * up.cos(), up.sin());
                let right = axis.cross(&WorldVector::z()).normalize();
                let top = right.cross(&axis);
                let sides = [right, -right, top, -top].map(|side| side - axis * 0.0201);
                let bounds = BundleBounds { eye, axis, sides, tolerance_m: 0.0 };
                sight.gather(&bounds, RayTargets::Everything, &mut bundle);
                few += usize::from(bundle.few);
                let mut sifted = Bundle::default();
                sight.gather(&bounds, RayTargets::Everything, &mut sifted);
                let corners = [(-0.02, -0.02), (0.02, -0.02), (0.02, 0.02), (-0.02, 0.02)]
                    .map(|(across, over)| (axis + right * across + top * over).normalize());
                sight.sift(&mut sifted, &eye, &corners);
                fewer += sifted.found.len();
                all += bundle.found.len();
                for (across, over) in [(0.0, 0.0), (0.02, 0.02), (-0.02, 0.01), (0.013, -0.02)] {
                    let direction = (axis + right * across + top * over).normalize();
                    let alone = sight.first_hit(&eye, &direction, 0.0);
                    assert_eq!(sight.first_hit_in(&bundle, &eye, &direction, 0.0), alone);
                    assert_eq!(sight.first_hit_in(&sifted, &eye, &direction, 0.0), alone);
                    met += usize::from(alone.is_some());
                    let is_open = sight.is_open_towards(&eye, &direction);
                    assert_eq!(sight.is_open_in(&bundle, &eye, &direction), is_open);
                    open += usize::from(is_open);
                }
            }
        }
        assert!(met > 500 && open > 500 && few > 400, "{met} {open} {few}");
        // These bundles are far wider than a tile's: most of what they hold stays.
        assert!(5 * fewer < 4 * all, "{fewer} of {all} are left");
    }

    #[test]
    fn many_points_are_seen_as_each_of_them_alone() {
        let model = model(
            "(format: 1, name: \"t\", water_level_m: 0.4, blocks: [
                (name: \"tower\", at: (3, 20), shape: RoundTaper(foot_radius_m: 3, head_radius_m: 2, height_m: 25)),
                (name: \"house\", at: (-14, 25), heading_deg: 20, shape: Gable(width_m: 12, depth_m: 8, eaves_m: 5, ridge_m: 9))])",
        );
        let sight = Sight::over(&model);
        let eye = WorldPoint::new(0.0, -30.0, 6.0);
        // All about the eye, above and below the water, and at the eye itself.
        let points: Vec<WorldPoint> = (0..1500_u32)
            .map(|index| {
                let (turn, up) = (2.4 * f64::from(index), f64::from(index) / 750.0 - 1.0);
                let level = (1.0 - up * up).sqrt();
                let distance_m = 90.0 * f64::from(index % 7) / 6.0;
                eye + WorldVector::new(turn.sin() * level, turn.cos() * level, up) * distance_m
            })
            .collect();
        let alone: Vec<bool> = points.iter().map(|point| sight.is_free(&eye, point)).collect();
        assert_eq!(sight.free_many(&eye, &points), alone);
        let seen = alone.iter().filter(|free| **free).count();
        assert!(seen > 400 && seen < 1100, "{seen}");
        assert!(sight.free_many(&eye, &[]).is_empty());
    }

    #[test]
    fn what_is_grafted_is_met_as_if_all_were_sorted_anew() {
        let house = |index: usize, at: (f64, f64)| {
            format!(
                "(name: \"house {index}\", at: ({}, {}), heading_deg: {}, shape: Gable(width_m: 8, depth_m: 6, eaves_m: 5, ridge_m: 9))",
                at.0,
                at.1,
                index * 13
            )
        };
        let town = |moved: &[usize], fewer: usize, more: usize| {
            let at = |index: usize| {
                let shift = if moved.contains(&index) { 3.7 } else { 0.0 };
                (15.0 * (index % 6) as f64 - 40.0 + shift, 15.0 * (index / 6) as f64 + shift)
            };
            let houses = (fewer..30).map(|index| house(index, at(index)));
            let others = (0..more).map(|index| house(index, (-60.0 - 9.0 * index as f64, 12.0)));
            let blocks: Vec<String> = houses.chain(others).collect();
            let terrain =
                "Grid((south_west: (-90, -60), spacing_m: (60, 60), rows: [[0,3,1,0],[2,0,4,1],[0,1,2,0],[1,0,0,2]]))";
            let text = format!(
                "(format: 1, name: \"t\", terrain: {terrain}, water_level_m: 0.4, blocks: [{}])",
                blocks.join(",")
            );
            crate::files::ron_options().from_str::<Site>(&text).expect("a site")
        };
        let before = Model::build(town(&[], 0, 0));
        let sight = Sight::over(&before);
        let mut met = 0;
        for (moved, fewer, more) in [(&[7, 8, 22][..], 0, 0), (&[], 3, 0), (&[], 0, 2), (&[0], 0, 0), (&[], 30, 0)] {
            let site = town(moved, fewer, more);
            let model = before.rebuilt(site.clone());
            let grafted = sight.grafted(&before, &model);
            let fresh = Sight::over(&model);
            for index in 0..4000_u32 {
                let (turn, up) = (2.4 * f64::from(index), f64::from(index % 83) / 120.0 - 0.25);
                let from = WorldPoint::new(f64::from(index % 97) - 60.0, f64::from(index % 89) - 30.0, 12.0);
                let direction = WorldVector::new(turn.sin(), turn.cos(), up).normalize();
                let hits = [&grafted, &fresh].map(|sight| sight.first_hit(&from, &direction, 0.0));
                let far = |hit: Option<Hit>| hit.map(|hit| hit.distance_m);
                // From another origin the same distance is rounded otherwise.
                match hits.map(far) {
                    [None, None] => {}
                    [Some(one), Some(other)] => {
                        assert!((one - other).abs() < 1e-3, "{index}: {hits:?}");
                        met += 1;
                    }
                    _ => panic!("{index}: {hits:?}"),
                }
                if let [Some(one), Some(other)] = hits {
                    let named = |hit: Hit| match hit.surface {
                        Surface::Block { block, .. } => Some(model.site.blocks[block as usize].name.clone()),
                        Surface::Ground | Surface::Water => None,
                    };
                    assert_eq!(named(one), named(other), "{index}");
                }
            }
        }
        assert!(met > 6000, "{met}");
    }

    #[test]
    fn many_lines_that_graze_are_told_as_each_of_them_alone() {
        let rows: Vec<String> = (0..9)
            .map(|row| format!("{:?}", (0..9).map(|post| f64::from((row * 5 + post * 7) % 4)).collect::<Vec<_>>()))
            .collect();
        let text = |turned_deg: f64| {
            format!(
                "(format: 1, name: \"t\", terrain: Grid((south_west: (-40, -40), spacing_m: (10, 10), turned_deg: {turned_deg}, rows: [{}])), blocks: [
                    (name: \"house\", at: (-10, 10), shape: Box(width_m: 8, depth_m: 6, height_m: 9)),
                    (name: \"tower\", at: (12, 16), heading_deg: 31, shape: RoundTaper(foot_radius_m: 3, head_radius_m: 2, height_m: 25))])",
                rows.join(",")
            )
        };
        for turned_deg in [0.0, 18.5] {
            let model = model(&text(turned_deg));
            let sight = Sight::over(&model);
            // Every corner of every triangle, the middles of their sides, and twice as far.
            let solids = model.solids.iter().flat_map(|solid| solid.triangles.iter().map(|part| solid.corners(part)));
            let corners: Vec<WorldPoint> = solids
                .chain(model.site.terrain.triangles())
                .flat_map(|[a, b, c]| [a, b, c, nalgebra::center(&a, &b), nalgebra::center(&b, &c)])
                .filter(|corner| corner.coords.norm() < 100.0)
                .collect();
            // In line with a wall, level with an eave, on the ground, and anywhere.
            let eyes = [(-14.0, -30.0, 6.0), (0.0, -30.0, corners[0].z), (5.0, -5.0, 2.0), (3.3, -21.7, 31.4)];
            let (mut seen, mut hidden) = (0, 0);
            for (x, y, z) in eyes {
                let eye = WorldPoint::new(x, y, z);
                let beyond = corners.iter().map(|corner| corner + (corner - eye));
                let points: Vec<WorldPoint> = corners.iter().copied().chain(beyond).collect();
                let alone: Vec<bool> = points.iter().map(|point| sight.is_free(&eye, point)).collect();
                assert_eq!(sight.free_many(&eye, &points), alone);
                seen += alone.iter().filter(|free| **free).count();
                hidden += alone.iter().filter(|free| !**free).count();
            }
            assert!(seen > 500 && hidden > 1000, "{seen} {hidden}");
        }
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
