//! What does a person see who stands on the site with their own camera? The window.
//!
//! The window computes no number that it shows: a [`state::desk::Desk`] holds the stance, the core measures it, and the graphics card
//! draws the same model through the same lens.

mod app;
mod automation;
mod engine;
mod error;
mod render;
pub mod state;
pub mod ui;

#[cfg(feature = "engine-comparison")]
pub use automation::engine_material::time_engine_material;
pub use automation::frame_times::{FrameTimes, Timings};
pub use automation::playback::Report;
pub use automation::script::{Script, ScriptError};
pub use automation::timed_frames::{Dragged, time_drag, time_frames};
pub use engine::adapter::has_display;
pub use engine::headless::{HeadlessWindow, drive, picture};
pub use engine::window::open_window;
pub use error::ViewerError;

use engine::adapter;

/// Whether a window can be opened here.
pub fn can_open() -> bool {
    adapter::has_display() && can_draw()
}

/// Whether there is a graphics adapter.
pub fn can_draw() -> bool {
    adapter::require_adapter().is_ok()
}
