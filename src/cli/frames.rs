//! How are the frames of a move drawn? Options that `film` and `sequence` share.

use clap::Args;

use crate::handover::sequence::FrameStyle;
use crate::units::Units;

use super::still::{Colours, Looks};

/// How each frame is drawn.
#[derive(Args, Debug)]
pub(super) struct FrameOptions {
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
    /// The unit of lengths under each frame; tables are metric
    #[arg(long, value_enum, default_value_t)]
    units: Units,
}

impl FrameOptions {
    pub(super) fn style(&self, per_second: u16) -> FrameStyle {
        FrameStyle {
            width_px: self.width,
            samples: self.samples,
            look: self.look.into(),
            theme: self.theme.into(),
            overlay: self.overlay,
            per_second,
            units: self.units,
        }
    }
}
