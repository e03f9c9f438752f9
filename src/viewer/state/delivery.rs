//! What leaves the desk? Stills, field cards, client sheets, places and sequences: made ready, looked at, written.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::files;
use crate::handover::places::PlacesForm;
use crate::plan::{Print, PrintId};
use crate::site::Stance;

use super::arrangement::DeskName;
use super::camera::CameraStore;
use super::dialog::PathQuestion;
use super::effects::{Effect, Effects};
use super::jobs::Outcome;
use super::jobs::prepare::{ReadyOf, ready};
use super::jobs::still::{StillOrder, file_stem, take};
use super::jobs::write::{Writing, Written};
use super::notices::NoticeKind;
use super::opening::Source;
use super::prints::PrintStore;
use super::settings::SettingStore;
use super::shown_site::ShownSite;
use super::work::WorkId;

pub use super::jobs::prepare::{Leaf, Packet, Ready};
pub use super::jobs::still::Capture;
pub use super::jobs::write::{InTheWay, Order};

/// The most numbers that are tried for a name.
const MOST_NUMBERS: u32 = 1000;

/// What happens on the Hand over desk, and to stills.
#[derive(Clone, Debug, PartialEq)]
pub enum DeliveryAction {
    /// Show another kind of thing.
    ShowPage(Leaf),
    /// Change what goes in and how.
    SetOptions(Box<Packet>),
    /// Choose the file of the user's name, address and mark in a dialog.
    ChooseBrand,
    /// That file, or none.
    Brand(Option<PathBuf>),
    /// Write a thing into the chosen folder.
    Write(Order),
    /// Decide what becomes of what is in the way of it.
    Resolve(Way),
    /// Take a still and write its record.
    Capture {
        /// With all of the body's pixels, not only those shown.
        full: bool,
        /// Where to; the chosen folder unless given.
        folder: Option<PathBuf>,
    },
    /// Choose the folder for captures in a dialog.
    ChooseFolder,
    /// Captures go here.
    Folder(PathBuf),
}

/// How something that is in the way is met.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// The new one takes its place.
    Replace,
    /// Both are kept; the new one has a number.
    Beside,
    /// Nothing is written.
    Leave,
}

/// What the Hand over desk shows.
#[derive(Clone, Debug)]
pub struct HandingView<'a> {
    /// Which kind of thing.
    pub leaf: Leaf,
    /// How it leaves.
    pub packet: &'a Packet,
    /// It, made ready, or why it cannot be; absent while it is being made.
    pub ready: Option<&'a Result<Ready, String>>,
    /// Another number for every other thing.
    pub version: u64,
    /// Whether what is shown is being made anew.
    pub making: bool,
    /// What is in the way of what was ordered.
    pub in_the_way: Option<&'a InTheWay>,
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
}

impl DeliveryInputs<'_> {
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
    Write(Order),
}

/// What is handed over, and where to.
#[derive(Debug)]
pub(super) struct DeliveryStore {
    leaf: Leaf,
    packet: Packet,
    /// Where it is written, as the plan keeps it.
    folder: Option<PathBuf>,
    ready: Option<(ReadyOf, Result<Ready, String>)>,
    making: Option<(WorkId, ReadyOf)>,
    /// The key of the textures of what is ready: the pictures in it are too large to be compared in every frame.
    version: u64,
    in_the_way: Option<InTheWay>,
    waiting: Option<Waiting>,
    written: Vec<PathBuf>,
    captures: Vec<Capture>,
    /// How many pixels of the frame are shown.
    shown_px: Option<(u32, u32)>,
}

impl DeliveryStore {
    pub(super) fn new() -> Self {
        Self {
            leaf: Leaf::default(),
            packet: Packet::first(),
            folder: None,
            ready: None,
            making: None,
            version: 0,
            in_the_way: None,
            waiting: None,
            written: Vec::new(),
            captures: Vec::new(),
            shown_px: None,
        }
    }

    /// What the Hand over desk shows.
    pub(super) fn view(&self, prints: &PrintStore) -> HandingView<'_> {
        HandingView {
            leaf: self.leaf,
            packet: &self.packet,
            ready: self.ready.as_ref().filter(|(of, _)| of.leaf == self.leaf).map(|(_, ready)| ready),
            version: self.version,
            making: self.making.is_some(),
            in_the_way: self.in_the_way.as_ref(),
            written: &self.written,
            ends: self.ends(prints),
        }
    }

    /// Whether a print goes into sheets and places.
    pub(super) fn goes_in(&self, id: PrintId) -> bool {
        !self.packet.left_out.contains(&id)
    }

    pub(super) fn folder(&self) -> Option<&PathBuf> {
        self.folder.as_ref()
    }

    /// The stills in the folder, as far as they were taken here or lay there when the site was opened.
    pub(super) fn captures(&self) -> &[Capture] {
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
        if let Some((work, _)) = self.making.take() {
            effects.push(Effect::Cancel(work));
        }
        let packet = Packet { brand: self.packet.brand.take(), ..Packet::first() };
        let (leaf, version, shown_px) = (self.leaf, self.version + 1, self.shown_px);
        *self = Self { leaf, packet, version, shown_px, ..Self::new() };
    }

    /// What the plan of the site that is shown keeps of the folder.
    pub(super) fn set_folder(&mut self, folder: Option<PathBuf>) {
        self.folder = folder;
    }

    pub(super) fn act(&mut self, action: DeliveryAction, inputs: &DeliveryInputs<'_>, effects: &mut Effects) {
        match action {
            DeliveryAction::ShowPage(leaf) => {
                effects.change_if(std::mem::replace(&mut self.leaf, leaf) != leaf);
            }
            DeliveryAction::SetOptions(packet) => {
                effects.change_if(self.packet != *packet);
                self.packet = *packet;
            }
            DeliveryAction::ChooseBrand => effects.push(Effect::Ask(PathQuestion::Brand)),
            DeliveryAction::Brand(brand) => {
                effects.push(Effect::CloseQuestion);
                let brand = brand.map(|path| inputs.beside_site(&path));
                effects.change_if(self.packet.brand != brand);
                self.packet.brand = brand;
            }
            DeliveryAction::Write(order) => self.write(order, inputs, effects),
            DeliveryAction::Resolve(way) => self.resolve(way, inputs, effects),
            DeliveryAction::Capture { full, folder } => {
                if let Some(folder) = folder {
                    self.folder = Some(folder);
                    effects.push(Effect::CloseQuestion);
                }
                self.capture(full, inputs, effects);
            }
            DeliveryAction::ChooseFolder => effects.push(Effect::Ask(PathQuestion::Folder)),
            DeliveryAction::Folder(folder) => {
                self.folder = Some(folder);
                effects.push(Effect::CloseQuestion);
                effects.change();
                self.list_captures(inputs);
                match self.waiting.take() {
                    Some(Waiting::Capture(full)) => self.capture(full, inputs, effects),
                    Some(Waiting::Write(order)) => self.write(order, inputs, effects),
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
        let folder = inputs.beside_site(folder);
        let (survey, stance) = (Arc::clone(inputs.site.survey()), inputs.camera.stance().clone());
        let (measure_settings, straighten) = (*inputs.camera.measure_settings(), inputs.camera.straighten());
        let (theme, shown_px) = (inputs.settings.theme(), self.shown_px);
        let title = format!("Taking a still of {}", survey.model.site.name);
        effects.start(Some(title), move |progress| {
            let order =
                StillOrder { survey: &survey, stance: &stance, measure_settings, theme, straighten, full, shown_px };
            Outcome::Captured(take(&order, &folder, progress).map_err(|error| error.to_string()))
        });
    }

    /// A still was taken, or nothing where it was stopped.
    pub(super) fn captured(&mut self, taken: Result<Option<Capture>, String>, effects: &mut Effects) {
        match taken {
            Ok(Some(capture)) => {
                let text = format!("{} is written, with its record beside it", capture.picture.display());
                effects.notice(NoticeKind::News, text);
                self.captures.push(capture);
            }
            Ok(None) => effects.notice(NoticeKind::News, "the still was stopped; nothing is written"),
            Err(text) => effects.notice(NoticeKind::Error, text),
        }
    }

    /// Lists the stills that lie in the chosen folder.
    pub(super) fn list_captures(&mut self, inputs: &DeliveryInputs<'_>) {
        self.captures.clear();
        let Some(folder) = self.folder.as_ref().map(|folder| inputs.beside_site(folder)) else { return };
        // A folder that is not there yet has no captures.
        let Ok(entries) = std::fs::read_dir(folder) else { return };
        let mut found: Vec<Capture> = entries
            .flatten()
            .map(|entry| entry.path())
            .filter_map(|picture| {
                let record = picture.with_extension("record.ron");
                (picture.extension()? == "png" && record.is_file()).then_some(Capture { picture, record })
            })
            .collect();
        found.sort_by(|a, b| a.picture.cmp(&b.picture));
        self.captures = found;
    }

    /// The prints that a sequence runs between: those chosen, else the first and the last.
    fn ends(&self, prints: &PrintStore) -> [Option<PrintId>; 2] {
        let lies = |id: &PrintId| prints.print(*id).is_some();
        let [from, to] = self.packet.ends.map(|id| id.filter(lies));
        let from = from.or_else(|| prints.prints().first().map(|print| print.id));
        let others = prints.prints().iter().rev().map(|print| print.id);
        let to = to.or_else(|| others.into_iter().find(|id| Some(*id) != from));
        [from, to]
    }

    /// The stances that go into sheets and places: the chosen prints by their names, or the present one without prints.
    fn going_in(&self, inputs: &DeliveryInputs<'_>) -> Vec<Stance> {
        let prints = inputs.prints.prints();
        if prints.is_empty() {
            return vec![inputs.camera.stance().clone()];
        }
        let named = |print: &Print| {
            let note = if print.note.is_empty() { print.stance.note.clone() } else { Some(print.note.clone()) };
            Stance { name: print.name.clone(), note, ..print.stance.clone() }
        };
        prints.iter().filter(|print| self.goes_in(print.id)).map(named).collect()
    }

    fn stances_of(&self, leaf: Leaf, inputs: &DeliveryInputs<'_>) -> Vec<Stance> {
        match leaf {
            Leaf::Still | Leaf::Card => vec![inputs.camera.stance().clone()],
            Leaf::Sheet | Leaf::Places => self.going_in(inputs),
            Leaf::Sequence => {
                let end = |id: Option<PrintId>| {
                    let print = inputs.prints.print(id?)?;
                    Some(Stance { name: print.name.clone(), ..print.stance.clone() })
                };
                self.ends(inputs.prints).into_iter().filter_map(end).collect()
            }
        }
    }

    fn ready_of(&self, leaf: Leaf, inputs: &DeliveryInputs<'_>) -> ReadyOf {
        ReadyOf {
            leaf,
            stances: self.stances_of(leaf, inputs),
            site: inputs.site.version(),
            sun: inputs.camera.measured().sun,
            measure_settings: *inputs.camera.measure_settings(),
            packet: self.packet.clone(),
            theme: inputs.settings.theme(),
            units: inputs.settings.units(),
        }
    }

    /// Makes what is shown ready, once the camera has come to rest; what is ready already stays.
    pub(super) fn prepare(&mut self, inputs: &DeliveryInputs<'_>, effects: &mut Effects) {
        let is_shown = inputs.settings.desk_name() == DeskName::HandOver && self.leaf != Leaf::Still;
        if !is_shown || inputs.camera.is_moving() {
            return;
        }
        let of = self.ready_of(self.leaf, inputs);
        let same = |known: Option<&ReadyOf>| known == Some(&of);
        if same(self.ready.as_ref().map(|(known, _)| known)) || same(self.making.as_ref().map(|(_, known)| known)) {
            return;
        }
        if let Some((work, _)) = self.making.take() {
            effects.push(Effect::Cancel(work));
        }
        let (survey, order) = (Arc::clone(inputs.site.survey()), of.clone());
        let work = effects.start(None, move |progress| Outcome::Ready(ready(&survey, &order, progress)));
        self.making = Some((work, of));
    }

    /// Something was made ready; `None` where it was stopped or broke.
    pub(super) fn prepared(&mut self, work: WorkId, made: Option<Result<Ready, String>>) {
        let Some((_, of)) = self.making.take_if(|(id, _)| *id == work) else { return };
        let made = made.unwrap_or_else(|| Err("making it ready broke off; choose it again".into()));
        self.ready = Some((of, made));
        self.version += 1;
    }

    /// A piece of work broke.
    pub(super) fn broke(&mut self, work: WorkId) {
        self.prepared(work, None);
    }

    /// Writes what was ordered into the chosen folder; asks for the folder where none is chosen.
    fn write(&mut self, order: Order, inputs: &DeliveryInputs<'_>, effects: &mut Effects) {
        effects.change();
        let Some(folder) = &self.folder else {
            self.waiting = Some(Waiting::Write(order));
            return effects.push(Effect::Ask(PathQuestion::Folder));
        };
        let path = inputs.beside_site(folder).join(self.name_of(order, inputs));
        self.write_at(order, path, false, inputs, effects);
    }

    /// What a thing is called in its folder.
    fn name_of(&self, order: Order, inputs: &DeliveryInputs<'_>) -> String {
        let site = &inputs.site.survey().model.site.name;
        match order {
            Order::Card { paper } => {
                let ending = if paper { "pdf" } else { "html" };
                format!("{}-card.{ending}", file_stem(site, &inputs.camera.stance().name))
            }
            Order::Sheet => file_stem(site, "sheet"),
            Order::Places(form) => {
                let ending = match form {
                    PlacesForm::Gpx => "gpx",
                    PlacesForm::Kml => "kml",
                    PlacesForm::GeoJson => "geojson",
                };
                format!("{}.{ending}", file_stem(site, "places"))
            }
            Order::Sequence => {
                let stances = self.stances_of(Leaf::Sequence, inputs);
                let names: Vec<&str> = stances.iter().map(|stance| stance.name.as_str()).collect();
                file_stem(site, &names.join(" to "))
            }
        }
    }

    fn write_at(
        &mut self,
        order: Order,
        path: PathBuf,
        replace: bool,
        inputs: &DeliveryInputs<'_>,
        effects: &mut Effects,
    ) {
        self.in_the_way = None;
        if !replace && files::is_there(&path) {
            self.in_the_way = Some(InTheWay { order, path });
            return;
        }
        let leaf = match order {
            Order::Card { .. } => Leaf::Card,
            Order::Sheet => Leaf::Sheet,
            Order::Places(_) => Leaf::Places,
            Order::Sequence => Leaf::Sequence,
        };
        let of = self.ready_of(leaf, inputs);
        let known = self.ready.as_ref().filter(|(known, _)| *known == of);
        let known = known.and_then(|(_, ready)| ready.as_ref().ok()).cloned();
        let survey = Arc::clone(inputs.site.survey());
        let title = format!("Writing {}", path.file_name().unwrap_or(path.as_os_str()).to_string_lossy());
        effects.start(Some(title), move |progress| {
            Outcome::Written(Writing { survey: &survey, of, known, order, path, replace }.written(progress))
        });
    }

    /// Decides what becomes of what is in the way.
    fn resolve(&mut self, way: Way, inputs: &DeliveryInputs<'_>, effects: &mut Effects) {
        let Some(InTheWay { order, path }) = self.in_the_way.take() else { return };
        effects.change();
        match way {
            Way::Leave => {}
            Way::Replace => self.write_at(order, path, true, inputs, effects),
            Way::Beside => match numbered(&path) {
                Some(path) => self.write_at(order, path, false, inputs, effects),
                None => {
                    let text = format!("{} has a thousand namesakes; choose another folder", path.display());
                    effects.notice(NoticeKind::Error, text);
                }
            },
        }
    }

    pub(super) fn wrote(&mut self, written: Written, effects: &mut Effects) {
        match written {
            Written::Done { path, told } => {
                effects.notice(NoticeKind::News, told);
                self.written.retain(|known| *known != path);
                self.written.push(path);
            }
            Written::InTheWay(in_the_way) => self.in_the_way = Some(in_the_way),
            Written::Cancelled => effects.notice(NoticeKind::News, "it was stopped; nothing is written"),
            Written::Failed(text) => effects.notice(NoticeKind::Error, text),
        }
    }
}

/// The same name with the first free number from 2.
fn numbered(path: &Path) -> Option<PathBuf> {
    let stem = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    let ending = path.extension().map(|ending| format!(".{}", ending.to_string_lossy())).unwrap_or_default();
    (2..MOST_NUMBERS)
        .map(|number| path.with_file_name(format!("{stem}-{number}{ending}")))
        .find(|path| !files::is_there(path))
}
