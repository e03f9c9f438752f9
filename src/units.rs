//! In which unit are lengths on the site written?
//!
//! One place for the command line and the window; files and JSON are always metric.

use serde::{Deserialize, Serialize};

const FEET_PER_M: f64 = 1.0 / 0.3048;

/// The unit of lengths on the site.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Units {
    /// Metres.
    #[default]
    M,
    /// International feet of 0.3048 m.
    Ft,
}

impl Units {
    /// A length with its unit.
    ///
    /// # Example
    /// ```
    /// use plumbsight::units::Units;
    /// assert_eq!(Units::M.length(42.0, 1), "42.0 m");
    /// assert_eq!(Units::Ft.length(30.48, 1), "100.0 ft"); // 30.48 / 0.3048
    /// ```
    pub fn length(self, metres: f64, digits: usize) -> String {
        format!("{:.digits$} {}", self.from_metres(metres), self.name())
    }

    /// How far one is off: a hundredth is told where a tenth would be nothing, and no tenth of many metres.
    pub(crate) fn offset(self, metres: f64) -> String {
        let shown = self.from_metres(metres);
        let digits = if shown >= 9.95 {
            0
        } else if shown >= 0.095 {
            1
        } else {
            2
        };
        self.length(metres, digits)
    }

    /// A length as it is written on a drawing: to the hundredth below ten.
    pub(crate) fn drawn(self, metres: f64) -> String {
        self.length(metres, if self.from_metres(metres).abs() < 9.995 { 2 } else { 1 })
    }

    /// A short length as one measures it on site: "30 cm", "1.2 m"; "7 in", "3.9 ft".
    pub(crate) fn by_tape(self, metres: f64) -> String {
        let (small, parts) = match self {
            Self::M => ("cm", 100.0),
            Self::Ft => ("in", 12.0),
        };
        let length = self.from_metres(metres);
        if length < 0.995 { format!("{:.0} {small}", parts * length) } else { self.length(metres, 1) }
    }

    /// A length as one tells it to others: "7.5 m", "42 m".
    pub(crate) fn roundly(self, metres: f64) -> String {
        self.length(metres, if self.from_metres(metres) < 9.95 { 1 } else { 0 })
    }

    /// The length of 1, 2 or 5 times a power of ten of this unit that is at least so many metres, in metres; `None` for
    /// what is no length.
    pub(crate) fn round_length_m(self, at_least_m: f64) -> Option<f64> {
        round_step(self.from_metres(at_least_m)).map(|step| self.to_metres(step))
    }

    /// Pixels a unit of length.
    pub fn detail(self, px_per_m: f64) -> String {
        match self {
            Self::M => format!("{px_per_m:.0} px/m"),
            Self::Ft => format!("{:.1} px/ft", px_per_m / FEET_PER_M),
        }
    }

    /// How much of the surface one pixel covers.
    ///
    /// # Example
    /// ```
    /// use plumbsight::units::Units;
    /// assert_eq!(Units::M.per_pixel(12.7), "12.7 mm a pixel");
    /// assert_eq!(Units::Ft.per_pixel(12.7), "0.50 inch a pixel"); // an inch is 25.4 mm
    /// ```
    pub fn per_pixel(self, mm_per_px: f64) -> String {
        match self {
            Self::M => format!("{mm_per_px:.1} mm a pixel"),
            Self::Ft => format!("{:.2} inch a pixel", mm_per_px / 25.4),
        }
    }

    /// The unit's sign: "m" or "ft".
    pub fn name(self) -> &'static str {
        match self {
            Self::M => "m",
            Self::Ft => "ft",
        }
    }

    /// So many metres in this unit.
    pub fn from_metres(self, metres: f64) -> f64 {
        match self {
            Self::M => metres,
            Self::Ft => metres * FEET_PER_M,
        }
    }

    /// So many of this unit in metres: what a person typed.
    pub fn to_metres(self, length: f64) -> f64 {
        match self {
            Self::M => length,
            Self::Ft => length / FEET_PER_M,
        }
    }
}

/// The digits after the point that a number needs to be written exactly, four at most.
pub(crate) fn digits_of(number: f64) -> usize {
    (0..4)
        .find(|&digits| {
            let scaled = number * 10_f64.powi(digits as i32);
            (scaled - scaled.round()).abs() < 1e-6 * scaled.abs().max(1e-6)
        })
        .unwrap_or(4)
}

/// The step of 1, 2 or 5 times a power of ten that is at least this long; `None` for what is no length.
pub(crate) fn round_step(at_least: f64) -> Option<f64> {
    if !(at_least.is_finite() && at_least > 1e-9 && at_least < 1e12) {
        return None;
    }
    let decade = 10_f64.powf(at_least.log10().floor());
    [1.0, 2.0, 5.0, 10.0].into_iter().map(|step| step * decade).find(|step| *step >= at_least * (1.0 - 1e-9))
}
