//! How is the window laid out? The finder in the middle, instruments to its left, the plan and section to its right,
//! readings below.

use bevy_egui::egui::emath::GuiRounding;
use bevy_egui::egui::{self, Align2, Color32, FontFamily, FontId, Pos2, Rect, Sense, Stroke, StrokeKind, Vec2};

use crate::optics::Orientation;
use crate::site::{Access, Aim};
use crate::still::{Overlay, OverlayInk, annotations};
use crate::theme::{Colour, Palette, Theme};

use super::desk::{Action, Desk};
use super::hands;
use super::narrow::screen;
use super::sheet::{FinderPlace, FinderSheet};

/// Heights that have a name: adult eye heights stand and crouch about these (S. Pheasant, *Bodyspace*); the rest is
/// common practice, no source.
const HEIGHTS: [(&str, f64); 5] =
    [("crouching", 0.9), ("standing", 1.6), ("arms overhead", 2.1), ("short ladder", 3.0), ("pole", 4.5)];

/// What the window wants after it was drawn.
#[derive(Debug, Default)]
pub(super) struct Wanted {
    pub(super) actions: Vec<Action>,
    /// Where the finder is shown.
    pub(super) finder: Option<FinderPlace>,
}

pub(super) fn colour(colour: Colour) -> Color32 {
    Color32::from_rgb(colour.0, colour.1, colour.2)
}

/// The type and colours of the whole window.
pub(super) fn dress(context: &egui::Context, theme: Theme) {
    let mut fonts = egui::FontDefinitions::empty();
    for (name, bytes) in [
        ("regular", include_bytes!("../../assets/fonts/OpenSans-Regular.ttf").as_slice()),
        ("semibold", include_bytes!("../../assets/fonts/OpenSans-Semibold.ttf").as_slice()),
    ] {
        fonts.font_data.insert(name.into(), std::sync::Arc::new(egui::FontData::from_static(bytes)));
    }
    fonts.families.insert(FontFamily::Proportional, vec!["regular".into()]);
    fonts.families.insert(FontFamily::Monospace, vec!["regular".into()]);
    fonts.families.insert(FontFamily::Name("semibold".into()), vec!["semibold".into()]);
    context.set_fonts(fonts);
    let palette = theme.palette();
    let mut visuals = if theme == Theme::Paper { egui::Visuals::light() } else { egui::Visuals::dark() };
    visuals.override_text_color = Some(colour(palette.ink));
    visuals.panel_fill = colour(palette.panel);
    visuals.window_fill = colour(palette.panel);
    visuals.extreme_bg_color = colour(palette.well);
    visuals.selection.bg_fill = colour(palette.line);
    visuals.selection.stroke = Stroke::new(1.0, colour(palette.ink));
    for widget in [&mut visuals.widgets.inactive, &mut visuals.widgets.hovered, &mut visuals.widgets.active] {
        widget.bg_fill = colour(palette.well);
        widget.weak_bg_fill = colour(palette.well);
        widget.fg_stroke = Stroke::new(1.0, colour(palette.ink));
        widget.bg_stroke = Stroke::new(1.0, colour(palette.line));
        widget.corner_radius = egui::CornerRadius::same(5);
    }
    visuals.widgets.hovered.bg_stroke = Stroke::new(1.0, colour(palette.soft));
    visuals.text_cursor.blink = false;
    context.set_visuals(visuals);
}

fn text(size: f32) -> FontId {
    FontId::proportional(size)
}

fn strong(size: f32) -> FontId {
    FontId::new(size, FontFamily::Name("semibold".into()))
}

/// Draws the whole window.
pub(super) fn window_ui(context: &egui::Context, desk: &Desk, sheet: Option<&FinderSheet>, theme: Theme) -> Wanted {
    let palette = theme.palette();
    let mut wanted = Wanted::default();
    let screen = context.content_rect();
    let painter = context.layer_painter(egui::LayerId::background());
    painter.rect_filled(screen, 0.0, colour(palette.table));

    let narrow = screen.width() < 900.0;
    let (left_width, right_width) = if narrow { (0.0, 0.0) } else { (236.0, 262.0) };
    let inner = screen.shrink2(Vec2::new(12.0, 8.0));
    let top = inner.top() + 26.0;
    let readings_height = if screen.height() < 420.0 { 0.0 } else { 118.0 };
    let left = Rect::from_min_max(Pos2::new(inner.left(), top), Pos2::new(inner.left() + left_width, inner.bottom()));
    let right = Rect::from_min_max(Pos2::new(inner.right() - right_width, top), inner.right_bottom());
    let gap = if narrow { 0.0 } else { 12.0 };
    let middle = Rect::from_min_max(Pos2::new(left.right() + gap, top), Pos2::new(right.left() - gap, inner.bottom()));
    let finder_area =
        Rect::from_min_max(middle.min, Pos2::new(middle.right(), middle.bottom() - readings_height - 12.0));
    let readings = Rect::from_min_max(Pos2::new(middle.left(), finder_area.bottom() + 12.0), middle.max);

    heading(&painter, inner, desk, palette);
    finder_ui(context, &painter, finder_area, desk, sheet, palette, &mut wanted);
    if readings_height > 0.0 {
        readings_ui(&painter, readings, desk, palette);
    }
    if !narrow {
        card(&painter, left, palette);
        in_card(context, "instruments", left, |ui| instruments_ui(ui, desk, palette, &mut wanted.actions));
        let plan = Rect::from_min_max(right.min, Pos2::new(right.right(), right.top() + 0.40 * right.height()));
        let section = Rect::from_min_max(
            Pos2::new(right.left(), plan.bottom() + 12.0),
            Pos2::new(right.right(), plan.bottom() + 12.0 + 0.24 * right.height()),
        );
        let stances = Rect::from_min_max(Pos2::new(right.left(), section.bottom() + 12.0), right.max);
        card(&painter, plan, palette);
        plan_ui(context, &painter, plan, desk, palette, &mut wanted.actions);
        card(&painter, section, palette);
        section_ui(&painter, section, desk, palette);
        card(&painter, stances, palette);
        in_card(context, "stances", stances, |ui| stances_ui(ui, desk, palette, &mut wanted.actions));
    }
    wanted
}

fn card(painter: &egui::Painter, rect: Rect, palette: &Palette) {
    painter.rect_filled(rect, 8.0, colour(palette.panel));
    painter.rect_stroke(rect, 8.0, Stroke::new(1.0, colour(palette.line)), StrokeKind::Inside);
}

fn in_card(context: &egui::Context, name: &str, rect: Rect, contents: impl FnOnce(&mut egui::Ui)) {
    let inner = rect.shrink2(Vec2::new(14.0, 10.0));
    egui::Area::new(egui::Id::new(name)).fixed_pos(inner.min).constrain(false).show(context, |ui| {
        ui.set_max_size(inner.size());
        ui.set_clip_rect(rect);
        egui::ScrollArea::vertical().max_height(inner.height()).auto_shrink([false, true]).show(ui, contents);
    });
}

fn heading(painter: &egui::Painter, inner: Rect, desk: &Desk, palette: &Palette) {
    let site = &desk.survey().model.site.name;
    let y = inner.top() + 11.0;
    let placed =
        painter.text(Pos2::new(inner.left() + 4.0, y), Align2::LEFT_CENTER, site, strong(15.0), colour(palette.ink));
    painter.text(
        Pos2::new(placed.right() + 14.0, y),
        Align2::LEFT_CENTER,
        &desk.stance().name,
        text(12.0),
        colour(palette.soft),
    );
    let upright = crate::verticals::READS_UPRIGHT_DEG;
    let sun = desk
        .measured()
        .sun
        .map_or_else(String::new, |sun| format!(" · sun at {:.0}°, {:.0}° up", sun.azimuth_deg, sun.altitude_deg));
    painter.text(
        Pos2::new(inner.right() - 4.0, y),
        Align2::RIGHT_CENTER,
        format!("metres · true north{sun} · {upright}° reads as upright"),
        text(11.5),
        colour(palette.soft),
    );
}

fn finder_ui(
    context: &egui::Context,
    painter: &egui::Painter,
    area: Rect,
    desk: &Desk,
    sheet: Option<&FinderSheet>,
    palette: &Palette,
    wanted: &mut Wanted,
) {
    let standing = &desk.measured().standing;
    let frame = &standing.camera.frame;
    let aspect = screen(frame.width_mm / frame.height_mm);
    let size = if area.width() / area.height() > aspect {
        Vec2::new(area.height() * aspect, area.height())
    } else {
        Vec2::new(area.width(), area.width() / aspect)
    };
    let scale = context.pixels_per_point();
    let rect = Rect::from_center_size(area.center(), size).round_to_pixels(scale);
    let place = FinderPlace { frame: rect, shown: rect };
    wanted.finder = Some(place);
    if let Some(sheet) = sheet {
        sheet.paint(painter, &place, palette);
    }
    let mut lens = standing.camera;
    lens.frame = lens.frame.with_width_px(place.size_px(scale)[0]);
    let survey = desk.survey();
    let drawn = crate::stance::Standing { camera: lens, ..standing.clone() };
    let account = survey.appraise(&drawn, &crate::appraise::Measures::default());
    let overlay = annotations(&account, survey.subject.as_ref().ok(), &lens, &standing.pose);
    let inside = painter.with_clip_rect(rect);
    draw_overlay(&inside, rect, scale, &overlay, palette);
    painter.rect_stroke(rect, 3.0, Stroke::new(1.5, colour(palette.ink)), StrokeKind::Outside);

    egui::Area::new(egui::Id::new("finder")).fixed_pos(rect.min).show(context, |ui| {
        let response = ui.allocate_rect(rect, Sense::click_and_drag());
        wanted.actions.extend(hands::over_finder(ui, &response, &place, desk));
    });
}

fn draw_overlay(painter: &egui::Painter, rect: Rect, scale: f32, overlay: &Overlay, palette: &Palette) {
    let ink = |ink: OverlayInk| match ink {
        OverlayInk::Plumb => colour(palette.plumb),
        OverlayInk::Flank => colour(palette.flank),
        OverlayInk::Horizon => colour(palette.soft),
    };
    let at = |(x, y): (f64, f64)| rect.min + Vec2::new(screen(x), screen(y)) / scale;
    for line in &overlay.lines {
        let width = if line.ink == OverlayInk::Horizon { 1.0 } else { 1.6 };
        let stroke = Stroke::new(width, ink(line.ink));
        for ends in line.points_px.windows(2) {
            // Lines run far beyond the frame; only what is in it may be handed over.
            let Some(points) = inside(rect.expand(4.0), [at(ends[0]), at(ends[1])]) else { continue };
            if line.dotted {
                painter.extend(egui::Shape::dotted_line(&points, stroke.color, 5.0, 0.45 * width));
            } else {
                painter.line_segment(points, stroke);
            }
        }
    }
    let mut taken: Vec<Rect> = Vec::new();
    for label in &overlay.labels {
        let place = at(label.at_px);
        let galley = painter.layout_no_wrap(label.text.clone(), strong(11.5), ink(label.ink));
        let size = galley.size() + Vec2::new(10.0, 4.0);
        let tried = [
            Rect::from_min_size(place + Vec2::new(8.0, -0.5 * size.y), size),
            Rect::from_min_size(place + Vec2::new(-8.0 - size.x, -0.5 * size.y), size),
            Rect::from_min_size(place + Vec2::new(-0.5 * size.x, 10.0), size),
            Rect::from_min_size(place + Vec2::new(-0.5 * size.x, -10.0 - size.y), size),
        ];
        let free = tried
            .into_iter()
            .find(|plate| rect.contains_rect(*plate) && !taken.iter().any(|known| known.intersects(*plate)));
        if let Some(plate) = free {
            painter.rect_filled(plate, 3.0, colour(palette.panel));
            painter.galley(plate.min + Vec2::new(5.0, 2.0), galley, ink(label.ink));
            taken.push(plate);
        }
    }
}

/// The part of a segment inside a rectangle.
fn inside(rect: Rect, [a, b]: [Pos2; 2]) -> Option<[Pos2; 2]> {
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

fn degrees(value: Option<crate::angle::Angle>) -> String {
    value.map_or_else(
        || "–".into(),
        |angle| {
            let rounded = (angle.degrees() * 10.0).round() / 10.0 + 0.0;
            format!("{rounded:.1}°")
        },
    )
}

fn readings_ui(painter: &egui::Painter, rect: Rect, desk: &Desk, palette: &Palette) {
    card(painter, rect, palette);
    let account = &desk.measured().account;
    let closing = account.closing.map(|closing| closing.convergence());
    let opens = closing.is_some_and(|closing| closing.degrees() < 0.0);
    let taper = account.taper;
    let straightened = match &account.straightened {
        Some(Ok(kept)) => (format!("{:.1} MP", kept.megapixels_kept), "kept if straightened".to_owned()),
        Some(Err(failure)) => ("–".into(), failure.words()),
        None => ("–".into(), "no subject".into()),
    };
    let upright = match account.reads_upright {
        Some(true) => "reads as upright",
        Some(false) => "does not read as upright",
        None => "not measured from here",
    };
    let head = account.head_elevation;
    let readings = [
        (
            if opens { "the subject opens" } else { "the subject closes" },
            degrees(closing.map(|c| c.abs())),
            upright.to_owned(),
        ),
        (
            "worst lean in view",
            degrees(account.worst_in_view.map(|(lean, _)| lean)),
            account
                .worst_in_view
                .map_or_else(String::new, |(_, block)| desk.survey().model.site.blocks[block].name.clone()),
        ),
        (
            "taper",
            taper.map_or_else(|| "–".into(), |taper| format!("{:.2}", taper.seen)),
            taper.map_or_else(String::new, |taper| {
                format!("{:.2} shape × {:.2} tilt", taper.shape, taper.tilt_factor())
            }),
        ),
        (
            "detail at its worst",
            account.worst_detail.map_or_else(|| "–".into(), |(detail, _)| format!("{:.0} px/m", detail.px_per_m)),
            account
                .worst_detail
                .map_or_else(String::new, |(detail, _)| format!("{:.0} mm a pixel", detail.mm_per_px())),
        ),
        (
            "head seen from",
            head.map_or_else(
                || "–".into(),
                |head| format!("{:.0}° {}", head.abs().degrees(), if head.degrees() < 0.0 { "above" } else { "below" }),
            ),
            account.visible_share.map_or_else(String::new, |share| format!("{:.0} % of it seen", 100.0 * share)),
        ),
        ("straightened", straightened.0, straightened.1),
    ];
    let width = (rect.width() - 28.0) / screen(readings.len() as f64);
    for (index, (caption, value, note)) in readings.iter().enumerate() {
        let x = rect.left() + 14.0 + width * screen(index as f64);
        let cell = painter
            .with_clip_rect(Rect::from_min_size(Pos2::new(x, rect.top()), Vec2::new(width - 6.0, rect.height())));
        cell.text(Pos2::new(x, rect.top() + 12.0), Align2::LEFT_TOP, caption, text(11.5), colour(palette.soft));
        cell.text(
            Pos2::new(x, rect.top() + 28.0),
            Align2::LEFT_TOP,
            value,
            strong(if width < 118.0 { 18.0 } else { 23.0 }),
            colour(palette.ink),
        );
        let galley = cell.layout(note.clone(), text(11.0), colour(palette.soft), width - 8.0);
        cell.galley(Pos2::new(x, rect.top() + 62.0), galley, colour(palette.soft));
    }
    if let Some(notice) = desk.notices().last() {
        painter.text(
            Pos2::new(rect.right() - 14.0, rect.bottom() - 10.0),
            Align2::RIGHT_BOTTOM,
            &notice.text,
            text(11.0),
            colour(palette.ask),
        );
    }
}

fn instruments_ui(ui: &mut egui::Ui, desk: &Desk, palette: &Palette, actions: &mut Vec<Action>) {
    let standing = &desk.measured().standing;
    let soft = colour(palette.soft);
    let held = if standing.orientation == Orientation::Portrait { "portrait" } else { "landscape" };
    ui.spacing_mut().item_spacing = Vec2::new(6.0, 5.0);
    ui.label(egui::RichText::new(format!("{} body, {held}", standing.format.name)).font(strong(13.0)));
    egui::ComboBox::from_id_salt("lens").width(190.0).selected_text(&standing.lens.name).show_ui(ui, |ui| {
        for lens in &desk.survey().kit.lenses {
            if ui.selectable_label(lens.name == standing.lens.name, &lens.name).clicked() {
                actions.push(Action::Lens(lens.name.clone()));
            }
        }
    });
    ui.label(egui::RichText::new(format!("focal length {:.1} mm", standing.camera.focal_mm)).color(soft).size(11.5));
    if standing.lens.is_zoom() {
        let mut focal_mm = standing.camera.focal_mm;
        let range = standing.lens.focal_mm..=standing.lens.longest_mm();
        ui.spacing_mut().slider_width = 190.0;
        if ui.add(egui::Slider::new(&mut focal_mm, range).logarithmic(true).show_value(false)).changed() {
            actions.push(Action::Focal(focal_mm));
        }
    }
    let sharp = &desk.measured().account.depth_of_field;
    let far = if sharp.far_m.is_finite() { format!("{:.0} m", sharp.far_m) } else { "far away".into() };
    ui.label(
        egui::RichText::new(format!("sharp from {:.1} m to {far} at f/{}", sharp.near_m, standing.f_number))
            .color(soft)
            .size(11.5),
    );
    ui.add_space(6.0);
    let height_m = standing.height_m().unwrap_or(standing.pose.eye.z);
    ui.label(egui::RichText::new(format!("camera above the feet {height_m:.2} m")).font(strong(12.5)));
    for (name, preset_m) in HEIGHTS.iter().rev() {
        let chosen = (height_m - preset_m).abs() < 0.005;
        if ui.selectable_label(chosen, format!("{preset_m:.1} m  {name}")).clicked() {
            actions.push(Action::Height(*preset_m));
        }
    }
    let footing = standing.footing.as_ref();
    let feet = footing.map_or_else(
        || "in the air".into(),
        |footing| format!("feet on {} at {:.2} m", footing.name.as_deref().unwrap_or("open ground"), footing.height_m),
    );
    ui.label(egui::RichText::new(feet).color(soft).size(11.5));
    let attitude = &standing.pose.attitude;
    ui.add_space(6.0);
    ui.label(
        egui::RichText::new(format!(
            "heading {:.1}°\npitch {:.1}°, roll {:.1}°",
            ((attitude.heading.compass_degrees() * 10.0).round() / 10.0).rem_euclid(360.0),
            attitude.pitch.degrees() + 0.0,
            attitude.roll.degrees() + 0.0
        ))
        .font(strong(12.5)),
    );
    ui.horizontal_wrapped(|ui| {
        for (name, action) in [
            ("Level", Action::Level),
            ("Fill", Action::Aim(Aim::Fill)),
            ("Level and fill", Action::Aim(Aim::Level)),
            ("Rise", Action::Aim(Aim::Rise)),
            ("Turn on its side", Action::Turn),
        ] {
            if ui.button(name).clicked() {
                actions.push(action);
            }
        }
    });
    ui.horizontal(|ui| {
        for (name, action) in [("Take back", Action::Undo), ("Again", Action::Redo)] {
            if ui.button(name).clicked() {
                actions.push(action);
            }
        }
    });
    ui.add_space(6.0);
    ui.label(egui::RichText::new("decks").font(strong(12.5)));
    let model = &desk.survey().model;
    let mut names: Vec<&str> = model.decks.iter().map(|deck| model.site.blocks[deck.block].name.as_str()).collect();
    names.dedup();
    for name in names {
        if ui.selectable_label(footing.is_some_and(|footing| footing.name.as_deref() == Some(name)), name).clicked() {
            actions.push(Action::StandOn(Some(name.to_owned())));
        }
    }
    ui.add_space(6.0);
    ui.label(
        egui::RichText::new("W A S D walk, with Shift faster; arrows or drag look; wheel zooms; F fill, L level, R rise, V turn, Q E lower and higher; Backspace takes back")
            .color(soft)
            .size(11.0),
    );
    for caution in &desk.measured().cautions {
        ui.label(egui::RichText::new(&caution.text).color(colour(palette.ask)).size(11.0));
    }
}

fn stances_ui(ui: &mut egui::Ui, desk: &Desk, palette: &Palette, actions: &mut Vec<Action>) {
    ui.label(egui::RichText::new("Saved stances").font(strong(12.5)));
    for stance in &desk.survey().model.site.stances {
        if ui.selectable_label(stance.name == desk.stance().name, &stance.name).clicked() {
            actions.push(Action::TakeUp(Box::new(stance.clone())));
        }
    }
    if desk.survey().model.site.stances.is_empty() {
        ui.label(egui::RichText::new("none in the site file").color(colour(palette.soft)).size(11.5));
    }
}

/// The site from above, the camera's field of view in it; a click stands there.
fn plan_ui(
    context: &egui::Context,
    painter: &egui::Painter,
    rect: Rect,
    desk: &Desk,
    palette: &Palette,
    actions: &mut Vec<Action>,
) {
    let survey = desk.survey();
    let standing = &desk.measured().standing;
    let eye = standing.pose.eye;
    let bounds = survey.model.solids.iter().map(|solid| solid.bounds()).reduce(|a, b| (a.0.inf(&b.0), a.1.sup(&b.1)));
    let (low, high) = bounds.map_or(((-50.0, -50.0), (50.0, 50.0)), |(low, high)| ((low.x, low.y), (high.x, high.y)));
    let (low, high) =
        ((low.0.min(eye.x) - 8.0, low.1.min(eye.y) - 8.0), (high.0.max(eye.x) + 8.0, high.1.max(eye.y) + 8.0));
    let inside = rect.shrink(10.0);
    let scale = (f64::from(inside.width()) / (high.0 - low.0)).min(f64::from(inside.height()) / (high.1 - low.1));
    let middle = (0.5 * (low.0 + high.0), 0.5 * (low.1 + high.1));
    let at =
        |x: f64, y: f64| inside.center() + Vec2::new(screen((x - middle.0) * scale), screen(-(y - middle.1) * scale));
    let painter = painter.with_clip_rect(rect.shrink(1.0));
    for ground in &survey.model.site.grounds {
        let outline: Vec<Pos2> = ground.outline.iter().map(|&(x, y)| at(x, y)).collect();
        let (stroke, dash) = match ground.access {
            Access::Open => (colour(palette.open), 0.0),
            Access::Ask => (colour(palette.ask), 0.0),
            Access::Closed => (colour(palette.soft), 4.0),
        };
        let mut closed = outline.clone();
        closed.extend(outline.first());
        if dash > 0.0 {
            painter.extend(egui::Shape::dashed_line(&closed, Stroke::new(1.0, stroke), dash, 3.0));
        } else {
            painter.add(egui::Shape::line(closed, Stroke::new(1.0, stroke)));
        }
    }
    // The field of view, as far as the plan reaches.
    let window = standing.camera.ideal_window();
    let heading = standing.pose.attitude.heading;
    let reach = (high.0 - low.0).hypot(high.1 - low.1);
    let edge = |slope: f64| {
        let bearing = heading + crate::angle::Angle::from_radians(slope.clamp(-50.0, 50.0).atan());
        let (sine, cosine) = bearing.sin_cos();
        at(eye.x + reach * sine, eye.y + reach * cosine)
    };
    let field = vec![at(eye.x, eye.y), edge(window.left), edge(window.right)];
    painter.add(egui::Shape::convex_polygon(
        field,
        colour(palette.ink).gamma_multiply(0.07),
        Stroke::new(1.0, colour(palette.soft)),
    ));
    for (block, solid) in survey.model.site.blocks.iter().zip(&survey.model.solids) {
        let ink = if block.subject { colour(palette.flank) } else { colour(palette.ink) };
        for edge in &solid.edges {
            let [a, b] = edge.ends.map(|end| solid.vertices[end as usize]);
            painter.line_segment([at(a.x, a.y), at(b.x, b.y)], Stroke::new(if block.subject { 1.6 } else { 0.8 }, ink));
        }
    }
    painter.circle_filled(at(eye.x, eye.y), 5.0, colour(palette.ink));
    painter.text(rect.left_top() + Vec2::new(12.0, 9.0), Align2::LEFT_TOP, "Plan", strong(12.5), colour(palette.ink));
    if let Some(distance_m) = desk.measured().account.distance_m {
        painter.text(
            rect.right_top() + Vec2::new(-12.0, 10.0),
            Align2::RIGHT_TOP,
            format!("{distance_m:.1} m from the subject"),
            text(11.0),
            colour(palette.soft),
        );
    }
    egui::Area::new(egui::Id::new("plan")).fixed_pos(rect.min).show(context, |ui| {
        let response = ui.allocate_rect(rect, Sense::click_and_drag());
        if let Some(place) = response.interact_pointer_pos().filter(|_| response.clicked() || response.dragged()) {
            let off = place - inside.center();
            actions.push(Action::StandAt(middle.0 + f64::from(off.x) / scale, middle.1 - f64::from(off.y) / scale));
        }
    });
}

/// Camera, sensor plane, plumb, sight lines and subject from the side: why the lines close.
fn section_ui(painter: &egui::Painter, rect: Rect, desk: &Desk, palette: &Palette) {
    painter.text(
        rect.left_top() + Vec2::new(12.0, 9.0),
        Align2::LEFT_TOP,
        "Section",
        strong(12.5),
        colour(palette.ink),
    );
    let standing = &desk.measured().standing;
    let Ok(subject) = &desk.survey().subject else { return };
    let eye = standing.pose.eye;
    let distance_m = (subject.middle - eye).xy().norm();
    let pitch = standing.pose.attitude.pitch;
    painter.text(
        rect.right_top() + Vec2::new(-12.0, 10.0),
        Align2::RIGHT_TOP,
        format!("sensor and plumb are {:.1}° apart", pitch.abs().degrees()),
        text(11.0),
        colour(palette.soft),
    );
    let inside = Rect::from_min_max(rect.min + Vec2::new(26.0, 34.0), rect.max - Vec2::new(26.0, 14.0));
    let low_m = subject.foot_m.min(eye.z - 2.0);
    let high_m = subject.top_m.max(eye.z + 1.0);
    let scale = (f64::from(inside.width()) / distance_m.max(1.0)).min(f64::from(inside.height()) / (high_m - low_m));
    let at = |along: f64, up: f64| {
        Pos2::new(inside.left() + screen(along * scale), inside.bottom() - screen((up - low_m) * scale))
    };
    let ink = colour(palette.ink);
    let ground = at(0.0, subject.foot_m).y;
    painter.hline(rect.left() + 10.0..=rect.right() - 10.0, ground, Stroke::new(1.0, ink));
    let lens = at(0.0, eye.z);
    for (height_m, width) in [(subject.foot_m, 0.8), (subject.top_m, 0.8)] {
        painter.line_segment([lens, at(distance_m, height_m)], Stroke::new(width, colour(palette.soft)));
    }
    painter.line_segment(
        [at(distance_m, subject.foot_m), at(distance_m, subject.top_m)],
        Stroke::new(4.0, colour(palette.flank)),
    );
    // The sensor plane through the lens, square to the axis, and the plumb beside it.
    let (sine, cosine) = pitch.sin_cos();
    let axis = Vec2::new(screen(cosine), -screen(sine));
    let plane = Vec2::new(-axis.y, axis.x) * 20.0;
    painter.line_segment([lens - plane, lens + plane], Stroke::new(3.0, ink));
    painter.add(egui::Shape::dashed_line(&[lens, lens + axis * 60.0], Stroke::new(1.0, ink), 4.0, 3.0));
    painter.extend(egui::Shape::dotted_line(
        &[lens - Vec2::new(0.0, 24.0), lens + Vec2::new(0.0, 24.0)],
        colour(palette.plumb),
        4.0,
        0.9,
    ));
}
