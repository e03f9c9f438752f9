//! All tests of the program from outside, in one binary.

/// Files that are wrong in every way: each is refused with its place, none brings the program down.
mod hostile;
