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
        for (index, sample) in subject.samples.iter().enumerate() {
            if sample.normal.dot(&(eye - sample.point)) <= 0.0 {
                continue;
            }
            self.facing.push(index);
            if sight.is_free(eye, &(sample.point + sample.normal * CLEAR_M)) {
                self.free.push(index);
            }
        }
    }
}
