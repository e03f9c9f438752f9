//! Does each block stand on something, and not in the ground?

use crate::site::{Block, Model};

use super::bodies::{Body, TOUCHING_M};
use super::fault::{FaultKind, Mend, MendEdit, SiteFault};

/// A base of its own that lies in the ground by more than this share of the block's height was hardly meant (common practice,
/// no source).
const MOST_BURIED: f64 = 0.5;

/// The faults of how the blocks stand.
pub(super) fn standing(model: &Model, bodies: &[Body], neighbours: &[(usize, usize)]) -> Vec<SiteFault> {
    let mut faults = floating(model, bodies, neighbours);
    faults.extend((0..bodies.len()).filter_map(|index| sunk(model, bodies, index)));
    faults
}

/// Blocks that touch neither the ground nor anything that touches it.
fn floating(model: &Model, bodies: &[Body], neighbours: &[(usize, usize)]) -> Vec<SiteFault> {
    let blocks = &model.site.blocks;
    let under_m: Vec<f64> = bodies
        .iter()
        .map(|body| body.places().map(|at| model.surface_m(at)).fold(f64::NEG_INFINITY, f64::max))
        .collect();
    let base_m = |index: usize| model.solids[index].bounds().0.z;
    // What hangs together has one number, that of its first block.
    let mut together: Vec<usize> = (0..blocks.len()).collect();
    for &(one, other) in neighbours {
        let apart_m = (base_m(one) - bodies[other].top_m).max(base_m(other) - bodies[one].top_m);
        if apart_m <= TOUCHING_M && bodies[one].depth(&bodies[other]).by_m >= -TOUCHING_M {
            let (one, other) = (first_of(&mut together, one), first_of(&mut together, other));
            together[one.max(other)] = one.min(other);
        }
    }
    let is_set = |block: &Block| block.lift_m > 0.0 || block.base_m.is_some();
    let mut stands = vec![false; blocks.len()];
    let mut lowest: Vec<Option<usize>> = vec![None; blocks.len()];
    for index in 0..blocks.len() {
        let group = first_of(&mut together, index);
        stands[group] |= !is_set(&blocks[index]) || base_m(index) <= under_m[index] + TOUCHING_M;
        if lowest[group].is_none_or(|known| base_m(index) < base_m(known)) {
            lowest[group] = Some(index);
        }
    }
    let mut carriers: Vec<Vec<usize>> = vec![Vec::new(); blocks.len()];
    for &(one, other) in neighbours {
        carriers[one].push(other);
        carriers[other].push(one);
    }
    lowest
        .into_iter()
        .enumerate()
        .filter(|(group, _)| !stands[*group])
        .filter_map(|(_, index)| {
            let index = index?;
            // The highest thing under it: the ground, or another block.
            let below = carriers[index].iter().copied().filter(|&other| {
                bodies[other].top_m <= base_m(index) && bodies[index].depth(&bodies[other]).by_m > 0.0
            });
            let carrier = below.max_by(|&a, &b| bodies[a].top_m.total_cmp(&bodies[b].top_m).then(b.cmp(&a)));
            let carrier = carrier.filter(|&carrier| bodies[carrier].top_m > under_m[index]);
            let by_m = base_m(index) - carrier.map_or(under_m[index], |carrier| bodies[carrier].top_m);
            let lowered = set_down(&blocks[index], by_m, carrier.is_some());
            Some(SiteFault {
                blocks: [index].into_iter().chain(carrier).collect(),
                at: Some(bodies[index].middle()),
                kind: FaultKind::Floats { by_m },
                mend: Some(Mend { label: "Set it down", edits: vec![MendEdit::Block(index, Box::new(lowered))] }),
            })
        })
        .collect()
}

/// The block so much lower; on the ground it needs no height of its own.
fn set_down(block: &Block, by_m: f64, on_a_block: bool) -> Block {
    if !on_a_block {
        return Block { lift_m: 0.0, base_m: None, ..block.clone() };
    }
    let lower = |value_m: f64| ((value_m - by_m) * 1e4).round() / 1e4;
    if block.lift_m >= by_m {
        Block { lift_m: lower(block.lift_m), ..block.clone() }
    } else {
        Block { lift_m: 0.0, base_m: block.base_m.map(|base_m| lower(base_m + block.lift_m)), ..block.clone() }
    }
}

/// A block with the ground above its walls, or with most of its height in the ground by a base of its own.
fn sunk(model: &Model, bodies: &[Body], index: usize) -> Option<SiteFault> {
    let (block, body) = (&model.site.blocks[index], &bodies[index]);
    let ground_m = |body: &Body| {
        body.places()
            .map(|at| model.site.terrain.height_m(at))
            .fold((f64::INFINITY, f64::NEG_INFINITY), |bounds, m| (bounds.0.min(m), bounds.1.max(m)))
    };
    let (lowest_m, highest_m) = ground_m(body);
    let over_m = highest_m - body.walls_m;
    let base_m = model.solids[index].bounds().0.z;
    let in_it_m = if block.base_m.is_some() { lowest_m - base_m } else { 0.0 };
    let by_m = if over_m > TOUCHING_M {
        over_m
    } else if in_it_m > MOST_BURIED * (body.top_m - base_m) {
        in_it_m
    } else {
        return None;
    };
    let raised = Block { base_m: None, lift_m: 0.0, ..block.clone() };
    // Standing on the ground at its own place it may still lie in the hillside.
    let origin_m = model.site.terrain.height_m(block.at);
    let walls_m = origin_m + body.walls_m - block.base_m.unwrap_or(origin_m) - block.lift_m;
    let mend = (block.base_m.is_some() && highest_m <= walls_m + TOUCHING_M)
        .then(|| Mend { label: "Set it on the ground", edits: vec![MendEdit::Block(index, Box::new(raised))] });
    let at = body.places().max_by(|&a, &b| model.site.terrain.height_m(a).total_cmp(&model.site.terrain.height_m(b)));
    let kind = if over_m > TOUCHING_M { FaultKind::UnderGround { by_m } } else { FaultKind::Sunk { by_m } };
    Some(SiteFault { blocks: vec![index], at, kind, mend })
}

fn first_of(together: &mut [usize], index: usize) -> usize {
    let mut first = index;
    while together[first] != first {
        together[first] = together[together[first]];
        first = together[first];
    }
    first
}
