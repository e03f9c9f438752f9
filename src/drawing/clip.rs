//! What of a shape lies on the canvas, and how is it filled?

use spade::{ConstrainedDelaunayTriangulation, Point2, Triangulation};

use super::room::{CanvasPoint, Room};

/// The triangles that fill rings by the even–odd rule, for whoever can fill nothing else.
pub fn triangles(rings: &[Vec<CanvasPoint>]) -> Vec<[CanvasPoint; 3]> {
    if let [ring] = rings
        && is_convex(ring)
    {
        return ring.windows(2).skip(1).map(|pair| [ring[0], pair[0], pair[1]]).collect();
    }
    let mut mesh = ConstrainedDelaunayTriangulation::<Point2<f64>>::new();
    for ring in rings {
        // Points that are no numbers have no place; `spade` refuses them.
        let handles: Vec<_> = ring.iter().filter_map(|&(x, y)| mesh.insert(Point2::new(x, y)).ok()).collect();
        for (index, &start) in handles.iter().enumerate() {
            let end = handles[(index + 1) % handles.len()];
            if start != end {
                let _ = mesh.add_constraint_and_split(start, end, |point| point);
            }
        }
    }
    mesh.inner_faces()
        .map(|face| face.positions().map(|corner| (corner.x, corner.y)))
        .filter(|[a, b, c]| holds(rings, ((a.0 + b.0 + c.0) / 3.0, (a.1 + b.1 + c.1) / 3.0)))
        .collect()
}

/// Whether a ring turns only one way, and once around.
fn is_convex(ring: &[CanvasPoint]) -> bool {
    let count = ring.len();
    let side = |index: usize| {
        let (a, b) = (ring[index % count], ring[(index + 1) % count]);
        (b.0 - a.0, b.1 - a.1)
    };
    let turns = || {
        (0..count).map(|index| {
            let (one, next) = (side(index), side(index + 1));
            (one.0 * next.1 - one.1 * next.0).atan2(one.0 * next.0 + one.1 * next.1)
        })
    };
    let around: f64 = turns().sum();
    count >= 3 && (around.abs() - std::f64::consts::TAU).abs() < 1e-6 && turns().all(|turn| turn * around >= 0.0)
}

/// Whether a place lies inside rings by the even–odd rule.
pub(super) fn holds(rings: &[Vec<CanvasPoint>], place: CanvasPoint) -> bool {
    rings.iter().filter(|ring| crate::site::outline_holds(ring, place)).count() % 2 == 1
}

/// The parts of a line inside a rectangle.
pub(super) fn parts_within(points: &[CanvasPoint], room: &Room) -> Vec<Vec<CanvasPoint>> {
    let mut parts: Vec<Vec<CanvasPoint>> = Vec::new();
    let mut open = false;
    for pair in points.windows(2) {
        let Some((from, to)) = within(pair[0], pair[1], room) else {
            open = false;
            continue;
        };
        match parts.last_mut().filter(|_| open && from == pair[0]) {
            Some(part) => part.push(to),
            None => parts.push(vec![from, to]),
        }
        open = to == pair[1];
    }
    parts
}

/// The part of a straight line inside a rectangle.
pub(super) fn within(a: CanvasPoint, b: CanvasPoint, room: &Room) -> Option<(CanvasPoint, CanvasPoint)> {
    if !(a.0.is_finite() && a.1.is_finite() && b.0.is_finite() && b.1.is_finite()) {
        return None;
    }
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    for (step, space) in
        [(-dx, a.0 - room.left), (dx, room.right - a.0), (-dy, a.1 - room.top), (dy, room.bottom - a.1)]
    {
        if step == 0.0 {
            if space < 0.0 {
                return None;
            }
        } else if step < 0.0 {
            enter = enter.max(space / step);
        } else {
            leave = leave.min(space / step);
        }
    }
    let at = |share: f64| {
        if share == 0.0 {
            a
        } else if share == 1.0 {
            b
        } else {
            (a.0 + dx * share, a.1 + dy * share)
        }
    };
    (enter <= leave).then(|| (at(enter), at(leave)))
}

/// A ring cut to a rectangle.
///
/// # Source
/// I. Sutherland, G. Hodgman, *Reentrant polygon clipping*, 1974 (from memory).
pub(super) fn ring_within(ring: &[CanvasPoint], room: &Room) -> Vec<CanvasPoint> {
    if ring.iter().any(|(x, y)| !(x.is_finite() && y.is_finite())) {
        return Vec::new();
    }
    let mut ring = ring.to_vec();
    for side in 0..4 {
        ring = beyond_side(&ring, |&(x, y)| match side {
            0 => x - room.left,
            1 => room.right - x,
            2 => y - room.top,
            _ => room.bottom - y,
        });
    }
    ring
}

/// The part of a ring where something that changes evenly along straight lines is not negative.
pub(super) fn beyond_side(ring: &[CanvasPoint], depth: impl Fn(&CanvasPoint) -> f64) -> Vec<CanvasPoint> {
    let mut kept = Vec::with_capacity(ring.len() + 4);
    for (index, a) in ring.iter().enumerate() {
        let b = &ring[(index + 1) % ring.len()];
        let (from, to) = (depth(a), depth(b));
        if from >= 0.0 {
            kept.push(*a);
        }
        if (from >= 0.0) != (to >= 0.0) {
            let share = from / (from - to);
            kept.push((a.0 + (b.0 - a.0) * share, a.1 + (b.1 - a.1) * share));
        }
    }
    kept
}

/// Parallel lines inside rings, by the even–odd rule: their direction (right, down, of length 1), how far apart, and how
/// far a first one passes from the canvas's corner.
pub(super) fn hatching(
    rings: &[Vec<CanvasPoint>],
    (right, down): (f64, f64),
    apart_pt: f64,
    first_pt: f64,
) -> Vec<[CanvasPoint; 2]> {
    let across = |&(x, y): &CanvasPoint| y * right - x * down;
    let along = |&(x, y): &CanvasPoint| x * right + y * down;
    let (low, high) = rings
        .iter()
        .flatten()
        .map(across)
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)));
    if !(low.is_finite() && high.is_finite()) {
        return Vec::new();
    }
    let mut lines = Vec::new();
    let steps = |value: f64| ((value - first_pt) / apart_pt).ceil() as i64;
    for step in steps(low)..steps(high) {
        let offset = first_pt + step as f64 * apart_pt;
        let mut meets: Vec<f64> = Vec::new();
        for ring in rings {
            for (index, a) in ring.iter().enumerate() {
                let b = &ring[(index + 1) % ring.len()];
                let (from, to) = (across(a) - offset, across(b) - offset);
                if (from > 0.0) != (to > 0.0) {
                    meets.push(along(a) + (along(b) - along(a)) * from / (from - to));
                }
            }
        }
        meets.sort_by(f64::total_cmp);
        let place = |along: f64| (along * right - offset * down, along * down + offset * right);
        lines.extend(meets.chunks_exact(2).map(|pair| [place(pair[0]), place(pair[1])]));
    }
    lines
}

/// The place inside rings that lies farthest from their sides, as a coarse grid finds it; with that distance.
pub(super) fn inmost(rings: &[Vec<CanvasPoint>]) -> Option<(CanvasPoint, f64)> {
    let points = || rings.iter().flatten();
    let low = points().copied().reduce(|a, b| (a.0.min(b.0), a.1.min(b.1)))?;
    let high = points().copied().reduce(|a, b| (a.0.max(b.0), a.1.max(b.1)))?;
    let from_sides = |place: CanvasPoint| {
        let sides = rings
            .iter()
            .flat_map(|ring| ring.iter().enumerate().map(|(index, &a)| (a, ring[(index + 1) % ring.len()])));
        sides.map(|(a, b)| distance_to(place, a, b)).fold(f64::INFINITY, f64::min)
    };
    let steps = 14;
    (1..steps)
        .flat_map(|row| (1..steps).map(move |column| (column, row)))
        .map(|(column, row)| {
            let share = |index: i32| f64::from(index) / f64::from(steps);
            (low.0 + (high.0 - low.0) * share(column), low.1 + (high.1 - low.1) * share(row))
        })
        .filter(|&place| holds(rings, place))
        .map(|place| (place, from_sides(place)))
        .reduce(|a, b| if b.1 > a.1 { b } else { a })
}

/// The distance of a place from a straight stretch.
fn distance_to(place: CanvasPoint, a: CanvasPoint, b: CanvasPoint) -> f64 {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let squared = dx * dx + dy * dy;
    let share = if squared > 0.0 { ((place.0 - a.0) * dx + (place.1 - a.1) * dy) / squared } else { 0.0 };
    let share = share.clamp(0.0, 1.0);
    (place.0 - a.0 - dx * share).hypot(place.1 - a.1 - dy * share)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(at: f64, side: f64) -> Vec<CanvasPoint> {
        vec![(at, at), (at + side, at), (at + side, at + side), (at, at + side)]
    }

    fn area(triangles: &[[CanvasPoint; 3]]) -> f64 {
        let of = |[a, b, c]: &[CanvasPoint; 3]| 0.5 * ((b.0 - a.0) * (c.1 - a.1) - (c.0 - a.0) * (b.1 - a.1)).abs();
        triangles.iter().map(of).sum()
    }

    #[test]
    fn triangles_fill_an_area_and_leave_its_hole() {
        let rings = [square(0.0, 10.0), square(3.0, 4.0)];
        assert!((area(&triangles(&rings)) - 84.0).abs() < 1e-9);
        // A ring that crosses itself is filled where a line to the outside crosses it an odd number of times.
        let line_bend = vec![(0.0, 0.0), (4.0, 4.0), (4.0, 0.0), (0.0, 4.0)];
        assert!((area(&triangles(&[line_bend])) - 8.0).abs() < 1e-9);
        assert!(triangles(&[]).is_empty());
        assert!(triangles(&[vec![(f64::NAN, 0.0), (1.0, 0.0), (0.0, 1.0)]]).is_empty());
    }

    #[test]
    fn hatching_stays_inside_and_out_of_the_hole() {
        let rings = [square(0.0, 10.0), square(3.0, 4.0)];
        let slant = std::f64::consts::FRAC_1_SQRT_2;
        let lines = hatching(&rings, (slant, slant), 1.0, 0.25);
        let length: f64 = lines.iter().map(|[a, b]| (b.0 - a.0).hypot(b.1 - a.1)).sum();
        // One line a point apart: their length is about the area.
        assert!((length - 84.0).abs() < 6.0, "{length}");
        for [a, b] in lines {
            assert!(holds(&rings, (0.5 * (a.0 + b.0), 0.5 * (a.1 + b.1))));
        }
    }

    #[test]
    fn what_lies_outside_is_cut_off() {
        let room = Room { left: 0.0, top: 0.0, right: 10.0, bottom: 10.0 };
        let ring = ring_within(&[(-5.0, -5.0), (5.0, -5.0), (5.0, 5.0), (-5.0, 5.0)], &room);
        assert!((area(&triangles(&[ring])) - 25.0).abs() < 1e-9);
        let parts = parts_within(&[(-5.0, 5.0), (5.0, 5.0), (5.0, 50.0), (8.0, 50.0), (8.0, 2.0)], &room);
        assert_eq!(parts, [vec![(0.0, 5.0), (5.0, 5.0), (5.0, 10.0)], vec![(8.0, 10.0), (8.0, 2.0)]]);
        assert!(parts_within(&[(f64::NAN, 5.0), (5.0, 5.0)], &room).is_empty());
    }

    #[test]
    fn the_inmost_place_of_a_square_is_its_middle() {
        let (place, from_sides) = inmost(&[square(2.0, 10.0)]).expect("inside");
        assert!((place.0 - 7.0).abs() < 0.8 && (place.1 - 7.0).abs() < 0.8 && from_sides > 4.0);
    }
}
