//! What did a run leave behind that was killed, and may it go?
//!
//! Everything is written under a name such as `.plumbsight-4kT9aZ` first, and the run that makes it holds a lock on it, which
//! the system lets go of when the run ends, however it ends. Whatever has such a name, has no lock, belongs to the same person
//! and has not been touched for a while is a leftover.

use std::fs::{File, Metadata, TryLockError};
use std::path::Path;
use std::time::Duration;

use super::error::FileError;

/// How every temporary name begins.
const PREFIX: &str = ".plumbsight-";
/// How many letters and digits follow.
const RANDOM: usize = 6;
/// How long something must have lain untouched: longer than it takes to lock what was just made.
const AT_REST: Duration = Duration::from_secs(5);
/// The same where the system knows no locks.
const LONG_AT_REST: Duration = Duration::from_secs(24 * 3600);

/// A temporary file in a folder, held by this run.
pub(super) fn temporary_file(folder: &Path) -> std::io::Result<tempfile::NamedTempFile> {
    let file = named().tempfile_in(folder)?;
    // A disk without locks: then its age alone protects it.
    let _ = file.as_file().try_lock();
    Ok(file)
}

/// A temporary folder, held by this run until it is dropped.
#[derive(Debug)]
pub struct TemporaryFolder {
    folder: tempfile::TempDir,
    /// Holds the lock.
    #[expect(dead_code, reason = "it is held and never asked")]
    held: Option<File>,
}

impl TemporaryFolder {
    /// A new folder in another; leftovers beside it go.
    ///
    /// # Errors
    /// It cannot be made.
    pub fn in_folder(parent: &Path) -> Result<Self, FileError> {
        let failed = |source| FileError::Write { path: parent.into(), source };
        let folder = named().tempdir_in(parent).map_err(failed)?;
        let held = held_folder(folder.path());
        if let Ok(fresh) = folder.path().metadata() {
            sweep(parent, &fresh);
        }
        Ok(Self { folder, held })
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        self.folder.path()
    }

    /// Keeps whatever has its name by now, instead of removing it at the end.
    pub fn keep(&mut self) {
        self.folder.disable_cleanup(true);
    }
}

fn named() -> tempfile::Builder<'static, 'static> {
    let mut named = tempfile::Builder::new();
    named.prefix(PREFIX).rand_bytes(RANDOM);
    named
}

/// Whether a name is one that this program gives to what it has not finished.
fn is_temporary(name: &str) -> bool {
    name.strip_prefix(PREFIX)
        .is_some_and(|random| random.len() == RANDOM && random.bytes().all(|byte| byte.is_ascii_alphanumeric()))
}

/// Removes the leftovers in a folder; `fresh` is something that was just made there, whose time is the disk's own.
///
/// What cannot be removed stays: nobody waits for it.
pub(super) fn sweep(folder: &Path, fresh: &Metadata) {
    // A folder that is itself in the making holds this run's files only.
    if folder.file_name().and_then(|name| name.to_str()).is_some_and(is_temporary) {
        return;
    }
    let Ok(entries) = std::fs::read_dir(folder) else { return };
    for entry in entries.flatten() {
        if !entry.file_name().to_str().is_some_and(is_temporary) {
            continue;
        }
        let path = entry.path();
        // Not through a link: what it leads to has another name.
        let Ok(known) = path.symlink_metadata() else { continue };
        if !same_owner(&known, fresh) {
            continue;
        }
        if known.is_file() && is_left(File::open(&path).ok(), &known, fresh) {
            let _ = std::fs::remove_file(&path);
        } else if known.is_dir() && is_left(lockable_folder(&path), &known, fresh) {
            remove_flat(&path);
        }
    }
}

/// Whether nobody holds something any more.
fn is_left(opened: Option<File>, known: &Metadata, fresh: &Metadata) -> bool {
    let rested = match (known.modified(), fresh.modified()) {
        // What is newer has not rested at all.
        (Ok(then), Ok(now)) => now.duration_since(then).unwrap_or_default(),
        _ => return false,
    };
    if rested < AT_REST {
        return false;
    }
    match opened.map(|file| file.try_lock()) {
        Some(Ok(())) => true,
        Some(Err(TryLockError::WouldBlock)) => false,
        Some(Err(TryLockError::Error(_))) | None => rested >= LONG_AT_REST,
    }
}

/// Removes a folder of plain files; one with anything else in it is not of this program's making.
fn remove_flat(folder: &Path) {
    let Ok(entries) = std::fs::read_dir(folder) else { return };
    let entries: Vec<_> = entries.flatten().map(|entry| entry.path()).collect();
    if entries.iter().all(|path| path.symlink_metadata().is_ok_and(|known| known.is_file())) {
        for path in &entries {
            let _ = std::fs::remove_file(path);
        }
        let _ = std::fs::remove_dir(folder);
    }
}

/// A folder as something that can be locked, where the system lets one open it.
#[cfg(unix)]
fn lockable_folder(path: &Path) -> Option<File> {
    File::open(path).ok()
}

#[cfg(not(unix))]
fn lockable_folder(_: &Path) -> Option<File> {
    None
}

fn held_folder(path: &Path) -> Option<File> {
    lockable_folder(path).filter(|folder| folder.try_lock().is_ok())
}

#[cfg(unix)]
fn same_owner(a: &Metadata, b: &Metadata) -> bool {
    use std::os::unix::fs::MetadataExt;
    a.uid() == b.uid()
}

#[cfg(not(unix))]
fn same_owner(_: &Metadata, _: &Metadata) -> bool {
    true
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Makes something look as if it had lain there for so long.
    fn aged(path: &Path, seconds: u64) {
        let file = File::open(path).expect("there");
        let now = file.metadata().and_then(|known| known.modified()).expect("a time");
        file.set_modified(now - Duration::from_secs(seconds)).expect("set");
    }

    #[cfg(unix)]
    #[test]
    fn only_leftovers_that_nobody_holds_are_swept() {
        let home = tempfile::tempdir().expect("a folder");
        let at = |name: &str| home.path().join(name);
        let (left, young, strange, nested, link) = (
            at(".plumbsight-aaaaaa"),
            at(".plumbsight-bbbbbb"),
            at(".plumbsight-notes"),
            at(".plumbsight-cccccc"),
            at(".plumbsight-dddddd"),
        );
        for file in [&left, &young, &strange] {
            std::fs::write(file, b"x").expect("written");
        }
        let full = at(".plumbsight-eeeeee");
        std::fs::create_dir_all(nested.join("deeper")).expect("made");
        std::fs::create_dir(&full).expect("made");
        std::fs::write(full.join("frame-001.png"), b"x").expect("written");
        std::os::unix::fs::symlink("nowhere", &link).expect("a link");
        let held = temporary_file(home.path()).expect("made");
        for old in [&left, &strange, &nested, &full, &held.path().to_path_buf()] {
            aged(old, 60);
        }
        let folder = TemporaryFolder::in_folder(home.path()).expect("made");
        assert!(!left.exists() && !full.exists(), "leftovers are still there");
        assert!(young.exists() && strange.exists() && nested.exists() && link.symlink_metadata().is_ok());
        assert!(held.path().exists(), "somebody's work was swept");
        // Held by somebody, a folder stays as well; let go of, it is swept.
        aged(folder.path(), 60);
        let path = folder.path().to_path_buf();
        let other = TemporaryFolder::in_folder(home.path()).expect("made");
        assert!(path.exists());
        let mut folder = folder;
        folder.keep();
        drop(folder);
        aged(&path, 60);
        sweep(home.path(), &other.path().metadata().expect("there"));
        assert!(!path.exists() && other.path().exists());
    }
}
