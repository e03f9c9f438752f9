//! What is sharp, and what does stopping down cost?
//!
//! The thin lens: a point at distance s is sharp on a plane behind the lens; others spread to discs. A disc up to the
//! circle of confusion passes for a point.

use crate::angle::Angle;

use super::Frame;

/// The farthest distance that is written down as focused on: with any lens as good as infinity, and a number in every file.
pub const FARTHEST_FOCUS_M: f64 = 1e6;

/// What is set on the lens.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Focus {
    /// Focal length.
    pub focal_mm: f64,
    /// f-number.
    pub f_number: f64,
    /// Distance from the lens to the plane of sharpest focus, along the axis; infinite for a lens set to infinity.
    pub distance_m: f64,
}

/// The stretch of distances that passes for sharp.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DepthOfField {
    /// Nearest sharp distance.
    pub near_m: f64,
    /// Farthest sharp distance; infinite at and beyond the hyperfocal distance.
    pub far_m: f64,
    /// The distance that, focused on, keeps infinity just sharp.
    pub hyperfocal_m: f64,
}

impl Focus {
    /// The sharp stretch for a circle of confusion.
    ///
    /// # Formula
    /// H = f²/(N·c) + f; near = s(H − f)/(H + s − 2f), far = s(H − f)/(H − s): the thin lens, exactly.
    ///
    /// # Valid range
    /// Focal length, f-number and circle above 0; focused farther than one focal length.
    ///
    /// # Example
    /// ```
    /// use plumbsight::optics::Focus;
    /// let focus = Focus { focal_mm: 50.0, f_number: 8.0, distance_m: f64::INFINITY };
    /// assert!((focus.depth_of_field(0.03).hyperfocal_m - 10.467).abs() < 5e-4); // 2500/0.24 + 50 mm
    /// ```
    pub fn depth_of_field(&self, circle_mm: f64) -> DepthOfField {
        let focal_m = self.focal_mm / 1000.0;
        let hyperfocal_m = self.focal_mm * self.focal_mm / (self.f_number * circle_mm) / 1000.0 + focal_m;
        let distance_m = self.distance_m;
        if distance_m.is_infinite() {
            return DepthOfField { near_m: hyperfocal_m - focal_m, far_m: f64::INFINITY, hyperfocal_m };
        }
        let near_m = distance_m * (hyperfocal_m - focal_m) / (hyperfocal_m + distance_m - 2.0 * focal_m);
        let far_m = if distance_m < hyperfocal_m {
            distance_m * (hyperfocal_m - focal_m) / (hyperfocal_m - distance_m)
        } else {
            f64::INFINITY
        };
        DepthOfField { near_m, far_m, hyperfocal_m }
    }

    /// The diameter of the lens opening.
    pub fn opening_mm(&self) -> f64 {
        self.focal_mm / self.f_number
    }
}

/// The circle of confusion usual for a picture area: its diagonal over 1442, that is 0.03 mm for 36×24 mm.
///
/// # Source
/// common practice, no source.
pub fn circle_of_confusion_mm(frame: &Frame) -> f64 {
    frame.diagonal_mm() / 1442.0
}

/// The diameter of the Airy disc at an f-number, for green light of 550 nm.
///
/// # Formula
/// 2.44·λ·N (from memory).
pub fn airy_disc_mm(f_number: f64) -> f64 {
    2.44 * 550e-6 * f_number
}

/// The exposure value of an f-number and a time.
///
/// # Formula
/// log2(N²/t).
pub fn exposure_value(f_number: f64, seconds: f64) -> f64 {
    (f_number * f_number / seconds).log2()
}

/// The angle of view of a picture side on a level, unshifted rectilinear lens.
///
/// # Formula
/// 2·atan(d/2f).
pub(super) fn angle_of_view(side_mm: f64, focal_mm: f64) -> Angle {
    Angle::from_radians(2.0 * (side_mm / (2.0 * focal_mm)).atan())
}
