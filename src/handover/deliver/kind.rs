//! What is there to hand over, and what belongs to each kind of it?
//!
//! Each kind says which stances it takes, what its file is called, how it is asked for, how it is made and in which forms it is
//! written.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use thiserror::Error;

use super::error::DeliveryError;
use crate::day::DaySettings;
use crate::handover::capture::{Capture, Setup, Shot};
use crate::handover::compare::Comparison;
use crate::handover::day_page::{DayPages, DayRequest};
use crate::handover::document::Document;
use crate::handover::exif::PictureForm;
use crate::handover::film::{Film, FilmForm, PLATFORM_M, rise};
use crate::handover::page::{Page, Paper};
use crate::handover::places::{Places, PlacesForm};
use crate::handover::sequence::{FrameStyle, Sequence, SequenceFrame, is_of_a_sequence};
use crate::handover::sequence_page::{film_page, sequence_page};
use crate::handover::{
    Brand, BrandError, CardRequest, ClientSheet, DocumentSettings, FieldCard, PageWords, SheetOrder, SheetRequest,
    WordsError, client_sheet, field_card,
};
use crate::light::{Moment, TideTable};
use crate::place::Day;
use crate::plan::PrintId;
use crate::progress::Progress;
use crate::site::Stance;
use crate::still::{Depth, Look, Surround};
use crate::survey::{MeasureSettings, Measured, Survey};
use crate::theme::Theme;
use crate::units::Units;

/// The name of the page's file in a sheet's folder.
pub const PAGE_NAME: &str = "sheet.html";
/// The name of the file for paper there.
pub const PAPER_NAME: &str = "sheet.pdf";

/// Whether a file of this name may be part of a sheet's folder.
pub fn is_of_a_sheet(name: &str) -> bool {
    [PAGE_NAME, PAPER_NAME].contains(&name)
}

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
    /// The stances of a day in order, with their hours.
    Day,
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
    pub const ALL: [Self; 8] =
        [Self::Still, Self::Card, Self::Sheet, Self::Day, Self::Places, Self::Sequence, Self::Film, Self::Comparison];

    /// What it is called on screen.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Still => "Still",
            Self::Card => "Field card",
            Self::Sheet => "Client sheet",
            Self::Day => "Order of the day",
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
            Self::Sheet | Self::Day | Self::Places | Self::Film | Self::Comparison => StancesTaken::Included,
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
            Self::Day => file_stem(site, "day"),
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
            Self::Day => "end the day's name in .html, .pdf, .ics or .gpx",
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
        let DeliveryChoice { options, stances, settings, theme, units, tide, .. } = choice;
        let (stances, settings, units) = (stances.clone(), *settings, *units);
        let document = || {
            let day = options.day.ok_or(RequestError::NoDay)?;
            let words = PageWords::of(&options.words)?;
            Ok::<_, RequestError>(DocumentSettings { day, units, look: options.look, words })
        };
        let frames_at = |per_second| FrameStyle {
            width_px: options.width_px,
            samples: 4,
            look: options.look,
            theme: *theme,
            overlay: options.overlay,
            per_second,
            units,
        };
        Ok(match self {
            Self::Still => return Err(RequestError::Still),
            Self::Card => {
                let [stance] = <[Stance; 1]>::try_from(stances).map_err(|_| RequestError::NotOneStance)?;
                DeliveryRequest::Card(CardRequest { stance, settings, paper: options.paper, document: document()? })
            }
            Self::Sheet => {
                let mut brand = options.brand.as_deref().map(Brand::read).transpose()?.unwrap_or_default();
                let title = options.title.trim();
                if !title.is_empty() {
                    brand.title = Some(title.to_owned());
                }
                DeliveryRequest::Sheet(SheetRequest {
                    said: choice.said.clone(),
                    stances,
                    order: options.order,
                    headline: Some(options.headline.clone()),
                    settings,
                    brand,
                    paper: options.paper,
                    technical: options.technical,
                    document: document()?,
                })
            }
            Self::Day => DeliveryRequest::Day(DayRequest {
                stances,
                day: options.day.ok_or(RequestError::NoDay)?,
                settings: options.day_order,
                paper: options.paper.size,
                tide: tide.clone(),
                measure: settings,
                units,
                made: options.made.ok_or(RequestError::NoDay)?,
            }),
            Self::Places => DeliveryRequest::Places { stances },
            Self::Sequence => {
                let [from, to] = <[Stance; 2]>::try_from(stances).map_err(|_| RequestError::NotTwoStances)?;
                DeliveryRequest::Sequence(Sequence { from, to, frames: options.frames, style: frames_at(12) })
            }
            Self::Film => {
                let stops = match stances.as_slice() {
                    [stance] => rise(stance, options.film_height_m),
                    _ => stances,
                };
                DeliveryRequest::Film(Film {
                    stops,
                    seconds: options.film_seconds,
                    style: frames_at(options.film_per_second),
                    caption: options.film_caption,
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
    /// How the day of the stances is spent.
    pub day_order: DaySettings,
    /// When this was put together, for calendars.
    pub made: Option<Moment>,
    /// Whether the first of them is recommended, or the best by what was measured.
    pub order: SheetOrder,
    /// What a sheet recommends, in its planner's words; found from what was measured where it is empty.
    pub headline: String,
    /// What a sheet says of a print, in its planner's words.
    pub said: Vec<(PrintId, String)>,
    /// The language of cards and sheets: one that is shipped, else the path of a file of words.
    pub words: String,
    /// The paper that cards and sheets are laid out for.
    pub paper: Paper,
    /// Whether figures in degrees and pixels stand on a sheet.
    pub technical: bool,
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
            day_order: DaySettings::default(),
            made: None,
            order: SheetOrder::default(),
            headline: String::new(),
            said: Vec::new(),
            words: PageWords::languages()[0].to_owned(),
            paper: Paper::default(),
            technical: false,
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
    /// What its planner says of each of them.
    pub said: Vec<String>,
    /// By what they are measured.
    pub settings: MeasureSettings,
    /// The colours of pictures.
    pub theme: Theme,
    /// The unit of lengths.
    pub units: Units,
    /// How the water stands, where that is known.
    pub tide: Option<Arc<TideTable>>,
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
    /// The file of words cannot be read.
    #[error(transparent)]
    Words(#[from] WordsError),
}

/// The form of a page that is one file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PageForm {
    /// A page for a browser.
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

/// The form of a day of stances.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DayForm {
    /// A page.
    Page(PageForm),
    /// Events of a calendar.
    Calendar,
    /// A route for GPS receivers.
    Route,
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
    /// A day of stances in this form.
    Day(DayForm),
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
            (DeliveryKind::Day, Some("html")) => Some(Self::Day(DayForm::Page(PageForm::Html))),
            (DeliveryKind::Day, Some("pdf")) => Some(Self::Day(DayForm::Page(PageForm::Pdf))),
            (DeliveryKind::Day, Some("ics")) => Some(Self::Day(DayForm::Calendar)),
            (DeliveryKind::Day, Some("gpx")) => Some(Self::Day(DayForm::Route)),
            (DeliveryKind::Places, _) => PlacesForm::of(path).map(Self::Places),
            (DeliveryKind::Sequence, _) => Some(Self::Sequence),
            (DeliveryKind::Film, _) => FilmForm::of(path).map(Self::Film),
            (DeliveryKind::Comparison, Some("csv")) => Some(Self::Comparison(ComparisonForm::Csv)),
            (DeliveryKind::Comparison, Some("json")) => Some(Self::Comparison(ComparisonForm::Json)),
            (DeliveryKind::Card | DeliveryKind::Day | DeliveryKind::Comparison, _) => None,
        }
    }

    /// Which kind of thing it is a form of.
    pub const fn kind(self) -> DeliveryKind {
        match self {
            Self::Still(_) => DeliveryKind::Still,
            Self::Card(_) => DeliveryKind::Card,
            Self::Sheet => DeliveryKind::Sheet,
            Self::Day(_) => DeliveryKind::Day,
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
            Self::Day(DayForm::Page(PageForm::Html)) => ".html",
            Self::Day(DayForm::Page(PageForm::Pdf)) => ".pdf",
            Self::Day(DayForm::Calendar) => ".ics",
            Self::Day(DayForm::Route) => ".gpx",
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
        match self {
            Self::Sequence => Some(is_of_a_sequence),
            Self::Sheet => Some(is_of_a_sheet),
            Self::Still(_) | Self::Card(_) | Self::Day(_) | Self::Places(_) | Self::Film(_) | Self::Comparison(_) => {
                None
            }
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
    Card(CardRequest),
    /// A client sheet.
    Sheet(SheetRequest),
    /// The stances of a day in order.
    Day(DayRequest),
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
            Self::Card(_) => DeliveryKind::Card,
            Self::Sheet(_) => DeliveryKind::Sheet,
            Self::Day(_) => DeliveryKind::Day,
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
            Self::Card(request) => {
                let measured = measure(survey, &request.stance, &request.settings)?;
                Prepared::Card(Arc::new(field_card(survey, request, &measured, progress)?))
            }
            Self::Sheet(request) => {
                let measured: Vec<Measured> = request
                    .stances
                    .iter()
                    .map(|stance| measure(survey, stance, &request.settings))
                    .collect::<Result<_, DeliveryError>>()?;
                Prepared::Sheet(Arc::new(client_sheet(survey, request, &measured, progress)?))
            }
            Self::Day(request) => Prepared::Day(Arc::new(request.pages(survey)?)),
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
    /// A field card.
    Card(Arc<FieldCard>),
    /// A client sheet.
    Sheet(Arc<ClientSheet>),
    /// The stances of a day in order.
    Day(Arc<DayPages>),
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
    /// What it reads like before it is written, with lengths in this unit; `None` for a picture, which is looked at itself, and
    /// for what has pages.
    pub fn document(&self, units: Units) -> Option<Arc<Document>> {
        match self {
            Self::Still(_) | Self::Card(_) | Self::Sheet(_) | Self::Day(_) => None,
            Self::Places(places) => Some(Arc::new(places.document(units))),
            Self::Sequence(frames) => Some(Arc::new(sequence_page(frames))),
            Self::Film(frames) => Some(Arc::new(film_page(frames))),
            Self::Comparison(comparison) => Some(Arc::new(comparison.document(units))),
        }
    }

    /// Whether it is written as pages.
    pub const fn has_pages(&self) -> bool {
        matches!(self, Self::Card(_) | Self::Sheet(_) | Self::Day(_))
    }

    /// The very pages that are written, of a card, a sheet or a day.
    pub fn pages(&self) -> Option<Vec<Page>> {
        match self {
            Self::Card(card) => Some(card.pages()),
            Self::Sheet(sheet) => Some(sheet.pages()),
            Self::Day(day) => Some(day.pages()),
            Self::Still(_) | Self::Places(_) | Self::Sequence(_) | Self::Film(_) | Self::Comparison(_) => None,
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
