//! What would straighten it, and what does each way cost? A list with what remains, and a click that goes there.

use bevy_egui::egui::{CursorIcon, Pos2, ScrollArea, Sense, Ui, Vec2, WidgetInfo, WidgetType};

use crate::viewer::state::desk::{Action, CameraMove};
use crate::ways::{Way, WayOutcome};

use super::context::PanelContext;
use super::figures::degrees_or_dash;
use super::style::focus_ring;

/// The card of ways.
pub(super) fn ways_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    ui.spacing_mut().item_spacing = Vec2::new(style.px(6.0), style.px(3.0));
    let Some(view) = panel.desk.ways() else {
        ui.label(
            style.note("Stand still to see how to straighten the picture: back off, climb, another lens, rise, straighten afterwards."),
        );
        return;
    };
    match view.found {
        Err(error) => {
            ui.label(style.note(error).color(style.ask()));
        }
        Ok(found) => {
            let words = view.elsewhere.map_or_else(
                || format!("what remains: convergence of {} / largest lean; detail", panel.subject()),
                |name| format!("from {name}; updated when you stand still"),
            );
            ui.label(style.note(words));
            ScrollArea::vertical().id_salt("ways").auto_shrink([false, false]).show(ui, |ui| {
                for (index, way) in found.rows.iter().chain(&found.by_lens).enumerate() {
                    way_ui(ui, panel, index, way, actions);
                }
            });
        }
    }
}

/// One way; a click stands there, where it is a stance.
fn way_ui(ui: &mut Ui, panel: &PanelContext<'_>, index: usize, way: &Way, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let units = panel.units();
    let lengths = |metres: f64, digits: usize| units.length(metres, digits);
    let name = way.remedy.words();
    let (remains, detail) = match (&way.figures, way.outcome) {
        (Some(figures), outcome) if outcome != WayOutcome::NotHere => (
            format!(
                "{} / {}",
                degrees_or_dash(figures.convergence.map(|angle| angle.abs())),
                degrees_or_dash(figures.largest_lean.map(|angle| angle.abs()))
            ),
            figures.detail.map_or_else(String::new, |detail| units.detail(detail.px_per_m)),
        ),
        _ => ("not possible".into(), String::new()),
    };
    let effort = way.effort.words(&lengths);
    let remarks = way.remark_words(&lengths);
    let notes: Vec<&str> =
        [detail.as_str(), effort.as_str(), remarks.as_str()].into_iter().filter(|part| !part.is_empty()).collect();
    let notes = notes.join(" · ");
    let width = ui.available_width() - style.px(6.0);
    let remains_galley = style.fitted(ui, &remains, style.strong(12.0), style.ink(), 0.5 * width);
    let name_galley = style.wrapped(
        ui.painter(),
        &name,
        style.strong(12.0),
        style.ink(),
        (width - remains_galley.size().x - style.px(10.0)).max(1.0),
    );
    let note_galley = style.wrapped(ui.painter(), &notes, style.caption(), style.soft(), width);
    let height = name_galley.size().y + note_galley.size().y + style.px(8.0);
    let sense = if way.stance.is_some() { Sense::click() } else { Sense::hover() };
    let (rect, response) = ui.allocate_exact_size(Vec2::new(width, height), sense);
    let goes = if way.stance.is_some() { "go: " } else { "" };
    response.widget_info(|| {
        let kind = if way.stance.is_some() { WidgetType::Button } else { WidgetType::Label };
        WidgetInfo::labeled(kind, true, format!("{goes}{name}, {remains}; {notes}"))
    });
    if way.stance.is_some() && response.hovered() {
        ui.painter().rect_filled(rect.expand(2.0), 4.0, style.well());
    }
    focus_ring(ui, style, &response, rect);
    if index > 0 {
        ui.painter().hline(rect.x_range(), rect.top() - style.px(1.0), style.hairline());
    }
    let top = rect.top() + style.px(2.0);
    let under = top + name_galley.size().y;
    ui.painter().galley(Pos2::new(rect.left(), top), name_galley, style.ink());
    ui.painter().galley(Pos2::new(rect.right() - remains_galley.size().x, top), remains_galley, style.ink());
    ui.painter().galley(Pos2::new(rect.left(), under), note_galley, style.soft());
    if let Some(stance) = &way.stance
        && response.on_hover_cursor(CursorIcon::PointingHand).on_hover_text("go there").clicked()
    {
        actions.push(CameraMove::TakeUp(Box::new(stance.clone())).into());
    }
}

/// The words that choose between ways and places.
pub(super) fn switch_ui(ui: &mut Ui, panel: &PanelContext<'_>, places: &mut bool) {
    let style = &panel.style;
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = style.px(6.0);
        let half = 0.5 * (ui.available_width() - style.px(6.0));
        for (word, of) in [("Straighten", false), ("Go to", true)] {
            let width = if of { half * 0.6 } else { half * 1.4 };
            if super::style::choice(ui, style, word, word, *places == of, width).clicked() {
                *places = of;
            }
        }
    });
    ui.add_space(style.px(4.0));
}
