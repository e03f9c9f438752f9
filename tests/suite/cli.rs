//! Does the program do at the command line what its help says?
//!
//! The real binary in temporary folders with awkward names. Exit codes: 0 done, 1 no answer, 2 bad input.

use std::collections::BTreeSet;
use std::io::Read;
use std::path::PathBuf;
use std::process::Stdio;

use plumbsight::record::Record;
use plumbsight::scenes::SCENES;
use plumbsight::site::{Aim, Stance, parse_site, site_hash};
use serde_json::{Value, json};

use crate::support::program::{command, run};
use crate::support::surveyed::{record, surveyed};
use crate::support::{listing, project};

const SITE: &str = "Site(
    format: 1, name: \"mill\", // the owner's comment
    blocks: [
        (name: \"stack\", subject: true, at: (0, 0), shape: RoundTaper(foot_radius_m: 2, head_radius_m: 1.2, height_m: 30)),
        (name: \"plinth\", subject: true, at: (0, 0), shape: Box(width_m: 6, depth_m: 6, height_m: 2)),
        (name: \"shed\", at: (-16, 4), shape: Box(width_m: 9, depth_m: 6, height_m: 5)),
    ],
    stances: [
        (name: \"near, low\", at: (1, -24), height_m: 0.8, lens: \"16-35 mm\"),
        (name: \"far\", at: (4, -90), lens: \"70-200 mm\", aim: Turned(heading_deg: 357.1, pitch_deg: 8.3, roll_deg: 0.7)),
    ],
)";

/// A folder with spaces, accents and an emoji in its name, and the mill's site file in it.
fn mill() -> (tempfile::TempDir, PathBuf) {
    let base = tempfile::tempdir().expect("a folder");
    let folder = base.path().join("Ein Ordner mit  Lücken 🗼 'und' \"mehr\"");
    std::fs::create_dir(&folder).expect("made");
    std::fs::write(folder.join("the mill, été 🏭.site.ron"), SITE).expect("written");
    (base, folder)
}

const FILE: &str = "the mill, été 🏭.site.ron";

#[test]
fn a_site_is_checked_and_its_faults_are_told_with_code_2() {
    let (_base, folder) = mill();
    let told = run(&folder, &["check", FILE]).good();
    // A round stack has no front of its own; the plinth's is a guess, which is told.
    assert!(told.starts_with("Note: No front is named"), "{told}");
    assert!(told.contains("\nmill: no errors. 3 blocks, 2 of them the subject"), "{told}");
    let bad = SITE.replace("height_m: 30", "height_m: -30").replace("name: \"shed\"", "name: \"stack\"");
    std::fs::write(folder.join("bad.site.ron"), bad).expect("written");
    for command in ["check", "measure", "kit", "still"] {
        let ended = run(&folder, &[command, "bad.site.ron"]);
        assert!(ended.err.contains("height_m is -30") && ended.err.contains("a name of its own"), "{}", ended.err);
        assert!(!ended.err.contains('\x1b'), "colour where nobody looks");
        ended.refused(2, "Error in bad.site.ron, line 4: ");
    }
    run(&folder, &["check", "no such file"]).refused(2, "no such file: cannot be read");
    run(&folder, &["check", "."]).refused(2, "is a folder");
    assert_eq!(listing(&folder), ["bad.site.ron", FILE]);
}

#[test]
fn what_is_probably_not_as_meant_is_noted_with_code_0() {
    let folder = tempfile::tempdir().expect("a folder");
    let site = "(format: 1, name: \"yard\", front: Any, blocks: [
        (name: \"mill\", subject: true, at: (0, 0), shape: Box(width_m: 9, depth_m: 9, height_m: 12)),
        (name: \"shed\", at: (7.1, 0), shape: Box(width_m: 6, depth_m: 6, height_m: 3)),
        (name: \"tank\", at: (30, 0), lift_m: 2.5, shape: Dome(radius_m: 2, height_m: 2)),
    ])";
    std::fs::write(folder.path().join("yard.site.ron"), site).expect("written");
    let told = run(folder.path(), &["check", "yard.site.ron"]).good();
    assert!(told.contains("Note: 'shed' and 'mill' overlap by 0.40 m in plan"), "{told}");
    assert!(told.contains("Note: 'tank' floats 2.50 m above the ground"), "{told}");
    assert!(told.contains("yard: no errors. 3 blocks"), "{told}");
    let feet = run(folder.path(), &["check", "yard.site.ron", "--units", "ft"]).good();
    // 2.5 m in international feet of 0.3048 m.
    assert!(feet.contains("'tank' floats 8.20 ft above the ground"), "{feet}");
    let json = run(folder.path(), &["check", "yard.site.ron", "--json"]).good();
    let record: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    let notes = record["notes"].as_array().expect("a list");
    assert_eq!(notes.len(), 2, "{json}");
    assert_eq!((&notes[0]["kind"], &notes[0]["block_names"][0]), (&"overlap".into(), &"shed".into()));
    assert!((notes[0]["by_m"].as_f64().expect("a number") - 0.4).abs() < 1e-9);
    assert_eq!(notes[1]["mend"]["label"], "Set it down");
    assert_eq!(record["warnings"].as_array().map(Vec::len), Some(0));
}

#[test]
fn stances_are_compared_and_one_is_told_in_metres_or_feet() {
    let (_base, folder) = mill();
    let compared = run(&folder, &["measure", FILE]).good();
    assert!(compared.lines().any(|line| line.contains("near, low") && line.contains("0.80 m")), "{compared}");
    let far = run(&folder, &["measure", FILE, "--stance", "far"]).good();
    assert!(far.contains("eye 4.00 m, -90.00 m, 1.60 m"), "{far}");
    assert!(far.contains("heading 357.1°, pitch 8.3°, roll 0.7°"), "{far}");
    let feet = run(&folder, &["measure", FILE, "--stance", "far", "--units", "ft"]).good();
    // 90 m and 1.6 m in international feet of 0.3048 m.
    assert!(feet.contains("-295.28 ft, 5.25 ft"), "{feet}");
    assert!(!feet.contains(" m,") && feet.contains("px/ft"), "{feet}");
    run(&folder, &["measure", FILE, "--units", "ells"]).refused(2, "possible values: m, ft");
    run(&folder, &["measure", FILE, "--stance", "fra"]).refused(2, "the site has 'near, low', 'far'");
    // What would change a stance is not passed over where none is named.
    run(&folder, &["measure", FILE, "--lens", "24 mm"]).refused(2, "give a standpoint");
    let all = run(&folder, &["measure", FILE, "--json"]).json();
    assert_eq!(all.as_array().map(Vec::len), Some(2));
    // One that cannot be measured is a row of the table, and stops a list of records by its name.
    std::fs::write(folder.join("in.site.ron"), SITE.replace("at: (1, -24)", "at: (-16, 4)")).expect("written");
    let compared = run(&folder, &["measure", "in.site.ron"]).good();
    assert!(compared.contains("inside 'shed'") && compared.contains("far"), "{compared}");
    run(&folder, &["measure", "in.site.ron", "--json"])
        .refused(1, "stance 'near, low': the camera would be inside 'shed'");
    // A crop sees less and is equivalent to a longer lens: 36×24 cropped to 24×24 mm.
    let square = run(&folder, &["measure", FILE, "--at", "1,-24", "--focal", "24", "--aspect", "1:1", "--json"]).json();
    let expected = 24.0 * 36.0_f64.hypot(24.0) / 24.0_f64.hypot(24.0);
    assert!((number(&square, "camera.equivalent_focal_mm") - expected).abs() < 1e-9);
}

/// The value at a path such as `subject.detail_px_per_m.foot`; `[]` is the first item.
fn at<'a>(record: &'a Value, path: &str) -> &'a Value {
    path.split('.').fold(record, |value, step| {
        let inner = match step.strip_suffix("[]") {
            Some(list) => value.get(list).and_then(|list| list.get(0)),
            None => value.get(step),
        };
        inner.unwrap_or_else(|| panic!("{path} is not in the record"))
    })
}

fn number(record: &Value, path: &str) -> f64 {
    at(record, path).as_f64().unwrap_or_else(|| panic!("{path} is no number"))
}

/// The arguments of a command line; words in quotation marks are one.
fn arguments_of(line: &str) -> Vec<&str> {
    line.split('"')
        .enumerate()
        .flat_map(|(part, text)| if part % 2 == 1 { vec![text] } else { text.split_whitespace().collect() })
        .skip(1)
        .collect()
}

/// Every example of the README is what the program prints, and every command that it shows does something.
#[test]
fn the_readmes_examples_are_what_the_program_prints() {
    let readme = std::fs::read_to_string(project().join("README.md")).expect("the README");
    let after = |mark: &str| readme.split_once(mark).map(|(_, rest)| rest).expect("the README's example");
    let block = |mark: &str| after(mark).split("```").next().expect("its end").to_owned();
    let base = tempfile::tempdir().expect("a folder");
    let folder = base.path();
    std::fs::write(folder.join("brickfield.site.ron"), block("```ron\n")).expect("written");
    std::fs::create_dir(folder.join("scenes")).expect("made");
    for scene in SCENES {
        std::fs::write(folder.join(format!("scenes/{}.site.ron", scene.name)), scene.text).expect("written");
    }
    let words = |line: &str| line.split_whitespace().collect::<Vec<_>>().join(" ");
    // A block that begins with a command shows lines of what it prints, at a hundred columns.
    let mut shown = 0;
    for example in readme.split("```text\n$ plumbsight ").skip(1).filter_map(|rest| rest.split("```").next()) {
        let (line, lines) = example.split_once('\n').expect("a command and what it prints");
        let line = format!("plumbsight {line}");
        let output =
            command(folder).env("COLUMNS", "100").args(arguments_of(&line)).output().expect("the program starts");
        let printed = String::from_utf8(output.stdout).expect("text");
        let printed: Vec<String> = printed.lines().map(words).collect();
        for wanted in lines.lines().map(words).filter(|wanted| wanted != "…") {
            assert!(printed.contains(&wanted), "{line}: '{wanted}' is not printed:\n{}", printed.join("\n"));
            shown += 1;
        }
    }
    assert!(shown > 30, "{shown}");
    // What the card's file says, without its marks.
    let card =
        ["card", "scenes/saltings.site.ron", "--stance", "yard, standing", "--day", "2026-06-21", "-o", "yard.html"];
    run(folder, &card).good();
    let page = std::fs::read_to_string(folder.join("yard.html")).expect("the card");
    let text: String =
        page.split('<').filter_map(|part| part.split_once('>')).map(|(_, text)| format!("{text} ")).collect();
    let card = block("From the yard of the demo site:\n\n```text\n");
    for wanted in card.lines().flat_map(|line| line.split("  ")).map(words).filter(|wanted| !wanted.is_empty()) {
        assert!(words(&text).contains(&wanted), "'{wanted}' is not on the card: {}", words(&text));
    }
    for line in block("```sh\nplumbsight check").lines().filter(|line| line.starts_with("plumbsight ")) {
        let line = line.split('#').next().expect("a line").trim();
        assert_eq!(run(folder, &arguments_of(line)).code, 0, "{line}");
    }
}

#[test]
fn the_record_has_every_promised_field_in_its_unit() {
    let (_base, folder) = mill();
    let arguments = [
        "measure",
        FILE,
        "--json",
        "--at",
        "1,-24",
        "--height",
        "2",
        "--heading",
        "358",
        "--pitch",
        "20",
        "--roll",
        "1.5",
        "--focal",
        "20",
        "--rise",
        "2.5",
        "--shift",
        "-1",
        "--distortion",
        "-0.05,0.01,0.001,-0.002,0.003",
    ];
    let record = run(&folder, &arguments).json();
    // A level eye 2 m above ground at 0, in metres; the attitude in degrees as given.
    assert_eq!(at(&record, "stance.eye_m"), &json!([1.0, -24.0, 2.0]));
    for (path, value) in [("heading_deg", 358.0), ("pitch_deg", 20.0), ("roll_deg", 1.5), ("height_m", 2.0)] {
        assert!((number(&record, &format!("stance.{path}")) - value).abs() < 1e-9, "{path}");
    }
    assert_eq!(at(&record, "camera.format_mm"), &json!([24.0, 36.0]));
    assert_eq!(at(&record, "camera.pixels"), &json!([4000, 6000]));
    for (path, value) in [("focal_mm", 20.0), ("rise_mm", 2.5), ("lateral_shift_mm", -1.0)] {
        assert_eq!(number(&record, &format!("camera.{path}")), value, "{path}");
    }
    assert_eq!(at(&record, "camera.mapping"), "Rectilinear");
    assert_eq!(at(&record, "camera.distortion"), &json!([-0.05, 0.01, 0.001, -0.002, 0.003, 0.0, 0.0, 0.0]));
    for list in ["verticals", "flanks"] {
        let line = |field: &str| at(&record, &format!("{list}[].{field}")).clone();
        assert!(line("block").is_string() && line("subject").is_boolean() && line("visible").is_boolean());
        for field in ["foot_m", "head_m", "foot_px", "head_px"] {
            let place: Vec<f64> = serde_json::from_value(line(field)).expect("a place");
            assert_eq!(place.len(), if field.ends_with("_m") { 3 } else { 2 });
        }
        for field in ["lean_deg", "ideal_lean_deg", "bow_percent"] {
            assert!(line(field).is_f64(), "{list}[].{field}");
        }
        assert!(line("why").is_null());
    }
    let subject = |field: &str| number(&record, &format!("subject.{field}"));
    let shares = ["visible_share", "in_frame_share"];
    assert!(shares.iter().all(|share| (0.0..=1.0).contains(&subject(share))));
    assert!(subject("convergence_deg") > 1.0 && subject("worst_lean_deg") > 1.0);
    assert_eq!(at(&record, "subject.reads_upright"), false);
    assert!(subject("flank_closing_deg") > subject("convergence_deg") / 2.0);
    assert!((subject("seen_taper") / subject("shape_taper") - subject("tilt_factor")).abs() < 1e-12);
    assert_eq!(subject("nominal_taper"), 0.6);
    // The stack's head, 30 m up and 1.2 m nearer than its axis at 24 m.
    let away_m = 1.0_f64.hypot(24.0) - 1.2;
    assert!((subject("head_elevation_deg") - (28.0 / away_m).atan().to_degrees()).abs() < 0.05);
    for place in ["foot", "middle", "head", "worst"] {
        let detail = subject(&format!("detail_px_per_m.{place}"));
        assert!(detail > 10.0 && detail < 1000.0, "{place}: {detail}");
        assert!((subject(&format!("detail_mm_per_px.{place}")) * detail - 1000.0).abs() < 1e-6);
    }
    assert!(number(&record, "worst_lean_in_view_deg") > 0.0);
    // 20·cot 20° − 2.5 mm up from the centre before the roll turns it about the principal point.
    let vanishing: Vec<f64> = serde_json::from_value(at(&record, "vanishing_point_mm").clone()).expect("a point");
    let (right, up) = (vanishing[0] - 1.0, vanishing[1] + 2.5);
    assert!((right.hypot(up) - 20.0 / 20.0_f64.to_radians().tan()).abs() < 1e-9, "{vanishing:?}");
    assert!(at(&record, "vanishing_direction").is_array());
    for field in ["megapixels_kept", "detail_kept_px_per_m", "subject_cut_share", "why_not"] {
        at(&record, &format!("straightened.{field}"));
    }
    assert!(at(&record, "cautions").is_array());
    assert_eq!(at(&record, "site.sha256"), site_hash(SITE).as_str());
    assert_eq!(at(&record, "site.file"), FILE);
    assert_eq!(at(&record, "program"), format!("plumbsight {}", env!("CARGO_PKG_VERSION")).as_str());
}

#[test]
fn a_recorded_stance_taken_up_again_gives_the_same_record() {
    let (_base, folder) = mill();
    let survey = surveyed(SITE, FILE);
    for arguments in [
        vec!["--stance", "far"],
        vec!["--stance", "near, low", "--height", "1.234567890123", "--aspect", "4:5"],
        vec!["--eye", "3.3,-40.1,2.7", "--focal", "31.7", "--rise", "3.1", "--aim", "rise"],
        vec!["--at", "-30,-30", "--aim", "at:0,0,17.3", "--distortion", "-0.1,0.02,0,0,0", "--focus", "12"],
    ] {
        let said = |form: &str| run(&folder, &[&["measure", FILE, form], &arguments[..]].concat()).good();
        let (json, ron) = (said("--json"), said("--ron"));
        let from_json: Record = serde_json::from_str(&json).expect("a record");
        let from_ron: Record = plumbsight::files::ron_options().from_str(&ron).expect("a record");
        assert_eq!(from_json, from_ron);
        let described: Stance = from_json.stance.described.clone();
        let mut again = record(&survey, &described);
        // Measured by itself its sentence goes on with what to do.
        let (told, now) = (from_json.verdict.as_ref().expect("told"), again.verdict.as_mut().expect("told"));
        assert!(told.sentence.starts_with(&now.sentence), "{} {}", told.sentence, now.sentence);
        now.sentence.clone_from(&told.sentence);
        if let (Some(told), Some(now)) = (&from_json.final_picture, &mut again.final_picture) {
            now.why_not.clone_from(&told.why_not);
        }
        assert_eq!(again.to_json(), json.trim_end());
        assert_eq!(again.to_ron(), ron.trim_end());
        // And repeats, whatever the sentence says.
        std::fs::write(folder.join("told.record.json"), json).expect("written");
        assert!(run(&folder, &["repeat", "told.record.json"]).good().contains("All figures are as recorded."));
    }
}

/// Whether a value is as a schema says: the part of JSON Schema 2020-12 that the record's schema is written in. Any other
/// keyword is a failure, so that nothing is passed over.
fn follows(value: &Value, schema: &Value, root: &Value) -> Result<(), String> {
    let Value::Object(rules) = schema else { return Err(format!("{schema} is no schema")) };
    let fault = |what: String| Err(format!("{what}: {value}"));
    let is = |name: &str| match name {
        "object" => value.is_object(),
        "array" => value.is_array(),
        "string" => value.is_string(),
        "boolean" => value.is_boolean(),
        "null" => value.is_null(),
        "number" => value.is_number(),
        "integer" => value.is_i64() || value.is_u64(),
        _ => false,
    };
    let count = |rule: &Value| rule.as_u64().expect("a count") as usize;
    for (keyword, rule) in rules {
        match keyword.as_str() {
            "$schema" | "$defs" | "title" | "description" | "default" | "format" => {}
            "type" => {
                let names = rule.as_array().cloned().unwrap_or_else(|| vec![rule.clone()]);
                if !names.iter().any(|name| is(name.as_str().expect("a type"))) {
                    return fault(format!("is not {rule}"));
                }
            }
            "const" if value != rule => return fault(format!("is not {rule}")),
            "const" => {}
            "minimum" => {
                if value.as_f64().is_some_and(|number| number < rule.as_f64().expect("a number")) {
                    return fault(format!("is less than {rule}"));
                }
            }
            "minItems" if value.as_array().is_some_and(|items| items.len() < count(rule)) => {
                return fault(format!("has fewer than {rule} items"));
            }
            "maxItems" if value.as_array().is_some_and(|items| items.len() > count(rule)) => {
                return fault(format!("has more than {rule} items"));
            }
            "minItems" | "maxItems" => {}
            "required" => {
                for name in rule.as_array().expect("names") {
                    let name = name.as_str().expect("a name");
                    if value.as_object().is_some_and(|fields| !fields.contains_key(name)) {
                        return fault(format!("has no {name}"));
                    }
                }
            }
            "properties" => {
                for (name, inner) in value.as_object().into_iter().flatten() {
                    match rule.get(name) {
                        Some(rule) => follows(inner, rule, root).map_err(|fault| format!("{name} {fault}"))?,
                        // Stricter than the schema: a field that it does not tell of is a gap in it.
                        None => return fault(format!("{name} is not told of")),
                    }
                }
            }
            "additionalProperties" => {
                let named = rules.get("properties").and_then(Value::as_object);
                for (name, inner) in value.as_object().into_iter().flatten() {
                    if rule != false && named.is_none_or(|named| !named.contains_key(name)) {
                        follows(inner, rule, root).map_err(|fault| format!("{name} {fault}"))?;
                    }
                }
            }
            "items" => {
                for item in value.as_array().into_iter().flatten() {
                    follows(item, rule, root)?;
                }
            }
            "prefixItems" => {
                for (item, rule) in value.as_array().into_iter().flatten().zip(rule.as_array().expect("schemas")) {
                    follows(item, rule, root)?;
                }
            }
            "anyOf" | "oneOf" => {
                let choices = rule.as_array().expect("schemas");
                let fitting = choices.iter().filter(|choice| follows(value, choice, root).is_ok()).count();
                if fitting == 0 || keyword == "oneOf" && fitting > 1 {
                    return fault(format!("fits {fitting} of {}", choices.len()));
                }
            }
            "$ref" => {
                let name = rule.as_str().and_then(|path| path.strip_prefix("#/$defs/")).expect("a definition here");
                follows(value, &root["$defs"][name], root)?;
            }
            other => return Err(format!("this test does not know the keyword {other}")),
        }
    }
    Ok(())
}

#[test]
fn a_record_follows_the_printed_schema_and_spoilt_ones_do_not() {
    let (_base, folder) = mill();
    let schema: Value = serde_json::from_str(&run(&folder, &["pages", "schema"]).good()).expect("JSON");
    let far = run(&folder, &["measure", FILE, "--stance", "far", "--json"]).json();
    let behind = run(&folder, &["measure", FILE, "--at", "0,-20", "--heading", "180", "--json"]).json();
    for record in [&far, &behind] {
        follows(record, &schema, &schema).expect("the schema is the record's");
    }
    let spoilt = |spoil: &dyn Fn(&mut Value)| {
        let mut record = far.clone();
        spoil(&mut record);
        follows(&record, &schema, &schema).expect_err("spoilt")
    };
    assert!(spoilt(&|record| record["stance"]["eye_m"] = json!([1.0, 2.0])).contains("fewer than 3"));
    assert!(spoilt(&|record| record["camera"]["focal_mm"] = json!("24")).contains("number"));
    assert!(spoilt(&|record| record["camera"]["mapping"] = json!("Conical")).contains("fits 0"));
    assert!(spoilt(&|record| record["format"] = json!(-1)).contains("less than 0"));
    assert!(
        spoilt(&|record| {
            record.as_object_mut().expect("an object").remove("cautions");
        })
        .contains("has no cautions")
    );
}

#[test]
fn a_still_is_written_with_its_record_and_never_over_another_unless_told() {
    let (_base, folder) = mill();
    let arguments = ["still", FILE, "--stance", "far", "--out", "far 🗼.png", "--width", "120", "--samples", "1"];
    let told = run(&folder, &arguments).good();
    assert!(told.contains("far 🗼.png is written, 120 × 180 px, with its record in far 🗼.record.ron"), "{told}");
    let picture = || std::fs::read(folder.join("far 🗼.png")).expect("a picture");
    let first = picture();
    let mut reader = png::Decoder::new(std::io::Cursor::new(&first[..])).read_info().expect("a PNG");
    let mut pixels = vec![0; reader.output_buffer_size().expect("a small picture")];
    let info = reader.next_frame(&mut pixels).expect("a whole PNG");
    assert_eq!((info.width, info.height), (120, 180));
    assert!(pixels.iter().any(|value| *value != pixels[0]));
    let record = std::fs::read_to_string(folder.join("far 🗼.record.ron")).expect("a record");
    let record: Record = plumbsight::files::ron_options().from_str(&record).expect("a record");
    assert_eq!(record.stance.described.name, "far");

    run(&folder, &arguments).refused(2, "far 🗼.png already exists; use --replace");
    std::fs::remove_file(folder.join("far 🗼.png")).expect("removed");
    run(&folder, &arguments).refused(2, "far 🗼.record.ron already exists; use --replace");
    assert_eq!(listing(&folder), ["far 🗼.record.ron", FILE]);
    run(&folder, &[&arguments[..], &["--replace"]].concat()).good();
    assert_eq!(picture(), first, "the same picture has other bytes");

    for (wrong, code, answer) in [
        (vec!["--width", "0"], 2, "at least 1"),
        (vec!["--width", "4000000000"], 2, "megapixels"),
        (vec!["--samples", "3"], 2, "1, 2, 4, 8 or 16"),
        (vec!["--eye", "0,0,10"], 1, "inside 'stack'"),
        (vec!["--heading", "180", "--straightened"], 1, "not in front"),
    ] {
        let arguments = [&["still", FILE, "--stance", "far", "--out", "wrong.png"], &wrong[..]].concat();
        run(&folder, &arguments).refused(code, answer);
    }
    let lost = ["still", FILE, "--stance", "far", "--width", "20", "--out", "no such folder/x.png"];
    // It is told in the user's words: no name of a temporary file.
    run(&folder, &lost).refused(2, "no such folder/x.png: cannot be written: No such file or directory (os error 2)\n");
    assert_eq!(listing(&folder), ["far 🗼.png", "far 🗼.record.ron", FILE]);
}

#[test]
fn the_kit_is_listed_and_a_sites_own_is_added() {
    let (_base, folder) = mill();
    let listed = run(&folder, &["kit"]).good();
    // 2·atan(36/48), 2·atan(24/48): handbook angles of view of a 24 mm lens on 36×24 mm.
    let line = listed.lines().find(|line| line.trim_start().starts_with("24 mm ") && line.contains("73.7°"));
    assert!(line.is_some_and(|line| line.contains("53.1°") && line.contains("84.1°")), "{listed}");
    let own = SITE.replacen("blocks:", "kit: (lenses: [(name: \"old brass\", focal_mm: 210)]), blocks:", 1);
    std::fs::write(folder.join("own.site.ron"), own).expect("written");
    assert!(run(&folder, &["kit", "own.site.ron"]).good().contains("old brass"));
    let kit = run(&folder, &["kit", "own.site.ron", "--json"]).json();
    assert!(kit["lenses"].as_array().expect("lenses").iter().any(|lens| lens["name"] == "old brass"));
    run(&folder, &["kit", "--format", "postcard"]).refused(2, "no format is called 'postcard'");
    run(&folder, &["kit", "--aperture", "NaN"]).refused(2, "--aperture is NaN");
}

#[test]
fn footprints_are_brought_into_a_new_site_and_into_a_persons_own() {
    let (_base, folder) = mill();
    let house = json!({
        "type": "FeatureCollection",
        "features": [{
            "type": "Feature",
            "properties": {"name": "counting house", "height": 9.5},
            "geometry": {"type": "Polygon", "coordinates": [[
                [-0.3100, 53.7000], [-0.3098, 53.7000], [-0.3098, 53.7001], [-0.3100, 53.7001], [-0.3100, 53.7000]
            ]]},
        }],
    });
    std::fs::write(folder.join("häuser.geojson"), house.to_string()).expect("written");
    let told =
        run(&folder, &["bring", "häuser.geojson", "--into", "neu 1.site.ron", "--subject", "counting house"]).good();
    assert!(told.contains("neu 1.site.ron is written"), "{told}");
    let text = std::fs::read_to_string(folder.join("neu 1.site.ron")).expect("a site");
    let site = parse_site(&text, "neu").expect("what is written can be read");
    assert_eq!(site.blocks.len(), 1);
    assert!(site.blocks[0].subject);
    let measured = run(&folder, &["measure", "neu 1.site.ron", "--at", "0,-40", "--lens", "24 mm", "--json"]).json();
    assert_eq!(measured["subject"]["blocks"], json!(["counting house"]));

    run(&folder, &["bring", "häuser.geojson", "--into", FILE, "--anchor", "53.7,-0.31"]).good();
    let text = std::fs::read_to_string(folder.join(FILE)).expect("a site");
    assert!(text.contains("// the owner's comment") && text.contains("counting house"), "{text}");
    assert_eq!(parse_site(&text, FILE).expect("in order").blocks.len(), 4);

    let before = listing(&folder);
    run(&folder, &["bring", "none.geojson", "--into", "x.site.ron"]).refused(2, "none.geojson");
    std::fs::write(folder.join("broken.geojson"), "{\"type\": \"Feature").expect("written");
    run(&folder, &["bring", "broken.geojson", "--into", "x.site.ron"]).refused(2, "broken.geojson");
    run(&folder, &["bring", "häuser.geojson", "--into", "x.site.ron", "--anchor", "95,0"]).refused(2, "latitude");
    run(&folder, &["bring", "häuser.geojson", "--into", "x.site.ron", "--subject", "nobody"]).refused(2, "nobody");
    assert_eq!(listing(&folder).len(), before.len() + 1);
}

#[test]
fn pages_for_machines_are_printed() {
    let folder = tempfile::tempdir().expect("a folder");
    let manual = run(folder.path(), &["pages", "manual"]).good();
    assert!(manual.contains(".TH plumbsight") && manual.contains("measure"), "{manual}");
    for (shell, sign) in [
        ("bash", "complete -F"),
        ("zsh", "#compdef plumbsight"),
        ("fish", "complete -c plumbsight"),
        ("powershell", "Register-ArgumentCompleter"),
        ("elvish", "edit:completion"),
    ] {
        let page = run(folder.path(), &["pages", "completions", shell]).good();
        assert!(page.contains(sign) && page.contains("measure"), "{shell}");
    }
    run(folder.path(), &["pages", "completions", "sh -c"]).refused(2, "possible values");
    run(folder.path(), &["pages"]).refused(2, "Usage");
    run(folder.path(), &["fly"]).refused(2, "unrecognized subcommand");
    assert!(run(folder.path(), &["--help"]).good().contains("Heights, edges, water"));
    assert_eq!(run(folder.path(), &["--version"]).good().trim(), format!("plumbsight {}", env!("CARGO_PKG_VERSION")));
    assert!(listing(folder.path()).is_empty());
}

#[test]
fn colour_is_written_where_it_is_wanted_and_no_color_is_honoured() {
    let (_base, folder) = mill();
    std::fs::write(folder.join("bad.site.ron"), SITE.replace("height_m: 30", "height_m: -30")).expect("written");
    let told = |variables: &[(&str, &str)]| {
        let mut check = command(&folder);
        check.args(["check", "bad.site.ron"]).env_remove("NO_COLOR").env_remove("CLICOLOR_FORCE").env("TERM", "xterm");
        let output = check.envs(variables.iter().copied()).output().expect("the program starts");
        String::from_utf8(output.stderr).expect("text")
    };
    assert!(told(&[("CLICOLOR_FORCE", "1")]).contains("\x1b["));
    let plain = told(&[("NO_COLOR", "1")]);
    assert!(!plain.contains('\x1b') && plain.contains("height_m is -30"));
}

#[test]
fn a_reader_who_leaves_early_is_no_error() {
    let (_base, folder) = mill();
    for arguments in [&["pages", "completions", "zsh"][..], &["measure", FILE, "--json"], &["measure", FILE], &["kit"]]
    {
        let mut child = command(&folder)
            .args(arguments)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program starts");
        // Gone before anything is written.
        drop(child.stdout.take());
        let mut said = String::new();
        child.stderr.take().expect("a pipe").read_to_string(&mut said).expect("text");
        let status = child.wait().expect("it ends");
        assert_eq!((status.code(), said.as_str()), (Some(0), ""), "{arguments:?}");
    }
}

#[test]
fn without_a_word_the_demo_sites_are_measured_and_pictured_and_an_edited_one_is_kept() {
    let base = tempfile::tempdir().expect("a folder");
    let folder = base.path().join("my first try");
    let tour = folder.join("plumbsight-tour");
    std::fs::create_dir_all(tour.join("saltings")).expect("made");
    // Somebody has been here and changed one site.
    let mut edited = parse_site(SCENES[0].text, "saltings").expect("a site");
    edited.stances.truncate(1);
    edited.stances[0].aim = Aim::Level;
    edited.stances[0].name = "my own".into();
    let edited = plumbsight::site::write_new(&edited);
    let kept = tour.join("saltings/saltings.site.ron");
    std::fs::write(&kept, &edited).expect("written");

    let arguments: [&str; 0] = [];
    let told = run(&folder, &arguments).good();
    assert_eq!(std::fs::read_to_string(&kept).expect("a site"), edited, "a person's file was written over");
    assert!(told.contains("my own") && told.contains("saltings.site.ron"), "{told}");
    assert!(told.contains("plumbsight-tour"));
    assert_eq!(listing(&folder), ["plumbsight-tour"]);
    for scene in SCENES {
        let text =
            std::fs::read_to_string(tour.join(scene.name).join(format!("{}.site.ron", scene.name))).expect("a site");
        let site = parse_site(&text, scene.name).expect("in order");
        assert!(told.contains(&site.name));
        assert_eq!(listing(&tour.join(scene.name)).len(), 1 + 3 * site.stances.len());
        for name in listing(&tour.join(scene.name)) {
            let bytes = std::fs::read(tour.join(scene.name).join(&name)).expect("a file");
            if name.ends_with(".png") {
                assert!(bytes.starts_with(b"\x89PNG") && bytes.len() > 10_000, "{name}");
            } else if name.ends_with(".json") {
                let record: Record = serde_json::from_slice(&bytes).expect("a record");
                assert_eq!(record.site.sha256, site_hash(&text));
            }
        }
    }
}

/// A piece of a search has a name of its own and never takes the place of anything else.
#[test]
fn a_piece_of_a_search_is_written_over_pieces_only() {
    let (_base, folder) = mill();
    let search = |more: &[&str]| run(&folder, &[&["search", FILE, "--spacing", "10"], more].concat());
    let piece = |number: &str, out: &str, more: &[&str]| search(&[&["--tile", number, "--out", out], more].concat());
    let site = std::fs::read(folder.join(FILE)).expect("the site");
    piece("1/2", FILE, &["--replace"]).refused(2, "end the name of a piece in .piece");
    std::fs::copy(folder.join(FILE), folder.join("site.piece")).expect("copied");
    piece("1/2", "site.piece", &["--replace"]).refused(2, "is not a piece of a search");
    for name in [FILE, "site.piece"] {
        assert!(std::fs::read(folder.join(name)).expect("a site") == site, "{name} was written over");
    }
    piece("1/2", "a.piece", &[]).good();
    assert!(piece("1/2", "a.piece", &[]).good().contains("already"));
    piece("1/2", "a.piece", &["--replace"]).good();
    piece("2/2", "b.piece", &[]).good();
    assert_eq!(search(&["--merge", "a.piece", "--merge", "b.piece"]).good(), search(&[]).good());
    let mut bytes = std::fs::read(folder.join("b.piece")).expect("a piece");
    *bytes.last_mut().expect("bytes") ^= 1;
    std::fs::write(folder.join("b.piece"), bytes).expect("written");
    search(&["--merge", "a.piece", "--merge", "b.piece"]).refused(2, "b.piece: the file is damaged");
}

/// Criteria that cannot be met or looked for are told with their numbers, before any memory is taken.
#[test]
fn a_search_for_what_cannot_be_says_why() {
    let (_base, folder) = mill();
    let search = |file: &str, more: &[&str]| run(&folder, &[&["search", file], more].concat());
    // Code 2: what was asked for is wrong.
    for (arguments, words) in [
        (&["--spacing", "0"][..], "is 0; it must lie from 0.02 to 1000"),
        (&["--spacing", "1e-9"], "is 0.000000001; it must lie from 0.02 to 1000"),
        (&["--spacing=-1"], "is -1; it must lie from"),
        (&["--spacing", "NaN"], "is NaN; it must lie from"),
        // 25,000 m to each side at 0.05 m: (10^6)^2 places.
        (&["--spacing", "0.05", "--distance", "1,25000"], "1.000e12 places of 0.05 m"),
        (&["--height", "-3"], "-3"),
        (&["--height", "1e9"], "is 1000000000; it must lie from 0.05 to 150"),
        (&["--distance", "50,20"], "runs from 50 to 20"),
        (&["--area", "10,0,-10,5"], "runs from 10 to -10"),
        (&["--area", "1,2,3"], "four numbers"),
        (&["--lens", "no such lens"], "no such lens"),
        (&["--format", "9x9 furlongs"], "9x9 furlongs"),
        (&["--inside", "steeple"], "no block is called 'steeple'; there are"),
        (&["--seen", "1.5"], "is 1.5; it must lie from 0 to 1"),
        (&["--filled", "2"], "is 2; it must lie from 0 to 1"),
        (&["--lowest", "5,1,0.1"], "runs from 5 to 1"),
        (&["--list", "0"], "is 0; it must lie from 1"),
        (&["--samples", "1"], "is 1; it must lie from 8"),
        (&["--tile", "9/4", "--out", "x.piece"], "9/4"),
        (&["--tile", "1/4", "--out", "x"], "end the name of a piece in .piece"),
        (&["--map", "lean"], "--out"),
        (&["--out", "x.tif"], "--out needs --map"),
        (&["--map", "lean", "--out", "no/such/folder/x.png"], "no/such/folder"),
        (&["--merge", "nothing there"], "nothing there"),
    ] {
        search(FILE, arguments).refused(2, words);
    }
    // Code 1: nothing is wrong, and nothing comes of it.
    let quick = |file: &str, more: &[&str]| search(file, &[&["--spacing", "10"], more].concat());
    let nobody = quick(FILE, &["--lean", "0.0001", "--aim", "fill"]);
    assert!(
        nobody.err.contains("no standpoint meets every requirement")
            && nobody.err.contains("What would open standpoints"),
        "{}",
        nobody.err
    );
    nobody.refused(1, "standpoints,");
    // 10 m from a stack of 30 m with a long lens: it fills the frame many times over.
    search(FILE, &["--lens", "70-200 mm", "--distance", "8,12"]).refused(1, "whole");
    search(FILE, &["--lens", "24 mm", "--aim", "rise"]).refused(2, "none of the lenses rises");
    let far_off = search(FILE, &["--area", "400,400,420,420"]);
    far_off.refused(1, " too far");
    let write = |name: &str, text: String| std::fs::write(folder.join(name), text).expect("written");
    let with_ground = |access: &str| {
        let ground = format!(
            "grounds: [(name: \"all\", access: {access}, outline: [(-900, -900), (900, -900), (900, 900), (-900, 900)])], stances: ["
        );
        SITE.replace("stances: [", &ground)
    };
    write("closed.site.ron", with_ground("Closed"));
    quick("closed.site.ron", &[]).refused(1, "there is nowhere to stand");
    quick("closed.site.ron", &["--with-permission"]).refused(1, "closed or with permission needed");
    write("ask.site.ron", with_ground("Ask"));
    quick("ask.site.ron", &[]).refused(1, "--with-permission includes");
    quick("ask.site.ron", &["--with-permission"]).good();
    write("water.site.ron", SITE.replace("blocks: [", "water_level_m: 1, blocks: ["));
    quick("water.site.ron", &[]).refused(1, "under water");
    write("bare.site.ron", "Site(format: 1, name: \"bare\")".into());
    quick("bare.site.ron", &[]).refused(1, "no block of this site is marked as the subject");
    write("built.site.ron", SITE.replace("stances: [", "stances: [ // here\n"));
    search("built.site.ron", &["--area", "-18,3,-14,5", "--spacing", "1"]).refused(1, "occupied by blocks");
    search("no such file", &[]).refused(2, "cannot be read");
    // A map of it can still be had, and says itself that there is nothing on it.
    let ended = quick("closed.site.ron", &["--map", "lean", "--out", "closed.png"]);
    assert_eq!(ended.code, 1, "{}", ended.err);
    let bytes = std::fs::read(folder.join("closed.png")).expect("the map");
    assert!(png::Decoder::new(std::io::Cursor::new(bytes)).read_info().is_ok());
}

/// The bag that is packed in the plan is the one that is searched with, unless lenses are named.
#[test]
fn the_bag_of_the_plan_is_searched_with() {
    let (_base, folder) = mill();
    let lenses = |more: &[&str]| {
        let found = run(&folder, &[&["search", FILE, "--spacing", "10", "--json"], more].concat()).json();
        at(&found, "criteria.lenses").clone()
    };
    assert_eq!(lenses(&[]), json!(["14 mm", "24-70 mm", "70-200 mm"]));
    let plan = folder.join(FILE.replace(".site.", ".plan."));
    std::fs::write(&plan, "(format: 1, bag: [\"24 mm\", \"24 mm with 12 mm rise\"])").expect("written");
    assert_eq!(lenses(&[]), json!(["24 mm", "24 mm with 12 mm rise"]));
    assert_eq!(lenses(&["--lens", "35 mm"]), json!(["35 mm"]));
    let ways = |more: &[&str]| run(&folder, &[&["ways", FILE, "--stance", "near, low"], more].concat());
    assert_eq!(ways(&[]).good(), ways(&["--bag", "24 mm", "--bag", "24 mm with 12 mm rise"]).good());
    std::fs::write(&plan, "(format: 1, bag: 3)").expect("written");
    run(&folder, &["search", FILE]).refused(2, ".plan.ron, line 1: ");
}

#[test]
fn the_ways_are_told_in_words_and_as_json_and_bad_ones_are_refused() {
    let (_base, folder) = mill();
    let ways = |more: &[&str]| run(&folder, &[&["ways", FILE], more].concat());
    let told = ways(&["--stance", "near, low"]).good();
    for words in ["mill, near, low: ways to straighten it", "This stance", "The best standpoint for each lens"] {
        assert!(told.contains(words), "'{words}' is not in {told}");
    }
    // 15 m up beside a stack of 30 m nobody stands: a camera in the air, and whose affair that is.
    assert!(told.contains("a platform or a drone"), "{told}");
    assert!(
        told.split_whitespace()
            .collect::<Vec<_>>()
            .join(" ")
            .contains("a drone needs a licensed pilot and follows local rules"),
        "{told}"
    );
    let json = ways(&["--stance", "near, low", "--json"]).json();
    let rows = json["ways"].as_array().expect("ways");
    let flies =
        |way: &Value| way["kit"].as_array().is_some_and(|kit| kit.iter().any(|kit| kit == "a platform or a drone"));
    let warned = |way: &Value| {
        way["remarks"]
            .as_array()
            .is_some_and(|all| all.iter().any(|one| one.as_str().is_some_and(|one| one.contains("licensed"))))
    };
    assert!(rows.iter().any(flies));
    assert!(rows.iter().all(|way| flies(way) == warned(way)), "{rows:?}");
    let feet = ways(&["--stance", "near, low", "--units", "ft"]).good();
    assert!(feet.contains("px/ft") && !feet.contains("px/m"), "{feet}");
    for (arguments, code, words) in [
        (&["--stance", "nowhere"][..], 2, "the site has 'near, low', 'far'"),
        (&["--stance", "far", "--upright", "91"], 2, "--upright is 91; it must lie between 0 and 90"),
        (&["--stance", "far", "--walk=-5"], 2, "--walk"),
        (&["--stance", "far", "--walk", "1e12"], 2, "--walk"),
        (&["--stance", "far", "--bag", "a sack"], 2, "a sack"),
        (&["--at", "-16,4"], 1, "inside 'shed'"),
    ] {
        ways(arguments).refused(code, words);
    }
    std::fs::write(folder.join("bare.site.ron"), "Site(format: 1, name: \"bare\")").expect("written");
    run(&folder, &["ways", "bare.site.ron", "--at", "0,0"]).refused(1, "marked as the subject");
}

/// The verdict and the final picture stand in every answer, under these names and no other.
#[test]
fn verdicts_and_final_pictures_are_told_as_json() {
    let (_base, folder) = mill();
    let keys = |value: &Value| value.as_object().expect("an object").keys().cloned().collect::<Vec<_>>();
    let is_verdict = |verdict: &Value| {
        let names =
            ["sentence", "subject_upright", "picture_upright", "whole_in_frame", "seen_share", "upright", "why"];
        let told: BTreeSet<String> = keys(verdict).into_iter().collect();
        assert_eq!(told, names.map(str::to_owned).into(), "{verdict}");
        assert!(verdict["sentence"].as_str().is_some_and(|words| words.ends_with('.')), "{verdict}");
        assert!(verdict["upright"].is_boolean() && verdict["whole_in_frame"].is_boolean(), "{verdict}");
        assert_eq!(verdict["upright"] == true, verdict["why"] == json!([]), "{verdict}");
        if verdict["upright"] == true {
            assert_eq!(
                (&verdict["subject_upright"], &verdict["picture_upright"], &verdict["whole_in_frame"]),
                (&json!(true), &json!(true), &json!(true))
            );
        }
    };
    // Whether there is one; else it says why not and gives no figure.
    let is_picture = |picture: &Value| {
        if picture["why_not"].is_string() {
            assert!(picture["megapixels"].is_null() && picture["print_mm"].is_null(), "{picture}");
            return false;
        }
        for name in ["megapixels", "lowest_detail_px_per_m"] {
            assert!(picture[name].as_f64().is_some_and(|figure| figure > 0.0), "{name}: {picture}");
        }
        let [width_mm, height_mm] = [0, 1].map(|side| picture["print_mm"][side].as_f64().expect("millimetres"));
        // At 300 pixels an inch.
        let megapixels = (width_mm / 25.4 * 300.0) * (height_mm / 25.4 * 300.0) / 1e6;
        assert!((megapixels - picture["megapixels"].as_f64().expect("told")).abs() < 1e-6, "{picture}");
        true
    };
    for stance in ["near, low", "far"] {
        let record = run(&folder, &["measure", FILE, "--stance", stance, "--json"]).json();
        is_verdict(&record["verdict"]);
        assert_eq!(record["verdict"]["seen_share"], record["subject"]["visible_share"]);
        assert_eq!(record["verdict"]["subject_upright"], record["subject"]["reads_upright"]);
        is_picture(&record["final_picture"]);
        let ways = run(&folder, &["ways", FILE, "--stance", stance, "--json"]).json();
        is_verdict(&ways["verdict"]);
        // The sentence goes on with what to do; the rest is what measuring says.
        let begins = record["verdict"]["sentence"].as_str().expect("words");
        assert!(ways["verdict"]["sentence"].as_str().is_some_and(|words| words.starts_with(begins)), "{begins}");
        assert_eq!(ways["verdict"]["why"], record["verdict"]["why"]);
        let rows = ["ways", "by_lens"].map(|list| ways[list].as_array().expect("a list").clone()).concat();
        let mut told = 0;
        for row in &rows {
            for name in ["verdict", "stance", "final_picture", "walk_m", "climb_m"] {
                assert!(row.get(name).is_some(), "no {name}: {row}");
            }
            assert!(row["climb_m"].is_number() && (row["walk_m"].is_null() || row["walk_m"].is_number()), "{row}");
            if row["outcome"] == "not_here" {
                assert!(row["remarks"].as_array().is_some_and(|remarks| !remarks.is_empty()), "{row}");
                continue;
            }
            is_verdict(&row["verdict"]);
            told += usize::from(!row["final_picture"].is_null() && is_picture(&row["final_picture"]));
        }
        assert!(told > 5, "{told}");
    }
    // Nothing is said of what is not there.
    std::fs::write(folder.join("bare.site.ron"), "Site(format: 1, name: \"bare\")").expect("written");
    let bare = run(&folder, &["measure", "bare.site.ron", "--at", "0,0", "--heading", "0", "--json"]).json();
    assert_eq!(bare["final_picture"], Value::Null);
    assert!(bare["verdict"]["upright"] == false && bare["verdict"]["subject_upright"].is_null(), "{bare}");
}

/// Each option has one name in the help; what it was called before still works, unseen.
#[test]
fn scripts_with_the_options_of_earlier_days_go_on_working() {
    let (_base, folder) = mill();
    let said = |arguments: &[&str]| run(&folder, arguments).good();
    for (command, now, before) in [
        (
            "measure",
            "--stance far --keep-convergence 0.3 --tolerance 0.5 --aspect 1:1 --aperture 4 --json",
            "--stance far --tilt-left 0.3 --slack 0.5 --crop 1:1 --f-number 4 --json",
        ),
        ("measure", "--at 1,-24 --focal 24 --shift -2 --json", "--at 1,-24 --focal 24 --lateral-shift -2 --json"),
        ("ways", "--stance far --aspect 1:1 --json", "--stance far --crop 1:1 --json"),
        ("kit", "--aperture 4", "--f-number 4"),
        (
            "search",
            "--spacing 10 --aspect 4:5 --allow-cut --with-permission --rank walk --json",
            "--spacing 10 --crop 4:5 --may-cut --ask --rank effort --json",
        ),
    ] {
        let arguments =
            |options: &'static str| -> Vec<&str> { [command, FILE].into_iter().chain(options.split(' ')).collect() };
        assert_eq!(said(&arguments(now)), said(&arguments(before)), "{command}");
        let help = said(&[command, "--help"]);
        for (new, old) in now.split(' ').zip(before.split(' ')).filter(|(new, old)| new != old && new.starts_with("--"))
        {
            assert!(help.contains(new) && !help.contains(&format!("{old} ")), "{command} {new} {old}: {help}");
        }
    }
    // It bears on the straightened picture alone, where --aspect crops the frame as well.
    let kept = |options: &[&str]| {
        let record =
            run(&folder, &[&["measure", FILE, "--at", "1,-24", "--focal", "14", "--json"], options].concat()).json();
        (at(&record, "camera.pixels").clone(), at(&record, "straightened.megapixels_kept").clone())
    };
    let (whole, square, other) = (kept(&[]), kept(&["--aspect", "1:1"]), kept(&["--proportion", "1:1"]));
    assert_eq!(whole.0, other.0);
    assert_eq!(square.0, json!([4000, 4000]));
    assert!(whole.1 != other.1, "{whole:?} {other:?}");
}

#[test]
fn margins_of_ones_own_are_kept_by_every_aim() {
    let (_base, folder) = mill();
    let pitch = |margins: &str| {
        let asked = ["measure", FILE, "--at", "1,-16", "--focal", "14", "--aim", "least-tilt", "--json"];
        let told = run(&folder, &[&asked[..], &["--margins", margins]].concat()).json();
        told["stance"]["pitch_deg"].as_f64().expect("an angle")
    };
    // The more is kept clear above, the more the camera tilts up.
    let (none, usual, wide) = (pitch("0,0"), pitch("5,8"), pitch("5,20"));
    assert!(0.0 < none && none < usual && usual < wide, "{none} {usual} {wide}");
    for wrong in ["41,5", "-1,5", "5;8", "a", "5,8,9", "nan,5"] {
        run(&folder, &["measure", FILE, "--at", "1,-24", &format!("--margins={wrong}")]).refused(2, "are no margins");
    }
    let searched = |margins: &str| {
        let told = run(&folder, &["search", FILE, "--spacing", "10", "--margins", margins, "--json"]).json();
        told["ranked"][0]["stance"]["margins"].clone()
    };
    assert_eq!(searched("10,12"), json!({ "side": 0.1, "above": 0.12 }));
}

#[test]
fn every_command_that_writes_a_file_says_where_by_o_and_out() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut writers = vec![
        "still", "card", "sheet", "draw", "repeat", "sequence", "film", "places", "search", "bring", "tour", "compare",
        "day",
    ];
    if cfg!(feature = "viewer") {
        writers.push("view");
    }
    for command in run(folder.path(), &["pages", "commands"]).good().lines() {
        let help = run(folder.path(), &[command, "--help"]).good();
        let named = help.contains("  -o, --") && (help.contains("--out <") || help.contains("(also called --out)"));
        assert_eq!(named, writers.contains(&command), "{command}: {help}");
        // A manual page of its own, with all of its options.
        let page = run(folder.path(), &["pages", "manual", command]).good().replace("\\-", "-");
        let options = help.split_whitespace().filter(|word| word.starts_with("--") && word.len() > 3);
        for option in options.filter_map(|word| word.split(['[', '=', ',', '.', ':', ';', ')', ']']).next()) {
            assert!(page.contains(option), "{command} {option}: {page}");
        }
    }
    run(folder.path(), &["pages", "manual", "nothing"]).refused(2, "no command is called 'nothing'; there are check, ");
    run(folder.path(), &["measure", "x", "-o", "y"]).refused(2, "unexpected argument '-o'");
}

/// The words of a text, without what stands around them.
fn bare_words(text: &str) -> std::collections::BTreeSet<&str> {
    text.split_whitespace().map(|word| word.trim_matches([',', ';', ':', '.', '(', ')', '·'])).collect()
}

/// At 80 and at 40 columns no line is wider, no word is broken, and every word and figure of the wide table is there.
#[test]
fn tables_fit_the_terminal() {
    let folder = tempfile::tempdir().expect("a folder");
    let output = |arguments: &[String], columns: Option<usize>| {
        let mut program = command(folder.path());
        if let Some(columns) = columns {
            program.env("COLUMNS", columns.to_string());
        }
        let output = program.args(arguments).output().expect("the program starts");
        assert_eq!(output.status.code(), Some(0), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8(output.stdout).expect("text")
    };
    let mut compared = 0;
    for scene in SCENES {
        let file = format!("{}.site.ron", scene.name);
        std::fs::write(folder.path().join(&file), scene.text).expect("written");
        let stances = parse_site(scene.text, scene.name).expect("a site").stances;
        let mut runs: Vec<Vec<&str>> = vec![
            vec!["check", &file],
            vec!["measure", &file],
            vec!["compare", &file],
            vec!["kit", &file],
            vec!["search", &file, "--spacing", "12", "--distance", "10,120", "--allow-cut", "--seen", "0.4"],
            vec!["ways", &file, "--stance", &stances[0].name],
        ];
        runs.extend(stances.iter().map(|stance| vec!["measure", file.as_str(), "--stance", stance.name.as_str()]));
        for arguments in runs {
            let arguments: Vec<String> = arguments.into_iter().map(String::from).collect();
            let wide = output(&arguments, None);
            for columns in [80, 40] {
                let narrow = output(&arguments, Some(columns));
                for line in narrow.lines() {
                    assert!(line.chars().count() <= columns, "{arguments:?} at {columns}:\n{narrow}");
                }
                let (whole, shown) = (bare_words(&wide), bare_words(&narrow));
                let broken: Vec<_> = shown.difference(&whole).collect();
                let lost: Vec<_> = whole.difference(&shown).collect();
                assert!(
                    broken.is_empty() && lost.is_empty(),
                    "{broken:?} {lost:?} {arguments:?} at {columns}:\n{narrow}"
                );
                compared += 1;
            }
            // What no width bounds is one line a row, and goes on being so for other programs.
            assert_eq!(wide, output(&arguments, Some(100_000)));
        }
    }
    assert!(compared > 50, "{compared}");
}
