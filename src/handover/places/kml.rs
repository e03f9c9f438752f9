//! What does a globe read? KML 2.3: each stance with the view from it, the subject, and the grounds coloured by access.
//!
//! KML 2.3 keeps the namespace of 2.2, and no package carries its schema: files are held to that of 2.2, which it only adds to. The
//! `kml` crate writes attributes in the order of a hash map, so the root with its two is written here.

use std::collections::HashMap;

use kml::types::{AltitudeMode, Coord, Element, Folder, Geometry, LinearRing, Placemark, Point, Polygon};
use kml::{Kml, KmlWriter};

use crate::place::Geographic;
use crate::site::Access;
use crate::theme::{Colour, Theme};

use super::place::{
    GroundPlace, Places, StancePlace, SubjectPlace, access_word, ground_words, longitude_latitude, stance_words,
    subject_words, to_decimals, xml_text,
};

/// How far off a globe first looks at the subject, in its heights, and at least in metres.
const FIRST_LOOK: (f64, f64) = (8.0, 150.0);

/// # Source
/// OGC 12-007r2, KML 2.3: the namespace is that of 2.2, the version stands at the root.
pub(super) fn text(places: &Places) -> String {
    let mut elements = vec![
        Kml::Element(leaf("name", &places.site)),
        Kml::Element(leaf("description", "Stances, subject and grounds. Heights of cameras are above the ground.")),
    ];
    elements.extend(places.subject.iter().map(|subject| Kml::Element(first_look(subject))));
    elements.extend([Access::Open, Access::Ask, Access::Closed].map(|access| Kml::Element(ground_style(access))));
    let folder =
        |name: &str, elements: Vec<Kml>| Kml::Folder(Folder { name: Some(name.into()), elements, ..Folder::default() });
    elements.push(folder("Stances", places.stances.iter().map(of_stance).collect()));
    elements.push(folder("Subject", places.subject.iter().map(of_subject).collect()));
    elements.push(folder("Grounds", places.grounds.iter().map(of_ground).collect()));
    let document = Kml::Document { attrs: HashMap::new(), elements };
    let mut written = Vec::new();
    KmlWriter::from_writer(&mut written).write(&document).expect("memory takes it");
    let written = String::from_utf8(written).expect("XML is written in UTF-8");
    // The root is written here, for the crate writes attributes in no certain order.
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <kml xmlns=\"http://www.opengis.net/kml/2.2\" version=\"2.3\">{written}</kml>\n"
    )
}

fn leaf(name: &str, content: &str) -> Element {
    Element { name: name.into(), content: Some(xml_text(content)), ..Element::default() }
}

fn branch(name: &str, children: Vec<Element>) -> Element {
    Element { name: name.into(), children, ..Element::default() }
}

fn number(name: &str, value: f64) -> Element {
    leaf(name, &value.to_string())
}

/// Words that a balloon shows as they are: it takes descriptions for hypertext.
fn balloon(words: &str) -> String {
    xml_text(words).replace('&', "&amp;").replace('<', "&lt;")
}

/// The view from a stance. A camera that looks straight down has no tilt, level it has 90°; the camera's z axis points
/// towards the photographer, so that a clockwise roll turns the other way about it.
fn camera(stance: &StancePlace) -> Element {
    let (longitude, latitude) = longitude_latitude(&stance.eye);
    let taken = &stance.record.stance;
    branch(
        "Camera",
        vec![
            number("longitude", longitude),
            number("latitude", latitude),
            number("altitude", to_decimals(stance.eye_above_ground_m, 3)),
            number("heading", to_decimals(taken.heading_deg, 4)),
            number("tilt", to_decimals((90.0 + taken.pitch_deg).clamp(0.0, 180.0), 4)),
            number("roll", to_decimals(-taken.roll_deg.clamp(-180.0, 180.0), 4)),
            leaf("altitudeMode", "relativeToGround"),
        ],
    )
}

/// Down on the subject from the south, half from above.
fn first_look(subject: &SubjectPlace) -> Element {
    let (longitude, latitude) = longitude_latitude(&subject.foot);
    branch(
        "LookAt",
        vec![
            number("longitude", longitude),
            number("latitude", latitude),
            number("altitude", 0.0),
            number("heading", 0.0),
            number("tilt", 45.0),
            number("range", to_decimals((FIRST_LOOK.0 * subject.rises_m).max(FIRST_LOOK.1), 0)),
            leaf("altitudeMode", "relativeToGround"),
        ],
    )
}

/// KML tells colours as opacity, blue, green, red.
fn colour(Colour(red, green, blue): Colour, opacity: u8) -> String {
    format!("{opacity:02x}{blue:02x}{green:02x}{red:02x}")
}

fn ground_style(access: Access) -> Element {
    let palette = Theme::Paper.palette();
    let ink = match access {
        Access::Open => palette.open,
        Access::Ask => palette.ask,
        Access::Closed => palette.soft,
    };
    let mut style = branch(
        "Style",
        vec![
            branch("LineStyle", vec![leaf("color", &colour(ink, 0xff)), leaf("width", "2")]),
            branch("PolyStyle", vec![leaf("color", &colour(ink, 0x40))]),
        ],
    );
    style.attrs = HashMap::from([("id".to_owned(), access_word(access).to_owned())]);
    style
}

fn data(pairs: Vec<(&str, String)>) -> Element {
    let pair = |(name, value): (&str, String)| {
        let mut pair = branch("Data", vec![leaf("value", &value)]);
        pair.attrs = HashMap::from([("name".to_owned(), name.to_owned())]);
        pair
    };
    branch("ExtendedData", pairs.into_iter().map(pair).collect())
}

fn coord(place: &Geographic, altitude_m: Option<f64>) -> Coord {
    let (longitude, latitude) = longitude_latitude(place);
    Coord::new(longitude, latitude, altitude_m)
}

fn of_stance(stance: &StancePlace) -> Kml {
    let point = Point {
        coord: coord(&stance.eye, Some(to_decimals(stance.eye_above_ground_m, 3))),
        altitude_mode: AltitudeMode::RelativeToGround,
        ..Point::default()
    };
    let camera_record = &stance.record.camera;
    Kml::Placemark(Placemark {
        name: Some(xml_text(&stance.name)),
        description: Some(balloon(&stance_words(stance))),
        children: vec![
            camera(stance),
            data(vec![
                ("lens", camera_record.lens.clone()),
                ("focal_mm", to_decimals(camera_record.focal_mm, 3).to_string()),
                ("rise_mm", to_decimals(camera_record.rise_mm, 3).to_string()),
            ]),
        ],
        geometry: Some(Geometry::Point(point)),
        ..Placemark::default()
    })
}

fn of_subject(subject: &SubjectPlace) -> Kml {
    Kml::Placemark(Placemark {
        name: Some(xml_text(&subject.name)),
        description: Some(balloon(&subject_words(subject))),
        geometry: Some(Geometry::Point(Point { coord: coord(&subject.foot, None), ..Point::default() })),
        ..Placemark::default()
    })
}

fn of_ground(ground: &GroundPlace) -> Kml {
    let ring = LinearRing {
        coords: ground.outline.iter().chain(ground.outline.first()).map(|place| coord(place, None)).collect(),
        ..LinearRing::default()
    };
    Kml::Placemark(Placemark {
        name: Some(xml_text(&ground.name)),
        description: Some(balloon(&ground_words(ground))),
        children: vec![leaf("styleUrl", &format!("#{}", access_word(ground.access)))],
        geometry: Some(Geometry::Polygon(Polygon { tessellate: true, ..Polygon::new(ring, Vec::new()) })),
        ..Placemark::default()
    })
}
