//! What does the program say of a file that is malformed, cut off, enormous, deeply nested or full of nonsense?
//!
//! Always an error with its place, never a panic, a hang or memory without bound.

use std::time::{Duration, Instant};

use plumbsight::files::{FileError, FileKind, ron_options};
use plumbsight::site::{
    Problem, Severity, Site, SiteError, SiteProblems, check_site, check_text, parse_site, read_site, site_hash,
    write_new,
};
use proptest::prelude::*;
use proptest::sample::Index;

/// A site with something of everything.
const SAMPLE: &str = r##"#![enable(implicit_some)]
// A harbour that is nowhere.
Site(
    format: 1,
    name: "Hooper's landing", /* kept */
    anchor: (latitude_deg: 53.70, longitude_deg: -0.31, height_m: 4, vertical_datum: "ODN"),
    time_zone: "Europe/London",
    terrain: Grid((south_west: (-200, -200), spacing_m: (100.0, 1e2), turned_deg: 5, rows: [
        [1, 2.5, 3, 2, 1],
        [1, 2, 3.125, 2, 1], // a bump
        [0, 0, 0.5, 0, -0.5],
    ])),
    water_level_m: -0.25,
    sun: (azimuth_deg: 215.0, altitude_deg: 38.0),
    underlay: (file: "survey.png", at: (-40, 30.5), metres_per_pixel: 0.05, turned_deg: -12, strength: 0.25),
    blocks: [
        (name: "stack", subject: true, at: (0.0, 0.0), leans: (by_deg: 0.5, toward_deg: 90),
         shape: RoundTaper(foot_radius_m: 2.6, head_radius_m: 1.5, height_m: 42.0)),
        (name: "engine house", at: (-14.0, 3.0), heading_deg: 12.0, finish: Grey,
         shape: Box(width_m: 12.0, depth_m: 9.0, height_m: 8.0)),
        (name: "coal stage", at: (9.0, -38.0), shape: Stage(width_m: 8.0, depth_m: 4.0, floor_m: 2.7, rail_m: 1.1),
         deck: (access: Ask, caution: "no rail on the water side"), cautions: ["loose planks"]),
        (name: "court", at: (60, 60), lift_m: 0.5, shape: Prism(outline: [(0, 0), (20, 0), (20, 10), (0, 10)],
         holes: [[(2, 2), (4, 2), (4, 4)], [(6, 6), (6, 8), (8, 8)]], height_m: 6)),
        (name: r#"the "old" tower"#, at: (-60, 20), base_m: 1.5,
         shape: PolygonTaper(sides: 8, foot_across_m: 6, head_across_m: 5, height_m: 20)),
        (name: "cap", at: (-60, 20), base_m: 21.5, shape: Dome(radius_m: 2.5, height_m: 3)),
        (name: "shed", at: (30, -60), shape: Gable(width_m: 8, depth_m: 5, eaves_m: 2.4, ridge_m: 4)),
        (name: "villa", at: (50, -60), shape: Hip(width_m: 12, depth_m: 9, eaves_m: 5, ridge_m: 8, ridge_length_m: 4)),
        (name: "stairs", at: (5, -50), deck: (), shape: Steps(width_m: 2, going_m: 0.3, rise_m: 0.17, count: 12)),
        (name: "quay", at: (0, -80), shape: Wall(path: [(-50, 0), (0, 2), (50, 0)], thickness_m: 0.6, height_m: 1.2)),
        (name: "mast", at: (80, 0), shape: Mast(foot_radius_m: 0.3, head_radius_m: 0.1, height_m: 30, stays: 3,
         stay_heights_m: [14, 28.5], stay_radius_m: 9)),
        (name: "lime", at: (20, 30), finish: Leaf,
         shape: Tree(height_m: 14, crown_radius_m: 4, crown_base_m: 3, trunk_radius_m: 0.35)),
        (name: "front", at: (0, 70), heading_deg: 180,
         shape: Facade(width_m: 16, depth_m: 8, height_m: 11, bays: 5, storeys: 3, opening_share: 0.4, reveal_m: 0.15)),
    ],
    grounds: [
        (name: "yard", access: Open, outline: [(-90, -70), (90, -70), (90, 90), (-90, 90)]),
        (name: "dock", access: Closed, outline: [(-90, -70), (-90, -90), (90, -90)], caution: "deep water"),
    ],
    kit: (
        formats: [(name: "60x45", width_mm: 60, height_mm: 45, width_px: 8000, height_px: 6000, source: "measured")],
        lenses: [
            (name: "90 mm", focal_mm: 90, widest_f: 5.6, narrowest_f: 64, closest_m: 1, rise_mm: 20,
             lateral_shift_mm: 10, circle_mm: 120, distortion: [(focal_mm: 90, coefficients: [0.001, 0, 0, 0, 0])]),
            (name: "45-90 mm", focal_mm: 45, to_mm: 90, marks_mm: [45, 60, 90], mapping: Rectilinear),
        ],
    ),
    stances: [
        (name: "yard, standing", at: (0.0, -40.0), height_m: 1.6, on: "ground", format: "36x24", lens: "24 mm", aim: Fill),
        (name: "from the stage", at: (9, -38), on: "coal stage", lens: "90 mm", format: "60x45", crop: (4, 5),
         orientation: Portrait, rise_mm: 15, lateral_shift_mm: -2, f_number: 16, focus_m: 40, aim: Level, note: "calm"),
        (name: "across", at: (150, -150), eye_height_m: 22.5, lens: "45-90 mm", focal_mm: 70,
         distortion: [-0.02, 0, 0, 0, 0], aim: At(0, 0, 20.5)),
        (name: "round", at: (5, -25), lens: "12 mm equisolid fisheye",
         aim: Turned(heading_deg: 355, pitch_deg: 10, roll_deg: 1.5)),
    ],
)
"##;

fn problems(text: &str) -> SiteProblems {
    match parse_site(text, "sample.site.ron") {
        Ok(_) => panic!("not refused: {text}"),
        Err(problems) => problems,
    }
}

/// A small good site around some blocks.
fn with_blocks(blocks: &str) -> String {
    format!("Site(\n format: 1,\n name: \"x\",\n blocks: [\n{blocks}\n ],\n)\n")
}

/// The place of every number of a text that stands in no comment and no quotes.
fn numbers(text: &str) -> Vec<std::ops::Range<usize>> {
    let bytes = text.as_bytes();
    let (mut found, mut at) = (Vec::new(), 0);
    while at < bytes.len() {
        let rest = &text[at..];
        let before_is_name = at > 0 && (bytes[at - 1].is_ascii_alphanumeric() || bytes[at - 1] == b'_');
        at += if rest.starts_with("//") {
            rest.find('\n').expect("a line")
        } else if rest.starts_with("/*") {
            rest.find("*/").expect("an end") + 2
        } else if rest.starts_with("r#\"") {
            rest.find("\"#").expect("an end") + 2
        } else if let Some(inside) = rest.strip_prefix('"') {
            inside.find('"').expect("an end") + 2
        } else if !before_is_name && (bytes[at].is_ascii_digit() || bytes[at] == b'-') {
            let length = rest.find(|c: char| !(c.is_ascii_alphanumeric() || "+-.".contains(c))).expect("an end");
            found.push(at..at + length);
            length
        } else {
            rest.chars().next().expect("a character").len_utf8()
        };
    }
    found
}

/// Line and column, both from 1, lie in the text, and the bytes that are named are whole characters of it.
fn lies_inside(text: &str, problem: &Problem) -> Result<(), TestCaseError> {
    prop_assert!(problem.span.start <= problem.span.end && problem.span.end <= text.len(), "{problem:?}");
    prop_assert!(text.get(problem.span.clone()).is_some(), "{problem:?}");
    let before = &text[..problem.span.start];
    prop_assert_eq!(problem.line, before.matches('\n').count() + 1);
    let line = before.rsplit('\n').next().unwrap_or_default();
    prop_assert_eq!(problem.column, line.chars().filter(|c| *c != '\u{feff}').count() + 1);
    Ok(())
}

/// What must hold of every text whatever.
fn holds(text: &str) -> Result<(), TestCaseError> {
    let told = check_text(text, "any.site.ron");
    for problem in &told.problems {
        lies_inside(text, problem)?;
    }
    let drawn = told.render(false, 80);
    prop_assert!(drawn.lines().count() <= 20 * 51, "{}", drawn);
    prop_assert!(!drawn.chars().any(|c| c.is_control() && c != '\n'), "{:?}", drawn);
    let ron: Option<Site> = ron_options().from_str(text).ok();
    match parse_site(text, "any.site.ron") {
        Ok(site) => {
            prop_assert!(!told.has_errors());
            if let Some(ron) = ron {
                prop_assert_eq!(&ron, &site);
            }
            prop_assert!(check_site(&site).iter().all(|finding| finding.severity == Severity::Warning));
            let again = write_new(&site);
            let back = parse_site(&again, "again.site.ron");
            prop_assert_eq!(back.as_ref(), Ok(&site), "{}", again);
        }
        Err(problems) => {
            prop_assert!(problems.has_errors());
            prop_assert_eq!(&problems, &told);
            if ron.is_some() {
                // What RON can read is refused for what it says, not for how it is written.
                for problem in &problems.problems {
                    prop_assert!(!problem.field.is_empty(), "{problem:?}");
                }
            }
        }
    }
    Ok(())
}

#[test]
fn the_sample_is_good_and_comes_back_from_what_is_written() {
    let site = parse_site(SAMPLE, "sample.site.ron").unwrap_or_else(|problems| panic!("{problems}"));
    assert_eq!(site.blocks.len(), 13);
    assert_eq!(check_text(SAMPLE, "sample.site.ron").problems, []);
    let written = write_new(&site);
    assert_eq!(parse_site(&written, "written.site.ron").as_ref(), Ok(&site), "{written}");
    assert!(written.lines().all(|line| line.chars().count() <= 120), "{written}");
    assert!(written.contains("\n        (name: \"stack\", subject: true, at: (0.0, 0.0), leans: "), "{written}");
    // Written again it is the same text.
    assert_eq!(write_new(&parse_site(&written, "written.site.ron").expect("good")), written);
    // One pair of brackets is enough for a terrain, and a mark at the front does no harm.
    let single = SAMPLE.replace("Grid((", "Grid(").replace("]))", "])");
    assert_eq!(parse_site(&format!("\u{feff}{single}"), "sample.site.ron").as_ref(), Ok(&site));
}

/// Takes the marks « out of a text: the text, and line and column of each mark, counted here by hand.
fn marked(text: &str) -> (String, Vec<(usize, usize)>) {
    let (mut plain, mut places, mut line, mut column) = (String::new(), Vec::new(), 1, 1);
    for c in text.chars() {
        if c == '«' {
            places.push((line, column));
            continue;
        }
        plain.push(c);
        (line, column) = if c == '\n' { (line + 1, 1) } else { (line, column + 1) };
    }
    (plain, places)
}

#[test]
fn each_fault_is_told_at_its_line_and_column() {
    let block = |fields: &str| with_blocks(&format!("  (name: \"a\", {fields}),"));
    let shape = |shape: &str| block(&format!("at: (0, 0), shape: {shape}"));
    // A text with a mark before each fault, and for each problem, in order: its mark, its field and what is said.
    type Told<'a> = &'a [(usize, &'a str, &'a str)];
    let cases: [(String, Told<'_>); 35] = [
        (
            shape("Box(width_m: 4, depth_m: «-4, height_m: 1)"),
            &[(0, "blocks[0].shape.depth_m", "is -4; allowed is from 0.01 to 2000 m")],
        ),
        (
            shape("«Box(width_m: 4, «depht_m: 4, height_m: «0)"),
            &[
                (0, "blocks[0].shape.depth_m", "is missing"),
                (1, "blocks[0].shape", "has no field 'depht_m'; allowed is width_m, depth_m or height_m"),
                (2, "blocks[0].shape.height_m", "is 0; allowed is from 0.01 to 2000 m"),
            ],
        ),
        (shape("«Bix(width_m: 4)"), &[(0, "blocks[0].shape", "is 'Bix'; allowed is Box, ")]),
        (shape("«Box"), &[(0, "blocks[0].shape", "is the word 'Box'; allowed is fields")]),
        (shape("«Box(4, 4, 4)"), &[(0, "blocks[0].shape", "allowed is fields")]),
        (
            shape("Box(width_m: 4, depth_m: «\"4,5\", height_m: «None)"),
            &[
                (0, "blocks[0].shape.depth_m", "is the text \"4,5\"; allowed is a number"),
                (1, "blocks[0].shape.height_m", "is the word 'None'; allowed is a number"),
            ],
        ),
        (
            block("at: «(0, 6e3), subject: «yes, shape: Dome(radius_m: 1, height_m: 1)"),
            &[
                (0, "blocks[0].at", "is (0, 6000); allowed is from -5000 to 5000 m east and north"),
                (1, "blocks[0].subject", "is the word 'yes'; allowed is true or false"),
            ],
        ),
        (
            block("at: «(0, 0, 0), shape: Dome(radius_m: «1e999, height_m: «NaN)"),
            &[
                (0, "blocks[0].at", "is 3 numbers in round brackets; allowed is 2 values"),
                (1, "blocks[0].shape.radius_m", "is 1e999; allowed is a finite number"),
                (2, "blocks[0].shape.height_m", "is NaN; allowed is a finite number"),
            ],
        ),
        (shape("Dome(radius_m: 1, height_m: «NaN)"), &[(0, "blocks[0].shape.height_m", "is NaN")]),
        (
            block("at: «[0, 0], «at: (0, 0), shape: «Tree()"),
            &[
                (0, "blocks[0].at", "is a list of 2 numbers"),
                (1, "blocks[0].at", "is given twice"),
                (2, "blocks[0].shape.height_m", "is missing"),
                (2, "blocks[0].shape.crown_radius_m", "is missing"),
                (2, "blocks[0].shape.crown_base_m", "is missing"),
                (2, "blocks[0].shape.trunk_radius_m", "is missing"),
            ],
        ),
        (
            shape("PolygonTaper(sides: «8.0, foot_across_m: 1, head_across_m: 1, height_m: 1)"),
            &[(0, "blocks[0].shape.sides", "allowed is a whole number")],
        ),
        (
            shape("Gable(width_m: 4, depth_m: 4, eaves_m: 5, ridge_m: «5)"),
            &[(0, "blocks[0].shape.ridge_m", "is 5; allowed is above the eaves, 5 m")],
        ),
        (
            shape("Gable(width_m: 4, depth_m: 4, eaves_m: «x, ridge_m: 0.02)"),
            &[(0, "blocks[0].shape.eaves_m", "allowed is a number")],
        ),
        (
            shape("Hip(width_m: 4, depth_m: 4, ridge_m: 5, ridge_length_m: «4.5)"),
            &[(0, "blocks[0].shape.ridge_length_m", "at most the width, 4 m")],
        ),
        (
            shape("Prism(outline: [(0, 0), (9, 9), «(9, 0), (0, 9)], height_m: 1)"),
            &[(0, "blocks[0].shape.outline[2]", "crosses or touches the one that begins at outline[0]")],
        ),
        (
            shape("Prism(outline: [(0, 0), (9, 0), (9, 9)], holes: [«[(0, 5), (1, 5), (1, 6)]], height_m: 1)"),
            &[(0, "blocks[0].shape.holes[0]", "outside the outline")],
        ),
        (
            shape("Prism(outline: [(0, 0), (9, 0), (9, 9), «(0, 0)], height_m: 1)"),
            &[(0, "blocks[0].shape.outline[3]", "is the same corner as outline[0]")],
        ),
        (
            shape("Prism(outline: «[(0, 0), (9, 0)], height_m: 1)"),
            &[(0, "blocks[0].shape.outline", "has 2 corners; allowed is at least 3")],
        ),
        (
            shape("Wall(path: [(0, 0), «(0, 0)], thickness_m: 1, height_m: 1)"),
            &[(0, "blocks[0].shape.path[1]", "same place")],
        ),
        (
            block("at: (4990, 0), heading_deg: 90, shape: Wall(path: [(0, 0), «(0, 20)], thickness_m: 1, height_m: 1)"),
            &[(0, "blocks[0].shape.path[1]", "lies at (5010, ")],
        ),
        (
            shape(
                "Facade(width_m: 9, depth_m: 3, height_m: 1, bays: «201, storeys: 1, opening_share: «1, reveal_m: «3)",
            ),
            &[
                (0, "blocks[0].shape.bays", "is 201; allowed is from 0 to 200"),
                (1, "blocks[0].shape.opening_share", "is 1; allowed is from 0.05 to 0.95"),
                (2, "blocks[0].shape.reveal_m", "less than the depth, 3 m"),
            ],
        ),
        (
            shape("Steps(width_m: 1, going_m: 0.3, rise_m: 2, count: «1500)"),
            &[(0, "blocks[0].shape.count", "makes the flight 3000 m high; allowed is at most 2000 m")],
        ),
        (
            with_blocks(
                "  (name: \"a\", at: (0, 0), shape: Dome(radius_m: 1, height_m: 1)),
                 \t(name: «\"a\", at: (1, 0), shape: Dome(radius_m: 1, height_m: 1)),
                 /* é */ (name: «\" \", at: (1, 0), shape: Dome(radius_m: 1, height_m: 1)),",
            ),
            &[(0, "blocks[1].name", "is 'a' as in blocks[0]"), (1, "blocks[2].name", "is blank")],
        ),
        (
            "Site(\n  format: «1\n  name: \"é\", terrain: Plane(height_m: 1 «}\n)".into(),
            &[(0, "", "a comma is missing"), (1, "", "'}' stands where the '(' of line 3 wants ')'")],
        ),
        (
            "Site(\n  format: 1,\n  name: \"é\", «\"é\"«: 1\n)".into(),
            &[(0, "", "no field name"), (1, "", "':' stands where")],
        ),
        ("Site(\n format: 1,\n name: «\"no end\n)".into(), &[(0, "", "never closed")]),
        ("Site(\n format: 1,\n «/* name: \"no end\n)".into(), &[(0, "", "comment is never closed")]),
        ("Site(\n format: «2,\n new_things: []\n)".into(), &[(0, "format", "is 2; allowed is up to 1")]),
        ("Site(\n format: 1, name: «\"x\\q\",\n)".into(), &[(0, "name", "cannot be read")]),
        ("\u{feff}Site(format: «0, name: \"x\")".into(), &[(0, "format", "is 0; allowed is 1")]),
        (
            "«Yard(format: 1, name: «5,\r\n terrain: Grid(«(rows: [[1, 2], «[1]], spacing_m: («0, 1))))".into(),
            &[
                (0, "", "is called 'Yard'; allowed is 'Site'"),
                (1, "name", "is the number 5; allowed is a text"),
                (2, "terrain.south_west", "is missing"),
                (3, "terrain.rows[1]", "has 1 posts; allowed is 2"),
                (4, "terrain.spacing_m[0]", "is 0; allowed is from 0.01 to 1000"),
            ],
        ),
        (
            "Site(format: 1, name: \"x\", anchor: (latitude_deg: «91, longitude_deg: 0), sun: «(azimuth_deg: 0), \
             time_zone: «\"here and now\", kit: (lenses: [(name: \"l\", focal_mm: «0, distortion: [(focal_mm: 5, \
             coefficients: «[1])])]))"
                .into(),
            &[
                (0, "anchor.latitude_deg", "is 91; allowed is from -90 to 90 degrees"),
                (1, "sun.altitude_deg", "is missing"),
                (2, "time_zone", "allowed is an IANA name"),
                (3, "kit.lenses[0].focal_mm", "is 0; allowed is 1 to 5000 mm"),
                (4, "kit.lenses[0].distortion[0].coefficients", "5 or 8 coefficients"),
            ],
        ),
        (
            "Site(format: 1, name: \"x\", underlay: (file: «\"../survey.png\", at: «(0, 3e4), metres_per_pixel: «0, \
             turned_deg: «NaN, strength: «1.5))"
                .into(),
            &[
                (0, "underlay.file", "is '../survey.png'; allowed is the name of a file, without folders"),
                (1, "underlay.at", "is 30000; allowed is from -20000 to 20000 m east and north"),
                (2, "underlay.metres_per_pixel", "is 0; allowed is from 0.0005 to 50 m"),
                (3, "underlay.turned_deg", "is NaN"),
                (4, "underlay.strength", "is 1.5; allowed is from 0 to 1"),
            ],
        ),
        (
            "Site(format: 1, name: \"x\", underlay: «(file: \"survey.png\", «metres_per_pixels: 2, at: (0, 0)))".into(),
            &[(0, "underlay.metres_per_pixel", "is missing"), (1, "underlay", "has no field 'metres_per_pixels'")],
        ),
        (
            SAMPLE
                .replace("focal_mm: 70", "focal_mm: «91")
                .replace("on: \"coal stage\"", "on: «\"Coal-stage\"")
                .replace("lens: \"24 mm\"", "lens: «\"a brick\"")
                .replace("rise_mm: 15", "rise_mm: «21"),
            &[
                (0, "stances[0].lens", "is 'a brick'; allowed is a lens of the kit"),
                (1, "stances[1].on", "is 'Coal-stage', which no block is called"),
                (2, "stances[1].rise_mm", "is 21; allowed is from -20 to 20 mm, the rise of '90 mm'"),
                (3, "stances[2].focal_mm", "is 91; allowed is from 45 to 90 mm"),
            ],
        ),
    ];
    for (text, wanted) in cases {
        let (text, mut places) = marked(&text);
        if text.starts_with('\u{feff}') {
            // An editor's mark at the front is seen by nobody.
            places = places.into_iter().map(|(line, column)| (line, column - 1)).collect();
        }
        let told = problems(&text);
        let errors: Vec<&Problem> =
            told.problems.iter().filter(|problem| problem.severity == Severity::Error).collect();
        assert_eq!(errors.len(), wanted.len(), "{text}\n{told}");
        for (found, (mark, field, said)) in errors.iter().zip(wanted) {
            assert_eq!((found.line, found.column), places[*mark], "{text}\n{told}");
            assert_eq!(found.field, *field, "{text}\n{told}");
            assert!(found.to_string().contains(said), "{found}\n{said}");
        }
    }
}

#[test]
fn problems_are_drawn_with_their_line() {
    let text = with_blocks("  (name: \"stack\", at: (0, 0), shape: Box(width_m: 4, depth_m: 4, higth_m: -4)),");
    let drawn = problems(&text).render(false, 100);
    assert_eq!(
        drawn,
        "\
Error in sample.site.ron, line 5: Block 'stack': shape.height_m is missing.
    (name: \"stack\", at: (0, 0), shape: Box(width_m: 4, depth_m: 4, higth_m: -4)),
                                       ^^^^
    Write height_m: and its value in these brackets.

Error in sample.site.ron, line 5: Block 'stack': shape has no field 'higth_m'.
    (name: \"stack\", at: (0, 0), shape: Box(width_m: 4, depth_m: 4, higth_m: -4)),
                                                                   ^^^^^^^
    Allowed: width_m, depth_m or height_m.
    Did you mean 'height_m'?

"
    );
    assert!(problems(&text).render(true, 100).contains("\u{1b}["));
}

#[test]
fn what_is_drawn_holds_no_character_that_steers_a_terminal() {
    let text =
        SAMPLE.replace("(name: \"45-90 mm\"", "(name: \"\u{1b}[31m\u{7}red\"").replace("\"lime\"", "\"\\u{1b}[2J\"");
    let told = problems(&text);
    assert_eq!(told.problems.len(), 3, "{told}");
    assert!(!told.render(false, 80).chars().any(|c| c.is_control() && c != '\n'), "{told}");
}

#[test]
fn a_site_without_a_subject_is_good_with_a_warning() {
    let text = with_blocks("(name: \"a\", at: (0, 0), shape: Dome(radius_m: 1, height_m: 1)),");
    assert!(parse_site(&text, "x").is_ok());
    let told = check_text(&text, "x");
    assert!(!told.has_errors() && told.problems.len() == 1, "{told}");
    assert_eq!((told.problems[0].line, told.problems[0].column), (4, 10));
    assert!(told.render(false, 80).starts_with("Warning in x, line 4: The site: blocks hold no subject"), "{told}");
}

#[test]
fn a_site_whose_picture_is_away_is_good_with_a_warning() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("landing.site.ron");
    std::fs::write(&path, SAMPLE).expect("written");
    let loaded = read_site(&path).unwrap_or_else(|error| panic!("{error}"));
    let [warning] = loaded.warnings.problems.as_slice() else { panic!("{}", loaded.warnings) };
    assert_eq!((warning.severity, warning.field.as_str()), (Severity::Warning, "underlay.file"));
    assert!(warning.to_string().contains("is 'survey.png', which is not there"), "{warning}");
    std::fs::write(folder.path().join("survey.png"), "").expect("written");
    assert!(read_site(&path).unwrap_or_else(|error| panic!("{error}")).warnings.is_empty());
}

#[test]
fn cut_off_anywhere_it_is_refused() {
    let end = SAMPLE.rfind(')').expect("a bracket");
    for at in (0..=end).filter(|at| SAMPLE.is_char_boundary(*at)) {
        let text = &SAMPLE[..at];
        let told = problems(text);
        for problem in &told.problems {
            lies_inside(text, problem).expect("inside");
        }
    }
}

#[test]
fn every_number_is_held_to_be_finite() {
    let places = numbers(SAMPLE);
    assert!(places.len() > 170, "{}", places.len());
    for place in places {
        for nonsense in ["NaN", "inf", "-inf", "1e400", "-1e300", "99999999999", "\"1\"", "x"] {
            let text = format!("{}{nonsense}{}", &SAMPLE[..place.start], &SAMPLE[place.end..]);
            let told = problems(&text);
            // In `crop` and the like the pair of numbers as a whole is what is told.
            let near = told.problems.iter().any(|problem| {
                problem.severity == Severity::Error
                    && problem.span.start <= place.start
                    && place.start <= problem.span.end
            });
            assert!(near, "{nonsense} at {}: {told}", &SAMPLE[place.start.saturating_sub(30)..place.end]);
        }
    }
}

#[test]
fn brackets_without_end_are_refused_at_once() {
    let started = Instant::now();
    for unit in ["(", "[", "{", "a(", "(a:", "[(", "Some(", "/*", "\"", "(((a: [{", "#![", "r#\"", "b'"] {
        for text in [unit.repeat(100_000), format!("Site(format: 1, name: \"x\", blocks: {}", unit.repeat(100_000))] {
            let told = problems(&text);
            for problem in &told.problems {
                lies_inside(&text, problem).expect("inside");
            }
        }
    }
    // Comments may nest as deep as one likes.
    let text = format!("{}{}{SAMPLE}", "/*".repeat(100_000), "*/".repeat(100_000));
    assert!(parse_site(&text.replace("#![enable(implicit_some)]", ""), "x").is_ok());
    assert!(started.elapsed() < Duration::from_secs(20), "{:?}", started.elapsed());
}

#[test]
fn too_much_of_anything_is_refused_in_time() {
    let started = Instant::now();
    let row = format!("[{}],", "0,".repeat(2000));
    let terrain = |rows: &str| {
        format!("Site(format: 1, name: \"x\", terrain: Grid((south_west: (0, 0), spacing_m: (1, 1), rows: [{rows}])))")
    };
    assert!(parse_site(&terrain(&row.repeat(2000)), "x").is_ok());
    let told = problems(&terrain(&row.repeat(2001)));
    assert_eq!(told.problems[0].fault, "has 4002000 posts");
    let blocks = "(name: \"a\", at: (0, 0), shape: Dome(radius_m: 1, height_m: 1)),\n".repeat(100_001);
    assert_eq!(problems(&with_blocks(&blocks)).problems[0].fault, "has 100001 blocks");
    // A hundred thousand faulty blocks: the first thousand problems, and how many more.
    let blocks = "(name: \"a\", at: (0, 0), shape: Dome(radius: 1, height_m: \"1\")),\n".repeat(100_000);
    let told = problems(&with_blocks(&blocks));
    assert_eq!(told.problems.len(), 1000);
    assert!(told.more > 100_000, "{}", told.more);
    assert!(told.render(false, 80).trim_end().ends_with("more"));
    let many: String = (0..100_000)
        .map(|index| format!("(name: \"{index}\", at: (0, 0), shape: Dome(radius_m: 1, height_m: 1)),\n"))
        .collect();
    assert!(problems(&with_blocks(&many)).to_string().contains("triangles"));
    let unknown = format!("Site(format: 1, name: \"x\", {})", "a: 1, ".repeat(2_000_000));
    assert!(problems(&unknown).more > 1_000_000);
    let many_values = format!("Site(format: 1, name: \"x\", blocks: [{}])", "0,".repeat(11_000_000));
    assert!(problems(&many_values).problems[0].fault.contains("more than"));
    assert!(started.elapsed() < Duration::from_secs(60), "{:?}", started.elapsed());
}

#[test]
fn a_line_of_a_megabyte_is_drawn_short() {
    let started = Instant::now();
    let row = "12.5, ".repeat(400_000);
    let text = format!(
        "Site(format: 1, name: \"x\", terrain: Grid((south_west: (0, 0), spacing_m: (1, 1), rows: [[{row}1, NaN], [{row}inf, 1, 2]])))"
    );
    let told = problems(&text);
    let places: Vec<(&str, usize)> =
        told.problems.iter().map(|problem| (problem.field.as_str(), problem.column)).collect();
    let column = |part: &str| text.find(part).expect("there") + 1;
    assert!(places.contains(&("terrain.rows[0][400001]", column("NaN"))), "{places:?}");
    assert!(places.contains(&("terrain.rows[1][400000]", column("inf"))), "{places:?}");
    let drawn = told.render(false, 80);
    assert!(drawn.lines().all(|line| line.chars().count() < 160), "{drawn}");
    assert!(drawn.contains("…5, 12.5, 1, NaN], [12.5, ") || drawn.contains("12.5, 1, NaN], [12.5"), "{drawn}");
    assert!(started.elapsed() < Duration::from_secs(20), "{:?}", started.elapsed());
}

#[test]
fn files_that_are_no_text_or_too_large_are_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("latin.site.ron");
    let mut bytes = b"Site(\n  name: \"caf".to_vec();
    bytes.extend(b"\xe9\",\n)");
    std::fs::write(&path, &bytes).expect("written");
    let Err(SiteError::Problems(told)) = read_site(&path) else { panic!("not refused") };
    assert_eq!((told.problems[0].line, told.problems[0].column), (2, 13));
    assert!(told.to_string().contains("0xe9"), "{told}");
    std::fs::write(&path, SAMPLE).expect("written");
    std::fs::write(folder.path().join("survey.png"), "").expect("written");
    let loaded = read_site(&path).expect("good");
    assert_eq!(loaded.hash, site_hash(SAMPLE));
    assert!(loaded.warnings.is_empty());
    let large = folder.path().join("large.site.ron");
    std::fs::File::create(&large).and_then(|file| file.set_len(FileKind::Site.most_bytes() + 1)).expect("made");
    assert!(matches!(read_site(&large), Err(SiteError::File(FileError::TooLarge { .. }))));
    assert!(matches!(read_site(folder.path()), Err(SiteError::File(FileError::NoPlainFile { .. }))));
    std::fs::write(&path, vec![0; 1000]).expect("written");
    assert!(matches!(read_site(&path), Err(SiteError::Problems(_))));
    std::fs::write(&path, b"").expect("written");
    assert!(matches!(read_site(&path), Err(SiteError::Problems(_))));
}

/// One change to a text.
#[derive(Clone, Debug)]
enum Change {
    Flip(Index, u8),
    Delete(Index, usize),
    Double(Index, usize),
    Swap(Index, Index),
    Insert(Index, &'static str),
    Number(Index, &'static str),
}

fn change() -> impl Strategy<Value = Change> {
    let insertions = vec![
        "(", ")", "[", "]", "{", "}", ",", ":", "\"", "'", "/*", "*/", "//", "#", "-", "1", "e", ".", "Some(", "None",
        "é", "\u{2028}", "\u{0}", "\r\n", "r#\"", "\\", "name", "0x", "_", "=", " ", "NaN",
    ];
    let numbers =
        vec!["0", "-1", "5000", "1e3", "0.5", "1_000", "+3", "0x10", "3.", ".5", "1f64", "7u32", "2e-3", "1e99"];
    prop_oneof![
        (any::<Index>(), 0_u8..8).prop_map(|(at, bit)| Change::Flip(at, bit)),
        (any::<Index>(), 1_usize..40).prop_map(|(at, length)| Change::Delete(at, length)),
        (any::<Index>(), 1_usize..200).prop_map(|(at, length)| Change::Double(at, length)),
        (any::<Index>(), any::<Index>()).prop_map(|(a, b)| Change::Swap(a, b)),
        (any::<Index>(), prop::sample::select(insertions)).prop_map(|(at, text)| Change::Insert(at, text)),
        (any::<Index>(), prop::sample::select(numbers)).prop_map(|(at, text)| Change::Number(at, text)),
    ]
}

fn changed(text: &str, changes: &[Change]) -> String {
    let mut bytes = text.as_bytes().to_vec();
    for change in changes {
        let length = bytes.len().max(1);
        match change {
            Change::Flip(at, bit) => {
                if let Some(byte) = bytes.get_mut(at.index(length)) {
                    *byte ^= 1 << bit;
                }
            }
            Change::Delete(at, count) => {
                let at = at.index(length);
                bytes.drain(at..(at + count).min(bytes.len()));
            }
            Change::Double(at, count) => {
                let at = at.index(length);
                let piece = bytes[at..(at + count).min(bytes.len())].to_vec();
                bytes.splice(at..at, piece);
            }
            Change::Swap(a, b) => {
                let (a, b) = (a.index(length), b.index(length));
                bytes.swap(a, b);
            }
            Change::Insert(at, text) => {
                let at = at.index(length);
                bytes.splice(at..at, text.bytes());
            }
            Change::Number(at, text) => {
                // Only a text that is still one has numbers to look for.
                let Ok(whole) = std::str::from_utf8(&bytes) else { continue };
                if whole != SAMPLE {
                    continue;
                }
                let places = numbers(whole);
                let place = places[at.index(places.len())].clone();
                bytes.splice(place, text.bytes());
            }
        }
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(3000))]

    #[test]
    fn a_changed_site_is_read_or_refused_with_its_places(changes in prop::collection::vec(change(), 1..4)) {
        holds(&changed(SAMPLE, &changes))?;
    }

    #[test]
    fn a_small_site_is_read_or_refused(changes in prop::collection::vec(change(), 1..6)) {
        let small = with_blocks("(name: \"a\", subject: true, at: (0, 0), shape: Prism(outline: [(0, 0), (5, 0), (5, 5)], height_m: 3)),");
        holds(&changed(&small, &changes))?;
    }

    #[test]
    fn any_text_is_read_or_refused(text in "(Site)?[(\\[{\"'/*:,a-z0-9 .\n\\\\#é]{0,60}") {
        holds(&text)?;
    }
}
