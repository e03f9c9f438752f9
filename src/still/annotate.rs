//! What do the measurements look like, drawn over the picture they belong to?

use crate::angle::Angle;
use crate::appraise::Account;
use crate::optics::{Camera, PixelPoint};
use crate::outline::Subject;
use crate::pose::{Attitude, Pose, ViewVector, WorldPoint};
use crate::verticals::{DrawnLine, LineKind, Viewpoint};
use crate::wording;

use super::overlay::{LabelAnchor, MarkForm, Overlay, OverlayInk, OverlayLabel, OverlayLine, OverlayMark};

/// How many points of a bent line are joined.
const STEPS: usize = 24;
/// How many blocks beside the subject have their largest lean written beside it.
const LABELLED: usize = 5;
/// Leans smaller than this are not worth a label.
const WRITTEN: Angle = Angle::from_radians(0.0009);

/// The overlay of an account, on the camera it was measured with.
pub fn annotations(account: &Account, subject: Option<&Subject>, camera: &Camera, pose: &Pose) -> Overlay {
    let viewpoint = Viewpoint::new(camera, pose);
    let mut overlay = Overlay::default();
    draw_horizon(&viewpoint, &mut overlay);
    if let Some(subject) = subject {
        draw_bounds(account, subject, &viewpoint, &mut overlay);
    }
    for drawn in &account.lines {
        draw_line(drawn, &viewpoint, subject, &mut overlay);
    }
    draw_vanishing(account, camera, &mut overlay);
    write_leans(account, subject, &mut overlay);
    overlay
}

/// The edge of another picture from the same eye, such as the final one, as a camera sees it.
pub fn edge_of(other: &Camera, attitude: &Attitude, camera: &Camera, pose: &Pose) -> OverlayLine {
    let (width, height) = (f64::from(other.frame.width_px), f64::from(other.frame.height_px));
    let corners = [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height), (0.0, 0.0)];
    let world_from_view = attitude.view_from_world().transpose();
    let view_from_world = pose.attitude.view_from_world();
    let seen = |(x, y): (f64, f64)| {
        let direction = view_from_world * (world_from_view * other.view_from_pixel(PixelPoint::new(x, y))?);
        camera.pixel_from_view(&direction).map(|pixel| (pixel.x, pixel.y))
    };
    // A point that the camera does not see parts the line.
    let side = |pair: &[(f64, f64)]| -> Vec<(f64, f64)> {
        let ((x, y), (to_x, to_y)) = (pair[0], pair[1]);
        (0..=STEPS)
            .map(|step| step as f64 / STEPS as f64)
            .map(|share| seen((x + (to_x - x) * share, y + (to_y - y) * share)).unwrap_or((f64::NAN, f64::NAN)))
            .collect()
    };
    OverlayLine { points_px: corners.windows(2).flat_map(side).collect(), ink: OverlayInk::Crop, dotted: false }
}

/// A line where it can be seen, and the hidden rest of the subject's own dotted. What is hidden wholly is left out: on a
/// front with many windows it would bury what is seen.
fn draw_line(drawn: &DrawnLine, viewpoint: &Viewpoint<'_>, subject: Option<&Subject>, overlay: &mut Overlay) {
    let Some(part) = &drawn.part else { return };
    let ink = match drawn.line.kind {
        LineKind::Vertical => OverlayInk::Plumb,
        LineKind::Side => OverlayInk::Side,
    };
    let mut stretch = |from: f64, to: f64, dotted: bool| {
        let points_px = (0..=STEPS)
            .filter_map(|step| {
                let share = from + (to - from) * step as f64 / STEPS as f64;
                viewpoint.pixel_of(&drawn.line.at(share)).ok().map(|pixel| (pixel.x, pixel.y))
            })
            .collect();
        overlay.lines.push(OverlayLine { points_px, ink, dotted });
    };
    let whole = [(part.from, part.to)];
    let seen: &[(f64, f64)] = drawn.seen.as_deref().unwrap_or(&whole);
    let own = subject.is_some_and(|subject| subject.blocks.contains(&drawn.line.block)) && !seen.is_empty();
    let mut end = part.from;
    for &(from, to) in seen {
        if own && from > end + 1e-9 {
            stretch(end, from, true);
        }
        stretch(from, to, false);
        end = to;
    }
    if own && part.to > end + 1e-9 {
        stretch(end, part.to, true);
    }
}

/// The plumb lines that bound a subject without verticals of its own.
fn draw_bounds(account: &Account, subject: &Subject, viewpoint: &Viewpoint<'_>, overlay: &mut Overlay) {
    let verticals = account.lines.iter().any(|drawn| {
        drawn.line.kind == LineKind::Vertical && subject.blocks.contains(&drawn.line.block) && !drawn.line.turned_away
    });
    let (Ok(outline), false) = (&account.outline, verticals) else { return };
    let eye = &viewpoint.pose.eye;
    let distance_m = (subject.middle - eye).xy().norm();
    for bearing in [outline.left, outline.right] {
        let (sine, cosine) = bearing.sin_cos();
        let at = |height_m: f64| WorldPoint::new(eye.x + distance_m * sine, eye.y + distance_m * cosine, height_m);
        let points_px = (0..=STEPS)
            .filter_map(|step| {
                let share = step as f64 / STEPS as f64;
                viewpoint.pixel_of(&at(subject.base_m + share * (subject.highest_m - subject.base_m))).ok()
            })
            .map(|pixel| (pixel.x, pixel.y))
            .collect();
        overlay.lines.push(OverlayLine { points_px, ink: OverlayInk::Plumb, dotted: true });
    }
}

/// The horizon, followed all round as far as the lens draws it.
fn draw_horizon(viewpoint: &Viewpoint<'_>, overlay: &mut Overlay) {
    let steps = 180;
    let mut points_px = Vec::new();
    for step in 0..=steps {
        let turn = Angle::from_degrees(f64::from(step) - 90.0) + viewpoint.pose.attitude.heading;
        let (sine, cosine) = turn.sin_cos();
        let view: ViewVector = viewpoint.rotation() * ViewVector::new(sine, cosine, 0.0);
        // A point that is drawn nowhere parts the line.
        points_px
            .push(viewpoint.camera.pixel_from_view(&view).map_or((f64::NAN, f64::NAN), |pixel| (pixel.x, pixel.y)));
    }
    overlay.lines.push(OverlayLine { points_px, ink: OverlayInk::Horizon, dotted: true });
}

/// The vertical vanishing point, or where it lies from the frame's edge.
fn draw_vanishing(account: &Account, camera: &Camera, overlay: &mut Overlay) {
    let vanishing = &account.vanishing;
    let Some(at) = vanishing.at else { return };
    let pixel = camera.pixel_from_picture(at);
    if camera.holds(pixel) {
        let at_px = (pixel.x, pixel.y);
        overlay.marks.push(OverlayMark { at_px, ink: OverlayInk::Plumb, form: MarkForm::Point });
        let text = "the verticals meet here".into();
        overlay.labels.push(OverlayLabel { at_px, text, ink: OverlayInk::Plumb, anchor: LabelAnchor::Right });
        return;
    }
    // From the middle of the frame towards it, to just inside the frame's edge.
    let (width, height) = (f64::from(camera.frame.width_px), f64::from(camera.frame.height_px));
    let middle = PixelPoint::new(0.5 * width, 0.5 * height);
    let towards = pixel - middle;
    let reach = (0.48 * width / towards.x.abs()).min(0.48 * height / towards.y.abs());
    let edge = middle + towards * reach;
    let frames = at.norm() / camera.frame.height_mm;
    if frames > 200.0 {
        return;
    }
    let way = if towards.y <= 0.0 { "up" } else { "down" };
    let form = MarkForm::Arrow { toward: (towards.x, towards.y) };
    let at_px = (edge.x, edge.y);
    overlay.marks.push(OverlayMark { at_px, ink: OverlayInk::Plumb, form });
    overlay.labels.push(OverlayLabel {
        at_px,
        text: format!("the verticals meet {frames:.1} frame heights {way}"),
        ink: OverlayInk::Plumb,
        anchor: LabelAnchor::Right,
    });
}

/// Leans beside the lines they belong to: the subject's first, then each other block's worst.
fn write_leans(account: &Account, subject: Option<&Subject>, overlay: &mut Overlay) {
    let own = |drawn: &DrawnLine| subject.is_some_and(|subject| subject.blocks.contains(&drawn.line.block));
    let lean = |drawn: &DrawnLine| drawn.lean.map_or(Angle::ZERO, Angle::abs);
    let mut lines: Vec<&DrawnLine> =
        account.lines.iter().filter(|drawn| drawn.is_visible() != Some(false) && lean(drawn) > WRITTEN).collect();
    lines.sort_by(|a, b| own(b).cmp(&own(a)).then(lean(b).radians().total_cmp(&lean(a).radians())));
    let mut labelled: Vec<(usize, LineKind, bool)> = Vec::new();
    let mut others = 0;
    for drawn in lines {
        let (Some(part), Some(degrees)) = (&drawn.part, drawn.lean.map(Angle::degrees)) else { continue };
        // One label a side of the subject's blocks, one a block of the rest.
        let side = own(drawn) && degrees < 0.0;
        let key = (drawn.line.block, drawn.line.kind, side);
        if labelled.contains(&key) || (!own(drawn) && others >= LABELLED) {
            continue;
        }
        labelled.push(key);
        others += usize::from(!own(drawn));
        let at_px = (0.5 * (part.lower_px.x + part.upper_px.x), 0.5 * (part.lower_px.y + part.upper_px.y));
        let (ink, text) = match drawn.line.kind {
            LineKind::Vertical => (OverlayInk::Plumb, wording::degrees(degrees.abs())),
            LineKind::Side => (OverlayInk::Side, format!("side {}", wording::degrees(degrees.abs()))),
        };
        // Away from what leans: a head that leans left is labelled on the right of its line.
        let anchor = if degrees > 0.0 { LabelAnchor::Right } else { LabelAnchor::Left };
        overlay.labels.push(OverlayLabel { at_px, text, ink, anchor });
    }
}
