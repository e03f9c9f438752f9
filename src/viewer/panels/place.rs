//! Where in the window does the finder go, and who paints its picture?

use bevy_egui::egui::{Painter, Rect};

use crate::theme::Palette;

/// Where the finder stands in the window, in points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FinderPlace {
    /// The picture's frame.
    pub frame: Rect,
    /// All that is shown of what the lens draws; equal to the frame where there is no surround.
    pub shown: Rect,
}

/// Whoever has the finder's picture.
pub trait FinderPicture {
    /// Paints it into its place, the surround veiled.
    fn paint(&self, painter: &Painter, place: &FinderPlace, palette: &Palette);
}
