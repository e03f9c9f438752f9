//! What is there to hand over, and what belongs to each kind of it?
//!
//! Each kind says which stances it takes, what its file is called, how it is asked for, how it is made and in which forms it is
//! written. A page is a [`Document`], built by a file of its own below this one; writing it and showing it ask nothing more.

pub(super) mod card;
pub(super) mod sheet;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use thiserror::Error;

use super::error::DeliveryError;
use crate::handover::capture::{Capture, Setup, Shot};
use crate::handover::compare::Comparison;
use crate::handover::document::Document;
use crate::handover::exif::PictureForm;
use crate::handover::film::{Film, FilmForm, PLATFORM_M, rise};
use crate::handover::places::{Places, PlacesForm};
use crate::handover::sequence::{Sequence, SequenceFrame, is_of_a_sequence};
use crate::handover::sequence_page::{film_page, sequence_page};
use crate::handover::{Brand, BrandError, DocumentSettings};
use crate::place::Day;
use crate::plan::PrintId;
use crate::progress::Progress;
use crate::site::Stance;
use crate::still::{Depth, Look, Surround};
use crate::survey::{MeasureSettings, Measured, Survey};
use crate::theme::Theme;
use crate::units::Units;

use card::field_card;
use sheet::{PAGE_NAME, PAPER_NAME, client_sheet, is_of_a_sheet};

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
    /// A moving picture through the stances, or rising at one.
    Film,
    /// Stances side by side, figure by figure.
    Comparison,
}

impl DeliveryKind {
    /// All of them, in order.
    pub const ALL: [Self; 7] =
        [Self::Still, Self::Card, Self::Sheet, Self::Places, Self::Sequence, Self::Film, Self::Comparison];

    /// What it is called on screen.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Still => "Still",
            Self::Card => "Field card",
            Self::Sheet => "Client sheet",
            Self::Places => "Maps and GPS",
            Self::Sequence => "Sequence",
            Self::Film => "Film",
            Self::Comparison => "Comparison",
        }
    }

    /// Which of the stances go into it.
    pub const fn takes(self) -> StancesTaken {
        match self {
            Self::Still | Self::Card => StancesTaken::Current,
            Self::Sheet | Self::Places | Self::Film | Self::Comparison => StancesTaken::Included,
            Self::Sequence => StancesTaken::Ends,
        }
    }

    /// The name of its file or folder unless another is given, without its ending.
    pub fn file_stem(self, site: &str, stances: &[Stance]) -> String {
        let names: Vec<&str> = stances.iter().map(|stance| stance.name.as_str()).collect();
        match self {
            Self::Still => file_stem(site, &names.join(" ")),
            Self::Card => format!("{}-card", file_stem(site, &names.join(" "))),
            Self::Sheet => file_stem(site, "sheet"),
            Self::Places => file_stem(site, "places"),
            Self::Sequence => file_stem(site, &names.join(" to ")),
            Self::Film => file_stem(site, "film"),
            Self::Comparison => file_stem(site, "comparison"),
        }
    }

    /// How the name of its file ends, as a request to whoever gave another.
    pub(super) const fn ending_words(self) -> &'static str {
        match self {
            Self::Still => "end the picture's name in .png, .jpg or .jpeg",
            Self::Card => "end the card's name in .html or .pdf",
            Self::Places => "end the file's name in .gpx, .kml or .geojson",
            Self::Film => "end the film's name in .png or .mp4",
            Self::Comparison => "end the comparison's name in .csv or .json",
            Self::Sheet | Self::Sequence => "name a folder",
        }
    }

    /// Asks for a thing of this kind, put together as the person chose. It may read files, such as the brand's.
    ///
    /// # Errors
    /// Something that this kind needs was not chosen, or cannot be read.
    pub fn request(self, choice: &DeliveryChoice) -> Result<DeliveryRequest, RequestError> {
        let DeliveryChoice { options, stances, settings, theme, units } = choice;
        let (stances, settings, units) = (stances.clone(), *settings, *units);
        let document = || {
            let day = options.day.ok_or(RequestError::NoDay)?;
            Ok::<_, RequestError>(DocumentSettings { day, units, look: options.look })
        };
        Ok(match self {
            Self::Still => return Err(RequestError::Still),
            Self::Card => {
                let [stance] = <[Stance; 1]>::try_from(stances).map_err(|_| RequestError::NotOneStance)?;
                DeliveryRequest::Card { stance, settings, document: document()? }
            }
            Self::Sheet => {
                let mut brand = options.brand.as_deref().map(Brand::read).transpose()?.unwrap_or_default();
                let title = options.title.trim();
                if !title.is_empty() {
                    brand.title = Some(title.to_owned());
                }
                DeliveryRequest::Sheet { stances, settings, brand, document: document()? }
            }
            Self::Places => DeliveryRequest::Places { stances },
            Self::Sequence => {
                let [from, to] = <[Stance; 2]>::try_from(stances).map_err(|_| RequestError::NotTwoStances)?;
                DeliveryRequest::Sequence(Sequence {
                    from,
                    to,
                    frames: options.frames,
                    width_px: options.width_px,
                    samples: 4,
                    theme: *theme,
                    look: options.look,
                    overlay: options.overlay,
                    per_second: 12,
                    units,
                })
            }
            Self::Film => {
                let stops = match stances.as_slice() {
                    [stance] => rise(stance, options.film_height_m),
                    _ => stances,
                };
                DeliveryRequest::Film(Film {
                    stops,
                    seconds: options.film_seconds,
                    per_second: options.film_per_second,
                    width_px: options.width_px,
                    samples: 4,
                    look: options.look,
                    theme: *theme,
                    overlay: options.overlay,
                    caption: options.film_caption,
                    units,
                })
            }
            Self::Comparison => DeliveryRequest::Comparison { stances, settings },
        })
    }
}

/// Which of the stances go into a thing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StancesTaken {
    /// The current one.
    Current,
    /// All pinned ones that are not left out; the current one where none is pinned.
    Included,
    /// The two pinned ones between which it runs.
    Ends,
}

/// How what is handed over is put together: what goes in, whose name is on it.
#[derive(Clone, Debug, PartialEq)]
pub struct DeliveryOptions {
    /// The day that cards and sheets are for.
    pub day: Option<Day>,
    /// Prints that stay out of sheets, places and comparisons.
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
    /// How long a film takes from stance to stance, in seconds.
    pub film_seconds: f64,
    /// How many frames a second a film has.
    pub film_per_second: u16,
    /// How high over the feet a film of one stance rises.
    pub film_height_m: f64,
    /// Whether the convergence stands under each frame of a film.
    pub film_caption: bool,
    /// What the site is shown as in stills, sheets, sequences and films.
    pub look: Look,
    /// What is shown where the sky would be in stills.
    pub surround: Surround,
    /// How finely the colours of stills are told.
    pub depth: Depth,
    /// Whether the edge of the final picture is drawn over stills.
    pub crop: bool,
    /// Whether the final picture stands beside stills.
    pub before_after: bool,
}

impl DeliveryOptions {
    /// How things are put together before anybody has chosen, on this day.
    pub fn on(day: Option<Day>) -> Self {
        Self {
            day,
            left_out: Vec::new(),
            brand: None,
            title: String::new(),
            ends: [None, None],
            frames: 48,
            width_px: 720,
            overlay: true,
            film_seconds: 4.0,
            film_per_second: 24,
            film_height_m: PLATFORM_M,
            film_caption: true,
            look: Look::default(),
            surround: Surround::default(),
            depth: Depth::default(),
            crop: false,
            before_after: false,
        }
    }
}

/// Everything that a person chose, of which a request is made.
#[derive(Clone, Debug, PartialEq)]
pub struct DeliveryChoice {
    /// What goes in, and how.
    pub options: DeliveryOptions,
    /// The stances that [`DeliveryKind::takes`] names.
    pub stances: Vec<Stance>,
    /// By what they are measured.
    pub settings: MeasureSettings,
    /// The colours of pictures.
    pub theme: Theme,
    /// The unit of lengths.
    pub units: Units,
}

/// Why nothing can be asked for yet.
#[derive(Debug, Error)]
pub enum RequestError {
    /// How large a still is and whether it is straightened is chosen as it is taken.
    #[error("a still is taken, not prepared")]
    Still,
    /// A page needs the day that it is for.
    #[error("the computer's clock gives no day; write one")]
    NoDay,
    /// A card shows one stance.
    #[error("a card is for one stance")]
    NotOneStance,
    /// A sequence has two ends.
    #[error("a sequence runs between two prints; pin two stances first")]
    NotTwoStances,
    /// The file of the user's name, address and logo cannot be read.
    #[error(transparent)]
    Brand(#[from] BrandError),
}

/// The form of a page that is one file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PageForm {
    /// A page for a browser.
    Html,
    /// A page of paper.
    Pdf,
}

/// As which files a document is written.
#[derive(Clone, Copy, Debug)]
pub(super) enum DocumentFiles {
    /// As one file of this form.
    Page(PageForm),
    /// As a folder with a page for a browser and, where the program can, the same on paper.
    Folder {
        /// The file for a browser.
        page: &'static str,
        /// The file for paper.
        paper: &'static str,
        /// Which files may lie in the folder.
        ours: fn(&str) -> bool,
    },
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
    Card(PageForm),
    /// The folder of a client sheet.
    Sheet,
    /// Places in this form.
    Places(PlacesForm),
    /// The folder of a sequence.
    Sequence,
    /// A film in this form.
    Film(FilmForm),
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
            (DeliveryKind::Card, Some("html")) => Some(Self::Card(PageForm::Html)),
            (DeliveryKind::Card, Some("pdf")) => Some(Self::Card(PageForm::Pdf)),
            (DeliveryKind::Sheet, _) => Some(Self::Sheet),
            (DeliveryKind::Places, _) => PlacesForm::of(path).map(Self::Places),
            (DeliveryKind::Sequence, _) => Some(Self::Sequence),
            (DeliveryKind::Film, _) => FilmForm::of(path).map(Self::Film),
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
            Self::Film(_) => DeliveryKind::Film,
            Self::Comparison(_) => DeliveryKind::Comparison,
        }
    }

    /// What names of this form end in, with its point; empty for a folder.
    pub const fn ending(self) -> &'static str {
        match self {
            Self::Still(PictureForm::Png) | Self::Film(FilmForm::Animated) => ".png",
            Self::Film(FilmForm::Video) => ".mp4",
            Self::Still(PictureForm::Jpeg) => ".jpg",
            Self::Card(PageForm::Html) => ".html",
            Self::Card(PageForm::Pdf) => ".pdf",
            Self::Places(PlacesForm::Gpx) => ".gpx",
            Self::Places(PlacesForm::Kml) => ".kml",
            Self::Places(PlacesForm::GeoJson) => ".geojson",
            Self::Comparison(ComparisonForm::Csv) => ".csv",
            Self::Comparison(ComparisonForm::Json) => ".json",
            Self::Sheet | Self::Sequence => "",
        }
    }

    /// The files, or the folder, that it is written as.
    pub(super) fn files(self, path: &Path) -> Vec<PathBuf> {
        let record = matches!(self, Self::Still(_)).then(|| record_beside(path));
        std::iter::once(path.into()).chain(record).collect()
    }

    /// Which files may lie in its folder, where it is written as one.
    pub(super) fn folder_files(self) -> Option<fn(&str) -> bool> {
        match (self, self.document_files()) {
            (Self::Sequence, _) => Some(is_of_a_sequence),
            (_, Some(DocumentFiles::Folder { ours, .. })) => Some(ours),
            _ => None,
        }
    }

    /// As which files it is written, where it is a page.
    pub(super) const fn document_files(self) -> Option<DocumentFiles> {
        match self {
            Self::Card(form) => Some(DocumentFiles::Page(form)),
            Self::Sheet => Some(DocumentFiles::Folder { page: PAGE_NAME, paper: PAPER_NAME, ours: is_of_a_sheet }),
            Self::Still(_) | Self::Places(_) | Self::Sequence | Self::Film(_) | Self::Comparison(_) => None,
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
    /// A film.
    Film(Film),
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
            Self::Film(_) => DeliveryKind::Film,
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

    pub(super) fn prepare_in(
        &self,
        survey: &Survey,
        form: PictureForm,
        progress: &Progress,
    ) -> Result<Prepared, DeliveryError> {
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
                Prepared::Document(
                    DeliveryKind::Card,
                    Arc::new(field_card(survey, stance, &measured, *document, progress)?),
                )
            }
            Self::Sheet { stances, settings, brand, document } => {
                let measured: Vec<(Stance, Measured)> = stances
                    .iter()
                    .map(|stance| Ok((stance.clone(), measure(survey, stance, settings)?)))
                    .collect::<Result<_, DeliveryError>>()?;
                Prepared::Document(
                    DeliveryKind::Sheet,
                    Arc::new(client_sheet(survey, &measured, brand.clone(), *document, progress)?),
                )
            }
            Self::Places { stances } => {
                let places = Places::of(survey, stances)?;
                if places.stances.is_empty() && places.subject.is_none() && places.grounds.is_empty() {
                    return Err(DeliveryError::NothingToPlace { left_out: places.left_out });
                }
                Prepared::Places(Arc::new(places))
            }
            Self::Sequence(sequence) => Prepared::Sequence(Arc::new(sequence.frames(survey)?)),
            Self::Film(film) => {
                Prepared::Film(Arc::new(film.frames(survey)?.into_iter().map(|(frame, _)| frame).collect()))
            }
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
    /// A page, or several, of a kind such as the field card or the client sheet.
    Document(DeliveryKind, Arc<Document>),
    /// Places.
    Places(Arc<Places>),
    /// The cameras of a sequence, with their figures.
    Sequence(Arc<Vec<SequenceFrame>>),
    /// The cameras of a film, with their figures.
    Film(Arc<Vec<SequenceFrame>>),
    /// A comparison.
    Comparison(Arc<Comparison>),
}

impl Prepared {
    /// What it reads like before it is written, with lengths in this unit; `None` for a picture, which is looked at itself.
    pub fn document(&self, units: Units) -> Option<Arc<Document>> {
        match self {
            Self::Still(_) => None,
            Self::Document(_, document) => Some(Arc::clone(document)),
            Self::Places(places) => Some(Arc::new(places.document(units))),
            Self::Sequence(frames) => Some(Arc::new(sequence_page(frames))),
            Self::Film(frames) => Some(Arc::new(film_page(frames))),
            Self::Comparison(comparison) => Some(Arc::new(comparison.document(units))),
        }
    }
}

/// Where a picture's record lies.
pub fn record_beside(picture: &Path) -> PathBuf {
    picture.with_extension("record.ron")
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
}
