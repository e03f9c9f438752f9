//! How is a way to straighten the picture put into words?

use crate::angle::Angle;
use crate::site::Aim;
use crate::units::Units;
use crate::wording::{degrees, percent, uncapital};

use super::{Barrier, Effort, Equipment, Holding, Remark, Remedy, Straightener, Way, WayOutcome};

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
            Self::Tilt { pitch, from, zoom_mm, afterwards } => {
                let turn = if pitch.abs().degrees() < 0.05 {
                    "Level the camera".to_owned()
                } else {
                    format!("Tilt {} to {}", if pitch >= from { "up" } else { "down" }, least_pitch(*pitch))
                };
                let zoom = zoom_mm.map_or_else(String::new, |mm| format!(", zoom to {mm:.0} mm"));
                let then = if *afterwards { ", straighten and crop" } else { "" };
                format!("{turn}{zoom}{then}")
            }
            Self::Together { held } => format!("Back off, {}, tilt least", held.phrase()),
            Self::BackOff => "Back off along the line".into(),
            Self::BestPlace { lens } => format!("Best standpoint for the {lens}"),
            Self::Deck { name } => format!("Climb the {name}"),
            Self::Holding(held) => held.words().into(),
            Self::UprightHeight => "Raise the camera until it is upright, tilt least".into(),
            Self::LevelHeight => "Raise the camera until it may be level".into(),
            Self::LevelCrop { lens } => format!("Level with the {lens}, then crop"),
            Self::Rise { lens } => format!("Level, {lens}"),
            Self::RiseNeeded { focal_mm, rise_mm } => format!("Level, {focal_mm} mm with {rise_mm} mm of rise"),
            Self::ShiftedFrames { lens } => format!("Stitch by shifting, {lens}"),
            Self::PitchedFrames => "Stitch by turning".into(),
            Self::Straighten { tilt_left: 0.0 } => "Straighten afterwards as it is".into(),
            Self::Straighten { tilt_left } => {
                format!("Straighten in part, keeping {} of the tilt", percent(*tilt_left))
            }
        }
    }

    /// A name for files: lower case, no spaces.
    pub const fn key(&self) -> &'static str {
        match self {
            Self::Tilt { .. } => "tilt",
            Self::Together { .. } => "together",
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
            Self::VehicleRoof => "From a vehicle's roof",
            Self::ShortLadder => "From a short ladder",
            Self::Pole => "On a pole",
        }
    }

    const fn kit_words(self) -> &'static str {
        match self {
            Self::Crouching => "crouching",
            Self::Standing => "standing",
            Self::Overhead => "arms overhead",
            Self::VehicleRoof => "a vehicle's roof",
            Self::ShortLadder => "a short ladder",
            Self::Pole => "a pole",
        }
    }

    /// After a comma, as something to do.
    const fn phrase(self) -> &'static str {
        match self {
            Self::Crouching => "crouch",
            Self::Standing => "stand up",
            Self::Overhead => "hold the camera overhead",
            Self::VehicleRoof => "stand on a vehicle's roof",
            Self::ShortLadder => "stand on a short ladder",
            Self::Pole => "use a pole",
        }
    }

    /// Whether it takes only arms and knees.
    pub const fn needs_nothing(self) -> bool {
        matches!(self, Self::Crouching | Self::Standing | Self::Overhead)
    }

    /// What to beware of (common practice, no source; local rules go first).
    pub const fn caution(self) -> Option<&'static str> {
        match self {
            Self::Crouching | Self::Standing | Self::Overhead => None,
            Self::VehicleRoof => {
                Some("stand only on a roof made to be stood on, of a vehicle that is parked level; it has no rail")
            }
            Self::ShortLadder => Some("have someone hold the ladder, and stay off its top steps"),
            Self::Pole => Some("keep a pole well away from power lines"),
        }
    }
}

impl WayOutcome {
    /// As a heading over its ways.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Upright => "Upright",
            Self::Cut => "Upright, but the frame cuts the subject",
            Self::Hidden => "Upright, but much of the subject is hidden",
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
            Self::Hidden => "hidden",
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
            Self::Wall { name: Some(name) } => format!("an obstacle, {name}"),
            Self::Wall { name: None } => "a wall or obstacle".into(),
            Self::Step { up_m } => format!("a step of {} up", lengths(*up_m, 1)),
            Self::Drop { down_m, name: Some(name) } => {
                format!("the edge of the {name}, a drop of {}: mind the fall", lengths(*down_m, 1))
            }
            Self::Drop { down_m, name: None } => {
                format!("an edge with a drop of {}: mind the fall", lengths(*down_m, 1))
            }
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
            Self::StillLeans => "no standpoint on this line is upright".into(),
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
            Self::WouldStraighten(way) => way.words(),
            Self::NothingStraightens => {
                "no pitch, focal length, proportion or lens of the bag straightens it from here".into()
            }
            Self::SeesNothing => "nothing of the subject is seen from there".into(),
            Self::MarginsCost { without_mp } => format!("{without_mp:.1} MP without margins"),
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

/// The least pitch that holds the subject, to a tenth of a degree: rounded away from level, for less would cut it.
fn least_pitch(pitch: Angle) -> String {
    let tenths = 10.0 * pitch.degrees();
    // What is a tenth but for rounding is that tenth.
    degrees((tenths.abs() - 1e-6).ceil() / 10.0 * tenths.signum())
}

impl Straightener {
    fn words(&self) -> String {
        match self {
            Self::Pitch(pitch) => format!("a pitch of {} would do", least_pitch(*pitch)),
            Self::Zoom { focal_mm, pitch } => {
                format!("{focal_mm:.0} mm with a pitch of {} would do", least_pitch(*pitch))
            }
            Self::Aspect(aspect) => format!("an aspect of {aspect} would do"),
            Self::Lens(name) => format!("the {name} would do"),
        }
    }
}

impl Way {
    /// What to do, with how far, how high and how long, beginning with a verb.
    pub fn action(&self, units: Units) -> String {
        let walk = self.effort.walk_m.map_or_else(String::new, |walk_m| format!(" {}", units.length(walk_m, 0)));
        let zoom = self.zoom_mm.map_or_else(String::new, |mm| format!(", zoom to {mm:.0} mm"));
        let above = self.remarks.iter().find_map(|remark| match remark {
            Remark::AboveFeet { height_m } => Some(units.length(*height_m, 1)),
            _ => None,
        });
        match &self.remedy {
            Remedy::BackOff => format!("Walk back{walk}{zoom}"),
            Remedy::BestPlace { lens } => {
                let aim = self.stance.as_ref().map_or("", |stance| match stance.aim {
                    Aim::Level => ", level",
                    Aim::Rise => ", level with rise",
                    _ => "",
                });
                if self.remarks.contains(&Remark::WhereYouStand) {
                    format!("Stay, with the {lens}{zoom}{aim}")
                } else {
                    format!("Walk{walk} with the {lens}{zoom}{aim}")
                }
            }
            Remedy::Together { held } => format!("Walk back{walk}, {}, tilt least", held.phrase()),
            Remedy::UprightHeight => {
                format!("Raise the camera to {}, tilt least", above.unwrap_or_else(|| "that height".into()))
            }
            Remedy::LevelHeight => {
                format!("Raise the camera to {}, level", above.unwrap_or_else(|| "that height".into()))
            }
            Remedy::Rise { lens } => {
                let rise = self.remarks.iter().find_map(|remark| match remark {
                    Remark::Rises { rise_mm, .. } => Some(*rise_mm),
                    _ => None,
                });
                match rise {
                    Some(rise_mm) if rise_mm.abs() < 0.05 => format!("Level with the {lens}"),
                    Some(rise_mm) if rise_mm > 0.0 => format!("Raise the {lens} by {rise_mm:.1} mm, level"),
                    Some(rise_mm) => format!("Lower the {lens} by {:.1} mm, level", -rise_mm),
                    None => self.remedy.words(),
                }
            }
            Remedy::RiseNeeded { focal_mm, rise_mm } => {
                format!("Hire a {focal_mm} mm lens, raise it {rise_mm:.1} mm, level")
            }
            Remedy::Deck { .. } if !walk.is_empty() && zoom.is_empty() => self.remedy.words(),
            other => format!("{}{}", other.words(), if matches!(other, Remedy::Tilt { .. }) { "" } else { &zoom }),
        }
    }

    /// The same as a mend: what to do, and what comes of it.
    pub(super) fn mend_words(&self, picture: bool, units: Units) -> String {
        let action = self.action(units);
        let action = uncapital(&action);
        let megapixels = self.figures.and_then(|figures| figures.megapixels());
        let megapixels = megapixels.map(|megapixels| format!("{megapixels:.1} MP"));
        let afterwards = self.effort.kit.contains(&Equipment::Afterwards);
        let upright = if picture { "all upright" } else { "subject upright" };
        let comes: Vec<String> = (!afterwards).then(|| upright.to_owned()).into_iter().chain(megapixels).collect();
        let mut asks = String::new();
        if !self.effort.ask.is_empty() {
            asks = ", with permission".into();
        }
        format!("{action}{asks}: {}", comes.join(", "))
    }
}

impl Way {
    /// All remarks in a line.
    pub fn remark_words(&self, lengths: Lengths<'_>) -> String {
        self.remarks.iter().map(|remark| remark.words(lengths)).collect::<Vec<_>>().join("; ")
    }
}
