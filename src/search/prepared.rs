//! What is searched: a site, its requirements and the places, checked against each other before anything is looked at.

use crate::appraise::Mounted;
use crate::optics::Format;
use crate::outline::{SIGHT_SAMPLES, Subject};
use crate::sight::Sight;
use crate::site::Model;
use crate::survey::Survey;

use super::criteria::{Criteria, CriteriaError};
use super::evaluate::Evaluator;
use super::places::Lattice;
use super::visibility::SightMethod;

/// The most pieces of one search.
pub(super) const MOST_PIECES: usize = 100_000;

/// A search that can be run.
#[derive(Debug)]
pub struct Search<'a> {
    survey: &'a Survey,
    pub(super) criteria: Criteria,
    /// The site without the blocks that are taken away.
    reduced: Option<Box<(Model, Sight)>>,
    /// The subject, where it is not the survey's own.
    pub(super) subject: Option<Box<Subject>>,
    format: Format,
    mounted: Vec<Mounted>,
    pub(super) lattice: Lattice,
    pub(super) looking: SightMethod,
}

impl<'a> Search<'a> {
    /// Checks the requirements against a site and gets ready.
    ///
    /// # Errors
    /// A requirement out of its range, a name that there is not, a site without a subject, or more places than can be kept: the
    /// numbers are reported before any memory is taken for them.
    pub fn new(survey: &'a Survey, criteria: Criteria) -> Result<Self, CriteriaError> {
        Self::in_pieces(survey, criteria, 1)
    }

    /// As [`Search::new`], for a search that is run in pieces, each of which has its own memory.
    ///
    /// # Errors
    /// As [`Search::new`].
    pub fn in_pieces(survey: &'a Survey, criteria: Criteria, pieces: usize) -> Result<Self, CriteriaError> {
        if !(1..=MOST_PIECES).contains(&pieces) {
            return Err(CriteriaError::Piece { piece: pieces, pieces });
        }
        criteria.check()?;
        let format = survey.kit.format(&criteria.format)?;
        let lens = |name: &String| Ok(Mounted { lens: survey.kit.lens(name)?, focal_mm: None });
        let mounted = criteria.lenses.iter().map(lens).collect::<Result<Vec<Mounted>, CriteriaError>>()?;
        let site = &survey.model.site;
        for name in criteria.inside.iter().chain(&criteria.outside).chain(&criteria.without) {
            if !site.blocks.iter().any(|block| block.name == *name) {
                let known: Vec<String> = site.blocks.iter().map(|block| format!("'{}'", block.name)).collect();
                return Err(CriteriaError::NoBlock { name: name.clone(), known: known.join(", ") });
            }
        }
        let whole = survey.subject.as_ref().map_err(|error| *error)?;
        let lattice = Lattice::of(&criteria, whole, pieces)?;
        let reduced = (!criteria.without.is_empty()).then(|| {
            let mut fewer = site.clone();
            fewer.blocks.retain(|block| !criteria.without.contains(&block.name));
            let model = Model::build(fewer);
            let sight = Sight::over(&model);
            Box::new((model, sight))
        });
        let own = reduced.is_some() || criteria.samples != SIGHT_SAMPLES;
        let model = reduced.as_ref().map_or(&survey.model, |reduced| &reduced.0);
        let subject = own.then(|| Subject::with_samples(model, criteria.samples).map(Box::new)).transpose()?;
        Ok(Self { survey, criteria, reduced, subject, format, mounted, lattice, looking: SightMethod::default() })
    }

    /// The same search, looking in another way; the answer is the same.
    #[must_use]
    pub fn looking(self, looking: SightMethod) -> Self {
        Self { looking, ..self }
    }

    /// What is required.
    pub fn criteria(&self) -> &Criteria {
        &self.criteria
    }

    /// The places.
    pub fn lattice(&self) -> &Lattice {
        &self.lattice
    }

    /// The site that is searched.
    pub fn model(&self) -> &Model {
        self.reduced.as_ref().map_or(&self.survey.model, |reduced| &reduced.0)
    }

    /// What one sees on it.
    pub fn sight(&self) -> &Sight {
        self.reduced.as_ref().map_or(&self.survey.sight, |reduced| &reduced.1)
    }

    /// The survey it belongs to.
    pub fn survey(&self) -> &'a Survey {
        self.survey
    }

    /// What the picture is about.
    ///
    /// # Errors
    /// Never, once the search is made; the type is that of the survey's own subject.
    pub fn subject(&self) -> Result<&Subject, CriteriaError> {
        match &self.subject {
            Some(own) => Ok(own),
            None => Ok(self.survey.subject.as_ref().map_err(|error| *error)?),
        }
    }

    pub(super) fn evaluator(&self) -> Result<Evaluator<'_>, CriteriaError> {
        let (subject, mounted) = (self.subject()?, self.mounted.clone());
        Ok(Evaluator::new(self.model(), subject, self.sight(), &self.criteria, &self.format, mounted))
    }
}
