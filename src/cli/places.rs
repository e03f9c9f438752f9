//! `plumbsight places`: where on the map are the stances, the subject and the grounds?

use std::path::PathBuf;

use clap::Args;

use crate::files::{FileError, is_there, write_together};
use crate::handover::places::{Places, PlacesForm};

use super::request::{named_stances, survey};
use super::show::tell;
use super::{Ending, Outcome};

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
    let out = &arguments.out;
    let form = PlacesForm::of(out)
        .ok_or_else(|| Ending::BadInput(format!("{}: end the file's name in .gpx, .kml or .geojson", out.display())))?;
    if is_there(out) && !arguments.replace {
        return Err(Ending::bad(FileError::AlreadyThere { path: out.clone() }));
    }
    let survey = survey(&arguments.site)?;
    let stances = named_stances(&survey, &arguments.stances)?;
    let places = Places::of(&survey, &stances)
        .map_err(|error| Ending::BadInput(format!("{}: {error}", arguments.site.display())))?;
    if places.stances.is_empty() && places.subject.is_none() && places.grounds.is_empty() {
        return Err(Ending::NoAnswer(if places.left_out.is_empty() {
            "there is nothing to write: no stance, no subject, no ground".into()
        } else {
            places.left_out.join("\n")
        }));
    }
    write_together(&[(out, places.to_text(form).as_bytes())], arguments.replace).map_err(Ending::bad)?;
    let mut told = vec![format!(
        "{} is written: {} stances, {} subject, {} grounds.",
        out.display(),
        places.stances.len(),
        if places.subject.is_some() { "the" } else { "no" },
        places.grounds.len()
    )];
    told.extend(places.left_out.iter().map(|why| format!("Left out: {why}")));
    tell(&told.join("\n"))
}
