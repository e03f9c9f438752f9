//! How is a card, a sheet, a list of places or a sequence prepared in the background, to be looked at before it is written?

use crate::handover::deliver::{DeliveryChoice, DeliveryError, DeliveryKind, DeliveryRequest, Prepared, RequestError};
use crate::handover::{MOST_STANCES, SheetError};
use crate::progress::Progress;
use crate::site::Sun;
use crate::survey::Survey;

/// Everything that a prepared thing depends on.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::viewer::state) struct PreparedFor {
    pub(in crate::viewer::state) kind: DeliveryKind,
    /// What the person chose.
    pub(in crate::viewer::state) choice: DeliveryChoice,
    /// The version of the site.
    pub(in crate::viewer::state) site: u64,
    pub(in crate::viewer::state) sun: Option<Sun>,
}

impl PreparedFor {
    /// What is asked of the core. It may read files, so it belongs in the background.
    pub(super) fn request(&self) -> Result<DeliveryRequest, RequestError> {
        self.kind.request(&self.choice)
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
        Err(error) => Some(Err(error.to_string())),
    }
}
