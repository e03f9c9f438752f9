//! What of the engine is mended or left out here? Each file says why, and when it may be removed.

pub(in crate::viewer) mod output_copy;
pub(in crate::viewer) mod srgb_panels;
pub(in crate::viewer) mod unchanged_modifiers;
pub(in crate::viewer) mod unused_passes;
