//! From where does a site come, and what is said where it does not open?

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::optics::{Kit, Orientation};
use crate::plan::{plan_path, read_own_kit};
use crate::scenes::SCENES;
use crate::site::{LoadedSite, SiteError, SiteProblems, Stance, parse_site, read_site_with, site_hash};
use crate::survey::Survey;

use super::desk::first_stance;
use super::work::Wake;

/// How wide the problems of a site file are drawn, in characters.
const PROBLEMS_WIDTH: usize = 100;

/// What a window keeps to itself between sites, and how it is woken.
#[derive(Clone, Debug, Default)]
pub struct Home {
    /// The program's configuration folder; nothing is remembered without one.
    pub configuration: Option<PathBuf>,
    /// Whether the desktop may be asked for dialogs; a path is typed otherwise.
    pub dialogs: bool,
    /// What wakes the window.
    pub wake: Wake,
}

/// Where a site comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Source {
    /// A file.
    File(PathBuf),
    /// One of the demo sites, by its number.
    Scene(usize),
}

impl Source {
    /// What it is called.
    pub fn title(&self) -> String {
        match self {
            Self::File(path) => path.display().to_string(),
            Self::Scene(index) => SCENES.get(*index).map_or_else(String::new, |scene| scene.name.into()),
        }
    }

    /// Where a walker stands who opens it. On a demo site the camera lies on its side: a wide picture fills a wide window.
    pub fn first_stance(&self, survey: &Survey) -> Stance {
        let saved = match self {
            Self::File(_) => None,
            Self::Scene(index) => SCENES
                .get(*index)
                .and_then(|scene| survey.model.site.stances.iter().find(|stance| stance.name == scene.first)),
        };
        saved.map_or_else(
            || first_stance(survey),
            |saved| Stance { orientation: Some(Orientation::Landscape), ..saved.clone() },
        )
    }

    /// Where its plan is kept: beside a file; a demo site's in the configuration folder.
    pub(in crate::viewer) fn plan(&self, configuration: Option<&Path>) -> Option<PathBuf> {
        match self {
            Self::File(path) => Some(plan_path(path)),
            Self::Scene(index) => {
                let name = SCENES.get(*index)?.name;
                Some(configuration?.join("demos").join(format!("{name}.plan.ron")))
            }
        }
    }
}

/// Why a site does not open.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{title}: {text}")]
pub struct OpenError {
    /// Which site.
    pub title: String,
    /// Everything that is wrong with it.
    pub text: String,
    /// Whether there is no such file.
    pub gone: bool,
}

/// A site that was opened.
#[derive(Debug)]
pub(in crate::viewer) struct Opened {
    pub(in crate::viewer) source: Source,
    pub(in crate::viewer) survey: Arc<Survey>,
    /// What is probably not as meant; may be empty.
    pub(in crate::viewer) warnings: String,
}

/// Opens a site, for a person with a kit of their `own`.
///
/// # Errors
/// The file cannot be read, or everything that is wrong with it.
pub(in crate::viewer) fn open(source: &Source, own: Option<&Kit>) -> Result<Opened, OpenError> {
    let refused = |text: String, gone: bool| OpenError { title: source.title(), text, gone };
    let loaded = match source {
        Source::File(path) => read_site_with(path, own).map_err(|error| match error {
            SiteError::Problems(problems) => refused(problems.render(false, PROBLEMS_WIDTH), false),
            SiteError::File(error) => refused(error.to_string(), !path.exists()),
        })?,
        Source::Scene(index) => {
            let scene = SCENES.get(*index).ok_or_else(|| refused("there is no such demo site".into(), true))?;
            let site = parse_site(scene.text, scene.name)
                .map_err(|problems| refused(problems.render(false, PROBLEMS_WIDTH), false))?;
            LoadedSite {
                site,
                path: PathBuf::from(format!("{}.site.ron", scene.name)),
                text: scene.text.into(),
                hash: site_hash(scene.text),
                warnings: SiteProblems::default(),
            }
        }
    };
    let warnings =
        if loaded.warnings.is_empty() { String::new() } else { loaded.warnings.render(false, PROBLEMS_WIDTH) };
    Ok(Opened { source: source.clone(), survey: Arc::new(Survey::with_kit(loaded, own)), warnings })
}

/// The person's own kit; what is wrong with it is told and it is left out.
pub(in crate::viewer) fn own_kit(configuration: Option<&Path>) -> (Option<Kit>, Option<String>) {
    match configuration.map(read_own_kit) {
        None => (None, None),
        Some(Ok(kit)) => (kit, None),
        Some(Err(error)) => (None, Some(format!("your own kit is left out: {error}"))),
    }
}
