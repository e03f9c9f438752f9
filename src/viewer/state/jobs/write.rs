//! How is what is handed over written in the background?

use std::path::PathBuf;

use crate::handover::deliver::{
    DeliveredContent, DeliveryError, DeliveryForm, DeliveryRequest, Destination, InTheWay, Prepared, deliver,
    record_beside,
};
use crate::handover::sequence::ANIMATED;
use crate::handover::{PAGE_NAME, PAPER_NAME};
use crate::progress::Progress;
use crate::survey::Survey;

use super::prepare::{PreparedFor, words};

/// A still that was taken: the picture, and its record beside it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StillFiles {
    /// The picture.
    pub picture: PathBuf,
    /// Its record.
    pub record: PathBuf,
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

/// Takes a still and writes it with its record, in the background; `None` where it was stopped.
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

/// Writes a thing, in the background; what was `prepared` before is not made again.
pub(in crate::viewer::state) fn write(
    survey: &Survey,
    of: &PreparedFor,
    prepared: Option<Prepared>,
    destination: &Destination,
    progress: &Progress,
) -> DeliveryOutcome {
    let request = match of.request() {
        Ok(request) => request,
        Err(error) => return DeliveryOutcome::Failed(error.to_string()),
    };
    let delivered = match deliver(survey, &request, prepared, destination, progress) {
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
        DeliveredContent::Film(bytes) => text.push_str(&format!(": {:.1} MB", bytes as f64 / 1e6)),
        DeliveredContent::Places(places) => {
            for why in &places.left_out {
                text.push_str(&format!("\nleft out: {why}"));
            }
        }
        DeliveredContent::Still { .. }
        | DeliveredContent::Card(_)
        | DeliveredContent::Day(_)
        | DeliveredContent::Comparison(_) => {}
    }
    DeliveryOutcome::Done { path, text }
}
