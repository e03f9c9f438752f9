//! What do whole squares of places see at once?
//!
//! From each of the subject's points the site's bodies throw shadows, see [`super::occluders`]. A box of eyes lies outside a
//! shadow, within it, or across some of its bounds; only those bounds matter inside the box. So a view over a wide box is
//! narrowed to the boxes it consists of, and to their parts, down to a square of places; there the few bounds that are left
//! are asked of each eye, all heights above a place at once. Level ground hides nothing between two points above it; what
//! ground with relief hides is answered by [`super::terrain_sight`]. Whatever comes too near to a bound to be sure is decided by the
//! very ray that a brute force would trace, so the answer is the brute force's.

use crate::outline::{Subject, hull};
use crate::pose::WorldPoint;
use crate::sight::Sight;
use crate::site::{Model, PlanPoint, Terrain};

use super::eye_box::EyeBox;
use super::occluders::{BoxSide, Occluder, ShadowBound, ShadowReach, occluders};
use super::terrain_sight::{Strip, TerrainAhead, TerrainSight};
use super::visibility::{PointSet, VisibilityTest, VisiblePoints, beside, faces};

/// What stands so far above level ground or water is surely above it.
const ABOVE_M: f64 = 1e-3;
/// A point faces a box of eyes, or not, if its plane passes the box by this much.
const HAIR_M: f64 = 1e-6;

/// Everything that can hide the subject on a site.
#[derive(Debug)]
pub(super) struct Sweep<'a> {
    subject: &'a Subject,
    sight: &'a Sight,
    occluders: Vec<Occluder>,
    /// The subject's points, a hair off its surface, and the box around them.
    lights: Vec<WorldPoint>,
    around: (WorldPoint, WorldPoint),
    /// Level ground and water.
    level_m: f64,
    relief: Option<TerrainSight<'a>>,
}

/// What there is without a shadow.
#[derive(Clone, Copy, Debug, PartialEq)]
enum PointState {
    Free,
    Hidden,
    Doubtful,
    /// The ground may rise into the lines of sight, most at this share of the way from the point.
    Ground(f64),
}

/// One of the subject's points that a box of eyes does not all see, or all not.
#[derive(Clone, Copy, Debug)]
struct MixedPoint {
    sample: usize,
    /// Whether it faces all of them, or some.
    faces_all: bool,
    given: PointState,
    /// The shadows that matter.
    casts: (u32, u32),
}

/// A shadow that reaches a box of eyes.
#[derive(Clone, Copy, Debug)]
struct ShadowRef {
    sure: bool,
    /// The bounds that cross the box.
    bounds: (u32, u32),
}

/// What matters to a box of eyes.
#[derive(Debug)]
pub(super) struct BoxView<'a> {
    sweep: &'a Sweep<'a>,
    points: Vec<MixedPoint>,
    casts: Vec<ShadowRef>,
    bounds: Vec<ShadowBound>,
    /// What all of them see alike, but for `points`.
    alike: VisiblePoints,
}

/// A point that only a ray can tell of from one of the eyes.
#[derive(Clone, Copy, Debug)]
struct Doubt {
    eye: usize,
    sample: usize,
    /// Where the ground may hide it, as a share of the way from the point.
    crest: Option<f64>,
}

impl<'a> Sweep<'a> {
    pub(super) fn over(model: &'a Model, subject: &'a Subject, sight: &'a Sight) -> Self {
        let water_m = model.site.water_level_m.unwrap_or(f64::NEG_INFINITY);
        let lights: Vec<WorldPoint> = (0..subject.samples.len()).map(|point| beside(subject, point)).collect();
        let (level_m, relief) = match &model.site.terrain {
            Terrain::Plane { height_m } => (height_m.max(water_m), None),
            Terrain::Grid(grid) => (water_m, Some(TerrainSight::of(grid, &lights))),
        };
        let first = lights.first().copied().unwrap_or(subject.middle);
        let around = lights.iter().fold((first, first), |(low, high), light| (low.inf(light), high.sup(light)));
        Self { subject, sight, occluders: occluders(model), lights, around, level_m, relief }
    }

    /// The lowest and highest ground within a rectangle.
    pub(super) fn ground_m(&self, low: PlanPoint, high: PlanPoint) -> (f64, f64) {
        self.relief.as_ref().map_or((self.level_m, self.level_m), |relief| relief.range_m(low, high))
    }

    fn strip(&self, eyes: &EyeBox) -> Option<Strip> {
        self.relief.as_ref().map(|relief| relief.strip(self.around, eyes))
    }

    /// What matters to a box of eyes.
    pub(super) fn view(&'a self, eyes: &EyeBox) -> BoxView<'a> {
        let corridor = Corridor::between(&self.lights, eyes);
        let near: Vec<&Occluder> = self.occluders.iter().filter(|occluder| corridor.holds(occluder.around())).collect();
        let strip = self.strip(eyes);
        let mut view = BoxView::of(self);
        for sample in 0..self.lights.len() {
            let Some(faces_all) = self.facing(sample, eyes) else { continue };
            let light = &self.lights[sample];
            let given =
                if light.z <= self.level_m + ABOVE_M { PointState::Doubtful } else { over(strip.as_ref(), light) };
            view.add(sample, faces_all, given, |view| {
                for occluder in &near {
                    let start = view.bounds.len();
                    let shade = occluder.shadow(light, eyes, &mut view.bounds);
                    if shade != ShadowReach::Apart && view.cast(shade == ShadowReach::Sure, start) {
                        return true;
                    }
                }
                false
            });
        }
        view
    }

    /// Whether a point faces all of the eyes, or some; `None` where it faces none.
    fn facing(&self, sample: usize, eyes: &EyeBox) -> Option<bool> {
        let sample = &self.subject.samples[sample];
        let height_m = sample.normal.dot(&(eyes.middle - sample.point));
        let reach_m = sample.normal.abs().dot(&eyes.half) + HAIR_M;
        (height_m + reach_m > 0.0).then_some(height_m - reach_m > 0.0)
    }
}

/// What the ground between a point and a box of eyes leaves.
fn over(strip: Option<&Strip>, light: &WorldPoint) -> PointState {
    strip.map_or(Ok(()), |strip| strip.clears(light)).map_or_else(PointState::Ground, |()| PointState::Free)
}

impl<'a> BoxView<'a> {
    fn of(sweep: &'a Sweep<'a>) -> Self {
        let none = PointSet::none_of(sweep.lights.len());
        let alike = VisiblePoints { facing: none.clone(), free: none };
        Self { sweep, points: Vec::new(), casts: Vec::new(), bounds: Vec::new(), alike }
    }

    /// The same for a box within.
    pub(super) fn narrowed(&self, eyes: &EyeBox) -> Self {
        let strip = self.sweep.strip(eyes);
        let mut view = BoxView::of(self.sweep);
        view.alike.clone_from(&self.alike);
        for point in &self.points {
            let faces_all = point.faces_all
                || match self.sweep.facing(point.sample, eyes) {
                    Some(faces_all) => faces_all,
                    None => continue,
                };
            let given = match point.given {
                PointState::Ground(_) => over(strip.as_ref(), &self.sweep.lights[point.sample]),
                given => given,
            };
            view.add(point.sample, faces_all, given, |view| {
                self.casts_of(point).iter().any(|cast| {
                    let start = view.bounds.len();
                    for bound in self.bounds_of(cast) {
                        match bound.side_of(eyes) {
                            BoxSide::Outside => {
                                view.bounds.truncate(start);
                                return false;
                            }
                            BoxSide::Across => view.bounds.push(*bound),
                            BoxSide::Inside => {}
                        }
                    }
                    view.cast(cast.sure, start)
                })
            });
        }
        view
    }

    /// Notes a shadow whose bounds were added from `start` on; tells whether it hides all of the box.
    fn cast(&mut self, sure: bool, start: usize) -> bool {
        let bounds = (start as u32, self.bounds.len() as u32);
        self.casts.push(ShadowRef { sure, bounds });
        sure && bounds.0 == bounds.1
    }

    /// Notes a point; `cast` adds its shadows, and tells whether one of them hides all of the box.
    fn add(&mut self, sample: usize, faces_all: bool, given: PointState, cast: impl FnOnce(&mut Self) -> bool) {
        let (casts, bounds) = (self.casts.len(), self.bounds.len());
        let mut given = given;
        if given != PointState::Hidden && cast(self) {
            given = PointState::Hidden;
            self.casts.truncate(casts);
            self.bounds.truncate(bounds);
        }
        let settled = self.casts.len() == casts && matches!(given, PointState::Free | PointState::Hidden);
        if settled && faces_all {
            self.alike.facing.insert(sample);
            if given == PointState::Free {
                self.alike.free.insert(sample);
            }
        } else {
            self.points.push(MixedPoint { sample, faces_all, given, casts: (casts as u32, self.casts.len() as u32) });
        }
    }

    fn casts_of(&self, point: &MixedPoint) -> &[ShadowRef] {
        &self.casts[point.casts.0 as usize..point.casts.1 as usize]
    }

    fn bounds_of(&self, cast: &ShadowRef) -> &[ShadowBound] {
        &self.bounds[cast.bounds.0 as usize..cast.bounds.1 as usize]
    }

    /// From which of some eyes above a place, a bit for each, a point is surely hidden, and from which it may be.
    fn hides(&self, point: &MixedPoint, at: PlanPoint, heights_m: &[f64], facing: u32) -> (u32, u32) {
        let (mut hidden, mut doubtful) = match point.given {
            PointState::Free => (0, 0),
            PointState::Hidden => return (facing, 0),
            PointState::Doubtful | PointState::Ground(_) => (0, facing),
        };
        for cast in self.casts_of(point) {
            let (mut reached, mut deep) = (facing, if cast.sure { facing } else { 0 });
            for bound in self.bounds_of(cast) {
                let level = bound.normal.x * at.0 + bound.normal.y * at.1 - bound.offset;
                for (bit, height_m) in heights_m.iter().enumerate() {
                    let outside_m = level + bound.normal.z * height_m;
                    reached &= !(u32::from(outside_m > bound.clear_m) << bit);
                    deep &= !(u32::from(outside_m >= -bound.deep_m) << bit);
                }
                if reached == 0 {
                    break;
                }
            }
            hidden |= deep & reached;
            doubtful |= reached;
            if hidden == facing {
                break;
            }
        }
        (hidden, doubtful & !hidden)
    }
}

impl VisibilityTest for BoxView<'_> {
    fn find(&self, at: PlanPoint, heights_m: &[f64], seen: &mut [VisiblePoints]) {
        let sweep = self.sweep;
        for seen in seen.iter_mut() {
            seen.facing.become_those(&self.alike.facing);
            seen.free.become_those(&self.alike.free);
        }
        let eye = |height_m: f64| WorldPoint::new(at.0, at.1, height_m);
        let all = bits(heights_m, |_| true);
        let mut doubts: Vec<Doubt> = Vec::new();
        for point in &self.points {
            let facing = if point.faces_all {
                all
            } else {
                bits(heights_m, |height_m| faces(sweep.subject, point.sample, &eye(height_m)))
            };
            if facing == 0 {
                continue;
            }
            let (hidden, doubtful) = self.hides(point, at, heights_m, facing);
            let crest = if let PointState::Ground(share) = point.given { Some(share) } else { None };
            for (bit, seen) in seen.iter_mut().enumerate().filter(|(bit, _)| facing >> bit & 1 == 1) {
                seen.facing.insert(point.sample);
                if doubtful >> bit & 1 == 1 {
                    doubts.push(Doubt { eye: bit, sample: point.sample, crest });
                } else if hidden >> bit & 1 == 0 {
                    seen.free.insert(point.sample);
                }
            }
        }
        if let Some(relief) = &sweep.relief {
            sweep.ask_ground(relief, at, heights_m, seen, &mut doubts);
        }
        // An eye in a hollow below the water, say: nothing is sure from there.
        let sunken = bits(heights_m, |height_m| height_m <= sweep.level_m + ABOVE_M);
        if sunken != 0 {
            doubts.retain(|doubt| sunken >> doubt.eye & 1 == 0);
            for (bit, seen) in seen.iter_mut().enumerate().filter(|(bit, _)| sunken >> bit & 1 == 1) {
                seen.free = PointSet::none_of(sweep.lights.len());
                doubts.extend(seen.facing.iter().map(|sample| Doubt { eye: bit, sample, crest: None }));
            }
        }
        doubts.sort_unstable_by_key(|doubt| (doubt.eye, doubt.sample));
        for doubts in doubts.chunk_by(|a, b| a.eye == b.eye) {
            let bit = doubts[0].eye;
            let targets: Vec<WorldPoint> = doubts.iter().map(|doubt| sweep.lights[doubt.sample]).collect();
            let free = sweep.sight.free_many(&eye(heights_m[bit]), &targets);
            for (doubt, _) in doubts.iter().zip(free).filter(|(_, is_free)| *is_free) {
                seen[bit].free.insert(doubt.sample);
            }
        }
    }
}

impl Sweep<'_> {
    /// Leaves free what the ground before a place surely leaves free, and makes a doubt of the rest; drops those doubts of
    /// which the ground surely hides the point.
    fn ask_ground(
        &self,
        relief: &TerrainSight<'_>,
        at: PlanPoint,
        heights_m: &[f64],
        seen: &mut [VisiblePoints],
        doubts: &mut Vec<Doubt>,
    ) {
        let mut before = TerrainAhead::default();
        relief.before(at, &mut before);
        let plan_m = |light: &WorldPoint| (light.x - at.0).hypot(light.y - at.1);
        for (bit, (&height_m, seen)) in heights_m.iter().zip(seen).enumerate() {
            let (slope, crest_m) = if before.known { before.slope(height_m) } else { (f64::INFINITY, 0.0) };
            if before.flattest(self.around.0.z - height_m) <= slope {
                seen.free.retain(|sample| {
                    let light = &self.lights[sample];
                    let clear = before.known && light.z - height_m > slope * plan_m(light);
                    if !clear {
                        doubts.push(Doubt { eye: bit, sample, crest: None });
                    }
                    clear
                });
            }
            let eye = WorldPoint::new(at.0, at.1, height_m);
            if doubts.iter().any(|doubt| doubt.eye == bit) && relief.stands_clear(&eye) {
                doubts.retain(|doubt| {
                    let light = &self.lights[doubt.sample];
                    let near = crest_m / plan_m(light);
                    let hides = |share: f64| share > 0.0 && share < 1.0 && relief.hides(&eye, light, share);
                    doubt.eye != bit || !(hides(near) || doubt.crest.is_some_and(|share| hides(1.0 - share)))
                });
            }
        }
    }
}

/// A bit for each height at which something holds.
fn bits(heights_m: &[f64], holds: impl Fn(f64) -> bool) -> u32 {
    heights_m.iter().enumerate().fold(0, |bits, (bit, &height_m)| bits | u32::from(holds(height_m)) << bit)
}

/// The plan between the subject's points and a box of eyes: what lies outside hides nothing.
struct Corridor {
    /// Outward normals of its sides, and their offsets.
    sides: Vec<(PlanPoint, f64)>,
    low: WorldPoint,
    high: WorldPoint,
}

impl Corridor {
    fn between(lights: &[WorldPoint], eyes: &EyeBox) -> Self {
        let (low, high) = lights.iter().fold((eyes.low, eyes.high), |(low, high), l| (low.inf(l), high.sup(l)));
        let mut corners = vec![
            (eyes.low.x, eyes.low.y),
            (eyes.high.x, eyes.low.y),
            (eyes.high.x, eyes.high.y),
            (eyes.low.x, eyes.high.y),
        ];
        corners.extend(lights.iter().map(|light| (light.x, light.y)));
        let outline = hull(corners);
        let side = |(index, &from): (usize, &PlanPoint)| {
            let to = outline[(index + 1) % outline.len()];
            let (normal, length) = ((to.1 - from.1, from.0 - to.0), (to.0 - from.0).hypot(to.1 - from.1));
            let normal = (normal.0 / length, normal.1 / length);
            (normal, normal.0 * from.0 + normal.1 * from.1)
        };
        // One eye over one point bounds nothing by its sides.
        let sides = if outline.len() > 2 { outline.iter().enumerate().map(side).collect() } else { Vec::new() };
        Self { sides, low, high }
    }

    /// Whether anything of a box may lie in it.
    fn holds(&self, (low, high): (WorldPoint, WorldPoint)) -> bool {
        // Rays are off by far less.
        let tolerance_m = 0.1;
        let apart =
            (0..3).any(|axis| low[axis] > self.high[axis] + tolerance_m || high[axis] < self.low[axis] - tolerance_m);
        let beyond = |&((x, y), offset): &(PlanPoint, f64)| {
            let inmost = |n: f64, low: f64, high: f64| if n > 0.0 { n * low } else { n * high };
            inmost(x, low.x, high.x) + inmost(y, low.y, high.y) > offset + tolerance_m
        };
        !apart && !self.sides.iter().any(beyond)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::search::visibility::ByRays;

    /// One of every shape, and the ways in which blocks are held.
    const SHAPES: [&str; 17] = [
        "shape: Box(width_m: 6, depth_m: 4, height_m: 5)",
        "shape: Box(width_m: 3, depth_m: 3, height_m: 14)",
        "shape: Box(width_m: 7, depth_m: 0.4, height_m: 1.5), lift_m: 2.5",
        "shape: Box(width_m: 3, depth_m: 4, height_m: 9), leans: (by_deg: 7, toward_deg: 60)",
        "shape: Prism(outline: [(0, 0), (9, 0), (9, 9), (4, 7), (0, 9)], holes: [[(2, 2), (4, 2), (4, 4), (3, 3), (2, 4)]], height_m: 5)",
        "shape: RoundTaper(foot_radius_m: 2.5, head_radius_m: 1.2, height_m: 16)",
        "shape: RoundTaper(foot_radius_m: 2, head_radius_m: 0, height_m: 4)",
        "shape: PolygonTaper(sides: 5, foot_across_m: 6, head_across_m: 3, height_m: 11)",
        "shape: Dome(radius_m: 4, height_m: 3)",
        "shape: Gable(width_m: 10, depth_m: 6, eaves_m: 3, ridge_m: 6)",
        "shape: Hip(width_m: 10, depth_m: 6, eaves_m: 3, ridge_m: 5, ridge_length_m: 4)",
        "shape: Steps(width_m: 4, going_m: 0.4, rise_m: 0.2, count: 8)",
        "shape: Wall(path: [(-9, 0), (2, 1), (5, 6)], thickness_m: 0.3, height_m: 2.4)",
        "shape: Stage(width_m: 6, depth_m: 4, floor_m: 2.4, rail_m: 1.0)",
        "shape: Mast(foot_radius_m: 0.4, head_radius_m: 0.2, height_m: 18, stays: 3, stay_heights_m: [10, 16], stay_radius_m: 8)",
        "shape: Tree(height_m: 9, crown_radius_m: 3, crown_base_m: 2, trunk_radius_m: 0.25)",
        "shape: Facade(width_m: 12, depth_m: 6, height_m: 9, bays: 3, storeys: 2)",
    ];

    #[derive(Clone, Debug)]
    struct Case {
        blocks: Vec<(usize, f64, f64, f64)>,
        subjects: usize,
        /// The grid's compass direction, if the ground has relief.
        relief: Option<f64>,
        water: bool,
        away: (f64, f64),
        wide_m: f64,
        lowest_m: f64,
    }

    /// Round numbers put edges, faces and eyes in line.
    fn case() -> impl Strategy<Value = Case> {
        let rounded = |range: std::ops::Range<f64>, step: f64| {
            (range, any::<bool>())
                .prop_map(move |(value, round)| if round { (value / step).round() * step } else { value })
        };
        let block = (0..SHAPES.len(), rounded(-18.0..18.0, 1.0), rounded(-18.0..18.0, 1.0), rounded(0.0..360.0, 90.0));
        let relief = prop_oneof![Just(None), Just(Some(0.0)), Just(Some(25.0))];
        let site = (prop::collection::vec(block, 2..7), 1_usize..3, relief, any::<bool>());
        let away = (
            rounded(-1.0..1.0, 0.25),
            rounded(-1.0..1.0, 0.25),
            prop_oneof![Just(25.0), Just(60.0), Just(700.0), Just(4000.0)],
        );
        let eyes = (0.5_f64..12.0, rounded(0.2..9.0, 0.5));
        (site, away, eyes).prop_map(|((blocks, subjects, relief, water), (x, y, far_m), (wide_m, lowest_m))| Case {
            blocks,
            subjects,
            relief,
            water,
            away: (x * far_m, y * far_m),
            wide_m,
            lowest_m,
        })
    }

    fn model(case: &Case) -> Model {
        let block = |(index, &(shape, x, y, heading_deg)): (usize, &(usize, f64, f64, f64))| {
            let (shape, subject) = (SHAPES[shape], index < case.subjects);
            format!("(name: \"{index}\", subject: {subject}, at: ({x}, {y}), heading_deg: {heading_deg}, {shape})")
        };
        let blocks: Vec<String> = case.blocks.iter().enumerate().map(block).collect();
        let terrain = case.relief.map_or_else(
            || "Plane(height_m: 0)".to_owned(),
            |turned_deg| {
                let rows = "[[0, 3, 1, 0, 0], [0, 1, 0, 2, 0], [1, 0, 0, 0, 1], [0, 4, 0, 1, 0], [0, 0, 2, 0, 0]]";
                format!("Grid((south_west: (-40, -40), spacing_m: (20, 17), turned_deg: {turned_deg}, rows: {rows}))")
            },
        );
        let water = if case.water { "water_level_m: 0.25," } else { "" };
        let text = format!("(format: 1, name: \"t\", terrain: {terrain}, {water} blocks: [{}])", blocks.join(", "));
        Model::build(crate::files::ron_options().from_str(&text).expect("a site"))
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(250))]

        #[test]
        fn what_is_swept_is_what_rays_see(case in case()) {
            let model = model(&case);
            let Ok(subject) = Subject::with_samples(&model, 48) else { return Ok(()) };
            let sight = Sight::over(&model);
            let sweep = Sweep::over(&model, &subject, &sight);
            let rays = ByRays { subject: &subject, sight: &sight };
            let boxed = |half_m: f64| {
                let low = WorldPoint::new(case.away.0 - half_m, case.away.1 - half_m, 0.2);
                let high = WorldPoint::new(case.away.0 + half_m, case.away.1 + half_m, 15.0);
                EyeBox::between(low, high)
            };
            let view = sweep.view(&boxed(2.0 * case.wide_m)).narrowed(&boxed(1.3 * case.wide_m)).narrowed(&boxed(case.wide_m));
            let heights_m: Vec<f64> = (0..6).map(|rung| case.lowest_m + f64::from(rung)).collect();
            let mut swept = vec![VisiblePoints::default(); heights_m.len()];
            let mut traced = swept.clone();
            for step in 0..25 {
                let along = |index: i32| case.wide_m * (f64::from(index) / 2.0 - 1.0);
                let at = (case.away.0 + along(step % 5), case.away.1 + along(step / 5));
                view.find(at, &heights_m, &mut swept);
                rays.find(at, &heights_m, &mut traced);
                for ((swept, traced), height_m) in swept.iter().zip(&traced).zip(&heights_m) {
                    prop_assert_eq!(swept, traced, "from {:?} at {} m", at, height_m);
                }
            }
        }
    }

    #[test]
    fn few_lines_of_sight_are_left_to_rays() {
        let case = Case {
            blocks: (0..SHAPES.len())
                .map(|shape| (shape, 9.0 * (shape % 5) as f64, 8.0 * (shape / 5) as f64, 20.0))
                .collect(),
            subjects: 1,
            relief: None,
            water: false,
            away: (0.0, 0.0),
            wide_m: 4.0,
            lowest_m: 1.6,
        };
        let model = model(&case);
        let subject = Subject::with_samples(&model, 64).expect("a subject");
        let sight = Sight::over(&model);
        let sweep = Sweep::over(&model, &subject, &sight);
        let (mut asked, mut doubtful) = (0, 0);
        for square in 0..400_i32 {
            let (x, y) = (f64::from(square % 20) * 8.0 - 60.0, f64::from(square / 20) * 8.0 - 60.0);
            let eyes = EyeBox::between(WorldPoint::new(x, y, 1.6), WorldPoint::new(x + 8.0, y + 8.0, 3.0));
            let view = sweep.view(&eyes);
            for place in 0..16_i32 {
                let at = (x + 0.3 + f64::from(place % 4) * 2.0, y + 0.7 + f64::from(place / 4) * 2.0);
                for point in &view.points {
                    doubtful += view.hides(point, at, &[1.6, 3.0], 3).1.count_ones();
                }
                asked += 2 * sweep.lights.len() as u32;
            }
        }
        assert!(doubtful * 33 < asked, "{doubtful} of {asked}");
    }
}
