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

use super::context::PanelContext;
use super::draw::{DrawingPlacement, ScreenDrawing};
use super::figures::{degrees, millimetres};
use super::notices::caution_sign;
use super::style::{WindowStyle, card, count, within};
use super::textures::image;

/// The widest that a page is drawn, in units of the drawing.
const WIDEST: f32 = 800.0;
/// The width from which on a card has two columns.
const TWO_COLUMNS: f32 = 600.0;

/// What a page keeps between frames.
#[derive(Default)]
pub(super) struct PreviewPages {
    /// Of which thing the pictures are.
    version: u64,
    textures: Vec<TextureHandle>,
    plan: Option<(WindowStyle, ScreenDrawing)>,
}

impl PreviewPages {
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
pub(super) fn page_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    pages: &mut PreviewPages,
    view: &HandingView<'_>,
    rect: Rect,
) {
    let style = &panel.style;
    card(ui, style, rect);
    if pages.version != view.version {
        *pages = PreviewPages { version: view.version, ..PreviewPages::default() };
    }
    let inner = rect.shrink2(Vec2::new(style.px(14.0), style.px(11.0)));
    within(ui, "page", inner, |ui| {
        let head = match view.leaf {
            crate::viewer::state::desk::Leaf::Card => "Field card",
            crate::viewer::state::desk::Leaf::Sheet => "Client sheet",
            crate::viewer::state::desk::Leaf::Places => "Maps and GPS",
            crate::viewer::state::desk::Leaf::Sequence => "Sequence",
            crate::viewer::state::desk::Leaf::Still => "Record",
        };
        ui.horizontal(|ui| {
            ui.label(style.title(head));
            if view.making {
                if view.ready.is_some() {
                    ui.label(style.note("updating…"));
                }
                ui.ctx().request_repaint_after(super::criteria::LOOKED_AT_EVERY);
            }
        });
        match view.ready {
            None => {
                ui.label(style.note("Preparing…"));
            }
            Some(Err(error)) => {
                let (room, _) = ui.allocate_exact_size(Vec2::new(style.px(16.0), style.px(14.0)), Sense::hover());
                caution_sign(ui.painter(), style, room.center());
                ui.add(egui::Label::new(style.plain(error)).wrap());
            }
            Some(Ok(ready)) => {
                ScrollArea::vertical().id_salt("page").auto_shrink([false, false]).show(ui, |ui| {
                    let room = ui.available_width() - style.px(10.0);
                    let width = room.min(style.px(WIDEST));
                    ui.horizontal_top(|ui| {
                        ui.add_space(0.5 * (room - width));
                        ui.vertical(|ui| {
                            ui.set_width(width);
                            ui.spacing_mut().item_spacing = Vec2::new(style.px(8.0), style.px(4.0));
                            match ready {
                                Ready::Card(card) => card_page(ui, style, pages, card),
                                Ready::Sheet(sheet) => sheet_page(ui, style, pages, sheet),
                                Ready::Places(places) => places_page(ui, panel, places),
                                Ready::Sequence(steps) => sequence_page(ui, panel, steps),
                            }
                        });
                    });
                });
            }
        }
    });
}

fn heading(ui: &mut Ui, style: &WindowStyle, words: &str) {
    ui.add_space(style.px(8.0));
    ui.label(style.title(words));
}

fn paragraph(ui: &mut Ui, style: &WindowStyle, words: &str) {
    ui.add(egui::Label::new(style.plain(words)).wrap());
}

fn note(ui: &mut Ui, style: &WindowStyle, words: &str) {
    ui.add(egui::Label::new(style.note(words)).wrap());
}

/// A picture as wide as its room, no higher than so much.
fn picture_ui(
    ui: &mut Ui,
    style: &WindowStyle,
    texture: Option<egui::TextureId>,
    picture: &Picture,
    room: Vec2,
    name: &str,
) {
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
            ui.painter().rect_filled(rect, 0.0, style.well());
        }
    }
    ui.painter().rect_stroke(rect, 0.0, Stroke::new(1.0, style.ink()), StrokeKind::Inside);
}

/// A drawing as wide as the page.
fn drawing_ui(ui: &mut Ui, style: &WindowStyle, pages: &mut PreviewPages, drawing: &Drawing) {
    let width = ui.available_width();
    let scale = width / screen(drawing.width_pt.max(1.0));
    let (rect, response) = ui.allocate_exact_size(Vec2::new(width, screen(drawing.height_pt) * scale), Sense::hover());
    let placing = DrawingPlacement { rect, scale, pixels_per_point: ui.pixels_per_point() };
    if pages.plan.as_ref().is_none_or(|(dress, sheet)| *sheet.placing() != placing || dress != style) {
        pages.plan = Some((*style, ScreenDrawing::of(style, &drawing.marks, placing)));
    }
    if let Some((_, sheet)) = &pages.plan {
        ui.painter().rect_filled(rect, 0.0, style.panel());
        sheet.paint(ui.painter());
        response.widget_info(|| WidgetInfo::labeled(WidgetType::Image, true, format!("plan: {}", drawing.words)));
    }
    ui.painter().rect_stroke(rect, 0.0, style.hairline(), StrokeKind::Inside);
}

/// What at the left, how much at the right of it, and what is noted of it below.
fn row_ui(ui: &mut Ui, style: &WindowStyle, what: &str, value: &str, said: Option<&str>) {
    let width = ui.available_width();
    let left = 0.34 * width;
    let what_galley = style.wrapped(ui.painter(), what, style.caption(), style.soft(), left - style.px(8.0));
    let value_galley = style.wrapped(ui.painter(), value, style.strong(12.5), style.ink(), width - left);
    let note_galley = said.map(|said| style.wrapped(ui.painter(), said, style.caption(), style.soft(), width - left));
    let below = note_galley.as_ref().map_or(0.0, |galley| galley.size().y);
    let height = what_galley.size().y.max(value_galley.size().y + below) + style.px(4.0);
    let (rect, response) = ui.allocate_exact_size(Vec2::new(width, height), Sense::hover());
    response.widget_info(|| {
        let said = said.map_or_else(String::new, |said| format!("; {said}"));
        WidgetInfo::labeled(WidgetType::Label, true, format!("{what}: {value}{said}"))
    });
    let lower = rect.top() + value_galley.size().y;
    ui.painter().galley(rect.min + Vec2::new(0.0, style.px(1.0)), what_galley, style.soft());
    ui.painter().galley(Pos2::new(rect.left() + left, rect.top()), value_galley, style.ink());
    if let Some(galley) = note_galley {
        ui.painter().galley(Pos2::new(rect.left() + left, lower), galley, style.soft());
    }
}

fn cautions_list_ui(ui: &mut Ui, style: &WindowStyle, cautions: &[String]) {
    for caution in cautions {
        let indent = style.px(20.0);
        let galley = style.wrapped(ui.painter(), caution, style.body(), style.ink(), ui.available_width() - indent);
        let (rect, response) =
            ui.allocate_exact_size(Vec2::new(ui.available_width(), galley.size().y + style.px(2.0)), Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, format!("caution: {caution}")));
        caution_sign(ui.painter(), style, rect.left_top() + Vec2::new(style.px(7.0), style.px(9.0)));
        ui.painter().galley(rect.left_top() + Vec2::new(indent, 0.0), galley, style.ink());
    }
}

fn card_page(ui: &mut Ui, style: &WindowStyle, pages: &mut PreviewPages, card: &FieldCard) {
    ui.label(egui::RichText::new(&card.title).font(style.strong(20.0)).color(style.ink()));
    note(ui, style, &card.site);
    if let Some(words) = &card.note {
        paragraph(ui, style, words);
    }
    // Wide enough, the pictures stand at the left of what there is to know, as they do on paper.
    if ui.available_width() < style.px(TWO_COLUMNS) {
        card_pictures(ui, style, pages, card);
        card_words(ui, style, card);
    } else {
        let gap = style.px(22.0);
        let left = 0.45 * (ui.available_width() - gap);
        let right = ui.available_width() - gap - left;
        ui.horizontal_top(|ui| {
            ui.spacing_mut().item_spacing.x = 0.0;
            ui.vertical(|ui| {
                ui.set_width(left);
                ui.spacing_mut().item_spacing.x = style.px(8.0);
                card_pictures(ui, style, pages, card);
            });
            ui.add_space(gap);
            ui.vertical(|ui| {
                ui.set_width(right);
                ui.spacing_mut().item_spacing.x = style.px(8.0);
                card_words(ui, style, card);
            });
        });
    }
    ui.add_space(style.px(6.0));
    note(ui, style, &card.foot);
}

/// What the finder shows, what lines up in it, and where that is.
fn card_pictures(ui: &mut Ui, style: &WindowStyle, pages: &mut PreviewPages, card: &FieldCard) {
    let texture = pages.texture(ui, 0, &card.picture);
    let room = Vec2::new(ui.available_width(), style.px(330.0));
    picture_ui(ui, style, texture, &card.picture, room, "what the finder shows");
    heading(ui, style, "You are in the right place when");
    if card.alignments.is_empty() {
        paragraph(ui, style, "No upright edges line up from here. Use the distances.");
    }
    for (alignment, letter) in card.alignments.iter().zip('A'..) {
        paragraph(ui, style, &format!("{letter}. {alignment}"));
    }
    ui.add_space(style.px(6.0));
    drawing_ui(ui, style, pages, &card.plan);
}

/// Where to stand, how to set the camera, how exactly, what to mind.
fn card_words(ui: &mut Ui, style: &WindowStyle, card: &FieldCard) {
    for section in &card.sections {
        section_ui(ui, style, section);
    }
    if !card.cautions.is_empty() {
        heading(ui, style, "Cautions");
        cautions_list_ui(ui, style, &card.cautions);
    }
}

fn section_ui(ui: &mut Ui, style: &WindowStyle, section: &crate::handover::Section) {
    heading(ui, style, section.title);
    for row in &section.rows {
        row_ui(ui, style, &row.what, &row.value, row.note.as_deref());
    }
}

fn sheet_page(ui: &mut Ui, style: &WindowStyle, pages: &mut PreviewPages, sheet: &ClientSheet) {
    let brand = sheet.brand();
    if !brand.name.is_empty() {
        ui.label(style.title(&brand.name));
        note(ui, style, &brand.contact.join(", "));
    }
    ui.add(egui::Label::new(egui::RichText::new(sheet.title()).font(style.strong(20.0)).color(style.ink())).wrap());
    note(ui, style, &sheet.lead_words());
    if let Some(text) = &brand.text {
        paragraph(ui, style, text);
    }
    let mut number = 0;
    for place in sheet.places() {
        heading(ui, style, &format!("{}  {}", place.number, place.name));
        let two = place.straightened.is_some();
        let gap = style.px(8.0);
        let room = Vec2::new(
            if two { 0.5 * (ui.available_width() - gap) } else { ui.available_width() },
            style.px(if two { 220.0 } else { 260.0 }),
        );
        ui.horizontal_top(|ui| {
            ui.spacing_mut().item_spacing.x = gap;
            for (picture, how) in [(Some(place.taken), "as taken"), (place.straightened, "straightened afterwards")] {
                let Some(picture) = picture else { continue };
                let texture = pages.texture(ui, number, picture);
                number += 1;
                ui.vertical(|ui| {
                    picture_ui(ui, style, texture, picture, room, &format!("{}, {how}", place.name));
                    ui.label(style.note(how));
                });
            }
        });
        paragraph(ui, style, place.sentence);
        if let Some(words) = place.note {
            note(ui, style, words);
        }
        for (what, value) in sheet.columns().iter().zip(place.figures) {
            row_ui(ui, style, what, value, None);
        }
        let needs = if place.needs.is_empty() { "only a camera".to_owned() } else { place.needs.join("; ") };
        row_ui(ui, style, "Needed", &needs, None);
    }
    heading(ui, style, "Standpoints on the plan");
    drawing_ui(ui, style, pages, sheet.plan());
    heading(ui, style, "Cautions");
    if sheet.cautions().is_empty() {
        paragraph(ui, style, "The model shows no hazards. Check the site all the same.");
    }
    cautions_list_ui(ui, style, sheet.cautions());
    if let Some(convergence) = &brand.convergence {
        paragraph(ui, style, convergence);
    }
    note(ui, style, "On the page itself a slider compares any two pictures.");
}

fn places_page(ui: &mut Ui, panel: &PanelContext<'_>, places: &Places) {
    let style = &panel.style;
    let units = panel.units();
    ui.label(egui::RichText::new(&places.site).font(style.strong(16.0)).color(style.ink()));
    let on_earth = |place: &crate::place::Geographic| {
        let (latitude, longitude) = (place.latitude().degrees(), place.longitude().degrees());
        format!("{latitude:.6}°, {longitude:.6}°")
    };
    if !places.stances.is_empty() {
        heading(ui, style, "Stances");
    }
    for stance in &places.stances {
        let up = format!("camera {} above the ground", units.length(stance.eye_above_ground_m, 2));
        row_ui(ui, style, &stance.name, &on_earth(&stance.eye), Some(&up));
    }
    if let Some(subject) = &places.subject {
        heading(ui, style, "Subject");
        let rises = format!("height {}", units.length(subject.rises_m, 1));
        row_ui(ui, style, &subject.name, &on_earth(&subject.foot), Some(&rises));
    }
    if !places.grounds.is_empty() {
        heading(ui, style, "Grounds");
    }
    for ground in &places.grounds {
        row_ui(ui, style, &ground.name, ground.access.words(), ground.caution.as_deref());
    }
    if !places.left_out.is_empty() {
        heading(ui, style, "Left out");
        cautions_list_ui(ui, style, &places.left_out);
    }
    let datum = places.vertical_datum.as_deref().unwrap_or("the WGS 84 ellipsoid");
    note(ui, style, &format!("Latitude and longitude are on WGS 84. Heights count from {datum}."));
}

/// The convergence along the way, with its ends in figures.
fn sequence_page(ui: &mut Ui, panel: &PanelContext<'_>, steps: &[Step]) {
    let style = &panel.style;
    let convergence = |step: &Step| step.account.convergence.map(|convergence| convergence.angle());
    let values: Vec<f64> = steps.iter().filter_map(|step| convergence(step).map(|angle| angle.degrees())).collect();
    let words = |step: &Step| {
        convergence(step).map_or_else(|| "not in front".into(), |angle| wording::convergence(angle.degrees()))
    };
    for (what, step) in [("start", steps.first()), ("end", steps.last())] {
        if let Some(step) = step {
            let lens = millimetres(step.camera.focal_mm);
            let pitch = format!("{lens}, pitch {}", degrees(step.pose.attitude.pitch));
            row_ui(ui, style, what, &words(step), Some(&pitch));
        }
    }
    ui.add_space(style.px(6.0));
    let (rect, response) = ui.allocate_exact_size(Vec2::new(ui.available_width(), style.px(150.0)), Sense::hover());
    response.widget_info(|| {
        let words = format!("convergence over {} frames", steps.len());
        WidgetInfo::labeled(WidgetType::Image, true, words)
    });
    ui.painter().rect(rect, 4.0, style.well(), style.hairline(), StrokeKind::Inside);
    let most = values.iter().fold(0.1_f64, |most, value| most.max(value.abs()));
    let least = values.iter().fold(0.0_f64, |least, value| least.min(*value));
    let inner = rect.shrink2(Vec2::new(style.px(12.0), style.px(16.0)));
    let at = |index: usize, value: f64| {
        let along = count(index) / count(values.len().saturating_sub(1).max(1));
        let up = screen((value - least) / (most - least));
        Pos2::new(inner.left() + along * inner.width(), inner.bottom() - up * inner.height())
    };
    let zero = at(0, 0.0).y;
    ui.painter().hline(inner.x_range(), zero, style.hairline());
    let points: Vec<Pos2> = values.iter().enumerate().map(|(index, value)| at(index, *value)).collect();
    if points.len() > 1 {
        ui.painter().add(egui::Shape::line(points, Stroke::new(style.px(1.6), style.ink())));
    }
    let caption = ui.painter().layout_no_wrap("convergence, frame by frame".into(), style.figure(), style.soft());
    ui.painter().galley(rect.min + Vec2::new(style.px(6.0), style.px(2.0)), caption, style.soft());
    note(
        ui,
        style,
        &format!("{} numbered frames, an animation, and a table with the figures of every frame.", steps.len()),
    );
}
