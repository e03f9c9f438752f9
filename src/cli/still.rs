//! `plumbsight still`: what will the picture look like, exactly?

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use crate::files::{FileError, check_folder_of, is_there, write_together};
use crate::handover::capture::{Capture, CaptureError, Shot, capture};
use crate::handover::exif::{Moment, PictureForm};
use crate::site::{PlanPoint, Stance};
use crate::survey::{MeasureSettings, Survey};
use crate::theme::Theme;

use super::measure::MeasureOptions;
use super::request::{StanceArguments, beside, pair, survey};
use super::show::{tell, watched};
use super::{Ending, Outcome};

/// Pixels across unless asked otherwise.
pub(super) const WIDTH_PX: u32 = 1800;

/// What to picture.
#[derive(Args, Debug)]
pub(super) struct StillArguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
    #[command(flatten)]
    stance: StanceArguments,
    #[command(flatten)]
    measures: MeasureOptions,
    /// The picture's file, .png or .jpg; the record is written beside it
    #[arg(short, long, value_name = "FILE", default_value = "still.png")]
    out: PathBuf,
    /// The width in pixels
    #[arg(long, value_name = "PX", default_value_t = WIDTH_PX)]
    width: u32,
    /// Full size: all pixels of the camera
    #[arg(long, conflicts_with = "width")]
    full: bool,
    /// Rays per pixel: 1, 2, 4, 8 or 16
    #[arg(long, value_name = "N", default_value_t = 4)]
    samples: u32,
    /// The colours
    #[arg(long, value_enum, default_value_t)]
    theme: Colours,
    /// Draw verticals, sides, horizon and vanishing point over the picture
    #[arg(long)]
    overlay: bool,
    /// Blur what is out of focus, by the aperture and focus distance
    #[arg(long)]
    depth_of_field: bool,
    /// Add a person for scale: metres east and north; may be repeated
    #[arg(long, value_name = "E,N", value_parser = pair, allow_hyphen_values = true)]
    person: Vec<PlanPoint>,
    /// Render the picture that straightening afterwards would keep
    #[arg(long)]
    straightened: bool,
    /// The planned date and time, such as 2027-06-21T17:30+01:00; no date unless given
    #[arg(long, value_name = "MOMENT")]
    moment: Option<Moment>,
    /// Overwrite a file that already exists
    #[arg(long)]
    replace: bool,
}

/// The colours of a picture.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub(super) enum Colours {
    /// White blocks on paper, by day.
    #[default]
    Paper,
    /// Grey blocks at dusk.
    Dusk,
}

impl From<Colours> for Theme {
    fn from(colours: Colours) -> Self {
        match colours {
            Colours::Paper => Self::Paper,
            Colours::Dusk => Self::Dusk,
        }
    }
}

pub(super) fn run(arguments: &StillArguments) -> Outcome {
    if arguments.width == 0 {
        return Err(Ending::BadInput("--width is 0; it must be at least 1".into()));
    }
    let place = Place::of(&arguments.out, arguments.replace)?;
    let settings = arguments.measures.settings()?;
    let survey = survey(&arguments.site)?;
    let stance = arguments.stance.stance(&survey)?;
    let shot = Shot {
        width_px: (!arguments.full).then_some(arguments.width),
        samples: arguments.samples,
        theme: arguments.theme.into(),
        overlay: arguments.overlay,
        depth_of_field: arguments.depth_of_field,
        straightened: arguments.straightened,
        people: arguments.person.clone(),
        moment: arguments.moment,
    };
    let taken = place.take(&survey, &stance, &settings, &shot)?;
    tell(&format!(
        "{} is written, {} × {} px, with its record in {}.",
        place.picture.display(),
        taken.picture.width_px,
        taken.picture.height_px,
        place.record.display()
    ))
}

/// Where a picture and its record go.
pub(super) struct Place {
    pub(super) picture: PathBuf,
    pub(super) record: PathBuf,
    form: PictureForm,
    replace: bool,
}

impl Place {
    /// A place that is free, or whose files may be replaced.
    pub(super) fn of(picture: &Path, replace: bool) -> Result<Self, Ending> {
        let form = PictureForm::of(picture).ok_or_else(|| {
            Ending::BadInput(format!("{}: end the picture's name in .png, .jpg or .jpeg", picture.display()))
        })?;
        check_folder_of(picture).map_err(Ending::bad)?;
        let record = beside(picture, "record.ron");
        for path in [picture, &record] {
            if is_there(path) && !replace {
                return Err(Ending::bad(FileError::AlreadyThere { path: path.into() }));
            }
        }
        Ok(Self { picture: picture.into(), record, form, replace })
    }

    /// Takes a picture and writes it and its record.
    pub(super) fn take(
        &self,
        survey: &Survey,
        stance: &Stance,
        settings: &MeasureSettings,
        shot: &Shot,
    ) -> Result<Capture, Ending> {
        let name = self.picture.file_name().unwrap_or_default().to_string_lossy();
        let taken = watched(|progress| capture(survey, stance, settings, shot, (&name, self.form), progress))?;
        let record = taken.record.to_ron();
        write_together(&[(&self.picture, &taken.file), (&self.record, record.as_bytes())], self.replace)
            .map_err(Ending::bad)?;
        if taken.labels_left_out > 0 {
            tell(&format!("{} labels are left out: the picture has no room for them.", taken.labels_left_out))?;
        }
        Ok(taken)
    }
}

impl From<CaptureError> for Ending {
    fn from(error: CaptureError) -> Self {
        match error {
            CaptureError::Stance(error) => error.into(),
            CaptureError::Straightening(_) | CaptureError::NoSubject(_) => Self::NoAnswer(error.to_string()),
            CaptureError::Still(_) | CaptureError::File(_) => Self::bad(error),
        }
    }
}
