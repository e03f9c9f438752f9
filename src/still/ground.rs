//! How does the bare ground run where a ray meets it, and at which heights are contour lines drawn?

use crate::pose::{WorldPoint, WorldVector};
use crate::site::{PlanPoint, Terrain, TerrainGrid};

/// Slopes below this show no contour lines: level ground has none, whatever its last digits say.
const LEVEL_SLOPE: f64 = 1e-5;

/// The ground's slopes, ready to be asked at any plan position.
pub(crate) enum GroundSurface<'a> {
    /// Level ground at a height.
    Level(f64),
    /// Heights on posts.
    Posts(Posts<'a>),
}

/// A grid with its slopes at the posts.
pub(crate) struct Posts<'a> {
    grid: &'a TerrainGrid,
    sine: f64,
    cosine: f64,
    columns: usize,
    rows: usize,
    /// Slopes along a row and from row to row northwards, row by row from the south.
    slopes: Vec<(f64, f64)>,
}

/// How the ground rises to the east and to the north, in metres a metre.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Slope {
    pub(super) east: f64,
    pub(super) north: f64,
}

impl Slope {
    /// The normal of ground with this slope, pointing up.
    pub(super) fn normal(self) -> WorldVector {
        WorldVector::new(-self.east, -self.north, 1.0).normalize()
    }

    /// Whether the ground counts as level.
    pub(super) fn is_level(self) -> bool {
        both(self.east, self.north) < LEVEL_SLOPE
    }
}

impl<'a> GroundSurface<'a> {
    pub(crate) fn of(terrain: &'a Terrain) -> Self {
        match terrain {
            Terrain::Plane { height_m } => Self::Level(*height_m),
            Terrain::Grid(grid) => Self::Posts(Posts::of(grid)),
        }
    }

    /// The slope of the flat piece of ground at a plan position.
    pub(super) fn slope(&self, at: PlanPoint) -> Slope {
        match self {
            Self::Level(_) => Slope::default(),
            Self::Posts(posts) => posts.slope(at),
        }
    }

    /// The normal of the ground as if it were rounded over its posts.
    pub(crate) fn rounded_normal(&self, at: PlanPoint) -> WorldVector {
        match self {
            Self::Level(_) => WorldVector::z(),
            Self::Posts(posts) => posts.rounded_slope(at).normal(),
        }
    }

    /// The height of the ground and its slope, as if it were rounded over its posts; contour lines follow it, so that
    /// they bend as a draughtsman would draw them. `None` where there are no posts to tell.
    pub(crate) fn rounded_height_m(&self, at: PlanPoint) -> Option<(f64, Slope)> {
        match self {
            Self::Level(_) => None,
            Self::Posts(posts) => posts.rounded_height_m(at),
        }
    }

    /// The steepest slope anywhere, in metres a metre.
    pub(crate) fn steepest(&self) -> f64 {
        match self {
            Self::Level(_) => 0.0,
            Self::Posts(posts) => posts.steepest(),
        }
    }

    /// A height that the ground nowhere exceeds within a plan rectangle.
    pub(super) fn highest_within_m(&self, low: &WorldPoint, high: &WorldPoint) -> f64 {
        match self {
            Self::Level(height_m) => *height_m,
            Self::Posts(posts) => posts.highest_within_m(low, high),
        }
    }
}

impl<'a> Posts<'a> {
    fn of(grid: &'a TerrainGrid) -> Self {
        let (sine, cosine) = grid.turned_deg.to_radians().sin_cos();
        let (columns, rows) = (grid.columns(), grid.rows.len());
        let mut posts = Self { grid, sine, cosine, columns, rows, slopes: Vec::new() };
        let between = |last: usize, index: usize| (index.saturating_sub(1), (index + 1).min(last));
        posts.slopes = (0..rows)
            .flat_map(|row| (0..columns).map(move |column| (column, row)))
            .map(|(column, row)| {
                let ((west, east), (south, north)) = (between(columns - 1, column), between(rows - 1, row));
                let across = (east - west).max(1) as f64 * grid.spacing_m.0;
                let up = (north - south).max(1) as f64 * grid.spacing_m.1;
                (
                    (posts.post_m(east, row) - posts.post_m(west, row)) / across,
                    (posts.post_m(column, north) - posts.post_m(column, south)) / up,
                )
            })
            .collect();
        posts
    }

    /// The height of a post, rows counted from the south.
    fn post_m(&self, column: usize, row: usize) -> f64 {
        self.grid.rows[self.rows - 1 - row][column]
    }

    /// Columns from the west and rows from the south.
    fn grid_from_plan(&self, (x, y): PlanPoint) -> (f64, f64) {
        let (east, north) = (x - self.grid.south_west.0, y - self.grid.south_west.1);
        (
            (east * self.cosine - north * self.sine) / self.grid.spacing_m.0,
            (east * self.sine + north * self.cosine) / self.grid.spacing_m.1,
        )
    }

    /// Turned from the grid's own directions to the world's.
    fn turned(&self, along: f64, up: f64) -> Slope {
        Slope { east: along * self.cosine + up * self.sine, north: up * self.cosine - along * self.sine }
    }

    /// The cell and the place in it, or `None` where the ground goes on from the edge.
    fn cell(&self, at: PlanPoint) -> Option<(usize, usize, f64, f64)> {
        let (column, row) = self.grid_from_plan(at);
        let inside = column >= 0.0
            && row >= 0.0
            && column <= (self.columns - 1) as f64
            && row <= (self.rows - 1) as f64
            && self.columns > 1
            && self.rows > 1;
        inside.then(|| {
            let (i, j) = ((column as usize).min(self.columns - 2), (row as usize).min(self.rows - 2));
            (i, j, column - i as f64, row - j as f64)
        })
    }

    fn slope(&self, at: PlanPoint) -> Slope {
        let Some((i, j, u, v)) = self.cell(at) else { return self.slope_beyond(at) };
        let [sw, se, ne, nw] =
            [self.post_m(i, j), self.post_m(i + 1, j), self.post_m(i + 1, j + 1), self.post_m(i, j + 1)];
        let centre = 0.25 * (sw + se + ne + nw);
        let (u, v) = (u - 0.5, v - 0.5);
        // The four triangles of the cell, as the terrain's heights have them.
        let (along, up) = if u.abs() >= v.abs() {
            if u >= 0.0 { ((se + ne) - 2.0 * centre, ne - se) } else { (2.0 * centre - (sw + nw), nw - sw) }
        } else if v >= 0.0 {
            (ne - nw, (nw + ne) - 2.0 * centre)
        } else {
            (se - sw, 2.0 * centre - (sw + se))
        };
        self.turned(along / self.grid.spacing_m.0, up / self.grid.spacing_m.1)
    }

    /// The cubic in each direction through the posts with their slopes (Hermite's, without twist).
    fn rounded_height_m(&self, at: PlanPoint) -> Option<(f64, Slope)> {
        let (i, j, u, v) = self.cell(at)?;
        let ((across_m, up_m), (u_mix, u_turn), (v_mix, v_turn)) = (self.grid.spacing_m, hermite(u), hermite(v));
        let (mut height_m, mut along, mut up) = (0.0, 0.0, 0.0);
        for (row, side_v) in [(j, 0), (j + 1, 1)] {
            for (column, side_u) in [(i, 0), (i + 1, 1)] {
                let post_m = self.post_m(column, row);
                let slope = self.slopes[row * self.columns + column];
                let (east_m, north_m) = (slope.0 * across_m, slope.1 * up_m);
                let value = |u: &Hermite, v: &Hermite| {
                    post_m * u.value[side_u] * v.value[side_v]
                        + east_m * u.slope[side_u] * v.value[side_v]
                        + north_m * u.value[side_u] * v.slope[side_v]
                };
                height_m += value(&u_mix, &v_mix);
                along += value(&u_turn, &v_mix);
                up += value(&u_mix, &v_turn);
            }
        }
        Some((height_m, self.turned(along / across_m, up / up_m)))
    }

    fn steepest(&self) -> f64 {
        let places = [(0.5, 0.1), (0.9, 0.5), (0.5, 0.9), (0.1, 0.5)];
        (0..self.rows.saturating_sub(1))
            .flat_map(|row| (0..self.columns.saturating_sub(1)).map(move |column| (column, row)))
            .flat_map(|(column, row)| places.map(|(u, v)| (column as f64 + u, row as f64 + v)))
            .map(|(column, row)| {
                let slope = self.slope(self.grid.plan_from_grid(column, row));
                slope.east.hypot(slope.north)
            })
            .fold(0.0, f64::max)
    }

    /// Beyond the last posts the ground goes on level outwards, and keeps the slope along the edge.
    fn slope_beyond(&self, at: PlanPoint) -> Slope {
        let (column, row) = self.grid_from_plan(at);
        let limit = |value: f64, last: usize| value.clamp(0.0, last as f64);
        let (c, r) = (limit(column, self.columns - 1), limit(row, self.rows - 1));
        let (i, j) = ((c as usize).min(self.columns.saturating_sub(2)), (r as usize).min(self.rows.saturating_sub(2)));
        let (i_next, j_next) = ((i + 1).min(self.columns - 1), (j + 1).min(self.rows - 1));
        let along = if c == column { self.post_m(i_next, r as usize) - self.post_m(i, r as usize) } else { 0.0 };
        let up = if r == row { self.post_m(c as usize, j_next) - self.post_m(c as usize, j) } else { 0.0 };
        self.turned(along / self.grid.spacing_m.0, up / self.grid.spacing_m.1)
    }

    fn highest_within_m(&self, low: &WorldPoint, high: &WorldPoint) -> f64 {
        let corners = [(low.x, low.y), (high.x, low.y), (high.x, high.y), (low.x, high.y)];
        let corners = corners.map(|corner| self.grid_from_plan(corner));
        let range = |pick: fn(&(f64, f64)) -> f64, last: usize| {
            let limit = |value: f64| value.clamp(0.0, last as f64) as usize;
            let least = corners.iter().map(pick).fold(f64::INFINITY, f64::min);
            let most = corners.iter().map(pick).fold(f64::NEG_INFINITY, f64::max);
            limit(least.floor())..=limit(most.ceil())
        };
        let columns = range(|corner| corner.0, self.columns - 1);
        range(|corner| corner.1, self.rows - 1)
            .flat_map(|row| columns.clone().map(move |column| self.post_m(column, row)))
            .fold(f64::NEG_INFINITY, f64::max)
    }

    /// The posts' slopes, bilinearly.
    fn rounded_slope(&self, at: PlanPoint) -> Slope {
        let (column, row) = self.grid_from_plan(at);
        let (last_column, last_row) = ((self.columns - 1) as f64, (self.rows - 1) as f64);
        // Beyond the last posts the slope dies away over one cell.
        let fade = |value: f64, last: f64| (1.0 - (value - value.clamp(0.0, last)).abs()).max(0.0);
        let (across, over) = (fade(column, last_column), fade(row, last_row));
        let (column, row) = (column.clamp(0.0, last_column), row.clamp(0.0, last_row));
        let (i, j) = (column as usize, row as usize);
        let (u, v) = (column - i as f64, row - j as f64);
        let (i_next, j_next) = ((i + 1).min(self.columns - 1), (j + 1).min(self.rows - 1));
        let slope = |i: usize, j: usize| self.slopes[j * self.columns + i];
        let mix = |pick: fn((f64, f64)) -> f64| {
            let south = pick(slope(i, j)) * (1.0 - u) + pick(slope(i_next, j)) * u;
            let north = pick(slope(i, j_next)) * (1.0 - u) + pick(slope(i_next, j_next)) * u;
            south * (1.0 - v) + north * v
        };
        self.turned(mix(|slope| slope.0) * across, mix(|slope| slope.1) * over)
    }
}

/// How much the values and slopes at both ends of a stretch count at a place in it.
struct Hermite {
    value: [f64; 2],
    slope: [f64; 2],
}

/// The shares at `t` from 0 to 1, and how they change there.
fn hermite(t: f64) -> (Hermite, Hermite) {
    let (square, cube) = (t * t, t * t * t);
    (
        Hermite {
            value: [2.0 * cube - 3.0 * square + 1.0, 3.0 * square - 2.0 * cube],
            slope: [cube - 2.0 * square + t, cube - square],
        },
        Hermite {
            value: [6.0 * square - 6.0 * t, 6.0 * t - 6.0 * square],
            slope: [3.0 * square - 4.0 * t + 1.0, 3.0 * square - 2.0 * t],
        },
    )
}

/// How a height on a slanting surface changes from pixel to pixel: (to the right, downwards), for a surface whose height
/// counts as `rise` · displacement.
///
/// `distance_m` is how far the ray has come; `None` where the surface is seen edge on.
pub(super) fn change_per_pixel(
    ray: &super::rays::SightRay,
    distance_m: f64,
    normal: &WorldVector,
    rise: &WorldVector,
) -> Option<(f64, f64)> {
    let toward = ray.direction.dot(normal);
    if toward.abs() < 1e-9 {
        return None;
    }
    let along_ray = ray.direction.dot(rise) / toward;
    let change = |turn: &WorldVector| distance_m * (turn.dot(rise) - along_ray * turn.dot(normal));
    Some((change(&ray.across), change(&ray.down)))
}

/// The heights at which lines are drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Contours {
    /// From line to line.
    pub(super) interval_m: f64,
}

impl Contours {
    /// The smallest interval of 1, 2 or 5 (times a power of ten) metres that keeps the lines readable.
    ///
    /// `climbs_m_per_px` are how much the ground rises from pixel to pixel at places spread over the picture; their
    /// median then has at least `apart_px` from line to line. `None` without sloping ground.
    pub(super) fn readable(mut climbs_m_per_px: Vec<f64>, apart_px: f64) -> Option<Self> {
        climbs_m_per_px.retain(|climb| climb.is_finite() && *climb > 0.0);
        climbs_m_per_px.sort_by(f64::total_cmp);
        let median = *climbs_m_per_px.get(climbs_m_per_px.len() / 2)?;
        let least_m = (median * apart_px).clamp(0.05, 500.0);
        Some(Self { interval_m: crate::units::round_step(least_m)? })
    }

    /// Whether no line comes within so many pixels of a point, roughly: slopes change from one flat piece to the next.
    pub(super) fn stay_clear_of(&self, height_m: f64, climb_m_per_px: f64, width_px: f64, within_px: f64) -> bool {
        let place = height_m / self.interval_m;
        let off_px = (place - place.round()).abs() * self.interval_m / climb_m_per_px;
        off_px > 2.0 * (0.8 * width_px + 0.5 + within_px)
    }

    /// How strongly a line covers a point of height `height_m` where the ground climbs so much from pixel to pixel.
    ///
    /// Every fifth line is heavier. Where lines crowd nearer than a few of their widths they fade away together.
    pub(super) fn cover(&self, height_m: f64, climb_m_per_px: f64, width_px: f64) -> f64 {
        let place = height_m / self.interval_m;
        let line = place.round();
        let off_px = (place - line).abs() * self.interval_m / climb_m_per_px;
        let heavy = line.rem_euclid(5.0) == 0.0;
        let half_px = width_px * if heavy { 0.8 } else { 0.5 };
        if off_px > half_px + 0.5 {
            return 0.0;
        }
        let apart_px = self.interval_m / climb_m_per_px;
        let light = smooth(2.5 * width_px, 8.0 * width_px, apart_px);
        // When the light lines have gone, the heavy ones still stand five times as far apart.
        let strength = if heavy { smooth(0.6 * width_px, 2.5 * width_px, apart_px).max(light) } else { 0.75 * light };
        strength * (1.0 - smooth(half_px - 0.4, half_px + 0.4, off_px))
    }
}

/// The length of two steps at right angles; quicker than the library's, which guards against sizes that never occur here.
pub(super) fn both(a: f64, b: f64) -> f64 {
    (a * a + b * b).sqrt()
}

/// A soft step from 0 at `low` to 1 at `high`.
pub(super) fn smooth(low: f64, high: f64, value: f64) -> f64 {
    let share = ((value - low) / (high - low)).clamp(0.0, 1.0);
    share * share * (3.0 - 2.0 * share)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hill() -> Terrain {
        Terrain::Grid(TerrainGrid {
            south_west: (10.0, 20.0),
            spacing_m: (2.0, 4.0),
            turned_deg: 25.0,
            rows: vec![vec![3.0, 5.0, 9.0], vec![1.0, 2.0, 4.0], vec![0.5, 0.0, 2.0]],
        })
    }

    #[test]
    fn the_slope_is_how_the_height_changes() {
        let terrain = hill();
        let Terrain::Grid(grid) = &terrain else { unreachable!("a grid") };
        let relief = GroundSurface::of(&terrain);
        for (column, row) in [(0.3, 0.2), (1.6, 0.4), (0.4, 1.9), (1.1, 1.45), (-3.0, 0.7), (1.3, 9.0), (-2.0, -2.0)] {
            let at = grid.plan_from_grid(column, row);
            let slope = relief.slope(at);
            let step = 1e-6;
            let east = (terrain.height_m((at.0 + step, at.1)) - terrain.height_m((at.0 - step, at.1))) / (2.0 * step);
            let north = (terrain.height_m((at.0, at.1 + step)) - terrain.height_m((at.0, at.1 - step))) / (2.0 * step);
            assert!((slope.east - east).abs() < 1e-6 && (slope.north - north).abs() < 1e-6, "{column} {row}");
        }
    }

    #[test]
    fn a_plain_slope_is_rounded_to_itself() {
        let rows =
            (0..5).rev().map(|row| (0..5).map(|column| f64::from(column) * 0.2 + f64::from(row) * 0.1).collect());
        let terrain = Terrain::Grid(TerrainGrid {
            south_west: (0.0, 0.0),
            spacing_m: (2.0, 2.0),
            turned_deg: 0.0,
            rows: rows.collect(),
        });
        let relief = GroundSurface::of(&terrain);
        let normal = relief.rounded_normal((3.3, 4.1));
        assert!((normal - Slope { east: 0.1, north: 0.05 }.normal()).norm() < 1e-12);
        assert!((relief.slope((3.3, 4.1)).normal() - normal).norm() < 1e-12);
    }

    #[test]
    fn the_rounded_ground_goes_through_its_posts_and_has_the_slope_it_says() {
        let terrain = hill();
        let Terrain::Grid(grid) = &terrain else { unreachable!("a grid") };
        let relief = GroundSurface::of(&terrain);
        for (column, row) in [(0.0, 0.0), (1.0, 1.0), (2.0, 1.0), (1.0, 2.0)] {
            let at = grid.plan_from_grid(column, row + if row == 0.0 { 1e-9 } else { -1e-9 });
            if let Some((height_m, _)) = relief.rounded_height_m(at) {
                assert!((height_m - terrain.height_m(at)).abs() < 1e-6, "{column} {row}");
            }
        }
        for (column, row) in [(0.4, 0.3), (1.5, 0.8), (1.2, 1.9)] {
            let at = grid.plan_from_grid(column, row);
            let height_m =
                |east: f64, north: f64| relief.rounded_height_m((at.0 + east, at.1 + north)).expect("on the posts").0;
            let (_, slope) = relief.rounded_height_m(at).expect("on the posts");
            let step = 1e-5;
            let east = (height_m(step, 0.0) - height_m(-step, 0.0)) / (2.0 * step);
            let north = (height_m(0.0, step) - height_m(0.0, -step)) / (2.0 * step);
            assert!((slope.east - east).abs() < 1e-6 && (slope.north - north).abs() < 1e-6);
        }
        assert_eq!(relief.rounded_height_m(grid.plan_from_grid(5.0, 1.0)), None);
    }

    #[test]
    fn contour_intervals_step_by_one_two_and_five() {
        let interval = |climb: f64| Contours::readable(vec![climb; 9], 20.0).expect("sloping").interval_m;
        for (climb, wanted) in [(0.004, 0.1), (0.05, 1.0), (0.051, 2.0), (0.2, 5.0), (0.3, 10.0), (1.0, 20.0)] {
            assert!((interval(climb) - wanted).abs() < 1e-9, "{climb}: {}", interval(climb));
        }
        assert_eq!(Contours::readable(vec![0.0; 5], 20.0), None);
        assert_eq!(Contours::readable(Vec::new(), 20.0), None);
    }

    #[test]
    fn contour_lines_fade_where_they_crowd() {
        let contours = Contours { interval_m: 1.0 };
        let wide = contours.cover(3.0, 0.02, 1.5);
        assert!(wide > 0.7);
        assert_eq!(contours.cover(3.5, 0.02, 1.5), 0.0);
        assert!(contours.cover(3.0, 0.2, 1.5) < 0.3 * wide);
        assert_eq!(contours.cover(3.0, 2.0, 1.5), 0.0);
        assert!(contours.cover(5.0, 0.02, 1.5) > wide);
    }
}
