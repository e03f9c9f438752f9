//! Where does the sun stand, what does it light, and when?
//!
//! [`Sky`] is the sun over the site's anchor by the clocks of the site's zone; [`LitFace`] the light on a face of the
//! subject, cast shadows included; [`contacts`] when the sun passes behind the subject as seen from a stance;
//! [`LightRequirement`] when the light is next as one wants it; [`TideTable`] how high the water is. Azimuth runs clockwise from
//! true north. The moon is left out: the library that carries the sun does not carry it.

mod cast;
mod disc;
mod edge;
mod error;
mod faces;
mod from_stance;
mod moment;
mod planned;
mod requirement;
mod season;
mod sky;
mod tide;
mod year;

pub use cast::{CastShadow, cast_shadow};
pub use disc::{Contact, ContactKind, Cover, SkinFromEye, contacts};
pub use edge::{EdgeSpot, edge_band};
pub use error::LightError;
pub use faces::{
    FaceLight, LightLimits, LightSpan, Lighting, LitFace, MOST_FACES, Shade, face_of, face_towards, faces, incidence,
    stretches_of, wall_towards,
};
pub use from_stance::{FlareRisk, LightSide, SunInPicture, light_side, sun_in_picture};
pub use moment::{Clock, Moment, ReadMoment, YEARS, Zone};
pub use planned::PlannedLight;
pub use requirement::{FARTHEST_DAYS, LightRequirement, RequiredFrom};
pub use season::bare_season;
pub use sky::{Air, Crossings, RISE_DEG, Sky, SunDay, SunPosition, TWILIGHTS_DEG};
pub use tide::{TideError, TideTable, is_flooded};
pub use year::{LightYear, LightYearDay};
