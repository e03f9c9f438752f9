//! What can be had at one place?
//!
//! Most candidates only repeat what is known of their place: once its other requirements are settled, an eye that sees too little
//! needs no aim at all. That, the proof that the other orientation cannot suit and a start from the last lens take the closed form
//! from two thirds of a search's time to a third.

use crate::appraise::{CLEAR_M, Candidate, JudgedSurface, Kernel, Mounted, PointDrawing, SubjectView};
use crate::optics::{Format, Orientation};
use crate::outline::{Sample, Subject};
use crate::pose::WorldPoint;
use crate::sight::Sight;
use crate::site::{Access, Model, PlanPoint, Support};

use super::counts::Counts;
use super::criteria::{Criteria, Rank};
use super::daylight::DaylightTable;
use super::kinds::{KindNumbers, Kinds, direction};
use super::openings::OpeningTable;
use super::place_result::{
    CandidateId, ParetoFront, PlaceResult, PlaceStatus, RankKey, Requirement, RequirementSet, StoredCandidate,
    THRESHOLDS, compared,
};
use super::places::{Plot, Stand};
use super::visibility::{MOST_EYES, VisibilityTest, VisiblePoints};

/// A metre of climbing is as much effort as so many metres on the level.
///
/// # Source
/// W. W. Naismith's rule of 1892 (an hour for three miles, and one for 2000 ft of ascent) as P. Scarf states it, *Route
/// choice in mountain navigation, Naismith's rule, and the equivalence of distance and climb*, 2007 (from memory).
pub const CLIMB_IN_WALK: f64 = 7.92;
/// A camera held so high above the feet needs no climbing: the arms reach so far (common practice, no source).
pub const REACH_M: f64 = 2.1;
/// A lens serves a place if it gives at least so much of the most detail that any lens of the bag gives there (common
/// practice, no source).
const SERVES: f64 = 0.8;
/// A frame counts as holding the subject up to this much over its margins: what a solver leaves.
const TOUCHES: f64 = 1.0 + 1e-7;
/// A lean counts as required up to this much over it, and a share of the frame up to this much under it.
pub(super) const LEAN_HAIR_DEG: f64 = 1e-9;
pub(super) const FILLED_HAIR: f64 = 1e-9;

/// Everything that a search looks with.
#[derive(Debug)]
pub(super) struct Evaluator<'a> {
    pub(super) model: &'a Model,
    pub(super) subject: &'a Subject,
    pub(super) sight: &'a Sight,
    pub(super) criteria: &'a Criteria,
    pub(super) kernel: Kernel<'a>,
    pub(super) mounted: Vec<Mounted>,
    /// The pairs of lens and aim that are tried.
    tried: Vec<(usize, usize)>,
    inside: Vec<Vec<WorldPoint>>,
    outside: Vec<Vec<WorldPoint>>,
    /// Where one walks from, and how high one's feet are there.
    from: Option<(PlanPoint, f64)>,
    /// Whether every candidate's detail is asked, or only that of those which may be kept.
    always_detail: bool,
    /// A circle in plan around the subject: its middle and radius.
    around: (PlanPoint, f64),
    /// Between which angles to the front one may stand, in degrees.
    pub(super) front_deg: Option<(f64, f64)>,
    /// The light on each face, where it is asked for.
    daylight: Option<&'a DaylightTable>,
}

/// What one worker writes on.
#[derive(Debug, Default)]
pub(super) struct Scratch {
    pub(super) subject_view: SubjectView,
    /// What was seen from each height that was asked, and which of them is judged.
    seen: Vec<VisiblePoints>,
    judged: usize,
    stands: Vec<Stand>,
    /// The body's named points at this place, if they were asked for.
    pub(super) named: Option<[Option<Sample>; 3]>,
    /// By what the detail is judged from this eye: the samples that are seen, and the named points with whether they are;
    /// if it was asked for.
    surface: Vec<JudgedSurface>,
    named_seen: [Option<(JudgedSurface, Option<bool>)>; 3],
    is_judged: bool,
    /// What every candidate of the place fails, because the place itself does.
    pub(super) misses: RequirementSet,
    /// The minutes of light that the face has that a picture from the place is of.
    light_minutes: f64,
    /// For each lens, the most detail with which it meets every requirement at this place.
    served: Vec<f64>,
    pub(super) counts: Counts,
    pub(super) front: ParetoFront,
    pub(super) kinds: Kinds,
    pub(super) openings: OpeningTable,
}

impl Scratch {
    /// Turns to one of the eyes that were looked from.
    pub(super) fn judge(&mut self, judged: usize) {
        self.judged = judged;
        self.is_judged = false;
    }

    /// Of what faces it, the share that it sees.
    pub(super) fn share(&self) -> Option<f64> {
        self.seen.get(self.judged).and_then(VisiblePoints::share)
    }
}

/// The best so far, with the key it was chosen by.
type Best = Option<(RankKey, StoredCandidate)>;

impl Criteria {
    /// How many kinds there are.
    pub(super) fn kind_numbers(&self) -> KindNumbers {
        KindNumbers { heights: self.heights_m.len(), lenses: self.lenses.len(), aims: self.aims.len() }
    }

    /// By what candidates are compared: those that meet all requirements first, then by rank.
    pub(super) fn key(&self, misses: bool, kept: &StoredCandidate) -> RankKey {
        let (lean, effort, detail) = (kept.lean_tenths(), kept.effort_metres(), kept.detail_pixels());
        let filled = kept.filled_hundredths();
        // A longer lens where nothing else tells.
        let longer = compared(kept.focal_mm, 1.0).saturating_neg();
        let figures = match self.rank {
            Rank::Upright if kept.largest_lean.to_degrees() <= self.upright_deg + LEAN_HAIR_DEG => {
                [0, effort, detail, filled]
            }
            Rank::Upright => [lean.max(1), effort, detail, filled],
            Rank::Lean => [lean, effort, longer, filled],
            Rank::Detail => [detail, effort, longer, filled],
            Rank::Effort => [effort, lean, longer, filled],
            Rank::Light => [kept.light_minutes(), lean, effort, longer],
        };
        (misses, figures, kept.order)
    }
}

impl<'a> Evaluator<'a> {
    pub(super) fn new(
        model: &'a Model,
        subject: &'a Subject,
        sight: &'a Sight,
        criteria: &'a Criteria,
        format: &Format,
        (mounted, tried): (Vec<Mounted>, Vec<(usize, usize)>),
        daylight: Option<&'a DaylightTable>,
    ) -> Self {
        let corners = |names: &[String]| {
            let blocks = names.iter().filter_map(|name| model.site.blocks.iter().position(|block| block.name == *name));
            blocks.map(|block| model.solids[block].vertices.clone()).collect()
        };
        let middle = (subject.middle.x, subject.middle.y);
        let radius_m =
            subject.corners.iter().map(|c| (c.x - middle.0).hypot(c.y - middle.1)).fold(0.0, f64::max) + 1e-6;
        Self {
            kernel: Kernel::new(model, subject, format, criteria.orientation, criteria.crop, criteria.margins),
            inside: corners(&criteria.inside),
            outside: corners(&criteria.outside),
            from: criteria.from.map(|at| {
                let feet_m = model.footing(at, None).map_or_else(|_| model.surface_m(at), |footing| footing.height_m);
                (at, feet_m)
            }),
            always_detail: criteria.detail_px_per_m.is_some() || criteria.rank == Rank::Detail,
            around: (middle, radius_m),
            front_deg: criteria.front_of(subject),
            model,
            subject,
            sight,
            criteria,
            mounted,
            tried,
            daylight,
        }
    }

    /// Whether the distance is as required; exactly asked only where the circle around the subject leaves a doubt.
    pub(super) fn distance(&self, at: PlanPoint) -> Option<PlaceStatus> {
        let (nearest_m, farthest_m) = self.criteria.distance_m;
        let (middle, radius_m) = self.around;
        let centre_m = (at.0 - middle.0).hypot(at.1 - middle.1);
        if centre_m - radius_m >= nearest_m && centre_m <= farthest_m {
            return None;
        }
        if centre_m - radius_m > farthest_m {
            return Some(PlaceStatus::TooFar);
        }
        let distance_m = self.subject.distance_m(&WorldPoint::new(at.0, at.1, 0.0));
        if distance_m < nearest_m {
            Some(PlaceStatus::TooNear)
        } else {
            (distance_m > farthest_m).then_some(PlaceStatus::TooFar)
        }
    }

    pub(super) fn may_stand(&self, stand: &Stand) -> Result<(), PlaceStatus> {
        if stand.access > self.criteria.access || stand.access == Access::Closed {
            return Err(PlaceStatus::Closed);
        }
        if stand.support == Support::Water { Err(PlaceStatus::Water) } else { Ok(()) }
    }

    /// The angle to the subject's front, in degrees; NaN where it has none.
    pub(super) fn to_front_deg(&self, at: PlanPoint) -> f64 {
        let eye = WorldPoint::new(at.0, at.1, self.subject.base_m);
        self.subject.front(&eye).map_or(f64::NAN, |front| front.angle_to(&eye).degrees().abs())
    }

    /// Whether such an angle to the front is not allowed; a subject without a front has none to miss.
    pub(super) fn misses_front(&self, to_front_deg: f64) -> bool {
        self.front_deg.is_some_and(|(from_deg, to_deg)| {
            to_front_deg < from_deg - LEAN_HAIR_DEG || to_front_deg > to_deg + LEAN_HAIR_DEG
        })
    }

    /// How many minutes of light the face has that a picture from a place is of; NaN where nobody asks.
    pub(super) fn light_minutes(&self, at: PlanPoint) -> f64 {
        let eye = WorldPoint::new(at.0, at.1, self.subject.base_m);
        self.daylight.map_or(f64::NAN, |daylight| daylight.minutes(self.model, self.subject, self.sight, &eye))
    }

    /// Looks at a place; `only` keeps to one deck, for one that is too small to hold a place of the lattice.
    pub(super) fn place(
        &self,
        index: usize,
        at: PlanPoint,
        only: Option<usize>,
        plot: &Plot<'_>,
        visibility: &dyn VisibilityTest,
        scratch: &mut Scratch,
    ) -> PlaceResult {
        let cell = self.looked_at(index, at, only, plot, visibility, scratch);
        scratch.counts.ground[cell.ground as usize] += 1;
        cell
    }

    fn looked_at(
        &self,
        index: usize,
        at: PlanPoint,
        only: Option<usize>,
        plot: &Plot<'_>,
        visibility: &dyn VisibilityTest,
        scratch: &mut Scratch,
    ) -> PlaceResult {
        if let Some(ground) = self.distance(at) {
            return PlaceResult::of(ground);
        }
        let mut stands = std::mem::take(&mut scratch.stands);
        plot.stands(at, &mut stands);
        let mut cell = PlaceResult::of(PlaceStatus::Unknown);
        let mut refused = None;
        let (mut best, mut alone, mut others): (_, RequirementSet, RequirementSet) = (None, 0, 0);
        scratch.served.clear();
        scratch.served.resize(self.mounted.len(), f64::NEG_INFINITY);
        scratch.named = None;
        cell.front_deg = self.to_front_deg(at);
        cell.light_minutes = self.light_minutes(at);
        scratch.light_minutes = cell.light_minutes;
        scratch.misses = if self.misses_front(cell.front_deg) { Requirement::Front.bit() } else { 0 };
        if self.criteria.lacks_light(cell.light_minutes) {
            scratch.misses |= Requirement::Light.bit();
        }
        let direction = direction(self.around.0, at);
        for (number, stand) in stands.iter().enumerate() {
            if only.is_some_and(|deck| stand.support != Support::Deck(deck)) {
                continue;
            }
            if let Err(ground) = self.may_stand(stand) {
                refused = refused.or(Some(ground));
                continue;
            }
            let first = cell.ground != PlaceStatus::Looked;
            let clear = self.look_from(at, stand, self.criteria.heights_m.iter().copied(), plot, visibility, scratch);
            for (judged, (height, eye)) in clear.into_iter().enumerate() {
                cell.ground = PlaceStatus::Looked;
                scratch.judge(judged);
                self.kernel.look(&eye, &mut scratch.subject_view);
                cell.seen_share = cell.seen_share.max(scratch.share().unwrap_or(f64::NAN));
                if first && height == 0 {
                    cell.needed_focal_mm = self.needed(&mut scratch.subject_view);
                }
                let unseen = !self.sees_enough(scratch.share());
                for &(lens, aim) in &self.tried {
                    scratch.counts.candidates += 1;
                    // What does not see enough only tells which other requirements can be met here: mostly that is known.
                    if unseen
                        && (alone | Requirement::Seen.bit()) & Requirement::EVERY == Requirement::EVERY
                        && others & Requirement::Seen.bit() != 0
                    {
                        continue;
                    }
                    let order = CandidateId::new(index, number, height, lens, aim);
                    let Some((failed, kept)) = self.candidate(order, stand, &eye, scratch, &mut best) else {
                        continue;
                    };
                    alone |= !failed;
                    for (bit, requirement) in Requirement::ALL.iter().enumerate() {
                        others |= RequirementSet::from(failed & !requirement.bit() == 0) << bit;
                    }
                    if failed == 0 {
                        scratch.served[lens] = scratch.served[lens].max(kept.detail_px_per_m);
                        scratch.front.offer(&kept);
                        let (key, on_deck) =
                            (self.criteria.key(false, &kept), matches!(stand.support, Support::Deck(_)));
                        scratch.kinds.offer(direction, &self.criteria.kind_numbers(), on_deck, key, &kept);
                    }
                }
            }
            if first && cell.ground == PlaceStatus::Looked {
                self.lowest(at, stand, plot, visibility, scratch, &mut cell);
            }
        }
        scratch.stands = stands;
        if cell.ground != PlaceStatus::Looked {
            return PlaceResult::of(refused.unwrap_or(PlaceStatus::Occupied));
        }
        if let Some(((misses, ..), kept)) = best {
            cell.meets = !misses;
            cell.best = Some(kept);
        }
        for bit in 0..Requirement::ALL.len() {
            scratch.counts.alone[bit] += u64::from(alone >> bit & 1);
            scratch.counts.others[bit] += u64::from(others >> bit & 1);
        }
        if cell.meets {
            scratch.counts.met += 1;
            let most = scratch.served.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            let serves = scratch.served.iter().enumerate().filter(|(_, px_per_m)| **px_per_m >= SERVES * most);
            let lenses = serves.fold(0, |set, (lens, _)| set | 1 << lens);
            *scratch.counts.lenses.entry(lenses).or_default() += 1;
        }
        cell
    }

    /// Looks from those of some heights above a stand, at most [`MOST_EYES`], at which a camera can be held: their numbers
    /// and eyes.
    pub(super) fn look_from(
        &self,
        at: PlanPoint,
        stand: &Stand,
        heights_m: impl Iterator<Item = f64>,
        plot: &Plot<'_>,
        visibility: &dyn VisibilityTest,
        scratch: &mut Scratch,
    ) -> Vec<(usize, WorldPoint)> {
        let mut feet_clear = None;
        let clear =
            heights_m.enumerate().filter(|&(_, height_m)| plot.is_clear(at, stand.feet_m, height_m, &mut feet_clear));
        let eyes: Vec<(usize, WorldPoint)> =
            clear.map(|(height, height_m)| (height, WorldPoint::new(at.0, at.1, stand.feet_m + height_m))).collect();
        let levels_m: Vec<f64> = eyes.iter().map(|(_, eye)| eye.z).collect();
        scratch.seen.resize_with(scratch.seen.len().max(eyes.len()), VisiblePoints::default);
        visibility.find(at, &levels_m, &mut scratch.seen[..eyes.len()]);
        eyes
    }

    fn needed(&self, subject_view: &mut SubjectView) -> f64 {
        self.kernel.needed_focal_mm(subject_view).map_or(f64::NAN, |(focal_mm, way)| match way {
            Orientation::Portrait => -focal_mm,
            Orientation::Landscape => focal_mm,
        })
    }

    /// One candidate: which requirements fail, and what is kept of it. It becomes the best where it is.
    fn candidate(
        &self,
        order: CandidateId,
        stand: &Stand,
        eye: &WorldPoint,
        scratch: &mut Scratch,
        best: &mut Best,
    ) -> Option<(RequirementSet, StoredCandidate)> {
        let mounted = &self.mounted[order.lens()];
        let candidate =
            self.kernel.candidate(&mut scratch.subject_view, mounted, self.criteria.aims[order.aim()]).ok()?;
        let share = scratch.share();
        let mut failed = scratch.misses | self.failed(&candidate, eye, share);
        let mut kept = StoredCandidate {
            order,
            feet_m: stand.feet_m,
            focal_mm: candidate.camera.focal_mm,
            largest_lean: candidate.largest_lean.map_or(f64::NAN, |lean| lean.radians()),
            convergence: f64::NAN,
            detail_px_per_m: f64::NAN,
            filled_share: candidate.fullness,
            effort_m: self.effort_m(eye, stand, order.height()),
            light_minutes: scratch.light_minutes,
        };
        let keepable = failed & !THRESHOLDS == 0;
        if keepable {
            let convergence = self.kernel.convergence(&scratch.subject_view, &candidate);
            kept.convergence = convergence.map_or(f64::NAN, |convergence| convergence.angle().radians());
        }
        if self.always_detail || failed == 0 {
            kept.detail_px_per_m = self.detail(&candidate, eye, scratch).unwrap_or(f64::NAN);
            if self
                .criteria
                .detail_px_per_m
                .is_some_and(|wanted| kept.detail_px_per_m.is_nan() || kept.detail_px_per_m < wanted)
            {
                failed |= Requirement::Detail.bit();
            }
        }
        if keepable {
            let key = self.criteria.key(failed != 0, &kept);
            if best.as_ref().is_none_or(|(known, _)| key < *known) {
                if kept.detail_px_per_m.is_nan() {
                    kept.detail_px_per_m = self.detail(&candidate, eye, scratch).unwrap_or(f64::NAN);
                }
                *best = Some((key, kept));
            }
        }
        Some((failed, kept))
    }

    pub(super) fn sees_enough(&self, share: Option<f64>) -> bool {
        share.is_some_and(|share| share >= self.criteria.seen_share)
    }

    /// The requirements that a candidate fails, but for those that its place fails, and the detail.
    pub(super) fn failed(&self, candidate: &Candidate, eye: &WorldPoint, share: Option<f64>) -> RequirementSet {
        let criteria = self.criteria;
        let mut failed = 0;
        let mut fail = |requirement: Requirement, fails: bool| failed |= if fails { requirement.bit() } else { 0 };
        fail(Requirement::Seen, !self.sees_enough(share));
        fail(Requirement::Whole, criteria.whole && candidate.fullness > TOUCHES);
        fail(Requirement::Filled, candidate.fullness + FILLED_HAIR < criteria.filled_share);
        if let Some(wanted_deg) = criteria.largest_lean_deg {
            let lean_deg = candidate.largest_lean.map(|lean| lean.degrees());
            fail(Requirement::Lean, !lean_deg.is_some_and(|lean_deg| lean_deg <= wanted_deg + LEAN_HAIR_DEG));
        }
        if !self.inside.is_empty() || !self.outside.is_empty() {
            let view_from_world = candidate.view_from_world();
            let camera = &candidate.camera;
            let drawn = |corner: &WorldPoint| {
                let pixel = camera.pixel_from_view(&(view_from_world * (corner - eye)));
                pixel.filter(|&pixel| camera.holds(pixel))
            };
            fail(Requirement::Inside, self.inside.iter().flatten().any(|corner| drawn(corner).is_none()));
            // All corners beyond one and the same side of the frame's pyramid, or behind it.
            let window = camera.outer_window();
            let misses = |corners: &Vec<WorldPoint>| {
                let mut beyond = [true; 5];
                for corner in corners {
                    let view = view_from_world * (corner - eye);
                    let sides = [
                        view.x - window.left * view.z,
                        window.right * view.z - view.x,
                        view.y - window.top * view.z,
                        window.bottom * view.z - view.y,
                        view.z,
                    ];
                    beyond.iter_mut().zip(sides).for_each(|(beyond, side)| *beyond &= side < 0.0);
                }
                beyond.iter().any(|&beyond| beyond)
            };
            fail(Requirement::Outside, !self.outside.iter().all(misses));
        }
        failed
    }

    /// The lowest detail that is seen and in the frame, as the full account judges it.
    pub(super) fn detail(&self, candidate: &Candidate, eye: &WorldPoint, scratch: &mut Scratch) -> Option<f64> {
        if !scratch.is_judged {
            self.kernel.judge(eye, scratch.seen[scratch.judged].free.iter(), &mut scratch.surface);
            let named = scratch.named.get_or_insert_with(|| self.kernel.named_points(eye));
            scratch.named_seen =
                named.map(|point| point.and_then(|point| Some((JudgedSurface::of(eye, point)?, None))));
            scratch.is_judged = true;
        }
        let drawing = PointDrawing::of(candidate);
        let mut least = drawing.least(&scratch.surface);
        for (point, seen) in scratch.named_seen.iter_mut().flatten() {
            // Only a point that would have the lowest detail needs to be looked at.
            let Some(px_per_m) = drawing.less(point, least) else { continue };
            let beside = point.surface.point + point.surface.normal * CLEAR_M;
            if *seen.get_or_insert_with(|| self.sight.is_free(eye, &beside)) {
                least = Some(px_per_m);
            }
        }
        least
    }

    /// What it takes to get there, in metres walked on the level.
    fn effort_m(&self, eye: &WorldPoint, stand: &Stand, height: usize) -> f64 {
        let (walk_m, climb_m) = match self.from {
            Some(((x, y), feet_m)) => ((eye.x - x).hypot(eye.y - y), (stand.feet_m - feet_m).max(0.0)),
            None => match stand.support {
                Support::Deck(_) => (0.0, (stand.feet_m - self.model.surface_m((eye.x, eye.y))).max(0.0)),
                Support::Ground | Support::Water => (0.0, 0.0),
            },
        };
        walk_m + CLIMB_IN_WALK * (climb_m + (self.criteria.heights_m[height] - REACH_M).max(0.0))
    }

    /// The lowest camera heights at which enough is seen, and at which every requirement is met.
    fn lowest(
        &self,
        at: PlanPoint,
        stand: &Stand,
        plot: &Plot<'_>,
        visibility: &dyn VisibilityTest,
        scratch: &mut Scratch,
        cell: &mut PlaceResult,
    ) {
        let Some(rungs) = self.criteria.lowest else { return };
        let (mut seen, mut met) = (LowestOf::default(), LowestOf::default());
        let all: Vec<f64> = (0..rungs.count()).map(|rung| rungs.height_m(rung)).collect();
        for some in all.chunks(MOST_EYES) {
            let clear = self.look_from(at, stand, some.iter().copied(), plot, visibility, scratch);
            let mut clear = clear.into_iter().enumerate().peekable();
            for (rung, &height_m) in some.iter().enumerate() {
                // Where no camera can be held, nothing is seen.
                let eye = clear.next_if(|(_, (known, _))| *known == rung);
                let enough = eye.filter(|&(judged, _)| {
                    scratch.judge(judged);
                    self.sees_enough(scratch.share())
                });
                seen.next(height_m, enough.is_some());
                met.next(height_m, enough.is_some_and(|(_, (_, eye))| self.is_met(&eye, scratch)));
            }
        }
        cell.lowest_seen_m = seen.kept_m();
        cell.lowest_met_m = met.kept_m();
    }

    /// Whether some lens and aim meet every requirement from an eye that sees enough.
    fn is_met(&self, eye: &WorldPoint, scratch: &mut Scratch) -> bool {
        self.kernel.look(eye, &mut scratch.subject_view);
        let share = scratch.share();
        self.tried.iter().any(|&(lens, aim)| {
            let (mounted, aim) = (&self.mounted[lens], self.criteria.aims[aim]);
            let Ok(candidate) = self.kernel.candidate(&mut scratch.subject_view, mounted, aim) else {
                return false;
            };
            scratch.misses | self.failed(&candidate, eye, share) == 0
                && self.criteria.detail_px_per_m.is_none_or(|wanted| {
                    self.detail(&candidate, eye, scratch).is_some_and(|px_per_m| px_per_m >= wanted)
                })
        })
    }
}

/// The lowest height at which something holds, and whether it fails again above.
#[derive(Default)]
struct LowestOf {
    first_m: Option<f64>,
    fails_above: bool,
}

impl LowestOf {
    fn next(&mut self, height_m: f64, holds: bool) {
        match self.first_m {
            None if holds => self.first_m = Some(height_m),
            Some(_) if !holds => self.fails_above = true,
            _ => {}
        }
    }

    fn kept_m(&self) -> f64 {
        self.first_m.map_or(f64::NAN, |height_m| if self.fails_above { -height_m } else { height_m })
    }
}
