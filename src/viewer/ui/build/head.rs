//! Is the site saved, and what lies on it? The file's name with how it stands, the list of things, the grid.

use bevy_egui::egui::{ScrollArea, Ui};

use crate::faults::FaultKind;
use crate::viewer::state::desk::{Action, BuildAction, FileAction, Picked, SiteSaving};

use super::super::context::PanelContext;
use super::super::plan::list_row_ui;
use super::super::status::menu;
use super::super::style::{button, button_width, menu_button, text_button};
use super::answers::NewSiteAnswers;
use super::state::BuildState;

/// The distances between lines of the grid that are offered, in metres.
const GRIDS_M: [f64; 5] = [0.0, 0.05, 0.25, 0.5, 1.0];

/// The line over the sheet.
pub(super) fn head_ui(ui: &mut Ui, panel: &PanelContext<'_>, state: &mut BuildState, actions: &mut Vec<Action>) {
    let style = &panel.style;
    ui.horizontal_centered(|ui| {
        ui.spacing_mut().item_spacing.x = style.px(8.0);
        let things = menu_button(ui, style, "Things", "things on the site", None);
        menu(&things, |ui| things_ui(ui, panel, actions));
        let grid = if state.grid_m > 0.0 {
            format!("Grid {}", panel.units().length(state.grid_m, 2))
        } else {
            "No grid".to_owned()
        };
        let response = menu_button(ui, style, &grid, "grid", None);
        menu(&response, |ui| {
            for grid_m in GRIDS_M {
                let words = if grid_m > 0.0 { panel.units().length(grid_m, 2) } else { "none".into() };
                if ui.selectable_label((grid_m - state.grid_m).abs() < 1e-9, words).clicked() {
                    state.grid_m = grid_m;
                    ui.close();
                }
            }
        });
        let new = button_width(ui, style, "New site");
        if button(ui, style, "New site", new).on_hover_text("four questions make a site of your own").clicked() {
            state.new_site = Some(NewSiteAnswers::begin());
        }
        faults_menu(ui, panel, state, actions);
        saving_ui(ui, panel, actions);
    });
}

/// What is probably not as meant, each with the way to it and its mend.
fn faults_menu(ui: &mut Ui, panel: &PanelContext<'_>, state: &mut BuildState, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let faults = panel.desk.site_suspects();
    if faults.is_empty() {
        return;
    }
    // That no front is named is no fault: one is guessed.
    let count = faults.iter().filter(|fault| !matches!(fault.kind, FaultKind::NoFront { .. })).count();
    let words = match count {
        0 => "1 hint".to_owned(),
        1 => "Show 1 fault".to_owned(),
        several => format!("Show {several} faults"),
    };
    let response = menu_button(ui, style, &words, "faults of the site", None);
    let site = &panel.desk.survey().model.site;
    menu(&response, |ui| {
        ui.set_width(style.px(340.0));
        let most = 0.6 * ui.ctx().content_rect().height();
        ScrollArea::vertical().id_salt("faults of the site").max_height(most).show(ui, |ui| {
            for (number, fault) in faults.iter().enumerate() {
                ui.label(style.plain(fault.words(site, panel.units())));
                ui.horizontal(|ui| {
                    if let Some(at) = fault.at
                        && text_button(ui, style, "Show me", &format!("show fault {}", number + 1)).clicked()
                    {
                        state.show_at = Some(at);
                        let chosen = fault.blocks.first().map(|block| Picked::Block(*block)).into_iter().collect();
                        actions.push(BuildAction::Choose(chosen).into());
                        ui.close();
                    }
                    if let Some(mend) = &fault.mend {
                        let width = button_width(ui, style, mend.label);
                        if button(ui, style, mend.label, width).clicked() {
                            actions.push(BuildAction::Mend(number).into());
                            ui.close();
                        }
                    }
                });
                ui.add_space(style.px(6.0));
            }
        });
    });
}

fn saving_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    match panel.desk.site_saving() {
        SiteSaving::Saved => {
            ui.label(style.note("all changes are saved"));
        }
        SiteSaving::Saving => {
            ui.label(style.note("saving…"));
        }
        SiteSaving::Failed(why) => {
            ui.label(style.note("not saved").color(style.ask())).on_hover_text(why);
            if text_button(ui, style, "Save elsewhere", "save the site elsewhere").clicked() {
                actions.push(FileAction::SaveSiteDialog.into());
            }
        }
        SiteSaving::Demo => {
            ui.label(style.note("a demo: changes are not kept"));
            if text_button(ui, style, "Save as your own", "save the site as your own").clicked() {
                actions.push(FileAction::SaveSiteDialog.into());
            }
        }
        SiteSaving::Conflict(why) => {
            ui.label(style.note("changed outside, too").color(style.ask())).on_hover_text(why);
            if text_button(ui, style, "Keep what is here", "keep what the window shows").clicked() {
                actions.push(BuildAction::Resolve { keep_mine: true }.into());
            }
            if text_button(ui, style, "Take the file", "take the file as it lies on disk").clicked() {
                actions.push(BuildAction::Resolve { keep_mine: false }.into());
            }
        }
    }
}

/// Everything on the site by name: to be chosen from the keyboard, too.
fn things_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let site = &panel.desk.survey().model.site;
    ui.set_width(style.px(280.0));
    ui.spacing_mut().item_spacing.y = style.px(2.0);
    let most = 0.6 * ui.ctx().content_rect().height();
    ScrollArea::vertical().id_salt("things").max_height(most).show(ui, |ui| {
        let blocks = site.blocks.iter().enumerate().map(|(index, block)| {
            let note = if block.subject { "subject" } else { crate::site::form_words(&block.shape) };
            (Picked::Block(index), block.name.as_str(), note)
        });
        let grounds = site
            .grounds
            .iter()
            .enumerate()
            .map(|(index, ground)| (Picked::Ground(index), ground.name.as_str(), ground.access.words()));
        let stances = site
            .stances
            .iter()
            .enumerate()
            .map(|(index, stance)| (Picked::Stance(index), stance.name.as_str(), "stance"));
        for (picked, name, note) in blocks.chain(grounds).chain(stances) {
            let chosen = panel.desk.chosen().contains(&picked);
            if list_row_ui(ui, style, name, note, chosen).clicked() {
                let several = ui.input(|input| input.modifiers.command);
                let mut now = if several { panel.desk.chosen().to_vec() } else { Vec::new() };
                now.push(picked);
                actions.push(BuildAction::Choose(now).into());
                if !several {
                    ui.close();
                }
            }
        }
        if site.blocks.is_empty() && site.grounds.is_empty() && site.stances.is_empty() {
            ui.label(style.note("Nothing stands here yet. Pick a shape up and set it on the plan."));
        }
    });
}
