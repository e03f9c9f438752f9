//! Is an outline in plan one that can be built: closed, without crossings, its holes inside it?
//!
//! All rings of one outline are swept together from west to east. At most one pair of edges has to be looked at for each
//! edge that begins or ends (M. I. Shamos, D. Hoey, "Geometric intersection problems", 1976), so that an outline of
//! 100 000 corners is looked through as surely as one of four. The side on which a point lies is decided exactly.

use std::cmp::Ordering;
use std::collections::BTreeSet;

use geo::Coord;
use geo::algorithm::kernels::{Kernel, Orientation, RobustKernel};

use super::PlanPoint;

/// The smallest area that counts as one: 1 cm².
const SMALLEST_AREA_M2: f64 = 1e-4;

/// Why rings make no outline. Ring 0 is the outline, the others are its holes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum RingFault {
    /// Fewer than three corners.
    TooFew { ring: usize },
    /// Two corners are the same.
    Repeated { corner: (usize, usize), first: (usize, usize) },
    /// Two edges cross or touch; an edge is named by its ring and its first corner.
    Crosses { edge: (usize, usize), other: (usize, usize) },
    /// Nothing, or next to it, is enclosed.
    Flat { ring: usize },
    /// A hole that lies outside the outline.
    Outside { ring: usize },
    /// A hole that lies in another hole.
    Nested { ring: usize },
}

/// An edge, from its lexicographically smaller end to the other.
#[derive(Clone, Copy, Debug)]
struct RingEdge {
    left: PlanPoint,
    right: PlanPoint,
    ring: usize,
    corner: usize,
    /// Whether the ring is walked from `left` to `right`.
    forward: bool,
}

/// The first thing that is wrong with rings of finite coordinates, if anything is.
pub(crate) fn ring_fault(rings: &[&[PlanPoint]]) -> Option<RingFault> {
    if let Some(ring) = rings.iter().position(|ring| ring.len() < 3) {
        return Some(RingFault::TooFew { ring });
    }
    if let Some(fault) = repeated(rings) {
        return Some(fault);
    }
    let edges = edges(rings);
    let parents = match sweep(rings, &edges) {
        Ok(parents) => parents,
        Err(fault) => return Some(fault),
    };
    if let Some(ring) = rings.iter().position(|ring| area_m2(ring).abs() < SMALLEST_AREA_M2) {
        return Some(RingFault::Flat { ring });
    }
    parents.iter().enumerate().skip(1).find_map(|(ring, parent)| match parent {
        Some(0) => None,
        Some(_) => Some(RingFault::Nested { ring }),
        None => Some(RingFault::Outside { ring }),
    })
}

/// The area enclosed by a ring, positive where it is walked anticlockwise.
pub(super) fn area_m2(ring: &[PlanPoint]) -> f64 {
    let Some(&(x0, y0)) = ring.first() else { return 0.0 };
    let mut twice = 0.0;
    for pair in ring.windows(2) {
        let ((ax, ay), (bx, by)) = ((pair[0].0 - x0, pair[0].1 - y0), (pair[1].0 - x0, pair[1].1 - y0));
        twice += ax * by - bx * ay;
    }
    twice / 2.0
}

fn compare_points(a: PlanPoint, b: PlanPoint) -> Ordering {
    // −0 and 0 are the same place.
    (a.0 + 0.0).total_cmp(&(b.0 + 0.0)).then((a.1 + 0.0).total_cmp(&(b.1 + 0.0)))
}

fn repeated(rings: &[&[PlanPoint]]) -> Option<RingFault> {
    let mut corners: Vec<(PlanPoint, (usize, usize))> = rings
        .iter()
        .enumerate()
        .flat_map(|(ring, corners)| corners.iter().enumerate().map(move |(corner, &at)| (at, (ring, corner))))
        .collect();
    corners.sort_by(|a, b| compare_points(a.0, b.0).then(a.1.cmp(&b.1)));
    corners
        .windows(2)
        .filter(|pair| compare_points(pair[0].0, pair[1].0) == Ordering::Equal)
        .map(|pair| RingFault::Repeated { corner: pair[1].1, first: pair[0].1 })
        .min_by_key(|fault| match fault {
            RingFault::Repeated { corner, .. } => *corner,
            _ => (usize::MAX, usize::MAX),
        })
}

fn edges(rings: &[&[PlanPoint]]) -> Vec<RingEdge> {
    let mut edges = Vec::with_capacity(rings.iter().map(|ring| ring.len()).sum());
    for (ring, corners) in rings.iter().enumerate() {
        for (corner, (&a, &b)) in corners.iter().zip(corners.iter().cycle().skip(1)).enumerate() {
            let forward = compare_points(a, b) == Ordering::Less;
            let (left, right) = if forward { (a, b) } else { (b, a) };
            edges.push(RingEdge { left, right, ring, corner, forward });
        }
    }
    edges
}

/// Which side of the line from `a` to `b` the point lies on: greater is left of it.
fn side(a: PlanPoint, b: PlanPoint, point: PlanPoint) -> Ordering {
    let at = |(x, y): PlanPoint| Coord { x, y };
    match RobustKernel::orient2d(at(a), at(b), at(point)) {
        Orientation::CounterClockwise => Ordering::Greater,
        Orientation::Clockwise => Ordering::Less,
        Orientation::Collinear => Ordering::Equal,
    }
}

/// An edge among those that the sweep line meets, ordered from south to north.
#[derive(Clone, Copy, Debug)]
struct Meeting {
    edge: RingEdge,
}

impl PartialEq for Meeting {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Meeting {}

impl PartialOrd for Meeting {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Meeting {
    fn cmp(&self, other: &Self) -> Ordering {
        let (a, b) = (&self.edge, &other.edge);
        if (a.ring, a.corner) == (b.ring, b.corner) {
            return Ordering::Equal;
        }
        // The one that begins later is placed against the other's line.
        let ordering = if compare_points(a.left, b.left) != Ordering::Greater {
            side(a.left, a.right, b.left).then_with(|| side(a.left, a.right, b.right)).reverse()
        } else {
            side(b.left, b.right, a.left).then_with(|| side(b.left, b.right, a.right))
        };
        ordering.then((a.ring, a.corner).cmp(&(b.ring, b.corner)))
    }
}

/// Sweeps the edges from west to east: the ring that each ring lies directly in, or the first crossing that is met.
fn sweep(rings: &[&[PlanPoint]], edges: &[RingEdge]) -> Result<Vec<Option<usize>>, RingFault> {
    let anticlockwise: Vec<bool> = rings.iter().map(|ring| area_m2(ring) > 0.0).collect();
    // At a point, edges that end go before edges that begin.
    let mut events: Vec<(PlanPoint, bool, usize)> = Vec::with_capacity(2 * edges.len());
    for (index, edge) in edges.iter().enumerate() {
        events.push((edge.left, true, index));
        events.push((edge.right, false, index));
    }
    events.sort_by(|a, b| compare_points(a.0, b.0).then(a.1.cmp(&b.1)).then(a.2.cmp(&b.2)));

    let mut parents: Vec<Option<Option<usize>>> = vec![None; rings.len()];
    let mut met: BTreeSet<Meeting> = BTreeSet::new();
    for (_, begins, index) in events {
        let here = Meeting { edge: edges[index] };
        if !begins {
            met.remove(&here);
        }
        let below = met.range(..here).next_back().copied();
        let above = met.range(here..).next().copied();
        if begins {
            for other in [below, above].into_iter().flatten() {
                check(rings, &here.edge, &other.edge)?;
            }
            if parents[here.edge.ring].is_none() {
                // Nothing of this ring has been met before, so the edge below it tells what it lies in. An edge walked
                // eastward has its ring's inside above it where the ring runs anticlockwise.
                parents[here.edge.ring] = Some(below.and_then(|Meeting { edge }| {
                    if edge.forward == anticlockwise[edge.ring] {
                        Some(edge.ring)
                    } else {
                        parents[edge.ring].flatten()
                    }
                }));
            }
            met.insert(here);
        } else if let (Some(below), Some(above)) = (below, above) {
            check(rings, &below.edge, &above.edge)?;
        }
    }
    Ok(parents.into_iter().map(Option::flatten).collect())
}

/// Whether two edges meet anywhere but in the corner that neighbours share.
fn check(rings: &[&[PlanPoint]], a: &RingEdge, b: &RingEdge) -> Result<(), RingFault> {
    let count = rings.get(a.ring).map_or(0, |ring| ring.len());
    let neighbours = a.ring == b.ring && ((a.corner + 1) % count == b.corner || (b.corner + 1) % count == a.corner);
    let meets = if neighbours {
        // Two edges that share a corner meet elsewhere only where one lies back along the other.
        folds_back(a, b)
    } else {
        segments_meet(a, b)
    };
    if !meets {
        return Ok(());
    }
    let (a, b) = ((a.ring, a.corner), (b.ring, b.corner));
    Err(RingFault::Crosses { edge: a.max(b), other: a.min(b) })
}

fn folds_back(a: &RingEdge, b: &RingEdge) -> bool {
    let along = side(a.left, a.right, b.left) == Ordering::Equal && side(a.left, a.right, b.right) == Ordering::Equal;
    let same = |p: PlanPoint, q: PlanPoint| compare_points(p, q) == Ordering::Equal;
    along && (same(a.left, b.left) || same(a.right, b.right))
}

fn segments_meet(a: &RingEdge, b: &RingEdge) -> bool {
    let (b_left, b_right) = (side(a.left, a.right, b.left), side(a.left, a.right, b.right));
    let (a_left, a_right) = (side(b.left, b.right, a.left), side(b.left, b.right, a.right));
    if b_left == Ordering::Equal && b_right == Ordering::Equal {
        // On one line: they meet where their stretches overlap.
        return compare_points(a.left, b.right) != Ordering::Greater
            && compare_points(b.left, a.right) != Ordering::Greater;
    }
    let parted = |first: Ordering, second: Ordering| first == second && first != Ordering::Equal;
    !parted(b_left, b_right) && !parted(a_left, a_right)
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::{Area, Validation};
    use proptest::prelude::*;

    fn fault(rings: &[&[PlanPoint]]) -> Option<RingFault> {
        ring_fault(rings)
    }

    const SQUARE: [PlanPoint; 4] = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)];

    #[test]
    fn good_rings_pass() {
        assert_eq!(fault(&[&SQUARE]), None);
        let clockwise: Vec<PlanPoint> = SQUARE.iter().rev().copied().collect();
        assert_eq!(fault(&[&clockwise]), None);
        // Straight corners, and corners under one another.
        let stepped =
            [(0.0, 0.0), (5.0, 0.0), (10.0, 0.0), (10.0, 4.0), (10.0, 9.0), (5.0, 9.0), (5.0, 4.0), (0.0, 4.0)];
        assert_eq!(fault(&[&stepped]), None);
        let holes: [&[PlanPoint]; 3] =
            [&SQUARE, &[(1.0, 1.0), (2.0, 1.0), (2.0, 2.0)], &[(3.0, 3.0), (3.0, 5.0), (5.0, 5.0)]];
        assert_eq!(fault(&holes), None);
    }

    #[test]
    fn each_fault_is_told_with_its_corner() {
        let line_bend = [(0.0, 0.0), (10.0, 10.0), (10.0, 0.0), (0.0, 10.0)];
        assert_eq!(fault(&[&line_bend]), Some(RingFault::Crosses { edge: (0, 2), other: (0, 0) }));
        assert_eq!(fault(&[&SQUARE[..2]]), Some(RingFault::TooFew { ring: 0 }));
        let repeated = [(0.0, 0.0), (10.0, 0.0), (10.0, 0.0), (0.0, 10.0)];
        assert_eq!(fault(&[&repeated]), Some(RingFault::Repeated { corner: (0, 2), first: (0, 1) }));
        let spike = [(0.0, 0.0), (10.0, 0.0), (5.0, 0.0), (5.0, 5.0)];
        assert!(matches!(fault(&[&spike]), Some(RingFault::Crosses { .. })));
        let flat = [(0.0, 0.0), (10.0, 0.0), (5.0, 1e-6)];
        assert_eq!(fault(&[&flat]), Some(RingFault::Flat { ring: 0 }));
        let touching = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (5.0, 0.0), (0.0, 10.0)];
        assert!(matches!(fault(&[&touching]), Some(RingFault::Crosses { .. })));
        let outside = [(20.0, 1.0), (21.0, 1.0), (21.0, 2.0)];
        assert_eq!(fault(&[&SQUARE, &outside]), Some(RingFault::Outside { ring: 1 }));
        let (hole, inner) = ([(1.0, 1.0), (8.0, 1.0), (8.0, 8.0)], [(5.0, 2.0), (6.0, 2.0), (6.0, 3.0)]);
        assert_eq!(fault(&[&SQUARE, &hole, &inner]), Some(RingFault::Nested { ring: 2 }));
        let through = [(5.0, 5.0), (15.0, 5.0), (15.0, 6.0)];
        assert!(matches!(fault(&[&SQUARE, &through]), Some(RingFault::Crosses { .. })));
        let around = [(-1.0, -1.0), (11.0, -1.0), (11.0, 11.0), (-1.0, 11.0)];
        assert_eq!(fault(&[&SQUARE, &around]), Some(RingFault::Outside { ring: 1 }));
    }

    #[test]
    fn a_hundred_thousand_corners_are_no_burden() {
        // Compared pair by pair they would take minutes, and this test with them.
        // A comb of slanted teeth: every bounding box overlaps thousands of others.
        let teeth = 50_000;
        let mut comb: Vec<PlanPoint> = Vec::new();
        for tooth in 0..teeth {
            let x = f64::from(tooth) * 0.01;
            comb.push((x, 0.0));
            comb.push((x + 1000.0, 1000.0));
        }
        comb.push((2000.0, -1.0));
        comb.push((0.0, -2.0));
        assert_eq!(fault(&[&comb]), None);
        comb.swap(7_000, 7_002);
        assert!(matches!(fault(&[&comb]), Some(RingFault::Crosses { .. })));
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        /// The same answer as the general-purpose library gives, on a coarse grid where corners and edges often touch.
        #[test]
        fn agrees_with_the_library(corners in prop::collection::vec((0_i32..6, 0_i32..6), 3..9)) {
            let ring: Vec<PlanPoint> = corners.iter().map(|&(x, y)| (f64::from(x), f64::from(y))).collect();
            let polygon = geo::Polygon::new(geo::LineString::from(ring.clone()), Vec::new());
            // The library lets neighbours repeat each other, takes a closed ring and one without area; none is allowed
            // here.
            let distinct = ring.iter().zip(ring.iter().cycle().skip(1)).all(|(a, b)| a != b);
            let wanted = polygon.is_valid() && distinct && polygon.unsigned_area() > 0.0;
            prop_assert_eq!(ring_fault(&[&ring]).is_none(), wanted, "{:?}", ring);
        }

        #[test]
        fn agrees_with_the_library_on_slants(corners in prop::collection::vec((0.0_f64..9.0, 0.0_f64..9.0), 3..12)) {
            let polygon = geo::Polygon::new(geo::LineString::from(corners.clone()), Vec::new());
            let wanted = polygon.is_valid() && polygon.unsigned_area() >= SMALLEST_AREA_M2;
            prop_assert_eq!(ring_fault(&[&corners]).is_none(), wanted);
        }

        /// Holes: those the library calls valid pass here, save where a hole touches something in a point.
        #[test]
        fn agrees_with_the_library_on_holes(
            hole in prop::collection::vec((-2.0_f64..12.0, -2.0_f64..12.0), 3..5),
            other in prop::collection::vec((-2.0_f64..12.0, -2.0_f64..12.0), 3..5),
        ) {
            let outline = [(0.0, 0.0), (10.0, 1.0), (9.0, 10.0), (1.0, 9.0)];
            let polygon = geo::Polygon::new(
                geo::LineString::from(outline.to_vec()),
                vec![geo::LineString::from(hole.clone()), geo::LineString::from(other.clone())],
            );
            let large = polygon.interiors().iter().all(|ring| {
                geo::Polygon::new(ring.clone(), Vec::new()).unsigned_area() >= SMALLEST_AREA_M2
            });
            prop_assert_eq!(ring_fault(&[&outline, &hole, &other]).is_none(), polygon.is_valid() && large);
        }
    }
}
