//! Where am I, and where may I stand? The site from above; a click or a drag stands there.

use bevy_egui::egui::{
    self, CursorIcon, EventFilter, Key, PointerButton, Pos2, Rect, Sense, Ui, Vec2, WidgetInfo, WidgetType,
};

use crate::drawing::{Drawing, Mark, Pin, PlanRequest, PlanView, SitePlan, SiteShapes, gauge, section};
use crate::site::{Stance, Sun};
use crate::units::Units;

use super::draw::{Placing, Sheet};
use super::search_map::{Layer, Place, legend_room};
use super::style::{Look, button, focus_ring, word_button};
use super::table::Table;
use crate::viewer::state::desk::{Action, CameraMove, SearchView};

/// How much a notch of the wheel zooms.
const NOTCH: f64 = 1.25;
/// A step of the arrow keys on the plan.
const STEP_M: f64 = 0.5;

/// What decides how a drawing of the site alone looks.
#[derive(Clone, Copy, PartialEq)]
struct OfSite {
    site: u64,
    look: Look,
    units: Units,
    placing: Placing,
}

/// What decides how a drawing of a stance looks.
#[derive(Clone, PartialEq)]
struct OfStance {
    site: OfSite,
    stance: Stance,
    sun: Option<Sun>,
}

/// What decides how the stances on a plan look.
#[derive(Clone, PartialEq)]
struct OfPlan {
    stance: OfStance,
    view: PlanView,
    prints: Vec<(String, bool)>,
    /// Whether the map of a search lies under it, where there may be one.
    mapped: Option<bool>,
}

/// A site's part of a plan, ready to be shown.
struct SiteSheets {
    plan: SitePlan,
    below: Sheet,
    above: Sheet,
}

/// The stances' part of a plan, ready to be shown.
struct StanceSheets {
    field: Sheet,
    over: Sheet,
    words: String,
}

/// A section or gauge, ready to be shown.
struct Shown {
    of: OfStance,
    sheet: Sheet,
    words: String,
}

/// Drawings that are kept until something in them changes.
#[derive(Default)]
pub(super) struct Drawings {
    shapes: Option<(u64, SiteShapes)>,
    view: Option<(u64, PlanView)>,
    site: Option<((OfSite, PlanView), SiteSheets)>,
    stances: Option<(OfPlan, StanceSheets)>,
    section: Option<Shown>,
    gauge: Option<Shown>,
}

impl Drawings {
    fn shapes(&mut self, table: &Table<'_>) -> &SiteShapes {
        let version = table.desk.site_version();
        if self.shapes.as_ref().is_none_or(|(known, _)| *known != version) {
            self.shapes = Some((version, SiteShapes::of(&table.desk.survey().model)));
        }
        &self.shapes.as_ref().expect("made above").1
    }

    /// Draws anew what has changed of the plan.
    fn follow(&mut self, table: &Table<'_>, of: OfPlan) {
        let of_site = (of.stance.site, of.view);
        let (site, known) = (of_site.0, &self.site);
        let same_site = known.as_ref().is_some_and(|(known, _)| *known == of_site);
        if same_site && self.stances.as_ref().is_some_and(|(known, _)| *known == of) {
            return;
        }
        let pins: Vec<Pin> = table
            .desk
            .prints()
            .iter()
            .filter_map(|pinned| pinned.measured.as_ref().ok().map(|measured| (pinned, measured)))
            .map(|(pinned, measured)| Pin::of(&pinned.print.name, &measured.standing, None))
            .collect();
        self.shapes(table);
        let Some((_, shapes)) = &self.shapes else { return };
        let request = PlanRequest {
            survey: table.desk.survey(),
            shapes,
            measured: Some(table.measured()),
            pins: &pins,
            view: of.view,
            units: table.units(),
            titled: of.mapped.is_none(),
        };
        let sheet = |marks: &[Mark]| Sheet::of(&site.look, marks, site.placing);
        if !same_site {
            let plan = SitePlan::of(&request);
            let (below, above) = (sheet(plan.below()), sheet(plan.above()));
            self.site = Some((of_site, SiteSheets { plan, below, above }));
        }
        let Some((_, drawn)) = &self.site else { return };
        let mut plan = drawn.plan.with(&request);
        if of.mapped == Some(true) {
            // The field of view keeps its lines, but its veil would change the colours of the map.
            plan.field.retain(|mark| !matches!(mark, Mark::Area { .. }));
        }
        let (field, over) = (sheet(&plan.field), sheet(&plan.over));
        self.stances = Some((of, StanceSheets { field, over, words: plan.words }));
    }
}

fn of_stance(ui: &Ui, table: &Table<'_>, rect: Rect) -> OfStance {
    let placing = Placing { rect, scale: table.look.unit, pixels_per_point: ui.pixels_per_point() };
    OfStance {
        site: OfSite { site: table.desk.site_version(), look: table.look, units: table.units(), placing },
        stance: table.desk.stance().clone(),
        sun: table.desk.sun(),
    }
}

/// The canvas of a drawing on a rectangle of the window.
fn canvas(look: &Look, rect: Rect) -> (f64, f64) {
    (f64::from(rect.width() / look.unit), f64::from(rect.height() / look.unit))
}

/// The plan with its field of view, decks by name, grounds by access.
pub(super) fn plan_ui(ui: &mut Ui, table: &Table<'_>, drawings: &mut Drawings, rect: Rect, actions: &mut Vec<Action>) {
    layered_plan_ui(ui, table, drawings, rect, None, actions);
}

/// The plan with the map of a search under its lines.
pub(super) fn layered_plan_ui(
    ui: &mut Ui,
    table: &Table<'_>,
    drawings: &mut Drawings,
    rect: Rect,
    mut layer: Option<(&mut Layer, &SearchView<'_>)>,
    actions: &mut Vec<Action>,
) {
    let look = &table.look;
    let id = egui::Id::new("plan");
    let response = ui.interact(rect, id, Sense::click_and_drag());
    let (width_pt, height_pt) = canvas(look, rect);
    let version = table.desk.site_version();
    let eye = table.standing().pose.eye;
    let here = (eye.x, eye.y);
    let mut places = vec![here];
    if let Some((layer, found)) = &mut layer {
        places.extend(layer.looked_at(found).into_iter().flatten());
    }
    let whole = PlanView::whole(drawings.shapes(table), &places, width_pt, height_pt);
    let kept = drawings.view.filter(|(site, _)| *site == version).map(|(_, view)| view.sized(width_pt, height_pt));
    let mut view = kept.unwrap_or(whole);
    let mut moved = false;
    let on_canvas =
        |place: Pos2| (f64::from((place.x - rect.left()) / look.unit), f64::from((place.y - rect.top()) / look.unit));
    // The wheel zooms about the pointer; a drag with the other button, or with Shift, pans.
    if let Some(hand) = response.hover_pos() {
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
            view = view.zoomed(on_canvas(hand), NOTCH.powf(f64::from(notches)));
            moved = true;
        }
        if pinch != 1.0 {
            view = view.zoomed(on_canvas(hand), f64::from(pinch));
            moved = true;
        }
    }
    let shift = ui.input(|input| input.modifiers.shift);
    let pans = response.dragged_by(PointerButton::Secondary)
        || response.dragged_by(PointerButton::Middle)
        || (shift && response.dragged());
    if pans {
        let by = response.drag_delta() / look.unit;
        view = view.dragged(f64::from(by.x), f64::from(by.y));
        moved = true;
    } else if response.clicked() || response.dragged_by(PointerButton::Primary) {
        response.request_focus();
        if let Some(hand) = response.interact_pointer_pos().filter(|hand| rect.contains(*hand)) {
            let (east, north) = view.plan_of(on_canvas(hand));
            actions.push(CameraMove::StandAt(east, north).into());
        }
    }
    if response.has_focus() {
        keys(ui, id, &mut view, &mut moved, here, actions);
    }
    if moved {
        drawings.view = Some((version, view));
    }
    let mapped = layer.as_ref().is_some_and(|(_, found)| found.map.is_some());
    let prints = table.desk.prints().iter();
    drawings.follow(
        table,
        OfPlan {
            stance: of_stance(ui, table, rect),
            view,
            prints: prints.map(|pinned| (pinned.print.name.clone(), pinned.measured.is_ok())).collect(),
            mapped: layer.as_ref().map(|_| mapped),
        },
    );
    let place = Place { view, rect, unit: look.unit };
    if let Some((layer, found)) = &mut layer {
        layer.paint_under(ui, look, &place, found);
    }
    if let (Some((_, site)), Some((_, stances))) = (&drawings.site, &drawings.stances) {
        let legend = layer.as_ref().map_or(Rect::NOTHING, |(_, found)| legend_room(ui, look, &place, found));
        for sheet in [&site.below, &stances.field, &site.above] {
            sheet.paint(ui.painter());
        }
        stances.over.paint_beside(ui.painter(), legend);
        response.widget_info(|| WidgetInfo::labeled(WidgetType::Image, true, format!("plan: {}", stances.words)));
    }
    focus_ring(ui, look, &response, rect.shrink(3.0));
    let response = response.on_hover_cursor(CursorIcon::Crosshair);
    if let Some((layer, found)) = &mut layer {
        layer.paint_over(ui, table, &place, found, &response, actions);
    }
    if drawings.view.is_some_and(|(site, _)| site == version) {
        // The legend of a map has the upper left corner.
        let left = if layer.is_some() { rect.right() - look.px(88.0) } else { rect.left() + look.px(8.0) };
        let top = rect.top() + look.px(if layer.is_some() { 8.0 } else { 26.0 });
        let corner = Rect::from_min_size(Pos2::new(left, top), Vec2::new(look.px(80.0), look.px(22.0)));
        super::style::within(ui, "whole plan", corner, |ui| {
            if word_button(ui, look, "whole site", "show the whole site").clicked() {
                drawings.view = None;
            }
        });
    }
}

fn keys(ui: &Ui, id: egui::Id, view: &mut PlanView, moved: &mut bool, here: (f64, f64), actions: &mut Vec<Action>) {
    ui.memory_mut(|memory| {
        let filter = EventFilter { tab: false, horizontal_arrows: true, vertical_arrows: true, escape: false };
        memory.set_focus_lock_filter(id, filter);
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
            *view = view.dragged(-40.0 * east, 40.0 * north);
            *moved = true;
        } else {
            actions.push(CameraMove::StandAt(here.0 + STEP_M * east, here.1 + STEP_M * north).into());
        }
    }
    if zoom != 0.0 {
        *view = view.zoomed((0.5 * view.width_pt, 0.5 * view.height_pt), NOTCH.powf(zoom));
        *moved = true;
    }
}

/// The section through camera and subject.
pub(super) fn section_ui(ui: &mut Ui, table: &Table<'_>, drawings: &mut Drawings, rect: Rect) {
    shown_ui(ui, table, "section", &mut drawings.section, rect, |width_pt, height_pt| {
        section(table.desk.survey(), table.measured(), table.units(), (width_pt, height_pt), true)
    });
}

/// The plumb gauge.
pub(super) fn gauge_ui(ui: &mut Ui, table: &Table<'_>, drawings: &mut Drawings, rect: Rect) {
    shown_ui(ui, table, "plumb gauge", &mut drawings.gauge, rect, |width_pt, height_pt| {
        gauge(table.desk.survey(), table.measured(), width_pt, height_pt)
    });
}

fn shown_ui(
    ui: &mut Ui,
    table: &Table<'_>,
    name: &str,
    shown: &mut Option<Shown>,
    rect: Rect,
    draw: impl FnOnce(f64, f64) -> Drawing,
) {
    let of = of_stance(ui, table, rect);
    if shown.as_ref().is_none_or(|shown| shown.of != of) {
        let (width_pt, height_pt) = canvas(&table.look, rect);
        let drawing = draw(width_pt, height_pt);
        let sheet = Sheet::of(&table.look, &drawing.marks, of.site.placing);
        *shown = Some(Shown { of, sheet, words: drawing.words });
    }
    let Some(shown) = shown else { return };
    shown.sheet.paint(ui.painter());
    let response = ui.interact(rect, egui::Id::new(name), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Image, true, format!("{name}: {}", shown.words)));
}

/// Decks and saved stances: places that have a name.
pub(super) fn places_ui(ui: &mut Ui, table: &Table<'_>, actions: &mut Vec<Action>) {
    let look = &table.look;
    let survey = table.desk.survey();
    let model = &survey.model;
    ui.spacing_mut().item_spacing.y = look.px(2.0);
    ui.label(look.title("Places with a name"));
    let now = table.standing().footing.as_ref().and_then(|footing| footing.name.as_deref());
    let mut decks: Vec<(&str, f64, crate::site::Access)> = model
        .decks
        .iter()
        .map(|deck| (model.site.blocks[deck.block].name.as_str(), deck.height_m, deck.access))
        .collect();
    decks.sort_by(|a, b| a.0.cmp(b.0).then(b.1.total_cmp(&a.1)));
    decks.dedup_by(|a, b| a.0 == b.0);
    egui::ScrollArea::vertical().id_salt("plan 1").auto_shrink([false, false]).show(ui, |ui| {
        if !decks.is_empty() {
            ui.label(look.note("decks"));
        }
        for (name, height_m, access) in decks {
            let access = match access {
                crate::site::Access::Open => "open",
                crate::site::Access::Ask => "ask first",
                crate::site::Access::Closed => "closed",
            };
            let note = format!("{} up, {access}", table.units().length(height_m, 1));
            if row_ui(ui, look, name, &note, now == Some(name)).clicked() {
                let on = (now != Some(name)).then(|| name.to_owned());
                actions.push(CameraMove::StandOn(on).into());
            }
        }
        if !model.site.stances.is_empty() {
            ui.add_space(look.px(3.0));
            ui.label(look.note("saved with the site"));
        }
        for stance in &model.site.stances {
            let chosen = stance.name == table.desk.stance().name;
            let note = stance.note.clone().unwrap_or_else(|| stance.lens.replace('-', "–"));
            if row_ui(ui, look, &stance.name, &note, chosen).clicked() {
                actions.push(CameraMove::TakeUp(Box::new(stance.clone())).into());
            }
        }
        if now.is_some_and(|name| model.decks.iter().any(|deck| model.site.blocks[deck.block].name == name)) {
            ui.add_space(look.px(4.0));
            if button(ui, look, "Down to the ground", look.px(150.0)).clicked() {
                actions.push(CameraMove::StandOn(None).into());
            }
        }
    });
}

/// A line with a name at the left and a note at the right; it can be chosen.
pub(super) fn row_ui(ui: &mut Ui, look: &Look, name: &str, note: &str, chosen: bool) -> egui::Response {
    let (rect, response) =
        ui.allocate_exact_size(Vec2::new(ui.available_width() - look.px(4.0), look.px(22.0)), Sense::click());
    response.widget_info(|| WidgetInfo::selected(WidgetType::SelectableLabel, true, chosen, format!("{name}, {note}")));
    if response.hovered() || chosen {
        ui.painter().rect_filled(rect, 4.0, look.well());
    }
    focus_ring(ui, look, &response, rect);
    let font = if chosen { look.strong(12.5) } else { egui::FontId::proportional(look.px(12.5)) };
    let name = look.fitted(ui, name, font, look.ink(), 0.62 * rect.width());
    let left = rect.left() + look.px(4.0);
    let taken = name.size().x;
    ui.painter().galley(Pos2::new(left, rect.center().y - 0.5 * name.size().y), name, look.ink());
    let note = look.fitted(ui, note, look.caption(), look.soft(), rect.width() - taken - look.px(18.0));
    let right = rect.right() - look.px(4.0) - note.size().x;
    ui.painter().galley(Pos2::new(right, rect.center().y - 0.5 * note.size().y), note, look.soft());
    response.on_hover_cursor(CursorIcon::PointingHand)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_canvas_is_measured_in_units_of_the_drawing() {
        let look = Look::for_window(crate::theme::Theme::Paper, Vec2::new(1920.0, 1080.0), false);
        let (width_pt, height_pt) = canvas(&look, Rect::from_min_size(Pos2::ZERO, Vec2::new(300.0, 150.0)));
        assert!((width_pt * f64::from(look.unit) - 300.0).abs() < 1e-3);
        assert!((height_pt / width_pt - 0.5).abs() < 1e-6);
    }
}
