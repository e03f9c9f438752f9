//! Which projection does the small `.prj` file beside a grid name?

use super::{Crs, PlaceError};

/// The reference system that a projection file names.
///
/// Read are: the old keyword form (`Projection UTM`, `Zone 56`, `Datum WGS84`, `Yshift 10000000`; or
/// `Projection GEOGRAPHIC`), well-known text with an EPSG `AUTHORITY` or `ID` of its own, well-known text whose name is
/// that of a UTM zone or of plain WGS 84, and `EPSG:32756` by itself.
///
/// # Errors
/// It names none, or one in units that are not read.
///
/// # Example
/// ```
/// use plumbsight::place::crs_of_prj;
/// let crs = crs_of_prj("Projection UTM\nZone 56\nDatum WGS84\nUnits METERS\nYshift 10000000\n")?;
/// assert_eq!(crs.code(), 32756);
/// # Ok::<(), plumbsight::place::PlaceError>(())
/// ```
pub fn crs_of_prj(text: &str) -> Result<Crs, PlaceError> {
    let text = text.trim_start_matches('\u{feff}').trim();
    if text.is_empty() {
        return Err(unclear("it is empty"));
    }
    if let Some(code) = text.get(..5).filter(|start| start.eq_ignore_ascii_case("EPSG:")).and_then(|_| text.get(5..)) {
        return from_code(code);
    }
    if text.contains(['[', '(']) { from_well_known_text(text) } else { from_keywords(text) }
}

fn unclear(why: impl Into<String>) -> PlaceError {
    PlaceError::UnclearPrj { why: why.into() }
}

fn from_code(code: &str) -> Result<Crs, PlaceError> {
    let code = code.trim();
    Crs::from_epsg(code.parse().map_err(|_| unclear(format!("'{}' is no EPSG code", shortened(code))))?)
}

/// The old keyword form: one keyword and its value a line.
fn from_keywords(text: &str) -> Result<Crs, PlaceError> {
    let value_of = |wanted: &str| {
        text.lines().find_map(|line| {
            let mut words = line.split_whitespace();
            words.next().filter(|key| key.eq_ignore_ascii_case(wanted))?;
            Some(words.next().unwrap_or("").to_ascii_uppercase())
        })
    };
    let projection = value_of("Projection").ok_or_else(|| unclear("it has no line 'Projection …'"))?;
    let datum = value_of("Datum").unwrap_or_default();
    let units = value_of("Units").unwrap_or_default();
    let plain_datum: String = datum.chars().filter(char::is_ascii_alphanumeric).collect();
    if let Some(heights) = value_of("Zunits").filter(|unit| !matches!(unit.as_str(), "NO" | "METERS" | "METRES")) {
        return Err(unclear(format!("its heights are in '{}'; turn them into metres first", shortened(&heights))));
    }
    match projection.as_str() {
        "UTM" => {
            if !matches!(units.as_str(), "" | "METERS" | "METRES") {
                return Err(unclear(format!("its UTM coordinates are in '{}', not in metres", shortened(&units))));
            }
            let zone = value_of("Zone").unwrap_or_default();
            let zone: i32 = zone.parse().map_err(|_| unclear(format!("its zone is '{}'", shortened(&zone))))?;
            let shift = |key: &str| match value_of(key) {
                None => Ok(0.0),
                Some(value) => value
                    .parse::<f64>()
                    .ok()
                    .filter(|shift| shift.is_finite())
                    .ok_or_else(|| unclear(format!("its {key} is '{}'", shortened(&value)))),
            };
            if ![0.0, 500_000.0].contains(&shift("Xshift")?) {
                return Err(unclear("its Xshift is neither 0 nor UTM's 500000"));
            }
            // The southern half of a zone is written as a shift of its northings, or as a negative zone.
            let south = match shift("Yshift")? {
                0.0 => zone < 0,
                10_000_000.0 => true,
                _ => return Err(unclear("its Yshift is neither 0 nor the 10000000 of a southern zone")),
            };
            utm(&plain_datum, zone.unsigned_abs(), south)
        }
        "GEOGRAPHIC" => {
            if !matches!(units.as_str(), "" | "DD" | "DEGREES") {
                return Err(unclear(format!("its coordinates are in '{}', not in degrees", shortened(&units))));
            }
            match plain_datum.as_str() {
                "WGS84" | "WGS1984" | "" => Crs::from_epsg(4326),
                "NAD83" | "NAR" => Crs::from_epsg(4269),
                _ => Err(unclear(format!("its datum is '{}'", shortened(&datum)))),
            }
        }
        other => Err(unclear(format!("its projection is '{}', and UTM and GEOGRAPHIC are read", shortened(other)))),
    }
}

/// The UTM zone on a datum.
fn utm(datum: &str, zone: u32, south: bool) -> Result<Crs, PlaceError> {
    let no_such_zone = || unclear(format!("there is no UTM zone {zone} of that half on '{}' here", shortened(datum)));
    let zone = u16::try_from(zone).ok().filter(|zone| (1..=60).contains(zone)).ok_or_else(no_such_zone)?;
    let code = match (datum, south) {
        ("WGS84" | "WGS1984", false) => 32600 + zone,
        ("WGS84" | "WGS1984", true) => 32700 + zone,
        ("NAD83" | "NAD1983", false) if zone <= 23 => 26900 + zone,
        ("ETRS89" | "ETRS1989", false) if (28..=38).contains(&zone) => 25800 + zone,
        ("GDA94" | "GDA1994", true) if (48..=58).contains(&zone) => 28300 + zone,
        ("GDA2020", true) if (48..=58).contains(&zone) => 7800 + zone,
        _ => return Err(no_such_zone()),
    };
    Crs::from_epsg(code)
}

fn from_well_known_text(text: &str) -> Result<Crs, PlaceError> {
    let (name, code) = name_and_code(text)?;
    if let Some(code) = code {
        return from_code(&code);
    }
    // The name says it where no code stands: "WGS_1984_UTM_Zone_56S", "GDA_1994_MGA_Zone_56", "WGS 84 / UTM zone 33N".
    let plain: String = name.chars().filter(char::is_ascii_alphanumeric).collect::<String>().to_ascii_uppercase();
    if ["WGS84", "GCSWGS1984", "WGS1984"].contains(&plain.as_str()) {
        return Crs::from_epsg(4326);
    }
    for mark in ["UTMZONE", "MGAZONE"] {
        let Some((datum, zone)) = plain.split_once(mark) else { continue };
        let digits: String = zone.chars().take_while(char::is_ascii_digit).collect();
        let south = match &zone[digits.len()..] {
            "S" => true,
            "N" => false,
            "" => mark == "MGAZONE",
            _ => continue,
        };
        if let Ok(zone) = digits.parse() {
            return utm(datum, zone, south);
        }
    }
    Err(unclear(format!("it calls its projection '{}' and gives no EPSG code", shortened(&name))))
}

/// The name of the outermost element of well-known text, and its own EPSG code if it has one: not that of a part of it,
/// such as its ellipsoid.
fn name_and_code(text: &str) -> Result<(String, Option<String>), PlaceError> {
    let (mut name, mut code) = (None, None);
    let mut depth = 0_usize;
    let mut word = String::new();
    // The words and quoted strings at depth 2 in an `AUTHORITY` or `ID`, once one is open.
    let mut authority: Option<Vec<String>> = None;
    let mut letters = text.chars();
    while let Some(letter) = letters.next() {
        match letter {
            '"' => {
                let quoted: String = letters.by_ref().take_while(|&letter| letter != '"').collect();
                match &mut authority {
                    Some(parts) if depth == 2 => parts.push(quoted),
                    _ if depth == 1 && name.is_none() => name = Some(quoted),
                    _ => {}
                }
            }
            '[' | '(' => {
                depth += 1;
                let opens_code = matches!(word.to_ascii_uppercase().as_str(), "AUTHORITY" | "ID");
                if depth == 2 && opens_code {
                    authority = Some(Vec::new());
                }
                word.clear();
            }
            ']' | ')' | ',' => {
                if depth == 2
                    && let Some(parts) = &mut authority
                    && !word.is_empty()
                {
                    parts.push(std::mem::take(&mut word));
                }
                word.clear();
                if letter != ',' {
                    if depth == 2
                        && let Some(parts) = authority.take()
                        && let [system, value, ..] = parts.as_slice()
                        && system.eq_ignore_ascii_case("EPSG")
                    {
                        code = Some(value.clone());
                    }
                    depth = depth.checked_sub(1).ok_or_else(|| unclear("its brackets do not match"))?;
                }
            }
            letter if letter.is_whitespace() => {}
            letter => word.push(letter),
        }
    }
    if depth != 0 {
        return Err(unclear("it breaks off inside a bracket"));
    }
    name.map(|name| (name, code)).ok_or_else(|| unclear("it has no name in quotation marks"))
}

/// A piece of a person's file as it is quoted in messages.
fn shortened(text: &str) -> String {
    const LONGEST: usize = 40;
    let clean: String = text.chars().map(|letter| if letter.is_control() { ' ' } else { letter }).collect();
    if clean.chars().count() <= LONGEST {
        return clean;
    }
    clean.chars().take(LONGEST).chain(['…']).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_form_names_its_projection() {
        let utm_33 = r#"PROJCS["WGS 84 / UTM zone 33N",GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,
            298.257223563,AUTHORITY["EPSG","7030"]],AUTHORITY["EPSG","6326"]],AUTHORITY["EPSG","4326"]],
            PROJECTION["Transverse_Mercator"],UNIT["metre",1,AUTHORITY["EPSG","9001"]],AUTHORITY["EPSG","32633"]]"#;
        let without = r#"PROJCS["ETRS_1989_UTM_Zone_32N",GEOGCS["GCS_ETRS_1989",DATUM["D_ETRS_1989",
            SPHEROID["GRS_1980",6378137.0,298.257222101]]],PROJECTION["Transverse_Mercator"],UNIT["Meter",1.0]]"#;
        for (text, code) in [
            (
                "Projection    UTM\r\nZone          56\r\nDatum         WGS84\r\nZunits        NO\r\nUnits         METERS\r\n\
              Spheroid      WGS84\r\nXshift        500000\r\nYshift        10000000\r\nParameters\r\n",
                32756,
            ),
            ("projection utm\nzone 18\ndatum NAD83\nunits meters", 26918),
            ("Projection UTM\nZone -19\nDatum WGS_84\nXshift 0.0\nYshift 0.0", 32719),
            ("Projection GEOGRAPHIC\nDatum WGS84\nUnits DD\nParameters", 4326),
            (" EPSG:28992 \n", 28992),
            (utm_33, 32633),
            (without, 25832),
            (r#"PROJCS["GDA_1994_MGA_Zone_56",GEOGCS["GCS_GDA_1994"]]"#, 28356),
            (r#"GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]]]"#, 4326),
            (r#"PROJCRS["anything (at all]",CONVERSION["x",ID["EPSG",16000]],ID["EPSG",25833]]"#, 25833),
        ] {
            assert_eq!(crs_of_prj(text).map(|crs| crs.code()), Ok(code), "{text}");
        }
    }

    #[test]
    fn what_is_unclear_is_refused_with_the_mend() {
        for text in [
            "",
            "Projection UTM",
            "Projection UTM\nZone 61\nDatum WGS84",
            "Projection UTM\nZone 56\nDatum WGS84\nYshift 12",
            "Projection UTM\nZone 56\nDatum WGS84\nYshift nan",
            "Projection UTM\nZone 56\nDatum WGS84\nUnits FEET",
            "Projection UTM\nZone 56\nDatum WGS84\nZunits FEET",
            "Projection LAMBERT\nDatum NAD83",
            "EPSG:",
            "EPSG:99999999",
            "EPSG:é",
            "éé",
            r#"PROJCS["Some_State_Plane",GEOGCS["GCS"]]"#,
            r#"PROJCS["WGS_1984_UTM_Zone_99N"]"#,
            r#"PROJCS["WGS_1984_UTM_Zone_5"#,
            "]]]",
            "[[[[",
            "PROJCS[AUTHORITY[",
        ] {
            let error = crs_of_prj(text).expect_err("refused").to_string();
            assert!(error.contains("EPSG code"), "{text}: {error}");
        }
    }
}
