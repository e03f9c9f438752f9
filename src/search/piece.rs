//! What did one piece of a search find?

use crate::site::PlanPoint;

use super::counts::Counts;
use super::kinds::Kinds;
use super::openings::OpeningTable;
use super::place_result::{ParetoFront, PlaceResult};

/// What was found in one piece of a search; pieces put together give the same answer as the whole.
#[derive(Clone, Debug)]
pub struct Piece {
    pub(super) piece: usize,
    pub(super) pieces: usize,
    pub(super) tiles: Vec<Vec<PlaceResult>>,
    /// Decks too small to hold a place of the lattice; in the last piece.
    pub(super) extras: Vec<(PlanPoint, PlaceResult)>,
    pub(super) counts: Counts,
    pub(super) front: ParetoFront,
    pub(super) kinds: Kinds,
    /// What would open its places, if none of them meets every requirement.
    pub(super) openings: Option<OpeningTable>,
}

impl Piece {
    /// Which piece it is, counted from 1.
    pub fn number(&self) -> usize {
        self.piece
    }

    /// Of how many.
    pub fn of(&self) -> usize {
        self.pieces
    }
}
