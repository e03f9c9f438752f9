//! What remains in the final picture?

use crate::angle::Angle;
use crate::appraise::Account;
use crate::optics::Frame;
use crate::outline::Subject;
use crate::pose::{WorldPoint, WorldVector};
use crate::survey::Survey;
use crate::verticals::Detail;

use super::Remark;

/// How far off its surface a point is looked at.
const CLEAR_M: f64 = 4e-3;
/// Heights at which the side that faces the camera is looked at.
const LOOKS: usize = 24;
/// A hidden foot or head lower than this is not worth a word.
const WORTH_M: f64 = 0.3;

/// The one currency.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figures {
    /// By how much the subject closes towards its top.
    pub convergence: Option<Angle>,
    /// The largest lean of the subject's verticals.
    pub largest_lean: Option<Angle>,
    /// Whether that reads as upright.
    pub reads_upright: Option<bool>,
    /// The largest lean of anything in view.
    pub largest_in_picture: Option<Angle>,
    /// The detail at the worst visible point of the subject.
    pub detail: Option<Detail>,
    /// Pixels of the final picture, in millions.
    pub megapixels: f64,
    /// The share of the subject's facing surface with a free line.
    pub visible_share: Option<f64>,
    /// The elevation at which the head is seen.
    pub head_elevation: Option<Angle>,
    /// The plan distance to the subject.
    pub distance_m: Option<f64>,
}

impl Figures {
    /// Those of an account, for a picture that is kept whole.
    pub fn of(account: &Account, frame: &Frame) -> Self {
        Self {
            convergence: account.convergence.map(|convergence| convergence.angle()),
            largest_lean: account.largest_lean,
            reads_upright: account.reads_upright,
            largest_in_picture: account.largest_in_picture.map(|(lean, _)| lean),
            detail: account.lowest_detail.map(|(detail, _)| detail),
            megapixels: frame.megapixels(),
            visible_share: account.visible_share,
            head_elevation: account.head_elevation,
            distance_m: account.distance_m,
        }
    }
}

/// How much of the foot and head of the side that faces the camera is hidden.
pub(super) fn hidden_ends(survey: &Survey, subject: &Subject, eye: &WorldPoint) -> Vec<Remark> {
    let rise_m = subject.head_m - subject.foot_m;
    let is_seen = |share: f64| {
        let (point, normal): (WorldPoint, WorldVector) =
            subject.facing_point(&survey.model, eye, subject.foot_m + share * rise_m)?;
        Some(survey.sight.is_free(eye, &(point + normal * CLEAR_M)))
    };
    let looks: Vec<(f64, bool)> = (0..=LOOKS)
        .map(|look| (look as f64 / LOOKS as f64).clamp(1e-3, 1.0 - 1e-3))
        .filter_map(|share| Some((share, is_seen(share)?)))
        .collect();
    let Some(lowest) = looks.iter().position(|&(_, seen)| seen) else { return Vec::new() };
    let highest = looks.iter().rposition(|&(_, seen)| seen).unwrap_or(lowest);
    // Between what is hidden and what is seen.
    let edge = |mut hidden: f64, mut seen: f64| {
        for _ in 0..12 {
            let middle = 0.5 * (hidden + seen);
            if is_seen(middle) == Some(true) { seen = middle } else { hidden = middle }
        }
        seen * rise_m
    };
    let mut remarks = Vec::new();
    if lowest > 0 {
        let below_m = edge(looks[lowest - 1].0, looks[lowest].0);
        if below_m > WORTH_M {
            remarks.push(Remark::BaseHidden { below_m });
        }
    }
    if highest + 1 < looks.len() {
        let above_m = edge(looks[highest + 1].0, looks[highest].0);
        if rise_m - above_m > WORTH_M {
            remarks.push(Remark::HeadHidden { above_m });
        }
    }
    remarks
}
