//! What will the picture look like, exactly?
//!
//! One ray, or several, for each pixel, through the same [`Camera`] that the measurements use: every mapping,
//! distortion, rise and shift comes out as it is measured. The site is shown as a card model: matt blocks, ink edges,
//! one sun, contour lines on paper ground, a plain sky.

mod annotate;
mod caption;
mod cards;
mod contacts;
mod figures;
mod ground;
mod lettering;
mod overlay;
mod picture;
mod rays;
mod shadows;
mod table;
mod tones;

use rayon::prelude::*;
use thiserror::Error;

use crate::optics::{Camera, Focus};
use crate::pose::Pose;
use crate::progress::{Cancelled, Progress};
use crate::sight::Sight;
use crate::site::{Model, PlanPoint, Sun};
use crate::theme::Theme;

pub use annotate::annotations;
pub(crate) use lettering::Lettering;
pub use lettering::Weight;
pub use overlay::{Anchor, MarkForm, Overlay, OverlayInk, OverlayLabel, OverlayLine, OverlayMark, Written};
pub use picture::Picture;
use picture::{Coding, screen};
use rays::TILE_PX;
use table::{Hand, Table};

#[cfg(feature = "paper")]
pub(crate) use lettering::FONTS;
#[cfg(feature = "viewer")]
pub(crate) use {
    contacts::{contacts, feet},
    ground::Relief,
    table::contour_interval_m,
    tones::card_tones,
};

/// The largest picture that is made, in megapixels.
pub const LARGEST_MEGAPIXELS: f64 = 400.0;
/// The numbers of samples a pixel may have.
pub const SAMPLES: [u32; 5] = [1, 2, 4, 8, 16];
/// The farthest from the site's origin that an eye or a figure may be.
const FARTHEST_PLACE_M: f64 = 1e6;

/// What is pictured.
#[derive(Clone, Copy, Debug)]
pub struct Scene<'a> {
    /// The site.
    pub model: &'a Model,
    /// The same site, prepared for looking.
    pub sight: &'a Sight,
}

/// How it is seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct View {
    /// The camera; its frame gives the picture's pixels.
    pub camera: Camera,
    /// Where it is and how it is turned.
    pub pose: Pose,
    /// What the lens is set to, where its depth of field is to be seen; everything is sharp without.
    pub focus: Option<Focus>,
}

/// How it is drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct Style {
    /// The colours.
    pub theme: Theme,
    /// The sun; without one, or with one that has set, an even light comes over the left shoulder and casts no shadow.
    pub sun: Option<Sun>,
    /// Rays for each pixel: 1, 2, 4, 8 or 16. From 2 on, pixels in which they differ get four times as many.
    pub samples: u32,
    /// Where people stand for scale.
    pub figures: Vec<PlanPoint>,
    /// Whether edges are inked.
    pub ink: bool,
    /// Whether sloping ground has contour lines.
    pub contours: bool,
}

impl Default for Style {
    fn default() -> Self {
        Self { theme: Theme::Paper, sun: None, samples: 4, figures: Vec::new(), ink: true, contours: true }
    }
}

/// Why there is no picture.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum StillError {
    /// More pixels than can be held.
    #[error(
        "a picture of {width_px}×{height_px} pixels is {megapixels:.0} megapixels; make it {LARGEST_MEGAPIXELS} or fewer"
    )]
    TooLarge {
        /// Pixels across.
        width_px: u32,
        /// Pixels down.
        height_px: u32,
        /// Their product in millions.
        megapixels: f64,
    },
    /// No pixels at all.
    #[error("a picture of {width_px}×{height_px} pixels is empty; give it at least one pixel each way")]
    Empty {
        /// Pixels across.
        width_px: u32,
        /// Pixels down.
        height_px: u32,
    },
    /// Not one of [`SAMPLES`].
    #[error("{given} samples a pixel; choose 1, 2, 4, 8 or 16")]
    Samples {
        /// What was asked for.
        given: u32,
    },
    /// The eye is no place on Earth.
    #[error(
        "the eye is at {east}, {north}, {up}; each must be a number of metres within 1,000,000 of the site's origin"
    )]
    Eye {
        /// Metres east.
        east: f64,
        /// Metres north.
        north: f64,
        /// Metres up.
        up: f64,
    },
    /// A figure is to stand at no place on Earth.
    #[error("a figure at {east}, {north}; both must be a number of metres within 1,000,000 of the site's origin")]
    Figure {
        /// Metres east.
        east: f64,
        /// Metres north.
        north: f64,
    },
    /// A focus that no lens has.
    #[error(
        "a lens of {focal_mm} mm at f/{f_number} focused on {distance_m} m; all three must be above 0, and the distance \
         more than the focal length"
    )]
    Focus {
        /// Focal length.
        focal_mm: f64,
        /// f-number.
        f_number: f64,
        /// Distance focused on.
        distance_m: f64,
    },
    /// The watcher no longer wants it.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// Makes the picture.
///
/// The same scene, view and style give the same bytes, whatever the number of threads.
///
/// # Errors
/// A picture of no pixels or of more than [`LARGEST_MEGAPIXELS`], a number of samples that is not one of [`SAMPLES`], an
/// eye or a focus out of all range, or the watcher has cancelled.
pub fn render(scene: &Scene<'_>, view: &View, style: &Style, progress: &Progress) -> Result<Picture, StillError> {
    let (width_px, height_px) = (view.camera.frame.width_px, view.camera.frame.height_px);
    check(view, style)?;
    progress.check()?;
    let peopled = (!style.figures.is_empty()).then(|| {
        let model = figures::with_figures(scene.model, &style.figures, &view.pose.eye);
        let sight = Sight::over(&model);
        (model, sight)
    });
    let first_figure = scene.model.solids.len();
    let (model, sight) = peopled.as_ref().map_or((scene.model, scene.sight), |(model, sight)| (model, sight));
    let table = Table::laid(model, sight, view, style, first_figure);

    let coding = Coding::new();
    let tiles_across = width_px.div_ceil(TILE_PX);
    progress.start(u64::from(tiles_across) * u64::from(height_px.div_ceil(TILE_PX)));
    let mut rgb = vec![0; 3 * width_px as usize * height_px as usize];
    let row_bytes = 3 * width_px as usize;
    rgb.par_chunks_mut(row_bytes * TILE_PX as usize).enumerate().try_for_each(|(band, rows)| {
        let top = band as u32 * TILE_PX;
        let mut hand = Hand::at(&table);
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

fn check(view: &View, style: &Style) -> Result<(), StillError> {
    let frame = &view.camera.frame;
    let (width_px, height_px) = (frame.width_px, frame.height_px);
    if width_px == 0 || height_px == 0 {
        return Err(StillError::Empty { width_px, height_px });
    }
    if frame.megapixels() > LARGEST_MEGAPIXELS {
        return Err(StillError::TooLarge { width_px, height_px, megapixels: frame.megapixels() });
    }
    if !SAMPLES.contains(&style.samples) {
        return Err(StillError::Samples { given: style.samples });
    }
    let eye = &view.pose.eye;
    let near = |place_m: f64| place_m.abs() <= FARTHEST_PLACE_M;
    if !eye.iter().all(|&place_m| near(place_m)) {
        return Err(StillError::Eye { east: eye.x, north: eye.y, up: eye.z });
    }
    if let Some(&(east, north)) = style.figures.iter().find(|at| !near(at.0) || !near(at.1)) {
        return Err(StillError::Figure { east, north });
    }
    if let Some(Focus { focal_mm, f_number, distance_m }) = view.focus {
        let possible = focal_mm > 0.0
            && focal_mm.is_finite()
            && f_number > 0.0
            && f_number.is_finite()
            && 1000.0 * distance_m > focal_mm;
        if !possible {
            return Err(StillError::Focus { focal_mm, f_number, distance_m });
        }
    }
    Ok(())
}
