//! What does walking give: straight back, or to the best place for each lens?

use std::cell::RefCell;
use std::collections::BTreeMap;

use crate::aim::{Mounting, aim};
use crate::appraise::{Account, appraise};
use crate::optics::{Frame, Lens, Mapping, Orientation};
use crate::outline::Outline;
use crate::pose::WorldPoint;
use crate::sight::Sight;
use crate::site::{Access, Aim, Model, PlanPoint, Shape, Stance, Support};
use crate::stance::Standing;
use crate::verticals::Convergence;
use crate::walking::{BODY_M, Feet, KNEE_M, Reach, Reached, SPACING_M, Stopped, Walk};

use super::origin::{FRONT_SINE, Origin, WHOLE};
use super::{Barrier, Effort, Equipment, Holding, Remark, Remedy, Way, WayOutcome};

/// One foot behind the other.
const FOOTSTEP_M: f64 = 0.25;
/// After so many steps back (2 m) other heights are tried.
const TOGETHER_STEPS: usize = 8;
/// The line back is looked at this often.
const LOOK_EVERY_M: f64 = 1.0;
/// Bearings about the subject from which places are tried first.
const BEARINGS: i32 = 32;
/// Distances from the subject, each this many times the last.
const FARTHER: f64 = 1.25;
/// How many of the likeliest places are measured for each lens.
const MEASURED: usize = 4;
/// Of the samples that stand for the subject's surface every so manieth is looked at first.
const SAMPLED: usize = 4;
/// A twentieth of a degree.
const NEARLY: f64 = 0.05 * std::f64::consts::PI / 180.0;
/// A place that sees less than this share of what the stance sees is no place for the picture.
const LEAST_SEEN: f64 = 1.0 / 3.0;
/// A walk that is none.
const NO_WALK_M: f64 = 0.75;

/// Stepping back along the line from the subject with the lens that is on.
pub(super) fn back_off(origin: &Origin<'_>) -> Option<Way> {
    let remedy = Remedy::BackOff;
    let footing = origin.measured.standing.footing.as_ref()?;
    let (survey, back) = (origin.survey, (-origin.ahead.0 * FOOTSTEP_M, -origin.ahead.1 * FOOTSTEP_M));
    let on = matches!(footing.support, Support::Deck(_)).then_some(footing.name.as_deref()).flatten();
    let mut feet = Feet::of(origin.stance.at, on, footing);
    let mut walked_m = 0.0;
    let mut passed: Vec<(f64, Feet, Vec<String>)> = Vec::new();
    let mut ask = Vec::new();
    let mut barrier = None;
    while walked_m + FOOTSTEP_M <= origin.farthest_walk_m {
        let next = match feet.step(&survey.model, &survey.sight, back) {
            Ok(next) => next,
            Err(stopped) => {
                barrier = barrier_of(&survey.model, &feet, back, &stopped);
                break;
            }
        };
        if next.footing.access == Access::Closed && feet.footing.access != Access::Closed {
            barrier = Some(Barrier::Closed { name: next.footing.name.unwrap_or_else(|| "closed ground".into()) });
            break;
        }
        if next.footing.support == Support::Water && feet.footing.support != Support::Water {
            barrier = Some(Barrier::Water);
            break;
        }
        feet = next;
        walked_m += FOOTSTEP_M;
        origin.ask_for(&feet.footing, &mut ask);
        if walked_m.rem_euclid(LOOK_EVERY_M) < 1e-9 {
            passed.push((walked_m, feet.clone(), ask.clone()));
        }
    }
    if walked_m > 0.0 && passed.last().is_none_or(|(looked_m, ..)| walked_m - looked_m > 1e-9) {
        passed.push((walked_m, feet, ask));
    }
    let stopped = barrier.map(|by| Remark::Stopped { after_m: walked_m, by });
    let not_here = |remarks| Some(Way::not_here(Remedy::BackOff, Vec::new(), remarks));
    let looked: Vec<(usize, Standing, Account)> = passed
        .iter()
        .enumerate()
        .filter_map(|(index, (_, feet, _))| {
            let (standing, account) = without_sight(origin, &origin.elsewhere(feet.at, feet.on.clone()))?;
            Some((index, standing, account))
        })
        .collect();
    let whole = |standing: &Standing| standing.fullness.is_some_and(|fullness| fullness <= WHOLE);
    let upright =
        |(_, standing, account): &&(usize, Standing, Account)| whole(standing) && account.reads_upright == Some(true);
    let wanted_share = origin.wanted_share();
    let sees = |standing: &Standing| visible_share(origin, &standing.pose.eye) >= wanted_share;
    let least = |a: &&(usize, Standing, Account), b: &&(usize, Standing, Account)| {
        let lean = |account: &Account| account.largest_lean.map_or(f64::INFINITY, |lean| lean.radians());
        // A subject that is cut comes after, one that is hidden last.
        let sees = sees(&b.1).cmp(&sees(&a.1));
        sees.then(whole(&b.1).cmp(&whole(&a.1))).then(lean(&a.2).total_cmp(&lean(&b.2)))
    };
    let chosen = looked
        .iter()
        .filter(upright)
        .find(|(_, standing, _)| sees(standing))
        .or_else(|| looked.iter().find(upright))
        .or_else(|| looked.iter().min_by(least));
    let Some((index, ..)) = chosen else { return not_here(stopped.into_iter().collect()) };
    let (back_m, feet, ask) = &passed[*index];
    let effort = Effort { walk_m: Some(*back_m), ask: ask.clone(), ..Effort::default() };
    let mut way = origin.row(remedy, origin.elsewhere(feet.at, feet.on.clone()), effort, Vec::new());
    if way.outcome != WayOutcome::Upright {
        way.remarks.extend(stopped);
        if way.outcome == WayOutcome::Better {
            way.remarks.push(Remark::StillLeans);
        }
    }
    Some(way)
}

/// Back off and raise the camera as well, pitched least: the shortest walk that is upright so.
pub(super) fn together(origin: &Origin<'_>) -> Option<Way> {
    let footing = origin.measured.standing.footing.as_ref()?;
    let survey = origin.survey;
    let back = (-origin.ahead.0 * FOOTSTEP_M, -origin.ahead.1 * FOOTSTEP_M);
    let on = matches!(footing.support, Support::Deck(_)).then_some(footing.name.as_deref()).flatten();
    let mut feet = Feet::of(origin.stance.at, on, footing);
    let (mut steps, mut ask) = (0_usize, Vec::new());
    while FOOTSTEP_M * (steps + 1) as f64 <= origin.farthest_walk_m {
        let Ok(next) = feet.step(&survey.model, &survey.sight, back) else { break };
        if next.footing.access == Access::Closed || next.footing.support == Support::Water {
            break;
        }
        feet = next;
        steps += 1;
        origin.ask_for(&feet.footing, &mut ask);
        if !steps.is_multiple_of(TOGETHER_STEPS) {
            continue;
        }
        for held in [Holding::Overhead, Holding::VehicleRoof, Holding::ShortLadder, Holding::Pole] {
            let there = origin.elsewhere(feet.at, feet.on.clone());
            let stance = Stance { aim: Aim::LeastTilt, height_m: held.height_m(), ..there };
            let Some((standing, account)) = without_sight(origin, &stance) else { continue };
            let whole = standing.fullness.is_some_and(|fullness| fullness <= WHOLE);
            if !(whole && account.reads_upright == Some(true))
                || visible_share(origin, &standing.pose.eye) < origin.wanted_share()
            {
                continue;
            }
            let effort = Effort {
                walk_m: Some(FOOTSTEP_M * steps as f64),
                kit: vec![Equipment::Holding(held)],
                ask: ask.clone(),
                ..Effort::default()
            };
            let remarks = held.caution().map(|caution| Remark::Beware(caution.into())).into_iter().collect();
            return Some(origin.row(Remedy::Together { held }, stance, effort, remarks));
        }
    }
    None
}

/// What stops the next step, by name where it has one.
fn barrier_of(model: &Model, feet: &Feet, step: PlanPoint, stopped: &Stopped) -> Option<Barrier> {
    let name = |block: usize| Some(model.site.blocks[block].words().to_owned());
    match stopped {
        Stopped::Wall => {
            // The first solid at knee height within a body's width beyond the step.
            let reach = 1.0 + BODY_M / step.0.hypot(step.1);
            let knee = |share: f64| {
                let along = share * reach;
                WorldPoint::new(feet.at.0 + step.0 * along, feet.at.1 + step.1 * along, feet.footing.height_m + KNEE_M)
            };
            let met = (1..=8).find_map(|look| model.block_around(&knee(f64::from(look) / 8.0 + 0.02)));
            Some(Barrier::Wall { name: met.and_then(name) })
        }
        Stopped::StepUp { up_m } => Some(Barrier::Step { up_m: *up_m }),
        Stopped::Edge { drop_m } => Some(Barrier::Drop { down_m: *drop_m, name: feet.footing.name.clone() }),
        Stopped::Footing(_) => None,
    }
}

/// The stance taken up and measured, with nothing looked at.
pub(super) fn without_sight(origin: &Origin<'_>, stance: &Stance) -> Option<(Standing, Account)> {
    let standing = origin.survey.stand(stance).ok()?;
    let account = appraise(&origin.survey.model, Ok(origin.subject), None, &standing, &origin.settings.measures);
    Some((standing, account))
}

/// About how much of the subject's facing surface is seen from an eye.
fn visible_share(origin: &Origin<'_>, eye: &WorldPoint) -> f64 {
    share_seen(&origin.survey.sight, origin, eye)
}

fn share_seen(sight: &Sight, origin: &Origin<'_>, eye: &WorldPoint) -> f64 {
    let (mut facing, mut free) = (0_usize, 0_usize);
    for sample in origin.subject.samples.iter().step_by(SAMPLED) {
        if sample.normal.dot(&(eye - sample.point)) > 0.0 {
            facing += 1;
            free += usize::from(sight.is_free(eye, &(sample.point + sample.normal * 4e-3)));
        }
    }
    if facing == 0 { 0.0 } else { free as f64 / facing as f64 }
}

/// How the subject looks from a place, in closed form.
#[derive(Clone, Copy, Debug)]
struct PlaceView {
    node: (i32, i32),
    /// The largest lean of a filled frame.
    fill_lean: f64,
    /// The longest focal length at which the filled frame holds the subject, over the frame's height.
    fill: f64,
    /// Slopes from a level camera to the top, the base (down) and the farther side.
    up: f64,
    down: f64,
    aside: f64,
    distance_m: f64,
    /// How squarely the flattest wall is seen by which detail is judged.
    square: f64,
    /// About the share of the subject that is seen, where it was looked at.
    share: f64,
}

/// The best reachable place for each lens of the bag.
///
/// The best is the one that reads as upright with the most detail, the subject whole and seen nearly as much as from the
/// stance; where none reads as upright, the one that leans least.
pub(super) fn best_places(origin: &Origin<'_>, reach: &Reach<'_>) -> Vec<Way> {
    let places = TriedPlaces::about(origin, reach);
    origin.bag.iter().map(|lens| places.best(origin, reach, lens)).collect()
}

/// The places that are tried, and how they look.
struct TriedPlaces {
    tried: Vec<PlaceView>,
    /// As portrait and as landscape.
    frames: Vec<Frame>,
    /// Whether the subject is a front, which has one side.
    one_side: bool,
    /// Every place that was looked at: the lenses climb over the same ones.
    known: RefCell<BTreeMap<(i32, i32), Option<PlaceView>>>,
    /// What is seen from them, where it mattered.
    shares: RefCell<BTreeMap<(i32, i32), f64>>,
}

impl TriedPlaces {
    /// Places about the subject: on rays from it, each so much farther than the last.
    fn about(origin: &Origin<'_>, reach: &Reach<'_>) -> Self {
        let standing = &origin.measured.standing;
        let held = |orientation| origin.frame(orientation);
        let frames = match origin.stance.orientation {
            Some(orientation) => vec![held(orientation)],
            None => vec![held(Orientation::Portrait), held(Orientation::Landscape)],
        };
        // A front is pictured from its front; anything else from wherever it is best.
        let body = &origin.survey.model.site.blocks[origin.subject.body].shape;
        let one_side =
            origin.same_side_only || origin.subject.named_front.is_some() || matches!(body, Shape::Facade { .. });
        let mut places =
            Self { tried: Vec::new(), frames, one_side, known: RefCell::default(), shares: RefCell::default() };
        let eye = standing.pose.eye;
        let home_m = (origin.subject.middle.x - eye.x).hypot(origin.subject.middle.y - eye.y);
        let mut nodes: Vec<(i32, i32)> = vec![(0, 0)];
        for turn in 1 - BEARINGS / 2..=BEARINGS / 2 {
            let angle = std::f64::consts::TAU * f64::from(turn) / f64::from(BEARINGS);
            let (sine, cosine) = angle.sin_cos();
            let mut away_m = 2.0;
            while away_m < home_m + origin.farthest_walk_m {
                // In the net's own axes, with the subject ahead.
                let (right_m, ahead_m) = (away_m * sine, home_m - away_m * cosine);
                nodes.push(((right_m / SPACING_M).round() as i32, (ahead_m / SPACING_M).round() as i32));
                away_m = (away_m * FARTHER).max(away_m + SPACING_M);
            }
        }
        nodes.sort_unstable();
        nodes.dedup();
        // The nearest to walk first, so that of equal places it is chosen.
        let mut found: Vec<&Reached> = nodes.into_iter().filter_map(|node| reach.at_node(node)).collect();
        found.sort_by(|a, b| a.walked_m.total_cmp(&b.walked_m).then(a.node.cmp(&b.node)));
        for place in found {
            let place_view = places.place_view(origin, place);
            places.tried.extend(place_view.map(|at| PlaceView { share: places.share(origin, place), ..at }));
        }
        places
    }

    /// How the subject looks from a place, `None` where no flat picture holds it.
    fn place_view(&self, origin: &Origin<'_>, place: &Reached) -> Option<PlaceView> {
        *self.known.borrow_mut().entry(place.node).or_insert_with(|| self.looked(origin, place))
    }

    /// About the share of the subject that is seen from a place.
    fn share(&self, origin: &Origin<'_>, place: &Reached) -> f64 {
        *self.shares.borrow_mut().entry(place.node).or_insert_with(|| visible_share(origin, &eye_over(origin, place)))
    }

    fn looked(&self, origin: &Origin<'_>, place: &Reached) -> Option<PlaceView> {
        let eye = eye_over(origin, place);
        let outline = origin.subject.outline(&eye).ok()?;
        let distance_m = origin.subject.distance_m(&eye);
        if distance_m < 0.5 || self.one_side && !origin.same_side(&eye) {
            return None;
        }
        let (up, down, aside) = slopes(origin, &eye, &outline)?;
        // With a plain lens as wide as a picture can well be.
        let frame = self.frames[usize::from(self.frames.len() > 1 && aside * 2.0 > up + down)];
        let lens = Lens::prime(0.25 * frame.height_mm);
        let mounting = Mounting { frame, lens: &lens, focal_mm: None, rise_mm: None, shift_mm: 0.0, distortion: None };
        let aimed = aim(Aim::Fill, &eye, Some(origin.subject), &mounting).ok()?;
        let convergence = Convergence::of(&outline, &aimed.attitude)?;
        Some(PlaceView {
            node: place.node,
            fill_lean: convergence.largest().radians(),
            fill: lens.focal_mm / aimed.fullness?,
            up,
            down,
            aside,
            distance_m,
            square: square(origin, &eye),
            share: 0.0,
        })
    }

    /// The ways to aim a lens from a place: what leans (0 level) and about how finely it draws; none that cuts.
    fn worth(&self, lens: &Lens, at: &PlaceView, upright: f64) -> Option<(PlaceScore, Aim)> {
        let mut best: Option<(PlaceScore, Aim)> = None;
        let mut offer = |lean: f64, focal_mm: f64, aim: Aim| {
            let finest = focal_mm * at.square / at.distance_m;
            // A pitched camera draws the top more coarsely: cos²e / cos²(e − θ), with θ about half of e.
            let top = at.up.atan();
            let pitched = if aim == Aim::Fill { (top.cos() / (0.5 * top).cos()).powi(2) } else { 1.0 };
            let worth = PlaceScore::of(lean, finest * pitched, upright);
            if best.as_ref().is_none_or(|(known, _)| worth.beats(known)) {
                best = Some((worth, aim));
            }
        };
        if at.fill >= lens.focal_mm {
            offer(at.fill_lean, at.fill.min(lens.longest_mm()), Aim::Fill);
        }
        for frame in &self.frames {
            let [_, beside, bottom, above] = frame.room_mm();
            let below = -bottom;
            let level_mm = (above / at.up.max(1e-9)).min(below / at.down.max(1e-9)).min(beside / at.aside.max(1e-9));
            if level_mm >= lens.focal_mm {
                offer(0.0, level_mm.min(lens.longest_mm()), Aim::Level);
            }
            if lens.rise_mm > 0.0 {
                let limit_mm = rise_limit_mm(lens, frame);
                let f = lens.focal_mm;
                let (least, most) = (f * at.up - above, below - f * at.down);
                if least <= most && least <= limit_mm && most >= -limit_mm && f * at.aside <= beside {
                    offer(0.0, f, Aim::Rise);
                }
            }
        }
        best
    }

    fn best(&self, origin: &Origin<'_>, reach: &Reach<'_>, lens: &Lens) -> Way {
        let remedy = Remedy::BestPlace { lens: lens.name.clone() };
        let own = lens.name == origin.measured.standing.lens.name;
        let kit = if own { Vec::new() } else { vec![Equipment::Lens(lens.name.clone())] };
        let not_here = |remark| Way::not_here(remedy.clone(), kit.clone(), vec![remark]);
        if lens.mapping != Mapping::Rectilinear {
            return not_here(Remark::Bent);
        }
        let upright = origin.settings.measures.upright.radians();
        // Places that see the subject about as well as the stance, or half of it at least; else half as well; else a third.
        let home_share = origin.wanted_share();
        let mut likely: Vec<(PlaceScore, PlaceView, Aim)> = Vec::new();
        let mut least_share = 0.0;
        for share in [home_share, 0.5 * home_share, LEAST_SEEN * home_share] {
            likely = self
                .tried
                .iter()
                .filter(|at| at.share >= share)
                .filter_map(|at| self.worth(lens, at, upright).map(|(worth, aim)| (worth, *at, aim)))
                .collect();
            least_share = share;
            if !likely.is_empty() {
                break;
            }
        }
        likely.sort_by(|a, b| a.0.order(&b.0));
        if likely.is_empty() {
            if self.tried.iter().any(|at| self.worth(lens, at, upright).is_some()) {
                return not_here(Remark::NoPlaceSees { share: LEAST_SEEN * home_share });
            }
            // It would fit from so much farther off.
            let nearest = self.tried.iter().map(|at| (at.fill / lens.focal_mm, at.distance_m));
            let needs =
                nearest.fold(
                    None,
                    |best: Option<(f64, f64)>, (fits, distance_m)| {
                        if best.is_none_or(|best| fits > best.0) { Some((fits, distance_m)) } else { best }
                    },
                );
            return not_here(Remark::TooLong { needs_m: needs.map(|(fits, distance_m)| distance_m / fits) });
        }
        let mut measured: Vec<(PlaceScore, Stance, f64)> = Vec::new();
        let mut measure = |at: &PlaceView, aim: Aim| {
            let Some(place) = reach.at_node(at.node) else { return };
            let stance = self.stance(origin, lens, place, aim);
            let Some((standing, account)) = without_sight(origin, &stance) else { return };
            if standing.fullness.is_some_and(|fullness| fullness <= WHOLE) {
                let lean = account.largest_lean.map_or(f64::INFINITY, |lean| lean.radians());
                let detail = account.lowest_detail.map_or(0.0, |(detail, _)| detail.px_per_m);
                measured.push((PlaceScore::of(lean, detail, upright), stance, place.walked_m));
            }
        };
        let goal = PlaceGoal { upright, least_share };
        let mut finest = likely[0].0;
        for (worth, at, aim) in likely.iter().take(MEASURED) {
            let (at, aim, worth) = self.improved(origin, reach, lens, (*worth, *at, *aim), &goal);
            if worth.beats(&finest) {
                finest = worth;
            }
            measure(&at, aim);
        }
        // A little more detail is not worth a long walk: the nearest that are nearly as good, too.
        for (_, at, aim) in self
            .tried
            .iter()
            .filter(|at| at.share >= least_share)
            .filter_map(|at| {
                let (worth, aim) = self.worth(lens, at, upright)?;
                worth.nearly(&finest).then_some((worth, at, aim))
            })
            .take(MEASURED)
        {
            measure(at, aim);
        }
        let finest = measured.iter().map(|(worth, ..)| *worth).reduce(|a, b| if b.beats(&a) { b } else { a });
        let best = finest.and_then(|finest| {
            measured
                .iter()
                .filter(|(worth, ..)| worth.nearly(&finest))
                .min_by(|a, b| a.2.total_cmp(&b.2).then(a.0.order(&b.0)))
        });
        let Some((_, stance, _)) = best.cloned() else { return not_here(Remark::TooLong { needs_m: None }) };
        let place = reach.places().find(|place| place.at == stance.at);
        let Walk { length_m: walk_m, ask, .. } = place.map_or_else(Walk::default, |place| reach.way_to(place));
        let (walk_m, mut remarks) = (Some(walk_m), Vec::new());
        if walk_m.is_some_and(|walk_m| walk_m < NO_WALK_M) {
            remarks.push(Remark::WhereYouStand);
        }
        origin.row(remedy, stance, Effort { walk_m, kit, ask, ..Effort::default() }, remarks)
    }

    /// Climbs from a place to better ones beside it, in ever shorter strides.
    fn improved(
        &self,
        origin: &Origin<'_>,
        reach: &Reach<'_>,
        lens: &Lens,
        start: (PlaceScore, PlaceView, Aim),
        goal: &PlaceGoal,
    ) -> (PlaceView, Aim, PlaceScore) {
        let (mut worth, mut at, mut aim) = start;
        let mut stride = 8;
        while stride > 0 {
            let mut moved = false;
            for (right, ahead) in [(0, 1), (0, -1), (1, 0), (-1, 0), (1, 1), (-1, 1), (1, -1), (-1, -1)] {
                let node = (at.node.0 + right * stride, at.node.1 + ahead * stride);
                let Some(place) = reach.at_node(node) else { continue };
                let Some(next) = self.place_view(origin, place) else { continue };
                let Some((better, aimed)) = self.worth(lens, &next, goal.upright) else { continue };
                if better.beats(&worth) && self.share(origin, place) >= goal.least_share {
                    (worth, at, aim, moved) = (better, next, aimed, true);
                    break;
                }
            }
            if !moved {
                stride /= 2;
            }
        }
        (at, aim, worth)
    }

    fn stance(&self, origin: &Origin<'_>, lens: &Lens, place: &Reached, aim: Aim) -> Stance {
        let on = match place.footing.support {
            Support::Deck(_) => place.footing.name.clone(),
            _ => None,
        };
        let there = origin.elsewhere(place.at, on.clone());
        Stance {
            at: there.at,
            on,
            eye_height_m: None,
            height_m: there.height_m,
            orientation: origin.stance.orientation,
            ..origin.with_lens(lens, aim)
        }
    }
}

/// The sine at which the flattest wall is seen by which the detail is judged; 1 where there is none.
fn square(origin: &Origin<'_>, eye: &WorldPoint) -> f64 {
    let sine = |wall: &crate::outline::Wall| {
        let towards = (eye - wall.middle).xy();
        wall.normal.xy().dot(&towards) / towards.norm().max(1e-9)
    };
    origin.subject.walls.iter().map(sine).filter(|sine| *sine >= FRONT_SINE).fold(1.0, f64::min)
}

/// How far a lens can rise on a frame.
pub(super) fn rise_limit_mm(lens: &Lens, frame: &Frame) -> f64 {
    let mounting = Mounting { frame: *frame, lens, focal_mm: None, rise_mm: None, shift_mm: 0.0, distortion: None };
    mounting.rise_limit_mm()
}

/// The slopes from a level camera that looks at the outline's middle: up to the top, down to the base, and to the
/// farther side.
pub(super) fn slopes(origin: &Origin<'_>, eye: &WorldPoint, outline: &Outline) -> Option<(f64, f64, f64)> {
    let (sine, cosine) = outline.middle().sin_cos();
    let (mut up, mut down, mut aside) = (f64::NEG_INFINITY, f64::NEG_INFINITY, 0.0_f64);
    for corner in &origin.subject.outermost {
        let offset = corner - eye;
        let depth_m = offset.x * sine + offset.y * cosine;
        if depth_m < 1e-3 {
            return None;
        }
        up = up.max(offset.z / depth_m);
        down = down.max(-offset.z / depth_m);
        aside = aside.max(((offset.x * cosine - offset.y * sine) / depth_m).abs());
    }
    Some((up, down, aside))
}

/// Where the eye is over a place.
fn eye_over(origin: &Origin<'_>, place: &Reached) -> WorldPoint {
    let (x, y): PlanPoint = place.at;
    WorldPoint::new(x, y, place.footing.height_m + origin.body_height_m())
}

/// What a place on foot is to reach.
struct PlaceGoal {
    /// The largest lean that reads as upright, in radians.
    upright: f64,
    /// The least share of the subject that is to be seen.
    least_share: f64,
}

/// What is weighed: first whether it reads as upright, then its detail; where it does not, how little it leans.
#[derive(Clone, Copy, Debug)]
pub(super) struct PlaceScore {
    upright: bool,
    value: f64,
}

impl PlaceScore {
    pub(super) fn of(lean: f64, detail: f64, threshold: f64) -> Self {
        let upright = lean <= threshold;
        Self { upright, value: if upright { detail } else { -lean } }
    }

    /// Whether it is better by more than rounding.
    pub(super) fn beats(&self, other: &Self) -> bool {
        if self.upright != other.upright {
            return self.upright;
        }
        self.value > other.value + 1e-9 * other.value.abs().max(1e-12)
    }

    /// Whether it is hardly worse: by at most a twentieth of the detail, or a twentieth of a degree.
    fn nearly(&self, best: &Self) -> bool {
        let close = if best.upright { self.value >= 0.95 * best.value } else { self.value >= best.value - NEARLY };
        self.upright == best.upright && close
    }

    fn order(&self, other: &Self) -> std::cmp::Ordering {
        other.upright.cmp(&self.upright).then(other.value.total_cmp(&self.value))
    }
}
