//! How is a card laid out on paper: one side for the camera, one for the feet?

use crate::drawing::{CanvasPoint, Drawing, Role, Room, Weight};
use crate::handover::page::{Page, PageWriter, TextStyle, aspect_of, fitted};

use super::content::{FieldCard, LinedUp, Setting};

/// What a side leaves to its margins.
const MARGIN_PT: f64 = 24.0;
/// Above and below a rule.
const GAP_PT: f64 = 8.0;
/// The highest the finder's picture gets.
const PICTURE_PT: f64 = 320.0;

const BODY: TextStyle = TextStyle::new(9.0, Weight::Regular, Role::Ink);
const SMALL: TextStyle = TextStyle::new(8.0, Weight::Regular, Role::Soft);
const HEADING: TextStyle = TextStyle::new(9.6, Weight::Semibold, Role::Ink);
const TITLE: TextStyle = TextStyle::new(15.0, Weight::Semibold, Role::Ink);
const FIRST: TextStyle = TextStyle::new(23.0, Weight::Semibold, Role::Ink);
const VALUE: TextStyle = TextStyle::new(14.0, Weight::Semibold, Role::Ink);

impl FieldCard {
    /// Both sides of the card.
    pub fn pages(&self) -> Vec<Page> {
        let size_pt = self.paper.half_pt();
        let sides = [Side { card: self, size_pt }.camera(), Side { card: self, size_pt }.feet()];
        sides.into()
    }
}

/// Lays out a side of one card.
struct Side<'a> {
    card: &'a FieldCard,
    size_pt: (f64, f64),
}

impl Side<'_> {
    const fn wide(&self) -> f64 {
        self.size_pt.0 - 2.0 * MARGIN_PT
    }

    fn rule(&self, page: &mut PageWriter, y: f64) -> f64 {
        page.rule((MARGIN_PT, y + GAP_PT), self.wide(), Role::Line.pen(0.9));
        y + 2.0 * GAP_PT
    }

    /// What is drawn from a height on, as high as it gets.
    fn height_of(&self, draw: impl FnOnce(&mut PageWriter) -> f64) -> f64 {
        draw(&mut PageWriter::new(self.size_pt))
    }

    fn camera(&self) -> Page {
        let (card, mut page, wide) = (self.card, PageWriter::new(self.size_pt), self.wide());
        let head = self.head(&mut page);
        let mut y = self.rule(&mut page, head);
        for (index, row) in card.settings.chunks(3).enumerate() {
            y = self.settings(&mut page, row, y, index == 0);
        }
        y = self.rule(&mut page, y - 4.0);
        let gauge =
            page.drawing(&card.gauge, &Room { left: MARGIN_PT, top: y, right: MARGIN_PT + 40.0, bottom: y + 52.0 });
        let left = gauge.right + 14.0;
        let verdict = TextStyle { size_pt: 14.5, ..TITLE };
        let mut text = page.paragraph(&card.verdict, (left, y), wide - left + MARGIN_PT, &verdict);
        text = page.paragraph(&card.leans, (left, text + 1.0), wide - left + MARGIN_PT, &BODY);
        let afterwards = card.words.afterwards();
        let runs = [(afterwards.as_str(), BODY.strong()), (&*card.afterwards, BODY)];
        text = page.runs(&runs, (left, text + 1.0), wide - left + MARGIN_PT);
        y = self.rule(&mut page, text.max(gauge.bottom));
        let foot = self.size_pt.1 - MARGIN_PT - 2.0 * SMALL.leading_pt();
        let mut note = 0.0;
        if let Some(text) = &card.note {
            let heading = card.words.note_heading();
            let runs = [(heading.as_str(), BODY.strong()), (&**text, BODY)];
            note = self.height_of(|page| page.runs(&runs, (MARGIN_PT, 0.0), wide)) + 6.0;
            page.runs(&runs, (MARGIN_PT, foot - note), wide);
        }
        let room = Room { left: MARGIN_PT, top: y, right: MARGIN_PT + wide, bottom: foot - note - 6.0 };
        if aspect_of(&card.picture) < 1.0 {
            let placed = self.finder(&mut page, &Room { right: MARGIN_PT + 0.56 * wide, ..room });
            let left = placed.right + 16.0;
            self.ticks(&mut page, (left, y), MARGIN_PT + wide - left, 1);
        } else {
            let ticks = self.height_of(|page| self.ticks(page, (MARGIN_PT, 0.0), wide, 2));
            let placed = self.finder(&mut page, &Room { bottom: room.bottom - ticks - 8.0, ..room });
            self.ticks(&mut page, (MARGIN_PT, placed.bottom + 8.0), wide, 2);
        }
        let style = TextStyle { size_pt: 6.8, ..SMALL };
        let high = style.lines(&card.footer, wide) as f64 * style.leading_pt();
        page.paragraph(&card.footer, (MARGIN_PT, self.size_pt.1 - MARGIN_PT - high + 4.0), wide, &style);
        page.finish()
    }

    /// What the stance is called, on which site, and when it is planned for.
    fn head(&self, page: &mut PageWriter) -> f64 {
        let (card, wide) = (self.card, self.wide());
        let left = if card.planned.is_some() { 0.56 * wide } else { wide };
        let mut y = page.paragraph(&card.label, (MARGIN_PT, MARGIN_PT - 6.0), left, &TITLE);
        y = page.paragraph(&card.site, (MARGIN_PT, y), left, &BODY.soft());
        if let Some((when, light)) = &card.planned {
            let long_pt = BODY.strong().width_pt(when).max(BODY.width_pt(light)) + 0.5;
            let width_pt = long_pt.min(wide - left - 8.0);
            let at = MARGIN_PT + wide - width_pt;
            let end = page.paragraph(when, (at, MARGIN_PT - 3.0), width_pt, &BODY.strong());
            y = y.max(page.paragraph(light, (at, end), width_pt, &BODY.soft()));
        }
        y
    }

    /// Up to three settings in a row.
    fn settings(&self, page: &mut PageWriter, row: &[Setting], y: f64, first: bool) -> f64 {
        let each = self.wide() / 3.0;
        let style = if first { FIRST } else { VALUE };
        // One size for the row, so small that each fits.
        let widest = row.iter().map(|setting| style.width_pt(&setting.value)).fold(1.0, f64::max);
        let style = TextStyle { size_pt: style.size_pt * ((each - 8.0) / widest).min(1.0), ..style };
        let below = y + 1.12 * style.size_pt;
        let mut end = below;
        for (index, setting) in row.iter().enumerate() {
            let left = MARGIN_PT + index as f64 * each;
            page.text(&setting.value, (left, y + 0.92 * style.size_pt), &style);
            end = end.max(page.paragraph(&setting.label, (left, below), each - 8.0, &SMALL));
        }
        end + 6.0
    }

    /// The finder's picture with the outline of what is kept and the letters of what lines up.
    fn finder(&self, page: &mut PageWriter, room: &Room) -> Room {
        let card = self.card;
        let placed = page.picture(&card.picture, &Room { bottom: room.bottom.min(room.top + PICTURE_PT), ..*room });
        let at = |(x, down): (f64, f64)| {
            let inside = |share: f64| share.clamp(0.0, 1.0);
            (
                placed.left + inside(x) * (placed.right - placed.left),
                placed.top + inside(down) * (placed.bottom - placed.top),
            )
        };
        if let Some(kept) = &card.kept {
            page.area(kept.iter().map(|corner| at(*corner)).collect(), None, Some(Role::Ink.pen(1.3)));
        }
        for (letter, place) in &card.letters {
            letter_disc(page, *letter, at(*place));
        }
        placed
    }

    fn ticks(&self, page: &mut PageWriter, (left, top): CanvasPoint, width_pt: f64, across: usize) -> f64 {
        let mut y = page.paragraph(&self.card.words.before_heading(), (left, top - 2.0), width_pt, &HEADING) + 5.0;
        let each = width_pt / across as f64;
        for row in self.card.ticks.chunks(across) {
            let mut end = y;
            for (index, tick) in row.iter().enumerate() {
                let left = left + index as f64 * each;
                page.tick_box((left, y + 0.5), 11.0);
                end = end.max(page.paragraph(tick, (left + 18.0, y), each - 24.0, &BODY));
            }
            y = end + if across == 1 { 6.0 } else { 3.0 };
        }
        y
    }

    fn feet(&self) -> Page {
        let (card, mut page, wide) = (self.card, PageWriter::new(self.size_pt), self.wide());
        let words = &card.words;
        let left = MARGIN_PT;
        let mut y = page.paragraph(&words.stand_heading(), (left, MARGIN_PT - 6.0), wide, &HEADING) + 4.0;
        let text_pt = self.height_of(|page| self.below_plan(page, 0.0));
        let room = Room { left, top: y, right: left + wide, bottom: self.size_pt.1 - MARGIN_PT - text_pt };
        let placed = fitted(aspect_of_drawing(&card.plan), &room);
        page.rect(&placed, Some(Role::Panel.full()), None);
        page.drawing(&card.plan, &placed);
        page.rect(&placed, None, Some(Role::Line.pen(0.8)));
        y = placed.bottom + 6.0;
        self.below_plan(&mut page, y);
        page.finish()
    }

    /// Everything below the plan; where it ends.
    fn below_plan(&self, page: &mut PageWriter, top: f64) -> f64 {
        let (card, words, wide, left) = (self.card, &self.card.words, self.wide(), MARGIN_PT);
        let half = 0.5 * (wide - 14.0);
        let mut beside = top;
        for (index, line) in card.place.iter().enumerate() {
            let style = if index == 0 { BODY.strong() } else { SMALL };
            beside = page.paragraph(line, (left, beside), half, &style);
        }
        let mut y = top;
        for (distance, bearing) in &card.marks {
            let runs = [(&**distance, BODY.strong()), (&**bearing, SMALL)];
            y = page.runs(&runs, (left + half + 14.0, y), half) + 1.0;
        }
        y = self.rule(page, y.max(beside));
        for pair in &card.lined_up {
            y = self.lined_up(page, pair, y) + 6.0;
        }
        if card.lined_up.is_empty() {
            y = page.paragraph(&words.nothing_lines_up(), (left, y), wide, &BODY) + 4.0;
        }
        y = self.rule(page, y - 6.0);
        let (heading, until) = (words.tolerance_heading(), words.tolerance_until());
        y = page.runs(&[(&heading, HEADING), (&until, BODY.soft())], (left, y - 2.0), wide) + 4.0;
        y = match &card.tolerance {
            Some(arrows) => page.drawing(arrows, &Room { left, top: y, right: left + wide, bottom: y + 200.0 }).bottom,
            None => page.paragraph(&words.tolerance_none(), (left, y), wide, &BODY),
        };
        if !card.cautions.is_empty() {
            y = self.rule(page, y);
            page.caution((left + 8.0, y + 6.0), 7.0);
            for caution in &card.cautions {
                y = page.paragraph(caution, (left + 24.0, y), wide - 24.0, &BODY) + 1.0;
            }
        }
        y
    }

    fn lined_up(&self, page: &mut PageWriter, pair: &LinedUp, y: f64) -> f64 {
        let (wide, left) = (self.wide(), MARGIN_PT);
        let two = self.card.lined_up.len() > 1;
        let room = Room { left, top: y, right: left + if two { 78.0 } else { 126.0 }, bottom: y + 90.0 };
        let placed = page.picture(&pair.picture, &room);
        let middle = (0.5 * (placed.left + placed.right), 0.5 * (placed.top + placed.bottom));
        page.circle(middle, 0.16 * (placed.bottom - placed.top), None, Some(Role::Ink.pen(1.4)));
        let at = placed.right + 12.0;
        letter_disc(page, pair.letter, (at + 7.0, y + 7.0));
        let end = page.paragraph(&pair.title, (at + 20.0, y + 0.5), left + wide - at - 20.0, &BODY.strong());
        page.paragraph(&pair.text, (at, end + 2.0), left + wide - at, &BODY).max(placed.bottom)
    }
}

fn aspect_of_drawing(drawing: &Drawing) -> f64 {
    drawing.width_pt / drawing.height_pt.max(1e-9)
}

/// A letter on a disc.
fn letter_disc(page: &mut PageWriter, letter: char, (x, y): CanvasPoint) {
    page.circle((x, y), 7.0, Some(Role::Ink.full()), Some(Role::Panel.pen(0.8)));
    let style = TextStyle::new(9.0, Weight::Semibold, Role::Panel);
    page.text_about(&letter.to_string(), (x, y + 3.2), &style);
}
