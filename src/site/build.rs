//! How does a shape become a solid?

use std::f64::consts::TAU;

use crate::pose::WorldPoint;

use super::facade::{CLOCK_SIDES, MOST_SLATS, facade};
use super::solid::SolidBuilder;
use super::solid_parts::{
    Cut, Ellipsoid, at, bar_across, beam, circle, dome_sides, drum, ellipsoid, polygon_tower, prism, rectangle,
    regular, round_tower, sides_of, wall_outline,
};
use super::tree::{BRANCHES, tree};
use super::{PlanPoint, Shape};

/// Thickness of a stage's floor, posts and rails, and of a mast's stays.
const FLOOR_M: f64 = 0.15;
const POST_M: f64 = 0.1;
const RAIL_M: f64 = 0.05;
const STAY_M: f64 = 0.03;
/// Counts that a shape may have at the most.
pub(super) const MOST_SIDES: u32 = 256;
pub(super) const MOST_STEPS: u32 = 2000;
pub(super) const MOST_STAYS: u32 = 64;
/// Bays, and storeys.
pub(super) const MOST_WINDOWS: u32 = 200;
const MOST_STRETCHES: u32 = 1000;
/// The longest stretch of a stage between two posts.
const POST_SPACING_M: f64 = 3.0;

/// A level surface that can be stood on, in the block's own axes.
pub(super) struct LevelTop {
    pub(super) outline: Vec<PlanPoint>,
    pub(super) holes: Vec<Vec<PlanPoint>>,
    pub(super) height_m: f64,
    /// Whether one can also stand on the ground beneath it.
    pub(super) open_below: bool,
}

/// The corners about which a block's shape touches the ground, in its own axes.
pub(super) fn footprint(shape: &Shape) -> Vec<PlanPoint> {
    match shape {
        Shape::Box { width_m, depth_m, .. }
        | Shape::Gable { width_m, depth_m, .. }
        | Shape::Hip { width_m, depth_m, .. }
        | Shape::Stage { width_m, depth_m, .. }
        | Shape::Facade { width_m, depth_m, .. } => rectangle(*width_m, *depth_m),
        Shape::Steps { width_m, going_m, count, .. } => rectangle(*width_m, going_m * f64::from(*count)),
        Shape::Prism { outline, .. } => outline.clone(),
        Shape::Wall { path, thickness_m, .. } => wall_outline(path, *thickness_m),
        Shape::RoundTaper { foot_radius_m, head_radius_m, .. } | Shape::Mast { foot_radius_m, head_radius_m, .. } => {
            circle(foot_radius_m.max(*head_radius_m), 16)
        }
        Shape::Dome { radius_m, .. } => circle(*radius_m, 16),
        Shape::PolygonTaper { sides, foot_across_m, .. } => regular(*sides, *foot_across_m),
        Shape::Tree { trunk_radius_m, .. } => circle(*trunk_radius_m, 16),
    }
}

/// The level surfaces of a shape.
pub(super) fn level_tops(shape: &Shape) -> Vec<LevelTop> {
    let solid = |outline: Vec<PlanPoint>, height_m: f64| {
        vec![LevelTop { outline, holes: Vec::new(), height_m, open_below: false }]
    };
    match shape {
        Shape::Box { width_m, depth_m, height_m } | Shape::Facade { width_m, depth_m, height_m, .. } => {
            solid(rectangle(*width_m, *depth_m), *height_m)
        }
        Shape::Prism { outline, holes, height_m } => {
            vec![LevelTop { outline: outline.clone(), holes: holes.clone(), height_m: *height_m, open_below: false }]
        }
        Shape::Wall { path, thickness_m, height_m } => solid(wall_outline(path, *thickness_m), *height_m),
        Shape::RoundTaper { head_radius_m, height_m, .. } if *head_radius_m > 0.0 => {
            solid(circle(*head_radius_m, sides_of(*head_radius_m)), *height_m)
        }
        Shape::PolygonTaper { sides, head_across_m, height_m, .. } if *head_across_m > 0.0 => {
            solid(regular(*sides, *head_across_m), *height_m)
        }
        Shape::Stage { width_m, depth_m, floor_m, .. } => vec![LevelTop {
            outline: rectangle(*width_m, *depth_m),
            holes: Vec::new(),
            height_m: *floor_m,
            open_below: true,
        }],
        Shape::Steps { width_m, going_m, rise_m, count } => {
            let south = -0.5 * going_m * f64::from(*count);
            (0..*count)
                .map(|step| {
                    let near = south + going_m * f64::from(step);
                    LevelTop {
                        outline: vec![
                            (-0.5 * width_m, near),
                            (0.5 * width_m, near),
                            (0.5 * width_m, near + going_m),
                            (-0.5 * width_m, near + going_m),
                        ],
                        holes: Vec::new(),
                        height_m: rise_m * f64::from(step + 1),
                        open_below: false,
                    }
                })
                .collect()
        }
        _ => Vec::new(),
    }
}

/// Adds a shape's skin; its walls reach down to `base_m` ≤ 0 so that they meet sloping ground.
pub(super) fn add_shape(builder: &mut SolidBuilder<'_>, shape: &Shape, base_m: f64, upright: bool) {
    match shape {
        Shape::Box { width_m, depth_m, height_m } => {
            prism(builder, &rectangle(*width_m, *depth_m), &[], base_m, *height_m)
        }
        Shape::Prism { outline, holes, height_m } => prism(builder, outline, holes, base_m, *height_m),
        Shape::Wall { path, thickness_m, height_m } => {
            prism(builder, &wall_outline(path, *thickness_m), &[], base_m, *height_m);
        }
        Shape::RoundTaper { foot_radius_m, head_radius_m, height_m } => {
            round_tower(builder, *foot_radius_m, *head_radius_m, *height_m, base_m, upright);
        }
        Shape::PolygonTaper { sides, foot_across_m, head_across_m, height_m } => {
            polygon_tower(builder, *sides, *foot_across_m, *head_across_m, *height_m, base_m);
        }
        Shape::Dome { radius_m, height_m } => {
            let sides = dome_sides(*radius_m, Cut::Drum);
            let on_drum = base_m < 0.0;
            if on_drum {
                drum(builder, sides, *radius_m, base_m);
            }
            let cut = if on_drum { Cut::Drum } else { Cut::Half };
            let dome = Ellipsoid { centre_m: 0.0, radius_m: *radius_m, half_height_m: *height_m, cut };
            ellipsoid(builder, sides, dome);
        }
        Shape::Gable { width_m, depth_m, eaves_m, ridge_m } => {
            let (width_m, depth_m, eaves_m, ridge_m) = (*width_m, *depth_m, *eaves_m, *ridge_m);
            roofed(builder, Roofed { width_m, depth_m, base_m, eaves_m, ridge_m, ridge_length_m: width_m });
        }
        Shape::Hip { width_m, depth_m, eaves_m, ridge_m, ridge_length_m } => {
            let (width_m, depth_m, eaves_m, ridge_m) = (*width_m, *depth_m, *eaves_m, *ridge_m);
            roofed(builder, Roofed { width_m, depth_m, base_m, eaves_m, ridge_m, ridge_length_m: *ridge_length_m });
        }
        Shape::Steps { width_m, going_m, rise_m, count } => steps(builder, *width_m, *going_m, *rise_m, *count, base_m),
        Shape::Stage { width_m, depth_m, floor_m, rail_m } => {
            stage(builder, *width_m, *depth_m, *floor_m, *rail_m, base_m)
        }
        Shape::Mast { foot_radius_m, head_radius_m, height_m, stays, stay_heights_m, stay_radius_m } => {
            round_tower(builder, *foot_radius_m, *head_radius_m, *height_m, base_m, upright);
            for &from_m in stay_heights_m {
                for stay in 0..*stays {
                    let turn = TAU * f64::from(stay) / f64::from(*stays);
                    let anchor = WorldPoint::new(stay_radius_m * turn.sin(), stay_radius_m * turn.cos(), base_m);
                    beam(builder, anchor, WorldPoint::new(0.0, 0.0, from_m), STAY_M);
                }
            }
        }
        Shape::Tree { .. } => tree(builder, base_m, shape),
        Shape::Facade { .. } => facade(builder, base_m, shape),
    }
}

/// How many triangles [`add_shape`] makes of a shape at the most, so that a sum of these bounds the memory. Counts and sizes
/// that no shape may have are taken as the nearest that one may.
pub(super) fn triangles_at_most(shape: &Shape) -> u64 {
    let corners = |points: &[PlanPoint]| points.len() as u64;
    // A bar of four sides and two ends.
    const BAR: u64 = 12;
    // Two frustums, the lower one down to sloping ground, and two ends.
    let tower = |sides: u32| 6 * u64::from(sides);
    // Every band of every quarter of an ellipsoid has a square for each side.
    let ellipsoid = |sides: u32, quarters: u32| u64::from(2 * sides * quarters * (sides / 4));
    match shape {
        Shape::Box { .. } => BAR,
        Shape::Prism { outline, holes, .. } => {
            4 * (corners(outline) + holes.iter().map(|hole| corners(hole) + 2).sum::<u64>())
        }
        Shape::RoundTaper { foot_radius_m, head_radius_m, .. } => tower(sides_of(foot_radius_m.max(*head_radius_m))),
        Shape::PolygonTaper { sides, .. } => tower((*sides).min(MOST_SIDES)),
        Shape::Dome { radius_m, .. } => {
            let sides = dome_sides(*radius_m, Cut::Half);
            ellipsoid(sides, 1) + tower(sides)
        }
        // Walls, gables, roof and base.
        Shape::Gable { .. } | Shape::Hip { .. } => 16,
        // Two sides with three corners a step, and what joins them.
        Shape::Steps { count, .. } => 4 + 8 * u64::from((*count).min(MOST_STEPS)),
        // Both sides of the path are an outline.
        Shape::Wall { path, .. } => 8 * corners(path),
        Shape::Stage { width_m, depth_m, .. } => {
            // The floor and two rails on each side; posts and stanchions.
            let posts: u64 = [width_m, depth_m].map(|side_m| 2 * u64::from(stretches_of(*side_m))).iter().sum();
            BAR * (1 + 2 * 4 + 2 * posts)
        }
        Shape::Mast { foot_radius_m, head_radius_m, stays, stay_heights_m, .. } => {
            let stays = u64::from((*stays).min(MOST_STAYS)) * (stay_heights_m.len() as u64).min(MOST_STAYS.into());
            tower(sides_of(foot_radius_m.max(*head_radius_m))) + BAR * stays
        }
        Shape::Tree { bare: true, trunk_radius_m, .. } => tower(sides_of(*trunk_radius_m)) + BAR * BRANCHES,
        Shape::Tree { crown_radius_m, trunk_radius_m, .. } => {
            ellipsoid(dome_sides(*crown_radius_m, Cut::Whole), 2) + tower(sides_of(*trunk_radius_m))
        }
        // The front about its windows, the four sides and the pane of each, and the other five faces.
        Shape::Facade { bays, storeys, louvred_storeys, courses_m, clock_m, .. } => {
            let [bays, storeys, louvred] =
                [bays, storeys, louvred_storeys].map(|count| u64::from((*count).min(MOST_WINDOWS)));
            let slats = BAR * u64::from(MOST_SLATS) * bays * louvred.min(storeys);
            let courses = if *courses_m > 0.0 { BAR * storeys } else { 0 };
            let clock = if *clock_m > 0.0 { u64::from(4 * CLOCK_SIDES) } else { 0 };
            BAR + 16 * bays * storeys + courses + clock + slats
        }
    }
}

/// A body with a roof whose ridge runs along x.
#[derive(Clone, Copy)]
struct Roofed {
    width_m: f64,
    depth_m: f64,
    base_m: f64,
    eaves_m: f64,
    ridge_m: f64,
    /// A gable stands at either end where the ridge is as long as the body.
    ridge_length_m: f64,
}

fn roofed(builder: &mut SolidBuilder<'_>, body: Roofed) {
    let Roofed { width_m, depth_m, base_m, eaves_m, ridge_m, ridge_length_m } = body;
    let corners = rectangle(width_m, depth_m);
    let [sw, se, ne, nw] = [corners[0], corners[1], corners[2], corners[3]];
    let half_ridge = 0.5 * ridge_length_m;
    let (west, east) = (at((-half_ridge, 0.0), ridge_m), at((half_ridge, 0.0), ridge_m));
    let gabled = ridge_length_m == width_m;
    if eaves_m > base_m {
        for (start, end, peak) in [(sw, se, None), (se, ne, Some(east)), (ne, nw, None), (nw, sw, Some(west))] {
            let mut wall = vec![at(start, base_m), at(end, base_m), at(end, eaves_m)];
            wall.extend(peak.filter(|_| gabled));
            wall.push(at(start, eaves_m));
            builder.face(&wall, &[]);
        }
    } else if gabled {
        builder.face(&[at(se, eaves_m), at(ne, eaves_m), east], &[]);
        builder.face(&[at(nw, eaves_m), at(sw, eaves_m), west], &[]);
    }
    builder.face(&[at(sw, eaves_m), at(se, eaves_m), east, west], &[]);
    builder.face(&[at(ne, eaves_m), at(nw, eaves_m), west, east], &[]);
    if !gabled {
        builder.face(&[at(se, eaves_m), at(ne, eaves_m), east], &[]);
        builder.face(&[at(nw, eaves_m), at(sw, eaves_m), west], &[]);
    }
    let base: Vec<_> = [sw, nw, ne, se].iter().map(|&point| at(point, base_m.min(eaves_m))).collect();
    builder.face(&base, &[]);
}

fn steps(builder: &mut SolidBuilder<'_>, width_m: f64, going_m: f64, rise_m: f64, count: u32, base_m: f64) {
    let south = -0.5 * going_m * f64::from(count);
    let north = -south;
    // The stair's profile in (y, z), anticlockwise as seen from +x.
    let mut profile = vec![(south, base_m), (north, base_m)];
    for step in (0..count).rev() {
        let top = rise_m * f64::from(step + 1);
        profile.push((south + going_m * f64::from(step + 1), top));
        profile.push((south + going_m * f64::from(step), top));
    }
    bar_across(builder, &profile, [-0.5 * width_m, 0.5 * width_m]);
}

/// How many stretches the side of a stage has, each with one post.
fn stretches_of(side_m: f64) -> u32 {
    ((side_m / POST_SPACING_M).ceil() as u32).clamp(1, MOST_STRETCHES)
}

fn stage(builder: &mut SolidBuilder<'_>, width_m: f64, depth_m: f64, floor_m: f64, rail_m: f64, base_m: f64) {
    let slab_m = FLOOR_M.min(0.5 * floor_m);
    prism(builder, &rectangle(width_m, depth_m), &[], floor_m - slab_m, floor_m);
    let inset = |side_m: f64| (0.5 * (side_m - POST_M)).max(0.0);
    let (x, y) = (inset(width_m), inset(depth_m));
    let corners = [(-x, -y), (x, -y), (x, y), (-x, y)];
    for index in 0..4 {
        let (start, end) = (corners[index], corners[(index + 1) % 4]);
        let length = (end.0 - start.0).hypot(end.1 - start.1);
        let stretches = stretches_of(length);
        for post in 0..stretches {
            let share = f64::from(post) / f64::from(stretches);
            let place = (start.0 + (end.0 - start.0) * share, start.1 + (end.1 - start.1) * share);
            // The floor parts a post from its stanchion.
            let square: Vec<_> = rectangle(POST_M, POST_M).iter().map(|p| (place.0 + p.0, place.1 + p.1)).collect();
            prism(builder, &square, &[], base_m, floor_m - slab_m);
            if rail_m > 0.0 {
                let slim: Vec<_> = rectangle(RAIL_M, RAIL_M).iter().map(|p| (place.0 + p.0, place.1 + p.1)).collect();
                prism(builder, &slim, &[], floor_m, floor_m + rail_m);
            }
        }
        if rail_m > 0.0 {
            for share in [0.5, 1.0] {
                let height_m = floor_m + rail_m * share - 0.5 * RAIL_M;
                beam(builder, at(start, height_m), at(end, height_m), RAIL_M);
            }
        }
    }
}
