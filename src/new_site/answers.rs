//! Which answers make a site, what are they usually, and what is wrong with them?

use thiserror::Error;

use crate::site::Access;
use crate::units::{Units, digits_of};

/// Heights that a new site may have, in metres.
pub const HEIGHTS_M: (f64, f64) = (2.0, 1000.0);
/// Widths at the base that a new site may have, in metres.
pub const BASES_M: (f64, f64) = (0.1, 300.0);
/// The narrowest top.
pub const NARROWEST_TOP_M: f64 = 0.05;
/// The most storeys.
pub const MOST_STOREYS: u32 = 100;
/// The longest name, in characters.
pub const LONGEST_NAME: usize = 120;

/// What stands there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NewKind {
    /// A square tower with battlements.
    Tower,
    /// A round chimney.
    Chimney,
    /// A mast held by stays.
    Mast,
    /// A square tower with a belfry under a pointed cap, and its church behind it.
    BellTower,
    /// A house front in a street, between two neighbours.
    Facade,
    /// A church's front: a gable between two towers.
    Church,
}

impl NewKind {
    /// All of them.
    pub const ALL: [Self; 6] = [Self::Tower, Self::Chimney, Self::Mast, Self::BellTower, Self::Facade, Self::Church];

    /// Its name on the command line.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Tower => "tower",
            Self::Chimney => "chimney",
            Self::Mast => "mast",
            Self::BellTower => "bell-tower",
            Self::Facade => "facade",
            Self::Church => "church",
        }
    }

    /// What it is called in a sentence, without an article.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Tower => "tower",
            Self::Chimney => "chimney",
            Self::Mast => "mast",
            Self::BellTower => "bell tower",
            Self::Facade => "façade",
            Self::Church => "church front",
        }
    }

    /// What it is, in a few words.
    pub const fn explained(self) -> &'static str {
        match self {
            Self::Tower => "A square tower with battlements",
            Self::Chimney => "A round chimney",
            Self::Mast => "A mast held by stays",
            Self::BellTower => "A bell tower: shaft, belfry and cap, with its church behind it",
            Self::Facade => "A house front in a street, between two neighbours",
            Self::Church => "A church's front: a gable between two towers",
        }
    }

    /// Whether its top may be narrower than its base.
    pub const fn tapers(self) -> bool {
        match self {
            Self::Tower | Self::Chimney | Self::Mast | Self::BellTower => true,
            Self::Facade | Self::Church => false,
        }
    }

    /// Whether it has storeys to be counted.
    pub const fn has_storeys(self) -> bool {
        match self {
            Self::Tower | Self::Facade => true,
            Self::Chimney | Self::Mast | Self::BellTower | Self::Church => false,
        }
    }

    /// Whether it is seen from its front alone.
    pub const fn only_front(self) -> bool {
        !self.tapers()
    }

    /// A usual height, in metres. Invented, as a place to begin from.
    pub const fn usual_height_m(self) -> f64 {
        match self {
            Self::Tower => 30.0,
            Self::Chimney => 45.0,
            Self::Mast => 60.0,
            Self::BellTower => 36.0,
            Self::Facade => 18.0,
            Self::Church => 40.0,
        }
    }

    /// A usual width at the base of one so high, in metres. Invented, as a place to begin from.
    pub fn usual_base_m(self, height_m: f64) -> f64 {
        let share = match self {
            Self::Tower => 0.25,
            Self::Chimney => 0.1,
            Self::Mast => 0.02,
            Self::BellTower => 0.19,
            Self::Facade => 0.8,
            Self::Church => 0.6,
        };
        to_tenth(share * height_m).clamp(BASES_M.0, BASES_M.1)
    }

    /// A usual width at the top of one so wide at its base, in metres. Invented, as a place to begin from.
    pub fn usual_top_m(self, base_m: f64) -> f64 {
        let share = match self {
            Self::Tower | Self::BellTower => 0.88,
            Self::Chimney => 0.58,
            Self::Mast => 0.5,
            Self::Facade | Self::Church => return base_m,
        };
        // No clamp, which would not take a base that is no number.
        to_tenth(share * base_m).max(NARROWEST_TOP_M).min(base_m)
    }

    /// A usual number of storeys of one so high: 3.4 m each in a house, 6 m in a tower (invented).
    pub fn usual_storeys(self, height_m: f64) -> u32 {
        let storey_m = if self == Self::Facade { 3.4 } else { 6.0 };
        (height_m / storey_m).round().clamp(1.0, 20.0) as u32
    }
}

/// A side of the subject, as one sees it from in front.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Side {
    /// Where one stands before its front.
    Front,
    /// To the right.
    Right,
    /// Behind it.
    Behind,
    /// To the left.
    Left,
}

impl Side {
    /// All of them; stances stand on the first one that is not closed.
    pub const ALL: [Self; 4] = [Self::Front, Self::Right, Self::Left, Self::Behind];

    /// Its name on the command line.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Front => "front",
            Self::Right => "right",
            Self::Behind => "behind",
            Self::Left => "left",
        }
    }

    /// How far it is turned clockwise from the front, as seen from above, in degrees.
    pub(super) const fn turn_deg(self) -> f64 {
        match self {
            Self::Front => 0.0,
            // Whoever looks at the front has its right where the subject, looking out, has its left.
            Self::Right => 270.0,
            Self::Behind => 180.0,
            Self::Left => 90.0,
        }
    }
}

/// Who may stand on which side.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sides {
    /// Before the front.
    pub front: Access,
    /// To the right.
    pub right: Access,
    /// Behind.
    pub behind: Access,
    /// To the left.
    pub left: Access,
}

impl Default for Sides {
    /// A front on a street, somebody's ground to either side, and gardens behind (invented).
    fn default() -> Self {
        Self { front: Access::Open, right: Access::Ask, behind: Access::Closed, left: Access::Ask }
    }
}

impl Sides {
    /// The same access on every side.
    pub const fn all(access: Access) -> Self {
        Self { front: access, right: access, behind: access, left: access }
    }

    /// Who may stand on a side.
    pub const fn of(&self, side: Side) -> Access {
        match side {
            Side::Front => self.front,
            Side::Right => self.right,
            Side::Behind => self.behind,
            Side::Left => self.left,
        }
    }

    /// Says who may stand on a side.
    pub const fn set(&mut self, side: Side, access: Access) {
        match side {
            Side::Front => self.front = access,
            Side::Right => self.right = access,
            Side::Behind => self.behind = access,
            Side::Left => self.left = access,
        }
    }

    /// The side on which one stands to take the picture: the first of front, right, left and behind that is not closed.
    pub fn to_stand_on(&self) -> Option<Side> {
        Side::ALL.into_iter().find(|side| self.of(*side) != Access::Closed)
    }
}

/// The answers that make a site.
#[derive(Clone, Debug, PartialEq)]
pub struct NewSite {
    /// What stands there.
    pub kind: NewKind,
    /// What the site is called: some words on one line, at most [`LONGEST_NAME`] characters.
    pub name: String,
    /// From the ground to the very top, in metres: within [`HEIGHTS_M`].
    pub height_m: f64,
    /// The width at the base, in metres: within [`BASES_M`]. Of a façade or church front its width.
    pub base_m: f64,
    /// The width at the top, in metres, under a cap if there is one: from [`NARROWEST_TOP_M`] to the width at the base.
    pub top_m: f64,
    /// How many storeys it has, of a tower or façade; a usual number unless given.
    pub storeys: Option<u32>,
    /// Who may stand on which side.
    pub open: Sides,
    /// The compass bearing toward which the front looks, in degrees from 0 to 360.
    pub front_deg: f64,
}

/// An answer that makes no site.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum NewSiteProblem {
    /// A name that no site may have.
    #[error("the name {fault}; write some words, at most {LONGEST_NAME} characters on one line")]
    Name {
        /// What is wrong with it.
        fault: &'static str,
    },
    /// A number outside its range.
    #[error("the {what} is {value}{unit}; allowed is from {low} to {high}{unit}")]
    Range {
        /// Which answer.
        what: &'static str,
        /// What it is.
        value: f64,
        /// The least that is allowed.
        low: f64,
        /// The most that is allowed.
        high: f64,
        /// The unit with a blank before it.
        unit: &'static str,
    },
    /// A top that is wider than the base.
    #[error(
        "the top is {top_m} m wide, wider than the base with {base_m} m; give a base of at least {top_m} m, or a narrower top"
    )]
    TopWider {
        /// The width at the top.
        top_m: f64,
        /// The width at the base.
        base_m: f64,
    },
    /// Two widths for what has one.
    #[error("a {kind} is as wide at its top as at its base, {base_m} m; leave the width at the top out")]
    OneWidth {
        /// What it is.
        kind: &'static str,
        /// Its width.
        base_m: f64,
    },
    /// Storeys for what has none.
    #[error("a {kind} has no storeys to count; leave their number out")]
    NoStoreys {
        /// What it is.
        kind: &'static str,
    },
    /// Nobody may stand anywhere.
    #[error("every side is closed, so there is nowhere to stand; open one, or say that permission is needed there")]
    AllClosed,
    /// What is seen from the front alone, where nobody may stand.
    #[error(
        "a {kind} is seen from its front alone, which is closed; open the front, or say that permission is needed there"
    )]
    FrontClosed {
        /// What it is.
        kind: &'static str,
    },
}

/// Everything that is wrong with the answers.
#[derive(Clone, Debug, Error, PartialEq)]
#[error("{}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))]
pub struct NewSiteProblems(pub Vec<NewSiteProblem>);

impl NewSite {
    /// A site of this kind in usual sizes, which are invented.
    pub fn of(kind: NewKind) -> Self {
        Self::of_height(kind, kind.usual_height_m())
    }

    /// A site of this kind and height, in metres, as wide as such things usually are.
    pub fn of_height(kind: NewKind, height_m: f64) -> Self {
        let base_m = kind.usual_base_m(height_m);
        Self {
            kind,
            name: kind.words().into(),
            height_m,
            base_m,
            top_m: kind.usual_top_m(base_m),
            storeys: None,
            open: Sides::default(),
            front_deg: 180.0,
        }
    }

    /// Everything that is wrong with the answers; empty where they make a site.
    pub fn problems(&self) -> Vec<NewSiteProblem> {
        let mut problems = Vec::new();
        let name_fault = if self.name.trim().is_empty() {
            Some("is blank")
        } else if self.name.chars().count() > LONGEST_NAME {
            Some("is too long")
        } else {
            self.name.chars().any(char::is_control).then_some("has line breaks or control characters")
        };
        problems.extend(name_fault.map(|fault| NewSiteProblem::Name { fault }));
        let mut range = |what, value: f64, (low, high): (f64, f64), unit| {
            let good = (low..=high).contains(&value);
            if !good {
                problems.push(NewSiteProblem::Range { what, value, low, high, unit });
            }
            good
        };
        range("height", self.height_m, HEIGHTS_M, " m");
        let wide = range("width at the base", self.base_m, BASES_M, " m");
        let narrow = range("width at the top", self.top_m, (NARROWEST_TOP_M, BASES_M.1), " m");
        range("bearing of the front", self.front_deg, (0.0, 360.0), "°");
        if let Some(storeys) = self.storeys {
            range("number of storeys", f64::from(storeys), (1.0, f64::from(MOST_STOREYS)), "");
        }
        let kind = self.kind.words();
        if wide && narrow && self.top_m != self.base_m && !self.kind.tapers() {
            problems.push(NewSiteProblem::OneWidth { kind, base_m: self.base_m });
        } else if wide && narrow && self.top_m > self.base_m {
            problems.push(NewSiteProblem::TopWider { top_m: self.top_m, base_m: self.base_m });
        }
        if self.storeys.is_some() && !self.kind.has_storeys() {
            problems.push(NewSiteProblem::NoStoreys { kind });
        }
        if self.open.to_stand_on().is_none() {
            problems.push(NewSiteProblem::AllClosed);
        } else if self.kind.only_front() && self.open.front == Access::Closed {
            problems.push(NewSiteProblem::FrontClosed { kind });
        }
        problems
    }

    /// What it is and how large, in a sentence without a full stop.
    pub fn words(&self, units: Units) -> String {
        let length = |metres: f64| {
            let shown = units.from_metres(metres);
            units.length(metres, digits_of(shown).min(2))
        };
        let widths = match (self.kind.tapers(), self.top_m == self.base_m) {
            (true, false) => {
                format!("{} wide at its base and {} at its top", length(self.base_m), length(self.top_m))
            }
            _ => format!("{} wide", length(self.base_m)),
        };
        format!("a {}, {} high, {widths}", self.kind.words(), length(self.height_m))
    }
}

fn to_tenth(metres: f64) -> f64 {
    (metres * 10.0).round() / 10.0
}
