//! What will the picture look like, exactly?
//!
//! One ray, or several, for each pixel, through the same [`Camera`](crate::optics::Camera) that the measurements use: every mapping,
//! distortion, rise and shift comes out as it is measured. The site is shown as a card model: matt blocks, ink edges,
//! one sun, contour lines on paper ground, a plain sky.

mod annotate;
mod caption;
mod contacts;
mod figures;
mod ground;
mod lettering;
mod overlay;
mod picture;
mod rays;
mod request;
mod shadows;
mod surfaces;
mod tiles;
mod tones;

use rayon::prelude::*;

use crate::progress::{Cancelled, Progress};
use crate::sight::Sight;

pub use annotate::annotations;
pub(crate) use lettering::Lettering;
pub use lettering::Weight;
pub use overlay::{LabelAnchor, MarkForm, Overlay, OverlayCount, OverlayInk, OverlayLabel, OverlayLine, OverlayMark};
pub use picture::Picture;
use picture::{Coding, screen};
use rays::TILE_PX;
pub use request::{LARGEST_MEGAPIXELS, SAMPLES, Scene, StillError, Style, View};
use tiles::{StillScene, TileRenderer};

#[cfg(feature = "paper")]
pub(crate) use lettering::FONTS;
#[cfg(feature = "viewer")]
pub(crate) use {
    contacts::{contacts_of, feet},
    ground::GroundSurface,
    tiles::contour_interval_m,
    tones::card_tones,
};

/// Makes the picture.
///
/// The same scene, view and style give the same bytes, whatever the number of threads.
///
/// # Errors
/// A picture of no pixels or of more than [`LARGEST_MEGAPIXELS`], a number of samples that is not one of [`SAMPLES`], an
/// eye or a focus out of all range, or the watcher has cancelled.
pub fn render(scene: &Scene<'_>, view: &View, style: &Style, progress: &Progress) -> Result<Picture, StillError> {
    let (width_px, height_px) = (view.camera.frame.width_px, view.camera.frame.height_px);
    request::check(view, style)?;
    progress.check()?;
    let peopled = (!style.figures.is_empty()).then(|| {
        let model = figures::with_figures(scene.model, &style.figures, &view.pose.eye);
        let sight = Sight::over(&model);
        (model, sight)
    });
    let first_figure = scene.model.solids.len();
    let (model, sight) = peopled.as_ref().map_or((scene.model, scene.sight), |(model, sight)| (model, sight));
    let table = StillScene::laid(model, sight, view, style, first_figure);

    let coding = Coding::new();
    let tiles_across = width_px.div_ceil(TILE_PX);
    progress.start(u64::from(tiles_across) * u64::from(height_px.div_ceil(TILE_PX)));
    let mut rgb = vec![0; 3 * width_px as usize * height_px as usize];
    let row_bytes = 3 * width_px as usize;
    rgb.par_chunks_mut(row_bytes * TILE_PX as usize).enumerate().try_for_each(|(band, rows)| {
        let top = band as u32 * TILE_PX;
        let mut hand = TileRenderer::at(&table);
        for left in (0..tiles_across).map(|tile| tile * TILE_PX) {
            progress.advance(1)?;
            hand.tile(
                (left, top),
                (width_px.min(left + TILE_PX), height_px.min(top + TILE_PX)),
                |(x, y), light, sky| {
                    let colour = coding.bytes(&light, if sky { screen(x, y) } else { 0.5 });
                    let start = (y - top) as usize * row_bytes + 3 * x as usize;
                    rows[start..start + 3].copy_from_slice(&colour);
                },
            );
        }
        Ok::<(), Cancelled>(())
    })?;
    Ok(Picture { width_px, height_px, rgb })
}
