//! What did the search find? The standpoints in their order, the trade-offs between them, and what each requirement excludes.

use bevy_egui::egui::{
    self, CursorIcon, Pos2, Rect, ScrollArea, Sense, Stroke, StrokeKind, TextureId, Ui, Vec2, WidgetInfo, WidgetType,
};
use egui_plot::{PlotPoint, Points};

use crate::search::{Answer, Ranked};
use crate::site::{Access, Aim};
use crate::viewer::state::desk::{
    Action, CameraMove, DeskName, PrintAction, SearchAction, SearchRequest, SearchView, SettingAction,
};
use crate::wording::{grouped, percent, percent_of};

use super::chart::{chart, step_back};
use super::context::PanelContext;
use super::figures::{short, tenths};
use super::style::{WindowStyle, choice, count, focus_ring, text_button, within};
use super::textures::Textures;
use crate::viewer::render::narrow::screen;

/// How near the pointer must be to a dot of the trade-offs, in units of the drawing.
const NEAR: f32 = 14.0;
/// How high a listed place's picture is, in points of a plain display.
const PICTURE_HIGH: f32 = 84.0;

/// Which part of what was found is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum ResultsPart {
    Standpoints,
    TradeOffs,
    Exclusions,
}

/// What the card remembers.
#[derive(Default)]
pub(super) struct ResultsState {
    part: Option<ResultsPart>,
    textures: Textures<usize>,
}

/// The whole card.
pub(super) fn results_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    view: &SearchView<'_>,
    state: &mut ResultsState,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    ui.spacing_mut().item_spacing = Vec2::new(style.px(6.0), style.px(3.0));
    let Some(answer) = view.answer else {
        ui.label(style.title("Results"));
        let words = "The search tries every standpoint with each height, lens and aim. The best appear here, each with its picture, \
                     the reason, the tolerance and the walk.";
        ui.add(egui::Label::new(style.note(words)).wrap());
        return;
    };
    state.textures.retain(|number| *number <= answer.ranked.len());
    let part = state.part.unwrap_or(if answer.met == 0 { ResultsPart::Exclusions } else { ResultsPart::Standpoints });
    let third = (ui.available_width() - style.px(12.0)) / count(3);
    ui.horizontal(|ui| {
        for (word, of) in [
            ("Standpoints", ResultsPart::Standpoints),
            ("Trade-offs", ResultsPart::TradeOffs),
            ("Exclusions", ResultsPart::Exclusions),
        ] {
            if choice(ui, style, word, &format!("results: {word}"), part == of, third).clicked() {
                state.part = Some(of);
            }
        }
    });
    status_ui(ui, panel, view, answer);
    ui.add_space(style.px(2.0));
    match part {
        ResultsPart::Standpoints => places_ui(ui, panel, view, answer, state, actions),
        ResultsPart::TradeOffs => trade_offs_ui(ui, panel, answer, actions),
        ResultsPart::Exclusions => exclusions_ui(ui, panel, view, answer, actions),
    }
}

/// What was looked at, in how long, and whether it still holds.
fn status_ui(ui: &mut Ui, panel: &PanelContext<'_>, view: &SearchView<'_>, answer: &Answer) {
    let style = &panel.style;
    if let Some(why) = view.outdated {
        let words = if view.running.is_some() {
            "from the last search; a new one is running".to_owned()
        } else {
            format!("out of date: {why}; search again")
        };
        let galley =
            style.wrapped(ui.painter(), &words, style.caption(), style.ink(), ui.available_width() - style.px(20.0));
        let size = Vec2::new(ui.available_width(), galley.size().y);
        let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, &words));
        super::notices::caution_sign(ui.painter(), style, rect.left_top() + Vec2::new(style.px(7.0), style.px(8.0)));
        ui.painter().galley(rect.left_top() + Vec2::new(style.px(20.0), 0.0), galley, style.ink());
    }
    let took = view.took.map_or_else(String::new, |took| format!(", {:.1} s", took.as_secs_f64()));
    let words =
        format!("{} of {} standpoints meet every requirement{took}", grouped(answer.met), grouped(answer.looked));
    ui.add(egui::Label::new(style.note(words)).wrap());
}

/// A place's figures in a few words.
pub(super) fn figures_words(panel: &PanelContext<'_>, found: &Ranked) -> String {
    let figures = &found.figures;
    let lean = figures.largest_lean_deg.map(|degrees| format!("leans {}", tenths(degrees.abs())));
    let detail = figures.detail_px_per_m.map(|px_per_m| panel.units().detail(px_per_m));
    let filled = figures.fullness.map(|share| format!("fills {}", percent(share)));
    let kept = found.final_picture.as_ref().and_then(|kept| kept.megapixels);
    let kept = kept.map(|megapixels| format!("{megapixels:.1} MP"));
    [lean, detail, kept, filled].into_iter().flatten().collect::<Vec<_>>().join(", ")
}

/// How the camera is aimed, behind a lens.
pub(super) const fn aim_words(aim: Aim) -> &'static str {
    match aim {
        Aim::Level => ", level",
        Aim::Rise => ", level with rise",
        Aim::LeastTilt => ", least tilt",
        Aim::Correct => ", to be straightened",
        _ => "",
    }
}

/// With what, how high, and whether one must ask.
fn with_words(panel: &PanelContext<'_>, found: &Ranked) -> String {
    let units = panel.units();
    let stance = &found.stance;
    let lens = if (found.figures.focal_mm * 10.0).round() > 0.0 {
        format!("{} mm", short(found.figures.focal_mm))
    } else {
        stance.lens.clone()
    };
    let held = aim_words(stance.aim);
    let presets = &panel.desk.settings().presets;
    let height = presets
        .iter()
        .find(|preset| (preset.height_m - stance.height_m).abs() < 1e-9)
        .map_or_else(|| units.length(stance.height_m, 2), |preset| preset.name.clone());
    format!("{lens}{held}, {height}")
}

/// How exactly one must stand, and how far it is to walk and climb.
fn tolerance_words(panel: &PanelContext<'_>, found: &Ranked) -> String {
    let units = panel.units();
    let tolerance = match found.tolerance_m.and_then(|tolerance| tolerance.sideways_m) {
        Some(metres) => format!("tolerance {} sideways", units.length(metres, if metres < 1.0 { 2 } else { 1 })),
        None => format!("tolerance over {} sideways", units.length(50.0, 0)),
    };
    let walk = walk_words(panel, found);
    format!("{tolerance} · {walk}")
}

/// How far it is to walk there; climbing counts as the longer walk that it is worth.
fn walk_words(panel: &PanelContext<'_>, found: &Ranked) -> String {
    format!("walk and climb {}", panel.units().length(found.figures.effort_m, 0))
}

/// The ranked list.
fn places_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    view: &SearchView<'_>,
    answer: &Answer,
    state: &mut ResultsState,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    if answer.ranked.is_empty() {
        let words = if answer.looked == 0 {
            "There is nowhere to stand on this ground."
        } else {
            "No standpoint meets every requirement."
        };
        ui.add(egui::Label::new(style.plain(words)).wrap());
        openings_ui(ui, panel, view, answer, actions);
        return;
    }
    ScrollArea::vertical().id_salt("found").auto_shrink([false, false]).show(ui, |ui| {
        for (index, found) in answer.ranked.iter().enumerate() {
            let picture = view.pictures.get(index).and_then(Option::as_ref);
            let texture =
                picture.and_then(|picture| state.textures.of(ui.ctx(), found.number, picture, style.px(PICTURE_HIGH)));
            let shape = picture
                .map_or(1.5, |picture| screen(f64::from(picture.width_px) / f64::from(picture.height_px.max(1))));
            place_ui(ui, panel, view, found, texture.map(|texture| (texture, shape)), actions);
            if index + 1 < answer.ranked.len() {
                let line = ui.allocate_exact_size(Vec2::new(ui.available_width(), style.px(9.0)), Sense::hover()).0;
                ui.painter().hline(line.x_range().shrink(0.0), line.center().y, style.hairline());
            }
        }
    });
}

/// One standpoint of the list: its picture at the left, its words at the right, what can be done below.
fn place_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    view: &SearchView<'_>,
    found: &Ranked,
    picture: Option<(TextureId, f32)>,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let width = ui.available_width() - style.px(10.0);
    // A picture in portrait leaves its words more room.
    let shape = picture.map_or(1.5, |(_, shape)| shape);
    let picture_wide = (style.px(PICTURE_HIGH) * shape).clamp(style.px(56.0), 0.42 * width);
    let words_left = picture_wide + style.px(10.0);
    let words_width = (width - words_left).max(style.px(40.0));
    let paint = |text: &str, font: egui::FontId, ink| style.wrapped(ui.painter(), text, font, ink, words_width);
    let access_ink = match found.access {
        Access::Open => super::style::colour(style.palette().open),
        Access::Ask | Access::Closed => style.ask(),
    };
    let (place, with, figures) =
        (found.place.words(panel.units()), with_words(panel, found), figures_words(panel, found));
    let beside = [
        paint(&place, style.strong(12.5), style.ink()),
        paint(&with, style.caption(), style.soft()),
        paint(found.access.words(), style.strong(11.0), access_ink),
        paint(&figures, style.strong(12.5), style.ink()),
    ];
    let note = note_words(panel, view, found);
    let below = style.wrapped(ui.painter(), &note, style.caption(), style.soft(), width);
    let stack = beside.iter().map(|galley| galley.size().y).sum::<f32>() + style.px(4.0);
    let upper = stack.max(style.px(PICTURE_HIGH));
    let size = Vec2::new(width, upper + below.size().y + style.px(6.0));
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    response.widget_info(|| {
        let (number, access, note) = (found.number, found.access.words(), note.replace('\n', "; "));
        let words = format!("standpoint {number}: {place}, {with}, {access}, {figures}; {note}");
        WidgetInfo::labeled(WidgetType::Label, true, words)
    });
    let room = Rect::from_min_size(rect.min, Vec2::new(picture_wide, upper));
    picture_ui(ui, style, room, found, picture);
    let mut at = Pos2::new(rect.left() + words_left, rect.top());
    for galley in beside {
        let tall = galley.size().y;
        ui.painter().galley(at, galley, style.ink());
        at.y += tall + style.px(1.0);
    }
    ui.painter().galley(Pos2::new(rect.left(), rect.top() + upper + style.px(4.0)), below, style.soft());
    go_ui(ui, panel, found, place, actions);
}

/// Why it is listed, how exactly one must stand, how far it is, and what may stand in the way.
fn note_words(panel: &PanelContext<'_>, view: &SearchView<'_>, found: &Ranked) -> String {
    let mut note = found.reason.clone();
    if !note.is_empty() {
        note.push('\n');
    }
    note.push_str(&tolerance_words(panel, found));
    if let Some(remains) = view.remains
        && !remains.listed.contains(&found.number)
    {
        note.push_str(&format!("\nnot usable with {} in the way", remains.with.join(" and ")));
    }
    note
}

/// What can be done with a standpoint of the list: go there, walk there, pin it.
fn go_ui(ui: &mut Ui, panel: &PanelContext<'_>, found: &Ranked, place: String, actions: &mut Vec<Action>) {
    let style = &panel.style;
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = style.px(4.0);
        let number = found.number;
        let here = *panel.desk.stance() == found.stance;
        if choice(ui, style, "Go", &format!("go to standpoint {number}"), here, style.px(52.0))
            .on_hover_text("go to this stance")
            .clicked()
        {
            actions.push(CameraMove::TakeUp(Box::new(found.stance.clone())).into());
        }
        if text_button(ui, style, "Walk there", &format!("walk to standpoint {number}"))
            .on_hover_text("go to this stance and open the Walk desk")
            .clicked()
        {
            actions.extend([
                CameraMove::TakeUp(Box::new(found.stance.clone())).into(),
                SettingAction::ShowDesk(DeskName::Walk).into(),
            ]);
        }
        if text_button(ui, style, "Pin", &format!("pin standpoint {number}"))
            .on_hover_text("keep it as a print")
            .clicked()
        {
            let stance = crate::site::Stance { name: place, ..found.stance.clone() };
            actions.push(PrintAction::PinStance(Box::new(stance)).into());
        }
    });
}

/// The picture from a place with its number, or a well where it will be.
fn picture_ui(ui: &Ui, style: &WindowStyle, room: Rect, found: &Ranked, picture: Option<(TextureId, f32)>) {
    let shape = picture.map_or(1.5, |(_, shape)| shape);
    let size = if room.width() / room.height() > shape {
        Vec2::new(room.height() * shape, room.height())
    } else {
        Vec2::new(room.width(), room.width() / shape)
    };
    let place = Rect::from_min_size(room.min + Vec2::new(0.5 * (room.width() - size.x), 0.0), size);
    match picture {
        Some((texture, _)) => {
            let whole = Rect::from_min_max(Pos2::ZERO, Pos2::new(1.0, 1.0));
            ui.painter().image(texture, place, whole, egui::Color32::WHITE);
        }
        None => {
            ui.painter().rect_filled(place, 0.0, style.well());
            super::finder::middle_note(ui, style, place, "picture is being drawn");
        }
    }
    ui.painter().rect_stroke(place, 0.0, Stroke::new(1.0, style.ink()), StrokeKind::Outside);
    let centre = place.min + Vec2::splat(style.px(11.0));
    ui.painter().circle(centre, style.px(8.5), style.ink(), Stroke::new(1.0, style.panel()));
    let galley = ui.painter().layout_no_wrap(found.number.to_string(), style.strong(10.0), style.panel());
    ui.painter().galley(centre - 0.5 * galley.size(), galley, style.panel());
}

/// A stance of the trade-offs with its place in the plot: detail, and the size of its largest lean in degrees.
type TradeOff<'a> = (&'a Ranked, [f64; 2]);

/// Stances of which no other is better in everything at once: largest lean over detail, the walk as the size of the dot.
fn trade_offs_ui(ui: &mut Ui, panel: &PanelContext<'_>, answer: &Answer, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let units = panel.units();
    let front: Vec<TradeOff<'_>> = answer
        .front
        .iter()
        .filter_map(|found| {
            let detail = found.figures.detail_px_per_m? / units.from_metres(1.0);
            Some((found, [detail, found.figures.largest_lean_deg?.abs()]))
        })
        .collect();
    if front.is_empty() {
        ui.label(style.note("No stance meets every requirement, so there is nothing to compare."));
        return;
    }
    let words = format!(
        "{} of {} stances: no other is better in lean, detail and walk at once. A larger dot means a longer walk and climb. \
         Click a dot to go there.",
        front.len(),
        grouped(answer.front_size as u64)
    );
    ui.add(egui::Label::new(style.note(words)).wrap());
    let walks = || front.iter().map(|(found, _)| found.figures.effort_m);
    let (least_m, most_m) = (walks().fold(f64::INFINITY, f64::min), walks().fold(0.0, f64::max));
    ui.label(style.note(format!("walk and climb {} to {}", units.length(least_m, 0), units.length(most_m, 0))));
    let now = panel.desk.stance();
    let chosen = front.iter().position(|(found, _)| same_stance(&found.stance, now));
    let radius = |walk_m: f64| {
        let share = if most_m > least_m { (walk_m - least_m) / (most_m - least_m) } else { 0.0 };
        style.px(2.5 + 4.5 * screen(share.sqrt()))
    };
    let pointed = trade_offs_plot(ui, panel, &front, chosen, &radius);
    if let Some((index, true)) = pointed {
        actions.push(CameraMove::TakeUp(Box::new(front[index].0.stance.clone())).into());
    }
    trade_offs_list(ui, panel, &front, pointed.map(|(index, _)| index).or(chosen), actions);
}

/// The plot; the stance under the pointer, and whether it was clicked.
fn trade_offs_plot(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    front: &[TradeOff<'_>],
    chosen: Option<usize>,
    radius: &dyn Fn(f64) -> f32,
) -> Option<(usize, bool)> {
    let style = &panel.style;
    // Some rows of the list are seen below.
    let height = (ui.available_height() - style.px(74.0)).clamp(style.px(120.0), style.px(330.0));
    let mut pointed = None;
    let size = Vec2::new(ui.available_width(), height);
    within_plot(ui, style, size, |ui| {
        let across = format!("Detail, px/{}", panel.units().name());
        let plot = chart(style, "trade-offs", across, "Largest lean, degrees".into())
            .show_x(false)
            .show_y(false)
            .set_margin_fraction(Vec2::new(0.08, 0.08));
        let shown = plot.show(ui, |plot| {
            let near = plot.response().hover_pos().and_then(|pointer| {
                front
                    .iter()
                    .enumerate()
                    .map(|(index, (_, [x, y]))| {
                        (index, plot.screen_from_plot(PlotPoint::new(*x, *y)).distance(pointer))
                    })
                    .filter(|(_, distance)| *distance < style.px(NEAR))
                    .min_by(|a, b| a.1.total_cmp(&b.1))
                    .map(|(index, _)| index)
            });
            pointed = near.map(|index| (index, plot.response().clicked()));
            for (index, (found, point)) in front.iter().enumerate() {
                let picked = Some(index) == near || Some(index) == chosen;
                let ink = if picked { style.ink() } else { style.soft() };
                let radius = radius(found.figures.effort_m);
                let dot = Points::new("", vec![*point]).radius(radius).filled(true).color(ink).allow_hover(false);
                plot.points(dot);
                if picked {
                    let ring = radius + style.px(3.0);
                    plot.points(
                        Points::new("", vec![*point]).radius(ring).filled(false).color(style.ink()).allow_hover(false),
                    );
                }
            }
        });
        let words = "trade-offs: largest lean against detail";
        ui.ctx().accesskit_node_builder(shown.response.id, |node| node.set_label(words));
        if pointed.is_some() {
            ui.ctx().set_cursor_icon(CursorIcon::PointingHand);
        }
    });
    pointed
}

/// The same stances as rows, for keys and readers of the screen; the one that is pointed at first.
fn trade_offs_list(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    front: &[TradeOff<'_>],
    pointed: Option<usize>,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    ScrollArea::vertical().id_salt("trade").auto_shrink([false, false]).show(ui, |ui| {
        let order = pointed.into_iter().chain((0..front.len()).filter(|index| Some(*index) != pointed));
        for index in order {
            let (found, _) = front[index];
            let text = format!("{}, {}", figures_words(panel, found), with_words(panel, found));
            let width = ui.available_width() - style.px(8.0);
            let place = format!("{} · {}", found.place.words(panel.units()), walk_words(panel, found));
            let upper = style.wrapped(ui.painter(), &text, style.strong(11.5), style.ink(), width);
            let lower = style.wrapped(ui.painter(), &place, style.caption(), style.soft(), width);
            let size = Vec2::new(width, upper.size().y + lower.size().y + style.px(4.0));
            let (rect, response) = ui.allocate_exact_size(size, Sense::click());
            response.widget_info(|| WidgetInfo::labeled(WidgetType::Button, true, format!("go to: {text}, {place}")));
            if response.hovered() || Some(index) == pointed {
                ui.painter().rect_filled(rect.expand(2.0), 4.0, style.well());
            }
            focus_ring(ui, style, &response, rect);
            let below = rect.top() + upper.size().y;
            ui.painter().galley(rect.left_top(), upper, style.ink());
            ui.painter().galley(Pos2::new(rect.left(), below), lower, style.soft());
            if response.on_hover_cursor(CursorIcon::PointingHand).clicked() {
                actions.push(CameraMove::TakeUp(Box::new(found.stance.clone())).into());
            }
        }
    });
}

/// Two stances that are one but for their names.
fn same_stance(a: &crate::site::Stance, b: &crate::site::Stance) -> bool {
    crate::site::Stance { name: String::new(), ..a.clone() } == crate::site::Stance { name: String::new(), ..b.clone() }
}

/// A room for a plot whose grid and figures step back.
fn within_plot(ui: &mut Ui, style: &WindowStyle, size: Vec2, contents: impl FnOnce(&mut Ui)) {
    let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
    within(ui, "trade-offs plot", rect, |ui| {
        step_back(ui, style);
        contents(ui);
    });
}

/// What each requirement excludes, which ground is left out, what to pack, and what remains on the day.
fn exclusions_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    view: &SearchView<'_>,
    answer: &Answer,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    ScrollArea::vertical().id_salt("exclusions").auto_shrink([false, false]).show(ui, |ui| {
        ui.set_max_width((ui.available_width() - style.px(8.0)).max(style.px(60.0)));
        ui.spacing_mut().item_spacing.y = style.px(3.0);
        openings_ui(ui, panel, view, answer, actions);
        requirements_ui(ui, style, answer);
        left_out_ui(ui, style, answer);
        bag_ui(ui, style, answer);
        remains_ui(ui, style, view);
    });
}

/// Which changes open standpoints where there are none: a press makes them and searches again.
fn openings_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    view: &SearchView<'_>,
    answer: &Answer,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let Some(request) = view.answered.filter(|_| !answer.openings.is_empty()) else { return };
    ui.label(style.title("What would open standpoints"));
    for opening in &answer.openings {
        let words: Vec<String> = opening.changes.iter().map(|change| change.words(panel.units())).collect();
        let about = if opening.exact { "" } else { "about " };
        let opens = format!("opens {about}{}", grouped(opening.standpoints));
        let words = words.join(" and ");
        if row_button_ui(ui, style, &words, &opens, &format!("search with {words}: {opens} standpoints")) {
            let criteria = opening.changed(&request.criteria);
            let changed = SearchRequest { criteria, ..request.clone() };
            actions.extend([SearchAction::Change(Box::new(changed)).into(), SearchAction::Start.into()]);
        }
    }
    ui.add(egui::Label::new(style.note("each changes the requirements and searches again")).wrap());
    ui.add_space(style.px(7.0));
}

/// A row that is pressed: what at the left, how much beneath it. Returns whether it was pressed.
fn row_button_ui(ui: &mut Ui, style: &WindowStyle, what: &str, much: &str, name: &str) -> bool {
    let width = ui.available_width() - style.px(2.0);
    let (inset, room) = (style.px(7.0), width - style.px(14.0));
    let upper = style.wrapped(ui.painter(), what, egui::FontId::proportional(style.px(12.0)), style.ink(), room);
    let lower = style.wrapped(ui.painter(), much, style.caption(), style.soft(), room);
    let size = Vec2::new(width, upper.size().y + lower.size().y + style.px(8.0));
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Button, true, name));
    let fill = if response.hovered() { style.well() } else { style.panel() };
    let edge = Stroke::new(1.0, if response.hovered() { style.ink() } else { style.line() });
    ui.painter().rect(rect, 5.0, fill, edge, StrokeKind::Inside);
    focus_ring(ui, style, &response, rect);
    let at = rect.min + Vec2::new(inset, style.px(4.0));
    let below = at + Vec2::new(0.0, upper.size().y);
    ui.painter().galley(at, upper, style.ink());
    ui.painter().galley(below, lower, style.soft());
    response.on_hover_cursor(CursorIcon::PointingHand).clicked()
}

/// What each requirement excludes on its own, and what remains without it.
fn requirements_ui(ui: &mut Ui, style: &WindowStyle, answer: &Answer) {
    if answer.looked == 0 {
        ui.add(egui::Label::new(style.plain("There is nowhere to stand on this ground.")).wrap());
        return;
    }
    ui.label(style.title("Each requirement on its own"));
    for count in &answer.criteria {
        let out = answer.looked.saturating_sub(count.met_alone);
        let much = format!("excludes {}", percent_of(out, answer.looked));
        exclusion_ui(ui, style, &count.requirement_words, &much);
        let without = if count.met_alone == 0 {
            "no standpoint meets it".to_owned()
        } else {
            format!("without it, {} standpoints remain", grouped(count.met_without))
        };
        ui.add(egui::Label::new(style.note(without)).wrap());
    }
}

/// Which ground is left out, and why.
fn left_out_ui(ui: &mut Ui, style: &WindowStyle, answer: &Answer) {
    let [closed, water, occupied, near, far] = answer.out;
    let rows = [
        (closed, "closed or permission needed"),
        (water, "under water"),
        (occupied, "occupied"),
        (near, "too near"),
        (far, "too far"),
    ];
    if rows.iter().all(|(number, _)| *number == 0) {
        return;
    }
    ui.add_space(style.px(7.0));
    ui.label(style.title("Ground left out"));
    for (number, why) in rows.into_iter().filter(|(number, _)| *number > 0) {
        exclusion_ui(ui, style, why, &format!("{} standpoints", grouped(number)));
    }
}

/// How far the bag can be cut down.
fn bag_ui(ui: &mut Ui, style: &WindowStyle, answer: &Answer) {
    if answer.packing.is_empty() {
        return;
    }
    ui.add_space(style.px(7.0));
    ui.label(style.title("What to pack"));
    for packing in &answer.packing {
        let lenses: Vec<String> = packing.lenses.iter().map(|lens| lens.replace('-', "–")).collect();
        exclusion_ui(ui, style, &lenses.join(" and "), &percent(packing.share));
    }
    let words = "of the standpoints that the whole bag can use, with at least four fifths of the detail";
    ui.add(egui::Label::new(style.note(words)).wrap());
}

/// What remains if things that may come stand in the way.
fn remains_ui(ui: &mut Ui, style: &WindowStyle, view: &SearchView<'_>) {
    let Some(remains) = view.remains else { return };
    ui.add_space(style.px(7.0));
    ui.label(style.title("On the day"));
    let listed: Vec<String> = remains.listed.iter().map(usize::to_string).collect();
    let listed = if listed.is_empty() {
        "none of those listed".into()
    } else {
        format!("of those listed: {}", listed.join(", "))
    };
    let words = format!(
        "With {} in the way, {} of {} standpoints remain; {listed}.",
        remains.with.join(" and "),
        grouped(remains.met),
        grouped(remains.met_without)
    );
    ui.add(egui::Label::new(style.plain(words)).wrap());
}

/// What at the left, how much at the right; the left wraps.
fn exclusion_ui(ui: &mut Ui, style: &WindowStyle, what: &str, much: &str) {
    let width = ui.available_width();
    let much_galley = ui.painter().layout_no_wrap(much.to_owned(), style.strong(12.0), style.ink());
    let room = (width - much_galley.size().x - style.px(10.0)).max(style.px(30.0));
    let what_galley = style.wrapped(ui.painter(), what, egui::FontId::proportional(style.px(12.0)), style.ink(), room);
    let height = what_galley.size().y.max(much_galley.size().y) + style.px(2.0);
    let (rect, response) = ui.allocate_exact_size(Vec2::new(width, height), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, format!("{what}: {much}")));
    ui.painter().galley(rect.min, what_galley, style.ink());
    let left = rect.right() - much_galley.size().x;
    ui.painter().galley(Pos2::new(left, rect.top()), much_galley, style.ink());
}
