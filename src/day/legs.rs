//! How far is it on foot from stance to stance, and whom does one ask on the way?

use crate::sight::Sight;
use crate::site::{Model, PlanPoint};
use crate::walking::{Feet, Reach, Reached, SPACING_M, Walk};

/// The farthest that ways are looked for: so many times the straight line and so many metres more.
const DETOUR: f64 = 1.6;
const DETOUR_M: f64 = 40.0;
/// A place of the net this near in height is the stance's own.
const SAME_HEIGHT_M: f64 = 0.7;

/// The way from one place to another.
#[derive(Clone, Debug, PartialEq)]
pub struct Leg {
    /// How long it is, in metres; the straight line where no way was found.
    pub length_m: f64,
    /// Grounds and decks to ask for on the way.
    pub ask: Vec<String>,
    /// Whether a way over open ground was found.
    pub found: bool,
    /// From one place to the other.
    pub path: Vec<PlanPoint>,
}

/// Somewhere that one stands, or hovers.
#[derive(Clone, Debug)]
pub(super) struct Place {
    pub(super) at: PlanPoint,
    /// What carries the feet; nothing carries a drone.
    pub(super) feet: Option<Feet>,
}

impl Leg {
    fn straight(from: PlanPoint, to: PlanPoint) -> Self {
        Self { length_m: (from.0 - to.0).hypot(from.1 - to.1), ask: Vec::new(), found: false, path: vec![from, to] }
    }
}

/// The ways from each place to each other.
pub(super) fn legs(model: &Model, sight: &Sight, places: &[Place]) -> Vec<Vec<Leg>> {
    let there: Vec<Vec<Leg>> = places.iter().map(|from| ways_from(model, sight, from, places)).collect();
    // Where one gets down and not up, or the net misses a passage from one end, the way back is the way there.
    let either = |from: usize, to: usize| {
        let (way, back) = (&there[from][to], &there[to][from]);
        if way.found || !back.found {
            return way.clone();
        }
        Leg { path: back.path.iter().rev().copied().collect(), ..back.clone() }
    };
    (0..places.len()).map(|from| (0..places.len()).map(|to| either(from, to)).collect()).collect()
}

fn ways_from(model: &Model, sight: &Sight, from: &Place, places: &[Place]) -> Vec<Leg> {
    let Some(feet) = &from.feet else {
        return places.iter().map(|to| Leg::straight(from.at, to.at)).collect();
    };
    let straight_m = places.iter().map(|to| Leg::straight(from.at, to.at).length_m).fold(0.0, f64::max);
    let reach = Reach::from(model, sight, feet, (0.0, 1.0), DETOUR * straight_m + DETOUR_M);
    let reached: Vec<&Reached> = reach.places().collect();
    let way = |to: &Place| {
        let straight = Leg::straight(from.at, to.at);
        if straight.length_m == 0.0 {
            return Leg { found: true, ..straight };
        }
        let Some(there) = &to.feet else { return straight };
        let off_m = |place: &Reached| (place.at.0 - to.at.0).hypot(place.at.1 - to.at.1);
        let near = reached
            .iter()
            .filter(|place| (place.footing.height_m - there.footing.height_m).abs() < SAME_HEIGHT_M)
            .filter(|place| off_m(place) <= SPACING_M)
            .min_by(|a, b| off_m(a).total_cmp(&off_m(b)));
        near.map_or(straight, |place| {
            let Walk { length_m, ask, mut path } = reach.way_to(place);
            path.push(to.at);
            Leg { length_m: length_m + off_m(place), ask, found: true, path }
        })
    };
    places.iter().map(way).collect()
}
