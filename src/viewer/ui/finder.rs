//! What does the camera see, and what leans in it? The finder, with verticals, sides, horizon and vanishing point drawn
//! where they are.

use std::sync::Arc;

use bevy_egui::egui::{
    self, Color32, FontId, Galley, Pos2, Rect, Sense, Shape, Stroke, StrokeKind, Ui, Vec2, WidgetInfo, WidgetType,
};

use geo::{LineString, Simplify};

use crate::angle::Angle;
use crate::pose::Pose;
use crate::site::Stance;
use crate::stance::Standing;
use crate::still::{LabelAnchor, MarkForm, Overlay, OverlayInk, OverlayLabel, annotations};
use crate::theme::Theme;
use crate::wording;

use super::FinderPicture;
use super::FinderPlace;
use super::context::PanelContext;
use super::figures::degrees;
use super::front::front_menu;
use super::keys;
use super::style::{WindowStyle, button, button_width, thinned, within};
use super::sun_path::draw_path;
use super::textures::Textures;
use crate::plan::PrintId;
use crate::viewer::render::narrow::screen;
use crate::viewer::state::desk::{Action, Desk, Pinned, PrintAction};

/// The share of the frame's sides that is shown around it where the surround is wanted.
const SURROUND: f32 = 0.12;
/// How strongly a print shows that lies over the finder.
const LAID_OVER: f32 = 0.45;
/// A line that is off by no more than this share of the frame's width is straight: a tenth of a point on a large display.
const STRAIGHT: f64 = 1e-4;
/// Points further off than so many widths of the frame keep their steps: a line to the far ends of a horizon is too long to be
/// cut exactly. So do points that are nowhere, which part a line.
const NEAR: f64 = 20.0;

/// The lines over the finder, kept until something moves.
#[derive(Default)]
pub(super) struct OverlayCache {
    of: Option<(Stance, u64, Option<u64>)>,
    overlay: Overlay,
    width_px: f64,
    /// The picture of the print that lies over the finder.
    laid_over: Textures<PrintId>,
    /// The exact picture in its materials.
    exact: Textures<()>,
}

impl OverlayCache {
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
            let account = survey.appraise(&drawn, &desk.measure_settings().measures);
            self.overlay = annotations(&account, subject, &straight.camera, &pose);
            self.width_px = f64::from(straight.camera.frame.width_px);
        } else {
            self.overlay = annotations(&measured.account, subject, &standing.camera, &standing.pose);
            self.width_px = f64::from(standing.camera.frame.width_px);
        }
        for line in &mut self.overlay.lines {
            line.points_px = bends(&line.points_px, self.width_px);
        }
        self.of = Some(key);
    }
}

/// Where the finder's frame and its surround go in an area.
pub(in crate::viewer) fn placed(desk: &Desk, area: Rect) -> FinderPlace {
    let (camera, _) = desk.shown_camera();
    let aspect = screen(camera.frame.width_mm / camera.frame.height_mm);
    let surround = desk.settings().surround && !desk.is_showing();
    let margin = if surround { 1.0 + 2.0 * SURROUND } else { 1.0 };
    let room = (area.size() / margin).max(Vec2::splat(1.0));
    let size =
        if room.x / room.y > aspect { Vec2::new(room.y * aspect, room.y) } else { Vec2::new(room.x, room.x / aspect) };
    let frame = Rect::from_center_size(area.center(), size);
    let shown = if surround { area.intersect(frame.expand2(size * SURROUND * 1.6)) } else { frame };
    FinderPlace { frame, shown }
}

/// Draws the finder and hears what hands do over it.
pub(super) fn finder_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    cache: &mut OverlayCache,
    area: Rect,
    picture: Option<&dyn FinderPicture>,
    actions: &mut Vec<Action>,
) -> FinderPlace {
    let style = &panel.style;
    let place = placed(panel.desk, area);
    let response = ui.interact(place.shown, egui::Id::new("finder"), Sense::click_and_drag());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Image, true, spoken(panel)));
    match picture {
        Some(picture) => picture.paint(ui.painter(), &place, style.palette()),
        None => {
            ui.painter().rect_filled(place.shown, 0.0, style.well());
        }
    }
    cache.follow(panel.desk);
    let inside = ui.painter().with_clip_rect(place.frame.intersect(ui.clip_rect()));
    if let Some(exact) = panel.desk.exact_picture()
        && let Some(texture) = cache.exact.of(ui.ctx(), (), exact, place.frame.height())
    {
        let whole = Rect::from_min_max(Pos2::ZERO, Pos2::new(1.0, 1.0));
        inside.image(texture, place.frame, whole, Color32::WHITE);
    }
    if let Some(print) = panel.desk.over_finder() {
        lay_over(ui, &inside, &mut cache.laid_over, print, place.frame);
    }
    let marks = match panel.desk.straightened() {
        None => tolerance_marks(&inside, panel, place.frame),
        Some(_) => Vec::new(),
    };
    let taken = marks.iter().flat_map(|mark| mark.plates).collect();
    let scale = place.frame.width() / screen(cache.width_px.max(1.0));
    draw_path(&inside, panel, place.frame);
    draw_overlay(&inside, style, place.frame, &cache.overlay, scale, taken);
    ui.painter().rect_stroke(place.frame, 2.0, Stroke::new(style.px(1.6), style.ink()), StrokeKind::Outside);
    if response.has_focus() {
        ui.painter().rect_stroke(place.frame.expand(3.0), 4.0, Stroke::new(1.0, style.ink()), StrokeKind::Outside);
    }
    if response.clicked() {
        response.request_focus();
    }
    draw_tolerance(&inside, style, marks);
    if let Some(straightened) = panel.desk.straightened() {
        let words = match straightened {
            Ok(kept) => {
                let whole = panel.standing().camera.frame.megapixels();
                let share = panel.desk.straighten().unwrap_or(1.0);
                let part = if wording::is_all(share) {
                    "Straightened".to_owned()
                } else {
                    format!("Straightened by {}", wording::percent(share))
                };
                format!("{part}: {:.1} of {whole:.1} MP kept", kept.megapixels_kept)
            }
            Err(failure) => format!("Cannot be straightened: {}", failure.words()),
        };
        plate(&inside, style, place.frame.center_top() + Vec2::new(0.0, style.px(18.0)), &words, style.ink());
    }
    if let Some(print) = panel.desk.over_finder() {
        over_ui(ui, style, print, place.frame, actions);
    }
    actions.extend(keys::over_finder(ui, &response, &place, panel.desk));
    front_menu(&response, &place, panel, actions);
    place
}

/// A print's picture half through over the frame, as large as it goes.
fn lay_over(
    ui: &Ui,
    painter: &egui::Painter,
    textures: &mut Textures<PrintId>,
    print: &Pinned,
    frame: Rect,
) -> Option<()> {
    let thumbnail = print.thumbnail.as_ref()?;
    let sides = Vec2::new(screen(f64::from(thumbnail.width_px)), screen(f64::from(thumbnail.height_px)));
    let size = sides * (frame.size() / sides.max(Vec2::splat(1.0))).min_elem();
    let texture = textures.of(ui.ctx(), print.print.id, thumbnail, size.y)?;
    let whole = Rect::from_min_max(Pos2::ZERO, Pos2::new(1.0, 1.0));
    painter.image(
        texture,
        Rect::from_center_size(frame.center(), size),
        whole,
        Color32::WHITE.gamma_multiply(LAID_OVER),
    );
    Some(())
}

/// Whose picture lies over the finder; a press takes it off.
fn over_ui(ui: &mut Ui, style: &WindowStyle, print: &Pinned, frame: Rect, actions: &mut Vec<Action>) {
    let at = frame.left_bottom() + Vec2::new(style.px(8.0), -style.px(34.0));
    let room =
        Rect::from_min_size(at, Vec2::new((frame.width() - style.px(16.0)).min(style.px(260.0)), style.px(26.0)));
    within(ui, "laid over", room, |ui| {
        let words = format!("Take off {}", print.print.name);
        let width = button_width(ui, style, &words).min(room.width());
        if button(ui, style, &words, width).clicked() {
            actions.push(PrintAction::LayOver(None).into());
        }
    });
}

fn spoken(panel: &PanelContext<'_>) -> String {
    let account = &panel.measured().account;
    let convergence = account.convergence.map_or_else(
        || "the subject is not in front of the camera".into(),
        |convergence| format!("{} {}", panel.subject(), wording::convergence(convergence.angle().degrees())),
    );
    format!("finder: {convergence}")
}

fn plate(painter: &egui::Painter, style: &WindowStyle, centre: Pos2, words: &str, ink: Color32) {
    let galley = painter.layout_no_wrap(words.to_owned(), style.strong(12.0), ink);
    let rect = Rect::from_center_size(centre, galley.size() + Vec2::new(style.px(16.0), style.px(8.0)));
    painter.rect(rect, 4.0, style.panel(), style.hairline(), StrokeKind::Inside);
    painter.galley(rect.center() - 0.5 * galley.size(), galley, ink);
}

/// A figure of the tolerance with its arrows, at an edge of the frame.
struct ToleranceMark {
    galley: Arc<Galley>,
    /// What lies under the arrows, and under the figure.
    plates: [Rect; 2],
    way: Vec2,
}

/// How far pitch and heading may be off: short arrows at the frame's right and lower edge, with their figures.
fn tolerance_marks(painter: &egui::Painter, panel: &PanelContext<'_>, frame: Rect) -> Vec<ToleranceMark> {
    let style = &panel.style;
    let Some(tolerance) = panel.tolerance() else { return Vec::new() };
    if frame.width() < style.px(260.0) || frame.height() < style.px(200.0) {
        return Vec::new();
    }
    let inset = style.px(13.0);
    let (long, thick) = (style.px(34.0), style.px(16.0));
    let gap = style.px(3.0);
    let galley = |name: &str, angle: Angle| {
        painter.layout_no_wrap(format!("{name} ±{}", degrees(angle)), style.strong(12.0), style.ink())
    };
    let room = |galley: &Galley| galley.size() + Vec2::new(style.px(10.0), style.px(4.0));
    let pitch = tolerance.pitch.map(|angle| {
        let galley = galley("pitch", angle);
        let back = Rect::from_center_size(Pos2::new(frame.right() - inset, frame.center().y), Vec2::new(thick, long));
        let size = room(&galley);
        let middle = Pos2::new(back.left() - gap - 0.5 * size.x, back.center().y);
        ToleranceMark { galley, plates: [back, Rect::from_center_size(middle, size)], way: Vec2::Y }
    });
    let heading = tolerance.heading.map(|angle| {
        let galley = galley("bearing", angle);
        let back = Rect::from_center_size(Pos2::new(frame.center().x, frame.bottom() - inset), Vec2::new(long, thick));
        let size = room(&galley);
        let middle = Pos2::new(back.right() + gap + 0.5 * size.x, back.center().y);
        ToleranceMark { galley, plates: [back, Rect::from_center_size(middle, size)], way: Vec2::X }
    });
    pitch.into_iter().chain(heading).collect()
}

fn draw_tolerance(painter: &egui::Painter, style: &WindowStyle, marks: Vec<ToleranceMark>) {
    for ToleranceMark { galley, plates: [back, plate], way } in marks {
        painter.rect_filled(back, 3.0, thinned(style.panel(), 0.8));
        let reach = 0.5 * back.size().max_elem() - style.px(4.0);
        for way in [way, -way] {
            arrow(painter, style, back.center(), back.center() + way * reach, way, style.ink());
        }
        painter.rect_filled(plate, 3.0, style.panel());
        draw_galley(painter, plate, galley, style.ink());
    }
}

/// Draws the lines, marks and labels of an overlay; labels keep off what is `taken`.
fn draw_overlay(
    painter: &egui::Painter,
    style: &WindowStyle,
    frame: Rect,
    overlay: &Overlay,
    scale: f32,
    mut taken: Vec<Rect>,
) {
    let ink = |ink: OverlayInk| match ink {
        OverlayInk::Plumb => style.plumb(),
        OverlayInk::Side => style.side(),
        OverlayInk::Horizon | OverlayInk::Crop => style.soft(),
    };
    let at = |(x, y): (f64, f64)| frame.min + Vec2::new(screen(x), screen(y)) * scale;
    let mut drawn: Vec<[Pos2; 2]> = Vec::new();
    for line in &overlay.lines {
        let width = style.px(if line.ink == OverlayInk::Horizon { 1.0 } else { 1.8 });
        let stroke = Stroke::new(width, ink(line.ink));
        // By day's sky a bright line needs a dark edge.
        let casing = Stroke::new(width + 2.0, thinned(style.panel(), 0.7));
        let is_cased = style.theme == Theme::Dusk && line.ink != OverlayInk::Horizon && !line.dotted;
        for ends in line.points_px.windows(2) {
            let ends = [at(ends[0]), at(ends[1])];
            // Lines run far beyond the frame; only what is in it may be handed over.
            let Some(points) = inside(frame.expand(4.0), ends) else { continue };
            // A dot or two alone are specks.
            if line.dotted && line.points_px.len() == 2 && ends[0].distance(ends[1]) < style.px(10.0) {
                continue;
            }
            if line.dotted {
                painter.extend(Shape::dotted_line(&points, stroke.color, style.px(5.0), 0.55 * width));
            } else {
                if is_cased {
                    painter.line_segment(points, casing);
                }
                painter.line_segment(points, stroke);
            }
            if line.ink != OverlayInk::Horizon {
                drawn.push(points);
            }
        }
    }
    for mark in &overlay.marks {
        let colour = ink(mark.ink);
        match mark.form {
            MarkForm::Point => {
                let centre = at(mark.at_px);
                let arm = style.px(9.0);
                let stroke = Stroke::new(style.px(1.6), colour);
                painter.circle_stroke(centre, style.px(5.5), stroke);
                painter.hline(centre.x - arm..=centre.x + arm, centre.y, stroke);
                painter.vline(centre.x, centre.y - arm..=centre.y + arm, stroke);
                taken.push(Rect::from_center_size(centre, Vec2::splat(2.0 * arm)));
            }
            MarkForm::Arrow { toward } => {
                let way = Vec2::new(screen(toward.0), screen(toward.1)).normalized();
                let tip = at(mark.at_px);
                let tail = tip - way * style.px(24.0);
                arrow(painter, style, tail, tip, way, colour);
                taken.push(Rect::from_two_pos(tail, tip).expand(style.px(6.0)));
            }
        }
    }
    // In a small frame labels would bury what they belong to.
    let most = if frame.width() < style.px(200.0) { 0 } else { usize::MAX };
    let overlay_room = OverlayRoom { painter, style, frame, lines: &drawn };
    for label in overlay.labels.iter().take(most) {
        place_label(&overlay_room, label, at(label.at_px), ink(label.ink), &mut taken);
    }
}

/// Of a line in many steps, the points at which it bends: most lenses draw straight lines straight, and each step is drawn in
/// every frame.
fn bends(points: &[(f64, f64)], width_px: f64) -> Vec<(f64, f64)> {
    let is_near = |(x, y): &(f64, f64)| x.abs().max(y.abs()) < NEAR * width_px;
    let joined = |run: &[(f64, f64)]| LineString::from(run.to_vec()).simplify(STRAIGHT * width_px);
    points
        .chunk_by(|one, next| is_near(one) && is_near(next))
        .flat_map(|run| joined(run).into_iter().map(|corner| corner.x_y()))
        .collect()
}

fn arrow(painter: &egui::Painter, style: &WindowStyle, tail: Pos2, tip: Pos2, way: Vec2, colour: Color32) {
    let stroke = Stroke::new(style.px(1.8), colour);
    let aside = way.rot90();
    painter.line_segment([tail, tip], stroke);
    for side in [-1.0, 1.0] {
        painter.line_segment([tip, tip - way * style.px(6.0) + aside * side * style.px(4.0)], stroke);
    }
}

/// Where the labels of an overlay go.
struct OverlayRoom<'a> {
    painter: &'a egui::Painter,
    style: &'a WindowStyle,
    /// The picture that they stay within.
    frame: Rect,
    /// The lines that are drawn already.
    lines: &'a [[Pos2; 2]],
}

/// Puts a label beside its point, where it covers no other, and no line if that can be helped.
fn place_label(overlay: &OverlayRoom<'_>, label: &OverlayLabel, place: Pos2, ink: Color32, taken: &mut Vec<Rect>) {
    let &OverlayRoom { painter, style, frame, lines } = overlay;
    let room = frame.shrink(style.px(3.0));
    // What fits on neither side of the frame's middle would cover what stands there.
    let widest = 0.5 * frame.width() - style.px(23.0);
    let galley = style.wrapped(painter, &label.text, style.strong(12.0), ink, widest);
    let size = galley.size() + Vec2::new(style.px(10.0), style.px(4.0));
    let gap = style.px(9.0);
    let towards = |anchor: LabelAnchor, lift: f32| {
        let centre = match anchor {
            LabelAnchor::Right => place + Vec2::new(gap + 0.5 * size.x, 0.0),
            LabelAnchor::Left => place - Vec2::new(gap + 0.5 * size.x, 0.0),
            LabelAnchor::Above => place - Vec2::new(0.0, gap + 0.5 * size.y),
            LabelAnchor::Below => place + Vec2::new(0.0, gap + 0.5 * size.y),
        };
        Rect::from_center_size(centre + Vec2::new(0.0, lift), size)
    };
    let other = match label.anchor {
        LabelAnchor::Right => LabelAnchor::Left,
        LabelAnchor::Left => LabelAnchor::Right,
        LabelAnchor::Above => LabelAnchor::Below,
        LabelAnchor::Below => LabelAnchor::Above,
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
    tried.extend([LabelAnchor::Above, LabelAnchor::Below].map(|anchor| towards(anchor, 0.0)));
    tried.extend(
        [1.4, -1.4, 2.8, -2.8]
            .map(|lift| towards(if lift > 0.0 { LabelAnchor::Below } else { LabelAnchor::Above }, lift * size.y)),
    );
    let free =
        |plate: &&Rect| room.contains_rect(**plate) && !taken.iter().any(|known| known.expand(2.0).intersects(**plate));
    let clear = |plate: &&Rect| !lines.iter().any(|line| inside(**plate, *line).is_some());
    let chosen = tried.iter().filter(free).find(clear).or_else(|| tried.iter().find(free)).copied();
    if let Some(plate) = chosen {
        painter.rect_filled(plate, 3.0, style.panel());
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
pub(super) fn middle_note(ui: &Ui, style: &WindowStyle, rect: Rect, words: &str) {
    let font: FontId = style.body();
    let galley = style.wrapped(ui.painter(), words, font, style.soft(), rect.width() - style.px(24.0));
    ui.painter().galley(rect.center() - 0.5 * galley.size(), galley, style.soft());
}

#[cfg(test)]
mod tests {
    use super::*;

    const WIDTH_PX: f64 = 6000.0;

    fn line(bend: f64) -> Vec<(f64, f64)> {
        (0..=24).map(f64::from).map(|step| (30.0 * step, 70.0 * step + bend * step * step)).collect()
    }

    #[test]
    fn a_line_is_handed_over_by_its_bends() {
        let straight = line(0.0);
        assert_eq!(bends(&straight, WIDTH_PX), [straight[0], straight[24]]);
        assert_eq!(bends(&straight[..1], WIDTH_PX), straight[..1]);
        assert_eq!(bends(&[], WIDTH_PX), []);
        let bent = line(0.2);
        let kept = bends(&bent, WIDTH_PX);
        assert!((3..25).contains(&kept.len()), "{kept:?}");
        // No point is further from what is kept of the line than counts as straight.
        for point in &bent {
            let off = |ends: &[(f64, f64)]| {
                let (along, to) =
                    ((ends[1].0 - ends[0].0, ends[1].1 - ends[0].1), (point.0 - ends[0].0, point.1 - ends[0].1));
                let share = (to.0 * along.0 + to.1 * along.1) / (along.0 * along.0 + along.1 * along.1);
                let share = share.clamp(0.0, 1.0);
                (to.0 - share * along.0).hypot(to.1 - share * along.1)
            };
            assert!(kept.windows(2).map(off).fold(f64::INFINITY, f64::min) <= 1.000_001 * STRAIGHT * WIDTH_PX);
        }
    }

    #[test]
    fn a_horizon_is_seen_from_side_to_side_and_a_gap_stays_one() {
        // Out to where a float has no pixels any more.
        let far: Vec<(f64, f64)> =
            (-90..=90).map(|turn| (3000.0 + 4000.0 * f64::from(turn).to_radians().tan(), 3000.0)).collect();
        let kept = bends(&far, WIDTH_PX);
        assert!(kept.len() < 20, "{kept:?}");
        let window = Rect::from_min_max(Pos2::ZERO, Pos2::new(600.0, 600.0));
        let at = |(x, y): (f64, f64)| Pos2::new(screen(x), screen(y)) * 0.1;
        let seen: f32 = kept
            .windows(2)
            .filter_map(|ends| inside(window, [at(ends[0]), at(ends[1])]))
            .map(|[from, to]| from.distance(to))
            .sum();
        assert!((seen - 600.0).abs() < 0.1, "{seen}");

        let mut parted = line(0.0);
        parted[12] = (f64::NAN, f64::NAN);
        let kept = bends(&parted, WIDTH_PX);
        let places: Vec<f64> = kept.iter().map(|point| point.0).collect();
        assert_eq!(places[..2], [parted[0].0, parted[11].0]);
        assert!(places[2].is_nan());
        assert_eq!(places[3..], [parted[13].0, parted[24].0]);
    }
}
