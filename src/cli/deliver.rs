//! How is a thing handed over from the command line: looked at before the work, made while a bar follows it, written?

use std::path::Path;
use std::time::UNIX_EPOCH;

use clap::{Args, ValueEnum};

use crate::handover::capture::CaptureError;
use crate::handover::deliver::{
    Delivered, DeliveryError, DeliveryKind, DeliveryRequest, Destination, IfExists, deliver,
};
use crate::handover::page::PaperSize;
use crate::handover::sequence::SequenceError;
use crate::handover::{DocumentSettings, PageWords, SheetError};
use crate::light::Zone;
use crate::place::Day;
use crate::still::Look;
use crate::survey::{MeasureSettings, Survey};
use crate::units::Units;

use super::Ending;
use super::show::watched;

/// A size of paper.
#[derive(Clone, Copy, Debug, Default, ValueEnum)]
pub(super) enum Papers {
    /// 210 × 297 mm
    #[default]
    A4,
    /// 8.5 × 11 inch
    Letter,
}

impl From<Papers> for PaperSize {
    fn from(paper: Papers) -> Self {
        match paper {
            Papers::A4 => Self::A4,
            Papers::Letter => Self::Letter,
        }
    }
}

/// What holds for cards and sheets alike.
#[derive(Args, Debug)]
pub(super) struct PageOptions {
    /// The date of the page, such as 2026-06-21, and of its magnetic declination; the day of --moment, else today
    #[arg(long, value_name = "DAY")]
    day: Option<Day>,
    /// The language of the page: en, de, or a file of your own words; `plumbsight pages words` prints one to begin from
    #[arg(long, value_name = "LANGUAGE", default_value = "en")]
    words: String,
    /// The size of the paper
    #[arg(long, value_enum, default_value_t)]
    paper: Papers,
    /// The unit of lengths on the page
    #[arg(long, value_enum, default_value_t)]
    units: Units,
}

impl PageOptions {
    /// The words of the page, read before any work.
    pub(super) fn words(&self) -> Result<std::sync::Arc<PageWords>, Ending> {
        PageWords::of(&self.words).map_err(Ending::bad)
    }

    pub(super) fn paper(&self) -> PaperSize {
        self.paper.into()
    }

    /// What a page of a site is made for.
    pub(super) fn settings(
        &self,
        survey: &Survey,
        measured_by: &MeasureSettings,
        words: std::sync::Arc<PageWords>,
        look: Look,
    ) -> Result<DocumentSettings, Ending> {
        let day_of = |moment| Some(Zone::of(&survey.model.site).ok()?.clock(moment).day);
        let day = day_or_today(self.day.or_else(|| measured_by.moment.and_then(day_of)))?;
        Ok(DocumentSettings { day, units: self.units, look, words })
    }
}

/// The day that was asked for, else the computer's.
pub(super) fn day_or_today(day: Option<Day>) -> Result<Day, Ending> {
    day.or_else(|| Day::of_unix_time(UNIX_EPOCH.elapsed().ok()?))
        .ok_or_else(|| Ending::BadInput("the computer's clock gives no day; use --day".into()))
}

/// Where a thing goes, where it may be written there.
pub(super) fn destination(out: &Path, replace: bool, kind: DeliveryKind) -> Result<Destination, Ending> {
    let destination = Destination::new(out, if replace { IfExists::Replace } else { IfExists::Refuse });
    destination.check(kind)?;
    Ok(destination)
}

/// Makes a thing and writes it.
pub(super) fn handed_over(
    survey: &Survey,
    request: &DeliveryRequest,
    destination: &Destination,
) -> Result<Delivered, Ending> {
    Ok(watched(|progress| deliver(survey, request, None, destination, progress))?)
}

impl From<DeliveryError> for Ending {
    fn from(error: DeliveryError) -> Self {
        match error {
            DeliveryError::InTheWay(there) => {
                Self::BadInput(format!("{there}; use --replace to overwrite it, or --out for another name"))
            }
            DeliveryError::Stance { name, error } => Self::from(error).of(&name),
            DeliveryError::NothingToPlace { .. } | DeliveryError::Sheet(SheetError::NoStance) => {
                Self::NoAnswer(error.to_string())
            }
            DeliveryError::Capture(error) => error.into(),
            DeliveryError::Sequence(error) => error.into(),
            DeliveryError::Day(error) => error.into(),
            error => Self::bad(error),
        }
    }
}

impl From<CaptureError> for Ending {
    fn from(error: CaptureError) -> Self {
        match error {
            CaptureError::Stance(error) => error.into(),
            CaptureError::Straightening(_) | CaptureError::NoSubject(_) => Self::NoAnswer(error.to_string()),
            CaptureError::Still(_) | CaptureError::File(_) => Self::bad(error),
        }
    }
}

impl From<SequenceError> for Ending {
    fn from(error: SequenceError) -> Self {
        match error {
            SequenceError::Stance { name, error } => Self::from(error).of(&format!("stance '{name}'")),
            SequenceError::Frame { .. } => Self::NoAnswer(error.to_string()),
            other => Self::bad(other),
        }
    }
}
