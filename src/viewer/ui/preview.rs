//! What will it look like to whoever gets it? A card, a sheet, places or a sequence as a page on the table, before it is
//! written.

use std::sync::Arc;

use bevy_egui::egui::{
    self, Pos2, Rect, ScrollArea, Sense, Stroke, StrokeKind, TextureHandle, TextureOptions, Ui, Vec2, WidgetInfo,
    WidgetType,
};

use crate::drawing::Drawing;
use crate::handover::document::{
    Article, Document, DocumentBlock, Fact, Illustration, Image, List, ListMarks, PageLayout, Paragraph, Section,
    Table as FactTable, Tone,
};
use crate::still::Picture;
use crate::viewer::render::narrow::screen;
use crate::viewer::state::desk::DeliveryView;

use super::context::PanelContext;
use super::draw::{DrawingPlacement, ScreenDrawing};
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
    /// It as a page.
    document: Option<Arc<Document>>,
    textures: Vec<TextureHandle>,
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
                    let width = room.min(style.px(WIDEST));
                    ui.horizontal_top(|ui| {
                        ui.add_space(0.5 * (room - width));
                        ui.vertical(|ui| {
                            ui.set_width(width);
                            ui.spacing_mut().item_spacing = Vec2::new(style.px(8.0), style.px(4.0));
                            if pages.document.is_none() {
                                pages.document = prepared.document(panel.units());
                            }
                            // A still is looked at in the finder.
                            if let Some(document) = pages.document.clone() {
                                DocumentUi::new(style, pages).document(ui, &document);
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

/// Lays a document out on the window, with the same blocks as its page and its paper.
struct DocumentUi<'a> {
    style: &'a WindowStyle,
    pages: &'a mut PreviewPages,
    /// How many pictures and drawings have been shown in this frame.
    pictures: usize,
    drawings: usize,
}

impl<'a> DocumentUi<'a> {
    fn new(style: &'a WindowStyle, pages: &'a mut PreviewPages) -> Self {
        Self { style, pages, pictures: 0, drawings: 0 }
    }

    fn document(&mut self, ui: &mut Ui, document: &Document) {
        let style = self.style;
        if let Some(letterhead) = &document.letterhead {
            ui.label(style.title(&*letterhead.name));
            let contact: Vec<&str> = letterhead.contact.iter().map(|line| &**line).collect();
            note(ui, style, &contact.join(", "));
        }
        let title = egui::RichText::new(&*document.title).font(style.strong(20.0)).color(style.ink());
        ui.add(egui::Label::new(title).wrap());
        note(ui, style, &document.subtitle);
        if let Some(introduction) = &document.introduction {
            paragraph(ui, style, introduction);
        }
        let two_columns = document.layout == PageLayout::Pocket && ui.available_width() >= style.px(TWO_COLUMNS);
        if two_columns {
            self.columns(ui, &document.blocks);
        } else {
            self.blocks(ui, &document.blocks);
        }
        ui.add_space(style.px(6.0));
        note(ui, style, &document.footer);
    }

    /// Illustrations, and what their letters mark, at the left of everything else.
    fn columns(&mut self, ui: &mut Ui, blocks: &[DocumentBlock]) {
        let style = self.style;
        let lettered =
            |block: &DocumentBlock| matches!(block, DocumentBlock::List(list) if list.marks == ListMarks::Letters);
        let at_left = |block: &&DocumentBlock| match block {
            DocumentBlock::Illustration(_) => true,
            DocumentBlock::Section(section) => section.blocks.iter().any(lettered),
            _ => false,
        };
        let (left, right): (Vec<&DocumentBlock>, Vec<&DocumentBlock>) = blocks.iter().partition(at_left);
        let gap = style.px(22.0);
        let left_width = 0.45 * (ui.available_width() - gap);
        let right_width = ui.available_width() - gap - left_width;
        ui.horizontal_top(|ui| {
            ui.spacing_mut().item_spacing.x = 0.0;
            for (blocks, width) in [(left, left_width), (right, right_width)] {
                ui.vertical(|ui| {
                    ui.set_width(width);
                    ui.spacing_mut().item_spacing.x = style.px(8.0);
                    for block in blocks {
                        self.block(ui, block, false);
                    }
                });
                ui.add_space(gap);
            }
        });
    }

    fn blocks(&mut self, ui: &mut Ui, blocks: &[DocumentBlock]) {
        for block in blocks {
            self.block(ui, block, false);
        }
    }

    fn block(&mut self, ui: &mut Ui, block: &DocumentBlock, cautions: bool) {
        let style = self.style;
        match block {
            DocumentBlock::Section(section) => self.section(ui, section),
            DocumentBlock::Columns(sections) => sections.iter().for_each(|section| self.section(ui, section)),
            DocumentBlock::Illustration(illustration) => {
                let room = Vec2::new(ui.available_width(), style.px(330.0));
                self.illustration(ui, illustration, room);
                ui.add_space(style.px(6.0));
            }
            DocumentBlock::Gallery(pictures) if pictures.len() > 1 => {
                note(ui, style, "On the page any two pictures can be compared with a slider.");
            }
            DocumentBlock::Gallery(_) => {}
            DocumentBlock::Article(article) => self.article(ui, article),
            DocumentBlock::Paragraph(paragraph) => toned(ui, style, paragraph),
            DocumentBlock::Facts(facts) => facts.iter().for_each(|fact| fact_ui(ui, style, fact)),
            DocumentBlock::List(list) => list_ui(ui, style, list, cautions),
            DocumentBlock::Table(table) => table_ui(ui, style, table),
        }
    }

    fn section(&mut self, ui: &mut Ui, section: &Section) {
        heading(ui, self.style, &section.title);
        for block in &section.blocks {
            self.block(ui, block, section.cautions);
        }
    }

    fn article(&mut self, ui: &mut Ui, article: &Article) {
        let style = self.style;
        heading(ui, style, &format!("{}  {}", article.number, article.title));
        let (many, gap) = (article.illustrations.len() > 1, style.px(8.0));
        let each = count(article.illustrations.len().max(1));
        let width = (ui.available_width() - gap * (each - 1.0)) / each;
        let room = Vec2::new(width, style.px(if many { 220.0 } else { 260.0 }));
        ui.horizontal_top(|ui| {
            ui.spacing_mut().item_spacing.x = gap;
            for illustration in &article.illustrations {
                ui.vertical(|ui| {
                    ui.set_max_width(width);
                    self.illustration(ui, illustration, room);
                });
            }
        });
        for paragraph in &article.paragraphs {
            toned(ui, style, paragraph);
        }
    }

    fn illustration(&mut self, ui: &mut Ui, illustration: &Illustration, room: Vec2) {
        match &illustration.image {
            Image::Picture(picture) => {
                let texture = self.texture(ui, picture);
                picture_ui(ui, self.style, texture, picture, room, &illustration.alternative);
            }
            Image::Drawing(drawing) => self.drawing(ui, drawing, &illustration.alternative),
        }
        if let Some(caption) = &illustration.caption {
            note(ui, self.style, caption);
        }
    }

    /// The texture of the page's next picture.
    fn texture(&mut self, ui: &Ui, picture: &Picture) -> Option<egui::TextureId> {
        let number = self.pictures;
        self.pictures += 1;
        if number == self.pages.textures.len() {
            let image = image([picture.width_px, picture.height_px], &picture.rgb)?;
            let name = format!("page {} {number}", self.pages.version);
            self.pages.textures.push(ui.ctx().load_texture(name, image, TextureOptions::LINEAR));
        }
        self.pages.textures.get(number).map(TextureHandle::id)
    }

    /// A drawing as wide as the page.
    fn drawing(&mut self, ui: &mut Ui, drawing: &Drawing, words: &str) {
        let (style, number) = (self.style, self.drawings);
        self.drawings += 1;
        let width = ui.available_width();
        let scale = width / screen(drawing.width_pt.max(1.0));
        let size = Vec2::new(width, screen(drawing.height_pt) * scale);
        let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(WidgetType::Image, true, words));
        let placing = DrawingPlacement { rect, scale, pixels_per_point: ui.pixels_per_point() };
        let drawings = &mut self.pages.drawings;
        match drawings.get_mut(number) {
            Some((known, sheet)) if *sheet.placing() == placing && known == style => {}
            Some(outdated) => *outdated = (*style, ScreenDrawing::of(style, &drawing.marks, placing)),
            None => drawings.push((*style, ScreenDrawing::of(style, &drawing.marks, placing))),
        }
        ui.painter().rect_filled(rect, 0.0, style.panel());
        if let Some((_, sheet)) = drawings.get(number) {
            sheet.paint(ui.painter());
        }
        ui.painter().rect_stroke(rect, 0.0, style.hairline(), StrokeKind::Inside);
    }
}

fn toned(ui: &mut Ui, style: &WindowStyle, sentences: &Paragraph) {
    match sentences.tone {
        Tone::Plain => paragraph(ui, style, &sentences.text),
        Tone::Note => note(ui, style, &sentences.text),
        Tone::Needed => {
            ui.add(egui::Label::new(style.plain(&*sentences.text).color(style.ask())).wrap());
        }
    }
}

fn fact_ui(ui: &mut Ui, style: &WindowStyle, fact: &Fact) {
    fact_row_ui(ui, style, &fact.label, &fact.value, fact.note.as_deref());
}

fn list_ui(ui: &mut Ui, style: &WindowStyle, list: &List, cautions: bool) {
    for (item, letter) in list.items.iter().zip(('A'..='Z').cycle()) {
        let lead = item.lead.as_ref().map_or_else(String::new, |lead| format!("{lead}: "));
        let text = format!("{lead}{}", item.text);
        match (list.marks, cautions) {
            (_, true) => cautions_list_ui(ui, style, std::slice::from_ref(&text)),
            (ListMarks::Letters, false) => paragraph(ui, style, &format!("{letter}. {text}")),
            (ListMarks::Bullets, false) => paragraph(ui, style, &format!("· {text}")),
        }
    }
}

/// A narrow page has no room for a table: its rows stand below one another.
fn table_ui(ui: &mut Ui, style: &WindowStyle, table: &FactTable) {
    for row in &table.rows {
        let number = row.number.map_or_else(String::new, |number| format!("{number}  "));
        ui.label(style.plain(format!("{number}{}", row.name)).font(style.strong(13.0)));
        for (column, cell) in table.columns.iter().zip(&row.cells) {
            fact_row_ui(ui, style, column, cell, None);
        }
        ui.add_space(style.px(4.0));
    }
}
