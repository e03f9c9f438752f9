//! What is a finished picture, and how does it leave?

use tiny_skia::{Pixmap, PremultipliedColorU8};

use super::tones::Light;

/// A finished picture: sRGB, row by row from the top, each from the left.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Picture {
    /// Pixels across.
    pub width_px: u32,
    /// Pixels down.
    pub height_px: u32,
    /// Red, green, blue of every pixel, 8 bits each.
    pub rgb: Vec<u8>,
    /// The same in 16 bits, where that was asked for.
    pub fine: Option<Vec<u16>>,
    /// How much of every pixel is covered, 65,535 being all, where the sky is left clear.
    pub cover: Option<Vec<u16>>,
}

/// One pixel's light, in parts.
#[derive(Clone, Copy)]
pub(super) struct PixelLight {
    /// Of all that it sees.
    pub(super) all: Light,
    /// Of what it sees beside the sky, as much as that is of the pixel.
    pub(super) solid: Light,
    /// The share of the sky.
    pub(super) sky: f64,
}

impl PixelLight {
    /// Of sky, or of something else, alone.
    pub(super) fn plain(light: Light, is_sky: bool) -> Self {
        if is_sky {
            Self { all: light, solid: Light::zeros(), sky: 1.0 }
        } else {
            Self { all: light, solid: light, sky: 0.0 }
        }
    }
}

impl Picture {
    /// A picture of 8 bits a channel with nothing clear in it.
    pub fn of_rgb(width_px: u32, height_px: u32, rgb: Vec<u8>) -> Self {
        Self { width_px, height_px, rgb, fine: None, cover: None }
    }

    /// The colour of a pixel; `None` outside the picture.
    pub fn pixel(&self, x: u32, y: u32) -> Option<[u8; 3]> {
        let start = 3 * (y as usize * self.width_px as usize + x as usize);
        let inside = x < self.width_px && y < self.height_px;
        self.rgb.get(start..start + 3).filter(|_| inside).and_then(|channels| channels.try_into().ok())
    }

    /// The picture as a PNG file that says it is sRGB.
    ///
    /// # Errors
    /// The picture has no pixels, or its rows do not fill it.
    pub fn png(&self) -> Result<Vec<u8>, png::EncodingError> {
        self.png_telling(None)
    }

    /// The same with Exif in it: its bytes from the byte-order mark on, as the PNG specification's chunk `eXIf` has them.
    ///
    /// # Errors
    /// As [`Picture::png`].
    pub fn png_telling(&self, exif: Option<&[u8]>) -> Result<Vec<u8>, png::EncodingError> {
        let mut file = Vec::new();
        let mut info = png::Info::with_size(self.width_px, self.height_px);
        info.color_type = if self.cover.is_some() { png::ColorType::Rgba } else { png::ColorType::Rgb };
        info.bit_depth = if self.fine.is_some() { png::BitDepth::Sixteen } else { png::BitDepth::Eight };
        info.exif_metadata = exif.map(Into::into);
        let mut encoder = png::Encoder::with_info(&mut file, info)?;
        encoder.set_source_srgb(png::SrgbRenderingIntent::Perceptual);
        let mut writer = encoder.write_header()?;
        match (&self.fine, &self.cover) {
            (None, None) => writer.write_image_data(&self.rgb)?,
            (None, Some(cover)) => {
                let pixels = self.rgb.chunks_exact(3).zip(cover);
                let rgba = pixels.flat_map(|(rgb, cover)| [rgb[0], rgb[1], rgb[2], (cover / 257) as u8]);
                writer.write_image_data(&rgba.collect::<Vec<u8>>())?;
            }
            (Some(fine), None) => {
                writer.write_image_data(&fine.iter().flat_map(|channel| channel.to_be_bytes()).collect::<Vec<u8>>())?;
            }
            (Some(fine), Some(cover)) => {
                let pixels = fine.chunks_exact(3).zip(cover);
                let rgba = pixels.flat_map(|(rgb, cover)| [rgb[0], rgb[1], rgb[2], *cover]);
                writer.write_image_data(&rgba.flat_map(u16::to_be_bytes).collect::<Vec<u8>>())?;
            }
        }
        writer.finish()?;
        Ok(file)
    }

    /// Adds rows of one colour below.
    pub(super) fn add_rows(&mut self, rows: u32, [red, green, blue]: [u8; 3]) {
        let pixels = self.width_px as usize * rows as usize;
        self.rgb.extend([red, green, blue].iter().cycle().take(3 * pixels));
        if let Some(fine) = &mut self.fine {
            fine.extend([red, green, blue].map(widened).iter().cycle().take(3 * pixels));
        }
        if let Some(cover) = &mut self.cover {
            cover.extend(std::iter::repeat_n(u16::MAX, pixels));
        }
        self.height_px += rows;
    }

    /// The picture with its last row once more where it has an odd number of them.
    #[must_use]
    pub fn with_even_height(mut self) -> Self {
        if self.height_px % 2 == 1 {
            let row = self.rgb.len() - 3 * self.width_px as usize;
            self.add_rows(1, [0; 3]);
            let row = row..row + 3 * self.width_px as usize;
            self.rgb.copy_within(row.clone(), row.end);
        }
        self
    }

    /// Two pictures side by side on a ground of one colour, so many pixels apart; both hang from the top.
    #[must_use]
    pub fn beside(&self, right: &Self, apart_px: u32, ground: [u8; 3]) -> Self {
        let width_px = self.width_px + apart_px + right.width_px;
        let height_px = self.height_px.max(right.height_px);
        let mut both = Self {
            fine: (self.fine.is_some() || right.fine.is_some()).then(Vec::new),
            cover: (self.cover.is_some() || right.cover.is_some()).then(Vec::new),
            ..Self::of_rgb(width_px, 0, Vec::with_capacity(3 * width_px as usize * height_px as usize))
        };
        both.add_rows(height_px, ground);
        both.put(self, 0);
        both.put(right, self.width_px + apart_px);
        both
    }

    /// Puts a picture that fits in at the top, so far from the left.
    fn put(&mut self, other: &Self, left_px: u32) {
        let (width, from) = (other.width_px as usize, left_px as usize);
        for row in 0..other.height_px as usize {
            let (there, here) = (row * width, row * self.width_px as usize + from);
            let (source, place) = (3 * there..3 * (there + width), 3 * here..3 * (here + width));
            self.rgb[place.clone()].copy_from_slice(&other.rgb[source.clone()]);
            if let Some(fine) = &mut self.fine {
                match &other.fine {
                    Some(other) => fine[place].copy_from_slice(&other[source]),
                    None => {
                        fine[place].iter_mut().zip(&other.rgb[source]).for_each(|(fine, &byte)| *fine = widened(byte))
                    }
                }
            }
            if let (Some(cover), Some(other)) = (&mut self.cover, &other.cover) {
                cover[here..here + width].copy_from_slice(&other[there..there + width]);
            }
        }
    }

    /// Lays what was drawn over the rows from `top` on.
    pub(super) fn lay_over(&mut self, top: u32, drawn: &Pixmap) {
        let first = top as usize * self.width_px as usize;
        for (index, over) in (first..).zip(drawn.pixels()).filter(|(_, over)| over.alpha() > 0) {
            let pixel = 3 * index..3 * index + 3;
            let laid = f64::from(over.alpha()) / 255.0;
            // Where the pixel is partly clear, what is laid counts for more than it covers.
            let share = self.cover.as_mut().map_or(laid, |cover| {
                let both = laid + f64::from(cover[index]) / 65_535.0 * (1.0 - laid);
                cover[index] = (65_535.0 * both + 0.5) as u16;
                laid / both
            });
            let colour = over.demultiply();
            if let Some(fine) = &mut self.fine {
                for (channel, laid) in fine[pixel.clone()].iter_mut().zip([colour.red(), colour.green(), colour.blue()])
                {
                    *channel = (f64::from(*channel) * (1.0 - share) + f64::from(widened(laid)) * share + 0.5) as u16;
                }
            }
            if share > laid {
                for (channel, laid) in self.rgb[pixel].iter_mut().zip([colour.red(), colour.green(), colour.blue()]) {
                    *channel = (f64::from(*channel) * (1.0 - share) + f64::from(laid) * share + 0.5) as u8;
                }
            } else {
                lay_pixel_over(&mut self.rgb[pixel], *over);
            }
        }
    }
}

/// Lays a (premultiplied) colour over a pixel.
fn lay_pixel_over(pixel: &mut [u8], over: PremultipliedColorU8) {
    let rest = 255 - u16::from(over.alpha());
    for (channel, laid) in pixel.iter_mut().zip([over.red(), over.green(), over.blue()]) {
        *channel = (u16::from(laid) + (u16::from(*channel) * rest + 127) / 255).min(255) as u8;
    }
}

/// A channel of 8 bits in 16.
fn widened(byte: u8) -> u16 {
    257 * u16::from(byte)
}

/// A channel of sRGB, of 0 to 1, of linear light.
///
/// # Source
/// IEC 61966-2-1:1999, the transfer function.
fn coded(share: f64) -> f64 {
    if share <= 0.003_130_8 { share * 12.92 } else { 1.055 * share.powf(1.0 / 2.4) - 0.055 }
}

/// A pixel in 16 bits.
pub(super) fn fine(light: &Light) -> [u16; 3] {
    [light.x, light.y, light.z].map(|share| (65_535.0 * coded(share.clamp(0.0, 1.0)) + 0.5) as u16)
}

/// sRGB channels of linear light, by table.
pub(super) struct Coding(Vec<f64>);

impl Coding {
    const STEPS: usize = 4096;

    pub(super) fn new() -> Self {
        Self((0..=Self::STEPS + 1).map(|step| 255.0 * coded(step as f64 / Self::STEPS as f64)).collect())
    }

    /// Bytes; `lift` of 0 to 1 decides which way a value between two bytes goes.
    pub(super) fn bytes(&self, light: &Light, lift: f64) -> [u8; 3] {
        [light.x, light.y, light.z].map(|share| {
            let place = share.clamp(0.0, 1.0) * Self::STEPS as f64;
            let step = place as usize;
            let value = self.0[step] + (self.0[step + 1] - self.0[step]) * (place - step as f64);
            (value + lift).clamp(0.0, 255.0) as u8
        })
    }
}

/// A screen of 8 × 8 thresholds that hides the steps of a plain sky, nought to one, mean one half.
pub(super) fn screen(x: u32, y: u32) -> f64 {
    let (mut value, mut weight) = (0, 32);
    for bit in 0..3 {
        let (column, row) = (x >> bit & 1, y >> bit & 1);
        value += weight * (column ^ row) + weight / 2 * row;
        weight /= 4;
    }
    (f64::from(value) + 0.5) / 64.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_png_keeps_every_pixel_and_names_its_colours() {
        let picture = Picture::of_rgb(3, 2, (0..18).map(|value| value * 14).collect());
        let file = picture.png().expect("a file");
        let mut reader = png::Decoder::new(std::io::Cursor::new(file)).read_info().expect("a header");
        assert_eq!(reader.info().srgb, Some(png::SrgbRenderingIntent::Perceptual));
        let mut pixels = vec![0; 18];
        reader.next_frame(&mut pixels).expect("pixels");
        assert_eq!(pixels, picture.rgb);
        assert_eq!(picture.pixel(2, 1), Some([210, 224, 238]));
        assert_eq!(picture.pixel(3, 0), None);
        assert_eq!(picture.pixel(0, 2), None);
    }

    #[test]
    fn sixteen_bits_have_the_standards_values() {
        // IEC 61966-2-1: linear 0.214 041 is half of the coded range; 0.003 130 8 · 12.92 = 0.040 450.
        let [middle, dark, white] = fine(&Light::new(0.214_041_140_5, 0.003_130_8, 1.0));
        assert!(middle.abs_diff(32_768) <= 1 && dark.abs_diff(2651) <= 1, "{middle} {dark}");
        assert_eq!(white, 65_535);
    }

    #[test]
    fn pictures_side_by_side_keep_their_pixels() {
        let left = Picture::of_rgb(2, 3, vec![10; 18]);
        let right = Picture { cover: Some(vec![0; 1]), ..Picture::of_rgb(1, 1, vec![30; 3]) };
        let both = left.beside(&right, 1, [200, 201, 202]);
        assert_eq!((both.width_px, both.height_px), (4, 3));
        assert_eq!(both.pixel(1, 2), Some([10; 3]));
        assert_eq!(both.pixel(2, 0), Some([200, 201, 202]));
        assert_eq!((both.pixel(3, 0), both.pixel(3, 1)), (Some([30; 3]), Some([200, 201, 202])));
        assert_eq!(both.cover.expect("one is clear")[3], 0);
    }
}
