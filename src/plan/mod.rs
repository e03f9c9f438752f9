//! What has the planner settled on this site so far? Stances pinned as prints, the lenses in the bag, the folder for
//! captures.
//!
//! Kept beside the site in a `*.plan.ron` of its own, so that walking never rewrites the hand-written site file.

use std::path::PathBuf;

use serde::{Deserialize, Serialize};

use crate::site::{Stance, Sun};

/// The most prints that lie side by side.
pub const MOST_LAID: usize = 4;

/// A print's number: unique in its plan, and never given twice.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct PrintId(pub u64);

/// A pinned stance.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Print {
    /// Its number.
    pub id: PrintId,
    /// What it is called.
    pub name: String,
    /// What is written on its back.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// The stance.
    pub stance: Stance,
}

/// Everything that is kept with a site.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Plan {
    /// The prints, in the planner's order.
    pub prints: Vec<Print>,
    /// The lenses that are carried, by name; all that the kit has unless given.
    pub bag: Option<Vec<String>>,
    /// Where captures go.
    pub folder: Option<PathBuf>,
    /// The print that readings are compared with.
    pub against: Option<PrintId>,
    /// The prints laid side by side, at most [`MOST_LAID`].
    pub laid: Vec<PrintId>,
    /// The sun that was set, in place of the site's own.
    pub sun: Option<Sun>,
    /// Where the walker stood last.
    pub last: Option<Stance>,
}

impl Plan {
    /// A print by its number.
    pub fn print(&self, id: PrintId) -> Option<&Print> {
        self.prints.iter().find(|print| print.id == id)
    }

    /// Where a print lies in the order.
    pub fn place_of(&self, id: PrintId) -> Option<usize> {
        self.prints.iter().position(|print| print.id == id)
    }

    /// A number that no print has.
    pub fn free_id(&self) -> PrintId {
        PrintId(self.prints.iter().map(|print| print.id.0).max().unwrap_or(0).saturating_add(1))
    }

    /// A name like the given one that no print has yet.
    pub fn free_name(&self, wanted: &str) -> String {
        let wanted = wanted.trim();
        let wanted = if wanted.is_empty() { "print" } else { wanted };
        let taken = |name: &str| self.prints.iter().any(|print| print.name == name);
        if !taken(wanted) {
            return wanted.into();
        }
        let (stem, first) = match wanted.rsplit_once(' ') {
            Some((stem, number)) => {
                number.parse::<u32>().map_or((wanted, 2), |number| (stem, number.saturating_add(1)))
            }
            None => (wanted, 2),
        };
        (first..=u32::MAX).map(|number| format!("{stem} {number}")).find(|name| !taken(name)).unwrap_or_default()
    }
}
