//! How is a finding put into words? Convergence, angles and shares, written the same on screen, in tables, drawings and files.

/// A share that differs from everything by less than this is everything: what is left is the rounding of its computation.
const ROUNDING: f64 = 5e-4;

/// An angle in degrees with one decimal; nought has no sign.
///
/// # Example
/// ```
/// use plumbsight::wording::degrees;
/// assert_eq!(degrees(2.94), "2.9°");
/// assert_eq!(degrees(-0.04), "0.0°");
/// ```
pub fn degrees(degrees: f64) -> String {
    format!("{:.1}°", tenth(degrees))
}

/// A sentence's first letter made large.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

fn tenth(degrees: f64) -> f64 {
    (degrees * 10.0).round() / 10.0 + 0.0
}

/// The verb for what a subject's verticals do toward its top: they converge above 0°, and diverge below.
///
/// What is written as 0.0° converges by that much.
pub fn converges(degrees: f64) -> &'static str {
    if tenth(degrees) < 0.0 { "diverges" } else { "converges" }
}

/// What a subject does toward its top, with by how many degrees.
///
/// # Example
/// ```
/// use plumbsight::wording::convergence;
/// assert_eq!(convergence(2.94), "converges by 2.9°");
/// assert_eq!(convergence(-1.2), "diverges by 1.2°");
/// assert_eq!(convergence(-0.04), "converges by 0.0°");
/// ```
pub fn convergence(degrees: f64) -> String {
    format!("{} by {}", converges(degrees), self::degrees(degrees.abs()))
}

/// Whether a share from 0 to 1 is all there is.
pub fn is_all(share: f64) -> bool {
    share >= 1.0 - ROUNDING
}

/// A share in whole per cent; what falls short of everything is never written as 100 %.
///
/// # Example
/// ```
/// use plumbsight::wording::percent;
/// assert_eq!(percent(0.954), "95 %");
/// assert_eq!(percent(0.998), "99 %");
/// assert_eq!(percent(1.0), "100 %");
/// ```
pub fn percent(share: f64) -> String {
    let rounded = (100.0 * share).round() + 0.0;
    let whole = if rounded == 100.0 && !is_all(share) { 99.0 } else { rounded };
    format!("{whole:.0} %")
}

/// So many of a number, in whole per cent; all but one of a million is not 100 %, and of none there is no share.
///
/// # Example
/// ```
/// use plumbsight::wording::percent_of;
/// assert_eq!(percent_of(1, 3), "33 %");
/// assert_eq!(percent_of(999_999, 1_000_000), "99 %");
/// assert_eq!(percent_of(0, 0), "–");
/// ```
pub fn percent_of(part: u64, whole: u64) -> String {
    if whole == 0 {
        return "–".into();
    }
    let share = part as f64 / whole as f64;
    if part < whole { percent(share.min(1.0 - 2.0 * ROUNDING)) } else { percent(share) }
}

/// A count in groups of three digits.
///
/// # Example
/// ```
/// use plumbsight::wording::grouped;
/// assert_eq!(grouped(999), "999");
/// assert_eq!(grouped(1_234_567), "1\u{2009}234\u{2009}567");
/// ```
pub fn grouped(count: u64) -> String {
    let digits = count.to_string();
    let mut text = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            text.push('\u{2009}');
        }
        text.push(digit);
    }
    text
}

/// A sentence's words where they do not begin it.
pub fn uncapital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_everything_is_written_as_all_of_it() {
        for (share, written, all) in [
            (0.0, "0 %", false),
            (0.994, "99 %", false),
            (0.995, "99 %", false),
            (511.0 / 512.0, "99 %", false),
            (1.0 - 1e-9, "100 %", true),
            // A frame may be filled beyond its margins.
            (1.2, "120 %", true),
        ] {
            assert_eq!((percent(share).as_str(), is_all(share)), (written, all), "{share}");
        }
    }

    #[test]
    fn the_verb_goes_by_what_is_written() {
        assert_eq!([0.06, 0.04, -0.04, -0.06].map(converges), ["converges", "converges", "converges", "diverges"]);
    }
}
