//! Where do lines of one height run in plan?
//!
//! Heights are sampled on a grid that stays where it is in the world when the view moves, so that lines do not crawl, and
//! rounded over the terrain's posts as in stills.

use std::collections::BTreeMap;

use crate::site::{PlanPoint, Terrain, TerrainGrid};
use crate::units::Units;

/// Lines on a plan are at least about so many apart from lowest to highest.
const MOST_LINES: f64 = 14.0;
/// Slopes smaller than this over all that is seen are level ground.
const LEVEL_M: f64 = 0.02;
/// No more samples than this along a side.
const MOST_SAMPLES: f64 = 400.0;

/// Heights on a grid of samples.
pub(super) struct Heights {
    first: PlanPoint,
    step_m: f64,
    columns: usize,
    rows: usize,
    /// Row by row from the south.
    heights_m: Vec<f64>,
}

/// A line of one height; closed where it returns to its start.
pub(super) struct Contour {
    pub(super) points: Vec<PlanPoint>,
    pub(super) closed: bool,
}

impl Heights {
    /// The heights over a plan box, sampled about so far apart; `None` for level ground.
    pub(super) fn over(terrain: &Terrain, (low, high): (PlanPoint, PlanPoint), apart_m: f64) -> Option<Self> {
        let Terrain::Grid(grid) = terrain else { return None };
        let side_m = (high.0 - low.0).max(high.1 - low.1);
        // Between posts there is nothing new to see.
        let finest_m = 0.125 * grid.spacing_m.0.min(grid.spacing_m.1);
        let step_m = crate::units::round_step(apart_m.max(finest_m).max(side_m / MOST_SAMPLES))?;
        let first = ((low.0 / step_m).floor() - 1.0, (low.1 / step_m).floor() - 1.0);
        let count = |low: f64, high: f64| ((high / step_m).ceil() - low + 2.0).max(2.0) as usize;
        let (columns, rows) = (count(first.0, high.0), count(first.1, high.1));
        let first = (first.0 * step_m, first.1 * step_m);
        let heights_m = (0..rows)
            .flat_map(|row| (0..columns).map(move |column| (column, row)))
            .map(|(column, row)| rounded_m(grid, (first.0 + step_m * column as f64, first.1 + step_m * row as f64)))
            .collect();
        Some(Self { first, step_m, columns, rows, heights_m })
    }

    /// The lowest and the highest.
    pub(super) fn range_m(&self) -> (f64, f64) {
        self.heights_m
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), &height_m| (low.min(height_m), high.max(height_m)))
    }

    /// The smallest interval of 1, 2 or 5 (times a power of ten) metres or feet that leaves the lines readable, in metres;
    /// `None` on level ground.
    pub(super) fn interval_m(&self, units: Units) -> Option<f64> {
        let (low, high) = self.range_m();
        if high - low < LEVEL_M { None } else { units.round_length_m((high - low) / MOST_LINES) }
    }

    /// The same with everything outside raised so high that areas below a height close themselves.
    pub(super) fn walled(mut self) -> Self {
        for row in 0..self.rows {
            for column in 0..self.columns {
                if row == 0 || column == 0 || row == self.rows - 1 || column == self.columns - 1 {
                    self.heights_m[row * self.columns + column] = 1e6;
                }
            }
        }
        self
    }

    fn height_m(&self, column: usize, row: usize) -> f64 {
        self.heights_m[row * self.columns + column]
    }

    /// The lines at a height: marching squares, each cell with four corners of equal height parted by its mean.
    pub(super) fn lines(&self, level_m: f64) -> Vec<Contour> {
        // A crossing is known by the side of a cell that it lies on: column, row, and whether the side runs north.
        type Side = (usize, usize, bool);
        let above = |column: usize, row: usize| self.height_m(column, row) > level_m;
        let mut next: BTreeMap<Side, Vec<Side>> = BTreeMap::new();
        for row in 0..self.rows - 1 {
            for column in 0..self.columns - 1 {
                let corners =
                    [above(column, row), above(column + 1, row), above(column + 1, row + 1), above(column, row + 1)];
                let sides: [Side; 4] =
                    [(column, row, false), (column + 1, row, true), (column, row + 1, false), (column, row, true)];
                let crossed: Vec<usize> = (0..4).filter(|&side| corners[side] != corners[(side + 1) % 4]).collect();
                let mut join = |a: usize, b: usize| {
                    next.entry(sides[a]).or_default().push(sides[b]);
                    next.entry(sides[b]).or_default().push(sides[a]);
                };
                match crossed[..] {
                    [a, b] => join(a, b),
                    [_, _, _, _] => {
                        let mean = 0.25
                            * (self.height_m(column, row)
                                + self.height_m(column + 1, row)
                                + self.height_m(column + 1, row + 1)
                                + self.height_m(column, row + 1));
                        // The corner that differs from the middle is cut off.
                        if (mean > level_m) == corners[0] {
                            join(0, 1);
                            join(2, 3);
                        } else {
                            join(3, 0);
                            join(1, 2);
                        }
                    }
                    _ => {}
                }
            }
        }
        let place = |(column, row, north): Side| {
            let (to_column, to_row) = if north { (column, row + 1) } else { (column + 1, row) };
            let (from_m, to_m) = (self.height_m(column, row), self.height_m(to_column, to_row));
            let share = ((level_m - from_m) / (to_m - from_m)).clamp(0.0, 1.0);
            let at = |from: usize, to: usize| from as f64 + (to as f64 - from as f64) * share;
            (self.first.0 + self.step_m * at(column, to_column), self.first.1 + self.step_m * at(row, to_row))
        };
        let mut lines = Vec::new();
        // Open lines first, from their ends; then what is left goes round.
        let ends: Vec<Side> = next.iter().filter(|(_, joined)| joined.len() == 1).map(|(side, _)| *side).collect();
        let all: Vec<Side> = next.keys().copied().collect();
        for start in ends.into_iter().chain(all) {
            let mut sides = vec![start];
            let mut here = start;
            while let Some(there) = next.get_mut(&here).and_then(Vec::pop) {
                if let Some(back) = next.get_mut(&there)
                    && let Some(at) = back.iter().position(|side| *side == here)
                {
                    back.swap_remove(at);
                }
                sides.push(there);
                here = there;
            }
            if sides.len() > 1 {
                let closed = sides.len() > 2 && here == start;
                lines.push(Contour { points: sides.into_iter().map(place).collect(), closed });
            }
        }
        lines
    }
}

/// The height of the ground as if it were rounded over its posts: the cubic in each direction through the posts with
/// their slopes (Hermite's, without twist), as stills have it. Beyond the last posts it goes on level.
fn rounded_m(grid: &TerrainGrid, at: PlanPoint) -> f64 {
    let (columns, rows) = (grid.columns(), grid.rows.len());
    let (column, row) = grid.grid_from_plan(at);
    let limit = |value: f64, last: usize| value.clamp(0.0, last as f64);
    let (column, row) = (limit(column, columns - 1), limit(row, rows - 1));
    let (i, j) = ((column as usize).min(columns.saturating_sub(2)), (row as usize).min(rows.saturating_sub(2)));
    let (u, v) = (column - i as f64, row - j as f64);
    let post_m = |i: usize, j: usize| grid.rows[rows - 1 - j.min(rows - 1)][i.min(columns - 1)];
    // In heights from post to post, so that the spacing cancels.
    let along = |i: usize, j: usize| {
        let (from, to) = (i.saturating_sub(1), (i + 1).min(columns - 1));
        (post_m(to, j) - post_m(from, j)) / (to.saturating_sub(from)).max(1) as f64
    };
    let up = |i: usize, j: usize| {
        let (from, to) = (j.saturating_sub(1), (j + 1).min(rows - 1));
        (post_m(i, to) - post_m(i, from)) / (to.saturating_sub(from)).max(1) as f64
    };
    let (value_u, slope_u) = hermite(u);
    let (value_v, slope_v) = hermite(v);
    let mut height_m = 0.0;
    for (b, row) in [(0, j), (1, j + 1)] {
        for (a, column) in [(0, i), (1, i + 1)] {
            let (column, row) = (column.min(columns - 1), row.min(rows - 1));
            height_m += value_u[a] * value_v[b] * post_m(column, row)
                + slope_u[a] * value_v[b] * along(column, row)
                + value_u[a] * slope_v[b] * up(column, row);
        }
    }
    height_m
}

/// How much the values and the slopes at both ends of a stretch count at a place in it.
fn hermite(t: f64) -> ([f64; 2], [f64; 2]) {
    let (square, cube) = (t * t, t * t * t);
    let last = 3.0 * square - 2.0 * cube;
    ([1.0 - last, last], [cube - 2.0 * square + t, cube - square])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A round hill: 10 m less a tenth of the square of the distance.
    fn hill() -> Terrain {
        let height_m = |x: f64, y: f64| 10.0 - 0.1 * (x * x + y * y);
        let rows = (0..=20).map(|row| (0..=20).map(|c| height_m(f64::from(c) - 10.0, 10.0 - f64::from(row))).collect());
        Terrain::Grid(TerrainGrid {
            south_west: (-10.0, -10.0),
            spacing_m: (1.0, 1.0),
            turned_deg: 0.0,
            rows: rows.collect(),
        })
    }

    #[test]
    fn a_contour_of_a_round_hill_is_a_circle() {
        let heights = Heights::over(&hill(), ((-9.0, -9.0), (9.0, 9.0)), 0.25).expect("no plane");
        let lines = heights.lines(7.5);
        assert_eq!(lines.len(), 1);
        assert!(lines[0].closed);
        for (x, y) in &lines[0].points {
            assert!((x.hypot(*y) - 5.0).abs() < 0.02, "{x}, {y}");
        }
        assert_eq!(heights.interval_m(Units::M), Some(2.0));
    }

    #[test]
    fn lines_that_leave_the_view_are_open_and_walls_close_them() {
        let slope = Terrain::Grid(TerrainGrid {
            south_west: (0.0, 0.0),
            spacing_m: (10.0, 10.0),
            turned_deg: 0.0,
            rows: vec![vec![0.0, 1.0], vec![0.0, 1.0]],
        });
        let bounds = ((1.0, 1.0), (9.0, 9.0));
        let open = Heights::over(&slope, bounds, 1.0).expect("no plane").lines(0.5);
        assert_eq!((open.len(), open[0].closed), (1, false));
        let closed = Heights::over(&slope, bounds, 1.0).expect("no plane").walled().lines(0.5);
        assert_eq!((closed.len(), closed[0].closed), (1, true));
        // What it closes around is the lower half.
        assert!(crate::site::outline_holds(&closed[0].points, (2.0, 5.0)));
        assert!(!crate::site::outline_holds(&closed[0].points, (8.0, 5.0)));
    }

    #[test]
    fn posts_keep_their_heights() {
        let Terrain::Grid(grid) = hill() else { unreachable!("a grid") };
        assert!((rounded_m(&grid, (3.0, -4.0)) - 7.5).abs() < 1e-12);
        assert!((rounded_m(&grid, (-10.0, 10.0)) + 10.0).abs() < 1e-12);
        assert!((rounded_m(&grid, (-50.0, 10.0)) + 10.0).abs() < 1e-12);
    }
}
