//! Does a group that was mirrored or repeated measure as one that a person wrote down?

use plumbsight::appraise::Account;
use plumbsight::site::{
    Aim, Block, PlanLine, Repeat, Site, Stance, mirrored, moved, named_anew, parse_site, repeated, write_new,
};
use plumbsight::survey::{MeasureSettings, Measured, Survey};

use crate::support::surveyed::{stance, surveyed, turned};

/// A church with a leaning tower, a bent wall and an angled hall, west of the meridian through x = 10.
const GROUP: &str = r#"Site(format: 1, name: "group", blocks: [
    (name: "tower", subject: true, at: (0, 0), heading_deg: 20, shape: Box(width_m: 6, depth_m: 5, height_m: 24)),
    (name: "hall", subject: true, at: (-8, 2), heading_deg: 350, shape: Gable(width_m: 9, depth_m: 6, eaves_m: 5, ridge_m: 8)),
    (name: "angle", at: (-3, -16), heading_deg: 45, shape: Prism(outline: [(0, 0), (6, 0), (6, 2), (2, 2), (2, 5), (0, 5)], height_m: 3)),
    (name: "wall", at: (-6, -10), shape: Wall(path: [(-4, 0), (3, 1), (5, 4)], thickness_m: 0.4, height_m: 2)),
    (name: "pole", at: (5, -9), leans: (by_deg: 5, toward_deg: 60), shape: RoundTaper(foot_radius_m: 0.2, head_radius_m: 0.1, height_m: 9)),
    (name: "front", at: (3, 12), heading_deg: 100, shape: Facade(width_m: 9, depth_m: 4, height_m: 8, bays: 3, storeys: 2)),
])"#;

/// The same in a mirror along the meridian through x = 10, reckoned by hand: x becomes 20 − x, a heading 360° less itself, and
/// a corner's own x its opposite.
const MIRRORED: &str = r#"Site(format: 1, name: "group", blocks: [
    (name: "tower", subject: true, at: (20, 0), heading_deg: 340, shape: Box(width_m: 6, depth_m: 5, height_m: 24)),
    (name: "hall", subject: true, at: (28, 2), heading_deg: 10, shape: Gable(width_m: 9, depth_m: 6, eaves_m: 5, ridge_m: 8)),
    (name: "angle", at: (23, -16), heading_deg: 315, shape: Prism(outline: [(0, 0), (-6, 0), (-6, 2), (-2, 2), (-2, 5), (0, 5)], height_m: 3)),
    (name: "wall", at: (26, -10), shape: Wall(path: [(4, 0), (-3, 1), (-5, 4)], thickness_m: 0.4, height_m: 2)),
    (name: "pole", at: (15, -9), leans: (by_deg: 5, toward_deg: 300), shape: RoundTaper(foot_radius_m: 0.2, head_radius_m: 0.1, height_m: 9)),
    (name: "front", at: (17, 12), heading_deg: 260, shape: Facade(width_m: 9, depth_m: 4, height_m: 8, bays: 3, storeys: 2)),
])"#;

fn with(site: &Site, blocks: Vec<Block>) -> Survey {
    surveyed(&write_new(&Site { blocks, ..site.clone() }), "group")
}

fn measured(survey: &Survey, stance: &Stance) -> Measured {
    survey.measure(stance, &MeasureSettings::default()).unwrap_or_else(|error| panic!("{error}"))
}

fn near(one: Option<f64>, other: Option<f64>, tolerance: f64) -> bool {
    match (one, other) {
        (Some(one), Some(other)) => (one - other).abs() <= tolerance,
        (one, other) => one.is_none() && other.is_none(),
    }
}

fn assert_same_in_a_mirror(one: &Account, other: &Account) {
    let angle = |account: &Account| account.convergence.map(|convergence| convergence.angle().degrees());
    assert!(angle(one).is_some() && near(angle(one), angle(other), 1e-8));
    let lean = |account: &Account, sign: f64| account.largest_lean.map(|lean| sign * lean.degrees());
    assert!(lean(one, 1.0).is_some(), "no lean");
    // Where both sides lean alike, either may be called the largest.
    let is_opposite = near(lean(one, 1.0), lean(other, -1.0), 1e-7);
    assert!(
        is_opposite || near(lean(one, 1.0), lean(other, 1.0), 1e-7),
        "{:?} {:?}",
        one.largest_lean,
        other.largest_lean
    );
    let detail = |account: &Account| account.lowest_detail.map(|(detail, _)| detail.px_per_m);
    // The surface is sampled, and another way round in a mirror.
    assert!(near(detail(one), detail(other), 0.02 * detail(one).expect("a detail")));
    assert!(near(one.visible_share, other.visible_share, 0.05), "{:?} {:?}", one.visible_share, other.visible_share);
    assert!(near(one.in_frame_share, other.in_frame_share, 0.05));
    assert_eq!(one.whole_in_frame, other.whole_in_frame);
}

#[test]
fn a_mirrored_group_measures_as_one_written_by_hand() {
    let group = parse_site(GROUP, "group").expect("good");
    let by_hand = parse_site(MIRRORED, "group").expect("good");
    let line = PlanLine { through: (10.0, 33.0), bearing_deg: 0.0 };
    let blocks: Vec<Block> = group.blocks.iter().map(|block| mirrored(block, line)).collect();
    assert_eq!(blocks, by_hand.blocks);
    let (survey, hand) = (with(&group, blocks), surveyed(MIRRORED, "group"));
    let before = surveyed(GROUP, "group");
    for (at, aim, mirrored_aim) in [
        ((-4.0, -40.0), Aim::Fill, Aim::Fill),
        ((-30.0, -25.0), turned(48.0, 12.0, 3.0), turned(312.0, 12.0, -3.0)),
        ((2.0, -30.0), Aim::At(-2.0, 1.0, 12.0), Aim::At(22.0, 1.0, 12.0)),
    ] {
        let there = stance((20.0 - at.0, at.1), 1.6, "24 mm", mirrored_aim);
        let (one, other) = (measured(&survey, &there), measured(&hand, &there));
        assert_eq!(one, other);
        assert_same_in_a_mirror(&one.account, &measured(&before, &stance(at, 1.6, "24 mm", aim)).account);
    }
}

#[test]
fn a_repeated_group_measures_as_one_written_by_hand() {
    let group = parse_site(GROUP, "group").expect("good");
    let copies = named_anew(repeated(&group.blocks, (30.0, 12.0), Repeat::Count(2)), &group.blocks);
    // By hand: the group again 15 m east and 6 m north, and again.
    let mut by_hand = group.blocks.clone();
    for number in [1_u32, 2] {
        for block in &group.blocks {
            let shift = f64::from(number);
            let at = (block.at.0 + 15.0 * shift, block.at.1 + 6.0 * shift);
            by_hand.push(Block { at, name: format!("{} {}", block.name, number + 1), ..block.clone() });
        }
    }
    let blocks: Vec<Block> = group.blocks.iter().cloned().chain(copies).collect();
    assert_eq!(blocks, by_hand);
    let (survey, hand) = (with(&group, blocks), with(&group, by_hand));
    for at in [(10.0, -60.0), (-40.0, -20.0)] {
        let here = stance(at, 1.6, "24 mm", Aim::Fill);
        assert_eq!(measured(&survey, &here), measured(&hand, &here));
    }
    // A site that is moved as a whole is seen the same from where one moves along.
    let all: Vec<Block> = group.blocks.iter().map(|block| moved(block, (100.0, -50.0))).collect();
    let (one, other) = (
        measured(&with(&group, all), &stance((96.0, -90.0), 1.6, "24 mm", Aim::Fill)),
        measured(&surveyed(GROUP, "group"), &stance((-4.0, -40.0), 1.6, "24 mm", Aim::Fill)),
    );
    let degrees = |measured: &Measured| measured.account.convergence.map(|convergence| convergence.angle().degrees());
    assert!(near(degrees(&one), degrees(&other), 1e-9));
    assert!(near(one.account.visible_share, other.account.visible_share, 1e-12));
}
