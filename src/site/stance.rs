//! How does a site file describe a stance?

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::optics::{Distortion, Margins, Orientation, Proportion};

use super::PlanPoint;

/// A saved stance: where the camera stands, what it is and how it is aimed, in the words of the file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Stance {
    /// What it is called; unique on its site.
    pub name: String,
    /// Where the feet are, in plan.
    pub at: PlanPoint,
    /// The camera above what one stands on.
    #[serde(default = "default_height_m")]
    pub height_m: f64,
    /// What one stands on: "ground", or the name of a block with a deck. Unless given it is the deck of a solid block
    /// that fills the place, else the ground.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<String>,
    /// The height of the camera's eye itself, in place of `height_m` and `on`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub eye_height_m: Option<f64>,
    /// The format by name.
    #[serde(default = "default_format")]
    pub format: String,
    /// How the camera is held; what suits the subject unless given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub orientation: Option<Orientation>,
    /// A crop proportion, width to height of the upright picture.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub crop: Option<Proportion>,
    /// What is kept clear about the subject; the usual margins unless given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub margins: Option<Margins>,
    /// The lens by name.
    pub lens: String,
    /// The focal length a zoom is set to; what the aim asks for unless given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub focal_mm: Option<f64>,
    /// The f-number.
    #[serde(default = "default_f_number")]
    pub f_number: f64,
    /// The distance focused on; the subject's unless given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub focus_m: Option<f64>,
    /// The rise set on the lens; what the aim asks for unless given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rise_mm: Option<f64>,
    /// The shift set on the lens.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[serde(rename = "lateral_shift_mm")]
    pub shift_mm: Option<f64>,
    /// A distortion in place of the lens's own: k1, k2, p1, p2, k3[, k4, k5, k6].
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub distortion: Option<Distortion>,
    /// How the camera is aimed.
    #[serde(default)]
    pub aim: Aim,
    /// What to remember about it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl Stance {
    /// The eye of a standing adult: the median of British men, 1630 mm barefoot with 25 mm of shoe, and women, 1505 mm with
    /// 45 mm, lie about it (S. Pheasant, *Bodyspace*, table of eye heights).
    pub const STANDING_M: f64 = 1.6;

    /// A standing adult with a standard zoom, aimed to fill the frame; what is not said in a file is the same.
    pub fn plain(name: &str, at: PlanPoint) -> Self {
        Self {
            name: name.into(),
            at,
            height_m: default_height_m(),
            on: None,
            eye_height_m: None,
            format: default_format(),
            orientation: None,
            crop: None,
            margins: None,
            lens: "24-70 mm".into(),
            focal_mm: None,
            f_number: default_f_number(),
            focus_m: None,
            rise_mm: None,
            shift_mm: None,
            distortion: None,
            aim: Aim::Fill,
            note: None,
        }
    }
}

/// How a camera is aimed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub enum Aim {
    /// Pitched and zoomed so that the subject fills the frame to its margins.
    #[default]
    Fill,
    /// As `Fill`, but level.
    Level,
    /// Level, with the rise and shift that lens and image circle allow.
    Rise,
    /// Pitched no more than it takes to hold the subject within its margins; a zoom as short as that asks for.
    LeastTilt,
    /// Pitched and zoomed so that the picture, once straightened, keeps the most detail of the subject.
    Correct,
    /// At a point of the world: metres east, north and up.
    At(f64, f64, f64),
    /// Turned just so.
    Turned {
        /// Clockwise from true north.
        heading_deg: f64,
        /// Above the horizon.
        #[serde(default)]
        pitch_deg: f64,
        /// Clockwise as seen from behind the camera.
        #[serde(default)]
        roll_deg: f64,
    },
}

impl Aim {
    /// Those that frame the subject by themselves, from any place.
    pub const FRAMING: [Self; 5] = [Self::Fill, Self::Level, Self::Rise, Self::LeastTilt, Self::Correct];

    /// Its name on the command line.
    pub const fn key(&self) -> &'static str {
        match self {
            Self::Fill => "fill",
            Self::Level => "level",
            Self::Rise => "rise",
            Self::LeastTilt => "least-tilt",
            Self::Correct => "correct",
            Self::At(..) => "at",
            Self::Turned { .. } => "turned",
        }
    }
}

const fn default_height_m() -> f64 {
    Stance::STANDING_M
}

fn default_format() -> String {
    "36x24".into()
}

const fn default_f_number() -> f64 {
    8.0
}
