//! What is written over a picture: verticals, sides, the horizon, the vanishing point, and their labels.
//!
//! Whoever measures fills an [`Overlay`]; this file draws it. Widths and type grow with the picture. No two labels lie on
//! one another: a label that finds no room beside its point moves, and one that finds none at all is left out and
//! counted, the last ones of the list first.

use tiny_skia::{FillRule, LineCap, LineJoin, Paint, Path, PathBuilder, Pixmap, Rect, Stroke, StrokeDash, Transform};

use crate::theme::{Colour, Palette, Theme};

use super::Picture;
use super::lettering::{Lettering, Weight};

/// Lines and labels to be drawn over a picture, in its pixels.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Overlay {
    /// Lines, in the order in which they are drawn.
    pub lines: Vec<OverlayLine>,
    /// Marks.
    pub marks: Vec<OverlayMark>,
    /// Labels, the most important first.
    pub labels: Vec<OverlayLabel>,
    /// Whether it is drawn large, for a picture that is shown small.
    pub large: bool,
}

/// What a line or label is about; it decides the colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OverlayInk {
    /// Verticals and their vanishing point.
    Plumb,
    /// Sides and the subject's outline.
    Side,
    /// The horizon.
    Horizon,
    /// The edge of the final picture.
    Crop,
}

/// A line through points of the picture; parts outside the frame are cut off.
#[derive(Clone, Debug, PartialEq)]
pub struct OverlayLine {
    /// Its points; one that is no number parts the line.
    pub points_px: Vec<(f64, f64)>,
    /// What it is about.
    pub ink: OverlayInk,
    /// Whether it is dotted: hidden parts, and the horizon.
    pub dotted: bool,
}

/// A word beside a point of the picture.
#[derive(Clone, Debug, PartialEq)]
pub struct OverlayLabel {
    /// What it belongs to.
    pub at_px: (f64, f64),
    /// What it says, in one line.
    pub text: String,
    /// What it is about.
    pub ink: OverlayInk,
    /// Where it stands from its point, if there is room.
    pub anchor: LabelAnchor,
}

/// Where a label stands from its point.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum LabelAnchor {
    /// To its right.
    #[default]
    Right,
    /// To its left.
    Left,
    /// Over it.
    Above,
    /// Under it.
    Below,
}

/// A sign at a point of the picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OverlayMark {
    /// Where.
    pub at_px: (f64, f64),
    /// What it is about.
    pub ink: OverlayInk,
    /// Its form.
    pub form: MarkForm,
}

/// The form of a mark.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum MarkForm {
    /// A ring with a cross: a vanishing point in the frame.
    Point,
    /// An arrow that ends at its place and points this way (right, down): a vanishing point beyond the frame.
    Arrow {
        /// Right and down; its length does not matter.
        toward: (f64, f64),
    },
}

/// What became of an overlay.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[must_use]
pub struct OverlayCount {
    /// Labels drawn.
    pub labels: usize,
    /// Labels left out because no place was free for them.
    pub left_out: usize,
}

/// The height of a strip of the picture that is drawn at once, so that large pictures need no second copy.
const STRIP_PX: u32 = 512;
/// How many times larger than usual an overlay is that is drawn large.
const LARGE: f64 = 2.4;
/// How far beyond the frame lines are kept, so that their ends are not seen.
const BEYOND_PX: f64 = 64.0;

impl Picture {
    /// Draws lines, marks and labels over the picture, in the colours of a theme.
    pub fn draw(&mut self, overlay: &Overlay, theme: Theme) -> OverlayCount {
        let sheet = OverlayScale::for_picture(self, theme, overlay.large);
        let (plates, left_out) = sheet.place_labels(overlay);
        let mut strokes = Vec::new();
        sheet.add_lines(overlay, &mut strokes);
        sheet.add_marks(overlay, &mut strokes);
        sheet.add_plates(&plates, &mut strokes);
        for top in (0..self.height_px).step_by(STRIP_PX as usize) {
            self.draw_strip(top, &strokes);
        }
        OverlayCount { labels: plates.len(), left_out }
    }

    fn draw_strip(&mut self, top: u32, drawn: &[PaintedPath]) {
        let height = STRIP_PX.min(self.height_px - top);
        let (low, high) = (top as f32, (top + height) as f32);
        let mut touching = drawn.iter().filter(|item| item.bottom >= low && item.top <= high).peekable();
        if touching.peek().is_none() {
            return;
        }
        let Some(mut strip) = Pixmap::new(self.width_px, height) else { return };
        let place = Transform::from_translate(0.0, -low);
        for item in touching {
            let mut paint = Paint::default();
            paint.set_color_rgba8(item.colour.0, item.colour.1, item.colour.2, item.opacity);
            match &item.stroke {
                Some(stroke) => strip.stroke_path(&item.path, &paint, stroke, place, None),
                None => strip.fill_path(&item.path, &paint, FillRule::Winding, place, None),
            }
        }
        self.lay_over(top, &strip);
    }
}

/// One path with its paint.
struct PaintedPath {
    path: Path,
    colour: Colour,
    opacity: u8,
    stroke: Option<Stroke>,
    top: f32,
    bottom: f32,
}

impl PaintedPath {
    fn stroked(path: Path, colour: Colour, stroke: Stroke) -> Self {
        let (bounds, reach) = (path.bounds(), 2.0 * stroke.width);
        Self {
            top: bounds.top() - reach,
            bottom: bounds.bottom() + reach,
            path,
            colour,
            opacity: 255,
            stroke: Some(stroke),
        }
    }

    fn filled(path: Path, colour: Colour) -> Self {
        let bounds = path.bounds();
        Self { top: bounds.top(), bottom: bounds.bottom(), path, colour, opacity: 255, stroke: None }
    }
}

/// A label in its place.
struct PlacedLabel {
    left: f64,
    top: f64,
    right: f64,
    bottom: f64,
    at_px: (f64, f64),
    text: String,
    ink: OverlayInk,
}

impl PlacedLabel {
    fn overlaps(&self, other: &Self, apart: f64) -> bool {
        self.left < other.right + apart
            && other.left < self.right + apart
            && self.top < other.bottom + apart
            && other.top < self.bottom + apart
    }

    /// Whether the straight line from a to b runs through.
    fn is_crossed_by(&self, a: (f64, f64), b: (f64, f64)) -> bool {
        let Self { left, top, right, bottom, .. } = *self;
        clipped(a, b, &PixelBounds { left, top, right, bottom }).is_some()
    }
}

/// A picture's measures for drawing on it.
struct OverlayScale {
    width: f64,
    height: f64,
    line_px: f64,
    semibold: Lettering,
    regular: Lettering,
    palette: &'static Palette,
}

impl OverlayScale {
    fn for_picture(picture: &Picture, theme: Theme, large: bool) -> Self {
        let (width, height) = (f64::from(picture.width_px), f64::from(picture.height_px));
        let side = width.min(height) * if large { LARGE } else { 1.0 };
        let type_px = (19e-3 * side).max(11.0);
        Self {
            width,
            height,
            line_px: (1.9e-3 * side).max(1.2),
            semibold: Lettering::new(Weight::Semibold, type_px),
            regular: Lettering::new(Weight::Regular, type_px),
            palette: theme.palette(),
        }
    }

    fn colour(&self, ink: OverlayInk) -> Colour {
        match ink {
            OverlayInk::Plumb => self.palette.plumb,
            OverlayInk::Side => self.palette.side,
            OverlayInk::Horizon => self.palette.soft,
            OverlayInk::Crop => self.palette.ink,
        }
    }

    /// What is measured is set bolder than what is only named.
    fn lettering(&self, ink: OverlayInk) -> &Lettering {
        match ink {
            OverlayInk::Plumb | OverlayInk::Side => &self.semibold,
            OverlayInk::Horizon | OverlayInk::Crop => &self.regular,
        }
    }

    fn stroke(&self, share: f64, dash: Option<StrokeDash>) -> Stroke {
        Stroke {
            width: (self.line_px * share) as f32,
            line_cap: LineCap::Round,
            line_join: LineJoin::Round,
            dash,
            ..Stroke::default()
        }
    }

    /// The parts of a line within the frame (and a little beyond), each with how far along the line it begins.
    fn parts(&self, points: &[(f64, f64)]) -> Vec<(f64, Vec<(f64, f64)>)> {
        let bounds = PixelBounds {
            left: -BEYOND_PX,
            top: -BEYOND_PX,
            right: self.width + BEYOND_PX,
            bottom: self.height + BEYOND_PX,
        };
        let mut parts: Vec<(f64, Vec<(f64, f64)>)> = Vec::new();
        let (mut along, mut open) = (0.0, false);
        for pair in points.windows(2) {
            let (a, b) = (pair[0], pair[1]);
            let finite = [a.0, a.1, b.0, b.1].iter().all(|value| value.is_finite());
            let Some((from, to)) = clipped(a, b, &bounds).filter(|_| finite) else {
                open = false;
                along += if finite { length(a, b) } else { 0.0 };
                continue;
            };
            match parts.last_mut().filter(|_| open && from == a) {
                Some((_, part)) => part.push(to),
                None => parts.push((along + length(a, from), vec![from, to])),
            }
            open = to == b;
            along += length(a, b);
        }
        parts
    }

    fn add_lines(&self, overlay: &Overlay, drawn: &mut Vec<PaintedPath>) {
        for line in &overlay.lines {
            let share = if line.ink == OverlayInk::Horizon { 0.75 } else { 1.0 };
            for (along, part) in self.parts(&line.points_px) {
                let dash = line.dotted.then(|| {
                    // Round caps make dots of strokes of (almost) no length.
                    let (dot, gap) = (0.01 * self.line_px * share, 3.2 * self.line_px * share);
                    StrokeDash::new(vec![dot as f32, gap as f32], (along % (dot + gap)) as f32)
                });
                if let Some(path) = polyline(&part) {
                    if line.ink == OverlayInk::Crop {
                        // Over anything, light or dark.
                        let ground = self.stroke(2.4 * share, None);
                        drawn.push(PaintedPath::stroked(path.clone(), self.palette.panel, ground));
                    }
                    let stroke = self.stroke(share, dash.flatten());
                    drawn.push(PaintedPath::stroked(path, self.colour(line.ink), stroke));
                }
            }
        }
    }

    fn add_marks(&self, overlay: &Overlay, drawn: &mut Vec<PaintedPath>) {
        for mark in overlay.marks.iter().filter(|mark| self.holds(mark.at_px)) {
            let (x, y) = mark.at_px;
            let reach = self.mark_px();
            let colour = self.colour(mark.ink);
            let mut strokes = |points: &[(f64, f64)]| {
                if let Some(path) = polyline(points) {
                    drawn.push(PaintedPath::stroked(path, colour, self.stroke(1.0, None)));
                }
            };
            match mark.form {
                MarkForm::Point => {
                    strokes(&[(x - reach, y), (x + reach, y)]);
                    strokes(&[(x, y - reach), (x, y + reach)]);
                    if let Some(ring) = PathBuilder::from_circle(x as f32, y as f32, (0.55 * reach) as f32) {
                        drawn.push(PaintedPath::stroked(ring, colour, self.stroke(1.0, None)));
                    }
                }
                MarkForm::Arrow { toward } => {
                    let size = toward.0.hypot(toward.1);
                    if !(size > 0.0 && size.is_finite()) {
                        continue;
                    }
                    let (right, down) = (toward.0 / size * reach, toward.1 / size * reach);
                    let barb = |side: f64| (x - 0.7 * right + side * 0.55 * down, y - 0.7 * down - side * 0.55 * right);
                    strokes(&[(x - 2.4 * right, y - 2.4 * down), (x, y)]);
                    strokes(&[barb(1.0), (x, y), barb(-1.0)]);
                }
            }
        }
    }

    fn mark_px(&self) -> f64 {
        6.0 * self.line_px
    }

    fn add_plates(&self, plates: &[PlacedLabel], drawn: &mut Vec<PaintedPath>) {
        for plate in plates {
            let nearest = (plate.at_px.0.clamp(plate.left, plate.right), plate.at_px.1.clamp(plate.top, plate.bottom));
            if length(plate.at_px, nearest) > 1.3 * self.semibold.size_px()
                && let Some(path) = polyline(&[plate.at_px, nearest])
            {
                drawn.push(PaintedPath::stroked(path, self.colour(plate.ink), self.stroke(0.5, None)));
            }
        }
        for plate in plates {
            let lettering = self.lettering(plate.ink);
            let corner = 0.28 * self.semibold.size_px();
            drawn.extend(rounded(plate, corner).map(|path| PaintedPath::filled(path, self.palette.panel)));
            let inset = 0.5 * (plate.right - plate.left - lettering.width_px(&plate.text));
            let baseline = 0.5 * (plate.top + plate.bottom + lettering.capitals_px());
            let letters = lettering.outline(&plate.text, (plate.left + inset, baseline));
            drawn.extend(letters.map(|path| PaintedPath::filled(path, self.colour(plate.ink))));
        }
    }

    fn holds(&self, (x, y): (f64, f64)) -> bool {
        (0.0..=self.width).contains(&x) && (0.0..=self.height).contains(&y)
    }

    /// Finds a place for each label, and how many have none.
    fn place_labels(&self, overlay: &Overlay) -> (Vec<PlacedLabel>, usize) {
        let size = self.semibold.size_px();
        let (gap, apart) = (0.55 * size, 0.2 * size);
        let lines: Vec<((f64, f64), (f64, f64))> = overlay
            .lines
            .iter()
            .flat_map(|line| self.parts(&line.points_px))
            .flat_map(|(_, part)| part.windows(2).map(|pair| (pair[0], pair[1])).collect::<Vec<_>>())
            .collect();
        let mark_px = self.mark_px();
        let marks: Vec<PlacedLabel> = overlay
            .marks
            .iter()
            .filter(|mark| self.holds(mark.at_px))
            .map(|mark| {
                let (tail, (x, y)) = (2.4 * mark_px, mark.at_px);
                let (back, side) = match mark.form {
                    MarkForm::Point => ((0.0, 0.0), mark_px),
                    MarkForm::Arrow { toward } => {
                        let size = toward.0.hypot(toward.1).max(1e-9);
                        ((-toward.0 / size * tail, -toward.1 / size * tail), 0.6 * mark_px)
                    }
                };
                PlacedLabel {
                    left: x + back.0.min(0.0) - side,
                    right: x + back.0.max(0.0) + side,
                    top: y + back.1.min(0.0) - side,
                    bottom: y + back.1.max(0.0) + side,
                    at_px: mark.at_px,
                    text: String::new(),
                    ink: mark.ink,
                }
            })
            .collect();
        let mut plates: Vec<PlacedLabel> = Vec::new();
        let mut left_out = 0;
        for label in &overlay.labels {
            let width = self.lettering(label.ink).width_px(&label.text) + 0.9 * size;
            let height = 1.5 * size;
            let best = places(label.anchor)
                .map(|(order, anchor, shift)| {
                    let (x, y) = label.at_px;
                    let (centre_x, centre_y) = match anchor {
                        LabelAnchor::Right => (x + gap + 0.5 * width, y),
                        LabelAnchor::Left => (x - gap - 0.5 * width, y),
                        LabelAnchor::Above => (x, y - gap - 0.5 * height),
                        LabelAnchor::Below => (x, y + gap + 0.5 * height),
                    };
                    let centre_y = centre_y + shift * (height + apart);
                    let plate = PlacedLabel {
                        left: centre_x - 0.5 * width,
                        right: centre_x + 0.5 * width,
                        top: centre_y - 0.5 * height,
                        bottom: centre_y + 0.5 * height,
                        at_px: label.at_px,
                        text: label.text.clone(),
                        ink: label.ink,
                    };
                    (order, plate)
                })
                .filter(|(_, plate)| {
                    plate.left >= apart
                        && plate.right <= self.width - apart
                        && plate.top >= apart
                        && plate.bottom <= self.height - apart
                        && !plates.iter().chain(&marks).any(|other| plate.overlaps(other, apart))
                })
                .map(|(order, plate)| {
                    // A place that hides a line is as bad as one three steps further on.
                    let hidden = lines.iter().filter(|(a, b)| plate.is_crossed_by(*a, *b)).count();
                    (order + 3 * hidden, plate)
                })
                .min_by_key(|(order, _)| *order);
            match best {
                Some((_, plate)) if label.at_px.0.is_finite() && label.at_px.1.is_finite() => plates.push(plate),
                _ => left_out += 1,
            }
        }
        (plates, left_out)
    }
}

/// The places to try for a label, the best first: beside its point as required, on the other sides, then step by step
/// further up and down.
fn places(requirement_words: LabelAnchor) -> impl Iterator<Item = (usize, LabelAnchor, f64)> {
    let sides = match requirement_words {
        LabelAnchor::Right => [LabelAnchor::Right, LabelAnchor::Left, LabelAnchor::Above, LabelAnchor::Below],
        LabelAnchor::Left => [LabelAnchor::Left, LabelAnchor::Right, LabelAnchor::Above, LabelAnchor::Below],
        LabelAnchor::Above => [LabelAnchor::Above, LabelAnchor::Below, LabelAnchor::Right, LabelAnchor::Left],
        LabelAnchor::Below => [LabelAnchor::Below, LabelAnchor::Above, LabelAnchor::Right, LabelAnchor::Left],
    };
    [0.0, -1.0, 1.0, -2.0, 2.0, -3.0, 3.0, -4.0, 4.0]
        .into_iter()
        .flat_map(move |shift| sides.map(|side| (side, shift)))
        .enumerate()
        .map(|(order, (side, shift))| (order, side, shift))
}

fn length(a: (f64, f64), b: (f64, f64)) -> f64 {
    (b.0 - a.0).hypot(b.1 - a.1)
}

/// A rectangle of a picture, in pixels.
struct PixelBounds {
    left: f64,
    top: f64,
    right: f64,
    bottom: f64,
}

/// The part of a straight line within bounds; `None` outside.
fn clipped(a: (f64, f64), b: (f64, f64), bounds: &PixelBounds) -> Option<((f64, f64), (f64, f64))> {
    let PixelBounds { left, top, right, bottom } = *bounds;
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    for (step, room) in [(-dx, a.0 - left), (dx, right - a.0), (-dy, a.1 - top), (dy, bottom - a.1)] {
        if step == 0.0 {
            if room < 0.0 {
                return None;
            }
        } else if step < 0.0 {
            enter = enter.max(room / step);
        } else {
            leave = leave.min(room / step);
        }
    }
    let at = |share: f64| match share {
        0.0 => a,
        1.0 => b,
        share => (a.0 + dx * share, a.1 + dy * share),
    };
    (enter <= leave).then(|| (at(enter), at(leave)))
}

fn polyline(points: &[(f64, f64)]) -> Option<Path> {
    let (first, rest) = points.split_first()?;
    let mut path = PathBuilder::new();
    path.move_to(first.0 as f32, first.1 as f32);
    for point in rest {
        path.line_to(point.0 as f32, point.1 as f32);
    }
    path.finish()
}

fn rounded(plate: &PlacedLabel, corner: f64) -> Option<Path> {
    let rect = Rect::from_ltrb(plate.left as f32, plate.top as f32, plate.right as f32, plate.bottom as f32)?;
    let corner = (corner as f32).min(0.5 * rect.width()).min(0.5 * rect.height());
    let (left, top, right, bottom) = (rect.left(), rect.top(), rect.right(), rect.bottom());
    let mut path = PathBuilder::new();
    path.move_to(left + corner, top);
    path.line_to(right - corner, top);
    path.quad_to(right, top, right, top + corner);
    path.line_to(right, bottom - corner);
    path.quad_to(right, bottom, right - corner, bottom);
    path.line_to(left + corner, bottom);
    path.quad_to(left, bottom, left, bottom - corner);
    path.line_to(left, top + corner);
    path.quad_to(left, top, left + corner, top);
    path.close();
    path.finish()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn blank(width_px: u32, height_px: u32) -> Picture {
        Picture::of_rgb(width_px, height_px, vec![255; 3 * (width_px * height_px) as usize])
    }

    fn label(x: f64, y: f64, text: &str) -> OverlayLabel {
        OverlayLabel { at_px: (x, y), text: text.into(), ink: OverlayInk::Plumb, anchor: LabelAnchor::Right }
    }

    #[test]
    fn a_vertical_is_drawn_in_plumb_red_where_it_is() {
        let mut picture = blank(300, 1400);
        let overlay = Overlay {
            lines: vec![OverlayLine {
                points_px: vec![(100.5, -1e12), (100.5, 1e12)],
                ink: OverlayInk::Plumb,
                dotted: false,
            }],
            ..Overlay::default()
        };
        let written = picture.draw(&overlay, Theme::Paper);
        assert_eq!(written, OverlayCount { labels: 0, left_out: 0 });
        let red = Theme::Paper.palette().plumb;
        // In every strip of the picture, and across their joints.
        for y in [0, 511, 512, 1023, 1024, 1399] {
            assert_eq!(picture.pixel(100, y), Some([red.0, red.1, red.2]), "{y}");
            assert_eq!(picture.pixel(106, y), Some([255; 3]));
        }
    }

    #[test]
    fn labels_never_lie_on_one_another_and_the_last_are_left_out() {
        let picture = blank(600, 400);
        let sheet = OverlayScale::for_picture(&picture, Theme::Paper, false);
        let crowd: Vec<OverlayLabel> = (0..60).map(|index| label(300.0, 200.0, &format!("leans {index}.5°"))).collect();
        let (plates, left_out) = sheet.place_labels(&Overlay { labels: crowd, ..Overlay::default() });
        assert!(plates.len() >= 15, "{}", plates.len());
        assert_eq!(plates.len() + left_out, 60);
        assert!(left_out > 0);
        for (index, plate) in plates.iter().enumerate() {
            assert_eq!(plate.text, format!("leans {index}.5°"));
            assert!(plate.left >= 0.0 && plate.top >= 0.0 && plate.right <= 600.0 && plate.bottom <= 400.0);
            assert!(plates[..index].iter().all(|other| !plate.overlaps(other, 0.0)));
        }
    }

    #[test]
    fn a_label_stands_as_asked_and_keeps_off_lines() {
        let picture = blank(600, 400);
        let sheet = OverlayScale::for_picture(&picture, Theme::Paper, false);
        let alone = Overlay { labels: vec![label(200.0, 100.0, "leans 6.9°")], ..Overlay::default() };
        let (plates, _) = sheet.place_labels(&alone);
        let (large, _) = OverlayScale::for_picture(&picture, Theme::Paper, true).place_labels(&alone);
        let width = |plate: &PlacedLabel| plate.right - plate.left;
        // Letters are no smaller than 11 px, which is larger than usual in so small a picture.
        assert!(width(&large[0]) > 1.6 * width(&plates[0]));
        assert!(plates[0].left > 200.0 && plates[0].top < 100.0 && plates[0].bottom > 100.0);
        let line = OverlayLine { points_px: vec![(230.0, 0.0), (230.0, 400.0)], ink: OverlayInk::Side, dotted: true };
        let (plates, _) = sheet.place_labels(&Overlay { lines: vec![line], ..alone });
        assert!(plates[0].right < 200.0);
    }

    #[test]
    fn text_is_readable_on_its_plate() {
        for theme in Theme::ALL {
            let sheet = OverlayScale::for_picture(&blank(10, 10), theme, false);
            for ink in [OverlayInk::Plumb, OverlayInk::Side, OverlayInk::Horizon] {
                assert!(crate::theme::contrast(sheet.colour(ink), sheet.palette.panel) >= 4.5);
            }
        }
    }

    #[test]
    fn hostile_overlays_do_no_harm() {
        let mut picture = blank(64, 48);
        let wild = [f64::NAN, f64::INFINITY, -1e300, 0.0, 20.0, 1e300];
        let points: Vec<(f64, f64)> = wild.iter().flat_map(|&x| wild.map(|y| (x, y))).collect();
        let overlay = Overlay {
            lines: [true, false]
                .map(|dotted| OverlayLine { points_px: points.clone(), ink: OverlayInk::Horizon, dotted })
                .to_vec(),
            marks: points
                .iter()
                .flat_map(|&at_px| {
                    [MarkForm::Point, MarkForm::Arrow { toward: at_px }].map(|form| OverlayMark {
                        at_px,
                        ink: OverlayInk::Plumb,
                        form,
                    })
                })
                .collect(),
            labels: points.iter().map(|&(x, y)| label(x, y, "9°")).chain([label(5.0, 5.0, "")]).collect(),
            large: true,
        };
        let written = picture.draw(&overlay, Theme::Dusk);
        assert_eq!(written.labels + written.left_out, overlay.labels.len());
    }
}
