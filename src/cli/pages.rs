//! `plumbsight pages`: what else does a machine want to know of the program?

use clap::{Args, CommandFactory, Subcommand};
use clap_complete::Shell;

use crate::record::Record;

use super::show::{print, print_data};
use super::{Arguments, Ending, Outcome};

/// What to print.
#[derive(Args, Debug)]
pub(super) struct PagesArguments {
    #[command(subcommand)]
    page: Page,
}

#[derive(Debug, Subcommand)]
enum Page {
    /// The manual page, in roff
    Manual,
    /// Completions for a shell
    Completions {
        /// Which shell
        shell: Shell,
    },
    /// The JSON Schema of the record
    Schema,
}

pub(super) fn run(arguments: &PagesArguments) -> Outcome {
    let mut command = Arguments::command();
    let mut page = Vec::new();
    match arguments.page {
        Page::Manual => clap_mangen::Man::new(command).render(&mut page)?,
        Page::Completions { shell } => clap_complete::generate(shell, &mut command, "plumbsight", &mut page),
        Page::Schema => return print_data(&Record::json_schema()),
    }
    print(&String::from_utf8(page).map_err(Ending::bad)?)
}
