//! What leaves the desk? Field cards, client sheets, places and sequences: made ready beside the window, looked at, written.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::files::{self, FileError};
use crate::handover::places::{Places, PlacesForm};
use crate::handover::sequence::{ANIMATED, Sequence, Step, is_of_a_sequence};
use crate::handover::{
    Brand, CardError, ClientSheet, FieldCard, FolderError, MOST_STANCES, NewFolder, PAGE_NAME, PAPER_NAME, PaperError,
    SheetError, check_folder, is_of_a_sheet,
};
use crate::place::Day;
use crate::plan::PrintId;
use crate::progress::Progress;
use crate::site::{Stance, Sun};
use crate::still::StillError;
use crate::survey::{MeasureSettings, Survey};
use crate::theme::Theme;
use crate::units::Units;
use crate::viewer::state::work::WorkId;

use super::Asking;
use super::Desk;
use super::DeskName;
use super::NoticeKind;
use super::Outcome;
use super::captures::file_stem;
use super::today;

/// The most numbers that are tried for a name.
const MOST_NUMBERS: u32 = 1000;

/// A kind of thing that leaves the desk.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Leaf {
    /// A still and its record.
    #[default]
    Still,
    /// A page for the field.
    Card,
    /// A folder for whoever pays.
    Sheet,
    /// Stances, subject and grounds on the map.
    Places,
    /// A move between two stances.
    Sequence,
}

impl Leaf {
    /// All of them, in order.
    pub const ALL: [Self; 5] = [Self::Still, Self::Card, Self::Sheet, Self::Places, Self::Sequence];

    /// As it is written on the desk.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Still => "Capture",
            Self::Card => "Field card",
            Self::Sheet => "Client sheet",
            Self::Places => "For the map",
            Self::Sequence => "Sequence",
        }
    }
}

/// What is to be written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Order {
    /// The field card of the present stance: a page for a telephone, or paper.
    Card {
        /// Whether it is for paper.
        paper: bool,
    },
    /// The client sheet.
    Sheet,
    /// The places, in this form.
    Places(PlacesForm),
    /// The sequence.
    Sequence,
}

/// How things leave: what goes in, whose name is on them.
#[derive(Clone, Debug, PartialEq)]
pub struct Packet {
    /// The day that cards and sheets are for.
    pub day: Option<Day>,
    /// Prints that stay out of sheets and places.
    pub left_out: Vec<PrintId>,
    /// The file of the user's name, address and mark.
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

impl Packet {
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

/// Something made ready, to be looked at before it is written.
#[derive(Clone, Debug)]
pub enum Ready {
    /// A field card.
    Card(Arc<FieldCard>),
    /// A client sheet.
    Sheet(Arc<ClientSheet>),
    /// Places.
    Places(Arc<Places>),
    /// The cameras of a sequence.
    Sequence(Arc<Vec<Step>>),
}

/// What a thing that is made ready depends on.
#[derive(Clone, Debug, PartialEq)]
struct ReadyOf {
    leaf: Leaf,
    stances: Vec<Stance>,
    site: u64,
    sun: Option<Sun>,
    measure_settings: MeasureSettings,
    packet: Packet,
    theme: Theme,
    units: Units,
}

/// What is there already, and what is to become of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InTheWay {
    /// What was ordered.
    pub order: Order,
    /// The file or folder.
    pub path: PathBuf,
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

/// What writing came to.
pub(super) enum Written {
    Done { path: PathBuf, told: String },
    InTheWay(InTheWay),
    Cancelled,
    Failed(String),
}

/// All that the desk knows of handing over.
pub(super) struct Handing {
    leaf: Leaf,
    packet: Packet,
    ready: Option<(ReadyOf, Result<Ready, String>)>,
    making: Option<(WorkId, ReadyOf)>,
    version: u64,
    in_the_way: Option<InTheWay>,
    pub(super) waits: Option<Order>,
    written: Vec<PathBuf>,
}

impl Default for Handing {
    fn default() -> Self {
        Self {
            leaf: Leaf::default(),
            packet: Packet::first(),
            ready: None,
            making: None,
            version: 0,
            in_the_way: None,
            waits: None,
            written: Vec::new(),
        }
    }
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

impl Desk {
    /// What the Hand over desk shows.
    pub fn handing(&self) -> HandingView<'_> {
        let handing = &self.handing;
        HandingView {
            leaf: handing.leaf,
            packet: &handing.packet,
            ready: handing.ready.as_ref().filter(|(of, _)| of.leaf == handing.leaf).map(|(_, ready)| ready),
            version: handing.version,
            making: handing.making.is_some(),
            in_the_way: handing.in_the_way.as_ref(),
            written: &handing.written,
            ends: self.ends(),
        }
    }

    /// Whether a print goes into sheets and places.
    pub fn goes_in(&self, id: PrintId) -> bool {
        !self.handing.packet.left_out.contains(&id)
    }

    /// The prints that a sequence runs between: those chosen, else the first and the last.
    fn ends(&self) -> [Option<PrintId>; 2] {
        let prints = &self.plan.prints;
        let lies = |id: &PrintId| self.plan.print(*id).is_some();
        let [from, to] = self.handing.packet.ends.map(|id| id.filter(lies));
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

    fn stances_of(&self, leaf: Leaf) -> Vec<Stance> {
        match leaf {
            Leaf::Still | Leaf::Card => vec![self.stance.clone()],
            Leaf::Sheet | Leaf::Places => self.going_in(),
            Leaf::Sequence => {
                let end = |id: Option<PrintId>| {
                    let print = self.plan.print(id?)?;
                    Some(Stance { name: print.name.clone(), ..print.stance.clone() })
                };
                self.ends().into_iter().filter_map(end).collect()
            }
        }
    }

    fn ready_of(&self, leaf: Leaf) -> ReadyOf {
        ReadyOf {
            leaf,
            stances: self.stances_of(leaf),
            site: self.site_version,
            sun: self.sun(),
            measure_settings: self.measure_settings,
            packet: self.handing.packet.clone(),
            theme: self.settings.theme,
            units: self.settings.units,
        }
    }

    /// Chooses what is handed over.
    pub(super) fn show_leaf(&mut self, leaf: Leaf) -> bool {
        std::mem::replace(&mut self.handing.leaf, leaf) != leaf
    }

    /// Changes how things leave.
    pub(super) fn pack(&mut self, packet: &Packet) -> bool {
        let changed = self.handing.packet != *packet;
        self.handing.packet.clone_from(packet);
        changed
    }

    pub(super) fn set_brand(&mut self, brand: Option<PathBuf>) -> bool {
        self.asking = None;
        let brand = brand.map(|path| self.beside_site(&path));
        std::mem::replace(&mut self.handing.packet.brand, brand.clone()) != brand
    }

    /// Makes what is shown ready, once nobody moves; what is ready already stays.
    pub(super) fn make_ready(&mut self) {
        let leaf = self.handing.leaf;
        if self.desk_name != DeskName::HandOver || leaf == Leaf::Still || self.moving {
            return;
        }
        let of = self.ready_of(leaf);
        let same = |known: Option<&ReadyOf>| known == Some(&of);
        if same(self.handing.ready.as_ref().map(|(known, _)| known))
            || same(self.handing.making.as_ref().map(|(_, known)| known))
        {
            return;
        }
        if let Some((work, _)) = self.handing.making.take() {
            self.works.cancel(work);
        }
        let (survey, order) = (Arc::clone(&self.survey), of.clone());
        let work = self.works.start(None, move |progress| Outcome::Ready(ready(&survey, &order, progress)));
        self.handing.making = work.map(|work| (work, of));
    }

    /// Something was made ready; `None` where it was called off or broke.
    pub(super) fn made_ready(&mut self, work: WorkId, made: Option<Result<Ready, String>>) {
        let Some((_, of)) = self.handing.making.take_if(|(id, _)| *id == work) else { return };
        let made = made.unwrap_or_else(|| Err("making it ready broke off; choose it again".into()));
        self.handing.ready = Some((of, made));
        self.handing.version += 1;
    }

    /// Writes what was ordered into the chosen folder; asks for the folder where none is chosen.
    pub(super) fn write(&mut self, order: Order) -> bool {
        let Some(folder) = self.plan.folder.clone() else {
            self.handing.waits = Some(order);
            return self.ask(Asking::Folder);
        };
        let path = self.folder_in_full(&folder).join(self.name_of(order));
        self.write_at(order, path, false)
    }

    /// What a thing is called in its folder.
    fn name_of(&self, order: Order) -> String {
        let site = &self.survey.model.site.name;
        match order {
            Order::Card { paper } => {
                let ending = if paper { "pdf" } else { "html" };
                format!("{}-card.{ending}", file_stem(site, &self.stance.name))
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
                let stances = self.stances_of(Leaf::Sequence);
                let names: Vec<&str> = stances.iter().map(|stance| stance.name.as_str()).collect();
                file_stem(site, &names.join(" to "))
            }
        }
    }

    fn write_at(&mut self, order: Order, path: PathBuf, replace: bool) -> bool {
        self.handing.in_the_way = None;
        if !replace && files::is_there(&path) {
            self.handing.in_the_way = Some(InTheWay { order, path });
            return true;
        }
        let leaf = match order {
            Order::Card { .. } => Leaf::Card,
            Order::Sheet => Leaf::Sheet,
            Order::Places(_) => Leaf::Places,
            Order::Sequence => Leaf::Sequence,
        };
        let of = self.ready_of(leaf);
        let known = self.handing.ready.as_ref().filter(|(known, _)| *known == of);
        let known = known.and_then(|(_, ready)| ready.as_ref().ok()).cloned();
        let survey = Arc::clone(&self.survey);
        let title = format!("Writing {}", path.file_name().unwrap_or(path.as_os_str()).to_string_lossy());
        let started = self.works.start(Some(title), move |progress| {
            Outcome::Written(Writing { survey: &survey, of, known, order, path, replace }.written(progress))
        });
        self.refused_work(started.is_none())
    }

    /// What is to become of what is in the way.
    pub(super) fn meet(&mut self, way: Way) -> bool {
        let Some(InTheWay { order, path }) = self.handing.in_the_way.take() else { return false };
        match way {
            Way::Leave => true,
            Way::Replace => self.write_at(order, path, true),
            Way::Beside => {
                let stem = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
                let ending =
                    path.extension().map(|ending| format!(".{}", ending.to_string_lossy())).unwrap_or_default();
                let free = (2..MOST_NUMBERS)
                    .map(|number| path.with_file_name(format!("{stem}-{number}{ending}")))
                    .find(|path| !files::is_there(path));
                match free {
                    Some(path) => self.write_at(order, path, false),
                    None => {
                        let told = format!("{} has a thousand namesakes; choose another folder", path.display());
                        self.notices.tell(NoticeKind::Error, told);
                        true
                    }
                }
            }
        }
    }

    pub(super) fn wrote(&mut self, written: Written) {
        match written {
            Written::Done { path, told } => {
                self.notices.tell(NoticeKind::Told, told);
                self.handing.written.retain(|known| *known != path);
                self.handing.written.push(path);
            }
            Written::InTheWay(in_the_way) => self.handing.in_the_way = Some(in_the_way),
            Written::Cancelled => {
                self.notices.tell(NoticeKind::Told, "it was called off; nothing is written");
            }
            Written::Failed(text) => self.notices.tell(NoticeKind::Error, text),
        }
    }

    /// Another site is shown.
    pub(super) fn clear_handing(&mut self) {
        if let Some((work, _)) = self.handing.making.take() {
            self.works.cancel(work);
        }
        let (leaf, brand, version) = (self.handing.leaf, self.handing.packet.brand.take(), self.handing.version);
        let packet = Packet { brand, ..Packet::first() };
        self.handing = Handing { leaf, packet, version: version + 1, ..Handing::default() };
    }
}

/// Why something cannot be made ready or written.
enum Unmade {
    Cancelled,
    Because(String),
}

impl Unmade {
    fn because(error: impl std::fmt::Display) -> Self {
        Self::Because(error.to_string())
    }
}

impl From<CardError> for Unmade {
    fn from(error: CardError) -> Self {
        match error {
            CardError::Still(StillError::Cancelled(_)) => Self::Cancelled,
            error => Self::because(error),
        }
    }
}

impl From<SheetError> for Unmade {
    fn from(error: SheetError) -> Self {
        match error {
            SheetError::Cancelled(_) | SheetError::Still(StillError::Cancelled(_)) => Self::Cancelled,
            SheetError::NoStance => Self::Because("no print goes in; choose one at least".into()),
            SheetError::TooMany { given } => {
                Self::Because(format!("{given} prints are more than find room; choose {MOST_STANCES} or fewer"))
            }
            error => Self::because(error),
        }
    }
}

impl From<PaperError> for Unwritten {
    fn from(error: PaperError) -> Self {
        Self::Unmade(Unmade::because(error))
    }
}

/// Makes a thing ready, beside the window; `None` where it was called off.
fn ready(survey: &Survey, of: &ReadyOf, progress: &Progress) -> Option<Result<Ready, String>> {
    match made(survey, of, progress) {
        Ok(ready) => Some(Ok(ready)),
        Err(Unmade::Because(text)) => Some(Err(text)),
        Err(Unmade::Cancelled) => None,
    }
}

fn made(survey: &Survey, of: &ReadyOf, progress: &Progress) -> Result<Ready, Unmade> {
    let no_day = || Unmade::Because("the computer's clock tells no day; write one".into());
    match of.leaf {
        Leaf::Still => Err(Unmade::Because("a still is taken, not made ready".into())),
        Leaf::Card => {
            let [stance] = of.stances.as_slice() else {
                return Err(Unmade::Because("a card is for one stance".into()));
            };
            let measured = survey.measure(stance, &of.measure_settings).map_err(Unmade::because)?;
            let day = of.packet.day.ok_or_else(no_day)?;
            Ok(Ready::Card(Arc::new(FieldCard::of(survey, stance, &measured, (day, of.units), progress)?)))
        }
        Leaf::Sheet => {
            let mut brand = match &of.packet.brand {
                Some(path) => Brand::read(path).map_err(Unmade::because)?,
                None => Brand::default(),
            };
            let title = of.packet.title.trim();
            if !title.is_empty() {
                brand.title = Some(title.to_owned());
            }
            let mut stances = Vec::with_capacity(of.stances.len());
            for stance in &of.stances {
                let wrong = |error| Unmade::Because(format!("{}: {error}", stance.name));
                stances.push((stance.clone(), survey.measure(stance, &of.measure_settings).map_err(wrong)?));
            }
            let day = of.packet.day.ok_or_else(no_day)?;
            Ok(Ready::Sheet(Arc::new(ClientSheet::of(survey, &stances, brand, (day, of.units), progress)?)))
        }
        Leaf::Places => {
            let places = Places::of(survey, &of.stances).map_err(Unmade::because)?;
            if places.stances.is_empty() && places.subject.is_none() && places.grounds.is_empty() {
                return Err(Unmade::Because("there is nothing to place: no stance, no subject, no ground".into()));
            }
            Ok(Ready::Places(Arc::new(places)))
        }
        Leaf::Sequence => {
            let steps = sequence(of)?.steps(survey).map_err(Unmade::because)?;
            Ok(Ready::Sequence(Arc::new(steps)))
        }
    }
}

fn sequence(of: &ReadyOf) -> Result<Sequence, Unmade> {
    let [from, to] = of.stances.as_slice() else {
        return Err(Unmade::Because("a sequence runs between two prints; pin two stances first".into()));
    };
    Ok(Sequence {
        from: from.clone(),
        to: to.clone(),
        frames: of.packet.frames,
        width_px: of.packet.width_px,
        samples: 4,
        theme: of.theme,
        overlay: of.packet.overlay,
        per_second: 12,
        units: of.units,
    })
}

/// A thing that is written beside the window.
struct Writing<'a> {
    survey: &'a Survey,
    of: ReadyOf,
    /// The thing, where it was made ready before.
    known: Option<Ready>,
    order: Order,
    path: PathBuf,
    replace: bool,
}

/// Why something is not written.
enum Unwritten {
    Unmade(Unmade),
    File(FileError),
    Folder(FolderError),
}

impl From<FileError> for Unwritten {
    fn from(error: FileError) -> Self {
        Self::File(error)
    }
}

impl From<FolderError> for Unwritten {
    fn from(error: FolderError) -> Self {
        Self::Folder(error)
    }
}

impl From<Unmade> for Unwritten {
    fn from(error: Unmade) -> Self {
        Self::Unmade(error)
    }
}

impl From<CardError> for Unwritten {
    fn from(error: CardError) -> Self {
        Self::Unmade(error.into())
    }
}

impl From<SheetError> for Unwritten {
    fn from(error: SheetError) -> Self {
        Self::Unmade(error.into())
    }
}

impl Writing<'_> {
    fn written(self, progress: &Progress) -> Written {
        let (order, path) = (self.order, self.path.clone());
        match self.write(progress) {
            Ok(told) => Written::Done { path, told },
            Err(Unwritten::Unmade(Unmade::Cancelled)) => Written::Cancelled,
            Err(Unwritten::Unmade(Unmade::Because(text))) => Written::Failed(text),
            // It has come to be there since it was looked for.
            Err(
                Unwritten::File(FileError::AlreadyThere { .. }) | Unwritten::Folder(FolderError::AlreadyThere { .. }),
            ) => Written::InTheWay(InTheWay { order, path }),
            Err(Unwritten::File(error)) => Written::Failed(error.to_string()),
            Err(Unwritten::Folder(error)) => Written::Failed(error.to_string()),
        }
    }

    fn write(self, progress: &Progress) -> Result<String, Unwritten> {
        let Self { survey, of, known, order, path, replace } = self;
        let path = path.as_path();
        let folder = path.parent().unwrap_or(Path::new("."));
        std::fs::create_dir_all(folder).map_err(|source| FileError::Write { path: folder.into(), source })?;
        // Looked at before the work is done, and once more when it is put there.
        match order {
            Order::Sheet => check_folder(path, is_of_a_sheet, replace)?,
            Order::Sequence => check_folder(path, is_of_a_sequence, replace)?,
            Order::Card { .. } | Order::Places(_) => {}
        }
        if order == Order::Sequence {
            let folder = NewFolder::beside(path, is_of_a_sequence, replace)?;
            let pictured = sequence(&of)?.picture_into(survey, folder.path(), progress);
            let steps = pictured.map_err(|error| match error {
                crate::handover::sequence::SequenceError::Cancelled(_) => Unmade::Cancelled,
                error => Unmade::because(error),
            })?;
            still_wanted(progress)?;
            folder.put()?;
            return Ok(format!("{} is written: {} frames and {ANIMATED}", path.display(), steps.len()));
        }
        let ready = match known {
            Some(ready) => ready,
            None => made(survey, &of, progress)?,
        };
        match (ready, order) {
            (Ready::Card(card), Order::Card { paper }) => {
                let content = if paper { card.pdf()? } else { card.html()?.into_bytes() };
                still_wanted(progress)?;
                files::write_together(&[(path, &content)], replace)?;
                Ok(format!("{} is written", path.display()))
            }
            (Ready::Sheet(sheet), Order::Sheet) => {
                let (page, paper) = (sheet.html()?, sheet.pdf()?);
                let folder = NewFolder::beside(path, is_of_a_sheet, replace)?;
                folder.write(PAGE_NAME, page.as_bytes())?;
                folder.write(PAPER_NAME, &paper)?;
                still_wanted(progress)?;
                folder.put()?;
                Ok(format!("{} is written: {PAGE_NAME} and {PAPER_NAME}", path.display()))
            }
            (Ready::Places(places), Order::Places(form)) => {
                files::write_together(&[(path, places.to_text(form).as_bytes())], replace)?;
                let mut told = format!("{} is written", path.display());
                for why in &places.left_out {
                    told.push_str(&format!("\nleft out: {why}"));
                }
                Ok(told)
            }
            _ => Err(Unmade::Because("something else was made than was ordered".into()).into()),
        }
    }
}

fn still_wanted(progress: &Progress) -> Result<(), Unmade> {
    progress.check().map_err(|_| Unmade::Cancelled)
}
