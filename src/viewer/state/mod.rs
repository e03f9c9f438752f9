//! What does the window know? Its whole state, without a window: the desk, what is kept, and what is done in the background.

mod action;
mod arrangement;
mod camera;
mod camera_moves;
mod clock;
mod delivery;
pub mod desk;
pub(in crate::viewer) mod dialog;
mod effects;
mod files;
mod jobs;
mod notices;
pub mod opening;
mod plan_file;
mod print_step;
mod prints;
mod search;
pub mod settings;
mod settings_file;
mod shown_site;
mod thumbnails;
pub(in crate::viewer) mod watch;
mod ways;
pub mod work;
pub(in crate::viewer) mod writer;
