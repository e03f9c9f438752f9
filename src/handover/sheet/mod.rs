//! What does the client see? One recommendation with its reason, and what else there is to know and to decide.

mod build;
mod choose;
mod content;
mod html;
mod pages;
mod plan;
mod wording;

pub use build::{MOST_STANCES, SheetError, SheetRequest, client_sheet};
pub use choose::SheetOrder;
pub use content::{AccessLine, AccessSign, ClientSheet, Decision, Figures, Received, Shape, Standpoint, Taken};
