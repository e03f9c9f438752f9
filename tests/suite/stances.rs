//! Does a stance that cannot be, or hardly, get a plain answer?
//!
//! The program itself for what a person may type, with the exit codes of its documentation (0 done, 1 no answer, 2 bad
//! input); the library for thousands of stances in the worst places. No panic, and no number that is none.

use std::path::Path;

use plumbsight::optics::Distortion;
use plumbsight::record::Record;
use plumbsight::site::{Aim, Stance};
use plumbsight::stance::StanceError;
use serde_json::Value;

use crate::support::program::{Run, run};
use crate::support::random::Random;
use crate::support::surveyed::{record, stance, surveyed, surveyed_blocks, turned, usual};
use crate::support::tell;

/// A square tower, 6 m wide and 30 m high; ground that falls to the east from x = 0 on and is under water from x = 50 on.
const SITE: &str = "Site(
    format: 1, name: \"hostile\", water_level_m: -1,
    terrain: Grid(south_west: (-200, -200), spacing_m: (200, 200), rows: [[0, 0, -4], [0, 0, -4], [0, 0, -4]]),
    blocks: [
        (name: \"tower\", subject: true, at: (0, 0), shape: Box(width_m: 6, depth_m: 6, height_m: 30)),
        (name: \"shed\", at: (-20, 0), shape: Box(width_m: 6, depth_m: 6, height_m: 4)),
        (name: \"stage\", at: (-20, 20), shape: Stage(width_m: 4, depth_m: 3, floor_m: 5), deck: (access: Closed)),
        (name: \"stack\", at: (25, 25), shape: RoundTaper(foot_radius_m: 2, head_radius_m: 1, height_m: 20)),
    ],
)";

fn measure(folder: &Path, words: &str) -> Run {
    let words = words.split_terminator(' ').map(|word| word.replace('_', " "));
    let arguments: Vec<String> =
        ["measure", "s.site.ron", "--json"].into_iter().map(String::from).chain(words).collect();
    run(folder, &arguments)
}

fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("s.site.ron"), SITE).expect("written");
    folder
}

#[test]
fn places_where_no_camera_can_be_have_no_answer() {
    let folder = folder();
    for (words, answer) in [
        ("--eye 0,0,10", "inside 'tower'"),
        ("--at -20,0", "inside 'shed'"),
        ("--at -20,0 --heading 0 --pitch 90", "inside 'shed'"),
        ("--eye 25,25,19", "inside 'stack'"),
        ("--eye -40,20,-0.5", "0.50 m under the ground"),
        ("--eye 100,0,-1.25", "0.25 m under water"),
        ("--eye 0,0,60", "all around"),
        ("--eye 2.9,2.9,30.001", "all around"),
        ("--eye 0,0,60 --aim level", "all around"),
        ("--eye 30,0,5 --aim at:30,0,5", "the camera is at the point it is aimed at"),
        // Nothing rectilinear draws a wall that fills half of all directions.
        ("--at 0,-3.001", "cannot be framed"),
    ] {
        let ended = measure(folder.path(), words);
        assert_eq!(ended.code, 1, "{words}: {}{}", ended.out, ended.err);
        ended.refused(1, answer);
    }
}

#[test]
fn settings_that_no_camera_has_are_bad_input() {
    let folder = folder();
    let from = |rest: &str| format!("--at 0,-40 {rest}");
    for (words, answer) in [
        (from("--lens 24_mm_with_12_mm_rise --rise 15"), "up to 12 mm"),
        (from("--lens 24_mm_with_12_mm_rise --rise NaN"), "rise"),
        (from("--lens 24_mm --rise 3"), "none"),
        (from("--lens 24_mm --shift -3"), "none"),
        (from("--lens 24-70_mm --focal 100"), "24 to 70 mm"),
        (from("--lens 24-70_mm --focal NaN"), "24 to 70 mm"),
        (from("--lens a_brick"), "no lens is called 'a brick'"),
        (from("--focal -5"), ""),
        (from("--focal=-5"), "no lens"),
        (from("--focal 1e308"), "no lens"),
        (from("--format postcard"), "no format is called"),
        (from("--aperture 0.1"), "f/2.8"),
        (from("--aperture NaN"), "f-number"),
        (from("--focus 0"), "closest"),
        (from("--focus NaN"), "focus"),
        (from("--focus inf"), "focus"),
        (from("--height NaN"), "height"),
        (from("--height inf"), "height"),
        (from("--height 1e308"), "height"),
        (from("--height -1e308"), "height"),
        // What a file may hold, and no more.
        (from("--height -0.1"), "height_m is -0.1; allowed is from 0 to 400 m"),
        (from("--height 401"), "height_m is 401; allowed is from 0 to 400 m"),
        (from("--heading 361"), "heading_deg is 361"),
        (from("--aim at:0,5001,0"), "aim[1] is 5001"),
        ("--eye 0,-40,9401".into(), "eye_height_m is 9401"),
        ("--at 0,5001".into(), "allowed is from -5000 to 5000 m"),
        // A lens that is only known by its focal length.
        (from("--focal 400 --focus 0.39"), "2 m at its closest"),
        (from("--heading NaN"), "heading"),
        (from("--heading 0 --pitch 90.001"), "pitch"),
        (from("--heading 0 --pitch inf"), "pitch"),
        (from("--heading 0 --roll NaN"), "roll"),
        (from("--pitch 10"), "--heading"),
        (from("--aim at:NaN,0,0"), "not finite"),
        (from("--aim sideways"), "fill, level, rise"),
        (from("--on shed"), "'stage'"),
        (from("--on stage"), "is not on 'stage'"),
        (from("--distortion 1"), "5 or 8"),
        (from("--distortion -1e9,0,0,0,0"), "folds"),
        (from("--distortion NaN,0,0,0,0"), "not finite"),
        (from("--aspect 0:1"), "proportion"),
        (from("--upright NaN"), "--upright"),
        (from("--keep-convergence 1.5"), "--keep-convergence"),
        (from("--tolerance 0"), "--tolerance"),
        (from("--ppi 0"), "--ppi"),
        (from("--sun 10"), "two numbers"),
        (from("--sun 10,91"), "-90 and 90"),
        ("--eye 0,0,inf".into(), "not finite"),
        ("--eye 0,0,1e308".into(), "eye_height_m"),
        ("--at NaN,0".into(), "not finite"),
        ("--at 1e308,0".into(), "east"),
        ("--at 12".into(), "two numbers"),
        ("--stance nobody".into(), "no stance is called"),
    ] {
        let ended = measure(folder.path(), &words);
        assert_eq!(ended.code, 2, "{words}: {}{}", ended.out, ended.err);
        ended.refused(2, answer);
    }
}

#[test]
fn hardly_possible_stances_are_measured_and_say_what_has_no_figure() {
    let folder = folder();
    let record = |words: &str| -> Value {
        let ended = measure(folder.path(), words);
        assert_eq!(ended.code, 0, "{words}: {}", ended.err);
        ended.json()
    };
    let cautioned = |record: &Value, kind: &str| {
        record["cautions"].as_array().expect("cautions").iter().any(|caution| caution["kind"] == kind)
    };

    let afloat = record("--at 100,0");
    assert_eq!(afloat["stance"]["stands_on"], "water");
    assert_eq!(afloat["stance"]["feet_m"], -1.0);
    assert!(cautioned(&afloat, "water"));
    assert!(cautioned(&record("--at -20,20 --on stage"), "closed"));
    assert!(cautioned(&record("--at 4000,-4000 --heading 0"), "reach"));

    // Over the roof, straight down on it: framed, with no outline to close.
    let over = record("--eye 0,0,60 --aim at:0,0,30");
    assert_eq!(over["stance"]["pitch_deg"], -90.0);
    assert!(over["subject"]["convergence_deg"].is_null());
    assert!(over["subject"]["why"].as_str().expect("a reason").contains("all around"));
    assert_eq!(over["subject"]["visible_share"], 1.0);

    for pitch in ["90", "-90"] {
        let upright = record(&format!("--at 0,-20 --heading 0 --pitch {pitch}"));
        // Verticals meet straight ahead, in the middle of the picture.
        let at: Vec<f64> = serde_json::from_value(upright["vanishing_point_mm"].clone()).expect("a point");
        assert!(at[0].hypot(at[1]) < 1e-12, "{at:?}");
    }

    let behind = record("--at 0,-20 --heading 180");
    assert!(behind["subject"]["convergence_deg"].is_null() && behind["subject"]["worst_lean_deg"].is_null());
    assert!(behind["subject"]["why"].as_str().expect("a reason").contains("behind"));
    assert_eq!(behind["subject"]["in_frame_share"], 0.0);
    assert_eq!(behind["straightened"]["subject_cut_share"], 1.0);
    assert!(behind["straightened"]["why_not"].is_string());
    let own = behind["verticals"].as_array().expect("lines").iter().filter(|line| line["subject"] == true);
    assert_eq!(own.clone().count(), 4);
    for line in own {
        assert!(line["foot_px"].is_null() && line["head_px"].is_null() && line["ideal_lean_deg"].is_null());
        assert_eq!(line["why"], "its base is behind the camera; its top is behind the camera");
    }

    // The tower's right wall just inside the frame's left side: 36.87° off the axis of a 24 mm lens on 36 mm.
    let cut = record("--at 0,-40 --heading 39.5 --lens 24_mm --orientation landscape");
    let share = cut["subject"]["in_frame_share"].as_f64().expect("a share");
    assert!(share > 0.0 && share < 0.7, "{share}");
    assert!(cut["straightened"]["subject_cut_share"].as_f64().expect("a share") > 0.3);

    // Straight above an edge, looking half down: the edge runs through the eye and is a point of the picture.
    let along = record("--eye 3,3,40 --heading 225 --pitch -75");
    let through: Vec<&Value> = along["verticals"]
        .as_array()
        .expect("lines")
        .iter()
        .filter(|line| line["foot_m"][0] == 3.0 && line["foot_m"][1] == 3.0)
        .collect();
    assert_eq!(through.len(), 1);
    assert!(through[0]["ideal_lean_deg"].is_null() && through[0]["lean_deg"].is_null(), "{}", through[0]);
    assert!(through[0]["why"].as_str().expect("a reason").contains("eye"), "{}", through[0]);

    let fisheye = record("--at 0,-4.5 --lens 12_mm_equisolid_fisheye");
    assert_eq!(fisheye["camera"]["mapping"], "Equisolid");
    assert!(fisheye["subject"]["in_frame_share"].as_f64() > Some(0.95));
    assert!(
        fisheye["verticals"].as_array().expect("lines").iter().any(|line| line["bow_percent"].as_f64() > Some(5.0))
    );

    // A millimetre off the wall.
    for heading in ["0", "90", "180"] {
        record(&format!("--at 0,-3.001 --heading {heading}"));
    }
}

/// A number of a record that is none: RON writes what JSON would pass off as null.
fn no_number(record: &Record) -> Option<String> {
    let text = record.to_ron();
    let line = text.lines().find(|line| {
        line.split(|c: char| "()[],: ".contains(c)).any(|word| matches!(word.trim_start_matches('-'), "NaN" | "inf"))
    });
    line.map(str::to_owned)
}

#[test]
fn thousands_of_stances_in_the_worst_places_have_only_numbers() {
    let survey = surveyed(SITE, "hostile");
    let mut random = Random::new(7);
    let lenses =
        ["14 mm", "24-70 mm", "70-200 mm", "24 mm with 12 mm rise", "12 mm equisolid fisheye", "5000 mm", "1 mm"];
    // Corners, edges, axes, walls and levels of the site itself, and a hair beside them.
    let plan = [-200.0, -20.0, -17.0, -3.0, 0.0, 3.0, 25.0, 27.0, 50.0, 100.0];
    let heights = [-4.0, -1.0, 0.0, 1.6, 4.0, 5.0, 15.0, 20.0, 30.0, 60.0];
    let hair = [0.0, 0.0, 1e-12, -1e-12, 1e-6, 1e-3, -1e-3, 1.0];
    let angles = [0.0, 45.0, 90.0, -90.0, 180.0, 225.0, 36.87, 1e-9];
    let bent = Distortion::from_slice(&[-0.3, 0.1, 0.01, -0.01, 0.0, 0.2, 0.0, 0.0]).expect("mild");
    let (mut taken, mut refused) = (0, 0);
    for _ in 0..2000 {
        let mut near = |values: &[f64]| *random.one_of(values) + *random.one_of(&hair);
        let (east, north, up) = (near(&plan), near(&plan), near(&heights));
        let (heading, pitch, roll) =
            (near(&angles), near(&angles).clamp(-90.0, 90.0), near(&angles).clamp(-180.0, 180.0));
        let at = (near(&plan), near(&plan), near(&heights));
        let aims = [
            Aim::Fill,
            Aim::Level,
            Aim::Rise,
            Aim::At(at.0, at.1, at.2),
            turned(heading, pitch, roll),
            turned(heading, pitch, roll),
        ];
        let lens: &str = random.one_of::<&str>(&lenses);
        let wanted = Stance {
            eye_height_m: Some(up),
            distortion: (random.bits().is_multiple_of(4)).then_some(bent),
            ..stance((east, north), 1.6, lens, *random.one_of(&aims))
        };
        match survey.measure(&wanted, &usual()) {
            Err(StanceError::Kit(error)) => panic!("{error}"),
            Err(_) => refused += 1,
            Ok(measured) => {
                taken += 1;
                let record = survey.record(&wanted, &measured, &usual());
                assert_eq!(no_number(&record), None, "{wanted:?}");
            }
        }
    }
    tell(&format!("stances: {taken} measured, {refused} refused"));
    assert!(taken > 1000 && refused > 200, "{taken} {refused}");
}

#[test]
fn a_site_without_a_subject_can_be_measured_but_not_aimed_at() {
    let survey = surveyed_blocks("(name: \"shed\", at: (0, 0), shape: Box(width_m: 6, depth_m: 6, height_m: 4))");
    let refused = survey.stand(&stance((0.0, -20.0), 1.6, "24 mm", Aim::Fill));
    assert!(refused.expect_err("no subject").to_string().contains("subject: true"));
    let record = record(&survey, &stance((0.0, -20.0), 1.6, "24 mm", turned(0.0, 10.0, 0.0)));
    assert!(record.subject.is_none() && record.straightened.is_none() && record.tolerance.is_none());
    assert!(record.largest_lean_in_picture_deg.is_some());
    assert_eq!(no_number(&record), None);
}
