//! How does a picture from above come out of its file: PNG, JPEG or TIFF, never larger than memory bears?

use std::borrow::Cow;
use std::io::Cursor;
use std::path::Path;

use tiff::ColorType;
use tiff::decoder::{Decoder as TiffDecoder, DecodingResult, Limits};
use zune_jpeg::JpegDecoder;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

use super::picture_error::{MOST_PIXELS, PictureError};
use crate::files::{FileKind, read_bytes};
use crate::theme::Colour;

/// A picture made ready to be shown: sRGB and opacity, four bytes a pixel, row by row from the top.
#[derive(Clone, PartialEq)]
pub struct Raster {
    /// Pixels across and down.
    pub size_px: [u32; 2],
    /// Red, green, blue and opacity of every pixel; the colour is not multiplied with the opacity.
    pub rgba: Vec<u8>,
    /// Pixels of the picture's file across and down.
    pub file_px: [u32; 2],
    /// How many pixels of the file, each way, went into one of these; the last ones may have fewer.
    pub times: u32,
}

/// A decoder that has read the head of its picture, and the picture's size.
type Begun<D> = (D, [u32; 2]);

impl std::fmt::Debug for Raster {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Raster({:?} of {:?})", self.size_px, self.file_px)
    }
}

/// What a picture's file is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum PictureFormat {
    Png,
    Jpeg,
    Tiff,
}

impl PictureFormat {
    pub(super) fn of(head: &[u8]) -> Option<Self> {
        const TIFF_STARTS: [&[u8]; 4] = [b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"];
        if head.starts_with(b"\x89PNG\r\n\x1a\n") {
            Some(Self::Png)
        } else if head.starts_with(b"\xff\xd8\xff") {
            Some(Self::Jpeg)
        } else {
            TIFF_STARTS.iter().any(|start| head.starts_with(start)).then_some(Self::Tiff)
        }
    }

    const fn words(self) -> &'static str {
        match self {
            Self::Png => "PNG",
            Self::Jpeg => "JPEG",
            Self::Tiff => "TIFF",
        }
    }
}

/// A picture's bytes, and what they are.
pub(super) struct PictureFile<'p> {
    path: &'p Path,
    pub(super) bytes: Vec<u8>,
    pub(super) format: PictureFormat,
}

/// All pixels of a file, one to four channels each.
struct Pixels<'b> {
    size_px: [u32; 2],
    channels: usize,
    bytes: Cow<'b, [u8]>,
}

impl<'p> PictureFile<'p> {
    pub(super) fn read(path: &'p Path) -> Result<Self, PictureError> {
        let bytes = read_bytes(path, FileKind::FromAbove)?;
        let format = PictureFormat::of(&bytes).ok_or_else(|| PictureError::UnknownFormat { path: path.into() })?;
        Ok(Self { path, bytes, format })
    }

    pub(super) fn broken(&self, why: impl ToString) -> PictureError {
        PictureError::Broken {
            path: self.path.into(),
            format: self.format.words(),
            why: why.to_string().trim_end_matches('.').into(),
        }
    }

    fn pixels_are(&self, kind: impl Into<String>) -> PictureError {
        PictureError::Pixels { path: self.path.into(), kind: kind.into() }
    }

    fn bounded(&self, width_px: u32, height_px: u32) -> Result<[u32; 2], PictureError> {
        if (1..=MOST_PIXELS).contains(&(u64::from(width_px) * u64::from(height_px))) {
            Ok([width_px, height_px])
        } else {
            Err(PictureError::Size { path: self.path.into(), width_px, height_px })
        }
    }

    /// Pixels across and down, from the file's head alone.
    pub(super) fn size_px(&self) -> Result<[u32; 2], PictureError> {
        match self.format {
            PictureFormat::Png => {
                let reader = self.png_reader()?;
                let (width_px, height_px) = reader.info().size();
                self.bounded(width_px, height_px)
            }
            PictureFormat::Jpeg => self.jpeg().map(|(_, size_px)| size_px),
            PictureFormat::Tiff => self.tiff().map(|(_, size_px)| size_px),
        }
    }

    fn pixels(&self) -> Result<Pixels<'static>, PictureError> {
        let pixels = match self.format {
            PictureFormat::Png => self.png_pixels()?,
            PictureFormat::Jpeg => {
                let (mut decoder, size_px) = self.jpeg()?;
                let bytes = decoder.decode().map_err(|error| self.broken(error))?;
                Pixels { size_px, channels: 3, bytes: bytes.into() }
            }
            PictureFormat::Tiff => self.tiff_pixels()?,
        };
        let [width_px, height_px] = pixels.size_px.map(|side_px| side_px as usize);
        if pixels.bytes.len() != width_px * height_px * pixels.channels {
            return Err(self.pixels_are("not laid one after another"));
        }
        Ok(pixels)
    }

    fn png_reader(&self) -> Result<png::Reader<Cursor<&[u8]>>, PictureError> {
        let mut decoder = png::Decoder::new(Cursor::new(self.bytes.as_slice()));
        decoder.set_transformations(png::Transformations::normalize_to_color8());
        decoder.read_info().map_err(|error| self.broken(error))
    }

    fn png_pixels(&self) -> Result<Pixels<'static>, PictureError> {
        let mut reader = self.png_reader()?;
        let (width_px, height_px) = reader.info().size();
        let size_px = self.bounded(width_px, height_px)?;
        let length = reader.output_buffer_size().ok_or_else(|| self.broken("it is larger than memory"))?;
        let mut bytes = vec![0; length];
        let frame = reader.next_frame(&mut bytes).map_err(|error| self.broken(error))?;
        bytes.truncate(frame.buffer_size());
        Ok(Pixels { size_px, channels: frame.color_type.samples(), bytes: bytes.into() })
    }

    fn jpeg(&self) -> Result<Begun<JpegDecoder<Cursor<&[u8]>>>, PictureError> {
        let longest = usize::from(u16::MAX);
        let options = DecoderOptions::default()
            .jpeg_set_out_colorspace(ColorSpace::RGB)
            .set_max_width(longest)
            .set_max_height(longest);
        let mut decoder = JpegDecoder::new_with_options(Cursor::new(self.bytes.as_slice()), options);
        decoder.decode_headers().map_err(|error| self.broken(error))?;
        let info = decoder.info().ok_or_else(|| self.broken("it has no size"))?;
        let size_px = self.bounded(info.width.into(), info.height.into())?;
        Ok((decoder, size_px))
    }

    pub(super) fn tiff(&self) -> Result<Begun<TiffDecoder<Cursor<&[u8]>>>, PictureError> {
        let mut limits = Limits::default();
        // Four channels of the most pixels.
        limits.decoding_buffer_size = 4 * MOST_PIXELS as usize;
        let decoder = TiffDecoder::new(Cursor::new(self.bytes.as_slice())).map_err(|error| self.broken(error))?;
        let mut decoder = decoder.with_limits(limits);
        let (width_px, height_px) = decoder.dimensions().map_err(|error| self.broken(error))?;
        let size_px = self.bounded(width_px, height_px)?;
        Ok((decoder, size_px))
    }

    fn tiff_pixels(&self) -> Result<Pixels<'static>, PictureError> {
        let (mut decoder, size_px) = self.tiff()?;
        let colour = decoder.colortype().map_err(|error| self.broken(error))?;
        let channels = match colour {
            ColorType::Gray(8) => 1,
            ColorType::GrayA(8) => 2,
            ColorType::RGB(8) | ColorType::YCbCr(8) => 3,
            ColorType::RGBA(8) => 4,
            ColorType::Palette(_) => return Err(self.pixels_are("numbers of a palette")),
            ColorType::CMYK(_) | ColorType::CMYKA(_) => return Err(self.pixels_are("in the colours of print (CMYK)")),
            ColorType::Lab(_) => return Err(self.pixels_are("in L*a*b* colours")),
            ColorType::Multiband { num_samples, .. } => {
                return Err(self.pixels_are(format!("{num_samples} bands of a kind that is not told")));
            }
            other => return Err(self.pixels_are(format!("of {} bits a channel", other.bit_depth()))),
        };
        match decoder.read_image().map_err(|error| self.broken(error))? {
            DecodingResult::U8(mut bytes) => {
                if matches!(colour, ColorType::YCbCr(_)) {
                    bytes.as_chunks_mut::<3>().0.iter_mut().for_each(|pixel| *pixel = rgb_of_ycbcr(*pixel));
                }
                Ok(Pixels { size_px, channels, bytes: bytes.into() })
            }
            _ => Err(self.pixels_are("no whole numbers of 8 bits")),
        }
    }
}

/// # Source
/// ITU-T T.871 (JFIF), 2011, section 7.
fn rgb_of_ycbcr([luma, blue, red]: [u8; 3]) -> [u8; 3] {
    let [luma, blue, red] = [f64::from(luma), f64::from(blue) - 128.0, f64::from(red) - 128.0];
    [luma + 1.402 * red, luma - 0.344_136 * blue - 0.714_136 * red, luma + 1.772 * blue]
        .map(|value| value.round().clamp(0.0, 255.0) as u8)
}

/// Pixels across and down of a picture, by its file's head.
///
/// # Errors
/// The file cannot be read, is no PNG, JPEG or TIFF, or is larger than [`MOST_PIXELS`].
pub fn picture_size_px(path: &Path) -> Result<[u32; 2], PictureError> {
    PictureFile::read(path)?.size_px()
}

/// A picture, made smaller by a whole number of times so that neither side is longer than `longest_px`.
///
/// # Errors
/// As [`picture_size_px`], and where the file is cut off, broken, or has pixels of a kind that is not read.
pub fn read_picture(path: &Path, longest_px: u32) -> Result<Raster, PictureError> {
    let pixels = PictureFile::read(path)?.pixels()?;
    let longer_px = pixels.size_px[0].max(pixels.size_px[1]);
    Ok(reduced(&pixels, pixels.size_px, longer_px.div_ceil(longest_px.max(1)), 1))
}

impl Raster {
    /// The same with the mean light of `times` by `times` pixels in each of its own; the last ones may have fewer.
    pub fn reduced(&self, times: u32) -> Self {
        let pixels = Pixels { size_px: self.size_px, channels: 4, bytes: self.rgba.as_slice().into() };
        reduced(&pixels, self.file_px, times.max(1), self.times)
    }
}

/// A picture with the mean light of so many by so many pixels in each of its own, weighed by their opacity.
fn reduced(pixels: &Pixels<'_>, file_px: [u32; 2], times: u32, before: u32) -> Raster {
    let light: Vec<f64> = (0..=u8::MAX).map(|value| Colour(value, value, value).linear()[0]).collect();
    let size_px = pixels.size_px.map(|side_px| side_px.div_ceil(times));
    let [width, height] = pixels.size_px.map(|side_px| side_px as usize);
    let times_wide = times as usize;
    let mut rgba = Vec::with_capacity(4 * size_px[0] as usize * size_px[1] as usize);
    let channels_of = |at: usize| -> [u8; 4] {
        let pixel = &pixels.bytes[at * pixels.channels..][..pixels.channels];
        match *pixel {
            [grey] => [grey, grey, grey, u8::MAX],
            [grey, opacity] => [grey, grey, grey, opacity],
            [red, green, blue] => [red, green, blue, u8::MAX],
            [red, green, blue, opacity, ..] => [red, green, blue, opacity],
            [] => [0; 4],
        }
    };
    for row in 0..size_px[1] as usize {
        let rows = row * times_wide..((row + 1) * times_wide).min(height);
        for column in 0..size_px[0] as usize {
            let columns = column * times_wide..((column + 1) * times_wide).min(width);
            if times == 1 {
                rgba.extend(channels_of(row * width + column));
                continue;
            }
            let count = (rows.len() * columns.len()) as f64;
            let (mut sum, mut opacity) = ([0.0; 3], 0.0);
            for y in rows.clone() {
                for x in columns.clone() {
                    let [red, green, blue, share] = channels_of(y * width + x);
                    let share = f64::from(share);
                    opacity += share;
                    for (sum, value) in sum.iter_mut().zip([red, green, blue]) {
                        *sum += share * light[usize::from(value)];
                    }
                }
            }
            let Colour(red, green, blue) = Colour::from_linear(sum.map(|sum| sum / opacity.max(1.0)));
            rgba.extend([red, green, blue, (opacity / count).round() as u8]);
        }
    }
    Raster { size_px, rgba, file_px, times: before * times }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn png_of(width_px: u32, height_px: u32, color: png::ColorType, bytes: &[u8]) -> Vec<u8> {
        let mut file = Vec::new();
        let mut encoder = png::Encoder::new(&mut file, width_px, height_px);
        encoder.set_color(color);
        let mut writer = encoder.write_header().expect("a header");
        writer.write_image_data(bytes).expect("its pixels");
        writer.finish().expect("an end");
        file
    }

    struct Written {
        folder: tempfile::TempDir,
    }

    impl Written {
        fn new() -> Self {
            Self { folder: tempfile::tempdir().expect("a folder") }
        }

        fn read(&self, file: &[u8], longest_px: u32) -> Result<Raster, PictureError> {
            let path = self.folder.path().join("yard.png");
            std::fs::write(&path, file).expect("written");
            read_picture(&path, longest_px)
        }

        fn refusal(&self, file: &[u8]) -> String {
            self.read(file, 4096).expect_err("refused").to_string()
        }
    }

    #[test]
    fn a_picture_is_made_smaller_by_its_mean_light() {
        let written = Written::new();
        // Five by three, white and black in turn within each block of four.
        let row = [255, 0, 255, 0, 255];
        let bytes = [row, [0, 255, 0, 255, 0], row].concat();
        let file = png_of(5, 3, png::ColorType::Grayscale, &bytes);
        let whole = written.read(&file, 5).expect("read");
        assert_eq!(
            (whole.size_px, whole.times, &whole.rgba[..8]),
            ([5, 3], 1, &[255, 255, 255, 255, 0, 0, 0, 255][..])
        );
        // Half the light is 188 of 255 as sRGB codes it (IEC 61966-2-1); the rim has what is left.
        let small = written.read(&file, 4).expect("read");
        assert_eq!((small.size_px, small.times, small.file_px), ([3, 2], 2, [5, 3]));
        let greys: Vec<u8> = small.rgba.iter().step_by(4).copied().collect();
        assert_eq!(greys, [188, 188, 188, 188, 188, 255]);
        assert_eq!(whole.reduced(2), small);
        assert_eq!(whole.reduced(2).reduced(2).times, 4);
        // What cannot be seen has no weight.
        let file = png_of(2, 1, png::ColorType::Rgba, &[200, 10, 10, 255, 0, 0, 0, 0]);
        assert_eq!(written.read(&file, 1).expect("read").rgba, [200, 10, 10, 128]);
    }

    #[test]
    fn jpegs_are_read_by_what_they_are_not_by_their_name() {
        let mut file = Vec::new();
        let pixels = [[180_u8, 120, 60]; 64].concat();
        jpeg_encoder::Encoder::new(&mut file, 100)
            .encode(&pixels, 8, 8, jpeg_encoder::ColorType::Rgb)
            .expect("encoded");
        let read = Written::new().read(&file, 64).expect("read");
        assert_eq!(read.size_px, [8, 8]);
        for (channel, wanted) in [180_i32, 120, 60].into_iter().enumerate() {
            let found = i32::from(read.rgba[channel]);
            assert!((found - wanted).abs() <= 2, "channel {channel}: {found} for {wanted}");
        }
        // Pure red by the standard's formula, to the rounding of its three numbers.
        assert_eq!(rgb_of_ycbcr([76, 85, 255]), [254, 0, 0]);
        assert_eq!(rgb_of_ycbcr([90, 128, 128]), [90; 3]);
    }

    #[test]
    fn what_is_cut_off_broken_or_too_large_is_refused_before_it_fills_memory() {
        let written = Written::new();
        let good =
            png_of(64, 64, png::ColorType::Rgb, &(0..64 * 64 * 3).map(|at| (at * 37 % 251) as u8).collect::<Vec<_>>());
        assert!(written.read(&good, 4096).is_ok());
        for length in [9, 30, 60, good.len() / 2, good.len() - 20] {
            let told = written.refusal(&good[..length]);
            assert!(told.contains("cannot be read as PNG") && told.contains("yard.png"), "{length}: {told}");
        }
        assert!(written.refusal(b"").contains("no PNG, JPEG or TIFF"));
        assert!(written.refusal(b"GIF89a").contains("no PNG, JPEG or TIFF"));
        assert!(written.refusal(b"\xff\xd8\xff\xe0").contains("cannot be read as JPEG"));
        assert!(written.refusal(b"II*\0\x08\0\0\0").contains("cannot be read as TIFF"));
        // A head that promises 60000 by 60000 pixels, with the right sum of its bytes.
        let mut large = Vec::new();
        let mut encoder = png::Encoder::new(&mut large, 60_000, 60_000);
        encoder.set_color(png::ColorType::Rgb);
        let mut writer = encoder.write_header().expect("a header");
        writer.write_chunk(png::chunk::IDAT, &[0x78]).expect("a beginning");
        drop(writer);
        let told = written.refusal(&large);
        assert!(told.contains("60000 × 60000 pixels"), "{told}");
        // A TIFF of as many: width, height, and nothing else that matters.
        let entry = |tag: u16, value: u32| {
            [&tag.to_le_bytes()[..], &4_u16.to_le_bytes(), &1_u32.to_le_bytes(), &value.to_le_bytes()].concat()
        };
        let entries = [entry(256, 60_000), entry(257, 60_000), entry(262, 1), entry(273, 8), entry(279, 1)];
        let mut tiff = [&b"II*\0\x08\0\0\0"[..], &5_u16.to_le_bytes()].concat();
        tiff.extend(entries.concat());
        tiff.extend([0; 4]);
        let told = written.refusal(&tiff);
        assert!(told.contains("60000 × 60000 pixels"), "{told}");
    }
}
