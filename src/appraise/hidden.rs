//! Which heights of the subject are hidden?

use crate::outline::Subject;
use crate::pose::WorldPoint;
use crate::sight::Sight;
use crate::site::Model;

/// How far off its surface a point is looked at, so that a surface seen flatly does not hide itself.
pub(crate) const CLEAR_M: f64 = 4e-3;

/// Heights at which the side that faces the camera is looked at.
const LOOKS: usize = 24;
/// A hidden stretch shorter than this is not worth a word.
const WORTH_M: f64 = 0.3;
/// How often the end of a hidden stretch is halved.
const HALVINGS: usize = 12;

/// Where the side of the subject's body that faces the camera is hidden.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct HiddenHeights {
    /// From and to which height over its base, the lowest first.
    pub stretches_m: Vec<(f64, f64)>,
    /// How high its top is over its base.
    pub rise_m: f64,
}

impl HiddenHeights {
    /// Looks from an eye at the middle of the side that faces it.
    pub(super) fn of(model: &Model, subject: &Subject, sight: &Sight, eye: &WorldPoint) -> Self {
        let rise_m = subject.top_m - subject.base_m;
        let is_seen = |share: f64| {
            let (point, normal) = subject.facing_point(model, eye, subject.base_m + share * rise_m)?;
            Some(sight.is_free(eye, &(point + normal * CLEAR_M)))
        };
        let looks: Vec<(f64, bool)> = (0..=LOOKS)
            .map(|look| (look as f64 / LOOKS as f64).clamp(1e-3, 1.0 - 1e-3))
            .filter_map(|share| Some((share, is_seen(share)?)))
            .collect();
        // Between what is hidden and what is seen.
        let edge = |mut hidden: f64, mut seen: f64| {
            for _ in 0..HALVINGS {
                let middle = 0.5 * (hidden + seen);
                if is_seen(middle) == Some(true) { seen = middle } else { hidden = middle }
            }
            seen
        };
        let mut stretches_m = Vec::new();
        let (mut start, mut last): (Option<f64>, Option<f64>) = (None, None);
        for &(share, seen) in &looks {
            match (seen, start) {
                (false, None) => start = Some(last.map_or(0.0, |seen| edge(share, seen))),
                (true, Some(from)) => {
                    stretches_m.push((from * rise_m, edge(last.unwrap_or(0.0), share) * rise_m));
                    start = None;
                }
                _ => {}
            }
            last = Some(share);
        }
        if let Some(from) = start {
            stretches_m.push((from * rise_m, rise_m));
        }
        stretches_m.retain(|(from_m, to_m)| to_m - from_m > WORTH_M);
        Self { stretches_m, rise_m }
    }

    /// Below which height over the base it is hidden, where its base is; all of it where nothing is seen.
    pub fn below_m(&self) -> Option<f64> {
        self.stretches_m.first().filter(|(from_m, _)| *from_m == 0.0).map(|(_, to_m)| *to_m)
    }

    /// Above which height over the base it is hidden, where its top is but not all of it.
    pub fn above_m(&self) -> Option<f64> {
        self.stretches_m
            .last()
            .filter(|(from_m, to_m)| *to_m == self.rise_m && *from_m > 0.0)
            .map(|(from_m, _)| *from_m)
    }
}
