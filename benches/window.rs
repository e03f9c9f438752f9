//! Is the window quick enough to walk in? Frame times on the demo sites, beside the engine's own material, with many blocks,
//! over many frames, and at rest.
//!
//! `cargo bench --bench window --features engine-comparison` measures everything; with words only what is named by them:
//! `walk`, `peer` (which needs the feature), `blocks`, `drag`, `day`, `memory`, `rest`. The bars, at 1280×720 on two cores that play graphics card: walking 40 ms a frame, panels alone 25 ms,
//! the first picture within 2 s, ten times the rate of the engine's own material, 10,000 blocks within three times of 100,
//! a drag on the Build desk 40 ms a frame with 100 blocks and 100 ms with 10,000, a drag along the strip of the day 40 ms,
//! at rest less than a twentieth of a core. On a busy machine wall time says little: the processor's time stands beside it.

#![expect(clippy::print_stdout, clippy::print_stderr, reason = "a bench tells its figures")]

use std::error::Error;
use std::fmt::Write as _;
use std::process::{Child, Command, ExitCode, Stdio};
use std::sync::Arc;
use std::time::{Duration, Instant};

use plumbsight::light::Sky;
use plumbsight::scenes::SCENES;
use plumbsight::site::{LoadedSite, parse_site, site_hash};
use plumbsight::survey::{MeasureSettings, Survey};
use plumbsight::viewer::state::desk::{Desk, DeskName, SettingAction, first_stance};
use plumbsight::viewer::state::opening::{Home, Source};
use plumbsight::viewer::state::work::Wake;
#[cfg(feature = "engine-comparison")]
use plumbsight::viewer::time_engine_material;
use plumbsight::viewer::{Dragged, FrameTimes, HeadlessWindow, Timings, has_display, time_drag, time_frames};

type Outcome<T> = Result<T, Box<dyn Error>>;

/// Each leg is a program of its own: the engine sets itself up once in each.
const LEG: &str = "PLUMBSIGHT_BENCH_LEG";
const WINDOW: HeadlessWindow = HeadlessWindow { width_px: 1280, height_px: 720, scale: 1.0, panels: true };
#[cfg(feature = "engine-comparison")]
const FINDER: HeadlessWindow = HeadlessWindow { panels: false, ..WINDOW };
const FRAMES: usize = 300;
const MANY_FRAMES: usize = 10_000;
/// How long the window is watched at rest.
const WATCHED: Duration = Duration::from_secs(10);

fn main() -> ExitCode {
    let done = match std::env::var(LEG) {
        Ok(leg) => run_leg(&leg),
        Err(_) => measure(),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}

/// Runs what is wanted, leg by leg.
fn measure() -> Outcome<()> {
    let wanted: Vec<String> = std::env::args().skip(1).filter(|word| !word.starts_with("--")).collect();
    let wants = |word: &str| wanted.is_empty() || wanted.iter().any(|name| name == word);
    if wants("walk") {
        for scene in SCENES {
            leg(&format!("walk {}", scene.name))?.wait()?;
        }
    }
    if wants("peer") {
        leg("peer")?.wait()?;
    }
    if wants("blocks") {
        for count in [100, 10_000] {
            leg(&format!("blocks {count}"))?.wait()?;
        }
    }
    if wants("drag") {
        for count in [100, 10_000] {
            leg(&format!("drag {count}"))?.wait()?;
        }
    }
    if wants("day") {
        for index in 0..SCENES.len() {
            leg(&format!("day {index}"))?.wait()?;
        }
    }
    if wants("memory") {
        let mut walking = leg("memory")?;
        watch_memory(&mut walking)?;
    }
    if wants("rest") {
        if has_display() {
            watch_rest()?;
        } else {
            println!("at rest: there is no display to open a window on (Xvfb will do)");
        }
    }
    Ok(())
}

fn leg(name: &str) -> Outcome<Child> {
    let mut program = Command::new(std::env::current_exe()?);
    // Where there is no session there is no such folder, and the graphics driver complains of that many times.
    if std::env::var_os("XDG_RUNTIME_DIR").is_none() {
        program.env("XDG_RUNTIME_DIR", std::env::temp_dir());
    }
    Ok(program.env(LEG, name).spawn()?)
}

fn run_leg(leg: &str) -> Outcome<()> {
    let started = Instant::now();
    let (name, of) = leg.split_once(' ').unwrap_or((leg, ""));
    match name {
        "walk" => {
            let index = SCENES.iter().position(|scene| scene.name == of).ok_or("no such site")?;
            tell(of, &time_frames(demo(index)?, WINDOW, FRAMES, started)?);
        }
        #[cfg(not(feature = "engine-comparison"))]
        "peer" => println!("beside the engine's own material: build with --features engine-comparison"),
        #[cfg(feature = "engine-comparison")]
        "peer" => {
            let found = time_engine_material(demo(0)?, FINDER, FRAMES)?;
            tell("the finder alone, filling the window", &found);
            if let (Some(ours), Some(peer)) = (found.walking, found.standard) {
                let ratio = |ours: Duration, peer: Duration| peer.as_secs_f64() / ours.as_secs_f64();
                print!("{:.1} times the rate of the engine's own material", ratio(ours.median, peer.median));
                match ours.processor.zip(peer.processor) {
                    Some((ours, peer)) => println!("; {:.1} times by the processor's time", ratio(ours, peer)),
                    None => println!(),
                }
            }
        }
        "blocks" => {
            let desk = town(of.parse()?)?;
            tell(&format!("{of} blocks"), &time_frames(desk, WINDOW, FRAMES / 3, started)?);
        }
        "drag" => {
            let folder = tempfile::tempdir()?;
            let path = folder.path().join("town.site.ron");
            std::fs::write(&path, town_text(of.parse()?)?)?;
            let home = Home { configuration: Some(folder.path().into()), dialogs: false, wake: Wake::default() };
            let mut desk = Desk::open(home, Source::File(path), None, MeasureSettings::default())?;
            desk.act(SettingAction::ShowDesk(DeskName::Build));
            tell(
                &format!("a house dragged among {of} blocks"),
                &time_drag(desk, WINDOW, FRAMES / 3, started, Dragged::Block(1))?,
            );
        }
        "day" => {
            let (index, mut desk): (usize, Desk) = (of.parse()?, demo(of.parse()?)?);
            desk.rest();
            let sky = Sky::over(&desk.survey().model.site)?;
            let morning = sky.zone().read("2026-06-21T08:00")?.moment;
            let timings = time_drag(desk, WINDOW, FRAMES, started, Dragged::Hour(morning))?;
            tell(&format!("{}, the hour dragged", SCENES[index].name), &timings);
        }
        "memory" => tell(&format!("{MANY_FRAMES} frames"), &time_frames(demo(0)?, WINDOW, MANY_FRAMES, started)?),
        _ => return Err(format!("no leg is called '{leg}'").into()),
    }
    Ok(())
}

fn tell(what: &str, timings: &Timings) {
    println!("{what}, on {}", timings.adapter);
    println!("  the first whole picture after {:.2} s", timings.first.as_secs_f64());
    let legs: [(&str, &Option<FrameTimes>); 3] = [
        ("walking or dragging", &timings.walking),
        ("panels alone", &timings.panels),
        ("the engine's own material and shadow", &timings.standard),
    ];
    for (leg, frames) in legs {
        if let Some(frames) = frames {
            println!("  {leg}: {frames}");
        }
    }
}

fn demo(index: usize) -> Outcome<Desk> {
    let scene = SCENES[index];
    let survey = Arc::new(survey(scene.name, scene.text)?);
    let stance = Source::Scene(index).first_stance(&survey);
    Ok(Desk::new(survey, stance, MeasureSettings::default())?)
}

fn survey(name: &str, text: &str) -> Outcome<Survey> {
    Ok(Survey::of(LoadedSite {
        site: parse_site(text, name)?,
        path: name.into(),
        text: text.into(),
        hash: site_hash(text),
        warnings: Default::default(),
    }))
}

/// A tower, and houses on a square net of streets about it: so many blocks in all.
fn town(count: usize) -> Outcome<Desk> {
    let survey = Arc::new(survey("town", &town_text(count)?)?);
    let stance = first_stance(&survey);
    Ok(Desk::new(survey, stance, MeasureSettings::default())?)
}

fn town_text(count: usize) -> Outcome<String> {
    let mut text = String::from("Site(format: 1, name: \"town\", terrain: Plane(height_m: 0), blocks: [\n");
    text.push_str("(name: \"tower\", subject: true, at: (0, 0), shape: Box(width_m: 8, depth_m: 8, height_m: 60)),\n");
    let side = (1..).find(|side| side * side >= count).unwrap_or(1);
    let at = |index: usize| 24.0 * (index as f64 - 0.5 * side as f64) + 12.0;
    for index in 1..count {
        let (east, north) = (at(index % side), at(index / side));
        let height_m = 5 + (index * 7) % 11;
        writeln!(
            text,
            "(name: \"house {index}\", at: ({east}, {north}), shape: Box(width_m: 12, depth_m: 9, height_m: {height_m})),"
        )?;
    }
    text.push_str("], stances: [(name: \"street\", at: (0, -72), lens: \"24 mm\", aim: Fill)])");
    Ok(text)
}

/// Reads a program's memory while it walks: what it holds must not grow with the frames.
fn watch_memory(walking: &mut Child) -> Outcome<()> {
    let mut held = Vec::new();
    while walking.try_wait()?.is_none() {
        held.extend(resident_mib(walking.id()));
        std::thread::sleep(Duration::from_millis(500));
    }
    let at = |share: f64| held.get(((held.len() as f64 * share) as usize).min(held.len().saturating_sub(1)));
    if let (Some(early), Some(middle), Some(late)) = (at(0.1), at(0.5), at(0.98)) {
        println!("  memory held after a tenth, half and all of it: {early:.0}, {middle:.0} and {late:.0} MiB");
    }
    Ok(())
}

fn resident_mib(program: u32) -> Option<f64> {
    let text = std::fs::read_to_string(format!("/proc/{program}/status")).ok()?;
    let line = text.lines().find_map(|line| line.strip_prefix("VmRSS:"))?;
    line.trim().strip_suffix(" kB")?.trim().parse::<f64>().ok().map(|kib| kib / 1024.0)
}

/// How much of a core the real window takes while nothing is done.
fn watch_rest() -> Outcome<()> {
    let folder = tempfile::tempdir()?;
    let mut window = Command::new(env!("CARGO_BIN_EXE_plumbsight"))
        .arg("view")
        .current_dir(folder.path())
        .env("XDG_CONFIG_HOME", folder.path())
        .stderr(Stdio::null())
        .spawn()?;
    // Until it is open and everything has come to rest.
    std::thread::sleep(2 * WATCHED);
    let ticks = || -> Option<u64> {
        let text = std::fs::read_to_string(format!("/proc/{}/stat", window.id())).ok()?;
        let fields: Vec<&str> = text.rsplit_once(')')?.1.split_whitespace().collect();
        Some(fields.get(11)?.parse::<u64>().ok()? + fields.get(12)?.parse::<u64>().ok()?)
    };
    let before = ticks();
    std::thread::sleep(WATCHED);
    let spent = before.zip(ticks()).map(|(before, after)| after.saturating_sub(before));
    window.kill()?;
    window.wait()?;
    match spent {
        Some(spent) => println!("at rest: {:.1} % of a core", spent as f64 / WATCHED.as_secs_f64()),
        None => println!("at rest: the window closed by itself"),
    }
    Ok(())
}
