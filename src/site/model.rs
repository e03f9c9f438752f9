//! What does the site amount to, as solids in the world, and what do the feet stand on?

use std::sync::{Arc, OnceLock};

use nalgebra::{Rotation3, Unit};
use rayon::prelude::*;
use thiserror::Error;

use crate::pose::{WorldPoint, WorldVector};

use super::block_index::BlockIndex;
use super::build::{add_shape, footprint, level_tops};
use super::solid::SolidBuilder;
use super::{Access, Block, Edge, PlanPoint, Shape, Site, Solid, outline_holds};

/// How deep walls are carried into level ground, so that no light falls under them.
const BURIED_M: f64 = 0.05;

/// A site with its solids.
#[derive(Clone, Debug)]
pub struct Model {
    /// The site it was made from.
    pub site: Site,
    /// One solid for each block, in the same order. Models of nearly the same site share those that are alike.
    pub solids: Vec<Arc<Solid>>,
    /// Every surface above the ground that can be stood on.
    pub decks: Vec<DeckTop>,
    /// Made when it is first asked for.
    index: OnceLock<BlockIndex>,
}

/// A surface above the ground that can be stood on.
#[derive(Clone, Debug, PartialEq)]
pub struct DeckTop {
    /// Which block it belongs to.
    pub block: usize,
    /// Its corners in plan.
    pub outline: Vec<PlanPoint>,
    /// The corners of its holes.
    pub holes: Vec<Vec<PlanPoint>>,
    /// Its height.
    pub height_m: f64,
    /// Whether one can also stand beneath it.
    pub open_below: bool,
    /// Whether one may stand there.
    pub access: Access,
    /// What to beware of up there.
    pub caution: Option<String>,
}

/// What the feet stand on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Support {
    /// The bare ground.
    Ground,
    /// Water; its surface, not its bed.
    Water,
    /// A deck of [`Model::decks`].
    Deck(usize),
}

/// Where the feet are.
#[derive(Clone, Debug, PartialEq)]
pub struct Footing {
    /// What they stand on.
    pub support: Support,
    /// Its height.
    pub height_m: f64,
    /// Whether one may stand there.
    pub access: Access,
    /// The name of the deck or ground, if it has one.
    pub name: Option<String>,
}

impl Footing {
    /// Whether one may stand there: neither closed nor water.
    pub fn may_be_stood_on(&self) -> bool {
        self.access != Access::Closed && self.support != Support::Water
    }
}

/// There is nothing to stand on.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum FootingError {
    /// The named block does not exist or has no deck.
    #[error("nothing called '{name}' can be stood on; there are {known}")]
    NoSuchDeck {
        /// What was asked for.
        name: String,
        /// What there is.
        known: String,
    },
    /// The place is not on the named deck.
    #[error(
        "{east:.2}, {north:.2} is not on '{name}', which reaches from {west:.2}, {south:.2} to {east_end:.2}, {north_end:.2}"
    )]
    BesideDeck {
        /// Which deck.
        name: String,
        /// The place.
        east: f64,
        /// The place.
        north: f64,
        /// The deck's bounds.
        west: f64,
        /// The deck's bounds.
        south: f64,
        /// The deck's bounds.
        east_end: f64,
        /// The deck's bounds.
        north_end: f64,
    },
}

impl Model {
    /// Builds the solids of a checked site.
    pub fn build(site: Site) -> Self {
        let made: Vec<MadeBlock> =
            site.blocks.par_iter().enumerate().map(|(index, block)| MadeBlock::of(block, index, &site)).collect();
        Self::of_blocks(site, made)
    }

    /// Builds the solids of a checked site that differs little from this model's: what is alike is shared, not built again.
    #[must_use]
    pub fn rebuilt(&self, site: Site) -> Self {
        if site.terrain != self.site.terrain {
            return Self::build(site);
        }
        let alike = alike(&self.site.blocks, &site.blocks, Block::eq);
        let made: Vec<MadeBlock> = (site.blocks.par_iter().zip(alike).enumerate())
            .map(|(index, (block, before))| match before {
                Some(before) => self.made(before, index),
                None => MadeBlock::of(block, index, &site),
            })
            .collect();
        Self::of_blocks(site, made)
    }

    /// Which solid of the model that this one was rebuilt from each of its solids is, where it is one.
    pub fn shared_with(&self, before: &Self) -> Vec<Option<usize>> {
        alike(&before.solids, &self.solids, Arc::ptr_eq)
    }

    fn of_blocks(site: Site, made: Vec<MadeBlock>) -> Self {
        let (solids, decks): (Vec<_>, Vec<_>) = made.into_iter().map(|made| (made.solid, made.decks)).unzip();
        Self { site, solids, decks: decks.into_iter().flatten().collect(), index: OnceLock::new() }
    }

    /// What was built of a block, as another index's.
    fn made(&self, block: usize, index: usize) -> MadeBlock {
        // Decks lie in the order of their blocks.
        let first = self.decks.partition_point(|deck| deck.block < block);
        let decks = self.decks[first..].iter().take_while(|deck| deck.block == block);
        MadeBlock {
            solid: Arc::clone(&self.solids[block]),
            decks: decks.map(|deck| DeckTop { block: index, ..deck.clone() }).collect(),
        }
    }

    /// The same with the blocks of another model after its own; nobody stands on these.
    #[must_use]
    pub(crate) fn with_blocks_of(&self, other: Self) -> Self {
        let mut all = Self { index: OnceLock::new(), ..self.clone() };
        all.site.blocks.extend(other.site.blocks);
        all.solids.extend(other.solids);
        all
    }

    /// The indices of the blocks that the picture is about.
    pub fn subject(&self) -> impl Iterator<Item = usize> + '_ {
        self.site.blocks.iter().enumerate().filter(|(_, block)| block.subject).map(|(index, _)| index)
    }

    /// Whether an edge of a block is a riser of a flight of steps: upright, but too short and too many to judge a picture by.
    pub fn is_riser(&self, block: usize, edge: &Edge) -> bool {
        let Shape::Steps { rise_m, count, .. } = self.site.blocks[block].shape else { return false };
        let solid = &self.solids[block];
        let [base_m, top_m] = edge.ends.map(|end| solid.vertices[end as usize].z);
        let heights_m = || solid.vertices.iter().map(|corner| corner.z);
        let (low_m, high_m) =
            (heights_m().fold(f64::INFINITY, f64::min), heights_m().fold(f64::NEG_INFINITY, f64::max));
        // The flight's back is as high as all of it; what is shorter is a step.
        count < 2 || top_m - base_m < high_m - low_m - 0.5 * rise_m
    }

    /// The height of whatever lies open to the sky but for blocks: ground, or water over it.
    pub fn surface_m(&self, at: PlanPoint) -> f64 {
        let ground_m = self.site.terrain.height_m(at);
        self.site.water_level_m.map_or(ground_m, |water_m| ground_m.max(water_m))
    }

    /// What one stands on at a plan position.
    ///
    /// `on` names a deck's block, or "ground". Unless given it is the highest deck there that one cannot stand beneath,
    /// else the ground, or the water where it is deeper than the ground is high.
    ///
    /// # Errors
    /// No such deck, or the place is not on it.
    pub fn footing(&self, at: PlanPoint, on: Option<&str>) -> Result<Footing, FootingError> {
        let holds =
            |deck: &DeckTop| outline_holds(&deck.outline, at) && !deck.holes.iter().any(|hole| outline_holds(hole, at));
        let highest = |wanted: &dyn Fn(&DeckTop) -> bool| {
            self.decks
                .iter()
                .enumerate()
                .filter(|(_, deck)| wanted(deck) && holds(deck))
                .max_by(|(_, a), (_, b)| a.height_m.total_cmp(&b.height_m))
                .map(|(index, _)| index)
        };
        let deck = match on {
            None => highest(&|deck| !deck.open_below),
            Some("ground") => None,
            Some(name) => {
                let named = |deck: &DeckTop| self.site.blocks[deck.block].name == name;
                if !self.decks.iter().any(named) {
                    return Err(self.no_such_deck(name));
                }
                Some(highest(&named).ok_or_else(|| self.beside_deck(name, at))?)
            }
        };
        Ok(match deck {
            Some(index) => {
                let deck = &self.decks[index];
                Footing {
                    support: Support::Deck(index),
                    height_m: deck.height_m,
                    access: deck.access,
                    name: Some(self.site.blocks[deck.block].name.clone()),
                }
            }
            None => {
                let ground = self.site.grounds.iter().rev().find(|ground| outline_holds(&ground.outline, at));
                let ground_m = self.site.terrain.height_m(at);
                let afloat = self.site.water_level_m.filter(|&water_m| water_m > ground_m);
                Footing {
                    support: if afloat.is_some() { Support::Water } else { Support::Ground },
                    height_m: afloat.unwrap_or(ground_m),
                    access: ground.map_or(Access::Open, |ground| ground.access),
                    name: ground.map(|ground| ground.name.clone()),
                }
            }
        })
    }

    /// The block whose solid holds a point, if one does.
    pub fn block_around(&self, point: &WorldPoint) -> Option<usize> {
        let index = self.index.get_or_init(|| BlockIndex::of(&self.solids));
        let mut near = index.about((point.x, point.y)).iter().map(|&block| block as usize);
        near.find(|&block| self.solids[block].holds(point))
    }

    fn no_such_deck(&self, name: &str) -> FootingError {
        let mut names: Vec<_> =
            self.decks.iter().map(|deck| format!("'{}'", self.site.blocks[deck.block].name)).collect();
        names.dedup();
        names.push("'ground'".into());
        FootingError::NoSuchDeck { name: name.into(), known: names.join(", ") }
    }

    fn beside_deck(&self, name: &str, at: PlanPoint) -> FootingError {
        let corners =
            self.decks.iter().filter(|deck| self.site.blocks[deck.block].name == name).flat_map(|deck| &deck.outline);
        let (low, high) = corners.fold(
            ((f64::INFINITY, f64::INFINITY), (f64::NEG_INFINITY, f64::NEG_INFINITY)),
            |(low, high), corner| {
                ((low.0.min(corner.0), low.1.min(corner.1)), (high.0.max(corner.0), high.1.max(corner.1)))
            },
        );
        FootingError::BesideDeck {
            name: name.into(),
            east: at.0,
            north: at.1,
            west: low.0,
            south: low.1,
            east_end: high.0,
            north_end: high.1,
        }
    }
}

/// What a block amounts to.
struct MadeBlock {
    solid: Arc<Solid>,
    decks: Vec<DeckTop>,
}

impl MadeBlock {
    fn of(block: &Block, index: usize, site: &Site) -> Self {
        let placing = BlockFrame::of(block, site);
        Self { solid: Arc::new(placing.solid(block)), decks: placing.decks(block, index) }
    }
}

/// Which of the things `before` is each of those `after`: place by place where there are as many, else as far as both begin and
/// end alike.
fn alike<T>(before: &[T], after: &[T], same: impl Fn(&T, &T) -> bool) -> Vec<Option<usize>> {
    if before.len() == after.len() {
        let pairs = before.iter().zip(after).enumerate();
        return pairs.map(|(index, (one, other))| same(one, other).then_some(index)).collect();
    }
    let shorter = before.len().min(after.len());
    let first = before.iter().zip(after).take_while(|(one, other)| same(one, other)).count();
    let backwards = before.iter().rev().zip(after.iter().rev());
    let last = backwards.take(shorter - first).take_while(|(one, other)| same(one, other)).count();
    let middle = after.len() - first - last;
    let of_the_end = (before.len() - last..before.len()).map(Some);
    (0..first).map(Some).chain(std::iter::repeat_n(None, middle)).chain(of_the_end).collect()
}

/// Where a block's own axes lie in the world.
struct BlockFrame {
    origin: WorldPoint,
    turn: Rotation3<f64>,
    lean: Option<Rotation3<f64>>,
    /// How far the walls reach below the block's own zero.
    base_m: f64,
}

impl BlockFrame {
    fn of(block: &Block, site: &Site) -> Self {
        let ground_m = site.terrain.height_m(block.at);
        let origin = WorldPoint::new(block.at.0, block.at.1, block.base_m.unwrap_or(ground_m) + block.lift_m);
        let turn = Rotation3::from_axis_angle(&WorldVector::z_axis(), -block.heading_deg.to_radians());
        let lean = block.leans.filter(|lean| lean.by_deg != 0.0).map(|lean| {
            // Tipping towards a bearing turns about the level axis to its left.
            let toward = lean.toward_deg.to_radians();
            let axis = Unit::new_normalize(WorldVector::new(-toward.cos(), toward.sin(), 0.0));
            Rotation3::from_axis_angle(&axis, lean.by_deg.to_radians())
        });
        let mut placing = Self { origin, turn, lean, base_m: 0.0 };
        if block.lift_m == 0.0 && block.base_m.is_none() {
            let corners: Vec<WorldPoint> =
                footprint(&block.shape).iter().map(|&(x, y)| placing.to_world(WorldPoint::new(x, y, 0.0))).collect();
            let bound = |pick: fn(f64, f64) -> f64, start: f64| {
                corners.iter().fold((start, start), |bound, corner| (pick(bound.0, corner.x), pick(bound.1, corner.y)))
            };
            let lowest_m =
                site.terrain.lowest_within_m(bound(f64::min, f64::INFINITY), bound(f64::max, f64::NEG_INFINITY));
            placing.base_m = (lowest_m - BURIED_M - origin.z).min(0.0);
        }
        placing
    }

    fn to_world(&self, point: WorldPoint) -> WorldPoint {
        let turned = self.turn * point;
        self.origin + self.lean.map_or(turned.coords, |lean| lean * turned.coords)
    }

    fn solid(&self, block: &Block) -> Solid {
        let world_from_block = |point| self.to_world(point);
        let mut builder = SolidBuilder::new(&world_from_block);
        add_shape(&mut builder, &block.shape, self.base_m, self.lean.is_none());
        builder.finish(self.lean.is_none())
    }

    fn decks(&self, block: &Block, index: usize) -> Vec<DeckTop> {
        let always = matches!(block.shape, Shape::Stage { .. } | Shape::Steps { .. });
        let rule = match (&block.deck, always) {
            (Some(rule), _) => rule.clone(),
            (None, true) => super::DeckRule::default(),
            (None, false) => return Vec::new(),
        };
        if self.lean.is_some() {
            return Vec::new();
        }
        let plan = |outline: &[PlanPoint]| -> Vec<PlanPoint> {
            outline
                .iter()
                .map(|&(x, y)| {
                    let corner = self.to_world(WorldPoint::new(x, y, 0.0));
                    (corner.x, corner.y)
                })
                .collect()
        };
        level_tops(&block.shape)
            .into_iter()
            .map(|top| DeckTop {
                block: index,
                outline: plan(&top.outline),
                holes: top.holes.iter().map(|hole| plan(hole)).collect(),
                height_m: self.origin.z + top.height_m,
                open_below: top.open_below || block.lift_m > 0.0,
                access: rule.access,
                caution: rule.caution.clone(),
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::site::Terrain;

    fn site(blocks: &str) -> Site {
        let text = format!("(format: 1, name: \"test\", blocks: [{blocks}])");
        crate::files::ron_options().from_str(&text).expect("a site")
    }

    fn volume(solid: &Solid) -> f64 {
        solid
            .triangles
            .iter()
            .map(|triangle| {
                let [a, b, c] = solid.corners(triangle);
                a.coords.dot(&b.coords.cross(&c.coords)) / 6.0
            })
            .sum()
    }

    #[test]
    fn what_is_built_again_is_what_is_built_anew_and_shares_what_is_alike() {
        let stage = |name: &str, at: f64| {
            format!("(name: \"{name}\", at: ({at}, 0), shape: Stage(width_m: 4, depth_m: 3, floor_m: 2, rail_m: 1))")
        };
        let of = |stages: &[(&str, f64)]| {
            site(&stages.iter().map(|(name, at)| stage(name, *at)).collect::<Vec<_>>().join(","))
        };
        let before = Model::build(of(&[("a", 0.0), ("b", 10.0), ("c", 20.0), ("d", 30.0)]));
        type Stages<'a> = &'a [(&'a str, f64)];
        let changes: [(Stages<'_>, [usize; 2]); 4] = [
            (&[("a", 0.0), ("b", 11.0), ("c", 20.0), ("d", 30.0)], [3, 4]),
            (&[("a", 0.0), ("c", 20.0), ("d", 30.0)], [3, 3]),
            (&[("a", 0.0), ("b", 10.0), ("new", 15.0), ("c", 20.0), ("d", 30.0)], [4, 5]),
            (&[("d", 30.0), ("c", 20.0), ("b", 10.0), ("a", 0.0)], [0, 4]),
        ];
        for (stages, [shared, all]) in changes {
            let (again, anew) = (before.rebuilt(of(stages)), Model::build(of(stages)));
            assert_eq!(again.decks, anew.decks);
            assert_eq!(again.solids.len(), all);
            for (one, other) in again.solids.iter().zip(&anew.solids) {
                assert_eq!(one.vertices, other.vertices);
            }
            assert_eq!(again.shared_with(&before).iter().flatten().count(), shared);
        }
        // Blocks stand on the ground: where that is another, so are they.
        let lower = Site { terrain: Terrain::Plane { height_m: -1.0 }, ..before.site.clone() };
        let rebuilt = before.rebuilt(lower);
        assert_eq!(rebuilt.shared_with(&before).iter().flatten().count(), 0);
        assert_eq!(rebuilt.decks[0].height_m, before.decks[0].height_m - 1.0);
    }

    #[test]
    fn the_block_around_a_point_is_the_first_that_holds_it() {
        let boxes: Vec<String> = (0..120)
            .map(|index| {
                let at = ((index * 37) % 61, (index * 23) % 47);
                let size = 1 + index % 9;
                format!(
                    "(name: \"{index}\", at: ({}, {}), heading_deg: {}, shape: Box(width_m: {size}, depth_m: 3, height_m: 4))",
                    at.0, at.1, index * 7
                )
            })
            .collect();
        let model = Model::build(site(&boxes.join(",")));
        let mut held = 0;
        for index in 0..5000_u32 {
            let at = (f64::from(index % 83) - 8.0, f64::from(index % 67) - 7.0, f64::from(index % 5));
            let point = WorldPoint::new(at.0 + 0.31, at.1 + 0.17, at.2);
            let first = model.solids.iter().position(|solid| solid.holds(&point));
            assert_eq!(model.block_around(&point), first, "{point}");
            held += usize::from(first.is_some());
        }
        assert!(held > 500, "{held}");
    }

    /// Every side of every triangle is met by exactly one other, the other way round.
    fn assert_closed(solid: &Solid, name: &str) {
        let mut sides = std::collections::BTreeMap::new();
        for triangle in &solid.triangles {
            for side in 0..3 {
                let (a, b) = (triangle.corners[side], triangle.corners[(side + 1) % 3]);
                *sides.entry((a, b)).or_insert(0) += 1;
            }
        }
        for (&(a, b), &count) in &sides {
            assert_eq!(Some(&count), sides.get(&(b, a)), "{name}: side {a}–{b} of {}", solid.vertices[a as usize]);
        }
    }

    #[test]
    fn every_shape_is_closed_and_has_its_volume() {
        // Volumes by the textbook formulas of solid geometry; walls reach BURIED_M below the ground.
        let buried = |area: f64| area * BURIED_M;
        let pi = std::f64::consts::PI;
        let cases = [
            ("Box(width_m: 3, depth_m: 4, height_m: 5)", 60.0 + buried(12.0), 1e-9),
            (
                "Prism(outline: [(0, 0), (0, 10), (10, 10), (10, 0)], holes: [[(2, 2), (8, 2), (8, 8), (2, 8)]], height_m: 2)",
                128.0 + buried(64.0),
                1e-9,
            ),
            (
                "RoundTaper(foot_radius_m: 2.6, head_radius_m: 1.5, height_m: 42)",
                pi * 42.0 / 3.0 * (2.6 * 2.6 + 2.6 * 1.5 + 1.5 * 1.5) + buried(pi * 2.6 * 2.6),
                2e-3,
            ),
            ("RoundTaper(foot_radius_m: 3, head_radius_m: 0, height_m: 4)", 12.0 * pi + buried(9.0 * pi), 2e-3),
            (
                "PolygonTaper(sides: 4, foot_across_m: 6, head_across_m: 3, height_m: 10)",
                10.0 / 3.0 * (36.0 + 18.0 + 9.0) + buried(36.0),
                1e-9,
            ),
            ("PolygonTaper(sides: 4, foot_across_m: 6, head_across_m: 0, height_m: 10)", 120.0 + buried(36.0), 1e-9),
            ("Dome(radius_m: 3, height_m: 2)", 2.0 / 3.0 * pi * 18.0 + buried(9.0 * pi), 5e-3),
            ("Gable(width_m: 10, depth_m: 6, eaves_m: 3, ridge_m: 5)", 60.0 * 3.0 + 60.0 + buried(60.0), 1e-9),
            (
                "Hip(width_m: 10, depth_m: 6, eaves_m: 3, ridge_m: 5, ridge_length_m: 4)",
                180.0 + 6.0 * 2.0 / 6.0 * (2.0 * 10.0 + 4.0) + buried(60.0),
                1e-9,
            ),
            ("Steps(width_m: 2, going_m: 0.3, rise_m: 0.2, count: 4)", 2.0 * 0.06 * 10.0 + buried(2.4), 1e-9),
            ("Wall(path: [(0, 0), (10, 0), (10, 5)], thickness_m: 0.5, height_m: 2)", 15.0 + buried(7.5), 1e-9),
            (
                "Facade(width_m: 20, depth_m: 8, height_m: 12, bays: 4, storeys: 3)",
                1920.0 - 12.0 * 2.5 * 2.0 * 0.2 + buried(160.0),
                1e-9,
            ),
            // The middle window of the top storey gives way to the clock, a polygon of 48 sides; a course 25 cm high at the top
            // of each storey.
            (
                "Facade(width_m: 21, depth_m: 8, height_m: 12, bays: 3, storeys: 3, courses_m: 0.1, clock_m: 2)",
                2016.0 - 8.0 * 3.5 * 2.0 * 0.2
                    + 3.0 * 21.0 * 0.1 * 0.25
                    + 0.5 * 48.0 * (2.0 * pi / 48.0).sin() * 0.08
                    + buried(168.0),
                1e-9,
            ),
        ];
        for (shape, expected, tolerance) in cases {
            let model = Model::build(site(&format!("(name: \"a\", at: (7, -3), heading_deg: 33, shape: {shape})")));
            assert_closed(&model.solids[0], shape);
            let volume = volume(&model.solids[0]);
            assert!((volume / expected - 1.0).abs() < tolerance, "{shape}: {volume} for {expected}");
        }
        for shape in [
            "Stage(width_m: 4, depth_m: 3, floor_m: 2.4, rail_m: 1.0)",
            "Mast(foot_radius_m: 0.3, head_radius_m: 0.2, height_m: 40, stays: 3, stay_heights_m: [20, 38], stay_radius_m: 15)",
            "Tree(height_m: 9, crown_radius_m: 3, crown_base_m: 2, trunk_radius_m: 0.2)",
            "Tree(height_m: 9, crown_radius_m: 3, crown_base_m: 2, trunk_radius_m: 0.2, bare: true)",
            "Facade(width_m: 12, depth_m: 8, height_m: 20, bays: 3, storeys: 4, louvred_storeys: 1)",
        ] {
            let model = Model::build(site(&format!("(name: \"a\", at: (0, 0), shape: {shape})")));
            assert_closed(&model.solids[0], shape);
        }
    }

    #[test]
    fn no_shape_makes_more_triangles_than_are_counted() {
        let shapes = [
            "Box(width_m: 12, depth_m: 9, height_m: 8)",
            "Prism(outline: [(0, 0), (9, 0), (9, 9), (4, 7), (0, 9)], holes: [[(2, 2), (4, 2), (4, 4), (3, 3), (2, 4)]], height_m: 5)",
            "RoundTaper(foot_radius_m: 0.05, head_radius_m: 0, height_m: 3)",
            "RoundTaper(foot_radius_m: 30, head_radius_m: 20, height_m: 90)",
            "PolygonTaper(sides: 3, foot_across_m: 4, head_across_m: 0, height_m: 9)",
            "PolygonTaper(sides: 256, foot_across_m: 40, head_across_m: 30, height_m: 90)",
            "Dome(radius_m: 40, height_m: 30)",
            "Gable(width_m: 10, depth_m: 6, eaves_m: 3, ridge_m: 5)",
            "Hip(width_m: 10, depth_m: 6, eaves_m: 3, ridge_m: 5, ridge_length_m: 4)",
            "Steps(width_m: 2, going_m: 0.3, rise_m: 0.2, count: 1)",
            "Steps(width_m: 2, going_m: 0.3, rise_m: 0.2, count: 60)",
            "Wall(path: [(0, 0), (10, 0), (10, 5), (12, 9)], thickness_m: 0.5, height_m: 2)",
            "Stage(width_m: 0.5, depth_m: 0.5, floor_m: 2.4, rail_m: 1.0)",
            "Stage(width_m: 40, depth_m: 30.5, floor_m: 2.4, rail_m: 1.0)",
            "Mast(foot_radius_m: 0.3, head_radius_m: 0.2, height_m: 40, stays: 5, stay_heights_m: [20, 38], stay_radius_m: 15)",
            "Tree(height_m: 30, crown_radius_m: 12, crown_base_m: 2, trunk_radius_m: 0.9)",
            "Facade(width_m: 20, depth_m: 8, height_m: 12, bays: 1, storeys: 1)",
            "Facade(width_m: 60, depth_m: 8, height_m: 40, bays: 20, storeys: 10)",
            "Facade(width_m: 12, depth_m: 8, height_m: 20, bays: 3, storeys: 4, courses_m: 0.1, clock_m: 2)",
            "Facade(width_m: 12, depth_m: 8, height_m: 64, bays: 3, storeys: 4, opening_share: 0.7, louvred_storeys: 4)",
            "Tree(height_m: 9, crown_radius_m: 3, crown_base_m: 2, trunk_radius_m: 0.2, bare: true)",
        ];
        for (shape, slope_m) in shapes.iter().flat_map(|shape| [(shape, 0.0), (shape, 30.0)]) {
            let terrain = format!(
                "Grid((south_west: (-100, -100), spacing_m: (200, 200), rows: [[{slope_m}, {slope_m}], [0, 0]]))"
            );
            let text = format!(
                "(format: 1, name: \"t\", terrain: {terrain}, blocks: [(name: \"a\", at: (0, 0), shape: {shape})])"
            );
            let model = Model::build(crate::files::ron_options().from_str(&text).expect("a site"));
            let (made, most) = (
                model.solids[0].triangles.len() as u64,
                crate::site::build::triangles_at_most(&model.site.blocks[0].shape),
            );
            assert!(made <= most && most <= 2 * made, "{shape}: {made}, at most {most}");
        }
    }

    #[test]
    fn a_spot_in_two_parts_of_a_block_is_inside_it() {
        // The trunk rises into the crown: axis, crown alone, trunk alone, and air between.
        let model = Model::build(site(
            "(name: \"a\", at: (0, 0), shape: Tree(height_m: 9, crown_radius_m: 3, crown_base_m: 2, trunk_radius_m: 0.2))",
        ));
        for (x, height_m, inside) in [
            (0.05, 2.4, true),
            (0.05, 1.0, true),
            (0.05, 5.0, true),
            (2.0, 5.5, true),
            (1.0, 1.0, false),
            (0.5, 1.9, false),
        ] {
            let spot = WorldPoint::new(x, 0.03, height_m + model.site.terrain.height_m((x, 0.03)));
            assert_eq!(model.block_around(&spot), inside.then_some(0), "{spot}");
        }
    }

    #[test]
    fn a_boxs_edges_are_four_verticals_and_eight_others() {
        let model = Model::build(site(
            "(name: \"a\", at: (0, 0), heading_deg: 12, shape: Box(width_m: 1, depth_m: 2, height_m: 3))",
        ));
        let edges = &model.solids[0].edges;
        assert_eq!((edges.iter().filter(|edge| edge.plumb).count(), edges.len()), (4, 12));
        let leaning = Model::build(site(
            "(name: \"a\", at: (0, 0), leans: (by_deg: 4, toward_deg: 90), shape: Box(width_m: 1, depth_m: 2, height_m: 3))",
        ));
        assert!(leaning.solids[0].edges.iter().all(|edge| !edge.plumb));
        let top = leaning.solids[0].vertices.iter().max_by(|a, b| a.z.total_cmp(&b.z)).expect("a corner");
        // It hangs over to the east: 3 m tall at 4°.
        assert!((top.x - (3.0 * 4.0_f64.to_radians().sin() - 0.5 * 4.0_f64.to_radians().cos())).abs() < 1e-9);
    }

    #[test]
    fn heading_turns_a_block_clockwise() {
        let model = Model::build(site(
            "(name: \"a\", at: (0, 0), heading_deg: 90, shape: Box(width_m: 2, depth_m: 10, height_m: 1))",
        ));
        let (low, high) = model.solids[0].bounds();
        assert!((high.x - 5.0).abs() < 1e-9 && (low.y + 1.0).abs() < 1e-9);
    }

    #[test]
    fn inside_is_told_from_outside() {
        let model = Model::build(site(
            "(name: \"a\", at: (0, 0), shape: Prism(outline: [(0, 0), (10, 0), (10, 10), (0, 10)], holes: [[(4, 4), (6, 4), (6, 6), (4, 6)]], height_m: 3))",
        ));
        assert_eq!(model.block_around(&WorldPoint::new(1.0, 1.0, 1.0)), Some(0));
        assert_eq!(model.block_around(&WorldPoint::new(5.0, 5.0, 1.0)), None);
        assert_eq!(model.block_around(&WorldPoint::new(1.0, 1.0, 3.5)), None);
    }

    #[test]
    fn feet_stand_on_decks_ground_and_water() {
        let mut site = site(concat!(
            "(name: \"plinth\", at: (0, 0), shape: Box(width_m: 4, depth_m: 4, height_m: 1.5), deck: (access: Ask)),",
            "(name: \"stage\", at: (10, 0), shape: Stage(width_m: 4, depth_m: 4, floor_m: 2.7))",
        ));
        site.water_level_m = Some(-1.0);
        site.terrain = Terrain::Plane { height_m: 0.0 };
        let model = Model::build(site);
        let plinth = model.footing((1.0, 1.0), None).expect("a deck");
        assert_eq!((plinth.height_m, plinth.access), (1.5, Access::Ask));
        assert_eq!(model.footing((10.0, 1.0), None).expect("ground").support, Support::Ground);
        assert_eq!(model.footing((10.0, 1.0), Some("stage")).expect("a deck").height_m, 2.7);
        assert!(matches!(model.footing((20.0, 0.0), Some("stage")), Err(FootingError::BesideDeck { .. })));
        assert!(matches!(model.footing((20.0, 0.0), Some("roof")), Err(FootingError::NoSuchDeck { .. })));
    }

    #[test]
    fn only_the_back_of_a_flight_of_steps_stands_upright() {
        // Fifteen steps of 0.18 m: four corners of the front and back rise from the ground, and only the back's are 2.7 m high.
        let flight = "(name: \"a\", at: (0, 0), shape: Steps(width_m: 1.4, going_m: 0.28, rise_m: 0.18, count: 15))";
        let model = Model::build(site(flight));
        let high_m = |edge: &&Edge| {
            let [base, top] = edge.ends.map(|end| model.solids[0].vertices[end as usize]);
            top.z - base.z
        };
        let plumb: Vec<&Edge> = model.solids[0].edges.iter().filter(|edge| edge.plumb).collect();
        assert_eq!(plumb.len(), 2 * 16);
        let left: Vec<f64> = plumb.iter().filter(|edge| !model.is_riser(0, edge)).map(high_m).collect();
        assert_eq!(left.len(), 2, "{left:?}");
        assert!(left.iter().all(|high_m| *high_m >= 2.7), "{left:?}");
        // A box of that height keeps its four.
        let model =
            Model::build(site("(name: \"a\", at: (0, 0), shape: Box(width_m: 1.4, depth_m: 4.2, height_m: 2.7))"));
        assert_eq!(model.solids[0].edges.iter().filter(|edge| edge.plumb && !model.is_riser(0, edge)).count(), 4);
    }

    #[test]
    fn a_block_with_a_base_of_its_own_ends_there() {
        let shape = "Box(width_m: 4, depth_m: 4, height_m: 1)";
        for placed in ["base_m: 19", "lift_m: 19"] {
            let model = Model::build(site(&format!("(name: \"a\", at: (5, 5), {placed}, shape: {shape})")));
            let (low, high) = model.solids[0].bounds();
            assert_eq!((low.z, high.z), (19.0, 20.0));
        }
    }

    #[test]
    fn walls_reach_down_to_sloping_ground() {
        let mut sloping = site("(name: \"a\", at: (5, 5), shape: Box(width_m: 4, depth_m: 4, height_m: 3))");
        sloping.terrain = crate::files::ron_options()
            .from_str("Grid((south_west: (0, 0), spacing_m: (10, 10), rows: [[0, 5], [0, 5]]))")
            .expect("a slope");
        let model = Model::build(sloping);
        let (low, high) = model.solids[0].bounds();
        assert!((high.z - 5.5).abs() < 1e-9);
        assert!(low.z < 1.5, "{}", low.z);
    }
}
