//! Which file or folder does the person choose in the desktop's own dialog?

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use rfd::AsyncFileDialog;

/// Nobody closes a dialog sooner than this after asking for it: one that is gone by then never opened.
const NO_DIALOG: Duration = Duration::from_millis(400);

/// What was chosen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::viewer) enum Chosen {
    /// This.
    Path(PathBuf),
    /// Nothing: the dialog was closed.
    Nothing,
    /// This desktop has no dialog.
    NoDialog,
}

/// Starts asking for a site file, on the thread of the window; the answer is waited for on another.
pub(in crate::viewer) fn site_file(near: Option<&Path>) -> impl FnOnce() -> Chosen + Send + 'static {
    let mut dialog = AsyncFileDialog::new().set_title("Open a site").add_filter("Sites", &["ron"]);
    if let Some(folder) = near {
        dialog = dialog.set_directory(folder);
    }
    waiting(dialog.pick_file())
}

/// Starts asking for the file of somebody's name, address and mark.
pub(in crate::viewer) fn brand_file(near: Option<&Path>) -> impl FnOnce() -> Chosen + Send + 'static {
    let mut dialog =
        AsyncFileDialog::new().set_title("Your name, address and mark").add_filter("Brand files", &["ron"]);
    if let Some(folder) = near {
        dialog = dialog.set_directory(folder);
    }
    waiting(dialog.pick_file())
}

/// Starts asking for the folder of captures.
pub(in crate::viewer) fn folder(near: Option<&Path>) -> impl FnOnce() -> Chosen + Send + 'static {
    let mut dialog = AsyncFileDialog::new().set_title("Where do captures go?");
    if let Some(folder) = near {
        dialog = dialog.set_directory(folder);
    }
    waiting(dialog.pick_folder())
}

fn waiting(
    answer: impl Future<Output = Option<rfd::FileHandle>> + Send + 'static,
) -> impl FnOnce() -> Chosen + Send + 'static {
    let asked = Instant::now();
    move || match pollster::block_on(answer) {
        Some(file) => Chosen::Path(file.path().to_path_buf()),
        None if asked.elapsed() < NO_DIALOG => Chosen::NoDialog,
        None => Chosen::Nothing,
    }
}
