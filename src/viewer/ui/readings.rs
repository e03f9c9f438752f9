//! What else does this stance amount to? The readings that stand behind a word, and the difference to a print.

use bevy_egui::egui::{self, Pos2, Sense, Ui, Vec2, WidgetInfo, WidgetType};

use crate::compare::{CONVERGENCE, DETAIL, DISTANCE, LARGEST_LEAN_IN_PICTURE};
use crate::wording;

use super::context::PanelContext;
use super::figures::degrees;
use super::style::text_button;
use crate::viewer::state::desk::{Action, PrintAction};

/// One reading: what it is, its value, what explains it.
struct Reading {
    caption: &'static str,
    value: String,
    note: String,
    /// What the figure means.
    meaning: &'static str,
}

/// The five readings that every stance has besides the verdict and its two figures.
fn readings(panel: &PanelContext<'_>) -> [Reading; 5] {
    let account = &panel.measured().account;
    let units = panel.units();
    let whole_mp = panel.standing().camera.frame.megapixels();
    let (kept, how) = match &account.straightened {
        Some(Ok(kept)) => (
            format!("{:.1} MP", kept.megapixels_kept),
            format!(
                "of {whole_mp:.1} MP, with {}",
                kept.detail_kept.map_or_else(|| "no surface to judge".into(), |detail| units.detail(detail.px_per_m))
            ),
        ),
        Some(Err(failure)) => ("not possible".into(), failure.words()),
        None => ("–".into(), "no subject".into()),
    };
    let taper = account.taper.map(|taper| {
        let sides = account.sides_convergence.map_or_else(String::new, |angle| format!("; sides {}", degrees(angle)));
        (
            format!("{:.2}", taper.seen),
            format!("{:.2} true taper × {:.2} tilt{sides}", taper.shape, taper.tilt_factor()),
        )
    });
    let (taper, taper_note) = taper.unwrap_or_else(|| ("–".into(), "part of it is behind the camera".into()));
    [
        Reading {
            caption: "Seen",
            value: account.visible_share.map_or_else(|| "–".into(), wording::percent),
            note: framed_words(panel),
            meaning: "How much of the subject's surface that faces the camera has a free line to it, and how much the frame \
                      holds.",
        },
        Reading {
            caption: "Lowest detail",
            value: account.lowest_detail.map_or_else(|| "–".into(), |(detail, _)| units.detail(detail.px_per_m)),
            note: account
                .lowest_detail
                .map_or_else(|| "no surface to judge".into(), |(detail, _)| units.per_pixel(detail.mm_per_px())),
            meaning: "Pixels of the sensor for each length of surface, where the subject is resolved worst.",
        },
        Reading {
            caption: account
                .top_elevation
                .map_or("View of the top", |top| if top.degrees() < 0.0 { "Looking down" } else { "Looking up" }),
            value: account.top_elevation.map_or_else(|| "–".into(), |top| format!("{:.0}°", top.abs().degrees())),
            note: "at the top".into(),
            meaning: "How steeply the top is seen. No straightening changes it: only another standpoint does.",
        },
        Reading {
            caption: "Taper",
            value: taper,
            note: taper_note,
            meaning: "The subject's width at the top divided by that at the base: its own true taper, times what the tilt adds.",
        },
        Reading {
            caption: "If straightened",
            value: kept,
            note: how,
            meaning: "What is left of the picture when it is made upright afterwards, without inventing a pixel.",
        },
    ]
}

fn framed_words(panel: &PanelContext<'_>) -> String {
    let account = &panel.measured().account;
    match account.in_frame_share {
        _ if panel.measured().verdict.whole_in_frame => "whole in the frame".into(),
        Some(share) if wording::is_all(share) => "cut at its edge".into(),
        Some(share) => format!("{} in the frame", wording::percent(share)),
        None => "not in the frame".into(),
    }
}

/// What of the readings most people want, the most important first.
pub(super) fn summary(panel: &PanelContext<'_>) -> Vec<String> {
    let account = &panel.measured().account;
    let seen = account.visible_share.map(|share| format!("{} seen", wording::percent(share)));
    let detail =
        account.lowest_detail.map(|(detail, _)| format!("lowest detail {}", panel.units().detail(detail.px_per_m)));
    std::iter::once(framed_words(panel)).chain(seen).chain(detail).collect()
}

/// The readings in a list, each with what it means.
pub(super) fn readings_ui(ui: &mut Ui, panel: &PanelContext<'_>) {
    let style = &panel.style;
    let gap = style.px(10.0);
    for (index, reading) in readings(panel).into_iter().enumerate() {
        let width = ui.available_width();
        let value = style.fitted(ui, &reading.value, style.strong(15.0), style.ink(), 0.4 * width);
        let side = 0.42 * width;
        let note = style.wrapped(ui.painter(), &reading.note, style.caption(), style.ink(), width - side);
        let meaning = style.wrapped(ui.painter(), reading.meaning, style.caption(), style.soft(), width - side);
        let caption = style.fitted(ui, reading.caption, style.body(), style.soft(), side - gap);
        let height = (caption.size().y + value.size().y).max(note.size().y + meaning.size().y) + gap;
        let (rect, response) = ui.allocate_exact_size(Vec2::new(width, height), Sense::hover());
        let spoken = format!("{}: {}; {}", reading.caption, reading.value, reading.note);
        response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, &spoken));
        if index > 0 {
            ui.painter().hline(rect.x_range(), rect.top() - style.px(1.0), style.hairline());
        }
        let top = rect.top() + 0.4 * gap;
        let under = top + caption.size().y;
        ui.painter().galley(Pos2::new(rect.left(), top), caption, style.soft());
        ui.painter().galley(Pos2::new(rect.left(), under), value, style.ink());
        let below = top + note.size().y;
        ui.painter().galley(Pos2::new(rect.left() + side, top), note, style.ink());
        ui.painter().galley(Pos2::new(rect.left() + side, below), meaning, style.soft());
    }
}

/// The difference to the print that is compared with.
pub(super) fn against_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
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
        job.append(&pinned.print.name, 0.0, format(style.strong(12.0), style.ink()));
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
