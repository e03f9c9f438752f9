//! Which blocks stand in one another?
//!
//! No fault are: blocks that touch; one that rests on another or is let into its top; a band or plinth about a tower; a wall
//! that ends in another block; a detail that is let into a wall: whatever is hung at a height of its own, and what is no thicker
//! than a door in its reveal; a tower that rises out of a building.

use geo::{Area, BooleanOps, LineString, Polygon};

use crate::outline::hull;
use crate::site::{Block, Model, PlanPoint, Shape};

use super::bodies::{Body, Depth};
use super::fault::{FaultKind, Mend, MendEdit, SiteFault};

/// Blocks that stand in one another by no more than this were measured no more exactly (common practice, no source).
const LET_IN_M: f64 = 0.1;

/// What is no thicker is let into what it stands in: a door, a portal, a post (common practice, no source).
const DETAIL_M: f64 = 1.5;
/// A tower rises out of a building that holds so much of its base (common practice, no source).
const RISES_OUT: f64 = 0.4;

/// The pairs of blocks that stand in one another.
pub(super) fn overlaps(model: &Model, bodies: &[Body], neighbours: &[(usize, usize)]) -> Vec<SiteFault> {
    let blocks = &model.site.blocks;
    neighbours
        .iter()
        .filter_map(|&(one, other)| {
            let found = overlap((&blocks[one], &bodies[one]), (&blocks[other], &bodies[other]))?;
            let Overlap { depth, height_m } = found;
            // The subject stays where it is, else what was there first.
            let (stays, goes) = if blocks[other].subject && !blocks[one].subject { (other, one) } else { (one, other) };
            let sign = if goes == other { 1.0 } else { -1.0 };
            let by_m = up_to_a_centimetre(depth.by_m);
            let cleared = moved_by(&blocks[goes], (sign * depth.way.0 * by_m, sign * depth.way.1 * by_m));
            let body = Body::at(&cleared, model.solids[goes].bounds().0.z, model.solids[goes].bounds().1.z);
            let is_clear = overlap((&blocks[stays], &bodies[stays]), (&cleared, &body)).is_none();
            let at = meeting(&bodies[one], &bodies[other]);
            // What walls reach into the ground is nothing that is seen.
            let in_ground_m = model.site.terrain.height_m(at) - bodies[one].base_m.max(bodies[other].base_m);
            let height_m = height_m - in_ground_m.clamp(0.0, height_m);
            Some(SiteFault {
                blocks: vec![goes, stays],
                at: Some(at),
                kind: FaultKind::Overlap { by_m: depth.by_m, height_m },
                mend: is_clear
                    .then(|| Mend { label: "Move it away", edits: vec![MendEdit::Block(goes, Box::new(cleared))] }),
            })
        })
        .collect()
}

struct Overlap {
    depth: Depth,
    height_m: f64,
}

fn overlap((one_block, one): (&Block, &Body), (other_block, other): (&Block, &Body)) -> Option<Overlap> {
    let height_m = one.walls_m.min(other.walls_m) - one.base_m.max(other.base_m);
    // Where a leaning block is at a height is not looked at.
    if height_m <= LET_IN_M || one_block.leans.is_some() || other_block.leans.is_some() {
        return None;
    }
    if is_detail(one_block, one) || is_detail(other_block, other) {
        return None;
    }
    let mut depth = one.depth(other);
    if depth.by_m <= LET_IN_M {
        return None;
    }
    let thickness_m = |block: &Block| match block.shape {
        Shape::Wall { thickness_m, .. } => thickness_m,
        _ => 0.0,
    };
    if depth.by_m <= thickness_m(one_block).max(thickness_m(other_block)) + LET_IN_M {
        return None;
    }
    if rests_on((one_block, one), other)
        || rests_on((other_block, other), one)
        || girds(one, other)
        || girds(other, one)
        || rises_out((one_block, one), (other_block, other))
        || rises_out((other_block, other), (one_block, one))
    {
        return None;
    }
    if one.notched || other.notched {
        depth = exact_depth((one_block, one), (other_block, other)).filter(|depth| depth.by_m > LET_IN_M)?;
    }
    Some(Overlap { depth, height_m })
}

/// Whether a block that is given a height of its own is let into the top of another.
fn rests_on((block, body): (&Block, &Body), other: &Body) -> bool {
    (block.lift_m > 0.0 || block.base_m.is_some()) && body.base_m > other.base_m && body.top_m > other.walls_m
}

/// Whether a block is a detail of what it is let into. A wall is none: it ends in a building, or goes through it by mistake.
fn is_detail(block: &Block, body: &Body) -> bool {
    if matches!(block.shape, Shape::Wall { .. }) {
        return false;
    }
    let thickness = narrowest(&hull(body.base.clone()));
    block.lift_m > 0.0 || block.base_m.is_some() || thickness.is_none_or(|depth| depth.by_m <= DETAIL_M)
}

/// Whether a block is a tower that rises out of another, which holds much of its base.
fn rises_out(tower: (&Block, &Body), building: (&Block, &Body)) -> bool {
    if tower.1.top_m <= building.1.top_m {
        return false;
    }
    let base = outline_of(tower);
    let held = base.intersection(&outline_of(building)).unsigned_area();
    held >= RISES_OUT * base.unsigned_area()
}

/// Whether one is a band or plinth about the other, which goes through it and on above.
fn girds(band: &Body, other: &Body) -> bool {
    let goes_through = other.base_m <= band.base_m && band.walls_m + LET_IN_M < other.top_m;
    goes_through && other.base.iter().all(|&corner| band.pieces.iter().any(|piece| holds(piece, corner)))
}

/// Whether a convex, anticlockwise outline holds a point, its sides included.
fn holds(outline: &[PlanPoint], at: PlanPoint) -> bool {
    (0..outline.len()).all(|index| {
        let (a, b) = (outline[index], outline[(index + 1) % outline.len()]);
        (b.0 - a.0) * (at.1 - a.1) - (b.1 - a.1) * (at.0 - a.0) >= -1e-9
    })
}

/// Where an outline has a notch or a court: the narrowest width of the widest part that both share.
fn exact_depth(one: (&Block, &Body), other: (&Block, &Body)) -> Option<Depth> {
    let shared = outline_of(one).intersection(&outline_of(other));
    let parts =
        shared.iter().filter_map(|part| narrowest(&hull(part.exterior().0.iter().map(|at| (at.x, at.y)).collect())));
    let mut widest = parts.max_by(|a, b| a.by_m.total_cmp(&b.by_m))?;
    // Out of the one, as seen from its middle.
    let (from, to) = (one.1.middle(), other.1.middle());
    if (to.0 - from.0) * widest.way.0 + (to.1 - from.1) * widest.way.1 < 0.0 {
        widest.way = (-widest.way.0, -widest.way.1);
    }
    Some(widest)
}

fn outline_of((block, body): (&Block, &Body)) -> Polygon<f64> {
    let ring = |corners: Vec<PlanPoint>| LineString::from(corners);
    let holes = match &block.shape {
        Shape::Prism { holes, .. } => holes.iter().map(|hole| ring(in_plan(block, hole))).collect(),
        _ => Vec::new(),
    };
    Polygon::new(ring(body.base.clone()), holes)
}

fn in_plan(block: &Block, corners: &[PlanPoint]) -> Vec<PlanPoint> {
    let shape = Shape::Prism { outline: corners.to_vec(), holes: Vec::new(), height_m: 1.0 };
    crate::site::plan_base(&Block { shape, ..block.clone() })
}

/// The least width of a convex outline, and the direction across it.
fn narrowest(outline: &[PlanPoint]) -> Option<Depth> {
    (0..outline.len())
        .filter_map(|index| {
            let (a, b) = (outline[index], outline[(index + 1) % outline.len()]);
            let (east, north) = (b.0 - a.0, b.1 - a.1);
            let length_m = east.hypot(north);
            let out = (north / length_m, -east / length_m);
            let far_m =
                outline.iter().map(|at| ((at.0 - a.0) * out.0 + (at.1 - a.1) * out.1).abs()).fold(0.0, f64::max);
            (length_m > 0.0).then_some(Depth { by_m: far_m, way: out })
        })
        .min_by(|a, b| a.by_m.total_cmp(&b.by_m))
}

/// Away by no less than it has to be.
fn up_to_a_centimetre(length_m: f64) -> f64 {
    (length_m * 100.0 - 1e-6).ceil() / 100.0
}

fn moved_by(block: &Block, by: PlanPoint) -> Block {
    let outward = |value: f64| up_to_a_centimetre(value.abs()) * value.signum();
    crate::site::moved(block, (outward(by.0), outward(by.1)))
}

/// The middle of what the boxes around both share.
fn meeting(one: &Body, other: &Body) -> PlanPoint {
    let [low, high] = one.around;
    let [their_low, their_high] = other.around;
    (
        0.5 * (low.0.max(their_low.0) + high.0.min(their_high.0)),
        0.5 * (low.1.max(their_low.1) + high.1.min(their_high.1)),
    )
}
