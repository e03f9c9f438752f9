//! Does a ray meet ground that is given by heights on posts?
//!
//! Such ground needs no tree: where its cells lie follows from their numbers. Pieces of four by four cells, pieces of four
//! by four of those and so on up to one that is all, each with the heights between which its parts lie; a ray goes down
//! through those that it meets, in the order in which it runs through them. The level ground beyond the last posts is one
//! more row of cells on each side, very wide ones. A few bytes to a post and nothing to sort, so that a survey of millions
//! of posts is ready at once, and much of it stays in the processor's store.
//!
//! The axes are those of the grid: `Sight` lays its own along them.
//!
//! In a tree of boxes, triangles that are 20 km long and 2 m wide spoil the boxes of all others, and take 200 bytes a post; here it
//! is 13, and rays are three to five times as fast.

use glam::{Vec3A, Vec4};

use super::hierarchy::{BEYOND, Leaf, Spread, WIDE, take_lowest};

/// Heights on posts, ready to be looked at.
pub(super) struct Relief {
    /// Where the lines of posts lie along each axis; the first and the last are where the level ground ends.
    lines: [Vec<f32>; 2],
    /// From line to line, along the first axis first.
    heights: Vec<f32>,
    /// The finest first, whose parts are cells; the last is one piece.
    levels: Vec<ReliefLevel>,
}

/// Pieces of the same fineness.
struct ReliefLevel {
    /// Where the parts of each column and of each row of pieces begin and end.
    sides: [Vec<[Vec4; 2]>; 2],
    /// Row by row.
    pieces: Vec<ReliefPiece>,
}

/// The lowest and the highest heights of a piece's parts, row by row. A part that is not there ends before it begins.
#[derive(Clone, Copy)]
#[repr(align(64))]
struct ReliefPiece {
    low: [Vec4; WIDE],
    high: [Vec4; WIDE],
}

/// Levels enough for more posts than there can be.
const LEVELS: usize = 32;

impl Relief {
    /// Ground with its lines of posts along both axes and its heights, along the first axis first.
    pub(super) fn over(lines: [Vec<f32>; 2], heights: Vec<f32>) -> Self {
        let mut relief = Self { lines, heights, levels: Vec::new() };
        let mut parts = [relief.lines[0].len() - 1, relief.lines[1].len() - 1];
        let mut size = 1;
        while relief.levels.is_empty() || parts != [1, 1] {
            let level = relief.level(parts, size);
            relief.levels.push(level);
            parts = parts.map(|count| count.div_ceil(WIDE));
            size *= WIDE;
        }
        relief
    }

    /// The next coarser level over so many parts, each of `size` cells along each axis.
    fn level(&self, parts: [usize; 2], size: usize) -> ReliefLevel {
        let pieces = parts.map(|count| count.div_ceil(WIDE));
        let sides = [0, 1].map(|axis| {
            let line = |part: usize| self.lines[axis][(part * size).min(self.lines[axis].len() - 1)];
            let lanes = |first: usize| Vec4::from_array([0, 1, 2, 3].map(|lane| line(first + lane)));
            (0..pieces[axis]).map(|piece| [lanes(WIDE * piece), lanes(WIDE * piece + 1)]).collect()
        });
        let range = |column: usize, row: usize| {
            if column >= parts[0] || row >= parts[1] {
                return (f32::INFINITY, f32::NEG_INFINITY);
            }
            match self.levels.last() {
                None => {
                    let corners = self.corners(column, row);
                    (corners.min_element(), corners.max_element())
                }
                Some(finer) => finer.pieces[row * finer.sides[0].len() + column].range(),
            }
        };
        let mut level = ReliefLevel { sides, pieces: Vec::with_capacity(pieces[0] * pieces[1]) };
        for (row, column) in (0..pieces[1]).flat_map(|row| (0..pieces[0]).map(move |column| (row, column))) {
            let ranges =
                [0, 1, 2, 3].map(|over| [0, 1, 2, 3].map(|lane| range(WIDE * column + lane, WIDE * row + over)));
            level.pieces.push(ReliefPiece {
                low: ranges.map(|lanes| Vec4::from_array(lanes.map(|(low, _)| low))),
                high: ranges.map(|lanes| Vec4::from_array(lanes.map(|(_, high)| high))),
            });
        }
        level
    }

    /// Where the ground ends along each axis.
    pub(super) fn ends(&self) -> [[f32; 2]; 2] {
        [0, 1].map(|axis| [self.lines[axis][0], self.lines[axis][self.lines[axis].len() - 1]])
    }

    /// The heights of a cell's corners: south-west, south-east, north-east, north-west.
    #[inline(always)]
    fn corners(&self, column: usize, row: usize) -> Vec4 {
        let posts = self.lines[0].len();
        let south = &self.heights[row * posts + column..][..2];
        let north = &self.heights[(row + 1) * posts + column..][..2];
        Vec4::new(south[0], south[1], north[1], north[0])
    }

    /// The four triangles of a cell, which meet at the mean of its corners.
    #[inline(always)]
    fn cell(&self, column: usize, row: usize) -> Leaf {
        let [x, y] = &self.lines;
        let (west, east, south, north) = (x[column], x[column + 1], y[row], y[row + 1]);
        let heights = self.corners(column, row);
        let [a, b, c, d] = heights.to_array();
        let fan = |corners: Vec4, middle: f32| {
            let [a, b, c, d] = corners.to_array();
            [corners, Vec4::new(b, c, d, a), Vec4::splat(middle)]
        };
        Leaf::side_by_side([
            fan(Vec4::new(west, east, east, west), 0.5 * (west + east)),
            fan(Vec4::new(south, south, north, north), 0.5 * (south + north)),
            fan(heights, 0.25 * ((a + b) + (c + d))),
        ])
    }

    /// Whether a ray meets the ground.
    pub(super) fn is_met(&self, ray: &Spread) -> bool {
        self.run_through(ray, ray.most, |cell| cell.is_met(ray))
    }

    /// How far off a ray first meets the ground, if before `most`.
    pub(super) fn first_met(&self, ray: &Spread, most: f32) -> Option<f32> {
        let mut first = None;
        self.run_through(ray, Vec4::splat(most), |cell| {
            first = cell.first_met(ray, most).map(|(distance, _)| distance);
            first.is_some()
        });
        first
    }

    /// Looks at the cells that a ray runs through before `most`, in that order, until one is answered with `true`; whether
    /// one was.
    #[inline(always)]
    fn run_through(&self, ray: &Spread, most: Vec4, mut look: impl FnMut(&Leaf) -> bool) -> bool {
        let (mut depth, mut column, mut row) = (self.levels.len() - 1, 0, 0);
        let mut left = self.levels[depth].met(column, row, ray, most);
        // The pieces that were left for one of their parts, and which of their parts are still to come.
        let mut waiting = [(0, 0, 0); LEVELS];
        loop {
            if left == 0 {
                depth += 1;
                if depth == self.levels.len() {
                    return false;
                }
                (column, row, left) = waiting[depth % LEVELS];
                continue;
            }
            let part = take_lowest(&mut left);
            // The parts are numbered as the ray runs.
            let (lane, over) = ((part % WIDE) ^ ray.turn(0), (part / WIDE % WIDE) ^ ray.turn(1));
            let (part_column, part_row) = (WIDE * column + lane, WIDE * row + over);
            if depth == 0 {
                if look(&self.cell(part_column, part_row)) {
                    return true;
                }
            } else {
                waiting[depth % LEVELS] = (column, row, left);
                depth -= 1;
                (column, row) = (part_column, part_row);
                left = self.levels[depth].met(column, row, ray, most);
            }
        }
    }

    /// Looks at every cell but those in boxes, given by their low and high corners, that lie `outside`; until one is
    /// answered with `false`. `unseen` is room to work in.
    pub(super) fn look_through(
        &self,
        unseen: &mut Vec<(usize, usize, usize)>,
        outside: impl Fn(Vec3A, Vec3A) -> bool,
        mut look: impl FnMut(&Leaf) -> bool,
    ) {
        unseen.clear();
        unseen.push((self.levels.len() - 1, 0, 0));
        while let Some((depth, column, row)) = unseen.pop() {
            let level = &self.levels[depth];
            let ([x, y], piece) = level.at(column, row);
            for part in 0..WIDE * WIDE {
                let (lane, over) = (part % WIDE, part / WIDE);
                let low = Vec3A::new(x[0][lane], y[0][over], piece.low[over][lane]);
                let high = Vec3A::new(x[1][lane], y[1][over], piece.high[over][lane]);
                if low.z > high.z || outside(low, high) {
                    continue;
                }
                let (column, row) = (WIDE * column + lane, WIDE * row + over);
                if depth > 0 {
                    unseen.push((depth - 1, column, row));
                } else if !look(&self.cell(column, row)) {
                    return;
                }
            }
        }
    }
}

impl ReliefLevel {
    #[inline(always)]
    fn at(&self, column: usize, row: usize) -> ([&[Vec4; 2]; 2], &ReliefPiece) {
        let [columns, rows] = &self.sides;
        ([&columns[column], &rows[row]], &self.pieces[row * columns.len() + column])
    }

    /// Which parts of a piece a ray meets before `most`, a bit for each, numbered in the order in which the ray runs.
    #[inline(always)]
    fn met(&self, column: usize, row: usize, ray: &Spread, most: Vec4) -> u32 {
        let ([x, y], piece) = self.at(column, row);
        let between = |axis: usize, [low, high]: &[Vec4; 2]| {
            let (near, far) = ray.in_turn(axis, [low, high]);
            (ray.reach(axis, *near), ray.reach(axis, *far))
        };
        let ((x_enter, x_leave), (y_enter, y_leave)) = (between(0, x), between(1, y));
        let (x_enter, y_enter, y_leave) = (x_enter.max(ray.least), y_enter.to_array(), y_leave.to_array());
        let (near, far) = ray.in_turn(2, [&piece.low, &piece.high]);
        let mut met = 0;
        for over in 0..WIDE {
            let at = over ^ ray.turn(1);
            let z_enter = ray.reach(2, near[at % WIDE]);
            let z_leave = ray.reach(2, far[at % WIDE]);
            let enter = z_enter.max(x_enter).max(Vec4::splat(y_enter[at % WIDE]));
            let leave = (z_leave.min(x_leave).min(Vec4::splat(y_leave[at % WIDE])) * BEYOND).min(most);
            met |= enter.cmple(leave).bitmask() << (WIDE * over);
        }
        if ray.turn(0) == 0 { met } else { turned(met) }
    }
}

/// Each four bits in the opposite order.
#[inline(always)]
fn turned(bits: u32) -> u32 {
    let by_pairs = (bits & 0x5555) << 1 | (bits & 0xaaaa) >> 1;
    (by_pairs & 0x3333) << 2 | (by_pairs & 0xcccc) >> 2
}

impl ReliefPiece {
    fn range(&self) -> (f32, f32) {
        let [a, b, c, d] = self.low;
        let [e, f, g, h] = self.high;
        (a.min(b).min(c.min(d)).min_element(), e.max(f).max(g.max(h)).max_element())
    }
}

#[cfg(test)]
mod tests {
    use obvhs::ray::Ray;
    use obvhs::triangle::Triangle;

    use super::*;
    use crate::pose::WorldPoint;
    use crate::sight::axes::RayAxes;
    use crate::sight::hierarchy::Hierarchy;
    use crate::site::{Terrain, TerrainGrid};

    const AXES: RayAxes = RayAxes { origin: WorldPoint::new(0.0, 0.0, 0.0), sine: 0.0, cosine: 1.0 };

    /// Fractional parts of multiples of an irrational number: anything, and the same each time.
    fn any(index: usize, step: f64, low: f64, high: f64) -> f64 {
        low + (high - low) * (index as f64 * step.sqrt()).fract()
    }

    fn grid(columns: usize, rows: usize, height_m: impl Fn(usize) -> f64) -> TerrainGrid {
        let row = |row: usize| (0..columns).map(|column| height_m(row * columns + column)).collect();
        TerrainGrid {
            south_west: (-16.0, -24.0),
            spacing_m: (2.0, 4.0),
            turned_deg: 0.0,
            rows: (0..rows).map(row).collect(),
        }
    }

    fn relief_over(grid: &TerrainGrid) -> Relief {
        let (lines, heights) = AXES.posts(grid);
        Relief::over(lines, heights)
    }

    fn point(column: f64, row: f64, height_m: f64) -> Vec3A {
        AXES.point(&WorldPoint::new(-16.0 + 2.0 * column, -24.0 + 4.0 * row, height_m))
    }

    fn ray(from: Vec3A, to: Vec3A, most: f32) -> Spread {
        Spread::of(&Ray::new(from, (to - from).normalize(), 1e-3, most))
    }

    #[test]
    fn the_ground_is_met_as_each_of_its_triangles_would_be() {
        let (mut met, mut missed) = (0, 0);
        for (columns, rows) in [(2, 2), (3, 2), (5, 4), (17, 9), (40, 70)] {
            // Eighths of a metre, so that the mean of four has no rounding.
            let grid = grid(columns, rows, |post| (any(post, 7.0, 0.0, 64.0)).floor() / 8.0);
            let relief = relief_over(&grid);
            let triangles = Terrain::Grid(grid).triangles().into_iter().map(|corners| {
                let [v0, v1, v2] = corners.map(|corner| AXES.point(&corner));
                Triangle { v0, v1, v2 }
            });
            let hierarchy = Hierarchy::over(triangles.collect());
            let at = |index: usize, step: f64| {
                point(
                    any(index, step, -0.3, 1.3) * columns as f64,
                    any(index, step + 4.0, -0.3, 1.3) * rows as f64,
                    any(index, step + 6.0, -2.0, 12.0),
                )
            };
            for index in 1..3000 {
                let (from, mut to) = (at(index, 2.0), at(index, 3.0));
                // Some run along the lines of the posts, and some straight up or down.
                match index % 8 {
                    0 => to.x = from.x,
                    1 => to.y = from.y,
                    2 => to = Vec3A::new(from.x, from.y, to.z),
                    3 => to.z = from.z,
                    _ => {}
                }
                let ray = ray(from, to, if index % 3 == 0 { 1e5 } else { (to - from).length() });
                let first = hierarchy.first_met(&ray).map(|(distance, _)| distance);
                assert_eq!(relief.is_met(&ray), first.is_some(), "{from} {to}");
                assert_eq!(relief.first_met(&ray, ray.most.x), first, "{from} {to}");
                if let Some(distance) = first {
                    assert_eq!(relief.first_met(&ray, distance), None);
                }
                *(if first.is_some() { &mut met } else { &mut missed }) += 1;
            }
        }
        assert!(met > 5000 && missed > 3000, "{met} {missed}");
    }

    #[test]
    fn no_ray_slips_through_between_the_cells() {
        let (columns, rows) = (45, 30);
        let grid = grid(columns, rows, |post| any(post, 5.0, 0.0, 3.7));
        let relief = relief_over(&grid);
        let terrain = Terrain::Grid(grid);
        let mut looked = 0;
        for index in 0..8 {
            let eye = point(any(index, 2.0, 0.0, 45.0), any(index, 3.0, 0.0, 30.0), any(index, 5.0, 5.0, 90.0));
            for (row, column) in (0..2 * rows - 1).flat_map(|row| (0..2 * columns - 1).map(move |column| (row, column)))
            {
                // Posts, the middles of cells and of their sides, and places along the joints.
                let share = any(row * 97 + column, 11.0, 0.0, 0.5);
                let (row, column) = (0.5 * row as f64, 0.5 * column as f64);
                for (more_up, more_along) in [(0.0, 0.0), (share, 0.0), (0.0, share), (share, share), (-share, share)] {
                    let (up, along) = (row + more_up, column + more_along);
                    let plan = (-16.0 + 2.0 * along, -24.0 + 4.0 * up);
                    let to = point(along, up, terrain.height_m(plan));
                    let ray = ray(eye, to, 1e4);
                    looked += 1;
                    assert!(relief.is_met(&ray), "{eye} {to}");
                    assert!(relief.first_met(&ray, 1e4).is_some(), "{eye} {to}");
                }
            }
        }
        assert!(looked > 200_000, "{looked}");
    }
}
