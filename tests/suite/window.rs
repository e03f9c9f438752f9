//! Can a person walk, climb, zoom, pin, capture, leave and come back, by keys and mouse alone?
//!
//! The real program, driven as hands would drive it: by scripts where there is no display, and by a display's own key and
//! mouse events (xdotool) on a virtual one (Xvfb).

use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use bevy_egui::egui::Pos2;
use plumbsight::plan::{Plan, plan_path, read_plan};
use plumbsight::viewer::state::desk::{DeskName, SearchAction, SettingAction};
use tempfile::TempDir;

use crate::panels::middles_of;
use crate::support::program::{Run, command, run};
use crate::support::project;
use crate::support::python::script;

/// A folder of one's own with the saltings in it; what the program keeps elsewhere lies there too.
struct Desk {
    folder: TempDir,
}

impl Desk {
    fn new() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        std::fs::copy(project().join("scenes/saltings.site.ron"), folder.path().join("saltings.site.ron"))
            .expect("copied");
        Self { folder }
    }

    fn path(&self) -> &Path {
        self.folder.path()
    }

    fn view(&self, stance: Option<&str>) -> Command {
        let mut program = command(self.path());
        program.env("XDG_CONFIG_HOME", self.path().join("configuration")).args(["view", "saltings.site.ron"]);
        if let Some(stance) = stance {
            program.args(["--stance", stance]);
        }
        program
    }

    /// What a script without a display tells.
    fn scripted(&self, stance: Option<&str>, script: &str) -> String {
        std::fs::write(self.path().join("hands.txt"), script).expect("written");
        let output =
            self.view(stance).args(["--headless", "--script", "hands.txt"]).output().expect("the program starts");
        let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
        Run { code: output.status.code().expect("not killed"), out: text(output.stdout), err: text(output.stderr) }
            .good()
    }

    /// Puts another demo site beside it.
    fn add(&self, site: &str) -> PathBuf {
        let path = self.path().join(site);
        std::fs::copy(project().join("scenes").join(site), &path).expect("copied");
        path
    }

    fn plan(&self) -> Plan {
        self.plan_of("saltings.site.ron")
    }

    fn plan_of(&self, site: &str) -> Plan {
        read_plan(&plan_path(&self.path().join(site))).expect("a plan").expect("it is there").0
    }
}

/// What `tell` says of a stance.
#[derive(Debug)]
struct Told {
    eye_m: [f64; 3],
    feet: String,
    focal_mm: f64,
}

/// Every stance that was told, in order.
fn stances(told: &str) -> Vec<Told> {
    let stance = |line: &str| {
        let rest = line.strip_prefix("stance: eye ")?;
        let (eye, rest) = rest.split_once(" m, feet on ")?;
        let (feet, rest) = rest.split_once(" at ")?;
        let focal = rest.split(", ").nth(1)?.strip_suffix(" mm")?;
        let eye: Vec<f64> = eye.split(' ').filter_map(|text| text.parse().ok()).collect();
        Some(Told { eye_m: eye.try_into().ok()?, feet: feet.into(), focal_mm: focal.parse().ok()? })
    };
    told.lines().filter_map(stance).collect()
}

#[test]
fn a_walk_is_taken_kept_and_found_again() {
    let desk = Desk::new();
    // To the foot of the steps, up on the coal stage, along it; nearer by lens, filled, pinned; back to the yard, pinned;
    // the two flicked; captured.
    let told = desk.scripted(
        Some("yard, standing"),
        "folder captures\nkey T\nsettle\ntell\nhold W 1.4\nhold D 5.4\nsettle\ntell\nkey X\nkey F\nsettle\ntell\nkey P\n\
         hold A 5.4\nkey P\nagainst 1\nkey Space\nsettle\ntell\nkey C\nsettle\nquit\n",
    );
    let walked = stances(&told);
    let [start, climbed, zoomed, flicked] = &walked[..] else { panic!("four stances: {told}") };
    assert_eq!(start.feet, "the ground");
    assert_eq!(climbed.feet, "coal stage", "{told}");
    // The stage is 2.7 m high, on ground within 0.3 m of nought; the camera is 1.6 m over the feet.
    assert!((climbed.eye_m[2] - 2.7 - 1.6).abs() < 0.3, "{climbed:?}");
    assert!(zoomed.focal_mm != climbed.focal_mm, "{told}");
    assert_eq!(flicked.eye_m, zoomed.eye_m, "the flick goes to the print on the stage");
    assert_eq!(told.lines().filter(|line| line.starts_with("print: ")).count(), 2, "{told}");

    let pictures: Vec<_> = std::fs::read_dir(desk.path().join("captures"))
        .expect("a folder")
        .map(|entry| entry.expect("an entry").path())
        .collect();
    let of = |end: &str| pictures.iter().find(|path| path.to_string_lossy().ends_with(end)).expect(end);
    let (still, record) = (of(".png"), of(".record.ron"));
    // The record taken up again gives the picture that was captured, byte for byte.
    let again = desk.path().join("again.png");
    let arguments =
        [record.as_os_str(), "--site".as_ref(), "saltings.site.ron".as_ref(), "--out".as_ref(), again.as_os_str()];
    run(desk.path(), &[&["repeat".as_ref()], &arguments[..]].concat()).good();
    assert!(std::fs::read(&again).expect("drawn") == std::fs::read(still).expect("captured"), "not the same picture");

    let reopened = desk.scripted(None, "settle\ntell\nquit\n");
    let here = &stances(&reopened)[0];
    assert_eq!(here.eye_m, flicked.eye_m, "the walker stands where they left off");
    assert_eq!(reopened.lines().filter(|line| line.starts_with("print: ")).count(), 2, "{reopened}");
    assert_eq!(
        std::fs::read(project().join("scenes/saltings.site.ron")).expect("read"),
        std::fs::read(desk.path().join("saltings.site.ron")).expect("read"),
        "walking rewrites no site"
    );
}

#[test]
fn a_file_that_is_not_there_is_told_once() {
    let desk = Desk::new();
    let told = run(desk.path(), &["view", "nosuch.site.ron"]);
    assert_eq!(told.err.matches("nosuch.site.ron").count(), 1, "{}", told.err);
    told.refused(2, "cannot be read");
}

#[test]
fn every_move_is_taken_back_and_made_again() {
    let desk = Desk::new();
    let told = desk.scripted(
        Some("yard, standing"),
        "tell\nhold S 1\nkey L\nkey X\nsettle\ntell\nkey Backspace\nkey Backspace\nkey Backspace\nsettle\ntell\n\
         key Enter\nkey Enter\nkey Enter\nsettle\ntell\nquit\n",
    );
    let [start, moved, back, again] = &stances(&told)[..] else { panic!("four stances: {told}") };
    assert!((start.eye_m[1] - moved.eye_m[1] - 1.4).abs() < 0.2, "a second at walking pace: {told}");
    assert_eq!((start.eye_m, start.focal_mm), (back.eye_m, back.focal_mm), "{told}");
    assert_eq!((moved.eye_m, moved.focal_mm), (again.eye_m, again.focal_mm), "{told}");
}

#[test]
fn a_site_with_mistakes_leaves_the_open_one_open_and_tells_them() {
    let desk = Desk::new();
    let site = desk.path().join("saltings.site.ron");
    let other = desk.path().join("other.site.ron");
    let broken = std::fs::read_to_string(&site).expect("read").replace("height_m: 42", "height_m: -42");
    std::fs::write(&other, broken).expect("written");
    let told = desk.scripted(Some("yard, standing"), "tell\nopen other.site.ron\nsettle\ntell\nquit\n");
    assert_eq!(stances(&told)[0].eye_m, stances(&told)[1].eye_m, "the site that was open stays open: {told}");
    assert!(told.contains("height_m"), "what is wrong is told: {told}");
}

/// A virtual display, and the window on it.
pub(crate) struct Display {
    server: Child,
    name: String,
    window: Child,
}

impl Drop for Display {
    fn drop(&mut self) {
        for child in [&mut self.window, &mut self.server] {
            // It may have ended by itself.
            let _ = child.kill();
            let _ = child.wait();
        }
    }
}

impl Display {
    fn open(desk: &Desk, stance: &str) -> Self {
        Self::open_with(desk, stance, &[])
    }

    /// With more told in the environment.
    fn open_with(desk: &Desk, stance: &str, told: &[(&str, &str)]) -> Self {
        let mut program = desk.view(Some(stance));
        program.envs(told.iter().copied());
        Self::showing(program)
    }

    /// What a program shows that is run on it.
    pub(crate) fn showing(mut program: Command) -> Self {
        let mut server = Command::new("Xvfb")
            .args(["-displayfd", "1", "-screen", "0", "1600x1000x24", "-nolisten", "tcp"])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("Xvfb is there: tests/run installs it");
        let mut number = String::new();
        BufReader::new(server.stdout.take().expect("piped")).read_line(&mut number).expect("a display's number");
        let name = format!(":{}", number.trim());
        let window = program
            .env("DISPLAY", &name)
            .env_remove("WAYLAND_DISPLAY")
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("the program starts");
        let display = Self { server, name, window };
        display.hands(&["search", "--sync", "--onlyvisible", "--name", "Plumbsight", "windowfocus"]);
        display
    }

    /// What xdotool is told to do.
    pub(crate) fn hands(&self, arguments: &[&str]) {
        let done = Command::new("xdotool")
            .args(arguments)
            .env("DISPLAY", &self.name)
            .stdout(Stdio::null())
            .status()
            .expect("xdotool is there: tests/run installs it");
        assert!(done.success(), "xdotool {arguments:?}");
    }

    /// A click on a place of the window, which fills the upper left of the display.
    pub(crate) fn click(&self, place: Pos2) {
        let [x, y] = [place.x, place.y].map(|side| format!("{side:.0}"));
        self.hands(&["mousemove", &x, &y, "sleep", "0.3", "click", "1"]);
    }

    /// The window's number.
    fn number(&self) -> String {
        let found = Command::new("xdotool")
            .args(["search", "--onlyvisible", "--name", "Plumbsight"])
            .env("DISPLAY", &self.name)
            .output()
            .expect("xdotool is there: tests/run installs it");
        String::from_utf8(found.stdout).expect("a number").lines().next().expect("a window").into()
    }

    /// Waits until the window's title says this.
    pub(crate) fn entitled(&self, words: &str) {
        let patience = Instant::now() + Duration::from_secs(60);
        loop {
            let title = Command::new("xdotool")
                .args(["getwindowname", &self.number()])
                .env("DISPLAY", &self.name)
                .output()
                .expect("xdotool is there: tests/run installs it");
            let title = String::from_utf8_lossy(&title.stdout).into_owned();
            if title.contains(words) {
                return;
            }
            assert!(Instant::now() < patience, "the window is called '{title}', not '{words}'");
            std::thread::sleep(Duration::from_millis(200));
        }
    }

    /// Processor time that the window has used, in seconds.
    fn used_s(&self) -> f64 {
        let stat = std::fs::read_to_string(format!("/proc/{}/stat", self.window.id())).expect("it runs");
        let after = stat.rsplit(") ").next().expect("fields");
        let ticks: f64 = after.split(' ').skip(11).take(2).filter_map(|field| field.parse::<f64>().ok()).sum();
        // Linux counts in hundredths for every program.
        ticks / 100.0
    }

    /// Waits until the window does nothing any more.
    pub(crate) fn rest(&self) {
        let patience = Instant::now() + Duration::from_secs(60);
        let mut before = self.used_s();
        loop {
            std::thread::sleep(Duration::from_millis(700));
            let now = self.used_s();
            if now - before < 0.02 {
                return;
            }
            assert!(Instant::now() < patience, "the window does not come to rest");
            before = now;
        }
    }

    /// Waits for the window to close by itself.
    pub(crate) fn closed(&mut self) {
        let patience = Instant::now() + Duration::from_secs(30);
        loop {
            if let Some(status) = self.window.try_wait().expect("asked") {
                assert!(status.success(), "{status}");
                return;
            }
            assert!(Instant::now() < patience, "the window does not close");
            std::thread::sleep(Duration::from_millis(100));
        }
    }
}

#[test]
fn a_display_s_keys_and_mouse_walk_look_zoom_and_pin() {
    let desk = Desk::new();
    let mut display = Display::open(&desk, "yard, standing");
    display.rest();
    display.hands(&["key", "p"]);
    display.hands(&["keydown", "s", "sleep", "1.2", "keyup", "s"]);
    display.rest();
    display.hands(&["key", "p"]);
    display.hands(&["mousemove", "640", "400", "click", "4", "click", "4"]);
    display.rest();
    display.hands(&["key", "p"]);
    display.hands(&["mousemove", "640", "400", "mousedown", "1"]);
    for x in ["600", "560", "520", "480"] {
        display.hands(&["mousemove", x, "400", "sleep", "0.1"]);
    }
    display.hands(&["mouseup", "1"]);
    display.rest();
    display.hands(&["key", "p"]);
    display.rest();
    // Nothing moves: nothing is drawn. The bar is 5 % of a core.
    let (before, waited_s) = (display.used_s(), 3.0);
    std::thread::sleep(Duration::from_secs_f64(waited_s));
    let idle = (display.used_s() - before) / waited_s;
    assert!(idle < 0.05, "idle, it uses {:.0} % of a core", 100.0 * idle);
    display.hands(&["key", "ctrl+q"]);
    display.closed();

    let prints = desk.plan().prints;
    let [first, walked, zoomed, looked] = &prints[..] else { panic!("four prints: {prints:?}") };
    let south = |print: &plumbsight::plan::Print| print.stance.at.1;
    assert!(south(first) - south(walked) > 0.5, "backwards by the key: {first:?} {walked:?}");
    assert_ne!(walked.stance, zoomed.stance, "the wheel changes the lens");
    assert_ne!(zoomed.stance, looked.stance, "the drag turns the camera");
}

/// The size in which the window opens.
pub(crate) const OPENED: (f32, f32) = (1440.0, 860.0);

#[test]
fn a_search_is_made_and_its_best_stance_taken_up_by_the_mouse() {
    let folder = Desk::new();
    let mut display = Display::open(&folder, "yard, standing");
    display.rest();
    let (width, height) = OPENED;
    // Where things stand is read off the same panels without a display.
    let seated = || {
        let mut desk = crate::panels::desk(0);
        desk.act(SettingAction::ShowDesk(DeskName::Search));
        desk
    };
    display.click(middles_of(crate::panels::desk(0), width, height, "Search")[0]);
    display.rest();
    display.click(*middles_of(seated(), width, height, "Search").last().expect("a button"));
    display.rest();
    let mut searched = seated();
    searched.act(SearchAction::Start);
    assert!(searched.settle(Duration::from_secs(60)));
    let best = searched.search().answer.expect("an answer").ranked[0].stance.clone();
    display.click(middles_of(searched, width, height, "go to standpoint 1")[0]);
    display.rest();
    display.hands(&["key", "p"]);
    display.rest();
    display.hands(&["key", "ctrl+q"]);
    display.closed();
    let prints = folder.plan().prints;
    let [print] = &prints[..] else { panic!("one print: {prints:?}") };
    assert_eq!((print.stance.at, &print.stance.lens), (best.at, &best.lens), "{prints:?}");
}

#[test]
fn a_file_dropped_on_the_window_is_opened() {
    let desk = Desk::new();
    let dropped = desk.add("wendle.site.ron");
    let mut display = Display::open(&desk, "yard, standing");
    display.rest();
    let done = script("tests/oracles/drop.py")
        .args([&display.name, &display.number()])
        .arg(&dropped)
        .status()
        .expect("the script starts");
    assert!(done.success(), "the drop is not taken");
    display.rest();
    display.hands(&["key", "p"]);
    display.rest();
    display.hands(&["key", "ctrl+q"]);
    display.closed();
    assert_eq!(desk.plan_of("wendle.site.ron").prints.len(), 1, "the print belongs to the site that was dropped");
}

/// A session bus with a desktop's file dialog on it, in which somebody always chooses the same.
pub(crate) struct Portal {
    bus: Child,
    pub(crate) address: String,
    dialog: Child,
    says: BufReader<std::process::ChildStdout>,
}

impl Drop for Portal {
    fn drop(&mut self) {
        for child in [&mut self.dialog, &mut self.bus] {
            // It may have ended by itself.
            let _ = child.kill();
            let _ = child.wait();
        }
    }
}

impl Portal {
    pub(crate) fn choosing(what: &Path) -> Self {
        let mut bus = Command::new("dbus-daemon")
            .args(["--session", "--nofork", "--print-address"])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("dbus-daemon is there: tests/run installs it");
        let mut address = String::new();
        BufReader::new(bus.stdout.take().expect("piped")).read_line(&mut address).expect("an address");
        let address = address.trim().to_owned();
        let mut dialog = script("tests/oracles/portal.py")
            .arg(what)
            .env("DBUS_SESSION_BUS_ADDRESS", &address)
            .stdout(Stdio::piped())
            .spawn()
            .expect("the script starts");
        let says = BufReader::new(dialog.stdout.take().expect("piped"));
        let mut portal = Self { bus, address, dialog, says };
        assert_eq!(portal.told(), "ready");
        portal
    }

    /// The next thing that was asked of it.
    pub(crate) fn told(&mut self) -> String {
        let mut line = String::new();
        self.says.read_line(&mut line).expect("a line");
        line.trim().into()
    }
}

#[test]
fn the_desktop_s_own_dialog_is_asked_which_site_to_open() {
    for chooses in [true, false] {
        let desk = Desk::new();
        let other = desk.add("wendle.site.ron");
        let mut portal = Portal::choosing(if chooses { &other } else { Path::new("nothing") });
        let address = portal.address.clone();
        let mut display = Display::open_with(&desk, "yard, standing", &[("DBUS_SESSION_BUS_ADDRESS", &address)]);
        display.rest();
        display.hands(&["key", "ctrl+o"]);
        assert_eq!(portal.told(), "OpenFile Open a site");
        // The answer comes after a while, and a site is read.
        std::thread::sleep(Duration::from_secs(2));
        display.rest();
        display.hands(&["key", "p"]);
        display.rest();
        display.hands(&["key", "ctrl+q"]);
        display.closed();
        let (pinned, without) =
            if chooses { ("wendle.site.ron", "saltings.site.ron") } else { ("saltings.site.ron", "wendle.site.ron") };
        assert_eq!(desk.plan_of(pinned).prints.len(), 1, "chosen: {chooses}");
        let other = read_plan(&plan_path(&desk.path().join(without))).expect("a plan, if any");
        assert!(other.is_none_or(|(plan, _)| plan.prints.is_empty()), "chosen: {chooses}");
    }
}
