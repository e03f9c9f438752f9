//! How does a real place get into a site file?
//!
//! Footprints and terrain come in from open formats and are laid into the site's own axes. Nothing is written here: what
//! was read is returned, with every guess that was made said aloud.

mod esri_grid;
mod footprints;
mod geojson;
mod map_grid;
mod outline;

use std::collections::BTreeSet;
use std::fmt;
use std::path::{Path, PathBuf};

use thiserror::Error;

use crate::files::{FileError, read_text};
use crate::place::{Crs, Geographic, PlaceError, TangentPlane, VALID_RADIUS_M, crs_of_prj, distance_m};
use crate::site::{Anchor, Block, Site, Terrain, TerrainGrid, outline_holds};

pub use esri_grid::GridProblem;
pub use geojson::GeoJsonProblem;

use esri_grid::{Header, Window};
use footprints::FootprintFile;
use map_grid::MapGrid;

/// The most posts that a site's terrain may have.
pub const MOST_POSTS: usize = 4_000_000;

/// The greatest height above its ground that is believed of a block.
const TALLEST_BLOCK_M: f64 = 2_000.0;

/// How to read what the files leave open.
#[derive(Clone, Debug, PartialEq)]
pub struct BringOptions {
    /// The EPSG code of the map system of terrain grids, in place of what stands beside them; also of footprints whose
    /// coordinates cannot be longitude and latitude.
    pub crs: Option<u16>,
    /// The site's anchor, if it has none yet; the centre of the first file otherwise.
    pub anchor: Option<Anchor>,
    /// The height of blocks for which the file has neither a height nor a number of storeys. From above 0 to 2000 m.
    pub default_height_m: f64,
    /// The unit of heights that are written without one.
    pub height_unit: HeightUnit,
    /// The name of the block that the picture is about.
    pub subject: Option<String>,
    /// Only what lies this close to the anchor is brought. From above 0 to 5000 m.
    pub within_m: Option<f64>,
}

impl Default for BringOptions {
    /// Blocks of unknown height are 6 m high, two storeys of 3 m (common practice, no source).
    fn default() -> Self {
        Self {
            crs: None,
            anchor: None,
            default_height_m: 2.0 * footprints::STOREY_M,
            height_unit: HeightUnit::Metres,
            subject: None,
            within_m: None,
        }
    }
}

/// The unit of a height that is written as a bare number.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum HeightUnit {
    /// Metres.
    #[default]
    Metres,
    /// International feet of 0.3048 m.
    Feet,
}

impl HeightUnit {
    /// Its length in metres.
    pub const fn metres(self) -> f64 {
        match self {
            Self::Metres => 1.0,
            Self::Feet => 0.3048,
        }
    }
}

/// What the files held, in the site's axes.
#[derive(Clone, Debug, PartialEq)]
pub struct Brought {
    /// Where the axes have their origin.
    pub anchor: Anchor,
    /// The ground, if a file held it.
    pub terrain: Option<Terrain>,
    /// A block for each footprint, with names that neither these nor the site's own blocks share.
    pub blocks: Vec<Block>,
    /// Every guess, omission and inexactness, each a sentence to read before the site is trusted.
    pub warnings: Vec<String>,
    /// A line for each file: what it was and what came of it.
    pub summary: Vec<String>,
}

/// A file that cannot be brought.
#[derive(Debug, Error)]
pub enum BringError {
    /// It cannot be read.
    #[error(transparent)]
    File(#[from] FileError),
    /// No file was named.
    #[error("no file was named; give one or more GeoJSON or Esri ASCII grid files")]
    NoFiles,
    /// Neither of the formats.
    #[error(
        "{path}: begins with '{begins}'; what can be brought begins with '{{' (GeoJSON footprints) or with 'ncols' or \
         another header word of an Esri ASCII grid",
        path = path.display()
    )]
    UnknownFormat {
        /// Which file.
        path: PathBuf,
        /// Its first characters.
        begins: String,
    },
    /// A malformed GeoJSON file.
    #[error("{path}: {problem}", path = path.display())]
    GeoJson {
        /// Which file.
        path: PathBuf,
        /// What is wrong.
        problem: GeoJsonProblem,
    },
    /// A malformed Esri ASCII grid.
    #[error("{path}: {problem}", path = path.display())]
    Grid {
        /// Which file.
        path: PathBuf,
        /// What is wrong.
        problem: GridProblem,
    },
    /// A grid whose projection nothing tells.
    #[error(
        "{path}: nothing tells which map its coordinates ({x}, {y}) belong to; name its system (--crs 32756 is WGS 84, UTM \
         zone 56 south), or put its .prj file beside it",
        path = path.display()
    )]
    NoCrs {
        /// Which file.
        path: PathBuf,
        /// Easting of its first post.
        x: f64,
        /// Northing of its first post.
        y: f64,
    },
    /// A projection that is not known, or a position that is none.
    #[error("{path}: {source} (--crs)", path = path.display())]
    Place {
        /// Which file.
        path: PathBuf,
        /// Why.
        source: PlaceError,
    },
    /// A spacing that cannot be right in its system.
    #[error("{path}: posts every {spacing} in {crs}, where {unit} are meant: {mend}", path = path.display())]
    WrongSystem {
        /// Which file.
        path: PathBuf,
        /// The distance between posts as it stands in the file.
        spacing: f64,
        /// The system.
        crs: String,
        /// Its unit.
        unit: &'static str,
        /// What to do.
        mend: &'static str,
    },
    /// Coordinates outside the reach of their projection.
    #[error("{path}: ({x}, {y}) is no place in {crs}; name the map's system (--crs)", path = path.display())]
    OffTheMap {
        /// Which file.
        path: PathBuf,
        /// Easting or longitude.
        x: f64,
        /// Northing or latitude.
        y: f64,
        /// The system.
        crs: String,
    },
    /// Parts beyond the tangent plane's reach.
    #[error(
        "{path}: {what} lies {distance_km:.1} km from the anchor, and a site reaches {reach_km} km; bring only what is near \
         (--within 1000), or set the anchor (--anchor LATITUDE,LONGITUDE)",
        path = path.display(),
        reach_km = VALID_RADIUS_M / 1000.0
    )]
    TooFar {
        /// Which file.
        path: PathBuf,
        /// What lies too far.
        what: String,
        /// How far.
        distance_km: f64,
    },
    /// Nothing inside the wanted circle.
    #[error(
        "{path}: nothing of it lies within {within_m} m of the anchor ({latitude_deg}, {longitude_deg}); widen --within, or \
         set --anchor",
        path = path.display()
    )]
    NothingNear {
        /// Which file.
        path: PathBuf,
        /// The circle's radius.
        within_m: f64,
        /// The anchor's latitude.
        latitude_deg: f64,
        /// The anchor's longitude.
        longitude_deg: f64,
    },
    /// A terrain of too many posts.
    #[error(
        "{path}: {columns} × {rows} posts are more than the {MOST_POSTS} that a site's terrain may have; bring only what is \
         near (--within {suggested_m})",
        path = path.display()
    )]
    TooManyPosts {
        /// Which file.
        path: PathBuf,
        /// Posts along a row.
        columns: u64,
        /// Rows.
        rows: u64,
        /// A radius that would do.
        suggested_m: f64,
    },
    /// A grid that bends too much to be laid into the site.
    #[error(
        "{path}: laid flat, its posts miss their places by up to {residual_m:.2} m, more than a twentieth of their spacing; \
         bring only what is near (--within {suggested_m})",
        path = path.display()
    )]
    BentGrid {
        /// Which file.
        path: PathBuf,
        /// The largest miss.
        residual_m: f64,
        /// A radius that would do.
        suggested_m: f64,
    },
    /// A grid that lies mirrored or folded on the ground.
    #[error("{path}: in {crs} its rows and columns do not lie as a map lies; name the map's system (--crs)", path = path.display())]
    FoldedGrid {
        /// Which file.
        path: PathBuf,
        /// The system.
        crs: String,
    },
    /// Two terrains.
    #[error("{first} and {second} are both terrain, and a site has one; bring them one at a time into sites of their own",
        first = first.display(), second = second.display())]
    SecondTerrain {
        /// The first.
        first: PathBuf,
        /// The second.
        second: PathBuf,
    },
    /// An anchor beside the one that the site already has.
    #[error(
        "the site is anchored at latitude {latitude_deg}, longitude {longitude_deg}, and what stands on it is placed from \
         there; leave --anchor out"
    )]
    AnchorDiffers {
        /// The site's latitude.
        latitude_deg: f64,
        /// The site's longitude.
        longitude_deg: f64,
    },
    /// An anchor that is no place.
    #[error("the anchor: {0}")]
    Anchor(PlaceError),
    /// A subject that is not among the blocks.
    #[error("no block that was brought is called '{name}'; there are {known} (--subject)")]
    NoSubject {
        /// What was asked for.
        name: String,
        /// Some that there are.
        known: String,
    },
    /// An option outside its range.
    #[error("{option} is {value}; it must be above 0 and at most {most}")]
    OptionRange {
        /// Which option.
        option: &'static str,
        /// What was given.
        value: f64,
        /// The largest allowed.
        most: f64,
    },
}

/// Reads files of footprints and terrain and lays them into the axes of a site.
///
/// Files are told apart by what they hold. Beside a terrain grid its `.prj` file is read. `into` is the site that they are
/// to join, if there is one: its anchor and the names of its blocks are then respected.
///
/// # Errors
/// A file that cannot be read or is malformed, lies nowhere or too far away, or an option out of range.
pub fn bring(files: &[PathBuf], options: &BringOptions, into: Option<&Site>) -> Result<Brought, BringError> {
    for (option, value, most) in [
        ("the default height in metres (--default-height)", Some(options.default_height_m), TALLEST_BLOCK_M),
        ("the radius in metres (--within)", options.within_m, VALID_RADIUS_M),
    ] {
        if let Some(value) = value.filter(|value| !(*value > 0.0 && *value <= most)) {
            return Err(BringError::OptionRange { option, value, most });
        }
    }
    let mut warnings = Vec::new();
    let mut grid: Option<GridFile> = None;
    let mut footprint_files = Vec::new();
    let mut centre = None;
    for path in files {
        let text = read_text(path)?;
        let text = text.strip_prefix('\u{feff}').unwrap_or(&text);
        if text.trim_start().starts_with('{') {
            let file = FootprintFile::read(path, text, options)?;
            if centre.is_none() {
                centre = Some(file.centre()?);
            }
            footprint_files.push(file);
        } else if esri_grid::begins_like_one(text) {
            let file = GridFile::read(path, text, options, &mut warnings)?;
            if let Some(first) = grid {
                return Err(BringError::SecondTerrain { first: first.path, second: file.path });
            }
            if centre.is_none() {
                centre = Some(file.centre()?);
            }
            grid = Some(file);
        } else {
            let begins = text.trim_start().chars().take(20).map(|c| if c.is_control() { ' ' } else { c }).collect();
            return Err(BringError::UnknownFormat { path: path.clone(), begins });
        }
    }
    let known_anchor = known_anchor(options, into)?;
    let (centre_deg, known_height_m) = match (&known_anchor, centre) {
        (Some(anchor), _) => ((anchor.latitude_deg, anchor.longitude_deg), Some(anchor.height_m)),
        (None, Some(centre)) => {
            let rounded = |degrees: f64| (degrees * 1e7).round() / 1e7;
            ((rounded(centre.latitude().degrees()), rounded(centre.longitude().degrees())), None)
        }
        (None, None) => return Err(BringError::NoFiles),
    };
    let place = |height_m| Geographic::from_degrees(centre_deg.0, centre_deg.1, height_m).map_err(BringError::Anchor);

    // The posts that are wanted hardly depend on the anchor's height, which may itself come from them.
    let read_grid = match &grid {
        Some(file) => {
            Some(file.posts(&TangentPlane::new(place(known_height_m.unwrap_or(0.0))?), options, &mut warnings)?)
        }
        None => None,
    };
    let anchor = match (known_anchor, &grid, &read_grid) {
        (Some(anchor), _, _) => anchor,
        (None, Some(file), Some(posts)) => Anchor {
            latitude_deg: centre_deg.0,
            longitude_deg: centre_deg.1,
            height_m: posts.height_near_m(&place(0.0)?).round(),
            vertical_datum: Some(format!("that of {}", file_name(&file.path))),
        },
        _ => Anchor {
            latitude_deg: centre_deg.0,
            longitude_deg: centre_deg.1,
            height_m: 0.0,
            vertical_datum: Some("the ground at the anchor".into()),
        },
    };
    let plane = TangentPlane::new(place(anchor.height_m)?);

    let mut summary = Vec::new();
    let terrain = match (&grid, read_grid) {
        (Some(file), Some(posts)) => {
            let (terrain, line) = lay_grid(file, posts, &plane, &mut warnings)?;
            summary.push(line);
            Some(terrain)
        }
        _ => None,
    };
    let mut names = Names::of(into);
    let mut blocks = Vec::new();
    for (index, file) in footprint_files.iter().enumerate() {
        summary.push(file.build(index, &plane, options, &mut names, &mut blocks, &mut warnings)?);
    }
    if let Some(taken) = names.told() {
        warnings.push(taken);
    }
    if let Some(grid) = &terrain {
        warn_of_blocks_beyond(grid, &blocks, &mut warnings);
    }
    if let Some(name) = &options.subject {
        mark_subject(name, &names, &mut blocks)?;
    }
    for file in &footprint_files {
        if let Some(caution) = file.crs.datum_caution() {
            warnings.push(format!("{}: {caution}", file_name(&file.path)));
        }
    }
    Ok(Brought { anchor, terrain: terrain.map(Terrain::Grid), blocks, warnings, summary })
}

/// The anchor that is already decided.
fn known_anchor(options: &BringOptions, into: Option<&Site>) -> Result<Option<Anchor>, BringError> {
    let of_site = into.and_then(|site| site.anchor.clone());
    let Some(wanted) = options.anchor.clone() else { return Ok(of_site) };
    match (of_site, into) {
        (Some(own), Some(site)) if own != wanted => {
            let empty = site.blocks.is_empty()
                && site.grounds.is_empty()
                && site.stances.is_empty()
                && matches!(site.terrain, Terrain::Plane { .. });
            if empty {
                Ok(Some(wanted))
            } else {
                Err(BringError::AnchorDiffers { latitude_deg: own.latitude_deg, longitude_deg: own.longitude_deg })
            }
        }
        _ => Ok(Some(wanted)),
    }
}

/// A terrain grid whose posts are not yet read.
struct GridFile {
    path: PathBuf,
    text: String,
    header: Header,
    crs: Crs,
}

/// The widest spacing in degrees that is still taken for terrain, about 5 km.
const WIDEST_DEGREES: f64 = 0.05;
/// The closest spacing of posts that is still taken for metres.
const CLOSEST_M: f64 = 0.01;

impl GridFile {
    fn read(path: &Path, text: &str, options: &BringOptions, warnings: &mut Vec<String>) -> Result<Self, BringError> {
        let header = Header::read(text).map_err(|problem| BringError::Grid { path: path.into(), problem })?;
        let (x, y) = header.south_west_post();
        let in_path = |source| BringError::Place { path: path.into(), source };
        let crs = match (options.crs, prj_beside(path)) {
            (Some(code), _) => Crs::from_epsg(code).map_err(in_path)?,
            (None, Some(prj)) => {
                crs_of_prj(&read_text(&prj)?).map_err(|source| BringError::Place { path: prj, source })?
            }
            (None, None) if header.looks_like_degrees() => {
                warnings.push(format!(
                    "{}: nothing tells which map it belongs to; its numbers look like longitude and latitude in degrees and \
                     were taken as WGS 84 (EPSG:4326)",
                    file_name(path)
                ));
                Crs::wgs84()
            }
            (None, None) => return Err(BringError::NoCrs { path: path.into(), x, y }),
        };
        let spacing = header.spacing.0.max(header.spacing.1);
        let wrong =
            |unit, mend| BringError::WrongSystem { path: path.into(), spacing, crs: crs.to_string(), unit, mend };
        if crs.is_geographic() && spacing > WIDEST_DEGREES {
            return Err(wrong("degrees", "name the map projection that it is in (--crs)"));
        }
        if !crs.is_geographic() && spacing * crs.unit_m() < CLOSEST_M {
            return Err(wrong("lengths", "its numbers look like degrees; give --crs 4326"));
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

    fn centre(&self) -> Result<Geographic, BringError> {
        let middle = |posts: u64| (posts - 1) as f64 / 2.0;
        self.place(middle(self.header.columns), middle(self.header.rows))
    }

    /// The place of the post in so many columns from the west and rows from the south.
    fn place(&self, column: f64, row: f64) -> Result<Geographic, BringError> {
        let (x, y) = self.header.post(column, row);
        self.crs.geographic_from_map((x, y), 0.0).ok_or_else(|| BringError::OffTheMap {
            path: self.path.clone(),
            x,
            y,
            crs: self.crs.to_string(),
        })
    }

    /// Reads the wanted posts.
    fn posts(
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
        let grid =
            MapGrid::new(&self.header, self.crs.clone(), &window, posts).ok_or(problem(GridProblem::NoHeights))?;
        let left_out = self.header.columns * self.header.rows - window.posts();
        if left_out > 0 {
            warnings.push(format!("{}: {left_out} posts too far from the anchor were left out", file_name(&self.path)));
        }
        if grid.filled > 0 {
            warnings.push(format!(
                "{}: {} of {} posts had no height and were given that of the nearest post that has one",
                file_name(&self.path),
                grid.filled,
                window.posts()
            ));
        }
        Ok(grid)
    }

    /// Which posts are wanted.
    fn window(&self, plane: &TangentPlane, options: &BringOptions) -> Result<Window, BringError> {
        let whole = Window { columns: 0..self.header.columns, rows: 0..self.header.rows };
        let Some(within_m) = options.within_m else {
            let (last_column, last_row) = ((self.header.columns - 1) as f64, (self.header.rows - 1) as f64);
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
            let rim = crate::pose::WorldPoint::new(within_m * sine, within_m * cosine, 0.0);
            let on_map = plane.geographic_from_world(&rim).and_then(|place| self.crs.map_from_geographic(&place));
            let (column, row) = self.header.grid_from_map(on_map.ok_or_else(nothing_near)?);
            low = (low.0.min(column), low.1.min(row));
            high = (high.0.max(column), high.1.max(row));
        }
        // A column and row more on every side, so that the ground is known right up to the rim.
        let range = |low: f64, high: f64, count: u64| {
            let bound = |value: f64| value.clamp(0.0, count as f64) as u64;
            bound(low.floor())..bound(high.ceil() + 1.0)
        };
        let window =
            Window { columns: range(low.0, high.0, self.header.columns), rows: range(low.1, high.1, self.header.rows) };
        let enough = |range: &std::ops::Range<u64>| range.end > range.start + 1;
        if enough(&window.columns) && enough(&window.rows) { Ok(window) } else { Err(nothing_near()) }
    }
}

/// The projection file beside a grid.
fn prj_beside(path: &Path) -> Option<PathBuf> {
    ["prj", "PRJ", "Prj"].map(|ending| path.with_extension(ending)).into_iter().find(|prj| prj.is_file() && prj != path)
}

/// Lays the posts into the site's axes.
fn lay_grid(
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

fn warn_of_blocks_beyond(grid: &TerrainGrid, blocks: &[Block], warnings: &mut Vec<String>) {
    let (last_column, last_row) = (grid.columns() as f64 - 1.0, grid.rows.len() as f64 - 1.0);
    let rim = [(0.0, 0.0), (last_column, 0.0), (last_column, last_row), (0.0, last_row)]
        .map(|(column, row)| grid.plan_from_grid(column, row));
    let beyond: Vec<&str> =
        blocks.iter().filter(|block| !outline_holds(&rim, block.at)).map(|block| block.name.as_str()).collect();
    if !beyond.is_empty() {
        warnings.push(format!(
            "{} stand beyond the terrain, where the ground goes on level from its edge: {}",
            counted(beyond.len(), "block"),
            some_of(&beyond)
        ));
    }
}

fn mark_subject(name: &str, names: &Names, blocks: &mut [Block]) -> Result<(), BringError> {
    // All parts of the feature that has the name, but not another one that was called the same.
    let chosen: Vec<usize> = names.parts_of(name);
    if chosen.is_empty() {
        let known: Vec<&str> = blocks.iter().map(|block| block.name.as_str()).collect();
        let known = if known.is_empty() { "none".into() } else { some_of(&known) };
        return Err(BringError::NoSubject { name: name.into(), known });
    }
    for index in chosen {
        blocks[index].subject = true;
    }
    Ok(())
}

/// The names that are given to blocks, each once.
#[derive(Default)]
struct Names {
    taken: BTreeSet<String>,
    of_site: BTreeSet<String>,
    /// Names wished for that the site already has.
    met: usize,
    /// For each block its wished-for name's own spelling and the feature that it came from.
    given: Vec<(String, (usize, usize))>,
    /// The number that the next block of a wished-for name is tried with.
    next: std::collections::BTreeMap<String, usize>,
}

impl Names {
    fn of(site: Option<&Site>) -> Self {
        let of_site: BTreeSet<String> =
            site.map(|site| site.blocks.iter().map(|block| block.name.clone()).collect()).unwrap_or_default();
        Self { taken: of_site.clone(), of_site, ..Self::default() }
    }

    /// A name as near to the wish as is free; `source` tells which file and feature it is for.
    fn give(&mut self, wish: &str, source: (usize, usize)) -> String {
        self.met += usize::from(self.of_site.contains(wish));
        let mut name = wish.to_owned();
        if self.taken.contains(&name) {
            let number = self.next.entry(wish.to_owned()).or_insert(2);
            loop {
                name = format!("{wish} ({number})");
                *number += 1;
                if !self.taken.contains(&name) {
                    break;
                }
            }
        }
        self.taken.insert(name.clone());
        self.given.push((name.clone(), source));
        name
    }

    /// The blocks, by their order, of the feature whose first block has this name, whatever its case.
    fn parts_of(&self, name: &str) -> Vec<usize> {
        let exact = self.given.iter().find(|(given, _)| given == name);
        let folded = name.to_lowercase();
        let found = exact.or_else(|| self.given.iter().find(|(given, _)| given.to_lowercase() == folded));
        let Some((_, source)) = found else { return Vec::new() };
        self.given.iter().enumerate().filter(|(_, (_, of))| of == source).map(|(index, _)| index).collect()
    }

    fn told(&self) -> Option<String> {
        (self.met > 0).then(|| {
            format!(
                "{} already on the site under the same name and got a number: was this file brought before?",
                if self.met == 1 { "1 block is".into() } else { format!("{} blocks are", self.met) }
            )
        })
    }
}

/// The last part of a path.
fn file_name(path: &Path) -> String {
    path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
}

/// The first few of many names.
fn some_of<T: fmt::Display>(names: &[T]) -> String {
    const SHOWN: usize = 5;
    let mut told = names.iter().take(SHOWN).map(|name| format!("'{name}'")).collect::<Vec<_>>().join(", ");
    if names.len() > SHOWN {
        told.push_str(&format!(" and {} more", names.len() - SHOWN));
    }
    told
}

fn counted(count: usize, what: &str) -> String {
    if count == 1 { format!("1 {what}") } else { format!("{count} {what}s") }
}
