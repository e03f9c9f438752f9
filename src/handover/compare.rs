//! Which of these stances is the best, figure by figure?
//!
//! The figures of their records side by side, each with its difference from the first stance's, and which of them is best
//! where one can be: less lean, more detail, more room to stand amiss. What is a matter of taste has no best.

use serde_json::{Value, json};

use crate::angle::Angle;
use crate::record::{Record, SlackRecord, SubjectRecord};

/// What a figure is counted in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// Degrees.
    Degrees,
    /// Degrees of the compass, which go round.
    Compass,
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

impl Unit {
    /// The unit's sign in tables and files; empty for a plain number.
    pub fn sign(self) -> &'static str {
        match self {
            Self::Degrees | Self::Compass => "°",
            Self::Metres => "m",
            Self::Millimetres => "mm",
            Self::PxPerM => "px/m",
            Self::Megapixels => "MP",
            Self::Share => "share",
            Self::Number => "",
            Self::YesNo => "yes or no",
        }
    }
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

/// A figure that is compared.
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
    of: fn(&Record) -> Option<f64>,
}

/// A figure of every stance; infinite where it does not matter how large it is.
#[derive(Clone, Debug)]
pub struct Row {
    /// The figure.
    pub figure: &'static Figure,
    /// Its value for each stance; `None` where there is none.
    pub values: Vec<Option<f64>>,
    /// Which stances are the best in it; none where it is a matter of taste, or all are as good.
    pub best: Vec<usize>,
}

/// Stances side by side.
#[derive(Clone, Debug)]
pub struct Comparison {
    /// The stances' names.
    pub stances: Vec<String>,
    /// Why a stance has no figures.
    pub refused: Vec<Option<String>>,
    /// The figures.
    pub rows: Vec<Row>,
}

const fn figure(
    (name, words): (&'static str, &'static str),
    unit: Unit,
    decimals: usize,
    better: Better,
    of: fn(&Record) -> Option<f64>,
) -> Figure {
    Figure { name, words, unit, decimals, better, of }
}

fn subject(record: &Record, of: fn(&SubjectRecord) -> Option<f64>) -> Option<f64> {
    record.subject.as_ref().and_then(of)
}

/// The lesser of two slacks; one that is null in the record does not matter within reach.
fn slack(record: &Record, of: fn(&SlackRecord) -> [Option<f64>; 2]) -> Option<f64> {
    let [a, b] = record.slack.as_ref().map(of)?;
    Some(a.unwrap_or(f64::INFINITY).min(b.unwrap_or(f64::INFINITY)))
}

/// Everything of a record that is compared, in the order in which it is told.
pub const FIGURES: [Figure; 34] = {
    use Better::{Larger, NearerOne, Neither, Smaller};
    use Unit::{Compass, Degrees, Megapixels, Metres, Millimetres, Number, PxPerM, Share, YesNo};
    [
        figure(("distance_m", "away"), Metres, 1, Neither, |r| subject(r, |s| s.distance_m)),
        figure(("height_m", "camera up"), Metres, 2, Neither, |r| r.stance.height_m),
        figure(("eye_up_m", "eye over the site's zero"), Metres, 2, Neither, |r| Some(r.stance.eye_m[2])),
        figure(("heading_deg", "heading"), Compass, 1, Neither, |r| Some(r.stance.heading_deg)),
        figure(("pitch_deg", "pitch"), Degrees, 1, Neither, |r| Some(r.stance.pitch_deg)),
        figure(("focal_mm", "focal length"), Millimetres, 1, Neither, |r| Some(r.camera.focal_mm)),
        figure(("equivalent_focal_mm", "equivalent on 36×24"), Millimetres, 0, Neither, |r| {
            Some(r.camera.equivalent_focal_mm)
        }),
        figure(("rise_mm", "rise"), Millimetres, 1, Neither, |r| Some(r.camera.rise_mm)),
        figure(("lateral_shift_mm", "lateral shift"), Millimetres, 1, Neither, |r| Some(r.camera.lateral_shift_mm)),
        figure(("f_number", "f-number"), Number, 1, Neither, |r| Some(r.camera.f_number)),
        figure(("sharp_from_m", "sharp from"), Metres, 1, Neither, |r| Some(r.camera.sharp_from_m)),
        figure(("convergence_deg", "closes by (below 0: opens)"), Degrees, 1, Smaller, |r| {
            subject(r, |s| s.convergence_deg)
        }),
        figure(("worst_lean_deg", "worst lean"), Degrees, 1, Smaller, |r| subject(r, |s| s.worst_lean_deg)),
        figure(("reads_upright", "reads as upright"), YesNo, 0, Larger, |r| {
            subject(r, |s| s.reads_upright.map(|yes| f64::from(u8::from(yes))))
        }),
        figure(("worst_lean_in_view_deg", "worst lean in view"), Degrees, 1, Smaller, |r| r.worst_lean_in_view_deg),
        figure(("flank_closing_deg", "flanks close by"), Degrees, 1, Neither, |r| subject(r, |s| s.flank_closing_deg)),
        figure(("seen_taper", "taper seen"), Number, 2, Neither, |r| subject(r, |s| s.seen_taper)),
        figure(("tilt_factor", "tilt's part of it"), Number, 2, NearerOne, |r| subject(r, |s| s.tilt_factor)),
        figure(("off_square_deg", "off square"), Degrees, 1, Neither, |r| subject(r, |s| s.off_square_deg)),
        figure(("horizontals_converge_deg", "horizontals close by"), Degrees, 1, Smaller, |r| {
            subject(r, |s| s.horizontals_converge_deg)
        }),
        figure(("detail_worst_px_per_m", "detail at its worst"), PxPerM, 0, Larger, |r| {
            subject(r, |s| s.detail_px_per_m.worst)
        }),
        figure(("detail_head_px_per_m", "detail at the head"), PxPerM, 0, Larger, |r| {
            subject(r, |s| s.detail_px_per_m.head)
        }),
        figure(("head_elevation_deg", "head seen from below"), Degrees, 0, Smaller, |r| {
            subject(r, |s| s.head_elevation_deg)
        }),
        figure(("visible_share", "seen"), Share, 2, Larger, |r| subject(r, |s| s.visible_share)),
        figure(("in_frame_share", "framed"), Share, 2, Larger, |r| subject(r, |s| s.in_frame_share)),
        figure(("fullness", "frame filled"), Share, 2, Neither, |r| r.stance.fullness),
        figure(("straightened_megapixels", "straightened"), Megapixels, 1, Larger, |r| {
            r.straightened.as_ref().and_then(|kept| kept.megapixels_kept)
        }),
        figure(("straightened_detail_px_per_m", "straightened, detail"), PxPerM, 0, Larger, |r| {
            r.straightened.as_ref().and_then(|kept| kept.detail_kept_px_per_m)
        }),
        figure(("slack_aside_m", "may be off sideways"), Metres, 2, Larger, |r| slack(r, |s| [s.left_m, s.right_m])),
        figure(("slack_along_m", "may be off along"), Metres, 2, Larger, |r| slack(r, |s| [s.forward_m, s.back_m])),
        figure(("slack_up_m", "may be off in height"), Metres, 2, Larger, |r| slack(r, |s| [s.up_m, s.down_m])),
        figure(("slack_pitch_deg", "may be off in pitch"), Degrees, 2, Larger, |r| slack(r, |s| [s.pitch_deg; 2])),
        figure(("slack_heading_deg", "may be off in heading"), Degrees, 2, Larger, |r| {
            slack(r, |s| [s.heading_deg; 2])
        }),
        figure(("cautions", "cautions"), Number, 0, Smaller, |r| Some(r.cautions.len() as f64)),
    ]
};

impl Comparison {
    /// Stances side by side: each its name, and its record or why there is none.
    pub fn of(stances: &[(String, Result<Record, String>)]) -> Self {
        let row = |figure: &'static Figure| {
            let values: Vec<Option<f64>> =
                stances.iter().map(|(_, record)| record.as_ref().ok().and_then(figure.of)).collect();
            let best = figure.best(&values);
            Row { figure, values, best }
        };
        Self {
            stances: stances.iter().map(|(name, _)| name.clone()).collect(),
            refused: stances.iter().map(|(_, record)| record.as_ref().err().cloned()).collect(),
            // What no stance has is not told.
            rows: FIGURES.iter().map(row).filter(|row| row.values.iter().any(Option::is_some)).collect(),
        }
    }

    /// The comparison as JSON.
    pub fn to_json(&self) -> String {
        let figures: Vec<Value> = self
            .rows
            .iter()
            .map(|row| {
                let figure = row.figure;
                json!({
                    "name": figure.name,
                    "words": figure.words,
                    "unit": figure.unit.sign(),
                    "better": match figure.better {
                        Better::Smaller => Some("nearer 0"),
                        Better::Larger => Some("larger"),
                        Better::NearerOne => Some("nearer 1"),
                        Better::Neither => None,
                    },
                    "values": row.values.iter().map(|value| figure.json(*value)).collect::<Vec<_>>(),
                    "differences": (0..row.values.len()).map(|stance| row.difference(stance)).collect::<Vec<_>>(),
                    "best": row.best,
                })
            })
            .collect();
        let comparison = json!({ "stances": self.stances, "refused": self.refused, "figures": figures });
        serde_json::to_string_pretty(&comparison).expect("every key is text")
    }

    /// The comparison as CSV, a figure a row: name, unit, the best stances, then each stance's value and difference.
    ///
    /// # Source
    /// RFC 4180.
    pub fn to_csv(&self) -> String {
        let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
        let mut head = vec!["figure".to_owned(), "unit".into(), "best".into()];
        head.extend(self.stances.iter().flat_map(|name| [name.clone(), format!("{name}, difference")]));
        let rows = self.rows.iter().map(|row| {
            let best: Vec<&str> = row.best.iter().map(|&stance| self.stances[stance].as_str()).collect();
            let mut cells = vec![row.figure.name.to_owned(), row.figure.unit.sign().into(), best.join("; ")];
            for (stance, value) in row.values.iter().enumerate() {
                cells.push(match row.figure.json(*value) {
                    Value::Null => String::new(),
                    Value::String(words) => words,
                    other => other.to_string(),
                });
                cells.push(row.difference(stance).map_or_else(String::new, |difference| difference.to_string()));
            }
            cells
        });
        for cells in std::iter::once(head).chain(rows) {
            writer.write_record(&cells).expect("rows are of one length, and memory takes them");
        }
        String::from_utf8(writer.into_inner().expect("memory takes it")).expect("text was written")
    }
}

impl Row {
    /// How far a stance's value is from the first one's; `None` where either has none, or yes and no are told.
    pub fn difference(&self, stance: usize) -> Option<f64> {
        let (first, value) = ((*self.values.first()?)?, (*self.values.get(stance)?)?);
        let difference = match self.figure.unit {
            Unit::YesNo => return None,
            Unit::Compass => Angle::from_degrees(value - first).wrapped().degrees(),
            _ => value - first,
        };
        difference.is_finite().then_some(difference + 0.0)
    }
}

impl Figure {
    /// The best of some values, where there is one.
    fn best(&self, values: &[Option<f64>]) -> Vec<usize> {
        let shown = |value: f64| {
            let steps = 10_f64.powi(self.decimals as i32);
            (value * steps).round() / steps
        };
        let merit = |value: f64| match self.better {
            Better::Smaller => Some(-shown(value).abs()),
            Better::Larger => Some(shown(value)),
            Better::NearerOne => Some(-(shown(value) - 1.0).abs()),
            Better::Neither => None,
        };
        let merits: Vec<(usize, f64)> =
            values.iter().enumerate().filter_map(|(stance, value)| Some((stance, merit((*value)?)?))).collect();
        let highest = merits.iter().map(|(_, merit)| *merit).fold(f64::NEG_INFINITY, f64::max);
        let best: Vec<usize> =
            merits.iter().filter(|(_, merit)| *merit == highest).map(|(stance, _)| *stance).collect();
        if best.len() == merits.len() { Vec::new() } else { best }
    }

    /// A value in files: a number, a yes or no, "any" where it does not matter, or null.
    fn json(&self, value: Option<f64>) -> Value {
        match value {
            None => Value::Null,
            Some(value) if self.unit == Unit::YesNo => json!(value != 0.0),
            Some(value) if value.is_infinite() => json!("any"),
            Some(value) => json!(value),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_best_is_told_where_there_is_one() {
        let of = |better, decimals, values: &[Option<f64>]| Figure { better, decimals, ..FIGURES[0] }.best(values);
        assert_eq!(of(Better::Smaller, 1, &[Some(2.0), Some(-0.31), Some(0.29), None]), [1, 2]);
        assert_eq!(of(Better::Larger, 0, &[Some(2.0), Some(f64::INFINITY)]), [1]);
        assert_eq!(of(Better::NearerOne, 2, &[Some(0.8), Some(1.1), None]), [1]);
        assert_eq!(of(Better::Neither, 1, &[Some(1.0), Some(2.0)]), [0; 0]);
        // All alike, or alone: nothing is best.
        assert_eq!(of(Better::Larger, 1, &[Some(1.0), Some(1.01)]), [0; 0]);
        assert_eq!(of(Better::Larger, 1, &[None, Some(1.0)]), [0; 0]);
    }

    #[test]
    fn headings_differ_the_short_way_round() {
        let heading = FIGURES.iter().find(|figure| figure.unit == Unit::Compass).expect("the heading");
        let row = Row { figure: heading, values: vec![Some(350.0), Some(10.0), None], best: Vec::new() };
        assert!((row.difference(1).expect("a difference") - 20.0).abs() < 1e-12);
        assert_eq!((row.difference(0), row.difference(2), row.difference(3)), (Some(0.0), None, None));
    }

    #[test]
    fn every_figure_has_a_name_of_its_own() {
        for (index, figure) in FIGURES.iter().enumerate() {
            assert!(FIGURES[..index].iter().all(|other| other.name != figure.name && other.words != figure.words));
        }
    }
}
