//! What is kept of each place, and how are two candidates compared?

use crate::optics::Orientation;

/// What is required of a picture; each is a bit of a set.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Requirement {
    /// The share of the subject that is seen.
    Seen,
    /// The subject whole in the frame, with its margins.
    Whole,
    /// The share of the frame that the subject fills.
    Filled,
    /// The largest lean.
    Lean,
    /// The lowest detail.
    Detail,
    /// Blocks that the frame must hold.
    Inside,
    /// Blocks of which the frame must hold nothing.
    Outside,
    /// The angle to the subject's front.
    Front,
    /// The light on the face of the picture.
    Light,
}

/// A set of requirements, a bit for each.
pub(super) type RequirementSet = u16;

impl Requirement {
    /// All of them, in their order.
    pub const ALL: [Self; 9] = [
        Self::Seen,
        Self::Whole,
        Self::Filled,
        Self::Lean,
        Self::Detail,
        Self::Inside,
        Self::Outside,
        Self::Front,
        Self::Light,
    ];

    /// A bit for each.
    pub(super) const EVERY: RequirementSet = RequirementSet::MAX >> (RequirementSet::BITS as usize - Self::ALL.len());

    pub(super) const fn bit(self) -> RequirementSet {
        1 << self as u8
    }
}

/// The requirements that are thresholds of a figure: a map of the figure shows places on both sides of them.
pub(super) const THRESHOLDS: RequirementSet = Requirement::Filled.bit()
    | Requirement::Lean.bit()
    | Requirement::Detail.bit()
    | Requirement::Front.bit()
    | Requirement::Light.bit();

/// What became of a place before any camera was held there.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[repr(u8)]
pub enum PlaceStatus {
    /// Nobody has looked at it yet.
    #[default]
    Unknown,
    /// It was looked at.
    Looked,
    /// Closed, or one would have to ask and does not want to.
    Closed,
    /// Water.
    Water,
    /// A block stands there, or the eye would be in one.
    Occupied,
    /// Nearer to the subject than is required, or amid it.
    TooNear,
    /// Farther from the subject than is required.
    TooFar,
}

impl PlaceStatus {
    pub(super) const ALL: [Self; 7] =
        [Self::Unknown, Self::Looked, Self::Closed, Self::Water, Self::Occupied, Self::TooNear, Self::TooFar];
}

/// Which candidate: its place, what one stands on there, and by its index in the requirements the height, lens and aim.
///
/// The order of candidates is that of these numbers, the place counting first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct CandidateId(u64);

impl CandidateId {
    pub(super) fn new(place: usize, stand: usize, height: usize, lens: usize, aim: usize) -> Self {
        Self((((((place as u64) << 5 | stand as u64) << 5 | height as u64) << 5) | lens as u64) << 5 | aim as u64)
    }

    pub(super) const fn place(self) -> usize {
        (self.0 >> 20) as usize
    }

    pub(super) const fn stand(self) -> usize {
        (self.0 >> 15 & 31) as usize
    }

    pub(super) const fn height(self) -> usize {
        (self.0 >> 10 & 31) as usize
    }

    pub(super) const fn lens(self) -> usize {
        (self.0 >> 5 & 31) as usize
    }

    pub(super) const fn aim(self) -> usize {
        (self.0 & 31) as usize
    }

    pub(super) const fn bits(self) -> u64 {
        self.0
    }

    pub(super) const fn from_bits(bits: u64) -> Self {
        Self(bits)
    }
}

/// A candidate as it is stored; what there is not is NaN, and nothing outside this module and its users sees it.
#[derive(Clone, Copy, Debug)]
pub(super) struct StoredCandidate {
    pub(super) order: CandidateId,
    pub(super) feet_m: f64,
    pub(super) focal_mm: f64,
    pub(super) largest_lean: f64,
    pub(super) convergence: f64,
    pub(super) detail_px_per_m: f64,
    pub(super) filled_share: f64,
    pub(super) effort_m: f64,
    pub(super) light_minutes: f64,
}

/// How many numbers a candidate is.
pub(super) const STORED_NUMBERS: usize = 9;

impl StoredCandidate {
    pub(super) fn numbers(&self) -> [f64; STORED_NUMBERS] {
        [
            f64::from_bits(self.order.bits()),
            self.feet_m,
            self.focal_mm,
            self.largest_lean,
            self.convergence,
            self.detail_px_per_m,
            self.filled_share,
            self.effort_m,
            self.light_minutes,
        ]
    }

    pub(super) fn from_numbers(numbers: [f64; STORED_NUMBERS]) -> Self {
        let [
            order,
            feet_m,
            focal_mm,
            largest_lean,
            convergence,
            detail_px_per_m,
            filled_share,
            effort_m,
            light_minutes,
        ] = numbers;
        let order = CandidateId::from_bits(order.to_bits());
        Self {
            order,
            feet_m,
            focal_mm,
            largest_lean,
            convergence,
            detail_px_per_m,
            filled_share,
            effort_m,
            light_minutes,
        }
    }
}

/// A figure as it is compared, in whole steps. So two ways of computing the same figure, which differ in the last digits, put
/// candidates in the same order.
pub(super) fn compared(value: f64, steps: f64) -> i64 {
    if value.is_nan() { i64::MAX } else { (value * steps).round() as i64 }
}

/// By what candidates are compared: what misses a requirement comes last, then figure by figure, at last by their order.
pub(super) type RankKey = (bool, [i64; 4], CandidateId);

/// Lowest camera height at which something holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LowestHeight {
    /// Above what one stands on.
    pub height_m: f64,
    /// Whether it fails again at some greater height that was tried: under a tree's crown, say, or behind an arch.
    pub fails_above: bool,
}

/// What is kept of a place.
#[derive(Clone, Copy, Debug)]
pub(super) struct PlaceResult {
    pub(super) ground: PlaceStatus,
    /// The best candidate that meets every requirement; else the best that meets all but thresholds.
    pub(super) best: Option<StoredCandidate>,
    /// Whether it meets every requirement.
    pub(super) meets: bool,
    /// The largest share of the subject seen from any of the heights; NaN where nobody looked.
    pub(super) seen_share: f64,
    /// The angle to the subject's front, in degrees; NaN where it has none.
    pub(super) front_deg: f64,
    /// How many minutes of light the face of the picture has; NaN where nobody asked.
    pub(super) light_minutes: f64,
    /// The focal length that fills the frame from the first height, negative for a camera portrait; NaN for none.
    pub(super) needed_focal_mm: f64,
    /// The lowest height that sees enough, negative where it fails again above; NaN for none.
    pub(super) lowest_seen_m: f64,
    /// The lowest height at which every requirement is met, likewise.
    pub(super) lowest_met_m: f64,
}

impl Default for PlaceResult {
    fn default() -> Self {
        Self::of(PlaceStatus::Unknown)
    }
}

impl PlaceResult {
    pub(super) const fn of(ground: PlaceStatus) -> Self {
        Self {
            ground,
            best: None,
            meets: false,
            seen_share: f64::NAN,
            front_deg: f64::NAN,
            light_minutes: f64::NAN,
            needed_focal_mm: f64::NAN,
            lowest_seen_m: f64::NAN,
            lowest_met_m: f64::NAN,
        }
    }

    pub(super) fn needed(&self) -> Option<(f64, Orientation)> {
        let way = if self.needed_focal_mm < 0.0 { Orientation::Portrait } else { Orientation::Landscape };
        (!self.needed_focal_mm.is_nan()).then(|| (self.needed_focal_mm.abs(), way))
    }

    pub(super) fn lowest_seen(&self) -> Option<LowestHeight> {
        lowest(self.lowest_seen_m)
    }

    pub(super) fn lowest_met(&self) -> Option<LowestHeight> {
        lowest(self.lowest_met_m)
    }
}

fn lowest(kept_m: f64) -> Option<LowestHeight> {
    (!kept_m.is_nan()).then(|| LowestHeight { height_m: kept_m.abs(), fails_above: kept_m < 0.0 })
}

/// Candidates none of which is at once no less straight, no less detailed and no less easy than another.
#[derive(Clone, Debug, Default)]
pub(super) struct ParetoFront {
    pub(super) kept: Vec<StoredCandidate>,
}

impl StoredCandidate {
    /// The largest lean in tenths of a degree: as it is shown, and compared.
    pub(super) fn lean_tenths(&self) -> i64 {
        compared(self.largest_lean.to_degrees(), 10.0)
    }

    /// The effort in metres, as it is shown.
    pub(super) fn effort_metres(&self) -> i64 {
        compared(self.effort_m, 1.0)
    }

    /// The minutes of light, as they are shown, more being less; the greatest number where there are none.
    pub(super) fn light_minutes(&self) -> i64 {
        if self.light_minutes.is_nan() { i64::MAX } else { compared(self.light_minutes, 1.0).saturating_neg() }
    }

    /// The detail in pixels a metre, as it is shown, more being less; the greatest number where there is none.
    pub(super) fn detail_pixels(&self) -> i64 {
        if self.detail_px_per_m.is_nan() { i64::MAX } else { compared(self.detail_px_per_m, 1.0).saturating_neg() }
    }

    /// How much of the frame is filled, in hundredths, more being less; more than all of it is no fuller.
    pub(super) fn filled_hundredths(&self) -> i64 {
        compared(self.filled_share.min(1.0), 100.0).saturating_neg()
    }
}

/// What a front compares. Finer differences are none to a person.
fn traded(kept: &StoredCandidate) -> [i64; 3] {
    [kept.lean_tenths(), kept.detail_pixels(), kept.effort_metres()]
}

impl ParetoFront {
    pub(super) fn offer(&mut self, kept: &StoredCandidate) {
        let new = traded(kept);
        let mut index = 0;
        while index < self.kept.len() {
            let known = traded(&self.kept[index]);
            let (mut known_no_worse, mut new_no_worse) = (true, true);
            for axis in 0..3 {
                known_no_worse &= known[axis] <= new[axis];
                new_no_worse &= new[axis] <= known[axis];
            }
            match (known_no_worse, new_no_worse) {
                // Of equals the first in order stays.
                (true, true) => {
                    if kept.order < self.kept[index].order {
                        self.kept[index] = *kept;
                    }
                    return;
                }
                (true, false) => {
                    // What beats one neighbour beats the next: look here first.
                    self.kept.swap(0, index);
                    return;
                }
                (false, true) => {
                    self.kept.swap_remove(index);
                }
                (false, false) => index += 1,
            }
        }
        self.kept.push(*kept);
    }

    pub(super) fn sort(&mut self) {
        self.kept.sort_by_key(|kept| (traded(kept), kept.order));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kept(order: usize, lean_deg: f64, detail_px_per_m: f64, effort_m: f64) -> StoredCandidate {
        let largest_lean = lean_deg.to_radians();
        let numbers = [0.0, 0.0, 0.0, largest_lean, 0.0, detail_px_per_m, 1.0, effort_m, f64::NAN];
        StoredCandidate { order: CandidateId::new(order, 0, 0, 0, 0), ..StoredCandidate::from_numbers(numbers) }
    }

    #[test]
    fn an_order_tells_its_parts() {
        let order = CandidateId::new(1_234_567, 3, 31, 7, 2);
        let parts = (order.place(), order.stand(), order.height(), order.lens(), order.aim());
        assert_eq!(parts, (1_234_567, 3, 31, 7, 2));
        assert!(CandidateId::new(1, 31, 31, 31, 31) < CandidateId::new(2, 0, 0, 0, 0));
    }

    #[test]
    fn a_front_is_the_same_in_whatever_order_it_is_offered() {
        // By hand: 1 and 4 are beaten by 0, 5 equals 2 and comes later.
        let all = [
            kept(0, 1.0, 200.0, 10.0),
            kept(1, 1.2, 190.0, 10.0),
            kept(2, 0.5, 100.0, 40.0),
            kept(3, 3.0, 300.0, 0.0),
            kept(4, 1.0, 200.0, 11.0),
            kept(5, 0.5, 100.0, 40.0),
        ];
        for turn in 0..all.len() {
            let mut front = ParetoFront::default();
            for index in 0..all.len() {
                front.offer(&all[(index * 5 + turn) % all.len()]);
            }
            front.sort();
            let places: Vec<usize> = front.kept.iter().map(|kept| kept.order.place()).collect();
            assert_eq!(places, [2, 0, 3]);
        }
    }
}
