//! How does a front with bays, storeys, courses, a clock and louvres become a skin?

use std::f64::consts::TAU;

use crate::pose::WorldPoint;

use super::solid::SolidBuilder;
use super::solid_parts::{at, bar_across, rectangle};
use super::{PlanPoint, Shape};

/// How high a string course is, and how thick a clock's dial and a louvre's slat.
const COURSE_M: f64 = 0.25;
const DIAL_M: f64 = 0.08;
const SLAT_M: f64 = 0.025;
/// From slat to slat, where there is room for no more than [`MOST_SLATS`] of them.
const PITCH_M: f64 = 0.25;
pub(super) const MOST_SLATS: u32 = 40;
/// A louvre wants so much depth.
const LOUVRE_DEPTH_M: f64 = 0.05;
pub(super) const CLOCK_SIDES: u32 = 48;

/// A building and how its front, towards +y, is pierced and dressed: see [`super::Shape::Facade`].
struct Front {
    width_m: f64,
    depth_m: f64,
    height_m: f64,
    bays: u32,
    storeys: u32,
    opening_share: f64,
    reveal_m: f64,
    courses_m: f64,
    clock_m: f64,
    louvred_storeys: u32,
}

/// A window: its corners in (x, z), anticlockwise as seen from inside, and whether slats close it.
struct Opening {
    corners: [PlanPoint; 4],
    louvred: bool,
}

impl Front {
    fn of(shape: &Shape) -> Option<Self> {
        let Shape::Facade {
            width_m,
            depth_m,
            height_m,
            bays,
            storeys,
            opening_share,
            reveal_m,
            courses_m,
            clock_m,
            louvred_storeys,
        } = *shape
        else {
            return None;
        };
        Some(Self {
            width_m,
            depth_m,
            height_m,
            bays,
            storeys,
            opening_share,
            reveal_m,
            courses_m,
            clock_m,
            louvred_storeys,
        })
    }

    fn storey_m(&self) -> f64 {
        self.height_m / f64::from(self.storeys.max(1))
    }

    /// The middle of the clock's dial in (x, z): in the top storey.
    fn clock_at(&self) -> PlanPoint {
        (0.0, self.height_m - 0.5 * self.storey_m().max(self.clock_m))
    }

    fn openings(&self) -> Vec<Opening> {
        let (bay_m, storey_m) = (self.width_m / f64::from(self.bays.max(1)), self.storey_m());
        let (dx, dz) = (0.5 * bay_m * self.opening_share, 0.5 * storey_m * self.opening_share);
        let mut openings = Vec::new();
        for storey in 0..self.storeys {
            for bay in 0..self.bays {
                let x = -0.5 * self.width_m + bay_m * (f64::from(bay) + 0.5);
                let z = storey_m * (f64::from(storey) + 0.5);
                // No window is behind the clock.
                let (clock_x, clock_z) = self.clock_at();
                let beside = ((x - clock_x).abs() - dx).max(0.0).hypot(((z - clock_z).abs() - dz).max(0.0));
                if self.clock_m > 0.0 && beside < 0.5 * self.clock_m {
                    continue;
                }
                openings.push(Opening {
                    corners: [(x - dx, z - dz), (x + dx, z - dz), (x + dx, z + dz), (x - dx, z + dz)],
                    louvred: storey + self.louvred_storeys >= self.storeys && self.reveal_m >= LOUVRE_DEPTH_M,
                });
            }
        }
        openings
    }
}

/// The skin of a [`Shape::Facade`].
pub(super) fn facade(builder: &mut SolidBuilder<'_>, base_m: f64, shape: &Shape) {
    let Some(building) = &Front::of(shape) else { return };
    let Front { width_m, depth_m, height_m, .. } = *building;
    let (half_width, front) = (0.5 * width_m, 0.5 * depth_m);
    let on = |x: f64, y: f64, z: f64| WorldPoint::new(x, y, z);
    let openings = building.openings();
    // The front looks towards +y: anticlockwise from there runs from +x to −x.
    let outline = [
        on(half_width, front, base_m),
        on(-half_width, front, base_m),
        on(-half_width, front, height_m),
        on(half_width, front, height_m),
    ];
    let holes: Vec<Vec<WorldPoint>> =
        openings.iter().map(|opening| opening.corners.iter().map(|&(x, z)| on(x, front, z)).collect()).collect();
    builder.face(&outline, &holes);
    let back = front - building.reveal_m;
    for Opening { corners, louvred } in &openings {
        for index in 0..4 {
            let (start, end) = (corners[index], corners[(index + 1) % 4]);
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
        let pane: Vec<_> = corners.iter().rev().map(|&(x, z)| on(x, back, z)).collect();
        builder.face(&pane, &[]);
        if *louvred {
            slats(builder, corners, [front, back]);
        }
    }
    let corners = rectangle(width_m, depth_m);
    let [sw, se, ne, nw] = [corners[0], corners[1], corners[2], corners[3]];
    for (start, end) in [(sw, se), (se, ne), (nw, sw)] {
        builder.face(&[at(start, base_m), at(end, base_m), at(end, height_m), at(start, height_m)], &[]);
    }
    builder.face(&[at(sw, height_m), at(se, height_m), at(ne, height_m), at(nw, height_m)], &[]);
    builder.face(&[at(sw, base_m), at(nw, base_m), at(ne, base_m), at(se, base_m)], &[]);
    if building.courses_m > 0.0 {
        courses(builder, building);
    }
    if building.clock_m > 0.0 {
        clock(builder, building);
    }
}

/// A band that stands out at the top of each storey.
fn courses(builder: &mut SolidBuilder<'_>, building: &Front) {
    let (front, half_width) = (0.5 * building.depth_m, 0.5 * building.width_m);
    let out = front + building.courses_m;
    let high_m = COURSE_M.min(0.5 * building.storey_m());
    for storey in 1..=building.storeys {
        let top = building.storey_m() * f64::from(storey);
        let profile = [(front, top - high_m), (out, top - high_m), (out, top), (front, top)];
        bar_across(builder, &profile, [-half_width, half_width]);
    }
}

/// A round dial in front of the top storey.
fn clock(builder: &mut SolidBuilder<'_>, building: &Front) {
    let (front, (x, z)) = (0.5 * building.depth_m, building.clock_at());
    let out = front + DIAL_M;
    // No side of it stands plumb: a corner lies at either hand.
    let rim: Vec<PlanPoint> = (0..CLOCK_SIDES)
        .map(|side| {
            let (sine, cosine) = (TAU * f64::from(side) / f64::from(CLOCK_SIDES)).sin_cos();
            (x + 0.5 * building.clock_m * cosine, z + 0.5 * building.clock_m * sine)
        })
        .collect();
    let on = |y: f64, (x, z): PlanPoint| WorldPoint::new(x, y, z);
    // Seen from +y, x runs to the left: this rim runs clockwise there, and anticlockwise backwards.
    builder.face(&rim.iter().rev().map(|&point| on(out, point)).collect::<Vec<_>>(), &[]);
    builder.face(&rim.iter().map(|&point| on(front, point)).collect::<Vec<_>>(), &[]);
    for (index, &start) in rim.iter().enumerate() {
        let end = rim[(index + 1) % rim.len()];
        builder.face(&[on(out, start), on(out, end), on(front, end), on(front, start)], &[]);
    }
}

/// Slats that shed water outwards, between the front and the pane.
fn slats(builder: &mut SolidBuilder<'_>, corners: &[PlanPoint; 4], [front, back]: [f64; 2]) {
    let (low, high) = (corners[0], corners[2]);
    let count = (((high.1 - low.1) / PITCH_M).floor() as u32).clamp(1, MOST_SLATS);
    let pitch_m = (high.1 - low.1) / f64::from(count);
    // They stop short of the wall and the pane, and of each other.
    let (outer, inner) = (front - 0.005, back + 0.005);
    let fall_m = (0.6 * pitch_m).min(outer - inner);
    let thick_m = SLAT_M.min(0.2 * pitch_m);
    for slat in 0..count {
        let middle = low.1 + pitch_m * (f64::from(slat) + 0.5);
        let (under, over) = (middle - 0.5 * fall_m, middle + 0.5 * fall_m);
        // Cut square, so that nothing at its ends stands plumb.
        let (along, up) = (outer - inner, -fall_m);
        let length = along.hypot(up);
        let across = (-up / length * thick_m, along / length * thick_m);
        let profile = [
            (inner, over),
            (outer, under),
            (outer + across.0.min(0.0), under + across.1),
            (inner + across.0.max(0.0), over + across.1),
        ];
        bar_across(builder, &profile, [low.0 + 0.005, high.0 - 0.005]);
    }
}
