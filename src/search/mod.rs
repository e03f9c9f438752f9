//! Where is the best place of all, and what would another cost?
//!
//! Every standable place × camera height × lens × aim is a candidate. [`Search::new`] checks the requirements before anything is
//! built for them; [`Search::run`] looks, shows coarse maps on the way, and gives an [`Answer`]: a [`Map`] of any figure,
//! the clearly different [`Answer::ranked`] places, the [`Answer::front`] of stances that nothing beats at once in lean,
//! detail and effort, which lenses to pack, and which requirement rules out how much. The answer depends neither on the number of
//! threads nor on how the places were looked at: it is what a ray for every point and eye would give.
//!
//! # Example
//! A window keeps the survey in an `Arc` and searches on a thread of its own:
//! ```
//! use plumbsight::progress::Progress;
//! use plumbsight::search::{MapFigure, Search, Criteria};
//! use plumbsight::survey::Survey;
//! # let folder = tempfile::tempdir().unwrap();
//! # let path = folder.path().join("a.site.ron");
//! # std::fs::write(&path, "Site(format: 1, name: \"a\", blocks: [(name: \"tower\", subject: true, at: (0, 0), \
//! #     shape: Box(width_m: 5, depth_m: 5, height_m: 25))])").unwrap();
//! let survey = std::sync::Arc::new(Survey::open(&path).unwrap());
//! let progress = std::sync::Arc::new(Progress::default());
//! let searching = {
//!     let (survey, progress) = (survey.clone(), progress.clone());
//!     std::thread::spawn(move || {
//!         let requirements = Criteria { spacing_m: 5.0, distance_m: (10.0, 60.0), ..Criteria::default() };
//!         let search = Search::new(&survey, requirements)?;
//!         // Called with a coarser map first and finer ones after it; keep what it shows behind a lock.
//!         let answer = search.run(&progress, &|map| {
//!             let _columns_and_rows = (map.columns(), map.rows());
//!         });
//!         Ok::<_, plumbsight::search::CriteriaError>(answer)
//!     })
//! };
//! // `progress.count()` tells how far it is, `progress.cancel()` ends it.
//! let answer = searching.join().unwrap().unwrap().expect("nobody cancelled");
//! let best = &answer.ranked[0];
//! let stance = &best.stance; // where *Go* goes: `survey.measure(stance, …)` gives the same figures
//! assert!(survey.measure(stance, &Default::default()).is_ok());
//! let lean_deg = answer.map.value(0, 0, MapFigure::LargestLean);
//! # assert!(lean_deg.is_none_or(|lean_deg| lean_deg >= 0.0));
//! ```

mod answer;
mod counts;
mod criteria;
mod daylight;
mod evaluate;
mod export;
mod eye_box;
mod kinds;
mod map;
mod obstacles;
mod occluders;
mod open_place;
mod openings;
mod piece;
mod piece_file;
mod place_result;
mod places;
mod prepared;
mod run;
mod sweep;
mod terrain_sight;
mod visibility;

pub use answer::{Answer, LensSet, Ranked, RankedFigures, RequirementCount, StandpointWords};
pub use criteria::{
    AIMS, ANY_SIDE_DEG, Criteria, CriteriaError, MOST_CANDIDATES, MOST_OF_A_KIND, MOST_PLACES, Rank, Rungs, SQUARE_DEG,
    THREE_QUARTER_DEG, USUAL_FILLED_SHARE, USUAL_FRONT_DEG, USUAL_LENSES,
};
pub use daylight::{DAY_MINUTES, LightCriterion, LightCriterionError, LightWhen, MOST_LIGHT_DAYS};
pub use evaluate::{CLIMB_IN_WALK, REACH_M};
pub use export::{ExportError, NO_VALUE, esri_grid, geotiff, projection_beside};
pub use map::{Combination, Map, MapFigure};
pub use obstacles::{ObstaclesError, WithObstacles, with_obstacles};
pub use openings::{Change, Opening};
pub use piece::Piece;
pub use piece_file::{PIECE_ENDING, PieceError, PieceOrigin};
pub use place_result::{LowestHeight, PlaceStatus, Requirement};
pub use places::Lattice;
pub use prepared::Search;
pub use visibility::SightMethod;
