//! What would straighten the picture from here, and what would each way cost?
//!
//! Every way is brought to one currency: the verdict on its picture; the detail kept at the least detailed visible point and the
//! pixels of the picture that is handed over; how much of the subject is seen and from where its top is seen; and to one effort:
//! metres to walk and to climb, what kit, whose permission. Where a way is a stance, its figures are those of measuring that
//! stance.

mod advice;
mod at_heights;
mod figures;
mod from_here;
mod higher;
mod on_foot;
mod origin;
mod report;
mod stitch;
mod way;
mod words;

use crate::site::Stance;
use crate::survey::{MeasureSettings, Survey};

use self::origin::Origin;

pub use at_heights::{HeightPoint, four_heights, over_height};
pub use figures::Figures;
pub use report::{FiguresRecord, WayRecord, WaysRecord};
pub use way::{
    Advice, Barrier, Effort, Equipment, FARTHEST_WALK_M, Holding, Mend, Options, Remark, Remedy, Straightener, Way,
    WayOutcome, Ways, WaysError,
};
pub use words::Lengths;

/// Every way to straighten the picture from a stance.
///
/// # Errors
/// The stance cannot be taken up, there is no subject, or the options are impossible.
pub fn ways(
    survey: &Survey,
    stance: &Stance,
    settings: &MeasureSettings,
    options: &Options,
) -> Result<Ways, WaysError> {
    if !(2.0..=1000.0).contains(&options.farthest_walk_m) {
        return Err(WaysError::Walk(options.farthest_walk_m));
    }
    let settings = MeasureSettings { lean_change: None, ..*settings };
    let origin = Origin::of(survey, stance, &settings, options)?;
    let reach = origin.reach();
    let mut rows = Vec::new();
    rows.extend(from_here::tilted(&origin));
    rows.extend(on_foot::back_off(&origin));
    rows.extend(higher::decks(&origin, reach.as_ref()));
    rows.extend(higher::held(&origin));
    rows.extend(higher::heights(&origin));
    rows.extend(from_here::level_crop(&origin));
    rows.extend(from_here::rises(&origin));
    rows.extend(stitch::shifted(&origin));
    rows.extend(stitch::pitched(&origin));
    rows.extend(from_here::straightened(&origin));
    let mut by_lens: Vec<Way> = reach.iter().flat_map(|reach| on_foot::best_places(&origin, reach)).collect();
    let serves = |way: &Way| way.outcome == WayOutcome::Upright && !way.is_afterwards() && way.is_own();
    if !rows.iter().chain(&by_lens).any(serves) {
        rows.extend(on_foot::together(&origin));
    }
    sort(&mut rows);
    sort(&mut by_lens);
    let verdict = origin.measured.verdict.clone();
    Ok(Ways {
        advice: Advice::of(&verdict, &rows, &by_lens),
        verdict,
        stance_in_frame: origin.measured.account.in_frame_share,
        stance_figures: origin.figures,
        rows,
        by_lens,
        farthest_walk_m: options.farthest_walk_m,
    })
}

/// In the order of a person who must do them: those that make it upright by what they take, the others by what still leans.
fn sort(rows: &mut [Way]) {
    let lean = |way: &Way| way.figures.and_then(|figures| figures.largest_lean).map_or(f64::INFINITY, |l| l.radians());
    let detail = |way: &Way| way.figures.and_then(|figures| figures.detail).map_or(0.0, |detail| detail.px_per_m);
    rows.sort_by(|a, b| {
        a.outcome.cmp(&b.outcome).then_with(|| match a.outcome {
            WayOutcome::Upright | WayOutcome::Cut | WayOutcome::Hidden => {
                a.cost_m().total_cmp(&b.cost_m()).then(detail(b).total_cmp(&detail(a)))
            }
            WayOutcome::NotHere => std::cmp::Ordering::Equal,
            WayOutcome::Better | WayOutcome::Same | WayOutcome::Worse => lean(a).total_cmp(&lean(b)),
        })
    });
}
