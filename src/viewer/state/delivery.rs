//! What is handed over? Stills, field cards, client sheets, places, sequences and comparisons: prepared, looked at, written.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::handover::PAGE_NAME;
use crate::handover::capture::Shot;
use crate::handover::deliver::{
    DeliveryChoice, DeliveryError, DeliveryForm, DeliveryKind, DeliveryOptions, DeliveryRequest, Destination, IfExists,
    InTheWay, Prepared, StancesTaken, record_beside,
};
use crate::light::TideTable;
use crate::plan::{Print, PrintId};
use crate::site::Stance;
use crate::survey::Survey;

use super::arrangement::DeskName;
use super::camera::CameraStore;
use super::clock::{now, today};
use super::dialog::PathQuestion;
use super::effects::{Effect, Effects};
use super::jobs::Outcome;
use super::jobs::prepare::{PreparedFor, prepare};
use super::jobs::write::{DeliveryOutcome, take_still, write};
use super::notices::NoticeKind;
use super::opening::Source;
use super::prints::PrintStore;
use super::settings::SettingStore;
use super::shown_site::ShownSite;
use super::work::WorkId;

pub use super::jobs::write::{BlockedDelivery, StillFiles};

/// A capture as shown has at least so many pixels along its longer side, however small the finder is: 17 cm at 300 to the inch.
const USEFUL_PX: f64 = 2000.0;

/// What happens on the Hand over desk, and to stills.
#[derive(Clone, Debug, PartialEq)]
pub enum DeliveryAction {
    /// Show another kind of thing.
    ShowPage(DeliveryKind),
    /// Change what goes in and how.
    SetOptions(Box<DeliveryOptions>),
    /// Choose the file of the user's name, address and mark in a dialog.
    ChooseBrand,
    /// That file, or none.
    Brand(Option<PathBuf>),
    /// Write a thing into the chosen folder.
    Write(DeliveryForm),
    /// Decide what happens to what is in the way of it; without an answer nothing is written.
    Resolve(Option<IfExists>),
    /// Take a still and write its record.
    Capture {
        /// With all of the body's pixels, not only those shown.
        full: bool,
        /// Where to; the chosen folder unless given.
        folder: Option<PathBuf>,
    },
    /// Open what was written in whatever the desktop opens such files with; of a sheet's folder the page.
    Open(PathBuf),
    /// Show the folder that it lies in.
    ShowInFolder(PathBuf),
    /// Choose the folder for captures in a dialog.
    ChooseFolder,
    /// Captures go here.
    Folder(PathBuf),
}

/// What the Hand over desk shows.
#[derive(Clone, Debug)]
pub struct DeliveryView<'a> {
    /// Which kind of thing.
    pub kind: DeliveryKind,
    /// How it is put together.
    pub options: &'a DeliveryOptions,
    /// It, prepared, or why it cannot be; absent while it is being prepared.
    pub prepared: Option<&'a Result<Prepared, String>>,
    /// Another number for every other thing.
    pub version: u64,
    /// Whether what is shown is being prepared anew.
    pub preparing: bool,
    /// What is in the way of what was to be written.
    pub in_the_way: Option<&'a BlockedDelivery>,
    /// What was written since the site was opened, the newest last.
    pub written: &'a [PathBuf],
    /// The prints that a sequence runs between.
    pub ends: [Option<PrintId>; 2],
}

/// What delivery looks at of the other stores.
#[derive(Clone, Copy)]
pub(super) struct DeliveryInputs<'a> {
    pub(super) site: &'a ShownSite,
    pub(super) source: Option<&'a Source>,
    pub(super) camera: &'a CameraStore,
    pub(super) prints: &'a PrintStore,
    pub(super) settings: &'a SettingStore,
    /// How the water stands, where a tide table is known.
    pub(super) tide: Option<&'a Arc<TideTable>>,
}

impl DeliveryInputs<'_> {
    /// The site as a thing is made of it: a day has its own tides.
    fn survey(&self, kind: DeliveryKind) -> Arc<Survey> {
        Arc::clone(if kind == DeliveryKind::Day { self.site.filed() } else { self.site.survey() })
    }

    /// A path that is not written out in full lies beside the site.
    fn beside_site(&self, path: &Path) -> PathBuf {
        match self.source {
            Some(Source::File(site)) => site.parent().map_or_else(|| path.into(), |beside| beside.join(path)),
            Some(Source::Scene(_)) | None => path.into(),
        }
    }
}

/// What waits for the folder that it is written into.
#[derive(Clone, Copy, Debug)]
enum Waiting {
    /// A still, in full or not.
    Capture(bool),
    Write(DeliveryForm),
}

/// What is handed over, and where to.
#[derive(Debug)]
pub(super) struct DeliveryStore {
    kind: DeliveryKind,
    options: DeliveryOptions,
    /// Where it is written, as the plan keeps it.
    folder: Option<PathBuf>,
    prepared: Option<(PreparedFor, Result<Prepared, String>)>,
    preparing: Option<(WorkId, PreparedFor)>,
    /// The key of the textures of what is prepared: the pictures in it are too large to be compared in every frame.
    version: u64,
    blocked: Option<BlockedDelivery>,
    waiting: Option<Waiting>,
    written: Vec<PathBuf>,
    captures: Vec<StillFiles>,
    /// How many pixels of the frame are shown.
    shown_px: Option<(u32, u32)>,
}

impl DeliveryStore {
    pub(super) fn new() -> Self {
        Self {
            kind: DeliveryKind::default(),
            options: DeliveryOptions::on(today()),
            folder: None,
            prepared: None,
            preparing: None,
            version: 0,
            blocked: None,
            waiting: None,
            written: Vec::new(),
            captures: Vec::new(),
            shown_px: None,
        }
    }

    /// What the Hand over desk shows.
    pub(super) fn view(&self, prints: &PrintStore) -> DeliveryView<'_> {
        DeliveryView {
            kind: self.kind,
            options: &self.options,
            prepared: self.prepared.as_ref().filter(|(of, _)| of.kind == self.kind).map(|(_, prepared)| prepared),
            version: self.version,
            preparing: self.preparing.is_some(),
            in_the_way: self.blocked.as_ref(),
            written: &self.written,
            ends: self.ends(prints),
        }
    }

    /// Whether a print goes into sheets and places.
    pub(super) fn goes_in(&self, id: PrintId) -> bool {
        !self.options.left_out.contains(&id)
    }

    pub(super) fn folder(&self) -> Option<&PathBuf> {
        self.folder.as_ref()
    }

    /// The stills in the folder, as far as they were taken here or lay there when the site was opened.
    pub(super) fn captures(&self) -> &[StillFiles] {
        &self.captures
    }

    /// So many pixels of the frame are shown: the size of a capture that is not taken in full.
    pub(super) fn shown_at(&mut self, width_px: u32, height_px: u32) {
        if width_px > 0 && height_px > 0 {
            self.shown_px = Some((width_px, height_px));
        }
    }

    /// Another site is shown; the brand stays.
    pub(super) fn open(&mut self, effects: &mut Effects) {
        if let Some((work, _)) = self.preparing.take() {
            effects.push(Effect::Cancel(work));
        }
        let options = DeliveryOptions { brand: self.options.brand.take(), ..DeliveryOptions::on(today()) };
        let (kind, version, shown_px) = (self.kind, self.version + 1, self.shown_px);
        *self = Self { kind, options, version, shown_px, ..Self::new() };
    }

    /// What the plan of the site that is shown keeps of the folder.
    pub(super) fn set_folder(&mut self, folder: Option<PathBuf>) {
        self.folder = folder;
    }

    pub(super) fn act(&mut self, action: DeliveryAction, inputs: &DeliveryInputs<'_>, effects: &mut Effects) {
        match action {
            DeliveryAction::ShowPage(kind) => {
                effects.change_if(std::mem::replace(&mut self.kind, kind) != kind);
                self.options.made = now();
            }
            DeliveryAction::SetOptions(options) => {
                effects.change_if(self.options != *options);
                self.options = *options;
            }
            DeliveryAction::ChooseBrand => effects.push(Effect::Ask(PathQuestion::Brand)),
            DeliveryAction::Brand(brand) => {
                effects.push(Effect::CloseQuestion);
                let brand = brand.map(|path| inputs.beside_site(&path));
                effects.change_if(self.options.brand != brand);
                self.options.brand = brand;
            }
            DeliveryAction::Write(form) => self.write(form, inputs, effects),
            DeliveryAction::Resolve(answer) => self.resolve(answer, inputs, effects),
            DeliveryAction::Capture { full, folder } => {
                if let Some(folder) = folder {
                    self.folder = Some(folder);
                    effects.push(Effect::CloseQuestion);
                }
                self.capture(full, inputs, effects);
            }
            DeliveryAction::Open(path) => {
                let page = path.join(PAGE_NAME);
                open_outside(if page.is_file() { &page } else { &path }, effects);
            }
            DeliveryAction::ShowInFolder(path) => open_outside(path.parent().unwrap_or(&path), effects),
            DeliveryAction::ChooseFolder => effects.push(Effect::Ask(PathQuestion::Folder)),
            DeliveryAction::Folder(folder) => {
                self.folder = Some(folder);
                effects.push(Effect::CloseQuestion);
                effects.change();
                self.list_captures(inputs);
                match self.waiting.take() {
                    Some(Waiting::Capture(full)) => self.capture(full, inputs, effects),
                    Some(Waiting::Write(form)) => self.write(form, inputs, effects),
                    None => {}
                }
            }
        }
    }

    /// Nobody answers where it is to be written.
    pub(super) fn stop_waiting(&mut self) {
        self.waiting = None;
    }

    fn capture(&mut self, full: bool, inputs: &DeliveryInputs<'_>, effects: &mut Effects) {
        effects.change();
        let Some(folder) = &self.folder else {
            // The answer takes the picture.
            self.waiting = Some(Waiting::Capture(full));
            return effects.push(Effect::Ask(PathQuestion::Folder));
        };
        let survey = Arc::clone(inputs.site.survey());
        let (stance, straighten) = (inputs.camera.stance().clone(), inputs.camera.straighten());
        let stem = DeliveryKind::Still.file_stem(&survey.model.site.name, std::slice::from_ref(&stance));
        let name = format!("{stem}.png");
        // Of a stance there may be any number of stills.
        let (path, if_exists) = (inputs.beside_site(folder).join(name), IfExists::KeepBoth);
        let destination = Destination { path, if_exists, make_folder: true };
        let mut settings = *inputs.camera.measure_settings();
        settings.measures.tilt_left = straighten.map_or(settings.measures.tilt_left, |share| 1.0 - share);
        let theme = inputs.settings.theme();
        let DeliveryOptions { look, surround, depth, crop, before_after, .. } = self.options;
        // The final picture is straightened by itself.
        let straightened = straighten.is_some() && !crop && !before_after;
        let shot = Shot { theme, look, straightened, surround, depth, crop, before_after, ..Shot::default() };
        let within_px = (!full).then(|| useful_px(self.shown_px));
        let request = DeliveryRequest::Still { stance, settings, shot, within_px };
        let title = format!("Rendering a still of {}", survey.model.site.name);
        effects.start(Some(title), move |progress| {
            Outcome::Captured(take_still(&survey, &request, &destination, progress))
        });
    }

    /// A still was taken, or nothing where it was stopped.
    pub(super) fn captured(&mut self, taken: Result<Option<StillFiles>, String>, effects: &mut Effects) {
        match taken {
            Ok(Some(capture)) => {
                let text = format!("saved {} with its record", capture.picture.display());
                effects.notice(NoticeKind::News, text);
                self.captures.push(capture);
            }
            Ok(None) => effects.notice(NoticeKind::News, "the still was cancelled; nothing is written"),
            Err(text) => effects.notice(NoticeKind::Error, text),
        }
    }

    /// Lists the stills that lie in the chosen folder.
    pub(super) fn list_captures(&mut self, inputs: &DeliveryInputs<'_>) {
        self.captures.clear();
        let Some(folder) = self.folder.as_ref().map(|folder| inputs.beside_site(folder)) else { return };
        // A folder that is not there yet has no captures.
        let Ok(entries) = std::fs::read_dir(folder) else { return };
        let mut found: Vec<StillFiles> = entries
            .flatten()
            .map(|entry| entry.path())
            .filter_map(|picture| {
                let record = record_beside(&picture);
                (picture.extension()? == "png" && record.is_file()).then_some(StillFiles { picture, record })
            })
            .collect();
        found.sort_by(|a, b| a.picture.cmp(&b.picture));
        self.captures = found;
    }

    /// The prints that a sequence runs between: those chosen, else the first and the last.
    fn ends(&self, prints: &PrintStore) -> [Option<PrintId>; 2] {
        let exists = |id: &PrintId| prints.print(*id).is_some();
        let [from, to] = self.options.ends.map(|id| id.filter(exists));
        let from = from.or_else(|| prints.prints().first().map(|print| print.id));
        let others = prints.prints().iter().rev().map(|print| print.id);
        let to = to.or_else(|| others.into_iter().find(|id| Some(*id) != from));
        [from, to]
    }

    /// The prints that go into sheets, places and comparisons, in their order.
    fn included<'a>(&'a self, prints: &'a PrintStore) -> impl Iterator<Item = &'a Print> {
        prints.prints().iter().filter(|print| self.goes_in(print.id))
    }

    /// The stances that go into sheets and places: the chosen prints by their names, or the present one without prints.
    fn going_in(&self, inputs: &DeliveryInputs<'_>) -> Vec<Stance> {
        if inputs.prints.prints().is_empty() {
            return vec![inputs.camera.stance().clone()];
        }
        let named = |print: &Print| {
            let note = if print.note.is_empty() { print.stance.note.clone() } else { Some(print.note.clone()) };
            Stance { name: print.name.clone(), note, ..print.stance.clone() }
        };
        self.included(inputs.prints).map(named).collect()
    }

    /// What a sheet says of each stance that goes in, in its planner's words.
    fn said(&self, inputs: &DeliveryInputs<'_>) -> Vec<String> {
        let of = |print: &Print| {
            let said = self.options.said.iter().find(|(id, _)| *id == print.id);
            said.map_or_else(String::new, |(_, said)| said.clone())
        };
        self.included(inputs.prints).map(of).collect()
    }

    fn stances_of(&self, kind: DeliveryKind, inputs: &DeliveryInputs<'_>) -> Vec<Stance> {
        match kind.takes() {
            StancesTaken::Current => vec![inputs.camera.stance().clone()],
            StancesTaken::Included => self.going_in(inputs),
            StancesTaken::Ends => {
                let end = |id: Option<PrintId>| {
                    let print = inputs.prints.print(id?)?;
                    Some(Stance { name: print.name.clone(), ..print.stance.clone() })
                };
                self.ends(inputs.prints).into_iter().filter_map(end).collect()
            }
        }
    }

    fn prepared_for(&self, kind: DeliveryKind, inputs: &DeliveryInputs<'_>) -> PreparedFor {
        PreparedFor {
            kind,
            choice: DeliveryChoice {
                options: self.options.clone(),
                stances: self.stances_of(kind, inputs),
                said: self.said(inputs),
                settings: *inputs.camera.measure_settings(),
                theme: inputs.settings.theme(),
                units: inputs.settings.units(),
                tide: inputs.tide.cloned(),
            },
            site: inputs.site.version(),
            sun: inputs.camera.measured().sun,
        }
    }

    /// Prepares what is shown, once the camera has come to rest; what is prepared already stays.
    pub(super) fn prepare(&mut self, inputs: &DeliveryInputs<'_>, effects: &mut Effects) {
        let is_shown = inputs.settings.desk_name() == DeskName::HandOver && self.kind != DeliveryKind::Still;
        if !is_shown || inputs.camera.is_moving() {
            return;
        }
        let of = self.prepared_for(self.kind, inputs);
        let same = |known: Option<&PreparedFor>| known == Some(&of);
        if same(self.prepared.as_ref().map(|(known, _)| known)) || same(self.preparing.as_ref().map(|(_, known)| known))
        {
            return;
        }
        if let Some((work, _)) = self.preparing.take() {
            effects.push(Effect::Cancel(work));
        }
        let (survey, wanted) = (inputs.survey(self.kind), of.clone());
        let work = effects.start(None, move |progress| Outcome::Prepared(prepare(&survey, &wanted, progress)));
        self.preparing = Some((work, of));
    }

    /// Something was prepared; `None` where it was stopped or failed.
    pub(super) fn prepared(&mut self, work: WorkId, made: Option<Result<Prepared, String>>) {
        let Some((_, of)) = self.preparing.take_if(|(id, _)| *id == work) else { return };
        let made = made.unwrap_or_else(|| Err("preparing it failed; choose it again".into()));
        self.prepared = Some((of, made));
        self.version += 1;
    }

    /// A piece of work broke.
    pub(super) fn broke(&mut self, work: WorkId) {
        self.prepared(work, None);
    }

    /// Writes a thing into the chosen folder; asks for the folder where none is chosen.
    fn write(&mut self, form: DeliveryForm, inputs: &DeliveryInputs<'_>, effects: &mut Effects) {
        effects.change();
        let Some(folder) = &self.folder else {
            self.waiting = Some(Waiting::Write(form));
            return effects.push(Effect::Ask(PathQuestion::Folder));
        };
        let path = inputs.beside_site(folder).join(self.name_of(form, inputs));
        self.write_at(form, path, IfExists::Refuse, inputs, effects);
    }

    /// What a thing is called in its folder.
    fn name_of(&self, form: DeliveryForm, inputs: &DeliveryInputs<'_>) -> String {
        let (kind, site) = (form.kind(), &inputs.site.survey().model.site.name);
        let stem = kind.file_stem(site, &self.stances_of(kind, inputs));
        format!("{stem}{}", form.ending())
    }

    fn write_at(
        &mut self,
        form: DeliveryForm,
        path: PathBuf,
        if_exists: IfExists,
        inputs: &DeliveryInputs<'_>,
        effects: &mut Effects,
    ) {
        let destination = Destination { path, if_exists, make_folder: true };
        self.blocked = None;
        // Looked at here too, so that the question comes at once.
        if let Err(DeliveryError::InTheWay(InTheWay { path })) = destination.check(form.kind()) {
            self.blocked = Some(BlockedDelivery { form, path });
            return;
        }
        let of = self.prepared_for(form.kind(), inputs);
        let known = self.prepared.as_ref().filter(|(known, _)| *known == of);
        let known = known.and_then(|(_, prepared)| prepared.as_ref().ok()).cloned();
        let survey = inputs.survey(form.kind());
        let title = format!("Saving {}", destination.path.file_name().unwrap_or_default().to_string_lossy());
        effects
            .start(Some(title), move |progress| Outcome::Written(write(&survey, &of, known, &destination, progress)));
    }

    /// Decides what happens to what is in the way; nothing is written without an answer.
    fn resolve(&mut self, answer: Option<IfExists>, inputs: &DeliveryInputs<'_>, effects: &mut Effects) {
        let Some(BlockedDelivery { form, path }) = self.blocked.take() else { return };
        effects.change();
        if let Some(if_exists) = answer {
            self.write_at(form, path, if_exists, inputs, effects);
        }
    }

    pub(super) fn written(&mut self, outcome: DeliveryOutcome, effects: &mut Effects) {
        match outcome {
            DeliveryOutcome::Done { path, text } => {
                effects.notice(NoticeKind::News, text);
                self.written.retain(|known| *known != path);
                self.written.push(path);
            }
            DeliveryOutcome::Blocked(blocked) => self.blocked = Some(blocked),
            DeliveryOutcome::Cancelled => effects.notice(NoticeKind::News, "it was cancelled; nothing is written"),
            DeliveryOutcome::Failed(text) => effects.notice(NoticeKind::Error, text),
        }
    }
}

/// Opens a file or folder in whatever the desktop opens it with.
fn open_outside(path: &Path, effects: &mut Effects) {
    if let Err(error) = open::that_detached(path) {
        let text = format!("{} cannot be opened from here: {error}; open it in your file manager", path.display());
        effects.notice(NoticeKind::Error, text);
    }
}

/// The pixels of a capture as shown: those of the finder, or as many more as make it useful.
fn useful_px(shown_px: Option<(u32, u32)>) -> (u32, u32) {
    let (width_px, height_px) = shown_px.unwrap_or((1, 1));
    let times = (USEFUL_PX / f64::from(width_px.max(height_px))).max(1.0);
    let more = |side_px: u32| (f64::from(side_px) * times).round() as u32;
    (more(width_px), more(height_px))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_capture_as_shown_is_never_small() {
        assert_eq!(useful_px(Some((330, 500))), (1320, 2000));
        assert_eq!(useful_px(Some((3000, 2000))), (3000, 2000));
        assert_eq!(useful_px(None), (2000, 2000));
    }
}
