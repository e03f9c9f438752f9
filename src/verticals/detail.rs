//! How finely does the picture draw the subject?

use nalgebra::{Matrix2, Matrix3x2};

use crate::angle::Angle;
use crate::optics::Frame;
use crate::pose::{WorldPoint, WorldVector};

use super::Viewpoint;

/// Pixels per metre of surface.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Detail {
    /// Pixels of the picture for each metre of the surface, in the direction in which they are fewest.
    pub px_per_m: f64,
}

impl Detail {
    /// How many millimetres of the surface one pixel covers.
    pub fn mm_per_px(self) -> f64 {
        1000.0 / self.px_per_m
    }

    /// The coarser of two.
    #[must_use]
    pub fn min(self, other: Self) -> Self {
        if other.px_per_m < self.px_per_m { other } else { self }
    }
}

/// The detail at a point of a surface with an outward normal; `None` where the lens does not draw it.
///
/// # Formula
/// The smallest singular value of ∂pixel/∂surface.
pub fn surface_detail(viewpoint: &Viewpoint<'_>, point: &WorldPoint, normal: &WorldVector) -> Option<Detail> {
    let (_, jacobian) = viewpoint.camera.pixel_with_jacobian(&viewpoint.view_of(point))?;
    let across = WorldVector::new(-normal.y, normal.x, 0.0).try_normalize(1e-9).unwrap_or_else(WorldVector::x);
    let along = normal.cross(&across);
    let surface = Matrix3x2::from_columns(&[across, along]);
    Some(Detail { px_per_m: smallest_singular_value(&(jacobian * viewpoint.rotation() * surface)) })
}

/// The detail on a vertical plane that the camera squarely faces, at distance D along the heading, at a point z above
/// the lens and x to the right, for a focal length in pixels: pixels per metre across and along.
///
/// # Formula
/// d = D·cos θ + z·sin θ; across f/d, along f·√(D² + x²·sin²θ)/d².
///
/// # Example
/// ```
/// use plumbsight::{angle::Angle, verticals::frontal_detail};
/// let (across, along) = frontal_detail(4000.0, Angle::ZERO, 40.0, 0.0, 10.0);
/// assert_eq!((across, along), (100.0, 100.0)); // level: 4000 px over 40 m
/// ```
pub fn frontal_detail(focal_px: f64, pitch: Angle, distance_m: f64, right_m: f64, above_m: f64) -> (f64, f64) {
    let (sine, cosine) = pitch.sin_cos();
    let depth_m = distance_m * cosine + above_m * sine;
    (focal_px / depth_m, focal_px * distance_m.hypot(right_m * sine) / (depth_m * depth_m))
}

/// The size of the largest print of so many pixels an inch, in millimetres.
pub fn largest_print_mm(frame: &Frame, ppi: f64) -> (f64, f64) {
    (f64::from(frame.width_px) / ppi * 25.4, f64::from(frame.height_px) / ppi * 25.4)
}

/// The smaller singular value of a 2×2 matrix, in closed form.
pub(crate) fn smallest_singular_value(matrix: &Matrix2<f64>) -> f64 {
    let sum = 0.5 * matrix.norm_squared();
    let determinant = matrix.determinant().abs();
    // (sum − determinant)(sum + determinant), each from its own squares: where both values are alike, the difference of
    // sum and determinant would lose half of the digits.
    let [[a, b], [c, d]] = [[matrix.m11, matrix.m12], [matrix.m21, matrix.m22]];
    let (less, more) = ((a - d).hypot(b + c), (a + d).hypot(b - c));
    let root = 0.5 * less * more;
    let largest = (sum + root).sqrt();
    // determinant / largest keeps the digits that sum − root would lose.
    if largest > 0.0 { determinant / largest } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::optics::{Camera, Margins};
    use crate::pose::{Attitude, Pose};
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn a_frontal_planes_detail_is_the_closed_form(
            pitch in -40.0_f64..40.0, distance_m in 5.0_f64..200.0, right_m in -3.0_f64..3.0, above_m in -2.0_f64..20.0,
        ) {
            let frame = Frame { width_mm: 36.0, height_mm: 24.0, width_px: 6000, height_px: 4000, margins: Margins::USUAL };
            let camera = Camera::plain(frame, 24.0);
            let pitch = Angle::from_degrees(pitch);
            let pose = Pose { eye: WorldPoint::new(0.0, 0.0, 5.0), attitude: Attitude { pitch, ..Attitude::default() } };
            let point = WorldPoint::new(right_m, distance_m, 5.0 + above_m);
            let found = surface_detail(&Viewpoint::new(&camera, &pose), &point, &-WorldVector::y());
            let depth_m = distance_m * pitch.cos() + above_m * pitch.sin();
            prop_assume!(depth_m > 0.1);
            let (across, along) = frontal_detail(4000.0, pitch, distance_m, right_m, above_m);
            // Both are the lengths of the Jacobian's columns; its smallest singular value is at most either.
            let found = found.expect("in front").px_per_m;
            prop_assert!(found <= across.min(along) * (1.0 + 1e-9));
            if right_m.abs() < 1e-3 || pitch.degrees().abs() < 1e-3 {
                prop_assert!((found / across.min(along) - 1.0).abs() < 1e-3);
            }
        }
    }

    #[test]
    fn singular_values_of_a_known_matrix() {
        // [[3, 0], [4, 5]] has singular values √45 and √5.
        assert!((smallest_singular_value(&Matrix2::new(3.0, 0.0, 4.0, 5.0)) - 5.0_f64.sqrt()).abs() < 1e-12);
        // Turned by 30° and blown up sevenfold: both are 7, to the last digits.
        let (sine, cosine) = Angle::from_degrees(30.0).sin_cos();
        let turned = Matrix2::new(7.0 * cosine, -7.0 * sine, 7.0 * sine, 7.0 * cosine);
        assert!((smallest_singular_value(&turned) - 7.0).abs() < 1e-14);
    }
}
