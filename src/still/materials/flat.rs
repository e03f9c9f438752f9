//! What is left of materials where nothing but one colour a surface can be shown?
//!
//! The window shows these while one walks; at rest it lays the exact picture over them.

use std::f64::consts::PI;

use crate::pose::WorldVector;
use crate::site::{Model, Sun};
use crate::theme::Colour;

use super::super::tones::Light;
use super::daylight::Daylight;
use super::floor::Floors;
use super::skins::face_colours;

/// The sun under which a surface's own colour is told: it stays when the sun moves on.
const USUAL_SUN: Sun = Sun { azimuth_deg: 180.0, altitude_deg: 40.0 };
/// How squarely the sun falls on what counts as lit, and how much of the sky an upright wall sees.
const SQUARE: f64 = 0.75;
const SKY_SEEN: f64 = 0.55;

/// The colours of ground, sky and water under a sun, and what shade leaves of a colour.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct FlatTones {
    /// By how much the colour of what is lit, and of what lies in shade, is multiplied.
    pub(crate) light: [Colour; 2],
    /// Level ground in the sun and in shade.
    pub(crate) ground: [Colour; 2],
    /// The sky overhead, and low down.
    pub(crate) sky: [Colour; 2],
    /// Still water.
    pub(crate) water: Colour,
}

impl FlatTones {
    /// Those of a site.
    pub(crate) fn of(model: &Model, sun: Option<&Sun>) -> Self {
        let day = Daylight::under(sun);
        let usual = lit(&Daylight::under(Some(&USUAL_SUN)), &Light::from_element(0.4), SQUARE, SKY_SEEN);
        let kept = |square: f64| {
            let now = lit(&day, &Light::from_element(0.4), square, SKY_SEEN);
            now.component_div(&usual).map(|share| share.clamp(0.0, 1.0))
        };
        let ground = Floors::of(&model.site).usual();
        let up = day.toward_sun.z.max(0.0);
        // Across the sun's own direction, where the sky is plain.
        let across = WorldVector::new(-day.toward_sun.y, day.toward_sun.x, 0.0);
        let aside = across.try_normalize(1e-6).unwrap_or_else(WorldVector::x);
        let sky = |up: f64| {
            let direction = (aside + WorldVector::z() * up).normalize();
            colour(&day.developed(&day.sky_and_sun(&direction)))
        };
        Self {
            light: [kept(SQUARE), kept(0.0)].map(|share| colour(&share)),
            ground: [up, 0.0].map(|square| colour(&lit(&day, &ground, square, 1.0))),
            sky: [sky(1.7), sky(0.05)],
            water: colour(&day.developed(&(day.sky(&(aside + WorldVector::z() * 0.3).normalize()) * 0.5))),
        }
    }
}

/// The colour of each face of a block in the sun, in the order of its faces.
pub(crate) fn face_tones(model: &Model, block: usize) -> Vec<Colour> {
    let day = Daylight::under(Some(&USUAL_SUN));
    face_colours(model, block).iter().map(|share| colour(&lit(&day, share, SQUARE, SKY_SEEN))).collect()
}

/// What the picture shows of a surface that throws back a share of the light.
fn lit(day: &Daylight, share: &Light, square: f64, sky_seen: f64) -> Light {
    let light = (day.sun * square + day.from_sky * sky_seen) / PI;
    day.developed(&share.component_mul(&light))
}

fn colour(light: &Light) -> Colour {
    Colour::from_linear([light.x, light.y, light.z])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::site::parse_site;

    #[test]
    fn brick_is_red_slate_is_grey_and_shade_is_darker() {
        let text = "Site(format: 1, name: \"a\", blocks: [(name: \"brick mill\", subject: true, at: (0, 0), \
                    shape: Gable(width_m: 10, depth_m: 6, eaves_m: 6, ridge_m: 9))])";
        let model = Model::build(parse_site(text, "a").expect("a site"));
        let tones = face_tones(&model, 0);
        assert_eq!(tones.len(), model.solids[0].faces.len());
        let of = |upright: bool| {
            let faces = model.solids[0].faces.iter().zip(&tones);
            faces
                .filter(move |(face, _)| (face.normal.z.abs() < 0.1) == upright && face.normal.z > -0.5)
                .map(|(_, tone)| *tone)
        };
        assert!(of(true).all(|Colour(red, green, blue)| red > green && green > blue), "{tones:?}");
        assert!(of(false).all(|Colour(red, _, blue)| red.abs_diff(blue) < 60), "{tones:?}");
        let flat = FlatTones::of(&model, Some(&USUAL_SUN));
        let brightness = |Colour(red, green, blue): Colour| u32::from(red) + u32::from(green) + u32::from(blue);
        for [bright, dark] in [flat.light, flat.ground] {
            assert!(brightness(dark) * 10 < brightness(bright) * 9, "{flat:?}");
        }
        assert!(flat.sky[0].2 > flat.sky[0].0, "the sky overhead is blue: {flat:?}");
    }
}
