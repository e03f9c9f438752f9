//! How does a shape become a solid?

use std::f64::consts::{PI, TAU};

use crate::pose::{WorldPoint, WorldVector};

use super::solid::{Curve, Round, SolidBuilder};
use super::{PlanPoint, Shape};

/// How far a flat piece may fall short of the round it stands in for.
const SAGITTA_M: f64 = 0.002;
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
        Shape::Tree { height_m, crown_radius_m, crown_base_m, trunk_radius_m } => {
            let half_height_m = 0.5 * (height_m - crown_base_m);
            let rim = |height_m: f64| Rim { radius_m: *trunk_radius_m, height_m, closed: true };
            let trunk = Frustum { base: rim(base_m), top: rim(crown_base_m + 0.2 * half_height_m) };
            frustum(builder, sides_of(*trunk_radius_m), trunk);
            let crown = Ellipsoid {
                centre_m: crown_base_m + half_height_m,
                radius_m: *crown_radius_m,
                half_height_m,
                cut: Cut::Whole,
            };
            ellipsoid(builder, dome_sides(*crown_radius_m, Cut::Whole), crown);
        }
        Shape::Facade { width_m, depth_m, height_m, bays, storeys, opening_share, reveal_m } => {
            let grid = Windows { bays: *bays, storeys: *storeys, opening_share: *opening_share, reveal_m: *reveal_m };
            facade(builder, *width_m, *depth_m, *height_m, base_m, &grid);
        }
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
        Shape::Tree { crown_radius_m, trunk_radius_m, .. } => {
            ellipsoid(dome_sides(*crown_radius_m, Cut::Whole), 2) + tower(sides_of(*trunk_radius_m))
        }
        // The front about its windows, the four sides and the pane of each, and the other five faces.
        Shape::Facade { bays, storeys, .. } => {
            BAR + 16 * u64::from((*bays).min(MOST_WINDOWS)) * u64::from((*storeys).min(MOST_WINDOWS))
        }
    }
}

fn at(point: PlanPoint, height_m: f64) -> WorldPoint {
    WorldPoint::new(point.0, point.1, height_m)
}

fn rectangle(width_m: f64, depth_m: f64) -> Vec<PlanPoint> {
    let (x, y) = (0.5 * width_m, 0.5 * depth_m);
    vec![(-x, -y), (x, -y), (x, y), (-x, y)]
}

/// How many flat pieces stand in for a circle: a multiple of 4, so that quarter turns are exact.
fn sides_of(radius_m: f64) -> u32 {
    let half_angle = (1.0 - SAGITTA_M / radius_m.max(2.0 * SAGITTA_M)).acos();
    ((PI / half_angle) / 4.0).ceil().clamp(4.0, 64.0) as u32 * 4
}

/// Domes and crowns bend both ways and cost a square of pieces; a crown's outline is no measure of anything.
fn dome_sides(radius_m: f64, cut: Cut) -> u32 {
    sides_of(radius_m).min(if cut == Cut::Whole { 48 } else { 64 })
}

fn circle(radius_m: f64, sides: u32) -> Vec<PlanPoint> {
    (0..sides)
        .map(|side| {
            let turn = TAU * f64::from(side) / f64::from(sides);
            (radius_m * turn.cos(), radius_m * turn.sin())
        })
        .collect()
}

/// A regular polygon with a face towards +y, by its distance from face to face.
fn regular(sides: u32, across_m: f64) -> Vec<PlanPoint> {
    let half_side = PI / f64::from(sides);
    let radius_m = 0.5 * across_m / half_side.cos();
    (0..sides)
        .map(|side| {
            let turn = PI / 2.0 + half_side + TAU * f64::from(side) / f64::from(sides);
            (radius_m * turn.cos(), radius_m * turn.sin())
        })
        .collect()
}

/// Twice the signed area: positive when anticlockwise.
pub(super) fn signed_area(outline: &[PlanPoint]) -> f64 {
    outline
        .iter()
        .enumerate()
        .map(|(index, a)| {
            let b = outline[(index + 1) % outline.len()];
            a.0 * b.1 - b.0 * a.1
        })
        .sum()
}

fn anticlockwise(outline: &[PlanPoint]) -> Vec<PlanPoint> {
    let mut outline = outline.to_vec();
    if signed_area(&outline) < 0.0 {
        outline.reverse();
    }
    outline
}

/// The outline of a wall along a path: mitred corners, square ends.
fn wall_outline(path: &[PlanPoint], thickness_m: f64) -> Vec<PlanPoint> {
    let direction = |a: PlanPoint, b: PlanPoint| {
        let length = (b.0 - a.0).hypot(b.1 - a.1);
        ((b.0 - a.0) / length, (b.1 - a.1) / length)
    };
    let half = 0.5 * thickness_m;
    let mut left = Vec::with_capacity(2 * path.len());
    let mut right = Vec::with_capacity(path.len());
    for (index, &corner) in path.iter().enumerate() {
        let before = index.checked_sub(1).map(|previous| direction(path[previous], corner));
        let after = path.get(index + 1).map(|&next| direction(corner, next));
        let (Some(before), Some(after)) = (before.or(after), after.or(before)) else { return Vec::new() };
        // The mitre runs along the mean of the two normals; very sharp corners are cut at four half thicknesses.
        let mean = (-(before.1 + after.1), before.0 + after.0);
        let length = mean.0.hypot(mean.1).max(1e-9);
        let normal = (mean.0 / length, mean.1 / length);
        let stretch = half * (2.0 / length).min(4.0);
        left.push((corner.0 + normal.0 * stretch, corner.1 + normal.1 * stretch));
        right.push((corner.0 - normal.0 * stretch, corner.1 - normal.1 * stretch));
    }
    left.reverse();
    right.extend(left);
    right
}

fn prism(builder: &mut SolidBuilder<'_>, outline: &[PlanPoint], holes: &[Vec<PlanPoint>], base_m: f64, top_m: f64) {
    let outline = anticlockwise(outline);
    let holes: Vec<Vec<PlanPoint>> = holes
        .iter()
        .map(|hole| {
            let mut hole = anticlockwise(hole);
            hole.reverse();
            hole
        })
        .collect();
    for ring in std::iter::once(&outline).chain(&holes) {
        for (index, &start) in ring.iter().enumerate() {
            let end = ring[(index + 1) % ring.len()];
            builder.face(&[at(start, base_m), at(end, base_m), at(end, top_m), at(start, top_m)], &[]);
        }
    }
    let level = |ring: &[PlanPoint], height_m: f64, down: bool| -> Vec<WorldPoint> {
        let mut ring: Vec<WorldPoint> = ring.iter().map(|&point| at(point, height_m)).collect();
        if down {
            ring.reverse();
        }
        ring
    };
    for (height_m, down) in [(top_m, false), (base_m, true)] {
        let holes: Vec<_> = holes.iter().map(|hole| level(hole, height_m, down)).collect();
        builder.face(&level(&outline, height_m, down), &holes);
    }
}

/// An upright cone with its tip cut off, about the block's axis.
#[derive(Clone, Copy)]
struct Frustum {
    base: Rim,
    top: Rim,
}

/// A level circle about the block's axis, at one end of a frustum.
#[derive(Clone, Copy)]
struct Rim {
    radius_m: f64,
    height_m: f64,
    /// Whether a level face closes it.
    closed: bool,
}

/// The skin of a frustum, with so many flat pieces in place of its round.
fn frustum(builder: &mut SolidBuilder<'_>, sides: u32, Frustum { base, top }: Frustum) {
    let (low, high) = (circle(base.radius_m, sides), circle(top.radius_m, sides));
    let curve = Curve::Round {
        base: builder.to_world(at((0.0, 0.0), base.height_m)),
        axis: builder.direction_to_world(WorldVector::z()),
        slope: (base.radius_m - top.radius_m) / (top.height_m - base.height_m),
    };
    for index in 0..sides as usize {
        let next = (index + 1) % sides as usize;
        let (base_m, top_m) = (base.height_m, top.height_m);
        let piece = [at(low[index], base_m), at(low[next], base_m), at(high[next], top_m), at(high[index], top_m)];
        builder.piece(&piece, curve);
    }
    if base.closed && base.radius_m > 0.0 {
        let ring: Vec<_> = low.iter().rev().map(|&point| at(point, base.height_m)).collect();
        builder.face(&ring, &[]);
    }
    if top.closed && top.radius_m > 0.0 {
        let ring: Vec<_> = high.iter().map(|&point| at(point, top.height_m)).collect();
        builder.face(&ring, &[]);
    }
}

/// What carries something round from sloping ground up to the block's zero, where it is open.
fn drum(builder: &mut SolidBuilder<'_>, sides: u32, radius_m: f64, base_m: f64) {
    let base = Rim { radius_m, height_m: base_m, closed: true };
    let top = Rim { radius_m, height_m: 0.0, closed: false };
    frustum(builder, sides, Frustum { base, top });
}

fn round_tower(
    builder: &mut SolidBuilder<'_>,
    foot_radius_m: f64,
    head_radius_m: f64,
    height_m: f64,
    base_m: f64,
    upright: bool,
) {
    let sides = sides_of(foot_radius_m.max(head_radius_m));
    if base_m < 0.0 {
        drum(builder, sides, foot_radius_m, base_m);
    }
    let base = Rim { radius_m: foot_radius_m, height_m: 0.0, closed: base_m >= 0.0 };
    let top = Rim { radius_m: head_radius_m, height_m, closed: true };
    frustum(builder, sides, Frustum { base, top });
    if upright {
        let (base, top) = (builder.to_world(WorldPoint::origin()), builder.to_world(at((0.0, 0.0), height_m)));
        builder.round(Round {
            axis: (base.x, base.y),
            base_m: base.z,
            base_radius_m: foot_radius_m,
            top_m: top.z,
            top_radius_m: head_radius_m,
        });
    }
}

fn polygon_tower(
    builder: &mut SolidBuilder<'_>,
    sides: u32,
    foot_across_m: f64,
    head_across_m: f64,
    height_m: f64,
    base_m: f64,
) {
    let (low, high) = (regular(sides, foot_across_m), regular(sides, head_across_m));
    for index in 0..low.len() {
        let next = (index + 1) % low.len();
        if base_m < 0.0 {
            builder
                .face(&[at(low[index], base_m), at(low[next], base_m), at(low[next], 0.0), at(low[index], 0.0)], &[]);
        }
        builder
            .face(&[at(low[index], 0.0), at(low[next], 0.0), at(high[next], height_m), at(high[index], height_m)], &[]);
    }
    let base: Vec<_> = low.iter().rev().map(|&point| at(point, base_m)).collect();
    builder.face(&base, &[]);
    let top: Vec<_> = high.iter().map(|&point| at(point, height_m)).collect();
    builder.face(&top, &[]);
}

/// How much of an ellipsoid is built.
#[derive(Clone, Copy, PartialEq)]
enum Cut {
    /// All of it.
    Whole,
    /// Its upper half, closed below.
    Half,
    /// Its upper half, open below where a drum carries it.
    Drum,
}

/// An ellipsoid about a point of the block's axis.
#[derive(Clone, Copy)]
struct Ellipsoid {
    /// How high on the axis its centre is.
    centre_m: f64,
    radius_m: f64,
    half_height_m: f64,
    cut: Cut,
}

/// The skin of an ellipsoid, with so many flat pieces in place of its round.
fn ellipsoid(builder: &mut SolidBuilder<'_>, sides: u32, shape: Ellipsoid) {
    let Ellipsoid { centre_m, radius_m, half_height_m, cut } = shape;
    let bands = (sides / 4) as i32;
    let curve = Curve::Ellipsoid {
        centre: builder.to_world(at((0.0, 0.0), centre_m)),
        axis: builder.direction_to_world(WorldVector::z()),
        radius_m,
        half_height_m,
    };
    let band_ring = |band: i32| {
        let up = PI / 2.0 * f64::from(band) / f64::from(bands);
        // The poles are points, not tiny rings.
        let radius = if band.abs() == bands { 0.0 } else { radius_m * up.cos() };
        (circle(radius, sides), centre_m + half_height_m * up.sin())
    };
    let first = if cut == Cut::Whole { -bands } else { 0 };
    for band in first..bands {
        let ((low, low_m), (high, high_m)) = (band_ring(band), band_ring(band + 1));
        for index in 0..sides as usize {
            let next = (index + 1) % sides as usize;
            let piece = [at(low[index], low_m), at(low[next], low_m), at(high[next], high_m), at(high[index], high_m)];
            builder.piece(&piece, curve);
        }
    }
    if cut == Cut::Half {
        let ring: Vec<_> = circle(radius_m, sides).iter().rev().map(|&point| at(point, centre_m)).collect();
        builder.face(&ring, &[]);
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
    let half = 0.5 * width_m;
    let on = |x: f64, (y, z): (f64, f64)| WorldPoint::new(x, y, z);
    let east: Vec<_> = profile.iter().map(|&point| on(half, point)).collect();
    let west: Vec<_> = profile.iter().rev().map(|&point| on(-half, point)).collect();
    builder.face(&east, &[]);
    builder.face(&west, &[]);
    for (index, &start) in profile.iter().enumerate() {
        let end = profile[(index + 1) % profile.len()];
        builder.face(&[on(half, end), on(half, start), on(-half, start), on(-half, end)], &[]);
    }
}

/// A square bar from one point to another.
fn beam(builder: &mut SolidBuilder<'_>, from: WorldPoint, to: WorldPoint, thickness_m: f64) {
    let along = to - from;
    let aside = if along.xy().norm() > 1e-6 * along.norm() {
        WorldVector::new(-along.y, along.x, 0.0).normalize()
    } else {
        WorldVector::x()
    };
    let over = along.cross(&aside).normalize();
    let (aside, over) = (aside * (0.5 * thickness_m), over * (0.5 * thickness_m));
    let section = [-aside - over, aside - over, aside + over, -aside + over];
    for index in 0..4 {
        let next = (index + 1) % 4;
        builder.face(&[from + section[index], from + section[next], to + section[next], to + section[index]], &[]);
    }
    builder.face(&[from + section[3], from + section[2], from + section[1], from + section[0]], &[]);
    builder.face(&[to + section[0], to + section[1], to + section[2], to + section[3]], &[]);
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

/// How a front is pierced.
struct Windows {
    bays: u32,
    storeys: u32,
    opening_share: f64,
    reveal_m: f64,
}

fn facade(builder: &mut SolidBuilder<'_>, width_m: f64, depth_m: f64, height_m: f64, base_m: f64, windows: &Windows) {
    let (half_width, front) = (0.5 * width_m, 0.5 * depth_m);
    let (bay_m, storey_m) = (width_m / f64::from(windows.bays.max(1)), height_m / f64::from(windows.storeys.max(1)));
    let on = |x: f64, y: f64, z: f64| WorldPoint::new(x, y, z);
    let mut openings = Vec::new();
    for storey in 0..windows.storeys {
        for bay in 0..windows.bays {
            let (x, z) = (-half_width + bay_m * (f64::from(bay) + 0.5), storey_m * (f64::from(storey) + 0.5));
            let (dx, dz) = (0.5 * bay_m * windows.opening_share, 0.5 * storey_m * windows.opening_share);
            openings.push([(x - dx, z - dz), (x + dx, z - dz), (x + dx, z + dz), (x - dx, z + dz)]);
        }
    }
    // The front looks towards +y: anticlockwise from there runs from +x to −x.
    let outline = [
        on(half_width, front, base_m),
        on(-half_width, front, base_m),
        on(-half_width, front, height_m),
        on(half_width, front, height_m),
    ];
    let holes: Vec<Vec<WorldPoint>> =
        openings.iter().map(|opening| opening.iter().map(|&(x, z)| on(x, front, z)).collect()).collect();
    builder.face(&outline, &holes);
    let back = front - windows.reveal_m;
    for opening in &openings {
        for index in 0..4 {
            let (start, end) = (opening[index], opening[(index + 1) % 4]);
            builder.face(
                &[
                    on(end.0, front, end.1),
                    on(start.0, front, start.1),
                    on(start.0, back, start.1),
                    on(end.0, back, end.1),
                ],
                &[],
            );
        }
        let pane: Vec<_> = opening.iter().rev().map(|&(x, z)| on(x, back, z)).collect();
        builder.face(&pane, &[]);
    }
    let corners = rectangle(width_m, depth_m);
    let [sw, se, ne, nw] = [corners[0], corners[1], corners[2], corners[3]];
    for (start, end) in [(sw, se), (se, ne), (nw, sw)] {
        builder.face(&[at(start, base_m), at(end, base_m), at(end, height_m), at(start, height_m)], &[]);
    }
    builder.face(&[at(sw, height_m), at(se, height_m), at(ne, height_m), at(nw, height_m)], &[]);
    builder.face(&[at(sw, base_m), at(nw, base_m), at(ne, base_m), at(se, base_m)], &[]);
}
