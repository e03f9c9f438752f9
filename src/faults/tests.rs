//! Is each fault found with its size, nothing else called one, and each mended by its mend?

use geo::{Area, BooleanOps, LineString, Polygon};

use super::bodies::depth;
use super::*;
use crate::site::{Block, Front, SiteEditor, parse_site};
use crate::units::Units;

fn site(blocks: &str, terrain: &str) -> String {
    format!("(format: 1, name: \"t\", terrain: {terrain}, front: Any, blocks: [{blocks}])")
}

fn found_in(text: &str) -> (Vec<SiteFault>, Model) {
    let model = Model::build(parse_site(text, "t").unwrap_or_else(|problems| panic!("{problems}")));
    (faults(&model), model)
}

fn found(blocks: &str) -> Vec<SiteFault> {
    found_in(&site(blocks, "Plane(height_m: 0)")).0
}

/// A block with what is said of it, of which only one is the subject.
fn block(name: &str, rest: &str, shape: &str) -> String {
    format!("(name: \"{name}\", subject: {}, {rest}, shape: {shape}),", name == "a")
}

const HOUSE: &str = "Box(width_m: 8, depth_m: 6, height_m: 5)";

/// Kinds and sizes to the centimetre, with the numbers of their blocks.
fn told(faults: &[SiteFault]) -> Vec<(&'static str, f64, Vec<usize>)> {
    let kind = |fault: &SiteFault| match fault.kind {
        FaultKind::NoSubject => "no subject",
        FaultKind::FlatSubject { .. } => "flat",
        FaultKind::NoFront { .. } => "no front",
        FaultKind::Floats { .. } => "floats",
        FaultKind::Sunk { .. } => "sunk",
        FaultKind::UnderGround { .. } => "under",
        FaultKind::Overlap { .. } => "overlap",
        FaultKind::OutOfReach { .. } => "out of reach",
    };
    let size = |fault: &SiteFault| (fault.size_m().unwrap_or(0.0) * 100.0).round() / 100.0;
    faults.iter().map(|fault| (kind(fault), size(fault), fault.blocks.clone())).collect()
}

/// Makes each mend alone and holds it to mend its own fault.
fn assert_mended(text: &str) {
    let (faults, _) = found_in(text);
    for fault in &faults {
        let Some(mend) = &fault.mend else { continue };
        let mut editor = SiteEditor::new(text, "t").expect("good");
        mend.make(&mut editor).unwrap_or_else(|error| panic!("{error}"));
        let (left, _) = found_in(editor.text());
        let same = |other: &&SiteFault| {
            std::mem::discriminant(&other.kind) == std::mem::discriminant(&fault.kind) && other.blocks == fault.blocks
        };
        assert!(left.iter().find(same).is_none(), "{fault:?}\n{}", editor.text());
    }
}

#[test]
fn what_floats_is_told_by_how_much() {
    let house = block("a", "at: (0, 0)", HOUSE);
    for (other, expected) in [
        // On the ground, on the house, in its roof, at its side, about it, and carried by what stands on it.
        (block("b", "at: (20, 0), lift_m: 0.04", HOUSE), vec![]),
        (block("b", "at: (20, 0), lift_m: 0.4", HOUSE), vec![("floats", 0.4, vec![1])]),
        (block("b", "at: (20, 0), base_m: 1.25", HOUSE), vec![("floats", 1.25, vec![1])]),
        (block("b", "at: (0, 0), lift_m: 5", "Dome(radius_m: 2, height_m: 2)"), vec![]),
        (block("b", "at: (0, 0), lift_m: 5.5", "Dome(radius_m: 2, height_m: 2)"), vec![("floats", 0.5, vec![1, 0])]),
        (
            block("b", "at: (0, 0), base_m: 3, lift_m: 4", "Dome(radius_m: 2, height_m: 2)"),
            vec![("floats", 2.0, vec![1, 0])],
        ),
        (block("b", "at: (4.5, 0), lift_m: 3", "Box(width_m: 1, depth_m: 1, height_m: 0.2)"), vec![]),
        (
            block("b", "at: (4.6, 0), lift_m: 3", "Box(width_m: 1, depth_m: 1, height_m: 0.2)"),
            vec![("floats", 3.0, vec![1])],
        ),
        (
            block("b", "at: (0, 0), lift_m: 5", "Box(width_m: 1, depth_m: 1, height_m: 1)")
                + &block("c", "at: (0, 0), lift_m: 6", "Box(width_m: 9, depth_m: 9, height_m: 1)"),
            vec![],
        ),
        // Two that carry each other are one.
        (
            block("b", "at: (30, 0), lift_m: 2", "Box(width_m: 1, depth_m: 1, height_m: 1)")
                + &block("c", "at: (30, 0), lift_m: 3", "Box(width_m: 1, depth_m: 1, height_m: 1)"),
            vec![("floats", 2.0, vec![1])],
        ),
    ] {
        let blocks = format!("{house}{other}");
        assert_eq!(told(&found(&blocks)), expected, "{other}");
        assert_mended(&site(&blocks, "Plane(height_m: 0)"));
    }
    let (found, model) =
        found_in(&site(&(house + &block("b", "at: (0, 0), lift_m: 5.5", HOUSE)), "Plane(height_m: 0)"));
    assert_eq!(
        found[0].words(&model.site, Units::M),
        "'b' floats 0.50 m above 'a' and touches nothing. Set it down, or model what carries it."
    );
    let Some(Mend { label, edits }) = &found[0].mend else { panic!("no mend") };
    let [MendEdit::Block(1, lowered)] = edits.as_slice() else { panic!("{edits:?}") };
    assert_eq!((*label, lowered.lift_m), ("Set it down", 5.0));
    // A pontoon floats, as it should.
    let afloat = "(format: 1, name: \"t\", terrain: Plane(height_m: -4), water_level_m: 0, front: Any, blocks: [\
        (name: \"a\", subject: true, at: (0, 0), base_m: 0, shape: Box(width_m: 9, depth_m: 3, height_m: 1))])";
    assert_eq!(told(&found_in(afloat).0), []);
}

#[test]
fn what_lies_in_the_ground_is_told_by_how_much() {
    assert_eq!(told(&found(&block("a", "at: (0, 0), base_m: -2", HOUSE))), []);
    assert_eq!(told(&found(&block("a", "at: (0, 0), base_m: -3", HOUSE))), [("sunk", 3.0, vec![0])]);
    assert_eq!(
        told(&found(&block("a", "at: (0, 0), base_m: -6", HOUSE))),
        [("flat", -1.0, vec![0]), ("under", 1.0, vec![0])]
    );
    assert_mended(&site(&block("a", "at: (0, 0), base_m: -6", HOUSE), "Plane(height_m: 0)"));
    // A hill that rises one in two to the north: 5 m north of its middle a wall is 2.5 m lower than the ground.
    let hill = "Grid((south_west: (-50, -50), spacing_m: (100, 100), rows: [[50, 50], [0, 0]]))";
    let wall = |height_m: f64| format!("Wall(path: [(0, -5), (0, 5)], thickness_m: 0.5, height_m: {height_m:?})");
    let (faults, model) = found_in(&site(&block("a", "at: (0, 0)", &wall(1.5)), hill));
    assert_eq!(told(&faults), [("under", 1.0, vec![0])]);
    let at = faults[0].at.expect("a place");
    assert!((at.1 - 5.0).abs() < 1e-9, "{at:?}");
    assert_eq!(
        faults[0].words(&model.site, Units::M),
        "The ground at 'a' is 1.00 m higher than its walls. Make it higher, set it higher, or divide it along the slope."
    );
    assert_eq!(told(&found_in(&site(&block("a", "at: (0, 0)", &wall(2.5)), hill)).0), []);
}

#[test]
fn what_stands_in_one_another_is_told_by_how_much() {
    let house = block("a", "at: (0, 0)", HOUSE);
    let court = "Prism(outline: [(-20, -20), (20, -20), (20, 20), (-20, 20)], holes: [[(-9, -9), (9, -9), (9, 9), (-9, 9)]], height_m: 9)";
    let angle = "Prism(outline: [(0, 0), (9, 0), (9, 3), (3, 3), (3, 9), (0, 9)], height_m: 5)";
    for (other, expected) in [
        // Beside, a joint's width in, and farther in.
        (block("b", "at: (8, 0)", HOUSE), None),
        (block("b", "at: (7.91, 0)", HOUSE), None),
        (block("b", "at: (7.6, 0)", HOUSE), Some(0.4)),
        (block("b", "at: (7.6, 5.7)", HOUSE), Some(0.3)),
        (block("b", "at: (0, 0)", HOUSE), Some(6.0)),
        // A round tower of 2 m whose side is half a metre inside.
        (block("b", "at: (5.5, 0)", "RoundTaper(foot_radius_m: 2, head_radius_m: 1, height_m: 9)"), Some(0.5)),
        // On it, a roof on its walls, a chimney through its roof, a band about it, a wall that ends in it.
        (block("b", "at: (0, 0), lift_m: 5", HOUSE), None),
        (block("b", "at: (0, 0), lift_m: 5", "Gable(width_m: 9, depth_m: 7, ridge_m: 3)"), None),
        (block("b", "at: (3, 0), lift_m: 4", "Box(width_m: 1, depth_m: 1, height_m: 3)"), None),
        (block("b", "at: (0, 0), lift_m: 3", "Box(width_m: 8.3, depth_m: 6.3, height_m: 0.3)"), None),
        (block("b", "at: (0, 0)", "Wall(path: [(4, 2), (20, 2)], thickness_m: 0.5, height_m: 2)"), None),
        (block("b", "at: (0, 0)", "Wall(path: [(3.6, 2), (20, 2), (20, 9)], thickness_m: 0.5, height_m: 2)"), None),
        // A wall through it.
        (block("b", "at: (0, 0)", "Wall(path: [(-20, 2), (20, 2)], thickness_m: 0.5, height_m: 2)"), Some(1.25)),
        // A door in its wall, a window hung in it, a tower that rises out of it with half of its base.
        (block("b", "at: (0, -3)", "Box(width_m: 1.4, depth_m: 1.2, height_m: 2.4)"), None),
        (block("b", "at: (0, 0), lift_m: 1", "Box(width_m: 1, depth_m: 6.1, height_m: 1.6)"), None),
        (block("b", "at: (4, 0)", "Box(width_m: 5, depth_m: 5, height_m: 20)"), None),
        // Under its crown, its stays, its floor.
        (block("b", "at: (6, 0)", "Tree(height_m: 9, crown_radius_m: 4, crown_base_m: 2, trunk_radius_m: 0.3)"), None),
        (block("b", "at: (0, 0)", "Stage(width_m: 12, depth_m: 9, floor_m: 6)"), None),
        // In its court, in its notch, and in its wings.
        (block("b", "at: (0, 0)", court), None),
        (block("b", "at: (10, 0)", court), Some(5.0)),
        (block("b", "at: (-7, -6)", angle), None),
        (block("b", "at: (-7, -4)", angle), Some(2.0)),
    ] {
        let text = site(&format!("{house}{other}"), "Plane(height_m: 0)");
        let faults = found_in(&text).0;
        let expected: Vec<_> = expected.map(|by_m| ("overlap", by_m, vec![1, 0])).into_iter().collect();
        assert_eq!(told(&faults), expected, "{other}");
        assert_mended(&text);
    }
    let (faults, model) = found_in(&site(&(house + &block("b", "at: (7.6, 0)", HOUSE)), "Plane(height_m: 0)"));
    assert_eq!(
        faults[0].words(&model.site, Units::M),
        "'b' and 'a' overlap by 0.40 m in plan, over 5.00 m of their height. Move one of them away."
    );
    let Some(Mend { edits, .. }) = &faults[0].mend else { panic!("no mend") };
    let [MendEdit::Block(1, moved)] = edits.as_slice() else { panic!("{edits:?}") };
    assert_eq!(moved.at, (8.0, 0.0));
}

#[test]
fn a_deck_open_to_anyone_wants_a_way_up() {
    let stage = |at: &str, deck: &str| {
        block("b", &format!("at: {at}, deck: ({deck})"), "Box(width_m: 4, depth_m: 4, height_m: 1.8)")
    };
    let steps = |at: &str| block("c", &format!("at: {at}"), "Steps(width_m: 2, going_m: 0.3, rise_m: 0.18, count: 10)");
    let house = block("a", "at: (30, 30)", HOUSE);
    for (blocks, expected) in [
        (stage("(0, 0)", ""), vec![("out of reach", 1.8, vec![1])]),
        (stage("(0, 0)", "access: Ask"), vec![]),
        (stage("(0, 0)", "access: Closed"), vec![]),
        // The flight is 3 m long and climbs north, up to the south side of the stage.
        (stage("(0, 0)", "") + &steps("(0, -3.5)"), vec![]),
        (stage("(0, 0)", "") + &steps("(0, -5)"), vec![("out of reach", 1.8, vec![1])]),
        (stage("(0, 0)", "") + &steps("(0, 3.5)"), vec![("out of reach", 1.8, vec![1])]),
        (block("b", "at: (0, 0), deck: ()", "Box(width_m: 4, depth_m: 4, height_m: 0.3)"), vec![]),
    ] {
        assert_eq!(told(&found(&format!("{house}{blocks}"))), expected, "{blocks}");
    }
    // Where the hill comes up to it, one walks on.
    let hill = "Grid((south_west: (-50, -50), spacing_m: (100, 100), rows: [[50, 50], [0, 0]]))";
    // A hill of one in two is 1 m higher at the north side, where a deck of 1.2 m is a step of 0.2 m.
    let low = block("b", "at: (0, 0), deck: ()", "Box(width_m: 4, depth_m: 4, height_m: 1.2)");
    assert_eq!(told(&found_in(&site(&(house + &low), hill)).0), []);
}

#[test]
fn subject_and_front_are_asked_for() {
    let text = |head: &str, blocks: &str| format!("(format: 1, name: \"t\", {head} blocks: [{blocks}])");
    let nothing = text("", "");
    assert_eq!(told(&found_in(&nothing).0), [("no subject", 0.0, vec![])]);
    let none = text(
        "",
        "(name: \"low\", at: (0, 0), shape: Dome(radius_m: 1, height_m: 1)), \
        (name: \"high\", at: (9, 0), shape: Dome(radius_m: 1, height_m: 2))",
    );
    assert_eq!(told(&found_in(&none).0), [("no subject", 0.0, vec![1])]);
    assert_mended(&none);
    let flat = text("front: Any,", &block("a", "at: (0, 0)", "Box(width_m: 8, depth_m: 6, height_m: 0.3)"));
    assert_eq!(told(&found_in(&flat).0), [("flat", 0.3, vec![0])]);
    // The larger walls of the house look north and south of its heading; the first of them is taken.
    let unnamed = text("", &block("a", "at: (0, 0), heading_deg: 30", HOUSE));
    let (faults, model) = found_in(&unnamed);
    let Some(Mend { edits, .. }) = &faults[0].mend else { panic!("no mend") };
    let [MendEdit::Front(Front::Bearing(toward_deg))] = edits.as_slice() else { panic!("{edits:?}") };
    assert!([30.0, 210.0].contains(toward_deg));
    assert!(faults[0].words(&model.site, Units::M).starts_with("No front is named"));
    assert_mended(&unnamed);
    // A round tower has no front.
    let round = text("", &block("a", "at: (0, 0)", "RoundTaper(foot_radius_m: 2, head_radius_m: 1, height_m: 9)"));
    assert_eq!(told(&found_in(&round).0), []);
}

#[test]
fn ten_thousand_blocks_are_looked_at() {
    // A town of detached houses, each tenth pair of which stands 0.5 m in one another, and each hundredth of which floats.
    let mut blocks = String::new();
    for index in 0..10_000_usize {
        let (column, row) = (index % 100, index / 100);
        let aside_m = if index % 20 == 1 { -2.5 } else { 0.0 };
        let lift = if index % 100 == 50 { "lift_m: 1, " } else { "" };
        let at = (column as f64 * 10.0 + aside_m, row as f64 * 12.0);
        blocks += &format!("(name: \"{index}\", subject: {}, {lift}at: {at:?}, shape: {HOUSE}),", index == 0);
    }
    let text = site(&blocks, "Plane(height_m: 0)");
    let model = Model::build(parse_site(&text, "t").expect("good"));
    let found = faults(&model);
    assert_eq!(found.iter().filter(|fault| matches!(fault.kind, FaultKind::Overlap { .. })).count(), 500);
    assert_eq!(found.iter().filter(|fault| matches!(fault.kind, FaultKind::Floats { .. })).count(), 100);
    assert_eq!(found.len(), 600);
}

mod properties {
    use proptest::prelude::*;

    use super::*;
    use crate::site::{PlanPoint, Shape, plan_base};

    fn rectangle() -> impl Strategy<Value = Vec<PlanPoint>> {
        (-6.0..6.0_f64, -6.0..6.0_f64, 0.0..360.0_f64, 0.5..6.0_f64, 0.5..6.0_f64).prop_map(
            |(x, y, heading_deg, w, d)| {
                let shape = Shape::Box { width_m: w, depth_m: d, height_m: 1.0 };
                plan_base(&Block { heading_deg, ..Block::new("x", (x, y), shape) })
            },
        )
    }

    fn shared_m2(one: &[PlanPoint], two: &[PlanPoint]) -> f64 {
        let polygon = |corners: &[PlanPoint]| Polygon::new(LineString::from(corners.to_vec()), Vec::new());
        polygon(one).intersection(&polygon(two)).unsigned_area()
    }

    fn aside(outline: &[PlanPoint], (east, north): PlanPoint) -> Vec<PlanPoint> {
        outline.iter().map(|at| (at.0 + east, at.1 + north)).collect()
    }

    proptest! {
        /// Held to the areas that a general-purpose library finds.
        #[test]
        fn the_depth_is_what_has_to_be_moved(one in rectangle(), two in rectangle()) {
            let depth = depth(&one, &two);
            let shared = shared_m2(&one, &two);
            prop_assert_eq!(depth.by_m > 1e-6, shared > 1e-9, "{:?} {}", depth, shared);
            if depth.by_m > 1e-3 {
                let away = |by_m: f64| aside(&two, (depth.way.0 * by_m, depth.way.1 * by_m));
                prop_assert!(shared_m2(&one, &away(depth.by_m + 1e-6)) < 1e-9);
                // No shorter way clears it.
                for turn in 0..36 {
                    let (sine, cosine) = f64::from(turn * 10).to_radians().sin_cos();
                    let by_m = 0.99 * depth.by_m;
                    prop_assert!(shared_m2(&one, &aside(&two, (by_m * sine, by_m * cosine))) > 0.0);
                }
            }
        }
    }
}
