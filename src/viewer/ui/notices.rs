//! What is there to know, and to beware of? Cautions where they apply, and one list of everything that was told.

use bevy_egui::egui::{
    self, Pos2, Rect, ScrollArea, Sense, Shape, Stroke, StrokeKind, Ui, Vec2, WidgetInfo, WidgetType,
};

use super::style::{Look, within, word_button};
use super::table::Table;
use crate::viewer::state::desk::{Action, Notice, NoticeAction, NoticeKind};

/// How long the newest notice lies over the finder, in seconds.
const SHOWN_S: f64 = 8.0;

/// The notice that lies over the finder, and since when.
#[derive(Clone, Debug, Default)]
pub(super) struct Newest {
    text: String,
    since_s: f64,
    seen: usize,
}

/// A triangle with a stroke in it: beware.
pub(super) fn beware_sign(painter: &egui::Painter, look: &Look, centre: Pos2) {
    let (half, ink) = (look.px(6.0), look.ask());
    let stroke = Stroke::new(look.px(1.4), ink);
    let corners = vec![
        centre + Vec2::new(0.0, -half),
        centre + Vec2::new(1.05 * half, 0.8 * half),
        centre + Vec2::new(-1.05 * half, 0.8 * half),
    ];
    painter.add(Shape::closed_line(corners, stroke));
    painter.vline(centre.x, centre.y - look.px(2.5)..=centre.y + look.px(1.0), stroke);
    painter.circle_filled(centre + Vec2::new(0.0, look.px(3.0)), look.px(0.9), ink);
}

/// The cautions that hold where the walker stands: always there, in full. Returns the height they take.
pub(super) fn cautions_ui(ui: &mut Ui, table: &Table<'_>, most: f32) -> f32 {
    let look = &table.look;
    let cautions = &table.measured().cautions;
    if cautions.is_empty() {
        return 0.0;
    }
    let top = ui.cursor().top();
    ScrollArea::vertical().id_salt("notices 1").max_height(most).auto_shrink([false, true]).show(ui, |ui| {
        ui.spacing_mut().item_spacing.y = look.px(3.0);
        for caution in cautions {
            caution_ui(ui, look, &caution.text);
        }
    });
    ui.cursor().top() - top
}

fn caution_ui(ui: &mut Ui, look: &Look, text: &str) {
    let indent = look.px(20.0);
    let galley = look.wrapped(ui.painter(), text, look.caption(), look.ink(), ui.available_width() - indent);
    let size = Vec2::new(ui.available_width(), galley.size().y);
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, format!("caution: {text}")));
    beware_sign(ui.painter(), look, rect.left_top() + Vec2::new(look.px(7.0), look.px(8.0)));
    ui.painter().galley(rect.left_top() + Vec2::new(indent, 0.0), galley, look.ink());
}

/// Everything that was told, the newest first.
pub(super) fn notices_ui(ui: &mut Ui, table: &Table<'_>, actions: &mut Vec<Action>) {
    let look = &table.look;
    ui.set_max_width(look.px(360.0).min(ui.ctx().content_rect().width() - look.px(40.0)));
    ui.label(look.title("Notices"));
    let notices = table.desk.notices();
    if notices.is_empty() {
        ui.label(look.note("Nothing to tell."));
    }
    let most = (ui.ctx().content_rect().height() - look.px(140.0)).max(look.px(80.0));
    ScrollArea::vertical().id_salt("notices 2").max_height(most).show(ui, |ui| {
        for (index, notice) in notices.iter().enumerate().rev() {
            notice_ui(ui, look, index, notice, actions);
        }
    });
}

fn kind_words(kind: NoticeKind) -> &'static str {
    match kind {
        NoticeKind::Error => "could not be done",
        NoticeKind::Caution => "beware",
        NoticeKind::News => "good to know",
    }
}

fn notice_ui(ui: &mut Ui, look: &Look, index: usize, notice: &Notice, actions: &mut Vec<Action>) {
    let ink = if notice.kind == NoticeKind::News { look.soft() } else { look.ask() };
    ui.horizontal(|ui| {
        ui.label(look.note(kind_words(notice.kind)).color(ink));
        if word_button(ui, look, "put away", &format!("put notice {} away", index + 1)).clicked() {
            actions.push(NoticeAction::Dismiss(index).into());
        }
    });
    ui.label(look.note(&notice.text).color(look.ink()));
    ui.add_space(look.px(4.0));
}

/// The newest notice as a slip at the foot of the finder, for a while.
pub(super) fn slip_ui(ui: &mut Ui, table: &Table<'_>, newest: &mut Newest, over: Rect, actions: &mut Vec<Action>) {
    let look = &table.look;
    let now_s = ui.input(|input| input.time);
    let notices = table.desk.notices();
    let last = notices.iter().enumerate().rev().find(|(_, notice)| notice.kind != NoticeKind::Caution);
    let Some((index, notice)) = last else {
        *newest = Newest::default();
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
    let width = (over.width() - look.px(24.0)).min(look.px(560.0));
    let galley = look.wrapped(ui.painter(), &notice.text, look.caption(), look.ink(), width - look.px(100.0));
    let height = galley.size().y + look.px(16.0);
    let rect = Rect::from_center_size(
        Pos2::new(over.center().x, over.bottom() - look.px(12.0) - 0.5 * height),
        Vec2::new(width, height),
    );
    ui.painter().rect(rect, 6.0, look.panel(), Stroke::new(1.0, look.ink()), StrokeKind::Inside);
    let text = Rect::from_min_size(rect.min + Vec2::new(look.px(12.0), look.px(8.0)), galley.size());
    let response = ui.interact(text, egui::Id::new("slip"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, &notice.text));
    ui.painter().galley(text.min, galley, look.ink());
    let corner = Rect::from_min_max(
        Pos2::new(rect.right() - look.px(82.0), rect.center().y - look.px(12.0)),
        Pos2::new(rect.right() - look.px(6.0), rect.center().y + look.px(12.0)),
    );
    within(ui, "slip away", corner, |ui| {
        if word_button(ui, look, "put away", "put this notice away").clicked() {
            actions.push(NoticeAction::Dismiss(index).into());
        }
    });
}
