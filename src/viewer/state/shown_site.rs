//! Which site is shown?

use std::sync::Arc;

use crate::survey::Survey;

/// The site that is shown, made ready for measuring.
#[derive(Debug)]
pub(super) struct ShownSite {
    survey: Arc<Survey>,
    /// Part of the key of everything that is computed from the site and kept: two surveys cannot be compared, and the
    /// address of one that is gone may be given to the next.
    version: u64,
    /// Grows when another site is opened, and not when the same one changes.
    opened: u64,
}

impl ShownSite {
    pub(super) fn new(survey: Arc<Survey>) -> Self {
        Self { survey, version: 1, opened: 1 }
    }

    pub(super) fn survey(&self) -> &Arc<Survey> {
        &self.survey
    }

    /// Grows when another site is shown, or the same one changed.
    pub(super) fn version(&self) -> u64 {
        self.version
    }

    /// Grows when another site is opened, and not when the same one changes.
    pub(super) fn opened(&self) -> u64 {
        self.opened
    }

    /// Another site is opened.
    pub(super) fn open(&mut self, survey: Arc<Survey>) {
        self.show(survey);
        self.opened += 1;
    }

    /// The same site has changed.
    pub(super) fn show(&mut self, survey: Arc<Survey>) {
        self.survey = survey;
        self.version += 1;
    }
}
