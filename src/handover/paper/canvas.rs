//! How are text, pictures and drawings put on printed pages?

use std::sync::Arc;

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

use crate::drawing::{CanvasPoint, Drawing, Mark, PLATE, Pen, Room, Text, Tint, Weight, arrow_head};
use crate::still::{FONTS, Picture};
use crate::text::without_direction_marks;
use crate::theme::{Palette, Theme};

use super::error::PaperError;
use crate::handover::jpeg::jpeg;
use crate::handover::page::{Page, PageMark, fitted};

/// How good the pictures are, of 100.
const QUALITY: u8 = 88;

/// A document whose pages are drawn one after the other.
pub(super) struct PaperFile {
    document: krilla::Document,
    fonts: [Font; 2],
    /// Pictures that were packed already: one may stand on several pages.
    packed: Vec<(Arc<Picture>, EmbeddedImage)>,
}

/// One page while it is drawn.
struct PageCanvas<'a> {
    surface: Surface<'a>,
    fonts: [Font; 2],
    palette: &'static Palette,
}

impl PaperFile {
    pub(super) fn new(title: &str, description: &str, language: &str) -> Result<Self, PaperError> {
        let font = |bytes: &'static [u8]| {
            Font::new(Data::from(bytes.to_vec()), 0).ok_or(PaperError::Pages { why: "the type cannot be read".into() })
        };
        let mut document = krilla::Document::new();
        document.set_metadata(
            Metadata::new()
                .title(title.to_owned())
                .description(description.to_owned())
                .language(language.to_owned())
                .creator(format!("plumbsight {}", env!("CARGO_PKG_VERSION"))),
        );
        Ok(Self { document, fonts: [font(FONTS[0])?, font(FONTS[1])?], packed: Vec::new() })
    }

    /// Draws a page.
    pub(super) fn page(&mut self, page: &Page) -> Result<(), PaperError> {
        let (width_pt, height_pt) = (page.width_pt, page.height_pt);
        let images = page.marks.iter().map(|mark| self.image_of(mark)).collect::<Result<Vec<_>, _>>()?;
        let settings = PageSettings::from_wh(width_pt as f32, height_pt as f32)
            .ok_or_else(|| PaperError::Pages { why: format!("a page of {width_pt} × {height_pt} points") })?;
        let mut started = self.document.start_page_with(settings);
        {
            let mut canvas =
                PageCanvas { surface: started.surface(), fonts: self.fonts.clone(), palette: Theme::Paper.palette() };
            for (mark, image) in page.marks.iter().zip(images) {
                match (mark, image) {
                    (PageMark::Mark(mark), _) => canvas.mark(mark),
                    (PageMark::Drawing(drawing, room), _) => canvas.drawing(drawing, room),
                    (PageMark::Picture(_, room), Some(image)) => canvas.image(image, room)?,
                    (PageMark::Logo(_, room), Some(image)) => {
                        let (across, down) = image.size();
                        canvas.image(image, &fitted(f64::from(across.max(1)) / f64::from(down.max(1)), room))?;
                    }
                    (PageMark::Picture(..) | PageMark::Logo(..), None) => {}
                }
            }
            canvas.surface.finish();
        }
        started.finish();
        Ok(())
    }

    /// The packed image of a picture or logo.
    fn image_of(&mut self, mark: &PageMark) -> Result<Option<EmbeddedImage>, PaperError> {
        Ok(match mark {
            PageMark::Mark(_) | PageMark::Drawing(..) => None,
            PageMark::Picture(picture, _) => {
                let known = self.packed.iter().find(|(packed, _)| Arc::ptr_eq(packed, picture));
                if let Some((_, image)) = known {
                    return Ok(Some(image.clone()));
                }
                let image = EmbeddedImage::from_jpeg(Data::from(jpeg(picture, QUALITY)?), true);
                let image = image.map_err(|why| PaperError::Picture { why })?;
                self.packed.push((Arc::clone(picture), image.clone()));
                Some(image)
            }
            PageMark::Logo(logo, _) => {
                let data = Data::from(logo.bytes.clone());
                let image =
                    if logo.png { EmbeddedImage::from_png(data, true) } else { EmbeddedImage::from_jpeg(data, true) };
                Some(image.map_err(|why| PaperError::Picture { why: format!("the brand's logo: {why}") })?)
            }
        })
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

    fn rect(&mut self, room: &Room, fill: Option<Tint>, pen: Option<Pen>) {
        let corners =
            [(room.left, room.top), (room.right, room.top), (room.right, room.bottom), (room.left, room.bottom)];
        self.draw(path_of([(corners.as_slice(), true)]), fill.as_ref(), pen.as_ref());
    }

    fn text(&mut self, text: &Text) {
        let fill = self.fill_of(&text.role.full());
        self.surface.set_fill(Some(fill));
        self.surface.set_stroke(None);
        let font = self.fonts[usize::from(text.weight == Weight::Semibold)].clone();
        let (x, y) = text.baseline();
        self.surface.draw_text(
            Point::from_xy(x as f32, y as f32),
            font,
            text.size_pt as f32,
            &without_direction_marks(&text.text),
            false,
            TextDirection::Auto,
        );
    }

    fn image(&mut self, image: EmbeddedImage, room: &Room) -> Result<(), PaperError> {
        let size = Size::from_wh((room.right - room.left) as f32, (room.bottom - room.top) as f32)
            .ok_or_else(|| PaperError::Picture { why: "it has no size".into() })?;
        self.surface.push_transform(&Transform::from_translate(room.left as f32, room.top as f32));
        self.surface.draw_image(image, size);
        self.surface.pop();
        Ok(())
    }

    /// A drawing as wide as the rectangle.
    fn drawing(&mut self, drawing: &Drawing, room: &Room) {
        let scale = (room.right - room.left) / drawing.width_pt;
        self.surface.push_transform(&Transform::from_row(
            scale as f32,
            0.0,
            0.0,
            scale as f32,
            room.left as f32,
            room.top as f32,
        ));
        let clip = Rect::from_ltrb(0.0, 0.0, drawing.width_pt as f32, drawing.height_pt as f32).and_then(|rect| {
            let mut path = PathBuilder::new();
            path.push_rect(rect);
            path.finish()
        });
        if let Some(clip) = &clip {
            self.surface.push_clip_path(clip, &FillRule::NonZero);
        }
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
                self.text(text);
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
