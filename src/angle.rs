//! What is an angle, and which way does it turn? The one unit newtype of the house.
//!
//! Every other quantity carries its unit in its name (`_m`, `_mm`, `_px`); degrees appear only in files, on the
//! command line and on screens, as `_deg`.

use std::f64::consts::{PI, TAU};
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub};

/// A plane angle. Each use states its sign and its zero.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Angle(f64);

impl Angle {
    /// No angle at all.
    pub const ZERO: Self = Self(0.0);
    /// 90°.
    pub const QUARTER: Self = Self(PI / 2.0);

    /// An angle of so many radians.
    pub const fn from_radians(radians: f64) -> Self {
        Self(radians)
    }

    /// An angle of so many degrees, as files, command lines and screens give it.
    pub fn from_degrees(degrees: f64) -> Self {
        Self(degrees.to_radians())
    }

    /// The bearing of the direction (`east`, `north`): clockwise from north, in (−180°, 180°].
    ///
    /// # Example
    /// ```
    /// use plumbsight::angle::Angle;
    /// assert_eq!(Angle::bearing_of(1.0, 0.0).degrees(), 90.0);
    /// ```
    pub fn bearing_of(east: f64, north: f64) -> Self {
        Self(east.atan2(north))
    }

    /// The size in radians.
    pub const fn radians(self) -> f64 {
        self.0
    }

    /// The size in degrees.
    pub fn degrees(self) -> f64 {
        self.0.to_degrees()
    }

    /// Sine.
    pub fn sin(self) -> f64 {
        self.0.sin()
    }

    /// Cosine.
    pub fn cos(self) -> f64 {
        self.0.cos()
    }

    /// Tangent; grows without bound towards 90°.
    pub fn tan(self) -> f64 {
        self.0.tan()
    }

    /// Sine and cosine together.
    pub fn sin_cos(self) -> (f64, f64) {
        self.0.sin_cos()
    }

    /// The same size without its sign.
    pub const fn abs(self) -> Self {
        Self(self.0.abs())
    }

    /// The same direction, turned by whole turns into (−180°, 180°].
    ///
    /// # Example
    /// ```
    /// use plumbsight::angle::Angle;
    /// assert!((Angle::from_degrees(350.0).wrapped().degrees() + 10.0).abs() < 1e-12);
    /// ```
    pub fn wrapped(self) -> Self {
        let turned = self.0.rem_euclid(TAU);
        Self(if turned > PI { turned - TAU } else { turned })
    }

    /// The same direction as a compass reading in [0°, 360°).
    pub fn compass_degrees(self) -> f64 {
        let degrees = self.degrees().rem_euclid(360.0);
        // Nought has no sign.
        if degrees >= 360.0 { 0.0 } else { degrees + 0.0 }
    }

    /// The smaller of two angles.
    pub fn min(self, other: Self) -> Self {
        Self(self.0.min(other.0))
    }

    /// The larger of two angles.
    pub fn max(self, other: Self) -> Self {
        Self(self.0.max(other.0))
    }
}

impl Add for Angle {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl AddAssign for Angle {
    fn add_assign(&mut self, other: Self) {
        self.0 += other.0;
    }
}

impl Sub for Angle {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl Neg for Angle {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}

impl Mul<f64> for Angle {
    type Output = Self;
    fn mul(self, factor: f64) -> Self {
        Self(self.0 * factor)
    }
}

impl Div<f64> for Angle {
    type Output = Self;
    fn div(self, divisor: f64) -> Self {
        Self(self.0 / divisor)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bearings_run_clockwise_from_north() {
        for (east, north, degrees) in [(0.0, 1.0, 0.0), (1.0, 0.0, 90.0), (0.0, -1.0, 180.0), (-1.0, 0.0, 270.0)] {
            assert!((Angle::bearing_of(east, north).compass_degrees() - degrees).abs() < 1e-12);
        }
    }

    #[test]
    fn north_is_read_as_nought() {
        for north in [0.0, -0.0, -1e-17, 360.0_f64.to_radians(), -360.0_f64.to_radians()] {
            assert_eq!(Angle::from_radians(north).compass_degrees().to_string(), "0", "{north}");
        }
    }

    #[test]
    fn wrapping_keeps_the_direction() {
        for degrees in [-1080.5, -180.0, -0.25, 0.0, 179.5, 180.0, 540.0, 721.0] {
            let angle = Angle::from_degrees(degrees);
            let wrapped = angle.wrapped();
            assert!((angle.sin() - wrapped.sin()).abs() < 1e-12);
            assert!((angle.cos() - wrapped.cos()).abs() < 1e-12);
            assert!(wrapped.degrees() > -180.0 && wrapped.degrees() <= 180.0 + 1e-12);
        }
    }
}
