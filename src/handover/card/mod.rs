//! What does a photographer carry to the site? How to set the camera, where to stand, how exactly, and what to beware of.

mod build;
mod content;
mod html;
mod pages;
mod place;
mod tolerance;

pub use build::{CardError, CardRequest, field_card};
pub use content::{FieldCard, LinedUp, Setting};
