//! Which ray does each sample of a pixel look along?
//!
//! Every ray comes from [`Camera::view_from_pixel`]: it is asked at the corners of the pixels, and between the corners
//! of one pixel the direction runs bilinearly: exactly for a drawing-perfect lens, within 1e-3 px for others, and nearer
//! the more pixels there are. Beside each ray stands how it turns from pixel to pixel, so that widths can be counted in pixels on any surface.

use nalgebra::Matrix3;

use crate::optics::{Camera, Focus, Mapping, PixelPoint};
use crate::pose::{Pose, WorldPoint, WorldVector};
use crate::sight::{BundleBounds, PixelCorners, TILE_SIDE};

/// Pixels along the side of a tile.
pub(super) const TILE_PX: u32 = TILE_SIDE as u32;
const CORNERS: usize = TILE_SIDE + 1;
/// Tiles that are wider than this off their middle are not bundled.
const WIDEST_COSINE: f64 = 0.8;
/// Directions farther off the axis are not carried to a plane across it.
const LEAST_FORWARD: f64 = 0.1;
/// The farthest point that a ray is turned to by the thin lens; beyond it rays of one pixel are parallel.
const FARTHEST_FOCUS_M: f64 = 1e7;

/// A line of sight through a pixel.
#[derive(Clone, Copy, Debug)]
pub(super) struct SightRay {
    /// Where it enters the lens.
    pub(super) origin: WorldPoint,
    /// Where it goes, of length 1.
    pub(super) direction: WorldVector,
    /// How the direction turns from a pixel to the next on its right.
    pub(super) across: WorldVector,
    /// How the direction turns from a pixel to the next below.
    pub(super) down: WorldVector,
}

impl SightRay {
    /// The ray of a pixel that none reaches.
    pub(super) fn nowhere() -> Self {
        let zero = WorldVector::zeros();
        Self { origin: WorldPoint::origin(), direction: WorldVector::z(), across: zero, down: zero }
    }
}

/// A camera in its place, ready to be asked for rays.
pub(super) struct CameraRays<'a> {
    camera: &'a Camera,
    pub(super) eye: WorldPoint,
    world_from_view: Matrix3<f64>,
    lens: Option<ThinLens>,
    plane: Option<PictureRays>,
}

/// The rays of a lens that draws straight, to where they meet a plane across the axis: evenly spaced.
struct PictureRays {
    /// At the picture's top left corner.
    first: WorldVector,
    across: WorldVector,
    down: WorldVector,
}

/// An opening of a size, focused on a plane across the axis.
struct ThinLens {
    radius_m: f64,
    focused_m: f64,
}

/// The directions (of any length) at the pixel corners of one tile; `None` where no ray arrives.
pub(super) struct TileRays {
    left: u32,
    top: u32,
    corners: [[Option<WorldVector>; CORNERS]; CORNERS],
    /// Whether the directions end on one plane across the axis.
    straight: bool,
}

/// The rays of a tile under a lens that draws straight: directions that end on one plane, evenly spaced, so that every ray of
/// the tile lies between those at its corners.
pub(super) struct TileGrid {
    /// Round the tile from its top left.
    pub(super) corners: [WorldVector; 4],
    /// From a pixel to the next on its right.
    pub(super) across: WorldVector,
    /// From a pixel to the next below.
    pub(super) down: WorldVector,
}

impl<'a> CameraRays<'a> {
    pub(super) fn new(camera: &'a Camera, pose: &Pose, focus: Option<&Focus>) -> Self {
        let lens = focus
            .map(|focus| ThinLens { radius_m: 0.5e-3 * focus.opening_mm(), focused_m: focus.distance_m })
            .filter(|lens| lens.radius_m > 0.0);
        let world_from_view = pose.attitude.view_from_world().transpose();
        Self { camera, eye: pose.eye, world_from_view, lens, plane: None }
    }

    /// The same, its rays counted off evenly where the lens draws straight, rather than asked of the camera one by one.
    pub(super) fn evenly(mut self) -> Self {
        let (width, height) = (f64::from(self.camera.frame.width_px), f64::from(self.camera.frame.height_px));
        let axis = self.world_from_view.column(2);
        let on_plane = |x, y| self.direction(x, y).map(|direction| direction / direction.dot(&axis));
        let corners = (on_plane(0.0, 0.0), on_plane(width, 0.0), on_plane(0.0, height));
        if let (true, (Some(first), Some(right), Some(below))) = (self.camera.draws_straight(), corners) {
            self.plane = Some(PictureRays { first, across: (right - first) / width, down: (below - first) / height });
        }
        self
    }

    /// Whether the lens has an opening, so that its samples spread over it.
    pub(super) fn has_opening(&self) -> bool {
        self.lens.is_some()
    }

    fn direction(&self, x: f64, y: f64) -> Option<WorldVector> {
        let view = self.camera.view_from_pixel(PixelPoint::new(x, y))?;
        Some(self.world_from_view * view).filter(|direction| direction.iter().all(|part| part.is_finite()))
    }

    /// The rays of the tile whose top left pixel is (`left`, `top`).
    pub(super) fn tile(&self, left: u32, top: u32) -> TileRays {
        let mut corners = [[None; CORNERS]; CORNERS];
        if let Some(plane) = &self.plane {
            for (row, line) in corners.iter_mut().enumerate() {
                let first = plane.first + plane.down * (f64::from(top) + row as f64);
                for (column, corner) in line.iter_mut().enumerate() {
                    *corner = Some(first + plane.across * (f64::from(left) + column as f64));
                }
            }
            return TileRays { left, top, corners, straight: true };
        }
        for (row, line) in corners.iter_mut().enumerate() {
            for (column, corner) in line.iter_mut().enumerate() {
                *corner = self.direction(f64::from(left) + column as f64, f64::from(top) + row as f64);
            }
        }
        // On a plane across the axis a drawing-perfect lens spaces its pixels evenly, so that between their corners the
        // straight line is exact.
        let axis = self.world_from_view.column(2);
        let mut all = corners.iter().flatten();
        let even = self.camera.mapping == Mapping::Rectilinear;
        let straight = even && all.all(|corner| corner.is_none_or(|direction| direction.dot(&axis) > LEAST_FORWARD));
        if straight {
            for direction in corners.iter_mut().flatten().flatten() {
                *direction /= direction.dot(&axis);
            }
        }
        TileRays { left, top, corners, straight }
    }

    /// The straight grid that a tile's rays lie on; `None` where the lens bends it or has an opening, or rays are missing.
    pub(super) fn grid(&self, tile: &TileRays) -> Option<TileGrid> {
        let last = CORNERS - 1;
        let at = |row: usize, column: usize| tile.corners[row][column];
        let corners = [at(0, 0)?, at(0, last)?, at(last, last)?, at(last, 0)?];
        let grid = TileGrid { corners, across: at(0, 1)? - corners[0], down: at(1, 0)? - corners[0] };
        (self.lens.is_none() && self.camera.draws_straight() && tile.straight).then_some(grid)
    }

    /// The directions at the pixel corners of a tile all of whose rays leave the eye itself; `None` where some are missing.
    pub(super) fn pixel_corners(&self, tile: &TileRays) -> Option<PixelCorners> {
        let mut corners = [[WorldVector::zeros(); CORNERS]; CORNERS];
        for (known, corner) in tile.corners.iter().flatten().zip(corners.iter_mut().flatten()) {
            *corner = (*known)?;
        }
        self.lens.is_none().then_some(corners)
    }

    /// The direction, of length 1, through the middle of a pixel of a tile that lies on a straight grid.
    pub(super) fn middle_in(tile: &TileRays, pixel: (u32, u32)) -> Option<WorldVector> {
        let (column, row) = ((pixel.0 - tile.left) as usize, (pixel.1 - tile.top) as usize);
        let (a, b) = (tile.corners[row][column]?, tile.corners[row + 1][column + 1]?);
        Some((a + b).normalize())
    }

    /// The ray through a corner of a tile; `None` where none arrives.
    pub(super) fn corner(&self, tile: &TileRays, right: bool, bottom: bool) -> Option<SightRay> {
        let pixel = (tile.left + if right { TILE_PX - 1 } else { 0 }, tile.top + if bottom { TILE_PX - 1 } else { 0 });
        self.ray(tile, pixel, (f64::from(u8::from(right)), f64::from(u8::from(bottom))), (0.0, 0.0))
    }

    /// The bounds of all rays of a tile; `None` where some are missing or they spread too far.
    pub(super) fn bounds(&self, tile: &TileRays) -> Option<BundleBounds> {
        let last = CORNERS - 1;
        let at = |row: usize, column: usize| tile.corners[row][column];
        let [a, b, c, d] = [at(0, 0)?, at(0, last)?, at(last, last)?, at(last, 0)?];
        let axis = (a.normalize() + b.normalize() + c.normalize() + d.normalize()).try_normalize(1e-6)?;
        let (spread, tolerance_m) = self.lens.as_ref().map_or((0.0, 0.0), |lens| {
            // A ray through the opening's edge strays from the eye's own ray by r·|1 − depth/focus|.
            (lens.radius_m / lens.focused_m, lens.radius_m)
        });
        let mut sides = [WorldVector::zeros(); 4];
        for (side, (from, to)) in sides.iter_mut().zip([(a, b), (b, c), (c, d), (d, a)]) {
            let normal = from.cross(&to).try_normalize(1e-12)?;
            let outward = if normal.dot(&axis) > 0.0 { -normal } else { normal };
            // Tilted outwards until every corner of every pixel is inside: between the corners rays are too.
            let mut tilt = 0.0_f64;
            for corner in tile.corners.iter().flatten() {
                let corner = corner.as_ref()?;
                let forward = corner.dot(&axis);
                if forward < WIDEST_COSINE * corner.norm() {
                    return None;
                }
                tilt = tilt.max(outward.dot(corner) / forward);
            }
            *side = outward - axis * (tilt + 1e-6 + spread);
        }
        Some(BundleBounds { eye: self.eye, axis, sides, tolerance_m })
    }

    /// The ray through a point of a pixel and a point of the lens opening (in units of its radius, right and down).
    ///
    /// `within` runs from (0, 0) at the pixel's top left corner to (1, 1); `None` where no ray arrives.
    pub(super) fn ray(
        &self,
        tile: &TileRays,
        pixel: (u32, u32),
        within: (f64, f64),
        on_lens: (f64, f64),
    ) -> Option<SightRay> {
        let (column, row) = ((pixel.0 - tile.left) as usize, (pixel.1 - tile.top) as usize);
        let [top, bottom] = [&tile.corners[row], &tile.corners[row + 1]];
        let corners = (top[column], top[column + 1], bottom[column], bottom[column + 1]);
        let (u, v) = within;
        let (direction, across, down) = match corners {
            (Some(a), Some(b), Some(c), Some(d)) => {
                let (above, below) = (a + (b - a) * u, c + (d - c) * u);
                let across = (b - a) + ((d - c) - (b - a)) * v;
                (above + (below - above) * v, across, below - above)
            }
            // The edge of the lens's picture runs through this pixel: each sample is asked for itself.
            _ => {
                let (x, y) = (f64::from(pixel.0) + u, f64::from(pixel.1) + v);
                let direction = self.direction(x, y)?;
                let aside = |dx: f64, dy: f64| {
                    let ahead = self.direction(x + dx, y + dy).map(|ahead| (ahead - direction) / (dx + dy));
                    ahead.or_else(|| self.direction(x - dx, y - dy).map(|behind| (direction - behind) / (dx + dy)))
                };
                (direction, aside(0.25, 0.0)?, aside(0.0, 0.25)?)
            }
        };
        let scale = 1.0 / direction.norm();
        let ray =
            SightRay { origin: self.eye, direction: direction * scale, across: across * scale, down: down * scale };
        Some(self.lens.as_ref().map_or(ray, |lens| self.through_opening(lens, &ray, on_lens)))
    }

    /// The ray from another point of the opening to the same point of the plane of focus.
    fn through_opening(&self, lens: &ThinLens, ray: &SightRay, on_lens: (f64, f64)) -> SightRay {
        let [right, down, axis] =
            [self.world_from_view.column(0), self.world_from_view.column(1), self.world_from_view.column(2)];
        let offset = right * (on_lens.0 * lens.radius_m) + down * (on_lens.1 * lens.radius_m);
        let origin = ray.origin + offset;
        let forward = ray.direction.dot(&axis);
        let reach_m = if forward > 0.0 { lens.focused_m / forward } else { f64::INFINITY };
        if reach_m > FARTHEST_FOCUS_M {
            return SightRay { origin, ..*ray };
        }
        let bent = ray.direction * reach_m - offset;
        let length_m = bent.norm();
        // The focused point slides in its plane, not about the eye.
        let slide = |turn: &WorldVector| (turn - ray.direction * (turn.dot(&axis) / forward)) * (reach_m / length_m);
        SightRay { origin, direction: bent / length_m, across: slide(&ray.across), down: slide(&ray.down) }
    }
}

/// The `index`-th place in its pixel of one that has `first` samples, and four times as many where they differ.
///
/// The first two coordinates of Sobol's sequence: every power of two of them fills the square evenly. They are moved so
/// that all four times `first` have their mean in the pixel's middle, and the first ones nearly so; a single one is the
/// middle.
///
/// # Source
/// I. M. Sobol, *On the distribution of points in a cube and the approximate evaluation of integrals*, 1967 (from memory).
pub(super) fn place_in_pixel(index: u32, first: u32) -> (f64, f64) {
    let (mut second, mut direction, mut rest) = (0_u32, 1_u32 << 31, index);
    while rest > 0 {
        if rest & 1 == 1 {
            second ^= direction;
        }
        rest >>= 1;
        direction ^= direction >> 1;
    }
    let shift = if first == 1 { 0.5 } else { 0.375 / f64::from(first) };
    let place = |bits: u32| (f64::from(bits) / 4_294_967_296.0 + shift).fract();
    (place(index.reverse_bits()), place(second))
}

/// The `index`-th place of a sequence that fills the unit disc evenly from its first points on, moved by `shift` of the
/// square it is made from.
///
/// # Source
/// M. Roberts, *The Unreasonable Effectiveness of Quasirandom Sequences*, 2018: steps of 1/g and 1/g², g being the
/// real root of g³ = g + 1 (from memory).
pub(super) fn place_in_disc(index: u32, shift: (f64, f64)) -> (f64, f64) {
    let step = f64::from(index);
    disc_from_square(
        (0.5 + step * 0.754_877_666_246_692_7 + shift.0).fract(),
        (0.5 + step * 0.569_840_290_998_053_3 + shift.1).fract(),
    )
}

/// The unit disc from the unit square, ring by ring, keeping areas and neighbours.
///
/// # Source
/// P. Shirley and K. Chiu, *A Low Distortion Map Between Disk and Square*, Journal of Graphics Tools 2(3), 1997 (from
/// memory).
fn disc_from_square(u: f64, v: f64) -> (f64, f64) {
    use std::f64::consts::{FRAC_PI_2, FRAC_PI_4};
    let (a, b) = (2.0 * u - 1.0, 2.0 * v - 1.0);
    if a == 0.0 && b == 0.0 {
        return (0.0, 0.0);
    }
    let (radius, turn) = if a.abs() > b.abs() { (a, FRAC_PI_4 * b / a) } else { (b, FRAC_PI_2 - FRAC_PI_4 * a / b) };
    (radius * turn.cos(), radius * turn.sin())
}

/// A shift of the unit square that differs from pixel to pixel without pattern, the same on every run.
pub(super) fn shift_of_pixel(x: u32, y: u32) -> (f64, f64) {
    // Two rounds of multiply and fold; any good scrambling of the bits will do.
    let mut mixed = (u64::from(x) << 32 | u64::from(y)).wrapping_mul(0x9e37_79b9_7f4a_7c15);
    mixed = (mixed ^ (mixed >> 32)).wrapping_mul(0xd6e8_feb8_6659_fd93);
    mixed ^= mixed >> 32;
    let share = |bits: u64| (bits & 0xffff_ffff) as f64 / 4_294_967_296.0;
    (share(mixed), share(mixed.rotate_left(29)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::angle::Angle;
    use crate::optics::{Distortion, Frame, Margins};
    use crate::pose::Attitude;

    fn frame() -> Frame {
        Frame { width_mm: 36.0, height_mm: 24.0, width_px: 600, height_px: 400, margins: Margins::USUAL }
    }

    fn pose() -> Pose {
        let attitude = Attitude {
            heading: Angle::from_degrees(33.0),
            pitch: Angle::from_degrees(21.0),
            roll: Angle::from_degrees(-4.0),
        };
        Pose { eye: WorldPoint::new(3.0, 4.0, 5.0), attitude }
    }

    #[test]
    fn rays_between_pixel_corners_are_the_cameras_own() {
        let bent = Distortion::from_slice(&[-0.12, 0.03, 0.002, -0.001, 0.0]).expect("mild");
        let plain = Camera::plain(frame(), 20.0);
        for mapping in Mapping::ALL {
            let camera =
                Camera { mapping, distortion: bent, rise_mm: 4.0, shift_mm: -2.0, ..Camera::plain(frame(), 20.0) };
            let taking = CameraRays::new(&camera, &pose(), None);
            for (left, top) in [(0, 0), (288, 192), (592, 392)] {
                let tile = taking.tile(left, top);
                let pixel = (left + 7, top + 5);
                if mapping == Mapping::Orthographic && left != 288 {
                    // The corners of the frame lie at the very edge of this lens's picture.
                    continue;
                }
                let ray = taking.ray(&tile, pixel, (0.3, 0.7), (0.0, 0.0)).expect("a ray");
                let view = pose().attitude.view_from_world() * ray.direction;
                let drawn = camera.pixel_from_view(&view).expect("drawn");
                let wanted = PixelPoint::new(f64::from(pixel.0) + 0.3, f64::from(pixel.1) + 0.7);
                assert!((drawn - wanted).norm() < 5e-4, "{mapping:?} {drawn} {wanted}");
                let perfect = CameraRays::new(&plain, &pose(), None).evenly();
                let ray = perfect.ray(&perfect.tile(left, top), pixel, (0.3, 0.7), (0.0, 0.0)).expect("a ray");
                let view = pose().attitude.view_from_world() * ray.direction;
                assert!((plain.pixel_from_view(&view).expect("drawn") - wanted).norm() < 1e-9);
            }
        }
    }

    #[test]
    fn rays_through_the_opening_meet_on_the_plane_of_focus() {
        let camera = Camera::plain(frame(), 35.0);
        let focus = Focus { focal_mm: 35.0, f_number: 2.0, distance_m: 12.0 };
        let taking = CameraRays::new(&camera, &pose(), Some(&focus));
        let tile = taking.tile(160, 328);
        let axis = pose().attitude.forward();
        let meets = |on_lens| {
            let ray = taking.ray(&tile, (165, 330), (0.5, 0.5), on_lens).expect("a ray");
            let depth_m = (ray.origin - pose().eye).dot(&axis);
            assert!(depth_m.abs() < 1e-12);
            ray.origin + ray.direction * (12.0 / ray.direction.dot(&axis))
        };
        assert!((meets((0.9, 0.1)) - meets((-0.5, -0.6))).norm() < 1e-9);
    }

    #[test]
    fn samples_lie_evenly_about_the_middle_of_their_pixel() {
        for first in [1, 2, 4, 8, 16] {
            let all = if first == 1 { 1 } else { 4 * first };
            let places: Vec<_> = (0..all).map(|index| place_in_pixel(index, first)).collect();
            let mean = |pick: fn(&(f64, f64)) -> f64| places.iter().map(pick).sum::<f64>() / f64::from(all);
            assert!((mean(|place| place.0) - 0.5).abs() < 1e-9 && (mean(|place| place.1) - 0.5).abs() < 1e-9);
            // One in each column and one in each row, of the first ones and of all.
            for count in [first, all] {
                for pick in [|place: &(f64, f64)| place.0, |place: &(f64, f64)| place.1] {
                    let mut taken: Vec<u32> =
                        places[..count as usize].iter().map(|place| (pick(place) * f64::from(count)) as u32).collect();
                    taken.sort_unstable();
                    assert!(taken.into_iter().eq(0..count), "{first} {count}");
                }
            }
        }
    }

    #[test]
    fn disc_points_fill_the_disc_evenly() {
        let inside = (0..1024)
            .map(|index| place_in_disc(index, (0.3, 0.9)))
            .inspect(|point| assert!(point.0.hypot(point.1) <= 1.0))
            .filter(|point| point.0.hypot(point.1) < 0.5)
            .count();
        // A quarter of the area.
        assert!((inside as i32 - 256).abs() < 16, "{inside}");
    }
}
