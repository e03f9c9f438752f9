//! What surfaces and edges does a block have?
//!
//! A solid is a closed skin of flat faces, some of which stand in for a curved surface. Its edges are where two faces
//! meet at an angle; the joints inside a curved surface are no edges.
//!
//! Faces are cut into triangles by a constrained triangulation, which keeps every corner. Ear cutting drops corners that lie in
//! line with their neighbours, and leaves joints without an edge.

use std::collections::BTreeMap;

use spade::{ConstrainedDelaunayTriangulation, Point2, Triangulation};

use crate::pose::{WorldPoint, WorldVector};

/// Two faces whose normals differ by less than this (1°) count as one surface.
const CREASE_COSINE: f64 = 0.999_847_7;
/// Points nearer than this are one point.
const WELD_M: f64 = 1e-7;
/// A corner this far outside a face's plane still counts as on it.
const FLAT_M: f64 = 1e-6;
/// A skin of more faces is not asked whether it is convex.
const MOST_ASKED: usize = 500;

/// One block's skin.
#[derive(Clone, Debug, Default)]
pub struct Solid {
    /// Corner points.
    pub vertices: Vec<WorldPoint>,
    /// The skin in triangles, wound anticlockwise as seen from outside.
    pub triangles: Vec<Triangle>,
    /// The surfaces the triangles belong to.
    pub faces: Vec<Face>,
    /// Where two faces meet at an angle.
    pub edges: Vec<Edge>,
    /// Upright round bodies, exactly.
    pub rounds: Vec<Round>,
    bounds: (WorldPoint, WorldPoint),
    convex: bool,
}

/// A triangle of the skin.
#[derive(Clone, Copy, Debug)]
pub struct Triangle {
    /// Its corners in [`Solid::vertices`].
    pub corners: [u32; 3],
    /// Its surface in [`Solid::faces`].
    pub face: u32,
    /// Whether the side from each corner to the next is an edge of the solid.
    pub edged: [bool; 3],
}

/// A surface of the skin.
#[derive(Clone, Copy, Debug)]
pub struct Face {
    /// Its outward normal, of length 1; for a curved surface that of the flat piece.
    pub normal: WorldVector,
    /// The curved surface it stands in for, if any.
    pub curve: Option<Curve>,
}

/// A curved surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Curve {
    /// About an axis; the radius shrinks by `slope` metres a metre along it.
    Round {
        /// A point of the axis.
        base: WorldPoint,
        /// The axis, of length 1.
        axis: WorldVector,
        /// How fast the radius shrinks.
        slope: f64,
    },
    /// An ellipsoid of revolution.
    Ellipsoid {
        /// Its centre.
        centre: WorldPoint,
        /// Its axis, of length 1.
        axis: WorldVector,
        /// Half its width across the axis.
        radius_m: f64,
        /// Half its length along the axis.
        half_height_m: f64,
    },
}

impl Curve {
    /// The outward normal of the curved surface nearest a point.
    pub fn normal(&self, point: &WorldPoint) -> WorldVector {
        match *self {
            Self::Round { base, axis, slope } => {
                let offset = point - base;
                let radial = offset - axis * offset.dot(&axis);
                (radial.try_normalize(1e-12).unwrap_or(axis) + axis * slope).normalize()
            }
            Self::Ellipsoid { centre, axis, radius_m, half_height_m } => {
                let offset = point - centre;
                let along = offset.dot(&axis);
                let radial = offset - axis * along;
                (radial / (radius_m * radius_m) + axis * (along / (half_height_m * half_height_m)))
                    .try_normalize(1e-12)
                    .unwrap_or(axis)
            }
        }
    }

    /// The radius of curvature across the line of sight, roughly: how wide the surface is where it turns away.
    pub fn radius_m(&self, point: &WorldPoint) -> f64 {
        match *self {
            Self::Round { base, axis, .. } => {
                let offset = point - base;
                (offset - axis * offset.dot(&axis)).norm()
            }
            Self::Ellipsoid { radius_m, half_height_m, .. } => radius_m.min(half_height_m),
        }
    }
}

/// A straight edge of the skin.
#[derive(Clone, Copy, Debug)]
pub struct Edge {
    /// Its ends in [`Solid::vertices`], the lower one first.
    pub ends: [u32; 2],
    /// The surfaces that meet there; the same one twice at the rim of an open sheet.
    pub faces: [u32; 2],
    /// Whether it is plumb.
    pub plumb: bool,
}

/// An upright frustum: a column, a tapering tower, a cone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Round {
    /// The plan position of its axis.
    pub axis: super::PlanPoint,
    /// Height of its base.
    pub base_m: f64,
    /// Radius at its base.
    pub base_radius_m: f64,
    /// Height of its head.
    pub top_m: f64,
    /// Radius at its head.
    pub top_radius_m: f64,
}

impl Round {
    /// How fast the radius shrinks on the way up: DESIGN's k = (r0 − r1)/(z1 − z0).
    pub fn slope(&self) -> f64 {
        (self.base_radius_m - self.top_radius_m) / (self.top_m - self.base_m)
    }

    /// Whether its outline is plumb from everywhere.
    pub fn is_cylinder(&self) -> bool {
        self.base_radius_m == self.top_radius_m
    }
}

impl Solid {
    /// The corners of a triangle.
    pub fn corners(&self, triangle: &Triangle) -> [WorldPoint; 3] {
        triangle.corners.map(|corner| self.vertices[corner as usize])
    }

    /// The lowest and highest corner of the box around the solid.
    pub const fn bounds(&self) -> (WorldPoint, WorldPoint) {
        self.bounds
    }

    /// Whether it is known to be closed and convex: then what hides both ends of a line hides all of it.
    pub const fn is_convex(&self) -> bool {
        self.convex
    }

    /// The outward normal of a triangle at one of its points: that of the curved surface where it stands in for one.
    pub fn normal_at(&self, triangle: &Triangle, point: &WorldPoint) -> WorldVector {
        let face = &self.faces[triangle.face as usize];
        face.curve.map_or(face.normal, |curve| curve.normal(point))
    }

    /// Whether a point lies inside the skin: whether a ray from it leaves more often than it enters. Where parts overlap, as
    /// a tree's trunk and its crown do, it leaves once for each that holds the point.
    pub fn holds(&self, point: &WorldPoint) -> bool {
        let (low, high) = self.bounds();
        if (0..3).any(|axis| point[axis] < low[axis] || point[axis] > high[axis]) {
            return false;
        }
        // A direction that runs along no face or edge that a person would model.
        let direction = WorldVector::new(0.362_71, 0.512_93, 0.778_06);
        let crossing = |triangle: &Triangle| {
            let [a, b, c] = self.corners(triangle);
            let (u, v) = (b - a, c - a);
            let p = direction.cross(&v);
            let determinant = u.dot(&p);
            if determinant.abs() < 1e-15 {
                return 0;
            }
            let offset = point - a;
            let across = offset.dot(&p) / determinant;
            let q = offset.cross(&u);
            let along = direction.dot(&q) / determinant;
            let met = across >= 0.0 && along >= 0.0 && across + along <= 1.0 && v.dot(&q) / determinant > 0.0;
            // A skin seen from inside turns a negative determinant to the ray.
            i32::from(met) * if determinant < 0.0 { 1 } else { -1 }
        };
        self.triangles.iter().map(crossing).sum::<i32>() > 0
    }
}

/// Gathers faces and finds the edges between them.
pub(super) struct SolidBuilder<'a> {
    /// From the block's own axes to the world.
    world_from_block: &'a dyn Fn(WorldPoint) -> WorldPoint,
    solid: Solid,
    known: BTreeMap<[i64; 3], u32>,
    /// Each side of each face's outline, by its end points, and the faces it belongs to.
    sides: BTreeMap<(u32, u32), Vec<u32>>,
}

impl<'a> SolidBuilder<'a> {
    pub(super) fn new(world_from_block: &'a dyn Fn(WorldPoint) -> WorldPoint) -> Self {
        Self { world_from_block, solid: Solid::default(), known: BTreeMap::new(), sides: BTreeMap::new() }
    }

    pub(super) fn to_world(&self, point: WorldPoint) -> WorldPoint {
        (self.world_from_block)(point)
    }

    pub(super) fn direction_to_world(&self, direction: WorldVector) -> WorldVector {
        self.to_world(WorldPoint::from(direction)) - self.to_world(WorldPoint::origin())
    }

    /// Notes an upright round body (already in world coordinates).
    pub(super) fn round(&mut self, round: Round) {
        self.solid.rounds.push(round);
    }

    /// A flat face with holes: the outline anticlockwise as seen from outside, the holes either way.
    pub(super) fn face(&mut self, outline: &[WorldPoint], holes: &[Vec<WorldPoint>]) {
        self.surface(outline, holes, None);
    }

    /// One flat piece of a curved surface.
    pub(super) fn piece(&mut self, outline: &[WorldPoint], curve: Curve) {
        self.surface(outline, &[], Some(curve));
    }

    fn vertex(&mut self, point: WorldPoint) -> u32 {
        let key = [point.x, point.y, point.z].map(|value| (value / WELD_M).round() as i64);
        if let Some(&known) = self.known.get(&key) {
            return known;
        }
        let index = self.solid.vertices.len() as u32;
        self.solid.vertices.push(self.to_world(point));
        self.known.insert(key, index);
        index
    }

    fn ring(&mut self, outline: &[WorldPoint]) -> Vec<u32> {
        let mut ring: Vec<u32> = outline.iter().map(|&point| self.vertex(point)).collect();
        ring.dedup();
        while ring.len() > 1 && ring.first() == ring.last() {
            ring.pop();
        }
        ring
    }

    fn surface(&mut self, outline: &[WorldPoint], holes: &[Vec<WorldPoint>], curve: Option<Curve>) {
        let outline = self.ring(outline);
        if outline.len() < 3 {
            return;
        }
        let Some(normal) = newell(&outline, &self.solid.vertices) else { return };
        let face = self.solid.faces.len() as u32;
        self.solid.faces.push(Face { normal, curve });
        let holes: Vec<Vec<u32>> = holes.iter().map(|hole| self.ring(hole)).filter(|hole| hole.len() >= 3).collect();
        for ring in std::iter::once(&outline).chain(&holes) {
            for (index, &start) in ring.iter().enumerate() {
                let end = ring[(index + 1) % ring.len()];
                self.sides.entry((start.min(end), start.max(end))).or_default().push(face);
            }
        }
        let vertices = &self.solid.vertices;
        let triangles = if holes.is_empty() && outline.len() <= 4 {
            (1..outline.len() - 1).map(|index| [outline[0], outline[index], outline[index + 1]]).collect()
        } else {
            triangulated(&outline, &holes, vertices, normal)
        };
        for corners in triangles {
            self.solid.triangles.push(Triangle { corners, face, edged: [false; 3] });
        }
    }

    /// The finished solid; `plumb_edges` tells whether an upright edge of the block stands plumb in the world.
    pub(super) fn finish(mut self, plumb_edges: bool) -> Solid {
        let solid = &mut self.solid;
        solid.bounds = solid.vertices.iter().fold(
            (WorldPoint::from([f64::INFINITY; 3]), WorldPoint::from([f64::NEG_INFINITY; 3])),
            |(low, high), vertex| (low.inf(vertex), high.sup(vertex)),
        );
        let mut edged = std::collections::BTreeSet::new();
        for (&(a, b), faces) in &self.sides {
            let (first, last) = (faces[0], faces[faces.len() - 1]);
            let (one, other) = (solid.faces[first as usize], solid.faces[last as usize]);
            let inside_a_curve = faces.len() > 1 && one.curve.is_some() && one.curve == other.curve;
            let flat = faces.len() > 1 && one.normal.dot(&other.normal) > CREASE_COSINE && one.curve == other.curve;
            if inside_a_curve || flat {
                continue;
            }
            edged.insert((a, b));
            let (start, end) = (solid.vertices[a as usize], solid.vertices[b as usize]);
            let plumb = plumb_edges && (end - start).xy().norm() <= 1e-9 * (end - start).norm();
            let ends = if start.z <= end.z { [a, b] } else { [b, a] };
            solid.edges.push(Edge { ends, faces: [first, last], plumb });
        }
        for triangle in &mut solid.triangles {
            for side in 0..3 {
                let (a, b) = (triangle.corners[side], triangle.corners[(side + 1) % 3]);
                triangle.edged[side] = edged.contains(&(a.min(b), a.max(b)));
            }
        }
        solid.convex = self.sides.values().all(|faces| faces.len() == 2) && is_convex(solid);
        self.solid
    }
}

/// Whether no corner lies outside the plane of a face.
fn is_convex(solid: &Solid) -> bool {
    let outside = |triangle: &Triangle| {
        let (start, normal) = (solid.corners(triangle)[0], solid.faces[triangle.face as usize].normal);
        solid.vertices.iter().any(|corner| normal.dot(&(corner - start)) > FLAT_M)
    };
    !solid.faces.is_empty() && solid.faces.len() <= MOST_ASKED && !solid.triangles.iter().any(outside)
}

/// The normal of a nearly flat ring by Newell's sum, which no three corners in line can upset.
fn newell(ring: &[u32], vertices: &[WorldPoint]) -> Option<WorldVector> {
    let origin = vertices[ring[0] as usize];
    let sum = ring.iter().enumerate().fold(WorldVector::zeros(), |sum, (index, &corner)| {
        let next = vertices[ring[(index + 1) % ring.len()] as usize];
        sum + (vertices[corner as usize] - origin).cross(&(next - origin))
    });
    sum.try_normalize(1e-12)
}

/// Triangles of a flat polygon with holes, wound about `normal`; every corner is kept, so neighbours meet without gaps.
fn triangulated(outline: &[u32], holes: &[Vec<u32>], vertices: &[WorldPoint], normal: WorldVector) -> Vec<[u32; 3]> {
    // Drop the axis that the face looks along most, keeping the sense of turning.
    let (x, y) = match normal.iamax() {
        0 => (1, 2),
        1 => (2, 0),
        _ => (0, 1),
    };
    let turned = normal[normal.iamax()] < 0.0;
    let flat = |corner: u32| (vertices[corner as usize][x], vertices[corner as usize][y]);
    let rings: Vec<&[u32]> = std::iter::once(outline).chain(holes.iter().map(Vec::as_slice)).collect();
    let mut mesh = ConstrainedDelaunayTriangulation::<Point2<f64>>::new();
    // The mesh numbers its points in the order of insertion; equal points share a number.
    let mut corners = Vec::new();
    for ring in &rings {
        let mut handles = Vec::with_capacity(ring.len());
        for &corner in *ring {
            let (x, y) = flat(corner);
            let Ok(handle) = mesh.insert(Point2::new(x, y)) else { return Vec::new() };
            if handle.index() == corners.len() {
                corners.push(corner);
            }
            handles.push(handle);
        }
        for (index, &start) in handles.iter().enumerate() {
            let end = handles[(index + 1) % handles.len()];
            if start != end {
                mesh.try_add_constraint(start, end);
            }
        }
    }
    // Flood inwards from the hull: crossing a side of a ring changes between outside and inside.
    let mut inside: Vec<Option<bool>> = vec![None; mesh.num_all_faces()];
    let mut waiting: Vec<_> = mesh.convex_hull().map(|edge| (edge.rev(), false)).collect();
    while let Some((edge, came_from_inside)) = waiting.pop() {
        let Some(face) = edge.face().as_inner() else { continue };
        let known = &mut inside[face.fix().index()];
        if known.is_none() {
            let within = came_from_inside ^ edge.is_constraint_edge();
            *known = Some(within);
            waiting.extend(face.adjacent_edges().map(|side| (side.rev(), within)));
        }
    }
    mesh.inner_faces()
        .filter(|face| inside[face.fix().index()] == Some(true))
        .map(|face| {
            let [a, b, c] = face.vertices().map(|vertex| corners[vertex.index()]);
            if turned { [a, c, b] } else { [a, b, c] }
        })
        .collect()
}
