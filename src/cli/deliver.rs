//! How is a thing handed over from the command line: looked at before the work, made while a bar follows it, written?

use std::path::Path;

use crate::handover::SheetError;
use crate::handover::capture::CaptureError;
use crate::handover::deliver::{
    Delivered, DeliveryError, DeliveryKind, DeliveryRequest, Destination, IfExists, deliver,
};
use crate::handover::sequence::SequenceError;
use crate::survey::Survey;

use super::Ending;
use super::show::watched;

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
