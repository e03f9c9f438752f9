//! How is a folder of files written so that it is always the old one or the new one, whole?
//!
//! The new folder is written beside the old one under a name of its own, file by file, each on the disk before the next;
//! then the two change names in one step of the system. Killed at any moment, there is the old folder or the new one.

use std::ffi::OsStr;
use std::io::Write;
use std::path::{Path, PathBuf};

use thiserror::Error;

/// A folder that cannot be written.
#[derive(Debug, Error)]
pub enum FolderError {
    /// Its name is none.
    #[error("'{path}' names no folder to write; give it a name of its own", path = path.display())]
    NoName {
        /// What was given.
        path: PathBuf,
    },
    /// The folder that it would go into is not there.
    #[error("{path}: there is no such folder to write into; make it first", path = path.display())]
    NoParent {
        /// That folder.
        path: PathBuf,
    },
    /// It is there.
    #[error("{path} is already there; say --replace to put the new one in its place, or --out for another place", path = path.display())]
    AlreadyThere {
        /// The folder.
        path: PathBuf,
    },
    /// What is there was not written by this program.
    #[error("{path} holds '{other}', which is not of this program's making; nothing is replaced: name another place", path = path.display())]
    NotOurs {
        /// The folder.
        path: PathBuf,
        /// What it holds.
        other: String,
    },
    /// What is there is no folder.
    #[error("{path} is there and is no folder; name another place", path = path.display())]
    NoFolder {
        /// What is there.
        path: PathBuf,
    },
    /// Writing failed; what was there before is still there.
    #[error("{path}: cannot be written: {source}", path = path.display())]
    Write {
        /// Which file or folder.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
}

/// Looks whether a folder of these files may be written at a path, before any work is done for it.
///
/// # Errors
/// It may not.
pub fn check_folder(path: &Path, names: &[&str], replace: bool) -> Result<(), FolderError> {
    if path.file_name().is_none() {
        return Err(FolderError::NoName { path: path.into() });
    }
    let parent = parent_of(path);
    if !parent.is_dir() {
        return Err(FolderError::NoParent { path: parent.into() });
    }
    // A link, even one that leads nowhere, is there too.
    let Ok(known) = path.symlink_metadata() else { return Ok(()) };
    if !known.is_dir() {
        return Err(FolderError::NoFolder { path: path.into() });
    }
    if !replace {
        return Err(FolderError::AlreadyThere { path: path.into() });
    }
    let failed = |source| FolderError::Write { path: path.into(), source };
    for entry in std::fs::read_dir(path).map_err(failed)? {
        let name = entry.map_err(failed)?.file_name();
        if !names.iter().any(|known| OsStr::new(known) == name) {
            return Err(FolderError::NotOurs { path: path.into(), other: name.to_string_lossy().into_owned() });
        }
    }
    Ok(())
}

/// Writes a folder of files, in place of one of the same files if it may `replace` it.
///
/// # Errors
/// As [`check_folder`], or it cannot be written; what was there before is still there.
pub fn write_folder(path: &Path, files: &[(&str, &[u8])], replace: bool) -> Result<(), FolderError> {
    let names: Vec<&str> = files.iter().map(|(name, _)| *name).collect();
    check_folder(path, &names, replace)?;
    let parent = parent_of(path);
    let failed = |path: &Path| {
        let path = path.to_path_buf();
        move |source| FolderError::Write { path, source }
    };
    // Removed when it is dropped, with whatever it then holds.
    let mut new = tempfile::Builder::new().prefix(".plumbsight-").tempdir_in(parent).map_err(failed(parent))?;
    for (name, content) in files {
        let place = new.path().join(name);
        let mut file = std::fs::File::create_new(&place).map_err(failed(&path.join(name)))?;
        file.write_all(content).and_then(|()| file.sync_all()).map_err(failed(&path.join(name)))?;
    }
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // A temporary folder is private; what the user keeps is theirs to share.
        let mode = std::fs::metadata(path).map_or(0o755, |known| known.permissions().mode() & 0o777);
        std::fs::set_permissions(new.path(), std::fs::Permissions::from_mode(mode)).map_err(failed(path))?;
    }
    sync_folder(new.path()).map_err(failed(path))?;
    if place(new.path(), path).map_err(failed(path))? == Placed::Moved {
        // The temporary name is free again: nothing is left to remove.
        new.disable_cleanup(true);
    }
    sync_folder(parent).map_err(failed(parent))
}

/// What became of the temporary folder's name.
#[derive(PartialEq)]
enum Placed {
    /// It is free.
    Moved,
    /// It holds the old folder.
    #[cfg_attr(
        not(any(target_os = "linux", target_vendor = "apple")),
        expect(dead_code, reason = "not every system can exchange")
    )]
    Exchanged,
}

/// Puts a folder under its name, in one step.
#[cfg(any(target_os = "linux", target_vendor = "apple"))]
fn place(new: &Path, path: &Path) -> std::io::Result<Placed> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    match renameat_with(CWD, new, CWD, path, RenameFlags::NOREPLACE) {
        Ok(()) => Ok(Placed::Moved),
        Err(rustix::io::Errno::EXIST) => {
            renameat_with(CWD, new, CWD, path, RenameFlags::EXCHANGE)?;
            Ok(Placed::Exchanged)
        }
        // A file system that knows neither way renames on to what is not there, and refuses what is.
        Err(rustix::io::Errno::INVAL | rustix::io::Errno::NOSYS | rustix::io::Errno::NOTSUP) if !path.exists() => {
            std::fs::rename(new, path).map(|()| Placed::Moved)
        }
        Err(error) => Err(error.into()),
    }
}

/// Puts a folder under its name. Where folders cannot change names in one step, the old one is moved aside for a moment.
#[cfg(not(any(target_os = "linux", target_vendor = "apple")))]
fn place(new: &Path, path: &Path) -> std::io::Result<Placed> {
    if !path.exists() {
        return std::fs::rename(new, path).map(|()| Placed::Moved);
    }
    let aside = new.with_extension("old");
    std::fs::rename(path, &aside)?;
    if let Err(error) = std::fs::rename(new, path) {
        std::fs::rename(&aside, path)?;
        return Err(error);
    }
    std::fs::remove_dir_all(&aside).map(|()| Placed::Moved)
}

/// Sees to it that the names in a folder are on the disk.
#[cfg(unix)]
fn sync_folder(path: &Path) -> std::io::Result<()> {
    std::fs::File::open(path)?.sync_all()
}

#[cfg(not(unix))]
fn sync_folder(_: &Path) -> std::io::Result<()> {
    Ok(())
}

fn parent_of(path: &Path) -> &Path {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn listed(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> = std::fs::read_dir(folder)
            .expect("a folder")
            .map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn a_folder_is_written_and_replaced_whole() {
        let home = tempfile::tempdir().expect("a folder");
        let path = home.path().join("a sheet, for Zoë 📷");
        write_folder(&path, &[("a", b"1"), ("b", b"2")], false).expect("written");
        assert_eq!(listed(&path), ["a", "b"]);
        let again = write_folder(&path, &[("a", b"3")], false);
        assert!(matches!(again, Err(FolderError::AlreadyThere { .. })));
        write_folder(&path, &[("a", b"3"), ("b", b"4")], true).expect("written");
        assert_eq!(std::fs::read(path.join("a")).expect("read"), b"3");
        // Nothing else is left in the folder above.
        assert_eq!(listed(home.path()).len(), 1);
    }

    #[test]
    fn nothing_of_anyone_elses_is_replaced() {
        let home = tempfile::tempdir().expect("a folder");
        let path = home.path().join("holiday");
        std::fs::create_dir(&path).expect("made");
        std::fs::write(path.join("diary.txt"), b"mine").expect("written");
        let refused = write_folder(&path, &[("a", b"1")], true).expect_err("not ours").to_string();
        assert!(refused.contains("diary.txt"), "{refused}");
        assert_eq!(std::fs::read(path.join("diary.txt")).expect("read"), b"mine");
        for (bad, words) in
            [("holiday/diary.txt", "is no folder"), ("none/sheet", "no such folder"), ("..", "names no folder")]
        {
            let error = write_folder(&home.path().join(bad), &[("a", b"1")], true).expect_err("refused").to_string();
            assert!(error.contains(words), "{bad}: {error}");
        }
        assert_eq!(listed(home.path()), ["holiday"]);
    }
}
