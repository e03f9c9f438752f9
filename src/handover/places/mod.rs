//! Where on the map are the stances, the subject and the grounds?
//!
//! For a receiver in the field (GPX), a globe that shows the view as well (KML) and map programs (GeoJSON). All three speak
//! of WGS 84, so a site that is nowhere has no places.

mod geojson;
mod gpx;
mod kml;
mod place;

pub use place::{GroundPlace, Places, PlacesError, PlacesForm, StancePlace, SubjectPlace};

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
