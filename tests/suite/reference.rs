//! Does the program give the values that were published?
//!
//! The values stand in `tests/reference/*.ron`, each row with its source, its grade and its tolerances; here stands how
//! the program arrives at them, by its own cameras and attitudes.

use std::collections::{BTreeMap, BTreeSet};

use nalgebra::Vector2;
use plumbsight::angle::Angle;
use plumbsight::files::ron_options;
use plumbsight::optics::{Camera, Distortion, Focus, Format, Frame, Kit, Mapping, Margins, PicturePoint};
use plumbsight::optics::{airy_disc_mm, exposure_value};
use plumbsight::pose::{Attitude, Pose, WorldPoint, WorldVector};
use serde::Deserialize;

use crate::support;

const METRES_PER_FOOT: f64 = 0.3048;

/// A file of published values.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Table {
    title: String,
    rows: Vec<Row>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    id: String,
    check: Check,
    grade: Grade,
    source: String,
    expect: BTreeMap<String, Expected>,
}

/// A value and how far the program's may be off.
#[derive(Deserialize)]
struct Expected(f64, f64);

#[derive(Deserialize)]
enum Grade {
    Read,
    SecondHand,
    FromMemory,
    Computed,
}

impl Grade {
    fn words(&self) -> &'static str {
        match self {
            Self::Read => "read in",
            Self::SecondHand => "read second-hand, from",
            Self::FromMemory => "from memory,",
            Self::Computed => "computed from the formula in",
        }
    }
}

/// What is asked of the program.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
enum Check {
    PitchedCamera { focal_mm: f64, pitch_deg: f64, x_mm: f64 },
    TiltedPhotograph { focal_mm: f64, tilt_deg: f64, flying_height_m: f64 },
    TwoStations { base_m: f64, focal_mm: f64, axes_deg: (f64, f64), x_mm: (f64, f64), y_mm: f64, axis_height_m: f64 },
    TowerFromAbove { focal_mm: f64, flying_height: FlyingHeight, foot_mm: f64, head_mm: f64 },
    ImageHeights { focal_mm: f64, angle_deg: f64 },
    Distorted { coefficients: Distortion, x: f64, y: f64 },
    Field { width_mm: f64, height_mm: f64, focal_mm: f64 },
    InKit { format: String },
    Sharp { focal_mm: f64, f_number: f64, circle_mm: f64, distance_m: f64 },
    Stopped { f_number: f64, seconds: f64 },
    Shifted { width_mm: f64, height_mm: f64, focal_mm: f64, rise_mm: f64, shift_mm: f64 },
    Level { height_mm: f64, focal_mm: f64, rise_mm: f64, distance_m: f64 },
}

#[derive(Deserialize)]
enum FlyingHeight {
    Given(f64),
    FromLength { known_m: f64, drawn_mm: f64 },
}

/// Quantities by name.
type Answers = BTreeMap<&'static str, f64>;

fn frame(width_mm: f64, height_mm: f64) -> Frame {
    // The values are in millimetres; the count of pixels does not enter them.
    Frame { width_mm, height_mm, width_px: 6000, height_px: 4000, margins: Margins::USUAL }
}

fn camera(focal_mm: f64) -> Camera {
    Camera::plain(frame(36.0, 24.0), focal_mm)
}

fn pose(eye: WorldPoint, heading_deg: f64, pitch_deg: f64) -> Pose {
    let attitude = Attitude {
        heading: Angle::from_degrees(heading_deg),
        pitch: Angle::from_degrees(pitch_deg),
        roll: Angle::ZERO,
    };
    Pose { eye, attitude }
}

/// The direction in the world that is drawn at a point of the picture.
fn ray(camera: &Camera, pose: &Pose, picture: PicturePoint) -> WorldVector {
    pose.attitude.view_from_world().transpose() * camera.view_from_picture(picture).expect("a ray")
}

/// Where a direction in the world is drawn.
fn drawn(camera: &Camera, pose: &Pose, direction: WorldVector) -> PicturePoint {
    camera.picture_from_view(&(pose.attitude.view_from_world() * direction)).expect("in front")
}

fn answers(check: &Check) -> Answers {
    match check {
        &Check::PitchedCamera { focal_mm, pitch_deg, x_mm } => pitched_camera(focal_mm, pitch_deg, x_mm),
        &Check::TiltedPhotograph { focal_mm, tilt_deg, flying_height_m } => {
            tilted_photograph(focal_mm, tilt_deg, flying_height_m)
        }
        &Check::TwoStations { base_m, focal_mm, axes_deg, x_mm, y_mm, axis_height_m } => {
            // The base runs east; the point lies north of it, between the two axes' insides.
            let stations = [
                pose(WorldPoint::new(0.0, 0.0, axis_height_m), 90.0 - axes_deg.0, 0.0),
                pose(WorldPoint::new(base_m, 0.0, axis_height_m), -90.0 + axes_deg.1, 0.0),
            ];
            let first = ray(&camera(focal_mm), &stations[0], PicturePoint::new(x_mm.0, y_mm));
            let second = ray(&camera(focal_mm), &stations[1], PicturePoint::new(-x_mm.1, y_mm));
            // Where the two rays cross in plan: a·first = base + b·second.
            let cross = second.x * first.y - second.y * first.x;
            let (a, b) = (-base_m * second.y / cross, -base_m * first.y / cross);
            BTreeMap::from([
                ("first_distance_m", a * first.xy().norm()),
                ("second_distance_m", b * second.xy().norm()),
                ("height_m", axis_height_m + a * first.z),
            ])
        }
        Check::TowerFromAbove { focal_mm, flying_height, foot_mm, head_mm } => {
            tower_from_above(*focal_mm, flying_height, *foot_mm, *head_mm)
        }
        &Check::ImageHeights { focal_mm, angle_deg } => {
            let (sine, cosine) = Angle::from_degrees(angle_deg).sin_cos();
            let height_mm = |mapping| {
                let camera = Camera { mapping, ..camera(focal_mm) };
                camera.picture_from_view(&(WorldVector::new(sine, 0.0, cosine) * 7.0)).expect("drawn").x
            };
            BTreeMap::from([
                ("equidistant_mm", height_mm(Mapping::Equidistant)),
                ("equisolid_mm", height_mm(Mapping::Equisolid)),
                ("stereographic_mm", height_mm(Mapping::Stereographic)),
                ("orthographic_mm", height_mm(Mapping::Orthographic)),
                ("rectilinear_mm", height_mm(Mapping::Rectilinear)),
            ])
        }
        Check::Distorted { coefficients, x, y } => {
            let bent = coefficients.distort(Vector2::new(*x, *y)).expect("inside the valid radius");
            BTreeMap::from([("x", bent.x), ("y", bent.y)])
        }
        &Check::Field { width_mm, height_mm, focal_mm } => {
            let camera = Camera::plain(frame(width_mm, height_mm), focal_mm);
            let [across, down, diagonal] = camera.fields().map(|field| field.expect("a rectilinear field"));
            BTreeMap::from([
                ("horizontal_deg", across.degrees()),
                ("vertical_deg", down.degrees()),
                ("vertical_rad", down.radians()),
                ("diagonal_deg", diagonal.degrees()),
                ("equivalent_mm", camera.equivalent_focal_mm()),
            ])
        }
        Check::InKit { format } => {
            let Format { width_mm, height_mm, .. } = Kit::built_in()
                .formats
                .into_iter()
                .find(|known| known.name == *format)
                .unwrap_or_else(|| panic!("the built-in kit has no {format}"));
            let format = Kit::built_in().format(format).expect("found by its name");
            BTreeMap::from([
                ("width_mm", width_mm),
                ("height_mm", height_mm),
                ("diagonal_mm", format.diagonal_mm()),
                ("crop_factor", format.crop_factor()),
            ])
        }
        &Check::Sharp { focal_mm, f_number, circle_mm, distance_m } => {
            let sharp = Focus { focal_mm, f_number, distance_m }.depth_of_field(circle_mm);
            let at_infinity = Focus { focal_mm, f_number, distance_m: f64::INFINITY }.depth_of_field(circle_mm);
            let focused_m = 2.0 * sharp.near_m * sharp.far_m / (sharp.near_m + sharp.far_m);
            BTreeMap::from([
                ("hyperfocal_m", sharp.hyperfocal_m),
                // A lens set to infinity is sharp from here on.
                ("hyperfocal_less_focal_m", at_infinity.near_m),
                ("hyperfocal_less_focal_ft", at_infinity.near_m / METRES_PER_FOOT),
                ("near_ft", sharp.near_m / METRES_PER_FOOT),
                ("far_ft", sharp.far_m / METRES_PER_FOOT),
                ("focused_ft", focused_m / METRES_PER_FOOT),
            ])
        }
        &Check::Stopped { f_number, seconds } => BTreeMap::from([
            ("airy_um", airy_disc_mm(f_number) * 1000.0),
            ("exposure_value", exposure_value(f_number, seconds)),
        ]),
        &Check::Shifted { width_mm, height_mm, focal_mm, rise_mm, shift_mm } => {
            let plain = Camera::plain(frame(width_mm, height_mm), focal_mm);
            // How far off the lens axis the frame reaches at a point of its edge, with the lens moved so.
            let reach = |rise_mm, shift_mm, x, y| {
                let moved = Camera { rise_mm, shift_mm, ..plain };
                let view = moved.view_from_picture(PicturePoint::new(x * width_mm, y * height_mm)).expect("a ray");
                view.xy().norm().atan2(view.z).to_degrees()
            };
            let both = |rise_mm: f64, shift_mm: f64, x: f64, y: f64| {
                reach(rise_mm, shift_mm, x, y) + reach(-rise_mm, -shift_mm, -x, -y)
            };
            BTreeMap::from([
                ("vertical_deg", both(rise_mm, 0.0, 0.0, 0.5)),
                ("horizontal_deg", both(0.0, shift_mm, 0.5, 0.0)),
                ("diagonal_deg", both(rise_mm, shift_mm, 0.5, 0.5)),
                ("top_ray_deg", reach(rise_mm, 0.0, 0.0, 0.5)),
                ("needed_circle_mm", Camera { rise_mm, shift_mm, ..plain }.needed_circle_mm()),
            ])
        }
        &Check::Level { height_mm, focal_mm, rise_mm, distance_m } => {
            let camera = Camera { rise_mm, ..Camera::plain(frame(36.0, height_mm), focal_mm) };
            let north = pose(WorldPoint::origin(), 0.0, 0.0);
            let height_m = |v_mm| {
                let ray = ray(&camera, &north, PicturePoint::new(0.0, v_mm));
                ray.z / ray.y * distance_m
            };
            BTreeMap::from([("top_m", height_m(0.5 * height_mm)), ("centre_m", height_m(0.0))])
        }
    }
}

fn pitched_camera(focal_mm: f64, pitch_deg: f64, x_mm: f64) -> Answers {
    // Any heading will do; the eye is at the origin.
    let camera = camera(focal_mm);
    let pose = pose(WorldPoint::origin(), 33.0, pitch_deg);
    let zenith = drawn(&camera, &pose, WorldVector::z());
    let horizon = drawn(&camera, &pose, Attitude::level(pose.attitude.heading).forward());
    // The plumb line through a point of the principal row, 20 m away: where it is drawn a little lower and higher.
    let on_row = ray(&camera, &pose, PicturePoint::new(x_mm, 0.0)) * 20.0;
    let foot = drawn(&camera, &pose, on_row - WorldVector::z());
    let head = drawn(&camera, &pose, on_row + WorldVector::z());
    // Positive where the head leans left.
    let lean = (foot.x - head.x).atan2(head.y - foot.y);
    BTreeMap::from([("vanishing_mm", zenith.y), ("horizon_mm", -horizon.y), ("lean_deg", lean.to_degrees())])
}

fn tilted_photograph(focal_mm: f64, tilt_deg: f64, flying_height_m: f64) -> Answers {
    let camera = camera(focal_mm);
    let pose = pose(WorldPoint::new(0.0, 0.0, flying_height_m), 0.0, -90.0 + tilt_deg);
    let nadir = drawn(&camera, &pose, -WorldVector::z());
    // The isocentre lies where the ray halfway between the axis and the plumb line is drawn.
    let halfway = (pose.attitude.forward() - WorldVector::z()).normalize();
    let isocentre = drawn(&camera, &pose, halfway);
    // Two points of the ground, either side of the isocentre.
    let ground = pose.eye + halfway * (flying_height_m / -halfway.z);
    let aside = |east_m: f64| drawn(&camera, &pose, ground + WorldVector::x() * east_m - pose.eye);
    let scale = (aside(10.0) - aside(-10.0)).norm() / 20.0;
    BTreeMap::from([
        ("nadir_mm", nadir.norm()),
        ("isocentre_mm", isocentre.norm()),
        ("isocentre_scale_over_vertical_scale", scale / (focal_mm / flying_height_m)),
    ])
}

fn tower_from_above(focal_mm: f64, flying_height: &FlyingHeight, foot_mm: f64, head_mm: f64) -> Answers {
    let camera = camera(focal_mm);
    let flying_height_m = match *flying_height {
        FlyingHeight::Given(height_m) => height_m,
        FlyingHeight::FromLength { known_m, drawn_mm } => focal_mm * known_m / drawn_mm,
    };
    let pose = pose(WorldPoint::new(0.0, 0.0, flying_height_m), 0.0, -90.0);
    let foot_ray = ray(&camera, &pose, PicturePoint::new(foot_mm, 0.0));
    let foot = pose.eye + foot_ray * (flying_height_m / -foot_ray.z);
    let head_ray = ray(&camera, &pose, PicturePoint::new(head_mm, 0.0));
    let tower_m = flying_height_m + head_ray.z * foot.coords.xy().norm() / head_ray.xy().norm();
    BTreeMap::from([("tower_m", tower_m), ("scale_denominator", foot.coords.xy().norm() * 1000.0 / foot_mm)])
}

/// Holds the program to every row of a table and tells all rows it fails.
fn hold_to(file: &str) {
    let path = support::project().join("tests/reference").join(file);
    let text = std::fs::read_to_string(&path).expect("a table of published values");
    let table: Table = ron_options().from_str(&text).unwrap_or_else(|error| panic!("{file}: {error}"));
    let mut failures = Vec::new();
    let mut ids = BTreeSet::new();
    for Row { id, check, grade, source, expect } in &table.rows {
        assert!(ids.insert(id), "{file}: {id} stands twice");
        assert!(!source.is_empty() && !expect.is_empty(), "{file}: {id} lacks its source or its values");
        let answers = answers(check);
        for (name, Expected(value, tolerance)) in expect {
            assert!(*tolerance > 0.0 && *tolerance < 0.02 * value.abs().max(1.0), "{file}: {id} {name}: tolerance");
            match answers.get(name.as_str()) {
                // Written so that a NaN fails.
                Some(answer) if (answer - value).abs() <= *tolerance => {}
                Some(answer) => failures
                    .push(format!("{id}: {name} is {answer}, not {value} ± {tolerance} ({} {source})", grade.words())),
                None => failures.push(format!("{id}: nothing is called {name}")),
            }
        }
    }
    assert!(failures.is_empty(), "{} ({file}):\n{}", table.title, failures.join("\n"));
}

#[test]
fn perspective_and_photogrammetry() {
    hold_to("perspective.ron");
}

#[test]
fn formats_lenses_focus_exposure_and_rise() {
    hold_to("optics.ron");
}
