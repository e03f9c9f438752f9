//! Did somebody change a file that the window shows?
//!
//! The folder is watched, not the file: editors save by writing another file and renaming it.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::time::Duration;

use notify::{Config, PollWatcher, RecommendedWatcher, RecursiveMode, Watcher};

use super::work::{Mailbox, Wake};

/// Editors write in several goes; after so long without another one they are done.
const QUIET: Duration = Duration::from_millis(150);
/// A folder of which nothing is heard is looked at this often.
const LOOK_EVERY: Duration = Duration::from_secs(2);

/// Watches some files of one or more folders.
pub(in crate::viewer) struct Watch {
    /// Kept alive: it stops when it is dropped.
    _watcher: Mutex<Box<dyn Watcher + Send>>,
    changed: Mailbox<PathBuf>,
}

impl Watch {
    /// Watches files, which need not be there yet; their folders must.
    ///
    /// # Errors
    /// A folder cannot be watched, in plain words.
    pub(in crate::viewer) fn over(files: &[PathBuf], wake: Wake) -> Result<Self, String> {
        let (seen, heard) = channel::<PathBuf>();
        let files: Vec<PathBuf> = files.iter().map(|file| real(file)).collect();
        let folders: BTreeSet<PathBuf> = files.iter().filter_map(|file| file.parent().map(Path::to_path_buf)).collect();
        let names = files.clone();
        let listen = move |event: notify::Result<notify::Event>| {
            let Ok(event) = event else { return };
            if matches!(event.kind, notify::EventKind::Access(_)) {
                return;
            }
            for path in event.paths {
                if names.contains(&path) {
                    // Nobody listens any more when the watch is over.
                    let _ = seen.send(path);
                }
            }
        };
        let mut watcher: Box<dyn Watcher + Send> = match RecommendedWatcher::new(listen.clone(), Config::default()) {
            Ok(watcher) => Box::new(watcher),
            Err(_) => Box::new(polling(listen.clone())?),
        };
        let failed = folders.iter().any(|folder| watcher.watch(folder, RecursiveMode::NonRecursive).is_err());
        if failed {
            // The system may have no more watches to give, or the folder is on a disk that tells nothing.
            watcher = Box::new(polling(listen)?);
            for folder in &folders {
                watcher.watch(folder, RecursiveMode::NonRecursive).map_err(|error| error.to_string())?;
            }
        }
        let (tell, changed) = Mailbox::new();
        std::thread::Builder::new()
            .name("plumbsight-watch".into())
            .spawn(move || {
                while let Ok(first) = heard.recv() {
                    let mut paths = BTreeSet::from([first]);
                    let over = loop {
                        match heard.recv_timeout(QUIET) {
                            Ok(path) => {
                                paths.insert(path);
                            }
                            Err(RecvTimeoutError::Timeout) => break false,
                            Err(RecvTimeoutError::Disconnected) => break true,
                        }
                    };
                    let listened = paths.into_iter().all(|path| tell.send(path).is_ok());
                    if over || !listened {
                        return;
                    }
                    wake.call();
                }
            })
            .map_err(|error| error.to_string())?;
        Ok(Self { _watcher: Mutex::new(watcher), changed })
    }

    /// The files that changed since this was last asked.
    pub(in crate::viewer) fn changed(&self) -> BTreeSet<PathBuf> {
        self.changed.take().into_iter().collect()
    }
}

fn polling(listen: impl Fn(notify::Result<notify::Event>) + Send + 'static) -> Result<PollWatcher, String> {
    PollWatcher::new(listen, Config::default().with_poll_interval(LOOK_EVERY)).map_err(|error| error.to_string())
}

/// The file by the real path of its folder, which is what is heard of.
pub(in crate::viewer) fn real(file: &Path) -> PathBuf {
    let folder = match file.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let folder = folder.canonicalize().unwrap_or_else(|_| folder.into());
    file.file_name().map_or_else(|| folder.clone(), |name| folder.join(name))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn waited(watch: &Watch) -> BTreeSet<PathBuf> {
        for _ in 0..200 {
            let changed = watch.changed();
            if !changed.is_empty() {
                return changed;
            }
            std::thread::sleep(Duration::from_millis(25));
        }
        BTreeSet::new()
    }

    #[test]
    fn a_file_that_is_rewritten_or_renamed_over_is_heard_of_and_others_are_not() {
        let folder = tempfile::tempdir().expect("a folder");
        let file = folder.path().join("yard.site.ron");
        std::fs::write(&file, "one").expect("written");
        let watch = Watch::over(std::slice::from_ref(&file), Wake::default()).expect("watched");
        std::fs::write(folder.path().join("other"), "x").expect("written");
        std::fs::write(&file, "two").expect("written");
        assert_eq!(waited(&watch), BTreeSet::from([real(&file)]));
        let other = folder.path().join("yard.site.ron~");
        std::fs::write(&other, "three").expect("written");
        std::fs::rename(&other, &file).expect("renamed");
        assert_eq!(waited(&watch), BTreeSet::from([real(&file)]));
        std::fs::read(&file).expect("read");
        std::thread::sleep(3 * QUIET);
        assert_eq!(watch.changed(), BTreeSet::new());
    }
}
