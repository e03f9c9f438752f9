//! Which forms can a block have?
//!
//! Each is given in the block's own axes: its origin on the ground, y along the block's heading, z up.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::PlanPoint;

/// The form of a block.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub enum Shape {
    /// A box about the origin.
    Box {
        /// Along x.
        width_m: f64,
        /// Along y.
        depth_m: f64,
        /// Up.
        height_m: f64,
    },
    /// An upright prism on any simple polygon, with holes (courts) if wanted.
    Prism {
        /// The corners, in order.
        outline: Vec<PlanPoint>,
        /// The corners of each hole.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        holes: Vec<Vec<PlanPoint>>,
        /// Up.
        height_m: f64,
    },
    /// A round tower, stack or column; a cone when the head's radius is 0.
    RoundTaper {
        /// Radius at the foot.
        foot_radius_m: f64,
        /// Radius at the head.
        head_radius_m: f64,
        /// Up.
        height_m: f64,
    },
    /// A tower on a regular polygon, one face towards the heading; a pyramid when nothing is left across its head.
    PolygonTaper {
        /// How many sides.
        sides: u32,
        /// From face to opposite face at the foot (twice the apothem).
        foot_across_m: f64,
        /// From face to opposite face at the head.
        head_across_m: f64,
        /// Up.
        height_m: f64,
    },
    /// Half an ellipsoid.
    Dome {
        /// Radius at the foot.
        radius_m: f64,
        /// Up.
        height_m: f64,
    },
    /// A house or roof with two gables; the ridge runs along x.
    Gable {
        /// Along x.
        width_m: f64,
        /// Along y.
        depth_m: f64,
        /// Height of the eaves; 0 for a roof alone.
        #[serde(default)]
        eaves_m: f64,
        /// Height of the ridge.
        ridge_m: f64,
    },
    /// A house or roof hipped at both ends; the ridge runs along x. A ridge of length 0 makes a pyramid.
    Hip {
        /// Along x.
        width_m: f64,
        /// Along y.
        depth_m: f64,
        /// Height of the eaves; 0 for a roof alone.
        #[serde(default)]
        eaves_m: f64,
        /// Height of the ridge.
        ridge_m: f64,
        /// Length of the ridge.
        #[serde(default)]
        ridge_length_m: f64,
    },
    /// A solid flight of steps that climbs along y; every tread can be stood on.
    Steps {
        /// Along x.
        width_m: f64,
        /// Depth of one tread.
        going_m: f64,
        /// Height of one step.
        rise_m: f64,
        /// How many.
        count: u32,
    },
    /// A wall along a path.
    Wall {
        /// The corners of its middle line, in order.
        path: Vec<PlanPoint>,
        /// Thickness.
        thickness_m: f64,
        /// Up.
        height_m: f64,
    },
    /// An open stage or scaffold: a floor on posts, with a guard rail if its height is given.
    Stage {
        /// Along x.
        width_m: f64,
        /// Along y.
        depth_m: f64,
        /// Height of the floor.
        floor_m: f64,
        /// Height of the guard rail above the floor; none when 0.
        #[serde(default)]
        rail_m: f64,
    },
    /// A round mast held by stays.
    Mast {
        /// Radius at the foot.
        foot_radius_m: f64,
        /// Radius at the head.
        head_radius_m: f64,
        /// Up.
        height_m: f64,
        /// How many stays leave each height, evenly about the mast, the first along the heading.
        #[serde(default)]
        stays: u32,
        /// The heights at which stays leave the mast.
        #[serde(default)]
        stay_heights_m: Vec<f64>,
        /// How far from the axis the stays are anchored.
        #[serde(default)]
        stay_radius_m: f64,
    },
    /// A tree: a trunk under a rounded crown, or its bare branches.
    Tree {
        /// Height of the crown's top.
        height_m: f64,
        /// Radius of the crown.
        crown_radius_m: f64,
        /// Height at which the crown begins.
        crown_base_m: f64,
        /// Radius of the trunk.
        trunk_radius_m: f64,
        /// Whether it has no leaves: then one sees through its crown.
        #[serde(default, skip_serializing_if = "is_false")]
        bare: bool,
    },
    /// A building whose front, towards the heading, has bays and storeys of windows, so that it has verticals of its own.
    Facade {
        /// Along x.
        width_m: f64,
        /// Along y.
        depth_m: f64,
        /// Up.
        height_m: f64,
        /// Windows in a row.
        bays: u32,
        /// Rows of windows.
        storeys: u32,
        /// The share of each bay and storey that is window.
        #[serde(default = "default_opening_share")]
        opening_share: f64,
        /// How far the panes stand back.
        #[serde(default = "default_reveal_m")]
        reveal_m: f64,
        /// How far a string course at the top of each storey stands out; 0 for none.
        #[serde(default, skip_serializing_if = "is_zero")]
        courses_m: f64,
        /// The diameter of a clock in the middle of the top storey, where no windows are then; 0 for none.
        #[serde(default, skip_serializing_if = "is_zero")]
        clock_m: f64,
        /// How many storeys have louvres in their openings, from the top.
        #[serde(default, skip_serializing_if = "is_none_of_them")]
        louvred_storeys: u32,
    },
}

impl Shape {
    /// Its height over its own foot, to its highest point; of a stage that of its floor.
    pub fn height_m(&self) -> f64 {
        match self {
            Self::Box { height_m, .. }
            | Self::Prism { height_m, .. }
            | Self::RoundTaper { height_m, .. }
            | Self::PolygonTaper { height_m, .. }
            | Self::Dome { height_m, .. }
            | Self::Wall { height_m, .. }
            | Self::Mast { height_m, .. }
            | Self::Tree { height_m, .. }
            | Self::Facade { height_m, .. } => *height_m,
            Self::Gable { ridge_m, .. } | Self::Hip { ridge_m, .. } => *ridge_m,
            Self::Steps { rise_m, count, .. } => rise_m * f64::from(*count),
            Self::Stage { floor_m, .. } => *floor_m,
        }
    }

    /// The same shape at another height: of a house or roof its ridge, while the eaves stay; of steps each step. Whether it may
    /// be so high is for the check of its site to say.
    #[must_use]
    pub fn with_height_m(&self, new_m: f64) -> Self {
        let mut shape = self.clone();
        match &mut shape {
            Self::Box { height_m, .. }
            | Self::Prism { height_m, .. }
            | Self::RoundTaper { height_m, .. }
            | Self::PolygonTaper { height_m, .. }
            | Self::Dome { height_m, .. }
            | Self::Wall { height_m, .. }
            | Self::Mast { height_m, .. }
            | Self::Tree { height_m, .. }
            | Self::Facade { height_m, .. } => *height_m = new_m,
            Self::Gable { ridge_m, .. } | Self::Hip { ridge_m, .. } => *ridge_m = new_m,
            Self::Steps { rise_m, count, .. } => *rise_m = new_m / f64::from((*count).max(1)),
            Self::Stage { floor_m, .. } => *floor_m = new_m,
        }
        shape
    }
}

/// Whether a tree stands bare; none of what is no tree.
pub fn is_bare(shape: &Shape) -> Option<bool> {
    if let Shape::Tree { bare, .. } = shape { Some(*bare) } else { None }
}

/// A tree with its leaves, or without; what is no tree stays as it is.
#[must_use]
pub fn with_leaves(shape: &Shape, in_leaf: bool) -> Shape {
    let mut shape = shape.clone();
    if let Shape::Tree { bare, .. } = &mut shape {
        *bare = !in_leaf;
    }
    shape
}

fn is_false(value: &bool) -> bool {
    !value
}

fn is_zero(value: &f64) -> bool {
    *value == 0.0
}

fn is_none_of_them(count: &u32) -> bool {
    *count == 0
}

const fn default_opening_share() -> f64 {
    0.5
}

const fn default_reveal_m() -> f64 {
    0.2
}
