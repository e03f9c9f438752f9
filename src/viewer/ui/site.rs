//! Which site is open, and how is another one opened? By dialog, by a typed path, from those opened recently, or one of
//! the demo sites.

use std::path::PathBuf;

use bevy_egui::egui::{self, Key, ScrollArea, Ui};

use crate::site::Problem;

use super::context::PanelContext;
use super::plan::list_row_ui;
use super::style::{WindowStyle, button, text_button};
use super::switches::switches_ui;
use crate::viewer::state::desk::{
    Action, BuildAction, DeliveryAction, FileAction, LightAction, PathQuestion, SettingAction,
};

/// Paths that are being typed.
#[derive(Clone, Debug, Default)]
pub(super) struct TypedPath {
    path: String,
}

/// How much of a line with a fault is shown, in letters.
const FAULT_LETTERS: usize = 90;

/// What each demo site is about.
const STORIES: [&str; 3] =
    ["a tapering stack with a stage nearby", "a façade on a narrow street", "a square tower on a hillside"];

/// The card behind the site's name.
pub(super) fn site_ui(ui: &mut Ui, panel: &PanelContext<'_>, typed: &mut TypedPath, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let window = ui.ctx().content_rect().size();
    ui.set_max_width(style.px(300.0).min(window.x - style.px(32.0)));
    ScrollArea::vertical().id_salt("opening 1").max_height(window.y - style.px(90.0)).show(ui, |ui| {
        ui.spacing_mut().item_spacing.y = style.px(4.0);
        ui.label(style.title("Open a site"));
        if button(ui, style, "Choose file…", style.px(130.0)).clicked() {
            actions.push(FileAction::OpenDialog.into());
            ui.close();
        }
        path_ui(ui, style, typed, "or type its path", "Open", |path| FileAction::Open(path).into(), actions);
        let recent = &panel.desk.settings().recent;
        if !recent.is_empty() {
            ui.add_space(style.px(4.0));
            ui.label(style.note("recent sites"));
            for path in recent.iter().take(6) {
                let name = path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
                let folder = path.parent().map_or_else(String::new, |folder| folder.to_string_lossy().into_owned());
                if list_row_ui(ui, style, &name, &folder, false).on_hover_text(path.to_string_lossy()).clicked() {
                    actions.push(FileAction::Open(path.clone()).into());
                    ui.close();
                }
            }
        }
        ui.add_space(style.px(4.0));
        ui.label(style.note("demo sites"));
        for (index, scene) in crate::scenes::SCENES.iter().enumerate() {
            let story = STORIES.get(index).copied().unwrap_or_default();
            if list_row_ui(ui, style, scene.name, story, false).clicked() {
                actions.push(FileAction::OpenScene(index).into());
                ui.close();
            }
        }
        ui.add_space(style.px(6.0));
        ui.label(style.title("Window"));
        switches_ui(ui, panel, actions);
        let half = 0.5 * (ui.available_width() - style.px(8.0));
        ui.horizontal(|ui| {
            if button(ui, style, "Show guide", half).clicked() {
                // Where the guide has no room, the help says the same.
                actions.extend([SettingAction::Guide(true).into(), SettingAction::Help(true).into()]);
                ui.close();
            }
            if button(ui, style, "Quit", half).on_hover_text("everything is saved").clicked() {
                actions.push(FileAction::Quit.into());
            }
        });
    });
}

/// A field for a path, with a button.
pub(super) fn path_ui(
    ui: &mut Ui,
    style: &WindowStyle,
    typed: &mut TypedPath,
    hint: &str,
    word: &str,
    action: impl FnOnce(PathBuf) -> Action,
    actions: &mut Vec<Action>,
) {
    ui.horizontal(|ui| {
        let width = (ui.available_width() - style.px(84.0)).max(style.px(80.0));
        let response = ui.add(egui::TextEdit::singleline(&mut typed.path).desired_width(width).hint_text(hint));
        ui.ctx().accesskit_node_builder(response.id, |node| node.set_label(hint));
        let entered = response.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
        let pressed = button(ui, style, word, style.px(64.0)).clicked();
        let path = typed.path.trim();
        if (entered || pressed) && !path.is_empty() {
            actions.push(action(PathBuf::from(path)));
            typed.path.clear();
        }
    });
}

/// The question for a typed path, where the desktop has no dialog.
pub(super) fn typed_path_ui(ui: &mut Ui, panel: &PanelContext<'_>, typed: &mut TypedPath, actions: &mut Vec<Action>) {
    let Some(asking) = panel.desk.asking() else { return };
    let style = &panel.style;
    let (title, hint, word) = match asking {
        PathQuestion::Site => ("Which site?", "path of a site file", "Open"),
        PathQuestion::SaveSite => ("Save the site where?", "path of a new site file", "Save"),
        PathQuestion::Folder => ("Folder for captures?", "path of a folder", "Use"),
        PathQuestion::Brand => ("File with your name and logo?", "path of a brand file", "Use"),
        PathQuestion::Tide => ("Which tide table?", "path of a CSV of time,height_m", "Use"),
        PathQuestion::PictureFromAbove => ("Which picture from above?", "path of a PNG, JPEG or TIFF", "Lay"),
        PathQuestion::FootprintsOrHeights => {
            ("Which footprints or heights?", "path of a GeoJSON or ASCII grid", "Bring")
        }
    };
    let modal = egui::Modal::new(egui::Id::new("asking")).show(ui.ctx(), |ui| {
        ui.set_width(style.px(380.0).min(ui.ctx().content_rect().width() - style.px(48.0)));
        ui.label(style.title(title));
        ui.label(style.note("This desktop has no file dialog. Type the path, or drop the file on the window."));
        let answer = move |path| match asking {
            PathQuestion::Site => FileAction::Open(path).into(),
            PathQuestion::SaveSite => BuildAction::SaveAs(path).into(),
            PathQuestion::Folder => DeliveryAction::Folder(path).into(),
            PathQuestion::Brand => DeliveryAction::Brand(Some(path)).into(),
            PathQuestion::Tide => LightAction::Tide(Some(path)).into(),
            PathQuestion::PictureFromAbove => BuildAction::LayPicture(path).into(),
            PathQuestion::FootprintsOrHeights => BuildAction::Bring(path).into(),
        };
        path_ui(ui, style, typed, hint, word, answer, actions);
        text_button(ui, style, "Cancel", "cancel").clicked()
    });
    if modal.inner || modal.should_close() {
        actions.push(FileAction::StopAsking.into());
    }
}

/// What is wrong with the site's file on disk: each fault as a sentence, with its line.
pub(super) fn problems_ui(ui: &mut Ui, panel: &PanelContext<'_>, height: f32) {
    let Some(text) = panel.desk.site_problems() else { return };
    let style = &panel.style;
    ui.spacing_mut().item_spacing.y = style.px(3.0);
    ui.horizontal(|ui| {
        let (sign, _) = ui.allocate_exact_size(egui::Vec2::splat(style.px(18.0)), egui::Sense::hover());
        super::notices::caution_sign(ui.painter(), style, sign.center());
        ui.label(style.title("The site file has an error"));
        ui.label(style.note("You see the last valid version. Save the file again to reload it."));
    });
    let most = (height - style.px(24.0)).max(style.px(30.0));
    ScrollArea::vertical().id_salt("faults").max_height(most).auto_shrink([false, true]).show(ui, |ui| {
        let faults = panel.desk.site_faults().filter(|faults| !faults.is_empty());
        let Some(faults) = faults else {
            ui.label(style.note(text).color(style.ink()));
            return;
        };
        for fault in faults.listed() {
            fault_ui(ui, style, fault);
        }
        if faults.unlisted() > 0 {
            ui.label(style.note(format!("and {} more", faults.unlisted())));
        }
    });
}

fn fault_ui(ui: &mut Ui, style: &WindowStyle, fault: &Problem) {
    let label = |ui: &mut Ui, text: egui::RichText| ui.add(egui::Label::new(text).wrap().selectable(true));
    let place = egui::RichText::new(format!("Line {}", fault.line)).font(style.strong(12.0)).color(style.ink());
    ui.horizontal_top(|ui| {
        ui.spacing_mut().item_spacing.x = style.px(10.0);
        ui.add_sized(egui::Vec2::new(style.px(62.0), style.px(16.0)), egui::Label::new(place));
        ui.vertical(|ui| {
            let mends: Vec<String> = std::iter::once(fault.sentence()).chain(fault.mends()).collect();
            label(ui, style.note(mends.join(" ")).color(style.ink()));
            // The line itself, with the fault in it set off.
            let (line, span) = fault.excerpt(FAULT_LETTERS);
            let mut job = egui::text::LayoutJob::default();
            let format = |color, underline| egui::TextFormat {
                font_id: style.caption(),
                color,
                underline,
                background: style.well(),
                ..Default::default()
            };
            let plain = egui::Stroke::NONE;
            job.append(&line[..span.start], 0.0, format(style.soft(), plain));
            job.append(&line[span.clone()], 0.0, format(style.ask(), egui::Stroke::new(1.5, style.ask())));
            job.append(&line[span.end..], 0.0, format(style.soft(), plain));
            ui.add(egui::Label::new(job).wrap().selectable(true));
        });
    });
}
