//! Which keys were held while another went down, and what is no reason to draw again?
//!
//! A frame can be long: Control and Q may go down and up within one. The keys come with what is held at its end, which is
//! nothing; the desktop's own order of them says what it was.
//!
//! Mends: keys that bevy_egui gives the modifiers of the frame's end, and modifiers that it reports in every frame, which would
//! have the window drawn for nothing.
//!
//! Remove when bevy_egui gives each key the modifiers that were held as it went down, and reports modifiers only when they change.

use bevy::input::ButtonState;
use bevy::input::keyboard::{Key, KeyboardInput};
use bevy::prelude::*;
use bevy_egui::helpers::{bevy_to_egui_key, bevy_to_egui_physical_key};
use bevy_egui::input::ModifierKeysState;
use bevy_egui::{EguiInput, egui};

/// What is held, key by key, as they come from the desktop.
#[derive(Debug, Default)]
pub(in crate::viewer) struct HeldModifiers {
    modifiers: ModifierKeysState,
    /// As the panels were told last.
    told: egui::Modifiers,
}

impl HeldModifiers {
    /// The keys that go down, each with what is held then.
    fn pressed<'a>(
        &mut self,
        keys: impl Iterator<Item = &'a KeyboardInput>,
        at_end: ModifierKeysState,
    ) -> Vec<(egui::Key, egui::Modifiers)> {
        let mut pressed = Vec::new();
        for input in keys {
            let down = input.state == ButtonState::Pressed;
            match input.logical_key {
                Key::Shift => self.modifiers.shift = down,
                Key::Alt => self.modifiers.alt = down,
                Key::Control => self.modifiers.ctrl = down,
                Key::Super | Key::Meta => self.modifiers.win = down,
                _ => {
                    let key = bevy_to_egui_key(&input.logical_key).or(bevy_to_egui_physical_key(&input.key_code));
                    pressed.extend(key.filter(|_| down).map(|key| (key, self.modifiers.to_egui_modifiers())));
                }
            }
        }
        // A key let go while another window had the keyboard is let go all the same.
        self.modifiers = at_end;
        pressed
    }
}

/// Puts a frame's input right: each key with what was held then; an unchanged state of those keys is left out.
pub(in crate::viewer) fn calm(
    mut keys: MessageReader<KeyboardInput>,
    at_end: Res<ModifierKeysState>,
    mut inputs: Query<&mut EguiInput>,
    mut held: Local<HeldModifiers>,
) {
    let mut pressed = held.pressed(keys.read(), *at_end).into_iter();
    let Ok(mut input) = inputs.single_mut() else { return };
    let mut told = held.told;
    input.0.events.retain_mut(|event| match event {
        egui::Event::ModifiersChanged(modifiers) => std::mem::replace(&mut told, *modifiers) != *modifiers,
        egui::Event::Key { key, pressed: true, modifiers, .. } => {
            if let Some((_, then)) = pressed.find(|(typed, _)| typed == key) {
                *modifiers = then;
            }
            true
        }
        _ => true,
    });
    held.told = told;
}

#[cfg(test)]
mod tests {
    use bevy::input::keyboard::KeyCode;

    use super::*;

    fn stroke(logical_key: Key, key_code: KeyCode, state: ButtonState) -> KeyboardInput {
        KeyboardInput { key_code, logical_key, state, text: None, repeat: false, window: Entity::PLACEHOLDER }
    }

    #[test]
    fn a_chord_within_one_frame_is_still_a_chord() {
        use ButtonState::{Pressed, Released};
        let q = || Key::Character("q".into());
        let strokes = [
            stroke(Key::Control, KeyCode::ControlLeft, Pressed),
            stroke(q(), KeyCode::KeyQ, Pressed),
            stroke(q(), KeyCode::KeyQ, Released),
            stroke(Key::Control, KeyCode::ControlLeft, Released),
            stroke(q(), KeyCode::KeyQ, Pressed),
        ];
        let pressed = HeldModifiers::default().pressed(strokes.iter(), ModifierKeysState::default());
        let ctrl = pressed.iter().map(|(_, modifiers)| modifiers.ctrl).collect::<Vec<_>>();
        assert_eq!(ctrl, [true, false]);
    }
}
