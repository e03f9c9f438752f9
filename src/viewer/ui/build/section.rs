//! What does it look like from the side? The section along the sight line, with a scale on which the chosen height is pulled.

use bevy_egui::egui::{Pos2, Rect, Ui};

use crate::site::{Model, height_dimension};
use crate::taller::at_height;
use crate::viewer::state::desk::{Action, BuildAction, SiteChange};

use super::super::context::PanelContext;
use super::super::height_scale::HeightScale;
use super::super::plan::{Drawings, section_ui as section_drawing_ui};
use super::super::style::within;
use super::arrange::chosen_blocks;
use super::state::BuildState;

/// The block at another height, with what it carries moved along; `None` where no such height may be.
pub(super) fn at_another_height(model: &Model, index: usize, height_m: f64) -> Option<SiteChange> {
    let (_, size) = height_dimension(&model.site.blocks.get(index)?.shape)?;
    Some(SiteChange::SetBlocks(at_height(model, index, height_m.clamp(size.least, size.most))))
}

/// The section and its scale.
pub(super) fn section_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    state: &mut BuildState,
    drawings: &mut Drawings,
    rect: Rect,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let site = &panel.desk.survey().model.site;
    let subject = panel.desk.survey().subject.as_ref().ok().map(|subject| subject.body);
    let chosen = chosen_blocks(panel.desk.chosen()).first().copied().or(subject);
    let pulled = chosen.and_then(|index| Some((index, site.blocks.get(index)?)));
    let pulled = pulled.and_then(|(index, block)| Some((index, block, height_dimension(&block.shape)?.1)));
    let scale_width = if pulled.is_some() { style.px(112.0) } else { 0.0 };
    let drawing = Rect::from_min_max(rect.min, Pos2::new(rect.right() - scale_width, rect.bottom()));
    section_drawing_ui(ui, panel, drawings, drawing);
    let Some((index, block, size)) = pulled else { return };
    let place = Rect::from_min_max(Pos2::new(drawing.right() + style.px(6.0), rect.top()), rect.max);
    within(ui, "pull a height", place, |ui| {
        let name = format!("height of {}", block.name);
        let scale = HeightScale {
            name: [&name, size.label],
            height_m: size.value,
            limits_m: (size.least, size.most),
            units: panel.units(),
            presets: &[],
            tolerance_m: None,
        };
        let asked = scale.ui(ui, style, (rect.height() - style.px(28.0)).max(style.px(60.0)));
        let dragging = ui.input(|input| input.pointer.primary_down());
        // What is carried is moved from where it was before the hand began.
        let before = &panel.desk.survey_before_trial().model;
        if let Some(change) = asked.and_then(|height_m| at_another_height(before, index, height_m)) {
            if dragging {
                state.pulling = Some(change.clone());
                actions.push(BuildAction::Try(change).into());
            } else {
                state.pulling = None;
                actions.push(BuildAction::Change(change, None).into());
            }
        } else if !dragging && let Some(change) = state.pulling.take() {
            actions.push(BuildAction::Change(change, None).into());
        }
    });
}
