//! What leans in the picture, by how much, and how much of that is the subject's own shape?
//!
//! For a plumb line at plan bearing α to the right of the heading, from a camera of pitch θ and roll ρ, in the ideal
//! rectilinear picture: **lean = atan(tan α · sin θ) + ρ**, whatever the focal length, rise, shift or crop.

mod detail;
mod lines;
mod square;
mod straighten;
mod taper;

use crate::angle::Angle;
use crate::optics::{Camera, PicturePoint};
use crate::outline::Outline;
use crate::pose::{Attitude, WorldVector};

pub(crate) use detail::smallest_singular_value;
pub use detail::{Detail, frontal_detail, largest_print_mm, surface_detail};
pub use lines::{DrawnLine, FramedPart, LineKind, NotDrawn, StandingLine, Viewpoint, ideal_lean, standing_lines};
pub use square::Squareness;
pub use straighten::{StraightenFailure, Straightened, Straightening, original_pixel, straighten};
pub use taper::{BodySides, Taper};

/// The largest lean that reads as upright unless the user sets another: 0.6°.
///
/// # Source
/// The smallest deviation from the vertical that people detect averages about 0.6°: *Recognition of stimulus
/// orientation*, Vision Research 30(10), 1990, 1429–1437 (abstract).
pub const READS_UPRIGHT_DEG: f64 = 0.6;

/// A threshold for pictures of architecture that will be looked at closely: 0.2° (common practice, no source).
pub const CRITICAL_DEG: f64 = 0.2;

/// A threshold for pictures that are seen in passing: 1.0° (common practice, no source).
pub const LENIENT_DEG: f64 = 1.0;

/// The lean of a plumb line at a plan bearing to the right of the heading, in the ideal rectilinear picture.
///
/// # Formula
/// atan(tan α · sin θ) + ρ.
///
/// # Valid range
/// `None` for a line beside or behind the camera (|α| ≥ 90°), whose picture, if it has one, runs the other way.
///
/// # Example
/// ```
/// use plumbsight::{angle::Angle, pose::Attitude, verticals::plumb_lean};
/// // 24 mm lens pitched up 10°, a vertical through the picture's principal row 18 mm to the right: atan(18·tan 10°/24).
/// let attitude = Attitude { pitch: Angle::from_degrees(10.0), ..Attitude::default() };
/// let bearing = Angle::from_radians((18.0_f64 / 24.0 / attitude.pitch.cos()).atan());
/// assert!((plumb_lean(bearing, &attitude).unwrap().degrees() - 7.533).abs() < 1e-3);
/// ```
pub fn plumb_lean(bearing: Angle, attitude: &Attitude) -> Option<Angle> {
    let (sine, cosine) = bearing.sin_cos();
    (cosine > 1e-12).then(|| Angle::from_radians((sine * attitude.pitch.sin()).atan2(cosine)) + attitude.roll)
}

/// How far the subject's bounding plumb lines lean.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Convergence {
    /// The lean of the plumb line that touches the outline on the left.
    pub left: Angle,
    /// The lean of the plumb line that touches the outline on the right.
    pub right: Angle,
}

impl Convergence {
    /// The leans of the plumb lines that bound an outline; `None` where one runs beside or behind the camera.
    pub fn of(outline: &Outline, attitude: &Attitude) -> Option<Self> {
        let (left, right) = outline.right_of(attitude.heading);
        Some(Self { left: plumb_lean(left, attitude)?, right: plumb_lean(right, attitude)? })
    }

    /// lean(right) − lean(left): positive where the subject converges toward the top, negative where it diverges.
    pub fn angle(&self) -> Angle {
        self.right - self.left
    }

    /// The larger of the two leans, without its sign.
    pub fn largest(&self) -> Angle {
        self.left.abs().max(self.right.abs())
    }
}

/// Where the pictures of all plumb lines meet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct VanishingPoint {
    /// The point, where it is near enough to be drawn.
    pub at: Option<PicturePoint>,
    /// The direction towards it from the picture's centre, of length 1: u right, v up. Up when the camera is level.
    pub direction: PicturePoint,
}

/// A vanishing point farther than this from the frame's centre (1 km) has only a direction.
const FARTHEST_MM: f64 = 1e6;

impl VanishingPoint {
    /// The vertical vanishing point in the ideal rectilinear picture.
    ///
    /// # Formula
    /// K·R·(0, 0, 1): at (−shift, f·cot θ − rise) when the roll is 0.
    pub fn of(camera: &Camera, attitude: &Attitude) -> Self {
        let up = attitude.view_from_world() * WorldVector::z();
        // u·w, v·w and w of the homogeneous point.
        let (u, v, w) =
            (camera.focal_mm * up.x - camera.shift_mm * up.z, -camera.focal_mm * up.y - camera.rise_mm * up.z, up.z);
        let at = (u.hypot(v) < FARTHEST_MM * w.abs()).then(|| PicturePoint::new(u / w, v / w));
        let sense = if w < 0.0 { -1.0 } else { 1.0 };
        let direction = PicturePoint::new(u * sense, v * sense).try_normalize(1e-300).unwrap_or_else(PicturePoint::y);
        Self { at, direction }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::optics::{Frame, Margins};
    use crate::pose::{Pose, WorldPoint};
    use proptest::prelude::*;

    fn frame() -> Frame {
        Frame { width_mm: 36.0, height_mm: 24.0, width_px: 6000, height_px: 4000, margins: Margins::USUAL }
    }

    fn attitude(heading: f64, pitch: f64, roll: f64) -> Attitude {
        Attitude {
            heading: Angle::from_degrees(heading),
            pitch: Angle::from_degrees(pitch),
            roll: Angle::from_degrees(roll),
        }
    }

    #[test]
    fn level_camera_keeps_verticals_parallel() {
        for roll in [-5.0, 0.0, 2.5] {
            for bearing in [-60.0, -5.0, 0.0, 30.0] {
                let lean = plumb_lean(Angle::from_degrees(bearing), &attitude(40.0, 0.0, roll)).expect("in front");
                assert!((lean.degrees() - roll).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn the_vanishing_point_is_at_f_cot_pitch() {
        // D, computed from f·cot α: 24 mm at 5°, 10°, 15°.
        for (pitch, expected_mm) in [(5.0, 274.321), (10.0, 136.111), (15.0, 89.569)] {
            let vanishing = VanishingPoint::of(&Camera::plain(frame(), 24.0), &attitude(77.0, pitch, 0.0));
            let at = vanishing.at.expect("near");
            assert!((at.y - expected_mm).abs() < 1e-3 && at.x.abs() < 1e-9);
        }
        let level = VanishingPoint::of(&Camera::plain(frame(), 24.0), &attitude(0.0, 0.0, 0.0));
        assert!(level.at.is_none() && (level.direction - PicturePoint::y()).norm() < 1e-12);
    }

    proptest! {
        #[test]
        fn the_closed_lean_is_that_of_the_drawn_line(
            heading in -180.0_f64..180.0, pitch in -80.0_f64..80.0, roll in -20.0_f64..20.0,
            east in -60.0_f64..60.0, north in -60.0_f64..60.0, low in -40.0_f64..5.0, tall in 1.0_f64..60.0,
        ) {
            let pose = Pose { eye: WorldPoint::new(1.0, 2.0, 3.0), attitude: attitude(heading, pitch, roll) };
            let (base, top) = (WorldPoint::new(east, north, low), WorldPoint::new(east, north, low + tall));
            let drawn = ideal_lean(&pose.view_of(&base), &pose.view_of(&top));
            let bearing = pose.bearing_right_of_heading(&base);
            if let (Some(drawn), Some(closed)) = (drawn, plumb_lean(bearing, &pose.attitude)) {
                prop_assert!((drawn - closed).wrapped().degrees().abs() < 1e-7, "{} {}", drawn.degrees(), closed.degrees());
            }
        }

        #[test]
        fn neither_zoom_nor_rise_nor_crop_changes_a_lean(
            pitch in -30.0_f64..30.0, focal_mm in 12.0_f64..300.0, rise_mm in -12.0_f64..12.0, east in -8.0_f64..8.0,
        ) {
            let pose = Pose { eye: WorldPoint::origin(), attitude: attitude(0.0, pitch, 0.0) };
            let camera = Camera { rise_mm, ..Camera::plain(frame(), focal_mm) };
            let points = [0.0, 1.0].map(|up| pose.view_of(&WorldPoint::new(east, 30.0, up)));
            let [Some(base), Some(top)] = points.map(|view| camera.picture_from_view(&view)) else { return Ok(()) };
            let lean = (-(top.x - base.x)).atan2(top.y - base.y).to_degrees();
            let expected = plumb_lean(Angle::from_radians((east / 30.0).atan()), &pose.attitude).expect("in front").degrees();
            prop_assert!((lean - expected).abs() < 1e-6);
        }
    }
}
