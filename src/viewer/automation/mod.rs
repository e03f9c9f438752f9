//! What can the window do by itself? Follow a script, and measure its frames.

#[cfg(feature = "engine-comparison")]
pub(in crate::viewer) mod engine_material;
pub(in crate::viewer) mod frame_times;
pub(in crate::viewer) mod playback;
pub(in crate::viewer) mod script;
pub(in crate::viewer) mod timed_frames;
