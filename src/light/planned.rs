//! What light has the picture at the moment that it is planned for?

use crate::outline::Subject;
use crate::sight::Sight;
use crate::site::Model;
use crate::stance::Standing;

use super::error::LightError;
use super::faces::{LightLimits, Lighting, Shade, face_towards};
use super::from_stance::{LightSide, SunInPicture, light_side, sun_in_picture};
use super::moment::Moment;
use super::sky::{Sky, SunPosition};

/// The light of the moment that a picture is planned for.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedLight {
    /// The moment, to the second.
    pub moment: Moment,
    /// What the clocks of the site show then, with their offset (RFC 3339).
    pub clock: String,
    /// The name of the site's time zone.
    pub zone: String,
    /// Where the sun stands.
    pub sun: SunPosition,
    /// The face that the picture is of, by name, and its light; `None` without a subject.
    pub face: Option<(String, Lighting)>,
    /// From which side the light comes; `None` without a subject, and while the sun is down.
    pub side: Option<LightSide>,
    /// How the sun stands to the frame.
    pub in_picture: SunInPicture,
}

impl PlannedLight {
    /// The light of a moment on a picture from a stance.
    ///
    /// # Errors
    /// The site has no place on the Earth, or names no zone that there is.
    pub fn of(
        model: &Model,
        subject: Option<&Subject>,
        sight: &Sight,
        standing: &Standing,
        moment: Moment,
    ) -> Result<Self, LightError> {
        let sky = Sky::over(&model.site)?;
        let moment = moment.to_second();
        let sun = sky.sun(moment);
        let shade = Shade { sight, limits: LightLimits::default() };
        let face = subject.and_then(|subject| face_towards(model, subject, &standing.pose.eye));
        Ok(Self {
            moment,
            clock: sky.zone().rfc3339(moment),
            zone: sky.zone().name().to_owned(),
            face: face.map(|face| (face.name.clone(), face.lighting(&sun, &shade))),
            side: subject.filter(|_| sun.is_up()).map(|subject| light_side(subject, standing, &sun.direction())),
            in_picture: sun_in_picture(standing, &sun.direction()),
            sun,
        })
    }

    /// The day and the hour: "2026-06-21, 14:30".
    pub fn time_words(&self) -> String {
        let (day, time) = self.clock.split_once('T').unwrap_or((&self.clock, ""));
        format!("{day}, {}", time.get(..5).unwrap_or(time))
    }

    /// The light in a few words: "lit, 35° off the face; front light", "sun below the horizon".
    pub fn light_words(&self) -> String {
        if !self.sun.is_up() {
            return "sun below the horizon".into();
        }
        let mut words = Vec::new();
        if let Some((_, light)) = &self.face {
            words.push(match light.light.has_sun() {
                true => format!("{}, {:.0}° off square to the face", light.light.words(), light.incidence.degrees()),
                false => light.light.words().to_owned(),
            });
        }
        words.extend(self.side.map(|side| side.words().to_owned()));
        words.join("; ")
    }
}
