//! How does the moment that a picture is planned for read on a page?

use crate::light::{PlannedLight, Sky, Zone};
use crate::survey::Survey;

use super::words::PageWords;

/// Day and time by the site's clocks, in the words of a page.
pub(super) fn moment_words(survey: &Survey, planned: &PlannedLight, words: &PageWords) -> String {
    match Zone::of(&survey.model.site) {
        Ok(zone) => words.long_moment(&zone, planned.moment),
        Err(_) => planned.time_words(),
    }
}

/// When the sun rises and sets on that day, where it does both.
pub(super) fn sun_times(survey: &Survey, planned: &PlannedLight) -> Option<(String, String)> {
    let sky = Sky::over(&survey.model.site).ok()?;
    let zone = sky.zone();
    let day = sky.day(zone.clock(planned.moment).day).ok()?;
    let (rise, set) = (day.sun.rises.first()?, day.sun.sets.last()?);
    Some((zone.minutes(*rise), zone.minutes(*set)))
}
