//! Where does the camera stand, what is measured from there, and where did it stand before?

use std::sync::Arc;

use crate::angle::Angle;
use crate::appraise::Measures;
use crate::cautions::Caution;
use crate::search::StandpointWords;
use crate::site::{Stance, Sun, TextChange};
use crate::stance::StanceError;
use crate::survey::{MeasureSettings, Measured, Survey};
use crate::tolerance::LEAN_CHANGE_DEG;
use crate::verticals::{StraightenFailure, Straightened};

use super::camera_moves::{CameraMove, Present};
use super::effects::{Effect, Effects};
use super::given_light::GivenLight;
use super::jobs::Outcome;
use super::jobs::tolerance::FoundTolerances;
use super::notices::NoticeKind;
use super::print_step::PrintStep;
use super::settings::SettingStore;
use super::shown_site::ShownSite;
use super::work::WorkId;

/// What happens to the stance taken up.
#[derive(Clone, Debug, PartialEq)]
pub enum CameraAction {
    /// Take up another stance.
    Move(CameraMove),
    /// Take back the last move.
    Undo,
    /// Make it again.
    Redo,
    /// Where the sun stands; the site's own without one.
    Sun(Option<Sun>),
    /// Show the straightened picture with this share of the tilt taken out (1 is all of it), or the picture as taken.
    Straighten(Option<f64>),
}

/// One step that can be taken back.
#[derive(Debug)]
enum HistoryStep {
    /// The camera left this stance.
    Stance(Box<Stance>),
    /// A print came or went.
    Print(PrintStep),
    /// The site's text was changed.
    Site {
        /// As it was made.
        change: TextChange,
        /// In words.
        words: String,
    },
}

impl HistoryStep {
    /// What was done, in words.
    fn words(&self) -> &str {
        match self {
            Self::Stance(_) => "Moved the camera",
            Self::Print(PrintStep::Pinned(_)) => "Pinned a stance",
            Self::Print(PrintStep::Removed(_)) => "Removed a print",
            Self::Site { words, .. } => words,
        }
    }
}

/// The stance taken up, and all that is measured from it.
#[derive(Debug)]
pub(super) struct CameraStore {
    stance: Stance,
    measured: Measured,
    measure_settings: MeasureSettings,
    past: Vec<HistoryStep>,
    future: Vec<HistoryStep>,
    /// Whether the last action may be joined by another of its kind.
    moving: bool,
    /// Whether the tolerance of this stance was looked for.
    tolerance_known: bool,
    /// The work that looks for it.
    tolerance_work: Option<WorkId>,
    straighten: Option<f64>,
    straightened: Option<Result<Straightened, StraightenFailure>>,
    /// The light that the plan keeps; one that the command line gives is measured with and not kept.
    plan_light: GivenLight,
    /// Whether the command line gave the light.
    light_given: bool,
}

impl CameraStore {
    /// A camera at a stance; its tolerance comes with the first rest.
    ///
    /// # Errors
    /// The stance is impossible.
    pub(super) fn new(survey: &Survey, stance: Stance, settings: MeasureSettings) -> Result<Self, StanceError> {
        let measure_settings = MeasureSettings {
            lean_change: settings.lean_change.or(Some(Angle::from_degrees(LEAN_CHANGE_DEG))),
            ..settings
        };
        let measured = survey.measure(&stance, &MeasureSettings { lean_change: None, ..measure_settings })?;
        Ok(Self {
            stance,
            measured,
            measure_settings,
            past: Vec::new(),
            future: Vec::new(),
            moving: false,
            tolerance_known: false,
            tolerance_work: None,
            straighten: None,
            straightened: None,
            plan_light: GivenLight::default(),
            light_given: settings.sun.is_some() || settings.moment.is_some(),
        })
    }

    pub(super) fn stance(&self) -> &Stance {
        &self.stance
    }

    pub(super) fn measured(&self) -> &Measured {
        &self.measured
    }

    pub(super) fn cautions(&self) -> &[Caution] {
        &self.measured.cautions
    }

    pub(super) fn measure_settings(&self) -> &MeasureSettings {
        &self.measure_settings
    }

    /// Whether there is a move to take back, and one to make again.
    pub(super) fn can_undo_redo(&self) -> (bool, bool) {
        (!self.past.is_empty(), !self.future.is_empty())
    }

    /// Whether the camera has not come to rest since its last step.
    pub(super) fn is_moving(&self) -> bool {
        self.moving
    }

    pub(super) fn straighten(&self) -> Option<f64> {
        self.straighten
    }

    pub(super) fn straightened(&self) -> Option<&Result<Straightened, StraightenFailure>> {
        self.straightened.as_ref()
    }

    pub(super) fn plan_light(&self) -> GivenLight {
        self.plan_light
    }

    pub(super) fn act(
        &mut self,
        action: CameraAction,
        site: &ShownSite,
        settings: &SettingStore,
        effects: &mut Effects,
    ) {
        let survey = site.survey();
        match action {
            CameraAction::Move(wanted) => self.make_move(&wanted, survey, settings, effects),
            CameraAction::Undo => self.undo(survey, effects),
            CameraAction::Redo => self.redo(survey, effects),
            CameraAction::Sun(sun) => self.set_light(GivenLight { sun, moment: None }, survey, effects),
            CameraAction::Straighten(share) => {
                self.straighten = share.map(|share| if share.is_nan() { 1.0 } else { share.clamp(0.0, 1.0) });
                self.straighten_again(survey);
                effects.change();
            }
        }
    }

    fn make_move(&mut self, wanted: &CameraMove, survey: &Survey, settings: &SettingStore, effects: &mut Effects) {
        let present = Present { survey, settings, stance: &self.stance, standing: &self.measured.standing };
        let moved = match present.after(wanted) {
            Ok(moved) => moved,
            Err(text) => return effects.passing_notice(NoticeKind::News, text),
        };
        if moved.stance == self.stance {
            return;
        }
        let joined = wanted.runs_on();
        // A stance that was moved is not the one any more that somebody named.
        let strayed = moved.stance.name == self.stance.name && !same_place(&moved.stance, &self.stance);
        let done = self.go(moved.stance, joined && self.moving, survey, effects);
        if done && strayed {
            (self.stance.name, self.stance.note) = (self.whereabouts(survey, settings), None);
        }
        self.moving = joined;
        if let (true, Some(news)) = (done, moved.news) {
            effects.passing_notice(NoticeKind::News, news);
        }
        effects.change();
    }

    /// Takes up a stance, as a move of its own.
    pub(super) fn go_to(&mut self, wanted: Stance, survey: &Survey, effects: &mut Effects) {
        self.go(wanted, false, survey, effects);
        effects.change();
    }

    /// Takes up a stance, as a move of its own unless it goes on with the last one.
    fn go(&mut self, wanted: Stance, goes_on: bool, survey: &Survey, effects: &mut Effects) -> bool {
        let before = self.stance.clone();
        let done = self.take_up(wanted, survey, effects);
        if done && !goes_on {
            self.past.push(HistoryStep::Stance(Box::new(before)));
            self.future.clear();
        }
        done
    }

    /// A print was pinned or removed: that is a step to take back, too.
    pub(super) fn add_print_step(&mut self, step: PrintStep) {
        self.add_step(HistoryStep::Print(step));
    }

    /// The site's text was changed: that is a step to take back, too.
    pub(super) fn add_site_step(&mut self, change: TextChange, words: String) {
        self.add_step(HistoryStep::Site { change, words });
    }

    fn add_step(&mut self, step: HistoryStep) {
        self.past.push(step);
        self.future.clear();
        self.moving = false;
    }

    /// What was done, oldest first, and what was taken back of it, the next to be made again first.
    pub(super) fn steps(&self) -> (impl Iterator<Item = &str>, impl Iterator<Item = &str>) {
        (self.past.iter().map(HistoryStep::words), self.future.iter().rev().map(HistoryStep::words))
    }

    fn undo(&mut self, survey: &Survey, effects: &mut Effects) {
        let Some(step) = self.past.pop() else { return };
        if let Some(back) = self.retrace(step, true, survey, effects) {
            self.future.push(back);
        }
        effects.change();
    }

    fn redo(&mut self, survey: &Survey, effects: &mut Effects) {
        let Some(step) = self.future.pop() else { return };
        if let Some(back) = self.retrace(step, false, survey, effects) {
            self.past.push(back);
        }
        effects.change();
    }

    /// Goes one step of the history, back or forth; the step that undoes this one, unless the stance is impossible by now.
    fn retrace(
        &mut self,
        step: HistoryStep,
        is_back: bool,
        survey: &Survey,
        effects: &mut Effects,
    ) -> Option<HistoryStep> {
        match step {
            HistoryStep::Stance(stance) => {
                let now = self.stance.clone();
                self.take_up(*stance, survey, effects).then(|| HistoryStep::Stance(Box::new(now)))
            }
            HistoryStep::Print(step) => {
                let removes = matches!(step, PrintStep::Pinned(_)) == is_back;
                let (PrintStep::Pinned(id) | PrintStep::Removed(id)) = step;
                effects.push(if removes { Effect::Unpin(id) } else { Effect::PinAgain(id) });
                Some(HistoryStep::Print(step))
            }
            HistoryStep::Site { change, words } => {
                effects.push(Effect::RetraceSite(if is_back { change.inverse() } else { change.clone() }));
                Some(HistoryStep::Site { change, words })
            }
        }
    }

    /// Measures from a stance and shows it; reports what makes it impossible.
    fn take_up(&mut self, stance: Stance, survey: &Survey, effects: &mut Effects) -> bool {
        self.moving = false;
        match survey.measure(&stance, &MeasureSettings { lean_change: None, ..self.measure_settings }) {
            Ok(measured) => {
                (self.stance, self.measured, self.tolerance_known) = (stance, measured, false);
                self.straighten_again(survey);
                effects.push(Effect::Done);
                true
            }
            Err(error) => {
                effects.passing_notice(NoticeKind::Error, error.to_string());
                false
            }
        }
    }

    /// Measures again from the same stance, by other requirements or on another site. False where one cannot stand there
    /// any more.
    pub(super) fn measure_again(&mut self, survey: &Survey, effects: &mut Effects) -> bool {
        let moving = self.moving;
        let done = self.take_up(self.stance.clone(), survey, effects);
        self.moving = moving;
        done
    }

    /// Measures again with another largest lean that reads as upright.
    pub(super) fn measure_with(&mut self, upright: Angle, survey: &Survey, effects: &mut Effects) {
        self.measure_settings.measures.upright = upright;
        self.measure_again(survey, effects);
        effects.change();
    }

    fn straighten_again(&mut self, survey: &Survey) {
        self.straightened = self.straighten.and_then(|share| {
            let measures = Measures { tilt_left: 1.0 - share, ..self.measure_settings.measures };
            survey.appraise(&self.measured.standing, &measures).straightened
        });
    }

    /// Measures in another light, and keeps it with the plan.
    pub(super) fn set_light(&mut self, light: GivenLight, survey: &Survey, effects: &mut Effects) {
        let GivenLight { sun, moment } = light;
        let MeasureSettings { sun: known_sun, moment: known_moment, .. } = self.measure_settings;
        if (sun, moment) == (known_sun, known_moment) && self.plan_light == light {
            return;
        }
        (self.plan_light, self.light_given) = (light, false);
        self.measure_settings = MeasureSettings { sun, moment, ..self.measure_settings };
        self.measure_again(survey, effects);
        effects.change();
    }

    /// The plan of the site that is shown was read: its light holds unless the command line gave one. The camera stands where
    /// it stood last, if one can still stand there, else where it stands.
    pub(super) fn follow_plan(
        &mut self,
        light: GivenLight,
        last: Option<Stance>,
        survey: &Survey,
        effects: &mut Effects,
    ) {
        self.plan_light = light;
        if !self.light_given {
            let GivenLight { sun, moment } = light;
            self.measure_settings = MeasureSettings { sun, moment, ..self.measure_settings };
        }
        let stance = last.filter(|last| survey.stand(last).is_ok()).unwrap_or_else(|| self.stance.clone());
        self.take_up(stance, survey, effects);
    }

    /// Measures again on a site that a hand is changing, or from another stance on one that is only looked at; where one cannot
    /// stand just now, the last figures stay.
    pub(super) fn follow_trial(&mut self, survey: &Survey, from: Option<&Stance>) {
        let stance = from.unwrap_or(&self.stance);
        if let Ok(measured) = survey.measure(stance, &MeasureSettings { lean_change: None, ..self.measure_settings }) {
            (self.measured, self.tolerance_known) = (measured, false);
            self.straighten_again(survey);
        }
    }

    /// Another site is shown: nothing of the one before holds. Takes up the first of the stances that is possible.
    pub(super) fn enter(&mut self, stances: [Stance; 2], survey: &Survey, effects: &mut Effects) {
        (self.past, self.future, self.moving) = (Vec::new(), Vec::new(), false);
        (self.straighten, self.straightened) = (None, None);
        (self.plan_light, self.light_given) = (GivenLight::default(), false);
        self.measure_settings = MeasureSettings { sun: None, moment: None, ..self.measure_settings };
        for stance in stances {
            if self.take_up(stance, survey, effects) {
                return;
            }
        }
    }

    /// The camera has come to rest: the next step is a move of its own.
    pub(super) fn stop(&mut self) {
        self.moving = false;
    }

    /// Looks in the background for how exactly one must stand, unless that is known.
    pub(super) fn look_for_tolerance(&mut self, survey: &Arc<Survey>, effects: &mut Effects) {
        // One at a time: what is not wanted any more takes a moment only.
        if self.tolerance_known || self.tolerance_work.is_some() {
            return;
        }
        let (survey, stance, settings) = (Arc::clone(survey), self.stance.clone(), self.measure_settings);
        let standing = self.measured.standing.clone();
        self.tolerance_work = Some(effects.start(None, move |_| {
            Outcome::Tolerances(Box::new(FoundTolerances::of(survey, stance, &standing, settings)))
        }));
    }

    /// Takes in the tolerances that were found, or looks again where the camera stands elsewhere by now, or the site is another;
    /// not while a hand tries something on it.
    pub(super) fn tolerances_found(
        &mut self,
        work: WorkId,
        found: FoundTolerances,
        survey: &Arc<Survey>,
        is_tried: bool,
        effects: &mut Effects,
    ) {
        self.tolerance_broke(work);
        let is_of_this_site = Arc::ptr_eq(&found.survey, survey);
        if is_of_this_site && found.stance == self.stance && found.settings == self.measure_settings {
            self.tolerance_known = true;
            self.measured.tolerance = found.found.map(|both| both.anew);
            self.measured.tolerance_as_set = found.found.map(|both| both.as_set);
        } else if !self.moving && !is_tried {
            self.look_for_tolerance(survey, effects);
        }
    }

    /// A piece of work broke.
    pub(super) fn tolerance_broke(&mut self, work: WorkId) {
        self.tolerance_work.take_if(|running| *running == work);
    }

    /// What a stance is called that nobody has named: where it is, and how high unless one just stands.
    fn whereabouts(&self, survey: &Survey, settings: &SettingStore) -> String {
        let (standing, units) = (&self.measured.standing, settings.units());
        let eye = &standing.pose.eye;
        let on = standing.footing.as_ref().and_then(|footing| footing.name.clone());
        let place = match &survey.subject {
            Ok(subject) => StandpointWords::of(subject, eye, on).words(units),
            Err(_) => format!("{} east, {} north", units.length(eye.x, 0), units.length(eye.y, 0)),
        };
        let Some(height_m) = standing.height_m() else { return format!("{place}, eye at {}", units.length(eye.z, 1)) };
        let alike = |known_m: f64| (known_m - height_m).abs() < 0.005;
        let known = settings.all().presets.iter().find(|preset| alike(preset.height_m));
        match known {
            _ if alike(Stance::STANDING_M) => place,
            Some(preset) => format!("{place}, {}", preset.name),
            None => format!("{place}, {} up", units.length(height_m, 1)),
        }
    }
}

/// Whether two stances have the camera at one and the same point.
fn same_place(a: &Stance, b: &Stance) -> bool {
    (a.at, &a.on, a.height_m, a.eye_height_m) == (b.at, &b.on, b.height_m, b.eye_height_m)
}
