//! Which coat, openings and courses has each surface of the model?

use std::f64::consts::{PI, TAU};

use crate::pose::{WorldPoint, WorldVector};
use crate::site::{Block, Curve, Model, Shape, Solid};

#[cfg(feature = "viewer")]
use super::super::tones::Light;
use super::cover::{Coat, Cover, hex};
use super::names::{has_openings, has_word, roof, walls};
use super::openings::{Detail, DetailKind, Head, Trim};

/// Faces whose normals rise more steeply than this (the sine) are level; less steeply than the second, walls.
const LEVEL: f64 = 0.985;
const WALL: f64 = 0.30;
/// The usual height from floor to floor. Common practice, no source.
const STOREY_M: f64 = 3.0;
/// The usual distance from window to window. Common practice, no source.
const BAY_M: f64 = 3.1;
/// A door between its jambs, and up to its head. Common practice, no source.
pub(super) const DOOR_M: (f64, f64) = (0.95, 2.05);

/// How a surface is counted in metres.
#[derive(Clone, Copy, Debug)]
pub(super) enum Measure {
    /// A flat one: two directions in it, and the point where both are nought.
    Flat { origin: WorldPoint, across: WorldVector, up: WorldVector },
    /// About an axis: across is the turn times the radius at its foot, counted from where one faces it from `from`.
    Round { foot: WorldPoint, axis: WorldVector, from: WorldVector, aside: WorldVector, radius_m: f64 },
    /// A crown, which is counted in space.
    Crown,
}

/// What kind of surface it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum SkinKind {
    Wall,
    Roof,
    Level,
    /// A pane that stands back in a front.
    Pane,
    Crown,
}

/// One surface of a block.
#[derive(Clone, Debug)]
pub(super) struct Skin {
    pub(super) kind: SkinKind,
    pub(super) coat: Coat,
    pub(super) trim: Trim,
    pub(super) measure: Measure,
    pub(super) details: Vec<Detail>,
    /// The radius of a chimney's mouth about the surface's own origin.
    pub(super) mouth_m: Option<f64>,
}

/// All surfaces of a model.
pub(super) struct Skins {
    pub(super) skins: Vec<Skin>,
    /// The skin of each triangle, block after block.
    pub(super) of_triangle: Vec<u32>,
    pub(super) first_triangle: Vec<usize>,
}

/// What the surfaces of one block have in common.
struct Body<'a> {
    block: &'a Block,
    solid: &'a Solid,
    subject: bool,
    /// Whether it stands there for scale.
    figure: bool,
    seed: u32,
    cover: Cover,
    foot: WorldPoint,
    /// The block's own axes in the world.
    right: WorldVector,
    ahead: WorldVector,
}

impl Skins {
    /// The surfaces of a model; blocks from `first_figure` on stand there for scale.
    pub(super) fn of(model: &Model, first_figure: usize) -> Self {
        let mut all = Self { skins: Vec::new(), of_triangle: Vec::new(), first_triangle: Vec::new() };
        for (index, solid) in model.solids.iter().enumerate() {
            all.first_triangle.push(all.of_triangle.len());
            let Some(body) = Body::of(model, index, index >= first_figure) else { continue };
            // Faces of one curved surface are one skin; so is every flat face.
            let mut known: Vec<(Option<Curve>, u32, u32)> = Vec::new();
            for triangle in &solid.triangles {
                let face = &solid.faces[triangle.face as usize];
                let same = |&&(curve, number, _): &&(Option<Curve>, u32, u32)| match face.curve {
                    Some(own) => curve == Some(own),
                    None => curve.is_none() && number == triangle.face,
                };
                let skin = known.iter().rev().find(same).map(|&(.., skin)| skin).unwrap_or_else(|| {
                    let skin = all.skins.len() as u32;
                    all.skins.push(body.skin(triangle.face));
                    known.push((face.curve, triangle.face, skin));
                    skin
                });
                all.of_triangle.push(skin);
            }
        }
        all
    }

    /// The skin of a triangle of a block.
    pub(super) fn number(&self, block: u32, triangle: u32) -> u32 {
        let first = self.first_triangle.get(block as usize).copied().unwrap_or(0);
        self.of_triangle.get(first + triangle as usize).copied().unwrap_or(0)
    }
}

/// What most of each face of a block is, in the order of its faces.
#[cfg(feature = "viewer")]
pub(super) fn face_colours(model: &Model, index: usize) -> Vec<Light> {
    let Some(body) = Body::of(model, index, false) else { return Vec::new() };
    (0..body.solid.faces.len() as u32).map(|face| body.skin(face).coat.main).collect()
}

/// A number that belongs to a name.
pub(super) fn seed_of(name: &str) -> u32 {
    name.bytes().fold(2_166_136_261, |seed: u32, byte| (seed ^ u32::from(byte)).wrapping_mul(16_777_619))
}

impl<'a> Body<'a> {
    /// A block of a model; `figure` says whether it stands there for scale.
    fn of(model: &'a Model, index: usize, figure: bool) -> Option<Self> {
        let (block, solid) = (model.site.blocks.get(index)?, model.solids.get(index)?);
        let heading = block.heading_deg.to_radians();
        let ground_m = model.site.terrain.height_m(block.at);
        Some(Self {
            block,
            solid,
            figure,
            subject: !figure && (block.subject || model.subject().next().is_none()),
            seed: seed_of(&block.name),
            cover: if figure { Cover::Paint } else { walls(block) },
            foot: WorldPoint::new(block.at.0, block.at.1, block.base_m.unwrap_or(ground_m + block.lift_m)),
            right: WorldVector::new(heading.cos(), -heading.sin(), 0.0),
            ahead: WorldVector::new(heading.sin(), heading.cos(), 0.0),
        })
    }
}

impl Body<'_> {
    fn trim(&self) -> Trim {
        let doors = [0x2f4a3c, 0x3a3f52, 0x5a3328, 0x2d4650];
        let stone = match self.cover {
            Cover::Ashlar => hex(0xd6caae),
            _ if self.subject => hex(0xd5c9b0),
            _ => hex(0xc6beaf),
        };
        Trim { stone, sash: hex(0xe4e0d6), door: hex(doors[self.seed as usize % doors.len()]) }
    }

    fn skin(&self, face: u32) -> Skin {
        let face_index = face;
        let face = &self.solid.faces[face as usize];
        let normal = face.normal;
        let coat = |cover| match self.figure {
            true => Coat { main: hex(figure_colour(self.block)), ..Coat::of(cover, true, self.seed) },
            false => Coat::of(cover, self.subject, self.seed),
        };
        let plain = |kind, cover, measure| Skin {
            kind,
            coat: coat(cover),
            trim: self.trim(),
            measure,
            details: Vec::new(),
            mouth_m: None,
        };
        match face.curve {
            Some(Curve::Ellipsoid { centre, .. }) => match self.block.shape {
                Shape::Tree { .. } => plain(SkinKind::Crown, Cover::Leaves, Measure::Crown),
                _ => plain(SkinKind::Roof, self.cover, self.about(centre, WorldVector::z(), 1.0)),
            },
            Some(Curve::Round { base, axis, .. }) => {
                let corner = self.corner_of(face_index);
                let radius_m = face.curve.map_or(1.0, |curve| curve.radius_m(&corner)).max(0.05);
                let foot = base + axis * ((self.foot - base).dot(&axis));
                let cover = if matches!(self.block.shape, Shape::Tree { .. }) { Cover::Bark } else { self.cover };
                let mut skin = plain(SkinKind::Wall, cover, self.about(foot, axis, radius_m));
                if let Shape::RoundTaper { height_m, foot_radius_m, .. } = self.block.shape
                    && height_m > 12.0
                    && self.cover == Cover::Brick
                {
                    if let Measure::Round { radius_m, .. } = &mut skin.measure {
                        *radius_m = foot_radius_m;
                    }
                    skin.details = chimney(height_m, foot_radius_m);
                }
                skin
            }
            None if normal.z.abs() > LEVEL => {
                let measure = Measure::Flat { origin: self.foot, across: self.right, up: self.ahead };
                let round_top = match self.block.shape {
                    Shape::RoundTaper { head_radius_m, height_m, .. } if height_m > 8.0 => Some(0.72 * head_radius_m),
                    _ => None,
                };
                let cover = match (self.cover, round_top) {
                    (Cover::Boards | Cover::Concrete | Cover::Paint | Cover::Steel, _) => self.cover,
                    (_, Some(_)) => Cover::Ashlar,
                    (cover, None) if !has_openings(self.block) => cover,
                    (_, None) => Cover::Lead,
                };
                Skin { mouth_m: round_top, ..plain(SkinKind::Level, cover, measure) }
            }
            None if normal.z > WALL => {
                let roof = if has_word(self.block, &["scaffold", "stage"]) {
                    self.cover
                } else {
                    roof(self.block, self.cover, self.seed)
                };
                plain(SkinKind::Roof, roof, self.flat(face_index, None).0)
            }
            None => self.wall(face_index, plain),
        }
    }

    fn wall(&self, face: u32, plain: impl Fn(SkinKind, Cover, Measure) -> Skin) -> Skin {
        let normal = self.solid.faces[face as usize].normal;
        let (measure, wide_m, low_m, high_m) = self.flat(face, Some(self.foot.z));
        let front = normal.dot(&self.ahead) > 0.99;
        if let Shape::Facade { width_m, depth_m, height_m, bays, storeys, opening_share, reveal_m, .. } =
            self.block.shape
        {
            let out_m = (self.corner_of(face) - self.foot).dot(&self.ahead);
            if let Some(skin) = self.before_the_front(face, &plain, (0.5 * depth_m, reveal_m)) {
                return skin;
            }
            if front && out_m < 0.5 * depth_m - 0.5 * reveal_m {
                return self.pane(plain(SkinKind::Pane, Cover::Paint, measure), wide_m, low_m, high_m);
            }
            if high_m - low_m < 0.9 * height_m {
                // The sides of an opening.
                return plain(SkinKind::Wall, Cover::Render, measure);
            }
            let mut skin = plain(SkinKind::Wall, self.cover, measure);
            skin.details = if front {
                front_details(width_m, height_m, bays, storeys, opening_share)
            } else {
                vec![stone_band((0.0, wide_m), (height_m - 0.45, height_m))]
            };
            if !front && wide_m > 5.0 {
                skin.details.extend(storeyed(wide_m, height_m, self.seed, false, 0.62));
            }
            return skin;
        }
        let mut skin = plain(SkinKind::Wall, self.cover, measure);
        if self.figure {
            skin.details = figure_details(self.block, wide_m);
        } else if has_openings(self.block) {
            skin.details = self.openings(wide_m, &normal);
        } else if self.subject && self.cover == Cover::Ashlar && high_m - low_m > 0.9 {
            skin.details.push(stone_band((-0.5, wide_m + 0.5), (high_m - 0.22, high_m)));
        }
        skin
    }

    /// What is not of the front's wall itself: string courses and a clock stand before it, louvres' slats between it and the panes.
    fn before_the_front(
        &self,
        face: u32,
        plain: &impl Fn(SkinKind, Cover, Measure) -> Skin,
        (half_m, reveal_m): (f64, f64),
    ) -> Option<Skin> {
        let of_face = self.solid.triangles.iter().filter(|triangle| triangle.face == face);
        let corners = of_face.flat_map(|triangle| self.solid.corners(triangle));
        let (back_m, out_m) = corners
            .map(|corner| (corner - self.foot).dot(&self.ahead))
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), out_m| (low.min(out_m), high.max(out_m)));
        let (measure, wide_m, low_m, high_m) = self.flat(face, Some(self.foot.z));
        if out_m > half_m + 1e-3 {
            let mut skin = plain(SkinKind::Wall, Cover::Ashlar, measure);
            // A dial is as wide as high; a course is far wider.
            if back_m > half_m + 1e-3 && (wide_m / (high_m - low_m).max(1e-6) - 1.0).abs() < 0.1 {
                skin.details.push(Detail { kind: DetailKind::Clock, across: (0.0, wide_m), up: (low_m, high_m) });
            }
            return Some(skin);
        }
        let slat = out_m < half_m - 1e-3 && back_m > half_m - reveal_m + 1e-3;
        slat.then(|| plain(SkinKind::Wall, Cover::Boards, measure))
    }

    /// The glass of a window that stands back, with its bars.
    fn pane(&self, mut skin: Skin, wide_m: f64, low_m: f64, high_m: f64) -> Skin {
        let (columns, rows) =
            ((wide_m / 0.42).round().max(1.0) as u32, ((high_m - low_m) / 0.48).round().max(2.0) as u32);
        skin.details.push(Detail {
            kind: DetailKind::Window { panes: (columns, rows), head: Head::Flat },
            across: (0.0, wide_m),
            up: (low_m, high_m),
        });
        skin
    }

    /// The details of a wall with this normal, `wide_m` from corner to corner.
    fn openings(&self, wide_m: f64, normal: &WorldVector) -> Vec<Detail> {
        let (eaves_m, long_side) = match self.block.shape {
            Shape::Box { width_m, depth_m, height_m } => (height_m, width_m >= depth_m),
            Shape::Gable { width_m, depth_m, eaves_m, .. } | Shape::Hip { width_m, depth_m, eaves_m, .. } => {
                (eaves_m, width_m >= depth_m)
            }
            Shape::Prism { height_m, .. } => (height_m, true),
            _ => return Vec::new(),
        };
        let along_y = normal.dot(&self.ahead).abs() > 0.7;
        let long = along_y == long_side;
        let back = normal.dot(&self.ahead) < -0.7;
        let block = self.block;
        if has_word(block, &["tower", "belfry", "campanile"]) && eaves_m > 10.0 {
            return bell_tower(wide_m, eaves_m, has_word(block, &["bell", "clock", "church"]), back);
        }
        let mut details = if has_word(block, &["nave", "chapel", "church", "vestry", "abbey"]) {
            lancets(wide_m, eaves_m, long)
        } else if has_word(block, &["engine", "boiler", "pump", "turbine", "hall"]) {
            tall_windows(wide_m, eaves_m, long && back)
        } else if has_word(block, &["barn", "shed", "workshop", "store", "depot"]) {
            gates(wide_m, eaves_m, long)
        } else {
            storeyed(wide_m, eaves_m, self.seed, back || self.seed.is_multiple_of(2), 1.0)
        };
        if self.cover == Cover::Brick || self.cover == Cover::Ashlar {
            details.push(Detail {
                kind: DetailKind::Quoins { right: false },
                across: (0.0, wide_m),
                up: (0.0, eaves_m),
            });
            details.push(Detail {
                kind: DetailKind::Quoins { right: true },
                across: (0.0, wide_m),
                up: (0.0, eaves_m),
            });
        }
        details
    }

    /// A corner of a face.
    fn corner_of(&self, face: u32) -> WorldPoint {
        let of_face = self.solid.triangles.iter().find(|triangle| triangle.face == face);
        of_face.map_or(self.foot, |triangle| self.solid.corners(triangle)[0])
    }

    fn about(&self, foot: WorldPoint, axis: WorldVector, radius_m: f64) -> Measure {
        // Counted from the back of the block, which is where one usually stands before it.
        let from = (-self.ahead - axis * -self.ahead.dot(&axis)).try_normalize(1e-9).unwrap_or_else(WorldVector::x);
        Measure::Round { foot, axis, from, aside: axis.cross(&from), radius_m }
    }

    /// How a flat face is counted, from its left corner and from `foot_m` (else its lowest corner) up: with its width, and from
    /// where to where it reaches up.
    fn flat(&self, face: u32, foot_m: Option<f64>) -> (Measure, f64, f64, f64) {
        let normal = self.solid.faces[face as usize].normal;
        let across = WorldVector::z().cross(&normal).try_normalize(1e-9).unwrap_or_else(WorldVector::x);
        let up = normal.cross(&across);
        let corners = self.solid.triangles.iter().filter(|triangle| triangle.face == face);
        let corners: Vec<WorldPoint> = corners.flat_map(|triangle| self.solid.corners(triangle)).collect();
        let range = |direction: &WorldVector| {
            corners
                .iter()
                .map(|corner| corner.coords.dot(direction))
                .fold((f64::INFINITY, f64::NEG_INFINITY), |a, b| (a.0.min(b), a.1.max(b)))
        };
        let ((left, right), (low, high)) = (range(&across), range(&up));
        // Up a leaning face the foot is found where the face has its height.
        let foot = foot_m.map_or(low, |foot_m| {
            let corner = corners.first().copied().unwrap_or(self.foot);
            corner.coords.dot(&up) + (foot_m - corner.z) / up.z.max(0.05)
        });
        let offset = corners.first().map_or(0.0, |corner| corner.coords.dot(&normal));
        let origin = WorldPoint::from(across * left + up * foot + normal * offset);
        (Measure::Flat { origin, across, up }, right - left, low - foot, high - foot)
    }
}

/// What most of a figure is painted or dressed in.
fn figure_colour(block: &Block) -> u32 {
    let coats = [0x3d4f63, 0x6b4438, 0x4a5340];
    match block.name.as_str() {
        "car" => 0x7c8f98,
        "van" => 0xd9d6cd,
        "bicycle" => 0x2a2c2e,
        // Two people who stand together wear different coats.
        _ => coats[(block.at.0 * 1.3 + block.at.1 * 0.7).abs() as usize % coats.len()],
    }
}

/// Faces and trousers, wheels and windows.
fn figure_details(block: &Block, wide_m: f64) -> Vec<Detail> {
    let band = |digits, across, up| Detail { kind: DetailKind::Colour(digits), across, up };
    let all = (-0.1, wide_m + 0.1);
    let middle = 0.5 * wide_m;
    let wheels = |off_m: f64, radius_m: f64| {
        [-1.0, 1.0].map(|side| Detail {
            kind: DetailKind::Wheel,
            across: (middle + side * off_m - radius_m, middle + side * off_m + radius_m),
            up: (0.0, 2.0 * radius_m),
        })
    };
    match block.name.as_str() {
        "person" => {
            vec![band(0x33343a, all, (-0.1, 0.86)), band(0xb98d70, all, (1.46, 1.64)), band(0x3b2d24, all, (1.63, 1.8))]
        }
        "car" if wide_m > 3.0 => wheels(1.32, 0.31)
            .into_iter()
            .chain([-0.62, 0.12].map(|left| band(0x1f262b, (middle + left, middle + left + 0.68), (0.95, 1.33))))
            .collect(),
        "van" if wide_m > 3.0 => wheels(1.70, 0.34).to_vec(),
        _ => Vec::new(),
    }
}

fn stone_band(across: (f64, f64), up: (f64, f64)) -> Detail {
    Detail { kind: DetailKind::Stone, across, up }
}

fn opening(kind: DetailKind, middle: f64, wide: f64, up: (f64, f64)) -> Detail {
    Detail { kind, across: (middle - 0.5 * wide, middle + 0.5 * wide), up }
}

/// A stack of brick: a stone foot, a door for the sweep, a ladder, iron bands, a corbelled head, soot.
fn chimney(height_m: f64, foot_radius_m: f64) -> Vec<Detail> {
    let around = (-PI * foot_radius_m, PI * foot_radius_m);
    let mut details = vec![
        Detail { kind: DetailKind::Soot, across: around, up: (height_m - 0.22 * height_m, height_m) },
        stone_band(around, (-3.0, 0.45)),
        stone_band(around, (1.80, 2.10)),
    ];
    let mut band_m = 6.0;
    while band_m < height_m - 4.0 {
        details.push(Detail { kind: DetailKind::Iron, across: around, up: (band_m, band_m + 0.08) });
        band_m += 3.0;
    }
    let ladder = TAU * 0.11 * foot_radius_m;
    details.push(Detail { kind: DetailKind::Ladder, across: (ladder, ladder + 0.45), up: (2.4, height_m - 0.2) });
    // The head steps out in three courses of four bricks, under a coping.
    for (step, thick) in [(2.4, 0.15), (1.95, 0.15), (1.5, 0.15)] {
        details.push(stone_band(around, (height_m - step, height_m - step + thick)));
    }
    details.push(stone_band(around, (height_m - 0.4, height_m + 0.1)));
    details.push(opening(
        DetailKind::Door { head: Head::Round },
        -0.12 * foot_radius_m,
        DOOR_M.0,
        (0.0, DOOR_M.1 + 0.3),
    ));
    details
}

/// The front of a building with bays: bands at its floors, a plinth, a parapet, quoins, lintels and sills.
fn front_details(wide_m: f64, high_m: f64, bays: u32, storeys: u32, share: f64) -> Vec<Detail> {
    let (bay_m, storey_m) = (wide_m / f64::from(bays.max(1)), high_m / f64::from(storeys.max(1)));
    let (open_m, tall_m) = (bay_m * share, storey_m * share);
    let all = (-1.0, wide_m + 1.0);
    let mut details = vec![
        Detail { kind: DetailKind::Quoins { right: false }, across: (0.0, wide_m), up: (0.0, high_m - 0.4) },
        Detail { kind: DetailKind::Quoins { right: true }, across: (0.0, wide_m), up: (0.0, high_m - 0.4) },
        stone_band(all, (-3.0, 0.5)),
        stone_band(all, (high_m - 0.42, high_m)),
    ];
    for storey in 0..storeys {
        let foot_m = storey_m * f64::from(storey);
        if storey > 0 {
            details.push(stone_band(all, (foot_m - 0.11, foot_m + 0.11)));
        }
        let middle_m = foot_m + 0.5 * storey_m;
        for bay in 0..bays {
            let middle = bay_m * (f64::from(bay) + 0.5);
            details.push(opening(
                DetailKind::Stone,
                middle,
                open_m + 0.3,
                (middle_m + 0.5 * tall_m, middle_m + 0.5 * tall_m + 0.24),
            ));
            details.push(opening(
                DetailKind::Stone,
                middle,
                open_m + 0.2,
                (middle_m - 0.5 * tall_m - 0.12, middle_m - 0.5 * tall_m),
            ));
        }
    }
    // The door stands between two windows of the ground floor, where the wall has room for it.
    let pier_m = bay_m - open_m;
    if bays > 1 && pier_m > 1.3 {
        let middle = bay_m * f64::from(bays / 2);
        details.push(opening(DetailKind::Door { head: Head::Flat }, middle, DOOR_M.0, (0.0, DOOR_M.1 + 0.4)));
    }
    details
}

/// Sash windows in storeys, a door below where one is wanted; `dense` is how many of the usual windows there are.
fn storeyed(wide_m: f64, eaves_m: f64, seed: u32, with_door: bool, dense: f64) -> Vec<Detail> {
    let storeys = (eaves_m / STOREY_M).round().max(1.0);
    let storey_m = eaves_m / storeys;
    let bays = (dense * wide_m / BAY_M).round().max(1.0);
    let bay_m = wide_m / bays;
    let high_m = (0.46 * storey_m).min(1.45);
    let door_bay = f64::from(seed % bays as u32);
    let mut details = Vec::new();
    for storey in 0..storeys as u32 {
        for bay in 0..bays as u32 {
            let (foot_m, middle) = (f64::from(storey) * storey_m, (f64::from(bay) + 0.5) * bay_m);
            let sill_m = foot_m + 0.32 * storey_m;
            if with_door && storey == 0 && f64::from(bay) == door_bay {
                details.push(opening(DetailKind::Door { head: Head::Flat }, middle, DOOR_M.0, (0.0, DOOR_M.1)));
            } else {
                let kind = DetailKind::Window { panes: (3, 4), head: Head::Flat };
                details.push(opening(kind, middle, 0.95, (sill_m, sill_m + high_m)));
            }
        }
    }
    details
}

/// Pointed windows of a church.
fn lancets(wide_m: f64, eaves_m: f64, long: bool) -> Vec<Detail> {
    let bays = (wide_m / 3.4).round().max(1.0);
    let bay_m = wide_m / bays;
    let (low_m, high_m) = (0.26 * eaves_m, 0.80 * eaves_m);
    let wide = (0.30 * (high_m - low_m)).clamp(0.45, 1.1);
    let kind = DetailKind::Window { panes: (2, 6), head: Head::Pointed };
    let mut details: Vec<Detail> =
        (0..bays as u32).map(|bay| opening(kind, (f64::from(bay) + 0.5) * bay_m, wide, (low_m, high_m))).collect();
    details.push(stone_band((-0.5, wide_m + 0.5), (-3.0, 0.6)));
    if !long && eaves_m > 4.0 {
        details.clear();
        details.push(opening(kind, 0.5 * wide_m, 1.9, (0.3 * eaves_m, 1.02 * eaves_m)));
    }
    details
}

/// The tall round-headed windows of a house for engines, and its door.
fn tall_windows(wide_m: f64, eaves_m: f64, with_door: bool) -> Vec<Detail> {
    let bays = (wide_m / 3.2).round().max(1.0);
    let bay_m = wide_m / bays;
    let (low_m, high_m) = (0.24 * eaves_m, 0.80 * eaves_m);
    let kind = DetailKind::Window { panes: (4, 8), head: Head::Round };
    let mut details: Vec<Detail> = (0..bays as u32)
        .map(|bay| {
            let middle = (f64::from(bay) + 0.5) * bay_m;
            if with_door && bay == bays as u32 / 2 {
                opening(DetailKind::Door { head: Head::Round }, middle, 1.3, (0.0, 2.6))
            } else {
                opening(kind, middle, (0.42 * (high_m - low_m)).clamp(0.8, 1.7), (low_m, high_m))
            }
        })
        .collect();
    details.push(stone_band((-0.5, wide_m + 0.5), (-3.0, 0.45)));
    details.push(stone_band((-0.5, wide_m + 0.5), (eaves_m - 0.30, eaves_m - 0.05)));
    details
}

/// Gates and small windows of a barn or store.
fn gates(wide_m: f64, eaves_m: f64, long: bool) -> Vec<Detail> {
    let high_m = (0.72 * eaves_m).min(3.4);
    let gate = opening(DetailKind::Gate, 0.5 * wide_m, (0.85 * high_m).min(0.5 * wide_m), (0.0, high_m));
    let kind = DetailKind::Window { panes: (2, 2), head: Head::Flat };
    let window = |middle| opening(kind, middle, 0.8, (0.45 * eaves_m, 0.45 * eaves_m + 0.8));
    if long { vec![gate, window(0.18 * wide_m), window(0.82 * wide_m)] } else { vec![window(0.5 * wide_m)] }
}

/// A square tower with bells: louvres under its head, slits, a clock, a door, quoins, bands.
fn bell_tower(wide_m: f64, high_m: f64, with_clock: bool, with_door: bool) -> Vec<Detail> {
    let middle = 0.5 * wide_m;
    let mut details = vec![
        Detail { kind: DetailKind::Quoins { right: false }, across: (0.0, wide_m), up: (0.9, high_m) },
        Detail { kind: DetailKind::Quoins { right: true }, across: (0.0, wide_m), up: (0.9, high_m) },
        stone_band((-0.5, wide_m + 0.5), (-6.0, 0.9)),
        stone_band((-0.5, wide_m + 0.5), (0.34 * high_m, 0.34 * high_m + 0.25)),
    ];
    let louvre = DetailKind::Louvre { head: Head::Pointed };
    let bell_m = (0.735 * high_m, 0.95 * high_m);
    for side in [-1.0, 1.0] {
        details.push(opening(louvre, middle + side * 0.17 * wide_m, 0.19 * wide_m, bell_m));
    }
    let slit = DetailKind::Window { panes: (1, 3), head: Head::Pointed };
    details.push(opening(slit, middle, 0.45, (0.40 * high_m, 0.40 * high_m + 1.5)));
    if with_clock {
        let size = 0.34 * wide_m;
        let at = 0.60 * high_m;
        details.push(opening(DetailKind::Clock, middle, size, (at - 0.5 * size, at + 0.5 * size)));
    }
    if with_door {
        details.push(opening(DetailKind::Door { head: Head::Pointed }, middle, 1.25, (0.0, 2.75)));
    } else {
        details.push(opening(slit, middle, 0.45, (0.16 * high_m, 0.16 * high_m + 1.5)));
    }
    details
}
