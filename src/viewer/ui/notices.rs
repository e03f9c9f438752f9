//! What is there to know, and to beware of? Cautions where they apply, and one list of everything that was told.

use bevy_egui::egui::{
    self, Pos2, Rect, ScrollArea, Sense, Shape, Stroke, StrokeKind, Ui, Vec2, WidgetInfo, WidgetType,
};

use super::context::PanelContext;
use super::style::{WindowStyle, text_button, within};
use crate::viewer::state::desk::{Action, Notice, NoticeAction, NoticeKind};
use crate::wording;

/// How long the newest notice is shown, in seconds.
const SHOWN_S: f64 = 8.0;

/// The newest notice that was shown, and since when.
#[derive(Clone, Debug, Default)]
pub(super) struct NewestNotice {
    number: u64,
    since_s: f64,
}

/// A triangle with a stroke in it: beware.
pub(super) fn caution_sign(painter: &egui::Painter, style: &WindowStyle, centre: Pos2) {
    let (half, ink) = (style.px(6.0), style.ask());
    let stroke = Stroke::new(style.px(1.4), ink);
    let corners = vec![
        centre + Vec2::new(0.0, -half),
        centre + Vec2::new(1.05 * half, 0.8 * half),
        centre + Vec2::new(-1.05 * half, 0.8 * half),
    ];
    painter.add(Shape::closed_line(corners, stroke));
    painter.vline(centre.x, centre.y - style.px(2.5)..=centre.y + style.px(1.0), stroke);
    painter.circle_filled(centre + Vec2::new(0.0, style.px(3.0)), style.px(0.9), ink);
}

/// The cautions that hold where the walker stands: always there, in full. Returns the height they take.
pub(super) fn cautions_ui(ui: &mut Ui, panel: &PanelContext<'_>, most: f32) -> f32 {
    let style = &panel.style;
    let cautions = &panel.measured().cautions;
    if cautions.is_empty() {
        return 0.0;
    }
    let top = ui.cursor().top();
    ScrollArea::vertical().id_salt("notices 1").max_height(most).auto_shrink([false, true]).show(ui, |ui| {
        ui.spacing_mut().item_spacing.y = style.px(3.0);
        for caution in cautions {
            caution_ui(ui, style, &caution.text);
        }
    });
    ui.cursor().top() - top
}

fn caution_ui(ui: &mut Ui, style: &WindowStyle, text: &str) {
    let indent = style.px(20.0);
    let galley = style.wrapped(ui.painter(), text, style.caption(), style.ink(), ui.available_width() - indent);
    let size = Vec2::new(ui.available_width(), galley.size().y);
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, format!("caution: {text}")));
    caution_sign(ui.painter(), style, rect.left_top() + Vec2::new(style.px(7.0), style.px(8.0)));
    ui.painter().galley(rect.left_top() + Vec2::new(indent, 0.0), galley, style.ink());
}

/// Everything that was told, the newest first.
pub(super) fn notices_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    ui.set_max_width(style.px(360.0).min(ui.ctx().content_rect().width() - style.px(40.0)));
    ui.label(style.title("Notices"));
    let notices = panel.desk.notices();
    if notices.is_empty() {
        ui.label(style.note("There are no notices."));
    }
    let most = (ui.ctx().content_rect().height() - style.px(140.0)).max(style.px(80.0));
    ScrollArea::vertical().id_salt("notices 2").max_height(most).show(ui, |ui| {
        for (index, notice) in notices.iter().enumerate().rev() {
            notice_ui(ui, style, index, notice, actions);
        }
    });
}

fn kind_words(kind: NoticeKind) -> &'static str {
    match kind {
        NoticeKind::Error => "error",
        NoticeKind::Caution => "caution",
        NoticeKind::News => "note",
    }
}

fn notice_ui(ui: &mut Ui, style: &WindowStyle, index: usize, notice: &Notice, actions: &mut Vec<Action>) {
    let ink = if notice.kind == NoticeKind::News { style.soft() } else { style.ask() };
    ui.horizontal(|ui| {
        ui.label(style.note(kind_words(notice.kind)).color(ink));
        if text_button(ui, style, "Close", &format!("close notice {}", index + 1)).clicked() {
            actions.push(NoticeAction::Dismiss(index).into());
        }
    });
    ui.label(style.note(&notice.text).color(style.ink()));
    ui.add_space(style.px(4.0));
}

/// The newest notice in the line at the top, for a while: there it covers nothing that it speaks of.
pub(super) fn newest_notice_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    newest: &mut NewestNotice,
    place: Rect,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let now_s = ui.input(|input| input.time);
    let last = panel.desk.notices().iter().enumerate().filter(|(_, notice)| notice.kind != NoticeKind::Caution);
    let Some((index, notice)) = last.max_by_key(|(_, notice)| notice.number) else { return };
    if notice.number > newest.number {
        *newest = NewestNotice { number: notice.number, since_s: now_s };
    }
    let left_s = SHOWN_S - (now_s - newest.since_s);
    // Where the newest is gone, an older one is no news.
    if left_s <= 0.0 || notice.number < newest.number || place.width() < style.px(90.0) {
        return;
    }
    ui.ctx().request_repaint_after(std::time::Duration::from_secs_f64(left_s));
    let close = style.px(58.0);
    let text = wording::capital(notice.text.lines().next().unwrap_or_default());
    let mut job = egui::text::LayoutJob::simple_singleline(text, style.caption(), style.ink());
    job.wrap = egui::text::TextWrapping::truncate_at_width((place.width() - close - style.px(24.0)).max(1.0));
    let galley = ui.painter().layout_job(job);
    let cut = galley.elided || notice.text.lines().count() > 1;
    let size = Vec2::new(galley.size().x + close + style.px(20.0), style.px(26.0));
    let rect = Rect::from_min_size(Pos2::new(place.left(), place.center().y - 0.5 * size.y), size);
    ui.painter().rect(rect, 6.0, style.panel(), style.control(), StrokeKind::Inside);
    let text = Rect::from_min_size(
        Pos2::new(rect.left() + style.px(10.0), rect.center().y - 0.5 * galley.size().y),
        galley.size(),
    );
    let response = ui.interact(text, egui::Id::new("slip"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, &notice.text));
    ui.painter().galley(text.min, galley, style.ink());
    if cut {
        response.on_hover_text(&notice.text);
    }
    let corner = Rect::from_min_max(Pos2::new(rect.right() - close, rect.top()), rect.max);
    within(ui, "close the newest notice", corner.shrink(2.0), |ui| {
        if text_button(ui, style, "Close", "close this notice").clicked() {
            actions.push(NoticeAction::Dismiss(index).into());
        }
    });
}
