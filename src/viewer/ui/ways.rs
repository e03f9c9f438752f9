//! What would straighten it, and what does each way cost? Rows that can be compared: what is done, what picture comes of it,
//! how far to walk and climb. The chosen row alone has a button, which does it.

use bevy_egui::egui::text::{LayoutJob, TextWrapping};
use bevy_egui::egui::{CursorIcon, Pos2, Rect, ScrollArea, Sense, Ui, Vec2, WidgetInfo, WidgetType};

use crate::viewer::render::narrow::screen;
use crate::viewer::state::desk::{Action, CameraMove};
use crate::ways::{Effort, Figures, Mend, Remedy, Way, WayOutcome, Ways};

use super::context::PanelContext;
use super::style::{WindowStyle, button_width, count, focus_ring, main_button};

/// The height of a row, in units of the drawing.
const ROW: f32 = 38.0;
/// The height of the heading, and of the word under the rows.
const HEAD: f32 = 26.0;
/// No more rows than this are shown at first.
const FIRST_ROWS: usize = 5;
/// Narrower than this, detail and walk stand in a row's second line.
const BROAD: f32 = 420.0;

/// Which row is chosen, and whether all are shown.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct WaysState {
    /// The row that a hand chose; before that, the first that is a stance to take up.
    chosen: Option<usize>,
    /// Whether all rows are shown, over what stands below them.
    pub(super) all: bool,
}

/// The ways from where the camera stands, once they are known.
pub(super) fn ways_from_here<'a>(panel: &PanelContext<'a>) -> Option<&'a Ways> {
    let view = panel.desk.ways().filter(|view| view.elsewhere.is_none())?;
    view.found.as_ref().ok()
}

impl WaysState {
    /// Chooses the row of what is advised, and shows it.
    pub(super) fn choose(&mut self, panel: &PanelContext<'_>, mend: Mend) {
        let Some(Ok(found)) = panel.desk.ways().map(|view| view.found) else { return };
        let row = if mend.by_lens { found.rows.len() + mend.index } else { mend.index };
        self.chosen = Some(row);
        self.all |= row >= FIRST_ROWS;
    }
}

/// The ways in the order in which they are shown.
fn rows(found: &Ways) -> impl Iterator<Item = &Way> {
    found.rows.iter().chain(&found.by_lens)
}

/// The height that the ways take where `room` is left for them and what stands below.
pub(super) fn ways_height(panel: &PanelContext<'_>, state: &WaysState, room: f32, below: f32) -> f32 {
    let style = &panel.style;
    if state.all {
        return room;
    }
    let listed = panel.desk.ways().and_then(|view| view.found.as_ref().ok()).map_or(1, |found| rows(found).count());
    let fits = ((room - below - style.px(2.0 * HEAD)) / style.px(ROW)).floor().max(1.0) as usize;
    style.px(2.0 * HEAD) + style.px(ROW) * count(fits.min(listed).min(FIRST_ROWS))
}

/// The heading, the rows that find room, and the word that shows the rest.
pub(super) fn ways_ui(ui: &mut Ui, panel: &PanelContext<'_>, state: &mut WaysState, actions: &mut Vec<Action>) {
    let style = &panel.style;
    ui.spacing_mut().item_spacing = Vec2::ZERO;
    let columns = Columns::of(style, ui.available_rect_before_wrap());
    head_ui(ui, style, &columns);
    let Some(view) = panel.desk.ways() else {
        ui.label(style.note("Stand still: the ways to straighten the picture are looked for."));
        return;
    };
    let found = match view.found {
        Err(error) => {
            ui.label(style.note(error).color(style.ask()));
            return;
        }
        Ok(found) => found,
    };
    if let Some(name) = view.elsewhere {
        ui.label(style.note(format!("from {name}; updated when you stand still")));
    }
    let listed: Vec<&Way> = rows(found).collect();
    let room = ui.available_height() - style.px(HEAD);
    let fits =
        if state.all { listed.len() } else { ((room / style.px(ROW)).floor().max(1.0) as usize).min(FIRST_ROWS) };
    let shown = &listed[..fits.min(listed.len())];
    let first = shown.iter().position(|way| way.stance.is_some()).unwrap_or(0);
    let chosen = state.chosen.filter(|chosen| *chosen < shown.len()).unwrap_or(first);
    let most = listed.iter().filter_map(|way| way.figures).filter_map(|figures| figures.megapixels());
    let most_mp = most.fold(panel.standing().camera.frame.megapixels(), f64::max);
    let height = (ui.available_height() - style.px(HEAD)).max(style.px(ROW));
    ScrollArea::vertical().id_salt("ways").max_height(height).auto_shrink([false, true]).show(ui, |ui| {
        for (index, way) in shown.iter().enumerate() {
            let columns = Columns::of(style, ui.available_rect_before_wrap());
            way_ui(ui, panel, Row { index, chosen, way, most_mp, columns }, state, actions);
        }
    });
    let rest = listed.len().saturating_sub(fits);
    let impossible = listed.iter().filter(|way| way.outcome == WayOutcome::NotHere).count();
    more_ui(ui, style, rest, impossible, state);
}

/// The word that shows the other rows, or hides them again.
fn more_ui(ui: &mut Ui, style: &WindowStyle, rest: usize, impossible: usize, state: &mut WaysState) {
    if rest == 0 && !state.all {
        return;
    }
    ui.horizontal(|ui| {
        let word = match (state.all, rest) {
            (true, _) => "Fewer ways".to_owned(),
            (false, 1) => "1 more way".to_owned(),
            (false, rest) => format!("{rest} more ways"),
        };
        let response = super::style::word_with_mark(ui, style, &word, &word, style.ink());
        if response.clicked() {
            state.all = !state.all;
        }
        if impossible > 0 {
            let verb = if impossible == 1 { "does" } else { "do" };
            ui.add_space(style.px(8.0));
            ui.label(style.note(format!("{impossible} {verb} not work here")));
        }
    });
}

/// Where the columns of the table stand.
#[derive(Clone, Copy)]
struct Columns {
    area: Rect,
    /// Where what is done begins, and how wide it may be.
    name: (f32, f32),
    /// Where the final picture begins, and how wide its bar is.
    picture: (f32, f32),
    /// The right ends of detail and walk, where they have columns of their own.
    detail: Option<f32>,
    walk: f32,
}

impl Columns {
    fn of(style: &WindowStyle, area: Rect) -> Self {
        let broad = area.width() >= style.px(BROAD);
        let walk = area.right() - style.px(4.0);
        let walk_width = style.px(94.0);
        let detail_width = if broad { style.px(72.0) } else { 0.0 };
        let picture_width = style.px(if broad { 80.0 } else { 62.0 });
        let picture = walk - walk_width - detail_width - picture_width;
        let name = area.left() + style.px(18.0);
        Self {
            area,
            name: (name, picture - name - style.px(8.0)),
            picture: (picture, picture_width - style.px(14.0)),
            detail: broad.then_some(walk - walk_width),
            walk,
        }
    }
}

fn head_ui(ui: &mut Ui, style: &WindowStyle, columns: &Columns) {
    let (rect, response) = ui.allocate_exact_size(Vec2::new(ui.available_width(), style.px(HEAD)), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, "Ways to straighten it"));
    let write = |text: &str, font, ink, x: f32, from_right: bool| {
        let galley = ui.painter().layout_no_wrap(text.to_owned(), font, ink);
        let left = if from_right { x - galley.size().x } else { x };
        ui.painter().galley(Pos2::new(left, rect.center().y - 0.5 * galley.size().y), galley, ink);
    };
    let title_room = columns.picture.0 - rect.left() - style.px(8.0);
    let title = style.fitted(ui, "Ways to straighten it", style.strong(15.0), style.ink(), title_room);
    ui.painter().galley(Pos2::new(rect.left(), rect.center().y - 0.5 * title.size().y), title, style.ink());
    write("Final picture", style.caption(), style.soft(), columns.picture.0, false);
    if let Some(right) = columns.detail {
        write("Detail", style.caption(), style.soft(), right, true);
        write("Walk, climb", style.caption(), style.soft(), columns.walk, true);
    }
    response.on_hover_text(
        "Final picture: what is handed over, straightened and cropped, beside the largest of all (the bar). Detail: pixels for \
         each length of surface where it is resolved worst. Walk and climb: from where you stand.",
    );
}

/// One way in its row.
struct Row<'a> {
    index: usize,
    /// Which row is chosen.
    chosen: usize,
    way: &'a Way,
    /// The largest picture of all, which the bars are drawn against.
    most_mp: f64,
    columns: Columns,
}

/// What the button of a way says: what it does.
fn verb(remedy: &Remedy) -> &'static str {
    match remedy {
        Remedy::Tilt { pitch, .. } if pitch.abs().degrees() < 0.05 => "Level",
        Remedy::Tilt { .. } => "Tilt",
        Remedy::BackOff | Remedy::BestPlace { .. } | Remedy::Together { .. } => "Walk",
        Remedy::Deck { .. } => "Climb",
        Remedy::Holding(_) => "Hold",
        Remedy::UprightHeight | Remedy::LevelHeight => "Raise",
        Remedy::LevelCrop { .. } => "Level",
        Remedy::Rise { .. } | Remedy::RiseNeeded { .. } => "Rise",
        Remedy::ShiftedFrames { .. } | Remedy::PitchedFrames | Remedy::Straighten { .. } => "Go",
    }
}

fn way_ui(ui: &mut Ui, panel: &PanelContext<'_>, row: Row<'_>, state: &mut WaysState, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let units = panel.units();
    let lengths = |metres: f64, digits: usize| units.length(metres, digits);
    let Row { index, chosen, way, most_mp, columns } = row;
    let (chosen, after_chosen) = (chosen == index, chosen + 1 == index);
    let possible = way.outcome != WayOutcome::NotHere;
    let figures = way.figures.as_ref().filter(|_| possible);
    let megapixels = figures.and_then(Figures::megapixels);
    let picture = megapixels
        .map_or_else(|| if possible { "none" } else { "not here" }.into(), |megapixels| format!("{megapixels:.1} MP"));
    let detail = figures.and_then(|figures| figures.detail).map(|detail| units.detail(detail.px_per_m));
    let name = way.action(units);
    let walk =
        way.effort.walk_m.filter(|walk_m| *walk_m >= 0.5).map(|walk_m| format!("walk {}", units.roundly(walk_m)));
    let climb = (way.effort.climb_m.abs() >= 0.05).then(|| {
        let verb = if way.effort.climb_m > 0.0 { "climb" } else { "lower" };
        format!("{verb} {}", units.length(way.effort.climb_m.abs(), 1))
    });
    let effort = walk.clone().or(climb.clone()).unwrap_or_else(|| "no walk".into());
    let leaves = figures
        .and_then(|figures| figures.largest_lean)
        .filter(|lean| lean.abs().degrees() >= 0.05)
        .map(|lean| format!("leaves {}", super::figures::degrees(lean.abs())));
    let narrow = columns.detail.is_none();
    // Walk and climb stand in a column of their own.
    let besides = Effort { walk_m: None, climb_m: 0.0, ..way.effort.clone() };
    let other = [besides.words(&lengths), way.remark_words(&lengths)];
    let shown = [leaves, detail.clone().filter(|_| narrow), climb.clone().filter(|_| narrow && walk.is_some())];
    let notes: Vec<String> = shown.into_iter().flatten().chain(other).filter(|part| !part.is_empty()).collect();
    let notes = notes.join("; ");

    let (rect, _) = ui.allocate_exact_size(Vec2::new(ui.available_width(), style.px(ROW)), Sense::hover());
    let id = ui.id().with(("way", index));
    let response = ui.interact(rect, id, Sense::click());
    response.widget_info(|| {
        WidgetInfo::selected(
            WidgetType::SelectableLabel,
            true,
            chosen,
            format!("way: {name}, {picture}, {}; {notes}", detail.as_deref().unwrap_or("no detail")),
        )
    });
    let back = rect.expand2(Vec2::new(style.px(4.0), 0.0));
    if chosen {
        ui.painter().rect_filled(back, 4.0, style.well());
    } else if response.hovered() {
        ui.painter().rect_filled(back, 4.0, super::style::thinned(style.well(), 0.5));
    } else if index > 0 && !after_chosen {
        ui.painter().hline(columns.area.x_range(), rect.top(), style.hairline());
    }
    focus_ring(ui, style, &response, rect);
    mark_right(ui, style, Pos2::new(rect.left() + style.px(6.0), rect.top() + style.px(12.0)), chosen);
    let ink = if possible { style.ink() } else { style.soft() };
    let top = rect.top() + style.px(2.0);
    let painter = ui.painter().clone();
    let title = painter.layout_no_wrap(name.clone(), style.strong(13.0), ink);
    let under = top + title.size().y;
    // What is done is told whole: where it takes two lines the note gives way.
    let two_lines = title.size().x > columns.name.1;
    let title = if two_lines {
        let mut job = LayoutJob::simple(name.clone(), style.strong(13.0), ink, columns.name.1);
        job.wrap.max_rows = 2;
        painter.layout_job(job)
    } else {
        title
    };
    painter.galley(Pos2::new(columns.name.0, top), title, ink);
    // Where a button stands, the note ends before it.
    let note_room = if narrow {
        columns.area.right() - columns.name.0 - style.px(if chosen { 84.0 } else { 4.0 })
    } else {
        columns.name.1
    };
    if !two_lines {
        let mut job = LayoutJob::simple_singleline(notes.clone(), style.caption(), style.soft());
        job.wrap = TextWrapping::truncate_at_width(note_room.max(1.0));
        painter.galley(Pos2::new(columns.name.0, under), painter.layout_job(job), style.soft());
    }
    let (left, width) = columns.picture;
    let galley = painter.layout_no_wrap(picture, style.strong(13.0), ink);
    painter.galley(Pos2::new(left, top), galley, ink);
    if let Some(megapixels) = megapixels.filter(|_| !narrow) {
        let y = under + style.px(7.0);
        let share = screen(megapixels / most_mp.max(1e-9)).clamp(0.0, 1.0);
        let bar = Rect::from_min_size(Pos2::new(left, y), Vec2::new(width, style.px(3.0)));
        painter.rect_filled(bar, 0.0, style.line());
        painter.rect_filled(Rect::from_min_size(bar.min, Vec2::new(share * width, bar.height())), 0.0, style.ink());
    }
    let write_right = |text: String, right: f32, y: f32, ink| {
        let galley = painter.layout_no_wrap(text, style.body(), ink);
        painter.galley(Pos2::new(right - galley.size().x, y), galley, ink);
    };
    if let (Some(right), Some(detail)) = (columns.detail, detail) {
        write_right(detail, right, top, ink);
    }
    let hint = format!("{name}\n{notes}");
    if let Some(stance) = way.stance.as_ref().filter(|_| chosen) {
        let verb = verb(&way.remedy);
        let width = button_width(ui, style, verb).max(style.px(62.0));
        let corner = Pos2::new(columns.walk - width, rect.center().y - style.px(13.0));
        let place = Rect::from_min_size(corner, Vec2::new(width, style.px(26.0)));
        let pressed = super::style::within(ui, "do it", place, |ui| {
            main_button(ui, style, verb, &format!("go: {name}"), width).on_hover_text(&effort).clicked()
        });
        if pressed {
            *state = WaysState::default();
            actions.push(CameraMove::TakeUp(Box::new(stance.clone())).into());
        }
    } else if possible {
        write_right(effort, columns.walk, top, style.soft());
        if let Some(climb) = climb.filter(|_| walk.is_some() && !narrow) {
            write_right(climb, columns.walk, under, style.soft());
        }
    }
    if response.double_clicked()
        && let Some(stance) = &way.stance
    {
        actions.push(CameraMove::TakeUp(Box::new(stance.clone())).into());
    }
    if response.on_hover_cursor(CursorIcon::PointingHand).on_hover_text(hint).clicked() {
        state.chosen = Some(index);
    }
}

/// The mark of a row: filled where it is chosen.
fn mark_right(ui: &Ui, style: &WindowStyle, centre: Pos2, filled: bool) {
    use bevy_egui::egui::{Color32, Shape, Stroke};
    let half = style.px(4.5);
    let corners = [Vec2::new(-0.7 * half, -half), Vec2::new(0.9 * half, 0.0), Vec2::new(-0.7 * half, half)];
    let fill = if filled { style.ink() } else { Color32::TRANSPARENT };
    let stroke = Stroke::new(style.px(1.2), style.ink());
    ui.painter().add(Shape::convex_polygon(corners.map(|to| centre + to).to_vec(), fill, stroke));
}
