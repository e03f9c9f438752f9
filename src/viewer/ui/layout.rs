//! How is the window laid out? Four desks arrange the same parts; where there is little room, parts are folded away behind a
//! word that brings them out.
//!
//! The engine runs one pass a frame: what a layout learns too late is kept for the next frame, which it asks for.

use bevy_egui::egui::{self, Pos2, Rect, ScrollArea, Sense, Stroke, StrokeKind, Ui, Vec2, WidgetInfo, WidgetType};

use super::FinderPicture;
use super::Panels;
use super::Wanted;
use super::answer::found_ui;
use super::camera::{camera_ui, steps_ui};
use super::compare::compare_ui;
use super::criteria::seek_ui;
use super::finder::finder_ui;
use super::guide::guide_strip_ui;
use super::handover::{delivery_ui, in_the_way_ui, record_ui, works_ui};
use super::help::help_ui;
use super::notices::{cautions_ui, slip_ui};
use super::plan::{gauge_ui, layered_plan_ui, places_ui, plan_ui, section_ui};
use super::preview::page_ui;
use super::prints::{strip_ui, words_ui};
use super::readings::{readings_height, readings_ui, verdict_ui};
use super::site::{asking_ui, problems_ui};
use super::status::top_ui;
use super::style::{Look, card, choice, count, focus_ring, within};
use super::table::Table;
use super::ways::{switch_ui, ways_ui};
use crate::handover::deliver::DeliveryKind;
use crate::viewer::state::desk::{Action, DeskName, SearchView, SettingAction};

/// Which card has the one free place where there is room for one only.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Fold {
    /// The instruments.
    #[default]
    Camera,
    /// The readings.
    Readings,
    /// Plan and section.
    Plan,
    /// Decks and saved stances.
    Places,
    /// Prints and captures.
    Prints,
}

impl Fold {
    const ALL: [(Self, &'static str); 5] = [
        (Self::Camera, "camera"),
        (Self::Readings, "readings"),
        (Self::Plan, "plan"),
        (Self::Places, "places"),
        (Self::Prints, "prints"),
    ];
}

/// Widths and heights below which parts are folded away, in units of the drawing.
const THREE_COLUMNS: f32 = 1060.0;
const TWO_COLUMNS: f32 = 640.0;
const LOW: f32 = 560.0;

/// Everything, from the back to the front.
pub(super) fn window(
    panels: &mut Panels,
    ui: &mut Ui,
    table: &Table<'_>,
    picture: Option<&dyn FinderPicture>,
) -> Wanted {
    let look = &table.look;
    let window = ui.ctx().content_rect();
    let mut wanted = Wanted::default();
    if window.width() < look.px(180.0) || window.height() < look.px(160.0) {
        // Too small for anything else.
        wanted.finder = Some(finder_ui(ui, table, &mut panels.tracing, window, picture, &mut wanted.actions));
        return wanted;
    }
    let inner = window.shrink2(Vec2::new(look.px(12.0), look.px(10.0)));
    let top = Rect::from_min_size(inner.min, Vec2::new(inner.width(), look.px(28.0)));
    top_ui(ui, table, &mut panels.typing, top, &mut wanted.actions);
    let below = Rect::from_min_max(Pos2::new(inner.left(), top.bottom() + look.px(6.0)), inner.max);
    let wide = window.width() >= look.px(TWO_COLUMNS);
    let body = if wide {
        let tabs = Rect::from_min_max(
            Pos2::new(window.left() + look.px(6.0), below.top()),
            Pos2::new(inner.left() + look.px(72.0), below.bottom()),
        );
        tabs_ui(ui, table, tabs, &mut wanted.actions);
        Rect::from_min_max(Pos2::new(tabs.right(), below.top()), below.max)
    } else {
        let row = Rect::from_min_size(below.min, Vec2::new(below.width(), look.px(26.0)));
        tabs_row_ui(ui, table, row, &mut wanted.actions);
        Rect::from_min_max(Pos2::new(below.left(), row.bottom() + look.px(6.0)), below.max)
    };
    match table.desk.desk_name() {
        DeskName::Walk => walk(panels, ui, table, body, picture, &mut wanted),
        DeskName::Search => search(panels, ui, table, body, &mut wanted),
        DeskName::Compare => {
            compare_ui(ui, table, &mut panels.handling, &mut panels.axes, body, &mut wanted.actions);
        }
        DeskName::HandOver => hand_over(panels, ui, table, body, picture, &mut wanted),
    }
    let over = wanted.finder.map_or(body, |place| place.shown);
    slip_ui(ui, table, &mut panels.newest, over, &mut wanted.actions);
    help_ui(ui, table, super::keys::KEYS, &mut wanted.actions);
    asking_ui(ui, table, &mut panels.typing, &mut wanted.actions);
    in_the_way_ui(ui, table, &mut wanted.actions);
    wanted
}

/// The dividers at the left edge: the desk that is open lies before its card.
fn tabs_ui(ui: &mut Ui, table: &Table<'_>, rect: Rect, actions: &mut Vec<Action>) {
    let look = &table.look;
    let now = table.desk.desk_name();
    for (index, desk) in DeskName::ALL.into_iter().enumerate() {
        let height = look.px(40.0);
        let top = rect.top() + look.px(8.0) + count(index) * (height + look.px(8.0));
        let open = desk == now;
        let right = if open { rect.right() + look.px(1.5) } else { rect.right() - look.px(4.0) };
        let tab = Rect::from_min_max(Pos2::new(rect.left(), top), Pos2::new(right, top + height));
        let response = ui.interact(tab, egui::Id::new(("desk", index)), Sense::click());
        response.widget_info(|| WidgetInfo::selected(WidgetType::SelectableLabel, true, open, desk.words()));
        let radius = egui::CornerRadius { nw: 8, sw: 8, ne: 0, se: 0 };
        let (fill, ink) = match (open, response.hovered()) {
            (true, _) => (look.panel(), look.ink()),
            (false, true) => (look.panel(), look.ink()),
            (false, false) => (look.well(), look.soft()),
        };
        ui.painter().rect(tab, radius, fill, look.hairline(), StrokeKind::Inside);
        focus_ring(ui, look, &response, tab);
        let font = if open { look.strong(12.5) } else { egui::FontId::proportional(look.px(12.5)) };
        let galley = look.fitted(ui, desk.words(), font, ink, tab.width() - look.px(10.0));
        let at = Pos2::new(tab.left() + look.px(9.0), tab.center().y - 0.5 * galley.size().y);
        ui.painter().galley(at, galley, ink);
        if response.on_hover_cursor(egui::CursorIcon::PointingHand).clicked() {
            actions.push(SettingAction::ShowDesk(desk).into());
        }
    }
}

/// The dividers along the top of a narrow window.
fn tabs_row_ui(ui: &mut Ui, table: &Table<'_>, rect: Rect, actions: &mut Vec<Action>) {
    let look = &table.look;
    within(ui, "desks", rect, |ui| {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = look.px(4.0);
            let width = (rect.width() - look.px(12.0)) / 4.0;
            for desk in DeskName::ALL {
                let open = desk == table.desk.desk_name();
                if choice(ui, look, desk.words(), desk.words(), open, width).clicked() {
                    actions.push(SettingAction::ShowDesk(desk).into());
                }
            }
        });
    });
}

/// A card with something in it.
fn filled(ui: &mut Ui, look: &Look, name: &str, rect: Rect, contents: impl FnOnce(&mut Ui)) {
    card(ui, look, rect);
    within(ui, name, rect.shrink2(Vec2::new(look.px(14.0), look.px(11.0))), contents);
}

/// A card that scrolls.
fn scrolled(ui: &mut Ui, look: &Look, name: &str, rect: Rect, contents: impl FnOnce(&mut Ui)) {
    filled(ui, look, name, rect, |ui| {
        ScrollArea::vertical().id_salt("layout 1").auto_shrink([false, false]).show(ui, contents);
    });
}

/// The height of the cautions' card, as it was laid out last.
fn cautions_height(ui: &Ui) -> f32 {
    ui.data(|data| data.get_temp(egui::Id::new("cautions height"))).unwrap_or(0.0)
}

/// What cautions and problems take of a column: what they need, to about a fifth of it.
fn beware_height(ui: &Ui, table: &Table<'_>, column: Rect) -> f32 {
    if !bewares(table) {
        return 0.0;
    }
    let look = &table.look;
    cautions_height(ui).clamp(look.px(30.0), (0.22 * column.height()).max(look.px(46.0)))
}

/// Cautions and problems of the site file, in a card of their own; it takes no more than it needs.
fn beware_ui(ui: &mut Ui, table: &Table<'_>, rect: Rect) {
    let look = &table.look;
    card(ui, look, rect);
    within(ui, "beware", rect.shrink2(Vec2::new(look.px(14.0), look.px(8.0))), |ui| {
        let top = ui.cursor().top();
        problems_ui(ui, table);
        cautions_ui(ui, table, rect.height());
        let used = ui.min_rect().bottom() - top + look.px(16.0);
        let id = egui::Id::new("cautions height");
        let before: Option<f32> = ui.data(|data| data.get_temp(id));
        if before.is_none_or(|before| (before - used).abs() > 0.5) {
            ui.data_mut(|data| data.insert_temp(id, used));
            ui.ctx().request_repaint();
        }
    });
}

/// Lays cautions and problems, where there are some, at a column's foot; what is left of it.
fn above_cautions(ui: &mut Ui, table: &Table<'_>, column: Rect, gap: f32) -> Rect {
    let height = beware_height(ui, table, column);
    if height == 0.0 {
        return column;
    }
    let top = column.bottom() - height;
    beware_ui(ui, table, Rect::from_min_max(Pos2::new(column.left(), top), column.max));
    Rect::from_min_max(column.min, Pos2::new(column.right(), top - gap))
}

fn bewares(table: &Table<'_>) -> bool {
    !table.measured().cautions.is_empty() || table.desk.site_problems().is_some()
}

/// The Walk desk: the finder is large.
fn walk(
    panels: &mut Panels,
    ui: &mut Ui,
    table: &Table<'_>,
    body: Rect,
    picture: Option<&dyn FinderPicture>,
    wanted: &mut Wanted,
) {
    let look = &table.look;
    let gap = look.px(12.0);
    let window = ui.ctx().content_rect();
    if window.width() < look.px(TWO_COLUMNS) || window.height() < look.px(420.0) {
        return walk_small(panels, ui, table, body, picture, wanted);
    }
    let three = window.width() >= look.px(THREE_COLUMNS);
    let left = Rect::from_min_size(body.min, Vec2::new(look.px(238.0), body.height()));
    let right_width = if three { look.px(270.0) } else { 0.0 };
    let right = Rect::from_min_max(Pos2::new(body.right() - right_width, body.top()), body.max);
    let middle = Rect::from_min_max(
        Pos2::new(left.right() + gap, body.top()),
        Pos2::new(if three { right.left() - gap } else { body.right() }, body.bottom()),
    );
    // Two columns leave one place for all other cards.
    if three {
        camera_card(panels, ui, table, left, wanted);
    } else {
        let folds = [Fold::Camera, Fold::Readings, Fold::Plan, Fold::Places];
        fold_ui(panels, ui, table, left, &folds, wanted);
    }
    middle_column(panels, ui, table, middle, picture, wanted);
    if three {
        right_column(panels, ui, table, right, wanted);
    }
}

fn camera_card(panels: &mut Panels, ui: &mut Ui, table: &Table<'_>, rect: Rect, wanted: &mut Wanted) {
    filled(ui, &table.look, "camera", rect, |ui| {
        camera_ui(ui, table, &mut panels.editing, &mut wanted.actions);
    });
}

/// Finder, cautions, readings, prints.
fn middle_column(
    panels: &mut Panels,
    ui: &mut Ui,
    table: &Table<'_>,
    rect: Rect,
    picture: Option<&dyn FinderPicture>,
    wanted: &mut Wanted,
) {
    let look = &table.look;
    let gap = look.px(12.0);
    let low = ui.ctx().content_rect().height() < look.px(LOW);
    let works = table.desk.works().len().min(3);
    let prints_height = look.px(if low { 30.0 } else { 118.0 });
    let against = table.desk.against().is_some();
    let figures_width = rect.width() - look.px(92.0);
    let whole_height = readings_height(look, figures_width, against) + look.px(14.0);
    // Where all of them would take the picture's room, the verdict stays and the rest is behind its word.
    let compact = whole_height > 0.36 * rect.height();
    let readings_height = if compact { look.px(34.0) } else { whole_height };
    let works_height = look.px(30.0) * count(works);
    let beware_height = beware_height(ui, table, rect);
    let taken = prints_height
        + readings_height
        + works_height
        + beware_height
        + gap * 2.0
        + if beware_height > 0.0 { gap } else { 0.0 };
    let area =
        Rect::from_min_max(rect.min, Pos2::new(rect.right(), (rect.bottom() - taken).max(rect.top() + look.px(60.0))));
    let place = finder_ui(ui, table, &mut panels.tracing, area, picture, &mut wanted.actions);
    wanted.finder = Some(place);
    let mut top = area.bottom() + gap;
    if beware_height > 0.0 {
        let strip = Rect::from_min_size(Pos2::new(rect.left(), top), Vec2::new(rect.width(), beware_height));
        beware_ui(ui, table, strip);
        top = strip.bottom() + gap;
    }
    let readings = Rect::from_min_size(Pos2::new(rect.left(), top), Vec2::new(rect.width(), readings_height));
    card(ui, look, readings);
    if compact {
        let line = readings.shrink2(Vec2::new(look.px(12.0), look.px(7.0)));
        within(ui, "verdict", line, |ui| verdict_ui(ui, table));
    } else {
        let gauge = Rect::from_min_size(
            readings.min + Vec2::splat(look.px(8.0)),
            Vec2::new(look.px(66.0), readings.height() - look.px(16.0)),
        );
        gauge_ui(ui, table, &mut panels.drawings, gauge);
        let figures = Rect::from_min_max(
            Pos2::new(gauge.right() + look.px(10.0), readings.top() + look.px(10.0)),
            readings.max - Vec2::new(look.px(8.0), look.px(4.0)),
        );
        within(ui, "readings", figures, |ui| readings_ui(ui, table, &mut wanted.actions));
    }
    top = readings.bottom() + gap;
    if works > 0 {
        let strip = Rect::from_min_size(Pos2::new(rect.left(), top), Vec2::new(rect.width(), works_height));
        within(ui, "works", strip, |ui| works_ui(ui, table, &mut wanted.actions));
        top = strip.bottom();
    }
    let prints = Rect::from_min_max(Pos2::new(rect.left(), top - look.px(4.0)), rect.max);
    if low {
        within(ui, "prints in words", prints, |ui| words_ui(ui, table, &mut wanted.actions));
    } else {
        strip_ui(ui, table, &mut panels.handling, prints, &mut wanted.actions);
        if table.desk.guide() && prints.width() > look.px(560.0) {
            let left = prints.left() + look.px(100.0);
            let strip = Rect::from_min_max(Pos2::new(left, prints.top() + look.px(4.0)), prints.max);
            guide_strip_ui(ui, table, strip, &mut wanted.actions);
        }
    }
}

/// Plan, section, places.
fn right_column(panels: &mut Panels, ui: &mut Ui, table: &Table<'_>, rect: Rect, wanted: &mut Wanted) {
    let look = &table.look;
    let gap = look.px(12.0);
    let plan = Rect::from_min_size(rect.min, Vec2::new(rect.width(), 0.40 * rect.height()));
    let section =
        Rect::from_min_size(Pos2::new(rect.left(), plan.bottom() + gap), Vec2::new(rect.width(), 0.22 * rect.height()));
    let places = Rect::from_min_max(Pos2::new(rect.left(), section.bottom() + gap), rect.max);
    card(ui, look, plan);
    plan_ui(ui, table, &mut panels.drawings, plan, &mut wanted.actions);
    edge(ui, look, plan);
    card(ui, look, section);
    section_ui(ui, table, &mut panels.drawings, section);
    edge(ui, look, section);
    filled(ui, look, "places", places, |ui| lower_ui(panels, ui, table, wanted));
}

/// Ways to straighten it, or places with a name.
fn lower_ui(panels: &mut Panels, ui: &mut Ui, table: &Table<'_>, wanted: &mut Wanted) {
    switch_ui(ui, table, &mut panels.places);
    if panels.places {
        places_ui(ui, table, &mut wanted.actions);
    } else {
        ways_ui(ui, table, &mut wanted.actions);
    }
}

/// The edge of a card that a drawing runs under.
fn edge(ui: &Ui, look: &Look, rect: Rect) {
    let table = super::style::colour(look.palette().table);
    // The card's corners are round, the drawing's are not.
    ui.painter().rect_stroke(rect, 9.0, Stroke::new(2.0, table), StrokeKind::Outside);
    ui.painter().rect_stroke(rect, 8.0, look.hairline(), StrokeKind::Inside);
}

/// One place that several cards share, each behind its word.
fn fold_ui(panels: &mut Panels, ui: &mut Ui, table: &Table<'_>, rect: Rect, folds: &[Fold], wanted: &mut Wanted) {
    let look = &table.look;
    if !folds.contains(&panels.fold) {
        panels.fold = folds.first().copied().unwrap_or_default();
    }
    let row = Rect::from_min_size(rect.min, Vec2::new(rect.width(), look.px(26.0)));
    within(ui, "folds", row, |ui| {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = look.px(4.0);
            let width = (rect.width() - look.px(4.0) * count(folds.len() - 1)) / count(folds.len());
            for (fold, word) in Fold::ALL.into_iter().filter(|(fold, _)| folds.contains(fold)) {
                if choice(ui, look, word, word, panels.fold == fold, width).clicked() {
                    panels.fold = fold;
                }
            }
        });
    });
    let rest = Rect::from_min_max(Pos2::new(rect.left(), row.bottom() + look.px(6.0)), rect.max);
    match panels.fold {
        Fold::Camera => camera_card(panels, ui, table, rest, wanted),
        Fold::Readings => scrolled(ui, look, "readings", rest, |ui| {
            problems_ui(ui, table);
            cautions_ui(ui, table, f32::INFINITY);
            ui.add_space(look.px(6.0));
            readings_ui(ui, table, &mut wanted.actions);
        }),
        Fold::Plan => {
            let middle = rest.top() + 0.62 * rest.height();
            let plan = Rect::from_min_max(rest.min, Pos2::new(rest.right(), middle - look.px(6.0)));
            let section = Rect::from_min_max(Pos2::new(rest.left(), middle + look.px(6.0)), rest.max);
            card(ui, look, plan);
            plan_ui(ui, table, &mut panels.drawings, plan, &mut wanted.actions);
            edge(ui, look, plan);
            card(ui, look, section);
            section_ui(ui, table, &mut panels.drawings, section);
            edge(ui, look, section);
        }
        Fold::Places => filled(ui, look, "places", rest, |ui| lower_ui(panels, ui, table, wanted)),
        Fold::Prints => scrolled(ui, look, "prints in words", rest, |ui| {
            words_ui(ui, table, &mut wanted.actions);
            works_ui(ui, table, &mut wanted.actions);
            steps_ui(ui, table, &mut wanted.actions);
        }),
    }
}

/// A small window: the finder, and one other card beside it or below.
fn walk_small(
    panels: &mut Panels,
    ui: &mut Ui,
    table: &Table<'_>,
    body: Rect,
    picture: Option<&dyn FinderPicture>,
    wanted: &mut Wanted,
) {
    let look = &table.look;
    let gap = look.px(8.0);
    let beside = body.width() > body.height() * 1.15;
    let (finder, other) = if beside {
        let middle = body.right() - look.px(252.0).min(0.5 * body.width());
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
    let cautioned = bewares(table);
    let strip = if cautioned { look.px(34.0).min(0.25 * finder.height()) } else { 0.0 };
    let area = Rect::from_min_max(finder.min, Pos2::new(finder.right(), finder.bottom() - strip));
    wanted.finder = Some(finder_ui(ui, table, &mut panels.tracing, area, picture, &mut wanted.actions));
    if cautioned {
        let rect = Rect::from_min_max(Pos2::new(finder.left(), area.bottom() + look.px(4.0)), finder.max);
        within(ui, "beware", rect, |ui| {
            cautions_ui(ui, table, rect.height());
        });
    }
    let all: Vec<Fold> = Fold::ALL.map(|(fold, _)| fold).to_vec();
    fold_ui(panels, ui, table, other, &all, wanted);
}

/// The Search desk: the requirements, the plan with the map, what was found.
fn search(panels: &mut Panels, ui: &mut Ui, table: &Table<'_>, body: Rect, wanted: &mut Wanted) {
    let look = &table.look;
    let gap = look.px(12.0);
    let view = table.desk.search();
    let actions = &mut wanted.actions;
    if body.width() < look.px(820.0) {
        return search_small(panels, ui, table, body, &view, actions);
    }
    let left = Rect::from_min_size(body.min, Vec2::new(look.px(238.0), body.height()));
    let side = look.px(300.0).min(0.3 * body.width());
    let right = Rect::from_min_max(Pos2::new(body.right() - side, body.top()), body.max);
    let plan =
        Rect::from_min_max(Pos2::new(left.right() + gap, body.top()), Pos2::new(right.left() - gap, body.bottom()));
    filled(ui, look, "seek", left, |ui| seek_ui(ui, table, &view, &mut panels.asking, actions));
    card(ui, look, plan);
    layered_plan_ui(ui, table, &mut panels.drawings, plan, Some((&mut panels.layer, &view)), actions);
    edge(ui, look, plan);
    filled(ui, look, "found", right, |ui| found_ui(ui, table, &view, &mut panels.finding, actions));
}

/// Which part of the Search desk is shown in a small window.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Seek {
    /// The requirements.
    #[default]
    Criteria,
    /// The plan with the map.
    Map,
    /// What was found.
    Found,
}

/// The Search desk in a small window: a row of words, and one part.
fn search_small(
    panels: &mut Panels,
    ui: &mut Ui,
    table: &Table<'_>,
    body: Rect,
    view: &SearchView<'_>,
    actions: &mut Vec<Action>,
) {
    let look = &table.look;
    let gap = look.px(8.0);
    // With some room the map stands beside the others.
    let beside = body.width() >= look.px(520.0);
    let (part, map) = if beside {
        let middle = body.left() + look.px(250.0).min(0.45 * body.width());
        (
            Rect::from_min_max(body.min, Pos2::new(middle, body.bottom())),
            Some(Rect::from_min_max(Pos2::new(middle + gap, body.top()), body.max)),
        )
    } else {
        (body, None)
    };
    let words: &[(Seek, &str)] = if beside {
        &[(Seek::Criteria, "wishes"), (Seek::Found, "found")]
    } else {
        &[(Seek::Criteria, "wishes"), (Seek::Map, "map"), (Seek::Found, "found")]
    };
    if beside && panels.seeking == Seek::Map {
        panels.seeking = Seek::Criteria;
    }
    let row = Rect::from_min_size(part.min, Vec2::new(part.width(), look.px(26.0)));
    within(ui, "parts of the search", row, |ui| {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = look.px(4.0);
            let width = (row.width() - look.px(4.0) * count(words.len() - 1)) / count(words.len());
            for &(of, word) in words {
                let name = format!("part of the search: {word}");
                if choice(ui, look, word, &name, panels.seeking == of, width).clicked() {
                    panels.seeking = of;
                }
            }
        });
    });
    let rest = Rect::from_min_max(Pos2::new(part.left(), row.bottom() + look.px(4.0)), part.max);
    match panels.seeking {
        Seek::Criteria => filled(ui, look, "seek", rest, |ui| seek_ui(ui, table, view, &mut panels.asking, actions)),
        Seek::Found => filled(ui, look, "found", rest, |ui| found_ui(ui, table, view, &mut panels.finding, actions)),
        Seek::Map => {}
    }
    if let Some(plan) = map.or_else(|| (panels.seeking == Seek::Map).then_some(rest)) {
        card(ui, look, plan);
        layered_plan_ui(ui, table, &mut panels.drawings, plan, Some((&mut panels.layer, view)), actions);
        edge(ui, look, plan);
    }
}

/// The Hand over desk: what leaves, how and where to; and what it will look like.
fn hand_over(
    panels: &mut Panels,
    ui: &mut Ui,
    table: &Table<'_>,
    body: Rect,
    picture: Option<&dyn FinderPicture>,
    wanted: &mut Wanted,
) {
    let look = &table.look;
    let gap = look.px(12.0);
    let view = table.desk.delivery();
    let narrow = body.width() < look.px(560.0);
    let left = if narrow {
        Rect::from_min_size(body.min, Vec2::new(body.width(), 0.5 * body.height() - 0.5 * gap))
    } else {
        Rect::from_min_size(body.min, Vec2::new(look.px(260.0), body.height()))
    };
    let right = if narrow {
        Rect::from_min_max(Pos2::new(body.left(), left.bottom() + gap), body.max)
    } else {
        Rect::from_min_max(Pos2::new(left.right() + gap, body.top()), body.max)
    };
    scrolled(ui, look, "delivery", left, |ui| {
        ui.set_max_width((ui.available_width() - look.px(8.0)).max(look.px(60.0)));
        delivery_ui(ui, table, &view, (&mut panels.typing, &mut panels.delivery_input), &mut wanted.actions);
    });
    if view.kind != DeliveryKind::Still {
        page_ui(ui, table, &mut panels.pages, &view, right);
        return;
    }
    if narrow {
        let record = above_cautions(ui, table, right, gap);
        filled(ui, look, "record", record, |ui| record_ui(ui, table));
        return;
    }
    let middle = right.left() + 0.58 * right.width();
    let finder = Rect::from_min_max(right.min, Pos2::new(middle - gap, right.bottom()));
    let record = Rect::from_min_max(Pos2::new(middle, right.top()), right.max);
    let finder = above_cautions(ui, table, finder, gap);
    wanted.finder = Some(finder_ui(ui, table, &mut panels.tracing, finder, picture, &mut wanted.actions));
    filled(ui, look, "record", record, |ui| record_ui(ui, table));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_fold_has_a_word_of_its_own() {
        for (index, (fold, word)) in Fold::ALL.into_iter().enumerate() {
            assert!(Fold::ALL[..index].iter().all(|(other, known)| *other != fold && *known != word));
        }
        assert!(Fold::ALL.iter().any(|(fold, _)| *fold == Fold::default()));
    }
}
