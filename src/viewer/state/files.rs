//! Which files are opened, watched and saved, and which paths is the person asked for?

use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::files;
use crate::optics::Kit;
use crate::plan::Plan;
use crate::site::Stance;
use crate::survey::Survey;

use super::dialog::{self, Chosen, PathQuestion};
use super::effects::{Effect, Effects};
use super::jobs::Outcome;
use super::notices::NoticeKind;
use super::opening::{Home, OpenError, Opened, Source, open, own_kit};
use super::plan_file::{PlanChange, PlanFile, PlanParts, lock};
use super::settings_file::{SETTINGS_FILE, Settings};
use super::site_file::{SiteNews, SiteWriter};
use super::watch::{Watch, real};
use super::work::{Wake, WorkId};
use super::writer::Writer;

/// Some programs remove a file for so long while they save.
const SAVING: Duration = Duration::from_millis(300);

/// The path with the ending of site files, if it has none.
fn named_as_site(path: PathBuf) -> PathBuf {
    let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned();
    if name.ends_with(".ron") { path } else { path.with_file_name(format!("{name}.site.ron")) }
}

/// Which site is shown.
#[derive(Clone, Debug, PartialEq)]
pub enum FileAction {
    /// Open a site file.
    Open(PathBuf),
    /// Open one of the demo sites.
    OpenScene(usize),
    /// Choose a site file in a dialog.
    OpenDialog,
    /// Choose where the site is saved as the person's own.
    SaveSiteDialog,
    /// Write a new site file, and open it.
    CreateSite {
        /// Where; nothing may be there.
        path: PathBuf,
        /// Its text.
        text: String,
    },
    /// Close the question for a typed path.
    StopAsking,
    /// Save everything and close the window.
    Quit,
}

/// Where everything comes from and is saved to.
pub(super) struct FileStore {
    home: Home,
    own_kit: Option<Kit>,
    source: Option<Source>,
    /// What is wrong with the site's file as it now lies on disk.
    problems: Option<OpenError>,
    /// Where the camera stood last, as the plan keeps it.
    last: Option<Stance>,
    plan: Option<PlanFile>,
    settings: Option<Writer<SettingsOrder, String>>,
    settings_sent: Settings,
    watch: Option<Watch>,
    /// What writes the site's file.
    site: Option<SiteWriter>,
    /// The site that is being opened.
    opening: Option<WorkId>,
    /// The dialog that is open.
    dialog: Option<WorkId>,
    /// The question for a typed path, where the desktop has no dialog.
    question: Option<PathQuestion>,
}

/// The settings before and now.
type SettingsOrder = Box<(Settings, Settings)>;

impl FileStore {
    /// Nothing is opened, and nothing is saved.
    pub(super) fn new(home: Home) -> Self {
        Self {
            home,
            own_kit: None,
            source: None,
            problems: None,
            last: None,
            plan: None,
            settings: None,
            settings_sent: Settings::default(),
            watch: None,
            site: None,
            opening: None,
            dialog: None,
            question: None,
        }
    }

    /// A person's own kit is used for every site, and their settings are saved, from `settings` on.
    pub(super) fn start_saving(&mut self, own_kit: Option<Kit>, settings: &Settings) {
        self.own_kit = own_kit;
        let Some(configuration) = self.home.configuration.clone() else { return };
        let work = move |order: SettingsOrder| {
            let held = lock(&configuration, &configuration.join(SETTINGS_FILE));
            let text = match order.1.save(&order.0, &configuration) {
                Ok(None) => None,
                Ok(Some(aside)) => Some(format!("the old settings are saved as {}", aside.display())),
                Err(error) => Some(format!("settings are not saved: {error}")),
            };
            drop(held);
            text
        };
        self.settings_sent = settings.clone();
        self.settings = Some(Writer::new(self.home.wake.clone(), |_, _| false, work));
    }

    pub(super) fn own_kit(&self) -> Option<&Kit> {
        self.own_kit.as_ref()
    }

    pub(super) fn wake(&self) -> &Wake {
        &self.home.wake
    }

    pub(super) fn source(&self) -> Option<&Source> {
        self.source.as_ref()
    }

    pub(super) fn problems(&self) -> Option<&OpenError> {
        self.problems.as_ref()
    }

    pub(super) fn question(&self) -> Option<PathQuestion> {
        self.question
    }

    /// Where the camera stood last.
    pub(super) fn last(&self) -> Option<&Stance> {
        self.last.as_ref()
    }

    /// Where the camera stands, to be saved with the plan. Nothing is kept of a site that was not opened from anywhere.
    pub(super) fn stands_at(&mut self, stance: &Stance) {
        if self.source.is_some() && self.last.as_ref() != Some(stance) {
            self.last = Some(stance.clone());
        }
    }

    pub(super) fn act(&mut self, action: FileAction, effects: &mut Effects) {
        match action {
            FileAction::Open(path) => self.open(Source::File(path), effects),
            FileAction::OpenScene(index) => self.open(Source::Scene(index), effects),
            FileAction::OpenDialog => effects.push(Effect::Ask(PathQuestion::Site)),
            FileAction::SaveSiteDialog => effects.push(Effect::Ask(PathQuestion::SaveSite)),
            FileAction::CreateSite { path, text } => self.create_site(path, &text, effects),
            FileAction::StopAsking => {
                self.question = None;
                effects.push(Effect::NotAnswered);
                effects.change();
            }
            FileAction::Quit => {
                effects.push(Effect::Leave);
                effects.change();
            }
        }
    }

    /// Writes a new site file, and opens it.
    fn create_site(&mut self, path: PathBuf, text: &str, effects: &mut Effects) {
        let path = named_as_site(path);
        match files::write_together(&[(&path, text.as_bytes())], false) {
            Ok(()) => self.open(Source::File(path), effects),
            Err(error) => effects.notice(NoticeKind::Error, format!("the site is not saved: {error}")),
        }
    }

    /// The question for a path is answered.
    pub(super) fn close_question(&mut self) {
        self.question = None;
    }

    /// Opens a site in the background.
    fn open(&mut self, source: Source, effects: &mut Effects) {
        let source = source.absolute();
        let own = self.own_kit.clone();
        let configuration = self.home.configuration.clone();
        let title = format!("Opening {}", source.title());
        self.question = None;
        if let Some(earlier) = self.opening.take() {
            effects.push(Effect::Cancel(earlier));
        }
        self.opening = Some(effects.start(Some(title), move |_| {
            // The kit may have been changed since.
            let own = configuration.as_deref().map_or((own, None), |folder| own_kit(Some(folder))).0;
            Outcome::Opened(open(&source, own.as_ref()))
        }));
        effects.change();
    }

    /// Whether the site that has arrived is still wanted.
    pub(super) fn take_opened(&mut self, work: WorkId) -> bool {
        self.opening.take_if(|opening| *opening == work).is_some()
    }

    /// A piece of work was stopped by the person.
    pub(super) fn cancelled(&mut self, work: WorkId) {
        self.opening = self.opening.filter(|opening| *opening != work);
    }

    /// A piece of work broke.
    pub(super) fn broke(&mut self, work: WorkId) {
        self.opening = self.opening.filter(|opening| *opening != work);
        self.dialog = self.dialog.filter(|dialog| *dialog != work);
    }

    /// Reads the plan of a site that is shown from now on, saves to it, and watches the files.
    pub(super) fn follow(&mut self, source: &Source, effects: &mut Effects) -> Plan {
        self.source = Some(source.clone());
        self.problems = None;
        self.plan = None;
        let configuration = self.home.configuration.as_deref();
        let mut plan = Plan::default();
        if let Some(path) = source.plan(configuration) {
            let (file, unread) = PlanFile::open(path, configuration, self.home.wake.clone());
            if let Some(text) = unread {
                effects.notice(NoticeKind::Error, text);
            }
            plan = file.plan().clone();
            self.plan = Some(file);
        } else {
            effects.notice(NoticeKind::News, "nothing of this demo site is saved: there is no configuration folder");
        }
        self.last = plan.last.clone();
        plan
    }

    /// Watches the files of the site that is shown.
    pub(super) fn watch(&mut self, effects: &mut Effects) {
        self.watch = None;
        let plan = self.plan.as_ref().map(PlanFile::path).filter(|file| file.parent().is_some_and(Path::is_dir));
        let files: Vec<PathBuf> = self.site_file().into_iter().chain(plan).map(Path::to_path_buf).collect();
        if files.is_empty() {
            return;
        }
        match Watch::over(&files, self.home.wake.clone()) {
            Ok(watch) => self.watch = Some(watch),
            Err(error) => {
                effects.notice(NoticeKind::News, format!("changes to the site file are not noticed: {error}"));
            }
        }
    }

    fn site_file(&self) -> Option<&Path> {
        match &self.source {
            Some(Source::File(path)) => Some(path),
            Some(Source::Scene(_)) | None => None,
        }
    }

    /// Orders the site's text to be written over the one that is known to be on disk.
    pub(super) fn save_site(&mut self, base: String, text: String, number: u64, effects: &mut Effects) {
        let Some(path) = self.site_file().map(Path::to_path_buf) else { return };
        let wake = self.home.wake.clone();
        let writer = self.site.get_or_insert_with(|| SiteWriter::new(wake));
        if !writer.order(path, base, text, number) {
            effects.notice(NoticeKind::Error, "the site is not saved: could not start a background thread");
        }
    }

    /// Which texts of the site were written, or why they could not be.
    pub(super) fn saved_sites(&self) -> Vec<SiteNews> {
        self.site.as_ref().map(SiteWriter::news).unwrap_or_default()
    }

    /// Orders whatever changed to be saved.
    pub(super) fn save(&mut self, parts: &PlanParts<'_>, settings: &Settings, effects: &mut Effects) {
        if self.plan.as_mut().is_some_and(|plan| !plan.save(parts, self.last.as_ref())) {
            effects.notice(NoticeKind::Error, "the plan is not saved: could not start a background thread");
        }
        if *settings != self.settings_sent
            && let Some(writer) = &self.settings
        {
            let before = std::mem::replace(&mut self.settings_sent, settings.clone());
            if !writer.order(Box::new((before, settings.clone()))) {
                effects.notice(NoticeKind::Error, "settings are not saved: could not start a background thread");
            }
        }
    }

    /// Waits until all that was ordered is on disk; false where that takes too long.
    pub(super) fn finish(&self) -> bool {
        let plan = self.plan.as_ref().is_none_or(PlanFile::finish);
        let site = self.site.as_ref().is_none_or(SiteWriter::finish);
        self.settings.as_ref().is_none_or(Writer::finish) && plan && site
    }

    /// Takes in what was saved, and what others changed.
    pub(super) fn catch_up(&mut self, shown: &Survey, effects: &mut Effects) {
        for change in self.plan.as_mut().map(PlanFile::changes).unwrap_or_default() {
            effects.change();
            match change {
                PlanChange::ByOthers(plans) => effects.push(Effect::PlanChanged(plans)),
                PlanChange::SetAside(path) => {
                    let text = format!("the unreadable plan is renamed to {}", path.display());
                    effects.notice(NoticeKind::News, text);
                }
                PlanChange::Failed(text) => effects.notice(NoticeKind::Error, text),
            }
        }
        for text in self.settings.as_ref().map(Writer::news).unwrap_or_default() {
            effects.notice(NoticeKind::Error, text);
        }
        let touched = self.watch.as_ref().map(Watch::changed).unwrap_or_default();
        if let Some(plan) = self.plan.as_ref().filter(|plan| touched.contains(&real(plan.path()))) {
            plan.look();
        }
        if let Some(path) = self.site_file().filter(|path| touched.contains(&real(path))) {
            self.reload(path.into(), shown, effects);
        }
    }

    /// Reads the site's file once more: what was read may be old by now.
    pub(super) fn look_again(&self, shown: &Survey, effects: &mut Effects) {
        if let Some(path) = self.site_file() {
            self.reload(path.into(), shown, effects);
        }
    }

    /// Reads the site's file again in the background.
    fn reload(&self, path: PathBuf, shown: &Survey, effects: &mut Effects) {
        let own = self.own_kit.clone();
        let known = shown.mark.sha256.clone();
        effects.start(None, move |_| {
            let source = Source::File(path);
            let mut opened = open(&source, own.as_ref());
            if opened.as_ref().is_err_and(|error| error.gone) {
                std::thread::sleep(SAVING);
                opened = open(&source, own.as_ref());
            }
            let unchanged = opened.as_ref().is_ok_and(|opened| opened.survey.mark.sha256 == known);
            Outcome::Reloaded { opened: Box::new(opened), unchanged }
        });
    }

    /// The site's file was read again. Gives the site back that is to be shown, if it is another.
    pub(super) fn reloaded(&mut self, opened: Result<Opened, OpenError>, unchanged: bool) -> Option<Opened> {
        match opened {
            Err(error) => {
                self.problems = Some(error);
                None
            }
            Ok(opened) if self.source.as_ref() != Some(&opened.source) => None,
            Ok(opened) => {
                self.problems = None;
                (!unchanged).then_some(opened)
            }
        }
    }

    /// Asks for a path, in the desktop's dialog where there is one, else in the window. Captures went into `folder` so far.
    pub(super) fn ask(&mut self, question: PathQuestion, folder: Option<&PathBuf>, effects: &mut Effects) {
        if !self.home.dialogs {
            self.question = Some(question);
            return effects.change();
        }
        if self.dialog.is_some() {
            return;
        }
        effects.change();
        let beside_site = self.site_file().and_then(Path::parent);
        let near = folder.filter(|_| question == PathQuestion::Folder).map(PathBuf::as_path).or(beside_site);
        let wait = dialog::open(question, near);
        self.dialog = Some(effects.start(None, move |_| Outcome::Chosen(question, wait())));
    }

    /// The person has closed the dialog.
    pub(super) fn chosen(&mut self, question: PathQuestion, chosen: Chosen, effects: &mut Effects) {
        self.dialog = None;
        match chosen {
            Chosen::Path(path) => effects.push(Effect::Answered(question, path)),
            Chosen::NoDialog => self.question = Some(question),
            Chosen::Nothing => effects.push(Effect::NotAnswered),
        }
    }
}
