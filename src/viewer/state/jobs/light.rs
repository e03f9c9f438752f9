//! What light has the site on a day, in a year, and when next as it is asked for? Found in the background.

use crate::light::{
    Contact, FaceLight, LightError, LightLimits, LightRequirement, LightSpan, LightYear, LitFace, Moment, RequiredFrom,
    Shade, SkinFromEye, Sky, SunDay, contacts, face_towards,
};
use crate::place::Day;
use crate::pose::WorldPoint;
use crate::site::Stance;
use crate::survey::Survey;

/// How often the light of a day is looked at; each change is then found to the second.
const DAY_STEP_S: f64 = 300.0;
/// How often that of a year.
const YEAR_STEP_MIN: u32 = 20;

/// What is known of a day on a site.
#[derive(Clone, Debug)]
pub struct DayLight {
    /// The course of the sun.
    pub sun: SunDay,
    /// When the light is golden.
    pub golden: Vec<(Moment, Moment)>,
    /// When the sky is deep blue.
    pub blue: Vec<(Moment, Moment)>,
    /// The face that the picture is of, with its light through the day.
    pub front: Option<(LitFace, Vec<LightSpan>)>,
    /// When the sun's disc meets the subject's outline as seen from the stance that the day was asked about.
    pub contacts: Vec<Contact>,
}

impl DayLight {
    /// The light on that face at a moment.
    pub fn light_at(&self, moment: Moment) -> Option<FaceLight> {
        let (_, spans) = self.front.as_ref()?;
        spans.iter().rev().find(|span| span.from <= moment).map(|span| span.light)
    }
}

/// What a day was found for.
#[derive(Clone, Debug, PartialEq)]
pub(in super::super) struct DayKey {
    pub(in super::super) site: u64,
    pub(in super::super) day: Day,
    pub(in super::super) stance: Stance,
}

/// What a day brings, or why that is not known.
#[derive(Clone, Debug)]
pub(in super::super) struct FoundDay {
    pub(in super::super) key: DayKey,
    pub(in super::super) found: Result<DayLight, String>,
}

impl FoundDay {
    /// Finds it, as seen from an eye.
    pub(in super::super) fn of(survey: &Survey, sky: &Sky, key: DayKey, eye: &WorldPoint) -> Self {
        let found = sky.day(key.day).map_err(|error| error.to_string()).map(|sun| {
            let limits = LightLimits::default();
            let shade = Shade { sight: &survey.sight, limits };
            let subject = survey.subject.as_ref().ok();
            let front = subject.and_then(|subject| face_towards(&survey.model, subject, eye));
            DayLight {
                golden: sky.spans_between(sun.bounds, limits.golden_deg),
                blue: sky.spans_between(sun.bounds, limits.blue_deg),
                front: front.map(|face| {
                    let spans = face.spans(sky, &shade, sun.bounds, DAY_STEP_S);
                    (face, spans)
                }),
                contacts: subject.map_or_else(Vec::new, |subject| {
                    contacts(&survey.model, subject, &survey.sight, eye, sky, sun.bounds)
                }),
                sun,
            }
        });
        Self { key, found }
    }
}

/// What a year brings, or why that is not known.
#[derive(Clone, Debug)]
pub(in super::super) struct FoundYear {
    /// The version of the site.
    pub(in super::super) site: u64,
    pub(in super::super) year: i32,
    /// The name of the face.
    pub(in super::super) face: String,
    pub(in super::super) found: Result<LightYear, String>,
}

impl FoundYear {
    /// Finds it, for the face that the picture is of from an eye.
    pub(in super::super) fn of(survey: &Survey, sky: &Sky, site: u64, year: i32, eye: &WorldPoint) -> Self {
        let shade = Shade { sight: &survey.sight, limits: LightLimits::default() };
        let front = survey.subject.as_ref().ok().and_then(|subject| face_towards(&survey.model, subject, eye));
        let face = front.as_ref().map_or_else(String::new, |front| front.name.clone());
        let found = front.ok_or_else(|| "nothing on the site is its subject".to_owned()).and_then(|front| {
            LightYear::of(sky, &front, &shade, year, YEAR_STEP_MIN).map_err(|error| error.to_string())
        });
        Self { site, year, face, found }
    }
}

/// The next moment with the light that was asked for, or why it is not known.
#[derive(Clone, Debug)]
pub(in super::super) struct NextLight {
    pub(in super::super) found: Result<Option<Moment>, String>,
    /// What to say where there is none.
    pub(in super::super) nothing: String,
}

impl NextLight {
    /// Finds it, after a moment: in the middle of the stretch, but of a disc at the edge as it begins.
    pub(in super::super) fn of(
        survey: &Survey,
        sky: &Sky,
        stance: &Stance,
        asked_for: &LightRequirement,
        after: Moment,
    ) -> Self {
        let shade = Shade { sight: &survey.sight, limits: LightLimits::default() };
        let subject = survey.subject.as_ref().ok();
        let standing = survey.stand(stance).ok();
        let front = subject
            .zip(standing.as_ref())
            .and_then(|(subject, standing)| face_towards(&survey.model, subject, &standing.pose.eye));
        let skin = subject
            .zip(standing.as_ref())
            .map(|(subject, standing)| SkinFromEye::of(&survey.model, subject, &standing.pose.eye));
        let forward = standing.as_ref().map(|standing| standing.pose.attitude.forward());
        let seen = RequiredFrom { sky, shade: &shade, face: front.as_ref(), stance: skin.as_ref().zip(forward) };
        // Of a stretch that lasts still, the next one is looked for.
        let next = || -> Result<Option<(Moment, Moment)>, LightError> {
            let soon = after.plus_s(60.0);
            match asked_for.next(&seen, soon)? {
                Some((from, to)) if from <= soon => asked_for.next(&seen, to.plus_s(60.0)),
                found => Ok(found),
            }
        };
        let middle = |(from, to): (Moment, Moment)| if asked_for.at_edge { from } else { from.halfway(to) };
        let found = next().map(|found| found.map(middle)).map_err(|error| error.to_string());
        let days = crate::light::FARTHEST_DAYS;
        Self { found, nothing: format!("there is no such light from here within {days} days") }
    }
}
