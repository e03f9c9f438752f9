//! How is the whole window drawn?

use bevy_egui::egui::{self, LayerId, Ui, UiBuilder};

use crate::viewer::state::desk::Desk;

use super::context::PanelContext;
use super::finder_picture::FinderPicture;
use super::layout;
use super::panels::{Panels, WindowOutput};

impl Panels {
    /// Draws the whole window.
    pub fn window_ui(
        &mut self,
        context: &egui::Context,
        desk: &Desk,
        picture: Option<&dyn FinderPicture>,
    ) -> WindowOutput {
        let builder = UiBuilder::new().layer_id(LayerId::background()).max_rect(context.content_rect());
        let mut ui = Ui::new(context.clone(), egui::Id::new("window"), builder);
        self.ui(&mut ui, desk, picture)
    }

    /// Draws the whole window into the root of one.
    pub fn ui(&mut self, ui: &mut Ui, desk: &Desk, picture: Option<&dyn FinderPicture>) -> WindowOutput {
        let context = ui.ctx().clone();
        if !self.has_fonts {
            self.apply_style(&context, desk);
            // Type is there from the next frame on.
            context.request_repaint();
            return WindowOutput::default();
        }
        self.apply_style(&context, desk);
        let style = self.style(&context, desk);
        ui.set_style(context.global_style());
        let panel = PanelContext { desk, style, as_set: self.as_set };
        layout::window(self, ui, &panel, picture)
    }
}
