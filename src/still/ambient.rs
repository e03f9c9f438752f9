//! What is known of the light from the sky at the corners of a tile, so that its neighbour need not ask again?

use super::materials::Piece;
use super::rays::TILE_PX;
use super::tones::Light;

/// The ambient light at the corners of a tile, piece by piece.
#[derive(Default)]
pub(super) struct AmbientAtHand {
    tile: Option<(u32, u32)>,
    pub(super) corners: Vec<(Piece, [Light; 4])>,
    pub(super) before: Vec<(Piece, [Light; 4])>,
}

impl AmbientAtHand {
    /// Begins a tile; what is known of the corners that it shares with the one on its left is kept.
    pub(super) fn begin(&mut self, tile: (u32, u32)) {
        let next = self.tile.is_some_and(|(left, top)| (left + TILE_PX, top) == tile);
        self.before.clear();
        if next {
            std::mem::swap(&mut self.before, &mut self.corners);
        }
        self.corners.clear();
        self.tile = Some(tile);
    }
}
