//! What is wrong with a place, a day or a moment that light is asked for?

use thiserror::Error;

/// Why there is no light to tell of.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum LightError {
    /// The site is nowhere.
    #[error(
        "site '{site}' has no anchor, so the sun stands nowhere above it; write \
         `anchor: (latitude_deg: …, longitude_deg: …, height_m: …)` into its file"
    )]
    NoAnchor {
        /// The site's name.
        site: String,
    },
    /// The zone data know no such zone.
    #[error(
        "time_zone '{zone}' is no time zone that is known; {meant}write its IANA name, area and place, such as \
         \"Europe/London\", or \"UTC\""
    )]
    UnknownZone {
        /// What was given.
        zone: String,
        /// What was probably meant, as a question, or nothing.
        meant: String,
    },
    /// A date or moment that the calendar has not.
    #[error("{0}")]
    NoDay(#[from] crate::place::CompassError),
    /// A text that is no moment.
    #[error(
        "'{given}' is no moment; write the site's own time as 2026-06-21T14:30, or a time with its offset as \
         2026-06-21T14:30:00+01:00 (RFC 3339)"
    )]
    NoMoment {
        /// What was given.
        given: String,
    },
    /// A year that is not computed.
    #[error(
        "{given} lies outside the years 1900 to 2100, for which the sun is computed here; choose a day within them"
    )]
    OutOfYears {
        /// What was given.
        given: String,
    },
    /// Air that no weather has.
    #[error("the {what} is {value}; it must lie from {lowest} to {highest}")]
    Air {
        /// Which figure, with its unit.
        what: &'static str,
        /// What was given.
        value: f64,
        /// The lowest allowed.
        lowest: f64,
        /// The highest allowed.
        highest: f64,
    },
}
