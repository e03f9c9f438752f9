//! Is every demo site in order, and does it tell its story?

use std::collections::BTreeSet;

use plumbsight::appraise::Account;
use plumbsight::faults::{FaultKind, faults};
use plumbsight::pose::{WorldPoint, WorldVector};
use plumbsight::scenes::SCENES;
use plumbsight::site::{Model, check_site, check_text, parse_site, write_new};
use plumbsight::survey::{MeasureSettings, Measured, Survey};

use crate::support::random::Random;
use crate::support::surveyed::{subject, surveyed};
use crate::support::{project, tell};

fn scene(name: &str) -> Survey {
    let scene = SCENES.iter().find(|scene| scene.name == name).expect("a scene");
    surveyed(scene.text, name)
}

fn taken(survey: &Survey, name: &str) -> Measured {
    let stance = survey.model.site.stance(name).unwrap_or_else(|| panic!("no stance '{name}'"));
    survey.measure(stance, &MeasureSettings::default()).unwrap_or_else(|error| panic!("{name}: {error}"))
}

fn account(survey: &Survey, name: &str) -> Account {
    taken(survey, name).account
}

fn convergence_deg(account: &Account) -> f64 {
    account.convergence.expect("in front").angle().degrees()
}

#[test]
fn every_file_of_the_folder_is_a_scene_of_the_program() {
    let mut files: Vec<String> = std::fs::read_dir(project().join("scenes"))
        .expect("the folder of scenes")
        .map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned())
        // A window that was opened on one of them keeps its plan there.
        .filter(|name| !name.ends_with(".plan.ron"))
        .collect();
    files.sort();
    let mut known: Vec<String> = SCENES.iter().map(|scene| format!("{}.site.ron", scene.name)).collect();
    known.sort();
    assert_eq!(files, known);
}

#[test]
fn every_scene_reads_without_warnings_and_returns_from_being_written() {
    for scene in SCENES {
        let problems = check_text(scene.text, scene.name);
        assert!(problems.is_empty(), "{problems}");
        let site = parse_site(scene.text, scene.name).expect("a site");
        assert!(check_site(&site).is_empty());
        let again = parse_site(&write_new(&site), scene.name).unwrap_or_else(|problems| panic!("{problems}"));
        assert_eq!(again, site, "{}", scene.name);
        let names: BTreeSet<&str> = site.stances.iter().map(|stance| stance.name.as_str()).collect();
        assert_eq!(names.len(), site.stances.len());
        assert!((4..=8).contains(&site.stances.len()), "{}: {} stances", scene.name, site.stances.len());
        let names: BTreeSet<&str> = site.blocks.iter().map(|block| block.name.as_str()).collect();
        assert_eq!(names.len(), site.blocks.len());
    }
}

#[test]
fn no_scene_has_a_fault_but_that_a_front_is_not_named() {
    for scene in SCENES {
        let site = parse_site(scene.text, scene.name).expect("a site");
        let mut found = faults(&Model::build(site));
        found.retain(|fault| !matches!(fault.kind, FaultKind::NoFront { .. }));
        assert!(found.is_empty(), "{}: {found:?}", scene.name);
    }
}

#[test]
fn every_saved_stance_can_be_taken_up_and_most_see_the_subject() {
    for scene in SCENES {
        let survey = surveyed(scene.text, scene.name);
        let mut well_seen = 0;
        for stance in &survey.model.site.stances {
            let account = account(&survey, &stance.name);
            let seen = account.visible_share.expect("looked");
            well_seen += usize::from(seen >= 0.6);
            assert!(seen > 0.15, "{}, {}: {seen}", scene.name, stance.name);
        }
        let all = survey.model.site.stances.len();
        assert!(3 * well_seen >= 2 * all, "{}: the subject is seen from {well_seen} of {all}", scene.name);
    }
}

#[test]
fn a_stance_that_looks_north_is_told_to_look_north() {
    for scene in SCENES {
        let survey = surveyed(scene.text, scene.name);
        for stance in &survey.model.site.stances {
            let heading_deg = taken(&survey, &stance.name).standing.pose.attitude.heading.compass_degrees();
            assert!(heading_deg < 360.0 - 1e-9, "{}, {}: {heading_deg:?}", scene.name, stance.name);
        }
    }
    let survey = scene("ropewalk");
    let heading_deg = taken(&survey, "kerb, standing").standing.pose.attitude.heading.compass_degrees();
    assert_eq!(format!("{heading_deg:?}"), "0.0");
}

#[test]
fn at_the_saltings_distance_level_and_rise_help_and_the_yard_does_not() {
    let survey = scene("saltings");
    let upright = |name: &str| account(&survey, name).reads_upright.expect("measured");
    for name in ["slip, standing", "field gate", "yard, level and wide", "yard, with rise"] {
        assert!(upright(name), "{name}");
    }
    for name in ["by the wall, low", "yard, standing"] {
        assert!(!upright(name), "{name}");
    }
    // Lower closes more, the raised stage a little less, twice the distance much less.
    let closes = |name: &str| convergence_deg(&account(&survey, name));
    assert!(closes("by the wall, low") > closes("yard, standing"));
    assert!(closes("coal stage") < closes("yard, standing"));
    assert!(closes("slip, standing") < 0.4 * closes("yard, standing"));
    // A stack that tapers: what narrows is shape and tilt together.
    let taper = account(&survey, "yard, standing").taper.expect("flanks");
    assert!(taper.seen < taper.shape && taper.nominal == Some(1.5 / 2.6));
    // The level picture with a crop keeps fewer pixels on the stack than rise does.
    let detail = |name: &str| account(&survey, name).lowest_detail.expect("seen").0.px_per_m;
    assert!(detail("yard, with rise") > 1.5 * detail("yard, level and wide"));
}

#[test]
fn at_ropewalk_the_kerb_is_too_near_and_the_answers_are_across_the_street_and_up() {
    let survey = scene("ropewalk");
    for name in ["kerb, crouching", "kerb, standing"] {
        let account = account(&survey, name);
        assert!(convergence_deg(&account) > 60.0, "{name}: {}", convergence_deg(&account));
        assert!(matches!(account.straightened, Some(Err(_))), "{name} can be straightened");
    }
    for name in ["end of the alley, with rise", "bakery roof, level"] {
        let account = account(&survey, name);
        assert!(convergence_deg(&account).abs() < 1e-9 && account.in_frame_share == Some(1.0), "{name}");
    }
    let along = account(&survey, "along the street");
    let square = along.squareness.expect("a front");
    assert!(along.front.is_some_and(|front| front.named));
    assert!(square.off_square.degrees().abs() > 30.0);
    assert!(square.horizontals.expect("in front").degrees().abs() > 10.0);
}

#[test]
fn at_wendle_the_hillside_stands_level_at_half_the_tower() {
    let survey = scene("wendle");
    let Measured { standing, account: level, .. } = taken(&survey, "hillside, level");
    assert!(convergence_deg(&level).abs() < 1e-9);
    let subject = subject(&survey);
    let share = (standing.pose.eye.z - subject.base_m) / (subject.top_m - subject.base_m);
    assert!((share - 0.5).abs() < 0.08, "the eye is at {share} of the tower's height, its cap left out");
    // From the lane below it is seen from much farther down than from the path above.
    let below = account(&survey, "lane below");
    let elevation = |account: &Account| account.top_elevation.expect("a head").degrees();
    assert!(elevation(&below) > 2.0 * elevation(&level));
    assert!(convergence_deg(&below) > 1.0);
    assert!(
        convergence_deg(&account(&survey, "scaffold")) < convergence_deg(&account(&survey, "churchyard, standing"))
    );
}

/// The share that is seen, told from a few hundred points, against many points drawn at random all over the skin, and each
/// looked at alone.
#[test]
fn the_share_that_is_seen_is_that_of_the_whole_skin() {
    let mut errors = Vec::new();
    for scene in SCENES {
        let survey = surveyed(scene.text, scene.name);
        let (model, subject) = (&survey.model, subject(&survey));
        let skin = dense_skin(&survey, 16_000);
        let saved = model.site.stances.iter().filter_map(|stance| {
            let feet_m = model.footing(stance.at, stance.on.as_deref()).ok()?.height_m;
            Some(WorldPoint::new(stance.at.0, stance.at.1, feet_m + stance.height_m))
        });
        // All around, 12 to 80 m off: where it stands free, where a corner hides half of it, and where an alley lets a
        // strip of it be seen.
        let around = (0..40).filter_map(|step| {
            let (turn, far_m) = (2.4 * f64::from(step), 12.0 + 68.0 * (0.618 * f64::from(step)).fract());
            let at = (subject.middle.x + far_m * turn.sin(), subject.middle.y + far_m * turn.cos());
            Some(WorldPoint::new(at.0, at.1, model.footing(at, None).ok()?.height_m + 1.6))
        });
        for eye in saved.chain(around).filter(|eye| model.block_around(eye).is_none()) {
            let share = |points: &[(WorldPoint, WorldVector)]| {
                let facing: Vec<_> = points.iter().filter(|(point, normal)| normal.dot(&(eye - point)) > 0.0).collect();
                let free = facing.iter().filter(|(point, normal)| survey.sight.is_free(&eye, &(point + normal * 4e-3)));
                (facing.len() > 1000 || points.len() < 1000).then(|| free.count() as f64 / facing.len() as f64)
            };
            let few: Vec<_> = subject.samples.iter().map(|sample| (sample.point, sample.normal)).collect();
            if let (Some(dense), Some(told)) = (share(&skin), share(&few)) {
                errors.push(((told - dense).abs(), format!("{}: {told:.3} for {dense:.3} from {eye}", scene.name)));
            }
        }
    }
    errors.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mean = errors.iter().map(|(error, _)| error).sum::<f64>() / errors.len() as f64;
    let (worst, twentieth) = (&errors[0], errors[errors.len() / 20].0);
    tell(&format!(
        "seen: {} eyes, off by {:.1} points on average, {:.1} for the worst in twenty, {:.1} at worst",
        errors.len(),
        100.0 * mean,
        100.0 * twentieth,
        100.0 * worst.0
    ));
    assert!(errors.len() > 100);
    assert!(mean < 0.011 && twentieth < 0.035 && worst.0 < 0.06, "{mean} {twentieth} {}", worst.1);
}

/// Points drawn at random on the subject's skin, as many on each square metre, those under other blocks or the ground left
/// out.
fn dense_skin(survey: &Survey, count: usize) -> Vec<(WorldPoint, WorldVector)> {
    let model = &survey.model;
    let mut parts = Vec::new();
    let mut total_m2 = 0.0;
    for solid in model.subject().map(|block| &model.solids[block]) {
        for triangle in &solid.triangles {
            let [a, b, c] = solid.corners(triangle);
            let normal = (b - a).cross(&(c - a));
            if normal.norm() > 0.0 && normal.normalize().z > -0.99 {
                total_m2 += 0.5 * normal.norm();
                parts.push((total_m2, [a, b, c], normal.normalize()));
            }
        }
    }
    let mut random = Random::new(20);
    let mut skin = Vec::new();
    for _ in 0..count {
        let wanted_m2 = random.between(0.0, total_m2);
        let (_, [a, b, c], normal) = parts[parts.partition_point(|part| part.0 < wanted_m2).min(parts.len() - 1)];
        let (mut s, mut t) = (random.between(0.0, 1.0), random.between(0.0, 1.0));
        if s + t > 1.0 {
            (s, t) = (1.0 - s, 1.0 - t);
        }
        let point = a + (b - a) * s + (c - a) * t;
        let beside = point + normal * 5e-3;
        if beside.z >= model.site.terrain.height_m((beside.x, beside.y)) && model.block_around(&beside).is_none() {
            skin.push((point, normal));
        }
    }
    skin
}
