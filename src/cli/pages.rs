//! `plumbsight pages`: the manual, completions, the record's schema and the words of pages, for those who install the program.

use clap::{Args, Subcommand};
use clap_complete::Shell;

use crate::handover::PageWords;
use crate::record::Record;

use super::show::print;
use super::{Ending, Outcome};

/// What to print.
#[derive(Args, Debug)]
pub(super) struct PagesArguments {
    #[command(subcommand)]
    page: Page,
}

#[derive(Debug, Subcommand)]
enum Page {
    /// The manual page of the program, or of one of its commands, in roff
    Manual {
        /// Which command; the program as a whole unless given
        command: Option<String>,
    },
    /// The names of all commands, one a line
    Commands,
    /// Completions for a shell
    Completions {
        /// Which shell
        shell: Shell,
    },
    /// The JSON Schema of records
    Schema,
    /// The words of sheets and cards in English, to begin another language from
    Words,
}

/// Prints a page; `command` is the whole program's.
pub(super) fn run(arguments: &PagesArguments, mut command: clap::Command) -> Outcome {
    let mut page = Vec::new();
    match &arguments.page {
        Page::Manual { command: None } => clap_mangen::Man::new(command).render(&mut page)?,
        Page::Manual { command: Some(name) } => {
            // Built, each command knows the name by which it is called.
            command.build();
            let known: Vec<&str> = command.get_subcommands().map(clap::Command::get_name).collect();
            let unknown = || Ending::BadInput(format!("no command is called '{name}'; there are {}", known.join(", ")));
            let found = command.find_subcommand(name).ok_or_else(unknown)?.clone();
            let title = format!("plumbsight-{name}");
            let source = concat!("plumbsight ", env!("CARGO_PKG_VERSION"));
            clap_mangen::Man::new(found.display_name(&title)).source(source).render(&mut page)?;
        }
        Page::Commands => {
            let names: Vec<&str> = command.get_subcommands().map(clap::Command::get_name).collect();
            return print(&names.join("\n"));
        }
        Page::Completions { shell } => clap_complete::generate(*shell, &mut command, "plumbsight", &mut page),
        Page::Schema => return print(&Record::json_schema()),
        Page::Words => return print(PageWords::english_file().trim_end()),
    }
    print(&String::from_utf8(page).map_err(Ending::bad)?)
}
