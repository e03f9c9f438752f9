//! Does the whole program do its job, measured against something outside it?
//!
//! One binary, one module a concern:
//!
//! - `reference`: published values, read from `shared/reference`, each with its source and tolerance
//! - `oracle`, `oracle_place`: live comparison with general-purpose libraries
//! - `bring`: real places and bad files through the importers
//!
//! `support` holds what they share. `tests/run` installs what they need; run all of it by `tests/run`, a part by
//! `tests/run reference`.

mod support;

mod bring;
mod oracle;
mod oracle_place;
mod reference;
