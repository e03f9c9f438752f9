//! How is the small picture of a stance drawn?

use crate::progress::Progress;
use crate::site::{Stance, Sun};
use crate::still::{Look, Picture, Scene, Style, View, render};
use crate::survey::Survey;
use crate::theme::Theme;

/// What all small pictures of one moment have in common.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::viewer::state) struct ThumbnailLook {
    /// The version of the site that is shown.
    pub(in crate::viewer::state) site: u64,
    pub(in crate::viewer::state) sun: Option<Sun>,
    pub(in crate::viewer::state) theme: Theme,
    pub(in crate::viewer::state) look: Look,
}

/// What a small picture depends on.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::viewer::state) struct ThumbnailKey {
    pub(in crate::viewer::state) stance: Stance,
    pub(in crate::viewer::state) look: ThumbnailLook,
    /// Pixels along the longer side.
    pub(in crate::viewer::state) long_px: u32,
    /// Blocks that were away where the stance was found.
    pub(in crate::viewer::state) away: Vec<String>,
}

/// Draws it; nothing where the stance is impossible or nobody wants the picture any more.
pub(in crate::viewer::state) fn thumbnail(survey: &Survey, key: &ThumbnailKey, progress: &Progress) -> Option<Picture> {
    let standing = survey.stand(&key.stance).ok()?;
    let mut camera = standing.camera;
    let frame = camera.frame;
    let longer = f64::from(frame.width_px.max(frame.height_px));
    let width_px = (f64::from(frame.width_px) * f64::from(key.long_px) / longer).round() as u32;
    camera.frame = frame.with_width_px(width_px);
    let ThumbnailLook { sun, theme, look, .. } = key.look;
    let style = Style { theme, sun: Some(survey.light(sun)), samples: 2, ..Style::of(look) };
    let scene = Scene { model: &survey.model, sight: &survey.sight };
    render(&scene, &View { camera, pose: standing.pose, focus: None }, &style, progress).ok()
}
