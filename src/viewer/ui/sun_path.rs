//! Where does the sun run on the day that is shown? Its path over the finder, with the hours on it.

use bevy_egui::egui::{self, Align2, Pos2, Rect, Shape, Stroke, Vec2};

use crate::light::{Moment, Sky};
use crate::optics::{Camera, PixelPoint};
use crate::pose::{Pose, WorldVector};
use crate::viewer::render::narrow::screen;

use super::context::PanelContext;
use super::style::WindowStyle;

/// From point to point of the path.
const STEP_S: f64 = 1200.0;
/// An hour has so many of them.
const HOUR: usize = 3;

/// The camera whose picture the finder shows.
struct Shown<'a> {
    camera: &'a Camera,
    pose: &'a Pose,
    frame: Rect,
}

impl Shown<'_> {
    /// Where a direction is seen in the frame, if it is.
    fn place(&self, direction: &WorldVector) -> Option<Pos2> {
        let view = self.pose.attitude.view_from_world() * direction;
        let pixel: PixelPoint = self.camera.pixel_from_view(&view).filter(|pixel| self.camera.holds(*pixel))?;
        let scale = self.frame.width() / screen(f64::from(self.camera.frame.width_px).max(1.0));
        Some(self.frame.min + Vec2::new(screen(pixel.x), screen(pixel.y)) * scale)
    }
}

/// The path over the finder, where a moment of a day is shown and the picture is the camera's own.
pub(super) fn draw_path(painter: &egui::Painter, panel: &PanelContext<'_>, frame: Rect) {
    let light = panel.desk.light();
    let (Ok(sky), Some(moment)) = (light.sky, light.moment) else { return };
    if panel.desk.straightened().is_some() {
        return;
    }
    let standing = panel.standing();
    let shown = Shown { camera: &standing.camera, pose: &standing.pose, frame };
    let Ok(bounds) = sky.zone().bounds(sky.zone().clock(moment).day) else { return };
    path(painter, &panel.style, sky, bounds, &shown);
    let sun = sky.sun(moment);
    if sun.is_up()
        && let Some(place) = shown.place(&sun.direction())
    {
        // As large as the lens shows it, and never too small to be seen.
        let pixels = standing.camera.frame.pixels_per_mm().0 * standing.camera.focal_mm * sun.semi_diameter.tan();
        let scale = frame.width() / screen(f64::from(standing.camera.frame.width_px).max(1.0));
        let radius = (screen(pixels) * scale).max(panel.style.px(3.0));
        painter.circle(place, radius, panel.style.panel(), Stroke::new(panel.style.px(1.6), panel.style.ask()));
    }
}

fn path(painter: &egui::Painter, style: &WindowStyle, sky: &Sky, bounds: (Moment, Moment), shown: &Shown<'_>) {
    let stroke = Stroke::new(style.px(1.4), style.ask());
    let count = (bounds.1.seconds_since(bounds.0) / STEP_S) as usize;
    let mut stretch: Vec<Pos2> = Vec::new();
    for step in 0..=count {
        let moment = bounds.0.plus_s(STEP_S * step as f64);
        let sun = sky.sun(moment);
        let place = shown.place(&sun.direction()).filter(|_| sun.is_up());
        match place {
            Some(place) => {
                stretch.push(place);
                if step.is_multiple_of(HOUR) {
                    painter.circle_filled(place, style.px(2.2), style.ask());
                    let words = sky.zone().minutes(moment);
                    let at = place + Vec2::new(style.px(5.0), 0.0);
                    painter.text(at, Align2::LEFT_CENTER, words, style.figure(), style.ask());
                }
            }
            None => painter.extend(Shape::dashed_line(&std::mem::take(&mut stretch), stroke, 5.0, 3.0)),
        }
    }
    painter.extend(Shape::dashed_line(&stretch, stroke, 5.0, 3.0));
}
