//! Does the whole program do its job, measured against something outside it?
//!
//! One binary, one module a concern:
//!
//! - `reference`: published values, read from `shared/reference`, each with its source and tolerance
//! - `oracle`: live comparison with general-purpose libraries
//! - `tidy`: the rules of the house
//!
//! `support` holds what they share. `tests/run` installs what they need; run all of it by `tests/run`, a part by
//! `tests/run reference`.

mod support;

mod oracle;
mod reference;
// Rules of the trade, as scenes.
mod scenarios;
mod tidy;
