//! `plumbsight tour`, and `plumbsight` alone: what does the program do?

use std::path::PathBuf;

use clap::Args;

use crate::files::write_whole;
use crate::scenes::SCENES;
use crate::site::site_hash;
use crate::units::Units;

use super::measure::{MeasureOptions, comparison, recorded};
use super::request::survey;
use super::show::print;
use super::{Ending, Outcome, still};

/// Where the tour goes.
#[derive(Args, Debug)]
pub(super) struct TourArguments {
    /// The folder for pictures, records and site files
    #[arg(long, value_name = "FOLDER", default_value = "plumbsight-tour")]
    pub(super) folder: PathBuf,
}

pub(super) fn run(arguments: &TourArguments) -> Outcome {
    let wishes = MeasureOptions::default().wishes()?;
    for scene in SCENES {
        let folder = arguments.folder.join(scene.name);
        std::fs::create_dir_all(&folder)
            .map_err(|error| Ending::BadInput(format!("{}: cannot be made: {error}", folder.display())))?;
        let path = folder.join(format!("{}.site.ron", scene.name));
        // Nobody loses what they wrote into it since the last tour.
        if !path.exists() {
            write_whole(&path, scene.text.as_bytes()).map_err(Ending::bad)?;
        }
        let survey = survey(&path)?;
        if survey.mark.sha256 != site_hash(scene.text) {
            print(&format!("{} has been changed, and is taken as it is:\n", path.display()))?;
        }
        let stances = &survey.model.site.stances;
        let taken: Vec<_> = stances.iter().map(|stance| (stance, recorded(&survey, stance, &wishes))).collect();
        for (number, (stance, taken)) in (1..).zip(&taken) {
            if let Ok((measured, record)) = taken {
                still::into_folder(&survey, (number, stance), &measured.standing, record, &folder)?;
            }
        }
        let rows: Vec<_> = taken.into_iter().map(|(stance, taken)| (stance, taken.map(|(_, record)| record))).collect();
        print(&format!("{}\n\n{}\n", survey.model.site.name, comparison(&rows, Units::M)))?;
    }
    print(&format!(
        "Pictures, records and the site files are in {}. Change a site file, or measure your own: plumbsight measure SITE; \
         plumbsight --help tells the rest.",
        arguments.folder.display()
    ))
}
