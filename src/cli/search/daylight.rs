//! When does one photograph: what light must there be, and how high is the water?

use std::path::PathBuf;

use clap::Args;

use crate::light::Zone;
use crate::place::Day;
use crate::search::{DAY_MINUTES, LightCriterion, LightWhen};
use crate::site::Site;

use super::super::Ending;
use super::super::light::{level_by_table, minute};

/// When one photographs.
#[derive(Args, Debug)]
#[command(next_help_heading = "Light and water")]
pub(super) struct DaylightOptions {
    /// The moment at which one photographs, for light and water: the site's own time as 2026-06-21T09:30, or with its offset
    /// (RFC 3339)
    #[arg(long, value_name = "TIME", allow_hyphen_values = true, conflicts_with_all = ["days", "hours"])]
    at: Option<String>,
    /// The days on which one photographs, the first and the last: 2026-06-01,2026-06-30, or one day. Light counts as on the day
    /// that has least of it; of more than 31 days 31 are looked at
    #[arg(long, value_name = "DAY[,DAY]", value_parser = days)]
    days: Option<(Day, Day)>,
    /// The hours of those days, by the site's clocks
    #[arg(long, value_name = "FROM-TO", value_parser = hours, default_value = "0:00-24:00")]
    hours: (u16, u16),
    /// For so many minutes at least the sun is on the face that the picture is of: within the hours of each day, or from the
    /// moment on until it goes
    #[arg(long, value_name = "MIN")]
    lit: Option<f64>,
    /// Only grazing light counts, from 60° of incidence on
    #[arg(long)]
    grazing: bool,
    /// How high the water stands, in metres of the site; as the site says unless given. Nobody stands on what it covers
    #[arg(long, value_name = "M", allow_hyphen_values = true, conflicts_with = "tide")]
    water: Option<f64>,
    /// A tide table: CSV with time,height_m; the water stands as it says for --at
    #[arg(long, value_name = "FILE", requires = "at")]
    tide: Option<PathBuf>,
}

/// Light and water as the search wants them.
pub(super) struct Required {
    pub(super) light: Option<LightCriterion>,
    pub(super) water_level_m: Option<f64>,
}

impl DaylightOptions {
    /// What is asked for on a site; the light is measured where places are ranked by it.
    ///
    /// # Errors
    /// Light without a time, no such moment, a tide table that is wrong or does not reach the moment.
    pub(super) fn required(&self, site: &Site, ranked: bool) -> Result<Required, Ending> {
        let (from_minute, to_minute) = self.hours;
        let when = match (&self.at, self.days) {
            (Some(at), _) => Some(LightWhen::From(at.clone())),
            (None, Some((first, last))) => Some(LightWhen::Days { first, last, from_minute, to_minute }),
            (None, None) => None,
        };
        if when.is_none() && (self.lit.is_some() || self.grazing || ranked) {
            return Err(Ending::BadInput("light needs a time: --at TIME, or --days DAY,DAY with --hours".into()));
        }
        let is_measured = self.lit.is_some() || self.grazing || ranked || self.days.is_some();
        let light = when.filter(|_| is_measured).map(|when| LightCriterion {
            when,
            grazing: self.grazing,
            least_minutes: self.lit.unwrap_or(if self.grazing { 1.0 } else { 0.0 }),
        });
        let water_level_m = match (&self.tide, &self.at) {
            (Some(path), Some(at)) => {
                let zone = Zone::of(site)?;
                let moment = zone.read(at).map_err(|error| Ending::from(error).of("--at"))?.moment;
                Some(level_by_table(path, &zone, moment)?)
            }
            _ => self.water,
        };
        Ok(Required { light, water_level_m })
    }
}

/// One day, or the first and the last.
fn days(text: &str) -> Result<(Day, Day), String> {
    let day = |text: &str| text.parse::<Day>().map_err(|error| error.to_string());
    match text.split_once(',') {
        Some((first, last)) => Ok((day(first)?, day(last)?)),
        None => day(text).map(|day| (day, day)),
    }
}

/// Two times of the clock with a hyphen between, as minutes of the day.
fn hours(text: &str) -> Result<(u16, u16), String> {
    let read = text.split_once('-').and_then(|(from, to)| Some((minute(from.trim())?, minute(to.trim())?)));
    match read {
        Some((from, to)) if from < to && to <= DAY_MINUTES => Ok((from, to)),
        _ => Err("write two times, the earlier one first, such as 8:00-11:00".into()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hours_and_days_are_read_and_what_is_none_is_refused() {
        assert_eq!(hours("8:00-11:30"), Ok((480, 690)));
        assert_eq!(hours("0:00-24:00"), Ok((0, DAY_MINUTES)));
        for bad in ["", "8-11", "11:00-8:00", "8:00-8:00", "8:00", "23:00-24:30"] {
            assert!(hours(bad).is_err(), "{bad}");
        }
        let one = days("2026-06-21").expect("a day");
        assert_eq!(one.0, one.1);
        assert!(days("2026-06-21,2026-06-31").expect_err("no day").contains("2026-06-31"));
    }
}
