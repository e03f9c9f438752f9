//! How is a file read whole and written whole?
//!
//! Everything saved is written to a temporary file in the same folder and renamed, so a reader sees the old file or the
//! new one and never half of either.

use std::io::{Read, Write};
use std::path::{Path, PathBuf};

use thiserror::Error;

/// The largest file that is read, so that a wrong or hostile one cannot fill the memory.
pub const LARGEST_FILE_BYTES: u64 = 256 * 1024 * 1024;

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
    /// Larger than is read.
    #[error("{path}: holds {bytes} bytes; at most {LARGEST_FILE_BYTES} are read", path = path.display())]
    TooLarge {
        /// Which file.
        path: PathBuf,
        /// How large it is.
        bytes: u64,
    },
    /// No text.
    #[error("{path}: is no UTF-8 text (byte {at}); save it as UTF-8", path = path.display())]
    NoText {
        /// Which file.
        path: PathBuf,
        /// Where the first wrong byte stands.
        at: usize,
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

/// The whole content of a file.
///
/// # Errors
/// It cannot be read or is larger than [`LARGEST_FILE_BYTES`].
pub fn read_bytes(path: &Path) -> Result<Vec<u8>, FileError> {
    let failed = |source| FileError::Read { path: path.into(), source };
    let file = std::fs::File::open(path).map_err(failed)?;
    let bytes = file.metadata().map_err(failed)?.len();
    let mut content = Vec::new();
    // The length of a pipe or device is not known beforehand, so the reading itself is bounded too.
    file.take(LARGEST_FILE_BYTES + 1).read_to_end(&mut content).map_err(failed)?;
    let bytes = bytes.max(content.len() as u64);
    if bytes > LARGEST_FILE_BYTES {
        return Err(FileError::TooLarge { path: path.into(), bytes });
    }
    Ok(content)
}

/// The whole text of a file.
///
/// # Errors
/// As [`read_bytes`], and where it is no UTF-8 text.
pub fn read_text(path: &Path) -> Result<String, FileError> {
    String::from_utf8(read_bytes(path)?)
        .map_err(|error| FileError::NoText { path: path.into(), at: error.utf8_error().valid_up_to() })
}

/// Writes a file whole: the folder it goes into must exist.
///
/// # Errors
/// It cannot be written; what was there before is still there.
pub fn write_whole(path: &Path, content: &[u8]) -> Result<(), FileError> {
    let failed = |source| FileError::Write { path: path.into(), source };
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut file = tempfile::Builder::new().prefix(".plumbsight-").tempfile_in(folder).map_err(failed)?;
    file.write_all(content).map_err(failed)?;
    file.as_file().sync_all().map_err(failed)?;
    // A temporary file is private; what the user keeps has the permissions of any new file of theirs.
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = std::fs::metadata(path).map_or(0o644, |known| known.permissions().mode() & 0o777);
        file.as_file().set_permissions(std::fs::Permissions::from_mode(mode)).map_err(failed)?;
    }
    file.persist(path).map_err(|error| failed(error.error))?;
    Ok(())
}

/// RON as the program reads it everywhere: optional things are written without `Some(…)`.
pub fn ron_options() -> ron::Options {
    ron::Options::default().with_default_extension(ron::extensions::Extensions::IMPLICIT_SOME)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn writing_replaces_the_whole_file_or_nothing() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("a picture, or so.txt");
        write_whole(&path, b"first").expect("written");
        write_whole(&path, b"second").expect("written");
        assert_eq!(read_text(&path).expect("read"), "second");
        let lost = folder.path().join("no such folder").join("file");
        assert!(matches!(write_whole(&lost, b"x"), Err(FileError::Write { .. })));
        assert_eq!(std::fs::read_dir(folder.path()).expect("listed").count(), 1);
    }

    #[test]
    fn text_that_is_none_is_told_by_its_byte() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("bytes");
        std::fs::write(&path, b"abc\xff").expect("written");
        assert!(matches!(read_text(&path), Err(FileError::NoText { at: 3, .. })));
    }
}
