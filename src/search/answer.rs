//! What do all the places together say?

use std::collections::BTreeMap;

use serde::Serialize;

use crate::angle::Angle;
use crate::appraise::{Account, CLEAR_M, Measures, appraise};
use crate::outline::Subject;
use crate::pose::WorldPoint;
use crate::progress::{Cancelled, Progress};
use crate::record::{FinalPictureRecord, VerdictRecord};
use crate::site::{Access, PlanPoint, Stance, Support};
use crate::stance::{Standing, stand};
use crate::tolerance::{Allowed, Tolerance, tolerances};
use crate::units::Units;
use crate::verdict::{Fault, Verdict};
use crate::wording::{degrees, is_all, percent};

use super::counts::Counts;
use super::criteria::Rank;
use super::daylight::LightCriterion;
use super::evaluate::Evaluator;
use super::kinds::{Difference, Kinds, Standpoint};
use super::map::Map;
use super::openings::{Opening, OpeningTable};
use super::piece::Piece;
use super::place_result::{ParetoFront, PlaceResult, PlaceStatus, Requirement, StoredCandidate, compared};
use super::prepared::Search;

/// The most stances of a front that are listed; the others lie between them.
const MOST_OF_FRONT: usize = 60;
/// The most lenses that are packed.
const MOST_PACKED: usize = 3;

/// What a search found.
#[derive(Clone, Debug)]
pub struct Answer {
    /// Every place.
    pub map: Map,
    /// Places that meet every requirement and differ in kind, the best first.
    pub ranked: Vec<Ranked>,
    /// Stances that nothing beats at once in lean (to 0.1°), detail (to 1 px/m) and effort (to 1 m), the straightest
    /// first.
    pub front: Vec<Ranked>,
    /// How many stances the front has, listed or not.
    pub front_size: usize,
    /// Which one, two and three lenses serve the most places.
    pub packing: Vec<LensSet>,
    /// Which requirement rules out how much.
    pub criteria: Vec<RequirementCount>,
    /// If no place meets every requirement: which changes of them open how many.
    pub openings: Vec<Opening>,
    /// How many places there are in all, small decks included.
    pub places: u64,
    /// At how many of them one can stand.
    pub looked: u64,
    /// At how many some candidate meets every requirement.
    pub met: u64,
    /// How many candidates were looked at.
    pub candidates: u64,
    /// How many places are closed, under water, occupied, too near and too far.
    pub out: [u64; 5],
}

/// A stance that was found.
#[derive(Clone, Debug, Serialize)]
pub struct Ranked {
    /// Counted from 1.
    pub number: usize,
    /// Where it is; in JSON its words in metres.
    pub place: StandpointWords,
    /// The stance itself: taken up again it measures as `figures` say.
    pub stance: Stance,
    /// What one stands on, by name, where it has one.
    pub on: Option<String>,
    /// Whether one may stand there.
    pub access: Access,
    /// What it amounts to, from the full account.
    pub figures: RankedFigures,
    /// Whether its picture is upright, in parts.
    pub verdict: VerdictRecord,
    /// The picture that is handed over; absent where there is no subject.
    pub final_picture: Option<FinalPictureRecord>,
    /// Why it is here, in words.
    pub reason: String,
    /// How exactly one must stand.
    #[serde(skip)]
    pub tolerance: Option<Tolerance>,
    /// The same in metres: the least of left and right, forward, back, up and down; null where nothing matters within 50 m. It is
    /// told of the listed stances only.
    #[serde(rename = "slack_m")]
    pub tolerance_m: Option<ToleranceFigures>,
}

/// Where a place is: on what, how far from the subject, and which way from its middle.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(into = "String")]
pub struct StandpointWords {
    on: Option<String>,
    away_m: f64,
    bearing: Angle,
}

impl StandpointWords {
    /// Where an eye beside the subject is, `on` what it stands on.
    pub fn of(subject: &Subject, eye: &WorldPoint, on: Option<String>) -> Self {
        let middle = subject.middle;
        let bearing = Angle::bearing_of(eye.x - middle.x, eye.y - middle.y);
        Self { on, away_m: subject.distance_m(eye), bearing }
    }

    /// "stage, 34 m south-east", or "112 ft south-east" for feet; the wind is one of eight.
    pub fn words(&self, units: Units) -> String {
        const WINDS: [&str; 8] =
            ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"];
        let wind = WINDS[((self.bearing.compass_degrees() + 22.5) / 45.0) as usize % 8];
        let away = format!("{} {wind}", units.length(self.away_m, 0));
        self.on.as_ref().map_or(away.clone(), |name| format!("{name}, {away}"))
    }
}

impl From<StandpointWords> for String {
    fn from(place: StandpointWords) -> Self {
        place.words(Units::M)
    }
}

/// How far one may be off, in metres.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct ToleranceFigures {
    /// To either side.
    pub sideways_m: Option<f64>,
    /// Nearer.
    pub forward_m: Option<f64>,
    /// Farther.
    pub back_m: Option<f64>,
    /// Higher.
    pub up_m: Option<f64>,
    /// Lower.
    pub down_m: Option<f64>,
}

/// The figures of a stance; as `measure` gives them at it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct RankedFigures {
    /// To the subject's nearest wall, in plan.
    pub distance_m: Option<f64>,
    /// The focal length set.
    pub focal_mm: f64,
    /// The rise set.
    pub rise_mm: f64,
    /// Clockwise from true north.
    pub heading_deg: f64,
    /// Above the horizon.
    pub pitch_deg: f64,
    /// Of the plumb lines that bound the subject.
    pub convergence_deg: Option<f64>,
    /// Of the subject's verticals in the frame.
    #[serde(rename = "worst_lean_deg")]
    pub largest_lean_deg: Option<f64>,
    /// The lowest at any point that is seen.
    pub detail_px_per_m: Option<f64>,
    /// Of what faces the camera.
    pub visible_share: Option<f64>,
    /// Of what faces the camera.
    pub in_frame_share: Option<f64>,
    /// How much of the frame within its margins the subject takes.
    pub fullness: Option<f64>,
    /// From the front's normal to the line of sight, clockwise; null where there is no front.
    pub front_deg: Option<f64>,
    /// For how many minutes the sun is on the face of the picture; null where nobody asked.
    pub light_minutes: Option<f64>,
    /// Of the body's head.
    #[serde(rename = "head_elevation_deg")]
    pub top_elevation_deg: Option<f64>,
    /// In metres walked on the level.
    pub effort_m: f64,
}

/// A few lenses of the bag.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LensSet {
    /// By name.
    pub lenses: Vec<String>,
    /// At how many places one of them meets every requirement, with at least four fifths of the most detail that any lens gives
    /// there.
    pub places: u64,
    /// Of the places that any lens of the bag serves.
    pub share: f64,
}

/// What one requirement does.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RequirementCount {
    /// Which.
    #[serde(skip)]
    pub requirement: Requirement,
    /// In words.
    #[serde(rename = "wished")]
    pub requirement_words: String,
    /// At how many of the places that were looked at it is met, were it the only one.
    pub met_alone: u64,
    /// At how many places all the other requirements are met: so many it would leave if it were dropped.
    pub met_without: u64,
}

/// Puts pieces together, in their order.
pub(super) fn answer(search: &Search<'_>, pieces: Vec<Piece>, progress: &Progress) -> Result<Answer, Cancelled> {
    let mut map = Map::new(*search.lattice(), 1);
    let (mut counts, mut front, mut extras) = (Counts::default(), ParetoFront::default(), Vec::new());
    let (mut kinds, mut table) = (Kinds::default(), OpeningTable::default());
    for piece in pieces {
        kinds.add(&piece.kinds);
        piece.openings.iter().for_each(|openings| table.add(openings));
        map.tiles.extend(piece.tiles);
        extras.extend(piece.extras);
        counts.add(&piece.counts);
        piece.front.kept.iter().for_each(|candidate| front.offer(candidate));
    }
    front.sort();
    let Ok(evaluator) = search.evaluator() else { return Err(Cancelled) };
    let teller = Reporter { search, evaluator: &evaluator, extras: &extras };
    let mut ranked = Vec::new();
    let listed = teller.different(&kinds);
    for standpoint in &listed {
        progress.check()?;
        let first = listed.first().filter(|first| first.candidate.order != standpoint.candidate.order);
        let why = match first {
            None => teller.best_words(&standpoint.candidate),
            Some(first) => {
                let differences: Vec<&str> = standpoint.differences(first).into_iter().map(Difference::words).collect();
                format!("{} than 1", differences.join(", "))
            }
        };
        ranked.extend(teller.ranked(ranked.len() + 1, &standpoint.candidate, Some(why)));
    }
    let front_size = front.kept.len();
    let shown = MOST_OF_FRONT.min(front_size);
    let spread = (0..shown).map(|index| index * front_size / shown.max(1));
    let front = spread.enumerate().filter_map(|(number, index)| teller.ranked(number + 1, &front.kept[index], None));
    let front = front.collect();
    let count = |ground: PlaceStatus| counts.ground[ground as usize];
    let openings = if counts.met == 0 {
        let offered = search.offered();
        table.openings(&offered, offered.step(search.lattice().len()))
    } else {
        Vec::new()
    };
    Ok(Answer {
        openings,
        ranked,
        front,
        front_size,
        packing: packing(&search.criteria().lenses, &counts.lenses),
        criteria: requirement_counts(search, &counts),
        places: counts.ground.iter().sum(),
        looked: count(PlaceStatus::Looked),
        met: counts.met,
        candidates: counts.candidates,
        out: [
            PlaceStatus::Closed,
            PlaceStatus::Water,
            PlaceStatus::Occupied,
            PlaceStatus::TooNear,
            PlaceStatus::TooFar,
        ]
        .map(count),
        map,
    })
}

/// The best choice of one, two and three lenses.
fn packing(names: &[String], sets: &BTreeMap<u32, u64>) -> Vec<LensSet> {
    let all: u64 = sets.values().sum();
    let mut packings: Vec<LensSet> = Vec::new();
    for size in 1..=MOST_PACKED.min(names.len()) {
        let mut best: Option<(u64, u32)> = None;
        choose(names.len(), size, 0, 0, &mut |chosen| {
            let served = sets.iter().filter(|&(&set, _)| set & chosen != 0).map(|(_, count)| count).sum();
            if best.is_none_or(|(known, _)| served > known) {
                best = Some((served, chosen));
            }
        });
        let Some((places, chosen)) = best.filter(|&(places, _)| places > 0) else { break };
        // One lens more that serves nothing more stays at home.
        if packings.last().is_some_and(|fewer| fewer.places == places) {
            break;
        }
        let lenses = names.iter().enumerate().filter(|(index, _)| chosen >> index & 1 == 1);
        let lenses = lenses.map(|(_, name)| name.clone()).collect();
        packings.push(LensSet { lenses, places, share: places as f64 / all as f64 });
    }
    packings
}

/// Every choice of `size` out of `count`, as sets of bits, in order.
fn choose(count: usize, size: usize, from: usize, chosen: u32, each: &mut dyn FnMut(u32)) {
    if size == 0 {
        return each(chosen);
    }
    for index in from..=count.saturating_sub(size) {
        choose(count, size - 1, index + 1, chosen | 1 << index, each);
    }
}

fn requirement_counts(search: &Search<'_>, counts: &Counts) -> Vec<RequirementCount> {
    let criteria = search.criteria();
    let names = |names: &[String]| names.iter().map(|name| format!("'{name}'")).collect::<Vec<_>>().join(", ");
    let requirement_words = |requirement: Requirement| match requirement {
        Requirement::Seen => Some(format!("at least {} of the subject seen", percent(criteria.seen_share))),
        Requirement::Whole => criteria.whole.then(|| "the subject whole in the frame, with its margins".into()),
        Requirement::Front => {
            let (from_deg, to_deg) = search.subject().ok().and_then(|subject| criteria.front_of(subject))?;
            let range =
                if from_deg > 0.0 { format!("{from_deg}° to {to_deg}°") } else { format!("at most {to_deg}°") };
            Some(format!("an angle to the front of {range}"))
        }
        Requirement::Light => {
            criteria.light.as_ref().filter(|light| light.least_minutes > 0.0).map(LightCriterion::words)
        }
        Requirement::Filled => (criteria.filled_share > 0.0)
            .then(|| format!("the subject fills at least {} of the frame", percent(criteria.filled_share))),
        Requirement::Lean => criteria.largest_lean_deg.map(|lean_deg| format!("a largest lean of at most {lean_deg}°")),
        Requirement::Detail => criteria.detail_px_per_m.map(|detail| format!("a detail of at least {detail} px/m")),
        Requirement::Inside => {
            (!criteria.inside.is_empty()).then(|| format!("{} in the frame", names(&criteria.inside)))
        }
        Requirement::Outside => {
            (!criteria.outside.is_empty()).then(|| format!("{} out of the frame", names(&criteria.outside)))
        }
    };
    let count = |(index, requirement): (usize, Requirement)| {
        Some(RequirementCount {
            requirement,
            requirement_words: requirement_words(requirement)?,
            met_alone: counts.alone[index],
            met_without: counts.others[index],
        })
    };
    Requirement::ALL.into_iter().enumerate().filter_map(count).collect()
}

/// Puts the candidates that the search has kept into figures and words.
struct Reporter<'a> {
    search: &'a Search<'a>,
    evaluator: &'a Evaluator<'a>,
    extras: &'a [(PlanPoint, PlaceResult)],
}

impl Reporter<'_> {
    fn at(&self, candidate: &StoredCandidate) -> PlanPoint {
        let (lattice, place) = (self.search.lattice(), candidate.order.place());
        match place.checked_sub(lattice.len()) {
            Some(extra) => self.extras.get(extra).map_or((0.0, 0.0), |(at, _)| *at),
            None => lattice.at((place % lattice.columns as usize) as u32, (place / lattice.columns as usize) as u32),
        }
    }

    /// A candidate as it is listed.
    fn standpoint(&self, candidate: &StoredCandidate) -> Standpoint {
        let (at, middle) = (self.at(candidate), self.evaluator.subject.middle);
        let bearing = Angle::bearing_of(at.0 - middle.x, at.1 - middle.y);
        let on_deck = self.search.surface(candidate, at).is_some_and(|stand| matches!(stand.support, Support::Deck(_)));
        Standpoint { candidate: *candidate, at, bearing, on_deck }
    }

    /// The best of all, then the best of those that lie far enough from it and differ in kind, and so on.
    fn different(&self, kinds: &Kinds) -> Vec<Standpoint> {
        let criteria = self.search.criteria();
        let mut chosen: Vec<Standpoint> = Vec::new();
        for (_, candidate) in kinds.sorted() {
            if chosen.len() == criteria.places {
                break;
            }
            let standpoint = self.standpoint(&candidate);
            let is_new = |known: &Standpoint| {
                standpoint.apart_m(known) >= criteria.difference_m && !standpoint.differences(known).is_empty()
            };
            if chosen.iter().all(is_new) {
                chosen.push(standpoint);
            }
        }
        chosen
    }

    /// A stance with all its figures, from the full account; `None` where it cannot be taken up, which would be a
    /// fault of this search.
    fn ranked(&self, number: usize, candidate: &StoredCandidate, why: Option<String>) -> Option<Ranked> {
        let (search, evaluator) = (self.search, self.evaluator);
        let (criteria, model) = (search.criteria(), evaluator.model);
        let at = self.at(candidate);
        let stance = search.stance(candidate, at, &format!("found {number}"))?;
        let footing = model.footing(at, stance.on.as_deref()).ok()?;
        let kit = &search.survey().kit;
        let standing = stand(model, Some(evaluator.subject), &stance, kit).ok()?;
        let (upright, seen_share) = (Angle::from_degrees(criteria.upright_deg), criteria.seen_share);
        let measures = Measures { upright, seen_share, ..Measures::default() };
        let account = appraise(model, Ok(evaluator.subject), Some(evaluator.sight), &standing, &measures);
        let allowed = Allowed { measures: &measures, lean_change: Angle::from_degrees(criteria.tolerance_deg) };
        // It takes many more stances than one, and nobody reads it of the trade-offs.
        let is_listed = why.is_some();
        let tolerance = is_listed
            .then(|| tolerances(model, evaluator.subject, Some(evaluator.sight), &stance, &standing, allowed))
            .flatten()
            .map(|both| both.anew);
        let figures = figures(&standing, &account, candidate);
        let verdict = Verdict::of(model, &account, &measures);
        let reason = self.reason(candidate, &standing, &account, &verdict, why);
        let place = StandpointWords::of(evaluator.subject, &standing.pose.eye, footing.name.clone());
        let tolerance_m = is_listed.then(|| {
            let Some(tolerance) = tolerance else { return ToleranceFigures::default() };
            ToleranceFigures {
                sideways_m: [tolerance.left_m, tolerance.right_m].into_iter().flatten().reduce(f64::min),
                forward_m: tolerance.forward_m,
                back_m: tolerance.back_m,
                up_m: tolerance.up_m,
                down_m: tolerance.down_m,
            }
        });
        Some(Ranked {
            number,
            place,
            stance,
            on: footing.name,
            access: footing.access,
            figures,
            verdict: VerdictRecord::of(&verdict),
            final_picture: account.final_picture.as_ref().map(FinalPictureRecord::of),
            reason,
            tolerance,
            tolerance_m,
        })
    }

    /// Why the first of the list is there.
    fn best_words(&self, candidate: &StoredCandidate) -> String {
        let criteria = self.search.criteria();
        let is_upright = !criteria.key(false, candidate).1[0].is_positive();
        let words = match criteria.rank {
            Rank::Upright if !is_upright => "nothing is upright enough; this is nearest to it",
            Rank::Upright if criteria.from.is_none() => {
                "the least climb, then the most detail, of what is upright enough"
            }
            Rank::Upright => "the least walk and climb to what is upright enough",
            Rank::Lean => "the least lean of all",
            Rank::Detail => "the most detail of all",
            Rank::Effort => "the least walk of all",
            Rank::Light => "the longest sun on its face of all",
        };
        words.to_owned()
    }

    /// Why a stance is listed.
    fn reason(
        &self,
        candidate: &StoredCandidate,
        standing: &Standing,
        account: &Account,
        verdict: &Verdict,
        why: Option<String>,
    ) -> String {
        let mut words: Vec<String> = why.into_iter().collect();
        if let Some(front) = account.front.filter(|front| front.named) {
            words.push(format!("{:.0}° from the front", front.angle_to(&standing.pose.eye).degrees().abs()));
        }
        match account.visible_share {
            Some(share) if is_all(share) => words.push("all of it seen".into()),
            Some(share) => words.push(match self.hides_most(&standing.pose.eye) {
                Some(block) => format!("{} of it seen, most of the rest is behind '{block}'", percent(share)),
                None => format!("{} of it seen", percent(share)),
            }),
            None => {}
        }
        if !candidate.light_minutes.is_nan() {
            words.push(match candidate.light_minutes {
                minutes if minutes < 1.0 => "no sun on its face".into(),
                minutes => format!("{minutes:.0} min of sun on its face"),
            });
        }
        if verdict.upright {
            words.push("upright".into());
        } else if let [.., Fault::PictureLeans { lean, block }] = verdict.faults.as_slice()
            && verdict.subject_upright == Some(true)
        {
            words.push(format!("subject upright, {block} leans {}", degrees(lean.degrees())));
        }
        if let Some(fullness) = standing.fullness {
            if fullness > 1.0 + 1e-9 {
                words.push("the frame cuts it".into());
            } else if fullness < 0.95 {
                words.push(format!("fills {} of the frame", percent(fullness)));
            }
        }
        if compared(candidate.largest_lean.to_degrees(), 1e4) != 0
            && account.convergence.is_some_and(|convergence| convergence.angle() < Angle::ZERO)
        {
            words.push("diverges toward the top".into());
        }
        words.join("; ")
    }

    /// The block that hides most of what faces an eye.
    fn hides_most(&self, eye: &WorldPoint) -> Option<String> {
        let mut hides: BTreeMap<u32, usize> = BTreeMap::new();
        for sample in &self.evaluator.subject.samples {
            let target = sample.point + sample.normal * CLEAR_M;
            if sample.normal.dot(&(eye - sample.point)) <= 0.0 || self.evaluator.sight.is_free(eye, &target) {
                continue;
            }
            let Some(direction) = (target - eye).try_normalize(1e-9) else { continue };
            let hit = self.evaluator.sight.first_hit(eye, &direction, 2e-3);
            if let Some(crate::sight::Surface::Block { block, .. }) = hit.map(|hit| hit.surface) {
                *hides.entry(block).or_default() += 1;
            }
        }
        let most = hides.into_iter().max_by_key(|&(block, count)| (count, std::cmp::Reverse(block)));
        most.map(|(block, _)| self.evaluator.model.site.blocks[block as usize].name.clone())
    }
}

fn figures(standing: &Standing, account: &Account, candidate: &StoredCandidate) -> RankedFigures {
    let in_degrees = |angle: Option<Angle>| angle.map(Angle::degrees);
    RankedFigures {
        distance_m: account.distance_m,
        focal_mm: standing.camera.focal_mm,
        rise_mm: standing.camera.rise_mm,
        heading_deg: standing.pose.attitude.heading.compass_degrees(),
        pitch_deg: standing.pose.attitude.pitch.degrees(),
        convergence_deg: in_degrees(account.convergence.map(|convergence| convergence.angle())),
        largest_lean_deg: in_degrees(account.largest_lean),
        detail_px_per_m: account.lowest_detail.map(|(detail, _)| detail.px_per_m),
        visible_share: account.visible_share,
        in_frame_share: account.in_frame_share,
        fullness: standing.fullness,
        front_deg: account.front.map(|front| front.angle_to(&standing.pose.eye).degrees()),
        top_elevation_deg: in_degrees(account.top_elevation),
        effort_m: candidate.effort_m,
        light_minutes: (!candidate.light_minutes.is_nan()).then_some(candidate.light_minutes),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_is_told_in_the_unit_that_is_asked_for() {
        let place = |on: Option<&str>, bearing_deg: f64| StandpointWords {
            on: on.map(str::to_owned),
            away_m: 30.48,
            bearing: Angle::from_degrees(bearing_deg),
        };
        assert_eq!(String::from(place(None, 22.4)), "30 m north");
        assert_eq!(place(None, 22.6).words(Units::Ft), "100 ft north-east", "a foot is 0.3048 m");
        assert_eq!(place(Some("stage"), -22.6).words(Units::M), "stage, 30 m north-west");
        assert_eq!(place(None, 350.0).words(Units::M), "30 m north");
    }

    #[test]
    fn the_bag_is_packed_with_what_serves_most() {
        let names: Vec<String> = ["a", "b", "c", "d"].map(String::from).to_vec();
        // By hand: a serves 10 + 5, b 5 + 20 + 1, c 1 + 20, d 3.
        let sets = BTreeMap::from([(0b0001, 10), (0b0011, 5), (0b0110, 20), (0b0010, 1), (0b0100, 1), (0b1000, 3)]);
        let packed = packing(&names, &sets);
        let listed: Vec<(Vec<String>, u64)> =
            packed.into_iter().map(|packing| (packing.lenses, packing.places)).collect();
        let named = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect::<Vec<_>>();
        assert_eq!(listed, [(named(&["b"]), 26), (named(&["a", "b"]), 36), (named(&["a", "b", "d"]), 39)]);
        assert!(packing(&names, &BTreeMap::new()).is_empty());
    }
}
