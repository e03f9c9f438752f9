//! What can the walker do? Everything that keys, mouse and panels ask for, as plain data.

use std::path::PathBuf;

use crate::angle::Angle;
use crate::optics::Proportion;
use crate::plan::PrintId;
use crate::search::Figure;
use crate::site::{Aim, Stance, Sun};
use crate::theme::Theme;
use crate::units::Units;
use crate::viewer::state::work::WorkId;

use super::handing::{Leaf, Order, Packet, Way};
use super::searching::Seeking;

/// One of the four arrangements of the same parts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum DeskName {
    /// The finder is large.
    #[default]
    Walk,
    /// The plan is large.
    Search,
    /// Prints lie side by side.
    Compare,
    /// Records, cards and sheets.
    HandOver,
}

impl DeskName {
    /// All of them, in order.
    pub const ALL: [Self; 4] = [Self::Walk, Self::Search, Self::Compare, Self::HandOver];

    /// As it is written on the divider.
    pub fn words(self) -> &'static str {
        match self {
            Self::Walk => "Walk",
            Self::Search => "Search",
            Self::Compare => "Compare",
            Self::HandOver => "Hand over",
        }
    }
}

/// One thing that the walker does; each store takes its own.
///
/// Every `match` over these lists all of them, so that an action that nobody handles does not compile.
#[derive(Clone, Debug, PartialEq)]
pub enum Action {
    /// Where the camera stands, and how it looks.
    Camera(CameraAction),
    /// The pinned stances.
    Print(PrintAction),
    /// The search for places.
    Search(SearchAction),
    /// What is handed over.
    Delivery(DeliveryAction),
    /// Sites opened and closed.
    File(FileAction),
    /// What is remembered, and how the window is arranged.
    Setting(SettingAction),
    /// The list of notices.
    Notice(NoticeAction),
    /// Work in the background.
    Work(WorkAction),
}

/// What happens to the stance taken up.
#[derive(Clone, Debug, PartialEq)]
pub enum CameraAction {
    /// Take up another stance.
    Move(CameraMove),
    /// Take back the last move.
    Undo,
    /// Make it again.
    Redo,
    /// Where the sun stands; the site's own without one.
    Sun(Option<Sun>),
    /// Show the straightened picture with this share of the tilt taken out (1 is all of it), or the picture as taken.
    Straighten(Option<f64>),
}

/// Another stance, described from the present one.
#[derive(Clone, Debug, PartialEq)]
pub enum CameraMove {
    /// Walk so far ahead and to the right of where the camera looks.
    Walk {
        /// Metres ahead; negative steps back.
        ahead_m: f64,
        /// Metres to the right.
        right_m: f64,
    },
    /// Turn and tilt by so much.
    Look {
        /// Clockwise.
        heading: Angle,
        /// Up.
        pitch: Angle,
    },
    /// Turn to this compass direction.
    Heading(Angle),
    /// Tilt to this angle above the horizon.
    Pitch(Angle),
    /// Roll to this angle, clockwise as seen from behind the camera.
    Roll(Angle),
    /// Aim in one of the ways that look for the subject.
    Aim(Aim),
    /// Turn to the middle of the subject, with the lens as it is.
    LookAtSubject,
    /// Hold the camera level where it looks.
    Level,
    /// Put the camera this high above the feet.
    Height(f64),
    /// Turn to this focal length; past the end of a lens, the next one of the bag goes on.
    Focal(f64),
    /// Turn so many of the lens's marked focal lengths longer, or shorter when negative.
    FocalStop(i32),
    /// Put another lens on, by name.
    Lens(String),
    /// Set the f-number.
    Aperture(f64),
    /// Focus at so many metres; at the subject without a number.
    Focus(Option<f64>),
    /// Move the lens up by so many millimetres in all.
    Rise(f64),
    /// Move the lens to the right by so many millimetres in all.
    Shift(f64),
    /// Take another body, by its format's name.
    Format(String),
    /// Crop to a proportion, or show the whole frame.
    Crop(Option<Proportion>),
    /// Turn the camera on its side, or back.
    Turn,
    /// Step on to a deck by its block's name, or down to the ground.
    StandOn(Option<String>),
    /// Stand at a plan position, on the ground or whatever fills it.
    StandAt(f64, f64),
    /// Take up a saved or pinned stance.
    TakeUp(Box<Stance>),
}

/// What happens to the prints.
#[derive(Clone, Debug, PartialEq)]
pub enum PrintAction {
    /// Keep the present stance as a print.
    Pin,
    /// Keep another stance as a print, such as one that a search found.
    PinStance(Box<Stance>),
    /// Remove a print.
    Unpin(PrintId),
    /// Bring back the print that was removed last.
    Restore,
    /// Call a print something else.
    Rename(PrintId, String),
    /// Write on a print's back.
    Note(PrintId, String),
    /// Put a print at this place in the order.
    Move(PrintId, usize),
    /// Compare readings with a print, or with nothing.
    CompareWith(Option<PrintId>),
    /// Lay a print beside the others on Compare, or remove it from them.
    Lay(PrintId, bool),
    /// Swap the present stance with the one it is compared with, and back.
    Flick,
    /// Take up a print's stance.
    TakeUp(PrintId),
}

/// What happens on the Search desk.
#[derive(Clone, Debug, PartialEq)]
pub enum SearchAction {
    /// Require something else.
    Change(Box<Seeking>),
    /// Search by these requirements.
    Start,
    /// Stop the search that runs.
    Stop,
    /// Show another figure on the map of the search.
    ShowFigure(Figure),
}

/// What happens on the Hand over desk, and to stills.
#[derive(Clone, Debug, PartialEq)]
pub enum DeliveryAction {
    /// Show another kind of thing.
    ShowPage(Leaf),
    /// Change what goes in and how.
    SetOptions(Box<Packet>),
    /// Choose the file of the user's name, address and mark in a dialog.
    ChooseBrand,
    /// That file, or none.
    Brand(Option<PathBuf>),
    /// Write a thing into the chosen folder.
    Write(Order),
    /// Decide what becomes of what is in the way of it.
    Resolve(Way),
    /// Take a still and write its record.
    Capture {
        /// With all of the body's pixels, not only those shown.
        full: bool,
        /// Where to; the chosen folder unless given.
        folder: Option<PathBuf>,
    },
    /// Choose the folder for captures in a dialog.
    ChooseFolder,
    /// Captures go here.
    Folder(PathBuf),
}

/// Which site is shown.
#[derive(Clone, Debug, PartialEq)]
pub enum FileAction {
    /// Open a site file.
    Open(PathBuf),
    /// Open one of the demo sites.
    OpenScene(usize),
    /// Choose a site file in a dialog.
    OpenDialog,
    /// Close the question for a typed path.
    StopAsking,
    /// Save everything and close the window.
    Quit,
}

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
    /// Show another desk.
    ShowDesk(DeskName),
    /// Write lengths in another unit.
    Units(Units),
    /// Show the window in other colours.
    Theme(Theme),
    /// Whether nothing glides.
    LessMotion(bool),
    /// Whether the surround of the frame is shown.
    Surround(bool),
    /// Show the first-minute guide, or close it.
    Guide(bool),
    /// Show the help, or close it.
    Help(bool),
    /// The largest lean that reads as upright.
    Upright(Angle),
}

/// What happens to notices.
#[derive(Clone, Debug, PartialEq)]
pub enum NoticeAction {
    /// Close one, by its place in the list.
    Dismiss(usize),
}

/// What happens to work in the background.
#[derive(Clone, Debug, PartialEq)]
pub enum WorkAction {
    /// Stop it.
    Cancel(WorkId),
}

/// Lets every kind be given wherever an [`Action`] is asked for.
macro_rules! actions_of {
    ($($kind:ident => $variant:ident),+ $(,)?) => {
        $(impl From<$kind> for Action {
            fn from(action: $kind) -> Self {
                Self::$variant(action)
            }
        })+
    };
}

actions_of!(
    CameraAction => Camera,
    PrintAction => Print,
    SearchAction => Search,
    DeliveryAction => Delivery,
    FileAction => File,
    SettingAction => Setting,
    NoticeAction => Notice,
    WorkAction => Work,
);

impl From<CameraMove> for Action {
    fn from(wanted: CameraMove) -> Self {
        Self::Camera(CameraAction::Move(wanted))
    }
}

impl CameraMove {
    /// Whether it goes on as long as a key is held or the mouse moves, so that a run of it is one move.
    pub(super) fn runs_on(&self) -> bool {
        match self {
            Self::Walk { .. }
            | Self::Look { .. }
            | Self::Heading(_)
            | Self::Pitch(_)
            | Self::Roll(_)
            | Self::Height(_)
            | Self::Focal(_)
            | Self::FocalStop(_)
            | Self::Aperture(_)
            | Self::Focus(_)
            | Self::Rise(_)
            | Self::Shift(_)
            | Self::StandAt(..) => true,
            Self::Aim(_)
            | Self::LookAtSubject
            | Self::Level
            | Self::Lens(_)
            | Self::Format(_)
            | Self::Crop(_)
            | Self::Turn
            | Self::StandOn(_)
            | Self::TakeUp(_) => false,
        }
    }
}
