//! Which small pictures are on the graphics card already?

use std::collections::BTreeMap;

use bevy_egui::egui::{Color32, ColorImage, Context, TextureHandle, TextureId, TextureOptions};

use crate::theme::Colour;
use crate::viewer::state::work::Thumbnail;

/// Small pictures by what they are of and how many of their pixels go into one, each uploaded when it is new.
pub(super) struct Textures<K> {
    kept: BTreeMap<(K, u32), (u64, TextureHandle)>,
}

impl<K> Default for Textures<K> {
    fn default() -> Self {
        Self { kept: BTreeMap::new() }
    }
}

impl<K: Ord + Copy> Textures<K> {
    /// The texture of a thumbnail that is shown so many points high; `None` for one whose pixels are not as many as its
    /// sides say. A graphics card reads four pixels and skips the rest, so a picture much larger than its place is made
    /// smaller first.
    pub(super) fn of(&mut self, context: &Context, of: K, thumbnail: &Thumbnail, high: f32) -> Option<TextureId> {
        let shown_px = f64::from(high * context.pixels_per_point()).max(1.0);
        let times = (f64::from(thumbnail.height_px) / shown_px).max(1.0) as u32;
        if let Some((version, handle)) = self.kept.get(&(of, times))
            && *version == thumbnail.version
        {
            return Some(handle.id());
        }
        let size = [thumbnail.width_px, thumbnail.height_px];
        let image = if times > 1 { reduced(size, &thumbnail.rgb, times)? } else { image(size, &thumbnail.rgb)? };
        let handle = context.load_texture("thumbnail", image, TextureOptions::LINEAR);
        let texture = handle.id();
        self.kept.retain(|(other, _), (version, _)| *other != of || *version == thumbnail.version);
        self.kept.insert((of, times), (thumbnail.version, handle));
        Some(texture)
    }

    /// Lets go of those that are of nothing any more.
    pub(super) fn retain(&mut self, stays: impl Fn(&K) -> bool) {
        self.kept.retain(|(of, _), _| stays(of));
    }
}

/// The picture with the mean light of `times` by `times` pixels in each of its own; what is left over at the right and the
/// bottom goes to the last.
fn reduced(size_px: [u32; 2], rgb: &[u8], times: u32) -> Option<ColorImage> {
    let full = image(size_px, rgb)?;
    let light: Vec<[f64; 3]> = (0..=u8::MAX).map(|value| Colour(value, value, value).linear()).collect();
    let times = times as usize;
    let small = full.size.map(|side| (side / times).max(1));
    let span = |index: usize, of: usize, side: usize| {
        let end = if index + 1 == of { side } else { (index + 1) * times };
        index * times..end
    };
    let mut pixels = Vec::with_capacity(small[0] * small[1]);
    for row in 0..small[1] {
        for column in 0..small[0] {
            let (rows, columns) = (span(row, small[1], full.size[1]), span(column, small[0], full.size[0]));
            let count = (rows.len() * columns.len()) as f64;
            let mut sum = [0.0; 3];
            for y in rows {
                for pixel in &full.pixels[y * full.size[0]..][columns.clone()] {
                    for (channel, sum) in sum.iter_mut().enumerate() {
                        *sum += light[usize::from(pixel[channel])][channel];
                    }
                }
            }
            let Colour(red, green, blue) = Colour::from_linear(sum.map(|sum| sum / count));
            pixels.push(Color32::from_rgb(red, green, blue));
        }
    }
    Some(ColorImage::new(small, pixels))
}

/// Pixels in sRGB, three bytes each, as an image; `None` where they are not as many as its sides say.
pub(super) fn image(size_px: [u32; 2], rgb: &[u8]) -> Option<ColorImage> {
    let size = size_px.map(|side_px| side_px as usize);
    (size[0] * size[1] * 3 == rgb.len()).then(|| ColorImage::from_rgb(size, rgb))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_smaller_picture_has_the_mean_light_of_the_larger() {
        // Half white and half black: half the light is 188 of 255 as sRGB codes it (IEC 61966-2-1), not 128.
        let rgb: Vec<u8> = [[255_u8; 3], [0; 3], [0; 3], [255; 3]].concat();
        let small = reduced([2, 2], &rgb, 2).expect("a picture");
        assert_eq!((small.size, small.pixels), ([1, 1], vec![Color32::from_rgb(188, 188, 188)]));
        // Five across by two: the last takes three.
        let rgb: Vec<u8> = [[255_u8, 0, 0], [255, 0, 0], [0, 0, 0], [0, 0, 0], [0, 0, 0]].repeat(2).concat();
        let small = reduced([5, 2], &rgb, 2).expect("a picture");
        assert_eq!((small.size, small.pixels), ([2, 1], vec![Color32::from_rgb(255, 0, 0), Color32::BLACK]));
        assert!(reduced([5, 3], &rgb, 2).is_none(), "too few pixels");
    }
}
