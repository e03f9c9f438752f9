//! Which heights have the contours that are drawn? Typed beside each line; then the ground is shaped by them.

use bevy_egui::egui::{Align2, DragValue, Shape, Stroke, Ui, Vec2, WidgetInfo, WidgetType};

use crate::site::ground_of_contours;
use crate::viewer::state::desk::{Action, BuildAction, SiteChange};

use super::super::context::PanelContext;
use super::super::style::{button, button_width, text_button};
use super::hands::{DrawnLine, Held};
use super::paper::Paper;
use super::state::BuildState;

/// The contours that are drawn, with their heights, until the ground is shaped by them.
pub(super) fn contours_ui(ui: &mut Ui, panel: &PanelContext<'_>, state: &mut BuildState, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let units = panel.units();
    if state.contours.is_empty() {
        return;
    }
    ui.label(style.title("Contours"));
    let mut gone = None;
    for (number, contour) in state.contours.iter_mut().enumerate() {
        ui.horizontal(|ui| {
            let kind = if contour.points.len() == 1 { "spot" } else { "line" };
            ui.label(style.note(format!("{} ({kind})", number + 1)));
            let mut shown = units.from_metres(contour.height_m);
            let unit = format!(" {}", units.name());
            let response = ui.add(DragValue::new(&mut shown).speed(0.1).max_decimals(2).suffix(unit));
            let name = format!("height of contour {}", number + 1);
            response.widget_info(|| WidgetInfo::labeled(WidgetType::DragValue, true, name.clone()));
            if response.changed() {
                contour.height_m = units.to_metres(shown);
            }
            if text_button(ui, style, "remove", &format!("remove contour {}", number + 1)).clicked() {
                gone = Some(number);
            }
        });
    }
    if let Some(number) = gone {
        state.contours.remove(number);
    }
    let ground = ground_of_contours(&state.contours);
    if let Err(error) = &ground {
        ui.label(style.note(error.to_string()));
    }
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = style.px(4.0);
        let words = "Shape the ground so";
        let width = button_width(ui, style, words);
        let pressed = ui.add_enabled_ui(ground.is_ok(), |ui| button(ui, style, words, width).clicked()).inner;
        if let (Ok(terrain), true) = (ground, pressed) {
            actions.push(BuildAction::Change(SiteChange::SetTerrain(terrain), None).into());
            state.contours.clear();
            state.held = Held::Nothing;
        }
        if text_button(ui, style, "Draw another", "draw another contour").clicked() {
            state.held = Held::Line(DrawnLine::Contour);
        }
    });
}

impl Paper<'_> {
    /// The contours that are drawn, each with its height.
    pub(super) fn contours(&self, state: &BuildState) {
        let style = self.style;
        for contour in &state.contours {
            let points = self.ring(&contour.points);
            let Some(first) = points.first().copied() else { continue };
            if let [only] = points[..] {
                self.painter.circle_filled(only, style.px(3.0), style.ink());
            }
            self.painter.add(Shape::line(points, Stroke::new(style.px(1.6), style.soft())));
            let words = self.units.length(contour.height_m, 2);
            self.label(first + Vec2::new(style.px(6.0), 0.0), &words, Align2::LEFT_CENTER, false);
        }
    }
}
