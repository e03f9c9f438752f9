//! How is a site file changed without losing what the person wrote in it?
//!
//! Only the bytes of the value itself are replaced, or a new field or item is put in beside the others; comments, blanks
//! and the order of everything else stay. What comes out is read and checked: an edit that would make the file faulty is
//! refused, and nothing is changed.

mod change;
mod entries;
mod merge;
#[cfg(test)]
mod random_edits;
mod rewrite;

use std::path::Path;

use thiserror::Error;

use crate::files::{self, FileError, FileKind};
use crate::optics::Kit;

use self::entries::{Entries, Piece, Splice, line_break, spliced};
use self::rewrite::{Plain, rewritten};
use super::check::likely;
use super::file::{LoadedSite, read_text_with, read_unchecked, site_hash, walk};
use super::problem::SiteProblems;
use super::read::SITE_FIELDS;
use super::value_tree::{Value, short};
use super::{Anchor, Block, Front, Ground, Site, Stance, Terrain, Underlay};

pub use change::{ChangeMisfit, TextChange};
pub use merge::{Conflict, Overlap, merge_outside};

/// A change that cannot be made.
#[derive(Debug, Error)]
pub enum EditError {
    /// No block has that name.
    #[error("no block is called '{name}'{}", if likely.is_empty() { String::new() } else { format!("; {likely}") })]
    NoBlock {
        /// What was asked for.
        name: String,
        /// What was probably meant, as a question.
        likely: String,
    },
    /// There are not as many items as that.
    #[error("there is no {what} number {index}, counted from 0: the site has {count}")]
    NoItem {
        /// "block", "ground" or "stance".
        what: &'static str,
        /// What was asked for.
        index: usize,
        /// How many there are.
        count: usize,
    },
    /// A change was made to another text.
    #[error(transparent)]
    Misfit(#[from] ChangeMisfit),
    /// The file has faults, or would have after the change.
    #[error(transparent)]
    Problems(#[from] SiteProblems),
    /// The file cannot be read or written.
    #[error(transparent)]
    File(#[from] FileError),
}

/// One of the lists of a site.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SiteList {
    /// The blocks.
    Blocks,
    /// The grounds; a later one lies over an earlier one.
    Grounds,
    /// The saved stances.
    Stances,
}

impl SiteList {
    /// What one of them is called: "block", "ground", "stance".
    pub const fn item(self) -> &'static str {
        match self {
            Self::Blocks => "block",
            Self::Grounds => "ground",
            Self::Stances => "stance",
        }
    }

    const fn field(self) -> &'static str {
        match self {
            Self::Blocks => "blocks",
            Self::Grounds => "grounds",
            Self::Stances => "stances",
        }
    }

    fn count(self, site: &Site) -> usize {
        match self {
            Self::Blocks => site.blocks.len(),
            Self::Grounds => site.grounds.len(),
            Self::Stances => site.stances.len(),
        }
    }
}

/// The text of a site file while it is changed, and the site that it reads to.
///
/// Each change is given back, so that it can be taken back: its [`TextChange::inverse`] goes through
/// [`SiteEditor::apply`].
///
/// # Example
/// ```
/// use plumbsight::site::SiteEditor;
/// let text = "Site(format: 1, name: \"lane\", blocks: [\n    // the old one\n    (name: \"house\", at: (0, 0), \
///             shape: Box(width_m: 8, depth_m: 6, height_m: 7)),\n])";
/// let mut editor = SiteEditor::new(text, "lane.site.ron").unwrap();
/// let mut house = editor.site().blocks[0].clone();
/// (house.subject, house.at) = (true, (2.0, 0.0));
/// let change = editor.set_block(0, &house).unwrap();
/// assert!(editor.text().contains("// the old one\n    (name: \"house\", subject: true, at: (2, 0), shape"));
/// editor.apply(&change.inverse()).unwrap();
/// assert_eq!(editor.text(), text);
/// ```
#[derive(Clone, Debug)]
pub struct SiteEditor {
    /// As it was taken up, or saved last.
    read: String,
    text: String,
    /// What the text reads to.
    site: Site,
    file_name: String,
    own: Option<Kit>,
    /// Whether checking is left to the end of several edits.
    together: bool,
}

impl SiteEditor {
    /// Takes up the text of a site; `file_name` is what problems call it.
    ///
    /// # Errors
    /// Everything that is wrong with it: a file with faults is not changed.
    pub fn new(text: &str, file_name: &str) -> Result<Self, SiteProblems> {
        Self::with_kit(text, file_name, None)
    }

    /// As [`SiteEditor::new`], for a person whose `own` kit the site's stances may name.
    ///
    /// # Errors
    /// As [`SiteEditor::new`].
    pub fn with_kit(text: &str, file_name: &str, own: Option<&Kit>) -> Result<Self, SiteProblems> {
        let site = checked(text, file_name, own)?;
        let (text, own) = (text.to_owned(), own.cloned());
        Ok(Self { read: text.clone(), text, site, file_name: file_name.to_owned(), own, together: false })
    }

    /// The text as it is now.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// What the text reads to.
    pub const fn site(&self) -> &Site {
        &self.site
    }

    /// Whether it has changed since it was taken up or saved.
    pub fn is_changed(&self) -> bool {
        self.text != self.read
    }

    /// The number of the block of this name.
    ///
    /// # Errors
    /// No block has that name; what was probably meant is said.
    pub fn block_named(&self, name: &str) -> Result<usize, EditError> {
        let names = || self.site.blocks.iter().map(|block| block.name.as_str());
        names()
            .position(|known| known == name)
            .ok_or_else(|| EditError::NoBlock { name: short(name), likely: likely(name, names()) })
    }

    /// Makes a block read as this one, of which only what differs is written. A field at its default is not written.
    ///
    /// A new name is also given to what names the block: stances on its deck, and the front.
    ///
    /// # Errors
    /// There is no such block, or the file would have a fault.
    pub fn set_block(&mut self, index: usize, block: &Block) -> Result<TextChange, EditError> {
        let known = self.known(SiteList::Blocks, index, |site| &site.blocks)?;
        let (before, after) = (Plain::of(&known), Plain::of(block));
        if known.name == block.name {
            return self.set_item(SiteList::Blocks, index, &before, &after);
        }
        self.together(|editor| {
            editor.set_item(SiteList::Blocks, index, &before, &after)?;
            for index in 0..editor.site.stances.len() {
                let stance = &editor.site.stances[index];
                // "ground" is the bare ground, whatever a block is called.
                if stance.on.as_ref() == Some(&known.name) && known.name != "ground" {
                    let stance = Stance { on: Some(block.name.clone()), ..stance.clone() };
                    editor.set_stance(index, &stance)?;
                }
            }
            match &editor.site.front {
                Some(Front::Face { block: face, toward_deg }) if *face == known.name => {
                    let front = Front::Face { block: block.name.clone(), toward_deg: *toward_deg };
                    editor.set_front(Some(&front))?;
                }
                _ => {}
            }
            Ok(())
        })
    }

    /// Makes a ground read as this one, of which only what differs is written: one corner where one corner moved.
    ///
    /// # Errors
    /// There is no such ground, or the file would have a fault.
    pub fn set_ground(&mut self, index: usize, ground: &Ground) -> Result<TextChange, EditError> {
        let known = self.known(SiteList::Grounds, index, |site| &site.grounds)?;
        self.set_item(SiteList::Grounds, index, &Plain::of(&known), &Plain::of(ground))
    }

    /// Makes a stance read as this one, of which only what differs is written. A setting at its default is not written.
    ///
    /// # Errors
    /// There is no such stance, or the file would have a fault.
    pub fn set_stance(&mut self, index: usize, stance: &Stance) -> Result<TextChange, EditError> {
        let known = self.known(SiteList::Stances, index, |site| &site.stances)?;
        self.set_item(SiteList::Stances, index, &Plain::of_stance(&known), &Plain::of_stance(stance))
    }

    /// Makes everything but the lists of blocks, grounds and stances read as in this site.
    ///
    /// # Errors
    /// The file would have a fault.
    pub fn set_head(&mut self, site: &Site) -> Result<TextChange, EditError> {
        let (before, after) = (Plain::of(&head_of(&self.site)), Plain::of(&head_of(site)));
        let text = rewritten(&self.text, |text| walk(text).root, &before, &after);
        self.commit(text)
    }

    /// Puts another terrain in place of the one there is.
    ///
    /// # Errors
    /// The file would have a fault.
    pub fn set_terrain(&mut self, terrain: &Terrain) -> Result<TextChange, EditError> {
        let site = Site { terrain: terrain.clone(), ..head_of(&self.site) };
        self.set_head(&site)
    }

    /// Puts another anchor in place of the one there is, gives the site one, or takes it away.
    ///
    /// # Errors
    /// The file would have a fault.
    pub fn set_anchor(&mut self, anchor: Option<&Anchor>) -> Result<TextChange, EditError> {
        let site = Site { anchor: anchor.cloned(), ..head_of(&self.site) };
        self.set_head(&site)
    }

    /// Says which side of the subject the picture is of; none leaves it to a guess.
    ///
    /// # Errors
    /// The file would have a fault.
    pub fn set_front(&mut self, front: Option<&Front>) -> Result<TextChange, EditError> {
        let site = Site { front: front.cloned(), ..head_of(&self.site) };
        self.set_head(&site)
    }

    /// Lays another picture under the plan, or none.
    ///
    /// # Errors
    /// The file would have a fault.
    pub fn set_underlay(&mut self, underlay: Option<&Underlay>) -> Result<TextChange, EditError> {
        let site = Site { underlay: underlay.cloned(), ..head_of(&self.site) };
        self.set_head(&site)
    }

    /// Puts blocks in before the one of this number; after the last where there are as many.
    ///
    /// # Errors
    /// There are not so many blocks, or the file would have a fault.
    pub fn insert_blocks(&mut self, at: usize, blocks: &[Block]) -> Result<TextChange, EditError> {
        self.insert(SiteList::Blocks, at, &blocks.iter().map(Plain::of).collect::<Vec<_>>())
    }

    /// Puts grounds in before the one of this number; after the last where there are as many.
    ///
    /// # Errors
    /// There are not so many grounds, or the file would have a fault.
    pub fn insert_grounds(&mut self, at: usize, grounds: &[Ground]) -> Result<TextChange, EditError> {
        self.insert(SiteList::Grounds, at, &grounds.iter().map(Plain::of).collect::<Vec<_>>())
    }

    /// Puts stances in before the one of this number; after the last where there are as many.
    ///
    /// # Errors
    /// There are not so many stances, or the file would have a fault.
    pub fn insert_stances(&mut self, at: usize, stances: &[Stance]) -> Result<TextChange, EditError> {
        self.insert(SiteList::Stances, at, &stances.iter().map(Plain::of_stance).collect::<Vec<_>>())
    }

    /// Removes items, each with its comma and, where it has lines of its own, the comment that ends them. Comments on lines
    /// of their own stay.
    ///
    /// # Errors
    /// There is no such item, or the file would have a fault: a stance stands on the block's deck.
    pub fn remove(&mut self, list: SiteList, indices: &[usize]) -> Result<TextChange, EditError> {
        for &index in indices {
            self.within(list, index)?;
        }
        let splices = self.splices_of(list, |entries| entries.removal(indices));
        self.commit(spliced(&self.text, splices))
    }

    /// Gives an item another place in its list; `to` is its number afterwards. The comment that ends its line goes with it.
    ///
    /// # Errors
    /// There is no such item or place.
    pub fn reorder(&mut self, list: SiteList, from: usize, to: usize) -> Result<TextChange, EditError> {
        self.within(list, from)?;
        self.within(list, to)?;
        let splices = self.splices_of(list, |entries| entries.moving(from, to));
        self.commit(spliced(&self.text, splices))
    }

    /// Several edits as one, of which only the outcome is checked: what they come to between may have faults.
    ///
    /// # Errors
    /// One of them cannot be made, or the file would have a fault; then none is made.
    pub fn together(
        &mut self,
        edits: impl FnOnce(&mut Self) -> Result<(), EditError>,
    ) -> Result<TextChange, EditError> {
        let mut trial = Self { together: true, ..self.clone() };
        edits(&mut trial)?;
        self.commit(trial.text)
    }

    /// Makes a change again, or takes one back.
    ///
    /// # Errors
    /// It was made to another text, or the file would have a fault.
    pub fn apply(&mut self, change: &TextChange) -> Result<TextChange, EditError> {
        let mut text = self.text.clone();
        change.apply(&mut text)?;
        self.commit(text)
    }

    /// Saves the text in place of the one that was taken up or saved last.
    ///
    /// # Errors
    /// The file there is not that one ([`FileError::Changed`]; see [`merge_outside`]), and nothing has been written; or it
    /// cannot be written.
    pub fn save(&mut self, path: &Path) -> Result<LoadedSite, EditError> {
        let (site, warnings) = read_text_with(&self.text, &self.file_name, self.own.as_ref());
        let Some(site) = site else { return Err(warnings.into()) };
        let read = files::is_there(path).then_some(self.read.as_str());
        files::rewrite(path, read, &self.text, FileKind::Site)?;
        self.read.clone_from(&self.text);
        let hash = site_hash(&self.text);
        Ok(LoadedSite { site, path: path.into(), hash, text: self.text.clone(), warnings })
    }

    fn within(&self, list: SiteList, index: usize) -> Result<(), EditError> {
        let count = list.count(&self.site);
        if index < count { Ok(()) } else { Err(EditError::NoItem { what: list.item(), index, count }) }
    }

    fn known<T: Clone>(&self, list: SiteList, index: usize, items: fn(&Site) -> &Vec<T>) -> Result<T, EditError> {
        self.within(list, index)?;
        Ok(items(&self.site)[index].clone())
    }

    fn set_item(
        &mut self,
        list: SiteList,
        index: usize,
        before: &Plain,
        after: &Plain,
    ) -> Result<TextChange, EditError> {
        let find = |text: &str| walk(text).root?.field(list.field(), text)?.value.item(index, text);
        let text = rewritten(&self.text, find, before, after);
        self.commit(text)
    }

    fn insert(&mut self, list: SiteList, at: usize, items: &[Plain]) -> Result<TextChange, EditError> {
        let count = list.count(&self.site);
        if at > count {
            return Err(EditError::NoItem { what: list.item(), index: at, count });
        }
        let text = self.with_list(list);
        let Some(root) = walk(&text).root else { return Ok(TextChange::default()) };
        let Some(field) = root.field(list.field(), &text) else { return Ok(TextChange::default()) };
        let entries = Entries::of(&field.value, &text);
        let layout = entries.layout(at, true);
        let pieces: Vec<Piece> =
            items.iter().map(|item| item.written(layout.indent, line_break(&text)).into()).collect();
        let text = spliced(&text, entries.insertion(at, layout, &pieces));
        self.commit(text)
    }

    /// The text with this list, empty where there was none.
    fn with_list(&self, list: SiteList) -> String {
        let Some(root) = walk(&self.text).root else { return self.text.clone() };
        if root.field(list.field(), &self.text).is_some() {
            return self.text.clone();
        }
        // Behind the last of the fields that stand before it in a file as this program writes one.
        let before = SITE_FIELDS.iter().take_while(|field| **field != list.field());
        let numbers =
            before.filter_map(|known| root.fields().iter().position(|field| field.key.name_in(&self.text) == *known));
        let at = numbers.last().map_or(0, |index| index + 1);
        let entries = Entries::of(&root, &self.text);
        let piece = Piece::from(format!("{}: []", list.field()));
        spliced(&self.text, entries.insertion(at, entries.layout(at, false), &[piece]))
    }

    fn splices_of(&self, list: SiteList, splices: impl FnOnce(&Entries<'_>) -> Vec<Splice>) -> Vec<Splice> {
        let root: Option<Value> = walk(&self.text).root;
        let list = root.as_ref().and_then(|root| root.field(list.field(), &self.text));
        list.map_or_else(Vec::new, |list| splices(&Entries::of(&list.value, &self.text)))
    }

    /// Takes a new text over once it has been read and checked.
    fn commit(&mut self, text: String) -> Result<TextChange, EditError> {
        let change = TextChange::between(&self.text, &text);
        if !change.is_nothing() {
            let unchecked = if self.together { read_unchecked(&text) } else { None };
            self.site = match unchecked {
                Some(site) => site,
                None => checked(&text, &self.file_name, self.own.as_ref())?,
            };
            self.text = text;
        }
        Ok(change)
    }
}

/// The site without its lists.
fn head_of(site: &Site) -> Site {
    let Site { name, anchor, time_zone, terrain, front, underlay, kit, .. } = site;
    Site {
        format: site.format,
        name: name.clone(),
        anchor: anchor.clone(),
        time_zone: time_zone.clone(),
        terrain: terrain.clone(),
        water_level_m: site.water_level_m,
        sun: site.sun,
        front: front.clone(),
        underlay: underlay.clone(),
        blocks: Vec::new(),
        grounds: Vec::new(),
        kit: kit.clone(),
        stances: Vec::new(),
    }
}

fn checked(text: &str, file_name: &str, own: Option<&Kit>) -> Result<Site, SiteProblems> {
    let (site, problems) = read_text_with(text, file_name, own);
    site.ok_or(problems)
}

#[cfg(test)]
mod tests;
