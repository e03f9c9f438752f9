//! How exactly must one stand?
//!
//! The stance is moved a little in one direction, re-aimed as it was aimed, and measured again, until the subject's
//! closing or largest lean has changed by more than a tolerance, or a subject that was whole in the frame is cut.

use crate::angle::Angle;
use crate::outline::Subject;
use crate::pose::{Attitude, WorldVector};
use crate::site::{Model, Stance};
use crate::stance::{Standing, stand_again};
use crate::verticals::Convergence;

/// The change of lean that matters unless the user sets another (common practice, no source).
pub const LEAN_CHANGE_DEG: f64 = 0.2;
/// No farther than this is looked.
const FARTHEST_M: f64 = 50.0;
/// The shortest step.
const SHORTEST_M: f64 = 0.01;

/// How far the stance may be off in each direction before it matters; `None` where it matters nowhere within 50 m, or
/// 45°.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Tolerance {
    /// To the left of the line to the subject.
    pub left_m: Option<f64>,
    /// To the right of it.
    pub right_m: Option<f64>,
    /// Nearer.
    pub forward_m: Option<f64>,
    /// Farther.
    pub back_m: Option<f64>,
    /// Higher.
    pub up_m: Option<f64>,
    /// Lower.
    pub down_m: Option<f64>,
    /// Pitch, either way.
    pub pitch: Option<Angle>,
    /// Heading, either way.
    pub heading: Option<Angle>,
    /// Roll, either way.
    pub roll: Option<Angle>,
}

/// The tolerance of a stance that stands as `standing`; `None` where nothing can be measured from it.
pub fn tolerance(
    model: &Model,
    subject: &Subject,
    stance: &Stance,
    standing: &Standing,
    lean_change: Angle,
) -> Option<Tolerance> {
    let outline = subject.outline(&standing.pose.eye).ok()?;
    let at_home = Convergence::of(&outline, &standing.pose.attitude)?;
    let whole = standing.fullness.is_some_and(|fullness| fullness <= 1.0 + 1e-9);
    let unchanged = |now: Convergence| {
        let change = (now.angle() - at_home.angle()).abs().max((now.largest() - at_home.largest()).abs());
        change <= lean_change
    };
    let (sine, cosine) = outline.middle().sin_cos();
    let holds_at = |offset: WorldVector| {
        let mut moved = Stance { at: (stance.at.0 + offset.x, stance.at.1 + offset.y), ..stance.clone() };
        // The camera is the one at home: only where it stands is off.
        moved.orientation = Some(standing.orientation);
        match &mut moved.eye_height_m {
            Some(height_m) => *height_m += offset.z,
            None => moved.height_m += offset.z,
        }
        let Ok((pose, fullness)) = stand_again(model, subject, &moved, standing) else { return false };
        let kept = !whole || fullness.is_some_and(|fullness| fullness <= 1.0 + 1e-9);
        let convergence = subject.outline(&pose.eye).ok().and_then(|outline| Convergence::of(&outline, &pose.attitude));
        kept && convergence.is_some_and(unchanged)
    };
    let far = |direction: WorldVector| farthest(SHORTEST_M, FARTHEST_M, |distance_m| holds_at(direction * distance_m));
    let ahead = WorldVector::new(sine, cosine, 0.0);
    let aside = WorldVector::new(cosine, -sine, 0.0);
    let attitude = standing.pose.attitude;
    let turned = |change: &dyn Fn(f64) -> Attitude| {
        let holds = |radians: f64| {
            [radians, -radians].iter().all(|&by| Convergence::of(&outline, &change(by)).is_some_and(unchanged))
        };
        farthest(1e-5, std::f64::consts::FRAC_PI_4, holds).map(Angle::from_radians)
    };
    Some(Tolerance {
        left_m: far(-aside),
        right_m: far(aside),
        forward_m: far(ahead),
        back_m: far(-ahead),
        up_m: far(WorldVector::z()),
        down_m: far(-WorldVector::z()),
        pitch: turned(&|by| Attitude { pitch: attitude.pitch + Angle::from_radians(by), ..attitude }),
        heading: turned(&|by| Attitude { heading: attitude.heading + Angle::from_radians(by), ..attitude }),
        roll: turned(&|by| Attitude { roll: attitude.roll + Angle::from_radians(by), ..attitude }),
    })
}

/// How far from nought something holds: growing steps until it fails, then halving to a hundredth of the step; 0 where it
/// fails at once, `None` where it never does.
fn farthest(shortest: f64, limit: f64, holds: impl Fn(f64) -> bool) -> Option<f64> {
    let (mut good, mut step) = (0.0, shortest);
    loop {
        if step >= limit {
            if holds(limit) {
                return None;
            }
            step = limit;
            break;
        }
        if !holds(step) {
            break;
        }
        good = step;
        step *= 1.6;
    }
    let mut bad = step;
    while bad - good > 0.01 * bad && bad - good > 0.1 * shortest {
        let middle = 0.5 * (good + bad);
        if holds(middle) { good = middle } else { bad = middle }
    }
    Some(good)
}
