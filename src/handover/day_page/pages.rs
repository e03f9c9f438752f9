//! How is a day laid out on paper: the hours first, then the way, then what to mind?

use crate::drawing::{Role, Room, Weight};
use crate::handover::page::{Page, PageWriter, Paper, TextStyle, fitted};

use super::build::{DayPages, DayPart, HOURS};

const MARGIN_PT: f64 = 30.0;
const GAP_PT: f64 = 16.0;
/// The share of the page's width that the stances' names take.
const NAMES: f64 = 0.2;
/// The share of it that the plan takes.
const PLANS: f64 = 0.6;
/// The least height that a plan is drawn in.
const LEAST_PLAN_PT: f64 = 170.0;

const BODY: TextStyle = TextStyle::new(9.0, Weight::Regular, Role::Ink);
const SMALL: TextStyle = TextStyle::new(8.0, Weight::Regular, Role::Soft);
const HEADING: TextStyle = TextStyle::new(10.0, Weight::Semibold, Role::Ink);
const TITLE: TextStyle = TextStyle::new(22.0, Weight::Semibold, Role::Ink);

impl DayPages {
    /// The day on paper.
    pub fn pages(&self) -> Vec<Page> {
        let size_pt = Paper { size: self.paper, ..Paper::default() }.size_pt();
        let mut layout = Layout { day: self, size_pt, page: PageWriter::new(size_pt), y: MARGIN_PT, done: Vec::new() };
        layout.head();
        layout.hours();
        layout.plan();
        layout.cautions();
        layout.finish()
    }
}

struct Layout<'a> {
    day: &'a DayPages,
    size_pt: (f64, f64),
    page: PageWriter,
    y: f64,
    done: Vec<Page>,
}

impl Layout<'_> {
    fn wide(&self) -> f64 {
        self.size_pt.0 - 2.0 * MARGIN_PT
    }

    fn bottom(&self) -> f64 {
        self.size_pt.1 - MARGIN_PT - 14.0
    }

    /// Goes on to another page where so much does not fit on this one.
    fn room_for(&mut self, high_pt: f64) {
        if self.y + high_pt > self.bottom() && self.y > MARGIN_PT {
            let page = std::mem::replace(&mut self.page, PageWriter::new(self.size_pt));
            self.done.push(page.finish());
            self.y = MARGIN_PT;
        }
    }

    /// How high a text gets in lines of a width.
    fn high(style: &TextStyle, text: &str, width_pt: f64) -> f64 {
        style.lines(text, width_pt) as f64 * style.leading_pt()
    }

    fn head(&mut self) {
        let wide = self.wide();
        self.y = self.page.paragraph(&self.day.site, (MARGIN_PT, self.y - 6.0), wide, &BODY.strong());
        self.y = self.page.paragraph(&self.day.heading, (MARGIN_PT, self.y), wide, &TITLE);
        self.y = self.page.paragraph(&self.day.subtitle, (MARGIN_PT, self.y + 2.0), wide, &SMALL);
        self.y = self.page.paragraph(&self.day.said, (MARGIN_PT, self.y + 4.0), wide, &BODY) + GAP_PT;
    }

    fn hours(&mut self) {
        let first = NAMES * self.wide();
        let each = (self.wide() - first) / HOURS.len() as f64;
        let column = |index: usize| MARGIN_PT + first + index as f64 * each;
        self.page.text("Stance", (MARGIN_PT, self.y), &SMALL);
        for (index, heading) in HOURS.iter().enumerate() {
            self.page.text(heading, (column(index), self.y), &SMALL);
        }
        self.y += 6.0;
        for (index, row) in self.day.rows.iter().enumerate() {
            let cells = row.cells.iter().map(|cell| Self::high(&BODY, cell, each - 6.0)).fold(16.0, f64::max);
            let high = cells.max(Self::high(&BODY.strong(), &row.name, first - 28.0)) + 8.0;
            self.room_for(high);
            let y = self.y;
            self.page.rule((MARGIN_PT, y), self.wide(), Role::Line.pen(0.8));
            self.page.disc(index + 1, (MARGIN_PT + 7.5, y + 11.0), 7.0);
            self.page.paragraph(&row.name, (MARGIN_PT + 20.0, y + 4.0), first - 28.0, &BODY.strong());
            for (index, cell) in row.cells.iter().enumerate() {
                self.page.paragraph(cell, (column(index), y + 4.0), each - 6.0, &BODY);
            }
            self.y += high;
        }
        self.y += GAP_PT;
    }

    /// The plan, beside it what of the rest finds room there, and below it what does not.
    fn plan(&mut self) {
        let aspect = self.day.drawing.width_pt / self.day.drawing.height_pt.max(1.0);
        self.room_for(LEAST_PLAN_PT);
        let room = Room { left: MARGIN_PT, top: self.y, right: MARGIN_PT + PLANS * self.wide(), bottom: self.bottom() };
        let placed = self.page.drawing(&self.day.drawing, &fitted(aspect, &room));
        let (left, width_pt) = (placed.right + GAP_PT, MARGIN_PT + self.wide() - placed.right - GAP_PT);
        let (mut y, mut below) = (self.y, Vec::new());
        for part in &self.day.parts {
            if y + Self::part_high(part, width_pt) > self.bottom() {
                below.push(part);
            } else {
                y = self.part(part, (left, y), width_pt);
            }
        }
        self.y = y.max(placed.bottom) + GAP_PT;
        for part in below {
            self.room_for(Self::part_high(part, self.wide()));
            self.y = self.part(part, (MARGIN_PT, self.y), self.wide());
        }
    }

    /// How high some lines under a heading get.
    fn part_high(part: &DayPart, width_pt: f64) -> f64 {
        let whole = |lead: &str, text: &str| if lead.is_empty() { text.to_owned() } else { format!("{lead} {text}") };
        let lines = part.lines.iter().map(|(lead, text)| Self::high(&BODY, &whole(lead, text), width_pt) + 2.0);
        HEADING.leading_pt() + 12.0 + lines.sum::<f64>()
    }

    /// Lines under a heading; where the next would start.
    fn part(&mut self, part: &DayPart, (left, top): (f64, f64), width_pt: f64) -> f64 {
        let mut y = self.page.paragraph(&part.heading, (left, top), width_pt, &HEADING) + 2.0;
        for (lead, text) in &part.lines {
            let runs = [(&**lead, BODY.strong()), (&**text, BODY)];
            let runs = if lead.is_empty() { &runs[1..] } else { &runs[..] };
            y = self.page.runs(runs, (left, y), width_pt) + 2.0;
        }
        y + 10.0
    }

    fn cautions(&mut self) {
        if self.day.cautions.is_empty() {
            return;
        }
        self.room_for(60.0);
        self.y = self.page.paragraph("Cautions", (MARGIN_PT, self.y), self.wide(), &HEADING) + 4.0;
        for (at, text) in &self.day.cautions {
            let wide = self.wide() - 18.0;
            self.room_for(Self::high(&BODY, &format!("{at} {text}"), wide) + 4.0);
            self.page.caution((MARGIN_PT + 5.0, self.y + 6.0), 5.0);
            let runs = [(&**at, BODY.strong()), (&**text, BODY)];
            self.y = self.page.runs(&runs, (MARGIN_PT + 18.0, self.y), wide) + 4.0;
        }
    }

    fn finish(mut self) -> Vec<Page> {
        let style = TextStyle { size_pt: 7.4, ..SMALL };
        let high = Self::high(&style, &self.day.footer, self.wide());
        let y = self.size_pt.1 - MARGIN_PT - high + 8.0;
        self.page.paragraph(&self.day.footer, (MARGIN_PT, y), self.wide(), &style);
        self.done.push(self.page.finish());
        self.done
    }
}
