//! `plumbsight places`: where on the map are the stances, the subject and the grounds?

use std::path::PathBuf;

use clap::Args;

use crate::handover::deliver::{DeliveredContent, DeliveryKind, DeliveryRequest};

use super::Outcome;
use super::deliver::{destination, handed_over};
use super::request::{named_stances, survey};
use super::show::tell;

/// What to place.
#[derive(Args, Debug)]
pub(super) struct PlacesArguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// The file: .gpx for GPS receivers, .kml or .geojson for maps
    #[arg(short, long, value_name = "FILE")]
    out: PathBuf,
    /// The saved stances, with commas between; all unless given
    #[arg(long, value_name = "NAMES")]
    stances: Vec<String>,
    /// Overwrite a file that already exists
    #[arg(long)]
    replace: bool,
}

pub(super) fn run(arguments: &PlacesArguments) -> Outcome {
    let destination = destination(&arguments.out, arguments.replace, DeliveryKind::Places)?;
    let survey = survey(&arguments.site)?;
    let stances = named_stances(&survey, &arguments.stances)?;
    let delivered = handed_over(&survey, &DeliveryRequest::Places { stances }, &destination)
        .map_err(|ending| ending.of(&arguments.site.display().to_string()))?;
    let DeliveredContent::Places(places) = delivered.content else { return Ok(()) };
    let mut lines = vec![format!(
        "{} is written: {} stances, {} subject, {} grounds.",
        delivered.path.display(),
        places.stances.len(),
        if places.subject.is_some() { "the" } else { "no" },
        places.grounds.len()
    )];
    lines.extend(places.left_out.iter().map(|why| format!("Left out: {why}")));
    tell(&lines.join("\n"))
}
