//! If nowhere meets every requirement: which change opens how many standpoints, which pair of changes, and at which value?
//!
//! Every standpoint is looked at once more with all aims, all lenses of the kit, some camera heights more and the ground that needs
//! permission. What a candidate needs beyond the requirements as they are is one change, two, or too many; of those that need
//! one or two, each standpoint leaves its least needs in a table, from which the standpoints that any value opens are counted.
//! The count is what the search finds with the changed requirements. Where the site is too large to look at all of that, every
//! so many-th standpoint is looked at, and the count is told as about right.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::appraise::Mounted;
use crate::optics::{Kit, Lens, Mapping};
use crate::site::{Access, Aim};
use crate::units::Units;
use crate::wording::percent;

use super::criteria::{AIMS, Criteria, MOST_OF_A_KIND, USUAL_FRONT_DEG};
use super::place_result::Requirement;

/// Camera heights that are offered besides those required: a short ladder or the roof of a vehicle, and a pole (common
/// practice, no source).
const OFFERED_HEIGHTS_M: [f64; 2] = [3.0, 6.0];
/// The most candidates that are looked at for this.
const MOST_LOOKED_AT: f64 = 1e7;
/// The most pairs of changes that are offered.
const MOST_PAIRS: usize = 4;

/// A change of the requirements.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Change {
    /// Less of the subject need be seen: this share.
    Seen(f64),
    /// The frame may cut the subject.
    AllowCut,
    /// The subject fills less of the frame: this share.
    Filled(f64),
    /// One may stand up to this angle to the front, in degrees.
    FrontTo(f64),
    /// One may stand from this angle to the front on, in degrees.
    FrontFrom(f64),
    /// The sun need be on the face for so many minutes only; for none where it is 0.
    Light(f64),
    /// A larger lean is allowed, in degrees.
    Lean(f64),
    /// Less detail will do, in px/m.
    Detail(f64),
    /// Nothing besides the subject need be in the frame.
    DropInside,
    /// Nothing need be out of the frame.
    DropOutside,
    /// Ground that needs permission is walked on.
    WithPermission,
    /// One lens more is tried.
    Lens(String),
    /// One aim more is tried.
    Aim(Aim),
    /// One camera height more is tried, in metres.
    Height(f64),
}

impl Change {
    /// What is required, or tried, once the change is made.
    pub fn words(&self, units: Units) -> String {
        match self {
            Self::Seen(share) => format!("at least {} of the subject seen", percent(*share)),
            Self::AllowCut => "the frame may cut the subject".into(),
            Self::Filled(share) => format!("the subject fills at least {} of the frame", percent(*share)),
            Self::FrontTo(degrees) => format!("up to {degrees:.0}° from the front"),
            Self::FrontFrom(degrees) => format!("from {degrees:.0}° to the front on"),
            Self::Light(minutes) if *minutes < 1.0 => "no sun need be on the face".into(),
            Self::Light(minutes) => format!("sun on the face for at least {minutes:.0} min"),
            Self::Lean(degrees) => format!("a largest lean of at most {degrees}°"),
            Self::Detail(px_per_m) => format!("a detail of at least {}", units.detail(*px_per_m)),
            Self::DropInside => "nothing else need be in the frame".into(),
            Self::DropOutside => "nothing need be out of the frame".into(),
            Self::WithPermission => "ground that needs permission".into(),
            Self::Lens(name) => format!("also the {name}"),
            Self::Aim(Aim::Level) => "also a level camera".into(),
            Self::Aim(Aim::Rise) => "also a level camera with rise".into(),
            Self::Aim(Aim::LeastTilt) => "also a camera tilted as little as holds the subject".into(),
            Self::Aim(_) => "also a camera pitched to fill the frame".into(),
            Self::Height(height_m) => format!("also a camera {} up", units.length(*height_m, 0)),
        }
    }

    /// Makes the change.
    pub fn apply(&self, criteria: &mut Criteria) {
        match self {
            Self::Seen(share) => criteria.seen_share = *share,
            Self::AllowCut => criteria.whole = false,
            Self::Filled(share) => criteria.filled_share = *share,
            Self::FrontTo(degrees) => criteria.front_deg = Some((front_deg(criteria).0, *degrees)),
            Self::FrontFrom(degrees) => criteria.front_deg = Some((*degrees, front_deg(criteria).1)),
            Self::Light(minutes) => {
                if let Some(light) = &mut criteria.light {
                    light.least_minutes = *minutes;
                }
            }
            Self::Lean(degrees) => criteria.largest_lean_deg = Some(*degrees),
            Self::Detail(px_per_m) => criteria.detail_px_per_m = Some(*px_per_m),
            Self::DropInside => criteria.inside.clear(),
            Self::DropOutside => criteria.outside.clear(),
            Self::WithPermission => criteria.access = Access::Ask,
            Self::Lens(name) => criteria.lenses.push(name.clone()),
            Self::Aim(aim) => criteria.aims.push(*aim),
            Self::Height(height_m) => criteria.heights_m.push(*height_m),
        }
    }
}

/// The angles to the front that are required of a subject that has one.
fn front_deg(criteria: &Criteria) -> (f64, f64) {
    criteria.front_deg.unwrap_or(USUAL_FRONT_DEG)
}

/// One change or two that open standpoints.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Opening {
    /// The changes; with both of two, not with one of them.
    pub changes: Vec<Change>,
    /// How many standpoints meet every requirement then.
    pub standpoints: u64,
    /// Whether all standpoints were looked at for it; otherwise the count is about right.
    pub exact: bool,
}

impl Opening {
    /// The requirements with the changes made.
    pub fn changed(&self, criteria: &Criteria) -> Criteria {
        let mut changed = criteria.clone();
        self.changes.iter().for_each(|change| change.apply(&mut changed));
        changed
    }
}

/// A change, as a number.
pub(super) type ChangeId = u8;
pub(super) const CUT: ChangeId = 16;
pub(super) const INSIDE: ChangeId = 17;
pub(super) const OUTSIDE: ChangeId = 18;
pub(super) const PERMISSION: ChangeId = 19;
pub(super) const FRONT_FROM: ChangeId = 20;
/// The first of the lenses, aims and heights, each kind with room for as many as there may be.
pub(super) const LENSES: ChangeId = 32;
pub(super) const AIMS_FROM: ChangeId = 64;
pub(super) const HEIGHTS: ChangeId = 96;

/// How far a requirement must change: in steps of its figure, or 1 for what is dropped or added; 0 where it need not.
pub(super) type Steps = u16;

/// What a candidate needs: at most two changes.
pub(super) type Needs = [(ChangeId, Steps); 2];

/// The requirements with everything offered, and how much of it is required as they are.
#[derive(Clone, Debug)]
pub(super) struct Offered {
    pub(super) criteria: Criteria,
    pub(super) mounted: Vec<Mounted>,
    pub(super) tried: Vec<(usize, usize)>,
    /// All changes that there are.
    pub(super) changes: Vec<ChangeId>,
    pub(super) heights: usize,
    pub(super) lenses: usize,
    pub(super) aims: usize,
    pub(super) access: Access,
}

impl Offered {
    pub(super) fn beyond(required: &Criteria, has_front: bool, kit: &Kit, mounted: &[Mounted]) -> Self {
        let mut criteria = required.clone();
        let mut mounted = mounted.to_vec();
        let fits = |lens: &&Lens| lens.mapping == Mapping::Rectilinear && !mounted.iter().any(|own| own.lens == **lens);
        let more: Vec<_> =
            kit.lenses.iter().filter(fits).take(MOST_OF_A_KIND - required.lenses.len()).cloned().collect();
        for lens in more {
            criteria.lenses.push(lens.name.clone());
            mounted.push(Mounted { lens, focal_mm: None });
        }
        criteria.aims.extend(AIMS.into_iter().filter(|aim| !required.aims.contains(aim)));
        let highest_m = required.heights_m.iter().copied().fold(0.0, f64::max);
        let room = MOST_OF_A_KIND - required.heights_m.len();
        criteria.heights_m.extend(OFFERED_HEIGHTS_M.into_iter().filter(|height_m| *height_m > highest_m).take(room));
        criteria.access = Access::Ask;
        criteria.lowest = None;
        let lenses: Vec<Lens> = mounted.iter().map(|mounted| mounted.lens.clone()).collect();
        let mut offered = Self {
            tried: criteria.tried(&lenses),
            changes: Vec::new(),
            heights: required.heights_m.len(),
            lenses: required.lenses.len(),
            aims: required.aims.len(),
            access: required.access,
            criteria,
            mounted,
        };
        offered.changes = offered.all_changes(has_front);
        offered
    }

    /// Every so many-th place of so many is looked at.
    pub(super) fn step(&self, places: usize) -> u32 {
        let candidates = places as f64 * (self.tried.len() * self.criteria.heights_m.len()) as f64;
        (candidates / MOST_LOOKED_AT).sqrt().ceil().max(1.0) as u32
    }

    fn all_changes(&self, has_front: bool) -> Vec<ChangeId> {
        let required = |(requirement, id): (Requirement, ChangeId)| {
            let criteria = &self.criteria;
            let asked = match requirement {
                Requirement::Seen => criteria.seen_share > 0.0,
                Requirement::Whole => criteria.whole,
                Requirement::Filled => criteria.filled_share > 0.0,
                Requirement::Lean => criteria.largest_lean_deg.is_some(),
                Requirement::Detail => criteria.detail_px_per_m.is_some(),
                Requirement::Inside => !criteria.inside.is_empty(),
                Requirement::Outside => !criteria.outside.is_empty(),
                Requirement::Front => has_front,
                Requirement::Light => criteria.light.as_ref().is_some_and(|light| light.least_minutes > 0.0),
            };
            asked.then_some(id)
        };
        let mut all: Vec<ChangeId> = Requirement::ALL
            .into_iter()
            .map(|requirement| (requirement, change_of(requirement)))
            .filter_map(required)
            .collect();
        all.extend((self.access < Access::Ask).then_some(PERMISSION));
        all.extend(has_front.then_some(FRONT_FROM));
        let more = |from: ChangeId, own: usize, all: usize| (own..all).map(move |index| from + index as u8);
        all.extend(more(LENSES, self.lenses, self.criteria.lenses.len()));
        all.extend(more(AIMS_FROM, self.aims, self.criteria.aims.len()));
        all.extend(more(HEIGHTS, self.heights, self.criteria.heights_m.len()));
        all.sort_unstable();
        all
    }

    /// A change by its number and steps.
    fn change(&self, id: ChangeId, steps: Steps) -> Change {
        let hundredths = f64::from(100 - steps.min(100)) / 100.0;
        match id {
            CUT => Change::AllowCut,
            INSIDE => Change::DropInside,
            OUTSIDE => Change::DropOutside,
            PERMISSION => Change::WithPermission,
            FRONT_FROM => Change::FrontFrom(f64::from(180 - steps.min(180))),
            LENSES..AIMS_FROM => Change::Lens(self.criteria.lenses[usize::from(id - LENSES)].clone()),
            AIMS_FROM..HEIGHTS => Change::Aim(self.criteria.aims[usize::from(id - AIMS_FROM)]),
            HEIGHTS.. => Change::Height(self.criteria.heights_m[usize::from(id - HEIGHTS)]),
            _ if id == change_of(Requirement::Seen) => Change::Seen(hundredths),
            _ if id == change_of(Requirement::Filled) => Change::Filled(hundredths),
            _ if id == change_of(Requirement::Front) => Change::FrontTo(f64::from(steps)),
            _ if id == change_of(Requirement::Light) => Change::Light(DAY_STEPS - f64::from(steps)),
            _ if id == change_of(Requirement::Lean) => Change::Lean(f64::from(steps) / 10.0),
            _ => Change::Detail(f64::from(Steps::MAX - steps)),
        }
    }

    /// What a change costs, for the order in which changes are offered: a twentieth of the subject seen, a tenth of the frame,
    /// half a degree, ten degrees about the front, a quarter of an hour of sun or a fifth of the detail are about as much each as
    /// another lens for half the price (common practice, no source).
    fn cost(&self, change: &Change) -> f64 {
        let criteria = &self.criteria;
        match change {
            Change::Seen(share) => (criteria.seen_share - share) / 0.05,
            Change::Filled(share) => (criteria.filled_share - share) / 0.1,
            Change::FrontTo(degrees) => (degrees - front_deg(criteria).1) / 10.0,
            Change::FrontFrom(degrees) => (front_deg(criteria).0 - degrees) / 10.0,
            Change::Light(minutes) => {
                (criteria.light.as_ref().map_or(0.0, |light| light.least_minutes) - minutes) / 15.0
            }
            Change::Lean(degrees) => (degrees - criteria.largest_lean_deg.unwrap_or(0.0)) / 0.5,
            Change::Detail(px_per_m) => {
                (criteria.detail_px_per_m.unwrap_or(1.0) / px_per_m.max(0.1)).ln() / 1.25_f64.ln()
            }
            Change::Aim(_) => 0.5,
            Change::Lens(_) => 2.0,
            Change::Height(height_m) => 0.7 * height_m,
            Change::WithPermission => 3.0,
            Change::DropInside | Change::DropOutside => 4.0,
            Change::AllowCut => 6.0,
        }
    }
}

pub(super) const fn change_of(requirement: Requirement) -> ChangeId {
    match requirement {
        Requirement::Whole => CUT,
        Requirement::Inside => INSIDE,
        Requirement::Outside => OUTSIDE,
        Requirement::Seen
        | Requirement::Filled
        | Requirement::Lean
        | Requirement::Detail
        | Requirement::Front
        | Requirement::Light => requirement as u8,
    }
}

/// What is to be changed so that a candidate serves, gathered one after the other.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Gathered {
    needs: Needs,
    pub(super) count: usize,
}

/// No change.
const NONE: ChangeId = ChangeId::MAX;

impl Gathered {
    /// One change more; `None` where it is one too many.
    pub(super) fn with(mut self, id: ChangeId, steps: Steps) -> Option<Self> {
        *self.needs.get_mut(self.count)? = (id, steps);
        self.count += 1;
        Some(self)
    }

    pub(super) fn with_if(self, needed: bool, id: ChangeId) -> Option<Self> {
        if needed { self.with(id, 1) } else { Some(self) }
    }

    pub(super) fn sorted(mut self) -> Needs {
        for empty in &mut self.needs[self.count..] {
            *empty = (NONE, 0);
        }
        self.needs.sort_unstable();
        self.needs
    }
}

/// The steps by which the standpoints that a value opens are counted: where a standpoint's region begins, and where two of
/// its corners overlap.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Corners {
    begin: u64,
    overlap: u64,
}

/// The counts of one pair of changes, by the steps of both.
type StepCells = BTreeMap<(Steps, Steps), Corners>;

/// How many standpoints need what. Changes are pairs; one alone is a pair with [`NONE`].
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct OpeningTable {
    /// By both changes, and then by both steps.
    cells: BTreeMap<(ChangeId, ChangeId), StepCells>,
}

/// A change or a pair of them with what it costs, and by how many steps.
type Costed = (f64, (ChangeId, ChangeId), (Steps, Steps));

/// How many numbers a row of the table is.
pub(super) const ROW_NUMBERS: usize = 6;

impl OpeningTable {
    /// The table as rows of numbers.
    pub(super) fn rows(&self) -> Vec<[u64; ROW_NUMBERS]> {
        let row = |(&(one, other), cells): (&(ChangeId, ChangeId), &StepCells)| {
            let row = move |(&(first, second), corners): (&(Steps, Steps), &Corners)| {
                let changes = [u64::from(one), u64::from(other), u64::from(first), u64::from(second)];
                [changes[0], changes[1], changes[2], changes[3], corners.begin, corners.overlap]
            };
            cells.iter().map(row).collect::<Vec<_>>()
        };
        self.cells.iter().flat_map(row).collect()
    }

    /// The table from its rows.
    pub(super) fn from_rows(rows: &[[u64; ROW_NUMBERS]]) -> Self {
        let mut table = Self::default();
        for &[one, other, first, second, begin, overlap] in rows {
            let cells = table.cells.entry((one as ChangeId, other as ChangeId)).or_default();
            cells.insert((first as Steps, second as Steps), Corners { begin, overlap });
        }
        table
    }

    pub(super) fn add(&mut self, other: &Self) {
        for (changes, cells) in &other.cells {
            let own = self.cells.entry(*changes).or_default();
            for (steps, corners) in cells {
                let known = own.entry(*steps).or_default();
                known.begin += corners.begin;
                known.overlap += corners.overlap;
            }
        }
    }

    /// Takes in what the candidates of one standpoint need.
    pub(super) fn take(&mut self, mut needs: Vec<Needs>, changes: &[ChangeId]) {
        needs.sort_unstable();
        needs.dedup();
        let mut single: BTreeMap<ChangeId, Steps> = BTreeMap::new();
        let mut double: BTreeMap<(ChangeId, ChangeId), Vec<(Steps, Steps)>> = BTreeMap::new();
        for [(first, first_steps), (second, second_steps)] in needs {
            if second == NONE {
                let least = single.entry(first).or_insert(first_steps);
                *least = first_steps.min(*least);
            } else {
                double.entry((first, second)).or_default().push((first_steps, second_steps));
            }
        }
        for (&one, &steps) in &single {
            self.cells.entry((one, NONE)).or_default().entry((steps, 0)).or_default().begin += 1;
            // What one change opens, it opens beside any other.
            for &other in changes.iter().filter(|other| **other != one) {
                if one < other {
                    double.entry((one, other)).or_default().push((steps, 0));
                } else {
                    double.entry((other, one)).or_default().push((0, steps));
                }
            }
        }
        for (changes, mut points) in double {
            points.sort_unstable();
            let cells = self.cells.entry(changes).or_default();
            let mut last: Option<(Steps, Steps)> = None;
            for point in points {
                if last.is_some_and(|(_, steps)| point.1 >= steps) {
                    continue;
                }
                cells.entry(point).or_default().begin += 1;
                if let Some((_, steps)) = last {
                    cells.entry((point.0, steps)).or_default().overlap += 1;
                }
                last = Some(point);
            }
        }
    }

    /// How many standpoints are open with both changes made by so many steps.
    fn count(&self, changes: (ChangeId, ChangeId), steps: (Steps, Steps)) -> u64 {
        let cells = self.cells.get(&changes).into_iter().flatten();
        let (begin, overlap) = cells
            .filter(|((first, second), _)| *first <= steps.0 && *second <= steps.1)
            .fold((0, 0), |(begin, overlap), (_, corners)| (begin + corners.begin, overlap + corners.overlap));
        begin.saturating_sub(overlap)
    }

    /// The gentlest value at which each change opens, and the gentlest pairs of values that open more gently than one of
    /// their changes does alone; the gentlest first. Each was looked at in `step`² of all places.
    pub(super) fn openings(&self, offered: &Offered, step: u32) -> Vec<Opening> {
        let standpoints = |changes, steps| self.count(changes, steps) * u64::from(step).pow(2);
        let (mut single, mut double): (Vec<Costed>, Vec<Costed>) = (Vec::new(), Vec::new());
        let known = |id: ChangeId| id == NONE || offered.changes.contains(&id);
        for (&changes, cells) in
            self.cells.iter().filter(|(changes, _)| changes.0 != NONE && known(changes.0) && known(changes.1))
        {
            let cost = |steps: (Steps, Steps)| {
                let second = if changes.1 == NONE { 0.0 } else { offered.cost(&offered.change(changes.1, steps.1)) };
                offered.cost(&offered.change(changes.0, steps.0)) + second
            };
            let needed = |(first, second): &(Steps, Steps)| *first > 0 && (changes.1 == NONE || *second > 0);
            let begins = cells.iter().filter(|(steps, corners)| corners.begin > 0 && needed(steps));
            let costs = begins.map(|(&steps, _)| (steps, cost(steps)));
            if let Some((steps, cost)) = costs.min_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0))) {
                (if changes.1 == NONE { &mut single } else { &mut double }).push((cost, changes, steps));
            }
        }
        let order = |a: &Costed, b: &Costed| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1));
        single.sort_by(order);
        double.sort_by(order);
        let easier =
            |cost: f64, id: ChangeId| single.iter().any(|(known, changes, _)| changes.0 == id && *known <= cost);
        let double = double.iter().filter(|(cost, changes, _)| !easier(*cost, changes.0) && !easier(*cost, changes.1));
        let told = |&(_, changes, steps): &Costed| Opening {
            changes: [(changes.0, steps.0), (changes.1, steps.1)]
                .into_iter()
                .filter(|(id, _)| *id != NONE)
                .map(|(id, steps)| offered.change(id, steps))
                .collect(),
            standpoints: standpoints(changes, steps),
            exact: step == 1,
        };
        single.iter().chain(double.take(MOST_PAIRS)).map(told).collect()
    }
}

/// A day's minutes, from which lacking light is counted.
const DAY_STEPS: f64 = 1440.0;

/// How many steps down to the last whole minute light is from all day.
pub(super) fn light_steps(minutes: f64) -> Steps {
    // What is no number is no light.
    (DAY_STEPS - (minutes + 1e-9).floor().max(0.0)).clamp(1.0, DAY_STEPS) as Steps
}

/// How many steps down to the next hundredth a share is from all.
pub(super) fn hundredths_off(share: f64) -> Steps {
    100 - (100.0 * share + 1e-9).floor().clamp(0.0, 100.0) as Steps
}
