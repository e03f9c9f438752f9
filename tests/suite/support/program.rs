//! The program itself, run as a person runs it.

use std::ffi::OsStr;
use std::path::Path;
use std::process::{Command, Stdio};

/// How a run ended and what it said.
pub(crate) struct Run {
    pub(crate) code: i32,
    pub(crate) out: String,
    pub(crate) err: String,
}

impl Run {
    /// The standard output of a run that must have succeeded.
    pub(crate) fn good(self) -> String {
        assert_eq!(self.code, 0, "{}", self.err);
        self.out
    }

    /// The standard output, read as JSON.
    pub(crate) fn json(self) -> serde_json::Value {
        serde_json::from_str(&self.good()).expect("JSON")
    }

    /// Holds a refused run to its exit code: nothing on the standard output, plain words on the other, no panic.
    pub(crate) fn refused(self, code: i32, words: &str) {
        assert_eq!(self.code, code, "{}{}", self.out, self.err);
        assert!(self.err.contains(words), "'{words}' is not in: {}", self.err);
        assert!(!self.err.contains("panicked"), "{}", self.err);
        assert_eq!(self.out, "");
    }
}

/// The program in a folder, ready to be given arguments, with nothing on its standard input.
pub(crate) fn command(folder: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_plumbsight"));
    command.current_dir(folder).stdin(Stdio::null()).env_remove("COLUMNS");
    command
}

/// Runs the program in a folder.
pub(crate) fn run<A: AsRef<OsStr>>(folder: &Path, arguments: &[A]) -> Run {
    let output = command(folder).args(arguments).output().expect("the program starts");
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("the program writes UTF-8");
    Run {
        code: output.status.code().expect("the program is not killed by a signal"),
        out: text(output.stdout),
        err: text(output.stderr),
    }
}
