//! How long does a still take? At 1, 2 and 4 megapixels, so that the cost can be seen to grow as the pixels do.

#[path = "../tests/suite/station.rs"]
mod station;

use divan::Bencher;
use plumbsight::angle::Angle;
use plumbsight::optics::{Camera, Distortion, Focus, Frame, Margins};
use plumbsight::pose::{Attitude, Pose, WorldPoint};
use plumbsight::progress::Progress;
use plumbsight::sight::Sight;
use plumbsight::site::{Model, Sun};
use plumbsight::still::{Look, Scene, Style, View, render};

fn main() {
    divan::main();
}

fn yard(model: &Model, width_px: u32) -> View {
    let frame =
        Frame { width_mm: 36.0, height_mm: 24.0, width_px, height_px: width_px * 2 / 3, margins: Margins::USUAL };
    let attitude = Attitude { heading: Angle::from_degrees(10.0), pitch: Angle::from_degrees(15.0), roll: Angle::ZERO };
    let eye = WorldPoint::new(-9.0, -47.0, model.site.terrain.height_m((-9.0, -47.0)) + 1.6);
    View { camera: Camera::plain(frame, 24.0), pose: Pose { eye, attitude }, focus: None }
}

fn take(bencher: Bencher<'_, '_>, width_px: u32, change: impl Fn(&mut View)) {
    take_in(bencher, width_px, Look::Card, change);
}

fn take_in(bencher: Bencher<'_, '_>, width_px: u32, look: Look, change: impl Fn(&mut View)) {
    let model = station::station();
    let sight = Sight::over(&model);
    let scene = Scene { model: &model, sight: &sight };
    let mut view = yard(&model, width_px);
    change(&mut view);
    let sun = Some(Sun { azimuth_deg: 238.0, altitude_deg: 27.0 });
    let style = Style { sun, company: look == Look::Materials, ..Style::of(look) };
    let pixels = u64::from(width_px) * u64::from(width_px * 2 / 3);
    bencher
        .counter(divan::counter::ItemsCount::new(pixels))
        .bench(|| render(&scene, &view, &style, &Progress::unwatched()).expect("a picture"));
}

/// 1, 2 and 4 megapixels of 3:2; the last is 2400 × 1600.
#[divan::bench(args = [1224, 1732, 2400], sample_count = 5, sample_size = 1)]
fn four_samples_and_shadow(bencher: Bencher<'_, '_>, width_px: u32) {
    take(bencher, width_px, |_| {});
}

/// In brick, slate, glass and grass, with people and cars; of one size with the largest above.
#[divan::bench(args = [1224, 2400], sample_count = 5, sample_size = 1)]
fn in_materials(bencher: Bencher<'_, '_>, width_px: u32) {
    take_in(bencher, width_px, Look::Materials, |_| {});
}

#[divan::bench(args = [1224, 2400], sample_count = 5, sample_size = 1)]
fn through_a_distorting_lens(bencher: Bencher<'_, '_>, width_px: u32) {
    take(bencher, width_px, |view| {
        view.camera.distortion = Distortion::from_slice(&[-0.12, 0.03, 0.001, -0.001, 0.0]).expect("mild");
    });
}

#[divan::bench(args = [1224], sample_count = 5, sample_size = 1)]
fn with_depth_of_field(bencher: Bencher<'_, '_>, width_px: u32) {
    take(bencher, width_px, |view| view.focus = Some(Focus { focal_mm: 24.0, f_number: 2.0, distance_m: 3.0 }));
}
