//! What would have to be changed so that one place serves?

use crate::pose::WorldPoint;
use crate::site::{PlanPoint, Support};

use super::evaluate::{Evaluator, Scratch};
use super::openings::{
    AIMS_FROM, FRONT_FROM, Gathered, HEIGHTS, LENSES, Needs, Offered, PERMISSION, Steps, change_of, hundredths_off,
    light_steps,
};
use super::place_result::{CandidateId, Requirement};
use super::places::Plot;
use super::visibility::VisibilityTest;

impl Evaluator<'_> {
    /// Looks at a place with all that is offered; this evaluator's requirements are those with it.
    pub(super) fn open(
        &self,
        (index, at): (usize, PlanPoint),
        only: Option<usize>,
        plot: &Plot<'_>,
        visibility: &dyn VisibilityTest,
        scratch: &mut Scratch,
        offered: &Offered,
    ) {
        if self.distance(at).is_some() {
            return;
        }
        let mut stands = Vec::new();
        plot.stands(at, &mut stands);
        scratch.named = None;
        // What front and light need is gathered for the place; the candidates are judged without it.
        let to_front_deg = self.to_front_deg(at);
        let light_minutes = self.light_minutes(at);
        let mut needs = Vec::new();
        for (number, stand) in stands.iter().enumerate() {
            if only.is_some_and(|deck| stand.support != Support::Deck(deck)) || self.may_stand(stand).is_err() {
                continue;
            }
            let asks = Gathered::default().with_if(stand.access > offered.access, PERMISSION);
            let asks = asks.and_then(|asks| match self.front_deg.filter(|_| self.misses_front(to_front_deg)) {
                Some((from_deg, _)) if to_front_deg < from_deg => {
                    asks.with(FRONT_FROM, 180 - (to_front_deg + 1e-9).floor().clamp(0.0, 179.0) as Steps)
                }
                Some(_) => {
                    let degrees = (to_front_deg - 1e-9).ceil().clamp(1.0, 180.0);
                    asks.with(change_of(Requirement::Front), degrees as Steps)
                }
                None => Some(asks),
            });
            let asks = asks.and_then(|asks| {
                let lacking = self.criteria.lacks_light(light_minutes);
                if lacking { asks.with(change_of(Requirement::Light), light_steps(light_minutes)) } else { Some(asks) }
            });
            let heights_m = self.criteria.heights_m.iter().copied();
            let clear = self.look_from(at, stand, heights_m, plot, visibility, scratch);
            for (judged, (height, eye)) in clear.into_iter().enumerate() {
                scratch.judge(judged);
                let Some(share) = scratch.share() else { continue };
                let unseen = !self.sees_enough(Some(share));
                let asks = asks.and_then(|asks| asks.with_if(height >= offered.heights, HEIGHTS + height as u8));
                let seen = |asks: Gathered| {
                    if unseen { asks.with(change_of(Requirement::Seen), hundredths_off(share)) } else { Some(asks) }
                };
                let Some(asks) = asks.and_then(seen) else { continue };
                self.kernel.look(&eye, &mut scratch.subject_view);
                for &(lens, aim) in &offered.tried {
                    let asks = asks
                        .with_if(lens >= offered.lenses, LENSES + lens as u8)
                        .and_then(|asks| asks.with_if(aim >= offered.aims, AIMS_FROM + aim as u8));
                    let order = CandidateId::new(index, number, height, lens, aim);
                    needs.extend(asks.and_then(|asks| self.needs(asks, order, &eye, share, scratch)));
                }
            }
        }
        if !needs.is_empty() {
            scratch.openings.take(needs, &offered.changes);
        }
    }

    /// What else a candidate needs that is seen well enough; `None` where that is too much.
    fn needs(
        &self,
        asks: Gathered,
        order: CandidateId,
        eye: &WorldPoint,
        share: f64,
        scratch: &mut Scratch,
    ) -> Option<Needs> {
        let criteria = self.criteria;
        let (mounted, aim) = (&self.mounted[order.lens()], criteria.aims[order.aim()]);
        let candidate = self.kernel.candidate(&mut scratch.subject_view, mounted, aim).ok()?;
        let failed = self.failed(&candidate, eye, Some(share));
        let fails = |requirement: Requirement| failed & requirement.bit() != 0;
        let mut asks = asks;
        for requirement in [Requirement::Whole, Requirement::Inside, Requirement::Outside] {
            asks = asks.with_if(fails(requirement), change_of(requirement))?;
        }
        if fails(Requirement::Filled) {
            asks = asks.with(change_of(Requirement::Filled), hundredths_off(candidate.fullness))?;
        }
        if fails(Requirement::Lean) {
            let tenths = (10.0 * candidate.largest_lean?.degrees() - 1e-9).ceil();
            asks = asks.with(change_of(Requirement::Lean), tenths.clamp(1.0, 900.0) as Steps)?;
        }
        if let Some(wanted) = criteria.detail_px_per_m {
            let px_per_m = self.detail(&candidate, eye, scratch)?;
            if px_per_m < wanted {
                let pixels = px_per_m.floor().clamp(0.0, f64::from(Steps::MAX - 1)) as Steps;
                asks = asks.with(change_of(Requirement::Detail), Steps::MAX - pixels)?;
            }
        }
        (asks.count > 0).then(|| asks.sorted())
    }
}
