//! What leaves the desk, for the field, the map and whoever pays?

mod alignments;
mod brand;
mod card;
mod folder;
mod html;
mod paper;
mod sheet;

pub use alignments::{Alignment, Landmark, alignments};
pub use brand::{Brand, BrandError, MarkFile};
pub use card::{CardError, FieldCard, Row, Section};
pub use folder::{FolderError, check_folder, write_folder};
pub use html::PackError;
pub use paper::PaperError;
pub use sheet::{ClientSheet, LARGEST_PAGE_BYTES, MOST_STANCES, PAGE_NAME, PAPER_NAME, SheetError};
