//! Is a picture called upright exactly where all of it holds, and is what is wrong told first, with its figure?
//!
//! Numbers are by hand: similar triangles, and the lean of a plumb line at a bearing α from a camera of pitch θ,
//! atan(tan α · sin θ).

use plumbsight::angle::Angle;
use plumbsight::appraise::Measures;
use plumbsight::optics::Orientation;
use plumbsight::scenes::SCENES;
use plumbsight::site::{Aim, Stance};
use plumbsight::survey::{MeasureSettings, Measured, Survey};
use plumbsight::units::Units;
use plumbsight::verdict::{Fault, Verdict};
use plumbsight::ways::{Holding, Options, Remedy, WayOutcome, ways};

use crate::support::random::Random;
use crate::support::surveyed::{stance, surveyed, surveyed_blocks, turned};

fn measured(survey: &Survey, stance: &Stance) -> Measured {
    survey.measure(stance, &MeasureSettings::default()).unwrap_or_else(|error| panic!("{}: {error}", stance.name))
}

fn measured_by(survey: &Survey, stance: &Stance, measures: Measures) -> Measured {
    survey.measure(stance, &MeasureSettings { measures, ..MeasureSettings::default() }).expect("a stance")
}

fn landscape(stance: Stance) -> Stance {
    Stance { orientation: Some(Orientation::Landscape), ..stance }
}

/// A mast half a metre thick between a barn and a shed.
const MAST: &str = "(name: \"mast\", subject: true, at: (0, 0), shape: Box(width_m: 0.5, depth_m: 0.5, height_m: 20)), \
                    (name: \"barn\", at: (-9, 0), shape: Box(width_m: 4, depth_m: 4, height_m: 10)), \
                    (name: \"shed\", at: (6, 0), shape: Box(width_m: 4, depth_m: 4, height_m: 8))";

#[test]
fn a_slim_mast_is_upright_and_its_picture_is_not_where_a_neighbour_leans() {
    let survey = surveyed_blocks(MAST);
    let from = landscape(stance((0.0, -20.0), 1.6, "24 mm", Aim::Fill));
    let Measured { standing, account, verdict, .. } = measured(&survey, &from);
    // The barn's near outer corner, 11 m aside and 18 m ahead, leans most of all that is seen.
    let (heading, pitch) = (standing.pose.attitude.heading, standing.pose.attitude.pitch);
    assert!(heading.wrapped().degrees().abs() < 1e-9 && pitch.degrees() > 15.0);
    let lean = |aside_m: f64, ahead_m: f64| (aside_m / ahead_m * pitch.sin()).atan().to_degrees();
    let noticed = account.largest_in_picture.expect("something leans");
    assert!((noticed.lean.degrees() - lean(11.0, 18.0)).abs() < 1e-9, "{noticed:?}");
    assert_eq!(survey.model.site.blocks[noticed.block].name, "barn");
    // The mast's own edges, a quarter of a metre off the middle, lean a few tenths of a degree.
    let own = account.largest_lean.expect("verticals").degrees();
    assert!((own - lean(0.25, 19.75)).abs() < 1e-9 && own < 0.6, "{own}");
    assert_eq!(
        (verdict.subject_upright, verdict.picture_upright, verdict.whole_in_frame, verdict.seen, verdict.upright),
        (Some(true), Some(false), true, Some(true), false)
    );
    assert_eq!(verdict.faults, [Fault::PictureLeans { lean: noticed.lean, block: "barn".into() }]);
    assert_eq!(verdict.headline(Units::M), format!("Subject upright; barn leans {:.1}°", noticed.lean.degrees()));
    assert!(verdict.subject_is_fine());
    // The threshold is the user's: at a degree over the barn's lean nothing is wrong, at a tenth of the mast's both are.
    let lenient = Measures { upright: noticed.lean + Angle::from_degrees(1.0), ..Measures::default() };
    let Measured { verdict, .. } = measured_by(&survey, &from, lenient);
    assert!(verdict.upright && verdict.faults.is_empty());
    assert_eq!(verdict.headline(Units::M), "Upright");
    let critical = Measures { upright: Angle::from_degrees(0.1 * own), ..Measures::default() };
    let Measured { verdict, .. } = measured_by(&survey, &from, critical);
    assert!(matches!(verdict.faults[..], [Fault::SubjectLeans { .. }, Fault::PictureLeans { .. }]), "{verdict:?}");
    assert!(!verdict.subject_is_fine());
}

#[test]
fn a_neighbour_without_a_name_is_no_number_in_a_sentence() {
    // As importers count what has no name.
    for number in ["847", "block 847"] {
        let survey = surveyed_blocks(&MAST.replace("barn", number));
        let Measured { verdict, .. } = measured(&survey, &landscape(stance((0.0, -20.0), 1.6, "24 mm", Aim::Fill)));
        let words = verdict.headline(Units::M) + &verdict.why(Units::M).join("; ");
        assert!(words.starts_with("Subject upright; an unnamed block leans ") && !words.contains("847"), "{words}");
    }
}

/// A post beside a tower, of such a height that it is drawn a tenth of the frame long.
#[test]
fn a_line_shorter_than_a_tenth_of_the_frame_does_not_count() {
    let tower = "(name: \"tower\", subject: true, at: (0, 0), shape: Box(width_m: 0.3, depth_m: 0.3, height_m: 24))";
    let post = |height_m: f64| {
        surveyed_blocks(&format!(
            "{tower}, (name: \"post\", at: (-8, 0), shape: Box(width_m: 0.2, depth_m: 0.2, height_m: {height_m}))"
        ))
    };
    let from = landscape(stance((0.0, -24.0), 1.6, "20 mm", turned(0.0, 20.0, 0.0)));
    // By hand: the near outer edge, 8.1 m left and 23.9 m ahead, of a lens pitched up by 20°.
    let drawn_share = |height_m: f64| {
        let (sine, cosine) = 20.0_f64.to_radians().sin_cos();
        let place = |up_m: f64| {
            let depth_m = 23.9 * cosine + up_m * sine;
            (20.0 * -8.1 / depth_m, 20.0 * (up_m * cosine - 23.9 * sine) / depth_m)
        };
        let (base, top) = (place(-1.6), place(height_m - 1.6));
        (top.0 - base.0).hypot(top.1 - base.1) / 24.0
    };
    let (mut low_m, mut high_m) = (0.5, 20.0);
    for _ in 0..60 {
        let middle_m = 0.5 * (low_m + high_m);
        if drawn_share(middle_m) < 0.1 { low_m = middle_m } else { high_m = middle_m }
    }
    let noticed = |height_m: f64, shortest_stretch: f64| {
        let measures = Measures { shortest_stretch, ..Measures::default() };
        let survey = post(height_m);
        let Measured { account, verdict, .. } = measured_by(&survey, &from, measures);
        let noticed = account.largest_in_picture.expect("the tower is seen");
        let name = survey.model.site.blocks[noticed.block].name.clone();
        assert_eq!(verdict.picture_upright, Some(name == "tower"), "{height_m}: {noticed:?}");
        (name, noticed)
    };
    assert_eq!(noticed(low_m - 0.001, 0.1).0, "tower");
    let (name, long) = noticed(low_m + 0.001, 0.1);
    assert_eq!(name, "post");
    assert!((long.stretch - 0.1).abs() < 1e-3, "{}", long.stretch);
    let expected = (8.1 / 23.9 * 20.0_f64.to_radians().sin()).atan().to_degrees();
    assert!((long.lean.degrees() - expected).abs() < 1e-9, "{expected}");
    // How long a line must be is the user's.
    assert_eq!(noticed(low_m - 0.001, 0.09).0, "post");
    assert_eq!(noticed(low_m + 0.001, 0.11).0, "tower");
}

#[test]
fn of_a_line_only_what_is_seen_counts() {
    // A barn whose walls are hidden up to a metre below its eaves: what is left to see is less than a tenth of the frame.
    let wall =
        "(name: \"wall\", at: (0, 0), shape: Wall(path: [(-30, -10), (-2, -10)], thickness_m: 0.2, height_m: 5.6))";
    let from = landscape(stance((0.0, -20.0), 1.6, "24 mm", Aim::Fill));
    let barn_is_noticed = |rest: &str| {
        let survey = surveyed_blocks(&format!("{MAST}{rest}"));
        let Measured { account, verdict, .. } = measured(&survey, &from);
        let leaning = |drawn: &plumbsight::verticals::DrawnLine| {
            survey.model.site.blocks[drawn.line.block].name == "barn" && drawn.is_visible() == Some(true)
        };
        let any = account.lines.iter().any(leaning);
        let noticed = account.largest_in_picture.map(|noticed| survey.model.site.blocks[noticed.block].name.clone());
        (any, noticed, verdict.picture_upright)
    };
    let (any, noticed, upright) = barn_is_noticed("");
    assert!(any && noticed.as_deref() == Some("barn") && upright == Some(false));
    // By hand: from 1.6 m over a wall 5.6 m high, 9.9 m ahead, the barn at 18 m is hidden below 8.9 m.
    let (any, noticed, _) = barn_is_noticed(&format!(", {wall}"));
    assert!(any, "its top is seen");
    assert_ne!(noticed.as_deref(), Some("barn"));
}

#[test]
fn a_frame_that_cuts_says_how_little_it_holds() {
    // A board 60 m high, 20 m off, level and landscape: the frame ends 20 · 12/24 = 10 m over the lens.
    let survey = surveyed_blocks(
        "(name: \"board\", subject: true, at: (0, 0.01), shape: Box(width_m: 6, depth_m: 0.02, height_m: 60))",
    );
    let from = landscape(stance((0.0, -20.0), 1.6, "24 mm", turned(0.0, 0.0, 0.0)));
    let Measured { verdict, .. } = measured(&survey, &from);
    let [Fault::Cut { in_frame_share }] = verdict.faults[..] else { panic!("{verdict:?}") };
    assert!((in_frame_share - 11.6 / 60.0).abs() < 0.01, "{in_frame_share}");
    assert_eq!(
        (verdict.subject_upright, verdict.picture_upright, verdict.whole_in_frame, verdict.upright),
        (Some(true), Some(true), false, false)
    );
    assert_eq!(
        verdict.headline(Units::M),
        format!("The frame holds only {:.0} % of the subject", 100.0 * in_frame_share)
    );
    assert!(!verdict.subject_is_fine());
    // Turned away there is nothing of it in the frame, and nothing upright either.
    let away = Stance { aim: turned(180.0, 0.0, 0.0), ..from };
    let Measured { verdict, .. } = measured(&survey, &away);
    assert!(!verdict.upright && !verdict.whole_in_frame && !verdict.faults.is_empty(), "{verdict:?}");
    assert!(matches!(verdict.faults[0], Fault::Cut { in_frame_share: 0.0 }), "{verdict:?}");
}

#[test]
fn where_nothing_is_seen_that_comes_first_and_no_way_is_offered_that_sees_nothing() {
    // A wall 12 m high, 8 m ahead, hides all of a tower 40 m off: up to 1.6 + 10.4 · 40/8 = 53.6 m.
    let survey = surveyed_blocks(
        "(name: \"tower\", subject: true, at: (0, 0), shape: Box(width_m: 5, depth_m: 5, height_m: 30)), \
         (name: \"wall\", at: (0, -32), shape: Box(width_m: 60, depth_m: 0.2, height_m: 12))",
    );
    for aim in [Aim::Fill, Aim::Level, Aim::LeastTilt, Aim::Correct, turned(0.0, 0.0, 0.0)] {
        let from = stance((0.0, -40.0), 1.6, "14 mm", aim);
        let Measured { verdict, .. } = measured(&survey, &from);
        assert_eq!(verdict.faults[0], Fault::NothingSeen, "{aim:?}: {verdict:?}");
        assert_eq!((verdict.seen_share, verdict.seen, verdict.upright), (Some(0.0), Some(false), false), "{aim:?}");
        assert_eq!(verdict.headline(Units::M), "Nothing of the subject is seen");
        let found = ways(&survey, &from, &MeasureSettings::default(), &Options::default()).expect("ways");
        assert!(
            found.sentence(Units::M).starts_with("Nothing of the subject is seen."),
            "{}",
            found.sentence(Units::M)
        );
        let held = |held| found.rows.iter().find(|way| way.remedy == Remedy::Holding(held)).expect("a row");
        assert_eq!(held(Holding::Crouching).outcome, WayOutcome::NotHere);
        for way in found.rows.iter().chain(&found.by_lens) {
            let seen = way.figures.map(|figures| figures.visible_share.expect("looked"));
            assert_eq!(way.outcome == WayOutcome::NotHere, seen.is_none(), "{way:?}");
            assert!(seen.is_none_or(|share| share >= 0.02), "{way:?}");
        }
        // What is advised shows most of the subject.
        for mend in [found.advice.cheapest, found.advice.best].into_iter().flatten() {
            let way = found.advised(mend);
            assert!(way.verdict.as_ref().is_some_and(|verdict| verdict.seen_share >= Some(0.5)), "{way:?}");
        }
    }
}

#[test]
fn hidden_heights_are_those_of_similar_triangles() {
    // A board 20 m high, 50 m off; its front alone faces the camera.
    let board =
        "(name: \"board\", subject: true, at: (0, 50.01), shape: Box(width_m: 0.5, depth_m: 0.02, height_m: 20))";
    let from = stance((0.0, 0.0), 1.6, "24 mm", Aim::Fill);
    let fault = |rest: &str| {
        let survey = surveyed_blocks(&format!("{board}, {rest}"));
        let Measured { verdict, .. } = measured(&survey, &from);
        let words = verdict.headline(Units::M);
        match verdict.faults.into_iter().next() {
            Some(Fault::Hidden { seen_share, stretches_m, .. }) => (seen_share, stretches_m, words),
            other => panic!("{other:?}"),
        }
    };
    let at = |height_m: f64, ahead_m: f64| 1.6 + (height_m - 1.6) * 50.0 / ahead_m;
    let near = |found: &[(f64, f64)], expected: &[(f64, f64)]| {
        let close = |a: f64, b: f64| (a - b).abs() < 0.02;
        assert!(
            found.len() == expected.len()
                && found.iter().zip(expected).all(|(a, b)| close(a.0, b.0) && close(a.1, b.1)),
            "{found:?} for {expected:?}"
        );
    };
    // A hoarding 2.6 m high, its far edge at 12.01 m: hidden below 5.8 m.
    let hoarding =
        "(name: \"hoarding\", at: (0, 12), shape: Wall(path: [(-30, 0), (30, 0)], thickness_m: 0.02, height_m: 2.6))";
    let (share, stretches_m, words) = fault(hoarding);
    let hidden_m = at(2.6, 11.99);
    near(&stretches_m, &[(0.0, hidden_m)]);
    assert!((share - (1.0 - hidden_m / 20.0)).abs() < 0.02, "{share}");
    assert_eq!(words, format!("Only {:.0} % of the subject is seen: hidden below {hidden_m:.1} m", 100.0 * share));
    // A beam at 4 to 5 m, 20 m ahead and 0.4 m deep, hides a band: its lower edge by its front, its upper by its front too
    // seen from below, for the upper back edge is lower in the picture.
    let beam = "(name: \"beam\", at: (0, 20), lift_m: 4, shape: Box(width_m: 40, depth_m: 0.4, height_m: 1))";
    let (_, stretches_m, words) = fault(beam);
    near(&stretches_m, &[(at(4.0, 20.2), at(5.0, 19.8))]);
    assert!(words.contains(&format!("hidden from {:.1} m to {:.1} m", at(4.0, 20.2), at(5.0, 19.8))), "{words}");
    // A canopy over the camera hides its top.
    let canopy = "(name: \"canopy\", at: (0, 3), lift_m: 2.4, shape: Box(width_m: 8, depth_m: 2, height_m: 0.2))";
    let (_, stretches_m, words) = fault(canopy);
    near(&stretches_m, &[(at(2.4, 4.0), 20.0)]);
    assert!(words.contains(&format!("hidden above {:.1} m", at(2.4, 4.0))), "{words}");
    // Both at once.
    let (_, stretches_m, words) = fault(&format!("{hoarding}, {canopy}"));
    near(&stretches_m, &[(0.0, hidden_m), (at(2.4, 4.0), 20.0)]);
    assert!(words.contains(" and above "), "{words}");
}

/// On every demo site, from its stances and from places at random: upright is what is seen, whole, and upright in all parts; and
/// what is wrong is told.
#[test]
fn upright_is_all_of_it_and_whatever_is_not_is_told() {
    let mut random = Random::new(2027);
    let (mut upright, mut not) = (0, 0);
    for scene in SCENES {
        let survey = surveyed(scene.text, scene.name);
        let middle = survey.subject.as_ref().expect("a subject").middle;
        let mut stances = survey.model.site.stances.clone();
        for _ in 0..60 {
            let (bearing, away_m) = (random.between(0.0, std::f64::consts::TAU), random.between_octaves(15.0, 180.0));
            let at = (middle.x + away_m * bearing.sin(), middle.y + away_m * bearing.cos());
            let aim = *random.one_of(&[Aim::Fill, Aim::Level, Aim::Rise, Aim::LeastTilt, Aim::Correct]);
            let lens = *random.one_of(&["14 mm", "24-70 mm", "70-200 mm", "24 mm with 12 mm rise", "50 mm"]);
            stances.push(stance(at, *random.one_of(&[0.9, 1.6, 4.2, 20.0]), lens, aim));
        }
        for stance in &stances {
            let Ok(Measured { account, verdict, .. }) = survey.measure(stance, &MeasureSettings::default()) else {
                continue;
            };
            let told = || format!("{}, {stance:?}: {verdict:?}", scene.name);
            let limit = Angle::from_degrees(0.6);
            let seen = account.visible_share.expect("looked") >= 0.9;
            let subject = account.largest_lean.is_some_and(|lean| lean <= limit);
            let picture = account.largest_in_picture.is_none_or(|noticed| noticed.lean <= limit);
            assert_eq!(verdict.upright, seen && account.whole_in_frame && subject && picture, "{}", told());
            assert_eq!(verdict.upright, verdict.faults.is_empty(), "{}", told());
            assert_eq!(verdict.why(Units::M).len(), verdict.faults.len());
            assert_eq!(verdict.subject_upright == Some(true), subject, "{}", told());
            assert_eq!(verdict.picture_upright, Some(picture), "{}", told());
            // What hides or cuts comes before what leans.
            let rank = |fault: &Fault| match fault {
                Fault::NoOutline(_) => 0,
                Fault::NothingSeen | Fault::Hidden { .. } => 1,
                Fault::Cut { .. } => 2,
                Fault::SubjectLeans { .. } => 3,
                Fault::PictureLeans { .. } => 4,
            };
            assert!(verdict.faults.iter().map(rank).is_sorted(), "{}", told());
            for units in [Units::M, Units::Ft] {
                let words = verdict.headline(units) + &verdict.why(units).join("; ");
                assert!(!words.contains("NaN") && !words.contains("inf ") && !words.contains('"'), "{words}");
            }
            if verdict.upright {
                upright += 1;
            } else {
                not += 1;
            }
        }
    }
    assert!(upright > 15 && not > 50, "{upright} upright, {not} not");
}

#[test]
fn a_stance_amid_its_subject_has_no_verdict_and_says_why() {
    let survey = surveyed_blocks(
        "(name: \"plate\", subject: true, at: (0, 0), shape: Box(width_m: 40, depth_m: 40, height_m: 2))",
    );
    let over = Stance { eye_height_m: Some(12.0), ..stance((0.0, 0.0), 1.6, "24 mm", turned(0.0, -20.0, 0.0)) };
    let Measured { verdict, .. } = measured(&survey, &over);
    assert!(matches!(verdict.faults[0], Fault::NoOutline(_)) && !verdict.upright, "{verdict:?}");
    let Verdict { subject_upright, .. } = verdict;
    // Its corners lie in front and lean; nobody calls that upright.
    assert_ne!(subject_upright, Some(true));
}
