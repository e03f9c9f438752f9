//! How do pictures become a video that anybody may play? AV1, an open codec, in an MP4 file (ISO/IEC 14496-12).

use std::num::{NonZeroU16, NonZeroU32};

use rav1e::prelude::{
    ChromaSampling, ColorDescription, ColorPrimaries, Config, Context, EncoderConfig, EncoderStatus, FrameType,
    MatrixCoefficients, PixelRange, Rational, TransferCharacteristics,
};
use shiguredo_mp4::TrackKind;
use shiguredo_mp4::Uint;
use shiguredo_mp4::boxes::{Av01Box, Av1cBox, SampleEntry, VisualSampleEntryFields};
use shiguredo_mp4::mux::{Mp4FileMuxer, Sample};
use thiserror::Error;

use crate::still::Picture;

/// How coarsely colours are rounded, of 255: fine ink edges stay clean. Common practice, no source.
const QUANTIZER: usize = 70;
/// How quickly it is encoded, of 10; slower is smaller.
const SPEED: u8 = 9;
/// A frame that stands alone comes at least as often, in seconds, so that players can jump.
const KEY_EVERY_S: u64 = 2;
/// What every temporal unit begins with; the file's own samples tell where each begins.
///
/// # Source
/// AV1 Codec ISO Media File Format Binding 1.2.0, section 2.4: temporal delimiters should not be in samples.
const TEMPORAL_DELIMITER: [u8; 2] = [0x12, 0x00];

/// Why there is no video.
#[derive(Debug, Error)]
pub enum VideoError {
    /// The encoder refuses.
    #[error("the video cannot be encoded: {0}")]
    Encoding(String),
    /// The file cannot be laid out.
    #[error("the video's file cannot be laid out: {0}")]
    File(String),
}

/// A video that is being made.
pub(super) struct Video {
    context: Context<u8>,
    width_px: u32,
    height_px: u32,
    per_second: u16,
    /// How many frames each picture is held.
    held: Vec<u16>,
    /// Each encoded picture, and whether it stands alone.
    encoded: Vec<(Vec<u8>, bool)>,
}

impl Video {
    /// A video of pictures of a size.
    pub(super) fn of(width_px: u32, height_px: u32, per_second: u16) -> Result<Self, VideoError> {
        let mut encoder = EncoderConfig::with_speed_preset(SPEED);
        (encoder.width, encoder.height) = (width_px as usize, height_px as usize);
        encoder.time_base = Rational::new(1, u64::from(per_second));
        encoder.chroma_sampling = ChromaSampling::Cs420;
        encoder.pixel_range = PixelRange::Limited;
        encoder.color_description = Some(ColorDescription {
            color_primaries: ColorPrimaries::BT709,
            transfer_characteristics: TransferCharacteristics::BT709,
            matrix_coefficients: MatrixCoefficients::BT709,
        });
        encoder.quantizer = QUANTIZER;
        encoder.low_latency = true;
        encoder.set_key_frame_interval(1, KEY_EVERY_S * u64::from(per_second));
        let context = Config::new().with_encoder_config(encoder).new_context();
        let context = context.map_err(|error| VideoError::Encoding(error.to_string()))?;
        Ok(Self { context, width_px, height_px, per_second, held: Vec::new(), encoded: Vec::new() })
    }

    /// Adds a picture of its size.
    pub(super) fn add(&mut self, picture: &Picture, held: u16) -> Result<(), VideoError> {
        let (width, height) = (self.width_px as usize, self.height_px as usize);
        let mut frame = self.context.new_frame();
        let planes = planes(&picture.rgb, width, height);
        for ((plane, channel), across) in frame.planes.iter_mut().zip(&planes).zip([width, width / 2, width / 2]) {
            plane.copy_from_raw_u8(channel, across, 1);
        }
        self.held.push(held);
        self.context.send_frame(frame).map_err(|status| VideoError::Encoding(status.to_string()))?;
        self.take()
    }

    /// Takes what the encoder has ready.
    fn take(&mut self) -> Result<(), VideoError> {
        loop {
            match self.context.receive_packet() {
                Ok(packet) => {
                    let unit =
                        packet.data.strip_prefix(&TEMPORAL_DELIMITER).map_or(packet.data.clone(), <[u8]>::to_vec);
                    self.encoded.push((unit, packet.frame_type == FrameType::KEY));
                }
                Err(EncoderStatus::Encoded) => {}
                Err(EncoderStatus::NeedMoreData | EncoderStatus::LimitReached) => return Ok(()),
                Err(status) => return Err(VideoError::Encoding(status.to_string())),
            }
        }
    }

    /// The video as the bytes of a file.
    pub(super) fn file(mut self) -> Result<Vec<u8>, VideoError> {
        self.context.flush();
        self.take()?;
        let bad = |error: &dyn std::fmt::Display| VideoError::File(error.to_string());
        let timescale = NonZeroU32::new(u32::from(self.per_second)).unwrap_or(NonZeroU32::MIN);
        let mut muxer = Mp4FileMuxer::new().map_err(|error| bad(&error))?;
        let mut file = muxer.initial_boxes_bytes().to_vec();
        let mut entry = Some(self.entry());
        for ((unit, keyframe), &held) in self.encoded.iter().zip(&self.held) {
            let sample = Sample {
                track_kind: TrackKind::Video,
                sample_entry: entry.take(),
                keyframe: *keyframe,
                timescale,
                duration: u32::from(held),
                composition_time_offset: None,
                data_offset: file.len() as u64,
                data_size: unit.len(),
            };
            file.extend_from_slice(unit);
            muxer.append_sample(&sample).map_err(|error| bad(&error))?;
        }
        let finished = muxer.finalize().map_err(|error| bad(&error))?;
        for (offset, bytes) in finished.offset_and_bytes_pairs() {
            let (from, to) = (offset as usize, offset as usize + bytes.len());
            if file.len() < to {
                file.resize(to, 0);
            }
            file[from..to].copy_from_slice(bytes);
        }
        Ok(file)
    }

    /// How the file describes its pictures.
    fn entry(&self) -> SampleEntry {
        let header = self.context.container_sequence_header();
        let [_, profile, flags, ..] = header[..] else { unreachable!("the header has four bytes") };
        let size = |side_px: u32| side_px.min(u32::from(u16::MAX)) as u16;
        SampleEntry::Av01(Av01Box {
            visual: VisualSampleEntryFields {
                data_reference_index: NonZeroU16::MIN,
                width: size(self.width_px),
                height: size(self.height_px),
                horizresolution: VisualSampleEntryFields::DEFAULT_HORIZRESOLUTION,
                vertresolution: VisualSampleEntryFields::DEFAULT_VERTRESOLUTION,
                frame_count: VisualSampleEntryFields::DEFAULT_FRAME_COUNT,
                compressorname: VisualSampleEntryFields::NULL_COMPRESSORNAME,
                depth: VisualSampleEntryFields::DEFAULT_DEPTH,
            },
            av1c_box: Av1cBox {
                seq_profile: Uint::from_bits(profile),
                seq_level_idx_0: Uint::from_bits(profile),
                seq_tier_0: Uint::from_bits(flags),
                high_bitdepth: Uint::from_bits(flags),
                twelve_bit: Uint::from_bits(flags),
                monochrome: Uint::from_bits(flags),
                chroma_subsampling_x: Uint::from_bits(flags),
                chroma_subsampling_y: Uint::from_bits(flags),
                chroma_sample_position: Uint::from_bits(flags),
                initial_presentation_delay_minus_one: None,
                config_obus: Vec::new(),
            },
            unknown_boxes: Vec::new(),
        })
    }
}

/// Brightness, and both differences of colour at half the size, of a picture of even sides.
///
/// # Source
/// ITU-R BT.709-6, items 3.2 to 3.5 and 4.6: Y' of 16 to 235, C'B and C'R of 16 to 240.
fn planes(rgb: &[u8], width: usize, height: usize) -> [Vec<u8>; 3] {
    let (mut y, mut cb, mut cr) = (
        Vec::with_capacity(width * height),
        Vec::with_capacity(width * height / 4),
        Vec::with_capacity(width * height / 4),
    );
    let brightness = |[red, green, blue]: [f64; 3]| 0.2126 * red + 0.7152 * green + 0.0722 * blue;
    let at = |column: usize, row: usize| {
        let start = 3 * (row * width + column);
        [0, 1, 2].map(|channel| f64::from(rgb[start + channel]) / 255.0)
    };
    for row in 0..height {
        y.extend((0..width).map(|column| (16.5 + 219.0 * brightness(at(column, row))) as u8));
    }
    for row in (0..height / 2).map(|row| 2 * row) {
        for column in (0..width / 2).map(|column| 2 * column) {
            let four = [at(column, row), at(column + 1, row), at(column, row + 1), at(column + 1, row + 1)];
            let mean = [0, 1, 2].map(|channel| four.iter().map(|pixel| pixel[channel]).sum::<f64>() / 4.0);
            let bright = brightness(mean);
            cb.push((128.5 + 224.0 * (mean[2] - bright) / 1.8556) as u8);
            cr.push((128.5 + 224.0 * (mean[0] - bright) / 1.5748) as u8);
        }
    }
    [y, cb, cr]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn colours_have_the_standards_codes() {
        // ITU-R BT.709-6: black 16, 128, 128; white 235, 128, 128. Red: Y' = 16 + 219 · 0.2126 = 62.56, C'B = 102.3, C'R = 240.
        for (rgb, codes) in [([0; 3], [16, 128, 128]), ([255; 3], [235, 128, 128]), ([255, 0, 0], [63, 102, 240])] {
            let [y, cb, cr] = planes(&rgb.repeat(4), 2, 2);
            assert_eq!((y, cb, cr), (vec![codes[0]; 4], vec![codes[1]], vec![codes[2]]));
        }
    }
}
