//! Plumbsight's core: where must the camera stand so that a picture of something tall comes out straight?
//!
//! The modules run one way, down this list; a module may use those above it.

pub mod angle;
pub mod files;
pub mod progress;
pub mod text;
pub mod theme;
pub mod units;
pub mod wording;

pub mod heights;

pub mod pose;

pub mod optics;

pub mod place;

pub mod site;

pub mod bring;

pub mod outline;
pub mod sight;
pub mod verticals;

pub mod aim;
pub mod stance;

pub mod light;

pub mod new_site;

pub mod cautions;

pub mod appraise;
pub mod tolerance;
pub mod verdict;

pub mod still;

pub mod record;
pub mod survey;
pub mod taller;

pub mod walking;

pub mod day;

pub mod faults;

pub mod compare;

pub mod search;

pub mod ways;

pub mod plan;

pub mod drawing;

pub mod handover;

pub mod scenes;

#[cfg(feature = "viewer")]
pub mod viewer;

pub mod cli;
