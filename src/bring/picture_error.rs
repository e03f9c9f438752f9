//! Why can a picture from above not be read or laid, and what mends it?

use std::path::PathBuf;

use thiserror::Error;

use crate::files::FileError;
use crate::place::{PlaceError, VALID_RADIUS_M};
use crate::site::LayingError;

/// How many pixels a picture from above may have.
pub const MOST_PIXELS: u64 = 100_000_000;

/// A picture that cannot be read, or cannot be laid where its file says.
#[derive(Debug, Error)]
pub enum PictureError {
    /// It cannot be read.
    #[error(transparent)]
    File(#[from] FileError),
    /// None of the formats.
    #[error("{path}: is no PNG, JPEG or TIFF picture; save it as one of these", path = path.display())]
    UnknownFormat {
        /// Which file.
        path: PathBuf,
    },
    /// More pixels than are read.
    #[error(
        "{path}: has {width_px} × {height_px} pixels; from 1 to {most} million are read: save it smaller",
        path = path.display(), most = MOST_PIXELS / 1_000_000
    )]
    Size {
        /// Which file.
        path: PathBuf,
        /// Pixels across.
        width_px: u32,
        /// Pixels down.
        height_px: u32,
    },
    /// Cut off or broken.
    #[error("{path}: cannot be read as {format}: {why}; save or copy it anew", path = path.display())]
    Broken {
        /// Which file.
        path: PathBuf,
        /// "PNG", "JPEG" or "TIFF".
        format: &'static str,
        /// What the reader says.
        why: String,
    },
    /// Pixels of a kind that is not read.
    #[error("{path}: its pixels are {kind}; save it in grey or RGB with 8 bits a channel", path = path.display())]
    Pixels {
        /// Which file.
        path: PathBuf,
        /// What they are.
        kind: String,
    },
    /// A world file that is none.
    #[error(
        "{path}: {why}; a world file is six lines of a number each: A, D, B, E, C, F, where a pixel in column c of row r is at \
         (A·c + B·r + C, D·c + E·r + F)",
        path = path.display()
    )]
    WorldFile {
        /// Which file.
        path: PathBuf,
        /// What is wrong.
        why: String,
    },
    /// Tags of a GeoTIFF that place it in no way that is read.
    #[error("{path}: {why}; save it with square pixels and north up, or with a world file beside it", path = path.display())]
    GeoTags {
        /// Which file.
        path: PathBuf,
        /// What is wrong.
        why: String,
    },
    /// A map system that is not known.
    #[error("{path}: {source}", path = path.display())]
    Place {
        /// Which file.
        path: PathBuf,
        /// Why.
        source: PlaceError,
    },
    /// Coordinates of a map that nothing names.
    #[error(
        "{path}: its corner is ({x:.1}, {y:.1}) on a map, and nothing tells which; put its .prj file beside it, or press two \
         points on it",
        path = path.display()
    )]
    NoCrs {
        /// Which file.
        path: PathBuf,
        /// Easting of its corner.
        x: f64,
        /// Northing of its corner.
        y: f64,
    },
    /// A map's coordinates, and a site that is nowhere.
    #[error(
        "{path}: lies in {crs}, and the site has no anchor; write its anchor: (latitude_deg: …, longitude_deg: …), or press two \
         points on the picture",
        path = path.display()
    )]
    NoAnchor {
        /// Which file.
        path: PathBuf,
        /// The system.
        crs: String,
    },
    /// Coordinates outside the reach of their projection.
    #[error("{path}: ({x:.3}, {y:.3}) is no place in {crs}; look at its world file or .prj", path = path.display())]
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
    /// Another place.
    #[error(
        "{path}: its middle lies {distance_km:.1} km from the site's anchor, and a site reaches {reach_km} km; it is a picture of \
         another place, or its .prj names another map",
        path = path.display(), reach_km = VALID_RADIUS_M / 1000.0
    )]
    TooFar {
        /// Which file.
        path: PathBuf,
        /// How far.
        distance_km: f64,
    },
    /// Pixels that are not square on the ground, or a picture in a mirror.
    #[error(
        "{path}: laid with square pixels it would miss its place by {miss_m:.2} m: its pixels are not square on the ground, or it \
         is sheared or mirrored; save it in a UTM zone, such as EPSG:32632, with square pixels",
        path = path.display()
    )]
    NotSquare {
        /// Which file.
        path: PathBuf,
        /// The largest miss.
        miss_m: f64,
    },
    /// A scale or place out of range.
    #[error("{path}: {source}", path = path.display())]
    Laying {
        /// Which file.
        path: PathBuf,
        /// Why.
        source: LayingError,
    },
}
