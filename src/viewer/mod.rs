//! What does a person see who stands on the site with their own camera? The window.
//!
//! The window computes no number that it shows: a [`state::desk::Desk`] holds the stance, the core measures it, and the graphics card
//! draws the same model through the same lens.

mod app;
mod automation;
mod engine;
mod render;
pub mod state;
pub mod ui;

use thiserror::Error;

#[cfg(feature = "engine-comparison")]
pub use automation::engine_material::time_engine_material;
pub use automation::frame_times::{FrameTimes, Timings};
pub use automation::playback::Report;
pub use automation::script::{Script, ScriptError};
pub use automation::timed_frames::time_frames;
pub use engine::adapter::has_display;
pub use engine::headless::{HeadlessWindow, drive, picture};
pub use engine::window::open_window;

use engine::adapter;

/// Why there is no picture.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum ViewerError {
    /// There is no graphics adapter.
    #[error(
        "no graphics adapter was found; install a Vulkan driver (Debian: mesa-vulkan-drivers), or use `plumbsight still`"
    )]
    NoAdapter,
    /// There is no display to open a window on.
    #[error("there is no display to open a window on; use `plumbsight still`, or `view --window-picture`")]
    NoDisplay,
    /// The stance cannot be taken up.
    #[error(transparent)]
    Stance(#[from] crate::stance::StanceError),
    /// The graphics device is gone.
    #[error("the graphics device was lost ({reason}); pinned prints are saved, start again")]
    Lost {
        /// What the driver said.
        reason: String,
    },
    /// The engine broke.
    #[error("the window failed ({reason}); pinned prints are saved, start again or use `plumbsight still`")]
    Broken {
        /// What it said.
        reason: String,
    },
    /// The adapter took the work and gave nothing back.
    #[error("the graphics adapter returned no picture; use `plumbsight still`")]
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
