//! What is a fault of a site, in figures and in words, and how is it mended?

use serde::Serialize;

use crate::site::{Block, EditError, Front, PlanPoint, Site, SiteEditor, TextChange};
use crate::units::Units;

/// Something on a site that is probably not as meant.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SiteFault {
    /// What it is, with its size.
    #[serde(flatten)]
    pub kind: FaultKind,
    /// The blocks it is about, by their numbers from 0; first the one that a mend changes.
    pub blocks: Vec<usize>,
    /// Where, in plan, unless it is about the whole site.
    pub at: Option<PlanPoint>,
    /// What would put it right.
    pub mend: Option<Mend>,
}

/// What is probably not as meant.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum FaultKind {
    /// No block is the subject.
    NoSubject,
    /// The subject hardly rises above the ground.
    FlatSubject {
        /// How far it rises; negative where it lies in the ground.
        height_m: f64,
    },
    /// No front is named, so one is guessed from each stance.
    NoFront {
        /// Where the largest wall of the subject looks.
        toward_deg: f64,
    },
    /// A block touches neither the ground nor anything that stands on it.
    Floats {
        /// How far it is above what is under it.
        by_m: f64,
    },
    /// A block's base of its own lies in the ground, with more than half of the block.
    Sunk {
        /// How far the base is below the lowest ground under it.
        by_m: f64,
    },
    /// The ground stands above the walls of a block.
    UnderGround {
        /// How far.
        by_m: f64,
    },
    /// Two blocks stand in one another.
    Overlap {
        /// How far in plan: the shortest way out.
        by_m: f64,
        /// Over how much of their height.
        height_m: f64,
    },
    /// A deck that is open to anyone has no way up.
    OutOfReach {
        /// How high above the ground it is.
        height_m: f64,
    },
}

/// Edits that put a fault right.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Mend {
    /// What they do, as on a button: "Set it down".
    pub label: &'static str,
    /// What is changed.
    pub edits: Vec<MendEdit>,
}

/// One change of a mend.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum MendEdit {
    /// The block of this number becomes this one.
    Block(usize, Box<Block>),
    /// The front is this one.
    Front(Front),
}

impl Mend {
    /// Makes the edits in the text of the site that the fault was found on.
    ///
    /// # Errors
    /// The site is another by now, or would have a fault.
    pub fn make(&self, editor: &mut SiteEditor) -> Result<TextChange, EditError> {
        editor.together(|editor| {
            for edit in &self.edits {
                match edit {
                    MendEdit::Block(index, block) => editor.set_block(*index, block)?,
                    MendEdit::Front(front) => editor.set_front(Some(front))?,
                };
            }
            Ok(())
        })
    }
}

impl SiteFault {
    /// Its size in metres, where it has one.
    pub const fn size_m(&self) -> Option<f64> {
        match self.kind {
            FaultKind::NoSubject | FaultKind::NoFront { .. } => None,
            FaultKind::FlatSubject { height_m } | FaultKind::OutOfReach { height_m } => Some(height_m),
            FaultKind::Floats { by_m }
            | FaultKind::Sunk { by_m }
            | FaultKind::UnderGround { by_m }
            | FaultKind::Overlap { by_m, .. } => Some(by_m),
        }
    }

    /// What is wrong and what to do, in plain sentences.
    pub fn words(&self, site: &Site, units: Units) -> String {
        let name = |index: usize| {
            let block = self.blocks.get(index).and_then(|&block| site.blocks.get(block));
            block.map_or_else(String::new, |block| format!("'{}'", block.name))
        };
        let (first, second) = (name(0), name(1));
        let length = |metres: f64| units.length(metres, 2);
        match self.kind {
            FaultKind::NoSubject => match self.mend {
                Some(_) => format!("No block is the subject, so nothing can be measured. The tallest is {first}."),
                None => "There is no block yet, so there is no subject.".into(),
            },
            FaultKind::FlatSubject { height_m } if height_m > 0.0 => format!(
                "The subject rises only {} above the ground, so it has no verticals to judge. Give it a height.",
                length(height_m)
            ),
            FaultKind::FlatSubject { .. } => {
                "The subject does not rise above the ground. Give it a height, or set it on the ground.".into()
            }
            FaultKind::NoFront { toward_deg } => format!(
                "No front is named, so from each stance the wall that is seen largest is taken. The largest of all is that of \
                 {first} toward {toward_deg:.0}°. Name it if the picture is of that side."
            ),
            FaultKind::Floats { by_m } => {
                let under = if second.is_empty() { "the ground".into() } else { second };
                format!(
                    "{first} floats {} above {under} and touches nothing. Set it down, or model what carries it.",
                    length(by_m)
                )
            }
            FaultKind::Sunk { by_m } => format!(
                "{first} lies in the ground: its base is {} below it. Remove base_m to set it on the ground.",
                length(by_m)
            ),
            FaultKind::UnderGround { by_m } => format!(
                "The ground at {first} is {} higher than its walls. Make it higher, set it higher, or divide it along the slope.",
                length(by_m)
            ),
            FaultKind::Overlap { by_m, height_m } => format!(
                "{first} and {second} overlap by {} in plan, over {} of their height. Move one of them away.",
                length(by_m),
                length(height_m)
            ),
            FaultKind::OutOfReach { height_m } => format!(
                "Nobody can reach the deck of {first}, {} above the ground: no steps lead up to it. Add steps, or write \
                 access: Ask if there is a ladder or a stair inside.",
                length(height_m)
            ),
        }
    }
}
