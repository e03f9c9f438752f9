//! How is the card for the field set on paper?

use crate::drawing::{Role, Room, Weight};
use crate::handover::html::jpeg;
use crate::handover::paper::{A5_PT, Paper, PaperError, Sheet, Type};

use super::{FieldCard, Row};

impl FieldCard {
    /// The card as a page of paper, A5.
    ///
    /// # Errors
    /// The picture cannot be packed, or the page not be made.
    pub fn pdf(&self) -> Result<Vec<u8>, PaperError> {
        let picture = jpeg(&self.picture, 90)?;
        let title = format!("{}, {}", self.title, self.site);
        let mut paper = Paper::new(&title, "Field card: where to stand, how to set the camera, what to mind")?;
        // As large a type as lets everything stand on one page; beyond the smallest that can be read it runs over.
        let sizes = [8.6, 8.2, 7.8, 7.4, 7.0, 6.6, 6.2];
        let fitting =
            sizes.into_iter().find(|size_pt| Setting::new(*size_pt).columns(self).iter().all(|column| column.fits()));
        let setting = Setting::new(fitting.unwrap_or(6.2));
        let columns = setting.columns(self);
        paper.page(A5_PT, |sheet| {
            setting.head(sheet, self);
            setting.pictures(sheet, self, &picture)?;
            for column in &columns {
                column.set(sheet, &setting, 0);
            }
            setting.foot(sheet, self);
            Ok(())
        })?;
        let pages = columns.iter().map(Column::pages).max().unwrap_or(1);
        for number in 1..pages {
            paper.page(A5_PT, |sheet| {
                setting.head(sheet, self);
                for column in &columns {
                    column.set(sheet, &setting, number);
                }
                setting.foot(sheet, self);
                Ok(())
            })?;
        }
        paper.finish()
    }
}

/// How a card is set on A5.
struct Setting {
    size_pt: f64,
}

/// A column of a card: what stands in it, from where to where.
struct Column {
    left: f64,
    width_pt: f64,
    bottom: f64,
    lines: Vec<(f64, Placed)>,
}

/// A line of a column, its indent and its type.
struct Placed {
    text: String,
    indent_pt: f64,
    set: Type,
    page: usize,
    ruled: bool,
}

const MARGIN_PT: f64 = 24.0;
const PICTURES_TOP_PT: f64 = 58.0;
const FOOT_PT: f64 = 30.0;

impl Setting {
    const fn new(size_pt: f64) -> Self {
        Self { size_pt }
    }

    const fn title(&self) -> Type {
        Type::new(self.size_pt * 1.18, Weight::Semibold, Role::Ink)
    }

    const fn caption(&self) -> Type {
        Type::new(self.size_pt * 0.92, Weight::Regular, Role::Soft)
    }

    const fn value(&self) -> Type {
        Type::new(self.size_pt, Weight::Semibold, Role::Ink)
    }

    const fn body(&self) -> Type {
        Type::new(self.size_pt, Weight::Regular, Role::Ink)
    }

    fn head(&self, sheet: &mut Sheet<'_>, card: &FieldCard) {
        let whole = A5_PT.0 - 2.0 * MARGIN_PT;
        let title = Type::new(16.0, Weight::Semibold, Role::Ink);
        let line = title.lines(&card.title, whole).into_iter().next().unwrap_or_default();
        sheet.text(&line, (MARGIN_PT, 37.0), &title);
        let site = Type::new(8.5, Weight::Regular, Role::Soft);
        let line = site.lines(&card.site, whole).into_iter().next().unwrap_or_default();
        sheet.text(&line, (MARGIN_PT, 50.0), &site);
    }

    /// The rooms of the picture and the plan, and where the columns start.
    fn rooms(&self, card: &FieldCard) -> (Room, Room, f64) {
        let (gap, whole) = (10.0, A5_PT.0 - 2.0 * MARGIN_PT);
        let aspect = f64::from(card.picture.width_px) / f64::from(card.picture.height_px);
        // Both equally high, and together as wide as the page.
        let plan_aspect = card.plan.width_pt / card.plan.height_pt;
        let height = ((whole - gap) / (aspect + plan_aspect)).min(190.0);
        let top = PICTURES_TOP_PT;
        let middle = MARGIN_PT + height * aspect;
        let picture = Room { left: MARGIN_PT, top, right: middle, bottom: top + height };
        let plan = Room { left: middle + gap, top, right: middle + gap + height * plan_aspect, bottom: top + height };
        (picture, plan, top + height + 10.0)
    }

    fn pictures(&self, sheet: &mut Sheet<'_>, card: &FieldCard, jpeg: &[u8]) -> Result<(), PaperError> {
        let (picture, plan, _) = self.rooms(card);
        sheet.jpeg(jpeg, &picture)?;
        sheet.rect(&picture, None, Some(Role::Ink.pen(0.8)));
        sheet.drawing(&card.plan, (plan.left, plan.top), plan.right - plan.left);
        sheet.rect(&plan, None, Some(Role::Line.pen(0.8)));
        Ok(())
    }

    fn columns(&self, card: &FieldCard) -> [Column; 2] {
        let (_, _, top) = self.rooms(card);
        let (gap, whole) = (16.0, A5_PT.0 - 2.0 * MARGIN_PT);
        let width_pt = 0.5 * (whole - gap);
        let column = |left| Column { left, width_pt, bottom: A5_PT.1 - FOOT_PT - 8.0, lines: Vec::new() };
        let mut left = column(MARGIN_PT);
        let mut right = column(MARGIN_PT + width_pt + gap);
        let mut ends = [(top, 0), (top, 0)];
        let sections = card.sections.iter();
        for (index, section) in sections.enumerate() {
            let side = usize::from(index == 1);
            let target = if side == 0 { &mut left } else { &mut right };
            target.add(&mut ends[side], section.title, &self.title(), 0.0, true);
            for row in &section.rows {
                target.add_row(&mut ends[side], row, self);
            }
            ends[side].0 += 0.5 * self.size_pt;
        }
        if let Some(note) = &card.note {
            right.add(&mut ends[1], "Noted", &self.title(), 0.0, true);
            right.add(&mut ends[1], note, &self.body(), 0.0, false);
            ends[1].0 += 0.5 * self.size_pt;
        }
        right.add(&mut ends[1], "You are in the right place when", &self.title(), 0.0, true);
        if card.alignments.is_empty() {
            right.add(
                &mut ends[1],
                "Nothing upright lines up from here; go by the distances.",
                &self.body(),
                0.0,
                false,
            );
        }
        for (alignment, letter) in card.alignments.iter().zip('A'..) {
            right.add(&mut ends[1], &format!("{letter}  {alignment}"), &self.body(), 0.0, false);
            ends[1].0 += 0.25 * self.size_pt;
        }
        ends[1].0 += 0.3 * self.size_pt;
        if !card.cautions.is_empty() {
            // Where there is more room.
            let side = usize::from(ends[1] < ends[0]);
            let target = if side == 0 { &mut left } else { &mut right };
            target.add(&mut ends[side], "Mind", &Type { role: Role::Ask, ..self.title() }, 0.0, true);
            for caution in &card.cautions {
                target.add(&mut ends[side], caution, &self.body(), 0.0, false);
                ends[side].0 += 0.25 * self.size_pt;
            }
        }
        [left, right]
    }

    fn foot(&self, sheet: &mut Sheet<'_>, card: &FieldCard) {
        let set = Type::new(6.0, Weight::Regular, Role::Soft);
        sheet.paragraph(&card.foot, (MARGIN_PT, A5_PT.1 - FOOT_PT), A5_PT.0 - 2.0 * MARGIN_PT, &set);
    }
}

impl Column {
    fn pages(&self) -> usize {
        self.lines.iter().map(|(_, placed)| placed.page + 1).max().unwrap_or(1)
    }

    fn fits(&self) -> bool {
        self.pages() <= 1
    }

    /// Adds a text in lines at the end of the column, on the next page where this one is full.
    fn add(&mut self, (y, page): &mut (f64, usize), text: &str, set: &Type, indent_pt: f64, ruled: bool) {
        for (index, line) in set.lines(text, self.width_pt - indent_pt).into_iter().enumerate() {
            if *y + set.leading_pt() > self.bottom {
                *page += 1;
                *y = PICTURES_TOP_PT;
            }
            let placed = Placed { text: line, indent_pt, set: *set, page: *page, ruled: ruled && index == 0 };
            self.lines.push((*y, placed));
            *y += set.leading_pt();
        }
    }

    /// Adds a caption, its value beside it where there is room, and its note under it.
    fn add_row(&mut self, end: &mut (f64, usize), row: &Row, setting: &Setting) {
        let (caption, value) = (setting.caption(), setting.value());
        let indent = 0.34 * self.width_pt;
        let beside = caption.width_pt(&row.what) < indent - 4.0
            && value.width_pt(&row.value) <= self.width_pt - indent
            && end.0 + value.leading_pt() <= self.bottom;
        if beside {
            let placed =
                |text: &str, indent_pt, set| Placed { text: text.into(), indent_pt, set, page: end.1, ruled: false };
            self.lines.push((end.0, placed(&row.what, 0.0, caption)));
            self.lines.push((end.0, placed(&row.value, indent, value)));
            end.0 += value.leading_pt();
        } else {
            self.add(end, &row.what, &caption, 0.0, false);
            self.add(end, &row.value, &value, 0.0, false);
        }
        if let Some(note) = &row.note {
            self.add(end, note, &setting.caption(), if beside { indent } else { 0.0 }, false);
        }
        end.0 += 0.12 * setting.size_pt;
    }

    fn set(&self, sheet: &mut Sheet<'_>, setting: &Setting, page: usize) {
        for (y, placed) in self.lines.iter().filter(|(_, placed)| placed.page == page) {
            if placed.ruled {
                let pen = Role::Line.pen(0.7);
                sheet.rule((self.left, *y - 1.0), (self.left + self.width_pt, *y - 1.0), pen);
            }
            // Everything of one line stands on one baseline.
            let baseline = y + 1.05 * placed.set.size_pt.max(setting.size_pt);
            sheet.text(&placed.text, (self.left + placed.indent_pt, baseline), &placed.set);
        }
    }
}
