//! What does a figure come to at every place?

use crate::optics::Orientation;
use crate::site::PlanPoint;

use super::place_result::{LowestHeight, PlaceResult, PlaceStatus};
use super::places::Lattice;

/// Places are looked at in squares of so many a side.
pub(super) const TILE: u32 = 8;

/// What a map can show.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum MapFigure {
    /// The largest lean of the subject's verticals with the best lens, in degrees.
    #[default]
    LargestLean,
    /// The convergence with the best lens, in degrees; positive converges.
    Convergence,
    /// The largest share of the subject that is seen from any of the heights, 0 to 1.
    Seen,
    /// The focal length that fills the frame from the first height, in mm.
    Focal,
    /// The lowest detail with the best lens, in px/m.
    Detail,
    /// The share of the frame that the subject fills with the best lens, 0 to 1.
    Filled,
    /// The angle to the front, in degrees; 0 is squarely before it.
    Front,
    /// How long the sun is on the face of the picture, in minutes.
    Light,
    /// The lowest camera height that sees enough of the subject, in m above what one stands on.
    LowestSeen,
    /// The lowest camera height at which every requirement is met, in m above what one stands on.
    LowestMet,
}

impl MapFigure {
    /// All of them.
    pub const ALL: [Self; 10] = [
        Self::LargestLean,
        Self::Convergence,
        Self::Seen,
        Self::Focal,
        Self::Detail,
        Self::Filled,
        Self::Front,
        Self::Light,
        Self::LowestSeen,
        Self::LowestMet,
    ];

    /// Its name on the command line and in files.
    pub const fn name(self) -> &'static str {
        match self {
            Self::LargestLean => "lean",
            Self::Convergence => "convergence",
            Self::Seen => "seen",
            Self::Focal => "focal",
            Self::Detail => "detail",
            Self::Filled => "filled",
            Self::Front => "front",
            Self::Light => "light",
            Self::LowestSeen => "lowest-seen",
            Self::LowestMet => "lowest-met",
        }
    }

    /// What it is, in words.
    pub const fn title(self) -> &'static str {
        match self {
            Self::LargestLean => "Largest lean with the best lens",
            Self::Convergence => "Convergence with the best lens",
            Self::Seen => "Share of the subject seen",
            Self::Focal => "Focal length that fills the frame",
            Self::Detail => "Lowest detail",
            Self::Filled => "Share of the frame filled with the best lens",
            Self::Front => "Angle to the front",
            Self::Light => "Sun on the face of the picture",
            Self::LowestSeen => "Lowest camera that sees enough",
            Self::LowestMet => "Lowest camera that meets every requirement",
        }
    }

    /// The unit of its values.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::LargestLean | Self::Convergence | Self::Front => "°",
            Self::Seen | Self::Filled => "",
            Self::Focal => "mm",
            Self::Detail => "px/m",
            Self::Light => "min",
            Self::LowestSeen | Self::LowestMet => "m",
        }
    }

    /// Whether a smaller value is the better one; `None` where neither is.
    pub const fn smaller_is_better(self) -> Option<bool> {
        match self {
            Self::LargestLean | Self::Front | Self::LowestSeen | Self::LowestMet => Some(true),
            Self::Seen | Self::Detail | Self::Filled | Self::Light => Some(false),
            Self::Convergence | Self::Focal => None,
        }
    }
}

/// A height, a lens and an aim, by their index in the requirements.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Combination {
    /// Which camera height.
    pub height: usize,
    /// Which lens.
    pub lens: usize,
    /// Which aim.
    pub aim: usize,
    /// The focal length that is set.
    pub focal_mm: f64,
}

/// What was found at every place, or at every so many-th.
#[derive(Clone, Debug)]
pub struct Map {
    lattice: Lattice,
    step: u32,
    columns: u32,
    rows: u32,
    /// Square by square, row by row of squares from the south-west, and so within each.
    pub(super) tiles: Vec<Vec<PlaceResult>>,
}

impl Map {
    pub(super) fn new(lattice: Lattice, step: u32) -> Self {
        let (columns, rows) = (lattice.columns.div_ceil(step), lattice.rows.div_ceil(step));
        Self { lattice, step, columns, rows, tiles: Vec::new() }
    }

    /// Cells from west to east.
    pub fn columns(&self) -> u32 {
        self.columns
    }

    /// Cells from south to north.
    pub fn rows(&self) -> u32 {
        self.rows
    }

    /// How many places to a side one cell stands for: 1 in a finished map.
    pub fn step(&self) -> u32 {
        self.step
    }

    /// The side of a cell.
    pub fn spacing_m(&self) -> f64 {
        self.lattice.spacing_m * f64::from(self.step)
    }

    /// The south-west corner of the first cell.
    pub fn corner(&self) -> PlanPoint {
        self.lattice.corner()
    }

    /// South-west and north-east corner of the ground that was searched.
    pub fn area(&self) -> [PlanPoint; 2] {
        let (west, south) = self.corner();
        let size = |count: u32| f64::from(count) * self.spacing_m();
        [(west, south), (west + size(self.columns), south + size(self.rows))]
    }

    /// Column and row of the cell that holds a plan position; `None` beside the map.
    pub fn cell_of(&self, at: PlanPoint) -> Option<(u32, u32)> {
        let (west, south) = self.corner();
        let index = |from: f64, start: f64, count: u32| {
            let index = ((from - start) / self.spacing_m()).floor();
            (index >= 0.0 && index < f64::from(count)).then_some(index as u32)
        };
        Some((index(at.0, west, self.columns)?, index(at.1, south, self.rows)?))
    }

    /// The places that the cells belong to.
    pub fn lattice(&self) -> &Lattice {
        &self.lattice
    }

    /// How many squares of cells lie from west to east, and from south to north.
    pub(super) fn tiles_across(&self) -> (u32, u32) {
        (self.columns.div_ceil(TILE), self.rows.div_ceil(TILE))
    }

    /// The columns and rows of a square.
    pub(super) fn tile(&self, index: usize) -> (std::ops::Range<u32>, std::ops::Range<u32>) {
        let across = self.tiles_across().0.max(1);
        let (column, row) = (index as u32 % across * TILE, index as u32 / across * TILE);
        (column..(column + TILE).min(self.columns), row..(row + TILE).min(self.rows))
    }

    /// Column and row of the place that was looked at for a cell.
    pub(super) fn place_of(&self, column: u32, row: u32) -> (u32, u32) {
        let middle = |index: u32, count: u32| (index * self.step + self.step / 2).min(count - 1);
        (middle(column, self.lattice.columns), middle(row, self.lattice.rows))
    }

    pub(super) fn cell(&self, column: u32, row: u32) -> Option<&PlaceResult> {
        if column >= self.columns || row >= self.rows {
            return None;
        }
        let across = self.tiles_across().0;
        let tile = self.tiles.get((row / TILE * across + column / TILE) as usize)?;
        let wide = TILE.min(self.columns - column / TILE * TILE);
        tile.get((row % TILE * wide + column % TILE) as usize)
    }

    /// With which height, lens and aim the figures of the best lens come about at a place, by their index in the requirements,
    /// and the focal length that is set; `None` where nothing serves.
    pub fn combination(&self, column: u32, row: u32) -> Option<Combination> {
        let best = self.cell(column, row)?.best.as_ref()?;
        let order = best.order;
        Some(Combination { height: order.height(), lens: order.lens(), aim: order.aim(), focal_mm: best.focal_mm })
    }

    /// What became of a place before any camera was held there.
    pub fn ground(&self, column: u32, row: u32) -> PlaceStatus {
        self.cell(column, row).map_or(PlaceStatus::Unknown, |cell| cell.ground)
    }

    /// Whether every requirement is met there.
    pub fn meets(&self, column: u32, row: u32) -> bool {
        self.cell(column, row).is_some_and(|cell| cell.meets)
    }

    /// A figure at a place; `None` where it has none: nobody can stand there, the subject is hidden or cut off, or the
    /// figure was not asked for.
    pub fn value(&self, column: u32, row: u32, figure: MapFigure) -> Option<f64> {
        let cell = self.cell(column, row)?;
        let best = |of: fn(&super::place_result::StoredCandidate) -> f64| cell.best.as_ref().map(of);
        let value = match figure {
            MapFigure::LargestLean => best(|kept| kept.largest_lean.to_degrees()),
            MapFigure::Convergence => best(|kept| kept.convergence.to_degrees()),
            MapFigure::Seen => Some(cell.seen_share),
            MapFigure::Front => Some(cell.front_deg),
            MapFigure::Light => Some(cell.light_minutes),
            MapFigure::Focal => cell.needed().map(|(focal_mm, _)| focal_mm),
            MapFigure::Detail => best(|kept| kept.detail_px_per_m),
            MapFigure::Filled => best(|kept| kept.filled_share.min(1.0)),
            MapFigure::LowestSeen => cell.lowest_seen().map(|lowest| lowest.height_m),
            MapFigure::LowestMet => cell.lowest_met().map(|lowest| lowest.height_m),
        };
        value.filter(|value| !value.is_nan())
    }

    /// The focal length that fills the frame from a place, and how the camera is then held.
    pub fn needed_focal_mm(&self, column: u32, row: u32) -> Option<(f64, Orientation)> {
        self.cell(column, row)?.needed()
    }

    /// The lowest camera that sees enough of the subject.
    pub fn lowest_seen(&self, column: u32, row: u32) -> Option<LowestHeight> {
        self.cell(column, row)?.lowest_seen()
    }

    /// The lowest camera at which every requirement is met.
    pub fn lowest_met(&self, column: u32, row: u32) -> Option<LowestHeight> {
        self.cell(column, row)?.lowest_met()
    }

    /// The least and the greatest value of a figure; `None` where no place has one.
    pub fn range(&self, figure: MapFigure) -> Option<(f64, f64)> {
        let mut range: Option<(f64, f64)> = None;
        for row in 0..self.rows {
            for column in 0..self.columns {
                if let Some(value) = self.value(column, row, figure) {
                    let (low, high) = range.unwrap_or((value, value));
                    range = Some((low.min(value), high.max(value)));
                }
            }
        }
        range
    }
}
