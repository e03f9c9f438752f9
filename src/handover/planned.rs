//! For which moment is the picture planned, and how does the sun stand then?

use crate::light::{LightError, LightSide, Moment, Sky, SunPosition, light_side};
use crate::stance::Standing;
use crate::survey::{MeasureSettings, Survey};

use super::words::PageWords;

/// A planned moment over a site.
#[derive(Clone, Debug)]
pub struct PlannedLight {
    sky: Sky,
    moment: Moment,
    sun: SunPosition,
}

impl PlannedLight {
    /// The light of a moment on a site.
    ///
    /// # Errors
    /// The site has no place on the Earth, or names no time zone that there is.
    pub fn of(survey: &Survey, moment: Moment) -> Result<Self, LightError> {
        let sky = Sky::over(&survey.model.site)?;
        Ok(Self { sun: sky.sun(moment), sky, moment })
    }

    /// What to measure by in this light.
    pub fn measuring(&self, settings: &MeasureSettings) -> MeasureSettings {
        MeasureSettings { sun: Some(self.sun.seen()), ..*settings }
    }

    /// Day and time by the site's clocks.
    pub(super) fn words(&self, words: &PageWords) -> String {
        words.long_moment(self.sky.zone(), self.moment)
    }

    /// From which side the light comes to a stance; `None` once the sun is down.
    pub(super) fn side(&self, survey: &Survey, standing: &Standing) -> Option<LightSide> {
        let subject = survey.subject.as_ref().ok()?;
        self.sun.is_up().then(|| light_side(subject, standing, &self.sun.direction()))
    }

    /// When the sun rises and sets on that day, where it does both.
    pub(super) fn sun_times(&self) -> Option<(String, String)> {
        let zone = self.sky.zone();
        let day = self.sky.day(zone.clock(self.moment).day).ok()?;
        let (rise, set) = (day.sun.rises.first()?, day.sun.sets.last()?);
        Some((zone.minutes(*rise), zone.minutes(*set)))
    }
}
