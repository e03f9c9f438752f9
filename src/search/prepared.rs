//! What is searched: a site, its requirements and the places, checked against each other before anything is looked at.

use crate::appraise::Mounted;
use crate::optics::{Format, Lens};
use crate::outline::{SIGHT_SAMPLES, Subject};
use crate::sight::Sight;
use crate::site::{Model, PlanPoint, Stance, Support};
use crate::survey::Survey;

use super::criteria::{Criteria, CriteriaError};
use super::daylight::DaylightTable;
use super::evaluate::Evaluator;
use super::map::Map;
use super::openings::Offered;
use super::place_result::StoredCandidate;
use super::places::{Lattice, Plot, Stand};
use super::visibility::SightMethod;

/// The most pieces of one search.
pub(super) const MOST_PIECES: usize = 100_000;

/// A search that can be run.
#[derive(Debug)]
pub struct Search<'a> {
    survey: &'a Survey,
    pub(super) criteria: Criteria,
    /// The site without the blocks that are taken away, and with the water as it stands.
    reduced: Option<Box<(Model, Sight)>>,
    /// The subject, where it is not the survey's own.
    pub(super) subject: Option<Box<Subject>>,
    format: Format,
    mounted: Vec<Mounted>,
    tried: Vec<(usize, usize)>,
    /// The light on each face, where it is asked for.
    daylight: Option<Box<DaylightTable>>,
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
        let lenses: Vec<Lens> = mounted.iter().map(|mounted| mounted.lens.clone()).collect();
        let tried = criteria.tried(&lenses);
        if tried.is_empty() {
            return Err(CriteriaError::NoRise);
        }
        let site = &survey.model.site;
        for name in criteria.inside.iter().chain(&criteria.outside).chain(&criteria.without) {
            if !site.blocks.iter().any(|block| block.name == *name) {
                let known: Vec<String> = site.blocks.iter().map(|block| format!("'{}'", block.name)).collect();
                return Err(CriteriaError::NoBlock { name: name.clone(), known: known.join(", ") });
            }
        }
        let whole = survey.subject.as_ref().map_err(|error| *error)?;
        let lattice = Lattice::of(&criteria, whole, pieces)?;
        let is_flooded = criteria.water_level_m.is_some_and(|level_m| site.water_level_m != Some(level_m));
        let reduced = (!criteria.without.is_empty() || is_flooded).then(|| {
            let mut fewer = site.clone();
            fewer.blocks.retain(|block| !criteria.without.contains(&block.name));
            fewer.water_level_m = criteria.water_level_m.or(site.water_level_m);
            let model = Model::build(fewer);
            let sight = Sight::over(&model);
            Box::new((model, sight))
        });
        let own = reduced.is_some() || criteria.samples != SIGHT_SAMPLES;
        let model = reduced.as_ref().map_or(&survey.model, |reduced| &reduced.0);
        let subject = own.then(|| Subject::with_samples(model, criteria.samples).map(Box::new)).transpose()?;
        let looking = SightMethod::default();
        let about = subject.as_deref().unwrap_or(whole);
        let daylight =
            criteria.light.as_ref().map(|light| DaylightTable::new(model, about, light).map(Box::new)).transpose()?;
        Ok(Self { survey, criteria, reduced, subject, format, mounted, tried, daylight, lattice, looking })
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

    /// What a candidate stands on at its place.
    pub(super) fn surface(&self, candidate: &StoredCandidate, at: PlanPoint) -> Option<Stand> {
        let mut stands = Vec::new();
        Plot::of(self.model(), at, at).stands(at, &mut stands);
        stands.get(candidate.order.stand()).copied()
    }

    /// The stance that a candidate is; `None` where there is no such candidate.
    pub(super) fn stance(&self, candidate: &StoredCandidate, at: PlanPoint, name: &str) -> Option<Stance> {
        let (criteria, order, model) = (&self.criteria, candidate.order, self.model());
        let surface = self.surface(candidate, at)?;
        let deck = match surface.support {
            Support::Deck(deck) if surface.named => Some(model.site.blocks[model.decks[deck].block].name.clone()),
            Support::Deck(_) | Support::Ground | Support::Water => None,
        };
        let lens = &self.mounted.get(order.lens())?.lens;
        let plain = Stance::plain(name, at);
        Some(Stance {
            height_m: *criteria.heights_m.get(order.height())?,
            on: deck,
            format: criteria.format.clone(),
            orientation: criteria.orientation,
            crop: criteria.crop,
            margins: criteria.margins,
            lens: criteria.lenses.get(order.lens())?.clone(),
            aim: *criteria.aims.get(order.aim())?,
            // The usual f-number, or the nearest that the lens has.
            f_number: plain.f_number.clamp(lens.widest_f, lens.narrowest_f.max(lens.widest_f)),
            ..plain
        })
    }

    /// The very stance whose figures a map shows at a cell: with its height, lens and aim. `None` where there is none.
    pub fn stance_at(&self, map: &Map, column: u32, row: u32) -> Option<Stance> {
        let candidate = map.cell(column, row)?.best.as_ref()?;
        let (column, row) = map.place_of(column, row);
        self.stance(candidate, self.lattice.at(column, row), "from the map")
    }

    pub(super) fn evaluator(&self) -> Result<Evaluator<'_>, CriteriaError> {
        self.evaluator_of(&self.criteria, self.mounted.clone(), self.tried.clone())
    }

    /// The requirements with all that could be offered besides.
    pub(super) fn offered(&self) -> Offered {
        let has_front = self.subject().is_ok_and(|subject| self.criteria.front_of(subject).is_some());
        Offered::beyond(&self.criteria, has_front, &self.survey.kit, &self.mounted)
    }

    pub(super) fn evaluator_of<'b>(
        &'b self,
        criteria: &'b Criteria,
        mounted: Vec<Mounted>,
        tried: Vec<(usize, usize)>,
    ) -> Result<Evaluator<'b>, CriteriaError> {
        let daylight = self.daylight.as_deref();
        Ok(Evaluator::new(
            self.model(),
            self.subject()?,
            self.sight(),
            criteria,
            &self.format,
            (mounted, tried),
            daylight,
        ))
    }
}
