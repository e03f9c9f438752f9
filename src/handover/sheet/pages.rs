//! How is a sheet laid out on paper: the recommendation on the first page, everything to decide on the second?

use crate::drawing::{CanvasPoint, Pen, Role, Room, Weight};
use crate::handover::page::{Page, PageWriter, TextStyle, aspect_of, fitted};
use crate::optics::Orientation;

use super::content::{AccessSign, ClientSheet, Figures, Shape, Standpoint};

/// What a page leaves to its margins.
const MARGIN_PT: f64 = 30.0;
/// Between columns, and between bands.
const GAP_PT: f64 = 22.0;
/// The sizes of the headline that are tried, the largest first.
const HEADLINES_PT: [f64; 6] = [28.0, 25.0, 22.0, 19.0, 17.0, 15.0];
/// From the bottom up to the number of the page.
const FOOT_PT: f64 = 16.0;

const BODY: TextStyle = TextStyle::new(9.0, Weight::Regular, Role::Ink);
const SMALL: TextStyle = TextStyle::new(8.2, Weight::Regular, Role::Soft);
const WHY: TextStyle = TextStyle::new(12.0, Weight::Regular, Role::Ink);
const HEADING: TextStyle = TextStyle::new(10.0, Weight::Semibold, Role::Ink);
const TITLE: TextStyle = TextStyle::new(14.5, Weight::Semibold, Role::Ink);

impl ClientSheet {
    /// The sheet on paper.
    pub fn pages(&self) -> Vec<Page> {
        let layout = Layout { sheet: self, size_pt: self.paper.size_pt() };
        let mut pages = vec![layout.first(), layout.second()];
        pages.extend(self.figures.as_ref().filter(|_| !layout.is_sparse()).map(|figures| layout.figures(figures)));
        pages
    }
}

/// Lays out the pages of one sheet.
#[derive(Clone, Copy)]
struct Layout<'a> {
    sheet: &'a ClientSheet,
    size_pt: (f64, f64),
}

/// How high something gets that is drawn from a height on.
fn height_of(size_pt: (f64, f64), draw: impl FnOnce(&mut PageWriter) -> f64) -> f64 {
    draw(&mut PageWriter::new(size_pt))
}

impl Layout<'_> {
    fn inner(&self) -> Room {
        let (width_pt, height_pt) = self.size_pt;
        Room { left: MARGIN_PT, top: MARGIN_PT, right: width_pt - MARGIN_PT, bottom: height_pt - MARGIN_PT - FOOT_PT }
    }

    fn count(&self) -> usize {
        2 + usize::from(self.sheet.figures.is_some() && !self.is_sparse())
    }

    /// Whether there is little more than the recommendation to show.
    fn is_sparse(&self) -> bool {
        self.sheet.others.is_empty()
    }

    /// The number of a page, and what pictures are and are not.
    fn foot(&self, page: &mut PageWriter, number: usize, says: &str) {
        let (right, y) = (self.size_pt.0 - MARGIN_PT, self.size_pt.1 - MARGIN_PT + 6.0);
        let count = self.sheet.words.page_of(&number.to_string(), &self.count().to_string());
        page.text_to(&count, (right, y), &SMALL);
        let width_pt = self.size_pt.0 - 2.0 * MARGIN_PT - 60.0;
        let small = TextStyle { size_pt: 7.4, ..SMALL };
        let lines = small.lines(says, width_pt) as f64;
        page.paragraph(says, (MARGIN_PT, y - small.leading_pt() * (lines - 1.0) - small.size_pt), width_pt, &small);
    }

    fn first(&self) -> Page {
        let mut page = PageWriter::new(self.size_pt);
        let upright = aspect_of(&self.sheet.chosen.picture) < 1.0;
        match (self.sheet.paper.turned, upright) {
            (Orientation::Landscape, true) => self.first_with_column(&mut page),
            (Orientation::Landscape, false) => self.first_with_band(&mut page),
            (Orientation::Portrait, true) => self.first_beside(&mut page),
            (Orientation::Portrait, false) => self.first_below(&mut page),
        }
        self.foot(&mut page, 1, "");
        page.finish()
    }

    /// Landscape paper, an upright picture: the picture is a column of its own.
    fn first_with_column(&self, page: &mut PageWriter) {
        let inner = self.inner();
        let wide = 0.42 * (inner.right - inner.left);
        let placed = self.chosen(page, &Room { right: inner.left + wide, ..inner });
        let column = Room { left: placed.right + 44.0, ..inner };
        page.plumb(placed.right + 21.0, 0.0, 0.33 * self.size_pt.1);
        let head = self.says(page, &column);
        let (lower, half) = self.access_and_when(page, &column);
        let high = (half / self.plan_aspect() + 18.0).min(lower - GAP_PT - head - 12.0);
        self.second_and_plan(page, &Room { top: lower - GAP_PT - high, bottom: lower - GAP_PT, ..column });
    }

    /// Landscape paper, a wide picture: everything else stands beside and below it.
    fn first_with_band(&self, page: &mut PageWriter) {
        let inner = self.inner();
        let wide = 0.58 * (inner.right - inner.left);
        let placed =
            self.chosen(page, &Room { right: inner.left + wide, bottom: inner.top + 0.66 * self.size_pt.1, ..inner });
        let column = Room { left: placed.right + 44.0, ..inner };
        page.plumb(placed.right + 21.0, 0.0, 0.33 * self.size_pt.1);
        let end = self.says(page, &column);
        self.when(page, (column.left, end + GAP_PT), column.right - column.left);
        let band = Room { top: placed.bottom + 46.0, ..inner };
        let third = (inner.right - inner.left - 2.0 * GAP_PT) / 3.0;
        let at = |index: f64| Room {
            left: inner.left + index * (third + GAP_PT),
            right: inner.left + index * (third + GAP_PT) + third,
            ..band
        };
        self.second_and_plan(page, &Room { right: at(1.0).right, ..band });
        self.access(page, (at(2.0).left, band.top), third);
    }

    /// Portrait paper, an upright picture: the alternative and the plan stand beside it.
    fn first_beside(&self, page: &mut PageWriter) {
        let inner = self.inner();
        let head = self.says(page, &inner) + 14.0;
        let (lower, _) = self.access_and_when(page, &inner);
        let wide = 0.58 * (inner.right - inner.left);
        let room = Room { top: head, bottom: lower - GAP_PT, right: inner.left + wide, ..inner };
        let placed = self.chosen(page, &room);
        let column = Room { left: placed.right + GAP_PT, top: head, bottom: lower - GAP_PT, ..inner };
        let plan_high = 18.0 + (column.right - column.left) / self.plan_aspect();
        let plan = Room { top: column.bottom - plan_high.min(0.46 * (column.bottom - column.top)), ..column };
        self.second_upright(page, &Room { bottom: plan.top - GAP_PT, ..column });
        self.plan(page, &plan);
    }

    /// Portrait paper, a wide picture: everything else stands below it.
    fn first_below(&self, page: &mut PageWriter) {
        let inner = self.inner();
        let head = self.says(page, &inner) + 14.0;
        let (lower, _) = self.access_and_when(page, &inner);
        let room = Room { top: head, bottom: head + 0.62 * (lower - head), ..inner };
        let placed = self.chosen(page, &room);
        let top = (placed.bottom + 46.0).min(lower - GAP_PT - 60.0);
        self.second_and_plan(page, &Room { top, bottom: lower - GAP_PT, ..inner });
    }

    fn plan_aspect(&self) -> f64 {
        let plan = &self.sheet.plan;
        plan.width_pt / plan.height_pt.max(1e-9)
    }

    /// The recommended picture with its caption; where the picture stands.
    fn chosen(&self, page: &mut PageWriter, room: &Room) -> Room {
        let sheet = self.sheet;
        let caption = |page: &mut PageWriter, placed: &Room| {
            page.disc(sheet.chosen.number, (placed.left + 9.5, placed.bottom + 19.0), 9.5);
            let label = format!("{}.", sheet.chosen.label);
            let away = if sheet.chosen.text.is_empty() { String::new() } else { format!("{}. ", sheet.chosen.text) };
            let rest = format!("{away}{}", sheet.scale);
            let width_pt = (placed.right - placed.left).max(180.0) - 28.0;
            page.runs(
                &[(&label, BODY.strong()), (&rest, BODY.soft())],
                (placed.left + 28.0, placed.bottom + 8.0),
                width_pt,
            )
        };
        let aspect = aspect_of(&sheet.chosen.picture);
        let trial = fitted(aspect, &Room { bottom: room.bottom - 40.0, ..*room });
        let words_pt = height_of(self.size_pt, |page| caption(page, &trial)) - trial.bottom;
        let placed = page.picture(&sheet.chosen.picture, &Room { bottom: room.bottom - words_pt, ..*room });
        caption(page, &placed);
        placed
    }

    /// Whose it is, what is recommended and why; where it ends.
    fn says(&self, page: &mut PageWriter, room: &Room) -> f64 {
        let (sheet, width_pt) = (self.sheet, room.right - room.left);
        let head = self.head(page, room);
        let size_pt = HEADLINES_PT.into_iter().find(|size_pt| {
            TextStyle::new(*size_pt, Weight::Semibold, Role::Ink).lines(&sheet.headline, width_pt) <= 2
        });
        let headline = TextStyle::new(size_pt.unwrap_or(15.0), Weight::Semibold, Role::Ink);
        let mut y = page.paragraph(&sheet.headline, (room.left, head + 18.0), width_pt, &headline);
        y = page.paragraph(&sheet.why, (room.left, y + 6.0), width_pt, &WHY);
        if let Some(introduction) = &sheet.introduction {
            y = page.paragraph(introduction, (room.left, y + 5.0), width_pt, &BODY.soft());
        }
        y
    }

    /// What the sheet is about and for whom, whose it is and of which day; where that ends.
    fn head(&self, page: &mut PageWriter, room: &Room) -> f64 {
        let sheet = self.sheet;
        let half = 0.5 * (room.right - room.left);
        let mut y = page.paragraph(&sheet.title, (room.left, room.top - 3.0), half, &BODY.strong());
        if let Some(client) = &sheet.client {
            y = page.paragraph(client, (room.left, y), half, &BODY.soft());
        }
        let mut right = room.top - 3.0;
        let mut lines: Vec<&str> = [&*sheet.name].into_iter().filter(|name| !name.is_empty()).collect();
        lines.extend(sheet.contact.iter().map(|line| &**line));
        lines.push(&sheet.day);
        let long_pt = lines.iter().map(|line| BODY.width_pt(line)).fold(0.0, f64::max);
        for line in lines {
            page.text_to(line, (room.right, right + 1.05 * BODY.size_pt), &BODY.soft());
            right += BODY.leading_pt();
        }
        if let Some(logo) = &sheet.logo {
            let left = room.right - long_pt - 12.0;
            page.logo(logo, Room { left: left - 56.0, top: room.top - 2.0, right: left, bottom: room.top + 24.0 });
        }
        y.max(right)
    }

    /// Who may go where beside day and people, at the bottom of a room; where they begin, and how wide each is.
    fn access_and_when(&self, page: &mut PageWriter, room: &Room) -> (f64, f64) {
        let half = 0.5 * (room.right - room.left - GAP_PT);
        let high = height_of(self.size_pt, |page| self.access(page, (room.left, 0.0), half))
            .max(height_of(self.size_pt, |page| self.when(page, (room.left, 0.0), half)));
        let top = room.bottom - high;
        self.access(page, (room.left, top), half);
        self.when(page, (room.left + half + GAP_PT, top), half);
        (top, half)
    }

    fn access(&self, page: &mut PageWriter, (left, top): CanvasPoint, width_pt: f64) -> f64 {
        let mut y = page.paragraph(&self.sheet.words.access_heading(), (left, top), width_pt, &HEADING) + 3.0;
        for line in &self.sheet.access {
            sign(page, line.sign, (left, y + 1.5));
            let runs = [(&*line.place, BODY.strong()), (&*line.text, BODY)];
            y = page.runs(&runs, (left + 18.0, y), width_pt - 18.0) + 2.5;
        }
        y
    }

    fn when(&self, page: &mut PageWriter, (left, top): CanvasPoint, width_pt: f64) -> f64 {
        let mut y = page.paragraph(&self.sheet.words.when_heading(), (left, top), width_pt, &HEADING) + 3.0;
        for (index, line) in self.sheet.when.iter().enumerate() {
            let style = if index == 0 { BODY.strong() } else { BODY.soft() };
            y = page.paragraph(line, (left, y), width_pt, &style) + 2.0;
        }
        y
    }

    /// The alternative and the plan beside one another.
    fn second_and_plan(&self, page: &mut PageWriter, room: &Room) {
        let half = 0.5 * (room.right - room.left - GAP_PT);
        if self.sheet.second.is_some() {
            self.second_beside(page, &Room { right: room.left + half, ..*room });
            self.plan(page, &Room { left: room.left + half + GAP_PT, ..*room });
        } else {
            self.plan(page, room);
        }
    }

    fn plan(&self, page: &mut PageWriter, room: &Room) {
        if room.bottom - room.top < LEAST_PLAN_PT {
            return;
        }
        let y =
            page.paragraph(&self.sheet.words.where_heading(), (room.left, room.top), room.right - room.left, &HEADING);
        let placed = fitted(self.plan_aspect(), &Room { top: y + 4.0, ..*room });
        page.rect(&placed, Some(Role::Panel.full()), None);
        page.drawing(&self.sheet.plan, &placed);
        page.rect(&placed, None, Some(Role::Line.pen(0.8)));
    }

    /// The alternative, its words beside its picture.
    fn second_beside(&self, page: &mut PageWriter, room: &Room) {
        let Some((heading, second)) = &self.sheet.second else { return };
        let width_pt = room.right - room.left;
        let y = page.paragraph(heading, (room.left, room.top), width_pt, &HEADING) + 4.0;
        if aspect_of(&second.picture) >= 1.0 {
            self.second_below(page, second, &Room { top: y, ..*room });
            return;
        }
        let placed = page.picture(&second.picture, &Room { top: y, right: room.left + 0.5 * width_pt, ..*room });
        let left = placed.right + 10.0;
        page.disc(second.number, (left + 8.0, y + 8.0), 8.0);
        let y = page.paragraph(&second.label, (left, y + 20.0), room.right - left, &BODY.strong());
        page.paragraph(&second.text, (left, y + 1.0), room.right - left, &BODY.soft());
    }

    /// The alternative in a narrow column.
    fn second_upright(&self, page: &mut PageWriter, room: &Room) {
        let Some((heading, second)) = &self.sheet.second else { return };
        let y = page.paragraph(heading, (room.left, room.top), room.right - room.left, &HEADING) + 4.0;
        self.second_below(page, second, &Room { top: y, ..*room });
    }

    /// A picture with its words below it.
    fn second_below(&self, page: &mut PageWriter, second: &Standpoint, room: &Room) {
        let width_pt = room.right - room.left;
        let words = |page: &mut PageWriter, top: f64| {
            page.disc(second.number, (room.left + 8.0, top + 13.0), 8.0);
            let y = page.paragraph(&second.label, (room.left + 22.0, top + 6.0), width_pt - 22.0, &BODY.strong());
            page.paragraph(&second.text, (room.left, y + 4.0), width_pt, &BODY.soft())
        };
        let words_pt = height_of(self.size_pt, |page| words(page, 0.0));
        let bottom = (room.bottom - words_pt).max(room.top + 40.0);
        let placed = page.picture(&second.picture, &Room { bottom, ..*room });
        words(page, placed.bottom);
    }

    fn second(&self) -> Page {
        let mut page = PageWriter::new(self.size_pt);
        let inner = self.inner();
        page.text(&self.sheet.title, (inner.left, inner.top + 6.0), &BODY.strong());
        page.text_to(&self.sheet.name, (inner.right, inner.top + 6.0), &BODY.soft());
        let mut body = Room { top: inner.top + 24.0, ..inner };
        if let Some(closing) = &self.sheet.closing {
            let width_pt = body.right - body.left;
            body.bottom -= BODY.lines(closing, width_pt) as f64 * BODY.leading_pt() + 6.0;
            page.paragraph(closing, (body.left, body.bottom + 6.0), width_pt, &BODY);
        }
        match self.sheet.paper.turned {
            _ if self.is_sparse() => self.second_sparse(&mut page, &body),
            Orientation::Landscape => self.second_landscape(&mut page, &body),
            Orientation::Portrait => self.second_portrait(&mut page, &body),
        }
        self.foot(&mut page, 2, &self.sheet.footer);
        page.finish()
    }

    /// What one receives and what is to be decided, and the plan once more, as large as there is room; then the figures.
    fn second_sparse(&self, page: &mut PageWriter, room: &Room) {
        let (sheet, wide) = (self.sheet, room.right - room.left);
        let mut body = *room;
        if !sheet.shapes.is_empty() {
            let high = self.shapes_high(wide, 0.34 * (room.bottom - room.top));
            body.bottom -= high + GAP_PT;
            self.shapes(page, &Room { top: room.bottom - high, ..*room });
        }
        if let Some(figures) = &sheet.figures {
            let high = height_of(self.size_pt, |page| self.table(page, figures, (room.left, 0.0), wide));
            body.bottom -= high + GAP_PT;
            self.table(page, figures, (room.left, body.bottom + GAP_PT), wide);
        }
        let upright = aspect_of(&sheet.chosen.picture) < 1.0;
        if sheet.paper.turned == Orientation::Landscape {
            let left =
                Room { right: body.left + if sheet.received.taken.is_some() { 0.5 } else { 0.42 } * wide, ..body };
            self.received(page, &left);
            let column = Room { left: left.right + GAP_PT, ..body };
            let y = self.decisions(page, (column.left, column.top + 4.0), column.right - column.left);
            self.plan(page, &Room { top: y + 12.0, ..column });
            return;
        }
        let upper = Room { bottom: body.top + 0.5 * (body.bottom - body.top), ..body };
        let y = if upright && sheet.received.taken.is_none() {
            let left = Room { right: body.left + 0.5 * wide, ..upper };
            let at = left.right + GAP_PT;
            let y = self.decisions(page, (at, body.top + 30.0), body.right - at);
            self.received(page, &left).max(y)
        } else {
            let y = self.received(page, &upper);
            self.decisions(page, (body.left, y + GAP_PT), wide)
        };
        self.plan(page, &Room { top: y + GAP_PT, ..body });
    }

    /// What one receives beside what else there was and what is to be decided, the shapes below.
    fn second_landscape(&self, page: &mut PageWriter, room: &Room) {
        let sheet = self.sheet;
        let wide = room.right - room.left;
        let shapes_pt = self.shapes_high(wide, 0.36 * (room.bottom - room.top));
        let upper =
            Room { bottom: room.bottom - shapes_pt - if sheet.shapes.is_empty() { 0.0 } else { GAP_PT }, ..*room };
        let share = if sheet.received.taken.is_some() { 0.40 } else { 0.25 };
        let left = Room { right: upper.left + share * wide, ..upper };
        let right = Room { left: left.right + 1.6 * GAP_PT, ..upper };
        self.received(page, &left);
        let decisions_pt =
            height_of(self.size_pt, |page| self.decisions(page, (right.left, 0.0), right.right - right.left));
        self.others(page, &Room { bottom: right.bottom - decisions_pt - 12.0, ..right });
        self.decisions(page, (right.left, right.bottom - decisions_pt), right.right - right.left);
        self.shapes(page, &Room { top: room.bottom - shapes_pt, ..*room });
    }

    /// Band below band.
    fn second_portrait(&self, page: &mut PageWriter, room: &Room) {
        let sheet = self.sheet;
        let wide = room.right - room.left;
        let decisions_pt = height_of(self.size_pt, |page| self.decisions(page, (room.left, 0.0), wide));
        // Beside a single picture there is room for what is to be decided.
        let beside = sheet.received.taken.is_none();
        let below_pt = if beside { 0.0 } else { decisions_pt + GAP_PT };
        let bands = 1 + usize::from(!sheet.shapes.is_empty());
        let free = room.bottom - room.top - below_pt - bands as f64 * GAP_PT;
        let shapes_pt = self.shapes_high(wide, 0.3 * free);
        let rows = sheet.others.len().div_ceil(5) as f64;
        let others_pt = ((0.3 + 0.06 * (rows - 1.0)) * free).min(190.0 * rows);
        let received = Room { bottom: room.top + free - shapes_pt - others_pt, ..*room };
        if beside {
            let left = Room { right: room.left + 0.44 * wide, ..received };
            self.received(page, &left);
            let at = left.right + GAP_PT;
            self.decisions(page, (at, received.top + 30.0), room.right - at);
        } else {
            self.received(page, &received);
            self.decisions(page, (room.left, room.bottom - decisions_pt), wide);
        }
        let others = Room { top: received.bottom + GAP_PT, bottom: received.bottom + GAP_PT + others_pt, ..*room };
        self.others(page, &others);
        let top = others.bottom + GAP_PT;
        self.shapes(page, &Room { top, bottom: top + shapes_pt, ..*room });
    }

    /// The picture as it is taken with the outline of what is kept, and as it is delivered with a plumb line; where that ends.
    fn received(&self, page: &mut PageWriter, room: &Room) -> f64 {
        let mut end = room.top;
        let sheet = self.sheet;
        let y =
            page.paragraph(&sheet.words.receive_heading(), (room.left, room.top - 3.0), room.right - room.left, &TITLE)
                + 6.0;
        let (taken_lead, delivered_lead) = (sheet.words.taken(), sheet.words.delivered());
        let two = sheet.received.taken.is_some();
        let gap = 14.0;
        let each = if two { 0.5 * (room.right - room.left - gap) } else { room.right - room.left };
        let delivered_aspect = aspect_of(&sheet.chosen.picture);
        let taken_aspect = sheet.received.taken.as_ref().map_or(delivered_aspect, |taken| aspect_of(&taken.picture));
        let words_pt = |lead: &str, text: &str, width_pt: f64| {
            height_of(self.size_pt, |page| page.runs(&[(lead, SMALL.strong()), (text, SMALL)], (0.0, 0.0), width_pt))
        };
        let taken_text = sheet.received.taken.as_ref().map_or("", |taken| &*taken.text);
        // Captions are as wide as the column: a narrow picture leaves them room.
        let below =
            words_pt(&taken_lead, taken_text, each).max(words_pt(&delivered_lead, &sheet.received.delivered, each))
                + 8.0;
        let high = (room.bottom - y - below).min(each / delivered_aspect).min(each / taken_aspect).max(30.0);
        let mut left = room.left;
        if let Some(taken) = &sheet.received.taken {
            let placed = page.picture(&taken.picture, &Room { left, top: y, right: left + each, bottom: y + high });
            let corner = |(x, down): &(f64, f64)| {
                let inside = |share: f64| share.clamp(0.0, 1.0);
                (
                    placed.left + inside(*x) * (placed.right - placed.left),
                    placed.top + inside(*down) * (placed.bottom - placed.top),
                )
            };
            let ring: Vec<CanvasPoint> = taken.kept.iter().map(corner).collect();
            page.area(ring, None, Some(Role::Ink.pen(1.3)));
            let runs = [(taken_lead.as_str(), BODY_TAKEN.strong()), (&*taken.text, BODY_TAKEN)];
            end = page.runs(&runs, (left, placed.bottom + 6.0), each);
            left += each + gap;
        }
        let placed = page.picture(&sheet.chosen.picture, &Room { left, top: y, right: left + each, bottom: y + high });
        let middle = 0.5 * (placed.left + placed.right);
        page.plumb(middle, placed.top, placed.bottom - 2.0);
        let runs = [(delivered_lead.as_str(), BODY_TAKEN.strong()), (&*sheet.received.delivered, BODY_TAKEN)];
        page.runs(&runs, (left, placed.bottom + 6.0), each).max(end)
    }

    /// What else was looked at, in rows of small pictures.
    fn others(&self, page: &mut PageWriter, room: &Room) {
        let others = &self.sheet.others;
        let wide = room.right - room.left;
        let y = page.paragraph(&self.sheet.words.others_heading(), (room.left, room.top - 3.0), wide, &TITLE) + 6.0;
        let most = if others.len() > 5 { others.len().div_ceil(2) } else { others.len() };
        let (across, gap) = (most.clamp(3, 6), 12.0);
        let each = (wide - gap * (across as f64 - 1.0)) / across as f64;
        let rows: Vec<&[Standpoint]> = others.chunks(across).collect();
        let words = |page: &mut PageWriter, point: &Standpoint, (left, top): CanvasPoint| {
            page.disc(point.number, (left + 7.0, top + 7.0), 7.0);
            let y = page.paragraph(&point.label, (left + 19.0, top), each - 19.0, &SMALL_NAME);
            page.paragraph(&point.text, (left, y.max(top + 15.0) + 1.0), each, &SMALL)
        };
        let words_pt = others
            .iter()
            .map(|point| height_of(self.size_pt, |page| words(page, point, (0.0, 0.0))))
            .fold(0.0, f64::max);
        let row_pt = (room.bottom - y) / rows.len() as f64;
        let high = (row_pt - words_pt - 10.0).max(24.0);
        for (index, row) in rows.iter().enumerate() {
            let top = y + index as f64 * row_pt;
            for (column, point) in row.iter().enumerate() {
                let left = room.left + column as f64 * (each + gap);
                let room = Room { left, top, right: left + each, bottom: top + high };
                // Words stand in one line below pictures of any shape.
                let free = room.bottom - fitted(aspect_of(&point.picture), &room).bottom;
                page.picture(&point.picture, &Room { top: top + free, ..room });
                words(page, point, (left, room.bottom + 5.0));
            }
        }
    }

    /// What is to be decided, with boxes to tick; where it ends.
    fn decisions(&self, page: &mut PageWriter, (left, top): CanvasPoint, width_pt: f64) -> f64 {
        let sheet = self.sheet;
        page.rule((left, top), width_pt, Role::Ink.pen(1.2));
        let y = page.paragraph(&sheet.reply, (left, top + 8.0), width_pt, &HEADING) + 5.0;
        let across = sheet.decisions.len().clamp(1, if width_pt > 420.0 { 4 } else { 2 });
        let each = (width_pt - 12.0 * (across as f64 - 1.0)) / across as f64;
        let mut end = y;
        for row in sheet.decisions.chunks(across) {
            let top = end;
            for (index, decision) in row.iter().enumerate() {
                let left = left + index as f64 * (each + 12.0);
                page.tick_box((left, top + 1.0), 11.0);
                let mut y = page.paragraph(&decision.text, (left + 18.0, top), each - 18.0, &BODY.strong());
                y = page.paragraph(&decision.note, (left + 18.0, y), each - 18.0, &SMALL);
                end = end.max(y + 4.0);
            }
        }
        end
    }

    /// How high shapes get, with heading and words, in so much room.
    fn shapes_high(&self, width_pt: f64, most_pt: f64) -> f64 {
        if self.sheet.shapes.is_empty() {
            return 0.0;
        }
        (self.shape_picture_high(width_pt) + SHAPE_WORDS_PT).min(most_pt.max(SHAPE_WORDS_PT + 40.0))
    }

    /// How high shapes may get so that all stand beside one another.
    fn shape_picture_high(&self, width_pt: f64) -> f64 {
        let shapes = &self.sheet.shapes;
        let aspects: f64 = shapes.iter().map(|shape| aspect_of(&shape.picture)).sum();
        (width_pt - GAP_PT * (shapes.len() as f64 - 1.0)) / aspects.max(1e-9)
    }

    fn shapes(&self, page: &mut PageWriter, room: &Room) {
        let (sheet, wide) = (self.sheet, room.right - room.left);
        if sheet.shapes.is_empty() {
            return;
        }
        let y = page.paragraph(&sheet.words.shapes_heading(), (room.left, room.top - 3.0), wide, &TITLE) + 6.0;
        page.text_to(&sheet.words.shapes_note("1"), (room.right, y - 10.0), &SMALL);
        let high = (room.bottom - room.top - SHAPE_WORDS_PT).min(self.shape_picture_high(wide));
        let widths: f64 = sheet.shapes.iter().map(|shape| high * aspect_of(&shape.picture)).sum();
        let spaces = sheet.shapes.len().saturating_sub(1).max(1) as f64;
        let gap = ((wide - widths) / spaces).clamp(GAP_PT, 3.0 * GAP_PT);
        let mut left = room.left;
        for shape in &sheet.shapes {
            left = self.shape(page, shape, (left, y), high) + gap;
        }
    }

    /// One shape with its box; where it ends to the right.
    fn shape(&self, page: &mut PageWriter, shape: &Shape, (left, top): CanvasPoint, high: f64) -> f64 {
        let right = left + high * aspect_of(&shape.picture);
        let placed = page.picture(&shape.picture, &Room { left, top, right, bottom: top + high });
        page.tick_box((left, placed.bottom + 7.0), 11.0);
        let runs = [(&*shape.name, BODY.strong()), (&*shape.proportion, BODY.soft())];
        let width_pt = (right - left - 18.0).max(60.0);
        let y = page.runs(&runs, (left + 18.0, placed.bottom + 6.0), width_pt);
        page.paragraph(&shape.text, (left + 18.0, y), width_pt, &SMALL);
        right
    }

    /// The figures of every standpoint, and the plan once more, large.
    fn figures(&self, figures: &Figures) -> Page {
        let mut page = PageWriter::new(self.size_pt);
        let inner = self.inner();
        let y = self.table(&mut page, figures, (inner.left, inner.top), inner.right - inner.left);
        self.plan(&mut page, &Room { top: y + GAP_PT, ..inner });
        self.foot(&mut page, 3, "");
        page.finish()
    }

    /// Figures under their heading, a standpoint a row; where they end.
    fn table(&self, page: &mut PageWriter, figures: &Figures, (left, top): CanvasPoint, wide: f64) -> f64 {
        let mut y = page.paragraph(&self.sheet.words.figures_heading(), (left, top), wide, &TITLE) + 8.0;
        let first = 0.2 * wide;
        let each = (wide - first) / figures.columns.len().saturating_sub(1).max(1) as f64;
        let column = |index: usize| left + first + index as f64 * each;
        if let Some((name, columns)) = figures.columns.split_first() {
            let mut end = page.paragraph(name, (left, y), first - 8.0, &SMALL);
            for (index, text) in columns.iter().enumerate() {
                end = end.max(page.paragraph(text, (column(index), y), each - 6.0, &SMALL));
            }
            y = end + 2.0;
        }
        for (number, name, cells) in &figures.rows {
            page.rule((left, y), wide, Role::Line.pen(0.8));
            page.disc(*number, (left + 7.5, y + 11.0), 7.0);
            let mut end = page.paragraph(name, (left + 20.0, y + 4.0), first - 28.0, &BODY.strong());
            for (index, cell) in cells.iter().enumerate() {
                end = end.max(page.paragraph(cell, (column(index), y + 4.0), each - 6.0, &BODY));
            }
            y = end.max(y + 20.0) + 3.0;
        }
        y
    }
}

const BODY_TAKEN: TextStyle = TextStyle::new(8.2, Weight::Regular, Role::Ink);
const SMALL_NAME: TextStyle = TextStyle::new(8.6, Weight::Semibold, Role::Ink);
/// Heading and words of the shapes.
const SHAPE_WORDS_PT: f64 = 66.0;
/// A plan that is lower tells nothing.
const LEAST_PLAN_PT: f64 = 90.0;

/// The sign of a line about access, from its top left corner: drawn as the plan draws its grounds.
fn sign(page: &mut PageWriter, sign: AccessSign, (left, top): CanvasPoint) {
    let room = Room { left, top, right: left + 10.0, bottom: top + 10.0 };
    let boxed = |page: &mut PageWriter, fill, pen: Pen| page.rect(&room, fill, Some(pen));
    match sign {
        AccessSign::Open => boxed(page, Some(Role::Ground.thinned(0.4)), Role::Open.pen(0.9)),
        AccessSign::Ask => boxed(page, Some(Role::Ask.thinned(0.07)), Role::Ask.pen(1.3)),
        AccessSign::Closed => {
            for reach in [5.0, 10.0, 15.0] {
                let (near, far) = (f64::max(0.0, reach - 10.0), f64::min(10.0, reach));
                page.line(vec![(left + near, top + far), (left + far, top + near)], Role::Soft.pen(0.6));
            }
            boxed(page, None, Role::Soft.dashed(0.9));
        }
        AccessSign::Caution => page.caution((left + 5.0, top + 5.0), 5.2),
    }
}
