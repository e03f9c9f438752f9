//! What is done in the background? Each job is a function of plain inputs, and its outcome comes back to the store.

pub(super) mod prepare;
pub(super) mod search;
pub(super) mod still;
pub(super) mod thumbnail;
pub(super) mod write;

use crate::still::Picture;
use crate::ways::Ways;

use super::dialog::{Chosen, PathQuestion};
use super::opening::{OpenError, Opened};
use prepare::Ready;
use search::{SearchFailure, Searched};
use still::Capture;
use thumbnail::ThumbnailKey;
use write::Written;

/// What a job comes to.
pub(super) enum Outcome {
    /// A site that the person opens.
    Opened(Result<Opened, OpenError>),
    /// The site that is shown, whose file has changed; whether it says what it said before.
    Reloaded {
        /// The site as it is now.
        opened: Box<Result<Opened, OpenError>>,
        /// Whether it says what it said before.
        unchanged: bool,
    },
    /// What the person chose in a dialog.
    Chosen(PathQuestion, Chosen),
    /// A still; nothing where it was stopped.
    Captured(Result<Option<Capture>, String>),
    /// A small picture.
    Thumbnail(Box<(ThumbnailKey, Option<Picture>)>),
    /// The ways to straighten it from here.
    Ways(Result<Ways, String>),
    /// A search.
    Searched(Result<Searched, SearchFailure>),
    /// Something made ready; nothing where it was stopped.
    Ready(Option<Result<Ready, String>>),
    /// Something written.
    Written(Written),
}
