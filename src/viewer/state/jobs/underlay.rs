//! How is a picture from above laid and read in the background? Its file is copied beside the site's, never over another.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::bring::{PictureLaying, Raster, laid_by_file, laid_in_view, read_picture};
use crate::files::{FileError, FileKind, read_bytes, write_together};
use crate::site::{Anchor, PlanPoint};

/// The longest side of a picture on the graphics card, which every one takes.
const LONGEST_PX: u32 = 4096;
/// The shortest side that is halved once more.
const SHORTEST_PX: u32 = 256;
/// How many names are tried for a copy.
const MOST_NAMES: u32 = 1000;

/// A picture from above, from its full size downwards, each half as large as the one before: what is shown small is drawn
/// from a small one.
pub type PictureLevels = Arc<[Raster]>;

/// Where and for which site a picture is to be laid.
pub(in crate::viewer::state) struct LayingOrder {
    /// The picture.
    pub(in crate::viewer::state) path: PathBuf,
    /// The folder of the site's file.
    pub(in crate::viewer::state) folder: PathBuf,
    pub(in crate::viewer::state) anchor: Option<Anchor>,
    /// The middle of the plan as it is shown, and its width in metres.
    pub(in crate::viewer::state) view: (PlanPoint, f64),
}

/// A picture that lies beside the site's file now.
#[derive(Debug)]
pub(in crate::viewer::state) struct LaidPicture {
    pub(in crate::viewer::state) laying: PictureLaying,
    /// Where it lies.
    pub(in crate::viewer::state) path: PathBuf,
    pub(in crate::viewer::state) levels: PictureLevels,
}

/// A picture in all its sizes.
///
/// # Errors
/// It cannot be read.
pub(in crate::viewer::state) fn read_levels(path: &Path) -> Result<PictureLevels, String> {
    let mut levels = vec![read_picture(path, LONGEST_PX).map_err(|error| error.to_string())?];
    while let Some(last) = levels.last().filter(|last| last.size_px.iter().all(|side_px| *side_px >= 2 * SHORTEST_PX)) {
        let half = last.reduced(2);
        levels.push(half);
    }
    Ok(levels.into())
}

/// Reads a picture, finds where it lies, and copies it beside the site's file if it is elsewhere.
///
/// A picture that says nothing of its place, or lies nowhere near, comes to lie in the middle of the view.
///
/// # Errors
/// It cannot be read or copied.
pub(in crate::viewer::state) fn lay_picture(order: &LayingOrder) -> Result<LaidPicture, String> {
    let levels = read_levels(&order.path)?;
    let (middle, width_m) = order.view;
    let in_view = || laid_in_view(&order.path, middle, width_m).map_err(|error| error.to_string());
    let mut laying = match laid_by_file(&order.path, order.anchor.as_ref()) {
        Ok(Some(laying)) => laying,
        Ok(None) => in_view()?,
        Err(error) => {
            let mut laying = in_view()?;
            laying.notes = vec![format!("laid in the middle of the plan, at a guessed scale: {error}")];
            laying
        }
    };
    let path = beside(&order.path, &order.folder)?;
    laying.underlay.file = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
    Ok(LaidPicture { laying, path, levels })
}

/// The picture's place in a folder: its own if it is there already, else that of a copy under a name that was free.
fn beside(picture: &Path, folder: &Path) -> Result<PathBuf, String> {
    let real = |path: &Path| std::fs::canonicalize(path).unwrap_or_else(|_| path.into());
    let name = picture.file_name().ok_or_else(|| format!("{}: is no file", picture.display()))?;
    if picture.parent().is_some_and(|parent| real(parent) == real(folder)) {
        return Ok(folder.join(name));
    }
    let bytes = read_bytes(picture, FileKind::FromAbove).map_err(|error| error.to_string())?;
    let stem = picture.file_stem().unwrap_or(name).to_string_lossy();
    let ending = picture.extension().map(|ending| format!(".{}", ending.to_string_lossy())).unwrap_or_default();
    for number in 1..=MOST_NAMES {
        let free = if number == 1 { folder.join(name) } else { folder.join(format!("{stem} {number}{ending}")) };
        match write_together(&[(&free, &bytes)], false) {
            Ok(()) => return Ok(free),
            Err(FileError::AlreadyThere { path })
                if read_bytes(&path, FileKind::FromAbove).is_ok_and(|there| there == bytes) =>
            {
                return Ok(free);
            }
            Err(FileError::AlreadyThere { .. }) => {}
            Err(error) => return Err(error.to_string()),
        }
    }
    Err(format!("{}: {MOST_NAMES} pictures of this name lie there already; rename yours", folder.display()))
}
