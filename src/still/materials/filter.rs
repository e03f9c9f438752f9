//! How much of a pixel does a pattern cover?
//!
//! Patterns are averaged over the footprint of the pixel in closed form: a stripe, a joint or a pane too fine to be seen
//! turns into its share of the surface, so nothing far away shimmers.

use crate::pose::WorldPoint;

use super::super::tones::Light;

/// A place on a surface and how large the pixel is there, both in metres.
#[derive(Clone, Copy, Debug)]
pub(super) struct Footprint {
    /// Along the surface, and up or across it.
    pub(super) at: (f64, f64),
    /// The pixel's width in each.
    pub(super) wide: (f64, f64),
}

/// The share of a stretch `wide` about `at` that lies between `from` and `to`.
pub(super) fn between(at: f64, wide: f64, from: f64, to: f64) -> f64 {
    let wide = wide.max(1e-6);
    let (low, high) = (at - 0.5 * wide, at + 0.5 * wide);
    ((high.min(to) - low.max(from)) / wide).clamp(0.0, 1.0)
}

/// The share of a stretch `wide` about `at` that lies on stripes of width `stripe`, one each `period`, from nought upwards.
pub(super) fn stripes(at: f64, wide: f64, period: f64, stripe: f64) -> f64 {
    let wide = wide.max(1e-6);
    let covered_to = |place: f64| {
        let whole = (place / period).floor();
        whole * stripe + (place - whole * period).min(stripe)
    };
    ((covered_to(at + 0.5 * wide) - covered_to(at - 0.5 * wide)) / wide).clamp(0.0, 1.0)
}

/// How much of a detail of a size is left in a pixel of a width: all of what is larger, none of what is much finer.
pub(super) fn left(wide: f64, size: f64) -> f64 {
    (1.6 - 1.2 * wide / size).clamp(0.0, 1.0)
}

impl Footprint {
    /// The share of the pixel in an upright rectangle.
    pub(super) fn in_rectangle(&self, (from, to): (f64, f64), (low, high): (f64, f64)) -> f64 {
        between(self.at.0, self.wide.0, from, to) * between(self.at.1, self.wide.1, low, high)
    }

    /// The share of the pixel on the inner side of an edge it lies `off` within.
    pub(super) fn within(&self, off: f64) -> f64 {
        (0.5 + off / self.wide.0.max(self.wide.1).max(1e-6)).clamp(0.0, 1.0)
    }

    /// The wider of its two widths.
    pub(super) fn widest(&self) -> f64 {
        self.wide.0.max(self.wide.1)
    }
}

/// A number of 0 to 1 that belongs to a place of a grid, the same on every run.
pub(super) fn chance(x: i64, y: i64, seed: u32) -> f64 {
    let mut mixed = (x as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15)
        ^ (y as u64).wrapping_mul(0xc2b2_ae3d_27d4_eb4f)
        ^ u64::from(seed).wrapping_mul(0x1656_67b1_9e37_79f9);
    mixed = (mixed ^ (mixed >> 29)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    mixed = (mixed ^ (mixed >> 32)).wrapping_mul(0x94d0_49bb_1331_11eb);
    ((mixed ^ (mixed >> 31)) >> 40) as f64 / 16_777_216.0
}

/// Soft blotches of about a size, from −1 to 1, faded out where the pixel is too wide to show them.
pub(super) fn blotches(at: (f64, f64), size: f64, wide: f64, seed: u32) -> f64 {
    let kept = left(wide, 2.0 * size);
    if kept <= 0.0 {
        return 0.0;
    }
    let (x, y) = (at.0 / size, at.1 / size);
    let (column, row) = (x.floor(), y.floor());
    let soft = |share: f64| share * share * (3.0 - 2.0 * share);
    let (u, v) = (soft(x - column), soft(y - row));
    let (i, j) = (column as i64, row as i64);
    let low = chance(i, j, seed) * (1.0 - u) + chance(i + 1, j, seed) * u;
    let high = chance(i, j + 1, seed) * (1.0 - u) + chance(i + 1, j + 1, seed) * u;
    kept * (2.0 * (low * (1.0 - v) + high * v) - 1.0)
}

/// Soft lumps of about a size in space, from −1 to 1, faded out where the pixel is too wide to show them.
pub(super) fn lumps(point: &WorldPoint, size: f64, wide: f64, seed: u32) -> f64 {
    let kept = left(wide, 2.0 * size);
    if kept <= 0.0 {
        return 0.0;
    }
    let layer = (point.z / size).floor();
    let share = point.z / size - layer;
    let share = share * share * (3.0 - 2.0 * share);
    let at = |layer: f64| {
        blotches((point.x, point.y), size, 0.0, seed.wrapping_add((layer as i64 as u32).wrapping_mul(0x9e37)))
    };
    kept * (at(layer) * (1.0 - share) + at(layer + 1.0) * share)
}

/// A tone mixed with another by a share.
pub(super) fn mix(tone: Light, other: Light, share: f64) -> Light {
    tone + (other - tone) * share
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stripes_are_their_mean_over_the_pixel() {
        for (at, wide) in [(0.003, 0.02), (0.31, 0.004), (-0.72, 0.19), (5.013, 0.075), (1.0, 3.0)] {
            let steps = 200_000;
            let place = |step: i32| at + wide * ((f64::from(step) + 0.5) / f64::from(steps) - 0.5);
            let on = (0..steps).filter(|&step| place(step).rem_euclid(0.075) < 0.01).count();
            let brute = on as f64 / f64::from(steps);
            assert!((stripes(at, wide, 0.075, 0.01) - brute).abs() < 1e-4, "{at} {wide}");
        }
        // Far away a joint is its share of the wall.
        assert!((stripes(3.3, 7.5, 0.075, 0.01) - 0.01 / 0.075).abs() < 1e-3);
    }

    #[test]
    fn a_rectangle_covers_the_part_of_the_pixel_that_lies_in_it() {
        let pixel = Footprint { at: (1.0, 2.0), wide: (0.4, 0.2) };
        assert!((pixel.in_rectangle((0.0, 5.0), (0.0, 5.0)) - 1.0).abs() < 1e-12);
        assert!((pixel.in_rectangle((1.0, 5.0), (0.0, 5.0)) - 0.5).abs() < 1e-12);
        assert!((pixel.in_rectangle((1.1, 5.0), (2.05, 5.0)) - 0.25 * 0.25).abs() < 1e-12);
        assert_eq!(pixel.in_rectangle((3.0, 5.0), (0.0, 5.0)), 0.0);
    }

    #[test]
    fn chances_fill_their_range_evenly() {
        let mut tenths = [0; 10];
        for x in -50..50 {
            for y in -50..50 {
                tenths[(chance(x, y, 7) * 10.0) as usize] += 1;
            }
        }
        assert!(tenths.iter().all(|&count| (850..1150).contains(&count)), "{tenths:?}");
    }
}
