//! What must the picture be, where may one stand, and with what? The requirements of a search, and its beginning and end.

use std::collections::BTreeSet;

use bevy_egui::egui::{self, Pos2, Rect, ScrollArea, Sense, Ui, Vec2, WidgetInfo, WidgetType};

use super::figures::{length_in, short};
use super::slider::{Any, Slide, plain_number};
use super::style::{Look, button, choice, count, focus_ring, within, word_button};
use super::table::Table;
use crate::search::{Rank, Requirement, Rungs};
use crate::site::{Access, Aim};
use crate::units::Units;
use crate::viewer::state::desk::{Action, LOWEST, SearchAction, SearchRequest, SearchView};

/// How often a search that runs is looked at.
pub(super) const LOOKED_AT_EVERY: std::time::Duration = std::time::Duration::from_millis(200);
/// The most things of the site that are listed at once.
const MOST_LISTED: usize = 60;

const SEEN_STOPS: [f64; 11] = [0.0, 0.25, 0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.95, 0.99, 1.0];
const LEAN_STOPS: [f64; 12] = [0.2, 0.4, 0.6, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 15.0];
const DETAIL_STOPS: [f64; 11] = [10.0, 20.0, 40.0, 60.0, 80.0, 100.0, 150.0, 200.0, 300.0, 500.0, 1000.0];
const NEAR_STOPS: [f64; 10] = [1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 30.0, 50.0, 75.0, 100.0];
const FAR_STOPS: [f64; 12] = [10.0, 20.0, 30.0, 50.0, 75.0, 100.0, 150.0, 200.0, 250.0, 300.0, 500.0, 1000.0];
const SPACING_STOPS: [f64; 8] = [0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 10.0, 20.0];
const PLACES_STOPS: [f64; 6] = [3.0, 5.0, 8.0, 12.0, 20.0, 40.0];
const APART_STOPS: [f64; 8] = [2.0, 5.0, 10.0, 15.0, 20.0, 30.0, 50.0, 100.0];
const RUNG_STOPS: [f64; 13] = [0.3, 0.5, 0.9, 1.6, 2.1, 3.0, 4.5, 6.0, 8.0, 10.0, 15.0, 20.0, 40.0];

/// What is typed and unfolded on this card.
#[derive(Clone, Debug, Default)]
pub(super) struct Asking {
    /// Letters that a thing's name must hold to be listed.
    sieve: String,
    /// A height that is typed.
    height: String,
}

/// The whole card.
pub(super) fn seek_ui(
    ui: &mut Ui,
    table: &Table<'_>,
    view: &SearchView<'_>,
    asking: &mut Asking,
    actions: &mut Vec<Action>,
) {
    let look = &table.look;
    begin_ui(ui, table, view, actions);
    ui.add_space(look.px(4.0));
    let mut seeking = view.request.clone();
    ScrollArea::vertical().id_salt("wishes").auto_shrink([false, false]).show(ui, |ui| {
        ui.set_max_width((ui.available_width() - look.px(8.0)).max(look.px(60.0)));
        ui.spacing_mut().item_spacing = Vec2::new(look.px(5.0), look.px(3.0));
        picture_ui(ui, table, view, &mut seeking);
        place_ui(ui, table, &mut seeking, asking);
        camera_ui(ui, table, &mut seeking);
        things_ui(ui, table, &mut seeking, asking);
        list_ui(ui, table, &mut seeking);
        lowest_ui(ui, table, &mut seeking);
    });
    if seeking != view.request {
        actions.push(SearchAction::Change(Box::new(seeking)).into());
    }
}

/// Search and Stop, how far it is, and why it cannot be.
fn begin_ui(ui: &mut Ui, table: &Table<'_>, view: &SearchView<'_>, actions: &mut Vec<Action>) {
    let look = &table.look;
    ui.spacing_mut().item_spacing = Vec2::new(look.px(6.0), look.px(3.0));
    if let Some((_, share)) = view.running {
        if button(ui, look, "Stop", ui.available_width()).clicked() {
            actions.push(SearchAction::Stop.into());
        }
        bar_ui(ui, look, share);
        let percent =
            share.map_or_else(|| "getting ready".to_owned(), |share| format!("{:.0} % looked at", 100.0 * share));
        let word = if view.map.is_some() && view.map_outdated.is_none() { ", the map refines" } else { "" };
        ui.label(look.note(format!("{percent}{word}")));
        ui.ctx().request_repaint_after(LOOKED_AT_EVERY);
        return;
    }
    let can = view.asked.is_ok();
    let again = view.answer.is_some();
    let word = if again { "Search again" } else { "Search" };
    ui.add_enabled_ui(can, |ui| {
        if button(ui, look, word, ui.available_width()).clicked() {
            actions.push(SearchAction::Start.into());
        }
    });
    match (&view.asked, view.failed) {
        (Err(error), _) => {
            ui.label(look.note(error).color(look.ask()));
        }
        (Ok(_), Some(failed)) => {
            ui.label(look.note(failed).color(look.ask()));
        }
        (Ok((places, each)), None) => {
            let told = format!("{} places, {each} ways to take it at each", grouped(*places as u64));
            ui.label(look.note(told));
        }
    }
}

/// A bar that fills; without a share it is empty.
pub(super) fn bar_ui(ui: &mut Ui, look: &Look, share: Option<f64>) {
    let (rect, response) = ui.allocate_exact_size(Vec2::new(ui.available_width(), look.px(6.0)), Sense::hover());
    response.widget_info(|| {
        let mut info = WidgetInfo::new(WidgetType::ProgressIndicator);
        info.label = Some("how far it is".into());
        info.value = share.map(|share| (100.0 * share).round());
        info
    });
    ui.painter().rect(rect, 3.0, look.well(), look.hairline(), egui::StrokeKind::Inside);
    let filled = crate::viewer::render::narrow::screen(share.unwrap_or(0.0).clamp(0.0, 1.0)) * rect.width();
    let filled = Rect::from_min_size(rect.min, Vec2::new(filled, rect.height()));
    ui.painter().rect_filled(filled, 3.0, look.soft());
}

/// A count with thin groups of thousands.
pub(super) fn grouped(number: u64) -> String {
    let digits = number.to_string();
    let mut text = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            text.push('\u{2009}');
        }
        text.push(digit);
    }
    text
}

/// What a requirement excludes, were it the only one; where that was looked at for the requirements as they are.
fn shuts_out(view: &SearchView<'_>, requirement: Requirement) -> Option<String> {
    let answer = view.answer.filter(|answer| view.outdated.is_none() && answer.looked > 0)?;
    let told = answer.criteria.iter().find(|told| told.requirement == requirement)?;
    let out = answer.looked.saturating_sub(told.met_alone);
    Some(format!("excludes {} of the places", percent(out, answer.looked)))
}

/// A share of a count, whole percents.
pub(super) fn percent(part: u64, whole: u64) -> String {
    if whole == 0 { "–".into() } else { format!("{:.0} %", 100.0 * part as f64 / whole as f64) }
}

fn heading(ui: &mut Ui, look: &Look, words: &str) {
    ui.add_space(look.px(7.0));
    ui.label(look.title(words));
}

fn picture_ui(ui: &mut Ui, table: &Table<'_>, view: &SearchView<'_>, seeking: &mut SearchRequest) {
    let look = &table.look;
    let criteria = &mut seeking.criteria;
    ui.label(look.title("What the picture must be"));
    let half = 0.5 * (ui.available_width() - look.px(5.0));
    ui.horizontal(|ui| {
        for (word, whole) in [("whole, with margins", true), ("may be cut", false)] {
            let name = format!("the subject in the frame: {word}");
            let width = if whole { 1.2 * half } else { 0.8 * half };
            if choice(ui, look, word, &name, criteria.whole == whole, width).clicked() {
                criteria.whole = whole;
            }
        }
    });
    if criteria.whole
        && let Some(note) = shuts_out(view, Requirement::Whole)
    {
        ui.label(look.note(note));
    }
    let seen = Slide {
        name: "share of the subject that must be seen",
        caption: "seen of it, at least",
        stops: &SEEN_STOPS,
        any: Any::Nowhere,
        value: Some(criteria.seen_share),
        range: (0.0, 1.0),
        written: &|share| format!("{:.0} %", 100.0 * share),
        read: &|text| plain_number(text).map(|percent| percent / 100.0),
        note: shuts_out(view, Requirement::Seen),
    };
    if let Some(Some(share)) = seen.ui(ui, look) {
        criteria.seen_share = share;
    }
    let lean = Slide {
        name: "largest lean at most",
        caption: "largest lean, at most",
        stops: &LEAN_STOPS,
        any: Any::Right,
        value: criteria.largest_lean_deg,
        range: (0.0, 90.0),
        written: &|degrees| format!("{}°", short(degrees)),
        read: &plain_number,
        note: shuts_out(view, Requirement::Lean),
    };
    if let Some(degrees) = lean.ui(ui, look) {
        criteria.largest_lean_deg = degrees;
    }
    let units = table.units();
    let per_m = units.from_metres(1.0);
    let detail = Slide {
        name: "detail at the worst point, at least",
        caption: "lowest detail, at least",
        stops: &DETAIL_STOPS,
        any: Any::Left,
        value: criteria.detail_px_per_m,
        range: (0.0, 1e9),
        written: &|px_per_m| units.detail(px_per_m),
        read: &|text| plain_number(text).map(|px| px * per_m),
        note: shuts_out(view, Requirement::Detail),
    };
    if let Some(px_per_m) = detail.ui(ui, look) {
        criteria.detail_px_per_m = px_per_m;
    }
}

/// A slide of lengths.
fn length_ui(
    ui: &mut Ui,
    table: &Table<'_>,
    (name, caption): (&str, &str),
    stops: &[f64],
    range: (f64, f64),
    value: &mut f64,
) {
    let units = table.units();
    let digits = |metres: f64| if units.from_metres(metres) < 9.95 && metres.fract() != 0.0 { 2 } else { 0 };
    let slide = Slide {
        name,
        caption,
        stops,
        any: Any::Nowhere,
        value: Some(*value),
        range,
        written: &|metres| units.length(metres, if units == Units::Ft && metres < 3.0 { 1 } else { digits(metres) }),
        read: &|text| length_in(text, units),
        note: None,
    };
    if let Some(Some(metres)) = slide.ui(ui, &table.look) {
        *value = metres;
    }
}

fn place_ui(ui: &mut Ui, table: &Table<'_>, seeking: &mut SearchRequest, asking: &mut Asking) {
    let look = &table.look;
    let criteria = &mut seeking.criteria;
    heading(ui, look, "Where one may stand");
    let (mut near_m, mut far_m) = criteria.distance_m;
    length_ui(ui, table, ("nearest distance", "from the subject, at least"), &NEAR_STOPS, (0.0, 1e5), &mut near_m);
    length_ui(ui, table, ("farthest distance", "and at most"), &FAR_STOPS, (0.0, 1e5), &mut far_m);
    if (near_m, far_m) != criteria.distance_m {
        // Whichever end was moved takes the other along.
        criteria.distance_m = if far_m < near_m {
            if near_m == criteria.distance_m.0 { (far_m, far_m) } else { (near_m, near_m) }
        } else {
            (near_m, far_m)
        };
    }
    length_ui(
        ui,
        table,
        ("distance between places", "a place every"),
        &SPACING_STOPS,
        (0.02, 1000.0),
        &mut criteria.spacing_m,
    );
    ui.label(look.note("ground; closed ground is never stood on"));
    let half = 0.5 * (ui.available_width() - look.px(5.0));
    ui.horizontal(|ui| {
        for (word, access) in [("open only", Access::Open), ("also ask first", Access::Ask)] {
            let name = format!("ground: {word}");
            if choice(ui, look, word, &name, criteria.access == access, half).clicked() {
                criteria.access = access;
            }
        }
    });
    heights_ui(ui, table, seeking, asking);
    let criteria = &mut seeking.criteria;
    let here = table.standing().pose.eye;
    let here = (here.x, here.y);
    let words = match criteria.from {
        Some((east, north)) => {
            let way = |metres: f64, more: &str, less: &str| {
                format!("{} {}", table.units().length(metres.abs(), 0), if metres < 0.0 { less } else { more })
            };
            format!("effort: the walk from {}, {}", way(east, "east", "west"), way(north, "north", "south"))
        }
        None => "effort counts no walk: nobody has said from where".into(),
    };
    ui.add(egui::Label::new(look.note(words)).wrap());
    if word_button(ui, look, "walk from here", "effort: walk from where I stand now").clicked() {
        criteria.from = Some(here);
    }
}

/// The camera heights that are tried: those with a name, and others.
fn heights_ui(ui: &mut Ui, table: &Table<'_>, seeking: &mut SearchRequest, asking: &mut Asking) {
    let look = &table.look;
    let units = table.units();
    let heights = &mut seeking.criteria.heights_m;
    ui.label(look.note("camera above the feet; each is tried"));
    let same = |a: f64, b: f64| (a - b).abs() < 1e-9;
    let mut rows: Vec<(String, f64)> =
        table.desk.settings().presets.iter().map(|preset| (preset.name.clone(), preset.height_m)).collect();
    let named = rows.clone();
    rows.extend(
        heights
            .iter()
            .filter(|height| !named.iter().any(|(_, known)| same(*known, **height)))
            .map(|&height_m| (String::new(), height_m)),
    );
    let mut toggled = None;
    chips(
        ui,
        look,
        rows.into_iter().map(|(name, height_m)| {
            let length = units.length(height_m, if units == Units::Ft { 1 } else { 2 });
            let word = if name.is_empty() { length.clone() } else { name.clone() };
            let said = format!("camera height {length} {name}");
            (word, said.trim().to_owned(), heights.iter().any(|height| same(*height, height_m)), height_m)
        }),
        &mut |height_m| toggled = Some(height_m),
    );
    if let Some(height_m) = toggled {
        match heights.iter().position(|height| same(*height, height_m)) {
            // The last one stays: a camera is always at some height.
            Some(index) if heights.len() > 1 => {
                heights.remove(index);
            }
            Some(_) => {}
            None => heights.push(height_m),
        }
        heights.sort_by(f64::total_cmp);
    }
    ui.horizontal(|ui| {
        let field = egui::TextEdit::singleline(&mut asking.height).desired_width(look.px(70.0)).hint_text("another");
        let response = ui.add(field);
        ui.ctx().accesskit_node_builder(response.id, |node| node.set_label("another camera height"));
        let entered = response.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter));
        if (word_button(ui, look, "add", "add this camera height").clicked() || entered)
            && let Some(height_m) = length_in(&asking.height, units)
        {
            if (0.05..=150.0).contains(&height_m) && !heights.iter().any(|height| same(*height, height_m)) {
                heights.push(height_m);
                heights.sort_by(f64::total_cmp);
            }
            asking.height.clear();
        }
    });
}

/// Words that are pressed or not, in as many rows as they need.
fn chips<T: Copy>(
    ui: &mut Ui,
    look: &Look,
    all: impl Iterator<Item = (String, String, bool, T)>,
    toggle: &mut dyn FnMut(T),
) {
    let width = ui.available_width();
    ui.allocate_ui_with_layout(
        Vec2::new(width, look.px(24.0)),
        egui::Layout::left_to_right(egui::Align::Center).with_main_wrap(true),
        |ui| {
            ui.spacing_mut().item_spacing = Vec2::new(look.px(4.0), look.px(4.0));
            for (word, name, chosen, of) in all {
                // As wide as the word in its heavier weight, so that pressing it moves nothing.
                let galley = ui.painter().layout_no_wrap(word.clone(), look.strong(12.5), look.ink());
                let wide = (galley.size().x + look.px(14.0)).min(width);
                if choice(ui, look, &word, &name, chosen, wide).clicked() {
                    toggle(of);
                }
            }
        },
    );
}

fn camera_ui(ui: &mut Ui, table: &Table<'_>, seeking: &mut SearchRequest) {
    let look = &table.look;
    let criteria = &mut seeking.criteria;
    heading(ui, look, "With what");
    let crop = if criteria.crop.is_some() { ", cropped" } else { "" };
    ui.label(look.note(format!("body {}{crop}, as on the Walk desk", criteria.format.replace('x', " × "))));
    let lenses: Vec<&str> = table.desk.carried().map(|lens| lens.name.as_str()).collect();
    let mut toggled = None;
    ui.label(look.note("lenses of the bag; each is tried"));
    chips(
        ui,
        look,
        lenses.iter().map(|&name| {
            let chosen = criteria.lenses.iter().any(|lens| lens == name);
            (name.replace('-', "–"), format!("search with the {name}"), chosen, name)
        }),
        &mut |name| toggled = Some(name),
    );
    if let Some(name) = toggled {
        match criteria.lenses.iter().position(|lens| lens == name) {
            Some(index) => {
                criteria.lenses.remove(index);
            }
            // In the order of the kit, whatever the order of the clicks.
            None => {
                criteria.lenses = lenses
                    .iter()
                    .filter(|known| **known == name || criteria.lenses.iter().any(|lens| lens == **known))
                    .map(|&known| known.to_owned())
                    .collect();
            }
        }
    }
    ui.label(look.note("how it is aimed; each is tried"));
    let aims = [
        ("filled", "aim: pitched and zoomed to fill the frame", Aim::Fill),
        ("level", "aim: held level", Aim::Level),
        ("level, with rise", "aim: held level, the lens risen", Aim::Rise),
    ];
    let mut toggled = None;
    chips(
        ui,
        look,
        aims.iter().map(|&(word, name, aim)| (word.to_owned(), name.to_owned(), criteria.aims.contains(&aim), aim)),
        &mut |aim| toggled = Some(aim),
    );
    if let Some(aim) = toggled {
        match criteria.aims.iter().position(|known| *known == aim) {
            Some(index) if criteria.aims.len() > 1 => {
                criteria.aims.remove(index);
            }
            Some(_) => {}
            None => criteria.aims.push(aim),
        }
        criteria.aims.sort_by_key(|aim| aims.iter().position(|(_, _, known)| known == aim));
    }
}

/// What is required of a thing on the site.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Of {
    Inside,
    Outside,
    Away,
    MayCome,
}

const OF_THINGS: [(&str, &str, Of); 4] = [
    ("in", "must be in the frame", Of::Inside),
    ("out", "must be out of the frame", Of::Outside),
    ("away", "is taken away", Of::Away),
    ("may come", "may stand in the way on the day", Of::MayCome),
];

/// Things that must be in the frame or out of it, that are away, or may come.
fn things_ui(ui: &mut Ui, table: &Table<'_>, seeking: &mut SearchRequest, asking: &mut Asking) {
    let look = &table.look;
    heading(ui, look, "Things on the site");
    let survey = table.desk.survey();
    let subject: BTreeSet<usize> =
        survey.subject.as_ref().map(|subject| subject.blocks.iter().copied().collect()).unwrap_or_default();
    let words = "in: the frame must hold it. out: nothing of it. away: taken away for the search. may come: taken away, and told what is left if it stands there.";
    ui.add(egui::Label::new(look.note(words)).wrap());
    let blocks = &survey.model.site.blocks;
    if blocks.len() > 12 {
        let field = egui::TextEdit::singleline(&mut asking.sieve)
            .desired_width(ui.available_width() - look.px(8.0))
            .hint_text("part of a name");
        let response = ui.add(field);
        ui.ctx().accesskit_node_builder(response.id, |node| node.set_label("part of a thing's name"));
    }
    let sieve = asking.sieve.to_lowercase();
    let mut left_out = 0;
    let mut listed = 0;
    for (index, block) in blocks.iter().enumerate() {
        if !block.name.to_lowercase().contains(&sieve) || subject.contains(&index) {
            continue;
        }
        if listed >= MOST_LISTED {
            left_out += 1;
            continue;
        }
        listed += 1;
        thing_ui(ui, look, &block.name, seeking);
    }
    if left_out > 0 {
        ui.label(look.note(format!("{left_out} more: write a part of the name")));
    }
    if listed == 0 && sieve.is_empty() {
        ui.label(look.note("nothing but the subject stands here"));
    }
}

fn of_thing(seeking: &SearchRequest, name: &str, of: Of) -> bool {
    let list = match of {
        Of::Inside => &seeking.criteria.inside,
        Of::Outside => &seeking.criteria.outside,
        Of::Away => &seeking.criteria.without,
        Of::MayCome => &seeking.may_come,
    };
    list.iter().any(|known| known == name)
}

fn thing_ui(ui: &mut Ui, look: &Look, name: &str, seeking: &mut SearchRequest) {
    let (rect, _) = ui.allocate_exact_size(Vec2::new(ui.available_width(), look.px(22.0)), Sense::hover());
    let wide = [26.0, 30.0, 38.0, 60.0].map(|wide| look.px(wide));
    let gap = look.px(2.0);
    let taken = wide.iter().sum::<f32>() + gap * 4.0;
    let galley = look.fitted(ui, name, look.caption(), look.ink(), rect.width() - taken - look.px(4.0));
    let cut = galley.elided;
    let size = galley.size();
    let place = Pos2::new(rect.left(), rect.center().y - 0.5 * size.y);
    ui.painter().galley(place, galley, look.ink());
    let response = ui.interact(Rect::from_min_size(place, size), ui.id().with(("thing", name)), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, name));
    if cut {
        response.on_hover_text(name);
    }
    let mut left = rect.right() - taken + gap;
    for ((word, means, of), wide) in OF_THINGS.into_iter().zip(wide) {
        let place = Rect::from_min_size(Pos2::new(left, rect.top()), Vec2::new(wide, rect.height()));
        left += wide + gap;
        let chosen = of_thing(seeking, name, of);
        let pressed = within(ui, &format!("{name} {word}"), place.expand(2.0), |ui| {
            small_choice(ui, look, place, word, &format!("{name} {means}"), chosen)
        });
        if pressed {
            set_thing(seeking, name, (!chosen).then_some(of));
        }
    }
}

/// A small word that is pressed or not.
fn small_choice(ui: &mut Ui, look: &Look, place: Rect, word: &str, name: &str, chosen: bool) -> bool {
    let response = ui.interact(place, ui.id().with(name), Sense::click());
    response.widget_info(|| WidgetInfo::selected(WidgetType::SelectableLabel, true, chosen, name));
    if chosen || response.hovered() {
        let edge = if chosen { look.ink() } else { look.line() };
        ui.painter().rect(place, 4.0, look.well(), egui::Stroke::new(1.0, edge), egui::StrokeKind::Inside);
    }
    focus_ring(ui, look, &response, place);
    let (font, ink) =
        if chosen { (look.strong(11.0), look.ink()) } else { (egui::FontId::proportional(look.px(11.0)), look.soft()) };
    let galley = look.fitted(ui, word, font, ink, place.width() - look.px(3.0));
    ui.painter().galley(place.center() - 0.5 * galley.size(), galley, ink);
    response.on_hover_cursor(egui::CursorIcon::PointingHand).on_hover_text(name).clicked()
}

/// A thing is required one way, or none.
fn set_thing(seeking: &mut SearchRequest, name: &str, of: Option<Of>) {
    let criteria = &mut seeking.criteria;
    for list in [&mut criteria.inside, &mut criteria.outside, &mut criteria.without, &mut seeking.may_come] {
        list.retain(|known| known != name);
    }
    let list = match of {
        Some(Of::Inside) => &mut criteria.inside,
        Some(Of::Outside) => &mut criteria.outside,
        Some(Of::Away) => &mut criteria.without,
        Some(Of::MayCome) => &mut seeking.may_come,
        None => return,
    };
    list.push(name.to_owned());
}

/// How what is found is listed.
fn list_ui(ui: &mut Ui, table: &Table<'_>, seeking: &mut SearchRequest) {
    let look = &table.look;
    let criteria = &mut seeking.criteria;
    heading(ui, look, "The list");
    let third = (ui.available_width() - look.px(10.0)) / count(3);
    ui.horizontal(|ui| {
        for (word, rank) in [("least lean", Rank::Lean), ("most detail", Rank::Detail), ("least effort", Rank::Effort)]
        {
            let name = format!("first in the list: {word}");
            if choice(ui, look, word, &name, criteria.rank == rank, third).clicked() {
                criteria.rank = rank;
            }
        }
    });
    let places = Slide {
        name: "how many places to list",
        caption: "places, at most",
        stops: &PLACES_STOPS,
        any: Any::Nowhere,
        value: Some(criteria.places as f64),
        range: (1.0, 100.0),
        written: &|places| format!("{places:.0}"),
        read: &|text| plain_number(text).map(f64::round),
        note: None,
    };
    if let Some(Some(places)) = places.ui(ui, look) {
        criteria.places = places as usize;
    }
    length_ui(
        ui,
        table,
        ("how far apart listed places are", "apart, at least"),
        &APART_STOPS,
        (0.0, 1e5),
        &mut criteria.difference_m,
    );
}

/// Whether the lowest camera that serves is looked for.
fn lowest_ui(ui: &mut Ui, table: &Table<'_>, seeking: &mut SearchRequest) {
    let look = &table.look;
    let criteria = &mut seeking.criteria;
    heading(ui, look, "The lowest camera");
    let half = 0.5 * (ui.available_width() - look.px(5.0));
    ui.horizontal(|ui| {
        for (word, looked) in [("not looked for", false), ("looked for", true)] {
            let name = format!("lowest camera that serves: {word}");
            if choice(ui, look, word, &name, criteria.lowest.is_some() == looked, half).clicked()
                && looked != criteria.lowest.is_some()
            {
                criteria.lowest = looked.then_some(LOWEST);
            }
        }
    });
    let Some(mut rungs) = criteria.lowest else {
        ui.add(
            egui::Label::new(look.note("How low a camera sees enough, and meets every wish: a map of its own.")).wrap(),
        );
        return;
    };
    length_ui(ui, table, ("lowest camera tried", "from"), &RUNG_STOPS, (0.05, 150.0), &mut rungs.from_m);
    length_ui(ui, table, ("highest camera tried", "up to"), &RUNG_STOPS, (0.05, 150.0), &mut rungs.to_m);
    rungs.to_m = rungs.to_m.max(rungs.from_m);
    let note = format!("{} heights, every {}", rungs.count(), table.units().length(rungs.step_m, 2));
    ui.label(look.note(note));
    criteria.lowest = Some(Rungs { ..rungs });
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::search::Criteria;

    #[test]
    fn a_thing_is_required_one_way_or_none() {
        let mut seeking = SearchRequest { criteria: Criteria::default(), may_come: Vec::new() };
        for (_, _, of) in OF_THINGS {
            set_thing(&mut seeking, "the van", Some(of));
            for (_, _, other) in OF_THINGS {
                assert_eq!(of_thing(&seeking, "the van", other), other == of);
            }
        }
        set_thing(&mut seeking, "the van", None);
        assert!(OF_THINGS.iter().all(|(_, _, of)| !of_thing(&seeking, "the van", *of)));
    }

    #[test]
    fn counts_are_read_in_groups() {
        assert_eq!(grouped(999), "999");
        assert_eq!(grouped(1_234_567), "1\u{2009}234\u{2009}567");
        assert_eq!(percent(1, 3), "33 %");
    }
}
