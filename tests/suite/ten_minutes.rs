//! Can a person make a site of their own in ten minutes, by the mouse alone and by the keys alone?
//!
//! The real program on a virtual display gets the display's own events (xdotool, Xvfb). Where things stand is read off the same
//! panels without a display, which get the same presses: in the end both have written the same site.

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use bevy_egui::egui::{self, Pos2, Vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use plumbsight::plan::{plan_path, read_plan};
use plumbsight::site::{Access, Shape, Site, parse_site};
use plumbsight::survey::MeasureSettings;
use plumbsight::viewer::state::desk::{Action, BuildAction, CameraAction, Desk, DeskName, SettingAction, SiteSaving};
use plumbsight::viewer::state::opening::{Home, Source};
use plumbsight::viewer::state::work::Wake;

use crate::building::{drag, until};
use crate::panels::{Seat, seat, spoken};
use crate::support::program::command;
use crate::support::project;
use crate::window::{Display, OPENED, Portal};

const SITE: &str = "mine.site.ron";

/// A person at the window, and the same panels without one.
struct Journey {
    folder: tempfile::TempDir,
    display: Display,
    portal: Portal,
    panels: Harness<'static, Seat>,
    /// Presses, drags and keys so far.
    steps: usize,
}

/// What both of them start with, each in a folder of its own.
fn start(folder: &Path) -> PathBuf {
    std::fs::create_dir_all(folder.join("configuration")).expect("made");
    let first = folder.join("first.site.ron");
    std::fs::copy(project().join("scenes/saltings.site.ron"), &first).expect("copied");
    first
}

fn desk_in(folder: &Path) -> Desk {
    let home = Home { configuration: Some(folder.join("configuration")), dialogs: false, wake: Wake::default() };
    let site = Source::File(folder.join("first.site.ron"));
    Desk::open(home, site, None, MeasureSettings::default()).unwrap_or_else(|error| panic!("{error}"))
}

impl Journey {
    fn begin() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let (real, mirror) = (folder.path().join("real"), folder.path().join("mirror"));
        start(&real);
        start(&mirror);
        let portal = Portal::choosing(&real.join(SITE));
        let mut program = command(&real);
        program
            .env("XDG_CONFIG_HOME", real.join("configuration"))
            .env("DBUS_SESSION_BUS_ADDRESS", &portal.address)
            .args(["view", "first.site.ron"]);
        let display = Display::showing(program);
        display.rest();
        let (width, height) = OPENED;
        let panels = seat(desk_in(&mirror), width, height);
        let mut journey = Self { folder, display, portal, panels, steps: 0 };
        // A first start shows the guide; a press on Escape puts it away.
        if journey.panels.state().desk.guide() {
            journey.display.hands(&["key", "Escape"]);
            journey.panels.state_mut().desk.act(SettingAction::Guide(false));
            journey.pause();
        }
        journey
    }

    fn path(&self, side: &str) -> PathBuf {
        self.folder.path().join(side).join(SITE)
    }

    /// Lets both come to rest.
    fn pause(&mut self) {
        self.display.rest();
        // At rest the window looks for ways to straighten the picture, whose words can be pressed.
        let desk = &mut self.panels.state_mut().desk;
        desk.rest();
        assert!(desk.settle(Duration::from_secs(60)));
        // A press soon after another would be a double one.
        self.panels.run_steps(30);
    }

    fn place(&self, name: &str) -> Pos2 {
        let found = self.panels.query_all_by_label_contains(name).last();
        found.unwrap_or_else(|| panic!("no '{name}'")).rect().center()
    }

    /// The mouse on a control of this name, the last of several.
    fn press(&mut self, name: &str) {
        self.press_at(self.place(name));
    }

    fn press_at(&mut self, at: Pos2) {
        // A display has whole pixels.
        let at = at.round();
        self.display.click(at);
        drag(&mut self.panels, at, at, egui::Modifiers::NONE);
        self.steps += 1;
        self.pause();
    }

    /// A place of the plan, by how far across and down it lies.
    fn on_plan(&self, across: f32, down: f32) -> Pos2 {
        let plan = self.panels.query_all_by_label_contains("plan with").last().expect("a plan").rect();
        plan.min + Vec2::new(across * plan.width(), down * plan.height())
    }

    fn drag(&mut self, from: Pos2, to: Pos2) {
        let (from, to) = (from.round(), to.round());
        let [x, y] = [from.x, from.y].map(|side| format!("{side:.0}"));
        self.display.hands(&["mousemove", &x, &y, "sleep", "0.2", "mousedown", "1", "sleep", "0.2"]);
        for part in 1..=5_u8 {
            let at = from + (to - from) * (f32::from(part) / 5.0);
            let [x, y] = [at.x, at.y].map(|side| format!("{side:.0}"));
            self.display.hands(&["mousemove", &x, &y, "sleep", "0.15"]);
        }
        self.display.hands(&["mouseup", "1"]);
        drag(&mut self.panels, from, to, egui::Modifiers::NONE);
        self.steps += 1;
        self.pause();
    }

    /// A key that the window as a whole takes, and what it means.
    fn command(&mut self, name: &str, means: impl Into<Action>) {
        self.display.hands(&["key", name]);
        self.panels.state_mut().desk.act(means);
        self.panels.run_steps(2);
        self.steps += 1;
        self.pause();
    }

    /// A key on both, so many times.
    fn key(&mut self, name: &str, key: egui::Key, modifiers: egui::Modifiers, count: usize) {
        self.display.hands(&["key", "--delay", "300", "--repeat", &count.to_string(), "--repeat-delay", "300", name]);
        for _ in 0..count {
            self.panels.key_press_modifiers(modifiers, key);
            self.panels.run_steps(1);
        }
        self.steps += count;
        self.pause();
    }

    /// By the tabulator to a control of this name, and Enter on it.
    fn enter(&mut self, name: &str) {
        let mut tabs = 0;
        loop {
            let focused = self.panels.query_all_by(|node| node.is_focused()).next().map(|node| spoken(&node));
            if focused.is_some_and(|focused| focused.contains(name)) {
                break;
            }
            self.panels.key_press(egui::Key::Tab);
            self.panels.run_steps(1);
            tabs += 1;
            assert!(tabs < 300, "the tabulator never comes to '{name}'");
        }
        if tabs > 0 {
            let count = tabs.to_string();
            self.display.hands(&["key", "--delay", "300", "--repeat", &count, "--repeat-delay", "300", "Tab"]);
            self.steps += tabs;
        }
        self.pause();
        self.key("Return", egui::Key::Enter, egui::Modifiers::NONE, 1);
    }

    /// The new site has its place: the real one by the desktop's dialog, the other as the test says.
    fn saved_as(&mut self) {
        assert!(self.portal.told().starts_with("SaveFile"));
        let path = self.path("mirror");
        let desk = &mut self.panels.state_mut().desk;
        desk.act(BuildAction::SaveAs(path.clone()));
        let source = Source::File(path);
        until(desk, "opened", |desk| desk.source() == Some(&source));
        // The answer comes after a while, and a site is read: its name is then the window's.
        let name = self.panels.state().desk.survey().model.site.name.clone();
        self.display.entitled(&name);
        self.pause();
    }

    /// The site that the real window has written, once it reads as the other one's.
    fn site(&mut self) -> Site {
        until(&mut self.panels.state_mut().desk, "saved", |desk| *desk.site_saving() == SiteSaving::Saved);
        let wanted = std::fs::read_to_string(self.path("mirror")).expect("written");
        let patience = Instant::now() + Duration::from_secs(20);
        loop {
            let written = std::fs::read_to_string(self.path("real")).expect("written");
            if written == wanted {
                return parse_site(&written, SITE).unwrap_or_else(|problems| panic!("{problems}"));
            }
            if Instant::now() > patience {
                let (real, mirror) = (lines(&written), lines(&wanted));
                let other = real.iter().zip(&mirror).find(|(one, other)| one != other);
                panic!("{} lines and {}: {other:?}", real.len(), mirror.len());
            }
            std::thread::sleep(Duration::from_millis(200));
        }
    }
}

fn lines(text: &str) -> Vec<&str> {
    text.lines().collect()
}

#[test]
fn a_town_hall_tower_among_neighbours_is_made_and_searched_by_the_mouse() {
    let mut journey = Journey::begin();
    journey.press("Build");
    journey.press("New site");
    journey.press("it is a bell tower");
    journey.press("behind: ");
    journey.press("stand in front of it");
    journey.saved_as();
    let made = journey.site();
    journey.press("Build");
    // Eight neighbours on either side of a street.
    for house in 0..8_u8 {
        journey.press(if house % 2 == 0 { "shape: gable" } else { "shape: box" });
        let at = journey.on_plan(if house < 4 { 0.36 } else { 0.9 }, 0.2 + 0.19 * f32::from(house % 4));
        journey.press_at(at);
    }
    // One of them nearer to the street.
    let from = journey.on_plan(0.36, 0.2);
    journey.drag(from, from + Vec2::new(17.0, 6.0));
    // Two grounds where nobody may stand.
    for (west, south) in [(0.48, 0.86), (0.62, 0.14)] {
        journey.press("draw: closed");
        for (across, down) in [(0.0, 0.0), (0.08, 0.0), (0.08, 0.07), (0.0, 0.07), (0.0, 0.0)] {
            let at = journey.on_plan(west + across, south + down);
            journey.press_at(at);
        }
    }
    journey.press("shape: stage");
    let at = journey.on_plan(0.75, 0.8);
    journey.press_at(at);
    let site = journey.site();
    assert_eq!(
        site.blocks.len(),
        made.blocks.len() + 9,
        "{:?}",
        site.blocks.iter().map(|block| &block.name).collect::<Vec<_>>()
    );
    let closed = |site: &Site| site.grounds.iter().filter(|ground| ground.access == Access::Closed).count();
    assert_eq!(closed(&site), closed(&made) + 2);
    assert!(site.blocks.iter().any(|block| matches!(block.shape, Shape::Stage { .. })));
    // The first search, and its best standpoint taken up.
    journey.press("Search");
    journey.press("Search");
    let best = journey.panels.state().desk.search().answer.expect("an answer").ranked[0].stance.clone();
    journey.press("go to standpoint 1");
    journey.display.hands(&["key", "p"]);
    journey.pause();
    journey.display.hands(&["key", "ctrl+q"]);
    journey.display.closed();
    let (plan, _) = read_plan(&plan_path(&journey.path("real"))).expect("good").expect("a plan");
    assert_eq!(plan.prints[0].stance.at, best.at);
    crate::support::tell(&format!("a site made and searched by the mouse: {} presses and drags", journey.steps));
    // Ten minutes at eight seconds each.
    assert!(journey.steps <= 75, "{}", journey.steps);
}

#[test]
fn a_site_is_made_and_built_on_by_the_keys() {
    let mut journey = Journey::begin();
    journey.command("ctrl+5", SettingAction::ShowDesk(DeskName::Build));
    journey.enter("New site");
    journey.enter("it is a tower");
    journey.enter("left: ");
    journey.enter("stand in front of it");
    journey.saved_as();
    let made = journey.site();
    journey.command("ctrl+5", SettingAction::ShowDesk(DeskName::Build));
    journey.enter("shape: gable");
    journey.enter("plan with");
    journey.key("Right", egui::Key::ArrowRight, egui::Modifiers::NONE, 8);
    journey.key("Up", egui::Key::ArrowUp, egui::Modifiers::NONE, 4);
    journey.key("bracketright", egui::Key::CloseBracket, egui::Modifiers::NONE, 2);
    journey.key("ctrl+d", egui::Key::D, egui::Modifiers::COMMAND, 1);
    journey.command("ctrl+z", CameraAction::Undo);
    journey.command("ctrl+z", CameraAction::Undo);
    journey.command("ctrl+y", CameraAction::Redo);
    let site = journey.site();
    assert_eq!(site.blocks.len(), made.blocks.len() + 1);
    let gable = site.blocks.last().expect("a block");
    assert_eq!(gable.heading_deg, 10.0, "{gable:?}");
    journey.display.hands(&["key", "ctrl+q"]);
    journey.display.closed();
    crate::support::tell(&format!("a site made by the keys: {} key presses", journey.steps));
}
