//! What of the engine is mended or left out here? The head of each file says what it mends, and when it is to be removed.

pub(in crate::viewer) mod late_frames;
pub(in crate::viewer) mod output_copy;
pub(in crate::viewer) mod srgb_panels;
pub(in crate::viewer) mod unchanged_modifiers;
pub(in crate::viewer) mod unused_passes;
