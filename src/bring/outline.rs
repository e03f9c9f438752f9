//! Is this a polygon that a solid can stand on?
//!
//! Outlines are held in whole millimetres, the grain of a site file, so every question about them has an exact answer.

use geo::coordinate_position::CoordPos;
use geo::dimensions::Dimensions;
use geo::{Coord, LineString, Polygon, PreparedGeometry, Relate};
use thiserror::Error;

use crate::site::PlanPoint;

/// A corner in whole millimetres east and north of the anchor.
type Corner = (i64, i64);

/// The most corners of one footprint, holes included.
const MOST_CORNERS: usize = 5_000;
/// The smallest area that is a footprint, 1 dm² in mm².
const LEAST_AREA_MM2: f64 = 10_000.0;

/// Why no solid can stand on an outline.
#[derive(Clone, Debug, Error, PartialEq)]
pub(super) enum OutlineFault {
    #[error("has fewer than three corners")]
    TooFewCorners,
    #[error("has {0} corners, and at most {MOST_CORNERS} are built")]
    TooManyCorners(usize),
    #[error("covers no area")]
    NoArea,
    #[error("touches or crosses itself {} m east and {} m north of the anchor", as_metres(at.0), as_metres(at.1))]
    MeetsItself { at: Corner },
    #[error("has a hole that leaves it or meets another hole")]
    StrayHole,
}

/// A polygon with holes.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Outline {
    rings: Vec<Vec<Corner>>,
    /// Its centre of area, to the millimetre.
    centre: Corner,
    /// Holes that vanish when rounded to the millimetre.
    pub(super) lost_holes: usize,
}

impl Outline {
    /// The polygon whose rings, the outer one first, are given in plan metres; they may close themselves and run either
    /// way round.
    pub(super) fn new(rings: &[Vec<PlanPoint>]) -> Result<Self, OutlineFault> {
        let corners = rings.iter().map(Vec::len).sum();
        if corners > MOST_CORNERS {
            return Err(OutlineFault::TooManyCorners(corners));
        }
        let mut rounded = rings.iter().map(|ring| ring_of(ring));
        let outer = rounded.next().unwrap_or_default();
        if outer.len() < 3 {
            return Err(OutlineFault::TooFewCorners);
        }
        let mut rings = vec![outer];
        let mut lost_holes = 0;
        for hole in rounded {
            if hole.len() < 3 {
                lost_holes += 1;
            } else {
                rings.push(hole);
            }
        }
        for ring in &rings {
            if let Some(at) = meets_itself(ring) {
                return Err(OutlineFault::MeetsItself { at });
            }
        }
        // As RFC 7946 has it: the outer ring anticlockwise, holes clockwise.
        for (index, ring) in rings.iter_mut().enumerate() {
            if (twice_area(ring) > 0) != (index == 0) {
                ring.reverse();
            }
        }
        if !holes_lie_inside(&rings) {
            return Err(OutlineFault::StrayHole);
        }
        let area_mm2 = rings.iter().map(|ring| twice_area(ring)).sum::<i128>() as f64 / 2.0;
        if area_mm2 < LEAST_AREA_MM2 {
            return Err(OutlineFault::NoArea);
        }
        let centre = centre_of(&rings, area_mm2);
        Ok(Self { rings, centre, lost_holes })
    }

    /// The centre of its area, in plan metres.
    pub(super) fn centre_m(&self) -> PlanPoint {
        (as_metres(self.centre.0), as_metres(self.centre.1))
    }

    /// Its outer ring and holes, in metres about its centre.
    pub(super) fn about_centre_m(&self) -> (Vec<PlanPoint>, Vec<Vec<PlanPoint>>) {
        let metres = |ring: &Vec<Corner>| {
            ring.iter().map(|&(x, y)| (as_metres(x - self.centre.0), as_metres(y - self.centre.1))).collect()
        };
        let mut rings = self.rings.iter().map(metres);
        (rings.next().unwrap_or_default(), rings.collect())
    }

    pub(super) fn holes(&self) -> usize {
        self.rings.len() - 1
    }
}

/// Whole millimetres as metres: the nearest number to the decimal one, so that files show three decimals.
fn as_metres(millimetres: i64) -> f64 {
    millimetres as f64 / 1000.0
}

/// A ring in whole millimetres, without its closing corner and without corners that follow themselves.
fn ring_of(ring: &[PlanPoint]) -> Vec<Corner> {
    let mut corners: Vec<Corner> =
        ring.iter().map(|&(x, y)| ((x * 1000.0).round() as i64, (y * 1000.0).round() as i64)).collect();
    corners.dedup();
    while corners.len() > 1 && corners.first() == corners.last() {
        corners.pop();
    }
    corners
}

/// Twice the signed area: > 0 anticlockwise.
fn twice_area(ring: &[Corner]) -> i128 {
    sides(ring).map(|(a, b)| i128::from(a.0) * i128::from(b.1) - i128::from(b.0) * i128::from(a.1)).sum()
}

fn sides(ring: &[Corner]) -> impl Iterator<Item = (Corner, Corner)> + '_ {
    ring.iter().copied().zip(ring.iter().copied().cycle().skip(1))
}

fn centre_of(rings: &[Vec<Corner>], area_mm2: f64) -> Corner {
    // About a corner of its own, so that no digits are lost far from the anchor.
    let origin = rings[0][0];
    let (mut sum_x, mut sum_y) = (0.0, 0.0);
    for (a, b) in rings.iter().flat_map(|ring| sides(ring)) {
        let [ax, ay, bx, by] = [a.0 - origin.0, a.1 - origin.1, b.0 - origin.0, b.1 - origin.1].map(|side| side as f64);
        let cross = ax * by - bx * ay;
        sum_x += (ax + bx) * cross;
        sum_y += (ay + by) * cross;
    }
    let share = 1.0 / (6.0 * area_mm2);
    (origin.0 + (sum_x * share).round() as i64, origin.1 + (sum_y * share).round() as i64)
}

/// The turn from a→b to a→c: > 0 left.
fn turn(a: Corner, b: Corner, c: Corner) -> i128 {
    i128::from(b.0 - a.0) * i128::from(c.1 - a.1) - i128::from(b.1 - a.1) * i128::from(c.0 - a.0)
}

/// Where a ring touches or crosses itself, other than from each side to the next.
fn meets_itself(ring: &[Corner]) -> Option<Corner> {
    let count = ring.len();
    let side = |index: usize| (ring[index], ring[(index + 1) % count]);
    let mut by_west: Vec<usize> = (0..count).collect();
    by_west.sort_by_key(|&index| {
        let (a, b) = side(index);
        a.0.min(b.0)
    });
    // Sides that reach as far east as the one looked at begins; only those can meet it.
    let mut open: Vec<usize> = Vec::new();
    for &index in &by_west {
        let (a, b) = side(index);
        open.retain(|&other| side(other).0.0.max(side(other).1.0) >= a.0.min(b.0));
        for &other in &open {
            let (c, d) = side(other);
            let met = if (index + 1) % count == other {
                doubles_back(a, b, d)
            } else if (other + 1) % count == index {
                doubles_back(c, a, b)
            } else {
                touch((a, b), (c, d))
            };
            if met {
                return Some(if on_side(c, d, a) { a } else { b });
            }
        }
        open.push(index);
    }
    None
}

/// Whether the way a→b→c turns right back on itself.
fn doubles_back(a: Corner, b: Corner, c: Corner) -> bool {
    let along = i128::from(a.0 - b.0) * i128::from(c.0 - b.0) + i128::from(a.1 - b.1) * i128::from(c.1 - b.1);
    turn(a, b, c) == 0 && along > 0
}

/// Whether a corner lies on the side a→b.
fn on_side(a: Corner, b: Corner, corner: Corner) -> bool {
    let between = |low: i64, high: i64, value: i64| (low.min(high)..=low.max(high)).contains(&value);
    turn(a, b, corner) == 0 && between(a.0, b.0, corner.0) && between(a.1, b.1, corner.1)
}

/// Whether two sides have a point in common.
fn touch((a, b): (Corner, Corner), (c, d): (Corner, Corner)) -> bool {
    let apart = |turns: (i128, i128)| turns.0.signum() * turns.1.signum() < 0;
    (apart((turn(a, b, c), turn(a, b, d))) && apart((turn(c, d, a), turn(c, d, b))))
        || on_side(a, b, c)
        || on_side(a, b, d)
        || on_side(c, d, a)
        || on_side(c, d, b)
}

/// Whether every hole lies inside the outer ring and beside all others; touching at single points is allowed.
fn holes_lie_inside(rings: &[Vec<Corner>]) -> bool {
    if rings.len() == 1 {
        return true;
    }
    let polygon = |ring: &Vec<Corner>| {
        let corners = ring.iter().map(|&(x, y)| Coord { x: x as f64, y: y as f64 }).collect();
        Polygon::new(LineString::new(corners), Vec::new())
    };
    let polygons: Vec<Polygon> = rings.iter().map(polygon).collect();
    let prepared: Vec<PreparedGeometry<'_, &Polygon>> = polygons.iter().map(PreparedGeometry::from).collect();
    let touch_along_a_line = |a: usize, b: usize| {
        prepared[a].relate(&prepared[b]).get(CoordPos::OnBoundary, CoordPos::OnBoundary) == Dimensions::OneDimensional
    };
    (1..rings.len()).all(|hole| {
        prepared[0].relate(&prepared[hole]).is_contains()
            && !touch_along_a_line(0, hole)
            && (1..hole).all(|other| {
                let relation = prepared[hole].relate(&prepared[other]);
                relation.get(CoordPos::Inside, CoordPos::Inside) == Dimensions::Empty
                    && !touch_along_a_line(hole, other)
            })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(west: f64, south: f64, side: f64) -> Vec<PlanPoint> {
        vec![(west, south), (west + side, south), (west + side, south + side), (west, south + side), (west, south)]
    }

    #[test]
    fn rings_may_run_either_way_and_close_themselves() {
        let mut clockwise = square(100.0, 50.0, 4.0);
        clockwise.reverse();
        for ring in [square(100.0, 50.0, 4.0), clockwise, square(100.0, 50.0, 4.0)[..4].to_vec()] {
            let outline = Outline::new(&[ring, square(101.0, 51.0, 1.0)]).expect("a polygon");
            // The centre of 16 m² at 2 m less 1 m² at 1.5 m: (32 − 1.5)/15.
            assert_eq!(outline.centre_m(), (102.033, 52.033));
            let (outer, holes) = outline.about_centre_m();
            assert_eq!((outer.len(), holes.len()), (4, 1));
            let area = |ring: &[PlanPoint]| {
                ring.iter().zip(ring.iter().cycle().skip(1)).map(|(a, b)| a.0 * b.1 - b.0 * a.1).sum::<f64>() / 2.0
            };
            assert!((area(&outer) - 16.0).abs() < 1e-9 && (area(&holes[0]) + 1.0).abs() < 1e-9);
        }
    }

    #[test]
    fn polygons_that_no_solid_can_stand_on_are_told_apart() {
        let fault = |rings: &[Vec<PlanPoint>]| Outline::new(rings).expect_err("no polygon");
        let bow_tie = vec![(0.0, 0.0), (4.0, 4.0), (4.0, 0.0), (0.0, 4.0)];
        let pinched = vec![(0.0, 0.0), (2.0, 2.0), (4.0, 0.0), (4.0, 4.0), (2.0, 2.0), (0.0, 4.0)];
        let corner_on_side = vec![(0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (2.0, 0.0), (0.0, 4.0)];
        let spike = vec![(0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (4.0, 9.0), (4.0, 4.0), (0.0, 4.0)];
        let flat = vec![(0.0, 0.0), (4.0, 0.0), (2.0, 0.0)];
        for ring in [bow_tie, pinched, corner_on_side, spike, flat] {
            assert!(matches!(fault(std::slice::from_ref(&ring)), OutlineFault::MeetsItself { .. }), "{ring:?}");
        }
        assert_eq!(fault(&[]), OutlineFault::TooFewCorners);
        assert_eq!(fault(&[vec![(0.0, 0.0), (0.0002, 0.0), (0.0, 0.0003), (1.0, 1.0)]]), OutlineFault::TooFewCorners);
        assert_eq!(fault(&[square(0.0, 0.0, 0.05)]), OutlineFault::NoArea);
        assert_eq!(fault(&[vec![(0.0, 0.0); 6000]]), OutlineFault::TooManyCorners(6000));
        let whole = square(0.0, 0.0, 4.0);
        for holes in [
            vec![square(3.0, 3.0, 2.0)],
            vec![square(9.0, 9.0, 1.0)],
            vec![square(0.0, 1.0, 1.0)],
            vec![square(1.0, 1.0, 2.0), square(2.0, 2.0, 1.5)],
            vec![square(1.0, 1.0, 2.0), square(1.5, 1.5, 0.5)],
        ] {
            let rings: Vec<_> = std::iter::once(whole.clone()).chain(holes.clone()).collect();
            assert_eq!(fault(&rings), OutlineFault::StrayHole, "{holes:?}");
        }
        // A hole may touch the outline in a point.
        assert!(Outline::new(&[whole.clone(), vec![(0.0, 2.0), (1.0, 1.0), (1.0, 3.0)]]).is_ok());
        assert_eq!(Outline::new(&[whole, vec![(1.0, 1.0); 4]]).expect("a polygon").lost_holes, 1);
    }
}
