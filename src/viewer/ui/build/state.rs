//! What does the Build desk remember between frames?

use crate::site::{ContourLine, PlanPoint};
use crate::viewer::state::desk::SiteChange;

use super::answers::NewSiteAnswers;
use super::fields::Typing;
use super::hands::{Drag, Held};
use super::inputs::{RepeatInput, SlopeInput};
use super::underlay_state::UnderlayState;
use super::work_out::WorkOut;

/// What the Build desk remembers between frames: nothing that is worth saving.
pub(in crate::viewer::ui) struct BuildState {
    /// What the hand holds, to be set down or drawn with.
    pub(super) held: Held,
    /// What a hand is dragging.
    pub(super) drag: Option<Drag>,
    /// The corners that are drawn so far of a ground or a wall.
    pub(super) outline: Vec<PlanPoint>,
    /// Between which places was measured last.
    pub(super) measured: Option<[PlanPoint; 2]>,
    /// The distance between lines of the grid; 0 for none.
    pub(super) grid_m: f64,
    /// A number or name that is being typed.
    pub(super) typing: Option<Typing>,
    /// A height while its mark is pulled.
    pub(super) pulling: Option<SiteChange>,
    /// The answers to the four questions, while they are asked.
    pub(super) new_site: Option<NewSiteAnswers>,
    /// What the sheet is to show in its middle.
    pub(super) show_at: Option<PlanPoint>,
    /// Where the mark of the steps is dragged to.
    pub(super) step: Option<usize>,
    /// Readings for a height that nobody knows.
    pub(super) work_out: WorkOut,
    /// Lines of equal height that are drawn, before the ground is shaped by them.
    pub(super) contours: Vec<ContourLine>,
    /// Why the time zone that was typed last is none.
    pub(super) zone_fault: Option<String>,
    /// Three heights of the ground.
    pub(super) slope: SlopeInput,
    /// The picture from above.
    pub(super) underlay: UnderlayState,
    /// How things are repeated along a line.
    pub(super) repeat: RepeatInput,
}

impl Default for BuildState {
    fn default() -> Self {
        Self {
            held: Held::Nothing,
            drag: None,
            outline: Vec::new(),
            measured: None,
            grid_m: 0.25,
            typing: None,
            pulling: None,
            new_site: None,
            show_at: None,
            step: None,
            work_out: WorkOut::default(),
            contours: Vec::new(),
            zone_fault: None,
            slope: SlopeInput::default(),
            underlay: UnderlayState::default(),
            repeat: RepeatInput::default(),
        }
    }
}
