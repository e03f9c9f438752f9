//! How high is the camera above the feet? A levelling staff with the heights that have a name beside it.

use bevy_egui::egui::{self, Pos2, Rect, Sense, Stroke, Ui, Vec2, WidgetInfo, WidgetType};

use super::figures::length_in;
use super::lens_scale::{ScaleInput, steps, tell, value_line};
use super::style::{WindowStyle, focus_ring};
use crate::units::Units;
use crate::viewer::render::narrow::screen;

/// The staffs that are taken, by their length; the shortest that reaches is used.
const STAFFS_M: [f64; 8] = [4.6, 8.0, 15.0, 30.0, 60.0, 120.0, 300.0, 1000.0];
/// The lowest camera height, and the greatest.
pub(super) const CAMERA_HEIGHTS_M: (f64, f64) = (0.2, 120.0);

/// A height with a name.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct HeightMark<'a> {
    pub(super) name: &'a str,
    pub(super) height_m: f64,
}

/// The staff as it stands.
pub(super) struct HeightScale<'a> {
    /// What is set: "camera height", and how that is said over the staff.
    pub(super) name: [&'a str; 2],
    /// The height as it is.
    pub(super) height_m: f64,
    /// The least and the greatest height.
    pub(super) limits_m: (f64, f64),
    /// The unit of heights, typed and engraved.
    pub(super) units: Units,
    /// Named heights.
    pub(super) presets: &'a [HeightMark<'a>],
    /// How far down and up it may be off; nothing where that is not known, or farther than anybody looked.
    pub(super) tolerance_m: Option<[Option<f64>; 2]>,
}

impl HeightScale<'_> {
    /// Draws the staff in what height there is, and tells a height that was asked for.
    pub(super) fn ui(&self, ui: &mut Ui, style: &WindowStyle, height: f32) -> Option<f64> {
        let id = ui.make_persistent_id(("height scale", self.name));
        let value = self.units.length(self.height_m, 2);
        let [name, caption] = self.name;
        let typed = value_line(ui, style, id, name, caption, &value);
        let (area, _) = ui.allocate_exact_size(Vec2::new(ui.available_width(), height), Sense::hover());
        let height_scale = Rect::from_min_max(
            Pos2::new(area.left() + style.px(34.0), area.top() + style.px(4.0)),
            Pos2::new(area.left() + style.px(58.0), area.bottom() - style.px(4.0)),
        );
        let length_m =
            STAFFS_M.into_iter().find(|&length_m| length_m >= self.height_m * 1.02).unwrap_or(self.limits_m.1);
        let response = ui.interact(height_scale.expand2(Vec2::new(style.px(4.0), 0.0)), id, Sense::click_and_drag());
        let mut asked = None;
        if let Some(hand) = response.interact_pointer_pos().filter(|_| response.dragged() || response.clicked()) {
            let share = f64::from((height_scale.bottom() - hand.y) / height_scale.height());
            // Dragged beyond its end a staff is drawn out; to the centimetre as far as a hand can tell.
            let step = if length_m < 10.0 { 0.01 } else { 0.1 };
            asked = Some((share.clamp(0.0, 1.04) * length_m / step).round() * step);
        }
        match typed.or_else(|| steps(ui, &response)) {
            Some(ScaleInput::Stops(count)) => asked = Some(self.stepped(0.1 * f64::from(count), 0.1)),
            Some(ScaleInput::Fine(count)) => asked = Some(self.stepped(0.01 * f64::from(count), 0.01)),
            Some(ScaleInput::End(top)) => asked = Some(if top { length_m } else { self.limits_m.0 }),
            Some(ScaleInput::Typed(text)) => asked = length_in(&text, self.units).or(asked),
            Some(ScaleInput::To(_)) | None => {}
        }
        let at = |height_m: f64| height_scale.bottom() - screen(height_m / length_m) * height_scale.height();
        self.engrave(ui, style, height_scale, length_m, &at);
        let chosen = self.name_presets(ui, style, height_scale, area, length_m, &at);
        focus_ring(ui, style, &response, height_scale);
        // The index: a pointer at the staff's right edge.
        let y = at(self.height_m);
        let half = style.px(5.0);
        let tip = Pos2::new(height_scale.right(), y);
        if let Some([down_m, up_m]) = self.tolerance_m {
            let low =
                down_m.map_or(height_scale.bottom(), |down_m| at(self.height_m - down_m)).min(height_scale.bottom());
            let high = up_m.map_or(height_scale.top(), |up_m| at(self.height_m + up_m)).max(height_scale.top());
            let x = height_scale.left() - style.px(4.0);
            ui.painter().vline(x, high..=low, Stroke::new(style.px(1.8), style.ink()));
            for (end, is_open) in [(low, down_m.is_none()), (high, up_m.is_none())] {
                if !is_open {
                    let ends = x - style.px(2.5)..=x + style.px(2.5);
                    ui.painter().hline(ends, end, Stroke::new(style.px(1.4), style.ink()));
                }
            }
        }
        ui.painter().add(egui::Shape::convex_polygon(
            vec![tip, tip + Vec2::new(1.7 * half, -half), tip + Vec2::new(1.7 * half, half)],
            style.ink(),
            Stroke::NONE,
        ));
        tell(ui, &response, name, &value, self.height_m);
        response.on_hover_and_drag_cursor(egui::CursorIcon::ResizeVertical);
        chosen.or(asked).map(|height_m| height_m.clamp(self.limits_m.0, self.limits_m.1))
    }

    fn stepped(&self, by: f64, step: f64) -> f64 {
        ((self.height_m + by) / step).round() * step
    }

    /// The staff's own pattern: blocks of a tenth, the next tenth left open, alternate metres in ink and in grey.
    fn engrave(&self, ui: &Ui, style: &WindowStyle, height_scale: Rect, length_m: f64, at: &dyn Fn(f64) -> f32) {
        let painter = ui.painter();
        painter.rect_filled(height_scale, 2.0, style.well());
        let unit_m = self.units.to_metres(1.0);
        // How many units to a figure, so that figures keep apart.
        let apart = style.px(17.0);
        let points_a_unit = f64::from(height_scale.height()) * unit_m / length_m;
        let figure_step = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0]
            .into_iter()
            .find(|step| step * points_a_unit >= f64::from(apart))
            .unwrap_or(100.0);
        let block_m = 0.1 * figure_step * unit_m;
        let mut index = 0_u32;
        loop {
            let (low, high) = (f64::from(index) * block_m, (f64::from(index) + 0.5) * block_m);
            if high > length_m {
                break;
            }
            let wide = index.is_multiple_of(5);
            let ink = if (index / 10).is_multiple_of(2) { style.ink() } else { style.soft() };
            let right = height_scale.left() + style.px(if wide { 22.0 } else { 13.0 });
            let block = Rect::from_min_max(
                Pos2::new(height_scale.left() + style.px(3.0), at(high).max(height_scale.top())),
                Pos2::new(right, at(low)),
            );
            painter.rect_filled(block, 0.0, ink);
            index += 1;
        }
        let mut figure = 0.0;
        while figure * unit_m <= length_m {
            let galley = painter.layout_no_wrap(self.units.length(figure * unit_m, 0), style.figure(), style.soft());
            let top = (at(figure * unit_m) - 0.5 * galley.size().y)
                .clamp(height_scale.top() - style.px(4.0), height_scale.bottom() + style.px(4.0) - galley.size().y);
            painter.galley(Pos2::new(height_scale.left() - style.px(8.0) - galley.size().x, top), galley, style.soft());
            figure += figure_step;
        }
    }

    /// Named heights beside the staff, moved apart where they are close; a click takes one.
    fn name_presets(
        &self,
        ui: &mut Ui,
        style: &WindowStyle,
        height_scale: Rect,
        area: Rect,
        length_m: f64,
        at: &dyn Fn(f64) -> f32,
    ) -> Option<f64> {
        let line_height = style.px(17.0);
        let mut shown: Vec<(usize, f32)> = self
            .presets
            .iter()
            .enumerate()
            .filter(|(_, preset)| preset.height_m <= length_m)
            .map(|(index, preset)| (index, at(preset.height_m)))
            .collect();
        shown.sort_by(|a, b| a.1.total_cmp(&b.1));
        let rows = spread(
            &shown.iter().map(|(_, y)| *y).collect::<Vec<_>>(),
            line_height,
            area.top(),
            area.bottom() - style.px(20.0),
        );
        let left = height_scale.right() + style.px(14.0);
        let mut taken = None;
        for ((index, mark_y), row_y) in shown.into_iter().zip(rows) {
            let preset = &self.presets[index];
            let chosen = (preset.height_m - self.height_m).abs() < 0.005;
            let row = Rect::from_min_max(
                Pos2::new(left + style.px(16.0), row_y - 0.5 * line_height),
                Pos2::new(area.right(), row_y + 0.5 * line_height),
            );
            let response = ui.interact(row, ui.make_persistent_id(("preset", index)), Sense::click());
            response.widget_info(|| {
                WidgetInfo::selected(
                    WidgetType::SelectableLabel,
                    true,
                    chosen,
                    format!("{}, {}", preset.name, self.units.length(preset.height_m, 2)),
                )
            });
            let ink = if chosen || response.hovered() { style.ink() } else { style.soft() };
            let stroke = Stroke::new(style.px(if chosen { 1.8 } else { 1.0 }), ink);
            let knee = Pos2::new(left + style.px(5.0), row_y);
            ui.painter().line(
                vec![
                    Pos2::new(height_scale.right() + style.px(3.0), mark_y),
                    knee,
                    Pos2::new(left + style.px(12.0), row_y),
                ],
                stroke,
            );
            focus_ring(ui, style, &response, row);
            let font = if chosen { style.strong(12.0) } else { egui::FontId::proportional(style.px(12.0)) };
            let galley = style.fitted(ui, preset.name, font, ink, row.width());
            ui.painter().galley(Pos2::new(row.left() + 1.0, row.center().y - 0.5 * galley.size().y), galley, ink);
            let said = self.units.length(preset.height_m, 2);
            if response.on_hover_text(said).on_hover_cursor(egui::CursorIcon::PointingHand).clicked() {
                taken = Some(preset.height_m);
            }
        }
        taken
    }
}

/// Heights of rows that stay in order, a row apart, inside the area and as near their marks as that allows.
fn spread(marks: &[f32], apart: f32, top: f32, bottom: f32) -> Vec<f32> {
    let (low, high) = (top + 0.5 * apart, bottom - 0.5 * apart);
    let mut rows: Vec<f32> = marks.iter().map(|mark| mark.clamp(low, high.max(low))).collect();
    for index in 1..rows.len() {
        rows[index] = rows[index].max(rows[index - 1] + apart);
    }
    if let Some(last) = rows.last_mut() {
        *last = last.min(high);
    }
    for index in (1..rows.len()).rev() {
        rows[index - 1] = rows[index - 1].min(rows[index] - apart);
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn close_names_move_apart_and_stay_in_order() {
        let rows = spread(&[10.0, 12.0, 13.0, 60.0, 99.0], 10.0, 0.0, 100.0);
        assert!(rows.windows(2).all(|pair| pair[1] - pair[0] >= 9.999), "{rows:?}");
        assert!(rows.iter().all(|row| (5.0..=95.0).contains(row)), "{rows:?}");
        assert_eq!(spread(&[50.0], 10.0, 0.0, 100.0), [50.0]);
    }
}
