//! The program: hands its arguments to the command line.

use std::process::ExitCode;

fn main() -> ExitCode {
    plumbsight::cli::main()
}
