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
    /// Something is there that may not be replaced.
    #[error("{path} already exists; use --replace to overwrite it, or name another file", path = path.display())]
    AlreadyThere {
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

/// Writes a file whole, over whatever is there: the folder it goes into must exist.
///
/// # Errors
/// It cannot be written; what was there before is still there.
pub fn write_whole(path: &Path, content: &[u8]) -> Result<(), FileError> {
    write_together(&[(path, content)], true)
}

/// Writes files that belong together, such as a picture and its record: all of them, or none.
///
/// Everything is on the disk before the first one appears under its name. Unless they may `replace` what is there, a file
/// that has come to be in the meantime is not written over.
///
/// # Errors
/// One of them cannot be written, or is there already and may not be replaced; then none of them is new.
pub fn write_together(files: &[(&Path, &[u8])], replace: bool) -> Result<(), FileError> {
    let staged: Vec<_> =
        files.iter().map(|(path, content)| Ok((*path, stage(path, content)?))).collect::<Result<_, _>>()?;
    let mut placed = Vec::new();
    for (path, file) in staged {
        let result = if replace { file.persist(path) } else { file.persist_noclobber(path) };
        if let Err(error) = result {
            // What this very call has put there is taken back; with `replace` the old content is gone already.
            for path in placed.iter().filter(|_| !replace) {
                let _ = std::fs::remove_file(path);
            }
            return Err(match error.error.kind() {
                std::io::ErrorKind::AlreadyExists => FileError::AlreadyThere { path: path.into() },
                _ => FileError::Write { path: path.into(), source: error.error },
            });
        }
        placed.push(path);
    }
    Ok(())
}

/// The folder that a file is to lie in.
fn folder_of(path: &Path) -> &Path {
    path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// Whether there is a folder for a file at all: to be asked before long work for it.
///
/// # Errors
/// There is none, or it cannot be looked at.
pub fn check_folder_of(path: &Path) -> Result<(), FileError> {
    let failed = |source| FileError::Write { path: path.into(), source };
    let folder = std::fs::metadata(folder_of(path)).map_err(failed)?;
    if folder.is_dir() { Ok(()) } else { Err(failed(std::io::ErrorKind::NotADirectory.into())) }
}

/// The content in a temporary file beside its place.
fn stage(path: &Path, content: &[u8]) -> Result<tempfile::NamedTempFile, FileError> {
    let failed = |source| FileError::Write { path: path.into(), source };
    // Asked first, so that a missing folder is told without the temporary file's name.
    check_folder_of(path)?;
    let folder = folder_of(path);
    if path.is_dir() {
        return Err(failed(std::io::ErrorKind::IsADirectory.into()));
    }
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
    Ok(file)
}

/// Whether something of this name is there, be it a link that leads nowhere.
pub fn is_there(path: &Path) -> bool {
    path.symlink_metadata().is_ok()
}

/// Puts a file aside under the first free name such as `yard.plan.unread-1.ron`, and says which.
///
/// # Errors
/// It cannot be put aside; it is where it was.
pub fn put_aside(path: &Path, why: &str) -> Result<PathBuf, FileError> {
    let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let (stem, ending) =
        name.rsplit_once('.').map_or((name.as_str(), String::new()), |(stem, ending)| (stem, format!(".{ending}")));
    for number in 1..10_000_u32 {
        let aside = path.with_file_name(format!("{stem}.{why}-{number}{ending}"));
        // A link is made only where nothing is yet; a renaming would write over it.
        match std::fs::hard_link(path, &aside) {
            Ok(()) => {
                std::fs::remove_file(path).map_err(|source| FileError::Write { path: path.into(), source })?;
                return Ok(aside);
            }
            Err(source) if source.kind() == std::io::ErrorKind::AlreadyExists => {}
            Err(_) if !aside.exists() => {
                // A disk without links.
                std::fs::rename(path, &aside).map_err(|source| FileError::Write { path: aside.clone(), source })?;
                return Ok(aside);
            }
            Err(_) => {}
        }
    }
    let source = std::io::Error::new(std::io::ErrorKind::AlreadyExists, "ten thousand files put aside");
    Err(FileError::Write { path: path.into(), source })
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
    fn files_that_belong_together_are_all_written_or_none() {
        let folder = tempfile::tempdir().expect("a folder");
        let at = |name: &str| folder.path().join(name);
        let (picture, record) = (at("a.png"), at("a.record.ron"));
        write_together(&[(&picture, b"1"), (&record, b"2")], false).expect("written");
        std::fs::remove_file(&picture).expect("removed");
        let again = write_together(&[(&picture, b"3"), (&record, b"4")], false);
        assert!(matches!(again, Err(FileError::AlreadyThere { path }) if path == record));
        assert!(!is_there(&picture));
        assert_eq!(read_text(&record).expect("read"), "2");
        let lost = at("no such folder").join("b.png");
        assert!(write_together(&[(&picture, b"5"), (&lost, b"6")], true).is_err());
        assert_eq!(std::fs::read_dir(folder.path()).expect("listed").count(), 1);
    }

    #[test]
    fn what_is_put_aside_never_writes_over_another() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("yard.plan.ron");
        for number in 1..4 {
            write_whole(&path, number.to_string().as_bytes()).expect("written");
            let aside = put_aside(&path, "unread").expect("put aside");
            assert_eq!(aside, folder.path().join(format!("yard.plan.unread-{number}.ron")));
            assert!(!path.exists());
        }
        assert_eq!(read_text(&folder.path().join("yard.plan.unread-1.ron")).expect("read"), "1");
    }

    #[test]
    fn text_that_is_none_is_told_by_its_byte() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("bytes");
        std::fs::write(&path, b"abc\xff").expect("written");
        assert!(matches!(read_text(&path), Err(FileError::NoText { at: 3, .. })));
    }
}
