//! What is being built? The site's text while it is edited, what is chosen, and what a hand tries.

use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::bring::{BringOptions, bring};
use crate::faults::{SiteFault, faults};
use crate::new_site::NewSite;
use crate::optics::Kit;
use crate::site::{
    LoadedSite, PlanPoint, Severity, SiteEditor, SiteProblems, Stance, TextChange, check_site, merge_outside, site_hash,
};
use crate::survey::Survey;
use crate::units::Units;

use super::camera::CameraStore;
use super::dialog::PathQuestion;
use super::effects::{Effect, Effects, SiteShow};
use super::jobs::Outcome;
use super::jobs::doubt::{DoubtKey, FoundDoubt};
use super::jobs::underlay::{LaidPicture, PictureLevels};
use super::notices::NoticeKind;
use super::shown_site::ShownSite;
use super::site_change::{Picked, SiteChange};
use super::site_file::{SiteNews, SiteSaving};
use super::underlay::{UnderlayStore, UnderlayView};
use super::work::WorkId;

/// How many texts are remembered that were written.
const MOST_WRITTEN: usize = 16;

/// What happens on the Build desk.
#[derive(Clone, Debug, PartialEq)]
pub enum BuildAction {
    /// Choose these, and nothing else.
    Choose(Vec<Picked>),
    /// Show the site as it would be after a change, while a hand is at it.
    Try(SiteChange),
    /// Show a new site that these answers make, from where one stands first, until it is let go.
    TryNew(Box<NewSite>),
    /// Show the site as it is again.
    LetGo,
    /// Change the site, and choose these if given.
    Change(SiteChange, Option<Vec<Picked>>),
    /// Put a fault of the site right, by its number.
    Mend(usize),
    /// Ask for a picture to be laid under the plan as it is shown.
    AskPicture {
        /// The middle of the plan.
        middle: PlanPoint,
        /// Its width on the ground.
        width_m: f64,
    },
    /// Lay a picture under the plan; it is copied beside the site's file.
    LayPicture(PathBuf),
    /// Ask for a file of footprints or heights.
    AskFiles,
    /// Bring what a file of footprints or heights holds into the site.
    Bring(PathBuf),
    /// Ask where a new site of this text is to be saved.
    Create(String),
    /// Save the site, or the new one that was asked about, as a new file, and open that.
    SaveAs(PathBuf),
    /// Of two versions that do not go together, keep the window's own, or else take the one on disk.
    Resolve {
        /// Whether the window's own is kept.
        keep_mine: bool,
    },
}

/// What an outside change of the file comes to.
pub(super) enum OutsideChange {
    /// It is what the window wrote itself.
    Own,
    /// The window had nothing of its own: theirs is shown.
    Theirs {
        /// What they changed.
        change: TextChange,
    },
    /// Both changes went together.
    Merged,
    /// They do not go together.
    Conflict,
    /// It is an older text of the window's own: read too early, or put back by somebody. A second look tells.
    Unsure,
}

/// The site that is built.
#[derive(Debug, Default)]
pub(super) struct BuildStore {
    editor: Option<SiteEditor>,
    path: PathBuf,
    own_kit: Option<Kit>,
    /// What lies on disk, as far as is known.
    on_disk: String,
    /// What was written last, newest last: a file that reads so was changed by nobody else.
    written: VecDeque<String>,
    /// How many texts were ordered to be written.
    orders: u64,
    /// A text of one's own from before that the file read as, though another was written since.
    suspect: Option<String>,
    saving: SiteSaving,
    /// What another program made of the file, where it does not go together with what the window did.
    theirs: Option<String>,
    chosen: Vec<Picked>,
    /// What is probably not as meant, and on which version of the site that was looked for.
    faults: (u64, Vec<SiteFault>),
    /// What the uncertainty of the subject's height comes to, and of what that was asked.
    doubt: Option<FoundDoubt>,
    /// The work that looks for it.
    doubt_work: Option<WorkId>,
    /// The text of a new site, while its place is asked for.
    new_text: Option<String>,
    /// The site as it was before a hand began to try.
    before_trial: Option<Arc<Survey>>,
    underlay: UnderlayStore,
}

impl BuildStore {
    /// Takes up the text of the site that is shown.
    pub(super) fn open(&mut self, text: &str, path: &Path, is_demo: bool, own_kit: Option<&Kit>) {
        let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy();
        *self = Self {
            editor: SiteEditor::with_kit(text, &name, own_kit).ok(),
            path: path.into(),
            own_kit: own_kit.cloned(),
            on_disk: text.to_owned(),
            saving: if is_demo { SiteSaving::Demo } else { SiteSaving::Saved },
            ..Self::default()
        };
    }

    pub(super) fn chosen(&self) -> &[Picked] {
        &self.chosen
    }

    /// What is probably not as meant on the site.
    pub(super) fn faults(&self) -> &[SiteFault] {
        &self.faults.1
    }

    /// Looks for faults of a site that has changed.
    pub(super) fn look(&mut self, site: &ShownSite, camera: &CameraStore, units: Units, effects: &mut Effects) {
        if self.faults.0 != site.filed_version() {
            self.faults = (site.filed_version(), faults(&site.filed().model));
            effects.change();
        }
        let model = &site.filed().model;
        if model.subject().all(|block| model.site.blocks[block].height_pm_m.is_none()) {
            self.doubt = None;
            return;
        }
        let key = DoubtKey {
            site: site.version(),
            stance: camera.stance().clone(),
            settings: *camera.measure_settings(),
            units,
        };
        // One at a time; a newer question is asked at the next rest.
        if self.doubt_work.is_none() && self.doubt.as_ref().is_none_or(|known| known.key != key) {
            let survey = Arc::clone(site.survey());
            self.doubt_work =
                Some(effects.start(None, move |_| Outcome::Doubt(Box::new(FoundDoubt::of(&survey, key)))));
        }
    }

    /// Takes in what the uncertainty of a height comes to.
    pub(super) fn doubt_found(&mut self, found: FoundDoubt) {
        (self.doubt, self.doubt_work) = (Some(found), None);
    }

    /// A piece of work broke.
    pub(super) fn doubt_broke(&mut self, work: WorkId) {
        self.doubt_work.take_if(|running| *running == work);
    }

    /// What becomes of the verdict if the subject is as much taller or shorter as its height is uncertain, as far as that is
    /// known of this stance on this version of the site.
    pub(super) fn doubt(&self, site: u64, from: &Stance) -> &[String] {
        let known = self.doubt.as_ref().filter(|known| known.key.site == site && known.key.stance == *from);
        known.map_or(&[], |known| &known.words)
    }

    pub(super) fn saving(&self) -> &SiteSaving {
        &self.saving
    }

    /// The text as it is to be saved; none while no site file is open.
    pub(super) fn text(&self) -> Option<&str> {
        self.editor.as_ref().map(SiteEditor::text)
    }

    /// The site without what a hand tries.
    pub(super) fn survey_before_trial(&self) -> Option<&Arc<Survey>> {
        self.before_trial.as_ref()
    }

    pub(super) fn act(&mut self, action: BuildAction, site: &ShownSite, effects: &mut Effects) {
        match action {
            BuildAction::Choose(chosen) => {
                let known = &site.filed().model.site;
                self.chosen = chosen.into_iter().filter(|picked| picked.is_on(known)).collect();
                effects.change();
            }
            BuildAction::Try(change) => self.try_out(&change, site, effects),
            BuildAction::TryNew(answers) => self.try_new(&answers, site, effects),
            BuildAction::LetGo => self.let_go(effects),
            BuildAction::Change(change, chosen) => self.change(&change, chosen, site, effects),
            BuildAction::Mend(number) => self.mend(number, site, effects),
            BuildAction::AskPicture { middle, width_m } => {
                if self.picture_folder(effects).is_some() {
                    self.underlay.ask_in(middle, width_m);
                    effects.push(Effect::Ask(PathQuestion::PictureFromAbove));
                }
            }
            BuildAction::LayPicture(path) => {
                effects.push(Effect::CloseQuestion);
                if let Some(folder) = self.picture_folder(effects) {
                    let anchor = self.editor.as_ref().and_then(|editor| editor.site().anchor.clone());
                    self.underlay.lay(path, folder, anchor, effects);
                }
            }
            BuildAction::AskFiles => effects.push(Effect::Ask(PathQuestion::FootprintsOrHeights)),
            BuildAction::Bring(path) => self.bring(path, effects),
            BuildAction::Create(text) => {
                self.new_text = Some(text);
                effects.push(Effect::Ask(PathQuestion::SaveSite));
            }
            BuildAction::SaveAs(path) => {
                let own = || self.editor.as_ref().map(|editor| editor.text().to_owned());
                if let Some(text) = self.new_text.take().or_else(own) {
                    effects.push(Effect::CreateSite { path, text });
                }
            }
            BuildAction::Resolve { keep_mine } => self.resolve(keep_mine, site, effects),
        }
    }

    /// The folder beside whose site a picture may be put; a demo has none, which is told.
    fn picture_folder(&self, effects: &mut Effects) -> Option<PathBuf> {
        if self.saving == SiteSaving::Demo || self.editor.is_none() {
            let words = "a picture lies beside the site's file: save this site as your own first";
            effects.passing_notice(NoticeKind::News, words);
            return None;
        }
        self.path.parent().map(Path::to_path_buf)
    }

    /// A picture was laid: what it changes on the site.
    pub(super) fn picture_laid(
        &mut self,
        work: WorkId,
        laid: Result<LaidPicture, String>,
        effects: &mut Effects,
    ) -> Option<BuildAction> {
        self.underlay.laid(work, laid, effects).map(|change| BuildAction::Change(change, None))
    }

    /// Reads a file of footprints or heights, in the background.
    fn bring(&self, path: PathBuf, effects: &mut Effects) {
        effects.push(Effect::CloseQuestion);
        let Some(site) = self.editor.as_ref().map(|editor| editor.site().clone()) else { return };
        let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned();
        effects.start(Some(format!("Reading {name}")), move |_| {
            let brought = bring(&[path], &BringOptions::default(), Some(&site));
            Outcome::Brought(Box::new(brought.map_err(|error| error.to_string())))
        });
    }

    /// Has the picture read that lies under the plan of the site that is shown.
    pub(super) fn follow_underlay(&mut self, site: &ShownSite, effects: &mut Effects) {
        let underlay = site.filed().model.site.underlay.as_ref().filter(|_| self.saving != SiteSaving::Demo);
        let path = underlay.and_then(|underlay| Some(self.path.parent()?.join(&underlay.file)));
        self.underlay.follow(path, effects);
    }

    /// The picture that lies under the plan was read.
    pub(super) fn underlay_read(&mut self, work: WorkId, levels: Result<PictureLevels, String>) {
        self.underlay.was_read(work, levels);
    }

    pub(super) fn broke(&mut self, work: WorkId) {
        self.underlay.broke(work);
    }

    pub(super) fn underlay<'a>(&'a self, site: &'a ShownSite) -> Option<UnderlayView<'a>> {
        site.filed().model.site.underlay.as_ref().map(|underlay| self.underlay.view(underlay))
    }

    /// Shows the site as it would be; what cannot be is not shown, and the hand goes on.
    fn try_out(&mut self, change: &SiteChange, site: &ShownSite, effects: &mut Effects) {
        let Some(editor) = &self.editor else { return };
        let Some(tried) = change.tried_on(editor.site()) else { return };
        if check_site(&tried).iter().any(|finding| finding.severity == Severity::Error) {
            return;
        }
        let before = self.before_trial.get_or_insert_with(|| Arc::clone(site.filed()));
        effects.push(Effect::ShowSite(Arc::new(before.tried(tried, self.own_kit.as_ref())), SiteShow::Tried));
        effects.change();
    }

    /// Shows a new site from its first stance.
    fn try_new(&mut self, answers: &NewSite, site: &ShownSite, effects: &mut Effects) {
        let Some(tried) = answers.site().ok() else { return };
        let Some(stance) = tried.stances.first().cloned() else { return };
        let before = self.before_trial.get_or_insert_with(|| Arc::clone(site.filed()));
        let survey = Arc::new(before.tried(tried, self.own_kit.as_ref()));
        effects.push(Effect::ShowSite(survey, SiteShow::Visited(Box::new(stance))));
        effects.change();
    }

    fn let_go(&mut self, effects: &mut Effects) {
        if let Some(before) = self.before_trial.take() {
            effects.push(Effect::ShowSite(before, SiteShow::Tried));
            effects.change();
        }
    }

    fn mend(&mut self, number: usize, site: &ShownSite, effects: &mut Effects) {
        let (Some(editor), Some(fault)) = (&mut self.editor, self.faults.1.get(number)) else { return };
        let Some(mend) = &fault.mend else { return };
        match mend.make(editor) {
            Ok(change) => {
                let words = mend.label.to_owned();
                effects.push(Effect::SiteStep { change, words });
                self.show(site, effects);
            }
            Err(error) => effects.passing_notice(NoticeKind::Error, error.to_string()),
        }
    }

    fn change(&mut self, change: &SiteChange, chosen: Option<Vec<Picked>>, site: &ShownSite, effects: &mut Effects) {
        let Some(editor) = &mut self.editor else {
            return effects.passing_notice(NoticeKind::News, "the site file has an error; mend it first");
        };
        let words = change.words(editor.site());
        match change.make(editor) {
            Ok(made) if made.is_nothing() => self.let_go(effects),
            Ok(made) => {
                self.before_trial = None;
                effects.push(Effect::SiteStep { change: made, words });
                self.show(site, effects);
                if let Some(chosen) = chosen {
                    self.chosen = chosen;
                }
                self.keep_chosen();
            }
            Err(error) => {
                self.let_go(effects);
                effects.passing_notice(NoticeKind::Error, error.to_string());
            }
        }
    }

    /// Goes one step of the history, back or forth.
    pub(super) fn retrace(&mut self, change: &TextChange, site: &ShownSite, effects: &mut Effects) {
        let Some(editor) = &mut self.editor else { return };
        self.before_trial = None;
        match editor.apply(change) {
            Ok(_) => {
                self.show(site, effects);
                self.keep_chosen();
            }
            Err(error) => effects.notice(NoticeKind::Error, format!("this step cannot be taken back: {error}")),
        }
    }

    /// The file was changed by somebody, or by this window.
    pub(super) fn changed_outside(&mut self, text: &str, site: &ShownSite, effects: &mut Effects) -> OutsideChange {
        let Some(editor) = &mut self.editor else { return OutsideChange::Theirs { change: TextChange::default() } };
        let mine = editor.text().to_owned();
        if text == mine || text == self.on_disk {
            self.suspect = None;
            return OutsideChange::Own;
        }
        if self.written.iter().any(|written| written == text) {
            if self.saving == SiteSaving::Saving {
                return OutsideChange::Own;
            }
            if self.suspect.as_deref() != Some(text) {
                self.suspect = Some(text.to_owned());
                return OutsideChange::Unsure;
            }
        }
        self.suspect = None;
        self.before_trial = None;
        if mine == self.on_disk {
            let change = TextChange::between(&mine, text);
            self.adopt(text);
            return OutsideChange::Theirs { change };
        }
        let merged = merge_outside(&self.on_disk, &mine, text);
        self.on_disk = text.to_owned();
        self.written.clear();
        let together = merged.map_err(|conflict| conflict.to_string()).and_then(|merged| {
            let change = TextChange::between(&mine, &merged);
            editor.apply(&change).map_err(|error| error.to_string())?;
            Ok(change)
        });
        match together {
            Ok(change) => {
                effects.push(Effect::SiteStep { change, words: "Changed outside".into() });
                self.show(site, effects);
                OutsideChange::Merged
            }
            Err(why) => {
                self.theirs = Some(text.to_owned());
                self.saving = SiteSaving::Conflict(why);
                effects.change();
                OutsideChange::Conflict
            }
        }
    }

    fn resolve(&mut self, keep_mine: bool, site: &ShownSite, effects: &mut Effects) {
        let (Some(editor), Some(theirs)) = (&mut self.editor, self.theirs.take()) else { return };
        if !keep_mine {
            let change = TextChange::between(editor.text(), &theirs);
            if let Err(error) = editor.apply(&change) {
                self.theirs = Some(theirs);
                return effects.notice(NoticeKind::Error, error.to_string());
            }
            effects.push(Effect::SiteStep { change, words: "Took the file on disk".into() });
        }
        self.saving = SiteSaving::Saved;
        self.show(site, effects);
    }

    /// Another text is the site's, which lies on disk.
    fn adopt(&mut self, text: &str) {
        let name = self.path.file_name().unwrap_or(self.path.as_os_str()).to_string_lossy().into_owned();
        self.editor = SiteEditor::with_kit(text, &name, self.own_kit.as_ref()).ok();
        self.on_disk = text.to_owned();
        self.written.clear();
        self.keep_chosen();
    }

    /// Shows the site as its text now reads, and orders it to be saved.
    fn show(&mut self, shown: &ShownSite, effects: &mut Effects) {
        let Some(editor) = &self.editor else { return };
        let text = editor.text().to_owned();
        let loaded = LoadedSite {
            site: editor.site().clone(),
            path: self.path.clone(),
            text: text.clone(),
            hash: site_hash(&text),
            warnings: SiteProblems::default(),
        };
        let survey = Arc::new(shown.filed().changed(loaded, self.own_kit.as_ref()));
        effects.push(Effect::ShowSite(survey, SiteShow::Kept));
        effects.change();
        match self.saving {
            SiteSaving::Demo | SiteSaving::Conflict(_) => {}
            SiteSaving::Saved | SiteSaving::Saving | SiteSaving::Failed(_) => {
                self.saving = SiteSaving::Saving;
                self.written.push_back(text.clone());
                if self.written.len() > MOST_WRITTEN {
                    self.written.pop_front();
                }
                self.orders += 1;
                effects.push(Effect::SaveSite { base: self.on_disk.clone(), text, number: self.orders });
            }
        }
    }

    /// A text was written, or could not be.
    pub(super) fn saved(&mut self, SiteNews { number, text, outcome }: SiteNews, effects: &mut Effects) {
        effects.change();
        match outcome {
            Ok(()) => {
                if number == self.orders && self.saving == SiteSaving::Saving {
                    self.saving = SiteSaving::Saved;
                }
                self.on_disk = text;
            }
            Err(why) => {
                effects.notice(NoticeKind::Error, format!("the site is not saved: {why}; your changes stay open here"));
                self.saving = SiteSaving::Failed(why);
            }
        }
    }

    /// What is gone is not chosen any more.
    fn keep_chosen(&mut self) {
        if let Some(editor) = &self.editor {
            self.chosen.retain(|picked| picked.is_on(editor.site()));
        }
    }
}
