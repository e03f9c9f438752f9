//! What will it look like to whoever gets it? A card, a sheet, places or a sequence as a page on the table, before it is
//! written.

use bevy_egui::egui::{
    self, Pos2, Rect, ScrollArea, Sense, Stroke, StrokeKind, TextureHandle, TextureOptions, Ui, Vec2, WidgetInfo,
    WidgetType,
};

use crate::drawing::Drawing;
use crate::handover::places::Places;
use crate::handover::sequence::Step;
use crate::handover::{ClientSheet, FieldCard};
use crate::still::Picture;
use crate::viewer::render::narrow::screen;
use crate::viewer::state::desk::{HandingView, Ready};
use crate::wording;

use super::draw::{Placing, Sheet};
use super::figures::{degrees, millimetres};
use super::notices::beware_sign;
use super::style::{Look, card, count, within};
use super::table::Table;
use super::textures::image;

/// The widest that a page is drawn, in units of the drawing.
const WIDEST: f32 = 800.0;
/// The width from which on a card has two columns.
const TWO_COLUMNS: f32 = 600.0;

/// What a page keeps between frames.
#[derive(Default)]
pub(super) struct Pages {
    /// Of which thing the pictures are.
    version: u64,
    textures: Vec<TextureHandle>,
    plan: Option<(Look, Sheet)>,
}

impl Pages {
    /// The texture of the page's picture with this number.
    fn texture(&mut self, ui: &Ui, number: usize, picture: &Picture) -> Option<egui::TextureId> {
        if number == self.textures.len() {
            let image = image([picture.width_px, picture.height_px], &picture.rgb)?;
            let name = format!("page {} {number}", self.version);
            self.textures.push(ui.ctx().load_texture(name, image, TextureOptions::LINEAR));
        }
        self.textures.get(number).map(TextureHandle::id)
    }
}

/// The page, or why there is none.
pub(super) fn page_ui(ui: &mut Ui, table: &Table<'_>, pages: &mut Pages, view: &HandingView<'_>, rect: Rect) {
    let look = &table.look;
    card(ui, look, rect);
    if pages.version != view.version {
        *pages = Pages { version: view.version, ..Pages::default() };
    }
    let inner = rect.shrink2(Vec2::new(look.px(14.0), look.px(11.0)));
    within(ui, "page", inner, |ui| {
        let head = match view.leaf {
            crate::viewer::state::desk::Leaf::Card => "Field card",
            crate::viewer::state::desk::Leaf::Sheet => "Client sheet",
            crate::viewer::state::desk::Leaf::Places => "Maps and GPS",
            crate::viewer::state::desk::Leaf::Sequence => "Sequence",
            crate::viewer::state::desk::Leaf::Still => "Record",
        };
        ui.horizontal(|ui| {
            ui.label(look.title(head));
            if view.making {
                if view.ready.is_some() {
                    ui.label(look.note("updating…"));
                }
                ui.ctx().request_repaint_after(super::criteria::LOOKED_AT_EVERY);
            }
        });
        match view.ready {
            None => {
                ui.label(look.note("Preparing…"));
            }
            Some(Err(error)) => {
                let (room, _) = ui.allocate_exact_size(Vec2::new(look.px(16.0), look.px(14.0)), Sense::hover());
                beware_sign(ui.painter(), look, room.center());
                ui.add(egui::Label::new(look.plain(error)).wrap());
            }
            Some(Ok(ready)) => {
                ScrollArea::vertical().id_salt("page").auto_shrink([false, false]).show(ui, |ui| {
                    let room = ui.available_width() - look.px(10.0);
                    let width = room.min(look.px(WIDEST));
                    ui.horizontal_top(|ui| {
                        ui.add_space(0.5 * (room - width));
                        ui.vertical(|ui| {
                            ui.set_width(width);
                            ui.spacing_mut().item_spacing = Vec2::new(look.px(8.0), look.px(4.0));
                            match ready {
                                Ready::Card(card) => card_page(ui, look, pages, card),
                                Ready::Sheet(sheet) => sheet_page(ui, look, pages, sheet),
                                Ready::Places(places) => places_page(ui, table, places),
                                Ready::Sequence(steps) => sequence_page(ui, table, steps),
                            }
                        });
                    });
                });
            }
        }
    });
}

fn heading(ui: &mut Ui, look: &Look, words: &str) {
    ui.add_space(look.px(8.0));
    ui.label(look.title(words));
}

fn paragraph(ui: &mut Ui, look: &Look, words: &str) {
    ui.add(egui::Label::new(look.plain(words)).wrap());
}

fn note(ui: &mut Ui, look: &Look, words: &str) {
    ui.add(egui::Label::new(look.note(words)).wrap());
}

/// A picture as wide as its room, no higher than so much.
fn picture_ui(ui: &mut Ui, look: &Look, texture: Option<egui::TextureId>, picture: &Picture, room: Vec2, name: &str) {
    let shape = screen(f64::from(picture.width_px) / f64::from(picture.height_px.max(1)));
    let size =
        if room.x / room.y > shape { Vec2::new(room.y * shape, room.y) } else { Vec2::new(room.x, room.x / shape) };
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Image, true, name));
    match texture {
        Some(texture) => {
            let whole = Rect::from_min_max(Pos2::ZERO, Pos2::new(1.0, 1.0));
            ui.painter().image(texture, rect, whole, egui::Color32::WHITE);
        }
        None => {
            ui.painter().rect_filled(rect, 0.0, look.well());
        }
    }
    ui.painter().rect_stroke(rect, 0.0, Stroke::new(1.0, look.ink()), StrokeKind::Inside);
}

/// A drawing as wide as the page.
fn drawing_ui(ui: &mut Ui, look: &Look, pages: &mut Pages, drawing: &Drawing) {
    let width = ui.available_width();
    let scale = width / screen(drawing.width_pt.max(1.0));
    let (rect, response) = ui.allocate_exact_size(Vec2::new(width, screen(drawing.height_pt) * scale), Sense::hover());
    let placing = Placing { rect, scale, pixels_per_point: ui.pixels_per_point() };
    if pages.plan.as_ref().is_none_or(|(dress, sheet)| *sheet.placing() != placing || dress != look) {
        pages.plan = Some((*look, Sheet::of(look, &drawing.marks, placing)));
    }
    if let Some((_, sheet)) = &pages.plan {
        ui.painter().rect_filled(rect, 0.0, look.panel());
        sheet.paint(ui.painter());
        response.widget_info(|| WidgetInfo::labeled(WidgetType::Image, true, format!("plan: {}", drawing.words)));
    }
    ui.painter().rect_stroke(rect, 0.0, look.hairline(), StrokeKind::Inside);
}

/// What at the left, how much at the right of it, and what is noted of it below.
fn row_ui(ui: &mut Ui, look: &Look, what: &str, value: &str, said: Option<&str>) {
    let width = ui.available_width();
    let left = 0.34 * width;
    let what_galley = look.wrapped(ui.painter(), what, look.caption(), look.soft(), left - look.px(8.0));
    let value_galley = look.wrapped(ui.painter(), value, look.strong(12.5), look.ink(), width - left);
    let note_galley = said.map(|said| look.wrapped(ui.painter(), said, look.caption(), look.soft(), width - left));
    let below = note_galley.as_ref().map_or(0.0, |galley| galley.size().y);
    let height = what_galley.size().y.max(value_galley.size().y + below) + look.px(4.0);
    let (rect, response) = ui.allocate_exact_size(Vec2::new(width, height), Sense::hover());
    response.widget_info(|| {
        let said = said.map_or_else(String::new, |said| format!("; {said}"));
        WidgetInfo::labeled(WidgetType::Label, true, format!("{what}: {value}{said}"))
    });
    let lower = rect.top() + value_galley.size().y;
    ui.painter().galley(rect.min + Vec2::new(0.0, look.px(1.0)), what_galley, look.soft());
    ui.painter().galley(Pos2::new(rect.left() + left, rect.top()), value_galley, look.ink());
    if let Some(galley) = note_galley {
        ui.painter().galley(Pos2::new(rect.left() + left, lower), galley, look.soft());
    }
}

fn cautions_list_ui(ui: &mut Ui, look: &Look, cautions: &[String]) {
    for caution in cautions {
        let indent = look.px(20.0);
        let galley = look.wrapped(ui.painter(), caution, look.body(), look.ink(), ui.available_width() - indent);
        let (rect, response) =
            ui.allocate_exact_size(Vec2::new(ui.available_width(), galley.size().y + look.px(2.0)), Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, format!("caution: {caution}")));
        beware_sign(ui.painter(), look, rect.left_top() + Vec2::new(look.px(7.0), look.px(9.0)));
        ui.painter().galley(rect.left_top() + Vec2::new(indent, 0.0), galley, look.ink());
    }
}

fn card_page(ui: &mut Ui, look: &Look, pages: &mut Pages, card: &FieldCard) {
    ui.label(egui::RichText::new(&card.title).font(look.strong(20.0)).color(look.ink()));
    note(ui, look, &card.site);
    if let Some(words) = &card.note {
        paragraph(ui, look, words);
    }
    // Wide enough, the pictures stand at the left of what there is to know, as they do on paper.
    if ui.available_width() < look.px(TWO_COLUMNS) {
        card_pictures(ui, look, pages, card);
        card_words(ui, look, card);
    } else {
        let gap = look.px(22.0);
        let left = 0.45 * (ui.available_width() - gap);
        let right = ui.available_width() - gap - left;
        ui.horizontal_top(|ui| {
            ui.spacing_mut().item_spacing.x = 0.0;
            ui.vertical(|ui| {
                ui.set_width(left);
                ui.spacing_mut().item_spacing.x = look.px(8.0);
                card_pictures(ui, look, pages, card);
            });
            ui.add_space(gap);
            ui.vertical(|ui| {
                ui.set_width(right);
                ui.spacing_mut().item_spacing.x = look.px(8.0);
                card_words(ui, look, card);
            });
        });
    }
    ui.add_space(look.px(6.0));
    note(ui, look, &card.foot);
}

/// What the finder shows, what lines up in it, and where that is.
fn card_pictures(ui: &mut Ui, look: &Look, pages: &mut Pages, card: &FieldCard) {
    let texture = pages.texture(ui, 0, &card.picture);
    let room = Vec2::new(ui.available_width(), look.px(330.0));
    picture_ui(ui, look, texture, &card.picture, room, "what the finder shows");
    heading(ui, look, "You are in the right place when");
    if card.alignments.is_empty() {
        paragraph(ui, look, "No upright edges line up from here. Use the distances.");
    }
    for (alignment, letter) in card.alignments.iter().zip('A'..) {
        paragraph(ui, look, &format!("{letter}. {alignment}"));
    }
    ui.add_space(look.px(6.0));
    drawing_ui(ui, look, pages, &card.plan);
}

/// Where to stand, how to set the camera, how exactly, what to mind.
fn card_words(ui: &mut Ui, look: &Look, card: &FieldCard) {
    for section in &card.sections {
        section_ui(ui, look, section);
    }
    if !card.cautions.is_empty() {
        heading(ui, look, "Cautions");
        cautions_list_ui(ui, look, &card.cautions);
    }
}

fn section_ui(ui: &mut Ui, look: &Look, section: &crate::handover::Section) {
    heading(ui, look, section.title);
    for row in &section.rows {
        row_ui(ui, look, &row.what, &row.value, row.note.as_deref());
    }
}

fn sheet_page(ui: &mut Ui, look: &Look, pages: &mut Pages, sheet: &ClientSheet) {
    let brand = sheet.brand();
    if !brand.name.is_empty() {
        ui.label(look.title(&brand.name));
        note(ui, look, &brand.contact.join(", "));
    }
    ui.add(egui::Label::new(egui::RichText::new(sheet.title()).font(look.strong(20.0)).color(look.ink())).wrap());
    note(ui, look, &sheet.lead_words());
    if let Some(text) = &brand.text {
        paragraph(ui, look, text);
    }
    let mut number = 0;
    for place in sheet.places() {
        heading(ui, look, &format!("{}  {}", place.number, place.name));
        let two = place.straightened.is_some();
        let gap = look.px(8.0);
        let room = Vec2::new(
            if two { 0.5 * (ui.available_width() - gap) } else { ui.available_width() },
            look.px(if two { 220.0 } else { 260.0 }),
        );
        ui.horizontal_top(|ui| {
            ui.spacing_mut().item_spacing.x = gap;
            for (picture, how) in [(Some(place.taken), "as taken"), (place.straightened, "straightened afterwards")] {
                let Some(picture) = picture else { continue };
                let texture = pages.texture(ui, number, picture);
                number += 1;
                ui.vertical(|ui| {
                    picture_ui(ui, look, texture, picture, room, &format!("{}, {how}", place.name));
                    ui.label(look.note(how));
                });
            }
        });
        paragraph(ui, look, place.sentence);
        if let Some(words) = place.note {
            note(ui, look, words);
        }
        for (what, value) in sheet.columns().iter().zip(place.figures) {
            row_ui(ui, look, what, value, None);
        }
        let needs = if place.needs.is_empty() { "only a camera".to_owned() } else { place.needs.join("; ") };
        row_ui(ui, look, "Needed", &needs, None);
    }
    heading(ui, look, "Standpoints on the plan");
    drawing_ui(ui, look, pages, sheet.plan());
    heading(ui, look, "Cautions");
    if sheet.cautions().is_empty() {
        paragraph(ui, look, "The model shows no hazards. Check the site all the same.");
    }
    cautions_list_ui(ui, look, sheet.cautions());
    if let Some(convergence) = &brand.convergence {
        paragraph(ui, look, convergence);
    }
    note(ui, look, "On the page itself a slider compares any two pictures.");
}

fn places_page(ui: &mut Ui, table: &Table<'_>, places: &Places) {
    let look = &table.look;
    let units = table.units();
    ui.label(egui::RichText::new(&places.site).font(look.strong(16.0)).color(look.ink()));
    let on_earth = |place: &crate::place::Geographic| {
        let (latitude, longitude) = (place.latitude().degrees(), place.longitude().degrees());
        format!("{latitude:.6}°, {longitude:.6}°")
    };
    if !places.stances.is_empty() {
        heading(ui, look, "Stances");
    }
    for stance in &places.stances {
        let up = format!("camera {} above the ground", units.length(stance.eye_above_ground_m, 2));
        row_ui(ui, look, &stance.name, &on_earth(&stance.eye), Some(&up));
    }
    if let Some(subject) = &places.subject {
        heading(ui, look, "Subject");
        let rises = format!("height {}", units.length(subject.rises_m, 1));
        row_ui(ui, look, &subject.name, &on_earth(&subject.foot), Some(&rises));
    }
    if !places.grounds.is_empty() {
        heading(ui, look, "Grounds");
    }
    for ground in &places.grounds {
        row_ui(ui, look, &ground.name, ground.access.words(), ground.caution.as_deref());
    }
    if !places.left_out.is_empty() {
        heading(ui, look, "Left out");
        cautions_list_ui(ui, look, &places.left_out);
    }
    let datum = places.vertical_datum.as_deref().unwrap_or("the WGS 84 ellipsoid");
    note(ui, look, &format!("Latitude and longitude are on WGS 84. Heights count from {datum}."));
}

/// The convergence along the way, with its ends in figures.
fn sequence_page(ui: &mut Ui, table: &Table<'_>, steps: &[Step]) {
    let look = &table.look;
    let convergence = |step: &Step| step.account.convergence.map(|convergence| convergence.angle());
    let values: Vec<f64> = steps.iter().filter_map(|step| convergence(step).map(|angle| angle.degrees())).collect();
    let words = |step: &Step| {
        convergence(step).map_or_else(|| "not in front".into(), |angle| wording::convergence(angle.degrees()))
    };
    for (what, step) in [("start", steps.first()), ("end", steps.last())] {
        if let Some(step) = step {
            let lens = millimetres(step.camera.focal_mm);
            let pitch = format!("{lens}, pitch {}", degrees(step.pose.attitude.pitch));
            row_ui(ui, look, what, &words(step), Some(&pitch));
        }
    }
    ui.add_space(look.px(6.0));
    let (rect, response) = ui.allocate_exact_size(Vec2::new(ui.available_width(), look.px(150.0)), Sense::hover());
    response.widget_info(|| {
        let words = format!("convergence over {} frames", steps.len());
        WidgetInfo::labeled(WidgetType::Image, true, words)
    });
    ui.painter().rect(rect, 4.0, look.well(), look.hairline(), StrokeKind::Inside);
    let most = values.iter().fold(0.1_f64, |most, value| most.max(value.abs()));
    let least = values.iter().fold(0.0_f64, |least, value| least.min(*value));
    let inner = rect.shrink2(Vec2::new(look.px(12.0), look.px(16.0)));
    let at = |index: usize, value: f64| {
        let along = count(index) / count(values.len().saturating_sub(1).max(1));
        let up = screen((value - least) / (most - least));
        Pos2::new(inner.left() + along * inner.width(), inner.bottom() - up * inner.height())
    };
    let zero = at(0, 0.0).y;
    ui.painter().hline(inner.x_range(), zero, look.hairline());
    let points: Vec<Pos2> = values.iter().enumerate().map(|(index, value)| at(index, *value)).collect();
    if points.len() > 1 {
        ui.painter().add(egui::Shape::line(points, Stroke::new(look.px(1.6), look.ink())));
    }
    let caption = ui.painter().layout_no_wrap("convergence, frame by frame".into(), look.figure(), look.soft());
    ui.painter().galley(rect.min + Vec2::new(look.px(6.0), look.px(2.0)), caption, look.soft());
    note(
        ui,
        look,
        &format!("{} numbered frames, an animation, and a table with the figures of every frame.", steps.len()),
    );
}
