//! What is being worked on beside the window, how far is it, and how is it called off?

/// The number of a piece of work; never given twice.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct WorkId(pub u64);

/// A piece of work as the window shows it.
#[derive(Clone, Debug, PartialEq)]
pub struct WorkView {
    /// Its number, to cancel it by.
    pub id: WorkId,
    /// What it does: "Taking still.png".
    pub title: String,
    /// How much is done, 0 to 1; nothing where that cannot be told.
    pub share: Option<f64>,
}

/// A small picture, in sRGB, three bytes a pixel.
#[derive(Clone, PartialEq)]
pub struct Thumbnail {
    /// Pixels across.
    pub width_px: u32,
    /// Pixels down.
    pub height_px: u32,
    /// Row by row from the top left.
    pub rgb: std::sync::Arc<[u8]>,
    /// Another number for every other picture, so that a texture is made only when needed.
    pub version: u64,
}

impl std::fmt::Debug for Thumbnail {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Thumbnail({}x{}, version {})", self.width_px, self.height_px, self.version)
    }
}
