//! How does a search run in the background, and what does it come to?

use std::sync::Arc;
use std::time::{Duration, Instant};

use crate::progress::Progress;
use crate::search::{
    Answer, Criteria, CriteriaError, Map, ObstaclesError, Search, SightMethod, WithObstacles, with_obstacles,
};
use crate::survey::Survey;

/// What a search is to look for.
#[derive(Clone, Debug, PartialEq)]
pub struct SearchRequest {
    /// The requirements; body, crop and orientation are those of the present stance's camera.
    pub criteria: Criteria,
    /// Blocks that may stand in the way on the day: the search takes them away, and says what remains with them.
    pub may_come: Vec<String>,
}

impl SearchRequest {
    /// The requirements of the search itself, for which whatever may come is away.
    pub(in crate::viewer::state) fn searched(&self) -> Criteria {
        let mut criteria = self.criteria.clone();
        criteria.without.extend(self.may_come.iter().filter(|name| !self.criteria.without.contains(name)).cloned());
        criteria
    }
}

/// What a search came to.
#[derive(Debug)]
pub(in crate::viewer::state) struct Searched {
    pub(in crate::viewer::state) answer: Arc<Answer>,
    pub(in crate::viewer::state) remains: Option<WithObstacles>,
    /// The site without the blocks that were away; absent where none were.
    pub(in crate::viewer::state) reduced: Option<Arc<Survey>>,
    pub(in crate::viewer::state) took: Duration,
}

/// Why a search came to nothing.
#[derive(Debug)]
pub(in crate::viewer::state) enum SearchFailure {
    Cancelled,
    Error(String),
}

/// The search itself, in the background.
pub(in crate::viewer::state) fn search(
    survey: &Survey,
    request: &SearchRequest,
    progress: &Progress,
    show: &dyn Fn(&Map),
) -> Result<Searched, SearchFailure> {
    let start = Instant::now();
    let criteria = request.searched();
    let wrong = |error: CriteriaError| SearchFailure::Error(error.to_string());
    let search = Search::new(survey, criteria.clone()).map_err(wrong)?;
    let answer = search.run(progress, show).map_err(|_| SearchFailure::Cancelled)?;
    let took = start.elapsed();
    let looking = SightMethod::default();
    let remains = (!request.may_come.is_empty())
        .then(|| with_obstacles(survey, &criteria, &request.may_come, &answer, looking, progress))
        .transpose()
        .map_err(|error| match error {
            ObstaclesError::Cancelled(_) => SearchFailure::Cancelled,
            ObstaclesError::Requirement(error) => wrong(error),
        })?;
    let reduced = (!criteria.without.is_empty()).then(|| Arc::new(survey.without(&criteria.without)));
    Ok(Searched { answer: Arc::new(answer), remains, reduced, took })
}
