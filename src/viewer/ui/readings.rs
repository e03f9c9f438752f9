//! What does this stance amount to? The readings, in large type, and the difference to a print.

use bevy_egui::egui::{self, Pos2, Rect, Sense, Ui, Vec2, WidgetInfo, WidgetType};

use crate::compare::{CLOSING, DETAIL, DISTANCE, WORST_IN_VIEW};

use super::figures::{degrees, degrees_or_dash, short};
use super::style::{Look, count, word_button};
use super::table::Table;
use crate::viewer::state::desk::{Action, PrintAction};

/// One reading: what it is, its value, what explains it.
struct Reading {
    caption: String,
    value: String,
    note: String,
    /// The note at length, where it is short for its place.
    full: Option<String>,
}

/// The readings that every stance has.
fn readings(table: &Table<'_>) -> Vec<Reading> {
    let account = &table.measured().account;
    let units = table.units();
    let convergence = account.convergence.map(|convergence| convergence.angle());
    let opens = convergence.is_some_and(|convergence| convergence.degrees() <= -0.05);
    let sides = account.sides_convergence.map(|angle| format!("its sides close {}", degrees(angle)));
    let mut list = vec![Reading {
        caption: format!("{} {}", table.subject(), if opens { "opens" } else { "closes" }),
        value: degrees_or_dash(convergence.map(|convergence| convergence.abs())),
        note: sides.unwrap_or_else(|| {
            if convergence.is_some() { "between its plumb lines".into() } else { "not in front".into() }
        }),
        full: None,
    }];
    list.push(Reading {
        caption: "largest lean in the picture".into(),
        value: degrees_or_dash(account.largest_in_picture.map(|(lean, _)| lean.abs())),
        note: account.largest_in_picture.map_or_else(
            || "no vertical in view".into(),
            |(_, block)| table.desk.survey().model.site.blocks[block].name.clone(),
        ),
        full: None,
    });
    list.push(Reading {
        caption: "taper".into(),
        value: account.taper.map_or_else(|| "–".into(), |taper| format!("{:.2}", taper.seen)),
        note: account.taper.map_or_else(
            || "part of it is behind the camera".into(),
            |taper| format!("{:.2} shape × {:.2} tilt", taper.shape, taper.tilt_factor()),
        ),
        full: None,
    });
    list.push(Reading {
        caption: "lowest detail".into(),
        value: account.lowest_detail.map_or_else(|| "–".into(), |(detail, _)| units.detail(detail.px_per_m)),
        note: account
            .lowest_detail
            .map_or_else(|| "nothing of it to judge".into(), |(detail, _)| units.per_pixel(detail.mm_per_px())),
        full: None,
    });
    let seen = account.visible_share.map_or_else(String::new, |share| {
        if share > 0.995 { "all of it seen".into() } else { format!("{:.0} % of it seen", 100.0 * share) }
    });
    let framed = account
        .in_frame_share
        .filter(|share| *share < 0.995)
        .map_or_else(String::new, |share| format!(", {:.0} % in frame", 100.0 * share));
    list.push(Reading {
        caption: account
            .head_elevation
            .map_or("head", |head| if head.degrees() < 0.0 { "head, from above" } else { "head, from below" })
            .into(),
        value: account.head_elevation.map_or_else(|| "–".into(), |head| format!("{:.0}°", head.abs().degrees())),
        note: format!("{seen}{framed}"),
        full: None,
    });
    let (value, note, full) = match &account.straightened {
        Some(Ok(kept)) => (
            kept.detail_kept.map_or_else(|| "–".into(), |detail| units.detail(detail.px_per_m)),
            format!("{:.1} of {:.1} MP kept", kept.megapixels_kept, table.standing().camera.frame.megapixels()),
            None,
        ),
        Some(Err(failure)) => ("not here".into(), failure.brief(), Some(failure.words())),
        None => ("–".into(), "no subject".into(), None),
    };
    list.push(Reading { caption: "if straightened".into(), value, note, full });
    list
}

/// The height of a row of readings, in units of the drawing.
const ROW: f32 = 76.0;
/// How many readings there are.
const READINGS: usize = 6;

/// How many readings stand side by side.
fn columns(look: &Look, width: f32) -> usize {
    [READINGS, 3, 2, 1].into_iter().find(|&columns| width / count(columns) >= look.px(84.0)).unwrap_or(1)
}

/// The height that all readings take at a width.
pub(super) fn readings_height(look: &Look, width: f32, against: bool) -> f32 {
    let rows = READINGS.div_ceil(columns(look, width));
    look.px(ROW) * count(rows) + look.px(if against { 50.0 } else { 26.0 })
}

/// The readings in a row, or in rows where the card is narrow.
pub(super) fn readings_ui(ui: &mut Ui, table: &Table<'_>, actions: &mut Vec<Action>) {
    let look = &table.look;
    let list = readings(table);
    let available = ui.available_rect_before_wrap();
    let columns = columns(look, available.width());
    let width = available.width() / count(columns);
    let row_height = look.px(ROW);
    // All values in one size: the largest in which each fits its column.
    let size = [25.0, 23.0, 21.0, 19.0, 17.0]
        .into_iter()
        .find(|&size| {
            list.iter().all(|reading| {
                let galley = ui.painter().layout_no_wrap(reading.value.clone(), look.strong(size), look.ink());
                galley.size().x <= width - look.px(10.0)
            })
        })
        .unwrap_or(15.0);
    let small = [11.5, 11.0, 10.5]
        .into_iter()
        .map(|size| egui::FontId::proportional(look.px(size)))
        .find(|font| {
            list.iter().all(|reading| {
                let galley = ui.painter().layout_no_wrap(reading.caption.clone(), font.clone(), look.soft());
                galley.size().x <= width - look.px(10.0)
            })
        })
        .unwrap_or_else(|| look.figure());
    for (index, reading) in list.iter().enumerate() {
        let (row, column) = (index / columns, index % columns);
        let cell = Rect::from_min_size(
            available.min + Vec2::new(count(column) * width, count(row) * row_height),
            Vec2::new(width - look.px(10.0), row_height),
        );
        reading_ui(ui, look, index, reading, size, &small, cell);
    }
    let rows = list.len().div_ceil(columns);
    let used = Rect::from_min_size(available.min, Vec2::new(available.width(), count(rows) * row_height));
    ui.advance_cursor_after_rect(used);
    verdict_ui(ui, table);
    against_ui(ui, table, actions);
}

fn reading_ui(ui: &mut Ui, look: &Look, index: usize, reading: &Reading, size: f32, small: &egui::FontId, cell: Rect) {
    let whole = reading.full.as_ref().unwrap_or(&reading.note);
    let spoken = format!("{}: {}; {whole}", reading.caption, reading.value);
    let response = ui.interact(cell, ui.id().with(("reading", index)), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, &spoken));
    let caption = look.fitted(ui, &reading.caption, small.clone(), look.soft(), cell.width());
    ui.painter().galley(cell.min, caption, look.soft());
    let value = look.fitted(ui, &reading.value, look.strong(size), look.ink(), cell.width());
    let base = cell.top() + look.px(44.0);
    ui.painter().galley(Pos2::new(cell.left(), base - 0.82 * value.size().y), value, look.ink());
    let mut job = egui::text::LayoutJob::simple(reading.note.clone(), look.caption(), look.soft(), cell.width());
    job.wrap.max_rows = 2;
    let note = ui.painter().layout_job(job);
    let cut = note.elided;
    ui.painter().galley(Pos2::new(cell.left(), cell.top() + look.px(46.0)), note, look.soft());
    if cut || reading.full.is_some() {
        response.on_hover_text(whole);
    }
}

/// Whether it reads as upright, in words.
pub(super) fn verdict_ui(ui: &mut Ui, table: &Table<'_>) {
    let look = &table.look;
    let account = &table.measured().account;
    let threshold = short(table.desk.settings().upright.degrees());
    let (verdict, why) = match (account.reads_upright, account.largest_lean) {
        (Some(true), Some(lean)) => {
            ("Reads as upright", format!(": its largest lean is {}, at most {threshold}°", degrees(lean.abs())))
        }
        (Some(false), Some(lean)) => {
            ("Does not read as upright", format!(": its largest lean is {}, above {threshold}°", degrees(lean.abs())))
        }
        _ => ("Nothing to judge", ": the subject is not in front of the camera".into()),
    };
    let (rect, response) = ui.allocate_exact_size(Vec2::new(ui.available_width(), look.px(18.0)), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, format!("{verdict}{why}")));
    let mut job = egui::text::LayoutJob::default();
    let format = |font_id, color| egui::TextFormat { font_id, color, ..Default::default() };
    job.append(verdict, 0.0, format(look.strong(12.0), look.ink()));
    job.append(&why, 0.0, format(look.caption(), look.soft()));
    job.wrap = egui::text::TextWrapping::truncate_at_width(rect.width());
    let galley = ui.painter().layout_job(job);
    ui.painter().galley(Pos2::new(rect.left(), rect.center().y - 0.5 * galley.size().y), galley, look.ink());
}

/// The difference to the print that is compared with.
fn against_ui(ui: &mut Ui, table: &Table<'_>, actions: &mut Vec<Action>) {
    let look = &table.look;
    let Some(pinned) = table.desk.against() else { return };
    let words = match &pinned.measured {
        Ok(there) => {
            let (here, units) = (table.measured(), table.units());
            let parts: Vec<String> =
                [("closes", CLOSING), ("largest lean", WORST_IN_VIEW), ("detail", DETAIL), ("distance", DISTANCE)]
                    .into_iter()
                    .filter_map(|(word, figure)| figure.difference(here, there, units).map(|by| format!("{word} {by}")))
                    .collect();
            parts.join(", ")
        }
        Err(error) => error.clone(),
    };
    let layout = egui::Layout::right_to_left(egui::Align::Center);
    ui.allocate_ui_with_layout(Vec2::new(ui.available_width(), look.px(20.0)), layout, |ui| {
        ui.spacing_mut().item_spacing.x = look.px(4.0);
        if word_button(ui, look, "stop", "stop comparing").clicked() {
            actions.push(PrintAction::CompareWith(None).into());
        }
        if word_button(ui, look, "swap", "swap with the print").on_hover_text("swap in place, and back").clicked() {
            actions.push(PrintAction::Flick.into());
        }
        let mut job = egui::text::LayoutJob::default();
        let format = |font: egui::FontId, ink| egui::TextFormat { font_id: font, color: ink, ..Default::default() };
        job.append("against ", 0.0, format(look.caption(), look.soft()));
        job.append(&pinned.print.name, 0.0, format(look.strong(11.5), look.ink()));
        job.append(&format!(": {words}"), 0.0, format(look.caption(), look.soft()));
        job.wrap = egui::text::TextWrapping::truncate_at_width((ui.available_width() - look.px(4.0)).max(1.0));
        let galley = ui.painter().layout_job(job);
        let (rect, response) = ui.allocate_exact_size(Vec2::new(ui.available_width(), look.px(20.0)), Sense::hover());
        let spoken = format!("against {}: {words}", pinned.print.name);
        response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, &spoken));
        let cut = galley.elided;
        ui.painter().galley(Pos2::new(rect.left(), rect.center().y - 0.5 * galley.size().y), galley, look.soft());
        if cut {
            response.on_hover_text(spoken);
        }
    });
}
