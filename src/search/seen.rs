//! Which points of the subject does an eye see?

use crate::appraise::CLEAR_M;
use crate::outline::Subject;
use crate::pose::WorldPoint;
use crate::sight::Sight;

/// How it is found out what is seen.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Looking {
    /// By shadows swept from the subject's points over the site, and by rays where that leaves a doubt.
    #[default]
    Swept,
    /// By a ray for every point and eye: slow, and what the quick way must equal.
    Rays,
}

/// The subject's points as seen from one eye.
#[derive(Clone, Debug, Default)]
pub(super) struct Seen {
    /// The points that face the eye, in order.
    pub(super) facing: Vec<usize>,
    /// Those of them that are seen, in order.
    pub(super) free: Vec<usize>,
}

impl Seen {
    /// Of what faces the eye, the share that is seen; `None` where nothing faces it.
    pub(super) fn share(&self) -> Option<f64> {
        (!self.facing.is_empty()).then(|| self.free.len() as f64 / self.facing.len() as f64)
    }

    /// Looks along every ray.
    pub(super) fn by_rays(&mut self, subject: &Subject, sight: &Sight, eye: &WorldPoint) {
        self.facing.clear();
        self.free.clear();
        let faces = |index: &usize| {
            let sample = &subject.samples[*index];
            sample.normal.dot(&(eye - sample.point)) > 0.0
        };
        self.facing.extend((0..subject.samples.len()).filter(faces));
        // All at once, as the account of a stance looks at them: the same points are seen.
        let beside = |&index: &usize| subject.samples[index].point + subject.samples[index].normal * CLEAR_M;
        let points: Vec<WorldPoint> = self.facing.iter().map(beside).collect();
        let free = sight.free_many(eye, &points);
        self.free.extend(self.facing.iter().zip(free).filter(|(_, is_free)| *is_free).map(|(&index, _)| index));
    }
}
