//! Do picture files tell how they were taken, in words that other programs read, and can a record be taken up again?
//!
//! Exif is read back by exiftool and by Pillow; positions are held to pyproj. Records of an older format stand frozen in
//! `tests/golden`.

use std::path::{Path, PathBuf};
use std::process::Command;

use plumbsight::record::{RECORD_FORMAT, Record, RecordError};
use plumbsight::site::Aim;
use plumbsight::still::Look;
use plumbsight::survey::{MeasureSettings, Survey};
use serde_json::{Value, json};

use crate::support::program::run;
use crate::support::project;
use crate::support::python::ask;
use crate::support::random::Random;

const SITE: &str = "mill.site.ron";

/// The frozen site in a folder of its own.
fn golden() -> (tempfile::TempDir, PathBuf) {
    let base = tempfile::tempdir().expect("a folder");
    let folder = base.path().join("été 🗼 'x'");
    std::fs::create_dir(&folder).expect("made");
    let records = [
        "near-1.record.ron",
        "far-1.record.json",
        "near-2.record.ron",
        "far-3.record.ron",
        "far-4.record.ron",
        "far-5.record.ron",
    ];
    for name in [&[SITE][..], &records].concat() {
        std::fs::copy(project().join("tests/golden").join(name), folder.join(name)).expect("copied");
    }
    (base, folder)
}

/// What exiftool reads: numbers as they stand, each tag under its group. It has no complaint.
fn exiftool(file: &Path) -> Value {
    let read = |options: &[&str]| {
        let output = Command::new("exiftool").args(["-j", "-n", "-G1"]).args(options).arg(file).output();
        let output = output.expect("exiftool runs; tests/run installs it");
        let tags: Value = serde_json::from_slice(&output.stdout).expect("JSON");
        tags[0].clone()
    };
    // Errors, warnings, and minor ones among these.
    let complaints = read(&["-validate", "-warning", "-a"]);
    assert_eq!(complaints["ExifTool:Validate"], "0 0 0", "{complaints}");
    read(&[])
}

fn near(value: &Value, expected: f64, tolerance: f64) {
    let value = value.as_f64().unwrap_or_else(|| panic!("{value} is no number"));
    assert!((value - expected).abs() <= tolerance, "{value} for {expected}");
}

#[test]
fn pictures_tell_lens_place_and_direction_to_two_other_readers() {
    let (_base, folder) = golden();
    let moment = ["--moment", "2027-06-21T17:30+01:00"];
    let files = ["a b 🗼.png", "a b.jpg"].map(|name| {
        let still =
            ["still", SITE, "--stance", "far", "--aspect", "4:5", "-o", name, "--width", "80", "--samples", "1"];
        run(&folder, &[&still[..], &moment].concat()).good();
        folder.join(name)
    });
    let read: Value = ask("tests/oracles/pictures.py", &json!({ "files": files }));
    let record = std::fs::read_to_string(folder.join("a b.record.ron")).expect("a record");
    let record = Record::read(&record).expect("a record");
    for (file, pillow) in files.iter().zip(read.as_array().expect("a list")) {
        let tags = exiftool(file);
        assert_eq!(pillow["size"], json!([80, 100]));
        assert_eq!(pillow["form"], if file.ends_with("a b.jpg") { "JPEG" } else { "PNG" });
        // 24×36 cropped to 4:5 is 24×30 mm; the same diagonal angle of view on 36×24, in whole millimetres.
        let equivalent = (70.0 * 36.0_f64.hypot(24.0) / 24.0_f64.hypot(30.0)).round();
        for (by_exiftool, by_pillow, expected, tolerance) in [
            ("ExifIFD:FocalLength", &pillow["exif"]["FocalLength"], 70.0, 1e-4),
            ("ExifIFD:FocalLengthIn35mmFormat", &pillow["exif"]["FocalLengthIn35mmFilm"], equivalent, 0.0),
            ("ExifIFD:FNumber", &pillow["exif"]["FNumber"], 8.0, 0.0),
            ("ExifIFD:CameraElevationAngle", &pillow["exif"]["CameraElevationAngle"], 8.3, 1e-4),
            ("ExifIFD:ExifImageWidth", &pillow["exif"]["ExifImageWidth"], 80.0, 0.0),
            ("ExifIFD:FocalPlaneXResolution", &pillow["exif"]["FocalPlaneXResolution"], 800.0 / 24.0, 1e-3),
            // The eye is 1.6 m over ground at 0, the anchor at 4.
            ("GPS:GPSAltitude", &pillow["gps"]["GPSAltitude"], 5.6, 1e-3),
            ("GPS:GPSAltitudeRef", &pillow["gps"]["GPSAltitudeRef"][0], 0.0, 0.0),
            ("GPS:GPSImgDirection", &pillow["gps"]["GPSImgDirection"], 357.1, 0.005),
        ] {
            near(&tags[by_exiftool], expected, tolerance);
            near(by_pillow, expected, tolerance);
        }
        // APEX tells f/8 as 6; exiftool turns it back.
        near(&pillow["exif"]["ApertureValue"], 6.0, 1e-4);
        near(&tags["ExifIFD:ApertureValue"], 8.0, 1e-3);
        let distance_m = record.camera.focus_m.expect("a distance");
        near(&pillow["exif"]["SubjectDistance"], distance_m, 1e-3);
        for (tag, by_pillow, expected) in [
            ("IFD0:Software", &pillow["picture"]["Software"], record.program.as_str()),
            ("ExifIFD:LensModel", &pillow["exif"]["LensModel"], "70-200 mm"),
            ("ExifIFD:DateTimeOriginal", &pillow["exif"]["DateTimeOriginal"], "2027:06:21 17:30:00"),
            ("ExifIFD:OffsetTimeOriginal", &pillow["exif"]["OffsetTimeOriginal"], "+01:00"),
            ("GPS:GPSImgDirectionRef", &pillow["gps"]["GPSImgDirectionRef"], "T"),
            ("GPS:GPSLatitudeRef", &pillow["gps"]["GPSLatitudeRef"], "N"),
            ("GPS:GPSLongitudeRef", &pillow["gps"]["GPSLongitudeRef"], "W"),
            ("GPS:GPSMapDatum", &pillow["gps"]["GPSMapDatum"], "WGS-84"),
        ] {
            assert_eq!(tags[tag], expected, "{tag}");
            assert_eq!(*by_pillow, expected, "{tag}");
        }
        // Seven bits in the description, every sign in the comment.
        let (described, told) = (&tags["IFD0:ImageDescription"], &tags["ExifIFD:UserComment"]);
        assert!(described.as_str().is_some_and(|text| text.is_ascii() && text.contains("Mill, f?r Golden, far")));
        assert!(told.as_str().is_some_and(|text| text.contains("Mill, für Golden, far") && text.contains("357.1°")));
        let [east, north, _] = record.stance.eye_m;
        assert_eq!((east, north), (4.0, -90.0));
    }
    // Nothing was photographed at any time that nobody gave.
    run(&folder, &["still", SITE, "--stance", "far", "-o", "undated.jpg", "--width", "40", "--samples", "1"]).good();
    let tags = exiftool(&folder.join("undated.jpg"));
    let dated: Vec<_> = tags.as_object().expect("tags").keys().filter(|tag| tag.contains("Date")).collect();
    assert!(!dated.is_empty() && dated.iter().all(|tag| tag.starts_with("System:")), "{dated:?}");
    run(&folder, &["still", SITE, "--stance", "far", "-o", "x.png", "--moment", "soon"]).refused(2, "no moment");
}

#[test]
fn a_site_that_is_nowhere_writes_no_position() {
    let (_base, folder) = golden();
    let text = std::fs::read_to_string(folder.join(SITE)).expect("a site");
    let nowhere = text.lines().filter(|line| !line.contains("anchor:")).collect::<Vec<_>>().join("\n");
    std::fs::write(folder.join("nowhere.site.ron"), nowhere).expect("written");
    for name in ["n.png", "m.jpeg"] {
        let still = ["still", "nowhere.site.ron", "--stance", "far", "-o", name, "--width", "40", "--samples", "1"];
        run(&folder, &still).good();
        let read: Value = ask("tests/oracles/pictures.py", &json!({ "files": [folder.join(name)] }));
        assert_eq!(read[0]["gps"], json!({}));
        let tags = exiftool(&folder.join(name));
        assert!(!tags.as_object().expect("tags").keys().any(|tag| tag.starts_with("GPS")), "{tags}");
        near(&tags["ExifIFD:FocalLength"], 70.0, 1e-4);
    }
}

#[test]
fn positions_in_pictures_are_those_of_pyproj_to_a_millimetre() {
    let mut random = Random::new(53);
    let base = tempfile::tempdir().expect("a folder");
    let mut cases = Vec::new();
    for number in 0..6 {
        let (latitude, longitude) = (random.between(-85.0, 85.0), random.between(-180.0, 180.0));
        let anchor_m = if number % 2 == 0 { -300.0 } else { 900.0 };
        let (east, north) = (random.between(-3000.0, 3000.0), random.between(-3000.0, 3000.0));
        let name = format!("{number}.site.ron");
        let site = format!(
            "Site(format: 1, name: \"p\", anchor: (latitude_deg: {latitude}, longitude_deg: {longitude}, height_m: {anchor_m}), \
             blocks: [(name: \"b\", subject: true, at: (0, 0), shape: Box(width_m: 2, depth_m: 2, height_m: 9))])"
        );
        std::fs::write(base.path().join(&name), site).expect("written");
        let (at, out) = (format!("{east},{north}"), format!("{number}.png"));
        let still = ["still", &name, "--at", &at, "-o", &out, "--heading", "359.999", "--width", "8", "--samples", "1"];
        run(base.path(), &still).good();
        let tags = exiftool(&base.path().join(&out));
        let signed = |value: &str, side: &str, minus: &str| {
            let value = tags[value].as_f64().expect("degrees");
            if tags[side] == minus { -value } else { value }
        };
        let altitude = tags["GPS:GPSAltitude"].as_f64().expect("metres");
        let height = if tags["GPS:GPSAltitudeRef"] == 1 { -altitude } else { altitude };
        // 359.999° is north again in hundredths.
        near(&tags["GPS:GPSImgDirection"], 0.0, 0.0);
        cases.push(json!({
            "anchor": [latitude, longitude, anchor_m],
            "world": [east, north, 1.6],
            "place": [
                signed("GPS:GPSLatitude", "GPS:GPSLatitudeRef", "S"),
                signed("GPS:GPSLongitude", "GPS:GPSLongitudeRef", "W"),
                height,
            ],
        }));
    }
    let misses: Vec<f64> = ask("tests/oracles/worlds.py", &json!({ "cases": cases }));
    assert_eq!(misses.len(), 6);
    assert!(misses.iter().all(|miss_m| *miss_m < 1e-3), "{misses:?}");
}

#[test]
fn records_of_the_first_format_still_open_and_give_their_stance_again() {
    let (_base, folder) = golden();
    let survey = Survey::open(&folder.join(SITE)).expect("the frozen site");
    for (name, upright_deg, tilt_left, tolerance_deg) in
        [("near-1.record.ron", 0.5, 0.25, 0.3), ("far-1.record.json", 0.6, 0.0, 0.2)]
    {
        let text = std::fs::read_to_string(folder.join(name)).expect("a record");
        let record = Record::read(&text).unwrap_or_else(|error| panic!("{name}: {error}"));
        assert_eq!((record.format, record.picture.is_none()), (1, true));
        let by = &record.measured_by;
        assert_eq!((by.tilt_left, by.lean_change_deg), (tilt_left, Some(tolerance_deg)), "{name}");
        assert!((by.upright_deg - upright_deg).abs() < 1e-12);
        let settings = MeasureSettings::of_record(&record);
        let measured = survey.measure(&record.stance.described, &settings).expect("taken up");
        let again = survey.record(&record.stance.described, &measured, &settings);
        // Where it stands and looks is settled by geometry alone, whatever is measured better some day.
        assert_eq!(again.stance.described, record.stance.described);
        for (now, then) in again.stance.eye_m.iter().zip(record.stance.eye_m) {
            assert!((now - then).abs() < 1e-9);
        }
        assert!((again.stance.heading_deg - record.stance.heading_deg).abs() < 1e-6);
        assert!((again.stance.pitch_deg - record.stance.pitch_deg).abs() < 1e-6);
        assert!((again.camera.focal_mm - record.camera.focal_mm).abs() < 1e-6);
        let (now, then) = (again.subject.expect("a subject"), record.subject.expect("a subject"));
        let (now, then) = (now.convergence_deg.expect("closes"), then.convergence_deg.expect("closes"));
        assert!((now - then).abs() < 1e-6);
        let ended = run(&folder, &["repeat", name, "-o", "again.png", "--replace"]);
        assert!(ended.out.contains("The record has no picture"), "{}", ended.out);
        // Some figure may be measured better some day.
        assert_eq!(ended.code == 0, ended.out.contains("All figures are as recorded."), "{}{}", ended.out, ended.err);
    }
}

#[test]
fn records_of_the_second_format_still_open_and_do_not_know_their_picture() {
    let (_base, folder) = golden();
    let text = std::fs::read_to_string(folder.join("near-2.record.ron")).expect("a record");
    let record = Record::read(&text).expect("a record");
    let picture = record.picture.expect("a picture");
    assert_eq!((record.format, picture.file.as_str(), picture.sha256), (2, "near-2.png", None));
    let ended = run(&folder, &["repeat", "near-2.record.ron"]);
    assert_eq!(ended.code, 1, "{}", ended.out);
    assert!(ended.err.contains("near-2.png, is not there"), "{}", ended.err);
    run(&folder, &["repeat", "near-2.record.ron", "-o", "again.png"]);
    std::fs::rename(folder.join("again.png"), folder.join("near-2.png")).expect("renamed");
    let ended = run(&folder, &["repeat", "near-2.record.ron"]);
    assert!(ended.out.contains("older than fingerprints"), "{}", ended.out);
    assert_eq!(ended.code == 0, ended.out.contains("All figures are as recorded."), "{}{}", ended.out, ended.err);
}

#[test]
fn records_of_the_third_format_still_open_and_are_not_blamed_for_what_they_do_not_tell() {
    let (_base, folder) = golden();
    let text = std::fs::read_to_string(folder.join("far-3.record.ron")).expect("a record");
    let record = Record::read(&text).expect("a record");
    assert_eq!((record.format, &record.verdict, &record.final_picture), (3, &None, &None));
    let picture = record.picture.as_ref().expect("a picture");
    assert!(picture.file == "far-3.png" && picture.sha256.as_ref().is_some_and(|print| print.len() == 64));
    // What it was measured by, and what nobody could set then as it is unless one sets it.
    let settings = MeasureSettings::of_record(&record);
    let usual = MeasureSettings::default().measures;
    assert_eq!(
        (settings.measures.proportion, settings.measures.shortest_stretch, settings.measures.seen_share),
        (Some(2.0 / 3.0), usual.shortest_stretch, usual.seen_share)
    );
    assert!((settings.measures.upright.degrees() - 0.5).abs() < 1e-12);
    let ended = run(&folder, &["repeat", "far-3.record.ron", "-o", "again.png"]);
    for untold in ["verdict", "final_picture", "tolerance_as_set", "subject.front"] {
        assert!(!ended.out.contains(untold), "{}", ended.out);
    }
    assert!(ended.out.contains("far-3.png, is not there"), "{}", ended.out);
    assert_eq!(ended.code == 0, ended.out.contains("All figures are as recorded."), "{}{}", ended.out, ended.err);
    // What is written today tells both, and is held to them.
    let again = std::fs::read_to_string(folder.join("again.record.ron")).expect("a record");
    let again = Record::read(&again).expect("a record");
    assert!(again.format == RECORD_FORMAT && again.verdict.is_some() && again.final_picture.is_some());
    let mut other = again.clone();
    other.verdict =
        other.verdict.map(|verdict| plumbsight::record::VerdictRecord { upright: !verdict.upright, ..verdict });
    std::fs::write(folder.join("other.record.ron"), other.to_ron()).expect("written");
    let ended = run(&folder, &["repeat", "other.record.ron"]);
    assert!(ended.out.contains("verdict.upright: "), "{}", ended.out);
}

#[test]
fn a_capture_is_repeated_byte_for_byte_from_its_record_alone() {
    let (_base, folder) = golden();
    let captures = [
        vec!["--stance", "near, low", "--overlay", "--person", "2,-10", "--person", "-3,-8.5"],
        vec!["--stance", "far", "--straightened", "--theme", "dusk", "--sun", "100,12", "--keep-convergence", "0.3"],
        vec!["--at", "-9.123456789,-31.7", "--aperture", "2.8", "--depth-of-field", "--moment", "2027-01-02T03:04:05Z"],
        vec!["--stance", "far", "--straightened", "--proportion", "2:3", "--upright", "1.5", "--tolerance", "0.1"],
    ];
    for (number, capture) in captures.iter().enumerate() {
        let name = format!("{number}.{}", if number % 2 == 0 { "png" } else { "jpg" });
        let still = ["still", SITE, "-o", &name, "--width", "90", "--samples", "2"];
        run(&folder, &[&still[..], capture].concat()).good();
        let (record, again) = (format!("{number}.record.ron"), format!("again {name}"));
        let told = run(&folder, &["repeat", &record, "-o", &again]).good();
        assert!(told.contains("All figures are as recorded."), "{capture:?}: {told}");
        assert!(told.contains(&format!("Its bytes are the same as those of {name}.")), "{capture:?}: {told}");
        let bytes = |name: &str| std::fs::read(folder.join(name)).expect("a picture");
        assert_eq!(bytes(&name), bytes(&again), "{capture:?}");
        // The records say the same, but for the pictures' names.
        let text = |name: &str| String::from_utf8(bytes(name)).expect("text");
        assert_eq!(text(&record).replace(&name, &again), text(&format!("again {number}.record.ron")));
    }
}

#[test]
fn a_record_whose_site_has_changed_says_what_comes_out_otherwise() {
    let (_base, folder) = golden();
    let text = std::fs::read_to_string(folder.join(SITE)).expect("a site");
    std::fs::write(folder.join("moved.site.ron"), text.replace("height_m: 30", "height_m: 33")).expect("written");
    let ended = run(&folder, &["repeat", "far-1.record.json", "--site", "moved.site.ron"]);
    assert_eq!(ended.code, 1, "{}", ended.err);
    assert!(ended.err.contains("It does not repeat: ") && ended.err.contains("figures differ"), "{}", ended.err);
    let told = ended.out;
    assert!(
        told.contains("has changed since the record was written") && told.contains("figures differ from the record"),
        "{told}"
    );
    assert!(told.contains("camera.focus_m: ") && told.contains("recorded "), "{told}");
    std::fs::rename(folder.join(SITE), folder.join("elsewhere.ron")).expect("renamed");
    run(&folder, &["repeat", "far-1.record.json"]).refused(2, "is not in the same folder; use --site SITE");
    // A record cannot lead out of its own folder.
    let record = std::fs::read_to_string(folder.join("far-1.record.json")).expect("a record");
    std::fs::create_dir(folder.join("in")).expect("made");
    let leading = record.replace("\"mill.site.ron\"", "\"../elsewhere.ron\"");
    std::fs::write(folder.join("in/leads.record.json"), leading).expect("written");
    run(&folder.join("in"), &["repeat", "leads.record.json"]).refused(2, "not in the same folder");
}

#[test]
fn records_of_the_fourth_and_fifth_format_show_the_site_as_it_was_shown_then() {
    let (_base, folder) = golden();
    for (name, format, company) in [("far-4.record.ron", 4, false), ("far-5.record.ron", 5, true)] {
        let text = std::fs::read_to_string(folder.join(name)).expect("a record");
        let record = Record::read(&text).expect("a record");
        let picture = record.picture.as_ref().expect("a picture");
        assert_eq!((record.format, picture.look, picture.lines, picture.company), (format, Look::Card, false, company));
        assert!(picture.every_ray && !picture.crop && !picture.before_after);
        let told = run(&folder, &["repeat", name, "-o", "again.png", "--replace"]).good();
        assert!(told.contains("All figures are as recorded."), "{told}");
        // The picture drawn anew is the very picture that was recorded, and its own record gives it once more.
        let again = std::fs::read_to_string(folder.join("again.record.ron")).expect("a record");
        let again = Record::read(&again).expect("a record");
        let fingerprint = |record: &Record| record.picture.as_ref().and_then(|picture| picture.sha256.clone());
        assert_eq!(again.format, RECORD_FORMAT);
        assert!(fingerprint(&record).is_some() && fingerprint(&again) == fingerprint(&record));
        let told = run(&folder, &["repeat", "again.record.ron", "-o", "once.png", "--replace"]).good();
        assert!(told.contains("Its bytes are the same"), "{told}");
    }
}

#[test]
fn surround_depth_crop_and_both_pictures_are_recorded_and_repeated() {
    let (_base, folder) = golden();
    let header = |name: &str| {
        let file = std::io::BufReader::new(std::fs::File::open(folder.join(name)).expect("a picture"));
        let reader = png::Decoder::new(file).read_info().expect("a PNG");
        (reader.info().color_type, reader.info().bit_depth, reader.info().size())
    };
    let (rgb, rgba) = (png::ColorType::Rgb, png::ColorType::Rgba);
    let (eight, sixteen) = (png::BitDepth::Eight, png::BitDepth::Sixteen);
    for (name, options, form) in [
        ("clear.png", &["--surround", "clear", "--sixteen-bits", "--overlay"][..], (rgba, sixteen)),
        ("white.png", &["--surround", "white", "--show-crop"], (rgb, eight)),
        ("both.png", &["--before-after", "--show-crop", "--surround", "clear"], (rgba, eight)),
    ] {
        let still = ["still", SITE, "--stance", "far", "--width", "240", "-o", name];
        run(&folder, &[&still[..], options].concat()).good();
        let (colours, depth, size) = header(name);
        assert_eq!((colours, depth), form, "{name}");
        assert_eq!(size.0, 240, "{name}");
        let record = name.replace(".png", ".record.ron");
        let read = Record::read(&std::fs::read_to_string(folder.join(&record)).expect("a record")).expect("a record");
        assert_eq!(read.picture.expect("a picture").pixels, [size.0, size.1]);
        let told = run(&folder, &["repeat", &record, "-o", "again.png", "--replace"]).good();
        assert!(told.contains("Its bytes are the same"), "{told}");
    }
    for options in [&["--surround", "clear"][..], &["--sixteen-bits"]] {
        run(&folder, &[&["still", SITE, "--stance", "far", "-o", "a.jpg"], options].concat())
            .refused(2, "name the picture .png");
    }
}

#[test]
fn the_planned_moment_lights_the_picture_and_is_written_down_with_its_light() {
    let (_base, folder) = golden();
    let text = std::fs::read_to_string(folder.join(SITE)).expect("a site");
    assert!(text.contains("anchor:"), "the site lies somewhere");
    let still = ["still", SITE, "--stance", "far", "--width", "90", "--samples", "1", "--look", "materials"];
    run(&folder, &[&still[..], &["-o", "noon.jpg", "--moment", "2027-06-21T11:00Z"]].concat()).good();
    run(&folder, &[&still[..], &["-o", "evening.jpg", "--moment", "2027-06-21T19:00Z"]].concat()).good();
    let record =
        |name: &str| Record::read(&std::fs::read_to_string(folder.join(name)).expect("a record")).expect("a record");
    let (noon, evening) = (record("noon.record.ron"), record("evening.record.ron"));
    let of = |record: &Record| record.planned.clone().expect("planned");
    // The very figures that `light` gives, whose sun is held to pvlib.
    let asked = ["light", SITE, "--stance", "far", "--moment", "2027-06-21T11:00Z", "--json"];
    let light: serde_json::Value = serde_json::from_str(&run(&folder, &asked).good()).expect("JSON");
    let near = |a: f64, value: &serde_json::Value| (a - value.as_f64().expect("a number")).abs() < 1e-6;
    assert!(near(of(&noon).sun.azimuth_deg, &light["azimuth_deg"]), "{light}");
    assert!(near(of(&noon).sun.altitude_deg, &light["altitude_deg"]), "{light}");
    assert_eq!(noon.sun, Some(of(&noon).sun));
    assert!(of(&noon).incidence_deg.is_some() && of(&noon).light_from.is_some());
    assert!(of(&evening).sun.altitude_deg < of(&noon).sun.altitude_deg);
    let bytes = |name: &str| std::fs::read(folder.join(name)).expect("a picture");
    assert_ne!(bytes("noon.jpg"), bytes("evening.jpg"), "the shadows lie elsewhere");
    // It comes out again from the record alone, and its file is dated by it.
    let told = run(&folder, &["repeat", "evening.record.ron", "-o", "again.jpg"]).good();
    assert!(told.contains("All figures are as recorded."), "{told}");
    assert_eq!(bytes("evening.jpg"), bytes("again.jpg"));
    let dated = noon.picture.clone().and_then(|picture| picture.moment).expect("dated");
    assert_eq!(dated, of(&noon).moment);
}

#[test]
fn what_is_no_record_is_refused_with_its_place() {
    let (_base, folder) = golden();
    let good = std::fs::read_to_string(folder.join("near-1.record.ron")).expect("a record");
    let newer = good.replacen("format: 1", &format!("format: {}", RECORD_FORMAT + 1), 1);
    assert_eq!(Record::read(&newer), Err(RecordError::Format { format: RECORD_FORMAT + 1 }));
    assert_eq!(Record::read(&good.replacen("format: 1", "format: 0", 1)), Err(RecordError::Format { format: 0 }));
    let deep = format!("(format: 1, program: {}", "[".repeat(1_000_000));
    for (name, text, words) in [
        ("empty", String::new(), "line 1, column 1"),
        ("newer", newer, "a newer one wrote it"),
        ("half", good[..good.len() / 2].to_owned(), "no record of a stance"),
        ("number", good.replacen("focal_mm: ", "focal_mm: \"", 1), "line "),
        ("deep ron", deep, "no record"),
        ("deep json", "{\"format\": 1, \"x\": ".to_owned() + &"[".repeat(1_000_000), "no record"),
        ("site", std::fs::read_to_string(folder.join(SITE)).expect("a site"), "no record of a stance"),
        ("nan", good.replacen("height_m: 0.8", "height_m: NaN", 1), ""),
    ] {
        std::fs::write(folder.join(name), text).expect("written");
        let ended = run(&folder, &["repeat", name]);
        assert!(matches!(ended.code, 1 | 2), "{name}: {}", ended.out);
        let code = ended.code;
        ended.refused(code, words);
    }
    std::fs::write(folder.join("bytes"), b"(format: 1, \xff").expect("written");
    run(&folder, &["repeat", "bytes"]).refused(2, "no UTF-8 text");
    run(&folder, &["repeat", "nothing here"]).refused(2, "cannot be read");
    run(&folder, &["repeat", "."]).refused(2, "is a folder");
}

#[test]
fn spoilt_records_never_bring_the_program_down() {
    let (_base, folder) = golden();
    let survey = Survey::open(&folder.join(SITE)).expect("the frozen site");
    let mut random = Random::new(77);
    let mut refused = 0;
    for name in ["near-1.record.ron", "far-1.record.json", "far-3.record.ron"] {
        let good = std::fs::read(folder.join(name)).expect("a record");
        for _ in 0..1500 {
            let mut bytes = good.clone();
            for _ in 0..=(random.bits() % 3) {
                let at = (random.bits() % bytes.len() as u64) as usize;
                match random.bits() % 4 {
                    0 => bytes[at] = random.bits() as u8,
                    1 => bytes.truncate(at.max(1)),
                    2 => bytes.insert(at, *random.one_of(b"-9e0({[\",:N.")),
                    _ => {
                        let end = (at + 40).min(bytes.len());
                        let again = bytes[at..end].to_vec();
                        bytes.splice(at..at, again);
                    }
                }
            }
            let Ok(text) = String::from_utf8(bytes) else { continue };
            match Record::read(&text) {
                Err(error) => {
                    refused += 1;
                    assert!(!error.to_string().is_empty());
                }
                // Whatever still reads as a record is taken up or refused, and no more.
                Ok(record) => {
                    let _ = survey.measure(&record.stance.described, &MeasureSettings::of_record(&record));
                }
            }
        }
    }
    assert!(refused > 500, "{refused}");
}

#[test]
fn any_stance_survives_being_recorded() {
    let (_base, folder) = golden();
    let survey = Survey::open(&folder.join(SITE)).expect("the frozen site");
    let mut random = Random::new(5);
    let mut stood = 0;
    for _ in 0..120 {
        let mut stance = survey.model.site.stances[0].clone();
        stance.name =
            (0..random.bits() % 9).map(|_| *random.one_of(&['a', '"', '\\', '\n', '🗼', '\u{202e}', '{'])).collect();
        stance.at = (random.between(-80.0, 80.0), random.between(-80.0, 80.0));
        stance.height_m = random.between_octaves(0.2, 40.0);
        stance.lens = (*random.one_of(&["16-35 mm", "24 mm", "24 mm with 12 mm rise", "70-200 mm"])).into();
        stance.aim = match random.bits() % 5 {
            0 => Aim::Fill,
            1 => Aim::Level,
            2 => Aim::Rise,
            3 => Aim::At(random.between(-9.0, 9.0), random.between(-9.0, 9.0), random.between(-9.0, 50.0)),
            _ => Aim::Turned {
                heading_deg: random.between(-400.0, 400.0),
                pitch_deg: random.between(-90.0, 90.0),
                roll_deg: random.between(-180.0, 180.0),
            },
        };
        stance.f_number = random.between(2.8, 22.0);
        stance.focus_m = random.bits().is_multiple_of(2).then(|| random.between_octaves(2.0, 9000.0));
        let settings = MeasureSettings::default();
        let Ok(measured) = survey.measure(&stance, &settings) else { continue };
        stood += 1;
        let record = survey.record(&stance, &measured, &settings);
        for text in [record.to_ron(), record.to_json()] {
            let read = Record::read(&text).unwrap_or_else(|error| panic!("{error}\n{text}"));
            assert_eq!(read, record);
            assert_eq!(read.stance.described, stance);
            let again =
                survey.measure(&read.stance.described, &MeasureSettings::of_record(&read)).expect("taken up again");
            assert_eq!(again.standing, measured.standing);
        }
    }
    assert!(stood > 60, "{stood}");
}
