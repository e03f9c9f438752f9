//! Where on the map are the stances, the subject and the grounds?
//!
//! For GPS devices (GPX), maps in 3D that show the view as well (KML) and other maps (GeoJSON). All three are in WGS 84, so a
//! site without an anchor has no places.

mod geojson;
mod gpx;
mod kml;
mod page;
mod place;
mod route;

pub use place::{GroundPlace, Places, PlacesError, PlacesForm, StancePlace, SubjectPlace};
pub use route::route;

impl Places {
    /// The places as the text of a file.
    pub fn to_text(&self, form: PlacesForm) -> String {
        match form {
            PlacesForm::Gpx => gpx::text(self),
            PlacesForm::Kml => kml::text(self),
            PlacesForm::GeoJson => geojson::text(self),
        }
    }
}
