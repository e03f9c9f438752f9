//! Which points of the subject does an eye see?

use crate::appraise::CLEAR_M;
use crate::outline::Subject;
use crate::pose::WorldPoint;
use crate::sight::Sight;
use crate::site::PlanPoint;

/// How it is found out what is seen.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SightMethod {
    /// By shadows swept from the subject's points over the site, and by rays where that leaves a doubt.
    #[default]
    Swept,
    /// By a ray for every point and eye: slow, and what the quick way must equal.
    Rays,
}

/// The most eyes above one place that are asked at once.
pub(super) const MOST_EYES: usize = 32;

/// Finds out which points are seen from eyes above one place, at most [`MOST_EYES`] of them, by their heights.
pub(super) trait VisibilityTest {
    fn find(&self, at: PlanPoint, heights_m: &[f64], seen: &mut [VisiblePoints]);
}

/// Looks along every ray.
pub(super) struct ByRays<'a> {
    pub(super) subject: &'a Subject,
    pub(super) sight: &'a Sight,
}

/// Some of the subject's points.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct PointSet {
    words: Vec<u64>,
}

/// The subject's points as seen from one eye.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct VisiblePoints {
    /// The points that face the eye.
    pub(super) facing: PointSet,
    /// Those of them that are seen.
    pub(super) free: PointSet,
}

impl PointSet {
    /// None of so many.
    pub(super) fn none_of(count: usize) -> Self {
        Self { words: vec![0; count.div_ceil(64)] }
    }

    /// Makes it these.
    pub(super) fn become_those(&mut self, others: &Self) {
        self.words.clone_from(&others.words);
    }

    pub(super) fn insert(&mut self, point: usize) {
        self.words[point / 64] |= 1 << (point % 64);
    }

    /// Keeps those for which something holds.
    pub(super) fn retain(&mut self, mut holds: impl FnMut(usize) -> bool) {
        for (index, word) in self.words.iter_mut().enumerate() {
            let mut left = *word;
            while left != 0 {
                let bit = left.trailing_zeros() as usize;
                left &= left - 1;
                if !holds(64 * index + bit) {
                    *word &= !(1 << bit);
                }
            }
        }
    }

    pub(super) fn count(&self) -> u32 {
        self.words.iter().map(|word| word.count_ones()).sum()
    }

    /// Each of them, in order.
    pub(super) fn iter(&self) -> impl Iterator<Item = usize> + '_ {
        self.words.iter().enumerate().flat_map(|(index, &word)| {
            let mut left = word;
            std::iter::from_fn(move || {
                let bit = left.trailing_zeros() as usize;
                left &= left.wrapping_sub(1);
                (bit < 64).then_some(64 * index + bit)
            })
        })
    }
}

impl VisiblePoints {
    /// Of what faces the eye, the share that is seen; `None` where nothing faces it.
    pub(super) fn share(&self) -> Option<f64> {
        let facing = self.facing.count();
        (facing > 0).then(|| f64::from(self.free.count()) / f64::from(facing))
    }
}

/// Where a point of the subject is looked at: a hair off its surface.
pub(super) fn beside(subject: &Subject, point: usize) -> WorldPoint {
    let sample = &subject.samples[point];
    sample.point + sample.normal * CLEAR_M
}

/// Whether a point of the subject faces an eye, as the full account has it.
pub(super) fn faces(subject: &Subject, point: usize, eye: &WorldPoint) -> bool {
    let sample = &subject.samples[point];
    sample.normal.dot(&(eye - sample.point)) > 0.0
}

impl VisibilityTest for ByRays<'_> {
    fn find(&self, at: PlanPoint, heights_m: &[f64], seen: &mut [VisiblePoints]) {
        let count = self.subject.samples.len();
        for (&height_m, seen) in heights_m.iter().zip(seen) {
            let eye = WorldPoint::new(at.0, at.1, height_m);
            (seen.facing, seen.free) = (PointSet::none_of(count), PointSet::none_of(count));
            let facing: Vec<usize> = (0..count).filter(|&point| faces(self.subject, point, &eye)).collect();
            let targets: Vec<WorldPoint> = facing.iter().map(|&point| beside(self.subject, point)).collect();
            // All at once, as the account of a stance looks at them: the same points are seen.
            for (&point, is_free) in facing.iter().zip(self.sight.free_many(&eye, &targets)) {
                seen.facing.insert(point);
                if is_free {
                    seen.free.insert(point);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_are_kept_in_order() {
        let mut points = PointSet::none_of(130);
        for point in [129, 0, 63, 64, 5, 64] {
            points.insert(point);
        }
        assert_eq!(points.iter().collect::<Vec<_>>(), [0, 5, 63, 64, 129]);
        assert_eq!(points.count(), 5);
        points.retain(|point| point % 2 == 1);
        assert_eq!(points.iter().collect::<Vec<_>>(), [5, 63, 129]);
        assert_eq!(PointSet::none_of(0).iter().next(), None);
    }
}
