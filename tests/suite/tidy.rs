//! Does the house keep its own rules?
//!
//! Each test reads the files that git knows, or the metadata that cargo gives, and tells every breach with its place.

use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::process::Command;

use crate::support;
use crate::support::imports::Imports;

/// The files outside the viewer that open its window.
const OPEN_THE_WINDOW: [&str; 2] = ["src/cli/view.rs", "src/main.rs"];

/// The modules that read or write files.
const TOUCH_FILES: [&str; 8] = ["files", "site", "bring", "plan", "record", "handover", "cli", "viewer"];

/// The modules that may ask for the time, the environment and the like; the rest is pure.
const TOUCH_THE_WORLD: [&str; 2] = ["cli", "viewer"];

/// The modules that may narrow numbers to `f32`, and in how many files: geometry in one file of
/// each, and there for a library that counts so (in `sight` its tests make such numbers besides); pictures anywhere.
const NARROW: [(&str, usize); 6] =
    [("sight", 2), ("viewer", 1), ("place", 1), ("handover", 1), ("drawing", usize::MAX), ("still", usize::MAX)];

/// Licences under which a dependency may come. All of them let the program be given away in source and as a binary
/// with no more than their notices.
const LICENCES: [&str; 12] = [
    "MIT",
    "MIT-0",
    "Apache-2.0",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "ISC",
    "Zlib",
    "Unicode-3.0",
    "CC0-1.0",
    "0BSD",
    "BSL-1.0",
    // Asks for the words that stand under "Licence" in README.md.
    "IJG",
];

/// A file that git keeps, or would keep if it were added.
struct Kept {
    /// From the project's folder, with forward slashes.
    name: String,
    text: String,
}

impl Kept {
    /// The module of the program that it belongs to; `None` outside `src`, and for the crate's roots.
    fn module(&self) -> Option<&str> {
        let inside = self.name.strip_prefix("src/")?;
        let module = inside.split('/').next().unwrap_or(inside);
        let module = module.strip_suffix(".rs").unwrap_or(module);
        (!["lib", "main"].contains(&module)).then_some(module)
    }

    /// Its lines without comments, numbered from 1.
    fn code(&self) -> impl Iterator<Item = (usize, &str)> {
        self.text.lines().enumerate().map(|(index, line)| (index + 1, without_comment(line)))
    }

    /// Every place in the code that holds one of these words.
    fn breaches(&self, words: &[&str]) -> Vec<String> {
        self.code()
            .filter(|(_, line)| words.iter().any(|word| line.contains(word)))
            .map(|(number, line)| format!("{}:{number}: {}", self.name, line.trim()))
            .collect()
    }
}

/// Every text file of the project; pictures and the like have no text to look at.
fn kept_files() -> Vec<Kept> {
    let listed = Command::new("git")
        .args(["ls-files", "-z", "--cached", "--others", "--exclude-standard"])
        .current_dir(support::project())
        .output()
        .expect("git lists the project's files; tests/run installs it");
    assert!(listed.status.success(), "git: {}", String::from_utf8_lossy(&listed.stderr));
    let names = String::from_utf8(listed.stdout).expect("names in UTF-8");
    let kept: Vec<Kept> = names
        .split_terminator('\0')
        .map(|name| (name, support::project().join(name)))
        // A file may be listed and removed from the folder, not yet from git.
        .filter(|(_, path)| path.is_file())
        .filter_map(|(name, path)| {
            let bytes = std::fs::read(path).expect("a file of the project");
            String::from_utf8(bytes).ok().map(|text| Kept { name: name.into(), text })
        })
        .collect();
    assert!(kept.iter().any(|file| file.name == "src/lib.rs"), "git lists something else than the project");
    kept
}

fn rust_files() -> Vec<Kept> {
    let mut kept = kept_files();
    kept.retain(|file| file.name.ends_with(".rs"));
    kept
}

/// A line of Rust up to its comment; slashes inside a string are none.
fn without_comment(line: &str) -> &str {
    line.match_indices("//")
        .map(|(at, _)| &line[..at])
        .find(|before| before.matches('"').count() % 2 == 0)
        .unwrap_or(line)
}

fn assert_none(rule: &str, breaches: &[String]) {
    assert!(breaches.is_empty(), "{rule}:\n{}", breaches.join("\n"));
}

/// Which file of the program uses which; the program's own start, `src/main.rs`, is used by none.
fn program_imports() -> Imports {
    let files: Vec<(String, String)> = rust_files()
        .into_iter()
        .filter_map(|file| Some((file.name.strip_prefix("src/")?.to_owned(), file.text)))
        .filter(|(name, _)| name != "main.rs")
        .collect();
    Imports::read(&files).unwrap_or_else(|error| panic!("{error}"))
}

/// The modules of the program, in the order of `src/lib.rs`: each may use only those above it.
fn order_of_modules() -> Vec<String> {
    let path = support::project().join("src/lib.rs");
    let text = std::fs::read_to_string(path).expect("the program's root");
    let named = text.lines().filter_map(|line| line.strip_prefix("pub mod ")?.strip_suffix(';'));
    let order: Vec<String> = named.map(str::to_owned).collect();
    assert!(order.len() > 20, "src/lib.rs names {} modules only", order.len());
    order
}

#[test]
fn a_module_uses_only_modules_above_it() {
    let imports = program_imports();
    assert!(imports.arrows().count() > 500, "the files of the program hardly use one another");
    let breaches = imports.upward(&order_of_modules());
    assert_none("a module uses only modules above it in src/lib.rs", &breaches);
}

#[test]
fn no_file_uses_itself_by_way_of_others() {
    assert_none("files use one another in circles", &program_imports().circles());
}

#[test]
fn a_line_of_code_is_told_from_its_comment() {
    assert_eq!(without_comment(r#"let x = "https://a"; // crate::viewer"#), r#"let x = "https://a"; "#);
}

#[test]
fn the_window_stays_in_the_viewer() {
    let breaches: Vec<String> = rust_files()
        .iter()
        .filter(|file| file.name.starts_with("src/") && file.module() != Some("viewer"))
        .filter(|file| !OPEN_THE_WINDOW.contains(&file.name.as_str()))
        .flat_map(|file| file.breaches(&["bevy", "egui"]))
        .collect();
    assert_none("only src/viewer may name the crates of the window", &breaches);
}

#[test]
fn the_core_is_pure() {
    let outside = |file: &&Kept, allowed: &[&str]| file.module().is_some_and(|module| !allowed.contains(&module));
    let files = rust_files();
    let world = ["std::env", "SystemTime", "Instant::now", "static mut", "thread_local!"];
    let breaches: Vec<String> =
        files.iter().filter(|file| outside(file, &TOUCH_THE_WORLD)).flat_map(|file| file.breaches(&world)).collect();
    assert_none("no clock, environment or globals in the core", &breaches);
    let reading = ["std::fs", "File::open", "File::create", "read_text(", "read_bytes(", "write_whole("];
    let breaches: Vec<String> =
        files.iter().filter(|file| outside(file, &TOUCH_FILES)).flat_map(|file| file.breaches(&reading)).collect();
    assert_none("only some modules read or write files", &breaches);
}

#[test]
fn geometry_is_narrowed_in_one_place() {
    let files = rust_files();
    let narrowing: Vec<&Kept> =
        files.iter().filter(|file| file.module().is_some() && !file.breaches(&["as f32"]).is_empty()).collect();
    for file in &narrowing {
        let module = file.module().expect("filtered");
        let allowed = NARROW.iter().find(|(name, _)| *name == module).map_or(0, |(_, count)| *count);
        let count = narrowing.iter().filter(|other| other.module() == Some(module)).count();
        assert!(count <= allowed, "{}: {module} may narrow to f32 in {allowed} files and does in {count}", file.name);
    }
}

#[test]
fn every_file_says_what_it_answers() {
    let breaches: Vec<String> = rust_files()
        .iter()
        .filter(|file| !file.text.starts_with("//! "))
        .map(|file| format!("{}: does not open with //!", file.name))
        .collect();
    assert_none("a file opens with the question it answers", &breaches);
}

#[test]
fn no_test_is_skipped() {
    // In two parts, so that this file does not hold it.
    let skipped = concat!("#[", "ignore");
    let breaches: Vec<String> = rust_files().iter().flat_map(|file| file.breaches(&[skipped])).collect();
    assert_none("every test is run", &breaches);
}

/// The folders that no file may name, each with a slash at its end: where this checkout lies, the home of whoever runs this,
/// and where temporary files lie.
fn folders_of_this_machine() -> Vec<String> {
    let checkout = support::project();
    let home = std::env::var_os("HOME").map(PathBuf::from);
    let temporary = std::env::temp_dir();
    [Some(checkout), checkout.parent(), home.as_deref(), Some(temporary.as_path())]
        .into_iter()
        .flatten()
        .filter(|folder| folder.parent().is_some())
        .map(|folder| format!("{}/", folder.display()))
        .collect()
}

/// Whether a line names a folder from the root; behind another name it is a folder inside that one.
fn names_folder(line: &str, folder: &str) -> bool {
    let inside = |c: char| c.is_alphanumeric() || "._-}*".contains(c);
    line.match_indices(folder).any(|(at, _)| !line[..at].ends_with(inside))
}

#[test]
fn no_file_names_a_folder_of_this_machine() {
    let folders = folders_of_this_machine();
    let mut breaches = Vec::new();
    for file in kept_files() {
        for (index, line) in file.text.lines().enumerate() {
            if folders.iter().any(|folder| names_folder(line, folder)) {
                breaches.push(format!("{}:{}: {}", file.name, index + 1, line.trim()));
            }
        }
    }
    assert_none("no folder of a developer's machine", &breaches);
}

#[test]
fn a_folder_from_the_root_is_told_from_a_relative_one() {
    assert!(names_folder("see /yard/x", "/yard/"));
    assert!(names_folder("(/yard/site.ron)", "/yard/"));
    assert!(!names_folder("../shared/yard/x and a.home/yard/x", "/yard/"));
}

#[test]
fn the_program_carries_its_own_licences() {
    for (licence, words) in [("MIT", "The Plumbsight authors"), ("Apache-2.0", "Version 2.0, January 2004")] {
        let path = support::project().join(format!("assets/licences/{licence}.txt"));
        let text = std::fs::read_to_string(&path).expect("the text of the licence");
        assert!(text.contains(words), "{} lacks '{words}'", path.display());
        assert!(env!("CARGO_PKG_LICENSE").contains(licence), "Cargo.toml does not name {licence}");
    }
}

/// What cargo tells of a package.
#[derive(serde::Deserialize)]
struct Package {
    name: String,
    version: String,
    license: Option<String>,
}

#[derive(serde::Deserialize)]
struct Metadata {
    packages: Vec<Package>,
}

/// Whether one may take a package whose licence reads so, choosing where there is a choice.
fn may_be_taken(licence: &str) -> Result<(), String> {
    // Lax: old packages write a slash where an OR is meant.
    let expression = spdx::Expression::parse_mode(licence, spdx::ParseMode::LAX).map_err(|error| error.to_string())?;
    expression
        .evaluate_with_failures(|requirement| {
            requirement.license.id().is_some_and(|id| LICENCES.contains(&id.name)) && requirement.addition.is_none()
        })
        .map_err(|failures| failures.iter().map(|failure| failure.req.to_string()).collect::<Vec<_>>().join(", "))
}

#[test]
fn every_dependency_may_be_given_away() {
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| OsString::from("cargo"));
    let output = Command::new(cargo)
        // What is built here; another platform's packages need not have been downloaded.
        .args(["metadata", "--format-version", "1", "--locked", "--all-features", "--filter-platform", "host-tuple"])
        .current_dir(support::project())
        .output()
        .expect("cargo runs");
    assert!(output.status.success(), "cargo metadata: {}", String::from_utf8_lossy(&output.stderr));
    let metadata: Metadata = serde_json::from_slice(&output.stdout).expect("cargo's metadata");
    assert!(metadata.packages.len() > 50, "cargo tells of {} packages only", metadata.packages.len());
    let breaches: Vec<String> = metadata
        .packages
        .iter()
        .filter_map(|Package { name, version, license }| {
            let licence = license.as_deref().unwrap_or("(none stated)");
            may_be_taken(licence).err().map(|why| format!("{name} {version}: {licence}: {why}"))
        })
        .collect();
    assert_none("a dependency's licence is none of LICENCES", &breaches);
}

#[test]
fn licences_are_chosen_where_there_is_a_choice() {
    assert!(may_be_taken("GPL-3.0-only OR MIT").is_ok());
    assert!(may_be_taken("MIT/Apache-2.0").is_ok());
    assert!(may_be_taken("MIT AND GPL-3.0-only").is_err());
    assert!(may_be_taken("Apache-2.0 WITH LLVM-exception").is_err());
    assert!(may_be_taken("(none stated)").is_err());
}

#[test]
fn scripts_can_be_run() {
    use std::os::unix::fs::PermissionsExt;
    for script in ["tests/run", "tests/oracles/environment", "benches/run", ".ci/run"] {
        let path: PathBuf = Path::new(support::project()).join(script);
        let mode = std::fs::metadata(&path).unwrap_or_else(|error| panic!("{script}: {error}")).permissions().mode();
        assert!(mode & 0o111 != 0, "{script} is not executable");
    }
}
