//! How exactly must one stand at a stance? Found in the background: it asks the sight thousands of times.

use std::sync::Arc;

use crate::site::Stance;
use crate::stance::Standing;
use crate::survey::{MeasureSettings, Survey};
use crate::tolerance::Tolerances;

/// The tolerances of a stance, as they were found.
pub(in super::super) struct FoundTolerances {
    /// The site that they are of.
    pub(in super::super) survey: Arc<Survey>,
    pub(in super::super) stance: Stance,
    pub(in super::super) settings: MeasureSettings,
    pub(in super::super) found: Option<Tolerances>,
}

impl FoundTolerances {
    /// Finds them.
    pub(in super::super) fn of(
        survey: Arc<Survey>,
        stance: Stance,
        standing: &Standing,
        settings: MeasureSettings,
    ) -> Self {
        let found = survey.tolerances(&stance, standing, &settings);
        Self { survey, stance, settings, found }
    }
}
