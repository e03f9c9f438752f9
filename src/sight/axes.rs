//! Along which axes are rays traced?
//!
//! In `f32` about a local origin and along the axes of the terrain's grid: this file is the core's one place where `f64`
//! becomes `f32`.

use glam::Vec3A;

use crate::pose::{WorldPoint, WorldVector};
use crate::site::{Model, Terrain, TerrainGrid};

/// Where rays are counted: about a point where precision matters, along the lines of the terrain's posts.
#[derive(Clone, Copy)]
pub(super) struct RayAxes {
    pub(super) origin: WorldPoint,
    /// Of the compass direction of the second axis.
    pub(super) sine: f64,
    pub(super) cosine: f64,
}

impl RayAxes {
    pub(super) fn of(model: &Model) -> Self {
        let turned_deg = match &model.site.terrain {
            Terrain::Plane { .. } => 0.0,
            Terrain::Grid(grid) => grid.turned_deg,
        };
        let (sine, cosine) = turned_deg.to_radians().sin_cos();
        Self { origin: local_origin(model), sine, cosine }
    }

    #[inline]
    pub(super) fn turn(&self, vector: WorldVector) -> WorldVector {
        let (x, y) = (vector.x, vector.y);
        WorldVector::new(x * self.cosine - y * self.sine, x * self.sine + y * self.cosine, vector.z)
    }

    /// Where the lines of a grid's posts lie along both axes, and the posts' heights, along the first axis first.
    pub(super) fn posts(&self, grid: &TerrainGrid) -> ([Vec<f32>; 2], Vec<f32>) {
        let posts = grid.post_lines();
        let (x, y) = grid.south_west;
        let first = self.turn(WorldPoint::new(x, y, 0.0) - self.origin);
        let lines = [(first.x, &posts.lines_m[0]), (first.y, &posts.lines_m[1])]
            .map(|(first_m, lines)| lines.iter().map(|line_m| length(first_m + line_m)).collect());
        (lines, posts.heights_m.iter().map(|height_m| length(height_m - self.origin.z)).collect())
    }

    #[inline]
    pub(super) fn vector(&self, vector: WorldVector) -> Vec3A {
        narrow(self.turn(vector))
    }

    #[inline]
    pub(super) fn point(&self, point: &WorldPoint) -> Vec3A {
        self.vector(point - self.origin)
    }
}

/// A length as a ray counts it.
#[inline]
pub(super) const fn length(metres: f64) -> f32 {
    metres as f32
}

#[inline]
fn narrow(vector: WorldVector) -> Vec3A {
    Vec3A::new(length(vector.x), length(vector.y), length(vector.z))
}

/// The middle of the subject, else of all blocks, else of the ground: where precision matters.
fn local_origin(model: &Model) -> WorldPoint {
    let subject: Vec<usize> = model.subject().collect();
    let middle = |indices: &mut dyn Iterator<Item = usize>| {
        let bounds = indices.map(|index| model.solids[index].bounds()).reduce(|a, b| (a.0.inf(&b.0), a.1.sup(&b.1)));
        bounds.map(|(low, high)| nalgebra::center(&low, &high))
    };
    middle(&mut subject.into_iter())
        .or_else(|| middle(&mut (0..model.solids.len())))
        .unwrap_or_else(|| WorldPoint::new(0.0, 0.0, model.site.terrain.height_m((0.0, 0.0))))
}
