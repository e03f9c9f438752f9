//! A site as its file describes it.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::optics::Kit;
use crate::pose::WorldVector;

use super::{Block, Front, Ground, Stance, Terrain, Underlay};

/// The newest version of the site file's format that this program reads and writes.
pub const SITE_FORMAT: u32 = 1;

/// A site as its file describes it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Site {
    /// Version of the file's format.
    pub format: u32,
    /// What the site is called.
    pub name: String,
    /// Where on the Earth the origin lies; absent for a site that is nowhere.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub anchor: Option<Anchor>,
    /// The site's time zone by its IANA name, such as "Europe/London".
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub time_zone: Option<String>,
    /// The bare ground.
    #[serde(default)]
    pub terrain: Terrain,
    /// The height of still water; ground below it is under water.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub water_level_m: Option<f64>,
    /// Where the sun stands in pictures, unless a picture asks for another.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sun: Option<Sun>,
    /// Which side of the subject the picture is of; guessed from each stance unless given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub front: Option<Front>,
    /// A picture of the place from above, laid under the plan.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub underlay: Option<Underlay>,
    /// Everything that stands on the ground.
    #[serde(default)]
    pub blocks: Vec<Block>,
    /// Who may stand where; a later ground lies over an earlier one, and ground that is not listed is open.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub grounds: Vec<Ground>,
    /// Formats and lenses of this site's own, added to the built-in kit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kit: Option<Kit>,
    /// Saved stances.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub stances: Vec<Stance>,
}

/// The point of the Earth at which the site's axes have their origin.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Anchor {
    /// WGS 84 latitude, north positive.
    pub latitude_deg: f64,
    /// WGS 84 longitude, east positive.
    pub longitude_deg: f64,
    /// Height of the site's z = 0 in the named vertical datum.
    #[serde(default)]
    pub height_m: f64,
    /// What heights are counted from; the ellipsoid unless named.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub vertical_datum: Option<String>,
}

/// A direction to the sun.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Sun {
    /// Clockwise from true north.
    pub azimuth_deg: f64,
    /// Above the horizon.
    pub altitude_deg: f64,
}

impl Sun {
    /// The direction towards the sun, of length 1.
    pub fn direction(&self) -> WorldVector {
        let (sin_azimuth, cos_azimuth) = self.azimuth_deg.to_radians().sin_cos();
        let (sin_altitude, cos_altitude) = self.altitude_deg.to_radians().sin_cos();
        WorldVector::new(sin_azimuth * cos_altitude, cos_azimuth * cos_altitude, sin_altitude)
    }
}

impl Site {
    /// The built-in kit with this site's own added.
    pub fn whole_kit(&self) -> Kit {
        self.kit_with(None)
    }

    /// The built-in kit with a person's `own` and then this site's own added.
    pub fn kit_with(&self, own: Option<&Kit>) -> Kit {
        own.into_iter().chain(&self.kit).fold(Kit::built_in(), Kit::with)
    }

    /// The saved stance of this name.
    pub fn stance(&self, name: &str) -> Option<&Stance> {
        self.stances.iter().find(|stance| stance.name == name)
    }
}
