//! By which figures are stances told apart, and by how much do two differ?
//!
//! One list for tables, plots and differences, so that each figure has one name, one unit and one way of being written.

use crate::survey::Measured;
use crate::units::Units;

/// A figure by which stances are compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Figure {
    /// What the subject closes by; negative where it opens.
    Closing,
    /// The subject's worst lean.
    WorstLean,
    /// The worst lean of any visible vertical.
    WorstInView,
    /// The angle between the flanks.
    FlankClosing,
    /// The taper as seen.
    SeenTaper,
    /// How much of the seen taper is the tilt's.
    Tilt,
    /// The detail at the worst visible point of the subject.
    Detail,
    /// The detail that straightening keeps.
    DetailKept,
    /// The elevation of the subject's head.
    Head,
    /// The share of the subject that is seen.
    Seen,
    /// The share of the subject in the frame.
    InFrame,
    /// The distance to the subject.
    Distance,
    /// The camera above the feet.
    Height,
    /// The focal length.
    Focal,
    /// The pitch.
    Pitch,
}

/// What a figure is counted in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Unit {
    Degrees,
    Share,
    Factor,
    Length,
    Detail,
    Millimetres,
}

impl Figure {
    /// All of them, in the order of a table.
    pub const ALL: [Self; 15] = [
        Self::Closing,
        Self::WorstLean,
        Self::WorstInView,
        Self::FlankClosing,
        Self::SeenTaper,
        Self::Tilt,
        Self::Detail,
        Self::DetailKept,
        Self::Head,
        Self::Seen,
        Self::InFrame,
        Self::Distance,
        Self::Height,
        Self::Focal,
        Self::Pitch,
    ];

    /// What it is called in a table.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Closing => "closes by",
            Self::WorstLean => "worst lean of the subject",
            Self::WorstInView => "worst lean in view",
            Self::FlankClosing => "flanks close by",
            Self::SeenTaper => "taper as seen",
            Self::Tilt => "of it by tilt",
            Self::Detail => "detail at its worst",
            Self::DetailKept => "detail if straightened",
            Self::Head => "head seen from below",
            Self::Seen => "subject seen",
            Self::InFrame => "subject in the frame",
            Self::Distance => "distance",
            Self::Height => "camera above the feet",
            Self::Focal => "focal length",
            Self::Pitch => "pitch",
        }
    }

    const fn unit(self) -> Unit {
        match self {
            Self::Closing | Self::WorstLean | Self::WorstInView | Self::FlankClosing | Self::Head | Self::Pitch => {
                Unit::Degrees
            }
            Self::SeenTaper | Self::Tilt => Unit::Factor,
            Self::Detail | Self::DetailKept => Unit::Detail,
            Self::Seen | Self::InFrame => Unit::Share,
            Self::Distance | Self::Height => Unit::Length,
            Self::Focal => Unit::Millimetres,
        }
    }

    /// Its value: degrees, metres, pixels per metre, millimetres, shares of 1 or plain factors; `None` where there is none.
    pub fn of(self, measured: &Measured) -> Option<f64> {
        let (account, standing) = (&measured.account, &measured.standing);
        match self {
            Self::Closing => account.closing.map(|closing| closing.convergence().degrees()),
            Self::WorstLean => account.worst_lean.map(|lean| lean.abs().degrees()),
            Self::WorstInView => account.worst_in_view.map(|(lean, _)| lean.abs().degrees()),
            Self::FlankClosing => account.flank_closing.map(|angle| angle.degrees()),
            Self::SeenTaper => account.taper.map(|taper| taper.seen),
            Self::Tilt => account.taper.map(|taper| taper.tilt_factor()),
            Self::Detail => account.worst_detail.map(|(detail, _)| detail.px_per_m),
            Self::DetailKept => {
                let kept = account.straightened.as_ref()?.as_ref().ok()?;
                kept.detail_kept.map(|detail| detail.px_per_m)
            }
            Self::Head => account.head_elevation.map(|angle| angle.degrees()),
            Self::Seen => account.visible_share,
            Self::InFrame => account.in_frame_share,
            Self::Distance => account.distance_m,
            Self::Height => standing.height_m(),
            Self::Focal => Some(standing.camera.focal_mm),
            Self::Pitch => Some(standing.pose.attitude.pitch.degrees()),
        }
    }

    /// The value as it is shown in a unit of length: what an axis of a plot counts.
    pub fn shown(self, value: f64, units: Units) -> f64 {
        match self.unit() {
            Unit::Length => units.from_metres(value),
            Unit::Detail => value / units.from_metres(1.0),
            Unit::Share => 100.0 * value,
            Unit::Degrees | Unit::Factor | Unit::Millimetres => value,
        }
    }

    /// The sign of what an axis counts: "°", "m", "px/ft", "%", "mm", or nothing.
    pub fn sign(self, units: Units) -> String {
        match self.unit() {
            Unit::Degrees => "°".into(),
            Unit::Share => "%".into(),
            Unit::Factor => String::new(),
            Unit::Length => units.name().into(),
            Unit::Detail => format!("px/{}", units.name()),
            Unit::Millimetres => "mm".into(),
        }
    }

    /// The value with its unit.
    pub fn written(self, value: f64, units: Units) -> String {
        let degrees = |value: f64| format!("{:.1}°", (value * 10.0).round() / 10.0 + 0.0);
        match (self, self.unit()) {
            (Self::Closing, _) if value <= -0.05 => format!("opens {}", degrees(-value)),
            (_, Unit::Degrees) => degrees(value),
            (_, Unit::Share) => format!("{:.0} %", 100.0 * value),
            (_, Unit::Factor) => format!("{value:.2}"),
            (Self::Height, _) => units.length(value, 2),
            (_, Unit::Length) => units.length(value, 1),
            (_, Unit::Detail) => units.detail(value),
            (_, Unit::Millimetres) => format!("{value:.0} mm"),
        }
    }

    /// By how much one stance exceeds another, in words: "1.1° less", "24 px/m more"; `None` where either has no such
    /// figure, "the same" where they would be written alike.
    pub fn difference(self, here: &Measured, there: &Measured, units: Units) -> Option<String> {
        let (here, there) = (self.of(here)?, self.of(there)?);
        // By size: opening less is as good as closing less.
        let by = if self == Self::Closing { here.abs() - there.abs() } else { here - there };
        let written = match self.unit() {
            Unit::Degrees => format!("{:.1}°", by.abs()),
            _ => self.written(by.abs(), units),
        };
        if !written.chars().any(|c| ('1'..='9').contains(&c)) {
            return Some("the same".into());
        }
        Some(format!("{written} {}", if by < 0.0 { "less" } else { "more" }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_written_with_their_units() {
        assert_eq!(Figure::Closing.written(1.94, Units::M), "1.9°");
        assert_eq!(Figure::Closing.written(-1.94, Units::M), "opens 1.9°");
        assert_eq!(Figure::WorstLean.written(-0.01, Units::M), "0.0°");
        assert_eq!(Figure::Seen.written(0.954, Units::M), "95 %");
        assert_eq!(Figure::Distance.written(30.48, Units::Ft), "100.0 ft");
        // 100 px/m over 3.2808 ft/m.
        assert!((Figure::Detail.shown(100.0, Units::Ft) - 30.48).abs() < 1e-9);
    }
}
