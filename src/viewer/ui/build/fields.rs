//! How are numbers and names typed where they stand? A dotted line runs under what can be typed.

use bevy_egui::egui::{self, Align2, FontId, Key, Pos2, Rect, Sense, Stroke, Ui, Vec2, WidgetInfo, WidgetType};

use super::super::style::{WindowStyle, focus_ring};

/// What is being typed.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Typing {
    id: egui::Id,
    text: String,
    /// Whether the field has had the keyboard yet.
    begun: bool,
}

/// A field that shows a value, and is typed over after a click or Enter.
pub(super) struct Field<'a> {
    /// What it is, for whoever cannot see it.
    pub(super) name: &'a str,
    /// As it is shown.
    pub(super) shown: &'a str,
    pub(super) font: FontId,
}

impl Field<'_> {
    /// The field at a place of the window; tells what was typed. `anchor` says which point of it lies there.
    pub(super) fn at(
        &self,
        ui: &mut Ui,
        style: &WindowStyle,
        typing: &mut Option<Typing>,
        at: Pos2,
        anchor: Align2,
    ) -> Option<String> {
        let id = ui.make_persistent_id(("field", self.name));
        let galley = ui.painter().layout_no_wrap(self.shown.to_owned(), self.font.clone(), style.ink());
        let rect = anchor.anchor_size(at, galley.size());
        if typing.as_ref().is_some_and(|typing| typing.id == id) {
            return self.type_in(ui, style, typing, rect, id);
        }
        let response = ui.interact(rect.expand2(Vec2::new(style.px(4.0), style.px(3.0))), id, Sense::click());
        response
            .widget_info(|| WidgetInfo::labeled(WidgetType::Button, true, format!("{}: {}", self.name, self.shown)));
        let plate = rect.expand2(Vec2::new(style.px(3.0), style.px(1.0)));
        ui.painter().rect_filled(plate, 3.0, if response.hovered() { style.well() } else { style.panel() });
        ui.painter().galley(rect.min, galley, style.ink());
        let (from, to) = (rect.left_bottom() + Vec2::new(0.0, 1.0), rect.right_bottom() + Vec2::new(0.0, 1.0));
        ui.painter().extend(egui::Shape::dotted_line(&[from, to], style.soft(), style.px(3.0), 0.6));
        focus_ring(ui, style, &response, plate);
        let entered = response.has_focus() && ui.input(|input| input.key_pressed(Key::Enter));
        if response.clicked() || entered {
            *typing = Some(Typing { id, text: self.shown.to_owned(), begun: false });
            ui.ctx().request_repaint();
        }
        response.on_hover_cursor(egui::CursorIcon::Text);
        None
    }

    /// The same as a part of a row.
    pub(super) fn ui(
        &self,
        ui: &mut Ui,
        style: &WindowStyle,
        typing: &mut Option<Typing>,
        width: f32,
    ) -> Option<String> {
        let (rect, _) = ui.allocate_exact_size(Vec2::new(width, style.px(22.0)), Sense::hover());
        self.at(ui, style, typing, rect.left_center() + Vec2::new(style.px(3.0), 0.0), Align2::LEFT_CENTER)
    }

    fn type_in(
        &self,
        ui: &mut Ui,
        style: &WindowStyle,
        typing: &mut Option<Typing>,
        rect: Rect,
        id: egui::Id,
    ) -> Option<String> {
        let now = typing.as_mut()?;
        let room = Rect::from_center_size(
            rect.center(),
            Vec2::new((rect.width() + style.px(24.0)).max(style.px(72.0)), rect.height() + style.px(8.0)),
        );
        let edit = egui::TextEdit::singleline(&mut now.text).id(id.with("typed")).font(self.font.clone());
        let output = ui.scope(|ui| ui.put(room, edit)).inner;
        ui.ctx().accesskit_node_builder(output.id, |node| node.set_label(self.name));
        ui.painter().rect_stroke(room, 4.0, Stroke::new(1.6, style.ink()), egui::StrokeKind::Outside);
        if !now.begun {
            now.begun = true;
            output.request_focus();
            select_all(ui, output.id, now.text.chars().count());
            return None;
        }
        if ui.input(|input| input.key_pressed(Key::Escape)) {
            *typing = None;
            return None;
        }
        if output.lost_focus() {
            let text = typing.take()?.text;
            return (text != self.shown).then_some(text);
        }
        None
    }
}

fn select_all(ui: &Ui, id: egui::Id, letters: usize) {
    let mut state = egui::TextEdit::load_state(ui.ctx(), id).unwrap_or_default();
    let all = egui::text::CCursorRange::two(egui::text::CCursor::new(0), egui::text::CCursor::new(letters));
    state.cursor.set_char_range(Some(all));
    state.store(ui.ctx(), id);
}
