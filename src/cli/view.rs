//! `plumbsight view`: what does the site look like in the window?

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Instant;

use clap::{Args, ValueEnum};

use crate::files::{FileKind, read_text, write_whole};
use crate::light::Zone;
use crate::progress::Progress;
use crate::site::Stance;
use crate::still::{Picture, Scene, Style, View, render};
use crate::survey::MeasureSettings;
use crate::viewer::state::desk::{Desk, LightAction, SettingAction, StartError};
use crate::viewer::state::opening::{Home, Source};
use crate::viewer::state::settings::Settings;
use crate::viewer::state::work::Wake;
use crate::viewer::{
    HeadlessWindow, Report, Script, Timings, can_draw, drive, has_display, open_window, picture, time_frames,
};

use super::light::level_by_table;
use super::measure::MeasureOptions;
use super::request::{StanceArguments, configuration_folder, survey};
use super::show::{print, tell};
use super::still::Colours;
use super::{Ending, Outcome};

/// What to show.
#[derive(Args, Debug)]
pub(super) struct ViewArguments {
    /// The site file; unless given, the site that was open last, or a demo site
    #[arg(value_name = "SITE")]
    site: Option<PathBuf>,
    /// Draw the window into this file (.png) instead of opening it; this needs no display
    #[arg(short, long, value_name = "FILE", conflicts_with_all = ["picture", "window_picture", "script", "frames"])]
    out: Option<PathBuf>,
    /// With --out: draw the whole window, or only the picture in its finder
    #[arg(long, value_enum, default_value_t, requires = "out")]
    what: ViewPicture,
    // Scripts of earlier days: --out with --what finder, and --out.
    #[arg(long, value_name = "FILE", hide = true)]
    picture: Option<PathBuf>,
    #[arg(long, value_name = "FILE", hide = true, conflicts_with = "picture")]
    window_picture: Option<PathBuf>,
    /// Run a script of keys, clicks and other steps in the window, one step a line
    #[arg(long, value_name = "FILE", conflicts_with_all = ["picture", "window_picture"])]
    script: Option<PathBuf>,
    /// With --script: use no display, even where there is one
    #[arg(long, alias = "unseen", requires = "script")]
    headless: bool,
    /// Walk for this many frames without a display, and report how long they take
    #[arg(long, value_name = "COUNT", value_parser = clap::value_parser!(u32).range(1..=1_000_000),
          conflicts_with_all = ["picture", "window_picture", "script"])]
    frames: Option<u32>,
    /// The width of the finder's picture in a file, in pixels
    #[arg(long, value_name = "PX", default_value_t = 1200)]
    width: u32,
    /// The size of the window without a display, in pixels
    #[arg(long, value_name = "WxH", default_value = "1440x860", value_parser = size)]
    size: [u32; 2],
    /// The scale of the window without a display, in pixels per point: 2 for a high-density screen
    #[arg(long, value_name = "NUMBER", default_value_t = 1.0, value_parser = scale)]
    scale: f32,
    /// The colours
    #[arg(long, value_enum)]
    theme: Option<Colours>,
    #[command(flatten)]
    stance: StanceArguments,
    #[command(flatten)]
    measures: MeasureOptions,
}

/// What is drawn into a file.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
enum ViewPicture {
    /// The whole window.
    #[default]
    Window,
    /// The picture in the finder.
    Finder,
}

impl ViewArguments {
    /// The file for the finder's picture, and the file for the whole window's.
    fn files(&self) -> (Option<&PathBuf>, Option<&PathBuf>) {
        let out = |what: ViewPicture| self.out.as_ref().filter(|_| self.what == what);
        (out(ViewPicture::Finder).or(self.picture.as_ref()), out(ViewPicture::Window).or(self.window_picture.as_ref()))
    }
}

/// The largest side of a picture, in pixels: what every graphics card can draw on.
const LARGEST_PX: u32 = 8192;

fn size(text: &str) -> Result<[u32; 2], String> {
    let sides = text
        .split_once(['x', 'X', '×'])
        .and_then(|(width, height)| Some([width.trim().parse::<u32>().ok()?, height.trim().parse::<u32>().ok()?]));
    sides
        .filter(|sides| sides.iter().all(|side_px| (1..=LARGEST_PX).contains(side_px)))
        .ok_or_else(|| format!("write width x height, such as 1280x720, each from 1 to {LARGEST_PX}"))
}

fn scale(text: &str) -> Result<f32, String> {
    let scale = text.parse::<f32>().ok().filter(|scale| (0.5..=4.0).contains(scale));
    scale.ok_or_else(|| "write a number from 0.5 to 4".into())
}

pub(super) fn run(arguments: &ViewArguments) -> Outcome {
    start_quietly();
    let started = Instant::now();
    let settings = arguments.measures.settings()?;
    let source = arguments.site.clone().map_or_else(last_site, Source::File);
    let (finder_file, window_file) = arguments.files();
    let at_home = finder_file.is_none() && window_file.is_none() && arguments.frames.is_none();
    let home = Home {
        // What is only looked at is not kept.
        configuration: configuration_folder().filter(|_| at_home),
        dialogs: arguments.script.is_none(),
        wake: Wake::default(),
    };
    let given = match &arguments.site {
        Some(site) if !arguments.stance.is_empty() => Some(arguments.stance.stance(&survey(site)?)?),
        _ => None,
    };
    let mut desk = if at_home {
        seated(home, source, given, settings)?
    } else {
        let desk = seated(home, source.clone(), given.clone(), settings)?;
        let stance = given.unwrap_or_else(|| source.first_stance(desk.survey()));
        Desk::new(Arc::clone(desk.survey()), stance, settings).map_err(Ending::from)?
    };
    if let Some(moment) = arguments.measures.moment_on(desk.survey())? {
        desk.act(LightAction::Show(moment));
        if let Some(path) = &arguments.measures.tide {
            level_by_table(path, &Zone::of(&desk.survey().model.site)?, moment)?;
            desk.act(LightAction::Tide(Some(path.clone())));
        }
    }
    if let Some(theme) = arguments.theme {
        desk.act(SettingAction::Theme(theme.into()));
    }
    let [width_px, height_px] = arguments.size;
    let window = HeadlessWindow { width_px, height_px, scale: arguments.scale, panels: true };
    if let Some(path) = finder_file {
        let frame = desk.measured().standing.camera.frame.with_width_px(arguments.width);
        if !(1..=LARGEST_PX).contains(&frame.width_px) || frame.height_px > LARGEST_PX {
            return Err(Ending::bad(format!(
                "--width is {}; it must lie between 1 and {LARGEST_PX} pixels",
                arguments.width
            )));
        }
        let window = HeadlessWindow { width_px: frame.width_px, height_px: frame.height_px, scale: 1.0, panels: false };
        return drawn(path, desk, window);
    }
    if let Some(path) = window_file {
        return drawn(path, desk, window);
    }
    if let Some(frames) = arguments.frames {
        return reported_timings(&time_frames(desk, window, frames as usize, started).map_err(Ending::bad)?);
    }
    if let Some(path) = &arguments.script {
        let script = Script::parse(&read_text(path, FileKind::Script).map_err(Ending::bad)?)
            .map_err(|error| Ending::bad(format!("{}: {error}", path.display())))?;
        let seen = !arguments.headless && has_display();
        let report = if seen { open_window(desk, Some(script)) } else { drive(desk, window, script) };
        return reported(&report.map_err(Ending::bad)?);
    }
    shown(desk, window)
}

/// The window; where there is no display, its picture.
fn shown(desk: Desk, window: HeadlessWindow) -> Outcome {
    if has_display() {
        return open_window(desk, None).map(drop).map_err(Ending::bad);
    }
    let file = desk.survey().mark.file.clone();
    let stem = file.split('.').next().filter(|stem| !stem.is_empty()).unwrap_or("site").to_owned();
    if !can_draw() {
        tell(
            "There is no display for a window and no graphics adapter to draw it: this is the exact picture instead.",
        )?;
        return cast(&PathBuf::from(format!("{stem}.still.png")), &desk, window.width_px);
    }
    tell("There is no display for a window, so it is drawn into a file.")?;
    drawn(&PathBuf::from(format!("{stem}.window.png")), desk, window)
}

/// What a stance sees, without a graphics adapter.
fn cast(path: &Path, desk: &Desk, width_px: u32) -> Outcome {
    let (survey, measured) = (desk.survey(), desk.measured());
    let mut camera = measured.standing.camera;
    camera.frame = camera.frame.with_width_px(width_px);
    let view = View { camera, pose: measured.standing.pose, focus: None };
    let style = Style { theme: desk.settings().theme, sun: Some(survey.light(measured.sun)), ..Style::default() };
    let scene = Scene { model: &survey.model, sight: &survey.sight };
    let picture = render(&scene, &view, &style, &Progress::unwatched()).map_err(Ending::bad)?;
    written(path, &picture)
}

/// A Vulkan layer that comes with Mesa looks for a Wayland desktop wherever there is a graphics card to choose, and where the
/// session has no `XDG_RUNTIME_DIR` a library of its own complains on the error stream, many times over. It is told to stay
/// away by the variable that it names for that, which must be there when the program starts: so it starts once more.
#[cfg(target_os = "linux")]
pub(super) fn start_quietly() {
    use std::os::unix::process::CommandExt;
    const STAY_AWAY: &str = "NODEVICE_SELECT";
    let wanted = ["XDG_RUNTIME_DIR", "WAYLAND_DISPLAY", STAY_AWAY].iter().all(|name| std::env::var_os(name).is_none());
    if let (true, Ok(program)) = (wanted, std::env::current_exe()) {
        // It returns only if that failed; then the complaints are all that is amiss.
        let _ = std::process::Command::new(program).args(std::env::args_os().skip(1)).env(STAY_AWAY, "1").exec();
    }
}

/// Nothing complains elsewhere.
#[cfg(not(target_os = "linux"))]
pub(super) fn start_quietly() {}

/// The window's state on a site.
fn seated(home: Home, source: Source, given: Option<Stance>, settings: MeasureSettings) -> Result<Desk, Ending> {
    Desk::open(home, source, given, settings).map_err(|error| match error {
        StartError::Stance(error) => error.into(),
        // Its text names the file.
        StartError::Open(error) => Ending::BadInput(error.text),
    })
}

/// The site that was open last, if it is still there; else the first demo site.
fn last_site() -> Source {
    let settings = configuration_folder().and_then(|folder| Settings::read(&folder).ok());
    let last = settings.into_iter().flat_map(|settings| settings.recent).find(|path| path.exists());
    last.map_or(Source::Scene(0), Source::File)
}

fn drawn(path: &Path, desk: Desk, window: HeadlessWindow) -> Outcome {
    written(path, &picture(desk, window).map_err(Ending::bad)?)
}

fn written(path: &Path, picture: &Picture) -> Outcome {
    write_whole(path, &picture.png().map_err(Ending::bad)?).map_err(Ending::bad)?;
    tell(&format!("{} is written, {} × {} px.", path.display(), picture.width_px, picture.height_px))
}

fn reported(report: &Report) -> Outcome {
    for line in &report.told {
        print(line)?;
    }
    report.pictures.iter().try_for_each(|(path, picture)| written(path, picture))
}

fn reported_timings(timings: &Timings) -> Outcome {
    tell(&format!("adapter: {}", timings.adapter))?;
    tell(&format!("first whole picture: {:.2} s after the start", timings.first.as_secs_f64()))?;
    for (what, frames) in [("walking", &timings.walking), ("only panels change", &timings.panels)] {
        if let Some(frames) = frames {
            tell(&format!("{what}: {frames}"))?;
        }
    }
    Ok(())
}

/// The walk on the site that was open last, or on a demo site.
pub(super) fn walk_demo() -> Outcome {
    let home = || Home { configuration: configuration_folder(), dialogs: true, wake: Wake::default() };
    let desk = seated(home(), last_site(), None, MeasureSettings::default())
        .or_else(|_| seated(home(), Source::Scene(0), None, MeasureSettings::default()))?;
    open_window(desk, None).map(drop).map_err(Ending::bad)
}
