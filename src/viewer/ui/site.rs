//! Which site is on the table, and how is another one opened? By dialog, by a typed path, from those opened lately, or one of
//! the demo sites.

use std::path::PathBuf;

use bevy_egui::egui::{self, Key, ScrollArea, Ui};

use super::plan::row_ui;
use super::status::switches_ui;
use super::style::{Look, button, word_button};
use super::table::Table;
use crate::viewer::state::desk::{Action, DeliveryAction, FileAction, PathQuestion, SettingAction};

/// Paths that are being typed.
#[derive(Clone, Debug, Default)]
pub(super) struct Typing {
    path: String,
}

/// What each demo site is about.
const STORIES: [&str; 3] =
    ["a tapering stack, with a stage nearby", "a front on a narrow street", "a square tower on a hillside"];

/// The card behind the site's name.
pub(super) fn site_ui(ui: &mut Ui, table: &Table<'_>, typing: &mut Typing, actions: &mut Vec<Action>) {
    let look = &table.look;
    let window = ui.ctx().content_rect().size();
    ui.set_max_width(look.px(300.0).min(window.x - look.px(32.0)));
    ScrollArea::vertical().id_salt("opening 1").max_height(window.y - look.px(90.0)).show(ui, |ui| {
        ui.spacing_mut().item_spacing.y = look.px(4.0);
        ui.label(look.title("Open a site"));
        if button(ui, look, "Choose a file…", look.px(130.0)).clicked() {
            actions.push(FileAction::OpenDialog.into());
            ui.close();
        }
        path_ui(ui, look, typing, "or type its path", "Open", |path| FileAction::Open(path).into(), actions);
        let recent = &table.desk.settings().recent;
        if !recent.is_empty() {
            ui.add_space(look.px(4.0));
            ui.label(look.note("opened lately"));
            for path in recent.iter().take(6) {
                let name = path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
                let folder = path.parent().map_or_else(String::new, |folder| folder.to_string_lossy().into_owned());
                if row_ui(ui, look, &name, &folder, false).on_hover_text(path.to_string_lossy()).clicked() {
                    actions.push(FileAction::Open(path.clone()).into());
                    ui.close();
                }
            }
        }
        ui.add_space(look.px(4.0));
        ui.label(look.note("demo sites"));
        for (index, scene) in crate::scenes::SCENES.iter().enumerate() {
            let story = STORIES.get(index).copied().unwrap_or_default();
            if row_ui(ui, look, scene.name, story, false).clicked() {
                actions.push(FileAction::OpenScene(index).into());
                ui.close();
            }
        }
        ui.add_space(look.px(6.0));
        ui.label(look.title("The window"));
        switches_ui(ui, table, actions);
        let half = 0.5 * (ui.available_width() - look.px(8.0));
        ui.horizontal(|ui| {
            if button(ui, look, "First-minute guide", half).clicked() {
                // Where the guide has no room, the help says the same.
                actions.extend([SettingAction::Guide(true).into(), SettingAction::Help(true).into()]);
                ui.close();
            }
            if button(ui, look, "Leave", half).on_hover_text("everything is kept").clicked() {
                actions.push(FileAction::Quit.into());
            }
        });
    });
}

/// A field for a path, with a button.
pub(super) fn path_ui(
    ui: &mut Ui,
    look: &Look,
    typing: &mut Typing,
    hint: &str,
    word: &str,
    action: impl FnOnce(PathBuf) -> Action,
    actions: &mut Vec<Action>,
) {
    ui.horizontal(|ui| {
        let width = (ui.available_width() - look.px(84.0)).max(look.px(80.0));
        let response = ui.add(egui::TextEdit::singleline(&mut typing.path).desired_width(width).hint_text(hint));
        ui.ctx().accesskit_node_builder(response.id, |node| node.set_label(hint));
        let entered = response.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
        let pressed = button(ui, look, word, look.px(64.0)).clicked();
        let path = typing.path.trim();
        if (entered || pressed) && !path.is_empty() {
            actions.push(action(PathBuf::from(path)));
            typing.path.clear();
        }
    });
}

/// The question for a typed path, where the desktop has no dialog.
pub(super) fn asking_ui(ui: &mut Ui, table: &Table<'_>, typing: &mut Typing, actions: &mut Vec<Action>) {
    let Some(asking) = table.desk.asking() else { return };
    let look = &table.look;
    let (title, hint, word) = match asking {
        PathQuestion::Site => ("Which site?", "path of a site file", "Open"),
        PathQuestion::Folder => ("Where do captures go?", "path of a folder", "Use it"),
        PathQuestion::Brand => ("Which file tells your name and mark?", "path of a brand file", "Use it"),
    };
    let modal = egui::Modal::new(egui::Id::new("asking")).show(ui.ctx(), |ui| {
        ui.set_width(look.px(380.0).min(ui.ctx().content_rect().width() - look.px(48.0)));
        ui.label(look.title(title));
        ui.label(look.note("This desktop offers no dialog for files; write the path, or drop the file on the window."));
        let answer = move |path| match asking {
            PathQuestion::Site => FileAction::Open(path).into(),
            PathQuestion::Folder => DeliveryAction::Folder(path).into(),
            PathQuestion::Brand => DeliveryAction::Brand(Some(path)).into(),
        };
        path_ui(ui, look, typing, hint, word, answer, actions);
        word_button(ui, look, "never mind", "never mind").clicked()
    });
    if modal.inner || modal.should_close() {
        actions.push(FileAction::StopAsking.into());
    }
}

/// What is wrong with the site's file on disk, in place.
pub(super) fn problems_ui(ui: &mut Ui, table: &Table<'_>) {
    let Some(problems) = table.desk.site_problems() else { return };
    let look = &table.look;
    ui.label(look.title("The site file needs mending").color(look.ask()));
    ui.label(look.note("What is shown is the last good one; it is read again as soon as it is saved."));
    ScrollArea::both().id_salt("opening 2").max_height(look.px(150.0)).auto_shrink([false, true]).show(ui, |ui| {
        let text = egui::RichText::new(problems).font(look.caption()).color(look.ink());
        ui.add(egui::Label::new(text).extend().selectable(true));
    });
}
