//! What leaves the desk? Captures and their records, and where they go.

use bevy_egui::egui::{self, ScrollArea, Ui, Vec2};

use super::figures::{degrees, f_number, heading, millimetres};
use super::lens::lens_words;
use super::look::{button, word_button};
use super::opening::{Typing, path_ui};
use super::table::Table;
use crate::viewer::desk::Action;

/// Taking captures, and the folder for them.
pub(super) fn capture_ui(ui: &mut Ui, table: &Table<'_>, typing: &mut Typing, actions: &mut Vec<Action>) {
    let look = &table.look;
    ui.spacing_mut().item_spacing = Vec2::new(look.px(6.0), look.px(6.0));
    ui.label(look.title("Capture"));
    ui.label(look.note("A still of this stance, ray by ray through the true lens, with its record beside it."));
    let frame = &table.standing().camera.frame;
    let whole = format!("All {:.0} MP", frame.megapixels());
    let half = 0.5 * (ui.available_width() - look.px(6.0));
    ui.horizontal(|ui| {
        if button(ui, look, "As shown", half).on_hover_text("with the finder's pixels: quick").clicked() {
            actions.push(Action::Capture { full: false, folder: None });
        }
        let said = format!("{} × {} pixels: the body's own", frame.width_px, frame.height_px);
        if button(ui, look, &whole, half).on_hover_text(said).clicked() {
            actions.push(Action::Capture { full: true, folder: None });
        }
    });
    ui.add_space(look.px(4.0));
    ui.label(look.title("Folder"));
    match &table.desk.plan().folder {
        Some(folder) => ui.label(look.note(folder.to_string_lossy())),
        None => ui.label(look.note("none chosen yet; it is asked for at the first capture")),
    };
    if button(ui, look, "Choose a folder…", look.px(140.0)).clicked() {
        actions.push(Action::ChooseFolder);
    }
    path_ui(ui, look, typing, "or type its path", "Use it", Action::Folder, actions);
}

/// What is being worked on, with what is done and a way to call it off.
pub(super) fn works_ui(ui: &mut Ui, table: &Table<'_>, actions: &mut Vec<Action>) {
    let look = &table.look;
    for work in table.desk.works() {
        ui.horizontal(|ui| {
            let width = (ui.available_width() - look.px(64.0)).max(look.px(60.0));
            ui.vertical(|ui| {
                ui.set_max_width(width);
                ui.label(look.note(&work.title).color(look.ink()));
                if work.share.is_some() {
                    super::seek::bar_ui(ui, look, work.share);
                }
            });
            if word_button(ui, look, "call off", &format!("call off: {}", work.title)).clicked() {
                actions.push(Action::CancelWork(work.id));
            }
        });
    }
}

/// What the record of this stance says, in plain words.
pub(super) fn record_ui(ui: &mut Ui, table: &Table<'_>) {
    let look = &table.look;
    let standing = table.standing();
    let units = table.units();
    let (pose, camera) = (&standing.pose, &standing.camera);
    ui.label(look.title("What the record says"));
    let feet = standing.height_m().map_or_else(
        || format!("eye at {}", units.length(pose.eye.z, 2)),
        |height_m| format!("{} above the feet", units.length(height_m, 2)),
    );
    let mut rows = vec![
        ("stance", table.desk.stance().name.clone()),
        ("east, north", format!("{}, {}", units.length(pose.eye.x, 2), units.length(pose.eye.y, 2))),
        ("camera", feet),
        ("heading", format!("{} true", heading(pose.attitude.heading))),
        ("pitch, roll", format!("{}, {}", degrees(pose.attitude.pitch), degrees(pose.attitude.roll))),
        (
            "body",
            format!(
                "{}, {} × {} px",
                standing.format.name.replace('x', " × "),
                camera.frame.width_px,
                camera.frame.height_px
            ),
        ),
        ("lens", lens_words(&standing.lens)),
        ("set to", format!("{}, {}", millimetres(camera.focal_mm), f_number(standing.f_number))),
        ("focus", if standing.focus_m.is_finite() { units.length(standing.focus_m, 1) } else { "infinity".into() }),
    ];
    if camera.rise_mm != 0.0 || camera.lateral_shift_mm != 0.0 {
        rows.push(("rise, shift", format!("{:.2} mm, {:.2} mm", camera.rise_mm, camera.lateral_shift_mm)));
    }
    if let Some(sun) = table.sun() {
        rows.push(("sun", format!("at {:.0}°, {:.0}° up", sun.azimuth_deg, sun.altitude_deg)));
    }
    ScrollArea::vertical().id_salt("handover 1").auto_shrink([false, false]).show(ui, |ui| {
        let term = look.px(78.0).min(0.4 * ui.available_width());
        for (what, value) in rows {
            ui.horizontal_top(|ui| {
                let (place, _) = ui.allocate_exact_size(Vec2::new(term, look.px(18.0)), egui::Sense::hover());
                let galley = look.fitted(ui, what, look.caption(), look.soft(), term);
                ui.painter().galley(place.min + Vec2::new(0.0, look.px(2.0)), galley, look.soft());
                ui.add(egui::Label::new(look.plain(value)).wrap());
            });
        }
        ui.add_space(look.px(8.0));
        super::slack::slack_ui(ui, table);
    });
}
