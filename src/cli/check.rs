//! `plumbsight check`: what is wrong with a site file?

use std::path::PathBuf;

use clap::Args;

use crate::site::Model;

use super::show::{colour, print, tell, width};
use super::{Outcome, request};

/// What to check.
#[derive(Args, Debug)]
pub(super) struct CheckArguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
}

pub(super) fn run(arguments: &CheckArguments) -> Outcome {
    let loaded = request::load(&arguments.site)?;
    if !loaded.warnings.is_empty() {
        print(&loaded.warnings.render(colour(), width()))?;
    }
    let model = Model::build(loaded.site);
    let triangles: usize = model.solids.iter().map(|solid| solid.triangles.len()).sum();
    let count = |number: usize, one: &str, many: &str| format!("{number} {}", if number == 1 { one } else { many });
    tell(&format!(
        "{}: no errors. {}, {} of them the subject; {} to stand on; {}; {} triangles; terrain from {:.2} to {:.2} m.",
        model.site.name,
        count(model.site.blocks.len(), "block", "blocks"),
        model.subject().count(),
        count(model.decks.len(), "deck", "decks"),
        count(model.site.stances.len(), "saved stance", "saved stances"),
        triangles,
        model.site.terrain.range_m().0,
        model.site.terrain.range_m().1,
    ))
}
