//! How does a document become pages of paper?

mod canvas;
mod error;
mod pocket;
mod report;

use super::document::{Document, PageLayout};

use self::canvas::PaperFile;
pub use self::error::PaperError;

impl Document {
    /// The document on paper, as a PDF file.
    ///
    /// # Errors
    /// A picture cannot be packed, or the pages cannot be made.
    pub fn pdf(&self) -> Result<Vec<u8>, PaperError> {
        let mut paper = PaperFile::new(&self.name, &self.description)?;
        match self.layout {
            PageLayout::Pocket => pocket::draw(self, &mut paper)?,
            PageLayout::Report => report::draw(self, &mut paper)?,
        }
        paper.finish()
    }
}
