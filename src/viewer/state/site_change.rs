//! What changes on the site? One change as plain data: tried on a copy of the site while a hand drags, made in its file when
//! the hand lets go.

use crate::bring::Brought;
use crate::site::{
    Anchor, Block, EditError, Front, Ground, Site, SiteEditor, SiteList, Stance, Terrain, TextChange, Underlay,
};

/// One thing of the site that can be picked up, by its number in its list.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Picked {
    /// A block.
    Block(usize),
    /// A ground.
    Ground(usize),
    /// A saved stance.
    Stance(usize),
}

impl Picked {
    /// Whether the site has such a thing.
    pub fn is_on(self, site: &Site) -> bool {
        match self {
            Self::Block(index) => index < site.blocks.len(),
            Self::Ground(index) => index < site.grounds.len(),
            Self::Stance(index) => index < site.stances.len(),
        }
    }
}

/// One change of the site.
#[derive(Clone, Debug, PartialEq)]
pub enum SiteChange {
    /// These blocks read as given, by their numbers.
    SetBlocks(Vec<(usize, Block)>),
    /// More blocks, after those there are.
    AddBlocks(Vec<Block>),
    /// A ground reads as given.
    SetGround(usize, Ground),
    /// Another ground; it lies over the others.
    AddGround(Ground),
    /// A saved stance reads as given.
    SetStance(usize, Box<Stance>),
    /// Another saved stance.
    AddStance(Box<Stance>),
    /// A saved stance gets another place in the list.
    MoveStance {
        /// Its number now.
        from: usize,
        /// Its number afterwards.
        to: usize,
    },
    /// These things go.
    Remove(Vec<Picked>),
    /// Which side of the subject the picture is of.
    SetFront(Option<Front>),
    /// Another bare ground.
    SetTerrain(Terrain),
    /// The level of still water, if there is any.
    SetWater(Option<f64>),
    /// Another picture under the plan, the same laid otherwise, or none.
    SetUnderlay(Option<Underlay>),
    /// What files of footprints or heights held.
    Bring(Box<Brought>),
    /// Where on the Earth it is, and by which zone its clocks go.
    SetPlace(Option<Anchor>, Option<String>),
    /// The site is called otherwise.
    SetName(String),
}

impl SiteChange {
    /// The site as it would be; `None` where it has no such thing.
    pub(super) fn tried_on(&self, site: &Site) -> Option<Site> {
        let mut site = site.clone();
        match self {
            Self::SetBlocks(blocks) => {
                for (index, block) in blocks {
                    *site.blocks.get_mut(*index)? = block.clone();
                }
            }
            Self::AddBlocks(blocks) => site.blocks.extend(blocks.iter().cloned()),
            Self::SetGround(index, ground) => *site.grounds.get_mut(*index)? = ground.clone(),
            Self::AddGround(ground) => site.grounds.push(ground.clone()),
            Self::SetStance(index, stance) => *site.stances.get_mut(*index)? = Stance::clone(stance),
            Self::AddStance(stance) => site.stances.push(Stance::clone(stance)),
            Self::MoveStance { from, to } => {
                if (*from).max(*to) >= site.stances.len() {
                    return None;
                }
                let stance = site.stances.remove(*from);
                site.stances.insert(*to, stance);
            }
            Self::Remove(picked) => {
                let kept = |number: usize, of: fn(usize) -> Picked| !picked.contains(&of(number));
                let mut number = 0..;
                site.blocks.retain(|_| kept(number.next().unwrap_or(0), Picked::Block));
                let mut number = 0..;
                site.grounds.retain(|_| kept(number.next().unwrap_or(0), Picked::Ground));
                let mut number = 0..;
                site.stances.retain(|_| kept(number.next().unwrap_or(0), Picked::Stance));
            }
            Self::SetFront(front) => site.front.clone_from(front),
            Self::SetTerrain(terrain) => site.terrain = terrain.clone(),
            Self::SetWater(level_m) => site.water_level_m = *level_m,
            Self::SetUnderlay(underlay) => site.underlay.clone_from(underlay),
            Self::Bring(brought) => {
                site.anchor = Some(brought.anchor.clone());
                if let Some(terrain) = &brought.terrain {
                    site.terrain = terrain.clone();
                }
                site.blocks.extend(brought.blocks.iter().cloned());
            }
            Self::SetPlace(anchor, zone) => {
                (site.anchor, site.time_zone) = (anchor.clone(), zone.clone());
            }
            Self::SetName(name) => site.name.clone_from(name),
        }
        Some(site)
    }

    /// Makes the change in the site's text.
    ///
    /// # Errors
    /// The site has no such thing, or its file would have a fault.
    pub(super) fn make(&self, editor: &mut SiteEditor) -> Result<TextChange, EditError> {
        match self {
            Self::SetBlocks(blocks) => editor.together(|editor| {
                blocks.iter().try_for_each(|(index, block)| editor.set_block(*index, block).map(drop))
            }),
            Self::AddBlocks(blocks) => editor.insert_blocks(editor.site().blocks.len(), blocks),
            Self::SetGround(index, ground) => editor.set_ground(*index, ground),
            Self::AddGround(ground) => editor.insert_grounds(editor.site().grounds.len(), std::slice::from_ref(ground)),
            Self::SetStance(index, stance) => editor.set_stance(*index, stance),
            Self::AddStance(stance) => {
                editor.insert_stances(editor.site().stances.len(), std::slice::from_ref(stance.as_ref()))
            }
            Self::MoveStance { from, to } => editor.reorder(SiteList::Stances, *from, *to),
            Self::Remove(picked) => editor.together(|editor| {
                let of = |wanted: fn(usize) -> Picked, count: usize| -> Vec<usize> {
                    (0..count).filter(|&number| picked.contains(&wanted(number))).collect()
                };
                let site = editor.site();
                let blocks = of(Picked::Block, site.blocks.len());
                let grounds = of(Picked::Ground, site.grounds.len());
                let stances = of(Picked::Stance, site.stances.len());
                // A front that is a wall of a block goes with it.
                let fronts = |front: &Front| match front {
                    Front::Face { block, .. } => blocks.iter().any(|&number| site.blocks[number].name == *block),
                    Front::Bearing(_) | Front::Any => false,
                };
                if site.front.as_ref().is_some_and(fronts) {
                    editor.set_front(None)?;
                }
                for (list, numbers) in
                    [(SiteList::Blocks, blocks), (SiteList::Grounds, grounds), (SiteList::Stances, stances)]
                {
                    if !numbers.is_empty() {
                        editor.remove(list, &numbers)?;
                    }
                }
                Ok(())
            }),
            Self::SetFront(front) => editor.set_front(front.as_ref()),
            Self::SetTerrain(terrain) => editor.set_terrain(terrain),
            Self::SetWater(level_m) => {
                let site = Site { water_level_m: *level_m, ..editor.site().clone() };
                editor.set_head(&site)
            }
            Self::SetUnderlay(underlay) => editor.set_underlay(underlay.as_ref()),
            Self::Bring(brought) => editor.together(|editor| {
                let terrain = brought.terrain.clone().unwrap_or_else(|| editor.site().terrain.clone());
                let site = Site { anchor: Some(brought.anchor.clone()), terrain, ..editor.site().clone() };
                editor.set_head(&site)?;
                editor.insert_blocks(editor.site().blocks.len(), &brought.blocks).map(drop)
            }),
            Self::SetPlace(anchor, time_zone) => {
                let (anchor, time_zone) = (anchor.clone(), time_zone.clone());
                let site = Site { anchor, time_zone, ..editor.site().clone() };
                editor.set_head(&site)
            }
            Self::SetName(name) => {
                let site = Site { name: name.clone(), ..editor.site().clone() };
                editor.set_head(&site)
            }
        }
    }

    /// What is done, in words for the list of steps; `site` is as it was before.
    pub(super) fn words(&self, site: &Site) -> String {
        match self {
            Self::SetBlocks(blocks) => {
                let verb = match blocks.first() {
                    Some((index, block)) => site.blocks.get(*index).map_or("Changed", |before| verb(before, block)),
                    None => "Changed",
                };
                format!("{verb} {}", named(blocks.iter().map(|(_, block)| block.name.as_str()), "blocks"))
            }
            Self::AddBlocks(blocks) => {
                format!("Added {}", named(blocks.iter().map(|block| block.name.as_str()), "blocks"))
            }
            Self::SetGround(_, ground) => format!("Changed {}", ground.name),
            Self::AddGround(ground) => format!("Drew {}", ground.name),
            Self::SetStance(_, stance) => format!("Changed {}", stance.name),
            Self::AddStance(stance) => format!("Saved {}", stance.name),
            Self::MoveStance { .. } => "Reordered the stances".into(),
            Self::Remove(picked) => {
                let name = |picked: &Picked| match *picked {
                    Picked::Block(number) => site.blocks.get(number).map(|block| block.name.as_str()),
                    Picked::Ground(number) => site.grounds.get(number).map(|ground| ground.name.as_str()),
                    Picked::Stance(number) => site.stances.get(number).map(|stance| stance.name.as_str()),
                };
                format!("Removed {}", named(picked.iter().filter_map(name), "things"))
            }
            Self::SetFront(_) => "Named the front".into(),
            Self::SetTerrain(_) => "Changed the terrain".into(),
            Self::SetWater(Some(_)) => "Set the water level".into(),
            Self::SetWater(None) => "Removed the water".into(),
            Self::SetUnderlay(None) => "Removed the picture".into(),
            Self::SetUnderlay(Some(after)) => match &site.underlay {
                Some(before) if before.file == after.file => {
                    let faded = Underlay { strength: after.strength, ..before.clone() };
                    if *after == faded { "Faded the picture".into() } else { "Moved the picture".into() }
                }
                Some(_) | None => format!("Laid {}", after.file),
            },
            Self::Bring(brought) => match brought.blocks.len() {
                0 => "Brought the ground".into(),
                count => format!("Brought {count} blocks"),
            },
            Self::SetPlace(..) => "Placed it on the Earth".into(),
            Self::SetName(name) => format!("Called it {name}"),
        }
    }
}

/// What became of a block.
fn verb(before: &Block, after: &Block) -> &'static str {
    let moved = Block { at: after.at, lift_m: after.lift_m, base_m: after.base_m, ..before.clone() };
    let turned = Block { at: after.at, heading_deg: after.heading_deg, ..before.clone() };
    let resized = Block { at: after.at, shape: after.shape.clone(), ..before.clone() };
    let renamed = Block { name: after.name.clone(), ..before.clone() };
    match after {
        _ if *after == moved => "Moved",
        _ if *after == turned => "Turned",
        _ if *after == resized => "Resized",
        _ if *after == renamed => "Named",
        _ => "Changed",
    }
}

/// One thing by its name, several by their number.
fn named<'a>(names: impl Iterator<Item = &'a str>, things: &str) -> String {
    let names: Vec<&str> = names.collect();
    match names.as_slice() {
        [name] => (*name).to_owned(),
        several => format!("{} {things}", several.len()),
    }
}
