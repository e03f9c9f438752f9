//! Do the trees stand in leaf?

use bevy_egui::egui::Ui;

use crate::light::bare_season;
use crate::place::Day;
use crate::site::{Block, is_bare, with_leaves};
use crate::viewer::state::desk::{Action, BuildAction, SiteChange};

use super::context::PanelContext;
use super::style::{button_width, choice};

/// All trees at once: in leaf, or bare; with a word where they are shown otherwise than most trees are on a day.
pub(super) fn trees_ui(ui: &mut Ui, panel: &PanelContext<'_>, on: Option<Day>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let site = &panel.desk.survey().model.site;
    let trees =
        || site.blocks.iter().enumerate().filter_map(|(index, block)| Some((index, block, is_bare(&block.shape)?)));
    if trees().next().is_none() {
        return;
    }
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = style.px(4.0);
        ui.label(style.note("trees"));
        for (words, name, bare) in [("In leaf", "trees in leaf", false), ("Bare", "bare trees", true)] {
            let width = button_width(ui, style, words);
            let all = trees().all(|(_, _, is_bare)| is_bare == bare);
            if choice(ui, style, words, name, all, width).clicked() && !all {
                let turned = trees().filter(|(_, _, is_bare)| *is_bare != bare).map(|(index, block, _)| {
                    (index, Block { shape: with_leaves(&block.shape, !bare), ..block.clone() })
                });
                actions.push(BuildAction::Change(SiteChange::SetBlocks(turned.collect()), None).into());
            }
        }
        let season = site.anchor.as_ref().zip(on).and_then(|(anchor, day)| bare_season(anchor.latitude_deg, day));
        if let Some(bare) = season.filter(|bare| trees().any(|(_, _, is_bare)| is_bare != *bare)) {
            let words = if bare { "most broadleaved trees are bare then" } else { "trees are in leaf then" };
            ui.label(style.note(words).color(style.ask()));
        }
    });
}
