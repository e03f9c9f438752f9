//! Does the search find the places whose picture has its light, and keep out of the water?
//!
//! By brute force: minute by minute, place by place. That the sun stands where it is put is held to pvlib in `oracle_light`,
//! shadows are held to rulers in `light`.

use plumbsight::light::{FaceLight, LightLimits, Shade, Sky, TideTable, Zone, face_towards};
use plumbsight::place::Day;
use plumbsight::pose::WorldPoint;
use plumbsight::progress::Progress;
use plumbsight::search::{
    Answer, Change, Criteria, LightCriterion, LightWhen, MapFigure, PlaceStatus, Rank, Requirement, Search, SightMethod,
};
use plumbsight::survey::Survey;

use crate::support::surveyed::surveyed;

/// A hall that looks all ways, with a tower to the south-west whose shadow crosses it in the afternoon; the ground falls to the
/// east, where there is water.
const QUAY: &str = r#"Site(format: 1, name: "quay",
    anchor: (latitude_deg: 53.96, longitude_deg: -1.08), time_zone: "Europe/London", water_level_m: -3.0,
    terrain: Grid(south_west: (-80, -80), spacing_m: (80, 160), rows: [[2, 0, -2], [2, 0, -2]]),
    blocks: [
        (name: "hall", subject: true, at: (0, 0), heading_deg: 12, shape: Box(width_m: 16, depth_m: 9, height_m: 9)),
        (name: "tower", at: (-22, -14), shape: Box(width_m: 7, depth_m: 7, height_m: 30)),
    ])"#;

fn day(text: &str) -> Day {
    text.parse().expect("a day")
}

fn criteria(light: LightCriterion) -> Criteria {
    Criteria {
        spacing_m: 5.0,
        distance_m: (8.0, 50.0),
        lenses: vec!["24-70 mm".into()],
        seen_share: 0.3,
        filled_share: 0.0,
        light: Some(light),
        ..Criteria::default()
    }
}

fn run(survey: &Survey, criteria: &Criteria, looking: SightMethod) -> Answer {
    let search = Search::new(survey, criteria.clone()).unwrap_or_else(|error| panic!("{error}")).looking(looking);
    search.run(&Progress::unwatched(), &|_| {}).expect("nobody cancels")
}

/// The minutes of light as a person with a watch would count them.
fn by_watch(survey: &Survey, sky: &Sky, light: &LightCriterion, eye: &WorldPoint) -> f64 {
    let subject = survey.subject.as_ref().expect("a subject");
    let face = face_towards(&survey.model, subject, eye).expect("a face");
    let shade = Shade { sight: &survey.sight, limits: LightLimits::default() };
    let counts = |moment| {
        let found = face.lighting(&sky.sun(moment), &shade).light;
        if light.grazing { found == FaceLight::Grazing } else { found.has_sun() }
    };
    let counted = light.windows(sky).expect("windows").into_iter().map(|(from, to)| {
        let mut minutes = 0.0;
        let mut at = from.plus_s(30.0);
        while at < to {
            match counts(at) {
                true => minutes += 1.0,
                // From a moment on, light counts until it goes.
                false if matches!(light.when, LightWhen::From(_)) => break,
                false => {}
            }
            at = at.plus_s(60.0);
        }
        minutes
    });
    counted.fold(f64::INFINITY, f64::min)
}

#[test]
fn a_search_by_light_finds_what_a_watch_counts_at_every_place() {
    let survey = surveyed(QUAY, "quay");
    let sky = Sky::over(&survey.model.site).expect("a sky");
    let afternoon = LightWhen::Days {
        first: day("2026-06-01"),
        last: day("2026-06-03"),
        from_minute: 14 * 60,
        to_minute: 18 * 60 + 30,
    };
    let asked = [
        LightCriterion { when: afternoon.clone(), grazing: false, least_minutes: 100.0 },
        LightCriterion { when: afternoon, grazing: true, least_minutes: 30.0 },
        LightCriterion { when: LightWhen::From("2026-03-20T10:15".into()), grazing: false, least_minutes: 60.0 },
    ];
    for light in asked {
        let criteria = criteria(light.clone());
        let answer = run(&survey, &criteria, SightMethod::Swept);
        let (mut with, mut without, mut values) = (0, 0, std::collections::BTreeSet::new());
        for row in 0..answer.map.rows() {
            for column in 0..answer.map.columns() {
                let Some(found) = answer.map.value(column, row, MapFigure::Light) else {
                    assert_ne!(answer.map.ground(column, row), PlaceStatus::Looked, "{column} {row}");
                    continue;
                };
                let (x, y) = answer.map.lattice().at(column, row);
                let subject = survey.subject.as_ref().expect("a subject");
                let counted = by_watch(&survey, &sky, &light, &WorldPoint::new(x, y, subject.base_m));
                // Each of the few changes of an afternoon is counted to half a minute.
                assert!((found - counted).abs() <= 2.5, "{x} {y}: {found} for {counted}");
                if answer.map.meets(column, row) {
                    assert!(found >= light.least_minutes - 0.01, "{x} {y}: {found}");
                    with += 1;
                } else {
                    without += 1;
                }
                values.insert(found.round() as i64);
            }
        }
        assert!(with > 0 && without > 0 && values.len() >= 2, "{light:?}: {with} {without} {values:?}");
        let told = answer.criteria.iter().find(|told| told.requirement == Requirement::Light).expect("told");
        assert!(told.met_alone < answer.looked && told.requirement_words.contains("min"), "{told:?}");
        for found in &answer.ranked {
            let minutes = found.figures.light_minutes.expect("asked for");
            assert!(minutes >= light.least_minutes - 0.01 && found.reason.contains("of sun on its face"), "{found:?}");
        }
        // However it is looked, the answer is the same.
        let rays = run(&survey, &criteria, SightMethod::Rays);
        assert_eq!(format!("{:?}", rays.ranked), format!("{:?}", answer.ranked));
    }
}

#[test]
fn places_are_ranked_by_their_light_and_told_what_less_of_it_would_open() {
    let survey = surveyed(QUAY, "quay");
    let when =
        LightWhen::Days { first: day("2026-06-21"), last: day("2026-06-21"), from_minute: 7 * 60, to_minute: 13 * 60 };
    let measured = LightCriterion { when, grazing: false, least_minutes: 0.0 };
    let ranked = run(
        &survey,
        &Criteria { rank: Rank::Light, places: 4, difference_m: 5.0, ..criteria(measured.clone()) },
        SightMethod::Swept,
    );
    let most = ranked.map.range(MapFigure::Light).expect("light").1;
    let minutes: Vec<f64> =
        ranked.ranked.iter().map(|found| found.figures.light_minutes.expect("measured").round()).collect();
    assert!((minutes[0] - most.round()).abs() <= 1.0, "{minutes:?} of {most}");
    assert!(minutes.is_sorted_by(|a, b| a >= b), "{minutes:?}");
    // More than the six hours of the morning there cannot be.
    let hopeless = criteria(LightCriterion { least_minutes: 400.0, ..measured });
    let answer = run(&survey, &hopeless, SightMethod::Swept);
    assert_eq!(answer.met, 0);
    let [opening] = answer.openings.iter().filter(|opening| opening.changes.len() == 1).collect::<Vec<_>>()[..] else {
        panic!("{:?}", answer.openings)
    };
    let Change::Light(enough) = opening.changes[0] else { panic!("{opening:?}") };
    assert!((enough - most.floor()).abs() < 1e-9, "{enough} of {most}");
    assert_eq!(run(&survey, &opening.changed(&hopeless), SightMethod::Swept).met, opening.standpoints);
    let mut more = hopeless;
    Change::Light(enough + 1.0).apply(&mut more);
    assert_eq!(run(&survey, &more, SightMethod::Swept).met, 0, "a minute more opens nothing");
}

#[test]
fn nobody_stands_on_what_the_tide_covers() {
    let survey = surveyed(QUAY, "quay");
    let zone = Zone::of(&survey.model.site).expect("a zone");
    let table = TideTable::read("2026-06-21T06:00,1.0\n2026-06-21T12:00,-2.5\n", &zone).expect("a table");
    let plain = Criteria { spacing_m: 5.0, distance_m: (8.0, 50.0), filled_share: 0.0, ..Criteria::default() };
    for time in ["2026-06-21T06:00", "2026-06-21T08:30", "2026-06-21T11:30"] {
        let level_m = table.level_m(zone.read(time).expect("a moment").moment).expect("known");
        let answer = run(&survey, &Criteria { water_level_m: Some(level_m), ..plain.clone() }, SightMethod::Swept);
        let (mut wet, mut dry) = (0, 0);
        for row in 0..answer.map.rows() {
            for column in 0..answer.map.columns() {
                let at = answer.map.lattice().at(column, row);
                match answer.map.ground(column, row) {
                    PlaceStatus::Water => wet += 1,
                    PlaceStatus::Looked => dry += 1,
                    _ => continue,
                }
                let is_wet = answer.map.ground(column, row) == PlaceStatus::Water;
                assert_eq!(is_wet, survey.model.site.terrain.height_m(at) < level_m, "{at:?} at {time}");
            }
        }
        assert!(dry > 0 && (wet > 0 || level_m < -1.0), "{time}: {wet} {dry}");
    }
}

#[test]
fn light_that_cannot_be_asked_for_is_refused_with_its_mend() {
    let survey = surveyed(QUAY, "quay");
    let nowhere = surveyed(&QUAY.replace("anchor: (latitude_deg: 53.96, longitude_deg: -1.08), ", ""), "quay");
    let from = |text: &str| LightCriterion { when: LightWhen::From(text.into()), grazing: false, least_minutes: 1.0 };
    let refused = |survey: &Survey, light: LightCriterion| {
        Search::new(survey, criteria(light)).map(|_| ()).expect_err("refused").to_string()
    };
    for (light, words) in [
        (from("2026-02-30T10:00"), "2026-02-30"),
        (from("noon"), "noon"),
        (from("1850-01-01T10:00"), "1850"),
        (LightCriterion { least_minutes: -1.0, ..from("2026-06-21T10:00") }, "from 0 to 1440"),
    ] {
        let told = refused(&survey, light);
        assert!(told.starts_with("the light: ") && told.contains(words), "{told}");
    }
    assert!(refused(&nowhere, from("2026-06-21T10:00")).contains("anchor"));
    let unranked = Criteria { rank: Rank::Light, ..Criteria::default() };
    let told = Search::new(&survey, unranked).map(|_| ()).expect_err("refused").to_string();
    assert!(told.contains("moment or days"), "{told}");
}
