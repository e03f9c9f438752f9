//! What does one carry to have a whole day of stances in order? A page with the plan of the walk, the hours, the light, whom to
//! ask and what to pack; the same as a calendar and as a route.

mod build;
mod html;
mod pages;

pub use build::{DayPages, DayPagesError, DayRequest};
