//! Does the search find what looking at every place one by one finds?
//!
//! The brute force here knows nothing of the search but its wishes: every place, height, lens and aim is taken up and
//! measured in full, with a ray for every point.

use std::cmp::Ordering;

use plumbsight::angle::Angle;
use plumbsight::outline::Subject;
use plumbsight::pose::WorldPoint;
use plumbsight::progress::Progress;
use plumbsight::search::{
    Answer, Criteria, CriteriaError, MapFigure, Piece, PieceError, PlaceStatus, Rank, Rungs, Search, SightMethod,
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
    feet_m: f64,
    lean_deg: f64,
    effort_m: f64,
    focal_mm: f64,
    meets: bool,
}

/// Everything that a person could do one after the other.
fn by_hand(survey: &Survey, criteria: &Criteria) -> Vec<Vec<Measured>> {
    let model = &survey.model;
    let subject = Subject::with_samples(model, criteria.samples).expect("a subject");
    let from = criteria.from.map(|at| (at, model.footing(at, None).expect("ground").height_m));
    let lattice = *Search::new(survey, criteria.clone()).expect("wishes").lattice();
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
                for &height_m in &criteria.heights_m {
                    if model.block_around(&eye(0.1)).is_some() {
                        continue;
                    }
                    for lens in &criteria.lenses {
                        for &aim in &criteria.aims {
                            let stance = Stance {
                                height_m,
                                on: on.map(String::from),
                                lens: lens.clone(),
                                aim,
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
                            found.push(Measured {
                                feet_m: footing.height_m,
                                lean_deg,
                                effort_m: walk_m + 7.92 * (climb_m + (height_m - 2.1).max(0.0)),
                                focal_mm: standing.camera.focal_mm,
                                meets: account.visible_share.is_some_and(|share| share >= criteria.seen_share)
                                    && standing.fullness.is_some_and(|fullness| fullness <= 1.0 + 1e-9)
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

/// The straighter, then the easier, then the longer lens; equal ones as they come.
fn better(a: &Measured, b: &Measured) -> Ordering {
    let rounded = |value: f64, steps: f64| if value.is_nan() { i64::MAX } else { (value * steps).round() as i64 };
    let key = |m: &Measured| (rounded(m.lean_deg, 1e4), rounded(m.effort_m, 1e3), -rounded(m.focal_mm, 1e3));
    key(a).cmp(&key(b))
}

fn list_by_hand(places: &[Vec<Measured>], criteria: &Criteria) -> Vec<Stance> {
    let mut all: Vec<&Measured> =
        places.iter().filter_map(|found| found.iter().filter(|m| m.meets).min_by(|a, b| better(a, b))).collect();
    all.sort_by(|a, b| better(a, b));
    let mut chosen: Vec<&Measured> = Vec::new();
    for measured in all {
        let apart = |other: &&Measured| {
            let (a, b) = (measured.stance.at, other.stance.at);
            (a.0 - b.0).hypot(a.1 - b.1).hypot(measured.feet_m - other.feet_m) >= criteria.difference_m
        };
        if chosen.len() < criteria.places && chosen.iter().all(apart) {
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
        Criteria { largest_lean_deg: Some(4.0), aims: vec![Aim::Fill], ..criteria() },
        Criteria { detail_px_per_m: Some(90.0), samples: 64, seen_share: 0.7, aims: vec![Aim::Fill], ..criteria() },
    ] {
        let answer = run(&survey, &criteria, SightMethod::Swept);
        let places = by_hand(&survey, &criteria);
        let met = places.iter().filter(|found| found.iter().any(|m| m.meets)).count();
        assert!(met > 10, "{met} places");
        // Decks too small for the lattice are looked at besides, at a place of their own each.
        let (columns, rows) = (answer.map.columns(), answer.map.rows());
        let on_map = (0..rows).flat_map(|row| (0..columns).map(move |column| (column, row)));
        assert_eq!(on_map.filter(|&(column, row)| answer.map.meets(column, row)).count(), met);
        let besides = (answer.met as usize).checked_sub(met).expect("at least those on the map");
        assert!(besides <= survey.model.decks.len(), "{besides} places besides");
        for (index, found) in places.iter().enumerate() {
            let (column, row) = (index as u32 % answer.map.columns(), index as u32 / answer.map.columns());
            let best = found.iter().filter(|m| m.meets).min_by(|a, b| better(a, b));
            assert_eq!(answer.map.meets(column, row), best.is_some(), "place {column}, {row}");
            if let Some(best) = best {
                let lean_deg = answer.map.value(column, row, MapFigure::LargestLean).expect("found");
                assert!((lean_deg - best.lean_deg).abs() < 1e-7, "{lean_deg} for {}", best.lean_deg);
            }
        }
        let by_hand = list_by_hand(&places, &criteria);
        let listed: Vec<Stance> = answer.ranked.iter().map(|ranked| nameless(&ranked.stance)).collect();
        let by_hand: Vec<Stance> = by_hand.iter().map(nameless).collect();
        assert!(listed.len() >= 3);
        assert_eq!(listed, by_hand);
    }
}

#[test]
fn a_listed_places_figures_are_those_of_measuring_it() {
    let survey = yard();
    let answer = run(&survey, &criteria(), SightMethod::Swept);
    let usual = plumbsight::survey::MeasureSettings {
        lean_change: Some(Angle::from_degrees(criteria().tolerance_deg)),
        ..Default::default()
    };
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
        assert_eq!(found.tolerance, measured.tolerance);
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
        let search = Search::in_pieces(&survey, criteria.clone(), pieces).expect("wishes");
        let found: Vec<_> = (1..=pieces)
            .map(|piece| {
                let bytes = search.run_piece(piece, pieces, &Progress::unwatched()).expect("found").to_bytes(&search);
                for length in [0, 10, 60, bytes.len() - 1] {
                    assert!(Piece::from_bytes(&bytes[..length], &search).is_err());
                }
                Piece::from_bytes(&bytes, &search).expect("a piece")
            })
            .collect();
        assert!(whole == told(&search.put_together(found).expect("whole")), "{pieces} pieces find something else");
    }
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
    let search = Search::in_pieces(&survey, criteria(), 2).expect("wishes");
    let piece = search.run_piece(1, 2, &Progress::unwatched()).expect("found");
    let bytes = piece.to_bytes(&search);
    let other = Search::in_pieces(&survey, Criteria { seen_share: 0.5, ..criteria() }, 2).expect("wishes");
    let refused = Piece::from_bytes(&bytes, &other).expect_err("other requirements");
    assert!(refused.to_string().contains("other requirements"), "{refused}");
    assert!(matches!(search.put_together(vec![piece]), Err(CriteriaError::Unlike { .. })));
}

/// Whatever happens to a piece on its way is noticed; pieces of the first format, which had no checksum, are still read.
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
    let old = [b"plumbsight piece of a search, format 1\n", &bytes[line + 32..]].concat();
    assert_eq!(read(&old), Ok(bytes));
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
    let search = Search::new(&survey, criteria.clone()).expect("wishes");
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
    let search = Search::new(&survey, Criteria { spacing_m: 0.2, ..criteria() }).expect("wishes");
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
