//! How is a requirement drawn? Its heading, words to choose among, and what it excludes.

use bevy_egui::egui::{self, Ui, Vec2};

use super::style::{WindowStyle, choice};
use crate::search::Requirement;
use crate::viewer::state::desk::SearchView;
use crate::wording::percent_of;

/// The share of the places that a requirement alone excludes, where that was counted for the requirements as they are.
pub(super) fn excluded_words(view: &SearchView<'_>, requirement: Requirement) -> Option<String> {
    let answer = view.answer.filter(|answer| view.outdated.is_none() && answer.looked > 0)?;
    let outcome = answer.criteria.iter().find(|outcome| outcome.requirement == requirement)?;
    let out = answer.looked.saturating_sub(outcome.met_alone);
    Some(format!("excludes {} of the standpoints", percent_of(out, answer.looked)))
}

pub(super) fn heading(ui: &mut Ui, style: &WindowStyle, words: &str) {
    ui.add_space(style.px(7.0));
    ui.label(style.title(words));
}

/// Words that are pressed or not, in as many rows as they need; what is toggled is told, and whether it was by the second
/// button.
pub(super) fn chips<T: Copy>(
    ui: &mut Ui,
    style: &WindowStyle,
    all: impl Iterator<Item = (String, String, bool, T)>,
    toggle: &mut dyn FnMut(T, bool),
) {
    let width = ui.available_width();
    ui.allocate_ui_with_layout(
        Vec2::new(width, style.px(24.0)),
        egui::Layout::left_to_right(egui::Align::Center).with_main_wrap(true),
        |ui| {
            ui.spacing_mut().item_spacing = Vec2::new(style.px(4.0), style.px(4.0));
            for (word, name, chosen, of) in all {
                // As wide as the word in its heavier weight, so that pressing it moves nothing.
                let galley = ui.painter().layout_no_wrap(word.clone(), style.strong(12.5), style.ink());
                let wide = (galley.size().x + style.px(14.0)).min(width);
                let response = choice(ui, style, &word, &name, chosen, wide);
                if response.clicked() || response.secondary_clicked() {
                    toggle(of, response.secondary_clicked());
                }
            }
        },
    );
}
