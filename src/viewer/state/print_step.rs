//! What happened to a print, as Undo and Redo know it?

use crate::plan::PrintId;

/// What happened to a print, as a step of the history.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum PrintStep {
    /// It was pinned.
    Pinned(PrintId),
    /// It was removed.
    Removed(PrintId),
}
