//! Why was something not handed over?

use std::path::PathBuf;

use thiserror::Error;

use crate::files::FileError;
use crate::handover::capture::CaptureError;
use crate::handover::day_page::DayPagesError;
use crate::handover::places::PlacesError;
use crate::handover::sequence::SequenceError;
use crate::handover::{CardError, FolderError, PackError, SheetError};
use crate::progress::Cancelled;
use crate::stance::StanceError;
use crate::still::StillError;

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
    #[error("{path}: {expected}", path = path.display())]
    Ending {
        /// What was given.
        path: PathBuf,
        /// How the name must end, as a request.
        expected: &'static str,
    },
    /// What was prepared before is no thing of the kind that is to be written.
    #[error("{path}: something else was prepared than is to be written", path = path.display())]
    OtherThing {
        /// Where it was to be written.
        path: PathBuf,
    },
    /// The program was built without pages of paper.
    #[error("this program was built without PDF (feature 'paper'): end the file's name in .html")]
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
    /// A day cannot be put in order.
    #[error(transparent)]
    Day(#[from] DayPagesError),
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
    Paper(#[from] crate::handover::paper::PaperError),
    /// A file cannot be written.
    #[error(transparent)]
    File(FileError),
    /// A folder cannot be written.
    #[error(transparent)]
    Folder(FolderError),
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
