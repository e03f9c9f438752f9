//! The materials look, measured on its pixels: it moves no edge and no shadow, and what it draws has its stated size.

use crate::angle::Angle;
use crate::optics::{Camera, Frame, Margins};
use crate::pose::{Attitude, Pose, WorldPoint};
use crate::progress::Progress;
use crate::sight::Sight;
use crate::site::{Model, Site, Sun};
use crate::theme::Colour;

use super::{Look, Picture, Scene, Style, View, render};

fn site(text: &str) -> Site {
    crate::files::ron_options().from_str(text).expect("a site")
}

fn frame(width_px: u32, height_px: u32) -> Frame {
    let height_mm = 36.0 * f64::from(height_px) / f64::from(width_px);
    Frame { width_mm: 36.0, height_mm, width_px, height_px, margins: Margins::USUAL }
}

fn look(eye: (f64, f64, f64), heading_deg: f64, pitch_deg: f64) -> Pose {
    let attitude = Attitude {
        heading: Angle::from_degrees(heading_deg),
        pitch: Angle::from_degrees(pitch_deg),
        roll: Angle::ZERO,
    };
    Pose { eye: WorldPoint::new(eye.0, eye.1, eye.2), attitude }
}

fn view(width_px: u32, height_px: u32, focal_mm: f64, pose: Pose) -> View {
    View { camera: Camera::plain(frame(width_px, height_px), focal_mm), pose, focus: None }
}

fn take(text: &str, view: &View, style: &Style) -> Picture {
    let model = Model::build(site(text));
    let sight = Sight::over(&model);
    render(&Scene { model: &model, sight: &sight }, view, style, &Progress::unwatched()).expect("a picture")
}

fn light(picture: &Picture, x: u32, y: u32) -> f64 {
    let [red, green, blue] = picture.pixel(x, y).expect("inside");
    Colour(red, green, blue).luminance()
}

/// Whether a pixel differs by more than the last digits: a tile that sees sky alone is asked for fewer rays.
fn apart(one: &Picture, other: &Picture, x: u32, y: u32) -> bool {
    let [a, b] = [one, other].map(|picture| picture.pixel(x, y).expect("inside"));
    (0..3).any(|channel| a[channel].abs_diff(b[channel]) > 3)
}

fn row_of(view: &View, point: (f64, f64, f64)) -> f64 {
    let point = WorldPoint::new(point.0, point.1, point.2);
    view.camera.pixel_from_view(&view.pose.view_of(&point)).expect("in the frame").y
}

#[test]
fn a_course_of_brick_is_75_mm_in_the_picture() {
    let text = "(format: 1, name: \"t\", blocks: [(name: \"pier\", subject: true, finish: Brick, at: (0, 0.5), \
                shape: Box(width_m: 2.4, depth_m: 1, height_m: 2.4))])";
    let view = view(600, 600, 50.0, look((0.0, -3.0, 1.2), 0.0, 0.0));
    let picture = take(text, &view, &Style::of(Look::Materials));
    // The mean of a strip of wall, row by row: the joints of mortar are the lightest rows.
    let (first, last) = (row_of(&view, (0.0, 0.0, 2.2)) as u32, row_of(&view, (0.0, 0.0, 0.9)) as u32);
    let mean_of = |y: u32| (200..400).map(|x| light(&picture, x, y)).sum::<f64>() / 200.0;
    let strip: Vec<f64> = (first..last).map(mean_of).collect();
    let mut joints: Vec<f64> = Vec::new();
    for y in 3..strip.len() - 3 {
        let about = &strip[y - 3..=y + 3];
        let lowest = about.iter().copied().fold(f64::INFINITY, f64::min);
        if about.iter().all(|&light| light <= strip[y]) && strip[y] > 1.04 * lowest {
            let weight: f64 = about.iter().map(|light| light - lowest).sum();
            let moment: f64 = about.iter().zip(y - 3..).map(|(light, y)| (light - lowest) * (y as f64 + 0.5)).sum();
            joints.push(f64::from(first) + moment / weight);
        }
    }
    assert!(joints.len() >= 12, "{joints:?}");
    // The wall stands square to the camera; a joint is the lowest 10 mm of its course.
    let mut seen = 0;
    for course in 12..30 {
        let row = row_of(&view, (0.0, 0.0, f64::from(course) * 0.075 + 0.005));
        if row < f64::from(first) + 5.0 || row > f64::from(last) - 5.0 {
            continue;
        }
        let off = joints.iter().map(|joint| (joint - row).abs()).fold(f64::INFINITY, f64::min);
        assert!(off < 0.5, "course {course}: {off} px off");
        seen += 1;
    }
    assert!(seen >= 12, "{seen}");
}

#[test]
fn a_person_is_170_cm_in_the_picture() {
    let text = "(format: 1, name: \"t\")";
    let view = view(900, 600, 35.0, look((0.0, 0.0, 1.6), 0.0, 0.0));
    let style = |figures| Style { figures, ..Style::of(Look::Materials) };
    let (empty, peopled) = (take(text, &view, &style(Vec::new())), take(text, &view, &style(vec![(0.0, 9.0)])));
    let differs = |y: u32| (438..462).any(|x| apart(&empty, &peopled, x, y));
    let first = (0..600).find(|&y| differs(y)).expect("a head");
    let crown = row_of(&view, (0.0, 9.0, 1.70));
    // The first row that shows any of it holds its edge.
    assert!((f64::from(first) + 0.5 - crown).abs() < 0.6, "{first} {crown}");
    // The shoes are darker than the ground under them.
    let sole = row_of(&view, (0.0, 9.0, 0.0)) as u32;
    let dark = |y: u32| (444..457).filter(|&x| light(&peopled, x, y) < 0.5 * light(&empty, x, y)).count();
    assert!(dark(sole - 2) > 3 && dark(sole + 1) == 0, "{} {}", dark(sole - 2), dark(sole + 1));
}

#[test]
fn materials_move_no_edge() {
    let text = "(format: 1, name: \"t\", blocks: [
        (name: \"stack\", subject: true, at: (0, 0), shape: RoundTaper(foot_radius_m: 2.6, head_radius_m: 1.5, height_m: 42)),
        (name: \"engine house\", at: (-14, 3), heading_deg: 12, shape: Gable(width_m: 12, depth_m: 9, eaves_m: 7.5, ridge_m: 11)),
        (name: \"tower\", at: (14, 6), heading_deg: 20, shape: Box(width_m: 5, depth_m: 5, height_m: 20)),
        (name: \"mast\", at: (7, -9), shape: Mast(foot_radius_m: 0.2, head_radius_m: 0.1, height_m: 18))])";
    let view = view(450, 300, 20.0, look((2.0, -46.0, 1.6), 0.0, 14.0));
    let sun = Some(Sun { azimuth_deg: 230.0, altitude_deg: 30.0 });
    let not_sky = |style: &Style| -> Vec<bool> {
        let (full, empty) = (take(text, &view, style), take("(format: 1, name: \"t\")", &view, style));
        let pixels = (0..200).flat_map(|y| (0..450).map(move |x| (x, y)));
        pixels.map(|(x, y)| apart(&full, &empty, x, y)).collect()
    };
    let card = not_sky(&Style { sun, ink: false, contours: false, ..Style::default() });
    let materials = not_sky(&Style { sun, ..Style::of(Look::Materials) });
    let covered = card.iter().filter(|covered| **covered).count();
    let differing = card.iter().zip(&materials).filter(|(a, b)| a != b).count();
    assert!(covered > 8_000, "{covered}");
    // A pixel of which a sixteenth is covered may round to the sky's own byte in one of the two.
    assert!(differing * 200 < covered, "{differing} of {covered}");
}

#[test]
fn shadows_are_the_polygons_worked_by_hand() {
    let text = "(format: 1, name: \"t\", blocks: [(name: \"pier\", subject: true, at: (0, 0), \
                shape: Box(width_m: 2, depth_m: 3, height_m: 6))])";
    let sun = Sun { azimuth_deg: 215.0, altitude_deg: 40.0 };
    let view = view(600, 600, 40.0, look((2.0, 3.0, 40.0), 0.0, -90.0));
    let picture = take(text, &view, &Style { sun: Some(sun), ..Style::of(Look::Materials) });
    let (sine, cosine) = sun.azimuth_deg.to_radians().sin_cos();
    let long_m = 6.0 / sun.altitude_deg.to_radians().tan();
    // A place lies in shadow where some point of the way towards the sun, as long as the pier's shadow, is over the pier.
    let shaded = |x: f64, y: f64, grown: f64| {
        (0..=600).any(|step| {
            let way_m = (long_m + grown) * f64::from(step) / 600.0;
            (x + way_m * sine).abs() < 1.0 + grown && (y + way_m * cosine).abs() < 1.5 + grown
        })
    };
    let (mut dark, mut lit) = (Vec::new(), Vec::new());
    for step in 0..60 * 60 {
        let (x, y) = (-6.0 + 0.25 * f64::from(step % 60), -5.0 + 0.25 * f64::from(step / 60));
        let pixel = view.camera.pixel_from_view(&view.pose.view_of(&WorldPoint::new(x, y, 0.0))).expect("ahead");
        let inside = |place: f64| (2.0..597.0).contains(&place);
        if (x.abs() < 1.8 && y.abs() < 2.4) || !inside(pixel.x) || !inside(pixel.y) {
            continue;
        }
        let seen = light(&picture, pixel.x as u32, pixel.y as u32);
        // Off the half-shade.
        if shaded(x, y, -0.12) {
            dark.push(seen);
        } else if !shaded(x, y, 0.12) {
            lit.push(seen);
        }
    }
    assert!(dark.len() > 100 && lit.len() > 500, "{} {}", dark.len(), lit.len());
    let darkest_lit = lit.iter().copied().fold(1.0, f64::min);
    let lightest_dark = dark.iter().copied().fold(0.0, f64::max);
    assert!(lightest_dark < darkest_lit, "{lightest_dark} in shadow, {darkest_lit} in the sun");
}

#[test]
fn the_same_bytes_whatever_the_number_of_threads() {
    let model = Model::build(site(super::tests::THIN_THINGS));
    let sight = Sight::over(&model);
    let scene = Scene { model: &model, sight: &sight };
    let view = view(161, 107, 24.0, look((-9.0, -47.0, 1.6), 10.0, 15.0));
    let sun = Some(Sun { azimuth_deg: 238.0, altitude_deg: 27.0 });
    let style = Style { sun, company: true, ..Style::of(Look::Materials) };
    let taken = |style: &Style| render(&scene, &view, style, &Progress::unwatched()).expect("a picture");
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
        pool.install(|| taken(&style))
    };
    let one = with(1);
    assert!(one == with(2));
    assert!(one != taken(&Style { company: false, ..style.clone() }));
}

#[test]
fn exposure_holds_from_stance_to_stance() {
    let text = "(format: 1, name: \"t\", blocks: [(name: \"screen\", subject: true, finish: Render, at: (0, 10), \
                shape: Prism(outline: [(-30, 0), (30, 0), (30, 1), (-30, 1)], height_m: 30), leans: (by_deg: 0.0001, toward_deg: 0))])";
    let sun = Some(Sun { azimuth_deg: 200.0, altitude_deg: 35.0 });
    let style = Style { sun, ..Style::of(Look::Materials) };
    let mean = |eye: (f64, f64, f64), focal_mm: f64| {
        let picture = take(text, &view(60, 60, focal_mm, look(eye, 0.0, 0.0)), &style);
        (20..40).map(|x| light(&picture, x, 30)).sum::<f64>() / 20.0
    };
    // The same wall, one time with nothing else in the frame, one time from afar beside the sky.
    let (near, far) = (mean((0.0, -10.0, 12.0), 100.0), mean((0.0, -60.0, 12.0), 15.0));
    assert!((near / far - 1.0).abs() < 0.12, "{near} {far}");
}
