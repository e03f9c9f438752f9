//! What is there to know, and to beware of? Cautions where they apply, and one list of everything that was told.

use bevy_egui::egui::{
    self, Pos2, Rect, ScrollArea, Sense, Shape, Stroke, StrokeKind, Ui, Vec2, WidgetInfo, WidgetType,
};

use super::context::PanelContext;
use super::style::{WindowStyle, text_button, within};
use crate::viewer::state::desk::{Action, Notice, NoticeAction, NoticeKind};

/// How long the newest notice lies over the finder, in seconds.
const SHOWN_S: f64 = 8.0;

/// The notice that lies over the finder, and since when.
#[derive(Clone, Debug, Default)]
pub(super) struct NewestNotice {
    text: String,
    since_s: f64,
    seen: usize,
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

/// The newest notice as a slip at the foot of the finder, for a while.
pub(super) fn newest_notice_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    newest: &mut NewestNotice,
    over: Rect,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let now_s = ui.input(|input| input.time);
    let notices = panel.desk.notices();
    let last = notices.iter().enumerate().rev().find(|(_, notice)| notice.kind != NoticeKind::Caution);
    let Some((index, notice)) = last else {
        *newest = NewestNotice::default();
        return;
    };
    if newest.text != notice.text || newest.seen < notices.len() {
        newest.since_s = now_s;
        newest.text.clone_from(&notice.text);
    }
    newest.seen = notices.len();
    let left_s = SHOWN_S - (now_s - newest.since_s);
    if left_s <= 0.0 {
        return;
    }
    ui.ctx().request_repaint_after(std::time::Duration::from_secs_f64(left_s));
    let width = (over.width() - style.px(24.0)).min(style.px(560.0));
    let galley = style.wrapped(ui.painter(), &notice.text, style.caption(), style.ink(), width - style.px(100.0));
    let height = galley.size().y + style.px(16.0);
    let rect = Rect::from_center_size(
        Pos2::new(over.center().x, over.bottom() - style.px(12.0) - 0.5 * height),
        Vec2::new(width, height),
    );
    ui.painter().rect(rect, 6.0, style.panel(), Stroke::new(1.0, style.ink()), StrokeKind::Inside);
    let text = Rect::from_min_size(rect.min + Vec2::new(style.px(12.0), style.px(8.0)), galley.size());
    let response = ui.interact(text, egui::Id::new("slip"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, &notice.text));
    ui.painter().galley(text.min, galley, style.ink());
    let corner = Rect::from_min_max(
        Pos2::new(rect.right() - style.px(82.0), rect.center().y - style.px(12.0)),
        Pos2::new(rect.right() - style.px(6.0), rect.center().y + style.px(12.0)),
    );
    within(ui, "close the newest notice", corner, |ui| {
        if text_button(ui, style, "Close", "close this notice").clicked() {
            actions.push(NoticeAction::Dismiss(index).into());
        }
    });
}
