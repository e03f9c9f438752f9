//! In which colours are the things of the plan drawn?

use bevy_egui::egui::Color32;

use crate::site::Access;

use super::super::style::WindowStyle;

/// The colour of an access.
pub(super) fn access_colour(style: &WindowStyle, access: Access) -> Color32 {
    match access {
        Access::Open => style.open(),
        Access::Ask => style.ask(),
        Access::Closed => style.soft(),
    }
}
