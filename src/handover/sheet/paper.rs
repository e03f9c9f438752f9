//! How is the sheet for a client set on paper?

use std::collections::VecDeque;

use crate::drawing::{Role, Room, Weight};
use crate::handover::html::jpeg;
use crate::handover::paper::{A4_PT, Paper, PaperError, Sheet, Type};

use super::{COLUMNS, ClientSheet, FOOT, Told};

impl ClientSheet {
    /// The sheet on paper, A4.
    ///
    /// # Errors
    /// A picture cannot be packed, or the pages not be made.
    pub fn pdf(&self) -> Result<Vec<u8>, PaperError> {
        let mut paper = Paper::new(&self.title, &self.lead())?;
        let (width_pt, height_pt) = A4_PT;
        let inner = Room { left: 48.0, top: 54.0, right: width_pt - 48.0, bottom: height_pt - 50.0 };
        let mut packed = Vec::new();
        for told in &self.stances {
            let straightened = told.straightened.as_ref().map(|picture| jpeg(picture, 86)).transpose()?;
            packed.push((jpeg(&told.taken, 86)?, straightened));
        }
        paper.page(A4_PT, |sheet| self.first_page(sheet, &inner, &packed))?;
        let mut waiting: Vec<_> = self.stances.iter().zip(&packed).collect();
        while !waiting.is_empty() {
            let two = waiting.drain(..waiting.len().min(2)).collect::<Vec<_>>();
            paper.page(A4_PT, |sheet| {
                let half = 0.5 * (inner.bottom - inner.top);
                for (index, (told, pictures)) in two.iter().enumerate() {
                    let top = inner.top + index as f64 * half;
                    stance_on_paper(sheet, told, pictures, &Room { top, bottom: top + half - 14.0, ..inner })?;
                }
                self.foot_on_paper(sheet, &inner);
                Ok(())
            })?;
        }
        let mut rows = Rows::of(self, &inner);
        while !rows.is_done() {
            paper.page(A4_PT, |sheet| {
                rows.set(sheet, &inner);
                self.foot_on_paper(sheet, &inner);
                Ok(())
            })?;
        }
        paper.finish()
    }

    fn first_page(
        &self,
        sheet: &mut Sheet<'_>,
        inner: &Room,
        packed: &[(Vec<u8>, Option<Vec<u8>>)],
    ) -> Result<(), PaperError> {
        let width_pt = inner.right - inner.left;
        let mut y = inner.top;
        let brand = &self.brand;
        let small = Type::new(9.0, Weight::Regular, Role::Soft);
        if !brand.name.is_empty() || brand.mark_file.is_some() {
            let mut left = inner.left;
            if let Some(mark) = &brand.mark_file {
                left +=
                    sheet.mark_of(mark, &Room { left, top: y - 18.0, right: left + 120.0, bottom: y + 14.0 })? + 10.0;
            }
            sheet.text(&brand.name, (left, y + 2.0), &Type::new(12.0, Weight::Semibold, Role::Ink));
            let mut line_y = y - 10.0;
            for line in &brand.contact {
                sheet.text(line, (inner.right - small.width_pt(line), line_y + 2.0), &small);
                line_y += small.leading_pt();
            }
            y = (y + 18.0).max(line_y + 2.0);
            sheet.rule((inner.left, y), (inner.right, y), Role::Ink.pen(1.4));
            y += 16.0;
        }
        y = sheet.paragraph(&self.title, (inner.left, y), width_pt, &Type::new(24.0, Weight::Semibold, Role::Ink));
        y = sheet.paragraph(
            &self.lead(),
            (inner.left, y + 2.0),
            width_pt,
            &Type::new(10.5, Weight::Regular, Role::Soft),
        );
        if let Some(text) = &brand.text {
            y = sheet.paragraph(text, (inner.left, y + 8.0), width_pt, &Type::new(10.5, Weight::Regular, Role::Ink));
        }
        y += 14.0;
        let plan_height = width_pt * self.plan.height_pt / self.plan.width_pt;
        let lowest = inner.bottom - plan_height;
        let room = Room { left: inner.left, top: y, right: inner.right, bottom: lowest - 16.0 };
        let plan_top = (self.all_on_paper(sheet, &room, packed)? + 16.0).min(lowest);
        sheet.drawing(&self.plan, (inner.left, plan_top), width_pt);
        let plan = Room { left: inner.left, top: plan_top, right: inner.right, bottom: plan_top + plan_height };
        sheet.rect(&plan, None, Some(Role::Line.pen(0.8)));
        self.foot_on_paper(sheet, inner);
        Ok(())
    }

    /// Every stance as taken, small, in as few rows as leave the pictures large; where they end.
    fn all_on_paper(
        &self,
        sheet: &mut Sheet<'_>,
        room: &Room,
        packed: &[(Vec<u8>, Option<Vec<u8>>)],
    ) -> Result<f64, PaperError> {
        let (gap, below) = (10.0, 18.0);
        let aspect = |told: &Told| f64::from(told.taken.width_px) / f64::from(told.taken.height_px);
        let count = self.stances.len();
        let height_of = |rows: usize| {
            let across = count.div_ceil(rows);
            let widest = self.stances.chunks(across).map(|row| row.iter().map(aspect).sum::<f64>()).fold(0.1, f64::max);
            let by_width = (room.right - room.left - gap * (across - 1) as f64) / widest;
            by_width.min((room.bottom - room.top) / rows as f64 - below)
        };
        let rows =
            (1..=3.min(count)).reduce(|a, b| if height_of(b) > 1.25 * height_of(a) { b } else { a }).unwrap_or(1);
        let height_pt = height_of(rows);
        // Long words at the beginning leave no room; every picture stands on its own page all the same.
        if height_pt < 30.0 {
            return Ok(room.top);
        }
        let small = Type::new(8.0, Weight::Regular, Role::Soft);
        let across = count.div_ceil(rows);
        for (index, (told, (taken, _))) in self.stances.iter().zip(packed).enumerate() {
            let before = &self.stances[index - index % across..index];
            let left = room.left + before.iter().map(|told| aspect(told) * height_pt + gap).sum::<f64>();
            let top = room.top + (index / across) as f64 * (height_pt + below);
            let width_pt = height_pt * aspect(told);
            let picture = Room { left, top, right: left + width_pt, bottom: top + height_pt };
            sheet.jpeg(taken, &picture)?;
            sheet.rect(&picture, None, Some(Role::Ink.pen(0.6)));
            let name = format!("{} {}", told.number, told.name);
            let name = small.lines(&name, width_pt).into_iter().next().unwrap_or_default();
            sheet.text(&name, (left, top + height_pt + 10.0), &small);
        }
        Ok(room.top + rows as f64 * (height_pt + below))
    }

    fn foot_on_paper(&self, sheet: &mut Sheet<'_>, inner: &Room) {
        let set = Type::new(7.0, Weight::Regular, Role::Soft);
        sheet.paragraph(FOOT, (inner.left, inner.bottom + 12.0), inner.right - inner.left, &set);
    }
}

/// A stance on half a page: its pictures beside one another, and what there is to say.
fn stance_on_paper(
    sheet: &mut Sheet<'_>,
    told: &Told,
    (taken, straightened): &(Vec<u8>, Option<Vec<u8>>),
    room: &Room,
) -> Result<(), PaperError> {
    let width_pt = room.right - room.left;
    let title = Type::new(14.0, Weight::Semibold, Role::Ink);
    let body = Type::new(9.5, Weight::Regular, Role::Ink);
    let caption = Type::new(8.5, Weight::Regular, Role::Soft);
    let name = title.lines(&format!("{}  {}", told.number, told.name), width_pt).into_iter().next().unwrap_or_default();
    sheet.rule((room.left, room.top), (room.right, room.top), Role::Line.pen(0.8));
    sheet.text(&name, (room.left, room.top + 18.0), &title);
    let mut y = sheet.paragraph(&told.sentence, (room.left, room.top + 24.0), width_pt, &body);
    if let Some(note) = &told.note {
        y = sheet.paragraph(note, (room.left, y), width_pt, &Type { role: Role::Soft, ..body });
    }
    let needs = if told.needs.is_empty() { String::new() } else { format!("Needs {}.", told.needs.join("; ")) };
    if !needs.is_empty() {
        y = sheet.paragraph(&needs, (room.left, y), width_pt, &Type { role: Role::Ask, ..body });
    }
    let pictures = Room { left: room.left, top: y + 6.0, right: room.right, bottom: room.bottom - 14.0 };
    let gap = 12.0;
    let right = if straightened.is_some() { pictures.left + 0.5 * (width_pt - gap) } else { pictures.right };
    let placed = sheet.fitted(taken, &told.taken, &Room { right, ..pictures })?;
    let text = format!("as taken: {}", told.figures[1]);
    sheet.text(&text, (placed.left, placed.bottom + 11.0), &caption);
    if let (Some(bytes), Some(picture)) = (straightened, &told.straightened) {
        let placed = sheet.fitted(bytes, picture, &Room { left: right + gap, ..pictures })?;
        let text = format!("straightened: {}", told.figures[2]);
        sheet.text(&text, (placed.left, placed.bottom + 11.0), &caption);
    }
    Ok(())
}

/// What stands on the last pages, line by line.
struct Rows {
    lines: VecDeque<RowLine>,
}

enum RowLine {
    Heading(&'static str),
    /// A stance's name, then what is compared, as caption and value.
    Stance(String, Vec<(&'static str, String)>),
    /// A text with its bullet.
    Point(String),
}

impl Rows {
    fn of(sheet: &ClientSheet, _inner: &Room) -> Self {
        let mut lines = VecDeque::new();
        lines.push_back(RowLine::Heading("Side by side"));
        for told in &sheet.stances {
            let mut figures: Vec<(&'static str, String)> =
                COLUMNS.iter().copied().zip(told.figures.iter().cloned()).collect();
            let needs = if told.needs.is_empty() { "nothing but a camera".to_owned() } else { told.needs.join("; ") };
            figures.push(("Needed", needs));
            lines.push_back(RowLine::Stance(format!("{}  {}", told.number, told.name), figures));
        }
        if !sheet.cautions.is_empty() {
            lines.push_back(RowLine::Heading("To mind"));
            lines.extend(sheet.cautions.iter().map(|caution| RowLine::Point(caution.clone())));
        }
        if let Some(convergence) = &sheet.brand.convergence {
            lines.push_back(RowLine::Heading("And finally"));
            lines.push_back(RowLine::Point(convergence.clone()));
        }
        Self { lines }
    }

    fn is_done(&self) -> bool {
        self.lines.is_empty()
    }

    /// Sets as many lines as find room on a page; at least one.
    fn set(&mut self, sheet: &mut Sheet<'_>, inner: &Room) {
        let width_pt = inner.right - inner.left;
        let heading = Type::new(14.0, Weight::Semibold, Role::Ink);
        let name = Type::new(10.5, Weight::Semibold, Role::Ink);
        let body = Type::new(9.5, Weight::Regular, Role::Ink);
        let caption = Type::new(9.5, Weight::Regular, Role::Soft);
        let mut y = inner.top;
        while let Some(line) = self.lines.front() {
            let half = 0.5 * (width_pt - 16.0);
            let beside = 114.0;
            let cell = |(_, value): &(&str, String)| body.lines(value, half - beside).len() as f64 * body.leading_pt();
            let height_pt = match line {
                RowLine::Heading(_) => 60.0,
                RowLine::Stance(_, figures) => {
                    22.0 + figures.chunks(2).map(|two| two.iter().map(cell).fold(0.0, f64::max) + 2.0).sum::<f64>()
                }
                RowLine::Point(text) => body.lines(text, width_pt - 12.0).len() as f64 * body.leading_pt() + 3.0,
            };
            if y > inner.top && y + height_pt > inner.bottom {
                break;
            }
            match line {
                RowLine::Heading(text) => {
                    y += if y > inner.top { 14.0 } else { 0.0 };
                    sheet.text(text, (inner.left, y + 14.0), &heading);
                    y += 24.0;
                }
                RowLine::Stance(text, figures) => {
                    sheet.rule((inner.left, y), (inner.right, y), Role::Line.pen(0.8));
                    sheet.text(text, (inner.left, y + 13.0), &name);
                    y += 18.0;
                    for two in figures.chunks(2) {
                        let mut lowest = y;
                        for (index, (what, value)) in two.iter().enumerate() {
                            let left = inner.left + index as f64 * (half + 16.0);
                            sheet.text(what, (left, y + 1.05 * caption.size_pt), &caption);
                            lowest = lowest.max(sheet.paragraph(value, (left + beside, y), half - beside, &body));
                        }
                        y = lowest + 2.0;
                    }
                    y += 4.0;
                }
                RowLine::Point(text) => {
                    sheet.text("·", (inner.left, y + 1.05 * body.size_pt), &body);
                    y = sheet.paragraph(text, (inner.left + 12.0, y), width_pt - 12.0, &body) + 3.0;
                }
            }
            self.lines.pop_front();
        }
    }
}
