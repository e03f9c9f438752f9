//! Which place of the flat pictures that the graphics card draws is seen at each place of the lens's own picture?
//!
//! The card draws flat pictures: one in front of the camera, or, for a lens that sees too far aside, up to six on the faces
//! of a cube around it. A mesh over the frame, whose corners are looked up by the core's [`Lens::view_from_pixel`], bends
//! them into the lens's mapping and distortion; between corners places are interpolated. For a plain lens the one flat
//! picture is the frame itself and the mesh is one cell.

use nalgebra::Matrix3;

use crate::optics::{Camera as Lens, IdealWindow, PixelPoint};
use crate::pose::ViewVector;

/// Cells of the mesh of a lens that bends, across and down what is shown.
const CELLS: [usize; 2] = [96, 72];
/// A cell that bends too much, or lies at the end of the lens's picture, is cut into so many each way.
const FINE: usize = 8;
/// A cell bends too much if its middle strays by more than this share of the frame's width.
const STRAY: f64 = 1.0 / 3_500.0;
/// One flat picture serves up to this slope off the axis (60°).
const FLAT: f64 = 1.732;
/// The most pixels of a flat picture each way.
const LARGEST_PX: f64 = 4096.0;

/// A part of the frame's plane in shares of the frame from its top left corner: 0 to 1 each way is the frame itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::viewer) struct ShownPart {
    pub(in crate::viewer) left: f64,
    pub(in crate::viewer) top: f64,
    pub(in crate::viewer) right: f64,
    pub(in crate::viewer) bottom: f64,
}

impl ShownPart {
    /// The frame and nothing else.
    #[cfg(test)]
    pub(in crate::viewer) const FRAME: Self = Self { left: 0.0, top: 0.0, right: 1.0, bottom: 1.0 };
}

/// A corner of the mesh.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::viewer) struct WarpCorner {
    /// Its place in what is shown: shares from the top left.
    pub(in crate::viewer) place: [f64; 2],
    /// Its place in the flat picture: shares from the top left.
    pub(in crate::viewer) source: [f64; 2],
}

/// A flat picture and the mesh that shows it.
#[derive(Clone, Debug)]
pub(in crate::viewer) struct WarpFace {
    /// From the camera's axes to the axes of the face, which looks along its own z.
    pub(in crate::viewer) face_from_view: Matrix3<f64>,
    /// The slopes x/z and y/z that the flat picture holds.
    pub(in crate::viewer) window: IdealWindow,
    /// The pixels that the flat picture needs so as to be as fine as the screen in its middle.
    pub(in crate::viewer) size_px: [u32; 2],
    pub(in crate::viewer) corners: Vec<WarpCorner>,
    pub(in crate::viewer) indices: Vec<u32>,
}

/// The flat pictures of a lens, of which `size_px` pixels are shown.
pub(in crate::viewer) fn warp(lens: &Lens, shown: &ShownPart, size_px: [u32; 2]) -> Vec<WarpFace> {
    if lens.draws_straight() {
        return straight(lens, shown, size_px).into_iter().collect();
    }
    let share = |index: usize, count: usize| index as f64 / count as f64;
    let mut views = LensViews { lens, shown, flat: true };
    views.flat = (0..=CELLS[1])
        .flat_map(|row| (0..=CELLS[0]).map(move |column| [share(column, CELLS[0]), share(row, CELLS[1])]))
        .filter_map(|place| views.at(place))
        .all(|view| view.x.hypot(view.y) < FLAT * view.z);
    let mut cells = Vec::new();
    for row in 0..CELLS[1] {
        for column in 0..CELLS[0] {
            let cell =
                [share(column, CELLS[0]), share(row, CELLS[1]), share(column + 1, CELLS[0]), share(row + 1, CELLS[1])];
            views.add(cell, &mut cells);
        }
    }
    let pixels_per_share = [size_px[0], size_px[1]].map(f64::from);
    // A slope is this many pixels in the middle of any lens's picture.
    let slope_px = [
        lens.focal_mm / lens.frame.width_mm / (shown.right - shown.left) * pixels_per_share[0],
        lens.focal_mm / lens.frame.height_mm / (shown.bottom - shown.top) * pixels_per_share[1],
    ];
    if views.flat {
        return face(Matrix3::identity(), &cells, slope_px).into_iter().collect();
    }
    let sides = sides();
    let mut shared: [Vec<WarpCell>; 6] = Default::default();
    for cell in cells {
        let middle: ViewVector = cell.views.iter().sum();
        let along = |side: &Matrix3<f64>| (side * middle).z;
        let best = (0..sides.len()).max_by(|&a, &b| along(&sides[a]).total_cmp(&along(&sides[b]))).unwrap_or(0);
        shared[best].push(cell);
    }
    sides.iter().zip(&shared).filter_map(|(side, cells)| face(*side, cells, slope_px)).collect()
}

/// The frame of a plain lens: exact with one cell.
fn straight(lens: &Lens, shown: &ShownPart, size_px: [u32; 2]) -> Option<WarpFace> {
    let whole = LensViews { lens, shown, flat: true }.cell([0.0, 0.0, 1.0, 1.0])?;
    let slope = |view: &ViewVector| [view.x / view.z, view.y / view.z];
    let ([left, top], [right, bottom]) = (slope(&whole.views[0]), slope(&whole.views[2]));
    let [a, b, c, d] =
        [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]].map(|place| WarpCorner { place, source: place });
    Some(WarpFace {
        face_from_view: Matrix3::identity(),
        window: IdealWindow { left, right, top, bottom },
        size_px,
        corners: vec![a, b, c, d],
        indices: vec![0, 1, 2, 0, 2, 3],
    })
}

/// A cell of the mesh, its corners from the top left clockwise.
struct WarpCell {
    places: [[f64; 2]; 4],
    views: [ViewVector; 4],
}

/// What a lens sees at the places that are shown.
struct LensViews<'a> {
    lens: &'a Lens,
    shown: &'a ShownPart,
    /// Whether one flat picture holds it all.
    flat: bool,
}

impl LensViews<'_> {
    fn at(&self, place: [f64; 2]) -> Option<ViewVector> {
        self.lens.view_from_pixel(self.pixel(place))
    }

    /// The frame's pixel at a place in what is shown.
    fn pixel(&self, [x, y]: [f64; 2]) -> PixelPoint {
        let (shown, frame) = (self.shown, &self.lens.frame);
        let across = shown.left + (shown.right - shown.left) * x;
        let down = shown.top + (shown.bottom - shown.top) * y;
        PixelPoint::new(across * f64::from(frame.width_px), down * f64::from(frame.height_px))
    }

    fn cell(&self, [left, top, right, bottom]: [f64; 4]) -> Option<WarpCell> {
        let places = [[left, top], [right, top], [right, bottom], [left, bottom]];
        let [a, b, c, d] = places.map(|place| self.at(place));
        Some(WarpCell { places, views: [a?, b?, c?, d?] })
    }

    /// Whether what lies between a cell's corners lies there in the lens's picture too, on whatever face it is drawn: places
    /// are interpolated in slopes, which are distances along the face's own axis.
    fn is_even(&self, cell: &WarpCell) -> bool {
        let [[left, top], _, [right, bottom], _] = cell.places;
        let middle = self.pixel([0.5 * (left + right), 0.5 * (top + bottom)]);
        let stray_px = STRAY * f64::from(self.lens.frame.width_px);
        let [a, b, c, d] = &cell.views;
        let axis = if self.flat { 2 } else { cell.views.iter().sum::<ViewVector>().iamax() };
        cell.views.iter().all(|view| view[axis] * a[axis] > 0.0)
            && [[a, c], [b, d]].into_iter().all(|[one, other]| {
                let between = (one / one[axis] + other / other[axis]) * a[axis].signum();
                self.lens.pixel_from_view(&between).is_some_and(|drawn| (drawn - middle).norm() < stray_px)
            })
    }

    /// Adds a cell, or what of it the lens draws.
    fn add(&self, bounds: [f64; 4], cells: &mut Vec<WarpCell>) {
        if let Some(cell) = self.cell(bounds).filter(|cell| self.is_even(cell)) {
            cells.push(cell);
            return;
        }
        let [left, top, right, bottom] = bounds;
        let seen = [[left, top], [right, top], [right, bottom], [left, bottom]].map(|place| self.at(place).is_some());
        if !seen.contains(&true) {
            return;
        }
        let step = [(right - left) / FINE as f64, (bottom - top) / FINE as f64];
        for row in 0..FINE {
            for column in 0..FINE {
                let (x, y) = (left + step[0] * column as f64, top + step[1] * row as f64);
                cells.extend(self.cell([x, y, x + step[0], y + step[1]]));
            }
        }
    }
}

/// The faces of a cube about the camera: ahead, right, left, down, up and back. Rows are a face's own right, down, ahead.
fn sides() -> [Matrix3<f64>; 6] {
    [
        Matrix3::new(1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0),
        Matrix3::new(0.0, 0.0, -1.0, 0.0, 1.0, 0.0, 1.0, 0.0, 0.0),
        Matrix3::new(0.0, 0.0, 1.0, 0.0, 1.0, 0.0, -1.0, 0.0, 0.0),
        Matrix3::new(1.0, 0.0, 0.0, 0.0, 0.0, -1.0, 0.0, 1.0, 0.0),
        Matrix3::new(1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, -1.0, 0.0),
        Matrix3::new(-1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, -1.0),
    ]
}

/// The flat picture that holds these cells; `None` without any.
fn face(face_from_view: Matrix3<f64>, cells: &[WarpCell], slope_px: [f64; 2]) -> Option<WarpFace> {
    let slope = |view: &ViewVector| {
        let turned = face_from_view * view;
        [turned.x / turned.z, turned.y / turned.z]
    };
    let start = IdealWindow { left: f64::MAX, right: f64::MIN, top: f64::MAX, bottom: f64::MIN };
    let window = cells.iter().flat_map(|cell| &cell.views).map(slope).fold(start, |window, [x, y]| IdealWindow {
        left: window.left.min(x),
        right: window.right.max(x),
        top: window.top.min(y),
        bottom: window.bottom.max(y),
    });
    let (across, down) = (window.right - window.left, window.bottom - window.top);
    if !(across > 0.0 && down > 0.0 && across.is_finite() && down.is_finite()) {
        return None;
    }
    let mut face = WarpFace {
        face_from_view,
        window,
        size_px: [across * slope_px[0], down * slope_px[1]].map(|size_px| size_px.ceil().clamp(1.0, LARGEST_PX) as u32),
        corners: Vec::with_capacity(4 * cells.len()),
        indices: Vec::with_capacity(6 * cells.len()),
    };
    for cell in cells {
        let first = face.corners.len() as u32;
        for (place, view) in cell.places.iter().zip(&cell.views) {
            let [x, y] = slope(view);
            let source = [(x - window.left) / across, (y - window.top) / down];
            face.corners.push(WarpCorner { place: *place, source });
        }
        face.indices.extend([first, first + 1, first + 2, first, first + 2, first + 3]);
    }
    Some(face)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::optics::{Distortion, Frame, Mapping};

    fn frame() -> Frame {
        Frame { width_mm: 36.0, height_mm: 24.0, width_px: 1200, height_px: 800, margins: Default::default() }
    }

    /// What the mesh shows at a place, as the direction of the flat picture's pixel there.
    fn shown_at(faces: &[WarpFace], [x, y]: [f64; 2]) -> Option<ViewVector> {
        for face in faces {
            for triangle in face.indices.chunks_exact(3) {
                let [a, b, c] = [0, 1, 2].map(|index| face.corners[triangle[index] as usize]);
                let (ab, ac) = (
                    [b.place[0] - a.place[0], b.place[1] - a.place[1]],
                    [c.place[0] - a.place[0], c.place[1] - a.place[1]],
                );
                let area = ab[0] * ac[1] - ab[1] * ac[0];
                let offset = [x - a.place[0], y - a.place[1]];
                let along = (offset[0] * ac[1] - offset[1] * ac[0]) / area;
                let aside = (ab[0] * offset[1] - ab[1] * offset[0]) / area;
                if along >= -1e-12 && aside >= -1e-12 && along + aside <= 1.0 + 1e-12 {
                    let source = [0, 1].map(|axis| {
                        a.source[axis]
                            + along * (b.source[axis] - a.source[axis])
                            + aside * (c.source[axis] - a.source[axis])
                    });
                    let window = &face.window;
                    let slope = ViewVector::new(
                        window.left + source[0] * (window.right - window.left),
                        window.top + source[1] * (window.bottom - window.top),
                        1.0,
                    );
                    return Some(face.face_from_view.transpose() * slope);
                }
            }
        }
        None
    }

    #[test]
    fn what_is_seen_at_a_place_is_what_the_lens_draws_there() {
        let lens_scale = Distortion::from_slice(&[-0.12, 0.01, 0.0006, -0.0004, 0.0]).expect("mild");
        let lenses = Mapping::ALL.into_iter().flat_map(|mapping| {
            [(24.0, 0.0, 0.0, Distortion::NONE), (16.0, 9.0, -6.0, lens_scale), (11.0, 0.0, 4.0, Distortion::NONE)].map(
                move |(focal_mm, rise_mm, shift_mm, distortion)| Lens {
                    mapping,
                    rise_mm,
                    shift_mm,
                    distortion,
                    ..Lens::plain(frame(), focal_mm)
                },
            )
        });
        for lens in lenses {
            let faces = warp(&lens, &ShownPart::FRAME, [1200, 800]);
            let mut drawn = 0;
            for row in 0..40 {
                for column in 0..60 {
                    let pixel = PixelPoint::new(20.0 * f64::from(column) + 9.7, 20.0 * f64::from(row) + 10.3);
                    let Some(view) = shown_at(&faces, [pixel.x / 1200.0, pixel.y / 800.0]) else { continue };
                    let back = lens.pixel_from_view(&view).expect("drawn");
                    assert!((back - pixel).norm() < 0.5, "{lens:?}: {pixel} is shown as {back}");
                    drawn += 1;
                }
            }
            assert!(drawn > 600, "{lens:?}: {drawn}");
        }
    }

    #[test]
    fn a_plain_lens_is_one_exact_picture_of_the_frames_own_pixels() {
        let lens = Lens { rise_mm: 5.0, ..Lens::plain(frame(), 24.0) };
        let faces = warp(&lens, &ShownPart::FRAME, [900, 600]);
        assert_eq!(faces.len(), 1);
        assert_eq!(faces[0].size_px, [900, 600]);
        let (drawn, ideal) = (faces[0].window, lens.ideal_window());
        assert!((drawn.top - ideal.top).abs() < 1e-12 && (drawn.right - ideal.right).abs() < 1e-12);
    }

    #[test]
    fn half_a_sphere_takes_the_sides_of_a_cube_and_the_corners_stay_empty() {
        let square =
            Frame { width_mm: 24.0, height_mm: 24.0, width_px: 800, height_px: 800, margins: Default::default() };
        let lens = Lens { mapping: Mapping::Orthographic, ..Lens::plain(square, 12.0) };
        let faces = warp(&lens, &ShownPart::FRAME, [800, 800]);
        assert_eq!(faces.len(), 5);
        assert_eq!(shown_at(&faces, [0.02, 0.02]), None);
        let edge = shown_at(&faces, [0.5, 0.01]).expect("near the upper edge").normalize();
        assert!(edge.y < -0.97, "{edge}");
    }
}
