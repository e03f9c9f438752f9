//! What stands in the window? Instruments and cards, each in a file of its own, laid out by the desk one sits at.
//!
//! Panels read the [`Desk`] and answer with [`Action`]s; they compute no number that they show, and know nothing of the
//! engine.

mod answer;
mod bindings;
mod camera;
mod chart;
mod compare;
mod compass;
mod context;
mod criteria;
mod draw;
mod figures;
mod finder;
mod finder_picture;
mod guide;
mod handover;
mod height_scale;
mod help;
pub(in crate::viewer) mod keys;
mod layout;
mod lens;
mod lens_scale;
mod level;
mod notices;
mod plan;
mod presets;
mod preview;
mod prints;
mod readings;
mod search_map;
mod site;
mod slider;
mod status;
mod style;
mod sun;
mod switches;
mod textures;
mod tolerance;
mod ways;

use bevy_egui::egui::{self, LayerId, Ui, UiBuilder};

use super::state::desk::{Action, Desk};

pub use super::render::finder_mesh::FinderPlace;
pub use finder_picture::FinderPicture;

/// What the panels keep between frames: nothing that is worth saving.
#[derive(Default)]
pub struct Panels {
    applied: Option<style::WindowStyle>,
    /// Whether the window has its type.
    has_fonts: bool,
    overlay: finder::OverlayCache,
    drawings: plan::Drawings,
    prints: prints::PrintsState,
    axes: compare::PlotAxes,
    typed_path: site::TypedPath,
    heights: Option<presets::HeightsEditing>,
    newest_notice: notices::NewestNotice,
    walk_part: layout::WalkPart,
    search_map: search_map::MapLayer,
    criteria: criteria::CriteriaTyping,
    results: answer::ResultsState,
    search_part: layout::SearchPart,
    delivery: handover::DeliveryState,
    preview: preview::PreviewPages,
    /// Whether places are shown instead of ways.
    decks: bool,
}

impl std::fmt::Debug for Panels {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Panels").finish_non_exhaustive()
    }
}

/// What the window asks for after it was drawn.
#[derive(Debug, Default)]
pub struct WindowOutput {
    /// What was done, in order.
    pub actions: Vec<Action>,
    /// Where the finder is, while it is on the table.
    pub finder: Option<FinderPlace>,
}

/// What of a frame's events is left to the keys that walk: while an instrument has the keyboard, it keeps those that turn
/// it.
pub fn without_focus_keys(context: &egui::Context, events: &[egui::Event]) -> Vec<egui::Event> {
    use egui::Key;
    let focused = context.memory(|memory| memory.focused());
    let held = focused.is_some_and(|id| id != egui::Id::new("finder"));
    let keeps = |key: &Key| {
        matches!(
            key,
            Key::ArrowDown
                | Key::ArrowLeft
                | Key::ArrowRight
                | Key::ArrowUp
                | Key::Backspace
                | Key::Delete
                | Key::End
                | Key::Enter
                | Key::Escape
                | Key::Home
                | Key::PageDown
                | Key::PageUp
                | Key::Space
                | Key::Tab
        )
    };
    let kept = |event: &egui::Event| matches!(event, egui::Event::Key { key, pressed: true, .. } if keeps(key));
    events.iter().filter(|event| !(held && kept(event))).cloned().collect()
}

impl Panels {
    fn style(&self, context: &egui::Context, desk: &Desk) -> style::WindowStyle {
        let settings = desk.settings();
        style::WindowStyle::for_window(settings.theme, context.content_rect().size(), settings.less_motion)
    }

    /// Gives the window its type and colours where it does not wear them yet.
    pub fn apply_style(&mut self, context: &egui::Context, desk: &Desk) {
        if !self.has_fonts {
            style::set_fonts(context);
            self.has_fonts = true;
        }
        let style = self.style(context, desk);
        if self.applied != Some(style) {
            style::set_egui_style(context, &style);
            self.applied = Some(style);
        }
    }

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
        let panel = context::PanelContext { desk, style };
        layout::window(self, ui, &panel, picture)
    }
}
