//! Does the search find what looking at every place one by one finds?
//!
//! The brute force here knows nothing of the search but its criteria: every place, height, lens and aim is taken up and
//! measured in full, with a ray for every point.

use std::cmp::Ordering;

use plumbsight::angle::Angle;
use plumbsight::optics::Margins;
use plumbsight::outline::Subject;
use plumbsight::pose::WorldPoint;
use plumbsight::progress::Progress;
use plumbsight::search::{
    Answer, Change, Criteria, CriteriaError, MapFigure, Piece, PieceError, PlaceStatus, Rank, Rungs, Search,
    SightMethod,
};
use plumbsight::site::{Access, Aim, Stance, Support};
use plumbsight::survey::Survey;
use plumbsight::{appraise::Measures, stance::stand};

use crate::support::surveyed::{surveyed, surveyed_blocks};

/// A yard with all that makes sight hard: roofs, a tree with a crown over the ground, a stage to stand on and beneath, a
/// hung sign, a wall of many corners, closed ground, and a subject of three blocks of which none is convex alone.
const YARD: &str = r#"Site(format: 1, name: "yard",
    terrain: Plane(height_m: 0.5),
    blocks: [
        (name: "tower", subject: true, at: (0.3, 0.2), heading_deg: 17, shape: PolygonTaper(sides: 4, foot_across_m: 6, head_across_m: 5, height_m: 22)),
        (name: "lantern", subject: true, at: (0.3, 0.2), base_m: 22.5, heading_deg: 17, shape: Box(width_m: 3, depth_m: 3, height_m: 4)),
        (name: "cornice", subject: true, at: (0.3, 0.2), base_m: 21, heading_deg: 17, shape: Box(width_m: 6, depth_m: 6, height_m: 0.6)),
        (name: "house", at: (-14, 9), heading_deg: 33, shape: Gable(width_m: 10, depth_m: 7, eaves_m: 4, ridge_m: 8)),
        (name: "shed", at: (11, -9), heading_deg: -20, shape: Hip(width_m: 8, depth_m: 6, eaves_m: 3, ridge_m: 5, ridge_length_m: 3)),
        (name: "elm", at: (9, 13), shape: Tree(height_m: 11, crown_radius_m: 4, crown_base_m: 3, trunk_radius_m: 0.3), finish: Leaf),
        (name: "stage", at: (-6, -17), heading_deg: 10, shape: Stage(width_m: 6, depth_m: 4, floor_m: 2.6, rail_m: 1.0), deck: (access: Ask)),
        (name: "sign", at: (4, -12), lift_m: 2.4, heading_deg: 40, shape: Box(width_m: 4, depth_m: 0.3, height_m: 1.5)),
        (name: "wall", at: (0, 0), shape: Wall(path: [(-20, -8), (-11, -6), (-10, -12)], thickness_m: 0.4, height_m: 2.2)),
        (name: "front", at: (20, 4), heading_deg: 100, shape: Facade(width_m: 10, depth_m: 6, height_m: 9, bays: 3, storeys: 3)),
        (name: "tank", at: (-3, 15), shape: RoundTaper(foot_radius_m: 2, head_radius_m: 2, height_m: 5)),
        (name: "steps", at: (5, 7), shape: Steps(width_m: 3, going_m: 0.4, rise_m: 0.2, count: 6)),
    ],
    grounds: [
        (name: "lawn", access: Closed, outline: [(-30, 14), (-8, 14), (-8, 30), (-30, 30)]),
        (name: "court", access: Ask, outline: [(2, -30), (30, -30), (30, -16), (2, -16)]),
    ])"#;

fn yard() -> Survey {
    surveyed(YARD, "yard")
}

fn criteria() -> Criteria {
    Criteria {
        spacing_m: 3.0,
        heights_m: vec![0.9, 1.6, 3.5],
        lenses: ["14 mm", "24-70 mm", "70-200 mm"].map(String::from).to_vec(),
        aims: vec![Aim::Fill, Aim::Level],
        seen_share: 0.85,
        distance_m: (4.0, 28.0),
        access: Access::Ask,
        from: Some((-6.0, -20.0)),
        difference_m: 6.0,
        places: 12,
        ..Criteria::default()
    }
}

fn run(survey: &Survey, criteria: &Criteria, looking: SightMethod) -> Answer {
    let search = Search::new(survey, criteria.clone()).unwrap_or_else(|error| panic!("{error}")).looking(looking);
    search.run(&Progress::unwatched(), &|_| {}).expect("nobody cancels")
}

/// One candidate as measuring it gives it.
#[derive(Clone, Debug)]
struct Measured {
    stance: Stance,
    /// The bearing from the subject's middle, ground or deck, and the height, lens and aim by their index.
    bearing_deg: f64,
    kind: (bool, usize, usize, usize),
    feet_m: f64,
    lean_deg: f64,
    convergence_deg: f64,
    detail_px_per_m: f64,
    filled_share: f64,
    effort_m: f64,
    focal_mm: f64,
    meets: bool,
}

/// Everything that a person could do one after the other.
fn by_hand(survey: &Survey, criteria: &Criteria) -> Vec<Vec<Measured>> {
    let model = &survey.model;
    let subject = Subject::with_samples(model, criteria.samples).expect("a subject");
    let from = criteria.from.map(|at| (at, model.footing(at, None).expect("ground").height_m));
    let lattice = *Search::new(survey, criteria.clone()).expect("criteria in order").lattice();
    let mut places = Vec::new();
    for row in 0..lattice.rows {
        for column in 0..lattice.columns {
            let at = lattice.at(column, row);
            let mut found = Vec::new();
            let mut stands = vec![None];
            stands.extend(
                model
                    .decks
                    .iter()
                    .filter(|deck| deck.open_below)
                    .map(|deck| Some(model.site.blocks[deck.block].name.as_str())),
            );
            for on in stands {
                let Ok(footing) = model.footing(at, on) else { continue };
                if footing.access > criteria.access
                    || footing.access == Access::Closed
                    || footing.support == Support::Water
                {
                    continue;
                }
                let eye = |height_m: f64| WorldPoint::new(at.0, at.1, footing.height_m + height_m);
                for (height, &height_m) in criteria.heights_m.iter().enumerate() {
                    if model.block_around(&eye(0.1)).is_some() {
                        continue;
                    }
                    for (lens_index, lens) in criteria.lenses.iter().enumerate() {
                        for (aim_index, &aim) in criteria.aims.iter().enumerate() {
                            if aim == Aim::Rise && survey.kit.lens(lens).expect("known").rise_mm == 0.0 {
                                continue;
                            }
                            let stance = Stance {
                                height_m,
                                on: on.map(String::from),
                                lens: lens.clone(),
                                aim,
                                margins: criteria.margins,
                                ..Stance::plain("by hand", at)
                            };
                            let Ok(standing) = stand(model, Some(&subject), &stance, &survey.kit) else { continue };
                            let account = plumbsight::appraise::appraise(
                                model,
                                Ok(&subject),
                                Some(&survey.sight),
                                &standing,
                                &Measures::default(),
                            );
                            let Some(distance_m) = account.distance_m else { continue };
                            if !(criteria.distance_m.0..=criteria.distance_m.1).contains(&distance_m) {
                                continue;
                            }
                            let (walk_m, climb_m) = from.map_or((0.0, 0.0), |((x, y), feet_m): ((f64, f64), f64)| {
                                ((at.0 - x).hypot(at.1 - y), (footing.height_m - feet_m).max(0.0))
                            });
                            let lean_deg = account.largest_lean.map_or(f64::NAN, Angle::degrees);
                            let detail = account.lowest_detail.map(|(detail, _)| detail.px_per_m);
                            let (east, north) = (at.0 - subject.middle.x, at.1 - subject.middle.y);
                            let convergence = account.convergence.map(|convergence| convergence.angle().degrees());
                            found.push(Measured {
                                bearing_deg: east.atan2(north).to_degrees().rem_euclid(360.0),
                                kind: (matches!(footing.support, Support::Deck(_)), height, lens_index, aim_index),
                                feet_m: footing.height_m,
                                lean_deg,
                                convergence_deg: convergence.unwrap_or(f64::NAN),
                                detail_px_per_m: detail.unwrap_or(f64::NAN),
                                filled_share: standing.fullness.unwrap_or(f64::NAN),
                                effort_m: walk_m + 7.92 * (climb_m + (height_m - 2.1).max(0.0)),
                                focal_mm: standing.camera.focal_mm,
                                meets: account.visible_share.is_some_and(|share| share >= criteria.seen_share)
                                    && standing.fullness.is_some_and(|fullness| fullness <= 1.0 + 1e-7)
                                    && standing
                                        .fullness
                                        .is_some_and(|fullness| fullness + 1e-9 >= criteria.filled_share)
                                    && criteria.largest_lean_deg.is_none_or(|wanted| lean_deg <= wanted + 1e-9)
                                    && criteria
                                        .detail_px_per_m
                                        .is_none_or(|wanted| detail.is_some_and(|detail| detail >= wanted)),
                                stance,
                            });
                        }
                    }
                }
            }
            places.push(found);
        }
    }
    places
}

/// By rank, each figure to what is shown of it: tenths of a degree, metres, pixels a metre, hundredths of the frame.
fn better(criteria: &Criteria, a: &Measured, b: &Measured) -> Ordering {
    let rounded = |value: f64, steps: f64| if value.is_nan() { i64::MAX } else { (value * steps).round() as i64 };
    let key = |m: &Measured| {
        let (lean, walk) = (rounded(m.lean_deg, 10.0), rounded(m.effort_m, 1.0));
        let (detail, filled) = (-rounded(m.detail_px_per_m, 1.0), -rounded(m.filled_share.min(1.0), 100.0));
        let longer = -rounded(m.focal_mm, 1.0);
        match criteria.rank {
            Rank::Upright if m.lean_deg <= criteria.upright_deg + 1e-9 => [0, walk, detail, filled],
            Rank::Upright => [lean.max(1), walk, detail, filled],
            Rank::Lean => [lean, walk, longer, filled],
            Rank::Detail => [detail, walk, longer, filled],
            Rank::Effort => [walk, lean, longer, filled],
            Rank::Light => unreachable!("`search_light` ranks by light"),
        }
    };
    key(a).cmp(&key(b))
}

/// Whether one is another kind of standpoint than the other: seen from the subject an eighth of a turn apart, at another
/// height or on a deck; or with another lens or aim, where that shows.
fn differ(a: &Measured, b: &Measured) -> bool {
    let turn = (a.bearing_deg - b.bearing_deg).rem_euclid(360.0);
    let tenths = |m: &Measured| (m.convergence_deg * 10.0).round();
    let shows = a.focal_mm.max(b.focal_mm) / a.focal_mm.min(b.focal_mm) >= 1.25 || tenths(a) != tenths(b);
    turn.min(360.0 - turn) >= 45.0
        || (a.kind.0, a.kind.1) != (b.kind.0, b.kind.1)
        || (shows && (a.kind.2, a.kind.3) != (b.kind.2, b.kind.3))
}

/// The best of each kind in each of 32 directions, in the order of rank, of which each differs from all before it.
fn list_by_hand(places: &[Vec<Measured>], criteria: &Criteria) -> Vec<Stance> {
    let mut kinds: Vec<&Measured> = Vec::new();
    let direction = |m: &Measured| (m.bearing_deg / 360.0 * 32.0) as usize % 32;
    for measured in places.iter().flatten().filter(|m| m.meets) {
        match kinds.iter_mut().find(|m| (m.kind, direction(m)) == (measured.kind, direction(measured))) {
            Some(known) if better(criteria, measured, known) == Ordering::Less => *known = measured,
            Some(_) => {}
            None => kinds.push(measured),
        }
    }
    // Of equals the one that was looked at first.
    let order = |m: &Measured| {
        let first = places.iter().position(|found| found.iter().any(|other| std::ptr::eq(other, m)));
        (first, m.kind.0, m.kind)
    };
    kinds.sort_by(|a, b| better(criteria, a, b).then_with(|| order(a).cmp(&order(b))));
    let mut chosen: Vec<&Measured> = Vec::new();
    for measured in kinds {
        let is_new = |other: &&Measured| {
            let (a, b) = (measured.stance.at, other.stance.at);
            let apart_m = (a.0 - b.0).hypot(a.1 - b.1).hypot(measured.feet_m - other.feet_m);
            apart_m >= criteria.difference_m && differ(measured, other)
        };
        if chosen.len() < criteria.places && chosen.iter().all(is_new) {
            chosen.push(measured);
        }
    }
    chosen.into_iter().map(|measured| measured.stance.clone()).collect()
}

/// A stance without the name it was listed by.
fn nameless(stance: &Stance) -> Stance {
    Stance { name: String::new(), ..stance.clone() }
}

#[test]
fn the_search_finds_what_measuring_every_candidate_finds() {
    let survey = yard();
    for criteria in [
        criteria(),
        Criteria {
            largest_lean_deg: Some(4.0),
            filled_share: 0.8,
            aims: vec![Aim::Fill, Aim::LeastTilt],
            margins: Some(Margins { side: 0.12, above: 0.02 }),
            ..criteria()
        },
        Criteria { detail_px_per_m: Some(90.0), samples: 64, seen_share: 0.7, aims: vec![Aim::Fill], ..criteria() },
    ] {
        // What meets the requirements does not depend on how it is ranked.
        let places = by_hand(&survey, &criteria);
        let met = places.iter().filter(|found| found.iter().any(|m| m.meets)).count();
        assert!(met > 10, "{met} places");
        for rank in [Rank::Upright, Rank::Lean, Rank::Detail, Rank::Effort] {
            let criteria = Criteria { rank, ..criteria.clone() };
            let answer = run(&survey, &criteria, SightMethod::Swept);
            // Decks too small for the lattice are looked at besides, at a place of their own each.
            let (columns, rows) = (answer.map.columns(), answer.map.rows());
            let on_map = (0..rows).flat_map(|row| (0..columns).map(move |column| (column, row)));
            assert_eq!(on_map.filter(|&(column, row)| answer.map.meets(column, row)).count(), met);
            let besides = (answer.met as usize).checked_sub(met).expect("at least those on the map");
            assert!(besides <= survey.model.decks.len(), "{besides} places besides");
            for (index, found) in places.iter().enumerate() {
                let (column, row) = (index as u32 % answer.map.columns(), index as u32 / answer.map.columns());
                let best = found.iter().filter(|m| m.meets).min_by(|a, b| better(&criteria, a, b));
                assert_eq!(answer.map.meets(column, row), best.is_some(), "place {column}, {row}");
                let Some(best) = best else { continue };
                for (figure, by_hand) in [
                    (MapFigure::LargestLean, best.lean_deg),
                    (MapFigure::Filled, best.filled_share.min(1.0)),
                    (MapFigure::Detail, best.detail_px_per_m),
                ] {
                    let value = answer.map.value(column, row, figure).expect("found");
                    assert!((value - by_hand).abs() < 1e-7 * (1.0 + by_hand), "{figure:?}: {value} for {by_hand}");
                }
            }
            let by_hand = list_by_hand(&places, &criteria);
            let listed: Vec<Stance> = answer.ranked.iter().map(|ranked| nameless(&ranked.stance)).collect();
            let by_hand: Vec<Stance> = by_hand.iter().map(nameless).collect();
            assert!(listed.len() >= 3);
            assert_eq!(listed, by_hand, "{rank:?}");
        }
    }
}

/// What a map shows at a place is a stance, and taking it up measures just that.
#[test]
fn every_place_of_a_map_is_a_stance_with_the_figures_that_the_map_shows() {
    let survey = yard();
    let criteria = Criteria { aims: plumbsight::search::AIMS.to_vec(), largest_lean_deg: Some(2.0), ..criteria() };
    let search = Search::new(&survey, criteria.clone()).expect("requirements");
    let answer = search.run(&Progress::unwatched(), &|_| {}).expect("nobody cancels");
    let map = &answer.map;
    let (mut taken_up, mut kinds) = (0, std::collections::BTreeSet::new());
    for (column, row) in (0..map.rows()).flat_map(|row| (0..map.columns()).map(move |column| (column, row))) {
        let Some(stance) = search.stance_at(map, column, row) else {
            assert!(map.value(column, row, MapFigure::Filled).is_none() && !map.meets(column, row));
            continue;
        };
        assert_eq!(stance.at, map.lattice().at(column, row));
        let combination = map.combination(column, row).expect("what the stance is made of");
        assert_eq!(stance.lens, criteria.lenses[combination.lens]);
        assert_eq!(stance.height_m, criteria.heights_m[combination.height]);
        let measured = survey.measure(&stance, &Default::default()).expect("a stance");
        let near = |a: Option<f64>, b: Option<f64>| match (a, b) {
            (Some(a), Some(b)) => (a - b).abs() < 1e-6 * (1.0 + a.abs()),
            (a, b) => a.is_none() && b.is_none(),
        };
        let lean_deg = measured.account.largest_lean.map(Angle::degrees);
        assert!(near(map.value(column, row, MapFigure::LargestLean), lean_deg), "{stance:?}");
        let detail = measured.account.lowest_detail.map(|(detail, _)| detail.px_per_m);
        assert!(near(map.value(column, row, MapFigure::Detail), detail), "{stance:?}");
        let filled = measured.standing.fullness.map(|share| share.min(1.0));
        assert!(near(map.value(column, row, MapFigure::Filled), filled), "{stance:?}");
        assert!(near(Some(combination.focal_mm), Some(measured.standing.camera.focal_mm)));
        taken_up += 1;
        kinds.insert((stance.lens.clone(), stance.aim.key(), stance.on.is_some()));
    }
    assert!(taken_up > 100 && kinds.len() > 2, "{taken_up} {kinds:?}");
}

#[test]
fn what_is_listed_on_the_demo_sites_differs_in_kind_and_fills_the_frame() {
    for scene in plumbsight::scenes::SCENES {
        let survey = surveyed(scene.text, scene.name);
        let front_deg = Some(plumbsight::search::ANY_SIDE_DEG);
        let criteria =
            Criteria { spacing_m: 6.0, samples: 100, distance_m: (5.0, 150.0), front_deg, ..Criteria::default() };
        let answer = run(&survey, &criteria, SightMethod::Swept);
        assert!(answer.ranked.len() > 2, "{}: {}", scene.name, answer.ranked.len());
        for (index, found) in answer.ranked.iter().enumerate() {
            assert!(found.figures.fullness.is_some_and(|share| (0.5 - 1e-9..=1.0 + 1e-9).contains(&share)));
            for other in &answer.ranked[..index] {
                let (a, b) = (found.stance.at, other.stance.at);
                assert!((a.0 - b.0).hypot(a.1 - b.1) >= 14.0, "{}: {a:?} {b:?}", scene.name);
                let words = |ranked: &plumbsight::search::Ranked| {
                    let place = String::from(ranked.place.clone());
                    let direction = place.rsplit(' ').next().unwrap_or_default().to_owned();
                    (direction, ranked.stance.lens.clone(), ranked.stance.aim.key(), ranked.figures.focal_mm.round())
                };
                assert_ne!(words(found), words(other), "{}", scene.name);
            }
        }
        // Upright ones come first, by the walk.
        let rank = |ranked: &plumbsight::search::Ranked| {
            let upright = ranked.figures.largest_lean_deg.is_some_and(|lean_deg| lean_deg <= 0.6 + 1e-9);
            (!upright, if upright { ranked.figures.effort_m.round() as i64 } else { 0 })
        };
        assert!(answer.ranked.is_sorted_by_key(rank), "{}", scene.name);
    }
}

/// A hall with a named front: what is listed stands before it, and the angle to it is that of the line of sight.
#[test]
fn a_named_front_is_searched_from_before_it() {
    let hall = |front: &str| {
        surveyed(
            &format!(
                "Site(format: 1, name: \"hall\", {front} blocks: [(name: \"hall\", subject: true, at: (0, 0), heading_deg: 20, \
                 shape: Box(width_m: 24, depth_m: 12, height_m: 9))])"
            ),
            "hall",
        )
    };
    let criteria =
        Criteria { spacing_m: 4.0, samples: 64, distance_m: (5.0, 60.0), difference_m: 10.0, ..Criteria::default() };
    // Of the wall that looks toward 110°, whose middle lies 12 m that way: by hand.
    let by_hand = |(east, north): (f64, f64)| {
        let toward = 110_f64.to_radians();
        let (x, y) = (east - 12.0 * toward.sin(), north - 12.0 * toward.cos());
        let off = x.atan2(y).to_degrees() - 110.0;
        ((off + 180.0).rem_euclid(360.0) - 180.0).abs()
    };
    let survey = hall("front: Bearing(110),");
    let mut met = Vec::new();
    for (front_deg, least, most) in [
        (None, 0.0, 60.0),
        (Some(plumbsight::search::SQUARE_DEG), 0.0, 15.0),
        (Some((30.0, 60.0)), 30.0, 60.0),
        (Some((0.0, 180.0)), 0.0, 180.0),
    ] {
        let answer = run(&survey, &Criteria { front_deg, ..criteria.clone() }, SightMethod::Swept);
        let map = &answer.map;
        for (column, row) in (0..map.rows()).flat_map(|row| (0..map.columns()).map(move |column| (column, row))) {
            let Some(shown) = map.value(column, row, MapFigure::Front) else { continue };
            let angle = by_hand(map.lattice().at(column, row));
            assert!((shown - angle).abs() < 1e-6, "{shown} for {angle}");
            assert!(!map.meets(column, row) || (least - 1e-6..=most + 1e-6).contains(&angle), "{front_deg:?}: {angle}");
        }
        assert!(answer.ranked.len() > 1);
        for found in &answer.ranked {
            let told = found.figures.front_deg.expect("a front");
            assert!((told.abs() - by_hand(found.stance.at)).abs() < 1e-6, "{told}");
        }
        met.push(answer.met);
    }
    assert!(met[1] < met[0] && met[2] < met[0] && met[0] < met[3], "{met:?}");
    // Where none is named, none is required.
    assert_eq!(run(&hall(""), &criteria, SightMethod::Swept).met, met[3]);
    assert_eq!(run(&hall("front: Any,"), &criteria, SightMethod::Swept).met, met[3]);
    // What lies before it is closed: the angle opens it.
    let closed = hall(
        "front: Bearing(110), grounds: [(name: \"pond\", access: Closed, outline: [(8, -3), (108, 97), (300, 97), (300, -300), (25, -202)])],",
    );
    let answer = run(&closed, &criteria, SightMethod::Swept);
    assert_eq!(answer.met, 0);
    let opens = answer.openings.iter().find(|opening| matches!(opening.changes[..], [Change::FrontTo(_)]));
    let opens = opens.unwrap_or_else(|| panic!("{:?}", answer.openings));
    assert_eq!(run(&closed, &opens.changed(&criteria), SightMethod::Swept).met, opens.standpoints);
}

/// The requirements as they are but for one step back towards them: by how much less a change would do.
fn one_step_less(change: &Change) -> Option<Change> {
    match change {
        Change::Seen(share) => Some(Change::Seen(share + 0.01)),
        Change::Filled(share) => Some(Change::Filled(share + 0.01)),
        Change::Lean(degrees) => Some(Change::Lean(degrees - 0.1)),
        Change::FrontTo(degrees) => Some(Change::FrontTo(degrees - 1.0)),
        Change::FrontFrom(degrees) => Some(Change::FrontFrom(degrees + 1.0)),
        Change::Detail(px_per_m) => Some(Change::Detail(px_per_m + 1.0)),
        _ => None,
    }
}

/// Each change and each pair opens as many places as the search then finds, none of them without it, and none with a
/// step less.
#[test]
fn what_is_said_to_open_standpoints_opens_as_many() {
    let survey = yard();
    let hopeless = [
        Criteria { largest_lean_deg: Some(0.3), aims: vec![Aim::Fill], seen_share: 0.99, ..criteria() },
        Criteria { detail_px_per_m: Some(400.0), lenses: vec!["24-70 mm".into()], ..criteria() },
        Criteria {
            filled_share: 0.95,
            distance_m: (14.0, 28.0),
            lenses: vec!["14 mm".into()],
            aims: vec![Aim::Fill],
            ..criteria()
        },
        Criteria { inside: vec!["front".into()], seen_share: 0.99, access: Access::Open, ..criteria() },
        Criteria { lenses: vec!["70-200 mm".into()], outside: vec!["house".into()], ..criteria() },
        Criteria { largest_lean_deg: Some(0.2), detail_px_per_m: Some(150.0), heights_m: vec![0.4], ..criteria() },
    ];
    let (mut single, mut double, mut hopeless_ones) = (std::collections::BTreeSet::new(), 0, 0);
    for (number, criteria) in hopeless.into_iter().enumerate() {
        let criteria = Criteria { samples: 48, spacing_m: 4.0, ..criteria };
        let answer = run(&survey, &criteria, SightMethod::Swept);
        if answer.met > 0 {
            assert!(answer.openings.is_empty());
            continue;
        }
        hopeless_ones += 1;
        assert!(!answer.openings.is_empty(), "search {number}");
        let met = |changes: &[Change]| {
            let mut changed = criteria.clone();
            changes.iter().for_each(|change| change.apply(&mut changed));
            run(&survey, &changed, SightMethod::Swept).met
        };
        for opening in &answer.openings {
            assert!(opening.exact && opening.standpoints > 0);
            assert_eq!(met(&opening.changes), opening.standpoints, "search {number}: {:?}", opening.changes);
            for (index, change) in opening.changes.iter().enumerate() {
                let mut less = opening.changes.clone();
                less.remove(index);
                assert_eq!(met(&less), 0, "search {number}: {less:?} of {:?}", opening.changes);
                if let (Some(gentler), [_]) = (one_step_less(change), opening.changes.as_slice()) {
                    assert_eq!(met(&[gentler]), 0, "search {number}: {:?}", opening.changes);
                }
            }
            match opening.changes.as_slice() {
                [only] => {
                    single.insert(format!("{only:?}").split('(').next().unwrap_or_default().to_owned());
                }
                _ => double += 1,
            }
        }
        let rays = run(&survey, &criteria, SightMethod::Rays);
        assert_eq!(answer.openings, rays.openings);
    }
    assert!(hopeless_ones >= 4 && single.len() >= 5 && double >= 4, "{hopeless_ones} {single:?} {double}");
}

#[test]
fn a_listed_places_figures_are_those_of_measuring_it() {
    let survey = yard();
    let answer = run(&survey, &criteria(), SightMethod::Swept);
    let usual = plumbsight::survey::MeasureSettings {
        lean_change: Some(Angle::from_degrees(criteria().tolerance_deg)),
        measures: Measures { seen_share: criteria().seen_share, ..Measures::default() },
        ..Default::default()
    };
    assert!(answer.ranked.len() > 3 && answer.front.len() > 3);
    for found in answer.ranked.iter().chain(&answer.front) {
        let measured = survey.measure(&found.stance, &usual).expect("a stance");
        let (figures, account) = (&found.figures, &measured.account);
        assert_eq!(figures.largest_lean_deg, account.largest_lean.map(Angle::degrees));
        assert_eq!(figures.convergence_deg, account.convergence.map(|convergence| convergence.angle().degrees()));
        assert_eq!(figures.detail_px_per_m, account.lowest_detail.map(|(detail, _)| detail.px_per_m));
        assert_eq!(figures.visible_share, account.visible_share);
        assert_eq!(figures.in_frame_share, account.in_frame_share);
        assert_eq!(figures.distance_m, account.distance_m);
        // The same distance that was required, and that the plan and the columns tell.
        let away_m = account.distance_m.expect("beside the subject");
        assert!((criteria().distance_m.0..=criteria().distance_m.1).contains(&away_m));
        let told = String::from(found.place.clone());
        assert!(told.contains(&format!("{away_m:.0} m ")), "{told}: {away_m} m");
        assert_eq!(figures.focal_mm, measured.standing.camera.focal_mm);
        assert_eq!(figures.pitch_deg, measured.standing.pose.attitude.pitch.degrees());
        // Of the trade-offs nobody asks it.
        let is_listed = answer.ranked.iter().any(|ranked| std::ptr::eq(ranked, found));
        assert_eq!(found.tolerance, measured.tolerance.filter(|_| is_listed));
        assert_eq!(found.tolerance_m.is_some(), is_listed);
        assert_eq!(found.verdict.upright, measured.verdict.upright);
        let megapixels = measured.account.final_picture.and_then(Result::ok).map(|kept| kept.megapixels());
        assert_eq!(found.final_picture.as_ref().and_then(|kept| kept.megapixels), megapixels);
    }
}

/// Everything of an answer that can be told, cell by cell.
fn told(answer: &Answer) -> String {
    let map = &answer.map;
    let mut text = format!("{} {} {} {:?}\n", answer.places, answer.met, answer.candidates, answer.out);
    for figure in MapFigure::ALL {
        text.push_str(&plumbsight::search::esri_grid(map, figure));
    }
    text.push_str(&format!("{:?} {:?}", answer.packing, answer.criteria));
    text.push_str(&serde_json::to_string(&answer.ranked).expect("JSON"));
    text.push_str(&serde_json::to_string(&answer.front).expect("JSON"));
    text.push_str(&serde_json::to_string(&answer.openings).expect("JSON"));
    text
}

#[test]
fn rays_threads_and_pieces_give_the_same_bytes() {
    let survey = yard();
    let criteria =
        Criteria { spacing_m: 1.3, lowest: Some(Rungs { from_m: 0.4, to_m: 5.0, step_m: 0.2 }), ..criteria() };
    let whole = told(&run(&survey, &criteria, SightMethod::Swept));
    assert!(whole == told(&run(&survey, &criteria, SightMethod::Rays)), "rays find something else");
    for threads in [1, 3] {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
        assert!(
            whole == pool.install(|| told(&run(&survey, &criteria, SightMethod::Swept))),
            "{threads} threads find something else"
        );
    }
    for pieces in [1, 4, 7] {
        let written = pieces_of(&survey, &criteria, pieces);
        // In whatever order they come, and without the site and the requirements.
        for turn in 0..2 {
            assert!(
                whole == told(&merged(&written, turn).expect("whole")),
                "{pieces} pieces find something else, turned by {turn}"
            );
        }
    }
}

/// The pieces of a search, as they are written.
fn pieces_of(survey: &Survey, criteria: &Criteria, pieces: usize) -> Vec<Vec<u8>> {
    let search = Search::in_pieces(survey, criteria.clone(), pieces).expect("criteria in order");
    let found = (1..=pieces).map(|piece| {
        let bytes = search.run_piece(piece, pieces, &Progress::unwatched()).expect("found").to_bytes(&search);
        for length in [0, 10, 60, bytes.len() - 1] {
            assert!(Piece::from_bytes(&bytes[..length], &search).is_err());
        }
        bytes
    });
    found.collect()
}

/// What pieces come to, read in another order for every `turn`, from nothing but themselves.
fn merged(written: &[Vec<u8>], turn: usize) -> Result<Answer, CriteriaError> {
    let read: Vec<_> = written.iter().map(|bytes| Piece::open(bytes).expect("a piece")).collect();
    let origin = read[0].0.clone();
    let count = read.len();
    let mut pieces: Vec<Piece> = read.into_iter().map(|(_, piece)| piece).collect();
    pieces.rotate_left(turn * 2 % count);
    if turn % 2 == 1 {
        pieces.reverse();
    }
    let survey = origin.survey().expect("a site");
    let search = Search::in_pieces(&survey, origin.criteria().clone(), origin.pieces())?;
    search.put_together(pieces)
}

/// Where nothing meets every requirement, what would open standpoints comes from the pieces as from the whole.
#[test]
fn pieces_tell_what_would_open_standpoints_and_which_of_them_are_missing() {
    let survey = yard();
    let criteria =
        Criteria { largest_lean_deg: Some(0.3), aims: vec![Aim::Fill], seen_share: 0.99, samples: 64, ..criteria() };
    let whole = run(&survey, &criteria, SightMethod::Swept);
    assert!(whole.met == 0 && whole.openings.len() > 1);
    let written = pieces_of(&survey, &criteria, 6);
    for turn in 0..4 {
        assert!(told(&whole) == told(&merged(&written, turn).expect("whole")), "turned by {turn}");
    }
    let some = |numbers: &[usize]| {
        let some: Vec<Vec<u8>> = numbers.iter().map(|number| written[number - 1].clone()).collect();
        merged(&some, 0).expect_err("not all of them").to_string()
    };
    assert!(some(&[6, 1]).contains("pieces 2 to 5 of 6 are missing"), "{}", some(&[6, 1]));
    assert!(some(&[2, 3, 5, 4]).contains("pieces 1 and 6 of 6 are missing"), "{}", some(&[2, 3, 5, 4]));
    assert!(some(&[6, 5, 4, 2, 1]).contains("piece 3 of 6 is missing"));
    assert!(some(&[1, 2, 2, 3, 4, 5, 6]).contains("piece 2 is there twice"));
}

#[test]
fn on_every_demo_site_what_is_swept_is_what_rays_find() {
    for scene in plumbsight::scenes::SCENES {
        let survey = surveyed(scene.text, scene.name);
        let criteria = Criteria {
            spacing_m: 9.0,
            heights_m: vec![0.9, 1.6, 4.0],
            samples: 100,
            seen_share: 0.6,
            front_deg: Some(plumbsight::search::ANY_SIDE_DEG),
            distance_m: (2.0, 200.0),
            access: Access::Ask,
            lowest: Some(Rungs { from_m: 0.5, to_m: 9.5, step_m: 1.0 }),
            ..Criteria::default()
        };
        let [swept, traced] = [SightMethod::Swept, SightMethod::Rays].map(|looking| run(&survey, &criteria, looking));
        assert!(swept.met > 20, "{}: {} places", scene.name, swept.met);
        assert!(told(&swept) == told(&traced), "{}: rays find something else", scene.name);
    }
}

#[test]
fn pieces_of_another_search_are_refused() {
    let survey = yard();
    let search = Search::in_pieces(&survey, criteria(), 2).expect("criteria in order");
    let piece = search.run_piece(1, 2, &Progress::unwatched()).expect("found");
    let bytes = piece.to_bytes(&search);
    let other = Search::in_pieces(&survey, Criteria { seen_share: 0.5, ..criteria() }, 2).expect("criteria in order");
    let refused = Piece::from_bytes(&bytes, &other).expect_err("other requirements");
    assert!(refused.to_string().contains("other requirements"), "{refused}");
    assert!(matches!(search.put_together(vec![piece]), Err(CriteriaError::Unlike { .. })));
}

/// Whatever happens to a piece on its way is noticed; pieces of older programs are told apart.
#[test]
fn a_damaged_piece_is_refused() {
    let survey = yard();
    let search = Search::in_pieces(&survey, criteria(), 2).expect("a search");
    let bytes = search.run_piece(1, 2, &Progress::unwatched()).expect("found").to_bytes(&search);
    let read = |bytes: &[u8]| Piece::from_bytes(bytes, &search).map(|piece| piece.to_bytes(&search));
    assert_eq!(read(&bytes), Ok(bytes.clone()));
    let line = bytes.iter().position(|byte| *byte == b'\n').expect("the line of the format") + 1;
    let step = bytes.len() / 97;
    for at in (line..bytes.len()).step_by(step.max(1)).chain([line, line + 32, bytes.len() - 1]) {
        let mut damaged = bytes.clone();
        damaged[at] ^= 1;
        assert_eq!(read(&damaged), Err(PieceError::Damaged), "byte {at}");
    }
    for at in 0..line {
        let mut damaged = bytes.clone();
        damaged[at] ^= 1;
        assert!(read(&damaged).is_err(), "byte {at}");
    }
    assert_eq!(read(&[bytes.as_slice(), b"\n"].concat()), Err(PieceError::Damaged));
    assert_eq!(read(&bytes[..line + 8]), Err(PieceError::CutOff));
    for older in [&b"plumbsight piece of a search, format 1\n"[..], b"plumbsight piece of a search, format 2\n"] {
        assert_eq!(read(&[older, &bytes[line..]].concat()), Err(PieceError::Older));
    }
}

#[test]
fn a_higher_wall_shows_nothing_more() {
    let site = |height_m: f64| {
        surveyed_blocks(&format!(
            "(name: \"tower\", subject: true, at: (0, 0), shape: Box(width_m: 5, depth_m: 5, height_m: 18)),
             (name: \"wall\", at: (0, 0), shape: Wall(path: [(-12, -9), (4, -8), (15, -12)], thickness_m: 0.3, height_m: {height_m}))"
        ))
    };
    let criteria = Criteria { spacing_m: 1.0, distance_m: (3.0, 30.0), ..criteria() };
    let mut hidden = 0;
    let (lower, higher) = (site(2.6), site(2.7));
    let (lower, higher) = (run(&lower, &criteria, SightMethod::Swept), run(&higher, &criteria, SightMethod::Swept));
    for row in 0..lower.map.rows() {
        for column in 0..lower.map.columns() {
            let seen = [&lower, &higher].map(|answer| answer.map.value(column, row, MapFigure::Seen));
            if let [Some(below), Some(above)] = seen {
                assert!(above <= below, "{column}, {row}: {below} and then {above}");
                hidden += usize::from(above < below);
            }
        }
    }
    assert!(hidden > 50, "{hidden}");
}

#[test]
fn the_lowest_camera_sees_enough_and_the_rung_below_does_not() {
    let survey = yard();
    let rungs = Rungs { from_m: 0.3, to_m: 6.0, step_m: 0.1 };
    let criteria = Criteria { spacing_m: 2.0, lowest: Some(rungs), lenses: vec!["24-70 mm".into()], ..criteria() };
    let search = Search::new(&survey, criteria.clone()).expect("criteria in order");
    let answer = search.run(&Progress::unwatched(), &|_| {}).expect("found");
    let subject = survey.subject.as_ref().expect("a subject");
    let (mut checked, mut higher, mut failing_again) = (0, 0, 0);
    for row in 0..answer.map.rows() {
        for column in 0..answer.map.columns() {
            let at = answer.map.lattice().at(column, row);
            let Some(lowest) = answer.map.lowest_seen(column, row) else { continue };
            let footing = survey.model.footing(at, None).expect("ground");
            let enough = |height_m: f64| {
                let eye = WorldPoint::new(at.0, at.1, footing.height_m + height_m);
                let facing = subject.samples.iter().filter(|sample| sample.normal.dot(&(eye - sample.point)) > 0.0);
                let free = |sample: &&plumbsight::outline::Sample| {
                    survey.sight.is_free(&eye, &(sample.point + sample.normal * 4e-3))
                };
                let (facing, free) = (facing.clone().count(), facing.filter(free).count());
                let inside = survey.model.block_around(&eye).is_some()
                    || survey.model.block_around(&WorldPoint::new(at.0, at.1, footing.height_m + 0.1)).is_some();
                !inside && facing > 0 && free as f64 / facing as f64 >= criteria.seen_share
            };
            assert!(enough(lowest.height_m), "{at:?} from {lowest:?}");
            if lowest.height_m > rungs.from_m + 1e-9 {
                assert!(!enough(lowest.height_m - rungs.step_m), "{at:?} below {lowest:?}");
                higher += 1;
            }
            let fails = (0..rungs.count())
                .map(|rung| rungs.height_m(rung))
                .any(|height_m| height_m > lowest.height_m && !enough(height_m));
            assert_eq!(fails, lowest.fails_above, "{at:?}");
            failing_again += usize::from(fails);
            checked += 1;
        }
    }
    assert!(checked > 200 && higher > 20 && failing_again > 3, "{checked} {higher} {failing_again}");
}

#[test]
fn a_search_that_nobody_wants_stops() {
    let survey = yard();
    let search = Search::new(&survey, Criteria { spacing_m: 0.2, ..criteria() }).expect("criteria in order");
    let progress = Progress::unwatched();
    let maps = std::sync::atomic::AtomicUsize::new(0);
    let stopped = search.run(&progress, &|map| {
        assert!(map.step() > 1);
        maps.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
        progress.cancel();
    });
    assert!(stopped.is_err());
    assert_eq!(maps.into_inner(), 1);
}

#[test]
fn requirements_that_nobody_can_meet_are_named() {
    let survey = yard();
    let answer = run(
        &survey,
        &Criteria { largest_lean_deg: Some(0.001), aims: vec![Aim::Fill], rank: Rank::Effort, ..criteria() },
        SightMethod::Swept,
    );
    assert_eq!(answer.met, 0);
    let lean = answer.criteria.iter().find(|requirement| requirement.requirement_words.contains("lean")).expect("told");
    assert_eq!(lean.met_alone, 0);
    assert!(lean.met_without > 0);
    let closed = r#"Site(format: 1, name: "shut", blocks: [(name: "tower", subject: true, at: (0, 0), shape: Box(width_m: 5, depth_m: 5, height_m: 18))],
        grounds: [(name: "all", access: Closed, outline: [(-500, -500), (500, -500), (500, 500), (-500, 500)])])"#;
    let shut = surveyed(closed, "shut");
    let answer = run(&shut, &Criteria::default(), SightMethod::Swept);
    assert_eq!((answer.looked, answer.met), (0, 0));
    assert!(answer.out[0] > 1000);
    assert_eq!(answer.map.ground(answer.map.columns() / 2 + 10, 100), PlaceStatus::Closed);
    let endless = Search::new(&survey, Criteria { spacing_m: 0.05, distance_m: (1.0, 25_000.0), ..criteria() });
    let told = endless.expect_err("10^12 places").to_string();
    assert!(told.contains("e12 places"), "{told}");
}
