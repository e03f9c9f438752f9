//! Python, where the oracles run.

use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

use serde::Serialize;
use serde::de::DeserializeOwned;

/// The interpreter that has the oracles, and one of their scripts to run in it.
///
/// # Panics
/// There is no Python with the oracles.
pub(crate) fn script(script: &str) -> Command {
    let python = std::env::var_os("PLUMBSIGHT_PYTHON").expect(
        "this test needs Python libraries: run it by tests/run (or benches/run), which installs them and sets \
         PLUMBSIGHT_PYTHON; or set that to the interpreter that tests/oracles/environment prints",
    );
    let mut command = Command::new(python);
    command.arg(Path::new(env!("CARGO_MANIFEST_DIR")).join(script));
    command
}

/// What a script of `tests/oracles` or `benches` answers: JSON goes to its standard input, JSON comes from its standard
/// output.
///
/// # Panics
/// There is no Python with the oracles, or the script fails: a check that could not be made is a check that fails.
pub(crate) fn ask<Q: Serialize, A: DeserializeOwned>(script: &str, question: &Q) -> A {
    let question = serde_json::to_vec(question).expect("a question in JSON");
    let mut child = self::script(script)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap_or_else(|error| panic!("PLUMBSIGHT_PYTHON does not run: {error}; run tests/run"));
    // The scripts read everything before they write anything, so neither side waits for the other.
    let sent = child.stdin.take().expect("a pipe").write_all(&question);
    let output = child.wait_with_output().expect("the script ends");
    assert!(output.status.success(), "{script} failed ({}); what it said stands above", output.status);
    sent.expect("the script reads its question");
    serde_json::from_slice(&output.stdout).unwrap_or_else(|error| panic!("{script} answers no JSON: {error}"))
}
