//! What can the walker do? Everything that keys, mouse and panels ask for, as plain data.

use std::path::PathBuf;

use crate::angle::Angle;
use crate::handover::deliver::{DeliveryForm, DeliveryKind, IfExists};
use crate::optics::Proportion;
use crate::plan::PrintId;
use crate::search::Figure;
use crate::site::{Aim, Stance, Sun};
use crate::theme::Theme;
use crate::units::Units;
use crate::viewer::state::work::WorkId;

use super::delivery::DeliveryOptions;
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

/// One thing that the walker does.
#[derive(Clone, Debug, PartialEq)]
pub enum Action {
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
    /// Crop to a proportion, or take the crop off.
    Crop(Option<Proportion>),
    /// Turn the camera on its side, or back.
    Turn,
    /// Step on to a deck by its block's name, or down to the ground.
    StandOn(Option<String>),
    /// Stand at a plan position, on the ground or whatever fills it.
    StandAt(f64, f64),
    /// Take up a saved or pinned stance.
    TakeUp(Box<Stance>),
    /// Take back the last move.
    Undo,
    /// Make it again.
    Redo,
    /// Where the sun stands; the site's own without one.
    Sun(Option<Sun>),

    /// Keep the present stance as a print.
    Pin,
    /// Keep another stance as a print, such as one that a search found.
    PinStance(Box<Stance>),
    /// Take a print away.
    Unpin(PrintId),
    /// Put the print back that was taken away last.
    PutBack,
    /// Call a print something else.
    Rename(PrintId, String),
    /// Write on a print's back.
    Note(PrintId, String),
    /// Put a print at this place in the order.
    Move(PrintId, usize),
    /// Compare readings with a print, or with nothing.
    Against(Option<PrintId>),
    /// Lay a print beside the others on Compare, or take it off.
    Lay(PrintId, bool),
    /// Swap the present stance with the one it is compared with, and back.
    Flick,
    /// Take up a print's stance.
    TakeUpPrint(PrintId),

    /// Name a height, or change one; an index past the last adds it.
    Preset {
        /// Its place in the list.
        index: usize,
        /// What it is called.
        name: String,
        /// The camera above the feet.
        height_m: f64,
    },
    /// Take a named height off the list.
    RemovePreset(usize),
    /// Put a lens into the bag, or leave it at home.
    Carry(String, bool),

    /// Sit at another desk.
    Sit(DeskName),
    /// Tell lengths in another unit.
    Units(Units),
    /// Dress the window otherwise.
    Theme(Theme),
    /// Whether nothing glides.
    LessMotion(bool),
    /// Whether the surround of the frame is shown.
    Surround(bool),
    /// Show the straightened picture with this share of the tilt taken out (1 is all of it), or the picture as taken.
    Straighten(Option<f64>),
    /// Show the first-minute guide, or put it away.
    Guide(bool),
    /// Show the help, or put it away.
    Help(bool),
    /// Put a notice away, by its place in the list.
    Dismiss(usize),
    /// The largest lean that reads as upright.
    Upright(Angle),

    /// Requirement for something else at the Search desk.
    Seek(Box<Seeking>),
    /// Search by these requirements.
    Search,
    /// Leave the search that runs.
    StopSearch,
    /// Show another figure on the map of the search.
    ShowFigure(Figure),

    /// Show another kind of thing at the Hand over desk.
    ShowDelivery(DeliveryKind),
    /// Change how what is handed over is put together.
    DeliveryOptions(Box<DeliveryOptions>),
    /// Choose the file of the user's name, address and mark in a dialog.
    ChooseBrand,
    /// That file, or none.
    Brand(Option<PathBuf>),
    /// Write a thing into the chosen folder.
    Write(DeliveryForm),
    /// Decide what happens to what is in the way of it; nothing is written without an answer.
    AnswerInTheWay(Option<IfExists>),

    /// Open a site file.
    Open(PathBuf),
    /// Open one of the demo sites.
    OpenScene(usize),
    /// Choose a site file in a dialog.
    OpenDialog,
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
    /// Put away the question for a typed path.
    StopAsking,
    /// Call off a piece of work.
    CancelWork(WorkId),
    /// Keep everything and close the window.
    Quit,
}

impl Action {
    /// Whether it goes on as long as a key is held or the mouse moves, so that a run of it is one move.
    pub(super) fn runs_on(&self) -> bool {
        matches!(
            self,
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
                | Self::StandAt(..)
        )
    }
}
