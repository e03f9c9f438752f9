//! What light comes along each ray, and how many rays does a pixel need?

use crate::optics::Frame;
use crate::pose::{WorldPoint, WorldVector};
use crate::sight::{Bundle, RayTargets, Sight, Surface};
use crate::site::{Model, Sun};

use super::ambient::AmbientAtHand;
use super::ground::{Contours, GroundSurface, both, change_per_pixel, smooth};
use super::materials::MaterialScene;
use super::rays::{CameraRays, SightRay, TILE_PX, TileGrid, TileRays, place_in_disc, place_in_pixel, shift_of_pixel};
use super::shadows::{self, Shadows};
use super::surfaces::{EdgeWidth, FlatInTile, LinesAtHand, SceneSurfaces, SurfaceHit};
use super::tones::{Light, Tones};
use super::{Look, Style, View};

/// A pixel whose samples differ gets this many times as many.
pub(super) const REFINEMENT: u32 = 4;
/// The difference between the samples of a pixel, in the square root of linear light, from which it is refined.
const DIFFERENCE: f64 = 0.025;
/// Lines on the ground near the eye, and along the water, for a pen of width 1.
const CONTOUR_WEIGHT: f64 = 0.75;

/// Everything laid out for one picture.
pub(super) struct StillScene<'a> {
    model: &'a Model,
    pub(super) sight: &'a Sight,
    pub(super) taking: CameraRays<'a>,
    pub(super) tones: Tones,
    pub(super) relief: GroundSurface<'a>,
    pub(super) surfaces: SceneSurfaces<'a>,
    contours: Option<Contours>,
    pub(super) pen: Option<EdgeWidth>,
    line_px: f64,
    pub(super) places: Vec<SamplePlaces>,
    pub(super) samples: u32,
    casting: RayTargets,
    /// The materials, where the picture is to show them.
    pub(super) materials: Option<MaterialScene>,
    /// Whether what a tile's rays cannot meet is left out beforehand; the picture is the same without, and takes longer.
    pub(super) spares: bool,
}

/// Where in its pixel, on the sun's disc and on the lens a sample lies.
pub(super) struct SamplePlaces {
    pub(super) in_pixel: (f64, f64),
    pub(super) to_sun: WorldVector,
}

impl<'a> StillScene<'a> {
    pub(super) fn laid(model: &'a Model, sight: &'a Sight, view: &'a View, style: &Style, first_figure: usize) -> Self {
        let taking = CameraRays::new(&view.camera, &view.pose, view.focus.as_ref());
        let relief = GroundSurface::of(&model.site.terrain);
        let over_shoulder =
            Sun { azimuth_deg: view.pose.attitude.heading.degrees() + 180.0 + 50.0, altitude_deg: 42.0 }.direction();
        let tones = Tones::new(style.theme, style.sun.as_ref(), over_shoulder);
        let places = (0..style.samples * REFINEMENT)
            .map(|index| SamplePlaces {
                in_pixel: place_in_pixel(index, style.samples),
                to_sun: tones.sun.as_ref().map_or(over_shoulder, |sun| {
                    sun.toward(if style.samples == 1 { (0.0, 0.0) } else { place_in_disc(index, (0.0, 0.0)) })
                }),
            })
            .collect();
        let casting = shadows::casting(&relief, tones.sun.as_ref());
        let line_px = 1.5e-3 * f64::from(view.camera.frame.height_px.min(view.camera.frame.width_px));
        let line_px = line_px.max(0.9);
        let pen = EdgeWidth { width_px: line_px, from_eye: !taking.has_opening() };
        let mut table = Self {
            model,
            sight,
            surfaces: SceneSurfaces::of(model, &relief, &view.pose.eye, first_figure),
            relief,
            taking,
            tones,
            contours: None,
            pen: style.ink.then_some(pen),
            line_px,
            places,
            samples: style.samples,
            casting,
            spares: true,
            materials: (style.look == Look::Materials)
                .then(|| MaterialScene::of(model, style.sun.as_ref(), first_figure)),
        };
        if style.contours {
            table.contours = readable_contours(&table.taking, sight, &table.relief, &view.camera.frame);
        }
        table
    }

    /// How far from the water's edge a point of the ground is, in pixels.
    fn shore_px(&self, ray: &SightRay, distance_m: f64, point: &WorldPoint) -> Option<f64> {
        let above_m = point.z - self.model.site.water_level_m?;
        let normal = self.relief.slope((point.x, point.y)).normal();
        let (across, down) = change_per_pixel(ray, distance_m, &normal, &WorldVector::z())?;
        Some(above_m / both(across, down)).filter(|off_px| off_px.is_finite())
    }

    fn ink(&self, ray: &SightRay, hit: &SurfaceHit, at_hand: Option<(&TileGrid, &mut LinesAtHand)>) -> f64 {
        self.pen.map_or(0.0, |pen| {
            let surface_m = |east, north| self.model.surface_m((east, north));
            self.surfaces.ink(ray, hit, at_hand, pen, &surface_m, &self.relief)
        })
    }

    fn card(
        &self,
        ray: &SightRay,
        hit: &SurfaceHit,
        to_sun: &WorldVector,
        at_hand: Option<(&TileGrid, &mut LinesAtHand)>,
        shadows: &mut Shadows<'_>,
    ) -> Light {
        let ink = self.ink(ray, hit, at_hand);
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
            && let Some((height_m, climb)) = contour_height(&self.relief, ray, distance_m, point)
        {
            line = near * contours.cover(height_m, climb, width_px);
        }
        if let Some(off_px) = self.shore_px(ray, distance_m, point) {
            line = line.max(1.0 - smooth(width_px - 0.4, width_px + 0.4, off_px));
        }
        tone.lerp(&self.tones.contour, line)
    }
}

/// The heights at which the still of a view has contour lines: metres from line to line, `None` where it has none.
#[cfg(feature = "viewer")]
pub(crate) fn contour_interval_m(model: &Model, sight: &Sight, view: &View) -> Option<f64> {
    let taking = CameraRays::new(&view.camera, &view.pose, None);
    readable_contours(&taking, sight, &GroundSurface::of(&model.site.terrain), &view.camera.frame)
        .map(|contours| contours.interval_m)
}

/// Contour lines chosen from how fast the ground climbs from pixel to pixel over the picture.
fn readable_contours(
    taking: &CameraRays<'_>,
    sight: &Sight,
    relief: &GroundSurface<'_>,
    frame: &Frame,
) -> Option<Contours> {
    const PLACES: u32 = 24;
    let mut climbs = Vec::new();
    for row in 0..PLACES {
        for column in 0..PLACES {
            let at =
                |place: u32, size_px: u32| ((f64::from(place) + 0.5) / f64::from(PLACES) * f64::from(size_px)) as u32;
            let (x, y) = (at(column, frame.width_px), at(row, frame.height_px));
            let tile = taking.tile(x, y);
            let Some(ray) = taking.ray(&tile, (x, y), (0.5, 0.5), (0.0, 0.0)) else { continue };
            let Some(hit) = sight.first_hit(&ray.origin, &ray.direction, 0.0) else { continue };
            if hit.surface == Surface::Ground {
                climbs.extend(contour_height(relief, &ray, hit.distance_m, &hit.point).map(|(_, climb)| climb));
            }
        }
    }
    Contours::readable(climbs, 0.03 * f64::from(frame.height_px))
}

/// The height that contour lines count by, and how much it changes from pixel to pixel, the steepest way; `None` on
/// level ground and beyond what is known of it.
fn contour_height(
    relief: &GroundSurface<'_>,
    ray: &SightRay,
    distance_m: f64,
    point: &WorldPoint,
) -> Option<(f64, f64)> {
    let at = (point.x, point.y);
    let (height_m, rounded) = relief.rounded_height_m(at)?;
    if rounded.is_level() {
        return None;
    }
    let rise = WorldVector::new(rounded.east, rounded.north, 0.0);
    let (across, down) = change_per_pixel(ray, distance_m, &relief.slope(at).normal(), &rise)?;
    Some((height_m, both(across, down))).filter(|(_, climb)| *climb > 0.0)
}

/// How far apart the points of a tile lie on a surface.
pub(super) fn reach_m(ray: &SightRay, distance_m: f64, normal: &WorldVector) -> f64 {
    let pixel_m = distance_m * ray.across.norm_squared().max(ray.down.norm_squared()).sqrt();
    f64::from(TILE_PX) * pixel_m / ray.direction.dot(normal).abs().max(0.05)
}

/// What draws one tile after another, with what it keeps at hand from one to the next.
pub(super) struct TileRenderer<'t> {
    pub(super) table: &'t StillScene<'t>,
    pub(super) bundle: Bundle,
    /// Whether the tile's rays could be looked up together.
    pub(super) bundled: bool,
    pub(super) grid: Option<TileGrid>,
    pub(super) shadows: Shadows<'t>,
    pub(super) ambient: AmbientAtHand,
    at_hand: LinesAtHand,
}

/// What a ray brings to its pixel.
#[derive(Clone, Copy)]
struct RayLight {
    light: Light,
    /// Whether the light comes from the sky.
    is_sky: bool,
}

/// What is known of a pixel so far.
#[derive(Clone, Copy)]
struct Mean {
    sum: Light,
    darkest: Light,
    lightest: Light,
    only_sky: bool,
}

impl Mean {
    const NOTHING: Self = Self {
        sum: Light::new(0.0, 0.0, 0.0),
        darkest: Light::new(f64::INFINITY, f64::INFINITY, f64::INFINITY),
        lightest: Light::new(0.0, 0.0, 0.0),
        only_sky: true,
    };

    fn add(&mut self, sample: RayLight) {
        self.sum += sample.light;
        self.darkest = self.darkest.inf(&sample.light);
        self.lightest = self.lightest.sup(&sample.light);
        self.only_sky &= sample.is_sky;
    }

    fn differs(&self) -> bool {
        (0..3).any(|part| self.lightest[part].sqrt() - self.darkest[part].sqrt() > DIFFERENCE)
    }
}

impl<'t> TileRenderer<'t> {
    pub(super) fn at(table: &'t StillScene<'t>) -> Self {
        let shadows = Shadows::new(table.sight, table.tones.sun.as_ref(), table.casting);
        Self {
            table,
            bundle: Bundle::default(),
            bundled: false,
            grid: None,
            shadows,
            ambient: AmbientAtHand::default(),
            at_hand: LinesAtHand::default(),
        }
    }

    /// Lays out the rays of the tile whose top left pixel is `first`, and looks up what they can meet.
    pub(super) fn begin(&mut self, first: (u32, u32)) -> TileRays {
        let table = self.table;
        let rays = table.taking.tile(first.0, first.1);
        let bounds = table.taking.bounds(&rays);
        if let Some(bounds) = &bounds {
            table.sight.gather(bounds, RayTargets::Everything, &mut self.bundle);
        }
        self.at_hand.clear();
        self.grid = table.taking.grid(&rays).filter(|_| table.spares);
        if let (Some(_), Some(grid)) = (&bounds, &self.grid) {
            table.sight.sift(&mut self.bundle, &table.taking.eye, &grid.corners.map(|corner| corner.normalize()));
        }
        self.bundled = bounds.is_some();
        rays
    }

    /// How strongly ink covers a hit.
    pub(super) fn ink_of(&mut self, ray: &SightRay, hit: &SurfaceHit) -> f64 {
        let at_hand = self.grid.as_ref().map(|grid| (grid, &mut self.at_hand));
        self.table.ink(ray, hit, at_hand)
    }

    /// Draws the pixels from `first` up to and without `end`: hands each one's mean light to `put`, and whether it is
    /// nothing but sky.
    pub(super) fn tile(&mut self, first: (u32, u32), end: (u32, u32), mut put: impl FnMut((u32, u32), Light, bool)) {
        let table = self.table;
        let rays = self.begin(first);
        let bundled = self.bundled;
        let pixels = || (first.1..end.1).flat_map(|y| (first.0..end.0).map(move |x| (x, y)));
        let mut means = [Mean::NOTHING; (TILE_PX * TILE_PX) as usize];
        let flat = self.flat();
        for (pixel, mean) in pixels().zip(&mut means) {
            for index in 0..table.samples {
                mean.add(match &flat {
                    Some((face, tones)) => self.sample_flat(&rays, face, tones, pixel, index),
                    None => self.sample(&rays, bundled, pixel, index),
                });
            }
        }
        // Out of focus, what only one sample in many meets would be missed if each pixel decided for itself.
        let all = table.taking.has_opening() && means.iter().any(Mean::differs);
        for (pixel, mean) in pixels().zip(&mut means) {
            let mut count = table.samples;
            if count > 1 && (all || mean.differs()) {
                count *= REFINEMENT;
                for index in table.samples..count {
                    mean.add(match &flat {
                        Some((face, tones)) => self.sample_flat(&rays, face, tones, pixel, index),
                        None => self.sample(&rays, bundled, pixel, index),
                    });
                }
            }
            put(pixel, mean.sum / f64::from(count), mean.only_sky);
        }
    }

    /// The flat face that fills the tile, in its tones out of the sun and in it.
    fn flat(&mut self) -> Option<(FlatInTile, [Light; 2])> {
        let table = self.table;
        let (grid, true) = (self.grid.as_ref()?, self.bundled) else { return None };
        let sole = table.sight.sole_block(&self.bundle)?;
        let level_m = table.sight.highest_level_m();
        let face = table.surfaces.flat_in(sole, &table.taking.eye, grid, table.pen, &mut self.at_hand, level_m)?;
        let tones = [false, true].map(|lit| table.tones.card(face.standing, face.finish, &face.normal, lit));
        Some((face, tones))
    }

    /// [`TileRenderer::sample`] where a flat face fills the tile.
    fn sample_flat(
        &mut self,
        rays: &TileRays,
        face: &FlatInTile,
        tones: &[Light; 2],
        pixel: (u32, u32),
        index: u32,
    ) -> RayLight {
        let table = self.table;
        let places = &table.places[index as usize];
        let Some(direction) = CameraRays::direction_in(rays, pixel, places.in_pixel) else {
            return RayLight { light: table.tones.vignette, is_sky: false };
        };
        let distance_m = face.distance_m(&table.taking.eye, &direction);
        let point = table.taking.eye + direction * distance_m;
        let lit = self.shadows.is_lit(&point, &face.normal, face.clearance_m, &places.to_sun, face.reach_m);
        RayLight { light: table.tones.through_air(tones[usize::from(lit)], distance_m), is_sky: false }
    }

    /// The light along one ray.
    fn sample(&mut self, rays: &TileRays, bundled: bool, pixel: (u32, u32), index: u32) -> RayLight {
        let table = self.table;
        let places = &table.places[index as usize];
        let on_lens = if table.taking.has_opening() {
            place_in_disc(index, shift_of_pixel(pixel.0, pixel.1))
        } else {
            (0.0, 0.0)
        };
        let Some(ray) = table.taking.ray(rays, pixel, places.in_pixel, on_lens) else {
            return RayLight { light: table.tones.vignette, is_sky: false };
        };
        let met = if bundled {
            table.sight.first_hit_in(&self.bundle, &ray.origin, &ray.direction, 0.0)
        } else {
            table.sight.first_hit(&ray.origin, &ray.direction, 0.0)
        };
        let Some(hit) = met else {
            return RayLight { light: table.tones.sky(&ray.direction), is_sky: true };
        };
        let tone = match hit.surface {
            Surface::Block { block, triangle } => {
                let hit = table.surfaces.hit(&ray, hit.distance_m, block, triangle);
                let at_hand = self.grid.as_ref().map(|grid| (grid, &mut self.at_hand));
                table.card(&ray, &hit, &places.to_sun, at_hand, &mut self.shadows)
            }
            Surface::Ground => table.ground(&ray, hit.distance_m, &hit.point, &places.to_sun, &mut self.shadows),
            Surface::Water => table.tones.water(&ray.direction),
        };
        RayLight { light: table.tones.through_air(tone, hit.distance_m), is_sky: false }
    }
}
