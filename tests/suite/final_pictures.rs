//! Is the final picture the largest that may be made of what was taken, and are its figures its own?
//!
//! Held to brute force: every centre of a grid, and about each the largest upright rectangle that the frame still covers, in the
//! plane of the level picture. The projection is written out here, from the plan and a pinhole.

use plumbsight::appraise::{FinalPicture, Measures};
use plumbsight::optics::{Camera, Orientation};
use plumbsight::pose::Attitude;
use plumbsight::record::Record;
use plumbsight::site::{Aim, Stance};
use plumbsight::survey::{MeasureSettings, Measured, Survey};
use plumbsight::verticals::StraightenFailure;

use crate::support::random::Random;
use crate::support::surveyed::{stance, surveyed_blocks, turned};

/// Margins of the final picture, as shares of it: at each side and below, and above.
const MARGINS: (f64, f64) = (0.05, 0.08);

fn measured(survey: &Survey, stance: &Stance, proportion: Option<f64>) -> Measured {
    let settings =
        MeasureSettings { measures: Measures { proportion, ..Measures::default() }, ..MeasureSettings::default() };
    survey.measure(stance, &settings).unwrap_or_else(|error| panic!("{stance:?}: {error}"))
}

fn picture(measured: &Measured) -> FinalPicture {
    measured.account.final_picture.expect("a subject").expect("a final picture")
}

/// A thin board that faces south.
fn board(width_m: f64, height_m: f64) -> Survey {
    surveyed_blocks(&format!(
        "(name: \"board\", subject: true, at: (0, 0.01), shape: Box(width_m: {width_m}, depth_m: 0.02, height_m: {height_m}))"
    ))
}

fn portrait(stance: Stance) -> Stance {
    Stance { orientation: Some(Orientation::Portrait), ..stance }
}

#[test]
fn what_is_upright_is_handed_over_as_it_was_taken() {
    let survey = board(5.0, 18.0);
    // Level, filled by a zoom to its margins, and from so far that what tilt there is cannot be seen.
    for (from, tilts) in [
        (portrait(stance((0.0, -40.0), 1.6, "24 mm", Aim::Level)), false),
        (portrait(stance((0.0, -40.0), 9.0, "24-70 mm", Aim::Level)), false),
        (portrait(stance((0.0, -170.0), 1.6, "70-200 mm", Aim::Fill)), true),
    ] {
        let measured = measured(&survey, &from, None);
        let (taken, handed) = (&measured.standing, picture(&measured));
        assert_eq!(measured.account.reads_upright, Some(true), "{from:?}");
        assert_eq!(taken.pose.attitude.pitch.degrees() != 0.0, tilts);
        // Nothing is turned, stretched or cut off.
        assert!(!handed.straightened && handed.margins_kept, "{handed:?}");
        let Attitude { heading, pitch, roll } = handed.attitude;
        for (now, then) in [
            (heading.radians(), taken.pose.attitude.heading.radians()),
            (pitch.radians(), taken.pose.attitude.pitch.radians()),
            (roll.radians(), taken.pose.attitude.roll.radians()),
            (handed.camera.focal_mm, taken.camera.focal_mm),
            (handed.camera.rise_mm, taken.camera.rise_mm),
            (handed.camera.shift_mm, taken.camera.shift_mm),
        ] {
            assert!((now - then).abs() < 1e-9, "{now} for {then}: {handed:?}");
        }
        assert_eq!((handed.camera.frame.width_px, handed.camera.frame.height_px), (4000, 6000));
        assert!((handed.megapixels() - 24.0).abs() < 1e-9, "{}", handed.megapixels());
        // A print of 300 pixels an inch: 4000 px are 338.7 mm.
        let (width_mm, height_mm) = handed.print_mm(300.0);
        assert!((width_mm - 338.667).abs() < 0.01 && (height_mm - 508.0).abs() < 0.01);
        assert_eq!(handed.lowest_detail, measured.account.lowest_detail.map(|(detail, _)| detail));
    }
    // Wanted at 4:5 it is cropped, and nothing else: 4000 × 5000.
    let cropped = measured(&survey, &portrait(stance((0.0, -40.0), 9.0, "24 mm", Aim::Level)), Some(0.8));
    let cropped = picture(&cropped);
    assert_eq!((cropped.camera.frame.width_px, cropped.camera.frame.height_px), (4000, 5000));
    assert!((cropped.megapixels() - 20.0).abs() < 1e-9 && cropped.margins_kept && !cropped.straightened);
}

/// The level picture's plane as the frame of a pitched and rolled pinhole covers it: slopes right and down.
struct Taken {
    focal_mm: f64,
    half_mm: (f64, f64),
    px_per_mm: f64,
    pitch: f64,
    roll: f64,
}

impl Taken {
    /// Where a slope of the level picture was in the frame, in mm right and up of its middle.
    fn frame_mm(&self, (x, y): (f64, f64)) -> Option<(f64, f64)> {
        let ((sin_p, cos_p), (sin_r, cos_r)) = (self.pitch.sin_cos(), self.roll.sin_cos());
        let (depth, above) = (cos_p - y * sin_p, -y * cos_p - sin_p);
        // The camera's roll clockwise turns what it sees the other way.
        (depth > 0.0).then(|| {
            let mm = self.focal_mm / depth;
            (mm * (x * cos_r - above * sin_r), mm * (x * sin_r + above * cos_r))
        })
    }

    fn covers(&self, slope: (f64, f64)) -> bool {
        self.frame_mm(slope).is_some_and(|(u, v)| u.abs() <= self.half_mm.0 && v.abs() <= self.half_mm.1)
    }

    /// The fewest pixels of the frame that a step of the level picture from a slope spans, for each unit of slope: over all
    /// directions, by small steps.
    fn least_px(&self, (x, y): (f64, f64)) -> f64 {
        const STEP: f64 = 1e-6;
        (0..1800)
            .map(|direction| {
                let (sine, cosine) = (f64::from(direction) * std::f64::consts::PI / 1800.0).sin_cos();
                let end =
                    |sign: f64| self.frame_mm((x + sign * STEP * cosine, y + sign * STEP * sine)).expect("in front");
                let (ahead, behind) = (end(1.0), end(-1.0));
                (ahead.0 - behind.0).hypot(ahead.1 - behind.1) / (2.0 * STEP) * self.px_per_mm
            })
            .fold(f64::INFINITY, f64::min)
    }

    /// Whether the frame covers an upright rectangle, and it holds the bounds (left, right, top, bottom) with margins (at the sides
    /// and below, above), all but for whole pixels.
    fn allows(&self, camera: &Camera, bounds: [f64; 4], (side, over): (f64, f64)) -> bool {
        let frame = &camera.frame;
        let [half_width, half_height] = [frame.width_mm, frame.height_mm].map(|mm| 0.5 * mm / camera.focal_mm);
        let (x, y) = (camera.shift_mm / camera.focal_mm, -camera.rise_mm / camera.focal_mm);
        let hair = 4.0 * half_height / f64::from(frame.height_px);
        let covered = [(-1.0, -1.0), (1.0, -1.0), (-1.0, 1.0), (1.0, 1.0)]
            .iter()
            .all(|(a, b)| self.covers((x + a * (half_width - hair), y + b * (half_height - hair))));
        let [left, right, top, bottom] = bounds;
        covered
            && left - (x - half_width) >= 2.0 * side * half_width - hair
            && (x + half_width) - right >= 2.0 * side * half_width - hair
            && top - (y - half_height) >= 2.0 * over * half_height - hair
            && (y + half_height) - bottom >= 2.0 * side * half_height - hair
    }

    /// The height of the largest upright rectangle of a proportion that the frame covers and that holds the bounds (left, right,
    /// top, bottom) with margins (at the sides and below, above): from a grid of centres, made finer about the best.
    fn largest(&self, bounds: [f64; 4], proportion: f64, (side, over): (f64, f64)) -> Option<f64> {
        let [left, right, top, bottom] = bounds;
        let about = |(x, y): (f64, f64)| {
            let (half_width, half_height) = (0.5 * proportion, 0.5);
            // Wide and high enough for the subject with its margins.
            let least = ((x - left).max(right - x) / (half_width - side * proportion))
                .max((y - top) / (half_height - over))
                .max((bottom - y) / (half_height - side))
                .max(0.0);
            let fits = |height: f64| {
                [(-1.0, -1.0), (1.0, -1.0), (-1.0, 1.0), (1.0, 1.0)]
                    .iter()
                    .all(|(a, b)| self.covers((x + a * half_width * height, y + b * half_height * height)))
            };
            if !fits(least) {
                return None;
            }
            let (mut low, mut high) = (least, 40.0);
            for _ in 0..50 {
                let middle = 0.5 * (low + high);
                if fits(middle) { low = middle } else { high = middle }
            }
            Some(low)
        };
        const ACROSS: i32 = 20;
        let (mut centre, mut reach) = ((0.5 * (left + right), 0.5 * (top + bottom)), 0.6);
        let mut best: Option<f64> = None;
        for _ in 0..9 {
            let mut here = centre;
            for column in -ACROSS..=ACROSS {
                for row in -ACROSS..=ACROSS {
                    let at = |step: i32| reach * f64::from(step) / f64::from(ACROSS);
                    let tried = (centre.0 + at(column), centre.1 + at(row));
                    if let Some(height) = about(tried)
                        && best.is_none_or(|known| height > known)
                    {
                        (best, here) = (Some(height), tried);
                    }
                }
            }
            (centre, reach) = (here, 0.35 * reach);
        }
        best
    }
}

#[test]
fn the_straightened_picture_is_the_largest_of_a_grid() {
    let mut random = Random::new(60);
    let (mut compared, mut lost, mut cost) = (0, 0, 0);
    for _ in 0..90 {
        let (width_m, height_m) = (random.between(3.0, 9.0).round(), random.between(14.0, 34.0).round());
        let survey = board(width_m, height_m);
        let distance_m = random.between(26.0, 60.0);
        let (pitch_deg, roll_deg) = (random.between(2.0, 22.0), *random.one_of(&[0.0, 0.0, 1.3, -2.0, 3.4]));
        let lens = *random.one_of(&["20 mm", "24 mm", "28 mm"]);
        let from = portrait(stance((0.0, -distance_m), 1.6, lens, turned(0.0, pitch_deg, roll_deg)));
        let proportion = *random.one_of(&[2.0 / 3.0, 0.8, 1.0, 0.5]);
        let measured = measured(&survey, &from, Some(proportion));
        let told = || format!("{from:?} {width_m} × {height_m}, {proportion}");
        let camera = &measured.standing.camera;
        let taken = Taken {
            focal_mm: camera.focal_mm,
            half_mm: (12.0, 18.0),
            px_per_mm: 4000.0 / 24.0,
            pitch: pitch_deg.to_radians(),
            roll: roll_deg.to_radians(),
        };
        // The board in the level picture, by similar triangles; its back is 2 cm farther.
        let (half, up, down) = (0.5 * width_m / distance_m, (height_m - 1.6) / distance_m, 1.6 / distance_m);
        let corners = [(-half, -up), (half, -up), (-half, down), (half, down)];
        if !corners.iter().all(|&corner| taken.covers(corner)) {
            assert!(!measured.account.whole_in_frame, "{}", told());
            continue;
        }
        // No finer than the frame drew it anywhere on the board: corners, sides and middle.
        let across = |share: f64, low: f64, high: f64| low + (high - low) * share;
        let focal_px = (0..25)
            .map(|index| {
                let (column, row) = (f64::from(index % 5) / 4.0, f64::from(index / 5) / 4.0);
                taken.least_px((across(column, -half, half), across(row, -up, down)))
            })
            .fold(f64::INFINITY, f64::min);
        // It keeps no more pixels than there were.
        let most = (24e6 / proportion).sqrt() / focal_px;
        let bounds = [-half, half, -up, down];
        let with = taken.largest(bounds, proportion, MARGINS);
        let without = taken.largest(bounds, proportion, (0.0, 0.0));
        let megapixels = |height: f64| {
            let height_px = focal_px * height.min(most);
            height_px * height_px * proportion / 1e6
        };
        let straightened = measured.account.straightened.expect("a subject");
        let kept = match (straightened, without) {
            (Ok(kept), _) => kept,
            (Err(failure), None) => {
                assert_eq!(failure, StraightenFailure::ProportionDoesNotFit, "{}", told());
                lost += 1;
                continue;
            }
            (Err(failure), Some(_)) => panic!("{failure:?}: {}", told()),
        };
        // It is drawn as finely, it is covered and keeps its margins, and none of the grid is larger.
        let near = |found: f64, expected: f64, to: f64| {
            assert!((found / expected - 1.0).abs() < to, "{found} for {expected}: {}", told());
        };
        near(kept.camera.focal_mm, focal_px / taken.px_per_mm, 1e-4);
        let margins = if kept.margins_kept { MARGINS } else { (0.0, 0.0) };
        assert!(taken.allows(&kept.camera, bounds, margins), "{kept:?}: {}", told());
        assert!(kept.margins_kept || with.is_none(), "{}", told());
        let least = if kept.margins_kept { with } else { without }.map_or(0.0, megapixels);
        assert!(kept.megapixels_kept > 0.999 * least, "{least} for {kept:?}: {}", told());
        let least = without.map_or(0.0, megapixels);
        assert!(kept.megapixels_without_margins > 0.999 * least, "{least} for {kept:?}: {}", told());
        assert!(kept.megapixels_kept <= kept.megapixels_without_margins + 1e-9, "{}", told());
        // A level picture draws a plane that it faces equally finely everywhere.
        near(kept.detail_kept.expect("seen").px_per_m, focal_px / distance_m, 4e-3);
        // What is handed over is that, where the board leans.
        if measured.account.reads_upright == Some(false) {
            let handed = picture(&measured);
            assert!(handed.straightened && handed.megapixels() == kept.megapixels_kept, "{}", told());
            assert!(handed.attitude.pitch.radians() == 0.0 && handed.attitude.roll.radians() == 0.0);
            assert_eq!(handed.lowest_detail, kept.detail_kept);
        }
        cost += usize::from(kept.megapixels_kept < 0.7 * kept.megapixels_without_margins);
        compared += 1;
    }
    assert!(compared > 60 && lost > 0 && cost > 0, "{compared} compared, {lost} lost, {cost} dear");
}

#[test]
fn what_margins_cost_is_told() {
    // A rolled camera with the subject at a side: the upright rectangle with its margins is half the one without.
    let survey = board(6.0, 28.0);
    let from = portrait(stance((0.0, -40.0), 1.6, "24 mm", turned(18.5, 14.0, -4.0)));
    let measured = measured(&survey, &from, None);
    let handed = picture(&measured);
    assert!(handed.megapixels() < 0.6 * handed.megapixels_without_margins, "{handed:?}");
    let record = survey.record(&from, &measured, &MeasureSettings::default());
    let written = record.final_picture.clone().expect("told");
    assert_eq!(written.megapixels, Some(handed.megapixels()));
    assert_eq!(written.megapixels_without_margins, Some(handed.megapixels_without_margins));
    assert_eq!(written.margins_kept, Some(true));
    let [width_mm, height_mm] = written.print_mm.expect("told");
    // Pixels, print and proportion are of one picture.
    let px = |mm: f64| mm / 25.4 * 300.0;
    assert!((px(width_mm) * px(height_mm) / 1e6 - handed.megapixels()).abs() < 1e-6);
    assert!((width_mm / height_mm - 2.0 / 3.0).abs() < 1e-3);
    assert_eq!(Record::read(&record.to_json()).expect("a record"), record);
}

#[test]
fn where_there_is_no_final_picture_the_reason_stands_there() {
    let survey = board(8.0, 60.0);
    let from = portrait(stance((0.0, -20.0), 1.6, "24 mm", turned(0.0, 25.0, 0.0)));
    let measured = measured(&survey, &from, None);
    let failure = measured.account.final_picture.expect("a subject").expect_err("cut");
    let written = survey.record(&from, &measured, &MeasureSettings::default()).final_picture.expect("told");
    assert_eq!(written.why_not, Some(failure.words()));
    assert_eq!((written.megapixels, written.print_mm, written.lowest_detail_px_per_m), (None, None, None));
}
