//! Where on the site can one stand?

use serde::{Deserialize, Serialize};

use crate::outline::Subject;
use crate::pose::WorldPoint;
use crate::site::{Access, DeckTop, Model, PlanPoint, Support, outline_holds};

use super::criteria::{Criteria, CriteriaError, MOST_CANDIDATES, MOST_PLACES};

/// The feet must be free of blocks from so high above what they stand on.
const FEET_M: f64 = 0.1;

/// The places in rows and columns. Their middles lie at odd multiples of half the spacing, the same whichever way the
/// site is mirrored or turned by a quarter.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Lattice {
    /// The first column, as a multiple of the spacing.
    pub first_column: i64,
    /// The first row, as a multiple of the spacing.
    pub first_row: i64,
    /// Columns from west to east.
    pub columns: u32,
    /// Rows from south to north.
    pub rows: u32,
    /// From one place to the next.
    pub spacing_m: f64,
}

impl Lattice {
    /// The places of some requirements.
    ///
    /// # Errors
    /// More than can be kept or looked at in `pieces` runs.
    pub fn of(criteria: &Criteria, subject: &Subject, pieces: usize) -> Result<Self, CriteriaError> {
        let reach_m = criteria.distance_m.1;
        let [south_west, north_east] = criteria.area.unwrap_or_else(|| {
            let first = subject.corners.first().copied().unwrap_or(subject.middle);
            let (low, high) = subject.corners.iter().fold((first, first), |(low, high), c| (low.inf(c), high.sup(c)));
            [(low.x - reach_m, low.y - reach_m), (high.x + reach_m, high.y + reach_m)]
        });
        let spacing_m = criteria.spacing_m;
        let along = |from: f64, to: f64| ((from / spacing_m + 1e-9).floor(), (to / spacing_m - 1e-9).ceil());
        let (columns, rows) = (along(south_west.0, north_east.0), along(south_west.1, north_east.1));
        let (wide, deep) = (columns.1 - columns.0, rows.1 - rows.0);
        let places = wide * deep / pieces as f64;
        if places > MOST_PLACES {
            return Err(CriteriaError::TooManyPlaces {
                places: wide * deep,
                spacing_m,
                width_m: north_east.0 - south_west.0,
                depth_m: north_east.1 - south_west.1,
                enough_m: (spacing_m * (places / MOST_PLACES).sqrt() * 1.01 * 100.0).ceil() / 100.0,
            });
        }
        let rungs = criteria.lowest.map_or(0, |rungs| rungs.count());
        let each = (criteria.heights_m.len() + rungs) * criteria.lenses.len() * criteria.aims.len();
        let candidates = places * each as f64;
        if candidates > MOST_CANDIDATES {
            return Err(CriteriaError::TooManyCandidates { places, each, candidates });
        }
        Ok(Self {
            first_column: columns.0 as i64,
            first_row: rows.0 as i64,
            columns: wide as u32,
            rows: deep as u32,
            spacing_m,
        })
    }

    /// How many places there are.
    pub fn len(&self) -> usize {
        self.columns as usize * self.rows as usize
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The middle of a place.
    pub fn at(&self, column: u32, row: u32) -> PlanPoint {
        let middle = |first: i64, index: u32| ((first + i64::from(index)) as f64 + 0.5) * self.spacing_m;
        (middle(self.first_column, column), middle(self.first_row, row))
    }

    /// The south-west corner of the first place.
    pub fn corner(&self) -> PlanPoint {
        (self.first_column as f64 * self.spacing_m, self.first_row as f64 * self.spacing_m)
    }
}

/// Something to stand on at a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Stand {
    pub(super) support: Support,
    pub(super) feet_m: f64,
    pub(super) access: Access,
    /// Whether the deck must be named, because one could also stand beneath it.
    pub(super) named: bool,
}

/// A rectangle of the plan, and what of the site lies about it.
#[derive(Debug)]
pub(super) struct Plot<'a> {
    model: &'a Model,
    decks: Vec<usize>,
    /// Grounds, the last one first: it lies on top.
    grounds: Vec<usize>,
    /// Blocks whose plan box reaches in.
    blocks: Vec<usize>,
}

impl<'a> Plot<'a> {
    pub(super) fn of(model: &'a Model, low: PlanPoint, high: PlanPoint) -> Self {
        let decks = (0..model.decks.len()).filter(|&deck| !apart(&model.decks[deck].outline, low, high)).collect();
        let grounds = &model.site.grounds;
        let grounds = (0..grounds.len()).rev().filter(|&ground| !apart(&grounds[ground].outline, low, high)).collect();
        let blocks = (0..model.solids.len())
            .filter(|&block| {
                let (bottom, top) = model.solids[block].bounds();
                bottom.x <= high.0 && top.x >= low.0 && bottom.y <= high.1 && top.y >= low.1
            })
            .collect();
        Self { model, decks, grounds, blocks }
    }

    /// Everything that can be stood on at a plan position: first what one stands on unless the stance says otherwise.
    pub(super) fn stands(&self, at: PlanPoint, stands: &mut Vec<Stand>) {
        stands.clear();
        let holds =
            |deck: &DeckTop| outline_holds(&deck.outline, at) && !deck.holes.iter().any(|hole| outline_holds(hole, at));
        let on_deck = |index: usize, named: bool| {
            let deck = &self.model.decks[index];
            Stand { support: Support::Deck(index), feet_m: deck.height_m, access: deck.access, named }
        };
        let solid = self
            .decks
            .iter()
            .copied()
            .filter(|&index| !self.model.decks[index].open_below && holds(&self.model.decks[index]))
            .max_by(|&a, &b| self.model.decks[a].height_m.total_cmp(&self.model.decks[b].height_m));
        stands.push(match solid {
            Some(index) => on_deck(index, false),
            None => {
                let ground = self.grounds.iter().map(|&index| &self.model.site.grounds[index]);
                let ground = ground.into_iter().find(|ground| outline_holds(&ground.outline, at));
                let access = ground.map_or(Access::Open, |ground| ground.access);
                let ground_m = self.model.site.terrain.height_m(at);
                match self.model.site.water_level_m.filter(|&water_m| water_m > ground_m) {
                    Some(water_m) => Stand { support: Support::Water, feet_m: water_m, access, named: false },
                    None => Stand { support: Support::Ground, feet_m: ground_m, access, named: false },
                }
            }
        });
        // Of one block's floors over this place the highest is meant by its name.
        for &index in &self.decks {
            let deck = &self.model.decks[index];
            let topmost = |&other: &usize| {
                let other_deck = &self.model.decks[other];
                other_deck.block == deck.block && holds(other_deck) && other_deck.height_m > deck.height_m
            };
            if deck.open_below && holds(deck) && !self.decks.iter().any(topmost) {
                stands.push(on_deck(index, true));
            }
        }
    }

    /// Whether a person could hold a camera at a height above the feet, free of blocks at both ends; `feet_clear` keeps what
    /// is the same for every height.
    pub(super) fn is_clear(&self, at: PlanPoint, feet_m: f64, height_m: f64, feet_clear: &mut Option<bool>) -> bool {
        let free = |z: f64| {
            let point = WorldPoint::new(at.0, at.1, z);
            !self.blocks.iter().any(|&block| self.model.solids[block].holds(&point))
        };
        let feet = if height_m < FEET_M { true } else { *feet_clear.get_or_insert_with(|| free(feet_m + FEET_M)) };
        feet && free(feet_m + height_m)
    }
}

/// Whether an outline surely lies outside a rectangle.
fn apart(outline: &[PlanPoint], low: PlanPoint, high: PlanPoint) -> bool {
    let (mut west, mut south, mut east, mut north) =
        (f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY);
    for &(x, y) in outline {
        (west, south, east, north) = (west.min(x), south.min(y), east.max(x), north.max(y));
    }
    west > high.0 || east < low.0 || south > high.1 || north < low.1
}

/// The lowest and highest that feet may stand within a rectangle, given the same of the bare ground.
pub(super) fn feet_m(model: &Model, low: PlanPoint, high: PlanPoint, ground_m: (f64, f64)) -> (f64, f64) {
    let decks = model.decks.iter().filter(|deck| !apart(&deck.outline, low, high));
    let (lowest, highest) =
        decks.fold(ground_m, |(lowest, highest), deck| (lowest.min(deck.height_m), highest.max(deck.height_m)));
    (lowest, model.site.water_level_m.map_or(highest, |water_m| highest.max(water_m)))
}
