//! Which standpoints differ in kind, and not only by metres?
//!
//! A kind is a direction from the subject, ground or deck, a camera height, a lens and an aim. The best of each kind is kept
//! while places are looked at; what is listed are the best of those that differ from all listed before them.

use crate::angle::Angle;
use crate::site::PlanPoint;

use super::place_result::{RankKey, StoredCandidate, compared};

/// The directions from the subject that are told apart while places are looked at.
pub(super) const DIRECTIONS: usize = 32;
/// Standpoints lie in different directions from so much on, as seen from the subject (common practice, no source).
const DIRECTION_APART_DEG: f64 = 45.0;
/// A focal length is another one from this ratio on (common practice, no source).
const FOCAL_RATIO: f64 = 1.25;

/// How many kinds there are in one direction, and which one a candidate is of.
#[derive(Clone, Copy, Debug)]
pub(super) struct KindNumbers {
    pub(super) heights: usize,
    pub(super) lenses: usize,
    pub(super) aims: usize,
}

impl KindNumbers {
    pub(super) fn count(&self) -> usize {
        2 * self.heights * self.lenses * self.aims
    }

    fn number(&self, on_deck: bool, candidate: &StoredCandidate) -> usize {
        let order = candidate.order;
        ((usize::from(on_deck) * self.heights + order.height()) * self.lenses + order.lens()) * self.aims + order.aim()
    }
}

/// The best of each kind.
#[derive(Clone, Debug, Default)]
pub(super) struct Kinds {
    /// By direction and kind; a direction without any is empty.
    best: Vec<Vec<Option<(RankKey, StoredCandidate)>>>,
}

/// The direction in which a place lies from a middle, as a number.
pub(super) fn direction(middle: PlanPoint, at: PlanPoint) -> usize {
    let turn = Angle::bearing_of(at.0 - middle.0, at.1 - middle.1).compass_degrees() / 360.0;
    (turn * DIRECTIONS as f64) as usize % DIRECTIONS
}

impl Kinds {
    pub(super) fn offer(
        &mut self,
        direction: usize,
        numbers: &KindNumbers,
        on_deck: bool,
        key: RankKey,
        candidate: &StoredCandidate,
    ) {
        self.put(direction, numbers.count(), numbers.number(on_deck, candidate), key, candidate);
    }

    pub(super) fn put(
        &mut self,
        direction: usize,
        count: usize,
        number: usize,
        key: RankKey,
        candidate: &StoredCandidate,
    ) {
        if self.best.is_empty() {
            self.best.resize_with(DIRECTIONS, Vec::new);
        }
        let kinds = &mut self.best[direction];
        if kinds.is_empty() {
            kinds.resize(count, None);
        }
        let best = &mut kinds[number];
        if best.as_ref().is_none_or(|(known, _)| key < *known) {
            *best = Some((key, *candidate));
        }
    }

    /// Takes in what another part of the search found.
    pub(super) fn add(&mut self, other: &Self) {
        for (direction, kinds) in other.best.iter().enumerate() {
            for (number, found) in kinds.iter().enumerate() {
                if let Some((key, candidate)) = found {
                    self.put(direction, kinds.len(), number, *key, candidate);
                }
            }
        }
    }

    /// All of them, the best first.
    pub(super) fn sorted(&self) -> Vec<(RankKey, StoredCandidate)> {
        let mut all: Vec<(RankKey, StoredCandidate)> = self.best.iter().flatten().flatten().copied().collect();
        all.sort_by_key(|(key, _)| *key);
        all
    }

    /// Every one with its direction and number, in their order.
    pub(super) fn iter(&self) -> impl Iterator<Item = (usize, usize, &StoredCandidate)> {
        self.best.iter().enumerate().flat_map(|(direction, kinds)| {
            kinds
                .iter()
                .enumerate()
                .filter_map(move |(number, found)| found.as_ref().map(|(_, candidate)| (direction, number, candidate)))
        })
    }
}

/// In what a standpoint differs from another, beyond its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Difference {
    Direction,
    Height,
    Lens,
    Aim,
}

impl Difference {
    /// In words, of the other standpoint.
    pub(super) const fn words(self) -> &'static str {
        match self {
            Self::Direction => "another direction",
            Self::Height => "another height",
            Self::Lens => "another lens",
            Self::Aim => "another aim",
        }
    }
}

/// A candidate as it is listed: seen from the subject's middle in a direction, on a deck or not.
#[derive(Clone, Copy, Debug)]
pub(super) struct Standpoint {
    pub(super) candidate: StoredCandidate,
    pub(super) at: PlanPoint,
    pub(super) bearing: Angle,
    pub(super) on_deck: bool,
}

impl Standpoint {
    /// How far it lies from another.
    pub(super) fn apart_m(&self, other: &Self) -> f64 {
        let (east, north) = (self.at.0 - other.at.0, self.at.1 - other.at.1);
        east.hypot(north).hypot(self.candidate.feet_m - other.candidate.feet_m)
    }

    /// In what it differs in kind from another. Another lens or aim counts where it shows: in the focal length or in the
    /// convergence.
    pub(super) fn differences(&self, other: &Self) -> Vec<Difference> {
        let (own, its) = (&self.candidate, &other.candidate);
        let mut found = Vec::new();
        if (self.bearing - other.bearing).wrapped().degrees().abs() >= DIRECTION_APART_DEG - 1e-9 {
            found.push(Difference::Direction);
        }
        if own.order.height() != its.order.height() || self.on_deck != other.on_deck {
            found.push(Difference::Height);
        }
        let tenths = |candidate: &StoredCandidate| compared(candidate.convergence.to_degrees(), 10.0);
        let ratio = (own.focal_mm / its.focal_mm).max(its.focal_mm / own.focal_mm);
        if ratio >= FOCAL_RATIO || tenths(own) != tenths(its) {
            if own.order.lens() != its.order.lens() {
                found.push(Difference::Lens);
            }
            if own.order.aim() != its.order.aim() {
                found.push(Difference::Aim);
            }
        }
        found
    }
}
