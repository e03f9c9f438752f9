//! What does a site look like of which one knows no more than what stands there, how high, how wide and how to get round it?
//!
//! Four answers make a site that measures at once: what it is; how high and how wide; which of its sides one may stand on; which
//! way its front looks. The rest of it, houses and trees, is guessed and said to be guessed, in a file that reads as if a person
//! had written it and that is meant to be corrected.
//!
//! Plan positions are counted from the middle of the subject: to the right and to the front, as one sees it from in front.

mod answers;
mod around;
mod draft;
mod subjects;
mod text;

pub use answers::{
    BASES_M, HEIGHTS_M, LONGEST_NAME, MOST_STOREYS, NARROWEST_TOP_M, NewKind, NewSite, NewSiteProblem, NewSiteProblems,
    Side, Sides,
};
