//! Do the measured lines lie on the edges of the picture, and is a straightened picture the one a level camera takes?
//!
//! The measurements project points; the picture casts rays. Here the pixels are searched for the edges, to a fraction of a
//! pixel, where the measurements say they are.

use plumbsight::optics::{Camera, Distortion, Frame, Mapping, Margins, PixelPoint};
use plumbsight::pose::{Attitude, Pose, WorldPoint};
use plumbsight::progress::Progress;
use plumbsight::still::{Picture, Scene, Style, View, render};
use plumbsight::survey::Survey;
use plumbsight::verticals::{
    StandingLine, Straightened, Straightening, Viewpoint, original_pixel, standing_lines, straighten,
};

use plumbsight::angle::Angle;

use crate::support::surveyed::{subject, surveyed_blocks};
use crate::support::tell;

/// How far to each side of an edge the picture is looked at, and how much of that is taken as plain.
const REACH_PX: i64 = 12;
const PLAIN_PX: i64 = 5;
/// The least difference of light across an edge that is measured.
const CONTRAST: f64 = 0.04;

fn frame(width_px: u32) -> Frame {
    Frame { width_mm: 36.0, height_mm: 24.0, width_px: 6000, height_px: 4000, margins: Margins::USUAL }
        .with_width_px(width_px)
}

fn pose(eye: (f64, f64, f64), heading_deg: f64, pitch_deg: f64, roll_deg: f64) -> Pose {
    let attitude = Attitude {
        heading: Angle::from_degrees(heading_deg),
        pitch: Angle::from_degrees(pitch_deg),
        roll: Angle::from_degrees(roll_deg),
    };
    Pose { eye: WorldPoint::new(eye.0, eye.1, eye.2), attitude }
}

/// Without ink, so that an edge is where the colours meet.
fn picture(survey: &Survey, camera: Camera, pose: Pose) -> Picture {
    let style = Style { ink: false, contours: false, ..Style::default() };
    let view = View { camera, pose, focus: None };
    let scene = Scene { model: &survey.model, sight: &survey.sight };
    render(&scene, &view, &style, &Progress::unwatched()).expect("a picture")
}

/// Linear light from sRGB bytes (IEC 61966-2-1).
fn light(colour: [u8; 3]) -> f64 {
    let linear = |byte: u8| {
        let share = f64::from(byte) / 255.0;
        if share <= 0.040_45 { share / 12.92 } else { ((share + 0.055) / 1.055).powf(2.4) }
    };
    colour.into_iter().map(linear).sum::<f64>() / 3.0
}

/// Where the colours to both sides meet in a row near `x_px`, by how much of the pixels between each covers; `None` where
/// they hardly differ, are not plain, or the picture ends.
fn edge_px(picture: &Picture, row: i64, x_px: f64) -> Option<f64> {
    let middle = x_px.floor() as i64;
    let row = u32::try_from(row).ok()?;
    let lights: Option<Vec<f64>> = (middle - REACH_PX..middle + REACH_PX)
        .map(|x| Some(light(picture.pixel(u32::try_from(x).ok().filter(|x| *x < picture.width_px)?, row)?)))
        .collect();
    let lights = lights?;
    let plain = |part: &[f64]| {
        let mean = part.iter().sum::<f64>() / part.len() as f64;
        part.iter().all(|light| (light - mean).abs() < 0.25 * CONTRAST).then_some(mean)
    };
    let (left, right) = (plain(&lights[..PLAIN_PX as usize])?, plain(&lights[lights.len() - PLAIN_PX as usize..])?);
    if (left - right).abs() < CONTRAST {
        return None;
    }
    let covered: f64 = lights.iter().map(|light| (light - right) / (left - right)).sum();
    Some((middle - REACH_PX) as f64 + covered)
}

/// Where a line crosses the middle of a row, by halving between its ends.
pub(crate) fn crossing_px(viewpoint: &Viewpoint<'_>, line: &StandingLine, row: i64) -> Option<f64> {
    let middle = row as f64 + 0.5;
    let at = |share: f64| viewpoint.pixel_of(&line.at(share)).ok();
    let (mut low, mut high) = (0.0, 1.0);
    if at(low)?.y < middle || at(high)?.y > middle {
        return None;
    }
    for _ in 0..60 {
        let share = 0.5 * (low + high);
        if at(share)?.y >= middle { low = share } else { high = share }
    }
    Some(at(low)?.x)
}

/// The subject's outermost lines, left and right as seen from an eye.
pub(crate) fn outermost(survey: &Survey, viewpoint: &Viewpoint<'_>) -> [StandingLine; 2] {
    let mut lines = Vec::new();
    for &block in &subject(survey).blocks {
        standing_lines(&survey.model, block, &viewpoint.pose.eye, &mut lines);
    }
    let bearing = |line: &StandingLine| viewpoint.pose.bearing_right_of_heading(&line.at(0.5)).radians();
    lines.retain(|line| !line.turned_away && line.top.z - line.base.z > 10.0);
    lines.sort_by(|a, b| bearing(a).total_cmp(&bearing(b)));
    [lines[0], lines[lines.len() - 1]]
}

const TOWER: &str = "(name: \"tower\", subject: true, at: (0, 0), heading_deg: 12, finish: Dark, shape: Box(width_m: 9, depth_m: 7, height_m: 28))";
const STACK: &str = "(name: \"stack\", subject: true, at: (0, 0), finish: Dark, shape: RoundTaper(foot_radius_m: 4, head_radius_m: 2.2, height_m: 30))";
const FRONT: &str = "(name: \"front\", subject: true, at: (0, 0), finish: Dark, shape: Facade(width_m: 16, depth_m: 8, height_m: 22, bays: 4, storeys: 4)),
    (name: \"shed\", at: (-19, -6), heading_deg: 20, shape: Gable(width_m: 8, depth_m: 6, eaves_m: 4, ridge_m: 7)),
    (name: \"stack\", at: (16, 2), shape: RoundTaper(foot_radius_m: 2, head_radius_m: 1.2, height_m: 24))";

fn barrel() -> Distortion {
    Distortion::from_slice(&[-0.14, 0.03, 0.002, -0.001, 0.0]).expect("mild")
}

#[test]
fn measured_lines_lie_on_the_pictures_edges() {
    let plain = |focal_mm| Camera::plain(frame(900), focal_mm);
    let cameras = [
        ("rise and shift", Camera { rise_mm: 7.0, shift_mm: -3.0, ..plain(24.0) }, 8.0, 0.0),
        ("rolled", plain(20.0), 17.0, 6.0),
        ("barrel", Camera { distortion: barrel(), ..plain(22.0) }, 14.0, -3.0),
        ("equisolid", Camera { mapping: Mapping::Equisolid, ..plain(12.0) }, 16.0, 4.0),
        ("equidistant, bent", Camera { mapping: Mapping::Equidistant, distortion: barrel(), ..plain(15.0) }, 10.0, 0.0),
    ];
    for (name, blocks) in [("tower", TOWER), ("stack", STACK)] {
        let survey = surveyed_blocks(blocks);
        for (lens, camera, pitch_deg, roll_deg) in cameras {
            let pose = pose((6.0, -34.0, 1.6), -7.0, pitch_deg, roll_deg);
            let viewpoint = Viewpoint::new(&camera, &pose);
            let picture = picture(&survey, camera, pose);
            let (mut worst_px, mut found) = (0.0_f64, 0);
            for line in outermost(&survey, &viewpoint) {
                for row in (0..i64::from(camera.frame.height_px)).step_by(7) {
                    let Some(x_px) = crossing_px(&viewpoint, &line, row) else { continue };
                    let Some(edge_px) = edge_px(&picture, row, x_px) else { continue };
                    worst_px = worst_px.max((edge_px - x_px).abs());
                    found += 1;
                }
            }
            tell(&format!("agreement: {name}, {lens}: {found} edges within {worst_px:.3} px"));
            assert!(found > 30, "{name}, {lens}: only {found} edges were found");
            assert!(worst_px < 0.35, "{name}, {lens}: {worst_px} px");
        }
    }
}

/// The colour at a place of a picture, bilinear between the middles of its pixels.
fn between_pixels(picture: &Picture, place: PixelPoint) -> Option<[f64; 3]> {
    let (x, y) = (place.x - 0.5, place.y - 0.5);
    let (left, top) = (x.floor(), y.floor());
    let at = |dx: f64, dy: f64| {
        let side = |value: f64, most: u32| (value >= 0.0 && value < f64::from(most)).then_some(value as u32);
        picture.pixel(side(left + dx, picture.width_px)?, side(top + dy, picture.height_px)?)
    };
    let (u, v) = (x - left, y - top);
    let mut mixed = [0.0; 3];
    for (dx, dy, weight) in
        [(0.0, 0.0, (1.0 - u) * (1.0 - v)), (1.0, 0.0, u * (1.0 - v)), (0.0, 1.0, (1.0 - u) * v), (1.0, 1.0, u * v)]
    {
        for (sum, part) in mixed.iter_mut().zip(at(dx, dy)?) {
            *sum += weight * f64::from(part);
        }
    }
    Some(mixed)
}

/// The straightened picture made from the taken one, pixel by pixel.
fn resampled(taken: &Picture, kept: &Straightened, viewpoint: &Viewpoint<'_>) -> Picture {
    let Frame { width_px, height_px, .. } = kept.camera.frame;
    let mut rgb = Vec::with_capacity(3 * width_px as usize * height_px as usize);
    for y in 0..height_px {
        for x in 0..width_px {
            let middle = PixelPoint::new(f64::from(x) + 0.5, f64::from(y) + 0.5);
            let original = original_pixel(kept, viewpoint, middle).expect("all of it was taken");
            // At the very border there is no neighbour to mix with.
            let colour = between_pixels(taken, original).unwrap_or([f64::NAN; 3]);
            rgb.extend(colour.map(|part| if part.is_nan() { 0 } else { part.round() as u8 }));
        }
    }
    Picture::of_rgb(width_px, height_px, rgb)
}

#[test]
fn a_straightened_picture_is_the_one_that_a_level_camera_takes_from_there() {
    let survey = surveyed_blocks(FRONT);
    for (name, camera, pitch_deg, roll_deg, tilt_left) in [
        ("plain", Camera::plain(frame(1300), 20.0), 14.0, 3.0, 0.0),
        ("barrel", Camera { distortion: barrel(), ..Camera::plain(frame(1300), 18.0) }, 13.0, -2.0, 0.0),
        ("equisolid", Camera { mapping: Mapping::Equisolid, ..Camera::plain(frame(1300), 14.0) }, 12.0, 2.0, 0.0),
        ("half the tilt left in", Camera::plain(frame(1300), 20.0), 14.0, 0.0, 0.5),
    ] {
        let pose = pose((3.0, -42.0, 1.6), -4.0, pitch_deg, roll_deg);
        let viewpoint = Viewpoint::new(&camera, &pose);
        let wanted = Straightening { tilt_left, proportion: 1.0 };
        let kept = straighten(&viewpoint, &subject(&survey).corners, &[], wanted).expect("it fits");
        let made = resampled(&picture(&survey, camera, pose), &kept, &viewpoint);
        let level = Pose { attitude: kept.attitude, ..pose };
        let taken = picture(&survey, kept.camera, level);
        assert_eq!((made.width_px, made.height_px), (taken.width_px, taken.height_px));

        let (mut sum, mut count) = (0.0, 0);
        for y in 3..taken.height_px - 3 {
            for x in 3..taken.width_px - 3 {
                let (a, b) = (made.pixel(x, y).expect("inside"), taken.pixel(x, y).expect("inside"));
                sum += (0..3).map(|part| f64::from(a[part].abs_diff(b[part]))).sum::<f64>() / 3.0;
                count += 1;
            }
        }
        let mean = sum / f64::from(count);
        let straight = Viewpoint::new(&kept.camera, &level);
        let (mut worst_px, mut apart_px, mut found) = (0.0_f64, 0.0_f64, 0);
        for line in outermost(&survey, &straight) {
            for row in (0..i64::from(taken.height_px)).step_by(5) {
                let Some(x_px) = crossing_px(&straight, &line, row) else { continue };
                let (Some(a), Some(b)) = (edge_px(&made, row, x_px), edge_px(&taken, row, x_px)) else { continue };
                worst_px = worst_px.max((a - x_px).abs()).max((b - x_px).abs());
                apart_px = apart_px.max((a - b).abs());
                found += 1;
            }
        }
        tell(&format!(
            "agreement: straightened, {name}: {}×{} px, mean difference {mean:.2} of 255, {found} edges within {worst_px:.3} px, \
             {apart_px:.3} px apart",
            taken.width_px, taken.height_px
        ));
        assert!(mean < 1.2, "{name}: {mean}");
        assert!(found > 40, "{name}: only {found} edges were found");
        assert!(worst_px < 0.5 && apart_px < 0.5, "{name}: {worst_px} px, {apart_px} px apart");
    }
}
