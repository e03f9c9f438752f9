//! How much room does each block take up, and which ones are near each other?
//!
//! A body is what a block fills in plan, as convex pieces, and from which height to which. Of a tree it is the trunk, of a mast
//! the pole, of a stage its floor: what stands under a crown, a stay or a floor is in nobody's way. A roof counts for half of
//! its rise.

use crate::outline::hull;
use crate::site::{Block, Model, PlanPoint, Shape, plan_base};

/// What is no farther apart than this touches (common practice, no source).
pub(super) const TOUCHING_M: f64 = 0.05;
/// How thick the floor of a stage is taken to be.
const FLOOR_M: f64 = 0.15;
/// How many pairs of neighbours are looked at; a site with more has blocks heaped on one another.
const MOST_PAIRS: usize = 300_000;

/// What a block fills.
pub(super) struct Body {
    /// Convex, in plan.
    pub(super) pieces: Vec<Vec<PlanPoint>>,
    /// The outline of its base, anticlockwise.
    pub(super) base: Vec<PlanPoint>,
    /// Whether the piece is only the hull of an outline with a notch or a court.
    pub(super) notched: bool,
    /// The corners of the box around it in plan: west and south, east and north.
    pub(super) around: [PlanPoint; 2],
    /// Where it begins.
    pub(super) base_m: f64,
    /// How far its walls reach up.
    pub(super) walls_m: f64,
    /// How far all of it reaches up.
    pub(super) top_m: f64,
}

impl Body {
    pub(super) fn of(model: &Model, index: usize) -> Self {
        let block = &model.site.blocks[index];
        let (low, high) = model.solids[index].bounds();
        let mut body = Self::at(block, low.z, high.z);
        if block.leans.is_some() {
            // Wherever it leans to.
            let skin = model.solids[index].vertices.iter().map(|corner| (corner.x, corner.y)).collect();
            body.pieces = vec![hull(skin)];
            body.around = around(body.pieces.iter().flatten());
        }
        body
    }

    /// The body of a block whose solid reaches from one height to another.
    pub(super) fn at(block: &Block, base_m: f64, top_m: f64) -> Self {
        let base = plan_base(block);
        let notched = matches!(&block.shape, Shape::Prism { holes, .. } if !holes.is_empty() || !is_convex(&base));
        let pieces = match &block.shape {
            Shape::Wall { .. } => stretches(&base),
            _ if notched => vec![hull(base.clone())],
            _ => vec![base.clone()],
        };
        let (base_m, walls_m) = match block.shape {
            Shape::Stage { rail_m, floor_m, .. } => {
                let floor = top_m - rail_m;
                (floor - FLOOR_M.min(0.5 * floor_m), floor)
            }
            Shape::Gable { eaves_m, ridge_m, .. } | Shape::Hip { eaves_m, ridge_m, .. } => {
                (base_m, top_m - 0.5 * (ridge_m - eaves_m))
            }
            Shape::Dome { height_m, .. } => (base_m, top_m - 0.5 * height_m),
            Shape::Box { .. }
            | Shape::Prism { .. }
            | Shape::RoundTaper { .. }
            | Shape::PolygonTaper { .. }
            | Shape::Steps { .. }
            | Shape::Wall { .. }
            | Shape::Mast { .. }
            | Shape::Tree { .. }
            | Shape::Facade { .. } => (base_m, top_m),
        };
        Self { around: around(pieces.iter().flatten()), pieces, base, notched, base_m, walls_m, top_m }
    }

    /// Where the ground is asked for: the corners of its base, the middles of its sides and of all.
    pub(super) fn places(&self) -> impl Iterator<Item = PlanPoint> + '_ {
        let count = self.base.len();
        let sides = (0..count).map(move |index| middle(self.base[index], self.base[(index + 1) % count]));
        self.base.iter().copied().chain(sides).chain([self.middle()])
    }

    pub(super) fn middle(&self) -> PlanPoint {
        middle(self.around[0], self.around[1])
    }

    /// How deep two bodies stand in one another in plan, and which way the other has to go to be clear of this one;
    /// negative where they are apart. Taken piece by piece, the deepest counts.
    pub(super) fn depth(&self, other: &Self) -> Depth {
        let pairs = self.pieces.iter().flat_map(|one| other.pieces.iter().map(move |two| depth(one, two)));
        pairs.fold(Depth { by_m: f64::NEG_INFINITY, way: (0.0, 0.0) }, |deepest, depth| {
            if depth.by_m > deepest.by_m { depth } else { deepest }
        })
    }
}

/// How deep one thing stands in another.
#[derive(Clone, Copy, Debug)]
pub(super) struct Depth {
    /// Negative where they are apart.
    pub(super) by_m: f64,
    /// The way out, of length 1.
    pub(super) way: PlanPoint,
}

/// Every pair of bodies whose boxes in plan come within so many metres of each other, each once, the smaller number first.
pub(super) fn neighbours(bodies: &[Body], within_m: f64) -> Vec<(usize, usize)> {
    let spread = |axis: fn(&PlanPoint) -> f64| {
        let values = || bodies.iter().map(|body| axis(&body.around[0]));
        values().fold(f64::NEG_INFINITY, f64::max) - values().fold(f64::INFINITY, f64::min)
    };
    let along: fn(&PlanPoint) -> f64 = if spread(|at| at.0) >= spread(|at| at.1) { |at| at.0 } else { |at| at.1 };
    let mut order: Vec<usize> = (0..bodies.len()).collect();
    order.sort_by(|&a, &b| along(&bodies[a].around[0]).total_cmp(&along(&bodies[b].around[0])));
    let mut pairs = Vec::new();
    for (rank, &one) in order.iter().enumerate() {
        let [low, high] = bodies[one].around;
        for &other in &order[rank + 1..] {
            let [their_low, their_high] = bodies[other].around;
            if along(&their_low) > along(&high) + within_m {
                break;
            }
            let near = their_low.0 <= high.0 + within_m
                && low.0 <= their_high.0 + within_m
                && their_low.1 <= high.1 + within_m
                && low.1 <= their_high.1 + within_m;
            if near {
                pairs.push((one.min(other), one.max(other)));
                if pairs.len() == MOST_PAIRS {
                    pairs.sort_unstable();
                    return pairs;
                }
            }
        }
    }
    pairs.sort_unstable();
    pairs
}

/// How deep two convex outlines stand in one another: the least over all directions square to a side, which for convex
/// outlines is the way that is shortest (the separating axis theorem).
pub(super) fn depth(one: &[PlanPoint], two: &[PlanPoint]) -> Depth {
    let mut least = Depth { by_m: f64::INFINITY, way: (0.0, 0.0) };
    for outline in [one, two] {
        for (index, a) in outline.iter().enumerate() {
            let b = outline[(index + 1) % outline.len()];
            let (east, north) = (b.0 - a.0, b.1 - a.1);
            let length_m = east.hypot(north);
            if length_m == 0.0 {
                continue;
            }
            let out = (north / length_m, -east / length_m);
            let reach = |outline: &[PlanPoint]| {
                outline
                    .iter()
                    .map(|at| at.0 * out.0 + at.1 * out.1)
                    .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)))
            };
            let (first, second) = (reach(one), reach(two));
            for (by_m, sign) in [(first.1 - second.0, 1.0), (second.1 - first.0, -1.0)] {
                if by_m < least.by_m {
                    least = Depth { by_m, way: (sign * out.0, sign * out.1) };
                }
            }
        }
    }
    least
}

fn middle(a: PlanPoint, b: PlanPoint) -> PlanPoint {
    (0.5 * (a.0 + b.0), 0.5 * (a.1 + b.1))
}

fn around<'a>(points: impl Iterator<Item = &'a PlanPoint>) -> [PlanPoint; 2] {
    points.fold([(f64::INFINITY, f64::INFINITY), (f64::NEG_INFINITY, f64::NEG_INFINITY)], |[low, high], at| {
        [(low.0.min(at.0), low.1.min(at.1)), (high.0.max(at.0), high.1.max(at.1))]
    })
}

/// Whether an anticlockwise outline turns left at each corner.
fn is_convex(outline: &[PlanPoint]) -> bool {
    let count = outline.len();
    (0..count).all(|index| {
        let [a, b, c] = [0, 1, 2].map(|ahead| outline[(index + ahead) % count]);
        (b.0 - a.0) * (c.1 - b.1) - (b.1 - a.1) * (c.0 - b.0) >= -1e-9
    })
}

/// The stretches of a wall between its corners. Its outline runs along one side and back along the other.
fn stretches(outline: &[PlanPoint]) -> Vec<Vec<PlanPoint>> {
    let count = outline.len();
    (0..(count / 2).saturating_sub(1))
        .map(|index| [index, index + 1, count - 2 - index, count - 1 - index].map(|corner| outline[corner]).to_vec())
        .collect()
}
