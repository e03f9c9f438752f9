//! How is a grid of a map laid into the site's axes?
//!
//! Its posts are kept, none is interpolated: one turn, one corner and one spacing each way are fitted to where the posts
//! truly lie, and how far they miss is said.

use super::grid_layout::{GridLayout, Window};
use crate::place::{Crs, Geographic, TangentPlane};
use crate::site::{PlanPoint, TerrainGrid};

/// Along how many columns and rows the fit is made; the bend of a map is smooth.
const SAMPLES: u64 = 17;

/// The heights of a map's posts, without gaps.
pub(super) struct MapGrid {
    layout: GridLayout,
    crs: Crs,
    window: Window,
    /// Row by row from the north.
    heights_m: Vec<f64>,
    /// How many of them were filled from their neighbours.
    pub(super) filled: usize,
}

/// A grid in the site's axes.
pub(super) struct Laid {
    pub(super) terrain: TerrainGrid,
    /// The farthest that a post lies from its true plan position.
    pub(super) residual_m: f64,
    /// The farthest that a post lies from the grid's middle.
    pub(super) reach_m: f64,
}

impl MapGrid {
    /// Fills the gaps (NaN) among the heights of a window; none if it has nothing but gaps.
    pub(super) fn new(layout: &GridLayout, crs: Crs, window: &Window, mut heights_m: Vec<f64>) -> Option<Self> {
        let columns = (window.columns.end - window.columns.start) as usize;
        let filled = fill_gaps(&mut heights_m, columns, layout.spacing)?;
        Some(Self { layout: *layout, crs, window: window.clone(), heights_m, filled })
    }

    fn columns(&self) -> usize {
        (self.window.columns.end - self.window.columns.start) as usize
    }

    fn rows(&self) -> usize {
        (self.window.rows.end - self.window.rows.start) as usize
    }

    /// The height of the post nearest to a place.
    pub(super) fn height_near_m(&self, place: &Geographic) -> f64 {
        let on_map = self.crs.map_from_geographic(place).unwrap_or_else(|| self.layout.post(0.0, 0.0));
        let (column, row) = self.layout.grid_from_map(on_map);
        let nearest = |value: f64, start: u64, count: usize| {
            // A cast from a float keeps within the bounds of the integer.
            ((value - start as f64).round() as usize).min(count - 1)
        };
        let column = nearest(column, self.window.columns.start, self.columns());
        let row_from_south = nearest(row, self.window.rows.start, self.rows());
        self.heights_m[(self.rows() - 1 - row_from_south) * self.columns() + column]
    }

    /// Lays the grid into the site's axes, heights counted from the anchor's; none where posts lie off the projection or
    /// mirrored.
    pub(super) fn lay(&self, plane: &TangentPlane) -> Option<Laid> {
        let (columns, rows) = (self.columns(), self.rows());
        let picks = |count: usize| -> Vec<u64> {
            let last = count as u64 - 1;
            let mut picks: Vec<u64> = (0..SAMPLES).map(|sample| sample * last / (SAMPLES - 1)).collect();
            picks.dedup();
            picks
        };
        // Columns and rows from the south-west post of the window, with their true plan positions.
        let mut samples: Vec<(f64, f64, PlanPoint)> = Vec::new();
        for row in picks(rows) {
            for column in picks(columns) {
                let post = self
                    .layout
                    .post((self.window.columns.start + column) as f64, (self.window.rows.start + row) as f64);
                let place = self.crs.geographic_from_map(post, plane.anchor().height_m())?;
                samples.push((column as f64, row as f64, plane.plan_from_geographic(&place)));
            }
        }
        let laid_out = fit(&samples)?;
        let rows_m = self
            .heights_m
            .chunks(columns)
            // Rounded to the micrometre: what the subtraction leaves below that is not in the file.
            .map(|row| row.iter().map(|height_m| rounded(height_m - plane.anchor().height_m(), 1e6)).collect())
            .collect();
        let terrain = TerrainGrid { rows: rows_m, ..laid_out };
        let middle = terrain.plan_from_grid(0.5 * (columns as f64 - 1.0), 0.5 * (rows as f64 - 1.0));
        let (mut residual_m, mut reach_m) = (0.0_f64, 0.0_f64);
        for &(column, row, (x, y)) in &samples {
            let (laid_x, laid_y) = terrain.plan_from_grid(column, row);
            residual_m = residual_m.max((laid_x - x).hypot(laid_y - y));
            reach_m = reach_m.max((x - middle.0).hypot(y - middle.1));
        }
        Some(Laid { terrain, residual_m, reach_m })
    }
}

fn rounded(value: f64, per_unit: f64) -> f64 {
    (value * per_unit).round() / per_unit
}

/// The corner, spacing and turn by which a grid's posts come nearest to their plan positions, without its heights.
///
/// The samples fill a rectangle of columns and rows, so both directions are fitted apart, by least squares.
fn fit(samples: &[(f64, f64, PlanPoint)]) -> Option<TerrainGrid> {
    let count = samples.len() as f64;
    let mean = |value: &dyn Fn(&(f64, f64, PlanPoint)) -> f64| samples.iter().map(value).sum::<f64>() / count;
    let (column, row) = (mean(&|sample| sample.0), mean(&|sample| sample.1));
    let (east, north) = (mean(&|sample| sample.2.0), mean(&|sample| sample.2.1));
    let spread = |value: &dyn Fn(&(f64, f64, PlanPoint)) -> f64| mean(&|sample| value(sample).powi(2));
    let (columns_spread, rows_spread) = (spread(&|sample| sample.0 - column), spread(&|sample| sample.1 - row));
    let slope = |along: &dyn Fn(&(f64, f64, PlanPoint)) -> f64, spread: f64| {
        let east = mean(&|sample| along(sample) * (sample.2.0 - east)) / spread;
        let north = mean(&|sample| along(sample) * (sample.2.1 - north)) / spread;
        (east, north)
    };
    let per_column = slope(&|sample| sample.0 - column, columns_spread);
    let per_row = slope(&|sample| sample.1 - row, rows_spread);
    // The bearing of the rows' direction: as the columns tell it, turned by a right angle, and as the rows tell it,
    // each by the weight of its length.
    let (column_weight, row_weight) = (columns_spread.sqrt(), rows_spread.sqrt());
    let toward =
        (row_weight * per_row.0 - column_weight * per_column.1, row_weight * per_row.1 + column_weight * per_column.0);
    let turned_deg = rounded(toward.0.atan2(toward.1).to_degrees(), 1e7);
    let (sine, cosine) = turned_deg.to_radians().sin_cos();
    let spacing_m = (
        rounded(per_column.0 * cosine - per_column.1 * sine, 1e9),
        rounded(per_row.0 * sine + per_row.1 * cosine, 1e9),
    );
    if !(spacing_m.0 > 0.0 && spacing_m.1 > 0.0 && (spacing_m.0 + spacing_m.1 + east + north).is_finite()) {
        return None;
    }
    let from_corner = TerrainGrid { south_west: (0.0, 0.0), spacing_m, turned_deg, rows: Vec::new() };
    let middle = from_corner.plan_from_grid(column, row);
    let south_west = (rounded(east - middle.0, 1e3), rounded(north - middle.1, 1e3));
    Some(TerrainGrid { south_west, ..from_corner })
}

/// Gives every gap (NaN) the height of the nearest post that has one, and counts them; none if all are gaps.
///
/// # Source
/// P. F. Felzenszwalb, D. P. Huttenlocher, *Distance Transforms of Sampled Functions*, 2012 (from memory): exact, columns
/// first, then each row by the lower envelope of the columns' parabolas.
fn fill_gaps(heights_m: &mut [f64], columns: usize, (across, up): (f64, f64)) -> Option<usize> {
    const NONE: u32 = u32::MAX;
    let gaps = heights_m.iter().filter(|height_m| height_m.is_nan()).count();
    if gaps == heights_m.len() {
        return None;
    }
    if gaps == 0 {
        return Some(0);
    }
    let rows = heights_m.len() / columns;
    // For each post the row of the nearest height in its own column; the upper of two as near.
    let mut nearest_row = vec![NONE; heights_m.len()];
    for column in 0..columns {
        let mut above = NONE;
        for row in 0..rows {
            if !heights_m[row * columns + column].is_nan() {
                above = row as u32;
            }
            nearest_row[row * columns + column] = above;
        }
        let mut below = NONE;
        for row in (0..rows).rev() {
            let post = row * columns + column;
            if !heights_m[post].is_nan() {
                below = row as u32;
            }
            let nearer =
                nearest_row[post] == NONE || (below != NONE && below - (row as u32) < row as u32 - nearest_row[post]);
            if nearer {
                nearest_row[post] = below;
            }
        }
    }
    let given = heights_m.to_vec();
    // The columns whose parabolas make up the envelope, each with where it takes over from the one before.
    let mut envelope: Vec<(usize, f64)> = Vec::with_capacity(columns);
    for row in 0..rows {
        let posts = row * columns..(row + 1) * columns;
        if !given[posts.clone()].iter().any(|height_m| height_m.is_nan()) {
            continue;
        }
        // The squared distance from this row to the nearest height of a column, in squared widths of a column.
        let squared = |column: usize| {
            let away = (f64::from(nearest_row[row * columns + column]) - row as f64) * up / across;
            away * away
        };
        envelope.clear();
        for column in (0..columns).filter(|column| nearest_row[row * columns + column] != NONE) {
            let at = column as f64;
            let takes_over = loop {
                let Some(&(other, from)) = envelope.last() else { break f64::NEG_INFINITY };
                let before = other as f64;
                let crossing =
                    ((squared(column) + at * at) - (squared(other) + before * before)) / (2.0 * (at - before));
                if crossing > from {
                    break crossing;
                }
                envelope.pop();
            };
            envelope.push((column, takes_over));
        }
        let mut piece = 0;
        for column in 0..columns {
            while piece + 1 < envelope.len() && envelope[piece + 1].1 < column as f64 {
                piece += 1;
            }
            let post = row * columns + column;
            if given[post].is_nan() {
                let source = envelope[piece].0;
                heights_m[post] = given[nearest_row[row * columns + source] as usize * columns + source];
            }
        }
    }
    Some(gaps)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gaps_take_the_nearest_height() {
        let nan = f64::NAN;
        let mut posts = vec![nan, nan, 3.0, 1.0, nan, nan, nan, nan, nan];
        assert_eq!(fill_gaps(&mut posts, 3, (1.0, 1.0)), Some(7));
        assert_eq!(posts, [1.0, 3.0, 3.0, 1.0, 1.0, 3.0, 1.0, 1.0, 3.0]);
        // Where rows lie far apart the nearest is another.
        let mut posts = vec![nan, nan, 3.0, 1.0, nan, nan];
        assert_eq!(fill_gaps(&mut posts, 3, (1.0, 5.0)), Some(4));
        assert_eq!(posts, [3.0, 3.0, 3.0, 1.0, 1.0, 1.0]);
        assert_eq!(fill_gaps(&mut [nan, nan], 2, (1.0, 1.0)), None);
        assert_eq!(fill_gaps(&mut [1.0, 2.0], 2, (1.0, 1.0)), Some(0));
    }

    #[test]
    fn gaps_are_filled_as_by_looking_at_every_post() {
        let (columns, rows) = (23, 17);
        // A pattern without symmetry: post k has a height where k² + 3k leaves less than 3 when divided by 31.
        let mut posts: Vec<f64> = (0..columns * rows)
            .map(|post| if (post * post + 3 * post) % 31 < 3 { post as f64 } else { f64::NAN })
            .collect();
        let given = posts.clone();
        let (across, up) = (1.0, 1.7);
        fill_gaps(&mut posts, columns, (across, up)).expect("heights");
        let distance = |a: usize, b: usize| {
            let along = (a % columns).abs_diff(b % columns) as f64 * across;
            along.hypot((a / columns).abs_diff(b / columns) as f64 * up)
        };
        for (post, &filled) in posts.iter().enumerate() {
            let nearest = (0..given.len())
                .filter(|&other| !given[other].is_nan())
                .map(|other| distance(post, other))
                .fold(f64::INFINITY, f64::min);
            // The height of each post is its own number.
            assert!((distance(post, filled as usize) - nearest).abs() < 1e-9, "post {post} from {filled}");
        }
    }

    #[test]
    fn a_turned_grid_is_found_again_and_a_mirrored_one_refused() {
        let truth =
            TerrainGrid { south_west: (-120.5, 33.25), spacing_m: (2.5, 4.0), turned_deg: 163.25, rows: Vec::new() };
        let mut samples = Vec::new();
        for row in [0.0, 3.0, 9.0] {
            for column in [0.0, 5.0, 20.0, 21.0] {
                samples.push((column, row, truth.plan_from_grid(column, row)));
            }
        }
        let found = fit(&samples).expect("a fit");
        assert!((found.south_west.0 - truth.south_west.0).abs() < 1e-9);
        assert!((found.south_west.1 - truth.south_west.1).abs() < 1e-9);
        assert_eq!((found.spacing_m, found.turned_deg), (truth.spacing_m, truth.turned_deg));
        for sample in &mut samples {
            sample.2.0 = -sample.2.0;
        }
        assert_eq!(fit(&samples), None);
    }
}
