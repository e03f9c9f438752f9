//! What can stand between the subject and an eye, and from where does it hide a point?
//!
//! Light from a point s throws the shadow {s + λ(p − s): p in the body, λ ≥ 1} of a convex body: exactly the eyes from
//! which the body hides s, and itself convex. It is bounded by the planes of the faces that look at s and by the planes
//! through s and the edges between those faces and the others. Rays are traced in single precision and meet bodies that
//! are off by a hair; each bound comes with the distance from it at which that hair no longer matters.
//!
//! A body that is off by a hair moves its shadow's bound by the hair times (eye's distance / body's distance), and the body may be as
//! near as its nearest face where that face lies nearly in the bound.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::outline::hull;
use crate::pose::{WorldPoint, WorldVector};
use crate::site::{Block, Model, PlanPoint, Solid, Triangle};

use super::eye_box::EyeBox;

/// A corner this far outside a face's plane still counts as on it.
const FLAT_M: f64 = 1e-6;
/// A body of more triangles is not cut up: it has a prism around it, and rays tell the rest.
const MOST_TRIANGLES: usize = 4000;
/// A body that is not convex, nor the subject, has no more pieces than this; else a prism around it and its largest pieces.
const MOST_PIECES: usize = 64;
/// So many of them.
const LARGEST: usize = 16;
/// Rays begin so far from the eye; see [`crate::sight`].
const BEGINS_M: f64 = 3e-3;
/// A body must be so far from the light, and this share of the ray's length, for a ray to look that far.
const ENDS: (f64, f64) = (0.05, 4e-5);
/// Lines nearer to the light than this bound nothing.
const THROUGH_M: f64 = 1e-6;

/// How far, at most, a ray of a length and what it meets are off.
///
/// # Formula
/// A step of `f32` at a distance d from the subject is 6·10⁻⁸·d; the origin, the direction and the triangle's sheared
/// corners are each rounded a few times, some ten steps in all. Three times that and a millimetre are taken; random sites
/// hold it.
pub(super) fn ray_error_m(distance_m: f64) -> f64 {
    1e-3 + 2e-6 * distance_m
}

/// A convex body, closed or flat.
#[derive(Clone, Debug)]
pub(super) struct Occluder {
    /// Outward normals of length 1, and their offsets: n·p ≤ offset inside.
    faces: Vec<(WorldVector, f64)>,
    /// The ends of each edge, and its faces.
    edges: Vec<([WorldPoint; 2], [usize; 2])>,
    middle: WorldPoint,
    low: WorldPoint,
    high: WorldPoint,
    /// Whether all of it hides; else only something within it does.
    solid: bool,
}

/// A bound of a shadow: n·e ≤ offset within.
#[derive(Clone, Copy, Debug)]
pub(super) struct ShadowBound {
    pub(super) normal: WorldVector,
    pub(super) offset: f64,
    /// Farther outside than this an eye is surely out of the shadow.
    pub(super) clear_m: f64,
    /// Farther inside than this it is surely within this bound.
    pub(super) deep_m: f64,
}

/// How a shadow lies to a box of eyes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum ShadowReach {
    /// It does not reach the box.
    Apart,
    /// Within its bounds an eye is surely hidden.
    Sure,
    /// Within its bounds an eye may be hidden.
    Doubtful,
}

/// How a box of eyes lies to a bound.
pub(super) enum BoxSide {
    Outside,
    Across,
    Inside,
}

impl ShadowBound {
    /// How far outside an eye is.
    pub(super) fn height_m(&self, eye: &WorldPoint) -> f64 {
        self.normal.dot(&eye.coords) - self.offset
    }

    pub(super) fn side_of(&self, eyes: &EyeBox) -> BoxSide {
        let height_m = self.height_m(&eyes.middle);
        let reach_m = self.normal.abs().dot(&eyes.half);
        if height_m - reach_m > self.clear_m {
            BoxSide::Outside
        } else if height_m + reach_m < -self.deep_m {
            BoxSide::Inside
        } else {
            BoxSide::Across
        }
    }
}

impl Occluder {
    fn of(
        faces: Vec<(WorldVector, f64)>,
        edges: Vec<([WorldPoint; 2], [usize; 2])>,
        points: &[WorldPoint],
        solid: bool,
    ) -> Option<Self> {
        let first = *points.first()?;
        let (low, high) = points.iter().fold((first, first), |(low, high), point| (low.inf(point), high.sup(point)));
        let sum = points.iter().fold(WorldVector::zeros(), |sum, point| sum + point.coords);
        let middle = WorldPoint::from(sum / points.len() as f64);
        Some(Self { faces, edges, middle, low, high, solid })
    }

    /// The box around it.
    pub(super) const fn around(&self) -> (WorldPoint, WorldPoint) {
        (self.low, self.high)
    }

    /// The shadow that light from a point throws over a box of eyes: bounds that cross the box are added to `bounds`.
    pub(super) fn shadow(&self, light: &WorldPoint, eyes: &EyeBox, bounds: &mut Vec<ShadowBound>) -> ShadowReach {
        let start = bounds.len();
        let shade = self.shadow_on(light, eyes, bounds);
        if shade == ShadowReach::Apart {
            bounds.truncate(start);
        }
        shade
    }

    fn shadow_on(&self, light: &WorldPoint, eyes: &EyeBox, bounds: &mut Vec<ShadowBound>) -> ShadowReach {
        let distance_m = eyes.farthest_m(light);
        let ray_error_m = ray_error_m(distance_m);
        let height_m = |face: usize| {
            let (normal, offset) = self.faces[face];
            normal.dot(&light.coords) - offset
        };
        let mut cross = |bound: ShadowBound| match bound.side_of(eyes) {
            BoxSide::Outside => false,
            BoxSide::Across => {
                bounds.push(bound);
                true
            }
            BoxSide::Inside => true,
        };
        let mut highest_m = f64::NEG_INFINITY;
        for (face, &(normal, offset)) in self.faces.iter().enumerate() {
            let height_m = height_m(face);
            highest_m = highest_m.max(height_m);
            if height_m > ray_error_m
                && !cross(ShadowBound { normal, offset, clear_m: ray_error_m, deep_m: ray_error_m + BEGINS_M })
            {
                return ShadowReach::Apart;
            }
        }
        // The body is at least as far from the light as either of these.
        let aside = (self.low - light).sup(&(light - self.high)).sup(&WorldVector::zeros());
        let apart_m = highest_m.max(aside.norm());
        if highest_m <= ray_error_m {
            // In the body, as far as rays can tell; or in the plane of a flat one, which hides only what lies in it too.
            if let ([(normal, _), _], true) = (&self.faces[..], apart_m > 2.0 * ray_error_m) {
                let offset = normal.dot(&light.coords);
                let clear_m = 4.0 * ray_error_m * (distance_m / apart_m).max(1.0);
                let flat = |normal, offset| ShadowBound { normal, offset, clear_m, deep_m: clear_m };
                if !cross(flat(*normal, offset)) || !cross(flat(-normal, -offset)) {
                    return ShadowReach::Apart;
                }
            }
            return ShadowReach::Doubtful;
        }
        let mut sure = self.solid && apart_m > ENDS.0.max(ENDS.1 * distance_m + ray_error_m);
        for &([from, to], faces) in &self.edges {
            let [one_m, other_m] = faces.map(height_m);
            if (one_m > 0.0) == (other_m > 0.0) {
                continue;
            }
            let (from, along) = (from - light, to - from);
            // The light's distance from the edge's line, and the plane through both.
            let aside = from.cross(&along);
            let line_m = aside.norm() / along.norm().max(THROUGH_M);
            let Some(normal) = aside.try_normalize(THROUGH_M * THROUGH_M).filter(|_| line_m > THROUGH_M) else {
                sure = false;
                continue;
            };
            let normal = if normal.dot(&(self.middle - light)) > 0.0 { -normal } else { normal };
            // How near to the light the body can be off by a hair and touch this plane: all that lies as near to the plane
            // lies near to the edge, the more so the steeper both faces fall off.
            let steepest_m = one_m.abs().min(other_m.abs());
            let reach_m =
                if steepest_m > 2.0 * ray_error_m { line_m * (1.0 - ray_error_m / steepest_m) } else { apart_m };
            let unsure_m = ray_error_m * (distance_m / reach_m.min(line_m)).max(1.0);
            let offset = normal.dot(&light.coords);
            if !cross(ShadowBound { normal, offset, clear_m: unsure_m, deep_m: unsure_m }) {
                return ShadowReach::Apart;
            }
        }
        if sure { ShadowReach::Sure } else { ShadowReach::Doubtful }
    }

    /// A flat convex polygon, its corners in order.
    fn flat(corners: &[WorldPoint], normal: WorldVector) -> Option<Self> {
        let offset = normal.dot(&corners.first()?.coords);
        let next = |index: usize| corners[(index + 1) % corners.len()];
        let edges = corners.iter().enumerate().map(|(index, &corner)| ([corner, next(index)], [0, 1])).collect();
        Self::of(vec![(normal, offset), (-normal, -offset)], edges, corners, true)
    }

    /// An upright prism around points, no thinner than a hair.
    fn prism(points: &[WorldPoint]) -> Option<Self> {
        let mut outline = hull(points.iter().map(|point| (point.x, point.y)).collect());
        let area_of = |outline: &[PlanPoint]| {
            let next = |index: usize| outline[(index + 1) % outline.len()];
            outline.iter().enumerate().map(|(index, a)| a.0 * next(index).1 - next(index).0 * a.1).sum::<f64>()
        };
        let first = points.first()?;
        let (low, high) = points.iter().fold((*first, *first), |(low, high), point| (low.inf(point), high.sup(point)));
        if outline.len() < 3 || area_of(&outline) < FLAT_M {
            let (west, south, east, north) = (low.x - FLAT_M, low.y - FLAT_M, high.x + FLAT_M, high.y + FLAT_M);
            outline = vec![(west, south), (east, south), (east, north), (west, north)];
        }
        let (low_m, high_m) = (low.z - FLAT_M, high.z + FLAT_M);
        let at = |(x, y): PlanPoint, z: f64| WorldPoint::new(x, y, z);
        let count = outline.len();
        let (mut faces, mut edges) = (Vec::with_capacity(count + 2), Vec::with_capacity(3 * count));
        for (index, &corner) in outline.iter().enumerate() {
            let next = outline[(index + 1) % count];
            let normal = WorldVector::new(next.1 - corner.1, corner.0 - next.0, 0.0).try_normalize(1e-12)?;
            faces.push((normal, normal.dot(&at(corner, 0.0).coords) + FLAT_M));
            let before = (index + count - 1) % count;
            edges.push(([at(corner, low_m), at(corner, high_m)], [before, index]));
            edges.push(([at(corner, high_m), at(next, high_m)], [index, count]));
            edges.push(([at(corner, low_m), at(next, low_m)], [index, count + 1]));
        }
        faces.push((WorldVector::z(), high_m));
        faces.push((-WorldVector::z(), -low_m));
        let corners: Vec<WorldPoint> = outline.iter().flat_map(|&c| [at(c, low_m), at(c, high_m)]).collect();
        Self::of(faces, edges, &corners, false)
    }

    /// The triangles as a closed convex body, if they are one.
    fn closed(solid: &Solid, triangles: &[usize], points: &[WorldPoint]) -> Option<Self> {
        let mut faces: Vec<(WorldVector, f64)> = Vec::new();
        let mut face_of: BTreeMap<u32, usize> = BTreeMap::new();
        let mut sides: BTreeMap<(u32, u32), Vec<usize>> = BTreeMap::new();
        for &index in triangles {
            let triangle = &solid.triangles[index];
            let face = *face_of.entry(triangle.face).or_insert_with(|| {
                let normal = solid.faces[triangle.face as usize].normal;
                // The farthest corner, so that none lies outside by rounding.
                let reach = triangle.corners.map(|corner| normal.dot(&solid.vertices[corner as usize].coords));
                faces.push((normal, reach.into_iter().fold(f64::NEG_INFINITY, f64::max)));
                faces.len() - 1
            });
            for side in 0..3 {
                let (a, b) = (triangle.corners[side], triangle.corners[(side + 1) % 3]);
                sides.entry((a.min(b), a.max(b))).or_default().push(face);
            }
        }
        if faces.iter().any(|(normal, offset)| points.iter().any(|point| normal.dot(&point.coords) > offset + FLAT_M)) {
            return None;
        }
        // A face that is not quite flat is another body than its plane says.
        let lies_in = |triangle: &Triangle| {
            let (normal, offset) = faces[face_of[&triangle.face]];
            solid.corners(triangle).iter().all(|corner| normal.dot(&corner.coords) > offset - FLAT_M)
        };
        if !triangles.iter().all(|&index| lies_in(&solid.triangles[index])) {
            return None;
        }
        let mut edges = Vec::new();
        for ((a, b), sharing) in sides {
            let [one, other] = sharing[..] else { return None };
            if one != other {
                edges.push(([a, b].map(|end| solid.vertices[end as usize]), [one, other]));
            }
        }
        Self::of(faces, edges, points, true)
    }
}

/// All that can stand in the way on a site: each solid as convex bodies, as flat pieces of its skin, or as a prism around it.
pub(super) fn occluders(model: &Model) -> Vec<Occluder> {
    let blocks = model.solids.iter().zip(&model.site.blocks);
    let parts = |(solid, block): (&Arc<Solid>, &Block)| -> Vec<Occluder> {
        connected(solid).iter().flat_map(|part| parts(solid, part, block.subject)).collect()
    };
    blocks.flat_map(parts).collect()
}

/// The triangles of a solid, in groups that share corners.
fn connected(solid: &Solid) -> Vec<Vec<usize>> {
    fn find(root: &mut [usize], mut index: usize) -> usize {
        while root[index] != index {
            root[index] = root[root[index]];
            index = root[index];
        }
        index
    }
    let mut root: Vec<usize> = (0..solid.vertices.len()).collect();
    for triangle in &solid.triangles {
        let [a, b, c] = triangle.corners.map(|corner| find(&mut root, corner as usize));
        root[b] = a;
        let c = find(&mut root, c);
        root[c] = find(&mut root, a);
    }
    let mut groups: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (index, triangle) in solid.triangles.iter().enumerate() {
        groups.entry(find(&mut root, triangle.corners[0] as usize)).or_default().push(index);
    }
    groups.into_values().collect()
}

fn parts(solid: &Solid, triangles: &[usize], subject: bool) -> Vec<Occluder> {
    let mut corners: Vec<u32> = triangles.iter().flat_map(|&index| solid.triangles[index].corners).collect();
    corners.sort_unstable();
    corners.dedup();
    let points: Vec<WorldPoint> = corners.iter().map(|&corner| solid.vertices[corner as usize]).collect();
    if triangles.len() > MOST_TRIANGLES {
        return Occluder::prism(&points).into_iter().collect();
    }
    if let Some(closed) = Occluder::closed(solid, triangles, &points) {
        return vec![closed];
    }
    let mut pieces = skin(solid, triangles);
    if pieces.len() > MOST_PIECES && !subject {
        pieces.sort_by(|(a, _), (b, _)| b.total_cmp(a));
        pieces.truncate(LARGEST);
        return pieces.into_iter().map(|(_, piece)| piece).chain(Occluder::prism(&points)).collect();
    }
    pieces.into_iter().map(|(_, piece)| piece).collect()
}

/// The skin of a body in flat convex pieces with their areas: whole faces where they are convex, else triangles.
fn skin(solid: &Solid, triangles: &[usize]) -> Vec<(f64, Occluder)> {
    let mut by_face: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
    for &index in triangles {
        by_face.entry(solid.triangles[index].face).or_default().push(index);
    }
    let mut pieces = Vec::new();
    for (face, triangles) in by_face {
        let normal = solid.faces[face as usize].normal;
        let corners = |index: &usize| solid.corners(&solid.triangles[*index]);
        let area_of = |[a, b, c]: [WorldPoint; 3]| 0.5 * (b - a).cross(&(c - a)).norm();
        let total_m2: f64 = triangles.iter().map(corners).map(area_of).sum();
        let whole = around(&normal, triangles.iter().flat_map(corners).collect());
        match whole.filter(|(_, area_m2)| area_m2 - total_m2 < 1e-9 * area_m2) {
            Some((around, area_m2)) => pieces.extend(Occluder::flat(&around, normal).map(|piece| (area_m2, piece))),
            None => pieces.extend(triangles.iter().map(corners).filter_map(|ends| {
                let [a, b, c] = ends;
                let normal = (b - a).cross(&(c - a)).try_normalize(THROUGH_M * THROUGH_M)?;
                Occluder::flat(&ends, normal).map(|piece| (area_of(ends), piece))
            })),
        }
    }
    pieces
}

/// The convex outline of points of a plane, in order, and its area.
fn around(normal: &WorldVector, points: Vec<WorldPoint>) -> Option<(Vec<WorldPoint>, f64)> {
    let origin = *points.first()?;
    let across = WorldVector::new(-normal.y, normal.x, 0.0).try_normalize(1e-9).unwrap_or_else(WorldVector::x);
    let along = normal.cross(&across);
    // A face that is not quite flat is no one piece.
    if points.iter().any(|point| normal.dot(&(point - origin)).abs() > FLAT_M) {
        return None;
    }
    let flat = |point: &WorldPoint| (across.dot(&(point - origin)), along.dot(&(point - origin)));
    let outline = hull(points.iter().map(flat).collect());
    if outline.len() < 3 {
        return None;
    }
    let next = |index: usize| outline[(index + 1) % outline.len()];
    let twice: f64 = outline.iter().enumerate().map(|(index, a)| a.0 * next(index).1 - next(index).0 * a.1).sum();
    let corners = outline.iter().map(|&(x, y)| origin + across * x + along * y).collect();
    Some((corners, 0.5 * twice.abs()))
}
