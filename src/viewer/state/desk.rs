//! Where does the walker stand, and what did they do to get there? The window's whole state, without a window.
//!
//! Every change is an [`Action`]; what is drawn and read is what the core makes of the described [`Stance`]. Undoing takes
//! up an earlier stance again. Whatever takes long is done beside the window, and fetched by [`Desk::catch_up`].

mod action;
mod captures;
mod delivery;
mod keeping;
mod moves;
mod notices;
mod prints;
mod remedies;
mod searching;

use std::sync::Arc;
use std::time::Duration;

use crate::angle::Angle;
use crate::handover::deliver::Prepared;
use crate::handover::plane_of;
use crate::optics::Lens;
use crate::outline::OutlineError;
use crate::place::{Day, Declination, declination};
use crate::plan::{Plan, PrintId};
use crate::search::Whereabouts;
use crate::site::{Aim, Stance, Sun};
use crate::stance::StanceError;
use crate::survey::{MeasureSettings, Measured, Survey};
use crate::tolerance::LEAN_CHANGE_DEG;
use crate::verticals::{StraightenFailure, Straightened};
use crate::walking::Feet;
use crate::ways::Ways;

use super::dialog::Chosen;
use super::opening::{Home, OpenError, Opened, Source};
use super::settings::{HEIGHTS_M, MOST_PRESETS, Preset, Settings};
use super::work::{Wake, WorkId, WorkView, Works};

pub use action::{Action, DeskName};
pub use captures::StillFiles;
use captures::{PictureKey, Pictures};
pub use delivery::{BlockedDelivery, DeliveryOptions, DeliveryView};
use delivery::{DeliveryOutcome, DeliveryState};
use keeping::Keeping;
pub use moves::marks_of;
use notices::Notices;
pub use notices::{Notice, NoticeKind};
use prints::Album;
pub use prints::Pinned;
use remedies::Remedies;
pub use remedies::WaysView;
pub use searching::{LOWEST, SearchView, Seeking};
use searching::{Searched, Searching, Unfound};

/// Long steps are taken in paces no longer than this, so that no stair or wall is stepped over.
const PACE_M: f64 = 0.2;
/// The most paces taken at once.
const MOST_PACES: f64 = 500.0;

/// Which question for a typed path is open, where the desktop has no dialog.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Asking {
    /// Which site is to be opened? Answered by [`Action::Open`].
    Site,
    /// Where do captures go? Answered by [`Action::Folder`], or by [`Action::Capture`] with a folder.
    Folder,
    /// Which file tells the user's name and mark? Answered by [`Action::Brand`].
    Brand,
}

/// Why nobody can be sat at a desk.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum StartError {
    /// The site does not open.
    #[error(transparent)]
    Open(#[from] OpenError),
    /// The stance that was asked for is impossible.
    #[error(transparent)]
    Stance(#[from] StanceError),
}

/// What work beside the window comes to.
enum Outcome {
    Opened(Result<Opened, OpenError>),
    Reloaded { opened: Box<Result<Opened, OpenError>>, unchanged: bool },
    Chosen(Asking, Chosen),
    Captured(Result<Option<StillFiles>, String>),
    Thumbnail(Box<(PictureKey, Option<crate::still::Picture>)>),
    Ways(Result<Ways, String>),
    Searched(Result<Searched, Unfound>),
    Prepared(Option<Result<Prepared, String>>),
    Written(DeliveryOutcome),
}

/// The walker, their camera, and what it sees.
pub struct Desk {
    survey: Arc<Survey>,
    stance: Stance,
    measured: Measured,
    measure_settings: MeasureSettings,
    past: Vec<Stance>,
    future: Vec<Stance>,
    /// Whether the last action may be joined by another of its kind.
    moving: bool,
    /// Whether the tolerance of this stance was looked for.
    tolerance_sought: bool,
    notices: Notices,
    plan: Plan,
    album: Album,
    settings: Settings,
    desk_name: DeskName,
    help: bool,
    guide: bool,
    straighten: Option<f64>,
    straightened: Option<Result<Straightened, StraightenFailure>>,
    asking: Option<Asking>,
    leaving: bool,
    keeping: Keeping,
    works: Works<Outcome>,
    /// The site that is being opened, and the dialog that is open.
    opening: Option<WorkId>,
    dialog: Option<WorkId>,
    /// A still that waits for its folder, in full or not.
    capture_waits: Option<bool>,
    captures: Vec<StillFiles>,
    pictures: Pictures,
    remedies: Remedies,
    searching: Searching,
    delivery: DeliveryState,
    shown_px: Option<(u32, u32)>,
    /// Whether the sun was given from outside, and not set here.
    sun_given: bool,
    /// Tells this window's prints from those of others.
    salt: u64,
    pinned_here: u64,
    site_version: u64,
    sun_version: u64,
    theme_version: u64,
}

impl std::fmt::Debug for Desk {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Desk").field("stance", &self.stance).finish_non_exhaustive()
    }
}

impl Desk {
    /// A walker who takes up a stance on a site, and of whom nothing is kept.
    ///
    /// # Errors
    /// The stance is impossible.
    pub fn new(survey: Arc<Survey>, stance: Stance, measure_settings: MeasureSettings) -> Result<Self, StanceError> {
        let measure_settings = MeasureSettings {
            lean_change: measure_settings.lean_change.or(Some(Angle::from_degrees(LEAN_CHANGE_DEG))),
            ..measure_settings
        };
        let measured = survey.measure(&stance, &MeasureSettings { lean_change: None, ..measure_settings })?;
        let mut notices = Notices::default();
        notices.beware(&measured.cautions);
        Ok(Self {
            survey,
            stance,
            measured,
            measure_settings,
            past: Vec::new(),
            future: Vec::new(),
            moving: false,
            tolerance_sought: false,
            notices,
            plan: Plan::default(),
            album: Album::default(),
            settings: Settings::default(),
            desk_name: DeskName::default(),
            help: false,
            guide: true,
            straighten: None,
            straightened: None,
            asking: None,
            leaving: false,
            keeping: Keeping::nothing(Home::default()),
            works: Works::new(Wake::default()),
            opening: None,
            dialog: None,
            capture_waits: None,
            captures: Vec::new(),
            pictures: Pictures::default(),
            remedies: Remedies::default(),
            searching: Searching::default(),
            delivery: DeliveryState::default(),
            shown_px: None,
            sun_given: false,
            salt: salt(),
            pinned_here: 0,
            site_version: 1,
            sun_version: 1,
            theme_version: 1,
        })
    }

    /// The site.
    pub fn survey(&self) -> &Arc<Survey> {
        &self.survey
    }

    /// The stance as described now.
    pub fn stance(&self) -> &Stance {
        &self.stance
    }

    /// What is measured from it; the tolerance is there once the walker has come to rest.
    pub fn measured(&self) -> &Measured {
        &self.measured
    }

    /// What is measured by.
    pub fn measure_settings(&self) -> &MeasureSettings {
        &self.measure_settings
    }

    /// Every error, caution and piece of news, oldest first.
    pub fn notices(&self) -> &[Notice] {
        &self.notices.list
    }

    /// What is kept with the site.
    pub fn plan(&self) -> &Plan {
        &self.plan
    }

    /// The prints in their order, each with what is measured from it.
    pub fn prints(&self) -> &[Pinned] {
        &self.album.pinned
    }

    /// A print by its number.
    pub fn print(&self, id: PrintId) -> Option<&Pinned> {
        self.album.pinned.iter().find(|pinned| pinned.print.id == id)
    }

    /// The print that readings are compared with.
    pub fn against(&self) -> Option<&Pinned> {
        self.print(self.plan.against?)
    }

    /// The prints that lie side by side, at most four.
    pub fn laid(&self) -> impl Iterator<Item = &Pinned> {
        self.plan.laid.iter().filter_map(|id| self.print(*id))
    }

    /// Whether there is a print that can be put back.
    pub fn can_put_back(&self) -> bool {
        self.album.can_put_back()
    }

    /// Whether the stance shown is the one flicked to.
    pub fn flicked(&self) -> bool {
        self.against().is_some_and(|pinned| pinned.print.stance == self.stance) && self.album.flicked_from.is_some()
    }

    /// Whether there is a move to take back, and one to make again.
    pub fn can_undo_redo(&self) -> (bool, bool) {
        (!self.past.is_empty(), !self.future.is_empty())
    }

    /// Which arrangement is shown.
    pub fn desk_name(&self) -> DeskName {
        self.desk_name
    }

    /// What is remembered.
    pub fn settings(&self) -> &Settings {
        &self.settings
    }

    /// The lenses in the bag: all of the kit unless the planner has chosen.
    pub fn carried(&self) -> impl Iterator<Item = &Lens> {
        self.survey.kit.lenses.iter().filter(|lens| self.carries(&lens.name))
    }

    /// Whether a lens is in the bag.
    pub fn carries(&self, lens: &str) -> bool {
        self.plan.bag.as_ref().is_none_or(|bag| bag.iter().any(|name| name == lens))
    }

    /// Whether the first-minute guide is shown.
    pub fn guide(&self) -> bool {
        self.guide
    }

    /// Whether the help is shown.
    pub fn help(&self) -> bool {
        self.help
    }

    /// The share of the tilt that is taken out of the picture shown; nothing while it is shown as taken.
    pub fn straighten(&self) -> Option<f64> {
        self.straighten
    }

    /// The straightened picture that is to be shown, or why there is none; absent while it is shown as taken, and on a
    /// site without a subject.
    pub fn straightened(&self) -> Option<&Result<Straightened, StraightenFailure>> {
        self.straightened.as_ref()
    }

    /// How far a compass needle is off where the walker stands, today; absent on a site without an anchor.
    pub fn compass(&self) -> Option<Result<Declination, String>> {
        let place = plane_of(&self.survey.model.site)?.geographic_from_world(&self.measured.standing.pose.eye)?;
        Some(declination(&place, today()?).map_err(|error| error.to_string()))
    }

    /// Where the sun stands.
    pub fn sun(&self) -> Option<Sun> {
        self.measured.sun
    }

    /// What is being worked on.
    ///
    /// While there is any, the window looks again a few times a second to show how far it is.
    pub fn works(&self) -> Vec<WorkView> {
        self.works.shown()
    }

    /// What wakes the window: connect it once the window is there.
    pub fn wake(&self) -> &Wake {
        &self.keeping.home.wake
    }

    /// Where the site that is shown comes from; absent where nothing is kept.
    pub fn source(&self) -> Option<&Source> {
        self.keeping.source.as_ref()
    }

    /// Which question for a typed path is open.
    pub fn asking(&self) -> Option<Asking> {
        self.asking
    }

    /// What is wrong with the site's file as it now lies on disk, in full; the last good site is shown meanwhile.
    pub fn site_problems(&self) -> Option<&str> {
        self.keeping.site_problems.as_deref()
    }

    /// Grows when another site is shown, or the same one changed.
    pub fn site_version(&self) -> u64 {
        self.site_version
    }

    /// Grows when the sun moves.
    pub fn sun_version(&self) -> u64 {
        self.sun_version
    }

    /// Grows when the colours change.
    pub fn theme_version(&self) -> u64 {
        self.theme_version
    }

    /// Whether the window is to be closed.
    pub fn leaving(&self) -> bool {
        self.leaving
    }

    /// Does one thing; what cannot be done is told and changes nothing. Returns whether anything changed that is shown.
    pub fn act(&mut self, action: &Action) -> bool {
        let changed = self.done(action);
        self.keep();
        self.show_thumbnails();
        self.prepare_delivery();
        changed
    }

    fn done(&mut self, action: &Action) -> bool {
        match action {
            Action::Undo => self.step_back(),
            Action::Redo => self.step_forward(),
            Action::Sun(sun) => self.set_sun(*sun),
            Action::Pin
            | Action::PinStance(_)
            | Action::Unpin(_)
            | Action::PutBack
            | Action::Rename(..)
            | Action::Note(..)
            | Action::Move(..)
            | Action::Against(_)
            | Action::Lay(..)
            | Action::Flick
            | Action::TakeUpPrint(_) => self.act_on_prints(action),
            Action::Preset { .. }
            | Action::RemovePreset(_)
            | Action::Carry(..)
            | Action::Sit(_)
            | Action::Units(_)
            | Action::Theme(_)
            | Action::LessMotion(_)
            | Action::Surround(_)
            | Action::Straighten(_)
            | Action::Guide(_)
            | Action::Help(_)
            | Action::Dismiss(_)
            | Action::Upright(_) => self.set(action),
            Action::Seek(seeking) => self.seek(seeking),
            Action::Search => self.begin_search(),
            Action::StopSearch => self.stop_search(),
            Action::ShowFigure(figure) => self.show_figure(*figure),
            Action::ShowDelivery(kind) => self.show_delivery(*kind),
            Action::DeliveryOptions(options) => self.set_delivery_options(options),
            Action::ChooseBrand => self.ask(Asking::Brand),
            Action::Brand(brand) => self.set_brand(brand.clone()),
            Action::Write(form) => self.write(*form),
            Action::AnswerInTheWay(answer) => self.answer_in_the_way(*answer),
            Action::Open(_)
            | Action::OpenScene(_)
            | Action::OpenDialog
            | Action::Capture { .. }
            | Action::ChooseFolder
            | Action::Folder(_)
            | Action::StopAsking
            | Action::CancelWork(_)
            | Action::Quit => self.handle(action),
            _ => self.make_move(action),
        }
    }

    /// The walker has come to rest: the next step is a move of its own, and there is time for the tolerance. Returns whether
    /// anything changed that is shown.
    pub fn rest(&mut self) -> bool {
        self.moving = false;
        self.prepare_delivery();
        self.seek_ways();
        if self.keeping.source.is_some() && self.plan.last.as_ref() != Some(&self.stance) {
            self.plan.last = Some(self.stance.clone());
            self.keep();
        }
        if self.tolerance_sought {
            return false;
        }
        self.tolerance_sought = true;
        self.measured.tolerance = self.survey.tolerance(&self.stance, &self.measured.standing, &self.measure_settings);
        self.measured.tolerance.is_some()
    }

    /// Fetches what was done beside the window. Returns whether anything changed that is shown.
    pub fn catch_up(&mut self) -> bool {
        let mut changed = self.catch_up_with_files();
        changed |= self.take_coarse();
        for (id, outcome) in self.works.ended() {
            changed = true;
            match outcome {
                Some(Outcome::Opened(opened)) if self.opening == Some(id) => {
                    self.opening = None;
                    self.arrived(opened);
                }
                // Somebody wanted another one meanwhile.
                Some(Outcome::Opened(_)) => {}
                Some(Outcome::Reloaded { opened, unchanged }) => self.reloaded(*opened, unchanged),
                Some(Outcome::Chosen(what, chosen)) => self.chosen(what, chosen),
                Some(Outcome::Captured(taken)) => self.captured(taken),
                Some(Outcome::Thumbnail(made)) => self.thumbnail_made(made.0, made.1),
                Some(Outcome::Ways(found)) => self.found_ways(id, Some(found)),
                Some(Outcome::Searched(searched)) => self.searched(id, searched),
                Some(Outcome::Prepared(made)) => self.delivery_prepared(id, made),
                Some(Outcome::Written(outcome)) => self.delivery_written(outcome),
                None => {
                    self.found_ways(id, None);
                    self.search_broke(id);
                    self.delivery_prepared(id, None);
                    self.thumbnail_failed();
                    self.notices.tell(NoticeKind::Error, "a piece of work broke and was left; the rest goes on");
                }
            }
        }
        self.show_thumbnails();
        self.prepare_delivery();
        changed
    }

    /// Whether anything is being worked on beside the window, shown or not.
    pub fn is_busy(&self) -> bool {
        self.works.busy()
    }

    /// Waits until all work beside the window is done and fetched, at most so long: for whoever drives the window without
    /// a screen. False where work is left.
    pub fn settle(&mut self, patience: Duration) -> bool {
        let end = std::time::Instant::now() + patience;
        loop {
            self.catch_up();
            if !self.works.busy() {
                return self.keeping.finish();
            }
            if std::time::Instant::now() > end {
                return false;
            }
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    fn make_move(&mut self, action: &Action) -> bool {
        let moved = match self.moved(action) {
            Ok(moved) => moved,
            Err(text) => {
                self.notices.tell(NoticeKind::Told, text);
                return true;
            }
        };
        if moved.stance == self.stance {
            return false;
        }
        let joined = action.runs_on();
        // A stance that was moved is not the one any more that somebody named.
        let strayed = moved.stance.name == self.stance.name && !same_place(&moved.stance, &self.stance);
        let done = self.go_to(moved.stance, joined && self.moving);
        if done && strayed {
            (self.stance.name, self.stance.note) = (self.whereabouts(), None);
        }
        self.moving = joined;
        if let (true, Some(told)) = (done, moved.told) {
            self.notices.tell(NoticeKind::Told, told);
        }
        true
    }

    /// Takes up a stance, as a move of its own unless it goes on with the last one.
    fn go_to(&mut self, wanted: Stance, goes_on: bool) -> bool {
        let before = self.stance.clone();
        let done = self.take_up(wanted);
        if done && !goes_on {
            self.past.push(before);
            self.future.clear();
        }
        done
    }

    fn step_back(&mut self) -> bool {
        let Some(earlier) = self.past.pop() else { return false };
        let now = self.stance.clone();
        if self.take_up(earlier) {
            self.future.push(now);
        }
        true
    }

    fn step_forward(&mut self) -> bool {
        let Some(later) = self.future.pop() else { return false };
        let now = self.stance.clone();
        if self.take_up(later) {
            self.past.push(now);
        }
        true
    }

    /// Measures from a stance and shows it; tells what makes it impossible.
    fn take_up(&mut self, stance: Stance) -> bool {
        self.moving = false;
        match self.survey.measure(&stance, &MeasureSettings { lean_change: None, ..self.measure_settings }) {
            Ok(measured) => {
                (self.stance, self.measured, self.tolerance_sought) = (stance, measured, false);
                self.notices.beware(&self.measured.cautions);
                self.straighten_again();
                true
            }
            Err(error) => {
                self.notices.tell(NoticeKind::Error, error.to_string());
                false
            }
        }
    }

    /// Measures again from the same stance, by other requirements or on another site.
    fn measure_again(&mut self) -> bool {
        let moving = self.moving;
        let done = self.take_up(self.stance.clone());
        self.moving = moving;
        done
    }

    fn straighten_again(&mut self) {
        self.straightened = self.straighten.and_then(|share| {
            let measures = crate::appraise::Measures { tilt_left: 1.0 - share, ..self.measure_settings.measures };
            self.survey.appraise(&self.measured.standing, &measures).straightened
        });
    }

    fn set_sun(&mut self, sun: Option<Sun>) -> bool {
        if self.measure_settings.sun == sun && self.plan.sun == sun {
            return false;
        }
        self.measure_settings.sun = sun;
        self.plan.sun = sun;
        self.sun_given = false;
        self.sun_version += 1;
        self.album.forget();
        self.measure_again();
        self.follow_plan();
        true
    }

    /// Changes what is remembered, or how the window is arranged.
    fn set(&mut self, action: &Action) -> bool {
        match action {
            Action::Preset { index, name, height_m } => {
                let name = name.trim();
                if name.is_empty() || !HEIGHTS_M.contains(height_m) {
                    self.notices.tell(NoticeKind::Error, "a height needs a name, and 0.05 to 400 m");
                    return true;
                }
                if *index >= self.settings.presets.len() && self.settings.presets.len() >= MOST_PRESETS {
                    self.notices.tell(NoticeKind::Error, format!("there are {MOST_PRESETS} named heights already"));
                    return true;
                }
                let preset = Preset { name: name.into(), height_m: *height_m };
                match self.settings.presets.get_mut(*index) {
                    Some(known) => *known = preset,
                    None => self.settings.presets.push(preset),
                }
            }
            Action::RemovePreset(index) => {
                if *index < self.settings.presets.len() {
                    self.settings.presets.remove(*index);
                }
            }
            Action::Carry(lens, carried) => {
                let mut bag: Vec<String> = self.carried().map(|lens| lens.name.clone()).collect();
                bag.retain(|name| name != lens);
                if *carried {
                    bag.push(lens.clone());
                }
                let all = self.survey.kit.lenses.iter().all(|lens| bag.contains(&lens.name));
                self.plan.bag = (!all).then_some(bag);
            }
            Action::Sit(desk) => {
                self.desk_name = *desk;
                self.lay_first();
            }
            Action::Units(units) => self.settings.units = *units,
            Action::Theme(theme) => {
                self.settings.theme = *theme;
                self.theme_version += 1;
            }
            Action::LessMotion(less) => self.settings.less_motion = *less,
            Action::Surround(shown) => self.settings.surround = *shown,
            Action::Straighten(share) => {
                self.straighten = share.map(|share| if share.is_nan() { 1.0 } else { share.clamp(0.0, 1.0) });
                self.straighten_again();
            }
            Action::Guide(shown) => {
                self.guide = *shown;
                self.settings.guide_seen |= !*shown;
            }
            Action::Help(shown) => self.help = *shown,
            Action::Dismiss(index) => self.notices.dismiss(*index),
            Action::Upright(threshold) => {
                let threshold = Angle::from_degrees(threshold.degrees().clamp(0.0, 45.0));
                self.settings.upright = threshold;
                self.measure_settings.measures.upright = threshold;
                self.album.forget();
                self.measure_again();
                self.follow_plan();
            }
            _ => return false,
        }
        true
    }

    /// Opens, keeps and closes.
    fn handle(&mut self, action: &Action) -> bool {
        match action {
            Action::Open(path) => return self.open_later(Source::File(path.clone())),
            Action::OpenScene(index) => return self.open_later(Source::Scene(*index)),
            Action::OpenDialog => return self.ask(Asking::Site),
            Action::ChooseFolder => return self.ask(Asking::Folder),
            Action::Folder(folder) => {
                (self.plan.folder, self.asking) = (Some(folder.clone()), None);
                self.list_captures();
                if let Some(full) = self.capture_waits.take() {
                    return self.capture(full, None);
                }
                if let Some(form) = self.delivery.waits_for_folder.take() {
                    return self.write(form);
                }
            }
            Action::Capture { full, folder } => return self.capture(*full, folder.clone()),
            Action::StopAsking => {
                (self.asking, self.capture_waits, self.delivery.waits_for_folder) = (None, None, None)
            }
            Action::CancelWork(id) => {
                self.works.cancel(*id);
                if self.opening == Some(*id) {
                    self.opening = None;
                }
            }
            Action::Quit => self.leave(),
            _ => return false,
        }
        true
    }

    /// Keeps everything and lets the window close.
    fn leave(&mut self) {
        if self.keeping.source.is_some() {
            self.plan.last = Some(self.stance.clone());
        }
        self.keep();
        self.works.cancel_all();
        self.keeping.finish();
        self.leaving = true;
    }

    /// What a stance is called that nobody has named: where it is, and how high unless one just stands.
    fn whereabouts(&self) -> String {
        let (standing, units) = (&self.measured.standing, self.settings.units);
        let eye = &standing.pose.eye;
        let on = standing.footing.as_ref().and_then(|footing| footing.name.clone());
        let place = match &self.survey.subject {
            Ok(subject) => Whereabouts::of(subject, eye, on).words(units),
            Err(_) => format!("{} east, {} north", units.length(eye.x, 0), units.length(eye.y, 0)),
        };
        let Some(height_m) = standing.height_m() else { return format!("{place}, eye at {}", units.length(eye.z, 1)) };
        let alike = |known_m: f64| (known_m - height_m).abs() < 0.005;
        let known = self.settings.presets.iter().find(|preset| alike(preset.height_m));
        match known {
            _ if alike(Stance::STANDING_M) => place,
            Some(preset) => format!("{place}, {}", preset.name),
            None => format!("{place}, {} up", units.length(height_m, 1)),
        }
    }

    /// So far over ground, up steps, along decks, up to walls; as far as the first thing that stops the feet.
    fn stepped(&self, mut stance: Stance, step: (f64, f64)) -> Result<Stance, String> {
        let Some(footing) = &self.measured.standing.footing else {
            // An eye in the air flies on at its own height.
            stance.at = (stance.at.0 + step.0, stance.at.1 + step.1);
            return Ok(stance);
        };
        let paces = (step.0.hypot(step.1) / PACE_M).ceil().clamp(1.0, MOST_PACES);
        let pace = (step.0 / paces, step.1 / paces);
        let mut feet = Feet::of(stance.at, stance.on.as_deref(), footing);
        for taken in 0..paces as u32 {
            match feet.step(&self.survey.model, &self.survey.sight, pace) {
                Ok(next) => feet = next,
                Err(stopped) if taken == 0 => return Err(stopped.words(self.settings.units)),
                Err(_) => break,
            }
        }
        (stance.at, stance.on) = (feet.at, feet.on);
        Ok(stance)
    }
}

/// Whether two stances have the camera at one and the same point.
fn same_place(a: &Stance, b: &Stance) -> bool {
    (a.at, &a.on, a.height_m, a.eye_height_m) == (b.at, &b.on, b.height_m, b.eye_height_m)
}

impl Drop for Desk {
    fn drop(&mut self) {
        // However the window ends, what was ordered is written.
        self.works.cancel_all();
        self.keep();
        self.keeping.finish();
    }
}

/// The day that the computer's clock tells.
fn today() -> Option<Day> {
    Day::of_unix_time(std::time::UNIX_EPOCH.elapsed().ok()?)
}

/// A number that no other window has, but for one chance in 10¹⁹.
fn salt() -> u64 {
    use std::hash::{BuildHasher, Hasher};
    std::hash::RandomState::new().build_hasher().finish()
}

/// The stance with which a site is first entered: its first saved one, else 1.5 times the subject's height to its south.
pub fn first_stance(survey: &Survey) -> Stance {
    if let Some(saved) = survey.model.site.stances.first() {
        return saved.clone();
    }
    let at = match &survey.subject {
        Ok(subject) => {
            let back_m =
                1.5 * (subject.top_m - subject.foot_m).max(4.0) + (subject.middle.y - subject.foot_m).abs().min(20.0);
            (subject.middle.x, subject.middle.y - back_m)
        }
        Err(OutlineError::NoSubject | OutlineError::Surrounds) => (0.0, -30.0),
    };
    let aim = if survey.subject.is_ok() {
        Aim::Fill
    } else {
        Aim::Turned { heading_deg: 0.0, pitch_deg: 0.0, roll_deg: 0.0 }
    };
    Stance { aim, ..Stance::plain("first look", at) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenes::SCENES;
    use crate::site::{LoadedSite, parse_site, site_hash};

    fn saltings() -> Desk {
        let text = SCENES[0].text;
        let site = parse_site(text, "saltings").expect("in order");
        let path = std::path::PathBuf::from("saltings.site.ron");
        let loaded = LoadedSite { site, path, text: text.into(), hash: site_hash(text), warnings: Default::default() };
        let survey = Arc::new(Survey::of(loaded));
        let stance = survey.model.site.stance("yard, standing").expect("saved").clone();
        Desk::new(survey, stance, MeasureSettings::default()).expect("a stance")
    }

    #[test]
    fn walking_back_converges_less_and_undo_returns() {
        let mut desk = saltings();
        let convergence = |desk: &Desk| desk.measured().account.convergence.expect("in front").angle().degrees();
        let (start, before) = (desk.stance().clone(), convergence(&desk));
        assert!(desk.act(&Action::Walk { ahead_m: -1.0, right_m: 0.0 }));
        for _ in 0..20 {
            desk.act(&Action::Walk { ahead_m: -1.0, right_m: 0.0 });
        }
        desk.rest();
        assert!(desk.act(&Action::Aim(Aim::Fill)));
        assert!(convergence(&desk) < before);
        assert!(desk.act(&Action::Undo) && desk.act(&Action::Undo));
        assert_eq!(desk.stance(), &start);
        assert!(!desk.act(&Action::Undo));
        assert!(desk.act(&Action::Redo));
    }

    #[test]
    fn walls_stop_the_walker_and_steps_are_climbed() {
        let mut desk = saltings();
        desk.act(&Action::StandAt(0.0, -5.0));
        desk.act(&Action::Aim(Aim::At(0.0, 0.0, 2.0)));
        for _ in 0..50 {
            desk.act(&Action::Walk { ahead_m: 0.2, right_m: 0.0 });
        }
        assert!(desk.stance().at.1 < -2.6, "{:?}", desk.stance().at);
        assert_eq!(desk.notices().last().map(|notice| notice.text.as_str()), Some("a wall is in the way"));
        // The steps lead east up to the coal stage.
        desk.act(&Action::StandAt(0.2, -38.0));
        desk.act(&Action::Aim(Aim::At(30.0, -38.0, 1.6)));
        for _ in 0..60 {
            desk.act(&Action::Walk { ahead_m: 0.14, right_m: 0.0 });
        }
        assert!(desk.measured().standing.footing.as_ref().expect("feet").height_m > 2.5);
    }
}
