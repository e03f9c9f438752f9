//! `plumbsight still`: what will the picture look like, exactly?

use std::path::PathBuf;
use std::sync::Arc;

use clap::{Args, ValueEnum};

use crate::handover::capture::{Capture, Shot};
use crate::handover::deliver::{DeliveredContent, DeliveryKind, DeliveryRequest, Destination};
use crate::handover::exif::Moment;
use crate::site::{PlanPoint, Stance};
use crate::still::{Depth, Look, Surround};
use crate::survey::{MeasureSettings, Survey};
use crate::theme::Theme;

use super::deliver::{destination, handed_over};
use super::measure::MeasureOptions;
use super::request::{StanceArguments, pair, survey};
use super::show::tell;
use super::{Ending, Outcome};

/// Pixels across unless asked otherwise.
pub(super) const WIDTH_PX: u32 = 1800;

/// What to picture.
#[derive(Args, Debug)]
pub(super) struct StillArguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
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
    /// What the site is shown as
    #[arg(long, value_enum, default_value_t)]
    look: Looks,
    /// The colours of the card look
    #[arg(long, value_enum, default_value_t)]
    theme: Colours,
    /// Draw contour lines on sloping ground and ink edges, in the materials look too
    #[arg(long)]
    lines: bool,
    /// Draw verticals, sides, horizon and vanishing point over the picture
    #[arg(long)]
    overlay: bool,
    /// Blur what is out of focus, by the aperture and focus distance
    #[arg(long)]
    depth_of_field: bool,
    /// Add a person for scale: metres east and north; may be repeated
    #[arg(long, value_name = "E,N", value_parser = pair, allow_hyphen_values = true)]
    person: Vec<PlanPoint>,
    /// Add two people, a bicycle, a car and a van about the foot of the subject, where there is room
    #[arg(long)]
    company: bool,
    /// Render the picture that straightening afterwards would keep
    #[arg(long)]
    straightened: bool,
    /// What is shown where the sky would be
    #[arg(long, value_enum, default_value_t)]
    surround: Surrounds,
    /// Write 16 bits a channel; .png only
    #[arg(long)]
    sixteen_bits: bool,
    /// Draw the edge of the final picture over the picture as taken
    #[arg(long, conflicts_with = "straightened")]
    show_crop: bool,
    /// Picture as taken and final picture side by side, in the width that is asked for
    #[arg(long, conflicts_with = "straightened")]
    before_after: bool,
    /// Overwrite a file that already exists
    #[arg(long)]
    replace: bool,
    #[command(flatten)]
    stance: StanceArguments,
    #[command(flatten)]
    measures: MeasureOptions,
}

/// What the site is shown as.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub(super) enum Looks {
    /// A model of matt card with inked edges.
    #[default]
    Card,
    /// The place in brick, slate, glass, grass and water, by daylight.
    Materials,
}

impl From<Looks> for Look {
    fn from(look: Looks) -> Self {
        match look {
            Looks::Card => Self::Card,
            Looks::Materials => Self::Materials,
        }
    }
}

/// What is shown where the sky would be.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub(super) enum Surrounds {
    /// The sky.
    #[default]
    Sky,
    /// Nothing: the picture is clear there; .png only.
    Clear,
    /// White paper.
    White,
}

impl From<Surrounds> for Surround {
    fn from(surround: Surrounds) -> Self {
        match surround {
            Surrounds::Sky => Self::Sky,
            Surrounds::Clear => Self::Clear,
            Surrounds::White => Self::White,
        }
    }
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
    let destination = destination(&arguments.out, arguments.replace, DeliveryKind::Still)?;
    let survey = survey(&arguments.site)?;
    let text = arguments.measures.moment.as_deref();
    let typed = text.map(str::parse::<Moment>).transpose().map_err(|why| Ending::BadInput(format!("--moment: {why}")));
    // On a site that is nowhere on the Earth a moment has no light, and only dates the picture. It is dated as it was typed, and
    // by the site's clocks where no offset was.
    let ((survey, settings), moment) = match survey.model.site.anchor {
        None if arguments.measures.tide.is_none() => ((survey, arguments.measures.settings()?), typed?),
        _ => (arguments.measures.on(survey)?, typed.ok().flatten().filter(Moment::has_offset)),
    };
    let stance = arguments.stance.stance(&survey)?;
    let shot = Shot {
        width_px: (!arguments.full).then_some(arguments.width),
        samples: arguments.samples,
        look: arguments.look.into(),
        lines: arguments.lines,
        theme: arguments.theme.into(),
        overlay: arguments.overlay,
        depth_of_field: arguments.depth_of_field,
        straightened: arguments.straightened,
        people: arguments.person.clone(),
        company: arguments.company,
        moment,
        surround: arguments.surround.into(),
        depth: if arguments.sixteen_bits { Depth::Sixteen } else { Depth::Eight },
        crop: arguments.show_crop,
        before_after: arguments.before_after,
        every_ray: false,
    };
    let taken = take(&survey, stance, settings, shot, &destination)?;
    tell(&format!(
        "{} is written, {} × {} px, with its record in {}.",
        taken.path.display(),
        taken.capture.picture.width_px,
        taken.capture.picture.height_px,
        taken.record.display()
    ))
}

/// A picture that was taken and written.
pub(super) struct TakenStill {
    pub(super) path: PathBuf,
    pub(super) record: PathBuf,
    pub(super) capture: Arc<Capture>,
}

/// Takes a picture, writes it and its record, and says how many labels found no room.
pub(super) fn take(
    survey: &Survey,
    stance: Stance,
    settings: MeasureSettings,
    shot: Shot,
    destination: &Destination,
) -> Result<TakenStill, Ending> {
    let request = DeliveryRequest::Still { stance, settings, shot, within_px: None };
    let delivered = handed_over(survey, &request, destination)?;
    let DeliveredContent::Still { capture, record } = delivered.content else {
        return Err(Ending::BadInput("no picture was taken".into()));
    };
    if capture.labels_left_out > 0 {
        tell(&format!("{} labels are left out: the picture has no room for them.", capture.labels_left_out))?;
    }
    Ok(TakenStill { path: delivered.path, record, capture })
}
