//! Do whole records follow from nothing but their own stance, camera and world points?
//!
//! Random stances on the demo sites and on random sites; `tests/oracles/account.py` recomputes every figure from the
//! record's JSON with OpenCV and numpy: projected points, leans from two of them, closing from every corner and 100,000
//! points of each circle, tapers, detail by finite differences, the parts of lines in the frame by dense samples, and
//! the homography of the straightened picture.

use plumbsight::optics::{Distortion, Mapping, Orientation};
use plumbsight::record::{LineRecord, Record};
use plumbsight::scenes::SCENES;
use plumbsight::site::{Aim, Stance};
use plumbsight::survey::{MeasureSettings, Measured, Survey};
use serde::Deserialize;
use serde_json::{Value, json};

use crate::support::python::ask;
use crate::support::random::Random;
use crate::support::surveyed::{stance, subject, surveyed, turned};
use crate::support::tell;

/// How many stances are measured on each demo site, beside its saved ones, and on how many random sites.
const ON_EACH_SCENE: usize = 14;
const RANDOM_SITES: usize = 80;
const ON_EACH_SITE: usize = 3;

/// Beside the built-in ones: a lens that sees a sliver of a tower, and every other mapping.
const MORE_LENSES: &str = "(name: \"800 mm\", focal_mm: 800),
    (name: \"8 mm equidistant\", focal_mm: 8, mapping: Equidistant),
    (name: \"11 mm stereographic\", focal_mm: 11, mapping: Stereographic),
    (name: \"15 mm orthographic\", focal_mm: 15, mapping: Orthographic)";

/// A stance measured, with what the oracle is asked.
struct Case {
    record: Record,
    question: Value,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Answer {
    lines: Vec<LineAnswer>,
    bounding_leans_deg: Option<[f64; 2]>,
    distance_m: f64,
    vanishing: [f64; 3],
    seen_taper: Option<f64>,
    shape_taper: Option<f64>,
    named_detail: Option<[Option<f64>; 3]>,
    lowest_detail: Option<f64>,
    top_elevation_deg: Option<f64>,
    in_frame_share: Option<f64>,
    straightened: Option<StraightenedAnswer>,
    cut_share: Option<f64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LineAnswer {
    ends_px: [Option<[f64; 2]>; 2],
    ideal_lean_deg: Option<f64>,
    tolerance_deg: Option<f64>,
    runs: Vec<Run>,
}

/// A stretch of a line inside the frame.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Run {
    ends_px: [[f64; 2]; 2],
    steps_px: [f64; 2],
    length_px: f64,
    shares: [f64; 2],
    line_bend_percent: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct StraightenedAnswer {
    frame_excess_px: f64,
    largest_stretch: f64,
    subject_excess_px: f64,
    margins: [f64; 4],
    #[serde(default)]
    warped_empty: Option<usize>,
    #[serde(default)]
    larger_fits: Option<bool>,
}

/// A box or a round taper somewhere near the origin.
fn random_block(random: &mut Random, name: &str, is_subject: bool, near_m: f64) -> String {
    let at = (random.between(-near_m, near_m), random.between(-near_m, near_m));
    let height_m = random.between_octaves(2.0, 60.0);
    let shape = if random.bits().is_multiple_of(2) {
        let (width_m, depth_m) = (random.between_octaves(1.0, 25.0), random.between_octaves(1.0, 15.0));
        format!("Box(width_m: {width_m:?}, depth_m: {depth_m:?}, height_m: {height_m:?})")
    } else {
        let foot_m = random.between_octaves(0.3, 6.0);
        let tapers = [1.0, random.between(0.2, 0.95), random.between(1.05, 1.5)];
        let head_m = foot_m * *random.one_of(&tapers);
        format!("RoundTaper(foot_radius_m: {foot_m:?}, head_radius_m: {head_m:?}, height_m: {height_m:?})")
    };
    let heading_deg = random.between(-180.0, 180.0);
    format!("(name: \"{name}\", subject: {is_subject}, at: {at:?}, heading_deg: {heading_deg:?}, shape: {shape})")
}

fn random_site(random: &mut Random) -> Survey {
    let mut blocks = vec![random_block(random, "subject", true, 5.0)];
    if random.bits().is_multiple_of(3) {
        blocks.push(random_block(random, "annexe", true, 8.0));
    }
    for index in 0..random.bits() % 4 {
        blocks.push(random_block(random, &format!("other {index}"), false, 60.0));
    }
    let ground_m = random.between(-5.0, 5.0);
    let text = format!(
        "Site(format: 1, name: \"random\", terrain: Plane(height_m: {ground_m:?}), kit: (lenses: [{MORE_LENSES}]), blocks: [{}])",
        blocks.join(", ")
    );
    surveyed(&text, "random")
}

/// A stance that has the subject more or less in view, with any camera.
fn random_stance(random: &mut Random, survey: &Survey) -> Stance {
    let kit = &survey.kit;
    let subject = subject(survey);
    let tall_m = subject.highest_m - subject.base_m;
    let (distance_m, bearing) = (random.between_octaves(0.4, 6.0) * tall_m.max(6.0), random.between(0.0, 360.0_f64));
    let at = (
        subject.middle.x - distance_m * bearing.to_radians().sin(),
        subject.middle.y - distance_m * bearing.to_radians().cos(),
    );
    let height_m = random.between_octaves(0.3, 1.3 * tall_m.max(2.0));
    let heading_deg = bearing + random.between(-20.0, 20.0);
    let pitch_deg = random.between(-30.0, 50.0);
    let rolls_deg = [0.0, 0.0, random.between(-30.0, 30.0)];
    let roll_deg = *random.one_of(&rolls_deg);
    let free = turned(heading_deg, pitch_deg, roll_deg);
    let aims = [Aim::Fill, Aim::Fill, Aim::Level, Aim::Rise, free, free, free, free];
    let lens = random.one_of(&kit.lenses).clone();
    let mut draw = |limit: f64| random.between(-limit, limit);
    let mut coefficients = vec![draw(0.15), draw(0.05), draw(0.003), draw(0.003), draw(0.01)];
    let denominators = [draw(0.1), draw(0.03), draw(0.01)];
    if draw(1.0) > 0.0 {
        coefficients.extend(denominators);
    }
    let bent = (draw(1.0) > 0.2).then(|| Distortion::from_slice(&coefficients).expect("mild"));
    let shift = |travel_mm: f64, share: f64| (travel_mm > 0.0).then_some(travel_mm * share);
    let (rise_mm, shift_mm) = (shift(lens.rise_mm, draw(1.0)), shift(lens.shift_mm, draw(1.0)));
    let focal_mm = (draw(1.0) > 0.0).then(|| lens.focal_mm + (lens.longest_mm() - lens.focal_mm) * draw(0.5).abs());
    Stance {
        format: random.one_of(&kit.formats).name.clone(),
        orientation: *random.one_of(&[None, Some(Orientation::Landscape), Some(Orientation::Portrait)]),
        crop: random
            .one_of(&[None, None, Some("4:5"), Some("1:1"), Some("2:1")])
            .map(|crop| crop.parse().expect("a crop")),
        focal_mm,
        rise_mm,
        shift_mm,
        distortion: bent,
        ..stance(at, height_m, &lens.name, *random.one_of(&aims))
    }
}

/// The case of a stance that can be taken up.
fn case(survey: &Survey, stance: &Stance, plain: bool) -> Option<Case> {
    let settings = MeasureSettings::default();
    let measured = survey.measure(stance, &settings).ok()?;
    let record = survey.record(stance, &measured, &settings);
    let question = question(survey, &measured, &record, plain);
    Some(Case { record, question })
}

/// The record and what it leaves out.
fn question(survey: &Survey, measured: &Measured, record: &Record, plain: bool) -> Value {
    let subject = subject(survey);
    let blocks: Vec<Value> = subject
        .blocks
        .iter()
        .map(|&block| {
            let mut told = serde_json::to_value(&survey.model.site.blocks[block]).expect("plain data");
            told["foot_m"] = json!(subject.base_m);
            told
        })
        .collect();
    let kept = measured.account.straightened.as_ref().and_then(|kept| kept.as_ref().ok()).map(|kept| {
        json!({
            "heading_deg": kept.attitude.heading.degrees(),
            "pitch_deg": kept.attitude.pitch.degrees(),
            "roll_deg": kept.attitude.roll.degrees(),
            "format_mm": [kept.camera.frame.width_mm, kept.camera.frame.height_mm],
            "pixels": [kept.camera.frame.width_px, kept.camera.frame.height_px],
            "focal_mm": kept.camera.focal_mm,
            "rise_mm": kept.camera.rise_mm,
            "lateral_shift_mm": kept.camera.shift_mm,
            "distortion": kept.camera.distortion,
        })
    });
    let worst = measured
        .account
        .lowest_detail
        .map(|(_, sample)| json!({"point_m": sample.point.coords.as_slice(), "normal": sample.normal.as_slice()}));
    let corners: Vec<&[f64]> = subject.corners.iter().map(|corner| corner.coords.as_slice()).collect();
    json!({
        "record": record,
        "blocks": blocks,
        "body": survey.model.site.blocks[subject.body].name,
        "plain": plain,
        "kept": kept,
        "worst": worst,
        "corners_m": corners,
    })
}

/// How much was compared and how far off it was at most.
#[derive(Debug, Default)]
struct Tally {
    points: usize,
    points_px: f64,
    leans: usize,
    convergences: usize,
    convergence_deg: f64,
    parts: usize,
    empty_parts: usize,
    tapers: usize,
    details: usize,
    shares: usize,
    straightened: usize,
    cut: usize,
}

/// Two figures that are both there and near, or both absent.
fn assert_near(what: &str, ours: Option<f64>, theirs: Option<f64>, tolerance: f64, case: &Record) {
    let near = match (ours, theirs) {
        (Some(ours), Some(theirs)) => (ours - theirs).abs() <= tolerance,
        (None, None) => true,
        _ => false,
    };
    assert!(near, "{what}: {ours:?}, by the oracle {theirs:?}, within {tolerance}\n{}", described(case));
}

/// Enough to repeat a case.
fn described(record: &Record) -> String {
    format!("{}\n{:?}\n{:?}\n{:?}", record.site.name, record.stance, record.camera, record.subject)
}

fn distance_px(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

/// Whether a pixel lies at the edge of what the record's lens draws.
fn at_the_lenss_end(record: &Record, pixel: [f64; 2]) -> bool {
    let camera = &record.camera;
    let mm = |side: usize| (pixel[side] / f64::from(camera.pixels[side]) - 0.5) * camera.format_mm[side];
    let drawn = nalgebra::Vector2::new(mm(0) + camera.shift_mm, mm(1) - camera.rise_mm) / camera.focal_mm;
    let ideal = camera.distortion.undistort(drawn);
    ideal.is_none_or(|ideal| ideal.norm() > 0.999 * camera.distortion.valid_radius())
}

fn compare_line(line: &LineRecord, answer: &LineAnswer, record: &Record, tally: &mut Tally) {
    let told = || format!("{line:?}\n{}", described(record));
    for (ours, theirs) in [line.base_px, line.top_px].into_iter().zip(answer.ends_px) {
        match (ours, theirs) {
            (Some(ours), Some(theirs)) => {
                // Far outside the frame a pixel's last digits are coarser.
                let off_px = distance_px(ours, theirs) / (ours[0].hypot(ours[1]) / 1e5).max(1.0);
                assert!(off_px < 1e-6, "{off_px} px off\n{}", told());
                (tally.points, tally.points_px) = (tally.points + 1, tally.points_px.max(off_px));
            }
            (None, None) => assert!(line.why.is_some(), "no reason\n{}", told()),
            // Where exactly a lens's picture ends is the program's own, careful choice: it may end a little earlier.
            (None, Some(_)) => assert!(!record.camera.distortion.is_none(), "not drawn\n{}", told()),
            (Some(_), None) => panic!("drawn, though it cannot be\n{}", told()),
        }
    }
    if let (Some(ours), Some(theirs), Some(tolerance)) =
        (line.ideal_lean_deg, answer.ideal_lean_deg, answer.tolerance_deg)
    {
        let off = (ours - theirs + 180.0).rem_euclid(360.0) - 180.0;
        assert!(off.abs() < tolerance, "lean {off} off, {theirs} by the oracle\n{}", told());
        tally.leans += 1;
    } else {
        assert_eq!(line.ideal_lean_deg.is_some(), answer.ideal_lean_deg.is_some(), "{}", told());
    }
    let longest_px = answer.runs.iter().map(|run| run.length_px).fold(0.0, f64::max);
    let Some(part) = line.in_frame_px else {
        // A lens whose picture ends earlier draws a little less of the line.
        let allowed_px = if record.camera.distortion.is_none() { 1.5 } else { 30.0 };
        assert!(longest_px < allowed_px, "{longest_px} px of it are in the frame\n{}", told());
        assert!(line.lean_deg.is_none() && line.line_bend_percent.is_none(), "{}", told());
        tally.empty_parts += 1;
        return;
    };
    if distance_px(part[0], part[1]) < 1.0 {
        return;
    }
    // An end may also be where the program ends the lens's picture, a little before the oracle does.
    let run = answer.runs.iter().find(|run| {
        (0..2).all(|end| {
            distance_px(part[end], run.ends_px[end]) <= run.steps_px[end] + 1e-3 || at_the_lenss_end(record, part[end])
        })
    });
    let runs = || {
        answer
            .runs
            .iter()
            .map(|run| format!("{:?} {:?} {:?}", run.ends_px, run.steps_px, run.shares))
            .collect::<Vec<_>>()
    };
    let Some(run) = run else { panic!("{part:?} is none of {:?}\n{}", runs(), told()) };
    if (0..2).any(|end| distance_px(part[end], run.ends_px[end]) > run.steps_px[end] + 1e-3) {
        return;
    }
    // Of several parts the longest on the line itself is told.
    let share = |run: &Run| run.shares[1] - run.shares[0];
    assert!(answer.runs.iter().all(|other| share(other) <= share(run) + 0.05), "{:?}\n{}", runs(), told());
    let chord_deg = {
        let mm = |side: usize| {
            (part[1][side] - part[0][side]) * record.camera.format_mm[side] / f64::from(record.camera.pixels[side])
        };
        (-mm(0)).atan2(-mm(1)).to_degrees()
    };
    let off = (chord_deg - line.lean_deg.expect("a lean") + 180.0).rem_euclid(360.0) - 180.0;
    assert!(off.abs() < 1e-6 + 1e-6 / distance_px(part[0], part[1]), "lean of the chord {off} off\n{}", told());
    let line_bend = line.line_bend_percent.expect("a bow").abs();
    assert!(
        (line_bend - run.line_bend_percent).abs() < 0.03 * run.line_bend_percent + 0.02,
        "bow {line_bend} for {}\n{}",
        run.line_bend_percent,
        told()
    );
    tally.parts += 1;
}

fn compare(case: &Case, answer: &Answer, tally: &mut Tally) {
    let Case { record, question } = case;
    let lines: Vec<&LineRecord> = record.verticals.iter().chain(&record.sides).collect();
    let stride = (lines.len() / 30).max(1);
    let chosen: Vec<&LineRecord> = lines.into_iter().step_by(stride).collect();
    assert_eq!(chosen.len(), answer.lines.len());
    for (line, answer) in chosen.into_iter().zip(&answer.lines) {
        compare_line(line, answer, record, tally);
    }

    let subject = record.subject.as_ref().expect("a subject");
    for side in 0..2 {
        let ours = subject.bounding_leans_deg.map(|leans| leans[side]);
        assert_near("bounding lean", ours, answer.bounding_leans_deg.map(|leans| leans[side]), 1e-5, record);
    }
    let convergence_deg = answer.bounding_leans_deg.map(|[left, right]| right - left);
    assert_near("closing", subject.convergence_deg, convergence_deg, 1e-5, record);
    if let (Some(ours), Some(theirs)) = (subject.convergence_deg, convergence_deg) {
        (tally.convergences, tally.convergence_deg) =
            (tally.convergences + 1, tally.convergence_deg.max((ours - theirs).abs()));
    }

    if subject.distance_m.is_some() {
        assert_near("distance", subject.distance_m, Some(answer.distance_m), 2e-3, record);
    }

    let [u, v, w] = answer.vanishing;
    match record.vanishing_point_mm {
        Some([right, up]) => {
            assert!((right * w - u).hypot(up * w - v) < 1e-9 * u.hypot(v).max(1.0), "{}", described(record));
        }
        None => assert!(u.hypot(v) > 0.999e6 * w.abs(), "{}", described(record)),
    }
    let [right, up] = record.vanishing_direction;
    let along = (right * u + up * v) / u.hypot(v) * if w < 0.0 { -1.0 } else { 1.0 };
    assert!(u.hypot(v) < 1e-6 || (along - 1.0).abs() < 1e-9, "{}", described(record));

    for (what, ours, theirs) in [
        ("seen taper", subject.seen_taper, answer.seen_taper),
        ("shape taper", subject.shape_taper, answer.shape_taper),
    ] {
        // The record has both or neither: one is of no use alone.
        if ours.is_some() || answer.seen_taper.is_some() && answer.shape_taper.is_some() {
            assert_near(what, ours, theirs, 1e-6 * theirs.unwrap_or(0.0).abs().max(1.0), record);
            tally.tapers += 1;
        }
    }
    if let (Some(seen), Some(shape)) = (subject.seen_taper, subject.shape_taper) {
        assert_near("tilt", subject.tilt_factor, Some(seen / shape), 1e-9 * (seen / shape).abs(), record);
    }

    let details = &subject.detail_px_per_m;
    let blocks = question["blocks"].as_array().expect("blocks");
    let round =
        blocks.iter().any(|block| block["name"] == question["body"] && block["shape"].get("RoundTaper").is_some());
    if let Some(named) = answer.named_detail {
        // Flat pieces stand in for a circle and fall short of it by up to 2 mm.
        let share = if round { 0.01 } else { 1e-4 };
        for (ours, theirs) in [details.base, details.middle, details.top].into_iter().zip(named) {
            if let (Some(_), Some(theirs)) = (ours, theirs) {
                assert_near("detail", ours, Some(theirs), share * theirs, record);
                tally.details += 1;
            }
        }
        let tolerance = if round { 0.2 } else { 1e-6 };
        assert_near("head's elevation", subject.top_elevation_deg, answer.top_elevation_deg, tolerance, record);
    }
    assert_near("lowest detail", details.lowest, answer.lowest_detail, 1e-4 * details.lowest.unwrap_or(0.0), record);
    if let Some(theirs) = answer.in_frame_share {
        assert_near("share in the frame", subject.in_frame_share, Some(theirs), 0.05, record);
        tally.shares += 1;
    }

    let kept = record.straightened.as_ref().expect("a subject");
    if let Some(found) = &answer.straightened {
        let told = || format!("{kept:?}\n{}", described(record));
        assert!(found.frame_excess_px < 1e-6, "{} px outside the frame\n{}", found.frame_excess_px, told());
        let straight = record.camera.distortion.is_none() && record.camera.mapping == Mapping::Rectilinear;
        // A bent lens's largest stretch may be anywhere; it is found to one in ten thousand.
        let allowed = if straight { 1.0 + 1e-6 } else { 1.0 + 1e-4 };
        assert!(found.largest_stretch <= allowed, "stretched by {}\n{}", found.largest_stretch, told());
        assert!(found.largest_stretch > 0.999, "shrunk to {}\n{}", found.largest_stretch, told());
        // The rectangle is cut to whole pixels.
        assert!(found.subject_excess_px < 1.0, "{} px cut off\n{}", found.subject_excess_px, told());
        let pixels = kept.pixels.expect("kept").map(f64::from);
        if kept.margins_kept == Some(true) {
            for (margin, (least, side)) in found.margins.into_iter().zip([(0.05, 0), (0.05, 0), (0.08, 1), (0.05, 1)]) {
                assert!(margin > least - 1.0 / pixels[side], "{:?}\n{}", found.margins, told());
            }
        }
        if let Some(empty) = found.warped_empty {
            assert_eq!(empty, 0, "{}", told());
            // No larger one fits, unless it had more pixels than the picture it is made from.
            let all = record.camera.pixels.map(f64::from);
            assert!(pixels[0] * pixels[1] <= all[0] * all[1], "{}", told());
            let full = pixels[0] * pixels[1] > 0.98 * all[0] * all[1];
            assert!(full || found.larger_fits == Some(false), "a larger rectangle fits\n{}", told());
        }
        tally.straightened += 1;
    } else if let Some(theirs) = answer.cut_share {
        let too_wide = kept.why_not.as_deref().is_some_and(|why| why.contains("too far off"));
        if !too_wide {
            assert_near("share cut off", Some(kept.subject_cut_share), Some(theirs), 0.02, record);
            tally.cut += 1;
        }
    }
}

#[test]
fn whole_records_follow_from_their_own_stance_and_camera() {
    let mut random = Random::new(11);
    let mut cases: Vec<Case> = Vec::new();
    for scene in SCENES {
        let survey = surveyed(scene.text, scene.name);
        cases.extend(survey.model.site.stances.iter().map(|saved| case(&survey, saved, false).expect(&saved.name)));
        let wanted = cases.len() + ON_EACH_SCENE;
        while cases.len() < wanted {
            let stance = random_stance(&mut random, &survey);
            cases.extend(case(&survey, &stance, false));
        }
    }
    for _ in 0..RANDOM_SITES {
        let survey = random_site(&mut random);
        let wanted = cases.len() + ON_EACH_SITE;
        while cases.len() < wanted {
            let stance = random_stance(&mut random, &survey);
            cases.extend(case(&survey, &stance, true));
        }
    }
    let questions: Vec<&Value> = cases.iter().map(|case| &case.question).collect();
    let answers: Vec<Answer> = ask("tests/oracles/account.py", &questions);
    assert_eq!(answers.len(), cases.len());
    let mut tally = Tally::default();
    for (case, answer) in cases.iter().zip(&answers) {
        compare(case, answer, &mut tally);
    }
    tell(&format!("oracle_account: {} records follow: {tally:?}", cases.len()));
    assert!(tally.points > 3000 && tally.leans > 2000 && tally.parts > 800 && tally.empty_parts > 200, "{tally:?}");
    assert!(tally.convergences > 200 && tally.tapers > 200 && tally.details > 300 && tally.shares > 100, "{tally:?}");
    assert!(tally.straightened > 20 && tally.cut > 60, "{tally:?}");
}
