//! When is the light next as it is asked for?

use crate::angle::Angle;
use crate::pose::WorldVector;

use super::disc::{Cover, SkinFromEye};
use super::error::LightError;
use super::faces::{FaceLight, LitFace, Shade};
use super::moment::{Moment, Zone};
use super::sky::{Sky, SunPosition};

/// How often it is looked; the beginning is then found to the minute.
const LOOK_S: f64 = 300.0;
const MINUTE_S: f64 = 60.0;
/// The sky is darkest at a right angle to the sun: within 30° of it, it counts as deep (common practice, no source).
const DEEP_SINE: f64 = 0.5;
/// Days that are looked through.
pub const FARTHEST_DAYS: u32 = 400;

/// Light that is asked for: all that is given must hold at once.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LightRequirement {
    /// The sun is on the face.
    pub lit: bool,
    /// The sun is on the face at an incidence between these.
    pub incidence: Option<(Angle, Angle)>,
    /// The sun's apparent altitude is between these.
    pub altitude: Option<(Angle, Angle)>,
    /// The sun's disc is at the subject's edge, as seen from the stance.
    pub at_edge: bool,
    /// The sky behind the subject is deep, as seen from the stance.
    pub deep_sky: bool,
    /// The clock is at this minute of the day or later.
    pub from_minute: Option<u16>,
    /// The clock is before this minute of the day.
    pub before_minute: Option<u16>,
    /// The days of the week that will do, Monday first; all where none is given.
    pub weekdays: [bool; 7],
}

/// What a requirement is held against.
#[derive(Debug)]
pub struct RequiredFrom<'a> {
    /// The sky.
    pub sky: &'a Sky,
    /// What casts shadows.
    pub shade: &'a Shade<'a>,
    /// The face that the picture is of.
    pub face: Option<&'a LitFace>,
    /// The subject as seen from the stance, and the direction in which the camera looks.
    pub stance: Option<(&'a SkinFromEye, WorldVector)>,
}

impl LightRequirement {
    fn clock_allows(&self, zone: &Zone, moment: Moment) -> bool {
        let clock = zone.clock(moment);
        let minute = 60 * u16::from(clock.hour) + u16::from(clock.minute);
        // 1 January 1970 was a Thursday.
        let days = (moment.unix_ms() + 1000 * i64::from(clock.offset_s)).div_euclid(86_400_000);
        let weekday = (days + 3).rem_euclid(7) as usize;
        self.from_minute.is_none_or(|from| minute >= from)
            && self.before_minute.is_none_or(|before| minute < before)
            && (self.weekdays == [false; 7] || self.weekdays[weekday])
    }

    fn sun_allows(&self, sun: &SunPosition, seen: &RequiredFrom<'_>) -> bool {
        let within = |angle: Angle, range: Option<(Angle, Angle)>| {
            range.is_none_or(|(low, high)| (low.radians()..=high.radians()).contains(&angle.radians()))
        };
        if !within(sun.altitude, self.altitude) {
            return false;
        }
        let to_sun = sun.direction();
        if let Some((skin, forward)) = &seen.stance {
            let is_deep = forward.dot(&to_sun).abs() <= DEEP_SINE && sun.is_up();
            if self.deep_sky && !is_deep {
                return false;
            }
            if self.at_edge && skin.cover(&to_sun, sun.semi_diameter.radians()) != Cover::Partly {
                return false;
            }
        }
        let Some(face) = seen.face.filter(|_| self.lit || self.incidence.is_some()) else { return true };
        if !within(super::faces::incidence(&face.normal, &to_sun), self.incidence) {
            return false;
        }
        matches!(face.lighting(sun, seen.shade).light, FaceLight::Lit | FaceLight::Grazing)
    }

    fn holds(&self, moment: Moment, seen: &RequiredFrom<'_>) -> bool {
        self.clock_allows(seen.sky.zone(), moment) && self.sun_allows(&seen.sky.sun(moment), seen)
    }

    /// The first stretch after a moment in which it all holds, found to the minute; `None` if there is none within
    /// [`FARTHEST_DAYS`].
    ///
    /// # Errors
    /// The search would leave the years that are computed.
    pub fn next(&self, seen: &RequiredFrom<'_>, from: Moment) -> Result<Option<(Moment, Moment)>, LightError> {
        let end = from.plus_s(86_400.0 * f64::from(FARTHEST_DAYS));
        let begins =
            if self.at_edge { self.next_at_edge(seen, from, end)? } else { self.next_by_looking(seen, from, end) };
        Ok(begins.map(|begins| {
            let mut ends = begins;
            while ends < end && self.holds(ends.plus_s(MINUTE_S), seen) {
                ends = ends.plus_s(MINUTE_S);
            }
            (begins, ends)
        }))
    }

    fn next_by_looking(&self, seen: &RequiredFrom<'_>, from: Moment, end: Moment) -> Option<Moment> {
        let mut at = from;
        while at < end {
            if self.holds(at, seen) {
                // The minute at which it begins, after the last look.
                let minutes = (1..(LOOK_S / MINUTE_S) as u32).rev();
                let earlier = minutes.map(|minute| at.plus_s(-MINUTE_S * f64::from(minute)));
                return Some(earlier.into_iter().find(|at| *at >= from && self.holds(*at, seen)).unwrap_or(at));
            }
            at = at.plus_s(LOOK_S);
        }
        None
    }

    /// The disc is at the edge for two minutes or so: its meetings are found day by day.
    fn next_at_edge(&self, seen: &RequiredFrom<'_>, from: Moment, end: Moment) -> Result<Option<Moment>, LightError> {
        let Some((skin, _)) = &seen.stance else { return Ok(None) };
        let mut start = from;
        while start < end {
            let (_, next) = seen.sky.zone().bounds(seen.sky.zone().clock(start).day)?;
            for (at, _) in skin.contacts(seen.sky, (start, next)) {
                // Just after the disc comes to the edge, or just before it is gone.
                let about = [at.plus_s(1.0), at.plus_s(-1.0)];
                if let Some(found) = about.into_iter().find(|at| *at >= from && self.holds(*at, seen)) {
                    return Ok(Some(found));
                }
            }
            start = next;
        }
        Ok(None)
    }
}
