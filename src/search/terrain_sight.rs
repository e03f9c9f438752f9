//! Does ground with relief stay under the lines of sight, or does it rise into them?
//!
//! Two answers bound it from above. For a square of places, the strip between it and the subject is cut into pieces, each as
//! high as the highest post about it. For one place, the ground before it is followed exactly along the line to the
//! subject's middle, from one joint of its triangles to the next; a line to a point of the subject runs beside that one by
//! so little that the slope of the ground bounds the difference. Where neither is enough, the ground at one spot that
//! stands highest against the line may surely hide the point; else a ray decides.

use crate::pose::WorldPoint;
use crate::site::{PlanPoint, TerrainGrid};

use super::eye_box::EyeBox;
use super::occluders::ray_error_m;

/// Lines of sight keep so far from the ground, or a ray decides.
const CLEAR_M: f64 = 0.02;
/// The ground before a place is followed so far.
const ABOUT_M: f64 = 64.0;
/// The pieces of a strip are about so long, but there are no more than so many.
const PIECE_M: f64 = 8.0;
/// See [`PIECE_M`].
const MOST_PIECES: f64 = 64.0;
/// Of an eye over ground steeper than this, and nearer to it, nothing is decided without a ray.
const STEEPEST: f64 = 10.0;
/// See [`STEEPEST`].
const LOWEST_EYE_M: f64 = 0.04;

/// The ground of a site, ready to be compared with lines of sight.
#[derive(Debug)]
pub(super) struct TerrainSight<'a> {
    grid: &'a TerrainGrid,
    sine: f64,
    cosine: f64,
    /// For blocks of 1, 2, 4, … cells a side.
    levels: Vec<CellBlocks>,
    /// For each cell, the steepest ground in it and the two rings of cells about it.
    steepness: Vec<f64>,
    /// The middle of the subject in plan, and how far from it its points lie.
    middle: PlanPoint,
    radius_m: f64,
}

/// Blocks of cells.
#[derive(Debug)]
struct CellBlocks {
    across: usize,
    up: usize,
    /// The lowest and highest ground of each.
    blocks: Vec<(f64, f64)>,
}

impl CellBlocks {
    /// The block in which a column and row lie; that at the rim outside.
    fn block(&self, column: f64, row: f64) -> (usize, usize) {
        let within = |value: f64, count: usize| value.floor().clamp(0.0, (count - 1) as f64) as usize;
        (within(column, self.across), within(row, self.up))
    }
}

/// The strip between a square of places and the subject, from the subject on.
#[derive(Debug)]
pub(super) struct Strip {
    /// Where each piece begins and ends, as shares of the way, and its highest ground.
    pieces: Vec<(f64, f64, f64)>,
    lowest_eye_m: f64,
    clear_m: f64,
}

/// The ground before a place.
#[derive(Debug, Default)]
pub(super) struct TerrainAhead {
    /// One over the distance of each joint, and the highest ground there that a line beside can meet.
    joints: Vec<(f64, f64)>,
    ground_m: f64,
    /// How far the subject's points are, at least and at most.
    distance_m: (f64, f64),
    /// Whether the ground here tells anything.
    pub(super) known: bool,
    clear_m: f64,
}

impl<'a> TerrainSight<'a> {
    pub(super) fn of(grid: &'a TerrainGrid, lights: &[WorldPoint]) -> Self {
        let (columns, rows) = (grid.columns(), grid.rows.len());
        let (across, up) = (columns.saturating_sub(1).max(1), rows.saturating_sub(1).max(1));
        let post = |i: usize, j: usize| grid.rows[rows - 1 - j.min(rows - 1)][i.min(columns - 1)];
        let corners = |cell: usize| {
            let (i, j) = (cell % across, cell / across);
            [post(i, j), post(i + 1, j), post(i + 1, j + 1), post(i, j + 1)]
        };
        let range = |cell: usize| {
            let corners = corners(cell);
            corners.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), &z| (low.min(z), high.max(z)))
        };
        let cells: Vec<(f64, f64)> = (0..across * up).map(range).collect();
        // A triangle rises along its side of the cell, and from there to the cell's middle.
        let steep = |cell: usize| {
            let corners = corners(cell);
            let centre = 0.25 * corners.iter().sum::<f64>();
            let sides = [grid.spacing_m.0, grid.spacing_m.1, grid.spacing_m.0, grid.spacing_m.1];
            (0..4).fold(0.0_f64, |steepest, side| {
                let (a, b) = (corners[side], corners[(side + 1) % 4]);
                let along = (b - a) / sides[side];
                let inwards = (centre - 0.5 * (a + b)) / (0.5 * sides[(side + 1) % 4]);
                steepest.max((along * along + inwards * inwards).sqrt())
            })
        };
        let steep: Vec<f64> = (0..across * up).map(steep).collect();
        let steepness = most_about(&most_about(&steep, across, 1), across, across);
        let mut levels = vec![CellBlocks { across, up, blocks: cells }];
        while let Some(finer) = levels.last().filter(|level| level.across > 1 || level.up > 1) {
            let (across, up) = (finer.across.div_ceil(2), finer.up.div_ceil(2));
            let mut blocks = vec![(f64::INFINITY, f64::NEG_INFINITY); across * up];
            for (index, &(low, high)) in finer.blocks.iter().enumerate() {
                let known = &mut blocks[index / finer.across / 2 * across + index % finer.across / 2];
                *known = (known.0.min(low), known.1.max(high));
            }
            levels.push(CellBlocks { across, up, blocks });
        }
        let plan = |l: &WorldPoint| (l.x, l.y);
        let count = lights.len().max(1) as f64;
        let middle = lights.iter().map(plan).fold((0.0, 0.0), |(x, y), l| (x + l.0 / count, y + l.1 / count));
        let radius_m = lights.iter().map(|l| (l.x - middle.0).hypot(l.y - middle.1)).fold(0.0, f64::max);
        let (sine, cosine) = grid.turned_deg.to_radians().sin_cos();
        Self { grid, sine, cosine, levels, steepness, middle, radius_m }
    }

    fn on_grid(&self, (x, y): PlanPoint) -> (f64, f64) {
        let (east, north) = (x - self.grid.south_west.0, y - self.grid.south_west.1);
        let along = (east * self.cosine - north * self.sine, east * self.sine + north * self.cosine);
        (along.0 / self.grid.spacing_m.0, along.1 / self.grid.spacing_m.1)
    }

    fn steepness(&self, column: f64, row: f64) -> f64 {
        let (i, j) = self.levels[0].block(column, row);
        self.steepness[j * self.levels[0].across + i]
    }

    fn height_m(&self, at: PlanPoint) -> f64 {
        self.grid.height_on_grid(self.on_grid(at))
    }

    /// The lowest and highest ground within a rectangle of the plan; beyond the grid the ground goes on level from its rim.
    pub(super) fn range_m(&self, low: PlanPoint, high: PlanPoint) -> (f64, f64) {
        let (mut left, mut right, mut bottom, mut top) =
            (f64::INFINITY, f64::NEG_INFINITY, f64::INFINITY, f64::NEG_INFINITY);
        for corner in [low, (high.0, low.1), high, (low.0, high.1)] {
            let (column, row) = self.on_grid(corner);
            (left, right, bottom, top) = (left.min(column), right.max(column), bottom.min(row), top.max(row));
        }
        // A hair wider: a point on a joint belongs to both cells.
        let (left, bottom) = self.levels[0].block(left - 1e-6, bottom - 1e-6);
        let (right, top) = self.levels[0].block(right + 1e-6, top + 1e-6);
        // The level on which the rectangle covers at most three or four blocks a side.
        let span = (right - left).max(top - bottom);
        let level = (usize::BITS - span.leading_zeros()).saturating_sub(2).min(self.levels.len() as u32 - 1) as usize;
        let CellBlocks { across, blocks, .. } = &self.levels[level];
        let mut range = (f64::INFINITY, f64::NEG_INFINITY);
        for j in bottom >> level..=top >> level {
            for (low, high) in &blocks[j * across + (left >> level)..=j * across + (right >> level)] {
                range = (range.0.min(*low), range.1.max(*high));
            }
        }
        range
    }

    /// The strip between a box of eyes and points in a box, but for what [`TerrainSight::before`] follows from each eye.
    pub(super) fn strip(&self, (low, high): (WorldPoint, WorldPoint), eyes: &EyeBox) -> Strip {
        let middle = WorldPoint::new(self.middle.0, self.middle.1, eyes.middle.z);
        let level = eyes.half.xy().norm();
        let (nearest_m, farthest_m) = {
            let middle_m = (eyes.middle - middle).xy().norm();
            (middle_m - level, middle_m + level + self.radius_m)
        };
        let followed_m = self.followed_m(nearest_m).max(0.0);
        let last = 1.0 - followed_m / farthest_m;
        let count = (last * farthest_m / PIECE_M).clamp(4.0, MOST_PIECES).ceil();
        let (first, end) = eyes.corners();
        let between = |share: f64| (low + (first - low) * share, high + (end - high) * share);
        let piece = |index: usize| {
            let (from, to) = (last * index as f64 / count, last * (index + 1) as f64 / count);
            let ((a, b), (c, d)) = (between(from), between(to));
            let (low, high) = (a.inf(&c), b.sup(&d));
            (from, to, self.range_m((low.x, low.y), (high.x, high.y)).1)
        };
        let pieces = (0..count as usize).map(piece).collect();
        Strip { pieces, lowest_eye_m: first.z, clear_m: CLEAR_M + ray_error_m(farthest_m) }
    }

    /// How far the ground is followed from an eye at some distance of the subject's middle.
    fn followed_m(&self, distance_m: f64) -> f64 {
        if distance_m < 2.0 * self.radius_m + 1.0 { 0.0 } else { ABOUT_M.min(distance_m - self.radius_m) }
    }

    /// Follows the ground before a place.
    pub(super) fn before(&self, at: PlanPoint, before: &mut TerrainAhead) {
        before.joints.clear();
        let towards = (self.middle.0 - at.0, self.middle.1 - at.1);
        let distance_m = towards.0.hypot(towards.1);
        let followed_m = self.followed_m(distance_m);
        before.clear_m = CLEAR_M + ray_error_m(distance_m + self.radius_m);
        before.known = followed_m > 0.0;
        before.ground_m = self.height_m(at);
        before.distance_m = (distance_m - self.radius_m, distance_m + self.radius_m);
        if !before.known {
            return;
        }
        let ahead = (towards.0 / distance_m, towards.1 / distance_m);
        // A line to a point beside the middle runs beside by this much of its length.
        let aside = (self.radius_m / distance_m).asin();
        let start = self.on_grid(at);
        let end = self.on_grid((at.0 + ahead.0, at.1 + ahead.1));
        let (column, row) = (end.0 - start.0, end.1 - start.1);
        let mut joint = |along_m: f64| {
            let (i, j) = (start.0 + column * along_m, start.1 + row * along_m);
            let steep = self.steepness(i, j);
            // What lies more than a cell aside may be steeper still.
            let beside_m = aside * along_m;
            before.known &= beside_m < self.grid.spacing_m.0.min(self.grid.spacing_m.1);
            let highest_m = self.grid.height_on_grid((i, j)) + steep * beside_m;
            before.joints.push((1.0 / along_m, highest_m));
        };
        // The joints are columns, rows, and the diagonals of cells.
        for (from, step) in
            [(start.0, column), (start.1, row), (start.0 + start.1, column + row), (start.0 - start.1, column - row)]
        {
            if step == 0.0 {
                continue;
            }
            let (mut line, way) = if step > 0.0 { (from.floor() + 1.0, 1.0) } else { (from.ceil() - 1.0, -1.0) };
            loop {
                let along_m = (line - from) / step;
                if along_m > followed_m {
                    break;
                }
                if along_m > 0.0 {
                    joint(along_m);
                }
                line += way;
            }
        }
        joint(followed_m);
    }

    /// Whether an eye stands high enough above the ground for a spot of it to hide what lies behind.
    pub(super) fn stands_clear(&self, eye: &WorldPoint) -> bool {
        let (column, row) = self.on_grid((eye.x, eye.y));
        self.steepness(column, row) <= STEEPEST && eye.z - self.grid.height_on_grid((column, row)) > LOWEST_EYE_M
    }

    /// Whether the ground at a share of the way from an eye to a point surely stands above the line.
    pub(super) fn hides(&self, eye: &WorldPoint, light: &WorldPoint, share: f64) -> bool {
        let spot = eye + (light - eye) * share;
        self.height_m((spot.x, spot.y)) > spot.z + CLEAR_M + ray_error_m((light - eye).norm())
    }
}

/// For each cell of rows of `across`, the most of the cells up to two before and behind it, `step` apart.
fn most_about(cells: &[f64], across: usize, step: usize) -> Vec<f64> {
    let most = |index: usize| {
        let row = index / across;
        let near = [-2, -1, 0, 1, 2].map(|steps: isize| index.checked_add_signed(steps * step as isize));
        let same = |other: &usize| *other < cells.len() && (step > 1 || other / across == row);
        near.into_iter().flatten().filter(same).map(|other| cells[other]).fold(0.0, f64::max)
    };
    (0..cells.len()).map(most).collect()
}

impl Strip {
    /// Whether all lines to a point stay clear of the strip's ground; else the share of the way, from the point, at which the
    /// ground stands highest against the lowest of them.
    pub(super) fn clears(&self, light: &WorldPoint) -> Result<(), f64> {
        let mut worst = (-self.clear_m, None);
        for &(from, to, highest_m) in &self.pieces {
            let line_m = |share: f64| light.z + (self.lowest_eye_m - light.z) * share;
            let over_m = highest_m - line_m(from).min(line_m(to));
            if over_m >= worst.0 {
                worst = (over_m, Some(0.5 * (from + to)));
            }
        }
        worst.1.map_or(Ok(()), Err)
    }
}

impl TerrainAhead {
    /// The least slope of a line to a point of the subject that lies so far above the eye.
    pub(super) fn flattest(&self, above_m: f64) -> f64 {
        let (nearest_m, farthest_m) = self.distance_m;
        if above_m > 0.0 { above_m / farthest_m } else { above_m / nearest_m }
    }

    /// How steeply a line must rise from an eye to stay clear of the ground before it, and how far off the ground stands
    /// highest against it.
    pub(super) fn slope(&self, eye_m: f64) -> (f64, f64) {
        if eye_m <= self.ground_m + self.clear_m {
            return (f64::INFINITY, 0.0);
        }
        let mut steepest = (f64::NEG_INFINITY, 1.0);
        for &(nearness, highest_m) in &self.joints {
            let slope = (highest_m + self.clear_m - eye_m) * nearness;
            if slope > steepest.0 {
                steepest = (slope, nearness);
            }
        }
        (steepest.0, 1.0 / steepest.1)
    }
}
