//! `plumbsight check`: what is wrong with a site file, and what on the site is probably not as meant?

use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use crate::faults::{FaultKind, SiteFault, faults};
use crate::site::{Model, Problem};
use crate::units::Units;

use super::show::{colour, print, tell, width};
use super::{Outcome, request};

/// What to check.
#[derive(Args, Debug)]
pub(super) struct CheckArguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// The units of the report
    #[arg(long, value_name = "UNITS", default_value = "m")]
    units: Units,
    /// Print warnings and notes as JSON, in metres
    #[arg(long)]
    json: bool,
}

/// What the check of a sound file says.
#[derive(Serialize)]
struct CheckRecord<'a> {
    site: &'a str,
    /// What is probably wrong in the file, with its line.
    warnings: &'a [Problem],
    /// What on the site is probably not as meant.
    notes: Vec<Note<'a>>,
}

#[derive(Serialize)]
struct Note<'a> {
    #[serde(flatten)]
    fault: &'a SiteFault,
    block_names: Vec<&'a str>,
    note: String,
}

pub(super) fn run(arguments: &CheckArguments) -> Outcome {
    let loaded = request::load(&arguments.site)?;
    let warnings = loaded.warnings;
    let model = Model::build(loaded.site);
    let mut found = faults(&model);
    // A warning with its line says that already.
    found.retain(|fault| fault.kind != FaultKind::NoSubject);
    if arguments.json {
        let note = |fault| note(fault, &model);
        let record = CheckRecord {
            site: &model.site.name,
            warnings: &warnings.problems,
            notes: found.iter().map(note).collect(),
        };
        return print(&serde_json::to_string_pretty(&record).expect("every number is finite, every key is text"));
    }
    if !warnings.is_empty() {
        print(&warnings.render(colour(), width()))?;
    }
    for fault in &found {
        tell(&format!("Note: {}", fault.words(&model.site, arguments.units)))?;
    }
    let triangles: usize = model.solids.iter().map(|solid| solid.triangles.len()).sum();
    let count = |number: usize, one: &str, many: &str| format!("{number} {}", if number == 1 { one } else { many });
    let (lowest_m, highest_m) = model.site.terrain.range_m();
    tell(&format!(
        "{}: no errors. {}, {} of them the subject; {} to stand on; {}; {} triangles; terrain from {} to {}.",
        model.site.name,
        count(model.site.blocks.len(), "block", "blocks"),
        model.subject().count(),
        count(model.decks.len(), "deck", "decks"),
        count(model.site.stances.len(), "saved stance", "saved stances"),
        triangles,
        format_args!("{:.2}", arguments.units.from_metres(lowest_m)),
        arguments.units.length(highest_m, 2),
    ))
}

fn note<'a>(fault: &'a SiteFault, model: &'a Model) -> Note<'a> {
    let block_names = fault.blocks.iter().map(|&block| model.site.blocks[block].name.as_str()).collect();
    Note { fault, block_names, note: fault.words(&model.site, Units::M) }
}
