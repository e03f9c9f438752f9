//! Is the least tilt the least, and does the aim for straightening keep the most?
//!
//! Both are held to sweeps: every hundredth of a degree of pitch for the least tilt, pitches and focal lengths for
//! straightening, each attitude taken up and measured by itself. A camera is tried with the subject centred from side to side,
//! as the aims leave it.

use plumbsight::aim::AimError;
use plumbsight::appraise::Measures;
use plumbsight::optics::{Camera, Distortion, Margins, Orientation};
use plumbsight::pose::WorldPoint;
use plumbsight::scenes::SCENES;
use plumbsight::site::{Aim, Stance};
use plumbsight::stance::{StanceError, Standing};
use plumbsight::survey::{MeasureSettings, Survey};

use crate::support::random::Random;
use crate::support::surveyed::{stance, subject, surveyed, surveyed_blocks, turned};

/// Whether a subject is within its margins, and how far off the middle it is from side to side, in mm.
struct Drawn {
    held: bool,
    off_mm: f64,
}

/// The subject as a camera draws it, by similar triangles; as the lens's mapping says where it bends lines.
fn drawn(corners: &[WorldPoint], camera: &Camera, eye: &WorldPoint, heading: f64, pitch: f64) -> Option<Drawn> {
    let ((sin_h, cos_h), (sin_p, cos_p)) = (heading.sin_cos(), pitch.sin_cos());
    let [mut left, mut right, mut low, mut high] = [f64::MAX, f64::MIN, f64::MAX, f64::MIN];
    for corner in corners {
        let away = corner - eye;
        let (ahead, aside) = (away.x * sin_h + away.y * cos_h, away.x * cos_h - away.y * sin_h);
        let (depth, above) = (ahead * cos_p + away.z * sin_p, away.z * cos_p - ahead * sin_p);
        let (x, y) = if camera.draws_straight() {
            if depth <= 0.0 {
                return None;
            }
            let mm = |across: f64| camera.focal_mm * across / depth;
            (mm(aside) - camera.shift_mm, mm(above) - camera.rise_mm)
        } else {
            let place = camera.picture_from_view(&nalgebra::Vector3::new(aside, -above, depth))?;
            (place.x, place.y)
        };
        (left, right, low, high) = (left.min(x), right.max(x), low.min(y), high.max(y));
    }
    let frame = &camera.frame;
    const HAIR_MM: f64 = 1e-6;
    let Margins { side, above } = frame.margins;
    let side_mm = (0.5 - side) * frame.width_mm + HAIR_MM;
    let held = left >= -side_mm
        && right <= side_mm
        && low >= (side - 0.5) * frame.height_mm - HAIR_MM
        && high <= (0.5 - above) * frame.height_mm + HAIR_MM;
    Some(Drawn { held, off_mm: 0.5 * (left + right) })
}

/// Whether a camera at a pitch holds the subject, turned so that it is centred; by halving about a heading.
fn holds(corners: &[WorldPoint], camera: &Camera, eye: &WorldPoint, about: f64, pitch: f64) -> bool {
    let off = |turn: f64| drawn(corners, camera, eye, about + turn, pitch).map(|drawn| drawn.off_mm);
    let (mut low, mut high) = (-0.35, 0.35);
    // A camera that is turned right moves the subject to the left.
    for _ in 0..48 {
        let middle = 0.5 * (low + high);
        match off(middle) {
            Some(mm) if mm > 0.0 => low = middle,
            Some(_) => high = middle,
            None => return false,
        }
    }
    drawn(corners, camera, eye, about + 0.5 * (low + high), pitch).is_some_and(|drawn| drawn.held)
}

const SUBJECTS: [&str; 7] = [
    "(name: \"a\", subject: true, at: (0, 0), heading_deg: 20, shape: Box(width_m: 9, depth_m: 6, height_m: 24))",
    "(name: \"a\", subject: true, at: (0, 0), shape: RoundTaper(foot_radius_m: 2.6, head_radius_m: 1.5, height_m: 42))",
    "(name: \"a\", subject: true, at: (0, 0), shape: Mast(foot_radius_m: 0.3, head_radius_m: 0.15, height_m: 30))",
    "(name: \"a\", subject: true, at: (0, 0), heading_deg: 180, shape: Facade(width_m: 22, depth_m: 14, height_m: 19, bays: 7, storeys: 5))",
    "(name: \"a\", subject: true, at: (0, 0), shape: PolygonTaper(sides: 6, foot_across_m: 8, head_across_m: 5, height_m: 30)), \
     (name: \"b\", subject: true, at: (9, 3), shape: Box(width_m: 4, depth_m: 4, height_m: 11))",
    "(name: \"a\", subject: true, at: (0, 0), heading_deg: 33, shape: Gable(width_m: 14, depth_m: 9, eaves_m: 6, ridge_m: 11))",
    "(name: \"a\", subject: true, at: (0, 0), lift_m: 12, shape: Dome(radius_m: 4, height_m: 5)), \
     (name: \"b\", subject: true, at: (0, 0), shape: RoundTaper(foot_radius_m: 3, head_radius_m: 3, height_m: 12))",
];

const LENSES: [&str; 7] =
    ["14 mm", "24 mm", "35 mm", "16-35 mm", "24-70 mm", "24 mm with 12 mm rise", "12 mm equisolid fisheye"];

/// A stance somewhere about a subject, with some lens, some of them with rise or a distortion of their own.
fn somewhere(random: &mut Random, aim: Aim) -> Stance {
    let (bearing, away_m) = (random.between(0.0, std::f64::consts::TAU), random.between_octaves(14.0, 120.0));
    let lens = *random.one_of(&LENSES);
    let height_m = *random.one_of(&[0.9, 1.6, 3.0, 9.0, 26.0, 55.0]);
    let mut from = stance((away_m * bearing.sin(), away_m * bearing.cos()), height_m, lens, aim);
    from.orientation = Some(*random.one_of(&[Orientation::Portrait, Orientation::Landscape]));
    if random.bits().is_multiple_of(2) {
        from.margins = Some(Margins { side: random.between(0.0, 0.15), above: random.between(0.0, 0.15) });
    }
    if lens.contains("rise") {
        from.rise_mm = Some(random.between(-6.0, 10.0).round());
    }
    if lens == "24 mm" && random.bits().is_multiple_of(2) {
        // A barrel of two per cent, as wide lenses have.
        from.distortion = Some(Distortion::from_slice(&[-0.06, 0.01, 0.0, 0.0, 0.0]).expect("a distortion"));
    }
    from
}

fn stood(survey: &Survey, from: &Stance) -> Option<Standing> {
    match survey.stand(from) {
        Ok(standing) => {
            assert_eq!(standing.camera.frame.margins, from.margins.unwrap_or_default());
            Some(standing)
        }
        Err(StanceError::Aim(AimError::TooWide | AimError::Outline(_)) | StanceError::InsideBlock { .. }) => None,
        Err(error) => panic!("{from:?}: {error}"),
    }
}

#[test]
fn the_least_tilt_is_the_least_of_a_sweep() {
    let mut random = Random::new(14);
    let (mut tilted, mut level, mut cut) = (0, 0, 0);
    let surveys = SUBJECTS.map(surveyed_blocks);
    for number in 0..280 {
        let survey = &surveys[number % SUBJECTS.len()];
        let corners = &subject(survey).corners;
        let from = somewhere(&mut random, Aim::LeastTilt);
        let Some(found) = stood(survey, &from) else { continue };
        let (eye, attitude, camera) = (found.pose.eye, found.pose.attitude, &found.camera);
        let told = || format!("{from:?}\n{attitude:?} {:?}", found.fullness);
        let (heading, pitch) = (attitude.heading.radians(), attitude.pitch.radians());
        let in_margins = found.fullness.expect("aimed") <= 1.0 + 1e-9;
        // The same attitude taken up by itself says so too.
        let taken = Stance {
            aim: turned(attitude.heading.degrees(), attitude.pitch.degrees(), 0.0),
            focal_mm: Some(camera.focal_mm),
            ..from.clone()
        };
        let taken = survey.stand(&taken).expect("a stance");
        assert_eq!(taken.fullness.expect("aimed") <= 1.0 + 1e-6, in_margins, "{} {:?}", told(), taken.fullness);
        let step = 0.01_f64.to_radians();
        let swept = |camera: &Camera, to_rad: f64| {
            let steps = (to_rad.abs() / step).floor() as i32;
            (0..=steps)
                .map(|index| f64::from(index) * step * to_rad.signum())
                .find(|&tried| holds(corners, camera, &eye, heading, tried))
        };
        if !in_margins {
            // Nothing holds it at this pitch or any other.
            let reach = 60.0_f64.to_radians();
            let any = (-240..=240).map(|index| f64::from(index) / 240.0 * reach);
            let held: Vec<f64> = any.filter(|&tried| holds(corners, camera, &eye, heading, tried)).collect();
            assert!(held.is_empty(), "{}: {:.2}° holds it", told(), held[0].to_degrees());
            cut += 1;
        } else if pitch == 0.0 {
            assert!(holds(corners, camera, &eye, heading, 0.0), "{}", told());
            // A zoom is as long as a level camera lets it be.
            if found.lens.is_zoom() && camera.focal_mm < found.lens.longest_mm() - 1e-6 {
                let longer = Camera { focal_mm: 1.001 * camera.focal_mm, ..*camera };
                assert!(!holds(corners, &longer, &eye, heading, 0.0), "{}", told());
            }
            level += 1;
        } else {
            assert!(holds(corners, camera, &eye, heading, pitch + 1e-9 * pitch.signum()), "{}", told());
            if let Some(less) = swept(camera, pitch) {
                let by = (pitch - less).abs().to_degrees();
                assert!(by <= 0.01, "{}: {:.3}° holds it", told(), less.to_degrees());
            }
            tilted += 1;
        }
    }
    assert!(tilted > 60 && level > 30 && cut > 10, "{tilted} tilted, {level} level, {cut} cut");
}

#[test]
fn held_either_way_the_least_tilt_is_the_lesser_of_both() {
    let mut random = Random::new(3);
    let mut compared = 0;
    for blocks in SUBJECTS {
        let survey = surveyed_blocks(blocks);
        for _ in 0..12 {
            let free = Stance { orientation: None, ..somewhere(&mut random, Aim::LeastTilt) };
            let Some(found) = stood(&survey, &free) else { continue };
            let pitch = |standing: &Standing| standing.pose.attitude.pitch.radians().abs();
            let holds = |standing: &Standing| standing.fullness.is_some_and(|fullness| fullness <= 1.0 + 1e-9);
            let held = [Orientation::Portrait, Orientation::Landscape]
                .map(|way| stood(&survey, &Stance { orientation: Some(way), ..free.clone() }).filter(holds));
            if let Some(least) = held.iter().flatten().map(pitch).reduce(f64::min) {
                assert!(holds(&found) && pitch(&found) <= least + 1e-12, "{free:?}");
                compared += 1;
            }
        }
    }
    assert!(compared > 50, "{compared}");
}

/// What straightening keeps from a pitch and focal length: whether with its margins, and the lowest detail on the subject.
fn kept(survey: &Survey, from: &Stance, heading_deg: f64, pitch_deg: f64, focal_mm: f64) -> Option<(bool, f64)> {
    let taken = Stance { aim: turned(heading_deg, pitch_deg, 0.0), focal_mm: Some(focal_mm), ..from.clone() };
    let standing = survey.stand(&taken).ok()?;
    let subject = subject(survey);
    let account = plumbsight::appraise::appraise(&survey.model, Ok(subject), None, &standing, &Measures::default());
    let kept = account.straightened?.ok()?;
    Some((kept.margins_kept, kept.detail_kept?.px_per_m))
}

#[test]
fn no_pitch_and_focal_length_straightens_to_more_than_the_aim_for_it() {
    let mut random = Random::new(23);
    let (mut compared, mut zooms, mut worst) = (0, 0, 0.0_f64);
    let surveys = SUBJECTS.map(surveyed_blocks);
    for number in 0..70 {
        let survey = &surveys[number % SUBJECTS.len()];
        let from = somewhere(&mut random, Aim::Correct);
        let Some(found) = stood(survey, &from) else { continue };
        let attitude = found.pose.attitude;
        let (heading_deg, pitch_deg) = (attitude.heading.degrees(), attitude.pitch.degrees());
        let own = kept(survey, &from, heading_deg, pitch_deg, found.camera.focal_mm);
        let (shortest_mm, longest_mm) = (found.lens.focal_mm, found.lens.longest_mm());
        let focal_steps = if longest_mm > shortest_mm { 24 } else { 0 };
        let pitches = if focal_steps == 0 { 240 } else { 80 };
        // From level to half again beyond where the subject is centred: nobody pitches a camera so that its subject stands in a
        // corner, where a flat projection stretches what it draws.
        let centred = Stance { aim: Aim::Fill, focal_mm: Some(shortest_mm), ..from.clone() };
        let reach_deg = 1.5 * stood(survey, &centred).map_or(20.0, |centred| centred.pose.attitude.pitch.degrees());
        let mut best: Option<((bool, f64), f64, f64)> = None;
        for step in 0..=focal_steps {
            let focal_mm = shortest_mm + (longest_mm - shortest_mm) * f64::from(step) / f64::from(focal_steps.max(1));
            for index in 0..=pitches {
                let tried_deg = reach_deg * f64::from(index) / f64::from(pitches);
                if let Some(kept) = kept(survey, &from, heading_deg, tried_deg, focal_mm)
                    && best.is_none_or(|(known, ..)| kept > known)
                {
                    best = Some((kept, tried_deg, focal_mm));
                }
            }
        }
        let told = || format!("{from:?}\n{pitch_deg:.3}° {:.2} mm keeps {own:?}, {best:?}", found.camera.focal_mm);
        let Some((best, ..)) = best else {
            continue;
        };
        let own = own.unwrap_or_else(|| panic!("nothing kept: {}", told()));
        assert!(own.0 >= best.0, "without its margins: {}", told());
        if own.0 == best.0 {
            worst = worst.max(best.1 / own.1 - 1.0);
            assert!(own.1 >= 0.98 * best.1, "{}", told());
        }
        compared += 1;
        zooms += usize::from(focal_steps > 0);
    }
    assert!(compared > 30 && zooms > 8, "{compared} {zooms} {worst}");
}

/// The yard of the saltings, portrait with 24 mm: figures found by an independent reckoning beside the program.
#[test]
fn from_the_saltings_yard_a_gentler_pitch_keeps_more() {
    let survey = surveyed(SCENES.iter().find(|scene| scene.name == "saltings").expect("a scene").text, "saltings");
    let yard =
        |aim: Aim| Stance { orientation: Some(Orientation::Portrait), ..stance((0.0, -40.0), 1.6, "24 mm", aim) };
    let measured = |aim: Aim| survey.measure(&yard(aim), &MeasureSettings::default()).expect("a stance");
    let near = |found: f64, expected: f64, to: f64| assert!((found - expected).abs() <= to, "{found} for {expected}");
    let converges =
        |measured: &plumbsight::survey::Measured| measured.account.convergence.expect("in front").angle().degrees();
    let straightened = |measured: &plumbsight::survey::Measured| {
        measured.account.straightened.expect("a subject").expect("straightened")
    };
    let fill = measured(Aim::Fill);
    near(fill.standing.pose.attitude.pitch.degrees(), 23.0, 0.05);
    near(converges(&fill), 2.9, 0.05);
    near(straightened(&fill).megapixels_kept, 5.9, 0.05);
    near(fill.account.detail[2].expect("its top").px_per_m, 57.0, 1.0);
    let least = measured(Aim::LeastTilt);
    near(least.standing.pose.attitude.pitch.degrees(), 14.2, 0.05);
    assert!(straightened(&least).margins_kept);
    let gentle = measured(turned(0.0, 14.0, 0.0));
    near(converges(&gentle), 1.8, 0.05);
    // The reckoning was at 14° to a degree.
    near(straightened(&gentle).megapixels_kept, 9.4, 0.2);
    assert!(straightened(&gentle).margins_kept);
    near(gentle.account.detail[2].expect("its top").px_per_m, 67.0, 1.0);
    let cut = measured(turned(0.0, 11.0, 0.0));
    near(converges(&cut), 1.4, 0.05);
    near(straightened(&cut).megapixels_kept, 10.6, 0.05);
    assert!(!straightened(&cut).margins_kept);
    // The aim for it keeps every margin and as much as any pitch that does.
    let correct = measured(Aim::Correct);
    let own = straightened(&correct);
    let detail = |kept: &plumbsight::verticals::Straightened| kept.detail_kept.expect("seen").px_per_m;
    assert!(own.margins_kept && detail(&own) > detail(&straightened(&gentle)), "{own:?}");
    assert!(detail(&own) > 1.2 * detail(&straightened(&fill)), "{own:?}");
    assert!(correct.standing.pose.attitude.pitch <= least.standing.pose.attitude.pitch);
}
