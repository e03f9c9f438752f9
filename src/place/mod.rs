//! Where on the Earth is the site, and how do map coordinates become site coordinates?
//!
//! A site's axes are those of the plane that touches the WGS 84 ellipsoid's level at the anchor: x east, y north, z up.
//! [`TangentPlane`] carries geographic positions into it and back, [`Crs`] carries map coordinates (a projection by its
//! EPSG code) to geographic positions and back.

mod compass;
mod crs;
mod earth;
mod prj;

use thiserror::Error;

pub use compass::{CompassError, Day, Declination, declination};
pub use crs::Crs;
pub use earth::{EcefPoint, Geographic, TangentPlane, VALID_RADIUS_M, distance_m};
pub use prj::crs_of_prj;

/// A position or projection that is refused.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum PlaceError {
    /// A coordinate outside its range.
    #[error("{what} is {value}; it must lie from {lowest} to {highest}")]
    OutOfRange {
        /// Which coordinate, with its unit.
        what: &'static str,
        /// What was given.
        value: f64,
        /// The lowest allowed.
        lowest: f64,
        /// The highest allowed.
        highest: f64,
    },
    /// A code that no known reference system has.
    #[error("EPSG:{code} is no map projection or geographic system known here; look the code up at the map's source")]
    UnknownCode {
        /// The code.
        code: u16,
    },
    /// A reference system that cannot be computed.
    #[error("EPSG:{code} cannot be computed here ({why}); bring the map in a UTM zone, such as EPSG:32632")]
    Unsupported {
        /// The code.
        code: u16,
        /// Why not.
        why: String,
    },
    /// A projection file that says too little or too much.
    #[error("{why}; name the map's projection by its EPSG code instead")]
    UnclearPrj {
        /// What is wrong with it.
        why: String,
    },
}
