//! The plan as a sheet of paper: things are picked up, moved, set down and drawn on it, with the distances that matter.

use bevy_egui::egui::{CursorIcon, EventFilter, Key, PointerButton, Pos2, Rect, Response, Ui, WidgetInfo, WidgetType};

use crate::drawing::{BlockShape, SiteShapes};
use crate::site::{Access, Block, ContourLine, Finish, Ground, PlanPoint, Shape, Site, band, free_name, outline_holds};

use super::super::context::PanelContext;
use super::super::plan::{Drawings, paper_ui};
use super::super::search_map::PlanPlacement;
use super::arrange::{chosen_by_press, copied, turned_by};
use super::grounds::{key_place, key_ui};
use super::hands::{Drag, Dragged, DrawnLine, Held, rounded};
use super::paper::Paper;
use super::shelf::on_the_shelf;
use super::state::BuildState;
use super::underlay::{card_ui, mark_under, paint_marks, paint_under};
use crate::viewer::state::desk::{Action, BuildAction, CameraMove, Picked, SiteChange};

/// A hand that comes this near a dot means it, in units of the drawing.
const NEAR: f32 = 9.0;
/// As near to a line, it is in line.
const IN_LINE: f64 = 7.0;
/// How wide a path is drawn; how thick and high a kerb (common practice, no source).
const PATH_M: f64 = 1.5;
const KERB_M: [f64; 2] = [0.15, 0.12];
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
    if let Some(at) = state.show_at.take() {
        drawings.centre(panel, at);
    }
    let covered = key_place(style, rect);
    let under = |ui: &Ui, place: &PlanPlacement| paint_under(ui, panel, &mut state.underlay, place);
    let (response, place) = paper_ui(ui, panel, drawings, rect, covered, under);
    let painter = ui.painter().with_clip_rect(rect.intersect(ui.clip_rect()));
    let site = &panel.desk.survey().model.site;
    let shapes = drawings.shapes(panel);
    let paper = Paper { style, painter: &painter, place: &place, site, shapes, units: panel.units() };
    paper.stances(panel);
    paper.chosen(panel);
    if let Some(drag) = &state.drag {
        paper.dragged(panel, drag);
    }
    paper.faults(panel, response.hover_pos());
    paper.contours(state);
    paper.drawn(state, response.hover_pos());
    if let Some(underlay) = &site.underlay {
        paint_marks(&painter, style, &state.underlay, underlay, &place);
    }
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
        (Held::Shape(_) | Held::Ground(_) | Held::Line(_) | Held::Dividers | Held::PictureMark, None) => {
            CursorIcon::Crosshair
        }
    };
    response.on_hover_cursor(cursor);
    key_ui(ui, panel, state, rect);
    card_ui(ui, panel, state, &place, actions);
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
            Held::Ground(_) | Held::Line(_) => self.draw(ui, state, actions),
            Held::Dividers => self.measure(ui, state),
            Held::PictureMark => self.mark(state),
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
            (low_x..=high_x).contains(&plan.0) && (low_y..=high_y).contains(&plan.1) && shape.holds(plan)
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
            let near = NEAR * self.panel.style.unit;
            let marked = || mark_under(state, self.site.underlay.as_ref()?, self.place, at, near);
            let what = marked().or_else(|| self.corner(at)).or_else(|| {
                let picked = self.under(at)?;
                // A ground is moved only once it is chosen: else a drag on it moves the paper.
                if matches!(picked, Picked::Ground(_)) && !chosen.contains(&picked) {
                    return None;
                }
                if chosen.contains(&picked) {
                    return Dragged::of(picked, chosen, self.site);
                }
                let pressed = chosen_by_press(self.site, picked, &[]);
                actions.push(BuildAction::Choose(pressed.clone()).into());
                Dragged::of(picked, &pressed, self.site)
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
                Some(picked) => {
                    let pressed = chosen_by_press(self.site, picked, if several { &[] } else { chosen });
                    now.extend(pressed.into_iter().filter(|one| !now.contains(one)).collect::<Vec<_>>());
                }
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
            let shape = before.solids.get(index).map(|solid| BlockShape::of(solid))?;
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
            // A point of the picture belongs on what it shows: on a corner, if there is one.
            Dragged::PictureMark { mark, pixels, before } => {
                (pixels.get(*mark).map(|pixel| before.plan_of_pixel(*pixel)).into_iter().collect(), others(&[]))
            }
            Dragged::Stance(..) => (Vec::new(), Vec::new()),
        }
    }

    /// A press sets the shape down that the hand holds.
    fn set_down(&self, state: &mut BuildState, index: usize, actions: &mut Vec<Action>) {
        let Some(at) = self.response.interact_pointer_pos().filter(|_| self.response.clicked()) else { return };
        self.set_down_at(state, index, self.on_grid(state, self.plan(at)), actions);
    }

    fn set_down_at(&self, state: &mut BuildState, index: usize, at: PlanPoint, actions: &mut Vec<Action>) {
        let Some((_, name, shape)) = on_the_shelf().into_iter().nth(index) else { return };
        let taken = |name: &str| self.site.blocks.iter().any(|block| block.name == name);
        let name = free_name(name, taken);
        let block = Block::new(name, at, shape);
        let number = self.site.blocks.len();
        actions.push(BuildAction::Change(SiteChange::AddBlocks(vec![block]), Some(vec![Picked::Block(number)])).into());
        state.held = Held::Nothing;
    }

    fn on_grid(&self, state: &BuildState, (x, y): PlanPoint) -> PlanPoint {
        let step = |value: f64| if state.grid_m > 0.0 { (value / state.grid_m).round() * state.grid_m } else { value };
        rounded((step(x), step(y)))
    }

    /// A ground or a line is drawn corner by corner; a double press or Enter ends it, a ground also a press on its first corner.
    fn draw(&self, ui: &Ui, state: &mut BuildState, actions: &mut Vec<Action>) {
        if self.response.clicked()
            && let Some(at) = self.response.interact_pointer_pos()
        {
            let near = NEAR * self.panel.style.unit;
            let closes = matches!(state.held, Held::Ground(_))
                && state.outline.first().is_some_and(|first| self.place.place(*first).distance(at) <= near);
            // Two corners that are set in quick succession are no double press.
            let last = state.outline.last().is_some_and(|last| self.place.place(*last).distance(at) <= near);
            if closes || (last && self.response.double_clicked()) {
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
        let access = match state.held {
            Held::Ground(access) => access,
            Held::Line(line) => return self.end_line(state, line, actions),
            Held::Nothing | Held::Shape(_) | Held::Dividers | Held::PictureMark => return,
        };
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

    /// What was drawn becomes a path, a kerb, or one contour more; a contour of one point is a spot height.
    fn end_line(&self, state: &mut BuildState, line: DrawnLine, actions: &mut Vec<Action>) {
        let least = if line == DrawnLine::Contour { 1 } else { 2 };
        if state.outline.len() < least {
            return;
        }
        let points = std::mem::take(&mut state.outline);
        let first = points[0];
        match line {
            DrawnLine::Path => {
                let taken = |name: &str| self.site.grounds.iter().any(|ground| ground.name == name);
                let outline = band(&points, PATH_M).into_iter().map(rounded).collect();
                let ground = Ground { name: free_name("path", taken), access: Access::Open, outline, caution: None };
                let chosen = vec![Picked::Ground(self.site.grounds.len())];
                actions.push(BuildAction::Change(SiteChange::AddGround(ground), Some(chosen)).into());
            }
            DrawnLine::Kerb => {
                let taken = |name: &str| self.site.blocks.iter().any(|block| block.name == name);
                let path = points.iter().map(|at| rounded((at.0 - first.0, at.1 - first.1))).collect();
                let [thickness_m, height_m] = KERB_M;
                let kerb = Shape::Wall { path, thickness_m, height_m };
                let block = Block { finish: Finish::Grey, ..Block::new(free_name("kerb", taken), first, kerb) };
                let chosen = vec![Picked::Block(self.site.blocks.len())];
                actions.push(BuildAction::Change(SiteChange::AddBlocks(vec![block]), Some(chosen)).into());
            }
            DrawnLine::Contour => {
                let height_m = state.contours.last().map_or(0.0, |last| last.height_m + 1.0);
                state.contours.push(ContourLine { points, height_m });
                // The next one may be drawn at once; their heights stand on the sheet of the whole site.
                actions.push(BuildAction::Choose(Vec::new()).into());
                return;
            }
        }
        state.held = Held::Nothing;
    }

    /// A press marks a point on the picture from above; two of them are enough.
    fn mark(&self, state: &mut BuildState) {
        let Some(at) = self.response.interact_pointer_pos().filter(|_| self.response.clicked()) else { return };
        let Some(underlay) = &self.site.underlay else { return };
        if state.underlay.mark(underlay, self.plan(at)) {
            state.held = Held::Nothing;
        }
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
        // In a slow frame a key may have been pressed more than once.
        let count = |key| ui.input(|input| input.num_presses(key)) as f64;
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
