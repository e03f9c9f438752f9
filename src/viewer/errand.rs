//! What is the window to do by itself, and what did it bring back?

use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};

use bevy::prelude::*;
use bevy_egui::{EguiContexts, EguiInput};

use crate::still::Picture;

use super::finder::Finder;
use super::script::{Scenery, Script};
use super::walk::{Progress, Walker};

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
pub(super) struct Told(Arc<Mutex<Report>>);

impl Told {
    pub(super) fn with(&self, change: impl FnOnce(&mut Report)) {
        change(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner));
    }

    pub(super) fn take(&self) -> Report {
        std::mem::take(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

/// A picture that is wanted, and how far it is.
#[derive(Resource, Default)]
pub(super) struct Wish {
    pub(super) path: Option<PathBuf>,
    /// Whether nothing is left to do after it.
    pub(super) last: bool,
    pub(super) settled_frames: u32,
    pub(super) asked: bool,
    pub(super) frames: u32,
}

/// The input of a frame is made up here.
#[derive(SystemSet, Clone, Debug, PartialEq, Eq, Hash)]
pub(super) struct Feeding;

/// Gives the window what the script has for this frame.
pub(super) fn follow_script(
    mut inputs: Query<&mut EguiInput>,
    (mut script, mut walker, mut wish): (ResMut<Script>, ResMut<Walker>, ResMut<Wish>),
    (finder, progress, report): (Res<Finder>, Res<Progress>, Res<Told>),
    mut exit: MessageWriter<AppExit>,
) {
    let Ok(mut input) = inputs.single_mut() else { return };
    if wish.path.is_some() {
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
    for action in &turn.actions {
        walker.desk.act(action);
    }
    input.events.extend(turn.events);
    report.with(|report| report.told.extend(turn.told));
    *wish = Wish { path: turn.picture, ..Wish::default() };
}

/// A script goes on whether or not anything is to be seen.
pub(super) fn keep_going(mut contexts: EguiContexts) {
    if let Ok(context) = contexts.ctx_mut() {
        context.request_repaint();
    }
}
