//! What does the window know? Its whole state, without a window: the desk, what is kept, and what is done in the background.

pub mod desk;
pub(in crate::viewer) mod dialog;
pub mod opening;
pub mod settings;
pub(in crate::viewer) mod watch;
pub mod work;
pub(in crate::viewer) mod writer;
