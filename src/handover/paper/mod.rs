//! How does a document become pages of paper?

mod canvas;
mod pocket;
mod report;

use thiserror::Error;

use super::document::{Document, PageLayout};
use super::html::PackError;

use self::canvas::PaperFile;

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

/// A document as a PDF file.
pub(super) fn pages(document: &Document) -> Result<Vec<u8>, PaperError> {
    let mut paper = PaperFile::new(&document.name, &document.description)?;
    match document.layout {
        PageLayout::Pocket => pocket::draw(document, &mut paper)?,
        PageLayout::Report => report::draw(document, &mut paper)?,
    }
    paper.finish()
}
