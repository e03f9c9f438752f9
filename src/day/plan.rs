//! What does a day of stances come to: when is one where, with what light, and whom does one ask?

use thiserror::Error;

use crate::light::{
    FaceLight, LightError, LightLimits, LightSide, LightSpan, LitFace, Moment, Shade, Sky, SunDay, TideTable,
    face_towards, light_side, stretches_of,
};
use crate::place::Day;
use crate::site::{Access, PlanPoint, Stance, Support};
use crate::stance::{StanceError, Standing};
use crate::survey::Survey;
use crate::walking::Feet;

use super::legs::{Leg, Place, legs};
use super::order::Round;

/// How often the light of a front is looked at.
const LOOK_S: f64 = 60.0;

/// What light a stance waits for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum WantedLight {
    /// The sun on the front.
    #[default]
    Sun,
    /// The sun on the front at a grazing angle.
    Grazing,
    /// Daylight.
    Daylight,
}

impl WantedLight {
    fn is(self, light: FaceLight) -> bool {
        match self {
            Self::Sun => light.has_sun(),
            Self::Grazing => light == FaceLight::Grazing,
            Self::Daylight => light != FaceLight::Night,
        }
    }

    /// In plain words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Sun => "sun on the front",
            Self::Grazing => "grazing light on the front",
            Self::Daylight => "daylight",
        }
    }
}

/// How a day is spent.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DaySettings {
    /// What each stance waits for.
    pub wanted: WantedLight,
    /// Where one sets out; at the first stance unless given.
    pub from: Option<PlanPoint>,
    /// When one may set out; at sunrise unless given.
    pub begins: Option<Moment>,
    /// From arriving to being ready, in seconds.
    pub setup_s: f64,
    /// From being ready to leaving, in seconds.
    pub work_s: f64,
    /// Metres a second, with a tripod and a bag (common practice, no source).
    pub pace: f64,
    /// What counts as lit.
    pub limits: LightLimits,
}

impl Default for DaySettings {
    fn default() -> Self {
        Self {
            wanted: WantedLight::Sun,
            from: None,
            begins: None,
            setup_s: 600.0,
            work_s: 1200.0,
            pace: 1.1,
            limits: LightLimits::default(),
        }
    }
}

/// A stance at its hour.
#[derive(Clone, Debug, PartialEq)]
pub struct Visit {
    /// The stance.
    pub stance: Stance,
    /// The way there from the one before, or from the start; `None` where the day begins.
    pub leg: Option<Leg>,
    /// When one comes.
    pub arrives: Moment,
    /// When the work begins: set up, and the light is there.
    pub begins: Moment,
    /// When one leaves.
    pub leaves: Moment,
    /// Whether all of the work lies in a window.
    pub in_window: bool,
    /// The windows, in order: of the light that is wanted, with dry ground.
    pub windows: Vec<(Moment, Moment)>,
    /// Whether the front never has that light on this day, so that the windows are daylight.
    pub only_daylight: bool,
    /// The face that is pictured, and the light on it as the work begins.
    pub front: Option<(String, FaceLight)>,
    /// Where the light comes from as the work begins, as the camera sees the subject.
    pub side: Option<LightSide>,
    /// Grounds and decks to ask for: there and on the way.
    pub ask: Vec<String>,
}

/// A day of stances in order.
#[derive(Clone, Debug, PartialEq)]
pub struct DayPlan {
    /// The site's name.
    pub site: String,
    /// The fingerprint of its file.
    pub sha256: String,
    /// The course of the sun.
    pub sun: SunDay,
    /// What each stance waits for.
    pub wanted: WantedLight,
    /// When one sets out from the start; `None` where the day begins at the first stance.
    pub sets_out: Option<Moment>,
    /// The stances, first to last.
    pub visits: Vec<Visit>,
    /// All ways together.
    pub walked_m: f64,
    /// How many stances lie outside their windows.
    pub missed: u32,
    /// Whether no other order is better.
    pub exact: bool,
    /// From leaving the last stance to sunset, in seconds; negative after it, `None` where the sun does not set.
    pub daylight_left_s: Option<f64>,
}

/// Why there is no plan of a day.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum DayError {
    /// The light is not known.
    #[error(transparent)]
    Light(#[from] LightError),
    /// Nothing to visit.
    #[error("no stance is given; name saved stances with --stances NAME,NAME")]
    NoStance,
    /// A stance that cannot be taken up.
    #[error("stance '{name}': {error}")]
    Stance {
        /// Which.
        name: String,
        /// Why not.
        error: StanceError,
    },
    /// A setting outside its range.
    #[error("the {what} is {value}; it must lie from {lowest} to {highest}")]
    Setting {
        /// Which, with its unit.
        what: &'static str,
        /// What was given.
        value: f64,
        /// The lowest allowed.
        lowest: f64,
        /// The highest allowed.
        highest: f64,
    },
    /// There is nothing to stand on where one sets out.
    #[error("one cannot set out from {east}, {north}: {why}")]
    Start {
        /// Metres east.
        east: f64,
        /// Metres north.
        north: f64,
        /// Why not.
        why: String,
    },
}

/// What is known of a stance before the order is.
struct Candidate {
    stance: Stance,
    standing: Standing,
    face: Option<LitFace>,
    windows: Vec<(Moment, Moment)>,
    only_daylight: bool,
}

/// Plans a day.
///
/// # Errors
/// The site has no anchor, the day is not one that is computed, a stance cannot be taken up, a setting is out of range.
pub fn plan_day(
    survey: &Survey,
    sky: &Sky,
    day: Day,
    stances: &[Stance],
    settings: &DaySettings,
    tide: Option<&TideTable>,
) -> Result<DayPlan, DayError> {
    check(settings)?;
    if stances.is_empty() {
        return Err(DayError::NoStance);
    }
    let sun = sky.day(day)?;
    let candidates: Vec<Candidate> =
        stances.iter().map(|stance| candidate(survey, sky, &sun, stance, settings, tide)).collect::<Result<_, _>>()?;
    let mut places: Vec<Place> = candidates.iter().map(place).collect();
    if let Some((east, north)) = settings.from {
        let refused = |why: String| DayError::Start { east, north, why };
        let footing = survey.model.footing((east, north), None).map_err(|error| refused(error.to_string()))?;
        places.push(Place { at: (east, north), feet: Some(Feet::of((east, north), None, &footing)) });
    }
    let legs = legs(&survey.model, &survey.sight, &places);
    let count = candidates.len();
    let since = |moment: Moment| moment.seconds_since(sun.bounds.0);
    let sunrise = sun.sun.spans_above(sun.bounds).first().map(|span| span.0);
    let round = Round {
        first_m: (0..count).map(|stop| legs.get(count).map_or(0.0, |start| start[stop].length_m)).collect(),
        legs_m: legs.iter().map(|row| row.iter().map(|leg| leg.length_m).collect()).collect(),
        windows: candidates
            .iter()
            .map(|candidate| candidate.windows.iter().map(|&(from, to)| (since(from), since(to))).collect())
            .collect(),
        start_s: since(settings.begins.or(sunrise).unwrap_or(sun.bounds.0)),
        setup_s: settings.setup_s,
        work_s: settings.work_s,
        pace: settings.pace,
    };
    let order = round.best();
    let mut visits = Vec::with_capacity(count);
    let (mut now_s, mut sets_out) = (round.start_s, None);
    for (number, &stop) in order.stops.iter().enumerate() {
        let candidate = &candidates[stop];
        let leg = match number.checked_sub(1).map(|before| order.stops[before]) {
            Some(before) => Some(legs[before][stop].clone()),
            None => legs.get(count).map(|start| start[stop].clone()),
        };
        let walk_s = leg.as_ref().map_or(0.0, |leg| leg.length_m / settings.pace);
        let (begins_s, in_window) = round.begins_s(stop, now_s + walk_s);
        // One sets out no earlier than the first light asks for.
        let arrives_s = if number == 0 { begins_s - settings.setup_s } else { now_s + walk_s };
        if number == 0 && leg.is_some() {
            sets_out = Some(sun.bounds.0.plus_s(arrives_s - walk_s));
        }
        let at = |seconds: f64| sun.bounds.0.plus_s(seconds);
        visits.push(visit(
            survey,
            sky,
            candidate,
            leg,
            [arrives_s, begins_s, begins_s + settings.work_s].map(at),
            in_window,
            settings,
        ));
        now_s = begins_s + settings.work_s;
    }
    let sunset = sun.sun.spans_above(sun.bounds).last().map(|span| span.1).filter(|at| *at < sun.bounds.1);
    let left = visits.last().map(|visit| visit.leaves);
    Ok(DayPlan {
        site: survey.mark.name.clone(),
        sha256: survey.mark.sha256.clone(),
        wanted: settings.wanted,
        sets_out,
        visits,
        walked_m: order.score.walked_m,
        missed: order.score.missed,
        exact: order.exact,
        daylight_left_s: sunset.zip(left).map(|(sunset, left)| sunset.seconds_since(left)),
        sun,
    })
}

fn check(settings: &DaySettings) -> Result<(), DayError> {
    for (what, value, lowest, highest) in [
        ("time to set up in minutes", settings.setup_s / 60.0, 0.0, 600.0),
        ("time to work in minutes", settings.work_s / 60.0, 0.0, 600.0),
        ("pace in m/s", settings.pace, 0.1, 5.0),
    ] {
        if !(lowest..=highest).contains(&value) {
            return Err(DayError::Setting { what, value, lowest, highest });
        }
    }
    Ok(())
}

fn place(candidate: &Candidate) -> Place {
    let Stance { at, on, .. } = &candidate.stance;
    let feet = candidate.standing.footing.as_ref().map(|footing| {
        // What one stands on need not be named in the file.
        let deck = matches!(footing.support, Support::Deck(_)).then_some(footing.name.as_deref()).flatten();
        Feet::of(*at, on.as_deref().filter(|on| *on != "ground").or(deck), footing)
    });
    Place { at: *at, feet }
}

fn candidate(
    survey: &Survey,
    sky: &Sky,
    sun: &SunDay,
    stance: &Stance,
    settings: &DaySettings,
    tide: Option<&TideTable>,
) -> Result<Candidate, DayError> {
    let standing = survey.stand(stance).map_err(|error| DayError::Stance { name: stance.name.clone(), error })?;
    let subject = survey.subject.as_ref().ok();
    let face = subject.and_then(|subject| face_towards(&survey.model, subject, &standing.pose.eye));
    let shade = Shade { sight: &survey.sight, limits: settings.limits };
    let daylight = sun.sun.spans_above(sun.bounds);
    let lit: Vec<LightSpan> = face.as_ref().map(|face| face.spans(sky, &shade, sun.bounds, LOOK_S)).unwrap_or_default();
    let mut windows = stretches_of(&lit, |light| settings.wanted.is(light));
    let only_daylight = windows.is_empty();
    if only_daylight || settings.wanted == WantedLight::Daylight {
        windows = daylight;
    }
    let on_ground = standing.footing.as_ref().filter(|footing| !matches!(footing.support, Support::Deck(_)));
    if let (Some(tide), Some(_)) = (tide, on_ground) {
        let dry = tide.spans_below(survey.model.site.terrain.height_m(stance.at), sun.bounds);
        windows = common(&windows, &dry);
    }
    Ok(Candidate { stance: stance.clone(), standing, face, windows, only_daylight })
}

/// What two lists of stretches have in common.
fn common(one: &[(Moment, Moment)], other: &[(Moment, Moment)]) -> Vec<(Moment, Moment)> {
    let both = |a: &(Moment, Moment), b: &(Moment, Moment)| (a.0.max(b.0), a.1.min(b.1));
    one.iter().flat_map(|a| other.iter().map(move |b| both(a, b))).filter(|(from, to)| from < to).collect()
}

fn visit(
    survey: &Survey,
    sky: &Sky,
    candidate: &Candidate,
    leg: Option<Leg>,
    [arrives, begins, leaves]: [Moment; 3],
    in_window: bool,
    settings: &DaySettings,
) -> Visit {
    let Candidate { stance, standing, face, windows, only_daylight } = candidate;
    let sun = sky.sun(begins);
    let shade = Shade { sight: &survey.sight, limits: settings.limits };
    let mut ask = leg.as_ref().map(|leg| leg.ask.clone()).unwrap_or_default();
    if let Some(footing) = standing.footing.as_ref().filter(|footing| footing.access == Access::Ask) {
        let name = footing.name.clone().unwrap_or_else(|| "the ground".into());
        if !ask.contains(&name) {
            ask.push(name);
        }
    }
    let subject = survey.subject.as_ref().ok();
    Visit {
        stance: stance.clone(),
        leg,
        arrives,
        begins,
        leaves,
        in_window,
        windows: windows.clone(),
        only_daylight: *only_daylight && settings.wanted != WantedLight::Daylight,
        front: face.as_ref().map(|face| (face.name.clone(), face.lighting(&sun, &shade).light)),
        side: subject.filter(|_| sun.is_up()).map(|subject| light_side(subject, standing, &sun.direction())),
        ask,
    }
}
