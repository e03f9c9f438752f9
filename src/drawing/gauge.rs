//! How much of what narrows is the subject's own shape, and how much the camera's tilt, at a glance?
//!
//! The plumb gauge: the outline of the subject's body as a level camera draws it from here, dashed; as this one draws it,
//! filled; and a plumb line through its foot. Both have the same foot and one scale, so the angle between them is the
//! angle in the picture.

use crate::outline::hull;
use crate::pose::{Attitude, Pose};
use crate::survey::{Measured, Survey};
use crate::wording;

use super::canvas::Canvas;
use super::plan::subject_words;
use super::{Align, CanvasPoint, Drawing, Role, Text};

/// The gauge; without a subject in front of the camera it says so.
pub fn gauge(survey: &Survey, measured: &Measured, width_pt: f64, height_pt: f64) -> Drawing {
    let mut canvas = Canvas::new(width_pt, height_pt);
    let (width_pt, height_pt) = (canvas.drawing.width_pt, canvas.drawing.height_pt);
    let pose = &measured.standing.pose;
    let levelled = Pose { attitude: Attitude::level(pose.attitude.heading), ..*pose };
    let (Some(seen), Some(shape)) = (outline(survey, pose), outline(survey, &levelled)) else {
        let place = (0.5 * width_pt, 0.5 * height_pt);
        canvas.text(Text::caption("no outline from here", place, Align::Middle, Role::Soft));
        return canvas.finish("The subject is not in front of the camera, so there is no gauge.".into());
    };
    let (seen, shape) = (upon_its_foot(&seen), upon_its_foot(&shape));
    let all = || seen.iter().chain(&shape);
    let reach = all().map(|corner| corner.0.abs()).fold(1e-9, f64::max);
    let top = all().map(|corner| corner.1).fold(1e-9, f64::max);
    let (margin, below) = (6.0, 18.0);
    let scale = ((0.5 * width_pt - margin) / reach).min((height_pt - margin - below - 8.0) / top);
    let foot = (0.5 * width_pt, height_pt - below);
    let at = |&(aside, up): &(f64, f64)| (foot.0 + aside * scale, foot.1 - up * scale);
    let ring = |outline: &[(f64, f64)]| outline.iter().map(at).collect::<Vec<CanvasPoint>>();
    canvas.area(&[ring(&seen)], Some(Role::Side.thinned(0.16)), Some(Role::Side.pen(1.7)));
    canvas.area(&[ring(&shape)], None, Some(Role::Side.dashed(1.0)));
    let head = foot.1 - top * scale - 8.0;
    canvas.line(&[(foot.0, head), (foot.0, height_pt - 9.0)], Role::Plumb.pen(1.2));
    // The bob.
    let bob = vec![(foot.0 - 4.0, height_pt - 11.0), (foot.0 + 4.0, height_pt - 11.0), (foot.0, height_pt - 2.0)];
    canvas.area(&[bob], Some(Role::Plumb.full()), None);
    canvas.finish(words(survey, measured))
}

/// The outline of the subject's body in the ideal picture: slopes right and up; `None` where part of it is not in front.
fn outline(survey: &Survey, pose: &Pose) -> Option<Vec<(f64, f64)>> {
    let subject = survey.subject.as_ref().ok()?;
    let rotation = pose.attitude.view_from_world();
    let corners = survey.model.solids[subject.body].vertices.iter().map(|corner| {
        let mut corner = *corner;
        corner.z = corner.z.max(survey.model.site.terrain.height_m((corner.x, corner.y)));
        let view = rotation * (corner - pose.eye);
        (view.z > 1e-3).then(|| (view.x / view.z, -view.y / view.z))
    });
    corners.collect::<Option<Vec<_>>>().map(hull).filter(|outline| outline.len() >= 3)
}

/// An outline moved so that the middle of its foot is nought, and scaled so that its foot is 1 wide.
fn upon_its_foot(outline: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let low = outline.iter().map(|corner| corner.1).fold(f64::INFINITY, f64::min);
    let high = outline.iter().map(|corner| corner.1).fold(f64::NEG_INFINITY, f64::max);
    // A round foot is an arc: the lowest twentieth is as wide as it gets.
    let near = outline.iter().filter(|corner| corner.1 <= low + 0.05 * (high - low)).map(|corner| corner.0);
    let left = near.clone().fold(f64::INFINITY, f64::min);
    let right = near.fold(f64::NEG_INFINITY, f64::max);
    let width = if right - left > 1e-9 { right - left } else { 1.0 };
    outline.iter().map(|corner| ((corner.0 - 0.5 * (left + right)) / width, (corner.1 - low) / width)).collect()
}

fn words(survey: &Survey, measured: &Measured) -> String {
    let name = subject_words(survey);
    let account = &measured.account;
    let mut words = match account.convergence.map(|convergence| convergence.angle().degrees()) {
        Some(degrees) => format!("{} {} toward the top.", wording::capital(&name), wording::convergence(degrees)),
        None => format!("From here the convergence of {name} cannot be measured."),
    };
    if let Some(taper) = account.taper {
        words += &format!(
            " Its taper of {:.2} in the picture is its true taper of {:.2} times {:.2} by tilt.",
            taper.seen,
            taper.shape,
            taper.tilt_factor()
        );
    }
    words
}
