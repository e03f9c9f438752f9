//! How is a folder of files written so that it is always the old one or the new one, whole?
//!
//! The new folder is filled beside the old one under a name of its own; once all of it is on the disk, the two change names in
//! one step of the system. Killed at any moment, there is the old folder or the new one.

use std::path::{Path, PathBuf};

use thiserror::Error;

use crate::files::{FileError, TemporaryFolder};

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
    #[error("{path} already exists; use --replace to overwrite it, or --out to write elsewhere", path = path.display())]
    AlreadyThere {
        /// The folder.
        path: PathBuf,
    },
    /// What is there was not written by this program.
    #[error("{path} holds '{other}', which this program did not write; nothing is replaced: name another folder", path = path.display())]
    NotOurs {
        /// The folder.
        path: PathBuf,
        /// What it holds.
        other: String,
    },
    /// What is there is no folder.
    #[error("{path} exists and is no folder; name another folder", path = path.display())]
    NoFolder {
        /// What is there.
        path: PathBuf,
    },
    /// Nothing can be made beside it.
    #[error(transparent)]
    File(#[from] FileError),
    /// Writing failed; what was there before is still there.
    #[error("{path}: cannot be written: {source}", path = path.display())]
    Write {
        /// Which file or folder.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
}

/// Looks whether a folder may be written at a place, before any work is done for it; `ours` tells the names of files that
/// this program writes into such a folder.
///
/// # Errors
/// It may not.
pub fn check_folder(place: &Path, ours: fn(&str) -> bool, replace: bool) -> Result<(), FolderError> {
    if place.file_name().is_none() {
        return Err(FolderError::NoName { path: place.into() });
    }
    let parent = parent_of(place);
    if !parent.is_dir() {
        return Err(FolderError::NoParent { path: parent.into() });
    }
    // A link, even one that leads nowhere, is there too.
    let Ok(known) = place.symlink_metadata() else { return Ok(()) };
    if !known.is_dir() {
        return Err(FolderError::NoFolder { path: place.into() });
    }
    if !replace {
        return Err(FolderError::AlreadyThere { path: place.into() });
    }
    let failed = |source| FolderError::Write { path: place.into(), source };
    for entry in std::fs::read_dir(place).map_err(failed)? {
        let name = entry.map_err(failed)?.file_name();
        if !name.to_str().is_some_and(ours) {
            return Err(FolderError::NotOurs { path: place.into(), other: name.to_string_lossy().into_owned() });
        }
    }
    Ok(())
}

/// A folder in the making beside its place. If it is dropped before it is [`put`](Self::put) there, it is gone with
/// everything in it.
#[derive(Debug)]
pub struct NewFolder {
    place: PathBuf,
    made: TemporaryFolder,
    ours: fn(&str) -> bool,
    replace: bool,
}

impl NewFolder {
    /// A folder for a place, to be put there in place of one of the same kind if it may `replace` it.
    ///
    /// # Errors
    /// As [`check_folder`], or nothing can be made beside the place.
    pub fn beside(place: &Path, ours: fn(&str) -> bool, replace: bool) -> Result<Self, FolderError> {
        check_folder(place, ours, replace)?;
        let made = TemporaryFolder::in_folder(parent_of(place))?;
        Ok(Self { place: place.into(), made, ours, replace })
    }

    /// Where its files go meanwhile.
    pub fn path(&self) -> &Path {
        self.made.path()
    }

    /// Writes a file into it.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn write(&self, name: &str, content: &[u8]) -> Result<(), FolderError> {
        std::fs::write(self.path().join(name), content)
            .map_err(|source| FolderError::Write { path: self.place.join(name), source })
    }

    /// Puts it in its place at one stroke, once everything in it is on the disk.
    ///
    /// # Errors
    /// As [`check_folder`], or it cannot be put there; what was there before is still there.
    pub fn put(mut self) -> Result<(), FolderError> {
        // What has come to be there in the meantime is nobody's to lose.
        check_folder(&self.place, self.ours, self.replace)?;
        let failed = |source| FolderError::Write { path: self.place.clone(), source };
        for entry in std::fs::read_dir(self.made.path()).map_err(failed)? {
            std::fs::File::open(entry.map_err(failed)?.path()).and_then(|file| file.sync_all()).map_err(failed)?;
        }
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            // A temporary folder is private; what the user keeps is theirs to share.
            let mode = std::fs::metadata(&self.place).map_or(0o755, |known| known.permissions().mode() & 0o777);
            std::fs::set_permissions(self.made.path(), std::fs::Permissions::from_mode(mode)).map_err(failed)?;
        }
        sync_folder(self.made.path()).map_err(failed)?;
        let placed = place(self.made.path(), &self.place, self.replace).map_err(|source| match source.kind() {
            std::io::ErrorKind::AlreadyExists => FolderError::AlreadyThere { path: self.place.clone() },
            _ => failed(source),
        })?;
        sync_folder(parent_of(&self.place)).map_err(failed)?;
        if placed == Placed::Moved {
            // The temporary name is free again: nothing is left to remove.
            self.made.keep();
        }
        Ok(())
    }
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
fn place(new: &Path, path: &Path, replace: bool) -> std::io::Result<Placed> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    match renameat_with(CWD, new, CWD, path, RenameFlags::NOREPLACE) {
        Ok(()) => Ok(Placed::Moved),
        Err(rustix::io::Errno::EXIST) if replace => {
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
fn place(new: &Path, path: &Path, replace: bool) -> std::io::Result<Placed> {
    if !path.exists() {
        return std::fs::rename(new, path).map(|()| Placed::Moved);
    }
    if !replace {
        return Err(std::io::ErrorKind::AlreadyExists.into());
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

    fn ours(name: &str) -> bool {
        ["a", "b"].contains(&name)
    }

    fn write_folder(place: &Path, files: &[(&str, &[u8])], replace: bool) -> Result<(), FolderError> {
        let folder = NewFolder::beside(place, ours, replace)?;
        files.iter().try_for_each(|(name, content)| folder.write(name, content))?;
        folder.put()
    }

    #[test]
    fn what_comes_to_be_there_meanwhile_is_not_lost() {
        let home = tempfile::tempdir().expect("a folder");
        let path = home.path().join("sheet");
        for replace in [false, true] {
            let folder = NewFolder::beside(&path, ours, replace).expect("free");
            folder.write("a", b"1").expect("written");
            std::fs::create_dir(&path).expect("made");
            std::fs::write(path.join("diary.txt"), b"mine").expect("written");
            assert!(folder.put().is_err());
            assert_eq!(listed(home.path()), ["sheet"]);
            assert_eq!(std::fs::read(path.join("diary.txt")).expect("read"), b"mine");
            std::fs::remove_dir_all(&path).expect("removed");
        }
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
