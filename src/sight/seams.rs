//! Which pixels of a tile see one surface only, and need no second ray to say so?
//!
//! The rays of a pixel lie between those at its four corners. A triangle's side as seen from the eye, and the reciprocal of the
//! distance to its plane, are linear in the direction: what holds at the four corners holds in the whole pixel, so that
//! nothing is missed, however thin. A pixel that touches a surface and none of its seams lies wholly in it; what is farther
//! off there does not count.

use std::cell::OnceCell;

use nalgebra::Vector3;

use crate::pose::{WorldPoint, WorldVector};

use super::sift::{NEARER, NEARER_M, wide};
use super::{Bundle, FARTHEST_M, Sight, Surface};

/// Pixels along the side of a tile.
pub const TILE_SIDE: usize = 8;
const CORNERS: usize = TILE_SIDE + 1;
/// How far from a side, in radians, a corner must be to lie beside it for certain: far more than a ray loses to `f32`.
const MARGIN: f64 = 3e-5;
/// Tiles that may meet more triangles are not looked at: most of their pixels see several surfaces.
const MOST: usize = 28;
/// An eye nearer to level ground or water than this sees it edge on.
const LEVEL_M: f64 = 0.05;

/// The directions at the pixel corners of a tile, of any length, row by row.
pub type PixelCorners = [[WorldVector; CORNERS]; CORNERS];

/// Some of the pixels of a tile.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct PixelSet(u128);

impl PixelSet {
    /// All of them.
    pub const ALL: Self = Self(pixels_of_tile());
    /// None.
    pub const NONE: Self = Self(0);

    /// Whether it has the pixel so far to the right and so far down in its tile.
    pub fn has(self, column: u32, row: u32) -> bool {
        self.0 >> (CORNERS as u32 * row + column) & 1 == 1
    }

    /// Those of either.
    #[must_use]
    pub fn or(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }
}

/// A bit for each pixel, at the place of its upper left corner.
const fn pixels_of_tile() -> u128 {
    let (mut bits, mut row) = (0, 0);
    while row < TILE_SIDE {
        bits |= ((1 << TILE_SIDE) - 1) << (CORNERS * row);
        row += 1;
    }
    bits
}
const PIXELS: u128 = pixels_of_tile();
const EVERY_CORNER: u128 = (1 << (CORNERS * CORNERS)) - 1;

/// The pixels that have all four corners.
fn with_four(corners: u128) -> u128 {
    corners & corners >> 1 & corners >> CORNERS & corners >> (CORNERS + 1) & PIXELS
}

/// The pixels that have any of their corners.
fn with_any(corners: u128) -> u128 {
    (corners | corners >> 1 | corners >> CORNERS | corners >> (CORNERS + 1)) & PIXELS
}

/// What a triangle of a block is part of, as seen from an eye.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Joined {
    /// A number that the triangles of one smooth surface share.
    pub surface: u32,
    /// Whether that surface lies in one plane.
    pub flat: bool,
    /// Whether the surface ends along the side from each corner to the next, or turns away from the eye there.
    pub seams: [bool; 3],
}

/// What is known of the pixels of a tile before any ray is looked along.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TileSeams {
    /// Where more than one surface may be seen.
    pub mixed: PixelSet,
    /// Where several triangles of one surface of a block may be seen.
    pub joints: PixelSet,
    /// What fills the whole tile.
    pub sole: Sole,
}

/// What fills a tile.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sole {
    /// The sky.
    Sky,
    /// One triangle, level ground or water.
    Surface(Surface),
    /// Several surfaces, several triangles of one, or nobody knows.
    Several,
}

impl TileSeams {
    const UNKNOWN: Self = Self { mixed: PixelSet::ALL, joints: PixelSet::ALL, sole: Sole::Several };
}

/// What a tile sees of one triangle, or of level ground or water.
#[derive(Debug)]
struct Part {
    group: Group,
    surface: Surface,
    /// Which pixels it may be seen in.
    touched: u128,
    /// Those that have a corner in it for certain.
    entered: u128,
    /// Those that may see one of its seams.
    seams: u128,
    /// Where it, or the flat surface it belongs to, is all that lies between eye and what is behind.
    covers: u128,
    /// Times a direction, the reciprocal of the distance.
    nearness: Vector3<f64>,
    hidden: u128,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Group {
    Ground,
    LevelGround,
    Water,
    Block { surface: u32, flat: bool },
}

/// The directions at the pixel corners of a tile, of length 1.
struct Fan<'c, T> {
    corners: &'c PixelCorners,
    turn: T,
    /// Those at the tile's corners, and whether all others lie between them.
    outer: [Vector3<f64>; 4],
    straight: bool,
    /// All of them side by side, once they are asked for.
    all: OnceCell<Spread>,
}

struct Spread {
    x: [f64; CORNERS * CORNERS],
    y: [f64; CORNERS * CORNERS],
    z: [f64; CORNERS * CORNERS],
}

impl Spread {
    fn along(&self, vector: &Vector3<f64>, index: usize) -> f64 {
        self.x[index] * vector.x + self.y[index] * vector.y + self.z[index] * vector.z
    }
}

/// The corners that lie to either side of a plane through the eye, for certain.
#[derive(Clone, Copy)]
struct Sides {
    above: u128,
    below: u128,
}

impl Sides {
    fn pixels_above(self) -> u128 {
        with_four(self.above)
    }

    fn pixels_below(self) -> u128 {
        with_four(self.below)
    }
}

impl<'c, T: Fn(WorldVector) -> WorldVector> Fan<'c, T> {
    fn of(corners: &'c PixelCorners, straight: bool, turn: T) -> Self {
        let outer = [(0, 0), (0, TILE_SIDE), (TILE_SIDE, 0), (TILE_SIDE, TILE_SIDE)];
        let outer = outer.map(|(row, column)| turn(corners[row][column].normalize()));
        Self { corners, turn, outer, straight, all: OnceCell::new() }
    }

    fn all(&self) -> &Spread {
        self.all.get_or_init(|| {
            let none = [0.0; CORNERS * CORNERS];
            let mut all = Spread { x: none, y: none, z: none };
            for (index, corner) in self.corners.iter().flatten().enumerate() {
                let direction = (self.turn)(corner / corner.norm());
                (all.x[index], all.y[index], all.z[index]) = (direction.x, direction.y, direction.z);
            }
            all
        })
    }

    /// To which side of a plane through the eye, given by its normal of length 1, the corners lie; `level` is taken off.
    fn sides(&self, normal: &Vector3<f64>, level: f64) -> Sides {
        if self.straight {
            if self.outer.iter().all(|corner| corner.dot(normal) - level > MARGIN) {
                return Sides { above: EVERY_CORNER, below: 0 };
            }
            if self.outer.iter().all(|corner| corner.dot(normal) - level < -MARGIN) {
                return Sides { above: 0, below: EVERY_CORNER };
            }
        }
        let all = self.all();
        let mut sides = Sides { above: 0, below: 0 };
        for index in 0..CORNERS * CORNERS {
            let off = all.along(normal, index) - level;
            sides.above |= u128::from(off > MARGIN) << index;
            sides.below |= u128::from(off < -MARGIN) << index;
        }
        sides
    }

    /// The pixels in which one plane is nearer than another for certain.
    fn nearer(&self, one: &Vector3<f64>, other: &Vector3<f64>) -> u128 {
        let is_nearer = |near: f64, far: f64| near > 0.0 && far * (1.0 + NEARER) < near / (1.0 + NEARER_M * near);
        if self.straight && self.outer.iter().all(|corner| is_nearer(corner.dot(one), corner.dot(other))) {
            return PIXELS;
        }
        let all = self.all();
        let nearer =
            |bits, index| bits | u128::from(is_nearer(all.along(one, index), all.along(other, index))) << index;
        with_four((0..CORNERS * CORNERS).fold(0, nearer))
    }
}

impl Sight {
    /// Which pixels of a tile may see more than one surface, of what its bundle was gathered for. All rays come from `eye`;
    /// `straight` says whether they lie between those at the tile's corners.
    pub fn seams(
        &self,
        bundle: &Bundle,
        eye: &WorldPoint,
        (corners, straight): (&PixelCorners, bool),
        mut joined: impl FnMut(u32, u32) -> Joined,
    ) -> TileSeams {
        if !bundle.few || bundle.found.len() > MOST {
            return TileSeams::UNKNOWN;
        }
        let mut parts = Vec::with_capacity(bundle.found.len() + 2);
        let fan = Fan::of(corners, straight, |vector| self.axes.turn(vector));
        let origin = wide(self.axes.point(eye));
        for (level_m, group) in [(self.level_ground_m, Group::LevelGround), (self.water_m, Group::Water)] {
            let Some(level_m) = level_m else { continue };
            match Part::of_level(&fan, level_m - eye.z, group) {
                Some(part) => parts.push(part),
                None => return TileSeams::UNKNOWN,
            }
        }
        for (_, place, corners) in &bundle.found {
            let around = corners.map(|corner| wide(corner) - origin);
            let met = self.surfaces.get(*place as usize).copied().unwrap_or(Surface::Ground);
            let (group, seams) = match met {
                Surface::Block { block, triangle } => {
                    let Joined { surface, flat, seams } = joined(block, triangle);
                    (Group::Block { surface, flat }, seams)
                }
                Surface::Ground | Surface::Water => (Group::Ground, self.ground_seams(corners, &around)),
            };
            let part = Part::of_triangle(&fan, &around, (group, met), seams);
            match part {
                Some(part) => parts.push(part),
                None => return TileSeams::UNKNOWN,
            }
        }
        join_flat(&mut parts);
        hide(&mut parts, &fan);
        sum_up(&parts)
    }

    /// Along which sides a triangle of the ground may be its outline: all where it turns away from the eye, and where the
    /// ground ends.
    fn ground_seams(&self, corners: &[glam::Vec3A; 3], [a, b, c]: &[Vector3<f64>; 3]) -> [bool; 3] {
        let normal = (b - a).cross(&(c - a));
        let upward = normal * normal.z.signum();
        let faces_eye = -upward.dot(a) > 1e-4 * upward.norm() * a.norm();
        let at_end = |one: usize| {
            let (one, other) = (corners[one], corners[(one + 1) % 3]);
            let ends = self.relief.as_ref().map(|relief| relief.ends());
            ends.is_some_and(|ends| (0..2).any(|axis| one[axis] == other[axis] && ends[axis].contains(&one[axis])))
        };
        std::array::from_fn(|side| !faces_eye || at_end(side))
    }
}

impl Part {
    /// Of level ground or water so far above the eye; `None` where the eye is too near to tell.
    fn of_level<T: Fn(WorldVector) -> WorldVector>(fan: &Fan<'_, T>, above_m: f64, group: Group) -> Option<Self> {
        if above_m.abs() < LEVEL_M {
            return None;
        }
        let sides = fan.sides(&(Vector3::z() * above_m.signum()), above_m.abs() / FARTHEST_M);
        let (whole, missed) = (sides.pixels_above(), sides.pixels_below());
        Some(Self {
            group,
            surface: if group == Group::Water { Surface::Water } else { Surface::Ground },
            touched: PIXELS & !missed,
            entered: whole,
            seams: PIXELS & !missed & !whole,
            covers: whole,
            nearness: Vector3::z() / above_m,
            hidden: 0,
        })
    }

    /// Of a triangle whose corners are counted from the eye; `None` where it cannot be told.
    fn of_triangle<T: Fn(WorldVector) -> WorldVector>(
        fan: &Fan<'_, T>,
        corners: &[Vector3<f64>; 3],
        (group, surface): (Group, Surface),
        seams: [bool; 3],
    ) -> Option<Self> {
        let [a, b, c] = corners;
        let normal = (b - a).cross(&(c - a));
        let (area, offset) = (normal.norm(), normal.dot(a));
        if area < 1e-9 || offset.abs() < 1e-6 * area {
            return None;
        }
        let mut part = Self {
            group,
            surface,
            touched: PIXELS,
            entered: 0,
            seams: 0,
            covers: PIXELS,
            nearness: normal / offset,
            hidden: 0,
        };
        let mut within = EVERY_CORNER;
        for (side, (from, to)) in [(a, b), (b, c), (c, a)].into_iter().enumerate() {
            let across = from.cross(to);
            let length = across.norm();
            if length < 1e-9 {
                return None;
            }
            let inward = across * (offset.signum() / length);
            let sides = fan.sides(&inward, 0.0);
            let (inside, outside) = (sides.pixels_above(), sides.pixels_below());
            within &= sides.above;
            part.touched &= !outside;
            part.covers &= inside;
            let straddled = PIXELS & !inside & !outside;
            if seams[side] && straddled != 0 {
                // Only between its ends.
                let before = fan.sides(&(across.cross(from) / (length * from.norm())), 0.0).pixels_below();
                let beyond = fan.sides(&(to.cross(&across) / (length * to.norm())), 0.0).pixels_below();
                part.seams |= straddled & !before & !beyond;
            }
        }
        part.entered = with_any(within);
        part.seams &= part.touched;
        Some(part)
    }
}

/// What the triangles of a flat surface cover together: where it is entered and none of its seams is touched.
fn join_flat(parts: &mut [Part]) {
    for index in 0..parts.len() {
        let group = parts[index].group;
        if matches!(group, Group::Block { flat: true, .. }) {
            let of_group = parts.iter().filter(|part| part.group == group);
            let (entered, seams) =
                of_group.fold((0, 0), |(entered, seams), part| (entered | part.entered, seams | part.seams));
            parts[index].covers = entered & !seams;
        }
    }
}

/// Notes where each part lies behind another that covers the pixel.
fn hide<T: Fn(WorldVector) -> WorldVector>(parts: &mut [Part], fan: &Fan<'_, T>) {
    for near in 0..parts.len() {
        let (covers, nearness, group) = (parts[near].covers, parts[near].nearness, parts[near].group);
        if covers == 0 {
            continue;
        }
        let is_flat = !matches!(group, Group::Ground | Group::Block { flat: false, .. });
        for (far, part) in parts.iter_mut().enumerate() {
            let shared = covers & part.touched & !part.hidden;
            if far != near && shared != 0 && !(is_flat && part.group == group) {
                part.hidden |= shared & fan.nearer(&nearness, &part.nearness);
            }
        }
    }
}

/// Where more than one surface is left, or one with a seam in it.
fn sum_up(parts: &[Part]) -> TileSeams {
    let (mut mixed, mut joints, mut sole) = (0, 0, Sole::Sky);
    for (index, part) in parts.iter().enumerate() {
        let seen = part.touched & !part.hidden;
        mixed |= part.seams & !part.hidden;
        if seen != 0 {
            sole = if seen == PIXELS && sole == Sole::Sky { Sole::Surface(part.surface) } else { Sole::Several };
        }
        for other in &parts[..index] {
            let shared = seen & other.touched & !other.hidden;
            match part.group {
                group if group != other.group => mixed |= shared,
                Group::Block { .. } => joints |= shared,
                _ => {}
            }
        }
    }
    if mixed != 0 {
        sole = Sole::Several;
    }
    TileSeams { mixed: PixelSet(mixed), joints: PixelSet(joints), sole }
}
