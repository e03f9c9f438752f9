//! Is every way to straighten it true?
//!
//! A way that is a stance has the figures of measuring that stance; what is possible, what is not, and what makes it
//! worse is what the trade knows and a pocket calculator says.

use plumbsight::angle::Angle;
use plumbsight::appraise::Measures;
use plumbsight::optics::{Margins, Orientation};
use plumbsight::scenes::SCENES;
use plumbsight::site::{Aim, Stance};
use plumbsight::survey::{MeasureSettings, Measured, Survey};
use plumbsight::units::Units;
use plumbsight::walking::{Feet, Reach};
use plumbsight::ways::{
    Barrier, Equipment, Figures, Holding, Mend, Options, Remark, Remedy, Straightener, Way, WayOutcome, Ways,
    WaysError, ways,
};

use crate::support::program::run;
use crate::support::random::Random;
use crate::support::surveyed::{stance, subject, surveyed, surveyed_blocks};

fn all_ways(survey: &Survey, from: &Stance) -> Ways {
    ways(survey, from, &MeasureSettings::default(), &Options::default())
        .unwrap_or_else(|error| panic!("{}: {error}", from.name))
}

/// The only way of its kind.
fn the(ways: &Ways, wanted: impl Fn(&Remedy) -> bool) -> &Way {
    let mut found = ways.rows.iter().chain(&ways.by_lens).filter(|way| wanted(&way.remedy));
    let way = found.next().expect("a way of this kind");
    assert!(found.next().is_none(), "two of them");
    way
}

fn back_off(ways: &Ways) -> &Way {
    the(ways, |remedy| *remedy == Remedy::BackOff)
}

fn deck<'a>(ways: &'a Ways, block: &str) -> &'a Way {
    the(ways, |remedy| matches!(remedy, Remedy::Deck { name } if name == block))
}

fn lean_deg(way: &Way) -> f64 {
    way.figures.expect("figures").largest_lean.expect("a lean").degrees()
}

fn detail(way: &Way) -> f64 {
    way.figures.expect("figures").detail.expect("detail").px_per_m
}

/// A thin upright board 3 m wide, so that head and foot are equally far.
fn board(height_m: f64, rest: &str) -> Survey {
    surveyed_blocks(&format!(
        "(name: \"board\", subject: true, at: (0, 0.01), shape: Box(width_m: 3, depth_m: 0.02, height_m: {height_m})), {rest}"
    ))
}

const TOWER: &str = "(name: \"tower\", subject: true, at: (0, 0), shape: Box(width_m: 6, depth_m: 6, height_m: 30))";

#[test]
fn every_way_that_is_a_stance_has_the_figures_of_that_stance() {
    let (mut compared, mut cropped) = (0, 0);
    for scene in SCENES {
        let survey = surveyed(scene.text, scene.name);
        for saved in &survey.model.site.stances {
            let found = all_ways(&survey, saved);
            for way in found.rows.iter().chain(&found.by_lens) {
                let (Some(stance), Some(figures)) = (&way.stance, way.figures) else { continue };
                let told = || format!("{}, {}: {:?}", scene.name, saved.name, way.remedy);
                let measured = survey.measure(stance, &MeasureSettings::default()).expect("a stance");
                let expected = Figures::of(&measured.account);
                if matches!(way.remedy, Remedy::LevelCrop { .. }) {
                    // The one figure that is not the stance's own: the picture is cropped more closely.
                    let [width_px, height_px] = cropped_px(&survey, &measured);
                    // Whole pixels of both sides are kept.
                    let (most, least) = (width_px * height_px, (width_px - 1.0) * (height_px - 1.0));
                    let kept = 1e6 * figures.megapixels().expect("a final picture");
                    assert!((least - 1.0..=most + 1.0).contains(&kept), "{kept} for {most} px: {}", told());
                    let uncropped = |figures: Figures| Figures { final_picture: None, ..figures };
                    assert_eq!(uncropped(figures), uncropped(expected), "{}", told());
                    cropped += 1;
                } else if matches!(way.remedy, Remedy::Tilt { afterwards: true, .. }) {
                    // Straightened afterwards it leans no more; what is handed over is what measuring the stance tells.
                    assert_eq!(lean_deg(way), 0.0, "{}", told());
                    let handed = |figures: &Figures| {
                        (figures.final_picture, figures.detail, figures.visible_share, figures.distance_m)
                    };
                    assert_eq!(handed(&figures), handed(&expected), "{}", told());
                } else {
                    assert_eq!(figures, expected, "{}", told());
                }
                compared += 1;
            }
        }
    }
    assert!(compared > 200, "{compared}");
    assert!(cropped > 3, "{cropped}");
}

/// Both sides of the smallest picture of the frame's own proportion that holds the subject with its margins, by similar
/// triangles in front of a level lens that bends nothing; no larger than the frame.
fn cropped_px(survey: &Survey, measured: &Measured) -> [f64; 2] {
    let (camera, pose) = (&measured.standing.camera, &measured.standing.pose);
    assert!(pose.attitude.pitch.radians() == 0.0 && pose.attitude.roll.radians() == 0.0 && camera.distortion.is_none());
    let (sin, cos) = pose.attitude.heading.radians().sin_cos();
    let mut bounds_mm = [[f64::MAX, f64::MIN]; 2];
    for corner in &subject(survey).corners {
        let away = corner - pose.eye;
        // The heading runs clockwise from north.
        let (ahead_m, right_m) = (away.x * sin + away.y * cos, away.x * cos - away.y * sin);
        for ([low, high], across_m) in bounds_mm.iter_mut().zip([right_m, away.z]) {
            let mm = camera.focal_mm * across_m / ahead_m;
            (*low, *high) = (low.min(mm), high.max(mm));
        }
    }
    let [width_mm, height_mm] = bounds_mm.map(|[low, high]| high - low);
    let frame = &camera.frame;
    let (whole_px, per_mm) = (f64::from(frame.width_px), f64::from(frame.width_px) / frame.width_mm);
    let share = (width_mm / Margins::USUAL.width_left() / frame.width_mm)
        .max(height_mm / Margins::USUAL.height_left() / frame.height_mm)
        .min(1.0);
    [share * whole_px, share * frame.height_mm * per_mm]
}

#[test]
fn what_is_said_of_a_way_agrees_with_its_figures() {
    for scene in SCENES {
        let survey = surveyed(scene.text, scene.name);
        for saved in &survey.model.site.stances {
            let found = all_ways(&survey, saved);
            let home_deg = found.stance_figures.largest_lean.expect("a lean").degrees();
            for way in found.rows.iter().chain(&found.by_lens) {
                let told = format!("{}, {}: {way:?}", scene.name, saved.name);
                match (way.outcome, way.figures) {
                    (WayOutcome::NotHere, figures) => {
                        assert!(figures.is_none() && way.stance.is_none() && !way.remarks.is_empty(), "{told}");
                    }
                    (outcome, Some(figures)) => {
                        let lean_deg = figures.largest_lean.map_or(0.0, |lean| lean.degrees());
                        let upright = lean_deg <= 0.6;
                        let of_upright = [WayOutcome::Upright, WayOutcome::Cut, WayOutcome::Hidden].contains(&outcome);
                        assert_eq!(upright, of_upright, "{told}");
                        assert!(outcome != WayOutcome::Better || lean_deg < home_deg, "{told}");
                        assert!(outcome != WayOutcome::Worse || lean_deg > home_deg, "{told}");
                    }
                    (_, None) => panic!("no figures: {told}"),
                }
            }
            let order: Vec<WayOutcome> = found.rows.iter().map(|way| way.outcome).collect();
            assert!(order.is_sorted(), "{order:?}");
        }
    }
}

/// Published rule: shoot from about half way up (Waldhäusl & Ogleby 1994, CIPA 3×3 rules). From there a level camera that is far
/// enough off holds it, and by hand: it still does lower down, until the top is at its margin.
#[test]
fn the_height_for_a_level_camera_is_the_least_and_half_the_subjects_will_do() {
    let survey = board(34.0, "");
    let (distance_m, focal_mm) = (30.0, 24.0);
    let from =
        Stance { orientation: Some(Orientation::Portrait), ..stance((0.0, -distance_m), 1.6, "24 mm", Aim::Fill) };
    let found = all_ways(&survey, &from);
    let level = the(&found, |remedy| *remedy == Remedy::LevelHeight);
    let expected_m = 34.0 - (0.5 - Margins::USUAL.above) * 36.0 * distance_m / focal_mm;
    let height_m = level.stance.as_ref().expect("a stance").height_m;
    assert!((expected_m - 1e-9..expected_m + 0.0101).contains(&height_m), "{height_m} for {expected_m}");
    assert_eq!((level.outcome, lean_deg(level)), (WayOutcome::Upright, 0.0));
    assert!((level.effort.climb_m - (height_m - 1.6)).abs() < 1e-9);
    let in_margins = |height_m: f64| {
        let there = Stance { height_m, aim: Aim::Level, ..from.clone() };
        survey.stand(&there).expect("a stance").fullness.is_some_and(|fullness| fullness <= 1.0 + 1e-9)
    };
    assert!(in_margins(17.0) && in_margins(height_m) && !in_margins(height_m - 0.011));
    // Reading as upright takes less, and a centimetre lower it does not.
    let upright = the(&found, |remedy| *remedy == Remedy::UprightHeight);
    let stance = upright.stance.as_ref().expect("a stance");
    assert!(upright.outcome == WayOutcome::Upright && stance.height_m < height_m);
    let lower = Stance { height_m: stance.height_m - 0.011, ..stance.clone() };
    let lower = survey.measure(&lower, &MeasureSettings::default()).expect("a stance").account;
    assert_eq!(lower.reads_upright, Some(false));
}

/// rise = f·ΔY/Z (Stroebel, *View Camera Technique*, from memory), less what the level frame holds within its margin; circle 2·hypot of the
/// shifted corner.
#[test]
fn the_rise_that_is_needed_is_the_textbooks() {
    let survey = board(20.0, "");
    let from = Stance { orientation: Some(Orientation::Portrait), ..stance((0.0, -30.0), 1.6, "24 mm", Aim::Fill) };
    let options = Options {
        bag: vec!["24 mm".into(), "24 mm with 0.1 mm rise".into(), "50 mm with 11 mm rise".into()],
        ..Options::default()
    };
    let found = ways(&survey, &from, &MeasureSettings::default(), &options).expect("ways");
    // By hand: 24·18.4/30 = 14.72 mm above the axis, and the frame holds 0.42·36 = 15.12: no rise needed.
    assert!(!found.rows.iter().any(|way| matches!(way.remedy, Remedy::RiseNeeded { .. })));
    // At 35 mm: 35·18.4/30 − 15.12 = 6.3467 mm.
    let from = Stance { lens: "35 mm".into(), ..from };
    let options = Options { bag: vec!["35 mm with 5 mm rise".into(), "35 mm with 3 mm rise".into()], ..options };
    let found = ways(&survey, &from, &MeasureSettings::default(), &options).expect("ways");
    let by = |wanted: &str| the(&found, |remedy| matches!(remedy, Remedy::Rise { lens } if lens == wanted));
    // Raised by 5 mm the frame's edge is at 23 mm: above the top, but not by the margin.
    let [Remark::Rises { rise_mm: 5.0, circle_mm }, Remark::MarginLost, ..] = by("35 mm with 5 mm rise").remarks[..]
    else {
        panic!("{:?}", by("35 mm with 5 mm rise").remarks)
    };
    assert!((circle_mm - 2.0 * 12.0_f64.hypot(23.0)).abs() < 1e-9, "{circle_mm}");
    // By 3 mm it is at 21 mm, below the top.
    let [Remark::NeedsRise { needed_mm, moves_mm: 3.0, covered_mm: None }, Remark::TopCut { by_m }, ..] =
        by("35 mm with 3 mm rise").remarks[..]
    else {
        panic!("{:?}", by("35 mm with 3 mm rise").remarks)
    };
    assert!((needed_mm - (35.0 * 18.4 / 30.0 - 15.12)).abs() < 1e-9, "{needed_mm}");
    assert!((by_m - (18.4 - 21.0 * 30.0 / 35.0)).abs() < 1e-9, "{by_m}");
}

#[test]
fn a_lens_that_rises_too_little_says_how_much_it_takes() {
    let survey = board(30.0, "");
    let from = Stance { orientation: Some(Orientation::Portrait), ..stance((0.0, -30.0), 1.6, "24 mm", Aim::Fill) };
    let options = Options { bag: vec!["24 mm with 3 mm rise".into()], ..Options::default() };
    let found = ways(&survey, &from, &MeasureSettings::default(), &options).expect("ways");
    let needed = 24.0 * 28.4 / 30.0 - (0.5 - Margins::USUAL.above) * 36.0;
    let short = the(&found, |remedy| matches!(remedy, Remedy::Rise { .. }));
    assert_eq!(short.outcome, WayOutcome::NotHere);
    let Remark::NeedsRise { needed_mm, moves_mm, .. } = short.remarks[0] else { panic!("{:?}", short.remarks) };
    assert!((needed_mm - needed).abs() < 1e-9 && moves_mm == 3.0, "{needed_mm}");
    // The head stands 28.4 m above the lens; a frame raised by 3 mm reaches 30·(18 + 3)/24 = 26.25 m.
    let Remark::TopCut { by_m } = short.remarks[1] else { panic!("{:?}", short.remarks) };
    assert!((by_m - (28.4 - 26.25)).abs() < 1e-9, "{by_m}");
    // A lens to hire with just so much does it.
    let hired = the(&found, |remedy| matches!(remedy, Remedy::RiseNeeded { .. }));
    assert_eq!((hired.outcome, lean_deg(hired)), (WayOutcome::Upright, 0.0));
    let Remark::Rises { rise_mm, circle_mm } = hired.remarks[0] else { panic!("{:?}", hired.remarks) };
    assert!((rise_mm - (needed * 10.0).ceil() / 10.0).abs() < 1e-9, "{rise_mm}");
    assert!((circle_mm - 2.0 * 12.0_f64.hypot(18.0 + rise_mm)).abs() < 1e-9);
}

#[test]
fn a_level_frame_says_by_how_much_it_cuts() {
    let survey = board(42.0, "");
    let from = Stance { orientation: Some(Orientation::Portrait), ..stance((0.0, -20.0), 1.6, "24 mm", Aim::Fill) };
    let options = Options { bag: vec!["14 mm".into()], ..Options::default() };
    let found = ways(&survey, &from, &MeasureSettings::default(), &options).expect("ways");
    let level = the(&found, |remedy| matches!(remedy, Remedy::LevelCrop { .. }));
    assert_eq!(level.outcome, WayOutcome::NotHere);
    // By hand: the frame reaches 20·18/14 m above the lens.
    let Remark::TopCut { by_m } = level.remarks[0] else { panic!("{:?}", level.remarks) };
    assert!((by_m - (42.0 - 1.6 - 20.0 * 18.0 / 14.0)).abs() < 1e-9, "{by_m}");
    // From twice as far it holds it, and the crop keeps what the subject and its margins take.
    let far = Stance { at: (0.0, -40.0), ..from };
    let found = ways(&survey, &far, &MeasureSettings::default(), &options).expect("ways");
    let level = the(&found, |remedy| matches!(remedy, Remedy::LevelCrop { .. }));
    assert_eq!((level.outcome, lean_deg(level)), (WayOutcome::Upright, 0.0));
    let px_per_m = 6000.0 / 36.0 * 14.0 / 40.0;
    let height_px = px_per_m * 42.0 / Margins::USUAL.height_left();
    let expected = height_px * height_px * 4.0 / 6.0 / 1e6;
    assert!((level.figures.expect("figures").megapixels().expect("a final picture") / expected - 1.0).abs() < 1e-3);
    assert!((detail(level) / px_per_m - 1.0).abs() < 1e-6);
}

/// Stepping back is stopped by what stands there. Common practice, no source.
#[test]
fn stepping_back_is_stopped_and_says_by_what() {
    let from = stance((0.0, -20.0), 1.6, "24-70 mm", Aim::Fill);
    let wall = board(60.0, "(name: \"w\", at: (0, -51.2), shape: Box(width_m: 300, depth_m: 0.4, height_m: 3))");
    let found = all_ways(&wall, &from);
    let stopped = |way: &Way| {
        way.remarks.iter().find_map(|remark| match remark {
            Remark::Stopped { after_m, by } => Some((*after_m, by.clone())),
            _ => None,
        })
    };
    let (after_m, by) = stopped(back_off(&found)).expect("stopped");
    // The wall's face is 31 m behind; a body keeps 0.3 m off, in steps of 0.25 m.
    let wall = Barrier::Wall { name: Some("w".into()) };
    assert!(by == wall && (30.3..=30.75).contains(&after_m), "{after_m}");
    assert_eq!(back_off(&found).outcome, WayOutcome::Better);
    let site = |rest: &str| {
        surveyed(
            &format!(
                "(format: 1, name: \"t\", blocks: [(name: \"board\", subject: true, at: (0, 0), \
                 shape: Box(width_m: 3, depth_m: 0.02, height_m: 60))], {rest})"
            ),
            "t",
        )
    };
    let closed = site(
        "grounds: [(name: \"rifle range\", access: Closed, outline: [(-90, -200), (90, -200), (90, -34), (-90, -34)])]",
    );
    let (after_m, by) = stopped(back_off(&all_ways(&closed, &from))).expect("stopped");
    assert_eq!(by, Barrier::Closed { name: "rifle range".into() });
    assert!((13.5..=14.0).contains(&after_m), "{after_m}");
    let asked =
        site("grounds: [(name: \"orchard\", access: Ask, outline: [(-90, -400), (90, -400), (90, -34), (-90, -34)])]");
    assert_eq!(back_off(&all_ways(&asked, &from)).effort.ask, ["orchard"]);
    let shore = site(
        "terrain: Grid((south_west: (-300, -80), spacing_m: (300, 40), rows: [[2, 2, 2], [2, 2, 2], [-4, -4, -4]])), water_level_m: 0",
    );
    let (after_m, by) = stopped(back_off(&all_ways(&shore, &from))).expect("stopped");
    // 2 m above the water the ground falls 6 m over 40 m from 20 m on.
    assert!(by == Barrier::Water && (33.0..=33.5).contains(&after_m), "{after_m} {by:?}");
}

/// A stage at the same distance helps; one that costs half the distance does not. Common practice, no source.
#[test]
fn a_stage_that_costs_half_the_distance_is_worse_and_says_so() {
    let stages = "(name: \"near\", at: (0, -30), shape: Stage(width_m: 3, depth_m: 3, floor_m: 2.7)), \
                  (name: \"beside\", at: (6, -60), shape: Stage(width_m: 3, depth_m: 3, floor_m: 2.7)), \
                  (name: \"shut\", at: (-6, -60), shape: Stage(width_m: 3, depth_m: 3, floor_m: 2.7), deck: (access: Closed))";
    let survey = surveyed_blocks(&format!("{TOWER}, {stages}"));
    let found = all_ways(&survey, &stance((0.0, -60.0), 1.6, "24-70 mm", Aim::Fill));
    let near = deck(&found, "near");
    assert_eq!(near.outcome, WayOutcome::Worse);
    let nearer = near.remarks.iter().find_map(|remark| match remark {
        Remark::Nearer { share, .. } => Some(*share),
        _ => None,
    });
    assert!((0.45..0.6).contains(&nearer.expect("told")), "{nearer:?}");
    assert!((near.effort.climb_m - 2.7).abs() < 1e-9);
    let beside = deck(&found, "beside");
    assert!(
        beside.outcome <= WayOutcome::Better
            && lean_deg(beside) < found.stance_figures.largest_lean.expect("a lean").degrees()
    );
    let shut = deck(&found, "shut");
    assert_eq!(
        (shut.outcome, &shut.remarks[..]),
        (WayOutcome::NotHere, &[Remark::Closed { place: "shut".into() }][..])
    );
}

/// The higher the camera, up to half the subject's height, the less a filled subject closes. Common practice, no source.
#[test]
fn holding_it_higher_leans_less() {
    let survey = surveyed_blocks(TOWER);
    let found = all_ways(&survey, &stance((0.0, -45.0), 1.6, "24 mm", Aim::Fill));
    let held: Vec<f64> = [Holding::Crouching, Holding::Overhead, Holding::ShortLadder, Holding::Pole]
        .map(|held| lean_deg(the(&found, |remedy| *remedy == Remedy::Holding(held))))
        .to_vec();
    assert!(held.windows(2).all(|pair| pair[1] < pair[0]), "{held:?}");
    // As it stands already, it is not offered to stand.
    assert!(!found.rows.iter().any(|way| way.remedy == Remedy::Holding(Holding::Standing)));
}

/// Frames turned from one eye and projected level: the final picture can draw no finer than its coarsest frame did. In a
/// frame pitched θ a level picture's slope tan e is drawn at f·cos²e / cos²(e − θ) pixels per unit (derivative of
/// v = f·tan(e − θ)).
#[test]
fn joined_frames_draw_as_finely_as_their_coarsest_did() {
    let survey = board(40.0, "");
    let from = Stance { orientation: Some(Orientation::Portrait), ..stance((0.0, -30.0), 1.6, "50 mm", Aim::Fill) };
    let options = Options { bag: vec!["50 mm".into()], ..Options::default() };
    let found = ways(&survey, &from, &MeasureSettings::default(), &options).expect("ways");
    let joined = the(&found, |remedy| *remedy == Remedy::PitchedFrames);
    assert_eq!((joined.outcome, lean_deg(joined)), (WayOutcome::Upright, 0.0));
    let Remark::Frames { columns, rows, to_deg, .. } = joined.remarks[0] else { panic!("{:?}", joined.remarks) };
    assert_eq!(columns, 1);
    assert!(rows >= 2 && joined.remarks.contains(&Remark::TurningGainsNoHeight));
    // The head is the coarsest: its elevation, in the highest frame.
    let head: f64 = (38.4_f64 / 30.0).atan();
    let focal_px = 50.0 * 6000.0 / 36.0;
    let across = focal_px * head.cos() / (head - to_deg.to_radians()).cos();
    let along = across * head.cos() / (head - to_deg.to_radians()).cos();
    let found = detail(joined) * 30.0;
    assert!((found / along.min(across) - 1.0).abs() < 0.01, "{found} for {along}");
    // A level frame turned aside holds no more of the height: no roll of the die but pitch gains it.
    assert!(to_deg > 20.0);
}

/// Level frames of a shifted lens have the same scale all over: f/D. Common practice, no source.
#[test]
fn shifted_frames_keep_the_scale_of_one() {
    let survey = board(34.0, "");
    let from = Stance { orientation: Some(Orientation::Landscape), ..stance((0.0, -30.0), 12.0, "24 mm", Aim::Fill) };
    let options = Options { bag: vec!["24 mm with 12 mm rise".into()], ..Options::default() };
    let found = ways(&survey, &from, &MeasureSettings::default(), &options).expect("ways");
    let joined = the(&found, |remedy| matches!(remedy, Remedy::ShiftedFrames { .. }));
    assert_eq!((joined.outcome, lean_deg(joined)), (WayOutcome::Upright, 0.0));
    assert!((detail(joined) / (24.0 * 6000.0 / 36.0 / 30.0) - 1.0).abs() < 1e-6, "{}", detail(joined));
    let Remark::FramesMoved { from_mm, to_mm } = joined.remarks[0] else { panic!("{:?}", joined.remarks) };
    // By hand: foot and head at −9.6 and 17.6 mm, 27.2 mm between them, which with the margins are 31.26 mm.
    let picture_mm = 27.2 / Margins::USUAL.height_left();
    assert!((from_mm - (12.0 - 9.6 - Margins::USUAL.side * picture_mm)).abs() < 0.01, "{from_mm}");
    assert!((to_mm - (17.6 + Margins::USUAL.above * picture_mm - 12.0)).abs() < 0.01, "{to_mm}");
}

#[test]
fn a_wall_in_front_hides_the_base_to_the_height_of_similar_triangles() {
    // A 3 m wall 10 m before the camera, whose far edge is at 10.2 m; the board is 40 m off.
    let survey = board(20.0, "(name: \"w\", at: (0, -29.9), shape: Box(width_m: 80, depth_m: 0.2, height_m: 3))");
    let found = all_ways(&survey, &stance((0.0, -40.0), 2.6, "24-70 mm", Aim::Fill));
    let standing = the(&found, |remedy| *remedy == Remedy::Holding(Holding::Standing));
    let below_m = standing.remarks.iter().find_map(|remark| match remark {
        Remark::BaseHidden { below_m } => Some(*below_m),
        _ => None,
    });
    let expected_m = 1.6 + 1.4 * 40.0 / 10.0;
    assert!((below_m.expect("told") - expected_m).abs() < 0.02, "{below_m:?} for {expected_m}");
    // From a pole one sees over it.
    let pole = the(&found, |remedy| *remedy == Remedy::Holding(Holding::Pole));
    assert!(!pole.remarks.iter().any(|remark| matches!(remark, Remark::BaseHidden { .. })), "{:?}", pole.remarks);
}

/// The place offered for a lens is nearly as good as the best of all that can be walked to, each measured.
#[test]
fn the_best_place_is_nearly_the_best_of_all() {
    let survey = surveyed_blocks(&format!(
        "{TOWER}, (name: \"hall\", at: (12, -30), shape: Box(width_m: 14, depth_m: 8, height_m: 9)), \
         (name: \"wall\", at: (0, 0), shape: Wall(path: [(-40, -50), (30, -52)], thickness_m: 0.4, height_m: 2.4))"
    ));
    let from = stance((-4.0, -28.0), 1.6, "24-70 mm", Aim::Fill);
    let options = Options {
        farthest_walk_m: 40.0,
        bag: vec!["24-70 mm".into(), "24 mm".into(), "35 mm".into(), "24 mm with 12 mm rise".into()],
        ..Options::default()
    };
    let found = ways(&survey, &from, &MeasureSettings::default(), &options).expect("ways");
    let home = survey.stand(&from).expect("a stance");
    let feet = Feet::of(from.at, None, home.footing.as_ref().expect("feet"));
    let middle = subject(&survey).middle;
    let ahead = (middle.x - from.at.0, middle.y - from.at.1);
    let reach = Reach::from(&survey.model, &survey.sight, &feet, ahead, 40.0);
    for lens in &options.bag {
        let mut best: Option<(bool, f64)> = None;
        for place in reach.places() {
            for aim in [Aim::Fill, Aim::Level, Aim::Rise] {
                let there = Stance { at: place.at, lens: lens.clone(), aim, ..from.clone() };
                let Ok(standing) = survey.stand(&there) else { continue };
                if standing.fullness.is_none_or(|fullness| fullness > 1.0 + 1e-9) {
                    continue;
                }
                let account = survey.appraise(&standing, &MeasureSettings::default().measures);
                if account.visible_share < found.stance_figures.visible_share.map(|share| share - 0.1) {
                    continue;
                }
                let (Some(lean), Some((detail, _))) = (account.largest_lean, account.lowest_detail) else { continue };
                let upright = account.reads_upright == Some(true);
                let value = if upright { detail.px_per_m } else { -lean.degrees() };
                if best.is_none_or(|best| (upright, value) > best) {
                    best = Some((upright, value));
                }
            }
        }
        let way = the(&found, |remedy| matches!(remedy, Remedy::BestPlace { lens: own } if own == lens));
        let (upright, value) = best.expect("a place");
        assert_eq!(way.outcome == WayOutcome::Upright, upright, "{lens}");
        if upright {
            assert!(detail(way) > 0.88 * value, "{lens}: {} for {value}", detail(way));
        } else {
            assert!(lean_deg(way) < 0.15 - value, "{lens}: {} for {}", lean_deg(way), -value);
        }
    }
}

#[test]
fn a_mirrored_site_has_mirrored_ways() {
    let site = |sign: f64| {
        surveyed(
            &format!(
                "(format: 1, name: \"t\", blocks: [\
                 (name: \"tower\", subject: true, at: ({}, 2), heading_deg: {}, shape: Box(width_m: 6, depth_m: 5, height_m: 26)), \
                 (name: \"hall\", at: ({}, -22), heading_deg: {}, shape: Box(width_m: 9, depth_m: 6, height_m: 7)), \
                 (name: \"stage\", at: ({}, -30), heading_deg: {}, shape: Stage(width_m: 4, depth_m: 3, floor_m: 3), deck: (access: Ask))], \
                 grounds: [(name: \"garden\", access: Ask, outline: [({}, -60), ({}, -60), ({}, -20), ({}, -20)])])",
                sign * 1.5,
                sign * 20.0,
                sign * 13.0,
                sign * 10.0,
                sign * -9.0,
                sign * 33.0,
                sign * -40.0,
                sign * -14.0,
                sign * -14.0,
                sign * -40.0,
            ),
            "t",
        )
    };
    let from = |sign: f64| stance((sign * 2.0, -35.0), 1.6, "24-70 mm", Aim::Fill);
    let (one, other) = (all_ways(&site(1.0), &from(1.0)), all_ways(&site(-1.0), &from(-1.0)));
    let close = |a: Option<f64>, b: Option<f64>| match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() <= 1e-6 * a.abs().max(1.0),
        (a, b) => a == b,
    };
    assert_eq!(one.rows.len(), other.rows.len());
    for (way, mirror) in one.rows.iter().zip(&other.rows) {
        let told = format!("{way:?}\n{mirror:?}");
        // A pitch is the mirror's but for rounding.
        assert_eq!((way.remedy.words(), way.outcome), (mirror.remedy.words(), mirror.outcome), "{told}");
        assert_eq!(way.effort.ask, mirror.effort.ask, "{told}");
        assert!(close(way.effort.walk_m, mirror.effort.walk_m), "{told}");
        assert_eq!((way.figures.is_some(), way.stance.is_some()), (mirror.figures.is_some(), mirror.stance.is_some()));
        if let (Some(a), Some(b)) = (way.figures, mirror.figures) {
            assert!(
                close(a.largest_lean.map(|lean| lean.degrees()), b.largest_lean.map(|lean| lean.degrees())),
                "{told}"
            );
            // The samples of the surface are not mirrored: the worst of them is another.
            let (a, b) = (a.detail.expect("detail").px_per_m, b.detail.expect("detail").px_per_m);
            assert!((a / b - 1.0).abs() < 0.05, "{told}");
        }
        if let (Some(a), Some(b)) = (&way.stance, &mirror.stance) {
            assert!((a.at.0 + b.at.0).hypot(a.at.1 - b.at.1) < 1e-6, "{told}");
        }
    }
    // Nor are they where many places are nearly the best: another of them may be.
    assert_eq!(one.by_lens.len(), other.by_lens.len());
    for way in &one.by_lens {
        let mirror = other.by_lens.iter().find(|mirror| mirror.remedy == way.remedy).expect("the same lens");
        assert_eq!(way.outcome, mirror.outcome, "{way:?}\n{mirror:?}");
        assert_eq!(way.figures.is_some(), mirror.figures.is_some(), "{way:?}\n{mirror:?}");
        if let (Some(a), Some(b)) = (way.figures, mirror.figures) {
            let (a, b) = (a.detail.expect("detail").px_per_m, b.detail.expect("detail").px_per_m);
            assert!((a / b - 1.0).abs() < 0.2, "{way:?}\n{mirror:?}");
        }
    }
}

/// In the order of a person who must do them: what one owns and can reach comes before frames to join, platforms, drones and what
/// is hired; within what is upright each row takes no less than the one before.
#[test]
fn what_one_owns_and_can_reach_comes_first() {
    let mut late = 0;
    for scene in SCENES {
        let survey = surveyed(scene.text, scene.name);
        for saved in &survey.model.site.stances {
            let found = all_ways(&survey, saved);
            let upright: Vec<&Way> = found.rows.iter().filter(|way| way.outcome == WayOutcome::Upright).collect();
            let is_late = |way: &&Way| {
                let late = |kit: &Equipment| {
                    matches!(kit, Equipment::Frames(_) | Equipment::Platform | Equipment::LensToHire(_))
                };
                way.effort.kit.iter().any(late)
            };
            let told = || upright.iter().map(|way| way.action(Units::M)).collect::<Vec<_>>();
            assert!(upright.iter().map(is_late).is_sorted(), "{}, {}: {:?}", scene.name, saved.name, told());
            assert!(upright.iter().map(|way| way.cost_m()).is_sorted(), "{}, {}: {:?}", scene.name, saved.name, told());
            late += upright.iter().filter(|way| is_late(way)).count();
        }
    }
    assert!(late > 10, "{late}");
}

#[test]
fn every_row_has_its_verdict_and_stance_or_a_reason() {
    let mut rows = 0;
    for scene in SCENES {
        let survey = surveyed(scene.text, scene.name);
        for saved in &survey.model.site.stances {
            let found = all_ways(&survey, saved);
            for way in found.rows.iter().chain(&found.by_lens) {
                let told = || format!("{}, {}: {way:?}", scene.name, saved.name);
                rows += 1;
                let Some(verdict) = &way.verdict else {
                    assert!(way.outcome == WayOutcome::NotHere && !way.remarks.is_empty(), "{}", told());
                    continue;
                };
                // What is made at the desk has no stance but the one that it is made from.
                let at_the_desk = matches!(
                    way.remedy,
                    Remedy::Straighten { .. } | Remedy::PitchedFrames | Remedy::ShiftedFrames { .. }
                );
                assert_eq!(way.stance.is_none(), at_the_desk, "{}", told());
                let figures = way.figures.expect("figures");
                let picture = figures.kept();
                assert!(picture.is_some() || way.outcome != WayOutcome::Upright, "{}", told());
                if let Some(picture) = picture {
                    assert!(picture.megapixels() > 0.0 && picture.lowest_detail.is_some(), "{}", told());
                    assert!(picture.megapixels() <= picture.megapixels_without_margins + 1e-9, "{}", told());
                }
                if way.outcome == WayOutcome::Upright {
                    assert_eq!((verdict.subject_upright, verdict.whole_in_frame), (Some(true), true), "{}", told());
                    assert!(verdict.seen_share >= Some(0.5), "{}", told());
                }
                // Words begin with a verb and hold no empty figure.
                let words = way.action(Units::M);
                assert!(!words.contains("NaN") && words.starts_with(char::is_uppercase), "{words}");
            }
        }
    }
    assert!(rows > 300, "{rows}");
}

/// What is wrong, the cheapest mend and the best one, a sentence each; each mend is one of the rows.
#[test]
fn the_sentence_says_what_is_wrong_and_both_mends() {
    let (mut both, mut none) = (0, 0);
    for scene in SCENES {
        let survey = surveyed(scene.text, scene.name);
        for saved in &survey.model.site.stances {
            let found = all_ways(&survey, saved);
            let told = found.sentence(Units::M);
            let said = || format!("{}, {}: {told}", scene.name, saved.name);
            let rest = told
                .strip_prefix(&format!("{}.", found.verdict.headline(Units::M)))
                .unwrap_or_else(|| panic!("{}", said()));
            let words = |mend: Option<Mend>| mend.map(|mend| found.mend_words(mend, Units::M));
            let expected = match (words(found.advice.cheapest), words(found.advice.best)) {
                (Some(only), None) => format!(" Do this: {only}."),
                (Some(cheapest), Some(best)) => format!(" Cheapest: {cheapest}. Best: {best}."),
                (None, Some(best)) => format!(" Best: {best}."),
                (None, None) if found.verdict.upright => String::new(),
                (None, None) => " No way from here makes it upright.".into(),
            };
            assert_eq!(rest, expected, "{}", said());
            if found.verdict.upright {
                none += 1;
                continue;
            }
            both += usize::from(found.advice.best.is_some());
            // Neither takes what another upright row does not take less of: the cheapest is that, the best draws most finely for it.
            let rows = || found.rows.iter().chain(&found.by_lens);
            let mends = |way: &&Way| {
                let picture = way.verdict.as_ref().is_some_and(|verdict| verdict.picture_upright == Some(true));
                // Partial straightening is a matter of taste, and what a lens gives from here is a row of its own.
                let in_part = matches!(way.remedy, Remedy::Straighten { tilt_left } if tilt_left > 0.0);
                let aside = in_part || way.remarks.contains(&Remark::WhereYouStand);
                way.outcome == WayOutcome::Upright && !aside && (!found.verdict.subject_is_fine() || picture)
            };
            match found.advice.cheapest.filter(|mend| mends(&found.advised(*mend))) {
                Some(cheapest) => {
                    let cheapest = found.advised(cheapest);
                    assert!(mends(&cheapest), "{}", said());
                    assert!(rows().filter(mends).all(|way| way.cost_m() > cheapest.cost_m() - 1.0), "{}", said());
                }
                None => assert!(!rows().any(|way| mends(&way)), "{}", said()),
            }
            if let Some(best) = found.advice.best.filter(|mend| mends(&found.advised(*mend))) {
                let best = found.advised(best);
                assert!(mends(&best) && !best.effort.kit.contains(&Equipment::Afterwards), "{}", said());
                let own = |way: &&Way| {
                    !way.effort.kit.iter().any(|kit| {
                        matches!(
                            kit,
                            Equipment::LensToHire(_)
                                | Equipment::Platform
                                | Equipment::Frames(_)
                                | Equipment::Afterwards
                        )
                    })
                };
                // What takes 150 m more must draw it twice as finely.
                let worth = |way: &Way| detail(way) / (1.0 + way.cost_m() / 150.0);
                assert!(own(&best), "{}", said());
                let most = rows().filter(mends).filter(own).map(worth).fold(0.0, f64::max);
                assert!(worth(best) >= 0.95 * most, "{}: {} of {most}", said(), worth(best));
            }
        }
    }
    assert!(both > 5 && none > 2, "{both} {none}");
}

/// What is said to let a picture be straightened lets it, and where nothing is said to, nothing does.
#[test]
fn what_would_straighten_does_and_where_nothing_would_nothing_does() {
    let (mut named, mut nothing) = ([0; 4], 0);
    let bag = ["24 mm", "24-70 mm", "14 mm"];
    let options = Options { bag: bag.map(str::to_owned).to_vec(), farthest_walk_m: 2.0, ..Options::default() };
    let mut random = Random::new(30);
    for blocks in [
        TOWER,
        "(name: \"a\", subject: true, at: (0, 0), shape: Box(width_m: 30, depth_m: 9, height_m: 14))",
        "(name: \"a\", subject: true, at: (0, 0), shape: RoundTaper(foot_radius_m: 2.6, head_radius_m: 1.5, height_m: 42))",
    ] {
        let survey = surveyed_blocks(blocks);
        for number in 0..26 {
            let bearing = random.between(0.0, std::f64::consts::TAU);
            let away_m = random.between_octaves(10.0, 45.0);
            let at = (away_m * bearing.sin(), away_m * bearing.cos());
            let towards_deg = bearing.to_degrees() + 180.0;
            let aim = match number % 3 {
                0 => Aim::Fill,
                1 => Aim::Turned { heading_deg: towards_deg, pitch_deg: random.between(5.0, 45.0), roll_deg: 0.0 },
                _ => Aim::Turned { heading_deg: towards_deg, pitch_deg: 12.0, roll_deg: random.between(-20.0, 20.0) },
            };
            let lens = *random.one_of(&["24-70 mm", "24 mm", "50 mm", "35 mm"]);
            let focal_mm = (lens == "24-70 mm").then_some(50.0).filter(|_| number % 3 != 0);
            let from = Stance { focal_mm, ..stance(at, 1.6, lens, aim) };
            let Ok(found) = ways(&survey, &from, &MeasureSettings::default(), &options) else { continue };
            let Some(way) = found.rows.iter().find(|way| matches!(way.remedy, Remedy::Straighten { tilt_left: 0.0 }))
            else {
                continue;
            };
            let told = || format!("{blocks}\n{from:?}\n{:?}", way.remarks);
            let home = survey.stand(&from).expect("a stance");
            let straightens = |stance: &Stance, proportion: Option<f64>| {
                let measures = Measures { proportion, ..Measures::default() };
                let settings = MeasureSettings { measures, ..MeasureSettings::default() };
                let measured = survey.measure(stance, &settings);
                measured.is_ok_and(|measured| matches!(measured.account.straightened, Some(Ok(_))))
            };
            if way.outcome != WayOutcome::NotHere {
                assert!(straightens(&from, None), "{}", told());
                continue;
            }
            // A person turns until the subject stands in the middle, and to the pitch and focal length that are named.
            let facing = |pitch: Angle, focal_mm: f64| {
                let held = Stance { focal_mm: Some(focal_mm), orientation: Some(home.orientation), ..from.clone() };
                let centred = survey.stand(&Stance { aim: Aim::Correct, ..held.clone() }).expect("in front");
                let heading_deg = centred.pose.attitude.heading.degrees();
                Stance { aim: Aim::Turned { heading_deg, pitch_deg: pitch.degrees(), roll_deg: 0.0 }, ..held }
            };
            let middle = subject(&survey).outline(&home.pose.eye).expect("an outline").middle();
            let towards = |pitch_deg: i32, focal_mm: f64| Stance {
                aim: Aim::Turned { heading_deg: middle.degrees(), pitch_deg: f64::from(pitch_deg), roll_deg: 0.0 },
                focal_mm: Some(focal_mm),
                orientation: Some(home.orientation),
                ..from.clone()
            };
            let mut any = false;
            for remark in &way.remarks {
                match remark {
                    Remark::WouldStraighten(straightener) => {
                        any = true;
                        let (kind, does) = match straightener {
                            Straightener::Pitch(pitch) => (0, straightens(&facing(*pitch, home.camera.focal_mm), None)),
                            Straightener::Zoom { focal_mm, pitch } => {
                                (1, straightens(&facing(*pitch, *focal_mm), None))
                            }
                            Straightener::Aspect(aspect) => (2, straightens(&from, Some(aspect.ratio()))),
                            Straightener::Lens(name) => {
                                let other =
                                    Stance { lens: name.clone(), focal_mm: None, aim: Aim::Correct, ..from.clone() };
                                (3, straightens(&other, None))
                            }
                        };
                        assert!(does, "{straightener:?} does not: {}", told());
                        named[kind] += 1;
                    }
                    Remark::NothingStraightens => {
                        any = true;
                        nothing += 1;
                        for pitch_deg in -20..=70 {
                            for focal_mm in [home.lens.focal_mm, home.camera.focal_mm] {
                                let other = towards(pitch_deg, focal_mm);
                                assert!(!straightens(&other, None), "{pitch_deg}° {focal_mm} mm does: {}", told());
                            }
                            for lens in bag {
                                for orientation in [Orientation::Portrait, Orientation::Landscape] {
                                    let other = Stance {
                                        lens: lens.into(),
                                        focal_mm: None,
                                        orientation: Some(orientation),
                                        ..towards(pitch_deg, 0.0)
                                    };
                                    assert!(!straightens(&other, None), "{pitch_deg}° {lens} does: {}", told());
                                }
                            }
                        }
                        for (width, height) in [(1.0, 3.0), (1.0, 2.0), (2.0, 3.0), (1.0, 1.0), (3.0, 2.0), (3.0, 1.0)]
                        {
                            assert!(!straightens(&from, Some(width / height)), "{width}:{height} does: {}", told());
                        }
                    }
                    _ => {}
                }
            }
            // Whatever cannot be straightened says what would, or that nothing does.
            assert!(any, "{}", told());
            assert!(found.straightener_words().is_some());
        }
    }
    assert!(named.iter().all(|count| *count > 2) && nothing > 1, "{named:?} {nothing}");
}

/// From the yard of the saltings, as reckoned beside the program.
#[test]
fn from_the_saltings_yard_the_gentler_pitch_is_offered() {
    let survey = surveyed(SCENES.iter().find(|scene| scene.name == "saltings").expect("a scene").text, "saltings");
    let yard = survey.model.site.stance("yard, standing").expect("a stance").clone();
    let found = all_ways(&survey, &yard);
    let said = found.sentence(Units::M);
    assert!(said.starts_with("Converges 2.9°: not upright. Cheapest: ") && said.contains(" Best: "), "{said}");
    let tilts: Vec<&Way> = found.rows.iter().filter(|way| matches!(way.remedy, Remedy::Tilt { .. })).collect();
    let straighten = the(&found, |remedy| *remedy == Remedy::Straighten { tilt_left: 0.0 });
    let megapixels = |way: &Way| way.figures.and_then(|figures| figures.megapixels()).expect("a final picture");
    assert!(!tilts.is_empty());
    for tilt in tilts {
        // With every margin, and more of it than of the pitch as it is.
        assert!(tilt.figures.and_then(|figures| figures.kept()).expect("kept").margins_kept, "{tilt:?}");
        assert!(megapixels(tilt) > 1.3 * megapixels(straighten), "{tilt:?}");
        assert!(detail(tilt) > 1.1 * detail(straighten), "{tilt:?}");
        let place = |wanted: &Way| found.rows.iter().position(|way| way == wanted).expect("a row");
        assert!(place(tilt) < place(straighten));
    }
}

#[test]
fn what_cannot_be_asked_is_refused() {
    let survey = surveyed_blocks(TOWER);
    let from = stance((0.0, -45.0), 1.6, "24 mm", Aim::Fill);
    let ask = |options: Options| ways(&survey, &from, &MeasureSettings::default(), &options);
    assert!(matches!(ask(Options { bag: vec!["a brick".into()], ..Options::default() }), Err(WaysError::Kit(_))));
    for walk_m in [0.0, 1e12, f64::NAN, -5.0] {
        let refused = ask(Options { farthest_walk_m: walk_m, ..Options::default() });
        assert!(matches!(refused, Err(WaysError::Walk(_))), "{walk_m}");
    }
    let bare = surveyed_blocks("(name: \"shed\", at: (0, 0), shape: Box(width_m: 6, depth_m: 6, height_m: 4))");
    let refused = ways(&bare, &from, &MeasureSettings::default(), &Options::default());
    assert!(refused.expect_err("no subject").to_string().contains("subject: true"));
}

#[test]
fn hardly_possible_stances_have_ways_too() {
    let survey = surveyed(SCENES[0].text, SCENES[0].name);
    let air = Stance { eye_height_m: Some(30.0), ..stance((0.0, -40.0), 1.6, "24 mm", Aim::Fill) };
    let away = stance((0.0, -40.0), 1.6, "24 mm", Aim::Turned { heading_deg: 180.0, pitch_deg: 0.0, roll_deg: 0.0 });
    let over = Stance { eye_height_m: Some(70.0), ..stance((0.0, 0.0), 1.6, "24 mm", Aim::At(0.0, 0.0, 0.0)) };
    let fisheye = stance((0.0, -40.0), 1.6, "12 mm equisolid fisheye", Aim::Fill);
    let boat = stance((70.0, 0.0), 1.6, "24-70 mm", Aim::Fill);
    let wall = stance((0.0, -2.7), 1.6, "24-70 mm", Aim::Level);
    for from in [air, away, over, fisheye, boat, wall] {
        let found = all_ways(&survey, &from);
        assert!(found.rows.len() > 3, "{from:?}");
        for way in found.rows.iter().chain(&found.by_lens) {
            let metres = |metres: f64, digits: usize| format!("{metres:.digits$} m");
            let said = way.remark_words(&metres) + &way.effort.words(&metres);
            assert!(!said.contains("NaN") && !said.contains("inf"), "{said}");
        }
    }
}

#[test]
fn the_command_tells_the_ways_in_a_hundred_columns_or_as_json() {
    let folder = tempfile::tempdir().expect("a folder");
    for scene in SCENES {
        std::fs::write(folder.path().join(format!("{}.site.ron", scene.name)), scene.text).expect("written");
    }
    let file = format!("{}.site.ron", SCENES[0].name);
    let asked = |more: &[&str]| {
        let mut words = vec!["ways", &file, "--stance", "yard, standing"];
        words.extend(more);
        run(folder.path(), &words)
    };
    let told = asked(&[]).good();
    assert!(told.lines().all(|line| line.chars().count() <= 100), "{told}");
    for words in
        ["Converges 2.9°: not upright.", "Walk back 30 m", "Climb the coal stage", "Raise the camera to 17.8 m, level"]
    {
        assert!(told.contains(words), "{words}: {told}");
    }
    assert!(asked(&["--units", "ft"]).good().contains(" px/ft"));
    let json = asked(&["--json"]).json();
    let ways = json["ways"].as_array().expect("ways");
    assert!(ways.iter().all(|way| way["outcome"] == "not_here" || way["figures"]["megapixels"].is_number()));
    // A stance of a row can be put into the site's file as it is.
    let stance: Stance = ways
        .iter()
        .find(|way| way["kind"] == "back_off")
        .map(|way| serde_json::from_value(way["stance"].clone()).expect("a stance"))
        .expect("a row");
    assert!(stance.at.1 < -40.0);
    assert!(
        json["by_lens"]
            .as_array()
            .is_some_and(|rows| rows.len() == 4 && rows.iter().all(|row| row["kind"] == "best_place"))
    );
    asked(&["--bag", "a brick"]).refused(2, "no lens is called 'a brick'");
    asked(&["--walk", "1e9"]).refused(2, "--walk");
    asked(&["--upright", "NaN"]).refused(2, "--upright");
    run(folder.path(), &["ways", &file]).refused(2, "give a standpoint");
    let bare = "(format: 1, name: \"t\", blocks: [(name: \"s\", at: (0, 0), shape: Box(width_m: 1, depth_m: 1, height_m: 1))])";
    std::fs::write(folder.path().join("bare.site.ron"), bare).expect("written");
    run(folder.path(), &["ways", "bare.site.ron", "--at", "0,-9", "--heading", "0"]).refused(1, "subject: true");
}
