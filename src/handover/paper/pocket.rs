//! How is a document for the pocket laid out on A5: its illustrations side by side, everything else in two columns below, in
//! as large a type as leaves it on one page?

use crate::drawing::{Role, Room, Weight};
use crate::handover::document::{Document, DocumentBlock, Fact, Illustration, ListMarks, Section};

use super::canvas::{A5_PT, PageCanvas, PaperFile, TextStyle};
use super::error::PaperError;

/// Sizes of type from the largest to the smallest that can be read.
const SIZES_PT: [f64; 7] = [8.6, 8.2, 7.8, 7.4, 7.0, 6.6, SMALLEST_PT];
const SMALLEST_PT: f64 = 6.2;
const MARGIN_PT: f64 = 24.0;
const WIDTH_PT: f64 = A5_PT.0 - 2.0 * MARGIN_PT;
/// Where illustrations start, below the heading.
const TOP_PT: f64 = 58.0;
/// The highest an illustration gets.
const HIGHEST_PT: f64 = 190.0;
/// From the bottom up to the footer.
const FOOTER_PT: f64 = 30.0;
/// Between the columns.
const GAP_PT: f64 = 16.0;

/// Draws a document's pages; beyond the smallest type what does not fit runs over.
pub(super) fn draw(document: &Document, paper: &mut PaperFile) -> Result<(), PaperError> {
    let illustrations = placed(document);
    let top = illustrations.first().map_or(TOP_PT, |(_, room)| room.bottom + 10.0);
    let sized = |size_pt| Columns::of(document, Styles { size_pt }, top);
    let columns = SIZES_PT.into_iter().map(sized).find(|columns| columns.pages() == 1);
    let columns = columns.unwrap_or_else(|| sized(SMALLEST_PT));
    for page in 0..columns.pages() {
        paper.page(A5_PT, |canvas| {
            head(canvas, document);
            if page == 0 {
                for (illustration, room) in &illustrations {
                    canvas.illustration(illustration, room)?;
                }
            }
            columns.draw(canvas, page);
            let style = TextStyle::new(6.0, Weight::Regular, Role::Soft);
            canvas.paragraph(&document.footer, (MARGIN_PT, A5_PT.1 - FOOTER_PT), WIDTH_PT, &style);
            Ok(())
        })?;
    }
    Ok(())
}

fn head(canvas: &mut PageCanvas<'_>, document: &Document) {
    for (text, y, style) in [
        (&document.title, 37.0, TextStyle::new(16.0, Weight::Semibold, Role::Ink)),
        (&document.subtitle, 50.0, TextStyle::new(8.5, Weight::Regular, Role::Soft)),
    ] {
        let line = style.lines(text, WIDTH_PT).into_iter().next().unwrap_or_default();
        canvas.text(&line, (MARGIN_PT, y), &style);
    }
}

/// The illustrations in a row, all equally high, together as wide as the page.
fn placed(document: &Document) -> Vec<(&Illustration, Room)> {
    let illustrations: Vec<&Illustration> = document
        .blocks
        .iter()
        .filter_map(|block| match block {
            DocumentBlock::Illustration(illustration) => Some(illustration),
            _ => None,
        })
        .collect();
    let gap = 10.0;
    let gaps = gap * illustrations.len().saturating_sub(1) as f64;
    let aspects: f64 = illustrations.iter().map(|illustration| illustration.aspect()).sum();
    let height = ((WIDTH_PT - gaps) / aspects.max(1e-9)).min(HIGHEST_PT);
    let mut left = MARGIN_PT;
    illustrations
        .into_iter()
        .map(|illustration| {
            let right = left + height * illustration.aspect();
            let room = Room { left, top: TOP_PT, right, bottom: TOP_PT + height };
            left = right + gap;
            (illustration, room)
        })
        .collect()
}

/// The styles of type at one size.
#[derive(Clone, Copy)]
struct Styles {
    size_pt: f64,
}

impl Styles {
    const fn heading(self, role: Role) -> TextStyle {
        TextStyle::new(self.size_pt * 1.18, Weight::Semibold, role)
    }

    const fn label(self) -> TextStyle {
        TextStyle::new(self.size_pt * 0.92, Weight::Regular, Role::Soft)
    }

    const fn value(self) -> TextStyle {
        TextStyle::new(self.size_pt, Weight::Semibold, Role::Ink)
    }

    const fn body(self) -> TextStyle {
        TextStyle::new(self.size_pt, Weight::Regular, Role::Ink)
    }
}

/// Where the next line of a column goes.
#[derive(Clone, Copy, PartialEq, PartialOrd)]
struct End {
    page: usize,
    y: f64,
}

/// A line where it stands.
struct PocketLine {
    text: String,
    left: f64,
    style: TextStyle,
    page: usize,
    y: f64,
    /// Whether a rule across the column stands above it.
    ruled: bool,
}

/// Sections in two columns, each in the one that is shorter when its turn comes.
struct Columns {
    styles: Styles,
    width_pt: f64,
    ends: [End; 2],
    lines: Vec<PocketLine>,
}

impl Columns {
    fn of(document: &Document, styles: Styles, top: f64) -> Self {
        let ends = [End { page: 0, y: top }; 2];
        let mut columns = Self { styles, width_pt: 0.5 * (WIDTH_PT - GAP_PT), ends, lines: Vec::new() };
        columns.add_blocks(&document.blocks);
        columns
    }

    fn add_blocks(&mut self, blocks: &[DocumentBlock]) {
        for block in blocks {
            match block {
                // Illustrations stand above.
                DocumentBlock::Illustration(_) => {}
                DocumentBlock::Section(section) => self.add_section(section),
                DocumentBlock::Columns(sections) => sections.iter().for_each(|section| self.add_section(section)),
                block => {
                    let side = self.shorter();
                    self.add_content(side, block);
                    self.ends[side].y += 0.5 * self.styles.size_pt;
                }
            }
        }
    }

    fn shorter(&self) -> usize {
        usize::from(self.ends[1] < self.ends[0])
    }

    fn add_section(&mut self, section: &Section) {
        let side = self.shorter();
        let role = if section.cautions { Role::Ask } else { Role::Ink };
        self.add(side, &section.title, &self.styles.heading(role), 0.0, true);
        for block in &section.blocks {
            self.add_content(side, block);
        }
        self.ends[side].y += 0.5 * self.styles.size_pt;
    }

    fn add_content(&mut self, side: usize, block: &DocumentBlock) {
        let body = self.styles.body();
        match block {
            DocumentBlock::Facts(facts) => facts.iter().for_each(|fact| self.add_fact(side, fact)),
            DocumentBlock::Paragraph(paragraph) => self.add(side, &paragraph.text, &body, 0.0, false),
            DocumentBlock::List(list) => {
                for (item, letter) in list.items.iter().zip(('A'..='Z').cycle()) {
                    let lead = item.lead.as_ref().map_or_else(String::new, |lead| format!("{lead}: "));
                    let text = match list.marks {
                        ListMarks::Letters => format!("{letter}  {lead}{}", item.text),
                        ListMarks::Bullets => format!("{lead}{}", item.text),
                    };
                    self.add(side, &text, &body, 0.0, false);
                    self.ends[side].y += 0.25 * self.styles.size_pt;
                }
            }
            DocumentBlock::Table(table) => {
                for row in &table.rows {
                    self.add(side, &row.name, &self.styles.value(), 0.0, true);
                    for (column, cell) in table.columns.iter().zip(&row.cells) {
                        self.add_fact(side, &Fact { label: column.clone(), value: cell.clone(), note: None });
                    }
                }
            }
            DocumentBlock::Article(article) => {
                self.add(side, &article.title, &self.styles.value(), 0.0, true);
                for paragraph in &article.paragraphs {
                    self.add(side, &paragraph.text, &body, 0.0, false);
                }
            }
            DocumentBlock::Section(section) => {
                self.add(side, &section.title, &self.styles.value(), 0.0, true);
                section.blocks.iter().for_each(|block| self.add_content(side, block));
            }
            DocumentBlock::Columns(sections) => {
                for section in sections {
                    self.add(side, &section.title, &self.styles.value(), 0.0, true);
                    section.blocks.iter().for_each(|block| self.add_content(side, block));
                }
            }
            DocumentBlock::Illustration(_) | DocumentBlock::Gallery(_) => {}
        }
    }

    /// Adds a text in lines at the end of a column, on the next page where this one is full.
    fn add(&mut self, side: usize, text: &str, style: &TextStyle, indent_pt: f64, ruled: bool) {
        for (index, line) in style.lines(text, self.width_pt - indent_pt).into_iter().enumerate() {
            let end = &mut self.ends[side];
            if end.y + style.leading_pt() > A5_PT.1 - FOOTER_PT - 8.0 {
                *end = End { page: end.page + 1, y: TOP_PT };
            }
            let End { page, y } = *end;
            end.y += style.leading_pt();
            self.place(side, line, style, indent_pt, End { page, y }, ruled && index == 0);
        }
    }

    fn place(&mut self, side: usize, text: String, style: &TextStyle, indent_pt: f64, at: End, ruled: bool) {
        let left = self.left(side) + indent_pt;
        self.lines.push(PocketLine { text, left, style: *style, page: at.page, y: at.y, ruled });
    }

    fn left(&self, side: usize) -> f64 {
        MARGIN_PT + side as f64 * (self.width_pt + GAP_PT)
    }

    /// Adds a label, its value beside it where there is room, and its note under it.
    fn add_fact(&mut self, side: usize, fact: &Fact) {
        let (label, value) = (self.styles.label(), self.styles.value());
        let indent = 0.34 * self.width_pt;
        let end = self.ends[side];
        let beside = label.width_pt(&fact.label) < indent - 4.0
            && value.width_pt(&fact.value) <= self.width_pt - indent
            && end.y + value.leading_pt() <= A5_PT.1 - FOOTER_PT - 8.0;
        if beside {
            self.place(side, fact.label.to_string(), &label, 0.0, end, false);
            self.place(side, fact.value.to_string(), &value, indent, end, false);
            self.ends[side].y += value.leading_pt();
        } else {
            self.add(side, &fact.label, &label, 0.0, false);
            self.add(side, &fact.value, &value, 0.0, false);
        }
        if let Some(note) = &fact.note {
            self.add(side, note, &label, if beside { indent } else { 0.0 }, false);
        }
        self.ends[side].y += 0.12 * self.styles.size_pt;
    }

    fn pages(&self) -> usize {
        self.lines.iter().map(|line| line.page + 1).max().unwrap_or(1)
    }

    fn draw(&self, canvas: &mut PageCanvas<'_>, page: usize) {
        for line in self.lines.iter().filter(|line| line.page == page) {
            if line.ruled {
                let pen = Role::Line.pen(0.7);
                canvas.rule((line.left, line.y - 1.0), (line.left + self.width_pt, line.y - 1.0), pen);
            }
            // Everything of one line stands on one baseline.
            let baseline = line.y + 1.05 * line.style.size_pt.max(self.styles.size_pt);
            canvas.text(&line.text, (line.left, baseline), &line.style);
        }
    }
}
