//! How do pages become a PDF file?

mod canvas;
mod error;

use super::page::Page;

use self::canvas::PaperFile;
pub use self::error::PaperError;

/// Pages as a PDF file with its title, a sentence on what it holds, and its language.
///
/// # Errors
/// A picture cannot be packed, or the pages cannot be made.
pub(super) fn pdf(pages: &[Page], title: &str, description: &str, language: &str) -> Result<Vec<u8>, PaperError> {
    let mut paper = PaperFile::new(title, description, language)?;
    for page in pages {
        paper.page(page)?;
    }
    paper.finish()
}
