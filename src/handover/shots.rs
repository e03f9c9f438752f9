//! How do the pictures of sheet and card come about?

use crate::angle::Angle;
use crate::optics::{Camera, PixelPoint};
use crate::pose::{Pose, WorldPoint};
use crate::progress::Progress;
use crate::site::PlanPoint;
use crate::still::{Look, Picture, Scene, StillError, Style, View, render};
use crate::survey::{Measured, Survey};
use crate::theme::Theme;
use crate::verticals::Viewpoint;

/// How far beside the subject's foot a person for scale may stand, nearest first.
const BESIDE_M: [f64; 3] = [1.2, 2.5, 4.5];
/// Points of each side of a frame that are followed into another picture.
const SIDE_POINTS: usize = 12;

/// A picture of a place as one camera takes it.
#[derive(Clone, Copy)]
pub(super) struct Shot<'a> {
    pub(super) camera: &'a Camera,
    pub(super) pose: Pose,
    /// Pixels along its longer side.
    pub(super) longer_px: f64,
}

/// Makes the pictures of one stance after another.
#[derive(Clone, Copy)]
pub(super) struct Shots<'a> {
    pub(super) survey: &'a Survey,
    pub(super) look: Look,
    pub(super) progress: &'a Progress,
}

impl Shots<'_> {
    /// Takes a picture of a stance, with a person for scale where there is room.
    pub(super) fn take(&self, measured: &Measured, shot: Shot<'_>) -> Result<Picture, StillError> {
        let mut camera = *shot.camera;
        let aspect = camera.frame.width_mm / camera.frame.height_mm;
        let width_px = if aspect >= 1.0 { shot.longer_px } else { shot.longer_px * aspect };
        camera.frame = camera.frame.with_width_px(width_px.round().max(1.0) as u32);
        let company = self.look == Look::Materials;
        let figures = if company { Vec::new() } else { self.person(measured).into_iter().collect() };
        let sun = Some(self.survey.light(measured.sun));
        let style = Style { theme: Theme::Paper, sun, company, figures, ..Style::of(self.look) };
        let view = View { camera, pose: shot.pose, focus: None };
        let scene = Scene { model: &self.survey.model, sight: &self.survey.sight };
        let picture = render(&scene, &view, &style, &Progress::unwatched())?;
        self.progress.advance(1)?;
        Ok(picture)
    }

    /// Where a person stands for scale: beside the subject's foot, on ground that is seen from the camera.
    pub(super) fn person(&self, measured: &Measured) -> Option<PlanPoint> {
        let subject = self.survey.subject.as_ref().ok()?;
        let outline = measured.account.outline.as_ref().ok()?;
        let (model, eye) = (&self.survey.model, &measured.standing.pose.eye);
        let toward = outline.middle();
        let middle = (subject.middle.x, subject.middle.y);
        let distance_m = (middle.0 - eye.x).hypot(middle.1 - eye.y);
        let free = |at: &PlanPoint| {
            let ground_m = model.site.terrain.height_m(*at);
            let dry = model.site.water_level_m.is_none_or(|water_m| ground_m > water_m);
            let seen = [0.2, 0.9, 1.6].iter().all(|up_m| {
                let point = WorldPoint::new(at.0, at.1, ground_m + up_m);
                self.survey.sight.is_free(eye, &point)
            });
            dry && (model.surface_m(*at) - ground_m).abs() < 0.05 && seen
        };
        let places = BESIDE_M.iter().flat_map(|aside_m| {
            [outline.right, outline.left].into_iter().map(move |side| {
                let turn = (side - toward).wrapped();
                let out_m = distance_m * turn.abs().tan() + aside_m;
                let across = toward + Angle::from_degrees(if turn.radians() >= 0.0 { 90.0 } else { -90.0 });
                let (sine, cosine) = across.sin_cos();
                (middle.0 + out_m * sine, middle.1 + out_m * cosine)
            })
        });
        places.into_iter().find(free)
    }
}

/// The outline of what another camera, at the same eye, keeps of a picture: in shares of its width and height, closed by
/// itself; `None` where the pictures are the same, or part of one is behind the other.
pub(super) fn kept_outline(taken: (&Camera, &Pose), kept: (&Camera, &Pose)) -> Option<Vec<(f64, f64)>> {
    let viewpoint = Viewpoint::new(taken.0, taken.1);
    let (across_px, down_px) = (f64::from(taken.0.frame.width_px), f64::from(taken.0.frame.height_px));
    let (width_px, height_px) = (f64::from(kept.0.frame.width_px), f64::from(kept.0.frame.height_px));
    let corners = [(0.0, 0.0), (width_px, 0.0), (width_px, height_px), (0.0, height_px)];
    let world_from_kept = kept.1.attitude.view_from_world().transpose();
    let mut outline = Vec::new();
    for (index, from) in corners.iter().enumerate() {
        let to = corners[(index + 1) % 4];
        for step in 0..SIDE_POINTS {
            let share = step as f64 / SIDE_POINTS as f64;
            let pixel = PixelPoint::new(from.0 + share * (to.0 - from.0), from.1 + share * (to.1 - from.1));
            let towards = world_from_kept * kept.0.view_from_pixel(pixel)?;
            let at = viewpoint.pixel_of(&(taken.1.eye + towards * 100.0)).ok()?;
            outline.push((at.x / across_px, at.y / down_px));
        }
    }
    let whole = outline.iter().step_by(SIDE_POINTS).zip([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)]);
    let same = whole.into_iter().all(|(at, corner)| (at.0 - corner.0).hypot(at.1 - corner.1) < 0.004);
    (!same).then_some(outline)
}
