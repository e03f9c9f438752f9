//! `plumbsight sheet`: what does the client see?

use std::path::PathBuf;

use clap::Args;

use crate::handover::deliver::{DeliveredContent, DeliveryKind, DeliveryRequest};
use crate::handover::{Brand, DocumentSettings, MOST_STANCES, PAGE_NAME};
use crate::optics::Proportion;
use crate::place::Day;
use crate::site::Stance;
use crate::units::Units;

use super::card::planned_day;
use super::deliver::{destination, handed_over};
use super::measure::MeasureOptions;
use super::request::{saved, survey};
use super::show::tell;
use super::still::Looks;
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
    /// A file with your name and logo; its fields: name, contact, title, client, text, closing, mark
    #[arg(long, value_name = "FILE")]
    brand: Option<PathBuf>,
    /// What the site is shown as in the pictures
    #[arg(long, value_enum, default_value_t)]
    look: Looks,
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
    #[command(flatten)]
    measures: MeasureOptions,
}

pub(super) fn run(arguments: &SheetArguments) -> Outcome {
    let destination = destination(&arguments.out, arguments.replace, DeliveryKind::Sheet)?;
    let brand = match &arguments.brand {
        Some(path) => Brand::read(path).map_err(Ending::bad)?,
        None => Brand::default(),
    };
    let survey = survey(&arguments.site)?;
    let settings = arguments.measures.settings_on(&survey)?;
    let day = planned_day(arguments.day, &survey, &settings)?;
    let mut stances: Vec<Stance> = if arguments.stance.is_empty() {
        survey.model.site.stances.iter().take(MOST_STANCES).cloned().collect()
    } else {
        arguments.stance.iter().map(|name| saved(&survey, name)).collect::<Result<_, _>>()?
    };
    stances.iter_mut().for_each(|stance| stance.crop = arguments.aspect.or(stance.crop));
    let count = stances.len();
    let document = DocumentSettings { day, units: arguments.units, look: arguments.look.into() };
    let request = DeliveryRequest::Sheet { stances, settings, brand, document };
    let delivered = handed_over(&survey, &request, &destination)?;
    let DeliveredContent::PageFolder { page_bytes, paper, .. } = delivered.content else { return Ok(()) };
    tell(&format!(
        "{} is written: {PAGE_NAME} ({:.1} MB) {}, with {}.",
        delivered.path.display(),
        page_bytes as f64 / 1e6,
        if paper.is_some() {
            "and sheet.pdf"
        } else {
            "without sheet.pdf, because this program was built without PDF (feature 'paper')"
        },
        if count == 1 { "one stance".to_owned() } else { format!("{count} stances") }
    ))
}
