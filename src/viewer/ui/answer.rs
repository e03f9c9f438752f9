//! What did the search find? The places in their order, what one trades for another, and which requirement stands in the way.

use bevy_egui::egui::{
    self, CursorIcon, Pos2, Rect, ScrollArea, Sense, Stroke, StrokeKind, TextureId, Ui, Vec2, WidgetInfo, WidgetType,
};
use egui_plot::{PlotPoint, Points};

use crate::search::{Answer, Ranked};
use crate::site::{Access, Aim};
use crate::viewer::state::desk::{Action, CameraMove, DeskName, PrintAction, SearchView, SettingAction};

use super::chart::{chart, step_back};
use super::criteria::{grouped, percent};
use super::figures::{short, tenths};
use super::style::{Look, choice, count, focus_ring, within, word_button};
use super::table::Table;
use super::textures::Textures;
use crate::viewer::render::narrow::screen;

/// How near the pointer must be to a dot of the trade, in units of the drawing.
const NEAR: f32 = 14.0;
/// How high a listed place's picture is, in points of a plain display.
const PICTURE_HIGH: f32 = 84.0;

/// Which part of what was found is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Part {
    Places,
    Trade,
    Criteria,
}

/// What the card remembers.
#[derive(Default)]
pub(super) struct Finding {
    part: Option<Part>,
    textures: Textures<usize>,
}

/// The whole card.
pub(super) fn found_ui(
    ui: &mut Ui,
    table: &Table<'_>,
    view: &SearchView<'_>,
    finding: &mut Finding,
    actions: &mut Vec<Action>,
) {
    let look = &table.look;
    ui.spacing_mut().item_spacing = Vec2::new(look.px(6.0), look.px(3.0));
    let Some(answer) = view.answer else {
        ui.label(look.title("What is found"));
        let words = "Every place one may stand, with each height, lens and aim: the best of them are listed here, each with \
                     its picture, why it is listed, how exactly one must stand, and a way there.";
        ui.add(egui::Label::new(look.note(words)).wrap());
        return;
    };
    finding.textures.retain(|number| *number <= answer.ranked.len());
    let part = finding.part.unwrap_or(if answer.met == 0 { Part::Criteria } else { Part::Places });
    let third = (ui.available_width() - look.px(12.0)) / count(3);
    ui.horizontal(|ui| {
        for (word, of) in
            [("Standpoints", Part::Places), ("The trade", Part::Trade), ("What rules out", Part::Criteria)]
        {
            if choice(ui, look, word, &format!("what was found: {word}"), part == of, third).clicked() {
                finding.part = Some(of);
            }
        }
    });
    status_ui(ui, table, view, answer);
    ui.add_space(look.px(2.0));
    match part {
        Part::Places => places_ui(ui, table, view, answer, finding, actions),
        Part::Trade => trade_ui(ui, table, answer, actions),
        Part::Criteria => rules_ui(ui, table, view, answer),
    }
}

/// What was looked at, in how long, and whether it still holds.
fn status_ui(ui: &mut Ui, table: &Table<'_>, view: &SearchView<'_>, answer: &Answer) {
    let look = &table.look;
    if let Some(why) = view.outdated {
        let words = if view.running.is_some() {
            "of the search before; the new one is on its way".to_owned()
        } else {
            format!("out of date: {why}; search again")
        };
        let galley =
            look.wrapped(ui.painter(), &words, look.caption(), look.ink(), ui.available_width() - look.px(20.0));
        let size = Vec2::new(ui.available_width(), galley.size().y);
        let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, &words));
        super::notices::beware_sign(ui.painter(), look, rect.left_top() + Vec2::new(look.px(7.0), look.px(8.0)));
        ui.painter().galley(rect.left_top() + Vec2::new(look.px(20.0), 0.0), galley, look.ink());
    }
    let took = view.took.map_or_else(String::new, |took| format!(", {:.1} s", took.as_secs_f64()));
    let words = format!("{} of {} places meet every requirement{took}", grouped(answer.met), grouped(answer.looked));
    ui.add(egui::Label::new(look.note(words)).wrap());
}

/// A place's figures in a few words.
pub(super) fn figures_words(table: &Table<'_>, found: &Ranked) -> String {
    let figures = &found.figures;
    let lean = figures.largest_lean_deg.map(|degrees| format!("leans {}", tenths(degrees.abs())));
    let detail = figures.detail_px_per_m.map(|px_per_m| table.units().detail(px_per_m));
    [lean, detail].into_iter().flatten().collect::<Vec<_>>().join(", ")
}

/// With what, how high, and whether one must ask.
fn with_words(table: &Table<'_>, found: &Ranked) -> String {
    let units = table.units();
    let stance = &found.stance;
    let lens = if (found.figures.focal_mm * 10.0).round() > 0.0 {
        format!("{} mm", short(found.figures.focal_mm))
    } else {
        stance.lens.clone()
    };
    let held = match stance.aim {
        Aim::Level => ", level",
        Aim::Rise => ", level with rise",
        _ => "",
    };
    let presets = &table.desk.settings().presets;
    let height = presets
        .iter()
        .find(|preset| (preset.height_m - stance.height_m).abs() < 1e-9)
        .map_or_else(|| units.length(stance.height_m, 2), |preset| preset.name.clone());
    format!("{lens}{held}, {height}")
}

/// How exactly one must stand, and what it takes to get there.
fn effort_words(table: &Table<'_>, found: &Ranked) -> String {
    let units = table.units();
    let tolerance = match found.tolerance_m.sideways_m {
        Some(metres) => format!("may be off {} sideways", units.length(metres, if metres < 1.0 { 2 } else { 1 })),
        None => format!("may be off over {} sideways", units.length(50.0, 0)),
    };
    let effort = format!("effort {}", units.length(found.figures.effort_m, 0));
    format!("{tolerance} · {effort}")
}

fn access_words(access: Access) -> &'static str {
    match access {
        Access::Open => "open",
        Access::Ask => "ask first",
        Access::Closed => "closed",
    }
}

/// The ranked list.
fn places_ui(
    ui: &mut Ui,
    table: &Table<'_>,
    view: &SearchView<'_>,
    answer: &Answer,
    finding: &mut Finding,
    actions: &mut Vec<Action>,
) {
    let look = &table.look;
    if answer.ranked.is_empty() {
        let words = if answer.looked == 0 {
            "Nobody can stand anywhere on this ground."
        } else {
            "No place meets every requirement; what rules out most is told beside."
        };
        ui.add(egui::Label::new(look.plain(words)).wrap());
        return;
    }
    ScrollArea::vertical().id_salt("found").auto_shrink([false, false]).show(ui, |ui| {
        for (index, found) in answer.ranked.iter().enumerate() {
            let picture = view.pictures.get(index).and_then(Option::as_ref);
            let texture =
                picture.and_then(|picture| finding.textures.of(ui.ctx(), found.number, picture, look.px(PICTURE_HIGH)));
            let shape = picture
                .map_or(1.5, |picture| screen(f64::from(picture.width_px) / f64::from(picture.height_px.max(1))));
            place_ui(ui, table, view, found, texture.map(|texture| (texture, shape)), actions);
            if index + 1 < answer.ranked.len() {
                let line = ui.allocate_exact_size(Vec2::new(ui.available_width(), look.px(9.0)), Sense::hover()).0;
                ui.painter().hline(line.x_range().shrink(0.0), line.center().y, look.hairline());
            }
        }
    });
}

/// One place of the list: its picture at the left, its words at the right, what can be done below.
fn place_ui(
    ui: &mut Ui,
    table: &Table<'_>,
    view: &SearchView<'_>,
    found: &Ranked,
    picture: Option<(TextureId, f32)>,
    actions: &mut Vec<Action>,
) {
    let look = &table.look;
    let width = ui.available_width() - look.px(10.0);
    // A picture portrait leaves its words more room.
    let shape = picture.map_or(1.5, |(_, shape)| shape);
    let picture_wide = (look.px(PICTURE_HIGH) * shape).clamp(look.px(56.0), 0.42 * width);
    let words_left = picture_wide + look.px(10.0);
    let words_width = (width - words_left).max(look.px(40.0));
    let paint = |text: &str, font: egui::FontId, ink| look.wrapped(ui.painter(), text, font, ink, words_width);
    let place = found.place.words(table.units());
    let title = paint(&place, look.strong(12.5), look.ink());
    let with = paint(&with_words(table, found), look.caption(), look.soft());
    let access_ink = match found.access {
        Access::Open => super::style::colour(look.palette().open),
        Access::Ask | Access::Closed => look.ask(),
    };
    let access = paint(access_words(found.access), look.strong(11.0), access_ink);
    let figures = paint(&figures_words(table, found), look.strong(12.5), look.ink());
    let mut note = found.reason.clone();
    if !note.is_empty() {
        note.push('\n');
    }
    note.push_str(&effort_words(table, found));
    if let Some(remains) = view.remains
        && !remains.listed.contains(&found.number)
    {
        note.push_str(&format!("\nnot with {} in the way", remains.with.join(" and ")));
    }
    let note_galley = look.wrapped(ui.painter(), &note, look.caption(), look.soft(), width);
    let stack = title.size().y + with.size().y + access.size().y + figures.size().y + look.px(4.0);
    let upper = stack.max(look.px(PICTURE_HIGH));
    let height = upper + note_galley.size().y + look.px(6.0);
    let (rect, response) = ui.allocate_exact_size(Vec2::new(width, height), Sense::hover());
    response.widget_info(|| {
        let words = format!(
            "place {}: {}, {}, {}, {}; {}",
            found.number,
            place,
            with_words(table, found),
            access_words(found.access),
            figures_words(table, found),
            note.replace('\n', "; ")
        );
        WidgetInfo::labeled(WidgetType::Label, true, words)
    });
    let room = Rect::from_min_size(rect.min, Vec2::new(picture_wide, upper));
    picture_ui(ui, look, room, found, picture);
    let mut at = Pos2::new(rect.left() + words_left, rect.top());
    for galley in [title, with, access, figures] {
        let tall = galley.size().y;
        ui.painter().galley(at, galley, look.ink());
        at.y += tall + look.px(1.0);
    }
    ui.painter().galley(Pos2::new(rect.left(), rect.top() + upper + look.px(4.0)), note_galley, look.soft());
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = look.px(4.0);
        let number = found.number;
        let here = *table.desk.stance() == found.stance;
        if choice(ui, look, "Go", &format!("go to place {number}"), here, look.px(52.0))
            .on_hover_text("take this stance up")
            .clicked()
        {
            actions.push(CameraMove::TakeUp(Box::new(found.stance.clone())).into());
        }
        if word_button(ui, look, "walk there", &format!("go to place {number} and walk"))
            .on_hover_text("take it up and sit at the Walk desk")
            .clicked()
        {
            actions.extend([
                CameraMove::TakeUp(Box::new(found.stance.clone())).into(),
                SettingAction::ShowDesk(DeskName::Walk).into(),
            ]);
        }
        if word_button(ui, look, "pin", &format!("pin place {number}")).on_hover_text("keep it as a print").clicked() {
            let stance = crate::site::Stance { name: place, ..found.stance.clone() };
            actions.push(PrintAction::PinStance(Box::new(stance)).into());
        }
    });
}

/// The picture from a place with its number, or a well where it will be.
fn picture_ui(ui: &Ui, look: &Look, room: Rect, found: &Ranked, picture: Option<(TextureId, f32)>) {
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
            ui.painter().rect_filled(place, 0.0, look.well());
            super::finder::middle_note(ui, look, place, "its picture is being drawn");
        }
    }
    ui.painter().rect_stroke(place, 0.0, Stroke::new(1.0, look.ink()), StrokeKind::Outside);
    let centre = place.min + Vec2::splat(look.px(11.0));
    ui.painter().circle(centre, look.px(8.5), look.ink(), Stroke::new(1.0, look.panel()));
    let galley = ui.painter().layout_no_wrap(found.number.to_string(), look.strong(10.0), look.panel());
    ui.painter().galley(centre - 0.5 * galley.size(), galley, look.panel());
}

/// Stances that nothing beats at once: largest lean over detail, the effort as the size of the dot.
fn trade_ui(ui: &mut Ui, table: &Table<'_>, answer: &Answer, actions: &mut Vec<Action>) {
    let look = &table.look;
    let units = table.units();
    let front: Vec<(&Ranked, [f64; 2])> = answer
        .front
        .iter()
        .filter_map(|found| {
            let detail = found.figures.detail_px_per_m? / units.from_metres(1.0);
            Some((found, [detail, found.figures.largest_lean_deg?.abs()]))
        })
        .collect();
    if front.is_empty() {
        ui.label(look.note("No stance meets every wish: there is nothing to trade."));
        return;
    }
    let words = format!(
        "{} of {} stances that nothing beats at once in lean, detail and effort. A larger dot takes more effort; a click \
         takes the stance up.",
        front.len(),
        grouped(answer.front_size as u64)
    );
    ui.add(egui::Label::new(look.note(words)).wrap());
    let efforts = front.iter().map(|(found, _)| found.figures.effort_m);
    let (least, most) =
        efforts.fold((f64::INFINITY, 0.0), |(least, most): (f64, f64), effort| (least.min(effort), most.max(effort)));
    let radius = |effort_m: f64| {
        let share = if most > least { (effort_m - least) / (most - least) } else { 0.0 };
        look.px(2.5 + 4.5 * screen(share.sqrt()))
    };
    ui.label(look.note(format!("effort {} to {}", units.length(least, 0), units.length(most, 0))));
    let told_height = look.px(74.0);
    let height = (ui.available_height() - told_height).clamp(look.px(120.0), look.px(330.0));
    let now = table.desk.stance();
    let chosen = front.iter().position(|(found, _)| same_stance(&found.stance, now));
    let mut hovered = None;
    let mut clicked = false;
    let plot_width = ui.available_width();
    within_plot(ui, look, Vec2::new(plot_width, height), |ui| {
        let across = format!("detail, px/{}", units.name());
        let plot = chart(look, "the trade", across, "largest lean, degrees".into())
            .show_x(false)
            .show_y(false)
            .set_margin_fraction(Vec2::new(0.08, 0.08));
        let shown = plot.show(ui, |plot| {
            let pointer = plot.response().hover_pos();
            hovered = pointer.and_then(|pointer| {
                front
                    .iter()
                    .enumerate()
                    .map(|(index, (_, [x, y]))| {
                        (index, plot.screen_from_plot(PlotPoint::new(*x, *y)).distance(pointer))
                    })
                    .filter(|(_, distance)| *distance < look.px(NEAR))
                    .min_by(|a, b| a.1.total_cmp(&b.1))
                    .map(|(index, _)| index)
            });
            clicked = plot.response().clicked();
            for (index, (found, point)) in front.iter().enumerate() {
                let picked = Some(index) == hovered || Some(index) == chosen;
                let ink = if picked { look.ink() } else { look.soft() };
                let dots = Points::new("", vec![*point])
                    .radius(radius(found.figures.effort_m))
                    .filled(true)
                    .color(ink)
                    .allow_hover(false);
                plot.points(dots);
                if picked {
                    let ring = radius(found.figures.effort_m) + look.px(3.0);
                    plot.points(
                        Points::new("", vec![*point]).radius(ring).filled(false).color(look.ink()).allow_hover(false),
                    );
                }
            }
        });
        let words = "the trade: largest lean over detail, of stances that nothing beats at once";
        ui.ctx().accesskit_node_builder(shown.response.id, |node| node.set_label(words));
        if hovered.is_some() {
            ui.ctx().set_cursor_icon(CursorIcon::PointingHand);
        }
    });
    if let Some(index) = hovered.filter(|_| clicked) {
        actions.push(CameraMove::TakeUp(Box::new(front[index].0.stance.clone())).into());
    }
    trade_list(ui, table, &front, hovered.or(chosen), actions);
}

/// The same stances as rows, for keys and readers of the screen; the one that is pointed at first.
fn trade_list(
    ui: &mut Ui,
    table: &Table<'_>,
    front: &[(&Ranked, [f64; 2])],
    pointed: Option<usize>,
    actions: &mut Vec<Action>,
) {
    let look = &table.look;
    ScrollArea::vertical().id_salt("trade").auto_shrink([false, false]).show(ui, |ui| {
        let order = pointed.into_iter().chain((0..front.len()).filter(|index| Some(*index) != pointed));
        for index in order {
            let (found, _) = front[index];
            let text = format!("{}, {}", figures_words(table, found), with_words(table, found));
            let width = ui.available_width() - look.px(8.0);
            let place = format!(
                "{} · effort {}",
                found.place.words(table.units()),
                table.units().length(found.figures.effort_m, 0)
            );
            let upper = look.wrapped(ui.painter(), &text, look.strong(11.5), look.ink(), width);
            let lower = look.wrapped(ui.painter(), &place, look.caption(), look.soft(), width);
            let size = Vec2::new(width, upper.size().y + lower.size().y + look.px(4.0));
            let (rect, response) = ui.allocate_exact_size(size, Sense::click());
            response.widget_info(|| WidgetInfo::labeled(WidgetType::Button, true, format!("take up: {text}, {place}")));
            if response.hovered() || Some(index) == pointed {
                ui.painter().rect_filled(rect.expand(2.0), 4.0, look.well());
            }
            focus_ring(ui, look, &response, rect);
            let below = rect.top() + upper.size().y;
            ui.painter().galley(rect.left_top(), upper, look.ink());
            ui.painter().galley(Pos2::new(rect.left(), below), lower, look.soft());
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
fn within_plot(ui: &mut Ui, look: &Look, size: Vec2, contents: impl FnOnce(&mut Ui)) {
    let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
    within(ui, "trade plot", rect, |ui| {
        step_back(ui, look);
        contents(ui);
    });
}

/// Which requirement rules out how much, where nobody can stand, what to pack, and what remains on the day.
fn rules_ui(ui: &mut Ui, table: &Table<'_>, view: &SearchView<'_>, answer: &Answer) {
    let look = &table.look;
    ScrollArea::vertical().id_salt("rules").auto_shrink([false, false]).show(ui, |ui| {
        ui.set_max_width((ui.available_width() - look.px(8.0)).max(look.px(60.0)));
        ui.spacing_mut().item_spacing.y = look.px(3.0);
        if answer.looked == 0 {
            ui.add(egui::Label::new(look.plain("Nobody can stand anywhere on this ground.")).wrap());
        } else {
            ui.label(look.title("Each requirement, were it the only one"));
            for told in &answer.criteria {
                let out = answer.looked.saturating_sub(told.met_alone);
                rule_ui(ui, look, &told.requirement_words, &format!("excludes {}", percent(out, answer.looked)));
                let without = if told.met_alone == 0 {
                    "no place has it, whatever else is required".to_owned()
                } else {
                    format!("without this requirement {} places are left", grouped(told.met_without))
                };
                ui.add(egui::Label::new(look.note(without)).wrap());
            }
        }
        let [closed, water, occupied, near, far] = answer.out;
        let rows = [
            (closed, "closed, or to be asked for"),
            (water, "under water"),
            (occupied, "something stands there"),
            (near, "nearer than required"),
            (far, "farther than required"),
        ];
        if rows.iter().any(|(number, _)| *number > 0) {
            ui.add_space(look.px(7.0));
            ui.label(look.title("Not stood on"));
            for (number, why) in rows.into_iter().filter(|(number, _)| *number > 0) {
                rule_ui(ui, look, why, &format!("{} places", grouped(number)));
            }
        }
        if !answer.packing.is_empty() {
            ui.add_space(look.px(7.0));
            ui.label(look.title("What to pack"));
            for packing in &answer.packing {
                let lenses: Vec<String> = packing.lenses.iter().map(|lens| lens.replace('-', "–")).collect();
                rule_ui(ui, look, &lenses.join(" and "), &format!("{:.0} %", 100.0 * packing.share));
            }
            let words = "of the places that the whole bag serves, with four fifths of the detail or more";
            ui.add(egui::Label::new(look.note(words)).wrap());
        }
        if let Some(remains) = view.remains {
            ui.add_space(look.px(7.0));
            ui.label(look.title("On the day"));
            let listed: Vec<String> = remains.listed.iter().map(usize::to_string).collect();
            let listed = if listed.is_empty() {
                "none of the list".into()
            } else {
                format!("of the list {}", listed.join(", "))
            };
            let words = format!(
                "With {} in the way {} of {} places are left, {listed}.",
                remains.with.join(" and "),
                grouped(remains.met),
                grouped(remains.met_without)
            );
            ui.add(egui::Label::new(look.plain(words)).wrap());
        }
    });
}

/// What at the left, how much at the right; the left wraps.
fn rule_ui(ui: &mut Ui, look: &Look, what: &str, much: &str) {
    let width = ui.available_width();
    let much_galley = ui.painter().layout_no_wrap(much.to_owned(), look.strong(12.0), look.ink());
    let room = (width - much_galley.size().x - look.px(10.0)).max(look.px(30.0));
    let what_galley = look.wrapped(ui.painter(), what, egui::FontId::proportional(look.px(12.0)), look.ink(), room);
    let height = what_galley.size().y.max(much_galley.size().y) + look.px(2.0);
    let (rect, response) = ui.allocate_exact_size(Vec2::new(width, height), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, format!("{what}: {much}")));
    ui.painter().galley(rect.min, what_galley, look.ink());
    let left = rect.right() - much_galley.size().x;
    ui.painter().galley(Pos2::new(left, rect.top()), much_galley, look.ink());
}
