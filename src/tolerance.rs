//! How exactly must one stand?
//!
//! The stance is moved a little in one direction and measured again, until its verdict changes: an upright subject is upright no
//! more, or one that leans leans otherwise by more than a set change; a subject that was whole is cut; one that was seen is
//! hidden; its detail falls below what is wanted; or nobody can stand there. It is moved in two ways: with the camera aimed anew,
//! as a tripod is carried and set up again, and with the camera as it was set.

use crate::angle::Angle;
use crate::appraise::{Account, CLEAR_M, Measures, appraise};
use crate::outline::Subject;
use crate::pose::{Attitude, Pose, WorldPoint, WorldVector};
use crate::sight::Sight;
use crate::site::{Model, Stance};
use crate::stance::{Standing, moved_eye, stand_again};

/// The change of lean that matters unless the user sets another (common practice, no source).
pub const LEAN_CHANGE_DEG: f64 = 0.2;
/// No farther than this is looked.
pub const FARTHEST_M: f64 = 50.0;
/// The shortest step.
const SHORTEST_M: f64 = 0.01;
/// Nobody stands more exactly than this: a stance that is nearer to a limit is at it.
pub const EXACTLY_M: f64 = 0.01;
/// Of a subject that is hidden in part, so much less is newly hidden.
const NEWLY_HIDDEN: f64 = 0.1;
/// Sight is asked for at steps no longer than this, or than this share of the way.
const SIGHT_STEP_M: f64 = 0.3;
const SIGHT_STEP: f64 = 0.12;
/// Of the samples that stand for the subject's surface every so manieth is looked at.
const SAMPLED: usize = 2;

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
    /// What ends it in each direction.
    pub ends: ToleranceEnds,
}

/// What ends the tolerance in each direction; `None` where nothing does.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ToleranceEnds {
    /// To the left.
    pub left: Option<ToleranceEnd>,
    /// To the right.
    pub right: Option<ToleranceEnd>,
    /// Nearer.
    pub forward: Option<ToleranceEnd>,
    /// Farther.
    pub back: Option<ToleranceEnd>,
    /// Higher.
    pub up: Option<ToleranceEnd>,
    /// Lower.
    pub down: Option<ToleranceEnd>,
    /// Pitch.
    pub pitch: Option<ToleranceEnd>,
    /// Heading.
    pub heading: Option<ToleranceEnd>,
    /// Roll.
    pub roll: Option<ToleranceEnd>,
}

/// What ends a tolerance.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum ToleranceEnd {
    /// Nobody can stand there.
    NoStanding,
    /// The subject is hidden.
    Hidden,
    /// The frame cuts the subject.
    Cut,
    /// The subject is upright no more.
    Upright,
    /// A lean has changed by more than the set change.
    Lean,
    /// The detail is less than is wanted.
    Detail,
}

impl ToleranceEnd {
    /// All of them.
    pub const ALL: [Self; 6] = [Self::NoStanding, Self::Hidden, Self::Cut, Self::Upright, Self::Lean, Self::Detail];

    /// A name for files: lower case, no spaces.
    pub const fn key(self) -> &'static str {
        match self {
            Self::NoStanding => "no_standing",
            Self::Hidden => "hidden",
            Self::Cut => "cut",
            Self::Upright => "upright",
            Self::Lean => "lean",
            Self::Detail => "detail",
        }
    }

    /// What happens beyond, after "then".
    pub const fn words(self) -> &'static str {
        match self {
            Self::NoStanding => "there is no place for the camera",
            Self::Hidden => "the subject is hidden",
            Self::Cut => "the frame cuts the subject",
            Self::Upright => "it is no longer upright",
            Self::Lean => "a lean has changed",
            Self::Detail => "the detail is less than wanted",
        }
    }
}

/// The tolerance in both ways.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Tolerances {
    /// With the camera aimed anew after the move.
    pub anew: Tolerance,
    /// With the camera as it was set.
    pub as_set: Tolerance,
}

/// What ends a tolerance.
#[derive(Clone, Copy, Debug)]
pub struct Allowed<'a> {
    /// By which measures the verdict is made.
    pub measures: &'a Measures,
    /// The change of lean that matters where the subject is not upright.
    pub lean_change: Angle,
}

/// What is kept of a stance: by what its verdict changes.
struct Kept<'a> {
    model: &'a Model,
    subject: &'a Subject,
    sight: Option<&'a Sight>,
    allowed: Allowed<'a>,
    home: Account,
    /// The least share of the subject that must be seen; absent where nothing is seen, or nobody looks.
    least_seen: Option<f64>,
}

/// The tolerances of a stance that stands as `standing`; `None` where nothing can be measured from it.
pub fn tolerances(
    model: &Model,
    subject: &Subject,
    sight: Option<&Sight>,
    stance: &Stance,
    standing: &Standing,
    allowed: Allowed<'_>,
) -> Option<Tolerances> {
    let outline = subject.outline(&standing.pose.eye).ok()?;
    let measures = allowed.measures;
    let home = appraise(model, Ok(subject), None, standing, measures);
    home.convergence?;
    let mut kept = Kept { model, subject, sight, allowed, home, least_seen: None };
    kept.least_seen = kept
        .seen_from(&standing.pose.eye)
        .map(|seen| if seen >= measures.seen_share { measures.seen_share } else { seen - NEWLY_HIDDEN });
    let (sine, cosine) = outline.middle().sin_cos();
    let ahead = WorldVector::new(sine, cosine, 0.0);
    let aside = WorldVector::new(cosine, -sine, 0.0);
    let moved = |offset: WorldVector| {
        let mut moved = Stance { at: (stance.at.0 + offset.x, stance.at.1 + offset.y), ..stance.clone() };
        // The camera is the one at home: only where it stands is off.
        moved.orientation = Some(standing.orientation);
        match &mut moved.eye_height_m {
            Some(height_m) => *height_m += offset.z,
            None => moved.height_m += offset.z,
        }
        moved
    };
    let anew = |offset: WorldVector| {
        let (aimed, pose) = stand_again(model, subject, &moved(offset), standing).ok()?;
        Some(Standing { pose, camera: aimed.camera, fullness: aimed.fullness, ..standing.clone() })
    };
    let as_set = |offset: WorldVector| {
        let eye = moved_eye(model, &moved(offset)).ok()?;
        Some(Standing { pose: Pose { eye, ..standing.pose }, ..standing.clone() })
    };
    let walked = |there: &dyn Fn(WorldVector) -> Option<Standing>| {
        let far = |direction: WorldVector| kept.farthest(|distance_m| there(direction * distance_m));
        let [left, right, forward, back] = [-aside, aside, ahead, -ahead].map(far);
        let [up, down] = [WorldVector::z(), -WorldVector::z()].map(far);
        let metres = |limit: Option<(f64, ToleranceEnd)>| limit.map(|(metres, _)| metres);
        let end = |limit: Option<(f64, ToleranceEnd)>| limit.map(|(_, end)| end);
        Tolerance {
            left_m: metres(left),
            right_m: metres(right),
            forward_m: metres(forward),
            back_m: metres(back),
            up_m: metres(up),
            down_m: metres(down),
            ends: ToleranceEnds {
                left: end(left),
                right: end(right),
                forward: end(forward),
                back: end(back),
                up: end(up),
                down: end(down),
                ..ToleranceEnds::default()
            },
            ..Tolerance::default()
        }
    };
    let attitude = standing.pose.attitude;
    let turned = |turn: fn(Attitude, Angle) -> Attitude| {
        let limit = |sense: f64| {
            first_end(1e-5, std::f64::consts::FRAC_PI_4, |radians| {
                let attitude = turn(attitude, Angle::from_radians(sense * radians));
                let turned = Standing { pose: Pose { attitude, ..standing.pose }, ..standing.clone() };
                kept.end_of(&turned)
            })
        };
        // Whichever way it ends sooner.
        [limit(1.0), limit(-1.0)].into_iter().flatten().reduce(|a, b| if b.0 < a.0 { b } else { a })
    };
    let pitch = turned(|attitude, by| Attitude { pitch: attitude.pitch + by, ..attitude });
    let heading = turned(|attitude, by| Attitude { heading: attitude.heading + by, ..attitude });
    let roll = turned(|attitude, by| Attitude { roll: attitude.roll + by, ..attitude });
    let with_turns = |walked: Tolerance| Tolerance {
        pitch: pitch.map(|(radians, _)| Angle::from_radians(radians)),
        heading: heading.map(|(radians, _)| Angle::from_radians(radians)),
        roll: roll.map(|(radians, _)| Angle::from_radians(radians)),
        ends: ToleranceEnds {
            pitch: pitch.map(|(_, end)| end),
            heading: heading.map(|(_, end)| end),
            roll: roll.map(|(_, end)| end),
            ..walked.ends
        },
        ..walked
    };
    Some(Tolerances { anew: with_turns(walked(&anew)), as_set: with_turns(walked(&as_set)) })
}

impl Kept<'_> {
    /// About how much of the subject is seen from an eye; `None` where nobody looks.
    fn seen_from(&self, eye: &WorldPoint) -> Option<f64> {
        let sight = self.sight?;
        let beside: Vec<WorldPoint> = self
            .subject
            .samples
            .iter()
            .step_by(SAMPLED)
            .filter(|sample| sample.normal.dot(&(eye - sample.point)) > 0.0)
            .map(|sample| sample.point + sample.normal * CLEAR_M)
            .collect();
        let free = sight.free_many(eye, &beside).into_iter().filter(|free| *free).count();
        (!beside.is_empty()).then(|| free as f64 / beside.len() as f64)
    }

    /// What has changed of the verdict where the camera stands so, but for what is hidden.
    fn end_of(&self, standing: &Standing) -> Option<ToleranceEnd> {
        let now = appraise(self.model, Ok(self.subject), None, standing, self.allowed.measures);
        let (Some(convergence), Some(home)) = (now.convergence, self.home.convergence) else {
            return Some(ToleranceEnd::Cut);
        };
        if self.home.whole_in_frame && !now.whole_in_frame {
            return Some(ToleranceEnd::Cut);
        }
        if self.home.reads_upright == Some(true) {
            if now.reads_upright != Some(true) {
                return Some(ToleranceEnd::Upright);
            }
        } else {
            let leans = |account: &Account| account.largest_lean.unwrap_or_default();
            let change = (convergence.angle() - home.angle()).abs().max((leans(&now) - leans(&self.home)).abs());
            if change > self.allowed.lean_change {
                return Some(ToleranceEnd::Lean);
            }
        }
        let detail = |account: &Account| account.lowest_detail.map_or(0.0, |(detail, _)| detail.px_per_m);
        let wanted = self.allowed.measures.wanted_detail.filter(|wanted| detail(&self.home) >= *wanted)?;
        (detail(&now) < wanted).then_some(ToleranceEnd::Detail)
    }

    /// How far one may go in a direction, and what ends it.
    fn farthest(&self, there: impl Fn(f64) -> Option<Standing>) -> Option<(f64, ToleranceEnd)> {
        let seen = first_end(SHORTEST_M, FARTHEST_M, |distance_m| {
            there(distance_m).map_or(Some(ToleranceEnd::NoStanding), |standing| self.end_of(&standing))
        });
        let reach_m = seen.map_or(FARTHEST_M, |(distance_m, _)| distance_m);
        self.hidden_within(reach_m, there).map(|distance_m| (distance_m, ToleranceEnd::Hidden)).or(seen)
    }

    /// The first place on the way at which too little of the subject is seen.
    fn hidden_within(&self, reach_m: f64, there: impl Fn(f64) -> Option<Standing>) -> Option<f64> {
        let least = self.least_seen?;
        let hidden = |distance_m: f64| {
            there(distance_m).and_then(|standing| self.seen_from(&standing.pose.eye)).is_some_and(|seen| seen < least)
        };
        let mut good_m = 0.0;
        while good_m < reach_m {
            let next_m = (good_m + (SIGHT_STEP * good_m).max(SIGHT_STEP_M)).min(reach_m);
            if hidden(next_m) {
                return Some(halved(SHORTEST_M, (good_m, next_m), |distance_m| !hidden(distance_m)));
            }
            good_m = next_m;
        }
        None
    }
}

/// How far from nought nothing ends, and what ends it then: growing steps until something does, then halving; `None` where
/// nothing ever does.
fn first_end(shortest: f64, limit: f64, end: impl Fn(f64) -> Option<ToleranceEnd>) -> Option<(f64, ToleranceEnd)> {
    let (mut good, mut step) = (0.0, shortest);
    loop {
        step = f64::min(step, limit);
        if let Some(found) = end(step) {
            let good = halved(shortest, (good, step), |by| end(by).is_none());
            // What ends it just beyond, where several do farther off.
            let beyond = end((good + 0.01 * step).min(step)).unwrap_or(found);
            return Some((good, beyond));
        }
        if step >= limit {
            return None;
        }
        good = step;
        step *= 1.6;
    }
}

/// Between what holds and what does not: to a hundredth of the way, or a tenth of the shortest step.
fn halved(shortest: f64, (mut good, mut bad): (f64, f64), holds: impl Fn(f64) -> bool) -> f64 {
    while bad - good > 0.01 * bad && bad - good > 0.1 * shortest {
        let middle = 0.5 * (good + bad);
        if holds(middle) { good = middle } else { bad = middle }
    }
    good
}
