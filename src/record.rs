//! What must be written down so that the picture can be repeated and its figures checked?
//!
//! One type in RON and JSON. Lengths are metres on the site and millimetres in the camera, pixels run right and down from
//! the corner of the top left pixel, angles are degrees; leans are positive when the top leans left.

mod parts;

use schemars::JsonSchema;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::angle::Angle;
use crate::appraise::{Account, Measures, SEEN_SHARE, SHORTEST_STRETCH};
use crate::cautions::Caution;
use crate::light::PlannedLight;
use crate::optics::{PixelPoint, airy_disc_mm};
use crate::pose::WorldPoint;
use crate::site::{Model, Stance, Sun, Support};
use crate::stance::Standing;
use crate::tolerance::Tolerance;
use crate::verdict::Verdict;
use crate::verticals::{Detail, DrawnLine, LineKind, NotDrawn, READS_UPRIGHT_DEG};

pub use self::parts::{
    CameraRecord, DetailRecord, FinalPictureRecord, FrontRecord, IfTallerRecord, LineRecord, MeasuresRecord, PRINT_PPI,
    PictureRecord, PlannedRecord, SiteMark, StanceRecord, StraightenedRecord, SubjectRecord, ToleranceRecord,
    VerdictRecord,
};

/// The newest version of the record's format; older ones are read as well.
///
/// 1: as it began. 2: tells by which measures (`measured_by`) and, beside a picture, how it was made (`picture`). 3: names the
/// picture's fingerprint (`picture.sha256`). 4: tells the verdict and the final picture, and what counts as seen and as a line
/// of the picture. 5: tells what a picture shows the site as (`picture.look`, `picture.lines`, `picture.company`). 6: tells the
/// moment that it is planned for, with its light (`planned`), and of a picture its surround, its depth, its drawn crop and the
/// final picture beside it; pictures are drawn with fewer rays since.
pub const RECORD_FORMAT: u32 = 6;

/// A stance, its camera and everything measured from it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Record {
    /// Version of the record's format.
    pub format: u32,
    /// The program that wrote it.
    pub program: String,
    /// The site it belongs to.
    pub site: SiteMark,
    /// Where the camera is.
    pub stance: StanceRecord,
    /// What the camera is.
    pub camera: CameraRecord,
    /// Every vertical of the subject, and every visible vertical of the rest.
    pub verticals: Vec<LineRecord>,
    /// Every side of the subject.
    #[serde(rename = "flanks")]
    pub sides: Vec<LineRecord>,
    /// What is measured of the subject; null on a site without one.
    pub subject: Option<SubjectRecord>,
    /// The largest lean of anything visible in the frame.
    #[serde(rename = "worst_lean_in_view_deg")]
    pub largest_lean_in_picture_deg: Option<f64>,
    /// The block it belongs to.
    #[serde(rename = "worst_lean_in_view_block")]
    pub largest_lean_in_picture_block: Option<String>,
    /// Whether the picture is upright, in parts; null in a record that is older than that.
    #[serde(default)]
    pub verdict: Option<VerdictRecord>,
    /// What is handed over; null on a site without a subject, and in a record that is older than that.
    #[serde(default)]
    pub final_picture: Option<FinalPictureRecord>,
    /// Where verticals meet, right and up from the picture's centre; null where that is over a kilometre away.
    pub vanishing_point_mm: Option<[f64; 2]>,
    /// The direction in which verticals meet: right and up, of length 1.
    pub vanishing_direction: [f64; 2],
    /// What straightening afterwards would keep; null on a site without a subject.
    pub straightened: Option<StraightenedRecord>,
    /// What becomes of the verdict within the uncertainty of the subject's height; absent where its height is certain, or nobody
    /// asked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub if_taller: Option<IfTallerRecord>,
    /// How far the stance may be off; null where it was not asked for or nothing can be measured.
    #[serde(rename = "slack")]
    pub tolerance: Option<ToleranceRecord>,
    /// The same with the camera as it was set, where the one above is with the camera aimed anew after a move; null in older
    /// records.
    #[serde(default)]
    pub tolerance_as_set: Option<ToleranceRecord>,
    /// Where the sun stands, if the picture has one.
    pub sun: Option<Sun>,
    /// The moment that it is planned for, with its light; null where none is planned, and in older records.
    #[serde(default)]
    pub planned: Option<PlannedRecord>,
    /// What to beware of.
    pub cautions: Vec<Caution>,
    /// By which measures the figures were found, so that they can be found again.
    #[serde(default)]
    pub measured_by: MeasuresRecord,
    /// How the picture beside this record was made; null where none was.
    #[serde(default)]
    pub picture: Option<PictureRecord>,
}

/// A text that is no record.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum RecordError {
    /// It cannot be read.
    #[error("line {line}, column {column}: no record of a stance: {why}")]
    Unreadable {
        /// The line, from 1.
        line: usize,
        /// The column, from 1.
        column: usize,
        /// What is wrong.
        why: String,
    },
    /// A format that this program does not know.
    #[error(
        "is of format {format}; this program reads 1 to {RECORD_FORMAT}: a newer one wrote it, or its number was changed"
    )]
    Format {
        /// The number in the file.
        format: u32,
    },
    /// A number that is none.
    #[error(
        "one of its numbers is infinite or no number (inf, NaN, or too large to be read); every number of a record is finite"
    )]
    NotFinite,
}

/// What every record of every format begins with.
#[derive(Deserialize)]
struct RecordMark {
    format: u32,
}

/// Reads JSON where the text starts as JSON does, else RON.
fn parse<T: DeserializeOwned>(text: &str) -> Result<T, RecordError> {
    // Editors write their mark at the front of some files.
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if text.trim_start().starts_with('{') {
        return serde_json::from_str(text).map_err(|error| {
            // The place stands before it already.
            let why = error.to_string();
            let why = why.rsplit_once(" at line ").map_or(why.as_str(), |(why, _)| why).to_owned();
            RecordError::Unreadable { line: error.line(), column: error.column(), why }
        });
    }
    crate::files::ron_options().from_str(text).map_err(|error| RecordError::Unreadable {
        line: error.span.start.line,
        column: error.span.start.col,
        why: error.code.to_string(),
    })
}

/// What a record is made from.
#[derive(Clone, Copy, Debug)]
pub struct Findings<'a> {
    /// The site's file and hash.
    pub site: &'a SiteMark,
    /// The stance as described.
    pub described: &'a Stance,
    /// The stance as taken up.
    pub standing: &'a Standing,
    /// What was measured.
    pub account: &'a Account,
    /// By which thresholds.
    pub measures: &'a Measures,
    /// What it amounts to.
    pub verdict: &'a Verdict,
    /// The tolerance with the camera aimed anew, if it was asked for and is known.
    pub tolerance: Option<&'a Tolerance>,
    /// The same with the camera as it was set.
    pub tolerance_as_set: Option<&'a Tolerance>,
    /// The change of lean by which it was asked for.
    pub lean_change: Option<Angle>,
    /// Where the sun stands.
    pub sun: Option<Sun>,
    /// The moment that it is planned for.
    pub planned: Option<&'a PlannedLight>,
    /// What to beware of.
    pub cautions: &'a [Caution],
}

impl Record {
    /// Writes findings down.
    pub fn of(model: &Model, findings: Findings<'_>) -> Self {
        let Findings { standing, account, .. } = findings;
        let name = |block: usize| model.site.blocks[block].name.clone();
        let lines = |kind| {
            account
                .lines
                .iter()
                .filter(|drawn| drawn.line.kind == kind)
                .map(|drawn| line_record(model, drawn))
                .collect()
        };
        let direction = account.vanishing.direction;
        Self {
            format: RECORD_FORMAT,
            program: format!("plumbsight {}", env!("CARGO_PKG_VERSION")),
            site: findings.site.clone(),
            stance: stance_record(findings.described, standing),
            camera: camera_record(standing, account),
            verticals: lines(LineKind::Vertical),
            sides: lines(LineKind::Side),
            subject: subject_record(model, &standing.pose.eye, account, findings.measures),
            largest_lean_in_picture_deg: account.largest_in_picture.map(|noticed| noticed.lean.degrees()),
            largest_lean_in_picture_block: account.largest_in_picture.map(|noticed| name(noticed.block)),
            verdict: Some(VerdictRecord::of(findings.verdict)),
            final_picture: account.final_picture.as_ref().map(FinalPictureRecord::of),
            vanishing_point_mm: account.vanishing.at.map(|at| [at.x, at.y]),
            vanishing_direction: [direction.x, direction.y],
            straightened: straightened_record(account, findings.measures.tilt_left),
            if_taller: None,
            tolerance: findings
                .tolerance
                .zip(findings.lean_change)
                .map(|(tolerance, lean_change)| tolerance_record(tolerance, lean_change)),
            tolerance_as_set: findings
                .tolerance_as_set
                .zip(findings.lean_change)
                .map(|(tolerance, lean_change)| tolerance_record(tolerance, lean_change)),
            sun: findings.sun,
            planned: findings.planned.map(PlannedRecord::of),
            cautions: findings.cautions.to_vec(),
            measured_by: MeasuresRecord {
                upright_deg: findings.measures.upright.degrees(),
                shortest_stretch: findings.measures.shortest_stretch,
                seen_share: findings.measures.seen_share,
                wanted_detail_px_per_m: findings.measures.wanted_detail,
                tilt_left: findings.measures.tilt_left,
                proportion: findings.measures.proportion,
                lean_change_deg: findings.lean_change.map(Angle::degrees),
            },
            picture: None,
        }
    }

    /// The record in a text, RON or JSON, of this format or an older one.
    ///
    /// # Errors
    /// It is no record, one of a newer format, or one of its numbers is not finite.
    pub fn read(text: &str) -> Result<Self, RecordError> {
        let RecordMark { format } = parse(text)?;
        if !(1..=RECORD_FORMAT).contains(&format) {
            return Err(RecordError::Format { format });
        }
        let mut record: Self = parse(text)?;
        if format == 1 {
            record.measured_by = record.measures_of_format_1();
        }
        if let (1..6, Some(picture)) = (format, &mut record.picture) {
            picture.every_ray = true;
        }
        if !record.is_finite() {
            return Err(RecordError::NotFinite);
        }
        Ok(record)
    }

    /// Whether every number is finite, which RON does not ask for: JSON has nothing to write for one that is not.
    fn is_finite(&self) -> bool {
        serde_json::to_value(self).and_then(serde_json::from_value::<Self>).is_ok_and(|again| again == *self)
    }

    /// What the first format tells of the measures here and there; the straightened picture's proportion it does not tell.
    fn measures_of_format_1(&self) -> MeasuresRecord {
        MeasuresRecord {
            upright_deg: self.subject.as_ref().map_or(READS_UPRIGHT_DEG, |subject| subject.upright_threshold_deg),
            shortest_stretch: SHORTEST_STRETCH,
            seen_share: SEEN_SHARE,
            wanted_detail_px_per_m: None,
            tilt_left: self.straightened.as_ref().map_or(0.0, |kept| kept.tilt_left),
            proportion: None,
            lean_change_deg: self.tolerance.as_ref().map(|tolerance| tolerance.lean_change_deg),
        }
    }

    /// The record as JSON, its fields in order, two spaces a level.
    pub fn to_json(&self) -> String {
        serde_json::to_string_pretty(self).expect("every number of a record is finite or null, every key is text")
    }

    /// The record as RON.
    pub fn to_ron(&self) -> String {
        let layout = ron::ser::PrettyConfig::new().struct_names(false);
        crate::files::ron_options().to_string_pretty(self, layout).expect("a record is plain data")
    }

    /// The JSON Schema of the record.
    pub fn json_schema() -> String {
        serde_json::to_string_pretty(&schemars::schema_for!(Self)).expect("a schema is plain JSON")
    }
}

fn stance_record(described: &Stance, standing: &Standing) -> StanceRecord {
    let (eye, attitude) = (&standing.pose.eye, &standing.pose.attitude);
    let stands_on = standing.footing.as_ref().map(|footing| match footing.support {
        Support::Ground => "ground".to_owned(),
        Support::Water => "water".to_owned(),
        Support::Deck(_) => footing.name.clone().unwrap_or_default(),
    });
    StanceRecord {
        described: described.clone(),
        eye_m: point(eye),
        heading_deg: attitude.heading.compass_degrees(),
        pitch_deg: attitude.pitch.degrees(),
        roll_deg: attitude.roll.degrees(),
        stands_on,
        feet_m: standing.footing.as_ref().map(|footing| footing.height_m),
        height_m: standing.height_m(),
        fullness: standing.fullness,
    }
}

fn camera_record(standing: &Standing, account: &Account) -> CameraRecord {
    let camera = &standing.camera;
    let sharp = &account.depth_of_field;
    CameraRecord {
        format: standing.format.name.clone(),
        orientation: standing.orientation,
        format_mm: [camera.frame.width_mm, camera.frame.height_mm],
        pixels: [camera.frame.width_px, camera.frame.height_px],
        lens: standing.lens.name.clone(),
        focal_mm: camera.focal_mm,
        equivalent_focal_mm: camera.equivalent_focal_mm(),
        rise_mm: camera.rise_mm,
        shift_mm: camera.shift_mm,
        mapping: camera.mapping,
        distortion: camera.distortion,
        field_deg: camera.fields().map(degrees),
        needed_circle_mm: camera.needed_circle_mm(),
        lens_circle_mm: standing.lens.circle_mm,
        f_number: standing.f_number,
        focus_m: finite(standing.focus_m),
        sharp_from_m: sharp.near_m,
        sharp_to_m: finite(sharp.far_m),
        hyperfocal_m: sharp.hyperfocal_m,
        airy_disc_px: airy_disc_mm(standing.f_number) * camera.frame.pixels_per_mm().0,
    }
}

fn line_record(model: &Model, drawn: &DrawnLine) -> LineRecord {
    let block = &model.site.blocks[drawn.line.block];
    let place = |end: &Result<PixelPoint, NotDrawn>| end.as_ref().ok().map(pixel);
    let ends = [("base", &drawn.base_px), ("top", &drawn.top_px)];
    let mut why: Vec<String> = ends
        .iter()
        .filter_map(|(end, px)| px.as_ref().err().map(|unseen| format!("its {end} is {}", unseen.words())))
        .collect();
    if why.len() < 2 {
        if drawn.ideal_lean.is_none() {
            why.push("it runs through the eye and is drawn as a point".into());
        }
        if drawn.part.is_none() {
            why.push("no part of it is in the frame".into());
        }
    }
    LineRecord {
        block: block.name.clone(),
        subject: block.subject,
        base_m: point(&drawn.line.base),
        top_m: point(&drawn.line.top),
        base_px: place(&drawn.base_px),
        top_px: place(&drawn.top_px),
        in_frame_px: drawn.part.as_ref().map(|part| [pixel(&part.lower_px), pixel(&part.upper_px)]),
        lean_deg: degrees(drawn.lean),
        ideal_lean_deg: degrees(drawn.ideal_lean),
        line_bend_percent: drawn.line_bend_percent,
        visible: drawn.is_visible(),
        why: (!why.is_empty()).then(|| why.join("; ")),
    }
}

fn subject_record(model: &Model, eye: &WorldPoint, account: &Account, measures: &Measures) -> Option<SubjectRecord> {
    let blocks: Vec<String> = model.subject().map(|block| model.site.blocks[block].name.clone()).collect();
    if blocks.is_empty() {
        return None;
    }
    let why = match (&account.outline, &account.convergence) {
        (Err(error), _) => Some(error.to_string()),
        (Ok(_), None) => Some("part of the subject lies beside or behind the camera".into()),
        (Ok(_), Some(_)) => None,
    };
    let [base, middle, top] = account.detail;
    let lowest = account.lowest_detail.map(|(detail, _)| detail);
    let figures = |figure: fn(Detail) -> f64| DetailRecord {
        base: base.map(figure),
        middle: middle.map(figure),
        top: top.map(figure),
        lowest: lowest.map(figure),
    };
    Some(SubjectRecord {
        blocks,
        convergence_deg: account.convergence.map(|convergence| convergence.angle().degrees()),
        why,
        bounding_leans_deg: account
            .convergence
            .map(|convergence| [convergence.left.degrees(), convergence.right.degrees()]),
        largest_lean_deg: degrees(account.largest_lean),
        reads_upright: account.reads_upright,
        upright_threshold_deg: measures.upright.degrees(),
        sides_convergence_deg: degrees(account.sides_convergence),
        seen_taper: account.taper.map(|taper| taper.seen),
        shape_taper: account.taper.map(|taper| taper.shape),
        nominal_taper: account.taper.and_then(|taper| taper.nominal),
        tilt_factor: account.taper.map(|taper| taper.tilt_factor()).filter(|factor| factor.is_finite()),
        visible_share: account.visible_share,
        in_frame_share: account.in_frame_share,
        top_elevation_deg: degrees(account.top_elevation),
        detail_px_per_m: figures(|detail| detail.px_per_m),
        detail_mm_per_px: figures(Detail::mm_per_px),
        front: account.front.map(|front| FrontRecord {
            block: model.site.blocks[front.wall.block].name.clone(),
            toward_deg: Angle::bearing_of(front.wall.normal.x, front.wall.normal.y).compass_degrees(),
            named: front.named,
            angle_deg: front.angle_to(eye).degrees(),
        }),
        off_square_deg: account.squareness.map(|squareness| squareness.off_square.degrees()),
        horizontals_converge_deg: account.squareness.and_then(|squareness| degrees(squareness.horizontals)),
        distance_m: account.distance_m,
    })
}

fn straightened_record(account: &Account, tilt_left: f64) -> Option<StraightenedRecord> {
    use crate::verticals::StraightenFailure;
    Some(match account.straightened.as_ref()? {
        Ok(kept) => StraightenedRecord {
            pictured: false,
            tilt_left,
            megapixels_kept: Some(kept.megapixels_kept),
            pixels: Some([kept.camera.frame.width_px, kept.camera.frame.height_px]),
            detail_kept_px_per_m: kept.detail_kept.map(|detail| detail.px_per_m),
            margins_kept: Some(kept.margins_kept),
            subject_cut_share: 0.0,
            why_not: None,
        },
        Err(failure) => StraightenedRecord {
            pictured: false,
            tilt_left,
            megapixels_kept: None,
            pixels: None,
            detail_kept_px_per_m: None,
            margins_kept: None,
            subject_cut_share: match failure {
                StraightenFailure::SubjectCut { share } => *share,
                StraightenFailure::NotInFront => 1.0,
                StraightenFailure::TooSteep | StraightenFailure::ProportionDoesNotFit => 0.0,
            },
            why_not: Some(failure.words()),
        },
    })
}

fn tolerance_record(tolerance: &Tolerance, lean_change: Angle) -> ToleranceRecord {
    ToleranceRecord {
        lean_change_deg: lean_change.degrees(),
        left_m: tolerance.left_m,
        right_m: tolerance.right_m,
        forward_m: tolerance.forward_m,
        back_m: tolerance.back_m,
        up_m: tolerance.up_m,
        down_m: tolerance.down_m,
        pitch_deg: degrees(tolerance.pitch),
        heading_deg: degrees(tolerance.heading),
        roll_deg: degrees(tolerance.roll),
        ends: [
            ("left", tolerance.ends.left),
            ("right", tolerance.ends.right),
            ("forward", tolerance.ends.forward),
            ("back", tolerance.ends.back),
            ("up", tolerance.ends.up),
            ("down", tolerance.ends.down),
            ("pitch", tolerance.ends.pitch),
            ("heading", tolerance.ends.heading),
            ("roll", tolerance.ends.roll),
        ]
        .into_iter()
        .filter_map(|(direction, end)| Some((direction.to_owned(), end?.key().to_owned())))
        .collect(),
    }
}

fn degrees(angle: Option<Angle>) -> Option<f64> {
    angle.map(Angle::degrees)
}

fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

fn point(point: &WorldPoint) -> [f64; 3] {
    [point.x, point.y, point.z]
}

fn pixel(pixel: &PixelPoint) -> [f64; 2] {
    [pixel.x, pixel.y]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_record_holds_finite_numbers_only() {
        let text = include_str!("../tests/golden/near-1.record.ron");
        Record::read(text).expect("a record");
        let focal = text.find("focal_mm: ").expect("a focal length") + "focal_mm: ".len();
        let end = focal + text[focal..].find(',').expect("a comma");
        for number in ["inf", "NaN", "1e999"] {
            let broken = format!("{}{number}{}", &text[..focal], &text[end..]);
            assert!(matches!(Record::read(&broken), Err(RecordError::NotFinite)), "{number}");
        }
    }

    #[test]
    fn the_published_schema_is_that_of_the_record() {
        // Made by `plumbsight pages schema > shared/record.schema.json`.
        assert_eq!(Record::json_schema().trim_end(), include_str!("../shared/record.schema.json").trim_end());
    }
}
