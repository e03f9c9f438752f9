//! What can be done with several blocks at once? Actions that copy, turn and add them.

use crate::site::{Block, Site, free_name, kept_together, moved, named_anew, turned};
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

/// Whether the chosen blocks, and no others, are kept together.
pub(super) fn is_kept_together(site: &Site, numbers: &[usize]) -> bool {
    let Some(first) = numbers.first() else { return false };
    let mut all = kept_together(&site.blocks, *first);
    let mut chosen = numbers.to_vec();
    all.sort_unstable();
    chosen.sort_unstable();
    all.len() > 1 && all == chosen
}

/// The chosen blocks kept together from now on, or each by itself again.
pub(super) fn keep_together(site: &Site, numbers: &[usize], together: bool) -> Option<Action> {
    let first = site.blocks.get(*numbers.first()?)?;
    let taken = |name: &str| site.blocks.iter().any(|block| block.together.as_deref() == Some(name));
    let name = together.then(|| free_name(&first.name, taken));
    let blocks = numbers
        .iter()
        .filter_map(|index| Some((*index, Block { together: name.clone(), ..site.blocks.get(*index)?.clone() })));
    Some(BuildAction::Change(SiteChange::SetBlocks(blocks.collect()), None).into())
}

/// What a press on a thing chooses: with a block all that is kept together with it; pressed once more, it alone.
pub(super) fn chosen_by_press(site: &Site, picked: Picked, chosen: &[Picked]) -> Vec<Picked> {
    let Picked::Block(index) = picked else { return vec![picked] };
    let all: Vec<Picked> = kept_together(&site.blocks, index).into_iter().map(Picked::Block).collect();
    let is_chosen = chosen.len() == all.len() && all.iter().all(|one| chosen.contains(one));
    if is_chosen { vec![picked] } else { all }
}

/// More blocks, with names of their own, chosen.
pub(super) fn added(site: &Site, blocks: Vec<Block>) -> Option<Action> {
    if blocks.is_empty() {
        return None;
    }
    let blocks = named_anew(blocks, &site.blocks);
    let from = site.blocks.len();
    let numbers = (from..from + blocks.len()).map(Picked::Block).collect();
    Some(BuildAction::Change(SiteChange::AddBlocks(blocks), Some(numbers)).into())
}
