//! How is the finder's picture drawn in its materials?

use crate::pose::Pose;
use crate::progress::Progress;
use crate::still::{Look, Picture, Scene, Style, View, render};
use crate::survey::{Measured, Survey};
use crate::verticals::Straightened;

/// Draws it; nothing where nobody wants it any more.
pub(in crate::viewer::state) fn exact_picture(
    survey: &Survey,
    measured: &Measured,
    straightened: Option<&Straightened>,
    width_px: u32,
    progress: &Progress,
) -> Option<Picture> {
    let standing = &measured.standing;
    let (mut camera, pose) = match straightened {
        Some(straight) => (straight.camera, Pose { attitude: straight.attitude, ..standing.pose }),
        None => (standing.camera, standing.pose),
    };
    camera.frame = camera.frame.with_width_px(width_px);
    let style = Style { sun: Some(survey.light(measured.sun)), ..Style::of(Look::Materials) };
    let scene = Scene { model: &survey.model, sight: &survey.sight };
    render(&scene, &View { camera, pose, focus: None }, &style, progress).ok()
}
