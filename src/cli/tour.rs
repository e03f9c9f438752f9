//! `plumbsight tour`, and `plumbsight` alone: what does the program do?

use std::path::{Path, PathBuf};

use clap::Args;

use crate::files::{FileError, FileKind, fingerprint_of_picture, is_there, read_text, write_together};
use crate::handover::capture::{CaptureError, Setup, Shot};
use crate::handover::exif::PictureForm;
use crate::optics::Orientation;
use crate::scenes::SCENES;
use crate::site::{Stance, site_hash};
use crate::survey::{MeasureSettings, Survey};
use crate::units::Units;

use super::measure::{MeasureOptions, comparison};
use super::request::survey;
use super::show::{tell, watched};
use super::{Ending, Outcome};

/// Where the tour goes.
#[derive(Args, Debug)]
pub(super) struct TourArguments {
    /// The folder for pictures, records and site files
    #[arg(short = 'o', long = "out", alias = "folder", value_name = "FOLDER", default_value = "plumbsight-tour")]
    pub(super) folder: PathBuf,
    /// Overwrite pictures and records of an earlier tour that differ
    #[arg(long)]
    pub(super) replace: bool,
}

/// A stance of the tour, where it can be taken up.
struct Stop {
    stance: Stance,
    setup: Result<(Setup, Shot), CaptureError>,
    /// Picture and records.
    files: [PathBuf; 3],
    /// Whether an earlier tour has left the same.
    kept: bool,
}

pub(super) fn run(arguments: &TourArguments) -> Outcome {
    let settings = MeasureOptions::default().settings()?;
    // Everything is looked at before anything is taken: nothing that differs is written over unasked.
    let mut sites = Vec::new();
    for scene in SCENES {
        let folder = arguments.folder.join(scene.name);
        std::fs::create_dir_all(&folder)
            .map_err(|error| Ending::BadInput(format!("{}: cannot be created: {error}", folder.display())))?;
        let path = folder.join(format!("{}.site.ron", scene.name));
        // Nobody loses what they wrote into it since the last tour.
        if !is_there(&path) {
            match write_together(&[(&path, scene.text.as_bytes())], false) {
                Ok(()) | Err(FileError::AlreadyThere { .. }) => {}
                Err(error) => return Err(Ending::bad(error)),
            }
        }
        let survey = survey(&path)?;
        let stops = stops(&survey, &settings, &folder);
        let differs = stops.iter().filter(|stop| stop.setup.is_ok() && !stop.kept).flat_map(|stop| &stop.files);
        if let Some(file) = differs.clone().find(|file| is_there(file)).filter(|_| !arguments.replace) {
            return Err(Ending::BadInput(format!(
                "{} is from an earlier tour and differs from what would be written now; use `plumbsight tour --replace` to \
                 overwrite it, or --out FOLDER to write elsewhere",
                file.display()
            )));
        }
        sites.push((scene, path, survey, stops));
    }
    for (scene, path, survey, stops) in sites {
        if survey.mark.sha256 != site_hash(scene.text) {
            tell(&format!("{} has been edited; this is what it shows now:\n", path.display()))?;
        }
        let mut rows = Vec::new();
        for stop in &stops {
            let row = match &stop.setup {
                Ok((setup, shot)) => {
                    if !stop.kept {
                        take(&survey, setup, shot, &stop.files, arguments.replace)?;
                    }
                    Ok(setup.record.clone())
                }
                Err(CaptureError::Stance(error)) => Err(error.clone().into()),
                Err(error) => Err(Ending::bad(error)),
            };
            rows.push((&stop.stance, row));
        }
        tell(&format!("{}\n\n{}\n", survey.model.site.name, comparison(&rows, Units::M)))?;
    }
    tell(&format!(
        "Pictures, records and site files are in {}. Change a site file, or measure your own: plumbsight measure SITE. \
         All commands: plumbsight --help",
        arguments.folder.display()
    ))
}

/// The saved stances of a site, each under its number and name: names may differ in signs that no file has.
fn stops(survey: &Survey, settings: &MeasureSettings, folder: &Path) -> Vec<Stop> {
    let stop = |(number, stance): (usize, &Stance)| {
        let plain: String = stance.name.chars().map(|c| if c.is_alphanumeric() { c } else { '-' }).take(60).collect();
        let name = format!("{number}-{plain}");
        let files = ["png", "record.ron", "record.json"].map(|ending| folder.join(format!("{name}.{ending}")));
        let setup = survey.stand(stance).map_err(CaptureError::from).and_then(|standing| {
            let width_px = if standing.orientation == Orientation::Portrait { 800 } else { 1200 };
            let shot = Shot { width_px: Some(width_px), overlay: true, ..Shot::default() };
            Setup::of(survey, stance, settings, &shot, &format!("{name}.png")).map(|setup| (setup, shot))
        });
        let kept = setup.as_ref().is_ok_and(|(setup, _)| {
            let Ok(sha256) = fingerprint_of_picture(&files[0]) else { return false };
            let mut record = setup.record.clone();
            if let Some(picture) = &mut record.picture {
                picture.sha256 = Some(sha256);
            }
            let same = |path: &Path, text: &str| read_text(path, FileKind::Record).is_ok_and(|found| found == text);
            same(&files[1], &record.to_ron()) && same(&files[2], &record.to_json())
        });
        Stop { stance: stance.clone(), setup, files, kept }
    };
    (1..).zip(&survey.model.site.stances).map(stop).collect()
}

fn take(survey: &Survey, setup: &Setup, shot: &Shot, files: &[PathBuf; 3], replace: bool) -> Outcome {
    let taken = watched(|progress| setup.clone().take(survey, shot, PictureForm::Png, progress))?;
    let (ron, json) = (taken.record.to_ron(), taken.record.to_json());
    let contents = [&taken.file[..], ron.as_bytes(), json.as_bytes()];
    let together: Vec<(&Path, &[u8])> = files.iter().map(PathBuf::as_path).zip(contents).collect();
    write_together(&together, replace).map_err(Ending::bad)
}
