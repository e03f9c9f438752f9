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

/// What is kept clear of the subject along the sides of a picture, as shares of its width or height.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Margins {
    /// At either side, of the width; and below, of the height.
    pub side: f64,
    /// Above, of the height.
    pub above: f64,
}

impl Margins {
    /// 5 % at the sides and below, 8 % above (common practice, no source).
    pub const USUAL: Self = Self { side: 0.05, above: 0.08 };
    /// None at all.
    pub const NONE: Self = Self { side: 0.0, above: 0.0 };
    /// The widest of either.
    pub const WIDEST: f64 = 0.4;

    /// Whether both are shares from 0 to [`Self::WIDEST`].
    pub fn are_possible(self) -> bool {
        [self.side, self.above].iter().all(|share| (0.0..=Self::WIDEST).contains(share))
    }

    /// The share of the width that is left for the subject.
    pub fn width_left(self) -> f64 {
        1.0 - 2.0 * self.side
    }

    /// The lesser of what is left along a side with its margin at both ends.
    pub fn least_left(self) -> f64 {
        1.0 - 2.0 * self.side.max(self.above)
    }

    /// The share of the height that is left for the subject.
    pub fn height_left(self) -> f64 {
        1.0 - self.side - self.above
    }

    fn are_usual(&self) -> bool {
        *self == Self::USUAL
    }
}

impl Default for Margins {
    fn default() -> Self {
        Self::USUAL
    }
}

impl fmt::Display for Margins {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // Back to the per cents that were written, without what the binary fraction adds.
        let percent = |share: f64| (share * 1e8).round() / 1e6;
        write!(f, "{},{}", percent(self.side), percent(self.above))
    }
}

impl FromStr for Margins {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        let (side, above) = text.split_once(',').unwrap_or((text, text));
        let share =
            |text: &str| text.trim().trim_end_matches('%').trim().parse::<f64>().ok().map(|share| share / 100.0);
        share(side)
            .zip(share(above))
            .map(|(side, above)| Self { side, above })
            .filter(|margins| margins.are_possible())
            .ok_or_else(|| {
                format!("'{text}' are no margins; write per cents of the frame, at the sides and below, then above, such as 5,8, each from 0 to 40")
            })
    }
}

/// The upright picture that is wanted: a format, turned and cropped, with the margins that the subject keeps.
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
    /// What is kept clear about the subject.
    #[serde(default, skip_serializing_if = "Margins::are_usual")]
    pub margins: Margins,
}

impl Frame {
    /// The same picture with other margins; the usual ones unless given.
    #[must_use]
    pub fn with_margins(self, margins: Option<Margins>) -> Self {
        Self { margins: margins.unwrap_or_default(), ..self }
    }

    /// Where its picture lies within its margins, from its middle, in mm: left, right, bottom, top.
    pub fn room_mm(&self) -> [f64; 4] {
        let Margins { side, above } = self.margins;
        [
            (side - 0.5) * self.width_mm,
            (0.5 - side) * self.width_mm,
            (side - 0.5) * self.height_mm,
            (0.5 - above) * self.height_mm,
        ]
    }
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
                margins: Margins::USUAL,
            },
            Orientation::Portrait => Frame {
                width_mm: self.height_mm,
                height_mm: self.width_mm,
                width_px: self.height_px,
                height_px: self.width_px,
                margins: Margins::USUAL,
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
