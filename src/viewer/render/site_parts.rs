//! What do the meshes of a site have in common: which blocks lie in one mesh, and which cast shadows?

use std::collections::BTreeMap;

use bevy::prelude::*;

use crate::pose::WorldPoint;
use crate::site::Model;

/// The layer of what casts shadows.
pub(in crate::viewer) const CASTERS: usize = 1;
/// As many blocks as are drawn at one stroke, about: what is all out of the frame costs nothing.
const TOGETHER: usize = 250;

/// A mesh that goes when the site goes.
#[derive(Component)]
pub(in crate::viewer) struct SitePart;

/// Whether the picture is about something else than this block.
pub(in crate::viewer) fn is_quiet(model: &Model, block: usize) -> bool {
    model.subject().next().is_some() && !model.site.blocks.get(block).is_some_and(|block| block.subject)
}

/// The blocks by where they stand, in cells of a net over the site, each in the order of the file.
pub(in crate::viewer) fn groups(model: &Model) -> Vec<Vec<usize>> {
    let middles: Vec<WorldPoint> = model
        .solids
        .iter()
        .map(|solid| {
            let (low, high) = solid.bounds();
            nalgebra::center(&low, &high)
        })
        .collect();
    let Some((low, high)) = middles.iter().map(|at| (*at, *at)).reduce(|a, b| (a.0.inf(&b.0), a.1.sup(&b.1))) else {
        return Vec::new();
    };
    let cells = (middles.len() as f64 / TOGETHER as f64).sqrt().ceil().max(1.0);
    let cell =
        |value: f64, low: f64, high: f64| ((value - low) / (high - low).max(1.0) * cells).min(cells - 1.0) as usize;
    let mut groups: BTreeMap<(usize, usize), Vec<usize>> = BTreeMap::new();
    for (index, at) in middles.iter().enumerate() {
        groups.entry((cell(at.x, low.x, high.x), cell(at.y, low.y, high.y))).or_default().push(index);
    }
    groups.into_values().collect()
}
