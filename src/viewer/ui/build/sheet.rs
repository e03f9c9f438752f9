//! The plan as a sheet of paper: things are picked up, moved, set down and drawn on it, with the distances that matter.

use bevy_egui::egui::{
    self, Align2, Color32, CursorIcon, EventFilter, Key, PointerButton, Pos2, Rect, Response, Shape, Stroke, Ui, Vec2,
    WidgetInfo, WidgetType,
};

use crate::drawing::{BlockShape, Gap, SiteShapes};
use crate::site::{
    Access, Ground, PlanPoint, Site, SnapReason, form_words, free_name, named_anew, new_block, outline_holds, palette,
    turned,
};
use crate::units::Units;

use super::super::context::PanelContext;
use super::super::plan::{Drawings, paper_ui};
use super::super::search_map::PlanPlacement;
use super::super::style::{WindowStyle, thinned};
use super::BuildState;
use super::grounds::key_ui;
use super::hands::{Drag, Dragged, Held, rounded};
use crate::viewer::state::desk::{Action, BuildAction, CameraMove, Picked, SiteChange};

/// A hand that comes this near a dot means it, in units of the drawing.
const NEAR: f32 = 9.0;
/// As near to a line, it is in line.
const IN_LINE: f64 = 7.0;
/// How far neighbours may be for their gap to be shown.
const FARTHEST_GAP_M: f64 = 25.0;
/// A turn by the keys.
const TURN_DEG: f64 = 5.0;
/// A step of the arrow keys without a grid.
const STEP_M: f64 = 0.1;

/// The sheet, and everything that hands do on it.
pub(super) fn sheet_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    state: &mut BuildState,
    drawings: &mut Drawings,
    rect: Rect,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let (response, place) = paper_ui(ui, panel, drawings, rect);
    let painter = ui.painter().with_clip_rect(rect.intersect(ui.clip_rect()));
    let site = &panel.desk.survey().model.site;
    let shapes = drawings.shapes(panel);
    let paper = Paper { style, painter: &painter, place: &place, site, shapes, units: panel.units() };
    paper.stances(panel);
    paper.chosen(panel, state);
    if let Some(drag) = &state.drag {
        paper.dragged(panel, drag);
    }
    paper.drawn(state, response.hover_pos());
    let hand = Hand { panel, site, shapes, place: &place, response: &response };
    hand.act(ui, state, actions);
    let panned = state.drag.is_none()
        && state.held == Held::Nothing
        && response.dragged_by(PointerButton::Primary)
        && !ui.input(|input| input.modifiers.shift);
    if panned {
        drawings.pan(panel, response.drag_delta() / style.unit);
    }
    let words = spoken(panel, site);
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Image, true, words.clone()));
    let cursor = match (state.held, &state.drag) {
        (_, Some(_)) => CursorIcon::Grabbing,
        (Held::Nothing, None) => CursorIcon::Default,
        (Held::Shape(_) | Held::Ground(_) | Held::Dividers, None) => CursorIcon::Crosshair,
    };
    response.on_hover_cursor(cursor);
    key_ui(ui, panel, state, rect);
}

fn spoken(panel: &PanelContext<'_>, site: &Site) -> String {
    let chosen: Vec<&str> = panel
        .desk
        .chosen()
        .iter()
        .filter_map(|picked| match *picked {
            Picked::Block(index) => site.blocks.get(index).map(|block| block.name.as_str()),
            Picked::Ground(index) => site.grounds.get(index).map(|ground| ground.name.as_str()),
            Picked::Stance(index) => site.stances.get(index).map(|stance| stance.name.as_str()),
        })
        .collect();
    let chosen = if chosen.is_empty() { "nothing chosen".to_owned() } else { format!("chosen: {}", chosen.join(", ")) };
    format!("plan with {} blocks and {} grounds; {chosen}", site.blocks.len(), site.grounds.len())
}

/// What is drawn on the sheet.
struct Paper<'a> {
    style: &'a WindowStyle,
    painter: &'a egui::Painter,
    place: &'a PlanPlacement,
    site: &'a Site,
    shapes: &'a SiteShapes,
    units: Units,
}

impl Paper<'_> {
    fn ring(&self, ring: &[PlanPoint]) -> Vec<Pos2> {
        ring.iter().map(|corner| self.place.place(*corner)).collect()
    }

    /// Saved stances: a dot each, with its name where there is room.
    fn stances(&self, panel: &PanelContext<'_>) {
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

    fn label(&self, at: Pos2, text: &str, anchor: Align2, strong: bool) -> Rect {
        let style = self.style;
        let font = if strong { style.strong(13.0) } else { style.caption() };
        let galley = self.painter.layout_no_wrap(text.to_owned(), font, style.ink());
        let rect = anchor.anchor_size(at, galley.size());
        self.painter.rect_filled(rect.expand2(Vec2::new(4.0, 1.0)), 3.0, thinned(style.panel(), 0.92));
        self.painter.galley(rect.min, galley, style.ink());
        rect
    }

    /// What is chosen: its outline strong, its sizes on dimension lines, the gaps to its neighbours.
    fn chosen(&self, panel: &PanelContext<'_>, state: &BuildState) {
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
        let (Some(shape), Some(block)) = (self.shapes.blocks.get(*index), self.site.blocks.get(*index)) else { return };
        self.dimensions(shape);
        if state.drag.is_none() {
            let middle = self.place.place(block.at);
            self.label(middle, &block.name, Align2::CENTER_CENTER, true);
        }
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

    /// What is dragged: where it was, how far it has come, and why just there.
    fn dragged(&self, panel: &PanelContext<'_>, drag: &Drag) {
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
                    let Some(shape) = before.solids.get(*index).map(BlockShape::of) else { continue };
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
    fn drawn(&self, state: &BuildState, hover: Option<Pos2>) {
        let style = self.style;
        let mut points = self.ring(&state.outline);
        if !points.is_empty() {
            let colour = match state.held {
                Held::Ground(access) => access_colour(style, access),
                Held::Nothing | Held::Shape(_) | Held::Dividers => style.ink(),
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

/// The colour of an access.
pub(super) fn access_colour(style: &WindowStyle, access: Access) -> Color32 {
    match access {
        Access::Open => style.open(),
        Access::Ask => style.ask(),
        Access::Closed => style.soft(),
    }
}

/// What a hand does on the sheet.
struct Hand<'a> {
    panel: &'a PanelContext<'a>,
    site: &'a Site,
    shapes: &'a SiteShapes,
    place: &'a PlanPlacement,
    response: &'a Response,
}

impl Hand<'_> {
    fn act(&self, ui: &Ui, state: &mut BuildState, actions: &mut Vec<Action>) {
        if self.response.clicked() || self.response.drag_started() {
            self.response.request_focus();
        }
        match state.held {
            Held::Nothing => self.pick(ui, state, actions),
            Held::Shape(index) => self.set_down(state, index, actions),
            Held::Ground(_) => self.draw(ui, state, actions),
            Held::Dividers => self.measure(ui, state),
        }
        self.keys(ui, state, actions);
    }

    fn plan(&self, at: Pos2) -> PlanPoint {
        self.place.plan_of(at)
    }

    /// What lies under a place: stances and corners before blocks, blocks before grounds.
    fn under(&self, at: Pos2) -> Option<Picked> {
        let near = NEAR * self.panel.style.unit;
        let stance = self.site.stances.iter().position(|stance| self.place.place(stance.at).distance(at) <= near);
        let plan = self.plan(at);
        let holds = |shape: &BlockShape| {
            let ((low_x, low_y), (high_x, high_y)) = shape.bounds;
            (low_x..=high_x).contains(&plan.0)
                && (low_y..=high_y).contains(&plan.1)
                && shape.rings.iter().filter(|ring| outline_holds(ring, plan)).count() % 2 == 1
        };
        // The smallest of those that lie over one another.
        let area = |shape: &BlockShape| (shape.bounds.1.0 - shape.bounds.0.0) * (shape.bounds.1.1 - shape.bounds.0.1);
        let block = (self.shapes.blocks.iter().enumerate())
            .filter(|(_, shape)| holds(shape))
            .min_by(|a, b| area(a.1).total_cmp(&area(b.1)))
            .map(|(index, _)| index);
        let ground = || self.site.grounds.iter().rposition(|ground| outline_holds(&ground.outline, plan));
        stance.map(Picked::Stance).or(block.map(Picked::Block)).or_else(|| ground().map(Picked::Ground))
    }

    /// The corner of a chosen ground under a place.
    fn corner(&self, at: Pos2) -> Option<Dragged> {
        let near = NEAR * self.panel.style.unit;
        self.panel.desk.chosen().iter().find_map(|picked| match *picked {
            Picked::Ground(index) => {
                let ground = self.site.grounds.get(index)?;
                let corner = ground.outline.iter().position(|corner| self.place.place(*corner).distance(at) <= near)?;
                Some(Dragged::Corner { ground: index, corner, before: ground.clone() })
            }
            Picked::Block(_) | Picked::Stance(_) => None,
        })
    }

    fn pick(&self, ui: &Ui, state: &mut BuildState, actions: &mut Vec<Action>) {
        let several = ui.input(|input| input.modifiers.command);
        let chosen = self.panel.desk.chosen();
        if self.response.drag_started_by(PointerButton::Primary) && !ui.input(|input| input.modifiers.shift) {
            let Some(at) = ui.input(|input| input.pointer.press_origin()) else { return };
            let from = self.plan(at);
            let what = self.corner(at).or_else(|| {
                let picked = self.under(at)?;
                // A ground is moved only once it is chosen: else a drag on it moves the paper.
                if matches!(picked, Picked::Ground(_)) && !chosen.contains(&picked) {
                    return None;
                }
                if !chosen.contains(&picked) {
                    actions.push(BuildAction::Choose(vec![picked]).into());
                }
                Dragged::of(picked, chosen, self.site)
            });
            state.drag = what.map(|what| Drag { what, from, by: (0.0, 0.0), reasons: Vec::new() });
            return;
        }
        if let Some(drag) = &mut state.drag {
            if let Some(at) = self.response.interact_pointer_pos().filter(|_| self.response.dragged()) {
                let (corners, others) = self.in_line(&drag.what);
                let free = ui.input(|input| input.modifiers.alt);
                let reach_m = if free { 0.0 } else { IN_LINE * self.place.view.metres_per_point };
                let before = drag.by;
                drag.follow(self.plan(at), &corners, &others, if free { 0.0 } else { state.grid_m }, reach_m);
                if drag.by != before {
                    actions.push(BuildAction::Try(drag.what.moved(drag.by)).into());
                }
            }
            if self.response.drag_stopped() || !self.response.dragged() {
                let drag = state.drag.take();
                actions.push(match drag.filter(|drag| drag.by != (0.0, 0.0)) {
                    Some(drag) => BuildAction::Change(drag.what.moved(drag.by), None).into(),
                    None => BuildAction::LetGo.into(),
                });
            } else if ui.input(|input| input.key_pressed(Key::Escape)) {
                state.drag = None;
                actions.push(BuildAction::LetGo.into());
            }
            return;
        }
        if self.response.clicked()
            && let Some(at) = self.response.interact_pointer_pos()
        {
            let picked = self.under(at);
            let mut now = if several { chosen.to_vec() } else { Vec::new() };
            match picked {
                Some(picked) if now.contains(&picked) => now.retain(|other| *other != picked),
                Some(picked) => now.push(picked),
                None => {}
            }
            actions.push(BuildAction::Choose(now).into());
        }
        if self.response.double_clicked()
            && let Some(at) = self.response.interact_pointer_pos()
            && let Some(Picked::Stance(index)) = self.under(at)
            && let Some(stance) = self.site.stances.get(index)
        {
            actions.push(CameraMove::TakeUp(Box::new(stance.clone())).into());
        }
    }

    /// The corners of what is dragged, as they were, and the outlines that it may be in line with.
    fn in_line(&self, what: &Dragged) -> (Vec<PlanPoint>, Vec<Vec<PlanPoint>>) {
        let before = &self.panel.desk.survey_before_trial().model;
        let ring = |index: usize| {
            let shape = before.solids.get(index).map(BlockShape::of)?;
            shape.rings.into_iter().next().filter(|ring| ring.len() <= 12)
        };
        let others = |away: &[usize]| -> Vec<Vec<PlanPoint>> {
            (self.shapes.blocks.iter().enumerate())
                .filter(|(index, _)| !away.contains(index))
                .filter_map(|(_, shape)| shape.rings.first().filter(|ring| ring.len() <= 12).cloned())
                .collect()
        };
        match what {
            Dragged::Blocks(blocks) => {
                let away: Vec<usize> = blocks.iter().map(|(index, _)| *index).collect();
                (away.first().and_then(|index| ring(*index)).unwrap_or_default(), others(&away))
            }
            Dragged::Corner { corner, before, .. } => {
                (before.outline.get(*corner).copied().into_iter().collect(), others(&[]))
            }
            Dragged::Ground(_, before) => (before.outline.clone(), others(&[])),
            Dragged::Stance(..) => (Vec::new(), Vec::new()),
        }
    }

    /// A press sets the shape down that the hand holds.
    fn set_down(&self, state: &mut BuildState, index: usize, actions: &mut Vec<Action>) {
        let Some(at) = self.response.interact_pointer_pos().filter(|_| self.response.clicked()) else { return };
        self.set_down_at(state, index, self.on_grid(state, self.plan(at)), actions);
    }

    fn set_down_at(&self, state: &mut BuildState, index: usize, at: PlanPoint, actions: &mut Vec<Action>) {
        let Some(shape) = palette().into_iter().nth(index) else { return };
        let taken = |name: &str| self.site.blocks.iter().any(|block| block.name == name);
        let name = free_name(form_words(&shape), taken);
        let block = new_block(name, at, shape);
        let number = self.site.blocks.len();
        actions.push(BuildAction::Change(SiteChange::AddBlocks(vec![block]), Some(vec![Picked::Block(number)])).into());
        state.held = Held::Nothing;
    }

    fn on_grid(&self, state: &BuildState, (x, y): PlanPoint) -> PlanPoint {
        let step = |value: f64| if state.grid_m > 0.0 { (value / state.grid_m).round() * state.grid_m } else { value };
        rounded((step(x), step(y)))
    }

    /// A ground is drawn corner by corner; a press on its first corner, a double press or Enter closes it.
    fn draw(&self, ui: &Ui, state: &mut BuildState, actions: &mut Vec<Action>) {
        if self.response.clicked()
            && let Some(at) = self.response.interact_pointer_pos()
        {
            let near = NEAR * self.panel.style.unit;
            let closes = state.outline.first().is_some_and(|first| self.place.place(*first).distance(at) <= near);
            if closes || self.response.double_clicked() {
                self.close(state, actions);
            } else {
                let corner = self.on_grid(state, self.plan(at));
                state.outline.push(corner);
            }
        }
        let has_focus = self.response.has_focus();
        if has_focus && ui.input(|input| input.key_pressed(Key::Enter)) {
            self.close(state, actions);
        }
        if has_focus && ui.input(|input| input.key_pressed(Key::Backspace)) {
            state.outline.pop();
        }
    }

    fn close(&self, state: &mut BuildState, actions: &mut Vec<Action>) {
        let Held::Ground(access) = state.held else { return };
        if state.outline.len() < 3 {
            return;
        }
        let taken = |name: &str| self.site.grounds.iter().any(|ground| ground.name == name);
        let name = free_name(
            match access {
                Access::Open => "open ground",
                Access::Ask => "ground by permission",
                Access::Closed => "closed ground",
            },
            taken,
        );
        let ground = Ground { name, access, outline: std::mem::take(&mut state.outline), caution: None };
        let number = self.site.grounds.len();
        actions.push(BuildAction::Change(SiteChange::AddGround(ground), Some(vec![Picked::Ground(number)])).into());
        state.held = Held::Nothing;
    }

    fn measure(&self, ui: &Ui, state: &mut BuildState) {
        if self.response.drag_started_by(PointerButton::Primary)
            && let Some(at) = ui.input(|input| input.pointer.press_origin())
        {
            state.measured = Some([self.plan(at); 2]);
        }
        if self.response.dragged_by(PointerButton::Primary)
            && let (Some(at), Some(measured)) = (self.response.interact_pointer_pos(), &mut state.measured)
        {
            measured[1] = self.plan(at);
        }
    }

    /// The arrows move what is chosen, brackets turn it, Delete removes it, Ctrl+D copies it; Enter sets a held shape down in
    /// the middle of the sheet, Escape puts it back.
    fn keys(&self, ui: &Ui, state: &mut BuildState, actions: &mut Vec<Action>) {
        if !self.response.has_focus() || state.drag.is_some() {
            return;
        }
        ui.memory_mut(|memory| {
            let filter = EventFilter { tab: false, horizontal_arrows: true, vertical_arrows: true, escape: true };
            memory.set_focus_lock_filter(self.response.id, filter);
        });
        let pressed = |key| ui.input(|input| input.key_pressed(key));
        if pressed(Key::Escape) {
            if state.held == Held::Nothing && state.outline.is_empty() && state.measured.is_none() {
                actions.push(BuildAction::Choose(Vec::new()).into());
            }
            (state.held, state.measured) = (Held::Nothing, None);
            state.outline.clear();
            return;
        }
        if let (Held::Shape(index), true) = (state.held, pressed(Key::Enter)) {
            let middle = self.on_grid(state, self.plan(self.place.rect.center()));
            self.set_down_at(state, index, middle, actions);
            return;
        }
        let chosen = self.panel.desk.chosen();
        let Some(first) = chosen.first() else { return };
        if pressed(Key::Delete) {
            actions.push(BuildAction::Change(SiteChange::Remove(chosen.to_vec()), Some(Vec::new())).into());
            return;
        }
        if ui.input(|input| input.modifiers.command && input.key_pressed(Key::D)) {
            actions.extend(copied(self.site, chosen));
            return;
        }
        let count = |key| f64::from(u8::from(pressed(key)));
        let step_m = if state.grid_m > 0.0 { state.grid_m } else { STEP_M };
        let by = (
            step_m * (count(Key::ArrowRight) - count(Key::ArrowLeft)),
            step_m * (count(Key::ArrowUp) - count(Key::ArrowDown)),
        );
        if by != (0.0, 0.0)
            && let Some(what) = Dragged::of(*first, chosen, self.site)
        {
            actions.push(BuildAction::Change(what.moved(by), None).into());
        }
        let turn = count(Key::CloseBracket) - count(Key::OpenBracket);
        if turn != 0.0 {
            actions.extend(turned_by(self.site, chosen, turn * TURN_DEG));
        }
    }
}

/// The chosen blocks, by their numbers.
pub(super) fn chosen_blocks(chosen: &[Picked]) -> Vec<usize> {
    chosen
        .iter()
        .filter_map(|picked| match *picked {
            Picked::Block(index) => Some(index),
            Picked::Ground(_) | Picked::Stance(_) => None,
        })
        .collect()
}

/// The chosen blocks turned clockwise, each about the first one's origin.
pub(super) fn turned_by(site: &Site, chosen: &[Picked], by_deg: f64) -> Option<Action> {
    let numbers = chosen_blocks(chosen);
    let about = site.blocks.get(*numbers.first()?)?.at;
    let blocks = numbers.iter().filter_map(|index| Some((*index, turned(site.blocks.get(*index)?, about, by_deg))));
    Some(BuildAction::Change(SiteChange::SetBlocks(blocks.collect()), None).into())
}

/// The chosen blocks once more, a little to the east.
pub(super) fn copied(site: &Site, chosen: &[Picked]) -> Option<Action> {
    let numbers = chosen_blocks(chosen);
    let blocks: Vec<_> = numbers
        .iter()
        .filter_map(|index| site.blocks.get(*index))
        .map(|block| crate::site::moved(block, (2.0, 0.0)))
        .collect();
    added(site, blocks)
}

/// More blocks, with names of their own, chosen.
pub(super) fn added(site: &Site, blocks: Vec<crate::site::Block>) -> Option<Action> {
    if blocks.is_empty() {
        return None;
    }
    let blocks = named_anew(blocks, site.blocks.iter().map(|block| block.name.as_str()));
    let from = site.blocks.len();
    let numbers = (from..from + blocks.len()).map(Picked::Block).collect();
    Some(BuildAction::Change(SiteChange::AddBlocks(blocks), Some(numbers)).into())
}
