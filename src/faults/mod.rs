//! What on a site is probably not as meant, though its file is sound?
//!
//! Blocks that float or lie in the ground, blocks that stand in one another, decks that nobody can reach, no subject, a
//! subject without height, no front. Each with its place and size, a sentence, and a mend where there is one.

mod bodies;
mod decks;
mod fault;
mod overlaps;
mod standing;
#[cfg(test)]
mod tests;

use crate::angle::Angle;
use crate::outline::walls;
use crate::site::{Block, Front, Model};

use self::bodies::{Body, TOUCHING_M, neighbours};

pub use fault::{FaultKind, Mend, MendEdit, SiteFault};

/// A subject that rises less above the ground has no verticals to judge (common practice, no source).
const LOWEST_SUBJECT_M: f64 = 0.5;

/// Everything on a site that is probably not as meant: first what is about the subject, then block by block.
///
/// # Example
/// ```
/// use plumbsight::faults::{FaultKind, faults};
/// use plumbsight::site::{Model, SiteEditor};
/// let text = "(format: 1, name: \"yard\", front: Any, blocks: [(name: \"hut\", subject: true, at: (0, 0), lift_m: 2,
///     shape: Box(width_m: 3, depth_m: 3, height_m: 4))])";
/// let mut editor = SiteEditor::new(text, "yard.site.ron").unwrap();
/// let found = faults(&Model::build(editor.site().clone()));
/// assert_eq!(found[0].kind, FaultKind::Floats { by_m: 2.0 });
/// found[0].mend.as_ref().unwrap().make(&mut editor).unwrap();
/// assert_eq!(editor.text(), text.replace(" lift_m: 2,", ""));
/// assert!(faults(&Model::build(editor.site().clone())).is_empty());
/// ```
pub fn faults(model: &Model) -> Vec<SiteFault> {
    let bodies: Vec<Body> = (0..model.site.blocks.len()).map(|index| Body::of(model, index)).collect();
    let near = neighbours(&bodies, TOUCHING_M);
    let mut found: Vec<SiteFault> = about_subject(model).into_iter().chain(no_front(model)).collect();
    let mut by_block = standing::standing(model, &bodies, &near);
    by_block.extend(overlaps::overlaps(model, &bodies, &near));
    by_block.extend(decks::unreachable(model));
    by_block.sort_by(|a, b| a.blocks.cmp(&b.blocks));
    found.extend(by_block);
    found
}

fn rise_m(model: &Model, block: usize) -> f64 {
    let (low, high) = model.solids[block].bounds();
    let at = (0.5 * (low.x + high.x), 0.5 * (low.y + high.y));
    high.z - model.site.terrain.height_m(at)
}

fn about_subject(model: &Model) -> Option<SiteFault> {
    let tallest = |blocks: &mut dyn Iterator<Item = usize>| {
        blocks.max_by(|&a, &b| rise_m(model, a).total_cmp(&rise_m(model, b)).then(b.cmp(&a)))
    };
    let place = |block: usize| Some(model.site.blocks[block].at);
    let Some(subject) = tallest(&mut model.subject()) else {
        let tallest = tallest(&mut (0..model.site.blocks.len()));
        let mend = tallest.map(|index| {
            let subject = Block { subject: true, ..model.site.blocks[index].clone() };
            Mend { label: "Make it the subject", edits: vec![MendEdit::Block(index, Box::new(subject))] }
        });
        let blocks = tallest.into_iter().collect();
        return Some(SiteFault { kind: FaultKind::NoSubject, blocks, at: tallest.and_then(place), mend });
    };
    let height_m = rise_m(model, subject);
    (height_m < LOWEST_SUBJECT_M).then(|| SiteFault {
        kind: FaultKind::FlatSubject { height_m },
        blocks: vec![subject],
        at: place(subject),
        mend: None,
    })
}

/// Nothing is said of a subject without flat walls.
fn no_front(model: &Model) -> Option<SiteFault> {
    if model.site.front.is_some() {
        return None;
    }
    let walls = model.subject().flat_map(|block| walls(model, block));
    let largest = walls.reduce(|a, b| if b.area_m2 > a.area_m2 * (1.0 + 1e-9) { b } else { a })?;
    let toward_deg = Angle::bearing_of(largest.normal.x, largest.normal.y).compass_degrees().round() % 360.0;
    Some(SiteFault {
        kind: FaultKind::NoFront { toward_deg },
        blocks: vec![largest.block],
        at: Some((largest.middle.x, largest.middle.y)),
        mend: Some(Mend { label: "Name the front", edits: vec![MendEdit::Front(Front::Bearing(toward_deg))] }),
    })
}
