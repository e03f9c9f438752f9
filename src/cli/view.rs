//! `plumbsight view`: what does a person see who stands on the site?

use std::path::PathBuf;
use std::sync::Arc;

use clap::Args;

use crate::files::write_whole;
use crate::scenes::SCENES;
use crate::site::{LoadedSite, SiteProblems, parse_site, site_hash};
use crate::still::Picture;
use crate::survey::{Survey, Wishes};
use crate::theme::Theme;
use crate::viewer::desk::first_stance;
use crate::viewer::{FinderView, draw_finder, open_window};

use super::measure::{MeasureOptions, recorded};
use super::request::{StanceArguments, survey};
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
    /// Pixels across
    #[arg(long, value_name = "PX", default_value_t = 1200)]
    width: u32,
    /// The colours
    #[arg(long, value_enum, default_value_t)]
    theme: Colours,
}

pub(super) fn run(arguments: &ViewArguments) -> Outcome {
    let wishes = arguments.measures.wishes()?;
    let survey = survey(&arguments.site)?;
    let stance = if arguments.stance.is_empty() { first_stance(&survey) } else { arguments.stance.stance(&survey)? };
    let theme = arguments.theme.into();
    let Some(path) = &arguments.picture else {
        return open_window(Arc::new(survey), stance, Wishes { slack_tolerance: None, ..wishes }, theme)
            .map_err(Ending::bad);
    };
    let (measured, _) = recorded(&survey, &stance, &wishes)?;
    let mut lens = measured.standing.camera;
    lens.frame = lens.frame.with_width_px(arguments.width);
    let view = FinderView { lens, pose: measured.standing.pose, sun: measured.sun, theme };
    let drawn = draw_finder(Arc::new(survey), view).map_err(Ending::bad)?;
    let picture = Picture { width_px: drawn.width_px, height_px: drawn.height_px, rgb: drawn.rgb };
    write_whole(path, &picture.png().map_err(Ending::bad)?).map_err(Ending::bad)?;
    print(&format!("{} is written, {} × {} px.", path.display(), picture.width_px, picture.height_px))
}

/// The walk on the first demo site.
pub(super) fn walk_demo() -> Outcome {
    let scene = &SCENES[0];
    let path = PathBuf::from(format!("{}.site.ron", scene.name));
    let site = parse_site(scene.text, scene.name).map_err(Ending::bad)?;
    let hash = site_hash(scene.text);
    let loaded = LoadedSite { site, path, text: scene.text.into(), hash, warnings: SiteProblems::default() };
    let survey = Survey::of(loaded);
    let stance = first_stance(&survey);
    open_window(Arc::new(survey), stance, Wishes::default(), Theme::Paper).map_err(Ending::bad)
}
