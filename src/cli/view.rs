//! `plumbsight view`: what does a person see who stands on the site?

use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::Args;

use crate::files::write_whole;
use crate::site::Stance;
use crate::survey::Wishes;
use crate::viewer::desk::{Action, Desk, StartError, first_stance};
use crate::viewer::opening::{Home, Source};
use crate::viewer::work::Wake;
use crate::viewer::{Sheet, open_window, picture};

use super::measure::MeasureOptions;
use super::request::{StanceArguments, configuration_folder, survey};
use super::show::print;
use super::still::Colours;
use super::{Ending, Outcome};

/// What to show.
#[derive(Args, Debug)]
pub(super) struct ViewArguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
    #[command(flatten)]
    stance: StanceArguments,
    #[command(flatten)]
    measures: MeasureOptions,
    /// Draw one frame of the finder on the graphics card, without a window, into this file
    #[arg(long, value_name = "FILE")]
    picture: Option<PathBuf>,
    /// Draw the whole window with its panels, without a display, into this file
    #[arg(long, value_name = "FILE", conflicts_with = "picture")]
    window_picture: Option<PathBuf>,
    /// Pixels across of the finder's picture; its frame gives those down
    #[arg(long, value_name = "PX", default_value_t = 1200)]
    width: u32,
    /// Pixels across and down of the window's picture
    #[arg(long, value_name = "WxH", default_value = "1440x860", value_parser = size)]
    size: [u32; 2],
    /// Pixels a point of the window's picture: 2 on a fine display
    #[arg(long, value_name = "NUMBER", default_value_t = 1.0, value_parser = scale)]
    scale: f32,
    /// The colours
    #[arg(long, value_enum)]
    theme: Option<Colours>,
}

/// The largest side of a picture, in pixels: what every graphics card can draw on.
const LARGEST_PX: u32 = 8192;

fn size(text: &str) -> Result<[u32; 2], String> {
    let sides = text
        .split_once(['x', 'X', '×'])
        .and_then(|(width, height)| Some([width.trim().parse::<u32>().ok()?, height.trim().parse::<u32>().ok()?]));
    sides
        .filter(|sides| sides.iter().all(|side_px| (1..=LARGEST_PX).contains(side_px)))
        .ok_or_else(|| format!("give it as 1280x720, each from 1 to {LARGEST_PX}"))
}

fn scale(text: &str) -> Result<f32, String> {
    let scale = text.parse::<f32>().ok().filter(|scale| (0.5..=4.0).contains(scale));
    scale.ok_or_else(|| "give a number from 0.5 to 4".into())
}

pub(super) fn run(arguments: &ViewArguments) -> Outcome {
    let wishes = arguments.measures.wishes()?;
    let survey = survey(&arguments.site)?;
    if arguments.picture.is_none() && arguments.window_picture.is_none() {
        let given = if arguments.stance.is_empty() { None } else { Some(arguments.stance.stance(&survey)?) };
        let mut desk = seated(Source::File(arguments.site.clone()), given, wishes)?;
        if let Some(theme) = arguments.theme {
            desk.act(&Action::Theme(theme.into()));
        }
        return open_window(desk).map_err(Ending::bad);
    }
    let stance = if arguments.stance.is_empty() { first_stance(&survey) } else { arguments.stance.stance(&survey)? };
    let wishes = Wishes { slack_tolerance: None, ..wishes };
    let mut desk = Desk::new(Arc::new(survey), stance, wishes).map_err(Ending::from)?;
    if let Some(theme) = arguments.theme {
        desk.act(&Action::Theme(theme.into()));
    }
    if let Some(path) = &arguments.picture {
        let frame = desk.measured().standing.camera.frame.with_width_px(arguments.width);
        if !(1..=LARGEST_PX).contains(&frame.width_px) || frame.height_px > LARGEST_PX {
            return Err(Ending::bad(format!("--width {}: give 1 to {LARGEST_PX} pixels", arguments.width)));
        }
        let sheet = Sheet { width_px: frame.width_px, height_px: frame.height_px, scale: 1.0, panels: false };
        return drawn(path, desk, sheet);
    }
    let Some(path) = &arguments.window_picture else { return Ok(()) };
    let [width_px, height_px] = arguments.size;
    drawn(path, desk, Sheet { width_px, height_px, scale: arguments.scale, panels: true })
}

/// A walker at home on a site.
fn seated(source: Source, given: Option<Stance>, wishes: Wishes) -> Result<Desk, Ending> {
    let home = Home { configuration: configuration_folder(), dialogs: true, wake: Wake::default() };
    Desk::open(home, source, given, wishes).map_err(|error| match error {
        StartError::Stance(error) => error.into(),
        StartError::Open(error) => Ending::bad(error),
    })
}

fn drawn(path: &Path, desk: Desk, sheet: Sheet) -> Outcome {
    let drawn = picture(desk, sheet).map_err(Ending::bad)?;
    write_whole(path, &drawn.png().map_err(Ending::bad)?).map_err(Ending::bad)?;
    print(&format!("{} is written, {} × {} px.", path.display(), drawn.width_px, drawn.height_px))
}

/// The walk on the first demo site.
pub(super) fn walk_demo() -> Outcome {
    open_window(seated(Source::Scene(0), None, Wishes::default())?).map_err(Ending::bad)
}
