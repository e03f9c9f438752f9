//! `plumbsight card`: what does a photographer carry to the site?

use std::path::PathBuf;
use std::time::UNIX_EPOCH;

use clap::Args;

use crate::handover::DocumentSettings;
use crate::handover::deliver::{DeliveredContent, DeliveryKind, DeliveryRequest};
use crate::light::Zone;
use crate::place::Day;
use crate::still::Look;
use crate::survey::{MeasureSettings, Survey};
use crate::units::Units;

use super::deliver::{destination, handed_over};
use super::measure::MeasureOptions;
use super::request::{StanceArguments, survey};
use super::show::tell;
use super::{Ending, Outcome};

/// What to write down.
#[derive(Args, Debug)]
pub(super) struct CardArguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
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
    #[command(flatten)]
    stance: StanceArguments,
    #[command(flatten)]
    measures: MeasureOptions,
}

pub(super) fn run(arguments: &CardArguments) -> Outcome {
    let destination = destination(&arguments.out, arguments.replace, DeliveryKind::Card)?;
    let survey = survey(&arguments.site)?;
    let settings = arguments.measures.settings_on(&survey)?;
    let day = planned_day(arguments.day, &survey, &settings)?;
    let stance = arguments.stance.stance(&survey)?;
    let document = DocumentSettings { day, units: arguments.units, look: Look::Card };
    let request = DeliveryRequest::Card { stance, settings, document };
    let delivered = handed_over(&survey, &request, &destination)?;
    let DeliveredContent::Page(card) = delivered.content else { return Ok(()) };
    let pairs = match card.lettered() {
        0 => "nothing lines up there".to_owned(),
        1 => "one pair of edges lines up there".to_owned(),
        count => format!("{count} pairs of edges line up there"),
    };
    tell(&format!("{} is written, for {day}; {pairs}.", delivered.path.display()))
}

/// The day that was asked for, else that of the planned moment, else the computer's.
pub(super) fn planned_day(day: Option<Day>, survey: &Survey, settings: &MeasureSettings) -> Result<Day, Ending> {
    let planned = settings.moment.and_then(|moment| Some(Zone::of(&survey.model.site).ok()?.clock(moment).day));
    day_or_today(day.or(planned))
}

/// The day that was asked for, else the computer's.
pub(super) fn day_or_today(day: Option<Day>) -> Result<Day, Ending> {
    day.or_else(|| Day::of_unix_time(UNIX_EPOCH.elapsed().ok()?))
        .ok_or_else(|| Ending::BadInput("the computer's clock gives no day; use --day".into()))
}
