//! What helps without a step: a level camera and a crop, rise, straightening afterwards?

use crate::aim::Mounting;
use crate::angle::Angle;
use crate::appraise::{Measures, appraise};
use crate::optics::{Camera, Lens, Mapping, PixelPoint};
use crate::pose::{Attitude, Pose};
use crate::site::{Aim, Stance};
use crate::stance::Standing;
use crate::survey::Measured;
use crate::verticals::{Convergence, SIDE_MARGIN, TOP_MARGIN, Viewpoint};

use super::on_foot::slopes;
use super::origin::{Origin, WHOLE};
use super::{Effort, Equipment, Figures, Remark, Remedy, Way, WayOutcome};

/// A lens with this much rise or less needs none.
const LEAST_RISE_MM: f64 = 0.05;
/// Nobody builds more rise than this.
const MOST_RISE_MM: f64 = 100.0;
/// The angle across the image circle of the widest lens that rises: 17 mm with a circle of 67.2 mm draws 126° (the
/// built-in kit; wider ones from memory of none).
const WIDEST_CIRCLE_DEG: f64 = 127.0;
/// Less tilt than this share is not worth leaving in.
const LEAST_LEFT: f64 = 0.02;

/// A row for what cannot be done from here.
fn not_here(remedy: Remedy, kit: Vec<Equipment>, remarks: Vec<Remark>) -> Way {
    let effort = Effort { kit, ..Effort::default() };
    Way { remedy, outcome: WayOutcome::NotHere, figures: None, effort, remarks, stance: None }
}

/// The lens that is needed for a way, unless it is on the camera.
fn lens_needed(origin: &Origin<'_>, lens: &Lens) -> Vec<Equipment> {
    if lens.name == origin.measured.standing.lens.name { Vec::new() } else { vec![Equipment::Lens(lens.name.clone())] }
}

/// Level with the widest lens, cropped to the subject and its margins.
pub(super) fn level_crop(origin: &Origin<'_>) -> Option<Way> {
    let own = &origin.measured.standing.lens;
    let lens = origin
        .bag
        .iter()
        .chain([own])
        .filter(|lens| lens.mapping == Mapping::Rectilinear)
        .reduce(|a, b| if b.focal_mm < a.focal_mm { b } else { a })?;
    let remedy = Remedy::LevelCrop { lens: lens.name.clone() };
    let kit = lens_needed(origin, lens);
    let stance = origin.with_lens(lens, Aim::Level);
    let measured = match origin.measure(&stance) {
        Ok(measured) => measured,
        Err(error) => return Some(not_here(remedy, kit, vec![Remark::Refused(error.to_string())])),
    };
    let cuts = cuts(origin, &measured.standing);
    if !cuts.is_empty() {
        return Some(not_here(remedy, kit, cuts));
    }
    let margin = margin_lost(&measured);
    let mut way =
        origin.row_of(remedy, stance, &measured, Effort { kit, ..Effort::default() }, margin.into_iter().collect());
    if let (Some(figures), Some(megapixels)) = (&mut way.figures, cropped_megapixels(origin, &measured.standing)) {
        figures.megapixels = megapixels;
    }
    Some(way)
}

fn margin_lost(measured: &Measured) -> Option<Remark> {
    measured.standing.fullness.filter(|fullness| *fullness > WHOLE).map(|_| Remark::MarginLost)
}

/// By how many metres of the subject a level frame cuts its top, base and sides off.
fn cuts(origin: &Origin<'_>, standing: &Standing) -> Vec<Remark> {
    let camera = &standing.camera;
    let (mut top_m, mut base_m, mut side_m) = (0.0_f64, 0.0_f64, 0.0_f64);
    let (half_width, half_height) = (0.5 * camera.frame.width_mm, 0.5 * camera.frame.height_mm);
    for corner in &origin.subject.outermost {
        let view = standing.pose.view_of(corner);
        let reach = |mm: f64| view.z * mm / camera.focal_mm;
        top_m = top_m.max(-view.y - reach(half_height + camera.rise_mm));
        base_m = base_m.max(view.y - reach(half_height - camera.rise_mm));
        side_m =
            side_m.max(view.x - reach(half_width + camera.shift_mm)).max(-view.x - reach(half_width - camera.shift_mm));
    }
    let mut cuts = Vec::new();
    let mut note = |by_m: f64, remark: fn(f64) -> Remark| {
        if by_m > 1e-6 {
            cuts.push(remark(by_m));
        }
    };
    note(top_m, |by_m| Remark::TopCut { by_m });
    note(base_m, |by_m| Remark::BaseCut { by_m });
    note(side_m, |by_m| Remark::SideCut { by_m });
    cuts
}

/// The pixels of a picture that is cropped to the subject and its margins, in the wanted proportion.
fn cropped_megapixels(origin: &Origin<'_>, standing: &Standing) -> Option<f64> {
    let viewpoint = Viewpoint::new(&standing.camera, &standing.pose);
    let (mut low, mut high) = (PixelPoint::new(f64::MAX, f64::MAX), PixelPoint::new(f64::MIN, f64::MIN));
    for corner in &origin.subject.outermost {
        let pixel = viewpoint.pixel_of(corner).ok()?;
        (low, high) = (low.inf(&pixel), high.sup(&pixel));
    }
    let frame = &standing.camera.frame;
    let (frame_width, frame_height) = (f64::from(frame.width_px), f64::from(frame.height_px));
    let proportion = origin.settings.measures.proportion.unwrap_or(frame_width / frame_height);
    let width = (high.x - low.x) / (1.0 - 2.0 * SIDE_MARGIN);
    let height = (high.y - low.y) / (1.0 - SIDE_MARGIN - TOP_MARGIN);
    let (width, height) = (width.max(height * proportion), height.max(width / proportion));
    Some(width.min(frame_width).floor() * height.min(frame_height).floor() / 1e6)
}

/// Level with each lens of the bag that rises, and with as much rise as the present focal length would need.
pub(super) fn rises(origin: &Origin<'_>) -> Vec<Way> {
    let mut ways: Vec<Way> =
        origin.bag.iter().filter(|lens| lens.rise_mm > 0.0).map(|lens| rise(origin, lens)).collect();
    ways.extend(rise_needed(origin, &ways));
    ways
}

fn rise(origin: &Origin<'_>, lens: &Lens) -> Way {
    let remedy = Remedy::Rise { lens: lens.name.clone() };
    let kit = lens_needed(origin, lens);
    let stance = origin.with_lens(lens, Aim::Rise);
    let measured = match origin.measure(&stance) {
        Ok(measured) => measured,
        Err(error) => return not_here(remedy, kit, vec![Remark::Refused(error.to_string())]),
    };
    let camera = &measured.standing.camera;
    if cuts(origin, &measured.standing).is_empty() {
        let rises = Remark::Rises { rise_mm: camera.rise_mm, circle_mm: camera.needed_circle_mm() };
        let remarks = [Some(rises), margin_lost(&measured)].into_iter().flatten().collect();
        return origin.row_of(remedy, stance, &measured, Effort { kit, ..Effort::default() }, remarks);
    }
    let mut remarks = Vec::new();
    if let Some(needs) = needs(origin, camera) {
        if needs.fullness > 1.0 {
            return not_here(remedy, kit, vec![Remark::TooLongHere { fullness: needs.fullness }]);
        } else {
            let mounting = Mounting {
                frame: camera.frame,
                lens,
                focal_mm: None,
                rise_mm: None,
                shift_mm: camera.shift_mm,
                distortion: None,
            };
            let limit_mm = mounting.rise_limit_mm();
            remarks.push(Remark::NeedsRise {
                needed_mm: needs.rise_mm,
                moves_mm: lens.rise_mm,
                covered_mm: (limit_mm < lens.rise_mm).then_some(limit_mm),
            });
        }
    }
    remarks.extend(cuts(origin, &measured.standing));
    not_here(remedy, kit, remarks)
}

/// What a level frame needs to hold the subject within its margins.
struct RiseNeeds {
    /// How far the lens must be moved, up where positive.
    rise_mm: f64,
    /// How often the subject would fill the frame's height or width, with whatever rise.
    fullness: f64,
}

fn needs(origin: &Origin<'_>, camera: &Camera) -> Option<RiseNeeds> {
    let eye = origin.measured.standing.pose.eye;
    let outline = origin.subject.outline(&eye).ok()?;
    let (up, down, aside) = slopes(origin, &eye, &outline)?;
    let (f, frame) = (camera.focal_mm, &camera.frame);
    let above = (0.5 - TOP_MARGIN) * frame.height_mm;
    let below = (0.5 - SIDE_MARGIN) * frame.height_mm;
    let beside = (0.5 - SIDE_MARGIN) * frame.width_mm;
    let (least, most) = (f * up - above, below - f * down);
    let rise_mm = if least > 0.0 { least } else { most.min(0.0) };
    Some(RiseNeeds { rise_mm, fullness: (f * (up + down) / (above + below)).max(f * aside / beside) })
}

/// A lens of the present focal length, or as long a one as fits, with all the rise that is needed.
fn rise_needed(origin: &Origin<'_>, known: &[Way]) -> Option<Way> {
    let standing = &origin.measured.standing;
    if standing.lens.mapping != Mapping::Rectilinear {
        return None;
    }
    let mut camera = Camera { rise_mm: 0.0, ..Camera::plain(standing.camera.frame, standing.camera.focal_mm) };
    let first = needs(origin, &camera)?;
    camera.focal_mm = (camera.focal_mm.min(camera.focal_mm / first.fullness) * 10.0).floor() / 10.0;
    let rise_mm = needs(origin, &camera)?.rise_mm.abs();
    // A shift is set by a scale: tenths can be told apart on it, hundredths cannot.
    let rise_mm = (rise_mm * 10.0).ceil() / 10.0;
    let done = known.iter().any(|way| {
        let same = matches!(&way.remedy, Remedy::Rise { lens } if origin.bag.iter().any(|own| {
            own.name == *lens && own.reaches(camera.focal_mm)
        }));
        same && way.outcome == WayOutcome::Upright
    });
    if done || !(LEAST_RISE_MM..=MOST_RISE_MM).contains(&rise_mm) || camera.focal_mm < 1.0 {
        return None;
    }
    let remedy = Remedy::RiseNeeded { focal_mm: camera.focal_mm, rise_mm };
    camera.rise_mm = rise_mm;
    let field = Angle::from_radians(2.0 * (0.5 * camera.needed_circle_mm() / camera.focal_mm).atan());
    if field.degrees() > WIDEST_CIRCLE_DEG {
        let remark = Remark::NoLensSoWide { focal_mm: camera.focal_mm, rise_mm, field };
        return Some(not_here(remedy, Vec::new(), vec![remark]));
    }
    let name = format!("{} mm with {rise_mm} mm rise", camera.focal_mm);
    let lens = origin.survey.kit.lens(&name).ok()?;
    let stance = Stance { orientation: Some(standing.orientation), ..origin.with_lens(&lens, Aim::Rise) };
    let kit = vec![Equipment::LensToHire(name)];
    let measured = origin.measure(&stance).ok()?;
    let rises = Remark::Rises {
        rise_mm: measured.standing.camera.rise_mm,
        circle_mm: measured.standing.camera.needed_circle_mm(),
    };
    Some(origin.row_of(remedy, stance, &measured, Effort { kit, ..Effort::default() }, vec![rises]))
}

/// Straightened afterwards, wholly, and as little as makes it read as upright.
pub(super) fn straightened(origin: &Origin<'_>) -> Vec<Way> {
    let attitude = origin.measured.standing.pose.attitude;
    if attitude.pitch == Angle::ZERO && attitude.roll == Angle::ZERO {
        return Vec::new();
    }
    let mut ways = vec![straighten(origin, 0.0)];
    if origin.figures.reads_upright == Some(false)
        && let Some(share) = most_left(origin)
    {
        ways.push(straighten(origin, share));
    }
    ways
}

/// The largest share of the tilt that may be left in, in whole hundredths.
fn most_left(origin: &Origin<'_>) -> Option<f64> {
    let outline = origin.measured.account.outline.ok()?;
    let attitude = origin.measured.standing.pose.attitude;
    let threshold = origin.settings.measures.upright;
    let upright = |share: f64| {
        let left = Attitude { pitch: attitude.pitch * share, roll: attitude.roll * share, ..attitude };
        Convergence::of(&outline, &left).is_some_and(|convergence| convergence.largest() <= threshold)
    };
    let share = (0..100).rev().map(|hundredth| f64::from(hundredth) / 100.0).find(|&share| upright(share))?;
    (share >= LEAST_LEFT).then_some(share)
}

fn straighten(origin: &Origin<'_>, tilt_left: f64) -> Way {
    let remedy = Remedy::Straighten { tilt_left };
    let kit = vec![Equipment::Afterwards];
    let standing = &origin.measured.standing;
    let measures = Measures { tilt_left, ..origin.settings.measures };
    let account = appraise(&origin.survey.model, Ok(origin.subject), Some(&origin.survey.sight), standing, &measures);
    let kept = match account.straightened {
        Some(Ok(kept)) => kept,
        Some(Err(failure)) => return not_here(remedy, kit, vec![Remark::NotStraightened(failure)]),
        None => return not_here(remedy, kit, Vec::new()),
    };
    let detail = kept.detail_kept;
    let pictured =
        Standing { camera: kept.camera, pose: Pose { attitude: kept.attitude, ..standing.pose }, ..standing.clone() };
    let mut way = projected(origin, remedy, &pictured, kit, Vec::new());
    if let Some(figures) = &mut way.figures {
        (figures.detail, figures.megapixels) = (detail, kept.megapixels_kept);
    }
    if !kept.margins_kept {
        way.remarks.push(Remark::MarginLost);
    }
    way
}

/// The row of a picture that is made at the desk: as a camera would take it at once.
pub(super) fn projected(
    origin: &Origin<'_>,
    remedy: Remedy,
    pictured: &Standing,
    kit: Vec<Equipment>,
    mut remarks: Vec<Remark>,
) -> Way {
    let account = appraise(
        &origin.survey.model,
        Ok(origin.subject),
        Some(&origin.survey.sight),
        pictured,
        &origin.settings.measures,
    );
    let figures = Figures::of(&account, &pictured.camera.frame);
    remarks.extend(origin.hidden(&account));
    Way {
        remedy,
        outcome: origin.outcome(&figures, true),
        figures: Some(figures),
        effort: Effort { kit, ..Effort::default() },
        remarks,
        stance: None,
    }
}
