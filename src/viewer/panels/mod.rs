//! What stands in the window? Instruments and cards, each in a file of its own, laid out by the desk one sits at.
//!
//! Panels read the [`Desk`] and answer with [`Action`]s; they compute no number that they show, and know nothing of the
//! engine.

mod barrel;
mod camera;
mod compare;
mod compass;
mod draw;
mod figures;
mod finder;
mod guide;
mod handover;
mod help;
mod layout;
mod lens;
mod level;
mod look;
mod notices;
mod opening;
mod place;
mod plan;
mod presets;
mod prints;
mod readings;
mod slack;
mod staff;
mod sun;
mod table;
mod top;

use bevy_egui::egui::{self, LayerId, Ui, UiBuilder};

use super::desk::{Action, Desk};

pub use place::{FinderPicture, FinderPlace};

/// What the panels keep between frames: nothing that is worth saving.
#[derive(Default)]
pub struct Panels {
    dressed: Option<look::Look>,
    typed: bool,
    tracing: finder::Tracing,
    drawings: plan::Drawings,
    handling: prints::Handling,
    axes: compare::Axes,
    typing: opening::Typing,
    editing: Option<presets::Editing>,
    newest: notices::Newest,
    fold: layout::Fold,
}

impl std::fmt::Debug for Panels {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Panels").finish_non_exhaustive()
    }
}

/// What the window asks for after it was drawn.
#[derive(Debug, Default)]
pub struct Wanted {
    /// What was done, in order.
    pub actions: Vec<Action>,
    /// Where the finder is, while it is on the table.
    pub finder: Option<FinderPlace>,
}

impl Panels {
    /// Draws the whole window.
    pub fn window_ui(
        &mut self,
        context: &egui::Context,
        desk: &Desk,
        picture: Option<&dyn FinderPicture>,
    ) -> Wanted {
        let builder = UiBuilder::new().layer_id(LayerId::background()).max_rect(context.content_rect());
        let mut ui = Ui::new(context.clone(), egui::Id::new("window"), builder);
        self.ui(&mut ui, desk, picture)
    }

    /// Draws the whole window into the root of one.
    pub fn ui(&mut self, ui: &mut Ui, desk: &Desk, picture: Option<&dyn FinderPicture>) -> Wanted {
        let context = ui.ctx().clone();
        let settings = desk.settings();
        let look = look::Look::for_window(settings.theme, context.content_rect().size(), settings.less_motion);
        if !self.typed {
            look::dress_type(&context);
            self.typed = true;
            // Type is there from the next frame on.
            context.request_repaint();
            return Wanted::default();
        }
        if self.dressed != Some(look) {
            look::dress_style(&context, &look);
            self.dressed = Some(look);
        }
        ui.set_style(context.global_style());
        let table = table::Table { desk, look };
        layout::window(self, ui, &table, picture)
    }
}
