//! What is left if something stands in the way on the day?
//!
//! A van, a stall, a tree in leaf: a block of the site that is taken away for the search, and put back to see which places
//! still serve.

use serde::Serialize;

use crate::progress::{Cancelled, Progress};
use crate::survey::Survey;

use super::answer::Answer;
use super::criteria::{Criteria, CriteriaError};
use super::prepared::Search;
use super::visibility::SightMethod;

/// What remains when blocks stand in the way.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct WithObstacles {
    /// Which.
    pub with: Vec<String>,
    /// Places that met every requirement without them.
    pub met_without: u64,
    /// Of these, the places that still do.
    pub met: u64,
    /// The listed places, by number, that still do.
    pub listed: Vec<usize>,
}

/// Why there is no answer.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ObstaclesError {
    /// A requirement cannot be looked for.
    #[error(transparent)]
    Requirement(#[from] CriteriaError),
    /// The watcher no longer wants it.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// Searches again with blocks standing that the `answer` was found without; `requirements` are those of that answer.
///
/// # Errors
/// A block that is not there, or the watcher has cancelled.
pub fn with_obstacles(
    survey: &Survey,
    criteria: &Criteria,
    with: &[String],
    answer: &Answer,
    looking: SightMethod,
    progress: &Progress,
) -> Result<WithObstacles, ObstaclesError> {
    let mut criteria = criteria.clone();
    criteria.without.retain(|name| !with.contains(name));
    criteria.area = Some(answer.map.area());
    let standing = Search::new(survey, criteria)?.looking(looking).run(progress, &|_| {})?;
    let (map, blocked) = (&answer.map, &standing.map);
    let still = |column: u32, row: u32| map.meets(column, row) && blocked.meets(column, row);
    let met = (0..map.rows()).map(|row| (0..map.columns()).filter(|&column| still(column, row)).count() as u64).sum();
    let listed = answer
        .ranked
        .iter()
        .filter(|ranked| map.cell_of(ranked.stance.at).is_some_and(|(column, row)| still(column, row)));
    let listed = listed.map(|ranked| ranked.number).collect();
    Ok(WithObstacles { with: with.to_vec(), met_without: answer.met, met, listed })
}
