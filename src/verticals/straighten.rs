//! What would be left of the picture if its verticals were straightened afterwards?
//!
//! Undistort, then H = K′·R_level·R⁻¹·K⁻¹. Straightening invents no pixels: the focal length f′ of the straightened
//! picture is such that nowhere on the subject one pixel of the original is stretched over more than one.

use nalgebra::{Matrix2, Matrix3, Vector3};

use crate::optics::{Camera, Frame, IdealWindow, Margins, PixelPoint};
use crate::outline::{Sample, hull};
use crate::pose::{Attitude, Pose, ViewVector, WorldPoint};
use crate::wording::percent;

use super::Viewpoint;
use super::detail::{Detail, smallest_singular_value, surface_detail};

/// A flat picture is followed no farther than this slope (89°) off its axis.
const STEEPEST: f64 = 57.29;
/// A subject that loses less than this share of its outline counts as whole.
const WHOLE: f64 = 1e-6;

/// What to straighten.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Straightening {
    /// The share of the tilt that is left in: 0 straightens wholly.
    pub tilt_left: f64,
    /// Width over height of the picture that is wanted.
    pub proportion: f64,
}

/// The straightened picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Straightened {
    /// A camera that would take it at once from the same eye: its frame, focal length, rise and shift.
    pub camera: Camera,
    /// How that camera is turned.
    pub attitude: Attitude,
    /// Pixels kept, in millions.
    pub megapixels_kept: f64,
    /// The smallest detail on the subject.
    pub detail_kept: Option<Detail>,
    /// Whether the subject keeps its margins as well.
    pub margins_kept: bool,
    /// Pixels that would be kept if the subject needed no margins, in millions.
    pub megapixels_without_margins: f64,
}

/// Why nothing useful is left.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum StraightenFailure {
    /// The frame cuts the subject: so much of its outline's area, in the straightened picture, is missing.
    SubjectCut {
        /// The share that is missing.
        share: f64,
    },
    /// The subject reaches 89° or more off the level axis: no flat picture holds it.
    TooSteep,
    /// The subject is whole, but no upright picture of the wanted proportion holds it.
    ProportionDoesNotFit,
    /// No part of the subject is in front of the camera.
    NotInFront,
}

impl StraightenFailure {
    /// In plain words.
    pub fn words(&self) -> String {
        match self {
            Self::SubjectCut { share } => format!("the frame cuts off {} of the subject's outline", percent(*share)),
            Self::TooSteep => "the subject reaches too far off the level axis for a flat picture".into(),
            Self::ProportionDoesNotFit => {
                "the subject is whole, but no upright picture of this proportion holds it".into()
            }
            Self::NotInFront => "the subject is not in front of the camera".into(),
        }
    }

    /// In a few words, where "the subject" is understood.
    pub fn brief(&self) -> String {
        match self {
            Self::SubjectCut { share } => format!("the frame cuts off {}", percent(*share)),
            Self::TooSteep => "too steep for a flat picture".into(),
            Self::ProportionDoesNotFit => "no upright frame holds it".into(),
            Self::NotInFront => "it is not in front".into(),
        }
    }
}

/// What is kept of a picture that is straightened, for a subject given by its corners and by the surface points that
/// its detail is judged by.
///
/// # Errors
/// Which of the conditions fails.
pub fn straighten(
    viewpoint: &Viewpoint<'_>,
    corners: &[WorldPoint],
    judged: &[Sample],
    wanted: Straightening,
) -> Result<Straightened, StraightenFailure> {
    let pose = viewpoint.pose;
    let attitude = Attitude {
        heading: pose.attitude.heading,
        pitch: pose.attitude.pitch * wanted.tilt_left,
        roll: pose.attitude.roll * wanted.tilt_left,
    };
    let level_from_view = attitude.view_from_world() * viewpoint.rotation().transpose();
    let level_from_world = attitude.view_from_world();

    let mut outline = Vec::with_capacity(corners.len());
    for corner in corners {
        let view: ViewVector = level_from_world * (corner - pose.eye);
        if view.z <= 0.0 || view.x.hypot(view.y) > STEEPEST * view.z {
            return Err(if (pose.view_of(corner)).z <= 0.0 && view.z <= 0.0 {
                StraightenFailure::NotInFront
            } else {
                StraightenFailure::TooSteep
            });
        }
        outline.push((view.x / view.z, view.y / view.z));
    }
    let outline = hull(outline);
    let sides = sides_of(viewpoint.window(), &level_from_view);
    let kept = sides.iter().fold(outline.clone(), |polygon, side| clip(&polygon, side));
    let whole_area = area(&outline);
    let cut_share = if whole_area > 0.0 { 1.0 - area(&kept) / whole_area } else { 0.0 };
    if cut_share > WHOLE || kept.is_empty() {
        return Err(StraightenFailure::SubjectCut { share: cut_share.clamp(0.0, 1.0) });
    }

    let judged_at = if viewpoint.camera.draws_straight() { kept } else { spread(&kept, &level_from_view) };
    let focal_px =
        unstretched_focal_px(viewpoint, &level_from_view, &judged_at).ok_or(StraightenFailure::NotInFront)?;
    let bounds = outline.iter().fold(
        [f64::INFINITY, f64::NEG_INFINITY, f64::INFINITY, f64::NEG_INFINITY],
        |[left, right, top, bottom], &(x, y)| [left.min(x), right.max(x), top.min(y), bottom.max(y)],
    );
    // No more pixels than there were: what is far off the subject would be stretched without end.
    let pixels = 1e6 * viewpoint.camera.frame.megapixels();
    let highest = (pixels / wanted.proportion).sqrt() / focal_px;
    let largest = |margins| largest_rectangle(&sides, bounds, wanted.proportion, highest, margins);
    let with_margins = largest(viewpoint.camera.frame.margins);
    // A crop with margins that loses no pixels has none to gain without.
    let loses_nothing = |rectangle: &Rectangle| rectangle.height >= highest * (1.0 - 1e-9);
    let tight = with_margins
        .filter(loses_nothing)
        .or_else(|| largest(Margins::NONE))
        .ok_or(StraightenFailure::ProportionDoesNotFit)?;
    let camera_of = |rectangle: Rectangle| rectangle.camera(viewpoint.camera, focal_px, wanted.proportion);
    let camera = camera_of(with_margins.unwrap_or(tight));
    let level = Pose { eye: pose.eye, attitude };
    let straight = Viewpoint::new(&camera, &level);
    let detail_kept = judged
        .iter()
        .filter(|sample| viewpoint.pixel_of(&sample.point).is_ok_and(|pixel| viewpoint.camera.holds(pixel)))
        .filter_map(|sample| surface_detail(&straight, &sample.point, &sample.normal))
        .reduce(Detail::min);
    Ok(Straightened {
        megapixels_kept: camera.frame.megapixels(),
        camera,
        attitude,
        detail_kept,
        margins_kept: with_margins.is_some(),
        megapixels_without_margins: camera_of(tight).frame.megapixels(),
    })
}

/// The focal length at which the straightened picture stretches no pixel of the original over the given outline.
///
/// # Formula
/// The smallest singular value of ∂(original pixel)/∂(straightened slope), over the given points. The stretch of a
/// homography grows towards its vanishing line, so a convex outline's largest is at a corner; a bent lens's may be
/// anywhere, see [`spread`].
fn unstretched_focal_px(
    viewpoint: &Viewpoint<'_>,
    level_from_view: &Matrix3<f64>,
    outline: &[(f64, f64)],
) -> Option<f64> {
    let view_from_level = level_from_view.transpose();
    outline
        .iter()
        .filter_map(|&(x, y)| {
            let view = view_from_level * ViewVector::new(x, y, 1.0);
            let (_, jacobian) = viewpoint.camera.pixel_with_jacobian(&view)?;
            let slopes: Matrix2<f64> = jacobian * view_from_level.fixed_columns::<2>(0);
            Some(smallest_singular_value(&slopes))
        })
        .reduce(f64::min)
        .filter(|focal_px| *focal_px > 0.0)
}

/// Points of a convex outline: its corners, points along its sides, and points between all these and its place nearest
/// the lens's axis, about which a bent lens's stretch grows or shrinks.
fn spread(outline: &[(f64, f64)], level_from_view: &Matrix3<f64>) -> Vec<(f64, f64)> {
    const ALONG: usize = 16;
    let between = |a: (f64, f64), b: (f64, f64), share: f64| (a.0 + (b.0 - a.0) * share, a.1 + (b.1 - a.1) * share);
    let mut points = Vec::with_capacity(5 * ALONG * outline.len());
    for (index, &corner) in outline.iter().enumerate() {
        let next = outline[(index + 1) % outline.len()];
        points.extend((0..ALONG).map(|step| between(corner, next, step as f64 / ALONG as f64)));
    }
    let axis = level_from_view * ViewVector::z();
    // From the middle of the outline as far towards the axis as the outline reaches.
    let count = outline.len() as f64;
    let middle = outline.iter().fold((0.0, 0.0), |sum, point| (sum.0 + point.0 / count, sum.1 + point.1 / count));
    let nearest = if axis.z > 0.0 {
        let axis = (axis.x / axis.z, axis.y / axis.z);
        between(middle, axis, clip_share(outline, middle, axis))
    } else {
        middle
    };
    let rim = points.len();
    for share in [0.25, 0.5, 0.75] {
        for index in 0..rim {
            points.push(between(nearest, points[index], share));
        }
    }
    points.push(nearest);
    points
}

/// How far, up to 1, one may go from a point inside a convex outline towards another without leaving it.
fn clip_share(outline: &[(f64, f64)], inside: (f64, f64), towards: (f64, f64)) -> f64 {
    let mut least = 1.0_f64;
    for (index, a) in outline.iter().enumerate() {
        let b = outline[(index + 1) % outline.len()];
        let side = |p: (f64, f64)| (b.0 - a.0) * (p.1 - a.1) - (b.1 - a.1) * (p.0 - a.0);
        let (here, there) = (side(inside), side(towards));
        if here * there < 0.0 {
            least = least.min(here / (here - there));
        }
    }
    least
}

/// The frame's sides as half-planes n·(x, y, 1) ≥ 0 of the straightened picture plane.
fn sides_of(window: &IdealWindow, level_from_view: &Matrix3<f64>) -> Vec<Vector3<f64>> {
    [
        Vector3::new(1.0, 0.0, -window.left),
        Vector3::new(-1.0, 0.0, window.right),
        Vector3::new(0.0, 1.0, -window.top),
        Vector3::new(0.0, -1.0, window.bottom),
        Vector3::new(0.0, 0.0, 1.0),
    ]
    .into_iter()
    .filter(|side| side.iter().all(|value| value.is_finite()))
    .map(|side| level_from_view * side)
    .collect()
}

fn clip(polygon: &[(f64, f64)], side: &Vector3<f64>) -> Vec<(f64, f64)> {
    let height = |&(x, y): &(f64, f64)| side.x * x + side.y * y + side.z;
    let mut kept = Vec::with_capacity(polygon.len() + 1);
    for (index, point) in polygon.iter().enumerate() {
        let next = &polygon[(index + 1) % polygon.len()];
        let (here, there) = (height(point), height(next));
        if here >= 0.0 {
            kept.push(*point);
        }
        if (here >= 0.0) != (there >= 0.0) {
            let share = here / (here - there);
            kept.push((point.0 + (next.0 - point.0) * share, point.1 + (next.1 - point.1) * share));
        }
    }
    kept
}

fn area(polygon: &[(f64, f64)]) -> f64 {
    let twice: f64 = polygon
        .iter()
        .enumerate()
        .map(|(index, a)| {
            let b = polygon[(index + 1) % polygon.len()];
            a.0 * b.1 - b.0 * a.1
        })
        .sum();
    0.5 * twice.abs()
}

/// An upright rectangle of the straightened picture plane: its centre and height, in slopes.
#[derive(Clone, Copy, Debug)]
struct Rectangle {
    x: f64,
    y: f64,
    height: f64,
}

impl Rectangle {
    /// The camera that takes this rectangle at once.
    fn camera(&self, original: &Camera, focal_px: f64, proportion: f64) -> Camera {
        // A picture that is kept whole has as many pixels as it had, whatever its sides were rounded by.
        let whole_px = |slope: f64| ((slope * focal_px + 1e-6).floor() as u32).max(1);
        let (width_px, height_px) = (whole_px(self.height * proportion), whole_px(self.height));
        // Millimetres as on the original picture area, so that focal lengths can be compared.
        let mm_per_px = original.frame.width_mm / f64::from(original.frame.width_px);
        let focal_mm = focal_px * mm_per_px;
        Camera {
            rise_mm: -self.y * focal_mm,
            shift_mm: self.x * focal_mm,
            ..Camera::plain(
                Frame {
                    width_mm: f64::from(width_px) * mm_per_px,
                    height_mm: f64::from(height_px) * mm_per_px,
                    width_px,
                    height_px,
                    margins: original.frame.margins,
                },
                focal_mm,
            )
        }
    }
}

/// The largest upright rectangle of a proportion inside the sides that holds the bounds [left, right, top, bottom] within
/// margins, and is no higher than `highest`.
///
/// In its centre and height every condition is linear, so the best lies where three of them meet: with about a dozen
/// conditions all meeting points are tried. Where several are best, so is the middle of them.
fn largest_rectangle(
    sides: &[Vector3<f64>],
    bounds: [f64; 4],
    proportion: f64,
    highest: f64,
    margins: Margins,
) -> Option<Rectangle> {
    let [left, right, top, bottom] = bounds;
    let Margins { side, above } = margins;
    let (half_width, half_height) = (0.5 * proportion, 0.5);
    // a·(x, y, height) ≤ b.
    let mut conditions: Vec<(Vector3<f64>, f64)> = sides
        .iter()
        .map(|n| (Vector3::new(-n.x, -n.y, n.x.abs() * half_width + n.y.abs() * half_height), n.z))
        .collect();
    conditions.extend([
        (Vector3::new(1.0, 0.0, -(half_width - side * proportion)), left),
        (Vector3::new(-1.0, 0.0, -(half_width - side * proportion)), -right),
        (Vector3::new(0.0, 1.0, -(half_height - above)), top),
        (Vector3::new(0.0, -1.0, -(half_height - side)), -bottom),
        (Vector3::new(0.0, 0.0, 1.0), highest.min(2.0 * STEEPEST)),
    ]);
    let scale = |a: &Vector3<f64>| a.norm().max(1e-300);
    let fits = |candidate: &Vector3<f64>| {
        conditions.iter().all(|(a, b)| a.dot(candidate) - b <= 1e-9 * scale(a) * (1.0 + candidate.norm()))
    };
    let (mut best, mut equals): (f64, Vec<Vector3<f64>>) = (0.0, Vec::new());
    for i in 0..conditions.len() {
        for j in i + 1..conditions.len() {
            let line = conditions[i].0.cross(&conditions[j].0);
            for k in j + 1..conditions.len() {
                let determinant = line.dot(&conditions[k].0);
                if determinant.abs()
                    < 1e-12 * scale(&conditions[i].0) * scale(&conditions[j].0) * scale(&conditions[k].0)
                {
                    continue;
                }
                let candidate = (line * conditions[k].1
                    + conditions[j].0.cross(&conditions[k].0) * conditions[i].1
                    + conditions[k].0.cross(&conditions[i].0) * conditions[j].1)
                    / determinant;
                let tolerance = 1e-9 * (1.0 + best);
                if candidate.z > best - tolerance && candidate.z > 0.0 && fits(&candidate) {
                    if candidate.z > best + tolerance {
                        equals.clear();
                    }
                    best = best.max(candidate.z);
                    equals.push(candidate);
                }
            }
        }
    }
    let middle = equals.iter().sum::<Vector3<f64>>() / equals.len() as f64;
    (!equals.is_empty()).then_some(Rectangle { x: middle.x, y: middle.y, height: middle.z })
}

/// Where a pixel of the straightened picture was in the original; `None` where it was not.
pub fn original_pixel(straightened: &Straightened, viewpoint: &Viewpoint<'_>, pixel: PixelPoint) -> Option<PixelPoint> {
    let level = straightened.camera.view_from_pixel(pixel)?;
    let view = viewpoint.rotation() * (straightened.attitude.view_from_world().transpose() * level);
    viewpoint.camera.pixel_from_view(&view).filter(|&pixel| viewpoint.camera.holds(pixel))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::angle::Angle;

    fn taken() -> (Camera, Pose) {
        let frame = Frame { width_mm: 24.0, height_mm: 36.0, width_px: 4000, height_px: 6000, margins: Margins::USUAL };
        let attitude = Attitude { pitch: Angle::from_degrees(15.0), ..Attitude::default() };
        (Camera::plain(frame, 24.0), Pose { eye: WorldPoint::new(0.0, 0.0, 1.6), attitude })
    }

    fn tower(height_m: f64) -> Vec<WorldPoint> {
        [(-3.0, 0.0), (3.0, 0.0), (-3.0, height_m), (3.0, height_m)].map(|(x, z)| WorldPoint::new(x, 40.0, z)).to_vec()
    }

    #[test]
    fn a_polygons_area_is_that_of_its_sides() {
        assert_eq!(area(&[(0.0, 0.0), (2.0, 0.0), (2.0, 3.0), (0.0, 3.0)]), 6.0);
    }

    #[test]
    fn straightening_keeps_the_subject_inside_and_stretches_nothing() {
        let (camera, pose) = taken();
        let viewpoint = Viewpoint::new(&camera, &pose);
        let wanted = Straightening { tilt_left: 0.0, proportion: 2.0 / 3.0 };
        let kept = straighten(&viewpoint, &tower(25.0), &[], wanted).expect("it fits");
        let (width, height) = (f64::from(kept.camera.frame.width_px), f64::from(kept.camera.frame.height_px));
        assert!((width / height - 2.0 / 3.0).abs() < 1e-3);
        for x in [0.0, 0.5, 1.0] {
            for y in [0.0, 0.5, 1.0] {
                let pixel = PixelPoint::new(x * width, y * height);
                let slope = kept.camera.view_from_pixel(pixel).expect("a ray");
                // Within a pixel of the frame: the rectangle was cut to whole pixels.
                let view = viewpoint.rotation() * (kept.attitude.view_from_world().transpose() * slope);
                let original = camera.pixel_from_view(&view).expect("in front");
                assert!(
                    original.x > -1.0 && original.x < 4001.0 && original.y > -1.0 && original.y < 6001.0,
                    "{original}"
                );
            }
        }
        let level = Pose { attitude: kept.attitude, ..pose };
        for corner in tower(25.0) {
            let straight = Viewpoint::new(&kept.camera, &level).pixel_of(&corner).expect("in front");
            assert!(kept.camera.holds(straight), "{straight}");
            // One step in the original is at most one step here.
            let original = viewpoint.pixel_of(&corner).expect("in front");
            for step in [PixelPoint::new(1.0, 0.0), PixelPoint::new(0.0, 1.0), PixelPoint::new(0.6, 0.8)] {
                let back = |pixel: PixelPoint| original_pixel(&kept, &viewpoint, pixel);
                let (Some(here), Some(there)) = (back(straight), back(straight + step)) else { continue };
                assert!((there - here).norm() > 1.0 - 1e-3, "{}", (there - here).norm());
                assert!((here - original).norm() < 1e-6);
            }
        }
    }

    #[test]
    fn what_fails_is_told() {
        let (camera, pose) = taken();
        let viewpoint = Viewpoint::new(&camera, &pose);
        let wanted = Straightening { tilt_left: 0.0, proportion: 2.0 / 3.0 };
        let cut = straighten(&viewpoint, &tower(80.0), &[], wanted);
        assert!(matches!(cut, Err(StraightenFailure::SubjectCut { share }) if share > 0.1 && share < 0.9), "{cut:?}");
        let wide = straighten(&viewpoint, &tower(25.0), &[], Straightening { tilt_left: 0.0, proportion: 20.0 });
        assert_eq!(wide, Err(StraightenFailure::ProportionDoesNotFit));
        let behind: Vec<_> = tower(25.0).iter().map(|p| WorldPoint::new(p.x, -p.y, p.z)).collect();
        assert_eq!(straighten(&viewpoint, &behind, &[], wanted), Err(StraightenFailure::NotInFront));
    }

    #[test]
    fn a_level_picture_is_kept_whole() {
        let (camera, pose) = taken();
        let level = Pose { attitude: Attitude::default(), ..pose };
        let viewpoint = Viewpoint::new(&camera, &level);
        let kept = straighten(&viewpoint, &tower(20.0), &[], Straightening { tilt_left: 0.0, proportion: 2.0 / 3.0 });
        let kept = kept.expect("it fits");
        assert!((kept.megapixels_kept - 24.0).abs() < 0.02, "{}", kept.megapixels_kept);
    }
}
