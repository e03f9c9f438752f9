//! What will the picture look like, exactly?
//!
//! One ray, or several, for each pixel, through the same [`Camera`] that the measurements use: every mapping,
//! distortion, rise and shift comes out as it is measured. The site is shown as a card model: matt blocks, ink edges,
//! one sun, contour lines on paper ground, a plain sky.

mod annotate;
mod cards;
mod contacts;
mod figures;
mod ground;
mod lettering;
mod overlay;
mod picture;
mod rays;
mod shadows;
mod tones;

use rayon::prelude::*;
use thiserror::Error;

use crate::optics::{Camera, Focus};
use crate::pose::{Pose, WorldPoint, WorldVector};
use crate::progress::{Cancelled, Progress};
use crate::sight::{Among, Bundle, Sight, Surface};
use crate::site::{Model, PlanPoint, Sun};
use crate::theme::Theme;

pub use annotate::annotations;
use cards::{CardHit, Cards, Pen};
use ground::{Contours, Relief, both, change_per_pixel, smooth};
pub use overlay::{Anchor, MarkForm, Overlay, OverlayInk, OverlayLabel, OverlayLine, OverlayMark, Written};
pub use picture::Picture;
use rays::{SightRay, TILE_PX, Taking, TileRays, place_in_disc, place_in_pixel, shift_of_pixel};
use shadows::Shadows;
use tones::{Light, Tones};

/// The largest picture that is made, in megapixels.
pub const LARGEST_MEGAPIXELS: f64 = 400.0;
/// The numbers of samples a pixel may have.
pub const SAMPLES: [u32; 5] = [1, 2, 4, 8, 16];
/// A pixel whose samples differ gets this many times as many.
const REFINEMENT: u32 = 4;
/// The difference between the samples of a pixel, in the square root of linear light, from which it is refined.
const DIFFERENCE: f64 = 0.025;
/// The farthest from the site's origin that an eye may be.
const FARTHEST_EYE_M: f64 = 1e6;
/// Lines on the ground near the eye, and along the water, for a pen of width 1.
const CONTOUR_WEIGHT: f64 = 0.75;

/// What is pictured.
#[derive(Clone, Copy, Debug)]
pub struct Scene<'a> {
    /// The site.
    pub model: &'a Model,
    /// The same site, prepared for looking.
    pub sight: &'a Sight,
}

/// How it is seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct View {
    /// The camera; its frame gives the picture's pixels.
    pub camera: Camera,
    /// Where it is and how it is turned.
    pub pose: Pose,
    /// What the lens is set to, where its depth of field is to be seen; everything is sharp without.
    pub focus: Option<Focus>,
}

/// How it is drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct Style {
    /// The colours.
    pub theme: Theme,
    /// The sun; without one, or with one that has set, an even light comes over the left shoulder and casts no shadow.
    pub sun: Option<Sun>,
    /// Rays for each pixel: 1, 2, 4, 8 or 16. From 2 on, pixels in which they differ get four times as many.
    pub samples: u32,
    /// Where people stand for scale.
    pub figures: Vec<PlanPoint>,
    /// Whether edges are inked.
    pub ink: bool,
    /// Whether sloping ground has contour lines.
    pub contours: bool,
}

impl Default for Style {
    fn default() -> Self {
        Self { theme: Theme::Paper, sun: None, samples: 4, figures: Vec::new(), ink: true, contours: true }
    }
}

/// Why there is no picture.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum StillError {
    /// More pixels than can be held.
    #[error(
        "a picture of {width_px}×{height_px} pixels is {megapixels:.0} megapixels; make it {LARGEST_MEGAPIXELS} or fewer"
    )]
    TooLarge {
        /// Pixels across.
        width_px: u32,
        /// Pixels down.
        height_px: u32,
        /// Their product in millions.
        megapixels: f64,
    },
    /// No pixels at all.
    #[error("a picture of {width_px}×{height_px} pixels is empty; give it at least one pixel each way")]
    Empty {
        /// Pixels across.
        width_px: u32,
        /// Pixels down.
        height_px: u32,
    },
    /// Not one of [`SAMPLES`].
    #[error("{given} samples a pixel; choose 1, 2, 4, 8 or 16")]
    Samples {
        /// What was asked for.
        given: u32,
    },
    /// The eye is no place on Earth.
    #[error(
        "the eye is at {east}, {north}, {up}; each must be a number of metres within 1,000,000 of the site's origin"
    )]
    Eye {
        /// Metres east.
        east: f64,
        /// Metres north.
        north: f64,
        /// Metres up.
        up: f64,
    },
    /// A focus that no lens has.
    #[error(
        "a lens of {focal_mm} mm at f/{f_number} focused on {distance_m} m; all three must be above 0, and the distance \
         more than the focal length"
    )]
    Focus {
        /// Focal length.
        focal_mm: f64,
        /// f-number.
        f_number: f64,
        /// Distance focused on.
        distance_m: f64,
    },
    /// The watcher no longer wants it.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// Makes the picture.
///
/// The same scene, view and style give the same bytes, whatever the number of threads.
///
/// # Errors
/// A picture of no pixels or of more than [`LARGEST_MEGAPIXELS`], a number of samples that is not one of [`SAMPLES`], an
/// eye or a focus out of all range, or the watcher has cancelled.
pub fn render(scene: &Scene<'_>, view: &View, style: &Style, progress: &Progress) -> Result<Picture, StillError> {
    let (width_px, height_px) = (view.camera.frame.width_px, view.camera.frame.height_px);
    check(view, style)?;
    progress.check()?;
    let peopled = (!style.figures.is_empty()).then(|| {
        let model = figures::with_figures(scene.model, &style.figures);
        let sight = Sight::over(&model);
        (model, sight)
    });
    let first_figure = scene.model.solids.len();
    let (model, sight) = peopled.as_ref().map_or((scene.model, scene.sight), |(model, sight)| (model, sight));
    let table = Table::laid(model, sight, view, style, first_figure);

    let coding = Coding::new();
    let tiles_across = width_px.div_ceil(TILE_PX);
    progress.start(u64::from(tiles_across) * u64::from(height_px.div_ceil(TILE_PX)));
    let mut rgb = vec![0; 3 * width_px as usize * height_px as usize];
    let row_bytes = 3 * width_px as usize;
    rgb.par_chunks_mut(row_bytes * TILE_PX as usize).enumerate().try_for_each(|(band, rows)| {
        let top = band as u32 * TILE_PX;
        let mut bundle = Bundle::default();
        let mut shadows = Shadows::new(sight, table.tones.sun.as_ref(), table.casting);
        for left in (0..tiles_across).map(|tile| tile * TILE_PX) {
            progress.advance(1)?;
            let rays = table.taking.tile(left, top);
            let bounds = table.taking.bounds(&rays);
            if let Some(bounds) = &bounds {
                sight.gather(bounds, Among::Everything, &mut bundle);
            }
            let bundle = bounds.map(|_| &bundle);
            for (y, row) in (top..).zip(rows.chunks_mut(row_bytes)) {
                for x in left..(left + TILE_PX).min(width_px) {
                    let (light, plain_sky) = table.pixel(&rays, bundle, &mut shadows, (x, y));
                    let colour = coding.bytes(&light, if plain_sky { screen(x, y) } else { 0.5 });
                    row[3 * x as usize..3 * x as usize + 3].copy_from_slice(&colour);
                }
            }
        }
        Ok::<(), Cancelled>(())
    })?;
    Ok(Picture { width_px, height_px, rgb })
}

fn check(view: &View, style: &Style) -> Result<(), StillError> {
    let frame = &view.camera.frame;
    let (width_px, height_px) = (frame.width_px, frame.height_px);
    if width_px == 0 || height_px == 0 {
        return Err(StillError::Empty { width_px, height_px });
    }
    if frame.megapixels() > LARGEST_MEGAPIXELS {
        return Err(StillError::TooLarge { width_px, height_px, megapixels: frame.megapixels() });
    }
    if !SAMPLES.contains(&style.samples) {
        return Err(StillError::Samples { given: style.samples });
    }
    let eye = &view.pose.eye;
    if !eye.iter().all(|part| part.abs() <= FARTHEST_EYE_M) {
        return Err(StillError::Eye { east: eye.x, north: eye.y, up: eye.z });
    }
    if let Some(Focus { focal_mm, f_number, distance_m }) = view.focus {
        let possible = focal_mm > 0.0
            && focal_mm.is_finite()
            && f_number > 0.0
            && f_number.is_finite()
            && 1000.0 * distance_m > focal_mm;
        if !possible {
            return Err(StillError::Focus { focal_mm, f_number, distance_m });
        }
    }
    Ok(())
}

/// Everything laid out for one picture.
struct Table<'a> {
    model: &'a Model,
    sight: &'a Sight,
    taking: Taking<'a>,
    tones: Tones,
    relief: Relief<'a>,
    cards: Cards<'a>,
    contours: Option<Contours>,
    pen: Option<Pen>,
    line_px: f64,
    places: Vec<Places>,
    samples: u32,
    casting: Among,
}

/// Where in its pixel, on the sun's disc and on the lens a sample lies.
struct Places {
    in_pixel: (f64, f64),
    to_sun: WorldVector,
}

impl<'a> Table<'a> {
    fn laid(model: &'a Model, sight: &'a Sight, view: &'a View, style: &Style, first_figure: usize) -> Self {
        let taking = Taking::new(&view.camera, &view.pose, view.focus.as_ref());
        let relief = Relief::of(&model.site.terrain);
        let over_shoulder =
            Sun { azimuth_deg: view.pose.attitude.heading.degrees() + 180.0 + 50.0, altitude_deg: 42.0 }.direction();
        let tones = Tones::new(style.theme, style.sun.as_ref(), over_shoulder);
        let places = (0..style.samples * REFINEMENT)
            .map(|index| Places {
                in_pixel: place_in_pixel(index),
                to_sun: tones.sun.as_ref().map_or(over_shoulder, |sun| {
                    sun.toward(if style.samples == 1 { (0.0, 0.0) } else { place_in_disc(index, (0.0, 0.0)) })
                }),
            })
            .collect();
        let casting = shadows::casting(&relief, tones.sun.as_ref());
        let line_px = 1.5e-3 * f64::from(view.camera.frame.height_px.min(view.camera.frame.width_px));
        let line_px = line_px.max(0.9);
        let mut table = Self {
            model,
            sight,
            cards: Cards::of(model, &relief, &view.pose.eye, first_figure),
            relief,
            taking,
            tones,
            contours: None,
            pen: style.ink.then_some(Pen { width_px: line_px }),
            line_px,
            places,
            samples: style.samples,
            casting,
        };
        if style.contours {
            table.contours = table.readable_contours(view);
        }
        table
    }

    /// Contour lines chosen from how fast the ground climbs from pixel to pixel over the picture.
    fn readable_contours(&self, view: &View) -> Option<Contours> {
        const PLACES: u32 = 24;
        let frame = &view.camera.frame;
        let mut climbs = Vec::new();
        for row in 0..PLACES {
            for column in 0..PLACES {
                let at = |place: u32, size_px: u32| {
                    ((f64::from(place) + 0.5) / f64::from(PLACES) * f64::from(size_px)) as u32
                };
                let (x, y) = (at(column, frame.width_px), at(row, frame.height_px));
                let tile = self.taking.tile(x, y);
                let Some(ray) = self.taking.ray(&tile, (x, y), (0.5, 0.5), (0.0, 0.0)) else { continue };
                let Some(hit) = self.sight.first_hit(&ray.origin, &ray.direction, 0.0) else { continue };
                if hit.surface == Surface::Ground {
                    climbs.extend(self.contour_height(&ray, hit.distance_m, &hit.point).map(|(_, climb)| climb));
                }
            }
        }
        Contours::readable(climbs, 0.03 * f64::from(frame.height_px))
    }

    /// The height that contour lines count by, and how much it changes from pixel to pixel, the steepest way; `None` on
    /// level ground and beyond what is known of it.
    fn contour_height(&self, ray: &SightRay, distance_m: f64, point: &WorldPoint) -> Option<(f64, f64)> {
        let at = (point.x, point.y);
        let (height_m, rounded) = self.relief.rounded_height_m(at)?;
        if rounded.is_level() {
            return None;
        }
        let rise = WorldVector::new(rounded.east, rounded.north, 0.0);
        let (across, down) = change_per_pixel(ray, distance_m, &self.relief.slope(at).normal(), &rise)?;
        Some((height_m, both(across, down))).filter(|(_, climb)| *climb > 0.0)
    }

    /// How far from the water's edge a point of the ground is, in pixels.
    fn shore_px(&self, ray: &SightRay, distance_m: f64, point: &WorldPoint) -> Option<f64> {
        let above_m = point.z - self.model.site.water_level_m?;
        let normal = self.relief.slope((point.x, point.y)).normal();
        let (across, down) = change_per_pixel(ray, distance_m, &normal, &WorldVector::z())?;
        Some(above_m / both(across, down)).filter(|off_px| off_px.is_finite())
    }

    /// The mean light of a pixel, and whether it holds nothing but sky.
    fn pixel(
        &self,
        rays: &TileRays,
        bundle: Option<&Bundle>,
        shadows: &mut Shadows<'_>,
        pixel: (u32, u32),
    ) -> (Light, bool) {
        let shift = if self.taking.has_opening() { shift_of_pixel(pixel.0, pixel.1) } else { (0.0, 0.0) };
        let (mut sum, mut plain_sky) = (Light::zeros(), true);
        let (mut darkest, mut lightest) = (Light::repeat(f64::INFINITY), Light::zeros());
        let first = self.samples;
        for index in 0..first {
            let (sample, is_sky) = self.sample(rays, bundle, shadows, pixel, index, shift);
            plain_sky &= is_sky;
            sum += sample;
            darkest = darkest.inf(&sample);
            lightest = lightest.sup(&sample);
        }
        let differs = first > 1 && (0..3).any(|part| lightest[part].sqrt() - darkest[part].sqrt() > DIFFERENCE);
        if !differs {
            return (sum / f64::from(first), plain_sky);
        }
        let all = first * REFINEMENT;
        for index in first..all {
            sum += self.sample(rays, bundle, shadows, pixel, index, shift).0;
        }
        (sum / f64::from(all), false)
    }

    fn sample(
        &self,
        rays: &TileRays,
        bundle: Option<&Bundle>,
        shadows: &mut Shadows<'_>,
        pixel: (u32, u32),
        index: u32,
        shift: (f64, f64),
    ) -> (Light, bool) {
        let places = &self.places[index as usize];
        let on_lens = if self.taking.has_opening() { place_in_disc(index, shift) } else { (0.0, 0.0) };
        let Some(ray) = self.taking.ray(rays, pixel, places.in_pixel, on_lens) else {
            return (self.tones.vignette, false);
        };
        let met = match bundle {
            Some(bundle) => self.sight.first_hit_in(bundle, &ray.origin, &ray.direction, 0.0),
            None => self.sight.first_hit(&ray.origin, &ray.direction, 0.0),
        };
        let Some(hit) = met else {
            return (self.tones.sky(&ray.direction), true);
        };
        let tone = match hit.surface {
            Surface::Block { block, triangle } => {
                self.card(&ray, &self.cards.hit(&ray, hit.distance_m, block, triangle), &places.to_sun, shadows)
            }
            Surface::Ground => self.ground(&ray, hit.distance_m, &hit.point, &places.to_sun, shadows),
            Surface::Water => self.tones.water(&ray.direction),
        };
        (self.tones.through_air(tone, hit.distance_m), false)
    }

    fn card(&self, ray: &SightRay, hit: &CardHit, to_sun: &WorldVector, shadows: &mut Shadows<'_>) -> Light {
        let ink = self.pen.map_or(0.0, |pen| {
            let surface_m = |east, north| self.model.surface_m((east, north));
            let from_eye = !self.taking.has_opening();
            self.cards.ink(ray, hit, from_eye, pen, &surface_m, &self.relief)
        });
        if ink >= 1.0 {
            return self.tones.edge;
        }
        let lit =
            shadows.is_lit(&hit.point, &hit.normal, hit.clearance_m, to_sun, reach_m(ray, hit.distance_m, &hit.normal));
        self.tones.card(hit.standing, hit.finish, &hit.normal, lit).lerp(&self.tones.edge, ink)
    }

    fn ground(
        &self,
        ray: &SightRay,
        distance_m: f64,
        point: &WorldPoint,
        to_sun: &WorldVector,
        shadows: &mut Shadows<'_>,
    ) -> Light {
        let normal = self.relief.rounded_normal((point.x, point.y));
        let lit = shadows.is_lit(point, &normal, 0.01, to_sun, reach_m(ray, distance_m, &normal));
        let tone = self.tones.ground(&normal, lit);
        let near = 0.35 + 0.65 / (1.0 + distance_m / 250.0);
        let width_px = CONTOUR_WEIGHT * self.line_px;
        let mut line = 0.0_f64;
        if let Some(contours) = &self.contours
            && let Some((height_m, climb)) = self.contour_height(ray, distance_m, point)
        {
            line = near * contours.cover(height_m, climb, width_px);
        }
        if let Some(off_px) = self.shore_px(ray, distance_m, point) {
            line = line.max(1.0 - smooth(width_px - 0.4, width_px + 0.4, off_px));
        }
        tone.lerp(&self.tones.contour, line)
    }
}

/// How far apart the points of a tile lie on a surface.
fn reach_m(ray: &SightRay, distance_m: f64, normal: &WorldVector) -> f64 {
    let pixel_m = distance_m * ray.across.norm_squared().max(ray.down.norm_squared()).sqrt();
    f64::from(TILE_PX) * pixel_m / ray.direction.dot(normal).abs().max(0.05)
}

/// sRGB channels of linear light, by table.
struct Coding(Vec<f64>);

impl Coding {
    const STEPS: usize = 4096;

    fn new() -> Self {
        let coded = |share: f64| {
            255.0 * if share <= 0.003_130_8 { share * 12.92 } else { 1.055 * share.powf(1.0 / 2.4) - 0.055 }
        };
        Self((0..=Self::STEPS + 1).map(|step| coded(step as f64 / Self::STEPS as f64)).collect())
    }

    /// Bytes; `lift` of 0 to 1 decides which way a value between two bytes goes.
    fn bytes(&self, light: &Light, lift: f64) -> [u8; 3] {
        [light.x, light.y, light.z].map(|share| {
            let place = share.clamp(0.0, 1.0) * Self::STEPS as f64;
            let step = place as usize;
            let value = self.0[step] + (self.0[step + 1] - self.0[step]) * (place - step as f64);
            (value + lift).clamp(0.0, 255.0) as u8
        })
    }
}

/// A screen of 8 × 8 thresholds that hides the steps of a plain sky, nought to one, mean one half.
fn screen(x: u32, y: u32) -> f64 {
    let (mut value, mut weight) = (0, 32);
    for bit in 0..3 {
        let (column, row) = (x >> bit & 1, y >> bit & 1);
        value += weight * (column ^ row) + weight / 2 * row;
        weight /= 4;
    }
    (f64::from(value) + 0.5) / 64.0
}
