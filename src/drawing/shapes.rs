//! Which shapes do the site's blocks have from above?

use std::sync::Arc;

use geo::algorithm::bool_ops::unary_union;
use rayon::prelude::*;

use crate::site::{Model, PlanPoint, Solid};

/// Surfaces that rise more steeply than this are walls from above.
const LEVEL_SINE: f64 = 1e-6;

/// Everything of a site's plan that does not depend on what is looked at; made once for each site.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SiteShapes {
    /// One for each block, in the same order.
    pub blocks: Vec<Arc<BlockShape>>,
}

/// A block from above.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BlockShape {
    /// Its outline, holes by the even–odd rule.
    pub rings: Vec<Vec<PlanPoint>>,
    /// Ridges, hips and rims inside the outline.
    pub creases: Vec<[PlanPoint; 2]>,
    /// Its south-west and north-east bounds.
    pub bounds: (PlanPoint, PlanPoint),
}

impl SiteShapes {
    /// The shapes of a site's blocks.
    pub fn of(model: &Model) -> Self {
        Self { blocks: model.solids.par_iter().map(|solid| Arc::new(BlockShape::of(solid))).collect() }
    }

    /// The shapes of a model that was rebuilt from the one `before`, whose shapes these are.
    #[must_use]
    pub fn again_of(&self, before: &Model, model: &Model) -> Self {
        let shared = model.shared_with(before);
        let shape =
            |(solid, before): (&Arc<Solid>, Option<usize>)| match before.and_then(|before| self.blocks.get(before)) {
                Some(known) => Arc::clone(known),
                None => Arc::new(BlockShape::of(solid)),
            };
        Self { blocks: model.solids.par_iter().zip(shared).map(shape).collect() }
    }

    /// The plan box around everything that stands on the site.
    pub fn bounds(&self) -> Option<(PlanPoint, PlanPoint)> {
        let solid = self.blocks.iter().filter(|block| !block.rings.is_empty()).map(|block| block.bounds);
        solid.reduce(|a, b| ((a.0.0.min(b.0.0), a.0.1.min(b.0.1)), (a.1.0.max(b.1.0), a.1.1.max(b.1.1))))
    }
}

impl BlockShape {
    /// The shape of a solid from above.
    pub fn of(solid: &Solid) -> Self {
        let normal_z = |face: u32| solid.faces[face as usize].normal.z;
        // What looks up covers all there is, and is wound anticlockwise from above.
        let pieces: Vec<geo::Polygon<f64>> = solid
            .triangles
            .iter()
            .filter(|triangle| normal_z(triangle.face) > LEVEL_SINE)
            .map(|triangle| {
                let corners = solid.corners(triangle).map(|corner| (corner.x, corner.y));
                geo::Polygon::new(geo::LineString::from(corners.to_vec()), Vec::new())
            })
            .collect();
        let ring = |ring: &geo::LineString<f64>| {
            let mut corners: Vec<PlanPoint> = ring.coords().map(|corner| (corner.x, corner.y)).collect();
            corners.pop();
            corners
        };
        let rings = unary_union(&pieces)
            .0
            .iter()
            .flat_map(|polygon| std::iter::once(polygon.exterior()).chain(polygon.interiors()).map(ring))
            .collect();
        let creases = solid
            .edges
            .iter()
            .filter(|edge| edge.faces.iter().all(|&face| normal_z(face) > LEVEL_SINE))
            .map(|edge| {
                edge.ends.map(|end| {
                    let end = solid.vertices[end as usize];
                    (end.x, end.y)
                })
            })
            .collect();
        let (low, high) = solid.bounds();
        Self { rings, creases, bounds: ((low.x, low.y), (high.x, high.y)) }
    }
}
