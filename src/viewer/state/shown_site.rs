//! Which site is shown?

use std::sync::Arc;

use crate::survey::Survey;

/// The site that is shown, made ready for measuring.
#[derive(Debug)]
pub(super) struct ShownSite {
    /// As its file has it.
    filed: Arc<Survey>,
    /// As it is shown: with the water where the tide has it.
    survey: Arc<Survey>,
    /// Part of the key of everything that is computed from the site and kept: two surveys cannot be compared, and the
    /// address of one that is gone may be given to the next.
    version: u64,
    /// The version since which the file is the same.
    filed_version: u64,
    /// Grows when another site is opened, and not when the same one changes.
    opened: u64,
}

impl ShownSite {
    pub(super) fn new(survey: Arc<Survey>) -> Self {
        Self { filed: Arc::clone(&survey), survey, version: 1, filed_version: 1, opened: 1 }
    }

    pub(super) fn survey(&self) -> &Arc<Survey> {
        &self.survey
    }

    /// The site as its file has it, whatever the tide.
    pub(super) fn filed(&self) -> &Arc<Survey> {
        &self.filed
    }

    /// Grows when another site is shown, or the same one changed.
    pub(super) fn version(&self) -> u64 {
        self.version
    }

    /// Grows as [`Self::version`] does, but not with the tide.
    pub(super) fn filed_version(&self) -> u64 {
        self.filed_version
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

    /// The same site has changed. The water stands as the file says until the tide is looked at again.
    pub(super) fn show(&mut self, survey: Arc<Survey>) {
        self.filed = Arc::clone(&survey);
        self.survey = survey;
        self.version += 1;
        self.filed_version = self.version;
    }

    /// The water stands at a height, in metres of the site; as the file says without one. Returns whether that is another height
    /// than before.
    pub(super) fn flood(&mut self, level_m: Option<f64>) -> bool {
        if level_m == self.survey.mark.water_level_m {
            return false;
        }
        self.survey = match level_m {
            Some(level_m) => Arc::new(self.filed.flooded(level_m)),
            None => Arc::clone(&self.filed),
        };
        self.version += 1;
        true
    }
}
