//! What does the user ask on the command line, and what is printed?
//!
//! Raw arguments become checked requests before anything touches the world; one file per command. Exit codes: 0 done,
//! 1 no answer (nothing can be measured there), 2 bad input.

mod bring;
mod card;
mod check;
mod compare;
mod deliver;
mod draw;
mod kit;
mod measure;
mod pages;
mod places;
mod repeat;
mod request;
mod search;
mod sequence;
mod sheet;
mod show;
mod still;
mod tour;
#[cfg(feature = "viewer")]
mod view;
mod ways;

use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Parser, Subcommand};

use crate::stance::StanceError;
use crate::text::without_direction_marks;

/// Decide at the desk where to stand, so that a picture of something tall comes out straight.
///
/// Without a command it opens a window on a demo site; where there is no display, the three demo sites are measured and
/// pictured into ./plumbsight-tour.
#[derive(Debug, Parser)]
#[command(
    version,
    about,
    max_term_width = 110,
    after_help = "The program advises on geometry only. Heights, edges, water, traffic, the sun and drones can hurt: keep to local rules and to people licensed for the work."
)]
struct Arguments {
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Read a site file and tell everything that is wrong with it.
    Check(check::CheckArguments),
    /// Measure a stance, or compare all saved ones.
    Measure(measure::MeasureArguments),
    /// Say what would straighten the picture from a stance, and at what cost.
    Ways(ways::WaysArguments),
    /// Hold saved stances against one another, figure by figure.
    Compare(compare::CompareArguments),
    /// Take the exact picture from a stance, with its record beside it.
    Still(still::StillArguments),
    /// Write the page that is carried to the site: where to stand, how exactly, what to mind.
    Card(card::CardArguments),
    /// Write the sheet that a client is shown: the places as pictures, side by side.
    Sheet(sheet::SheetArguments),
    /// Draw the plan, the section or the plumb gauge of a stance.
    Draw(draw::DrawArguments),
    /// Take up a recorded stance again: the same figures, and the same picture byte for byte.
    Repeat(repeat::RepeatArguments),
    /// Picture the way from one stance to another, frame by frame.
    Sequence(sequence::SequenceArguments),
    /// Write stances, subject and grounds for a receiver, a globe or a map.
    Places(places::PlacesArguments),
    /// Look at every place one may stand, and say which are best and what others would cost.
    Search(search::SearchArguments),
    /// Build a site, or add to one, from footprints and terrain.
    Bring(bring::BringArguments),
    /// List formats and lenses, with angles of view and depth of field.
    Kit(kit::KitArguments),
    /// Walk the site in a window, or draw one frame of its finder.
    #[cfg(feature = "viewer")]
    View(view::ViewArguments),
    /// Measure and picture the demo sites into a folder.
    Tour(tour::TourArguments),
    /// Print the manual page, completions for a shell, or the schema of the record.
    Pages(pages::PagesArguments),
}

/// Why a command ended without its result.
#[derive(Debug)]
enum Ending {
    /// Nothing can be measured there, or nothing fits: code 1.
    NoAnswer(String),
    /// The input is wrong: code 2.
    BadInput(String),
    /// Whoever read the output has gone.
    Unread,
}

impl Ending {
    /// The same, with what it is about.
    fn of(self, item: &str) -> Self {
        match self {
            Self::NoAnswer(why) => Self::NoAnswer(format!("{item}: {why}")),
            Self::BadInput(why) => Self::BadInput(format!("{item}: {why}")),
            Self::Unread => Self::Unread,
        }
    }

    fn bad(error: impl std::fmt::Display) -> Self {
        Self::BadInput(error.to_string())
    }
}

impl From<std::io::Error> for Ending {
    fn from(error: std::io::Error) -> Self {
        if error.kind() == std::io::ErrorKind::BrokenPipe { Self::Unread } else { Self::bad(error) }
    }
}

impl From<StanceError> for Ending {
    fn from(error: StanceError) -> Self {
        match &error {
            StanceError::Kit(_) | StanceError::Footing(_) | StanceError::Setting { .. } => Self::bad(&error),
            StanceError::Aim(_)
            | StanceError::InsideBlock { .. }
            | StanceError::UnderGround { .. }
            | StanceError::UnderWater { .. } => Self::NoAnswer(error.to_string()),
        }
    }
}

type Outcome = Result<(), Ending>;

/// Nothing was asked for: the walk on the first demo site where a window can be opened, else the tour.
fn unasked() -> Outcome {
    #[cfg(feature = "viewer")]
    {
        view::start_quietly();
        if crate::viewer::can_open() {
            return view::walk_demo();
        }
    }
    tour::run(&tour::TourArguments { folder: PathBuf::from("plumbsight-tour"), replace: false })
}

/// Runs the program on the process's own arguments.
pub fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let outcome = match arguments.command {
        Some(Command::Check(arguments)) => check::run(&arguments),
        Some(Command::Measure(arguments)) => measure::run(&arguments),
        Some(Command::Ways(arguments)) => ways::run(&arguments),
        Some(Command::Compare(arguments)) => compare::run(&arguments),
        Some(Command::Still(arguments)) => still::run(&arguments),
        Some(Command::Card(arguments)) => card::run(&arguments),
        Some(Command::Sheet(arguments)) => sheet::run(&arguments),
        Some(Command::Draw(arguments)) => draw::run(&arguments),
        Some(Command::Repeat(arguments)) => repeat::run(&arguments),
        Some(Command::Sequence(arguments)) => sequence::run(&arguments),
        Some(Command::Places(arguments)) => places::run(&arguments),
        Some(Command::Search(arguments)) => search::run(&arguments),
        Some(Command::Bring(arguments)) => bring::run(&arguments),
        Some(Command::Kit(arguments)) => kit::run(&arguments),
        #[cfg(feature = "viewer")]
        Some(Command::View(arguments)) => view::run(&arguments),
        Some(Command::Tour(arguments)) => tour::run(&arguments),
        Some(Command::Pages(arguments)) => pages::run(&arguments),
        None => unasked(),
    };
    let (code, text) = match outcome {
        Ok(()) | Err(Ending::Unread) => return ExitCode::SUCCESS,
        Err(Ending::NoAnswer(text)) => (1, text),
        Err(Ending::BadInput(text)) => (2, text),
    };
    // Nobody is left to tell where even this cannot be written.
    let _ = writeln!(anstream::stderr(), "{}", without_direction_marks(text.trim_end()));
    ExitCode::from(code)
}
