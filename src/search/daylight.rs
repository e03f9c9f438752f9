//! What light has the face that a picture from a place is of?
//!
//! The face is the one that [`wall_towards`] gives for the place, so each wall of the subject is asked once, when the first place
//! looks at it: between the given hours of each day, or from one moment on, cast shadows included.

use std::sync::OnceLock;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::light::{LightError, LightLimits, Moment, Shade, Sky, face_of, stretches_of, wall_towards};
use crate::outline::{FrontFace, Subject};
use crate::place::Day;
use crate::pose::WorldPoint;
use crate::sight::Sight;
use crate::site::Model;

/// Of a longer time so many days are looked at, evenly spread, the first and the last among them.
pub const MOST_LIGHT_DAYS: i64 = 31;
/// How often it is looked; a change is then found to the second.
const LOOK_S: f64 = 300.0;
const DAY_S: f64 = 86_400.0;
/// The last minute of a day's clock.
pub const DAY_MINUTES: u16 = 1440;

/// The light that the face of the picture is asked for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LightCriterion {
    /// When one photographs.
    pub when: LightWhen,
    /// Whether only grazing light counts.
    #[serde(default)]
    pub grazing: bool,
    /// For so many minutes at least the sun must be on the face; with 0 the light is only measured, to rank places and for the map.
    pub least_minutes: f64,
}

/// When one photographs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum LightWhen {
    /// From this moment on, as [`crate::light::Zone::read`] takes it: light counts until it goes.
    From(String),
    /// Between these minutes of the clock on each of the days: light counts as on the day that has least of it.
    Days {
        /// The first day.
        first: Day,
        /// The last day.
        last: Day,
        /// From this minute of the day on.
        from_minute: u16,
        /// Until this minute of the day.
        to_minute: u16,
    },
}

/// Why light cannot be asked for.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum LightCriterionError {
    /// The sky over the site is not known, or there is no such moment.
    #[error(transparent)]
    Light(#[from] LightError),
    /// The last day lies before the first.
    #[error("the days run from {first} to {last}; the last must not lie before the first")]
    Days {
        /// The first.
        first: Day,
        /// The last.
        last: Day,
    },
    /// The hours end before they begin.
    #[error("the hours run from {} to {}; they must end after they begin, at 24:00 at the latest", hour(*.from_minute), hour(*.to_minute))]
    Hours {
        /// The beginning, in minutes of the day.
        from_minute: u16,
        /// The end.
        to_minute: u16,
    },
    /// More minutes than a day has, or fewer than none.
    #[error("{0} minutes of light are asked for; a day has from 0 to 1440")]
    Minutes(f64),
}

/// A minute of the day as the clock shows it.
fn hour(minute: u16) -> String {
    format!("{:02}:{:02}", minute / 60, minute % 60)
}

impl LightCriterion {
    /// When, in words: "from 2026-06-21T09:30 on", "between 08:00 and 11:00 on each day from 2026-06-01 to 2026-06-30".
    pub fn when_words(&self) -> String {
        match &self.when {
            LightWhen::From(moment) => format!("from {moment} on"),
            LightWhen::Days { first, last, from_minute, to_minute } => {
                let days =
                    if first == last { format!("on {first}") } else { format!("on each day from {first} to {last}") };
                format!("between {} and {} {days}", hour(*from_minute), hour(*to_minute))
            }
        }
    }

    /// What is asked for, in words.
    pub fn words(&self) -> String {
        let light = if self.grazing { "grazing sun" } else { "sun" };
        format!("{light} on the face for at least {:.0} min {}", self.least_minutes, self.when_words())
    }

    /// Refuses what cannot be asked for, whatever the site.
    ///
    /// # Errors
    /// Days or hours that run backwards, minutes that no day has.
    pub fn check(&self) -> Result<(), LightCriterionError> {
        if !(0.0..=f64::from(DAY_MINUTES)).contains(&self.least_minutes) {
            return Err(LightCriterionError::Minutes(self.least_minutes));
        }
        match self.when {
            LightWhen::Days { first, last, .. } if last < first => Err(LightCriterionError::Days { first, last }),
            LightWhen::Days { from_minute, to_minute, .. } if to_minute <= from_minute || to_minute > DAY_MINUTES => {
                Err(LightCriterionError::Hours { from_minute, to_minute })
            }
            LightWhen::Days { .. } | LightWhen::From(_) => Ok(()),
        }
    }

    /// The stretches of time in which light counts, by the clocks under a sky.
    ///
    /// # Errors
    /// The moment is none, or a day lies outside the years that are computed.
    pub fn windows(&self, sky: &Sky) -> Result<Vec<(Moment, Moment)>, LightCriterionError> {
        match &self.when {
            LightWhen::From(text) => {
                let from = sky.zone().read(text)?.moment;
                Ok(vec![(from, from.plus_s(DAY_S))])
            }
            LightWhen::Days { first, last, from_minute, to_minute } => {
                let (first, days) = (first.unix_days(), last.unix_days() - first.unix_days());
                let looked = (days + 1).min(MOST_LIGHT_DAYS);
                let window = |index: i64| {
                    let offset = if looked < 2 { 0 } else { (index * days + (looked - 1) / 2) / (looked - 1) };
                    let day = Day::of_unix_days(first + offset)
                        .ok_or_else(|| LightError::OutOfYears { given: format!("{} days on", first + offset) })?;
                    let (_, next) = sky.zone().bounds(day)?;
                    let at = |minute: u16| match minute {
                        DAY_MINUTES => Ok(next),
                        _ => Ok::<_, LightError>(sky.zone().at(day, (minute / 60) as u8, (minute % 60) as u8)?.moment),
                    };
                    Ok((at(*from_minute)?, at(*to_minute)?))
                };
                (0..looked).map(window).collect()
            }
        }
    }
}

/// The light that each wall of the subject has, asked for as places want it.
#[derive(Debug)]
pub(super) struct DaylightTable {
    sky: Sky,
    windows: Vec<(Moment, Moment)>,
    criterion: LightCriterion,
    limits: LightLimits,
    /// Each wall that a picture may be of, with its minutes once they are known.
    known: Vec<(FrontFace, OnceLock<f64>)>,
}

impl DaylightTable {
    /// Gets ready for the walls of a subject.
    ///
    /// # Errors
    /// What the criterion asks for cannot be on this site.
    pub(super) fn new(
        model: &Model,
        subject: &Subject,
        criterion: &LightCriterion,
    ) -> Result<Self, LightCriterionError> {
        criterion.check()?;
        let sky = Sky::over(&model.site)?;
        let windows = criterion.windows(&sky)?;
        let mut known: Vec<(FrontFace, OnceLock<f64>)> = Vec::new();
        let named = subject.named_front.map(|wall| FrontFace { wall, named: true });
        let walls = subject.walls.iter().map(|&wall| FrontFace { wall, named: false });
        let around = [(0.0, 1.0), (1.0, 0.0), (0.0, -1.0), (-1.0, 0.0)].map(|(east, north)| {
            let eye = WorldPoint::new(subject.middle.x + 1e6 * east, subject.middle.y + 1e6 * north, subject.middle.z);
            wall_towards(subject, &eye)
        });
        for face in named.into_iter().chain(walls).chain(around.into_iter().flatten()) {
            if !known.iter().any(|(other, _)| is_same(other, &face)) {
                known.push((face, OnceLock::new()));
            }
        }
        Ok(Self { sky, windows, criterion: criterion.clone(), limits: LightLimits::default(), known })
    }

    /// How many minutes of light the face has that a picture from an eye is of; NaN where there is no face.
    pub(super) fn minutes(&self, model: &Model, subject: &Subject, sight: &Sight, eye: &WorldPoint) -> f64 {
        let Some(face) = wall_towards(subject, eye) else { return f64::NAN };
        match self.known.iter().find(|(known, _)| is_same(known, &face)) {
            Some((_, minutes)) => *minutes.get_or_init(|| self.minutes_of(model, subject, sight, &face)),
            None => self.minutes_of(model, subject, sight, &face),
        }
    }

    fn minutes_of(&self, model: &Model, subject: &Subject, sight: &Sight, face: &FrontFace) -> f64 {
        let lit = face_of(model, subject, &face.wall, face.named);
        let shade = Shade { sight, limits: self.limits };
        let is_wanted = |light: crate::light::FaceLight| {
            if self.criterion.grazing { light == crate::light::FaceLight::Grazing } else { light.has_sun() }
        };
        let minutes = |&(from, to): &(Moment, Moment)| {
            let stretches = stretches_of(&lit.spans(&self.sky, &shade, (from, to), LOOK_S), is_wanted);
            let seconds: f64 = match self.criterion.when {
                // Until the light goes: what comes back later is another light.
                LightWhen::From(_) => {
                    stretches.first().filter(|first| first.0 == from).map_or(0.0, |first| first.1.seconds_since(from))
                }
                LightWhen::Days { .. } => stretches.iter().map(|stretch| stretch.1.seconds_since(stretch.0)).sum(),
            };
            seconds / 60.0
        };
        self.windows.iter().map(minutes).fold(f64::INFINITY, f64::min)
    }
}

fn is_same(one: &FrontFace, other: &FrontFace) -> bool {
    one.named == other.named && one.wall.block == other.wall.block && one.wall.normal == other.wall.normal
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::site::parse_site;

    fn asked(when: LightWhen) -> LightCriterion {
        LightCriterion { when, grazing: false, least_minutes: 60.0 }
    }

    fn day(text: &str) -> Day {
        text.parse().expect("a day")
    }

    #[test]
    fn a_month_is_looked_at_day_by_day_and_a_year_at_both_ends() {
        let text = "Site(format: 1, name: \"a\", anchor: Some((latitude_deg: 51.5, longitude_deg: 0)), time_zone: \"Europe/London\", \
                    blocks: [(name: \"hall\", subject: true, at: (0, 0), shape: Box(width_m: 10, depth_m: 6, height_m: 9))])";
        let sky = Sky::over(&parse_site(text, "a.site.ron").expect("a site")).expect("a sky");
        let days = |first: &str, last: &str| {
            let when = LightWhen::Days { first: day(first), last: day(last), from_minute: 480, to_minute: DAY_MINUTES };
            let windows = asked(when).windows(&sky).expect("windows");
            windows.iter().map(|(from, to)| (sky.zone().rfc3339(*from), to.seconds_since(*from))).collect::<Vec<_>>()
        };
        let june = days("2026-06-01", "2026-06-30");
        assert_eq!(june.len(), 30);
        assert_eq!(june[1], ("2026-06-02T08:00:00+01:00".into(), 16.0 * 3600.0));
        let year = days("2026-01-01", "2026-12-31");
        assert_eq!((year.len(), &year[0].0[..10], &year[30].0[..10]), (31, "2026-01-01", "2026-12-31"));
    }

    #[test]
    fn what_runs_backwards_is_refused_with_its_mend() {
        let days = |first: &str, last: &str, from_minute, to_minute| {
            asked(LightWhen::Days { first: day(first), last: day(last), from_minute, to_minute }).check()
        };
        let refused = |checked: Result<(), LightCriterionError>| checked.expect_err("refused").to_string();
        assert!(refused(days("2026-06-02", "2026-06-01", 480, 660)).contains("2026-06-02 to 2026-06-01"));
        assert!(refused(days("2026-06-01", "2026-06-01", 660, 480)).contains("11:00 to 08:00"));
        assert!(refused(days("2026-06-01", "2026-06-01", 0, 1441)).contains("24:00"));
        let minutes = LightCriterion { least_minutes: f64::NAN, ..asked(LightWhen::From(String::new())) };
        assert!(refused(minutes.check()).contains("1440"));
    }
}
