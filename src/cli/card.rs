//! `plumbsight card`: what does a photographer carry to the site?

use std::path::PathBuf;

use clap::Args;

use crate::handover::CardRequest;
use crate::handover::deliver::{DeliveredContent, DeliveryKind, DeliveryRequest};
use crate::handover::page::Paper;
use crate::still::Look;

use super::Outcome;
use super::deliver::{PageOptions, destination, handed_over};
use super::measure::MeasureOptions;
use super::request::{StanceArguments, survey};
use super::show::tell;

/// What to write down.
#[derive(Args, Debug)]
pub(super) struct CardArguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// The card's file: .html for a telephone, .pdf for paper, two sides of A5 or half a Letter
    #[arg(long, short, value_name = "FILE", default_value = "card.html")]
    out: PathBuf,
    /// Overwrite a file that already exists
    #[arg(long)]
    replace: bool,
    #[command(flatten)]
    page: PageOptions,
    #[command(flatten)]
    stance: StanceArguments,
    #[command(flatten)]
    measures: MeasureOptions,
}

pub(super) fn run(arguments: &CardArguments) -> Outcome {
    let destination = destination(&arguments.out, arguments.replace, DeliveryKind::Card)?;
    let words = arguments.page.words()?;
    let survey = survey(&arguments.site)?;
    let (survey, settings) = arguments.measures.on(survey)?;
    let document = arguments.page.settings(&survey, &settings, words, Look::Card)?;
    let day = document.day;
    let stance = arguments.stance.stance(&survey)?;
    let paper = Paper { size: arguments.page.paper(), ..Paper::default() };
    let request = DeliveryRequest::Card(CardRequest { stance, settings, paper, document });
    let delivered = handed_over(&survey, &request, &destination)?;
    let DeliveredContent::Card(card) = delivered.content else { return Ok(()) };
    let pairs = match card.lined_up.len() {
        0 => "nothing lines up there".to_owned(),
        1 => "one pair of edges lines up there".to_owned(),
        count => format!("{count} pairs of edges line up there"),
    };
    tell(&format!("{} is written, for {day}; {pairs}.", delivered.path.display()))
}
