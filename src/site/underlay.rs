//! How does a picture of the place from above lie under the plan: one's own plan, survey, print of a map or photograph?
//!
//! A place on the picture is (right, down) in pixels from its top left corner, so that the middle of its first pixel is
//! (0.5, 0.5). With the scale s and turned clockwise by θ it lies in plan at
//! x = `at`.x + s·(right·cos θ − down·sin θ), y = `at`.y − s·(right·sin θ + down·cos θ).

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::PlanPoint;
use super::value_tree::short;

/// A place on a picture: pixels right of its top left corner, and below it. Rows count as they are stored in the file.
pub type PicturePoint = (f64, f64);

/// How large a pixel may be on the ground: from a large print's to that of a picture of a whole district.
pub const METRES_PER_PIXEL: (f64, f64) = (0.0005, 50.0);

/// How far from the anchor a picture's corner may lie, east or north.
pub(super) const FARTHEST_CORNER_M: f64 = 20_000.0;
/// How long the name of its file may be.
const LONGEST_NAME: usize = 120;

/// A picture of the place from above, laid under the plan.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Underlay {
    /// The picture's file, which lies beside the site's: a name without folders.
    pub file: String,
    /// Where the picture's top left corner lies: the outer corner of its first pixel.
    pub at: PlanPoint,
    /// The side of a pixel on the ground.
    pub metres_per_pixel: f64,
    /// The compass direction in which the picture's upper edge lies: clockwise, north unless given.
    #[serde(default)]
    pub turned_deg: f64,
    /// How strongly it is shown: 0 not at all, 1 as it is.
    #[serde(default = "usual_strength")]
    pub strength: f64,
}

/// The strength of a picture that names none: its lines can be told, and those of the plan stand out from them.
pub const fn usual_strength() -> f64 {
    0.4
}

/// Why a picture cannot be laid so.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum LayingError {
    /// The points of the picture are one.
    #[error("the points lie on the same pixel of the picture; press points that lie far apart")]
    SamePixel,
    /// The places in plan are one.
    #[error("the points are to lie on the same place; drag them apart")]
    SamePlace,
    /// A length that is none.
    #[error("the distance between A and B is {length_m} m; it must be more than 0")]
    Length {
        /// What was given.
        length_m: f64,
    },
    /// A scale out of range.
    #[error(
        "a pixel would be {metres_per_pixel} m on the ground; from {low} to {high} m is allowed: look at the distance again",
        low = METRES_PER_PIXEL.0, high = METRES_PER_PIXEL.1
    )]
    Scale {
        /// What it would be.
        metres_per_pixel: f64,
    },
    /// A picture that would lie too far away.
    #[error("its corner would lie {distance_km:.1} km from the anchor; at most {most_km:.0} km is allowed", most_km = FARTHEST_CORNER_M / 1000.0)]
    TooFar {
        /// How far.
        distance_km: f64,
    },
}

impl Underlay {
    /// The plan position of a place on the picture.
    ///
    /// # Example
    /// ```
    /// use plumbsight::site::Underlay;
    /// let survey = Underlay { file: "survey.png".into(), at: (10.0, 20.0), metres_per_pixel: 0.5, turned_deg: 90.0, strength: 1.0 };
    /// // Turned by a right angle its rows run southwards, and down is west.
    /// let (x, y) = survey.plan_of_pixel((4.0, 6.0));
    /// assert!((x - 7.0).abs() < 1e-12 && (y - 18.0).abs() < 1e-12);
    /// ```
    pub fn plan_of_pixel(&self, (right, down): PicturePoint) -> PlanPoint {
        let (sine, cosine) = self.turned_deg.to_radians().sin_cos();
        (
            self.at.0 + self.metres_per_pixel * (right * cosine - down * sine),
            self.at.1 - self.metres_per_pixel * (right * sine + down * cosine),
        )
    }

    /// The place on the picture that lies at a plan position; it may lie outside the picture.
    pub fn pixel_of_plan(&self, (x, y): PlanPoint) -> PicturePoint {
        let (sine, cosine) = self.turned_deg.to_radians().sin_cos();
        let (east, south) = ((x - self.at.0) / self.metres_per_pixel, (self.at.1 - y) / self.metres_per_pixel);
        (east * cosine + south * sine, south * cosine - east * sine)
    }

    /// The same picture laid so that places on it come to lie where they belong: two exactly, more with the least sum of
    /// squared misses.
    ///
    /// # Formula
    /// With right − i·down as w and x + i·y as z, counted from their means: s·e^(−iθ) = Σ z·w̄ / Σ |w|².
    ///
    /// # Errors
    /// All are one pixel or one place, or it would be out of range.
    pub fn laid_by_points(&self, points: &[(PicturePoint, PlanPoint)]) -> Result<Self, LayingError> {
        let count = points.len() as f64;
        let mean = |of: &dyn Fn(&(PicturePoint, PlanPoint)) -> f64| points.iter().map(of).sum::<f64>() / count;
        let (right, down) = (mean(&|point| point.0.0), mean(&|point| point.0.1));
        let (east, north) = (mean(&|point| point.1.0), mean(&|point| point.1.1));
        let (mut real, mut imaginary, mut spread, mut moved) = (0.0, 0.0, 0.0, 0.0);
        for &((pixel_x, pixel_y), (x, y)) in points {
            let (w, z) = ((pixel_x - right, down - pixel_y), (x - east, y - north));
            real += z.0 * w.0 + z.1 * w.1;
            imaginary += z.1 * w.0 - z.0 * w.1;
            spread += w.0 * w.0 + w.1 * w.1;
            moved += z.0 * z.0 + z.1 * z.1;
        }
        // A hundredth of a pixel apart is the same pixel; so no points at all.
        if spread.is_nan() || spread <= 1e-4 * count {
            return Err(LayingError::SamePixel);
        }
        if moved.is_nan() || moved <= 1e-12 * count {
            return Err(LayingError::SamePlace);
        }
        let (real, imaginary) = (real / spread, imaginary / spread);
        let turned = Self {
            at: (0.0, 0.0),
            metres_per_pixel: real.hypot(imaginary),
            turned_deg: (-imaginary).atan2(real).to_degrees(),
            ..self.clone()
        };
        let middle = turned.plan_of_pixel((right, down));
        Self { at: (east - middle.0, north - middle.1), ..turned }.in_range()
    }

    /// The same picture with another scale, so that two places on it are so far apart; the first one and the turn stay.
    ///
    /// # Errors
    /// Both are one pixel, the length is none, or the picture would be out of range.
    pub fn scaled_by_length(&self, [a, b]: [PicturePoint; 2], length_m: f64) -> Result<Self, LayingError> {
        let pixels = (a.0 - b.0).hypot(a.1 - b.1);
        if pixels.is_nan() || pixels <= 0.01 {
            return Err(LayingError::SamePixel);
        }
        if !(length_m > 0.0 && length_m.is_finite()) {
            return Err(LayingError::Length { length_m });
        }
        let kept = self.plan_of_pixel(a);
        let scaled = Self { at: (0.0, 0.0), metres_per_pixel: length_m / pixels, ..self.clone() };
        let from_corner = scaled.plan_of_pixel(a);
        Self { at: (kept.0 - from_corner.0, kept.1 - from_corner.1), ..scaled }.in_range()
    }

    /// The picture with its numbers as a file should read: corners keep their place to a millimetre in five thousand
    /// pixels of a metre.
    pub fn rounded(self) -> Self {
        let to = |value: f64, digits: i32| {
            let unit = 10_f64.powi(digits);
            (value * unit).round() / unit
        };
        Self {
            at: (to(self.at.0, 3), to(self.at.1, 3)),
            metres_per_pixel: to(self.metres_per_pixel, 7),
            turned_deg: to(self.turned_deg, 5),
            strength: to(self.strength, 2),
            ..self
        }
    }

    /// How far the given places miss where they belong, at most.
    pub(crate) fn largest_miss_m(&self, points: &[(PicturePoint, PlanPoint)]) -> f64 {
        points.iter().fold(0.0, |most: f64, &(pixel, (x, y))| {
            let (laid_x, laid_y) = self.plan_of_pixel(pixel);
            most.max((laid_x - x).hypot(laid_y - y))
        })
    }

    fn in_range(self) -> Result<Self, LayingError> {
        let metres_per_pixel = self.metres_per_pixel;
        if !(METRES_PER_PIXEL.0..=METRES_PER_PIXEL.1).contains(&metres_per_pixel) {
            return Err(LayingError::Scale { metres_per_pixel });
        }
        if ![self.at.0, self.at.1].iter().all(|value| (-FARTHEST_CORNER_M..=FARTHEST_CORNER_M).contains(value)) {
            return Err(LayingError::TooFar { distance_km: self.at.0.hypot(self.at.1) / 1000.0 });
        }
        Ok(self)
    }
}

/// What is wrong with a name for a file beside the site's, if anything.
pub(super) fn file_name_fault(name: &str) -> Option<String> {
    if name.trim().is_empty() {
        return Some("is blank".into());
    }
    let leads_elsewhere = name.contains(['/', '\\', ':']) || matches!(name, "." | "..");
    let is_odd = name.chars().any(char::is_control) || name.chars().count() > LONGEST_NAME;
    (leads_elsewhere || is_odd).then(|| format!("is '{}'", short(name)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn survey() -> Underlay {
        Underlay { file: "survey.png".into(), at: (0.0, 0.0), metres_per_pixel: 1.0, turned_deg: 0.0, strength: 0.5 }
    }

    fn assert_at((x, y): PlanPoint, (wanted_x, wanted_y): PlanPoint) {
        assert!((x - wanted_x).abs() < 1e-9 && (y - wanted_y).abs() < 1e-9, "({x}, {y}) for ({wanted_x}, {wanted_y})");
    }

    #[test]
    fn pixels_lie_where_they_are_by_hand() {
        // A triangle of 3, 4 and 5: turned clockwise by the angle whose sine is 0.6 and cosine 0.8. A step of 10 pixels to the
        // right is 8 m east and 6 m south at a metre a pixel, 10 down is 6 m west and 8 m south.
        let turned_deg = 0.6_f64.atan2(0.8).to_degrees();
        let laid = Underlay { at: (100.0, 50.0), metres_per_pixel: 1.0, turned_deg, ..survey() };
        assert_at(laid.plan_of_pixel((0.0, 0.0)), (100.0, 50.0));
        assert_at(laid.plan_of_pixel((10.0, 0.0)), (108.0, 44.0));
        assert_at(laid.plan_of_pixel((0.0, 10.0)), (94.0, 42.0));
        assert_at(laid.pixel_of_plan((108.0, 44.0)), (10.0, 0.0));
        assert_at(laid.pixel_of_plan((94.0, 42.0)), (0.0, 10.0));
        // At a tenth of a metre a pixel the same steps are a tenth as long.
        let fine = Underlay { metres_per_pixel: 0.1, ..laid };
        assert_at(fine.plan_of_pixel((10.0, 10.0)), (100.0 + 0.8 - 0.6, 50.0 - 0.6 - 0.8));
    }

    #[test]
    fn two_points_lay_it_exactly() {
        // Pixels 500 apart along a row, 50 m apart due south in plan: 0.1 m a pixel, turned by a right angle.
        let laid =
            survey().laid_by_points(&[((100.0, 40.0), (7.0, 60.0)), ((600.0, 40.0), (7.0, 10.0))]).expect("laid");
        assert!((laid.metres_per_pixel - 0.1).abs() < 1e-12 && (laid.turned_deg - 90.0).abs() < 1e-9, "{laid:?}");
        // The corner is 100 pixels back north, and 40 up, which is east.
        assert_at(laid.at, (7.0 + 4.0, 60.0 + 10.0));
        assert_eq!((laid.file.as_str(), laid.strength), ("survey.png", 0.5));
    }

    #[test]
    fn more_points_are_missed_by_as_little_as_can_be() {
        let truth = Underlay { at: (-31.5, 12.25), metres_per_pixel: 0.2, turned_deg: -17.0, ..survey() };
        let pixels = [(0.0, 0.0), (800.0, 10.0), (790.0, 600.0), (20.0, 580.0), (400.0, 300.0)];
        let errors = [(0.3, -0.1), (-0.2, 0.2), (0.1, 0.4), (-0.3, -0.2), (0.2, -0.3)];
        let points: Vec<_> = pixels
            .iter()
            .zip(errors)
            .map(|(&pixel, (east, north))| {
                let (x, y) = truth.plan_of_pixel(pixel);
                (pixel, (x + east, y + north))
            })
            .collect();
        let squares = |laid: &Underlay| -> f64 {
            points
                .iter()
                .map(|&(pixel, (x, y))| {
                    let at = laid.plan_of_pixel(pixel);
                    (at.0 - x).powi(2) + (at.1 - y).powi(2)
                })
                .sum()
        };
        let best = survey().laid_by_points(&points).expect("laid");
        let least = squares(&best);
        // Whichever of the four numbers is changed, and which way, the sum of squares grows.
        for by in [-1.0, 1.0] {
            let others = [
                Underlay { at: (best.at.0 + 0.01 * by, best.at.1), ..best.clone() },
                Underlay { at: (best.at.0, best.at.1 + 0.01 * by), ..best.clone() },
                Underlay { metres_per_pixel: best.metres_per_pixel + 1e-5 * by, ..best.clone() },
                Underlay { turned_deg: best.turned_deg + 0.005 * by, ..best.clone() },
            ];
            for other in others {
                assert!(squares(&other) > least, "{other:?}");
            }
        }
    }

    #[test]
    fn a_known_length_scales_it_about_its_first_point() {
        let laid = Underlay { at: (5.0, 5.0), metres_per_pixel: 0.25, turned_deg: 30.0, ..survey() };
        let (a, b) = ((120.0, 80.0), (420.0, 480.0));
        // 300 and 400 pixels: 500 apart. At 30.5 m that is 0.061 m a pixel.
        let scaled = laid.scaled_by_length([a, b], 30.5).expect("scaled");
        assert!((scaled.metres_per_pixel - 0.061).abs() < 1e-12, "{scaled:?}");
        assert_at(scaled.plan_of_pixel(a), laid.plan_of_pixel(a));
        assert_eq!(scaled.turned_deg, 30.0);
        let (to_a, to_b) = (scaled.plan_of_pixel(a), scaled.plan_of_pixel(b));
        assert!(((to_a.0 - to_b.0).hypot(to_a.1 - to_b.1) - 30.5).abs() < 1e-9);
        let rounded = scaled.clone().rounded();
        let (fine, coarse) = (scaled.plan_of_pixel((5000.0, 5000.0)), rounded.plan_of_pixel((5000.0, 5000.0)));
        assert!((fine.0 - coarse.0).hypot(fine.1 - coarse.1) < 2e-3, "{rounded:?}");
    }

    #[test]
    fn what_cannot_be_laid_is_refused_with_its_reason() {
        let nan = f64::NAN;
        let same_pixel = [((5.0, 5.0), (0.0, 0.0)), ((5.0, 5.0), (9.0, 0.0))];
        assert_eq!(survey().laid_by_points(&same_pixel), Err(LayingError::SamePixel));
        assert_eq!(survey().laid_by_points(&[]), Err(LayingError::SamePixel));
        assert_eq!(
            survey().laid_by_points(&[((nan, 0.0), (0.0, 0.0)), ((1.0, 0.0), (1.0, 0.0))]),
            Err(LayingError::SamePixel)
        );
        let same_place = [((5.0, 5.0), (3.0, 4.0)), ((900.0, 5.0), (3.0, 4.0))];
        assert_eq!(survey().laid_by_points(&same_place), Err(LayingError::SamePlace));
        let far = [((0.0, 0.0), (3e4, 0.0)), ((100.0, 0.0), (3e4 + 100.0, 0.0))];
        assert_eq!(survey().laid_by_points(&far), Err(LayingError::TooFar { distance_km: 30.0 }));
        let wide = [((0.0, 0.0), (0.0, 0.0)), ((1.0, 0.0), (51.0, 0.0))];
        assert_eq!(survey().laid_by_points(&wide), Err(LayingError::Scale { metres_per_pixel: 51.0 }));
        for length_m in [0.0, -1.0, nan, f64::INFINITY] {
            let refused = survey().scaled_by_length([(0.0, 0.0), (100.0, 0.0)], length_m);
            assert!(matches!(refused, Err(LayingError::Length { .. })), "{length_m}");
        }
        assert_eq!(survey().scaled_by_length([(1.0, 1.0); 2], 5.0), Err(LayingError::SamePixel));
    }

    #[test]
    fn a_file_lies_beside_the_site() {
        for good in ["survey.png", "old map 1904.jpg", "Ordnance..2.tif", "plän.png"] {
            assert_eq!(file_name_fault(good), None, "{good}");
        }
        for bad in ["", "  ", "..", ".", "../survey.png", "maps/survey.png", "C:\\survey.png", "a\nb.png"] {
            assert!(file_name_fault(bad).is_some(), "{bad}");
        }
    }
}
