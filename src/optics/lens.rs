//! What can a lens be set to?

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Distortion, Mapping};

/// A lens by its trade description.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Lens {
    /// What the trade calls it: "24 mm", "24-70 mm", "24 mm with 12 mm rise".
    pub name: String,
    /// The focal length; the shortest one of a zoom.
    pub focal_mm: f64,
    /// The longest focal length of a zoom; absent on a prime.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to_mm: Option<f64>,
    /// The focal lengths engraved on a zoom.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub marks_mm: Vec<f64>,
    /// The smallest f-number.
    #[serde(default = "default_widest")]
    pub widest_f: f64,
    /// The largest f-number.
    #[serde(default = "default_narrowest")]
    pub narrowest_f: f64,
    /// The nearest distance it focuses on; what is usual for its focal length unless given, see [`Lens::closest_focus_m`].
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub closest_m: Option<f64>,
    /// How far the lens moves up or down.
    #[serde(default)]
    pub rise_mm: f64,
    /// How far the lens moves sideways.
    #[serde(default)]
    #[serde(rename = "lateral_shift_mm")]
    pub shift_mm: f64,
    /// The diameter of the picture it draws; absent when it just covers its format.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub circle_mm: Option<f64>,
    /// Its radial law.
    #[serde(default)]
    pub mapping: Mapping,
    /// Its distortion, at one or more focal lengths.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub distortion: Vec<DistortionAt>,
}

/// A measured distortion of a lens at a focal length.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DistortionAt {
    /// The focal length it was measured at.
    pub focal_mm: f64,
    /// k1, k2, p1, p2, k3[, k4, k5, k6] on coordinates in units of that focal length.
    pub coefficients: Distortion,
}

const fn default_widest() -> f64 {
    2.8
}

const fn default_narrowest() -> f64 {
    22.0
}

/// The nearest distance that a lens focuses on where nothing else is given; and the same in focal lengths, where that is
/// farther. At the latter it draws at a quarter of the size of things, and only lenses made for close work draw larger.
///
/// # Source
/// common practice, no source.
const CLOSEST_M: f64 = 0.3;
const CLOSEST_FOCAL_LENGTHS: f64 = 5.0;

impl Lens {
    /// A prime of this focal length, with nothing else special.
    pub fn prime(focal_mm: f64) -> Self {
        Self {
            name: format!("{focal_mm} mm"),
            focal_mm,
            to_mm: None,
            marks_mm: Vec::new(),
            widest_f: default_widest(),
            narrowest_f: default_narrowest(),
            closest_m: None,
            rise_mm: 0.0,
            shift_mm: 0.0,
            circle_mm: None,
            mapping: Mapping::Rectilinear,
            distortion: Vec::new(),
        }
    }

    /// The longest focal length.
    pub fn longest_mm(&self) -> f64 {
        self.to_mm.unwrap_or(self.focal_mm)
    }

    /// The nearest distance it focuses on: as given, else 0.3 m, or five times its longest focal length where that is
    /// farther.
    pub fn closest_focus_m(&self) -> f64 {
        self.closest_m.unwrap_or_else(|| CLOSEST_M.max(CLOSEST_FOCAL_LENGTHS * self.longest_mm() / 1000.0))
    }

    /// Whether the focal length can be turned.
    pub fn is_zoom(&self) -> bool {
        self.longest_mm() > self.focal_mm
    }

    /// Whether the lens can be set to this focal length.
    pub fn reaches(&self, focal_mm: f64) -> bool {
        (self.focal_mm..=self.longest_mm()).contains(&focal_mm)
    }

    /// The distortion at a focal length: linear between the measured ones, constant beyond them.
    pub fn distortion_at(&self, focal_mm: f64) -> Distortion {
        let after = self.distortion.partition_point(|measured| measured.focal_mm < focal_mm);
        let upper = self.distortion.get(after);
        let lower = after.checked_sub(1).and_then(|index| self.distortion.get(index));
        match (lower, upper) {
            (None, None) => Distortion::NONE,
            (Some(only), None) | (None, Some(only)) => only.coefficients,
            (Some(below), Some(above)) => {
                let share = (focal_mm - below.focal_mm) / (above.focal_mm - below.focal_mm);
                let (a, b) = (below.coefficients.coefficients(), above.coefficients.coefficients());
                let between: Vec<f64> = a.iter().zip(b).map(|(a, b)| a + (b - a) * share).collect();
                Distortion::from_slice(&between).unwrap_or(if share < 0.5 {
                    below.coefficients
                } else {
                    above.coefficients
                })
            }
        }
    }

    /// What is wrong with this lens, as (field, what it is, what it may be); empty when all is well.
    pub fn problems(&self) -> Vec<(&'static str, String, &'static str)> {
        let mut problems = Vec::new();
        let mut bound = |field, value: f64, low: f64, high: f64, range| {
            if !(low..=high).contains(&value) {
                problems.push((field, value.to_string(), range));
            }
        };
        bound("focal_mm", self.focal_mm, 1.0, 5000.0, "1 to 5000 mm");
        if let Some(to_mm) = self.to_mm {
            bound("to_mm", to_mm, self.focal_mm, 5000.0, "focal_mm to 5000 mm");
        }
        for &mark in &self.marks_mm {
            bound("marks_mm", mark, self.focal_mm, self.longest_mm(), "within the lens's own focal lengths");
        }
        bound("widest_f", self.widest_f, 0.5, 256.0, "0.5 to 256");
        bound("narrowest_f", self.narrowest_f, self.widest_f, 512.0, "widest_f to 512");
        if let Some(closest_m) = self.closest_m {
            bound("closest_m", closest_m, 0.01, 1000.0, "0.01 to 1000 m");
        }
        bound("rise_mm", self.rise_mm, 0.0, 200.0, "0 to 200 mm");
        bound("lateral_shift_mm", self.shift_mm, 0.0, 200.0, "0 to 200 mm");
        if let Some(circle_mm) = self.circle_mm {
            bound("circle_mm", circle_mm, 1.0, 2000.0, "1 to 2000 mm");
        }
        // Nearer than its focal length a lens draws no picture.
        if let Some(near_m) = self.closest_m.filter(|near_m| (0.01..=self.longest_mm() / 1000.0).contains(near_m)) {
            problems.push(("closest_m", near_m.to_string(), "beyond the longest focal length"));
        }
        if self.distortion.windows(2).any(|pair| pair[0].focal_mm >= pair[1].focal_mm) {
            problems.push(("distortion", "out of order".into(), "focal lengths rising from entry to entry"));
        }
        problems
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distortion_runs_straight_between_measured_focal_lengths() {
        let at = |focal_mm, k1| DistortionAt {
            focal_mm,
            coefficients: Distortion::from_slice(&[k1, 0.0, 0.0, 0.0, 0.0]).expect("mild"),
        };
        let zoom = Lens { to_mm: Some(70.0), distortion: vec![at(24.0, -0.1), at(70.0, 0.02)], ..Lens::prime(24.0) };
        assert!((zoom.distortion_at(47.0).coefficients()[0] + 0.04).abs() < 1e-12);
        assert_eq!(zoom.distortion_at(20.0).coefficients()[0], -0.1);
        assert!(Lens::prime(50.0).distortion_at(50.0).is_none());
    }

    #[test]
    fn no_lens_is_focused_nearer_than_its_focal_length() {
        for focal_mm in [1.0, 24.0, 60.0, 400.0, 5000.0] {
            let lens = Lens::prime(focal_mm);
            let closest_m = lens.closest_focus_m();
            assert!(closest_m > 4.9 * focal_mm / 1000.0 && closest_m >= 0.3, "{closest_m}");
            assert_eq!(lens.problems(), []);
        }
        let near = Lens { closest_m: Some(0.3), ..Lens::prime(400.0) };
        assert_eq!(near.problems(), [("closest_m", "0.3".to_owned(), "beyond the longest focal length")]);
        let zoom = Lens { to_mm: Some(200.0), closest_m: Some(0.2), ..Lens::prime(70.0) };
        assert_eq!(zoom.problems().len(), 1);
    }
}
