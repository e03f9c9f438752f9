//! Which small pictures are on the graphics card already?

use std::collections::BTreeMap;

use bevy_egui::egui::{ColorImage, Context, TextureHandle, TextureId, TextureOptions};

use crate::viewer::work::Thumbnail;

/// Small pictures by what they are of, each uploaded when it is new.
pub(super) struct Textures<K> {
    kept: BTreeMap<K, (u64, TextureHandle)>,
}

impl<K> Default for Textures<K> {
    fn default() -> Self {
        Self { kept: BTreeMap::new() }
    }
}

impl<K: Ord> Textures<K> {
    /// The texture of a thumbnail; `None` for one whose pixels are not as many as its sides say.
    pub(super) fn of(&mut self, context: &Context, of: K, thumbnail: &Thumbnail) -> Option<TextureId> {
        if let Some((version, handle)) = self.kept.get(&of)
            && *version == thumbnail.version
        {
            return Some(handle.id());
        }
        let image = image([thumbnail.width_px, thumbnail.height_px], &thumbnail.rgb)?;
        let handle = context.load_texture("thumbnail", image, TextureOptions::LINEAR);
        let texture = handle.id();
        self.kept.insert(of, (thumbnail.version, handle));
        Some(texture)
    }

    /// Lets go of those that are of nothing any more.
    pub(super) fn retain(&mut self, stays: impl Fn(&K) -> bool) {
        self.kept.retain(|of, _| stays(of));
    }
}

/// Pixels in sRGB, three bytes each, as an image; `None` where they are not as many as its sides say.
pub(super) fn image(size_px: [u32; 2], rgb: &[u8]) -> Option<ColorImage> {
    let size = size_px.map(|side_px| side_px as usize);
    (size[0] * size[1] * 3 == rgb.len()).then(|| ColorImage::from_rgb(size, rgb))
}
