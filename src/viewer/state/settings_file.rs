//! What does the program remember from one site to the next? The person's own heights, units and looks.
//!
//! Kept as `settings.ron` in the platform's configuration folder. A file that cannot be read never stops the program: it
//! is told, put aside when something is next remembered, and the first settings hold.

use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use crate::angle::Angle;
use crate::files::{self, FileError, FileKind};
use crate::plan::PlanError;
use crate::site::{Finding, PathStep, read_kindred};
use crate::still::Look;
use crate::theme::Theme;
use crate::units::Units;
use crate::verticals::READS_UPRIGHT_DEG;

/// What the file is called in the configuration folder.
pub const SETTINGS_FILE: &str = "settings.ron";
const SETTINGS_FORMAT: u32 = 1;
/// How often settings are merged anew because another window saves at the same time.
const MOST_TRIES: u32 = 100;
/// How many sites opened lately are remembered.
const MOST_RECENT: usize = 12;
/// How many heights may have a name.
pub(super) const MOST_PRESETS: usize = 24;
/// The heights at which a camera can be held up, by whatever means.
pub(super) const HEIGHTS_M: std::ops::RangeInclusive<f64> = 0.05..=400.0;

/// How much larger than usual the type can be; it is never smaller, so that all of it can be read.
pub(in crate::viewer) const TEXT_SIZES: std::ops::RangeInclusive<f64> = 1.0..=2.0;

/// A camera height with a name.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Preset {
    /// What it is called.
    pub name: String,
    /// The camera above the feet.
    pub height_m: f64,
}

/// The heights that a newcomer finds.
///
/// # Source
/// Standing: the median eye heights of British men, 1630 mm, and women, 1505 mm, barefoot, with 25 and 45 mm of shoe (S.
/// Pheasant, *Bodyspace*, table of eye heights), lie about 1.6 m. The rest is common practice, no source.
pub fn first_presets() -> Vec<Preset> {
    [("crouching", 0.9), ("standing", 1.6), ("arms overhead", 2.1), ("short ladder", 3.0), ("pole", 4.5)]
        .map(|(name, height_m)| Preset { name: name.into(), height_m })
        .into()
}

/// What is remembered.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// The unit of lengths.
    pub units: Units,
    /// The colours.
    pub theme: Theme,
    /// How large the type is, as a share of its usual size.
    pub text_size: f64,
    /// Whether nothing glides.
    pub less_motion: bool,
    /// Whether the surround of the frame is shown, dimmed.
    pub surround: bool,
    /// What the site is shown as in the finder and in small pictures.
    pub finder_look: Look,
    /// Named camera heights, in the person's order.
    pub presets: Vec<Preset>,
    /// Sites opened lately, the newest first.
    pub recent: Vec<PathBuf>,
    /// Whether the first-minute guide has been put away.
    pub guide_seen: bool,
    /// The largest lean that reads as upright.
    pub upright: Angle,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            units: Units::M,
            theme: Theme::Paper,
            text_size: 1.0,
            less_motion: false,
            surround: false,
            finder_look: Look::Card,
            presets: first_presets(),
            recent: Vec::new(),
            guide_seen: false,
            upright: Angle::from_degrees(READS_UPRIGHT_DEG),
        }
    }
}

/// The file. What it does not say is as it is at first; what it says beyond this is left alone.
#[derive(Debug, Serialize, Deserialize)]
#[serde(default)]
struct SettingsFile {
    format: u32,
    units: Units,
    dusk: bool,
    text_size: f64,
    less_motion: bool,
    surround: bool,
    materials: bool,
    presets: Vec<Preset>,
    recent: Vec<PathBuf>,
    guide_seen: bool,
    upright_deg: f64,
}

impl Default for SettingsFile {
    fn default() -> Self {
        Self::from(&Settings::default())
    }
}

impl From<&Settings> for SettingsFile {
    fn from(settings: &Settings) -> Self {
        Self {
            format: SETTINGS_FORMAT,
            units: settings.units,
            dusk: settings.theme == Theme::Dusk,
            text_size: settings.text_size,
            less_motion: settings.less_motion,
            surround: settings.surround,
            materials: settings.finder_look == Look::Materials,
            presets: settings.presets.clone(),
            recent: settings.recent.clone(),
            guide_seen: settings.guide_seen,
            upright_deg: settings.upright.degrees(),
        }
    }
}

impl From<SettingsFile> for Settings {
    fn from(file: SettingsFile) -> Self {
        Self {
            units: file.units,
            theme: if file.dusk { Theme::Dusk } else { Theme::Paper },
            text_size: file.text_size,
            less_motion: file.less_motion,
            surround: file.surround,
            finder_look: if file.materials { Look::Materials } else { Look::Card },
            presets: file.presets,
            recent: file.recent,
            guide_seen: file.guide_seen,
            upright: Angle::from_degrees(file.upright_deg),
        }
    }
}

impl Settings {
    /// The settings in a text.
    ///
    /// # Errors
    /// Everything that is wrong with it.
    pub fn parse(text: &str, file_name: &str) -> Result<Self, crate::site::SiteProblems> {
        let file: SettingsFile = read_kindred(text, file_name, ("the settings", Some(SETTINGS_FORMAT)), check)?;
        let mut settings = Self::from(file);
        settings.recent.truncate(MOST_RECENT);
        Ok(settings)
    }

    /// The settings in the configuration folder; the first ones where there are none yet.
    ///
    /// # Errors
    /// The file cannot be read, or there is something wrong with it.
    pub fn read(configuration: &Path) -> Result<Self, PlanError> {
        Ok(Self::read_with_text(&configuration.join(SETTINGS_FILE))?.map(|(settings, _)| settings).unwrap_or_default())
    }

    /// The settings in a file and its text; `None` where there is no such file yet.
    fn read_with_text(path: &Path) -> Result<Option<(Self, String)>, PlanError> {
        match files::read_text(path, FileKind::Settings) {
            Ok(text) => Ok(Some((Self::parse(&text, &path.display().to_string())?, text))),
            Err(FileError::Read { source, .. }) if source.kind() == std::io::ErrorKind::NotFound => Ok(None),
            Err(error) => Err(error.into()),
        }
    }

    /// Saves what changed between `base` and these; another window's changes hold otherwise. Says where a file that
    /// cannot be read was put aside.
    ///
    /// # Errors
    /// The file cannot be written.
    pub fn save(&self, base: &Self, configuration: &Path) -> Result<Option<PathBuf>, FileError> {
        let path = configuration.join(SETTINGS_FILE);
        std::fs::create_dir_all(configuration).map_err(|source| FileError::Write { path: path.clone(), source })?;
        let mut aside = None;
        for _ in 0..MOST_TRIES {
            let (both, there) = match Self::read_with_text(&path) {
                Ok(None) => (self.clone(), None),
                Ok(Some((theirs, text))) => (self.over(base, &theirs), Some(text)),
                Err(_) => {
                    aside = Some(files::put_aside(&path, "unread")?);
                    (self.clone(), None)
                }
            };
            let layout = ron::ser::PrettyConfig::new().struct_names(false);
            let body = files::ron_options().to_string_pretty(&SettingsFile::from(&both), layout);
            let text = format!("// Plumbsight's settings.\n{}\n", body.expect("settings are plain data"));
            match files::rewrite(&path, there.as_deref(), &text, FileKind::Settings) {
                // Saved by another window in this very moment: its changes are taken in as well.
                Err(FileError::Changed { .. }) => {}
                written => return written.map(|()| aside),
            }
        }
        Err(FileError::Changed { path })
    }

    /// What changed between `base` and these, over `theirs`.
    fn over(&self, base: &Self, theirs: &Self) -> Self {
        fn one<T: Clone + PartialEq>(base: &T, mine: &T, theirs: &T) -> T {
            if mine == base { theirs.clone() } else { mine.clone() }
        }
        let mut recent = one(&base.recent, &self.recent, &theirs.recent);
        for path in &theirs.recent {
            if !recent.contains(path) && !base.recent.contains(path) {
                recent.push(path.clone());
            }
        }
        recent.truncate(MOST_RECENT);
        Self {
            units: one(&base.units, &self.units, &theirs.units),
            theme: one(&base.theme, &self.theme, &theirs.theme),
            text_size: one(&base.text_size, &self.text_size, &theirs.text_size),
            less_motion: one(&base.less_motion, &self.less_motion, &theirs.less_motion),
            surround: one(&base.surround, &self.surround, &theirs.surround),
            finder_look: one(&base.finder_look, &self.finder_look, &theirs.finder_look),
            presets: one(&base.presets, &self.presets, &theirs.presets),
            recent,
            guide_seen: one(&base.guide_seen, &self.guide_seen, &theirs.guide_seen),
            upright: one(&base.upright, &self.upright, &theirs.upright),
        }
    }

    /// Remembers that a site was opened.
    pub(in crate::viewer) fn opened(&mut self, path: &Path) {
        self.recent.retain(|known| known != path);
        self.recent.insert(0, path.into());
        self.recent.truncate(MOST_RECENT);
    }
}

fn check(file: &SettingsFile) -> Vec<Finding> {
    let mut found = Vec::new();
    if !(0.0..=45.0).contains(&file.upright_deg) {
        found.push(
            Finding::new("the settings", vec![PathStep::Field("upright_deg")], format!("is {}", file.upright_deg))
                .allowed("from 0 to 45 °"),
        );
    }
    if !TEXT_SIZES.contains(&file.text_size) {
        found.push(
            Finding::new("the settings", vec![PathStep::Field("text_size")], format!("is {}", file.text_size))
                .allowed(format!("from {} to {}", TEXT_SIZES.start(), TEXT_SIZES.end())),
        );
    }
    if file.presets.len() > MOST_PRESETS {
        found.push(
            Finding::new(
                "the settings",
                vec![PathStep::Field("presets")],
                format!("has {} heights", file.presets.len()),
            )
            .allowed(format!("at most {MOST_PRESETS}")),
        );
    }
    for (index, preset) in file.presets.iter().enumerate() {
        let way = |field| vec![PathStep::Field("presets"), PathStep::Item(index), PathStep::Field(field)];
        if !HEIGHTS_M.contains(&preset.height_m) {
            found.push(
                Finding::new(format!("height '{}'", preset.name), way("height_m"), format!("is {}", preset.height_m))
                    .allowed(format!("from {} to {} m", HEIGHTS_M.start(), HEIGHTS_M.end())),
            );
        }
        if preset.name.trim().is_empty() {
            found.push(Finding::new("a height", way("name"), "is empty").help("give it a name, such as \"standing\""));
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn settings_come_back_and_two_windows_keep_each_others() {
        let folder = tempfile::tempdir().expect("a folder");
        let configuration = folder.path().join("plumbsight");
        let base = Settings::read(&configuration).expect("none yet");
        assert_eq!(base, Settings::default());
        let mut mine = Settings { units: Units::Ft, guide_seen: true, ..base.clone() };
        mine.opened(Path::new("/sites/a.site.ron"));
        assert_eq!(mine.save(&base, &configuration).expect("saved"), None);
        let mut theirs = Settings { theme: Theme::Dusk, ..base.clone() };
        theirs.opened(Path::new("/sites/b.site.ron"));
        theirs.save(&base, &configuration).expect("saved");
        let both = Settings::read(&configuration).expect("read");
        assert_eq!((both.units, both.theme, both.guide_seen), (Units::Ft, Theme::Dusk, true));
        assert_eq!(both.recent.len(), 2);
    }

    #[test]
    fn broken_settings_are_put_aside_and_told_by_their_place() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join(SETTINGS_FILE);
        for broken in ["(upright_deg: 400)", "(units: Furlongs)", "(format: 7)", "{"] {
            std::fs::write(&path, broken).expect("written");
            let error = Settings::read(folder.path()).expect_err("broken").to_string();
            assert!(error.contains("settings.ron") || error.contains("1:"), "{error}");
            let mine = Settings::default();
            let aside = mine.save(&mine, folder.path()).expect("saved").expect("put aside");
            assert_eq!(std::fs::read_to_string(aside).expect("there"), broken);
            assert_eq!(Settings::read(folder.path()).expect("read"), mine);
        }
    }

    #[test]
    fn a_file_that_says_little_is_enough() {
        let settings = Settings::parse("(dusk: true, a_newer_wish: 3)", "s").expect("in order");
        assert_eq!(settings, Settings { theme: Theme::Dusk, ..Settings::default() });
    }
}
