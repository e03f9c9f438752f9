//! Which blocks may hold a point, without asking all of them? A net of cells over the plan, each with the blocks that reach
//! into it.

use std::sync::Arc;

use super::{PlanPoint, Solid};

/// As many blocks as belong to a cell, about.
const TOGETHER: f64 = 2.0;
/// The most cells along a side.
const MOST_ALONG: usize = 1000;

/// Blocks by where they stand.
#[derive(Clone, Debug, Default)]
pub(super) struct BlockIndex {
    low: PlanPoint,
    size: PlanPoint,
    along: usize,
    /// Row by row from the south-west, each in the order of the blocks.
    cells: Vec<Vec<u32>>,
}

impl BlockIndex {
    pub(super) fn of(solids: &[Arc<Solid>]) -> Self {
        let boxes: Vec<_> = solids.iter().map(|solid| solid.bounds()).collect();
        let filled = || boxes.iter().filter(|(low, high)| low.x <= high.x);
        let Some((low, high)) = filled().copied().reduce(|a, b| (a.0.inf(&b.0), a.1.sup(&b.1))) else {
            return Self::default();
        };
        let along = ((boxes.len() as f64 / TOGETHER).sqrt().ceil() as usize).clamp(1, MOST_ALONG);
        let mut index = Self {
            low: (low.x, low.y),
            size: ((high.x - low.x).max(1e-9), (high.y - low.y).max(1e-9)),
            along,
            cells: vec![Vec::new(); along * along],
        };
        for (number, (low, high)) in boxes.iter().enumerate().filter(|(_, (low, high))| low.x <= high.x) {
            let ((west, south), (east, north)) = (index.cell((low.x, low.y)), index.cell((high.x, high.y)));
            for row in south..=north {
                for column in west..=east {
                    index.cells[row * along + column].push(number as u32);
                }
            }
        }
        index
    }

    /// The blocks that may reach over a plan point, in order.
    pub(super) fn about(&self, at: PlanPoint) -> &[u32] {
        let (east, north) = (at.0 - self.low.0, at.1 - self.low.1);
        if self.cells.is_empty() || !(0.0..=self.size.0).contains(&east) || !(0.0..=self.size.1).contains(&north) {
            return &[];
        }
        let (column, row) = self.cell(at);
        &self.cells[row * self.along + column]
    }

    fn cell(&self, at: PlanPoint) -> (usize, usize) {
        let place =
            |value: f64, low: f64, size: f64| (((value - low) / size * self.along as f64) as usize).min(self.along - 1);
        (place(at.0, self.low.0, self.size.0), place(at.1, self.low.1, self.size.1))
    }
}
