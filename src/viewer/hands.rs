//! Which keys and gestures do what?
//!
//! Everything here becomes an [`Action`]: nothing else moves the walker.

use std::collections::BTreeSet;

use bevy::prelude::Resource;
use bevy_egui::egui::{self, Event, Key, Modifiers};

use crate::angle::Angle;
use crate::site::Aim;

use super::desk::{Action, Desk};
use super::sheet::FinderPlace;

/// Walking pace, metres a second.
///
/// # Source
/// Comfortable walking speed of adults, 1.2 to 1.4 m/s (R. W. Bohannon, A. Williams Andrews, *Normal walking speed: a
/// descriptive meta-analysis*, Physiotherapy 97, 2011; from memory).
pub(super) const WALK_M_PER_S: f64 = 1.4;
/// How many times as fast with Shift, and how many times as slow with Alt.
const HURRY: f64 = 4.0;
/// How fast the arrows turn, degrees a second.
const TURN_DEG_PER_S: f64 = 32.0;
/// How fast the camera is raised and lowered, metres a second.
const RAISE_M_PER_S: f64 = 0.8;

/// The keys that do something for as long as they are held.
const HELD: [Key; 10] =
    [Key::W, Key::A, Key::S, Key::D, Key::Q, Key::E, Key::ArrowLeft, Key::ArrowRight, Key::ArrowUp, Key::ArrowDown];

/// What the hands are holding.
#[derive(Resource, Default, Debug)]
pub(super) struct Hands {
    held: BTreeSet<Key>,
    modifiers: Modifiers,
}

impl Hands {
    /// Whether a key is held that does something for as long as it is.
    pub(super) fn are_held(&self) -> bool {
        !self.held.is_empty()
    }

    /// What the keys ask for. Keys typed into a text field mean what they say there.
    pub(super) fn take(&mut self, events: &[Event], typing: bool, since_s: f64, desk: &Desk) -> Vec<Action> {
        let mut actions = Vec::new();
        // A key that goes down and up within one frame has been held for that frame.
        let mut held = self.held.clone();
        for event in events {
            match event {
                Event::ModifiersChanged(modifiers) => self.modifiers = *modifiers,
                Event::WindowFocused(false) => {
                    self.held.clear();
                    held.clear();
                }
                Event::Key { key, pressed: false, .. } => {
                    self.held.remove(key);
                }
                Event::Key { key, pressed: true, modifiers, .. } if !typing => {
                    self.modifiers = *modifiers;
                    if HELD.contains(key) && !modifiers.command {
                        self.held.insert(*key);
                        held.insert(*key);
                    } else {
                        actions.extend(pressed(*key, *modifiers));
                    }
                }
                _ => {}
            }
        }
        if typing {
            self.held.clear();
            return actions;
        }
        actions.extend(self.moves(&held, since_s, desk));
        actions
    }

    fn moves(&self, held: &BTreeSet<Key>, since_s: f64, desk: &Desk) -> Vec<Action> {
        let axis = |more: Key, less: Key| f64::from(i8::from(held.contains(&more)) - i8::from(held.contains(&less)));
        let pace = match (self.modifiers.shift, self.modifiers.alt) {
            (true, false) => HURRY,
            (false, true) => 1.0 / HURRY,
            _ => 1.0,
        };
        let mut actions = Vec::new();
        let (ahead, right) = (axis(Key::W, Key::S), axis(Key::D, Key::A));
        if ahead != 0.0 || right != 0.0 {
            // Slantwise is no faster than straight on.
            let step_m = WALK_M_PER_S * pace * since_s / ahead.hypot(right);
            actions.push(Action::Walk { ahead_m: ahead * step_m, right_m: right * step_m });
        }
        let (turn, tilt) = (axis(Key::ArrowRight, Key::ArrowLeft), axis(Key::ArrowUp, Key::ArrowDown));
        if turn != 0.0 || tilt != 0.0 {
            let by = |sense: f64| Angle::from_degrees(sense * TURN_DEG_PER_S * pace * since_s);
            actions.push(Action::Look { heading: by(turn), pitch: by(tilt) });
        }
        let climb = axis(Key::E, Key::Q);
        if climb != 0.0 {
            let standing = &desk.measured().standing;
            let height_m = standing.height_m().unwrap_or(standing.pose.eye.z);
            actions.push(Action::Height(height_m + climb * RAISE_M_PER_S * pace * since_s));
        }
        actions
    }
}

/// What a key does once when it goes down.
fn pressed(key: Key, _modifiers: Modifiers) -> Option<Action> {
    match key {
        Key::F => Some(Action::Aim(Aim::Fill)),
        Key::L => Some(Action::Level),
        Key::R => Some(Action::Aim(Aim::Rise)),
        Key::V => Some(Action::Turn),
        Key::Backspace => Some(Action::Undo),
        Key::Enter => Some(Action::Redo),
        _ => None,
    }
}

/// What the mouse or trackpad asks for over the finder.
pub(super) fn over_finder(ui: &egui::Ui, response: &egui::Response, place: &FinderPlace, desk: &Desk) -> Vec<Action> {
    let mut actions = Vec::new();
    let camera = &desk.measured().standing.camera;
    if response.dragged() {
        // The picture follows the hand.
        let by = response.drag_delta();
        let turn = |points: f32, field: Option<Angle>, side: f32| {
            field.map_or(Angle::ZERO, |field| field * f64::from(points / side))
        };
        let fields = camera.fields();
        actions.push(Action::Look {
            heading: -turn(by.x, fields[0], place.frame.width()),
            pitch: turn(by.y, fields[1], place.frame.height()),
        });
    }
    if response.hovered() {
        let scroll = ui.input(|input| input.smooth_scroll_delta().y);
        if scroll != 0.0 {
            actions.push(Action::Focal(camera.focal_mm * f64::from((scroll / 400.0).exp())));
        }
    }
    actions
}
