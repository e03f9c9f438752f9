//! What was done, and how far back? The steps on an engraved scale; its mark is dragged back and forth.

use bevy_egui::egui::{self, EventFilter, Key, Pos2, Rect, Sense, Shape, Stroke, Ui, Vec2, WidgetInfo, WidgetType};

use crate::viewer::state::desk::{Action, CameraAction};

use super::super::context::PanelContext;
use super::super::style::{count, focus_ring, index_mark, within};
use super::state::BuildState;

/// How many steps have their words under them.
const NAMED: usize = 5;
/// How many steps the scale shows.
const SHOWN: usize = 24;

/// The scale of the steps.
pub(super) fn steps_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    state: &mut BuildState,
    rect: Rect,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let (past, future) = panel.desk.steps();
    let title_width = if rect.width() > style.px(720.0) { style.px(118.0) } else { 0.0 };
    if title_width > 0.0 {
        let title = Rect::from_min_size(
            rect.min + Vec2::new(style.px(4.0), style.px(6.0)),
            Vec2::new(title_width, rect.height()),
        );
        within(ui, "steps title", title, |ui| {
            ui.spacing_mut().item_spacing.y = style.px(2.0);
            ui.label(style.title("Steps"));
            ui.label(style.note("drag the mark back"));
        });
    }
    let row = Rect::from_min_max(
        Pos2::new(rect.left() + title_width + style.px(8.0), rect.top()),
        rect.max - Vec2::new(style.px(40.0), 0.0),
    );
    let all = past.len() + future.len();
    // The last steps, with what was taken back.
    let first = all.saturating_sub(SHOWN).min(past.len().saturating_sub(SHOWN / 2));
    let shown = all - first;
    let apart = row.width() / count(shown.max(NAMED));
    let line = row.top() + style.px(14.0);
    let at = |step: usize| row.left() + count(step.saturating_sub(first)) * apart;
    let response = ui.interact(
        Rect::from_min_max(
            row.min - Vec2::new(style.px(8.0), 0.0),
            Pos2::new(row.right() + style.px(8.0), line + style.px(10.0)),
        ),
        ui.id().with("steps"),
        Sense::click_and_drag(),
    );
    let painter = ui.painter();
    painter.hline(row.left()..=at(past.len()), line, style.control());
    if !future.is_empty() {
        let ends = [Pos2::new(at(past.len()), line), Pos2::new(at(all), line)];
        painter.extend(Shape::dotted_line(&ends, style.soft(), 4.0, 0.8));
    }
    for step in first..=all {
        let long = step == past.len();
        painter.vline(at(step), line..=line + style.px(if long { 8.0 } else { 4.0 }), Stroke::new(1.0, style.soft()));
    }
    let words = |step: usize| past.iter().chain(&future).nth(step.wrapping_sub(1)).copied().unwrap_or("The beginning");
    // Words under the last few steps, as far as they keep apart.
    let mut right = f32::MAX;
    for step in (first..=all).rev() {
        let now = step == past.len();
        let font = if now { style.strong(12.0) } else { style.caption() };
        let ink = if now { style.ink() } else { style.soft() };
        let galley = style.fitted(ui, words(step), font, ink, style.px(150.0));
        let left = (at(step) - 0.5 * galley.size().x)
            .clamp(row.left() - style.px(6.0), (rect.right() - galley.size().x).max(row.left() - style.px(6.0)));
        if left + galley.size().x + style.px(10.0) > right && !now {
            continue;
        }
        if now && left + galley.size().x + style.px(10.0) > right {
            continue;
        }
        right = left;
        painter.galley(Pos2::new(left, line + style.px(10.0)), galley, ink);
    }
    let hand = response.interact_pointer_pos().filter(|_| response.dragged() || response.clicked()).map(|hand| {
        let step = ((hand.x - row.left()) / apart).round().max(0.0);
        (first..=all).nth(step as usize).unwrap_or(all)
    });
    let mark = state.step.unwrap_or(past.len());
    index_mark(painter, style, Pos2::new(at(mark), line - style.px(4.0)));
    focus_ring(ui, style, &response, response.rect);
    response.widget_info(|| {
        WidgetInfo::labeled(WidgetType::Slider, true, format!("steps: {} of {all}, {}", past.len(), words(past.len())))
    });
    if let Some(step) = hand {
        state.step = Some(step);
    }
    if response.drag_stopped() || response.clicked() {
        let wanted = state.step.take().unwrap_or(past.len());
        go(past.len(), wanted, actions);
    }
    if response.has_focus() {
        ui.memory_mut(|memory| {
            let filter = EventFilter { horizontal_arrows: true, ..Default::default() };
            memory.set_focus_lock_filter(response.id, filter);
        });
        let (back, on) = ui.input(|input| (input.key_pressed(Key::ArrowLeft), input.key_pressed(Key::ArrowRight)));
        if back {
            go(past.len(), past.len().saturating_sub(1), actions);
        } else if on {
            go(past.len(), (past.len() + 1).min(all), actions);
        }
    }
    response.on_hover_cursor(egui::CursorIcon::ResizeHorizontal);
}

/// Back or forth from one step to another.
fn go(now: usize, wanted: usize, actions: &mut Vec<Action>) {
    let action = if wanted < now { CameraAction::Undo } else { CameraAction::Redo };
    actions.extend(std::iter::repeat_n(Action::from(action), now.abs_diff(wanted)));
}
