//! What does a hand on the plan do? It picks things up, moves them, sets new ones down, draws outlines and measures.

use crate::site::{Access, Block, Ground, PicturePoint, PlanPoint, Site, SnapReason, Stance, Underlay, moved, snapped};
use crate::viewer::state::desk::{Picked, SiteChange};

/// What the hand holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Held {
    /// Nothing: it picks things up.
    Nothing,
    /// A new block of a shape of the palette, by its number.
    Shape(usize),
    /// A ground of this access, to be drawn corner by corner.
    Ground(Access),
    /// A line, to be drawn corner by corner.
    Line(DrawnLine),
    /// The dividers, to measure with.
    Dividers,
    /// A mark for a point on the picture from above.
    PictureMark,
}

/// What a line that is drawn becomes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum DrawnLine {
    /// A path: open ground along it.
    Path,
    /// A kerb: a low wall along it.
    Kerb,
    /// A line of equal height.
    Contour,
}

/// What is being dragged.
#[derive(Clone, Debug)]
pub(super) struct Drag {
    pub(super) what: Dragged,
    /// Where the hand took hold.
    pub(super) from: PlanPoint,
    /// How far it has come, after snapping.
    pub(super) by: PlanPoint,
    /// Why it came just there.
    pub(super) reasons: Vec<SnapReason>,
}

/// What a hand has hold of, as it was before.
#[derive(Clone, Debug)]
pub(super) enum Dragged {
    /// Blocks, the first one the one that was taken hold of.
    Blocks(Vec<(usize, Block)>),
    /// A corner of a ground.
    Corner { ground: usize, corner: usize, before: Ground },
    /// A whole ground.
    Ground(usize, Ground),
    /// A saved stance.
    Stance(usize, Box<Stance>),
    /// A point on the picture from above, by its number among those that are marked.
    PictureMark { mark: usize, pixels: Vec<PicturePoint>, before: Underlay },
}

impl Dragged {
    /// What hangs on the chosen things when one of them is taken hold of.
    pub(super) fn of(picked: Picked, chosen: &[Picked], site: &Site) -> Option<Self> {
        Some(match picked {
            Picked::Block(index) => {
                let others = chosen.iter().filter_map(|other| match other {
                    Picked::Block(other) if *other != index && chosen.contains(&picked) => Some(*other),
                    Picked::Block(_) | Picked::Ground(_) | Picked::Stance(_) => None,
                });
                let block = |index: usize| site.blocks.get(index).map(|block| (index, block.clone()));
                Self::Blocks(std::iter::once(index).chain(others).filter_map(block).collect())
            }
            Picked::Ground(index) => Self::Ground(index, site.grounds.get(index)?.clone()),
            Picked::Stance(index) => Self::Stance(index, Box::new(site.stances.get(index)?.clone())),
        })
    }

    /// What it comes to when it is moved so far.
    pub(super) fn moved(&self, by: PlanPoint) -> SiteChange {
        let along = |at: PlanPoint| rounded((at.0 + by.0, at.1 + by.1));
        match self {
            Self::Blocks(blocks) => {
                SiteChange::SetBlocks(blocks.iter().map(|(index, block)| (*index, moved(block, by))).collect())
            }
            Self::Corner { ground, corner, before } => {
                let mut after = before.clone();
                if let Some(at) = after.outline.get_mut(*corner) {
                    *at = along(*at);
                }
                SiteChange::SetGround(*ground, after)
            }
            Self::Ground(index, before) => {
                let outline = before.outline.iter().map(|corner| along(*corner)).collect();
                SiteChange::SetGround(*index, Ground { outline, ..before.clone() })
            }
            Self::Stance(index, before) => {
                SiteChange::SetStance(*index, Box::new(Stance { at: along(before.at), ..Stance::clone(before) }))
            }
            Self::PictureMark { mark, pixels, before } => {
                SiteChange::SetUnderlay(Some(moved_by_mark(before, *mark, pixels, by)))
            }
        }
    }
}

/// The picture when one of its points is moved: the other one stays, and where there is none the picture moves as it is.
fn moved_by_mark(before: &Underlay, mark: usize, pixels: &[PicturePoint], by: PlanPoint) -> Underlay {
    let places = pixels.iter().enumerate().map(|(index, pixel)| {
        let (x, y) = before.plan_of_pixel(*pixel);
        (*pixel, if index == mark { rounded((x + by.0, y + by.1)) } else { (x, y) })
    });
    let after = match pixels {
        [_] => Ok(Underlay { at: (before.at.0 + by.0, before.at.1 + by.1), ..before.clone() }),
        _ => before.laid_by_points(&places.collect::<Vec<_>>()),
    };
    // A point on top of the other one lays nothing: the picture waits for the hand to go on.
    after.map_or_else(|_| before.clone(), Underlay::rounded)
}

/// To the millimetre, as a hand can tell and a file should read.
pub(super) fn rounded((x, y): PlanPoint) -> PlanPoint {
    ((x * 1000.0).round() / 1000.0, (y * 1000.0).round() / 1000.0)
}

impl Drag {
    /// The hand has come to a place. `corners` are those of what it holds, before it was moved; `others` what it may be in line
    /// with.
    pub(super) fn follow(
        &mut self,
        hand: PlanPoint,
        corners: &[PlanPoint],
        others: &[Vec<PlanPoint>],
        grid_m: f64,
        reach_m: f64,
    ) {
        let by = (hand.0 - self.from.0, hand.1 - self.from.1);
        let now: Vec<PlanPoint> = corners.iter().map(|corner| (corner.0 + by.0, corner.1 + by.1)).collect();
        let snap = snapped(&now, others, 0.0, reach_m);
        if snap.reasons.is_empty() {
            // The way that it has come is rounded, not the place: a thing off the grid keeps its odd centimetres.
            let step = |value: f64| if grid_m > 0.0 { (value / grid_m).round() * grid_m } else { value };
            self.by = rounded((step(by.0), step(by.1)));
        } else {
            self.by = (by.0 + snap.by.0, by.1 + snap.by.1);
        }
        self.reasons = snap.reasons;
    }
}
