//! What is wrong, and what to do about it, in two lines?

use crate::units::Units;
use crate::verdict::Verdict;

use super::{Advice, Equipment, Mend, Remark, Remedy, Way, WayOutcome, Ways};

/// A metre climbed is worth so many walked (common practice, no source).
const CLIMB_IN_WALK: f64 = 8.0;
/// What else a way takes, in metres walked that one would rather do (common practice, no source): setting the camera otherwise,
/// a few minutes at the desk, another lens out of the bag, something to stand on that must be carried or driven there, a
/// permission, a lens to hire, frames to join, a platform or a drone.
const SETTING_M: f64 = 1.0;
const AFTERWARDS_M: f64 = 3.0;
const OWN_LENS_M: f64 = 6.0;
const HELD_M: f64 = 60.0;
const PERMISSION_M: f64 = 150.0;
const HIRED_M: f64 = 600.0;
const FRAMES_M: f64 = 700.0;
const PLATFORM_M: f64 = 1000.0;
/// A way that takes so much must draw the subject twice as finely to be the better one (common practice, no source).
const TWICE_AS_FINE_M: f64 = 150.0;
/// A way that is worth at least this share of the best one is hardly worse.
const HARDLY_WORSE: f64 = 0.95;
/// A way that costs hardly more and keeps clearly more of the picture is the better of two cheap ones.
const HARDLY_MORE_M: f64 = 0.5;

impl Way {
    /// What it takes, in metres that one would walk for it.
    pub fn cost_m(&self) -> f64 {
        let effort = &self.effort;
        let kit = |equipment: &Equipment| match equipment {
            Equipment::Lens(_) => OWN_LENS_M,
            Equipment::LensToHire(_) => HIRED_M,
            Equipment::Holding(held) if held.needs_nothing() => SETTING_M,
            Equipment::Holding(_) => HELD_M,
            Equipment::Platform => PLATFORM_M,
            Equipment::Frames(_) => FRAMES_M,
            Equipment::Afterwards => AFTERWARDS_M,
        };
        SETTING_M
            + effort.walk_m.unwrap_or(0.0)
            + CLIMB_IN_WALK * effort.climb_m.abs()
            + effort.kit.iter().map(kit).sum::<f64>()
            + PERMISSION_M * effort.ask.len() as f64
    }

    /// Whether it asks for nothing that one does not own: no hire, no platform, no frames to join.
    pub(super) fn is_own(&self) -> bool {
        self.effort
            .kit
            .iter()
            .all(|kit| !matches!(kit, Equipment::LensToHire(_) | Equipment::Platform | Equipment::Frames(_)))
    }

    pub(super) fn is_afterwards(&self) -> bool {
        self.effort.kit.contains(&Equipment::Afterwards)
    }

    /// How finely it draws the subject, for what it takes.
    fn worth(&self) -> f64 {
        let px_per_m = self.figures.and_then(|figures| figures.detail).map_or(0.0, |detail| detail.px_per_m);
        px_per_m / (1.0 + self.cost_m() / TWICE_AS_FINE_M)
    }
}

impl Advice {
    /// Picks the mends of a stance; none for one that needs none.
    pub(super) fn of(verdict: &Verdict, rows: &[Way], by_lens: &[Way]) -> Self {
        if verdict.upright {
            return Self::default();
        }
        // Where only the picture beside the subject leans, a way must mend that.
        let wanted = |way: &&(bool, usize, &Way)| {
            let picture = way.2.verdict.as_ref().is_some_and(|of| of.picture_upright == Some(true));
            // What leaves some of the lean in is a matter of taste.
            let in_part = matches!(way.2.remedy, Remedy::Straighten { tilt_left } if tilt_left > 0.0);
            way.2.outcome == WayOutcome::Upright && !in_part && (!verdict.subject_is_fine() || picture)
        };
        let all: Vec<(bool, usize, &Way)> = rows
            .iter()
            .enumerate()
            .map(|(index, way)| (false, index, way))
            .chain(by_lens.iter().enumerate().map(|(index, way)| (true, index, way)))
            .collect();
        let mends: Vec<&(bool, usize, &Way)> = all.iter().filter(wanted).collect();
        // What a lens gives from here is mostly a row of its own.
        let stays = |way: &Way| way.remarks.contains(&Remark::WhereYouStand);
        let moves: Vec<_> = mends.iter().copied().filter(|(.., way)| !stays(way)).collect();
        let mends = if moves.is_empty() { mends } else { moves };
        let megapixels = |way: &Way| way.figures.and_then(|figures| figures.megapixels()).unwrap_or(0.0);
        let cheapest = mends.iter().copied().reduce(|a, b| {
            let more_m = b.2.cost_m() - a.2.cost_m();
            let better = if more_m.abs() <= HARDLY_MORE_M { megapixels(b.2) > megapixels(a.2) } else { more_m < 0.0 };
            if better { b } else { a }
        });
        let best: Vec<_> = mends.iter().copied().filter(|(.., way)| way.is_own() && !way.is_afterwards()).collect();
        // Of those that are hardly worse the one that takes least.
        let most = best.iter().map(|(.., way)| way.worth()).fold(0.0, f64::max);
        let best = best
            .into_iter()
            .filter(|(.., way)| way.worth() >= HARDLY_WORSE * most)
            .reduce(|a, b| if b.2.cost_m() < a.2.cost_m() { b } else { a });
        let mend = |&(by_lens, index, _): &(bool, usize, &Way)| Mend { by_lens, index };
        let best = best.filter(|best| cheapest.is_none_or(|cheapest| (cheapest.0, cheapest.1) != (best.0, best.1)));
        Self { cheapest: cheapest.map(mend), best: best.map(mend) }
    }
}

impl Ways {
    /// The way that is advised.
    pub fn advised(&self, mend: Mend) -> &Way {
        if mend.by_lens { &self.by_lens[mend.index] } else { &self.rows[mend.index] }
    }

    /// What to do, and what comes of it, without a full stop: "tilt down to 14.2°, straighten and crop: 9.2 MP".
    pub fn mend_words(&self, mend: Mend, units: Units) -> String {
        self.advised(mend).mend_words(self.verdict.subject_is_fine(), units)
    }

    /// What would let the picture of the stance be straightened, where it cannot be.
    pub fn straightener_words(&self) -> Option<String> {
        let helps = |remark: &&Remark| matches!(remark, Remark::WouldStraighten(_) | Remark::NothingStraightens);
        let words = |remark: &Remark| remark.words(&|m, _| format!("{m} m"));
        let told = |way: &Way| way.remarks.iter().filter(helps).map(words).collect::<Vec<_>>();
        self.rows.iter().map(told).find(|told| !told.is_empty()).map(|told| told.join("; "))
    }

    /// What is wrong and both mends, a sentence each: "Converges 2.9°: not upright. Cheapest: …. Best: …."
    pub fn sentence(&self, units: Units) -> String {
        let mut text = format!("{}.", self.verdict.headline(units));
        let mut mend = |word: &str, mend: Option<Mend>| {
            if let Some(mend) = mend {
                text.push_str(&format!(" {word}: {}.", self.mend_words(mend, units)));
            }
        };
        match (self.advice.cheapest, self.advice.best) {
            (Some(only), None) => mend("Do this", Some(only)),
            (cheapest, best) => {
                mend("Cheapest", cheapest);
                mend("Best", best);
            }
        }
        if self.advice == Advice::default() && !self.verdict.upright {
            text.push_str(" No way from here makes it upright.");
        }
        text
    }
}
