//! What does a GPS device read? GPX 1.1: a waypoint for each stance and for the subject, a closed track around
//! each ground.

use geo::Point;
use gpx::{Gpx, GpxVersion, Metadata, Track, TrackSegment, Waypoint};

use crate::place::Geographic;

use super::place::{Places, ground_words, longitude_latitude, stance_words, subject_words, to_decimals, xml_text};

pub(super) fn text(places: &Places) -> String {
    let mut waypoints: Vec<Waypoint> = places
        .stances
        .iter()
        .map(|stance| waypoint(&stance.eye, stance.feet_height_m, &stance.name, &stance_words(stance), "stance"))
        .collect();
    waypoints.extend(places.subject.iter().map(|subject| {
        waypoint(&subject.foot, subject.foot.height_m(), &subject.name, &subject_words(subject), "subject")
    }));
    let tracks = places.grounds.iter().map(|ground| Track {
        name: Some(xml_text(&ground.name)),
        description: Some(xml_text(&ground_words(ground))),
        type_: Some("ground".into()),
        segments: vec![TrackSegment {
            points: ground
                .outline
                .iter()
                .chain(ground.outline.first())
                .map(|place| Waypoint::new(point(place)))
                .collect(),
        }],
        ..Track::default()
    });
    let gpx = Gpx {
        version: GpxVersion::Gpx11,
        creator: Some(places.program.clone()),
        metadata: Some(Metadata {
            name: Some(xml_text(&places.site)),
            description: Some(xml_text(&format!(
                "Stances, subject and grounds. Elevations are of what one stands on, above {}.",
                places.datum_words()
            ))),
            ..Metadata::default()
        }),
        waypoints,
        tracks: tracks.collect(),
        ..Gpx::default()
    };
    file_text(&gpx)
}

/// The text of a GPX file of version 1.1.
pub(super) fn file_text(gpx: &Gpx) -> String {
    let mut text = Vec::new();
    gpx::write(gpx, &mut text).expect("version 1.1 is written, without mail addresses, into memory");
    let mut text = String::from_utf8(text).expect("XML is written in UTF-8");
    text.push('\n');
    text
}

fn point(place: &Geographic) -> Point<f64> {
    longitude_latitude(place).into()
}

fn waypoint(place: &Geographic, height_m: f64, name: &str, words: &str, kind: &str) -> Waypoint {
    let mut waypoint = Waypoint::new(point(place));
    waypoint.elevation = Some(to_decimals(height_m, 3));
    waypoint.name = Some(xml_text(name));
    waypoint.description = Some(xml_text(words));
    waypoint.type_ = Some(kind.into());
    waypoint
}
