//! Which standpoint is recommended, which is the alternative, and in which order do the others follow?

use crate::cautions::CautionKind;
use crate::handover::told::is_open;
use crate::site::Access;
use crate::survey::Measured;

/// Standpoints nearer than this are the same place.
const SAME_PLACE_M: f64 = 3.0;
/// Less of the subject than this is crossed by something, such as a rail (common practice, no source).
const CLEAR_SHARE: f64 = 0.98;
/// A picture taken up at its top more steeply than this shows no roof and a small top (common practice, no source).
pub(super) const STEEP_DEG: f64 = 40.0;

/// Who says what is recommended.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SheetOrder {
    /// The best by what was measured stands first, the best from another place second, the others in the order given.
    #[default]
    BestFirst,
    /// The order given: the first is recommended, the second is the alternative.
    AsGiven,
}

/// Whether something stands in front of a subject that counts as seen (common practice, no source).
pub(super) fn is_crossed(measured: &Measured) -> bool {
    measured.account.visible_share.is_some_and(|share| share < CLEAR_SHARE)
}

/// By what the better of two is told, what matters most first (common practice, no source): it can be delivered straight and
/// whole; more of it is seen, by tenths up to what counts as seen; nobody has closed it; one need not look up steeply; it is straight as taken; nothing must be asked
/// for; nothing crosses it; it takes no special gear and no drop; its lowest detail is high.
fn merit(measured: &Measured) -> (bool, u8, [bool; 6], f64) {
    let account = &measured.account;
    let kept = account.final_picture.as_ref().and_then(|picture| picture.as_ref().ok());
    let closed = measured.standing.footing.as_ref().is_some_and(|footing| footing.access == Access::Closed);
    let steep = account.top_elevation.is_some_and(|angle| angle.degrees() > STEEP_DEG);
    let risky = |kind: CautionKind| matches!(kind, CautionKind::Flying | CautionKind::Ladder | CautionKind::Fall);
    let camera = &measured.standing.camera;
    let geared =
        camera.rise_mm != 0.0 || camera.shift_mm != 0.0 || measured.cautions.iter().any(|caution| risky(caution.kind));
    let lowest = kept.and_then(|kept| kept.lowest_detail).map_or(0.0, |detail| detail.px_per_m);
    let seen = match (measured.verdict.seen, account.visible_share) {
        (Some(false), Some(share)) => (10.0 * share) as u8,
        _ => 10,
    };
    (
        kept.is_some(),
        seen,
        [!closed, !steep, measured.verdict.subject_is_fine(), is_open(measured), !is_crossed(measured), !geared],
        lowest,
    )
}

fn is_better(one: &Measured, other: &Measured) -> bool {
    let (one, other) = (merit(one), merit(other));
    (one.0, one.1, one.2).cmp(&(other.0, other.1, other.2)).then(one.3.total_cmp(&other.3)).is_gt()
}

fn best<'a>(stances: impl Iterator<Item = (usize, &'a Measured)>) -> Option<usize> {
    stances.reduce(|best, next| if is_better(next.1, best.1) { next } else { best }).map(|(index, _)| index)
}

/// The order in which stances stand on a sheet: the recommended one first, the alternative second.
pub(super) fn ranked(stances: &[&Measured], order: SheetOrder) -> Vec<usize> {
    let given: Vec<usize> = (0..stances.len()).collect();
    let all = || stances.iter().copied().enumerate();
    let (SheetOrder::BestFirst, Some(first)) = (order, best(all())) else { return given };
    let away = |(_, measured): &(usize, &Measured)| {
        (measured.standing.pose.eye - stances[first].standing.pose.eye).norm() > SAME_PLACE_M
    };
    let second = best(all().filter(away)).or_else(|| best(all().filter(|(index, _)| *index != first)));
    let leading = [Some(first), second];
    let rest = given.into_iter().filter(|index| !leading.contains(&Some(*index)));
    leading.into_iter().flatten().chain(rest).collect()
}
