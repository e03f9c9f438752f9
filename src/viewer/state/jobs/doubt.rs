//! What becomes of the verdict within the uncertainty of the subject's height? Found in the background: each height tried is a
//! site made ready anew.

use crate::site::Stance;
use crate::survey::{MeasureSettings, Survey};
use crate::taller::what_if_taller;
use crate::units::Units;

/// What was asked.
#[derive(Clone, Debug, PartialEq)]
pub(in super::super) struct DoubtKey {
    /// The version of the site.
    pub(in super::super) site: u64,
    pub(in super::super) stance: Stance,
    pub(in super::super) settings: MeasureSettings,
    pub(in super::super) units: Units,
}

/// What was found.
#[derive(Clone, Debug)]
pub(in super::super) struct FoundDoubt {
    pub(in super::super) key: DoubtKey,
    /// In sentences; empty where no part of the subject has an uncertain height.
    pub(in super::super) words: Vec<String>,
}

impl FoundDoubt {
    /// Finds it.
    pub(in super::super) fn of(survey: &Survey, key: DoubtKey) -> Self {
        let what_if = what_if_taller(survey, &key.stance, &key.settings);
        let words = what_if.map(|what_if| what_if.sentences(key.units)).unwrap_or_default();
        Self { key, words }
    }
}
