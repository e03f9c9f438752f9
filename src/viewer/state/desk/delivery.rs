//! What is handed over? Field cards, client sheets, places and sequences: prepared beside the window, looked at, written.

use std::path::PathBuf;
use std::sync::Arc;

use crate::handover::deliver::{
    DeliveredContent, DeliveryError, DeliveryForm, DeliveryKind, DeliveryRequest, Destination, IfExists, InTheWay,
    Prepared, deliver, file_stem,
};
use crate::handover::sequence::{ANIMATED, Sequence};
use crate::handover::{Brand, DocumentSettings, MOST_STANCES, PAGE_NAME, PAPER_NAME, SheetError};
use crate::place::Day;
use crate::plan::PrintId;
use crate::progress::Progress;
use crate::site::{Stance, Sun};
use crate::survey::{MeasureSettings, Survey};
use crate::theme::Theme;
use crate::units::Units;
use crate::viewer::state::work::WorkId;

use super::Asking;
use super::Desk;
use super::DeskName;
use super::NoticeKind;
use super::Outcome;
use super::today;

/// How what is handed over is put together: what goes in, whose name is on it.
#[derive(Clone, Debug, PartialEq)]
pub struct DeliveryOptions {
    /// The day that cards and sheets are for.
    pub day: Option<Day>,
    /// Prints that stay out of sheets and places.
    pub left_out: Vec<PrintId>,
    /// The file of the user's name, address and logo.
    pub brand: Option<PathBuf>,
    /// The sheet's title; the brand's, or the site's name where it is empty.
    pub title: String,
    /// The prints that a sequence runs between; the first and the last unless chosen.
    pub ends: [Option<PrintId>; 2],
    /// How many frames a sequence has.
    pub frames: u32,
    /// Pixels across each.
    pub width_px: u32,
    /// Whether verticals, sides and the horizon are drawn over each frame.
    pub overlay: bool,
}

impl DeliveryOptions {
    fn first() -> Self {
        Self {
            day: today(),
            left_out: Vec::new(),
            brand: None,
            title: String::new(),
            ends: [None, None],
            frames: 48,
            width_px: 720,
            overlay: true,
        }
    }
}

/// What a thing that is prepared depends on.
#[derive(Clone, Debug, PartialEq)]
struct PreparedFor {
    kind: DeliveryKind,
    stances: Vec<Stance>,
    site: u64,
    sun: Option<Sun>,
    measure_settings: MeasureSettings,
    options: DeliveryOptions,
    theme: Theme,
    units: Units,
}

impl PreparedFor {
    /// What is asked of the core; reads the brand's file, so it belongs beside the window.
    fn request(&self) -> Result<DeliveryRequest, String> {
        let no_day = || "the computer's clock gives no day; write one".to_owned();
        let (settings, units) = (self.measure_settings, self.units);
        let document = || Ok::<_, String>(DocumentSettings { day: self.options.day.ok_or_else(no_day)?, units });
        Ok(match self.kind {
            DeliveryKind::Still => return Err("a still is taken, not prepared".into()),
            DeliveryKind::Card => {
                let [stance] = self.stances.as_slice() else { return Err("a card is for one stance".into()) };
                DeliveryRequest::Card { stance: stance.clone(), settings, document: document()? }
            }
            DeliveryKind::Sheet => {
                let mut brand = match &self.options.brand {
                    Some(path) => Brand::read(path).map_err(|error| error.to_string())?,
                    None => Brand::default(),
                };
                let title = self.options.title.trim();
                if !title.is_empty() {
                    brand.title = Some(title.to_owned());
                }
                DeliveryRequest::Sheet { stances: self.stances.clone(), settings, brand, document: document()? }
            }
            DeliveryKind::Places => DeliveryRequest::Places { stances: self.stances.clone() },
            DeliveryKind::Sequence => {
                let [from, to] = self.stances.as_slice() else {
                    return Err("a sequence runs between two prints; pin two stances first".into());
                };
                DeliveryRequest::Sequence(Sequence {
                    from: from.clone(),
                    to: to.clone(),
                    frames: self.options.frames,
                    width_px: self.options.width_px,
                    samples: 4,
                    theme: self.theme,
                    overlay: self.options.overlay,
                    per_second: 12,
                    units,
                })
            }
            DeliveryKind::Comparison => DeliveryRequest::Comparison { stances: self.stances.clone(), settings },
        })
    }
}

/// Something that is there already, while nobody has decided what becomes of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BlockedDelivery {
    /// In which form the new thing is to be written.
    pub form: DeliveryForm,
    /// The file or folder that is there.
    pub path: PathBuf,
}

/// What writing came to.
pub(super) enum DeliveryOutcome {
    Done { path: PathBuf, text: String },
    Blocked(BlockedDelivery),
    Cancelled,
    Failed(String),
}

/// Everything the desk knows of handing over.
pub(super) struct DeliveryState {
    kind: DeliveryKind,
    options: DeliveryOptions,
    prepared: Option<(PreparedFor, Result<Prepared, String>)>,
    preparing: Option<(WorkId, PreparedFor)>,
    version: u64,
    blocked: Option<BlockedDelivery>,
    /// What is to be written once a folder is chosen.
    pub(super) waits_for_folder: Option<DeliveryForm>,
    written: Vec<PathBuf>,
}

impl Default for DeliveryState {
    fn default() -> Self {
        Self {
            kind: DeliveryKind::default(),
            options: DeliveryOptions::first(),
            prepared: None,
            preparing: None,
            version: 0,
            blocked: None,
            waits_for_folder: None,
            written: Vec::new(),
        }
    }
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

impl Desk {
    /// What the Hand over desk shows.
    pub fn delivery(&self) -> DeliveryView<'_> {
        let state = &self.delivery;
        DeliveryView {
            kind: state.kind,
            options: &state.options,
            prepared: state.prepared.as_ref().filter(|(of, _)| of.kind == state.kind).map(|(_, prepared)| prepared),
            version: state.version,
            preparing: state.preparing.is_some(),
            in_the_way: state.blocked.as_ref(),
            written: &state.written,
            ends: self.ends(),
        }
    }

    /// Whether a print goes into sheets and places.
    pub fn goes_in(&self, id: PrintId) -> bool {
        !self.delivery.options.left_out.contains(&id)
    }

    /// The prints that a sequence runs between: those chosen, else the first and the last.
    fn ends(&self) -> [Option<PrintId>; 2] {
        let prints = &self.plan.prints;
        let exists = |id: &PrintId| self.plan.print(*id).is_some();
        let [from, to] = self.delivery.options.ends.map(|id| id.filter(exists));
        let from = from.or_else(|| prints.first().map(|print| print.id));
        let to = to.or_else(|| prints.iter().rev().map(|print| print.id).find(|id| Some(*id) != from));
        [from, to]
    }

    /// The stances that go into sheets and places: the chosen prints by their names, or the present one without prints.
    fn going_in(&self) -> Vec<Stance> {
        let named = |print: &crate::plan::Print| {
            let note = if print.note.is_empty() { print.stance.note.clone() } else { Some(print.note.clone()) };
            Stance { name: print.name.clone(), note, ..print.stance.clone() }
        };
        let chosen: Vec<Stance> = self.plan.prints.iter().filter(|print| self.goes_in(print.id)).map(named).collect();
        if self.plan.prints.is_empty() { vec![self.stance.clone()] } else { chosen }
    }

    fn stances_of(&self, kind: DeliveryKind) -> Vec<Stance> {
        match kind {
            DeliveryKind::Still | DeliveryKind::Card => vec![self.stance.clone()],
            DeliveryKind::Sheet | DeliveryKind::Places | DeliveryKind::Comparison => self.going_in(),
            DeliveryKind::Sequence => {
                let end = |id: Option<PrintId>| {
                    let print = self.plan.print(id?)?;
                    Some(Stance { name: print.name.clone(), ..print.stance.clone() })
                };
                self.ends().into_iter().filter_map(end).collect()
            }
        }
    }

    fn prepared_for(&self, kind: DeliveryKind) -> PreparedFor {
        PreparedFor {
            kind,
            stances: self.stances_of(kind),
            site: self.site_version,
            sun: self.sun(),
            measure_settings: self.measure_settings,
            options: self.delivery.options.clone(),
            theme: self.settings.theme,
            units: self.settings.units,
        }
    }

    /// Chooses what is handed over.
    pub(super) fn show_delivery(&mut self, kind: DeliveryKind) -> bool {
        std::mem::replace(&mut self.delivery.kind, kind) != kind
    }

    /// Changes how it is put together.
    pub(super) fn set_delivery_options(&mut self, options: &DeliveryOptions) -> bool {
        let changed = self.delivery.options != *options;
        self.delivery.options.clone_from(options);
        changed
    }

    pub(super) fn set_brand(&mut self, brand: Option<PathBuf>) -> bool {
        self.asking = None;
        let brand = brand.map(|path| self.beside_site(&path));
        std::mem::replace(&mut self.delivery.options.brand, brand.clone()) != brand
    }

    /// Prepares what is shown, once nobody moves; what is prepared already stays.
    pub(super) fn prepare_delivery(&mut self) {
        let kind = self.delivery.kind;
        if self.desk_name != DeskName::HandOver || kind == DeliveryKind::Still || self.moving {
            return;
        }
        let of = self.prepared_for(kind);
        let same = |known: Option<&PreparedFor>| known == Some(&of);
        if same(self.delivery.prepared.as_ref().map(|(known, _)| known))
            || same(self.delivery.preparing.as_ref().map(|(_, known)| known))
        {
            return;
        }
        if let Some((work, _)) = self.delivery.preparing.take() {
            self.works.cancel(work);
        }
        let (survey, wanted) = (Arc::clone(&self.survey), of.clone());
        let work = self.works.start(None, move |progress| Outcome::Prepared(prepare(&survey, &wanted, progress)));
        self.delivery.preparing = work.map(|work| (work, of));
    }

    /// Something was prepared; `None` where it was cancelled or failed.
    pub(super) fn delivery_prepared(&mut self, work: WorkId, made: Option<Result<Prepared, String>>) {
        let Some((_, of)) = self.delivery.preparing.take_if(|(id, _)| *id == work) else { return };
        let made = made.unwrap_or_else(|| Err("preparing it failed; choose it again".into()));
        self.delivery.prepared = Some((of, made));
        self.delivery.version += 1;
    }

    /// Writes a thing into the chosen folder; asks for the folder where none is chosen.
    pub(super) fn write(&mut self, form: DeliveryForm) -> bool {
        let Some(folder) = self.plan.folder.clone() else {
            self.delivery.waits_for_folder = Some(form);
            return self.ask(Asking::Folder);
        };
        let path = self.folder_in_full(&folder).join(self.name_of(form));
        self.write_at(form, path, IfExists::Refuse)
    }

    /// What a thing is called in its folder.
    fn name_of(&self, form: DeliveryForm) -> String {
        let site = &self.survey.model.site.name;
        let stem = match form.kind() {
            DeliveryKind::Still => file_stem(site, &self.stance.name),
            DeliveryKind::Card => format!("{}-card", file_stem(site, &self.stance.name)),
            DeliveryKind::Sheet => file_stem(site, "sheet"),
            DeliveryKind::Places => file_stem(site, "places"),
            DeliveryKind::Comparison => file_stem(site, "comparison"),
            DeliveryKind::Sequence => {
                let stances = self.stances_of(DeliveryKind::Sequence);
                let names: Vec<&str> = stances.iter().map(|stance| stance.name.as_str()).collect();
                file_stem(site, &names.join(" to "))
            }
        };
        format!("{stem}{}", form.ending())
    }

    fn write_at(&mut self, form: DeliveryForm, path: PathBuf, if_exists: IfExists) -> bool {
        let destination = Destination { path, if_exists, make_folder: true };
        self.delivery.blocked = None;
        // Looked at here too, so that the question comes at once.
        if let Err(DeliveryError::InTheWay(InTheWay { path })) = destination.check(form.kind()) {
            self.delivery.blocked = Some(BlockedDelivery { form, path });
            return true;
        }
        let of = self.prepared_for(form.kind());
        let known = self.delivery.prepared.as_ref().filter(|(known, _)| *known == of);
        let known = known.and_then(|(_, prepared)| prepared.as_ref().ok()).cloned();
        let survey = Arc::clone(&self.survey);
        let title = format!("Writing {}", destination.path.file_name().unwrap_or_default().to_string_lossy());
        let started = self.works.start(Some(title), move |progress| {
            Outcome::Written(match of.request() {
                Ok(request) => written(&survey, &request, known, &destination, progress),
                Err(text) => DeliveryOutcome::Failed(text),
            })
        });
        self.refused_work(started.is_none())
    }

    /// What is to become of what is in the way; nothing is written where nobody wants it any more.
    pub(super) fn answer_in_the_way(&mut self, answer: Option<IfExists>) -> bool {
        let Some(BlockedDelivery { form, path }) = self.delivery.blocked.take() else { return false };
        answer.is_none_or(|if_exists| self.write_at(form, path, if_exists))
    }

    pub(super) fn delivery_written(&mut self, outcome: DeliveryOutcome) {
        match outcome {
            DeliveryOutcome::Done { path, text } => {
                self.notices.tell(NoticeKind::Told, text);
                self.delivery.written.retain(|known| *known != path);
                self.delivery.written.push(path);
            }
            DeliveryOutcome::Blocked(blocked) => self.delivery.blocked = Some(blocked),
            DeliveryOutcome::Cancelled => {
                self.notices.tell(NoticeKind::Told, "it was called off; nothing is written");
            }
            DeliveryOutcome::Failed(text) => self.notices.tell(NoticeKind::Error, text),
        }
    }

    /// Another site is shown.
    pub(super) fn clear_delivery(&mut self) {
        if let Some((work, _)) = self.delivery.preparing.take() {
            self.works.cancel(work);
        }
        let state = &mut self.delivery;
        let (kind, brand, version) = (state.kind, state.options.brand.take(), state.version);
        let options = DeliveryOptions { brand, ..DeliveryOptions::first() };
        *state = DeliveryState { kind, options, version: version + 1, ..DeliveryState::default() };
    }
}

/// An error in the words of the window, where stances are prints.
fn words(error: &DeliveryError) -> String {
    match error {
        DeliveryError::Sheet(SheetError::NoStance) => "no print goes in; choose one at least".into(),
        DeliveryError::Sheet(SheetError::TooMany { given }) => {
            format!("{given} prints are more than fit; choose {MOST_STANCES} or fewer")
        }
        error => error.to_string(),
    }
}

/// Prepares a thing, beside the window; `None` where it was cancelled.
fn prepare(survey: &Survey, of: &PreparedFor, progress: &Progress) -> Option<Result<Prepared, String>> {
    match of.request() {
        Ok(request) => match request.prepare(survey, progress) {
            Err(DeliveryError::Cancelled) => None,
            prepared => Some(prepared.map_err(|error| words(&error))),
        },
        Err(text) => Some(Err(text)),
    }
}

/// Writes a thing, beside the window.
fn written(
    survey: &Survey,
    request: &DeliveryRequest,
    prepared: Option<Prepared>,
    destination: &Destination,
    progress: &Progress,
) -> DeliveryOutcome {
    let delivered = match deliver(survey, request, prepared, destination, progress) {
        Ok(delivered) => delivered,
        Err(DeliveryError::Cancelled) => return DeliveryOutcome::Cancelled,
        Err(DeliveryError::InTheWay(InTheWay { path })) => {
            return match DeliveryForm::of(request.kind(), &destination.path) {
                Some(form) => DeliveryOutcome::Blocked(BlockedDelivery { form, path }),
                None => DeliveryOutcome::Failed(InTheWay { path }.to_string()),
            };
        }
        Err(error) => return DeliveryOutcome::Failed(words(&error)),
    };
    let path = delivered.path;
    let mut text = format!("{} is written", path.display());
    match delivered.content {
        DeliveredContent::Sheet { .. } => text.push_str(&format!(": {PAGE_NAME} and {PAPER_NAME}")),
        DeliveredContent::Sequence(frames) => text.push_str(&format!(": {} frames and {ANIMATED}", frames.len())),
        DeliveredContent::Places(places) => {
            for why in &places.left_out {
                text.push_str(&format!("\nleft out: {why}"));
            }
        }
        DeliveredContent::Still { .. } | DeliveredContent::Card(_) | DeliveredContent::Comparison(_) => {}
    }
    DeliveryOutcome::Done { path, text }
}
