//! How is the window driven by a list of what hands would do?
//!
//! Plain text, one thing a line, in order; `#` begins a comment. Keys and mouse go in where those of a display go in, so
//! that everything behind them is tried. Without a display time goes by in even steps.
//!
//! | line | what it does |
//! | --- | --- |
//! | `hold W 2.5` | holds a key, or several (`hold W+Shift 1`), for so many seconds |
//! | `key F`, `key Ctrl+Z` | presses a key once |
//! | `down U`, `up U` | presses a key and keeps it, lets it go |
//! | `wheel 2`, `wheel -1` | turns the wheel over the finder by so many notches |
//! | `drag 40 -20` | drags the finder by so many points right and down |
//! | `click 640 300` | clicks at a place, in points from the top left |
//! | `type some words` | types |
//! | `open PATH`, `scene 2`, `deck NAME`, `sit Compare`, `folder PATH`, `against 1`, `lay 1`, `search`, `leaf Field card` | what panels do |
//! | `wait 0.5` | lets so many seconds pass |
//! | `settle` | waits until all work is done and the picture is whole |
//! | `tell` | prints where the walker stands and what is pinned |
//! | `picture PATH` | pictures the window (only without a display) |
//! | `quit` | closes the window |

use std::collections::VecDeque;
use std::path::PathBuf;

use bevy::prelude::Resource;
use bevy_egui::egui::{Event, Key, Modifiers, MouseWheelUnit, PointerButton, Pos2, TouchPhase, Vec2};
use thiserror::Error;

use crate::handover::deliver::DeliveryKind;
use crate::viewer::render::finder_mesh::FinderPlace;
use crate::viewer::render::narrow::screen;
use crate::viewer::state::desk::{
    Action, CameraMove, DeliveryAction, Desk, DeskName, FileAction, PrintAction, SearchAction, SettingAction,
};

/// A line that says nothing the window knows.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
#[error("line {line}: '{text}': {mend}")]
pub struct ScriptError {
    /// Counted from 1.
    pub line: usize,
    /// The line.
    pub text: String,
    /// What would be understood.
    pub mend: String,
}

#[derive(Clone, Debug, PartialEq)]
enum Step {
    Hold(Vec<Key>, Modifiers, f64),
    Key(Key, Modifiers, bool),
    Wheel(f32),
    Drag(Vec2),
    Carry(Pos2, Pos2),
    Click(Pos2),
    Type(String),
    Do(Action),
    /// By its place in the order, from 1: whether it is laid down, or compared with.
    Print(usize, bool),
    Wait(f64),
    Settle,
    Tell,
    Picture(PathBuf),
}

/// What is to be done, in order.
#[derive(Clone, Debug, Default, PartialEq, Resource)]
pub struct Script {
    steps: VecDeque<Step>,
    /// What must be let go, and when.
    holding: Option<(Vec<Key>, f64)>,
    waiting_until_s: Option<f64>,
    /// What the next frames get, one each.
    queued: VecDeque<Vec<Event>>,
    settled_frames: u32,
}

/// What a script sees of the window.
pub(in crate::viewer) struct Scenery<'a> {
    pub(in crate::viewer) now_s: f64,
    pub(in crate::viewer) place: Option<FinderPlace>,
    pub(in crate::viewer) settled: bool,
    pub(in crate::viewer) desk: &'a Desk,
}

/// What a script wants in one frame.
#[derive(Debug, Default, PartialEq)]
pub(in crate::viewer) struct Turn {
    pub(in crate::viewer) events: Vec<Event>,
    pub(in crate::viewer) actions: Vec<Action>,
    pub(in crate::viewer) told: Vec<String>,
    pub(in crate::viewer) picture: Option<PathBuf>,
}

impl Script {
    /// Reads a script.
    ///
    /// # Errors
    /// The first line that is not understood.
    pub fn parse(text: &str) -> Result<Self, ScriptError> {
        let mut steps = VecDeque::new();
        for (index, written) in text.lines().enumerate() {
            let line = written.split('#').next().unwrap_or_default().trim();
            if line.is_empty() {
                continue;
            }
            match step(line) {
                Ok(step) => steps.push_back(step),
                Err(mend) => return Err(ScriptError { line: index + 1, text: line.into(), mend }),
            }
        }
        Ok(Self { steps, ..Self::default() })
    }

    /// A walk around the subject and back, without end: what frame times are measured on.
    pub(in crate::viewer) fn circling(seconds: f64) -> Self {
        let (left, right) = (vec![Key::A, Key::ArrowRight], vec![Key::D, Key::ArrowLeft]);
        let mut steps = VecDeque::new();
        let mut sum_s = 0.0;
        while sum_s < seconds {
            steps.push_back(Step::Hold(left.clone(), Modifiers::NONE, 1.0));
            steps.push_back(Step::Hold(right.clone(), Modifiers::NONE, 1.0));
            sum_s += 2.0;
        }
        Self { steps, ..Self::default() }
    }

    /// Whether everything is done.
    pub(in crate::viewer) fn is_over(&self) -> bool {
        self.steps.is_empty() && self.holding.is_none() && self.waiting_until_s.is_none() && self.queued.is_empty()
    }

    /// Presses, moves in four parts, and lets go.
    fn drag(&mut self, from: Pos2, by: Vec2) {
        self.queued.push_back(vec![button(from, true)]);
        for part in 1..=4 {
            self.queued.push_back(vec![Event::PointerMoved(from + by * (0.25 * screen(f64::from(part))))]);
        }
        self.queued.push_back(vec![button(from + by, false)]);
    }

    /// What the next frame brings.
    pub(in crate::viewer) fn turn(&mut self, scenery: &Scenery<'_>) -> Turn {
        let mut turn = Turn::default();
        if let Some(events) = self.queued.pop_front() {
            turn.events = events;
            return turn;
        }
        if let Some((keys, until_s)) = &self.holding {
            if scenery.now_s + 1e-9 < *until_s {
                return turn;
            }
            turn.events.extend(keys.iter().map(|key| stroke(*key, Modifiers::NONE, false)));
            turn.events.push(Event::ModifiersChanged(Modifiers::NONE));
            self.holding = None;
            return turn;
        }
        if let Some(until_s) = self.waiting_until_s {
            if scenery.now_s + 1e-9 < until_s {
                return turn;
            }
            self.waiting_until_s = None;
        }
        let middle = scenery.place.map(|place| place.frame.center());
        let Some(step) = self.steps.pop_front() else { return turn };
        match step {
            Step::Hold(keys, modifiers, seconds) => {
                turn.events.push(Event::ModifiersChanged(modifiers));
                turn.events.extend(keys.iter().map(|key| stroke(*key, modifiers, true)));
                self.holding = Some((keys, scenery.now_s + seconds));
            }
            Step::Key(key, modifiers, pressed) => {
                turn.events.push(Event::ModifiersChanged(if pressed { modifiers } else { Modifiers::NONE }));
                turn.events.push(stroke(key, modifiers, pressed));
            }
            Step::Wheel(notches) => {
                if let Some(middle) = middle {
                    turn.events.push(Event::PointerMoved(middle));
                    self.queued.push_back(vec![Event::MouseWheel {
                        unit: MouseWheelUnit::Line,
                        delta: Vec2::new(0.0, notches),
                        modifiers: Modifiers::NONE,
                        phase: TouchPhase::Move,
                    }]);
                }
            }
            Step::Drag(by) => {
                if let Some(middle) = middle {
                    turn.events.push(Event::PointerMoved(middle));
                    self.drag(middle, by);
                }
            }
            Step::Carry(from, to) => {
                turn.events.push(Event::PointerMoved(from));
                self.drag(from, to - from);
            }
            Step::Click(at) => {
                turn.events.push(Event::PointerMoved(at));
                self.queued.push_back(vec![button(at, true)]);
                self.queued.push_back(vec![button(at, false)]);
            }
            Step::Type(text) => turn.events.push(Event::Text(text)),
            Step::Do(action) => turn.actions.push(action),
            Step::Print(number, laid) => {
                if let Some(pinned) = number.checked_sub(1).and_then(|index| scenery.desk.prints().get(index)) {
                    let id = pinned.print.id;
                    turn.actions.push(if laid {
                        PrintAction::Lay(id, true).into()
                    } else {
                        PrintAction::CompareWith(Some(id)).into()
                    });
                } else {
                    turn.told.push(format!("there is no print {number}"));
                }
            }
            Step::Wait(seconds) => self.waiting_until_s = Some(scenery.now_s + seconds),
            Step::Settle => {
                self.settled_frames = if scenery.settled { self.settled_frames + 1 } else { 0 };
                if self.settled_frames < SETTLED_FRAMES {
                    self.steps.push_front(Step::Settle);
                } else {
                    self.settled_frames = 0;
                }
            }
            Step::Tell => turn.told.extend(tell(scenery.desk)),
            Step::Picture(path) => turn.picture = Some(path),
        }
        turn
    }
}

/// Panels find their places within so many frames.
const SETTLED_FRAMES: u32 = 5;

fn stroke(key: Key, modifiers: Modifiers, pressed: bool) -> Event {
    Event::Key { key, physical_key: Some(key), pressed, repeat: false, modifiers }
}

fn button(pos: Pos2, pressed: bool) -> Event {
    Event::PointerButton { pos, button: PointerButton::Primary, pressed, modifiers: Modifiers::NONE }
}

/// Where the walker stands and what is pinned, a line each.
fn tell(desk: &Desk) -> Vec<String> {
    let standing = &desk.measured().standing;
    let eye = standing.pose.eye;
    let feet = standing.footing.as_ref();
    let on = feet.and_then(|footing| footing.name.clone()).unwrap_or_else(|| "the ground".into());
    let mut told = vec![format!(
        "stance: eye {:.3} {:.3} {:.3} m, feet on {on} at {:.3} m, {:.2} mm, heading {:.3}°, pitch {:.3}°",
        eye.x,
        eye.y,
        eye.z,
        feet.map_or(f64::NAN, |footing| footing.height_m),
        standing.camera.focal_mm,
        standing.pose.attitude.heading.compass_degrees(),
        standing.pose.attitude.pitch.degrees(),
    )];
    told.extend(desk.prints().iter().map(|pinned| format!("print: {}", pinned.print.name)));
    told.extend(desk.notices().iter().map(|notice| format!("notice: {}", notice.text)));
    told.extend(desk.site_problems().map(|problems| format!("site: {problems}")));
    told
}

fn step(line: &str) -> Result<Step, String> {
    let (word, rest) = line.split_once(char::is_whitespace).map_or((line, ""), |(word, rest)| (word, rest.trim()));
    let number = |text: &str| text.parse::<f64>().ok().filter(|number| number.is_finite());
    let numbers = |wanted: &str| -> Result<[f32; 2], String> {
        let parts: Vec<f64> = rest.split_whitespace().filter_map(number).collect();
        match parts[..] {
            [a, b] => Ok([screen(a), screen(b)]),
            _ => Err(format!("write it as '{wanted}'")),
        }
    };
    let seconds = |text: &str| number(text).filter(|seconds| (0.0..=3600.0).contains(seconds));
    let count = || rest.parse::<usize>().ok().filter(|count| *count > 0);
    match word {
        "hold" => {
            let (keys, time) = rest.rsplit_once(char::is_whitespace).ok_or("write it as 'hold W 2.5'")?;
            let (keys, modifiers) = chord(keys)?;
            Ok(Step::Hold(keys, modifiers, seconds(time).ok_or("give the seconds, up to 3600")?))
        }
        "key" | "down" | "up" => {
            let (keys, modifiers) = chord(rest)?;
            let [key] = keys[..] else { return Err("give one key".into()) };
            match word {
                "down" => Ok(Step::Key(key, modifiers, true)),
                "up" => Ok(Step::Key(key, modifiers, false)),
                _ => Ok(Step::Hold(vec![key], modifiers, 0.0)),
            }
        }
        "wheel" => number(rest).map(|notches| Step::Wheel(screen(notches))).ok_or("give the notches".into()),
        "drag" => numbers("drag 40 -20").map(|[x, y]| Step::Drag(Vec2::new(x, y))),
        "carry" => {
            let parts: Vec<f64> = rest.split_whitespace().filter_map(number).collect();
            let &[from_x, from_y, to_x, to_y] = parts.as_slice() else {
                return Err("write it as 'carry 500 400 540 400'".into());
            };
            let at = |x, y| Pos2::new(screen(x), screen(y));
            Ok(Step::Carry(at(from_x, from_y), at(to_x, to_y)))
        }
        "click" => numbers("click 640 300").map(|[x, y]| Step::Click(Pos2::new(x, y))),
        "type" => Ok(Step::Type(rest.into())),
        "open" => Ok(Step::Do(FileAction::Open(rest.into()).into())),
        "folder" => Ok(Step::Do(DeliveryAction::Folder(rest.into()).into())),
        "scene" => count()
            .map(|count| Step::Do(FileAction::OpenScene(count - 1).into()))
            .ok_or("give its number, from 1".into()),
        "deck" => Ok(Step::Do(CameraMove::StandOn(Some(rest.to_owned()).filter(|name| !name.is_empty())).into())),
        "sit" => {
            let desk = DeskName::ALL.into_iter().find(|desk| desk.words().eq_ignore_ascii_case(rest));
            let names = DeskName::ALL.map(DeskName::words).join(", ");
            desk.map(|desk| Step::Do(SettingAction::ShowDesk(desk).into())).ok_or(format!("there are {names}"))
        }
        "search" if rest.is_empty() => Ok(Step::Do(SearchAction::Start.into())),
        "leaf" => {
            let kind = DeliveryKind::ALL.into_iter().find(|kind| kind.words().eq_ignore_ascii_case(rest));
            let names = DeliveryKind::ALL.map(DeliveryKind::words).join(", ");
            kind.map(|kind| Step::Do(DeliveryAction::ShowPage(kind).into())).ok_or(format!("there are {names}"))
        }
        "against" | "lay" => {
            count().map(|count| Step::Print(count, word == "lay")).ok_or("give its place in the order, from 1".into())
        }
        "wait" => seconds(rest).map(Step::Wait).ok_or("give the seconds, up to 3600".into()),
        "settle" => Ok(Step::Settle),
        "tell" => Ok(Step::Tell),
        "picture" if !rest.is_empty() => Ok(Step::Picture(rest.into())),
        "quit" => Ok(Step::Do(FileAction::Quit.into())),
        _ => Err(
            "begin with hold, key, down, up, wheel, drag, carry, click, type, open, scene, deck, sit, folder, search, leaf, \
                  against, lay, wait, settle, tell, picture FILE or quit"
                .into(),
        ),
    }
}

/// Keys joined by plus signs.
fn chord(text: &str) -> Result<(Vec<Key>, Modifiers), String> {
    let (mut keys, mut modifiers) = (Vec::new(), Modifiers::NONE);
    for name in text.split('+').map(str::trim) {
        match name {
            "Ctrl" => modifiers |= Modifiers::CTRL | Modifiers::COMMAND,
            "Shift" => modifiers |= Modifiers::SHIFT,
            "Alt" => modifiers |= Modifiers::ALT,
            _ => keys.push(Key::from_name(name).ok_or_else(|| format!("'{name}' is no key's name"))?),
        }
    }
    if keys.is_empty() { Err("give a key".into()) } else { Ok((keys, modifiers)) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_that_is_not_understood_is_told_with_its_number() {
        let error = Script::parse("key F # fill\n\nhold W soon\n").expect_err("no number");
        assert_eq!(error.to_string(), "line 3: 'hold W soon': give the seconds, up to 3600");
        for line in ["jump", "key", "key Ctrl", "key Banana", "wheel", "drag 1", "scene 0", "sit Bed", "picture"] {
            assert!(Script::parse(line).is_err(), "{line}");
        }
    }

    #[test]
    fn keys_are_joined_by_plus_signs() {
        let (keys, modifiers) = chord("Ctrl+Shift+Z").expect("keys");
        assert_eq!(keys, [Key::Z]);
        assert!(modifiers.command && modifiers.shift && !modifiers.alt);
    }
}
