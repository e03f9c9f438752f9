//! What helps without a step: a level camera and a crop, rise, straightening afterwards?

use crate::aim::Mounting;
use crate::angle::Angle;
use crate::appraise::{FinalPicture, Measures, appraise};
use crate::optics::{Camera, Frame, Lens, Mapping, PixelPoint, Proportion};
use crate::pose::{Attitude, Pose};
use crate::site::{Aim, Stance};
use crate::stance::Standing;
use crate::survey::Measured;
use crate::verdict::Verdict;
use crate::verticals::{Convergence, Straightening, Viewpoint, straighten};

use super::on_foot::slopes;
use super::origin::{Origin, SAME_ZOOM, WHOLE, margins_cost};
use super::{Effort, Equipment, Figures, Remark, Remedy, Straightener, Way, WayOutcome};

/// A lens with this much rise or less needs none.
const LEAST_RISE_MM: f64 = 0.05;
/// Nobody builds more rise than this.
const MOST_RISE_MM: f64 = 100.0;
/// The angle across the image circle of the widest lens that rises: 17 mm with a circle of 67.2 mm draws 126° (the
/// built-in kit; wider ones from memory of none).
const WIDEST_CIRCLE_DEG: f64 = 127.0;
/// Pitches that differ by less than this are the same to a photographer.
const SAME_PITCH_DEG: f64 = 0.25;
/// Proportions of pictures that are printed and shown, upright and lying, the usual ones first.
const ASPECTS: [(f64, f64); 11] = [
    (4.0, 5.0),
    (1.0, 1.0),
    (2.0, 3.0),
    (3.0, 4.0),
    (5.0, 4.0),
    (4.0, 3.0),
    (3.0, 2.0),
    (1.0, 2.0),
    (9.0, 16.0),
    (16.0, 9.0),
    (1.0, 3.0),
];
/// Less tilt than this share is not worth leaving in.
const LEAST_LEFT: f64 = 0.02;

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
        Err(error) => return Some(Way::not_here(remedy, kit, vec![Remark::Refused(error.to_string())])),
    };
    let cuts = cuts(origin, &measured.standing);
    if !cuts.is_empty() {
        return Some(Way::not_here(remedy, kit, cuts));
    }
    let margin = margin_lost(&measured);
    let mut way =
        origin.row_of(remedy, stance, &measured, Effort { kit, ..Effort::default() }, margin.into_iter().collect());
    if let Some(Figures { final_picture: Some(Ok(picture)), .. }) = &mut way.figures
        && let Some(camera) = around_subject(origin, &measured.standing)
    {
        (picture.camera, picture.megapixels_without_margins) = (camera, camera.frame.megapixels());
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

/// The camera of a picture that is cropped closely to the subject and its margins, in the wanted proportion.
fn around_subject(origin: &Origin<'_>, standing: &Standing) -> Option<Camera> {
    let viewpoint = Viewpoint::new(&standing.camera, &standing.pose);
    let (mut low, mut high) = (PixelPoint::new(f64::MAX, f64::MAX), PixelPoint::new(f64::MIN, f64::MIN));
    for corner in &origin.subject.outermost {
        let pixel = viewpoint.pixel_of(corner).ok()?;
        (low, high) = (low.inf(&pixel), high.sup(&pixel));
    }
    let camera = &standing.camera;
    let frame = &camera.frame;
    let (frame_width, frame_height) = (f64::from(frame.width_px), f64::from(frame.height_px));
    let proportion = origin.settings.measures.proportion.unwrap_or(frame_width / frame_height);
    let width = (high.x - low.x) / frame.margins.width_left();
    let height = (high.y - low.y) / frame.margins.height_left();
    let (width, height) = (width.max(height * proportion), height.max(width / proportion));
    let (width, height) = (width.min(frame_width).floor(), height.min(frame_height).floor());
    let (across, down) = frame.pixels_per_mm();
    // As high over its lower margin as the frame lets it be.
    let left = (0.5 * (low.x + high.x - width)).clamp(0.0, frame_width - width);
    let top = (high.y + frame.margins.side * height - height).clamp(0.0, frame_height - height);
    let off_mm = ((left + 0.5 * (width - frame_width)) / across, (top + 0.5 * (height - frame_height)) / down);
    Some(Camera {
        frame: Frame {
            width_mm: width / across,
            height_mm: height / down,
            width_px: width as u32,
            height_px: height as u32,
            ..*frame
        },
        shift_mm: camera.shift_mm + off_mm.0,
        rise_mm: camera.rise_mm - off_mm.1,
        ..*camera
    })
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
    let mut stance = origin.with_lens(lens, Aim::Rise);
    let centred = match origin.measure(&stance) {
        Ok(measured) => measured,
        Err(error) => return Way::not_here(remedy, kit, vec![Remark::Refused(error.to_string())]),
    };
    // No more of it than the subject and its margins need: every millimetre asks for a larger image circle.
    let least = needs(origin, &centred.standing.camera).filter(|needs| needs.fullness <= 1.0 && !lens.is_zoom());
    let mut measured = None;
    if let Some(needs) = least {
        stance.rise_mm = Some(in_tenths(needs.rise_mm));
        stance.orientation = Some(centred.standing.orientation);
        measured = origin.measure(&stance).ok().filter(|found| cuts(origin, &found.standing).is_empty());
    }
    if measured.is_none() {
        (stance.rise_mm, stance.orientation) = (None, origin.stance.orientation);
    }
    let measured = measured.unwrap_or(centred);
    let camera = &measured.standing.camera;
    if cuts(origin, &measured.standing).is_empty() {
        let rises = Remark::Rises { rise_mm: camera.rise_mm, circle_mm: camera.needed_circle_mm() };
        let remarks = [Some(rises), margin_lost(&measured)].into_iter().flatten().collect();
        return origin.row_of(remedy, stance, &measured, Effort { kit, ..Effort::default() }, remarks);
    }
    let mut remarks = Vec::new();
    if let Some(needs) = needs(origin, camera) {
        if needs.fullness > 1.0 {
            return Way::not_here(remedy, kit, vec![Remark::TooLongHere { fullness: needs.fullness }]);
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
    Way::not_here(remedy, kit, remarks)
}

/// A rise is set by a scale, on which tenths of a millimetre can be told apart: the next one farther out.
fn in_tenths(rise_mm: f64) -> f64 {
    // What is a tenth but for rounding is that tenth.
    (rise_mm.abs() * 10.0 - 1e-6).ceil().max(0.0) / 10.0 * rise_mm.signum() + 0.0
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
    let [_, beside, bottom, above] = frame.room_mm();
    let below = -bottom;
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
    let rise_mm = in_tenths(needs(origin, &camera)?.rise_mm).abs();
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
        return Some(Way::not_here(remedy, Vec::new(), vec![remark]));
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

/// Pitched nearer to level from where the camera stands, and straightened afterwards where that is still needed: as little as
/// holds the subject, and so that the straightened picture keeps the most.
pub(super) fn tilted(origin: &Origin<'_>) -> Vec<Way> {
    let mut ways: Vec<Way> = Vec::new();
    for aim in [Aim::LeastTilt, Aim::Correct] {
        let stance = Stance { aim, orientation: origin.stance.orientation, ..origin.where_it_stands() };
        let Ok(measured) = origin.measure(&stance) else { continue };
        let (standing, home) = (&measured.standing, &origin.measured.standing);
        let turned = standing.pose.attitude.pitch - home.pose.attitude.pitch;
        let zoomed = (standing.camera.focal_mm / home.camera.focal_mm - 1.0).abs() > SAME_ZOOM;
        let is_new = turned.abs().degrees() > SAME_PITCH_DEG || zoomed;
        let is_known = ways.iter().any(|known| {
            known.stance.as_ref().and_then(|stance| origin.survey.stand(stance).ok()).is_some_and(|known| {
                (known.pose.attitude.pitch - standing.pose.attitude.pitch).abs().degrees() <= SAME_PITCH_DEG
                    && (standing.camera.focal_mm / known.camera.focal_mm - 1.0).abs() <= SAME_ZOOM
            })
        });
        if !is_new || is_known {
            continue;
        }
        let afterwards =
            measured.account.final_picture.is_some_and(|picture| picture.is_ok_and(|kept| kept.straightened));
        let remedy = Remedy::Tilt {
            pitch: standing.pose.attitude.pitch,
            from: home.pose.attitude.pitch,
            zoom_mm: zoomed.then_some(standing.camera.focal_mm),
            afterwards,
        };
        ways.push(if afterwards {
            let named = Stance { name: remedy.words(), ..stance };
            let mut way = straighten_from(origin, remedy, &measured, 0.0);
            way.stance = Some(named);
            way
        } else {
            origin.row_of(remedy, stance, &measured, Effort::default(), Vec::new())
        });
    }
    // What cannot be done so is said by the way that straightens the picture as it is.
    ways.retain(|way| way.outcome != WayOutcome::NotHere);
    ways
}

/// Straightened afterwards, wholly, and as little as makes it read as upright.
pub(super) fn straightened(origin: &Origin<'_>) -> Vec<Way> {
    let attitude = origin.measured.standing.pose.attitude;
    if attitude.pitch == Angle::ZERO && attitude.roll == Angle::ZERO {
        return Vec::new();
    }
    let straighten = |tilt_left| straighten_from(origin, Remedy::Straighten { tilt_left }, &origin.measured, tilt_left);
    let mut ways = vec![straighten(0.0)];
    if origin.figures.reads_upright == Some(false)
        && let Some(share) = most_left(origin)
    {
        ways.push(straighten(share));
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

/// The row of a measured picture that is straightened afterwards.
fn straighten_from(origin: &Origin<'_>, remedy: Remedy, measured: &Measured, tilt_left: f64) -> Way {
    let kit = vec![Equipment::Afterwards];
    let standing = &measured.standing;
    let straightened = if tilt_left == origin.settings.measures.tilt_left {
        measured.account.straightened
    } else {
        let measures = Measures { tilt_left, ..origin.settings.measures };
        appraise(&origin.survey.model, Ok(origin.subject), Some(&origin.survey.sight), standing, &measures).straightened
    };
    let kept = match straightened {
        Some(Ok(kept)) => kept,
        Some(Err(failure)) => {
            let mut remarks = vec![Remark::NotStraightened(failure)];
            remarks.extend(what_would_straighten(origin));
            return Way::not_here(remedy, kit, remarks);
        }
        None => return Way::not_here(remedy, kit, Vec::new()),
    };
    let pictured =
        Standing { camera: kept.camera, pose: Pose { attitude: kept.attitude, ..standing.pose }, ..standing.clone() };
    let mut way = projected(origin, remedy, &pictured, kit, Vec::new());
    let picture = FinalPicture::from_kept(&kept, true);
    if let Some(figures) = &mut way.figures {
        (figures.detail, figures.final_picture) = (kept.detail_kept, Some(Ok(picture)));
    }
    way.remarks.extend((!kept.margins_kept).then_some(Remark::MarginLost));
    way.remarks.extend(margins_cost(&picture));
    way
}

/// What would let the picture be straightened from here: another pitch, another focal length, another proportion, another lens of
/// the bag; the first that does of each, or that nothing does.
pub(super) fn what_would_straighten(origin: &Origin<'_>) -> Vec<Remark> {
    let standing = &origin.measured.standing;
    let straightens = |stance: &Stance| {
        let standing = origin.survey.stand(stance).ok()?;
        let viewpoint = Viewpoint::new(&standing.camera, &standing.pose);
        let frame = &standing.camera.frame;
        let proportion = origin.settings.measures.proportion.unwrap_or(frame.width_mm / frame.height_mm);
        straighten(&viewpoint, &origin.subject.outermost, &[], Straightening { tilt_left: 0.0, proportion }).ok()?;
        Some(standing)
    };
    let here = Stance { aim: Aim::Correct, orientation: Some(standing.orientation), ..origin.where_it_stands() };
    let mut found = Vec::new();
    let held = Stance { focal_mm: Some(standing.camera.focal_mm), ..here.clone() };
    if let Some(standing) = straightens(&held) {
        found.push(Straightener::Pitch(standing.pose.attitude.pitch));
    }
    if standing.lens.is_zoom()
        && let Some(standing) = straightens(&here)
    {
        let Standing { camera, pose, .. } = standing;
        found.push(Straightener::Zoom { focal_mm: camera.focal_mm, pitch: pose.attitude.pitch });
    }
    let viewpoint = Viewpoint::new(&standing.camera, &standing.pose);
    let aspect = ASPECTS.into_iter().find(|&(width, height)| {
        let wanted = Straightening { tilt_left: 0.0, proportion: width / height };
        straighten(&viewpoint, &origin.subject.outermost, &[], wanted).is_ok()
    });
    found.extend(aspect.map(|(width, height)| Straightener::Aspect(Proportion(width, height))));
    if found.is_empty() {
        let mut wider: Vec<&Lens> = origin.bag.iter().filter(|lens| lens.mapping == Mapping::Rectilinear).collect();
        // The longest that does draws it most finely.
        wider.sort_by(|a, b| b.focal_mm.total_cmp(&a.focal_mm));
        let lens = wider
            .into_iter()
            .find(|lens| straightens(&Stance { orientation: None, ..origin.with_lens(lens, Aim::Correct) }).is_some());
        found.extend(lens.map(|lens| Straightener::Lens(lens.name.clone())));
    }
    if found.is_empty() {
        return vec![Remark::NothingStraightens];
    }
    found.into_iter().map(Remark::WouldStraighten).collect()
}

/// The row of a picture that is made at the desk: as a camera would take it at once.
pub(super) fn projected(
    origin: &Origin<'_>,
    remedy: Remedy,
    pictured: &Standing,
    kit: Vec<Equipment>,
    mut remarks: Vec<Remark>,
) -> Way {
    let mut account = appraise(
        &origin.survey.model,
        Ok(origin.subject),
        Some(&origin.survey.sight),
        pictured,
        &origin.settings.measures,
    );
    // It was made to hold the subject; its sides may run along the crop's.
    account.whole_in_frame = true;
    let figures = Figures::of(&account);
    remarks.extend(origin.hidden(&account));
    let verdict = Verdict::of(&origin.survey.model, &account, &origin.settings.measures);
    let outcome = origin.outcome(&figures, &verdict);
    if outcome == WayOutcome::NotHere {
        return Way::not_here(remedy, kit, vec![Remark::SeesNothing]);
    }
    Way {
        remedy,
        outcome,
        figures: Some(figures),
        verdict: Some(verdict),
        effort: Effort { kit, ..Effort::default() },
        remarks,
        stance: None,
        zoom_mm: None,
    }
}
