//! How is a setting of the lens turned? An engraved scale that slides under a fixed eye, with an index that moves.
//!
//! A barrel knows places from 0 (its left end) to 1 (its right end) only; whoever draws one says which value lies where.
//! Dragging, the wheel, the arrow keys and a typed number all turn it.

use bevy_egui::egui::{self, EventFilter, Key, Pos2, Rect, Response, Sense, Stroke, Ui, Vec2, WidgetInfo};

use super::style::{WindowStyle, bracket, focus_ring, index_mark};

/// One engraved scale.
pub(super) struct LensScale<'a> {
    /// What it sets, in words: "focal length".
    pub(super) name: &'a str,
    /// What stands over it at the left; its name unless there is more to say.
    pub(super) caption: &'a str,
    /// The value as it is set now.
    pub(super) value: &'a str,
    /// The same as a number, for readers of the screen.
    pub(super) number: f64,
    /// The place of the index.
    pub(super) index: f32,
    /// Places with what is engraved there.
    pub(super) marks: &'a [(f32, String)],
    /// Places of ticks without a figure.
    pub(super) ticks: &'a [f32],
    /// The stretch under a bar below the scale: what is sharp.
    pub(super) bracket: Option<(f32, f32)>,
}

/// What a hand did to a barrel.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum ScaleInput {
    /// To a place.
    To(f32),
    /// By so many stops.
    Stops(i32),
    /// By so many fine steps.
    Fine(i32),
    /// To one of its ends.
    End(bool),
    /// To what was typed.
    Typed(String),
}

impl LensScale<'_> {
    /// Draws the barrel and tells what was done to it.
    pub(super) fn ui(&self, ui: &mut Ui, style: &WindowStyle) -> Option<ScaleInput> {
        let id = ui.make_persistent_id(("lens scale", self.name));
        let mut turned = value_line(ui, style, id, self.name, self.caption, self.value);
        let height = style.px(if self.bracket.is_some() { 39.0 } else { 32.0 });
        let (outer, _) = ui.allocate_exact_size(Vec2::new(ui.available_width(), height), Sense::hover());
        // The mark stands over the scale.
        let top = outer.min + Vec2::new(0.0, style.px(7.0));
        let well = Rect::from_min_size(top, Vec2::new(outer.width(), style.px(25.0)));
        let response = ui.interact(well, id, Sense::click_and_drag());
        let inner = well.shrink2(Vec2::new(style.px(9.0), 0.0));
        let at = |share: f32| inner.left() + share * inner.width();
        if let Some(place) = response.interact_pointer_pos().filter(|_| response.dragged() || response.clicked()) {
            turned = Some(ScaleInput::To(((place.x - inner.left()) / inner.width()).clamp(0.0, 1.0)));
        }
        if let Some(by) = steps(ui, &response) {
            turned = Some(by);
        }
        self.draw(ui, style, &response, well, &at);
        tell(ui, &response, self.name, self.value, self.number);
        response.on_hover_and_drag_cursor(egui::CursorIcon::ResizeHorizontal);
        turned
    }

    fn draw(&self, ui: &Ui, style: &WindowStyle, response: &Response, well: Rect, at: &dyn Fn(f32) -> f32) {
        let painter = ui.painter();
        scale_ground(painter, style, well);
        for &tick in self.ticks {
            painter.vline(at(tick), well.top()..=well.top() + style.px(4.0), Stroke::new(1.0, style.soft()));
        }
        let mut written_to = f32::NEG_INFINITY;
        for (share, text) in self.marks {
            let x = at(*share);
            painter.vline(x, well.top()..=well.top() + style.px(7.0), Stroke::new(1.0, style.soft()));
            let galley = painter.layout_no_wrap(text.clone(), style.figure(), style.soft());
            let left = (x - 0.5 * galley.size().x).clamp(well.left() + 2.0, well.right() - 2.0 - galley.size().x);
            // A figure that would lie on its neighbour is left out; its mark stays.
            if left > written_to + style.px(3.0) {
                written_to = left + galley.size().x;
                painter.galley(Pos2::new(left, well.bottom() - galley.size().y - style.px(0.5)), galley, style.soft());
            }
        }
        if let Some((from, to)) = self.bracket {
            bracket(painter, style, [at(from), at(to)], well.bottom() + style.px(4.0));
        }
        focus_ring(ui, style, response, well);
        index_mark(painter, style, Pos2::new(at(self.index), well.top()));
    }
}

/// What is engraved lies on this: a light ground with a line under it.
pub(super) fn scale_ground(painter: &egui::Painter, style: &WindowStyle, well: Rect) {
    painter.rect_filled(well, 2.0, style.well());
    painter.hline(well.x_range(), well.bottom(), style.control());
}

/// A text that is being typed over a value.
#[derive(Clone, Debug, Default)]
struct TypedValue {
    text: String,
    /// Not shown yet: it takes the focus when it is.
    fresh: bool,
}

/// A caption and a value; the value can be clicked and typed anew. Returns what was typed.
pub(super) fn value_line(
    ui: &mut Ui,
    style: &WindowStyle,
    owner: egui::Id,
    name: &str,
    caption: &str,
    value: &str,
) -> Option<ScaleInput> {
    let field_id = owner.with("typing");
    let (line, _) = ui.allocate_exact_size(Vec2::new(ui.available_width(), style.px(18.0)), Sense::hover());
    let typing: Option<TypedValue> = ui.data(|data| data.get_temp(field_id)).or_else(|| begun(ui, owner, value));
    let mut typed = None;
    let value_left = if let Some(mut typing) = typing {
        let width = style.px(84.0).min(0.6 * line.width());
        let field = Rect::from_min_max(Pos2::new(line.right() - width, line.top()), line.max);
        let edit = egui::TextEdit::singleline(&mut typing.text)
            .id(field_id)
            .font(style.strong(13.0))
            .margin(egui::Margin::symmetric(4, 0))
            .horizontal_align(egui::Align::RIGHT);
        let response = ui.put(field, edit);
        ui.ctx().accesskit_node_builder(field_id, |node| node.set_label(format!("{name}, typed")));
        if typing.fresh {
            response.request_focus();
            select_all(ui, field_id, &typing.text);
            typing.fresh = false;
            ui.data_mut(|data| data.insert_temp(field_id, typing));
        } else if response.lost_focus() {
            let (dropped, done) = ui.input(|input| (input.key_pressed(Key::Escape), input.key_pressed(Key::Enter)));
            ui.data_mut(|data| data.remove_temp::<TypedValue>(field_id));
            if done || dropped {
                ui.memory_mut(|memory| memory.request_focus(owner));
            }
            typed = (!dropped).then_some(ScaleInput::Typed(typing.text));
        } else {
            ui.data_mut(|data| data.insert_temp(field_id, typing));
        }
        field.left()
    } else {
        let galley = style.fitted(ui, value, style.strong(13.0), style.ink(), line.width());
        let size = galley.size();
        let place = Pos2::new(line.right() - size.x, line.center().y - 0.5 * size.y);
        let rect = Rect::from_min_size(place, size);
        let response = ui.interact(rect.expand(2.0), owner.with("value"), Sense::CLICK);
        ui.painter().galley(place, galley, style.ink());
        if response.hovered() {
            ui.painter().hline(rect.x_range(), rect.bottom(), Stroke::new(1.0, style.soft()));
        }
        if response.on_hover_cursor(egui::CursorIcon::Text).clicked() {
            let typing = TypedValue { text: bare(value), fresh: true };
            ui.data_mut(|data| data.insert_temp(field_id, typing));
            ui.ctx().request_repaint();
        }
        rect.left()
    };
    let caption = style.fitted(ui, caption, style.caption(), style.soft(), value_left - line.left() - style.px(8.0));
    let place = Pos2::new(line.left(), line.center().y - 0.5 * caption.size().y);
    ui.painter().galley(place, caption, style.soft());
    typed
}

/// The number of a value, without what stands around it.
fn bare(value: &str) -> String {
    super::figures::number_in(value).map_or_else(String::new, super::figures::short)
}

/// Digits typed on a focused instrument start a number, Enter changes the one that is there.
fn begun(ui: &Ui, owner: egui::Id, value: &str) -> Option<TypedValue> {
    if !ui.memory(|memory| memory.has_focus(owner)) {
        return None;
    }
    let text = ui.input(|input| {
        input.events.iter().find_map(|event| match event {
            egui::Event::Text(text) if text.starts_with(|c: char| c.is_ascii_digit() || ".,-−".contains(c)) => {
                Some(text.clone())
            }
            egui::Event::Key { key: Key::Enter, pressed: true, .. } => Some(bare(value)),
            _ => None,
        })
    })?;
    Some(TypedValue { text, fresh: true })
}

/// What was there is replaced by the first key; a first digit already typed is kept.
fn select_all(ui: &Ui, field: egui::Id, text: &str) {
    use egui::text::{CCursor, CCursorRange};
    let end = CCursor::new(text.chars().count());
    let start = if text.chars().count() > 1 { CCursor::new(0) } else { end };
    let mut state = egui::text_edit::TextEditState::load(ui.ctx(), field).unwrap_or_default();
    state.cursor.set_char_range(Some(CCursorRange::two(start, end)));
    state.store(ui.ctx(), field);
}

/// What the wheel and the keys do to an instrument.
pub(super) fn steps(ui: &Ui, response: &Response) -> Option<ScaleInput> {
    let mut turned = None;
    if response.clicked() || response.drag_started() {
        response.request_focus();
    }
    if response.hovered() {
        let notches = ui.input(|input| {
            input
                .events
                .iter()
                .filter_map(|event| match event {
                    egui::Event::MouseWheel { delta, .. } => Some(delta.y + delta.x),
                    _ => None,
                })
                .sum::<f32>()
        });
        if notches != 0.0 {
            turned = Some(ScaleInput::Stops(if notches > 0.0 { 1 } else { -1 }));
            // The wheel turns the instrument, not the card below it.
            ui.ctx().input_mut(|input| input.smooth_scroll_delta = Vec2::ZERO);
        }
    }
    if response.has_focus() {
        ui.memory_mut(|memory| {
            memory.set_focus_lock_filter(
                response.id,
                EventFilter { tab: false, horizontal_arrows: true, vertical_arrows: true, escape: false },
            );
        });
        let keyed = ui.input(|input| {
            let pressed = |key| i32::from(input.key_pressed(key));
            let arrows =
                pressed(Key::ArrowRight) + pressed(Key::ArrowUp) - pressed(Key::ArrowLeft) - pressed(Key::ArrowDown);
            let pages = pressed(Key::PageUp) - pressed(Key::PageDown);
            use egui::accesskit::Action;
            let asked = i32::try_from(input.num_accesskit_action_requests(response.id, Action::Increment)).unwrap_or(0)
                - i32::try_from(input.num_accesskit_action_requests(response.id, Action::Decrement)).unwrap_or(0);
            if input.key_pressed(Key::Home) {
                Some(ScaleInput::End(false))
            } else if input.key_pressed(Key::End) {
                Some(ScaleInput::End(true))
            } else if arrows != 0 && input.modifiers.shift {
                Some(ScaleInput::Fine(arrows))
            } else if arrows + asked != 0 {
                Some(ScaleInput::Stops(arrows + asked))
            } else {
                (pages != 0).then_some(ScaleInput::Stops(3 * pages))
            }
        });
        turned = keyed.or(turned);
    }
    turned
}

/// Says what an instrument is and how it is set, for readers of the screen.
pub(super) fn tell(ui: &Ui, response: &Response, name: &str, value: &str, number: f64) {
    response.widget_info(|| WidgetInfo::slider(ui.is_enabled(), number, name));
    ui.ctx().accesskit_node_builder(response.id, |node| {
        use egui::accesskit::Action;
        node.set_value(value);
        node.add_action(Action::Increment);
        node.add_action(Action::Decrement);
    });
}
