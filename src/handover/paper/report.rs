//! How is a document for the desk laid out on A4: an overview on the first page, two articles on each of the next, the rest
//! line by line?

use std::collections::VecDeque;

use crate::drawing::{Role, Room, Weight};
use crate::handover::document::{
    Article, Document, DocumentBlock, Fact, GalleryPicture, Illustration, Image, Letterhead, ListMarks, Section, Tone,
};

use super::canvas::{A4_PT, PageCanvas, PaperFile, TextStyle};
use super::error::PaperError;

/// What a page leaves to its margins.
const INNER: Room = Room { left: 48.0, top: 54.0, right: A4_PT.0 - 48.0, bottom: A4_PT.1 - 50.0 };
const WIDTH_PT: f64 = INNER.right - INNER.left;

const TITLE: TextStyle = TextStyle::new(24.0, Weight::Semibold, Role::Ink);
const HEADING: TextStyle = TextStyle::new(14.0, Weight::Semibold, Role::Ink);
const NAME: TextStyle = TextStyle::new(10.5, Weight::Semibold, Role::Ink);
const BODY: TextStyle = TextStyle::new(9.5, Weight::Regular, Role::Ink);
const LABEL: TextStyle = TextStyle::new(9.5, Weight::Regular, Role::Soft);
const CAPTION: TextStyle = TextStyle::new(8.5, Weight::Regular, Role::Soft);
const SMALL: TextStyle = TextStyle::new(8.0, Weight::Regular, Role::Soft);

fn toned(tone: Tone) -> TextStyle {
    let role = match tone {
        Tone::Plain => Role::Ink,
        Tone::Note => Role::Soft,
        Tone::Needed => Role::Ask,
    };
    TextStyle { role, ..BODY }
}

/// A document's parts by the pages that they stand on.
#[derive(Default)]
struct Parts<'a> {
    gallery: &'a [GalleryPicture],
    drawings: Vec<&'a Illustration>,
    articles: Vec<&'a Article>,
    lines: VecDeque<SheetLine<'a>>,
}

/// What is set line by line: each is kept together on a page.
enum SheetLine<'a> {
    Heading(&'a str),
    /// What is above its facts, and these, two beside one another.
    Named(String, Vec<Fact>),
    /// A text, and whether a bullet stands before it.
    Text(String, TextStyle, bool),
    Illustration(&'a Illustration),
}

impl<'a> Parts<'a> {
    fn of(document: &'a Document) -> Self {
        let mut parts = Self::default();
        parts.add(&document.blocks);
        parts
    }

    fn add(&mut self, blocks: &'a [DocumentBlock]) {
        for block in blocks {
            match block {
                DocumentBlock::Section(section) => self.add_section(section),
                DocumentBlock::Columns(sections) => sections.iter().for_each(|section| self.add_section(section)),
                DocumentBlock::Illustration(illustration) => match illustration.image {
                    Image::Drawing(_) => self.drawings.push(illustration),
                    Image::Picture(_) => self.lines.push_back(SheetLine::Illustration(illustration)),
                },
                DocumentBlock::Gallery(pictures) => self.gallery = pictures,
                DocumentBlock::Article(article) => self.articles.push(article),
                DocumentBlock::Paragraph(paragraph) => {
                    self.lines.push_back(SheetLine::Text(paragraph.text.to_string(), toned(paragraph.tone), false));
                }
                DocumentBlock::Facts(facts) => self.lines.push_back(SheetLine::Named(String::new(), facts.clone())),
                DocumentBlock::List(list) => {
                    for (item, letter) in list.items.iter().zip(('A'..='Z').cycle()) {
                        let lead = item.lead.as_ref().map_or_else(String::new, |lead| format!("{lead}: "));
                        let (mark, bullet) = match list.marks {
                            ListMarks::Letters => (format!("{letter}  "), false),
                            ListMarks::Bullets => (String::new(), true),
                        };
                        self.lines.push_back(SheetLine::Text(format!("{mark}{lead}{}", item.text), BODY, bullet));
                    }
                }
                DocumentBlock::Table(table) => {
                    for row in &table.rows {
                        let cells = table.columns.iter().zip(&row.cells);
                        let facts = cells.map(|(column, cell)| Fact::new(&**column, &**cell)).collect();
                        let number = row.number.map_or_else(String::new, |number| format!("{number}  "));
                        self.lines.push_back(SheetLine::Named(format!("{number}{}", row.name), facts));
                    }
                }
            }
        }
    }

    /// A heading stands only over what follows it line by line.
    fn add_section(&mut self, section: &'a Section) {
        let before = self.lines.len();
        self.lines.push_back(SheetLine::Heading(&section.title));
        self.add(&section.blocks);
        if self.lines.len() == before + 1 {
            self.lines.pop_back();
        }
    }
}

/// Draws a document's pages.
pub(super) fn draw(document: &Document, paper: &mut PaperFile) -> Result<(), PaperError> {
    let mut parts = Parts::of(document);
    let footer = |canvas: &mut PageCanvas<'_>| {
        let style = TextStyle::new(7.0, Weight::Regular, Role::Soft);
        canvas.paragraph(&document.footer, (INNER.left, INNER.bottom + 12.0), WIDTH_PT, &style);
    };
    paper.page(A4_PT, |canvas| {
        let y = head(canvas, document)?;
        overview(canvas, &parts, y)?;
        footer(canvas);
        Ok(())
    })?;
    for two in parts.articles.chunks(2) {
        paper.page(A4_PT, |canvas| {
            let half = 0.5 * (INNER.bottom - INNER.top);
            for (index, article) in two.iter().enumerate() {
                let top = INNER.top + index as f64 * half;
                draw_article(canvas, article, &Room { top, bottom: top + half - 14.0, ..INNER })?;
            }
            footer(canvas);
            Ok(())
        })?;
    }
    while !parts.lines.is_empty() {
        paper.page(A4_PT, |canvas| {
            draw_lines(canvas, &mut parts.lines)?;
            footer(canvas);
            Ok(())
        })?;
    }
    Ok(())
}

/// Letterhead, heading and introduction; where they end.
fn head(canvas: &mut PageCanvas<'_>, document: &Document) -> Result<f64, PaperError> {
    let mut y = INNER.top;
    if let Some(letterhead) = &document.letterhead {
        y = draw_letterhead(canvas, letterhead, y)?;
    }
    y = canvas.paragraph(&document.title, (INNER.left, y), WIDTH_PT, &TITLE);
    let subtitle = TextStyle::new(10.5, Weight::Regular, Role::Soft);
    y = canvas.paragraph(&document.subtitle, (INNER.left, y + 2.0), WIDTH_PT, &subtitle);
    if let Some(introduction) = &document.introduction {
        let style = TextStyle { role: Role::Ink, ..subtitle };
        y = canvas.paragraph(introduction, (INNER.left, y + 8.0), WIDTH_PT, &style);
    }
    Ok(y + 14.0)
}

fn draw_letterhead(canvas: &mut PageCanvas<'_>, letterhead: &Letterhead, top: f64) -> Result<f64, PaperError> {
    let small = TextStyle::new(9.0, Weight::Regular, Role::Soft);
    let mut left = INNER.left;
    if let Some(logo) = &letterhead.logo {
        let room = Room { left, top: top - 18.0, right: left + 120.0, bottom: top + 14.0 };
        left += canvas.logo(logo, &room)? + 10.0;
    }
    canvas.text(&letterhead.name, (left, top + 2.0), &TextStyle::new(12.0, Weight::Semibold, Role::Ink));
    let mut line_y = top - 10.0;
    for line in &letterhead.contact {
        canvas.text(line, (INNER.right - small.width_pt(line), line_y + 2.0), &small);
        line_y += small.leading_pt();
    }
    let y = (top + 18.0).max(line_y + 2.0);
    canvas.rule((INNER.left, y), (INNER.right, y), Role::Ink.pen(1.4));
    Ok(y + 16.0)
}

/// The gallery's main pictures, small, and the drawings below them, as wide as the page.
fn overview(canvas: &mut PageCanvas<'_>, parts: &Parts<'_>, top: f64) -> Result<(), PaperError> {
    let gap = 16.0;
    let heights: Vec<f64> = parts.drawings.iter().map(|drawing| WIDTH_PT / drawing.aspect()).collect();
    let lowest = INNER.bottom - heights.iter().map(|height| height + gap).sum::<f64>();
    let mut y = gallery(canvas, parts.gallery, &Room { top, bottom: lowest, ..INNER })?.min(lowest);
    for (drawing, height) in parts.drawings.iter().zip(heights) {
        y += gap;
        canvas.illustration(drawing, &Room { top: y, bottom: y + height, ..INNER })?;
        y += height;
    }
    Ok(())
}

/// Pictures in as few rows as leave them large; where they end.
fn gallery(canvas: &mut PageCanvas<'_>, pictures: &[GalleryPicture], room: &Room) -> Result<f64, PaperError> {
    let main: Vec<_> = pictures.iter().filter_map(|picture| Some((picture, picture.main.as_ref()?))).collect();
    let (gap, below) = (10.0, 18.0);
    let aspect = |(shown, _): &(&GalleryPicture, _)| {
        f64::from(shown.picture.width_px) / f64::from(shown.picture.height_px.max(1))
    };
    let height_of = |rows: usize| {
        let across = main.len().div_ceil(rows);
        let widest = main.chunks(across.max(1)).map(|row| row.iter().map(aspect).sum::<f64>()).fold(0.1, f64::max);
        let by_width = (room.right - room.left - gap * across.saturating_sub(1) as f64) / widest;
        by_width.min((room.bottom - room.top) / rows as f64 - below)
    };
    let most = 3.min(main.len());
    let rows = (1..=most).reduce(|a, b| if height_of(b) > 1.25 * height_of(a) { b } else { a }).unwrap_or(1);
    let height_pt = height_of(rows);
    // Long words at the beginning leave no room; every picture stands on its own page all the same.
    if main.is_empty() || height_pt < 30.0 {
        return Ok(room.top);
    }
    for (row, shown) in main.chunks(main.len().div_ceil(rows)).enumerate() {
        let top = room.top + row as f64 * (height_pt + below);
        let mut left = room.left;
        for picture in shown {
            let width_pt = height_pt * aspect(picture);
            canvas.picture(&picture.0.picture, &Room { left, top, right: left + width_pt, bottom: top + height_pt })?;
            let name = SMALL.lines(picture.1, width_pt).into_iter().next().unwrap_or_default();
            canvas.text(&name, (left, top + height_pt + 10.0), &SMALL);
            left += width_pt + gap;
        }
    }
    Ok(room.top + rows as f64 * (height_pt + below))
}

/// An article on half a page: what there is to say, and its pictures beside one another.
fn draw_article(canvas: &mut PageCanvas<'_>, article: &Article, room: &Room) -> Result<(), PaperError> {
    let width_pt = room.right - room.left;
    canvas.rule((room.left, room.top), (room.right, room.top), Role::Line.pen(0.8));
    let title = format!("{}  {}", article.number, article.title);
    let title = HEADING.lines(&title, width_pt).into_iter().next().unwrap_or_default();
    canvas.text(&title, (room.left, room.top + 18.0), &HEADING);
    let mut y = room.top + 24.0;
    for paragraph in &article.paragraphs {
        y = canvas.paragraph(&paragraph.text, (room.left, y), width_pt, &toned(paragraph.tone));
    }
    let (count, gap) = (article.illustrations.len().max(1) as f64, 12.0);
    let each = (width_pt - gap * (count - 1.0)) / count;
    // Captions may take two lines where pictures are narrow.
    let pictures = Room { left: room.left, top: y + 6.0, right: room.right, bottom: room.bottom - 26.0 };
    for (index, illustration) in article.illustrations.iter().enumerate() {
        let left = pictures.left + index as f64 * (each + gap);
        let placed = canvas.fitted(illustration, &Room { left, right: left + each, ..pictures })?;
        if let Some(caption) = &illustration.caption {
            canvas.paragraph(caption, (placed.left, placed.bottom + 2.0), each, &CAPTION);
        }
    }
    Ok(())
}

/// From the left of a fact's label to its value.
const BESIDE_PT: f64 = 114.0;
/// Half the page, for one of two facts.
const HALF_PT: f64 = 0.5 * (WIDTH_PT - 16.0);

impl SheetLine<'_> {
    fn height_pt(&self) -> f64 {
        match self {
            // With the first lines of what follows.
            Self::Heading(_) => 60.0,
            Self::Named(_, facts) => {
                let of =
                    |fact: &Fact| BODY.lines(&value_of(fact), HALF_PT - BESIDE_PT).len() as f64 * BODY.leading_pt();
                22.0 + facts.chunks(2).map(|two| two.iter().map(of).fold(0.0, f64::max) + 2.0).sum::<f64>()
            }
            Self::Text(text, style, bullet) => {
                style.lines(text, WIDTH_PT - indent_pt(*bullet)).len() as f64 * style.leading_pt() + 3.0
            }
            Self::Illustration(illustration) => {
                (WIDTH_PT / illustration.aspect()).min(0.5 * (INNER.bottom - INNER.top)) + 28.0
            }
        }
    }

    /// Draws it from a height on; where it ends.
    fn draw(&self, canvas: &mut PageCanvas<'_>, top: f64) -> Result<f64, PaperError> {
        let mut y = top;
        match self {
            Self::Heading(text) => {
                y += if y > INNER.top { 14.0 } else { 0.0 };
                canvas.text(text, (INNER.left, y + 14.0), &HEADING);
                y += 24.0;
            }
            Self::Named(name, facts) => {
                canvas.rule((INNER.left, y), (INNER.right, y), Role::Line.pen(0.8));
                if !name.is_empty() {
                    canvas.text(name, (INNER.left, y + 13.0), &NAME);
                    y += 18.0;
                }
                for two in facts.chunks(2) {
                    let mut lowest = y;
                    for (index, fact) in two.iter().enumerate() {
                        let left = INNER.left + index as f64 * (HALF_PT + 16.0);
                        canvas.text(&fact.label, (left, y + 1.05 * LABEL.size_pt), &LABEL);
                        let at = (left + BESIDE_PT, y);
                        lowest = lowest.max(canvas.paragraph(&value_of(fact), at, HALF_PT - BESIDE_PT, &BODY));
                    }
                    y = lowest + 2.0;
                }
                y += 4.0;
            }
            Self::Text(text, style, bullet) => {
                let indent = indent_pt(*bullet);
                if *bullet {
                    canvas.text("·", (INNER.left, y + 1.05 * style.size_pt), style);
                }
                y = canvas.paragraph(text, (INNER.left + indent, y), WIDTH_PT - indent, style) + 3.0;
            }
            Self::Illustration(illustration) => {
                let room = Room { top: y, bottom: y + self.height_pt() - 28.0, ..INNER };
                y = canvas.fitted(illustration, &room)?.bottom;
                if let Some(caption) = &illustration.caption {
                    y = canvas.paragraph(caption, (INNER.left, y + 2.0), WIDTH_PT, &CAPTION);
                }
                y += 8.0;
            }
        }
        Ok(y)
    }
}

fn indent_pt(bullet: bool) -> f64 {
    if bullet { 12.0 } else { 0.0 }
}

fn value_of(fact: &Fact) -> String {
    let note = fact.note.as_ref().map_or_else(String::new, |note| format!("; {note}"));
    format!("{}{note}", fact.value)
}

/// Sets as many lines as find room on a page; at least one.
fn draw_lines(canvas: &mut PageCanvas<'_>, lines: &mut VecDeque<SheetLine<'_>>) -> Result<(), PaperError> {
    let mut y = INNER.top;
    while let Some(line) = lines.pop_front_if(|line| y <= INNER.top || y + line.height_pt() <= INNER.bottom) {
        y = line.draw(canvas, y)?;
    }
    Ok(())
}
