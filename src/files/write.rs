//! How is a file written whole, and never over what somebody else has just saved?

use std::fs::File;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::Duration;

use tempfile::{NamedTempFile, TempPath};

use super::content::FileKind;
use super::error::FileError;
use super::leftovers::{sweep, temporary_file};
use super::read::{check_plain, read_text};

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
/// that has come to be in the meantime is not written over. A run that is killed between two names leaves the first new and
/// the second old, which a record tells by its picture's fingerprint.
///
/// # Errors
/// One of them cannot be written, or is there already and may not be replaced; then none of them is new.
pub fn write_together(files: &[(&Path, &[u8])], replace: bool) -> Result<(), FileError> {
    let staged: Vec<_> =
        files.iter().map(|(path, content)| Ok((*path, stage(path, content)?))).collect::<Result<_, _>>()?;
    let mut placed: Vec<(&Path, Before)> = Vec::new();
    for (path, file) in staged {
        match put(file, path, replace) {
            Ok(before) => placed.push((path, before)),
            Err(error) => {
                // What this very call has put there is taken back.
                for (path, before) in placed.into_iter().rev() {
                    before.restore(path);
                }
                return Err(error);
            }
        }
    }
    Ok(())
}

/// Puts a new text in place of the one that was `read`, unless somebody has changed the file since; nothing was there to be
/// read where that is `None`.
///
/// Runs of this program wait for each other. Of any other program's saving, the last look is taken at the file that comes out
/// in exchange for the new one, so that nothing falls between looking and writing.
///
/// # Errors
/// [`FileError::Changed`] if it is not as it was read: read it again and make the change anew. It cannot be written.
pub fn rewrite(path: &Path, read: Option<&str>, text: &str, content: FileKind) -> Result<(), FileError> {
    let changed = || FileError::Changed { path: path.into() };
    let Some(read) = read else {
        return write_together(&[(path, text.as_bytes())], false).map_err(|error| match error {
            FileError::AlreadyThere { .. } => changed(),
            error => error,
        });
    };
    // Of a link, what it leads to is rewritten.
    let target = match std::fs::canonicalize(path) {
        Ok(target) => target,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => path.into(),
        Err(source) => return Err(FileError::Write { path: path.into(), source }),
    };
    let staged = stage(&target, text.as_bytes())?;
    let _held = hold(&target)?;
    let is = |path: &Path, expected: &str| read_text(path, content).is_ok_and(|found| found == expected);
    match target.try_exists() {
        // Taken away meanwhile: whoever did that loses nothing by a new one.
        Ok(false) => return put(staged, &target, false).map(drop).map_err(|_| changed()),
        _ if !is(&target, read) => return Err(changed()),
        _ => {}
    }
    let came_out = match put(staged, &target, true)? {
        Before::Kept(came_out) => came_out,
        Before::Nothing | Before::Gone => return Ok(()),
    };
    if is(&came_out, read) {
        return Ok(());
    }
    put_back(came_out, &target, text, is)?;
    Err(changed())
}

/// Puts back what somebody saved in the very moment before ours came into its place, until nothing newer comes out.
fn put_back(mut newer: TempPath, target: &Path, ours: &str, is: impl Fn(&Path, &str) -> bool) -> Result<(), FileError> {
    let mut put_in = ours.to_owned();
    loop {
        let text = std::fs::read_to_string(&newer).unwrap_or_default();
        match exchange(&newer, target) {
            Ok(()) if is(&newer, &put_in) => return Ok(()),
            // Saved once more meanwhile: that is the newest, and goes back as well.
            Ok(()) => put_in = text,
            Err(source) => {
                // It stays under the name it has, and is reported.
                let kept = newer.to_path_buf();
                newer.disable_cleanup(true);
                return Err(FileError::Write { path: kept, source });
            }
        }
    }
}

/// What was under a name before a new file came there.
enum Before {
    /// Nothing.
    Nothing,
    /// The old file, under a temporary name until this is dropped.
    Kept(TempPath),
    /// The old file, and the disk could not keep it.
    Gone,
}

impl Before {
    fn restore(self, path: &Path) {
        match self {
            Self::Nothing => {
                let _ = std::fs::remove_file(path);
            }
            Self::Kept(old) => {
                let _ = old.persist(path);
            }
            Self::Gone => {}
        }
    }
}

/// Gives a file its name, and tells what had it before.
fn put(file: NamedTempFile, path: &Path, replace: bool) -> Result<Before, FileError> {
    let failed = |source: std::io::Error| match source.kind() {
        std::io::ErrorKind::AlreadyExists => FileError::AlreadyThere { path: path.into() },
        _ => FileError::Write { path: path.into(), source },
    };
    // Also of a link that leads nowhere.
    if replace && is_there(path) {
        match exchange(file.path(), path) {
            Ok(()) => return Ok(Before::Kept(file.into_temp_path())),
            // Gone this moment, or a disk that cannot exchange.
            Err(error) if is_no_exchange(&error) => {
                return file.persist(path).map(|_| Before::Gone).map_err(|error| failed(error.error));
            }
            Err(error) => return Err(failed(error)),
        }
    }
    if replace {
        return file.persist(path).map(|_| Before::Nothing).map_err(|error| failed(error.error));
    }
    file.persist_noclobber(path).map(|_| Before::Nothing).map_err(|error| failed(error.error))
}

/// Lets two files change names in one step.
#[cfg(any(target_os = "linux", target_vendor = "apple"))]
fn exchange(a: &Path, b: &Path) -> std::io::Result<()> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    Ok(renameat_with(CWD, a, CWD, b, RenameFlags::EXCHANGE)?)
}

#[cfg(not(any(target_os = "linux", target_vendor = "apple")))]
fn exchange(_: &Path, _: &Path) -> std::io::Result<()> {
    Err(std::io::ErrorKind::Unsupported.into())
}

fn is_no_exchange(error: &std::io::Error) -> bool {
    use std::io::ErrorKind::{InvalidInput, NotFound, Unsupported};
    matches!(error.kind(), InvalidInput | NotFound | Unsupported)
}

/// Keeps other runs of this program from rewriting a file; the system lets go of it when this run ends, however it ends.
#[cfg(unix)]
fn hold(path: &Path) -> Result<Option<File>, FileError> {
    use std::fs::TryLockError;
    use std::os::unix::fs::MetadataExt;
    /// Rewriting takes milliseconds; a run that was stopped in the middle of it is not waited for.
    const TRIES: u32 = 500;
    for _ in 0..TRIES {
        // Nothing there, or nothing that can be locked: then the exchange alone has to notice.
        let Ok(file) = File::open(path) else { return Ok(None) };
        match file.try_lock() {
            Ok(()) => {
                let same = |a: &std::fs::Metadata, b: &std::fs::Metadata| (a.dev(), a.ino()) == (b.dev(), b.ino());
                match (file.metadata(), path.metadata()) {
                    (Ok(held), Ok(there)) if !same(&held, &there) => {}
                    _ => return Ok(Some(file)),
                }
            }
            Err(TryLockError::WouldBlock) => std::thread::sleep(Duration::from_millis(10)),
            Err(TryLockError::Error(_)) => return Ok(None),
        }
    }
    Err(FileError::Busy { path: path.into() })
}

/// Elsewhere a lock would keep even this run from reading.
#[cfg(not(unix))]
fn hold(_: &Path) -> Result<Option<File>, FileError> {
    Ok(None)
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

/// The content in a temporary file beside its place; what killed runs left there goes.
fn stage(path: &Path, content: &[u8]) -> Result<NamedTempFile, FileError> {
    let failed = |source| FileError::Write { path: path.into(), source };
    // Asked first, so that a missing folder is reported without the temporary file's name.
    check_folder_of(path)?;
    let folder = folder_of(path);
    let known = std::fs::metadata(path).ok();
    match &known {
        Some(known) if known.is_dir() => return Err(failed(std::io::ErrorKind::IsADirectory.into())),
        // A device or pipe would be gone for good.
        Some(known) => check_plain(path, &known.file_type())?,
        None => {}
    }
    let mut file = temporary_file(folder).map_err(failed)?;
    if let Ok(fresh) = file.as_file().metadata() {
        sweep(folder, &fresh);
    }
    file.write_all(content).map_err(failed)?;
    file.as_file().sync_all().map_err(failed)?;
    // A temporary file is private; what the user keeps has the permissions of any new file of theirs.
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = known.map_or(0o644, |known| known.permissions().mode() & 0o777);
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn writing_replaces_the_whole_file_or_nothing() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("a picture, or so.txt");
        write_whole(&path, b"first").expect("written");
        write_whole(&path, b"second").expect("written");
        assert_eq!(std::fs::read_to_string(&path).expect("read"), "second");
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
        assert_eq!(std::fs::read_to_string(&record).expect("read"), "2");
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
        assert_eq!(std::fs::read_to_string(folder.path().join("yard.plan.unread-1.ron")).expect("read"), "1");
    }

    #[test]
    fn a_group_that_may_replace_is_all_new_or_all_old_too() {
        let folder = tempfile::tempdir().expect("a folder");
        let at = |name: &str| folder.path().join(name);
        let (picture, record, third) = (at("a.png"), at("a.record.ron"), at("b"));
        write_together(&[(&picture, b"1"), (&record, b"2")], false).expect("written");
        std::fs::create_dir(&third).expect("made");
        let staged = |path: &Path, content: &[u8]| (path.to_path_buf(), content.to_vec());
        let files = [staged(&picture, b"3"), staged(&third, b"4")];
        let files: Vec<(&Path, &[u8])> = files.iter().map(|(path, content)| (path.as_path(), &content[..])).collect();
        assert!(write_together(&files, true).is_err());
        // A name that fails only as it is given: the first file has its old content again.
        let first = put(stage(&picture, b"5").expect("staged"), &picture, true).expect("put");
        assert_eq!(std::fs::read(&picture).expect("read"), b"5");
        first.restore(&picture);
        assert_eq!(std::fs::read(&picture).expect("read"), b"1");
        assert_eq!(std::fs::read_dir(folder.path()).expect("listed").count(), 3);
    }

    #[test]
    fn what_somebody_saved_meanwhile_is_never_written_over() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("yard.site.ron");
        let rewrite = |read: Option<&str>, text: &str| rewrite(&path, read, text, FileKind::Site);
        let there = || std::fs::read_to_string(&path).expect("there");
        rewrite(None, "one").expect("new");
        assert!(matches!(rewrite(None, "mine"), Err(FileError::Changed { .. })));
        rewrite(Some("one"), "two").expect("unchanged");
        assert!(matches!(rewrite(Some("one"), "mine"), Err(FileError::Changed { .. })));
        assert_eq!(there(), "two");
        std::fs::remove_file(&path).expect("removed");
        rewrite(Some("two"), "three").expect("nothing to lose");
        assert_eq!((there().as_str(), std::fs::read_dir(folder.path()).expect("listed").count()), ("three", 1));
    }

    #[cfg(any(target_os = "linux", target_vendor = "apple"))]
    #[test]
    fn what_falls_between_looking_and_writing_goes_back() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("yard.site.ron");
        // Ours has just come into the place of an edit that nobody had seen.
        std::fs::write(&path, "edit").expect("written");
        let Before::Kept(came_out) = put(stage(&path, b"ours").expect("staged"), &path, true).expect("put") else {
            panic!("exchanged")
        };
        let is = |path: &Path, expected: &str| std::fs::read_to_string(path).is_ok_and(|found| found == expected);
        put_back(came_out, &path, "ours", is).expect("back");
        assert_eq!(std::fs::read_to_string(&path).expect("there"), "edit");
        // And a second one was saved while the first was on its way back.
        let Before::Kept(came_out) = put(stage(&path, b"ours").expect("staged"), &path, true).expect("put") else {
            panic!("exchanged")
        };
        std::fs::write(&path, "edited again").expect("written");
        put_back(came_out, &path, "ours", is).expect("back");
        assert_eq!(std::fs::read_to_string(&path).expect("there"), "edited again");
        assert_eq!(std::fs::read_dir(folder.path()).expect("listed").count(), 1);
    }

    #[cfg(unix)]
    #[test]
    fn many_that_rewrite_one_file_at_once_all_arrive() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("list");
        std::fs::write(&path, "").expect("written");
        std::thread::scope(|scope| {
            for writer in 0..4 {
                let path = &path;
                scope.spawn(move || {
                    for line in 0..25 {
                        loop {
                            let read = read_text(path, FileKind::Site).expect("read");
                            match rewrite(path, Some(&read), &format!("{read}{writer}-{line}\n"), FileKind::Site) {
                                Ok(()) => break,
                                Err(FileError::Changed { .. }) => {}
                                Err(error) => panic!("{error}"),
                            }
                        }
                    }
                });
            }
        });
        let text = std::fs::read_to_string(&path).expect("read");
        let mut lines: Vec<&str> = text.lines().collect();
        lines.sort_unstable();
        lines.dedup();
        assert_eq!(lines.len(), 100, "{text}");
        assert_eq!(std::fs::read_dir(folder.path()).expect("listed").count(), 1);
    }

    #[cfg(unix)]
    #[test]
    fn what_a_link_leads_to_is_rewritten_and_the_link_stays() {
        let folder = tempfile::tempdir().expect("a folder");
        let (path, link) = (folder.path().join("yard.site.ron"), folder.path().join("link"));
        std::fs::write(&path, "one").expect("written");
        std::os::unix::fs::symlink(&path, &link).expect("a link");
        rewrite(&link, Some("one"), "two", FileKind::Site).expect("rewritten");
        assert!(link.symlink_metadata().expect("there").is_symlink());
        assert_eq!(std::fs::read_to_string(&path).expect("there"), "two");
    }
}
