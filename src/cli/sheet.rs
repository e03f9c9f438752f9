//! `plumbsight sheet`: what does whoever pays get to see?

use std::path::PathBuf;

use clap::Args;

use crate::handover::{
    Brand, ClientSheet, MOST_STANCES, NewFolder, PAGE_NAME, PAPER_NAME, SheetError, check_folder, is_of_a_sheet,
};
use crate::optics::Proportion;
use crate::place::Day;
use crate::site::Stance;
use crate::units::Units;

use super::card::day_or_today;
use super::measure::MeasureOptions;
use super::request::{saved, survey};
use super::show::{tell, watched};
use super::{Ending, Outcome};

/// What to show.
#[derive(Args, Debug)]
pub(super) struct SheetArguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// A saved stance to show; may be repeated. All stances unless given
    #[arg(long, value_name = "NAME")]
    stance: Vec<String>,
    /// Crop the pictures to this aspect, width:height
    #[arg(long, value_name = "W:H")]
    aspect: Option<Proportion>,
    #[command(flatten)]
    measures: MeasureOptions,
    /// A file with your name and logo; its fields: name, contact, title, client, text, closing, mark
    #[arg(long, value_name = "FILE")]
    brand: Option<PathBuf>,
    /// The folder for the sheet: sheet.html and sheet.pdf
    #[arg(long, short, value_name = "FOLDER", default_value = "sheet")]
    out: PathBuf,
    /// The sheet's date, such as 2026-06-21; today unless given
    #[arg(long, value_name = "DAY")]
    day: Option<Day>,
    /// The unit of lengths on the sheet
    #[arg(long, value_enum, default_value_t)]
    units: Units,
    /// Overwrite an earlier sheet
    #[arg(long)]
    replace: bool,
}

pub(super) fn run(arguments: &SheetArguments) -> Outcome {
    check_folder(&arguments.out, is_of_a_sheet, arguments.replace).map_err(Ending::bad)?;
    let day = day_or_today(arguments.day)?;
    let criteria = arguments.measures.settings()?;
    let brand = match &arguments.brand {
        Some(path) => Brand::read(path).map_err(Ending::bad)?,
        None => Brand::default(),
    };
    let survey = survey(&arguments.site)?;
    let mut wanted: Vec<Stance> = if arguments.stance.is_empty() {
        survey.model.site.stances.iter().take(MOST_STANCES).cloned().collect()
    } else {
        arguments.stance.iter().map(|name| saved(&survey, name)).collect::<Result<_, _>>()?
    };
    wanted.iter_mut().for_each(|stance| stance.crop = arguments.aspect.or(stance.crop));
    let mut stances = Vec::with_capacity(wanted.len());
    for stance in wanted {
        let measured = survey.measure(&stance, &criteria).map_err(|error| Ending::from(error).of(&stance.name))?;
        stances.push((stance, measured));
    }
    let count = stances.len();
    let sheet = watched(|progress| ClientSheet::of(&survey, &stances, brand, (day, arguments.units), progress))
        .map_err(ending)?;
    let (page, paper) = (sheet.html().map_err(ending)?, on_paper(&sheet)?);
    let folder = NewFolder::beside(&arguments.out, is_of_a_sheet, arguments.replace).map_err(Ending::bad)?;
    folder.write(PAGE_NAME, page.as_bytes()).map_err(Ending::bad)?;
    if let Some(paper) = &paper {
        folder.write(PAPER_NAME, paper).map_err(Ending::bad)?;
    }
    folder.put().map_err(Ending::bad)?;
    let places = if count == 1 { "one stance".to_owned() } else { format!("{count} stances") };
    tell(&format!(
        "{} is written: {PAGE_NAME} ({:.1} MB) {}, with {places}.",
        arguments.out.display(),
        page.len() as f64 / 1e6,
        if paper.is_some() {
            "and sheet.pdf"
        } else {
            "without sheet.pdf, because this program was built without PDF (feature 'paper')"
        }
    ))
}

#[cfg(feature = "paper")]
fn on_paper(sheet: &ClientSheet) -> Result<Option<Vec<u8>>, Ending> {
    sheet.pdf().map(Some).map_err(Ending::bad)
}

#[cfg(not(feature = "paper"))]
fn on_paper(_: &ClientSheet) -> Result<Option<Vec<u8>>, Ending> {
    Ok(None)
}

fn ending(error: SheetError) -> Ending {
    match error {
        SheetError::NoStance => Ending::NoAnswer(error.to_string()),
        _ => Ending::bad(error),
    }
}
