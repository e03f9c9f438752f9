//! What stands in the window? Instruments and cards, each in a file of its own, laid out by the desk one sits at.
//!
//! Panels read the desk and answer with actions; they compute no number that they show, and know nothing of the
//! engine.

mod answer;
mod bindings;
mod build;
mod camera;
mod chart;
mod compare;
mod compass;
mod context;
mod criteria;
mod criteria_light;
mod day;
mod draw;
mod figures;
mod finder;
mod finder_picture;
mod front;
mod guide;
mod handover;
mod height_scale;
mod help;
pub(in crate::viewer) mod keys;
mod layout;
mod lens;
mod lens_scale;
mod level;
mod notices;
mod panels;
mod parts;
mod plan;
mod presets;
mod preview;
mod prints;
mod readings;
mod requirement;
mod search_map;
mod site;
mod slider;
mod status;
mod style;
mod sun;
mod sun_path;
mod sun_shadow;
mod switches;
mod textures;
mod tolerance;
mod trees;
mod verdict;
mod walk;
mod ways;
mod window;

pub use super::render::finder_mesh::FinderPlace;
pub(in crate::viewer) use finder::placed;
pub use finder_picture::FinderPicture;
pub use panels::{Panels, WindowOutput};
