//! How far from the centre does a lens draw a point that stands at an angle to its axis?

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The radial law of a lens, as optics names it: image height r for an angle θ off the axis and focal length f.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub enum Mapping {
    /// r = f·tan θ: straight lines stay straight. θ < 90°.
    #[default]
    Rectilinear,
    /// r = f·θ. θ ≤ 180°.
    Equidistant,
    /// r = 2f·sin(θ/2): equal areas stay equal. θ ≤ 180°.
    Equisolid,
    /// r = 2f·tan(θ/2): small shapes keep their form. θ < 180°.
    Stereographic,
    /// r = f·sin θ. θ ≤ 90°.
    Orthographic,
}

impl Mapping {
    /// Every mapping, in the order of the documentation.
    pub const ALL: [Self; 5] =
        [Self::Rectilinear, Self::Equidistant, Self::Equisolid, Self::Stereographic, Self::Orthographic];

    /// The name in plain words.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Rectilinear => "rectilinear",
            Self::Equidistant => "equidistant",
            Self::Equisolid => "equisolid",
            Self::Stereographic => "stereographic",
            Self::Orthographic => "orthographic",
        }
    }

    /// The image height r/f of a ray `theta` radians off the axis, and its slope d(r/f)/dθ.
    ///
    /// # Valid range
    /// `None` where the mapping draws nothing: at and beyond 90° (rectilinear), 180° (stereographic), beyond 90°
    /// (orthographic).
    ///
    /// # Source
    /// P. Corke, *Robotics, Vision and Control*, §13.3.1 (its k equals 2f for equisolid and stereographic).
    pub fn height(self, theta: f64) -> Option<(f64, f64)> {
        use std::f64::consts::{FRAC_PI_2, PI};
        match self {
            Self::Rectilinear => (theta < FRAC_PI_2).then(|| {
                let tangent = theta.tan();
                (tangent, 1.0 + tangent * tangent)
            }),
            Self::Equidistant => Some((theta, 1.0)),
            Self::Equisolid => Some((2.0 * (theta / 2.0).sin(), (theta / 2.0).cos())),
            Self::Stereographic => (theta < PI).then(|| {
                let tangent = (theta / 2.0).tan();
                (2.0 * tangent, 1.0 + tangent * tangent)
            }),
            Self::Orthographic => (theta <= FRAC_PI_2).then(|| theta.sin_cos()),
        }
    }

    /// The angle off the axis, in radians, of a ray drawn at the image height r/f ≥ 0.
    ///
    /// # Valid range
    /// `None` beyond the mapping's largest image height.
    pub fn angle(self, height: f64) -> Option<f64> {
        use std::f64::consts::PI;
        match self {
            Self::Rectilinear => Some(height.atan()),
            Self::Equidistant => (height <= PI).then_some(height),
            Self::Equisolid => (height <= 2.0).then(|| 2.0 * (height / 2.0).asin()),
            Self::Stereographic => Some(2.0 * (height / 2.0).atan()),
            Self::Orthographic => (height <= 1.0).then(|| height.asin()),
        }
    }
}
