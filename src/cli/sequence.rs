//! `plumbsight sequence`: what does the picture do on the way from one stance to another?

use std::path::PathBuf;

use clap::Args;

use crate::handover::NewFolder;
use crate::handover::sequence::{ANIMATED, Sequence, SequenceError, is_of_a_sequence};
use crate::units::Units;

use super::request::{saved, survey};
use super::show::{tell, watched};
use super::still::Colours;
use super::{Ending, Outcome};

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
    /// The colours
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

impl From<SequenceError> for Ending {
    fn from(error: SequenceError) -> Self {
        match error {
            SequenceError::Stance { name, error } => Self::from(error).of(&format!("stance '{name}'")),
            SequenceError::Way { .. } => Self::NoAnswer(error.to_string()),
            other => Self::bad(other),
        }
    }
}

pub(super) fn run(arguments: &SequenceArguments) -> Outcome {
    let place = &arguments.out;
    let folder = NewFolder::beside(place, is_of_a_sequence, arguments.replace).map_err(Ending::bad)?;
    let survey = survey(&arguments.site)?;
    let sequence = Sequence {
        from: saved(&survey, &arguments.from)?,
        to: saved(&survey, &arguments.to)?,
        frames: arguments.frames,
        width_px: arguments.width,
        samples: arguments.samples,
        theme: arguments.theme.into(),
        overlay: arguments.overlay,
        per_second: arguments.per_second,
        units: arguments.units,
    };
    let steps = watched(|progress| sequence.picture_into(&survey, folder.path(), progress))?;
    folder.put().map_err(Ending::bad)?;
    let closes = |step: Option<&crate::handover::sequence::Step>| {
        let convergence = step.and_then(|step| step.account.convergence);
        convergence.map_or_else(super::show::dash, |convergence| format!("{:.1}°", convergence.angle().degrees() + 0.0))
    };
    tell(&format!(
        "{} holds {} frames and {ANIMATED}. Convergence: {} at '{}', {} at '{}'.",
        place.display(),
        steps.len(),
        closes(steps.first()),
        arguments.from,
        closes(steps.last()),
        arguments.to
    ))
}
