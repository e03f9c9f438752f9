//! Which triangles of a block are one surface as seen from an eye, and where does it end?

use crate::pose::WorldPoint;
use crate::sight::Joined;
use crate::site::Solid;

/// Faces whose triangles turn by less than this are flat (the cosine).
const FLAT_COSINE: f64 = 0.999_999_99;
/// A triangle whose plane passes the eye nearer than this, as a share of how far off it is, may face either way.
const EDGE_ON: f64 = 1e-4;

/// What each triangle of each solid is part of.
pub(super) struct Joints {
    first: Vec<usize>,
    all: Vec<Joined>,
}

impl Joints {
    pub(super) fn of<'s>(solids: impl Iterator<Item = &'s Solid>, eye: &WorldPoint) -> Self {
        let mut joints = Self { first: Vec::new(), all: Vec::new() };
        for solid in solids {
            joints.first.push(joints.all.len());
            joints.add(solid, eye);
        }
        joints
    }

    /// What a triangle of a block is part of.
    pub(super) fn at(&self, block: u32, triangle: u32) -> Joined {
        self.all[self.first[block as usize] + triangle as usize]
    }

    fn add(&mut self, solid: &Solid, eye: &WorldPoint) {
        let count = solid.triangles.len();
        let normals: Vec<_> = solid
            .triangles
            .iter()
            .map(|triangle| {
                let [a, b, c] = solid.corners(triangle);
                (b - a).cross(&(c - a)).try_normalize(1e-18)
            })
            .collect();
        // Towards the eye, away from it, or edge on.
        let turned = |index: usize| {
            let from = eye - solid.vertices[solid.triangles[index].corners[0] as usize];
            normals[index]
                .map(|normal| normal.dot(&from))
                .filter(|off| off.abs() > EDGE_ON * from.norm())
                .map(f64::signum)
        };
        // The sides that two triangles share, by their ends.
        let mut sides: Vec<([u32; 2], usize, usize)> = (0..count)
            .flat_map(|index| {
                let corners = solid.triangles[index].corners;
                (0..3).map(move |side| {
                    let (from, to) = (corners[side], corners[(side + 1) % 3]);
                    ([from.min(to), from.max(to)], index, side)
                })
            })
            .collect();
        sides.sort_unstable();
        let mut seams = vec![[true; 3]; count];
        let mut surface: Vec<usize> = (0..count).collect();
        for pair in sides.chunk_by(|one, other| one.0 == other.0) {
            let &[(_, one, one_side), (_, other, other_side)] = pair else { continue };
            if solid.triangles[one].edged[one_side] || solid.triangles[other].edged[other_side] {
                continue;
            }
            let (root, branch) = (root_of(&mut surface, one), root_of(&mut surface, other));
            surface[root.max(branch)] = root.min(branch);
            if turned(one).is_some() && turned(one) == turned(other) {
                seams[one][one_side] = false;
                seams[other][other_side] = false;
            }
        }
        let roots: Vec<usize> = (0..count).map(|index| root_of(&mut surface, index)).collect();
        let mut flat = vec![true; count];
        for (index, &root) in roots.iter().enumerate() {
            let level = normals[index].zip(normals[root]).is_some_and(|(one, other)| one.dot(&other) > FLAT_COSINE);
            flat[root] &= level;
        }
        let first = self.all.len() as u32;
        self.all.extend((0..count).map(|index| Joined {
            surface: first + roots[index] as u32,
            flat: flat[roots[index]],
            seams: seams[index],
        }));
    }
}

fn root_of(surface: &mut [usize], mut index: usize) -> usize {
    while surface[index] != index {
        surface[index] = surface[surface[index]];
        index = surface[index];
    }
    index
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::site::{Model, Site};

    /// Of each triangle, what it is part of and which of its sides are edges.
    fn joints(shape: &str, eye: (f64, f64, f64)) -> Vec<(Joined, [bool; 3])> {
        let text = format!("(format: 1, name: \"t\", blocks: [(name: \"b\", at: (0, 0), shape: {shape})])");
        let site: Site = crate::files::ron_options().from_str(&text).expect("a site");
        let model = Model::build(site);
        let joints = Joints::of(model.solids.iter().map(AsRef::as_ref), &WorldPoint::new(eye.0, eye.1, eye.2));
        let edged = model.solids[0].triangles.iter().map(|triangle| triangle.edged);
        edged.zip(0..).map(|(edged, triangle)| (joints.at(0, triangle), edged)).collect()
    }

    #[test]
    fn a_box_has_six_flat_surfaces_that_end_at_its_edges() {
        let joints = joints("Box(width_m: 4, depth_m: 3, height_m: 5)", (9.0, -20.0, 1.6));
        let mut surfaces: Vec<u32> = joints.iter().map(|(joined, _)| joined.surface).collect();
        surfaces.sort_unstable();
        surfaces.dedup();
        assert_eq!(surfaces.len(), 6);
        // Of the two triangles of each side, each has two edges and the joint between them.
        assert!(joints.iter().all(|(joined, edged)| joined.flat && joined.seams == *edged));
    }

    #[test]
    fn a_round_shaft_ends_at_its_rims_and_where_it_turns_away() {
        let joints = joints("RoundTaper(foot_radius_m: 2, head_radius_m: 1, height_m: 20)", (0.0, -40.0, 1.6));
        let sides = joints.iter().flat_map(|(joined, edged)| joined.seams.into_iter().zip(*edged));
        // No edge is left out, and beside them there is the outline, left and right, each told by both of its triangles; where it runs
        // along a facet that is seen edge on, both sides of that count.
        let (mut edges, mut outline) = (0, 0);
        for (seam, edge) in sides {
            assert!(seam || !edge);
            edges += usize::from(edge);
            outline += usize::from(seam && !edge);
        }
        assert!(edges > 100 && matches!(outline, 4 | 8), "{edges} {outline}");
    }
}
