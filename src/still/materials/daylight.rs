//! What light do sun and sky give?
//!
//! Luminances in kcd/m², illuminances in klx, so that sun and sky stand in their true ratio; colours as linear sRGB, white
//! being what sun and sky together give.
//!
//! # Source
//! A. J. Preetham, P. Shirley and B. Smits, *A Practical Analytic Model for Daylight*, SIGGRAPH 1999: the sky's luminance and
//! chromaticity (appendix A.2), the sun's attenuation by air and haze (A.1). Without a sun: the overcast sky of CIE S 011/E:2003,
//! a third as bright at the horizon as at the zenith.

use crate::pose::WorldVector;
use crate::site::Sun;

use super::super::tones::Light;

/// How hazy the air is: a clear day in a temperate country. Common practice, no source.
const TURBIDITY: f64 = 2.6;
/// The illuminance of the sun outside the air, in klx (IES *Lighting Handbook*, from memory).
const SUN_KLX: f64 = 133.1;
/// The lowest sun that the model is asked about, in degrees.
const LOWEST_DEG: f64 = 2.0;
/// Half the width of the sun's disc, in degrees (NREL/TP-560-34302, §A.2).
const SUN_RADIUS_DEG: f64 = 0.266_67;
/// How much of the light's own colour the eye takes for white. Common practice, no source.
const ADAPTED: f64 = 0.7;
/// How far the sky's colour goes towards a pale blue of the same luminance: the model's own is violet beside prints of skies.
/// Common practice, no source.
const PALE: (f64, [f64; 3]) = (0.68, [0.91, 1.0, 1.13]);
/// How far a picture's colours go towards grey, as prints do. Common practice, no source.
const GREYED: f64 = 0.10;
/// How much lighter than its luminance the sky is shown, as a lens hood and a print would have it.
const SKY_LIFT: f64 = 1.25;

/// The light of one picture: it depends on the sun alone, so exposure holds from stance to stance.
pub(super) struct Daylight {
    sky: Option<ClearSky>,
    /// Towards the sun; straight up when there is none.
    pub(super) toward_sun: WorldVector,
    /// Illuminance across the sun's rays.
    pub(super) sun: Light,
    /// Illuminance of level ground by the whole sky.
    pub(super) from_sky: Light,
    white: Light,
    exposure: f64,
}

/// The sky's distribution: Perez's five figures and the zenith, for luminance and both chromaticities.
struct ClearSky {
    toward_sun: WorldVector,
    figures: [[f64; 5]; 3],
    zenith: [f64; 3],
    /// What the distribution is at the zenith.
    scale: [f64; 3],
}

impl ClearSky {
    fn under(toward_sun: WorldVector) -> Self {
        let t = TURBIDITY;
        let figures = [
            [
                0.1787 * t - 1.4630,
                -0.3554 * t + 0.4275,
                -0.0227 * t + 5.3251,
                0.1206 * t - 2.5771,
                -0.0670 * t + 0.3703,
            ],
            [
                -0.0193 * t - 0.2592,
                -0.0665 * t + 0.0008,
                -0.0004 * t + 0.2125,
                -0.0641 * t - 0.8989,
                -0.0033 * t + 0.0452,
            ],
            [
                -0.0167 * t - 0.2608,
                -0.0950 * t + 0.0092,
                -0.0079 * t + 0.2102,
                -0.0441 * t - 1.6537,
                -0.0109 * t + 0.0529,
            ],
        ];
        let from_zenith = toward_sun.z.clamp(-1.0, 1.0).acos();
        let powers = [from_zenith.powi(3), from_zenith.powi(2), from_zenith, 1.0];
        let chromaticity = |table: [[f64; 4]; 3]| -> f64 {
            let by_turbidity = [t * t, t, 1.0];
            let row = |row: &[f64; 4]| row.iter().zip(powers).map(|(a, b)| a * b).sum::<f64>();
            table.iter().zip(by_turbidity).map(|(figures, weight)| row(figures) * weight).sum()
        };
        let chi = (4.0 / 9.0 - t / 120.0) * (std::f64::consts::PI - 2.0 * from_zenith);
        let zenith = [
            (4.0453 * t - 4.9710) * chi.tan() - 0.2155 * t + 2.4192,
            chromaticity([
                [0.00166, -0.00375, 0.00209, 0.0],
                [-0.02903, 0.06377, -0.03202, 0.00394],
                [0.11693, -0.21196, 0.06052, 0.25886],
            ]),
            chromaticity([
                [0.00275, -0.00610, 0.00317, 0.0],
                [-0.04214, 0.08970, -0.04153, 0.00516],
                [0.15346, -0.26756, 0.06670, 0.26688],
            ]),
        ];
        let scale = figures.map(|figures| perez(&figures, 1.0, from_zenith));
        Self { toward_sun, figures, zenith, scale }
    }

    /// Luminance and chromaticity in a direction.
    fn at(&self, direction: &WorldVector) -> Light {
        let up = direction.z.max(0.012);
        let from_sun = direction.dot(&self.toward_sun).clamp(-1.0, 1.0).acos();
        let [luminance, x, y] =
            [0, 1, 2].map(|part| self.zenith[part] * perez(&self.figures[part], up, from_sun) / self.scale[part]);
        from_chromaticity(luminance.max(0.0), x, y)
    }
}

/// Perez's distribution for a direction whose height above the horizon has the sine `up`.
fn perez([a, b, c, d, e]: &[f64; 5], up: f64, from_sun: f64) -> f64 {
    (1.0 + a * (b / up).exp()) * (1.0 + c * (d * from_sun).exp() + e * from_sun.cos().powi(2))
}

/// Linear sRGB of a luminance and a chromaticity.
///
/// # Source
/// IEC 61966-2-1, the matrix from CIE 1931 XYZ.
fn from_chromaticity(luminance: f64, x: f64, y: f64) -> Light {
    let (big_x, big_z) = (luminance * x / y, luminance * (1.0 - x - y) / y);
    Light::new(
        3.2406 * big_x - 1.5372 * luminance - 0.4986 * big_z,
        -0.9689 * big_x + 1.8758 * luminance + 0.0415 * big_z,
        0.0557 * big_x - 0.2040 * luminance + 1.0570 * big_z,
    )
    .sup(&Light::zeros())
}

/// The brightness that the eye gives to linear sRGB.
pub(super) fn luminance(light: &Light) -> f64 {
    0.2126 * light.x + 0.7152 * light.y + 0.0722 * light.z
}

impl Daylight {
    /// The light under a sun; without one that is up, an overcast day.
    pub(super) fn under(sun: Option<&Sun>) -> Self {
        let risen = sun.filter(|sun| sun.altitude_deg > 0.0 && sun.azimuth_deg.is_finite());
        let mut light = match risen {
            Some(sun) => {
                let toward_sun = sun.direction();
                let modelled = Sun { altitude_deg: sun.altitude_deg.max(LOWEST_DEG), ..*sun };
                Self {
                    sky: Some(ClearSky::under(modelled.direction())),
                    toward_sun,
                    sun: through_the_air(modelled.altitude_deg) * SUN_KLX,
                    from_sky: Light::zeros(),
                    white: Light::from_element(1.0),
                    exposure: 1.0,
                }
            }
            None => Self {
                sky: None,
                toward_sun: WorldVector::z(),
                sun: Light::zeros(),
                from_sky: Light::zeros(),
                white: Light::from_element(1.0),
                exposure: 1.0,
            },
        };
        light.from_sky = light.whole_sky();
        let level = light.sun * light.toward_sun.z.max(0.25) + light.from_sky;
        let white = level / luminance(&level);
        light.white = white * ADAPTED + Light::from_element(1.0 - ADAPTED);
        // A white wall that the sun meets nearly square comes out a little below white.
        let wall = luminance(&light.sun) * 0.8 + 0.6 * luminance(&light.from_sky);
        light.exposure = 1.55 * std::f64::consts::PI / wall.max(1e-3);
        light
    }

    /// Whether there is a sun that casts shadows.
    pub(super) fn has_sun(&self) -> bool {
        self.sky.is_some()
    }

    /// The sky's luminance in a direction, without the sun's disc; below the horizon as at it.
    pub(super) fn sky(&self, direction: &WorldVector) -> Light {
        match &self.sky {
            Some(sky) => {
                let light = sky.at(direction);
                let pale = Light::from(PALE.1) * (luminance(&light) / luminance(&Light::from(PALE.1)));
                light + (pale - light) * PALE.0
            }
            // (1 + 2 sin γ)/3 of the zenith.
            None => Light::new(2.1, 2.2, 2.36) * ((1.0 + 2.0 * direction.z.max(0.0)) / 3.0),
        }
    }

    /// The sky as the picture shows it, with the sun's disc in it.
    pub(super) fn sky_and_sun(&self, direction: &WorldVector) -> Light {
        let sky = self.sky(direction) * SKY_LIFT;
        let from_sun_deg = direction.dot(&self.toward_sun).clamp(-1.0, 1.0).acos().to_degrees();
        if self.has_sun() && from_sun_deg < SUN_RADIUS_DEG { sky + self.sun * 40.0 } else { sky }
    }

    /// What the air in front of something far away adds: the sky over the horizon that way.
    pub(super) fn haze(&self, direction: &WorldVector) -> Light {
        let flat = WorldVector::new(direction.x, direction.y, 0.06 * direction.xy().norm()).try_normalize(1e-9);
        let low = self.sky(&flat.unwrap_or_else(WorldVector::z));
        // Half of it has been scattered more than once and knows no direction.
        low * (0.55 * SKY_LIFT) + self.from_sky * (0.45 / std::f64::consts::PI)
    }

    /// Illuminance of level ground: the integral of luminance × sine of height over the half sphere, by the middle rule.
    fn whole_sky(&self) -> Light {
        let (rings, around) = (24, 48);
        let mut sum = Light::zeros();
        for ring in 0..rings {
            let up = ((f64::from(ring) + 0.5) / f64::from(rings)).sqrt();
            let flat = (1.0 - up * up).sqrt();
            for step in 0..around {
                let turn = std::f64::consts::TAU * (f64::from(step) + 0.5) / f64::from(around);
                sum += self.sky(&WorldVector::new(flat * turn.sin(), flat * turn.cos(), up));
            }
        }
        // Equal steps of the sine's square are equal shares of the light on level ground.
        sum * (std::f64::consts::PI / f64::from(rings * around))
    }

    /// What the picture shows of a luminance: exposed, balanced to the day's white, with soft highlights.
    pub(super) fn developed(&self, light: &Light) -> Light {
        let exposed = light.component_div(&self.white) * self.exposure;
        let exposed = exposed * (1.0 - GREYED) + Light::from_element(GREYED * luminance(&exposed));
        exposed.map(|value| {
            let value = value.max(0.0);
            // Straight up to a half, then a shoulder that reaches white at five times a white wall.
            if value < 0.5 { value * 0.92 } else { 0.46 + 0.54 * (1.0 - (-(value - 0.5) * (0.92 / 0.54)).exp()) }
        })
    }
}

/// What is left of the sun's light, red, green and blue, after the air at a height above the horizon.
fn through_the_air(altitude_deg: f64) -> Light {
    let from_zenith_deg = 90.0 - altitude_deg;
    let mass = 1.0 / (from_zenith_deg.to_radians().cos() + 0.15 * (93.885 - from_zenith_deg).powf(-1.253));
    let haze = 0.046_08 * TURBIDITY - 0.045_86;
    let left = |micrometres: f64| {
        let air = 0.008_735 * micrometres.powf(-4.08);
        let haze = haze * micrometres.powf(-1.3);
        (-(air + haze) * mass).exp()
    };
    Light::new(left(0.61), left(0.55), left(0.465))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_zenith_is_as_bright_as_the_paper_has_it() {
        // Y_z = (4.0453·T − 4.9710)·tan χ − 0.2155·T + 2.4192, worked by hand for T = 2.6 and a sun 30° from the zenith:
        // χ = (4/9 − 2.6/120)(180° − 60°) = 50.733°, tan χ = 1.2234.
        let sun = Sun { azimuth_deg: 120.0, altitude_deg: 60.0 };
        let sky = ClearSky::under(sun.direction());
        assert!((sky.zenith[0] - (5.54678 * 1.2234 - 0.5603 + 2.4192)).abs() < 0.01, "{}", sky.zenith[0]);
        assert!((luminance(&sky.at(&WorldVector::z())) - sky.zenith[0]).abs() < 0.01 * sky.zenith[0]);
    }

    #[test]
    fn the_sun_outshines_the_sky_by_day_and_less_so_low_down() {
        let ratio = |altitude_deg: f64| {
            let light = Daylight::under(Some(&Sun { azimuth_deg: 200.0, altitude_deg }));
            luminance(&light.sun) * light.toward_sun.z / luminance(&light.from_sky)
        };
        // A clear noon has four to eight times as much of the sun as of the sky on level ground (from memory).
        assert!((3.0..9.0).contains(&ratio(60.0)), "{}", ratio(60.0));
        assert!(ratio(10.0) < 0.5 * ratio(60.0));
    }

    #[test]
    fn the_horizon_is_paler_than_the_zenith_and_the_low_sun_redder() {
        let light = Daylight::under(Some(&Sun { azimuth_deg: 180.0, altitude_deg: 40.0 }));
        let blue = |direction: WorldVector| {
            let sky = light.sky(&direction);
            sky.z / sky.x
        };
        assert!(blue(WorldVector::z()) > 1.3 * blue(WorldVector::new(1.0, 0.0, 0.02).normalize()));
        let (low, high) = (through_the_air(5.0), through_the_air(60.0));
        assert!(low.x / low.z > 1.3 * high.x / high.z);
    }
}
