//! How far is the work, and is its answer still wanted?

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use thiserror::Error;

/// Shared between long work and its watcher: the work counts up, the watcher reads the share and may cancel.
#[derive(Debug, Default)]
pub struct Progress {
    done: AtomicU64,
    total: AtomicU64,
    cancelled: AtomicBool,
}

/// The watcher no longer wants the answer.
#[derive(Clone, Copy, Debug, Error, PartialEq, Eq)]
#[error("cancelled")]
pub struct Cancelled;

impl Progress {
    /// Work that nobody watches.
    pub fn unwatched() -> Self {
        Self::default()
    }

    /// Starts counting from nought towards `total` pieces.
    pub fn start(&self, total: u64) {
        self.done.store(0, Ordering::Relaxed);
        self.total.store(total, Ordering::Relaxed);
    }

    /// Counts `pieces` more as done.
    ///
    /// # Errors
    /// The watcher has cancelled.
    pub fn advance(&self, pieces: u64) -> Result<(), Cancelled> {
        self.done.fetch_add(pieces, Ordering::Relaxed);
        self.check()
    }

    /// Whether to go on.
    ///
    /// # Errors
    /// The watcher has cancelled.
    pub fn check(&self) -> Result<(), Cancelled> {
        if self.cancelled.load(Ordering::Relaxed) { Err(Cancelled) } else { Ok(()) }
    }

    /// Asks the work to stop soon.
    pub fn cancel(&self) {
        self.cancelled.store(true, Ordering::Relaxed);
    }

    /// Pieces done and pieces in all; (0, 0) before the start.
    pub fn count(&self) -> (u64, u64) {
        (self.done.load(Ordering::Relaxed), self.total.load(Ordering::Relaxed))
    }
}
