//! How is the window laid out? Four desks arrange the same parts; where there is little room, parts are folded away behind a
//! word that brings them out.
//!
//! The engine runs one pass a frame: what a layout learns too late is kept for the next frame, which it asks for.

use bevy_egui::egui::{self, Pos2, Rect, ScrollArea, Sense, Ui, Vec2, WidgetInfo, WidgetType};

use super::FinderPicture;
use super::answer::results_ui;
use super::build::build_ui;
use super::compare::compare_ui;
use super::context::PanelContext;
use super::criteria::criteria_ui;
use super::finder::finder_ui;
use super::handover::{delivery_ui, existing_file_ui, record_ui};
use super::help::help_ui;
use super::notices::{cautions_ui, newest_notice_ui};
use super::panels::{Panels, SearchPart, WindowOutput};
use super::parts::{TWO_COLUMNS, edge, filled, problem_strip};
use super::plan::{MapOverlay, plan_ui};
use super::preview::page_ui;
use super::site::typed_path_ui;
use super::status::top_ui;
use super::style::{card, choice, count, focus_ring, within};
use super::walk::walk;
use crate::handover::deliver::DeliveryKind;
use crate::viewer::state::desk::{Action, DeskName, SearchView, SettingAction};

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
    let beside_site = top_ui(ui, panel, &mut panels.typed_path, top, &mut output.actions);
    let below = Rect::from_min_max(Pos2::new(inner.left(), top.bottom() + style.px(6.0)), inner.max);
    let wide = window.width() >= style.px(TWO_COLUMNS);
    let body = if wide {
        let tabs = Rect::from_min_max(
            Pos2::new(window.left(), below.top()),
            Pos2::new(inner.left() + style.px(68.0), below.bottom()),
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
            compare_ui(ui, panel, &mut panels.prints, &mut panels.compare, body, &mut output.actions);
        }
        DeskName::HandOver => hand_over(panels, ui, panel, body, picture, &mut output),
        DeskName::Build => build_ui(panels, ui, panel, body, picture, &mut output),
    }
    newest_notice_ui(ui, panel, &mut panels.newest_notice, beside_site, &mut output.actions);
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
        let top = rect.top() + style.px(6.0) + count(index) * (height + style.px(8.0));
        let open = desk == now;
        let right = if open { rect.right() } else { rect.right() - style.px(3.0) };
        let tab = Rect::from_min_max(Pos2::new(rect.left(), top), Pos2::new(right, top + height));
        let response = ui.interact(tab, egui::Id::new(("desk", index)), Sense::click());
        response.widget_info(|| WidgetInfo::selected(WidgetType::SelectableLabel, true, open, desk.words()));
        let (fill, ink) = match (open, response.hovered()) {
            (true, _) => (style.panel(), style.ink()),
            (false, true) => (style.well(), style.ink()),
            (false, false) => (super::style::thinned(style.line(), 0.55), style.soft()),
        };
        ui.painter().rect_filled(tab, 0.0, fill);
        if open {
            let bar = Rect::from_min_max(tab.min, Pos2::new(tab.left() + style.px(4.0), tab.bottom()));
            ui.painter().rect_filled(bar, 0.0, style.ink());
        }
        focus_ring(ui, style, &response, tab.shrink(2.0));
        let font = if open { style.strong(13.0) } else { style.body() };
        let galley = style.fitted(ui, desk.words(), font, ink, tab.width() - style.px(12.0));
        let at = Pos2::new(tab.left() + style.px(10.0), tab.center().y - 0.5 * galley.size().y);
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
            let width = (rect.width() - style.px(16.0)) / count(DeskName::ALL.len());
            for desk in DeskName::ALL {
                let open = desk == panel.desk.desk_name();
                if choice(ui, style, desk.words(), desk.words(), open, width).clicked() {
                    actions.push(SettingAction::ShowDesk(desk).into());
                }
            }
        });
    });
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
    let left = Rect::from_min_size(body.min + Vec2::new(gap, 0.0), Vec2::new(style.px(232.0), body.height()));
    let sheet = Rect::from_min_max(Pos2::new(left.right() + gap, body.top()), body.max);
    card(ui, style, sheet);
    let inner = sheet.shrink(style.px(12.0));
    let side = style.px(296.0).min(0.32 * body.width());
    let right = Rect::from_min_max(Pos2::new(inner.right() - side, inner.top()), inner.max);
    let plan = Rect::from_min_max(inner.min, Pos2::new(right.left() - gap, inner.bottom()));
    within(ui, "seek", left, |ui| criteria_ui(ui, panel, &view, &mut panels.criteria, actions));
    let map = MapOverlay { layer: &mut panels.search_map, view: &view };
    plan_ui(ui, panel, &mut panels.drawings, plan, Some(map), actions);
    edge(ui, style, plan);
    within(ui, "found", right, |ui| results_ui(ui, panel, &view, &mut panels.results, actions));
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
    let left = if narrow { left } else { left.with_min_x(left.left() + gap) };
    within(ui, "delivery", left, |ui| {
        ScrollArea::vertical().id_salt("delivery").auto_shrink([false, false]).show(ui, |ui| {
            ui.set_max_width((ui.available_width() - style.px(8.0)).max(style.px(60.0)));
            delivery_ui(ui, panel, &view, &mut panels.typed_path, &mut panels.delivery, &mut output.actions);
        });
    });
    if view.kind != DeliveryKind::Still {
        page_ui(ui, panel, &mut panels.preview, &view, right);
        return;
    }
    card(ui, style, right);
    let inner = problem_strip(ui, panel, right.shrink(style.px(12.0)));
    if narrow {
        within(ui, "record", inner, |ui| {
            cautions_ui(ui, panel, 0.3 * inner.height());
            record_ui(ui, panel);
        });
        return;
    }
    let middle = inner.left() + 0.6 * inner.width();
    let finder = Rect::from_min_max(inner.min, Pos2::new(middle - gap, inner.bottom()));
    let record = Rect::from_min_max(Pos2::new(middle, inner.top()), inner.max);
    output.finder = Some(finder_ui(ui, panel, &mut panels.overlay, finder, picture, &mut output.actions));
    within(ui, "record", record, |ui| {
        cautions_ui(ui, panel, 0.3 * record.height());
        record_ui(ui, panel);
    });
}
