//! Are heights found as textbooks find them, and as uncertain as repeated readings are?

use plumbsight::angle::Angle;
use plumbsight::heights::{BaseSight, Count, HeightBy, HeightError, Length, Sighted};
use plumbsight::site::{check_text, parse_site, write_new};
use plumbsight::taller::what_if_taller;
use plumbsight::units::Units;

use crate::support::program::run;
use crate::support::random::Random;
use crate::support::surveyed::{surveyed, usual};

const fn length(m: f64, pm_m: f64) -> Length {
    Length { m, pm_m }
}

fn sighted(degrees: f64, pm_deg: f64) -> Sighted {
    Sighted { angle: Angle::from_degrees(degrees), pm: Angle::from_degrees(pm_deg) }
}

fn height_m(by: HeightBy) -> f64 {
    by.found().unwrap_or_else(|error| panic!("{by:?}: {error}")).height_m
}

#[test]
fn published_examples_come_out() {
    // NCERT, *Mathematics, Textbook for Class X*, chapter "Some Applications of Trigonometry", Example 3 (read second-hand): an
    // observer 1.5 m tall is 28.5 m away from a chimney, whose top is at 45° from her eyes: 30 m.
    let base = BaseSight::Over(Length::exact(1.5));
    let chimney = HeightBy::Sighting { top: sighted(45.0, 0.0), distance: Length::exact(28.5), base };
    assert!((height_m(chimney) - 30.0).abs() < 1e-12);
    // The same chapter (read second-hand): a tower's shadow is 40 m longer with the sun at 30° than at 60°: 20√3 m. Rays from the
    // shadow's ends are two sightings from the ground.
    let twice = HeightBy::TwoSightings {
        near: sighted(60.0, 0.0),
        far: sighted(30.0, 0.0),
        apart: Length::exact(40.0),
        near_over_base: Length::default(),
        far_over_base: Length::default(),
    };
    let tower_m = 20.0 * 3.0_f64.sqrt();
    assert!((height_m(twice) - tower_m).abs() < 1e-12);
    // And by the shadow alone: 20 m long with the sun at 60°, 60 m at 30°.
    for (shadow_m, altitude_deg) in [(20.0, 60.0), (60.0, 30.0)] {
        let shadow = HeightBy::Shadow { shadow: Length::exact(shadow_m), sun: sighted(altitude_deg, 0.0) };
        assert!((height_m(shadow) - tower_m).abs() < 1e-12);
    }
    // One angle up and one down: s = D (tan θ₂ + tan θ₁), NPTEL course 105107122, *Surveying*, module 7, equation 24.7.
    let base = BaseSight::Depression(sighted(30.0, 0.0));
    let up_and_down = HeightBy::Sighting { top: sighted(60.0, 0.0), distance: Length::exact(30.0), base };
    assert!((height_m(up_and_down) - 30.0 * (3.0_f64.sqrt() + 1.0 / 3.0_f64.sqrt())).abs() < 1e-12);
}

#[test]
fn every_way_gives_back_the_height_that_its_readings_were_made_of() {
    // Readings made from a height by plane trigonometry alone, wherever instrument and ground are.
    let mut random = Random::new(31);
    let elevation_deg = |rise_m: f64, away_m: f64| rise_m.atan2(away_m).to_degrees();
    for _ in 0..500 {
        let tower_m = random.between_octaves(4.0, 300.0);
        let (near_m, apart_m) = (tower_m * random.between(0.4, 1.5), tower_m * random.between(0.4, 1.2));
        let (near_over_m, far_over_m) = (random.between(-2.0, 0.4 * tower_m), random.between(-2.0, 0.4 * tower_m));
        let (near_deg, far_deg) =
            (elevation_deg(tower_m - near_over_m, near_m), elevation_deg(tower_m - far_over_m, near_m + apart_m));
        if near_deg - far_deg > 1.5 {
            let found = height_m(HeightBy::TwoSightings {
                near: sighted(near_deg, 0.0),
                far: sighted(far_deg, 0.0),
                apart: Length::exact(apart_m),
                near_over_base: Length::exact(near_over_m),
                far_over_base: Length::exact(far_over_m),
            });
            assert!((found / tower_m - 1.0).abs() < 1e-9, "{found} for {tower_m}");
        }
        let top = sighted(near_deg, 0.0);
        let down = sighted(elevation_deg(near_over_m, near_m), 0.0);
        for base in [BaseSight::Over(Length::exact(near_over_m)), BaseSight::Depression(down)] {
            let found = height_m(HeightBy::Sighting { top, distance: Length::exact(near_m), base });
            assert!((found / tower_m - 1.0).abs() < 1e-9, "{found} for {tower_m}");
        }
        let (post_m, sun_deg) = (random.between(0.5, 3.0), random.between(15.0, 70.0));
        let per_m = 1.0 / sun_deg.to_radians().tan();
        let found = height_m(HeightBy::Post {
            shadow: Length::exact(tower_m * per_m),
            post: Length::exact(post_m),
            post_shadow: Length::exact(post_m * per_m),
        });
        assert!((found / tower_m - 1.0).abs() < 1e-12);
    }
    let storeys = HeightBy::Storeys {
        storeys: 7,
        storey: Length::exact(3.1),
        ground: Length::exact(0.8),
        parapet: Length::exact(1.2),
    };
    assert!((height_m(storeys) - (21.7 + 2.0)).abs() < 1e-12);
    let count = |px| Count { px, pm_px: 0.0 };
    let width = HeightBy::Width { width: Length::exact(6.0), width_px: count(400.0), height_px: count(2600.0) };
    assert!((height_m(width) - 39.0).abs() < 1e-12);
}

/// A number from the normal distribution, by Box and Muller's method (from memory).
fn normal(random: &mut Random) -> f64 {
    let (radius, turn) = (random.between(0.0, 1.0), random.between(0.0, std::f64::consts::TAU));
    (-2.0 * (1.0 - radius).ln()).sqrt() * turn.cos()
}

/// The same readings once more, each off by chance as far as it says.
fn read_again(by: HeightBy, random: &mut Random) -> HeightBy {
    let mut m = |length: Length| Length { m: length.m + length.pm_m * normal(random), ..length };
    match by {
        HeightBy::Storeys { storeys, storey, ground, parapet } => {
            HeightBy::Storeys { storeys, storey: m(storey), ground: m(ground), parapet: m(parapet) }
        }
        HeightBy::Post { shadow, post, post_shadow } => {
            HeightBy::Post { shadow: m(shadow), post: m(post), post_shadow: m(post_shadow) }
        }
        HeightBy::Shadow { shadow, sun } => HeightBy::Shadow { shadow: m(shadow), sun: turned(sun, random) },
        HeightBy::Width { width, width_px, height_px } => {
            let width = m(width);
            let mut px = |count: Count| Count { px: count.px + count.pm_px * normal(random), ..count };
            HeightBy::Width { width, width_px: px(width_px), height_px: px(height_px) }
        }
        HeightBy::Sighting { top, distance, base } => {
            let distance = m(distance);
            let base = match base {
                BaseSight::Over(over) => BaseSight::Over(m(over)),
                BaseSight::Depression(down) => BaseSight::Depression(turned(down, random)),
            };
            HeightBy::Sighting { top: turned(top, random), distance, base }
        }
        HeightBy::TwoSightings { near, far, apart, near_over_base, far_over_base } => {
            let (apart, near_over_base, far_over_base) = (m(apart), m(near_over_base), m(far_over_base));
            let (near, far) = (turned(near, random), turned(far, random));
            HeightBy::TwoSightings { near, far, apart, near_over_base, far_over_base }
        }
    }
}

fn turned(sighted: Sighted, random: &mut Random) -> Sighted {
    Sighted { angle: sighted.angle + sighted.pm * normal(random), ..sighted }
}

#[test]
fn the_uncertainty_is_the_spread_of_readings_taken_again_and_again() {
    let ways = [
        HeightBy::Storeys { storeys: 9, storey: length(3.0, 0.1), ground: length(0.6, 0.4), parapet: length(3.1, 0.5) },
        HeightBy::TwoSightings {
            near: sighted(38.0, 0.1),
            far: sighted(24.0, 0.1),
            apart: length(25.0, 0.1),
            near_over_base: length(1.6, 0.3),
            far_over_base: length(3.4, 0.3),
        },
        // Each reading by itself, so that no derivative hides behind a larger one.
        HeightBy::TwoSightings {
            near: sighted(38.0, 0.2),
            far: sighted(24.0, 0.0),
            apart: Length::exact(25.0),
            near_over_base: Length::exact(1.6),
            far_over_base: Length::exact(3.4),
        },
        HeightBy::TwoSightings {
            near: sighted(38.0, 0.0),
            far: sighted(24.0, 0.2),
            apart: Length::exact(25.0),
            near_over_base: Length::exact(1.6),
            far_over_base: Length::exact(3.4),
        },
        HeightBy::TwoSightings {
            near: sighted(38.0, 0.0),
            far: sighted(24.0, 0.0),
            apart: Length::exact(25.0),
            near_over_base: length(1.6, 0.3),
            far_over_base: Length::exact(3.4),
        },
        HeightBy::TwoSightings {
            near: sighted(38.0, 0.0),
            far: sighted(24.0, 0.0),
            apart: Length::exact(25.0),
            near_over_base: Length::exact(1.6),
            far_over_base: length(3.4, 0.3),
        },
        HeightBy::Sighting {
            top: sighted(41.0, 0.4),
            distance: length(33.0, 0.3),
            base: BaseSight::Over(length(1.6, 0.2)),
        },
        HeightBy::Sighting {
            top: sighted(41.0, 0.3),
            distance: length(33.0, 0.3),
            base: BaseSight::Depression(sighted(4.0, 0.4)),
        },
        HeightBy::Shadow { shadow: length(28.0, 0.4), sun: sighted(37.0, 0.5) },
        HeightBy::Post { shadow: length(28.0, 0.3), post: length(2.0, 0.01), post_shadow: length(1.4, 0.02) },
        HeightBy::Width {
            width: length(6.4, 0.05),
            width_px: Count { px: 410.0, pm_px: 3.0 },
            height_px: Count { px: 2300.0, pm_px: 9.0 },
        },
    ];
    const READINGS: usize = 40_000;
    for (number, by) in ways.into_iter().enumerate() {
        let found = by.found().unwrap_or_else(|error| panic!("{error}"));
        let mut random = Random::new(1000 + number as u64);
        let again: Vec<f64> = (0..READINGS).map(|_| height_m(read_again(by, &mut random))).collect();
        let mean = again.iter().sum::<f64>() / READINGS as f64;
        let spread = (again.iter().map(|m| (m - mean).powi(2)).sum::<f64>() / (READINGS - 1) as f64).sqrt();
        // The spread of 40 000 is itself known to 0.4 %; what is left is of second order.
        assert!((found.pm_m / spread - 1.0).abs() < 0.025, "{by:?}: {} and {spread}", found.pm_m);
        assert!((mean - found.height_m).abs() < 0.1 * spread, "{by:?}");
        let squares: f64 = found.shares.iter().map(|(_, share_m)| share_m * share_m).sum();
        assert!((squares.sqrt() - found.pm_m).abs() < 1e-12);
        assert!(found.shares.windows(2).all(|pair| pair[0].1 >= pair[1].1));
    }
}

#[test]
fn what_gives_no_height_worth_having_is_called_out() {
    let twice = |near: f64, far: f64| HeightBy::TwoSightings {
        near: sighted(near, 0.1),
        far: sighted(far, 0.1),
        apart: length(20.0, 0.1),
        near_over_base: length(1.6, 0.0),
        far_over_base: length(1.6, 0.0),
    };
    let over = BaseSight::Over(Length::exact(1.6));
    let sighting = |top: f64, distance: f64| HeightBy::Sighting {
        top: sighted(top, 0.5),
        distance: Length::read(distance),
        base: over,
    };
    for (by, words) in [
        (twice(24.0, 38.0), "the angle from the nearer place, 24°, is not larger than that from the farther one, 38°"),
        (twice(24.0, 24.0), "the angle from the nearer place, 24°, is not larger"),
        (
            twice(24.7, 24.0),
            "the two angles differ by only 0.7°, which gives no height that is worth having; take the two places",
        ),
        (twice(0.0, 24.0), "the angle from the nearer place is 0°; allowed is more than 0° and less than 90°"),
        (twice(90.0, 24.0), "the angle from the nearer place is 90°"),
        (twice(f64::NAN, 24.0), "the angle from the nearer place is NaN°"),
        (sighting(89.9, 30.0), "the height would be"),
        (sighting(30.0, 0.0), "the distance is 0 m; allowed is from 0.001 to 10000 m"),
        (sighting(30.0, f64::INFINITY), "the distance is inf m"),
        (sighting(30.0, -4.0), "the distance is -4 m"),
        (
            HeightBy::Sighting {
                top: sighted(5.0, 0.5),
                distance: Length::read(30.0),
                base: BaseSight::Depression(sighted(-8.0, 0.5)),
            },
            "these readings give no height above the base",
        ),
        (HeightBy::Shadow { shadow: Length::read(20.0), sun: sighted(-3.0, 0.5) }, "the sun's altitude is -3°"),
        (
            HeightBy::Shadow { shadow: Length::read(20.0), sun: sighted(0.4, 0.5) },
            "the height would be 0.1 m, give or take 0.2 m",
        ),
        (
            HeightBy::Width { width: Length::read(6.0), width_px: Count::read(0.0), height_px: Count::read(90.0) },
            "the width in the picture is 0 px; allowed is from 1 to 1000000 px",
        ),
        (
            HeightBy::Post { shadow: Length::read(6.0), post: length(2.0, -1.0), post_shadow: Length::read(1.0) },
            "an uncertainty is -1 m",
        ),
        (
            HeightBy::Storeys {
                storeys: 0,
                storey: Length::read(3.0),
                ground: Length::default(),
                parapet: Length::default(),
            },
            "the number of storeys is 0; allowed is from 1 to 200",
        ),
    ] {
        let error = by.found().expect_err(words);
        assert!(error.to_string().starts_with(words), "{error}");
    }
    assert!(matches!(twice(24.5, 24.0).found(), Err(HeightError::Unsuitable { .. })));
    // A degree apart is enough to be told, however uncertain.
    assert!(twice(25.1, 24.0).found().is_ok());
}

#[test]
fn how_it_was_found_is_a_plain_sentence() {
    let twice = HeightBy::TwoSightings {
        near: sighted(38.2, 0.1),
        far: sighted(24.0, 0.1),
        apart: length(25.0, 0.1),
        near_over_base: length(1.6, 0.0),
        far_over_base: length(2.15, 0.0),
    };
    assert_eq!(
        twice.words(Units::M),
        "sighted twice in line with the top: 38.2° and, 25 m farther back, 24°; the instrument 1.6 m and 2.15 m over the base"
    );
    let storeys = HeightBy::Storeys {
        storeys: 5,
        storey: length(3.0, 0.3),
        ground: length(0.5, 0.1),
        parapet: Length::default(),
    };
    assert_eq!(storeys.words(Units::M), "counted: 5 storeys of 3 m and 0.5 m for the ground floor");
    let shadow = HeightBy::Shadow { shadow: Length::read(30.48), sun: sighted(40.0, 0.5) };
    assert_eq!(shadow.words(Units::Ft), "from its shadow, 100 ft long with the sun 40° high");
}

const SITE: &str = "// mine
Site(
    format: 1, name: \"mill\",
    blocks: [
        (name: \"stack\", subject: true, at: (0, 0), shape: RoundTaper(foot_radius_m: 2, head_radius_m: 1.2, height_m: 30)), // old
        (name: \"cap\", subject: true, at: (0, 0), lift_m: 30, shape: RoundTaper(foot_radius_m: 1.2, head_radius_m: 1, height_m: 1)),
        (name: \"house\", at: (30, 0), shape: Gable(width_m: 8, depth_m: 6, eaves_m: 5, ridge_m: 8)),
    ],
    stances: [
        (name: \"level\", at: (0, -42), lens: \"24 mm\", orientation: Portrait, aim: Level),
        (name: \"far\", at: (0, -150), lens: \"70-200 mm\", aim: Fill),
    ],
)";

#[test]
fn the_program_finds_heights_and_writes_them_into_the_site() {
    let base = tempfile::tempdir().expect("a folder");
    let folder = base.path();
    std::fs::write(folder.join("mill.site.ron"), SITE).expect("written");
    let told =
        run(folder, &["height", "sighting", "--top", "45+-0.1", "--distance", "28.5±0.1", "--eye", "1.5+-0"]).good();
    // √((28.5 · 2 · 0.1 · π/180)² + 0.1²) = √(0.0995² + 0.1²) = 0.141
    assert!(
        told.starts_with("30.00 ± 0.14 m\nSighted from 28.5 m away and 1.5 m over the base: the top at 45°."),
        "{told}"
    );
    let found =
        run(folder, &["height", "--json", "storeys", "9", "--storey", "3.1+-0.1", "--parapet", "1.1+-0.1"]).json();
    assert!((found["height_m"].as_f64().expect("a number") - 29.0).abs() < 1e-12);
    assert!((found["height_pm_m"].as_f64().expect("a number") - 0.82_f64.sqrt()).abs() < 1e-12);
    assert_eq!(found["shares_m"][0]["reading"], "the height of a storey");
    let told =
        run(folder, &["height", "post", "--shadow", "60", "--post", "6", "--post-shadow", "3", "--units", "ft"]).good();
    assert!(told.starts_with("120.0 ± 2.1 ft"), "{told}");
    assert!(run(folder, &["height", "shadow", "--length", "20", "--sun", "60"]).good().starts_with("34.64 ± 0.78 m"));
    assert!(
        run(folder, &["height", "width", "--width", "6", "--width-px", "400", "--height-px", "2600"])
            .good()
            .starts_with("39")
    );
    for (arguments, words) in [
        (
            vec!["two-sightings", "--near", "24", "--far", "38", "--apart", "20"],
            "is not larger than that from the farther one",
        ),
        (vec!["two-sightings", "--near", "24.5", "--far", "24", "--apart", "20"], "differ by only 0.5°"),
        (
            vec!["shadow", "--length", "20", "--sun", "95"],
            "the sun's altitude is 95°; allowed is more than 0° and less than 90°",
        ),
        (vec!["shadow", "--length", "twenty", "--sun", "35"], "'twenty' is not a number"),
        (vec!["shadow", "--length", "nan", "--sun", "35"], "is not finite"),
        (vec!["storeys", "9", "--into", "mill.site.ron"], "--block"),
        (
            vec!["storeys", "9", "--into", "mill.site.ron", "--block", "stak"],
            "no block is called 'stak'; did you mean 'stack'?",
        ),
        (vec!["storeys", "1", "--storey", "3", "--into", "mill.site.ron", "--block", "house"], "shape.ridge_m is 3."),
    ] {
        let all: Vec<&str> = ["height"].into_iter().chain(arguments).collect();
        run(folder, &all).refused(2, words);
    }
    let path = folder.join("mill.site.ron");
    assert_eq!(std::fs::read_to_string(&path).expect("there"), SITE, "nothing is written where it is refused");
    let into = ["height", "storeys", "10", "--storey", "3+-0.31", "--into", "mill.site.ron", "--block", "stack"];
    let told = run(folder, &into).good();
    assert!(told.ends_with("'stack' is 30 m high; the block that it carries is moved along.\n"), "{told}");
    let text = std::fs::read_to_string(&path).expect("there");
    assert!(text.starts_with("// mine\n") && text.contains("// old"), "{text}");
    let site = parse_site(&text, "mill").expect("good");
    let stack = &site.blocks[0];
    assert_eq!(stack.height_pm_m, Some(3.1));
    assert_eq!(stack.height_from.as_deref(), Some("counted: 10 storeys of 3 m"));
    assert_eq!(stack.shape.height_m(), 30.0);
    // What is written is read, kept and checked as everything is.
    assert_eq!(parse_site(&write_new(&site), "again").expect("good"), site);
    let bad = text.replace("height_pm_m: 3.1", "height_pm_m: -1");
    assert!(check_text(&bad, "bad").to_string().contains("height_pm_m is -1"), "{}", check_text(&bad, "bad"));
    let told = run(folder, &["measure", "mill.site.ron", "--stance", "level"]).good();
    assert!(told.contains("Height of the stack, 30.0 m ± 3.1 m: counted: 10 storeys of 3 m."), "{told}");
    assert!(told.contains(" taller, its top is cut off.\n"), "{told}");
    let record = run(folder, &["measure", "mill.site.ron", "--stance", "level", "--json"]).json();
    assert_eq!(record["if_taller"]["height_pm_m"], 3.1);
    assert!(record["if_taller"]["taller_by_m"].is_f64() && record["if_taller"]["shorter_by_m"].is_null());
    // What stands on the stack goes up with it; the house and everything else stay.
    run(folder, &["height", "storeys", "11", "--storey", "3", "--into", "mill.site.ron", "--block", "stack"]).good();
    let site = parse_site(&std::fs::read_to_string(&path).expect("there"), "mill").expect("good");
    assert_eq!((site.blocks[0].shape.height_m(), site.blocks[1].lift_m, site.blocks[2].lift_m), (33.0, 33.0, 0.0));
    // A record that tells it is repeated all the same.
    let told = run(folder, &["measure", "mill.site.ron", "--stance", "level", "--json"]).good();
    std::fs::write(folder.join("level.record.json"), told).expect("written");
    run(folder, &["repeat", "level.record.json"]).good();
}

#[test]
fn the_height_at_which_the_verdict_changes_is_where_the_top_leaves_the_frame() {
    let site = |height_m: f64, pm: &str| {
        let text = SITE
            .replace("name: \"stack\",", &format!("name: \"stack\", {pm}"))
            .replace("height_m: 30", &format!("height_m: {height_m}"))
            .replace("lift_m: 30", &format!("lift_m: {height_m}"));
        surveyed(&text, "mill")
    };
    let survey = site(30.0, "height_pm_m: 4,");
    let level = survey.model.site.stance("level").expect("it").clone();
    let what_if = what_if_taller(&survey, &level, &usual()).expect("uncertain");
    let change = what_if.taller.as_ref().expect("cut");
    assert_eq!(change.what, ["its top is cut off"]);
    // A level 24 mm lens, held upright on 36 × 24 mm, sees 18/24 of the distance above itself. The rim of the cap that is seen
    // highest is the far one of those in the frame's middle: nearest to the eye is the near one, 41 m away.
    let reach_m = 1.6 + 41.0 * 18.0 / 24.0;
    assert!((30.0 + 1.0 + change.by_m - reach_m).abs() < 0.02, "{} and {reach_m}", 31.0 + change.by_m);
    assert_eq!(what_if.shorter, None);
    let words = format!("If the stack is {:.1} m taller, its top is cut off.", change.by_m);
    assert_eq!(what_if.sentences(Units::M), [words]);
    // The site built so, just below and above, says the same.
    for (by_m, whole) in [(change.by_m - 0.02, true), (change.by_m + 0.02, false)] {
        let built = site(30.0 + by_m, "");
        let measured = built.measure(&level, &usual()).expect("stands");
        assert_eq!(measured.account.whole_in_frame, whole);
    }
    // Where it fits anyhow nothing changes, and where the height is certain nobody asks.
    let far = survey.model.site.stance("far").expect("it").clone();
    let what_if = what_if_taller(&survey, &far, &usual()).expect("uncertain");
    assert_eq!((&what_if.taller, &what_if.shorter), (&None, &None));
    assert_eq!(
        what_if.sentences(Units::M),
        ["If the stack is up to 4.0 m taller or shorter, the verdict stays the same."]
    );
    assert_eq!(what_if_taller(&site(30.0, ""), &level, &usual()), None);
    assert_eq!(what_if_taller(&site(30.0, "height_pm_m: 0,"), &level, &usual()), None);
}
