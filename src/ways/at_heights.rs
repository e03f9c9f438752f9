//! What does the same standpoint give from other heights?

use crate::appraise::appraise;
use crate::site::{Aim, Stance};
use crate::survey::{MeasureSettings, Survey};

use super::higher;
use super::origin::Origin;
use super::way::{Holding, WaysError};
use super::{Options, Remedy, Way};

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

/// Four stances over one standpoint: standing, on a ladder, on the nearest deck that can be reached or a vehicle's roof, and as
/// high as a drone must fly to hold the subject with a level camera, or before the subject's middle where no height does.
///
/// # Errors
/// As [`super::ways`].
pub fn four_heights(
    survey: &Survey,
    stance: &Stance,
    settings: &MeasureSettings,
    options: &Options,
) -> Result<Vec<Stance>, WaysError> {
    let settings = MeasureSettings { lean_change: None, ..*settings };
    let origin = Origin::of(survey, stance, &settings, options)?;
    let free = Stance { focal_mm: None, focus_m: None, rise_mm: None, aim: Aim::Fill, note: None, ..stance.clone() };
    let over = |name: &str, height_m: f64, aim: Aim| {
        let there = Stance { name: name.into(), aim, height_m, eye_height_m: None, ..free.clone() };
        // A camera that hangs stands on the ground below it.
        if origin.measured.standing.footing.is_some() { there } else { Stance { on: None, ..there } }
    };
    let reach = origin.reach();
    let deck = higher::decks(&origin, reach.as_ref()).into_iter().find_map(|way| match way {
        Way { remedy: Remedy::Deck { name }, stance: Some(there), .. } => {
            Some(Stance { name: crate::wording::capital(&name), ..there })
        }
        _ => None,
    });
    let level_m = higher::heights(&origin).into_iter().find_map(|way| match way {
        Way { remedy: Remedy::LevelHeight, stance: Some(there), .. } => Some(there.height_m),
        _ => None,
    });
    let feet_m = match &origin.measured.standing.footing {
        Some(footing) => footing.height_m,
        None => survey.model.surface_m(stance.at),
    };
    let middle_m = 0.5 * (origin.subject.base_m + origin.subject.highest_m) - feet_m;
    let (drone_m, drone_aim) =
        level_m.map_or((middle_m.max(LOWEST_DRONE_M), Aim::Fill), |level_m| (level_m, Aim::Level));
    Ok(vec![
        over("Ground, standing", Holding::Standing.height_m(), Aim::Fill),
        over("Short ladder", Holding::ShortLadder.height_m(), Aim::Fill),
        deck.unwrap_or_else(|| over("Vehicle roof", Holding::VehicleRoof.height_m(), Aim::Fill)),
        over("Drone", drone_m, drone_aim),
    ])
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
