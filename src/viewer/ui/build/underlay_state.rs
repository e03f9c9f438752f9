//! Which points of the picture from above are marked, and what of it lies on the graphics card?

use std::collections::BTreeMap;

use bevy_egui::egui::{self, ColorImage, TextureHandle, TextureOptions};

use crate::bring::Raster;
use crate::site::{PicturePoint, PlanPoint, Underlay};

/// What the points are called.
pub(super) const POINT_NAMES: [&str; 2] = ["A", "B"];

/// What is remembered of the picture between frames.
#[derive(Default)]
pub(super) struct UnderlayState {
    /// Points on the picture of this file.
    marks: Option<(String, Vec<PicturePoint>)>,
    /// The picture on the graphics card, in the sizes that were shown.
    textures: (u64, BTreeMap<usize, TextureHandle>),
    /// A strength while its knob is dragged.
    pub(super) strength: Option<f64>,
}

impl UnderlayState {
    /// The points that are marked on this picture.
    pub(super) fn marks(&self, underlay: &Underlay) -> &[PicturePoint] {
        self.marks.as_ref().filter(|(file, _)| *file == underlay.file).map_or(&[], |(_, marks)| marks)
    }

    /// Marks another point; a third one begins anew. Whether there are two now.
    pub(super) fn mark(&mut self, underlay: &Underlay, at: PlanPoint) -> bool {
        let mut marks = self.marks(underlay).to_vec();
        if marks.len() >= POINT_NAMES.len() {
            marks.clear();
        }
        marks.push(underlay.pixel_of_plan(at));
        let complete = marks.len() == POINT_NAMES.len();
        self.marks = Some((underlay.file.clone(), marks));
        complete
    }

    /// The picture in one of its sizes on the graphics card; `None` where its pixels are not as many as its sides say.
    pub(super) fn texture(
        &mut self,
        context: &egui::Context,
        version: u64,
        level: usize,
        raster: &Raster,
    ) -> Option<egui::TextureId> {
        if self.textures.0 != version {
            self.textures = (version, BTreeMap::new());
        }
        if let Some(texture) = self.textures.1.get(&level) {
            return Some(texture.id());
        }
        let size = raster.size_px.map(|side_px| side_px as usize);
        if 4 * size[0] * size[1] != raster.rgba.len() {
            return None;
        }
        let image = ColorImage::from_rgba_unmultiplied(size, &raster.rgba);
        let texture = context.load_texture("picture from above", image, TextureOptions::LINEAR);
        let id = texture.id();
        self.textures.1.insert(level, texture);
        Some(id)
    }
}
