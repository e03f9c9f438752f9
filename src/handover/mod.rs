//! What leaves the desk, for the field, the map and whoever pays?

pub mod capture;
pub mod compare;
pub mod deliver;
pub mod exif;
pub mod places;
pub mod sequence;

mod alignments;
mod brand;
mod card;
mod folder;
mod html;
#[cfg(feature = "paper")]
mod paper;
mod sheet;

pub use alignments::{Alignment, Landmark, alignments};
pub use brand::{Brand, BrandError, MarkFile};
pub use card::{CardError, FieldCard, Row, Section};
pub use folder::{FolderError, NewFolder, check_folder};
pub use html::PackError;
#[cfg(feature = "paper")]
pub use paper::PaperError;
pub use sheet::{
    ClientSheet, LARGEST_PAGE_BYTES, MOST_STANCES, PAGE_NAME, PAPER_NAME, SheetError, SheetPlace, is_of_a_sheet,
};

use crate::place::{Geographic, TangentPlane};
use crate::site::Site;

/// The plane in which a site's metres lie on the Earth; `None` for a site without an anchor.
pub fn plane_of(site: &Site) -> Option<TangentPlane> {
    let anchor = site.anchor.as_ref()?;
    // A site that was checked has an anchor that is a place.
    Geographic::from_degrees(anchor.latitude_deg, anchor.longitude_deg, anchor.height_m).ok().map(TangentPlane::new)
}
