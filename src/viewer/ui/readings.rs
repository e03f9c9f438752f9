//! What does this stance amount to? The readings, in large type, and the difference to a print.

use bevy_egui::egui::{self, Pos2, Rect, Sense, Ui, Vec2, WidgetInfo, WidgetType};

use crate::compare::{CONVERGENCE, DETAIL, DISTANCE, LARGEST_LEAN_IN_PICTURE};

use crate::angle::Angle;
use crate::wording;

use super::context::PanelContext;
use super::figures::{degrees, degrees_or_dash, short};
use super::style::{WindowStyle, count, text_button};
use crate::viewer::state::desk::{Action, PrintAction};

/// One reading: what it is, its value, what explains it.
struct ReadingCell {
    caption: String,
    value: String,
    note: String,
    /// The note at length, where it is short for its place.
    full: Option<String>,
}

/// The readings that every stance has.
fn readings(panel: &PanelContext<'_>) -> Vec<ReadingCell> {
    let account = &panel.measured().account;
    let units = panel.units();
    let convergence = account.convergence.map(|convergence| convergence.angle());
    let sides = account.sides_convergence.map(|angle| format!("sides {}", degrees(angle)));
    let mut list = vec![ReadingCell {
        caption: if wording::converges(convergence.map_or(0.0, Angle::degrees)) == "converges" {
            "Converges by"
        } else {
            "Diverges by"
        }
        .into(),
        value: degrees_or_dash(convergence.map(|convergence| convergence.abs())),
        note: sides.unwrap_or_else(|| {
            if convergence.is_some() { "between its plumb lines".into() } else { "not in front".into() }
        }),
        full: None,
    }];
    list.push(ReadingCell {
        caption: "Largest lean".into(),
        value: degrees_or_dash(account.largest_in_picture.map(|noticed| noticed.lean)),
        note: account.largest_in_picture.map_or_else(
            || "no long vertical visible".into(),
            |noticed| format!("in the picture: {}", panel.desk.survey().model.site.blocks[noticed.block].words()),
        ),
        full: None,
    });
    list.push(ReadingCell {
        caption: "Taper".into(),
        value: account.taper.map_or_else(|| "–".into(), |taper| format!("{:.2}", taper.seen)),
        note: account.taper.map_or_else(
            || "part of it is behind the camera".into(),
            |taper| format!("{:.2} true taper × {:.2} tilt", taper.shape, taper.tilt_factor()),
        ),
        full: None,
    });
    list.push(ReadingCell {
        caption: "Lowest detail".into(),
        value: account.lowest_detail.map_or_else(|| "–".into(), |(detail, _)| units.detail(detail.px_per_m)),
        note: account
            .lowest_detail
            .map_or_else(|| "no surface to judge".into(), |(detail, _)| units.per_pixel(detail.mm_per_px())),
        full: None,
    });
    let seen = account.visible_share.map_or_else(String::new, |share| {
        if wording::is_all(share) { "all of it seen".into() } else { format!("{} of it seen", wording::percent(share)) }
    });
    let framed = account
        .in_frame_share
        .filter(|share| !wording::is_all(*share))
        .map_or_else(String::new, |share| format!(", {} in the frame", wording::percent(share)));
    list.push(ReadingCell {
        caption: account
            .top_elevation
            .map_or("View of the top", |top| if top.degrees() < 0.0 { "Looking down" } else { "Looking up" })
            .into(),
        value: account.top_elevation.map_or_else(|| "–".into(), |top| format!("{:.0}°", top.abs().degrees())),
        note: format!("at the top; {seen}{framed}"),
        full: None,
    });
    let (value, note, full) = match &account.straightened {
        Some(Ok(kept)) => (
            kept.detail_kept.map_or_else(|| "–".into(), |detail| units.detail(detail.px_per_m)),
            format!("{:.1} of {:.1} MP kept", kept.megapixels_kept, panel.standing().camera.frame.megapixels()),
            None,
        ),
        Some(Err(failure)) => ("not possible".into(), failure.brief(), Some(failure.words())),
        None => ("–".into(), "no subject".into(), None),
    };
    list.push(ReadingCell { caption: "If straightened".into(), value, note, full });
    list
}

/// The height of a row of readings, in units of the drawing.
const ROW: f32 = 76.0;
/// How many readings there are.
const READINGS: usize = 6;

/// How many readings stand side by side.
fn columns(style: &WindowStyle, width: f32) -> usize {
    [READINGS, 3, 2, 1].into_iter().find(|&columns| width / count(columns) >= style.px(84.0)).unwrap_or(1)
}

/// The height that all readings take at a width.
pub(super) fn readings_height(style: &WindowStyle, width: f32, against: bool) -> f32 {
    let rows = READINGS.div_ceil(columns(style, width));
    style.px(ROW) * count(rows) + style.px(if against { 50.0 } else { 26.0 })
}

/// The readings in a row, or in rows where the card is narrow.
pub(super) fn readings_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let list = readings(panel);
    let available = ui.available_rect_before_wrap();
    let columns = columns(style, available.width());
    let width = available.width() / count(columns);
    let row_height = style.px(ROW);
    // All values in one size: the largest in which each fits its column.
    let size = [25.0, 23.0, 21.0, 19.0, 17.0]
        .into_iter()
        .find(|&size| {
            list.iter().all(|reading| {
                let galley = ui.painter().layout_no_wrap(reading.value.clone(), style.strong(size), style.ink());
                galley.size().x <= width - style.px(10.0)
            })
        })
        .unwrap_or(15.0);
    let small = [11.5, 11.0, 10.5]
        .into_iter()
        .map(|size| egui::FontId::proportional(style.px(size)))
        .find(|font| {
            list.iter().all(|reading| {
                let galley = ui.painter().layout_no_wrap(reading.caption.clone(), font.clone(), style.soft());
                galley.size().x <= width - style.px(10.0)
            })
        })
        .unwrap_or_else(|| style.figure());
    for (index, reading) in list.iter().enumerate() {
        let (row, column) = (index / columns, index % columns);
        let cell = Rect::from_min_size(
            available.min + Vec2::new(count(column) * width, count(row) * row_height),
            Vec2::new(width - style.px(10.0), row_height),
        );
        reading_ui(ui, style, index, reading, size, &small, cell);
    }
    let rows = list.len().div_ceil(columns);
    let used = Rect::from_min_size(available.min, Vec2::new(available.width(), count(rows) * row_height));
    ui.advance_cursor_after_rect(used);
    verdict_ui(ui, panel);
    against_ui(ui, panel, actions);
}

fn reading_ui(
    ui: &mut Ui,
    style: &WindowStyle,
    index: usize,
    reading: &ReadingCell,
    size: f32,
    small: &egui::FontId,
    cell: Rect,
) {
    let whole = reading.full.as_ref().unwrap_or(&reading.note);
    let spoken = format!("{}: {}; {whole}", reading.caption, reading.value);
    let response = ui.interact(cell, ui.id().with(("reading", index)), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, &spoken));
    let caption = style.fitted(ui, &reading.caption, small.clone(), style.soft(), cell.width());
    ui.painter().galley(cell.min, caption, style.soft());
    let value = style.fitted(ui, &reading.value, style.strong(size), style.ink(), cell.width());
    let base = cell.top() + style.px(44.0);
    ui.painter().galley(Pos2::new(cell.left(), base - 0.82 * value.size().y), value, style.ink());
    let mut job = egui::text::LayoutJob::simple(reading.note.clone(), style.caption(), style.soft(), cell.width());
    job.wrap.max_rows = 2;
    let note = ui.painter().layout_job(job);
    let cut = note.elided;
    ui.painter().galley(Pos2::new(cell.left(), cell.top() + style.px(46.0)), note, style.soft());
    if cut || reading.full.is_some() {
        response.on_hover_text(whole);
    }
}

/// Whether it reads as upright, in words.
pub(super) fn verdict_ui(ui: &mut Ui, panel: &PanelContext<'_>) {
    let style = &panel.style;
    let account = &panel.measured().account;
    let threshold = short(panel.desk.settings().upright.degrees());
    let (verdict, why) = match (account.reads_upright, account.largest_lean) {
        (Some(true), Some(lean)) => {
            ("Reads as upright", format!(": its largest lean is {}, at most {threshold}°", degrees(lean.abs())))
        }
        (Some(false), Some(lean)) => {
            ("Does not read as upright", format!(": its largest lean is {}, above {threshold}°", degrees(lean.abs())))
        }
        _ => ("Nothing to judge", ": the subject is not in front of the camera".into()),
    };
    let (rect, response) = ui.allocate_exact_size(Vec2::new(ui.available_width(), style.px(18.0)), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, format!("{verdict}{why}")));
    let mut job = egui::text::LayoutJob::default();
    let format = |font_id, color| egui::TextFormat { font_id, color, ..Default::default() };
    job.append(verdict, 0.0, format(style.strong(12.0), style.ink()));
    job.append(&why, 0.0, format(style.caption(), style.soft()));
    job.wrap = egui::text::TextWrapping::truncate_at_width(rect.width());
    let galley = ui.painter().layout_job(job);
    ui.painter().galley(Pos2::new(rect.left(), rect.center().y - 0.5 * galley.size().y), galley, style.ink());
}

/// The difference to the print that is compared with.
fn against_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let Some(pinned) = panel.desk.against() else { return };
    let words = match &pinned.measured {
        Ok(there) => {
            let (here, units) = (panel.measured(), panel.units());
            let parts: Vec<String> = [
                ("convergence", CONVERGENCE),
                ("largest lean", LARGEST_LEAN_IN_PICTURE),
                ("detail", DETAIL),
                ("distance", DISTANCE),
            ]
            .into_iter()
            .filter_map(|(word, figure)| figure.difference(here, there, units).map(|by| format!("{word} {by}")))
            .collect();
            parts.join(", ")
        }
        Err(error) => error.clone(),
    };
    let layout = egui::Layout::right_to_left(egui::Align::Center);
    ui.allocate_ui_with_layout(Vec2::new(ui.available_width(), style.px(20.0)), layout, |ui| {
        ui.spacing_mut().item_spacing.x = style.px(4.0);
        if text_button(ui, style, "Stop", "stop comparing").clicked() {
            actions.push(PrintAction::CompareWith(None).into());
        }
        if text_button(ui, style, "Swap", "swap with the print")
            .on_hover_text("switch between here and the print")
            .clicked()
        {
            actions.push(PrintAction::Flick.into());
        }
        let mut job = egui::text::LayoutJob::default();
        let format = |font: egui::FontId, ink| egui::TextFormat { font_id: font, color: ink, ..Default::default() };
        job.append("compared with ", 0.0, format(style.caption(), style.soft()));
        job.append(&pinned.print.name, 0.0, format(style.strong(11.5), style.ink()));
        job.append(&format!(": {words}"), 0.0, format(style.caption(), style.soft()));
        job.wrap = egui::text::TextWrapping::truncate_at_width((ui.available_width() - style.px(4.0)).max(1.0));
        let galley = ui.painter().layout_job(job);
        let (rect, response) = ui.allocate_exact_size(Vec2::new(ui.available_width(), style.px(20.0)), Sense::hover());
        let spoken = format!("compared with {}: {words}", pinned.print.name);
        response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, &spoken));
        let cut = galley.elided;
        ui.painter().galley(Pos2::new(rect.left(), rect.center().y - 0.5 * galley.size().y), galley, style.soft());
        if cut {
            response.on_hover_text(spoken);
        }
    });
}
