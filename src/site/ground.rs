//! Who may stand where?

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Access, PlanPoint};

/// A piece of ground with its terms.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Ground {
    /// What it is called.
    pub name: String,
    /// Whether one may stand there.
    #[serde(default)]
    pub access: Access,
    /// Its corners in plan, in order; it closes itself.
    pub outline: Vec<PlanPoint>,
    /// What to beware of there: traffic, water, livestock.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub caution: Option<String>,
}

/// Whether a plan position lies inside an outline (even–odd rule; the edge itself may fall to either side).
pub fn outline_holds(outline: &[PlanPoint], (x, y): PlanPoint) -> bool {
    let mut inside = false;
    let mut previous = match outline.last() {
        Some(&last) => last,
        None => return false,
    };
    for &corner in outline {
        if (corner.1 > y) != (previous.1 > y) {
            let crossing = corner.0 + (y - corner.1) / (previous.1 - corner.1) * (previous.0 - corner.0);
            if x < crossing {
                inside = !inside;
            }
        }
        previous = corner;
    }
    inside
}
