//! `plumbsight check`: what is wrong with a site file?

use std::path::PathBuf;

use clap::Args;

use crate::angle::Angle;
use crate::outline::Subject;
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
    if let Some(note) = front_note(&model) {
        tell(&note)?;
    }
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

/// That no front is named, and which one would be guessed; nothing to say of a subject without flat walls.
fn front_note(model: &Model) -> Option<String> {
    if model.site.front.is_some() {
        return None;
    }
    let subject = Subject::of(model).ok()?;
    let largest = subject.walls.iter().reduce(|a, b| if b.area_m2 > a.area_m2 * (1.0 + 1e-9) { b } else { a })?;
    let toward_deg = Angle::bearing_of(largest.normal.x, largest.normal.y).compass_degrees().round() % 360.0;
    let block = model.site.blocks[largest.block].words();
    Some(format!(
        "Note: no front is named, so from each stance the wall that is seen largest is taken. The largest of all is that of \
         {block} toward {toward_deg:.0}°; if the picture is of it, write front: Bearing({toward_deg:.0}) before blocks."
    ))
}
