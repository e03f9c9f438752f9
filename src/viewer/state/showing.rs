//! What is shown full screen? The chosen stances one after the other, with nothing drawn over them: gone through with the
//! arrows, flicked between, glided from one to the next, or with the camera rising from the ground.
//!
//! The camera of the desk stays where it is: nothing here is a step of the history.

use crate::handover::film::{PLATFORM_M, rise};
use crate::handover::sequence::{FrameStyle, Sequence};
use crate::optics::Camera;
use crate::pose::Pose;
use crate::site::Stance;
use crate::still::Look;
use crate::survey::Survey;
use crate::theme::Theme;
use crate::units::Units;

use super::effects::Effects;
use super::notices::NoticeKind;

/// How long a glide takes from stance to stance, and the camera to rise, in seconds. Common practice, no source.
const RUN_S: f64 = 6.0;
/// How many cameras a run goes through.
const STEPS: u32 = 181;

/// What happens in the presentation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ShowAction {
    /// Show the chosen stances full screen.
    Begin,
    /// Return to the desk.
    End,
    /// Go so many stances on.
    Step(i32),
    /// Go to the stance that was shown before, or back.
    Flick,
    /// Glide to the next stance.
    Glide,
    /// Let the camera rise, or sink again.
    Rise {
        /// Up, or down.
        up: bool,
    },
    /// So many seconds have passed.
    Pass(f64),
}

/// The presentation, while there is one.
#[derive(Debug, Default)]
pub(super) struct ShowingStore(Option<Showing>);

#[derive(Debug)]
struct Showing {
    /// What is gone through, and what each sees.
    stances: Vec<(Stance, Camera, Pose)>,
    place: usize,
    /// The place that was shown before.
    before: usize,
    run: Option<Run>,
}

/// Cameras one after the other.
#[derive(Debug)]
struct Run {
    cameras: Vec<(Camera, Pose)>,
    /// How far along it is, from 0 to 1.
    share: f64,
    /// Where it stops: 1, or 0 on its way back.
    until: f64,
    /// The stance that it ends at, where it is a glide.
    to: Option<usize>,
}

impl ShowingStore {
    /// Whether something is shown full screen.
    pub(super) fn is_on(&self) -> bool {
        self.0.is_some()
    }

    /// Whether the camera is under way.
    pub(super) fn is_moving(&self) -> bool {
        self.run().is_some_and(|run| run.share != run.until)
    }

    fn run(&self) -> Option<&Run> {
        self.0.as_ref()?.run.as_ref()
    }

    /// The camera that is shown, and how it is turned.
    pub(super) fn shown(&self) -> Option<(Camera, Pose)> {
        let showing = self.0.as_ref()?;
        match &showing.run {
            Some(run) => {
                let last = run.cameras.len().saturating_sub(1);
                run.cameras.get(((run.share * last as f64).round() as usize).min(last)).copied()
            }
            None => showing.stances.get(showing.place).map(|(_, camera, pose)| (*camera, *pose)),
        }
    }

    /// The stance that is shown, or left.
    pub(super) fn stance(&self) -> Option<&Stance> {
        let showing = self.0.as_ref()?;
        showing.stances.get(showing.place).map(|(stance, ..)| stance)
    }

    pub(super) fn end(&mut self) {
        self.0 = None;
    }

    /// Does one thing; `chosen` are the stances to begin with.
    pub(super) fn act(
        &mut self,
        action: ShowAction,
        survey: &Survey,
        chosen: impl FnOnce() -> Vec<Stance>,
        effects: &mut Effects,
    ) {
        effects.change();
        let Some(showing) = &mut self.0 else {
            if action == ShowAction::Begin {
                self.begin(survey, chosen(), effects);
            }
            return;
        };
        match action {
            ShowAction::Begin => {}
            ShowAction::End => self.0 = None,
            ShowAction::Step(by) => {
                let last = showing.stances.len() - 1;
                showing.go(showing.place.saturating_add_signed(by as isize).min(last));
            }
            ShowAction::Flick => showing.go(showing.before),
            ShowAction::Glide => showing.glide(survey),
            ShowAction::Rise { up } => showing.rise(survey, up),
            ShowAction::Pass(seconds) => showing.pass(seconds),
        }
    }

    fn begin(&mut self, survey: &Survey, chosen: Vec<Stance>, effects: &mut Effects) {
        let stances: Vec<_> = chosen
            .into_iter()
            .filter_map(|stance| {
                let standing = survey.stand(&stance).ok()?;
                Some((stance, standing.camera, standing.pose))
            })
            .collect();
        if stances.is_empty() {
            return effects.notice(NoticeKind::Error, "none of the chosen stances can be taken up; pin another one");
        }
        let before = usize::from(stances.len() > 1);
        self.0 = Some(Showing { stances, place: 0, before, run: None });
    }
}

impl Showing {
    fn go(&mut self, place: usize) {
        self.run = None;
        if place != self.place {
            self.before = self.place;
            self.place = place;
        }
    }

    /// Stances that cannot be blended into one another follow at once.
    fn glide(&mut self, survey: &Survey) {
        let next = (self.place + 1) % self.stances.len();
        match cameras(survey, &self.stances[self.place].0, &self.stances[next].0) {
            Some(cameras) if next != self.place => {
                self.run = Some(Run { cameras, share: 0.0, until: 1.0, to: Some(next) });
            }
            _ => self.go(next),
        }
    }

    fn rise(&mut self, survey: &Survey, up: bool) {
        let until = if up { 1.0 } else { 0.0 };
        if let Some(run) = self.run.as_mut().filter(|run| run.to.is_none()) {
            run.until = until;
            return;
        }
        let ends = rise(&self.stances[self.place].0, PLATFORM_M);
        let share = 1.0 - until;
        self.run = cameras(survey, &ends[0], &ends[1]).map(|cameras| Run { cameras, share, until, to: None });
    }

    fn pass(&mut self, seconds: f64) {
        let Some(run) = &mut self.run else { return };
        let step = seconds / RUN_S;
        run.share =
            if run.until > run.share { (run.share + step).min(run.until) } else { (run.share - step).max(run.until) };
        if let (true, Some(to)) = (run.share == run.until, run.to) {
            self.go(to);
        }
    }
}

/// The cameras from one stance to another; `None` where there is no way.
fn cameras(survey: &Survey, from: &Stance, to: &Stance) -> Option<Vec<(Camera, Pose)>> {
    let sequence = Sequence {
        from: from.clone(),
        to: to.clone(),
        frames: STEPS,
        style: FrameStyle {
            width_px: 720,
            samples: 1,
            look: Look::Card,
            theme: Theme::default(),
            overlay: false,
            per_second: 30,
            units: Units::default(),
        },
    };
    sequence.cameras(survey).ok()
}
