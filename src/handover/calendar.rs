//! How does a day of stances come into a calendar? iCalendar, RFC 5545: an event for each stance.
//!
//! Times are universal, so that no zone needs to be described; lines are folded after 75 octets; texts are escaped.

use crate::day::{DayPlan, Visit};
use crate::light::Moment;
use crate::place::TangentPlane;
use crate::pose::WorldPoint;
use crate::text::without_direction_marks;

/// The longest line, in octets. Source: RFC 5545 §3.1.
const LINE: usize = 75;

/// A day as the text of an `.ics` file, made at a moment; the plane says where on the Earth the stances are.
pub fn calendar(plan: &DayPlan, plane: &TangentPlane, made: Moment) -> String {
    let mut text = String::new();
    let mut line = |name: &str, value: &str| fold(&mut text, &format!("{name}:{value}"));
    line("BEGIN", "VCALENDAR");
    line("VERSION", "2.0");
    line("PRODID", &format!("-//plumbsight//plumbsight {}//EN", env!("CARGO_PKG_VERSION")));
    line("CALSCALE", "GREGORIAN");
    for (number, visit) in plan.visits.iter().enumerate() {
        line("BEGIN", "VEVENT");
        // The same stance of the same file on the same day is the same event.
        line(
            "UID",
            &format!("{}-{}-{}@plumbsight", plan.sun.day, number + 1, plan.sha256.get(..16).unwrap_or_default()),
        );
        line("DTSTAMP", &made.basic_utc());
        line("DTSTART", &visit.arrives.basic_utc());
        line("DTEND", &visit.leaves.basic_utc());
        line("SUMMARY", &escaped(&format!("{}: {}", plan.site, visit.stance.name)));
        line("DESCRIPTION", &escaped(&description(visit)));
        let (x, y) = visit.stance.at;
        if let Some(place) = plane.geographic_from_world(&WorldPoint::new(x, y, 0.0)) {
            line("GEO", &format!("{:.6};{:.6}", place.latitude().degrees(), place.longitude().degrees()));
        }
        line("END", "VEVENT");
    }
    line("END", "VCALENDAR");
    text
}

/// What is to be known of a visit, one thing a line.
fn description(visit: &Visit) -> String {
    let mut lines = vec![format!("Lens: {}", visit.stance.lens)];
    if let Some((face, light)) = &visit.front {
        lines.push(format!("{face}: {}", light.words()));
    }
    lines.extend(visit.side.map(|side| format!("Light: {}", side.words())));
    if let Some(leg) = &visit.leg {
        let how = if leg.found { "on foot" } else { "straight; no way on foot was found" };
        lines.push(format!("Way there: {:.0} m {how}", leg.length_m));
    }
    if !visit.ask.is_empty() {
        lines.push(format!("Permission needed: {}", visit.ask.join(", ")));
    }
    if !visit.in_window {
        lines.push("Outside its light".into());
    }
    lines.extend(visit.stance.note.clone());
    lines.join("\n")
}

/// A text as RFC 5545 §3.3.11 writes it; what may not stand in it is left out.
fn escaped(text: &str) -> String {
    let mut escaped = String::new();
    for letter in without_direction_marks(text).chars() {
        match letter {
            '\\' | ';' | ',' => {
                escaped.push('\\');
                escaped.push(letter);
            }
            '\n' => escaped.push_str("\\n"),
            letter if letter.is_control() => {}
            letter => escaped.push(letter),
        }
    }
    escaped
}

/// Adds a line, folded between letters so that no piece has more than 75 octets.
fn fold(text: &mut String, line: &str) {
    let mut octets = 0;
    for letter in line.chars() {
        if octets + letter.len_utf8() > LINE {
            text.push_str("\r\n ");
            octets = 1;
        }
        text.push(letter);
        octets += letter.len_utf8();
    }
    text.push_str("\r\n");
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_lines_are_folded_between_letters() {
        let mut text = String::new();
        let line = format!("SUMMARY:{}", "é🗼a".repeat(40));
        fold(&mut text, &line);
        assert!(text.split("\r\n").all(|piece| piece.len() <= 75));
        assert_eq!(text.replace("\r\n ", "").trim_end(), line);
    }

    #[test]
    fn what_has_a_meaning_is_escaped() {
        assert_eq!(escaped("a;b,c\\d\ne\u{7}"), "a\\;b\\,c\\\\d\\ne");
    }
}
