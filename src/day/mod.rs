//! In which order are the stances of a day visited, and when is one where?
//!
//! Each stance has windows: when the sun is on the front that it pictures, or daylight, and the ground under it is dry. The
//! order misses as few windows as may be, then walks least, then ends earliest. Up to ten stances it is the best there is;
//! beyond that it is good: no stance moved and no stretch turned round makes it better.

mod legs;
mod order;
mod plan;
mod words;

pub use legs::Leg;
pub use order::{MOST_EXACT, Order, Round, RoundScore};
pub use plan::{DayError, DayPlan, DaySettings, Visit, WantedLight, plan_day};
