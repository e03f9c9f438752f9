//! What does the user ask on the command line, and what is printed?
//!
//! Raw arguments become checked requests before anything touches the world; one file per command. Exit codes: 0 done,
//! 1 no answer (nothing can be measured there), 2 wrong input.

mod bring;
mod card;
mod check;
mod compare;
mod day;
mod deliver;
mod draw;
mod ending;
mod film;
mod frames;
mod height;
mod kit;
mod light;
mod measure;
mod new;
mod pages;
mod places;
mod repeat;
mod request;
mod search;
mod sequence;
mod sheet;
mod show;
mod still;
mod table;
mod tour;
#[cfg(feature = "viewer")]
mod view;
mod ways;

use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::{CommandFactory, Parser, Subcommand};

use crate::text::without_direction_marks;

use self::ending::{Ending, Outcome};

/// Decide at the desk where to stand, so that a picture of something tall comes out straight.
///
/// Without a command the program opens its window, on the site that was open last or else on a demo site. Where there is no
/// display, it measures and renders the three demo sites into ./plumbsight-tour.
#[derive(Debug, Parser)]
#[command(version, about, max_term_width = 110, after_help = CONVERGENCE)]
struct Arguments {
    #[command(subcommand)]
    command: Option<Command>,
}

const CONVERGENCE: &str = "\
Tables are as wide as the terminal; in a file or pipe they are as wide as COLUMNS says, or each row is one line.

Exit codes: 0 done, 1 no answer (nothing fits, or nothing can be measured there), 2 wrong input.

The program advises on geometry only. Heights, edges, water, traffic, the sun and drones are dangerous: keep to local \
rules and to people licensed for the work.";

#[derive(Debug, Subcommand)]
enum Command {
    /// Check a site file and report all errors in it.
    Check(check::CheckArguments),
    /// Measure one stance, or all saved stances side by side.
    Measure(measure::MeasureArguments),
    /// List the ways to straighten the picture from a stance, and what each of them takes.
    Ways(ways::WaysArguments),
    /// Compare saved stances, figure by figure.
    Compare(compare::CompareArguments),
    /// Render the exact picture from a stance, with its record beside it.
    Still(still::StillArguments),
    /// Write a field card: where to stand, how exactly, and what to watch out for.
    Card(card::CardArguments),
    /// Write a sheet for a client: the stances as pictures, side by side.
    Sheet(sheet::SheetArguments),
    /// Draw the plan, the section or the plumb gauge of a stance.
    Draw(draw::DrawArguments),
    /// Measure a recorded stance again, compare it with its record, and render its picture again.
    Repeat(repeat::RepeatArguments),
    /// Render the move from one stance to another, frame by frame.
    Sequence(sequence::SequenceArguments),
    /// Render a moving picture: through saved stances, or rising at one.
    Film(film::FilmArguments),
    /// Write stances, subject and grounds for maps and GPS.
    Places(places::PlacesArguments),
    /// Search all standpoints: which are best, and what does each requirement exclude?
    Search(search::SearchArguments),
    /// Show where the sun stands, what it lights and when: at a moment, on a day, through a year, from a stance.
    Light(light::LightArguments),
    /// Put the stances of a day in the order that walks least and has each of them in its light.
    Day(day::DayArguments),
    /// Create a site from a few answers: what stands there, how high, how wide, who may stand where.
    New(new::NewArguments),
    /// Find a height that nobody knows, with its uncertainty, from storeys, sightings, shadows or a picture.
    Height(height::HeightArguments),
    /// Create a site from footprints and terrain, or add them to one.
    Bring(bring::BringArguments),
    /// List formats and lenses, with angles of view and hyperfocal distances.
    Kit(kit::KitArguments),
    /// Open a site in the window, or draw the window into a file.
    #[cfg(feature = "viewer")]
    View(view::ViewArguments),
    /// Measure and render the demo sites into a folder.
    Tour(tour::TourArguments),
    /// Print manual pages, shell completions, or the schema of records.
    Pages(pages::PagesArguments),
}

/// Without a command: the window where there is a display, else the tour.
fn no_command() -> Outcome {
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
        Some(Command::Film(arguments)) => film::run(&arguments),
        Some(Command::Places(arguments)) => places::run(&arguments),
        Some(Command::Search(arguments)) => search::run(&arguments),
        Some(Command::Light(arguments)) => light::run(&arguments),
        Some(Command::Day(arguments)) => day::run(&arguments),
        Some(Command::New(arguments)) => new::run(&arguments),
        Some(Command::Height(arguments)) => height::run(&arguments),
        Some(Command::Bring(arguments)) => bring::run(&arguments),
        Some(Command::Kit(arguments)) => kit::run(&arguments),
        #[cfg(feature = "viewer")]
        Some(Command::View(arguments)) => view::run(&arguments),
        Some(Command::Tour(arguments)) => tour::run(&arguments),
        Some(Command::Pages(arguments)) => pages::run(&arguments, Arguments::command()),
        None => no_command(),
    };
    let (code, text) = match outcome {
        Ok(()) | Err(Ending::Unread) => return ExitCode::SUCCESS,
        Err(Ending::NoAnswer(text)) => (1, text),
        Err(Ending::BadInput(text)) => (2, text),
    };
    // Where even this cannot be written, nobody reads it.
    let _ = writeln!(anstream::stderr(), "{}", without_direction_marks(text.trim_end()));
    ExitCode::from(code)
}
