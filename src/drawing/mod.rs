//! What do plan, section and plumb gauge look like, on screen and in files?
//!
//! A [`Drawing`] is a list of marks on a canvas. The canvas is measured in points: 1/72 inch on paper, a logical pixel on
//! a screen; x runs right, y down, from its top left corner. Colours are roles of a theme's palette, so that one list
//! serves the window, a page that turns dark in the evening, a picture and print. Everything is already clipped to a
//! little beyond the canvas; whoever draws it cuts at the canvas itself.

mod canvas;
mod clip;
mod contours;
mod disc;
mod gaps;
mod gauge;
mod labels;
mod map;
mod pixels;
mod plan;
mod plan_view;
mod ramp;
mod room;
mod section;
mod shapes;
mod svg;

pub use crate::still::Weight;

pub use canvas::{Align, Dash, Drawing, Mark, PLATE, Pen, Role, TEXT_PT, TITLE_PT, Text, Tint, arrow_head};
pub use clip::triangles;
pub use disc::disc;
pub use gaps::Gap;
pub use gauge::gauge;
pub use map::{MapRequest, MapSheet};
pub use plan::{Pin, PlanLabels, PlanRequest, SitePlan, StancePlan, plan};
pub use plan_view::PlanView;
pub use ramp::{RAMP_COLOURS, Ramp, Tick, written};
pub use room::{CanvasPoint, Room};
pub use section::{SectionRequest, section};
pub use shapes::{BlockShape, SiteShapes};
pub use svg::{SvgColours, SvgLetters};
