//! Which footprints does a GeoJSON file hold, and how high and what are they called?
//!
//! # Source
//! RFC 7946, *The GeoJSON Format*, 2016: longitude before latitude, WGS 84; rings that close themselves, in either order.

use std::collections::BTreeMap;
use std::ops::RangeInclusive;

use geojson::{Feature, GeoJson, Geometry, GeometryValue, JsonObject, JsonValue, Position};
use thiserror::Error;

use super::options::{BLOCK_HEIGHTS_M, HeightUnit};
use super::words::counted;

/// The longest name that is kept, in characters.
const LONGEST_NAME: usize = 80;
/// Numbers of storeys that are believed.
const STOREYS: RangeInclusive<f64> = 0.1..=300.0;

/// The kind of a feature that has no geometry, which RFC 7946 allows.
const NO_GEOMETRY: &str = "without geometry";

/// Properties that give a height, the first that can be read counting; compared without regard to case.
const HEIGHT_KEYS: [&str; 6] =
    ["height", "building_height", "building:height", "height_m", "heightroof", "height_roof"];
/// Properties that give a number of storeys.
const STOREY_KEYS: [&str; 5] = ["num_floors", "building:levels", "numfloors", "levels", "storeys"];
/// Properties that give the height above the ground at which something begins; heights count from the ground all the same.
const BASE_HEIGHT_KEYS: [&str; 4] = ["min_height", "building:min_height", "min_height_m", "height_min"];
/// Properties that give the number of storeys below which there is nothing of it.
const BASE_STOREY_KEYS: [&str; 4] = ["min_floor", "building:min_level", "min_level", "min_levels"];
/// Heights above the ground that are believed for where something begins: those that a block may be lifted by. What begins
/// below the ground stands on it.
const BASES_M: RangeInclusive<f64> = -100.0..=1000.0;
/// Numbers of storeys that are believed to be left out below.
const BASE_STOREYS: RangeInclusive<f64> = -30.0..=300.0;

/// What is wrong with a GeoJSON file.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum GeoJsonProblem {
    /// No GeoJSON.
    #[error("is no whole GeoJSON: {why}; write it out again")]
    Malformed {
        /// What the reader says, with line and column where it knows them.
        why: String,
    },
    /// Coordinates in a system that is not known.
    #[error(
        "says that its coordinates are in '{name}', which is not known here; write it out again in WGS 84 longitude and \
         latitude, as RFC 7946 has it"
    )]
    UnknownCrs {
        /// The name it gives.
        name: String,
    },
    /// Coordinates that are no longitude and latitude.
    #[error(
        "feature {feature}: ({x:?}, {y:?}) is no longitude and latitude; write it out again in WGS 84, as RFC 7946 has it, or \
         name its map system (--crs 32633)"
    )]
    NotGeographic {
        /// The number of the feature, from 1.
        feature: usize,
        /// Its first coordinate.
        x: f64,
        /// Its second.
        y: f64,
    },
    /// Nothing that a block could stand on.
    #[error("holds no footprint (Polygon or MultiPolygon), only {others}{spread}")]
    NoFootprints {
        /// What it holds instead.
        others: String,
        /// How far that is spread, where it is more than a site.
        spread: String,
    },
}

/// The footprints of a file.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Footprints {
    pub(super) features: Vec<Footprint>,
    /// Features that are none, by the kind of their geometry.
    pub(super) others: BTreeMap<&'static str, usize>,
    /// The system that the file names, against RFC 7946 but with its predecessor of 2008.
    pub(super) crs_name: Option<String>,
    /// West, south, east and north of the other features.
    bounds_of_others: Option<[f64; 4]>,
    /// Features that cannot be read, each with its place in the file and why.
    pub(super) unreadable: Vec<String>,
}

/// A feature with one or more polygons.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Footprint {
    /// Its place in the file, from 1.
    pub(super) number: usize,
    pub(super) name: Option<String>,
    /// Rings, the outer one first, of map coordinates.
    pub(super) polygons: Vec<Vec<Vec<(f64, f64)>>>,
    pub(super) height: Height,
    /// Where above the ground it begins.
    pub(super) base: Height,
    /// The first height or number of storeys that could not be read, as it stands in the file.
    pub(super) unreadable: Option<String>,
}

/// What a file tells of a height.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Height {
    Metres(f64),
    Storeys(f64),
    Unknown,
}

/// Reads a file.
pub(super) fn read(text: &str, unit: HeightUnit) -> Result<Footprints, GeoJsonProblem> {
    let (features, members) = match text.parse::<GeoJson>() {
        Ok(GeoJson::FeatureCollection(collection)) => {
            (collection.features.into_iter().map(Ok).collect(), collection.foreign_members)
        }
        Ok(GeoJson::Feature(mut feature)) => {
            let members = feature.foreign_members.take();
            (vec![Ok(feature)], members)
        }
        Ok(GeoJson::Geometry(geometry)) => (vec![Ok(Feature::from(geometry))], None),
        Err(error) => one_by_one(text).ok_or_else(|| malformed(&error))?,
    };
    let mut read = Footprints { crs_name: members.as_ref().and_then(crs_name), ..Footprints::default() };
    for (number, feature) in (1..).zip(features) {
        if let Err(why) = feature.and_then(|feature| read.add(number, feature, unit)) {
            read.unreadable.push(format!("feature {number}: {why}"));
        }
    }
    match read.unreadable.first() {
        Some(first) if read.features.is_empty() => {
            let more = read.unreadable.len() - 1;
            let more = if more > 0 { format!(", and {} more", counted(more, "feature")) } else { String::new() };
            Err(GeoJsonProblem::Malformed { why: format!("{first}{more}") })
        }
        None if read.features.is_empty() => {
            Err(GeoJsonProblem::NoFootprints { others: read.others_in_words(), spread: read.spread_in_words() })
        }
        _ => Ok(read),
    }
}

/// What a reader says of a text or of one feature.
fn malformed(error: &dyn std::fmt::Display) -> GeoJsonProblem {
    GeoJsonProblem::Malformed { why: reason(error) }
}

fn reason(error: &dyn std::fmt::Display) -> String {
    error.to_string().replace("Error while deserializing GeoJSON: ", "")
}

/// Features that are read one by one, and the other members of their collection.
type OneByOne = (Vec<Result<Feature, String>>, Option<JsonObject>);

/// The features of a collection of which one cannot be read, so that the others still are; `None` for anything else.
fn one_by_one(text: &str) -> Option<OneByOne> {
    let Ok(JsonValue::Object(mut members)) = serde_json::from_str(text) else { return None };
    if members.get("type")? != "FeatureCollection" {
        return None;
    }
    let JsonValue::Array(features) = members.remove("features")? else { return None };
    let read = |feature| serde_json::from_value::<Feature>(feature).map_err(|error| reason(&error));
    Some((features.into_iter().map(read).collect(), Some(members)))
}

impl Footprints {
    /// Takes in a feature.
    fn add(&mut self, number: usize, feature: Feature, unit: HeightUnit) -> Result<(), String> {
        let empty = |polygons: &[Vec<Vec<Position>>]| polygons.iter().flatten().flatten().next().is_none();
        let polygons = match feature.geometry.map(|Geometry { value, .. }| value) {
            Some(GeometryValue::Polygon { coordinates }) if !empty(std::slice::from_ref(&coordinates)) => {
                vec![coordinates]
            }
            Some(GeometryValue::MultiPolygon { coordinates }) if !empty(&coordinates) => coordinates,
            // RFC 7946, 3.1: empty coordinates may be taken as no geometry.
            Some(GeometryValue::Polygon { .. } | GeometryValue::MultiPolygon { .. }) => {
                *self.others.entry(NO_GEOMETRY).or_default() += 1;
                return Ok(());
            }
            other => {
                let kind = other.as_ref().map_or(NO_GEOMETRY, GeometryValue::type_name);
                *self.others.entry(kind).or_default() += 1;
                if let Some(value) = &other {
                    self.bound(value);
                }
                return Ok(());
            }
        };
        let point = |position: &Position| match position.as_slice() {
            [x, y, ..] => Ok((*x, *y)),
            _ => Err("a position of fewer than two numbers".to_owned()),
        };
        let ring = |ring: &Vec<Position>| ring.iter().map(point).collect::<Result<Vec<_>, _>>();
        let polygon = |rings: &Vec<Vec<Position>>| rings.iter().map(ring).collect::<Result<Vec<_>, _>>();
        let polygons = polygons.iter().map(polygon).collect::<Result<Vec<_>, _>>()?;
        let properties = feature.properties.unwrap_or_default();
        let (height, unreadable) = height_of(&properties, unit);
        let (base, unreadable_base) = base_of(&properties, unit);
        let unreadable = unreadable.or(unreadable_base);
        self.features.push(Footprint { number, name: name_of(&properties), polygons, height, base, unreadable });
        Ok(())
    }

    fn bound(&mut self, value: &GeometryValue) {
        match value {
            GeometryValue::Point { coordinates } => self.bound_by(coordinates),
            GeometryValue::MultiPoint { coordinates } | GeometryValue::LineString { coordinates } => {
                coordinates.iter().for_each(|position| self.bound_by(position));
            }
            GeometryValue::MultiLineString { coordinates } | GeometryValue::Polygon { coordinates } => {
                coordinates.iter().flatten().for_each(|position| self.bound_by(position));
            }
            GeometryValue::MultiPolygon { coordinates } => {
                coordinates.iter().flatten().flatten().for_each(|position| self.bound_by(position));
            }
            GeometryValue::GeometryCollection { geometries } => {
                geometries.iter().for_each(|geometry| self.bound(&geometry.value));
            }
        }
    }

    fn bound_by(&mut self, position: &Position) {
        let [x, y, ..] = *position.as_slice() else { return };
        let [west, south, east, north] = self.bounds_of_others.unwrap_or([x, y, x, y]);
        self.bounds_of_others = Some([west.min(x), south.min(y), east.max(x), north.max(y)]);
    }

    /// The features that are no footprints, by kind.
    pub(super) fn others_in_words(&self) -> String {
        if self.others.is_empty() {
            return "an empty list of features".into();
        }
        let words = |(kind, count): (&&'static str, &usize)| {
            if *kind == NO_GEOMETRY { format!("{count} {kind}") } else { counted(*count, kind) }
        };
        self.others.iter().map(words).collect::<Vec<_>>().join(", ")
    }

    /// How far apart the other features lie, where that is more than a site.
    fn spread_in_words(&self) -> String {
        let Some([west, south, east, north]) = self.bounds_of_others else { return String::new() };
        // On a sphere of 6371 km: good enough to be told in whole kilometres.
        let degree_km = 6371.0_f64.to_radians();
        let across_km = (east - west) * degree_km * (0.5 * (south + north)).to_radians().cos();
        let along_km = (north - south) * degree_km;
        if across_km.max(along_km) <= 10.0 || !(across_km + along_km).is_finite() {
            return String::new();
        }
        format!(", spread over {across_km:.0} km by {along_km:.0} km, where a site reaches 5 km from its anchor")
    }
}

/// The name in a `crs` member.
fn crs_name(members: &JsonObject) -> Option<String> {
    let crs = members.get("crs").filter(|crs| !crs.is_null())?;
    let name = crs.get("properties").and_then(|properties| properties.get("name")).and_then(JsonValue::as_str);
    Some(cleaned(name.unwrap_or("something without a name")))
}

/// The value of a property, whatever the case of its name.
fn property<'a>(properties: &'a JsonObject, key: &str) -> Option<&'a JsonValue> {
    let exact = properties.get(key);
    exact.or_else(|| properties.iter().find(|(name, _)| name.eq_ignore_ascii_case(key)).map(|(_, value)| value))
}

fn name_of(properties: &JsonObject) -> Option<String> {
    let plain = property(properties, "name").and_then(|value| match value {
        JsonValue::String(name) => Some(name.clone()),
        JsonValue::Number(number) => Some(number.to_string()),
        _ => None,
    });
    let primary = || {
        let names = property(properties, "names")?;
        names.get("primary")?.as_str().map(str::to_owned)
    };
    plain
        .map(|name| cleaned(&name))
        .filter(|name| !name.is_empty())
        .or_else(|| primary().map(|name| cleaned(&name)).filter(|name| !name.is_empty()))
}

/// A name on one line, without what cannot be printed, of bounded length.
fn cleaned(name: &str) -> String {
    let printed: String = name.chars().map(|letter| if letter.is_control() { ' ' } else { letter }).collect();
    let words = printed.split_whitespace().collect::<Vec<_>>().join(" ");
    words.chars().take(LONGEST_NAME).collect::<String>().trim_end().to_owned()
}

/// The height of a block above the ground, and the first property of it that could not be read.
fn height_of(properties: &JsonObject, unit: HeightUnit) -> (Height, Option<String>) {
    let metres = PropertyReading { keys: &HEIGHT_KEYS, allowed: BLOCK_HEIGHTS_M };
    let storeys = PropertyReading { keys: &STOREY_KEYS, allowed: STOREYS };
    height_by(properties, unit, &metres, &storeys)
}

/// Where above the ground a block begins, and the first property of it that could not be read.
fn base_of(properties: &JsonObject, unit: HeightUnit) -> (Height, Option<String>) {
    let metres = PropertyReading { keys: &BASE_HEIGHT_KEYS, allowed: BASES_M };
    let storeys = PropertyReading { keys: &BASE_STOREY_KEYS, allowed: BASE_STOREYS };
    height_by(properties, unit, &metres, &storeys)
}

/// Which properties give a number, and which numbers are believed.
struct PropertyReading<'a> {
    /// The properties' names, the best first.
    keys: &'a [&'a str],
    /// A number outside this range counts as unreadable.
    allowed: RangeInclusive<f64>,
}

/// A height by the first of some properties that can be read, in metres or else in storeys.
fn height_by(
    properties: &JsonObject,
    unit: HeightUnit,
    in_metres: &PropertyReading<'_>,
    in_storeys: &PropertyReading<'_>,
) -> (Height, Option<String>) {
    let mut unreadable = None;
    let mut first_of = |keys: &[&str], read: &dyn Fn(&JsonValue) -> Option<f64>| {
        for key in keys {
            let Some(value) = property(properties, key).filter(|value| !value.is_null()) else { continue };
            match read(value) {
                Some(number) => return Some(number),
                None if unreadable.is_none() => unreadable = Some(cleaned(&format!("{key}: {value}"))),
                None => {}
            }
        }
        None
    };
    let metres = |value: &JsonValue| {
        let metres = match value {
            JsonValue::Number(number) => number.as_f64()? * unit.metres(),
            JsonValue::String(text) => length_m(text, unit)?,
            _ => return None,
        };
        in_metres.allowed.contains(&metres).then_some(metres)
    };
    let count = |value: &JsonValue| {
        let number = match value {
            JsonValue::Number(number) => number.as_f64()?,
            JsonValue::String(text) => text.trim().parse().ok()?,
            _ => return None,
        };
        in_storeys.allowed.contains(&number).then_some(number)
    };
    let height = match first_of(in_metres.keys, &metres) {
        Some(metres) => Height::Metres(metres),
        None => first_of(in_storeys.keys, &count).map_or(Height::Unknown, Height::Storeys),
    };
    (height, unreadable)
}

/// A length as people write it: `35.3`, `143 ft`, `12 m`, `16'4"`; a bare number is in `bare`.
fn length_m(text: &str, bare: HeightUnit) -> Option<f64> {
    let text = text.trim();
    let end = text.find(|letter: char| !matches!(letter, '0'..='9' | '.' | '+' | '-')).unwrap_or(text.len());
    let number: f64 = text[..end].parse().ok()?;
    let foot_m = HeightUnit::Feet.metres();
    match text[end..].trim().to_lowercase().as_str() {
        "" => Some(number * bare.metres()),
        "m" | "metre" | "metres" | "meter" | "meters" => Some(number),
        "ft" | "ft." | "feet" | "foot" | "'" => Some(number * foot_m),
        feet_and_inches => {
            let inches = feet_and_inches.strip_prefix('\'')?.trim().strip_suffix('"')?.trim();
            let inches: f64 = inches.parse().ok().filter(|inches| (0.0..12.0).contains(inches))?;
            Some((number + inches / 12.0) * foot_m)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_read_as_people_write_them() {
        let metres = |text| length_m(text, HeightUnit::Metres);
        for (text, expected) in [
            ("35.3", 35.3),
            (" 12 m", 12.0),
            ("12m", 12.0),
            ("7 metres", 7.0),
            // 143 international feet, computed by hand: 143 × 0.3048.
            ("143 ft", 43.5864),
            ("143'", 43.5864),
            ("16'6\"", 5.0292),
        ] {
            let read = metres(text).unwrap_or_else(|| panic!("{text}"));
            assert!((read - expected).abs() < 1e-9, "{text}: {read}");
        }
        for text in ["", "m", "tall", "10-12", "~12", "12,5", "3 storeys", "16'13\"", "NaN", "inf", "1e3", "12 é", "'"]
        {
            assert_eq!(metres(text), None, "{text}");
        }
        assert!((length_m("458.49550018", HeightUnit::Feet).expect("a number") - 139.749_428_454_864).abs() < 1e-9);
        assert_eq!(length_m("12 m", HeightUnit::Feet), Some(12.0));
    }

    fn properties(text: &str) -> JsonObject {
        serde_json::from_str(text).expect("an object")
    }

    #[test]
    fn the_first_readable_height_counts_and_storeys_stand_in() {
        let height = |text: &str| height_of(&properties(text), HeightUnit::Metres);
        assert_eq!(height(r#"{"height": 443.2, "num_floors": 102}"#), (Height::Metres(443.2), None));
        assert_eq!(height(r#"{"HEIGHT": "12 m"}"#), (Height::Metres(12.0), None));
        assert_eq!(height(r#"{"height": null, "building:levels": "2.5"}"#), (Height::Storeys(2.5), None));
        assert_eq!(
            height(r#"{"height": "tall", "building_height": 7}"#),
            (Height::Metres(7.0), Some(r#"height: "tall""#.into()))
        );
        for text in [r#"{"height": 0}"#, r#"{"height": -3}"#, r#"{"height": 1e6}"#, r#"{"levels": {"a": 1}}"#] {
            let (read, unreadable) = height(text);
            assert_eq!(read, Height::Unknown, "{text}");
            assert!(unreadable.is_some(), "{text}");
        }
        assert_eq!(height("{}"), (Height::Unknown, None));
    }

    #[test]
    fn where_something_begins_is_read_like_a_height() {
        let base = |text: &str| base_of(&properties(text), HeightUnit::Metres);
        assert_eq!(base(r#"{"height": 30, "min_height": "12 m"}"#), (Height::Metres(12.0), None));
        assert_eq!(base(r#"{"building:min_level": "3"}"#), (Height::Storeys(3.0), None));
        assert_eq!(base(r#"{"min_height": "high", "min_floor": 2}"#).0, Height::Storeys(2.0));
        assert_eq!(base(r#"{"min_height": 1e6}"#), (Height::Unknown, Some("min_height: 1000000.0".into())));
        assert_eq!(base(r#"{"height": 30}"#), (Height::Unknown, None));
    }

    #[test]
    fn one_bad_feature_is_left_out_with_its_place() {
        let good = r#"{"type": "Feature", "properties": null, "geometry": {"type": "Polygon", "coordinates": [[[8, 50], [8.1, 50], [8, 50.1], [8, 50]]]}}"#;
        let bad = [
            good.replace("[8.1, 50]", "[8.1]"),
            good.replace("8.1", "\"x\""),
            good.replace("Polygon", "Pentagon"),
            "17".into(),
            "null".into(),
            good.replace("\"Feature\"", "\"Thing\""),
        ];
        for bad in &bad {
            let text = format!(r#"{{"type": "FeatureCollection", "features": [{good}, {bad}, {good}]}}"#);
            let read = read(&text, HeightUnit::Metres).unwrap_or_else(|error| panic!("{bad}: {error}"));
            assert_eq!(read.features.iter().map(|feature| feature.number).collect::<Vec<_>>(), [1, 3], "{bad}");
            assert!(matches!(&read.unreadable[..], [one] if one.starts_with("feature 2: ")), "{:?}", read.unreadable);
        }
        let all = format!(r#"{{"type": "FeatureCollection", "features": [{}]}}"#, bad.join(","));
        let error = read(&all, HeightUnit::Metres).expect_err("nothing is left").to_string();
        assert!(error.contains("feature 1: ") && error.contains("and 5 features more"), "{error}");
    }

    #[test]
    fn names_are_cleaned() {
        let name = |text: &str| name_of(&properties(text));
        assert_eq!(name(r#"{"name": "  North\n mill \u0007"}"#), Some("North mill".into()));
        assert_eq!(name(r#"{"Name": 17}"#), Some("17".into()));
        assert_eq!(name(r#"{"name": " ", "names": {"primary": "Tower"}}"#), Some("Tower".into()));
        assert_eq!(name(r#"{"name": ["x"]}"#), None);
        assert_eq!(
            name(&format!(r#"{{"name": "{}"}}"#, "é".repeat(500))).expect("a name").chars().count(),
            LONGEST_NAME
        );
    }

    #[test]
    fn what_is_no_geojson_is_told_by_its_place() {
        for text in [
            "{",
            "{}",
            r#"{"type": "FeatureCollection"}"#,
            r#"{"type": "Topology", "objects": {}}"#,
            "{\"type\": \"FeatureCollection\",\n \"features\": [{\"type\": \"Feature\", \"geometry\": {\"type\": \"Polygon\", \"coordinates\": [[[1]]]}, \"properties\": null}]}",
            r#"{"type": "Polygon", "coordinates": [[[1e999, 0]]]}"#,
            r#"{"type": "Polygon", "coordinates": [[["a", 0]]]}"#,
        ] {
            let error = read(text, HeightUnit::Metres).expect_err("refused");
            assert!(matches!(error, GeoJsonProblem::Malformed { .. }), "{text}: {error}");
            assert!(!error.to_string().contains("deserializing"), "{error}");
        }
        let deep = format!(r#"{{"type": "Polygon", "coordinates": {}"#, "[".repeat(100_000));
        assert!(matches!(read(&deep, HeightUnit::Metres), Err(GeoJsonProblem::Malformed { .. })));
    }

    #[test]
    fn other_geometries_are_counted() {
        let line = r#"{"type": "Feature", "properties": null, "geometry": {"type": "LineString", "coordinates": [[0, 0], [30, 1]]}}"#;
        let bare = r#"{"type": "Feature", "properties": null, "geometry": null}"#;
        let text = format!(r#"{{"type": "FeatureCollection", "features": [{line}, {bare}, {line}]}}"#);
        let error = read(&text, HeightUnit::Metres).expect_err("no footprints").to_string();
        assert!(error.contains("2 LineStrings, 1 without geometry"), "{error}");
        assert!(error.contains("3336 km by 111 km"), "{error}");
        let empty = read(r#"{"type": "FeatureCollection", "features": []}"#, HeightUnit::Metres).expect_err("empty");
        assert!(empty.to_string().contains("empty list"), "{empty}");
    }
}
