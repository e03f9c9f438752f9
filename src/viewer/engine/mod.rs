//! How is the engine set up, on a display or without one, and where is it worked around?

pub(in crate::viewer) mod adapter;
pub(in crate::viewer) mod headless;
pub(in crate::viewer) mod setup;
pub(in crate::viewer) mod window;
pub(in crate::viewer) mod workarounds;
