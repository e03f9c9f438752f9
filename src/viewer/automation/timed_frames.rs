//! How fast is the window here: frames of a walk, and of the panels alone?

use std::sync::{Arc, Mutex, PoisonError};
use std::time::Instant;

use bevy::prelude::*;
use bevy::render::renderer::RenderAdapterInfo;
use bevy_egui::{EguiInput, egui};

use super::frame_times::{FrameClock, Timings};
use super::playback::WantedPicture;
use super::script::{Scenery, Script};
use crate::light::Moment;
use crate::site::Block;
use crate::viewer::app::{FrameStep, Settling};
use crate::viewer::engine::adapter::name;
use crate::viewer::engine::headless::{FRAME_S, HeadlessWindow, headless, keep_time};
use crate::viewer::error::ViewerError;
use crate::viewer::render::finder::Finder;
use crate::viewer::render::narrow;
use crate::viewer::state::desk::{BuildAction, Desk, LightAction, SiteChange};

/// More frames in which only panels change tell nothing new.
const MOST_PANEL_FRAMES: usize = 1000;
/// Frames that are not counted before the time is taken.
pub(super) const RUN_UP: usize = 10;

/// Takes the time of `frames` frames while the camera walks, and of as many in which only the panels change, without a
/// display. `started` is when the program began.
///
/// # Errors
/// There is no graphics adapter, or the graphics device is lost.
pub fn time_frames(
    desk: Desk,
    window: HeadlessWindow,
    frames: usize,
    started: Instant,
) -> Result<Timings, ViewerError> {
    let timing = Timing::new(frames, started);
    timed(desk, window, timing, |app| {
        app.add_systems(Last, time_panels.after(time_walk));
    })
}

/// What a hand drags.
#[derive(Clone, Copy, Debug)]
pub enum Dragged {
    /// A block of the site, 5 cm further with each frame.
    Block(usize),
    /// The hour along the strip of the day, a minute later with each frame from a moment on.
    Hour(Moment),
}

/// Takes the time of `frames` frames in each of which a hand drags something further, without a display.
///
/// # Errors
/// As [`time_frames`].
pub fn time_drag(
    desk: Desk,
    window: HeadlessWindow,
    frames: usize,
    started: Instant,
    dragged: Dragged,
) -> Result<Timings, ViewerError> {
    let timing = Timing { dragged: Some(dragged), ..Timing::new(frames, started) };
    timed(desk, window, timing, |app| {
        app.add_systems(Last, end_drag.after(time_walk));
    })
}

/// Runs the window on timings; what is timed after the walk is up to `after_walk`.
pub(super) fn timed(
    desk: Desk,
    window: HeadlessWindow,
    timing: Timing,
    after_walk: impl FnOnce(&mut App),
) -> Result<Timings, ViewerError> {
    let (found, frames) = (Arc::clone(&timing.found), timing.frames);
    headless(desk, window, false, move |app, _| {
        app.insert_resource(timing)
            .insert_resource(Script::circling(2.0 * frames as f64 * FRAME_S + 60.0))
            .init_resource::<WantedPicture>()
            .add_systems(PreUpdate, make_input.in_set(FrameStep::Script).after(keep_time))
            .add_systems(Last, time_walk);
        after_walk(app);
    })?;
    let timings = found.lock().unwrap_or_else(PoisonError::into_inner).clone();
    if timings.walking.is_some() { Ok(timings) } else { Err(ViewerError::NoPicture) }
}

/// What is timed now.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Leg {
    /// Nothing until the picture is whole.
    Start,
    /// The walk.
    Walking,
    /// The walk has been timed; it goes on until somebody stops it.
    Walked,
    /// Nothing until the walk has come to rest.
    Pause,
    /// The panels alone.
    Panels,
}

/// How far the taking of time is.
#[derive(Resource)]
pub(super) struct Timing {
    found: Arc<Mutex<Timings>>,
    pub(super) frames: usize,
    started: Instant,
    pub(super) leg: Leg,
    clock: FrameClock,
    /// Frames since the leg began.
    since: usize,
    /// What is dragged in place of a walk.
    dragged: Option<Dragged>,
}

impl Timing {
    pub(super) fn new(frames: usize, started: Instant) -> Self {
        Self {
            found: Arc::default(),
            frames,
            started,
            leg: Leg::Start,
            clock: FrameClock::start(),
            since: 0,
            dragged: None,
        }
    }

    pub(super) fn note(&self, change: impl FnOnce(&mut Timings)) {
        change(&mut self.found.lock().unwrap_or_else(PoisonError::into_inner));
    }

    fn begin(&mut self, leg: Leg) {
        (self.leg, self.clock, self.since) = (leg, FrameClock::start(), 0);
    }
}

/// Walks, or moves the mouse over the panels.
fn make_input(
    mut inputs: Query<&mut EguiInput>,
    (mut script, timing, mut desk, finder): (ResMut<Script>, Res<Timing>, ResMut<Desk>, Res<Finder>),
    mut step: Local<u32>,
) {
    let Ok(mut input) = inputs.single_mut() else { return };
    match timing.leg {
        Leg::Start => {}
        Leg::Walking | Leg::Walked if let Some(dragged) = timing.dragged => {
            let frames = timing.since as f64;
            match dragged {
                Dragged::Block(index) => {
                    let from = &desk.survey_before_trial().model.site.blocks[index];
                    let moved = Block { at: (from.at.0 + 0.05 * frames, from.at.1), ..from.clone() };
                    desk.act(BuildAction::Try(SiteChange::SetBlocks(vec![(index, moved)])));
                }
                Dragged::Hour(from) => {
                    desk.act(LightAction::Show(from.plus_s(60.0 * frames)));
                }
            }
        }
        Leg::Walking | Leg::Walked => {
            let now_s = input.time.unwrap_or_default();
            let scenery = Scenery { now_s, place: finder.place(), settled: false, desk: &desk };
            input.events.extend(script.turn(&scenery).events);
        }
        Leg::Pause => input.events.push(egui::Event::WindowFocused(false)),
        Leg::Panels => {
            *step += 1;
            // Up and down the instruments at the left.
            let along = narrow::screen(f64::from(*step % 100)) / 100.0;
            input.events.push(egui::Event::PointerMoved(egui::Pos2::new(200.0, 80.0 + 560.0 * along)));
        }
    }
}

/// Takes the time until the first whole picture, and of the walk.
pub(super) fn time_walk(mut timing: ResMut<Timing>, settling: Res<Settling>, adapter: Res<RenderAdapterInfo>) {
    timing.since += 1;
    match timing.leg {
        Leg::Start if settling.is_settled() => {
            let first = timing.started.elapsed();
            timing.note(|timings| (timings.adapter, timings.first) = (name(&adapter), first));
            timing.begin(Leg::Walking);
        }
        Leg::Walking if timing.since > RUN_UP => {
            timing.clock.tick();
            if timing.clock.count() == timing.frames {
                let walking = timing.clock.read();
                timing.note(|timings| timings.walking = walking);
                timing.begin(Leg::Walked);
            }
        }
        Leg::Start | Leg::Walking | Leg::Walked | Leg::Pause | Leg::Panels => {}
    }
}

/// Ends once the drag has been timed.
fn end_drag(timing: Res<Timing>, mut exit: MessageWriter<AppExit>) {
    if timing.leg == Leg::Walked {
        exit.write(AppExit::Success);
    }
}

/// Takes the time of the panels once the walk has come to rest.
fn time_panels(
    mut timing: ResMut<Timing>,
    (settling, finder): (Res<Settling>, Res<Finder>),
    mut exit: MessageWriter<AppExit>,
) {
    match timing.leg {
        Leg::Walked => timing.begin(Leg::Pause),
        Leg::Pause if settling.is_settled() => timing.begin(Leg::Panels),
        Leg::Panels if timing.since > RUN_UP => {
            // Were the finder drawn as well, it would be no time of the panels.
            if !finder.is_drawing() {
                timing.clock.tick();
            }
            let enough = timing.frames.min(MOST_PANEL_FRAMES);
            if timing.clock.count() == enough || timing.since > 10 * (timing.frames + RUN_UP) {
                let panels = timing.clock.read();
                timing.note(|timings| timings.panels = panels);
                exit.write(AppExit::Success);
            }
        }
        Leg::Start | Leg::Walking | Leg::Pause | Leg::Panels => {}
    }
}
