//! What is pictured, how is it seen, and how is it drawn?

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::optics::{Camera, Focus};
use crate::pose::Pose;
use crate::progress::Cancelled;
use crate::sight::Sight;
use crate::site::{Model, PlanPoint, Sun};
use crate::theme::Theme;

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

/// What the site is shown as.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub enum Look {
    /// A model of matt card with inked edges.
    #[default]
    Card,
    /// The place in its materials, by daylight.
    Materials,
}

/// What is shown where the sky would be.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub enum Surround {
    /// The sky.
    #[default]
    Sky,
    /// Nothing: the picture is clear there.
    Clear,
    /// White paper.
    White,
}

/// How finely a picture tells its colours.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub enum Depth {
    /// In 8 bits a channel.
    #[default]
    Eight,
    /// In 16 bits a channel.
    Sixteen,
}

/// How it is drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct Style {
    /// What the site is shown as.
    pub look: Look,
    /// The colours of the card look.
    pub theme: Theme,
    /// The sun; without one, or with one that has set, an even light comes over the left shoulder and casts no shadow.
    pub sun: Option<Sun>,
    /// Rays for each pixel: 1, 2, 4, 8 or 16. From 2 on, pixels in which they differ get four times as many.
    pub samples: u32,
    /// Where people stand for scale.
    pub figures: Vec<PlanPoint>,
    /// Whether two people, a bicycle, a car and a van stand about the foot of the subject, where there is room.
    pub company: bool,
    /// Whether edges are inked.
    pub ink: bool,
    /// Whether sloping ground has contour lines.
    pub contours: bool,
    /// What is shown where the sky would be.
    pub surround: Surround,
    /// How finely colours are told.
    pub depth: Depth,
    /// Whether all rays are looked along where one would tell: what records before the sixth format were drawn with.
    pub every_ray: bool,
}

impl Default for Style {
    fn default() -> Self {
        Self {
            look: Look::Card,
            theme: Theme::Paper,
            sun: None,
            samples: 4,
            figures: Vec::new(),
            company: false,
            ink: true,
            contours: true,
            surround: Surround::default(),
            depth: Depth::default(),
            every_ray: false,
        }
    }
}

impl Style {
    /// The usual style of a look: card has ink and contour lines, materials have neither.
    pub fn of(look: Look) -> Self {
        let drawn = look == Look::Card;
        Self { look, ink: drawn, contours: drawn, ..Self::default() }
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

/// Refuses a picture that cannot be made.
pub(super) fn check(view: &View, style: &Style) -> Result<(), StillError> {
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
