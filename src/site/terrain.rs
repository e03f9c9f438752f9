//! How high is the bare ground?
//!
//! Between the posts of a grid the surface is four triangles a cell, meeting at the mean of its corners: the same
//! whichever way the site is mirrored or turned, and everywhere exactly what a ray meets. Beyond the last posts the
//! ground goes on level from the edge.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::pose::WorldPoint;

use super::PlanPoint;

/// The bare ground.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub enum Terrain {
    /// Level ground.
    Plane {
        /// Its height.
        height_m: f64,
    },
    /// Heights on a grid of posts.
    Grid(TerrainGrid),
}

impl Default for Terrain {
    fn default() -> Self {
        Self::Plane { height_m: 0.0 }
    }
}

/// Heights on a grid of posts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TerrainGrid {
    /// The plan position of the first post of the *last* row: the south-west corner.
    pub south_west: PlanPoint,
    /// The distance between posts, along a row and between rows.
    pub spacing_m: PlanPoint,
    /// The compass direction from the last row to the first; north unless given.
    #[serde(default)]
    pub turned_deg: f64,
    /// The heights, row by row from the north, each from the west: as the map lies on the table.
    pub rows: Vec<Vec<f64>>,
}

/// The even ground through three places with their heights, as a grid of four posts around all `places` and so many metres
/// beyond. `None` where the three lie in line, or something is not finite. Heights to a tenth of a millimetre.
///
/// # Example
/// ```
/// use plumbsight::site::slope;
/// // One metre up over 50 m to the east, level to the north.
/// let ground = slope(&[((0.0, 0.0), 2.0), ((50.0, 0.0), 3.0), ((0.0, 50.0), 2.0)], [(25.0, 25.0)], 100.0).unwrap();
/// assert!((ground.height_m((25.0, -30.0)) - 2.5).abs() < 1e-4);
/// assert!(slope(&[((0.0, 0.0), 0.0), ((1.0, 1.0), 0.0), ((2.0, 2.0), 5.0)], [], 100.0).is_none());
/// ```
pub fn slope(
    three: &[(PlanPoint, f64); 3],
    places: impl IntoIterator<Item = PlanPoint>,
    around_m: f64,
) -> Option<Terrain> {
    let [(a, a_m), (b, b_m), (c, c_m)] = *three;
    let (east_1, north_1, up_1) = (b.0 - a.0, b.1 - a.1, b_m - a_m);
    let (east_2, north_2, up_2) = (c.0 - a.0, c.1 - a.1, c_m - a_m);
    let area = east_1 * north_2 - east_2 * north_1;
    let longest = (east_1.hypot(north_1)).max(east_2.hypot(north_2));
    // Nearly in line, a centimetre of one height would tip the whole ground.
    if !area.is_finite() || area.abs() < 1e-3 * longest * longest {
        return None;
    }
    let rise = ((up_1 * north_2 - up_2 * north_1) / area, (east_1 * up_2 - east_2 * up_1) / area);
    let (mut low, mut high) = (a, a);
    for (x, y) in places.into_iter().chain([a, b, c]) {
        (low, high) = ((low.0.min(x), low.1.min(y)), (high.0.max(x), high.1.max(y)));
    }
    let south_west = ((low.0 - around_m).floor(), (low.1 - around_m).floor());
    let spacing_m = ((high.0 + around_m).ceil() - south_west.0, (high.1 + around_m).ceil() - south_west.1);
    let height_m = |(x, y): PlanPoint| {
        let height_m = a_m + rise.0 * (x - a.0) + rise.1 * (y - a.1);
        (height_m * 1e4).round() / 1e4
    };
    let row = |y: f64| vec![height_m((south_west.0, y)), height_m((south_west.0 + spacing_m.0, y))];
    let rows = vec![row(south_west.1 + spacing_m.1), row(south_west.1)];
    let is_good = rows.iter().flatten().all(|height_m| height_m.is_finite());
    is_good.then_some(Terrain::Grid(TerrainGrid { south_west, spacing_m, turned_deg: 0.0, rows }))
}

/// How far beyond the last posts the ground goes on.
const SKIRT_M: f64 = 20_000.0;

/// A grid's posts, and one more line of them on each side, far out, as high as its neighbours: the ground goes on level.
pub(crate) struct PostLines {
    /// How far the lines of posts lie from the south-west post, along a row and from row to row northwards.
    pub(crate) lines_m: [Vec<f64>; 2],
    /// Row by row from the south.
    pub(crate) heights_m: Vec<f64>,
}

impl TerrainGrid {
    /// Posts along a row.
    pub fn columns(&self) -> usize {
        self.rows.first().map_or(0, Vec::len)
    }

    /// The height of the post in column `i` from the west and row `j` from the *south*; the nearest one outside.
    fn post_m(&self, i: isize, j: isize) -> f64 {
        let column = i.clamp(0, self.columns() as isize - 1) as usize;
        let row = (self.rows.len() as isize - 1 - j).clamp(0, self.rows.len() as isize - 1) as usize;
        self.rows[row][column]
    }

    /// All posts, in order, those far out included.
    pub(crate) fn post_lines(&self) -> PostLines {
        let (columns, rows) = (self.columns() as isize, self.rows.len() as isize);
        let lines_m = [(columns, self.spacing_m.0), (rows, self.spacing_m.1)].map(|(count, spacing_m)| {
            let last_m = (count - 1) as f64 * spacing_m;
            let within = (0..count).map(|line| line as f64 * spacing_m);
            std::iter::once(-SKIRT_M).chain(within).chain([last_m + SKIRT_M]).collect()
        });
        let heights_m = (-1..=rows).flat_map(|j| (-1..=columns).map(move |i| self.post_m(i, j))).collect();
        PostLines { lines_m, heights_m }
    }

    /// Columns from the west and rows from the south at which a plan position lies.
    pub(crate) fn grid_from_plan(&self, (x, y): PlanPoint) -> (f64, f64) {
        let (sine, cosine) = self.turned_deg.to_radians().sin_cos();
        let (east, north) = (x - self.south_west.0, y - self.south_west.1);
        ((east * cosine - north * sine) / self.spacing_m.0, (east * sine + north * cosine) / self.spacing_m.1)
    }

    /// The plan position at so many columns from the west and rows from the south.
    pub fn plan_from_grid(&self, column: f64, row: f64) -> PlanPoint {
        let (sine, cosine) = self.turned_deg.to_radians().sin_cos();
        let (along, up) = (column * self.spacing_m.0, row * self.spacing_m.1);
        (self.south_west.0 + along * cosine + up * sine, self.south_west.1 - along * sine + up * cosine)
    }

    fn height_m(&self, at: PlanPoint) -> f64 {
        self.height_on_grid(self.grid_from_plan(at))
    }

    /// The height at so many columns from the west and rows from the south.
    pub(crate) fn height_on_grid(&self, (column, row): (f64, f64)) -> f64 {
        let (last_column, last_row) = ((self.columns() - 1) as f64, (self.rows.len() - 1) as f64);
        let (column, row) = (column.clamp(0.0, last_column), row.clamp(0.0, last_row));
        let (i, j) = ((column.floor()).min(last_column - 1.0), (row.floor()).min(last_row - 1.0));
        let (u, v) = (column - i - 0.5, row - j - 0.5);
        let (i, j) = (i as isize, j as isize);
        let [sw, se, ne, nw] = [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)].map(|(i, j)| self.post_m(i, j));
        let centre = 0.25 * (sw + se + ne + nw);
        // The triangle between the centre and the side that (u, v) leans to: linear in the coordinate across that side,
        // `out`, and along it.
        let (out, along, a, b) = if u.abs() >= v.abs() {
            if u >= 0.0 { (u, v, se, ne) } else { (-u, v, sw, nw) }
        } else if v >= 0.0 {
            (v, u, nw, ne)
        } else {
            (-v, u, sw, se)
        };
        centre + 2.0 * out * (0.5 * (a + b) - centre) + along * (b - a)
    }
}

impl Terrain {
    /// The height of the bare ground at a plan position.
    pub fn height_m(&self, at: PlanPoint) -> f64 {
        match self {
            Self::Plane { height_m } => *height_m,
            Self::Grid(grid) => grid.height_m(at),
        }
    }

    /// A height that the ground nowhere falls below within a plan rectangle; the very lowest for a plane.
    pub fn lowest_within_m(&self, (west, south): PlanPoint, (east, north): PlanPoint) -> f64 {
        match self {
            Self::Plane { height_m } => *height_m,
            Self::Grid(grid) => {
                let corners =
                    [(west, south), (east, south), (east, north), (west, north)].map(|at| grid.grid_from_plan(at));
                let bound = |pick: fn(&(f64, f64)) -> f64| {
                    corners.iter().map(pick).fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
                        (low.min(value), high.max(value))
                    })
                };
                let (columns, rows) = (bound(|corner| corner.0), bound(|corner| corner.1));
                let limit = |value: f64, last: usize| (value.clamp(0.0, last as f64)) as isize;
                let (last_column, last_row) = (grid.columns() - 1, grid.rows.len() - 1);
                let mut lowest = f64::INFINITY;
                for j in limit(rows.0.floor(), last_row)..=limit(rows.1.ceil(), last_row) {
                    for i in limit(columns.0.floor(), last_column)..=limit(columns.1.ceil(), last_column) {
                        lowest = lowest.min(grid.post_m(i, j));
                    }
                }
                lowest
            }
        }
    }

    /// The lowest and highest post.
    pub fn range_m(&self) -> (f64, f64) {
        match self {
            Self::Plane { height_m } => (*height_m, *height_m),
            Self::Grid(grid) => grid
                .rows
                .iter()
                .flatten()
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), &post| (low.min(post), high.max(post))),
        }
    }

    /// The surface as triangles, the level ground beyond the posts included; none for a plane, which has no bounds.
    pub fn triangles(&self) -> Vec<[WorldPoint; 3]> {
        let Self::Grid(grid) = self else { return Vec::new() };
        let posts = grid.post_lines();
        let [columns, rows] = [posts.lines_m[0].len(), posts.lines_m[1].len()];
        let post = |column: usize, row: usize| {
            let (x, y) = grid
                .plan_from_grid(posts.lines_m[0][column] / grid.spacing_m.0, posts.lines_m[1][row] / grid.spacing_m.1);
            WorldPoint::new(x, y, posts.heights_m[row * columns + column])
        };
        let mut triangles = Vec::with_capacity(4 * (columns - 1) * (rows - 1));
        for row in 0..rows - 1 {
            for column in 0..columns - 1 {
                let corners =
                    [post(column, row), post(column + 1, row), post(column + 1, row + 1), post(column, row + 1)];
                let centre =
                    WorldPoint::from(corners.iter().map(|corner| corner.coords).sum::<nalgebra::Vector3<f64>>() / 4.0);
                for side in 0..4 {
                    triangles.push([corners[side], corners[(side + 1) % 4], centre]);
                }
            }
        }
        triangles
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hill() -> Terrain {
        Terrain::Grid(TerrainGrid {
            south_west: (10.0, 20.0),
            spacing_m: (2.0, 4.0),
            turned_deg: 0.0,
            rows: vec![vec![3.0, 5.0, 9.0], vec![1.0, 2.0, 4.0]],
        })
    }

    #[test]
    fn posts_and_cell_centres_are_met_exactly() {
        let hill = hill();
        assert_eq!(hill.height_m((10.0, 20.0)), 1.0);
        assert_eq!(hill.height_m((14.0, 24.0)), 9.0);
        assert_eq!(hill.height_m((11.0, 22.0)), (1.0 + 2.0 + 3.0 + 5.0) / 4.0);
        assert_eq!(hill.height_m((11.0, 20.0)), 1.5);
        assert_eq!(hill.height_m((-500.0, 24.0)), 3.0);
        assert_eq!(hill.range_m(), (1.0, 9.0));
        assert_eq!(hill.lowest_within_m((12.5, 21.0), (13.5, 23.0)), 2.0);
    }

    #[test]
    fn the_height_lies_on_the_triangles() {
        let Terrain::Grid(mut grid) = hill() else { unreachable!("a grid") };
        grid.turned_deg = 25.0;
        let terrain = Terrain::Grid(grid);
        for [a, b, c] in terrain.triangles() {
            for (p, q, r) in [(0.2, 0.3, 0.5), (0.6, 0.1, 0.3), (0.05, 0.05, 0.9)] {
                let point = a.coords * p + b.coords * q + c.coords * r;
                if point.xy().norm() < 100.0 {
                    assert!((terrain.height_m((point.x, point.y)) - point.z).abs() < 1e-9);
                }
            }
        }
    }
}
