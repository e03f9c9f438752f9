//! What stands about the subject, who may stand where, and from where is it taken first?
//!
//! Every side is a quarter of the land, cut off at the corners of the subject; of a façade, the front is the whole street. On the
//! side on which one stands nothing is put; elsewhere a closed side has a row of houses, one where permission is needed a house
//! and a tree, an open one a tree. None of them reaches over into another quarter, so none stands between the stances and the
//! subject.

use crate::site::{Access, PlanPoint};

use super::answers::{NewKind, NewSite, Side};
use super::draft::{Draft, Drawn, Turn, number, quoted, sized};
use super::subjects::{Extent, facade_depth_m, usual_bays};

/// How far out grounds reach: farther than a search looks unless it is told to.
const REACH_M: (f64, f64) = (600.0, 3400.0);
/// How far aside of the first stance the one at an angle stands.
const ASIDE_DEG: f64 = 32.0;
/// The camera of somebody on a short ladder (common practice, no source).
const LADDER_M: f64 = 3.0;

/// A piece of a side's own plan: its place to the right and outward as one faces the subject from that side.
struct Quarter {
    side: Side,
    /// Half the width of the subject's plot, and how far out its edge is, from this side.
    half_m: f64,
    edge_m: f64,
}

impl Quarter {
    fn of(side: Side, extent: &Extent) -> Self {
        let (half_m, edge_m) = match side {
            Side::Front => (extent.right_m.max(extent.left_m), extent.front_m),
            Side::Behind => (extent.right_m.max(extent.left_m), extent.back_m),
            Side::Right => (extent.front_m.max(extent.back_m), extent.right_m),
            Side::Left => (extent.front_m.max(extent.back_m), extent.left_m),
        };
        Self { side, half_m, edge_m }
    }

    /// A place along the side, to the right of whoever faces the subject from it, and outward: to the right and to the front.
    fn place(&self, along_m: f64, out_m: f64) -> PlanPoint {
        let turn = self.side.turn_deg().to_radians();
        let (sine, cosine) = turn.sin_cos();
        // At the front outward is ahead, and along is right; turned clockwise with the side.
        let right_m = along_m * cosine - out_m * sine;
        let ahead_m = out_m * cosine + along_m * sine;
        (tidy(right_m), tidy(ahead_m))
    }
}

fn tidy(metres: f64) -> f64 {
    (metres * 1e6).round() / 1e6
}

/// Writes houses, trees and the like.
pub(super) fn neighbours(new: &NewSite, extent: &Extent, draft: &mut Draft) {
    if new.kind == NewKind::Facade {
        street(new, extent, draft);
        return;
    }
    let stand = new.open.to_stand_on();
    draft.comment("Guess: what stands about it. The side of the stances is left free.");
    for side in Side::ALL.into_iter().filter(|side| Some(*side) != stand) {
        let quarter = Quarter::of(side, extent);
        match (new.open.of(side), new.kind) {
            (Access::Open, _) => tree(draft, &quarter, &format!("tree {}", beside(side)), 0.0, 14.0),
            (Access::Ask, NewKind::Chimney) => {
                building(draft, &quarter, &format!("boiler house {}", beside(side)), (0.0, 11.0), BOILER_HOUSE);
            }
            (Access::Ask, NewKind::Mast) => {
                building(draft, &quarter, &format!("hut {}", beside(side)), (0.0, 6.0), HUT);
                tree(draft, &quarter, &format!("tree {}", beside(side)), 9.0, 22.0);
            }
            (Access::Ask, NewKind::Tower | NewKind::BellTower | NewKind::Facade | NewKind::Church) => {
                building(draft, &quarter, &format!("house {}", beside(side)), (0.0, 15.0), HOUSE);
                tree(draft, &quarter, &format!("tree {}", beside(side)), 9.0, 12.0);
            }
            (Access::Closed, NewKind::Chimney) => {
                building(draft, &quarter, &format!("long shed {}", beside(side)), (-3.0, 17.0), SHED);
                building(draft, &quarter, &format!("store {}", beside(side)), (13.0, 20.0), STORE);
            }
            (Access::Closed, NewKind::Mast) => {
                for (number, along_m) in [-14.0, -3.0, 10.0].into_iter().enumerate() {
                    let name = format!("tree {}, {}", beside(side), number + 1);
                    tree(draft, &quarter, &name, along_m, 24.0 + 3.0 * number as f64);
                }
            }
            (Access::Closed, NewKind::Tower | NewKind::BellTower | NewKind::Facade | NewKind::Church) => {
                for (number, (along_m, house)) in
                    [(-9.0, HOUSE), (0.0, LOW_HOUSE), (9.0, HOUSE)].into_iter().enumerate()
                {
                    let name = format!("house {}, {}", beside(side), number + 1);
                    building(draft, &quarter, &name, (along_m, 16.0), house);
                }
            }
        }
    }
}

/// A gabled building: along its side, outward, to its eaves and to its ridge.
#[derive(Clone, Copy)]
struct Gabled(f64, f64, f64, f64);

const HOUSE: Gabled = Gabled(9.0, 8.0, 5.6, 8.8);
const LOW_HOUSE: Gabled = Gabled(9.0, 8.0, 4.8, 7.6);
const BOILER_HOUSE: Gabled = Gabled(12.0, 9.0, 5.0, 8.0);
const SHED: Gabled = Gabled(24.0, 10.0, 4.5, 7.4);
const STORE: Gabled = Gabled(8.0, 8.0, 3.4, 5.2);
const HUT: Gabled = Gabled(4.0, 3.0, 2.4, 3.4);

/// A gabled building with its ridge along its side, so far beyond the edge of the plot.
fn building(draft: &mut Draft, quarter: &Quarter, name: &str, (along_m, beyond_m): (f64, f64), size: Gabled) {
    let Gabled(width_m, depth_m, eaves_m, ridge_m) = size;
    draft.block(Drawn {
        name: name.into(),
        at: quarter.place(along_m, sized(quarter.edge_m + beyond_m)),
        turn: Turn::Along(quarter.side.turn_deg()),
        shape: format!(
            "Gable(width_m: {}, depth_m: {}, eaves_m: {}, ridge_m: {})",
            number(width_m),
            number(depth_m),
            number(eaves_m),
            number(ridge_m)
        ),
        ..Drawn::default()
    });
}

fn tree(draft: &mut Draft, quarter: &Quarter, name: &str, along_m: f64, beyond_m: f64) {
    draft.block(Drawn {
        name: name.into(),
        at: quarter.place(along_m, sized(quarter.edge_m + beyond_m)),
        finish: "Leaf",
        shape: "Tree(height_m: 7.5, crown_radius_m: 2.4, crown_base_m: 2.2, trunk_radius_m: 0.2)".into(),
        ..Drawn::default()
    });
}

/// A side in a name.
const fn beside(side: Side) -> &'static str {
    match side {
        Side::Front => "in front",
        Side::Right => "on the right",
        Side::Behind => "behind",
        Side::Left => "on the left",
    }
}

/// The neighbours of a house front, and the houses across its street, with a lane between them.
fn street(new: &NewSite, extent: &Extent, draft: &mut Draft) {
    let (width_m, height_m, depth_m) = (new.base_m, new.height_m, facade_depth_m(new.base_m));
    let house = |draft: &mut Draft, name: &str, at: PlanPoint, turn_deg: f64, size: (f64, f64, f64)| {
        let (width_m, depth_m, height_m) = (sized(size.0), size.1, sized(size.2));
        let (bays, storeys) = (usual_bays(width_m), new.kind.usual_storeys(height_m));
        draft.block(Drawn {
            name: name.into(),
            at,
            turn: Turn::Toward(turn_deg),
            shape: format!(
                "Facade(width_m: {}, depth_m: {}, height_m: {}, bays: {bays}, storeys: {storeys}, opening_share: 0.44, \
                 reveal_m: {})",
                number(width_m),
                number(depth_m),
                number(height_m),
                number(sized((0.02 * width_m).clamp(0.01, 0.2)))
            ),
            ..Drawn::default()
        });
    };
    draft.comment("Guess: the neighbours, lower than it and wall to wall with it.");
    for (name, side, wide, tall) in [
        ("left neighbour", -1.0, 0.9, 0.76),
        ("right neighbour", 1.0, 0.75, 0.66),
        ("far left neighbour", -1.0, 0.8, 0.6),
    ] {
        let own_m = sized(wide * width_m);
        let beyond_m = if name.starts_with("far") { sized(0.9 * width_m) } else { 0.0 };
        let right_m = side * (0.5 * width_m + beyond_m + 0.5 * own_m);
        house(draft, name, (right_m, 0.0), 0.0, (own_m, depth_m, tall * height_m));
    }
    let across_m = sized(extent.front_m + street_m(new) + 2.0 + 0.5 * depth_m);
    draft.comment("Guess: the houses across the street, with a lane between them right opposite.");
    for (name, side, tall) in [("house opposite, left", -1.0, 0.5), ("house opposite, right", 1.0, 0.58)] {
        let right_m = side * (0.5 * sized(width_m) + 2.5);
        house(draft, name, (right_m, across_m), 180.0, (width_m, depth_m, tall * height_m));
    }
}

/// How far the first stance is from the front: one and a half heights, or what it takes for a wide subject to fit; of a house
/// front what the street allows, which is three quarters of its height (guessed).
fn street_m(new: &NewSite) -> f64 {
    let far_m = match new.kind {
        NewKind::Facade => (0.75 * new.height_m).max(0.8 * new.base_m),
        NewKind::Tower | NewKind::Chimney | NewKind::Mast | NewKind::BellTower | NewKind::Church => {
            (1.5 * new.height_m).max(1.3 * new.base_m)
        }
    };
    (far_m.max(4.0) * 10.0).round() / 10.0
}

/// Writes who may stand where.
pub(super) fn grounds(new: &NewSite, extent: &Extent, draft: &mut Draft) {
    let reach_m = (4.0 * new.height_m).clamp(REACH_M.0, REACH_M.1).round();
    let (right_m, left_m) = (sized(extent.right_m), sized(extent.left_m));
    let (front_m, back_m) = (sized(extent.front_m), sized(extent.back_m));
    let street = new.kind == NewKind::Facade;
    // Of a house front the street is all that lies before its row.
    let front_corner = |right: f64| (right * reach_m, if street { front_m } else { reach_m });
    let corners = |side: Side| -> Vec<PlanPoint> {
        match side {
            Side::Front if street => {
                vec![(-reach_m, front_m), (reach_m, front_m), (reach_m, reach_m), (-reach_m, reach_m)]
            }
            Side::Front => vec![(-left_m, front_m), (right_m, front_m), (reach_m, reach_m), (-reach_m, reach_m)],
            Side::Right => vec![(right_m, front_m), (right_m, -back_m), (reach_m, -reach_m), front_corner(1.0)],
            Side::Left => vec![(-left_m, front_m), (-left_m, -back_m), (-reach_m, -reach_m), front_corner(-1.0)],
            Side::Behind => vec![(-left_m, -back_m), (right_m, -back_m), (reach_m, -reach_m), (-reach_m, -reach_m)],
        }
    };
    for side in [Side::Front, Side::Right, Side::Behind, Side::Left] {
        let outline: Vec<String> = corners(side).into_iter().map(|corner| draft.place(corner)).collect();
        draft.entry(&[
            format!("name: {}", quoted(ground_name(new.kind, side))),
            format!("access: {}", access_word(new.open.of(side))),
            format!("outline: [{}]", outline.join(", ")),
        ]);
    }
}

const fn ground_name(kind: NewKind, side: Side) -> &'static str {
    match (side, kind) {
        (Side::Front, NewKind::Facade) => "the street",
        (Side::Front, NewKind::Tower | NewKind::BellTower | NewKind::Church) => "the square in front",
        (Side::Front, NewKind::Chimney) => "the yard in front",
        (Side::Front, NewKind::Mast) => "the field in front",
        (Side::Right, _) => "the ground on the right",
        (Side::Behind, _) => "the ground behind",
        (Side::Left, _) => "the ground on the left",
    }
}

const fn access_word(access: Access) -> &'static str {
    match access {
        Access::Open => "Open",
        Access::Ask => "Ask",
        Access::Closed => "Closed",
    }
}

/// Writes the stances: before the subject, the same from a ladder, and farther back at an angle.
pub(super) fn stances(new: &NewSite, extent: &Extent, draft: &mut Draft) {
    let Some(side) = new.open.to_stand_on() else { return };
    let quarter = Quarter::of(side, extent);
    let street = new.kind == NewKind::Facade;
    let far_m = street_m(new);
    let out_m = sized(quarter.edge_m + far_m.max(1.3 * 2.0 * quarter.half_m * f64::from(side != Side::Front)));
    let (first, lens, angled) = if street {
        // Along the street, not deeper into the houses across it.
        let right_m = sized(out_m * 40_f64.to_radians().tan());
        ("across the street", "16-35 mm", quarter.place(right_m, out_m))
    } else {
        let back_m = 1.7 * out_m;
        let (sine, cosine) = ASIDE_DEG.to_radians().sin_cos();
        (first_name(side), "24-70 mm", quarter.place(sized(back_m * sine), sized(back_m * cosine)))
    };
    let asked = if new.open.of(side) == Access::Ask { "; permission needed" } else { "" };
    let at = draft.place(quarter.place(0.0, out_m));
    let heights = far_m / new.height_m;
    let stance = |name: &str, at: &str, more: &str, note: String| {
        let mut fields = vec![format!("name: {}", quoted(name)), format!("at: {at}")];
        if !more.is_empty() {
            fields.push(more.to_owned());
        }
        fields.push(format!("lens: {}", quoted(lens)));
        fields.push("aim: Fill".into());
        fields.push(format!("note: {}", quoted(&format!("{note}{asked}"))));
        fields
    };
    draft.entry(&stance(first, &at, "", format!("{heights:.1} times its height away")));
    let ladder = format!("height_m: {}", number(LADDER_M));
    draft.entry(&stance("from a ladder", &at, &ladder, "the same place from a short ladder".into()));
    let angled = draft.place(angled);
    let (name, note) = if street {
        ("along the street", "at an angle: the horizontals converge")
    } else {
        ("farther back, at an angle", "two sides are seen")
    };
    draft.entry(&stance(name, &angled, "", note.into()));
}

const fn first_name(side: Side) -> &'static str {
    match side {
        Side::Front => "in front",
        Side::Right => "from the right",
        Side::Behind => "from behind",
        Side::Left => "from the left",
    }
}
