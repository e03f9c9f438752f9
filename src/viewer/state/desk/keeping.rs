//! How are sites opened and watched, and how is everything kept that the planner does?

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::angle::Angle;
use crate::plan::{Kept, Plan, PlanError, Saved, merge};
use crate::site::{Aim, Stance};
use crate::viewer::state::dialog::{self, Chosen};
use crate::viewer::state::opening::{Home, OpenError, Opened, Source, open, own_kit};
use crate::viewer::state::settings::Settings;
use crate::viewer::state::watch::{Watch, real};
use crate::viewer::state::work::Works;
use crate::viewer::state::writer::Scribe;

use super::Action;
use super::Asking;
use super::Desk;
use super::NoticeKind;
use super::Outcome;
use super::StartError;
use super::first_stance;
use crate::survey::MeasureSettings;

/// What is to be done with the plan's file.
pub(super) enum PlanOrder {
    /// Save a plan, made by someone who last saw the other on disk.
    Save(Box<(Plan, Plan)>),
    /// Look whether somebody else changed it.
    Look,
}

/// What became of the plan's file.
pub(super) enum PlanNews {
    /// It was saved: what was sent, and what became of it.
    Saved(Box<(Plan, Saved)>),
    /// Somebody else changed it to this.
    Changed(Box<Plan>),
    /// It could not be saved or read.
    Failed(String),
}

/// What is to be remembered: the settings before and now.
pub(super) type SettingsOrder = Box<(Settings, Settings)>;

/// Everything by which a desk keeps what is done at it.
pub(super) struct Keeping {
    pub(super) home: Home,
    pub(super) source: Option<Source>,
    pub(super) own_kit: Option<crate::optics::Kit>,
    pub(super) site_problems: Option<String>,
    plan: Option<Scribe<PlanOrder, PlanNews>>,
    plan_file: Option<PathBuf>,
    /// What the plan's file holds as far as is known here, and what was sent there last.
    plan_seen: Plan,
    plan_sent: Plan,
    settings: Option<Scribe<SettingsOrder, String>>,
    settings_sent: Settings,
    watch: Option<Watch>,
}

impl Keeping {
    pub(super) fn nothing(home: Home) -> Self {
        Self {
            home,
            source: None,
            own_kit: None,
            site_problems: None,
            plan: None,
            plan_file: None,
            plan_seen: Plan::default(),
            plan_sent: Plan::default(),
            settings: None,
            settings_sent: Settings::default(),
            watch: None,
        }
    }

    /// Waits until all that was ordered is on disk; false where that takes too long.
    pub(super) fn finish(&self) -> bool {
        let plan = self.plan.as_ref().is_none_or(Scribe::finish);
        self.settings.as_ref().is_none_or(Scribe::finish) && plan
    }
}

impl Desk {
    /// A walker at home: a site is opened, with what was pinned on it, where they stood last and what they set.
    ///
    /// The walker takes up the `given` stance, else the one they left, else the site's first.
    ///
    /// # Errors
    /// The site cannot be opened, or the stance that was asked for is impossible.
    pub fn open(
        home: Home,
        source: Source,
        given: Option<Stance>,
        measure_settings: MeasureSettings,
    ) -> Result<Self, StartError> {
        let source = absolute(source);
        let (kit, kit_told) = own_kit(home.configuration.as_deref());
        let opened = open(&source, kit.as_ref())?;
        let (settings, settings_told) = match home.configuration.as_deref().map(Settings::read) {
            None => (Settings::default(), None),
            Some(Ok(settings)) => (settings, None),
            Some(Err(error)) => (Settings::default(), Some(format!("the settings are the first ones: {error}"))),
        };
        let mut measure_settings = measure_settings;
        if measure_settings.measures.upright == crate::appraise::Measures::default().upright {
            measure_settings.measures.upright = settings.upright;
        }
        let survey = Arc::clone(&opened.survey);
        // Somewhere to stand until the plan is read.
        let stance = given.clone().unwrap_or_else(|| source.first_stance(&survey));
        let mut desk = match Self::new(Arc::clone(&survey), stance, measure_settings) {
            Ok(desk) => desk,
            Err(error) if given.is_some() => return Err(error.into()),
            Err(_) => Self::new(Arc::clone(&survey), somewhere(&survey), measure_settings)?,
        };
        desk.works = Works::new(home.wake.clone());
        desk.guide = !settings.guide_seen;
        desk.settings = settings;
        desk.keeping = Keeping { own_kit: kit, ..Keeping::nothing(home) };
        desk.keeping.settings_sent = desk.settings.clone();
        desk.remember_settings();
        for told in [kit_told, settings_told].into_iter().flatten() {
            desk.notices.tell(NoticeKind::Error, told);
        }
        desk.sun_given = measure_settings.sun.is_some();
        desk.arrive(&opened, given.is_none());
        Ok(desk)
    }

    /// Starts keeping settings.
    fn remember_settings(&mut self) {
        let Some(configuration) = self.keeping.home.configuration.clone() else { return };
        let work = move |order: SettingsOrder| {
            let lock = lock(&configuration, &configuration.join("settings"));
            let told = match order.1.save(&order.0, &configuration) {
                Ok(None) => None,
                Ok(Some(aside)) => Some(format!("the old settings are kept as {}", aside.display())),
                Err(error) => Some(format!("settings are not remembered: {error}")),
            };
            drop(lock);
            told
        };
        self.keeping.settings = Some(Scribe::new(self.keeping.home.wake.clone(), |_, _| false, work));
    }

    /// Reads and keeps the plan of the site that is shown, takes up where the walker stood last, and watches the files.
    fn arrive(&mut self, opened: &Opened, take_up_last: bool) {
        let keeping = &mut self.keeping;
        keeping.source = Some(opened.source.clone());
        keeping.site_problems = None;
        keeping.plan_file = opened.source.plan(keeping.home.configuration.as_deref());
        keeping.plan = None;
        let mut plan = Plan::default();
        if let Some(file) = keeping.plan_file.clone() {
            let (kept, read) = Kept::open(&file);
            match read {
                Ok(read) => plan = read,
                Err(error) => {
                    let told = unread(&file, &error);
                    self.notices.tell(NoticeKind::Error, told);
                }
            }
            let configuration = keeping.home.configuration.clone();
            keeping.plan = Some(Scribe::new(keeping.home.wake.clone(), outdone, plan_keeper(kept, configuration)));
        } else {
            self.notices.tell(NoticeKind::Told, "nothing of this demo site is kept: there is no configuration folder");
        }
        (keeping.plan_seen, keeping.plan_sent) = (plan.clone(), plan.clone());
        self.plan = plan;
        if !self.sun_given {
            self.measure_settings.sun = self.plan.sun;
        }
        if !opened.warnings.is_empty() {
            self.notices.tell(NoticeKind::Told, opened.warnings.clone());
        }
        if let Source::File(path) = &opened.source {
            self.settings.opened(path);
        }
        let stood = self.stance.clone();
        match self.plan.last.clone().filter(|_| take_up_last) {
            Some(last) if self.survey.stand(&last).is_ok() => {
                self.take_up(last);
            }
            _ => {
                self.take_up(stood);
            }
        }
        self.follow_plan();
        self.watch_files();
        self.list_captures();
        self.keep();
    }

    fn watch_files(&mut self) {
        let keeping = &mut self.keeping;
        keeping.watch = None;
        let site = match &keeping.source {
            Some(Source::File(path)) => Some(path.clone()),
            _ => None,
        };
        let plan = keeping.plan_file.clone().filter(|file| file.parent().is_some_and(Path::is_dir));
        let files: Vec<PathBuf> = site.into_iter().chain(plan).collect();
        if files.is_empty() {
            return;
        }
        match Watch::over(&files, keeping.home.wake.clone()) {
            Ok(watch) => keeping.watch = Some(watch),
            Err(error) => {
                self.notices.tell(NoticeKind::Told, format!("changes of the site's file are not seen: {error}"));
            }
        }
    }

    /// Orders whatever changed to be saved.
    pub(super) fn keep(&mut self) {
        let keeping = &mut self.keeping;
        if self.plan != keeping.plan_sent
            && let Some(scribe) = &keeping.plan
        {
            if scribe.order(PlanOrder::Save(Box::new((keeping.plan_seen.clone(), self.plan.clone())))) {
                keeping.plan_sent = self.plan.clone();
            } else {
                self.notices.tell(NoticeKind::Error, "the plan is not kept: the system gives no thread to do it");
            }
        }
        if self.settings != keeping.settings_sent
            && let Some(scribe) = &keeping.settings
        {
            let before = std::mem::replace(&mut keeping.settings_sent, self.settings.clone());
            if !scribe.order(Box::new((before, self.settings.clone()))) {
                self.notices.tell(NoticeKind::Error, "settings are not kept: the system gives no thread to do it");
            }
        }
    }

    /// What was saved, and what others changed.
    pub(super) fn catch_up_with_files(&mut self) -> bool {
        let mut changed = false;
        let news = self.keeping.plan.as_ref().map(Scribe::news).unwrap_or_default();
        for piece in news {
            changed = true;
            match piece {
                PlanNews::Saved(saved) => {
                    let (sent, Saved { held, aside }) = *saved;
                    if let Some(aside) = aside {
                        let told = format!("the plan that could not be read is kept as {}", aside.display());
                        self.notices.tell(NoticeKind::Told, told);
                    }
                    if held != sent {
                        self.adopt(&sent, &held);
                    }
                    self.keeping.plan_seen = held;
                }
                PlanNews::Changed(theirs) => {
                    let seen = std::mem::replace(&mut self.keeping.plan_seen, (*theirs).clone());
                    self.adopt(&seen, &theirs);
                }
                PlanNews::Failed(text) => {
                    // It is tried again with the next change.
                    self.keeping.plan_sent = self.keeping.plan_seen.clone();
                    self.notices.tell(NoticeKind::Error, text);
                }
            }
        }
        for told in self.keeping.settings.as_ref().map(Scribe::news).unwrap_or_default() {
            self.notices.tell(NoticeKind::Error, told);
            changed = true;
        }
        let touched = self.keeping.watch.as_ref().map(Watch::changed).unwrap_or_default();
        if self.keeping.plan_file.as_ref().is_some_and(|file| touched.contains(&real(file)))
            && let Some(scribe) = &self.keeping.plan
        {
            // One that cannot do orders was told of when it was asked to save.
            let _ = scribe.order(PlanOrder::Look);
        }
        if let Some(Source::File(path)) = self.keeping.source.clone()
            && touched.contains(&real(&path))
        {
            self.reload(path);
        }
        changed
    }

    /// Takes over what another window made of the plan.
    fn adopt(&mut self, base: &Plan, theirs: &Plan) {
        let before: Vec<_> = self.plan.prints.iter().map(|print| print.id).collect();
        let plan = merge(base, &self.plan, theirs);
        if plan == self.plan {
            return;
        }
        let sun_moved = plan.sun != self.plan.sun;
        let new = plan.prints.iter().filter(|print| !before.contains(&print.id)).count();
        // Where the walker stands and what they look for is each window's own.
        self.plan = Plan { last: self.plan.last.clone(), sought: self.plan.sought.clone(), ..plan };
        if new > 0 {
            let prints = if new == 1 { "a print".into() } else { format!("{new} prints") };
            self.notices.tell(NoticeKind::Told, format!("{prints} came in from another window on this site"));
        }
        if sun_moved {
            self.set_sun(self.plan.sun);
        }
        self.follow_plan();
        self.keep();
    }

    pub(super) fn open_later(&mut self, source: Source) -> bool {
        let source = absolute(source);
        let own = self.keeping.own_kit.clone();
        let configuration = self.keeping.home.configuration.clone();
        let title = format!("Opening {}", source.title());
        self.asking = None;
        if let Some(earlier) = self.opening.take() {
            self.works.cancel(earlier);
        }
        self.opening = self.works.start(Some(title), move |_| {
            // The kit may have been changed since.
            let own = configuration.as_deref().map_or((own, None), |folder| own_kit(Some(folder))).0;
            Outcome::Opened(open(&source, own.as_ref()))
        });
        self.refused_work(self.opening.is_none())
    }

    /// Another site is there, or is not.
    pub(super) fn arrived(&mut self, opened: Result<Opened, OpenError>) {
        let opened = match opened {
            Ok(opened) => opened,
            Err(error) => {
                self.settings.recent.retain(|path| !(error.gone && Source::File(path.clone()).title() == error.title));
                self.notices.tell(NoticeKind::Error, error.to_string());
                self.keep();
                return;
            }
        };
        self.plan.last = Some(self.stance.clone());
        self.keep();
        if !self.keeping.finish() {
            self.notices.tell(NoticeKind::Error, "the last changes to the plan of the site before may not be saved");
        }
        self.stop_search();
        self.searching.forget();
        self.clear_delivery();
        self.survey = Arc::clone(&opened.survey);
        self.site_version += 1;
        self.sun_version += 1;
        self.sun_given = false;
        (self.past, self.future, self.moving) = (Vec::new(), Vec::new(), false);
        self.straighten = None;
        self.album = super::Album::default();
        self.notices.list.clear();
        self.measure_settings.sun = None;
        let first = opened.source.first_stance(&self.survey);
        if !self.take_up(first) {
            let survey = Arc::clone(&self.survey);
            self.take_up(somewhere(&survey));
        }
        self.arrive(&opened, true);
    }

    fn reload(&mut self, path: PathBuf) {
        let own = self.keeping.own_kit.clone();
        let known = self.survey.mark.sha256.clone();
        let started = self.works.start(None, move |_| {
            let source = Source::File(path);
            let mut opened = open(&source, own.as_ref());
            if opened.as_ref().is_err_and(|error| error.gone) {
                // Some programs take a file away for a moment while they save.
                std::thread::sleep(std::time::Duration::from_millis(300));
                opened = open(&source, own.as_ref());
            }
            let unchanged = opened.as_ref().is_ok_and(|opened| opened.survey.mark.sha256 == known);
            Outcome::Reloaded { opened: Box::new(opened), unchanged }
        });
        self.refused_work(started.is_none());
    }

    /// The site's file changed on disk.
    pub(super) fn reloaded(&mut self, opened: Result<Opened, OpenError>, unchanged: bool) {
        match opened {
            Err(error) => self.keeping.site_problems = Some(error.text),
            Ok(opened) if self.keeping.source.as_ref() != Some(&opened.source) => {}
            Ok(_) if unchanged => self.keeping.site_problems = None,
            Ok(opened) => {
                self.keeping.site_problems = None;
                self.survey = opened.survey;
                self.site_version += 1;
                self.sun_version += 1;
                self.album.forget();
                if !self.measure_again() {
                    // Where the walker stood is no place to stand any more.
                    let survey = Arc::clone(&self.survey);
                    let wanted = [first_stance(&survey), somewhere(&survey)];
                    let stands = wanted.into_iter().find(|stance| survey.stand(stance).is_ok());
                    if let Some(stance) = stands {
                        self.go_to(stance, false);
                        self.notices.tell(
                            NoticeKind::Told,
                            "the site changed, and one cannot stand where you stood; Undo tries it again",
                        );
                    }
                }
                if !opened.warnings.is_empty() {
                    self.notices.tell(NoticeKind::Told, opened.warnings);
                }
                self.follow_plan();
                self.notices.tell(NoticeKind::Told, "the site changed on disk and is shown as it is now");
            }
        }
    }

    /// Asks for a path: in the desktop's dialog where there is one, else in the window.
    pub(super) fn ask(&mut self, what: Asking) -> bool {
        if !self.keeping.home.dialogs {
            self.asking = Some(what);
            return true;
        }
        if self.dialog.is_some_and(|id| self.works.is_running(id)) {
            return false;
        }
        let near = match (&what, &self.keeping.source) {
            (Asking::Folder, _) if self.plan.folder.is_some() => self.plan.folder.clone(),
            (_, Some(Source::File(path))) => path.parent().map(Path::to_path_buf),
            _ => None,
        };
        self.dialog = match what {
            Asking::Site => {
                let wait = dialog::site_file(near.as_deref());
                self.works.start(None, move |_| Outcome::Chosen(what, wait()))
            }
            Asking::Brand => {
                let wait = dialog::brand_file(near.as_deref());
                self.works.start(None, move |_| Outcome::Chosen(what, wait()))
            }
            Asking::Folder => {
                let wait = dialog::folder(near.as_deref());
                self.works.start(None, move |_| Outcome::Chosen(what, wait()))
            }
        };
        self.refused_work(self.dialog.is_none())
    }

    pub(super) fn chosen(&mut self, what: Asking, chosen: Chosen) {
        match (chosen, what) {
            (Chosen::Path(path), Asking::Site) => {
                self.act(&Action::Open(path));
            }
            (Chosen::Path(folder), Asking::Folder) => {
                self.act(&Action::Folder(folder));
            }
            (Chosen::Path(file), Asking::Brand) => {
                self.act(&Action::Brand(Some(file)));
            }
            (Chosen::NoDialog, what) => self.asking = Some(what),
            (Chosen::Nothing, _) => {
                self.capture_waits = None;
                self.delivery.waits_for_folder = None;
            }
        }
    }

    pub(super) fn refused_work(&mut self, refused: bool) -> bool {
        if refused {
            self.notices.tell(NoticeKind::Error, "the system gives no thread to do it; close something and try again");
        }
        true
    }
}

/// One order makes another idle.
fn outdone(first: &PlanOrder, later: &PlanOrder) -> bool {
    match (first, later) {
        // A later state of the same plan; what it was made from is the same or newer.
        (PlanOrder::Save(first), PlanOrder::Save(later)) => first.0 == later.0,
        (PlanOrder::Look, _) => true,
        _ => false,
    }
}

/// Does orders on a plan's file, one window at a time.
fn plan_keeper(
    mut kept: Kept,
    configuration: Option<PathBuf>,
) -> impl FnMut(PlanOrder) -> Option<PlanNews> + Send + 'static {
    move |order| {
        let held = configuration.as_deref().map(|folder| lock(folder, kept.path()));
        let news = match order {
            PlanOrder::Save(save) => {
                let (seen, mine) = *save;
                match kept.save(&seen, &mine) {
                    Ok(saved) => Some(PlanNews::Saved(Box::new((mine, saved)))),
                    Err(error) => Some(PlanNews::Failed(format!("the plan is not kept: {error}"))),
                }
            }
            PlanOrder::Look => match kept.look() {
                Ok(theirs) => theirs.map(|theirs| PlanNews::Changed(Box::new(theirs))),
                Err(error) => Some(PlanNews::Failed(unread(kept.path(), &error))),
            },
        };
        drop(held);
        news
    }
}

fn unread(file: &Path, error: &PlanError) -> String {
    let text = match error {
        PlanError::Problems(problems) => problems.render(false, 100),
        PlanError::File(error) => error.to_string(),
    };
    let name = file.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    format!(
        "the plan {name} cannot be read and is left as it is; when something new is pinned it is put aside, never \
         overwritten\n{text}"
    )
}

/// Holds the right to write a file against other windows, as long as the answer lives. Without it (a folder that cannot be
/// written) windows still merge what each of them saves.
fn lock(configuration: &Path, file: &Path) -> Option<std::fs::File> {
    let name = crate::site::site_hash(&real(file).to_string_lossy());
    let folder = configuration.join("locks");
    std::fs::create_dir_all(&folder).ok()?;
    let held = std::fs::File::options().create(true).truncate(false).write(true).open(folder.join(name)).ok()?;
    held.lock().ok()?;
    Some(held)
}

fn absolute(source: Source) -> Source {
    match source {
        Source::File(path) => Source::File(std::path::absolute(&path).unwrap_or(path)),
        scene => scene,
    }
}

/// A stance that is possible on any site: in the air over its origin, looking north with a lens that every kit can describe.
fn somewhere(survey: &crate::survey::Survey) -> Stance {
    let model = &survey.model;
    let highest_m = model
        .solids
        .iter()
        .flat_map(|solid| solid.vertices.iter())
        .map(|point| point.z)
        .fold(model.surface_m((0.0, 0.0)), f64::max);
    Stance {
        eye_height_m: Some(highest_m + 10.0),
        lens: "35 mm".into(),
        aim: Aim::Turned { heading_deg: 0.0, pitch_deg: Angle::ZERO.degrees(), roll_deg: 0.0 },
        ..Stance::plain("over the site", (0.0, 0.0))
    }
}
