//! How do the ways stand in a file? As JSON, metric, angles in degrees.

use schemars::JsonSchema;
use serde::Serialize;

use crate::angle::Angle;
use crate::record::{FinalPictureRecord, VerdictRecord};
use crate::site::Stance;
use crate::units::Units;

use super::{Equipment, Figures, Way, Ways};

/// Every way from one stance.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct WaysRecord {
    /// The site's name.
    pub site: String,
    /// The stance.
    pub stance: Stance,
    /// The verdict on it, and what to do.
    pub verdict: VerdictRecord,
    /// What is handed over of it.
    pub final_picture: Option<FinalPictureRecord>,
    /// What it amounts to as it is.
    #[serde(rename = "home")]
    pub stance_figures: FiguresRecord,
    /// Whether the subject is whole in its frame.
    #[serde(rename = "home_whole")]
    pub stance_whole: bool,
    /// The share of the subject's facing surface in its frame.
    #[serde(rename = "home_in_frame_share")]
    pub stance_in_frame_share: Option<f64>,
    /// How far was walked at most.
    pub farthest_walk_m: f64,
    /// The ways, the best first.
    pub ways: Vec<WayRecord>,
    /// The best place on foot for each lens of the bag, in the same order.
    pub by_lens: Vec<WayRecord>,
}

/// One way.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct WayRecord {
    /// What kind of way it is.
    pub kind: String,
    /// What is done, in words.
    pub way: String,
    /// What comes of it: upright, cut, hidden, better, same, worse or not_here.
    pub outcome: String,
    /// Whether its picture is upright, in parts; null where there is none.
    pub verdict: Option<VerdictRecord>,
    /// The picture that is handed over, or why there is none; null where the way is none.
    pub final_picture: Option<FinalPictureRecord>,
    /// What it amounts to; null where there is no such picture.
    pub figures: Option<FiguresRecord>,
    /// How far to walk; null where nobody walks.
    pub walk_m: Option<f64>,
    /// How much higher the camera comes.
    pub climb_m: f64,
    /// What is needed that the stance does not have.
    pub kit: Vec<String>,
    /// Whom to ask.
    pub ask: Vec<String>,
    /// What else to know.
    pub remarks: Vec<String>,
    /// The stance to take up, as in a site file; null where the way is none.
    pub stance: Option<Stance>,
}

/// The one currency.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct FiguresRecord {
    /// By how much the subject converges toward its top; negative where it diverges.
    pub convergence_deg: Option<f64>,
    /// The largest lean of the subject's verticals.
    #[serde(rename = "worst_lean_deg")]
    pub largest_lean_deg: Option<f64>,
    /// Whether that reads as upright.
    pub reads_upright: Option<bool>,
    /// The largest lean of anything in view.
    #[serde(rename = "worst_lean_in_view_deg")]
    pub largest_lean_in_picture_deg: Option<f64>,
    /// The detail at the worst visible point of the subject.
    pub detail_px_per_m: Option<f64>,
    /// How much of the subject a pixel covers there.
    pub detail_mm_per_px: Option<f64>,
    /// Pixels of the final picture, in millions; null where it cannot be straightened.
    pub megapixels: Option<f64>,
    /// The share of the subject's facing surface with a free line.
    pub visible_share: Option<f64>,
    /// The elevation at which the head is seen.
    #[serde(rename = "head_elevation_deg")]
    pub top_elevation_deg: Option<f64>,
    /// The plan distance to the subject.
    pub distance_m: Option<f64>,
}

impl From<&Figures> for FiguresRecord {
    fn from(figures: &Figures) -> Self {
        Self {
            convergence_deg: figures.convergence.map(Angle::degrees),
            largest_lean_deg: figures.largest_lean.map(Angle::degrees),
            reads_upright: figures.reads_upright,
            largest_lean_in_picture_deg: figures.largest_in_picture.map(Angle::degrees),
            detail_px_per_m: figures.detail.map(|detail| detail.px_per_m),
            detail_mm_per_px: figures.detail.map(|detail| detail.mm_per_px()),
            megapixels: figures.megapixels(),
            visible_share: figures.visible_share,
            top_elevation_deg: figures.top_elevation.map(Angle::degrees),
            distance_m: figures.distance_m,
        }
    }
}

impl From<&Way> for WayRecord {
    fn from(way: &Way) -> Self {
        let metres = |metres: f64, digits: usize| format!("{metres:.digits$} m");
        Self {
            kind: way.remedy.key().into(),
            way: way.remedy.words(),
            outcome: way.outcome.key().into(),
            verdict: way.verdict.as_ref().map(VerdictRecord::of),
            final_picture: way.figures.and_then(|figures| figures.final_picture).as_ref().map(FinalPictureRecord::of),
            figures: way.figures.as_ref().map(FiguresRecord::from),
            walk_m: way.effort.walk_m,
            climb_m: way.effort.climb_m,
            kit: way.effort.kit.iter().map(Equipment::words).collect(),
            ask: way.effort.ask.clone(),
            remarks: way.remarks.iter().map(|remark| remark.words(&metres)).collect(),
            stance: way.stance.clone(),
        }
    }
}

impl WaysRecord {
    /// Writes the ways down.
    pub fn of(site: &str, stance: &Stance, ways: &Ways) -> Self {
        Self {
            site: site.into(),
            stance: stance.clone(),
            verdict: VerdictRecord { sentence: ways.sentence(Units::M), ..VerdictRecord::of(&ways.verdict) },
            final_picture: ways.stance_figures.final_picture.as_ref().map(FinalPictureRecord::of),
            stance_figures: (&ways.stance_figures).into(),
            stance_whole: ways.verdict.whole_in_frame,
            stance_in_frame_share: ways.stance_in_frame,
            farthest_walk_m: ways.farthest_walk_m,
            ways: ways.rows.iter().map(WayRecord::from).collect(),
            by_lens: ways.by_lens.iter().map(WayRecord::from).collect(),
        }
    }

    /// As JSON, its fields in order, two spaces a level.
    pub fn to_json(&self) -> String {
        serde_json::to_string_pretty(self).expect("every number is finite or null, every key is text")
    }
}
