//! Where can one walk from here? Over ground, up steps, along decks, up to walls.

mod reach;

use crate::pose::{WorldPoint, WorldVector};
use crate::sight::Sight;
use crate::site::{Footing, FootingError, Model, PlanPoint, Support};
use crate::units::Units;

pub use reach::{Reach, Reached, SPACING_M, Walk, may_stand};

/// The highest step that is climbed without looking for another way.
pub const STEP_UP_M: f64 = 0.35;
/// The deepest step that is taken down from a deck without a warning.
pub const STEP_DOWN_M: f64 = 0.6;
/// How near the body comes to a wall.
pub const BODY_M: f64 = 0.3;
/// The height at which a body meets what it cannot step over.
pub const KNEE_M: f64 = 0.5;

/// Where the feet have come to.
#[derive(Clone, Debug, PartialEq)]
pub struct Feet {
    /// In plan.
    pub at: PlanPoint,
    /// What a stance there is said to be on: the deck's block, or nothing in particular.
    pub on: Option<String>,
    /// What they stand on.
    pub footing: Footing,
}

/// What stops the feet.
#[derive(Clone, Debug, PartialEq)]
pub enum Stopped {
    /// Something upright.
    Wall,
    /// A step too high.
    StepUp {
        /// How high.
        up_m: f64,
    },
    /// The edge of a deck.
    Edge {
        /// How deep.
        drop_m: f64,
    },
    /// Nothing there to stand on.
    Footing(FootingError),
}

impl From<FootingError> for Stopped {
    fn from(error: FootingError) -> Self {
        Self::Footing(error)
    }
}

impl Stopped {
    /// In plain words, with what to do about it.
    pub fn words(&self, units: Units) -> String {
        match self {
            Self::Wall => "a wall is in the way".into(),
            Self::StepUp { up_m } => {
                format!("a step of {} up is in the way; use the stairs, or choose the deck", units.length(*up_m, 1))
            }
            Self::Edge { drop_m } => {
                format!("the edge is a drop of {}; choose Climb down", units.length(*drop_m, 1))
            }
            Self::Footing(error) => error.to_string(),
        }
    }
}

impl Feet {
    /// The feet of a stance that stands on something.
    pub fn of(at: PlanPoint, on: Option<&str>, footing: &Footing) -> Self {
        Self { at, on: on.map(str::to_owned), footing: footing.clone() }
    }

    /// One step of the feet, no longer than one foot is put before the other.
    ///
    /// # Errors
    /// What stops it.
    pub fn step(&self, model: &Model, sight: &Sight, step: PlanPoint) -> Result<Self, Stopped> {
        let there = (self.at.0 + step.0, self.at.1 + step.1);
        let length_m = step.0.hypot(step.1);
        if length_m > 0.0 {
            let reach = (length_m + BODY_M) / length_m;
            let knee = WorldPoint::new(self.at.0, self.at.1, self.footing.height_m + KNEE_M);
            let ahead = knee + WorldVector::new(step.0, step.1, 0.0) * reach;
            if !sight.is_free(&knee, &ahead) {
                return Err(Stopped::Wall);
            }
        }
        let footing = model.footing(there, self.on.as_deref()).or_else(|_| model.footing(there, None))?;
        let up_m = footing.height_m - self.footing.height_m;
        if up_m > STEP_UP_M {
            return Err(Stopped::StepUp { up_m });
        }
        if -up_m > STEP_DOWN_M && self.on.is_some() {
            return Err(Stopped::Edge { drop_m: -up_m });
        }
        let on = match footing.support {
            Support::Deck(_) => footing.name.clone(),
            _ => None,
        };
        Ok(Self { at: there, on, footing })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn walked(blocks: &str, from: PlanPoint, step: PlanPoint, steps: usize) -> (Feet, Option<Stopped>) {
        let text = format!("(format: 1, name: \"t\", blocks: [{blocks}])");
        let model = Model::build(crate::files::ron_options().from_str(&text).expect("a site"));
        let sight = Sight::over(&model);
        let mut feet = Feet::of(from, None, &model.footing(from, None).expect("somewhere"));
        for _ in 0..steps {
            match feet.step(&model, &sight, step) {
                Ok(next) => feet = next,
                Err(stopped) => return (feet, Some(stopped)),
            }
        }
        (feet, None)
    }

    #[test]
    fn a_wall_is_met_a_bodys_width_before_it() {
        let wall = "(name: \"w\", at: (0, 5), shape: Box(width_m: 10, depth_m: 0.4, height_m: 2))";
        let (feet, stopped) = walked(wall, (0.0, 0.0), (0.0, 0.1), 100);
        assert_eq!(stopped, Some(Stopped::Wall));
        assert!((feet.at.1 - (4.8 - BODY_M)).abs() <= 0.1 + 1e-9, "{:?}", feet.at);
    }

    #[test]
    fn steps_are_climbed_and_a_plinth_is_not() {
        let steps = "(name: \"s\", at: (0, 0), shape: Steps(width_m: 4, going_m: 0.3, rise_m: 0.18, count: 8))";
        let up = [(0.0, -6.0), (0.0, 6.0), (-6.0, 0.0), (6.0, 0.0)]
            .map(|from| walked(steps, from, (-from.0 / 60.0, -from.1 / 60.0), 60).0.footing.height_m);
        assert!(up.iter().any(|height_m| *height_m > 0.17 * 4.0), "{up:?}");
        let plinth = "(name: \"p\", at: (0, 3), shape: Box(width_m: 4, depth_m: 4, height_m: 0.45), deck: ())";
        let (feet, stopped) = walked(plinth, (0.0, 0.0), (0.0, 0.1), 40);
        assert_eq!(stopped, Some(Stopped::StepUp { up_m: 0.45 }));
        assert!(feet.at.1 < 1.0);
    }

    #[test]
    fn the_edge_of_a_deck_is_told() {
        let plinth = "(name: \"p\", at: (0, 0), shape: Box(width_m: 4, depth_m: 4, height_m: 1.5), deck: ())";
        let (feet, stopped) = walked(plinth, (0.0, 0.0), (0.0, 0.1), 40);
        assert_eq!(stopped, Some(Stopped::Edge { drop_m: 1.5 }));
        assert!(stopped.is_some_and(|stopped| stopped.words(Units::Ft).contains("4.9 ft")));
        assert!(feet.at.1 < 2.0);
    }
}
