//! What is there of the site as a whole? Its name, the level of its water, the slope of its ground, its saved stances.

use bevy_egui::egui::{DragValue, Ui, WidgetInfo, WidgetType};

use crate::light::Zone;
use crate::site::{Anchor, Site, Stance, Terrain, free_name, slope};
use crate::viewer::state::desk::{Action, BuildAction, Picked, SiteChange};

use super::super::context::PanelContext;
use super::super::figures::{length_in, number_in};
use super::super::status::menu;
use super::super::style::{button, button_width, text_button};
use super::super::trees::trees_ui;
use super::contours::contours_ui;
use super::fields::Field;
use super::inputs::SlopeInput;
use super::state::BuildState;

/// How far the ground is sloped beyond everything that stands on it.
const AROUND_M: f64 = 100.0;

/// What the sheet says while nothing is chosen.
pub(super) fn whole_site_ui(ui: &mut Ui, panel: &PanelContext<'_>, state: &mut BuildState, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let site = &panel.desk.filed_survey().model.site;
    // What is half done stands where it is seen.
    contours_ui(ui, panel, state, actions);
    let mut change = |change: SiteChange| actions.push(BuildAction::Change(change, None).into());
    let width = ui.available_width();
    let field = Field { name: "name of the site", shown: &site.name, font: style.strong(15.0) };
    if let Some(name) = field.ui(ui, style, &mut state.typing, width) {
        change(SiteChange::SetName(name.trim().to_owned()));
    }
    ui.label(
        style.note("Press on a block, a ground or a stance to see its sizes. Drag it to move it; Alt moves it freely."),
    );
    ui.horizontal(|ui| {
        ui.label(style.note("water level"));
        let shown = site.water_level_m.map_or_else(|| "none".to_owned(), |level_m| panel.units().length(level_m, 2));
        let room = ui.available_width();
        let typed = Field { name: "water level", shown: &shown, font: style.strong(13.0) }.ui(
            ui,
            style,
            &mut state.typing,
            room,
        );
        if let Some(typed) = typed {
            change(SiteChange::SetWater(length_in(&typed, panel.units())));
        }
    });
    ui.horizontal(|ui| {
        ui.label(style.note("ground"));
        let words = match &site.terrain {
            Terrain::Plane { height_m } => format!("level, at {}", panel.units().length(*height_m, 2)),
            Terrain::Grid(grid) => format!("{} by {} posts", grid.columns(), grid.rows.len()),
        };
        ui.label(style.plain(words));
        let response = text_button(ui, style, "Slope by three heights", "slope the ground by three heights");
        menu(&response, |ui| {
            if let Some(terrain) = slope_ui(ui, panel, &mut state.slope, site) {
                change(SiteChange::SetTerrain(terrain));
            }
        });
    });
    let words = "Footprints or heights from a file";
    let width = button_width(ui, style, words).min(ui.available_width());
    if button(ui, style, words, width).on_hover_text("GeoJSON, or an Esri ASCII grid").clicked() {
        actions.push(BuildAction::AskFiles.into());
    }
    place_ui(ui, panel, state, actions);
    trees_ui(ui, panel, None, actions);
    save_stance_ui(ui, panel, actions);
}

/// Where on the Earth the site's origin lies, and by which zone its clocks go: then the sun follows date and hour.
fn place_ui(ui: &mut Ui, panel: &PanelContext<'_>, state: &mut BuildState, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let site = &panel.desk.filed_survey().model.site;
    let anchor = site.anchor.as_ref();
    let mut change = |anchor: Option<Anchor>, zone: Option<String>| {
        actions.push(BuildAction::Change(SiteChange::SetPlace(anchor, zone), None).into());
    };
    ui.horizontal(|ui| {
        ui.label(style.note("latitude, longitude")).on_hover_text("of the site's origin, in degrees (WGS 84)");
        let shown = anchor.map_or_else(
            || "not known".to_owned(),
            |anchor| format!("{:.6}, {:.6}", anchor.latitude_deg, anchor.longitude_deg),
        );
        let field = Field { name: "latitude and longitude", shown: &shown, font: style.strong(13.0) };
        let room = ui.available_width();
        if let Some(typed) = field.ui(ui, style, &mut state.typing, room) {
            let both = typed.split_once(',').and_then(|(north, east)| Some((number_in(north)?, number_in(east)?)));
            if let Some((latitude_deg, longitude_deg)) = both {
                let before = anchor.cloned();
                let height_m = before.as_ref().map_or(0.0, |anchor| anchor.height_m);
                let vertical_datum = before.and_then(|anchor| anchor.vertical_datum);
                let anchor = Anchor { latitude_deg, longitude_deg, height_m, vertical_datum };
                change(Some(anchor), site.time_zone.clone());
            } else if typed.trim().is_empty() {
                change(None, site.time_zone.clone());
            }
        }
    });
    ui.horizontal(|ui| {
        ui.label(style.note("time zone")).on_hover_text("by its name in the IANA database, such as Europe/Vienna");
        let shown = site.time_zone.as_deref().unwrap_or("universal time");
        let field = Field { name: "time zone", shown, font: style.strong(13.0) };
        let room = ui.available_width();
        if let Some(typed) = field.ui(ui, style, &mut state.typing, room) {
            let zone = Some(typed.trim().to_owned()).filter(|zone| !zone.is_empty());
            let fault = zone.as_deref().and_then(|zone| Zone::named(zone).err());
            state.zone_fault = fault.map(|fault| fault.to_string());
            if state.zone_fault.is_none() {
                change(site.anchor.clone(), zone);
            }
        }
    });
    if let Some(fault) = &state.zone_fault {
        ui.label(style.note(fault));
    }
}

fn save_stance_ui(ui: &mut Ui, panel: &PanelContext<'_>, actions: &mut Vec<Action>) {
    let style = &panel.style;
    let stance = panel.desk.stance();
    let words = "Save this stance in the site";
    let width = button_width(ui, style, words).min(ui.available_width());
    if button(ui, style, words, width).clicked() {
        let stances = &panel.desk.survey().model.site.stances;
        let name = free_name(&stance.name, |name| stances.iter().any(|other| other.name == name));
        let number = stances.len();
        let change = SiteChange::AddStance(Box::new(Stance { name, ..stance.clone() }));
        actions.push(BuildAction::Change(change, Some(vec![Picked::Stance(number)])).into());
    }
}

/// Three places and their heights; the ground through them once it is agreed to.
fn slope_ui(ui: &mut Ui, panel: &PanelContext<'_>, input: &mut SlopeInput, site: &Site) -> Option<Terrain> {
    let style = &panel.style;
    let units = panel.units();
    ui.set_width(style.px(330.0));
    ui.label(style.title("Slope by three heights"));
    ui.label(style.note("three places that are not in line, each with the height of its ground"));
    for (number, (at, height_m)) in input.places.iter_mut().enumerate() {
        ui.horizontal(|ui| {
            for (words, value) in [("east", &mut at.0), ("north", &mut at.1), ("height", height_m)] {
                let mut shown = units.from_metres(*value);
                let unit = format!(" {}", units.name());
                let response = ui.add(DragValue::new(&mut shown).speed(0.1).max_decimals(2).suffix(unit));
                let name = format!("place {}, {words}", number + 1);
                response.widget_info(|| WidgetInfo::labeled(WidgetType::DragValue, true, name.clone()));
                if response.changed() {
                    *value = units.to_metres(shown);
                }
                ui.label(style.note(words));
            }
        });
    }
    let places = site.blocks.iter().map(|block| block.at).chain(site.stances.iter().map(|stance| stance.at));
    let places = places.chain(input.places.iter().map(|(at, _)| *at));
    let terrain = slope(&input.places, places, AROUND_M);
    if terrain.is_none() {
        ui.label(style.plain("The three places lie in line; move one of them."));
    }
    let width = ui.available_width();
    let pressed =
        ui.add_enabled_ui(terrain.is_some(), |ui| button(ui, style, "Slope the ground so", width).clicked()).inner;
    if pressed {
        ui.close();
    }
    terrain.filter(|_| pressed)
}
