//! Who writes the site's file while the window goes on?

use std::path::PathBuf;

use crate::files::{self, FileError, FileKind};

use super::work::Wake;
use super::writer::Writer;

/// How the site's file stands to what the window shows.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum SiteSaving {
    /// All of it is on disk.
    #[default]
    Saved,
    /// It is being written.
    Saving,
    /// It could not be written; why.
    Failed(String),
    /// A demo site, which is nobody's file.
    Demo,
    /// Another program changed the file where the window did, too; which lines, in words.
    Conflict(String),
}

/// A text to be written.
struct SiteOrder {
    path: PathBuf,
    /// What was known to be on disk when it was ordered.
    base: String,
    text: String,
    number: u64,
}

/// What became of an order.
pub(super) struct SiteNews {
    /// The order's number.
    pub(super) number: u64,
    /// The text that was to be written.
    pub(super) text: String,
    /// Whether it is on disk, or why not.
    pub(super) outcome: Result<(), String>,
}

/// Writes the site's file in the background, never over what another program has saved.
pub(super) struct SiteWriter(Writer<SiteOrder, SiteNews>);

impl SiteWriter {
    pub(super) fn new(wake: Wake) -> Self {
        // What this window itself wrote last: orders follow one another faster than their outcome comes back.
        let mut last: Option<(PathBuf, String)> = None;
        let work = move |order: SiteOrder| {
            let SiteOrder { path, base, text, number } = order;
            let over = |known: &str| files::rewrite(&path, Some(known), &text, FileKind::Site);
            let own = last.as_ref().filter(|(written, _)| *written == path).map(|(_, text)| text.as_str());
            let written = match (over(&base), own) {
                (Err(FileError::Changed { .. }), Some(own)) => over(own),
                (written, _) => written,
            };
            let outcome = written.map_err(|error| error.to_string());
            if outcome.is_ok() {
                last = Some((path, text.clone()));
            }
            Some(SiteNews { number, text, outcome })
        };
        Self(Writer::new(wake, |order, later| order.path == later.path, work))
    }

    /// Orders a text to be written; false where nobody can do it. Of several that wait only the last is written.
    pub(super) fn order(&self, path: PathBuf, base: String, text: String, number: u64) -> bool {
        self.0.order(SiteOrder { path, base, text, number })
    }

    /// What became of the orders so far.
    pub(super) fn news(&self) -> Vec<SiteNews> {
        self.0.news()
    }

    /// Waits until everything ordered is written; false where that takes too long.
    pub(super) fn finish(&self) -> bool {
        self.0.finish()
    }
}
