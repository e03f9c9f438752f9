//! What the tests share: the project's folders, open data, sites made ready, the program itself, a seeded generator of
//! numbers, and Python.

pub(crate) mod imports;
pub(crate) mod program;
pub(crate) mod python;
pub(crate) mod random;
pub(crate) mod surveyed;

use std::io::Write;
use std::path::{Path, PathBuf};

/// The folder of the checkout.
pub(crate) fn project() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The folder of open data that is read in place: `PLUMBSIGHT_DATA`, else `../shared/data` beside the checkout.
///
/// # Panics
/// There is no such folder: a check that cannot be made fails. Whoever has no data leaves these checks out by name.
pub(crate) fn open_data() -> PathBuf {
    let folder = std::env::var_os("PLUMBSIGHT_DATA").map_or_else(|| project().join("../shared/data"), PathBuf::from);
    assert!(
        folder.is_dir(),
        "there is no open data in {}: set PLUMBSIGHT_DATA to its folder, or leave out the tests that need it by \
         PLUMBSIGHT_WITHOUT_DATA=1 tests/run",
        folder.display()
    );
    folder
}

/// Writes a line that is seen even when the test passes.
pub(crate) fn tell(line: &str) {
    // Not by println!, which the test runner keeps to itself unless the test fails.
    writeln!(std::io::stderr().lock(), "{line}").expect("standard error is open");
}

/// The names of what lies in a folder, sorted.
pub(crate) fn listing(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .expect("a folder")
        .map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}
