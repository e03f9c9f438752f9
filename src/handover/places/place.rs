//! What does a file of places say of each, whatever its form?

use thiserror::Error;

use crate::place::{Geographic, TangentPlane};
use crate::pose::WorldPoint;
use crate::record::Record;
use crate::site::{Access, PlanPoint, Stance};
use crate::survey::{MeasureSettings, Survey};
use crate::text::without_direction_marks;
use crate::wording;

use crate::handover::plane_of;

/// Places of a site, ready to be written.
#[derive(Clone, Debug, PartialEq)]
pub struct Places {
    /// The site's name.
    pub site: String,
    /// The program that wrote them.
    pub program: String,
    /// What heights are counted from; the ellipsoid where it is not named.
    pub vertical_datum: Option<String>,
    /// The stances.
    pub stances: Vec<StancePlace>,
    /// The subject, if the site has one.
    pub subject: Option<SubjectPlace>,
    /// The grounds that one may, or may not, stand on.
    pub grounds: Vec<GroundPlace>,
    /// What could not be placed, and why.
    pub left_out: Vec<String>,
}

/// Where a stance is and where it looks.
#[derive(Clone, Debug, PartialEq)]
pub struct StancePlace {
    /// What it is called.
    pub name: String,
    /// The eye.
    pub eye: Geographic,
    /// The height of what the feet stand on, in the site's datum; the eye's own where they stand on nothing.
    pub feet_height_m: f64,
    /// The eye over the bare ground, or over water.
    pub eye_above_ground_m: f64,
    /// Everything measured there.
    pub record: Record,
    /// What to remember about it.
    pub note: Option<String>,
}

/// Where the subject is.
#[derive(Clone, Debug, PartialEq)]
pub struct SubjectPlace {
    /// Its blocks' names.
    pub name: String,
    /// The middle of its foot.
    pub foot: Geographic,
    /// Its top over its foot.
    pub rises_m: f64,
}

/// Where a ground is.
#[derive(Clone, Debug, PartialEq)]
pub struct GroundPlace {
    /// What it is called.
    pub name: String,
    /// Whether one may stand there.
    pub access: Access,
    /// What to beware of there.
    pub caution: Option<String>,
    /// Its corners, anticlockwise as seen from above, each once.
    pub outline: Vec<Geographic>,
}

/// Why there are no places.
#[derive(Clone, Copy, Debug, Error, PartialEq, Eq)]
pub enum PlacesError {
    /// The site is nowhere.
    #[error(
        "this site has no anchor, so its metres lie nowhere on the Earth; write \
         `anchor: (latitude_deg: …, longitude_deg: …, height_m: …)` into its file"
    )]
    NoAnchor,
}

/// The form of a file of places.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PlacesForm {
    /// GPX 1.1.
    Gpx,
    /// KML 2.3.
    Kml,
    /// GeoJSON, RFC 7946.
    GeoJson,
}

impl PlacesForm {
    /// The form that a file's name ends on; `None` for any other ending than .gpx, .kml and .geojson.
    pub fn of(path: &std::path::Path) -> Option<Self> {
        match path.extension()?.to_str()?.to_ascii_lowercase().as_str() {
            "gpx" => Some(Self::Gpx),
            "kml" => Some(Self::Kml),
            "geojson" => Some(Self::GeoJson),
            _ => None,
        }
    }
}

impl Places {
    /// The places of a site: these stances, its subject and its grounds.
    ///
    /// # Errors
    /// The site has no anchor.
    pub fn of(survey: &Survey, stances: &[Stance]) -> Result<Self, PlacesError> {
        let plane = plane_of(&survey.model.site).ok_or(PlacesError::NoAnchor)?;
        let mut left_out = Vec::new();
        let mut placed = Vec::new();
        for stance in stances {
            match stance_place(survey, &plane, stance) {
                Ok(place) => placed.push(place),
                Err(why) => left_out.push(format!("stance '{}': {why}", stance.name)),
            }
        }
        let mut grounds = Vec::new();
        for ground in &survey.model.site.grounds {
            match ring(&plane, &ground.outline) {
                Ok(outline) => grounds.push(GroundPlace {
                    name: ground.name.clone(),
                    access: ground.access,
                    caution: ground.caution.clone(),
                    outline,
                }),
                Err(why) => left_out.push(format!("ground '{}': {why}", ground.name)),
            }
        }
        Ok(Self {
            site: survey.model.site.name.clone(),
            program: format!("plumbsight {}", env!("CARGO_PKG_VERSION")),
            vertical_datum: survey.model.site.anchor.as_ref().and_then(|anchor| anchor.vertical_datum.clone()),
            stances: placed,
            subject: subject_place(survey, &plane),
            grounds,
            left_out,
        })
    }

    /// What heights are counted from, in words.
    pub(super) fn datum_words(&self) -> &str {
        self.vertical_datum.as_deref().unwrap_or("the WGS 84 ellipsoid")
    }
}

const OFF_THE_EARTH: &str = "lies off the Earth";

fn stance_place(survey: &Survey, plane: &TangentPlane, stance: &Stance) -> Result<StancePlace, String> {
    let settings = MeasureSettings::default();
    let measured = survey.measure(stance, &settings).map_err(|error| error.to_string())?;
    let eye = &measured.standing.pose.eye;
    let place = plane.geographic_from_world(eye).ok_or(OFF_THE_EARTH)?;
    let feet_m = measured.standing.footing.as_ref().map_or(eye.z, |footing| footing.height_m);
    Ok(StancePlace {
        name: stance.name.clone(),
        eye: place,
        feet_height_m: plane.anchor().height_m() + feet_m,
        eye_above_ground_m: eye.z - survey.model.surface_m((eye.x, eye.y)),
        record: survey.record(stance, &measured, &settings),
        note: stance.note.clone(),
    })
}

fn subject_place(survey: &Survey, plane: &TangentPlane) -> Option<SubjectPlace> {
    let subject = survey.subject.as_ref().ok()?;
    let foot = WorldPoint::new(subject.middle.x, subject.middle.y, subject.base_m);
    let names: Vec<&str> = subject.blocks.iter().map(|&block| survey.model.site.blocks[block].name.as_str()).collect();
    Some(SubjectPlace {
        name: names.join(", "),
        foot: plane.geographic_from_world(&foot)?,
        rises_m: subject.highest_m - subject.base_m,
    })
}

/// Corners on the ground at the anchor's height, anticlockwise.
fn ring(plane: &TangentPlane, outline: &[PlanPoint]) -> Result<Vec<Geographic>, String> {
    let mut corners = outline.to_vec();
    let around = corners.iter().chain(corners.first()).zip(corners.iter().skip(1).chain(corners.first()));
    let doubled_area_m2: f64 = around.map(|(a, b)| a.0 * b.1 - b.0 * a.1).sum();
    if doubled_area_m2 < 0.0 {
        corners.reverse();
    }
    let placed: Option<Vec<Geographic>> =
        corners.iter().map(|&(x, y)| plane.geographic_from_world(&WorldPoint::new(x, y, 0.0))).collect();
    let placed = placed.ok_or(OFF_THE_EARTH)?;
    let east = placed.iter().map(|place| place.longitude().degrees()).fold(f64::NEG_INFINITY, f64::max);
    let west = placed.iter().map(|place| place.longitude().degrees()).fold(f64::INFINITY, f64::min);
    if east - west > 180.0 {
        return Err("runs over the 180th meridian, where outlines would have to be cut".into());
    }
    Ok(placed)
}

/// Longitude and latitude to a ten-thousandth of a millimetre of a degree's arc: 1e-9°, 0.1 mm on the ground.
pub(super) fn longitude_latitude(place: &Geographic) -> (f64, f64) {
    let rounded = |degrees: f64| (degrees * 1e9).round() / 1e9;
    (rounded(place.longitude().degrees()), rounded(place.latitude().degrees()))
}

/// A number to its last wanted decimal, zero without a sign.
pub(super) fn to_decimals(value: f64, decimals: i32) -> f64 {
    let steps = 10_f64.powi(decimals);
    (value * steps).round() / steps + 0.0
}

/// What one wants to know of a stance in the field, in one line.
pub(super) fn stance_words(stance: &StancePlace) -> String {
    let record = &stance.record;
    let on = match record.stance.stands_on.as_deref() {
        None => String::new(),
        Some(on) => format!(" above {}", if on == "ground" || on == "water" { format!("the {on}") } else { on.into() }),
    };
    let mut parts = vec![
        format!("camera {:.2} m{on}", record.stance.height_m.unwrap_or(stance.eye_above_ground_m)),
        format!(
            "heading {:.1}° true, pitch {}",
            to_decimals(record.stance.heading_deg, 1) % 360.0,
            wording::degrees(record.stance.pitch_deg)
        ),
        format!("{} at {:.1} mm", record.camera.lens, record.camera.focal_mm),
    ];
    if let Some(degrees) = record.subject.as_ref().and_then(|subject| subject.convergence_deg) {
        parts.push(wording::convergence(degrees));
    }
    parts.extend(record.cautions.iter().map(|caution| caution.text.trim_end_matches('.').to_owned()));
    parts.extend(stance.note.clone());
    parts.join("; ")
}

pub(super) fn subject_words(subject: &SubjectPlace) -> String {
    format!("subject; rises {:.1} m", subject.rises_m)
}

pub(super) fn access_word(access: Access) -> &'static str {
    match access {
        Access::Open => "open",
        Access::Ask => "ask",
        Access::Closed => "closed",
    }
}

pub(super) fn ground_words(ground: &GroundPlace) -> String {
    let access = match ground.access {
        Access::Open => "open ground",
        Access::Ask => ground.access.words(),
        Access::Closed => "closed ground: keep off",
    };
    ground.caution.as_ref().map_or_else(|| access.to_owned(), |caution| format!("{access}; {caution}"))
}

/// A text as XML 1.0 can hold it, which replaces signs that it cannot, and without direction marks.
///
/// # Source
/// W3C, *Extensible Markup Language (XML) 1.0*, fifth edition, production 2 (Char).
pub(super) fn xml_text(text: &str) -> String {
    let allowed =
        |sign: char| matches!(sign, '\t' | '\n' | '\r' | ' '..='\u{d7ff}' | '\u{e000}'..='\u{fffd}' | '\u{10000}'..);
    without_direction_marks(text).chars().map(|sign| if allowed(sign) { sign } else { '\u{fffd}' }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn outlines_run_anticlockwise_and_stop_at_the_date_line() {
        let at =
            |longitude_deg| TangentPlane::new(Geographic::from_degrees(10.0, longitude_deg, 0.0).expect("a place"));
        let clockwise = [(0.0, 0.0), (0.0, 10.0), (10.0, 10.0), (10.0, 0.0)];
        let placed = ring(&at(5.0), &clockwise).expect("placed");
        let mut turned = clockwise;
        turned.reverse();
        assert_eq!(placed, ring(&at(5.0), &turned).expect("placed"));
        assert!(placed[0].longitude() > placed[2].longitude() || placed[1].longitude() > placed[0].longitude());
        assert!(ring(&at(179.99999), &clockwise).is_err_and(|why| why.contains("180th")));
        assert!(ring(&at(0.0), &[(1e9, 0.0)]).is_err());
    }

    #[test]
    fn what_xml_cannot_hold_is_replaced() {
        assert_eq!(xml_text("a\u{0}b\u{1b}\t🗼\u{ffff}\u{202e}"), "a\u{fffd}b\u{fffd}\t🗼\u{fffd}");
    }
}
