//! What do the panels keep between frames, and what do they ask for?

use bevy_egui::egui;

use crate::viewer::render::finder_mesh::FinderPlace;
use crate::viewer::render::narrow::screen;
use crate::viewer::state::desk::{Action, Desk};

use super::build::state::BuildState;
use super::{
    answer, compare, criteria, finder, handover, notices, plan, presets, preview, prints, search_map, site, style, ways,
};

/// Which card has the one free place where there is room for one only.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum WalkPart {
    /// The instruments.
    #[default]
    Camera,
    /// The verdict and the readings.
    Readings,
    /// Plan and section.
    Plan,
    /// Decks and saved stances.
    Ways,
    /// Prints and captures.
    Prints,
}

impl WalkPart {
    pub(super) const ALL: [(Self, &'static str); 5] = [
        (Self::Camera, "Camera"),
        (Self::Readings, "Verdict"),
        (Self::Plan, "Plan"),
        (Self::Ways, "Ways"),
        (Self::Prints, "Prints"),
    ];
}

/// Which part of the Search desk is shown in a small window.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum SearchPart {
    /// The requirements.
    #[default]
    Criteria,
    /// The plan with the map.
    Map,
    /// What was found.
    Results,
}

/// What the panels keep between frames: nothing that is worth saving.
#[derive(Default)]
pub struct Panels {
    pub(super) applied: Option<style::WindowStyle>,
    /// Whether the window has its type.
    pub(super) has_fonts: bool,
    pub(super) overlay: finder::OverlayCache,
    pub(super) drawings: plan::Drawings,
    pub(super) prints: prints::PrintsState,
    pub(super) compare: compare::CompareState,
    pub(super) typed_path: site::TypedPath,
    pub(super) heights: Option<presets::HeightsEditing>,
    pub(super) newest_notice: notices::NewestNotice,
    pub(super) walk_part: WalkPart,
    pub(super) search_map: search_map::MapLayer,
    pub(super) criteria: criteria::CriteriaTyping,
    pub(super) results: answer::ResultsState,
    pub(super) search_part: SearchPart,
    pub(super) delivery: handover::DeliveryState,
    pub(super) preview: preview::PreviewPages,
    pub(super) ways: ways::WaysState,
    /// Whether the tolerance is that of a camera as it was set.
    pub(super) as_set: bool,
    pub(super) build: BuildState,
    /// Whether the section is shown instead of the plan.
    pub(super) section: bool,
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

impl Panels {
    pub(super) fn style(&self, context: &egui::Context, desk: &Desk) -> style::WindowStyle {
        let settings = desk.settings();
        let size = context.content_rect().size();
        style::WindowStyle::for_window(settings.theme, size, screen(settings.text_size), settings.less_motion)
    }

    /// Gives the window its type and colours where it does not wear them yet.
    pub fn apply_style(&mut self, context: &egui::Context, desk: &Desk) {
        if !self.has_fonts {
            style::set_fonts(context);
            // The keys that make the text larger are the window's own, and its size is kept with the settings.
            context.options_mut(|options| options.zoom_with_keyboard = false);
            self.has_fonts = true;
        }
        let style = self.style(context, desk);
        if self.applied != Some(style) {
            style::set_egui_style(context, &style);
            self.applied = Some(style);
        }
    }
}
