//! What does a map program read? GeoJSON: a point for each stance and for the subject, a polygon for each ground, with their
//! figures as properties.

use geojson::{Feature, FeatureCollection, Geometry, GeometryValue};
use serde_json::{Map, Value, json};

use crate::place::Geographic;

use super::place::{GroundPlace, Places, StancePlace, SubjectPlace, access_word, longitude_latitude, to_decimals};

pub(super) fn text(places: &Places) -> String {
    let mut features: Vec<Feature> = places.stances.iter().map(|stance| of_stance(places, stance)).collect();
    features.extend(places.subject.iter().map(|subject| of_subject(places, subject)));
    features.extend(places.grounds.iter().map(of_ground));
    let members = json!({ "site": places.site, "program": places.program, "heights_above": places.datum_words() });
    let collection = FeatureCollection { bbox: None, features, foreign_members: members.as_object().cloned() };
    let mut text = serde_json::to_string_pretty(&collection).expect("every number of a place is finite");
    text.push('\n');
    text
}

/// Longitude, latitude, and the height where it is one above the ellipsoid: no other is allowed there.
///
/// # Source
/// RFC 7946, sections 3.1.1 and 4.
fn position(places: &Places, place: &Geographic) -> Vec<f64> {
    let (longitude, latitude) = longitude_latitude(place);
    let height = places.vertical_datum.is_none().then(|| to_decimals(place.height_m(), 3));
    [longitude, latitude].into_iter().chain(height).collect()
}

fn feature(value: GeometryValue, properties: Value) -> Feature {
    let properties: Map<String, Value> = match properties {
        Value::Object(fields) => fields,
        _ => Map::new(),
    };
    Feature {
        bbox: None,
        geometry: Some(Geometry::new(value)),
        id: None,
        properties: Some(properties),
        foreign_members: None,
    }
}

fn of_stance(places: &Places, stance: &StancePlace) -> Feature {
    let (record, subject) = (&stance.record, stance.record.subject.as_ref());
    let cautions: Vec<&str> = record.cautions.iter().map(|caution| caution.text.as_str()).collect();
    let properties = json!({
        "kind": "stance",
        "name": stance.name,
        "eye_height_m": to_decimals(stance.eye.height_m(), 3),
        "feet_height_m": to_decimals(stance.feet_height_m, 3),
        "stands_on": record.stance.stands_on,
        "heading_deg": to_decimals(record.stance.heading_deg, 4),
        "pitch_deg": to_decimals(record.stance.pitch_deg, 4),
        "roll_deg": to_decimals(record.stance.roll_deg, 4),
        "lens": record.camera.lens,
        "focal_mm": to_decimals(record.camera.focal_mm, 3),
        "rise_mm": to_decimals(record.camera.rise_mm, 3),
        "field_across_deg": record.camera.field_deg[0],
        "closes_by_deg": subject.and_then(|subject| subject.convergence_deg),
        "cautions": cautions,
        "note": stance.note,
    });
    feature(GeometryValue::new_point(position(places, &stance.eye)), properties)
}

fn of_subject(places: &Places, subject: &SubjectPlace) -> Feature {
    let properties = json!({ "kind": "subject", "name": subject.name, "rises_m": to_decimals(subject.rises_m, 3) });
    feature(GeometryValue::new_point(position(places, &subject.foot)), properties)
}

fn of_ground(ground: &GroundPlace) -> Feature {
    // A ground lies where the terrain does: it has no height of its own.
    let corner = |place: &Geographic| {
        let (longitude, latitude) = longitude_latitude(place);
        vec![longitude, latitude]
    };
    let ring: Vec<Vec<f64>> = ground.outline.iter().chain(ground.outline.first()).map(corner).collect();
    let properties = json!({
        "kind": "ground",
        "name": ground.name,
        "access": access_word(ground.access),
        "caution": ground.caution,
    });
    feature(GeometryValue::new_polygon(vec![ring]), properties)
}
