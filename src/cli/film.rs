//! `plumbsight film`: how does the picture glide from stance to stance, or change as the camera rises?

use std::path::PathBuf;

use clap::{ArgGroup, Args};

use crate::handover::deliver::{DeliveredContent, DeliveryKind, DeliveryRequest};
use crate::handover::film::{Film, PLATFORM_M, rise};

use super::Outcome;
use super::deliver::{destination, handed_over};
use super::frames::FrameOptions;
use super::request::{saved, survey};
use super::show::tell;

/// What to picture.
#[derive(Args, Debug)]
#[command(group(ArgGroup::new("run").required(true).args(["through", "rise"])))]
pub(super) struct FilmArguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// A saved stance to glide through; repeated for each, in order
    #[arg(long, value_name = "NAME")]
    through: Vec<String>,
    /// The saved stance at which the camera rises from the ground
    #[arg(long, value_name = "NAME")]
    rise: Option<String>,
    /// How high over the feet it rises, in metres
    #[arg(long, value_name = "M", default_value_t = PLATFORM_M, requires = "rise")]
    to_height: f64,
    /// The film's file: .png for an animated picture, .mp4 for a video (AV1)
    #[arg(short, long, value_name = "FILE", default_value = "film.png")]
    out: PathBuf,
    /// How long it takes from stance to stance, or to rise, in seconds; it rests a second at each
    #[arg(long, value_name = "S", default_value_t = 4.0)]
    seconds: f64,
    /// Frames per second
    #[arg(long, value_name = "N", default_value_t = 24)]
    per_second: u16,
    #[command(flatten)]
    frames: FrameOptions,
    /// Leave out the line of figures under each frame
    #[arg(long)]
    no_caption: bool,
    /// Overwrite a file that already exists
    #[arg(long)]
    replace: bool,
}

pub(super) fn run(arguments: &FilmArguments) -> Outcome {
    let destination = destination(&arguments.out, arguments.replace, DeliveryKind::Film)?;
    let survey = survey(&arguments.site)?;
    let stops = match &arguments.rise {
        Some(name) => rise(&saved(&survey, name)?, arguments.to_height),
        None => arguments.through.iter().map(|name| saved(&survey, name)).collect::<Result<_, _>>()?,
    };
    let film = Film {
        stops,
        seconds: arguments.seconds,
        style: arguments.frames.style(arguments.per_second),
        caption: !arguments.no_caption,
    };
    let delivered = handed_over(&survey, &DeliveryRequest::Film(film), &destination)?;
    let DeliveredContent::Film(bytes) = delivered.content else { return Ok(()) };
    tell(&format!("{} is written, {:.1} MB.", delivered.path.display(), bytes as f64 / 1e6))
}
