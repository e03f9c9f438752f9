//! Why can a file not be read or written, and what mends it?

use std::path::PathBuf;

use thiserror::Error;

use super::content::FileKind;

/// A file that cannot be read or written.
#[derive(Debug, Error)]
pub enum FileError {
    /// Reading failed.
    #[error("{path}: cannot be read: {source}", path = path.display())]
    Read {
        /// Which file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// No plain file: opening it might wait for ever.
    #[error("{path}: is {what}; name a plain file", path = path.display())]
    NoPlainFile {
        /// What was named.
        path: PathBuf,
        /// What it is: a folder, a named pipe, …
        what: &'static str,
    },
    /// Larger than is read.
    #[error("{path}: holds {bytes} bytes; of {content}, at most {most} are read", path = path.display(), most = content.most_bytes())]
    TooLarge {
        /// Which file.
        path: PathBuf,
        /// How large it is, as far as it was looked at.
        bytes: u64,
        /// What was wanted of it.
        content: FileKind,
    },
    /// A file of another kind.
    #[error("{path}: is {kind}; expected {content}", path = path.display())]
    OtherKind {
        /// Which file.
        path: PathBuf,
        /// What it is.
        kind: &'static str,
        /// What was wanted of it.
        content: FileKind,
    },
    /// No text.
    #[error("{path}: is no UTF-8 text (byte {at}); save it as UTF-8", path = path.display())]
    NoText {
        /// Which file.
        path: PathBuf,
        /// Where the first wrong byte stands.
        at: usize,
    },
    /// Something is there that may not be replaced.
    #[error("{path} already exists; use --replace to overwrite it, or name another file", path = path.display())]
    AlreadyThere {
        /// Which file.
        path: PathBuf,
    },
    /// Somebody saved it since it was read.
    #[error("{path}: another program changed it meanwhile; nothing was written, and that change is kept", path = path.display())]
    Changed {
        /// Which file.
        path: PathBuf,
    },
    /// Another program holds it.
    #[error("{path}: another program is writing it; try again", path = path.display())]
    Busy {
        /// Which file.
        path: PathBuf,
    },
    /// Writing failed; the old file, if any, is unharmed.
    #[error("{path}: cannot be written: {source}", path = path.display())]
    Write {
        /// Which file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
}
