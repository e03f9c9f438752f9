//! Where does a site come from, which stance is taken up first, and what is reported where it does not open?

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::optics::{Kit, Orientation};
use crate::outline::OutlineError;
use crate::plan::{plan_path, read_own_kit};
use crate::scenes::SCENES;
use crate::site::{Aim, LoadedSite, SiteError, SiteProblems, Stance, parse_site, read_site_with, site_hash};
use crate::stance::StanceError;
use crate::survey::Survey;

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
    /// The same place, whatever folder the program is run in.
    pub(super) fn absolute(self) -> Self {
        match self {
            Self::File(path) => Self::File(std::path::absolute(&path).unwrap_or(path)),
            Self::Scene(index) => Self::Scene(index),
        }
    }

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
    /// The faults of the file, where it was read.
    pub problems: SiteProblems,
}

impl OpenError {
    /// What is wrong in a line or two: the first fault with its line, and how many more there are.
    pub fn brief(&self) -> String {
        let Some(first) = self.problems.listed().first() else { return self.to_string() };
        let more = self.problems.listed().len() - 1 + self.problems.unlisted();
        let rest = match more {
            0 => String::new(),
            1 => " One more fault follows.".to_owned(),
            more => format!(" {more} more faults follow."),
        };
        format!("{}, line {}: {}{rest}", self.title, first.line, first.sentence())
    }
}

/// Why no window can be opened on a site.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum StartError {
    /// The site does not open.
    #[error(transparent)]
    Open(#[from] OpenError),
    /// The stance that was asked for is impossible.
    #[error(transparent)]
    Stance(#[from] StanceError),
}

/// A site that was opened.
#[derive(Debug)]
pub(in crate::viewer) struct Opened {
    pub(in crate::viewer) source: Source,
    pub(in crate::viewer) survey: Arc<Survey>,
    /// The file's text, and where it was read.
    pub(in crate::viewer) text: String,
    pub(in crate::viewer) path: PathBuf,
    /// What is probably not as meant; may be empty.
    pub(in crate::viewer) warnings: String,
}

/// Opens a site, for a person with a kit of their `own`.
///
/// # Errors
/// The file cannot be read, or everything that is wrong with it.
pub(in crate::viewer) fn open(source: &Source, own: Option<&Kit>) -> Result<Opened, OpenError> {
    let refused =
        |text: String, gone: bool| OpenError { title: source.title(), text, gone, problems: SiteProblems::default() };
    let faulty = |problems: SiteProblems| OpenError {
        title: source.title(),
        text: problems.render(false, PROBLEMS_WIDTH),
        gone: false,
        problems,
    };
    let loaded = match source {
        Source::File(path) => read_site_with(path, own).map_err(|error| match error {
            SiteError::Problems(problems) => faulty(problems),
            SiteError::File(error) => refused(error.to_string(), !path.exists()),
        })?,
        Source::Scene(index) => {
            let scene = SCENES.get(*index).ok_or_else(|| refused("there is no such demo site".into(), true))?;
            let site = parse_site(scene.text, scene.name).map_err(faulty)?;
            LoadedSite {
                site,
                path: PathBuf::from(format!("{}.site.ron", scene.name)),
                text: scene.text.into(),
                hash: site_hash(scene.text),
                warnings: SiteProblems::default(),
            }
        }
    };
    let warnings: Vec<String> = (loaded.warnings.listed().iter())
        .map(|warning| format!("Line {}: {}", warning.line, warning.sentence()))
        .collect();
    let warnings = warnings.join("\n");
    let (text, path) = (loaded.text.clone(), loaded.path.clone());
    Ok(Opened { source: source.clone(), survey: Arc::new(Survey::with_kit(loaded, own)), text, path, warnings })
}

/// The person's own kit; one with errors is left out, and the reason comes with it.
pub(in crate::viewer) fn own_kit(configuration: Option<&Path>) -> (Option<Kit>, Option<String>) {
    match configuration.map(read_own_kit) {
        None => (None, None),
        Some(Ok(kit)) => (kit, None),
        Some(Err(error)) => (None, Some(format!("your own kit is unreadable and not used: {error}"))),
    }
}

/// The stance with which a site is first entered: its first saved one, else 1.5 times the subject's height to its south.
pub fn first_stance(survey: &Survey) -> Stance {
    if let Some(saved) = survey.model.site.stances.first() {
        return saved.clone();
    }
    let at = match &survey.subject {
        Ok(subject) => {
            let back_m = 1.5 * (subject.highest_m - subject.base_m).max(4.0)
                + (subject.middle.y - subject.base_m).abs().min(20.0);
            (subject.middle.x, subject.middle.y - back_m)
        }
        Err(OutlineError::NoSubject | OutlineError::Surrounds) => (0.0, -30.0),
    };
    let aim = if survey.subject.is_ok() {
        Aim::Fill
    } else {
        Aim::Turned { heading_deg: 0.0, pitch_deg: 0.0, roll_deg: 0.0 }
    };
    Stance { aim, ..Stance::plain("first stance", at) }
}

/// A stance that is possible on any site: in the air over its origin, looking north with a lens that every kit can describe.
pub(super) fn somewhere(survey: &Survey) -> Stance {
    let model = &survey.model;
    let highest_m = model
        .solids
        .iter()
        .flat_map(|solid| solid.vertices.iter())
        .map(|point| point.z)
        .fold(model.surface_m((0.0, 0.0)), f64::max);
    Stance {
        eye_height_m: Some(highest_m + 10.0),
        lens: "35 mm".into(),
        aim: Aim::Turned { heading_deg: 0.0, pitch_deg: 0.0, roll_deg: 0.0 },
        ..Stance::plain("above the site", (0.0, 0.0))
    }
}
