//! What does the camera see, and what leans in it? The finder, with verticals, flanks, horizon and vanishing point drawn
//! where they are.

use std::sync::Arc;

use bevy_egui::egui::{
    self, Color32, FontId, Galley, Pos2, Rect, Sense, Shape, Stroke, StrokeKind, Ui, Vec2, WidgetInfo, WidgetType,
};

use crate::pose::Pose;
use crate::site::Stance;
use crate::stance::Standing;
use crate::still::{Anchor, MarkForm, Overlay, OverlayInk, OverlayLabel, annotations};

use super::look::Look;
use super::table::Table;
use super::{FinderPicture, FinderPlace};
use crate::viewer::desk::{Action, Desk};
use crate::viewer::hands;
use crate::viewer::narrow::screen;

/// The share of the frame's sides that is shown around it where the surround is wanted.
const SURROUND: f32 = 0.12;
/// A line that is off by less than this, in points, is straight.
const STRAIGHT: f32 = 0.1;
/// Points further off than this keep their steps: a line to the far ends of a horizon is too long to be cut exactly.
const NEAR: f32 = 10_000.0;

/// The lines over the finder, kept until something moves.
#[derive(Default)]
pub(super) struct Tracing {
    of: Option<(Stance, u64, Option<u64>)>,
    overlay: Overlay,
    width_px: f64,
}

impl Tracing {
    /// The overlay of what is shown now, in pixels of a frame of `width_px`.
    fn follow(&mut self, desk: &Desk) {
        let key = (desk.stance().clone(), desk.site_version(), desk.straighten().map(f64::to_bits));
        if self.of.as_ref() == Some(&key) {
            return;
        }
        let survey = desk.survey();
        let measured = desk.measured();
        let subject = survey.subject.as_ref().ok();
        let standing = &measured.standing;
        if let Some(Ok(straight)) = desk.straightened() {
            let pose = Pose { attitude: straight.attitude, ..standing.pose };
            let drawn = Standing { camera: straight.camera, pose, ..standing.clone() };
            let account = survey.appraise(&drawn, &desk.wishes().measures);
            self.overlay = annotations(&account, subject, &straight.camera, &pose);
            self.width_px = f64::from(straight.camera.frame.width_px);
        } else {
            self.overlay = annotations(&measured.account, subject, &standing.camera, &standing.pose);
            self.width_px = f64::from(standing.camera.frame.width_px);
        }
        self.of = Some(key);
    }
}

/// Where the finder's frame and its surround go in an area.
pub(super) fn placed(desk: &Desk, area: Rect) -> FinderPlace {
    let camera = match desk.straightened() {
        Some(Ok(straight)) => &straight.camera,
        _ => &desk.measured().standing.camera,
    };
    let aspect = screen(camera.frame.width_mm / camera.frame.height_mm);
    let margin = if desk.settings().surround { 1.0 + 2.0 * SURROUND } else { 1.0 };
    let room = (area.size() / margin).max(Vec2::splat(1.0));
    let size =
        if room.x / room.y > aspect { Vec2::new(room.y * aspect, room.y) } else { Vec2::new(room.x, room.x / aspect) };
    let frame = Rect::from_center_size(area.center(), size);
    let shown = if desk.settings().surround { area.intersect(frame.expand2(size * SURROUND * 1.6)) } else { frame };
    FinderPlace { frame, shown }
}

/// Draws the finder and hears what hands do over it.
pub(super) fn finder_ui(
    ui: &mut Ui,
    table: &Table<'_>,
    tracing: &mut Tracing,
    area: Rect,
    picture: Option<&dyn FinderPicture>,
    actions: &mut Vec<Action>,
) -> FinderPlace {
    let look = &table.look;
    let place = placed(table.desk, area);
    let response = ui.interact(place.shown, egui::Id::new("finder"), Sense::click_and_drag());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Image, true, spoken(table)));
    match picture {
        Some(picture) => picture.paint(ui.painter(), &place, look.palette()),
        None => {
            ui.painter().rect_filled(place.shown, 0.0, look.well());
        }
    }
    tracing.follow(table.desk);
    let inside = ui.painter().with_clip_rect(place.frame.intersect(ui.clip_rect()));
    draw_overlay(&inside, look, place.frame, &tracing.overlay, place.frame.width() / screen(tracing.width_px.max(1.0)));
    ui.painter().rect_stroke(place.frame, 2.0, Stroke::new(look.px(1.6), look.ink()), StrokeKind::Outside);
    if response.has_focus() {
        ui.painter().rect_stroke(place.frame.expand(3.0), 4.0, Stroke::new(1.0, look.ink()), StrokeKind::Outside);
    }
    if response.clicked() {
        response.request_focus();
    }
    if let Some(straightened) = table.desk.straightened() {
        let words = match straightened {
            Ok(kept) => {
                let whole = table.standing().camera.frame.megapixels();
                let share = table.desk.straighten().unwrap_or(1.0);
                let part =
                    if share < 0.995 { format!("{:.0} % straightened", 100.0 * share) } else { "straightened".into() };
                format!("{part}: {:.1} of {whole:.1} MP kept", kept.megapixels_kept)
            }
            Err(failure) => format!("cannot be straightened: {}", failure.words()),
        };
        plate(&inside, look, place.frame.center_top() + Vec2::new(0.0, look.px(18.0)), &words, look.ink());
    }
    actions.extend(hands::over_finder(ui, &response, &place, table.desk));
    place
}

fn spoken(table: &Table<'_>) -> String {
    let account = &table.measured().account;
    let closing = account.closing.map_or_else(
        || "the subject is not in front of the camera".into(),
        |closing| {
            let written = crate::compare::Figure::Closing.written(closing.convergence().degrees(), table.units());
            format!("{} closes {written}", table.subject())
        },
    );
    format!("finder: {closing}")
}

fn plate(painter: &egui::Painter, look: &Look, centre: Pos2, words: &str, ink: Color32) {
    let galley = painter.layout_no_wrap(words.to_owned(), look.strong(12.0), ink);
    let rect = Rect::from_center_size(centre, galley.size() + Vec2::new(look.px(16.0), look.px(8.0)));
    painter.rect(rect, 4.0, look.panel(), look.hairline(), StrokeKind::Inside);
    painter.galley(rect.center() - 0.5 * galley.size(), galley, ink);
}

fn draw_overlay(painter: &egui::Painter, look: &Look, frame: Rect, overlay: &Overlay, scale: f32) {
    let ink = |ink: OverlayInk| match ink {
        OverlayInk::Plumb => look.plumb(),
        OverlayInk::Flank => look.flank(),
        OverlayInk::Horizon => look.soft(),
    };
    let at = |(x, y): (f64, f64)| frame.min + Vec2::new(screen(x), screen(y)) * scale;
    let mut drawn: Vec<[Pos2; 2]> = Vec::new();
    for line in &overlay.lines {
        let width = look.px(if line.ink == OverlayInk::Horizon { 1.0 } else { 1.8 });
        let stroke = Stroke::new(width, ink(line.ink));
        let bends = bends(&line.points_px.iter().copied().map(at).collect::<Vec<_>>());
        for ends in bends.windows(2) {
            // Lines run far beyond the frame; only what is in it may be handed over.
            let Some(points) = inside(frame.expand(4.0), [ends[0], ends[1]]) else { continue };
            // A dot or two alone are specks.
            if line.dotted && bends.len() == 2 && ends[0].distance(ends[1]) < look.px(10.0) {
                continue;
            }
            if line.dotted {
                painter.extend(Shape::dotted_line(&points, stroke.color, look.px(5.0), 0.55 * width));
            } else {
                painter.line_segment(points, stroke);
            }
            if line.ink != OverlayInk::Horizon {
                drawn.push(points);
            }
        }
    }
    let mut taken: Vec<Rect> = Vec::new();
    for mark in &overlay.marks {
        let colour = ink(mark.ink);
        match mark.form {
            MarkForm::Point => {
                let centre = at(mark.at_px);
                let arm = look.px(9.0);
                let stroke = Stroke::new(look.px(1.6), colour);
                painter.circle_stroke(centre, look.px(5.5), stroke);
                painter.hline(centre.x - arm..=centre.x + arm, centre.y, stroke);
                painter.vline(centre.x, centre.y - arm..=centre.y + arm, stroke);
                taken.push(Rect::from_center_size(centre, Vec2::splat(2.0 * arm)));
            }
            MarkForm::Arrow { toward } => {
                let way = Vec2::new(screen(toward.0), screen(toward.1)).normalized();
                let tip = at(mark.at_px);
                let tail = tip - way * look.px(24.0);
                arrow(painter, look, tail, tip, way, colour);
                taken.push(Rect::from_two_pos(tail, tip).expand(look.px(6.0)));
            }
        }
    }
    // In a small frame labels would bury what they belong to.
    let most = if frame.width() < look.px(200.0) { 0 } else { usize::MAX };
    for label in overlay.labels.iter().take(most) {
        place_label(painter, look, frame, label, at(label.at_px), ink(label.ink), &drawn, &mut taken);
    }
}

/// Of a line in many steps, the points at which it bends: most lenses draw straight lines straight, and each step costs.
fn bends(points: &[Pos2]) -> Vec<Pos2> {
    let straight = |from: Pos2, over: &[Pos2], to: Pos2| {
        let way = (to - from).normalized();
        // Where a part of the line is nowhere, nothing is straight.
        over.iter().all(|point| (*point - from).dot(way.rot90()).abs() <= STRAIGHT)
            && [from, to].iter().all(|end| end.x.abs() < NEAR && end.y.abs() < NEAR)
    };
    let Some(first) = points.first() else { return Vec::new() };
    let (mut kept, mut start) = (vec![*first], 0);
    for next in 2..points.len() {
        if !straight(points[start], &points[start + 1..next], points[next]) {
            start = next - 1;
            kept.push(points[start]);
        }
    }
    kept.extend(points.get(1..).and_then(<[Pos2]>::last));
    kept
}

fn arrow(painter: &egui::Painter, look: &Look, tail: Pos2, tip: Pos2, way: Vec2, colour: Color32) {
    let stroke = Stroke::new(look.px(2.2), colour);
    let aside = way.rot90();
    painter.line_segment([tail, tip], stroke);
    for side in [-1.0, 1.0] {
        painter.line_segment([tip, tip - way * look.px(9.0) + aside * side * look.px(6.0)], stroke);
    }
}

/// Puts a label beside its point, where it covers no other, and no line if that can be helped.
#[expect(clippy::too_many_arguments, reason = "one label of one overlay, used once")]
fn place_label(
    painter: &egui::Painter,
    look: &Look,
    frame: Rect,
    label: &OverlayLabel,
    place: Pos2,
    ink: Color32,
    lines: &[[Pos2; 2]],
    taken: &mut Vec<Rect>,
) {
    let room = frame.shrink(look.px(3.0));
    // What fits on neither side of the frame's middle would cover what stands there.
    let widest = 0.5 * frame.width() - look.px(23.0);
    let galley = painter.layout(label.text.clone(), look.strong(11.5), ink, widest);
    let size = galley.size() + Vec2::new(look.px(10.0), look.px(4.0));
    let gap = look.px(9.0);
    let towards = |anchor: Anchor, lift: f32| {
        let centre = match anchor {
            Anchor::Right => place + Vec2::new(gap + 0.5 * size.x, 0.0),
            Anchor::Left => place - Vec2::new(gap + 0.5 * size.x, 0.0),
            Anchor::Above => place - Vec2::new(0.0, gap + 0.5 * size.y),
            Anchor::Below => place + Vec2::new(0.0, gap + 0.5 * size.y),
        };
        Rect::from_center_size(centre + Vec2::new(0.0, lift), size)
    };
    let other = match label.anchor {
        Anchor::Right => Anchor::Left,
        Anchor::Left => Anchor::Right,
        Anchor::Above => Anchor::Below,
        Anchor::Below => Anchor::Above,
    };
    let mut tried: Vec<Rect> = Vec::with_capacity(16);
    // Beside its point first, though that is near the frame's upper or lower edge.
    tried.extend([label.anchor, other].map(|anchor| {
        let plate = towards(anchor, 0.0);
        let down = (room.top() - plate.top()).max(0.0) + (room.bottom() - plate.bottom()).min(0.0);
        plate.translate(Vec2::new(0.0, down))
    }));
    for lift in [-1.3, 1.3, -2.6, 2.6] {
        tried.extend([label.anchor, other].map(|anchor| towards(anchor, lift * size.y)));
    }
    tried.extend([Anchor::Above, Anchor::Below].map(|anchor| towards(anchor, 0.0)));
    tried.extend(
        [1.4, -1.4, 2.8, -2.8]
            .map(|lift| towards(if lift > 0.0 { Anchor::Below } else { Anchor::Above }, lift * size.y)),
    );
    let free =
        |plate: &&Rect| room.contains_rect(**plate) && !taken.iter().any(|known| known.expand(2.0).intersects(**plate));
    let clear = |plate: &&Rect| !lines.iter().any(|line| inside(**plate, *line).is_some());
    let chosen = tried.iter().filter(free).find(clear).or_else(|| tried.iter().find(free)).copied();
    if let Some(plate) = chosen {
        painter.rect_filled(plate, 3.0, look.panel());
        draw_galley(painter, plate, galley, ink);
        taken.push(plate);
    }
}

fn draw_galley(painter: &egui::Painter, plate: Rect, galley: Arc<Galley>, ink: Color32) {
    painter.galley(plate.center() - 0.5 * galley.size(), galley, ink);
}

/// The part of a segment inside a rectangle.
pub(super) fn inside(rect: Rect, [a, b]: [Pos2; 2]) -> Option<[Pos2; 2]> {
    if !(a.x.is_finite() && a.y.is_finite() && b.x.is_finite() && b.y.is_finite()) {
        return None;
    }
    let along = b - a;
    let (mut from, mut to) = (0.0_f32, 1.0_f32);
    for (start, step, low, high) in
        [(a.x, along.x, rect.left(), rect.right()), (a.y, along.y, rect.top(), rect.bottom())]
    {
        if step == 0.0 {
            if start < low || start > high {
                return None;
            }
            continue;
        }
        let (one, other) = ((low - start) / step, (high - start) / step);
        from = from.max(one.min(other));
        to = to.min(one.max(other));
    }
    (from < to).then(|| [a + along * from, a + along * to])
}

/// A caption in the middle of an empty place.
pub(super) fn middle_note(ui: &Ui, look: &Look, rect: Rect, words: &str) {
    let font: FontId = look.body();
    let galley = ui.painter().layout(words.to_owned(), font, look.soft(), rect.width() - look.px(24.0));
    ui.painter().galley(rect.center() - 0.5 * galley.size(), galley, look.soft());
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_keeps_its_bends_and_its_gaps() {
        let line = |bend: f32| -> Vec<Pos2> {
            (0..=24_u8).map(f32::from).map(|step| Pos2::new(3.0 * step, 7.0 * step + bend * step * step)).collect()
        };
        let straight = line(0.0);
        assert_eq!(bends(&straight), [straight[0], straight[24]]);
        assert_eq!(bends(&straight[..1]), straight[..1]);
        assert_eq!(bends(&[]), []);
        let bent = line(0.01);
        let kept = bends(&bent);
        assert!((3..25).contains(&kept.len()), "{kept:?}");
        // No point is further from what is kept of the line than counts as straight.
        for point in &bent {
            let off = |ends: &[Pos2]| {
                let along = ends[1] - ends[0];
                let share = ((*point - ends[0]).dot(along) / along.length_sq()).clamp(0.0, 1.0);
                point.distance(ends[0] + share * along)
            };
            assert!(kept.windows(2).map(off).fold(f32::INFINITY, f32::min) <= 1.01 * STRAIGHT);
        }
        // A horizon, out to where a float has no pixels any more.
        let far: Vec<Pos2> =
            (-89..=89_i8).map(|turn| Pos2::new(400.0 * f32::from(turn).to_radians().tan(), 300.0)).collect();
        let window = Rect::from_min_max(Pos2::ZERO, Pos2::new(640.0, 480.0));
        let seen: f32 = bends(&far)
            .windows(2)
            .filter_map(|ends| inside(window, [ends[0], ends[1]]))
            .map(|[from, to]| from.distance(to))
            .sum();
        assert!((seen - 640.0).abs() < 0.1, "{seen}");
        let mut parted = line(0.0);
        parted[12] = Pos2::new(f32::NAN, f32::NAN);
        let kept = bends(&parted);
        assert!(kept.iter().any(|point| point.x.is_nan()));
        // Up to the gap and from it on, as before.
        for whole in [parted[11], parted[13]] {
            assert!(kept.iter().any(|point| point.x == whole.x && point.y == whole.y), "{kept:?}");
        }
    }
}
