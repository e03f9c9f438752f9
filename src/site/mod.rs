//! What stands on the site, on what ground, and where may one stand?
//!
//! A site is what a person writes in a `*.site.ron` file; [`Model`] is the same site as solids in the world.
//! Metres, x east, y north (true north at the anchor), z up; a block's own axes are turned with its heading, its y axis
//! pointing along it.

mod arrange;
mod block;
mod block_index;
mod build;
mod check;
mod check_blocks;
mod check_stances;
mod contour_ground;
mod description;
mod dimensions;
mod edit;
mod facade;
mod file;
mod front;
mod ground;
mod model;
mod other_files;
mod problem;
mod read;
mod ring_check;
mod shape;
mod snapping;
mod solid;
mod solid_parts;
mod stance;
mod terrain;
mod tree;
mod underlay;
mod value_tree;
mod write;

pub use crate::pose::PlanPoint;

pub use arrange::{
    Beside, MOST_COPIES, PlanLine, Repeat, free_name, kept_together, mirrored, mirrored_point, moved, moved_to_edge,
    named_anew, plan_base, plan_sides, repeated, turned, turned_along,
};
pub use block::{Access, Block, DeckRule, Finish, Lean};
pub use check::{FARTHEST_M, GROUND_HEIGHTS_M, MOST_BLOCKS, MOST_POSTS, MOST_TRIANGLES, check_placing, check_site};
pub(crate) use check::{check_kept_stance, check_kit, likely};
pub use contour_ground::{ContourError, ContourLine, band, ground_of_contours};
pub use description::{Anchor, SITE_FORMAT, Site, Sun};
pub use dimensions::{
    Dimension, DimensionUnit, dimensions, figures, form_words, height_dimension, palette, with_dimension,
};
pub use edit::{ChangeMisfit, Conflict, EditError, Overlap, SiteEditor, SiteList, TextChange, merge_outside};
pub use file::{LoadedSite, SiteError, check_text, parse_site, read_site, read_site_with, site_hash};
pub use front::Front;
pub use ground::{Ground, outline_holds};
pub use model::{DeckTop, Footing, FootingError, Model, Support};
pub use other_files::read_kindred;
pub use problem::{Finding, PathStep, Problem, Severity, SiteProblems};
pub(crate) use ring_check::{RingFault, ring_fault};
pub use shape::{Shape, is_bare, with_leaves};
pub use snapping::{SnapReason, Snapped, snapped};
pub use solid::{Curve, Edge, Face, Round, Solid, Triangle};
pub use stance::{Aim, Stance};
pub use terrain::{Terrain, TerrainGrid, slope};
pub use underlay::{LayingError, METRES_PER_PIXEL, PicturePoint, Underlay, usual_strength};
pub use write::{round_posts, write_new};
