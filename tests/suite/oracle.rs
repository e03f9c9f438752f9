//! Do general-purpose libraries, asked the same question live, give the same answer?
//!
//! Cameras, attitudes and points are random from a fixed seed, so every run asks the same. `tests/oracles/*.py` state the
//! documented conventions anew, from frame and lens in millimetres and from angles in degrees, and share no code with
//! the program.

use nalgebra::Vector2;
use plumbsight::angle::Angle;
use plumbsight::optics::{Camera, Distortion, Frame, Kit, Mapping, Orientation, PixelPoint};
use plumbsight::pose::{Attitude, Pose, ViewVector, WorldPoint, WorldVector};
use serde::{Deserialize, Serialize};

use crate::support::python::ask;
use crate::support::random::Random;
use crate::support::tell;

/// Half a pixel: OpenCV's (0, 0) is the centre of the top left pixel, ours its corner.
const CORNER_FROM_CENTRE: Vector2<f64> = Vector2::new(0.5, 0.5);
/// How many points are sought for each camera.
const POINTS: usize = 10;

/// A camera with the points it looks at.
struct Scene {
    camera: Camera,
    pose: Pose,
    points: Vec<WorldPoint>,
}

/// The same, as it is told to the oracle.
#[derive(Serialize)]
struct Question {
    width_mm: f64,
    height_mm: f64,
    width_px: u32,
    height_px: u32,
    focal_mm: f64,
    rise_mm: f64,
    shift_mm: f64,
    mapping: Mapping,
    distortion: [f64; 8],
    heading_deg: f64,
    pitch_deg: f64,
    roll_deg: f64,
    eye_m: [f64; 3],
    points_m: Vec<[f64; 3]>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Answer {
    /// The points' pixels.
    pixels: Vec<[f64; 2]>,
    /// Homogeneous pixels of the zenith and of the level direction along the heading.
    #[serde(default)]
    vanishing: Vec<[f64; 3]>,
    /// The points' undistorted slopes x/z, y/z, and by how much they miss when distorted again.
    #[serde(default)]
    slopes: Vec<[f64; 3]>,
    /// The points' pixels in the levelled picture.
    #[serde(default)]
    levelled: Vec<[f64; 2]>,
}

impl Scene {
    /// A random camera somewhere, turned somehow, with points of its picture at 1 to 1000 m.
    fn random(random: &mut Random, mapping: Mapping, distortion: Distortion, pitch_deg: f64) -> Self {
        let kit = Kit::built_in();
        let orientation = *random.one_of(&[Orientation::Landscape, Orientation::Portrait]);
        let frame: Frame = random.one_of(&kit.formats).frame(orientation, None);
        let camera = Camera {
            rise_mm: random.between(-12.0, 12.0),
            shift_mm: random.between(-12.0, 12.0),
            mapping,
            distortion,
            ..Camera::plain(frame, random.between_octaves(10.0, 300.0))
        };
        let attitude = Attitude {
            heading: Angle::from_degrees(random.between(-180.0, 360.0)),
            pitch: Angle::from_degrees(random.between(-pitch_deg, pitch_deg)),
            roll: Angle::from_degrees(random.between(-180.0, 180.0)),
        };
        let eye =
            WorldPoint::new(random.between(-200.0, 200.0), random.between(-200.0, 200.0), random.between(0.0, 100.0));
        let mut scene = Self { camera, pose: Pose { eye, attitude }, points: Vec::new() };
        for _ in 0..POINTS * 20 {
            if scene.points.len() == POINTS {
                break;
            }
            // Somewhere about the frame, kept if it is drawn inside it: nothing here relies on the inverse.
            let across = (random.between(-0.7, 0.7) * frame.width_mm + camera.shift_mm) / camera.focal_mm;
            let down = (random.between(-0.7, 0.7) * frame.height_mm - camera.rise_mm) / camera.focal_mm;
            let view = match mapping {
                Mapping::Rectilinear => ViewVector::new(across, down, 1.0),
                // Beyond 89° off the axis the oracle's fisheye has no answer.
                _ if across.hypot(down) < 1.55 => {
                    let theta = across.hypot(down);
                    let scale = theta.sin() / theta;
                    ViewVector::new(across * scale, down * scale, theta.cos())
                }
                _ => continue,
            };
            let view = view * random.between_octaves(1.0, 1000.0);
            if camera.pixel_from_view(&view).is_some_and(|pixel| camera.holds(pixel)) {
                scene.points.push(eye + attitude.view_from_world().transpose() * view);
            }
        }
        scene
    }

    fn question(&self) -> Question {
        let Camera { frame, focal_mm, rise_mm, shift_mm, mapping, distortion } = self.camera;
        let Attitude { heading, pitch, roll } = self.pose.attitude;
        Question {
            width_mm: frame.width_mm,
            height_mm: frame.height_mm,
            width_px: frame.width_px,
            height_px: frame.height_px,
            focal_mm,
            rise_mm,
            shift_mm,
            mapping,
            distortion: distortion.coefficients(),
            heading_deg: heading.degrees(),
            pitch_deg: pitch.degrees(),
            roll_deg: roll.degrees(),
            eye_m: self.pose.eye.coords.into(),
            points_m: self.points.iter().map(|point| point.coords.into()).collect(),
        }
    }

    fn views(&self) -> impl Iterator<Item = ViewVector> {
        self.points.iter().map(|point| self.pose.view_of(point))
    }

    /// The pixels the program draws the points at.
    fn pixels(&self) -> Vec<PixelPoint> {
        self.views().map(|view| self.camera.pixel_from_view(&view).expect("points are chosen in the picture")).collect()
    }
}

/// k1 to k6, p1 and p2; one in two without the denominators k4 to k6.
fn random_distortion(random: &mut Random) -> Distortion {
    let mut draw = |limit: f64| random.between(-limit, limit);
    let mut coefficients = vec![draw(0.3), draw(0.1), draw(0.005), draw(0.005), draw(0.03)];
    let denominators = [draw(0.3), draw(0.1), draw(0.03)];
    if draw(1.0) > 0.0 {
        coefficients.extend(denominators);
    }
    Distortion::from_slice(&coefficients).expect("mild coefficients")
}

/// What the oracle says of each scene.
fn answers(scenes: &[Scene]) -> Vec<Answer> {
    let questions: Vec<Question> = scenes.iter().map(Scene::question).collect();
    let answers: Vec<Answer> = ask("tests/oracles/projection.py", &questions);
    assert_eq!(answers.len(), scenes.len());
    answers
}

/// The largest distance in pixels between the program's points and the oracle's, and how many points there are.
fn largest_deviation_px(scenes: &[Scene], answers: &[Answer]) -> (f64, usize) {
    let mut largest_px = 0.0_f64;
    let mut count = 0;
    for (scene, answer) in scenes.iter().zip(answers) {
        let ours = scene.pixels();
        assert_eq!(ours.len(), answer.pixels.len());
        for (ours, theirs) in ours.iter().zip(&answer.pixels) {
            let deviation_px = (ours - (Vector2::from(*theirs) + CORNER_FROM_CENTRE)).norm();
            assert!(deviation_px.is_finite(), "{:?}", scene.camera);
            largest_px = largest_px.max(deviation_px);
            count += 1;
        }
    }
    (largest_px, count)
}

#[test]
fn ten_thousand_lenses_draw_where_opencv_draws() {
    let mut random = Random::new(1);
    let mut scenes: Vec<Scene> = Vec::new();
    let mut without = 0;
    while scenes.len() < 10_000 {
        let distortion = random_distortion(&mut random);
        let scene = Scene::random(&mut random, Mapping::Rectilinear, distortion, 90.0);
        // A lens whose distortion folds before it reaches the frame draws nothing to compare.
        if scene.points.is_empty() {
            without += 1;
        } else {
            scenes.push(scene);
        }
    }
    let answers = answers(&scenes);
    let (largest_px, count) = largest_deviation_px(&scenes, &answers);
    tell(&format!(
        "oracle: {count} points of 10,000 distorted lenses lie within {largest_px:.1e} px of OpenCV's ({without} lenses \
         more draw nothing in the frame)"
    ));
    assert!(largest_px < 1e-6, "{largest_px} px");
    assert!(count > 90_000 && without < 100, "too little was compared: {count} points, {without} empty frames");

    // Backwards. Where OpenCV's own inverse has converged it must be ours; ours must have, everywhere.
    let (mut largest_miss, mut largest_difference, mut converged) = (0.0_f64, 0.0_f64, 0_usize);
    for (scene, answer) in scenes.iter().zip(&answers) {
        let Camera { distortion, .. } = scene.camera;
        for (view, slopes) in scene.views().zip(&answer.slopes) {
            let ideal = view.xy() / view.z;
            let distorted = distortion.distort(ideal).expect("inside the valid radius");
            let back = distortion.undistort(distorted).expect("what is drawn has a ray");
            let again = distortion.distort(back).expect("inside the valid radius");
            largest_miss = largest_miss.max((again - distorted).norm() / distorted.norm().max(1.0));
            let theirs = Vector2::new(slopes[0], slopes[1]);
            // Near the fold two ideal points share one distorted point; OpenCV may find the other one.
            if slopes[2] < 1e-14
                && ideal.norm() < 0.8 * distortion.valid_radius()
                && theirs.norm() < distortion.valid_radius()
            {
                largest_difference = largest_difference.max((back - theirs).norm());
                converged += 1;
            }
        }
    }
    tell(&format!(
        "oracle: undistorting misses by {largest_miss:.1e} focal lengths at most; {converged} rays lie within \
         {largest_difference:.1e} of OpenCV's"
    ));
    assert!(largest_miss <= 1e-12, "{largest_miss}");
    assert!(largest_difference < 1e-11, "{largest_difference}");
    assert!(converged > count / 2, "OpenCV undistorted only {converged} of {count}");
}

#[test]
fn equidistant_lenses_draw_where_opencvs_fisheye_draws() {
    let mut random = Random::new(2);
    let scenes: Vec<Scene> = (0..2000)
        .map(|_| {
            let mut draw = |limit: f64| random.between(-limit, limit);
            let radial = [draw(0.05), draw(0.02), 0.0, 0.0, draw(0.005)];
            let distortion = Distortion::from_slice(&radial).expect("mild coefficients");
            Scene::random(&mut random, Mapping::Equidistant, distortion, 90.0)
        })
        .collect();
    let (largest_px, count) = largest_deviation_px(&scenes, &answers(&scenes));
    tell(&format!("oracle: {count} points of 2,000 equidistant lenses lie within {largest_px:.1e} px of OpenCV's"));
    assert!(largest_px < 1e-6, "{largest_px} px");
    assert!(count > 15_000, "too little was compared: {count} points");
}

#[test]
fn vanishing_points_and_the_levelled_picture_are_the_textbooks() {
    let mut random = Random::new(3);
    let scenes: Vec<Scene> =
        (0..2000).map(|_| Scene::random(&mut random, Mapping::Rectilinear, Distortion::NONE, 40.0)).collect();
    let answers = answers(&scenes);
    let (largest_px, count) = largest_deviation_px(&scenes, &answers);
    assert!(largest_px < 1e-6, "{largest_px} px");
    assert_eq!(count, 2000 * POINTS);

    let (mut largest_share, mut vanishing_count) = (0.0_f64, 0);
    let (mut largest_levelled_share, mut levelled_count) = (0.0_f64, 0);
    for (scene, answer) in scenes.iter().zip(&answers) {
        let Scene { camera, pose, .. } = scene;
        let rotation = pose.attitude.view_from_world();
        let level_forward = Attitude::level(pose.attitude.heading).forward();
        for (direction, theirs) in [WorldVector::z(), level_forward].iter().zip(&answer.vanishing) {
            // Below the horizon's plane behind the camera, its opposite is the one in front: the same picture point.
            let view = rotation * direction;
            let ours = camera.pixel_from_view(&if view.z > 0.0 { view } else { -view }).expect("in front");
            let theirs = Vector2::new(theirs[0] / theirs[2], theirs[1] / theirs[2]) + CORNER_FROM_CENTRE;
            // Near a level camera the zenith's point is far away: relative to its distance.
            largest_share = largest_share.max((ours - theirs).norm() / theirs.norm().max(1.0));
            vanishing_count += 1;
        }
        let level = Pose { attitude: Attitude::level(pose.attitude.heading), ..*pose };
        for (point, theirs) in scene.points.iter().zip(&answer.levelled) {
            let view = level.view_of(point);
            // What the levelled camera has behind it has no place in its picture.
            if let Some(ours) = camera.pixel_from_view(&view) {
                let theirs = Vector2::from(*theirs) + CORNER_FROM_CENTRE;
                largest_levelled_share = largest_levelled_share.max((ours - theirs).norm() / theirs.norm().max(1000.0));
                levelled_count += 1;
            }
        }
    }
    tell(&format!(
        "oracle: {vanishing_count} vanishing points lie within {largest_share:.1e} of their distance from K·R·d; \
         {levelled_count} points of levelled pictures within {largest_levelled_share:.1e} of theirs from K·R·K⁻¹"
    ));
    assert!(largest_share < 1e-9, "{largest_share}");
    assert!(largest_levelled_share < 1e-9, "{largest_levelled_share}");
    assert_eq!(vanishing_count, 4000);
    assert!(levelled_count > 15_000, "too little was compared: {levelled_count}");
}
