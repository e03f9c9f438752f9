//! Which tone has card, ground, water and sky in this light?
//!
//! Tones are mixed between the theme's colours as the eye steps, then carried as linear light, in which the samples
//! of a pixel are averaged.

use nalgebra::Vector3;

use crate::pose::WorldVector;
use crate::sight::DistantLight;
use crate::site::{Finish, Sun};
use crate::theme::{Colour, Palette, Theme};

/// Linear light: red, green, blue.
pub(super) type Light = Vector3<f64>;

/// How many steps a ramp is laid out in.
const STEPS: usize = 512;
/// The tone that a ramp can go beyond its lit end, for ground that faces the sun more than level ground does.
const BRIGHTEST: f64 = 1.15;

/// The sun's disc as seen from the Earth.
///
/// # Source
/// Half of the mean apparent diameter: 0.26667° (NREL/TP-560-34302, §A.2).
const SUN_RADIUS_DEG: f64 = 0.266_67;

/// The tones between shade and light of one card.
pub(super) struct ToneScale(Vec<Light>);

impl ToneScale {
    fn between(shaded: Colour, lit: Colour) -> Self {
        let tone = |step: usize| {
            let share = BRIGHTEST * step as f64 / (STEPS - 1) as f64;
            let coded = |dark: u8, bright: u8| f64::from(dark) + (f64::from(bright) - f64::from(dark)) * share;
            linear([coded(shaded.0, lit.0), coded(shaded.1, lit.1), coded(shaded.2, lit.2)])
        };
        Self((0..STEPS).map(tone).collect())
    }

    /// The tone at a share of the light: 0 in shade, 1 fully lit.
    pub(super) fn at(&self, share: f64) -> Light {
        let step = share.clamp(0.0, BRIGHTEST) * ((STEPS - 1) as f64 / BRIGHTEST);
        self.0[(step + 0.5) as usize]
    }
}

/// Linear light from sRGB channels of 0 to 255 that need not be whole.
fn linear(coded: [f64; 3]) -> Light {
    Light::from(coded.map(|channel| {
        let share = channel.clamp(0.0, 255.0) / 255.0;
        if share <= 0.04045 { share / 12.92 } else { ((share + 0.055) / 1.055).powf(2.4) }
    }))
}

fn light(colour: Colour) -> Light {
    Light::from(colour.linear())
}

/// A colour part of the way to another, as the eye steps.
fn toward(from: Colour, to: Colour, share: f64) -> Colour {
    let step = |a: u8, b: u8| (f64::from(a) + (f64::from(b) - f64::from(a)) * share).round() as u8;
    Colour(step(from.0, to.0), step(from.1, to.1), step(from.2, to.2))
}

/// Everything that decides a tone, for one picture.
pub(super) struct Tones {
    subject: [ToneScale; 4],
    quiet: [ToneScale; 4],
    figure: ToneScale,
    ground: ToneScale,
    sky: ToneScale,
    haze: Light,
    water: Light,
    pub(super) edge: Light,
    pub(super) contour: Light,
    pub(super) vignette: Light,
    sun_glow: Light,
    /// Where the light comes from.
    pub(super) light_from: WorldVector,
    /// The sun itself and two directions across it, each as long as the tangent of its radius; none without a sun above
    /// the horizon.
    pub(super) sun: Option<SunDisc>,
}

/// The sun as something that has a size.
pub(super) struct SunDisc {
    centre: WorldVector,
    aside: WorldVector,
    above: WorldVector,
    cosine: f64,
}

impl SunDisc {
    fn of(sun: &Sun) -> Self {
        let centre = sun.direction();
        let radius = SUN_RADIUS_DEG.to_radians().tan();
        let aside = WorldVector::new(centre.y, -centre.x, 0.0).try_normalize(1e-9).unwrap_or_else(WorldVector::x);
        Self {
            centre,
            aside: aside * radius,
            above: aside.cross(&centre) * radius,
            cosine: SUN_RADIUS_DEG.to_radians().cos(),
        }
    }

    /// The disc as it casts shadows.
    pub(super) fn light(&self) -> DistantLight {
        DistantLight { toward: self.centre, radius: self.above.norm() }
    }

    /// The direction to a point of the disc, given in units of its radius.
    pub(super) fn toward(&self, (across, up): (f64, f64)) -> WorldVector {
        (self.centre + self.aside * across + self.above * up).normalize()
    }
}

/// Who or what a card stands for.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum ToneRole {
    /// What the picture is about.
    Subject,
    /// A block beside it.
    Quiet,
    /// A person for scale.
    Figure,
}

impl Tones {
    /// The tones of a theme under a sun; `over_shoulder` is where light comes from when no sun is up.
    pub(super) fn new(theme: Theme, sun: Option<&Sun>, over_shoulder: WorldVector) -> Self {
        let palette = theme.palette();
        let risen = sun.filter(|sun| sun.altitude_deg > 0.0 && sun.azimuth_deg.is_finite());
        let cards = |quiet: bool| {
            Finish::CARDS.map(|finish| {
                let [lit, shaded] = card_tones(palette, finish, quiet);
                ToneScale::between(shaded, lit)
            })
        };
        Self {
            subject: cards(false),
            quiet: cards(true),
            figure: ToneScale::between(
                toward(palette.soft, palette.edge, 0.4),
                toward(palette.soft, palette.card_shaded, 0.4),
            ),
            ground: ToneScale::between(palette.ground_shadow, palette.ground),
            sky: ToneScale::between(palette.sky_low, palette.sky_high),
            haze: light(palette.sky_low),
            water: light(palette.water),
            edge: light(palette.edge),
            contour: light(palette.contour),
            vignette: light(palette.vignette),
            sun_glow: light(palette.card_lit),
            light_from: risen.map_or(over_shoulder, Sun::direction),
            sun: risen.map(SunDisc::of),
        }
    }

    /// The tone of a card facing along `normal`, in the open or with the light hidden.
    pub(super) fn card(&self, standing: ToneRole, finish: Finish, normal: &WorldVector, lit: bool) -> Light {
        let facing = normal.dot(&self.light_from);
        // What the sky sends to every face: most from above, more from the side of the sun than from the other, and a
        // little more from its right, so that faces in shade keep their form.
        let aside = normal.x * self.light_from.y - normal.y * self.light_from.x;
        let sky = 0.12 + 0.11 * normal.z + 0.06 * facing + 0.035 * aside;
        let direct = if lit { 0.8 * facing.max(0.0).sqrt() * facing.max(0.0).sqrt().sqrt() } else { 0.0 };
        let ramp = match standing {
            ToneRole::Subject => &self.subject[finish.card() as usize],
            ToneRole::Quiet => &self.quiet[finish.card() as usize],
            ToneRole::Figure => &self.figure,
        };
        ramp.at((sky + direct).min(1.0))
    }

    /// The tone of bare ground.
    pub(super) fn ground(&self, normal: &WorldVector, lit: bool) -> Light {
        let level = self.light_from.z.max(0.15);
        let slope = (normal.dot(&self.light_from) - self.light_from.z) / level;
        let share = if lit { 1.0 + (0.8 * slope).clamp(-0.7, 0.15) } else { (0.12 * slope).clamp(-0.1, 0.1) };
        self.ground.at(share)
    }

    /// The tone of still water seen along a direction: calm, a little of the sky in it where it is seen flat.
    pub(super) fn water(&self, direction: &WorldVector) -> Light {
        let flat = (1.0 + direction.z.min(0.0)).powi(5);
        self.water.lerp(&self.haze, 0.6 * flat)
    }

    /// The tone of the sky in a direction.
    pub(super) fn sky(&self, direction: &WorldVector) -> Light {
        let up = direction.z.max(0.0);
        let plain = self.sky.at(1.0 - (-2.6 * up).exp() * (1.0 - up));
        let Some(sun) = &self.sun else { return plain };
        let cosine = direction.dot(&sun.centre);
        if cosine < 0.9 {
            return plain;
        }
        let off_deg = cosine.min(1.0).acos().to_degrees();
        let glow = if cosine > sun.cosine { 1.0 } else { 0.42 * (-0.32 * (off_deg - SUN_RADIUS_DEG)).exp() };
        plain.lerp(&self.sun_glow, glow)
    }

    /// Whether the sky runs evenly over a pixel so wide (in radians) about a direction: no limb of the sun crosses it.
    pub(super) fn sky_is_even(&self, direction: &WorldVector, pixel: f64) -> bool {
        self.sun.as_ref().is_none_or(|sun| {
            let off = direction.dot(&sun.centre).clamp(-1.0, 1.0).acos() - SUN_RADIUS_DEG.to_radians();
            direction.dot(&sun.centre) < 0.9 || off.abs() > 2.0 * pixel && off.abs() > 1e-4
        })
    }

    /// A tone with the air in front of it.
    pub(super) fn through_air(&self, tone: Light, distance_m: f64) -> Light {
        tone.lerp(&self.haze, 0.72 * (1.0 - (-distance_m / 1400.0).exp()))
    }
}

/// How far a block that the picture is not about goes towards the ground's tone.
const QUIET: f64 = 0.22;

/// A finish's tones, lit and shaded; quieter for a block that the picture is not about.
pub(crate) fn card_tones(palette: &Palette, finish: Finish, quiet: bool) -> [Colour; 2] {
    let [lit, shaded] = card(palette, finish);
    if !quiet {
        return [lit, shaded];
    }
    let lit = toward(lit, palette.ground, QUIET);
    [lit, toward(shaded, lit, 0.35 * QUIET)]
}

fn card(palette: &Palette, finish: Finish) -> [Colour; 2] {
    match finish.card() {
        Finish::Grey => palette.grey,
        Finish::Dark => palette.dark,
        Finish::Leaf => palette.leaf,
        Finish::Card
        | Finish::Brick
        | Finish::Ashlar
        | Finish::Rubble
        | Finish::Render
        | Finish::Boards
        | Finish::Sheet
        | Finish::Concrete
        | Finish::Steel => [palette.card_lit, palette.card_shaded],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn level_ground_has_the_themes_own_tones() {
        for theme in Theme::ALL {
            let sun = Sun { azimuth_deg: 140.0, altitude_deg: 35.0 };
            let tones = Tones::new(theme, Some(&sun), WorldVector::z());
            let coded = |light: Light| Colour::from_linear(light.into());
            let near =
                |a: Colour, b: Colour| a.0.abs_diff(b.0) <= 1 && a.1.abs_diff(b.1) <= 1 && a.2.abs_diff(b.2) <= 1;
            assert!(near(coded(tones.ground(&WorldVector::z(), true)), theme.palette().ground));
            assert!(near(coded(tones.ground(&WorldVector::z(), false)), theme.palette().ground_shadow));
        }
    }

    #[test]
    fn a_face_in_the_sun_is_lighter_than_one_in_shadow_and_one_turned_away() {
        let sun = Sun { azimuth_deg: 90.0, altitude_deg: 20.0 };
        let tones = Tones::new(Theme::Paper, Some(&sun), WorldVector::z());
        let tone = |normal: WorldVector, lit| tones.card(ToneRole::Subject, Finish::Card, &normal, lit).sum();
        assert!(tone(WorldVector::x(), true) > 1.2 * tone(WorldVector::x(), false));
        assert!(tone(WorldVector::x(), false) > tone(-WorldVector::x(), false));
        // Turned away, the light's absence makes no difference.
        assert_eq!(tone(-WorldVector::x(), true), tone(-WorldVector::x(), false));
    }

    #[test]
    fn a_sun_that_has_set_casts_no_shadow() {
        let set = Sun { azimuth_deg: 0.0, altitude_deg: -0.1 };
        assert!(Tones::new(Theme::Dusk, Some(&set), WorldVector::z()).sun.is_none());
    }
}
