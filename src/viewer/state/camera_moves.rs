//! Which stance does a move ask for?

use crate::angle::Angle;
use crate::optics::{FARTHEST_FOCUS_M, Lens, Margins, Orientation, Proportion};
use crate::site::{Aim, PlanPoint, Stance};
use crate::stance::Standing;
use crate::survey::Survey;
use crate::walking::Feet;

use super::settings::SettingStore;
use super::settings_file::HEIGHTS_M;

/// Long steps are taken in paces no longer than this, so that no stair or wall is stepped over.
const PACE_M: f64 = 0.2;
/// The most paces taken at once.
const MOST_PACES: f64 = 500.0;

/// Focal lengths closer than this are the same mark.
const SAME_MARK: f64 = 1e-6;

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
    /// Keep these margins about the subject, or the usual ones.
    Margins(Option<Margins>),
    /// Turn the camera on its side, or back.
    Turn,
    /// Step on to a deck by its block's name, or down to the ground.
    StandOn(Option<String>),
    /// Stand at a plan position, on the ground or whatever fills it.
    StandAt(f64, f64),
    /// Take up a saved or pinned stance.
    TakeUp(Box<Stance>),
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
            | Self::Margins(_)
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

/// What a move comes to.
#[derive(Debug)]
pub(super) struct Moved {
    /// The stance that is asked for.
    pub(super) stance: Stance,
    /// What is good to know about it.
    pub(super) news: Option<String>,
}

impl From<Stance> for Moved {
    fn from(stance: Stance) -> Self {
        Self { stance, news: None }
    }
}

/// The present stance, from which a move is described, and what may be moved to.
pub(super) struct Present<'a> {
    pub(super) survey: &'a Survey,
    pub(super) settings: &'a SettingStore,
    pub(super) stance: &'a Stance,
    pub(super) standing: &'a Standing,
}

impl Present<'_> {
    /// The stance that a move asks for.
    pub(super) fn after(&self, wanted: &CameraMove) -> Result<Moved, String> {
        let standing = self.standing;
        let attitude = standing.pose.attitude;
        let held = self.held();
        Ok(match wanted {
            CameraMove::Walk { ahead_m, right_m } => {
                let (sine, cosine) = attitude.heading.sin_cos();
                let (ahead_m, right_m) = (finite(*ahead_m, "step")?, finite(*right_m, "step")?);
                let step = (ahead_m * sine + right_m * cosine, ahead_m * cosine - right_m * sine);
                self.stepped(held, step)?.into()
            }
            CameraMove::Look { heading, pitch } => {
                self.turned(attitude.heading + *heading, attitude.pitch + *pitch, attitude.roll).into()
            }
            CameraMove::Heading(heading) => self.turned(*heading, attitude.pitch, attitude.roll).into(),
            CameraMove::Pitch(pitch) => self.turned(attitude.heading, *pitch, attitude.roll).into(),
            CameraMove::Roll(roll) => self.turned(attitude.heading, attitude.pitch, *roll).into(),
            CameraMove::Level => self.turned(attitude.heading, Angle::ZERO, Angle::ZERO).into(),
            CameraMove::Aim(Aim::Rise) if standing.lens.rise_mm <= 0.0 => {
                let lens = &standing.lens.name;
                return Err(format!("the {lens} lens has no rise; level it without, or choose a lens with rise"));
            }
            CameraMove::Aim(aim) => {
                let orientation = Some(standing.orientation);
                Stance { aim: *aim, orientation, focal_mm: None, rise_mm: None, ..self.stance.clone() }.into()
            }
            CameraMove::LookAtSubject => {
                let middle = self.survey.subject.as_ref().map_err(ToString::to_string)?.middle;
                Stance { aim: Aim::At(middle.x, middle.y, middle.z), ..held }.into()
            }
            CameraMove::Height(height_m) => {
                let height_m = finite(*height_m, "height")?.clamp(*HEIGHTS_M.start(), *HEIGHTS_M.end());
                Stance { height_m, eye_height_m: None, ..held }.into()
            }
            CameraMove::Focal(focal_mm) => self.focal(finite(*focal_mm, "focal length")?),
            CameraMove::FocalStop(stops) => self.focal_stop(*stops),
            CameraMove::Lens(name) => {
                let lens = self.survey.kit.lens(name).map_err(|error| error.to_string())?;
                self.with_lens(&lens, standing.camera.focal_mm).into()
            }
            CameraMove::Aperture(f_number) => {
                let lens = &standing.lens;
                let f_number = finite(*f_number, "f-number")?.clamp(lens.widest_f, lens.narrowest_f);
                Stance { f_number, ..held }.into()
            }
            CameraMove::Focus(None) => Stance { focus_m: None, ..held }.into(),
            CameraMove::Focus(Some(focus_m)) => {
                let focus_m = if focus_m.is_nan() { return Err("the focus is not a number".into()) } else { *focus_m };
                Stance { focus_m: Some(focus_m.clamp(standing.lens.closest_focus_m(), FARTHEST_FOCUS_M)), ..held }
                    .into()
            }
            CameraMove::Rise(rise_mm) => {
                let travel_mm = travel(standing.lens.rise_mm, &standing.lens, "rise")?;
                Stance { rise_mm: Some(finite(*rise_mm, "rise")?.clamp(-travel_mm, travel_mm)), ..held }.into()
            }
            CameraMove::Shift(shift_mm) => {
                let travel_mm = travel(standing.lens.shift_mm, &standing.lens, "shift")?;
                let shift_mm = finite(*shift_mm, "shift")?.clamp(-travel_mm, travel_mm);
                Stance { shift_mm: Some(shift_mm), ..held }.into()
            }
            CameraMove::Format(name) => {
                let format = self.survey.kit.format(name).map_err(|error| error.to_string())?;
                Stance { format: format.name, ..held }.into()
            }
            CameraMove::Crop(crop) => Stance { crop: *crop, ..held }.into(),
            CameraMove::Margins(margins) => Stance { margins: *margins, ..self.seeking() }.into(),
            CameraMove::Turn => {
                let orientation = Some(match standing.orientation {
                    Orientation::Landscape => Orientation::Portrait,
                    Orientation::Portrait => Orientation::Landscape,
                });
                Stance { orientation, ..held }.into()
            }
            CameraMove::StandOn(None) => Stance { on: None, eye_height_m: None, ..self.seeking() }.into(),
            CameraMove::StandOn(Some(name)) => {
                let at = self.place_on_deck(name).ok_or_else(|| format!("'{name}' has no deck to stand on"))?;
                Stance { at, on: Some(name.clone()), eye_height_m: None, ..self.seeking() }.into()
            }
            CameraMove::StandAt(east, north) => {
                let at = (finite(*east, "place")?, finite(*north, "place")?);
                Stance { at, on: None, eye_height_m: None, ..self.seeking() }.into()
            }
            CameraMove::TakeUp(saved) => (**saved).clone().into(),
        })
    }

    /// So far over ground, up steps, along decks, up to walls; as far as the first thing that stops the feet.
    fn stepped(&self, mut stance: Stance, step: (f64, f64)) -> Result<Stance, String> {
        let Some(footing) = &self.standing.footing else {
            // An eye in the air flies on at its own height.
            stance.at = (stance.at.0 + step.0, stance.at.1 + step.1);
            return Ok(stance);
        };
        let paces = (step.0.hypot(step.1) / PACE_M).ceil().clamp(1.0, MOST_PACES);
        let pace = (step.0 / paces, step.1 / paces);
        let mut feet = Feet::of(stance.at, stance.on.as_deref(), footing);
        for taken in 0..paces as u32 {
            match feet.step(&self.survey.model, &self.survey.sight, pace) {
                Ok(next) => feet = next,
                Err(stopped) if taken == 0 => return Err(stopped.words(self.settings.units())),
                Err(_) => break,
            }
        }
        (stance.at, stance.on) = (feet.at, feet.on);
        Ok(stance)
    }

    /// The stance with everything written out as it is now: whatever is turned by hand stays as it is turned, with the
    /// focal length and rise it had.
    fn held(&self) -> Stance {
        let standing = self.standing;
        let attitude = standing.pose.attitude;
        self.turned(attitude.heading, attitude.pitch, attitude.roll)
    }

    /// As [`Self::held`], turned otherwise.
    fn turned(&self, heading: Angle, pitch: Angle, roll: Angle) -> Stance {
        let standing = self.standing;
        Stance {
            aim: Aim::Turned {
                heading_deg: heading.compass_degrees(),
                pitch_deg: pitch.degrees().clamp(-90.0, 90.0),
                roll_deg: roll.degrees().clamp(-180.0, 180.0),
            },
            orientation: Some(standing.orientation),
            focal_mm: standing.lens.is_zoom().then_some(standing.camera.focal_mm),
            rise_mm: Some(standing.camera.rise_mm),
            ..self.stance.clone()
        }
    }

    /// Whoever looks for the subject goes on doing so from another place; whoever does not keeps their heading.
    fn seeking(&self) -> Stance {
        if matches!(self.stance.aim, Aim::Turned { .. }) { self.held() } else { self.stance.clone() }
    }

    /// The stance with another lens on, as near to a focal length as it comes.
    fn with_lens(&self, lens: &Lens, focal_mm: f64) -> Stance {
        let camera = &self.standing.camera;
        let held = self.held();
        let within = |set_mm: f64, travel_mm: f64| set_mm.clamp(-travel_mm, travel_mm);
        Stance {
            focal_mm: lens.is_zoom().then(|| focal_mm.clamp(lens.focal_mm, lens.longest_mm())),
            rise_mm: Some(within(camera.rise_mm, lens.rise_mm)),
            shift_mm: held.shift_mm.map(|shift_mm| within(shift_mm, lens.shift_mm)),
            f_number: held.f_number.clamp(lens.widest_f, lens.narrowest_f),
            focus_m: held.focus_m.map(|focus_m| focus_m.max(lens.closest_focus_m())),
            lens: lens.name.clone(),
            ..held
        }
    }

    /// The stance at a focal length, with the next lens on where the present one does not reach it.
    fn focal(&self, focal_mm: f64) -> Moved {
        let lens = &self.standing.lens;
        if !lens.reaches(focal_mm)
            && let Some(next) = self.next_lens(focal_mm)
        {
            return self.swapped(&next, focal_mm);
        }
        let focal_mm = lens.is_zoom().then(|| focal_mm.clamp(lens.focal_mm, lens.longest_mm()));
        Stance { focal_mm, ..self.held() }.into()
    }

    /// So many marks on; past the last one, the next lens of the bag goes on at its first.
    fn focal_stop(&self, stops: i32) -> Moved {
        let standing = self.standing;
        let (lens, focal_mm) = (&standing.lens, standing.camera.focal_mm);
        let marks = marks_of(lens);
        let longer = stops > 0;
        let beyond: Vec<f64> = if longer {
            marks.iter().copied().filter(|mark| *mark > focal_mm * (1.0 + SAME_MARK)).collect()
        } else {
            marks.iter().rev().copied().filter(|mark| *mark < focal_mm * (1.0 - SAME_MARK)).collect()
        };
        let count = stops.unsigned_abs() as usize;
        if count == 0 {
            return self.held().into();
        }
        if let Some(mark) = beyond.get(count - 1).or(beyond.last()) {
            return Stance { focal_mm: lens.is_zoom().then_some(*mark), ..self.held() }.into();
        }
        let just_past_mm = if longer { focal_mm * (1.0 + 1e-3) } else { focal_mm * (1.0 - 1e-3) };
        let Some(next) = self.next_lens(just_past_mm) else { return self.held().into() };
        let first = marks_of(&next)
            .into_iter()
            .filter(|mark| if longer { *mark > just_past_mm } else { *mark < just_past_mm })
            .min_by(|a, b| (a - focal_mm).abs().total_cmp(&(b - focal_mm).abs()));
        self.swapped(&next, first.unwrap_or(just_past_mm))
    }

    fn swapped(&self, next: &Lens, focal_mm: f64) -> Moved {
        let lens = &self.standing.lens;
        let news = format!("end of the {} lens; the {} lens is on the camera", lens.name, next.name);
        Moved { stance: self.with_lens(next, focal_mm), news: Some(news) }
    }

    /// The lens of the bag that goes on where the present one ends: one that reaches the focal length, else the nearest
    /// beyond it; of the same radial law, and drawing as large a picture as the format needs.
    fn next_lens(&self, focal_mm: f64) -> Option<Lens> {
        let standing = self.standing;
        let present = &standing.lens;
        let longer = focal_mm > present.longest_mm();
        let diagonal_mm = standing.format.diagonal_mm();
        let fits = |lens: &&Lens| {
            lens.mapping == present.mapping
                && lens.name != present.name
                && lens.circle_mm.is_none_or(|circle_mm| circle_mm >= diagonal_mm)
                && if longer { lens.longest_mm() > present.longest_mm() } else { lens.focal_mm < present.focal_mm }
        };
        let missing_mm = |lens: &Lens| {
            if lens.reaches(focal_mm) {
                0.0
            } else {
                (lens.focal_mm - focal_mm).abs().min((lens.longest_mm() - focal_mm).abs())
            }
        };
        // Of two that reach it: one that moves as far as the present one, a zoom before a prime, then the one that
        // goes on longest in the same direction.
        let suits = |lens: &Lens| {
            let goes_on_mm = if longer { lens.longest_mm() } else { -lens.focal_mm };
            (lens.rise_mm >= present.rise_mm, present.rise_mm > 0.0 || lens.rise_mm == 0.0, lens.is_zoom(), goes_on_mm)
        };
        self.settings
            .carried(&self.survey.kit)
            .filter(fits)
            .min_by(|a, b| {
                let (a_suits, b_suits) = (suits(a), suits(b));
                missing_mm(a)
                    .total_cmp(&missing_mm(b))
                    .then(b_suits.0.cmp(&a_suits.0))
                    .then(b_suits.1.cmp(&a_suits.1))
                    .then(b_suits.2.cmp(&a_suits.2))
                    .then(b_suits.3.total_cmp(&a_suits.3))
                    .then_with(|| a.name.cmp(&b.name))
            })
            .cloned()
    }

    /// Where one steps on to a deck: its nearest place, well inside where there is room.
    fn place_on_deck(&self, name: &str) -> Option<PlanPoint> {
        let model = &self.survey.model;
        let deck = model
            .decks
            .iter()
            .filter(|deck| model.site.blocks[deck.block].name == name)
            .max_by(|a, b| a.height_m.total_cmp(&b.height_m))?;
        let count = deck.outline.len() as f64;
        let (x, y) = deck.outline.iter().fold((0.0, 0.0), |sum, corner| (sum.0 + corner.0, sum.1 + corner.1));
        let middle = (x / count, y / count);
        let stands = |at: PlanPoint| model.footing(at, Some(name)).is_ok();
        if stands(middle) {
            return Some(middle);
        }
        // A ring, or an outline that bends around its middle: between a corner and the middle, or along a side.
        let between = |a: PlanPoint, b: PlanPoint, share: f64| (a.0 + (b.0 - a.0) * share, a.1 + (b.1 - a.1) * share);
        (0..deck.outline.len()).find_map(|index| {
            let side = between(deck.outline[index], deck.outline[(index + 1) % deck.outline.len()], 0.5);
            [0.02, 0.1, 0.3, 0.6].into_iter().map(|share| between(side, middle, share)).find(|at| stands(*at))
        })
    }
}

/// The focal lengths at which a lens stops: those engraved on it, and its ends.
pub fn marks_of(lens: &Lens) -> Vec<f64> {
    let mut marks = lens.marks_mm.clone();
    marks.extend([lens.focal_mm, lens.longest_mm()]);
    marks.sort_by(f64::total_cmp);
    marks.dedup_by(|a, b| (*a - *b).abs() <= SAME_MARK * *b);
    marks
}

fn finite(value: f64, what: &str) -> Result<f64, String> {
    if value.is_finite() { Ok(value) } else { Err(format!("the {what} is not a number")) }
}

fn travel(travel_mm: f64, lens: &Lens, what: &str) -> Result<f64, String> {
    if travel_mm > 0.0 { Ok(travel_mm) } else { Err(format!("the {} lens has no {what}", lens.name)) }
}
