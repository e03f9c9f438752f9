//! Is what is called enough, or needed, the least that does?
//!
//! Each such figure is found again by halving, on nothing but stances that are measured, and given a centimetre or a tenth of a
//! millimetre less it fails.

use plumbsight::optics::{Margins, Orientation};
use plumbsight::scenes::SCENES;
use plumbsight::site::{Aim, Stance};
use plumbsight::survey::{MeasureSettings, Measured, Survey};
use plumbsight::ways::{Options, Remark, Remedy, Way, WayOutcome, Ways, ways};

use crate::support::random::Random;
use crate::support::surveyed::{stance, surveyed, surveyed_blocks};

fn saltings() -> Survey {
    surveyed(SCENES.iter().find(|scene| scene.name == "saltings").expect("a scene").text, "saltings")
}

fn yard() -> Stance {
    Stance { orientation: Some(Orientation::Portrait), ..stance((0.0, -40.0), 1.6, "24 mm", Aim::Fill) }
}

fn found(survey: &Survey, from: &Stance, bag: &[&str]) -> Ways {
    let options = Options { bag: bag.iter().map(|name| (*name).to_owned()).collect(), ..Options::default() };
    ways(survey, from, &MeasureSettings::default(), &options).unwrap_or_else(|error| panic!("{error}"))
}

fn the(ways: &Ways, wanted: impl Fn(&Remedy) -> bool) -> Option<&Way> {
    ways.rows.iter().find(|way| wanted(&way.remedy))
}

fn measured(survey: &Survey, stance: &Stance) -> Option<Measured> {
    survey.measure(stance, &MeasureSettings::default()).ok()
}

fn in_margins(measured: &Measured) -> bool {
    measured.standing.fullness.is_some_and(|fullness| fullness <= 1.0 + 1e-9)
}

/// Whether a camera at an eye's height over the same place, aimed so, holds the subject with its margins.
fn serves(survey: &Survey, from: &Stance, aim: Aim, eye_m: f64) -> bool {
    let there = Stance {
        aim,
        eye_height_m: Some(eye_m),
        on: None,
        focal_mm: None,
        orientation: Some(survey.stand(from).expect("a stance").orientation),
        ..from.clone()
    };
    measured(survey, &there)
        .is_some_and(|there| in_margins(&there) && (aim != Aim::LeastTilt || there.account.reads_upright == Some(true)))
}

/// The height nearest to a stance's own, up or down to `end_m`, at which an aim serves: the first of a fine sweep, then halved.
fn nearest_m(survey: &Survey, from: &Stance, aim: Aim, own_m: f64, end_m: f64) -> Option<f64> {
    const STEPS: u32 = 400;
    let at = |step: u32| own_m + (end_m - own_m) * f64::from(step) / f64::from(STEPS);
    let first = (1..=STEPS).find(|&step| serves(survey, from, aim, at(step)))?;
    let (mut short_m, mut good_m) = (at(first - 1), at(first));
    for _ in 0..30 {
        let middle_m = 0.5 * (short_m + good_m);
        if serves(survey, from, aim, middle_m) { good_m = middle_m } else { short_m = middle_m }
    }
    Some(good_m)
}

#[test]
fn from_the_saltings_yard_the_least_heights_and_the_least_rise_are_the_reckoned_ones() {
    let survey = saltings();
    let from = yard();
    let ways = found(&survey, &from, &["24 mm", "24 mm with 12 mm rise"]);
    // Independently reckoned: 17.8 m where a level camera holds the stack with its margins, 10.1 mm of rise.
    let level = the(&ways, |remedy| *remedy == Remedy::LevelHeight).expect("a row");
    let eye_m = |way: &Way| survey.stand(way.stance.as_ref().expect("a stance")).expect("a stance").pose.eye.z;
    let above_m = level.stance.as_ref().expect("a stance").height_m;
    assert!((above_m - 17.8).abs() < 0.05, "{above_m}");
    assert!(
        serves(&survey, &from, Aim::Level, eye_m(level)) && !serves(&survey, &from, Aim::Level, eye_m(level) - 0.01)
    );
    let rise = the(&ways, |remedy| matches!(remedy, Remedy::Rise { .. })).expect("a row");
    let rise_mm = rise.remarks.iter().find_map(|remark| match remark {
        Remark::Rises { rise_mm, .. } => Some(*rise_mm),
        _ => None,
    });
    assert!((rise_mm.expect("told") - 10.1).abs() < 1e-9, "{rise_mm:?}");
    // Pitched least it is upright from lower than level.
    let upright = the(&ways, |remedy| *remedy == Remedy::UprightHeight).expect("a row");
    assert!(eye_m(upright) < eye_m(level) - 1.0, "{}", eye_m(upright));
    assert!(!serves(&survey, &from, Aim::LeastTilt, eye_m(upright) - 0.01));
}

#[test]
fn the_least_heights_are_the_least_by_halving() {
    let mut random = Random::new(178);
    let (mut levels, mut uprights, mut none) = (0, 0, 0);
    for blocks in [
        "(name: \"a\", subject: true, at: (0, 0), shape: RoundTaper(foot_radius_m: 2.6, head_radius_m: 1.5, height_m: 42))",
        "(name: \"a\", subject: true, at: (0, 0), heading_deg: 20, shape: Box(width_m: 9, depth_m: 6, height_m: 24))",
        "(name: \"a\", subject: true, at: (0, 0), heading_deg: 33, shape: Gable(width_m: 14, depth_m: 9, eaves_m: 6, ridge_m: 11))",
        "(name: \"a\", subject: true, at: (0, 0), lift_m: 30, shape: Box(width_m: 8, depth_m: 8, height_m: 12))",
    ] {
        let survey = surveyed_blocks(blocks);
        for _ in 0..6 {
            let (bearing, away_m) = (random.between(0.0, std::f64::consts::TAU), random.between_octaves(18.0, 70.0));
            let lens = *random.one_of(&["14 mm", "24 mm", "35 mm", "24-70 mm", "50 mm"]);
            let height_m = *random.one_of(&[0.9, 1.6, 60.0]);
            let from = stance((away_m * bearing.sin(), away_m * bearing.cos()), height_m, lens, Aim::Fill);
            let Ok(standing) = survey.stand(&from) else { continue };
            let ways = found(&survey, &from, &[lens]);
            let own_m = standing.pose.eye.z;
            let highest_m = survey.subject.as_ref().expect("a subject").highest_m;
            let end_m = if own_m < highest_m { highest_m } else { 0.3 };
            for (remedy, aim) in [(Remedy::LevelHeight, Aim::Level), (Remedy::UprightHeight, Aim::LeastTilt)] {
                let told = || format!("{blocks}\n{from:?}\n{remedy:?}");
                let expected_m = if serves(&survey, &from, aim, own_m) {
                    None
                } else {
                    nearest_m(&survey, &from, aim, own_m, end_m)
                };
                let way = the(&ways, |other| *other == remedy);
                let Some(stance) = way.and_then(|way| way.stance.as_ref()) else {
                    // Where both heights are the same the level one alone is told.
                    let level_m = (aim == Aim::LeastTilt).then(|| nearest_m(&survey, &from, Aim::Level, own_m, end_m));
                    let same = level_m.flatten().zip(expected_m).is_some_and(|(a, b)| (a - b).abs() < 0.2);
                    assert!(expected_m.is_none() || same, "{}: {expected_m:?}", told());
                    none += 1;
                    continue;
                };
                let eye_m = survey.stand(stance).expect("a stance").pose.eye.z;
                let expected_m = expected_m.unwrap_or_else(|| panic!("{}: {eye_m}", told()));
                assert!((eye_m - expected_m).abs() < 0.011, "{}: {eye_m} for {expected_m}", told());
                assert!(serves(&survey, &from, aim, eye_m), "{}", told());
                let short_m = eye_m - 0.011 * (end_m - own_m).signum();
                assert!(!serves(&survey, &from, aim, short_m), "{}: {short_m}", told());
                if aim == Aim::Level { levels += 1 } else { uprights += 1 }
            }
        }
    }
    assert!(levels > 5 && uprights > 5 && none > 2, "{levels} {uprights} {none}");
}

#[test]
fn the_rise_that_is_told_is_the_least_and_a_tenth_less_fails() {
    let mut random = Random::new(101);
    let (mut told, mut hired) = (0, 0);
    for blocks in [
        "(name: \"a\", subject: true, at: (0, 0), shape: RoundTaper(foot_radius_m: 2.6, head_radius_m: 1.5, height_m: 42))",
        "(name: \"a\", subject: true, at: (0, 0), heading_deg: 20, shape: Box(width_m: 9, depth_m: 6, height_m: 24))",
        "(name: \"a\", subject: true, at: (0, 0), shape: Mast(foot_radius_m: 0.3, head_radius_m: 0.15, height_m: 30))",
    ] {
        let survey = surveyed_blocks(blocks);
        for _ in 0..14 {
            let (bearing, away_m) = (random.between(0.0, std::f64::consts::TAU), random.between_octaves(22.0, 70.0));
            let at = (away_m * bearing.sin(), away_m * bearing.cos());
            let height_m = *random.one_of(&[1.6, 1.6, 3.0, 60.0]);
            let lens = *random.one_of(&["24 mm", "35 mm", "20 mm"]);
            let from = Stance { orientation: Some(Orientation::Portrait), ..stance(at, height_m, lens, Aim::Fill) };
            if survey.stand(&from).is_err() {
                continue;
            }
            let ways = found(&survey, &from, &["17 mm with 12 mm rise", "24 mm with 12 mm rise"]);
            for way in &ways.rows {
                if !matches!(way.remedy, Remedy::Rise { .. } | Remedy::RiseNeeded { .. }) {
                    continue;
                }
                let Some(there) = &way.stance else { continue };
                let holds = |rise_mm: f64| {
                    let there = Stance { rise_mm: Some(rise_mm), aim: Aim::Rise, ..there.clone() };
                    measured(&survey, &there).is_some_and(|there| in_margins(&there))
                };
                let rise_mm = survey.stand(there).expect("a stance").camera.rise_mm;
                let context = || format!("{blocks}\n{from:?}\n{way:?}");
                if way.remarks.contains(&Remark::MarginLost) {
                    // All that the lens has is not enough for the margins.
                    assert!(!holds(rise_mm), "{}", context());
                    continue;
                }
                assert!(holds(rise_mm), "{}", context());
                let sense = rise_mm.signum();
                if rise_mm.abs() > 0.05 {
                    assert!(!holds(rise_mm - 0.1 * sense), "{}", context());
                    told += 1;
                }
                hired += usize::from(matches!(way.remedy, Remedy::RiseNeeded { .. }));
            }
        }
    }
    assert!(told > 15 && hired > 3, "{told} {hired}");
}

/// Height and rise of a thin board by hand: level, 24 mm portrait, D metres off, the top at h stands f·(h − e)/D over the axis and
/// must stay under 0.42 of the frame; lower down the board needs so much rise.
#[test]
fn for_a_thin_board_both_are_the_closed_forms() {
    let survey = surveyed_blocks(
        "(name: \"board\", subject: true, at: (0, 0.01), shape: Box(width_m: 3, depth_m: 0.02, height_m: 40))",
    );
    for distance_m in [30.0, 36.0, 44.0] {
        let from =
            Stance { orientation: Some(Orientation::Portrait), ..stance((0.0, -distance_m), 1.6, "24 mm", Aim::Fill) };
        let ways = found(&survey, &from, &["24 mm", "24 mm with 12 mm rise", "17 mm with 12 mm rise"]);
        let above_mm = (0.5 - Margins::USUAL.above) * 36.0;
        let (least_m, most_m) =
            (40.0 - above_mm * distance_m / 24.0, (0.5 - Margins::USUAL.side) * 36.0 * distance_m / 24.0);
        let level = the(&ways, |remedy| *remedy == Remedy::LevelHeight);
        if least_m <= most_m {
            let height_m = level.and_then(|way| way.stance.as_ref()).expect("a stance").height_m;
            assert!((least_m - 1e-9..least_m + 0.0101).contains(&height_m), "{height_m} for {least_m}");
        } else {
            // From so near no level frame holds it at any height.
            assert!(level.is_none_or(|way| way.outcome == WayOutcome::NotHere), "{level:?}");
        }
        for (lens, focal_mm) in [("24 mm with 12 mm rise", 24.0), ("17 mm with 12 mm rise", 17.0)] {
            let needed_mm = focal_mm * 38.4 / distance_m - above_mm;
            let way = the(&ways, |remedy| matches!(remedy, Remedy::Rise { lens: own } if own == lens)).expect("a row");
            // Base and top together must fit as well, and the circle of 67.2 mm lets a portrait frame rise 12 mm less nothing.
            let fits = focal_mm * 40.0 / distance_m <= Margins::USUAL.height_left() * 36.0;
            let rises = way.remarks.iter().find_map(|remark| match remark {
                Remark::Rises { rise_mm, .. } => Some(*rise_mm),
                _ => None,
            });
            if fits && (0.0..=11.9).contains(&needed_mm) {
                let rise_mm = rises.expect("rises");
                assert!((needed_mm - 1e-6..needed_mm + 0.1).contains(&rise_mm), "{lens}: {rise_mm} for {needed_mm}");
                assert_eq!(way.outcome, WayOutcome::Upright);
            } else if needed_mm <= 0.0 {
                assert!(rises.expect("none needed").abs() < 0.05, "{lens}: {rises:?}");
            } else {
                assert!(way.outcome == WayOutcome::NotHere || way.remarks.contains(&Remark::MarginLost), "{way:?}");
            }
        }
    }
}
