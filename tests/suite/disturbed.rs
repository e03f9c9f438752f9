//! What may a run lose that is disturbed: killed, beside another one, or fed with what is no file of its kind? Nothing.

use std::path::{Path, PathBuf};
use std::process::{Child, Stdio};
use std::time::{Duration, Instant};

use plumbsight::bring::{BringError, BringOptions, Brought, bring};
use plumbsight::files::FileError;
use plumbsight::handover::compare::Comparison;
use plumbsight::plan::read_plan;
use plumbsight::record::Record;
use plumbsight::site::{Shape, Terrain, parse_site};
use serde_json::json;

use crate::support::listing;
use crate::support::program::{command, run};
use crate::support::random::Random;

const SITE: &str = "Site(
    format: 1, name: \"mill\", // the owner's comment
    anchor: (latitude_deg: 53.7, longitude_deg: -0.31, height_m: 4),
    blocks: [
        (name: \"stack\", subject: true, at: (0, 0), shape: RoundTaper(foot_radius_m: 2, head_radius_m: 1.2, height_m: 30)),
    ],
    stances: [
        (name: \"near\", at: (1, -24), lens: \"24 mm\"),
        (name: \"=far\", at: (4, -60), lens: \"50 mm\"),
    ],
)
";

fn mill() -> (tempfile::TempDir, PathBuf) {
    let base = tempfile::tempdir().expect("a folder");
    let folder = base.path().join("à part 🗼");
    std::fs::create_dir(&folder).expect("made");
    std::fs::write(folder.join("mill.site.ron"), SITE).expect("written");
    (base, folder)
}

/// A square footprint of 5 m or so, `number` steps east of the mill.
fn square(number: usize, properties: &serde_json::Value) -> serde_json::Value {
    let west = -0.31 + 2e-4 * number as f64;
    let (south, east, north) = (53.7005, west + 1e-4, 53.7006);
    json!({
        "type": "Feature", "properties": properties, "geometry": {"type": "Polygon", "coordinates":
            [[[west, south], [east, south], [east, north], [west, north], [west, south]]]},
    })
}

fn collection(features: &[serde_json::Value]) -> String {
    json!({"type": "FeatureCollection", "features": features}).to_string()
}

fn start(folder: &Path, arguments: &[&str]) -> Child {
    command(folder).args(arguments).stdout(Stdio::null()).stderr(Stdio::piped()).spawn().expect("the program starts")
}

fn blocks_of(folder: &Path, site: &str) -> Vec<String> {
    let text = std::fs::read_to_string(folder.join(site)).expect("a site");
    let site = parse_site(&text, site).unwrap_or_else(|problems| panic!("{problems}\n{text}"));
    site.blocks.into_iter().map(|block| block.name).collect()
}

#[test]
fn runs_that_bring_at_once_all_arrive() {
    let (_base, folder) = mill();
    for number in 0..4 {
        let house = square(number, &json!({"name": format!("house {number}"), "height": 9}));
        std::fs::write(folder.join(format!("{number}.geojson")), collection(&[house])).expect("written");
    }
    for round in 0..4 {
        // Into a site that is there, and into one that all of them would make.
        let site = if round % 2 == 0 { format!("old {round}.site.ron") } else { format!("new {round}.site.ron") };
        if round % 2 == 0 {
            std::fs::write(folder.join(&site), SITE).expect("written");
        }
        let files: Vec<String> = (0..4).map(|number| format!("{number}.geojson")).collect();
        let runs: Vec<Child> = files
            .iter()
            .map(|file| start(&folder, &["bring", file, "--into", &site, "--anchor", "53.7,-0.31,4"]))
            .collect();
        for child in runs {
            let ended = child.wait_with_output().expect("ends");
            assert!(ended.status.success(), "{}", String::from_utf8_lossy(&ended.stderr));
        }
        let mut blocks = blocks_of(&folder, &site);
        blocks.retain(|name| name.starts_with("house"));
        blocks.sort();
        assert_eq!(blocks, ["house 0", "house 1", "house 2", "house 3"], "round {round}");
    }
    assert!(!listing(&folder).iter().any(|name| name.starts_with('.')), "{:?}", listing(&folder));
}

#[test]
fn an_edit_saved_while_files_are_brought_is_kept() {
    let (_base, folder) = mill();
    // So many that bringing them takes a while between reading the site and writing it.
    let many: Vec<_> = (0..50)
        .flat_map(|row| (0..60).map(move |number| (row, number)))
        .map(|(row, number)| {
            let mut square = square(number, &json!({"height": 5}));
            for corner in square["geometry"]["coordinates"][0].as_array_mut().expect("a ring") {
                corner[1] = json!(corner[1].as_f64().expect("a number") + 1.5e-4 * f64::from(row));
            }
            square
        })
        .collect();
    std::fs::write(folder.join("many.geojson"), collection(&many)).expect("written");
    let site = folder.join("mill.site.ron");
    let started = Instant::now();
    run(&folder, &["bring", "many.geojson", "--into", "mill.site.ron"]).good();
    let takes = started.elapsed();
    let mut edited_meanwhile = 0;
    for tenth in [1, 3, 5, 7, 9] {
        std::fs::write(&site, SITE).expect("written");
        let mut child = start(&folder, &["bring", "many.geojson", "--into", "mill.site.ron"]);
        std::thread::sleep(takes * tenth / 10);
        let edit =
            std::fs::read_to_string(&site).expect("a site").replace("// the owner's comment", "// the owner's EDIT");
        std::fs::write(folder.join("editor.tmp"), &edit).expect("written");
        std::fs::rename(folder.join("editor.tmp"), &site).expect("saved");
        edited_meanwhile += usize::from(child.try_wait().expect("asked").is_none());
        let ended = child.wait_with_output().expect("ends");
        assert!(ended.status.success(), "{}", String::from_utf8_lossy(&ended.stderr));
        let text = std::fs::read_to_string(&site).expect("a site");
        assert!(text.contains("// the owner's EDIT"), "the edit is lost at {tenth}/10 of {takes:?}");
        assert_eq!(blocks_of(&folder, "mill.site.ron").len(), 3_001);
    }
    assert!(edited_meanwhile > 0, "no edit fell into a run of {takes:?}");
}

const STILL: [&str; 8] = ["still", "mill.site.ron", "--width", "60", "--samples", "1", "-o", "a.png"];

fn still(folder: &Path, more: &[&str]) {
    run(folder, &[&STILL[..], more].concat()).good();
}

#[test]
fn a_record_knows_its_own_picture() {
    let (_base, folder) = mill();
    still(&folder, &["--stance", "near"]);
    let told = run(&folder, &["repeat", "a.record.ron"]).good();
    assert!(told.contains("a.png is the picture that was recorded"), "{told}");
    let at = |name: &str| folder.join(name);
    let (picture, record) =
        (std::fs::read(at("a.png")).expect("read"), std::fs::read_to_string(at("a.record.ron")).expect("read"));
    let sha256 = Record::read(&record).expect("a record").picture.expect("a picture").sha256.expect("a fingerprint");
    // By another program.
    let output = std::process::Command::new("sha256sum").arg(at("a.png")).output().expect("coreutils");
    assert!(String::from_utf8_lossy(&output.stdout).trim_start_matches('\\').starts_with(&sha256), "{sha256}");

    let unlike = |words: &str| {
        let ended = run(&folder, &["repeat", "a.record.ron"]);
        assert_eq!(ended.code, 1, "{}", ended.out);
        assert!(ended.err.contains(words), "{}", ended.err);
    };
    // Edited, by a single byte at its end.
    let mut edited = picture.clone();
    *edited.last_mut().expect("bytes") ^= 1;
    std::fs::write(at("a.png"), &edited).expect("written");
    unlike("a.png is not the picture that was recorded");
    // Swapped: the picture of another stance, as a run leaves it that was killed between picture and record.
    still(&folder, &["--stance", "=far", "--replace"]);
    let other = std::fs::read(at("a.png")).expect("read");
    std::fs::write(at("a.record.ron"), &record).expect("written");
    unlike("a.png is not the picture that was recorded");
    std::fs::remove_file(at("a.png")).expect("removed");
    unlike("a.png, is not there");
    // Taken again it is the same picture, and all is well.
    let told = run(&folder, &["repeat", "a.record.ron", "-o", "b.png"]).good();
    assert!(told.contains("Its bytes are the same as those of a.png") && told.contains("is not there"), "{told}");
    assert!(std::fs::read(at("b.png")).expect("read") == picture && picture != other);
    // Something in its place that is no file.
    std::fs::create_dir(at("a.png")).expect("made");
    unlike("cannot be looked at");
    std::fs::remove_dir(at("a.png")).expect("removed");
    std::fs::write(at("a.png"), &picture).expect("written");
    run(&folder, &["repeat", "a.record.ron"]).good();
    // A site that has changed gives other figures and another picture.
    std::fs::write(at("mill.site.ron"), SITE.replace("height_m: 30", "height_m: 31")).expect("written");
    let ended = run(&folder, &["repeat", "a.record.ron", "-o", "c.png"]);
    assert_eq!(ended.code, 1);
    assert!(ended.err.contains("figures differ") && ended.err.contains("other bytes"), "{}", ended.err);
    assert!(ended.out.contains(": recorded ") && ended.out.contains(", now "), "{}", ended.out);
}

#[test]
fn a_killed_still_leaves_the_old_pair_or_the_new_one() {
    let (_base, folder) = mill();
    still(&folder, &["--stance", "near"]);
    let mut random = Random::new(14);
    let mut killed = 0;
    for round in 0..30 {
        let (stance, theme) = (["near", "=far"][round % 2], ["paper", "dusk"][round / 2 % 2]);
        let mut child = start(&folder, &[&STILL[..], &["--stance", stance, "--theme", theme, "--replace"]].concat());
        std::thread::sleep(Duration::from_micros(random.between(2e3, 1.5e5) as u64));
        killed += usize::from(child.try_wait().expect("asked").is_none());
        let _ = child.kill();
        let _ = child.wait();
        let ended = run(&folder, &["repeat", "a.record.ron"]);
        // One of a pair, or, killed in the blink between two names, a pair that is told not to be one.
        assert!(
            ended.code == 0 || ended.code == 1 && ended.err.contains("is not the picture that was recorded"),
            "{}{}",
            ended.out,
            ended.err
        );
        if ended.code == 1 {
            still(&folder, &["--stance", "near", "--replace"]);
        }
    }
    assert!(killed > 0);
    // What killed runs left goes with the next run that writes there, once it has lain for a while.
    for name in listing(&folder).iter().filter(|name| name.starts_with(".plumbsight-")) {
        aged(&folder.join(name));
    }
    still(&folder, &["--stance", "near", "--replace"]);
    assert_eq!(listing(&folder), ["a.png", "a.record.ron", "mill.site.ron"]);
}

/// Makes a file or folder look as if nobody had touched it for a minute.
fn aged(path: &Path) {
    let file = std::fs::File::open(path).expect("there");
    let now = file.metadata().and_then(|known| known.modified()).expect("a time");
    file.set_modified(now - Duration::from_secs(60)).expect("set");
}

#[cfg(unix)]
#[test]
fn leftovers_of_killed_runs_are_swept_and_nothing_else() {
    let (_base, folder) = mill();
    let sequence = [
        "sequence",
        "mill.site.ron",
        "--from",
        "near",
        "--to",
        "=far",
        "--frames",
        "300",
        "--width",
        "120",
        "-o",
        "way",
    ];
    let hidden = |folder: &Path| -> Vec<String> {
        listing(folder).into_iter().filter(|name| name.starts_with(".plumbsight-")).collect()
    };
    let frames_in = |name: &str| {
        folder.join(name).is_dir() && listing(&folder.join(name)).iter().any(|name| name.starts_with("frame-"))
    };
    let mut child = start(&folder, &sequence);
    let mut until = Instant::now() + Duration::from_secs(120);
    while !hidden(&folder).iter().any(|name| frames_in(name)) {
        assert!(Instant::now() < until && child.try_wait().expect("asked").is_none(), "no frame was written");
        std::thread::sleep(Duration::from_millis(5));
    }
    child.kill().expect("killed");
    child.wait().expect("ended");
    let left = hidden(&folder);
    assert_eq!(left.len(), 1, "{left:?}");
    // A file as a killed still leaves it, and things that only look like leftovers.
    std::fs::write(folder.join(".plumbsight-Ab3dE9"), "half a picture").expect("written");
    std::fs::write(folder.join(".plumbsight-notes.txt"), "mine").expect("written");
    std::fs::create_dir_all(folder.join(".plumbsight-abcdef/mine")).expect("made");
    let keep = [".plumbsight-abcdef", ".plumbsight-notes.txt"];
    for name in hidden(&folder) {
        aged(&folder.join(name));
    }
    // Another sequence is at work meanwhile: what it has in hand stays.
    until = Instant::now() + Duration::from_secs(120);
    let mut at_work = start(&folder, &[&sequence[..11], &["other way"]].concat());
    while hidden(&folder).iter().filter(|name| !left.contains(name) && frames_in(name)).count() == 0 {
        assert!(Instant::now() < until && at_work.try_wait().expect("asked").is_none(), "no frame was written");
        std::thread::sleep(Duration::from_millis(5));
    }
    let in_hand: Vec<String> = hidden(&folder).into_iter().filter(|name| frames_in(name)).collect();
    assert_eq!(in_hand.len(), 1, "the other sequence sweeps the first's leftovers: {in_hand:?}");
    aged(&folder.join(&in_hand[0]));
    run(&folder, &["places", "mill.site.ron", "-o", "mill.gpx"]).good();
    assert!(folder.join(&in_hand[0]).is_dir(), "the work of a run that is alive was swept");
    at_work.kill().expect("killed");
    at_work.wait().expect("ended");
    aged(&folder.join(&in_hand[0]));
    still(&folder, &["--stance", "near"]);
    assert_eq!(hidden(&folder), keep);
}

#[cfg(unix)]
#[test]
fn what_is_no_plain_file_is_refused_at_once_wherever_a_file_is_read() {
    use std::os::unix::net::UnixListener;
    let (_base, folder) = mill();
    let made = std::process::Command::new("mkfifo").arg(folder.join("pipe")).status().expect("coreutils");
    assert!(made.success());
    let _listening = UnixListener::bind(folder.join("socket")).expect("a socket");
    std::fs::create_dir(folder.join("folder")).expect("made");
    std::fs::write(folder.join("house.geojson"), collection(&[square(0, &json!({}))])).expect("written");
    std::fs::write(
        folder.join("grid.asc"),
        "ncols 2\nnrows 2\nxllcorner 500000\nyllcorner 5500000\ncellsize 1\n1 2 3 4",
    )
    .expect("written");
    std::fs::write(folder.join("brand.ron"), "(name: \"x\", mark: \"pipe\")").expect("written");
    std::fs::write(folder.join("brand-device.ron"), "(name: \"x\", mark: \"/dev/zero\")").expect("written");
    let refused = |arguments: &[&str], environment: Option<(&str, &Path)>, words: &str| {
        let mut program = command(&folder);
        program.args(arguments).stdout(Stdio::null()).stderr(Stdio::piped()).envs(environment);
        let mut child = program.spawn().expect("the program starts");
        let until = Instant::now() + Duration::from_secs(20);
        while child.try_wait().expect("asked").is_none() {
            if Instant::now() > until {
                let _ = child.kill();
                panic!("{arguments:?} waits for ever");
            }
            std::thread::sleep(Duration::from_millis(2));
        }
        let ended = child.wait_with_output().expect("ended");
        let err = String::from_utf8_lossy(&ended.stderr);
        assert_eq!(ended.status.code(), Some(2), "{arguments:?}: {err}");
        assert!(err.contains(words), "{arguments:?}: {err}");
    };
    for (thing, words) in [
        ("pipe", "is a named pipe"),
        ("socket", "is a socket"),
        ("folder", "is a folder"),
        ("/dev/zero", "is a device"),
    ] {
        refused(&["check", thing], None, words);
        refused(&["bring", thing, "--into", "new.site.ron"], None, words);
        refused(&["bring", "house.geojson", "--into", thing], None, words);
        refused(&["repeat", thing], None, words);
        refused(&["search", "mill.site.ron", "--merge", thing], None, words);
    }
    refused(&["sheet", "mill.site.ron", "--brand", "pipe", "-o", "sheet"], None, "is a named pipe");
    refused(&["sheet", "mill.site.ron", "--brand", "brand.ron", "-o", "sheet"], None, "is a named pipe");
    refused(&["sheet", "mill.site.ron", "--brand", "brand-device.ron", "-o", "sheet"], None, "is a device");
    #[cfg(feature = "viewer")]
    refused(&["view", "mill.site.ron", "--script", "pipe"], None, "is a named pipe");
    let error = read_plan(&folder.join("pipe")).expect_err("no file").to_string();
    assert!(error.contains("is a named pipe"), "{error}");
    // A person's own kit is read from their configuration folder.
    let configuration = folder.join("configuration");
    std::fs::create_dir_all(configuration.join("plumbsight")).expect("made");
    std::fs::rename(folder.join("pipe"), configuration.join("plumbsight/kit.ron")).expect("moved");
    refused(&["measure", "mill.site.ron"], Some(("XDG_CONFIG_HOME", &configuration)), "kit.ron: is a named pipe");
    // Neither is one written over.
    for (arguments, thing) in [
        (vec!["places", "mill.site.ron", "--replace", "-o", "places.gpx"], "places.gpx"),
        (vec!["still", "mill.site.ron", "--stance", "near", "--width", "20", "--replace", "-o", "s.png"], "s.png"),
    ] {
        let made = std::process::Command::new("mkfifo").arg(folder.join(thing)).status().expect("coreutils");
        assert!(made.success());
        refused(&arguments, None, "is a named pipe");
        use std::os::unix::fs::FileTypeExt;
        assert!(folder.join(thing).metadata().expect("there").file_type().is_fifo());
    }
}

#[test]
fn sizes_are_bounded_before_anything_is_read() {
    let (_base, folder) = mill();
    let sparse = |name: &str, bytes: u64| {
        std::fs::File::create(folder.join(name)).and_then(|file| file.set_len(bytes)).expect("made");
    };
    let mib = 1 << 20;
    for (name, bytes, arguments) in [
        ("large.site.ron", 256 * mib + 1, vec!["check", "large.site.ron"]),
        ("large.record.ron", 256 * mib + 1, vec!["repeat", "large.record.ron"]),
        ("large.asc", 256 * mib + 1, vec!["bring", "large.asc", "--into", "new.site.ron"]),
        ("brand.ron", mib + 1, vec!["sheet", "mill.site.ron", "--brand", "brand.ron", "-o", "sheet"]),
    ] {
        sparse(name, bytes);
        run(&folder, &arguments).refused(2, "are read");
        std::fs::remove_file(folder.join(name)).expect("removed");
    }
    // GeoJSON, told by how it begins, has a bound of its own.
    std::fs::write(folder.join("large.geojson"), "{\"type\": ").expect("written");
    std::fs::File::options()
        .write(true)
        .open(folder.join("large.geojson"))
        .and_then(|file| file.set_len(64 * mib + 1))
        .expect("made");
    run(&folder, &["bring", "large.geojson", "--into", "new.site.ron"])
        .refused(2, "of footprints (GeoJSON), at most 67108864");
}

/// A cell that a spreadsheet would run: by its first letter, unless it is a number.
fn would_run(cell: &str) -> bool {
    cell.starts_with(['=', '+', '-', '@', '\t', '\r']) && cell.parse::<f64>().is_err()
}

#[test]
fn no_cell_of_a_table_is_run_by_a_spreadsheet() {
    let (_base, folder) = mill();
    let names = ["=cmd|'/c calc'!A1", "+1+1", "-2", "@SUM(A1)", "plain"];
    let stances: Vec<String> = names
        .iter()
        .enumerate()
        .map(|(number, name)| format!("(name: \"{name}\", at: ({number}, -40), lens: \"=LENS()\")"))
        .collect();
    let text = format!(
        "Site(format: 1, name: \"=1\", kit: (lenses: [(name: \"=LENS()\", focal_mm: 35)]), blocks: [
            (name: \"stack\", subject: true, at: (0, 0), shape: Box(width_m: 4, depth_m: 4, height_m: 30)),
            (name: \"=stage\", at: (0, -50), shape: Box(width_m: 9, depth_m: 9, height_m: 2), deck: ())],
          grounds: [(name: \"@yard\", access: Open, outline: [(-30, -70), (30, -70), (30, -20), (-30, -20)])],
          stances: [{}])",
        stances.join(", ")
    );
    std::fs::write(folder.join("bad.site.ron"), text).expect("written");
    let compared = run(&folder, &["compare", "bad.site.ron", "--as", "csv"]).good();
    let searched = run(&folder, &["search", "bad.site.ron", "--csv", "--lens", "=LENS()"]).good();
    run(
        &folder,
        &[
            "sequence",
            "bad.site.ron",
            "--from",
            "+1+1",
            "--to",
            "plain",
            "--frames",
            "3",
            "--width",
            "40",
            "--samples",
            "1",
            "-o",
            "way",
        ],
    );
    let sequence = std::fs::read_to_string(folder.join("way/frames.csv")).expect("a table");
    let mut negative = 0;
    for (name, text) in [("compare", &compared), ("search", &searched), ("sequence", &sequence)] {
        let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
        let mut cells = 0;
        for row in reader.records() {
            for cell in &row.expect("as many cells as the head") {
                assert!(!would_run(cell), "{name}: {cell:?}");
                cells += 1;
                negative += usize::from(cell.starts_with('-') && cell.parse::<f64>().is_ok());
            }
        }
        assert!(cells > 20, "{name}: {text}");
    }
    // The names are still there, and numbers are numbers whatever their sign.
    assert!(compared.contains("'=cmd|'/c calc'!A1") && compared.contains("'@SUM(A1)") && negative > 0, "{compared}");
    assert!(searched.contains("'=LENS()") && searched.contains("'=stage"), "{searched}");
    // Told of as numbers, a name that is one is a name too.
    let of = |name: &str| (name.to_owned(), Err::<_, String>("nothing".into()));
    let table = Comparison::of(&[of("-2"), of("=3"), of("\t=4")]).to_csv();
    assert!(
        table.starts_with(
            "figure,unit,best,'-2,\"'-2, difference\",'=3,\"'=3, difference\",'\t=4,\"'\t=4, difference\"\r\n"
        ),
        "{table}"
    );
}

fn one(path: &Path, options: &BringOptions) -> Result<Brought, BringError> {
    bring(&[path.to_path_buf()], options, None)
}

fn written(name: &str, content: impl AsRef<[u8]>) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join(name);
    std::fs::write(&path, content).expect("written");
    (folder, path)
}

fn warned(brought: &Brought, words: &str) {
    assert!(brought.warnings.iter().any(|warning| warning.contains(words)), "'{words}' in {:#?}", brought.warnings);
}

#[test]
fn a_block_begins_where_its_file_says() {
    let (_folder, path) = written(
        "lifted.geojson",
        collection(&[
            square(0, &json!({"name": "bridge", "height": 12, "min_height": 8.5})),
            square(1, &json!({"name": "storeys", "building:levels": 5, "building:min_level": "2"})),
            square(2, &json!({"name": "unknown top", "min_height": 4})),
            square(3, &json!({"name": "upside down", "height": 3, "min_height": 7})),
            square(4, &json!({"name": "cellar", "height": 6, "min_height": -3})),
            square(5, &json!({"name": "plain", "height": 6})),
            square(6, &json!({"name": "odd", "height": 6, "min_height": "some"})),
        ]),
    );
    let brought = one(&path, &BringOptions::default()).expect("brought");
    let found: Vec<(&str, f64, f64)> = brought
        .blocks
        .iter()
        .map(|block| match block.shape {
            Shape::Prism { height_m, .. } => (block.name.as_str(), block.lift_m, height_m),
            _ => panic!("a prism"),
        })
        .collect();
    let expected = [
        ("bridge", 8.5, 3.5),
        ("storeys", 6.0, 9.0),
        ("unknown top", 4.0, 6.0),
        ("upside down", 0.0, 3.0),
        ("cellar", 0.0, 6.0),
        ("plain", 0.0, 6.0),
        ("odd", 0.0, 6.0),
    ];
    assert_eq!(found, expected);
    warned(&brought, "3 blocks are lifted off the ground");
    warned(&brought, "'upside down: from 7 m to 3 m'");
    warned(&brought, "could not read 1 height: 'odd: min_height: \"some\"'");
}

#[test]
fn one_bad_feature_is_left_out_and_the_rest_comes_in() {
    let mut bad = square(1, &json!({"name": "bad"}));
    bad["geometry"]["coordinates"][0][1] = json!([8.0]);
    let mut nowhere = square(3, &json!({"name": "nowhere"}));
    nowhere["geometry"]["coordinates"][0][2] = json!([382_400.0, 6_354_400.0]);
    let good = |number: usize| square(number, &json!({"name": format!("house {number}"), "height": 5}));
    let (_base, folder) = mill();
    let text = collection(&[good(0), bad.clone(), good(2), nowhere, good(4), json!(17)]);
    std::fs::write(folder.join("a.geojson"), text).expect("written");
    let told = run(&folder, &["bring", "a.geojson", "--into", "mill.site.ron"]).good();
    assert!(told.contains("left out 3 features of 6 that cannot be read"), "{told}");
    for words in ["feature 2: ", "feature 4: (382400.0, 6354400.0) is no place", "feature 6: "] {
        assert!(told.contains(words), "{told}");
    }
    assert_eq!(blocks_of(&folder, "mill.site.ron"), ["stack", "house 0", "house 2", "house 4"]);
    std::fs::write(folder.join("b.geojson"), collection(&[bad.clone(), bad])).expect("written");
    run(&folder, &["bring", "b.geojson", "--into", "mill.site.ron"]).refused(2, "feature 1: ");
}

#[test]
fn a_map_system_that_is_not_used_is_told() {
    let (_folder, path) = written("house.geojson", collection(&[square(0, &json!({"height": 5}))]));
    let brought = one(&path, &BringOptions { crs: Some(32630), ..BringOptions::default() }).expect("brought");
    warned(&brought, "--crs 32630 was not used");
    assert!(one(&path, &BringOptions::default()).expect("brought").warnings.is_empty());
    let grid = "ncols 2\nnrows 2\nxllcorner 500000\nyllcorner 5950000\ncellsize 100\n1 2 3 4";
    let (_folder, path) = written("grid.asc", grid);
    let brought = one(&path, &BringOptions { crs: Some(32630), ..BringOptions::default() }).expect("brought");
    assert!(!brought.warnings.iter().any(|warning| warning.contains("--crs")), "{:?}", brought.warnings);
}

#[test]
fn files_of_other_kinds_are_told_by_their_kind() {
    let (_base, folder) = mill();
    for (name, bytes, kind) in [
        ("a.png", &b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"[..], "is a PNG picture"),
        ("a.jpg", b"\xff\xd8\xff\xe0\0\x10JFIF", "is a JPEG picture"),
        ("a.pdf", b"%PDF-1.7\n%\xe2\xe3\xcf\xd3", "is a PDF document"),
        ("a.zip", b"PK\x03\x04\x14\0\0\0", "is a ZIP archive"),
        ("a.xlsx", b"PK\x03\x04\x14\0\0\0", "is a spreadsheet"),
        ("a.xls", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "such as a spreadsheet"),
        ("a.shp", b"\0\0\x27\x0a\0\0\0\0", "is a part of a shapefile"),
        ("a.dbf", b"\x03\x7d\x01\x01\0\0\0\xff\xff", "is the table of a shapefile"),
        ("a.tif", b"II*\0\x08\0\0\0\xff", "GeoTIFF"),
        ("a.gpkg", b"SQLite format 3\0\xff", "GeoPackage"),
        ("a.hgt", b"\0\x01\xff\xfe\0\x02", "is an SRTM height tile"),
        ("a.gz", b"\x1f\x8b\x08\0\xff", "is a gzip archive"),
        ("a.glb", b"glTF\x02\0\0\0\xff", "is a 3D model"),
        ("a.gml", b"<?xml version=\"1.0\"?>", "is an XML document"),
        ("a.html", b"<!DOCTYPE html>", "is a web page"),
        ("a.bin", b"\x01\0\xff\xff", "is binary data"),
    ] {
        std::fs::write(folder.join(name), bytes).expect("written");
        for arguments in [vec!["bring", name, "--into", "new.site.ron"], vec!["check", name], vec!["repeat", name]] {
            let ended = run(&folder, &arguments);
            assert!(!ended.err.contains("UTF-8"), "{arguments:?}: {}", ended.err);
            ended.refused(2, kind);
        }
    }
    // A text in another encoding is a text all the same.
    std::fs::write(folder.join("latin.geojson"), b"{\"type\": \"caf\xe9\"}").expect("written");
    run(&folder, &["bring", "latin.geojson", "--into", "new.site.ron"]).refused(2, "save it as UTF-8");
    let (_folder, path) = written("a.png", b"\x89PNG\r\n\x1a\n");
    let error = one(&path, &BringOptions::default()).expect_err("a picture");
    assert!(matches!(error, BringError::File(FileError::OtherKind { .. })), "{error}");
}

#[test]
fn an_old_systems_end_of_text_is_no_error() {
    let (_base, folder) = mill();
    still(&folder, &["--stance", "near"]);
    let marked = |name: &str, text: &str| std::fs::write(folder.join(name), format!("{text}\u{1a}")).expect("written");
    let record = std::fs::read_to_string(folder.join("a.record.ron")).expect("a record");
    marked("marked.record.ron", &record);
    run(&folder, &["repeat", "marked.record.ron"]).good();
    marked("marked.site.ron", SITE);
    run(&folder, &["check", "marked.site.ron"]).good();
    marked("house.geojson", &collection(&[square(0, &json!({"name": "house"}))]));
    run(&folder, &["bring", "house.geojson", "--into", "marked.site.ron"]).good();
    assert_eq!(blocks_of(&folder, "marked.site.ron"), ["stack", "house"]);
    marked("grid.asc", "ncols 2\nnrows 2\nxllcorner 300000\nyllcorner 5950000\ncellsize 100\n1 2\n3 4\n");
    let brought = one(&folder.join("grid.asc"), &BringOptions { crs: Some(32630), ..BringOptions::default() });
    assert!(matches!(brought.expect("brought").terrain, Some(Terrain::Grid(_))));
    marked("brand.ron", "(name: \"x\")");
    run(&folder, &["sheet", "mill.site.ron", "--brand", "brand.ron", "-o", "sheet"]).good();
}

#[test]
fn ground_that_is_mostly_guessed_is_called_a_guess() {
    let grid = |voids: usize| {
        let posts: Vec<String> =
            (0..400).map(|post| if post < voids { "-9999".into() } else { post.to_string() }).collect();
        let rows: Vec<String> = posts.chunks(20).map(|row| row.join(" ")).collect();
        format!("ncols 20\nnrows 20\nxllcorner 500000\nyllcorner 5950000\ncellsize 10\n{}\n", rows.join("\n"))
    };
    let options = BringOptions { crs: Some(32630), ..BringOptions::default() };
    for (voids, guess) in
        [(0, None), (20, None), (21, Some("5.2 % of the ground is a guess")), (100, Some("25.0 % of"))]
    {
        let (_folder, path) = written("grid.asc", grid(voids));
        let brought = one(&path, &options).expect("brought");
        let calls_it_so = brought.warnings.iter().any(|warning| warning.contains("is a guess"));
        assert_eq!(calls_it_so, guess.is_some(), "{voids}: {:?}", brought.warnings);
        if let Some(words) = guess {
            warned(&brought, words);
        }
        if voids > 0 {
            warned(&brought, &format!("{voids} of 400 posts had no height"));
        }
    }
}
