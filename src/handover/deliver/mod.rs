//! How does something leave the program: made, then written whole under its name, or not at all?
//!
//! The one way out, for the command line and the window alike. What is asked for is a [`DeliveryRequest`], where it goes a
//! [`Destination`]; what is there already is never written over unasked, and comes back as [`DeliveryError::InTheWay`].

mod destination;
mod error;
mod kind;
mod write;

pub use destination::{Destination, IfExists};
pub use error::{DeliveryError, InTheWay};
pub use kind::{
    ComparisonForm, DayForm, DeliveryChoice, DeliveryForm, DeliveryKind, DeliveryOptions, DeliveryRequest, PAGE_NAME,
    PAPER_NAME, PageForm, Prepared, RequestError, StancesTaken, file_stem, is_of_a_sheet, record_beside,
};
pub use write::{Delivered, DeliveredContent, deliver};
