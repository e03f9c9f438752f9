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
mod card;
mod day_page;
pub mod document;
mod folder;
mod html;
mod jpeg;
pub mod page;
#[cfg(feature = "paper")]
mod paper;
mod planned;
mod sequence_page;
mod sheet;
mod shots;
mod told;
#[cfg(feature = "video")]
mod video;
mod words;

pub use alignments::{Alignment, Landmark, alignments};
pub use brand::{Brand, BrandError, LogoFile};
pub use calendar::calendar;
pub use card::{CardError, CardRequest, FieldCard, LinedUp, Setting, field_card};
pub use day_page::{DayPages, DayPagesError, DayRequest};
pub use deliver::{PAGE_NAME, PAPER_NAME, is_of_a_sheet};
pub use folder::{FolderError, NewFolder, check_folder};
pub use html::LARGEST_PAGE_BYTES;
pub use jpeg::PackError;
#[cfg(feature = "paper")]
pub use paper::PaperError;
pub use sheet::{
    AccessLine, AccessSign, ClientSheet, Decision, Figures, MOST_STANCES, Received, Shape, SheetError, SheetOrder,
    SheetRequest, Standpoint, Taken, client_sheet,
};
#[cfg(feature = "video")]
pub use video::VideoError;
pub use words::{PageWords, WordsError};

use std::sync::Arc;

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
#[derive(Clone, Debug, PartialEq)]
pub struct DocumentSettings {
    /// The day it is for: it decides how far the compass needle is off.
    pub day: Day,
    /// The unit of its lengths.
    pub units: Units,
    /// What the site is shown as in a sheet's pictures; a card's are always of card.
    pub look: Look,
    /// The language that it speaks.
    pub words: Arc<PageWords>,
}

impl DocumentSettings {
    /// In English, in metres, of card.
    pub fn on(day: Day) -> Self {
        Self { day, units: Units::M, look: Look::Card, words: Arc::default() }
    }
}
