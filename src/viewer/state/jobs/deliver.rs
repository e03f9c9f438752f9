//! How is what is handed over prepared and written in the background?

use std::path::PathBuf;

use crate::handover::deliver::{
    DeliveredContent, DeliveryError, DeliveryForm, DeliveryKind, DeliveryRequest, Destination, InTheWay, Prepared,
    deliver, record_beside,
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
use crate::viewer::state::clock::today;

/// A still that was taken: the picture, and its record beside it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StillFiles {
    /// The picture.
    pub picture: PathBuf,
    /// Its record.
    pub record: PathBuf,
}

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
    pub(in crate::viewer::state) fn first() -> Self {
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
pub(in crate::viewer::state) struct PreparedFor {
    pub(in crate::viewer::state) kind: DeliveryKind,
    pub(in crate::viewer::state) stances: Vec<Stance>,
    pub(in crate::viewer::state) site: u64,
    pub(in crate::viewer::state) sun: Option<Sun>,
    pub(in crate::viewer::state) measure_settings: MeasureSettings,
    pub(in crate::viewer::state) options: DeliveryOptions,
    pub(in crate::viewer::state) theme: Theme,
    pub(in crate::viewer::state) units: Units,
}

impl PreparedFor {
    /// What is asked of the core; reads the brand's file, so it belongs in the background.
    pub(in crate::viewer::state) fn request(&self) -> Result<DeliveryRequest, String> {
        let no_day = || "the computer's clock has no date; type one".to_owned();
        let (settings, units) = (self.measure_settings, self.units);
        let document = || Ok::<_, String>(DocumentSettings { day: self.options.day.ok_or_else(no_day)?, units });
        Ok(match self.kind {
            DeliveryKind::Still => return Err("a still is captured, not prepared".into()),
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
                    return Err("a sequence needs two prints; pin two stances first".into());
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
pub(in crate::viewer::state) enum DeliveryOutcome {
    Done { path: PathBuf, text: String },
    Blocked(BlockedDelivery),
    Cancelled,
    Failed(String),
}

/// Takes a still and writes it with its record; nothing where it was stopped.
pub(in crate::viewer::state) fn take_still(
    survey: &Survey,
    request: &DeliveryRequest,
    destination: &Destination,
    progress: &Progress,
) -> Result<Option<StillFiles>, String> {
    match deliver(survey, request, None, destination, progress) {
        Ok(delivered) => Ok(Some(StillFiles { record: record_beside(&delivered.path), picture: delivered.path })),
        Err(DeliveryError::Cancelled) => Ok(None),
        Err(error) => Err(error.to_string()),
    }
}

/// An error in the words of the window, where stances are prints.
fn words(error: &DeliveryError) -> String {
    match error {
        DeliveryError::Sheet(SheetError::NoStance) => "no print is included; choose at least one".into(),
        DeliveryError::Sheet(SheetError::TooMany { given }) => {
            format!("{given} prints are too many; choose {MOST_STANCES} or fewer")
        }
        error => error.to_string(),
    }
}

/// Prepares a thing in the background; `None` where it was cancelled.
pub(in crate::viewer::state) fn prepare(
    survey: &Survey,
    of: &PreparedFor,
    progress: &Progress,
) -> Option<Result<Prepared, String>> {
    match of.request() {
        Ok(request) => match request.prepare(survey, progress) {
            Err(DeliveryError::Cancelled) => None,
            prepared => Some(prepared.map_err(|error| words(&error))),
        },
        Err(text) => Some(Err(text)),
    }
}

/// Writes a thing in the background.
pub(in crate::viewer::state) fn written(
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
    let mut text = format!("saved {}", path.display());
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
