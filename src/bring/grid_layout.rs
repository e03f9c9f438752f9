//! Where do the posts of a grid lie on its map?

use std::ops::Range;

/// The widest spacing in degrees that is still taken for terrain, about 5 km.
pub(super) const WIDEST_DEGREES: f64 = 0.05;

/// How many posts there are, how far apart and from where on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct GridLayout {
    pub(super) columns: u64,
    pub(super) rows: u64,
    /// Between posts, along a row and between rows, in the map's unit.
    pub(super) spacing: (f64, f64),
    /// The map point of the south-west post.
    pub(super) south_west: (f64, f64),
}

impl GridLayout {
    /// The map point at so many columns from the west and rows from the south.
    pub(super) fn post(&self, column: f64, row: f64) -> (f64, f64) {
        (self.south_west.0 + column * self.spacing.0, self.south_west.1 + row * self.spacing.1)
    }

    /// The columns from the west and rows from the south of a map point.
    pub(super) fn grid_from_map(&self, (x, y): (f64, f64)) -> (f64, f64) {
        ((x - self.south_west.0) / self.spacing.0, (y - self.south_west.1) / self.spacing.1)
    }

    /// Whether the numbers can hardly be anything but longitude and latitude: all inside their ranges, and posts closer
    /// than a twentieth of a unit.
    pub(super) fn looks_like_degrees(&self) -> bool {
        let (west, south) = self.south_west;
        let (east, north) = self.post(self.columns as f64, self.rows as f64);
        self.spacing.0.max(self.spacing.1) <= WIDEST_DEGREES
            && west >= -361.0
            && east <= 361.0
            && south >= -91.0
            && north <= 91.0
    }
}

/// Posts by column from the west and row from the *south*.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Window {
    pub(super) columns: Range<u64>,
    pub(super) rows: Range<u64>,
}

impl Window {
    /// How many posts; at most what a checked header promises.
    pub(super) fn posts(&self) -> u64 {
        (self.columns.end - self.columns.start) * (self.rows.end - self.rows.start)
    }
}
