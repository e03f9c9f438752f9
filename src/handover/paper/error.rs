//! Why are there no pages?

use thiserror::Error;

use crate::handover::jpeg::PackError;

/// Pages that cannot be made.
#[derive(Debug, Error)]
pub enum PaperError {
    /// The type cannot be set, or the pages cannot be put together.
    #[error("the pages cannot be put together: {why}")]
    Pages {
        /// Why not.
        why: String,
    },
    /// A picture cannot be read.
    #[error("a picture cannot be put on a page: {why}")]
    Picture {
        /// Why not.
        why: String,
    },
    /// A picture cannot be packed.
    #[error(transparent)]
    Pack(#[from] PackError),
}
