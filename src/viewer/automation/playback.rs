//! What is the window to do by itself, and what did it bring back?

use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};

use bevy::prelude::*;
use bevy_egui::{EguiContexts, EguiInput};

use crate::still::Picture;

use super::script::{Scenery, Script};
use crate::viewer::app::{Progress, Walker};
use crate::viewer::render::finder::Finder;

/// What a script brought back.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Report {
    /// What was told, line by line.
    pub told: Vec<String>,
    /// What was pictured, and where it is to go.
    pub pictures: Vec<(PathBuf, Picture)>,
}

/// What an errand brings back.
#[derive(Resource, Clone, Default)]
pub(in crate::viewer) struct Told(Arc<Mutex<Report>>);

impl Told {
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

/// The input of a frame is made up here.
#[derive(SystemSet, Clone, Debug, PartialEq, Eq, Hash)]
pub(in crate::viewer) struct Feeding;

/// Gives the window what the script has for this frame.
pub(in crate::viewer) fn follow_script(
    mut inputs: Query<&mut EguiInput>,
    (mut script, mut walker, mut wanted): (ResMut<Script>, ResMut<Walker>, ResMut<WantedPicture>),
    (finder, progress, report): (Res<Finder>, Res<Progress>, Res<Told>),
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
        settled: progress.is_settled() && !walker.desk.is_busy(),
        desk: &walker.desk,
    });
    for action in turn.actions {
        walker.desk.act(action);
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
