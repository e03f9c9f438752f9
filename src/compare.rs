//! By which figures do stances differ, which stance is best in each, and by how much do two differ?
//!
//! One list for tables, plots, files and differences, so that each figure has one name, one unit and one way of being
//! written. What is a matter of taste has no best.

use crate::angle::Angle;
use crate::appraise::FinalPicture;
use crate::survey::Measured;
use crate::tolerance::Tolerance;
use crate::units::Units;
use crate::verticals::Straightened;
use crate::wording;

/// What a figure is counted in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// Degrees.
    Degrees,
    /// Degrees of the compass, which go round.
    Compass,
    /// Degrees whose sign tells the side; people see the size.
    Lean,
    /// Degrees, closing above 0 and opening below; more or less of it goes by its size.
    Convergence,
    /// Metres.
    Metres,
    /// Millimetres.
    Millimetres,
    /// Sensor pixels for each metre of surface.
    PxPerM,
    /// Millions of pixels.
    Megapixels,
    /// A share of the whole, from 0 to 1.
    Share,
    /// A plain number.
    Number,
    /// 1 for yes, 0 for no.
    YesNo,
}

/// Which value of a figure is the better one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Better {
    /// The one nearer to nought.
    Smaller,
    /// The larger one.
    Larger,
    /// The one nearer to 1.
    NearerOne,
    /// Neither: it is a matter of taste.
    Neither,
}

/// A figure by which stances are compared.
#[derive(Clone, Copy, Debug)]
pub struct Figure {
    /// Its name in files.
    pub name: &'static str,
    /// Its name for people.
    pub words: &'static str,
    /// What it is counted in.
    pub unit: Unit,
    /// How many decimals are shown; values that show the same are as good as one another.
    pub decimals: usize,
    /// Which value is the better one.
    pub better: Better,
    of: fn(&Measured) -> Option<f64>,
}

/// A figure of several stances.
#[derive(Clone, Debug)]
pub struct ComparedRow {
    /// The figure.
    pub figure: &'static Figure,
    /// Its value for each stance.
    pub values: Vec<Option<f64>>,
    /// Which stances are the best in it; none where it is a matter of taste, or all are as good.
    pub best: Vec<usize>,
}

/// What several stances come to, in one line: which of them are upright, or which leans least.
/// Of no stances there is nothing to conclude, and the line is empty.
pub fn conclusion(stances: &[(&str, &Measured)]) -> String {
    let named = |wanted: &dyn Fn(&Measured) -> bool| -> Vec<&str> {
        stances.iter().filter(|(_, measured)| wanted(measured)).map(|(name, _)| *name).collect()
    };
    let listed = |names: &[&str]| match names {
        [] => String::new(),
        [only] => (*only).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    };
    let upright = named(&|measured| measured.verdict.upright);
    let fine = named(&|measured| measured.verdict.subject_is_fine());
    match (upright.as_slice(), fine.as_slice()) {
        (upright, _) if !stances.is_empty() && upright.len() == stances.len() => match upright {
            [only] => format!("{only} comes out upright"),
            _ => "All of them come out upright".into(),
        },
        ([only], _) => format!("Only {only} comes out upright"),
        ([_, ..], _) => format!("{} come out upright", listed(&upright)),
        ([], [_, ..]) => format!("The subject is upright in {}; other lines lean", listed(&fine)),
        ([], []) => {
            let lean = |measured: &Measured| measured.account.largest_lean.map(Angle::degrees);
            let least = stances
                .iter()
                .filter_map(|(name, measured)| Some((*name, lean(measured)?)))
                .reduce(|a, b| if b.1 < a.1 { b } else { a });
            match least {
                Some((name, lean_deg)) if stances.len() > 1 => {
                    format!("None comes out upright; {name} leans least, {}", wording::degrees(lean_deg))
                }
                Some((name, lean_deg)) => format!("{name} leans {}", wording::degrees(lean_deg)),
                None => String::new(),
            }
        }
    }
}

const fn figure(
    (name, words): (&'static str, &'static str),
    unit: Unit,
    decimals: usize,
    better: Better,
    of: fn(&Measured) -> Option<f64>,
) -> Figure {
    Figure { name, words, unit, decimals, better, of }
}

/// What the subject converges by; below 0 where it diverges.
pub const CONVERGENCE: Figure =
    figure(("convergence_deg", "converges by"), Unit::Convergence, 1, Better::Smaller, |m| {
        degrees(m.account.convergence.map(|convergence| convergence.angle()))
    });

/// The largest lean of any visible vertical.
pub const LARGEST_LEAN_IN_PICTURE: Figure =
    figure(("worst_lean_in_view_deg", "largest lean in the picture"), Unit::Lean, 1, Better::Smaller, |m| {
        degrees(m.account.largest_in_picture.map(|noticed| noticed.lean))
    });

/// The lowest detail at any visible place of the subject.
pub const DETAIL: Figure = figure(("detail_worst_px_per_m", "lowest detail"), Unit::PxPerM, 0, Better::Larger, |m| {
    m.account.lowest_detail.map(|(detail, _)| detail.px_per_m)
});

/// The distance in plan to the subject's nearest point.
pub const DISTANCE: Figure =
    figure(("distance_m", "distance"), Unit::Metres, 1, Better::Neither, |m| m.account.distance_m);

/// Everything that is compared, in the order in which it is listed: the lines, what is seen and how well, where the camera
/// is, what it is, and how exactly one must stand.
pub static FIGURES: [Figure; 37] = {
    use Better::{Larger, NearerOne, Neither, Smaller};
    use Unit::{Compass, Degrees, Lean, Megapixels, Metres, Millimetres, Number, PxPerM, Share, YesNo};
    [
        CONVERGENCE,
        figure(("worst_lean_deg", "largest lean of the subject"), Lean, 1, Smaller, |m| {
            degrees(m.account.largest_lean)
        }),
        figure(("reads_upright", "subject upright"), YesNo, 0, Larger, |m| {
            m.account.reads_upright.map(|yes| f64::from(u8::from(yes)))
        }),
        LARGEST_LEAN_IN_PICTURE,
        figure(("flank_closing_deg", "sides converge by"), Degrees, 1, Neither, |m| {
            degrees(m.account.sides_convergence)
        }),
        figure(("seen_taper", "taper as seen"), Number, 2, Neither, |m| m.account.taper.map(|taper| taper.seen)),
        figure(("tilt_factor", "of it by tilt"), Number, 2, NearerOne, |m| {
            m.account.taper.map(|taper| taper.tilt_factor()).filter(|factor| factor.is_finite())
        }),
        figure(("horizontals_converge_deg", "horizontals converge by"), Degrees, 1, Smaller, |m| {
            m.account.squareness.and_then(|squareness| degrees(squareness.horizontals))
        }),
        figure(("off_square_deg", "off square"), Degrees, 1, Neither, |m| {
            m.account.squareness.map(|squareness| squareness.off_square.degrees())
        }),
        figure(("front_angle_deg", "angle to the front"), Lean, 0, Neither, |m| {
            m.account.front.map(|front| front.angle_to(&m.standing.pose.eye).degrees())
        }),
        DETAIL,
        figure(("detail_head_px_per_m", "detail at the top"), PxPerM, 0, Larger, |m| {
            m.account.detail[2].map(|detail| detail.px_per_m)
        }),
        figure(("final_picture_megapixels", "final picture"), Megapixels, 1, Larger, |m| {
            final_picture(m).map(|kept| kept.megapixels())
        }),
        figure(("final_picture_detail_px_per_m", "detail in the final picture"), PxPerM, 0, Larger, |m| {
            final_picture(m)?.lowest_detail.map(|detail| detail.px_per_m)
        }),
        figure(("straightened_megapixels", "kept if straightened"), Megapixels, 1, Larger, |m| {
            straightened(m).map(|straightened| straightened.megapixels_kept)
        }),
        figure(("straightened_detail_px_per_m", "detail if straightened"), PxPerM, 0, Larger, |m| {
            straightened(m)?.detail_kept.map(|detail| detail.px_per_m)
        }),
        figure(("head_elevation_deg", "looking up at the top"), Degrees, 1, Smaller, |m| {
            degrees(m.account.top_elevation)
        }),
        figure(("visible_share", "subject seen"), Share, 2, Larger, |m| m.account.visible_share),
        figure(("in_frame_share", "subject in the frame"), Share, 2, Larger, |m| m.account.in_frame_share),
        figure(("fullness", "frame filled"), Share, 2, Neither, |m| m.standing.fullness),
        DISTANCE,
        figure(("height_m", "camera above the feet"), Metres, 2, Neither, |m| m.standing.height_m()),
        figure(("eye_up_m", "eye over the site's zero"), Metres, 2, Neither, |m| Some(m.standing.pose.eye.z)),
        figure(("heading_deg", "heading"), Compass, 1, Neither, |m| {
            Some(m.standing.pose.attitude.heading.compass_degrees())
        }),
        figure(("pitch_deg", "pitch"), Degrees, 1, Neither, |m| Some(m.standing.pose.attitude.pitch.degrees())),
        figure(("focal_mm", "focal length"), Millimetres, 1, Neither, |m| Some(m.standing.camera.focal_mm)),
        figure(("equivalent_focal_mm", "equivalent on 36 × 24"), Millimetres, 0, Neither, |m| {
            Some(m.standing.camera.equivalent_focal_mm())
        }),
        figure(("rise_mm", "rise"), Millimetres, 1, Neither, |m| Some(m.standing.camera.rise_mm)),
        figure(("lateral_shift_mm", "shift"), Millimetres, 1, Neither, |m| Some(m.standing.camera.shift_mm)),
        figure(("f_number", "f-number"), Number, 1, Neither, |m| Some(m.standing.f_number)),
        figure(("sharp_from_m", "sharp from"), Metres, 1, Neither, |m| Some(m.account.depth_of_field.near_m)),
        figure(("slack_aside_m", "tolerance sideways"), Metres, 2, Larger, |m| {
            tolerance(m, |tolerance| [tolerance.left_m, tolerance.right_m])
        }),
        figure(("slack_along_m", "tolerance along"), Metres, 2, Larger, |m| {
            tolerance(m, |tolerance| [tolerance.forward_m, tolerance.back_m])
        }),
        figure(("slack_up_m", "tolerance in height"), Metres, 2, Larger, |m| {
            tolerance(m, |tolerance| [tolerance.up_m, tolerance.down_m])
        }),
        figure(("slack_pitch_deg", "tolerance in pitch"), Degrees, 2, Larger, |m| {
            tolerance(m, |tolerance| [degrees(tolerance.pitch); 2])
        }),
        figure(("slack_heading_deg", "tolerance in heading"), Degrees, 2, Larger, |m| {
            tolerance(m, |tolerance| [degrees(tolerance.heading); 2])
        }),
        figure(("cautions", "cautions"), Number, 0, Smaller, |m| Some(m.cautions.len() as f64)),
    ]
};

fn degrees(angle: Option<Angle>) -> Option<f64> {
    angle.map(Angle::degrees)
}

fn straightened(measured: &Measured) -> Option<&Straightened> {
    measured.account.straightened.as_ref()?.as_ref().ok()
}

fn final_picture(measured: &Measured) -> Option<FinalPicture> {
    measured.account.final_picture?.ok()
}

/// The lesser of two slacks; one that is not there does not matter within reach.
fn tolerance(measured: &Measured, of: fn(&Tolerance) -> [Option<f64>; 2]) -> Option<f64> {
    let [a, b] = measured.tolerance.as_ref().map(of)?;
    Some(a.unwrap_or(f64::INFINITY).min(b.unwrap_or(f64::INFINITY)))
}

impl PartialEq for Figure {
    fn eq(&self, other: &Self) -> bool {
        self.name == other.name
    }
}

impl Figure {
    /// Its value: degrees, metres, millimetres, pixels per metre, shares of 1 or plain numbers; `None` where there is none,
    /// infinite where it does not matter how large it is.
    pub fn of(&self, measured: &Measured) -> Option<f64> {
        (self.of)(measured)
    }

    /// The value as it is shown in a unit of length: what an axis of a plot counts.
    pub fn shown(&self, value: f64, units: Units) -> f64 {
        let value = self.scaled(value, units);
        if self.unit == Unit::Lean { value.abs() } else { value }
    }

    fn scaled(&self, value: f64, units: Units) -> f64 {
        match self.unit {
            Unit::Metres => units.from_metres(value),
            Unit::PxPerM => value / units.from_metres(1.0),
            Unit::Share => 100.0 * value,
            Unit::Degrees
            | Unit::Compass
            | Unit::Lean
            | Unit::Convergence
            | Unit::Millimetres
            | Unit::Megapixels
            | Unit::Number
            | Unit::YesNo => value,
        }
    }

    /// The sign of what an axis counts: "°", "m", "px/ft", "%", "mm", or nothing.
    pub fn sign(&self, units: Units) -> String {
        match self.unit {
            Unit::Degrees | Unit::Compass | Unit::Lean | Unit::Convergence => "°".into(),
            Unit::Share => "%".into(),
            Unit::Metres => units.name().into(),
            Unit::PxPerM => format!("px/{}", units.name()),
            Unit::Millimetres => "mm".into(),
            Unit::Megapixels => "MP".into(),
            Unit::Number | Unit::YesNo => String::new(),
        }
    }

    /// The value with its unit.
    pub fn written(&self, value: f64, units: Units) -> String {
        if value.is_infinite() {
            return "any".into();
        }
        match self.unit {
            Unit::YesNo => if value == 0.0 { "no" } else { "yes" }.into(),
            Unit::Compass => format!("{}°", self.rounded(self.rounded_value(value) % 360.0)),
            Unit::Convergence if self.rounded_value(value) < 0.0 => wording::convergence(value),
            Unit::Degrees | Unit::Convergence => format!("{}°", self.rounded(value)),
            Unit::Lean => format!("{}°", self.rounded(value.abs())),
            Unit::Share => wording::percent(value),
            Unit::Metres => units.length(value, self.decimals),
            Unit::PxPerM => units.detail(value),
            Unit::Millimetres => {
                let text = self.rounded(value);
                // Whole millimetres where it is whole.
                format!("{} mm", text.strip_suffix(".0").unwrap_or(&text))
            }
            Unit::Megapixels => format!("{} MP", self.rounded(value)),
            Unit::Number => self.rounded(value),
        }
    }

    fn rounded_value(&self, value: f64) -> f64 {
        let steps = 10_f64.powi(self.decimals as i32);
        // Zero has no sign.
        (value * steps).round() / steps + 0.0
    }

    fn rounded(&self, value: f64) -> String {
        format!("{:.*}", self.decimals, self.rounded_value(value))
    }

    /// How far a value is from another; `None` where it is a yes or no, or does not matter.
    pub fn step(&self, from: f64, to: f64) -> Option<f64> {
        let step = match self.unit {
            Unit::YesNo => return None,
            Unit::Compass => Angle::from_degrees(to - from).wrapped().degrees(),
            _ => to - from,
        };
        step.is_finite().then_some(step + 0.0)
    }

    /// By how much a value exceeds another, as people mean it: leaning or opening less is as good as closing less.
    pub fn excess(&self, of: f64, over: f64) -> Option<f64> {
        match self.unit {
            Unit::Lean | Unit::Convergence => self.step(over.abs(), of.abs()),
            _ => self.step(over, of),
        }
    }

    /// An excess with its sign, "+1.1"; `None` where it would be written as nought.
    pub fn signed(&self, excess: f64, units: Units) -> Option<String> {
        let decimals = match self.unit {
            Unit::Share => 0,
            Unit::PxPerM if units == Units::Ft => 1,
            _ => self.decimals,
        };
        Some(format!("{:+.decimals$}", self.scaled(excess, units))).filter(|text| tells_something(text))
    }

    /// By how much one stance exceeds another, in words: "1.1° less", "24 px/m more"; `None` where either has no such
    /// figure, "the same" where they would be written alike.
    pub fn difference(&self, here: &Measured, there: &Measured, units: Units) -> Option<String> {
        let by = self.excess(self.of(here)?, self.of(there)?)?;
        let written = self.written(by.abs(), units);
        if !tells_something(&written) {
            return Some("the same".into());
        }
        Some(format!("{written} {}", if by < 0.0 { "less" } else { "more" }))
    }

    /// Which of some values are the best: none where it is a matter of taste, or all are as good.
    pub fn best(&self, values: &[Option<f64>]) -> Vec<usize> {
        let merit = |value: f64| match self.better {
            Better::Smaller => Some(-self.rounded_value(value).abs()),
            Better::Larger => Some(self.rounded_value(value)),
            Better::NearerOne => Some(-(self.rounded_value(value) - 1.0).abs()),
            Better::Neither => None,
        };
        let merits: Vec<(usize, f64)> =
            values.iter().enumerate().filter_map(|(stance, value)| Some((stance, merit((*value)?)?))).collect();
        let highest = merits.iter().map(|(_, merit)| *merit).fold(f64::NEG_INFINITY, f64::max);
        let best: Vec<usize> =
            merits.iter().filter(|(_, merit)| *merit == highest).map(|(stance, _)| *stance).collect();
        if best.len() == merits.len() { Vec::new() } else { best }
    }
}

/// Whether a number in words is another than nought.
fn tells_something(number: &str) -> bool {
    number.contains(|c| ('1'..='9').contains(&c))
}

/// The figures of some stances side by side, as far as any of them has one; `None` stands for a stance that has none.
pub fn rows<'a>(stances: impl IntoIterator<Item = Option<&'a Measured>> + Clone) -> Vec<ComparedRow> {
    let row = |figure: &'static Figure| {
        let values: Vec<Option<f64>> =
            stances.clone().into_iter().map(|measured| measured.and_then(|measured| figure.of(measured))).collect();
        let best = figure.best(&values);
        ComparedRow { figure, values, best }
    };
    FIGURES.iter().map(row).filter(|row| row.values.iter().any(Option::is_some)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn named(name: &str) -> &'static Figure {
        FIGURES.iter().find(|figure| figure.name == name).unwrap_or_else(|| panic!("{name}"))
    }

    #[test]
    fn figures_are_written_with_their_units() {
        assert_eq!(CONVERGENCE.written(1.94, Units::M), "1.9°");
        assert_eq!(CONVERGENCE.written(-1.94, Units::M), "diverges by 1.9°");
        assert_eq!(CONVERGENCE.written(-0.04, Units::M), "0.0°");
        assert_eq!(LARGEST_LEAN_IN_PICTURE.written(-1.26, Units::M), "1.3°");
        assert_eq!(named("pitch_deg").written(-0.01, Units::M), "0.0°");
        assert_eq!(named("visible_share").written(0.954, Units::M), "95 %");
        assert_eq!(named("heading_deg").written(359.97, Units::M), "0.0°");
        assert_eq!(named("focal_mm").written(24.0, Units::M), "24 mm");
        assert_eq!(named("focal_mm").written(25.46, Units::Ft), "25.5 mm");
        assert_eq!(named("slack_up_m").written(f64::INFINITY, Units::M), "any");
        assert_eq!(named("reads_upright").written(1.0, Units::M), "yes");
        // 30.48 m over 0.3048 m/ft.
        assert_eq!(DISTANCE.written(30.48, Units::Ft), "100.0 ft");
        // 100 px/m over 3.2808 ft/m.
        assert!((DETAIL.shown(100.0, Units::Ft) - 30.48).abs() < 1e-9);
        assert_eq!(DETAIL.signed(-100.0, Units::Ft).as_deref(), Some("-30.5"));
        assert_eq!(named("visible_share").signed(0.124, Units::M).as_deref(), Some("+12"));
        assert_eq!(DISTANCE.signed(0.04, Units::M), None);
    }

    #[test]
    fn the_best_is_told_where_there_is_one() {
        let of = |better, decimals, values: &[Option<f64>]| Figure { better, decimals, ..CONVERGENCE }.best(values);
        assert_eq!(of(Better::Smaller, 1, &[Some(2.0), Some(-0.31), Some(0.29), None]), [1, 2]);
        assert_eq!(of(Better::Larger, 0, &[Some(2.0), Some(f64::INFINITY)]), [1]);
        assert_eq!(of(Better::NearerOne, 2, &[Some(0.8), Some(1.1), None]), [1]);
        assert_eq!(of(Better::Neither, 1, &[Some(1.0), Some(2.0)]), [0; 0]);
        // All alike, or alone: nothing is best.
        assert_eq!(of(Better::Larger, 1, &[Some(1.0), Some(1.01)]), [0; 0]);
        assert_eq!(of(Better::Larger, 1, &[None, Some(1.0)]), [0; 0]);
    }

    #[test]
    fn values_differ_as_their_unit_has_it() {
        let heading = named("heading_deg");
        assert!((heading.step(350.0, 10.0).expect("a difference") - 20.0).abs() < 1e-12);
        assert_eq!(heading.step(350.0, 350.0), Some(0.0));
        assert_eq!(named("reads_upright").step(0.0, 1.0), None);
        assert_eq!(named("slack_up_m").step(0.0, f64::INFINITY), None);
        // Opening by 1 is 2 less than converging by 3, and 4 away from it.
        assert_eq!((CONVERGENCE.excess(-1.0, 3.0), CONVERGENCE.step(3.0, -1.0)), (Some(-2.0), Some(-4.0)));
        assert_eq!(LARGEST_LEAN_IN_PICTURE.excess(-1.0, 1.0), Some(0.0));
    }

    #[test]
    fn every_figure_has_a_name_of_its_own() {
        for (index, figure) in FIGURES.iter().enumerate() {
            assert!(FIGURES[..index].iter().all(|other| other.name != figure.name && other.words != figure.words));
        }
    }
}
