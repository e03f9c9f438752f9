//! The ray-cast picture, measured on its pixels.

use plumbsight::angle::Angle;
use plumbsight::optics::{Camera, Distortion, Focus, Frame, Mapping, Margins, PixelPoint};
use plumbsight::pose::{Attitude, Pose, WorldPoint};
use plumbsight::progress::{Cancelled, Progress};
use plumbsight::sight::Sight;
use plumbsight::site::{Model, Sun};
use plumbsight::still::{
    LabelAnchor, MarkForm, Overlay, OverlayInk, OverlayLabel, OverlayLine, OverlayMark, Picture, Scene, StillError,
    Style, View, render,
};
use plumbsight::theme::{Colour, Theme};

use crate::station::{site, station};

fn look(eye: (f64, f64, f64), heading_deg: f64, pitch_deg: f64) -> Pose {
    let attitude = Attitude {
        heading: Angle::from_degrees(heading_deg),
        pitch: Angle::from_degrees(pitch_deg),
        roll: Angle::ZERO,
    };
    Pose { eye: WorldPoint::new(eye.0, eye.1, eye.2), attitude }
}

fn frame(width_px: u32, height_px: u32) -> Frame {
    Frame { width_mm: 36.0, height_mm: 24.0, width_px, height_px, margins: Margins::USUAL }
}

/// The stack's sides, the plumb edges of two houses, and the horizon, straight from the camera.
fn flanks_and_verticals(model: &Model, view: &View) -> Overlay {
    let mut overlay = Overlay::default();
    let drawn =
        |point: &WorldPoint| view.camera.pixel_from_view(&view.pose.view_of(point)).map(|pixel| (pixel.x, pixel.y));
    let mut line = |from: &WorldPoint, to: &WorldPoint, ink, label: Option<(LabelAnchor, &str)>| {
        let (Some(a), Some(b)) = (drawn(from), drawn(to)) else { return };
        overlay.lines.push(OverlayLine { points_px: vec![a, b], ink, dotted: ink == OverlayInk::Horizon });
        let lean_deg = (b.0 - a.0).atan2(a.1 - b.1).to_degrees().abs();
        if let Some((anchor, what)) = label {
            let at_px = (0.5 * (a.0 + b.0), 0.5 * (a.1 + b.1));
            overlay.labels.push(OverlayLabel { at_px, text: format!("{what} {lean_deg:.1}°"), ink, anchor });
        }
    };
    let eye = view.pose.eye;
    for round in model.solids.iter().take(1).flat_map(|solid| &solid.rounds) {
        // DESIGN section 3: generators at φc ± acos((r0 + k(z0 − zc))/ρc).
        let (east, north) = (eye.x - round.axis.0, eye.y - round.axis.1);
        let share = (round.base_radius_m + round.slope() * (round.base_m - eye.z)) / east.hypot(north);
        for (side, anchor) in [(1.0, LabelAnchor::Left), (-1.0, LabelAnchor::Right)] {
            let turn = north.atan2(east) - side * share.acos();
            let at = |radius_m: f64, z: f64| {
                WorldPoint::new(round.axis.0 + radius_m * turn.cos(), round.axis.1 + radius_m * turn.sin(), z)
            };
            let (foot, head) = (at(round.base_radius_m, round.base_m), at(round.top_radius_m, round.top_m));
            line(&foot, &head, OverlayInk::Side, Some((anchor, "flank")));
        }
    }
    for (block, label) in [(4, LabelAnchor::Left), (8, LabelAnchor::Right)] {
        let solid = &model.solids[block];
        let mut labelled = false;
        for edge in solid.edges.iter().filter(|edge| edge.plumb) {
            let [low, high] = edge.ends.map(|end| solid.vertices[end as usize]);
            let facing = edge.faces.iter().any(|&face| solid.faces[face as usize].normal.dot(&(eye - low)) > 0.0);
            if facing && high.z - low.z > 4.0 {
                line(&low, &high, OverlayInk::Plumb, (!labelled).then_some((label, "leans")));
                labelled = true;
            }
        }
    }
    let far = |right: f64| {
        eye + view.pose.attitude.forward().xy().normalize().push(0.0) * 1e6 + {
            let across = view.pose.attitude.view_from_world().transpose().column(0).into_owned();
            across * right * 1e6
        }
    };
    line(&far(-1.0), &far(1.0), OverlayInk::Horizon, None);
    let at_px = (0.53 * f64::from(view.camera.frame.width_px), 0.05 * f64::from(view.camera.frame.height_px));
    overlay.marks.push(OverlayMark { at_px, ink: OverlayInk::Plumb, form: MarkForm::Arrow { toward: (0.0, -1.0) } });
    overlay.labels.push(OverlayLabel {
        at_px,
        text: "the verticals meet 7 half-frames up".into(),
        ink: OverlayInk::Plumb,
        anchor: LabelAnchor::Right,
    });
    overlay
}

#[test]
fn lines_and_labels_are_drawn_over_the_station_in_both_themes() {
    let mut inked = 0;
    let model = station();
    let sight = Sight::over(&model);
    let scene = Scene { model: &model, sight: &sight };
    let ground_m = |x, y| model.site.terrain.height_m((x, y));
    let views = [
        ("yard", look((-9.0, -47.0, ground_m(-9.0, -47.0) + 1.6), 10.0, 15.0), 24.0),
        ("back", look((-38.0, -118.0, ground_m(-38.0, -118.0) + 1.6), 17.0, 6.5), 50.0),
        ("above", look((80.0, -95.0, 48.0), 322.0, -14.0), 28.0),
        ("shallow", look((8.3, -25.0, ground_m(8.3, -25.0) + 1.6), 330.0, 8.0), 50.0),
        ("sunward", look((32.0, 46.0, ground_m(32.0, 46.0) + 1.6), 218.0, 13.0), 24.0),
        ("wide", look((2.0, -22.0, ground_m(2.0, -22.0) + 1.6), 350.0, 35.0), 12.0),
    ];
    let width_px = 375;
    for theme in Theme::ALL {
        for (name, pose, focal_mm) in views {
            let camera = Camera::plain(frame(width_px, width_px * 2 / 3), focal_mm);
            let focus = Focus { focal_mm, f_number: 1.4, distance_m: 11.0 };
            let view = View { camera, pose, focus: (name == "shallow").then_some(focus) };
            let style = Style {
                theme,
                samples: if name == "shallow" { 16 } else { 4 },
                sun: Some(Sun { azimuth_deg: 238.0, altitude_deg: 27.0 }),
                figures: vec![(-3.0, -17.0), (-1.9, -16.4), (4.5, -9.0), (12.0, -37.0)],
                ..Style::default()
            };
            let picture = render(&scene, &view, &style, &Progress::unwatched()).expect("a picture");
            let mut written = picture.clone();
            let overlay = flanks_and_verticals(&model, &view);
            let outcome = written.draw(&overlay, theme);
            assert_eq!(outcome.labels + outcome.left_out, overlay.labels.len());
            for line in overlay.lines.iter().filter(|line| !line.dotted) {
                let [a, b] = line.points_px[..] else { panic!("a line has two ends") };
                // Every tenth of it that lies in the frame.
                let places = (1..10)
                    .map(|tenth| f64::from(tenth) / 10.0)
                    .map(|t| (a.0 + (b.0 - a.0) * t, a.1 + (b.1 - a.1) * t));
                for (x, y) in places {
                    let inside = |value: f64, most: u32| (2.0..f64::from(most) - 2.0).contains(&value);
                    if inside(x, width_px) && inside(y, picture.height_px) {
                        let at = (x as u32, y as u32);
                        assert_ne!(
                            picture.pixel(at.0, at.1),
                            written.pixel(at.0, at.1),
                            "{name}, {theme:?}: no ink at {at:?}"
                        );
                        inked += 1;
                    }
                }
            }
        }
    }
    assert!(inked > 200, "{inked}");
}

fn take(text: &str, view: &View, style: &Style) -> Picture {
    let model = Model::build(site(text));
    let sight = Sight::over(&model);
    render(&Scene { model: &model, sight: &sight }, view, style, &Progress::unwatched()).expect("a picture")
}

/// Plain tones for measuring, light card against a dark sky: no ink, no shadow, no contour lines.
fn bare() -> Style {
    Style { theme: Theme::Dusk, samples: 4, ink: false, contours: false, ..Style::default() }
}

fn light(picture: &Picture, x: u32, y: u32) -> f64 {
    let [red, green, blue] = picture.pixel(x, y).expect("inside");
    Colour(red, green, blue).luminance()
}

/// Where along a row the outermost boundary near `x_px` lies, in pixels: the tone outside is that of the pixels
/// `outward` (−1: to the left, 1: to the right) of it, the tone inside that of `core`, the first pixels within.
fn boundary_px(picture: &Picture, row: u32, x_px: f64, outward: i32, depth_px: u32) -> Option<f64> {
    const ROOM: i64 = 9;
    let middle = x_px.round() as i64;
    let column = |step: i64| middle + step * i64::from(outward);
    let value =
        |step: i64| u32::try_from(column(step)).ok().filter(|&x| x < picture.width_px).map(|x| light(picture, x, row));
    let far_outside = value(ROOM)?;
    // From the outside inwards until the tone has changed for good, then as many pixels as the core has.
    let first = (-ROOM..=ROOM).rev().find(|&step| value(step).is_some_and(|v| (v - far_outside).abs() > 0.02))?;
    let (outer, inner) = (first + 3, first - i64::from(depth_px));
    let (outside, inside) = (value(outer)?, value(inner)?);
    if (inside - outside).abs() < 0.1 {
        return None;
    }
    let covered: f64 = (inner..=outer).filter_map(value).map(|v| (v - outside) / (inside - outside)).sum();
    // The pixel `inner` reaches from its own inner side; `covered` pixels from there the boundary stands.
    let inner_side = column(inner) as f64 + if outward > 0 { 0.0 } else { 1.0 };
    Some(inner_side + covered * f64::from(outward))
}

/// Where along a row the middle of an inked line near `x_px` lies: the centre of what the ink takes away.
fn line_px(plain: &Picture, inked: &Picture, row: u32, x_px: f64) -> Option<f64> {
    let middle = x_px.round() as u32;
    let (mut weight, mut moment) = (0.0, 0.0);
    for x in middle.checked_sub(6)?..(middle + 6).min(plain.width_px) {
        let taken = light(plain, x, row) - light(inked, x, row);
        weight += taken;
        moment += taken * (f64::from(x) + 0.5);
    }
    (weight > 0.1).then_some(moment / weight)
}

/// Slope dx/dy and place at y = 0 of the straight line nearest to the points.
fn fitted(points: &[EdgePoint], x: impl Fn(&EdgePoint) -> f64) -> (f64, f64) {
    let count = points.len() as f64;
    let mean_x = points.iter().map(&x).sum::<f64>() / count;
    let mean_y = points.iter().map(|point| point.y_px).sum::<f64>() / count;
    let over: f64 = points.iter().map(|point| (x(point) - mean_x) * (point.y_px - mean_y)).sum();
    let under: f64 = points.iter().map(|point| (point.y_px - mean_y).powi(2)).sum();
    (over / under, mean_x - over / under * mean_y)
}

const TOWER: &str = "(format: 1, name: \"t\", blocks: [(name: \"tower\", subject: true, at: (0, 0), \
                     shape: Box(width_m: 12, depth_m: 12, height_m: 60))])";

/// A tower seen from one place: with ink, and bare in both themes.
struct Seen {
    view: View,
    inked: Picture,
    bare: [Picture; 2],
}

/// A point of a drawn edge: where it was measured across, at which height of the picture, and where the camera says it is.
struct EdgePoint {
    x_px: f64,
    y_px: f64,
    said_px: f64,
}

impl Seen {
    fn from(view: View) -> Self {
        let paper = Style { theme: Theme::Paper, ..bare() };
        Self {
            view,
            inked: take(TOWER, &view, &Style { ink: true, ..paper.clone() }),
            bare: [take(TOWER, &view, &paper), take(TOWER, &view, &bare())],
        }
    }

    /// The middles of the picture's rows that the plumb edge over `corner` crosses.
    fn rows(&self, corner: (f64, f64)) -> Vec<(f64, f64)> {
        let Self { view, inked, .. } = self;
        let drawn = |z: f64| view.camera.pixel_from_view(&view.pose.view_of(&WorldPoint::new(corner.0, corner.1, z)));
        let course: Vec<PixelPoint> = (0..=6000).filter_map(|step| drawn(f64::from(step) * 0.01)).collect();
        let inside = 12.0..f64::from(inked.height_px) - 12.0;
        let middle = |pair: &[PixelPoint]| (pair[0].y - 0.5).floor() + 0.5;
        course
            .windows(2)
            .filter(|pair| pair[1].y <= middle(pair) && inside.contains(&middle(pair)))
            .map(|pair| {
                let share = (middle(pair) - pair[0].y) / (pair[1].y - pair[0].y);
                (pair[0].x + (pair[1].x - pair[0].x) * share, middle(pair))
            })
            .collect()
    }

    /// The boundary between card and sky, in the theme in which they stand out from one another in more rows.
    fn boundary(&self, corner: (f64, f64), outward: i32) -> Vec<EdgePoint> {
        let rows = self.rows(corner);
        let measure = |picture: &Picture| -> Vec<EdgePoint> {
            rows.iter()
                .filter_map(|&(said_px, y_px)| {
                    let x_px = boundary_px(picture, y_px as u32, said_px, outward, 6)?;
                    Some(EdgePoint { x_px, y_px, said_px })
                })
                .collect()
        };
        let [paper, dusk] = [measure(&self.bare[0]), measure(&self.bare[1])];
        if paper.len() > dusk.len() { paper } else { dusk }
    }

    /// The middle of the inked line.
    fn line(&self, corner: (f64, f64)) -> Vec<EdgePoint> {
        self.rows(corner)
            .into_iter()
            .filter_map(|(said_px, y_px)| {
                let x_px = line_px(&self.bare[0], &self.inked, y_px as u32, said_px)?;
                Some(EdgePoint { x_px, y_px, said_px })
            })
            .collect()
    }
}

fn turned(heading_deg: f64, pitch_deg: f64, roll_deg: f64) -> Attitude {
    Attitude {
        heading: Angle::from_degrees(heading_deg),
        pitch: Angle::from_degrees(pitch_deg),
        roll: Angle::from_degrees(roll_deg),
    }
}

#[test]
fn a_vertical_leans_in_the_picture_as_the_formula_says() {
    // lean = atan(tan α · sin θ) + ρ: DESIGN section 3, derived from the plane through lens and line.
    let cases = [
        ((18.0, -62.0, 2.0), (-12.0, 24.0, 0.0), 0.0),
        ((18.0, -62.0, 2.0), (-20.0, 24.0, 3.0), 0.0),
        ((-20.0, -60.0, 2.0), (16.0, 14.0, -2.0), 9.0),
        ((-20.0, -60.0, 75.0), (18.0, -30.0, 0.0), -4.0),
        ((0.0, -70.0, 30.0), (4.0, 0.0, 1.25), 0.0),
    ];
    for (eye, (heading_deg, pitch_deg, roll_deg), rise_mm) in cases {
        let pose =
            Pose { eye: WorldPoint::new(eye.0, eye.1, eye.2), attitude: turned(heading_deg, pitch_deg, roll_deg) };
        let frame = Frame { width_mm: 24.0, height_mm: 36.0, width_px: 1100, height_px: 1650, margins: Margins::USUAL };
        let view = View { camera: Camera { rise_mm, ..Camera::plain(frame, 28.0) }, pose, focus: None };
        let seen = Seen::from(view);
        // The outermost corner on the camera's right and on its left.
        for (outward, corners) in [(1, [(6.0, -6.0), (6.0, 6.0)]), (-1, [(-6.0, -6.0), (-6.0, 6.0)])] {
            let bearing =
                |corner: (f64, f64)| pose.bearing_right_of_heading(&WorldPoint::new(corner.0, corner.1, 0.0)).radians();
            let farther = (bearing(corners[0]) - bearing(corners[1])) * f64::from(outward) > 0.0;
            let corner = if farther { corners[0] } else { corners[1] };
            let alpha = bearing(corner);
            let lean_deg = (alpha.tan() * pose.attitude.pitch.sin()).atan().to_degrees() + roll_deg;
            // An inked outline lies within the edge, half its width away.
            for (points, within_px) in [(seen.boundary(corner, outward), 0.06), (seen.line(corner), 1.2)] {
                assert!(points.len() >= 800, "{} rows", points.len());
                let measured_deg = fitted(&points, |point| point.x_px).0.atan().to_degrees();
                assert!((measured_deg - lean_deg).abs() < 0.02, "{measured_deg} measured, {lean_deg} by the formula");
                let off_px =
                    points.iter().map(|point| (point.x_px - point.said_px).abs()).sum::<f64>() / points.len() as f64;
                assert!(off_px < within_px, "{off_px} px off");
            }
        }
    }
}

#[test]
fn a_distorted_vertical_is_where_the_camera_says() {
    let distortion = Distortion::from_slice(&[-0.18, 0.05, 0.001, -0.002, 0.0]).expect("mild");
    let frame = Frame { width_mm: 24.0, height_mm: 36.0, width_px: 900, height_px: 1350, margins: Margins::USUAL };
    for mapping in [Mapping::Rectilinear, Mapping::Equisolid] {
        let seen = Seen::from(View {
            camera: Camera { distortion, mapping, ..Camera::plain(frame, 24.0) },
            pose: Pose { eye: WorldPoint::new(14.0, -48.0, 2.0), attitude: turned(-28.0, 22.0, 0.0) },
            focus: None,
        });
        let points = seen.boundary((6.0, 6.0), 1);
        assert!(points.len() >= 600, "{} rows", points.len());
        let (slope, start) = fitted(&points, |point| point.said_px);
        let line_bend_px =
            points.iter().map(|point| (point.said_px - start - slope * point.y_px).abs()).fold(0.0, f64::max);
        assert!(line_bend_px > 2.0, "the line is to be bent: {line_bend_px}");
        let squares = points.iter().map(|point| (point.x_px - point.said_px).powi(2)).sum::<f64>();
        let off_px = (squares / points.len() as f64).sqrt();
        assert!(off_px < 0.08, "{off_px} px off");
        let chord_deg = |x: fn(&EdgePoint) -> f64| fitted(&points, x).0.atan().to_degrees();
        assert!((chord_deg(|point| point.x_px) - chord_deg(|point| point.said_px)).abs() < 0.02);
    }
}

#[test]
fn the_level_horizon_halves_the_frame_and_crosses_everything_at_lens_height() {
    let frame = frame(900, 600);
    let view = View { camera: Camera::plain(frame, 24.0), pose: look((0.0, 0.0, 1.6), 0.0, 0.0), focus: None };
    let blocks = |height_m: f64| {
        format!(
            "(format: 1, name: \"t\", blocks: [
                (name: \"a\", at: (-4, 12), heading_deg: 20, shape: Box(width_m: 3, depth_m: 2, height_m: {height_m})),
                (name: \"b\", at: (5, 20), shape: Box(width_m: 4, depth_m: 2, height_m: {height_m})),
                (name: \"c\", at: (16, 90), shape: Box(width_m: 9, depth_m: 9, height_m: {height_m}))])"
        )
    };
    let empty = take("(format: 1, name: \"t\")", &view, &bare());
    let upper = |picture: &Picture| picture.rgb[..3 * 900 * 299].to_vec();
    for x in (0..900).step_by(60) {
        // Sky on one side of the middle, ground on the other; the tones run on within each.
        let (above, sky, ground) = (light(&empty, x, 297), light(&empty, x, 299), light(&empty, x, 300));
        assert!((sky - ground).abs() > 5.0 * (above - sky).abs() && sky != ground, "{above} {sky} {ground}");
    }
    // One ray a pixel or several: a step of 255 is no difference.
    let differs = |height_m: f64| {
        let pictured = upper(&take(&blocks(height_m), &view, &bare()));
        pictured.iter().zip(upper(&empty)).any(|(one, other)| one.abs_diff(other) > 1)
    };
    assert!(!differs(1.6));
    // 5 cm more stand 1.6 px above the middle at 20 m.
    assert!(differs(1.65));
}

#[test]
fn a_poles_shadow_is_its_height_over_the_tangent_of_the_suns_altitude() {
    let sun = Sun { azimuth_deg: 215.0, altitude_deg: 40.0 };
    let text = "(format: 1, name: \"t\", blocks: [(name: \"pole\", at: (0, 0), heading_deg: 215, \
                shape: Box(width_m: 0.6, depth_m: 0.6, height_m: 10))])";
    // Straight down from 80 m above the middle of the shadow, the top of the picture to the north.
    let away = (sun.azimuth_deg + 180.0).to_radians();
    let (east, north) = (away.sin(), away.cos());
    let view = View {
        camera: Camera::plain(frame(1800, 1200), 70.0),
        pose: look((6.0 * east, 6.0 * north, 80.0), 0.0, -90.0),
        focus: None,
    };
    let picture = take(text, &view, &Style { sun: Some(sun), ..bare() });
    let at = |along_m: f64, across_m: f64| {
        let point = WorldPoint::new(along_m * east + across_m * north, along_m * north - across_m * east, 0.0);
        let pixel = view.camera.pixel_from_view(&view.pose.view_of(&point)).expect("in the frame");
        light(&picture, pixel.x as u32, pixel.y as u32)
    };
    // The themes' own tones, but for 80 m of air, which veil them by a twenty-fifth with the sky over the horizon.
    let (lit, dark) = (at(8.0, 2.0), at(8.0, 0.0));
    let shadow = |along_m: f64, across_m: f64| (lit - at(along_m, across_m)) / (lit - dark);
    let palette = Theme::Dusk.palette();
    let veiled = |tone: f64| tone + 0.04 * (palette.sky_low.luminance() - tone);
    assert!((dark - veiled(palette.ground_shadow.luminance())).abs() < 0.1 * (lit - dark), "{dark}");
    assert!((lit - veiled(palette.ground.luminance())).abs() < 0.1 * (lit - dark), "{lit}");
    assert!(shadow(3.0, 0.0) > 0.95 && shadow(8.0, 1.0) < 0.05 && shadow(-4.0, 0.0) < 0.05);
    // From the pole's far side, so half its depth more from its axis. Summed over 4 m about the end, as in a ruler's
    // shadow the half-shade counts half.
    let expected_m = 0.3 + 10.0 / sun.altitude_deg.to_radians().tan();
    let steps = 4000;
    let length_m: f64 = (0..steps)
        .map(|step| expected_m - 2.0 + 4.0 * (f64::from(step) + 0.5) / f64::from(steps))
        .map(|along_m| shadow(along_m, 0.0) * 4.0 / f64::from(steps))
        .sum::<f64>()
        + expected_m
        - 2.0;
    assert!((length_m - expected_m).abs() < 0.03, "{length_m} m, not {expected_m} m");
    let (left, right) = (-1..=0, 0..=1);
    let width_m = |sides: std::ops::RangeInclusive<i32>| {
        (0..1000)
            .map(|step| f64::from(*sides.start()) + f64::from(step) / 1000.0)
            .map(|across_m| shadow(8.0, across_m) / 1000.0)
            .sum::<f64>()
    };
    assert!((width_m(left) - 0.3).abs() < 0.02 && (width_m(right) - 0.3).abs() < 0.02);
}

#[test]
fn blur_grows_as_the_thin_lens_says() {
    for (f_number, distance_m) in [(1.4, 5.0), (2.8, 8.0)] {
        let focus = Focus { focal_mm: 85.0, f_number, distance_m };
        // The tower's near right edge straight ahead, level, 60 m away: a plumb step between two plain tones.
        let view = View {
            camera: Camera::plain(frame(1200, 400), 85.0),
            pose: look((6.0, -66.0, 20.0), 0.0, 0.0),
            focus: Some(focus),
        };
        let camera = Camera { frame: Frame { height_mm: 12.0, ..view.camera.frame }, ..view.camera };
        let picture = take(TOWER, &View { camera, ..view }, &bare());
        // The mean over the rows above the horizon, as a step from nought to one.
        let profile: Vec<f64> =
            (0..1200).map(|x| (20..180).map(|y| light(&picture, x, y)).sum::<f64>() / 160.0).collect();
        let (start, end) = (profile[550], profile[650]);
        let steps: Vec<(f64, f64)> =
            (550..650).map(|x| (x as f64, (profile[x + 1] - profile[x]) / (end - start))).collect();
        let mean: f64 = steps.iter().map(|(x, share)| x * share).sum();
        let variance: f64 = steps.iter().map(|(x, share)| (x - mean).powi(2) * share).sum();
        // An evenly filled disc of diameter c, summed along the edge, has a variance of c²/16; the pixel adds 1/12 of
        // its own.
        let diameter_px = 4.0 * (variance - 1.0 / 6.0).sqrt();
        let edge_mm = 60_000.0;
        let focused_mm = 1000.0 * distance_m;
        let thin_lens_mm = 85.0 * 85.0 / (f_number * (focused_mm - 85.0)) * (edge_mm - focused_mm).abs() / edge_mm;
        let expected_px = thin_lens_mm * 1200.0 / 36.0;
        assert!((diameter_px / expected_px - 1.0).abs() < 0.1, "{diameter_px} px, not {expected_px}");
    }
}

#[test]
fn focused_on_it_a_thing_is_as_sharp_as_without_a_lens() {
    let pose = look((6.0, -66.0, 20.0), 0.0, 0.0);
    let camera = Camera::plain(frame(600, 400), 85.0);
    let sharp = take(TOWER, &View { camera, pose, focus: None }, &bare());
    let focus = Some(Focus { focal_mm: 85.0, f_number: 1.4, distance_m: 60.0 });
    let focused = take(TOWER, &View { camera, pose, focus }, &bare());
    for x in 290..310 {
        assert!((light(&sharp, x, 60) - light(&focused, x, 60)).abs() < 0.02);
    }
}

#[test]
fn the_same_picture_whatever_the_number_of_threads() {
    let model = station();
    let sight = Sight::over(&model);
    let scene = Scene { model: &model, sight: &sight };
    for focus in [None, Some(Focus { focal_mm: 24.0, f_number: 2.0, distance_m: 6.0 })] {
        let view =
            View { camera: Camera::plain(frame(241, 163), 24.0), pose: look((-9.0, -47.0, 1.6), 10.0, 15.0), focus };
        let style = Style {
            sun: Some(Sun { azimuth_deg: 238.0, altitude_deg: 27.0 }),
            figures: vec![(-3.0, -17.0)],
            ..Style::default()
        };
        let with = |threads: usize| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
            pool.install(|| render(&scene, &view, &style, &Progress::unwatched()).expect("a picture"))
        };
        assert!(with(1) == with(2));
    }
}

#[test]
fn a_cancelled_picture_stops_early() {
    let model = station();
    let sight = Sight::over(&model);
    let scene = Scene { model: &model, sight: &sight };
    let view = View {
        camera: Camera::plain(frame(9000, 6000), 24.0),
        pose: look((-9.0, -47.0, 1.6), 10.0, 15.0),
        focus: None,
    };
    let progress = Progress::unwatched();
    std::thread::scope(|threads| {
        let taking = threads.spawn(|| render(&scene, &view, &Style::default(), &progress));
        while progress.count().0 < 20 {
            std::thread::yield_now();
        }
        progress.cancel();
        assert_eq!(taking.join().expect("no panic"), Err(StillError::Cancelled(Cancelled)));
    });
    let (done, total) = progress.count();
    assert!(done < total / 2, "{done} of {total}");
}

#[test]
fn impossible_pictures_are_refused_by_name() {
    let model = Model::build(site(TOWER));
    let sight = Sight::over(&model);
    let scene = Scene { model: &model, sight: &sight };
    let good =
        View { camera: Camera::plain(frame(30, 20), 24.0), pose: look((0.0, -60.0, 2.0), 0.0, 10.0), focus: None };
    let refused = |change: &dyn Fn(&mut View, &mut Style)| {
        let (mut view, mut style) = (good, Style::default());
        change(&mut view, &mut style);
        render(&scene, &view, &style, &Progress::unwatched()).expect_err("refused").to_string()
    };
    let says = |text: String, part: &str| assert!(text.contains(part), "{text}");
    says(refused(&|view, _| view.camera.frame.width_px = 30_000_000), "400");
    says(refused(&|view, _| view.camera.frame.height_px = 0), "empty");
    says(refused(&|_, style| style.figures = vec![(0.0, f64::INFINITY)]), "figure");
    says(refused(&|_, style| style.samples = 3), "1, 2, 4, 8 or 16");
    says(refused(&|view, _| view.pose.eye.x = f64::NAN), "eye");
    says(refused(&|view, _| view.pose.eye.z = 1e30), "eye");
    let focus = Focus { focal_mm: 50.0, f_number: 2.0, distance_m: 0.01 };
    says(refused(&|view, _| view.focus = Some(focus)), "focal length");
}

#[test]
fn where_no_ray_arrives_the_picture_is_plain() {
    let camera = Camera { mapping: Mapping::Orthographic, ..Camera::plain(frame(300, 200), 9.0) };
    let view = View { camera, pose: look((0.0, -60.0, 2.0), 0.0, 10.0), focus: None };
    for theme in Theme::ALL {
        let picture = take(TOWER, &view, &Style { theme, ..Style::default() });
        let Colour(red, green, blue) = theme.palette().vignette;
        // The picture's circle has a radius of 9 mm on 36 × 24.
        assert_eq!(picture.pixel(0, 0), Some([red, green, blue]));
        assert_eq!(picture.pixel(70, 100), Some([red, green, blue]));
        assert_ne!(picture.pixel(80, 100), Some([red, green, blue]));
    }
}

#[test]
fn outlines_are_inked_at_least_as_strongly_as_creases_and_round_flanks_on_both_sides() {
    let text = "(format: 1, name: \"t\", blocks: [
        (name: \"box\", at: (-6, 0), heading_deg: 45, shape: Box(width_m: 6, depth_m: 6, height_m: 12)),
        (name: \"drum\", at: (6, 0), shape: RoundTaper(foot_radius_m: 3, head_radius_m: 3, height_m: 12))])";
    let view =
        View { camera: Camera::plain(frame(1500, 1000), 50.0), pose: look((0.0, -40.0, 6.0), 0.0, 0.0), focus: None };
    let inked = take(text, &view, &Style { ink: true, ..bare() });
    let plain = take(text, &view, &bare());
    let darkness = |about_x: f64| {
        let pixel =
            view.camera.pixel_from_view(&view.pose.view_of(&WorldPoint::new(about_x, 0.0, 8.0))).expect("drawn");
        let columns = pixel.x as u32 - 12..pixel.x as u32 + 12;
        columns.map(|x| 1.0 - light(&inked, x, 400) / light(&plain, x, 400)).sum::<f64>()
    };
    let half_diagonal = 3.0 * 2.0_f64.sqrt();
    // The near corner stands 4.2 m in front, so its x is seen where −6·40/(40 − 4.2) would be.
    let crease = darkness(-6.0 * 40.0 / (40.0 - half_diagonal));
    let outlines = [darkness(-6.0 - half_diagonal), darkness(-6.0 + half_diagonal)];
    // The drum's flanks: tangents from 40.4 m to a circle of 3 m.
    let (distance_m, turn) = (6.0_f64.hypot(40.0), (6.0_f64 / 40.0).atan());
    let side = |side: f64| (turn + side * (3.0 / distance_m).asin()).tan() * 40.0;
    let sides = [darkness(side(-1.0)), darkness(side(1.0))];
    assert!(crease > 1.0, "{crease}");
    for outline in outlines.into_iter().chain(sides) {
        assert!(outline >= crease && outline < 1.6 * crease, "{outline} beside {crease}");
    }
}

#[test]
fn figures_are_people_sized_and_alter_nothing_else() {
    let text = "(format: 1, name: \"t\")";
    let view =
        View { camera: Camera::plain(frame(900, 600), 35.0), pose: look((0.0, 0.0, 1.6), 0.0, 0.0), focus: None };
    let style = |figures| Style { figures, contours: false, ..Style::default() };
    let (empty, peopled) = (take(text, &view, &style(Vec::new())), take(text, &view, &style(vec![(0.0, 12.0)])));
    // One ray a pixel or several: a step of 255 is no difference.
    let differs = |x: u32, y: u32| {
        let [one, other] = [&empty, &peopled].map(|picture| picture.pixel(x, y).expect("inside"));
        one.iter().zip(other).any(|(one, other)| one.abs_diff(other) > 1)
    };
    let differing: Vec<u32> = (0..600).filter(|&y| (0..900).any(|x| differs(x, y))).collect();
    let row = |z: f64| {
        view.camera.pixel_from_view(&view.pose.view_of(&WorldPoint::new(0.0, 12.0, z))).expect("in the frame").y
    };
    assert!((f64::from(differing[0]) - row(1.70)).abs() < 1.5);
    assert!((f64::from(differing[differing.len() - 1]) - row(0.0)).abs() < 2.5);
}

#[test]
fn contour_lines_lie_at_round_heights_and_level_ground_has_none() {
    let grid = |east_slope: f64| {
        let row: Vec<String> =
            (0..21).map(|column| (f64::from(column) * 10.0 * east_slope + 0.37).to_string()).collect();
        let rows = vec![format!("[{}]", row.join(",")); 21];
        format!(
            "(format: 1, name: \"t\", terrain: Grid((south_west: (-100, -100), spacing_m: (10, 10), rows: [{}])))",
            rows.join(",")
        )
    };
    let view =
        View { camera: Camera::plain(frame(1500, 1000), 35.0), pose: look((0.0, 0.0, 90.0), 0.0, -90.0), focus: None };
    let with = |text: &str, contours| take(text, &view, &Style { contours, samples: 16, ..Style::default() });
    let text = grid(0.2);
    let (lined, plain) = (with(&text, true), with(&text, false));
    let dark = |x: u32| (1.0 - light(&lined, x, 500) / light(&plain, x, 500)).max(0.0);
    let mut heights_m = Vec::new();
    let mut x = 100;
    while x < 1400 {
        if dark(x) > 0.01 {
            let line: Vec<u32> = (x..x + 8).collect();
            let weight: f64 = line.iter().map(|&x| dark(x)).sum();
            let middle = line.iter().map(|&x| (f64::from(x) + 0.5) * dark(x)).sum::<f64>() / weight;
            // Straight down the ground at x is met where the ray has fallen to it: z = 0.2·(e + 100) + 0.37.
            let slope = (middle - 750.0) / view.camera.focal_px().0;
            let ground_m = |east: f64| 0.2 * (east + 100.0) + 0.37;
            let east = (0..40).fold(0.0, |east, _| slope * (90.0 - ground_m(east)));
            heights_m.push(ground_m(east));
            x += 12;
        } else {
            x += 1;
        }
    }
    assert!(heights_m.len() >= 5, "{heights_m:?}");
    let steps: Vec<f64> = heights_m.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let interval_m = [0.1, 0.2, 0.5, 1.0, 2.0, 5.0].into_iter().find(|step| (step - steps[0]).abs() < 0.05 * step);
    let interval_m = interval_m.expect("a step of 1, 2 or 5");
    for height_m in heights_m {
        let off = height_m / interval_m - (height_m / interval_m).round();
        assert!(off.abs() < 0.02, "a line at {height_m} m, every {interval_m} m");
    }
    assert!(with(&grid(0.0), true) == with(&grid(0.0), false));
}

#[test]
fn odd_places_and_lenses_give_a_picture_all_the_same() {
    let model = station();
    let sight = Sight::over(&model);
    let scene = Scene { model: &model, sight: &sight };
    let stack = &model.solids[0];
    let on_its_skin = stack.vertices[stack.triangles[0].corners[0] as usize];
    let places = [
        on_its_skin,
        WorldPoint::new(0.0, 0.0, 20.0),
        WorldPoint::new(-15.0, 4.0, 3.0),
        WorldPoint::new(30.0, -60.0, -8.0),
        WorldPoint::new(20.0, -75.0, -1.5),
        WorldPoint::new(240.0, 240.0, model.site.terrain.height_m((240.0, 240.0))),
        WorldPoint::new(900_000.0, -900_000.0, 5000.0),
    ];
    let turns =
        [turned(0.0, 90.0, 0.0), turned(77.0, -90.0, 33.0), turned(-135.0, 0.0, 180.0), turned(10.0, 15.0, 0.0)];
    let suns = [(0.0, 90.0), (90.0, 0.01), (200.0, -5.0), (f64::NAN, 20.0), (20.0, f64::NAN)];
    let lenses = [
        Camera::plain(frame(40, 27), 1.0),
        Camera::plain(frame(40, 27), 5000.0),
        Camera { mapping: Mapping::Stereographic, ..Camera::plain(frame(40, 27), 3.0) },
        Camera { mapping: Mapping::Equidistant, ..Camera::plain(frame(40, 27), 4.0) },
        Camera { rise_mm: 60.0, shift_mm: -80.0, ..Camera::plain(frame(40, 27), 17.0) },
        Camera::plain(frame(40, 27), f64::NAN),
        Camera::plain(frame(1, 1), 24.0),
    ];
    for (index, eye) in places.into_iter().enumerate() {
        for (turn, attitude) in turns.into_iter().enumerate() {
            for (lens, camera) in lenses.into_iter().enumerate() {
                let (azimuth_deg, altitude_deg) = suns[(index + turn + lens) % suns.len()];
                let distance_m = [f64::INFINITY, 0.3 + camera.focal_mm / 1000.0, 40.0][(index + lens) % 3];
                let focus = Focus { focal_mm: camera.focal_mm.max(1.0), f_number: 2.0, distance_m };
                let view = View {
                    camera,
                    pose: Pose { eye, attitude },
                    focus: (turn % 2 == 0 && distance_m > 0.0).then_some(focus),
                };
                let style = Style {
                    samples: 2,
                    sun: Some(Sun { azimuth_deg, altitude_deg }),
                    figures: if lens == 0 { vec![(eye.x, eye.y)] } else { Vec::new() },
                    ..Style::default()
                };
                let picture = render(&scene, &view, &style, &Progress::unwatched()).expect("a picture");
                assert_eq!(picture.rgb.len(), 3 * (picture.width_px * picture.height_px) as usize);
            }
        }
    }
}
