//! What has been answered of the four questions that make a site?

use crate::new_site::{NewKind, NewSite};
use crate::site::{Model, Solid};

/// The answers so far.
pub(super) struct NewSiteAnswers {
    pub(super) answers: NewSite,
    /// What was shown last.
    pub(super) shown: Option<NewSite>,
    /// The pictures of the kinds.
    pub(super) kinds: Vec<Vec<Solid>>,
}

impl NewSiteAnswers {
    pub(super) fn begin() -> Self {
        let solids = |kind: NewKind| subject_solids(&NewSite::of(kind));
        Self { answers: NewSite::of(NewKind::BellTower), shown: None, kinds: NewKind::ALL.map(solids).to_vec() }
    }
}

/// The solids of what the site is about.
pub(super) fn subject_solids(answers: &NewSite) -> Vec<Solid> {
    let Ok(site) = answers.site() else { return Vec::new() };
    let subject: Vec<bool> = site.blocks.iter().map(|block| block.subject).collect();
    let solids = Model::build(site).solids;
    solids.into_iter().zip(subject).filter(|(_, subject)| *subject).map(|(solid, _)| solid).collect()
}
