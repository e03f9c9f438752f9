//! What do the keys that are held and pressed ask for, and the mouse over the picture?
//!
//! Everything here becomes an [`Action`]: nothing else moves the camera.

use std::collections::BTreeSet;

use bevy::prelude::Resource;
use bevy_egui::egui::{self, Event, Key, Modifiers, MouseWheelUnit, PointerButton};

use crate::angle::Angle;
use crate::viewer::render::finder_mesh::FinderPlace;
use crate::viewer::state::desk::{Action, CameraAction, CameraMove, Desk, ShowAction};

use super::bindings::pressed;

/// Walking pace, metres a second.
///
/// # Source
/// Comfortable walking speed of adults, 1.2 to 1.4 m/s (R. W. Bohannon, A. Williams Andrews, *Normal walking speed: a
/// descriptive meta-analysis*, Physiotherapy 97, 2011; from memory).
const WALK_M_PER_S: f64 = 1.4;
/// How many times as fast with Shift, and how many times as slow with Alt.
const HURRY: f64 = 4.0;
/// How fast the arrows turn, degrees a second.
const TURN_DEG_PER_S: f64 = 32.0;
/// How fast the camera is raised and lowered, metres a second.
const RAISE_M_PER_S: f64 = 0.8;
/// How far a drag with the right-hand button walks, metres a point.
const DRAG_M: f64 = 0.02;
/// How far a notch of the wheel raises the camera.
const NOTCH_M: f64 = 0.1;
/// How many points of a trackpad change the focal length e-fold.
const FINGERS_PT: f32 = 400.0;

/// The keys that do something for as long as they are held.
const HELD: [Key; 10] =
    [Key::W, Key::A, Key::S, Key::D, Key::Q, Key::E, Key::ArrowLeft, Key::ArrowRight, Key::ArrowUp, Key::ArrowDown];

/// What of a frame's events is left to the keys that walk: while an instrument has the keyboard, it keeps those that turn
/// it.
pub(in crate::viewer) fn without_focus_keys(context: &egui::Context, events: &[egui::Event]) -> Vec<egui::Event> {
    let focused = context.memory(|memory| memory.focused());
    let held = focused.is_some_and(|id| id != egui::Id::new("finder"));
    let keeps = |key: &Key| {
        matches!(
            key,
            Key::ArrowDown
                | Key::ArrowLeft
                | Key::ArrowRight
                | Key::ArrowUp
                | Key::Backspace
                | Key::Delete
                | Key::End
                | Key::Enter
                | Key::Escape
                | Key::Home
                | Key::PageDown
                | Key::PageUp
                | Key::Space
                | Key::Tab
        )
    };
    let kept = |event: &egui::Event| matches!(event, egui::Event::Key { key, pressed: true, .. } if keeps(key));
    events.iter().filter(|event| !(held && kept(event))).cloned().collect()
}

/// What the hands are holding.
#[derive(Resource, Default, Debug)]
pub(in crate::viewer) struct HeldKeys {
    held: BTreeSet<Key>,
    /// Keys that are down and have done what they do once.
    down: BTreeSet<Key>,
    modifiers: Modifiers,
}

impl HeldKeys {
    /// Whether a key is held that does something for as long as it is.
    pub(in crate::viewer) fn are_held(&self) -> bool {
        !self.held.is_empty()
    }

    /// What the keys ask for after `since_s` seconds. Keys typed into a text field mean what they say there.
    pub(in crate::viewer) fn take(&mut self, events: &[Event], typing: bool, since_s: f64, desk: &Desk) -> Vec<Action> {
        if desk.is_showing() {
            self.held.clear();
            return self.shown(events);
        }
        let mut actions = Vec::new();
        // A key that goes down and up within one frame has been held for that frame.
        let mut held = self.held.clone();
        for event in events {
            match event {
                Event::ModifiersChanged(modifiers) => self.modifiers = *modifiers,
                Event::WindowFocused(false) => {
                    self.let_go(desk, &mut actions);
                    held.clear();
                }
                Event::Key { key, pressed: false, .. } => {
                    self.held.remove(key);
                    self.down.remove(key);
                    if *key == Key::U && desk.straighten().is_some() {
                        actions.push(CameraAction::Straighten(None).into());
                    }
                }
                Event::Key { key, pressed: true, modifiers, .. } if !typing => {
                    self.modifiers = *modifiers;
                    if HELD.contains(key) && !modifiers.command {
                        self.held.insert(*key);
                        held.insert(*key);
                    } else if self.down.insert(*key) {
                        // A keyboard that repeats a held key does not make it do so once more.
                        actions.extend(pressed(*key, *modifiers, desk));
                    }
                }
                _ => {}
            }
        }
        if typing {
            self.let_go(desk, &mut actions);
            return actions;
        }
        actions.extend(self.moves(&held, since_s, desk));
        actions
    }

    /// What keys mean while the chosen stances are shown full screen.
    fn shown(&mut self, events: &[Event]) -> Vec<Action> {
        let mut actions = Vec::new();
        for event in events {
            let Event::Key { key, pressed, .. } = event else { continue };
            if !pressed {
                self.down.remove(key);
            }
            // A keyboard that repeats a held key does not make it act once more.
            let action = match (key, *pressed && self.down.insert(*key)) {
                (Key::ArrowRight | Key::PageDown, true) => ShowAction::Step(1),
                (Key::ArrowLeft | Key::PageUp, true) => ShowAction::Step(-1),
                (Key::ArrowUp, true) => ShowAction::Rise { up: true },
                (Key::ArrowDown, true) => ShowAction::Rise { up: false },
                (Key::Enter, true) => ShowAction::Glide,
                (Key::Space | Key::U, true) => ShowAction::Flick,
                // What is held is flicked back.
                (Key::U, false) if !pressed => ShowAction::Flick,
                (Key::Escape, true) => ShowAction::End,
                _ => continue,
            };
            actions.push(action.into());
        }
        actions
    }

    fn let_go(&mut self, desk: &Desk, actions: &mut Vec<Action>) {
        self.held.clear();
        self.down.clear();
        if desk.straighten().is_some() {
            actions.push(CameraAction::Straighten(None).into());
        }
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
            actions.push(CameraMove::Walk { ahead_m: ahead * step_m, right_m: right * step_m }.into());
        }
        let (turn, tilt) = (axis(Key::ArrowRight, Key::ArrowLeft), axis(Key::ArrowUp, Key::ArrowDown));
        if turn != 0.0 || tilt != 0.0 {
            let by = |sense: f64| Angle::from_degrees(sense * TURN_DEG_PER_S * pace * since_s);
            actions.push(CameraMove::Look { heading: by(turn), pitch: by(tilt) }.into());
        }
        let climb = axis(Key::E, Key::Q);
        if climb != 0.0 {
            actions.push(CameraMove::Height(height_m(desk) + climb * RAISE_M_PER_S * pace * since_s).into());
        }
        actions
    }
}

fn height_m(desk: &Desk) -> f64 {
    let standing = &desk.measured().standing;
    standing.height_m().unwrap_or(standing.pose.eye.z)
}

/// What the mouse or trackpad asks for over the finder.
pub(in crate::viewer) fn over_finder(
    ui: &egui::Ui,
    response: &egui::Response,
    place: &FinderPlace,
    desk: &Desk,
) -> Vec<Action> {
    let mut actions = Vec::new();
    let camera = &desk.measured().standing.camera;
    let by = response.drag_delta();
    if response.dragged_by(PointerButton::Primary) && by != egui::Vec2::ZERO {
        // The picture follows the hand.
        let turn = |points: f32, field: Option<Angle>, side: f32| {
            field.map_or(Angle::ZERO, |field| field * f64::from(points / side.max(1.0)))
        };
        let fields = camera.fields();
        actions.push(
            CameraMove::Look {
                heading: -turn(by.x, fields[0], place.frame.width()),
                pitch: turn(by.y, fields[1], place.frame.height()),
            }
            .into(),
        );
    }
    if response.dragged_by(PointerButton::Secondary) && by != egui::Vec2::ZERO {
        actions.push(CameraMove::Walk { ahead_m: -DRAG_M * f64::from(by.y), right_m: DRAG_M * f64::from(by.x) }.into());
    }
    if response.hovered() {
        let events = ui.input(|input| input.events.clone());
        // A fine wheel turns by parts of a notch.
        let turned = response.id.with("turned");
        let mut notches: f32 = ui.data(|data| data.get_temp(turned)).unwrap_or_default();
        for event in &events {
            match event {
                Event::MouseWheel { unit: MouseWheelUnit::Point, delta, modifiers, .. } if !modifiers.shift => {
                    actions.push(CameraMove::Focal(camera.focal_mm * f64::from((delta.y / FINGERS_PT).exp())).into());
                }
                Event::MouseWheel { unit: MouseWheelUnit::Point, delta, .. } => {
                    actions.push(CameraMove::Height(height_m(desk) + f64::from(delta.y / FINGERS_PT)).into());
                }
                // Where Shift is held, some systems turn the wheel sideways.
                Event::MouseWheel { delta, modifiers, .. } if modifiers.shift => {
                    actions.push(CameraMove::Height(height_m(desk) + NOTCH_M * f64::from(delta.x + delta.y)).into());
                }
                Event::MouseWheel { delta, .. } => notches += delta.y,
                Event::Zoom(zoom) => actions.push(CameraMove::Focal(camera.focal_mm * f64::from(*zoom)).into()),
                _ => {}
            }
        }
        if notches.abs() >= 1.0 {
            actions.push(CameraMove::FocalStop(notches as i32).into());
            notches = notches.fract();
        }
        ui.data_mut(|data| data.insert_temp(turned, notches));
    }
    actions
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::site::Aim;
    use crate::survey::MeasureSettings;
    use crate::viewer::state::opening::{Home, Source};
    use crate::viewer::ui::bindings::BINDINGS;

    fn desk() -> Desk {
        Desk::open(Home::default(), Source::Scene(0), None, MeasureSettings::default()).expect("a demo site")
    }

    fn key(key: Key, pressed: bool) -> Event {
        Event::Key { key, physical_key: Some(key), pressed, repeat: false, modifiers: Modifiers::NONE }
    }

    fn walked_m(frames_per_s: u32) -> f64 {
        let (mut hands, desk) = (HeldKeys::default(), desk());
        let mut sum_m = 0.0;
        for frame in 0..2 * frames_per_s {
            let events = if frame == 0 { vec![key(Key::W, true)] } else { Vec::new() };
            for action in hands.take(&events, false, 1.0 / f64::from(frames_per_s), &desk) {
                match action {
                    Action::Camera(CameraAction::Move(CameraMove::Walk { ahead_m, right_m })) => {
                        assert_eq!(right_m, 0.0);
                        sum_m += ahead_m;
                    }
                    other => panic!("{other:?}"),
                }
            }
        }
        sum_m
    }

    #[test]
    fn a_held_key_walks_as_far_at_any_frame_rate() {
        for frames_per_s in [10, 24, 60, 144] {
            assert!((walked_m(frames_per_s) - 2.0 * WALK_M_PER_S).abs() < 1e-9, "{frames_per_s}");
        }
    }

    #[test]
    fn a_repeated_key_acts_once_and_a_typed_one_not_at_all() {
        let (mut hands, desk) = (HeldKeys::default(), desk());
        assert_eq!(hands.take(&[key(Key::F, true)], false, 0.1, &desk), [CameraMove::Aim(Aim::Fill).into()]);
        assert_eq!(hands.take(&[key(Key::F, true)], false, 0.1, &desk), []);
        assert_eq!(
            hands.take(&[key(Key::F, false), key(Key::F, true)], false, 0.1, &desk),
            [CameraMove::Aim(Aim::Fill).into()]
        );
        assert_eq!(hands.take(&[key(Key::W, true), key(Key::P, true)], true, 0.1, &desk), []);
        assert!(!hands.are_held());
    }

    #[test]
    fn a_window_that_loses_the_focus_lets_go() {
        let (mut hands, desk) = (HeldKeys::default(), desk());
        hands.take(&[key(Key::W, true)], false, 0.1, &desk);
        assert!(hands.are_held());
        assert_eq!(hands.take(&[Event::WindowFocused(false)], false, 0.1, &desk), []);
        assert!(!hands.are_held());
    }

    #[test]
    fn no_held_key_also_acts_once() {
        for press in BINDINGS.iter().flat_map(|binding| binding.presses) {
            assert!(press.command || !HELD.contains(&press.key), "{:?}", press.key);
        }
    }
}
