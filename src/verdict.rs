//! Is the picture upright? In parts, and what is wrong first.
//!
//! Upright is a picture in which the subject is seen, whole in the frame and upright, and the whole picture with it: never one
//! of these alone. What hides or cuts the subject comes before what leans, for nothing is upright of which nothing is seen.

use crate::angle::Angle;
use crate::appraise::{Account, Measures};
use crate::outline::OutlineError;
use crate::site::Model;
use crate::units::Units;
use crate::wording::{capital, convergence, degrees, is_all, percent, uncapital};

/// Less of the subject than this is nothing: a sliver between two walls.
const NOTHING: f64 = 0.02;

/// What a stance's picture amounts to.
#[derive(Clone, Debug, PartialEq)]
pub struct Verdict {
    /// Whether the subject's largest lean is at most the threshold; unknown where it has no outline from here.
    pub subject_upright: Option<bool>,
    /// Whether the largest lean of the whole picture is at most the threshold; unknown where nobody looked.
    pub picture_upright: Option<bool>,
    /// Whether the frame holds all of the subject.
    pub whole_in_frame: bool,
    /// The share of the subject's facing surface that is seen; unknown where nobody looked.
    pub seen_share: Option<f64>,
    /// Whether that is enough.
    pub seen: Option<bool>,
    /// Whether all of it holds.
    pub upright: bool,
    /// What does not hold, what matters most first.
    pub faults: Vec<Fault>,
}

/// What keeps a picture from being upright.
#[derive(Clone, Debug, PartialEq)]
pub enum Fault {
    /// There is no subject, or it lies all around the camera.
    NoOutline(OutlineError),
    /// Nothing of the subject is seen.
    NothingSeen,
    /// Too little of the subject is seen.
    Hidden {
        /// The share that is.
        seen_share: f64,
        /// Between which heights over its base the middle of its near side is hidden.
        stretches_m: Vec<(f64, f64)>,
        /// How high its top is over its base.
        rise_m: f64,
    },
    /// The frame cuts the subject.
    Cut {
        /// The share of its facing surface that the frame holds.
        in_frame_share: f64,
    },
    /// The subject leans.
    SubjectLeans {
        /// What it converges by.
        convergence: Option<Angle>,
        /// The largest lean of its verticals.
        largest: Angle,
    },
    /// Something else in the picture leans.
    PictureLeans {
        /// By how much.
        lean: Angle,
        /// The block it belongs to, as it is named in a sentence.
        block: String,
    },
}

impl Verdict {
    /// The verdict on a stance.
    pub fn of(model: &Model, account: &Account, measures: &Measures) -> Self {
        let mut faults = Vec::new();
        let seen = account.visible_share.map(|share| share >= measures.seen_share);
        let subject_upright = account.largest_lean.map(|lean| lean <= measures.upright);
        // Where somebody looked and no line is long enough to be noticed, nothing leans.
        let picture_upright = account
            .visible_share
            .map(|_| account.largest_in_picture.is_none_or(|noticed| noticed.lean <= measures.upright));
        if let Err(error) = account.outline {
            faults.push(Fault::NoOutline(error));
        }
        match account.visible_share {
            Some(share) if share < NOTHING => faults.push(Fault::NothingSeen),
            Some(share) if seen == Some(false) => faults.push(Fault::Hidden {
                seen_share: share,
                stretches_m: account.hidden.stretches_m.clone(),
                rise_m: account.hidden.rise_m,
            }),
            _ => {}
        }
        if let Some(in_frame_share) = account.in_frame_share.filter(|_| !account.whole_in_frame) {
            faults.push(Fault::Cut { in_frame_share });
        }
        if let Some(largest) = account.largest_lean.filter(|_| subject_upright == Some(false)) {
            faults.push(Fault::SubjectLeans { convergence: account.convergence.map(|c| c.angle()), largest });
        }
        if let Some(noticed) = account.largest_in_picture.filter(|_| picture_upright == Some(false)) {
            faults.push(Fault::PictureLeans {
                lean: noticed.lean,
                block: model.site.blocks[noticed.block].words().into(),
            });
        }
        Self {
            subject_upright,
            picture_upright,
            whole_in_frame: account.whole_in_frame,
            seen_share: account.visible_share,
            seen,
            upright: faults.is_empty() && subject_upright == Some(true),
            faults,
        }
    }

    /// Whether the subject itself is as it should be: seen, whole and upright, whatever leans beside it.
    pub fn subject_is_fine(&self) -> bool {
        self.subject_upright == Some(true) && self.whole_in_frame && self.seen != Some(false)
    }

    /// The verdict in a few words, what is wrong first: "Converges 2.9°: not upright".
    pub fn headline(&self, units: Units) -> String {
        let Some((first, rest)) = self.faults.split_first() else {
            return if self.upright { "Upright" } else { "No verdict from here" }.into();
        };
        match (first, leans(rest)) {
            (Fault::PictureLeans { lean, block }, _) => {
                format!("Subject upright; {block} leans {}", degrees(lean.degrees()))
            }
            (Fault::SubjectLeans { .. }, _) => format!("{}: not upright", first.words(units)),
            // What leans is told with it; which heights are hidden comes beside the headline.
            (Fault::Hidden { seen_share, .. }, Some(leans)) => {
                format!("Only {} of the subject is seen; {}", percent(*seen_share), uncapital(&leans.words(units)))
            }
            (Fault::Cut { .. }, Some(leans)) => {
                format!("{}; {}", first.words(units), uncapital(&leans.words(units)))
            }
            _ => first.words(units),
        }
    }

    /// What is wrong besides what the headline tells, each in words.
    pub fn besides(&self, units: Units) -> Vec<String> {
        let Some((first, rest)) = self.faults.split_first() else { return Vec::new() };
        let joined = matches!(first, Fault::Hidden { .. } | Fault::Cut { .. }) && leans(rest).is_some();
        let heights = match first {
            Fault::Hidden { stretches_m, rise_m, .. } if joined => hidden_words(stretches_m, *rise_m, units),
            _ => None,
        };
        let others = rest.iter().filter(|fault| !(joined && matches!(fault, Fault::SubjectLeans { .. })));
        heights.map(|words| capital(&words)).into_iter().chain(others.map(|fault| fault.words(units))).collect()
    }

    /// What is wrong, each in words; empty where nothing is.
    pub fn why(&self, units: Units) -> Vec<String> {
        self.faults.iter().map(|fault| fault.words(units)).collect()
    }
}

/// Between which heights the subject is hidden; `None` where that is nowhere along the middle of its near side.
fn hidden_words(stretches_m: &[(f64, f64)], rise_m: f64, units: Units) -> Option<String> {
    let hidden: Vec<String> = stretches_m
        .iter()
        .map(|&(from_m, to_m)| match (from_m == 0.0, to_m == rise_m) {
            (true, _) => format!("below {}", units.length(to_m, 1)),
            (false, true) => format!("above {}", units.length(from_m, 1)),
            _ => format!("from {} to {}", units.length(from_m, 1), units.length(to_m, 1)),
        })
        .collect();
    (!hidden.is_empty()).then(|| format!("hidden {}", hidden.join(" and ")))
}

/// The fault that the subject leans, where it is one of these.
fn leans(faults: &[Fault]) -> Option<&Fault> {
    faults.iter().find(|fault| matches!(fault, Fault::SubjectLeans { .. }))
}

impl Fault {
    /// In a sentence without a full stop.
    pub fn words(&self, units: Units) -> String {
        match self {
            Self::NoOutline(error) => error.to_string(),
            Self::NothingSeen => "Nothing of the subject is seen".into(),
            Self::Hidden { seen_share, stretches_m, rise_m } => {
                let heights = hidden_words(stretches_m, *rise_m, units);
                let heights = heights.map_or_else(String::new, |words| format!(": {words}"));
                format!("Only {} of the subject is seen{heights}", percent(*seen_share))
            }
            Self::Cut { in_frame_share } if is_all(*in_frame_share) => "The frame cuts the edge of the subject".into(),
            Self::Cut { in_frame_share } => format!("The frame holds only {} of the subject", percent(*in_frame_share)),
            Self::SubjectLeans { convergence: Some(angle), largest } if angle.abs().degrees() >= largest.degrees() => {
                capital(&convergence(angle.degrees()).replacen(" by ", " ", 1))
            }
            Self::SubjectLeans { largest, .. } => format!("Leans {}", degrees(largest.degrees())),
            Self::PictureLeans { lean, block } => format!("In the picture, {block} leans {}", degrees(lean.degrees())),
        }
    }
}
