//! How is a card, a sheet, a list of places or a sequence made ready in the background, to be looked at before it is written?

use std::path::PathBuf;
use std::sync::Arc;

use crate::handover::places::Places;
use crate::handover::sequence::{Sequence, Step};
use crate::handover::{Brand, CardError, ClientSheet, FieldCard, MOST_STANCES, SheetError};
use crate::place::Day;
use crate::plan::PrintId;
use crate::progress::Progress;
use crate::site::{Stance, Sun};
use crate::still::StillError;
use crate::survey::{MeasureSettings, Survey};
use crate::theme::Theme;
use crate::units::Units;
use crate::viewer::state::clock::today;

/// A kind of thing that leaves the desk.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Leaf {
    /// A still and its record.
    #[default]
    Still,
    /// A page for the field.
    Card,
    /// A folder for whoever pays.
    Sheet,
    /// Stances, subject and grounds on the map.
    Places,
    /// A move between two stances.
    Sequence,
}

impl Leaf {
    /// All of them, in order.
    pub const ALL: [Self; 5] = [Self::Still, Self::Card, Self::Sheet, Self::Places, Self::Sequence];

    /// As it is written on the desk.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Still => "Capture",
            Self::Card => "Field card",
            Self::Sheet => "Client sheet",
            Self::Places => "For the map",
            Self::Sequence => "Sequence",
        }
    }
}

/// How things leave: what goes in, whose name is on them.
#[derive(Clone, Debug, PartialEq)]
pub struct Packet {
    /// The day that cards and sheets are for.
    pub day: Option<Day>,
    /// Prints that stay out of sheets and places.
    pub left_out: Vec<PrintId>,
    /// The file of the user's name, address and mark.
    pub brand: Option<PathBuf>,
    /// The sheet's title; the brand's, or the site's name where it is empty.
    pub title: String,
    /// The prints that a sequence runs between; the first and the last unless chosen.
    pub ends: [Option<PrintId>; 2],
    /// How many frames a sequence has.
    pub frames: u32,
    /// Pixels across each.
    pub width_px: u32,
    /// Whether verticals, sides and the horizon are drawn over each frame.
    pub overlay: bool,
}

impl Packet {
    pub(in crate::viewer::state) fn first() -> Self {
        Self {
            day: today(),
            left_out: Vec::new(),
            brand: None,
            title: String::new(),
            ends: [None, None],
            frames: 48,
            width_px: 720,
            overlay: true,
        }
    }
}

/// Something made ready, to be looked at before it is written.
#[derive(Clone, Debug)]
pub enum Ready {
    /// A field card.
    Card(Arc<FieldCard>),
    /// A client sheet.
    Sheet(Arc<ClientSheet>),
    /// Places.
    Places(Arc<Places>),
    /// The cameras of a sequence.
    Sequence(Arc<Vec<Step>>),
}

/// What a thing that is made ready depends on.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::viewer::state) struct ReadyOf {
    pub(in crate::viewer::state) leaf: Leaf,
    pub(in crate::viewer::state) stances: Vec<Stance>,
    pub(in crate::viewer::state) site: u64,
    pub(in crate::viewer::state) sun: Option<Sun>,
    pub(in crate::viewer::state) measure_settings: MeasureSettings,
    pub(in crate::viewer::state) packet: Packet,
    pub(in crate::viewer::state) theme: Theme,
    pub(in crate::viewer::state) units: Units,
}

/// Why something cannot be made ready or written.
pub(super) enum Unmade {
    Cancelled,
    Because(String),
}

impl Unmade {
    pub(super) fn because(error: impl std::fmt::Display) -> Self {
        Self::Because(error.to_string())
    }
}

impl From<CardError> for Unmade {
    fn from(error: CardError) -> Self {
        match error {
            CardError::Still(StillError::Cancelled(_)) => Self::Cancelled,
            error => Self::because(error),
        }
    }
}

impl From<SheetError> for Unmade {
    fn from(error: SheetError) -> Self {
        match error {
            SheetError::Cancelled(_) | SheetError::Still(StillError::Cancelled(_)) => Self::Cancelled,
            SheetError::NoStance => Self::Because("no print goes in; choose one at least".into()),
            SheetError::TooMany { given } => {
                Self::Because(format!("{given} prints are more than find room; choose {MOST_STANCES} or fewer"))
            }
            error => Self::because(error),
        }
    }
}

/// Makes a thing ready, in the background; `None` where it was called off.
pub(in crate::viewer::state) fn ready(
    survey: &Survey,
    of: &ReadyOf,
    progress: &Progress,
) -> Option<Result<Ready, String>> {
    match made(survey, of, progress) {
        Ok(ready) => Some(Ok(ready)),
        Err(Unmade::Because(text)) => Some(Err(text)),
        Err(Unmade::Cancelled) => None,
    }
}

pub(super) fn made(survey: &Survey, of: &ReadyOf, progress: &Progress) -> Result<Ready, Unmade> {
    let no_day = || Unmade::Because("the computer's clock tells no day; write one".into());
    match of.leaf {
        Leaf::Still => Err(Unmade::Because("a still is taken, not made ready".into())),
        Leaf::Card => {
            let [stance] = of.stances.as_slice() else {
                return Err(Unmade::Because("a card is for one stance".into()));
            };
            let measured = survey.measure(stance, &of.measure_settings).map_err(Unmade::because)?;
            let day = of.packet.day.ok_or_else(no_day)?;
            Ok(Ready::Card(Arc::new(FieldCard::of(survey, stance, &measured, (day, of.units), progress)?)))
        }
        Leaf::Sheet => {
            let mut brand = match &of.packet.brand {
                Some(path) => Brand::read(path).map_err(Unmade::because)?,
                None => Brand::default(),
            };
            let title = of.packet.title.trim();
            if !title.is_empty() {
                brand.title = Some(title.to_owned());
            }
            let mut stances = Vec::with_capacity(of.stances.len());
            for stance in &of.stances {
                let wrong = |error| Unmade::Because(format!("{}: {error}", stance.name));
                stances.push((stance.clone(), survey.measure(stance, &of.measure_settings).map_err(wrong)?));
            }
            let day = of.packet.day.ok_or_else(no_day)?;
            Ok(Ready::Sheet(Arc::new(ClientSheet::of(survey, &stances, brand, (day, of.units), progress)?)))
        }
        Leaf::Places => {
            let places = Places::of(survey, &of.stances).map_err(Unmade::because)?;
            if places.stances.is_empty() && places.subject.is_none() && places.grounds.is_empty() {
                return Err(Unmade::Because("there is nothing to place: no stance, no subject, no ground".into()));
            }
            Ok(Ready::Places(Arc::new(places)))
        }
        Leaf::Sequence => {
            let steps = sequence(of)?.steps(survey).map_err(Unmade::because)?;
            Ok(Ready::Sequence(Arc::new(steps)))
        }
    }
}

pub(super) fn sequence(of: &ReadyOf) -> Result<Sequence, Unmade> {
    let [from, to] = of.stances.as_slice() else {
        return Err(Unmade::Because("a sequence runs between two prints; pin two stances first".into()));
    };
    Ok(Sequence {
        from: from.clone(),
        to: to.clone(),
        frames: of.packet.frames,
        width_px: of.packet.width_px,
        samples: 4,
        theme: of.theme,
        overlay: of.packet.overlay,
        per_second: 12,
        units: of.units,
    })
}
