//! What is one solid of the site, and what may be done on top of it?

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{PlanPoint, Shape};

/// One solid of the site.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Block {
    /// What it is called; unique on its site.
    pub name: String,
    /// Whether it is (part of) what the picture is about.
    #[serde(default, skip_serializing_if = "is_false")]
    pub subject: bool,
    /// The plan position of the shape's own origin.
    pub at: PlanPoint,
    /// The compass direction of the shape's own y axis.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub heading_deg: f64,
    /// How far its foot hangs above the ground at `at`; its walls then end there instead of meeting the ground.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub lift_m: f64,
    /// The height of its foot, in place of the ground at `at`; its walls then end there instead of meeting the ground.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub base_m: Option<f64>,
    /// A true lean of the whole block: its edges are then no verticals.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub leans: Option<Lean>,
    /// What it looks like in pictures.
    #[serde(default, skip_serializing_if = "is_default")]
    pub finish: Finish,
    /// Present where one may stand on top of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub deck: Option<DeckRule>,
    /// What to beware of beside it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cautions: Vec<String>,
    /// How far its height may be off: the standard uncertainty.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub height_pm_m: Option<f64>,
    /// How its height was found.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub height_from: Option<String>,
    /// What it is kept together with: blocks of one such name are picked up and moved as one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub together: Option<String>,
    /// Its form.
    pub shape: Shape,
}

impl Block {
    /// A new block of a shape; all else is as a file leaves it out.
    pub fn new(name: impl Into<String>, at: PlanPoint, shape: Shape) -> Self {
        Self {
            name: name.into(),
            subject: false,
            at,
            heading_deg: 0.0,
            lift_m: 0.0,
            base_m: None,
            leans: None,
            finish: Finish::default(),
            deck: None,
            cautions: Vec::new(),
            height_pm_m: None,
            height_from: None,
            together: None,
            shape,
        }
    }

    /// Whether somebody has named it: what is imported without a name is only numbered.
    pub fn is_named(&self) -> bool {
        let name = self.name.trim();
        let number = name.strip_prefix("block ").unwrap_or(name);
        !name.is_empty() && !number.bytes().all(|byte| byte.is_ascii_digit())
    }

    /// What it is called in a sentence: its name, unless an importer had none and counted.
    pub fn words(&self) -> &str {
        if self.is_named() { &self.name } else { "an unnamed block" }
    }

    /// The same with an article: "the stack"; "the subject" or "an unnamed block" where it has no name.
    pub fn with_article(&self) -> String {
        match (self.is_named(), self.subject) {
            (true, _) if self.name.starts_with("the ") => self.name.clone(),
            (true, _) => format!("the {}", self.name),
            (false, true) => "the subject".into(),
            (false, false) => "an unnamed block".into(),
        }
    }
}

/// The true lean of a block.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Lean {
    /// How far its axis stands off plumb.
    pub by_deg: f64,
    /// The compass direction in which its head hangs over.
    pub toward_deg: f64,
}

/// Under which terms one stands on a block.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DeckRule {
    /// Whether one may.
    #[serde(default)]
    pub access: Access,
    /// What to beware of up there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub caution: Option<String>,
}

/// Whether one may stand on a ground or deck.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
pub enum Access {
    /// Anyone may.
    #[default]
    Open,
    /// Permission is needed.
    Ask,
    /// Nobody may.
    Closed,
}

impl Access {
    /// Whether one may stand there, in words: "open", "permission needed", "closed".
    pub fn words(self) -> &'static str {
        match self {
            Self::Open => "open",
            Self::Ask => "permission needed",
            Self::Closed => "closed",
        }
    }
}

/// What a block is made of, as pictures show it. A picture in card has four cards; one in materials also goes by the block's
/// name and shape where its finish is a card.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub enum Finish {
    /// Near-white card.
    #[default]
    Card,
    /// Grey card.
    Grey,
    /// Dark card.
    Dark,
    /// Leaf green, for trees and hedges.
    Leaf,
    /// Brick in courses of 75 mm.
    Brick,
    /// Squared stone in courses of 300 mm.
    Ashlar,
    /// Rough stone.
    Rubble,
    /// Render.
    Render,
    /// Boards that lap.
    Boards,
    /// Corrugated sheet.
    Sheet,
    /// Concrete in lifts of 1.2 m.
    Concrete,
    /// Painted steel.
    Steel,
}

impl Finish {
    /// Every finish, cards first.
    pub const ALL: [Self; 12] = [
        Self::Card,
        Self::Grey,
        Self::Dark,
        Self::Leaf,
        Self::Brick,
        Self::Ashlar,
        Self::Rubble,
        Self::Render,
        Self::Boards,
        Self::Sheet,
        Self::Concrete,
        Self::Steel,
    ];

    /// The four cards.
    pub const CARDS: [Self; 4] = [Self::Card, Self::Grey, Self::Dark, Self::Leaf];

    /// The card it is cut from where a picture shows card: one of [`Finish::CARDS`].
    pub const fn card(self) -> Self {
        match self {
            Self::Card | Self::Brick | Self::Ashlar | Self::Render => Self::Card,
            Self::Grey | Self::Rubble | Self::Sheet | Self::Concrete => Self::Grey,
            Self::Dark | Self::Boards | Self::Steel => Self::Dark,
            Self::Leaf => Self::Leaf,
        }
    }

    /// Its name in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Card => "white",
            Self::Grey => "grey",
            Self::Dark => "dark",
            Self::Leaf => "leaf",
            Self::Brick => "brick",
            Self::Ashlar => "ashlar",
            Self::Rubble => "rubble",
            Self::Render => "render",
            Self::Boards => "boards",
            Self::Sheet => "sheet",
            Self::Concrete => "concrete",
            Self::Steel => "steel",
        }
    }
}

fn is_false(value: &bool) -> bool {
    !value
}

fn is_zero(value: &f64) -> bool {
    *value == 0.0
}

fn is_default<T: Default + PartialEq>(value: &T) -> bool {
    *value == T::default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_block_that_is_only_numbered_has_no_name_in_a_sentence() {
        let block = |name: &str, subject| Block {
            subject,
            ..Block::new(name, (0.0, 0.0), Shape::Dome { radius_m: 1.0, height_m: 1.0 })
        };
        for (name, subject, words) in [
            ("stack", true, "the stack"),
            ("the Mole", false, "the Mole"),
            ("block 847", true, "the subject"),
            ("block 847", false, "an unnamed block"),
            ("847", false, "an unnamed block"),
            ("block 12a", false, "the block 12a"),
        ] {
            assert_eq!(block(name, subject).with_article(), words);
        }
    }
}
