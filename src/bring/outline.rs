//! Is this a polygon that a solid can stand on?
//!
//! Outlines are held in whole millimetres, the grain of a site file, and are put to the same test as a person's own.

use thiserror::Error;

use crate::site::{PlanPoint, RingFault, ring_fault};

/// A corner in whole millimetres east and north of the anchor.
type Corner = (i64, i64);

/// The most corners of one footprint, holes included: as many as a site's own check allows.
const MOST_CORNERS: usize = 100_000;
/// The smallest area that is a footprint or a court, 1 dm² in mm².
const LEAST_AREA_MM2: f64 = 10_000.0;

/// Why no solid can stand on an outline.
#[derive(Clone, Debug, Error, PartialEq)]
pub(super) enum OutlineFault {
    #[error("has fewer than three corners")]
    TooFewCorners,
    #[error("has {0} corners, and at most {MOST_CORNERS} are built")]
    TooManyCorners(usize),
    #[error("covers less than 1 dm²")]
    NoArea,
    #[error("touches or crosses itself {} m east and {} m north of the anchor", as_metres(at.0), as_metres(at.1))]
    MeetsItself { at: Corner },
    #[error("has a hole outside it or inside another hole")]
    StrayHole,
}

/// A polygon with holes.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct FootprintRings {
    rings: Vec<Vec<Corner>>,
    /// Its centre of area, to the millimetre.
    centre: Corner,
    /// Holes too small to be courts, which it goes without.
    pub(super) lost_holes: usize,
}

impl FootprintRings {
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
        let least = (2.0 * LEAST_AREA_MM2) as i128;
        let (holes, lost): (Vec<_>, Vec<_>) = rounded.partition(|hole| twice_area(hole).abs() >= least);
        let mut rings = vec![outer];
        rings.extend(holes);
        // As RFC 7946 has it: the outer ring anticlockwise, holes clockwise.
        for (index, ring) in rings.iter_mut().enumerate() {
            if (twice_area(ring) > 0) != (index == 0) {
                ring.reverse();
            }
        }
        let area_mm2 = rings.iter().map(|ring| twice_area(ring)).sum::<i128>() as f64 / 2.0;
        // Until it is known that the rings are sound, any corner serves as the centre.
        let mut outline = Self { centre: rings[0][0], rings, lost_holes: lost.len() };
        if let Some(fault) = outline.fault() {
            return Err(fault);
        }
        if area_mm2 < LEAST_AREA_MM2 {
            return Err(OutlineFault::NoArea);
        }
        outline.centre = centre_of(&outline.rings, area_mm2);
        // Rounded about another centre the corners are other numbers; the site file will hold these.
        match outline.fault() {
            None => Ok(outline),
            Some(fault) => Err(fault),
        }
    }

    /// What the site's own check would say of it.
    fn fault(&self) -> Option<OutlineFault> {
        let (outer, holes) = self.about_centre_m();
        let rings: Vec<&[PlanPoint]> = std::iter::once(&outer).chain(&holes).map(Vec::as_slice).collect();
        let meets_itself = |(ring, corner): (usize, usize)| OutlineFault::MeetsItself { at: self.rings[ring][corner] };
        Some(match ring_fault(&rings)? {
            RingFault::TooFew { .. } => OutlineFault::TooFewCorners,
            RingFault::Repeated { corner, .. } => meets_itself(corner),
            RingFault::Crosses { edge, .. } => meets_itself(edge),
            RingFault::Flat { .. } => OutlineFault::NoArea,
            RingFault::Outside { .. } | RingFault::Nested { .. } => OutlineFault::StrayHole,
        })
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
            let outline = FootprintRings::new(&[ring, square(101.0, 51.0, 1.0)]).expect("a polygon");
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
        let fault = |rings: &[Vec<PlanPoint>]| FootprintRings::new(rings).expect_err("no polygon");
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
        assert_eq!(fault(&[vec![(0.0, 0.0); 100_001]]), OutlineFault::TooManyCorners(100_001));
        let whole = square(0.0, 0.0, 4.0);
        for (holes, stray) in [
            (vec![square(9.0, 9.0, 1.0)], true),
            (vec![square(1.0, 1.0, 2.0), square(1.5, 1.5, 0.5)], true),
            (vec![square(3.0, 3.0, 2.0)], false),
            (vec![square(0.0, 1.0, 1.0)], false),
            (vec![square(1.0, 1.0, 2.0), square(2.0, 2.0, 1.5)], false),
            // A court that opens in a point, which a polygon may have and a solid may not.
            (vec![vec![(0.0, 2.0), (1.0, 1.0), (1.0, 3.0)]], false),
        ] {
            let rings: Vec<_> = std::iter::once(whole.clone()).chain(holes.clone()).collect();
            assert_eq!(fault(&rings) == OutlineFault::StrayHole, stray, "{holes:?}");
            assert_eq!(matches!(fault(&rings), OutlineFault::MeetsItself { .. }), !stray, "{holes:?}");
        }
        assert_eq!(FootprintRings::new(&[whole, vec![(1.0, 1.0); 4]]).expect("a polygon").lost_holes, 1);
    }
}
