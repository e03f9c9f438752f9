//! `plumbsight sequence`: what does the picture do on the way from one stance to another?

use std::path::PathBuf;

use clap::Args;

use crate::handover::deliver::{DeliveredContent, DeliveryKind, DeliveryRequest};
use crate::handover::sequence::{ANIMATED, Sequence, SequenceFrame};
use crate::units::Units;

use super::Outcome;
use super::deliver::{destination, handed_over};
use super::request::{saved, survey};
use super::show::{angle, tell};
use super::still::{Colours, Looks};

/// Which move to picture.
#[derive(Args, Debug)]
pub(super) struct SequenceArguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// The saved stance at the start
    #[arg(long, value_name = "NAME")]
    from: String,
    /// The saved stance at the end
    #[arg(long, value_name = "NAME")]
    to: String,
    /// The number of frames, start and end included
    #[arg(long, value_name = "N", default_value_t = 48)]
    frames: u32,
    /// The folder for the numbered frames, the animated picture and a table of figures
    #[arg(short, long, value_name = "FOLDER", default_value = "sequence")]
    out: PathBuf,
    /// The width in pixels
    #[arg(long, value_name = "PX", default_value_t = 720)]
    width: u32,
    /// Rays per pixel: 1, 2, 4, 8 or 16
    #[arg(long, value_name = "N", default_value_t = 4)]
    samples: u32,
    /// What the site is shown as
    #[arg(long, value_enum, default_value_t)]
    look: Looks,
    /// The colours of the card look
    #[arg(long, value_enum, default_value_t)]
    theme: Colours,
    /// Draw verticals, sides and horizon over each frame
    #[arg(long)]
    overlay: bool,
    /// Frames per second of the animated picture
    #[arg(long, value_name = "N", default_value_t = 12)]
    per_second: u16,
    /// The unit of lengths under each frame; the table is metric
    #[arg(long, value_enum, default_value_t)]
    units: Units,
    /// Overwrite an earlier sequence
    #[arg(long)]
    replace: bool,
}

pub(super) fn run(arguments: &SequenceArguments) -> Outcome {
    let destination = destination(&arguments.out, arguments.replace, DeliveryKind::Sequence)?;
    let survey = survey(&arguments.site)?;
    let sequence = Sequence {
        from: saved(&survey, &arguments.from)?,
        to: saved(&survey, &arguments.to)?,
        frames: arguments.frames,
        width_px: arguments.width,
        samples: arguments.samples,
        look: arguments.look.into(),
        theme: arguments.theme.into(),
        overlay: arguments.overlay,
        per_second: arguments.per_second,
        units: arguments.units,
    };
    let delivered = handed_over(&survey, &DeliveryRequest::Sequence(sequence), &destination)?;
    let DeliveredContent::Sequence(frames) = delivered.content else { return Ok(()) };
    let convergence = |frame: Option<&SequenceFrame>| {
        let convergence = frame.and_then(|frame| frame.account.convergence);
        angle(convergence.map(|convergence| convergence.angle().degrees()))
    };
    tell(&format!(
        "{} holds {} frames and {ANIMATED}. Convergence: {} at '{}', {} at '{}'.",
        delivered.path.display(),
        frames.len(),
        convergence(frames.first()),
        arguments.from,
        convergence(frames.last()),
        arguments.to
    ))
}
