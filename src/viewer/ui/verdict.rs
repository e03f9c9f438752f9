//! Is the picture upright, and what would mend it? The verdict in large type, the two figures that it rests on over one
//! engraved scale of lean, and the rest of the readings behind a word.

use bevy_egui::egui::{self, Pos2, Rect, Sense, Stroke, Ui, Vec2, WidgetInfo, WidgetType};

use crate::angle::Angle;
use crate::theme::Theme;
use crate::viewer::state::desk::{Action, DeliveryAction, PrintAction};
use crate::ways::Mend;
use crate::wording;

use super::context::PanelContext;
use super::figures::{degrees_or_dash, short, tenths};
use super::plan::{Drawings, gauge_ui, stances_ui};
use super::readings::{against_ui, readings_ui, summary};
use super::status::menu;
use super::style::{WindowStyle, button, button_width, count, mark_down, within, word_with_mark};
use super::ways::{WaysState, ways_from_here};
use crate::viewer::render::narrow::screen;

/// The height of the scale of lean, in units of the drawing.
const SCALE: f32 = 48.0;
/// The height of the two figures.
const FIGURES: f32 = 76.0;
/// The verdict's type, from the largest.
const VERDICT_PX: [f32; 5] = [34.0, 30.0, 26.0, 22.0, 18.0];
/// The mends' type, from the largest.
const MEND_PX: [f32; 4] = [16.0, 15.0, 14.0, 13.0];
/// The figures' type.
const FIGURE_PX: f32 = 44.0;

/// The stance by its name, how far the subject is, and what keeps the stance.
pub(super) fn header_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let room = ui.available_width();
    let layout = egui::Layout::right_to_left(egui::Align::Center);
    ui.allocate_ui_with_layout(Vec2::new(room, style.px(28.0)), layout, |ui| {
        ui.spacing_mut().item_spacing.x = style.px(6.0);
        let save = button_width(ui, style, "Save picture");
        if button(ui, style, "Save picture", save)
            .on_hover_text("save a still with its record (C; at full size with Shift)")
            .clicked()
        {
            actions.push(DeliveryAction::Capture { full: false, folder: None }.into());
        }
        let pin = button_width(ui, style, "Pin");
        if button(ui, style, "Pin", pin).on_hover_text("keep this stance as a print (P)").clicked() {
            actions.push(PrintAction::Pin.into());
        }
        ui.add_space(style.px(6.0));
        let left = ui.available_rect_before_wrap();
        within(ui, "stance", left, |ui| {
            ui.with_layout(egui::Layout::left_to_right(egui::Align::Center), |ui| stance_ui(ui, panel, actions));
        });
    });
}

fn stance_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let name = wording::capital(&panel.desk.stance().name);
    let away = panel.measured().account.distance_m.map(|distance_m| {
        let digits = if distance_m < 10.0 { 1 } else { 0 };
        format!("{} from {}", panel.units().length(distance_m, digits), panel.subject())
    });
    let room = ui.available_width();
    let away = away.map(|away| ui.painter().layout_no_wrap(away, style.caption(), style.soft()));
    // Where there is no room for both, the name stays.
    let away = away.filter(|away| away.size().x < 0.55 * room);
    let name_room = room - away.as_ref().map_or(0.0, |away| away.size().x + style.px(12.0)) - style.px(20.0);
    let galley = style.fitted(ui, &name, style.strong(13.0), style.ink(), name_room);
    let size = galley.size() + Vec2::new(style.px(18.0), style.px(6.0));
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    response.widget_info(|| {
        WidgetInfo::labeled(
            WidgetType::ComboBox,
            true,
            format!("stance: {}; take up another", panel.desk.stance().name),
        )
    });
    if response.hovered() || response.has_focus() {
        ui.painter().rect_filled(rect.expand2(Vec2::new(4.0, 0.0)), 4.0, style.well());
    }
    super::style::focus_ring(ui, style, &response, rect);
    let width = galley.size().x;
    ui.painter().galley(rect.min + Vec2::new(0.0, style.px(3.0)), galley, style.ink());
    mark_down(ui.painter(), style, Pos2::new(rect.left() + width + style.px(11.0), rect.center().y));
    menu(&response, |ui| stances_ui(ui, panel, actions));
    response.on_hover_cursor(egui::CursorIcon::PointingHand);
    if let Some(away) = away {
        ui.add_space(style.px(4.0));
        let (rect, response) = ui.allocate_exact_size(away.size(), Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, away.text()));
        ui.painter().galley(rect.min, away.clone(), style.soft());
    }
}

/// The verdict in as large a type as the width allows, and under it what else is wrong.
pub(super) fn verdict_ui(ui: &mut Ui, panel: &PanelContext<'_>, largest: f32) {
    let style = &panel.style;
    let (units, verdict) = (panel.units(), &panel.measured().verdict);
    let headline = verdict.headline(units);
    let width = ui.available_width();
    let layout = |ui: &Ui, size: f32| ui.painter().layout_no_wrap(headline.clone(), style.strong(size), style.ink());
    let fitting =
        VERDICT_PX.into_iter().filter(|size| *size <= largest).find(|size| layout(ui, *size).size().x <= width);
    let galley = match fitting {
        Some(size) => layout(ui, size),
        None => style.wrapped(ui.painter(), &headline, style.strong(18.0), style.ink(), width),
    };
    let (rect, response) = ui.allocate_exact_size(Vec2::new(width, galley.size().y), Sense::hover());
    let why = verdict.why(units);
    let spoken = if why.is_empty() { headline.clone() } else { format!("{headline}. {}", why.join(". ")) };
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, format!("verdict: {spoken}")));
    ui.painter().galley(rect.min, galley, style.ink());
    let threshold = short(panel.desk.settings().upright.degrees());
    response.on_hover_text(format!(
        "Upright: the subject is seen and whole in the frame, and neither it nor anything else in the picture leans by more \
         than {threshold}°."
    ));
    let besides = verdict.besides(units);
    if !besides.is_empty() {
        ui.label(style.note(format!("{}.", besides.join(". "))));
        ui.add_space(style.px(4.0));
    }
    for doubt in panel.desk.height_doubt() {
        ui.label(style.note(doubt.as_str()));
    }
}

/// What to do about it: what takes least, and what comes out best. While the ways are looked for their lines stay empty, so that
/// nothing below them leaps.
pub(super) fn mends_ui(ui: &mut Ui, panel: &PanelContext<'_>, ways: &mut WaysState) {
    let style = &panel.style;
    if panel.measured().verdict.upright {
        return;
    }
    let line = style.px(25.0);
    let Some(found) = ways_from_here(panel) else {
        ui.allocate_exact_size(Vec2::new(ui.available_width(), 2.0 * line), Sense::hover());
        return;
    };
    let lines: &[(&str, Option<Mend>)] = match (found.advice.cheapest, found.advice.best) {
        (None, None) => {
            ui.label(style.plain("No way from here makes it upright."));
            ui.label(style.note(found.straightener_words().unwrap_or_default()));
            return;
        }
        (only @ Some(_), None) => &[("Do this", only)],
        (cheapest, best) => &[("Cheapest", cheapest), ("Best", best)],
    };
    let side = style.px(70.0);
    for &(word, mend) in lines {
        let Some(mend) = mend else { continue };
        let room = ui.available_width() - side;
        let words = wording::capital(&found.mend_words(mend, panel.units()));
        let layout = |size: f32| ui.painter().layout_no_wrap(words.clone(), style.strong(size), style.ink());
        let fitting = MEND_PX.into_iter().map(layout).find(|galley| galley.size().x <= room);
        let galley =
            fitting.unwrap_or_else(|| style.wrapped(ui.painter(), &words, style.strong(13.0), style.ink(), room));
        let size = Vec2::new(ui.available_width(), galley.size().y.max(line - style.px(2.0)));
        let (rect, response) = ui.allocate_exact_size(size, Sense::click());
        response.widget_info(|| WidgetInfo::labeled(WidgetType::Button, true, format!("{word}: {words}")));
        if response.hovered() {
            ui.painter().rect_filled(rect.expand2(Vec2::new(4.0, 0.0)), 4.0, style.well());
        }
        super::style::focus_ring(ui, style, &response, rect);
        let caption = ui.painter().layout_no_wrap(word.to_owned(), style.body(), style.soft());
        let first = galley.rows.first().map_or(galley.size().y, |row| row.rect().height());
        let top = rect.center().y - 0.5 * galley.size().y;
        let at = Pos2::new(rect.left(), top + 0.5 * (first - caption.size().y));
        ui.painter().galley(at, caption, style.soft());
        ui.painter().galley(Pos2::new(rect.left() + side, top), galley, style.ink());
        if response.on_hover_cursor(egui::CursorIcon::PointingHand).on_hover_text("show it among the ways").clicked() {
            ways.choose(panel, mend);
        }
    }
}

/// One of the two large figures.
struct Figure<'a> {
    caption: String,
    /// The caption where there is little room.
    short: &'a str,
    value: String,
    note: String,
    meaning: &'a str,
}

/// The two figures that the verdict rests on, side by side.
fn figures(panel: &PanelContext<'_>) -> [Figure<'static>; 2] {
    let account = &panel.measured().account;
    let convergence = account.convergence.map(|convergence| convergence.angle());
    let word = if wording::converges(convergence.map_or(0.0, Angle::degrees)) == "converges" {
        "Convergence"
    } else {
        "Divergence"
    };
    let subject = panel.subject();
    let leans = account.largest_lean.map(|lean| tenths(lean.abs().degrees()));
    [
        Figure {
            caption: format!("{word} of {subject}"),
            short: word,
            value: degrees_or_dash(convergence.map(|angle| angle.abs())),
            note: leans
                .map_or_else(|| "not in front of the camera".into(), |lean| format!("its lines lean up to {lean}")),
            meaning: "By how much the two plumb lines that bound the subject come together toward its top in the picture. \
                      It is nought when the camera is level.",
        },
        Figure {
            caption: "Largest lean of the picture".into(),
            short: "Largest lean",
            value: degrees_or_dash(account.largest_in_picture.map(|noticed| noticed.lean)),
            note: account.largest_in_picture.map_or_else(
                || "no vertical is long enough to notice".into(),
                |noticed| panel.desk.survey().model.site.blocks[noticed.block].words().to_owned(),
            ),
            meaning: "The vertical that leans most of all that are seen in the frame and long enough to be noticed, and what \
                      it belongs to.",
        },
    ]
}

/// The height that both figures and the scale under them take.
pub(super) fn figures_height(style: &WindowStyle) -> f32 {
    style.px(FIGURES + SCALE)
}

/// The two figures, and both on one scale of lean.
pub(super) fn figures_ui(ui: &mut Ui, panel: &PanelContext<'_>) {
    let style = &panel.style;
    let area = ui.available_rect_before_wrap();
    let width = 0.5 * area.width();
    for (index, figure) in figures(panel).into_iter().enumerate() {
        let corner = area.min + Vec2::new(count(index) * width, 0.0);
        let cell = Rect::from_min_size(corner, Vec2::new(width - style.px(8.0), style.px(FIGURES)));
        figure_ui(ui, style, index, &figure, cell);
    }
    let scale = Rect::from_min_size(
        Pos2::new(area.left(), area.top() + style.px(FIGURES)),
        Vec2::new(area.width(), style.px(SCALE)),
    );
    lean_scale_ui(ui, panel, scale);
    ui.advance_cursor_after_rect(Rect::from_min_max(area.min, scale.max));
}

fn figure_ui(ui: &mut Ui, style: &WindowStyle, index: usize, figure: &Figure<'_>, cell: Rect) {
    let response = ui.interact(cell, ui.id().with(("figure", index)), Sense::hover());
    let spoken = format!("{}: {}; {}", figure.caption, figure.value, figure.note);
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, &spoken));
    let caption = ui.painter().layout_no_wrap(figure.caption.clone(), style.body(), style.soft());
    let caption = if caption.size().x <= cell.width() {
        caption
    } else {
        style.fitted(ui, figure.short, style.body(), style.soft(), cell.width())
    };
    let top = cell.top() + caption.size().y;
    ui.painter().galley(cell.min, caption, style.soft());
    let value = ui.painter().layout_no_wrap(figure.value.clone(), style.strong(FIGURE_PX), style.ink());
    let beside = value.size().x + style.px(12.0);
    let middle = top + 0.5 * (cell.bottom() - top) - style.px(2.0);
    ui.painter().galley(Pos2::new(cell.left(), middle - 0.5 * value.size().y), value, style.ink());
    let room = cell.width() - beside;
    if room >= style.px(56.0) {
        let mut job = egui::text::LayoutJob::simple(figure.note.clone(), style.caption(), style.soft(), room);
        job.wrap.max_rows = 3;
        let note = ui.painter().layout_job(job);
        let at = Pos2::new(cell.left() + beside, middle - 0.5 * note.size().y);
        ui.painter().galley(at, note, style.soft());
    }
    response.on_hover_text(format!("{}\n{}", figure.note, figure.meaning));
}

/// The first round number of degrees at or beyond the largest that the scale must show.
fn scale_end_deg(most_deg: f64) -> f64 {
    [2.0, 3.0, 4.0, 6.0, 10.0, 15.0, 20.0, 30.0, 45.0, 60.0, 90.0]
        .into_iter()
        .find(|end| *end >= most_deg)
        .unwrap_or(180.0)
}

/// Where one mark of the scale has its words: to the right of it, or to the left where they would leave the scale or lie on
/// another's.
fn words_left(x: f32, width: f32, gap: f32, scale: Rect, taken: Option<(f32, f32)>) -> Option<f32> {
    let is_free = |left: f32| {
        left >= scale.left()
            && left + width <= scale.right()
            && taken.is_none_or(|(from, to)| left + width < from || left > to)
    };
    [x + gap, x - gap - width].into_iter().find(|left| is_free(*left))
}

/// Both leans on one engraved scale, with the zone that is upright.
fn lean_scale_ui(ui: &mut Ui, panel: &PanelContext<'_>, area: Rect) {
    let style = &panel.style;
    let account = &panel.measured().account;
    let upright_deg = panel.desk.settings().upright.degrees();
    let own_deg = account.largest_lean.map(|lean| lean.abs().degrees());
    let picture = account.largest_in_picture;
    let picture_deg = picture.map(|noticed| noticed.lean.degrees());
    let most_deg = [own_deg, picture_deg, Some(2.5 * upright_deg)].into_iter().flatten().fold(0.0, f64::max);
    let end_deg = scale_end_deg(most_deg);
    let scale = Rect::from_min_max(
        Pos2::new(area.left(), area.top() + style.px(18.0)),
        Pos2::new(area.right(), area.bottom() - style.px(8.0)),
    );
    let at = |degrees: f64| scale.left() + screen(degrees / end_deg).clamp(0.0, 1.0) * scale.width();
    let painter = ui.painter().clone();
    painter.rect_filled(scale, 2.0, style.well());
    let zone = Rect::from_min_max(scale.min, Pos2::new(at(upright_deg), scale.bottom()));
    painter.rect_filled(
        zone,
        2.0,
        super::style::thinned(style.open(), if style.theme == Theme::Dusk { 0.4 } else { 0.16 }),
    );
    painter.vline(zone.right(), scale.y_range(), Stroke::new(style.px(1.4), style.ink()));
    let step_deg = if end_deg > 30.0 {
        10.0
    } else if end_deg > 10.0 {
        5.0
    } else if end_deg > 3.0 {
        2.0
    } else {
        1.0
    };
    let ticks = (end_deg / step_deg * 5.0).round() as u32;
    for tick in 0..=ticks {
        let degrees = f64::from(tick) * step_deg / 5.0;
        let whole = tick.is_multiple_of(5);
        let depth = style.px(if whole { 7.0 } else { 4.0 });
        painter.vline(at(degrees), scale.top()..=scale.top() + depth, Stroke::new(1.0, style.soft()));
        let galley = painter.layout_no_wrap(format!("{degrees:.0}°"), style.figure(), style.soft());
        let left = at(degrees) - 0.5 * galley.size().x;
        if whole && left > zone.right() + 2.0 && left + galley.size().x < scale.right() {
            painter.galley(Pos2::new(left, scale.bottom() - galley.size().y), galley, style.soft());
        }
    }
    // The words of the two marks stand over the scale, beside their marks.
    let mut taken = None;
    let site = &panel.desk.survey().model.site;
    let own_name = panel.desk.survey().subject.as_ref().map_or("subject", |subject| site.blocks[subject.body].words());
    let picture_name = picture.map(|noticed| site.blocks[noticed.block].words());
    let same = own_deg.zip(picture_deg).is_some_and(|(own, other)| (own - other).abs() < 0.05);
    let marks = [own_deg.map(|degrees| (degrees, own_name)), picture_deg.zip(picture_name).filter(|_| !same)];
    for (degrees, name) in marks.into_iter().flatten() {
        let x = at(degrees);
        mark_down(&painter, style, Pos2::new(x, scale.top() - style.px(3.0)));
        let most = (0.5 * scale.width()).max(style.px(60.0));
        let words = format!("{name} {}", tenths(degrees));
        let galley = style.fitted_by(&painter, &words, style.strong(12.0), style.ink(), most);
        let width = galley.size().x;
        if let Some(left) = words_left(x, width, style.px(9.0), scale, taken) {
            painter.galley(Pos2::new(left, scale.top() - galley.size().y - style.px(1.0)), galley, style.ink());
            taken = Some((left - style.px(6.0), left + width + style.px(6.0)));
        }
    }
    let upright = painter.layout_no_wrap("upright".into(), style.caption(), style.soft());
    let over = (scale.left(), scale.left() + upright.size().x + style.px(6.0));
    let marked = |degrees: f64| at(degrees) < over.1 + style.px(5.0);
    if taken.is_none_or(|(from, _)| from > over.1) && !own_deg.is_some_and(marked) && !picture_deg.is_some_and(marked) {
        painter.galley(Pos2::new(scale.left(), scale.top() - upright.size().y - style.px(1.0)), upright, style.soft());
    }
    let response = ui.interact(area, ui.id().with("scale of lean"), Sense::hover());
    let spoken = format!(
        "scale of lean: upright up to {}°; {own_name} {}, picture {}",
        short(upright_deg),
        own_deg.map_or_else(|| "unknown".into(), tenths),
        picture_deg.map_or_else(|| "unknown".into(), tenths)
    );
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Image, true, &spoken));
    response.on_hover_text(format!("A lean of up to {}° counts as upright.", short(upright_deg)));
}

/// The other readings: in a few words, and in full in a list that opens.
pub(super) fn more_ui(ui: &mut Ui, panel: &PanelContext<'_>, drawings: &mut Drawings, actions: &mut Vec<Action>) {
    let style = &panel.style;
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = style.px(8.0);
        let response = word_with_mark(ui, style, "5 more readings", "5 more readings", style.ink());
        menu(&response, |ui| {
            ui.set_width(style.px(380.0).min(ui.ctx().content_rect().width() - style.px(40.0)));
            readings_ui(ui, panel);
            // The subject's shape as a level camera sees it, and as this one does, on a plumb line.
            let (gauge, _) = ui.allocate_exact_size(Vec2::new(ui.available_width(), style.px(150.0)), Sense::hover());
            gauge_ui(ui, panel, drawings, gauge);
        });
        // As many of them as there is room for.
        let parts = summary(panel);
        let layout =
            |count: usize| ui.painter().layout_no_wrap(parts[..count].join(" · "), style.caption(), style.soft());
        let room = ui.available_width();
        let fits = (1..=parts.len()).rev().find(|&count| layout(count).size().x <= room).unwrap_or(0);
        let galley = layout(fits);
        let words = parts.join(" · ");
        let (rect, response) = ui.allocate_exact_size(galley.size(), Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, &words));
        ui.painter().galley(rect.min, galley, style.soft());
        response.on_hover_text(words);
    });
    against_ui(ui, panel, actions);
}

/// A hairline over the width, with room about it.
pub(super) fn rule_ui(ui: &mut Ui, style: &WindowStyle) {
    let (rect, _) = ui.allocate_exact_size(Vec2::new(ui.available_width(), style.px(13.0)), Sense::hover());
    ui.painter().hline(rect.x_range(), rect.center().y, style.hairline());
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_scale_of_lean_ends_at_a_round_number_beyond_both_marks() {
        for (most_deg, end_deg) in [(0.0, 2.0), (1.5, 2.0), (2.01, 3.0), (8.4, 10.0), (61.0, 90.0), (120.0, 180.0)] {
            assert_eq!(scale_end_deg(most_deg), end_deg);
        }
    }

    #[test]
    fn the_words_of_a_mark_stay_on_the_scale_and_off_each_other() {
        let scale = Rect::from_min_max(Pos2::new(100.0, 0.0), Pos2::new(300.0, 20.0));
        assert_eq!(words_left(120.0, 60.0, 9.0, scale, None), Some(129.0));
        assert_eq!(words_left(290.0, 60.0, 9.0, scale, None), Some(221.0), "to the left at the right end");
        assert_eq!(words_left(200.0, 60.0, 9.0, scale, Some((195.0, 280.0))), Some(131.0), "to the left of another's");
        assert_eq!(words_left(150.0, 90.0, 9.0, scale, Some((140.0, 280.0))), None, "left out where there is no room");
    }
}
