//! Plumbsight's core: where must the camera stand so that a picture of something tall comes out straight?
//!
//! The modules run one way, down this list; a module may use those above it.

pub mod angle;
pub mod bring;
pub mod files;
pub mod optics;
pub mod place;
pub mod pose;
pub mod progress;
pub mod sight;
pub mod site;
