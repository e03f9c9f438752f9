//! Which side of the subject is the picture of?

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The side of the subject that the picture is of.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub enum Front {
    /// No side in particular: one is as good as another.
    Any,
    /// The side that looks toward this compass bearing.
    Bearing(f64),
    /// The wall of a block that looks most nearly toward a compass bearing.
    Face {
        /// The block, by name; part of the subject.
        block: String,
        /// The compass bearing.
        toward_deg: f64,
    },
}
