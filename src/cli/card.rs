//! `plumbsight card`: what does a photographer carry to the site?

use std::path::PathBuf;
use std::time::UNIX_EPOCH;

use clap::Args;

use crate::files::{FileError, write_whole};
use crate::handover::{CardError, FieldCard};
use crate::place::Day;
use crate::survey::MeasureSettings;
use crate::units::Units;

use super::measure::MeasureOptions;
use super::request::{StanceArguments, survey};
use super::show::{tell, watched};
use super::{Ending, Outcome};

/// What to write down.
#[derive(Args, Debug)]
pub(super) struct CardArguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
    #[command(flatten)]
    stance: StanceArguments,
    #[command(flatten)]
    measures: MeasureOptions,
    /// The card's file: .html for a telephone, .pdf for paper
    #[arg(long, short, value_name = "FILE", default_value = "card.html")]
    out: PathBuf,
    /// The day of the visit, such as 2026-06-21, for the magnetic declination; today unless given
    #[arg(long, value_name = "DAY")]
    day: Option<Day>,
    /// The unit of lengths on the card
    #[arg(long, value_enum, default_value_t)]
    units: Units,
    /// Overwrite a file that already exists
    #[arg(long)]
    replace: bool,
}

pub(super) fn run(arguments: &CardArguments) -> Outcome {
    let extension = arguments.out.extension().map(|extension| extension.to_string_lossy().to_lowercase());
    let paper = match extension.as_deref() {
        Some("html") => false,
        Some("pdf") => true,
        _ => {
            return Err(Ending::BadInput(format!("{}: end the card's name in .html or .pdf", arguments.out.display())));
        }
    };
    if arguments.out.exists() && !arguments.replace {
        return Err(Ending::bad(FileError::AlreadyThere { path: arguments.out.clone() }));
    }
    let day = day_or_today(arguments.day)?;
    let settings: MeasureSettings = arguments.measures.settings()?;
    let survey = survey(&arguments.site)?;
    let stance = arguments.stance.stance(&survey)?;
    let measured = survey.measure(&stance, &settings)?;
    let card = watched(|progress| FieldCard::of(&survey, &stance, &measured, (day, arguments.units), progress))
        .map_err(ending)?;
    let content = if paper { on_paper(&card)? } else { card.html().map_err(ending)?.into_bytes() };
    write_whole(&arguments.out, &content).map_err(Ending::bad)?;
    let pairs = match card.alignments.len() {
        0 => "nothing lines up there".to_owned(),
        1 => "one pair of edges lines up there".to_owned(),
        count => format!("{count} pairs of edges line up there"),
    };
    tell(&format!("{} is written, for {day}; {pairs}.", arguments.out.display()))
}

#[cfg(feature = "paper")]
fn on_paper(card: &FieldCard) -> Result<Vec<u8>, Ending> {
    card.pdf().map_err(Ending::bad)
}

#[cfg(not(feature = "paper"))]
fn on_paper(_: &FieldCard) -> Result<Vec<u8>, Ending> {
    Err(Ending::BadInput("this program was built without PDF (feature 'paper'): end the card's name in .html".into()))
}

fn ending(error: CardError) -> Ending {
    Ending::bad(error)
}

/// The day that was asked for, else the computer's.
pub(super) fn day_or_today(day: Option<Day>) -> Result<Day, Ending> {
    day.or_else(|| Day::of_unix_time(UNIX_EPOCH.elapsed().ok()?))
        .ok_or_else(|| Ending::BadInput("the computer's clock gives no day; use --day".into()))
}
