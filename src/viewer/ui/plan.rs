//! Where am I, and where may I stand? The site from above; a click or a drag stands there.

use std::sync::Arc;

use bevy_egui::egui::{
    self, CursorIcon, EventFilter, Key, PointerButton, Pos2, Rect, Response, Sense, Ui, Vec2, WidgetInfo, WidgetType,
};

use crate::drawing::{
    Drawing, Mark, Pin, PlanLabels, PlanRequest, PlanView, SectionRequest, SitePlan, SiteShapes, gauge, section,
};
use crate::site::{PlanPoint, Stance, Sun};
use crate::survey::{Measured, Survey};
use crate::tolerance::Tolerance;
use crate::units::Units;

use super::context::PanelContext;
use super::draw::{DrawingPlacement, ScreenDrawing};
use super::search_map::{MapLayer, PlanPlacement, legend_room};
use super::style::{WindowStyle, focus_ring, text_button};
use super::sun_shadow::draw_shadow;
use crate::viewer::state::desk::{Action, CameraMove, SearchView};

/// How much a notch of the wheel zooms.
const NOTCH: f64 = 1.25;
/// A step of the arrow keys on the plan.
const STEP_M: f64 = 0.5;

/// What decides how a drawing of the site alone looks.
#[derive(Clone, Copy, PartialEq)]
struct SiteKey {
    site: u64,
    style: WindowStyle,
    units: Units,
    placing: DrawingPlacement,
}

/// What decides how a drawing of a stance looks.
#[derive(Clone, PartialEq)]
struct StanceKey {
    site: SiteKey,
    stance: Stance,
    sun: Option<Sun>,
}

/// What decides how the stances on a plan look.
#[derive(Clone, PartialEq)]
struct PlanKey {
    stance: StanceKey,
    view: PlanView,
    prints: Vec<(String, bool)>,
    /// How exactly one must stand, once that is known.
    tolerance: Option<Tolerance>,
    /// Whether the map of a search lies under it, where there may be one.
    mapped: Option<bool>,
}

/// A site's part of a plan, ready to be shown.
struct SiteDrawings {
    plan: SitePlan,
    below: ScreenDrawing,
    above: ScreenDrawing,
}

/// The stances' part of a plan, ready to be shown.
struct StanceDrawings {
    field: ScreenDrawing,
    over: ScreenDrawing,
    words: String,
}

/// A section or gauge, ready to be shown.
struct ShownDrawing {
    of: StanceKey,
    sheet: ScreenDrawing,
    words: String,
}

/// Drawings that are kept until something in them changes.
#[derive(Default)]
pub(super) struct Drawings {
    shapes: Option<(u64, Arc<Survey>, SiteShapes)>,
    view: Option<(u64, PlanView)>,
    /// The view of stance and subject, kept while it serves.
    near: Option<(u64, PlanView)>,
    site: Option<((SiteKey, PlanView), SiteDrawings)>,
    stances: Option<(PlanKey, StanceDrawings)>,
    section: Option<ShownDrawing>,
    gauge: Option<ShownDrawing>,
}

impl Drawings {
    pub(super) fn shapes(&mut self, panel: &PanelContext<'_>) -> &SiteShapes {
        let version = panel.desk.site_version();
        let survey = panel.desk.survey();
        let shapes = match self.shapes.take() {
            Some(known) if known.0 == version => known,
            Some((_, before, shapes)) => (version, Arc::clone(survey), shapes.again_of(&before.model, &survey.model)),
            None => (version, Arc::clone(survey), SiteShapes::of(&survey.model)),
        };
        &self.shapes.insert(shapes).2
    }

    /// Brings a place to the middle of the paper.
    pub(super) fn centre(&mut self, panel: &PanelContext<'_>, at: PlanPoint) {
        if let Some((opened, view)) = &mut self.view
            && *opened == panel.desk.site_opened()
        {
            view.centre = at;
        }
    }

    /// Moves the paper under the hand.
    pub(super) fn pan(&mut self, panel: &PanelContext<'_>, by_pt: Vec2) {
        if let Some((opened, view)) = &mut self.view
            && *opened == panel.desk.site_opened()
        {
            *view = view.dragged(f64::from(by_pt.x), f64::from(by_pt.y));
        }
    }

    /// The view of stance and subject; another only where the last one does not serve.
    fn near_view(&mut self, panel: &PanelContext<'_>, (width_pt, height_pt): (f64, f64)) -> PlanView {
        let opened = panel.desk.site_opened();
        let eye = panel.standing().pose.eye;
        let eye = (eye.x, eye.y);
        let survey = panel.desk.survey();
        let subject = survey.subject.as_ref().map_or(&[][..], |subject| subject.blocks.as_slice());
        let shapes = self.shapes(panel);
        if subject.is_empty() {
            return PlanView::whole(shapes, &[eye], width_pt, height_pt);
        }
        let corners = subject.iter().flat_map(|&block| [shapes.blocks[block].bounds.0, shapes.blocks[block].bounds.1]);
        let needed = PlanView::near(corners.chain([eye]), width_pt, height_pt);
        let kept = self.near.filter(|(site, view)| *site == opened && view.serves(&needed, eye));
        let (_, view) = *self.near.insert(kept.unwrap_or((opened, needed)));
        view
    }

    /// Draws anew what has changed of the plan.
    fn follow(&mut self, panel: &PanelContext<'_>, of: PlanKey) {
        let of_site = (of.stance.site, of.view);
        let (site, known) = (of_site.0, &self.site);
        let same_site = known.as_ref().is_some_and(|(known, _)| *known == of_site);
        if same_site && self.stances.as_ref().is_some_and(|(known, _)| *known == of) {
            return;
        }
        let pins: Vec<Pin> = panel
            .desk
            .prints()
            .iter()
            .filter_map(|pinned| pinned.measured.as_ref().ok().map(|measured| (pinned, measured)))
            .map(|(pinned, measured)| Pin::of(&pinned.print.name, &measured.standing, None))
            .collect();
        self.shapes(panel);
        let Some((_, _, shapes)) = &self.shapes else { return };
        // The plan draws the tolerance in the way that is chosen.
        let as_set = of.tolerance.filter(|_| panel.as_set);
        let otherwise = as_set.map(|_| Measured { tolerance: as_set, ..panel.measured().clone() });
        let request = PlanRequest {
            survey: panel.desk.survey(),
            shapes,
            measured: Some(otherwise.as_ref().unwrap_or(panel.measured())),
            pins: &pins,
            walks: &[],
            view: of.view,
            units: panel.units(),
            titled: false,
            labels: PlanLabels::default(),
        };
        let sheet = |marks: &[Mark]| ScreenDrawing::of(&site.style, marks, site.placing);
        if !same_site {
            let plan = SitePlan::of(&request);
            let (below, above) = (sheet(plan.below()), sheet(plan.above()));
            self.site = Some((of_site, SiteDrawings { plan, below, above }));
        }
        let Some((_, drawn)) = &self.site else { return };
        let mut plan = drawn.plan.with(&request);
        if of.mapped == Some(true) {
            // The field of view keeps its lines, but its veil would change the colours of the map.
            plan.field.retain(|mark| !matches!(mark, Mark::Area { .. }));
        }
        let (field, over) = (sheet(&plan.field), sheet(&plan.over));
        self.stances = Some((of, StanceDrawings { field, over, words: plan.words }));
    }
}

fn of_stance(ui: &Ui, panel: &PanelContext<'_>, rect: Rect) -> StanceKey {
    let placing = DrawingPlacement { rect, scale: panel.style.unit, pixels_per_point: ui.pixels_per_point() };
    StanceKey {
        site: SiteKey { site: panel.desk.site_version(), style: panel.style, units: panel.units(), placing },
        stance: panel.desk.stance().clone(),
        sun: panel.desk.sun(),
    }
}

/// The canvas of a drawing on a rectangle of the window.
fn canvas(style: &WindowStyle, rect: Rect) -> (f64, f64) {
    (f64::from(rect.width() / style.unit), f64::from(rect.height() / style.unit))
}

/// The map of a search, to be laid under the plan's lines.
pub(super) struct MapOverlay<'a> {
    pub(super) layer: &'a mut MapLayer,
    pub(super) view: &'a SearchView<'a>,
}

/// How the plan is looked at, while hands move it.
struct PlanNavigation {
    view: PlanView,
    moved: bool,
    /// The canvas on the window.
    rect: Rect,
    /// Points of the window to one of the canvas.
    unit: f32,
}

impl PlanNavigation {
    /// The view that hands have chosen for this site. Else, under a map, one of the whole site and of `places`; without one, one
    /// of stance and subject.
    fn start(
        panel: &PanelContext<'_>,
        drawings: &mut Drawings,
        rect: Rect,
        places: &[(f64, f64)],
        mapped: bool,
    ) -> Self {
        let (width_pt, height_pt) = canvas(&panel.style, rect);
        let opened = panel.desk.site_opened();
        let chosen = drawings.view.filter(|(site, _)| *site == opened).map(|(_, view)| view.sized(width_pt, height_pt));
        let view = match chosen {
            Some(view) => view,
            None if mapped => PlanView::whole(drawings.shapes(panel), places, width_pt, height_pt),
            None => drawings.near_view(panel, (width_pt, height_pt)),
        };
        Self { view, moved: false, rect, unit: panel.style.unit }
    }

    fn on_canvas(&self, place: Pos2) -> (f64, f64) {
        let by = (place - self.rect.min) / self.unit;
        (f64::from(by.x), f64::from(by.y))
    }

    fn zoom(&mut self, about: (f64, f64), factor: f64) {
        self.view = self.view.zoomed(about, factor);
        self.moved = true;
    }

    fn pan(&mut self, right: f64, down: f64) {
        self.view = self.view.dragged(right, down);
        self.moved = true;
    }

    /// The wheel and a pinch zoom about the pointer.
    fn follow_wheel(&mut self, ui: &Ui, response: &Response) {
        let Some(hand) = response.hover_pos() else { return };
        let (notches, pinch) = ui.input(|input| {
            let notches: f32 = input
                .events
                .iter()
                .filter_map(|event| match event {
                    egui::Event::MouseWheel { delta, unit: egui::MouseWheelUnit::Point, .. } => Some(delta.y / 50.0),
                    egui::Event::MouseWheel { delta, .. } => Some(delta.y),
                    _ => None,
                })
                .sum();
            (notches, input.zoom_delta())
        });
        if notches != 0.0 {
            self.zoom(self.on_canvas(hand), NOTCH.powf(f64::from(notches)));
        }
        if pinch != 1.0 {
            self.zoom(self.on_canvas(hand), f64::from(pinch));
        }
    }

    /// A drag with another button than the first, or with Shift, pans. Whether it does.
    fn follow_pan(&mut self, ui: &Ui, response: &Response) -> bool {
        let shift = ui.input(|input| input.modifiers.shift);
        let pans = response.dragged_by(PointerButton::Secondary)
            || response.dragged_by(PointerButton::Middle)
            || (shift && response.dragged());
        if pans {
            let by = response.drag_delta() / self.unit;
            self.pan(f64::from(by.x), f64::from(by.y));
        }
        pans
    }

    /// A click, or a plain drag, stands there. A click on the
    /// map of a search takes up the stance that was found there.
    fn follow_drag(
        &mut self,
        ui: &Ui,
        panel: &PanelContext<'_>,
        response: &Response,
        on_map: bool,
        actions: &mut Vec<Action>,
    ) {
        if self.follow_pan(ui, response) {
            return;
        }
        if response.clicked() || response.dragged_by(PointerButton::Primary) {
            response.request_focus();
            if let Some(hand) = response.interact_pointer_pos().filter(|hand| self.rect.contains(*hand)) {
                let (east, north) = self.view.plan_of(self.on_canvas(hand));
                let found = if on_map && response.clicked() { panel.desk.stance_on_map((east, north)) } else { None };
                actions.push(match found {
                    Some(stance) => CameraMove::TakeUp(Box::new(stance)).into(),
                    None => CameraMove::StandAt(east, north).into(),
                });
            }
        }
    }

    /// The arrows step from `here`, or pan with Shift; plus and minus zoom.
    fn follow_keys(&mut self, ui: &Ui, response: &Response, here: (f64, f64), actions: &mut Vec<Action>) {
        if !response.has_focus() {
            return;
        }
        ui.memory_mut(|memory| {
            let filter = EventFilter { tab: false, horizontal_arrows: true, vertical_arrows: true, escape: false };
            memory.set_focus_lock_filter(response.id, filter);
        });
        let (east, north, zoom, pan) = ui.input(|input| {
            let count = |key| f64::from(u8::from(input.key_pressed(key)));
            (
                count(Key::ArrowRight) - count(Key::ArrowLeft),
                count(Key::ArrowUp) - count(Key::ArrowDown),
                count(Key::Plus) + count(Key::Equals) - count(Key::Minus) + count(Key::PageUp) - count(Key::PageDown),
                input.modifiers.shift,
            )
        });
        if (east, north) != (0.0, 0.0) {
            if pan {
                self.pan(-40.0 * east, 40.0 * north);
            } else {
                actions.push(CameraMove::StandAt(here.0 + STEP_M * east, here.1 + STEP_M * north).into());
            }
        }
        if zoom != 0.0 {
            self.zoom((0.5 * self.view.width_pt, 0.5 * self.view.height_pt), NOTCH.powf(zoom));
        }
    }
}

/// The plan with its field of view, decks by name, grounds by access; under its lines the map of a search, if there is one.
pub(super) fn plan_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    drawings: &mut Drawings,
    rect: Rect,
    mut overlay: Option<MapOverlay<'_>>,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let response = ui.interact(rect, egui::Id::new("plan"), Sense::click_and_drag());
    let eye = panel.standing().pose.eye;
    let here = (eye.x, eye.y);
    let mut places = vec![here];
    if let Some(map) = &mut overlay {
        places.extend(map.layer.looked_at(map.view).into_iter().flatten());
    }
    let mut navigation = PlanNavigation::start(panel, drawings, rect, &places, overlay.is_some());
    navigation.follow_wheel(ui, &response);
    navigation.follow_drag(ui, panel, &response, overlay.is_some(), actions);
    navigation.follow_keys(ui, &response, here, actions);
    let view = navigation.view;
    if navigation.moved {
        drawings.view = Some((panel.desk.site_opened(), view));
    }
    drawings.follow(
        panel,
        PlanKey {
            stance: of_stance(ui, panel, rect),
            view,
            prints: panel
                .desk
                .prints()
                .iter()
                .map(|pinned| (pinned.print.name.clone(), pinned.measured.is_ok()))
                .collect(),
            tolerance: panel.tolerance().copied(),
            mapped: overlay.as_ref().map(|map| map.view.map.is_some()),
        },
    );
    let place = PlanPlacement { view, rect, unit: style.unit };
    if let Some(map) = &mut overlay {
        map.layer.paint_under(ui, style, &place, map.view);
    }
    if let (Some((_, site)), Some((_, stances))) = (&drawings.site, &drawings.stances) {
        // Labels keep off the legend of a map, or off the word in the corner.
        let legend = overlay
            .as_ref()
            .map_or(view_corner(style, rect, false), |map| legend_room(ui, style, &place, map.view, map.layer.folded));
        site.below.paint(ui.painter());
        draw_shadow(&ui.painter().with_clip_rect(rect.intersect(ui.clip_rect())), panel, &place);
        for drawing in [&stances.field, &site.above] {
            drawing.paint(ui.painter());
        }
        stances.over.paint_beside(ui.painter(), legend);
        response.widget_info(|| WidgetInfo::labeled(WidgetType::Image, true, format!("plan: {}", stances.words)));
    }
    focus_ring(ui, style, &response, rect.shrink(3.0));
    let response = response.on_hover_cursor(CursorIcon::Crosshair);
    if let Some(map) = &mut overlay {
        map.layer.paint_over(ui, panel, &place, map.view, &response, actions);
    }
    view_ui(ui, panel, drawings, &view, rect, overlay.is_some());
}

/// The plan as a sheet of paper under the hands: drawn, zoomed and panned, without the names that would lie under what is
/// `covered`. What else hands do on it is the caller's.
pub(super) fn paper_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    drawings: &mut Drawings,
    rect: Rect,
    covered: Rect,
    paint_under: impl FnOnce(&Ui, &PlanPlacement),
) -> (Response, PlanPlacement) {
    let style = &panel.style;
    let response = ui.interact(rect, egui::Id::new("plan"), Sense::click_and_drag());
    let eye = panel.standing().pose.eye;
    let mut navigation = PlanNavigation::start(panel, drawings, rect, &[(eye.x, eye.y)], true);
    navigation.follow_wheel(ui, &response);
    navigation.follow_pan(ui, &response);
    let view = navigation.view;
    // It stays as it is while the site changes under it.
    drawings.view = Some((panel.desk.site_opened(), view));
    let key = PlanKey { stance: of_stance(ui, panel, rect), view, prints: Vec::new(), tolerance: None, mapped: None };
    drawings.follow(panel, key);
    let place = PlanPlacement { view, rect, unit: style.unit };
    paint_under(ui, &place);
    if let (Some((_, site)), Some((_, stances))) = (&drawings.site, &drawings.stances) {
        site.below.paint(ui.painter());
        draw_shadow(&ui.painter().with_clip_rect(rect.intersect(ui.clip_rect())), panel, &place);
        for drawing in [&stances.field, &site.above] {
            drawing.paint(ui.painter());
        }
        stances.over.paint_beside(ui.painter(), covered);
    }
    if response.has_focus() {
        ui.painter().rect_stroke(rect.shrink(1.0), 4.0, style.control(), egui::StrokeKind::Inside);
    }
    (response, place)
}

/// Where the word stands that shows the whole site; the legend of a map has the upper left corner.
fn view_corner(style: &WindowStyle, rect: Rect, mapped: bool) -> Rect {
    let left = if mapped { rect.right() - style.px(92.0) } else { rect.left() + style.px(6.0) };
    Rect::from_min_size(Pos2::new(left, rect.top() + style.px(6.0)), Vec2::new(style.px(86.0), style.px(22.0)))
}

/// The way to the whole site, and back to where the plan opens.
fn view_ui(ui: &mut Ui, panel: &PanelContext<'_>, drawings: &mut Drawings, view: &PlanView, rect: Rect, mapped: bool) {
    let style = &panel.style;
    let opened = panel.desk.site_opened();
    let chosen = drawings.view.is_some_and(|(site, _)| site == opened);
    // Under a map the whole site is where it opens.
    if mapped && !chosen {
        return;
    }
    let (word, name) = if chosen && !mapped {
        ("Around here", "show the stance and the subject")
    } else {
        ("Whole site", "show the whole site")
    };
    let corner = view_corner(style, rect, mapped);
    super::style::within(ui, "whole plan", corner, |ui| {
        let word_width = ui.painter().layout_no_wrap(word.to_owned(), style.caption(), style.soft()).size().x;
        let plate = Rect::from_min_size(corner.min, Vec2::new(word_width + style.px(8.0), corner.height()));
        ui.painter().rect_filled(plate, 4.0, style.panel());
        if text_button(ui, style, word, name).clicked() {
            drawings.view = (!chosen).then(|| {
                let eye = panel.standing().pose.eye;
                let whole = PlanView::whole(drawings.shapes(panel), &[(eye.x, eye.y)], view.width_pt, view.height_pt);
                (opened, whole)
            });
        }
    });
}

/// The section through camera and subject.
pub(super) fn section_ui(ui: &mut Ui, panel: &PanelContext<'_>, drawings: &mut Drawings, rect: Rect) {
    shown_ui(ui, panel, "section", &mut drawings.section, rect, |width_pt, height_pt| {
        section(&SectionRequest {
            survey: panel.desk.survey(),
            measured: panel.measured(),
            units: panel.units(),
            width_pt,
            height_pt,
            titled: true,
        })
    });
}

/// The plumb gauge.
pub(super) fn gauge_ui(ui: &mut Ui, panel: &PanelContext<'_>, drawings: &mut Drawings, rect: Rect) {
    shown_ui(ui, panel, "plumb gauge", &mut drawings.gauge, rect, |width_pt, height_pt| {
        gauge(panel.desk.survey(), panel.measured(), width_pt, height_pt)
    });
}

fn shown_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    name: &str,
    shown: &mut Option<ShownDrawing>,
    rect: Rect,
    draw: impl FnOnce(f64, f64) -> Drawing,
) {
    let of = of_stance(ui, panel, rect);
    if shown.as_ref().is_none_or(|shown| shown.of != of) {
        let (width_pt, height_pt) = canvas(&panel.style, rect);
        let drawing = draw(width_pt, height_pt);
        let sheet = ScreenDrawing::of(&panel.style, &drawing.marks, of.site.placing);
        *shown = Some(ShownDrawing { of, sheet, words: drawing.words });
    }
    let Some(shown) = shown else { return };
    shown.sheet.paint(ui.painter());
    let response = ui.interact(rect, egui::Id::new(name), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Image, true, format!("{name}: {}", shown.words)));
}

/// What the feet may stand on: the ground, and each deck by its name.
pub(super) fn decks_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let model = &panel.desk.survey().model;
    ui.set_width(style.px(280.0));
    ui.spacing_mut().item_spacing.y = style.px(2.0);
    ui.label(style.title("Stand on"));
    let now = panel.standing().footing.as_ref().and_then(|footing| footing.name.as_deref());
    let mut decks: Vec<(&str, f64, crate::site::Access)> = model
        .decks
        .iter()
        .map(|deck| (model.site.blocks[deck.block].name.as_str(), deck.height_m, deck.access))
        .collect();
    decks.sort_by(|a, b| a.0.cmp(b.0).then(b.1.total_cmp(&a.1)));
    decks.dedup_by(|a, b| a.0 == b.0);
    let on_deck = decks.iter().any(|deck| Some(deck.0) == now);
    list_ui(ui, "decks", |ui| {
        if list_row_ui(ui, style, "the ground", "", !on_deck).clicked() {
            actions.push(CameraMove::StandOn(None).into());
            ui.close();
        }
        for (name, height_m, access) in decks {
            let note = format!("{} up, {}", panel.units().length(height_m, 1), access.words());
            if list_row_ui(ui, style, name, &note, now == Some(name)).clicked() {
                actions.push(CameraMove::StandOn(Some(name.to_owned())).into());
                ui.close();
            }
        }
    });
}

/// The stances that the site file names.
pub(super) fn stances_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let stances = &panel.desk.survey().model.site.stances;
    ui.set_width(style.px(300.0));
    ui.spacing_mut().item_spacing.y = style.px(2.0);
    ui.label(style.title("Saved stances"));
    if stances.is_empty() {
        ui.label(style.note("The site file names none. Pin a stance to keep it."));
    }
    list_ui(ui, "stances", |ui| {
        for stance in stances {
            let chosen = stance.name == panel.desk.stance().name;
            let note = stance.note.clone().unwrap_or_else(|| stance.lens.replace('-', "–"));
            if list_row_ui(ui, style, &stance.name, &note, chosen).clicked() {
                actions.push(CameraMove::TakeUp(Box::new(stance.clone())).into());
                ui.close();
            }
        }
    });
}

/// A list that opens over the window, no longer than there is room.
fn list_ui(ui: &mut Ui, name: &str, rows: impl FnOnce(&mut Ui)) {
    let most = 0.6 * ui.ctx().content_rect().height();
    egui::ScrollArea::vertical().id_salt(name).max_height(most).show(ui, rows);
}

/// A line with a name at the left and a note at the right; it can be chosen.
pub(super) fn list_row_ui(ui: &mut Ui, style: &WindowStyle, name: &str, note: &str, chosen: bool) -> egui::Response {
    let (rect, response) =
        ui.allocate_exact_size(Vec2::new(ui.available_width() - style.px(4.0), style.px(22.0)), Sense::click());
    response.widget_info(|| WidgetInfo::selected(WidgetType::SelectableLabel, true, chosen, format!("{name}, {note}")));
    if response.hovered() || chosen {
        ui.painter().rect_filled(rect, 4.0, style.well());
    }
    focus_ring(ui, style, &response, rect);
    let font = if chosen { style.strong(13.0) } else { style.body() };
    let name = style.fitted(ui, name, font, style.ink(), 0.62 * rect.width());
    let left = rect.left() + style.px(4.0);
    let taken = name.size().x;
    ui.painter().galley(Pos2::new(left, rect.center().y - 0.5 * name.size().y), name, style.ink());
    let note = style.fitted(ui, note, style.caption(), style.soft(), rect.width() - taken - style.px(18.0));
    let right = rect.right() - style.px(4.0) - note.size().x;
    ui.painter().galley(Pos2::new(right, rect.center().y - 0.5 * note.size().y), note, style.soft());
    response.on_hover_cursor(CursorIcon::PointingHand)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_canvas_is_measured_in_units_of_the_drawing() {
        let style = WindowStyle::for_window(crate::theme::Theme::Paper, Vec2::new(1920.0, 1080.0), 1.0, false);
        let (width_pt, height_pt) = canvas(&style, Rect::from_min_size(Pos2::ZERO, Vec2::new(300.0, 150.0)));
        assert!((width_pt * f64::from(style.unit) - 300.0).abs() < 1e-3);
        assert!((height_pt / width_pt - 0.5).abs() < 1e-6);
    }
}
