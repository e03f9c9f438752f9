//! How many points a second does the program draw, on one thread, and how many does OpenCV?
//!
//! First each way of drawing by itself; then, where `benches/run` has installed OpenCV, the same points through the same
//! lenses in both, and the ratio.

#![expect(clippy::print_stdout, reason = "a bench tells its figures")]

#[path = "../tests/suite/support/python.rs"]
mod python;

use std::hint::black_box;
use std::time::Instant;

use divan::Bencher;
use divan::counter::ItemsCount;
use nalgebra::Matrix3;
use plumbsight::angle::Angle;
use plumbsight::optics::{Camera, Distortion, Frame, Mapping, Margins, PixelPoint};
use plumbsight::pose::{Attitude, Pose, ViewVector, WorldPoint};

const POINTS: usize = 100_000;
const RUNS: usize = 30;

const LENSES: [&str; 3] = ["plain", "distorted", "equidistant"];

fn main() {
    divan::main();
    if std::env::var_os("PLUMBSIGHT_PYTHON").is_some() {
        compare_with_opencv();
    } else {
        println!("Not compared with OpenCV: run benches/run, which installs it.");
    }
}

/// A camera in its place, and points all over its picture at 10 to 100 m.
struct Scene {
    camera: Camera,
    pose: Pose,
    rotation: Matrix3<f64>,
    points: Vec<WorldPoint>,
}

impl Scene {
    fn new(lens: &str) -> Self {
        let frame = Frame { width_mm: 36.0, height_mm: 24.0, width_px: 6000, height_px: 4000, margins: Margins::USUAL };
        let mut camera = Camera { rise_mm: 5.0, ..Camera::plain(frame, 24.0) };
        match lens {
            "distorted" => {
                let all_eight = [-0.1, 0.01, 0.001, -0.002, 0.001, 0.02, 0.003, 0.0001];
                camera.distortion = Distortion::from_slice(&all_eight).expect("mild coefficients");
            }
            "equidistant" => camera.mapping = Mapping::Equidistant,
            _ => {}
        }
        let attitude = Attitude {
            heading: Angle::from_degrees(30.0),
            pitch: Angle::from_degrees(12.0),
            roll: Angle::from_degrees(1.0),
        };
        let pose = Pose { eye: WorldPoint::new(3.0, -4.0, 1.6), attitude };
        let rotation = attitude.view_from_world();
        // Multiples of irrational numbers fill the picture evenly, the same way each time.
        let spread = |index: usize, step: f64, low: f64, high: f64| low + (high - low) * (index as f64 * step).fract();
        let points = (0..POINTS)
            .map(|index| {
                let view = ViewVector::new(
                    spread(index, 2.0_f64.sqrt(), -0.7, 0.7),
                    spread(index, 3.0_f64.sqrt(), -0.6, 0.2),
                    1.0,
                );
                pose.eye + rotation.transpose() * (view * spread(index, 5.0_f64.sqrt(), 10.0, 100.0))
            })
            .collect();
        Self { camera, pose, rotation, points }
    }

    fn view(&self, point: &WorldPoint) -> ViewVector {
        self.rotation * (point - self.pose.eye)
    }

    fn draw(&self, pixels: &mut Vec<Option<PixelPoint>>) {
        pixels.clear();
        pixels.extend(self.points.iter().map(|point| self.camera.pixel_from_view(&self.view(point))));
    }
}

#[divan::bench(args = LENSES)]
fn draw(bencher: Bencher, lens: &str) {
    let scene = Scene::new(lens);
    let mut pixels = Vec::new();
    bencher.counter(ItemsCount::new(POINTS)).bench_local(|| {
        scene.draw(&mut pixels);
        black_box(&pixels);
    });
}

#[divan::bench(args = LENSES)]
fn draw_with_derivatives(bencher: Bencher, lens: &str) {
    let scene = Scene::new(lens);
    bencher.counter(ItemsCount::new(POINTS)).bench_local(|| {
        for point in &scene.points {
            black_box(scene.camera.pixel_with_jacobian(&scene.view(point)));
        }
    });
}

#[divan::bench(args = LENSES)]
fn ray_of_a_pixel(bencher: Bencher, lens: &str) {
    let scene = Scene::new(lens);
    let mut pixels = Vec::new();
    scene.draw(&mut pixels);
    bencher.counter(ItemsCount::new(POINTS)).bench_local(|| {
        for pixel in pixels.iter().flatten() {
            black_box(scene.camera.view_from_pixel(*pixel));
        }
    });
}

#[derive(serde::Deserialize)]
struct Answer {
    pixels: Vec<[f64; 2]>,
    seconds: f64,
}

fn compare_with_opencv() {
    let lenses = ["plain", "distorted"];
    let scenes = lenses.map(Scene::new);
    let questions = scenes.each_ref().map(|Scene { camera, pose, points, .. }| {
        serde_json::json!({
            "width_mm": camera.frame.width_mm,
            "height_mm": camera.frame.height_mm,
            "width_px": camera.frame.width_px,
            "height_px": camera.frame.height_px,
            "focal_mm": camera.focal_mm,
            "rise_mm": camera.rise_mm,
            "shift_mm": camera.shift_mm,
            "distortion": camera.distortion.coefficients(),
            "heading_deg": pose.attitude.heading.degrees(),
            "pitch_deg": pose.attitude.pitch.degrees(),
            "roll_deg": pose.attitude.roll.degrees(),
            "eye_m": <[f64; 3]>::from(pose.eye.coords),
            "points_m": points.iter().map(|point| <[f64; 3]>::from(point.coords)).collect::<Vec<_>>(),
        })
    });
    let answers: Vec<Answer> = python::ask("benches/against_opencv.py", &questions);
    println!(
        "\nPoints drawn a second, one thread; OpenCV's projectPoints, called from Python, always derives as well:"
    );
    for ((lens, scene), answer) in lenses.iter().zip(&scenes).zip(&answers) {
        let mut pixels = Vec::new();
        let (mut drawn_s, mut derived_s) = (f64::INFINITY, f64::INFINITY);
        for _ in 0..RUNS {
            let start = Instant::now();
            scene.draw(&mut pixels);
            black_box(&pixels);
            drawn_s = drawn_s.min(start.elapsed().as_secs_f64());
            let start = Instant::now();
            for point in &scene.points {
                black_box(scene.camera.pixel_with_jacobian(&scene.view(point)));
            }
            derived_s = derived_s.min(start.elapsed().as_secs_f64());
        }
        assert_eq!(answer.pixels.len(), POINTS);
        for (ours, [x, y]) in pixels.iter().zip(&answer.pixels) {
            let ours = ours.expect("the points are chosen in the picture");
            let deviation_px = (ours - PixelPoint::new(x + 0.5, y + 0.5)).norm();
            assert!(deviation_px < 1e-6, "the two draw different pictures: {deviation_px} px apart");
        }
        let millions = |seconds: f64| POINTS as f64 / seconds / 1e6;
        println!(
            "{lens:>10}: ours {:6.1} million, with derivatives {:6.1}; OpenCV {:6.1}; ratio {:.1}, with derivatives {:.1}",
            millions(drawn_s),
            millions(derived_s),
            millions(answer.seconds),
            answer.seconds / drawn_s,
            answer.seconds / derived_s
        );
    }
}
