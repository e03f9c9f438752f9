//! What would straighten it, and what does each way cost? A list with what remains, and a click that goes there.

use bevy_egui::egui::{CursorIcon, Pos2, ScrollArea, Sense, Ui, Vec2, WidgetInfo, WidgetType};

use crate::viewer::state::desk::{Action, CameraMove};
use crate::ways::{Outcome, Way};

use super::figures::degrees_or_dash;
use super::style::focus_ring;
use super::table::Table;

/// The card of ways.
pub(super) fn ways_ui(ui: &mut Ui, table: &Table<'_>, actions: &mut Vec<Action>) {
    let look = &table.look;
    ui.spacing_mut().item_spacing = Vec2::new(look.px(6.0), look.px(3.0));
    let Some(view) = table.desk.ways() else {
        ui.label(
            look.note("Told as soon as you stand still: back off, climb, another lens, rise, straighten afterwards."),
        );
        return;
    };
    match view.found {
        Err(error) => {
            ui.label(look.note(error).color(look.ask()));
        }
        Ok(found) => {
            let words = view.elsewhere.map_or_else(
                || format!("what remains: {} closes / largest lean; detail", table.subject()),
                |name| format!("from {name}; told anew as soon as you stand still"),
            );
            ui.label(look.note(words));
            ScrollArea::vertical().id_salt("ways").auto_shrink([false, false]).show(ui, |ui| {
                for (index, way) in found.rows.iter().chain(&found.by_lens).enumerate() {
                    way_ui(ui, table, index, way, actions);
                }
            });
        }
    }
}

/// One way; a click stands there, where it is a stance.
fn way_ui(ui: &mut Ui, table: &Table<'_>, index: usize, way: &Way, actions: &mut Vec<Action>) {
    let look = &table.look;
    let units = table.units();
    let lengths = |metres: f64, digits: usize| units.length(metres, digits);
    let name = way.remedy.words();
    let (remains, detail) = match (&way.figures, way.outcome) {
        (Some(figures), outcome) if outcome != Outcome::NotHere => (
            format!(
                "{} / {}",
                degrees_or_dash(figures.convergence.map(|angle| angle.abs())),
                degrees_or_dash(figures.largest_lean.map(|angle| angle.abs()))
            ),
            figures.detail.map_or_else(String::new, |detail| units.detail(detail.px_per_m)),
        ),
        _ => ("not here".into(), String::new()),
    };
    let effort = way.effort.words(&lengths);
    let remarks = way.remark_words(&lengths);
    let notes: Vec<&str> =
        [detail.as_str(), effort.as_str(), remarks.as_str()].into_iter().filter(|part| !part.is_empty()).collect();
    let notes = notes.join(" · ");
    let width = ui.available_width() - look.px(6.0);
    let remains_galley = look.fitted(ui, &remains, look.strong(12.0), look.ink(), 0.5 * width);
    let name_galley = look.wrapped(
        ui.painter(),
        &name,
        look.strong(12.0),
        look.ink(),
        (width - remains_galley.size().x - look.px(10.0)).max(1.0),
    );
    let note_galley = look.wrapped(ui.painter(), &notes, look.caption(), look.soft(), width);
    let height = name_galley.size().y + note_galley.size().y + look.px(8.0);
    let sense = if way.stance.is_some() { Sense::click() } else { Sense::hover() };
    let (rect, response) = ui.allocate_exact_size(Vec2::new(width, height), sense);
    let goes = if way.stance.is_some() { "go: " } else { "" };
    response.widget_info(|| {
        let kind = if way.stance.is_some() { WidgetType::Button } else { WidgetType::Label };
        WidgetInfo::labeled(kind, true, format!("{goes}{name}, {remains}; {notes}"))
    });
    if way.stance.is_some() && response.hovered() {
        ui.painter().rect_filled(rect.expand(2.0), 4.0, look.well());
    }
    focus_ring(ui, look, &response, rect);
    if index > 0 {
        ui.painter().hline(rect.x_range(), rect.top() - look.px(1.0), look.hairline());
    }
    let top = rect.top() + look.px(2.0);
    let under = top + name_galley.size().y;
    ui.painter().galley(Pos2::new(rect.left(), top), name_galley, look.ink());
    ui.painter().galley(Pos2::new(rect.right() - remains_galley.size().x, top), remains_galley, look.ink());
    ui.painter().galley(Pos2::new(rect.left(), under), note_galley, look.soft());
    if let Some(stance) = &way.stance
        && response.on_hover_cursor(CursorIcon::PointingHand).on_hover_text("go there").clicked()
    {
        actions.push(CameraMove::TakeUp(Box::new(stance.clone())).into());
    }
}

/// The words that choose between ways and places.
pub(super) fn switch_ui(ui: &mut Ui, table: &Table<'_>, places: &mut bool) {
    let look = &table.look;
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = look.px(6.0);
        let half = 0.5 * (ui.available_width() - look.px(6.0));
        for (word, of) in [("Ways to straighten it", false), ("Places", true)] {
            let width = if of { half * 0.6 } else { half * 1.4 };
            if super::style::choice(ui, look, word, word, *places == of, width).clicked() {
                *places = of;
            }
        }
    });
    ui.add_space(look.px(4.0));
}
