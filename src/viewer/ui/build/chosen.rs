//! What is chosen, and how large is it? Its elevation with dimension lines, every size to be typed over, and what can be done
//! with it.

use bevy_egui::egui::{self, Align2, Pos2, Rect, ScrollArea, Stroke, Ui, Vec2};

use crate::site::{
    Access, Beside, Block, DeckRule, DimensionUnit, Finish, Front, Ground, PlanLine, Repeat, Site, Stance, dimensions,
    form_words, height_dimension, is_bare, mirrored, moved_to_edge, plan_sides, repeated, with_dimension, with_leaves,
};
use crate::taller::at_height;
use crate::viewer::state::desk::{Action, BuildAction, CameraMove, Picked, SiteChange};

use super::super::context::PanelContext;
use super::super::figures::{length_in, number_in, short};
use super::super::status::menu;
use super::super::style::{WindowStyle, button, button_width, choice, text_button};
use super::arrange::{added, chosen_blocks, copied, is_kept_together, keep_together, turned_by};
use super::card_block::{CardView, card_drawing};
use super::fields::{Field, Typing};
use super::inputs::RepeatInput;
use super::section::at_another_height;
use super::state::BuildState;
use super::whole_site::whole_site_ui;
use super::work_out::{height_words, work_out_ui};

/// The part of the sheet about what is chosen.
pub(super) fn chosen_ui(ui: &mut Ui, panel: &PanelContext<'_>, state: &mut BuildState, actions: &mut Vec<Action>) {
    let style = &panel.style;
    ui.spacing_mut().item_spacing.y = style.px(4.0);
    let site = &panel.desk.survey().model.site;
    ScrollArea::vertical().id_salt("chosen things").auto_shrink([false, false]).show(ui, |ui| {
        match panel.desk.chosen() {
            [] => whole_site_ui(ui, panel, state, actions),
            [Picked::Block(index)] => {
                if let Some(block) = site.blocks.get(*index) {
                    block_ui(ui, panel, state, (*index, block), actions);
                }
            }
            [Picked::Ground(index)] => {
                if let Some(ground) = site.grounds.get(*index) {
                    ground_ui(ui, panel, state, (*index, ground), actions);
                }
            }
            [Picked::Stance(index)] => {
                if let Some(stance) = site.stances.get(*index) {
                    stance_ui(ui, panel, state, (*index, stance), actions);
                }
            }
            several => {
                ui.label(style.title(format!("{} things", several.len())));
                arrange_ui(ui, panel, state, actions);
            }
        }
    });
}

/// A name that can be typed over, with what it is.
fn name_ui(ui: &mut Ui, style: &WindowStyle, typing: &mut Option<Typing>, name: &str, kind: &str) -> Option<String> {
    ui.horizontal(|ui| {
        let field = Field { name: "name", shown: name, font: style.strong(15.0) };
        let width = ui.painter().layout_no_wrap(name.to_owned(), style.strong(15.0), style.ink()).size().x;
        let typed = field.ui(ui, style, typing, (width + style.px(12.0)).min(0.7 * ui.available_width()));
        ui.label(style.note(kind));
        typed
    })
    .inner
    .map(|typed| typed.trim().to_owned())
    .filter(|typed| !typed.is_empty())
}

fn set(index: usize, block: Block) -> Action {
    BuildAction::Change(SiteChange::SetBlocks(vec![(index, block)]), None).into()
}

fn block_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    state: &mut BuildState,
    (index, block): (usize, &Block),
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let kind =
        if block.subject { format!("subject, {}", form_words(&block.shape)) } else { form_words(&block.shape).into() };
    if let Some(name) = name_ui(ui, style, &mut state.typing, &block.name, &kind) {
        actions.push(set(index, Block { name, ..block.clone() }));
    }
    let sizes = dimensions(&block.shape);
    let width = ui.available_width();
    let (area, _) = ui.allocate_exact_size(Vec2::new(width, style.px(150.0)), egui::Sense::hover());
    let drawn = Rect::from_min_size(area.min, Vec2::new(0.46 * width, area.height()));
    elevation_ui(ui, panel, state, (index, block), drawn, actions);
    let list = Rect::from_min_max(Pos2::new(drawn.right() + style.px(8.0), area.top()), area.max);
    super::super::style::within(ui, "sizes", list, |ui| {
        ui.spacing_mut().item_spacing.y = style.px(1.0);
        ScrollArea::vertical().id_salt("sizes 1").auto_shrink([false, false]).show(ui, |ui| {
            for (size_index, size) in sizes.iter().enumerate() {
                let shown = match size.unit {
                    DimensionUnit::Metres => panel.units().length(size.value, 2),
                    DimensionUnit::Count => short(size.value),
                    DimensionUnit::Share => format!("{:.0} %", 100.0 * size.value),
                };
                let typed = size_row_ui(ui, style, &mut state.typing, (size.label, size.meaning), &shown);
                let value = typed.and_then(|typed| match size.unit {
                    DimensionUnit::Metres => length_in(&typed, panel.units()),
                    DimensionUnit::Count => number_in(&typed),
                    DimensionUnit::Share => number_in(&typed).map(|percent| percent / 100.0),
                });
                if let Some(shape) = value.and_then(|value| with_dimension(&block.shape, size_index, value)) {
                    actions.push(set(index, Block { shape, ..block.clone() }));
                }
            }
            let heading = format!("{}°", short(block.heading_deg));
            let typed = size_row_ui(ui, style, &mut state.typing, ("Heading", "where its front looks"), &heading);
            if let Some(heading_deg) = typed.as_deref().and_then(number_in) {
                let heading_deg = heading_deg.rem_euclid(360.0);
                actions.push(set(index, Block { heading_deg, ..block.clone() }));
            }
            let lift = panel.units().length(block.lift_m, 2);
            let typed = size_row_ui(ui, style, &mut state.typing, ("Raised by", "its base above the ground"), &lift);
            if let Some(lift_m) = typed.and_then(|typed| length_in(&typed, panel.units())) {
                actions.push(set(index, Block { lift_m: lift_m.max(0.0), base_m: None, ..block.clone() }));
            }
            let east = panel.units().from_metres(block.at.0);
            let place = format!("{east:.1}, {}", panel.units().length(block.at.1, 1));
            let typed =
                size_row_ui(ui, style, &mut state.typing, ("At", "east and north of the site's origin"), &place);
            let at = typed.and_then(|typed| {
                let (east, north) = typed.split_once(',')?;
                Some((length_in(east, panel.units())?, length_in(north, panel.units())?))
            });
            if let Some(at) = at {
                actions.push(set(index, Block { at, ..block.clone() }));
            }
        });
    });
    doubt_ui(ui, panel, state, (index, block), actions);
    terms_ui(ui, panel, (index, block), actions);
    arrange_ui(ui, panel, state, actions);
}

/// A size by its name, with the value to be typed over.
fn size_row_ui(
    ui: &mut Ui,
    style: &WindowStyle,
    typing: &mut Option<Typing>,
    (label, meaning): (&str, &str),
    shown: &str,
) -> Option<String> {
    ui.horizontal(|ui| {
        let (rect, response) =
            ui.allocate_exact_size(Vec2::new(0.6 * ui.available_width(), style.px(20.0)), egui::Sense::hover());
        let galley = style.fitted(ui, label, style.caption(), style.soft(), rect.width());
        ui.painter().galley(Pos2::new(rect.left(), rect.center().y - 0.5 * galley.size().y), galley, style.soft());
        if !meaning.is_empty() {
            response.on_hover_text(meaning);
        }
        let width = ui.available_width();
        Field { name: label, shown, font: style.strong(13.0) }.ui(ui, style, typing, width)
    })
    .inner
}

/// The block from its front, with its height and width on dimension lines.
fn elevation_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    state: &mut BuildState,
    (index, block): (usize, &Block),
    area: Rect,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let Some(solid) = panel.desk.survey().model.solids.get(index) else { return };
    let place = Rect::from_min_max(
        area.min + Vec2::new(style.px(6.0), style.px(8.0)),
        area.max - Vec2::new(style.px(64.0), style.px(24.0)),
    );
    let drawing = card_drawing(style, &[solid], CardView::front(block.heading_deg), place);
    ui.painter().hline(area.left()..=area.right() - style.px(8.0), place.bottom(), style.control());
    ui.painter().extend(drawing.shapes);
    let rect = drawing.rect;
    let line = Stroke::new(1.0, style.ink());
    let slash = Vec2::new(style.px(3.5), -style.px(3.5));
    let dimension = |from: Pos2, to: Pos2| {
        ui.painter().line_segment([from, to], line);
        for end in [from, to] {
            ui.painter().line_segment([end - slash, end + slash], Stroke::new(1.4, style.ink()));
        }
    };
    let x = rect.right() + style.px(12.0);
    dimension(Pos2::new(x, rect.top()), Pos2::new(x, rect.bottom()));
    let y = rect.bottom() + style.px(10.0);
    dimension(Pos2::new(rect.left(), y), Pos2::new(rect.right(), y));
    if let Some((_, size)) = height_dimension(&block.shape) {
        let shown = panel.units().length(size.value, 2);
        let field = Field { name: "height", shown: &shown, font: style.strong(13.0) };
        let at = Pos2::new(x + style.px(5.0), rect.center().y);
        let typed = field.at(ui, style, &mut state.typing, at, Align2::LEFT_CENTER);
        let height_m = typed.and_then(|typed| length_in(&typed, panel.units()));
        let model = &panel.desk.survey().model;
        if let Some(change) = height_m.and_then(|height_m| at_another_height(model, index, height_m)) {
            actions.push(BuildAction::Change(change, None).into());
        }
    }
}

/// How sure its height is, how it was found, and the way to find it.
fn doubt_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    state: &mut BuildState,
    (index, block): (usize, &Block),
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = style.px(4.0);
        if let (Some(pm_m), Some((_, size))) = (block.height_pm_m, height_dimension(&block.shape)) {
            ui.label(style.title(height_words(size.value, pm_m, panel.units())));
        }
        if let Some(from) = &block.height_from {
            ui.label(style.note(from.as_str()));
        }
        if height_dimension(&block.shape).is_some() {
            let word = if block.height_from.is_some() { "Work it out again" } else { "Height not known? Work it out" };
            let response = text_button(ui, style, word, word);
            menu(&response, |ui| {
                let model = &panel.desk.survey().model;
                if let Some(found) = work_out_ui(ui, panel, &mut state.work_out, block.words()) {
                    let mut blocks = at_height(model, index, found.height_m);
                    if let Some((_, block)) = blocks.first_mut() {
                        (block.height_from, block.height_pm_m) = (Some(found.from), Some(found.pm_m));
                    }
                    actions.push(BuildAction::Change(SiteChange::SetBlocks(blocks), None).into());
                }
            });
        }
    });
}

/// What it is to the picture, and who may stand on it.
fn terms_ui(ui: &mut Ui, panel: &PanelContext<'_>, (index, block): (usize, &Block), actions: &mut Vec<Action>) {
    let style = &panel.style;
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing = Vec2::splat(style.px(4.0));
        let width = |ui: &Ui, words: &str| button_width(ui, style, words);
        let subject = width(ui, "Subject");
        if choice(ui, style, "Subject", "is the subject", block.subject, subject).clicked() {
            actions.push(set(index, Block { subject: !block.subject, ..block.clone() }));
        }
        let deck = block.deck.as_ref();
        let words = match deck.map(|deck| deck.access) {
            None => "No standing on it",
            Some(Access::Open) => "Deck, open",
            Some(Access::Ask) => "Deck, by permission",
            Some(Access::Closed) => "Deck, closed",
        };
        let room = width(ui, words);
        if choice(ui, style, words, words, deck.is_some(), room)
            .on_hover_text("press to change who may stand on top of it")
            .clicked()
        {
            let next = match deck.map(|deck| deck.access) {
                None => Some(Access::Open),
                Some(Access::Open) => Some(Access::Ask),
                Some(Access::Ask) => Some(Access::Closed),
                Some(Access::Closed) => None,
            };
            let deck = next.map(|access| DeckRule { access, ..block.deck.clone().unwrap_or_default() });
            actions.push(set(index, Block { deck, ..block.clone() }));
        }
        let finish = crate::wording::capital(block.finish.words());
        let finish = finish.as_str();
        let room = width(ui, finish);
        if choice(ui, style, finish, "what it is made of", false, room)
            .on_hover_text("press for another finish")
            .clicked()
        {
            let place = Finish::ALL.iter().position(|finish| *finish == block.finish).unwrap_or(0);
            let finish = Finish::ALL[(place + 1) % Finish::ALL.len()];
            actions.push(set(index, Block { finish, ..block.clone() }));
        }
        if let Some(bare) = is_bare(&block.shape) {
            let words = if bare { "Bare" } else { "In leaf" };
            let room = width(ui, words);
            if choice(ui, style, words, words, bare, room).on_hover_text("press for the other season").clicked() {
                actions.push(set(index, Block { shape: with_leaves(&block.shape, bare), ..block.clone() }));
            }
        }
        if block.subject {
            let front = panel.desk.survey().model.site.front.as_ref();
            let here = Front::Face { block: block.name.clone(), toward_deg: block.heading_deg.rem_euclid(360.0) };
            let is_front = front == Some(&here);
            let room = width(ui, "Front along its heading");
            if choice(ui, style, "Front along its heading", "the front looks along its heading", is_front, room)
                .clicked()
            {
                let change = SiteChange::SetFront((!is_front).then_some(here));
                actions.push(BuildAction::Change(change, None).into());
            }
        }
    });
}

/// What can be done with the chosen blocks.
fn arrange_ui(ui: &mut Ui, panel: &PanelContext<'_>, state: &mut BuildState, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let site = &panel.desk.survey().model.site;
    let chosen = panel.desk.chosen();
    let numbers = chosen_blocks(chosen);
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing = Vec2::splat(style.px(2.0));
        let first = numbers.first().and_then(|number| site.blocks.get(*number));
        if let Some(first) = first {
            if text_button(ui, style, "Copy", "copy").on_hover_text("Ctrl+D").clicked() {
                actions.extend(copied(site, chosen));
            }
            if text_button(ui, style, "Mirror", "mirror")
                .on_hover_text("a mirror image on the other side of its front's line")
                .clicked()
            {
                let line = PlanLine { through: mirror_foot(first), bearing_deg: first.heading_deg };
                let blocks = numbers.iter().filter_map(|number| Some(mirrored(site.blocks.get(*number)?, line)));
                actions.extend(added(site, blocks.collect()));
            }
            if numbers.len() > 1
                && text_button(ui, style, "Line up", "line up")
                    .on_hover_text("turn the others like the first, and bring their fronts in line with its front")
                    .clicked()
            {
                actions.extend(lined_up(site, &numbers));
            }
            if is_kept_together(site, &numbers) {
                if text_button(ui, style, "Take apart", "take apart")
                    .on_hover_text("each is picked up and moved by itself again")
                    .clicked()
                {
                    actions.extend(keep_together(site, &numbers, false));
                }
            } else if numbers.len() > 1
                && text_button(ui, style, "Keep together", "keep together")
                    .on_hover_text("a press picks all of them up; a second press the one alone")
                    .clicked()
            {
                actions.extend(keep_together(site, &numbers, true));
            }
            let repeat = text_button(ui, style, "Repeat…", "repeat along a line");
            menu(&repeat, |ui| repeat_ui(ui, panel, &mut state.repeat, &numbers, actions));
            if text_button(ui, style, "Turn left", "turn left").on_hover_text("5°; key [").clicked() {
                actions.extend(turned_by(site, chosen, -5.0));
            }
            if text_button(ui, style, "Turn right", "turn right").on_hover_text("5°; key ]").clicked() {
                actions.extend(turned_by(site, chosen, 5.0));
            }
        }
        if text_button(ui, style, "Remove", "remove").on_hover_text("Delete").clicked() {
            actions.push(BuildAction::Change(SiteChange::Remove(chosen.to_vec()), Some(Vec::new())).into());
        }
    });
}

/// The other blocks turned like the first, their fronts in line with its front.
fn lined_up(site: &Site, numbers: &[usize]) -> Option<Action> {
    let first = site.blocks.get(*numbers.first()?)?;
    let (sine, cosine) = first.heading_deg.to_radians().sin_cos();
    // The side that looks along the heading: what is outside lies to the right of each.
    let outward = |[a, b]: &[(f64, f64); 2]| {
        let length_m = (b.0 - a.0).hypot(b.1 - a.1).max(f64::MIN_POSITIVE);
        ((b.1 - a.1) * sine + (a.0 - b.0) * cosine) / length_m
    };
    let front = plan_sides(first).into_iter().max_by(|a, b| outward(a).total_cmp(&outward(b)))?;
    let blocks: Vec<(usize, Block)> = numbers[1..]
        .iter()
        .filter_map(|number| Some((*number, moved_to_edge(site.blocks.get(*number)?, front, Beside::InLine))))
        .collect();
    Some(BuildAction::Change(SiteChange::SetBlocks(blocks), None).into())
}

/// Through which point the mirror's line runs: beside the block, half its width and a metre off.
fn mirror_foot(block: &Block) -> (f64, f64) {
    let half_m = crate::site::plan_base(block)
        .iter()
        .map(|corner| {
            let (sine, cosine) = block.heading_deg.to_radians().sin_cos();
            (corner.0 - block.at.0) * cosine - (corner.1 - block.at.1) * sine
        })
        .fold(0.5_f64, f64::max);
    let (sine, cosine) = block.heading_deg.to_radians().sin_cos();
    let off_m = half_m + 1.0;
    (block.at.0 + off_m * cosine, block.at.1 - off_m * sine)
}

fn repeat_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    input: &mut RepeatInput,
    numbers: &[usize],
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let site = &panel.desk.survey().model.site;
    ui.set_width(style.px(220.0));
    ui.label(style.title("Repeat along a line"));
    ui.horizontal(|ui| {
        ui.add(egui::DragValue::new(&mut input.copies).range(1..=200).suffix(" more"));
        ui.label(style.note("every"));
        ui.add(egui::DragValue::new(&mut input.every_m).range(0.1..=1000.0).speed(0.05).suffix(" m"));
    });
    ui.horizontal(|ui| {
        ui.label(style.note("toward"));
        ui.add(egui::DragValue::new(&mut input.bearing_deg).range(0.0..=360.0).speed(1.0).suffix("°"));
    });
    let width = ui.available_width();
    if button(ui, style, "Repeat", width).clicked() {
        let blocks: Vec<Block> = numbers.iter().filter_map(|number| site.blocks.get(*number).cloned()).collect();
        let (sine, cosine) = input.bearing_deg.to_radians().sin_cos();
        let long_m = input.every_m * f64::from(u32::try_from(input.copies).unwrap_or(u32::MAX));
        let copies = repeated(&blocks, (long_m * sine, long_m * cosine), Repeat::Count(input.copies));
        actions.extend(added(site, copies));
        ui.close();
    }
}

fn ground_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    state: &mut BuildState,
    (index, ground): (usize, &Ground),
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let change = |ground: Ground| -> Action { BuildAction::Change(SiteChange::SetGround(index, ground), None).into() };
    if let Some(name) = name_ui(ui, style, &mut state.typing, &ground.name, "ground") {
        actions.push(change(Ground { name, ..ground.clone() }));
    }
    ui.label(style.note("who may stand on it"));
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = style.px(4.0);
        for access in [Access::Open, Access::Ask, Access::Closed] {
            let words = access.words();
            let width = button_width(ui, style, words);
            if choice(ui, style, words, words, ground.access == access, width).clicked() {
                actions.push(change(Ground { access, ..ground.clone() }));
            }
        }
    });
    let shown = ground.caution.as_deref().unwrap_or("no caution");
    ui.label(style.note("what to beware of there"));
    let width = ui.available_width();
    let typed = Field { name: "caution", shown, font: style.body() }.ui(ui, style, &mut state.typing, width);
    if let Some(typed) = typed {
        let caution = Some(typed.trim().to_owned()).filter(|typed| !typed.is_empty() && typed != "no caution");
        actions.push(change(Ground { caution, ..ground.clone() }));
    }
    ui.label(style.note(format!("{} corners; drag one to move it", ground.outline.len())));
    arrange_ui(ui, panel, state, actions);
}

fn stance_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    state: &mut BuildState,
    (index, stance): (usize, &Stance),
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    if let Some(name) = name_ui(ui, style, &mut state.typing, &stance.name, "saved stance") {
        let change = SiteChange::SetStance(index, Box::new(Stance { name, ..stance.clone() }));
        actions.push(BuildAction::Change(change, None).into());
    }
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing = Vec2::splat(style.px(4.0));
        let width = button_width(ui, style, "Go there");
        if button(ui, style, "Go there", width).clicked() {
            actions.push(CameraMove::TakeUp(Box::new(stance.clone())).into());
        }
        let width = button_width(ui, style, "Replace by the present one");
        if button(ui, style, "Replace by the present one", width).clicked() {
            let now = Stance { name: stance.name.clone(), ..panel.desk.stance().clone() };
            actions.push(BuildAction::Change(SiteChange::SetStance(index, Box::new(now)), None).into());
        }
    });
    ui.horizontal(|ui| {
        let last = panel.desk.survey().model.site.stances.len().saturating_sub(1);
        let mut reorder = |ui: &mut Ui, word: &str, to: Option<usize>| {
            if let Some(to) = to
                && text_button(ui, style, word, word).clicked()
            {
                let change = SiteChange::MoveStance { from: index, to };
                actions.push(BuildAction::Change(change, Some(vec![Picked::Stance(to)])).into());
            }
        };
        reorder(ui, "Earlier in the list", index.checked_sub(1));
        reorder(ui, "Later in the list", Some(index + 1).filter(|to| *to <= last));
    });
    arrange_ui(ui, panel, state, actions);
}
