//! What will it look like to whoever gets it? A card, a sheet, places or a sequence as a page on the table, before it is
//! written.

use std::sync::Arc;

use bevy_egui::egui::{
    self, Pos2, Rect, ScrollArea, Sense, StrokeKind, TextureHandle, TextureOptions, Ui, Vec2, WidgetInfo, WidgetType,
};

use crate::drawing::{Mark, Room};
use crate::handover::document::{Document, DocumentBlock, Fact};
use crate::handover::page::{Page, PageMark};
use crate::still::Picture;
use crate::theme::Theme;
use crate::viewer::render::narrow::screen;
use crate::viewer::state::desk::DeliveryView;

use super::context::PanelContext;
use super::draw::{DrawingPlacement, ScreenDrawing};
use super::notices::caution_sign;
use super::style::{WindowStyle, card, count, within};
use super::textures::image;

/// The widest that something to read is drawn, in units of the drawing.
const WIDEST: f32 = 800.0;
/// The widest that a page is drawn, in the same.
const WIDEST_PAGE: f32 = 1200.0;

/// What a page keeps between frames.
#[derive(Default)]
pub(super) struct PreviewPages {
    /// Of which thing the pictures are.
    version: u64,
    /// It as something to read.
    document: Option<Arc<Document>>,
    /// The pages that are written of it.
    pages: Vec<Page>,
    textures: Vec<(Arc<Picture>, TextureHandle)>,
    drawings: Vec<(WindowStyle, ScreenDrawing)>,
}

/// The page, or why there is none.
pub(super) fn page_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    pages: &mut PreviewPages,
    view: &DeliveryView<'_>,
    rect: Rect,
) {
    let style = &panel.style;
    card(ui, style, rect);
    if pages.version != view.version {
        *pages = PreviewPages { version: view.version, ..PreviewPages::default() };
    }
    let inner = rect.shrink2(Vec2::new(style.px(14.0), style.px(11.0)));
    within(ui, "page", inner, |ui| {
        ui.horizontal(|ui| {
            ui.label(style.title(view.kind.words()));
            if view.preparing {
                if view.prepared.is_some() {
                    ui.label(style.note("updating…"));
                }
                ui.ctx().request_repaint_after(super::criteria::LOOKED_AT_EVERY);
            }
        });
        match view.prepared {
            None => {
                ui.label(style.note("Preparing it…"));
            }
            Some(Err(error)) => {
                let (room, _) = ui.allocate_exact_size(Vec2::new(style.px(16.0), style.px(14.0)), Sense::hover());
                caution_sign(ui.painter(), style, room.center());
                ui.add(egui::Label::new(style.plain(error)).wrap());
            }
            Some(Ok(prepared)) => {
                ScrollArea::vertical().id_salt("page").auto_shrink([false, false]).show(ui, |ui| {
                    let room = ui.available_width() - style.px(10.0);
                    let has_pages = prepared.has_pages();
                    let width = room.min(style.px(if has_pages { WIDEST_PAGE } else { WIDEST }));
                    ui.horizontal_top(|ui| {
                        ui.add_space(0.5 * (room - width));
                        ui.vertical(|ui| {
                            ui.set_width(width);
                            ui.spacing_mut().item_spacing = Vec2::new(style.px(8.0), style.px(4.0));
                            if pages.document.is_none() && pages.pages.is_empty() {
                                pages.document = prepared.document(panel.units());
                                pages.pages = prepared.pages().unwrap_or_default();
                            }
                            // A still is looked at in the finder.
                            if let Some(document) = pages.document.clone() {
                                document_ui(ui, style, pages, &document);
                            }
                            pages_ui(ui, style, pages);
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

fn note(ui: &mut Ui, style: &WindowStyle, words: &str) {
    ui.add(egui::Label::new(style.note(words)).wrap());
}

/// What at the left, how much at the right of it, and what is noted of it below.
fn fact_row_ui(ui: &mut Ui, style: &WindowStyle, what: &str, value: &str, said: Option<&str>) {
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

fn caution_ui(ui: &mut Ui, style: &WindowStyle, caution: &str) {
    let indent = style.px(20.0);
    let galley = style.wrapped(ui.painter(), caution, style.body(), style.ink(), ui.available_width() - indent);
    let (rect, response) =
        ui.allocate_exact_size(Vec2::new(ui.available_width(), galley.size().y + style.px(2.0)), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, format!("caution: {caution}")));
    caution_sign(ui.painter(), style, rect.left_top() + Vec2::new(style.px(7.0), style.px(9.0)));
    ui.painter().galley(rect.left_top() + Vec2::new(indent, 0.0), galley, style.ink());
}

/// Something to read.
fn document_ui(ui: &mut Ui, style: &WindowStyle, pages: &mut PreviewPages, document: &Document) {
    let title = egui::RichText::new(&*document.title).font(style.strong(20.0)).color(style.ink());
    ui.add(egui::Label::new(title).wrap());
    note(ui, style, &document.subtitle);
    let mut drawn = 0;
    blocks_ui(ui, style, pages, &document.blocks, &mut drawn);
    ui.add_space(style.px(6.0));
    note(ui, style, &document.footer);
}

/// Blocks in order; `drawn` counts the drawings of this frame.
fn blocks_ui(ui: &mut Ui, style: &WindowStyle, pages: &mut PreviewPages, blocks: &[DocumentBlock], drawn: &mut usize) {
    for block in blocks {
        match block {
            DocumentBlock::Section { title, blocks } => {
                heading(ui, style, title);
                blocks_ui(ui, style, pages, blocks, drawn);
            }
            DocumentBlock::Illustration(drawing, words) => {
                let width = ui.available_width();
                let scale = width / screen(drawing.width_pt.max(1.0));
                let (rect, response) =
                    ui.allocate_exact_size(Vec2::new(width, screen(drawing.height_pt) * scale), Sense::hover());
                response.widget_info(|| WidgetInfo::labeled(WidgetType::Image, true, &**words));
                ui.painter().rect_filled(rect, 0.0, style.panel());
                paint(ui, style, pages, *drawn, &drawing.marks, (rect, scale));
                ui.painter().rect_stroke(rect, 0.0, style.hairline(), StrokeKind::Inside);
                *drawn += 1;
            }
            DocumentBlock::Facts(facts) => facts.iter().for_each(|fact| fact_ui(ui, style, fact)),
            DocumentBlock::Cautions(cautions) => cautions.iter().for_each(|caution| caution_ui(ui, style, caution)),
        }
    }
}

/// Paints marks, laid out anew only where they stand elsewhere.
fn paint(
    ui: &Ui,
    style: &WindowStyle,
    pages: &mut PreviewPages,
    number: usize,
    marks: &[Mark],
    (rect, scale): (Rect, f32),
) {
    let placing = DrawingPlacement { rect, scale, pixels_per_point: ui.pixels_per_point() };
    match pages.drawings.get_mut(number) {
        Some((known, drawing)) if *drawing.placing() == placing && known == style => {}
        Some(outdated) => *outdated = (*style, ScreenDrawing::of(style, marks, placing)),
        None => pages.drawings.push((*style, ScreenDrawing::of(style, marks, placing))),
    }
    if let Some((_, drawing)) = pages.drawings.get(number) {
        drawing.paint(ui.painter());
    }
}

/// The very pages that are written, on white paper in every theme.
fn pages_ui(ui: &mut Ui, style: &WindowStyle, kept: &mut PreviewPages) {
    let pages = std::mem::take(&mut kept.pages);
    let paper = WindowStyle { theme: Theme::Paper, ..*style };
    let mut drawn = 0;
    // Sheets lie below one another, the two sides of a small card beside one another.
    let small = pages.first().is_some_and(|page| page.width_pt < SMALL_PAGE_PT);
    let gap = style.px(16.0);
    let across = if small { 2 } else { 1 };
    let each = (ui.available_width() - gap * (count(across) - 1.0)) / count(across);
    for row in pages.chunks(across) {
        ui.horizontal_top(|ui| {
            ui.spacing_mut().item_spacing.x = gap;
            for page in row {
                page_of_paper_ui(ui, &paper, kept, page, each, &mut drawn);
            }
        });
        ui.add_space(gap);
    }
    kept.pages = pages;
}

/// A page that is narrower than this has another beside it.
const SMALL_PAGE_PT: f64 = 450.0;

fn page_of_paper_ui(
    ui: &mut Ui,
    style: &WindowStyle,
    kept: &mut PreviewPages,
    page: &Page,
    width: f32,
    drawn: &mut usize,
) {
    let scale = width / screen(page.width_pt.max(1.0));
    let (rect, response) = ui.allocate_exact_size(Vec2::new(width, screen(page.height_pt) * scale), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, page.text()));
    ui.painter().rect_filled(rect, 0.0, egui::Color32::WHITE);
    ui.painter().rect_stroke(rect, 0.0, style.hairline(), StrokeKind::Outside);
    let on_window = |room: &Room| {
        let at = |x: f64, y: f64| rect.min + Vec2::new(screen(x), screen(y)) * scale;
        Rect::from_min_max(at(room.left, room.top), at(room.right, room.bottom))
    };
    let whole = Rect::from_min_max(Pos2::ZERO, Pos2::new(1.0, 1.0));
    let mut run: Vec<Mark> = Vec::new();
    for mark in &page.marks {
        if let PageMark::Mark(mark) = mark {
            run.push(mark.clone());
            continue;
        }
        if !run.is_empty() {
            paint(ui, style, kept, *drawn, &std::mem::take(&mut run), (rect, scale));
            *drawn += 1;
        }
        match mark {
            PageMark::Mark(_) => {}
            PageMark::Picture(picture, room) => {
                let room = on_window(room);
                match texture(ui, kept, picture) {
                    Some(texture) => {
                        ui.painter().image(texture, room, whole, egui::Color32::WHITE);
                    }
                    None => {
                        ui.painter().rect_filled(room, 0.0, style.well());
                    }
                }
            }
            PageMark::Drawing(drawing, room) => {
                let room = on_window(room);
                paint(
                    ui,
                    style,
                    kept,
                    *drawn,
                    &drawing.marks,
                    (room, room.width() / screen(drawing.width_pt.max(1.0))),
                );
                *drawn += 1;
            }
            // The logo's file is decoded by who reads the page; its place is shown.
            PageMark::Logo(_, room) => {
                ui.painter().rect_stroke(on_window(room), 0.0, style.hairline(), StrokeKind::Inside);
            }
        }
    }
    if !run.is_empty() {
        paint(ui, style, kept, *drawn, &run, (rect, scale));
        *drawn += 1;
    }
}

/// The texture of a picture; one that stands on several pages has one.
fn texture(ui: &Ui, kept: &mut PreviewPages, picture: &Arc<Picture>) -> Option<egui::TextureId> {
    if let Some((_, texture)) = kept.textures.iter().find(|(known, _)| Arc::ptr_eq(known, picture)) {
        return Some(texture.id());
    }
    let image = image([picture.width_px, picture.height_px], &picture.rgb)?;
    let name = format!("page {} {}", kept.version, kept.textures.len());
    // Pictures are shown smaller than they are.
    let options = TextureOptions { mipmap_mode: Some(egui::TextureFilter::Linear), ..TextureOptions::LINEAR };
    let texture = ui.ctx().load_texture(name, image, options);
    let id = texture.id();
    kept.textures.push((Arc::clone(picture), texture));
    Some(id)
}

fn fact_ui(ui: &mut Ui, style: &WindowStyle, fact: &Fact) {
    fact_row_ui(ui, style, &fact.label, &fact.value, fact.note.as_deref());
}
