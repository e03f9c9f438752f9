//! Which places can one walk to from here, and how far is it?
//!
//! A net of places about the start, one axis along the line to what is looked at, so that a mirrored or turned site has
//! a mirrored or turned net. One walks from place to place straight or across corners, over open ground and ground that
//! may be asked for, never over closed ground or water. Near decks and steps every step of the feet is tried; elsewhere
//! a stride is free where a line at knee height is.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use crate::pose::{WorldPoint, WorldVector};
use crate::sight::Sight;
use crate::site::{Access, Footing, Model, PlanPoint, Support};

use super::{BODY_M, Feet, KNEE_M};

/// The distance between the net's places: through a passage 2.4 m wide between the bodies' widths one finds a way,
/// however it runs.
pub const SPACING_M: f64 = 1.5;
/// One foot before the other.
const FOOTSTEP_M: f64 = 0.25;
/// The steepest ground that is walked: the rise over the run along the stride, so that steeper slopes may be taken aslant
/// (35°; common practice, no source).
const STEEPEST: f64 = 0.7;
/// What hangs this high over the ground is walked under.
const HEADROOM_M: f64 = 2.2;
/// No place has been walked to.
const NOWHERE: u32 = u32::MAX;

/// A place that can be walked to.
#[derive(Clone, Debug, PartialEq)]
pub struct Reached {
    /// In plan.
    pub at: PlanPoint,
    /// Along the net's axes: to the right, and ahead.
    pub node: (i32, i32),
    /// What one stands on there.
    pub footing: Footing,
    /// How far it is to walk, along the net: up to 8 % more than the shortest way.
    pub walked_m: f64,
}

/// A way on foot.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Walk {
    /// How long it is.
    pub length_m: f64,
    /// Grounds and decks to ask for on the way and there.
    pub ask: Vec<String>,
    /// From its beginning to its end.
    pub path: Vec<PlanPoint>,
}

/// Everywhere one can walk to.
pub struct Reach<'a> {
    model: &'a Model,
    sight: &'a Sight,
    start: Feet,
    ahead: (f64, f64),
    half: i32,
    places: Vec<Option<Reached>>,
    from: Vec<u32>,
    /// Reached nodes, nearest first.
    order: Vec<u32>,
}

impl std::fmt::Debug for Reach<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Reach").field("reached", &self.order.len()).finish_non_exhaustive()
    }
}

/// What stands about a place of the net.
#[derive(Clone, Copy, Default)]
struct Surroundings {
    wall: bool,
    deck: bool,
}

impl<'a> Reach<'a> {
    /// Walks everywhere from `start` that is at most so far to walk; `ahead` is the plan direction of the net's axis.
    pub fn from(model: &'a Model, sight: &'a Sight, start: &Feet, ahead: (f64, f64), farthest_m: f64) -> Self {
        let half = (farthest_m / SPACING_M).floor().clamp(1.0, 2000.0) as i32;
        let side = (2 * half + 1) as usize;
        let length = ahead.0.hypot(ahead.1).max(1e-12);
        let mut reach = Self {
            model,
            sight,
            start: start.clone(),
            ahead: (ahead.0 / length, ahead.1 / length),
            half,
            places: vec![None; side * side],
            from: vec![NOWHERE; side * side],
            order: Vec::new(),
        };
        let beside = reach.surroundings();
        reach.walk(&beside, farthest_m);
        reach
    }

    /// The places that can be walked to, nearest first; the first is the start.
    pub fn places(&self) -> impl Iterator<Item = &Reached> + '_ {
        self.order.iter().filter_map(|&index| self.places[index as usize].as_ref())
    }

    /// The place at a node, if it can be walked to.
    pub fn at_node(&self, node: (i32, i32)) -> Option<&Reached> {
        let index = self.index(node)?;
        (index == self.middle() || self.from[index] != NOWHERE).then(|| self.places[index].as_ref()).flatten()
    }

    /// The way to a place that was reached. Where the straight line can be walked it is the way.
    pub fn way_to(&self, place: &Reached) -> Walk {
        let mut names = Vec::new();
        let mut add = |footing: &Footing| {
            if footing.access == Access::Ask {
                let name = footing.name.clone().unwrap_or_else(|| "the ground".into());
                if !names.contains(&name) {
                    names.push(name);
                }
            }
        };
        if let Some(straight) = self.straight_to(place) {
            straight.iter().for_each(&mut add);
            let (east, north) = (place.at.0 - self.start.at.0, place.at.1 - self.start.at.1);
            return Walk { length_m: east.hypot(north), ask: names, path: vec![self.start.at, place.at] };
        }
        let mut index = self.index(place.node).map_or(NOWHERE, |index| index as u32);
        let mut way = Vec::new();
        while let Some(Some(step)) = self.places.get(index as usize) {
            way.push(step);
            index = self.from[index as usize];
        }
        way.reverse();
        way.iter().for_each(|step| add(&step.footing));
        Walk { length_m: place.walked_m, ask: names, path: way.into_iter().map(|step| step.at).collect() }
    }

    /// What the feet stand on along the straight line to a place, where that can be walked.
    fn straight_to(&self, place: &Reached) -> Option<Vec<Footing>> {
        let (east, north) = (place.at.0 - self.start.at.0, place.at.1 - self.start.at.1);
        let strides = (east.hypot(north) / 0.5).ceil().max(1.0);
        let step = (east / strides, north / strides);
        let mut feet = self.start.clone();
        let mut passed = vec![feet.footing.clone()];
        for _ in 0..strides as usize {
            feet = feet.step(self.model, self.sight, step).ok().filter(|feet| may_stand(&feet.footing))?;
            if passed.last().is_none_or(|last| last.name != feet.footing.name) {
                passed.push(feet.footing.clone());
            }
        }
        ((feet.footing.height_m - place.footing.height_m).abs() < 0.2).then_some(passed)
    }

    fn side(&self) -> i32 {
        2 * self.half + 1
    }

    fn middle(&self) -> usize {
        (self.half * self.side() + self.half) as usize
    }

    fn index(&self, (right, ahead): (i32, i32)) -> Option<usize> {
        (right.abs() <= self.half && ahead.abs() <= self.half)
            .then(|| ((ahead + self.half) * self.side() + right + self.half) as usize)
    }

    fn plan(&self, (right, ahead): (i32, i32)) -> PlanPoint {
        let (right_m, ahead_m) = (SPACING_M * f64::from(right), SPACING_M * f64::from(ahead));
        (
            self.start.at.0 + right_m * self.ahead.1 + ahead_m * self.ahead.0,
            self.start.at.1 - right_m * self.ahead.0 + ahead_m * self.ahead.1,
        )
    }

    /// Marks the net's places from which a stride may meet something upright, or a deck.
    fn surroundings(&self) -> Vec<Surroundings> {
        let mut beside = vec![Surroundings::default(); self.places.len()];
        let margin_m = BODY_M + 1.5 * SPACING_M;
        let mut mark = |corners: &mut dyn Iterator<Item = PlanPoint>, set: &dyn Fn(&mut Surroundings)| {
            let (mut low, mut high) = ((f64::INFINITY, f64::INFINITY), (f64::NEG_INFINITY, f64::NEG_INFINITY));
            for (x, y) in corners {
                let (east, north) = (x - self.start.at.0, y - self.start.at.1);
                let right_m = east * self.ahead.1 - north * self.ahead.0;
                let ahead_m = east * self.ahead.0 + north * self.ahead.1;
                low = (low.0.min(right_m), low.1.min(ahead_m));
                high = (high.0.max(right_m), high.1.max(ahead_m));
            }
            let limit = f64::from(self.half);
            let first = |m: f64| ((m - margin_m) / SPACING_M).ceil().clamp(-limit, limit + 1.0) as i32;
            let last = |m: f64| ((m + margin_m) / SPACING_M).floor().clamp(-limit - 1.0, limit) as i32;
            for ahead in first(low.1)..=last(high.1) {
                for right in first(low.0)..=last(high.0) {
                    if let Some(index) = self.index((right, ahead)) {
                        set(&mut beside[index]);
                    }
                }
            }
        };
        for solid in &self.model.solids {
            for triangle in &solid.triangles {
                let corners = solid.corners(triangle);
                let low_m = corners.iter().fold(f64::INFINITY, |low, corner| low.min(corner.z));
                let high_m = corners.iter().fold(f64::NEG_INFINITY, |high, corner| high.max(corner.z));
                let middle = (corners[0].coords + corners[1].coords + corners[2].coords) / 3.0;
                let ground_m = self.model.site.terrain.height_m((middle.x, middle.y));
                if high_m - low_m > 0.1 && low_m < ground_m + HEADROOM_M {
                    mark(&mut corners.iter().map(|corner| (corner.x, corner.y)), &|beside| beside.wall = true);
                }
            }
        }
        for deck in self.model.decks.iter().filter(|deck| !deck.open_below) {
            mark(&mut deck.outline.iter().copied(), &|beside| beside.deck = true);
        }
        beside
    }

    /// The shortest ways along the net (E. W. Dijkstra, *A note on two problems in connexion with graphs*, 1959, from
    /// memory).
    fn walk(&mut self, beside: &[Surroundings], farthest_m: f64) {
        let middle = self.middle();
        self.places[middle] =
            Some(Reached { at: self.start.at, node: (0, 0), footing: self.start.footing.clone(), walked_m: 0.0 });
        let mut done = vec![false; self.places.len()];
        let mut barred = vec![false; self.places.len()];
        // Distances are at least 0, where the bits of a number are in its own order.
        let mut waiting = BinaryHeap::from([Reverse((0.0_f64.to_bits(), middle as u32))]);
        while let Some(Reverse((_, index))) = waiting.pop() {
            let index = index as usize;
            if std::mem::replace(&mut done[index], true) {
                continue;
            }
            let Some(here) = self.places[index].clone() else { continue };
            self.order.push(index as u32);
            for (right, ahead) in [(1, 0), (0, 1), (-1, 0), (0, -1), (1, 1), (-1, 1), (-1, -1), (1, -1)] {
                let node = (here.node.0 + right, here.node.1 + ahead);
                let Some(next) = self.index(node).filter(|&next| !done[next] && !barred[next]) else { continue };
                let stride_m = SPACING_M * f64::from(right).hypot(f64::from(ahead));
                let walked_m = here.walked_m + stride_m;
                let known = self.from[next] != NOWHERE;
                if walked_m > farthest_m
                    || known && self.places[next].as_ref().is_some_and(|known| known.walked_m <= walked_m)
                {
                    continue;
                }
                if self.places[next].is_none() {
                    match self.place(node, beside[next]) {
                        Some(place) => self.places[next] = Some(place),
                        None => {
                            barred[next] = true;
                            continue;
                        }
                    }
                }
                let Some(there) = &self.places[next] else { continue };
                if self.links(&here, there, stride_m, beside[index], beside[next]) {
                    if let Some(place) = &mut self.places[next] {
                        place.walked_m = walked_m;
                    }
                    self.from[next] = index as u32;
                    waiting.push(Reverse((walked_m.to_bits(), next as u32)));
                }
            }
        }
    }

    /// The place at a node, where one may stand there at all.
    fn place(&self, node: (i32, i32), beside: Surroundings) -> Option<Reached> {
        let at = self.plan(node);
        let footing = self.model.footing(at, (!beside.deck).then_some("ground")).ok()?;
        let knee = WorldPoint::new(at.0, at.1, footing.height_m + KNEE_M);
        let stands = may_stand(&footing) && !(beside.wall && self.model.block_around(&knee).is_some());
        stands.then_some(Reached { at, node, footing, walked_m: f64::INFINITY })
    }

    /// Whether one can walk from a place to the next.
    fn links(
        &self,
        here: &Reached,
        there: &Reached,
        stride_m: f64,
        beside: Surroundings,
        beside_next: Surroundings,
    ) -> bool {
        let on_ground = |place: &Reached| !matches!(place.footing.support, Support::Deck(_));
        let rise_m = there.footing.height_m - here.footing.height_m;
        if on_ground(here) && on_ground(there) {
            if rise_m.abs() > STEEPEST * stride_m {
                return false;
            }
            if !beside.wall && !beside_next.wall {
                return true;
            }
            let knee = |place: &Reached| WorldPoint::new(place.at.0, place.at.1, place.footing.height_m + KNEE_M);
            let span: WorldVector = knee(there) - knee(here);
            return self.sight.is_free(&knee(here), &(knee(here) + span * ((stride_m + BODY_M) / stride_m)));
        }
        let steps = (stride_m / FOOTSTEP_M).ceil();
        let step = ((there.at.0 - here.at.0) / steps, (there.at.1 - here.at.1) / steps);
        let on = if on_ground(here) { None } else { here.footing.name.as_deref() };
        let mut feet = Feet::of(here.at, on, &here.footing);
        for _ in 0..steps as usize {
            match feet.step(self.model, self.sight, step) {
                Ok(next) => feet = next,
                Err(_) => return false,
            }
        }
        (feet.footing.height_m - there.footing.height_m).abs() < 1e-6
    }
}

/// Whether one may stand there: neither closed nor water.
pub fn may_stand(footing: &Footing) -> bool {
    footing.may_be_stood_on()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reached(site: &str, from: PlanPoint, farthest_m: f64) -> Vec<(Reached, f64, Vec<String>)> {
        let text = format!("(format: 1, name: \"t\", {site})");
        let model = Model::build(crate::files::ron_options().from_str(&text).expect("a site"));
        let sight = Sight::over(&model);
        let feet = Feet::of(from, None, &model.footing(from, None).expect("somewhere"));
        let reach = Reach::from(&model, &sight, &feet, (0.3, 1.0), farthest_m);
        reach
            .places()
            .map(|place| {
                let Walk { length_m: walk_m, ask, .. } = reach.way_to(place);
                (place.clone(), walk_m, ask)
            })
            .collect()
    }

    fn nearest(places: &[(Reached, f64, Vec<String>)], at: PlanPoint) -> Option<&(Reached, f64, Vec<String>)> {
        let far = |place: &Reached| (place.at.0 - at.0).hypot(place.at.1 - at.1);
        places.iter().filter(|(place, ..)| far(place) < SPACING_M).min_by(|a, b| far(&a.0).total_cmp(&far(&b.0)))
    }

    #[test]
    fn open_ground_is_a_disc_and_the_straight_line_is_the_way() {
        let places = reached("blocks: []", (0.0, 0.0), 30.0);
        for (place, walk_m, ask) in &places {
            let straight_m = place.at.0.hypot(place.at.1);
            assert!((walk_m - straight_m).abs() < 1e-9 && ask.is_empty());
            assert!(place.walked_m <= 1.09 * straight_m + 1e-9);
        }
        let disc = std::f64::consts::PI * 30.0 * 30.0 / (SPACING_M * SPACING_M);
        assert!((0.85..1.02).contains(&(places.len() as f64 / disc)), "{} of {disc}", places.len());
    }

    #[test]
    fn one_walks_around_a_wall_and_through_a_gap_but_into_no_court() {
        let wall = "blocks: [(name: \"w\", at: (0, 0), shape: Wall(path: [(-20, 10), (20, 10)], thickness_m: 0.4, height_m: 2))]";
        let places = reached(wall, (0.0, 0.0), 70.0);
        let (_, walk_m, _) = nearest(&places, (0.0, 20.0)).expect("behind it");
        let around_m = 20.2_f64.hypot(10.0) * 2.0;
        assert!((around_m..1.12 * around_m).contains(walk_m), "{walk_m} for {around_m}");
        let gap = wall.replace("(-20, 10), (20, 10)", "(2, 10), (20, 10)").replace(
            "height_m: 2))]",
            "height_m: 2)), (name: \"v\", at: (0, 0), shape: Wall(path: [(-20, 10), (-1, 10)], thickness_m: 0.4, height_m: 2))]",
        );
        let (_, walk_m, _) = nearest(&reached(&gap, (0.0, 0.0), 70.0), (0.0, 20.0)).cloned().expect("through it");
        assert!(walk_m < 23.0, "{walk_m}");
        let court = "blocks: [(name: \"w\", at: (0, 0), shape: Wall(path: [(-8, 10), (8, 10), (8, 26), (-8, 26), (-8, 10)], thickness_m: 0.4, height_m: 2))]";
        let places = reached(court, (0.0, 0.0), 70.0);
        assert!(nearest(&places, (0.0, 18.0)).is_none() && nearest(&places, (0.0, 30.0)).is_some());
    }

    #[test]
    fn closed_ground_and_water_are_walked_around_and_whose_leave_it_takes_is_told() {
        let grounds = "grounds: [(name: \"range\", access: Closed, outline: [(-15, 10), (15, 10), (15, 20), (-15, 20)]), \
                       (name: \"orchard\", access: Ask, outline: [(-50, 20), (50, 20), (50, 40), (-50, 40)])]";
        let places = reached(grounds, (0.0, 0.0), 80.0);
        assert!(nearest(&places, (0.0, 15.0)).is_none());
        let (_, walk_m, ask) = nearest(&places, (0.0, 30.0)).expect("beyond it");
        assert!(*walk_m > 36.0 && ask == &["orchard"], "{walk_m} {ask:?}");
        let lake = "water_level_m: 0, terrain: Grid((south_west: (-90, -90), spacing_m: (90, 90), rows: [[-9, -9, -9], [1, 1, 1], [1, 1, 1]]))";
        let places = reached(lake, (0.0, -10.0), 60.0);
        assert!(places.iter().all(|(place, ..)| place.at.1 < 9.1));
    }

    #[test]
    fn stairs_lead_up_to_a_deck_and_a_bare_deck_is_left_alone() {
        let stage = "(name: \"stage\", at: (9, 0), shape: Box(width_m: 8, depth_m: 4, height_m: 2.7), deck: ())";
        let steps = "(name: \"steps\", at: (2.9, 0), heading_deg: 90, shape: Steps(width_m: 1.4, going_m: 0.28, rise_m: 0.18, count: 15))";
        let up = reached(&format!("blocks: [{stage}, {steps}]"), (-6.0, 0.4), 40.0);
        assert!(up.iter().any(|(place, ..)| place.footing.height_m == 2.7));
        let bare = reached(&format!("blocks: [{stage}]"), (-6.0, 0.4), 40.0);
        assert!(bare.iter().all(|(place, ..)| place.footing.height_m == 0.0));
    }

    #[test]
    fn a_slope_is_walked_and_a_cliff_is_not() {
        let hill = |high_m: f64| {
            format!(
                "terrain: Grid((south_west: (-90, -90), spacing_m: (10, 10), rows: [{}]))",
                (0..19)
                    .map(|row| format!("[{}]", vec![if row < 8 { high_m } else { 0.0 }.to_string(); 19].join(", ")))
                    .collect::<Vec<_>>()
                    .join(", ")
            )
        };
        let above = |high_m: f64| reached(&hill(high_m), (0.0, 0.0), 60.0).iter().any(|(place, ..)| place.at.1 > 25.0);
        assert!(above(6.0) && !above(40.0));
    }
}
