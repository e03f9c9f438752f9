//! How is a still taken in the background and written with its record?

use std::path::{Path, PathBuf};

use crate::files::{self, FileError};
use crate::handover::capture::{CaptureError, Setup, Shot};
use crate::handover::exif::PictureForm;
use crate::progress::Progress;
use crate::site::Stance;
use crate::still::StillError;
use crate::survey::{MeasureSettings, Survey};
use crate::theme::Theme;

/// The most numbers that are tried for a capture's name.
const MOST_NUMBERS: u32 = 10_000;

/// A still that was taken: the picture, and its record beside it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Capture {
    /// The picture.
    pub picture: PathBuf,
    /// Its record.
    pub record: PathBuf,
}

/// What is to be taken.
pub(in crate::viewer::state) struct StillOrder<'a> {
    pub(in crate::viewer::state) survey: &'a Survey,
    pub(in crate::viewer::state) stance: &'a Stance,
    pub(in crate::viewer::state) measure_settings: MeasureSettings,
    pub(in crate::viewer::state) theme: Theme,
    pub(in crate::viewer::state) straighten: Option<f64>,
    pub(in crate::viewer::state) full: bool,
    pub(in crate::viewer::state) shown_px: Option<(u32, u32)>,
}

/// Takes a still and writes it and its record under the first free number; `None` where it was called off.
pub(in crate::viewer::state) fn take(
    order: &StillOrder<'_>,
    folder: &Path,
    progress: &Progress,
) -> Result<Option<Capture>, TakingError> {
    let (survey, stance) = (order.survey, order.stance);
    let mut measure_settings = order.measure_settings;
    measure_settings.measures.tilt_left =
        order.straighten.map_or(measure_settings.measures.tilt_left, |share| 1.0 - share);
    let shot = Shot { theme: order.theme, straightened: order.straighten.is_some(), ..Shot::default() };
    let mut setup = Setup::of(survey, stance, &measure_settings, &shot, "")?;
    if !order.full {
        let (across_px, down_px) = order.shown_px.unwrap_or((1200, 1200));
        setup = setup.within(across_px, down_px);
    }
    let mut taken = match setup.take(survey, &shot, PictureForm::Png, progress) {
        Ok(taken) => taken,
        Err(CaptureError::Still(StillError::Cancelled(_))) => return Ok(None),
        Err(error) => return Err(error.into()),
    };
    if progress.check().is_err() {
        return Ok(None);
    }
    std::fs::create_dir_all(folder).map_err(|source| FileError::Write { path: folder.into(), source })?;
    let stem = file_stem(&survey.model.site.name, &stance.name);
    for number in 1..MOST_NUMBERS {
        let name = if number == 1 { stem.clone() } else { format!("{stem}-{number}") };
        let file = format!("{name}.png");
        let capture = Capture { picture: folder.join(&file), record: folder.join(format!("{name}.record.ron")) };
        if let Some(picture) = &mut taken.record.picture {
            picture.file = file;
        }
        let record = taken.record.to_ron();
        let files: [(&Path, &[u8]); 2] = [(&capture.picture, &taken.file), (&capture.record, record.as_bytes())];
        match files::write_together(&files, false) {
            Ok(()) => return Ok(Some(capture)),
            Err(FileError::AlreadyThere { .. }) => {}
            Err(error) => return Err(error.into()),
        }
    }
    Err(TakingError::Full(folder.into()))
}

/// Why there is no still.
#[derive(Debug, thiserror::Error)]
pub(in crate::viewer::state) enum TakingError {
    #[error(transparent)]
    Capture(#[from] CaptureError),
    #[error(transparent)]
    File(#[from] FileError),
    #[error("{}: ten thousand stills of this name lie there; choose another folder", .0.display())]
    Full(PathBuf),
}

/// A name that every file system takes: letters and digits, with single dashes between.
pub(in crate::viewer::state) fn file_stem(site: &str, stance: &str) -> String {
    let mut stem = String::new();
    for c in format!("{site} {stance}").chars().take(80) {
        if c.is_alphanumeric() {
            stem.push(c);
        } else if !stem.is_empty() && !stem.ends_with('-') {
            stem.push('-');
        }
    }
    let stem = stem.trim_end_matches('-');
    if stem.is_empty() { "still".into() } else { stem.into() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn captures_have_names_that_every_file_system_takes() {
        assert_eq!(file_stem("Salt/ings: stack", "yard, standing (2)"), "Salt-ings-stack-yard-standing-2");
        assert_eq!(file_stem("..", "//"), "still");
    }
}
