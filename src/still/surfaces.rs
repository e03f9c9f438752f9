//! Where on a block is its surface inked?
//!
//! Widths are counted in pixels. For an edge through A along e, seen from o, the picture's pixels on the edge are those
//! whose ray d has d · ((A − o) × e) = 0; the value of that product over the length of its gradient from pixel to pixel
//! is the distance to the drawn edge, whatever the lens. For a curved surface the discriminant of its equation along the
//! ray, which is nought on the outline, plays the same part.

use std::collections::BTreeMap;
use std::ops::Range;

use crate::pose::{WorldPoint, WorldVector};
use crate::site::{Curve, Finish, Model, Solid, Triangle};

use super::contacts::contacts;
use super::ground::{GroundSurface, both, change_per_pixel, smooth};
use super::rays::{SightRay, TileGrid};
use super::shadows::Receiver;
use super::tones::ToneRole;

/// Two faces that differ by less (1°) are one surface to the pen.
const SAME_SURFACE_COSINE: f64 = 0.999_847_7;
/// Lines nearer than this are one line to the pen: the flat pieces of two round solids do not fit one another exactly.
const SAME_PLACE_M: f64 = 0.012;
/// How soft a drawn line's edge is, in pixels either way.
pub(super) const SOFTNESS_PX: f64 = 0.4;
/// How much heavier an outline is than a crease.
const OUTLINE_WEIGHT: f64 = 1.2;
/// How much heavier the subject's lines are, and how much lighter those of what stands beside it.
const SUBJECT_WEIGHT: f64 = 1.12;
const QUIET_WEIGHT: f64 = 0.9;
/// The distance at which lines are half as much thinner as they ever get.
const THINNING_M: f64 = 120.0;

/// The skins of a model, ready to be inked as seen from one eye.
pub(super) struct SceneSurfaces<'a> {
    model: &'a Model,
    blocks: Vec<BlockSurfaces>,
    facets: Vec<Facet>,
    /// The lines that each facet looks at, end to end.
    listed: Vec<u32>,
    lines: Vec<EdgeLine>,
    curves: Vec<SurfaceCurve>,
}

struct BlockSurfaces {
    first_facet: usize,
    standing: ToneRole,
    finish: Finish,
    /// Above this height nothing of the block meets the ground.
    meets_ground_below_m: f64,
}

/// A triangle of a skin.
struct Facet {
    normal: WorldVector,
    /// The plane: points p with normal · p = offset.
    offset: f64,
    lines: Range<u32>,
    curve: Option<u32>,
}

/// An edge of a solid.
struct EdgeLine {
    start: WorldPoint,
    along: WorldVector,
    length_m: f64,
    /// (start − eye) × along.
    across_sight: WorldVector,
    /// Whether only one of its two surfaces faces the eye.
    outline: bool,
}

/// The equation of a curved surface.
enum SurfaceCurve {
    Round { base: WorldPoint, axis: WorldVector, slope: f64, radius_m: f64 },
    Ellipsoid { centre: WorldPoint, axis: WorldVector, stretch: f64, radius_m: f64 },
}

/// How far off a flat face rays to the sun begin.
pub(super) const FLAT_CLEARANCE_M: f64 = 0.004;

/// A hit on a block, sharpened to double precision.
pub(super) struct SurfaceHit {
    pub(super) point: WorldPoint,
    pub(super) distance_m: f64,
    /// The outward normal of the (curved) surface; turned to the eye where the skin is seen from within.
    pub(super) normal: WorldVector,
    /// How far off the surface a ray to the sun must start so as not to meet the flat pieces of a curved surface.
    clearance_m: f64,
    /// How closely the surface is curved there; infinite where it is flat.
    radius_m: f64,
    pub(super) standing: ToneRole,
    pub(super) finish: Finish,
    block: usize,
    facet: usize,
}

impl SurfaceHit {
    pub(super) fn receiver(&self) -> Receiver<'_> {
        let Self { point, normal, clearance_m, radius_m, .. } = self;
        Receiver { point, normal, clearance_m: *clearance_m, block: Some(self.block as u32), radius_m: *radius_m }
    }
}

/// A flat face.
pub(super) struct FlatFace {
    /// Points p with normal · p = offset.
    pub(super) normal: WorldVector,
    pub(super) offset: f64,
    pub(super) standing: ToneRole,
    pub(super) finish: Finish,
    pub(super) meets_ground_below_m: f64,
}

/// How lines are drawn in one picture.
#[derive(Clone, Copy)]
pub(super) struct EdgeWidth {
    /// The width of a crease near the eye.
    pub(super) width_px: f64,
    /// Whether all rays leave the eye itself, not an opening about it.
    pub(super) from_eye: bool,
}

/// The lines that may reach into one tile, facet by facet as its rays meet them.
#[derive(Default)]
pub(super) struct LinesAtHand {
    facets: Vec<(usize, Range<u32>)>,
    lines: Vec<u32>,
}

impl LinesAtHand {
    /// Begins another tile.
    pub(super) fn clear(&mut self) {
        self.facets.clear();
        self.lines.clear();
    }

    /// The lines of a facet that a ray of the tile may come near.
    ///
    /// On the tile's grid d · n is linear, and its change from pixel to pixel is the same everywhere: where it is too large at
    /// all four corners, and on one side, it is too large in between.
    fn of(&mut self, surfaces: &SceneSurfaces<'_>, facet: usize, grid: &TileGrid, widest_px: f64) -> Range<u32> {
        if let Some((_, known)) = self.facets.iter().find(|(known, _)| *known == facet) {
            return known.clone();
        }
        let first = self.lines.len() as u32;
        let listed = &surfaces.facets[facet].lines;
        for &line in &surfaces.listed[listed.start as usize..listed.end as usize] {
            let normal = &surfaces.lines[line as usize].across_sight;
            let off = grid.corners.map(|corner| corner.dot(normal));
            let near =
                (widest_px + SOFTNESS_PX) * both(grid.across.dot(normal), grid.down.dot(normal)) * 1.000_1 + 1e-12;
            if !(off.iter().all(|&off| off > near) || off.iter().all(|&off| off < -near)) {
                self.lines.push(line);
            }
        }
        let found = first..self.lines.len() as u32;
        self.facets.push((facet, found.clone()));
        found
    }
}

impl EdgeWidth {
    /// The widest line drawn with it, to either side of its middle or edge.
    pub(super) fn widest_px(self) -> f64 {
        OUTLINE_WEIGHT * SUBJECT_WEIGHT * self.width_px
    }

    fn at(self, distance_m: f64) -> f64 {
        self.width_px * (0.5 + 0.5 / (1.0 + distance_m / THINNING_M))
    }
}

/// A line's cover where its middle or outer edge is `off_px` away and its inner edge stands at `reach_px`.
fn cover(off_px: f64, reach_px: f64) -> f64 {
    1.0 - smooth(reach_px - SOFTNESS_PX, reach_px + SOFTNESS_PX, off_px)
}

impl<'a> SceneSurfaces<'a> {
    /// Prepares a model as seen from an eye; blocks from `first_figure` on are people for scale.
    pub(super) fn of(model: &'a Model, relief: &GroundSurface<'_>, eye: &WorldPoint, first_figure: usize) -> Self {
        let mut surfaces = Self {
            model,
            blocks: Vec::with_capacity(model.solids.len()),
            facets: Vec::new(),
            listed: Vec::new(),
            lines: Vec::new(),
            curves: Vec::new(),
        };
        let every_block_is_quiet = model.subject().next().is_none();
        for (index, (low, high)) in model.solids.iter().map(|solid| solid.bounds()).enumerate() {
            let block = model.site.blocks.get(index);
            surfaces.blocks.push(BlockSurfaces {
                first_facet: 0,
                standing: if index >= first_figure {
                    ToneRole::Figure
                } else if every_block_is_quiet || block.is_some_and(|block| block.subject) {
                    ToneRole::Subject
                } else {
                    ToneRole::Quiet
                },
                finish: block.map(|block| block.finish).unwrap_or_default(),
                meets_ground_below_m: relief.highest_within_m(&low, &high),
            });
        }
        let mut touching: BTreeMap<(usize, usize), Vec<u32>> = BTreeMap::new();
        for contact in contacts(&model.solids) {
            let line = surfaces.lines.len() as u32;
            surfaces.lines.push(EdgeLine::between(contact.ends, eye, false));
            for side in 0..2 {
                touching.entry((contact.solids[side], contact.triangles[side])).or_default().push(line);
            }
        }
        for (index, solid) in model.solids.iter().enumerate() {
            surfaces.blocks[index].first_facet = surfaces.facets.len();
            let of_solid = (index, 0)..(index + 1, 0);
            let contacts: Vec<u32> = touching.range(of_solid).flat_map(|(_, lines)| lines).copied().collect();
            surfaces.add(solid, eye, &contacts, |triangle| touching.get(&(index, triangle)).map_or(&[], Vec::as_slice));
        }
        surfaces
    }

    /// Adds the facets of a solid, which has these lines of `contacts`; `touching` tells which lie on a triangle.
    fn add<'l>(&mut self, solid: &Solid, eye: &WorldPoint, contacts: &[u32], touching: impl Fn(usize) -> &'l [u32]) {
        let first_line = self.lines.len() as u32;
        let mut lines_at: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
        for (index, edge) in solid.edges.iter().enumerate() {
            let [start, end] = edge.ends.map(|end| solid.vertices[end as usize]);
            let middle = nalgebra::center(&start, &end);
            let faces_eye = |face: u32| {
                let face = &solid.faces[face as usize];
                face.curve.map_or(face.normal, |curve| curve.normal(&middle)).dot(&(eye - middle)) > 0.0
            };
            let turns_away = edge.faces[0] == edge.faces[1] || faces_eye(edge.faces[0]) != faces_eye(edge.faces[1]);
            // Where another solid goes on from the edge, as a roof from its walls, nothing ends there.
            let goes_on = |&line: &u32| self.lines[line as usize].runs_along(&middle, &(end - start));
            let outline = turns_away && !contacts.iter().any(goes_on);
            self.lines.push(EdgeLine::between([start, end], eye, outline));
            for end in edge.ends {
                lines_at.entry(end).or_default().push(index as u32);
            }
        }
        let mut known_curves: Vec<(Curve, u32)> = Vec::new();
        for (index, triangle) in solid.triangles.iter().enumerate() {
            let face = &solid.faces[triangle.face as usize];
            let corners = solid.corners(triangle);
            let normal =
                (corners[1] - corners[0]).cross(&(corners[2] - corners[0])).try_normalize(1e-18).unwrap_or(face.normal);
            let curve = face.curve.map(|curve| {
                let known = known_curves.iter().rev().find(|(known, _)| *known == curve).map(|&(_, index)| index);
                known.unwrap_or_else(|| {
                    let index = self.curves.len() as u32;
                    self.curves.push(SurfaceCurve::of(&curve, &corners[0]));
                    known_curves.push((curve, index));
                    index
                })
            });
            let first = self.listed.len() as u32;
            for corner in triangle.corners {
                for &line in lines_at.get(&corner).into_iter().flatten() {
                    let on_surface = solid.edges[line as usize].faces.iter().any(|&other| same(solid, triangle, other));
                    let line = first_line + line;
                    if on_surface && !self.listed[first as usize..].contains(&line) {
                        self.listed.push(line);
                    }
                }
            }
            self.listed.extend(touching(index));
            self.facets.push(Facet {
                normal,
                offset: normal.dot(&corners[0].coords),
                lines: first..self.listed.len() as u32,
                curve,
            });
        }
    }

    /// What a ray that meets a triangle of a block meets exactly.
    pub(super) fn hit(&self, ray: &SightRay, near_m: f64, block: u32, triangle: u32) -> SurfaceHit {
        let block = block as usize;
        let surfaces = &self.blocks[block];
        let index = surfaces.first_facet + triangle as usize;
        let facet = &self.facets[index];
        let toward = ray.direction.dot(&facet.normal);
        let exact_m = (facet.offset - ray.origin.coords.dot(&facet.normal)) / toward;
        // Seen edge on, the plane says nothing about where along itself it was met.
        let distance_m = if (exact_m - near_m).abs() < 0.01 + 1e-4 * near_m { exact_m } else { near_m };
        let point = ray.origin + ray.direction * distance_m;
        let solid = &self.model.solids[block];
        let curve = solid.faces[solid.triangles[triangle as usize].face as usize].curve;
        let outward = curve.map_or(facet.normal, |curve| curve.normal(&point));
        let radius_m = curve.map(|curve| curve.radius_m(&point));
        SurfaceHit {
            point,
            distance_m,
            normal: if toward > 0.0 { -outward } else { outward },
            clearance_m: FLAT_CLEARANCE_M + 1e-3 * radius_m.unwrap_or(0.0),
            radius_m: radius_m.unwrap_or(f64::INFINITY),
            standing: surfaces.standing,
            finish: surfaces.finish,
            block,
            facet: index,
        }
    }

    /// A triangle of a block that fills a tile, if it is flat.
    pub(super) fn flat(&self, block: u32, triangle: u32) -> Option<FlatFace> {
        let surfaces = &self.blocks[block as usize];
        let facet = &self.facets[surfaces.first_facet + triangle as usize];
        facet.curve.is_none().then_some(FlatFace {
            normal: facet.normal,
            offset: facet.offset,
            standing: surfaces.standing,
            finish: surfaces.finish,
            meets_ground_below_m: surfaces.meets_ground_below_m,
        })
    }

    /// Whether no line comes near any of the rays of a tile that meet a triangle.
    pub(super) fn is_bare(
        &self,
        block: u32,
        triangle: u32,
        grid: &TileGrid,
        pen: EdgeWidth,
        at_hand: &mut LinesAtHand,
    ) -> bool {
        let facet = self.blocks[block as usize].first_facet + triangle as usize;
        at_hand.of(self, facet, grid, pen.widest_px()).is_empty()
    }

    /// How strongly ink covers a hit and what lies within `within_px` of it: 0 bare card, 1 full ink; `None` where it is not the
    /// same all over.
    pub(super) fn ink(
        &self,
        ray: &SightRay,
        hit: &SurfaceHit,
        at_hand: Option<(&TileGrid, &mut LinesAtHand)>,
        (pen, within_px): (EdgeWidth, f64),
        surface_m: &dyn Fn(f64, f64) -> f64,
        relief: &GroundSurface<'_>,
    ) -> Option<f64> {
        let width_px =
            pen.at(hit.distance_m) * if hit.standing == ToneRole::Subject { SUBJECT_WEIGHT } else { QUIET_WEIGHT };
        let facet = &self.facets[hit.facet];
        let mut ink = Cover { within_px, strongest: Some(0.0) };
        let all = &self.listed[facet.lines.start as usize..facet.lines.end as usize];
        let lines = match at_hand {
            Some((grid, at_hand)) => {
                let near = at_hand.of(self, hit.facet, grid, pen.widest_px());
                &at_hand.lines[near.start as usize..near.end as usize]
            }
            None => all,
        };
        for &line in lines {
            let line = &self.lines[line as usize];
            let normal = if pen.from_eye { line.across_sight } else { (line.start - ray.origin).cross(&line.along) };
            let reach_px = if line.outline { OUTLINE_WEIGHT * width_px } else { 0.5 * width_px };
            let gradient = both(ray.across.dot(&normal), ray.down.dot(&normal));
            let off = ray.direction.dot(&normal).abs();
            if off >= (reach_px + SOFTNESS_PX + within_px) * gradient {
                continue;
            }
            // Beyond its ends the line is not drawn, but for the roundness of the pen.
            let along_m = (hit.point - line.start).dot(&line.along);
            let beyond_m = (-along_m).max(along_m - line.length_m).max(0.0);
            let pixel_m = hit.distance_m * ray.across.cross(&ray.down).norm().sqrt();
            let off_px = both(off / gradient, beyond_m / pixel_m);
            ink.add(off_px, reach_px);
        }
        if let Some(curve) = facet.curve {
            ink.add(self.curves[curve as usize].off_px(ray), OUTLINE_WEIGHT * width_px);
        }
        self.add_base(&mut ink, ray, hit, width_px, surface_m, relief);
        ink.strongest
    }

    /// Adds the line along which a block stands on the ground or in the water.
    fn add_base(
        &self,
        ink: &mut Cover,
        ray: &SightRay,
        hit: &SurfaceHit,
        width_px: f64,
        surface_m: &dyn Fn(f64, f64) -> f64,
        relief: &GroundSurface<'_>,
    ) {
        let reach_px = OUTLINE_WEIGHT * width_px;
        let pixel_m = hit.distance_m * ray.across.norm().max(ray.down.norm());
        let reach_m = (reach_px + SOFTNESS_PX + ink.within_px) * pixel_m;
        if hit.point.z - reach_m > self.blocks[hit.block].meets_ground_below_m {
            return;
        }
        let above_m = hit.point.z - surface_m(hit.point.x, hit.point.y);
        if above_m > 4.0 * reach_m {
            return;
        }
        let slope = relief.slope((hit.point.x, hit.point.y));
        let rise = WorldVector::new(-slope.east, -slope.north, 1.0);
        if let Some((across, down)) = change_per_pixel(ray, hit.distance_m, &self.facets[hit.facet].normal, &rise) {
            ink.add(above_m / both(across, down).max(1e-12), reach_px);
        }
    }
}

/// The strongest of several lines over a spot.
struct Cover {
    /// How far the spot reaches.
    within_px: f64,
    /// `None` where it is not the same all over the spot.
    strongest: Option<f64>,
}

impl Cover {
    /// Adds a line whose middle or outer edge is `off_px` away and whose inner edge stands at `reach_px`.
    fn add(&mut self, off_px: f64, reach_px: f64) {
        let most = cover(off_px - self.within_px, reach_px);
        if most > 0.0 {
            let even = self.within_px == 0.0 || cover(off_px + self.within_px, reach_px) == most;
            self.strongest = self.strongest.filter(|_| even).map(|strongest| strongest.max(most));
        }
    }
}

impl EdgeLine {
    fn between([start, end]: [WorldPoint; 2], eye: &WorldPoint, outline: bool) -> Self {
        let span = end - start;
        let length_m = span.norm();
        let along = span / length_m.max(1e-12);
        Self { start, along, length_m, across_sight: (start - eye).cross(&along), outline }
    }

    /// Whether this line runs through (almost) a point in (almost) a direction.
    fn runs_along(&self, point: &WorldPoint, direction: &WorldVector) -> bool {
        let offset = point - self.start;
        let along_m = offset.dot(&self.along);
        (-SAME_PLACE_M..=self.length_m + SAME_PLACE_M).contains(&along_m)
            && (offset - self.along * along_m).norm() < SAME_PLACE_M
            && self.along.dot(direction).abs() > 0.9 * direction.norm()
    }
}

/// Whether a face belongs to the same surface as a triangle.
fn same(solid: &Solid, triangle: &Triangle, face: u32) -> bool {
    let (one, other) = (&solid.faces[triangle.face as usize], &solid.faces[face as usize]);
    triangle.face == face
        || (one.curve == other.curve && (one.curve.is_some() || one.normal.dot(&other.normal) > SAME_SURFACE_COSINE))
}

impl SurfaceCurve {
    /// The equation of a curved surface through one of its points.
    fn of(curve: &Curve, point: &WorldPoint) -> Self {
        match *curve {
            Curve::Round { base, axis, slope } => {
                let up_m = (point - base).dot(&axis);
                Self::Round { base, axis, slope, radius_m: curve.radius_m(point) + slope * up_m }
            }
            Curve::Ellipsoid { centre, axis, radius_m, half_height_m } => {
                Self::Ellipsoid { centre, axis, stretch: radius_m / half_height_m - 1.0, radius_m }
            }
        }
    }

    /// How far inside the outline of the surface a ray runs, in pixels; infinite where no outline is near.
    ///
    /// With the surface's equation along the ray A·t² + 2B·t + C = 0, the outline is where B² = A·C.
    fn off_px(&self, ray: &SightRay) -> f64 {
        match *self {
            Self::Round { base, axis, slope, radius_m } => {
                let offset = ray.origin - base;
                let up_m = offset.dot(&axis);
                let here_m = radius_m - slope * up_m;
                discriminant_px(
                    |v, w| v.dot(w) - (1.0 + slope * slope) * v.dot(&axis) * w.dot(&axis),
                    |v| offset.dot(v) - (up_m - slope * here_m) * v.dot(&axis),
                    offset.norm_squared() - up_m * up_m - here_m * here_m,
                    ray,
                )
            }
            Self::Ellipsoid { centre, axis, stretch, radius_m } => {
                let stretched = |v: &WorldVector| v + axis * (v.dot(&axis) * stretch);
                let offset = stretched(&(ray.origin - centre));
                let [direction, across, down] = [&ray.direction, &ray.across, &ray.down].map(stretched);
                discriminant_px(
                    |v, w| v.dot(w),
                    |v| offset.dot(v),
                    offset.norm_squared() - radius_m * radius_m,
                    &SightRay { direction, across, down, ..*ray },
                )
            }
        }
    }
}

/// B² − A·C over the length of its gradient from pixel to pixel.
fn discriminant_px(
    product: impl Fn(&WorldVector, &WorldVector) -> f64,
    with_offset: impl Fn(&WorldVector) -> f64,
    constant: f64,
    ray: &SightRay,
) -> f64 {
    let (a, b) = (product(&ray.direction, &ray.direction), with_offset(&ray.direction));
    let change = |turn: &WorldVector| 2.0 * (b * with_offset(turn) - constant * product(&ray.direction, turn));
    let gradient = both(change(&ray.across), change(&ray.down));
    if gradient > 0.0 { (b * b - a * constant).max(0.0) / gradient } else { f64::INFINITY }
}
