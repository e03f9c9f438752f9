//! What stands where on a sheet of paper, before anything draws it?
//!
//! A [`Page`] is measured in points (1/72 inch) from its top left corner, x right, y down, and is always light. A PDF file and the
//! window draw the same pages.

use std::sync::Arc;

use crate::drawing::{Align, CanvasPoint, Drawing, Mark, Pen, Role, Room, Text, Tint, Weight, disc};
use crate::optics::Orientation;
use crate::still::{Lettering, Picture};

use super::brand::LogoFile;

/// One page.
#[derive(Clone, Debug, PartialEq)]
pub struct Page {
    /// Across.
    pub width_pt: f64,
    /// Down.
    pub height_pt: f64,
    /// What stands on it, each over what comes before it.
    pub marks: Vec<PageMark>,
}

impl Page {
    /// Everything that can be read on it, in order, for a screen reader.
    pub fn text(&self) -> String {
        let said = self.marks.iter().filter_map(|mark| match mark {
            PageMark::Mark(Mark::Text(text)) => Some(text.text.as_str()),
            PageMark::Drawing(drawing, _) => Some(drawing.words.as_str()),
            PageMark::Mark(_) | PageMark::Picture(..) | PageMark::Logo(..) => None,
        });
        said.collect::<Vec<_>>().join(" ")
    }
}

/// Something on a page.
#[derive(Clone, Debug, PartialEq)]
pub enum PageMark {
    /// Lines, areas and type.
    Mark(Mark),
    /// A picture, in a rectangle whose proportions it has.
    Picture(Arc<Picture>, Room),
    /// A drawing, in a rectangle whose proportions it has.
    Drawing(Arc<Drawing>, Room),
    /// Somebody's logo, as large as finds room at the top left of a rectangle.
    Logo(LogoFile, Room),
}

/// A size of paper.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum PaperSize {
    /// 210 × 297 mm, ISO 216.
    #[default]
    A4,
    /// 8½ × 11 inch, ANSI/ASME Y14.1.
    Letter,
}

/// A size of paper and how it is turned.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Paper {
    /// The size.
    pub size: PaperSize,
    /// How it is turned.
    pub turned: Orientation,
}

impl Default for Paper {
    fn default() -> Self {
        Self { size: PaperSize::A4, turned: Orientation::Landscape }
    }
}

impl Paper {
    /// Width and height in points.
    pub const fn size_pt(self) -> (f64, f64) {
        let (short, long) = match self.size {
            PaperSize::A4 => (595.28, 841.89),
            PaperSize::Letter => (612.0, 792.0),
        };
        match self.turned {
            Orientation::Portrait => (short, long),
            Orientation::Landscape => (long, short),
        }
    }

    /// Half of it, upright, for a pocket: A5 (148 × 210 mm, ISO 216), or half a Letter.
    pub const fn half_pt(self) -> (f64, f64) {
        match self.size {
            PaperSize::A4 => (419.53, 595.28),
            PaperSize::Letter => (396.0, 612.0),
        }
    }
}

/// Text set in one size, weight and colour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct TextStyle {
    pub(super) size_pt: f64,
    pub(super) weight: Weight,
    pub(super) role: Role,
}

impl TextStyle {
    pub(super) const fn new(size_pt: f64, weight: Weight, role: Role) -> Self {
        Self { size_pt, weight, role }
    }

    pub(super) const fn strong(self) -> Self {
        Self { weight: Weight::Semibold, ..self }
    }

    pub(super) const fn soft(self) -> Self {
        Self { role: Role::Soft, ..self }
    }

    /// From line to line.
    pub(super) fn leading_pt(&self) -> f64 {
        1.36 * self.size_pt
    }

    pub(super) fn width_pt(&self, text: &str) -> f64 {
        Lettering::new(self.weight, self.size_pt).width_px(text)
    }

    /// How many lines a text takes.
    pub(super) fn lines(&self, text: &str, width_pt: f64) -> usize {
        set(&[(text, *self)], width_pt).len()
    }
}

/// A stretch of one line in one style, and how far from the line's start it stands.
struct SetRun {
    left_pt: f64,
    text: String,
    style: TextStyle,
}

/// Texts that follow one another, in lines that are no longer than so much; a word that is longer is cut into pieces.
fn set(runs: &[(&str, TextStyle)], width_pt: f64) -> Vec<Vec<SetRun>> {
    let mut lines: Vec<Vec<SetRun>> = vec![Vec::new()];
    let mut end_pt = 0.0;
    for (text, style) in runs {
        let lettering = Lettering::new(style.weight, style.size_pt);
        let space_pt = lettering.width_px("n n") - lettering.width_px("nn");
        for (index, paragraph) in text.split('\n').enumerate() {
            if index > 0 {
                lines.push(Vec::new());
                end_pt = 0.0;
            }
            let mut starts = true;
            for word in paragraph.split_whitespace() {
                for piece in pieces(word, &lettering, width_pt) {
                    let long_pt = lettering.width_px(&piece);
                    let fresh = lines.last().is_none_or(Vec::is_empty);
                    let gap_pt = if fresh { 0.0 } else { space_pt };
                    let Some(line) = lines.last_mut() else { continue };
                    if !fresh && end_pt + gap_pt + long_pt > width_pt {
                        lines.push(vec![SetRun { left_pt: 0.0, text: piece, style: *style }]);
                        end_pt = long_pt;
                    } else {
                        match line.last_mut().filter(|_| !starts) {
                            Some(run) => {
                                run.text.push(' ');
                                run.text.push_str(&piece);
                            }
                            None => line.push(SetRun { left_pt: end_pt + gap_pt, text: piece, style: *style }),
                        }
                        end_pt += gap_pt + long_pt;
                    }
                    starts = false;
                }
            }
        }
    }
    lines
}

/// A word, in pieces where it is too long for a line.
fn pieces(word: &str, lettering: &Lettering, width_pt: f64) -> Vec<String> {
    let mut pieces = vec![String::new()];
    for letter in word.chars() {
        let Some(last) = pieces.last_mut() else { continue };
        last.push(letter);
        if lettering.width_px(last) > width_pt && last.chars().count() > 1 {
            last.pop();
            pieces.push(letter.to_string());
        }
    }
    pieces
}

/// Sets type and places pictures on a page.
pub(super) struct PageWriter {
    page: Page,
}

impl PageWriter {
    pub(super) const fn new((width_pt, height_pt): (f64, f64)) -> Self {
        Self { page: Page { width_pt, height_pt, marks: Vec::new() } }
    }

    pub(super) fn finish(self) -> Page {
        self.page
    }

    fn mark(&mut self, mark: Mark) {
        self.page.marks.push(PageMark::Mark(mark));
    }

    fn put(&mut self, text: &str, (x, baseline): CanvasPoint, align: Align, style: &TextStyle) {
        let capitals = Lettering::new(style.weight, style.size_pt).capitals_px();
        self.mark(Mark::Text(Text {
            text: text.into(),
            at: (x, baseline - 0.5 * capitals),
            align,
            size_pt: style.size_pt,
            weight: style.weight,
            role: style.role,
            plate: false,
        }));
    }

    /// One line of text that starts at the left end of its baseline.
    pub(super) fn text(&mut self, text: &str, at: CanvasPoint, style: &TextStyle) {
        self.put(text, at, Align::Start, style);
    }

    /// One line of text that ends at a place of its baseline.
    pub(super) fn text_to(&mut self, text: &str, at: CanvasPoint, style: &TextStyle) {
        self.put(text, at, Align::End, style);
    }

    /// One line of text about the middle of a place.
    pub(super) fn text_about(&mut self, text: &str, at: CanvasPoint, style: &TextStyle) {
        self.put(text, at, Align::Middle, style);
    }

    /// Texts that follow one another, in lines from a top left corner; where the next would start.
    pub(super) fn runs(&mut self, runs: &[(&str, TextStyle)], (x, y): CanvasPoint, width_pt: f64) -> f64 {
        let leading = runs.iter().map(|(_, style)| style.leading_pt()).fold(0.0, f64::max);
        let size = runs.iter().map(|(_, style)| style.size_pt).fold(0.0, f64::max);
        let mut y = y;
        for line in set(runs, width_pt) {
            for run in line {
                self.text(&run.text, (x + run.left_pt, y + 1.05 * size), &run.style);
            }
            y += leading;
        }
        y
    }

    /// A text in lines from a top left corner; where the next would start.
    pub(super) fn paragraph(&mut self, text: &str, at: CanvasPoint, width_pt: f64, style: &TextStyle) -> f64 {
        self.runs(&[(text, *style)], at, width_pt)
    }

    pub(super) fn line(&mut self, points: Vec<CanvasPoint>, pen: Pen) {
        self.mark(Mark::Line { points, pen });
    }

    pub(super) fn rule(&mut self, (x, y): CanvasPoint, width_pt: f64, pen: Pen) {
        self.line(vec![(x, y), (x + width_pt, y)], pen);
    }

    pub(super) fn area(&mut self, ring: Vec<CanvasPoint>, fill: Option<Tint>, pen: Option<Pen>) {
        self.mark(Mark::Area { rings: vec![ring], fill, pen });
    }

    pub(super) fn rect(&mut self, room: &Room, fill: Option<Tint>, pen: Option<Pen>) {
        let Room { left, top, right, bottom } = *room;
        self.area(vec![(left, top), (right, top), (right, bottom), (left, bottom)], fill, pen);
    }

    pub(super) fn circle(&mut self, centre: CanvasPoint, radius_pt: f64, fill: Option<Tint>, pen: Option<Pen>) {
        self.mark(Mark::Circle { centre, radius_pt, fill, pen });
    }

    /// The disc of a numbered standpoint.
    pub(super) fn disc(&mut self, number: usize, centre: CanvasPoint, radius_pt: f64) {
        self.page.marks.extend(disc(number, centre, radius_pt).map(PageMark::Mark));
    }

    /// A box to tick, from its top left corner.
    pub(super) fn tick_box(&mut self, (x, y): CanvasPoint, side_pt: f64) {
        let room = Room { left: x, top: y, right: x + side_pt, bottom: y + side_pt };
        self.rect(&room, Some(Role::Panel.full()), Some(Role::Ink.pen(0.9)));
    }

    /// A sign of caution: a ring with an exclamation mark.
    pub(super) fn caution(&mut self, (x, y): CanvasPoint, radius_pt: f64) {
        self.circle((x, y), radius_pt, None, Some(Role::Ink.pen(0.9)));
        let style = TextStyle::new(1.3 * radius_pt, Weight::Semibold, Role::Ink);
        let capitals = Lettering::new(style.weight, style.size_pt).capitals_px();
        self.text_about("!", (x, y + 0.5 * capitals), &style);
    }

    /// A plumb line from the top down, with its bob.
    pub(super) fn plumb(&mut self, x: f64, top: f64, bottom: f64) {
        let pen = Role::Plumb.pen(1.1);
        self.line(vec![(x, top), (x, bottom - 14.0)], pen);
        let bob = vec![
            (x - 3.4, bottom - 14.0),
            (x + 3.4, bottom - 14.0),
            (x + 2.6, bottom - 7.0),
            (x, bottom),
            (x - 2.6, bottom - 7.0),
        ];
        self.area(bob, Some(Role::Plumb.full()), None);
    }

    /// A picture as large as finds room in a rectangle, at its top left; where it stands.
    pub(super) fn picture(&mut self, picture: &Arc<Picture>, room: &Room) -> Room {
        let placed = fitted(aspect_of(picture), room);
        self.page.marks.push(PageMark::Picture(Arc::clone(picture), placed));
        placed
    }

    /// A drawing as large as finds room in a rectangle, at its top left; where it stands.
    pub(super) fn drawing(&mut self, drawing: &Arc<Drawing>, room: &Room) -> Room {
        let placed = fitted(drawing.width_pt / drawing.height_pt.max(1e-9), room);
        self.page.marks.push(PageMark::Drawing(Arc::clone(drawing), placed));
        placed
    }

    pub(super) fn logo(&mut self, logo: &LogoFile, room: Room) {
        self.page.marks.push(PageMark::Logo(logo.clone(), room));
    }
}

/// Width over height of a picture.
pub(super) fn aspect_of(picture: &Picture) -> f64 {
    f64::from(picture.width_px) / f64::from(picture.height_px.max(1))
}

/// The largest rectangle of these proportions at the top left of a room.
pub(super) fn fitted(aspect: f64, room: &Room) -> Room {
    let width_pt = (room.right - room.left).min((room.bottom - room.top) * aspect).max(1.0);
    Room { right: room.left + width_pt, bottom: room.top + width_pt / aspect, ..*room }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_keep_their_width_and_every_letter() {
        let style = TextStyle::new(10.0, Weight::Regular, Role::Ink);
        let (lead, text) = (
            "Step sideways.",
            "Until the left edge touches; a-word-that-is-far-too-long-for-any-line-of-this-width ends it.",
        );
        let lines = set(&[(lead, style.strong()), (text, style)], 120.0);
        assert!(lines.len() > 3);
        for run in lines.iter().flatten() {
            assert!(run.left_pt + run.style.width_pt(&run.text) <= 120.0 + 1e-6, "{}", run.text);
        }
        let letters = |text: &str| text.chars().filter(|letter| !letter.is_whitespace()).collect::<String>();
        let set_text: String = lines.iter().flatten().map(|run| run.text.as_str()).collect();
        assert_eq!(letters(&set_text), letters(&format!("{lead}{text}")));
        assert_eq!(style.lines("a\nb", 100.0), 2);
    }

    #[test]
    fn paper_has_the_sizes_of_the_standards() {
        // ISO 216: A4 is 210 mm × 297 mm; ANSI/ASME Y14.1: size A is 8.5 × 11 inch.
        let in_mm = |size| Paper { size, turned: Orientation::Portrait }.size_pt();
        for (size, (width_mm, height_mm)) in [(PaperSize::A4, (210.0, 297.0)), (PaperSize::Letter, (215.9, 279.4))] {
            let (width_pt, height_pt) = in_mm(size);
            assert!(
                (width_pt * 25.4 / 72.0 - width_mm).abs() < 0.01 && (height_pt * 25.4 / 72.0 - height_mm).abs() < 0.01
            );
        }
    }
}
