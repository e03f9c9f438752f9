//! `plumbsight sequence`: what does the picture do on the way from one stance to another?

use std::path::PathBuf;

use clap::Args;

use crate::handover::deliver::{DeliveredContent, DeliveryKind, DeliveryRequest};
use crate::handover::sequence::{ANIMATED, Sequence, SequenceFrame};

use super::Outcome;
use super::deliver::{destination, handed_over};
use super::frames::FrameOptions;
use super::request::{saved, survey};
use super::show::{angle, tell};

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
    #[command(flatten)]
    drawn: FrameOptions,
    /// Frames per second of the animated picture
    #[arg(long, value_name = "N", default_value_t = 12)]
    per_second: u16,
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
        style: arguments.drawn.style(arguments.per_second),
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
