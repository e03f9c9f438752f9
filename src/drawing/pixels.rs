//! How does a drawing become a picture?

use tiny_skia::{
    ColorU8, FillRule, LineCap, LineJoin, Paint, Path, PathBuilder, Pixmap, Rect, Stroke, StrokeDash, Transform,
};

use crate::still::{Lettering, Picture};
use crate::theme::{Colour, Palette, Theme};

use super::{CanvasPoint, Drawing, Mark, PLATE, Pen, Role, Text, Tint, arrow_head};

/// The largest side of a picture.
const LARGEST_PX: f64 = 16_000.0;

impl Drawing {
    /// The drawing as a picture of so many pixels a point, on the theme's panel; `None` where it would have no pixel or a
    /// side of more than 16,000.
    pub fn picture(&self, theme: Theme, pixels_per_point: f64) -> Option<Picture> {
        self.picture_over(theme, pixels_per_point, None)
    }

    /// [`Drawing::picture`] over something that is no drawing, by its colour at each place of the canvas.
    pub(super) fn picture_over(
        &self,
        theme: Theme,
        pixels_per_point: f64,
        under: Option<&dyn Fn(CanvasPoint) -> Option<Colour>>,
    ) -> Option<Picture> {
        let side = |points: f64| {
            let pixels = (points * pixels_per_point).round();
            (1.0..=LARGEST_PX).contains(&pixels).then_some(pixels as u32)
        };
        let (width_px, height_px) = (side(self.width_pt)?, side(self.height_pt)?);
        let mut sheet = PixelCanvas {
            pixels: Pixmap::new(width_px, height_px)?,
            palette: theme.palette(),
            place: Transform::from_scale(pixels_per_point as f32, pixels_per_point as f32),
        };
        let panel = Role::Panel.colour(sheet.palette);
        sheet.pixels.fill(tiny_skia::Color::from_rgba8(panel.0, panel.1, panel.2, 255));
        if let Some(under) = under {
            sheet.spread(|(x, y)| under((x / pixels_per_point, y / pixels_per_point)));
        }
        for mark in &self.marks {
            sheet.draw(mark);
        }
        let rgb = sheet.pixels.pixels().iter().flat_map(|pixel| [pixel.red(), pixel.green(), pixel.blue()]).collect();
        Some(Picture::of_rgb(width_px, height_px, rgb))
    }
}

struct PixelCanvas {
    pixels: Pixmap,
    palette: &'static Palette,
    place: Transform,
}

impl PixelCanvas {
    /// Colours the sheet by the colour of each of its places in pixels; each pixel is the mean of four places in it.
    fn spread(&mut self, colour: impl Fn((f64, f64)) -> Option<Colour>) {
        let (width, panel) = (self.pixels.width() as usize, Role::Panel.colour(self.palette));
        for (index, pixel) in self.pixels.pixels_mut().iter_mut().enumerate() {
            let (column, row) = ((index % width) as f64, (index / width) as f64);
            let mut sums = [2_u16; 3];
            for (right, down) in [(0.25, 0.25), (0.75, 0.25), (0.25, 0.75), (0.75, 0.75)] {
                let Colour(red, green, blue) = colour((column + right, row + down)).unwrap_or(panel);
                sums = [sums[0] + u16::from(red), sums[1] + u16::from(green), sums[2] + u16::from(blue)];
            }
            let [red, green, blue] = sums.map(|sum| (sum / 4) as u8);
            *pixel = ColorU8::from_rgba(red, green, blue, 255).premultiply();
        }
    }

    fn draw(&mut self, mark: &Mark) {
        match mark {
            Mark::Line { points, pen } => self.stroke(path_of([(points.as_slice(), false)]), Some(pen)),
            Mark::Area { rings, fill, pen } => {
                let path = path_of(rings.iter().map(|ring| (ring.as_slice(), true)));
                self.fill(path.clone(), fill.as_ref());
                self.stroke(path, pen.as_ref());
            }
            Mark::Circle { centre, radius_pt, fill, pen } => {
                let path = PathBuilder::from_circle(centre.0 as f32, centre.1 as f32, *radius_pt as f32);
                self.fill(path.clone(), fill.as_ref());
                self.stroke(path, pen.as_ref());
            }
            Mark::Arrow { from, to, pen } => {
                self.stroke(path_of([([*from, *to].as_slice(), false)]), Some(pen));
                if let Some(head) = arrow_head(*from, *to, pen) {
                    self.stroke(path_of([(head.as_slice(), false)]), Some(pen));
                }
            }
            Mark::Text(text) => self.write(text),
        }
    }

    fn paint(&self, tint: &Tint) -> Paint<'static> {
        let colour = tint.role.colour(self.palette);
        let mut paint = Paint { anti_alias: true, ..Paint::default() };
        paint.set_color_rgba8(colour.0, colour.1, colour.2, (255.0 * tint.opacity).round().clamp(0.0, 255.0) as u8);
        paint
    }

    fn fill(&mut self, path: Option<Path>, tint: Option<&Tint>) {
        if let (Some(path), Some(tint)) = (path, tint) {
            let paint = self.paint(tint);
            self.pixels.fill_path(&path, &paint, FillRule::EvenOdd, self.place, None);
        }
    }

    fn stroke(&mut self, path: Option<Path>, pen: Option<&Pen>) {
        if let (Some(path), Some(pen)) = (path, pen) {
            let stroke = Stroke {
                width: pen.width_pt as f32,
                line_cap: LineCap::Round,
                line_join: LineJoin::Round,
                dash: pen.pattern().and_then(|[stroke, gap]| StrokeDash::new(vec![stroke as f32, gap as f32], 0.0)),
                ..Stroke::default()
            };
            let paint = self.paint(&pen.role.full());
            self.pixels.stroke_path(&path, &paint, &stroke, self.place, None);
        }
    }

    fn write(&mut self, text: &Text) {
        if text.plate {
            let room = text.room();
            let plate = Rect::from_ltrb(room.left as f32, room.top as f32, room.right as f32, room.bottom as f32);
            self.fill(plate.map(PathBuilder::from_rect), Some(&PLATE));
        }
        let lettering = Lettering::new(text.weight, text.size_pt);
        if let Some(letters) = lettering.outline(&text.text, text.baseline()) {
            let paint = self.paint(&text.role.full());
            self.pixels.fill_path(&letters, &paint, FillRule::Winding, self.place, None);
        }
    }
}

/// One path of several lines, each closed or not.
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
