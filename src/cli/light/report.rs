//! The light in words and tables.

use crate::light::{Crossings, FaceLight, LightSpan, LightYear, Moment, SunInPicture};
use crate::wording::{degrees, percent};

use super::super::show::{dash, page_width, prose_width};
use super::super::table::{TextTable, wrapped};
use super::asked::Asked;
use super::found::{AtHour, AtMoment, Found, OnDay};

/// Never in an optical finder.
const CAUTION: &str = "The sun is in or near the frame: never look at it through an optical finder.";
const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];
/// Standpoints at the edge that are listed.
const MOST_SPOTS: usize = 20;

/// What was found.
pub(super) fn words(asked: &Asked<'_>, found: &Found) -> String {
    let zone = asked.sky.zone();
    let mut parts = Vec::new();
    if !zone.is_given() {
        parts.push(prose(
            "The site names no time zone, so times are universal; write `time_zone: \"Area/Place\"` into its file.",
        ));
    }
    if let Some(at) = &found.at {
        parts.extend(at_moment(asked, at));
    }
    if let Some(on) = &found.on {
        parts.extend(on_day(asked, on));
    }
    if let Some((face, year)) = &found.year {
        parts.push(format!("{face} through {} ({})", year.year, zone.name()));
        parts.push(year_table(asked, year));
        parts.push(prose(
            "Hours a day on average: with the sun on it, of these in grazing light, and in shadow although turned to the \
             sun. Then when the sun is on it on the 15th.",
        ));
    }
    if let Some(Some((from, to))) = &found.next {
        parts.push(format!(
            "Next with such light: {} to {} ({})",
            date_and_minutes(asked, *from),
            date_and_minutes(asked, *to),
            zone.name()
        ));
    }
    parts.join("\n\n")
}

fn prose(text: &str) -> String {
    wrapped(text, prose_width()).join("\n")
}

fn date_and_minutes(asked: &Asked<'_>, moment: Moment) -> String {
    let zone = asked.sky.zone();
    format!("{} {}", zone.clock(moment.plus_s(30.0)).day, zone.minutes(moment))
}

fn at_moment(asked: &Asked<'_>, at: &AtMoment) -> Vec<String> {
    let zone = asked.sky.zone();
    let mut parts = vec![format!("{}, {} ({})", asked.survey.mark.name, zone.rfc3339(at.read.moment), zone.name())];
    parts.extend(at.read.note.as_deref().map(prose));
    let mut table = TextTable::new(&["", ""]).with_notes("");
    let mut row = |name: &str, figure: String, note: &str| table.noted([name.into(), figure], note.into());
    row("the sun's azimuth", format!("{:.4}°", at.sun.azimuth.degrees()), "from true north");
    row("its apparent altitude", format!("{:.4}°", at.sun.altitude.degrees()), "as the air shows it");
    row("its true altitude", format!("{:.4}°", at.sun.true_altitude.degrees()), "");
    if let Some(shadow) = &at.shadow {
        let towards = format!("towards {:.0}°, on level ground at the base", shadow.towards.compass_degrees());
        row("the subject's shadow", asked.units.length(shadow.length_m, 1), &towards);
    }
    if let Some(seen) = &at.stance {
        row("off the lens axis", degrees(seen.picture.off_axis.degrees()), seen.picture.flare.words());
        row("the light", seen.side.map_or("no sun", |side| side.words()).into(), "");
    }
    if let Some(water) = &at.water {
        let flooded = if water.flooded.is_empty() {
            "no saved stance is flooded".to_owned()
        } else {
            format!("flooded: {}", water.flooded.join(", "))
        };
        let level = water.level_m.map_or_else(dash, |level_m| asked.units.length(level_m, 2));
        let unknown = "the tide table does not reach this moment";
        row("the water", level, if water.level_m.is_some() { &flooded } else { unknown });
    }
    parts.push(table.fitted(page_width()));
    if at.stance.is_some_and(|seen| seen.picture.near_frame) {
        parts.push(prose(CAUTION));
    }
    if !asked.faces.is_empty() {
        let mut table = TextTable::new(&["Face", "incidence", "sun on it", "light"]);
        for (face, lighting) in asked.faces.iter().zip(&at.faces) {
            table.row([
                named(&face.name, face.is_front),
                degrees(lighting.incidence.degrees()),
                percent(lighting.lit_share),
                lighting.light.words().into(),
            ]);
        }
        parts.push(table.fitted(page_width()));
    }
    if let Some(edge) = &at.edge {
        if edge.is_empty() {
            parts.push("No open ground has the sun at the subject's edge then.".into());
        } else {
            let mut table = TextTable::new(&["Sun at the edge from", "to the left", "to the right"]);
            let every = edge.len().div_ceil(MOST_SPOTS);
            for spot in edge.iter().step_by(every) {
                table.row([
                    format!("{:.1}, {:.1}", spot.at.0, spot.at.1),
                    asked.units.length(spot.aside_m.0, 2),
                    asked.units.length(spot.aside_m.1, 2),
                ]);
            }
            parts.push(table.fitted(page_width()));
            parts.push(prose(&format!(
                "{} of {} standpoints, in metres east and north; beside each, how far one may step aside, facing the sun.",
                edge.len().div_ceil(every),
                edge.len()
            )));
            parts.push(prose(CAUTION));
        }
    }
    parts
}

fn named(name: &str, is_front: bool) -> String {
    if is_front { format!("{name} (front)") } else { name.to_owned() }
}

fn span_words(asked: &Asked<'_>, spans: &[(Moment, Moment)]) -> String {
    if spans.is_empty() {
        return dash();
    }
    let zone = asked.sky.zone();
    let word = |&(from, to): &(Moment, Moment)| format!("{}–{}", zone.minutes(from), zone.minutes(to));
    spans.iter().map(word).collect::<Vec<_>>().join(", ")
}

fn on_day(asked: &Asked<'_>, on: &OnDay) -> Vec<String> {
    let zone = asked.sky.zone();
    let mut parts = vec![format!("{}, {} ({})", asked.survey.mark.name, on.sun.day, zone.name())];
    parts.extend(on.change.as_deref().map(prose));
    let times = |moments: &[Moment]| {
        let times: Vec<String> = moments.iter().map(|at| zone.seconds(*at)).collect();
        if times.is_empty() { dash() } else { times.join(", ") }
    };
    let azimuth = |moments: &[Moment]| {
        moments.first().map_or_else(String::new, |at| format!("azimuth {:.1}°", asked.sky.sun(*at).azimuth.degrees()))
    };
    let mut table = TextTable::new(&["", ""]).with_notes("");
    for (name, crossings) in ["astronomical", "nautical", "civil"].iter().zip(on.sun.twilights.iter().rev()) {
        table.row([format!("{name} dawn"), times(&crossings.rises)]);
    }
    let Crossings { rises, sets, .. } = &on.sun.sun;
    let polar = if on.sun.sun.always_above() {
        "the sun does not set on this day"
    } else if on.sun.sun.always_below() {
        "the sun does not rise on this day"
    } else {
        ""
    };
    table.noted(["sunrise".into(), times(rises)], if polar.is_empty() { azimuth(rises) } else { polar.into() });
    let highest = on.sun.transits.first().map(|at| format!("altitude {:.1}°", asked.sky.sun(*at).altitude.degrees()));
    table.noted(["transit".into(), times(&on.sun.transits)], highest.unwrap_or_default());
    table.noted(["sunset".into(), times(sets)], azimuth(sets));
    for (name, crossings) in ["civil", "nautical", "astronomical"].iter().zip(&on.sun.twilights) {
        table.row([format!("{name} dusk"), times(&crossings.sets)]);
    }
    table.row(["golden hours".into(), span_words(asked, &on.golden)]);
    table.row(["blue hours".into(), span_words(asked, &on.blue)]);
    if let Some(dry) = &on.dry {
        table.row(["ground above water".into(), span_words(asked, dry)]);
    }
    parts.push(table.fitted(page_width()));
    if !asked.faces.is_empty() {
        let mut table = TextTable::new(&["Face", "sun on it", "of that grazing", "in shadow"]);
        for (face, spans) in asked.faces.iter().zip(&on.faces) {
            table.row([
                named(&face.name, face.is_front),
                span_words(asked, &spans_of(spans, FaceLight::has_sun)),
                span_words(asked, &spans_of(spans, |light| light == FaceLight::Grazing)),
                span_words(asked, &spans_of(spans, |light| light == FaceLight::Shaded)),
            ]);
        }
        parts.push(table.fitted(page_width()));
    }
    if !on.hours.is_empty() {
        parts.push(hours(asked, &on.hours));
    }
    if let Some((stance, _)) = &asked.stance {
        let near = |hour: &AtHour| hour.stance.is_some_and(|seen| SunInPicture { ..seen.picture }.near_frame);
        if on.contacts.is_empty() {
            parts.push(format!("From '{}' the sun does not come to the subject's outline.", stance.name));
        } else {
            let mut table = TextTable::new(&["Sun and outline", "at", "azimuth", "altitude"]).with_notes("");
            for contact in &on.contacts {
                let cells = [
                    contact.kind.words().to_owned(),
                    zone.seconds(contact.at),
                    degrees(contact.sun.azimuth.degrees()),
                    degrees(contact.sun.altitude.degrees()),
                ];
                table.noted(cells, if contact.seen { String::new() } else { "hidden by something else".into() });
            }
            parts.push(table.fitted(page_width()));
        }
        if !on.contacts.is_empty() || on.hours.iter().any(near) {
            parts.push(prose(CAUTION));
        }
    }
    parts
}

/// The stretches with some lights, those that follow on one another as one.
fn spans_of(spans: &[LightSpan], wanted: impl Fn(FaceLight) -> bool) -> Vec<(Moment, Moment)> {
    let mut joined: Vec<(Moment, Moment)> = Vec::new();
    for span in spans.iter().filter(|span| wanted(span.light)) {
        match joined.last_mut() {
            Some(last) if last.1 == span.from => last.1 = span.to,
            _ => joined.push((span.from, span.to)),
        }
    }
    joined
}

fn hours(asked: &Asked<'_>, hours: &[AtHour]) -> String {
    let front = asked.faces.first().map_or("", |face| face.name.as_str());
    let mut headings = vec!["Hour", "azimuth", "altitude"];
    if !front.is_empty() {
        headings.push(front);
    }
    if asked.stance.is_some() {
        headings.extend(["light from", "off axis"]);
    }
    let mut table = TextTable::new(&headings);
    for hour in hours {
        let mut cells = vec![
            asked.sky.zone().minutes(hour.at),
            degrees(hour.sun.azimuth.degrees()),
            degrees(hour.sun.altitude.degrees()),
        ];
        cells.extend(hour.front.map(|lighting| {
            let incidence = lighting.incidence.degrees();
            match lighting.light {
                FaceLight::Lit | FaceLight::Grazing => format!("{} {incidence:.0}°", lighting.light.key()),
                FaceLight::Shaded => "in shadow".into(),
                FaceLight::Away | FaceLight::Night => dash(),
            }
        }));
        if let Some(seen) = &hour.stance {
            cells.push(seen.side.map_or_else(dash, |side| side.key().into()));
            let mark = if seen.picture.in_frame { " in the frame" } else { "" };
            cells.push(format!("{:.0}°{mark}", seen.picture.off_axis.degrees()));
        }
        table.row(cells);
    }
    table.fitted(page_width())
}

fn year_table(asked: &Asked<'_>, year: &LightYear) -> String {
    let mut table = TextTable::new(&["Month", "sun on it", "grazing", "in shadow", "on the 15th"]);
    for (index, name) in MONTHS.iter().enumerate() {
        let month = index as u8 + 1;
        let days = year.month(month).count().max(1) as f64;
        let mean = |wanted: fn(FaceLight) -> bool| {
            let hours: f64 = year.month(month).map(|day| day.hours(year.step_min, wanted)).sum();
            format!("{:.1} h", hours / days)
        };
        let middle = year.month(month).find(|day| day.day.numbers().2 == 15);
        let spans = middle.map_or_else(Vec::new, |day| {
            let at = |step: usize| day.start.plus_s(60.0 * f64::from(year.step_min) * step as f64);
            let mut spans: Vec<(Moment, Moment)> = Vec::new();
            for (step, _) in day.lights.iter().enumerate().filter(|(_, light)| light.has_sun()) {
                match spans.last_mut() {
                    Some(last) if last.1 == at(step) => last.1 = at(step + 1),
                    _ => spans.push((at(step), at(step + 1))),
                }
            }
            spans
        });
        table.row([
            (*name).to_owned(),
            mean(FaceLight::has_sun),
            mean(|light| light == FaceLight::Grazing),
            mean(|light| light == FaceLight::Shaded),
            span_words(asked, &spans),
        ]);
    }
    table.fitted(page_width())
}
