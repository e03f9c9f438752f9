//! Can one get up on each deck?
//!
//! A deck is reached from the ground beside it, or from another deck beside it that is reached, where the step up is no higher
//! than one that is walked. Ladders and stairs inside a building are not modelled: where permission is needed, whoever gives it
//! is taken to show the way up, and only decks that are open to anyone are held to this (common practice, no source).

use crate::site::{Access, DeckTop, Model, PlanPoint};
use crate::walking::STEP_UP_M;

use super::bodies::depth;
use super::fault::{FaultKind, SiteFault};

/// How wide a gap is stepped over (common practice, no source).
const STRIDE_M: f64 = 0.5;
/// How far apart the ground beside a deck is asked for.
const SPACING_M: f64 = 1.0;
/// Of the longest sides no more places than this are asked.
const MOST_PLACES: f64 = 100.0;

/// Decks that are open to anyone and that nobody can reach.
pub(super) fn unreachable(model: &Model) -> Vec<SiteFault> {
    let wanted = |block: usize| model.site.blocks[block].deck.as_ref().is_some_and(|deck| deck.access == Access::Open);
    if !model.decks.iter().any(|deck| wanted(deck.block)) {
        return Vec::new();
    }
    let mut reached: Vec<bool> = model.decks.iter().map(|deck| is_beside_ground(model, deck)).collect();
    let mut waiting: Vec<usize> = (0..reached.len()).filter(|&deck| reached[deck]).collect();
    // By height: what is a step away is near in that order.
    let mut order: Vec<usize> = (0..model.decks.len()).collect();
    order.sort_by(|&a, &b| model.decks[a].height_m.total_cmp(&model.decks[b].height_m));
    while let Some(from) = waiting.pop() {
        let deck = &model.decks[from];
        if deck.access == Access::Closed {
            continue;
        }
        let first = order.partition_point(|&other| model.decks[other].height_m < deck.height_m - STEP_UP_M);
        for &other in &order[first..] {
            let there = &model.decks[other];
            if there.height_m > deck.height_m + STEP_UP_M {
                break;
            }
            if !reached[other] && depth(&deck.outline, &there.outline).by_m >= -STRIDE_M {
                reached[other] = true;
                waiting.push(other);
            }
        }
    }
    let mut faults: Vec<SiteFault> = Vec::new();
    for (index, deck) in model.decks.iter().enumerate() {
        let is_known = faults.last().is_some_and(|fault| fault.blocks == [deck.block]);
        let same_block = |other: &DeckTop| other.block == deck.block;
        let is_reached = reached[index] || model.decks.iter().zip(&reached).any(|(other, up)| *up && same_block(other));
        if wanted(deck.block) && !is_reached && !is_known {
            let at = deck.outline.first().copied();
            let ground_m = at.map_or(0.0, |at| model.site.terrain.height_m(at));
            faults.push(SiteFault {
                blocks: vec![deck.block],
                at,
                kind: FaultKind::OutOfReach { height_m: deck.height_m - ground_m },
                mend: None,
            });
        }
    }
    faults
}

/// Whether the ground just outside a deck is a step away from it.
fn is_beside_ground(model: &Model, deck: &DeckTop) -> bool {
    let count = deck.outline.len();
    (0..count).any(|index| {
        let (a, b) = (deck.outline[index], deck.outline[(index + 1) % count]);
        let places = ((b.0 - a.0).hypot(b.1 - a.1) / SPACING_M).ceil().clamp(1.0, MOST_PLACES);
        (0..=places as usize).any(|place| {
            let share = place as f64 / places;
            let at: PlanPoint = (a.0 + (b.0 - a.0) * share, a.1 + (b.1 - a.1) * share);
            (model.site.terrain.height_m(at) - deck.height_m).abs() <= STEP_UP_M
        })
    })
}
