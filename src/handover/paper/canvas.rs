//! How are text, pictures and drawings put on printed pages?
//!
//! Pages are measured in points (1/72 inch) from their top left corner, x right, y down, and are always light: they are
//! for paper.

use krilla::Data;
use krilla::color::rgb;
use krilla::geom::{Path, PathBuilder, Point, Rect, Size, Transform};
use krilla::image::Image as EmbeddedImage;
use krilla::metadata::Metadata;
use krilla::num::NormalizedF32;
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, LineCap, LineJoin, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::text::{Font, TextDirection};

use crate::drawing::{CanvasPoint, Drawing, Mark, PLATE, Pen, Role, Room, Tint, Weight, arrow_head};
use crate::still::{FONTS, Lettering, Picture};
use crate::text::without_direction_marks;
use crate::theme::{Palette, Theme};

use super::error::PaperError;
use crate::handover::brand::LogoFile;
use crate::handover::document::{Illustration, Image};
use crate::handover::jpeg::jpeg;

/// How good the pictures are, of 100.
const QUALITY: u8 = 88;

/// A4 upright, ISO 216.
pub(super) const A4_PT: (f64, f64) = (595.28, 841.89);
/// A5 upright, ISO 216.
pub(super) const A5_PT: (f64, f64) = (419.53, 595.28);

/// A document whose pages are drawn one after the other.
pub(super) struct PaperFile {
    document: krilla::Document,
    fonts: [Font; 2],
}

/// One page while it is drawn.
pub(super) struct PageCanvas<'a> {
    surface: Surface<'a>,
    fonts: [Font; 2],
    palette: &'static Palette,
}

/// Text set in one size, weight and colour.
#[derive(Clone, Copy)]
pub(super) struct TextStyle {
    pub(super) size_pt: f64,
    pub(super) weight: Weight,
    pub(super) role: Role,
}

impl TextStyle {
    pub(super) const fn new(size_pt: f64, weight: Weight, role: Role) -> Self {
        Self { size_pt, weight, role }
    }

    /// From line to line.
    pub(super) fn leading_pt(&self) -> f64 {
        1.34 * self.size_pt
    }

    /// A text in lines that are no longer than so much; a word that is longer stands alone and is cut.
    pub(super) fn lines(&self, text: &str, width_pt: f64) -> Vec<String> {
        let lettering = Lettering::new(self.weight, self.size_pt);
        let mut lines: Vec<String> = Vec::new();
        for paragraph in text.split('\n') {
            let mut line = String::new();
            for word in paragraph.split_whitespace() {
                let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
                if !line.is_empty() && lettering.width_px(&longer) > width_pt {
                    lines.push(std::mem::replace(&mut line, word.to_owned()));
                } else {
                    line = longer;
                }
                while lettering.width_px(&line) > width_pt && line.chars().count() > 1 {
                    let mut kept: String = line.clone();
                    while lettering.width_px(&kept) > width_pt && kept.chars().count() > 1 {
                        kept.pop();
                    }
                    line = line[kept.len()..].to_owned();
                    lines.push(kept);
                }
            }
            lines.push(line);
        }
        lines
    }

    pub(super) fn width_pt(&self, text: &str) -> f64 {
        Lettering::new(self.weight, self.size_pt).width_px(text)
    }
}

impl PaperFile {
    pub(super) fn new(title: &str, description: &str) -> Result<Self, PaperError> {
        let font = |bytes: &'static [u8]| {
            Font::new(Data::from(bytes.to_vec()), 0).ok_or(PaperError::Pages { why: "the type cannot be read".into() })
        };
        let mut document = krilla::Document::new();
        document.set_metadata(
            Metadata::new()
                .title(title.to_owned())
                .description(description.to_owned())
                .language("en".to_owned())
                .creator(format!("plumbsight {}", env!("CARGO_PKG_VERSION"))),
        );
        Ok(Self { document, fonts: [font(FONTS[0])?, font(FONTS[1])?] })
    }

    /// Draws a page.
    pub(super) fn page(
        &mut self,
        (width_pt, height_pt): (f64, f64),
        draw: impl FnOnce(&mut PageCanvas<'_>) -> Result<(), PaperError>,
    ) -> Result<(), PaperError> {
        let settings = PageSettings::from_wh(width_pt as f32, height_pt as f32)
            .ok_or_else(|| PaperError::Pages { why: format!("a page of {width_pt} × {height_pt} points") })?;
        let mut page = self.document.start_page_with(settings);
        {
            let mut canvas =
                PageCanvas { surface: page.surface(), fonts: self.fonts.clone(), palette: Theme::Paper.palette() };
            draw(&mut canvas)?;
            canvas.surface.finish();
        }
        page.finish();
        Ok(())
    }

    pub(super) fn finish(self) -> Result<Vec<u8>, PaperError> {
        self.document.finish().map_err(|error| PaperError::Pages { why: format!("{error:?}") })
    }
}

impl PageCanvas<'_> {
    fn fill_of(&self, tint: &Tint) -> Fill {
        let colour = tint.role.colour(self.palette);
        Fill {
            paint: rgb::Color::new(colour.0, colour.1, colour.2).into(),
            opacity: NormalizedF32::new(tint.opacity.clamp(0.0, 1.0) as f32).unwrap_or(NormalizedF32::ONE),
            rule: FillRule::EvenOdd,
        }
    }

    fn stroke_of(&self, pen: &Pen) -> Stroke {
        let colour = pen.role.colour(self.palette);
        Stroke {
            paint: rgb::Color::new(colour.0, colour.1, colour.2).into(),
            width: pen.width_pt as f32,
            miter_limit: 4.0,
            line_cap: LineCap::Round,
            line_join: LineJoin::Round,
            opacity: NormalizedF32::ONE,
            dash: pen.pattern().map(|[stroke, gap]| StrokeDash { array: vec![stroke as f32, gap as f32], offset: 0.0 }),
        }
    }

    fn draw(&mut self, path: Option<Path>, fill: Option<&Tint>, pen: Option<&Pen>) {
        let Some(path) = path else { return };
        // Without either, the library would fill in black.
        if fill.is_none() && pen.is_none() {
            return;
        }
        let (fill, stroke) = (fill.map(|tint| self.fill_of(tint)), pen.map(|pen| self.stroke_of(pen)));
        self.surface.set_fill(fill);
        self.surface.set_stroke(stroke);
        self.surface.draw_path(&path);
    }

    /// A rectangle.
    pub(super) fn rect(&mut self, room: &Room, fill: Option<Tint>, pen: Option<Pen>) {
        let corners =
            [(room.left, room.top), (room.right, room.top), (room.right, room.bottom), (room.left, room.bottom)];
        self.draw(path_of([(corners.as_slice(), true)]), fill.as_ref(), pen.as_ref());
    }

    pub(super) fn rule(&mut self, from: CanvasPoint, to: CanvasPoint, pen: Pen) {
        self.draw(path_of([([from, to].as_slice(), false)]), None, Some(&pen));
    }

    /// One line of text that starts at the left end of its baseline.
    pub(super) fn text(&mut self, text: &str, (x, y): CanvasPoint, style: &TextStyle) {
        let fill = self.fill_of(&style.role.full());
        self.surface.set_fill(Some(fill));
        self.surface.set_stroke(None);
        let font = self.fonts[usize::from(style.weight == Weight::Semibold)].clone();
        let start = Point::from_xy(x as f32, y as f32);
        self.surface.draw_text(
            start,
            font,
            style.size_pt as f32,
            &without_direction_marks(text),
            false,
            TextDirection::Auto,
        );
    }

    /// Text in lines below one another from a top left corner; where the next would start.
    pub(super) fn paragraph(&mut self, text: &str, (x, y): CanvasPoint, width_pt: f64, style: &TextStyle) -> f64 {
        let mut y = y;
        for line in style.lines(text, width_pt) {
            self.text(&line, (x, y + 1.05 * style.size_pt), style);
            y += style.leading_pt();
        }
        y
    }

    /// An illustration in a rectangle whose proportions it has.
    pub(super) fn illustration(&mut self, illustration: &Illustration, room: &Room) -> Result<(), PaperError> {
        match &illustration.image {
            Image::Picture(picture) => self.picture(picture, room),
            Image::Drawing(drawing) => {
                self.drawing(drawing, (room.left, room.top), room.right - room.left);
                self.rect(room, None, Some(Role::Line.pen(0.8)));
                Ok(())
            }
        }
    }

    /// A picture in a rectangle whose proportions it has.
    pub(super) fn picture(&mut self, picture: &Picture, room: &Room) -> Result<(), PaperError> {
        let packed = jpeg(picture, QUALITY)?;
        self.image(EmbeddedImage::from_jpeg(Data::from(packed), true), room)?;
        self.rect(room, None, Some(Role::Ink.pen(0.7)));
        Ok(())
    }

    /// An illustration as large as finds room in a rectangle, at its top left; where it stands.
    pub(super) fn fitted(&mut self, illustration: &Illustration, room: &Room) -> Result<Room, PaperError> {
        let aspect = illustration.aspect();
        let width_pt = (room.right - room.left).min((room.bottom - room.top) * aspect).max(1.0);
        let placed = Room { right: room.left + width_pt, bottom: room.top + width_pt / aspect, ..*room };
        self.illustration(illustration, &placed)?;
        Ok(placed)
    }

    /// Somebody's logo as large as finds room in a rectangle; how wide it is.
    pub(super) fn logo(&mut self, logo: &LogoFile, room: &Room) -> Result<f64, PaperError> {
        let data = Data::from(logo.bytes.clone());
        let image = if logo.png { EmbeddedImage::from_png(data, true) } else { EmbeddedImage::from_jpeg(data, true) };
        let image = image.map_err(|why| PaperError::Picture { why: format!("the brand's logo: {why}") })?;
        let (across, down) = image.size();
        let aspect = f64::from(across.max(1)) / f64::from(down.max(1));
        let width_pt = (room.right - room.left).min((room.bottom - room.top) * aspect);
        self.image(Ok(image), &Room { right: room.left + width_pt, bottom: room.top + width_pt / aspect, ..*room })?;
        Ok(width_pt)
    }

    fn image(&mut self, image: Result<EmbeddedImage, String>, room: &Room) -> Result<(), PaperError> {
        let image = image.map_err(|why| PaperError::Picture { why })?;
        let size = Size::from_wh((room.right - room.left) as f32, (room.bottom - room.top) as f32)
            .ok_or_else(|| PaperError::Picture { why: "it has no size".into() })?;
        self.surface.push_transform(&Transform::from_translate(room.left as f32, room.top as f32));
        self.surface.draw_image(image, size);
        self.surface.pop();
        Ok(())
    }

    /// A drawing as wide as the rectangle, on the panel's colour.
    fn drawing(&mut self, drawing: &Drawing, (x, y): CanvasPoint, width_pt: f64) {
        let scale = width_pt / drawing.width_pt;
        let canvas = Room { left: 0.0, top: 0.0, right: drawing.width_pt, bottom: drawing.height_pt };
        self.surface.push_transform(&Transform::from_row(scale as f32, 0.0, 0.0, scale as f32, x as f32, y as f32));
        let clip = Rect::from_ltrb(0.0, 0.0, drawing.width_pt as f32, drawing.height_pt as f32).and_then(|rect| {
            let mut path = PathBuilder::new();
            path.push_rect(rect);
            path.finish()
        });
        if let Some(clip) = &clip {
            self.surface.push_clip_path(clip, &FillRule::NonZero);
        }
        self.rect(&canvas, Some(Role::Panel.full()), None);
        for mark in &drawing.marks {
            self.mark(mark);
        }
        if clip.is_some() {
            self.surface.pop();
        }
        self.surface.pop();
    }

    fn mark(&mut self, mark: &Mark) {
        match mark {
            Mark::Line { points, pen } => self.draw(path_of([(points.as_slice(), false)]), None, Some(pen)),
            Mark::Area { rings, fill, pen } => {
                let path = path_of(rings.iter().map(|ring| (ring.as_slice(), true)));
                self.draw(path, fill.as_ref(), pen.as_ref());
            }
            Mark::Circle { centre, radius_pt, fill, pen } => {
                self.draw(circle(*centre, *radius_pt), fill.as_ref(), pen.as_ref());
            }
            Mark::Arrow { from, to, pen } => {
                self.draw(path_of([([*from, *to].as_slice(), false)]), None, Some(pen));
                if let Some(head) = arrow_head(*from, *to, pen) {
                    self.draw(path_of([(head.as_slice(), false)]), None, Some(pen));
                }
            }
            Mark::Text(text) => {
                if text.plate {
                    self.rect(&text.room(), Some(PLATE), None);
                }
                self.text(&text.text, text.baseline(), &TextStyle::new(text.size_pt, text.weight, text.role));
            }
        }
    }
}

fn path_of<'a>(lines: impl IntoIterator<Item = (&'a [CanvasPoint], bool)>) -> Option<Path> {
    let mut path = PathBuilder::new();
    for (points, closed) in lines {
        let Some((first, rest)) = points.split_first() else { continue };
        path.move_to(first.0 as f32, first.1 as f32);
        for point in rest {
            path.line_to(point.0 as f32, point.1 as f32);
        }
        if closed {
            path.close();
        }
    }
    path.finish()
}

/// A circle in four curves; they stray from it by less than a three-thousandth of the radius (from memory).
fn circle((x, y): CanvasPoint, radius_pt: f64) -> Option<Path> {
    let reach = 0.552_284_75 * radius_pt;
    let at = |right: f64, down: f64| ((x + right) as f32, (y + down) as f32);
    let mut path = PathBuilder::new();
    let start = at(radius_pt, 0.0);
    path.move_to(start.0, start.1);
    for [by, then, to] in [
        [at(radius_pt, reach), at(reach, radius_pt), at(0.0, radius_pt)],
        [at(-reach, radius_pt), at(-radius_pt, reach), at(-radius_pt, 0.0)],
        [at(-radius_pt, -reach), at(-reach, -radius_pt), at(0.0, -radius_pt)],
        [at(reach, -radius_pt), at(radius_pt, -reach), at(radius_pt, 0.0)],
    ] {
        path.cubic_to(by.0, by.1, then.0, then.1, to.0, to.1);
    }
    path.close();
    path.finish()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_keep_their_width_and_every_letter() {
        let style = TextStyle::new(10.0, Weight::Regular, Role::Ink);
        let text = "Step sideways until the left edge touches; a-word-that-is-far-too-long-for-any-line-of-this-width ends it.";
        let lines = style.lines(text, 120.0);
        assert!(lines.len() > 3);
        assert!(lines.iter().all(|line| style.width_pt(line) <= 120.0), "{lines:?}");
        let letters = |text: &str| text.chars().filter(|letter| !letter.is_whitespace()).collect::<String>();
        assert_eq!(letters(&lines.concat()), letters(text));
        assert_eq!(style.lines("a\nb", 100.0), ["a", "b"]);
    }
}
