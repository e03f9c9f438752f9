//! How does the sun stand to a camera: in the picture, beside it, behind the camera, behind the subject?

use crate::angle::Angle;
use crate::outline::Subject;
use crate::pose::WorldVector;
use crate::stance::Standing;

/// So near beyond the frame the sun is still found in the finder by a slip of the hand.
const NEAR_FRAME: f64 = 5.0;
/// Beyond the frame's corner by less than this, stray light is likely (common practice, no source).
const FLARE_NEAR_DEG: f64 = 30.0;
/// In plan between the sun and the camera, as seen from the subject: up to here the light comes from the front, and from
/// there on from the back (common practice, no source).
const FRONT_TO_DEG: f64 = 45.0;
const BACK_FROM_DEG: f64 = 135.0;

/// The sun and the frame of a camera.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SunInPicture {
    /// Between the lens axis and the sun.
    pub off_axis: Angle,
    /// Whether its middle is in the frame.
    pub in_frame: bool,
    /// Whether it is in the frame or within 5° of its corners: never look at it through an optical finder.
    pub near_frame: bool,
    /// How likely stray light is.
    pub flare: FlareRisk,
}

/// How likely the sun spoils contrast by stray light in the lens. By angle alone: common practice, no source.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum FlareRisk {
    /// The sun does not reach the front lens.
    No,
    /// It reaches the front lens from far outside the frame: a hood helps.
    Some,
    /// It stands just outside the frame: shade the lens.
    Likely,
    /// It is in the frame.
    InFrame,
}

impl FlareRisk {
    /// In plain words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::No => "no stray light: the sun is behind the lens",
            Self::Some => "some stray light: the sun reaches the front lens; use a hood",
            Self::Likely => "stray light is likely: the sun stands just outside the frame; shade the lens",
            Self::InFrame => "the sun is in the frame",
        }
    }

    /// Its name in files.
    pub const fn key(self) -> &'static str {
        match self {
            Self::No => "none",
            Self::Some => "some",
            Self::Likely => "likely",
            Self::InFrame => "in_frame",
        }
    }
}

/// From which side the light comes, as the camera sees the subject.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum LightSide {
    /// From behind the camera.
    Front,
    /// From the left.
    Left,
    /// From the right.
    Right,
    /// From behind the subject.
    Back,
}

impl LightSide {
    /// In plain words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Front => "front light",
            Self::Left => "side light from the left",
            Self::Right => "side light from the right",
            Self::Back => "back light",
        }
    }

    /// Its name in files.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Front => "front",
            Self::Left => "left",
            Self::Right => "right",
            Self::Back => "back",
        }
    }
}

/// How the sun stands to the frame of a camera.
pub fn sun_in_picture(standing: &Standing, to_sun: &WorldVector) -> SunInPicture {
    let forward = standing.pose.attitude.forward();
    let off_axis = Angle::from_radians(forward.cross(to_sun).norm().atan2(forward.dot(to_sun)));
    let half_field_deg = standing.camera.fields()[2].map_or(90.0, |field| 0.5 * field.degrees());
    let view = standing.pose.attitude.view_from_world() * to_sun;
    let in_frame = standing.camera.pixel_from_view(&view).is_some_and(|pixel| standing.camera.holds(pixel));
    let flare = if in_frame {
        FlareRisk::InFrame
    } else if off_axis.degrees() < half_field_deg + FLARE_NEAR_DEG {
        FlareRisk::Likely
    } else if off_axis.degrees() < 90.0 {
        FlareRisk::Some
    } else {
        FlareRisk::No
    };
    SunInPicture { off_axis, in_frame, near_frame: in_frame || off_axis.degrees() < half_field_deg + NEAR_FRAME, flare }
}

/// From which side the sun's light falls on the subject, as a camera sees it.
pub fn light_side(subject: &Subject, standing: &Standing, to_sun: &WorldVector) -> LightSide {
    let to_camera = standing.pose.eye - subject.middle;
    let from_camera = Angle::bearing_of(to_sun.x, to_sun.y) - Angle::bearing_of(to_camera.x, to_camera.y);
    let aside_deg = from_camera.wrapped().degrees();
    if aside_deg.abs() <= FRONT_TO_DEG {
        LightSide::Front
    } else if aside_deg.abs() >= BACK_FROM_DEG {
        LightSide::Back
    } else if aside_deg > 0.0 {
        // Clockwise from the camera about the subject is to the left of whoever looks at it.
        LightSide::Left
    } else {
        LightSide::Right
    }
}
