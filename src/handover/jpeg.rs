//! How does a picture get into a page? As a JPEG.

use jpeg_encoder::{ColorType, Encoder};
use thiserror::Error;

use crate::still::Picture;

/// A picture that cannot be packed.
#[derive(Debug, Error)]
#[error("a picture of {width_px} × {height_px} px cannot be made into a JPEG: {why}")]
pub struct PackError {
    width_px: u32,
    height_px: u32,
    why: String,
}

/// A picture as a JPEG file.
pub(super) fn jpeg(picture: &Picture, quality: u8) -> Result<Vec<u8>, PackError> {
    let refused = |why: String| PackError { width_px: picture.width_px, height_px: picture.height_px, why };
    let side = |side_px: u32| u16::try_from(side_px).map_err(|_| refused("a side has more than 65,535 px".into()));
    let (width, height) = (side(picture.width_px)?, side(picture.height_px)?);
    let mut file = Vec::new();
    let mut encoder = Encoder::new(&mut file, quality);
    encoder.set_optimized_huffman_tables(true);
    encoder.encode(&picture.rgb, width, height, ColorType::Rgb).map_err(|error| refused(error.to_string()))?;
    Ok(file)
}
