//! What must the picture be, where may one stand, and with what? The requirements of a search, and its beginning and end.

use std::collections::BTreeSet;

use bevy_egui::egui::{self, Pos2, Rect, ScrollArea, Sense, Ui, Vec2, WidgetInfo, WidgetType};

use super::context::PanelContext;
use super::criteria_light::light_ui;
use super::figures::{length_in, short};
use super::requirement::{chips, excluded_words, heading};
use super::slider::{AnyEnd, Slider, plain_number};
use super::style::{WindowStyle, button, choice, focus_ring, row_widths, text_button, within};
use crate::search::{ANY_SIDE_DEG, Rank, Requirement, Rungs, SQUARE_DEG, THREE_QUARTER_DEG, USUAL_FRONT_DEG};
use crate::site::{Access, Aim};
use crate::units::Units;
use crate::viewer::state::desk::{Action, LOWEST, SearchAction, SearchRequest, SearchView, SettingAction};
use crate::wording::{grouped, percent};

/// How often a search that runs is looked at.
pub(super) const LOOKED_AT_EVERY: std::time::Duration = std::time::Duration::from_millis(200);
/// The most things of the site that are listed at once.
const MOST_LISTED: usize = 60;

const SEEN_STOPS: [f64; 11] = [0.0, 0.25, 0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.95, 0.99, 1.0];
const FILLED_STOPS: [f64; 11] = [0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0];
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
pub(super) struct CriteriaTyping {
    /// Letters that a thing's name must hold to be listed.
    name_part: String,
    /// A height that is typed.
    height: String,
}

/// The whole card.
pub(super) fn criteria_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    view: &SearchView<'_>,
    typing: &mut CriteriaTyping,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    begin_ui(ui, panel, view, actions);
    ui.add_space(style.px(4.0));
    let mut seeking = view.request.clone();
    ScrollArea::vertical().id_salt("criteria").auto_shrink([false, false]).show(ui, |ui| {
        ui.set_max_width((ui.available_width() - style.px(8.0)).max(style.px(60.0)));
        ui.spacing_mut().item_spacing = Vec2::new(style.px(5.0), style.px(3.0));
        picture_ui(ui, panel, view, &mut seeking);
        light_ui(ui, panel, view, &mut seeking);
        place_ui(ui, panel, &mut seeking, typing);
        camera_ui(ui, panel, &mut seeking, actions);
        things_ui(ui, panel, &mut seeking, typing);
        list_ui(ui, panel, &mut seeking);
        lowest_ui(ui, panel, &mut seeking);
    });
    if seeking != view.request {
        actions.push(SearchAction::Change(Box::new(seeking)).into());
    }
}

/// Search and Stop, how far it is, and why it cannot be.
fn begin_ui(ui: &mut Ui, panel: &PanelContext<'_>, view: &SearchView<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    ui.spacing_mut().item_spacing = Vec2::new(style.px(6.0), style.px(3.0));
    if let Some((_, share)) = view.running {
        if button(ui, style, "Stop", ui.available_width()).clicked() {
            actions.push(SearchAction::Stop.into());
        }
        bar_ui(ui, style, share);
        let percent = share.map_or_else(|| "getting ready".to_owned(), |share| format!("{} looked at", percent(share)));
        let word = if view.map.is_some() && view.map_outdated.is_none() { ", the map is being refined" } else { "" };
        ui.label(style.note(format!("{percent}{word}")));
        ui.ctx().request_repaint_after(LOOKED_AT_EVERY);
        return;
    }
    let can = view.asked.is_ok();
    let again = view.answer.is_some();
    let word = if again { "Search again" } else { "Search" };
    ui.add_enabled_ui(can, |ui| {
        if button(ui, style, word, ui.available_width()).clicked() {
            actions.push(SearchAction::Start.into());
        }
    });
    match (&view.asked, view.failed) {
        (Err(error), _) => {
            ui.label(style.note(error).color(style.ask()));
        }
        (Ok(_), Some(failed)) => {
            ui.label(style.note(failed).color(style.ask()));
        }
        (Ok((places, each)), None) => {
            let size = format!("{} standpoints, {each} lens and height combinations at each", grouped(*places as u64));
            ui.label(style.note(size));
        }
    }
}

/// A bar that fills; without a share it is empty.
pub(super) fn bar_ui(ui: &mut Ui, style: &WindowStyle, share: Option<f64>) {
    let (rect, response) = ui.allocate_exact_size(Vec2::new(ui.available_width(), style.px(6.0)), Sense::hover());
    response.widget_info(|| {
        let mut info = WidgetInfo::new(WidgetType::ProgressIndicator);
        info.label = Some("progress".into());
        info.value = share.map(|share| (100.0 * share).round());
        info
    });
    ui.painter().rect(rect, 3.0, style.well(), style.hairline(), egui::StrokeKind::Inside);
    let filled = crate::viewer::render::narrow::screen(share.unwrap_or(0.0).clamp(0.0, 1.0)) * rect.width();
    let filled = Rect::from_min_size(rect.min, Vec2::new(filled, rect.height()));
    ui.painter().rect_filled(filled, 3.0, style.soft());
}

fn picture_ui(ui: &mut Ui, panel: &PanelContext<'_>, view: &SearchView<'_>, seeking: &mut SearchRequest) {
    ui.label(panel.style.title("The picture"));
    whole_ui(ui, panel, view, seeking);
    front_ui(ui, panel, view, seeking);
    seen_ui(ui, panel, view, seeking);
    filled_ui(ui, panel, view, seeking);
    lean_ui(ui, panel, view, seeking);
    detail_ui(ui, panel, view, seeking);
}

/// Whether the frame must hold the whole subject.
fn whole_ui(ui: &mut Ui, panel: &PanelContext<'_>, view: &SearchView<'_>, seeking: &mut SearchRequest) {
    let (style, criteria) = (&panel.style, &mut seeking.criteria);
    let words = ["Whole, with margins", "Allow cut"];
    let widths = row_widths(ui, style, words, ui.available_width() - style.px(5.0));
    ui.horizontal(|ui| {
        for ((word, whole), width) in words.into_iter().zip([true, false]).zip(widths) {
            let name = format!("the subject in the frame: {word}");
            if choice(ui, style, word, &name, criteria.whole == whole, width).clicked() {
                criteria.whole = whole;
            }
        }
    });
    if criteria.whole
        && let Some(note) = excluded_words(view, Requirement::Whole)
    {
        ui.label(style.note(note));
    }
}

/// From which side of the front the picture is taken.
fn front_ui(ui: &mut Ui, panel: &PanelContext<'_>, view: &SearchView<'_>, seeking: &mut SearchRequest) {
    let (style, criteria) = (&panel.style, &mut seeking.criteria);
    let survey = panel.desk.survey();
    let named = survey.subject.as_ref().ok().and_then(|subject| subject.named_front);
    let words = match &named {
        Some(wall) => format!("from the front, {}", survey.model.site.blocks[wall.block].name),
        None => "from the wall seen largest; the site names no front".into(),
    };
    ui.add(egui::Label::new(style.note(words)).wrap());
    let sides = [
        ("Front", None),
        ("Square on", Some(SQUARE_DEG)),
        ("Three-quarter", Some(THREE_QUARTER_DEG)),
        ("Any side", Some(ANY_SIDE_DEG)),
    ];
    // Without a named front nothing is required of the side unless somebody chooses one.
    let sides = if named.is_some() { &sides[..] } else { &sides[1..] };
    let present = criteria.front_deg.or_else(|| named.is_none().then_some(ANY_SIDE_DEG));
    let mut chosen = present;
    chips(
        ui,
        style,
        sides.iter().map(|&(word, side)| (word.to_owned(), format!("side: {word}"), present == side, side)),
        &mut |side, _| chosen = side,
    );
    criteria.front_deg = chosen.filter(|side| named.is_some() || *side != ANY_SIDE_DEG);
    if let Some((from_deg, to_deg)) = criteria.front_deg.or_else(|| named.map(|_| USUAL_FRONT_DEG)) {
        let excluded = excluded_words(view, Requirement::Front).map_or_else(String::new, |words| format!("; {words}"));
        let words = format!("{} to {}° from it{excluded}", short(from_deg), short(to_deg));
        ui.add(egui::Label::new(style.note(words)).wrap());
    }
}

/// How much of the subject must be seen.
fn seen_ui(ui: &mut Ui, panel: &PanelContext<'_>, view: &SearchView<'_>, seeking: &mut SearchRequest) {
    let (style, criteria) = (&panel.style, &mut seeking.criteria);
    let seen = Slider {
        name: "share of the subject that must be seen",
        caption: "Subject seen, at least",
        stops: &SEEN_STOPS,
        any: AnyEnd::Nowhere,
        value: Some(criteria.seen_share),
        range: (0.0, 1.0),
        written: &percent,
        read: &|text| plain_number(text).map(|percent| percent / 100.0),
        note: excluded_words(view, Requirement::Seen),
    };
    if let Some(Some(share)) = seen.ui(ui, style) {
        criteria.seen_share = share;
    }
}

/// How much of the frame the subject must fill.
fn filled_ui(ui: &mut Ui, panel: &PanelContext<'_>, view: &SearchView<'_>, seeking: &mut SearchRequest) {
    let (style, criteria) = (&panel.style, &mut seeking.criteria);
    let filled = Slider {
        name: "share of the frame that the subject must fill",
        caption: "Frame filled, at least",
        stops: &FILLED_STOPS,
        any: AnyEnd::Nowhere,
        value: Some(criteria.filled_share),
        range: (0.0, 1.0),
        written: &percent,
        read: &|text| plain_number(text).map(|percent| percent / 100.0),
        note: excluded_words(view, Requirement::Filled),
    };
    if let Some(Some(share)) = filled.ui(ui, style) {
        criteria.filled_share = share;
    }
}

/// How far a line of the subject may lean.
fn lean_ui(ui: &mut Ui, panel: &PanelContext<'_>, view: &SearchView<'_>, seeking: &mut SearchRequest) {
    let (style, criteria) = (&panel.style, &mut seeking.criteria);
    let lean = Slider {
        name: "largest lean at most",
        caption: "Largest lean, at most",
        stops: &LEAN_STOPS,
        any: AnyEnd::Right,
        value: criteria.largest_lean_deg,
        range: (0.0, 90.0),
        written: &|degrees| format!("{}°", short(degrees)),
        read: &plain_number,
        note: excluded_words(view, Requirement::Lean),
    };
    if let Some(degrees) = lean.ui(ui, style) {
        criteria.largest_lean_deg = degrees;
    }
}

/// How much detail there must be.
fn detail_ui(ui: &mut Ui, panel: &PanelContext<'_>, view: &SearchView<'_>, seeking: &mut SearchRequest) {
    let (style, criteria) = (&panel.style, &mut seeking.criteria);
    let units = panel.units();
    let per_m = units.from_metres(1.0);
    let detail = Slider {
        name: "lowest detail, at least",
        caption: "Lowest detail, at least",
        stops: &DETAIL_STOPS,
        any: AnyEnd::Left,
        value: criteria.detail_px_per_m,
        range: (0.0, 1e9),
        written: &|px_per_m| units.detail(px_per_m),
        read: &|text| plain_number(text).map(|px| px * per_m),
        note: excluded_words(view, Requirement::Detail),
    };
    if let Some(px_per_m) = detail.ui(ui, style) {
        criteria.detail_px_per_m = px_per_m;
    }
}

/// A length that is set on a line with stops, in metres.
struct LengthSlider<'a> {
    /// What it sets, in words.
    name: &'a str,
    /// What stands over it.
    caption: &'a str,
    stops: &'a [f64],
    /// Least and most that may be typed.
    range: (f64, f64),
}

fn length_ui(ui: &mut Ui, panel: &PanelContext<'_>, length: &LengthSlider<'_>, value: &mut f64) {
    let &LengthSlider { name, caption, stops, range } = length;
    let units = panel.units();
    let digits = |metres: f64| if units.from_metres(metres) < 9.95 && metres.fract() != 0.0 { 2 } else { 0 };
    let slide = Slider {
        name,
        caption,
        stops,
        any: AnyEnd::Nowhere,
        value: Some(*value),
        range,
        written: &|metres| units.length(metres, if units == Units::Ft && metres < 3.0 { 1 } else { digits(metres) }),
        read: &|text| length_in(text, units),
        note: None,
    };
    if let Some(Some(metres)) = slide.ui(ui, &panel.style) {
        *value = metres;
    }
}

fn place_ui(ui: &mut Ui, panel: &PanelContext<'_>, seeking: &mut SearchRequest, typing: &mut CriteriaTyping) {
    let style = &panel.style;
    let criteria = &mut seeking.criteria;
    heading(ui, style, "Where to stand");
    let (mut near_m, mut far_m) = criteria.distance_m;
    length_ui(
        ui,
        panel,
        &LengthSlider {
            name: "nearest distance",
            caption: "Distance, at least",
            stops: &NEAR_STOPS,
            range: (0.0, 1e5),
        },
        &mut near_m,
    );
    length_ui(
        ui,
        panel,
        &LengthSlider { name: "farthest distance", caption: "Distance, at most", stops: &FAR_STOPS, range: (0.0, 1e5) },
        &mut far_m,
    );
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
        panel,
        &LengthSlider {
            name: "distance between standpoints",
            caption: "Spacing of standpoints",
            stops: &SPACING_STOPS,
            range: (0.02, 1000.0),
        },
        &mut criteria.spacing_m,
    );
    ui.label(style.note("ground; closed ground is always excluded"));
    let words = ["Open only", "With permission"];
    let widths = row_widths(ui, style, words, ui.available_width() - style.px(5.0));
    ui.horizontal(|ui| {
        for ((word, access), width) in words.into_iter().zip([Access::Open, Access::Ask]).zip(widths) {
            let name = format!("ground: {word}");
            if choice(ui, style, word, &name, criteria.access == access, width).clicked() {
                criteria.access = access;
            }
        }
    });
    heights_ui(ui, panel, seeking, typing);
    let criteria = &mut seeking.criteria;
    let here = panel.standing().pose.eye;
    let here = (here.x, here.y);
    let words = match criteria.from {
        Some((east, north)) => {
            let way = |metres: f64, more: &str, less: &str| {
                format!("{} {}", panel.units().length(metres.abs(), 0), if metres < 0.0 { less } else { more })
            };
            format!("walk counted from {}, {}", way(east, "east", "west"), way(north, "north", "south"))
        }
        None => "no starting point is set, so walking is not counted".into(),
    };
    ui.add(egui::Label::new(style.note(words)).wrap());
    if text_button(ui, style, "Start here", "count the walk from where you stand now").clicked() {
        criteria.from = Some(here);
    }
}

/// The camera heights that are tried: those with a name, and others.
fn heights_ui(ui: &mut Ui, panel: &PanelContext<'_>, seeking: &mut SearchRequest, typing: &mut CriteriaTyping) {
    let style = &panel.style;
    let units = panel.units();
    let heights = &mut seeking.criteria.heights_m;
    ui.label(style.note("camera above the feet; each one is tried"));
    let same = |a: f64, b: f64| (a - b).abs() < 1e-9;
    let mut rows: Vec<(String, f64)> =
        panel.desk.settings().presets.iter().map(|preset| (preset.name.clone(), preset.height_m)).collect();
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
        style,
        rows.into_iter().map(|(name, height_m)| {
            let length = units.length(height_m, if units == Units::Ft { 1 } else { 2 });
            let word = if name.is_empty() { length.clone() } else { name.clone() };
            let said = format!("camera height {length} {name}");
            (word, said.trim().to_owned(), heights.iter().any(|height| same(*height, height_m)), height_m)
        }),
        &mut |height_m, _| toggled = Some(height_m),
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
        let field = egui::TextEdit::singleline(&mut typing.height).desired_width(style.px(70.0)).hint_text("another");
        let response = ui.add(field);
        ui.ctx().accesskit_node_builder(response.id, |node| node.set_label("another camera height"));
        let entered = response.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter));
        if (text_button(ui, style, "Add", "add this camera height").clicked() || entered)
            && let Some(height_m) = length_in(&typing.height, units)
        {
            if (0.05..=150.0).contains(&height_m) && !heights.iter().any(|height| same(*height, height_m)) {
                heights.push(height_m);
                heights.sort_by(f64::total_cmp);
            }
            typing.height.clear();
        }
    });
}

fn camera_ui(ui: &mut Ui, panel: &PanelContext<'_>, seeking: &mut SearchRequest, actions: &mut Vec<Action>) {
    let style = &panel.style;
    heading(ui, style, "Camera and lenses");
    let crop = if seeking.criteria.crop.is_some() { ", cropped" } else { "" };
    let body = seeking.criteria.format.replace('x', " × ");
    ui.label(style.note(format!("body {body}{crop}, as on the Walk desk")));
    bag_ui(ui, panel, actions);
    let criteria = &mut seeking.criteria;
    ui.label(style.note("aim; each one is tried"));
    let aims = [
        ("Fill", "aim: pitch and zoom to fill the frame", Aim::Fill),
        ("Level", "aim: hold the camera level", Aim::Level),
        ("Rise", "aim: hold the camera level and use rise", Aim::Rise),
        ("Least tilt", "aim: tilt as little as holds the subject", Aim::LeastTilt),
        ("Correct", "aim: what keeps the most detail once straightened", Aim::Correct),
    ];
    let mut toggled = None;
    chips(
        ui,
        style,
        aims.iter().map(|&(word, name, aim)| (word.to_owned(), name.to_owned(), criteria.aims.contains(&aim), aim)),
        &mut |aim, _| toggled = Some(aim),
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

/// The lenses in the bag: the same as on the Walk desk. Each one is tried.
fn bag_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    ui.add(egui::Label::new(style.note("lenses in the bag, as on the Walk desk; each one is tried")).wrap());
    let lenses = &panel.desk.survey().kit.lenses;
    chips(
        ui,
        style,
        lenses.iter().map(|lens| {
            let name = lens.name.as_str();
            let word = name.replace('-', "–").replace(" with ", " + ");
            (word, format!("{name} in the bag"), panel.desk.carries(name), name)
        }),
        &mut |name, only| {
            actions.push(match only {
                true => SettingAction::CarryOnly(name.to_owned()).into(),
                false => SettingAction::Carry(name.to_owned(), !panel.desk.carries(name)).into(),
            });
        },
    );
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = style.px(4.0);
        let own = &panel.standing().lens.name;
        let word = format!("Only {}", own.replace('-', "–"));
        if text_button(ui, style, &word, &format!("only the {own} in the bag"))
            .on_hover_text("pack only the lens on the camera; a right click on another packs only that")
            .clicked()
        {
            actions.push(SettingAction::CarryOnly(own.clone()).into());
        }
        if text_button(ui, style, "All", "every lens of the kit in the bag").clicked() {
            actions.push(SettingAction::CarryAll.into());
        }
    });
}

/// What is required of a thing on the site.
#[derive(Clone, Copy, PartialEq, Eq)]
enum ThingRule {
    /// All of it is in the frame.
    Inside,
    /// None of it is in the frame.
    Outside,
    /// It is left out of the model.
    Removed,
    /// It is left out, and what remains with it there is counted.
    MayCome,
}

const THING_RULES: [(&str, &str, ThingRule); 4] = [
    ("In", "must be in the frame", ThingRule::Inside),
    ("Out", "must be out of the frame", ThingRule::Outside),
    ("Gone", "is left out of the model", ThingRule::Removed),
    ("May come", "may stand in the way on the day", ThingRule::MayCome),
];

/// Things that must be in the frame or out of it, that are ignored, or may come.
fn things_ui(ui: &mut Ui, panel: &PanelContext<'_>, seeking: &mut SearchRequest, typing: &mut CriteriaTyping) {
    let style = &panel.style;
    heading(ui, style, "Things on the site");
    let survey = panel.desk.survey();
    let subject: BTreeSet<usize> =
        survey.subject.as_ref().map(|subject| subject.blocks.iter().copied().collect()).unwrap_or_default();
    let words = "In: all of it is in the frame. Out: none of it is. Gone: the search ignores it. May come: the search ignores it, then counts what remains with it there.";
    ui.add(egui::Label::new(style.note(words)).wrap());
    let blocks = &survey.model.site.blocks;
    if blocks.len() > 12 {
        let field = egui::TextEdit::singleline(&mut typing.name_part)
            .desired_width(ui.available_width() - style.px(8.0))
            .hint_text("part of a name");
        let response = ui.add(field);
        ui.ctx().accesskit_node_builder(response.id, |node| node.set_label("part of a thing's name"));
    }
    let name_part = typing.name_part.to_lowercase();
    let mut left_out = 0;
    let mut listed = 0;
    for (index, block) in blocks.iter().enumerate() {
        if !block.name.to_lowercase().contains(&name_part) || subject.contains(&index) {
            continue;
        }
        if listed >= MOST_LISTED {
            left_out += 1;
            continue;
        }
        listed += 1;
        thing_ui(ui, style, &block.name, seeking);
    }
    if left_out > 0 {
        ui.label(style.note(format!("{left_out} more: type part of the name")));
    }
    if listed == 0 && name_part.is_empty() {
        ui.label(style.note("nothing else stands on the site"));
    }
}

fn has_rule(seeking: &SearchRequest, name: &str, rule: ThingRule) -> bool {
    let list = match rule {
        ThingRule::Inside => &seeking.criteria.inside,
        ThingRule::Outside => &seeking.criteria.outside,
        ThingRule::Removed => &seeking.criteria.without,
        ThingRule::MayCome => &seeking.may_come,
    };
    list.iter().any(|known| known == name)
}

fn thing_ui(ui: &mut Ui, style: &WindowStyle, name: &str, seeking: &mut SearchRequest) {
    let (rect, _) = ui.allocate_exact_size(Vec2::new(ui.available_width(), style.px(22.0)), Sense::hover());
    let wide = [26.0, 30.0, 38.0, 60.0].map(|wide| style.px(wide));
    let gap = style.px(2.0);
    let taken = wide.iter().sum::<f32>() + gap * 4.0;
    let galley = style.fitted(ui, name, style.caption(), style.ink(), rect.width() - taken - style.px(4.0));
    let cut = galley.elided;
    let size = galley.size();
    let place = Pos2::new(rect.left(), rect.center().y - 0.5 * size.y);
    ui.painter().galley(place, galley, style.ink());
    let response = ui.interact(Rect::from_min_size(place, size), ui.id().with(("thing", name)), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, name));
    if cut {
        response.on_hover_text(name);
    }
    let mut left = rect.right() - taken + gap;
    for ((word, means, rule), wide) in THING_RULES.into_iter().zip(wide) {
        let place = Rect::from_min_size(Pos2::new(left, rect.top()), Vec2::new(wide, rect.height()));
        left += wide + gap;
        let chosen = has_rule(seeking, name, rule);
        let pressed = within(ui, &format!("{name} {word}"), place.expand(2.0), |ui| {
            small_choice(ui, style, place, word, &format!("{name} {means}"), chosen)
        });
        if pressed {
            set_rule(seeking, name, (!chosen).then_some(rule));
        }
    }
}

/// A small word that is pressed or not.
fn small_choice(ui: &mut Ui, style: &WindowStyle, place: Rect, word: &str, name: &str, chosen: bool) -> bool {
    let response = ui.interact(place, ui.id().with(name), Sense::click());
    response.widget_info(|| WidgetInfo::selected(WidgetType::SelectableLabel, true, chosen, name));
    if chosen || response.hovered() {
        let edge = if chosen { style.ink() } else { style.line() };
        ui.painter().rect(place, 4.0, style.well(), egui::Stroke::new(1.0, edge), egui::StrokeKind::Inside);
    }
    focus_ring(ui, style, &response, place);
    let (font, ink) = if chosen {
        (style.strong(11.0), style.ink())
    } else {
        (egui::FontId::proportional(style.px(11.0)), style.soft())
    };
    let galley = style.fitted(ui, word, font, ink, place.width() - style.px(3.0));
    ui.painter().galley(place.center() - 0.5 * galley.size(), galley, ink);
    response.on_hover_cursor(egui::CursorIcon::PointingHand).on_hover_text(name).clicked()
}

/// A thing is required one way, or none.
fn set_rule(seeking: &mut SearchRequest, name: &str, rule: Option<ThingRule>) {
    let criteria = &mut seeking.criteria;
    for list in [&mut criteria.inside, &mut criteria.outside, &mut criteria.without, &mut seeking.may_come] {
        list.retain(|known| known != name);
    }
    let list = match rule {
        Some(ThingRule::Inside) => &mut criteria.inside,
        Some(ThingRule::Outside) => &mut criteria.outside,
        Some(ThingRule::Removed) => &mut criteria.without,
        Some(ThingRule::MayCome) => &mut seeking.may_come,
        None => return,
    };
    list.push(name.to_owned());
}

/// How what is found is listed.
fn list_ui(ui: &mut Ui, panel: &PanelContext<'_>, seeking: &mut SearchRequest) {
    let style = &panel.style;
    let criteria = &mut seeking.criteria;
    heading(ui, style, "List");
    let ranks = [
        ("Upright, least walk", Rank::Upright),
        ("Least lean", Rank::Lean),
        ("Most detail", Rank::Detail),
        ("Least walk", Rank::Effort),
        ("Longest sun", Rank::Light),
    ];
    // Light can rank places only where it is said when.
    let ranks = if criteria.light.is_some() { &ranks[..] } else { &ranks[..4] };
    let present = criteria.rank;
    let mut chosen = present;
    chips(
        ui,
        style,
        ranks.iter().map(|&(word, rank)| (word.into(), format!("first in the list: {word}"), present == rank, rank)),
        &mut |rank, _| chosen = rank,
    );
    criteria.rank = chosen;
    let words = match criteria.rank {
        Rank::Upright => {
            let upright = short(criteria.upright_deg);
            format!("leans of up to {upright}° first, by the walk and climb, then the detail, then the frame filled")
        }
        Rank::Lean | Rank::Detail => "then by the walk and climb".into(),
        Rank::Effort => "then by the lean".into(),
        Rank::Light => "then by the lean, then by the walk and climb".into(),
    };
    ui.add(egui::Label::new(style.note(words)).wrap());
    let places = Slider {
        name: "how many standpoints to list",
        caption: "Standpoints, at most",
        stops: &PLACES_STOPS,
        any: AnyEnd::Nowhere,
        value: Some(criteria.places as f64),
        range: (1.0, 100.0),
        written: &|places| format!("{places:.0}"),
        read: &|text| plain_number(text).map(f64::round),
        note: None,
    };
    if let Some(Some(places)) = places.ui(ui, style) {
        criteria.places = places as usize;
    }
    length_ui(
        ui,
        panel,
        &LengthSlider {
            name: "how far apart listed standpoints are",
            caption: "Apart, at least",
            stops: &APART_STOPS,
            range: (0.0, 1e5),
        },
        &mut criteria.difference_m,
    );
}

/// Whether the lowest camera that serves is looked for.
fn lowest_ui(ui: &mut Ui, panel: &PanelContext<'_>, seeking: &mut SearchRequest) {
    let style = &panel.style;
    let criteria = &mut seeking.criteria;
    heading(ui, style, "Lowest camera");
    let half = 0.5 * (ui.available_width() - style.px(5.0));
    ui.horizontal(|ui| {
        for (word, looked) in [("Skip", false), ("Find", true)] {
            let name = format!("lowest camera: {word}");
            if choice(ui, style, word, &name, criteria.lowest.is_some() == looked, half).clicked()
                && looked != criteria.lowest.is_some()
            {
                criteria.lowest = looked.then_some(LOWEST);
            }
        }
    });
    let Some(mut rungs) = criteria.lowest else {
        ui.add(
            egui::Label::new(style.note("Find adds a map of the lowest camera that meets every requirement.")).wrap(),
        );
        return;
    };
    length_ui(
        ui,
        panel,
        &LengthSlider { name: "lowest camera tried", caption: "From", stops: &RUNG_STOPS, range: (0.05, 150.0) },
        &mut rungs.from_m,
    );
    length_ui(
        ui,
        panel,
        &LengthSlider { name: "highest camera tried", caption: "Up to", stops: &RUNG_STOPS, range: (0.05, 150.0) },
        &mut rungs.to_m,
    );
    rungs.to_m = rungs.to_m.max(rungs.from_m);
    let note = format!("{} heights, every {}", rungs.count(), panel.units().length(rungs.step_m, 2));
    ui.label(style.note(note));
    criteria.lowest = Some(Rungs { ..rungs });
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::search::Criteria;

    #[test]
    fn a_thing_is_required_one_way_or_none() {
        let mut seeking = SearchRequest { criteria: Criteria::default(), may_come: Vec::new() };
        for (_, _, rule) in THING_RULES {
            set_rule(&mut seeking, "the van", Some(rule));
            for (_, _, other) in THING_RULES {
                assert_eq!(has_rule(&seeking, "the van", other), other == rule);
            }
        }
        set_rule(&mut seeking, "the van", None);
        assert!(THING_RULES.iter().all(|(_, _, rule)| !has_rule(&seeking, "the van", *rule)));
    }
}
