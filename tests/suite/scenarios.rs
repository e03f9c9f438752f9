//! Do the rules of the trade hold?
//!
//! What photographers know from experience, as scenes with numbers. Unless a test names a source, its rule is
//! common practice, no source.

use plumbsight::angle::Angle;
use plumbsight::appraise::{Account, Measures, appraise};
use plumbsight::optics::Kit;
use plumbsight::outline::Subject;
use plumbsight::pose::WorldPoint;
use plumbsight::sight::Sight;
use plumbsight::site::{Aim, Model, Stance, parse_site};
use plumbsight::stance::{Standing, stand};

/// A site with one subject, ready to be measured from anywhere.
struct Place {
    model: Model,
    subject: Subject,
    sight: Sight,
    kit: Kit,
}

impl Place {
    fn of(blocks: &str) -> Self {
        let text = format!("Site(format: 1, name: \"scenario\", blocks: [{blocks}])");
        let site = parse_site(&text, "scenario").expect("a site");
        let kit = site.whole_kit();
        let model = Model::build(site);
        let (subject, sight) = (Subject::of(&model).expect("a subject"), Sight::over(&model));
        Self { model, subject, sight, kit }
    }

    fn stand(&self, stance: &Stance) -> (Standing, Account) {
        let standing = stand(&self.model, Some(&self.subject), stance, &self.kit).expect("a stance");
        let account = appraise(&self.model, Ok(&self.subject), Some(&self.sight), &standing, &Measures::default());
        (standing, account)
    }

    /// The closing in degrees from a filled frame at a distance south of the subject and a height.
    fn convergence_deg(&self, distance_m: f64, height_m: f64, lens: &str) -> f64 {
        convergence_deg(&self.stand(&stance((0.0, -distance_m), height_m, lens)).1)
    }
}

fn stance(at: (f64, f64), height_m: f64, lens: &str) -> Stance {
    let text = format!("(name: \"s\", at: ({:?}, {:?}), height_m: {height_m:?}, lens: \"{lens}\")", at.0, at.1);
    plumbsight::files::ron_options().from_str(&text).expect("a stance")
}

fn turned(at: (f64, f64), height_m: f64, lens: &str, heading_deg: f64, pitch_deg: f64, roll_deg: f64) -> Stance {
    Stance { aim: Aim::Turned { heading_deg, pitch_deg, roll_deg }, ..stance(at, height_m, lens) }
}

fn convergence_deg(account: &Account) -> f64 {
    account.convergence.expect("in front").angle().degrees()
}

const TOWER: &str = "(name: \"tower\", subject: true, at: (0, 0), shape: Box(width_m: 6, depth_m: 6, height_m: 30))";

#[test]
fn beside_a_porch_standing_up_lessens_the_convergence_and_standing_above_its_middle_reverses_it() {
    // A porch 3 m high at 3 m with a wide lens.
    let porch =
        Place::of("(name: \"porch\", subject: true, at: (0, 0.5), shape: Box(width_m: 2.4, depth_m: 1, height_m: 3))");
    let crouching = porch.convergence_deg(3.0, 0.7, "20 mm");
    let standing = porch.convergence_deg(3.0, 1.45, "20 mm");
    let reaching = porch.convergence_deg(3.0, 2.2, "20 mm");
    assert!(crouching > 8.0, "{crouching}");
    assert!(standing < 0.35 * crouching, "{standing} after {crouching}");
    assert!(reaching < -1.0, "{reaching}");
}

#[test]
fn a_higher_camera_at_the_same_place_converges_a_filled_subject_less() {
    let tower = Place::of(TOWER);
    for lens in ["24 mm", "16-35 mm", "50 mm"] {
        let convergences: Vec<f64> =
            [0.5, 1.6, 3.0, 6.0, 12.0].iter().map(|&height_m| tower.convergence_deg(45.0, height_m, lens)).collect();
        assert!(convergences.windows(2).all(|pair| pair[1] < pair[0]), "{lens}: {convergences:?}");
    }
}

#[test]
fn twice_the_distance_with_twice_the_focal_length_converges_much_less() {
    let tower = Place::of(TOWER);
    let lenses = ["25 mm", "50 mm", "100 mm", "200 mm"];
    let convergences: Vec<f64> = lenses
        .iter()
        .enumerate()
        .map(|(i, lens)| tower.convergence_deg(40.0 * 2.0_f64.powi(i as i32), 1.6, lens))
        .collect();
    for pair in convergences.windows(2) {
        assert!(pair[1] < 0.4 * pair[0], "{convergences:?}");
    }
    // Three doublings leave nearly nothing: it reads as upright (0.6°, Vision Research 30(10), 1990).
    assert!(convergences[3] / 2.0 < 0.6 && convergences[3] < 0.05 * convergences[0], "{convergences:?}");
}

#[test]
fn a_stage_at_the_same_distance_helps_and_one_that_costs_half_the_distance_does_not() {
    let tower = Place::of(TOWER);
    for stage_m in [2.4, 2.7, 3.0] {
        let ground = tower.convergence_deg(60.0, 1.6, "24-70 mm");
        assert!(tower.convergence_deg(60.0, 1.6 + stage_m, "24-70 mm") < ground);
        assert!(tower.convergence_deg(30.0, 1.6 + stage_m, "24-70 mm") > ground);
    }
}

#[test]
fn looking_down_diverges_the_subject_towards_the_top() {
    let tower = Place::of(TOWER);
    let (_, account) = tower.stand(&turned((0.0, -60.0), 45.0, "24 mm", 0.0, -27.0, 0.0));
    assert!(convergence_deg(&account) < 0.0);
    assert!(account.taper.expect("measured").seen > 1.0);
}

#[test]
fn at_half_the_subjects_height_with_even_margins_the_filling_pitch_is_nought() {
    // A thin board, so that foot and head are equally far; the frame's own centre instead of its margins.
    let board =
        Place::of("(name: \"board\", subject: true, at: (0, 0), shape: Box(width_m: 4, depth_m: 0.02, height_m: 30))");
    let (standing, account) = board.stand(&stance((0.0, -70.0), 15.0, "24 mm"));
    let margin_mm = 0.5 * (0.08 - 0.05) * standing.camera.frame.height_mm;
    // All of its pitch serves the larger margin above.
    assert!((standing.pose.attitude.pitch.tan() * 24.0 - margin_mm).abs() < 0.06 * margin_mm);
    let (_, centred) = board.stand(&turned((0.0, -70.0), 15.0, "24 mm", 0.0, 0.0, 0.0));
    assert!(convergence_deg(&centred).abs() < 1e-12 && convergence_deg(&account) < 0.1);
}

#[test]
fn zooming_rise_and_crop_at_a_fixed_place_and_pitch_change_no_lean() {
    let tower = Place::of(TOWER);
    let base = turned((5.0, -40.0), 1.6, "24-70 mm", -4.0, 12.0, 1.0);
    let known = tower.stand(&base).1;
    let zoomed = Stance { focal_mm: Some(61.0), ..base.clone() };
    let cropped = Stance { crop: Some("4:5".parse().expect("a proportion")), ..base.clone() };
    let risen = Stance { lens: "24 mm with 12 mm rise".into(), rise_mm: Some(9.0), ..base };
    for other in [zoomed, cropped, risen] {
        let account = tower.stand(&other).1;
        assert_eq!(account.convergence, known.convergence);
        for (a, b) in account.lines.iter().zip(&known.lines) {
            let change = a.ideal_lean.expect("in front") - b.ideal_lean.expect("in front");
            assert!(change.radians().abs() < 1e-15);
        }
    }
}

#[test]
fn a_level_rolled_camera_leans_everything_by_its_roll_and_converges_nothing() {
    let tower = Place::of(TOWER);
    let (_, account) = tower.stand(&turned((3.0, -40.0), 1.6, "14 mm", 0.0, 0.0, 2.5));
    assert!(convergence_deg(&account).abs() < 1e-12);
    for line in &account.lines {
        assert!((line.ideal_lean.expect("in front").degrees() - 2.5).abs() < 1e-9);
    }
}

#[test]
fn a_subject_off_centre_leans_more_on_its_far_side() {
    let tower = Place::of(TOWER);
    // Looking to its right: the subject lies left of the centre.
    let (_, account) = tower.stand(&turned((0.0, -40.0), 1.6, "24 mm", 12.0, 15.0, 0.0));
    let convergence = account.convergence.expect("in front");
    assert!(convergence.left.abs() > convergence.right.abs());
    assert!(convergence.left.degrees() < 0.0 && convergence.right.degrees() < 0.0);
}

#[test]
fn a_tapered_towers_seen_taper_is_stronger_than_its_shape_exactly_when_the_camera_looks_up() {
    let stack = Place::of(
        "(name: \"stack\", subject: true, at: (0, 0), shape: RoundTaper(foot_radius_m: 2.6, head_radius_m: 1.5, height_m: 42))",
    );
    for pitch_deg in [-8.0, -1.0, 1.0, 12.0] {
        let (_, account) = stack.stand(&turned((0.0, -60.0), 1.6, "24 mm", 0.0, pitch_deg, 0.0));
        let taper = account.taper.expect("measured");
        assert_eq!(taper.seen < taper.shape, pitch_deg > 0.0, "{pitch_deg}: {taper:?}");
        assert!((taper.seen - taper.shape * taper.tilt_factor()).abs() < 1e-12);
        // The model's own ratio is 1.5/2.6; from here its outline differs by less than 2 %.
        assert!((taper.shape / (1.5 / 2.6) - 1.0).abs() < 0.02);
    }
    let level = stack.stand(&turned((0.0, -60.0), 1.6, "24 mm", 0.0, 0.0, 0.0)).1;
    assert!((level.taper.expect("measured").tilt_factor() - 1.0).abs() < 1e-12);
    // It tapers, so it has sides and no verticals; its bounding plumb lines stand in for them.
    assert_eq!(level.largest_lean, Some(Angle::ZERO));
    assert!(level.sides_convergence.expect("flanks").degrees() > 1.0);
}

#[test]
fn an_unshifted_level_horizon_halves_the_frame_and_crosses_everything_at_lens_height() {
    let tower = Place::of(TOWER);
    let (standing, _) = tower.stand(&turned((0.0, -40.0), 1.6, "24 mm", 0.0, 0.0, 0.0));
    for (east, north) in [(-10.0, 3.0), (0.0, -3.0), (20.0, 150.0)] {
        let view = standing.pose.view_of(&WorldPoint::new(east, north, 1.6));
        let pixel = standing.camera.pixel_from_view(&view).expect("in front");
        assert!((pixel.y - 0.5 * f64::from(standing.camera.frame.height_px)).abs() < 1e-9);
    }
}

#[test]
fn a_hoarding_hides_what_similar_triangles_say() {
    // A hoarding of height h at a, seen from e: at distance D it hides up to e + (h − e)·D/a.
    let (e, h, a, d) = (1.6, 2.4, 12.0, 50.0);
    let place = Place::of(&format!(
        "(name: \"board\", subject: true, at: (0, {d}), shape: Box(width_m: 0.5, depth_m: 0.02, height_m: 20)),
         (name: \"hoarding\", at: (0, {a}), shape: Wall(path: [(-30, 0), (30, 0)], thickness_m: 0.02, height_m: {h}))"
    ));
    let hidden_m = e + (h - e) * d / a;
    let (_, account) = place.stand(&turned((0.0, 0.0), e, "24 mm", 0.0, 0.0, 0.0));
    // Its front alone faces the camera, evenly sampled: the share seen is what stands above the hidden part.
    let expected = 1.0 - hidden_m / 20.0;
    assert!((account.visible_share.expect("looked") - expected).abs() < 0.02, "{:?}", account.visible_share);
    let eye = WorldPoint::new(0.0, 0.0, e);
    for (above_m, free) in [(-0.05, false), (0.05, true)] {
        assert_eq!(place.sight.is_free(&eye, &WorldPoint::new(0.0, d - 0.01, hidden_m + above_m)), free);
    }
}
