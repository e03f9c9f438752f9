//! Which stance does a move ask for?

use crate::angle::Angle;
use crate::optics::{FARTHEST_FOCUS_M, Lens, Orientation};
use crate::site::{Aim, PlanPoint, Stance};

use super::CameraMove;
use super::Desk;

/// The heights at which a camera can be held up, by whatever means.
const HEIGHTS_M: std::ops::RangeInclusive<f64> = 0.05..=400.0;
/// Focal lengths closer than this are the same mark.
const SAME_MARK: f64 = 1e-6;

/// What a move comes to.
#[derive(Debug)]
pub(super) struct Moved {
    /// The stance that is asked for.
    pub(super) stance: Stance,
    /// What is good to know about it.
    pub(super) told: Option<String>,
}

impl From<Stance> for Moved {
    fn from(stance: Stance) -> Self {
        Self { stance, told: None }
    }
}

impl Desk {
    /// The stance that a move asks for.
    pub(super) fn moved(&self, wanted: &CameraMove) -> Result<Moved, String> {
        let standing = &self.measured.standing;
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
                let focus_m = if focus_m.is_nan() { return Err("the focus is no number".into()) } else { *focus_m };
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

    /// The stance with everything written out as it is now: whatever is turned by hand stays as it is turned, with the
    /// focal length and rise it had.
    fn held(&self) -> Stance {
        let standing = &self.measured.standing;
        let attitude = standing.pose.attitude;
        self.turned(attitude.heading, attitude.pitch, attitude.roll)
    }

    /// As [`Self::held`], turned otherwise.
    fn turned(&self, heading: Angle, pitch: Angle, roll: Angle) -> Stance {
        let standing = &self.measured.standing;
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
        let camera = &self.measured.standing.camera;
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
        let lens = &self.measured.standing.lens;
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
        let standing = &self.measured.standing;
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
        let lens = &self.measured.standing.lens;
        let told = format!("the {} lens ends there; the {} lens is on the camera now", lens.name, next.name);
        Moved { stance: self.with_lens(next, focal_mm), told: Some(told) }
    }

    /// The lens of the bag that goes on where the present one ends: one that reaches the focal length, else the nearest
    /// beyond it; of the same radial law, and drawing as large a picture as the format needs.
    fn next_lens(&self, focal_mm: f64) -> Option<Lens> {
        let standing = &self.measured.standing;
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
        self.carried()
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
    if value.is_finite() { Ok(value) } else { Err(format!("the {what} is no number")) }
}

fn travel(travel_mm: f64, lens: &Lens, what: &str) -> Result<f64, String> {
    if travel_mm > 0.0 { Ok(travel_mm) } else { Err(format!("the {} lens has no {what}", lens.name)) }
}
