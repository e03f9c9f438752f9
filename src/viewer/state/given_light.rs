//! In which light is the site shown, in place of its own?

use crate::light::Moment;
use crate::site::Sun;

/// In which light it is shown and measured, in place of the site's own.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct GivenLight {
    /// Where the sun stands.
    pub(super) sun: Option<Sun>,
    /// The moment at which it stands there; none where a hand put it.
    pub(super) moment: Option<Moment>,
}

impl GivenLight {
    /// The light that a plan keeps.
    pub(super) fn of_plan(sun: Option<Sun>, moment: Option<&str>) -> Self {
        Self { sun, moment: moment.and_then(Moment::of_rfc3339) }
    }
}
