//! What do the meshes of a site have in common: which blocks lie in one mesh, which meshes a change concerns, and which cast
//! shadows?

use std::collections::{BTreeMap, BTreeSet};

use bevy::prelude::*;

use crate::pose::WorldPoint;
use crate::site::Model;

/// The layer of what casts shadows.
pub(in crate::viewer) const CASTERS: usize = 1;
/// As many blocks as are drawn at one stroke, about: what is all out of the frame costs nothing.
const TOGETHER: usize = 250;
/// Where more blocks than these are changed, all meshes are made anew.
const FEW: usize = 64;

/// A cell of the net over the site: its blocks lie in one mesh.
pub(in crate::viewer) type Cell = (usize, usize);

/// A mesh that goes when the site goes, or its cell; what is everywhere lies in none.
#[derive(Component)]
pub(in crate::viewer) struct SitePart(pub(in crate::viewer) Option<Cell>);

/// Whether the picture is about something else than this block.
pub(in crate::viewer) fn is_quiet(model: &Model, block: usize) -> bool {
    model.subject().next().is_some() && !model.site.blocks.get(block).is_some_and(|block| block.subject)
}

/// The blocks by where they stand, in cells of a net over the site, each in the order of the file.
#[derive(Default)]
pub(in crate::viewer) struct SiteGroups {
    low: WorldPoint,
    high: WorldPoint,
    /// Cells along each side.
    along: usize,
    /// Blocks when the net was laid.
    laid: usize,
    pub(in crate::viewer) cells: BTreeMap<Cell, Vec<usize>>,
}

impl SiteGroups {
    /// Lays a net over a site.
    pub(in crate::viewer) fn over(model: &Model) -> Self {
        let Some((low, high)) = middles(model).map(|at| (at, at)).reduce(|a, b| (a.0.inf(&b.0), a.1.sup(&b.1))) else {
            return Self::default();
        };
        let laid = model.solids.len();
        let along = ((laid as f64 / TOGETHER as f64).sqrt().ceil() as usize).max(1);
        let mut groups = Self { low, high, along, laid, cells: BTreeMap::new() };
        groups.fill(model);
        groups
    }

    /// The same net over a site that has changed; another one where there are twice as many blocks, or half as many.
    fn again_over(&self, model: &Model) -> Self {
        let now = model.solids.len();
        if now > 2 * self.laid || 2 * now < self.laid {
            return Self::over(model);
        }
        let mut groups = Self { cells: BTreeMap::new(), ..*self };
        groups.fill(model);
        groups
    }

    fn fill(&mut self, model: &Model) {
        for (index, at) in middles(model).enumerate() {
            let cell = (self.place(at.x, self.low.x, self.high.x), self.place(at.y, self.low.y, self.high.y));
            self.cells.entry(cell).or_default().push(index);
        }
    }

    fn place(&self, value: f64, low: f64, high: f64) -> usize {
        let share = (value - low) / (high - low).max(1.0);
        // What stands beside the net belongs to the cells at its side.
        ((share * self.along as f64).max(0.0) as usize).min(self.along.max(1) - 1)
    }

    /// The groups of a site after a change, and the cells whose meshes it concerns: of the blocks that are not what they were,
    /// and of those that touch or touched one.
    pub(in crate::viewer) fn after(&self, before: &Model, model: &Model) -> (Self, BTreeSet<Cell>) {
        let now = self.again_over(model);
        let all = || now.cells.keys().chain(self.cells.keys()).copied().collect();
        let shared = model.shared_with(before);
        let is_same = |index: usize| {
            shared.get(index) == Some(&Some(index))
                && model.site.blocks[index].finish == before.site.blocks[index].finish
                && is_quiet(model, index) == is_quiet(before, index)
        };
        let changed: Vec<usize> =
            (0..model.solids.len().max(before.solids.len())).filter(|&index| !is_same(index)).collect();
        if now.laid != self.laid || changed.len() > FEW {
            let stale = all();
            return (now, stale);
        }
        let boxes: Vec<(WorldPoint, WorldPoint)> = (changed.iter())
            .flat_map(|&index| [before.solids.get(index), model.solids.get(index)])
            .flatten()
            .map(|solid| solid.bounds())
            .collect();
        let touches = |index: usize| {
            let (low, high) = model.solids[index].bounds();
            boxes.iter().any(|other| (0..3).all(|axis| low[axis] <= other.1[axis] && other.0[axis] <= high[axis]))
        };
        let is_stale = |cell: &Cell| {
            let members = now.cells.get(cell);
            members != self.cells.get(cell)
                || members.into_iter().flatten().any(|&index| !is_same(index) || touches(index))
        };
        let stale = all().into_iter().filter(is_stale).collect();
        (now, stale)
    }
}

fn middles(model: &Model) -> impl Iterator<Item = WorldPoint> + '_ {
    model.solids.iter().map(|solid| {
        let (low, high) = solid.bounds();
        nalgebra::center(&low, &high)
    })
}
