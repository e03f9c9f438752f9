//! What is handed over? Captures and their records, and where they go.

use bevy_egui::egui::{self, ScrollArea, Ui, Vec2};

use super::figures::{degrees, f_number, heading, millimetres};
use super::lens::lens_words;
use super::site::{Typing, path_ui};
use super::slider::{Any, Slide, plain_number};
use super::style::{Look, button, choice, word_button};
use super::table::Table;
use crate::handover::deliver::{CardForm, ComparisonForm, DeliveryForm, DeliveryKind, IfExists};
use crate::handover::places::PlacesForm;
use crate::handover::sequence::MOST_FRAMES;
use crate::place::Day;
use crate::viewer::state::desk::{Action, DeliveryAction, DeliveryOptions, DeliveryView, WorkAction};

/// What is typed on this card.
#[derive(Clone, Debug, Default)]
pub(super) struct DeliveryInput {
    /// The day, while it is no day yet.
    day: Option<String>,
}

/// What is handed over, how, and where to.
pub(super) fn delivery_ui(
    ui: &mut Ui,
    table: &Table<'_>,
    view: &DeliveryView<'_>,
    (typing, input): (&mut Typing, &mut DeliveryInput),
    actions: &mut Vec<Action>,
) {
    let look = &table.look;
    ui.spacing_mut().item_spacing = Vec2::new(look.px(6.0), look.px(5.0));
    ui.label(look.title("Hand over"));
    let half = 0.5 * (ui.available_width() - look.px(6.0));
    for kinds in DeliveryKind::ALL.chunks(2) {
        ui.horizontal(|ui| {
            for &kind in kinds {
                let word = kind.words();
                if choice(ui, look, word, &format!("hand over: {word}"), view.kind == kind, half).clicked() {
                    actions.push(DeliveryAction::ShowPage(kind).into());
                }
            }
        });
    }
    ui.add_space(look.px(4.0));
    let mut options = view.options.clone();
    match view.kind {
        DeliveryKind::Still => still_ui(ui, table, actions),
        DeliveryKind::Card => card_ui(ui, table, &mut options, input, actions),
        DeliveryKind::Sheet => sheet_ui(ui, table, &mut options, input, actions),
        DeliveryKind::Places => places_ui(ui, table, &mut options, actions),
        DeliveryKind::Sequence => sequence_ui(ui, table, view, &mut options, actions),
        DeliveryKind::Comparison => comparison_ui(ui, table, &mut options, actions),
    }
    if options != *view.options {
        actions.push(DeliveryAction::SetOptions(Box::new(options)).into());
    }
    ui.add_space(look.px(4.0));
    ui.label(look.title("Folder"));
    match &table.desk.folder() {
        Some(folder) => ui.add(egui::Label::new(look.note(folder.to_string_lossy())).wrap()),
        None => ui.label(look.note("none chosen yet; you will be asked")),
    };
    if button(ui, look, "Choose a folder…", look.px(140.0)).clicked() {
        actions.push(DeliveryAction::ChooseFolder.into());
    }
    path_ui(ui, look, typing, "or type its path", "Use it", |path| DeliveryAction::Folder(path).into(), actions);
    ui.add_space(look.px(4.0));
    works_ui(ui, table, actions);
    if !view.written.is_empty() {
        ui.label(look.title("Written"));
        for path in view.written.iter().rev().take(8) {
            let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned();
            ui.add(egui::Label::new(look.note(name).color(look.ink())).wrap()).on_hover_text(path.to_string_lossy());
        }
    }
}

/// A still of this stance.
fn still_ui(ui: &mut Ui, table: &Table<'_>, actions: &mut Vec<Action>) {
    let look = &table.look;
    note(ui, look, "A still of this stance, ray by ray through the true lens, with its record beside it.");
    let frame = &table.standing().camera.frame;
    let whole = format!("All {:.0} MP", frame.megapixels());
    let half = 0.5 * (ui.available_width() - look.px(6.0));
    ui.horizontal(|ui| {
        if button(ui, look, "As shown", half).on_hover_text("with the finder's pixels: quick").clicked() {
            actions.push(DeliveryAction::Capture { full: false, folder: None }.into());
        }
        let said = format!("{} × {} pixels: the body's own", frame.width_px, frame.height_px);
        if button(ui, look, &whole, half).on_hover_text(said).clicked() {
            actions.push(DeliveryAction::Capture { full: true, folder: None }.into());
        }
    });
}

fn note(ui: &mut Ui, look: &Look, words: &str) {
    ui.add(egui::Label::new(look.note(words)).wrap());
}

/// The day that something is for; what is typed holds as soon as it is a day.
fn day_ui(ui: &mut Ui, look: &Look, options: &mut DeliveryOptions, input: &mut DeliveryInput) {
    ui.horizontal(|ui| {
        ui.label(look.note("for the day"));
        let set = options.day.map_or_else(String::new, |day| day.to_string());
        let mut text = input.day.clone().unwrap_or(set);
        let field = egui::TextEdit::singleline(&mut text).desired_width(look.px(96.0)).hint_text("2026-06-21");
        let response = ui.add(field);
        ui.ctx().accesskit_node_builder(response.id, |node| node.set_label("for the day"));
        if response.changed() {
            match text.parse::<Day>() {
                Ok(day) => (options.day, input.day) = (Some(day), None),
                Err(_) => input.day = Some(text),
            }
        } else if response.lost_focus() {
            input.day = None;
        }
    });
    if let Some(text) = &input.day
        && let Err(error) = text.parse::<Day>()
    {
        ui.add(egui::Label::new(look.note(error.to_string()).color(look.ask())).wrap());
    }
}

fn card_ui(
    ui: &mut Ui,
    table: &Table<'_>,
    options: &mut DeliveryOptions,
    input: &mut DeliveryInput,
    actions: &mut Vec<Action>,
) {
    let look = &table.look;
    note(
        ui,
        look,
        "One page of this stance for the pocket: where to stand, how to set the camera, how exactly, what lines up, what to mind.",
    );
    day_ui(ui, look, options, input);
    let half = 0.5 * (ui.available_width() - look.px(6.0));
    ui.horizontal(|ui| {
        for (word, hint, form) in [
            ("For a phone", "a page that works offline: .html", CardForm::Html),
            ("For paper", "one page of A5: .pdf", CardForm::Pdf),
        ] {
            if button(ui, look, word, half).on_hover_text(hint).clicked() {
                actions.push(DeliveryAction::Write(DeliveryForm::Card(form)).into());
            }
        }
    });
}

/// The prints with a tick each.
fn prints_ui(ui: &mut Ui, table: &Table<'_>, options: &mut DeliveryOptions) {
    let look = &table.look;
    if table.desk.prints().is_empty() {
        note(
            ui,
            look,
            "No print is pinned: the present stance goes in. Pin stances on the Walk desk to choose among them.",
        );
        return;
    }
    ui.label(look.note("prints that go in"));
    for pinned in table.desk.prints() {
        let id = pinned.print.id;
        let goes_in = !options.left_out.contains(&id);
        let mut ticked = goes_in;
        let response = ui.checkbox(&mut ticked, look.plain(&pinned.print.name));
        let name = format!("{} goes in", pinned.print.name);
        ui.ctx().accesskit_node_builder(response.id, |node| node.set_label(name));
        if ticked && !goes_in {
            options.left_out.retain(|known| *known != id);
        } else if !ticked && goes_in {
            options.left_out.push(id);
        }
    }
}

fn sheet_ui(
    ui: &mut Ui,
    table: &Table<'_>,
    options: &mut DeliveryOptions,
    input: &mut DeliveryInput,
    actions: &mut Vec<Action>,
) {
    let look = &table.look;
    note(
        ui,
        look,
        "A folder for the client: a page with large pictures and a slider between any two, and the same on paper.",
    );
    let field = egui::TextEdit::singleline(&mut options.title)
        .desired_width(ui.available_width() - look.px(10.0))
        .hint_text("title; otherwise the site's name")
        .char_limit(200);
    let response = ui.add(field);
    ui.ctx().accesskit_node_builder(response.id, |node| node.set_label("title of the sheet"));
    day_ui(ui, look, options, input);
    prints_ui(ui, table, options);
    ui.horizontal(|ui| {
        let words = match &options.brand {
            Some(path) => path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned(),
            None => "no name or logo".into(),
        };
        ui.add(egui::Label::new(look.note(words)).truncate());
    });
    ui.horizontal(|ui| {
        if word_button(ui, look, "choose your file…", "choose the file of your name and logo").clicked() {
            actions.push(DeliveryAction::ChooseBrand.into());
        }
        if options.brand.is_some() && word_button(ui, look, "leave it out", "leave your name and logo out").clicked() {
            actions.push(DeliveryAction::Brand(None).into());
        }
    });
    if button(ui, look, "Write the sheet", ui.available_width()).clicked() {
        actions.push(DeliveryAction::Write(DeliveryForm::Sheet).into());
    }
}

fn places_ui(ui: &mut Ui, table: &Table<'_>, options: &mut DeliveryOptions, actions: &mut Vec<Action>) {
    let look = &table.look;
    note(ui, look, "Stances, subject and grounds for maps and GPS; KML also holds the view of each stance.");
    prints_ui(ui, table, options);
    let third = (ui.available_width() - look.px(12.0)) / 3.0;
    ui.horizontal(|ui| {
        for (word, said, form) in [
            ("GPX", "for GPS devices", PlacesForm::Gpx),
            ("KML", "for maps in 3D, with the view of each stance", PlacesForm::Kml),
            ("GeoJSON", "for maps", PlacesForm::GeoJson),
        ] {
            if button(ui, look, word, third).on_hover_text(said).clicked() {
                actions.push(DeliveryAction::Write(DeliveryForm::Places(form)).into());
            }
        }
    });
}

fn comparison_ui(ui: &mut Ui, table: &Table<'_>, options: &mut DeliveryOptions, actions: &mut Vec<Action>) {
    let look = &table.look;
    note(ui, look, "Every figure of the stances side by side, and which is best. Files are metric.");
    prints_ui(ui, table, options);
    let half = 0.5 * (ui.available_width() - look.px(6.0));
    ui.horizontal(|ui| {
        for (word, hint, form) in
            [("CSV", "for spreadsheets", ComparisonForm::Csv), ("JSON", "for programs", ComparisonForm::Json)]
        {
            if button(ui, look, word, half).on_hover_text(hint).clicked() {
                actions.push(DeliveryAction::Write(DeliveryForm::Comparison(form)).into());
            }
        }
    });
}

fn sequence_ui(
    ui: &mut Ui,
    table: &Table<'_>,
    view: &DeliveryView<'_>,
    options: &mut DeliveryOptions,
    actions: &mut Vec<Action>,
) {
    let look = &table.look;
    note(ui, look, "The move from one print to another: numbered frames and an animated picture.");
    if table.desk.prints().len() < 2 {
        note(ui, look, "Pin two stances on the Walk desk first.");
        return;
    }
    for (end, word) in ["from", "to"].into_iter().enumerate() {
        let id = view.ends[end];
        let name = id.and_then(|id| table.desk.print(id)).map_or("none", |pinned| pinned.print.name.as_str());
        ui.horizontal(|ui| {
            let (place, _) = ui.allocate_exact_size(Vec2::new(look.px(30.0), look.px(20.0)), egui::Sense::hover());
            let galley = look.fitted(ui, word, look.caption(), look.soft(), place.width());
            ui.painter().galley(place.min + Vec2::new(0.0, look.px(3.0)), galley, look.soft());
            let response = egui::ComboBox::from_id_salt(("end", end))
                .selected_text(look.plain(name))
                .width(ui.available_width() - look.px(8.0))
                .truncate()
                .show_ui(ui, |ui| {
                    for pinned in table.desk.prints() {
                        let other = pinned.print.id;
                        if ui.selectable_label(Some(other) == id, look.plain(&pinned.print.name)).clicked() {
                            options.ends = view.ends;
                            options.ends[end] = Some(other);
                        }
                    }
                });
            ui.ctx().accesskit_node_builder(response.response.id, |node| {
                node.set_label(format!("sequence {word}: {name}"))
            });
        });
    }
    let frames = Slide {
        name: "how many frames",
        caption: "frames",
        stops: &[12.0, 24.0, 48.0, 72.0, 96.0, 144.0, 240.0],
        any: Any::Nowhere,
        value: Some(f64::from(options.frames)),
        range: (2.0, f64::from(MOST_FRAMES)),
        written: &|frames| format!("{frames:.0}"),
        read: &plain_number,
        note: None,
    };
    if let Some(Some(frames)) = frames.ui(ui, look) {
        options.frames = whole(frames);
    }
    let pixels = Slide {
        name: "pixels across",
        caption: "pixels across",
        stops: &[360.0, 480.0, 720.0, 960.0, 1280.0, 1920.0],
        any: Any::Nowhere,
        value: Some(f64::from(options.width_px)),
        range: (64.0, 4096.0),
        written: &|pixels| format!("{pixels:.0}"),
        read: &plain_number,
        note: None,
    };
    if let Some(Some(pixels)) = pixels.ui(ui, look) {
        options.width_px = whole(pixels);
    }
    let response = ui.checkbox(&mut options.overlay, look.plain("with verticals drawn over it"));
    ui.ctx().accesskit_node_builder(response.id, |node| node.set_label("verticals drawn over each frame"));
    if button(ui, look, "Write the sequence", ui.available_width()).clicked() {
        actions.push(DeliveryAction::Write(DeliveryForm::Sequence).into());
    }
}

/// A count that a slide gave.
fn whole(value: f64) -> u32 {
    value.round().clamp(0.0, f64::from(u32::MAX)) as u32
}

/// What is in the way of what is to be written: nothing is written over without asking.
pub(super) fn in_the_way_ui(ui: &Ui, table: &Table<'_>, actions: &mut Vec<Action>) {
    let view = table.desk.delivery();
    let Some(in_the_way) = view.in_the_way else { return };
    let look = &table.look;
    let modal = egui::Modal::new(egui::Id::new("in the way")).show(ui.ctx(), |ui| {
        ui.set_width(look.px(400.0).min(ui.ctx().content_rect().width() - look.px(48.0)));
        ui.spacing_mut().item_spacing = Vec2::new(look.px(6.0), look.px(6.0));
        ui.label(look.title("It is already there"));
        note(ui, look, &in_the_way.path.to_string_lossy());
        let third = (ui.available_width() - look.px(12.0)) / 3.0;
        ui.horizontal(|ui| {
            for (word, hint, answer) in [
                ("Keep both", "the new one gets a number", Some(IfExists::KeepBoth)),
                ("Replace it", "the old one is lost", Some(IfExists::Replace)),
                ("Cancel", "nothing is written", None),
            ] {
                if button(ui, look, word, third).on_hover_text(hint).clicked() {
                    actions.push(DeliveryAction::Resolve(answer).into());
                }
            }
        });
    });
    if modal.should_close() {
        actions.push(DeliveryAction::Resolve(None).into());
    }
}

/// What is being worked on, with what is done and a way to call it off.
pub(super) fn works_ui(ui: &mut Ui, table: &Table<'_>, actions: &mut Vec<Action>) {
    let look = &table.look;
    let works = table.desk.works();
    if !works.is_empty() {
        ui.ctx().request_repaint_after(super::criteria::LOOKED_AT_EVERY);
    }
    for work in works {
        ui.horizontal(|ui| {
            let width = (ui.available_width() - look.px(64.0)).max(look.px(60.0));
            ui.vertical(|ui| {
                ui.set_max_width(width);
                ui.label(look.note(&work.title).color(look.ink()));
                if work.share.is_some() {
                    super::criteria::bar_ui(ui, look, work.share);
                }
            });
            if word_button(ui, look, "call off", &format!("call off: {}", work.title)).clicked() {
                actions.push(WorkAction::Cancel(work.id).into());
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
        ("body", format!("{}, {} × {} px", standing.format.words(), camera.frame.width_px, camera.frame.height_px)),
        ("lens", lens_words(&standing.lens)),
        ("set to", format!("{}, {}", millimetres(camera.focal_mm), f_number(standing.f_number))),
        ("focus", if standing.focus_m.is_finite() { units.length(standing.focus_m, 1) } else { "infinity".into() }),
    ];
    if camera.rise_mm != 0.0 || camera.shift_mm != 0.0 {
        rows.push(("rise, shift", format!("{:.2} mm, {:.2} mm", camera.rise_mm, camera.shift_mm)));
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
        super::tolerance::tolerance_ui(ui, table);
    });
}
