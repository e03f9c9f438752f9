//! What ground do contour lines describe?

use spade::{DelaunayTriangulation, HasPosition, Point2, Triangulation};
use thiserror::Error;

use super::PlanPoint;
use super::solid_parts::wall_outline;
use super::terrain::{Terrain, TerrainGrid};

/// Posts along the longer side of the ground that is made.
const POSTS: f64 = 100.0;
/// Posts are no closer.
const CLOSEST_M: f64 = 0.5;
/// Points along a contour are about as far apart as posts; there are no more of them in all.
const MOST_POINTS: usize = 200_000;

/// A line on the ground all of which is at one height; of one point a spot height.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ContourLine {
    /// Its corners in plan.
    pub points: Vec<PlanPoint>,
    /// Its height.
    pub height_m: f64,
}

/// Why contour lines describe no ground.
#[derive(Clone, Copy, Debug, Error, PartialEq, Eq)]
pub enum ContourError {
    /// There are too few, or all lie in line.
    #[error("two lines at least, or three places that are not in line, describe a ground")]
    TooFew,
    /// A number that is none.
    #[error("a contour has a place or height that is no number")]
    NotFinite,
    /// Two lines of different heights have a point in common.
    #[error("contours {one} and {other} cross at different heights: draw one of them again, or give both one height")]
    Crossing {
        /// The number of one of them, from 1.
        one: usize,
        /// The number of the other.
        other: usize,
    },
    /// A line of very many corners.
    #[error("contours may have {MOST_POINTS} points in all")]
    TooMany,
}

struct Spot {
    at: Point2<f64>,
    height_m: f64,
}

impl HasPosition for Spot {
    type Scalar = f64;

    fn position(&self) -> Point2<f64> {
        self.at
    }
}

/// The ground that contour lines and spot heights describe, as a grid of posts over the box about them, heights to the
/// millimetre. Between the lines it is found from the nearest points about each place, weighed by the area that each of them
/// would cede to it; an even slope comes out even. Outside of what the lines enclose it is as high as the nearest of them.
///
/// # Source
/// R. Sibson, *A brief description of natural neighbour interpolation*, in *Interpreting Multivariate Data*, 1981.
///
/// # Errors
/// Lines that cross at different heights, or too few to tell.
///
/// # Example
/// ```
/// use plumbsight::site::{ContourLine, ground_of_contours};
/// let line = |x: f64, height_m: f64| ContourLine { points: vec![(x, 0.0), (x, 40.0)], height_m };
/// let ground = ground_of_contours(&[line(0.0, 2.0), line(50.0, 3.0)]).unwrap();
/// assert!((ground.height_m((25.0, 20.0)) - 2.5).abs() < 0.01);
/// ```
pub fn ground_of_contours(lines: &[ContourLine]) -> Result<Terrain, ContourError> {
    let corners = || lines.iter().flat_map(|line| line.points.iter().copied());
    let all_finite =
        corners().all(|(x, y)| x.is_finite() && y.is_finite()) && lines.iter().all(|line| line.height_m.is_finite());
    if !all_finite {
        return Err(ContourError::NotFinite);
    }
    let (low, high) = corners()
        .map(|at| (at, at))
        .reduce(|a, b| ((a.0.0.min(b.0.0), a.0.1.min(b.0.1)), (a.1.0.max(b.1.0), a.1.1.max(b.1.1))))
        .ok_or(ContourError::TooFew)?;
    let (wide_m, deep_m) = (high.0 - low.0, high.1 - low.1);
    let step_m = (wide_m.max(deep_m) / POSTS).max(CLOSEST_M);
    crossing(lines)?;
    let mut mesh = DelaunayTriangulation::<Spot>::new();
    let mut count = 0;
    for line in lines {
        for (x, y) in along(&line.points, step_m) {
            count += 1;
            if count > MOST_POINTS {
                return Err(ContourError::TooMany);
            }
            let spot = Spot { at: Point2::new(x, y), height_m: line.height_m };
            mesh.insert(spot).map_err(|_| ContourError::NotFinite)?;
        }
    }
    if mesh.num_inner_faces() == 0 {
        return Err(ContourError::TooFew);
    }
    let posts = |length_m: f64| ((length_m / step_m).ceil() as usize).max(1) + 1;
    let (columns, rows) = (posts(wide_m), posts(deep_m));
    let spacing_m = (wide_m.max(CLOSEST_M) / (columns - 1) as f64, deep_m.max(CLOSEST_M) / (rows - 1) as f64);
    let between = mesh.natural_neighbor();
    let height_m = |at: Point2<f64>| {
        let height_m = between.interpolate(|spot| spot.data().height_m, at);
        let nearest = || mesh.nearest_neighbor(at).map_or(0.0, |spot| spot.data().height_m);
        (height_m.unwrap_or_else(nearest) * 1000.0).round() / 1000.0 + 0.0
    };
    let row = |from_south: usize| {
        let y = low.1 + spacing_m.1 * from_south as f64;
        (0..columns).map(|column| height_m(Point2::new(low.0 + spacing_m.0 * column as f64, y))).collect::<Vec<f64>>()
    };
    // The northernmost row comes first.
    let rows = (0..rows).rev().map(row).collect();
    Ok(Terrain::Grid(TerrainGrid { south_west: low, spacing_m, turned_deg: 0.0, rows }))
}

/// The outline of a band along a line, half its width to either side: a path, a kerb. Corners are mitred, ends square.
///
/// # Example
/// ```
/// use plumbsight::site::band;
/// assert_eq!(band(&[(0.0, 0.0), (10.0, 0.0)], 2.0), [(0.0, -1.0), (10.0, -1.0), (10.0, 1.0), (0.0, 1.0)]);
/// ```
pub fn band(line: &[PlanPoint], width_m: f64) -> Vec<PlanPoint> {
    let mut apart: Vec<PlanPoint> = line.to_vec();
    apart.dedup();
    if apart.len() < 2 { Vec::new() } else { wall_outline(&apart, width_m) }
}

/// The corners of a line and points between them, no farther apart than a step.
fn along(points: &[PlanPoint], step_m: f64) -> Vec<PlanPoint> {
    let mut all = Vec::new();
    for pair in points.windows(2) {
        let (east, north) = (pair[1].0 - pair[0].0, pair[1].1 - pair[0].1);
        let count = (east.hypot(north) / step_m).ceil().clamp(1.0, MOST_POINTS as f64) as usize;
        all.extend((0..count).map(|number| {
            let share = number as f64 / count as f64;
            (pair[0].0 + east * share, pair[0].1 + north * share)
        }));
    }
    all.extend(points.last());
    all
}

/// Refuses lines of different heights that have a point in common.
fn crossing(lines: &[ContourLine]) -> Result<(), ContourError> {
    for (index, one) in lines.iter().enumerate() {
        for (other_index, other) in lines.iter().enumerate().skip(index + 1) {
            if one.height_m == other.height_m {
                continue;
            }
            let meets = |a: &[PlanPoint]| other.points.windows(2).any(|b| meet([a[0], a[1]], [b[0], b[1]]));
            if one.points.windows(2).any(meets) {
                return Err(ContourError::Crossing { one: index + 1, other: other_index + 1 });
            }
        }
    }
    Ok(())
}

fn meet([a, b]: [PlanPoint; 2], [c, d]: [PlanPoint; 2]) -> bool {
    let line = |(from, to): (PlanPoint, PlanPoint)| {
        geo::Line::new(geo::coord! { x: from.0, y: from.1 }, geo::coord! { x: to.0, y: to.1 })
    };
    geo::Intersects::intersects(&line((a, b)), &line((c, d)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(lines: &[ContourLine]) -> TerrainGrid {
        match ground_of_contours(lines) {
            Ok(Terrain::Grid(grid)) => grid,
            other => panic!("{other:?}"),
        }
    }

    /// Natural neighbours reproduce what is linear (Sibson 1981): a plane's contours give the plane.
    #[test]
    fn the_contours_of_an_even_slope_give_the_slope() {
        let plane = |(x, y): PlanPoint| 12.0 + 0.05 * x - 0.03 * y;
        // x = (h − 12 + 0.03 y) / 0.05 along a contour.
        let lines: Vec<ContourLine> = (0..9)
            .map(|step| {
                let height_m = 8.0 + f64::from(step);
                let at = |y: f64| ((height_m - 12.0 + 0.03 * y) / 0.05, y);
                ContourLine { points: vec![at(-60.0), at(10.0), at(80.0)], height_m }
            })
            .collect();
        let ground = Terrain::Grid(grid(&lines));
        for x in -20..20 {
            for y in -5..7 {
                let at = (f64::from(x) * 2.0 + 0.3, f64::from(y) * 10.0 + 0.7);
                // Posts are rounded to the millimetre.
                assert!((ground.height_m(at) - plane(at)).abs() < 2e-3, "{at:?}: {}", ground.height_m(at));
            }
        }
    }

    #[test]
    fn a_hill_rises_from_ring_to_ring_and_is_level_on_each() {
        let ring = |radius_m: f64, height_m: f64| ContourLine {
            points: (0..=72)
                .map(|step| {
                    let (sine, cosine) = (f64::from(step) * 5.0).to_radians().sin_cos();
                    (radius_m * cosine, radius_m * sine)
                })
                .collect(),
            height_m,
        };
        let top = ContourLine { points: vec![(0.0, 0.0)], height_m: 9.0 };
        let ground = Terrain::Grid(grid(&[ring(60.0, 0.0), ring(40.0, 4.0), ring(20.0, 7.0), top]));
        for (radius_m, low_m, high_m) in
            [(59.9, -0.1, 0.2), (50.0, 1.5, 2.5), (40.0, 3.7, 4.2), (30.0, 4.9, 6.1), (20.0, 6.7, 7.2), (0.0, 8.5, 9.0)]
        {
            for step in 0..8 {
                let (sine, cosine) = (f64::from(step) * 45.0 + 3.0).to_radians().sin_cos();
                let height_m = ground.height_m((radius_m * cosine, radius_m * sine));
                assert!((low_m..=high_m).contains(&height_m), "{radius_m}: {height_m}");
            }
        }
    }

    #[test]
    fn what_describes_no_ground_is_refused_with_the_reason() {
        let line = |points: &[PlanPoint], height_m: f64| ContourLine { points: points.to_vec(), height_m };
        let across = [line(&[(0.0, 0.0), (10.0, 10.0)], 1.0), line(&[(0.0, 10.0), (10.0, 0.0)], 2.0)];
        assert_eq!(ground_of_contours(&across), Err(ContourError::Crossing { one: 1, other: 2 }));
        let same = across.map(|line| ContourLine { height_m: 3.0, ..line });
        assert!(ground_of_contours(&same).is_ok());
        assert_eq!(ground_of_contours(&[]), Err(ContourError::TooFew));
        assert_eq!(ground_of_contours(&[line(&[(0.0, 0.0), (10.0, 10.0)], 1.0)]), Err(ContourError::TooFew));
        assert_eq!(ground_of_contours(&[line(&[(0.0, f64::NAN)], 1.0)]), Err(ContourError::NotFinite));
    }
}
