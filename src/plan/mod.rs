//! What has the planner settled on this site so far? Stances pinned as prints, the lenses in the bag, the folder for
//! captures.
//!
//! Kept beside the site in a `*.plan.ron` of its own, so that walking never rewrites the hand-written site file. Two
//! windows on one site share the file: what each of them changed is merged.

mod contents;
mod file;
mod kept;
mod kit;
mod merge;

pub use contents::{
    LONGEST_NAME, LONGEST_NOTE, MOST_LAID, MOST_PRINTS, PLAN_FORMAT, Plan, Print, PrintId, SavedSearch, free_name,
};
pub use file::{PlanError, parse_plan, plan_path, read_plan, write_plan};
pub use kept::{Kept, Saved};
pub use kit::{KIT_FILE, packed_bag, parse_kit, read_own_kit};
pub use merge::merge;
