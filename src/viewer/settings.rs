//! What does the program remember from one site to the next? The person's own heights, units and looks.

use std::path::PathBuf;

use crate::angle::Angle;
use crate::theme::Theme;
use crate::units::Units;
use crate::verticals::READS_UPRIGHT_DEG;

/// A camera height with a name.
#[derive(Clone, Debug, PartialEq)]
pub struct Preset {
    /// What it is called.
    pub name: String,
    /// The camera above the feet.
    pub height_m: f64,
}

/// The heights that a newcomer finds.
///
/// # Source
/// Standing: the eye of an adult, see [`crate::site::Stance::height_m`]; the rest is common practice, no source.
pub fn first_presets() -> Vec<Preset> {
    [("crouching", 0.9), ("standing", 1.6), ("arms overhead", 2.1), ("short ladder", 3.0), ("pole", 4.5)]
        .map(|(name, height_m)| Preset { name: name.into(), height_m })
        .into()
}

/// What is remembered.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// The unit of lengths.
    pub units: Units,
    /// The colours.
    pub theme: Theme,
    /// Whether nothing glides.
    pub less_motion: bool,
    /// Whether the surround of the frame is shown, dimmed.
    pub surround: bool,
    /// Named camera heights, in the person's order.
    pub presets: Vec<Preset>,
    /// Sites opened lately, the newest first.
    pub recent: Vec<PathBuf>,
    /// Whether the first-minute guide has been put away.
    pub guide_seen: bool,
    /// The largest lean that reads as upright.
    pub upright: Angle,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            units: Units::M,
            theme: Theme::Paper,
            less_motion: false,
            surround: false,
            presets: first_presets(),
            recent: Vec::new(),
            guide_seen: false,
            upright: Angle::from_degrees(READS_UPRIGHT_DEG),
        }
    }
}
