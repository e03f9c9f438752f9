//! What does a figure come to at every place? The map of the search on the plan, with its legend; the place under the
//! pointer is told.

use std::sync::Arc;

use bevy_egui::egui::{
    self, Color32, CursorIcon, Mesh, Painter, Pos2, Rect, Response, Sense, Shape, Stroke, TextureHandle,
    TextureOptions, Ui, Vec2, WidgetInfo, WidgetType,
};

use crate::drawing::{PlanView, RAMP_COLOURS, Ramp, written};
use crate::search::{Map, MapFigure, PlaceStatus, Ranked};
use crate::site::{Access, PlanPoint};
use crate::theme::Theme;
use crate::viewer::render::narrow::screen;
use crate::viewer::state::desk::{Action, CameraMove, SearchAction, SearchView};

use super::context::PanelContext;
use super::style::{WindowStyle, colour, focus_ring, text_button, within};

/// From line to line of the hatching, and from dot to dot, in units of the drawing.
const HATCH: f64 = 7.0;
const DOTS: f64 = 9.0;
/// Cells smaller than this are not outlined one by one.
const OUTLINED: f64 = 1.2;
/// The largest texture that every graphics card takes.
const LARGEST_TEXTURE: u32 = 4096;
/// The size of a number on the plan.
const NUMBER: f32 = 9.5;

/// What a map's picture depends on.
type PictureOf = (u64, MapFigure, Theme);

/// The map as it is drawn.
#[derive(Default)]
pub(super) struct MapLayer {
    /// Whether the legend shows its scale alone.
    pub(super) folded: bool,
    looked: Option<(u64, Option<[PlanPoint; 2]>)>,
    ramp: Option<(PictureOf, Option<Ramp>)>,
    texture: Option<(PictureOf, TextureHandle)>,
    marks: Option<(MarksKey, Vec<Shape>)>,
}

/// What the hatching and the outline depend on.
#[derive(Clone, PartialEq)]
struct MarksKey {
    map: u64,
    view: PlanView,
    style: WindowStyle,
}

/// Where the plan is on the window.
#[derive(Clone, Copy)]
pub(super) struct PlanPlacement {
    pub(super) view: PlanView,
    pub(super) rect: Rect,
    pub(super) unit: f32,
}

impl PlanPlacement {
    pub(super) fn place(&self, at: PlanPoint) -> Pos2 {
        let (x, y) = self.view.point_of(at);
        self.rect.min + Vec2::new(screen(x), screen(y)) * self.unit
    }

    pub(super) fn plan_of(&self, place: Pos2) -> PlanPoint {
        let by = (place - self.rect.min) / self.unit;
        self.view.plan_of((f64::from(by.x), f64::from(by.y)))
    }
}

impl MapLayer {
    /// The corners of what was looked at: what a plan of the map must show.
    pub(super) fn looked_at(&mut self, view: &SearchView<'_>) -> Option<[PlanPoint; 2]> {
        let map = view.map?;
        if self.looked.is_none_or(|(known, _)| known != view.map_version) {
            self.looked = Some((view.map_version, looked_at(map)));
        }
        self.looked.and_then(|(_, area)| area)
    }

    /// The ramp of the figure that is shown; none where no place has it.
    fn ramp(&mut self, view: &SearchView<'_>, map: &Map, theme: Theme) -> Option<Ramp> {
        let of = (view.map_version, view.figure, theme);
        if self.ramp.as_ref().is_none_or(|(known, _)| *known != of) {
            self.ramp = Some((of, Ramp::for_figure(view.figure, map)));
        }
        self.ramp.and_then(|(_, ramp)| ramp)
    }

    /// Paints the map under the plan's lines.
    pub(super) fn paint_under(&mut self, ui: &Ui, style: &WindowStyle, ground: &PlanPlacement, view: &SearchView<'_>) {
        let Some(map) = view.map else { return };
        let painter = ui.painter().with_clip_rect(ground.rect.intersect(ui.clip_rect()));
        if let Some(ramp) = self.ramp(view, map, style.theme) {
            let of = (view.map_version, view.figure, style.theme);
            if self.texture.as_ref().is_none_or(|(known, _)| *known != of) {
                let picture = picture(map, view.figure, &ramp, style.theme);
                let handle = ui.ctx().load_texture("map of the search", picture, TextureOptions::NEAREST);
                self.texture = Some((of, handle));
            }
            if let Some((_, texture)) = &self.texture {
                let [south_west, north_east] = map.area();
                let area = Rect::from_two_pos(ground.place(south_west), ground.place(north_east));
                let whole = Rect::from_min_max(Pos2::ZERO, Pos2::new(1.0, 1.0));
                painter.image(texture.id(), area, whole, Color32::WHITE);
            }
        }
        let of = MarksKey { map: view.map_version, view: ground.view, style: *style };
        if self.marks.as_ref().is_none_or(|(known, _)| *known != of) {
            let mut shapes = Vec::new();
            dot(map, ground, style, &mut shapes);
            hatch(map, ground, style, &mut shapes);
            outline(map, ground, style, &mut shapes);
            self.marks = Some((of, shapes));
        }
        if let Some((_, shapes)) = &self.marks {
            let by = ground.rect.min.to_vec2();
            painter.extend(shapes.iter().map(|shape| {
                let mut shape = shape.clone();
                shape.translate(by);
                shape
            }));
        }
    }

    /// Numbers of the listed places, the legend, and what the map says of the place under the pointer.
    pub(super) fn paint_over(
        &mut self,
        ui: &mut Ui,
        panel: &PanelContext<'_>,
        ground: &PlanPlacement,
        view: &SearchView<'_>,
        plan: &Response,
        actions: &mut Vec<Action>,
    ) {
        let style = &panel.style;
        let mut over_number = false;
        if view.map_outdated.is_none() || view.answer.is_some() {
            let ranked = view.answer.map_or(&[][..], |answer| &answer.ranked);
            let quiet = view.outdated.is_some();
            for found in ranked.iter().rev() {
                over_number |= number_ui(ui, panel, ground, found, quiet, actions);
            }
        }
        let legend = self.legend_ui(ui, panel, ground, view, actions);
        let Some(hand) = plan.hover_pos().filter(|hand| !over_number && !legend.contains(*hand)) else { return };
        let Some(map) = view.map else { return };
        if let Some(lines) = pointer_lines(map, ground.plan_of(hand), view, panel) {
            tag(ui.painter(), style, ground.rect, hand, &lines);
        }
    }

    /// The legend in the corner of the plan, with the choice of figure. Returns the room it takes.
    fn legend_ui(
        &mut self,
        ui: &mut Ui,
        panel: &PanelContext<'_>,
        ground: &PlanPlacement,
        view: &SearchView<'_>,
        actions: &mut Vec<Action>,
    ) -> Rect {
        let style = &panel.style;
        let ramp = view.map.and_then(|map| self.ramp(view, map, style.theme));
        let rows = legend_rows(view, self.folded);
        let rect = legend_room(ui, style, ground, view, self.folded);
        let width = rect.width();
        ui.painter().rect(rect, 6.0, style.panel(), style.hairline(), egui::StrokeKind::Inside);
        // The legend is no place to stand: clicks on it go no further.
        ui.interact(rect, egui::Id::new("legend"), Sense::click_and_drag())
            .widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, legend_words(view, ramp.as_ref(), panel)));
        let inner = rect.shrink2(Vec2::new(style.px(10.0), style.px(7.0)));
        let head = Rect::from_min_size(inner.min, Vec2::new(inner.width(), style.px(24.0)));
        let (fold, word) = (style.px(40.0), if self.folded { "More" } else { "Less" });
        let figure = Rect::from_min_max(head.min, Pos2::new(head.right() - fold, head.bottom()));
        within(ui, "figure of the map", figure, |ui| figure_ui(ui, style, view.figure, actions));
        let place = Rect::from_min_max(Pos2::new(head.right() - fold + style.px(3.0), head.top()), head.max);
        let toggled = within(ui, "fold of the legend", place, |ui| {
            text_button(ui, style, word, &format!("{} of the legend", word.to_lowercase())).clicked()
        });
        self.folded ^= toggled;
        let mut y = head.bottom() + style.px(4.0);
        let bar = Rect::from_min_size(Pos2::new(inner.left(), y), Vec2::new(inner.width(), style.px(11.0)));
        match &ramp {
            Some(ramp) => scale_ui(ui.painter(), style, panel, bar, ramp),
            None => {
                let galley = style.wrapped(ui.painter(), no_value(view), style.caption(), style.ink(), inner.width());
                ui.painter().galley(Pos2::new(inner.left(), y), galley, style.ink());
            }
        }
        y += style.px(SCALE_TALL);
        for (sign, words) in rows {
            let galley = style.wrapped(ui.painter(), &words, style.caption(), style.soft(), width - style.px(38.0));
            let sample = Rect::from_min_size(
                Pos2::new(inner.left(), y + style.px(2.0)),
                Vec2::new(style.px(13.0), style.px(11.0)),
            );
            sign_ui(ui.painter(), style, sample, sign);
            let tall = galley.size().y;
            ui.painter().galley(Pos2::new(inner.left() + style.px(20.0), y), galley, style.soft());
            y += tall + style.px(1.0);
        }
        rect
    }
}

/// How tall the scale of colours is in the legend, with its ticks.
const SCALE_TALL: f32 = 34.0;

/// The room that the legend takes on the plan.
pub(super) fn legend_room(
    ui: &Ui,
    style: &WindowStyle,
    ground: &PlanPlacement,
    view: &SearchView<'_>,
    folded: bool,
) -> Rect {
    let width = style.px(268.0).min(ground.rect.width() - style.px(16.0));
    let rows = legend_rows(view, folded);
    let lines = count_lines(ui, style, &rows, width - style.px(38.0));
    let height = style.px(38.0 + SCALE_TALL) + lines + style.px(if rows.is_empty() { 0.0 } else { 5.0 });
    legend_corner(style, ground, view, Vec2::new(width, height))
}

/// The corner of the plan in which the legend covers the fewest of the listed places: the upper left one unless another
/// is better. The scale bar and the compass keep their room below.
fn legend_corner(style: &WindowStyle, ground: &PlanPlacement, view: &SearchView<'_>, size: Vec2) -> Rect {
    let plan = ground.rect.shrink(style.px(8.0));
    let above = Vec2::new(0.0, style.px(56.0));
    let corners = [
        plan.left_top(),
        plan.right_top() - Vec2::new(size.x, -style.px(26.0)),
        plan.left_bottom() - Vec2::new(0.0, size.y) - above,
        plan.right_bottom() - size - above,
    ];
    let covered = |corner: Pos2| {
        let room = Rect::from_min_size(corner, size).expand(style.px(9.0));
        let ranked = view.answer.map_or(&[][..], |answer| &answer.ranked);
        ranked.iter().filter(|found| room.contains(ground.place(found.stance.at))).count()
    };
    // Of equals the first.
    let best = corners.into_iter().min_by_key(|&corner| covered(corner)).unwrap_or(plan.min);
    Rect::from_min_size(best, size)
}

/// A sign of the legend.
#[derive(Clone, Copy, PartialEq, Eq)]
enum LegendSign {
    Plain,
    Hatched,
    Dotted,
    Outlined,
    Caution,
}

/// What stands under the ramp; of a folded legend only what to beware of.
fn legend_rows(view: &SearchView<'_>, folded: bool) -> Vec<(LegendSign, String)> {
    let Some(map) = view.map else { return Vec::new() };
    let mut rows = Vec::new();
    if let Some(why) = view.map_outdated {
        rows.push((LegendSign::Caution, format!("out of date: {why}")));
    }
    if map.step() > 1 {
        let words = if view.running.is_some() {
            "a first, coarse map; it is being refined"
        } else {
            "coarse: the search was stopped"
        };
        rows.push((LegendSign::Caution, words.into()));
    }
    if folded {
        return rows;
    }
    rows.push((LegendSign::Outlined, "outlined: meets every requirement".into()));
    rows.push((LegendSign::Plain, "plain: subject hidden or cut off".into()));
    rows.push((LegendSign::Hatched, hatched_words(view)));
    rows.push((LegendSign::Dotted, "dotted: not searched, too near or too far".into()));
    rows
}

/// What the hatching means: ground for which one must ask is closed to whoever does not want to.
fn hatched_words(view: &SearchView<'_>) -> String {
    let asks = view.answered.unwrap_or(&view.request).criteria.access == Access::Ask;
    let words = if asks { "hatched: closed or occupied" } else { "hatched: closed, permission needed, or occupied" };
    words.into()
}

fn count_lines(ui: &Ui, style: &WindowStyle, rows: &[(LegendSign, String)], width: f32) -> f32 {
    let tall = |words: &String| style.wrapped(ui.painter(), words, style.caption(), style.soft(), width).size().y;
    rows.iter().map(|(_, words)| tall(words) + style.px(1.0)).sum()
}

/// Why a map shows no value of its figure anywhere.
fn no_value(view: &SearchView<'_>) -> &'static str {
    if view.map.is_none() {
        return match view.running {
            Some(_) => "the first map appears in a moment",
            None => "no map yet: set the requirements and search",
        };
    }
    let lowest = matches!(view.figure, MapFigure::LowestSeen | MapFigure::LowestMet);
    let asked = view.answered.is_some_and(|answered| answered.criteria.lowest.is_some());
    if lowest && !asked {
        "not computed; choose Find under Lowest camera and search again"
    } else {
        "no standpoint has a value"
    }
}

/// The legend for readers of the screen.
fn legend_words(view: &SearchView<'_>, ramp: Option<&Ramp>, panel: &PanelContext<'_>) -> String {
    if view.map.is_none() {
        return no_value(view).into();
    }
    let mut words = match ramp {
        Some(ramp) => {
            let ticks = ramp.ticks(panel.units(), 5);
            let ends: Vec<&str> =
                [ticks.first(), ticks.last()].into_iter().flatten().map(|tick| tick.text.as_str()).collect();
            format!("map of {}, from {}", ramp.title(panel.units()), ends.join(" to "))
        }
        None => format!("map of {}: {}", view.figure.title(), no_value(view)),
    };
    for (_, row) in legend_rows(view, false) {
        words.push_str("; ");
        words.push_str(&row);
    }
    words
}

/// The choice of figure.
fn figure_ui(ui: &mut Ui, style: &WindowStyle, shown: MapFigure, actions: &mut Vec<Action>) {
    let response = egui::ComboBox::from_id_salt("figure of the map")
        .selected_text(egui::RichText::new(shown.title()).font(style.strong(12.0)).color(style.ink()))
        .width(ui.available_width())
        .show_ui(ui, |ui| {
            for figure in MapFigure::ALL {
                if ui.selectable_label(figure == shown, style.plain(figure.title())).clicked() && figure != shown {
                    actions.push(SearchAction::ShowFigure(figure).into());
                }
            }
        });
    ui.ctx().accesskit_node_builder(response.response.id, |node| {
        node.set_label(format!("figure of the map: {}", shown.title()));
    });
}

/// The ramp with its ticks.
fn scale_ui(painter: &Painter, style: &WindowStyle, panel: &PanelContext<'_>, bar: Rect, ramp: &Ramp) {
    let mut mesh = Mesh::default();
    let steps = 48_u32;
    for step in 0..=steps {
        let share = f64::from(step) / f64::from(steps);
        let x = bar.left() + screen(share) * bar.width();
        let ink = colour(ramp.colour_at(share, style.theme));
        mesh.colored_vertex(Pos2::new(x, bar.top()), ink);
        mesh.colored_vertex(Pos2::new(x, bar.bottom()), ink);
        if step > 0 {
            let next = 2 * step;
            mesh.add_triangle(next - 2, next - 1, next);
            mesh.add_triangle(next - 1, next, next + 1);
        }
    }
    painter.add(Shape::mesh(mesh));
    painter.rect_stroke(bar, 0.0, style.hairline(), egui::StrokeKind::Outside);
    let unit = ramp.unit(panel.units());
    let ticks = ramp.ticks(panel.units(), 5);
    let last = ticks.len().saturating_sub(1);
    let mut written_to = f32::NEG_INFINITY;
    let mut ends: Vec<(Pos2, Arc<egui::Galley>)> = Vec::new();
    for (index, tick) in ticks.iter().enumerate() {
        let x = bar.left() + screen(tick.share) * bar.width();
        painter.vline(x, bar.bottom()..=bar.bottom() + style.px(3.0), Stroke::new(1.0, style.soft()));
        // The unit stands with the first figure.
        let text = if index == 0 && !unit.is_empty() { format!("{} {unit}", tick.text) } else { tick.text.clone() };
        let galley = painter.layout_no_wrap(text, style.figure(), style.soft());
        let wide = galley.size().x;
        let left = if index == 0 {
            bar.left()
        } else if index == last {
            bar.right() - wide
        } else {
            x - 0.5 * wide
        };
        ends.push((Pos2::new(left, bar.bottom() + style.px(4.0)), galley));
    }
    // The ends are always written; a figure between them where it covers none.
    let reach = ends.last().map_or(f32::INFINITY, |(place, _)| place.x);
    for (index, (place, galley)) in ends.into_iter().enumerate() {
        let right = place.x + galley.size().x;
        let free = place.x > written_to + style.px(4.0) && right + style.px(4.0) < reach;
        if index == 0 || index == last || free {
            written_to = right;
            painter.galley(place, galley, style.soft());
        }
    }
}

/// A sample of a sign.
fn sign_ui(painter: &Painter, style: &WindowStyle, sample: Rect, sign: LegendSign) {
    if sign == LegendSign::Caution {
        super::notices::caution_sign(painter, style, sample.center());
        return;
    }
    let inside = painter.with_clip_rect(sample.intersect(painter.clip_rect()));
    let stroke = Stroke::new(style.px(0.6), style.soft());
    match sign {
        LegendSign::Hatched => {
            for step in 0..5_u8 {
                let x = sample.left() + f32::from(step) * style.px(5.0);
                inside.line_segment(
                    [Pos2::new(x, sample.top()), Pos2::new(x - sample.height(), sample.bottom())],
                    stroke,
                );
            }
        }
        LegendSign::Dotted => {
            for (x, y) in [(0.25, 0.3), (0.75, 0.3), (0.25, 0.75), (0.75, 0.75)] {
                let at = sample.min + Vec2::new(x * sample.width(), y * sample.height());
                inside.circle_filled(at, style.px(0.8), style.soft());
            }
        }
        LegendSign::Plain | LegendSign::Outlined | LegendSign::Caution => {}
    }
    let edge = if sign == LegendSign::Outlined { Stroke::new(style.px(1.3), style.ink()) } else { style.hairline() };
    painter.rect_stroke(sample, 0.0, edge, egui::StrokeKind::Inside);
}

/// A pixel for each cell; what has no value is clear.
fn picture(map: &Map, figure: MapFigure, ramp: &Ramp, theme: Theme) -> egui::ColorImage {
    let colours: Vec<Color32> = ramp.colours(theme).into_iter().map(colour).collect();
    debug_assert_eq!(colours.len(), RAMP_COLOURS);
    // A map of more cells than a texture may have shows every second one, or fewer.
    let every = map.columns().max(map.rows()).div_ceil(LARGEST_TEXTURE).max(1);
    let (columns, rows) = (map.columns().div_ceil(every), map.rows().div_ceil(every));
    let mut pixels = Vec::with_capacity(columns as usize * rows as usize);
    for row in (0..rows).rev() {
        for column in 0..columns {
            let value = map.value(column * every, row * every, figure);
            pixels.push(value.map_or(Color32::TRANSPARENT, |value| colours[ramp.index(value)]));
        }
    }
    egui::ColorImage::new([columns as usize, rows as usize], pixels)
}

/// What the map says of the place under the pointer; nothing beside the map.
fn pointer_lines(map: &Map, at: PlanPoint, view: &SearchView<'_>, panel: &PanelContext<'_>) -> Option<[String; 2]> {
    let figure = view.figure;
    let (column, row) = map.cell_of(at)?;
    let ground = map.ground(column, row);
    if ground != PlaceStatus::Looked {
        return Some([ground_words(ground).into(), String::new()]);
    }
    let Some(value) = map.value(column, row, figure) else {
        let words = match figure {
            MapFigure::LowestSeen | MapFigure::LowestMet => "no tried height works here",
            _ => "subject hidden or cut off",
        };
        return Some([words.into(), String::new()]);
    };
    let lowest = match figure {
        MapFigure::LowestSeen => map.lowest_seen(column, row),
        MapFigure::LowestMet => map.lowest_met(column, row),
        _ => None,
    };
    let mut first = written(figure, value, panel.units());
    if figure == MapFigure::Focal
        && let Some((_, orientation)) = map.needed_focal_mm(column, row)
    {
        first.push_str(match orientation {
            crate::optics::Orientation::Landscape => ", landscape",
            crate::optics::Orientation::Portrait => ", portrait",
        });
    }
    if lowest.is_some_and(|lowest| lowest.fails_above) {
        first.push_str(", and fails again higher up");
    }
    let second = if map.meets(column, row) { "meets every requirement" } else { "does not meet every requirement" };
    let with = map.combination(column, row).and_then(|combination| {
        let criteria = &view.mapped?.criteria;
        let lens = plain_focal(combination.focal_mm);
        let aim = super::answer::aim_words(*criteria.aims.get(combination.aim)?);
        let height = panel.units().length(*criteria.heights_m.get(combination.height)?, 2);
        Some(format!("{lens}{aim}, camera {height} up; click to take it up"))
    });
    let second = [Some(second.to_owned()), with].into_iter().flatten().collect::<Vec<_>>().join("\n");
    Some([first, second])
}

/// A focal length, to the millimetre.
fn plain_focal(focal_mm: f64) -> String {
    format!("{focal_mm:.0} mm")
}

fn ground_words(ground: PlaceStatus) -> &'static str {
    match ground {
        PlaceStatus::Unknown => "not searched",
        PlaceStatus::Looked => "searched",
        PlaceStatus::Closed => "closed or permission needed",
        PlaceStatus::Water => "under water",
        PlaceStatus::Occupied => "occupied",
        PlaceStatus::TooNear => "too near the subject",
        PlaceStatus::TooFar => "too far from the subject",
    }
}

/// A small plate beside the pointer.
fn tag(painter: &Painter, style: &WindowStyle, inside: Rect, hand: Pos2, lines: &[String; 2]) {
    let mut job = egui::text::LayoutJob::default();
    let format = |font_id, color| egui::TextFormat { font_id, color, ..Default::default() };
    job.append(&lines[0], 0.0, format(style.strong(12.5), style.ink()));
    if !lines[1].is_empty() {
        job.append(&format!("\n{}", lines[1]), 0.0, format(style.caption(), style.soft()));
    }
    job.wrap.max_width = style.px(230.0);
    let galley = painter.layout_job(job);
    let size = galley.size() + Vec2::new(style.px(14.0), style.px(9.0));
    let mut corner = hand + Vec2::new(style.px(14.0), style.px(14.0));
    if corner.x + size.x > inside.right() - 4.0 {
        corner.x = hand.x - style.px(10.0) - size.x;
    }
    if corner.y + size.y > inside.bottom() - 4.0 {
        corner.y = hand.y - style.px(10.0) - size.y;
    }
    let rect = Rect::from_min_size(corner, size);
    painter.rect(rect, 5.0, style.panel(), Stroke::new(1.0, style.ink()), egui::StrokeKind::Inside);
    painter.galley(rect.min + Vec2::new(style.px(7.0), style.px(4.5)), galley, style.ink());
}

/// The number of a listed place; a click goes there. Returns whether the pointer is on it.
fn number_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    ground: &PlanPlacement,
    found: &Ranked,
    quiet: bool,
    actions: &mut Vec<Action>,
) -> bool {
    let style = &panel.style;
    let centre = ground.place(found.stance.at);
    let radius = style.px(9.0);
    if !ground.rect.shrink(radius).contains(centre) {
        return false;
    }
    let rect = Rect::from_center_size(centre, Vec2::splat(2.0 * radius));
    let response = ui.interact(rect, egui::Id::new(("found", found.number)), Sense::click());
    let words = format!("standpoint {}: {}", found.number, found.place.words(panel.units()));
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Button, true, format!("go to {words}")));
    let (fill, ink) = if quiet { (style.panel(), style.ink()) } else { (style.ink(), style.panel()) };
    ui.painter().circle(
        centre,
        radius,
        fill,
        Stroke::new(style.px(1.5), if quiet { style.ink() } else { style.panel() }),
    );
    focus_ring(ui, style, &response, rect);
    let galley = ui.painter().layout_no_wrap(found.number.to_string(), style.strong(NUMBER), ink);
    ui.painter().galley(centre - 0.5 * galley.size(), galley, ink);
    let hovered = response.hovered();
    if hovered {
        tag(ui.painter(), style, ground.rect, centre, &[words, super::answer::figures_words(panel, found)]);
    }
    if response.on_hover_cursor(CursorIcon::PointingHand).clicked() {
        actions.push(CameraMove::TakeUp(Box::new(found.stance.clone())).into());
    }
    hovered
}

/// The cells that a stretch of the canvas shows: columns and rows.
fn shown_cells(map: &Map, ground: &PlanPlacement) -> (std::ops::Range<u32>, std::ops::Range<u32>) {
    let (west, south) = map.corner();
    let low = ground.view.plan_of((0.0, ground.view.height_pt));
    let high = ground.view.plan_of((ground.view.width_pt, 0.0));
    let cell = |from: f64, start: f64, count: u32| {
        ((from - start) / map.spacing_m()).floor().clamp(0.0, f64::from(count)) as u32
    };
    (
        cell(low.0, west, map.columns())..cell(high.0, west, map.columns()).saturating_add(1).min(map.columns()),
        cell(low.1, south, map.rows())..cell(high.1, south, map.rows()).saturating_add(1).min(map.rows()),
    )
}

/// South-west and north-east corner of everything that was looked at.
fn looked_at(map: &Map) -> Option<[PlanPoint; 2]> {
    let mut found: Option<[u32; 4]> = None;
    for row in 0..map.rows() {
        for column in (0..map.columns()).filter(|&column| map.ground(column, row) == PlaceStatus::Looked) {
            let [west, south, east, north] = found.unwrap_or([column, row, column, row]);
            found = Some([west.min(column), south.min(row), east.max(column), north.max(row)]);
        }
    }
    let [west, south, east, north] = found?;
    let (start, size) = (map.corner(), map.spacing_m());
    let at = |column: u32, row: u32| (start.0 + f64::from(column) * size, start.1 + f64::from(row) * size);
    Some([at(west, south), at(east + 1, north + 1)])
}

fn is_barred(ground: PlaceStatus) -> bool {
    matches!(ground, PlaceStatus::Closed | PlaceStatus::Water | PlaceStatus::Occupied)
}

fn is_unlooked(ground: PlaceStatus) -> bool {
    matches!(ground, PlaceStatus::Unknown | PlaceStatus::TooNear | PlaceStatus::TooFar)
}

fn ground_at(map: &Map, at: PlanPoint) -> PlaceStatus {
    map.cell_of(at).map_or(PlaceStatus::Unknown, |(column, row)| map.ground(column, row))
}

/// A place of the canvas relative to the plan's corner.
fn offset(ground: &PlanPlacement, (x, y): (f64, f64)) -> Pos2 {
    Pos2::new(screen(x), screen(y)) * ground.unit
}

/// Hatching over where nobody may stand; the same lines as the plan's own hatching of closed ground.
fn hatch(map: &Map, ground: &PlanPlacement, style: &WindowStyle, shapes: &mut Vec<Shape>) {
    let view = &ground.view;
    let (x, y) = view.point_of((0.0, 0.0));
    let root = std::f64::consts::SQRT_2;
    let (first, reach) = ((x + y) / root, (view.width_pt + view.height_pt) / root);
    let stroke = Stroke::new(style.px(0.5), style.soft());
    let step = (map.spacing_m() / view.metres_per_point).clamp(1.0, 6.0) * 0.5;
    let mut line = (-first / HATCH).ceil();
    while first + line * HATCH < reach {
        let sum = (first + line * HATCH) * root;
        line += 1.0;
        // From the lower left to the upper right, where x + y stays the same.
        let (mut x, end) = ((sum - view.height_pt).max(0.0), sum.min(view.width_pt));
        let mut from: Option<f64> = None;
        while x <= end {
            let barred = is_barred(ground_at(map, view.plan_of((x, sum - x))));
            match (barred, from) {
                (true, None) => from = Some(x),
                (false, Some(start)) => {
                    shapes.push(Shape::line_segment(
                        [offset(ground, (start, sum - start)), offset(ground, (x, sum - x))],
                        stroke,
                    ));
                    from = None;
                }
                _ => {}
            }
            x += step;
        }
        if let Some(start) = from {
            shapes.push(Shape::line_segment(
                [offset(ground, (start, sum - start)), offset(ground, (end, sum - end))],
                stroke,
            ));
        }
    }
}

/// Dots over what was not looked at.
fn dot(map: &Map, ground: &PlanPlacement, style: &WindowStyle, shapes: &mut Vec<Shape>) {
    let view = &ground.view;
    let (x, y) = view.point_of((0.0, 0.0));
    let mut mesh = Mesh::default();
    let half = Vec2::splat(style.px(0.7));
    let mut down = y.rem_euclid(DOTS);
    while down < view.height_pt {
        let mut across = x.rem_euclid(DOTS);
        while across < view.width_pt {
            let at = view.plan_of((across, down));
            let inside = map.cell_of(at).is_some();
            if inside && is_unlooked(ground_at(map, at)) {
                let centre = offset(ground, (across, down));
                mesh.add_colored_rect(Rect::from_min_max(centre - half, centre + half), style.soft());
            }
            across += DOTS;
        }
        down += DOTS;
    }
    if !mesh.is_empty() {
        shapes.push(Shape::mesh(mesh));
    }
}

/// A line around the places at which every requirement is met.
fn outline(map: &Map, ground: &PlanPlacement, style: &WindowStyle, shapes: &mut Vec<Shape>) {
    let view = &ground.view;
    if map.spacing_m() / view.metres_per_point < OUTLINED {
        return;
    }
    let (columns, rows) = shown_cells(map, ground);
    let (west, south) = map.corner();
    let size = map.spacing_m();
    let corner = |column: u32, row: u32| {
        offset(ground, view.point_of((west + f64::from(column) * size, south + f64::from(row) * size)))
    };
    let meets = |column: Option<u32>, row: Option<u32>| match (column, row) {
        (Some(column), Some(row)) => map.meets(column, row),
        _ => false,
    };
    let stroke = Stroke::new(style.px(1.1), style.ink());
    // Runs of sides that lie in one line are one line.
    for row in rows.start..=rows.end {
        let mut from = None;
        for column in columns.clone() {
            let side = meets(Some(column), row.checked_sub(1)) != meets(Some(column), Some(row));
            if side && from.is_none() {
                from = Some(column);
            } else if !side && let Some(start) = from.take() {
                shapes.push(Shape::line_segment([corner(start, row), corner(column, row)], stroke));
            }
        }
        if let Some(start) = from {
            shapes.push(Shape::line_segment([corner(start, row), corner(columns.end, row)], stroke));
        }
    }
    for column in columns.start..=columns.end {
        let mut from = None;
        for row in rows.clone() {
            let side = meets(column.checked_sub(1), Some(row)) != meets(Some(column), Some(row));
            if side && from.is_none() {
                from = Some(row);
            } else if !side && let Some(start) = from.take() {
                shapes.push(Shape::line_segment([corner(column, start), corner(column, row)], stroke));
            }
        }
        if let Some(start) = from {
            shapes.push(Shape::line_segment([corner(column, start), corner(column, rows.end)], stroke));
        }
    }
}
