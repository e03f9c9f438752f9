//! What is the window to do by itself, and what did it bring back?

use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};

use bevy::prelude::*;
use bevy_egui::{EguiContexts, EguiInput};

use crate::still::Picture;

use super::script::{Scenery, Script};
use crate::viewer::app::{Settling, act};
use crate::viewer::render::finder::Finder;
use crate::viewer::state::desk::Desk;

/// What a script brought back.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Report {
    /// What was printed, line by line.
    pub told: Vec<String>,
    /// What was pictured, and where it is to go.
    pub pictures: Vec<(PathBuf, Picture)>,
}

/// The report, as the window's systems add to it.
#[derive(Resource, Clone, Default)]
pub(in crate::viewer) struct SharedReport(Arc<Mutex<Report>>);

impl SharedReport {
    pub(in crate::viewer) fn with(&self, change: impl FnOnce(&mut Report)) {
        change(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner));
    }

    pub(in crate::viewer) fn take(&self) -> Report {
        std::mem::take(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

/// A picture that is wanted, and how far it is.
#[derive(Resource, Default)]
pub(in crate::viewer) struct WantedPicture {
    pub(in crate::viewer) path: Option<PathBuf>,
    /// Whether nothing is left to do after it.
    pub(in crate::viewer) last: bool,
    pub(in crate::viewer) settled_frames: u32,
    pub(in crate::viewer) asked: bool,
    pub(in crate::viewer) frames: u32,
}

/// Gives the window what the script has for this frame.
pub(in crate::viewer) fn follow_script(
    mut inputs: Query<&mut EguiInput>,
    (mut script, mut desk, mut wanted): (ResMut<Script>, ResMut<Desk>, ResMut<WantedPicture>),
    (finder, settling, report): (Res<Finder>, Res<Settling>, Res<SharedReport>),
    mut exit: MessageWriter<AppExit>,
) {
    let Ok(mut input) = inputs.single_mut() else { return };
    if wanted.path.is_some() {
        return;
    }
    if script.is_over() {
        exit.write(AppExit::Success);
        return;
    }
    let turn = script.turn(&Scenery {
        now_s: input.time.unwrap_or_default(),
        place: finder.place(),
        settled: settling.is_settled() && !desk.is_busy(),
        desk: &desk,
    });
    for action in turn.actions {
        act(&mut desk, action);
    }
    input.events.extend(turn.events);
    report.with(|report| report.told.extend(turn.told));
    *wanted = WantedPicture { path: turn.picture, ..WantedPicture::default() };
}

/// A script goes on whether or not anything is to be seen.
pub(in crate::viewer) fn keep_going(mut contexts: EguiContexts) {
    if let Ok(context) = contexts.ctx_mut() {
        context.request_repaint();
    }
}
