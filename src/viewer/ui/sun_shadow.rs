//! Where does the subject's shadow fall at the moment that is shown? Its outline on the plan.

use bevy_egui::egui::{self, Pos2, Shape, Stroke};

use crate::light::cast_shadow;

use super::context::PanelContext;
use super::search_map::PlanPlacement;

/// The subject's shadow on the level of its base, where a moment of a day is shown.
pub(super) fn draw_shadow(painter: &egui::Painter, panel: &PanelContext<'_>, place: &PlanPlacement) {
    let light = panel.desk.light();
    let (Ok(sky), Some(moment)) = (light.sky, light.moment) else { return };
    let survey = panel.desk.survey();
    let Ok(subject) = &survey.subject else { return };
    let Some(shadow) = cast_shadow(&survey.model, subject, &sky.sun(moment)) else { return };
    let style = &panel.style;
    for outline in &shadow.outlines {
        let ring: Vec<Pos2> = outline.iter().map(|corner| place.place(*corner)).collect();
        painter.add(Shape::convex_polygon(ring.clone(), style.ink().gamma_multiply(0.12), Stroke::NONE));
        let mut closed = ring;
        closed.extend(closed.first().copied());
        painter.extend(Shape::dashed_line(&closed, Stroke::new(1.0, style.soft()), 4.0, 3.0));
    }
}
