//! When in the year is a face lit: day across, hour up?

use crate::place::Day;

use super::error::LightError;
use super::faces::{FaceLight, LitFace, Shade};
use super::moment::Moment;
use super::sky::Sky;

/// The light on a face through a year, by the zone's own days and hours.
#[derive(Clone, Debug, PartialEq)]
pub struct LightYear {
    /// The year.
    pub year: i32,
    /// Minutes from one look to the next.
    pub step_min: u32,
    /// Its days, in order.
    pub days: Vec<LightYearDay>,
}

/// One day of a year.
#[derive(Clone, Debug, PartialEq)]
pub struct LightYearDay {
    /// Which day.
    pub day: Day,
    /// Its first moment.
    pub start: Moment,
    /// The light at its beginning and every step after it; a day on which the clocks change has more or fewer.
    pub lights: Vec<FaceLight>,
}

impl LightYearDay {
    /// The hours with one of these lights.
    pub fn hours(&self, step_min: u32, wanted: impl Fn(FaceLight) -> bool) -> f64 {
        let count = self.lights.iter().filter(|light| wanted(**light)).count();
        count as f64 * f64::from(step_min) / 60.0
    }
}

impl LightYear {
    /// Looks at a face every `step_min` minutes of a year.
    ///
    /// # Errors
    /// The year is not one that is computed.
    pub fn of(sky: &Sky, face: &LitFace, shade: &Shade<'_>, year: i32, step_min: u32) -> Result<Self, LightError> {
        let step_min = step_min.clamp(1, 120);
        let mut days = Vec::with_capacity(366);
        for month in 1..=12 {
            for number in 1..=31 {
                let Ok(day) = Day::new(year, month, number) else { break };
                let (start, end) = sky.zone().bounds(day)?;
                let steps = (end.seconds_since(start) / (60.0 * f64::from(step_min))).ceil() as u32;
                let lights = (0..steps)
                    .map(|step| {
                        let moment = start.plus_s(60.0 * f64::from(step * step_min));
                        face.lighting(&sky.sun(moment), shade).light
                    })
                    .collect();
                days.push(LightYearDay { day, start, lights });
            }
        }
        Ok(Self { year, step_min, days })
    }

    /// The days of a month, from 1 to 12.
    pub fn month(&self, month: u8) -> impl Iterator<Item = &LightYearDay> {
        self.days.iter().filter(move |day| day.day.numbers().1 == month)
    }
}
