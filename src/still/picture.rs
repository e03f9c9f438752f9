//! What is a finished picture, and how does it leave?

use super::tones::Light;

/// A finished picture: sRGB, 8 bits a channel, row by row from the top, each from the left.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Picture {
    /// Pixels across.
    pub width_px: u32,
    /// Pixels down.
    pub height_px: u32,
    /// Red, green, blue of every pixel.
    pub rgb: Vec<u8>,
}

impl Picture {
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
        (info.color_type, info.bit_depth) = (png::ColorType::Rgb, png::BitDepth::Eight);
        info.exif_metadata = exif.map(Into::into);
        let mut encoder = png::Encoder::with_info(&mut file, info)?;
        encoder.set_source_srgb(png::SrgbRenderingIntent::Perceptual);
        let mut writer = encoder.write_header()?;
        writer.write_image_data(&self.rgb)?;
        writer.finish()?;
        Ok(file)
    }
}

/// sRGB channels of linear light, by table.
pub(super) struct Coding(Vec<f64>);

impl Coding {
    const STEPS: usize = 4096;

    pub(super) fn new() -> Self {
        let coded = |share: f64| {
            255.0 * if share <= 0.003_130_8 { share * 12.92 } else { 1.055 * share.powf(1.0 / 2.4) - 0.055 }
        };
        Self((0..=Self::STEPS + 1).map(|step| coded(step as f64 / Self::STEPS as f64)).collect())
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
        let picture = Picture { width_px: 3, height_px: 2, rgb: (0..18).map(|value| value * 14).collect() };
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
}
