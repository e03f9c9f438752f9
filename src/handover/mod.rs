//! What is handed over, for the field, the map and the client?

pub mod capture;
pub mod compare;
pub mod deliver;
pub mod exif;
pub mod film;
pub mod places;
pub mod sequence;

mod alignments;
mod brand;
mod calendar;
pub mod document;
mod folder;
mod html;
mod jpeg;
#[cfg(feature = "paper")]
mod paper;
mod sequence_page;
#[cfg(feature = "video")]
mod video;

pub use alignments::{Alignment, Landmark, alignments};
pub use brand::{Brand, BrandError, LogoFile};
pub use calendar::calendar;
pub use deliver::{
    CardError, MOST_STANCES, PAGE_NAME, PAPER_NAME, SheetError, client_sheet, field_card, is_of_a_sheet,
};
pub use folder::{FolderError, NewFolder, check_folder};
pub use html::LARGEST_PAGE_BYTES;
pub use jpeg::PackError;
#[cfg(feature = "paper")]
pub use paper::PaperError;
#[cfg(feature = "video")]
pub use video::VideoError;

use crate::place::{Day, Geographic, TangentPlane};
use crate::site::Site;
use crate::still::Look;
use crate::units::Units;

/// The plane in which a site's metres lie on the Earth; `None` for a site without an anchor.
pub fn plane_of(site: &Site) -> Option<TangentPlane> {
    let anchor = site.anchor.as_ref()?;
    // A site that was checked has an anchor that is a place.
    Geographic::from_degrees(anchor.latitude_deg, anchor.longitude_deg, anchor.height_m).ok().map(TangentPlane::new)
}

/// What a card or a sheet is made for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DocumentSettings {
    /// The day it is for: it decides how far the compass needle is off.
    pub day: Day,
    /// The unit of its lengths.
    pub units: Units,
    /// What the site is shown as in a sheet's pictures; a card's are always of card.
    pub look: Look,
}
