//! What light does a piece of surface send to the eye?

use std::f64::consts::PI;

use crate::pose::{WorldPoint, WorldVector};
use crate::sight::{Sight, Surface};
use crate::site::{Model, Sun};

use super::super::ground::{GroundSurface, change_per_pixel};
use super::super::rays::{SightRay, place_in_disc};
use super::super::tones::Light;
use super::cover::hex;
use super::daylight::Daylight;
use super::filter::{Footprint, blotches, left, lumps, mix};
use super::floor::{Floors, GroundPixel};
use super::skins::{Measure, Skin, SkinKind, Skins};

/// How many directions the light of the sky is asked from.
const DIRECTIONS: u32 = 24;
/// How far off things still keep the sky from a place, in metres, by turns, so that near things count most.
const REACHES_M: [f64; 4] = [1.2, 4.0, 11.0, 30.0];
/// What ground and walls throw back on the whole.
const GROUND_SHARE: f64 = 0.24;
const WALL_SHARE: f64 = 0.32;
/// Through so much air the half of a thing's light is lost, in metres.
const HALF_AIR_M: f64 = 1500.0;
/// Steps of the table of the sky's light: upwards, around.
const RINGS: usize = 12;
const AROUND: usize = 36;

/// The materials and the light of one picture.
pub(in crate::still) struct MaterialScene {
    daylight: Daylight,
    skins: Skins,
    floors: Floors,
    /// The sky's light by height and direction, the glare about the sun cut off.
    sky: Vec<Light>,
    directions: Vec<(WorldVector, f64)>,
    /// What ground throws back that lies mostly in the sun, and what stands about in the shade.
    from_ground: Light,
    from_walls: Light,
}

/// Which surface it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::still) enum Piece {
    /// Nothing reaches the picture there.
    Beyond,
    Sky,
    Water,
    Ground,
    /// A surface of a block, by number.
    Skin(u32),
}

/// A piece of surface as a pixel sees it.
pub(in crate::still) struct Seen {
    pub(in crate::still) piece: Piece,
    pub(in crate::still) ray: SightRay,
    pub(in crate::still) point: WorldPoint,
    pub(in crate::still) distance_m: f64,
    pub(in crate::still) normal: WorldVector,
    /// The share of the sun's disc that shines there.
    pub(in crate::still) lit: f64,
    /// The mean luminance of what it faces.
    pub(in crate::still) ambient: Light,
}

impl MaterialScene {
    pub(in crate::still) fn of(model: &Model, sun: Option<&Sun>, first_figure: usize) -> Self {
        let daylight = Daylight::under(sun);
        let mean = super::daylight::luminance(&daylight.from_sky) / PI;
        let sky = (0..RINGS * AROUND)
            .map(|step| {
                let (ring, turn) = (step / AROUND, step % AROUND);
                let up = (ring as f64 + 0.5) / RINGS as f64;
                let (sine, cosine) = (std::f64::consts::TAU * turn as f64 / AROUND as f64).sin_cos();
                let flat = (1.0 - up * up).sqrt();
                let light = daylight.sky(&WorldVector::new(flat * sine, flat * cosine, up));
                light * (2.2 * mean / super::daylight::luminance(&light).max(1e-6)).min(1.0)
            })
            .collect();
        let directions = (0..DIRECTIONS)
            .map(|index| {
                let (x, y) = place_in_disc(index, (0.0, 0.0));
                let up = (1.0 - x * x - y * y).max(0.0).sqrt();
                (WorldVector::new(x, y, up), REACHES_M[index as usize % REACHES_M.len()])
            })
            .collect();
        let level = daylight.sun * daylight.toward_sun.z.max(0.0) * 0.75 + daylight.from_sky;
        let wall = daylight.sun * 0.20 + daylight.from_sky * 0.6;
        let green = Light::new(1.0, 0.98, 0.86);
        Self {
            from_ground: level.component_mul(&green) * (GROUND_SHARE / PI),
            from_walls: wall * (WALL_SHARE / PI),
            skins: Skins::of(model, first_figure),
            floors: Floors::of(&model.site),
            daylight,
            sky,
            directions,
        }
    }

    /// Which surface a triangle of a block belongs to.
    pub(in crate::still) fn skin(&self, block: u32, triangle: u32) -> Piece {
        Piece::Skin(self.skins.number(block, triangle))
    }

    fn skin_of(&self, piece: Piece) -> Option<&Skin> {
        match piece {
            Piece::Skin(number) => self.skins.skins.get(number as usize),
            Piece::Beyond | Piece::Sky | Piece::Water | Piece::Ground => None,
        }
    }

    /// Whether rays may go through a piece here and there.
    pub(in crate::still) fn has_gaps(&self, piece: Piece) -> bool {
        self.skin_of(piece).is_some_and(|skin| skin.kind == SkinKind::Crown)
    }

    /// Whether a ray that grazes a crown goes on between its leaves.
    pub(in crate::still) fn goes_through(&self, piece: Piece, point: &WorldPoint, facing: f64, pixel_m: f64) -> bool {
        let crown = self.skin_of(piece).filter(|skin| skin.kind == SkinKind::Crown);
        crown.is_some_and(|skin| {
            let seed = skin.coat.seed;
            let open = 0.8 * lumps(point, 0.7, 0.5 * pixel_m, seed) + lumps(point, 0.16, 0.5 * pixel_m, seed + 1);
            open > 2.0 * facing - 0.30
        })
    }

    /// The mean luminance that a place faces: the sky where nothing near stands before it, what stands there, and the ground.
    pub(in crate::still) fn ambient(
        &self,
        sight: &Sight,
        point: &WorldPoint,
        normal: &WorldVector,
        off_m: f64,
    ) -> Light {
        let start = point + normal * (off_m + 0.02);
        let aside =
            if normal.z.abs() > 0.9 { WorldVector::x() - normal * normal.x } else { WorldVector::z().cross(normal) };
        let aside = aside.try_normalize(1e-9).unwrap_or_else(WorldVector::x);
        let over = normal.cross(&aside);
        let mut sum = Light::zeros();
        for (local, reach_m) in &self.directions {
            let direction = aside * local.x + over * local.y + normal * local.z;
            if direction.z <= 0.0 {
                // The ground near a wall lies in the wall's own shade.
                let near = if sight.is_free(&start, &(start + direction * *reach_m)) { 1.0 } else { 0.8 };
                sum += self.from_ground * near;
            } else if sight.is_free(&start, &(start + direction * *reach_m)) {
                sum += self.sky_about(&direction);
            } else {
                sum += self.from_walls;
            }
        }
        sum / f64::from(DIRECTIONS)
    }

    fn sky_about(&self, direction: &WorldVector) -> Light {
        let ring = ((direction.z * RINGS as f64) as usize).min(RINGS - 1);
        let turn = direction.x.atan2(direction.y).rem_euclid(std::f64::consts::TAU) / std::f64::consts::TAU;
        let place = turn * AROUND as f64;
        let (step, share) = (place as usize % AROUND, place.fract());
        let at = |step: usize| self.sky[ring * AROUND + step % AROUND];
        mix(at(step), at(step + 1), share)
    }

    /// The place on a surface that a ray through a corner of a tile belongs to, with the normal there: on the surface gone on
    /// beyond its ends, so that neighbouring tiles agree. `None` where it is seen edge on.
    pub(in crate::still) fn carried_on(&self, piece: Piece, ray: &SightRay) -> Option<(WorldPoint, WorldVector)> {
        let skin = self.skin_of(piece)?;
        match skin.measure {
            Measure::Flat { origin, across, up } => {
                let normal = across.cross(&up);
                let toward = ray.direction.dot(&normal);
                let distance_m = (origin - ray.origin).dot(&normal) / toward;
                (toward.abs() > 1e-3 && distance_m > 0.0 && distance_m < 5000.0)
                    .then(|| (ray.origin + ray.direction * distance_m, if toward > 0.0 { -normal } else { normal }))
            }
            Measure::Round { foot, axis, radius_m, .. } => {
                let flat = |vector: WorldVector| vector - axis * vector.dot(&axis);
                let (offset, direction) = (flat(ray.origin - foot), flat(ray.direction));
                let (a, b) = (direction.norm_squared(), offset.dot(&direction));
                let root = (b * b - a * (offset.norm_squared() - radius_m * radius_m)).max(0.0).sqrt();
                let distance_m = (-b - root) / a.max(1e-9);
                let point = ray.origin + ray.direction * distance_m;
                let normal = flat(point - foot).try_normalize(1e-9)?;
                (distance_m > 0.0).then_some((point, normal))
            }
            Measure::Crown => None,
        }
    }

    /// The light that a piece of surface sends to the eye, as the picture shows it.
    pub(in crate::still) fn light(&self, seen: &Seen, sight: &Sight, relief: &GroundSurface<'_>) -> Light {
        let sent = match seen.piece {
            Piece::Beyond => return hex(0xc9bfad),
            Piece::Sky => return self.daylight.developed(&self.daylight.sky_and_sun(&seen.ray.direction)),
            Piece::Water => self.water(seen, sight),
            Piece::Ground => self.ground(seen, relief),
            Piece::Skin(_) => match self.skin_of(seen.piece) {
                Some(skin) => self.skin_light(skin, seen),
                None => return Light::zeros(),
            },
        };
        let lost = 0.9 * (1.0 - (-std::f64::consts::LN_2 * seen.distance_m / HALF_AIR_M).exp());
        let hazy = if lost > 1e-4 { mix(sent, self.daylight.haze(&seen.ray.direction), lost) } else { sent };
        self.daylight.developed(&hazy)
    }

    /// What a matt surface throws back.
    fn thrown_back(&self, share: &Light, normal: &WorldVector, lit: f64, ambient: &Light) -> Light {
        let direct = self.daylight.sun * (normal.dot(&self.daylight.toward_sun).max(0.0) * lit / PI);
        share.component_mul(&(direct + ambient))
    }

    fn ground(&self, seen: &Seen, relief: &GroundSurface<'_>) -> Light {
        let flat = relief.slope((seen.point.x, seen.point.y)).normal();
        let wide = |rise: WorldVector| width(seen, &flat, &rise);
        let pixel = GroundPixel {
            at: (seen.point.x, seen.point.y),
            height_m: seen.point.z,
            wide: (wide(WorldVector::x()), wide(WorldVector::y())),
        };
        self.thrown_back(&self.floors.tone(&pixel), &seen.normal, seen.lit, &seen.ambient)
    }

    /// Still water: what stands over it and the sky, mirrored, over its own dark green.
    fn water(&self, seen: &Seen, sight: &Sight) -> Light {
        let wide =
            width(seen, &WorldVector::z(), &WorldVector::x()).max(width(seen, &WorldVector::z(), &WorldVector::y()));
        let at = (seen.point.x, seen.point.y);
        let ripple = |seed: u32| 0.020 * blotches(at, 0.5, wide, seed) + 0.016 * blotches(at, 2.7, wide, seed + 1);
        let normal = WorldVector::new(ripple(3), ripple(5), 1.0).normalize();
        let direction = seen.ray.direction;
        let mut mirrored = direction - normal * (2.0 * direction.dot(&normal));
        mirrored.z = mirrored.z.max(0.004);
        let mirrored = mirrored.normalize();
        let image = match sight
            .first_hit(&(seen.point + WorldVector::z() * 0.01), &mirrored, 0.02)
            .map(|hit| (hit.surface, hit.point))
        {
            Some((Surface::Block { block, triangle }, _)) => {
                let share = self.skin_of(self.skin(block, triangle)).map_or(hex(0x999080), |skin| skin.coat.main);
                share.component_mul(&(self.from_walls / WALL_SHARE + self.daylight.sun * (0.18 / PI)))
            }
            Some((Surface::Ground, _)) => self.from_ground * 1.1,
            Some((Surface::Water, _)) | None => self.daylight.sky(&mirrored),
        };
        let flat = (1.0 + direction.dot(&normal).min(0.0)).clamp(0.0, 1.0);
        let mirror = 0.02 + 0.98 * flat.powi(5);
        let own =
            Light::new(0.020, 0.034, 0.030).component_mul(&(self.daylight.from_sky + self.daylight.sun * 0.4)) / PI;
        mix(own, image, mirror)
    }

    fn skin_light(&self, skin: &Skin, seen: &Seen) -> Light {
        let (pixel, normal) = match skin.measure {
            Measure::Flat { origin, across, up } => {
                let offset = seen.point - origin;
                let wide = (width(seen, &seen.normal, &across), width(seen, &seen.normal, &up));
                (Footprint { at: (offset.dot(&across), offset.dot(&up)), wide }, seen.normal)
            }
            Measure::Round { foot, axis, from, aside, radius_m } => {
                let offset = seen.point - foot;
                let up = offset.dot(&axis);
                let radial = offset - axis * up;
                let turn = radial.dot(&aside).atan2(radial.dot(&from));
                let here_m = radial.norm().max(1e-3);
                let along = axis.cross(&radial) / here_m;
                let wide = (width(seen, &seen.normal, &along) * radius_m / here_m, width(seen, &seen.normal, &axis));
                (Footprint { at: (turn * radius_m, up), wide }, seen.normal)
            }
            Measure::Crown => return self.crown(skin, seen),
        };
        let mut share = skin.coat.tone(&pixel);
        if skin.kind == SkinKind::Wall {
            // Splashes and damp at the foot.
            let damp = (1.0 - pixel.at.1 / 0.6).clamp(0.0, 1.0) * left(pixel.wide.1, 1.2);
            share *= 1.0 - 0.16 * damp;
        }
        if let Some(mouth_m) = skin.mouth_m {
            let off = pixel.at.0.hypot(pixel.at.1);
            share = mix(share, hex(0x15110f), pixel.within(mouth_m - off));
        }
        let mut glass = 0.0_f64;
        for detail in &skin.details {
            let (laid, pane) = detail.lay(share, &pixel, &skin.trim);
            (share, glass) = (laid, glass.max(pane));
        }
        let sent = self.thrown_back(&share, &normal, seen.lit, &seen.ambient);
        if glass <= 0.0 {
            return sent;
        }
        let direction = seen.ray.direction;
        let mut mirrored = direction - normal * (2.0 * direction.dot(&normal));
        let image = if mirrored.z > 0.0 {
            mirrored.z = mirrored.z.max(0.05);
            self.daylight.sky(&mirrored.normalize())
        } else {
            self.from_ground
        };
        let facing = direction.dot(&normal).abs();
        // Two panes, four surfaces, about an eighth thrown back straight on; and a dark room behind.
        let mirror = 0.13 + 0.87 * (1.0 - facing).powi(5);
        sent + (image * mirror + self.from_walls * 0.10) * glass
    }

    /// A crown in clumps of leaves: lighter where they turn to the sun, darker between and below.
    fn crown(&self, skin: &Skin, seen: &Seen) -> Light {
        let wide = width(seen, &seen.normal, &WorldVector::z()).min(1.0);
        let seed = skin.coat.seed;
        let clump = |size: f64, seed: u32| lumps(&seen.point, size, wide, seed);
        let bent = WorldVector::new(clump(0.9, seed), clump(0.9, seed + 1), clump(0.9, seed + 2));
        let fine = WorldVector::new(clump(0.28, seed + 3), clump(0.28, seed + 4), clump(0.28, seed + 5));
        let normal = (seen.normal + bent * 0.75 + fine * 0.55).try_normalize(1e-9).unwrap_or(seen.normal);
        let deep = (0.72 + 0.5 * clump(0.9, seed + 6) + 0.25 * clump(0.28, seed + 7)).clamp(0.15, 1.2);
        let over = 0.5 + 0.5 * seen.normal.z;
        let leaf = mix(skin.coat.main, hex(0x98a35c), (0.4 + 0.5 * clump(0.28, seed + 8)).clamp(0.0, 1.0));
        let sky = self.sky_about(&WorldVector::new(normal.x, normal.y, normal.z.max(0.2)).normalize());
        let ambient = mix(self.from_ground * 0.7, sky, 0.2 + 0.8 * over) * (0.35 + 0.65 * over);
        // Leaves let some of the sun through.
        let facing = normal.dot(&self.daylight.toward_sun);
        let turned = (2.2 * seen.normal.dot(&self.daylight.toward_sun)).clamp(0.0, 1.0) * seen.lit;
        let direct = self.daylight.sun * ((0.80 * facing.max(0.0) * turned + 0.11 * (1.0 + facing)) / PI);
        leaf.component_mul(&(direct * deep + ambient * (0.4 + 0.6 * deep)))
    }
}

/// How wide a pixel is on a surface along a direction in it.
fn width(seen: &Seen, normal: &WorldVector, along: &WorldVector) -> f64 {
    change_per_pixel(&seen.ray, seen.distance_m, normal, along)
        .map_or(1e3, |(right, down)| right.abs().max(down.abs()) + 0.4 * right.abs().min(down.abs()))
}
