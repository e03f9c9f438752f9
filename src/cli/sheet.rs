//! `plumbsight sheet`: what does the client see?

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use crate::handover::deliver::{DeliveredContent, DeliveryKind, DeliveryRequest};
use crate::handover::page::Paper;
use crate::handover::{Brand, MOST_STANCES, PAGE_NAME, PAPER_NAME, SheetOrder, SheetRequest};
use crate::optics::{Orientation, Proportion};
use crate::site::Stance;

use super::deliver::{PageOptions, destination, handed_over};
use super::measure::MeasureOptions;
use super::request::{saved, survey};
use super::show::tell;
use super::still::Looks;
use super::{Ending, Outcome};

/// What is recommended.
#[derive(Clone, Copy, Debug, Default, ValueEnum)]
enum Orders {
    /// The best by what was measured, then the best from another place
    #[default]
    Best,
    /// The first stance, then the second
    Given,
}

/// How the paper is turned.
#[derive(Clone, Copy, Debug, Default, ValueEnum)]
enum Turns {
    #[default]
    Landscape,
    Portrait,
}

/// What to show.
#[derive(Args, Debug)]
pub(super) struct SheetArguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// A saved stance to show; may be repeated. All stances unless given
    #[arg(long, value_name = "NAME")]
    stance: Vec<String>,
    /// What is recommended first and second
    #[arg(long, value_enum, default_value_t)]
    order: Orders,
    /// The recommendation in your own words
    #[arg(long, value_name = "TEXT")]
    headline: Option<String>,
    /// Your own words about a stance, in place of those found from what was measured; may be repeated
    #[arg(long, value_name = "NAME=TEXT")]
    say: Vec<String>,
    /// Crop the pictures to this aspect, width:height; without one the client may choose among four
    #[arg(long, value_name = "W:H")]
    aspect: Option<Proportion>,
    /// A file with your name and logo; its fields: name, contact, title, client, text, closing, who, reply, mark
    #[arg(long, value_name = "FILE")]
    brand: Option<PathBuf>,
    /// Figures in degrees and pixels as well, for readers who want them
    #[arg(long)]
    technical: bool,
    /// What the site is shown as in the pictures
    #[arg(long, value_enum, default_value_t)]
    look: Looks,
    /// The folder for the sheet: sheet.html and sheet.pdf
    #[arg(long, short, value_name = "FOLDER", default_value = "sheet")]
    out: PathBuf,
    /// How the paper is turned
    #[arg(long, value_enum, default_value_t)]
    turned: Turns,
    /// Overwrite an earlier sheet
    #[arg(long)]
    replace: bool,
    #[command(flatten)]
    page: PageOptions,
    #[command(flatten)]
    measures: MeasureOptions,
}

pub(super) fn run(arguments: &SheetArguments) -> Outcome {
    let destination = destination(&arguments.out, arguments.replace, DeliveryKind::Sheet)?;
    let words = arguments.page.words()?;
    let brand = match &arguments.brand {
        Some(path) => Brand::read(path).map_err(Ending::bad)?,
        None => Brand::default(),
    };
    let survey = survey(&arguments.site)?;
    let (survey, settings) = arguments.measures.on(survey)?;
    let mut stances: Vec<Stance> = if arguments.stance.is_empty() {
        survey.model.site.stances.iter().take(MOST_STANCES).cloned().collect()
    } else {
        arguments.stance.iter().map(|name| saved(&survey, name)).collect::<Result<_, _>>()?
    };
    stances.iter_mut().for_each(|stance| stance.crop = arguments.aspect.or(stance.crop));
    let said = said(&arguments.say, &stances)?;
    let count = stances.len();
    let document = arguments.page.settings(&survey, &settings, words, arguments.look.into())?;
    let turned = match arguments.turned {
        Turns::Landscape => Orientation::Landscape,
        Turns::Portrait => Orientation::Portrait,
    };
    let request = DeliveryRequest::Sheet(SheetRequest {
        stances,
        said,
        order: match arguments.order {
            Orders::Best => SheetOrder::BestFirst,
            Orders::Given => SheetOrder::AsGiven,
        },
        headline: arguments.headline.clone(),
        settings,
        brand,
        paper: Paper { size: arguments.page.paper(), turned },
        technical: arguments.technical,
        document,
    });
    let delivered = handed_over(&survey, &request, &destination)?;
    let DeliveredContent::Sheet { sheet, page_bytes, paper } = delivered.content else { return Ok(()) };
    let pdf = if paper {
        format!("and {PAPER_NAME}")
    } else {
        format!("without {PAPER_NAME}, because this program was built without PDF (feature 'paper')")
    };
    tell(&format!(
        "{} is written: {PAGE_NAME} ({:.1} MB) {pdf}, with {}. It recommends: {}",
        delivered.path.display(),
        page_bytes as f64 / 1e6,
        if count == 1 { "one stance".to_owned() } else { format!("{count} stances") },
        sheet.headline,
    ))
}

/// What is said of each stance.
fn said(given: &[String], stances: &[Stance]) -> Result<Vec<String>, Ending> {
    let mut said = vec![String::new(); stances.len()];
    for text in given {
        let (name, words) = text
            .split_once('=')
            .ok_or_else(|| Ending::BadInput(format!("--say '{text}': write a stance's name, = and the words")))?;
        let index = stances.iter().position(|stance| stance.name == name.trim()).ok_or_else(|| {
            let names: Vec<&str> = stances.iter().map(|stance| stance.name.as_str()).collect();
            Ending::BadInput(format!(
                "--say: no stance of the sheet is called '{}'; there are {}",
                name.trim(),
                names.join("; ")
            ))
        })?;
        said[index] = words.trim().to_owned();
    }
    Ok(said)
}
