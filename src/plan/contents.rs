//! What a plan holds.

use std::path::PathBuf;

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use crate::search::Criteria;
use crate::site::{Stance, Sun};

/// The newest version of the plan's format that this program reads and writes.
pub const PLAN_FORMAT: u32 = 1;
/// The most prints that lie side by side.
pub const MOST_LAID: usize = 4;
/// The most prints a plan holds.
pub const MOST_PRINTS: usize = 2000;
/// The longest name of a print, in characters.
pub const LONGEST_NAME: usize = 120;
/// The longest note of a print, in characters.
pub const LONGEST_NOTE: usize = 4000;

/// A print's number: unique among all prints that any window ever pinned on the site.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct PrintId(pub u64);

impl PrintId {
    /// The number of the `count`th print of a window that is known by its own `salt`. Two windows never come to the same,
    /// so nobody has to ask the other.
    pub fn new(salt: u64, count: u64) -> Self {
        let digest = Sha256::new().chain_update(salt.to_le_bytes()).chain_update(count.to_le_bytes()).finalize();
        let bytes: Vec<u8> = digest.iter().copied().take(8).collect();
        // 53 bits, so that any program can hold it as a number.
        Self(bytes.iter().fold(0, |number, byte| (number << 8) | u64::from(*byte)) >> 11)
    }
}

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

/// What a search was last asked for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SavedSearch {
    /// The requirements; body, crop and orientation are those of the present stance's camera.
    #[serde(rename = "wishes")]
    pub criteria: Criteria,
    /// In older plans the lenses that were chosen for the search alone, by name; now those in the bag are.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lenses: Option<Vec<String>>,
    /// Blocks that may stand in the way on the day.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub may_come: Vec<String>,
}

/// Everything that is kept with a site.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Plan {
    /// Version of the file's format.
    pub format: u32,
    /// The prints, in the planner's order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub prints: Vec<Print>,
    /// The lenses that are carried, by name; all that the kit has unless given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bag: Option<Vec<String>>,
    /// Where captures go.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub folder: Option<PathBuf>,
    /// The print that readings are compared with.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub against: Option<PrintId>,
    /// The prints laid side by side, at most [`MOST_LAID`].
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub laid: Vec<PrintId>,
    /// The sun that was set, in place of the site's own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sun: Option<Sun>,
    /// The moment at which the sun stands there, in universal time (RFC 3339); none where a hand put it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub moment: Option<String>,
    /// The file of the tides.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tide: Option<PathBuf>,
    /// Where the walker stood last.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub last: Option<Stance>,
    /// What was required for last on the Search desk.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sought: Option<SavedSearch>,
}

impl Default for Plan {
    fn default() -> Self {
        Self {
            format: PLAN_FORMAT,
            prints: Vec::new(),
            bag: None,
            folder: None,
            against: None,
            laid: Vec::new(),
            sun: None,
            moment: None,
            tide: None,
            last: None,
            sought: None,
        }
    }
}

impl Plan {
    /// A print by its number.
    pub fn print(&self, id: PrintId) -> Option<&Print> {
        self.prints.iter().find(|print| print.id == id)
    }

    /// Takes out what refers to prints that are not there.
    pub(super) fn tidy(&mut self) {
        if let Some(lenses) = self.sought.as_mut().and_then(|sought| sought.lenses.take()) {
            self.bag.get_or_insert(lenses);
        }
        let known: Vec<PrintId> = self.prints.iter().map(|print| print.id).collect();
        self.laid.retain(|id| known.contains(id));
        self.laid.truncate(MOST_LAID);
        self.against = self.against.filter(|id| known.contains(id));
    }
}

/// A name like the given one that no print has yet.
pub fn free_name(prints: &[Print], wanted: &str) -> String {
    let wanted = wanted.trim();
    let wanted: String = if wanted.is_empty() { "print".into() } else { wanted.chars().take(100).collect() };
    let taken = |name: &str| prints.iter().any(|print| print.name == name);
    crate::site::free_name(&wanted, taken)
}
