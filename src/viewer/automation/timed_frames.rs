//! Who is faster, and how fast: frames of the walk, of the panels alone, and of the engine's own material.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::Instant;

use bevy::prelude::*;
use bevy::render::renderer::RenderAdapterInfo;
use bevy_egui::{EguiInput, egui};

use super::engine_material;
use super::frame_times::{Frames, Pace, StopWatch};
use super::playback::{Feeding, WantedPicture};
use super::script::{Scenery, Script};
use crate::viewer::ViewerError;
use crate::viewer::app::{Progress, Walker};
use crate::viewer::engine::adapter::{Quality, name};
use crate::viewer::engine::headless::{FRAME_S, HeadlessWindow, headless, keep_time};
use crate::viewer::render::finder::Finder;
use crate::viewer::render::narrow;
use crate::viewer::state::desk::Desk;

/// More frames in which only panels change tell nothing new.
const MOST_PANEL_FRAMES: usize = 1000;
/// Frames that are not counted before the time is taken.
const RUN_UP: usize = 10;

/// Takes the time of `frames` frames while the walker walks, and of as many in which only the panels change, without a
/// display. `started` is when the program began.
///
/// # Errors
/// There is no graphics adapter, or the graphics device is lost.
pub fn pace(desk: Desk, sheet: HeadlessWindow, frames: usize, started: Instant) -> Result<Pace, ViewerError> {
    timed(desk, sheet, frames, started, Leg::Panels)
}

/// Takes the time of `frames` frames while the walker walks, and of as many with the same meshes in the engine's own material
/// and cascaded shadow, without a display.
///
/// # Errors
/// There is no graphics adapter, or the graphics device is lost.
pub fn contest(desk: Desk, sheet: HeadlessWindow, frames: usize) -> Result<Pace, ViewerError> {
    timed(desk, sheet, frames, Instant::now(), Leg::Peer)
}

fn timed(desk: Desk, sheet: HeadlessWindow, frames: usize, started: Instant, after: Leg) -> Result<Pace, ViewerError> {
    let found = Arc::new(Mutex::new(Pace::default()));
    let wanted = Arc::clone(&found);
    headless(desk, sheet, false, move |app, _| {
        app.insert_resource(Race { found: wanted, frames, started, after, leg: Leg::Start, watch: StopWatch::start() })
            .insert_resource(Script::circling(2.0 * frames as f64 * FRAME_S + 60.0))
            .init_resource::<WantedPicture>()
            .add_systems(PreUpdate, race.in_set(Feeding).after(keep_time))
            .add_systems(Last, lap);
    })?;
    let pace = found.lock().unwrap_or_else(PoisonError::into_inner).clone();
    if pace.walking.is_some() { Ok(pace) } else { Err(ViewerError::NoPicture) }
}

/// How far the taking of time is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Leg {
    Start,
    Walking,
    Pause,
    Panels,
    /// The engine's own material takes over, and its pipelines arrive.
    Swap,
    Peer,
}

#[derive(Resource)]
struct Race {
    found: Arc<Mutex<Pace>>,
    frames: usize,
    started: Instant,
    /// What comes after the walk: panels alone, or the engine's own material.
    after: Leg,
    leg: Leg,
    watch: StopWatch,
}

impl Race {
    fn note(&self, change: impl FnOnce(&mut Pace)) {
        change(&mut self.found.lock().unwrap_or_else(PoisonError::into_inner));
    }
}

/// Walks, or moves the mouse over the panels.
fn race(
    mut inputs: Query<&mut EguiInput>,
    (mut script, race, walker, finder): (ResMut<Script>, Res<Race>, Res<Walker>, Res<Finder>),
    mut step: Local<u32>,
) {
    let Ok(mut input) = inputs.single_mut() else { return };
    match race.leg {
        Leg::Walking | Leg::Swap | Leg::Peer => {
            let now_s = input.time.unwrap_or_default();
            let scenery = Scenery { now_s, place: finder.place(), settled: false, desk: &walker.desk };
            input.events.extend(script.turn(&scenery).events);
        }
        Leg::Panels => {
            *step += 1;
            // Up and down the instruments at the left.
            let along = narrow::screen(f64::from(*step % 100)) / 100.0;
            input.events.push(egui::Event::PointerMoved(egui::Pos2::new(200.0, 80.0 + 560.0 * along)));
        }
        Leg::Start | Leg::Pause => {
            if race.leg == Leg::Pause {
                input.events.push(egui::Event::WindowFocused(false));
            }
        }
    }
}

/// What it takes to have the engine's own material take over.
type Peers<'w, 's> = (
    Commands<'w, 's>,
    ResMut<'w, Assets<StandardMaterial>>,
    ResMut<'w, Quality>,
    engine_material::Parts<'w, 's>,
    engine_material::SunPlace<'w, 's>,
);

/// Takes the time, leg by leg.
fn lap(
    mut race: ResMut<Race>,
    (progress, finder, adapter, walker): (Res<Progress>, Res<Finder>, Res<RenderAdapterInfo>, Res<Walker>),
    (mut commands, mut materials, mut quality, parts, sun): Peers<'_, '_>,
    mut exit: MessageWriter<AppExit>,
    mut frames: Local<u32>,
) {
    *frames += 1;
    let whole = race.frames + RUN_UP;
    match race.leg {
        Leg::Start if progress.is_settled() => {
            let first = race.started.elapsed();
            race.note(|pace| (pace.adapter, pace.first) = (name(&adapter), first));
            (race.leg, race.watch) = (Leg::Walking, StopWatch::start());
            *frames = 0;
        }
        Leg::Walking if *frames as usize > RUN_UP => {
            race.watch.tick();
            if race.watch.count() == race.frames {
                let walking = race.watch.read();
                race.note(|pace| pace.walking = walking);
                race.leg = if race.after == Leg::Peer { Leg::Swap } else { Leg::Pause };
                if race.leg == Leg::Swap {
                    engine_material::take_over(
                        &mut commands,
                        &mut materials,
                        &parts,
                        sun.single().ok(),
                        walker.theme(),
                    );
                    // The engine left to itself draws every pixel of the window.
                    quality.moving_share = 1.0;
                }
                *frames = 0;
            }
        }
        // Its pipelines are many: they are there when frames have come for a while.
        Leg::Swap if *frames as usize > 2 * RUN_UP => {
            (race.leg, race.watch) = (Leg::Peer, StopWatch::start());
        }
        Leg::Peer => {
            race.watch.tick();
            if race.watch.count() == race.frames {
                let standard = race.watch.read();
                race.note(|pace| pace.standard = standard);
                exit.write(AppExit::Success);
            }
        }
        Leg::Pause if progress.is_settled() => {
            (race.leg, race.watch) = (Leg::Panels, StopWatch::start());
            *frames = 0;
        }
        Leg::Panels if *frames as usize > RUN_UP => {
            // Were the finder drawn as well, it would be no time of the panels.
            if !finder.is_drawing() {
                race.watch.tick();
            }
            if race.watch.count() == race.frames.min(MOST_PANEL_FRAMES) || *frames as usize > 10 * whole {
                let panels: Option<Frames> = race.watch.read();
                race.note(|pace| pace.panels = panels);
                exit.write(AppExit::Success);
            }
        }
        _ => {}
    }
}
