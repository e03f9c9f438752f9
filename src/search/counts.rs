//! How many places and candidates came to what?

use std::collections::BTreeMap;

use super::place_result::Requirement;

/// What is counted on the way.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Counts {
    /// Places by what became of them, in the order of [`super::place_result::PlaceStatus::ALL`].
    pub(super) ground: [u64; 7],
    /// Candidates that were looked at.
    pub(super) candidates: u64,
    /// For each requirement, the places at which some candidate meets it.
    pub(super) alone: [u64; Requirement::ALL.len()],
    /// For each requirement, the places at which some candidate meets all the others.
    pub(super) others: [u64; Requirement::ALL.len()],
    /// Places at which some candidate meets all.
    pub(super) met: u64,
    /// How many places each set of lenses serves, no other lens serving them: they meet every requirement there, with nearly the
    /// most detail that any lens gives.
    pub(super) lenses: BTreeMap<u32, u64>,
}

impl Counts {
    pub(super) fn add(&mut self, other: &Self) {
        let sum = |a: &mut [u64], b: &[u64]| a.iter_mut().zip(b).for_each(|(a, b)| *a += b);
        sum(&mut self.ground, &other.ground);
        sum(&mut self.alone, &other.alone);
        sum(&mut self.others, &other.others);
        self.candidates += other.candidates;
        self.met += other.met;
        for (&set, count) in &other.lenses {
            *self.lenses.entry(set).or_default() += count;
        }
    }
}
