//! How does a terrain grid become the site's ground?

use std::ops::Range;
use std::path::{Path, PathBuf};

use super::error::BringError;
use super::esri_grid::{GridProblem, Header};
use super::grid_layout::{WIDEST_DEGREES, Window};
use super::map_grid::MapGrid;
use super::options::BringOptions;
use super::words::file_name;
use crate::files::{FileKind, read_text};
use crate::place::{Crs, Geographic, TangentPlane, VALID_RADIUS_M, crs_of_prj, distance_m};
use crate::pose::WorldPoint;
use crate::site::{GROUND_HEIGHTS_M, MOST_POSTS, TerrainGrid};

/// A terrain grid whose posts are not yet read.
pub(super) struct GridFile {
    pub(super) path: PathBuf,
    text: String,
    header: Header,
    crs: Crs,
}

/// The widest spacing that a site's terrain may have, and about the same in degrees.
const COARSEST_M: f64 = 1000.0;
const COARSEST_DEGREES: f64 = 0.0089;
/// The share of posts without a height beyond which the ground is called a guess: a band of one post along the rim of a grid
/// of 80 by 80, which a turned projection leaves in good data, stays below (common practice, no source).
const NOTABLE_VOID_SHARE: f64 = 0.05;
/// The closest spacing of posts that is still taken for metres.
const CLOSEST_M: f64 = 0.01;

impl GridFile {
    pub(super) fn read(
        path: &Path,
        text: &str,
        options: &BringOptions,
        warnings: &mut Vec<String>,
    ) -> Result<Self, BringError> {
        let header = Header::read(text).map_err(|problem| BringError::Grid { path: path.into(), problem })?;
        let (x, y) = header.layout.south_west;
        let in_path = |source| BringError::Place { path: path.into(), source };
        let crs = match (options.crs, prj_beside(path)) {
            (Some(code), _) => Crs::from_epsg(code).map_err(in_path)?,
            (None, Some(prj)) => crs_of_prj(&read_text(&prj, FileKind::Projection)?)
                .map_err(|source| BringError::Place { path: prj, source })?,
            (None, None) if header.layout.looks_like_degrees() => {
                warnings.push(format!(
                    "{}: nothing tells which map it belongs to; its numbers look like longitude and latitude in degrees and \
                     were taken as WGS 84 (EPSG:4326)",
                    file_name(path)
                ));
                Crs::wgs84()
            }
            (None, None) => return Err(BringError::NoCrs { path: path.into(), x, y }),
        };
        let spacing = header.layout.spacing.0.max(header.layout.spacing.1);
        let wrong =
            |unit, mend| BringError::WrongSystem { path: path.into(), spacing, crs: crs.to_string(), unit, mend };
        if crs.is_geographic() && spacing > WIDEST_DEGREES {
            return Err(wrong("degrees", "name the map projection that it is in (--crs)"));
        }
        if !crs.is_geographic() && spacing * crs.unit_m() < CLOSEST_M {
            return Err(wrong("lengths", "its numbers look like degrees; give --crs 4326"));
        }
        let coarsest = if crs.is_geographic() { COARSEST_DEGREES } else { COARSEST_M / crs.unit_m() };
        if spacing > coarsest {
            return Err(wrong("posts at most 1 km apart", "it is too coarse for a site; find a finer grid"));
        }
        if let Some(caution) = crs.datum_caution() {
            warnings.push(format!("{}: {caution}", file_name(path)));
        }
        if !crs.is_geographic() && crs.unit_m() != 1.0 {
            warnings.push(format!(
                "{}: {crs} counts in units of {} m; its heights were taken as metres all the same",
                file_name(path),
                crs.unit_m()
            ));
        }
        Ok(Self { path: path.into(), text: text.into(), header, crs })
    }

    pub(super) fn centre(&self) -> Result<Geographic, BringError> {
        let middle = |posts: u64| (posts - 1) as f64 / 2.0;
        self.place(middle(self.header.layout.columns), middle(self.header.layout.rows))
    }

    /// The place of the post in so many columns from the west and rows from the south.
    fn place(&self, column: f64, row: f64) -> Result<Geographic, BringError> {
        let (x, y) = self.header.layout.post(column, row);
        self.crs.geographic_from_map((x, y), 0.0).ok_or_else(|| BringError::OffTheMap {
            path: self.path.clone(),
            x,
            y,
            crs: self.crs.to_string(),
        })
    }

    /// Reads the wanted posts.
    pub(super) fn posts(
        &self,
        plane: &TangentPlane,
        options: &BringOptions,
        warnings: &mut Vec<String>,
    ) -> Result<MapGrid, BringError> {
        let window = self.window(plane, options)?;
        if window.posts() > MOST_POSTS as u64 {
            let (width, height) = (window.columns.end - window.columns.start, window.rows.end - window.rows.start);
            let corner = |column: u64, row: u64| self.place(column as f64, row as f64);
            let step_m = distance_m(
                &corner(window.columns.start, window.rows.start)?,
                &corner(window.columns.start + 1, window.rows.start + 1)?,
            ) / f64::sqrt(2.0);
            let suggested_m = round_down((MOST_POSTS as f64).sqrt() / 2.0 * step_m * 0.9);
            return Err(BringError::TooManyPosts {
                path: self.path.clone(),
                columns: width,
                rows: height,
                suggested_m,
            });
        }
        let problem = |problem| BringError::Grid { path: self.path.clone(), problem };
        let posts = self.header.posts(&self.text, &window).map_err(problem)?;
        let grid = MapGrid::new(&self.header.layout, self.crs.clone(), &window, posts)
            .ok_or(problem(GridProblem::NoHeights))?;
        let left_out = self.header.layout.columns * self.header.layout.rows - window.posts();
        if left_out > 0 {
            warnings.push(format!("{}: {left_out} posts too far from the anchor were left out", file_name(&self.path)));
        }
        if grid.filled > 0 {
            let share = grid.filled as f64 / window.posts() as f64;
            let doubt = if share > NOTABLE_VOID_SHARE {
                format!(
                    ": {:.1} % of the ground is a guess; look for a grid without gaps, or bring less of it",
                    100.0 * share
                )
            } else {
                String::new()
            };
            warnings.push(format!(
                "{}: {} of {} posts had no height and were given that of the nearest post that has one{doubt}",
                file_name(&self.path),
                grid.filled,
                window.posts()
            ));
        }
        Ok(grid)
    }

    /// Which posts are wanted.
    fn window(&self, plane: &TangentPlane, options: &BringOptions) -> Result<Window, BringError> {
        let whole = Window { columns: 0..self.header.layout.columns, rows: 0..self.header.layout.rows };
        let Some(within_m) = options.within_m else {
            let (last_column, last_row) =
                ((self.header.layout.columns - 1) as f64, (self.header.layout.rows - 1) as f64);
            let mut farthest_m = 0.0_f64;
            for (column, row) in [(0.0, 0.0), (last_column, 0.0), (last_column, last_row), (0.0, last_row)] {
                farthest_m = farthest_m.max(distance_m(&plane.anchor(), &self.place(column, row)?));
            }
            if farthest_m > VALID_RADIUS_M {
                return Err(BringError::TooFar {
                    path: self.path.clone(),
                    what: "its farthest corner".into(),
                    distance_km: farthest_m / 1000.0,
                });
            }
            return Ok(whole);
        };
        let nothing_near = || BringError::NothingNear {
            path: self.path.clone(),
            within_m,
            latitude_deg: plane.anchor().latitude().degrees(),
            longitude_deg: plane.anchor().longitude().degrees(),
        };
        // The circle's bounds in columns and rows, from points all around it.
        let (mut low, mut high) = ((f64::INFINITY, f64::INFINITY), (f64::NEG_INFINITY, f64::NEG_INFINITY));
        for bearing_deg in (0..360).step_by(5) {
            let (sine, cosine) = f64::from(bearing_deg).to_radians().sin_cos();
            let rim = WorldPoint::new(within_m * sine, within_m * cosine, 0.0);
            let on_map = plane.geographic_from_world(&rim).and_then(|place| self.crs.map_from_geographic(&place));
            let (column, row) = self.header.layout.grid_from_map(on_map.ok_or_else(nothing_near)?);
            low = (low.0.min(column), low.1.min(row));
            high = (high.0.max(column), high.1.max(row));
        }
        // A column and row more on every side, so that the ground is known right up to the rim.
        let range = |low: f64, high: f64, count: u64| {
            let bound = |value: f64| value.clamp(0.0, count as f64) as u64;
            bound(low.floor())..bound(high.ceil() + 1.0)
        };
        let window = Window {
            columns: range(low.0, high.0, self.header.layout.columns),
            rows: range(low.1, high.1, self.header.layout.rows),
        };
        let enough = |range: &Range<u64>| range.end > range.start + 1;
        if enough(&window.columns) && enough(&window.rows) { Ok(window) } else { Err(nothing_near()) }
    }
}

/// The projection file beside a grid.
pub(super) fn prj_beside(path: &Path) -> Option<PathBuf> {
    ["prj", "PRJ", "Prj"].map(|ending| path.with_extension(ending)).into_iter().find(|prj| prj.is_file() && prj != path)
}

/// Lays the posts into the site's axes.
pub(super) fn lay_grid(
    file: &GridFile,
    posts: MapGrid,
    plane: &TangentPlane,
    warnings: &mut Vec<String>,
) -> Result<(TerrainGrid, String), BringError> {
    let name = file_name(&file.path);
    let laid = posts
        .lay(plane)
        .ok_or_else(|| BringError::FoldedGrid { path: file.path.clone(), crs: file.crs.to_string() })?;
    let grid = laid.terrain;
    // A hundredth of a metre is what a site can be measured to; beyond it, a small part of the distance between posts.
    let tolerated_m = f64::max(0.01, 0.05 * grid.spacing_m.0.min(grid.spacing_m.1));
    if laid.residual_m > tolerated_m {
        return Err(BringError::BentGrid {
            path: file.path.clone(),
            residual_m: laid.residual_m,
            suggested_m: round_down(laid.reach_m * (tolerated_m / laid.residual_m).sqrt() * 0.6),
        });
    }
    if laid.residual_m > 0.01 {
        warnings.push(format!(
            "{name}: laid flat, its posts miss their places by up to {:.2} m, {:.1} % of their spacing",
            laid.residual_m,
            100.0 * laid.residual_m / grid.spacing_m.0.min(grid.spacing_m.1)
        ));
    }
    let (low, high) = grid
        .rows
        .iter()
        .flatten()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), &post| (low.min(post), high.max(post)));
    if let Some(off_m) = [low, high].into_iter().find(|off_m| !GROUND_HEIGHTS_M.contains(off_m)) {
        let anchor_m = plane.anchor().height_m();
        return Err(BringError::FarFromAnchor { path: file.path.clone(), height_m: anchor_m + off_m, anchor_m });
    }
    let line = format!(
        "{name}: terrain of {} × {} posts in {}, {:.3} m × {:.3} m apart, turned {:.4}° from true north, heights {low:.2} m to \
         {high:.2} m about the anchor's; posts within {:.1} mm of their places",
        grid.columns(),
        grid.rows.len(),
        file.crs,
        grid.spacing_m.0,
        grid.spacing_m.1,
        grid.turned_deg,
        1000.0 * laid.residual_m
    );
    Ok((grid, line))
}

/// A length cut down to two leading digits, to be proposed.
fn round_down(length_m: f64) -> f64 {
    if !(length_m > 0.0 && length_m.is_finite()) {
        return 1.0;
    }
    let unit = 10.0_f64.powf(length_m.log10().floor() - 1.0);
    (length_m / unit).floor() * unit
}
