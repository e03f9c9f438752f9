//! What is the picture about, and how wide does it stand before the eye?
//!
//! Bearings are plan angles. The outline of the subject is bounded by two plumb lines: through the extreme corners of its
//! blocks, and for a round body of radius r at plan distance ρ at the bearing of its axis ± asin(r/ρ).
//!
//! A sample on a round body carries the normal of its flat piece: with the smooth one it may face an eye that no ray from it can
//! reach.

use thiserror::Error;

use crate::angle::Angle;
use crate::pose::{WorldPoint, WorldVector};
use crate::site::{Face, Front, Model, PlanPoint, Round, Solid, Triangle};

/// How many points of the subject's surface stand for it when asking how much is seen.
pub const SIGHT_SAMPLES: usize = 512;
/// Of so many points of the surface one becomes a sample.
const POOL: usize = 16;
/// At most so many times as many samples are laid as are wanted, where most of them lie buried.
const MOST_LAID: usize = 4;
/// Samples this close under another block's skin cannot be seen from anywhere.
const COVERED_M: f64 = 5e-3;
/// A wall whose normal lies within 30° of a bearing looks that way.
const NEARLY_TOWARD: f64 = 0.866_025_4;
/// A face whose normal rises or falls more than this is no wall.
const WALL_SINE: f64 = 0.1;

/// Everything about the subject that does not depend on the stance.
#[derive(Clone, Debug)]
pub struct Subject {
    /// Its blocks.
    pub blocks: Vec<usize>,
    /// The corners of its skin, above the ground.
    pub corners: Vec<WorldPoint>,
    /// Those of its corners that a straight picture can draw outermost, wherever it is taken from; perhaps a few more.
    pub outermost: Vec<WorldPoint>,
    /// The corners of its plan that its round bodies do not cover.
    pub plan_corners: Vec<PlanPoint>,
    /// The sides of its triangles as seen from above, each once.
    pub plan_sides: Vec<[PlanPoint; 2]>,
    /// Its flat walls.
    pub walls: Vec<Wall>,
    /// Its upright round bodies.
    pub rounds: Vec<Round>,
    /// Points spread evenly over its surface.
    pub samples: Vec<Sample>,
    /// The block that rises most from base to top: the one whose taper, base and top are reported.
    pub body: usize,
    /// Height of the body's base, where it meets the ground.
    pub base_m: f64,
    /// Height of the body's top.
    pub top_m: f64,
    /// Height of the highest corner of all.
    pub highest_m: f64,
    /// The middle of the box around it.
    pub middle: WorldPoint,
    /// The side that the picture is of, where the site names one.
    pub named_front: Option<Wall>,
    /// Whether the site says that one side is as good as another.
    pub any_front: bool,
}

/// The side of the subject that the picture is of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FrontFace {
    /// The wall; of a subject without flat walls, the side of the box around it.
    pub wall: Wall,
    /// Whether the site names it, or it is the one that is seen largest from where one stands.
    pub named: bool,
}

impl FrontFace {
    /// How far a place stands aside of it: the angle in plan from its normal to the line of sight, positive clockwise; nought
    /// squarely before it, beyond 90° behind.
    ///
    /// # Example
    /// ```
    /// # use plumbsight::{outline::Subject, pose::WorldPoint, site::{Model, parse_site}};
    /// # let text = "Site(format: 1, name: \"a\", front: Bearing(180), blocks: [(name: \"hall\", subject: true, at: (0, 0), \
    /// #     shape: Box(width_m: 10, depth_m: 6, height_m: 9))])";
    /// # let model = Model::build(parse_site(text, "a.site.ron").unwrap());
    /// let subject = Subject::of(&model).unwrap();
    /// // Ten metres south of the south wall, and as far to the west.
    /// let front = subject.front(&WorldPoint::new(-10.0, -13.0, 1.6)).unwrap();
    /// assert!(front.named && (front.angle_to(&WorldPoint::new(-10.0, -13.0, 1.6)).degrees() - 45.0).abs() < 1e-9);
    /// ```
    pub fn angle_to(&self, eye: &WorldPoint) -> Angle {
        let towards = eye - self.wall.middle;
        let sight = Angle::bearing_of(towards.x, towards.y);
        (sight - Angle::bearing_of(self.wall.normal.x, self.wall.normal.y)).wrapped()
    }
}

/// A point of the subject's surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// Where.
    pub point: WorldPoint,
    /// The outward normal there, of length 1.
    pub normal: WorldVector,
    /// Whether the surface is curved there.
    pub curved: bool,
}

/// A flat upright face of the subject.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wall {
    /// Its block.
    pub block: usize,
    /// Its outward normal, of length 1.
    pub normal: WorldVector,
    /// Its area.
    pub area_m2: f64,
    /// The heights of its base, where it meets the ground, and of its top.
    pub heights_m: (f64, f64),
    /// The middle of the box around it.
    pub middle: WorldPoint,
    /// One of its corners.
    pub corner: WorldPoint,
}

/// The subject as bounded in plan from an eye.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outline {
    /// The compass bearing of the plumb line that touches it on the left.
    pub left: Angle,
    /// The compass bearing of the plumb line that touches it on the right; at least `left`, by less than 180°.
    pub right: Angle,
}

/// Why there is no outline.
#[derive(Clone, Copy, Debug, Error, PartialEq, Eq)]
pub enum OutlineError {
    /// No block is marked.
    #[error("no block of this site is marked as the subject; write `subject: true` on one")]
    NoSubject,
    /// The eye stands over, under or amid the subject.
    #[error("the camera stands over or amid the subject, which lies all around it; there is no outline from here")]
    Surrounds,
}

impl Subject {
    /// The subject of a site.
    ///
    /// # Errors
    /// No block is marked as (part of) the subject.
    pub fn of(model: &Model) -> Result<Self, OutlineError> {
        Self::with_samples(model, SIGHT_SAMPLES)
    }

    /// The subject with another number of surface samples.
    ///
    /// # Errors
    /// As [`Subject::of`].
    pub fn with_samples(model: &Model, samples: usize) -> Result<Self, OutlineError> {
        let blocks: Vec<usize> = model.subject().collect();
        let ground_m = |point: &WorldPoint| model.site.terrain.height_m((point.x, point.y));
        let mut corners = Vec::new();
        for &block in &blocks {
            for vertex in &model.solids[block].vertices {
                let mut corner = *vertex;
                corner.z = corner.z.max(ground_m(vertex));
                corners.push(corner);
            }
        }
        let rise_m = |block: usize| {
            let (low, high) = model.solids[block].bounds();
            high.z - low.z.max(ground_m(&nalgebra::center(&low, &high)))
        };
        let body = blocks
            .iter()
            .copied()
            .reduce(|a, b| if rise_m(b) > rise_m(a) { b } else { a })
            .ok_or(OutlineError::NoSubject)?;
        let (low, high) = model.solids[body].bounds();
        let first = corners.first().copied().ok_or(OutlineError::NoSubject)?;
        let (all_low, all_high) = corners.iter().fold((first, first), |(low, high), c| (low.inf(c), high.sup(c)));
        let rounds: Vec<Round> = blocks.iter().flat_map(|&block| model.solids[block].rounds.iter().copied()).collect();
        let walls: Vec<Wall> = blocks.iter().flat_map(|&block| walls(model, block)).collect();
        let base_m = low.z.max(ground_m(&nalgebra::center(&low, &high)));
        let around = Surroundings { body, low: all_low, high: all_high, base_m };
        Ok(Self {
            named_front: named_front(model, &walls, &around),
            any_front: model.site.front == Some(Front::Any),
            outermost: outermost(&corners),
            plan_corners: plan_corners(&corners, &rounds),
            plan_sides: plan_sides(model, &blocks),
            walls,
            rounds,
            samples: surface_samples(model, &blocks, samples),
            body,
            base_m,
            top_m: high.z,
            highest_m: all_high.z,
            middle: nalgebra::center(&all_low, &all_high),
            corners,
            blocks,
        })
    }

    /// The subject's outline as bounded in plan from an eye.
    ///
    /// # Errors
    /// The eye stands over or amid the subject.
    pub fn outline(&self, eye: &WorldPoint) -> Result<Outline, OutlineError> {
        let towards = self.middle - eye;
        let middle = Angle::bearing_of(towards.x, towards.y);
        let (mut left, mut right) = (f64::INFINITY, f64::NEG_INFINITY);
        let mut widen = |low: f64, high: f64| {
            left = left.min(low);
            right = right.max(high);
        };
        let (sine, cosine) = middle.sin_cos();
        // The bearing relative to the middle's, straight from the turned components.
        let bearing_of = |east: f64, north: f64| (east * cosine - north * sine).atan2(east * sine + north * cosine);
        for &(x, y) in &self.plan_corners {
            let bearing = bearing_of(x - eye.x, y - eye.y);
            widen(bearing, bearing);
        }
        for round in &self.rounds {
            let (east, north) = (round.axis.0 - eye.x, round.axis.1 - eye.y);
            let (distance_m, radius_m) = (east.hypot(north), round.base_radius_m.max(round.top_radius_m));
            if distance_m <= radius_m {
                return Err(OutlineError::Surrounds);
            }
            let bearing = bearing_of(east, north);
            let half = (radius_m / distance_m).asin();
            widen(bearing - half, bearing + half);
        }
        // A solid that surrounds the eye in plan spans half a turn or more.
        if right - left >= std::f64::consts::PI * (1.0 - 1e-9) {
            return Err(OutlineError::Surrounds);
        }
        Ok(Outline { left: middle + Angle::from_radians(left), right: middle + Angle::from_radians(right) })
    }

    /// The distance in plan from an eye that stands beside the subject to its nearest point.
    pub fn distance_m(&self, eye: &WorldPoint) -> f64 {
        let to_side = |&[a, b]: &[PlanPoint; 2]| {
            let (along, from) = ((b.0 - a.0, b.1 - a.1), (eye.x - a.0, eye.y - a.1));
            let squared = along.0 * along.0 + along.1 * along.1;
            let share = if squared > 0.0 { (from.0 * along.0 + from.1 * along.1) / squared } else { 0.0 };
            let share = share.clamp(0.0, 1.0);
            (from.0 - share * along.0).hypot(from.1 - share * along.1)
        };
        let to_round = |round: &Round| {
            let radius_m = round.base_radius_m.max(round.top_radius_m);
            (eye.x - round.axis.0).hypot(eye.y - round.axis.1) - radius_m
        };
        let sides = self.plan_sides.iter().map(to_side);
        sides.chain(self.rounds.iter().map(to_round)).fold(f64::INFINITY, f64::min)
    }

    /// The side that the picture is of: the one that the site names, else the flat wall that is seen largest from an eye, the first
    /// of equals; `None` where nothing is named and no flat wall faces the eye, as of a round tower.
    pub fn front(&self, eye: &WorldPoint) -> Option<FrontFace> {
        if let Some(wall) = self.named_front {
            return Some(FrontFace { wall, named: true });
        }
        // By its area as it is seen: a church's long side, seen from before its west front, is seen as a sliver.
        let seen_m2 = |wall: &Wall| {
            let towards = WorldVector::new(eye.x - wall.middle.x, eye.y - wall.middle.y, 0.0);
            wall.area_m2 * wall.normal.dot(&towards) / towards.norm().max(1e-9)
        };
        self.walls
            .iter()
            .filter(|wall| wall.normal.dot(&(eye - wall.corner)) > 0.0)
            .reduce(|best, wall| if seen_m2(wall) > seen_m2(best) * (1.0 + 1e-9) { wall } else { best })
            .map(|wall| FrontFace { wall: *wall, named: false })
    }

    /// The point of the body's surface that faces the eye in plan at a height, and its outward normal; `None` where the
    /// body has no surface there.
    pub fn facing_point(&self, model: &Model, eye: &WorldPoint, height_m: f64) -> Option<(WorldPoint, WorldVector)> {
        self.facing_point_among(model, eye, height_m, 0..model.solids[self.body].triangles.len())
    }

    /// The same, where only these triangles of the body lie at that height.
    pub(crate) fn facing_point_among(
        &self,
        model: &Model,
        eye: &WorldPoint,
        height_m: f64,
        triangles: impl Iterator<Item = usize>,
    ) -> Option<(WorldPoint, WorldVector)> {
        let solid = &model.solids[self.body];
        let (low, high) = solid.bounds();
        let axis = solid
            .rounds
            .first()
            .map_or_else(|| nalgebra::center(&low, &high), |round| WorldPoint::new(round.axis.0, round.axis.1, 0.0));
        let from = WorldPoint::new(eye.x, eye.y, height_m);
        let direction = WorldVector::new(axis.x - eye.x, axis.y - eye.y, 0.0).try_normalize(1e-9)?;
        first_on_solid(solid, triangles, &from, &direction)
    }
}

impl Outline {
    /// The bearings of both bounding plumb lines to the right of a heading, each in (−180°, 180°] plus half the span.
    pub fn right_of(&self, heading: Angle) -> (Angle, Angle) {
        let span = self.right - self.left;
        let middle = (self.left + span * 0.5 - heading).wrapped();
        (middle - span * 0.5, middle + span * 0.5)
    }

    /// The compass bearing halfway between the bounding plumb lines.
    pub fn middle(&self) -> Angle {
        self.left + (self.right - self.left) * 0.5
    }
}

/// The box around a subject.
struct Surroundings {
    body: usize,
    low: WorldPoint,
    high: WorldPoint,
    base_m: f64,
}

/// The side that the site names: of a block's walls the one that looks most nearly its way; for a bearing the largest of the walls
/// that look that way, or else that side of the box around the subject.
fn named_front(model: &Model, walls: &[Wall], around: &Surroundings) -> Option<Wall> {
    let toward = |toward_deg: f64| {
        let (sine, cosine) = Angle::from_degrees(toward_deg).sin_cos();
        WorldVector::new(sine, cosine, 0.0)
    };
    match model.site.front.as_ref()? {
        Front::Any => None,
        Front::Face { block, toward_deg } => {
            let toward = toward(*toward_deg);
            walls
                .iter()
                .filter(|wall| model.site.blocks[wall.block].name == *block)
                .reduce(|a, b| if b.normal.dot(&toward) > a.normal.dot(&toward) + 1e-9 { b } else { a })
                .copied()
                .or_else(|| Some(side_of_box(toward, around)))
        }
        Front::Bearing(toward_deg) => {
            let toward = toward(*toward_deg);
            walls
                .iter()
                .filter(|wall| wall.normal.dot(&toward) > NEARLY_TOWARD)
                .reduce(|a, b| if b.area_m2 > a.area_m2 * (1.0 + 1e-9) { b } else { a })
                .copied()
                .or_else(|| Some(side_of_box(toward, around)))
        }
    }
}

fn side_of_box(normal: WorldVector, around: &Surroundings) -> Wall {
    let Surroundings { body, low, high, base_m } = *around;
    let half = 0.5 * (high - low);
    let reach_m = half.x * normal.x.abs() + half.y * normal.y.abs();
    let middle = nalgebra::center(&low, &high) + normal * reach_m;
    let width_m = 2.0 * (half.x * normal.y.abs() + half.y * normal.x.abs());
    Wall {
        block: body,
        normal,
        area_m2: width_m * (high.z - base_m),
        heights_m: (base_m, high.z),
        middle,
        corner: middle,
    }
}

/// The corners that can be drawn outermost: those that lie neither between two others on one plumb line nor inside the
/// polygon of those at their own height.
fn outermost(corners: &[WorldPoint]) -> Vec<WorldPoint> {
    let mut corners = corners.to_vec();
    corners.sort_unstable_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)).then(a.z.total_cmp(&b.z)));
    let mut ends: Vec<WorldPoint> = corners
        .chunk_by(|a, b| a.x == b.x && a.y == b.y)
        .flat_map(|upright| [upright[0], upright[upright.len() - 1]])
        .collect();
    ends.sort_by(|a, b| a.z.total_cmp(&b.z));
    ends.chunk_by(|a, b| a.z == b.z)
        .flat_map(|level| {
            let height_m = level[0].z;
            let around = hull(level.iter().map(|corner| (corner.x, corner.y)).collect());
            around.into_iter().map(move |(x, y)| WorldPoint::new(x, y, height_m))
        })
        .collect()
}

/// The corners of the plan that no round body covers.
fn plan_corners(corners: &[WorldPoint], rounds: &[Round]) -> Vec<PlanPoint> {
    let covered = |&(x, y): &PlanPoint| {
        rounds.iter().any(|round| {
            let radius_m = round.base_radius_m.max(round.top_radius_m);
            (x - round.axis.0).hypot(y - round.axis.1) <= radius_m * (1.0 + 1e-12)
        })
    };
    let mut around = hull(corners.iter().map(|corner| (corner.x, corner.y)).collect());
    around.retain(|corner| !covered(corner));
    around
}

/// The sides of all triangles as seen from above, each once: the plan's outline is among them.
fn plan_sides(model: &Model, blocks: &[usize]) -> Vec<[PlanPoint; 2]> {
    let mut sides: Vec<[PlanPoint; 2]> = Vec::new();
    for &block in blocks {
        let solid = &model.solids[block];
        for triangle in &solid.triangles {
            let corners = solid.corners(triangle).map(|corner| (corner.x, corner.y));
            for (a, b) in [(0, 1), (1, 2), (2, 0)] {
                let (a, b) = (corners[a], corners[b]);
                sides.push(if a <= b { [a, b] } else { [b, a] });
            }
        }
    }
    sides.sort_unstable_by(|[a, b], [c, d]| {
        a.0.total_cmp(&c.0).then(a.1.total_cmp(&c.1)).then(b.0.total_cmp(&d.0)).then(b.1.total_cmp(&d.1))
    });
    sides.dedup();
    sides
}

/// The flat walls of a block.
pub(crate) fn walls(model: &Model, block: usize) -> Vec<Wall> {
    let solid = &model.solids[block];
    let mut found: Vec<Vec<[WorldPoint; 3]>> = vec![Vec::new(); solid.faces.len()];
    for triangle in &solid.triangles {
        let face = &solid.faces[triangle.face as usize];
        if face.curve.is_none() && face.normal.z.abs() < WALL_SINE {
            found[triangle.face as usize].push(solid.corners(triangle));
        }
    }
    let of = |(face, triangles): (&Face, Vec<[WorldPoint; 3]>)| {
        let corner = triangles.first()?[0];
        let corners = triangles.iter().flatten();
        let (low, high) = corners.fold((corner, corner), |(low, high), point| (low.inf(point), high.sup(point)));
        let middle = nalgebra::center(&low, &high);
        let base_m = low.z.max(model.site.terrain.height_m((middle.x, middle.y)));
        let area_m2 = triangles.iter().map(|[a, b, c]| 0.5 * (b - a).cross(&(c - a)).norm()).sum();
        Some(Wall { block, normal: face.normal, area_m2, heights_m: (base_m, high.z), middle, corner })
    };
    solid.faces.iter().zip(found).filter_map(of).collect()
}

/// The convex hull of plan points, anticlockwise (A. M. Andrew's monotone chain, 1979, from memory).
pub(crate) fn hull(mut points: Vec<PlanPoint>) -> Vec<PlanPoint> {
    points.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    points.dedup();
    if points.len() < 3 {
        return points;
    }
    let turn = |a: PlanPoint, b: PlanPoint, c: PlanPoint| (b.0 - a.0) * (c.1 - a.1) - (b.1 - a.1) * (c.0 - a.0);
    let half = |points: &mut dyn Iterator<Item = PlanPoint>| {
        let mut chain: Vec<PlanPoint> = Vec::new();
        for point in points {
            while let [.., a, b] = chain[..] {
                if turn(a, b, point) > 0.0 {
                    break;
                }
                chain.pop();
            }
            chain.push(point);
        }
        chain.pop();
        chain
    };
    let mut around = half(&mut points.iter().copied());
    around.extend(half(&mut points.iter().rev().copied()));
    around
}

/// Where a ray first meets some triangles of one solid's skin from outside, and the outward normal there.
fn first_on_solid(
    solid: &Solid,
    triangles: impl Iterator<Item = usize>,
    from: &WorldPoint,
    direction: &WorldVector,
) -> Option<(WorldPoint, WorldVector)> {
    let mut nearest: Option<(f64, usize)> = None;
    for index in triangles {
        let [a, b, c] = solid.corners(&solid.triangles[index]);
        let (u, v) = (b - a, c - a);
        let p = direction.cross(&v);
        let determinant = u.dot(&p);
        // A skin seen from outside turns a positive determinant to the ray.
        if determinant <= 1e-15 {
            continue;
        }
        let offset = from - a;
        let q = offset.cross(&u);
        let (across, along) = (offset.dot(&p) / determinant, direction.dot(&q) / determinant);
        let distance_m = v.dot(&q) / determinant;
        // A little beyond the sides, so that no ray slips through a joint.
        let inside = across >= -1e-9 && along >= -1e-9 && across + along <= 1.0 + 1e-9;
        if inside && distance_m > 0.0 && nearest.is_none_or(|(known, _)| distance_m < known) {
            nearest = Some((distance_m, index));
        }
    }
    let (distance_m, index) = nearest?;
    let point = from + direction * distance_m;
    Some((point, solid.normal_at(&solid.triangles[index], &point)))
}

/// Points spread over the blocks' surface, each standing for an equal share of its area.
///
/// Many are laid by area, inside their triangles by the R2 sequence (M. Roberts, *The unreasonable effectiveness of
/// quasirandom sequences*, from memory), and put in order by the way they face and then by place, along a curve that fills
/// space (G. M. Morton, 1966, from memory); every [`POOL`]th is taken. So each side of the surface, and each part of a
/// side, has its share of them, however it is cut into triangles. Where some lie buried, more are laid, so that about
/// `count` are open.
fn surface_samples(model: &Model, blocks: &[usize], count: usize) -> Vec<Sample> {
    let mut parts = Vec::new();
    let mut total_m2 = 0.0;
    for &block in blocks {
        let solid = &model.solids[block];
        for triangle in &solid.triangles {
            let [a, b, c] = solid.corners(triangle);
            // What looks straight down lies on the ground or hangs over heads: no picture is taken of it.
            if solid.faces[triangle.face as usize].normal.z < -0.99 {
                continue;
            }
            total_m2 += 0.5 * (b - a).cross(&(c - a)).norm();
            parts.push((total_m2, block, triangle));
        }
    }
    // Only what reaches into the box about the subject can bury any of it.
    let reach = WorldVector::repeat(COVERED_M);
    let bounds = blocks.iter().map(|&block| model.solids[block].bounds());
    let around = bounds.reduce(|a, b| (a.0.inf(&b.0), a.1.sup(&b.1))).map(|(low, high)| (low - reach, high + reach));
    let near: Vec<&Solid> = (model.solids.iter().map(|solid| &**solid))
        .filter(|solid| {
            let (low, high) = solid.bounds();
            around.is_some_and(|around| (0..3).all(|axis| low[axis] <= around.1[axis] && around.0[axis] <= high[axis]))
        })
        .collect();
    let open = |sample: &&Sample| {
        let beside = sample.point + sample.normal * COVERED_M;
        beside.z >= model.site.terrain.height_m((beside.x, beside.y)) && !near.iter().any(|solid| solid.holds(&beside))
    };
    let laid = |count: usize| -> Vec<Sample> {
        points_by_area(model, &parts, total_m2, count).iter().filter(open).copied().collect()
    };
    let samples = laid(count);
    match samples.len() {
        0 => samples,
        found if found >= count => samples,
        found => laid((count * count / found).min(MOST_LAID * count)),
    }
}

/// Every [`POOL`]th of many points laid by area on triangles, which come with the area up to and with each of them and
/// with their blocks.
fn points_by_area(model: &Model, parts: &[(f64, usize, &Triangle)], total_m2: f64, count: usize) -> Vec<Sample> {
    let mut pool = Vec::with_capacity(count * POOL);
    for index in 0..count * POOL {
        let wanted_m2 = total_m2 * (index as f64 + 0.5) / (count * POOL) as f64;
        let part = parts.partition_point(|&(up_to_m2, ..)| up_to_m2 < wanted_m2);
        let Some(&(_, block, triangle)) = parts.get(part) else { continue };
        let solid = &model.solids[block];
        let [a, b, c] = solid.corners(triangle);
        let (mut s, mut t) =
            ((0.754_877_666_246_69 * index as f64).fract(), (0.569_840_290_998_05 * index as f64).fract());
        if s + t > 1.0 {
            (s, t) = (1.0 - s, 1.0 - t);
        }
        let point = a + (b - a) * s + (c - a) * t;
        // The flat piece's own normal: a sample faces the eye exactly where a ray can reach it.
        let face = &solid.faces[triangle.face as usize];
        pool.push(Sample { point, normal: face.normal, curved: face.curve.is_some() });
    }
    let Some(first) = pool.first().map(|sample| sample.point) else { return Vec::new() };
    let (low, high) = pool.iter().fold((first, first), |(low, high), s| (low.inf(&s.point), high.sup(&s.point)));
    pool.sort_by_cached_key(|sample| (side_of(&sample.normal), place_along_curve(&sample.point, &low, &high)));
    pool.into_iter().skip(POOL / 2).step_by(POOL).collect()
}

/// Which of nine ways a surface faces: up, or one of eight about.
fn side_of(normal: &WorldVector) -> u8 {
    if normal.z > std::f64::consts::FRAC_1_SQRT_2 {
        return 8;
    }
    (Angle::bearing_of(normal.x, normal.y).compass_degrees() / 45.0) as u8
}

/// How far along Morton's curve a point of a box lies: the bits of its three coordinates by turns.
fn place_along_curve(point: &WorldPoint, low: &WorldPoint, high: &WorldPoint) -> u64 {
    const BITS: u32 = 16;
    let cells = (0..3).map(|axis| {
        let share = (point[axis] - low[axis]) / (high[axis] - low[axis]).max(1e-9);
        (share * f64::from((1_u32 << BITS) - 1)) as u64
    });
    let cells: Vec<u64> = cells.collect();
    (0..BITS).rev().fold(0, |place, bit| cells.iter().fold(place, |place, cell| place << 1 | (cell >> bit & 1)))
}

/// The two plan points at which plumb lines touch a circle as seen from an eye: left, then right; `None` from inside it.
pub(crate) fn tangent_points(axis: PlanPoint, radius_m: f64, eye: &WorldPoint) -> Option<[PlanPoint; 2]> {
    touching_points(axis, radius_m, eye, radius_m)
}

/// The plan points on a circle of `radius_m` at which the outline of a cone stands whose radius at the eye's own height
/// would be `level_radius_m`: at ± acos(level radius / ρ) about the bearing from the axis to the eye; left, then right.
///
/// # Source
/// DESIGN: φ = φc ± acos((r0 + k(z0 − zc))/ρc).
pub(crate) fn touching_points(
    axis: PlanPoint,
    radius_m: f64,
    eye: &WorldPoint,
    level_radius_m: f64,
) -> Option<[PlanPoint; 2]> {
    let (x, y) = (eye.x - axis.0, eye.y - axis.1);
    let distance_m = x.hypot(y);
    let share = level_radius_m / distance_m;
    if share.is_nan() || share.abs() >= 1.0 {
        return None;
    }
    let (towards, aside) = (y.atan2(x), share.acos());
    // Seen from the eye, the point turned clockwise about the axis lies to the left.
    Some(
        [towards - aside, towards + aside].map(|turn| (axis.0 + radius_m * turn.cos(), axis.1 + radius_m * turn.sin())),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn subject(shape: &str) -> (Model, Subject) {
        let text =
            format!("(format: 1, name: \"t\", blocks: [(name: \"s\", subject: true, at: (0, 0), shape: {shape})])");
        let model = Model::build(crate::files::ron_options().from_str(&text).expect("a site"));
        let subject = Subject::of(&model).expect("a subject");
        (model, subject)
    }

    #[test]
    fn a_boxs_outline_runs_through_its_corners() {
        let (_, subject) = subject("Box(width_m: 10, depth_m: 4, height_m: 20)");
        let outline = subject.outline(&WorldPoint::new(0.0, -22.0, 1.6)).expect("in front");
        // The near corners stand 5 m aside at 20 m.
        assert!((outline.right.radians() - (5.0_f64 / 20.0).atan()).abs() < 1e-12);
        assert!((outline.left.radians() + (5.0_f64 / 20.0).atan()).abs() < 1e-12);
        assert_eq!(subject.outline(&WorldPoint::new(1.0, 1.0, 25.0)), Err(OutlineError::Surrounds));
    }

    #[test]
    fn a_round_bodys_outline_is_its_tangents() {
        let (_, subject) = subject("RoundTaper(foot_radius_m: 3, head_radius_m: 1, height_m: 30)");
        let outline = subject.outline(&WorldPoint::new(-50.0, 0.0, 1.6)).expect("in front");
        assert!((outline.right.degrees() - 90.0 - (3.0_f64 / 50.0).asin().to_degrees()).abs() < 1e-9);
        let (left, right) = outline.right_of(Angle::from_degrees(90.0));
        assert!((left + right).radians().abs() < 1e-12);
    }

    #[test]
    fn a_hull_has_only_its_corners() {
        let square = vec![(0.0, 0.0), (1.0, 0.0), (0.5, 0.5), (1.0, 1.0), (0.0, 1.0), (0.5, 0.0), (0.2, 0.9)];
        assert_eq!(hull(square).len(), 4);
    }

    #[test]
    fn the_outermost_corners_bound_all_of_them_from_everywhere() {
        let (_, subject) = subject("Facade(width_m: 12, depth_m: 8, height_m: 16, bays: 4, storeys: 4)");
        assert!(subject.outermost.len() < subject.corners.len() / 4, "{}", subject.outermost.len());
        // A corner that is farthest in some direction is kept: by brute force over directions all around.
        for step in 0..500 {
            let (turn, up) = (2.4 * f64::from(step), f64::from(step) / 250.0 - 1.0);
            let direction = WorldVector::new(turn.cos(), turn.sin(), up);
            let reach = |corners: &[WorldPoint]| {
                corners.iter().map(|corner| direction.dot(&corner.coords)).fold(f64::NEG_INFINITY, f64::max)
            };
            assert_eq!(reach(&subject.outermost), reach(&subject.corners));
        }
    }

    #[test]
    fn the_distance_is_that_of_the_nearest_wall_not_of_the_nearest_corner() {
        let (_, house) = subject("Box(width_m: 20, depth_m: 4, height_m: 10)");
        assert!((house.distance_m(&WorldPoint::new(1.0, -12.0, 1.6)) - 10.0).abs() < 1e-12);
        assert!((house.distance_m(&WorldPoint::new(13.0, -6.0, 1.6)) - 5.0).abs() < 1e-12);
        let (_, stack) = subject("RoundTaper(foot_radius_m: 3, head_radius_m: 1, height_m: 20)");
        assert!((stack.distance_m(&WorldPoint::new(6.0, 8.0, 1.6)) - 7.0).abs() < 1e-12);
    }

    #[test]
    fn samples_are_spread_by_area_and_never_buried() {
        let (_, subject) = subject("Box(width_m: 10, depth_m: 10, height_m: 30)");
        // Four walls of 300 m² and a top of 100 m²: a thirteenth of the samples lie on top.
        let on_top = subject.samples.iter().filter(|sample| sample.normal.z > 0.9).count();
        assert!((on_top as f64 - SIGHT_SAMPLES as f64 / 13.0).abs() < 2.0, "{on_top}");
        assert!(subject.samples.iter().all(|sample| sample.point.z >= 0.0));
    }

    #[test]
    fn a_round_towers_samples_stand_evenly_at_every_height_on_every_side() {
        let (_, subject) = subject("RoundTaper(foot_radius_m: 2, head_radius_m: 2, height_m: 40)");
        let sides = subject.samples.iter().filter(|sample| sample.normal.z < 0.9);
        for bearing_deg in [10.0, 100.0, 222.0, 300.0_f64] {
            let towards = WorldVector::new(bearing_deg.to_radians().sin(), bearing_deg.to_radians().cos(), 0.0);
            let facing: Vec<f64> = sides.clone().filter(|s| s.normal.dot(&towards) > 0.0).map(|s| s.point.z).collect();
            for below_m in [10.0, 20.0, 30.0] {
                let share = facing.iter().filter(|&&z| z < below_m).count() as f64 / facing.len() as f64;
                assert!((share - below_m / 40.0).abs() < 0.05, "{share} of {} below {below_m} m", facing.len());
            }
        }
    }

    #[test]
    fn the_facing_point_lies_on_the_near_surface() {
        let (model, subject) = subject("RoundTaper(foot_radius_m: 3, head_radius_m: 1, height_m: 20)");
        let (point, normal) =
            subject.facing_point(&model, &WorldPoint::new(0.0, -40.0, 1.6), 10.0).expect("the near side");
        assert!((point.y + 2.0).abs() < 3e-3, "{point}");
        // The side leans in by 0.1 m a metre.
        assert!((normal.z - 0.1 / 1.01_f64.sqrt()).abs() < 1e-6);
    }
}
