//! What is done in the background? Each job is a function of plain inputs, and its outcome comes back to the store.

pub(super) mod doubt;
pub(super) mod exact;
pub(super) mod light;
pub(super) mod prepare;
pub(super) mod search;
pub(super) mod thumbnail;
pub(super) mod tolerance;
pub(super) mod underlay;
pub(super) mod write;

use crate::bring::Brought;
use crate::handover::deliver::Prepared;
use crate::still::Picture;
use crate::ways::Ways;

use super::dialog::{Chosen, PathQuestion};
use super::opening::{OpenError, Opened};
use doubt::FoundDoubt;
use light::{FoundDay, FoundYear, NextLight};
use search::{SearchFailure, Searched};
use thumbnail::ThumbnailKey;
use tolerance::FoundTolerances;
use underlay::{LaidPicture, PictureLevels};
use write::{DeliveryOutcome, StillFiles};

/// What a job comes to.
pub(super) enum Outcome {
    /// A site that the person opens.
    Opened(Result<Opened, OpenError>),
    /// The site that is shown, whose file has changed; whether it says what it said before.
    Reloaded {
        /// The site as it is now.
        opened: Box<Result<Opened, OpenError>>,
        /// Whether it says what it said before.
        unchanged: bool,
    },
    /// What the person chose in a dialog.
    Chosen(PathQuestion, Chosen),
    /// A still; nothing where it was stopped.
    Captured(Result<Option<StillFiles>, String>),
    /// A small picture.
    Thumbnail(Box<(ThumbnailKey, Option<Picture>)>),
    /// The finder's picture in its materials; nothing where it was stopped.
    Exact(Option<Picture>),
    /// How exactly one must stand.
    Tolerances(Box<FoundTolerances>),
    /// What the uncertainty of the subject's height comes to.
    Doubt(Box<FoundDoubt>),
    /// What files of footprints or heights hold, or why they cannot be read.
    Brought(Box<Result<Brought, String>>),
    /// The light of a day.
    DayLight(Box<FoundDay>),
    /// The light of a year.
    YearLight(Box<FoundYear>),
    /// The next moment with the light that was asked for.
    NextLight(Box<NextLight>),
    /// The ways to straighten it from here.
    Ways(Box<Result<Ways, String>>),
    /// A search.
    Searched(Result<Searched, SearchFailure>),
    /// A picture from above that was laid, or why it was not.
    PictureLaid(Box<Result<LaidPicture, String>>),
    /// The picture from above of the site that is shown, or why it cannot be read.
    UnderlayRead(Box<Result<PictureLevels, String>>),
    /// Something prepared; nothing where it was stopped.
    Prepared(Option<Result<Prepared, String>>),
    /// Something written.
    Written(DeliveryOutcome),
}
