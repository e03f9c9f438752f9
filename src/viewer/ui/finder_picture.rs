//! Who paints the finder's picture?

use bevy_egui::egui::Painter;

use crate::theme::Palette;

use crate::viewer::render::finder_mesh::{FinderMesh, FinderPlace};

/// Whoever has the finder's picture.
pub trait FinderPicture {
    /// Paints it into its place, the surround veiled.
    fn paint(&self, painter: &Painter, place: &FinderPlace, palette: &Palette);
}

impl FinderPicture for FinderMesh {
    fn paint(&self, painter: &Painter, place: &FinderPlace, palette: &Palette) {
        Self::paint(self, painter, place, palette);
    }
}
