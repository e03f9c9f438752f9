//! How is a word drawn? From the outlines of the type that the program brings along.
//!
//! Open Sans, a humanist sans whose figures all have one width; Apache-2.0, see `assets/licences`.

use tiny_skia::{Path, PathBuilder};
use ttf_parser::{Face, GlyphId, OutlineBuilder};

use crate::text::is_direction_mark;

const REGULAR: &[u8] = include_bytes!("../../assets/fonts/OpenSans-Regular.ttf");
const SEMIBOLD: &[u8] = include_bytes!("../../assets/fonts/OpenSans-Semibold.ttf");
/// The files of the type: regular and semibold.
#[cfg(feature = "paper")]
pub(crate) const FONTS: [&[u8]; 2] = [REGULAR, SEMIBOLD];

/// A weight of the type.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weight {
    /// Captions.
    Regular,
    /// What is read first.
    Semibold,
}

/// A type of one weight and size.
pub(crate) struct Lettering {
    face: Face<'static>,
    size_px: f64,
    /// Pixels for each unit of the type's own grid.
    scale: f64,
}

impl Lettering {
    pub(crate) fn new(weight: Weight, size_px: f64) -> Self {
        let file = match weight {
            Weight::Regular => REGULAR,
            Weight::Semibold => SEMIBOLD,
        };
        let face = Face::parse(file, 0).expect("the type that the program brings along can be read");
        let scale = size_px / f64::from(face.units_per_em());
        Self { face, size_px, scale }
    }

    /// The size of the type.
    pub(crate) fn size_px(&self) -> f64 {
        self.size_px
    }

    /// How high its capitals and figures stand.
    pub(crate) fn capitals_px(&self) -> f64 {
        self.face.capital_height().map_or(0.7 * self.size_px, |units| f64::from(units) * self.scale)
    }

    /// Each letter of a line with its place from the start of the line.
    fn places<'a>(&'a self, text: &'a str) -> impl Iterator<Item = (GlyphId, f64, f64)> + 'a {
        let mut pen_px = 0.0;
        // Letters stand from left to right here: what would turn them is nothing to draw.
        text.chars().filter(|letter| !is_direction_mark(*letter)).map(move |letter| {
            // A letter that the type lacks is drawn as its empty box, so that it is missed.
            let glyph = self.face.glyph_index(letter).unwrap_or(GlyphId(0));
            let advance_px = f64::from(self.face.glyph_hor_advance(glyph).unwrap_or(0)) * self.scale;
            let start_px = pen_px;
            pen_px += advance_px;
            (glyph, start_px, advance_px)
        })
    }

    /// How long a line of text is.
    pub(crate) fn width_px(&self, text: &str) -> f64 {
        self.places(text).map(|(_, _, advance_px)| advance_px).sum()
    }

    /// The outlines of a line of text that starts at (`x`, `y`) of its baseline, pixels down; `None` when it has none.
    pub(crate) fn outline(&self, text: &str, (x, y): (f64, f64)) -> Option<Path> {
        let mut pen = GlyphPen { path: PathBuilder::new(), x, y, scale: self.scale };
        for (glyph, start_px, _) in self.places(text) {
            pen.x = x + start_px;
            self.face.outline_glyph(glyph, &mut pen);
        }
        pen.path.finish()
    }
}

/// From the type's grid, y up, to pixels, y down.
struct GlyphPen {
    path: PathBuilder,
    x: f64,
    y: f64,
    scale: f64,
}

impl GlyphPen {
    fn place(&self, x: f32, y: f32) -> (f32, f32) {
        ((self.x + f64::from(x) * self.scale) as f32, (self.y - f64::from(y) * self.scale) as f32)
    }
}

impl OutlineBuilder for GlyphPen {
    fn move_to(&mut self, x: f32, y: f32) {
        let (x, y) = self.place(x, y);
        self.path.move_to(x, y);
    }

    fn line_to(&mut self, x: f32, y: f32) {
        let (x, y) = self.place(x, y);
        self.path.line_to(x, y);
    }

    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        let ((x1, y1), (x, y)) = (self.place(x1, y1), self.place(x, y));
        self.path.quad_to(x1, y1, x, y);
    }

    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        let ((x1, y1), (x2, y2), (x, y)) = (self.place(x1, y1), self.place(x2, y2), self.place(x, y));
        self.path.cubic_to(x1, y1, x2, y2, x, y);
    }

    fn close(&mut self) {
        self.path.close();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_weights_can_be_read_and_have_what_labels_need() {
        for weight in [Weight::Regular, Weight::Semibold] {
            let type_20 = Lettering::new(weight, 20.0);
            assert!(type_20.capitals_px() > 12.0 && type_20.capitals_px() < 16.0);
            for letter in "Ab0123456789.,°′″×–−±/%()²³≥≤".chars() {
                assert!(type_20.face.glyph_index(letter).is_some(), "{letter}");
            }
        }
    }

    #[test]
    fn figures_all_have_one_width() {
        for weight in [Weight::Regular, Weight::Semibold] {
            let lettering = Lettering::new(weight, 20.0);
            let widths: Vec<f64> = ('0'..='9').map(|figure| lettering.width_px(&figure.to_string())).collect();
            assert!(widths.iter().all(|width| *width == widths[0]), "{widths:?}");
        }
    }

    #[test]
    fn an_outline_fills_the_width_it_says() {
        let lettering = Lettering::new(Weight::Semibold, 40.0);
        let bounds = lettering.outline("H", (100.0, 50.0)).expect("an outline").bounds();
        assert!(f64::from(bounds.right()) <= 100.0 + lettering.width_px("H"));
        assert!((f64::from(bounds.top()) - (50.0 - lettering.capitals_px())).abs() < 0.5);
        assert!(lettering.outline(" ", (0.0, 0.0)).is_none());
    }
}
