//! Where does the walker stand, and what did they do to get there? The window's whole state, without a window.
//!
//! Every change is an [`Action`] on a described [`Stance`]; what is drawn and read is what the core makes of it. Undoing
//! takes up an earlier stance again.

use std::sync::Arc;

use crate::angle::Angle;
use crate::outline::OutlineError;
use crate::site::{Aim, Stance};
use crate::stance::StanceError;
use crate::survey::{Measured, Survey, Wishes};
use crate::walking::Feet;

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
    /// Aim in one of the ways that look for the subject.
    Aim(Aim),
    /// Hold the camera level where it looks.
    Level,
    /// Put the camera this high above the feet.
    Height(f64),
    /// Turn a zoom to this focal length.
    Focal(f64),
    /// Put another lens on, by name.
    Lens(String),
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
}

/// What the walker is told.
#[derive(Clone, Debug, PartialEq)]
pub struct Notice {
    /// What happened.
    pub text: String,
}

/// The walker, their camera, and what it sees.
pub struct Desk {
    survey: Arc<Survey>,
    stance: Stance,
    measured: Measured,
    wishes: Wishes,
    past: Vec<Stance>,
    future: Vec<Stance>,
    /// Whether the last action may be joined by another of its kind.
    moving: bool,
    notices: Vec<Notice>,
}

impl std::fmt::Debug for Desk {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Desk").field("stance", &self.stance).finish_non_exhaustive()
    }
}

impl Desk {
    /// A walker who takes up a stance on a site.
    ///
    /// # Errors
    /// The stance is impossible.
    pub fn new(survey: Arc<Survey>, stance: Stance, wishes: Wishes) -> Result<Self, StanceError> {
        let measured = survey.measure(&stance, &wishes)?;
        Ok(Self {
            survey,
            stance,
            measured,
            wishes,
            past: Vec::new(),
            future: Vec::new(),
            moving: false,
            notices: Vec::new(),
        })
    }

    /// The site.
    pub fn survey(&self) -> &Arc<Survey> {
        &self.survey
    }

    /// The stance as described now.
    pub fn stance(&self) -> &Stance {
        &self.stance
    }

    /// What is measured from it.
    pub fn measured(&self) -> &Measured {
        &self.measured
    }

    /// What was told, oldest first.
    pub fn notices(&self) -> &[Notice] {
        &self.notices
    }

    /// Does one thing; what cannot be done is told and changes nothing. Returns whether anything changed.
    pub fn act(&mut self, action: &Action) -> bool {
        let joined = matches!(action, Action::Walk { .. } | Action::Look { .. } | Action::Height(_) | Action::Focal(_));
        match action {
            Action::Undo => return self.step_back(),
            Action::Redo => return self.step_forward(),
            _ => {}
        }
        let wanted = match self.described(action) {
            Ok(wanted) => wanted,
            Err(text) => {
                self.tell(text);
                return false;
            }
        };
        if wanted == self.stance {
            return false;
        }
        match self.survey.measure(&wanted, &self.wishes) {
            Ok(measured) => {
                if !(joined && self.moving) {
                    self.past.push(self.stance.clone());
                    self.future.clear();
                }
                self.moving = joined;
                (self.stance, self.measured) = (wanted, measured);
                true
            }
            Err(error) => {
                self.tell(error.to_string());
                false
            }
        }
    }

    /// The walker has come to rest: the next step is a move of its own.
    pub fn rest(&mut self) {
        self.moving = false;
    }

    fn tell(&mut self, text: String) {
        if self.notices.last().is_none_or(|last| last.text != text) {
            self.notices.push(Notice { text });
        }
    }

    fn step_back(&mut self) -> bool {
        let Some(earlier) = self.past.pop() else { return false };
        let now = self.stance.clone();
        let done = self.take_up(earlier);
        if done {
            self.future.push(now);
        }
        done
    }

    fn step_forward(&mut self) -> bool {
        let Some(later) = self.future.pop() else { return false };
        let now = self.stance.clone();
        let done = self.take_up(later);
        if done {
            self.past.push(now);
        }
        done
    }

    fn take_up(&mut self, stance: Stance) -> bool {
        self.moving = false;
        match self.survey.measure(&stance, &self.wishes) {
            Ok(measured) => {
                (self.stance, self.measured) = (stance, measured);
                true
            }
            Err(error) => {
                self.tell(error.to_string());
                false
            }
        }
    }

    /// The stance that an action asks for.
    fn described(&self, action: &Action) -> Result<Stance, String> {
        let standing = &self.measured.standing;
        let attitude = standing.pose.attitude;
        let mut stance = self.stance.clone();
        // Whatever is turned by hand stays as it is turned, with the focal length it had.
        let turned = |heading: Angle, pitch: Angle| Aim::Turned {
            heading_deg: heading.compass_degrees(),
            pitch_deg: pitch.degrees().clamp(-90.0, 90.0),
            roll_deg: attitude.roll.degrees(),
        };
        let hold = |stance: &mut Stance| {
            stance.aim = turned(attitude.heading, attitude.pitch);
            stance.orientation = Some(standing.orientation);
            stance.focal_mm = standing.lens.is_zoom().then_some(standing.camera.focal_mm);
            stance.rise_mm = Some(standing.camera.rise_mm);
        };
        match action {
            Action::Walk { ahead_m, right_m } => {
                let (sine, cosine) = attitude.heading.sin_cos();
                let step = (ahead_m * sine + right_m * cosine, ahead_m * cosine - right_m * sine);
                stance = self.stepped(stance, step)?;
                hold(&mut stance);
            }
            Action::Look { heading, pitch } => {
                hold(&mut stance);
                stance.aim = turned(attitude.heading + *heading, attitude.pitch + *pitch);
            }
            Action::Level => {
                hold(&mut stance);
                stance.aim = turned(attitude.heading, Angle::ZERO);
            }
            Action::Aim(aim) => {
                stance.aim = *aim;
                (stance.orientation, stance.focal_mm, stance.rise_mm) = (Some(standing.orientation), None, None);
            }
            Action::Height(height_m) => {
                hold(&mut stance);
                (stance.height_m, stance.eye_height_m) = (height_m.clamp(0.2, 120.0), None);
            }
            Action::Focal(focal_mm) => {
                hold(&mut stance);
                let lens = &standing.lens;
                stance.focal_mm = lens.is_zoom().then(|| focal_mm.clamp(lens.focal_mm, lens.longest_mm()));
            }
            Action::Lens(name) => {
                let lens = self.survey.kit.lens(name).map_err(|error| error.to_string())?;
                hold(&mut stance);
                let kept_mm = standing.camera.focal_mm.clamp(lens.focal_mm, lens.longest_mm());
                stance.focal_mm = lens.is_zoom().then_some(kept_mm);
                stance.rise_mm = Some(standing.camera.rise_mm.clamp(-lens.rise_mm, lens.rise_mm));
                stance.f_number = stance.f_number.clamp(lens.widest_f, lens.narrowest_f);
                stance.lens = lens.name;
            }
            Action::Turn => {
                use crate::optics::Orientation;
                hold(&mut stance);
                stance.orientation = Some(match standing.orientation {
                    Orientation::Landscape => Orientation::Portrait,
                    Orientation::Portrait => Orientation::Landscape,
                });
            }
            Action::StandOn(deck) => {
                hold(&mut stance);
                stance.eye_height_m = None;
                stance.on.clone_from(deck);
                if let Some(name) = deck {
                    stance.at = self.middle_of_deck(name).ok_or_else(|| format!("'{name}' has no deck"))?;
                }
            }
            Action::StandAt(east, north) => {
                hold(&mut stance);
                (stance.at, stance.on, stance.eye_height_m) = ((*east, *north), None, None);
            }
            Action::TakeUp(saved) => stance = (**saved).clone(),
            Action::Undo | Action::Redo => {}
        }
        Ok(stance)
    }

    /// One step of the feet: over ground, up steps, along decks, up to walls.
    fn stepped(&self, mut stance: Stance, step: (f64, f64)) -> Result<Stance, String> {
        let Some(footing) = &self.measured.standing.footing else {
            // An eye in the air flies on at its own height.
            stance.at = (stance.at.0 + step.0, stance.at.1 + step.1);
            return Ok(stance);
        };
        let feet = Feet::of(stance.at, stance.on.as_deref(), footing);
        let feet = feet.step(&self.survey.model, &self.survey.sight, step).map_err(|stopped| stopped.to_string())?;
        (stance.at, stance.on) = (feet.at, feet.on);
        Ok(stance)
    }

    fn middle_of_deck(&self, name: &str) -> Option<(f64, f64)> {
        let model = &self.survey.model;
        let deck = model
            .decks
            .iter()
            .filter(|deck| model.site.blocks[deck.block].name == name)
            .max_by(|a, b| a.height_m.total_cmp(&b.height_m))?;
        let count = deck.outline.len() as f64;
        let (x, y) = deck.outline.iter().fold((0.0, 0.0), |sum, corner| (sum.0 + corner.0, sum.1 + corner.1));
        Some((x / count, y / count))
    }
}

/// The stance with which a site is first entered: its first saved one, else 1.5 times the subject's height to its south.
pub fn first_stance(survey: &Survey) -> Stance {
    if let Some(saved) = survey.model.site.stances.first() {
        return saved.clone();
    }
    let at = match &survey.subject {
        Ok(subject) => {
            let back_m =
                1.5 * (subject.top_m - subject.foot_m).max(4.0) + (subject.middle.y - subject.foot_m).abs().min(20.0);
            (subject.middle.x, subject.middle.y - back_m)
        }
        Err(OutlineError::NoSubject | OutlineError::Surrounds) => (0.0, -30.0),
    };
    let aim = if survey.subject.is_ok() {
        Aim::Fill
    } else {
        Aim::Turned { heading_deg: 0.0, pitch_deg: 0.0, roll_deg: 0.0 }
    };
    Stance { aim, ..Stance::plain("first look", at) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenes::SCENES;
    use crate::site::{LoadedSite, parse_site, site_hash};

    fn saltings() -> Desk {
        let text = SCENES[0].text;
        let site = parse_site(text, "saltings").expect("in order");
        let path = std::path::PathBuf::from("saltings.site.ron");
        let loaded = LoadedSite { site, path, text: text.into(), hash: site_hash(text), warnings: Default::default() };
        let survey = Arc::new(Survey::of(loaded));
        let stance = survey.model.site.stance("yard, standing").expect("saved").clone();
        Desk::new(survey, stance, Wishes::default()).expect("a stance")
    }

    #[test]
    fn walking_back_closes_less_and_undo_returns() {
        let mut desk = saltings();
        let closing = |desk: &Desk| desk.measured().account.closing.expect("in front").convergence().degrees();
        let (start, before) = (desk.stance().clone(), closing(&desk));
        assert!(desk.act(&Action::Walk { ahead_m: -1.0, right_m: 0.0 }));
        for _ in 0..20 {
            desk.act(&Action::Walk { ahead_m: -1.0, right_m: 0.0 });
        }
        desk.rest();
        assert!(desk.act(&Action::Aim(Aim::Fill)));
        assert!(closing(&desk) < before);
        assert!(desk.act(&Action::Undo) && desk.act(&Action::Undo));
        assert_eq!(desk.stance(), &start);
        assert!(!desk.act(&Action::Undo));
        assert!(desk.act(&Action::Redo));
    }

    #[test]
    fn walls_stop_the_walker_and_steps_are_climbed() {
        let mut desk = saltings();
        desk.act(&Action::StandAt(0.0, -5.0));
        desk.act(&Action::Aim(Aim::At(0.0, 0.0, 2.0)));
        for _ in 0..50 {
            desk.act(&Action::Walk { ahead_m: 0.2, right_m: 0.0 });
        }
        assert!(desk.stance().at.1 < -2.6, "{:?}", desk.stance().at);
        assert_eq!(desk.notices().last().map(|notice| notice.text.as_str()), Some("a wall is in the way"));
        // The steps lead east up to the coal stage.
        desk.act(&Action::StandAt(0.2, -38.0));
        desk.act(&Action::Aim(Aim::At(30.0, -38.0, 1.6)));
        for _ in 0..60 {
            desk.act(&Action::Walk { ahead_m: 0.14, right_m: 0.0 });
        }
        assert!(desk.measured().standing.footing.as_ref().expect("feet").height_m > 2.5);
    }
}
