//! What is found of the light, before it is printed?

use crate::light::{
    CastShadow, Contact, EdgeSpot, FlareRisk, LightError, LightRequirement, LightSide, LightSpan, LightYear, Lighting,
    Moment, ReadMoment, RequiredFrom, SkinFromEye, SunDay, SunInPicture, SunPosition, cast_shadow, contacts, edge_band,
    is_flooded, light_side, sun_in_picture,
};
use crate::outline::OutlineError;
use crate::place::Day;
use crate::site::Support;

use super::super::Ending;
use super::asked::Asked;

/// How often a face is looked at in the course of a day.
const LOOK_S: f64 = 60.0;

/// Everything that was asked for.
pub(super) struct Found {
    pub(super) at: Option<AtMoment>,
    pub(super) on: Option<OnDay>,
    pub(super) year: Option<(String, LightYear)>,
    pub(super) next: Option<Option<(Moment, Moment)>>,
}

/// The light at a moment.
pub(super) struct AtMoment {
    pub(super) read: ReadMoment,
    pub(super) sun: SunPosition,
    /// By face.
    pub(super) faces: Vec<Lighting>,
    pub(super) shadow: Option<CastShadow>,
    pub(super) stance: Option<FromStance>,
    pub(super) edge: Option<Vec<EdgeSpot>>,
    pub(super) water: Option<Water>,
}

/// The sun as seen from the stance.
#[derive(Clone, Copy)]
pub(super) struct FromStance {
    pub(super) picture: SunInPicture,
    pub(super) side: Option<LightSide>,
}

/// The water at a moment.
pub(super) struct Water {
    /// `None` where the table does not know.
    pub(super) level_m: Option<f64>,
    /// Saved stances that stand on flooded ground.
    pub(super) flooded: Vec<String>,
}

/// The light on a day.
pub(super) struct OnDay {
    pub(super) sun: SunDay,
    pub(super) golden: Vec<(Moment, Moment)>,
    pub(super) blue: Vec<(Moment, Moment)>,
    pub(super) change: Option<String>,
    /// By face.
    pub(super) faces: Vec<Vec<LightSpan>>,
    /// Every full hour while the sun is up.
    pub(super) hours: Vec<AtHour>,
    pub(super) contacts: Vec<Contact>,
    /// When the stance's ground is dry, where a tide table is given.
    pub(super) dry: Option<Vec<(Moment, Moment)>>,
}

/// The light at a full hour.
pub(super) struct AtHour {
    pub(super) at: Moment,
    pub(super) sun: SunPosition,
    /// On the first face.
    pub(super) front: Option<Lighting>,
    pub(super) stance: Option<FromStance>,
}

fn from_stance(asked: &Asked<'_>, sun: &SunPosition) -> Option<FromStance> {
    let (_, standing) = asked.stance.as_ref()?;
    let to_sun = sun.direction();
    let side = asked.survey.subject.as_ref().ok().filter(|_| sun.is_up());
    let mut picture = sun_in_picture(standing, &to_sun);
    if !sun.is_up() {
        // Nothing shines into the lens.
        picture = SunInPicture { in_frame: false, near_frame: false, flare: FlareRisk::No, ..picture };
    }
    Some(FromStance { picture, side: side.map(|subject| light_side(subject, standing, &to_sun)) })
}

pub(super) fn at_moment(asked: &Asked<'_>, read: &ReadMoment, edge: Option<f64>) -> AtMoment {
    let sun = asked.sky.sun(read.moment);
    let survey = asked.survey;
    let subject = survey.subject.as_ref().ok();
    let water = asked.tide.as_ref().map(|tide| {
        let level_m = tide.level_m(read.moment);
        let site = &survey.model.site;
        let under = |at| level_m.is_some_and(|level_m| is_flooded(site, at, level_m));
        let on_ground = |at, on: Option<&str>| {
            survey.model.footing(at, on).is_ok_and(|footing| !matches!(footing.support, Support::Deck(_)))
        };
        let flooded = site.stances.iter().filter(|stance| {
            stance.eye_height_m.is_none() && on_ground(stance.at, stance.on.as_deref()) && under(stance.at)
        });
        Water { level_m, flooded: flooded.map(|stance| stance.name.clone()).collect() }
    });
    AtMoment {
        read: read.clone(),
        sun,
        faces: asked.faces.iter().map(|face| face.lighting(&sun, &asked.shade)).collect(),
        shadow: subject.and_then(|subject| cast_shadow(&survey.model, subject, &sun)),
        stance: from_stance(asked, &sun),
        edge: edge.map(|eye_m| {
            subject.map_or_else(Vec::new, |subject| edge_band(&survey.model, subject, &survey.sight, &sun, eye_m))
        }),
        water,
    }
}

pub(super) fn on_day(asked: &Asked<'_>, day: Day) -> Result<OnDay, Ending> {
    let Asked { survey, sky, shade, .. } = asked;
    let sun = sky.day(day)?;
    let bounds = sun.bounds;
    let mut hours = Vec::new();
    for (from, to) in sun.sun.spans_above(bounds) {
        let mut at = from;
        while at < to {
            let clock = sky.zone().clock(at);
            let past_s =
                f64::from(60 * u32::from(clock.minute) + u32::from(clock.second)) + f64::from(clock.ms) / 1000.0;
            if past_s == 0.0 {
                let sun = sky.sun(at);
                let front = asked.faces.first().map(|face| face.lighting(&sun, shade));
                hours.push(AtHour { at, sun, front, stance: from_stance(asked, &sun) });
            }
            at = at.plus_s(3600.0 - past_s);
        }
    }
    let dry = asked
        .tide
        .as_ref()
        .zip(asked.stance.as_ref())
        .map(|(tide, (stance, _))| tide.spans_below(survey.model.site.terrain.height_m(stance.at), bounds));
    let seen = asked.stance.as_ref().zip(survey.subject.as_ref().ok());
    Ok(OnDay {
        golden: sky.spans_between(bounds, shade.limits.golden_deg),
        blue: sky.spans_between(bounds, shade.limits.blue_deg),
        change: sky.zone().change_on(day),
        faces: asked.faces.iter().map(|face| face.spans(sky, shade, bounds, LOOK_S)).collect(),
        hours,
        contacts: seen.map_or_else(Vec::new, |((_, standing), subject)| {
            contacts(&survey.model, subject, &survey.sight, &standing.pose.eye, sky, bounds)
        }),
        dry,
        sun,
    })
}

/// The year of the face that the picture is of.
pub(super) fn through_year(asked: &Asked<'_>, year: i32, step_min: u32) -> Result<(String, LightYear), Ending> {
    let face = asked.faces.first().ok_or_else(no_front)?;
    Ok((face.name.clone(), LightYear::of(asked.sky, face, &asked.shade, year, step_min)?))
}

fn no_front() -> Ending {
    Ending::NoAnswer(OutlineError::NoSubject.to_string())
}

/// When the light is next as asked for.
pub(super) fn next(
    asked: &Asked<'_>,
    required: &LightRequirement,
    from: Option<Moment>,
    day: Option<Day>,
) -> Result<Option<(Moment, Moment)>, Ending> {
    let from = match (from, day) {
        (Some(from), _) => from,
        (None, Some(day)) => asked.sky.zone().bounds(day)?.0,
        (None, None) => return Ok(None),
    };
    if (required.at_edge || required.deep_sky) && asked.stance.is_none() {
        return Err(Ending::BadInput("--next: edge and deep sky are seen from somewhere; add --stance NAME".into()));
    }
    let needs_face = required.lit || required.incidence.is_some();
    let subject = asked.survey.subject.as_ref();
    if (needs_face && asked.faces.is_empty()) || (required.at_edge && subject.is_err()) {
        return Err(no_front());
    }
    let skin = asked.stance.as_ref().zip(subject.ok()).map(|((_, standing), subject)| {
        let skin = SkinFromEye::of(&asked.survey.model, subject, &standing.pose.eye);
        (skin, standing.pose.attitude.forward())
    });
    let seen = RequiredFrom {
        sky: asked.sky,
        shade: &asked.shade,
        face: asked.faces.first(),
        stance: skin.as_ref().map(|(skin, forward)| (skin, *forward)),
    };
    required.next(&seen, from).map_err(|error: LightError| Ending::from(error).of("--next"))
}
