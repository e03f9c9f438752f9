//! What do all pages that leave the desk have in common: one file, no request to any network, light and dark.

use base64::Engine;
use jpeg_encoder::{ColorType, Encoder};
use thiserror::Error;

use crate::drawing::{Drawing, Role, SvgColours, SvgLetters, escaped};
use crate::still::Picture;
use crate::theme::Theme;

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

/// A file as an address that holds it.
pub(super) fn data_address(kind: &str, bytes: &[u8]) -> String {
    format!("data:{kind};base64,{}", base64::engine::general_purpose::STANDARD.encode(bytes))
}

/// A drawing as part of a page, in the page's own colours.
pub(super) fn figure(drawing: &Drawing) -> String {
    drawing.svg(SvgColours::Variables, SvgLetters::Outlines)
}

/// A theme's colours as style-sheet variables.
fn variables(theme: Theme) -> String {
    Role::ALL.iter().map(|role| format!("--{}:{};", role.name(), role.colour(theme.palette()).to_hex())).collect()
}

/// A whole page. `style` and `script` are trusted; `title` is escaped here, `body` by whoever wrote it.
pub(super) fn page(title: &str, style: &str, body: &str, script: &str) -> String {
    let (paper, dusk) = (variables(Theme::Paper), variables(Theme::Dusk));
    let script = if script.is_empty() { String::new() } else { format!("<script>\n{script}</script>\n") };
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; style-src \
         'unsafe-inline'; script-src 'unsafe-inline'; base-uri 'none'; form-action 'none'\">\n\
         <meta name=\"color-scheme\" content=\"light dark\">\n<meta name=\"generator\" content=\"plumbsight {}\">\n\
         <link rel=\"icon\" href=\"data:,\">\n<title>{}</title>\n<style>\n\
         :root{{color-scheme:light dark;{paper}}}\n\
         @media (prefers-color-scheme:dark){{:root{{{dusk}}}}}\n\
         @media print{{:root{{color-scheme:light;{paper}}}}}\n.paper{{{paper}}}\n{}{style}</style>\n</head>\n<body>\n{body}{script}</body>\n\
         </html>\n",
        env!("CARGO_PKG_VERSION"),
        escaped(title),
        include_str!("page.css"),
    )
}
