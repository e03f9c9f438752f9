//! How is a way to straighten the picture put into words?

use crate::wording::percent;

use super::{Barrier, Effort, Equipment, Holding, Remark, Remedy, Way, WayOutcome};

/// Writes a length in metres, with so many decimals, in the reader's unit.
pub type Lengths<'a> = &'a dyn Fn(f64, usize) -> String;

/// Decimals with which a length is written: tenths of a metre where a step counts.
const fn digits(metres: f64) -> usize {
    if metres < 9.95 { 1 } else { 0 }
}

impl Remedy {
    /// What is done, as a heading.
    pub fn words(&self) -> String {
        match self {
            Self::BackOff => "Back off along the line".into(),
            Self::BestPlace { lens } => format!("Best standpoint for the {lens}"),
            Self::Deck { name } => format!("Climb the {name}"),
            Self::Holding(held) => held.words().into(),
            Self::UprightHeight => "Just high enough to read as upright".into(),
            Self::LevelHeight => "High enough for a level camera".into(),
            Self::LevelCrop { lens } => format!("Level with the {lens}, then crop"),
            Self::Rise { lens } => format!("Level, {lens}"),
            Self::RiseNeeded { focal_mm, rise_mm } => format!("Level, {focal_mm} mm with {rise_mm} mm of rise"),
            Self::ShiftedFrames { lens } => format!("Stitch by shifting, {lens}"),
            Self::PitchedFrames => "Stitch by turning".into(),
            Self::Straighten { tilt_left: 0.0 } => "Straighten afterwards".into(),
            Self::Straighten { tilt_left } => {
                format!("Straighten in part, keeping {} of the tilt", percent(*tilt_left))
            }
        }
    }

    /// A name for files: lower case, no spaces.
    pub const fn key(&self) -> &'static str {
        match self {
            Self::BackOff => "back_off",
            Self::BestPlace { .. } => "best_place",
            Self::Deck { .. } => "deck",
            Self::Holding(_) => "held",
            Self::UprightHeight => "upright_height",
            Self::LevelHeight => "level_height",
            Self::LevelCrop { .. } => "level_crop",
            Self::Rise { .. } => "rise",
            Self::RiseNeeded { .. } => "rise_needed",
            Self::ShiftedFrames { .. } => "shifted_frames",
            Self::PitchedFrames => "pitched_frames",
            Self::Straighten { tilt_left: 0.0 } => "straighten",
            Self::Straighten { .. } => "straighten_in_part",
        }
    }
}

impl Holding {
    /// As a heading.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Crouching => "Crouch",
            Self::Standing => "Stand up",
            Self::Overhead => "Hold the camera overhead",
            Self::ShortLadder => "From a short ladder",
            Self::Pole => "On a pole",
        }
    }

    const fn kit_words(self) -> &'static str {
        match self {
            Self::Crouching => "crouching",
            Self::Standing => "standing",
            Self::Overhead => "arms overhead",
            Self::ShortLadder => "a short ladder",
            Self::Pole => "a pole",
        }
    }
}

impl WayOutcome {
    /// As a heading over its ways.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Upright => "Reads as upright",
            Self::Cut => "Upright, but the frame cuts the subject",
            Self::Better => "Helps, but still leans",
            Self::Same => "Hardly changes it",
            Self::Worse => "Makes it worse",
            Self::NotHere => "Not here",
        }
    }

    /// A name for files.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Upright => "upright",
            Self::Cut => "cut",
            Self::Better => "better",
            Self::Same => "same",
            Self::Worse => "worse",
            Self::NotHere => "not_here",
        }
    }
}

impl Equipment {
    /// What is needed.
    pub fn words(&self) -> String {
        match self {
            Self::Lens(name) => format!("the {name}"),
            Self::LensToHire(_) => "a hired lens".into(),
            Self::Holding(held) => held.kit_words().into(),
            Self::Platform => "a platform or a drone".into(),
            Self::Frames(count) => format!("{count} frames"),
            Self::Afterwards => "editing afterwards".into(),
        }
    }
}

impl Effort {
    /// What it takes, in the order in which one would ask: how far, how high, with what, by whose leave.
    pub fn words(&self, lengths: Lengths<'_>) -> String {
        let mut parts = Vec::new();
        if let Some(walk_m) = self.walk_m.filter(|walk_m| *walk_m >= 0.5) {
            parts.push(format!("walk {}", lengths(walk_m, digits(walk_m))));
        }
        if self.climb_m.abs() >= 0.05 {
            let (way, by_m) = if self.climb_m > 0.0 { ("higher", self.climb_m) } else { ("lower", -self.climb_m) };
            parts.push(format!("camera {} {way}", lengths(by_m, 1)));
        }
        parts.extend(self.kit.iter().map(Equipment::words));
        if !self.ask.is_empty() {
            parts.push(format!("permission needed for the {}", self.ask.join(", the ")));
        }
        parts.join("; ")
    }
}

impl Barrier {
    fn words(&self, lengths: Lengths<'_>) -> String {
        match self {
            Self::Wall => "a wall or obstacle".into(),
            Self::Step { up_m } => format!("a step of {} up", lengths(*up_m, 1)),
            Self::Drop { down_m } => format!("an edge with a drop of {}", lengths(*down_m, 1)),
            Self::Closed { name } => format!("closed ground, {name}"),
            Self::Water => "water".into(),
        }
    }
}

impl Remark {
    /// In plain words.
    pub fn words(&self, lengths: Lengths<'_>) -> String {
        match self {
            Self::Stopped { after_m, by } if *after_m < 0.5 => {
                format!("stopped at once by {}", by.words(lengths))
            }
            Self::Stopped { after_m, by } => {
                format!("stopped after {} by {}", lengths(*after_m, digits(*after_m)), by.words(lengths))
            }
            Self::StillLeans => "no standpoint on this line reads as upright".into(),
            Self::Nearer { by_m, share } if *share >= 0.4 => {
                format!("{} nearer: it costs {} of the distance", lengths(*by_m, digits(*by_m)), percent(*share))
            }
            Self::Nearer { by_m, .. } => format!("{} nearer", lengths(*by_m, digits(*by_m))),
            Self::Farther { by_m } => format!("{} farther away", lengths(*by_m, digits(*by_m))),
            Self::CutByFrame { kept } => format!("the frame holds {} of the subject", percent(*kept)),
            Self::TopCut { by_m } => format!("the top is cut off by {}", lengths(*by_m, 1)),
            Self::BaseCut { by_m } => format!("the base is cut off by {}", lengths(*by_m, 1)),
            Self::SideCut { by_m } => format!("a side is cut off by {}", lengths(*by_m, 1)),
            Self::MarginLost => "whole, but with less than the required margin".into(),
            Self::BaseHidden { below_m } => format!("base hidden below {}", lengths(*below_m, 1)),
            Self::TopHidden { above_m } => format!("top hidden above {}", lengths(*above_m, 1)),
            Self::SeesLess { share, stance_share } => {
                format!("sees {} of the subject instead of {}", percent(*share), percent(*stance_share))
            }
            Self::Closed { place } => format!("{place} is closed"),
            Self::NoWay { within_m } => {
                format!("no way there on foot within {}", lengths(*within_m, 0))
            }
            Self::TooLong { needs_m: Some(needs_m) } => {
                format!("too long for every standpoint on foot; it would fit from about {}", lengths(*needs_m, 0))
            }
            Self::TooLong { needs_m: None } => "too long for every standpoint on foot".into(),
            Self::TooLongHere { fullness } => {
                format!("too long here; the subject fills {fullness:.1} frames")
            }
            Self::Bent => "it bends straight lines; the picture needs correction afterwards".into(),
            Self::NeedsRise { needed_mm, moves_mm, covered_mm } => {
                let covered =
                    covered_mm.map_or_else(String::new, |mm| format!(", its image circle covers {mm:.1} mm of it"));
                format!("needs {needed_mm:.1} mm of rise; the lens moves {moves_mm} mm{covered}")
            }
            Self::Rises { rise_mm, circle_mm } => {
                let way = if *rise_mm < 0.0 { "fall" } else { "rise" };
                format!("{:.1} mm of {way}, needs an image circle of {circle_mm:.1} mm", rise_mm.abs())
            }
            Self::TurningGainsNoHeight => "turning a level camera gains no height".into(),
            Self::Frames { focal_mm, columns, rows, from_deg, to_deg } => {
                let grid = if *columns > 1 { format!("{rows} rows of {columns}, ") } else { String::new() };
                format!("{grid}{focal_mm:.0} mm, pitched from {from_deg:.0}° to {to_deg:.0}°")
            }
            Self::FramesMoved { from_mm, to_mm } => {
                let moved = |mm: f64| format!("{:.1} mm of {}", mm.abs(), if mm < 0.0 { "fall" } else { "rise" });
                format!("all level, from {} to {}", moved(*from_mm), moved(*to_mm))
            }
            Self::NotStraightened(failure) => failure.words(),
            Self::AboveFeet { height_m } => format!("{} above the feet", lengths(*height_m, 1)),
            Self::Refused(why) => why.clone(),
            Self::NoPlaceSees { share } => {
                format!("no standpoint on foot that holds the subject sees {} of it", percent(*share))
            }
            Self::OtherSide => "shows it from another side".into(),
            Self::NoLensSoWide { focal_mm, rise_mm, field } => format!(
                "it would need {focal_mm} mm with {rise_mm} mm of rise and an image circle of {:.0}°; no lens draws so wide",
                field.degrees()
            ),
            Self::WhereYouStand => "you stand at the best standpoint".into(),
            Self::DroneRules => "a drone needs a licensed pilot and follows local rules".into(),
            Self::HighForDrone => {
                format!("above the common limit for drones, {}", lengths(120.0, 0))
            }
            Self::Beware(what) => what.clone(),
        }
    }
}

impl Way {
    /// All remarks in a line.
    pub fn remark_words(&self, lengths: Lengths<'_>) -> String {
        self.remarks.iter().map(|remark| remark.words(lengths)).collect::<Vec<_>>().join("; ")
    }
}
