//! What has been answered of the four questions that make a site?

use std::sync::Arc;

use crate::new_site::{NewKind, NewSite};
use crate::site::{Model, Solid};

/// The answers so far.
pub(super) struct NewSiteAnswers {
    pub(super) answers: NewSite,
    /// What was shown last.
    pub(super) shown: Option<NewSite>,
    /// The pictures of the kinds.
    pub(super) kinds: Vec<Vec<Arc<Solid>>>,
    /// The subject that answers make, kept until they change.
    subject: Option<(NewSite, Vec<Arc<Solid>>)>,
}

impl NewSiteAnswers {
    pub(super) fn begin() -> Self {
        let solids = |kind: NewKind| subject_solids(&NewSite::of(kind));
        let kinds = NewKind::ALL.map(solids).to_vec();
        Self { answers: NewSite::of(NewKind::BellTower), shown: None, kinds, subject: None }
    }

    /// The solids of what the site is about; none while the answers make no site.
    pub(super) fn subject(&mut self) -> &[Arc<Solid>] {
        if self.subject.as_ref().is_none_or(|(known, _)| *known != self.answers) {
            self.subject = Some((self.answers.clone(), subject_solids(&self.answers)));
        }
        self.subject.as_ref().map_or(&[], |(_, solids)| solids)
    }
}

/// The solids of what the site is about.
fn subject_solids(answers: &NewSite) -> Vec<Arc<Solid>> {
    let Ok(site) = answers.site() else { return Vec::new() };
    let subject: Vec<bool> = site.blocks.iter().map(|block| block.subject).collect();
    let solids = Model::build(site).solids;
    solids.into_iter().zip(subject).filter(|(_, subject)| *subject).map(|(solid, _)| solid).collect()
}
