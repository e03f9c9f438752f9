//! What light comes along each ray, and how many rays does a pixel need?

use crate::optics::Frame;
use crate::pose::{WorldPoint, WorldVector};
use crate::sight::{Bundle, PixelSet, RayTargets, Sight, Sole, Surface};
use crate::site::{Model, Sun};

use super::ambient::AmbientAtHand;
use super::ground::{Contours, GroundSurface, both, change_per_pixel, smooth};
use super::joints::Joints;
use super::materials::MaterialScene;
use super::picture::PixelLight;
use super::rays::{CameraRays, SightRay, TILE_PX, TileGrid, TileRays, place_in_disc, place_in_pixel, shift_of_pixel};
use super::shadows::{self, Receiver, Shadows};
use super::surfaces::{EdgeWidth, FLAT_CLEARANCE_M, LinesAtHand, SOFTNESS_PX, SceneSurfaces, SurfaceHit};
use super::tones::{Light, Tones};
use super::{Look, Style, Surround, View};

/// A pixel whose samples differ gets this many times as many.
pub(super) const REFINEMENT: u32 = 4;
/// The difference between the samples of a pixel, in the square root of linear light, from which it is refined.
const DIFFERENCE: f64 = 0.025;
/// How far from its middle a pixel reaches, with room for what changes within it.
const PIXEL_REACH: f64 = 0.8;
/// Farther off a face is not told for a whole tile.
const FARTHEST_FILL_M: f64 = 5000.0;
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
    /// Which triangles are one surface; without an opening, and where a pixel has several samples.
    joints: Option<Joints>,
    contours: Option<Contours>,
    pub(super) pen: Option<EdgeWidth>,
    line_px: f64,
    pub(super) places: Vec<SamplePlaces>,
    pub(super) samples: u32,
    /// Whether something else is shown in place of the sky.
    without_sky: bool,
    casting: RayTargets,
    /// The materials, where the picture is to show them.
    pub(super) materials: Option<MaterialScene>,
    /// Whether what a tile's rays cannot meet is left out beforehand, and one ray is looked along where it tells all of a pixel.
    spares: bool,
}

/// What a light is asked for.
#[derive(Clone, Copy)]
pub(super) enum Extent<'p> {
    /// A point of a pixel and one of the sun's disc, in a direction.
    Point(&'p WorldVector),
    /// A whole pixel and all of the disc: no light where it is not the same all over.
    Pixel,
}

impl Extent<'_> {
    /// How far it reaches, in pixels.
    fn within_px(self) -> f64 {
        match self {
            Self::Point(_) => 0.0,
            Self::Pixel => PIXEL_REACH,
        }
    }
}

/// Where in its pixel, on the sun's disc and on the lens a sample lies.
pub(super) struct SamplePlaces {
    pub(super) in_pixel: (f64, f64),
    pub(super) to_sun: WorldVector,
}

impl<'a> StillScene<'a> {
    pub(super) fn laid(model: &'a Model, sight: &'a Sight, view: &'a View, style: &Style, first_figure: usize) -> Self {
        let mut taking = CameraRays::new(&view.camera, &view.pose, view.focus.as_ref());
        if !style.every_ray {
            taking = taking.evenly();
        }
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
            joints: (style.samples > 1 && !taking.has_opening())
                .then(|| Joints::of(model.solids.iter().map(AsRef::as_ref), &view.pose.eye)),
            relief,
            taking,
            tones,
            contours: None,
            pen: style.ink.then_some(pen),
            line_px,
            places,
            samples: style.samples,
            without_sky: style.surround != Surround::Sky,
            casting,
            spares: !style.every_ray,
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

    fn ink(
        &self,
        ray: &SightRay,
        hit: &SurfaceHit,
        at_hand: Option<(&TileGrid, &mut LinesAtHand)>,
        within_px: f64,
    ) -> Option<f64> {
        let Some(pen) = self.pen else { return Some(0.0) };
        let surface_m = |east, north| self.model.surface_m((east, north));
        self.surfaces.ink(ray, hit, at_hand, (pen, within_px), &surface_m, &self.relief)
    }

    fn card(
        &self,
        ray: &SightRay,
        hit: &SurfaceHit,
        extent: Extent<'_>,
        at_hand: Option<(&TileGrid, &mut LinesAtHand)>,
        shadows: &mut Shadows<'_>,
    ) -> Option<Light> {
        let ink = self.ink(ray, hit, at_hand, extent.within_px())?;
        if ink >= 1.0 {
            return Some(self.tones.edge);
        }
        let lit = is_lit(shadows, ray, hit.distance_m, &hit.receiver(), extent)?;
        Some(self.tones.card(hit.standing, hit.finish, &hit.normal, lit).lerp(&self.tones.edge, ink))
    }

    fn ground(
        &self,
        ray: &SightRay,
        distance_m: f64,
        point: &WorldPoint,
        extent: Extent<'_>,
        shadows: &mut Shadows<'_>,
    ) -> Option<Light> {
        let normal = self.relief.rounded_normal((point.x, point.y));
        let lit = is_lit(shadows, ray, distance_m, &Receiver::of_ground(point, &normal), extent)?;
        let tone = self.tones.ground(&normal, lit);
        let near = 0.35 + 0.65 / (1.0 + distance_m / 250.0);
        let width_px = CONTOUR_WEIGHT * self.line_px;
        let within_px = extent.within_px();
        let mut line = 0.0_f64;
        if let Some(contours) = &self.contours
            && let Some((height_m, climb)) = contour_height(&self.relief, ray, distance_m, point)
        {
            if within_px > 0.0 && !contours.stay_clear_of(height_m, climb, width_px, within_px) {
                return None;
            }
            line = near * contours.cover(height_m, climb, width_px);
        }
        if let Some(off_px) = self.shore_px(ray, distance_m, point) {
            if within_px > 0.0 && off_px < 2.0 * (width_px + 0.4 + within_px) {
                return None;
            }
            line = line.max(1.0 - smooth(width_px - 0.4, width_px + 0.4, off_px));
        }
        Some(tone.lerp(&self.tones.contour, line))
    }
}

/// Whether the sun shines on what a ray meets.
pub(super) fn is_lit(
    shadows: &mut Shadows<'_>,
    ray: &SightRay,
    distance_m: f64,
    on: &Receiver<'_>,
    extent: Extent<'_>,
) -> Option<bool> {
    let (pixel_m, toward) = on_surface(ray, distance_m, on.normal);
    let reach_m = f64::from(TILE_PX) * pixel_m / toward.max(0.05);
    match extent {
        Extent::Point(to_sun) => Some(shadows.is_lit(on, to_sun, reach_m)),
        Extent::Pixel => shadows.is_all_lit(on, PIXEL_REACH * pixel_m / toward.max(1e-6), reach_m),
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

/// How large a pixel is so far off, and the sine at which a surface is seen.
fn on_surface(ray: &SightRay, distance_m: f64, normal: &WorldVector) -> (f64, f64) {
    let pixel_m = distance_m * ray.across.norm_squared().max(ray.down.norm_squared()).sqrt();
    (pixel_m, ray.direction.dot(normal).abs())
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
    first: (u32, u32),
    /// The pixels of the tile that may see more than one surface.
    mixed: PixelSet,
    sole: Sole,
}

/// What a ray brings to its pixel.
#[derive(Clone, Copy)]
struct RayLight {
    light: Light,
    /// Whether the light comes from the sky.
    is_sky: bool,
}

/// What fills a tile.
enum Fill {
    Sky,
    /// A face of one tone; along it, normal · (point − eye) is its height.
    Flat {
        normal: WorldVector,
        height_m: f64,
        tone: Light,
    },
}

impl Fill {
    fn along(&self, table: &StillScene<'_>, direction: &WorldVector) -> RayLight {
        match self {
            Self::Sky => RayLight { light: table.tones.sky(direction), is_sky: true },
            Self::Flat { normal, height_m, tone } => {
                let distance_m = height_m / direction.dot(normal);
                RayLight { light: table.tones.through_air(*tone, distance_m), is_sky: false }
            }
        }
    }
}

/// What is known of a pixel so far.
#[derive(Clone, Copy)]
struct Mean {
    count: u32,
    of_sky: u32,
    sum: Light,
    solid: Light,
    darkest: Light,
    lightest: Light,
}

impl Mean {
    const NOTHING: Self = Self {
        count: 0,
        of_sky: 0,
        solid: Light::new(0.0, 0.0, 0.0),
        sum: Light::new(0.0, 0.0, 0.0),
        darkest: Light::new(f64::INFINITY, f64::INFINITY, f64::INFINITY),
        lightest: Light::new(0.0, 0.0, 0.0),
    };

    /// A sample always has a light.
    fn add_some(&mut self, sample: Option<RayLight>) {
        if let Some(sample) = sample {
            self.add(sample);
        }
    }

    fn add(&mut self, sample: RayLight) {
        self.count += 1;
        if sample.is_sky {
            self.of_sky += 1;
        } else {
            self.solid += sample.light;
        }
        self.sum += sample.light;
        self.darkest = self.darkest.inf(&sample.light);
        self.lightest = self.lightest.sup(&sample.light);
    }

    fn light(&self) -> PixelLight {
        let count = f64::from(self.count.max(1));
        PixelLight { all: self.sum / count, solid: self.solid / count, sky: f64::from(self.of_sky) / count }
    }

    fn is_partly_sky(&self) -> bool {
        self.of_sky > 0 && self.of_sky < self.count
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
            first: (0, 0),
            mixed: PixelSet::ALL,
            sole: Sole::Several,
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
        self.first = first;
        (self.mixed, self.sole) = self.known(&rays).unwrap_or((PixelSet::ALL, Sole::Several));
        rays
    }

    /// The pixels of a tile that may see more than one surface, and what fills all of it.
    fn known(&mut self, rays: &TileRays) -> Option<(PixelSet, Sole)> {
        let table = self.table;
        let joints = table.joints.as_ref().filter(|_| self.bundled && table.spares)?;
        let corners = table.taking.pixel_corners(rays)?;
        let grid = self.grid.as_ref();
        // Where two triangles of a surface meet, each knows only the lines that come near itself.
        let mut bare = table.pen.is_none() || grid.is_some();
        let corners = (&corners, grid.is_some());
        let seams = table.sight.seams(&self.bundle, &table.taking.eye, corners, |block, triangle| {
            if let (Some(pen), Some(grid)) = (table.pen, grid) {
                bare = bare && table.surfaces.is_bare(block, triangle, grid, pen, &mut self.at_hand);
            }
            joints.at(block, triangle)
        });
        let sole = if bare && grid.is_some() { seams.sole } else { Sole::Several };
        Some((if bare { seams.mixed } else { seams.mixed.or(seams.joints) }, sole))
    }

    /// Whether a pixel of the tile sees one surface only, for certain.
    pub(super) fn sees_one(&self, pixel: (u32, u32)) -> bool {
        !self.mixed.has(pixel.0 - self.first.0, pixel.1 - self.first.1)
    }

    /// How strongly ink covers a hit; `None` where it is not the same all over what is asked for.
    pub(super) fn ink_of(&mut self, ray: &SightRay, hit: &SurfaceHit, extent: Extent<'_>) -> Option<f64> {
        let at_hand = self.grid.as_ref().map(|grid| (grid, &mut self.at_hand));
        self.table.ink(ray, hit, at_hand, extent.within_px())
    }

    /// Draws the pixels from `first` up to and without `end`: hands each one's light to `put`.
    pub(super) fn tile(&mut self, first: (u32, u32), end: (u32, u32), mut put: impl FnMut((u32, u32), PixelLight)) {
        let table = self.table;
        let rays = self.begin(first);
        let pixels = || (first.1..end.1).flat_map(|y| (first.0..end.0).map(move |x| (x, y)));
        if let Some(fill) = self.fill(&rays) {
            for pixel in pixels() {
                let direction = CameraRays::middle_in(&rays, pixel).unwrap_or_else(WorldVector::z);
                let RayLight { light, is_sky } = fill.along(table, &direction);
                put(pixel, PixelLight::plain(light, is_sky));
            }
            return;
        }
        let mut means = [Mean::NOTHING; (TILE_PX * TILE_PX) as usize];
        for (pixel, mean) in pixels().zip(&mut means) {
            if self.sees_one(pixel)
                && let Some(whole) = self.light(&rays, pixel, None)
            {
                mean.add(whole);
                continue;
            }
            for index in 0..table.samples {
                mean.add_some(self.light(&rays, pixel, Some(index)));
            }
        }
        // Out of focus, what only one sample in many meets would be missed if each pixel decided for itself.
        let all = table.taking.has_opening() && means.iter().any(Mean::differs);
        for (pixel, mean) in pixels().zip(&mut means) {
            if table.samples > 1
                && mean.count == table.samples
                && (all || mean.differs() || table.without_sky && mean.is_partly_sky())
            {
                for index in table.samples..table.samples * REFINEMENT {
                    mean.add_some(self.light(&rays, pixel, Some(index)));
                }
            }
            put(pixel, mean.light());
        }
    }

    /// What fills the tile, where its light can be told for all of it at once.
    fn fill(&mut self, rays: &TileRays) -> Option<Fill> {
        let table = self.table;
        let grid = self.grid.as_ref()?;
        let wide = grid.across.norm().max(grid.down.norm());
        let (normal, offset, finish, block) = match self.sole {
            Sole::Several => return None,
            Sole::Sky => {
                let middle = CameraRays::middle_in(rays, (self.first.0 + TILE_PX / 2, self.first.1 + TILE_PX / 2))?;
                return table.tones.sky_is_even(&middle, f64::from(TILE_PX) * wide).then_some(Fill::Sky);
            }
            Sole::Surface(Surface::Block { block, triangle }) => {
                let face = table.surfaces.flat(block, triangle)?;
                (face.normal, face.offset, Some(face), Some(block))
            }
            Sole::Surface(Surface::Ground) => {
                let GroundSurface::Level(level_m) = table.relief else { return None };
                (WorldVector::z(), level_m, None, None)
            }
            Sole::Surface(Surface::Water) => return None,
        };
        if finish.is_none() && table.model.site.water_level_m.is_some() {
            return None;
        }
        let eye = &table.taking.eye;
        let height_m = offset - eye.coords.dot(&normal);
        let corners = grid.corners.map(|corner| eye + corner * (height_m / corner.dot(&normal)));
        let middle = WorldPoint::from(corners.iter().map(|corner| corner.coords).sum::<WorldVector>() / 4.0);
        let spread_m = corners.iter().map(|corner| (corner - middle).norm()).fold(0.0, f64::max);
        let far_m = corners.iter().map(|corner| (corner - eye).norm()).fold(0.0, f64::max);
        if !(spread_m < 0.5 * far_m && far_m < FARTHEST_FILL_M) {
            return None;
        }
        let outward = if height_m > 0.0 { -normal } else { normal };
        if let (Some(face), Some(pen)) = (&finish, table.pen) {
            let lowest_m = corners.iter().map(|corner| corner.z).fold(f64::INFINITY, f64::min);
            let reach_m = (pen.widest_px() + SOFTNESS_PX + 1.0) * far_m * wide;
            if lowest_m - reach_m <= face.meets_ground_below_m {
                return None;
            }
        }
        let on = match block {
            Some(_) => Receiver {
                point: &middle,
                normal: &outward,
                clearance_m: FLAT_CLEARANCE_M,
                block,
                radius_m: f64::INFINITY,
            },
            None => Receiver::of_ground(&middle, &outward),
        };
        let lit = self.shadows.is_all_lit(&on, spread_m, spread_m)?;
        let tone = match &finish {
            Some(face) => table.tones.card(face.standing, face.finish, &outward, lit),
            None => table.tones.ground(&normal, lit),
        };
        Some(Fill::Flat { normal, height_m, tone })
    }

    /// The light along the ray of a sample; without one, of the whole pixel, if its middle can tell.
    fn light(&mut self, rays: &TileRays, pixel: (u32, u32), sample: Option<u32>) -> Option<RayLight> {
        let table = self.table;
        let places = sample.map(|index| &table.places[index as usize]);
        let extent = places.map_or(Extent::Pixel, |places| Extent::Point(&places.to_sun));
        let on_lens = match sample {
            Some(index) if table.taking.has_opening() => place_in_disc(index, shift_of_pixel(pixel.0, pixel.1)),
            _ => (0.0, 0.0),
        };
        let in_pixel = places.map_or((0.5, 0.5), |places| places.in_pixel);
        let Some(ray) = table.taking.ray(rays, pixel, in_pixel, on_lens) else {
            return Some(RayLight { light: table.tones.vignette, is_sky: false });
        };
        let met = if self.bundled {
            table.sight.first_hit_in(&self.bundle, &ray.origin, &ray.direction, 0.0)
        } else {
            table.sight.first_hit(&ray.origin, &ray.direction, 0.0)
        };
        let Some(hit) = met else {
            let is_even = sample.is_some() || table.tones.sky_is_even(&ray.direction, ray.across.norm());
            return is_even.then(|| RayLight { light: table.tones.sky(&ray.direction), is_sky: true });
        };
        let tone = match hit.surface {
            Surface::Block { block, triangle } => {
                let hit = table.surfaces.hit(&ray, hit.distance_m, block, triangle);
                let at_hand = self.grid.as_ref().map(|grid| (grid, &mut self.at_hand));
                table.card(&ray, &hit, extent, at_hand, &mut self.shadows)
            }
            Surface::Ground => table.ground(&ray, hit.distance_m, &hit.point, extent, &mut self.shadows),
            Surface::Water => Some(table.tones.water(&ray.direction)),
        };
        Some(RayLight { light: table.tones.through_air(tone?, hit.distance_m), is_sky: false })
    }
}
