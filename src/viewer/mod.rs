//! What does a person see who stands on the site with their own camera? The window.
//!
//! The window computes no number that it shows: a [`desk::Desk`] holds the stance, the core measures it, and the graphics card
//! draws the same model through the same lens.

mod adapter;
mod bend;
mod calm;
mod cards;
mod carry;
mod codes;
pub mod desk;
mod dialog;
mod display;
mod engine;
mod errand;
mod finder;
mod hands;
mod ink;
mod narrow;
pub mod opening;
mod pace;
pub mod panels;
mod peer;
mod race;
mod scene;
mod scribe;
mod script;
pub mod settings;
mod shade;
mod sheet;
mod thrift;
mod unseen;
mod walk;
mod watch;
pub mod work;

use thiserror::Error;

pub use adapter::has_display;
pub use display::open_window;
pub use errand::Report;
pub use pace::{Frames, Pace};
pub use race::{contest, pace};
pub use script::{Script, ScriptError};
pub use unseen::{Sheet, drive, picture};

/// Why there is no picture.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum ViewerError {
    /// There is no graphics adapter.
    #[error(
        "no graphics adapter was found; install a Vulkan driver (Debian: mesa-vulkan-drivers), or use `plumbsight still`"
    )]
    NoAdapter,
    /// There is no display to open a window on.
    #[error("there is no display that a window can be opened on; use `plumbsight still`, or `view --window-picture`")]
    NoDisplay,
    /// The stance cannot be taken up.
    #[error(transparent)]
    Stance(#[from] crate::stance::StanceError),
    /// The graphics device is gone.
    #[error("the graphics device was lost ({reason}); what was pinned is kept, start again")]
    Lost {
        /// What the driver said.
        reason: String,
    },
    /// The engine broke.
    #[error("the window broke ({reason}); what was pinned is kept, start again or use `plumbsight still`")]
    Broken {
        /// What it said.
        reason: String,
    },
    /// The adapter took the work and gave nothing back.
    #[error("the graphics adapter gave no picture back; use `plumbsight still`")]
    NoPicture,
}

/// Whether a window can be opened here.
pub fn can_open() -> bool {
    adapter::has_display() && can_draw()
}

/// Whether there is a graphics adapter.
pub fn can_draw() -> bool {
    adapter::require_adapter().is_ok()
}
