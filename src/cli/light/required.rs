//! What light is asked for, in words with commas between?

use crate::angle::Angle;
use crate::light::LightRequirement;

const WEEKDAYS: [&str; 7] = ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"];

const FORMS: &str = "write some of: lit, grazing, incidence 60-80, altitude 5-20, edge, deep sky, after 8:00, before 12:00, \
                     sunday; with commas between";

/// What is asked for.
pub(super) fn required(text: &str) -> Result<LightRequirement, String> {
    let mut asked = LightRequirement::default();
    for part in text.split(',').map(str::trim) {
        let lower = part.to_lowercase();
        let (word, rest) = lower.split_once(' ').unwrap_or((&lower, ""));
        let refused = || format!("'{part}' is no light that can be asked for; {FORMS}");
        match (word, rest.trim()) {
            ("lit", "") => asked.lit = true,
            ("grazing", "") => asked.incidence = Some(degrees(60.0, 80.0)),
            ("incidence", range) => asked.incidence = Some(angles(range, (0.0, 90.0)).ok_or_else(refused)?),
            ("altitude", range) => asked.altitude = Some(angles(range, (-90.0, 90.0)).ok_or_else(refused)?),
            ("edge", "") => asked.at_edge = true,
            ("deep", "sky") => asked.deep_sky = true,
            ("after", time) => asked.from_minute = Some(minute(time).ok_or_else(refused)?),
            ("before", time) => asked.before_minute = Some(minute(time).ok_or_else(refused)?),
            (day, "") => {
                let day = WEEKDAYS.iter().position(|known| *known == day).ok_or_else(refused)?;
                asked.weekdays[day] = true;
            }
            (_, _) => return Err(refused()),
        }
    }
    Ok(asked)
}

fn degrees(low: f64, high: f64) -> (Angle, Angle) {
    (Angle::from_degrees(low), Angle::from_degrees(high))
}

/// Two angles with a hyphen between; the first may be negative.
fn angles(text: &str, (least, most): (f64, f64)) -> Option<(Angle, Angle)> {
    let hyphen = text.get(1..)?.find('-')? + 1;
    let (low, high) = (text[..hyphen].trim().parse().ok()?, text[hyphen + 1..].trim().parse().ok()?);
    (least <= low && low < high && high <= most).then(|| degrees(low, high))
}

/// A time of the clock as minutes of the day; 24:00 ends it.
pub(in crate::cli) fn minute(text: &str) -> Option<u16> {
    let (hour, minute) = text.split_once(':')?;
    let (hour, minute): (u16, u16) = (hour.parse().ok()?, minute.parse().ok()?);
    (minute < 60 && 60 * hour + minute <= 1440).then_some(60 * hour + minute)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_asked_for_is_read_and_what_is_none_is_refused() {
        let read = required("grazing, before 12:00, Sunday, altitude -2-20").expect("a light");
        assert_eq!(read.before_minute, Some(720));
        assert!(read.weekdays[6] && !read.weekdays[0] && !read.lit);
        let (low, high) = read.altitude.expect("altitudes");
        assert!((low.degrees() + 2.0).abs() < 1e-9 && (high.degrees() - 20.0).abs() < 1e-9);
        for bad in
            ["", "bright", "incidence 80-60", "incidence 60", "before noon", "after 25:00", "deep", "altitude é-3"]
        {
            assert!(required(bad).expect_err(bad).contains("is no light that can be asked for"), "{bad}");
        }
    }
}
