//! What does a higher camera give: from a deck, held up, or as high as it takes?

use crate::appraise::Account;
use crate::outline::OutlineError;
use crate::site::{Access, Aim, DeckTop, PlanPoint, Shape, Stance, Support};
use crate::stance::Standing;
use crate::walking::{Reach, Reached, SPACING_M, Walk};

use super::on_foot::{PlaceScore, without_sight};
use super::origin::{Origin, WHOLE};
use super::way::SAME_HEIGHT_M;
use super::{Effort, Equipment, Holding, Remark, Remedy, Way};

/// So many of the nearest decks are looked at.
const DECKS: usize = 6;
/// Places that are tried along each side of a deck.
const ALONG: usize = 5;
/// How far from a deck's edge one stands.
const INSET_M: f64 = 0.4;
/// The nearest that a camera is held over the feet.
const LOWEST_M: f64 = 0.3;
/// Heights farther below the subject's base than this are not tried.
const FAR_BELOW_M: f64 = 50.0;
/// Heights between the stance's own and the subject's end that are tried before the least is found by halving, and to what.
const HEIGHT_STEPS: usize = 40;
const HEIGHT_TO_M: f64 = 1e-4;
/// Flying cameras are commonly kept below this height over the ground (14 CFR 107.51(b): 400 ft; EU UAS.OPEN.010: 120 m).
const FLYING_M: f64 = 120.0;

/// The nearest decks and stages, with the lens that is on.
pub(super) fn decks(origin: &Origin<'_>, reach: Option<&Reach<'_>>) -> Vec<Way> {
    let model = &origin.survey.model;
    let standing_on = match origin.measured.standing.footing.as_ref().map(|footing| footing.support) {
        Some(Support::Deck(deck)) => Some(model.decks[deck].block),
        _ => None,
    };
    let mut blocks: Vec<(f64, usize)> = Vec::new();
    for deck in &model.decks {
        let block = &model.site.blocks[deck.block];
        let stairs = matches!(block.shape, Shape::Steps { .. });
        if stairs || block.subject || standing_on == Some(deck.block) {
            continue;
        }
        let away_m = deck.outline.iter().map(|c| (c.0 - origin.stance.at.0).hypot(c.1 - origin.stance.at.1));
        let away_m = away_m.fold(f64::INFINITY, f64::min);
        match blocks.iter_mut().find(|(_, known)| *known == deck.block) {
            Some((known_m, _)) => *known_m = known_m.min(away_m),
            None => blocks.push((away_m, deck.block)),
        }
    }
    blocks.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    blocks
        .into_iter()
        .filter(|(away_m, _)| *away_m <= origin.farthest_walk_m)
        .take(DECKS)
        .map(|(_, block)| deck(origin, reach, block))
        .collect()
}

fn deck(origin: &Origin<'_>, reach: Option<&Reach<'_>>, block: usize) -> Way {
    let model = &origin.survey.model;
    let name = model.site.blocks[block].name.clone();
    let remedy = Remedy::Deck { name: name.clone() };
    let not_here = |remark| Way::not_here(remedy.clone(), Vec::new(), vec![remark]);
    let tops: Vec<&DeckTop> = model.decks.iter().filter(|deck| deck.block == block).collect();
    if tops.iter().all(|deck| deck.access == Access::Closed) {
        return not_here(Remark::Closed { place: name });
    }
    let Some(Walk { length_m: walk_m, ask, .. }) = reach.and_then(|reach| way_to(reach, &tops)) else {
        return not_here(Remark::NoWay { within_m: origin.farthest_walk_m });
    };
    let threshold = origin.settings.measures.upright.radians();
    let mut best: Option<(bool, PlaceScore, Stance)> = None;
    for at in tops.iter().flat_map(|deck| places_on(deck)) {
        let stance = origin.elsewhere(at, Some(name.clone()));
        let Some((standing, account)) = without_sight(origin, &stance) else { continue };
        let whole = standing.fullness.is_some_and(|fullness| fullness <= WHOLE);
        let lean = account.largest_lean.map_or(f64::INFINITY, |lean| lean.radians());
        let detail = account.lowest_detail.map_or(0.0, |(detail, _)| detail.px_per_m);
        let worth = PlaceScore::of(lean, detail, threshold);
        let better = best.as_ref().is_none_or(
            |(known_whole, known, _)| {
                if whole == *known_whole { worth.beats(known) } else { whole }
            },
        );
        if better {
            best = Some((whole, worth, stance));
        }
    }
    let Some((_, _, stance)) = best else {
        let at = tops.first().map_or(origin.stance.at, |deck| middle(&deck.outline));
        return match origin.measure(&origin.elsewhere(at, Some(name))) {
            Err(error) => not_here(Remark::Refused(error.to_string())),
            Ok(_) => not_here(Remark::NoWay { within_m: origin.farthest_walk_m }),
        };
    };
    let effort = Effort { walk_m: Some(walk_m), ask, ..Effort::default() };
    let mut way = origin.row(remedy, tilted_where_it_serves(origin, stance), effort, Vec::new());
    if let (Some(there_m), Some(here_m)) =
        (way.figures.and_then(|figures| figures.distance_m), origin.figures.distance_m)
    {
        if there_m < 0.9 * here_m {
            way.remarks.insert(0, Remark::Nearer { by_m: here_m - there_m, share: 1.0 - there_m / here_m });
        } else if there_m > 1.1 * here_m {
            way.remarks.insert(0, Remark::Farther { by_m: there_m - here_m });
        }
    }
    let caution = tops.iter().find_map(|deck| deck.caution.clone());
    way.remarks.extend(caution.map(Remark::Beware));
    way
}

fn middle(outline: &[PlanPoint]) -> PlanPoint {
    let count = outline.len().max(1) as f64;
    let sum = outline.iter().fold((0.0, 0.0), |sum, corner| (sum.0 + corner.0, sum.1 + corner.1));
    (sum.0 / count, sum.1 / count)
}

/// Places on a deck, a little inside its edges: on the lines from its middle to points of its outline, so that a turned
/// or mirrored deck has turned or mirrored places.
fn places_on(deck: &DeckTop) -> Vec<PlanPoint> {
    let centre = middle(&deck.outline);
    let mut places = vec![centre];
    for (index, a) in deck.outline.iter().enumerate() {
        let b = deck.outline[(index + 1) % deck.outline.len()];
        for step in 0..ALONG {
            let share = (step as f64 + 0.5) / ALONG as f64;
            let rim = (a.0 + (b.0 - a.0) * share, a.1 + (b.1 - a.1) * share);
            let (east, north) = (rim.0 - centre.0, rim.1 - centre.1);
            let length = east.hypot(north);
            for out in [1.0 - INSET_M / length.max(1e-9), 0.5] {
                if out > 0.0 {
                    places.push((centre.0 + east * out, centre.1 + north * out));
                }
            }
        }
    }
    places
}

/// How far it is to walk to a deck or to its base, and whom to ask on the way.
fn way_to(reach: &Reach<'_>, tops: &[&DeckTop]) -> Option<Walk> {
    let beside = |place: &Reached, deck: &DeckTop| {
        let on_it = place.footing.height_m == deck.height_m;
        on_it || distance_m(&deck.outline, place.at) < 1.5 * SPACING_M
    };
    let place = reach.places().find(|place| tops.iter().any(|deck| beside(place, deck)))?;
    Some(reach.way_to(place))
}

/// How far a plan position lies outside an outline; 0 inside.
fn distance_m(outline: &[PlanPoint], (x, y): PlanPoint) -> f64 {
    if crate::site::outline_holds(outline, (x, y)) {
        return 0.0;
    }
    let mut least_m = f64::INFINITY;
    for (index, a) in outline.iter().enumerate() {
        let b = outline[(index + 1) % outline.len()];
        let (along, from) = ((b.0 - a.0, b.1 - a.1), (x - a.0, y - a.1));
        let squared = (along.0 * along.0 + along.1 * along.1).max(1e-12);
        let share = ((from.0 * along.0 + from.1 * along.1) / squared).clamp(0.0, 1.0);
        least_m = least_m.min((from.0 - share * along.0).hypot(from.1 - share * along.1));
    }
    least_m
}

/// The camera held otherwise over the same feet.
pub(super) fn held(origin: &Origin<'_>) -> Vec<Way> {
    let Some(height_m) = origin.measured.standing.height_m() else { return Vec::new() };
    Holding::ALL
        .into_iter()
        .filter(|held| (held.height_m() - height_m).abs() > SAME_HEIGHT_M)
        .map(|held| {
            let there = origin.elsewhere(origin.stance.at, origin.stance.on.clone());
            let stance = tilted_where_it_serves(origin, Stance { height_m: held.height_m(), ..there });
            let kit = vec![Equipment::Holding(held)];
            let remarks = held.caution().map(|caution| Remark::Beware(caution.into())).into_iter().collect();
            origin.row(Remedy::Holding(held), stance, Effort { kit, ..Effort::default() }, remarks)
        })
        .collect()
}

/// The stance filling its frame; pitched least instead where it is upright so and not otherwise.
fn tilted_where_it_serves(origin: &Origin<'_>, stance: Stance) -> Stance {
    let upright = |stance: &Stance| {
        without_sight(origin, stance).is_some_and(|(standing, account)| {
            standing.fullness.is_some_and(|fullness| fullness <= WHOLE) && account.reads_upright == Some(true)
        })
    };
    let tilted = Stance { aim: Aim::LeastTilt, ..stance.clone() };
    if !upright(&stance) && upright(&tilted) { tilted } else { stance }
}

/// The least height from which a camera that is pitched least is upright, and from which a level one holds the subject.
///
/// Both are looked for from the stance's own height towards the subject's top, or its base where the camera is above it: what is
/// given is the first stretch of heights that serves.
pub(super) fn heights(origin: &Origin<'_>) -> Vec<Way> {
    if let Err(error @ OutlineError::Surrounds) = origin.subject.outline(&origin.measured.standing.pose.eye) {
        return vec![Way::not_here(Remedy::LevelHeight, Vec::new(), vec![Remark::Refused(error.to_string())])];
    }
    let holds = |standing: &Standing| standing.fullness.is_some_and(|fullness| fullness <= WHOLE);
    let upright = nearest_height(origin, Aim::LeastTilt, |standing, account| {
        holds(standing) && account.reads_upright == Some(true)
    });
    let level = nearest_height(origin, Aim::Level, |standing, _| holds(standing));
    let mut ways = Vec::new();
    if let Some(eye_m) = upright
        && level.is_none_or(|level_m| (level_m - eye_m).abs() > SAME_HEIGHT_M)
    {
        ways.push(raised(origin, Remedy::UprightHeight, eye_m, Aim::LeastTilt));
    }
    ways.extend(level.map(|eye_m| raised(origin, Remedy::LevelHeight, eye_m, Aim::Level)));
    ways
}

/// The eye's height nearest to the stance's own at which an aim serves; `None` where it serves at that height already, or at none
/// between it and the subject's end.
fn nearest_height(origin: &Origin<'_>, aim: Aim, serves: impl Fn(&Standing, &Account) -> bool) -> Option<f64> {
    let (x, y) = origin.stance.at;
    let own_m = origin.measured.standing.pose.eye.z;
    let lowest_m = origin.survey.model.surface_m((x, y)).max(origin.subject.base_m - FAR_BELOW_M) + LOWEST_M;
    let end_m = if own_m < origin.subject.highest_m { origin.subject.highest_m } else { lowest_m };
    let serves_at = |eye_m: f64| {
        let stance = Stance { aim, eye_height_m: Some(eye_m), ..origin.elsewhere((x, y), None) };
        without_sight(origin, &stance).is_some_and(|(standing, account)| serves(&standing, &account))
    };
    if serves_at(own_m) {
        return None;
    }
    let height_m = |step: usize| own_m + (end_m - own_m) * step as f64 / HEIGHT_STEPS as f64;
    let first = (1..=HEIGHT_STEPS).find(|&step| serves_at(height_m(step)))?;
    let (mut short_m, mut good_m) = (height_m(first - 1), height_m(first));
    while (good_m - short_m).abs() > HEIGHT_TO_M {
        let middle_m = 0.5 * (short_m + good_m);
        if serves_at(middle_m) { good_m = middle_m } else { short_m = middle_m }
    }
    // To the next centimetre on the safe side, unless that is too far again.
    let sense = (end_m - own_m).signum();
    let safe_m = (good_m * sense * 100.0).ceil() / 100.0 * sense;
    Some(if serves_at(safe_m) { safe_m } else { good_m })
}

/// The camera raised or lowered to an eye's height over the same place.
fn raised(origin: &Origin<'_>, remedy: Remedy, eye_m: f64, aim: Aim) -> Way {
    let feet_m = origin.measured.standing.footing.as_ref().map(|footing| footing.height_m);
    let there = Stance { aim, ..origin.elsewhere(origin.stance.at, origin.stance.on.clone()) };
    let (stance, above_m) = match feet_m {
        Some(feet_m) => (Stance { height_m: eye_m - feet_m, ..there }, eye_m - feet_m),
        None => {
            (Stance { eye_height_m: Some(eye_m), ..there }, eye_m - origin.survey.model.surface_m(origin.stance.at))
        }
    };
    let held = Holding::reaching(above_m);
    let kit = held.map_or(Equipment::Platform, Equipment::Holding);
    let mut remarks = vec![Remark::AboveFeet { height_m: above_m }];
    remarks.extend(held.and_then(Holding::caution).map(|caution| Remark::Beware(caution.into())));
    if kit == Equipment::Platform {
        remarks.push(Remark::DroneRules);
    }
    if above_m > FLYING_M {
        remarks.push(Remark::HighForDrone);
    }
    origin.row(remedy, stance, Effort { kit: vec![kit], ..Effort::default() }, remarks)
}
