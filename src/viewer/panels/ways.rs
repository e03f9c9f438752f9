//! What would straighten it, and what does each way cost? Looked for beside the window, listed with what remains.

use std::sync::Arc;
use std::sync::mpsc::{Receiver, TryRecvError, channel};

use bevy_egui::egui::{CursorIcon, Pos2, ScrollArea, Sense, Ui, Vec2, WidgetInfo, WidgetType};

use crate::site::Stance;
use crate::viewer::desk::Action;
use crate::ways::{Options, Outcome, Way, Ways, ways};

use super::figures::degrees_or_dash;
use super::look::{button, focus_ring};
use super::table::Table;

/// How often is asked whether the ways have been found.
const ASKED_EVERY: std::time::Duration = std::time::Duration::from_millis(80);

/// From which stance on which site the ways are told.
type From = (Stance, u64);

/// The ways that were found, and those being looked for.
#[derive(Default)]
pub(super) struct Looking {
    found: Option<(From, Result<Ways, String>)>,
    sought: Option<(From, Receiver<Result<Ways, String>>)>,
}

impl Looking {
    /// Looks for the ways from the present stance, beside the window.
    fn begin(&mut self, table: &Table<'_>, from: From) {
        let (give, take) = channel();
        let survey = Arc::clone(table.desk.survey());
        let wishes = *table.desk.wishes();
        let bag = table.desk.carried().map(|lens| lens.name.clone()).collect();
        let stance = from.0.clone();
        let looking = std::thread::Builder::new().name("ways".into()).spawn(move || {
            let options = Options { bag, ..Options::default() };
            let found = ways(&survey, &stance, &wishes, &options).map_err(|error| error.to_string());
            // Whoever asked may have gone meanwhile.
            drop(give.send(found));
        });
        match looking {
            Ok(_) => self.sought = Some((from, take)),
            Err(error) => self.found = Some((from, Err(format!("the ways cannot be looked for: {error}")))),
        }
    }

    /// Takes in what was found.
    fn catch_up(&mut self, ui: &Ui) {
        let Some((from, take)) = self.sought.take() else { return };
        match take.try_recv() {
            Ok(found) => self.found = Some((from, found)),
            Err(TryRecvError::Empty) => {
                self.sought = Some((from, take));
                ui.ctx().request_repaint_after(ASKED_EVERY);
            }
            Err(TryRecvError::Disconnected) => {
                self.found = Some((from, Err("looking for the ways broke off".into())));
            }
        }
    }
}

/// The card of ways.
pub(super) fn ways_ui(ui: &mut Ui, table: &Table<'_>, looking: &mut Looking, actions: &mut Vec<Action>) {
    let look = &table.look;
    looking.catch_up(ui);
    let here = (table.desk.stance().clone(), table.desk.site_version());
    let fresh = looking.found.as_ref().is_some_and(|(from, _)| *from == here);
    ui.spacing_mut().item_spacing = Vec2::new(look.px(6.0), look.px(3.0));
    if looking.sought.is_some() {
        ui.label(look.note("looking…"));
    } else if !fresh {
        let word = if looking.found.is_some() { "Look again from here" } else { "Look for ways from here" };
        if button(ui, look, word, ui.available_width()).clicked() {
            looking.begin(table, here);
            ui.ctx().request_repaint_after(ASKED_EVERY);
        }
    }
    match &looking.found {
        None => {
            ui.label(look.note("Back off, climb, another lens, rise, straighten afterwards: each with what remains."));
        }
        Some((_, Err(error))) => {
            ui.label(look.note(error).color(look.ask()));
        }
        Some((from, Ok(found))) => {
            let words = if fresh {
                format!("remaining: {} closes / worst lean; detail", table.subject())
            } else {
                format!("as seen from {}", from.0.name)
            };
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
                degrees_or_dash(figures.worst_lean.map(|angle| angle.abs()))
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
    let name_galley = ui.painter().layout(
        name.clone(),
        look.strong(12.0),
        look.ink(),
        (width - remains_galley.size().x - look.px(10.0)).max(1.0),
    );
    let note_galley = ui.painter().layout(notes.clone(), look.caption(), look.soft(), width);
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
        actions.push(Action::TakeUp(Box::new(stance.clone())));
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
            if super::look::choice(ui, look, word, word, *places == of, width).clicked() {
                *places = of;
            }
        }
    });
    ui.add_space(look.px(4.0));
}
