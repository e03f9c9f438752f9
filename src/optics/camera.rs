//! Which pixel shows a point, and which ray does a pixel look along?
//!
//! One pair of functions, [`Camera::picture_from_view`] and [`Camera::view_from_picture`], serves the measurements,
//! the ray-cast still and the finder alike.

use nalgebra::{Matrix2, Matrix2x3, Vector2};

use crate::angle::Angle;
use crate::pose::ViewVector;

use super::focus::angle_of_view;
use super::{Distortion, Frame, Mapping};

/// A point of the picture: millimetres right and *up* from the centre of the frame.
pub type PicturePoint = Vector2<f64>;
/// A point of the picture in pixels, right and *down* from the corner of the top left pixel.
pub type PixelPoint = Vector2<f64>;
/// How a pixel moves with a point in camera axes: px per metre.
pub type PictureJacobian = Matrix2x3<f64>;

/// How many points of each side of the frame are looked at to bound it.
const SIDE_SAMPLES: usize = 32;

/// Rays flatter than this, 90° off the axis but for a millionth, have no slope.
const LEAST_DEPTH: f64 = 1e-6;
/// How much wider the outer window is taken than its samples, as its sides are curved between them.
const OUTER_SHARE: f64 = 0.01;

/// A frame behind a lens: everything that decides where a point is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Camera {
    /// The upright picture.
    pub frame: Frame,
    /// Focal length.
    pub focal_mm: f64,
    /// The lens moved up (> 0 shows more of the top).
    pub rise_mm: f64,
    /// The lens moved right (> 0 shows more of the right).
    pub shift_mm: f64,
    /// The lens's radial law.
    pub mapping: Mapping,
    /// The lens's departure from that law.
    pub distortion: Distortion,
}

/// What an undistorted rectilinear picture of the same frame would certainly cover: slopes x/z (right) and y/z (down)
/// of the ideal picture plane at one focal length.
///
/// For a rectilinear lens without distortion it is the frame itself; else the largest upright rectangle touched by the
/// innermost point of each curved side, so it never promises picture that is not there. Where the lens's picture ends
/// before the frame does, its end is the side. A side that reaches 90° or more off the axis is unbounded.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct IdealWindow {
    /// Least x/z.
    pub left: f64,
    /// Greatest x/z.
    pub right: f64,
    /// Least y/z (the top).
    pub top: f64,
    /// Greatest y/z (the bottom).
    pub bottom: f64,
}

impl IdealWindow {
    /// Whether it ends on every side.
    pub fn is_bounded(&self) -> bool {
        [self.left, self.right, self.top, self.bottom].iter().all(|side| side.is_finite())
    }
}

impl Camera {
    /// A plain rectilinear lens without rise, shift or distortion.
    pub fn plain(frame: Frame, focal_mm: f64) -> Self {
        Self {
            frame,
            focal_mm,
            rise_mm: 0.0,
            shift_mm: 0.0,
            mapping: Mapping::Rectilinear,
            distortion: Distortion::NONE,
        }
    }

    /// The same camera as a drawing-perfect rectilinear one; leans and vanishing points are defined in its picture.
    pub fn ideal(&self) -> Self {
        Self { mapping: Mapping::Rectilinear, distortion: Distortion::NONE, ..*self }
    }

    /// Whether straight lines are drawn straight.
    pub fn draws_straight(&self) -> bool {
        self.mapping == Mapping::Rectilinear && self.distortion.is_none()
    }

    /// Where a point in camera axes is drawn, in mm; `None` where the lens draws nothing (behind a rectilinear lens,
    /// outside the mapping or the distortion's valid radius).
    pub fn picture_from_view(&self, view: &ViewVector) -> Option<PicturePoint> {
        let distorted = self.distortion.distort(self.mapped(view)?)?;
        Some(self.picture_from_normalised(distorted))
    }

    /// Where a point in camera axes is drawn, in pixels; see [`Camera::picture_from_view`].
    pub fn pixel_from_view(&self, view: &ViewVector) -> Option<PixelPoint> {
        self.picture_from_view(view).map(|picture| self.pixel_from_picture(picture))
    }

    /// The direction, of length 1 in camera axes, that is drawn at a point of the picture; `None` where no ray arrives.
    pub fn view_from_picture(&self, picture: PicturePoint) -> Option<ViewVector> {
        let distorted =
            Vector2::new((picture.x + self.shift_mm) / self.focal_mm, -(picture.y + self.rise_mm) / self.focal_mm);
        let ideal = self.distortion.undistort(distorted)?;
        if self.mapping == Mapping::Rectilinear {
            return Some(ViewVector::new(ideal.x, ideal.y, 1.0).normalize());
        }
        let height = ideal.norm();
        let (sine, cosine) = self.mapping.angle(height)?.sin_cos();
        let scale = if height > 0.0 { sine / height } else { 1.0 };
        Some(ViewVector::new(ideal.x * scale, ideal.y * scale, cosine))
    }

    /// The direction, of length 1 in camera axes, that a pixel looks along; `None` where no ray arrives.
    pub fn view_from_pixel(&self, pixel: PixelPoint) -> Option<ViewVector> {
        self.view_from_picture(self.picture_from_pixel(pixel))
    }

    /// Where a point is drawn, in pixels, and how its pixel moves as the point moves in camera axes.
    pub fn pixel_with_jacobian(&self, view: &ViewVector) -> Option<(PixelPoint, PictureJacobian)> {
        let (ideal, ideal_from_view) = self.mapped_with_jacobian(view)?;
        let (distorted, bend) = self.distortion.distort_with_jacobian(ideal)?;
        let (across, down) = self.focal_px();
        let pixel_scale = Matrix2::new(across, 0.0, 0.0, down);
        let pixel = self.pixel_from_picture(self.picture_from_normalised(distorted));
        Some((pixel, pixel_scale * bend * ideal_from_view))
    }

    /// Pixels from millimetres.
    pub fn pixel_from_picture(&self, picture: PicturePoint) -> PixelPoint {
        let (across, down) = self.frame.pixels_per_mm();
        PixelPoint::new(
            0.5 * f64::from(self.frame.width_px) + picture.x * across,
            0.5 * f64::from(self.frame.height_px) - picture.y * down,
        )
    }

    /// Millimetres from pixels.
    pub fn picture_from_pixel(&self, pixel: PixelPoint) -> PicturePoint {
        let (across, down) = self.frame.pixels_per_mm();
        PicturePoint::new(
            (pixel.x - 0.5 * f64::from(self.frame.width_px)) / across,
            (0.5 * f64::from(self.frame.height_px) - pixel.y) / down,
        )
    }

    /// Whether a pixel lies in the frame, its edge included.
    pub fn holds(&self, pixel: PixelPoint) -> bool {
        (0.0..=f64::from(self.frame.width_px)).contains(&pixel.x)
            && (0.0..=f64::from(self.frame.height_px)).contains(&pixel.y)
    }

    /// The focal length in pixels, across and down.
    pub fn focal_px(&self) -> (f64, f64) {
        let (across, down) = self.frame.pixels_per_mm();
        (self.focal_mm * across, self.focal_mm * down)
    }

    /// The focal length that gives the same diagonal angle of view on 36×24 mm, for a rectilinear lens.
    ///
    /// # Source
    /// The ratio of diagonals, CIPA DCG-001 (from memory).
    pub fn equivalent_focal_mm(&self) -> f64 {
        self.focal_mm * 36.0_f64.hypot(24.0) / self.frame.diagonal_mm()
    }

    /// The angle of view across, down and along the diagonal of an unshifted, undistorted lens of this mapping.
    ///
    /// # Formula
    /// Rectilinear: 2·atan(d/2f). `None` where the side is larger than the mapping's picture.
    pub fn fields(&self) -> [Option<Angle>; 3] {
        [self.frame.width_mm, self.frame.height_mm, self.frame.diagonal_mm()].map(|side_mm| match self.mapping {
            Mapping::Rectilinear => Some(angle_of_view(side_mm, self.focal_mm)),
            other => other.angle(side_mm / 2.0 / self.focal_mm).map(|half| Angle::from_radians(2.0 * half)),
        })
    }

    /// The image circle the lens must cover for this frame, rise and shift.
    ///
    /// # Formula
    /// 2·hypot(w/2 + |shift|, h/2 + |rise|).
    ///
    /// # Example
    /// ```
    /// use plumbsight::optics::{Camera, Frame, Margins};
    /// let frame = Frame { width_mm: 36.0, height_mm: 24.0, width_px: 6000, height_px: 4000, margins: Margins::USUAL };
    /// let camera = Camera { rise_mm: 11.0, ..Camera::plain(frame, 24.0) };
    /// assert!((camera.needed_circle_mm() - 58.41).abs() < 0.01);
    /// ```
    pub fn needed_circle_mm(&self) -> f64 {
        2.0 * (self.frame.width_mm / 2.0 + self.shift_mm.abs()).hypot(self.frame.height_mm / 2.0 + self.rise_mm.abs())
    }

    /// The part of the ideal picture plane that the frame certainly covers.
    pub fn ideal_window(&self) -> IdealWindow {
        if self.draws_straight() {
            return self.straight_window();
        }
        // What is 90° or more off the axis bounds nothing.
        self.window_of(
            f64::INFINITY,
            |slope, depth, known| if depth > LEAST_DEPTH { known.min(slope / depth) } else { known },
        )
    }

    /// A part of the ideal picture plane outside which the frame draws nothing that is in front of the camera.
    pub fn outer_window(&self) -> IdealWindow {
        if self.draws_straight() {
            return self.straight_window();
        }
        let widened = |slope: f64| slope + OUTER_SHARE * slope.abs() + OUTER_SHARE;
        self.window_of(f64::NEG_INFINITY, |slope, depth, known| {
            if depth > LEAST_DEPTH { known.max(widened(slope / depth)) } else { f64::INFINITY }
        })
    }

    fn straight_window(&self) -> IdealWindow {
        let (half_width, half_height) = (0.5 * self.frame.width_mm, 0.5 * self.frame.height_mm);
        IdealWindow {
            left: (self.shift_mm - half_width) / self.focal_mm,
            right: (self.shift_mm + half_width) / self.focal_mm,
            top: -(self.rise_mm + half_height) / self.focal_mm,
            bottom: -(self.rise_mm - half_height) / self.focal_mm,
        }
    }

    /// How far out each side lies: `farther` is given the outward component and the depth of rays along it, and what was
    /// known before.
    fn window_of(&self, start: f64, farther: impl Fn(f64, f64, f64) -> f64) -> IdealWindow {
        let (half_width, half_height) = (0.5 * self.frame.width_mm, 0.5 * self.frame.height_mm);
        let reach = |side: &dyn Fn(f64) -> PicturePoint, outwards: &dyn Fn(&ViewVector) -> f64| {
            (0..=SIDE_SAMPLES)
                .map(|step| self.outermost_view(side(2.0 * step as f64 / SIDE_SAMPLES as f64 - 1.0)))
                .fold(start, |known, view| farther(outwards(&view), view.z, known))
        };
        IdealWindow {
            left: -reach(&|t| PicturePoint::new(-half_width, t * half_height), &|view| -view.x),
            right: reach(&|t| PicturePoint::new(half_width, t * half_height), &|view| view.x),
            top: -reach(&|t| PicturePoint::new(t * half_width, half_height), &|view| -view.y),
            bottom: reach(&|t| PicturePoint::new(t * half_width, -half_height), &|view| view.y),
        }
    }

    /// The ray that is drawn at a point of the picture; where none arrives, the last one on the way there from the axis.
    fn outermost_view(&self, picture: PicturePoint) -> ViewVector {
        if let Some(view) = self.view_from_picture(picture) {
            return view;
        }
        let axis = PicturePoint::new(-self.shift_mm, -self.rise_mm);
        let (mut last, mut drawn, mut not_drawn) = (ViewVector::z(), 0.0, 1.0);
        for _ in 0..40 {
            let share = 0.5 * (drawn + not_drawn);
            match self.view_from_picture(axis + (picture - axis) * share) {
                Some(view) => (last, drawn) = (view, share),
                None => not_drawn = share,
            }
        }
        last
    }

    fn picture_from_normalised(&self, distorted: Vector2<f64>) -> PicturePoint {
        PicturePoint::new(self.focal_mm * distorted.x - self.shift_mm, -self.focal_mm * distorted.y - self.rise_mm)
    }

    /// The mapping alone: r(θ)/f along the point's direction about the axis, y down.
    fn mapped(&self, view: &ViewVector) -> Option<Vector2<f64>> {
        if self.mapping == Mapping::Rectilinear {
            return (view.z > 0.0).then(|| Vector2::new(view.x / view.z, view.y / view.z));
        }
        let across = view.x.hypot(view.y);
        let (height, _) = self.mapping.height(across.atan2(view.z))?;
        if across > 0.0 {
            Some(Vector2::new(view.x, view.y) * (height / across))
        } else {
            (view.z > 0.0).then(Vector2::zeros)
        }
    }

    fn mapped_with_jacobian(&self, view: &ViewVector) -> Option<(Vector2<f64>, Matrix2x3<f64>)> {
        let (x, y, z) = (view.x, view.y, view.z);
        let across = x.hypot(y);
        if self.mapping == Mapping::Rectilinear || across < 1e-9 * z {
            return (z > 0.0).then(|| {
                let (a, b) = (x / z, y / z);
                (Vector2::new(a, b), Matrix2x3::new(1.0 / z, 0.0, -a / z, 0.0, 1.0 / z, -b / z))
            });
        }
        let (height, slope) = self.mapping.height(across.atan2(z))?;
        if across == 0.0 {
            return None;
        }
        let squared = across * across + z * z;
        let scale = height / across;
        // d(height/across)/d(across), over `across` once more for the chain rule through hypot(x, y).
        let bend = (slope * z / squared - scale) / (across * across);
        let depth = -slope / squared;
        Some((
            Vector2::new(x * scale, y * scale),
            Matrix2x3::new(
                scale + x * x * bend,
                x * y * bend,
                x * depth,
                x * y * bend,
                scale + y * y * bend,
                y * depth,
            ),
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::optics::Margins;
    use proptest::prelude::*;

    fn frame() -> Frame {
        Frame { width_mm: 36.0, height_mm: 24.0, width_px: 6000, height_px: 4000, margins: Margins::USUAL }
    }

    #[test]
    fn rise_shows_more_of_the_top() {
        let raised = Camera { rise_mm: 10.0, ..Camera::plain(frame(), 24.0) };
        let top = raised.view_from_pixel(PixelPoint::new(3000.0, 0.0)).expect("a ray");
        // (12 + 10)/24 by hand.
        assert!((-top.y / top.z - 22.0 / 24.0).abs() < 1e-12);
    }

    #[test]
    fn the_ideal_window_of_a_plain_lens_is_its_frame() {
        let window = Camera::plain(frame(), 18.0).ideal_window();
        assert_eq!(window, IdealWindow { left: -1.0, right: 1.0, top: -12.0 / 18.0, bottom: 12.0 / 18.0 });
    }

    #[test]
    fn a_barrels_ideal_window_stays_inside_the_frame() {
        let distortion = Distortion::from_slice(&[-0.12, 0.0, 0.0, 0.0, 0.0]).expect("mild");
        let camera = Camera { distortion, ..Camera::plain(frame(), 24.0) };
        let window = camera.ideal_window();
        for step in 0..=100 {
            let x = window.left + (window.right - window.left) * f64::from(step) / 100.0;
            let pixel = camera.pixel_from_view(&ViewVector::new(x, window.top, 1.0)).expect("drawn");
            assert!(camera.holds(pixel), "{pixel}");
        }
    }

    #[test]
    fn where_the_lens_draws_less_than_the_frame_the_window_is_what_it_draws() {
        // g = r − 0.1·r³ folds at r = 1.826, where it draws 1.217 focal lengths off the axis: less than the frame's half.
        let distortion = Distortion::from_slice(&[-0.1, 0.0, 0.0, 0.0, 0.0]).expect("mild");
        let camera = Camera { distortion, ..Camera::plain(frame(), 8.0) };
        let window = camera.ideal_window();
        assert!((window.left.hypot(window.top) - distortion.valid_radius()).abs() < 1e-6, "{window:?}");
        let outer = camera.outer_window();
        assert!(outer.right >= distortion.valid_radius() && outer.right < 1.1 * distortion.valid_radius(), "{outer:?}");
    }

    fn any_camera() -> impl Strategy<Value = Camera> {
        (
            0..Mapping::ALL.len(),
            10.0_f64..200.0,
            -12.0_f64..12.0,
            -12.0_f64..12.0,
            prop::array::uniform3(-0.1_f64..0.1),
            prop::array::uniform2(-0.005_f64..0.005),
        )
            .prop_map(|(mapping, focal_mm, rise_mm, shift_mm, k, p)| Camera {
                rise_mm,
                shift_mm,
                mapping: Mapping::ALL[mapping],
                distortion: Distortion::from_slice(&[k[0], k[1], p[0], p[1], k[2]]).expect("mild"),
                ..Camera::plain(frame(), focal_mm)
            })
    }

    proptest! {
        #[test]
        fn unprojecting_undoes_projecting(camera in any_camera(), x in 0.0_f64..6000.0, y in 0.0_f64..4000.0) {
            let pixel = PixelPoint::new(x, y);
            if let Some(view) = camera.view_from_pixel(pixel) {
                prop_assert!((view.norm() - 1.0).abs() < 1e-12);
                if let Some(back) = camera.pixel_from_view(&(view * 37.5)) {
                    prop_assert!((back - pixel).norm() < 1e-6, "{} {}", back, pixel);
                }
            }
        }

        #[test]
        fn the_jacobian_is_how_pixels_move(camera in any_camera(), x in -8.0_f64..8.0, y in -8.0_f64..8.0, z in 5.0_f64..40.0) {
            let view = ViewVector::new(x, y, z);
            if let Some((pixel, jacobian)) = camera.pixel_with_jacobian(&view) {
                prop_assert!((camera.pixel_from_view(&view).expect("drawn") - pixel).norm() < 1e-9);
                for axis in 0..3 {
                    let mut step = ViewVector::zeros();
                    step[axis] = 1e-5;
                    let (Some(ahead), Some(behind)) =
                        (camera.pixel_from_view(&(view + step)), camera.pixel_from_view(&(view - step))) else { continue };
                    let slope = (ahead - behind) / 2e-5;
                    prop_assert!((slope - jacobian.column(axis)).norm() < 1e-4 * jacobian.norm().max(1.0));
                }
            }
        }
    }
}
