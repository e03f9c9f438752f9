//! How does a lens bend straight lines, and how is the bend undone?
//!
//! The Brown–Conrady model in its rational form, on normalised, y-down coordinates (x, y), r² = x² + y²:
//! x″ = x·(1 + k1·r² + k2·r⁴ + k3·r⁶)/(1 + k4·r² + k5·r⁴ + k6·r⁶) + 2·p1·x·y + p2·(r² + 2x²), and
//! y″ likewise with p1·(r² + 2y²) + 2·p2·x·y.

use nalgebra::{Matrix2, Vector2};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::polynomial;

/// The largest radius (in focal lengths) that is ever looked at: 89.4° off the axis of a rectilinear lens.
const LARGEST_RADIUS: f64 = 100.0;
/// The share of the folding radius up to which the model is used; nearer the fold its inverse loses digits.
const USED_SHARE: f64 = 0.999;
/// The largest remaining error of the inverse, in focal lengths.
const INVERSE_RESIDUAL: f64 = 1e-12;

/// A distortion that is refused.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum DistortionError {
    /// A coefficient is no finite number.
    #[error("distortion coefficient {name} is {value}; it must be a finite number")]
    NotFinite {
        /// Which coefficient.
        name: &'static str,
        /// What was given.
        value: f64,
    },
    /// The model folds so close to the axis that no usable picture is left.
    #[error("this distortion folds at {radius:.4} focal lengths from the axis; it must hold to at least 0.01")]
    FoldsAtOnce {
        /// The folding radius in focal lengths.
        radius: f64,
    },
    /// Too few or too many coefficients.
    #[error("a distortion has 5 or 8 coefficients k1,k2,p1,p2,k3[,k4,k5,k6]; {count} were given")]
    Count {
        /// How many were given.
        count: usize,
    },
}

/// A lens's distortion: nought for a drawing-perfect lens.
///
/// # Valid range
/// Inside [`Distortion::valid_radius`], which is where the mapping is certainly one to one (see there).
///
/// # Source
/// OpenCV, modules/calib3d/include/opencv2/calib3d.hpp; coefficients in its order k1, k2, p1, p2, k3, k4, k5, k6.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(try_from = "Vec<f64>", into = "Vec<f64>")]
#[schemars(with = "[f64; 8]")]
pub struct Distortion {
    coefficients: [f64; 8],
    valid_radius: f64,
}

impl Default for Distortion {
    fn default() -> Self {
        Self::NONE
    }
}

impl From<Distortion> for Vec<f64> {
    fn from(distortion: Distortion) -> Self {
        distortion.coefficients.to_vec()
    }
}

impl TryFrom<Vec<f64>> for Distortion {
    type Error = DistortionError;
    fn try_from(coefficients: Vec<f64>) -> Result<Self, DistortionError> {
        Self::from_slice(&coefficients)
    }
}

impl Distortion {
    /// No distortion at all.
    pub const NONE: Self = Self { coefficients: [0.0; 8], valid_radius: f64::INFINITY };

    /// The names of the coefficients, in order.
    pub const NAMES: [&'static str; 8] = ["k1", "k2", "p1", "p2", "k3", "k4", "k5", "k6"];

    /// A distortion from 5 or 8 coefficients in the order k1, k2, p1, p2, k3[, k4, k5, k6].
    ///
    /// # Errors
    /// A wrong count, a coefficient that is not finite, or a model that folds within 0.01 focal lengths.
    ///
    /// # Example
    /// ```
    /// use plumbsight::optics::Distortion;
    /// let lens = Distortion::from_slice(&[-0.1, 0.01, 0.001, -0.002, 0.0]).unwrap();
    /// let bent = lens.distort(nalgebra::Vector2::new(0.3, 0.2)).unwrap();
    /// assert!((bent - nalgebra::Vector2::new(0.2956507, 0.1974038)).norm() < 1e-7);
    /// ```
    pub fn from_slice(given: &[f64]) -> Result<Self, DistortionError> {
        if given.len() != 5 && given.len() != 8 {
            return Err(DistortionError::Count { count: given.len() });
        }
        let mut coefficients = [0.0; 8];
        coefficients[..given.len()].copy_from_slice(given);
        for (name, value) in Self::NAMES.into_iter().zip(coefficients) {
            if !value.is_finite() {
                return Err(DistortionError::NotFinite { name, value });
            }
        }
        if coefficients == [0.0; 8] {
            return Ok(Self::NONE);
        }
        let folding_radius = folding_radius(&coefficients);
        if folding_radius < 0.01 {
            return Err(DistortionError::FoldsAtOnce { radius: folding_radius });
        }
        Ok(Self { coefficients, valid_radius: USED_SHARE * folding_radius })
    }

    /// The coefficients k1, k2, p1, p2, k3, k4, k5, k6.
    pub const fn coefficients(&self) -> [f64; 8] {
        self.coefficients
    }

    /// Whether lines stay as the mapping draws them.
    pub fn is_none(&self) -> bool {
        self.coefficients == [0.0; 8]
    }

    /// How far from the axis the model may be used, in focal lengths (∞ without distortion).
    ///
    /// # Formula
    /// 0.999 of the first radius at which min(g′(r), g(r)/r) ≤ 6·hypot(p1, p2)·r, g being the radial part. The left
    /// side is the smaller singular value of the radial part's Jacobian, the right side bounds the tangential part's,
    /// so within it the Jacobian's symmetric part is positive definite on a convex region and the mapping is one to
    /// one. Without tangential terms it is the fold itself.
    pub const fn valid_radius(&self) -> f64 {
        self.valid_radius
    }

    /// The distorted place of an ideal point; `None` outside the valid radius.
    pub fn distort(&self, ideal: Vector2<f64>) -> Option<Vector2<f64>> {
        if self.is_none() {
            return Some(ideal);
        }
        (ideal.norm() <= self.valid_radius).then(|| self.formula(ideal))
    }

    /// The distorted place and how it moves with the ideal one; `None` outside the valid radius.
    pub fn distort_with_jacobian(&self, ideal: Vector2<f64>) -> Option<(Vector2<f64>, Matrix2<f64>)> {
        if self.is_none() {
            return Some((ideal, Matrix2::identity()));
        }
        (ideal.norm() <= self.valid_radius).then(|| (self.formula(ideal), self.jacobian(ideal)))
    }

    /// The ideal place of a distorted point; `None` where no ray inside the valid radius arrives.
    ///
    /// # Valid range
    /// Every answer distorts back to within 1e-12 focal lengths of `distorted`, relative to its size where that
    /// exceeds 1.
    pub fn undistort(&self, distorted: Vector2<f64>) -> Option<Vector2<f64>> {
        if self.is_none() {
            return Some(distorted);
        }
        let tolerance = INVERSE_RESIDUAL * distorted.norm().max(1.0);
        let mut ideal = self.start_of_inverse(distorted);
        let mut error = self.formula(ideal) - distorted;
        // Newton's method with halving: the mapping is strongly monotone inside the valid radius, so a shorter step
        // along Newton's direction always helps until the end is reached.
        for _ in 0..60 {
            if error.norm() <= 0.01 * tolerance {
                break;
            }
            let step = self.jacobian(ideal).try_inverse()? * error;
            let mut share = 1.0;
            let (next, next_error) = loop {
                let next = ideal - step * share;
                let next_error = self.formula(next) - distorted;
                if next.norm() <= self.valid_radius * 1.0005 && next_error.norm() < error.norm() {
                    break (next, next_error);
                }
                share *= 0.5;
                if share < 1e-10 {
                    break (ideal, error);
                }
            };
            if next == ideal {
                break;
            }
            (ideal, error) = (next, next_error);
        }
        (error.norm() <= tolerance && ideal.norm() <= self.valid_radius).then_some(ideal)
    }

    /// A first guess: the distorted point pulled to the radius that the radial part alone would give it.
    fn start_of_inverse(&self, distorted: Vector2<f64>) -> Vector2<f64> {
        let target = distorted.norm();
        let limit = self.valid_radius.min(LARGEST_RADIUS);
        let mut radius = target.min(limit);
        for _ in 0..3 {
            let (numerator, denominator, slope) = self.radial(radius * radius);
            let factor = numerator / denominator;
            let derivative = factor + 2.0 * radius * radius * slope;
            if derivative > 1e-3 {
                radius = (radius - (radius * factor - target) / derivative).clamp(0.0, limit);
            }
        }
        if target > 0.0 { distorted * (radius / target) } else { distorted }
    }

    /// Numerator and denominator of the radial factor at r² = s, and the factor's slope d(N/D)/ds.
    fn radial(&self, s: f64) -> (f64, f64, f64) {
        let [k1, k2, _, _, k3, k4, k5, k6] = self.coefficients;
        let numerator = 1.0 + s * (k1 + s * (k2 + s * k3));
        let denominator = 1.0 + s * (k4 + s * (k5 + s * k6));
        let numerator_slope = k1 + s * (2.0 * k2 + s * 3.0 * k3);
        let denominator_slope = k4 + s * (2.0 * k5 + s * 3.0 * k6);
        let slope = (numerator_slope * denominator - numerator * denominator_slope) / (denominator * denominator);
        (numerator, denominator, slope)
    }

    fn formula(&self, ideal: Vector2<f64>) -> Vector2<f64> {
        let [_, _, p1, p2, ..] = self.coefficients;
        let (x, y) = (ideal.x, ideal.y);
        let s = x * x + y * y;
        let (numerator, denominator, _) = self.radial(s);
        let factor = numerator / denominator;
        Vector2::new(
            x * factor + 2.0 * p1 * x * y + p2 * (s + 2.0 * x * x),
            y * factor + p1 * (s + 2.0 * y * y) + 2.0 * p2 * x * y,
        )
    }

    fn jacobian(&self, ideal: Vector2<f64>) -> Matrix2<f64> {
        let [_, _, p1, p2, ..] = self.coefficients;
        let (x, y) = (ideal.x, ideal.y);
        let (numerator, denominator, slope) = self.radial(x * x + y * y);
        let factor = numerator / denominator;
        let across = 2.0 * x * y * slope + 2.0 * (p1 * x + p2 * y);
        Matrix2::new(
            factor + 2.0 * x * x * slope + 2.0 * p1 * y + 6.0 * p2 * x,
            across,
            across,
            factor + 2.0 * y * y * slope + 6.0 * p1 * y + 2.0 * p2 * x,
        )
    }
}

/// The first radius at which the model may fold: see [`Distortion::valid_radius`].
fn folding_radius(coefficients: &[f64; 8]) -> f64 {
    let [k1, k2, p1, p2, k3, k4, k5, k6] = *coefficients;
    // As polynomials in r: the radial factor is N/D.
    let numerator = [1.0, 0.0, k1, 0.0, k2, 0.0, k3];
    let denominator = [1.0, 0.0, k4, 0.0, k5, 0.0, k6];
    let squared = polynomial::product(&denominator, &denominator);
    // g(r)/r = N/D; g′(r) = N/D + r·(N′D − ND′)/D²; both less 6·|p|·r, times D².
    let tangential = polynomial::product(&[0.0, -6.0 * p1.hypot(p2)], &squared);
    let across = polynomial::product(&numerator, &denominator);
    let minus_denominator_slope: Vec<f64> = polynomial::derivative(&denominator).iter().map(|c| -c).collect();
    let slope = polynomial::sum(
        &polynomial::product(&polynomial::derivative(&numerator), &denominator),
        &polynomial::product(&numerator, &minus_denominator_slope),
    );
    let along = polynomial::sum(&across, &polynomial::product(&[0.0, 1.0], &slope));
    [polynomial::sum(&across, &tangential), polynomial::sum(&along, &tangential), denominator.to_vec()]
        .iter()
        .filter_map(|condition| polynomial::roots_between(condition, 0.0, LARGEST_RADIUS).first().copied())
        .fold(LARGEST_RADIUS, f64::min)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_barrel_folds_where_its_derivative_vanishes() {
        // g = r − 0.1·r³ folds at r = 1/√0.3; by hand.
        let barrel = Distortion::from_slice(&[-0.1, 0.0, 0.0, 0.0, 0.0]).expect("valid");
        assert!((barrel.valid_radius() / 0.999 - (1.0_f64 / 0.3).sqrt()).abs() < 1e-12);
        assert!(barrel.distort(Vector2::new(2.0, 0.0)).is_none());
        // The largest distorted radius is 2/3 of the fold: nothing arrives beyond.
        assert!(barrel.undistort(Vector2::new(1.22, 0.0)).is_none());
        assert!(barrel.undistort(Vector2::new(1.21, 0.0)).is_some());
    }

    #[test]
    fn bad_coefficients_are_refused_by_name() {
        assert_eq!(Distortion::from_slice(&[0.1]), Err(DistortionError::Count { count: 1 }));
        let refused = Distortion::from_slice(&[0.1, 0.0, f64::NAN, 0.0, 0.0]);
        assert!(matches!(refused, Err(DistortionError::NotFinite { name: "p1", .. })));
        let folded = Distortion::from_slice(&[-1e6, 0.0, 0.0, 0.0, 0.0]);
        assert!(matches!(folded, Err(DistortionError::FoldsAtOnce { .. })));
    }

    proptest! {
        #[test]
        fn the_inverse_returns_to_the_start(
            k in prop::array::uniform6(-0.4_f64..0.4),
            p in prop::array::uniform2(-0.01_f64..0.01),
            share in 0.0_f64..0.9999,
            turn in 0.0_f64..std::f64::consts::TAU,
        ) {
            let lens = Distortion::from_slice(&[k[0], k[1], p[0], p[1], k[2], k[3], k[4], k[5]]).expect("mild");
            let radius = share * lens.valid_radius().min(5.0);
            let ideal = Vector2::new(radius * turn.cos(), radius * turn.sin());
            let distorted = lens.distort(ideal).expect("inside");
            let back = lens.undistort(distorted).expect("inside");
            let again = lens.distort(back).expect("inside");
            prop_assert!((again - distorted).norm() <= 1e-12 * distorted.norm().max(1.0));
            prop_assert!((back - ideal).norm() < 1e-6 * radius.max(1.0), "{} {}", back, ideal);
        }

        #[test]
        fn the_jacobian_is_the_slope(
            k in prop::array::uniform6(-0.2_f64..0.2),
            p in prop::array::uniform2(-0.01_f64..0.01),
            x in -0.5_f64..0.5,
            y in -0.5_f64..0.5,
        ) {
            let lens = Distortion::from_slice(&[k[0], k[1], p[0], p[1], k[2], k[3], k[4], k[5]]).expect("mild");
            let here = Vector2::new(x, y);
            prop_assume!(here.norm() < lens.valid_radius() - 0.01);
            let (_, jacobian) = lens.distort_with_jacobian(here).expect("inside");
            for (column, step) in [Vector2::new(1e-6, 0.0), Vector2::new(0.0, 1e-6)].iter().enumerate() {
                let ahead = lens.distort(here + step).expect("inside");
                let behind = lens.distort(here - step).expect("inside");
                prop_assert!(((ahead - behind) / 2e-6 - jacobian.column(column)).norm() < 1e-7);
            }
        }
    }
}
