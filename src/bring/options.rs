//! How are files to be read where they leave something open?

use std::ops::RangeInclusive;

use crate::site::Anchor;

/// Heights of blocks that are believed: those that a site may have.
pub(super) const BLOCK_HEIGHTS_M: RangeInclusive<f64> = 0.01..=2_000.0;
/// The height of one storey where only their number is known: common practice, no source.
pub(super) const STOREY_M: f64 = 3.0;

/// How to read what the files leave open.
#[derive(Clone, Debug, PartialEq)]
pub struct BringOptions {
    /// The EPSG code of the map system of terrain grids, in place of what stands beside them; also of footprints whose
    /// coordinates cannot be longitude and latitude.
    pub crs: Option<u16>,
    /// The site's anchor, if it has none yet; the centre of the first file otherwise.
    pub anchor: Option<Anchor>,
    /// The height of blocks for which the file has neither a height nor a number of storeys. From 0.01 to 2000 m.
    pub default_height_m: f64,
    /// The unit of heights that are written without one.
    pub height_unit: HeightUnit,
    /// The name of the block that the picture is about.
    pub subject: Option<String>,
    /// Only what lies this close to the anchor is brought. From 1 to 5000 m.
    pub within_m: Option<f64>,
}

impl Default for BringOptions {
    /// Blocks of unknown height are 6 m high, two storeys of 3 m (common practice, no source).
    fn default() -> Self {
        Self {
            crs: None,
            anchor: None,
            default_height_m: 2.0 * STOREY_M,
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
