//! How does something leave the program: made, then written whole under its name, or not at all?
//!
//! The one way out, for the command line and the window alike. What is asked for is a [`DeliveryRequest`], where it goes a
//! [`Destination`]; what is there already is never written over unasked, and comes back as [`DeliveryError::InTheWay`].

use std::path::{Path, PathBuf};
use std::sync::Arc;

use thiserror::Error;

use crate::files::{FileError, check_folder_of, is_there, write_together};
use crate::progress::{Cancelled, Progress};
use crate::site::Stance;
use crate::stance::StanceError;
use crate::still::StillError;
use crate::survey::{MeasureSettings, Measured, Survey};

use super::brand::Brand;
use super::capture::{Capture, CaptureError, Setup, Shot};
use super::card::{CardError, field_card};
use super::compare::Comparison;
use super::document::Document;
use super::exif::PictureForm;
use super::folder::{FolderError, NewFolder, check_folder};
use super::places::{Places, PlacesError, PlacesForm};
use super::sequence::{Sequence, SequenceError, SequenceFrame, is_of_a_sequence};
use super::sheet::{PAGE_NAME, PAPER_NAME, SheetError, client_sheet, is_of_a_sheet};
use super::{DocumentSettings, PackError};

/// The most numbers that are tried for a name of which there is one already.
const MOST_NUMBERS: u32 = 10_000;

/// A kind of thing that is handed over.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum DeliveryKind {
    /// A picture with its record beside it.
    #[default]
    Still,
    /// A page for the field.
    Card,
    /// A folder for a client.
    Sheet,
    /// Stances, subject and grounds on the map.
    Places,
    /// The move from one stance to another, frame by frame.
    Sequence,
    /// Stances side by side, figure by figure.
    Comparison,
}

impl DeliveryKind {
    /// All of them, in order.
    pub const ALL: [Self; 6] = [Self::Still, Self::Card, Self::Sheet, Self::Places, Self::Sequence, Self::Comparison];

    /// What it is called on screen.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Still => "Still",
            Self::Card => "Field card",
            Self::Sheet => "Client sheet",
            Self::Places => "Maps and GPS",
            Self::Sequence => "Sequence",
            Self::Comparison => "Comparison",
        }
    }
}

/// The form of a field card's file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CardForm {
    /// A page for a phone.
    Html,
    /// A page of paper.
    Pdf,
}

/// The form of a comparison's file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ComparisonForm {
    /// Comma-separated values.
    Csv,
    /// JSON.
    Json,
}

/// In which form a thing is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DeliveryForm {
    /// A picture of this form.
    Still(PictureForm),
    /// A field card of this form.
    Card(CardForm),
    /// The folder of a client sheet.
    Sheet,
    /// Places in this form.
    Places(PlacesForm),
    /// The folder of a sequence.
    Sequence,
    /// A comparison in this form.
    Comparison(ComparisonForm),
}

impl DeliveryForm {
    /// The form that a path's ending asks for; `None` where this kind of thing is not written under such a name. The name of
    /// a folder may end in anything.
    pub fn of(kind: DeliveryKind, path: &Path) -> Option<Self> {
        let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase());
        match (kind, ending.as_deref()) {
            (DeliveryKind::Still, _) => PictureForm::of(path).map(Self::Still),
            (DeliveryKind::Card, Some("html")) => Some(Self::Card(CardForm::Html)),
            (DeliveryKind::Card, Some("pdf")) => Some(Self::Card(CardForm::Pdf)),
            (DeliveryKind::Sheet, _) => Some(Self::Sheet),
            (DeliveryKind::Places, _) => PlacesForm::of(path).map(Self::Places),
            (DeliveryKind::Sequence, _) => Some(Self::Sequence),
            (DeliveryKind::Comparison, Some("csv")) => Some(Self::Comparison(ComparisonForm::Csv)),
            (DeliveryKind::Comparison, Some("json")) => Some(Self::Comparison(ComparisonForm::Json)),
            (DeliveryKind::Card | DeliveryKind::Comparison, _) => None,
        }
    }

    /// Which kind of thing it is a form of.
    pub const fn kind(self) -> DeliveryKind {
        match self {
            Self::Still(_) => DeliveryKind::Still,
            Self::Card(_) => DeliveryKind::Card,
            Self::Sheet => DeliveryKind::Sheet,
            Self::Places(_) => DeliveryKind::Places,
            Self::Sequence => DeliveryKind::Sequence,
            Self::Comparison(_) => DeliveryKind::Comparison,
        }
    }

    /// What names of this form end in, with its point; empty for a folder.
    pub const fn ending(self) -> &'static str {
        match self {
            Self::Still(PictureForm::Png) => ".png",
            Self::Still(PictureForm::Jpeg) => ".jpg",
            Self::Card(CardForm::Html) => ".html",
            Self::Card(CardForm::Pdf) => ".pdf",
            Self::Places(PlacesForm::Gpx) => ".gpx",
            Self::Places(PlacesForm::Kml) => ".kml",
            Self::Places(PlacesForm::GeoJson) => ".geojson",
            Self::Comparison(ComparisonForm::Csv) => ".csv",
            Self::Comparison(ComparisonForm::Json) => ".json",
            Self::Sheet | Self::Sequence => "",
        }
    }
}

/// One thing to hand over, before it is made.
#[expect(clippy::large_enum_variant, reason = "one is made for each delivery, and never many at once")]
#[derive(Clone, Debug, PartialEq)]
pub enum DeliveryRequest {
    /// A picture.
    Still {
        /// The stance it is taken from.
        stance: Stance,
        /// By what it is measured.
        settings: MeasureSettings,
        /// How it is taken.
        shot: Shot,
        /// The most pixels across and down; the shot's own without.
        within_px: Option<(u32, u32)>,
    },
    /// A field card.
    Card {
        /// The stance it is for.
        stance: Stance,
        /// By what it is measured.
        settings: MeasureSettings,
        /// What day it is for, and in which unit.
        document: DocumentSettings,
    },
    /// A client sheet.
    Sheet {
        /// The stances it shows.
        stances: Vec<Stance>,
        /// By what they are measured.
        settings: MeasureSettings,
        /// Whose it is.
        brand: Brand,
        /// What day it is dated, and in which unit.
        document: DocumentSettings,
    },
    /// Places of these stances, the subject and the grounds.
    Places {
        /// The stances.
        stances: Vec<Stance>,
    },
    /// A sequence.
    Sequence(Sequence),
    /// A comparison.
    Comparison {
        /// The stances, the first being the one that others are compared with.
        stances: Vec<Stance>,
        /// By what they are measured.
        settings: MeasureSettings,
    },
}

impl DeliveryRequest {
    /// Which kind of thing is asked for.
    pub const fn kind(&self) -> DeliveryKind {
        match self {
            Self::Still { .. } => DeliveryKind::Still,
            Self::Card { .. } => DeliveryKind::Card,
            Self::Sheet { .. } => DeliveryKind::Sheet,
            Self::Places { .. } => DeliveryKind::Places,
            Self::Sequence(_) => DeliveryKind::Sequence,
            Self::Comparison { .. } => DeliveryKind::Comparison,
        }
    }

    /// Makes what is asked for, to be looked at before it is written. A picture's record names no file yet, and of a sequence
    /// these are the cameras and their figures.
    ///
    /// # Errors
    /// It cannot be made, or the watcher has cancelled.
    pub fn prepare(&self, survey: &Survey, progress: &Progress) -> Result<Prepared, DeliveryError> {
        self.prepare_in(survey, PictureForm::Png, progress)
    }

    fn prepare_in(&self, survey: &Survey, form: PictureForm, progress: &Progress) -> Result<Prepared, DeliveryError> {
        Ok(match self {
            Self::Still { stance, settings, shot, within_px } => {
                let mut setup = Setup::of(survey, stance, settings, shot, "")?;
                if let &Some((across_px, down_px)) = within_px {
                    setup = setup.within(across_px, down_px);
                }
                Prepared::Still(Arc::new(setup.take(survey, shot, form, progress)?))
            }
            Self::Card { stance, settings, document } => {
                let measured = measure(survey, stance, settings)?;
                Prepared::Card(Arc::new(field_card(survey, stance, &measured, *document, progress)?))
            }
            Self::Sheet { stances, settings, brand, document } => {
                let measured: Vec<(Stance, Measured)> = stances
                    .iter()
                    .map(|stance| Ok((stance.clone(), measure(survey, stance, settings)?)))
                    .collect::<Result<_, DeliveryError>>()?;
                Prepared::Sheet(Arc::new(client_sheet(survey, &measured, brand.clone(), *document, progress)?))
            }
            Self::Places { stances } => {
                let places = Places::of(survey, stances)?;
                if places.stances.is_empty() && places.subject.is_none() && places.grounds.is_empty() {
                    return Err(DeliveryError::NothingToPlace { left_out: places.left_out });
                }
                Prepared::Places(Arc::new(places))
            }
            Self::Sequence(sequence) => Prepared::Sequence(Arc::new(sequence.frames(survey)?)),
            Self::Comparison { stances, settings } => {
                let measured = |stance: &Stance| {
                    (stance.name.clone(), survey.measure(stance, settings).map_err(|error| error.to_string()))
                };
                Prepared::Comparison(Arc::new(Comparison::of(&stances.iter().map(measured).collect::<Vec<_>>())))
            }
        })
    }
}

fn measure(survey: &Survey, stance: &Stance, settings: &MeasureSettings) -> Result<Measured, DeliveryError> {
    survey.measure(stance, settings).map_err(|error| DeliveryError::Stance { name: stance.name.clone(), error })
}

/// What was asked for, made.
#[derive(Clone, Debug)]
pub enum Prepared {
    /// A picture.
    Still(Arc<Capture>),
    /// A field card.
    Card(Arc<Document>),
    /// A client sheet.
    Sheet(Arc<Document>),
    /// Places.
    Places(Arc<Places>),
    /// The cameras of a sequence, with their figures.
    Sequence(Arc<Vec<SequenceFrame>>),
    /// A comparison.
    Comparison(Arc<Comparison>),
}

/// What happens where something of the same name is there already.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum IfExists {
    /// Nothing is written, and the answer is [`DeliveryError::InTheWay`].
    #[default]
    Refuse,
    /// The new one takes its place.
    Replace,
    /// Both are kept: the new one gets a number.
    KeepBoth,
}

/// Where something goes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Destination {
    /// Its file, or its folder where it is one of several files. The ending says in which form it is written.
    pub path: PathBuf,
    /// What happens where something of this name is there.
    pub if_exists: IfExists,
    /// Whether the folder that it lies in is made where there is none.
    pub make_folder: bool,
}

impl Destination {
    /// A place in a folder that must be there.
    pub fn new(path: &Path, if_exists: IfExists) -> Self {
        Self { path: path.into(), if_exists, make_folder: false }
    }

    /// Looks whether a thing of this kind may be written here: to be asked before long work for it.
    ///
    /// # Errors
    /// The name ends in no form of this kind, there is no folder for it, or something is in the way.
    pub fn check(&self, kind: DeliveryKind) -> Result<DeliveryForm, DeliveryError> {
        let path = self.path.as_path();
        let form = DeliveryForm::of(kind, path).ok_or_else(|| DeliveryError::Ending { path: path.into(), kind })?;
        if cfg!(not(feature = "paper")) && form == DeliveryForm::Card(CardForm::Pdf) {
            return Err(DeliveryError::NoPaper);
        }
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
        if self.make_folder && folder.is_some_and(|folder| !is_there(folder)) {
            return Ok(form);
        }
        match self.if_exists {
            IfExists::KeepBoth => {}
            IfExists::Refuse | IfExists::Replace => self.check_path(form)?,
        }
        if ours_of(form).is_none() {
            check_folder_of(path)?;
        }
        Ok(form)
    }

    fn check_path(&self, form: DeliveryForm) -> Result<(), DeliveryError> {
        let replace = self.if_exists == IfExists::Replace;
        if let Some(ours) = ours_of(form) {
            return Ok(check_folder(&self.path, ours, replace)?);
        }
        let there = files_of(form, &self.path).into_iter().find(|file| is_there(file));
        match there.filter(|_| !replace) {
            Some(path) => Err(DeliveryError::InTheWay(InTheWay { path })),
            None => Ok(()),
        }
    }

    /// The names that are tried, in order.
    fn candidates(&self) -> impl Iterator<Item = PathBuf> + use<'_> {
        let path = &self.path;
        let stem = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let ending = path.extension().map(|ending| format!(".{}", ending.to_string_lossy())).unwrap_or_default();
        let numbers = if self.if_exists == IfExists::KeepBoth { 2..MOST_NUMBERS } else { 0..0 };
        let numbered = numbers.map(move |number| path.with_file_name(format!("{stem}-{number}{ending}")));
        std::iter::once(path.clone()).chain(numbered)
    }

    /// Writes under the first of the names that is free; where it was written, and what writing gave.
    fn write<T>(
        &self,
        form: DeliveryForm,
        mut write: impl FnMut(&Path, bool) -> Result<T, DeliveryError>,
    ) -> Result<(PathBuf, T), DeliveryError> {
        if let (true, Some(folder)) = (self.make_folder, self.path.parent()) {
            std::fs::create_dir_all(folder).map_err(|source| FileError::Write { path: folder.into(), source })?;
        }
        for path in self.candidates() {
            if self.if_exists == IfExists::KeepBoth && files_of(form, &path).iter().any(|file| is_there(file)) {
                continue;
            }
            match write(&path, self.if_exists == IfExists::Replace) {
                // It has come to be there since it was looked for.
                Err(DeliveryError::InTheWay(_)) if self.if_exists == IfExists::KeepBoth => {}
                written => return Ok((path, written?)),
            }
        }
        Err(DeliveryError::NoFreeName { path: self.path.clone() })
    }
}

/// The files, or the folder, that a thing is written as.
fn files_of(form: DeliveryForm, path: &Path) -> Vec<PathBuf> {
    match form {
        DeliveryForm::Still(_) => vec![path.into(), record_beside(path)],
        _ => vec![path.into()],
    }
}

/// Where a picture's record lies.
pub fn record_beside(picture: &Path) -> PathBuf {
    picture.with_extension("record.ron")
}

/// Which files may lie in the folder of a thing that is one.
fn ours_of(form: DeliveryForm) -> Option<fn(&str) -> bool> {
    match form {
        DeliveryForm::Sheet => Some(is_of_a_sheet),
        DeliveryForm::Sequence => Some(is_of_a_sequence),
        _ => None,
    }
}

/// Something of the same name that was there before.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("{path} already exists", path = path.display())]
pub struct InTheWay {
    /// The file or folder.
    pub path: PathBuf,
}

/// Why nothing was handed over.
#[derive(Debug, Error)]
pub enum DeliveryError {
    /// Something is there already.
    #[error(transparent)]
    InTheWay(#[from] InTheWay),
    /// The watcher no longer wants it.
    #[error("cancelled; nothing is written")]
    Cancelled,
    /// The name ends in none of the forms of its kind.
    #[error("{path}: {}", ending_words(*kind), path = path.display())]
    Ending {
        /// What was given.
        path: PathBuf,
        /// What was to be written there.
        kind: DeliveryKind,
    },
    /// The program was built without pages of paper.
    #[error("this program was built without PDF (feature 'paper'): end the card's name in .html")]
    NoPaper,
    /// There are too many of this name.
    #[error("{path}: ten thousand of this name lie there; choose another folder", path = path.display())]
    NoFreeName {
        /// The name.
        path: PathBuf,
    },
    /// A stance cannot be taken up.
    #[error("{name}: {error}")]
    Stance {
        /// Which one.
        name: String,
        /// Why.
        error: StanceError,
    },
    /// Nothing of the site has a place on the map.
    #[error("{}", nothing_words(left_out))]
    NothingToPlace {
        /// What was left out, and why.
        left_out: Vec<String>,
    },
    /// A picture cannot be taken.
    #[error(transparent)]
    Capture(CaptureError),
    /// A card cannot be made.
    #[error(transparent)]
    Card(CardError),
    /// A sheet cannot be made.
    #[error(transparent)]
    Sheet(SheetError),
    /// A page's picture cannot be packed.
    #[error(transparent)]
    Pack(#[from] PackError),
    /// The site has no places.
    #[error(transparent)]
    Places(#[from] PlacesError),
    /// A sequence cannot be made.
    #[error(transparent)]
    Sequence(SequenceError),
    /// Pages of paper cannot be made.
    #[cfg(feature = "paper")]
    #[error(transparent)]
    Paper(#[from] super::paper::PaperError),
    /// A file cannot be written.
    #[error(transparent)]
    File(FileError),
    /// A folder cannot be written.
    #[error(transparent)]
    Folder(FolderError),
}

fn ending_words(kind: DeliveryKind) -> &'static str {
    match kind {
        DeliveryKind::Still => "end the picture's name in .png, .jpg or .jpeg",
        DeliveryKind::Card => "end the card's name in .html or .pdf",
        DeliveryKind::Places => "end the file's name in .gpx, .kml or .geojson",
        DeliveryKind::Comparison => "end the comparison's name in .csv or .json",
        DeliveryKind::Sheet | DeliveryKind::Sequence => "name a folder",
    }
}

fn nothing_words(left_out: &[String]) -> String {
    if left_out.is_empty() {
        "there is nothing to write: no stance, no subject, no ground".into()
    } else {
        left_out.join("\n")
    }
}

impl From<Cancelled> for DeliveryError {
    fn from(_: Cancelled) -> Self {
        Self::Cancelled
    }
}

impl From<CaptureError> for DeliveryError {
    fn from(error: CaptureError) -> Self {
        match error {
            CaptureError::Still(StillError::Cancelled(_)) => Self::Cancelled,
            error => Self::Capture(error),
        }
    }
}

impl From<CardError> for DeliveryError {
    fn from(error: CardError) -> Self {
        match error {
            CardError::Still(StillError::Cancelled(_)) => Self::Cancelled,
            error => Self::Card(error),
        }
    }
}

impl From<SheetError> for DeliveryError {
    fn from(error: SheetError) -> Self {
        match error {
            SheetError::Cancelled(_) | SheetError::Still(StillError::Cancelled(_)) => Self::Cancelled,
            error => Self::Sheet(error),
        }
    }
}

impl From<SequenceError> for DeliveryError {
    fn from(error: SequenceError) -> Self {
        match error {
            SequenceError::Cancelled(_) | SequenceError::Still(StillError::Cancelled(_)) => Self::Cancelled,
            error => Self::Sequence(error),
        }
    }
}

impl From<FileError> for DeliveryError {
    fn from(error: FileError) -> Self {
        match error {
            FileError::AlreadyThere { path } => Self::InTheWay(InTheWay { path }),
            error => Self::File(error),
        }
    }
}

impl From<FolderError> for DeliveryError {
    fn from(error: FolderError) -> Self {
        match error {
            FolderError::AlreadyThere { path } => Self::InTheWay(InTheWay { path }),
            error => Self::Folder(error),
        }
    }
}

/// What was handed over.
#[derive(Clone, Debug)]
pub struct Delivered {
    /// Its file, or its folder.
    pub path: PathBuf,
    /// What it is.
    pub content: DeliveredContent,
}

/// What there is to say of a thing that was handed over.
#[derive(Clone, Debug)]
pub enum DeliveredContent {
    /// A picture.
    Still {
        /// The picture with its record.
        capture: Arc<Capture>,
        /// The record's file.
        record: PathBuf,
    },
    /// A field card.
    Card(Arc<Document>),
    /// A client sheet.
    Sheet {
        /// How large its page is.
        page_bytes: usize,
        /// Whether it is there on paper too.
        on_paper: bool,
    },
    /// Places.
    Places(Arc<Places>),
    /// The cameras of a sequence.
    Sequence(Arc<Vec<SequenceFrame>>),
    /// A comparison.
    Comparison(Arc<Comparison>),
}

/// Makes a thing and writes it, whole or not at all. What was `prepared` of the same request before is not made again.
///
/// # Errors
/// It cannot be made or written, something is in the way, or the watcher has cancelled; then nothing new is there.
pub fn deliver(
    survey: &Survey,
    request: &DeliveryRequest,
    prepared: Option<Prepared>,
    destination: &Destination,
    progress: &Progress,
) -> Result<Delivered, DeliveryError> {
    let form = destination.check(request.kind())?;
    if let DeliveryRequest::Sequence(sequence) = request {
        return deliver_sequence(survey, sequence, destination, progress);
    }
    // A picture that was prepared to be looked at may be of another form.
    let prepared = match (prepared.filter(|prepared| !matches!(prepared, Prepared::Still(_))), form) {
        (Some(prepared), _) => prepared,
        (None, DeliveryForm::Still(picture)) => request.prepare_in(survey, picture, progress)?,
        (None, _) => request.prepare(survey, progress)?,
    };
    progress.check()?;
    let one_file = |content: &[u8]| {
        let write = |path: &Path, replace| Ok(write_together(&[(path, content)], replace)?);
        Ok::<PathBuf, DeliveryError>(destination.write(form, write)?.0)
    };
    let (path, content) = match (prepared, form) {
        (Prepared::Still(capture), DeliveryForm::Still(_)) => {
            let mut capture = Arc::unwrap_or_clone(capture);
            let write = |path: &Path, replace| {
                if let Some(picture) = &mut capture.record.picture {
                    picture.file = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
                }
                let (record, text) = (record_beside(path), capture.record.to_ron());
                write_together(&[(path, &capture.file), (&record, text.as_bytes())], replace)?;
                Ok(record)
            };
            let (path, record) = destination.write(form, write)?;
            (path, DeliveredContent::Still { capture: Arc::new(capture), record })
        }
        (Prepared::Card(card), DeliveryForm::Card(card_form)) => {
            let content = match card_form {
                CardForm::Html => card.html()?.into_bytes(),
                CardForm::Pdf => on_paper(&card)?.ok_or(DeliveryError::NoPaper)?,
            };
            progress.check()?;
            (one_file(&content)?, DeliveredContent::Card(card))
        }
        (Prepared::Sheet(sheet), DeliveryForm::Sheet) => {
            let page = sheet.html()?;
            let paper = on_paper(&sheet)?;
            progress.check()?;
            let write = |path: &Path, replace| {
                let folder = NewFolder::beside(path, is_of_a_sheet, replace)?;
                folder.write(PAGE_NAME, page.as_bytes())?;
                if let Some(paper) = &paper {
                    folder.write(PAPER_NAME, paper)?;
                }
                Ok(folder.put()?)
            };
            let (path, ()) = destination.write(form, write)?;
            (path, DeliveredContent::Sheet { page_bytes: page.len(), on_paper: paper.is_some() })
        }
        (Prepared::Places(places), DeliveryForm::Places(places_form)) => {
            (one_file(places.to_text(places_form).as_bytes())?, DeliveredContent::Places(places))
        }
        (Prepared::Comparison(comparison), DeliveryForm::Comparison(comparison_form)) => {
            let text = match comparison_form {
                ComparisonForm::Csv => comparison.to_csv(),
                ComparisonForm::Json => comparison.to_json(),
            };
            (one_file(text.as_bytes())?, DeliveredContent::Comparison(comparison))
        }
        // Something else was prepared than is asked for.
        _ => return Err(DeliveryError::Ending { path: destination.path.clone(), kind: request.kind() }),
    };
    Ok(Delivered { path, content })
}

/// A sequence is pictured into its folder frame by frame.
fn deliver_sequence(
    survey: &Survey,
    sequence: &Sequence,
    destination: &Destination,
    progress: &Progress,
) -> Result<Delivered, DeliveryError> {
    let write = |path: &Path, replace| {
        let folder = NewFolder::beside(path, is_of_a_sequence, replace)?;
        let frames = sequence.picture_into(survey, folder.path(), progress)?;
        progress.check()?;
        folder.put()?;
        Ok(frames)
    };
    let (path, frames) = destination.write(DeliveryForm::Sequence, write)?;
    Ok(Delivered { path, content: DeliveredContent::Sequence(Arc::new(frames)) })
}

/// A document on paper; `None` where the program was built without.
#[cfg(feature = "paper")]
fn on_paper(document: &Document) -> Result<Option<Vec<u8>>, DeliveryError> {
    Ok(Some(document.pdf()?))
}

#[cfg(not(feature = "paper"))]
fn on_paper(_: &Document) -> Result<Option<Vec<u8>>, DeliveryError> {
    Ok(None)
}

/// A name that every file system takes: letters and digits, with single dashes between.
pub fn file_stem(site: &str, name: &str) -> String {
    let mut stem = String::new();
    for c in format!("{site} {name}").chars().take(80) {
        if c.is_alphanumeric() {
            stem.push(c);
        } else if !stem.is_empty() && !stem.ends_with('-') {
            stem.push('-');
        }
    }
    let stem = stem.trim_end_matches('-');
    if stem.is_empty() { "still".into() } else { stem.into() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_have_names_that_every_file_system_takes() {
        assert_eq!(file_stem("Salt/ings: stack", "yard, standing (2)"), "Salt-ings-stack-yard-standing-2");
        assert_eq!(file_stem("..", "//"), "still");
    }

    #[test]
    fn a_name_that_is_taken_is_refused_replaced_or_numbered() {
        let home = tempfile::tempdir().expect("a folder");
        let path = home.path().join("yard.gpx");
        let form = DeliveryForm::Places(PlacesForm::Gpx);
        let put = |if_exists, content: &[u8]| {
            let destination = Destination::new(&path, if_exists);
            destination.check(DeliveryKind::Places)?;
            let write = |path: &Path, replace| Ok(write_together(&[(path, content)], replace)?);
            Ok::<PathBuf, DeliveryError>(destination.write(form, write)?.0)
        };
        assert_eq!(put(IfExists::Refuse, b"1").expect("free"), path);
        let refused = put(IfExists::Refuse, b"2");
        assert!(matches!(&refused, Err(DeliveryError::InTheWay(there)) if there.path == path), "{refused:?}");
        assert_eq!(put(IfExists::KeepBoth, b"3").expect("numbered"), home.path().join("yard-2.gpx"));
        assert_eq!(put(IfExists::KeepBoth, b"4").expect("numbered"), home.path().join("yard-3.gpx"));
        assert_eq!(put(IfExists::Replace, b"5").expect("replaced"), path);
        assert_eq!(std::fs::read(&path).expect("read"), b"5");
        assert_eq!(std::fs::read_dir(home.path()).expect("listed").count(), 3);
    }

    #[test]
    fn a_picture_is_in_the_way_of_neither_record_nor_picture() {
        let home = tempfile::tempdir().expect("a folder");
        let picture = home.path().join("still.png");
        std::fs::write(record_beside(&picture), "mine").expect("written");
        let check = |path: &Path| Destination::new(path, IfExists::Refuse).check(DeliveryKind::Still);
        assert!(
            matches!(check(&picture), Err(DeliveryError::InTheWay(there)) if there.path == record_beside(&picture))
        );
        assert!(matches!(check(&home.path().join("other.jpeg")), Ok(DeliveryForm::Still(PictureForm::Jpeg))));
        assert!(matches!(check(&home.path().join("still.gif")), Err(DeliveryError::Ending { .. })));
        assert!(matches!(check(&home.path().join("no folder/still.png")), Err(DeliveryError::File(_))));
    }
}
