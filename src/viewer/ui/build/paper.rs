//! What is drawn on the sheet over the plan: what is chosen with its sizes and gaps, what is dragged and where it was, what is
//! being drawn and measured.

use bevy_egui::egui::{self, Align2, Pos2, Rect, Shape, Stroke, Vec2};

use crate::drawing::{BlockShape, Gap, SiteShapes};
use crate::site::{PlanPoint, Site, SnapReason};
use crate::units::Units;

use super::super::context::PanelContext;
use super::super::search_map::PlanPlacement;
use super::super::style::{WindowStyle, thinned};
use super::hands::{Drag, Dragged, Held};
use super::marks::access_colour;
use super::state::BuildState;
use crate::viewer::state::desk::Picked;

/// How far neighbours may be for their gap to be shown.
const FARTHEST_GAP_M: f64 = 25.0;

/// What is drawn on the sheet.
pub(super) struct Paper<'a> {
    pub(super) style: &'a WindowStyle,
    pub(super) painter: &'a egui::Painter,
    pub(super) place: &'a PlanPlacement,
    pub(super) site: &'a Site,
    pub(super) shapes: &'a SiteShapes,
    pub(super) units: Units,
}

impl Paper<'_> {
    pub(super) fn ring(&self, ring: &[PlanPoint]) -> Vec<Pos2> {
        ring.iter().map(|corner| self.place.place(*corner)).collect()
    }

    /// Saved stances: a dot each, with its name where there is room.
    pub(super) fn stances(&self, panel: &PanelContext<'_>) {
        let style = self.style;
        for (index, stance) in self.site.stances.iter().enumerate() {
            let at = self.place.place(stance.at);
            let chosen = panel.desk.chosen().contains(&Picked::Stance(index));
            self.painter.circle(
                at,
                style.px(4.0),
                style.panel(),
                Stroke::new(if chosen { 2.2 } else { 1.2 }, style.ink()),
            );
            if chosen {
                self.label(at + Vec2::new(0.0, -style.px(12.0)), &stance.name, Align2::CENTER_BOTTOM, true);
            }
        }
    }

    pub(super) fn label(&self, at: Pos2, text: &str, anchor: Align2, strong: bool) -> Rect {
        let style = self.style;
        let font = if strong { style.strong(13.0) } else { style.caption() };
        let galley = self.painter.layout_no_wrap(text.to_owned(), font, style.ink());
        let rect = anchor.anchor_size(at, galley.size());
        self.painter.rect_filled(rect.expand2(Vec2::new(4.0, 1.0)), 3.0, thinned(style.panel(), 0.92));
        self.painter.galley(rect.min, galley, style.ink());
        rect
    }

    /// What is chosen: its outline strong, its sizes on dimension lines, the gaps to its neighbours.
    pub(super) fn chosen(&self, panel: &PanelContext<'_>) {
        let style = self.style;
        let chosen = panel.desk.chosen();
        for picked in chosen {
            match *picked {
                Picked::Block(index) => {
                    let Some(shape) = self.shapes.blocks.get(index) else { continue };
                    for ring in &shape.rings {
                        let corners = self.ring(ring);
                        self.painter.add(Shape::closed_line(corners, Stroke::new(style.px(2.4), style.side())));
                    }
                }
                Picked::Ground(index) => {
                    let Some(ground) = self.site.grounds.get(index) else { continue };
                    let corners = self.ring(&ground.outline);
                    let colour = access_colour(style, ground.access);
                    self.painter.add(Shape::closed_line(corners.clone(), Stroke::new(style.px(2.2), colour)));
                    for corner in corners {
                        self.painter.circle(corner, style.px(4.5), style.panel(), Stroke::new(1.6, colour));
                    }
                }
                Picked::Stance(_) => {}
            }
        }
        let [Picked::Block(index)] = chosen else { return };
        let Some(shape) = self.shapes.blocks.get(*index) else { return };
        self.dimensions(shape);
        for gap in self.gaps(*index) {
            self.gap(&gap);
        }
    }

    /// The two nearest neighbours' gaps.
    fn gaps(&self, index: usize) -> Vec<Gap> {
        let Some(shape) = self.shapes.blocks.get(index) else { return Vec::new() };
        let around = |other: &BlockShape| {
            let apart = |low: f64, high: f64, other_low: f64, other_high: f64| {
                (other_low - high).max(low - other_high).max(0.0)
            };
            let ((low_x, low_y), (high_x, high_y)) = shape.bounds;
            let ((other_low_x, other_low_y), (other_high_x, other_high_y)) = other.bounds;
            apart(low_x, high_x, other_low_x, other_high_x).hypot(apart(low_y, high_y, other_low_y, other_high_y))
        };
        let near = self
            .shapes
            .blocks
            .iter()
            .enumerate()
            .filter(|(other, shape)| *other != index && !shape.rings.is_empty() && around(shape) < FARTHEST_GAP_M);
        let mut gaps: Vec<Gap> = near
            .filter_map(|(_, other)| shape.gap_to(other))
            .filter(|gap| gap.length_m > 0.01 && gap.length_m < FARTHEST_GAP_M)
            .collect();
        gaps.sort_by(|a, b| a.length_m.total_cmp(&b.length_m));
        gaps.truncate(2);
        gaps
    }

    fn gap(&self, gap: &Gap) {
        let ends = gap.ends.map(|end| self.place.place(end));
        if ends[0].distance(ends[1]) > self.style.px(14.0) {
            self.dimension(ends, &self.units.length(gap.length_m, 2));
        }
    }

    /// A dimension line with slash ends, and its number.
    fn dimension(&self, [from, to]: [Pos2; 2], text: &str) {
        let style = self.style;
        let stroke = Stroke::new(1.0, style.ink());
        self.painter.line_segment([from, to], stroke);
        let slash = Vec2::new(style.px(3.5), -style.px(3.5));
        for end in [from, to] {
            self.painter.line_segment([end - slash, end + slash], Stroke::new(1.4, style.ink()));
        }
        self.label(from + 0.5 * (to - from), text, Align2::CENTER_CENTER, false);
    }

    /// The sizes of a block's base along its two longest neighbouring sides, outside of it.
    fn dimensions(&self, shape: &BlockShape) {
        let Some(ring) = shape.rings.first().filter(|ring| (3..=8).contains(&ring.len())) else { return };
        let length = |index: usize| {
            let (a, b) = (ring[index], ring[(index + 1) % ring.len()]);
            (a.0 - b.0).hypot(a.1 - b.1)
        };
        let longest = (0..ring.len()).max_by(|a, b| length(*a).total_cmp(&length(*b))).unwrap_or(0);
        for index in [longest, (longest + 1) % ring.len()] {
            let [a, b] = [ring[index], ring[(index + 1) % ring.len()]].map(|corner| self.place.place(corner));
            if a.distance(b) < self.style.px(26.0) {
                continue;
            }
            // What is outside lies to the right of a ring that runs anticlockwise; on the screen y runs down.
            let along = (b - a).normalized();
            let off = Vec2::new(-along.y, along.x) * self.style.px(16.0);
            self.dimension([a + off, b + off], &self.units.length(length(index), 2));
        }
    }

    /// Where something is probably not as meant: a ring, with the words where the hand points.
    pub(super) fn faults(&self, panel: &PanelContext<'_>, hover: Option<Pos2>) {
        let style = self.style;
        for fault in panel.desk.site_suspects() {
            let Some(at) = fault.at.filter(|_| fault.size_m().is_some()).map(|at| self.place.place(at)) else {
                continue;
            };
            let radius = style.px(13.0);
            self.painter.circle_stroke(at, radius, Stroke::new(style.px(1.6), style.ask()));
            if hover.is_some_and(|hover| hover.distance(at) <= radius) {
                let words = fault.words(self.site, self.units);
                let galley = style.wrapped(self.painter, &words, style.caption(), style.ink(), style.px(240.0));
                let rect = Rect::from_min_size(at + Vec2::new(radius + 8.0, -0.5 * galley.size().y), galley.size());
                self.painter.rect_filled(rect.expand(6.0), 4.0, style.panel());
                self.painter.rect_stroke(rect.expand(6.0), 4.0, style.hairline(), egui::StrokeKind::Inside);
                self.painter.galley(rect.min, galley, style.ink());
            }
        }
    }

    /// What is dragged: where it was, how far it has come, and why just there.
    pub(super) fn dragged(&self, panel: &PanelContext<'_>, drag: &Drag) {
        let style = self.style;
        let before = &panel.desk.survey_before_trial().model;
        let dashed = |corners: &[Pos2]| {
            let mut closed = corners.to_vec();
            closed.extend(corners.first().copied());
            self.painter.extend(Shape::dashed_line(&closed, Stroke::new(1.2, style.soft()), 4.0, 3.0));
        };
        let over = match &drag.what {
            Dragged::Blocks(blocks) => {
                for (index, _) in blocks {
                    let Some(shape) = before.solids.get(*index).map(|solid| BlockShape::of(solid)) else { continue };
                    shape.rings.iter().for_each(|ring| dashed(&self.ring(ring)));
                }
                let first = blocks.first().and_then(|(index, _)| self.shapes.blocks.get(*index));
                first.map(|shape| self.place.place((0.5 * (shape.bounds.0.0 + shape.bounds.1.0), shape.bounds.1.1)))
            }
            Dragged::Corner { before, corner, .. } => {
                dashed(&self.ring(&before.outline));
                before.outline.get(*corner).map(|at| self.place.place((at.0 + drag.by.0, at.1 + drag.by.1)))
            }
            Dragged::Ground(_, before) => {
                dashed(&self.ring(&before.outline));
                before.outline.first().map(|at| self.place.place((at.0 + drag.by.0, at.1 + drag.by.1)))
            }
            Dragged::PictureMark { mark, pixels, before } => pixels.get(*mark).map(|pixel| {
                let (x, y) = before.plan_of_pixel(*pixel);
                self.place.place((x + drag.by.0, y + drag.by.1))
            }),
            Dragged::Stance(_, before) => Some(self.place.place((before.at.0 + drag.by.0, before.at.1 + drag.by.1))),
        };
        for reason in &drag.reasons {
            if let SnapReason::InLine { line, .. } = reason {
                self.centre_line(line.map(|end| self.place.place(end)));
            }
        }
        if let Some(over) = over {
            let moved = format!("moved {}", self.units.length(drag.by.0.hypot(drag.by.1), 2));
            let rect = self.label(over + Vec2::new(0.0, -style.px(8.0)), &moved, Align2::CENTER_BOTTOM, true);
            let lines = drag.reasons.iter().filter(|reason| matches!(reason, SnapReason::InLine { .. })).count();
            if lines > 0 {
                let words = if lines == 1 { "in line" } else { "in line both ways" };
                self.label(rect.center_top() + Vec2::new(0.0, -2.0), words, Align2::CENTER_BOTTOM, false);
            }
        }
    }

    /// A draughtsman's centre line through two places, from edge to edge.
    fn centre_line(&self, [a, b]: [Pos2; 2]) {
        let along = (b - a).normalized();
        let far = self.place.rect.size().length();
        let ends = [a - along * far, a + along * far];
        let stroke = Stroke::new(1.0, self.style.ink());
        let clipped = clipped(self.place.rect, ends);
        let Some(ends) = clipped else { return };
        // Long dash, gap, dot, gap.
        self.painter.extend(Shape::dashed_line_with_offset(&ends, stroke, &[12.0, 2.0], &[4.0, 4.0], 0.0));
    }

    /// An outline while it is drawn, and what is measured.
    pub(super) fn drawn(&self, state: &BuildState, hover: Option<Pos2>) {
        let style = self.style;
        let mut points = self.ring(&state.outline);
        if !points.is_empty() {
            let colour = match state.held {
                Held::Ground(access) => access_colour(style, access),
                Held::Nothing | Held::Shape(_) | Held::Line(_) | Held::Dividers | Held::PictureMark => style.ink(),
            };
            for point in &points {
                self.painter.circle(*point, style.px(4.0), style.panel(), Stroke::new(1.6, colour));
            }
            points.extend(hover);
            self.painter.add(Shape::line(points.clone(), Stroke::new(style.px(1.8), colour)));
            if let ([.., last], Some(hover)) = (state.outline.as_slice(), hover) {
                let here = self.place.plan_of(hover);
                let length_m = (here.0 - last.0).hypot(here.1 - last.1);
                self.label(
                    hover + Vec2::new(style.px(12.0), -style.px(8.0)),
                    &self.units.length(length_m, 2),
                    Align2::LEFT_BOTTOM,
                    false,
                );
            }
        }
        if let Some([from, to]) = state.measured {
            let (east, north) = (to.0 - from.0, to.1 - from.1);
            let bearing_deg = east.atan2(north).to_degrees().rem_euclid(360.0);
            let text = format!("{}  {bearing_deg:.1}°", self.units.length(east.hypot(north), 2));
            self.dimension([from, to].map(|end| self.place.place(end)), &text);
        }
    }
}

/// The part of a line that lies in a rectangle.
fn clipped(rect: Rect, [a, b]: [Pos2; 2]) -> Option<[Pos2; 2]> {
    let by = b - a;
    let (mut from, mut to) = (0.0_f32, 1.0_f32);
    for (start, step, low, high) in [(a.x, by.x, rect.left(), rect.right()), (a.y, by.y, rect.top(), rect.bottom())] {
        if step.abs() < 1e-6 {
            if start < low || start > high {
                return None;
            }
            continue;
        }
        let (one, other) = ((low - start) / step, (high - start) / step);
        from = from.max(one.min(other));
        to = to.min(one.max(other));
    }
    (from < to).then(|| [a + from * by, a + to * by])
}
