//! What does the same standpoint give from other heights?

use crate::appraise::appraise;
use crate::site::{Access, Aim, Stance};
use crate::stance::StanceError;
use crate::survey::{MeasureSettings, Survey};

use super::way::{Holding, WaysError};
use super::{Remedy, Ways};

/// The lowest height of a curve over the feet.
const LOWEST_M: f64 = 0.3;
/// A curve reaches so much higher than the highest stance of it, and at least to this height.
const HIGHER: f64 = 1.15;
const LEAST_TOP_M: f64 = 8.0;
/// Points of a curve.
const POINTS: usize = 41;
/// The lowest that a drone is flown for a picture (common practice, no source).
const LOWEST_DRONE_M: f64 = 5.0;

/// What a camera at one height over the feet of a standpoint gives, with nothing looked at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeightPoint {
    /// Over what one stands on.
    pub height_m: f64,
    /// The largest lean of the subject, in degrees; absent where it cannot be aimed so from there.
    pub lean_deg: Option<f64>,
    /// The lowest detail of the subject in the final picture.
    pub detail_px_per_m: Option<f64>,
}

/// Four stances over one standpoint: standing, on a ladder, on the nearest deck that may be stood on or a vehicle's roof, and as
/// high as a drone must fly to hold the subject with a level camera, or before the subject's middle where no height does.
///
/// # Errors
/// The stance cannot be taken up.
pub fn four_heights(survey: &Survey, stance: &Stance, ways: &Ways) -> Result<Vec<Stance>, StanceError> {
    let standing = survey.stand(stance)?;
    let free = Stance { focal_mm: None, focus_m: None, rise_mm: None, aim: Aim::Fill, note: None, ..stance.clone() };
    let over = |name: &str, height_m: f64, aim: Aim| {
        let there = Stance { name: name.into(), aim, height_m, eye_height_m: None, ..free.clone() };
        // A camera that hangs stands on the ground below it.
        if standing.footing.is_some() { there } else { Stance { on: None, ..there } }
    };
    let deck = ways.rows.iter().find_map(|way| match (&way.remedy, &way.stance) {
        (Remedy::Deck { name }, Some(there)) if may_stand(survey, name) => {
            Some(Stance { name: crate::wording::capital(name), ..there.clone() })
        }
        _ => None,
    });
    let drone_m = ways.rows.iter().find_map(|way| match (&way.remedy, &way.stance) {
        (Remedy::LevelHeight, Some(there)) => Some(there.height_m),
        _ => None,
    });
    let level = drone_m.is_some();
    let feet_m =
        standing.footing.as_ref().map_or_else(|| survey.model.surface_m(stance.at), |footing| footing.height_m);
    let middle_m =
        survey.subject.as_ref().map_or(LOWEST_DRONE_M, |subject| 0.5 * (subject.base_m + subject.highest_m) - feet_m);
    Ok(vec![
        over("Ground, standing", Holding::Standing.height_m(), Aim::Fill),
        over("Short ladder", Holding::ShortLadder.height_m(), Aim::Fill),
        deck.unwrap_or_else(|| over("Vehicle roof", Holding::VehicleRoof.height_m(), Aim::Fill)),
        over("Drone", drone_m.unwrap_or(middle_m.max(LOWEST_DRONE_M)), if level { Aim::Level } else { Aim::Fill }),
    ])
}

fn may_stand(survey: &Survey, block: &str) -> bool {
    let model = &survey.model;
    model.decks.iter().any(|deck| model.site.blocks[deck.block].name == block && deck.access != Access::Closed)
}

/// The lean and the detail over the camera's height above one standpoint, aimed in one way: from near the feet to well above the
/// highest of the given heights.
///
/// # Errors
/// The stance cannot be taken up.
pub fn over_height(
    survey: &Survey,
    stance: &Stance,
    aim: Aim,
    heights_m: &[f64],
    settings: &MeasureSettings,
) -> Result<Vec<HeightPoint>, WaysError> {
    let subject = survey.subject.as_ref().map_err(|error| *error)?;
    survey.stand(stance)?;
    let top_m = HIGHER * heights_m.iter().copied().fold(LEAST_TOP_M / HIGHER, f64::max);
    let free = Stance { focal_mm: None, focus_m: None, rise_mm: None, eye_height_m: None, aim, ..stance.clone() };
    Ok((0..POINTS)
        .map(|point| {
            let height_m = LOWEST_M + (top_m - LOWEST_M) * point as f64 / (POINTS - 1) as f64;
            let account = survey
                .stand(&Stance { height_m, ..free.clone() })
                .ok()
                .map(|standing| appraise(&survey.model, Ok(subject), None, &standing, &settings.measures));
            let lean = account.as_ref().and_then(|account| account.largest_lean);
            let kept = account.as_ref().and_then(|account| account.final_picture).and_then(Result::ok);
            HeightPoint {
                height_m,
                lean_deg: lean.map(|lean| lean.degrees()),
                detail_px_per_m: kept.and_then(|kept| kept.lowest_detail).map(|detail| detail.px_per_m),
            }
        })
        .collect())
}
