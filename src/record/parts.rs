//! What do the parts of a record say?

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::appraise::{FinalPicture, SEEN_SHARE, SHORTEST_STRETCH};
use crate::light::{Moment, PlannedLight};
use crate::optics::{Distortion, Mapping, Orientation};
use crate::site::{PlanPoint, Stance, Sun};
use crate::still::{Depth, Look, Surround};
use crate::theme::Theme;
use crate::units::Units;
use crate::verdict::Verdict;
use crate::verticals::StraightenFailure;

/// What becomes of the verdict if the subject is taller or shorter than the model says.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct IfTallerRecord {
    /// The height of the block whose height is most uncertain.
    pub height_m: f64,
    /// Its standard uncertainty.
    pub height_pm_m: f64,
    /// By how much it is taller where the verdict first changes; null where it does not within the uncertainty.
    pub taller_by_m: Option<f64>,
    /// By how much it is shorter where the verdict first changes; null where it does not within the uncertainty.
    pub shorter_by_m: Option<f64>,
    /// What changes, in sentences.
    pub sentences: Vec<String>,
}

/// Whether a picture is upright, in parts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct VerdictRecord {
    /// What is wrong, and, where ways were looked for, the cheapest mend and the best one.
    pub sentence: String,
    /// Whether the subject's largest lean is at most the threshold; null where it has no outline from here.
    pub subject_upright: Option<bool>,
    /// Whether the largest lean of the whole picture is at most the threshold; null where nobody looked.
    pub picture_upright: Option<bool>,
    /// Whether the frame holds all of the subject.
    pub whole_in_frame: bool,
    /// Of the subject's surface that faces the camera, the share with a free line; null where nobody looked.
    pub seen_share: Option<f64>,
    /// Whether the subject is seen, whole and upright, and the whole picture with it.
    pub upright: bool,
    /// What does not hold, what matters most first.
    pub why: Vec<String>,
}

impl VerdictRecord {
    /// Writes a verdict down.
    pub fn of(verdict: &Verdict) -> Self {
        Self {
            sentence: format!("{}.", verdict.headline(Units::M)),
            subject_upright: verdict.subject_upright,
            picture_upright: verdict.picture_upright,
            whole_in_frame: verdict.whole_in_frame,
            seen_share: verdict.seen_share,
            upright: verdict.upright,
            why: verdict.why(Units::M),
        }
    }
}

/// The picture that is handed over.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FinalPictureRecord {
    /// Whether it is straightened; null where there is no such picture.
    pub straightened: Option<bool>,
    /// Its pixels, in millions.
    pub megapixels: Option<f64>,
    /// The lowest detail on the subject in it.
    pub lowest_detail_px_per_m: Option<f64>,
    /// Width and height of its largest print at 300 pixels an inch.
    pub print_mm: Option<[f64; 2]>,
    /// Whether the subject keeps its margins.
    pub margins_kept: Option<bool>,
    /// What it would have without margins, in millions of pixels.
    pub megapixels_without_margins: Option<f64>,
    /// Why there is no such picture.
    pub why_not: Option<String>,
}

/// The resolution of prints that are told where nobody sets another (common practice, no source).
pub const PRINT_PPI: f64 = 300.0;

impl FinalPictureRecord {
    /// Writes a final picture down, or why there is none.
    pub fn of(picture: &Result<FinalPicture, StraightenFailure>) -> Self {
        let kept = picture.as_ref().ok();
        Self {
            straightened: kept.map(|kept| kept.straightened),
            megapixels: kept.map(FinalPicture::megapixels),
            lowest_detail_px_per_m: kept.and_then(|kept| kept.lowest_detail).map(|detail| detail.px_per_m),
            print_mm: kept.map(|kept| kept.print_mm(PRINT_PPI)).map(|(width_mm, height_mm)| [width_mm, height_mm]),
            margins_kept: kept.map(|kept| kept.margins_kept),
            megapixels_without_margins: kept.map(|kept| kept.megapixels_without_margins),
            why_not: picture.as_ref().err().map(StraightenFailure::words),
        }
    }
}

/// By which measures a stance was measured.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MeasuresRecord {
    /// The largest lean that reads as upright.
    pub upright_deg: f64,
    /// The shortest visible stretch that counts for the whole picture's lean, as a share of the frame's height.
    #[serde(default = "shortest_stretch")]
    pub shortest_stretch: f64,
    /// The share of the subject that counts as seen.
    #[serde(default = "seen_share")]
    pub seen_share: f64,
    /// The lowest detail that is wanted; null where none is.
    #[serde(default)]
    pub wanted_detail_px_per_m: Option<f64>,
    /// The share of the tilt that straightening leaves in.
    pub tilt_left: f64,
    /// Width over height wanted of the straightened picture; null for the frame's own.
    pub proportion: Option<f64>,
    /// The change of lean by which the tolerance is measured; null where nobody asked for it.
    #[serde(rename = "slack_tolerance_deg")]
    pub lean_change_deg: Option<f64>,
}

const fn shortest_stretch() -> f64 {
    SHORTEST_STRETCH
}

const fn seen_share() -> f64 {
    SEEN_SHARE
}

/// How a picture was made; with the stance it gives the same picture again, byte for byte.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PictureRecord {
    /// The picture's file.
    pub file: String,
    /// Pixels across and down.
    pub pixels: [u32; 2],
    /// Rays a pixel.
    pub samples: u32,
    /// What the site is shown as; card where the record is older than the choice.
    #[serde(default)]
    pub look: Look,
    /// Whether contour lines and inked edges are drawn in the materials look too.
    #[serde(default)]
    pub lines: bool,
    /// The colours of the card look.
    pub theme: Theme,
    /// Whether verticals, sides, horizon and vanishing point are drawn over it.
    pub overlay: bool,
    /// Whether the depth of field of the f-number and focus set is shown.
    pub depth_of_field: bool,
    /// Where people stand for scale: metres east and north.
    pub people: Vec<PlanPoint>,
    /// Whether people, a bicycle, a car and a van stand about the foot of the subject.
    #[serde(default)]
    pub company: bool,
    /// The moment it is planned for, by ISO 8601; null where none was given.
    pub moment: Option<String>,
    /// What is shown where the sky would be.
    #[serde(default)]
    pub surround: Surround,
    /// How finely its colours are told.
    #[serde(default)]
    pub depth: Depth,
    /// Whether the edge of the final picture is drawn over it.
    #[serde(default)]
    pub crop: bool,
    /// Whether the final picture stands beside it.
    #[serde(default)]
    pub before_after: bool,
    /// Whether all rays were looked along where one would tell, as all pictures before the sixth format were.
    #[serde(default)]
    pub every_ray: bool,
    /// SHA-256 of the bytes of the picture's file; null where the record is older than that, or the picture not taken yet.
    #[serde(default)]
    pub sha256: Option<String>,
}

/// The moment that a picture is planned for, with its light.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlannedRecord {
    /// What the clocks of the site show, with their offset from universal time (RFC 3339).
    pub moment: String,
    /// The site's time zone, by its IANA name.
    pub time_zone: String,
    /// Where the sun stands, as the air shows it.
    pub sun: Sun,
    /// The sun's altitude without the air.
    pub true_altitude_deg: f64,
    /// The face that the picture is of: its block and the bearing it looks along; null without a subject.
    pub face: Option<String>,
    /// Its light: lit, grazing, shaded, away or night.
    pub light: Option<String>,
    /// The angle between the sun and square to the face.
    pub incidence_deg: Option<f64>,
    /// The share of the face that the sun is on, from 0 to 1.
    pub lit_share: Option<f64>,
    /// From which side the light comes: front, left, right or back; null while the sun is down.
    pub light_from: Option<String>,
    /// The risk of stray light in the lens: none, some, likely, or in_frame where the sun is in the picture.
    pub stray_light: String,
}

impl PlannedRecord {
    pub(super) fn of(planned: &PlannedLight) -> Self {
        let light = planned.face.as_ref().map(|(_, light)| light);
        Self {
            moment: planned.clock.clone(),
            time_zone: planned.zone.clone(),
            sun: planned.sun.seen(),
            true_altitude_deg: planned.sun.true_altitude.degrees(),
            face: planned.face.as_ref().map(|(name, _)| name.clone()),
            light: light.map(|light| light.light.key().to_owned()),
            incidence_deg: light.map(|light| light.incidence.degrees()),
            lit_share: light.map(|light| light.lit_share),
            light_from: planned.side.map(|side| side.key().to_owned()),
            stray_light: planned.in_picture.flare.key().to_owned(),
        }
    }

    /// The moment; `None` where somebody has made it none.
    pub fn moment(&self) -> Option<Moment> {
        Moment::of_rfc3339(&self.moment)
    }
}

/// Which site a record belongs to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SiteMark {
    /// The site's name.
    pub name: String,
    /// The file it was read from.
    pub file: String,
    /// SHA-256 of the file's bytes.
    pub sha256: String,
    /// How high the water stood, in metres of the site, where a tide table said so and not the file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub water_level_m: Option<f64>,
}

/// Where the camera is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StanceRecord {
    /// The stance as it was described; taking it up again on the same site gives this record again.
    pub described: Stance,
    /// The eye: metres east, north and up.
    pub eye_m: [f64; 3],
    /// Clockwise from true north.
    pub heading_deg: f64,
    /// Above the horizon.
    pub pitch_deg: f64,
    /// Clockwise as seen from behind the camera.
    pub roll_deg: f64,
    /// "ground", "water", or the deck's name; null for an eye given by its own height.
    pub stands_on: Option<String>,
    /// The height of what the feet stand on.
    pub feet_m: Option<f64>,
    /// The eye above the feet.
    pub height_m: Option<f64>,
    /// How much of the frame within its margins the subject takes: 1 touches them.
    pub fullness: Option<f64>,
}

/// What the camera is and how it is set.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CameraRecord {
    /// The format by name.
    pub format: String,
    /// How it is held.
    pub orientation: Orientation,
    /// Width and height of the upright picture.
    pub format_mm: [f64; 2],
    /// Width and height of the upright picture.
    pub pixels: [u32; 2],
    /// The lens by name.
    pub lens: String,
    /// The focal length set.
    pub focal_mm: f64,
    /// The focal length with the same diagonal angle of view on 36×24 mm.
    pub equivalent_focal_mm: f64,
    /// The lens moved up.
    pub rise_mm: f64,
    /// The lens moved right.
    #[serde(rename = "lateral_shift_mm")]
    pub shift_mm: f64,
    /// The lens's radial law.
    pub mapping: Mapping,
    /// k1, k2, p1, p2, k3, k4, k5, k6.
    pub distortion: Distortion,
    /// Angles of view across, down and along the diagonal, unshifted.
    pub field_deg: [Option<f64>; 3],
    /// The image circle the lens must cover.
    pub needed_circle_mm: f64,
    /// The image circle the lens has, where it is known.
    pub lens_circle_mm: Option<f64>,
    /// The f-number.
    pub f_number: f64,
    /// The distance focused on, along the axis; null at infinity.
    pub focus_m: Option<f64>,
    /// The nearest sharp distance.
    pub sharp_from_m: f64,
    /// The farthest sharp distance; null where it reaches infinity.
    pub sharp_to_m: Option<f64>,
    /// The hyperfocal distance.
    pub hyperfocal_m: f64,
    /// The diameter of the Airy disc, in pixels.
    pub airy_disc_px: f64,
}

/// One line of the site and how it is drawn.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LineRecord {
    /// The block it belongs to.
    pub block: String,
    /// Whether the block is part of the subject.
    pub subject: bool,
    /// Its base: metres east, north and up.
    #[serde(rename = "foot_m")]
    pub base_m: [f64; 3],
    /// Its top.
    #[serde(rename = "head_m")]
    pub top_m: [f64; 3],
    /// Where the base is drawn, inside the frame or not; null where it is drawn nowhere.
    #[serde(rename = "foot_px")]
    pub base_px: Option<[f64; 2]>,
    /// Where the top is drawn, inside the frame or not; null where it is drawn nowhere.
    #[serde(rename = "head_px")]
    pub top_px: Option<[f64; 2]>,
    /// The ends of its part inside the frame, lower first; null where none is.
    pub in_frame_px: Option<[[f64; 2]; 2]>,
    /// The lean of its part in the frame, as drawn; null where none is.
    pub lean_deg: Option<f64>,
    /// The lean in the ideal rectilinear picture; null where all of it is behind the camera or it runs through the eye.
    pub ideal_lean_deg: Option<f64>,
    /// How far it bends off its chord, outwards positive, in % of the picture's height.
    #[serde(rename = "bow_percent")]
    pub line_bend_percent: Option<f64>,
    /// Whether any of it can be seen in the frame; null where nobody looked.
    pub visible: Option<bool>,
    /// Why something above is null.
    pub why: Option<String>,
}

/// What is measured of the subject.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SubjectRecord {
    /// The blocks it is made of.
    pub blocks: Vec<String>,
    /// lean(right) − lean(left) of the plumb lines that bound it: positive where they converge toward the top.
    pub convergence_deg: Option<f64>,
    /// Why there is no convergence.
    pub why: Option<String>,
    /// The leans of those two plumb lines, left and right.
    pub bounding_leans_deg: Option<[f64; 2]>,
    /// The largest lean of its verticals.
    #[serde(rename = "worst_lean_deg")]
    pub largest_lean_deg: Option<f64>,
    /// Whether that reads as upright.
    pub reads_upright: Option<bool>,
    /// The threshold by which it does.
    pub upright_threshold_deg: f64,
    /// The angle between its body's sides; null where they are plumb.
    #[serde(rename = "flank_closing_deg")]
    pub sides_convergence_deg: Option<f64>,
    /// Width at the top over width at the base, in the picture.
    pub seen_taper: Option<f64>,
    /// The same in the levelled picture from here.
    pub shape_taper: Option<f64>,
    /// The same in the model.
    pub nominal_taper: Option<f64>,
    /// seen / shape.
    pub tilt_factor: Option<f64>,
    /// Of its surface that faces the camera, the share with a free line.
    pub visible_share: Option<f64>,
    /// Of its surface that faces the camera, the share inside the frame.
    pub in_frame_share: Option<f64>,
    /// The elevation of its top above the camera's horizon.
    #[serde(rename = "head_elevation_deg")]
    pub top_elevation_deg: Option<f64>,
    /// Pixels a metre.
    pub detail_px_per_m: DetailRecord,
    /// Millimetres of surface a pixel.
    pub detail_mm_per_px: DetailRecord,
    /// The side that the picture is of; null where none is named and no flat wall faces the camera, and in older records.
    #[serde(default)]
    pub front: Option<FrontRecord>,
    /// How far the heading is turned clockwise from squarely facing that side; null without one.
    pub off_square_deg: Option<f64>,
    /// The angle between the pictures of that face's top and base: positive where they converge to the right.
    pub horizontals_converge_deg: Option<f64>,
    /// The distance in plan to its nearest point.
    pub distance_m: Option<f64>,
}

/// The side of the subject that the picture is of.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FrontRecord {
    /// The block it belongs to.
    pub block: String,
    /// The compass bearing that it looks toward.
    pub toward_deg: f64,
    /// Whether the site names it, or it is the wall that is seen largest from here.
    pub named: bool,
    /// How far the camera stands aside of it: from its normal to the line of sight, clockwise.
    pub angle_deg: f64,
}

/// A figure at the named places of the subject.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DetailRecord {
    /// At its base, on the side that faces the camera.
    #[serde(rename = "foot")]
    pub base: Option<f64>,
    /// Halfway up.
    pub middle: Option<f64>,
    /// At its top.
    #[serde(rename = "head")]
    pub top: Option<f64>,
    /// The lowest at any visible place, surfaces seen flatter than 30° left out.
    #[serde(rename = "worst")]
    pub lowest: Option<f64>,
}

/// What straightening would keep.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StraightenedRecord {
    /// Whether the picture beside this record is the straightened one, and not as the stance takes it.
    #[serde(default)]
    pub pictured: bool,
    /// The share of the tilt left in.
    pub tilt_left: f64,
    /// Pixels kept, in millions.
    pub megapixels_kept: Option<f64>,
    /// Width and height kept.
    pub pixels: Option<[u32; 2]>,
    /// The least detail on the subject in the straightened picture.
    pub detail_kept_px_per_m: Option<f64>,
    /// Whether the subject keeps its margins.
    pub margins_kept: Option<bool>,
    /// The share of the subject's outline that the frame cuts off.
    pub subject_cut_share: f64,
    /// Why nothing is kept.
    pub why_not: Option<String>,
}

/// How far the stance may be off before its verdict changes; null where it does not matter within 50 m, or 45°.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ToleranceRecord {
    /// The change of lean that counts.
    #[serde(rename = "tolerance_deg")]
    pub lean_change_deg: f64,
    /// Left of the line to the subject.
    pub left_m: Option<f64>,
    /// Right of it.
    pub right_m: Option<f64>,
    /// Nearer.
    pub forward_m: Option<f64>,
    /// Farther.
    pub back_m: Option<f64>,
    /// Higher.
    pub up_m: Option<f64>,
    /// Lower.
    pub down_m: Option<f64>,
    /// Pitch, either way.
    pub pitch_deg: Option<f64>,
    /// Heading, either way.
    pub heading_deg: Option<f64>,
    /// Roll, either way.
    pub roll_deg: Option<f64>,
    /// What ends it in each direction: no_standing, hidden, cut, upright, lean or detail; absent where nothing does, and in older
    /// records.
    #[serde(default)]
    pub ends: BTreeMap<String, String>,
}
