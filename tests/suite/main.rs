//! Does the whole program do its job, measured against something outside it?
//!
//! One binary, one module a concern:
//!
//! - `reference`: published values, read from `shared/reference`, each with its source and tolerance
//! - `oracle`: live comparison with general-purpose libraries
//! - `oracle_place`: places on the Earth against pyproj, live
//! - `bring`: real places and bad files through the importers
//! - `finder`: the graphics card draws what the core measures
//! - `scenarios`: rules of the trade, as scenes with numbers
//! - `still`: the picture shows what the measurements say
//! - `hostile`: files that are wrong in every way are refused with their place, and none brings the program down
//! - `tidy`: the rules of the house
//!
//! `support` holds what they share, `station` a site that several picture. `tests/run` installs what they need; run all of it by `tests/run`, a part by
//! `tests/run reference`.

mod support;

mod bring;
#[cfg(feature = "viewer")]
mod finder;
mod hostile;
mod oracle;
mod oracle_place;
mod reference;
mod scenarios;
mod station;
mod still;
mod tidy;
