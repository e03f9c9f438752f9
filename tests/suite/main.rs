//! The checks of the whole program, one file a concern.

mod station;
mod still;
