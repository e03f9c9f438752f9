//! Where does a hand probably mean to put a thing? In line with what stands there, else on the grid.

use super::PlanPoint;

/// How a place came about.
#[derive(Clone, Debug, PartialEq)]
pub enum SnapReason {
    /// In line with a side of this outline, given by its number, along the line through two points.
    InLine {
        /// The outline's number.
        with: usize,
        /// Two points of the line.
        line: [PlanPoint; 2],
    },
    /// On the grid.
    Grid,
}

/// A place after snapping.
#[derive(Clone, Debug, PartialEq)]
pub struct Snapped {
    /// How far the thing moves from where the hand has it.
    pub by: PlanPoint,
    /// Why, nearest reason first; nothing where it stays.
    pub reasons: Vec<SnapReason>,
}

/// The move, no longer than `reach_m` a line, that brings corners of an outline in line with sides of others; two lines that
/// are not parallel are both met. Where none is near, the reference point goes to the grid, if there is one.
///
/// `corners` are those of the thing that is moved, its first one the reference point; `others` the outlines it may be in
/// line with, and `grid_m` the distance between lines of the grid, 0 for none.
///
/// # Example
/// ```
/// use plumbsight::site::snapped;
/// let house = vec![(0.0, 0.0), (8.0, 0.0), (8.0, 6.0), (0.0, 6.0)];
/// // A corner 0.1 m off the line of the house's front comes on to it.
/// let moved = snapped(&[(12.0, 0.1), (16.0, 0.1), (16.0, 5.0), (12.0, 5.0)], &[house], 0.0, 0.3);
/// assert!((moved.by.1 + 0.1).abs() < 1e-12 && moved.by.0 == 0.0);
/// ```
pub fn snapped(corners: &[PlanPoint], others: &[Vec<PlanPoint>], grid_m: f64, reach_m: f64) -> Snapped {
    let mut found: Vec<(f64, PlanPoint, SnapReason)> = Vec::new();
    for (with, ring) in others.iter().enumerate() {
        for index in 0..ring.len() {
            let (a, b) = (ring[index], ring[(index + 1) % ring.len()]);
            let length_m = (b.0 - a.0).hypot(b.1 - a.1);
            if length_m < 0.5 {
                continue;
            }
            let normal = ((b.1 - a.1) / length_m, (a.0 - b.0) / length_m);
            let off = |at: &PlanPoint| (at.0 - a.0) * normal.0 + (at.1 - a.1) * normal.1;
            let Some(off_m) = corners.iter().map(off).min_by(|a, b| a.abs().total_cmp(&b.abs())) else { continue };
            if off_m.abs() <= reach_m {
                let by = (-off_m * normal.0, -off_m * normal.1);
                found.push((off_m.abs(), by, SnapReason::InLine { with, line: [a, b] }));
            }
        }
    }
    // The nearest line of each outline first; of equals the first outline.
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    let Some((_, first, reason)) = found.first().cloned() else { return on_grid(corners, grid_m) };
    let along = direction(&reason);
    // A second line that is not parallel fixes the other direction; it is met by moving along the first.
    let second = found.iter().skip(1).find_map(|(_, by, other)| {
        let normal = {
            let (x, y) = direction(other);
            (y, -x)
        };
        let (slides, crosses) = (along.0 * normal.0 + along.1 * normal.1, by.0 * normal.0 + by.1 * normal.1);
        if slides.abs() < 0.5 {
            return None;
        }
        let left = crosses - (first.0 * normal.0 + first.1 * normal.1);
        let slide = left / slides;
        (slide.abs() <= 2.0 * reach_m).then(|| ((slide * along.0, slide * along.1), other.clone()))
    });
    match second {
        Some((slide, other)) => Snapped { by: (first.0 + slide.0, first.1 + slide.1), reasons: vec![reason, other] },
        None => Snapped { by: first, reasons: vec![reason] },
    }
}

fn direction(reason: &SnapReason) -> PlanPoint {
    match reason {
        SnapReason::InLine { line: [a, b], .. } => {
            let length_m = (b.0 - a.0).hypot(b.1 - a.1).max(f64::MIN_POSITIVE);
            ((b.0 - a.0) / length_m, (b.1 - a.1) / length_m)
        }
        SnapReason::Grid => (1.0, 0.0),
    }
}

fn on_grid(corners: &[PlanPoint], grid_m: f64) -> Snapped {
    let Some(&(x, y)) = corners.first().filter(|_| grid_m > 0.0) else {
        return Snapped { by: (0.0, 0.0), reasons: Vec::new() };
    };
    let to = |value: f64| (value / grid_m).round() * grid_m - value;
    Snapped { by: (to(x), to(y)), reasons: vec![SnapReason::Grid] }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOUSE: [PlanPoint; 4] = [(0.0, 0.0), (8.0, 0.0), (8.0, 6.0), (0.0, 6.0)];

    fn rectangle(x: f64, y: f64) -> Vec<PlanPoint> {
        vec![(x, y), (x + 4.0, y), (x + 4.0, y + 3.0), (x, y + 3.0)]
    }

    #[test]
    fn two_lines_that_cross_are_both_met() {
        // Beside the house's east side, and in line with its front.
        let snap = snapped(&rectangle(8.2, -0.1), &[HOUSE.to_vec()], 0.25, 0.3);
        assert!((snap.by.0 + 0.2).abs() < 1e-12 && (snap.by.1 - 0.1).abs() < 1e-12, "{snap:?}");
        assert_eq!(snap.reasons.len(), 2);
    }

    #[test]
    fn a_slanting_line_moves_square_to_itself() {
        let slanting = vec![(0.0, 0.0), (10.0, 10.0), (9.0, 11.0), (-1.0, 1.0)];
        let snap = snapped(&[(5.0, 4.8)], &[slanting], 0.0, 0.3);
        let (x, y) = (5.0 + snap.by.0, 4.8 + snap.by.1);
        assert!((x - y).abs() < 1e-9 && (snap.by.0 + snap.by.1).abs() < 1e-9, "{snap:?}");
    }

    #[test]
    fn far_from_every_line_the_grid_is_met_or_nothing() {
        let far = rectangle(30.13, 40.9);
        let snap = snapped(&far, &[HOUSE.to_vec()], 0.25, 0.3);
        assert!((snap.by.0 + 0.005).abs() < 0.13 && ((30.13 + snap.by.0) * 4.0).fract().abs() < 1e-9);
        assert_eq!(snap.reasons, [SnapReason::Grid]);
        assert_eq!(snapped(&far, &[], 0.0, 0.3), Snapped { by: (0.0, 0.0), reasons: Vec::new() });
        assert_eq!(snapped(&[], &[], 0.25, 0.3).by, (0.0, 0.0));
    }
}
