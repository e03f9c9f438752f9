//! Along which lines do blocks run into one another?
//!
//! A chimney through a roof, a lean-to against a wall: no edge of either solid is there, but the pen draws one.

use std::sync::Arc;

use crate::pose::{WorldPoint, WorldVector};
use crate::site::Solid;

/// Points nearer than this to a plane lie on it.
const ON_PLANE_M: f64 = 1e-6;
/// Shorter lines are not drawn.
const SHORTEST_M: f64 = 1e-3;

/// A line along which two triangles of two solids meet.
#[derive(Debug)]
pub(crate) struct Contact {
    /// The solids.
    pub(crate) solids: [usize; 2],
    /// Their triangles.
    pub(crate) triangles: [usize; 2],
    /// Its ends.
    pub(crate) ends: [WorldPoint; 2],
}

type Bounds = (WorldPoint, WorldPoint);

fn overlap(a: &Bounds, b: &Bounds) -> bool {
    (0..3).all(|axis| a.0[axis] <= b.1[axis] + ON_PLANE_M && b.0[axis] <= a.1[axis] + ON_PLANE_M)
}

fn bounds_of(corners: &[WorldPoint; 3]) -> Bounds {
    let [a, b, c] = corners;
    (a.inf(b).inf(c), a.sup(b).sup(c))
}

/// All lines along which solids meet, in a fixed order.
pub(crate) fn contacts(solids: &[Arc<Solid>]) -> Vec<Contact> {
    contacts_of(solids, |_| true)
}

/// The lines along which solids meet, in a fixed order: those of which the first solid is asked about.
pub(crate) fn contacts_of(solids: &[Arc<Solid>], is_asked: impl Fn(usize) -> bool) -> Vec<Contact> {
    let bounds: Vec<Bounds> = solids.iter().map(|solid| solid.bounds()).collect();
    let mut from_west: Vec<usize> = (0..solids.len()).collect();
    from_west.sort_by(|&a, &b| bounds[a].0.x.total_cmp(&bounds[b].0.x).then(a.cmp(&b)));
    let mut found = Vec::new();
    for (place, &one) in from_west.iter().enumerate().filter(|(_, one)| is_asked(**one)) {
        for &other in &from_west[place + 1..] {
            if bounds[other].0.x > bounds[one].1.x + ON_PLANE_M {
                break;
            }
            if overlap(&bounds[one], &bounds[other]) {
                between(solids, &bounds, [one, other], &mut found);
            }
        }
    }
    found
}

/// All lines along which the solids that are asked about meet a surface of triangles, such as ground or water, with the
/// normals of what meets it.
#[cfg(feature = "viewer")]
pub(crate) fn feet(
    solids: &[Arc<Solid>],
    is_asked: impl Fn(usize) -> bool,
    surface: &[[WorldPoint; 3]],
) -> Vec<([WorldPoint; 2], usize, WorldVector)> {
    let mut from_west: Vec<(Bounds, usize)> =
        surface.iter().enumerate().map(|(index, corners)| (bounds_of(corners), index)).collect();
    from_west.sort_by(|a, b| a.0.0.x.total_cmp(&b.0.0.x).then(a.1.cmp(&b.1)));
    // How far west a triangle may begin that still reaches a place.
    let widest_m = from_west.iter().map(|(bounds, _)| bounds.1.x - bounds.0.x).fold(0.0, f64::max);
    let mut found = Vec::new();
    for (index, solid) in solids.iter().enumerate().filter(|(index, _)| is_asked(*index)) {
        for triangle in &solid.triangles {
            let corners = solid.corners(triangle);
            let bounds = bounds_of(&corners);
            let first = from_west.partition_point(|(other, _)| other.0.x < bounds.0.x - widest_m);
            let near = from_west[first..].iter().take_while(|(other, _)| other.0.x <= bounds.1.x + ON_PLANE_M);
            for (_, at) in near.filter(|(other, _)| overlap(&bounds, other)) {
                found.extend(
                    meeting(&corners, &surface[*at])
                        .map(|ends| (ends, index, solid.faces[triangle.face as usize].normal)),
                );
            }
        }
    }
    found
}

/// The lines along which two solids meet.
fn between(solids: &[Arc<Solid>], bounds: &[Bounds], pair: [usize; 2], found: &mut Vec<Contact>) {
    let shared: Bounds = (bounds[pair[0]].0.sup(&bounds[pair[1]].0), bounds[pair[0]].1.inf(&bounds[pair[1]].1));
    let candidates = pair.map(|solid| {
        let solid = &solids[solid];
        let mut inside: Vec<(usize, [WorldPoint; 3], Bounds)> = solid
            .triangles
            .iter()
            .map(|triangle| solid.corners(triangle))
            .enumerate()
            .map(|(index, corners)| (index, corners, bounds_of(&corners)))
            .filter(|(_, _, bounds)| overlap(bounds, &shared))
            .collect();
        inside.sort_by(|a, b| a.2.0.x.total_cmp(&b.2.0.x).then(a.0.cmp(&b.0)));
        inside
    });
    let mut first = 0;
    for (one, corners, one_bounds) in &candidates[0] {
        // Sorted from the west: those that end before every later triangle begins are left behind.
        while candidates[1].get(first).is_some_and(|(_, _, other)| other.1.x + ON_PLANE_M < one_bounds.0.x) {
            first += 1;
        }
        for (other, other_corners, other_bounds) in &candidates[1][first..] {
            if other_bounds.0.x > one_bounds.1.x + ON_PLANE_M {
                break;
            }
            if overlap(one_bounds, other_bounds) {
                found.extend(meeting(corners, other_corners).map(|ends| Contact {
                    solids: pair,
                    triangles: [*one, *other],
                    ends,
                }));
            }
        }
    }
}

/// The line along which two triangles meet; `None` when they do not, or lie in one plane.
fn meeting(a: &[WorldPoint; 3], b: &[WorldPoint; 3]) -> Option<[WorldPoint; 2]> {
    let normal = (a[1] - a[0]).cross(&(a[2] - a[0])).try_normalize(1e-18)?;
    let [mut from, mut to] = cut(b, &a[0], &normal)?;
    // What of it lies within each side of the other triangle.
    for side in 0..3 {
        let (start, end) = (a[side], a[(side + 1) % 3]);
        let inward = normal.cross(&(end - start)).normalize();
        let (from_m, to_m) = (inward.dot(&(from - start)), inward.dot(&(to - start)));
        if from_m < -ON_PLANE_M && to_m < -ON_PLANE_M {
            return None;
        }
        if from_m < -ON_PLANE_M {
            from += (to - from) * (from_m / (from_m - to_m));
        } else if to_m < -ON_PLANE_M {
            to = from + (to - from) * (from_m / (from_m - to_m));
        }
    }
    ((to - from).norm() > SHORTEST_M).then_some([from, to])
}

/// Where a plane cuts a triangle.
fn cut(corners: &[WorldPoint; 3], on_plane: &WorldPoint, normal: &WorldVector) -> Option<[WorldPoint; 2]> {
    let heights = corners.map(|corner| {
        let height_m = normal.dot(&(corner - on_plane));
        if height_m.abs() < ON_PLANE_M { 0.0 } else { height_m }
    });
    let mut points = [WorldPoint::origin(); 3];
    let mut count = 0;
    for (index, &corner) in corners.iter().enumerate() {
        let next = (index + 1) % 3;
        let (here, there) = (heights[index], heights[next]);
        let crossing = if here == 0.0 {
            corner
        } else if here * there < 0.0 {
            corner + (corners[next] - corner) * (here / (here - there))
        } else {
            continue;
        };
        points[count] = crossing;
        count += 1;
    }
    (count == 2).then_some([points[0], points[1]])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::site::{Model, Site};

    fn solids(blocks: &str) -> Vec<Arc<Solid>> {
        let text = format!("(format: 1, name: \"t\", blocks: [{blocks}])");
        let site: Site = crate::files::ron_options().from_str(&text).expect("a site");
        Model::build(site).solids
    }

    fn total_m(found: &[Contact]) -> f64 {
        found.iter().map(|contact| (contact.ends[1] - contact.ends[0]).norm()).sum()
    }

    #[test]
    fn a_post_through_a_slab_is_lined_all_round_above_and_below() {
        let solids = solids(
            "(name: \"slab\", at: (0, 0), lift_m: 1, shape: Box(width_m: 4, depth_m: 4, height_m: 0.5)),
             (name: \"post\", at: (0.3, 0.1), heading_deg: 20, shape: Box(width_m: 0.6, depth_m: 0.4, height_m: 3))",
        );
        let found = contacts(&solids);
        // Twice round the post: 2 · 2 · (0.6 + 0.4).
        assert!((total_m(&found) - 4.0).abs() < 1e-6, "{}", total_m(&found));
        for contact in &found {
            for end in contact.ends {
                assert!((end.z - 1.0).abs() < 1e-9 || (end.z - 1.5).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn a_lean_to_is_lined_where_it_meets_the_wall_and_blocks_apart_are_not() {
        let solids = solids(
            "(name: \"house\", at: (0, 0), lift_m: 0.001, shape: Box(width_m: 8, depth_m: 8, height_m: 6)),
             (name: \"lean-to\", at: (0, 5), lift_m: 0.001, shape: Box(width_m: 3, depth_m: 2, height_m: 2)),
             (name: \"apart\", at: (20, 0), shape: Box(width_m: 3, depth_m: 2, height_m: 2))",
        );
        let found = contacts(&solids);
        assert!(found.iter().all(|contact| contact.solids.iter().all(|&solid| solid < 2)));
        // Two sides and the top on the wall; the feet, which lie on both, are no longer than the width.
        let above: f64 = total_m(&found) - 3.0 * 2.0;
        assert!(total_m(&found) >= 7.0 && above <= 7.0 + 1e-6, "{}", total_m(&found));
    }
}
