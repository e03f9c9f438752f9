//! Which picture is handed over?
//!
//! The one in which all ways and stances are compared: as taken where the subject is upright in it, else straightened; cropped
//! to the wanted proportion, with the subject and its margins whole.

use crate::optics::Camera;
use crate::outline::{Sample, Subject};
use crate::pose::Attitude;
use crate::verticals::{
    Detail, StraightenFailure, Straightened, Straightening, Viewpoint, largest_print_mm, straighten, surface_detail,
};

/// A picture that is handed over.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FinalPicture {
    /// A camera that would take it at once from the same eye.
    pub camera: Camera,
    /// How that camera is turned.
    pub attitude: Attitude,
    /// Whether it was straightened.
    pub straightened: bool,
    /// The lowest detail on the subject.
    pub lowest_detail: Option<Detail>,
    /// Whether the subject keeps its margins.
    pub margins_kept: bool,
    /// Pixels that a crop without margins would keep, in millions.
    pub megapixels_without_margins: f64,
}

impl FinalPicture {
    /// What is handed over of a picture that is upright or was straightened, for the surface that its detail is judged by.
    ///
    /// # Errors
    /// Why there is no such picture.
    pub(super) fn of(
        viewpoint: &Viewpoint<'_>,
        subject: &Subject,
        judged: &[Sample],
        taken: TakenPicture,
        straightened: &Result<Straightened, StraightenFailure>,
    ) -> Result<Self, StraightenFailure> {
        let straightened = || straightened.as_ref().map(|kept| Self::from_kept(kept, true)).map_err(|failure| *failure);
        if !taken.upright {
            return straightened();
        }
        let camera = viewpoint.camera;
        if camera.draws_straight() {
            let as_taken = Straightening { tilt_left: 1.0, proportion: taken.proportion };
            let whole = straighten(viewpoint, &subject.outermost, judged, as_taken)?;
            // A hair of tilt straightened gives the margins back.
            return Ok(straightened()
                .ok()
                .filter(|straightened| straightened.margins_kept && !whole.margins_kept)
                .unwrap_or_else(|| Self::from_kept(&whole, false)));
        }
        if !taken.whole {
            return Err(StraightenFailure::SubjectCut { share: 1.0 - taken.in_frame_share });
        }
        let detail = |sample: &Sample| surface_detail(viewpoint, &sample.point, &sample.normal);
        Ok(Self {
            camera: *camera,
            attitude: viewpoint.pose.attitude,
            straightened: false,
            lowest_detail: judged.iter().filter_map(detail).reduce(Detail::min),
            margins_kept: taken.margins_kept,
            megapixels_without_margins: camera.frame.megapixels(),
        })
    }

    /// What is handed over of what a crop kept, `straightened` or as taken.
    pub fn from_kept(kept: &Straightened, straightened: bool) -> Self {
        Self {
            camera: kept.camera,
            attitude: kept.attitude,
            straightened,
            lowest_detail: kept.detail_kept,
            margins_kept: kept.margins_kept,
            megapixels_without_margins: kept.megapixels_without_margins,
        }
    }

    /// Its pixels, in millions.
    pub fn megapixels(&self) -> f64 {
        self.camera.frame.megapixels()
    }

    /// The largest print of so many pixels an inch: width and height.
    pub fn print_mm(&self, ppi: f64) -> (f64, f64) {
        largest_print_mm(&self.camera.frame, ppi)
    }
}

/// What is known of a picture as it was taken.
#[derive(Clone, Copy, Debug)]
pub(super) struct TakenPicture {
    /// Whether the subject is upright in it.
    pub(super) upright: bool,
    /// Whether the subject is whole in it.
    pub(super) whole: bool,
    /// Whether the subject keeps its margins in it.
    pub(super) margins_kept: bool,
    /// The share of the subject's facing surface in it.
    pub(super) in_frame_share: f64,
    /// Width over height wanted.
    pub(super) proportion: f64,
}
