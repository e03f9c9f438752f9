//! What does one stance amount to? The full account.

mod final_picture;
mod hidden;
mod kernel;

use rayon::prelude::*;

use self::final_picture::TakenPicture;
use crate::angle::Angle;
use crate::optics::{DepthOfField, circle_of_confusion_mm};
use crate::outline::{FrontFace, Outline, OutlineError, Sample, Subject};
use crate::pose::{WorldPoint, WorldVector};
use crate::sight::Sight;
use crate::site::Model;
use crate::stance::Standing;
use crate::verticals::{
    BodySides, Convergence, Detail, DrawnLine, LineKind, READS_UPRIGHT_DEG, Squareness, StandingLine,
    StraightenFailure, Straightened, Straightening, Taper, VanishingPoint, Viewpoint, standing_lines, straighten,
    surface_detail,
};

pub use final_picture::FinalPicture;
pub(crate) use hidden::CLEAR_M;
pub use hidden::HiddenHeights;
pub use kernel::{Candidate, JudgedSurface, Kernel, Mounted, PointDrawing, SubjectView};

/// Surfaces seen flatter than this (30°) are not judged by their detail: no stance resolves what is nearly edge-on.
const JUDGED_SINE: f64 = 0.5;

/// Stretches of a line shorter than this share of the frame's height do not count for the lean of the whole picture, unless
/// the user sets another (common practice, no source).
pub const SHORTEST_STRETCH: f64 = 0.1;

/// The share of the subject that counts as seen, unless the user sets another (common practice, no source).
pub const SEEN_SHARE: f64 = 0.9;

/// Where the body's base, middle and top are judged, as shares of its rise: a hair inside the ends, where the surface
/// surely is.
const NAMED_SHARES: [f64; 3] = [1e-3, 0.5, 1.0 - 1e-3];

/// What the user wants to know and by which measures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measures {
    /// The largest lean that reads as upright.
    pub upright: Angle,
    /// The shortest visible stretch of a line, as a share of the frame's height, that counts for the whole picture's lean.
    pub shortest_stretch: f64,
    /// The share of the subject's surface that must be seen.
    pub seen_share: f64,
    /// The lowest detail that is wanted, in pixels per metre, by which the tolerance ends.
    pub wanted_detail: Option<f64>,
    /// The share of the tilt that straightening leaves in.
    pub tilt_left: f64,
    /// Width over height wanted of the straightened picture; the frame's own unless given.
    pub proportion: Option<f64>,
}

impl Default for Measures {
    fn default() -> Self {
        Self {
            upright: Angle::from_degrees(READS_UPRIGHT_DEG),
            shortest_stretch: SHORTEST_STRETCH,
            seen_share: SEEN_SHARE,
            wanted_detail: None,
            tilt_left: 0.0,
            proportion: None,
        }
    }
}

/// The visible line that leans most in the whole picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PictureLean {
    /// By how much, without its sign.
    pub lean: Angle,
    /// The block it belongs to.
    pub block: usize,
    /// Which of the account's lines it is.
    pub line: usize,
    /// How long its longest visible stretch is, as a share of the frame's height.
    pub stretch: f64,
}

/// Everything that can be said of a stance.
#[derive(Clone, Debug, PartialEq)]
pub struct Account {
    /// The subject's outline in plan, or why there is none.
    pub outline: Result<Outline, OutlineError>,
    /// The distance in plan to the subject's nearest point; absent where there is no outline.
    pub distance_m: Option<f64>,
    /// The leans of the plumb lines that bound the subject.
    pub convergence: Option<Convergence>,
    /// Every vertical and side of the subject, and every visible vertical of the rest.
    pub lines: Vec<DrawnLine>,
    /// The largest lean of the subject's verticals in the frame; of its bounding plumb lines where it has no verticals.
    pub largest_lean: Option<Angle>,
    /// The largest lean of the whole picture: over visible stretches of verticals that are long enough to be noticed; absent
    /// where there is none, or nobody looked.
    pub largest_in_picture: Option<PictureLean>,
    /// Whether the subject's largest lean reads as upright.
    pub reads_upright: Option<bool>,
    /// The angle between the body's sides.
    pub sides_convergence: Option<Angle>,
    /// How the body narrows.
    pub taper: Option<Taper>,
    /// Where verticals meet.
    pub vanishing: VanishingPoint,
    /// The side that the picture is of; absent where none is named and no flat wall faces the camera.
    pub front: Option<FrontFace>,
    /// How squarely the camera is turned to that side.
    pub squareness: Option<Squareness>,
    /// Detail at the body's base, middle and top, on the side that faces the camera.
    pub detail: [Option<Detail>; 3],
    /// The least detail on the judged surface in the frame, and where.
    pub lowest_detail: Option<(Detail, Sample)>,
    /// The elevation of the body's top above the horizon; negative seen from above.
    pub top_elevation: Option<Angle>,
    /// Of the subject's surface that faces the camera, the share with a free line; unknown where nobody looked.
    pub visible_share: Option<f64>,
    /// Of the subject's surface that faces the camera, the share inside the frame.
    pub in_frame_share: Option<f64>,
    /// Whether the frame holds all of the subject's outline, seen or not.
    pub whole_in_frame: bool,
    /// Between which heights the subject is hidden; unknown where nobody looked.
    pub hidden: HiddenHeights,
    /// What straightening keeps, or what fails; absent without a subject.
    pub straightened: Option<Result<Straightened, StraightenFailure>>,
    /// What is handed over: the picture as taken where the subject is upright in it, else straightened; absent without a
    /// subject.
    pub final_picture: Option<Result<FinalPicture, StraightenFailure>>,
    /// What is sharp.
    pub depth_of_field: DepthOfField,
}

/// Measures a stance. What stands in the way is looked at where there is a `sight`; without one, visible shares and the
/// rest of the scene are left out.
pub fn appraise(
    model: &Model,
    subject: Result<&Subject, OutlineError>,
    sight: Option<&Sight>,
    standing: &Standing,
    measures: &Measures,
) -> Account {
    let viewpoint = Viewpoint::new(&standing.camera, &standing.pose);
    let depth_of_field = standing.focus().depth_of_field(circle_of_confusion_mm(&standing.camera.frame));
    let vanishing = VanishingPoint::of(&standing.camera, &standing.pose.attitude);
    let mut account = Account {
        outline: subject.and_then(|subject| subject.outline(&standing.pose.eye)),
        distance_m: None,
        convergence: None,
        lines: Vec::new(),
        largest_lean: None,
        largest_in_picture: None,
        reads_upright: None,
        sides_convergence: None,
        taper: None,
        vanishing,
        front: None,
        squareness: None,
        detail: [None; 3],
        lowest_detail: None,
        top_elevation: None,
        visible_share: None,
        in_frame_share: None,
        whole_in_frame: false,
        hidden: HiddenHeights::default(),
        straightened: None,
        final_picture: None,
        depth_of_field,
    };
    account.convergence = account.outline.ok().and_then(|outline| Convergence::of(&outline, &standing.pose.attitude));
    if let Ok(subject) = subject {
        account.distance_m = account.outline.ok().map(|_| subject.distance_m(&standing.pose.eye));
        subject_lines(model, subject, &viewpoint, sight, &mut account);
        let own = account.lines.iter().filter(|drawn| drawn.line.kind == LineKind::Vertical && !drawn.line.turned_away);
        let has_verticals = own.clone().next().is_some();
        let among = own.filter_map(|drawn| drawn.lean.map(Angle::abs)).reduce(Angle::max);
        account.largest_lean =
            if has_verticals { among } else { account.convergence.map(|convergence| convergence.largest()) };
        account.reads_upright = account.largest_lean.map(|lean| lean <= measures.upright);
        subject_surface(model, subject, &viewpoint, sight, standing.fullness, measures, &mut account);
    }
    if let Some(sight) = sight {
        rest_of_scene(model, &viewpoint, sight, measures.shortest_stretch, &mut account);
    }
    account
}

/// The subject's own lines, its taper and how squarely it is faced.
fn subject_lines(
    model: &Model,
    subject: &Subject,
    viewpoint: &Viewpoint<'_>,
    sight: Option<&Sight>,
    account: &mut Account,
) {
    let pose = viewpoint.pose;
    let mut standing: Vec<StandingLine> = Vec::new();
    for &block in &subject.blocks {
        standing_lines(model, block, &pose.eye, &mut standing);
    }
    if let Some(sides) = BodySides::among(&standing, subject.body, &pose.eye) {
        account.sides_convergence = sides.sides_convergence(pose);
        account.taper = sides.taper(model, pose);
    }
    account.lines = standing.iter().map(|line| viewpoint.draw(line, sight)).collect();
    account.front = subject.front(&pose.eye);
    account.squareness = account.front.map(|front| Squareness::of(&front.wall, pose));
}

/// What is seen of the subject's surface, how finely, and what straightening would keep of it.
fn subject_surface(
    model: &Model,
    subject: &Subject,
    viewpoint: &Viewpoint<'_>,
    sight: Option<&Sight>,
    fullness: Option<f64>,
    measures: &Measures,
    account: &mut Account,
) {
    let eye = &viewpoint.pose.eye;
    let faces_eye = |sample: &&Sample| sample.normal.dot(&(eye - sample.point)) > 0.0;
    let facing: Vec<&Sample> = subject.samples.iter().filter(faces_eye).collect();
    let seen = sight.map(|sight| {
        let beside: Vec<WorldPoint> = facing.iter().map(|sample| sample.point + sample.normal * CLEAR_M).collect();
        sight.free_many(eye, &beside)
    });
    let (mut free, mut framed) = (0_usize, 0_usize);
    let mut judged = Vec::with_capacity(facing.len());
    for (index, sample) in facing.iter().enumerate() {
        let is_seen = seen.as_ref().is_none_or(|seen| seen[index]);
        free += usize::from(is_seen);
        let in_frame = viewpoint.pixel_of(&sample.point).is_ok_and(|pixel| viewpoint.camera.holds(pixel));
        framed += usize::from(in_frame);
        if is_seen && in_frame {
            judged.extend(judged_surface(sample, &(eye - sample.point)));
        }
    }
    if !facing.is_empty() {
        account.visible_share = sight.map(|_| free as f64 / facing.len() as f64);
        account.in_frame_share = Some(framed as f64 / facing.len() as f64);
    }
    let outer = if viewpoint.camera.draws_straight() { &subject.outermost } else { &subject.corners };
    account.whole_in_frame =
        outer.iter().all(|corner| viewpoint.pixel_of(corner).is_ok_and(|pixel| viewpoint.camera.holds(pixel)));
    if let (Some(sight), Some(share)) = (sight, account.visible_share)
        && share < 1.0
    {
        account.hidden = HiddenHeights::of(model, subject, sight, eye);
    }
    let rise_m = subject.top_m - subject.base_m;
    let named = NAMED_SHARES.map(|share| subject.facing_point(model, eye, subject.base_m + share * rise_m));
    account.detail = named.map(|place| place.and_then(|(point, normal)| surface_detail(viewpoint, &point, &normal)));
    for (point, normal) in named.into_iter().flatten() {
        let seen = sight.is_none_or(|sight| sight.is_free(eye, &(point + normal * CLEAR_M)));
        if seen && viewpoint.pixel_of(&point).is_ok_and(|pixel| viewpoint.camera.holds(pixel)) {
            judged.extend(judged_surface(&Sample { point, normal, curved: false }, &(eye - point)));
        }
    }
    account.lowest_detail = judged
        .iter()
        .filter_map(|sample| Some((surface_detail(viewpoint, &sample.point, &sample.normal)?, *sample)))
        .reduce(|a, b| if b.0.px_per_m < a.0.px_per_m { b } else { a });
    let top = named[2].map_or(subject.middle, |(point, _)| point);
    let offset = top - eye;
    account.top_elevation = Some(Angle::from_radians((subject.top_m - eye.z).atan2(offset.x.hypot(offset.y))));
    let proportion = measures.proportion.unwrap_or(viewpoint.camera.frame.width_mm / viewpoint.camera.frame.height_mm);
    let wanted = Straightening { tilt_left: measures.tilt_left, proportion };
    let straightened = straighten(viewpoint, &subject.outermost, &judged, wanted);
    let taken = TakenPicture {
        upright: account.reads_upright == Some(true),
        whole: account.whole_in_frame,
        margins_kept: fullness.is_some_and(|fullness| fullness <= 1.0 + 1e-9),
        in_frame_share: account.in_frame_share.unwrap_or(0.0),
        proportion,
    };
    account.final_picture = Some(FinalPicture::of(viewpoint, subject, &judged, taken, &straightened));
    account.straightened = Some(straightened);
}

/// The surface by which the detail at a sample is judged, unless it is seen nearly edge-on: a flat one as it is, a round one
/// turned about the vertical to face the camera, for its outline is edge-on from everywhere.
fn judged_surface(sample: &Sample, towards_eye: &WorldVector) -> Option<Sample> {
    let normal = if sample.curved {
        let level = WorldVector::new(towards_eye.x, towards_eye.y, 0.0).try_normalize(1e-9)?;
        level * sample.normal.xy().norm() + WorldVector::z() * sample.normal.z
    } else {
        sample.normal
    };
    (normal.dot(towards_eye) >= JUDGED_SINE * towards_eye.norm()).then_some(Sample { normal, ..*sample })
}

/// How many blocks one processor looks at before it asks for more.
const AT_A_TIME: usize = 250;

/// Every visible vertical of the rest, and the largest lean of the whole picture.
fn rest_of_scene(
    model: &Model,
    viewpoint: &Viewpoint<'_>,
    sight: &Sight,
    shortest_stretch: f64,
    account: &mut Account,
) {
    let of_some = |first: usize| -> Vec<DrawnLine> {
        let mut standing: Vec<StandingLine> = Vec::new();
        let last = (first + AT_A_TIME).min(model.site.blocks.len());
        for block in first..last {
            if model.site.blocks[block].subject || viewpoint.surely_misses(model.solids[block].bounds()) {
                continue;
            }
            standing_lines(model, block, &viewpoint.pose.eye, &mut standing);
        }
        let upright = standing.iter().filter(|line| line.kind == LineKind::Vertical && !line.turned_away);
        let drawn = upright.map(|line| viewpoint.draw(line, Some(sight)));
        drawn.filter(|drawn| drawn.is_visible() == Some(true)).collect()
    };
    let count = model.site.blocks.len().div_ceil(AT_A_TIME);
    // A site of the usual size is looked at sooner than other processors are asked to help.
    if count <= 2 {
        account.lines.extend((0..count).flat_map(|part| of_some(part * AT_A_TIME)));
    } else {
        let parts: Vec<Vec<DrawnLine>> = (0..count).into_par_iter().map(|part| of_some(part * AT_A_TIME)).collect();
        account.lines.extend(parts.into_iter().flatten());
    }
    let noticed = |(line, drawn): (usize, &DrawnLine)| {
        let stretch = viewpoint.longest_stretch(drawn)?;
        (drawn.line.kind == LineKind::Vertical && stretch >= shortest_stretch).then_some(PictureLean {
            lean: drawn.lean?.abs(),
            block: drawn.line.block,
            line,
            stretch,
        })
    };
    account.largest_in_picture =
        account.lines.iter().enumerate().filter_map(noticed).reduce(|a, b| if b.lean > a.lean { b } else { a });
}
