//! What do footprints become blocks in?

use super::names::Names;
use super::options::BringOptions;
use crate::place::TangentPlane;
use crate::site::Block;

/// What footprints are built into: the site's plane and the options, and what has come of them so far.
pub(super) struct Intake<'a> {
    pub(super) plane: TangentPlane,
    pub(super) options: &'a BringOptions,
    pub(super) names: Names,
    pub(super) blocks: Vec<Block>,
    pub(super) warnings: Vec<String>,
}
