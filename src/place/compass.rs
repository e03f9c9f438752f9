//! Which way does a compass needle point there, and on that day?
//!
//! The World Magnetic Model gives the needle's direction as the Earth's core makes it; iron nearby, rocks and magnetic
//! storms turn it further, and the model's own uncertainty allows for what is usual of these.

use std::fmt;
use std::str::FromStr;
use std::time::Duration;

use serde::{Deserialize, Serialize};
use thiserror::Error;
use world_magnetic_model::GeomagneticField;
use world_magnetic_model::time::{Date, Month};
use world_magnetic_model::uom::si::angle::degree;
use world_magnetic_model::uom::si::f32::{Angle as MagneticAngle, Length};
use world_magnetic_model::uom::si::length::meter;

use crate::angle::Angle;

use super::Geographic;

/// A day of the Gregorian calendar.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Day {
    year: i32,
    month: u8,
    day: u8,
}

/// How far the needle points off true north.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Declination {
    /// How far to the east of true north; negative to the west.
    pub east: Angle,
    /// One standard deviation of it, by the model's published error model.
    pub uncertainty: Angle,
    /// The day that it holds for.
    pub day: Day,
    /// The year of the model's coefficients.
    pub model_year: i32,
    /// Whether the needle is weak there: near the magnetic poles a compass is not to be trusted.
    pub weak: bool,
}

/// Why no declination is known.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub enum CompassError {
    /// It is no day.
    #[error("'{given}' is no day; write it as year-month-day, such as 2026-06-21")]
    NoDay {
        /// What was given.
        given: String,
    },
    /// The model does not reach that day or place.
    #[error("the magnetic model does not reach {day} at this place ({why}); choose a day from 2020 to 2029")]
    OutOfReach {
        /// The day.
        day: Day,
        /// Why not.
        why: String,
    },
}

impl Day {
    /// A day by its numbers.
    ///
    /// # Errors
    /// The calendar has no such day.
    pub fn new(year: i32, month: u8, day: u8) -> Result<Self, CompassError> {
        let given = Self { year, month, day };
        given.date().map(|_| given).ok_or_else(|| CompassError::NoDay { given: given.to_string() })
    }

    /// The day so many days after 1 January 1970, as a computer's clock counts.
    pub fn of_unix_days(days: i64) -> Option<Self> {
        // 1 January 1970 is Julian day 2,440,588.
        let julian = i32::try_from(days.checked_add(2_440_588)?).ok()?;
        let (year, month, day) = Date::from_julian_day(julian).ok()?.to_calendar_date();
        Some(Self { year, month: month.into(), day })
    }

    /// The day so long after 1 January 1970 began, in universal time; `None` beyond the calendar.
    pub fn of_unix_time(since: Duration) -> Option<Self> {
        Self::of_unix_days(i64::try_from(since.as_secs() / 86_400).ok()?)
    }

    /// Its year, month from 1 and day of the month from 1.
    pub fn numbers(self) -> (i32, u8, u8) {
        (self.year, self.month, self.day)
    }

    /// How many days after 1 January 1970 it is.
    pub fn unix_days(self) -> i64 {
        self.date().map_or(0, |date| i64::from(date.to_julian_day()) - 2_440_588)
    }

    fn date(self) -> Option<Date> {
        Date::from_calendar_date(self.year, Month::try_from(self.month).ok()?, self.day).ok()
    }
}

impl From<Day> for String {
    fn from(day: Day) -> Self {
        day.to_string()
    }
}

impl TryFrom<String> for Day {
    type Error = CompassError;

    fn try_from(text: String) -> Result<Self, CompassError> {
        text.parse()
    }
}

impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

impl FromStr for Day {
    type Err = CompassError;

    fn from_str(text: &str) -> Result<Self, CompassError> {
        let refused = || CompassError::NoDay { given: text.into() };
        let parts: Vec<&str> = text.trim().split('-').collect();
        let [year, month, day] = parts[..] else { return Err(refused()) };
        let (year, month, day) = (year.parse(), month.parse(), day.parse());
        let (Ok(year), Ok(month), Ok(day)) = (year, month, day) else { return Err(refused()) };
        Self::new(year, month, day).map_err(|_| refused())
    }
}

/// How far the needle points off true north at a place and on a day.
///
/// # Errors
/// The model does not reach that day.
///
/// # Source
/// NOAA/NCEI and British Geological Survey, *The US/UK World Magnetic Model for 2025–2030*, with its error model.
pub fn declination(place: &Geographic, day: Day) -> Result<Declination, CompassError> {
    let out_of_reach = |why: String| CompassError::OutOfReach { day, why };
    let date = day.date().ok_or_else(|| out_of_reach("no such day".into()))?;
    let field = GeomagneticField::new(
        Length::new::<meter>(place.height_m() as f32),
        MagneticAngle::new::<degree>(place.latitude().degrees() as f32),
        MagneticAngle::new::<degree>(place.longitude().degrees() as f32),
        date,
    )
    .map_err(|error| out_of_reach(error.to_string()))?;
    let model_year = day.year - day.year.rem_euclid(5);
    Ok(Declination {
        east: Angle::from_degrees(f64::from(field.declination().get::<degree>())),
        uncertainty: Angle::from_degrees(f64::from(field.declination_uncertainty().get::<degree>())),
        day,
        model_year,
        weak: field.declination_warning().is_some(),
    })
}

impl Declination {
    /// What a compass shows in a true direction.
    pub fn magnetic(&self, bearing: Angle) -> Angle {
        bearing - self.east
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The model's twelve published test values.
    ///
    /// # Source
    /// NOAA/NCEI, `WMM2025_TEST_VALUES.txt`, as printed in *The US/UK World Magnetic Model for 2025–2030*, table of test
    /// values: year, height in km, latitude, longitude, declination to a hundredth of a degree.
    #[test]
    fn declination_agrees_with_the_published_test_values() {
        for (year, height_km, latitude_deg, longitude_deg, declination_deg) in [
            (2025.0, 0.0, 80.0, 0.0, 1.28),
            (2025.0, 0.0, 0.0, 120.0, -0.16),
            (2025.0, 0.0, -80.0, 240.0, 68.78),
            (2025.0, 100.0, 80.0, 0.0, 0.85),
            (2025.0, 100.0, 0.0, 120.0, -0.15),
            (2025.0, 100.0, -80.0, 240.0, 68.21),
            (2027.5, 0.0, 80.0, 0.0, 2.59),
            (2027.5, 0.0, 0.0, 120.0, -0.24),
            (2027.5, 0.0, -80.0, 240.0, 68.49),
            (2027.5, 100.0, 80.0, 0.0, 2.16),
            (2027.5, 100.0, 0.0, 120.0, -0.23),
            (2027.5, 100.0, -80.0, 240.0, 67.93),
        ] {
            let place = Geographic::from_degrees(latitude_deg, longitude_deg, 1000.0 * height_km).expect("a place");
            // The middle of 2027 is noon of 2 July; a day is a thousandth of a degree at most.
            let day = if year == 2025.0 { Day::new(2025, 1, 1) } else { Day::new(2027, 7, 2) }.expect("a day");
            let found = declination(&place, day).expect("in reach").east.degrees();
            assert!((found - declination_deg).abs() < 0.0075, "{year} {latitude_deg} {longitude_deg}: {found}");
        }
    }

    #[test]
    fn a_needle_that_points_west_of_north_shows_more_than_the_true_bearing() {
        let day = Day::new(2026, 6, 21).expect("a day");
        let found = Declination {
            east: Angle::from_degrees(-3.0),
            uncertainty: Angle::from_degrees(0.4),
            day,
            model_year: 2025,
            weak: false,
        };
        assert!((found.magnetic(Angle::from_degrees(10.0)).degrees() - 13.0).abs() < 1e-12);
    }

    #[test]
    fn days_are_read_and_what_is_none_is_refused() {
        let day: Day = "2028-02-29".parse().expect("a leap day");
        assert_eq!(day.to_string(), "2028-02-29");
        for bad in ["2027-02-29", "tomorrow", "2026-13-01", "2026-1", "", "2026-06-21-3", "99999999999-1-1"] {
            assert!(bad.parse::<Day>().is_err(), "{bad}");
        }
        assert_eq!(Day::of_unix_days(20_782), Some(Day::new(2026, 11, 25).expect("a day")));
        let place = Geographic::from_degrees(50.0, 0.0, 0.0).expect("a place");
        let error = declination(&place, Day::new(1990, 1, 1).expect("a day")).expect_err("too early");
        assert!(error.to_string().contains("1990-01-01"), "{error}");
    }
}
