//! How is a file read whole and written whole?
//!
//! Everything saved is written to a temporary file in the same folder and renamed, so a reader sees the old file or the
//! new one and never half of either. What was read is rewritten only while it is still as it was read.

mod cells;
mod content;
mod error;
mod leftovers;
mod read;
mod write;

pub use cells::text_cell;
pub use content::{FileKind, other_kind};
pub use error::FileError;
pub use leftovers::TemporaryFolder;
pub use read::{fingerprint, fingerprint_of_picture, read_bytes, read_head, read_text, text_of};
pub use write::{check_folder_of, is_there, put_aside, rewrite, write_together, write_whole};

/// RON as the program reads it everywhere: optional things are written without `Some(…)`.
pub fn ron_options() -> ron::Options {
    ron::Options::default().with_default_extension(ron::extensions::Extensions::IMPLICIT_SOME)
}
