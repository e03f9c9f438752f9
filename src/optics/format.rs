//! How large is the picture, in millimetres and in pixels?

use std::fmt;
use std::str::FromStr;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The picture area of a camera, held in landscape.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Format {
    /// What the trade calls it, by its millimetres: "36x24".
    pub name: String,
    /// Width of the picture area held in landscape.
    pub width_mm: f64,
    /// Height of the picture area held in landscape.
    pub height_mm: f64,
    /// Pixels across, held in landscape.
    pub width_px: u32,
    /// Pixels down, held in landscape.
    pub height_px: u32,
    /// Where the size was read.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub source: String,
}

/// Which way the camera is held.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub enum Orientation {
    /// Wider than high.
    #[default]
    Landscape,
    /// Higher than wide.
    Portrait,
}

/// The shape of a crop: width to height of the upright picture, such as 4:5.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Proportion(pub f64, pub f64);

impl Proportion {
    /// Width over height.
    pub fn ratio(self) -> f64 {
        self.0 / self.1
    }
}

impl fmt::Display for Proportion {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}", self.0, self.1)
    }
}

impl FromStr for Proportion {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        let wrong = || format!("'{text}' is no proportion; write width:height, such as 4:5, each from 0.1 to 100");
        let (width, height) = text.split_once(':').ok_or_else(wrong)?;
        let side = |text: &str| text.trim().parse::<f64>().ok().filter(|side| (0.1..=100.0).contains(side));
        Ok(Self(side(width).ok_or_else(wrong)?, side(height).ok_or_else(wrong)?))
    }
}

/// The upright picture that is wanted: a format, turned and cropped.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Frame {
    /// Width of the upright picture.
    pub width_mm: f64,
    /// Height of the upright picture.
    pub height_mm: f64,
    /// Pixels across.
    pub width_px: u32,
    /// Pixels down.
    pub height_px: u32,
}

impl Format {
    /// The picture this format gives when held so and cropped to a proportion about its centre.
    ///
    /// A crop keeps whole pixels: the largest centred rectangle nearest the proportion, never larger than the format.
    ///
    /// # Example
    /// ```
    /// use plumbsight::optics::{Format, Orientation, Proportion};
    /// let format = Format { name: "36x24".into(), width_mm: 36.0, height_mm: 24.0, width_px: 6000, height_px: 4000, source: String::new() };
    /// let square = format.frame(Orientation::Landscape, Some(Proportion(1.0, 1.0)));
    /// assert_eq!((square.width_px, square.height_px, square.width_mm), (4000, 4000, 24.0));
    /// ```
    pub fn frame(&self, orientation: Orientation, crop: Option<Proportion>) -> Frame {
        let whole = match orientation {
            Orientation::Landscape => Frame {
                width_mm: self.width_mm,
                height_mm: self.height_mm,
                width_px: self.width_px,
                height_px: self.height_px,
            },
            Orientation::Portrait => Frame {
                width_mm: self.height_mm,
                height_mm: self.width_mm,
                width_px: self.height_px,
                height_px: self.width_px,
            },
        };
        let Some(crop) = crop else { return whole };
        let kept = |pixels: u32, share: f64| ((f64::from(pixels) * share).round() as u32).clamp(1, pixels);
        let (mut cropped, ratio) = (whole, whole.width_mm / whole.height_mm);
        if ratio > crop.ratio() {
            cropped.width_px = kept(whole.width_px, crop.ratio() / ratio);
            cropped.width_mm = whole.width_mm * f64::from(cropped.width_px) / f64::from(whole.width_px);
        } else {
            cropped.height_px = kept(whole.height_px, ratio / crop.ratio());
            cropped.height_mm = whole.height_mm * f64::from(cropped.height_px) / f64::from(whole.height_px);
        }
        cropped
    }

    /// Its name as it is set in type: "36 × 24" where it is called by its size.
    ///
    /// # Example
    /// ```
    /// use plumbsight::optics::Format;
    /// let format = |name: &str| Format { name: name.into(), width_mm: 36.0, height_mm: 24.0, width_px: 6000, height_px: 4000, source: String::new() };
    /// assert_eq!(format("17.3x13").words(), "17.3 × 13");
    /// assert_eq!(format("old box").words(), "old box");
    /// ```
    pub fn words(&self) -> String {
        match self.name.split_once('x') {
            Some((width, height)) if width.parse::<f64>().is_ok() && height.parse::<f64>().is_ok() => {
                format!("{width} × {height}")
            }
            _ => self.name.clone(),
        }
    }

    /// The diagonal of the picture area.
    pub fn diagonal_mm(&self) -> f64 {
        self.width_mm.hypot(self.height_mm)
    }

    /// How many times a 36×24 mm picture's diagonal exceeds this one's.
    ///
    /// # Source
    /// The ratio of diagonals, as CIPA DCG-001 defines the 35 mm equivalent (from memory).
    pub fn crop_factor(&self) -> f64 {
        36.0_f64.hypot(24.0) / self.diagonal_mm()
    }
}

impl Frame {
    /// Pixels per millimetre, across and down.
    pub fn pixels_per_mm(&self) -> (f64, f64) {
        (f64::from(self.width_px) / self.width_mm, f64::from(self.height_px) / self.height_mm)
    }

    /// The diagonal of the upright picture.
    pub fn diagonal_mm(&self) -> f64 {
        self.width_mm.hypot(self.height_mm)
    }

    /// Pixels of the whole picture, in millions.
    pub fn megapixels(&self) -> f64 {
        f64::from(self.width_px) * f64::from(self.height_px) / 1e6
    }

    /// The same picture area with about so many pixels across (never fewer than one).
    pub fn with_width_px(&self, width_px: u32) -> Self {
        let width_px = width_px.max(1);
        let scale = f64::from(width_px) / f64::from(self.width_px);
        Self { width_px, height_px: ((f64::from(self.height_px) * scale).round() as u32).max(1), ..*self }
    }
}
