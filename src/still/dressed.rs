//! How is a tile drawn in its materials?
//!
//! Rays are looked along as in the card look; what they meet is gathered piece by piece, and each piece of a pixel is asked for
//! its light once. A pixel that sees one piece, wholly in the sun or out of it, needs four rays; one where pieces or shadows
//! meet has sixteen. Where it is known beforehand to see one, one ray will do.

use crate::pose::{WorldPoint, WorldVector};
use crate::sight::Surface;

use super::materials::{MaterialScene, Piece, Seen};
use super::picture::PixelLight;
use super::rays::{SightRay, TILE_PX, TileRays, place_in_disc, shift_of_pixel};
use super::shadows::Receiver;
use super::tiles::{Extent, REFINEMENT, TileRenderer, is_lit};
use super::tones::Light;

/// How often a ray may pass between the leaves of a crown.
const MOST_LEAVES: usize = 6;

/// A piece of surface in one pixel, as far as its rays have met it.
struct Met {
    piece: Piece,
    ray: SightRay,
    hits: u32,
    lit: u32,
    point: WorldVector,
    distance_m: f64,
    normal: WorldVector,
    clearance_m: f64,
    ink: f64,
}

impl TileRenderer<'_> {
    /// Draws the pixels from `first` up to and without `end` in their materials.
    pub(super) fn tile_of_materials(
        &mut self,
        materials: &MaterialScene,
        first: (u32, u32),
        end: (u32, u32),
        mut put: impl FnMut((u32, u32), PixelLight),
    ) {
        let rays = self.begin(first);
        self.ambient.begin(first);
        let samples = self.table.samples;
        let mut met: Vec<Met> = Vec::with_capacity(8);
        for y in first.1..end.1 {
            for x in first.0..end.0 {
                met.clear();
                let mut count = 0;
                let mut settled = false;
                if self.sees_one((x, y)) {
                    // The middle of the pixel.
                    settled = self.meet(materials, &rays, (x, y), None, &mut met);
                    count = 1;
                }
                if !settled {
                    met.clear();
                    for index in 0..samples {
                        self.meet(materials, &rays, (x, y), Some(index), &mut met);
                    }
                    count = samples;
                    let mixed = met.len() > 1 || met.iter().any(|met| met.lit > 0 && met.lit < met.hits);
                    if samples > 1 && (mixed || self.table.taking.has_opening()) {
                        for index in samples..samples * REFINEMENT {
                            self.meet(materials, &rays, (x, y), Some(index), &mut met);
                        }
                        count *= REFINEMENT;
                    }
                }
                let within = (f64::from(x - first.0) + 0.5, f64::from(y - first.1) + 0.5);
                let within = (within.0 / f64::from(TILE_PX), within.1 / f64::from(TILE_PX));
                let mut seen = PixelLight { all: Light::zeros(), solid: Light::zeros(), sky: 0.0 };
                for met in &met {
                    let share = f64::from(met.hits) / f64::from(count);
                    let light = self.light_of(materials, &rays, within, met) * share;
                    seen.all += light;
                    if met.piece == Piece::Sky {
                        seen.sky += share;
                    } else {
                        seen.solid += light;
                    }
                }
                put((x, y), seen);
            }
        }
    }

    /// Looks along a ray of a pixel (its middle, without an index) and adds what it meets; says whether sun and ink are certain
    /// to be the same all over the pixel.
    fn meet(
        &mut self,
        materials: &MaterialScene,
        rays: &TileRays,
        pixel: (u32, u32),
        index: Option<u32>,
        all: &mut Vec<Met>,
    ) -> bool {
        let table = self.table;
        let places = index.map(|index| &table.places[index as usize]);
        let extent = places.map_or(Extent::Pixel, |places| Extent::Point(&places.to_sun));
        let in_pixel = places.map_or((0.5, 0.5), |places| places.in_pixel);
        let on_lens = match index {
            Some(index) if table.taking.has_opening() => place_in_disc(index, shift_of_pixel(pixel.0, pixel.1)),
            _ => (0.0, 0.0),
        };
        let Some(ray) = table.taking.ray(rays, pixel, in_pixel, on_lens) else {
            add(all, Met::bare(Piece::Beyond, SightRay::nowhere()));
            return true;
        };
        let mut nearest_m = 0.0;
        for _ in 0..MOST_LEAVES {
            let hit = if self.bundled {
                table.sight.first_hit_in(&self.bundle, &ray.origin, &ray.direction, nearest_m)
            } else {
                table.sight.first_hit(&ray.origin, &ray.direction, nearest_m)
            };
            let Some(hit) = hit else {
                add(all, Met::bare(Piece::Sky, ray));
                return index.is_some() || table.tones.sky_is_even(&ray.direction, ray.across.norm());
            };
            let mut met = Met { distance_m: hit.distance_m, point: hit.point.coords, ..Met::bare(Piece::Water, ray) };
            let lit = match hit.surface {
                Surface::Water => {
                    met.normal = WorldVector::z();
                    add(all, met);
                    return true;
                }
                Surface::Ground => {
                    met.piece = Piece::Ground;
                    met.normal = table.relief.rounded_normal((hit.point.x, hit.point.y));
                    let on = Receiver::of_ground(&hit.point, &met.normal);
                    met.clearance_m = on.clearance_m;
                    is_lit(&mut self.shadows, &ray, met.distance_m, &on, extent)
                }
                Surface::Block { block, triangle } => {
                    let surface = table.surfaces.hit(&ray, hit.distance_m, block, triangle);
                    met.piece = materials.skin(block, triangle);
                    (met.distance_m, met.point, met.normal) =
                        (surface.distance_m, surface.point.coords, surface.normal);
                    met.clearance_m = surface.receiver().clearance_m;
                    let pixel_m = surface.distance_m * ray.across.norm();
                    let facing = ray.direction.dot(&surface.normal).abs();
                    if materials.goes_through(met.piece, &surface.point, facing, pixel_m) {
                        nearest_m = hit.distance_m + 0.02;
                        continue;
                    }
                    if index.is_none() && materials.has_gaps(met.piece) {
                        return false;
                    }
                    match self.ink_of(&ray, &surface, extent) {
                        Some(ink) => met.ink = ink,
                        None => return false,
                    }
                    is_lit(&mut self.shadows, &ray, met.distance_m, &surface.receiver(), extent)
                }
            };
            met.lit = u32::from(lit == Some(true));
            add(all, met);
            return lit.is_some();
        }
        add(all, Met::bare(Piece::Sky, ray));
        true
    }

    /// The light of a piece, for a pixel that lies so far within the tile.
    fn light_of(&mut self, materials: &MaterialScene, rays: &TileRays, within: (f64, f64), met: &Met) -> Light {
        let table = self.table;
        let hits = f64::from(met.hits);
        let point = WorldPoint::from(met.point / hits);
        let normal = met.normal.try_normalize(1e-9).unwrap_or_else(WorldVector::z);
        let mut seen = Seen {
            piece: met.piece,
            ray: met.ray,
            point,
            distance_m: met.distance_m / hits,
            normal,
            lit: f64::from(met.lit) / hits,
            ambient: Light::zeros(),
        };
        if matches!(met.piece, Piece::Ground | Piece::Skin(_)) {
            let [a, b, c, d] = self.ambient_of(materials, rays, met, &seen);
            let (u, v) = within;
            let (above, below) = (a + (b - a) * u, d + (c - d) * u);
            seen.ambient = above + (below - above) * v;
        }
        let light = materials.light(&seen, table.sight, &table.relief);
        if met.ink > 0.0 { light.lerp(&table.tones.edge, met.ink / hits) } else { light }
    }

    /// The ambient light at the tile's corners, round from its top left, of the surface that a piece belongs to.
    fn ambient_of(&mut self, materials: &MaterialScene, rays: &TileRays, met: &Met, seen: &Seen) -> [Light; 4] {
        if let Some((_, known)) = self.ambient.corners.iter().find(|(piece, _)| *piece == met.piece) {
            return *known;
        }
        let before = self.ambient.before.iter().find(|(piece, _)| *piece == met.piece).map(|(_, known)| *known);
        let table = self.table;
        let own = |ray: Option<SightRay>| {
            let place = ray.and_then(|ray| {
                if met.piece != Piece::Ground {
                    return materials.carried_on(met.piece, &ray);
                }
                let hit = table.sight.first_hit(&ray.origin, &ray.direction, 0.0);
                let ground = hit.filter(|hit| hit.surface == Surface::Ground).map(|hit| hit.point);
                // Behind a block the ground goes on as it is beside it.
                let point = ground.or_else(|| {
                    let toward = ray.direction.dot(&seen.normal);
                    let distance_m = (seen.point - ray.origin).dot(&seen.normal) / toward;
                    (toward < -1e-3 && distance_m < 3.0 * seen.distance_m)
                        .then(|| ray.origin + ray.direction * distance_m)
                })?;
                Some((point, table.relief.rounded_normal((point.x, point.y))))
            });
            let (point, normal) = place.unwrap_or((seen.point, seen.normal));
            materials.ambient(table.sight, &point, &normal, met.clearance_m / f64::from(met.hits))
        };
        let corner = |right: bool, bottom: bool| table.taking.corner(rays, right, bottom);
        let [top, bottom] = match before {
            Some([_, top, bottom, _]) => [top, bottom],
            None => [own(corner(false, false)), own(corner(false, true))],
        };
        let corners = [top, own(corner(true, false)), own(corner(true, true)), bottom];
        self.ambient.corners.push((met.piece, corners));
        corners
    }
}

impl Met {
    /// Something without a place.
    fn bare(piece: Piece, ray: SightRay) -> Self {
        Self {
            piece,
            ray,
            hits: 1,
            lit: 0,
            point: WorldVector::zeros(),
            distance_m: 0.0,
            normal: WorldVector::z(),
            clearance_m: 0.0,
            ink: 0.0,
        }
    }
}

/// Adds what a ray met to what is known of its piece.
fn add(all: &mut Vec<Met>, met: Met) {
    match all.iter_mut().find(|known| known.piece == met.piece) {
        Some(known) => {
            known.hits += met.hits;
            known.lit += met.lit;
            known.point += met.point;
            known.distance_m += met.distance_m;
            known.normal += met.normal;
            known.clearance_m += met.clearance_m;
            known.ink += met.ink;
        }
        None => all.push(met),
    }
}
