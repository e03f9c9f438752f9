//! Which key does what? One list, which the window acts by and the help shows.

use bevy_egui::egui::{Key, Modifiers};

use crate::site::Aim;
use crate::viewer::state::desk::{
    Action, CameraAction, CameraMove, DeliveryAction, Desk, DeskName, FileAction, PrintAction, SettingAction,
    ShowAction,
};

/// A line of the help, and what is done when its keys go down.
pub(super) struct Binding {
    /// What it belongs to.
    pub(super) group: &'static str,
    /// The keys or gesture, as the help writes them.
    pub(super) keys: &'static str,
    /// What they do.
    pub(super) words: &'static str,
    /// What each key does once when it goes down; empty for what is held, dragged or turned.
    pub(super) presses: &'static [Press],
}

/// What a key does once when it goes down.
pub(super) struct Press {
    pub(super) key: Key,
    /// Whether Ctrl (Command on a Mac) must be held.
    pub(super) command: bool,
    pub(super) action: fn(&Desk, Modifiers) -> Option<Action>,
}

/// Everything that keys and mouse do, in the order of the help.
pub(super) const BINDINGS: &[Binding] = &[
    Binding {
        group: "Walking",
        keys: "W A S D",
        words: "forward, left, back, right; faster with Shift, slower with Alt",
        presses: &[],
    },
    Binding { group: "Walking", keys: "Q, E", words: "lower or raise the camera", presses: &[] },
    Binding {
        group: "Walking",
        keys: "1 to 9",
        words: "the named heights, in order",
        presses: &[
            key(Key::Num1, |desk, _| height(desk, 0)),
            key(Key::Num2, |desk, _| height(desk, 1)),
            key(Key::Num3, |desk, _| height(desk, 2)),
            key(Key::Num4, |desk, _| height(desk, 3)),
            key(Key::Num5, |desk, _| height(desk, 4)),
            key(Key::Num6, |desk, _| height(desk, 5)),
            key(Key::Num7, |desk, _| height(desk, 6)),
            key(Key::Num8, |desk, _| height(desk, 7)),
            key(Key::Num9, |desk, _| height(desk, 8)),
        ],
    },
    Binding { group: "Walking", keys: "right drag", words: "on the picture: walk", presses: &[] },
    Binding {
        group: "Looking",
        keys: "arrows",
        words: "turn and tilt; faster with Shift, slower with Alt",
        presses: &[],
    },
    Binding { group: "Looking", keys: "drag", words: "on the picture: look around", presses: &[] },
    Binding {
        group: "Looking",
        keys: "T",
        words: "look at the subject",
        presses: &[key(Key::T, |_, _| act(CameraMove::LookAtSubject))],
    },
    Binding {
        group: "Lens",
        keys: "wheel; Z, X",
        words: "next marked focal length, shorter or longer; past the end, the next lens",
        presses: &[
            key(Key::Z, |_, _| act(CameraMove::FocalStop(-1))),
            key(Key::X, |_, _| act(CameraMove::FocalStop(1))),
        ],
    },
    Binding {
        group: "Lens",
        keys: "pinch, two fingers",
        words: "any focal length; Shift and wheel: raise or lower the camera",
        presses: &[],
    },
    Binding {
        group: "Aiming",
        keys: "F",
        words: "fill the frame with the subject",
        presses: &[key(Key::F, |_, _| act(CameraMove::Aim(Aim::Fill)))],
    },
    Binding {
        group: "Aiming",
        keys: "N",
        words: "tilt least: no more than holds the subject with its margins",
        presses: &[key(Key::N, |_, _| act(CameraMove::Aim(Aim::LeastTilt)))],
    },
    Binding {
        group: "Aiming",
        keys: "J",
        words: "aim so that straightening afterwards keeps the most detail",
        presses: &[key(Key::J, |_, _| act(CameraMove::Aim(Aim::Correct)))],
    },
    Binding {
        group: "Aiming",
        keys: "L",
        words: "level the camera",
        presses: &[key(Key::L, |_, _| act(CameraMove::Level))],
    },
    Binding {
        group: "Aiming",
        keys: "G",
        words: "level, and fill the frame as far as possible",
        presses: &[key(Key::G, |_, _| act(CameraMove::Aim(Aim::Level)))],
    },
    Binding {
        group: "Aiming",
        keys: "R",
        words: "level, and use the rise that the lens allows",
        presses: &[key(Key::R, |_, _| act(CameraMove::Aim(Aim::Rise)))],
    },
    Binding {
        group: "Aiming",
        keys: "V",
        words: "portrait or landscape",
        presses: &[key(Key::V, |_, _| act(CameraMove::Turn))],
    },
    Binding {
        group: "History",
        keys: "Backspace, Ctrl Z",
        words: "undo",
        presses: &[
            key(Key::Backspace, |_, _| act(CameraAction::Undo)),
            command(Key::Z, |_, held| act(if held.shift { CameraAction::Redo } else { CameraAction::Undo })),
        ],
    },
    Binding {
        group: "History",
        keys: "Enter, Ctrl Y",
        words: "redo",
        presses: &[key(Key::Enter, |_, _| act(CameraAction::Redo)), command(Key::Y, |_, _| act(CameraAction::Redo))],
    },
    Binding {
        group: "Prints",
        keys: "P",
        words: "pin this stance",
        presses: &[key(Key::P, |_, _| act(PrintAction::Pin))],
    },
    Binding {
        group: "Prints",
        keys: "Space",
        words: "switch between here and the compared print",
        presses: &[key(Key::Space, |_, _| act(PrintAction::Flick))],
    },
    Binding {
        group: "Picture",
        keys: "U, held",
        words: "show it straightened; with Shift by half",
        presses: &[key(Key::U, |_, held| act(CameraAction::Straighten(Some(if held.shift { 0.5 } else { 1.0 }))))],
    },
    Binding {
        group: "Picture",
        keys: "O",
        words: "show or hide the surround of the frame",
        presses: &[key(Key::O, |desk, _| act(SettingAction::Surround(!desk.settings().surround)))],
    },
    Binding {
        group: "Picture",
        keys: "C",
        words: "capture; at full size with Shift",
        presses: &[key(Key::C, |_, held| act(DeliveryAction::Capture { full: held.shift, folder: None }))],
    },
    Binding {
        group: "Window",
        keys: "Ctrl 1 to 5",
        words: "the five desks",
        presses: &[
            command(Key::Num1, |_, _| act(SettingAction::ShowDesk(DeskName::ALL[0]))),
            command(Key::Num2, |_, _| act(SettingAction::ShowDesk(DeskName::ALL[1]))),
            command(Key::Num3, |_, _| act(SettingAction::ShowDesk(DeskName::ALL[2]))),
            command(Key::Num4, |_, _| act(SettingAction::ShowDesk(DeskName::ALL[3]))),
            command(Key::Num5, |_, _| act(SettingAction::ShowDesk(DeskName::ALL[4]))),
        ],
    },
    Binding {
        group: "Window",
        keys: "Ctrl Plus, Ctrl Minus",
        words: "larger or smaller text; Ctrl 0: the usual size",
        presses: &[
            command(Key::Plus, |desk, _| text_size(desk, 1.0)),
            command(Key::Equals, |desk, _| text_size(desk, 1.0)),
            command(Key::Minus, |desk, _| text_size(desk, -1.0)),
            command(Key::Num0, |_, _| act(SettingAction::TextSize(1.0))),
        ],
    },
    Binding {
        group: "Window",
        keys: "Ctrl F",
        words: "the prints full screen: left and right go through them, Enter glides on, up and down move the camera, Space \
                or U held flicks, Escape returns",
        presses: &[command(Key::F, |_, _| act(ShowAction::Begin))],
    },
    Binding {
        group: "Window",
        keys: "Ctrl O, Ctrl Q",
        words: "open a site; save everything and quit",
        presses: &[command(Key::O, |_, _| act(FileAction::OpenDialog)), command(Key::Q, |_, _| act(FileAction::Quit))],
    },
    Binding {
        group: "Window",
        keys: "H",
        words: "this help",
        presses: &[
            key(Key::H, |desk, _| act(SettingAction::Help(!desk.help()))),
            key(Key::F1, |desk, _| act(SettingAction::Help(!desk.help()))),
            key(Key::Escape, |desk, _| desk.help().then(|| SettingAction::Help(false).into())),
        ],
    },
];

const fn key(key: Key, action: fn(&Desk, Modifiers) -> Option<Action>) -> Press {
    Press { key, command: false, action }
}

const fn command(key: Key, action: fn(&Desk, Modifiers) -> Option<Action>) -> Press {
    Press { key, command: true, action }
}

fn act(action: impl Into<Action>) -> Option<Action> {
    Some(action.into())
}

/// Larger or smaller text, by so many steps of a tenth.
fn text_size(desk: &Desk, steps: f64) -> Option<Action> {
    act(SettingAction::TextSize(desk.settings().text_size + 0.1 * steps))
}

/// The named height with this number, from 0.
fn height(desk: &Desk, number: usize) -> Option<Action> {
    desk.settings().presets.get(number).map(|preset| CameraMove::Height(preset.height_m).into())
}

/// What a key does once when it goes down, with what is held besides.
pub(super) fn pressed(key: Key, held: Modifiers, desk: &Desk) -> Option<Action> {
    let presses = BINDINGS.iter().flat_map(|binding| binding.presses);
    let press = presses.into_iter().find(|press| press.key == key && press.command == held.command)?;
    (press.action)(desk, held)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_key_means_two_things() {
        let mut known = Vec::new();
        for press in BINDINGS.iter().flat_map(|binding| binding.presses) {
            let chord = (press.key, press.command);
            assert!(!known.contains(&chord), "{chord:?}");
            known.push(chord);
        }
    }

    #[test]
    fn the_help_names_the_key_of_each_line() {
        for binding in BINDINGS {
            if let Some(press) = binding.presses.first() {
                assert!(binding.keys.contains(press.key.name()), "{}: {:?}", binding.keys, press.key);
            }
        }
    }
}
