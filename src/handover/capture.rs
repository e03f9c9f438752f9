//! What is the picture from a stance, and what must be written down so that it can be taken again?
//!
//! A capture is a picture with its parameters inside and its record beside it. The record alone gives the same capture
//! again, byte for byte.

use thiserror::Error;

use crate::appraise::{FinalPicture, Measures};
use crate::files::fingerprint;
use crate::outline::OutlineError;
use crate::pose::Pose;
use crate::progress::Progress;
use crate::record::{PictureRecord, Record};
use crate::site::{PlanPoint, Stance};
use crate::stance::{StanceError, Standing};
use crate::still::{
    Depth, Look, Overlay, OverlayInk, Picture, Scene, StillError, Style, Surround, View, annotations, edge_of, render,
};
use crate::survey::{MeasureSettings, Measured, Survey};
use crate::theme::Theme;
use crate::verticals::StraightenFailure;

use super::exif::{Moment, PictureFileError, PictureForm, Taken, picture_file};
use super::plane_of;

/// How a picture is wanted.
#[derive(Clone, Debug, PartialEq)]
pub struct Shot {
    /// Pixels across; the body's own without.
    pub width_px: Option<u32>,
    /// Rays a pixel.
    pub samples: u32,
    /// What the site is shown as.
    pub look: Look,
    /// Whether contour lines and inked edges are drawn in the materials look too; the card look always has them.
    pub lines: bool,
    /// The colours of the card look.
    pub theme: Theme,
    /// Whether verticals, sides, horizon and vanishing point are drawn over it.
    pub overlay: bool,
    /// Whether the depth of field of the f-number and focus set is shown.
    pub depth_of_field: bool,
    /// Whether it is the picture that straightening afterwards would keep.
    pub straightened: bool,
    /// Where people stand for scale.
    pub people: Vec<PlanPoint>,
    /// Whether people, a bicycle, a car and a van stand about the foot of the subject.
    pub company: bool,
    /// The moment that the picture is dated by; that of the measurement unless given.
    pub moment: Option<Moment>,
    /// What is shown where the sky would be.
    pub surround: Surround,
    /// How finely its colours are told.
    pub depth: Depth,
    /// Whether the edge of the final picture is drawn over it.
    pub crop: bool,
    /// Whether the final picture stands beside it.
    pub before_after: bool,
    /// Whether it is drawn as records before the sixth format were.
    pub every_ray: bool,
}

impl Default for Shot {
    fn default() -> Self {
        Self {
            width_px: None,
            samples: Style::default().samples,
            look: Look::default(),
            lines: false,
            theme: Theme::default(),
            overlay: false,
            depth_of_field: false,
            straightened: false,
            people: Vec::new(),
            company: false,
            moment: None,
            surround: Surround::default(),
            depth: Depth::default(),
            crop: false,
            before_after: false,
            every_ray: false,
        }
    }
}

impl Shot {
    /// How the picture beside a record was wanted; `None` where there was none.
    ///
    /// # Errors
    /// The record's moment is none.
    pub fn of_record(record: &Record) -> Result<Option<Self>, String> {
        let Some(picture) = &record.picture else { return Ok(None) };
        Ok(Some(Self {
            width_px: Some(picture.pixels[0]),
            samples: picture.samples,
            look: picture.look,
            lines: picture.lines,
            theme: picture.theme,
            overlay: picture.overlay,
            depth_of_field: picture.depth_of_field,
            straightened: record.straightened.as_ref().is_some_and(|straightened| straightened.pictured),
            people: picture.people.clone(),
            company: picture.company,
            moment: picture.moment.as_deref().map(str::parse).transpose()?,
            surround: picture.surround,
            depth: picture.depth,
            crop: picture.crop,
            before_after: picture.before_after,
            every_ray: picture.every_ray,
        }))
    }
}

/// A picture, and everything of it.
#[derive(Clone, Debug)]
pub struct Capture {
    /// The picture.
    pub picture: Picture,
    /// The picture as a file, with its parameters inside.
    pub file: Vec<u8>,
    /// Its record.
    pub record: Record,
    /// Labels of the overlay that found no room.
    pub labels_left_out: usize,
}

/// Why there is no picture.
#[derive(Debug, Error)]
pub enum CaptureError {
    /// The stance cannot be taken up.
    #[error(transparent)]
    Stance(#[from] StanceError),
    /// The picture is not possible so, or no longer wanted.
    #[error(transparent)]
    Still(#[from] StillError),
    /// Straightening keeps nothing.
    #[error("straightening keeps nothing: {}", .0.words())]
    Straightening(StraightenFailure),
    /// There is nothing to straighten by.
    #[error(transparent)]
    NoSubject(OutlineError),
    /// The file cannot be made.
    #[error(transparent)]
    File(#[from] PictureFileError),
}

/// A picture that is about to be taken.
#[derive(Clone, Debug)]
pub struct Setup {
    /// What was measured.
    pub measured: Measured,
    /// What the record beside the picture will say, but for the picture's fingerprint.
    pub record: Record,
    view: View,
    /// When the picture is planned for.
    moment: Option<Moment>,
    after: Option<After>,
}

/// The final picture beside a picture as taken.
#[derive(Clone, Copy, Debug)]
struct After {
    view: View,
    apart_px: u32,
    straightened: bool,
}

/// How far before and after stand apart, as a share of the width of both.
const APART: f64 = 0.015;
/// The type under them, as a share of their height.
const TYPE: f64 = 0.028;

impl Setup {
    /// Takes up a stance and measures it for a picture under a file's name.
    ///
    /// # Errors
    /// The stance or the straightening of its picture is impossible.
    pub fn of(
        survey: &Survey,
        stance: &Stance,
        settings: &MeasureSettings,
        shot: &Shot,
        file_name: &str,
    ) -> Result<Self, CaptureError> {
        let measured = survey.measure(stance, settings)?;
        let mut record = survey.record(stance, &measured, settings);
        let planned = measured.planned.as_ref().and_then(|planned| planned.clock.parse().ok());
        let moment = shot.moment.or(planned);
        if let (true, Some(straightened)) = (shot.straightened, &mut record.straightened) {
            straightened.pictured = true;
        }
        let mut view = view_of(&measured, shot)?;
        let after = if shot.before_after || shot.crop { Some(final_picture(&measured)?) } else { None };
        let after = after.filter(|_| shot.before_after).map(|after| After {
            view: View {
                camera: after.camera,
                pose: Pose { attitude: after.attitude, ..measured.standing.pose },
                focus: view.focus,
            },
            apart_px: 0,
            straightened: after.straightened,
        });
        if after.is_none() {
            let width_px = shot.width_px.unwrap_or(view.camera.frame.width_px);
            view.camera.frame = view.camera.frame.with_width_px(width_px);
        }
        record.picture = Some(PictureRecord {
            file: file_name.into(),
            pixels: [view.camera.frame.width_px, view.camera.frame.height_px],
            samples: shot.samples,
            look: shot.look,
            lines: shot.lines,
            theme: shot.theme,
            overlay: shot.overlay,
            depth_of_field: shot.depth_of_field,
            people: shot.people.clone(),
            company: shot.company,
            moment: moment.map(|moment| moment.to_string()),
            surround: shot.surround,
            depth: shot.depth,
            crop: shot.crop,
            before_after: shot.before_after,
            every_ray: shot.every_ray,
            sha256: None,
        });
        let mut setup = Self { measured, record, view, moment, after };
        if setup.after.is_some() {
            let (own_px, shape) = (f64::from(setup.view.camera.frame.height_px), setup.shape());
            setup.lay_out(shot.width_px.unwrap_or((own_px * shape / (1.0 - APART)).round() as u32));
        }
        Ok(setup)
    }

    /// The width of before and after together, without what is between them, by their height.
    fn shape(&self) -> f64 {
        let shape = |view: &View| f64::from(view.camera.frame.width_px) / f64::from(view.camera.frame.height_px);
        shape(&self.view) + self.after.map_or(0.0, |after| shape(&after.view))
    }

    /// Lays before and after out side by side in so many pixels across.
    fn lay_out(&mut self, width_px: u32) {
        let shape = self.shape();
        let Some(after) = &mut self.after else { return };
        after.apart_px = (APART * f64::from(width_px)).round() as u32;
        let both_px = width_px.saturating_sub(after.apart_px);
        let first = &mut self.view.camera.frame;
        let share = f64::from(first.width_px) / f64::from(first.height_px) / shape;
        let first_px = (share * f64::from(both_px)).round() as u32;
        *first = first.with_width_px(first_px);
        let second = &mut after.view.camera.frame;
        *second = second.with_width_px(both_px.saturating_sub(first_px));
    }

    /// Makes the picture as large as fits into so many pixels across and down, and no larger than it is.
    #[must_use]
    pub fn within(mut self, across_px: u32, down_px: u32) -> Self {
        if let Some(after) = &self.after {
            let width_px = self.view.camera.frame.width_px + after.apart_px + after.view.camera.frame.width_px;
            // The type below takes about a tenth of the height more.
            let fitting_px = 0.9 * f64::from(down_px) * self.shape() / (1.0 - APART);
            self.lay_out(across_px.min(fitting_px.round() as u32).min(width_px));
            return self;
        }
        let frame = self.view.camera.frame;
        let fitting_px = f64::from(down_px) * f64::from(frame.width_px) / f64::from(frame.height_px);
        let frame = frame.with_width_px(across_px.min(fitting_px.round() as u32).min(frame.width_px));
        self.view.camera.frame = frame;
        if let Some(picture) = &mut self.record.picture {
            picture.pixels = [frame.width_px, frame.height_px];
        }
        self
    }

    /// Takes the picture, by the shot it was set up for.
    ///
    /// # Errors
    /// The picture is impossible, or the watcher has cancelled.
    pub fn take(
        self,
        survey: &Survey,
        shot: &Shot,
        form: PictureForm,
        progress: &Progress,
    ) -> Result<Capture, CaptureError> {
        let Self { measured, mut record, view, moment, after } = self;
        form.check(shot.depth, shot.surround)?;
        let (mut picture, mut labels_left_out) = pictured(survey, &measured, &view, shot, progress)?;
        if shot.crop {
            let after = final_picture(&measured)?;
            let line = edge_of(&after.camera, &after.attitude, &view.camera, &view.pose);
            let _ = picture.draw(&Overlay { lines: vec![line], ..Overlay::default() }, shot.theme);
        }
        if let Some(After { view: second, apart_px, straightened }) = &after {
            let (other, left_out) = pictured(survey, &measured, second, shot, progress)?;
            labels_left_out += left_out;
            let type_px = TYPE * f64::from(picture.height_px);
            let under = |picture: Picture, words: &str| {
                picture.with_caption_in(&[(words.to_owned(), OverlayInk::Horizon)], shot.theme, type_px)
            };
            let other = under(other, if *straightened { "straightened and cropped" } else { "cropped" });
            let panel = shot.theme.palette().panel;
            picture = under(picture, "as taken").beside(&other, *apart_px, [panel.0, panel.1, panel.2]);
        }
        let plane = plane_of(&survey.model.site);
        let taken = Taken { record: &record, camera: &view.camera, pose: &view.pose, plane: plane.as_ref(), moment };
        let file = picture_file(&picture, form, &taken)?;
        if let Some(recorded) = &mut record.picture {
            recorded.pixels = [picture.width_px, picture.height_px];
            recorded.sha256 = Some(fingerprint(&file));
        }
        Ok(Capture { picture, file, record, labels_left_out })
    }
}

/// What is handed over of a stance's picture.
fn final_picture(measured: &Measured) -> Result<FinalPicture, CaptureError> {
    match measured.account.final_picture {
        Some(found) => found.map_err(CaptureError::Straightening),
        None => Err(CaptureError::NoSubject(OutlineError::NoSubject)),
    }
}

/// The view as the stance takes it, or as straightening leaves it.
fn view_of(measured: &Measured, shot: &Shot) -> Result<View, CaptureError> {
    let standing = &measured.standing;
    if !shot.straightened {
        let focus = shot.depth_of_field.then(|| standing.focus());
        return Ok(View { camera: standing.camera, pose: standing.pose, focus });
    }
    match &measured.account.straightened {
        Some(Ok(straightened)) => {
            let pose = Pose { attitude: straightened.attitude, ..standing.pose };
            Ok(View { camera: straightened.camera, pose, focus: None })
        }
        Some(Err(failure)) => Err(CaptureError::Straightening(*failure)),
        None => Err(CaptureError::NoSubject(OutlineError::NoSubject)),
    }
}

/// The picture with what is written over it, and how many labels found no room.
fn pictured(
    survey: &Survey,
    measured: &Measured,
    view: &View,
    shot: &Shot,
    progress: &Progress,
) -> Result<(Picture, usize), StillError> {
    let usual = Style::of(shot.look);
    let style = Style {
        ink: usual.ink || shot.lines,
        contours: usual.contours || shot.lines,
        theme: shot.theme,
        sun: Some(survey.light(measured.sun)),
        samples: shot.samples,
        figures: shot.people.clone(),
        company: shot.company,
        surround: shot.surround,
        depth: shot.depth,
        every_ray: shot.every_ray,
        ..usual
    };
    let scene = Scene { model: &survey.model, sight: &survey.sight };
    let mut picture = render(&scene, view, &style, progress)?;
    if !shot.overlay {
        return Ok((picture, 0));
    }
    // The same measurements on the picture's own pixels.
    let drawn = Standing { camera: view.camera, pose: view.pose, ..measured.standing.clone() };
    let account = survey.appraise(&drawn, &Measures::default());
    let notes = annotations(&account, survey.subject.as_ref().ok(), &view.camera, &view.pose);
    let left_out = picture.draw(&notes, shot.theme).left_out;
    Ok((picture, left_out))
}
