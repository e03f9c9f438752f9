//! Does a search that is spread over sites, subjects, pieces and machines find what one run finds?
//!
//! The recipes of the README are run as they stand there, by GNU parallel and by a Slurm of one machine.

use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

use crate::support::program::{command, run};
use crate::support::{listing, project};

/// A yard with two chimneys; what is searched takes a moment.
const YARD: &str = "Site(format: 1, name: \"brick yard\",
    blocks: [
        (name: \"old stack\", subject: true, at: (0, 0), shape: RoundTaper(foot_radius_m: 2, head_radius_m: 1.2, height_m: 30)),
        (name: \"new, tall stack\", at: (30, 8), shape: RoundTaper(foot_radius_m: 1.5, head_radius_m: 1, height_m: 41)),
        (name: \"shed\", at: (-16, 4), shape: Box(width_m: 9, depth_m: 6, height_m: 5)),
    ],
    stances: [(name: \"gate\", at: (1, -24), lens: \"24 mm\")],
)";
const FILE: &str = "brickfield.site.ron";
/// What is asked for in each of these runs.
const QUICK: [&str; 4] = ["--spacing", "9", "--samples", "64"];

fn folder() -> (tempfile::TempDir, PathBuf) {
    let base = tempfile::tempdir().expect("a folder");
    let folder = base.path().to_owned();
    std::fs::write(folder.join(FILE), YARD).expect("written");
    (base, folder)
}

/// What the whole search prints, in every form.
fn whole(folder: &Path) -> [String; 3] {
    [&[][..], &["--json"], &["--csv"]].map(|form| run(folder, &[&["search", FILE], &QUICK[..], form].concat()).good())
}

/// What pieces come to, in every form.
fn merged(folder: &Path, pieces: &[String]) -> [String; 3] {
    let pieces: Vec<&str> = pieces.iter().map(String::as_str).collect();
    [&[][..], &["--json"], &["--csv"]]
        .map(|form| run(folder, &[&["search", "--merge"], &pieces[..], form].concat()).good())
}

fn pieces_in(folder: &Path) -> Vec<String> {
    listing(folder).into_iter().filter(|name| name.ends_with(".piece")).collect()
}

#[test]
fn pieces_need_nothing_but_themselves_and_say_which_are_missing() {
    let (_base, folder) = folder();
    let piece = |number: usize| {
        let (tile, out) = (format!("{number}/5"), format!("part-{number}.piece"));
        run(&folder, &[&["search", FILE, "--tile", &tile, "--out", &out], &QUICK[..]].concat())
    };
    for number in [4, 1, 5, 2] {
        piece(number).good();
    }
    let missing = |pieces: &[&str]| run(&folder, &[&["search", "--merge"], pieces].concat());
    missing(&["part-5.piece", "part-1.piece"]).refused(2, "pieces 2 to 4 of 5 are missing");
    missing(&["part-5.piece", "part-4.piece", "part-1.piece", "part-2.piece"]).refused(2, "piece 3 of 5 is missing");
    piece(3).good();
    let whole = whole(&folder);
    // Nothing but the pieces.
    let elsewhere = tempfile::tempdir().expect("a folder");
    let mut pieces: Vec<String> = pieces_in(&folder);
    for name in &pieces {
        std::fs::copy(folder.join(name), elsewhere.path().join(name)).expect("copied");
    }
    for _ in 0..3 {
        pieces.rotate_left(2);
        assert_eq!(merged(elsewhere.path(), &pieces), whole);
    }
    // The same piece twice is one piece; site and requirements may be named beside them, if they are theirs.
    pieces.push("part-2.piece".into());
    assert_eq!(merged(elsewhere.path(), &pieces), whole);
    let named = |more: &[&str]| {
        let pieces: Vec<&str> = pieces.iter().map(String::as_str).collect();
        run(&folder, &[&["search", FILE], more, &["--merge"], &pieces[..]].concat())
    };
    assert_eq!(named(&[]).good(), whole[0]);
    assert_eq!(named(&QUICK).good(), whole[0]);
    named(&["--spacing", "5"]).refused(2, "other requirements");
    named(&["--lens", "24 mm"]).refused(2, "other requirements");
    std::fs::write(folder.join(FILE), YARD.replace("height_m: 5", "height_m: 6")).expect("written");
    named(&[]).refused(2, "another site");
}

#[test]
fn a_piece_that_is_there_is_not_searched_again_and_a_killed_one_leaves_nothing() {
    let (_base, folder) = folder();
    let arguments =
        |tile: &'static str, out: &'static str| [&["search", FILE, "--tile", tile, "--out", out], &QUICK[..]].concat();
    // Killed in the middle of a search that would take long.
    let long = ["search", FILE, "--tile", "1/1", "--out", "long.piece", "--spacing", "0.3", "--rays"];
    let mut child = command(&folder).args(long).stderr(Stdio::null()).spawn().expect("it starts");
    std::thread::sleep(Duration::from_millis(700));
    child.kill().expect("it runs");
    child.wait().expect("it ends");
    assert!(pieces_in(&folder).is_empty());
    run(&folder, &arguments("1/2", "a.piece")).good();
    let before = std::fs::read(folder.join("a.piece")).expect("a piece");
    let told = run(&folder, &arguments("1/2", "a.piece")).good();
    assert!(told.contains("Piece 1 of 2 is already in a.piece"), "{told}");
    run(&folder, &arguments("2/2", "a.piece")).refused(2, "a.piece is piece 1 of 2");
    run(&folder, &[&arguments("1/2", "a.piece")[..], &["--seen", "0.5"]].concat()).refused(2, "other requirements");
    let replaced = run(&folder, &[&arguments("1/2", "a.piece")[..], &["--replace"]].concat()).good();
    assert!(replaced.contains("is written to"), "{replaced}");
    assert_eq!(std::fs::read(folder.join("a.piece")).expect("a piece"), before, "the same search, the same bytes");
    // What is cut off is no finished piece.
    std::fs::write(folder.join("a.piece"), &before[..before.len() / 2]).expect("written");
    run(&folder, &arguments("1/2", "a.piece")).refused(2, "damaged");
}

#[test]
fn several_sites_and_subjects_are_answered_with_one_table() {
    let (_base, folder) = folder();
    let other = YARD.replace("brick yard", "far yard").replace("height_m: 30", "height_m: 12");
    std::fs::write(folder.join("far.site.ron"), other).expect("written");
    let table = run(&folder, &[&["search", FILE, "far.site.ron"], &QUICK[..]].concat()).good();
    let lines: Vec<&str> = table.lines().collect();
    assert!(lines[0].starts_with("Site") && lines[0].contains("subject") && lines.len() == 3, "{table}");
    assert!(lines[1].starts_with("brick yard") && lines[2].starts_with("far yard"), "{table}");
    // Each block by itself is what the site says with it alone as the subject.
    let both =
        run(&folder, &[&["search", FILE, "--subjects", "--subjects=new, tall stack", "--json"], &QUICK[..]].concat())
            .json();
    let both = both.as_array().expect("two answers");
    let subjects: Vec<&str> = both.iter().filter_map(|answer| answer["subject"].as_str()).collect();
    assert_eq!(subjects, ["old stack", "new, tall stack"]);
    let alone = YARD.replace("subject: true, ", "").replace("stack\", at: (30", "stack\", subject: true, at: (30");
    std::fs::write(folder.join("alone.site.ron"), alone).expect("written");
    let alone = run(&folder, &[&["search", "alone.site.ron", "--list", "1", "--json"], &QUICK[..]].concat()).json();
    assert_eq!(both[1]["ranked"], alone["ranked"]);
    assert_eq!(both[1]["met"], alone["met"]);
    assert_eq!(both[1]["ranked"].as_array().map(Vec::len), Some(1));
    // The same rows as comma-separated values, and from pieces.
    let csv = run(&folder, &[&["search", FILE, "far.site.ron", "--csv"], &QUICK[..]].concat()).good();
    assert!(
        csv.lines().count() == 3
            && csv.lines().next().is_some_and(|line| line.ends_with(",site,subject,light_minutes")),
        "{csv}"
    );
    for (site, out) in [("far.site.ron", "far.piece"), (FILE, "brick.piece")] {
        let piece = ["search", site, "--tile", "1/1", "--out", out, "--list", "1"];
        run(&folder, &[&piece, &QUICK[..]].concat()).good();
    }
    assert_eq!(run(&folder, &["search", "--merge", "far.piece", "brick.piece"]).good(), table);
    // A site with a fault is told, and the others are searched all the same.
    std::fs::write(folder.join("bad.site.ron"), "Site(format: 1, name: 3)").expect("written");
    let ended = run(&folder, &[&["search", "bad.site.ron", FILE, "far.site.ron"], &QUICK[..]].concat());
    assert_eq!((ended.code, ended.out.as_str()), (2, table.as_str()), "{}", ended.err);
    assert!(ended.err.contains("Error in bad.site.ron, line 1"), "{}", ended.err);
    // Where one has no standpoint, its row says what would open some.
    let none = run(&folder, &[&["search", FILE, "far.site.ron", "--detail", "180"], &QUICK[..]].concat()).good();
    assert!(none.lines().any(|line| line.starts_with("brick yard") && line.contains("opens")), "{none}");
    run(&folder, &["search", FILE, "--subjects=steeple"]).refused(2, "no block is called 'steeple'");
    run(&folder, &["search", FILE, "far.site.ron", "--tile", "1/2", "--out", "x.piece"]).refused(2, "one site");
    run(&folder, &["search"]).refused(2, "SITE");
}

/// The block of README that holds a word.
fn recipe(word: &str) -> String {
    let readme = std::fs::read_to_string(project().join("README.md")).expect("README");
    let blocks = readme.split("```").skip(1).step_by(2);
    let block =
        blocks.filter_map(|block| block.split_once('\n').map(|(_, text)| text)).find(|text| text.contains(word));
    block.unwrap_or_else(|| panic!("README has no recipe with {word}")).to_owned()
}

/// Runs a command with the program first on its path, asked for quickly.
fn with_program(folder: &Path, program: &str, arguments: &[&str]) -> Output {
    let own = PathBuf::from(env!("CARGO_BIN_EXE_plumbsight"));
    let bin = folder.join("bin");
    std::fs::create_dir_all(&bin).expect("made");
    let wrapper = bin.join("plumbsight");
    // Pieces are searched quickly; merging takes no requirements.
    let text = format!(
        "#!/bin/sh\ncase \"$*\" in\n*--merge*) exec '{own}' \"$@\" ;;\n*) exec '{own}' \"$@\" {} ;;\nesac\n",
        QUICK.join(" "),
        own = own.display()
    );
    std::fs::write(&wrapper, text).expect("written");
    let mut permissions = std::fs::metadata(&wrapper).expect("there").permissions();
    std::os::unix::fs::PermissionsExt::set_mode(&mut permissions, 0o755);
    std::fs::set_permissions(&wrapper, permissions).expect("set");
    let path = format!("{}:{}", bin.display(), std::env::var("PATH").unwrap_or_default());
    let output =
        Command::new(program).args(arguments).current_dir(folder).env("PATH", path).stdin(Stdio::null()).output();
    output.unwrap_or_else(|error| panic!("{program} does not start: {error}; tests/run installs it"))
}

fn good(output: &Output) -> String {
    let (out, err) = (String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    assert!(output.status.success(), "{out}{err}");
    out.into_owned()
}

#[test]
fn the_recipe_for_parallel_gives_the_bytes_of_the_whole_and_goes_on_after_a_loss() {
    let (_base, folder) = folder();
    let recipe = recipe("| parallel");
    let told = good(&with_program(&folder, "bash", &["-euc", &recipe]));
    let whole = whole(&folder);
    assert!(told.ends_with(&whole[0]), "{told}");
    let pieces = pieces_in(&folder);
    assert_eq!(pieces.len(), 8);
    assert_eq!(merged(&folder, &pieces), whole);
    // Two are lost; the same recipe searches these alone.
    let changed = |name: &str| std::fs::metadata(folder.join(name)).and_then(|file| file.modified()).expect("a time");
    for lost in ["brickfield-3.piece", "brickfield-7.piece"] {
        std::fs::remove_file(folder.join(lost)).expect("there");
    }
    let kept = changed("brickfield-1.piece");
    let told = good(&with_program(&folder, "bash", &["-euc", &recipe]));
    assert_eq!(told.matches("is already in").count(), 6, "{told}");
    assert_eq!(told.matches("is written to").count(), 2, "{told}");
    assert_eq!(changed("brickfield-1.piece"), kept);
    assert!(told.ends_with(&whole[0]));
}

#[test]
fn the_recipe_for_a_job_array_gives_the_bytes_of_the_whole() {
    let (_base, folder) = folder();
    std::fs::write(folder.join("search.sh"), recipe("#SBATCH")).expect("written");
    let cluster = tempfile::tempdir().expect("a folder");
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cluster");
    let (script, at) = (script.display().to_string(), cluster.path().display().to_string());
    let submit = ["sbatch", "--wait", "search.sh"];
    let start = Instant::now();
    good(&with_program(&folder, &script, &[&[at.as_str()], &submit[..]].concat()));
    let pieces = pieces_in(&folder);
    assert_eq!(pieces.len(), 8, "{:?} after {:?}", listing(&folder), start.elapsed());
    assert_eq!(merged(&folder, &pieces), whole(&folder));
    // A piece is lost; its task alone is submitted again.
    std::fs::remove_file(folder.join("brickfield-5.piece")).expect("there");
    let pieces_left = pieces_in(&folder);
    let left: Vec<&str> = pieces_left.iter().map(String::as_str).collect();
    run(&folder, &[&["search", "--merge"], &left[..]].concat()).refused(2, "piece 5 of 8 is missing");
    let again = ["sbatch", "--wait", "--array=5", "search.sh"];
    good(&with_program(&folder, &script, &[&[at.as_str()], &again[..]].concat()));
    assert_eq!(merged(&folder, &pieces), whole(&folder));
}
