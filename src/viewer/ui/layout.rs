//! How is the window laid out? Four desks arrange the same parts; where there is little room, parts are folded away behind a
//! word that brings them out.
//!
//! The engine runs one pass a frame: what a layout learns too late is kept for the next frame, which it asks for.

use bevy_egui::egui::{self, Pos2, Rect, ScrollArea, Sense, Stroke, StrokeKind, Ui, Vec2, WidgetInfo, WidgetType};

use super::FinderPicture;
use super::answer::results_ui;
use super::camera::{camera_ui, undo_redo_ui};
use super::compare::compare_ui;
use super::context::PanelContext;
use super::criteria::criteria_ui;
use super::finder::finder_ui;
use super::guide::guide_strip_ui;
use super::handover::{delivery_ui, existing_file_ui, record_ui, works_ui};
use super::help::help_ui;
use super::notices::{cautions_ui, newest_notice_ui};
use super::panels::{Panels, SearchPart, WalkPart, WindowOutput};
use super::plan::{MapOverlay, gauge_ui, places_ui, plan_ui, section_ui};
use super::preview::page_ui;
use super::prints::{prints_list_ui, strip_ui};
use super::readings::{readings_height, readings_ui, verdict_ui};
use super::site::{problems_ui, typed_path_ui};
use super::status::top_ui;
use super::style::{WindowStyle, card, choice, count, focus_ring, within};
use super::ways::{switch_ui, ways_ui};
use crate::handover::deliver::DeliveryKind;
use crate::viewer::state::desk::{Action, DeskName, SearchView, SettingAction};

/// Widths and heights below which parts are folded away, in units of the drawing.
const THREE_COLUMNS: f32 = 1060.0;
const TWO_COLUMNS: f32 = 640.0;
const LOW: f32 = 560.0;

/// Everything, from the back to the front.
pub(super) fn window(
    panels: &mut Panels,
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    picture: Option<&dyn FinderPicture>,
) -> WindowOutput {
    let style = &panel.style;
    let window = ui.ctx().content_rect();
    let mut output = WindowOutput::default();
    if window.width() < style.px(180.0) || window.height() < style.px(160.0) {
        // Too small for anything else.
        output.finder = Some(finder_ui(ui, panel, &mut panels.overlay, window, picture, &mut output.actions));
        return output;
    }
    let inner = window.shrink2(Vec2::new(style.px(12.0), style.px(10.0)));
    let top = Rect::from_min_size(inner.min, Vec2::new(inner.width(), style.px(28.0)));
    top_ui(ui, panel, &mut panels.typed_path, top, &mut output.actions);
    let below = Rect::from_min_max(Pos2::new(inner.left(), top.bottom() + style.px(6.0)), inner.max);
    let wide = window.width() >= style.px(TWO_COLUMNS);
    let body = if wide {
        let tabs = Rect::from_min_max(
            Pos2::new(window.left() + style.px(6.0), below.top()),
            Pos2::new(inner.left() + style.px(72.0), below.bottom()),
        );
        tabs_ui(ui, panel, tabs, &mut output.actions);
        Rect::from_min_max(Pos2::new(tabs.right(), below.top()), below.max)
    } else {
        let row = Rect::from_min_size(below.min, Vec2::new(below.width(), style.px(26.0)));
        tabs_row_ui(ui, panel, row, &mut output.actions);
        Rect::from_min_max(Pos2::new(below.left(), row.bottom() + style.px(6.0)), below.max)
    };
    match panel.desk.desk_name() {
        DeskName::Walk => walk(panels, ui, panel, body, picture, &mut output),
        DeskName::Search => search(panels, ui, panel, body, &mut output),
        DeskName::Compare => {
            compare_ui(ui, panel, &mut panels.prints, &mut panels.axes, body, &mut output.actions);
        }
        DeskName::HandOver => hand_over(panels, ui, panel, body, picture, &mut output),
    }
    let over = output.finder.map_or(body, |place| place.shown);
    newest_notice_ui(ui, panel, &mut panels.newest_notice, over, &mut output.actions);
    help_ui(ui, panel, &mut output.actions);
    typed_path_ui(ui, panel, &mut panels.typed_path, &mut output.actions);
    existing_file_ui(ui, panel, &mut output.actions);
    output
}

/// The dividers at the left edge: the desk that is open lies before its card.
fn tabs_ui(ui: &mut Ui, panel: &PanelContext<'_>, rect: Rect, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let now = panel.desk.desk_name();
    for (index, desk) in DeskName::ALL.into_iter().enumerate() {
        let height = style.px(40.0);
        let top = rect.top() + style.px(8.0) + count(index) * (height + style.px(8.0));
        let open = desk == now;
        let right = if open { rect.right() + style.px(1.5) } else { rect.right() - style.px(4.0) };
        let tab = Rect::from_min_max(Pos2::new(rect.left(), top), Pos2::new(right, top + height));
        let response = ui.interact(tab, egui::Id::new(("desk", index)), Sense::click());
        response.widget_info(|| WidgetInfo::selected(WidgetType::SelectableLabel, true, open, desk.words()));
        let radius = egui::CornerRadius { nw: 8, sw: 8, ne: 0, se: 0 };
        let (fill, ink) = match (open, response.hovered()) {
            (true, _) => (style.panel(), style.ink()),
            (false, true) => (style.panel(), style.ink()),
            (false, false) => (style.well(), style.soft()),
        };
        ui.painter().rect(tab, radius, fill, style.hairline(), StrokeKind::Inside);
        focus_ring(ui, style, &response, tab);
        let font = if open { style.strong(12.5) } else { egui::FontId::proportional(style.px(12.5)) };
        let galley = style.fitted(ui, desk.words(), font, ink, tab.width() - style.px(10.0));
        let at = Pos2::new(tab.left() + style.px(9.0), tab.center().y - 0.5 * galley.size().y);
        ui.painter().galley(at, galley, ink);
        if response.on_hover_cursor(egui::CursorIcon::PointingHand).clicked() {
            actions.push(SettingAction::ShowDesk(desk).into());
        }
    }
}

/// The dividers along the top of a narrow window.
fn tabs_row_ui(ui: &mut Ui, panel: &PanelContext<'_>, rect: Rect, actions: &mut Vec<Action>) {
    let style = &panel.style;
    within(ui, "desks", rect, |ui| {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = style.px(4.0);
            let width = (rect.width() - style.px(12.0)) / 4.0;
            for desk in DeskName::ALL {
                let open = desk == panel.desk.desk_name();
                if choice(ui, style, desk.words(), desk.words(), open, width).clicked() {
                    actions.push(SettingAction::ShowDesk(desk).into());
                }
            }
        });
    });
}

/// A card with something in it.
fn filled(ui: &mut Ui, style: &WindowStyle, name: &str, rect: Rect, contents: impl FnOnce(&mut Ui)) {
    card(ui, style, rect);
    within(ui, name, rect.shrink2(Vec2::new(style.px(14.0), style.px(11.0))), contents);
}

/// A card that scrolls.
fn scrolled(ui: &mut Ui, style: &WindowStyle, name: &str, rect: Rect, contents: impl FnOnce(&mut Ui)) {
    filled(ui, style, name, rect, |ui| {
        ScrollArea::vertical().id_salt("layout 1").auto_shrink([false, false]).show(ui, contents);
    });
}

/// The height of the cautions' card, as it was laid out last.
fn cautions_height(ui: &Ui) -> f32 {
    ui.data(|data| data.get_temp(egui::Id::new("cautions height"))).unwrap_or(0.0)
}

/// What cautions and problems take of a column: what they need, to about a fifth of it.
fn caution_strip_height(ui: &Ui, panel: &PanelContext<'_>, column: Rect) -> f32 {
    if !has_cautions(panel) {
        return 0.0;
    }
    let style = &panel.style;
    cautions_height(ui).clamp(style.px(30.0), (0.22 * column.height()).max(style.px(46.0)))
}

/// Cautions and problems of the site file, in a card of their own; it takes no more than it needs.
fn caution_strip_ui(ui: &mut Ui, panel: &PanelContext<'_>, rect: Rect) {
    let style = &panel.style;
    card(ui, style, rect);
    within(ui, "beware", rect.shrink2(Vec2::new(style.px(14.0), style.px(8.0))), |ui| {
        let top = ui.cursor().top();
        problems_ui(ui, panel);
        cautions_ui(ui, panel, rect.height());
        let used = ui.min_rect().bottom() - top + style.px(16.0);
        let id = egui::Id::new("cautions height");
        let before: Option<f32> = ui.data(|data| data.get_temp(id));
        if before.is_none_or(|before| (before - used).abs() > 0.5) {
            ui.data_mut(|data| data.insert_temp(id, used));
            ui.ctx().request_repaint();
        }
    });
}

/// Lays cautions and problems, where there are some, at a column's foot; what is left of it.
fn above_cautions(ui: &mut Ui, panel: &PanelContext<'_>, column: Rect, gap: f32) -> Rect {
    let height = caution_strip_height(ui, panel, column);
    if height == 0.0 {
        return column;
    }
    let top = column.bottom() - height;
    caution_strip_ui(ui, panel, Rect::from_min_max(Pos2::new(column.left(), top), column.max));
    Rect::from_min_max(column.min, Pos2::new(column.right(), top - gap))
}

fn has_cautions(panel: &PanelContext<'_>) -> bool {
    !panel.measured().cautions.is_empty() || panel.desk.site_problems().is_some()
}

/// The Walk desk: the finder is large.
fn walk(
    panels: &mut Panels,
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    body: Rect,
    picture: Option<&dyn FinderPicture>,
    output: &mut WindowOutput,
) {
    let style = &panel.style;
    let gap = style.px(12.0);
    let window = ui.ctx().content_rect();
    if window.width() < style.px(TWO_COLUMNS) || window.height() < style.px(420.0) {
        return walk_small(panels, ui, panel, body, picture, output);
    }
    let three = window.width() >= style.px(THREE_COLUMNS);
    let left = Rect::from_min_size(body.min, Vec2::new(style.px(238.0), body.height()));
    let right_width = if three { style.px(270.0) } else { 0.0 };
    let right = Rect::from_min_max(Pos2::new(body.right() - right_width, body.top()), body.max);
    let middle = Rect::from_min_max(
        Pos2::new(left.right() + gap, body.top()),
        Pos2::new(if three { right.left() - gap } else { body.right() }, body.bottom()),
    );
    // Two columns leave one place for all other cards.
    if three {
        camera_card(panels, ui, panel, left, output);
    } else {
        let parts = [WalkPart::Camera, WalkPart::Readings, WalkPart::Plan, WalkPart::Ways];
        walk_part_ui(panels, ui, panel, left, &parts, output);
    }
    middle_column(panels, ui, panel, middle, picture, output);
    if three {
        right_column(panels, ui, panel, right, output);
    }
}

fn camera_card(panels: &mut Panels, ui: &mut Ui, panel: &PanelContext<'_>, rect: Rect, output: &mut WindowOutput) {
    filled(ui, &panel.style, "camera", rect, |ui| {
        camera_ui(ui, panel, &mut panels.heights, &mut output.actions);
    });
}

/// Finder, cautions, readings, prints.
fn middle_column(
    panels: &mut Panels,
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    rect: Rect,
    picture: Option<&dyn FinderPicture>,
    output: &mut WindowOutput,
) {
    let style = &panel.style;
    let gap = style.px(12.0);
    let low = ui.ctx().content_rect().height() < style.px(LOW);
    let works = panel.desk.works().len().min(3);
    let prints_height = style.px(if low { 30.0 } else { 118.0 });
    let against = panel.desk.against().is_some();
    let figures_width = rect.width() - style.px(92.0);
    let whole_height = readings_height(style, figures_width, against) + style.px(14.0);
    // Where all of them would take the picture's room, the verdict stays and the rest is behind its word.
    let compact = whole_height > 0.36 * rect.height();
    let readings_height = if compact { style.px(34.0) } else { whole_height };
    let works_height = style.px(30.0) * count(works);
    let caution_strip_height = caution_strip_height(ui, panel, rect);
    let taken = prints_height
        + readings_height
        + works_height
        + caution_strip_height
        + gap * 2.0
        + if caution_strip_height > 0.0 { gap } else { 0.0 };
    let area =
        Rect::from_min_max(rect.min, Pos2::new(rect.right(), (rect.bottom() - taken).max(rect.top() + style.px(60.0))));
    let place = finder_ui(ui, panel, &mut panels.overlay, area, picture, &mut output.actions);
    output.finder = Some(place);
    let mut top = area.bottom() + gap;
    if caution_strip_height > 0.0 {
        let strip = Rect::from_min_size(Pos2::new(rect.left(), top), Vec2::new(rect.width(), caution_strip_height));
        caution_strip_ui(ui, panel, strip);
        top = strip.bottom() + gap;
    }
    let readings = Rect::from_min_size(Pos2::new(rect.left(), top), Vec2::new(rect.width(), readings_height));
    card(ui, style, readings);
    if compact {
        let line = readings.shrink2(Vec2::new(style.px(12.0), style.px(7.0)));
        within(ui, "verdict", line, |ui| verdict_ui(ui, panel));
    } else {
        let gauge = Rect::from_min_size(
            readings.min + Vec2::splat(style.px(8.0)),
            Vec2::new(style.px(66.0), readings.height() - style.px(16.0)),
        );
        gauge_ui(ui, panel, &mut panels.drawings, gauge);
        let figures = Rect::from_min_max(
            Pos2::new(gauge.right() + style.px(10.0), readings.top() + style.px(10.0)),
            readings.max - Vec2::new(style.px(8.0), style.px(4.0)),
        );
        within(ui, "readings", figures, |ui| readings_ui(ui, panel, &mut output.actions));
    }
    top = readings.bottom() + gap;
    if works > 0 {
        let strip = Rect::from_min_size(Pos2::new(rect.left(), top), Vec2::new(rect.width(), works_height));
        within(ui, "works", strip, |ui| works_ui(ui, panel, &mut output.actions));
        top = strip.bottom();
    }
    let prints = Rect::from_min_max(Pos2::new(rect.left(), top - style.px(4.0)), rect.max);
    if low {
        within(ui, "prints in words", prints, |ui| prints_list_ui(ui, panel, &mut output.actions));
    } else {
        strip_ui(ui, panel, &mut panels.prints, prints, &mut output.actions);
        if panel.desk.guide() && prints.width() > style.px(560.0) {
            let left = prints.left() + style.px(100.0);
            let strip = Rect::from_min_max(Pos2::new(left, prints.top() + style.px(4.0)), prints.max);
            guide_strip_ui(ui, panel, strip, &mut output.actions);
        }
    }
}

/// Plan, section, places.
fn right_column(panels: &mut Panels, ui: &mut Ui, panel: &PanelContext<'_>, rect: Rect, output: &mut WindowOutput) {
    let style = &panel.style;
    let gap = style.px(12.0);
    let plan = Rect::from_min_size(rect.min, Vec2::new(rect.width(), 0.40 * rect.height()));
    let section =
        Rect::from_min_size(Pos2::new(rect.left(), plan.bottom() + gap), Vec2::new(rect.width(), 0.22 * rect.height()));
    let places = Rect::from_min_max(Pos2::new(rect.left(), section.bottom() + gap), rect.max);
    card(ui, style, plan);
    plan_ui(ui, panel, &mut panels.drawings, plan, None, &mut output.actions);
    edge(ui, style, plan);
    card(ui, style, section);
    section_ui(ui, panel, &mut panels.drawings, section);
    edge(ui, style, section);
    filled(ui, style, "places", places, |ui| ways_or_decks_ui(panels, ui, panel, output));
}

/// Ways to straighten it, or places with a name.
fn ways_or_decks_ui(panels: &mut Panels, ui: &mut Ui, panel: &PanelContext<'_>, output: &mut WindowOutput) {
    switch_ui(ui, panel, &mut panels.decks);
    if panels.decks {
        places_ui(ui, panel, &mut output.actions);
    } else {
        ways_ui(ui, panel, &mut output.actions);
    }
}

/// The edge of a card that a drawing runs under.
fn edge(ui: &Ui, style: &WindowStyle, rect: Rect) {
    let panel = super::style::colour(style.palette().table);
    // The card's corners are round, the drawing's are not.
    ui.painter().rect_stroke(rect, 9.0, Stroke::new(2.0, panel), StrokeKind::Outside);
    ui.painter().rect_stroke(rect, 8.0, style.hairline(), StrokeKind::Inside);
}

/// One place that several cards share, each behind its word.
fn walk_part_ui(
    panels: &mut Panels,
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    rect: Rect,
    parts: &[WalkPart],
    output: &mut WindowOutput,
) {
    let style = &panel.style;
    if !parts.contains(&panels.walk_part) {
        panels.walk_part = parts.first().copied().unwrap_or_default();
    }
    let row = Rect::from_min_size(rect.min, Vec2::new(rect.width(), style.px(26.0)));
    within(ui, "folds", row, |ui| {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = style.px(4.0);
            let width = (rect.width() - style.px(4.0) * count(parts.len() - 1)) / count(parts.len());
            for (part, word) in WalkPart::ALL.into_iter().filter(|(part, _)| parts.contains(part)) {
                if choice(ui, style, word, word, panels.walk_part == part, width).clicked() {
                    panels.walk_part = part;
                }
            }
        });
    });
    let rest = Rect::from_min_max(Pos2::new(rect.left(), row.bottom() + style.px(6.0)), rect.max);
    match panels.walk_part {
        WalkPart::Camera => camera_card(panels, ui, panel, rest, output),
        WalkPart::Readings => scrolled(ui, style, "readings", rest, |ui| {
            problems_ui(ui, panel);
            cautions_ui(ui, panel, f32::INFINITY);
            ui.add_space(style.px(6.0));
            readings_ui(ui, panel, &mut output.actions);
        }),
        WalkPart::Plan => {
            let middle = rest.top() + 0.62 * rest.height();
            let plan = Rect::from_min_max(rest.min, Pos2::new(rest.right(), middle - style.px(6.0)));
            let section = Rect::from_min_max(Pos2::new(rest.left(), middle + style.px(6.0)), rest.max);
            card(ui, style, plan);
            plan_ui(ui, panel, &mut panels.drawings, plan, None, &mut output.actions);
            edge(ui, style, plan);
            card(ui, style, section);
            section_ui(ui, panel, &mut panels.drawings, section);
            edge(ui, style, section);
        }
        WalkPart::Ways => filled(ui, style, "places", rest, |ui| ways_or_decks_ui(panels, ui, panel, output)),
        WalkPart::Prints => scrolled(ui, style, "prints in words", rest, |ui| {
            prints_list_ui(ui, panel, &mut output.actions);
            works_ui(ui, panel, &mut output.actions);
            undo_redo_ui(ui, panel, &mut output.actions);
        }),
    }
}

/// A small window: the finder, and one other card beside it or below.
fn walk_small(
    panels: &mut Panels,
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    body: Rect,
    picture: Option<&dyn FinderPicture>,
    output: &mut WindowOutput,
) {
    let style = &panel.style;
    let gap = style.px(8.0);
    let beside = body.width() > body.height() * 1.15;
    let (finder, other) = if beside {
        let middle = body.right() - style.px(252.0).min(0.5 * body.width());
        (
            Rect::from_min_max(body.min, Pos2::new(middle - gap, body.bottom())),
            Rect::from_min_max(Pos2::new(middle, body.top()), body.max),
        )
    } else {
        let middle = body.top() + 0.42 * body.height();
        (
            Rect::from_min_max(body.min, Pos2::new(body.right(), middle - gap)),
            Rect::from_min_max(Pos2::new(body.left(), middle), body.max),
        )
    };
    let cautioned = has_cautions(panel);
    let strip = if cautioned { style.px(34.0).min(0.25 * finder.height()) } else { 0.0 };
    let area = Rect::from_min_max(finder.min, Pos2::new(finder.right(), finder.bottom() - strip));
    output.finder = Some(finder_ui(ui, panel, &mut panels.overlay, area, picture, &mut output.actions));
    if cautioned {
        let rect = Rect::from_min_max(Pos2::new(finder.left(), area.bottom() + style.px(4.0)), finder.max);
        within(ui, "beware", rect, |ui| {
            cautions_ui(ui, panel, rect.height());
        });
    }
    let all: Vec<WalkPart> = WalkPart::ALL.map(|(part, _)| part).to_vec();
    walk_part_ui(panels, ui, panel, other, &all, output);
}

/// The Search desk: the requirements, the plan with the map, what was found.
fn search(panels: &mut Panels, ui: &mut Ui, panel: &PanelContext<'_>, body: Rect, output: &mut WindowOutput) {
    let style = &panel.style;
    let gap = style.px(12.0);
    let view = panel.desk.search();
    let actions = &mut output.actions;
    if body.width() < style.px(820.0) {
        return search_small(panels, ui, panel, body, &view, actions);
    }
    let left = Rect::from_min_size(body.min, Vec2::new(style.px(238.0), body.height()));
    let side = style.px(300.0).min(0.3 * body.width());
    let right = Rect::from_min_max(Pos2::new(body.right() - side, body.top()), body.max);
    let plan =
        Rect::from_min_max(Pos2::new(left.right() + gap, body.top()), Pos2::new(right.left() - gap, body.bottom()));
    filled(ui, style, "seek", left, |ui| criteria_ui(ui, panel, &view, &mut panels.criteria, actions));
    card(ui, style, plan);
    let map = MapOverlay { layer: &mut panels.search_map, view: &view };
    plan_ui(ui, panel, &mut panels.drawings, plan, Some(map), actions);
    edge(ui, style, plan);
    filled(ui, style, "found", right, |ui| results_ui(ui, panel, &view, &mut panels.results, actions));
}

/// The Search desk in a small window: a row of words, and one part.
fn search_small(
    panels: &mut Panels,
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    body: Rect,
    view: &SearchView<'_>,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let gap = style.px(8.0);
    // With some room the map stands beside the others.
    let beside = body.width() >= style.px(520.0);
    let (part, map) = if beside {
        let middle = body.left() + style.px(250.0).min(0.45 * body.width());
        (
            Rect::from_min_max(body.min, Pos2::new(middle, body.bottom())),
            Some(Rect::from_min_max(Pos2::new(middle + gap, body.top()), body.max)),
        )
    } else {
        (body, None)
    };
    let words: &[(SearchPart, &str)] = if beside {
        &[(SearchPart::Criteria, "Requirements"), (SearchPart::Results, "Results")]
    } else {
        &[(SearchPart::Criteria, "Requirements"), (SearchPart::Map, "Map"), (SearchPart::Results, "Results")]
    };
    if beside && panels.search_part == SearchPart::Map {
        panels.search_part = SearchPart::Criteria;
    }
    let row = Rect::from_min_size(part.min, Vec2::new(part.width(), style.px(26.0)));
    within(ui, "parts of the search", row, |ui| {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = style.px(4.0);
            let width = (row.width() - style.px(4.0) * count(words.len() - 1)) / count(words.len());
            for &(of, word) in words {
                let name = format!("part of the search: {word}");
                if choice(ui, style, word, &name, panels.search_part == of, width).clicked() {
                    panels.search_part = of;
                }
            }
        });
    });
    let rest = Rect::from_min_max(Pos2::new(part.left(), row.bottom() + style.px(4.0)), part.max);
    match panels.search_part {
        SearchPart::Criteria => {
            filled(ui, style, "seek", rest, |ui| criteria_ui(ui, panel, view, &mut panels.criteria, actions))
        }
        SearchPart::Results => {
            filled(ui, style, "found", rest, |ui| results_ui(ui, panel, view, &mut panels.results, actions))
        }
        SearchPart::Map => {}
    }
    if let Some(plan) = map.or_else(|| (panels.search_part == SearchPart::Map).then_some(rest)) {
        card(ui, style, plan);
        let map = MapOverlay { layer: &mut panels.search_map, view };
        plan_ui(ui, panel, &mut panels.drawings, plan, Some(map), actions);
        edge(ui, style, plan);
    }
}

/// The Hand over desk: what leaves, how and where to; and what it will look like.
fn hand_over(
    panels: &mut Panels,
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    body: Rect,
    picture: Option<&dyn FinderPicture>,
    output: &mut WindowOutput,
) {
    let style = &panel.style;
    let gap = style.px(12.0);
    let view = panel.desk.delivery();
    let narrow = body.width() < style.px(560.0);
    let left = if narrow {
        Rect::from_min_size(body.min, Vec2::new(body.width(), 0.5 * body.height() - 0.5 * gap))
    } else {
        Rect::from_min_size(body.min, Vec2::new(style.px(260.0), body.height()))
    };
    let right = if narrow {
        Rect::from_min_max(Pos2::new(body.left(), left.bottom() + gap), body.max)
    } else {
        Rect::from_min_max(Pos2::new(left.right() + gap, body.top()), body.max)
    };
    scrolled(ui, style, "delivery", left, |ui| {
        ui.set_max_width((ui.available_width() - style.px(8.0)).max(style.px(60.0)));
        delivery_ui(ui, panel, &view, &mut panels.typed_path, &mut panels.delivery, &mut output.actions);
    });
    if view.kind != DeliveryKind::Still {
        page_ui(ui, panel, &mut panels.preview, &view, right);
        return;
    }
    if narrow {
        let record = above_cautions(ui, panel, right, gap);
        filled(ui, style, "record", record, |ui| record_ui(ui, panel));
        return;
    }
    let middle = right.left() + 0.58 * right.width();
    let finder = Rect::from_min_max(right.min, Pos2::new(middle - gap, right.bottom()));
    let record = Rect::from_min_max(Pos2::new(middle, right.top()), right.max);
    let finder = above_cautions(ui, panel, finder, gap);
    output.finder = Some(finder_ui(ui, panel, &mut panels.overlay, finder, picture, &mut output.actions));
    filled(ui, style, "record", record, |ui| record_ui(ui, panel));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_fold_has_a_word_of_its_own() {
        for (index, (part, word)) in WalkPart::ALL.into_iter().enumerate() {
            assert!(WalkPart::ALL[..index].iter().all(|(other, known)| *other != part && *known != word));
        }
        assert!(WalkPart::ALL.iter().any(|(part, _)| *part == WalkPart::default()));
    }
}
