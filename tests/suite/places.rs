//! Do places, comparisons and sequences leave the desk as other programs read them?
//!
//! Places are held to the published schemas and to pyproj, and read back by libraries that have nothing to do with the
//! program.

use std::path::{Path, PathBuf};

use plumbsight::handover::sequence::{FrameStyle, Sequence, frame_name};
use plumbsight::progress::Progress;
use plumbsight::scenes::SCENES;
use plumbsight::site::{Aim, Stance};
use plumbsight::still::Look;
use plumbsight::theme::Theme;
use plumbsight::units::Units;
use serde_json::{Value, json};

use crate::support::program::{command, run};
use crate::support::python::ask;
use crate::support::random::Random;
use crate::support::surveyed::{stance, surveyed};

/// A site with awkward names on the anchor at hand.
fn site(latitude: f64, longitude: f64, anchor_m: f64) -> String {
    format!(
        "Site(format: 1, name: \"Mühle <1> & 'Co' 🗼\",
            anchor: (latitude_deg: {latitude}, longitude_deg: {longitude}, height_m: {anchor_m}),
            blocks: [
                (name: \"stack & co\", subject: true, at: (120.5, -40.25), shape: Box(width_m: 4, depth_m: 4, height_m: 30)),
                (name: \"stage\", at: (100, -90), shape: Box(width_m: 6, depth_m: 6, height_m: 2.5), deck: ()),
                (name: \"shed\", at: (60, -40), shape: Box(width_m: 9, depth_m: 6, height_m: 5)),
            ],
            grounds: [
                (name: \"yard\", access: Ask, caution: \"dogs <loose>\", outline: [(0, 0), (0, 50), (70, 50), (70, 0)]),
                (name: \"line\", access: Closed, outline: [(-10, -10), (-10, -90), (-30, -50)]),
            ],
            stances: [
                (name: \"near, low\", at: (118, -80), height_m: 0.8, lens: \"16-35 mm\", note: \"a <b>\"),
                (name: \"on the stage\", at: (100, -90), on: \"stage\", lens: \"24-70 mm\"),
                (name: \"turned\", at: (-2000, 1500), lens: \"24 mm\",
                 aim: Turned(heading_deg: 357.1, pitch_deg: -8.3, roll_deg: 0.7)),
                (name: \"in the shed\", at: (60, -40), on: \"ground\", lens: \"24 mm\"),
            ])"
    )
}

fn folder_with(text: &str) -> (tempfile::TempDir, PathBuf) {
    let base = tempfile::tempdir().expect("a folder");
    let folder = base.path().join("mit Lücke 🗼");
    std::fs::create_dir(&folder).expect("made");
    std::fs::write(folder.join("a.site.ron"), text).expect("written");
    (base, folder)
}

fn listing(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).expect("a folder");
    let mut names: Vec<String> =
        entries.map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

#[test]
fn places_follow_their_schemas_and_lie_where_pyproj_puts_them() {
    let mut random = Random::new(31);
    for anchor in
        [[53.7, -0.31, 4.0], [-33.1, 151.2, 0.0], [69.9, 18.0, 120.0], [random.between(-80.0, 80.0), 0.0, -5.0]]
    {
        let (_base, folder) = folder_with(&site(anchor[0], anchor[1], anchor[2]));
        let mut question = json!({});
        for form in ["gpx", "kml", "geojson"] {
            let name = format!("p q.{form}");
            let told = run(&folder, &["places", "a.site.ron", "-o", &name]).good();
            assert!(told.contains("3 stances, the subject, 2 grounds."), "{told}");
            assert!(told.contains("Left out: stance 'in the shed': the camera would be inside 'shed'"), "{told}");
            question[form] = std::fs::read_to_string(folder.join(&name)).expect("places").into();
        }
        let read: Value = ask("tests/oracles/places.py", &question);
        assert_eq!((&read["gpx"]["complaints"], &read["kml"]["complaints"]), (&json!([]), &json!([])));
        assert_eq!((&read["gpx"]["version"], &read["kml"]["version"]), (&json!("1.1"), &json!("2.3")));
        assert_eq!(read["gpx"]["name"], "Mühle <1> & 'Co' 🗼");
        assert_eq!(read["kml"]["name"], "Mühle <1> & 'Co' 🗼");

        // The eyes, and the heights of what one stands on.
        let world = [[118.0, -80.0, 0.8], [100.0, -90.0, 4.1], [-2000.0, 1500.0, 1.6]];
        let feet = [0.0, 2.5, 0.0];
        let names = ["near, low", "on the stage", "turned"];
        let mut cases = Vec::new();
        let mut case = |world: [f64; 3], place: Value| {
            cases.push(json!({ "anchor": anchor, "world": world, "place": place }));
        };
        for (index, (at, name)) in world.into_iter().zip(names).enumerate() {
            let (gpx, kml, geo) =
                (&read["gpx"]["points"][index], &read["kml"]["stances"][index], &read["geojson"][index]);
            assert_eq!(
                (&gpx["name"], &kml["name"], &geo["properties"]["name"]),
                (&json!(name), &json!(name), &json!(name))
            );
            assert_eq!(gpx["kind"], "stance");
            case([at[0], at[1], feet[index]], gpx["place"].clone());
            case(at, json!([geo["coordinates"][1], geo["coordinates"][0], geo["coordinates"][2]]));
            // A globe has its own ground: there the eye is so far above it.
            let view = &kml["view"];
            case(at, json!([view["latitude"], view["longitude"], null]));
            case(at, json!([kml["point"][1], kml["point"][0], null]));
            assert_eq!(view["mode"], "relativeToGround");
            assert!((view["altitude"].as_f64().expect("metres") - at[2]).abs() < 1e-6, "{view}");
        }
        // KML: a tilt of 90° is level, and a roll turns about an axis that points backwards.
        let turned = &read["kml"]["stances"][2]["view"];
        for (what, expected) in [("heading", 357.1), ("tilt", 81.7), ("roll", -0.7)] {
            assert!((turned[what].as_f64().expect("degrees") - expected).abs() < 1e-6, "{what}: {turned}");
        }
        // The subject's foot, and the grounds' corners in either order.
        case([120.5, -40.25, 0.0], read["gpx"]["points"][3]["place"].clone());
        let point = &read["kml"]["subject"][0]["point"];
        case([120.5, -40.25, 0.0], json!([point[1], point[0], null]));
        let yard = [(70.0, 0.0), (70.0, 50.0), (0.0, 50.0), (0.0, 0.0), (70.0, 0.0)];
        let (gpx, kml, geo) = (&read["gpx"]["tracks"][0], &read["kml"]["grounds"][0], &read["geojson"][4]);
        for (corner, (x, y)) in yard.into_iter().enumerate() {
            let ring = |place: &Value| json!([place[1], place[0], null]);
            case([x, y, 0.0], json!([gpx["places"][corner][0], gpx["places"][corner][1], null]));
            case([x, y, 0.0], ring(&kml["ring"][corner]));
            case([x, y, 0.0], ring(&geo["coordinates"][corner]));
        }
        let misses: Vec<f64> = ask("tests/oracles/worlds.py", &json!({ "cases": cases }));
        assert_eq!(misses.len(), 3 * 4 + 2 + 15);
        assert!(misses.iter().all(|miss_m| *miss_m < 1e-3), "{misses:?}");

        for ground in [4, 5] {
            let ground = &read["geojson"][ground];
            assert_eq!(
                (&ground["form"], &ground["valid"], &ground["anticlockwise"]),
                (&json!("Polygon"), &json!(true), &json!(true))
            );
        }
        assert_eq!(read["geojson"][5]["properties"]["access"], "closed");
        assert_eq!(
            (&read["kml"]["grounds"][0]["style"], &read["kml"]["grounds"][1]["style"]),
            (&json!("#ask"), &json!("#closed"))
        );
        assert!(read["gpx"]["points"][0]["words"].as_str().is_some_and(|words| words.contains("camera 0.80 m")));
        // What a balloon would take for hypertext is shown as it is.
        assert!(read["kml"]["stances"][0]["words"].as_str().is_some_and(|words| words.ends_with("a &lt;b>")));
    }
}

#[test]
fn heights_above_another_datum_are_not_called_ellipsoidal() {
    let text = site(53.7, -0.31, 4.0).replace("height_m: 4)", "height_m: 4, vertical_datum: \"ODN\")");
    let (_base, folder) = folder_with(&text);
    run(&folder, &["places", "a.site.ron", "-o", "p.geojson", "--stances", "turned"]).good();
    let read: Value = serde_json::from_slice(&std::fs::read(folder.join("p.geojson")).expect("places")).expect("JSON");
    assert_eq!(read["heights_above"], "ODN");
    assert_eq!(read["features"].as_array().map(Vec::len), Some(4));
    let point = &read["features"][0];
    assert_eq!(point["geometry"]["coordinates"].as_array().map(Vec::len), Some(2));
    assert_eq!(point["properties"]["eye_height_m"], 5.6);
    run(&folder, &["places", "a.site.ron", "-o", "p.gpx"]).good();
    assert!(std::fs::read_to_string(folder.join("p.gpx")).expect("places").contains("above ODN"));
}

#[test]
fn places_are_refused_where_there_are_none_and_never_written_over_unasked() {
    let text = site(53.7, -0.31, 4.0);
    let nowhere: String = text.lines().filter(|line| !line.contains("anchor:")).collect::<Vec<_>>().join("\n");
    let (_base, folder) = folder_with(&nowhere);
    for name in ["p.gpx", "p.kml", "p.geojson"] {
        run(&folder, &["places", "a.site.ron", "-o", name]).refused(2, "a.site.ron: this site has no anchor");
    }
    std::fs::write(folder.join("a.site.ron"), text).expect("written");
    run(&folder, &["places", "a.site.ron", "-o", "p.shp"]).refused(2, ".gpx, .kml or .geojson");
    run(&folder, &["places", "a.site.ron", "-o", ".."]).refused(2, ".gpx, .kml or .geojson");
    run(&folder, &["places", "a.site.ron", "-o", "no/p.gpx"]).refused(2, "no/p.gpx: cannot be written");
    run(&folder, &["places", "a.site.ron", "-o", "p.gpx", "--stances", "near, low,nowhere"])
        .refused(2, "no stance is called 'nowhere'");
    std::fs::write(folder.join("p.gpx"), "mine").expect("written");
    run(&folder, &["places", "a.site.ron", "-o", "p.gpx"]).refused(2, "p.gpx already exists");
    assert_eq!(std::fs::read_to_string(folder.join("p.gpx")).expect("kept"), "mine");
    run(&folder, &["places", "a.site.ron", "-o", "p.gpx", "--replace"]).good();
    // The same site gives the same bytes.
    let first = std::fs::read(folder.join("p.gpx")).expect("places");
    for name in ["x.kml", "y.kml"] {
        run(&folder, &["places", "a.site.ron", "-o", name]).good();
    }
    assert_eq!(std::fs::read(folder.join("x.kml")).expect("x"), std::fs::read(folder.join("y.kml")).expect("y"));
    run(&folder, &["places", "a.site.ron", "-o", "p.gpx", "--replace"]).good();
    assert_eq!(std::fs::read(folder.join("p.gpx")).expect("places"), first);
    assert_eq!(listing(&folder), ["a.site.ron", "p.gpx", "x.kml", "y.kml"]);
}

#[test]
fn stances_are_held_against_the_first_and_the_best_of_each_row_is_told() {
    let (_base, folder) = folder_with(&site(53.7, -0.31, 4.0));
    // Names with commas, in the order asked for.
    let names = "on the stage,near, low";
    let records: Vec<Value> = ["on the stage", "near, low"]
        .iter()
        .map(|name| run(&folder, &["measure", "a.site.ron", "--stance", name, "--json"]).json())
        .collect();
    let compared = run(&folder, &["compare", "a.site.ron", "--stances", names, "--as", "json"]).json();
    assert_eq!(compared["stances"], json!(["on the stage", "near, low"]));
    let figures = compared["figures"].as_array().expect("figures");
    let figure = |name: &str| figures.iter().find(|figure| figure["name"] == name).unwrap_or_else(|| panic!("{name}"));
    for (name, of) in [
        ("convergence_deg", "/subject/convergence_deg"),
        ("distance_m", "/subject/distance_m"),
        ("visible_share", "/subject/visible_share"),
        ("focal_mm", "/camera/focal_mm"),
        ("straightened_megapixels", "/straightened/megapixels_kept"),
    ] {
        let figure = figure(name);
        let value =
            |stance: usize| records[stance].pointer(of).and_then(Value::as_f64).unwrap_or_else(|| panic!("{of}"));
        assert_eq!((&figure["values"][0], &figure["values"][1]), (&json!(value(0)), &json!(value(1))), "{name}");
        assert!((figure["differences"][1].as_f64().expect("a difference") - (value(1) - value(0))).abs() < 1e-12);
    }
    let closes = |stance: usize| records[stance]["subject"]["convergence_deg"].as_f64().expect("degrees").abs();
    let best = if closes(0) < closes(1) { 0 } else { 1 };
    assert_eq!(figure("convergence_deg")["best"], json!([best]));
    assert_eq!(figure("focal_mm")["best"], json!([]));

    let table = run(&folder, &["compare", "a.site.ron"]).good();
    assert!(table.contains("in the shed cannot be measured: the camera would be inside 'shed'"), "{table}");
    let row = table.lines().find(|line| line.trim_start().starts_with("converges by")).expect("a row");
    assert!(row.contains('*') && row.contains('(') && row.trim_end().ends_with('–'), "{row}");

    // In feet of 0.3048 m where that is asked for; files stay metric.
    let feet = run(&folder, &["compare", "a.site.ron", "--stances", names, "--units", "ft"]).good();
    let away = feet.lines().find(|line| line.trim_start().starts_with("distance")).expect("a row");
    let away_m = records[0].pointer("/subject/distance_m").and_then(Value::as_f64).expect("metres");
    assert!(away.contains(&format!("{:.1} ft", away_m / 0.3048)), "{away}");
    assert!(feet.contains("px/ft") && !feet.contains("px/m"), "{feet}");

    // Read back by a library that knows the rules of quoting.
    let text = run(&folder, &["compare", "a.site.ron", "--stances", names, "--as", "csv"]).good();
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let head: Vec<String> = reader.headers().expect("a head").iter().map(str::to_owned).collect();
    assert_eq!(
        head,
        ["figure", "unit", "best", "on the stage", "on the stage, difference", "near, low", "near, low, difference"]
    );
    let rows: Vec<csv::StringRecord> = reader.records().collect::<Result<_, _>>().expect("rows");
    assert_eq!(rows.len(), figures.len());
    let closes = rows.iter().find(|row| &row[0] == "convergence_deg").expect("a row");
    assert_eq!(closes[3].parse::<f64>().ok(), records[0]["subject"]["convergence_deg"].as_f64());
    assert!(rows.iter().any(|row| &row[0] == "reads_upright" && ["true", "false"].contains(&&row[3])));

    // A file holds what is printed, and nothing is written over unasked.
    for (out, form) in [("all.csv", "csv"), ("all.json", "json")] {
        let to_file = ["compare", "a.site.ron", "--stances", names, "--out", out];
        run(&folder, &to_file).good();
        run(&folder, &to_file).refused(2, "--replace");
        let printed = run(&folder, &["compare", "a.site.ron", "--stances", names, "--as", form]).good();
        let written = std::fs::read_to_string(folder.join(out)).expect("a file");
        assert_eq!(written.trim_end(), printed.trim_end());
    }
    run(&folder, &["compare", "a.site.ron", "--out", "all.txt"]).refused(2, ".csv or .json");
    run(&folder, &["compare", "a.site.ron", "--stances", "turned"]).refused(2, "needs two stances");
    run(&folder, &["compare", "a.site.ron", "--stances", "near"]).refused(2, "no stance is called 'near'");
    run(&folder, &["compare", "a.site.ron", "--stances", "in the shed,in the shed"]).refused(1, "inside 'shed'");
}

/// The frames of an animated picture: each its pixels and its delay.
fn frames(path: &Path) -> (u32, u32, Vec<Vec<u8>>) {
    let file = std::io::BufReader::new(std::fs::File::open(path).expect("a picture"));
    let mut reader = png::Decoder::new(file).read_info().expect("a PNG");
    let (width, height) = reader.info().size();
    let control = reader.info().animation_control.expect("an animation");
    let mut pixels = vec![0; reader.output_buffer_size().expect("small")];
    let frames = (0..control.num_frames)
        .map(|_| {
            reader.next_frame(&mut pixels).expect("a frame");
            pixels.clone()
        })
        .collect();
    (width, height, frames)
}

#[test]
fn a_sequence_goes_from_one_stance_to_the_other_and_keeps_the_subject_framed() {
    for scene in SCENES {
        let survey = surveyed(scene.text, scene.name);
        let subject = survey.subject.as_ref().expect("a subject");
        let mut taken = 0;
        for pair in survey.model.site.stances.windows(2) {
            let sequence = Sequence {
                from: pair[0].clone(),
                to: pair[1].clone(),
                frames: 15,
                style: FrameStyle {
                    width_px: 60,
                    samples: 1,
                    look: Look::Card,
                    theme: Theme::Paper,
                    overlay: false,
                    per_second: 12,
                    units: Units::M,
                },
            };
            let Ok(steps) = sequence.frames(&survey) else { continue };
            taken += 1;
            let first = survey.stand(&pair[0]).expect("stood");
            let held = Stance { orientation: Some(first.orientation), ..pair[1].clone() };
            let last = survey.stand(&held).expect("stood");
            assert_eq!((steps[0].pose, steps[0].camera), (first.pose, first.camera));
            assert_eq!((steps[14].pose, steps[14].camera), (last.pose, last.camera));
            let least = first.camera.focal_mm.min(last.camera.focal_mm);
            let shares = |step: usize| steps[step].account.in_frame_share.expect("a share");
            let ends = shares(0).min(shares(14));
            for (number, step) in steps.iter().enumerate() {
                assert!(step.camera.focal_mm >= least - 1e-9 || pair[0].aim == Aim::Fill, "{number}");
                // Never cut more than at the ends, unless the way leads so near that the shortest lens of both is on.
                let shortest = step.camera.focal_mm <= least + 1e-6;
                assert!(
                    shortest || shares(number) > ends - 0.12,
                    "{} to {}, {number}: {}",
                    pair[0].name,
                    pair[1].name,
                    shares(number)
                );
                // No leap: each step is a small part of the way.
                if number > 0 {
                    let moved_m = (step.pose.eye - steps[number - 1].pose.eye).norm();
                    let way_m = (last.pose.eye - first.pose.eye).norm();
                    assert!(moved_m < 0.35 * way_m + 0.5, "{moved_m} of {way_m}");
                    let turned = (step.pose.attitude.heading - steps[number - 1].pose.attitude.heading).wrapped();
                    assert!(turned.degrees().abs() < 40.0, "{turned:?}");
                }
            }
            // The subject's middle stays in front of the camera.
            assert!(steps.iter().all(|step| step.pose.view_of(&subject.middle).z > 0.0));
        }
        assert!(taken >= 2, "{}: {taken}", scene.name);
    }
}

#[test]
fn walking_straight_back_converges_less_and_less() {
    let survey = surveyed(&site(53.7, -0.31, 4.0), "a");
    let from = Stance { name: "near".into(), ..stance((120.5, -70.0), 1.6, "16-35 mm", Aim::Fill) };
    let to = Stance { name: "far".into(), ..stance((120.5, -190.0), 1.6, "70-200 mm", Aim::Fill) };
    let sequence = Sequence {
        from,
        to,
        frames: 9,
        style: FrameStyle {
            width_px: 60,
            samples: 1,
            look: Look::Card,
            theme: Theme::Paper,
            overlay: true,
            per_second: 12,
            units: Units::M,
        },
    };
    let steps = sequence.frames(&survey).expect("a way");
    for pair in steps.windows(2) {
        let closes = |step: usize| pair[step].account.convergence.expect("closes").angle().degrees();
        assert!(closes(1) < closes(0));
        assert!(pair[1].camera.focal_mm > pair[0].camera.focal_mm);
        assert!(pair[1].pose.attitude.heading.wrapped().degrees().abs() < 1e-6);
        assert!((pair[1].pose.eye.z - 1.6).abs() < 1e-12);
    }
    // Cancelled before the first frame is done: nothing more is pictured.
    let progress = Progress::unwatched();
    progress.cancel();
    let base = tempfile::tempdir().expect("a folder");
    sequence.picture_into(&survey, base.path(), &progress).expect_err("cancelled");
    assert!(!base.path().join(frame_name(2)).exists());
    // Through a block there is no way.
    let into = Sequence { to: Stance { at: (6.0, -40.0), ..sequence.from.clone() }, ..sequence.clone() };
    let into = Sequence { from: Stance { at: (110.0, -40.0), lens: "16-35 mm".into(), ..into.from.clone() }, ..into };
    let error = into.frames(&survey).map(|steps| steps.len()).expect_err("through the shed").to_string();
    assert!(error.contains("of 9: the camera would be inside 'shed'"), "{error}");
}

#[test]
fn a_sequence_is_written_whole_and_replaces_nothing_but_a_sequence() {
    let (_base, folder) = folder_with(&site(53.7, -0.31, 4.0));
    let arguments = [
        "sequence",
        "a.site.ron",
        "--from",
        "near, low",
        "--to",
        "on the stage",
        "--frames",
        "5",
        "--width",
        "80",
        "--samples",
        "1",
        "-o",
        "the way 🗼",
    ];
    let told = run(&folder, &arguments).good();
    assert!(told.contains("the way 🗼 holds 5 frames and animated.png"), "{told}");
    let way = folder.join("the way 🗼");
    let names = ["animated.png", "frame-001.png", "frame-002.png", "frame-003.png", "frame-004.png", "frame-005.png"];
    assert_eq!(listing(&way), [&names[..], &["frames.csv"]].concat());
    let (width, height, animated) = frames(&way.join("animated.png"));
    assert_eq!((width, animated.len()), (80, 5));
    for (number, pixels) in (1..).zip(&animated) {
        let file = std::fs::File::open(way.join(frame_name(number))).expect("a frame");
        let mut reader = png::Decoder::new(std::io::BufReader::new(file)).read_info().expect("a PNG");
        assert_eq!(reader.info().size(), (width, height));
        let mut single = vec![0; reader.output_buffer_size().expect("small")];
        reader.next_frame(&mut single).expect("pixels");
        assert_eq!(&single, pixels, "frame {number}");
    }
    assert_ne!(animated[0], animated[4]);
    // Another reader finds the same animation.
    let read: Value = ask("tests/oracles/pictures.py", &json!({ "files": [way.join("animated.png")] }));
    assert_eq!((&read[0]["form"], &read[0]["frames"]), (&json!("PNG"), &json!(5)));
    let mut table = csv::Reader::from_path(way.join("frames.csv")).expect("a table");
    assert_eq!(table.headers().expect("a head").len(), 13);
    assert_eq!(table.records().count(), 5);

    run(&folder, &arguments).refused(2, "the way 🗼 already exists; use --replace");
    let first = std::fs::read(way.join("animated.png")).expect("a picture");
    run(&folder, &[&arguments[..], &["--replace"]].concat()).good();
    assert_eq!(std::fs::read(way.join("animated.png")).expect("a picture"), first);
    // A person's own file in it, or a folder that never was a sequence.
    std::fs::write(way.join("notes.txt"), "mine").expect("written");
    run(&folder, &[&arguments[..], &["--replace"]].concat())
        .refused(2, "holds 'notes.txt', which this program did not write");
    assert!(way.join("notes.txt").exists());
    let onto_file = [&arguments[..13], &["a.site.ron", "--replace"]].concat();
    run(&folder, &onto_file).refused(2, "a.site.ron exists and is no folder");
    for (wrong, code, words) in [
        (vec!["--frames", "1"], 2, "between 2 and 999"),
        (vec!["--width", "0"], 2, "between 16 and 8000"),
        (vec!["--samples", "3"], 2, "1, 2, 4, 8 or 16"),
        (vec!["--from", "nowhere"], 2, "no stance is called 'nowhere'"),
        (vec!["--from", "in the shed"], 1, "stance 'in the shed': the camera would be inside 'shed'"),
        (vec!["-o", "no/such"], 2, "no: there is no such folder to write into"),
    ] {
        let mut changed = vec!["sequence", "a.site.ron", "--to", "on the stage", "-o", "new"];
        if !wrong.contains(&"--from") {
            changed.extend(["--from", "near, low"]);
        }
        if wrong[0] == "-o" {
            changed.truncate(4);
            changed.extend(["--from", "near, low"]);
        }
        changed.extend(&wrong);
        run(&folder, &changed).refused(code, words);
    }
    assert_eq!(listing(&folder), ["a.site.ron", "the way 🗼"]);
}

#[test]
fn a_killed_sequence_leaves_the_old_folder_or_the_new_one() {
    let (_base, folder) = folder_with(&site(53.7, -0.31, 4.0));
    let arguments = [
        "sequence",
        "a.site.ron",
        "--from",
        "near, low",
        "--to",
        "on the stage",
        "--frames",
        "4",
        "--width",
        "60",
        "--samples",
        "1",
        "-o",
        "way",
    ];
    let begun = std::time::Instant::now();
    run(&folder, &arguments).good();
    let whole_us = begun.elapsed().as_secs_f64() * 1e6;
    let old: Vec<Vec<u8>> = listing(&folder.join("way")).iter().map(|name| read(&folder, name)).collect();
    let other = [&arguments[..], &["--theme", "dusk", "--replace"]].concat();
    let mut random = Random::new(9);
    let mut killed = 0;
    for _ in 0..12 {
        let mut child = command(&folder).args(&other).spawn().expect("the program starts");
        std::thread::sleep(std::time::Duration::from_micros((random.between(0.01, 1.1) * whole_us) as u64));
        killed += usize::from(child.try_wait().expect("asked").is_none());
        let _ = child.kill();
        let _ = child.wait();
        let names = listing(&folder.join("way"));
        assert_eq!(names.len(), 6, "{names:?}");
        let now: Vec<Vec<u8>> = names.iter().map(|name| read(&folder, name)).collect();
        // Each picture is whole, and all of them are of one and the same sequence.
        let changed = now.iter().zip(&old).filter(|(now, old)| now != old).count();
        // The table of figures is the same in either colours.
        assert!(changed == 0 || changed == 5, "{changed}");
    }
    assert!(killed > 0);
    run(&folder, &other).good();
    assert_eq!(listing(&folder.join("way")).len(), 6);
}

fn read(folder: &Path, name: &str) -> Vec<u8> {
    std::fs::read(folder.join("way").join(name)).expect("a file")
}

/// Runs the program with files of at most so many bytes, as a full disk would cut them: the shell sets the limit.
#[cfg(unix)]
fn run_with_room(folder: &Path, bytes: usize, arguments: &[&str]) -> (i32, String) {
    // Blocks of 512 bytes by POSIX; the signal that would end the program is passed over, so that writing fails instead.
    let script = format!("trap '' XFSZ; ulimit -f {}; exec \"$@\"", bytes / 512);
    let output = std::process::Command::new("sh")
        .args(["-c", &script, "sh", env!("CARGO_BIN_EXE_plumbsight")])
        .args(arguments)
        .current_dir(folder)
        .output()
        .expect("a shell");
    (output.status.code().expect("not killed"), String::from_utf8_lossy(&output.stderr).into_owned())
}

#[cfg(unix)]
#[test]
fn a_full_disk_loses_nothing_and_is_told() {
    let (_base, folder) = folder_with(&site(53.7, -0.31, 4.0));
    for (out, arguments) in [
        ("a.png", vec!["still", "a.site.ron", "--stance", "near, low", "--width", "300", "--samples", "1"]),
        ("a.jpg", vec!["still", "a.site.ron", "--stance", "near, low", "--width", "300", "--samples", "1"]),
        ("a.gpx", vec!["places", "a.site.ron"]),
        ("way", vec!["sequence", "a.site.ron", "--from", "near, low", "--to", "turned", "--frames", "3"]),
    ] {
        let arguments = [&arguments[..], &["-o", out]].concat();
        let (code, told) = run_with_room(&folder, 1024, &arguments);
        assert_eq!(code, 2, "{out}: {told}");
        assert!(told.contains("cannot be written") && !told.contains("panicked"), "{out}: {told}");
        assert_eq!(listing(&folder), ["a.site.ron"], "{out}");
    }
    // What was there before is still there.
    let arguments = ["still", "a.site.ron", "--stance", "near, low", "--width", "300", "--samples", "1", "-o", "a.png"];
    run(&folder, &arguments).good();
    let kept = |name: &str| std::fs::read(folder.join(name)).expect("kept");
    let before = (kept("a.png"), kept("a.record.ron"));
    let (code, told) = run_with_room(&folder, 1024, &[&arguments[..], &["--replace", "--overlay"]].concat());
    assert!(code == 2 && told.contains("cannot be written"), "{told}");
    assert_eq!((kept("a.png"), kept("a.record.ron")), before);
    assert_eq!(listing(&folder), ["a.png", "a.record.ron", "a.site.ron"]);
}

#[test]
fn a_tour_on_a_full_disk_or_over_another_stops_with_a_word() {
    let base = tempfile::tempdir().expect("a folder");
    #[cfg(unix)]
    {
        let (code, told) = run_with_room(base.path(), 1024, &["tour", "--out", "t"]);
        assert!(code == 2 && told.contains("cannot be written") && !told.contains("panicked"), "{told}");
    }
    // A file where the folder should be.
    std::fs::write(base.path().join("f"), "mine").expect("written");
    run(base.path(), &["tour", "--out", "f"]).refused(2, "cannot be created");
    // A picture of somebody's where the tour's would go: nothing is taken.
    let folder = base.path().join("u/saltings");
    std::fs::create_dir_all(&folder).expect("made");
    std::fs::write(folder.join("2-yard--standing.png"), "mine").expect("written");
    run(base.path(), &["tour", "--out", "u"]).refused(2, "2-yard--standing.png is from an earlier tour");
    assert_eq!(std::fs::read(folder.join("2-yard--standing.png")).expect("kept"), b"mine");
    assert_eq!(listing(&folder), ["2-yard--standing.png", "saltings.site.ron"]);
}

#[cfg(unix)]
#[test]
fn a_folder_that_may_not_be_written_to_is_told() {
    use std::os::unix::fs::PermissionsExt;
    let (base, folder) = folder_with(&site(53.7, -0.31, 4.0));
    let closed = base.path().join("closed");
    std::fs::create_dir(&closed).expect("made");
    std::fs::set_permissions(&closed, std::fs::Permissions::from_mode(0o555)).expect("closed");
    // Whoever may write everywhere is kept out by a place that is no folder of files.
    let barred = if std::fs::write(closed.join("probe"), "").is_ok() { PathBuf::from("/proc") } else { closed.clone() };
    let at = |name: &str| barred.join(name).to_string_lossy().into_owned();
    for arguments in [
        vec!["still", "a.site.ron", "--stance", "near, low", "--width", "40", "-o", &at("a.png")],
        vec!["places", "a.site.ron", "-o", &at("a.kml")],
        vec!["sequence", "a.site.ron", "--from", "near, low", "--to", "turned", "--frames", "2", "-o", &at("way")],
    ] {
        run(&folder, &arguments).refused(2, "cannot be written");
    }
    run(&folder, &["tour", "--out", &at("tour")]).refused(2, "cannot be created");
    std::fs::set_permissions(&closed, std::fs::Permissions::from_mode(0o755)).expect("opened again");
}

#[test]
fn two_captures_at_once_under_one_name_leave_one_whole_and_refuse_the_other() {
    let (_base, folder) = folder_with(&site(53.7, -0.31, 4.0));
    for round in 0..3 {
        let name = format!("at once {round}.png");
        let start = |stance: &str| {
            let mut still = command(&folder);
            still.args(["still", "a.site.ron", "--stance", stance, "--width", "50", "--samples", "1", "-o", &name]);
            still.stdout(std::process::Stdio::null()).stderr(std::process::Stdio::piped()).spawn().expect("starts")
        };
        let both = [start("near, low"), start("turned")];
        let ends = both.map(|child| child.wait_with_output().expect("ends"));
        let good = ends.iter().filter(|end| end.status.success()).count();
        assert_eq!(good, 1, "{ends:?}");
        let refused = ends.iter().find(|end| !end.status.success()).expect("the other");
        assert_eq!(refused.status.code(), Some(2));
        assert!(String::from_utf8_lossy(&refused.stderr).contains("already exists"), "{refused:?}");
        // The picture and the record beside it are of one and the same stance.
        let record = format!("at once {round}.record.ron");
        let told = run(&folder, &["repeat", &record, "-o", &format!("again {round}.png")]).good();
        assert!(told.contains("Its bytes are the same as those of"), "{told}");
    }
    assert_eq!(listing(&folder).iter().filter(|name| name.starts_with(".plumbsight")).count(), 0);
}

#[test]
fn hostile_names_are_names_and_nothing_else() {
    let (base, folder) = folder_with(&site(53.7, -0.31, 4.0));
    for name in [" .png", "-dash.png", "a\nb.png", "🗼.jpg", "'; rm -rf x; '.png", "%s%n.png", "ü\u{301}.jpeg"] {
        let out = format!("--out={name}");
        let still = ["still", "a.site.ron", "--stance", "near, low", "--width", "20", "--samples", "1", &out];
        run(&folder, &still).good();
        assert!(folder.join(name).is_file(), "{name}");
    }
    // Out of the folder only where the person says so.
    let still = ["still", "a.site.ron", "--stance", "near, low", "--width", "20", "--samples", "1"];
    run(&folder, &[&still[..], &["-o", "../up.png"]].concat()).good();
    assert!(base.path().join("up.png").is_file() && base.path().join("up.record.ron").is_file());
    for name in ["..", ".", "", "/", "x", "x.ron", "a.site.ron", "png", ".png/"] {
        run(&folder, &[&still[..], &["-o", name]].concat()).refused(2, "");
    }
    // A link that leads nowhere is something that is there.
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink("nowhere", folder.join("link.png")).expect("a link");
        run(&folder, &[&still[..], &["-o", "link.png"]].concat()).refused(2, "link.png already exists");
    }
    // A stance's name is the person's own and names no file that could leave the tour's folder.
    let text = SCENES[0].text.replace("\"yard, standing\"", "\"../../../out \\u{202e} 🗼/..\"");
    std::fs::create_dir_all(folder.join("t/saltings")).expect("made");
    std::fs::write(folder.join("t/saltings/saltings.site.ron"), text).expect("written");
    run(&folder, &["tour", "--out", "t"]).good();
    assert!(listing(&folder.join("t/saltings")).iter().any(|name| name.starts_with("2-") && name.ends_with(".png")));
    assert_eq!(listing(&folder.join("t")).len(), SCENES.len());
    // The same once more: everything is there and the same, so nothing is taken and nothing complained of.
    run(&folder, &["tour", "--out", "t"]).good();
}
