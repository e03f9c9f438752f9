//! Why can a file not be brought, and what mends it?

use std::path::PathBuf;

use thiserror::Error;

use super::esri_grid::GridProblem;
use super::geojson::GeoJsonProblem;
use crate::files::FileError;
use crate::place::{PlaceError, VALID_RADIUS_M};
use crate::site::{MOST_BLOCKS, MOST_POSTS};

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
        "{path}: nothing tells which map its coordinates ({x:?}, {y:?}) belong to; name its system (--crs 32756 is WGS 84, UTM \
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
    #[error("{path}: posts every {spacing:?} in {crs}, where {unit} are meant: {mend}", path = path.display())]
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
    #[error("{path}: ({x:?}, {y:?}) is no place in {crs}; name the map's system (--crs)", path = path.display())]
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
    /// Footprints that are all malformed.
    #[error("{path}: no solid can stand on any of its footprints: {faults}; mend them where they were drawn", path = path.display())]
    NothingSound {
        /// Which file.
        path: PathBuf,
        /// Some of them, and what is wrong with each.
        faults: String,
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
    /// Ground too far below or above the anchor.
    #[error(
        "{path}: heights of {height_m} m and {anchor_m} m at the anchor cannot both be ground; if one of them means that \
         there is no height, say so in the file's header (nodata_value)",
        path = path.display()
    )]
    FarFromAnchor {
        /// Which file.
        path: PathBuf,
        /// The height that lies farthest from the anchor's.
        height_m: f64,
        /// The anchor's.
        anchor_m: f64,
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
    /// More blocks than a site may have.
    #[error(
        "the site would have {count} blocks, and at most {MOST_BLOCKS} are built; bring only what is near (--within 1000)"
    )]
    TooManyBlocks {
        /// How many there would be.
        count: usize,
    },
    /// A subject that is not among the blocks.
    #[error("no block that was brought is called '{name}'; there are {known} (--subject)")]
    NoSubject {
        /// What was asked for.
        name: String,
        /// Some that there are.
        known: String,
    },
    /// An option outside its range.
    #[error("{option} is {value}; it must lie from {least} to {most}")]
    OptionRange {
        /// Which option.
        option: &'static str,
        /// What was given.
        value: f64,
        /// The smallest allowed.
        least: f64,
        /// The largest allowed.
        most: f64,
    },
}
