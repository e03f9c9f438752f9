//! Plumbsight.
fn main() {}
