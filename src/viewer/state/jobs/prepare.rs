//! How is a card, a sheet, a list of places or a sequence prepared in the background, to be looked at before it is written?

use std::path::PathBuf;

use crate::handover::deliver::{DeliveryError, DeliveryKind, DeliveryRequest, Prepared};
use crate::handover::sequence::Sequence;
use crate::handover::{Brand, DocumentSettings, MOST_STANCES, SheetError};
use crate::place::Day;
use crate::plan::PrintId;
use crate::progress::Progress;
use crate::site::{Stance, Sun};
use crate::survey::{MeasureSettings, Survey};
use crate::theme::Theme;
use crate::units::Units;
use crate::viewer::state::clock::today;

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
}

impl DeliveryOptions {
    /// How things are put together before anybody has chosen.
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

/// Everything that a prepared thing depends on.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::viewer::state) struct PreparedFor {
    pub(in crate::viewer::state) kind: DeliveryKind,
    pub(in crate::viewer::state) stances: Vec<Stance>,
    /// The version of the site.
    pub(in crate::viewer::state) site: u64,
    pub(in crate::viewer::state) sun: Option<Sun>,
    pub(in crate::viewer::state) measure_settings: MeasureSettings,
    pub(in crate::viewer::state) options: DeliveryOptions,
    pub(in crate::viewer::state) theme: Theme,
    pub(in crate::viewer::state) units: Units,
}

impl PreparedFor {
    /// What is asked of the core. It reads the brand's file, so it belongs in the background.
    pub(super) fn request(&self) -> Result<DeliveryRequest, String> {
        let settings = self.measure_settings;
        let document = || {
            let day = self.options.day.ok_or("the computer's clock gives no day; write one")?;
            Ok::<_, String>(DocumentSettings { day, units: self.units })
        };
        let stances = self.stances.clone();
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
                DeliveryRequest::Sheet { stances, settings, brand, document: document()? }
            }
            DeliveryKind::Places => DeliveryRequest::Places { stances },
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
                    units: self.units,
                })
            }
            DeliveryKind::Comparison => DeliveryRequest::Comparison { stances, settings },
        })
    }
}

/// An error in the words of the window, where stances are prints.
pub(super) fn words(error: &DeliveryError) -> String {
    match error {
        DeliveryError::Sheet(SheetError::NoStance) => "no print is included; choose at least one".into(),
        DeliveryError::Sheet(SheetError::TooMany { given }) => {
            format!("{given} prints are more than fit; choose {MOST_STANCES} or fewer")
        }
        error => error.to_string(),
    }
}

/// Prepares a thing, in the background; `None` where it was stopped.
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
