//! Why is there no window, or no picture of one?

use thiserror::Error;

/// Why there is no picture.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum ViewerError {
    /// There is no graphics adapter.
    #[error(
        "no graphics adapter was found; install a Vulkan driver (Debian: mesa-vulkan-drivers), or use `plumbsight still`"
    )]
    NoAdapter,
    /// There is no display to open a window on.
    #[error("there is no display to open a window on; use `plumbsight still`, or `view --out window.png`")]
    NoDisplay,
    /// The stance cannot be taken up.
    #[error(transparent)]
    Stance(#[from] crate::stance::StanceError),
    /// The graphics device is gone.
    #[error("the graphics device was lost ({reason}); pinned prints are saved, start again")]
    Lost {
        /// What the driver said.
        reason: String,
    },
    /// The engine broke.
    #[error("the window failed ({reason}); pinned prints are saved, start again or use `plumbsight still`")]
    Broken {
        /// What it said.
        reason: String,
    },
    /// The adapter took the work and gave nothing back.
    #[error("the graphics adapter returned no picture; use `plumbsight still`")]
    NoPicture,
}
