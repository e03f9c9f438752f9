//! Which file or folder does the person choose in the desktop's own dialog?

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use rfd::AsyncFileDialog;

/// Nobody closes a dialog sooner than this after asking for it: one that is gone by then never opened.
const NO_DIALOG: Duration = Duration::from_millis(400);

/// How pictures from above may end.
const PICTURE_ENDINGS: [&str; 10] = ["png", "jpg", "jpeg", "tif", "tiff", "PNG", "JPG", "JPEG", "TIF", "TIFF"];

/// How files of footprints and of heights may end.
const OPEN_DATA_ENDINGS: [&str; 6] = ["geojson", "json", "asc", "GEOJSON", "JSON", "ASC"];

/// Which path the person is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PathQuestion {
    /// Which site is to be opened?
    Site,
    /// Where is the site saved as the person's own?
    SaveSite,
    /// Where do captures go?
    Folder,
    /// Which file has the person's name and logo?
    Brand,
    /// Which picture is laid under the plan?
    PictureFromAbove,
    /// Which file has the tides?
    Tide,
    /// Which file of footprints or heights is brought into the site?
    FootprintsOrHeights,
}

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

/// Starts asking, on the thread of the window; the answer is waited for on another.
pub(in crate::viewer) fn open(question: PathQuestion, near: Option<&Path>) -> Box<dyn FnOnce() -> Chosen + Send> {
    let mut dialog = AsyncFileDialog::new();
    if let Some(folder) = near {
        dialog = dialog.set_directory(folder);
    }
    match question {
        PathQuestion::Site => {
            let dialog = dialog.set_title("Open a site").add_filter("Sites", &["ron"]);
            Box::new(waiting(dialog.pick_file()))
        }
        PathQuestion::SaveSite => {
            let dialog = dialog.set_title("Save the site").add_filter("Sites", &["ron"]).set_file_name("my.site.ron");
            Box::new(waiting(dialog.save_file()))
        }
        PathQuestion::Brand => {
            let dialog = dialog.set_title("Your name, address and logo").add_filter("Brand files", &["ron"]);
            Box::new(waiting(dialog.pick_file()))
        }
        PathQuestion::PictureFromAbove => {
            let dialog = dialog.set_title("A picture from above").add_filter("Pictures", &PICTURE_ENDINGS);
            Box::new(waiting(dialog.pick_file()))
        }
        PathQuestion::FootprintsOrHeights => {
            let dialog =
                dialog.set_title("Footprints or heights").add_filter("GeoJSON, Esri ASCII grid", &OPEN_DATA_ENDINGS);
            Box::new(waiting(dialog.pick_file()))
        }
        PathQuestion::Tide => {
            let dialog = dialog.set_title("A tide table").add_filter("Tide tables", &["csv", "CSV"]);
            Box::new(waiting(dialog.pick_file()))
        }
        PathQuestion::Folder => Box::new(waiting(dialog.set_title("Folder for captures").pick_folder())),
    }
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
