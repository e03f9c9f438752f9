//! Of what is the light asked?

use crate::light::{LitFace, Shade, Sky, TideTable};
use crate::site::Stance;
use crate::stance::Standing;
use crate::survey::Survey;
use crate::units::Units;

/// A site under its sky, with all that is asked of it.
pub(super) struct Asked<'a> {
    pub(super) survey: &'a Survey,
    pub(super) sky: &'a Sky,
    pub(super) shade: Shade<'a>,
    /// The front first.
    pub(super) faces: Vec<LitFace>,
    pub(super) stance: Option<(Stance, Standing)>,
    pub(super) tide: Option<TideTable>,
    pub(super) units: Units,
}
