//! The light as JSON: times in RFC 3339 with the zone's offset, angles in degrees, lengths in metres.

use serde_json::{Map, Value, json};

use crate::light::{Crossings, FaceLight, Moment};

use super::asked::Asked;
use super::found::{AtMoment, Found, FromStance, OnDay};

/// What was found.
pub(super) fn of(asked: &Asked<'_>, found: &Found) -> Value {
    let mut all = Map::new();
    let mut put = |key: &str, value: Value| {
        all.insert(key.to_owned(), value);
    };
    let zone = asked.sky.zone();
    put("site", asked.survey.mark.name.clone().into());
    put("time_zone", zone.name().into());
    put("pressure_hpa", rounded(asked.sky.air().pressure_hpa));
    put("temperature_c", rounded(asked.sky.air().temperature_c));
    if let Some((stance, _)) = &asked.stance {
        put("stance", stance.name.clone().into());
    }
    if let Some(at) = &found.at {
        at_moment(asked, at, &mut put);
    }
    if let Some(on) = &found.on {
        on_day(asked, on, &mut put);
    }
    if let Some((face, year)) = &found.year {
        let letter = |light: &FaceLight| light.key().chars().next().unwrap_or_default();
        let days: Vec<Value> = year
            .days
            .iter()
            .map(|day| {
                let lights: String = day.lights.iter().map(letter).collect();
                json!({ "date": day.day.to_string(), "begins": time(asked, day.start), "lights": lights })
            })
            .collect();
        let letters: Map<String, Value> =
            FaceLight::ALL.iter().map(|light| (letter(light).to_string(), light.words().into())).collect();
        put(
            "year",
            json!({ "year": year.year, "face": face, "step_min": year.step_min, "letters": letters, "days": days }),
        );
    }
    if let Some(next) = &found.next {
        put("next", next.map_or(Value::Null, |span| spans(asked, &[span])[0].clone()));
    }
    Value::Object(all)
}

fn at_moment(asked: &Asked<'_>, at: &AtMoment, put: &mut impl FnMut(&str, Value)) {
    put("moment", time(asked, at.read.moment));
    put("note", at.read.note.clone().into());
    put("azimuth_deg", rounded(at.sun.azimuth.degrees()));
    put("altitude_deg", rounded(at.sun.altitude.degrees()));
    put("true_altitude_deg", rounded(at.sun.true_altitude.degrees()));
    put("semi_diameter_deg", rounded(at.sun.semi_diameter.degrees()));
    let faces = asked.faces.iter().zip(&at.faces);
    let incidence: Map<String, Value> =
        faces.clone().map(|(face, lighting)| (face.name.clone(), rounded(lighting.incidence.degrees()))).collect();
    put("incidence_deg", Value::Object(incidence));
    let lights = faces.map(|(face, lighting)| {
        json!({
            "name": face.name,
            "front": face.is_front,
            "incidence_deg": rounded(lighting.incidence.degrees()),
            "light": lighting.light.key(),
            "lit_share": rounded(lighting.lit_share),
        })
    });
    put("faces", lights.collect());
    let shadow = at.shadow.as_ref().map(|shadow| {
        let outlines: Vec<Vec<[Value; 2]>> = shadow
            .outlines
            .iter()
            .map(|outline| outline.iter().map(|&(x, y)| [rounded(x), rounded(y)]).collect())
            .collect();
        json!({
            "length_m": rounded(shadow.length_m),
            "towards_deg": rounded(shadow.towards.compass_degrees()),
            "outlines_m": outlines,
        })
    });
    put("shadow", shadow.into());
    if let Some(seen) = &at.stance {
        put("from_stance", from_stance(seen));
    }
    if let Some(edge) = &at.edge {
        let spots = edge.iter().map(|spot| {
            json!({
                "at_m": [rounded(spot.at.0), rounded(spot.at.1)],
                "left_m": rounded(spot.aside_m.0),
                "right_m": rounded(spot.aside_m.1),
            })
        });
        put("edge_standpoints", spots.collect());
    }
    if let Some(water) = &at.water {
        put("water_level_m", water.level_m.map(rounded).into());
        put("flooded_stances", water.flooded.clone().into());
    }
}

fn on_day(asked: &Asked<'_>, on: &OnDay, put: &mut impl FnMut(&str, Value)) {
    let first = |moments: &[Moment]| moments.first().map(|at| time(asked, *at));
    put("date", on.sun.day.to_string().into());
    put("clock_change", on.change.clone().into());
    put("rise", first(&on.sun.sun.rises).into());
    put("transit", first(&on.sun.transits).into());
    put("set", first(&on.sun.sun.sets).into());
    put("sun_never_sets", on.sun.sun.always_above().into());
    put("sun_never_rises", on.sun.sun.always_below().into());
    for (name, crossings) in ["civil", "nautical", "astronomical"].iter().zip(&on.sun.twilights) {
        let Crossings { rises, sets, .. } = crossings;
        put(&format!("{name}_dawn"), first(rises).into());
        put(&format!("{name}_dusk"), first(sets).into());
    }
    put("golden_hours", spans(asked, &on.golden).into());
    put("blue_hours", spans(asked, &on.blue).into());
    let faces = asked.faces.iter().zip(&on.faces).map(|(face, stretches)| {
        let lights: Vec<Value> = stretches
            .iter()
            .map(
                |span| json!({ "from": time(asked, span.from), "to": time(asked, span.to), "light": span.light.key() }),
            )
            .collect();
        json!({ "name": face.name, "front": face.is_front, "lights": lights })
    });
    put("faces_over_day", faces.collect());
    if asked.stance.is_some() {
        let contacts = on.contacts.iter().map(|contact| {
            json!({
                "at": time(asked, contact.at),
                "what": contact.kind.key(),
                "azimuth_deg": rounded(contact.sun.azimuth.degrees()),
                "altitude_deg": rounded(contact.sun.altitude.degrees()),
                "seen": contact.seen,
            })
        });
        put("sun_at_edge", contacts.collect());
        let hours = on.hours.iter().filter_map(|hour| {
            let mut seen = from_stance(hour.stance.as_ref()?);
            seen["at"] = time(asked, hour.at);
            Some(seen)
        });
        put("hours_from_stance", hours.collect());
    }
    if let Some(dry) = &on.dry {
        put("dry", spans(asked, dry).into());
    }
}

fn from_stance(seen: &FromStance) -> Value {
    json!({
        "off_axis_deg": rounded(seen.picture.off_axis.degrees()),
        "in_frame": seen.picture.in_frame,
        "near_frame": seen.picture.near_frame,
        "stray_light": seen.picture.flare.key(),
        "light_from": seen.side.map(|side| side.key()),
    })
}

fn spans(asked: &Asked<'_>, spans: &[(Moment, Moment)]) -> Vec<Value> {
    spans.iter().map(|&(from, to)| json!({ "from": time(asked, from), "to": time(asked, to) })).collect()
}

fn time(asked: &Asked<'_>, moment: Moment) -> Value {
    asked.sky.zone().rfc3339(moment).into()
}

/// A figure to the sixth decimal, finer than any of them is known.
fn rounded(value: f64) -> Value {
    ((value * 1e6).round() / 1e6 + 0.0).into()
}
