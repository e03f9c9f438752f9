//! What has the person set, and which parts of the window are shown?
//!
//! [`Settings`] are remembered from one site to the next; the bag is kept with the site's plan; which desk, help and guide
//! are shown is this window's own.

use std::path::Path;

use crate::angle::Angle;
use crate::optics::{Kit, Lens};
use crate::still::Look;
use crate::theme::Theme;
use crate::units::Units;

use super::arrangement::DeskName;
use super::effects::{Effect, Effects};
use super::notices::NoticeKind;
use super::opening::{OpenError, Source};
use super::settings_file::{HEIGHTS_M, MOST_PRESETS, TEXT_SIZES};

pub use super::settings_file::{Preset, SETTINGS_FILE, Settings, first_presets};

/// What is remembered from one site to the next, and how the window is arranged.
#[derive(Clone, Debug, PartialEq)]
pub enum SettingAction {
    /// Name a height, or change one; an index past the last adds it.
    Preset {
        /// Its place in the list.
        index: usize,
        /// What it is called.
        name: String,
        /// The camera above the feet.
        height_m: f64,
    },
    /// Remove a named height.
    RemovePreset(usize),
    /// Put a lens into the bag, or leave it at home.
    Carry(String, bool),
    /// Put only this lens into the bag.
    CarryOnly(String),
    /// Put every lens of the kit into the bag.
    CarryAll,
    /// Show another desk.
    ShowDesk(DeskName),
    /// Write lengths in another unit.
    Units(Units),
    /// Show the window in other colours.
    Theme(Theme),
    /// How large the type is, as a share of its usual size.
    TextSize(f64),
    /// Whether nothing glides.
    LessMotion(bool),
    /// Whether the surround of the frame is shown.
    Surround(bool),
    /// What the site is shown as in the finder and in small pictures.
    FinderLook(Look),
    /// Show the first-minute guide, or close it.
    Guide(bool),
    /// Show the help, or close it.
    Help(bool),
    /// The largest lean that reads as upright.
    Upright(Angle),
}

/// The settings, the bag, and what is shown of the window.
#[derive(Debug)]
pub(super) struct SettingStore {
    all: Settings,
    /// The lenses that are carried, by name; all that the kit has unless given.
    bag: Option<Vec<String>>,
    desk_name: DeskName,
    help: bool,
    guide: bool,
}

impl SettingStore {
    pub(super) fn new(all: Settings) -> Self {
        Self { guide: !all.guide_seen, all, bag: None, desk_name: DeskName::default(), help: false }
    }

    pub(super) fn all(&self) -> &Settings {
        &self.all
    }

    pub(super) fn units(&self) -> Units {
        self.all.units
    }

    pub(super) fn theme(&self) -> Theme {
        self.all.theme
    }

    pub(super) fn desk_name(&self) -> DeskName {
        self.desk_name
    }

    pub(super) fn help(&self) -> bool {
        self.help
    }

    pub(super) fn guide(&self) -> bool {
        self.guide
    }

    pub(super) fn bag(&self) -> Option<&Vec<String>> {
        self.bag.as_ref()
    }

    /// Another plan is shown, with its bag.
    pub(super) fn set_bag(&mut self, bag: Option<Vec<String>>) {
        self.bag = bag;
    }

    /// Packs these lenses, by name.
    pub(super) fn pack(&mut self, bag: Vec<String>, kit: &Kit) {
        let all = kit.lenses.iter().all(|lens| bag.contains(&lens.name));
        self.bag = (!all).then_some(bag);
    }

    /// The lenses in the bag: all of the kit unless the planner has chosen.
    pub(super) fn carried<'a>(&'a self, kit: &'a Kit) -> impl Iterator<Item = &'a Lens> {
        kit.lenses.iter().filter(|lens| self.carries(&lens.name))
    }

    /// Whether a lens is in the bag.
    pub(super) fn carries(&self, lens: &str) -> bool {
        self.bag.as_ref().is_none_or(|bag| bag.iter().any(|name| name == lens))
    }

    pub(super) fn close_guide(&mut self) {
        self.guide = false;
    }

    /// Remembers that a site was opened.
    pub(super) fn opened(&mut self, source: &Source) {
        if let Source::File(path) = source {
            self.all.opened(path);
        }
    }

    /// Forgets a site that is not there any more.
    pub(super) fn not_opened(&mut self, error: &OpenError) {
        let is_it = |path: &Path| Source::File(path.into()).title() == error.title;
        self.all.recent.retain(|path| !(error.gone && is_it(path)));
    }

    pub(super) fn act(&mut self, action: SettingAction, kit: &Kit, effects: &mut Effects) {
        effects.change();
        match action {
            SettingAction::Preset { index, name, height_m } => {
                if let Err(text) = self.set_preset(index, name.trim(), height_m) {
                    effects.notice(NoticeKind::Error, text);
                }
            }
            SettingAction::RemovePreset(index) => {
                if index < self.all.presets.len() {
                    self.all.presets.remove(index);
                }
            }
            SettingAction::Carry(lens, carried) => {
                let mut bag: Vec<String> = self.carried(kit).map(|lens| lens.name.clone()).collect();
                bag.retain(|name| *name != lens);
                if carried {
                    bag.push(lens);
                }
                self.pack(bag, kit);
            }
            SettingAction::CarryOnly(lens) => self.bag = Some(vec![lens]),
            SettingAction::CarryAll => self.bag = None,
            SettingAction::ShowDesk(name) => {
                self.desk_name = name;
                effects.push(Effect::DeskShown(name));
            }
            SettingAction::Units(units) => self.all.units = units,
            SettingAction::Theme(theme) => self.all.theme = theme,
            SettingAction::TextSize(size) if size.is_finite() => {
                // In whole tenths, so that steps up and down meet.
                self.all.text_size = ((size * 10.0).round() / 10.0).clamp(*TEXT_SIZES.start(), *TEXT_SIZES.end());
            }
            SettingAction::TextSize(_) => {}
            SettingAction::LessMotion(less) => self.all.less_motion = less,
            SettingAction::Surround(shown) => self.all.surround = shown,
            SettingAction::FinderLook(look) => self.all.finder_look = look,
            SettingAction::Guide(shown) => {
                self.guide = shown;
                self.all.guide_seen |= !shown;
            }
            SettingAction::Help(shown) => self.help = shown,
            SettingAction::Upright(upright) => {
                self.all.upright = Angle::from_degrees(upright.degrees().clamp(0.0, 45.0));
                effects.push(Effect::MeasureWith { upright: self.all.upright });
            }
        }
    }

    fn set_preset(&mut self, index: usize, name: &str, height_m: f64) -> Result<(), String> {
        if name.is_empty() || !HEIGHTS_M.contains(&height_m) {
            return Err("a height needs a name and a value from 0.05 to 400 m".into());
        }
        if index >= self.all.presets.len() && self.all.presets.len() >= MOST_PRESETS {
            return Err(format!("there are already {MOST_PRESETS} named heights; remove one first"));
        }
        let preset = Preset { name: name.into(), height_m };
        match self.all.presets.get_mut(index) {
            Some(known) => *known = preset,
            None => self.all.presets.push(preset),
        }
        Ok(())
    }
}
