//! Is the base or the top of the subject hidden?

use crate::outline::Subject;
use crate::pose::{WorldPoint, WorldVector};
use crate::survey::Survey;

use super::way::Remark;

/// How far off its surface a point is looked at.
const CLEAR_M: f64 = 4e-3;
/// Heights at which the side that faces the camera is looked at.
const LOOKS: usize = 24;
/// A hidden base or top lower than this is not worth a word.
const WORTH_M: f64 = 0.3;

/// How much of the base and top of the side that faces the camera is hidden.
pub(super) fn hidden_ends(survey: &Survey, subject: &Subject, eye: &WorldPoint) -> Vec<Remark> {
    let rise_m = subject.top_m - subject.base_m;
    let is_seen = |share: f64| {
        let (point, normal): (WorldPoint, WorldVector) =
            subject.facing_point(&survey.model, eye, subject.base_m + share * rise_m)?;
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
            remarks.push(Remark::TopHidden { above_m });
        }
    }
    remarks
}
