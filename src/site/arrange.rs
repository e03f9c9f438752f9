//! How is a group of blocks moved, turned, mirrored, repeated and lined up?
//!
//! Everything here is done in plan. A block that stands on the ground stands on the ground where it comes to; one with a
//! base of its own keeps that. Positions come out to a tenth of a millimetre, directions to a ten-thousandth of a degree, as
//! they are to be read in a file.
//!
//! Every shape is the same to either side of its own y axis, or is given by its corners, so every block can be mirrored
//! exactly. What is not mirrored: the terrain, and texts that say left or right.

use std::collections::{BTreeMap, BTreeSet};

use super::build::footprint;
use super::solid_parts::signed_area;
use super::{Block, PlanPoint, Shape};

/// How many copies are made at the most.
pub const MOST_COPIES: usize = 1000;

/// A line across the plan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlanLine {
    /// A point of it.
    pub through: PlanPoint,
    /// The compass bearing along it.
    pub bearing_deg: f64,
}

/// How often something is repeated along a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Repeat {
    /// So many copies, evenly, the last one at the end of the line.
    Count(usize),
    /// A copy each so many metres, as many as the line is long.
    Every(f64),
}

/// On which side of an edge a block comes to stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Beside {
    /// Outside, touching it: a lean-to.
    Outside,
    /// Inside, its outermost side in line with the edge: a row of fronts.
    InLine,
}

/// A name that nothing has yet: the wanted one, or the same with the next free number, "house 2".
///
/// # Example
/// ```
/// use plumbsight::site::free_name;
/// let taken = ["house", "house 2", "hut"];
/// assert_eq!(free_name("barn", |name| taken.contains(&name)), "barn");
/// assert_eq!(free_name("house", |name| taken.contains(&name)), "house 3");
/// assert_eq!(free_name("house 2", |name| taken.contains(&name)), "house 3");
/// ```
pub fn free_name(wanted: &str, taken: impl Fn(&str) -> bool) -> String {
    if !taken(wanted) {
        return wanted.to_owned();
    }
    let numbered = wanted.rsplit_once(' ').and_then(|(stem, number)| Some((stem, number.parse::<u32>().ok()?)));
    let (stem, first) = numbered.map_or((wanted, 2), |(stem, number)| (stem, number.saturating_add(1)));
    (first..=u32::MAX)
        .map(|number| format!("{stem} {number}"))
        .find(|name| !taken(name))
        .unwrap_or_else(|| wanted.to_owned())
}

/// The blocks with names of their own beside those that there are, in order. What is kept together stays so, under a name of its
/// own too.
pub fn named_anew(mut blocks: Vec<Block>, others: &[Block]) -> Vec<Block> {
    let mut taken: BTreeSet<String> = others.iter().map(|block| block.name.clone()).collect();
    let known: BTreeSet<&str> = others.iter().filter_map(|block| block.together.as_deref()).collect();
    let mut sets: BTreeMap<String, String> = BTreeMap::new();
    for block in &mut blocks {
        block.name = free_name(&block.name, |name| taken.contains(name));
        taken.insert(block.name.clone());
        if let Some(together) = &mut block.together {
            if !sets.contains_key(together) {
                let new = free_name(together, |name| known.contains(name) || sets.values().any(|other| other == name));
                sets.insert(together.clone(), new);
            }
            together.clone_from(&sets[together]);
        }
    }
    blocks
}

/// What is picked up with a block: all that is kept together with it, by their numbers; it comes first.
pub fn kept_together(blocks: &[Block], index: usize) -> Vec<usize> {
    let together = blocks.get(index).and_then(|block| block.together.as_ref());
    let others = (0..blocks.len())
        .filter(|&other| other != index && together.is_some() && blocks[other].together.as_ref() == together);
    std::iter::once(index).chain(others).collect()
}

/// The block so many metres east and north.
#[must_use]
pub fn moved(block: &Block, (east_m, north_m): (f64, f64)) -> Block {
    Block { at: tidy_point((block.at.0 + east_m, block.at.1 + north_m)), ..block.clone() }
}

/// The block turned clockwise about a plan point.
#[must_use]
pub fn turned(block: &Block, about: PlanPoint, by_deg: f64) -> Block {
    let (sine, cosine) = sine_cosine(by_deg);
    let (east, north) = (block.at.0 - about.0, block.at.1 - about.1);
    let mut turned = block.clone();
    turned.at = tidy_point((about.0 + east * cosine + north * sine, about.1 - east * sine + north * cosine));
    turned.heading_deg = tidy_bearing(block.heading_deg + by_deg);
    if let Some(lean) = &mut turned.leans {
        lean.toward_deg = tidy_bearing(lean.toward_deg + by_deg);
    }
    turned
}

/// The block as a mirror along the line shows it.
#[must_use]
pub fn mirrored(block: &Block, line: PlanLine) -> Block {
    let across = |bearing_deg: f64| tidy_bearing(2.0 * line.bearing_deg - bearing_deg);
    let mut mirrored = block.clone();
    mirrored.at = tidy_point(mirrored_point(block.at, line));
    mirrored.heading_deg = across(block.heading_deg);
    if let Some(lean) = &mut mirrored.leans {
        lean.toward_deg = across(lean.toward_deg);
    }
    let flip = |corners: &mut Vec<PlanPoint>| corners.iter_mut().for_each(|corner| corner.0 = 0.0 - corner.0);
    match &mut mirrored.shape {
        Shape::Prism { outline, holes, .. } => {
            flip(outline);
            holes.iter_mut().for_each(flip);
        }
        Shape::Wall { path, .. } => flip(path),
        // The same to either side of their own y axis.
        Shape::Box { .. }
        | Shape::RoundTaper { .. }
        | Shape::PolygonTaper { .. }
        | Shape::Dome { .. }
        | Shape::Gable { .. }
        | Shape::Hip { .. }
        | Shape::Steps { .. }
        | Shape::Stage { .. }
        | Shape::Mast { .. }
        | Shape::Tree { .. }
        | Shape::Facade { .. } => {}
    }
    mirrored
}

/// Where a mirror along the line shows a plan point.
pub fn mirrored_point(at: PlanPoint, line: PlanLine) -> PlanPoint {
    // Twice the bearing: the reflection as a turned flip, exact for lines along the compass.
    let (sine, cosine) = sine_cosine(2.0 * line.bearing_deg);
    let (east, north) = (at.0 - line.through.0, at.1 - line.through.1);
    (line.through.0 - east * cosine + north * sine, line.through.1 + east * sine + north * cosine)
}

/// Copies of a group along a line that leads so far east and north; the group itself is not among them. They have the names of
/// what they copy: see [`named_anew`].
///
/// At most [`MOST_COPIES`] of the group; none where the spacing is no length.
pub fn repeated(blocks: &[Block], (east_m, north_m): (f64, f64), repeat: Repeat) -> Vec<Block> {
    let length_m = east_m.hypot(north_m);
    let (count, step) = match repeat {
        Repeat::Count(count) => (count.min(MOST_COPIES), 1.0 / count.max(1) as f64),
        Repeat::Every(spacing_m) if spacing_m > 0.0 && spacing_m.is_finite() => {
            // A line of 10 m holds ten copies each metre, though 10/1 may be reckoned a hair short.
            let count = (length_m / spacing_m + 1e-9).floor();
            (count.min(MOST_COPIES as f64) as usize, spacing_m / length_m.max(f64::MIN_POSITIVE))
        }
        Repeat::Every(_) => (0, 0.0),
    };
    (1..=count)
        .flat_map(|number| {
            let share = number as f64 * step;
            blocks.iter().map(move |block| {
                // Each copy is kept together by itself.
                let together = block.together.as_ref().map(|name| format!("{name} {}", number + 1));
                Block { together, ..moved(block, (share * east_m, share * north_m)) }
            })
        })
        .collect()
}

/// The sides of a block's base in plan, anticlockwise: what is outside lies to the right of each. Round bases have none.
pub fn plan_sides(block: &Block) -> Vec<[PlanPoint; 2]> {
    match block.shape {
        Shape::RoundTaper { .. } | Shape::Dome { .. } | Shape::Mast { .. } | Shape::Tree { .. } => Vec::new(),
        Shape::Box { .. }
        | Shape::Prism { .. }
        | Shape::PolygonTaper { .. }
        | Shape::Gable { .. }
        | Shape::Hip { .. }
        | Shape::Steps { .. }
        | Shape::Wall { .. }
        | Shape::Stage { .. }
        | Shape::Facade { .. } => {
            let corners = plan_base(block);
            (0..corners.len()).map(|index| [corners[index], corners[(index + 1) % corners.len()]]).collect()
        }
    }
}

/// The outline of a block's base in plan, anticlockwise.
pub fn plan_base(block: &Block) -> Vec<PlanPoint> {
    let (sine, cosine) = sine_cosine(block.heading_deg);
    let mut corners = footprint(&block.shape);
    if signed_area(&corners) < 0.0 {
        corners.reverse();
    }
    corners.into_iter().map(|(x, y)| (block.at.0 + x * cosine + y * sine, block.at.1 - x * sine + y * cosine)).collect()
}

/// The block turned where it stands, as little as can be, until one of its sides runs along a compass bearing, either way. What
/// is round stays as it is.
#[must_use]
pub fn turned_along(block: &Block, bearing_deg: f64) -> Block {
    let off = |side: &[PlanPoint; 2]| {
        let along_deg = (side[1].0 - side[0].0).atan2(side[1].1 - side[0].1).to_degrees();
        let off_deg = (bearing_deg - along_deg).rem_euclid(180.0);
        if off_deg > 90.0 { off_deg - 180.0 } else { off_deg }
    };
    let by_deg = plan_sides(block).iter().map(off).min_by(|a, b| a.abs().total_cmp(&b.abs()));
    by_deg.map_or_else(|| block.clone(), |by_deg| turned(block, block.at, tidy(by_deg)))
}

/// The block turned along an edge, of which the right-hand side is outside, and moved straight across it until it touches the
/// edge from one side or the other.
#[must_use]
pub fn moved_to_edge(block: &Block, edge: [PlanPoint; 2], beside: Beside) -> Block {
    let (east, north) = (edge[1].0 - edge[0].0, edge[1].1 - edge[0].1);
    let length_m = east.hypot(north);
    if length_m == 0.0 {
        return block.clone();
    }
    let turned = turned_along(block, east.atan2(north).to_degrees());
    let out = (north / length_m, -east / length_m);
    let beyond = plan_base(&turned).into_iter().map(|at| (at.0 - edge[0].0) * out.0 + (at.1 - edge[0].1) * out.1);
    let far_m = match beside {
        Beside::Outside => beyond.fold(f64::INFINITY, f64::min),
        Beside::InLine => beyond.fold(f64::NEG_INFINITY, f64::max),
    };
    if far_m.is_finite() { moved(&turned, (-far_m * out.0, -far_m * out.1)) } else { turned }
}

/// Exact for quarter turns, so that what stood square goes on to stand square.
fn sine_cosine(degrees: f64) -> (f64, f64) {
    let quarters = degrees / 90.0;
    if quarters == quarters.trunc() {
        match quarters.rem_euclid(4.0) as u32 {
            0 => (0.0, 1.0),
            1 => (1.0, 0.0),
            2 => (0.0, -1.0),
            _ => (-1.0, 0.0),
        }
    } else {
        degrees.to_radians().sin_cos()
    }
}

/// To four decimals.
pub(super) fn tidy(value: f64) -> f64 {
    let tidy = (value * 1e4).round() / 1e4;
    // No "-0.0" in a file.
    tidy + 0.0
}

fn tidy_point(at: PlanPoint) -> PlanPoint {
    (tidy(at.0), tidy(at.1))
}

fn tidy_bearing(bearing_deg: f64) -> f64 {
    tidy(tidy(bearing_deg.rem_euclid(360.0)).rem_euclid(360.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::site::{Lean, Model, Site, palette, parse_site};

    fn house() -> Block {
        let shape = Shape::Box { width_m: 8.0, depth_m: 4.0, height_m: 3.0 };
        Block { heading_deg: 30.0, ..Block::new("house", (10.0, 20.0), shape) }
    }

    fn model(blocks: Vec<Block>) -> Model {
        let site: Site = parse_site("(format: 1, name: \"x\")", "x").expect("good");
        Model::build(Site { blocks, ..site })
    }

    /// The corners of a block's skin, each moved by a function, in order.
    fn corners(block: &Block, change: impl Fn(PlanPoint) -> PlanPoint) -> Vec<[f64; 3]> {
        let mut corners: Vec<[f64; 3]> = model(vec![block.clone()]).solids[0]
            .vertices
            .iter()
            .map(|corner| {
                let (x, y) = change((corner.x, corner.y));
                // To 5 mm, so that what is rounded differently is still the same: corners lie farther apart than that.
                [x, y, corner.z].map(|value| (value * 200.0).round() + 0.0)
            })
            .collect();
        corners.sort_by(|a, b| a.partial_cmp(b).expect("numbers"));
        corners
    }

    fn lopsided() -> Vec<Block> {
        let mut blocks: Vec<Block> = palette()
            .into_iter()
            .map(|shape| Block { heading_deg: 35.0, ..Block::new("a", (7.0, -3.0), shape) })
            .collect();
        blocks[0].leans = Some(Lean { by_deg: 4.0, toward_deg: 100.0 });
        blocks.push(Block::new(
            "bent",
            (1.0, 2.0),
            Shape::Wall { path: vec![(0.0, 0.0), (5.0, 1.0), (6.0, 9.0)], thickness_m: 0.5, height_m: 2.0 },
        ));
        let court = vec![vec![(1.0, 1.0), (2.0, 1.0), (2.0, 4.0)]];
        let outline = vec![(0.0, 0.0), (9.0, 0.0), (9.0, 5.0), (0.0, 8.0)];
        blocks.push(Block::new("court", (-4.0, 2.5), Shape::Prism { outline, holes: court, height_m: 4.0 }));
        blocks
    }

    fn assert_same(one: &[[f64; 3]], other: &[[f64; 3]], what: &str) {
        assert_eq!(one.len(), other.len(), "{what}");
        let near = |a: &[f64; 3], b: &[f64; 3]| a.iter().zip(b).all(|(a, b)| (a - b).abs() <= 1.0);
        for corner in one {
            assert!(other.iter().any(|known| near(corner, known)), "{what}: {corner:?}");
        }
    }

    #[test]
    fn every_corner_is_moved_turned_and_mirrored() {
        for block in lopsided() {
            let there = moved(&block, (3.0, -2.0));
            assert_same(&corners(&there, |at| at), &corners(&block, |at| (at.0 + 3.0, at.1 - 2.0)), "moved");
            let there = turned(&block, (1.0, 1.0), 90.0);
            let quarter = |at: PlanPoint| (1.0 + (at.1 - 1.0), 1.0 - (at.0 - 1.0));
            assert_same(&corners(&there, |at| at), &corners(&block, quarter), "turned");
            // Across the line that runs north-east through the origin, east and north change places.
            let line = PlanLine { through: (2.0, 2.0), bearing_deg: 45.0 };
            let there = mirrored(&block, line);
            assert_same(&corners(&there, |at| at), &corners(&block, |at| (at.1, at.0)), &format!("mirrored {block:?}"));
            let line = PlanLine { through: (5.0, 77.0), bearing_deg: 0.0 };
            let there = mirrored(&block, line);
            assert_same(
                &corners(&there, |at| at),
                &corners(&block, |at| (10.0 - at.0, at.1)),
                "mirrored in the meridian",
            );
        }
    }

    #[test]
    fn twice_mirrored_and_four_times_turned_is_as_before() {
        for block in lopsided() {
            let line = PlanLine { through: (3.0, -8.0), bearing_deg: 90.0 };
            assert_eq!(mirrored(&mirrored(&block, line), line), block);
            let quarter = |block: &Block| turned(block, (2.0, 5.0), 90.0);
            assert_eq!(quarter(&quarter(&quarter(&quarter(&block)))), block);
        }
    }

    #[test]
    fn copies_stand_evenly_and_have_names_of_their_own() {
        let copies = repeated(&[house()], (30.0, -15.0), Repeat::Count(3));
        assert_eq!(copies.iter().map(|copy| copy.at).collect::<Vec<_>>(), [(20.0, 15.0), (30.0, 10.0), (40.0, 5.0)]);
        let others = ["house", "house 3"].map(|name| Block { name: name.into(), ..house() });
        let copies = named_anew(copies, &others);
        assert_eq!(copies.iter().map(|copy| copy.name.as_str()).collect::<Vec<_>>(), ["house 2", "house 4", "house 5"]);
        let copies = repeated(&[house(), house()], (0.0, 1.0), Repeat::Every(0.1));
        assert_eq!(copies.len(), 20);
        assert_eq!(copies[19].at, (10.0, 21.0));
        assert_eq!(repeated(&[house()], (0.0, 1.0), Repeat::Every(0.4)).len(), 2);
        for nothing in [Repeat::Every(0.0), Repeat::Every(-1.0), Repeat::Every(f64::NAN), Repeat::Count(0)] {
            assert!(repeated(&[house()], (5.0, 0.0), nothing).is_empty());
        }
        assert_eq!(repeated(&[house()], (5000.0, 0.0), Repeat::Every(0.001)).len(), MOST_COPIES);
    }

    #[test]
    fn copies_of_what_is_kept_together_are_kept_together_by_themselves() {
        let farm = |name: &str| Block { together: Some("farm".into()), name: name.into(), ..house() };
        let site = vec![farm("house"), farm("barn"), Block { name: "church".into(), ..house() }];
        assert_eq!(kept_together(&site, 1), [1, 0]);
        assert_eq!(kept_together(&site, 2), [2]);
        let mut all = site.clone();
        all.extend(named_anew(repeated(&site, (30.0, 0.0), Repeat::Count(2)), &site));
        let sets: Vec<Option<&str>> = all.iter().map(|block| block.together.as_deref()).collect();
        let (farm, second, third) = (Some("farm"), Some("farm 2"), Some("farm 3"));
        assert_eq!(sets, [farm, farm, None, second, second, None, third, third, None]);
        // Copied once more, the name that the first copy took is not taken again.
        let again = named_anew(site.clone(), &all);
        assert_eq!(again[0].together.as_deref(), Some("farm 4"));
        assert_eq!(again[1].together, again[0].together);
    }

    #[test]
    fn a_block_is_turned_as_little_as_can_be() {
        // A house that heads 30° has sides along 30° and 120°.
        for (bearing_deg, heading_deg) in
            [(30.0, 30.0), (40.0, 40.0), (100.0, 10.0), (120.0, 30.0), (210.0, 30.0), (354.0, 354.0)]
        {
            let turned = turned_along(&house(), bearing_deg);
            assert_eq!((turned.heading_deg, turned.at), (heading_deg, house().at), "{bearing_deg}");
        }
        let tower = Block::new("tower", (0.0, 0.0), Shape::Dome { radius_m: 2.0, height_m: 2.0 });
        assert_eq!(turned_along(&tower, 20.0), tower);
    }

    #[test]
    fn a_block_is_moved_to_an_edge() {
        // The south side of a house from (0, 0) to (10, 0); outside is south.
        let edge = [(0.0, 0.0), (10.0, 0.0)];
        let beside = moved_to_edge(&house(), edge, Beside::Outside);
        // 30° is nearer to the meridian than to the parallel: 8 m across, 4 m along.
        assert_eq!((beside.heading_deg, beside.at), (0.0, (10.0, -2.0)));
        let in_line = moved_to_edge(&house(), edge, Beside::InLine);
        assert_eq!((in_line.heading_deg, in_line.at), (0.0, (10.0, 2.0)));
        assert_eq!(moved_to_edge(&house(), [(1.0, 1.0), (1.0, 1.0)], Beside::InLine), house());
        // Sides go round anticlockwise, so that its own side is where it stands already.
        for side in plan_sides(&house()) {
            let again = moved_to_edge(&house(), side, Beside::InLine);
            assert!((again.at.0 - 10.0).hypot(again.at.1 - 20.0) < 2e-4, "{again:?}");
        }
    }
}
