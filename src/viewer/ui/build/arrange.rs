//! What can be done with several blocks at once? Actions that copy, turn and add them.

use crate::site::{Block, Site, moved, named_anew, turned};
use crate::viewer::state::desk::{Action, BuildAction, Picked, SiteChange};

/// The chosen blocks, by their numbers.
pub(super) fn chosen_blocks(chosen: &[Picked]) -> Vec<usize> {
    chosen
        .iter()
        .filter_map(|picked| match *picked {
            Picked::Block(index) => Some(index),
            Picked::Ground(_) | Picked::Stance(_) => None,
        })
        .collect()
}

/// The chosen blocks turned clockwise, each about the first one's origin.
pub(super) fn turned_by(site: &Site, chosen: &[Picked], by_deg: f64) -> Option<Action> {
    let numbers = chosen_blocks(chosen);
    let about = site.blocks.get(*numbers.first()?)?.at;
    let blocks = numbers.iter().filter_map(|index| Some((*index, turned(site.blocks.get(*index)?, about, by_deg))));
    Some(BuildAction::Change(SiteChange::SetBlocks(blocks.collect()), None).into())
}

/// The chosen blocks once more, a little to the east.
pub(super) fn copied(site: &Site, chosen: &[Picked]) -> Option<Action> {
    let numbers = chosen_blocks(chosen);
    let blocks: Vec<_> =
        numbers.iter().filter_map(|index| site.blocks.get(*index)).map(|block| moved(block, (2.0, 0.0))).collect();
    added(site, blocks)
}

/// More blocks, with names of their own, chosen.
pub(super) fn added(site: &Site, blocks: Vec<Block>) -> Option<Action> {
    if blocks.is_empty() {
        return None;
    }
    let blocks = named_anew(blocks, site.blocks.iter().map(|block| block.name.as_str()));
    let from = site.blocks.len();
    let numbers = (from..from + blocks.len()).map(Picked::Block).collect();
    Some(BuildAction::Change(SiteChange::AddBlocks(blocks), Some(numbers)).into())
}
