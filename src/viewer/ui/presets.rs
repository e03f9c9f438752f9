//! Which camera heights have a name? They can be renamed, changed, added and taken off.

use bevy_egui::egui::{self, Key, Ui};

use super::context::PanelContext;
use super::figures::length_in;
use super::style::{button, text_button};
use crate::viewer::state::desk::{Action, SettingAction};

/// The list of heights while it is being changed.
#[derive(Clone, Debug, Default)]
pub(super) struct HeightsEditing {
    /// Names and heights as they are typed, one for each preset and an empty one to add.
    rows: Vec<(String, String)>,
}

/// The word that opens the list, and the list.
pub(super) fn edit_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    editing: &mut Option<HeightsEditing>,
    actions: &mut Vec<Action>,
) {
    let style = &panel.style;
    let presets = &panel.desk.settings().presets;
    let units = panel.units();
    if let Some(state) = editing {
        let mut done = false;
        if state.rows.len() != presets.len() + 1 {
            state.rows = presets
                .iter()
                .map(|preset| (preset.name.clone(), units.length(preset.height_m, 2)))
                .chain([(String::new(), units.length(panel.height_m(), 2))])
                .collect();
        }
        ui.label(style.title("Named heights"));
        for (index, (name, height)) in state.rows.iter_mut().enumerate() {
            let row = PresetRow { index, is_new: index == presets.len(), name, height };
            preset_ui(ui, panel, row, actions);
        }
        ui.horizontal(|ui| {
            done = button(ui, style, "Done", style.px(70.0)).clicked();
        });
        if done || ui.input(|input| input.key_pressed(Key::Escape)) {
            *editing = None;
        }
    }
}

/// A named height while it is edited.
struct PresetRow<'a> {
    /// Its number in the list, from 0.
    index: usize,
    /// Whether it is the empty row for another height.
    is_new: bool,
    name: &'a mut String,
    /// The height as it is typed.
    height: &'a mut String,
}

fn preset_ui(ui: &mut Ui, panel: &PanelContext<'_>, row: PresetRow<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let PresetRow { index, is_new: new, name, height } = row;
    ui.horizontal(|ui| {
        let width = ui.available_width();
        let named = ui.add(egui::TextEdit::singleline(name).desired_width(0.44 * width).hint_text("a name"));
        named.widget_info(|| egui::WidgetInfo::text_edit(true, name.as_str(), name.as_str(), "a name"));
        ui.ctx().accesskit_node_builder(named.id, |node| {
            node.set_label(if new { "name of a new height".into() } else { format!("name of height {}", index + 1) });
        });
        let typed = ui.add(egui::TextEdit::singleline(height).desired_width(0.26 * width));
        ui.ctx().accesskit_node_builder(typed.id, |node| {
            node.set_label(if new { "the new height".into() } else { format!("height {}", index + 1) });
        });
        let settled = !new && (named.lost_focus() || typed.lost_focus());
        let (word, said) =
            if new { ("Add", "add this height".to_owned()) } else { ("Remove", format!("remove {name}")) };
        let pressed = text_button(ui, style, word, &said).clicked();
        if !new && pressed {
            actions.push(SettingAction::RemovePreset(index).into());
        } else if settled
            || (new && (pressed || (named.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter)))))
        {
            let height_m = length_in(height, panel.units()).filter(|height_m| *height_m > 0.0);
            if let (Some(height_m), false) = (height_m, name.trim().is_empty()) {
                actions.push(SettingAction::Preset { index, name: name.trim().to_owned(), height_m }.into());
            }
        }
    });
}
