//! What is a skin put together from? Bars, prisms, frustums, domes: the parts that shapes have in common.

use std::f64::consts::{PI, TAU};

use crate::pose::{WorldPoint, WorldVector};

use super::PlanPoint;
use super::solid::{Curve, Round, SolidBuilder};

/// How far a flat piece may fall short of the round it stands in for.
const SAGITTA_M: f64 = 0.002;

pub(super) fn at(point: PlanPoint, height_m: f64) -> WorldPoint {
    WorldPoint::new(point.0, point.1, height_m)
}

pub(super) fn rectangle(width_m: f64, depth_m: f64) -> Vec<PlanPoint> {
    let (x, y) = (0.5 * width_m, 0.5 * depth_m);
    vec![(-x, -y), (x, -y), (x, y), (-x, y)]
}

/// How many flat pieces stand in for a circle: a multiple of 4, so that quarter turns are exact.
pub(super) fn sides_of(radius_m: f64) -> u32 {
    let half_angle = (1.0 - SAGITTA_M / radius_m.max(2.0 * SAGITTA_M)).acos();
    ((PI / half_angle) / 4.0).ceil().clamp(4.0, 64.0) as u32 * 4
}

/// Domes and crowns bend both ways and cost a square of pieces; a crown's outline is no measure of anything.
pub(super) fn dome_sides(radius_m: f64, cut: Cut) -> u32 {
    sides_of(radius_m).min(if cut == Cut::Whole { 48 } else { 64 })
}

pub(super) fn circle(radius_m: f64, sides: u32) -> Vec<PlanPoint> {
    (0..sides)
        .map(|side| {
            let turn = TAU * f64::from(side) / f64::from(sides);
            (radius_m * turn.cos(), radius_m * turn.sin())
        })
        .collect()
}

/// A regular polygon with a face towards +y, by its distance from face to face.
pub(super) fn regular(sides: u32, across_m: f64) -> Vec<PlanPoint> {
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

pub(super) fn anticlockwise(outline: &[PlanPoint]) -> Vec<PlanPoint> {
    let mut outline = outline.to_vec();
    if signed_area(&outline) < 0.0 {
        outline.reverse();
    }
    outline
}

/// The outline of a wall along a path: mitred corners, square ends.
pub(super) fn wall_outline(path: &[PlanPoint], thickness_m: f64) -> Vec<PlanPoint> {
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

pub(super) fn prism(
    builder: &mut SolidBuilder<'_>,
    outline: &[PlanPoint],
    holes: &[Vec<PlanPoint>],
    base_m: f64,
    top_m: f64,
) {
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
pub(super) struct Frustum {
    pub(super) base: Rim,
    pub(super) top: Rim,
}

/// A level circle about the block's axis, at one end of a frustum.
#[derive(Clone, Copy)]
pub(super) struct Rim {
    pub(super) radius_m: f64,
    pub(super) height_m: f64,
    /// Whether a level face closes it.
    pub(super) closed: bool,
}

/// The skin of a frustum, with so many flat pieces in place of its round.
pub(super) fn frustum(builder: &mut SolidBuilder<'_>, sides: u32, Frustum { base, top }: Frustum) {
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
pub(super) fn drum(builder: &mut SolidBuilder<'_>, sides: u32, radius_m: f64, base_m: f64) {
    let base = Rim { radius_m, height_m: base_m, closed: true };
    let top = Rim { radius_m, height_m: 0.0, closed: false };
    frustum(builder, sides, Frustum { base, top });
}

pub(super) fn round_tower(
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

pub(super) fn polygon_tower(
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
pub(super) enum Cut {
    /// All of it.
    Whole,
    /// Its upper half, closed below.
    Half,
    /// Its upper half, open below where a drum carries it.
    Drum,
}

/// An ellipsoid about a point of the block's axis.
#[derive(Clone, Copy)]
pub(super) struct Ellipsoid {
    /// How high on the axis its centre is.
    pub(super) centre_m: f64,
    pub(super) radius_m: f64,
    pub(super) half_height_m: f64,
    pub(super) cut: Cut,
}

/// The skin of an ellipsoid, with so many flat pieces in place of its round.
pub(super) fn ellipsoid(builder: &mut SolidBuilder<'_>, sides: u32, shape: Ellipsoid) {
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

/// A square bar from one point to another.
pub(super) fn beam(builder: &mut SolidBuilder<'_>, from: WorldPoint, to: WorldPoint, thickness_m: f64) {
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

/// A bar across the block, from one x to another, of a profile in (y, z) that runs anticlockwise as seen from +x.
pub(super) fn bar_across(builder: &mut SolidBuilder<'_>, profile: &[PlanPoint], [west, east]: [f64; 2]) {
    let on = |x: f64, (y, z): PlanPoint| WorldPoint::new(x, y, z);
    let ends = [
        profile.iter().map(|&point| on(east, point)).collect::<Vec<_>>(),
        profile.iter().rev().map(|&point| on(west, point)).collect(),
    ];
    for end in &ends {
        builder.face(end, &[]);
    }
    for (index, &start) in profile.iter().enumerate() {
        let end = profile[(index + 1) % profile.len()];
        builder.face(&[on(east, end), on(east, start), on(west, start), on(west, end)], &[]);
    }
}
