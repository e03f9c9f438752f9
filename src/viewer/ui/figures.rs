//! How is a figure written on the screen, and how is one read that a person has typed?

use crate::angle::Angle;
use crate::units::Units;

/// An angle with one decimal, never "-0.0°".
pub(super) fn degrees(angle: Angle) -> String {
    tenths(angle.degrees())
}

/// Degrees with one decimal, never "-0.0°".
pub(super) fn tenths(degrees: f64) -> String {
    format!("{:.1}°", (degrees * 10.0).round() / 10.0 + 0.0)
}

/// An angle that there may be none of.
pub(super) fn degrees_or_dash(angle: Option<Angle>) -> String {
    angle.map_or_else(|| "–".into(), degrees)
}

/// A heading from 0.0° to 359.9°.
pub(super) fn heading(angle: Angle) -> String {
    format!("{:.1}°", ((angle.compass_degrees() * 10.0).round() / 10.0).rem_euclid(360.0))
}

/// A focal length: whole millimetres where it is whole.
pub(super) fn millimetres(length_mm: f64) -> String {
    format!("{} mm", short(length_mm))
}

/// An f-number as it is engraved.
pub(super) fn f_number(value: f64) -> String {
    format!("f/{}", short(value))
}

/// One decimal at most.
pub(super) fn short(value: f64) -> String {
    let rounded = (value * 10.0).round() / 10.0 + 0.0;
    if rounded.fract() == 0.0 { format!("{rounded:.0}") } else { format!("{rounded:.1}") }
}

/// The first number in what a person typed: "24 mm", "f/8", "1,6 m", "−3°".
///
/// A minus sign may be a hyphen or a true minus, a decimal comma is taken as a point.
pub(super) fn number_in(text: &str) -> Option<f64> {
    let plain: String = text
        .chars()
        .map(|c| match c {
            ',' => '.',
            '−' | '–' => '-',
            other => other,
        })
        .collect();
    let start = plain.find(|c: char| c.is_ascii_digit() || c == '-' || c == '.')?;
    let rest = &plain[start..];
    let end = rest
        .char_indices()
        .find(|&(index, c)| !(c.is_ascii_digit() || c == '.' || (c == '-' && index == 0)))
        .map_or(rest.len(), |(index, _)| index);
    rest[..end].trim_end_matches('.').parse().ok().filter(|value: &f64| value.is_finite())
}

/// A length in metres from what a person typed; a plain number is in the unit shown, "ft", "'" and "m" overrule it.
pub(super) fn length_in(text: &str, units: Units) -> Option<f64> {
    let lower = text.to_lowercase();
    let value = number_in(text)?;
    if lower.contains('\'') || lower.contains('′') || lower.contains("ft") || lower.contains("feet") {
        let after = lower.split_once(['\'', '′']).map_or("", |(_, after)| after);
        let inches = number_in(after).filter(|inches| (0.0..12.0).contains(inches)).unwrap_or(0.0);
        return Some(Units::Ft.to_metres(value + inches / 12.0));
    }
    let metric = lower.contains('m');
    Some(if metric { value } else { units.to_metres(value) })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn typed_numbers_are_read_as_people_write_them() {
        for (text, value) in
            [("24", 24.0), ("24 mm", 24.0), ("f/8", 8.0), ("1,6 m", 1.6), ("−3°", -3.0), ("-0.5", -0.5), ("3.", 3.0)]
        {
            assert_eq!(number_in(text), Some(value), "{text}");
        }
        assert_eq!(number_in("far"), None);
        assert_eq!(number_in(""), None);
        assert_eq!(number_in("-"), None);
    }

    #[test]
    fn lengths_follow_the_unit_shown_unless_told() {
        let metres = |text: &str, units| length_in(text, units).expect("a length");
        for (text, units, length_m) in [
            ("1.6", Units::M, 1.6),
            ("5", Units::Ft, 1.524),
            ("1.6 m", Units::Ft, 1.6),
            ("5 ft", Units::M, 1.524),
            // Five feet and six inches.
            ("5'6", Units::Ft, 1.6764),
        ] {
            assert!((metres(text, units) - length_m).abs() < 1e-12, "{text}");
        }
    }

    #[test]
    fn nothing_is_written_with_a_minus_nought() {
        assert_eq!(tenths(-0.04), "0.0°");
        assert_eq!(short(-0.01), "0");
        assert_eq!(heading(Angle::from_degrees(-0.01)), "0.0°");
    }
}
