//! What stands under a picture that is one of several?
//!
//! A strip of paper with a row of short words, each in a column that stays where it is from picture to picture.

use tiny_skia::{FillRule, Paint, Pixmap, Transform};

use crate::theme::{Colour, Theme};

use super::Picture;
use super::lettering::{Lettering, Weight};
use super::overlay::OverlayInk;

/// The smallest size of type that is read without effort. Common practice, no source.
const LEAST_TYPE_PX: f64 = 11.0;
/// The size of type, as a share of a column's width.
const TYPE_SHARE: f64 = 0.085;
/// The strip's height in sizes of type.
const STRIP_TYPES: f64 = 2.6;

impl Picture {
    /// The same picture over a strip with words in columns of one width; words that are too long run smaller.
    #[must_use]
    pub fn with_caption(self, words: &[(String, OverlayInk)], theme: Theme) -> Self {
        let column_px = f64::from(self.width_px) / words.len().max(1) as f64;
        self.with_caption_in(words, theme, TYPE_SHARE * column_px)
    }

    /// The same in type of a size.
    #[must_use]
    pub fn with_caption_in(mut self, words: &[(String, OverlayInk)], theme: Theme, type_px: f64) -> Self {
        let palette = theme.palette();
        let column_px = f64::from(self.width_px) / words.len().max(1) as f64;
        let type_px = type_px.max(LEAST_TYPE_PX);
        let height_px = (STRIP_TYPES * type_px).ceil() as u32;
        let Some(mut strip) = Pixmap::new(self.width_px, height_px) else { return self };
        let Colour(red, green, blue) = palette.panel;
        strip.fill(tiny_skia::Color::from_rgba8(red, green, blue, 255));
        let inset_px = 0.9 * type_px;
        for (column, (text, ink)) in words.iter().enumerate() {
            let (weight, colour) = match ink {
                OverlayInk::Plumb => (Weight::Semibold, palette.plumb),
                OverlayInk::Side => (Weight::Semibold, palette.side),
                OverlayInk::Horizon | OverlayInk::Crop => (Weight::Regular, palette.soft),
            };
            let wide_px = Lettering::new(weight, type_px).width_px(text);
            let lettering =
                Lettering::new(weight, type_px * ((column_px - inset_px) / wide_px.max(1.0)).clamp(0.1, 1.0));
            let baseline_px = 0.5 * (f64::from(height_px) + lettering.capitals_px());
            let Some(path) = lettering.outline(text, (column as f64 * column_px + inset_px, baseline_px)) else {
                continue;
            };
            let mut paint = Paint::default();
            paint.set_color_rgba8(colour.0, colour.1, colour.2, 255);
            strip.fill_path(&path, &paint, FillRule::Winding, Transform::identity(), None);
        }
        let top = self.height_px;
        self.add_rows(height_px, [0; 3]);
        self.lay_over(top, &strip);
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_caption_stands_under_the_picture_and_leaves_it_alone() {
        let picture = Picture::of_rgb(300, 20, vec![7; 3 * 300 * 20]);
        let words = [("converges by 2.9°".to_owned(), OverlayInk::Plumb), ("40 m away".into(), OverlayInk::Horizon)];
        let captioned = picture.clone().with_caption(&words, Theme::Paper);
        assert_eq!(captioned.rgb.len(), 3 * 300 * captioned.height_px as usize);
        assert!(captioned.height_px > 40);
        assert_eq!(captioned.rgb[..picture.rgb.len()], picture.rgb[..]);
        let reddest =
            captioned.rgb[picture.rgb.len()..].chunks(3).map(|rgb| i32::from(rgb[0]) - i32::from(rgb[2])).max();
        assert!(reddest > Some(120), "{reddest:?}");
        // Words much too long, and none at all.
        let long = [("closes ".repeat(40), OverlayInk::Plumb)];
        assert!(picture.clone().with_caption(&long, Theme::Dusk).height_px > 20);
        assert!(picture.with_caption(&[], Theme::Dusk).height_px > 20);
    }
}
