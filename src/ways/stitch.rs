//! What do several frames give, joined into one level picture?
//!
//! Frames of one eye differ by a projection alone, so they join exactly whatever the depth (R. Hartley, A. Zisserman,
//! *Multiple View Geometry*, §8.4, from memory). Turning gains no height for a level camera: its horizon stays at half
//! the frame, so the frames are pitched and then projected level, or the lens is moved and the frames are level
//! themselves.

use nalgebra::Matrix2;

use crate::optics::{Camera, Frame, Lens, Mapping, Orientation};
use crate::pose::{Attitude, Pose, ViewVector};
use crate::stance::Standing;
use crate::verticals::smallest_singular_value;

use super::from_here::projected;
use super::on_foot::{rise_limit_mm, slopes};
use super::origin::Origin;
use super::{Equipment, Remark, Remedy, Way};

/// Neighbouring frames share a third (common practice, no source).
const STEP: f64 = 2.0 / 3.0;
/// More frames than this are not taken by hand.
const MOST_FRAMES: usize = 12;
/// So many are soon taken.
const FEW_FRAMES: usize = 6;
/// A picture reaches no farther than this slope (76°) off the level axis: its top would be stretched to four times.
const STEEPEST: f64 = 4.0;
/// Points at which the joined picture is judged, up and across.
const JUDGED: (usize, usize) = (49, 9);

/// The picture that is wanted, in slopes from a level camera: the subject and its margins.
struct TargetPicture {
    heading: crate::angle::Angle,
    /// The subject: up, down, aside.
    subject: (f64, f64, f64),
    /// With its margins.
    picture: (f64, f64, f64),
}

impl TargetPicture {
    fn of(origin: &Origin<'_>) -> Option<Self> {
        let eye = origin.measured.standing.pose.eye;
        let outline = origin.subject.outline(&eye).ok()?;
        let (up, down, aside) = slopes(origin, &eye, &outline)?;
        let margins = origin.measured.standing.camera.frame.margins;
        let whole = (up + down) / margins.height_left();
        Some(Self {
            heading: outline.middle(),
            subject: (up, down, aside),
            picture: (up + margins.above * whole, down + margins.side * whole, aside / margins.width_left()),
        })
    }

    /// The camera that would take the picture at once, at a focal length in pixels.
    fn standing(&self, origin: &Origin<'_>, focal_px: f64, mm_per_px: f64) -> Standing {
        let (top, bottom, side) = self.picture;
        let whole_px = |slope: f64| ((slope * focal_px).floor().max(1.0)) as u32;
        let (width_px, height_px) = (whole_px(2.0 * side), whole_px(top + bottom));
        let focal_mm = focal_px * mm_per_px;
        let frame = Frame {
            width_mm: f64::from(width_px) * mm_per_px,
            height_mm: f64::from(height_px) * mm_per_px,
            width_px,
            height_px,
            margins: origin.measured.standing.camera.frame.margins,
        };
        let standing = &origin.measured.standing;
        Standing {
            camera: Camera { rise_mm: 0.5 * (top - bottom) * focal_mm, ..Camera::plain(frame, focal_mm) },
            pose: Pose { attitude: Attitude::level(self.heading), ..standing.pose },
            ..standing.clone()
        }
    }
}

/// Level frames of a lens that rises, moved up and down: the longest that holds the subject so.
pub(super) fn shifted(origin: &Origin<'_>) -> Option<Way> {
    let wanted = TargetPicture::of(origin)?;
    let (top, bottom, side) = wanted.picture;
    let held = origin.stance.orientation.map_or(vec![Orientation::Portrait, Orientation::Landscape], |held| vec![held]);
    let mut best: Option<Way> = None;
    let mut nearest: Option<(f64, Way)> = None;
    let (mut best_mm, mut single) = (0.0, false);
    for lens in origin.bag.iter().filter(|lens| lens.rise_mm > 0.0 && lens.mapping == Mapping::Rectilinear) {
        for &orientation in &held {
            let frame = origin.frame(orientation);
            let (f, limit_mm) = (lens.focal_mm, rise_limit_mm(lens, &frame));
            let (highest, lowest) = (f * top - 0.5 * frame.height_mm, 0.5 * frame.height_mm - f * bottom);
            let remedy = Remedy::ShiftedFrames { lens: lens.name.clone() };
            let over_mm = highest.max(-lowest);
            let too_wide = f * side > 0.5 * frame.width_mm;
            if over_mm > limit_mm || too_wide {
                let short = (over_mm / limit_mm.max(1e-9)).max(f * side / (0.5 * frame.width_mm));
                if nearest.as_ref().is_none_or(|(known, _)| short < *known) {
                    let remark = if over_mm > limit_mm {
                        let covered_mm = (limit_mm < lens.rise_mm).then_some(limit_mm);
                        Remark::NeedsRise { needed_mm: over_mm, moves_mm: lens.rise_mm, covered_mm }
                    } else {
                        Remark::TooLongHere { fullness: f * side / (0.5 * frame.width_mm) }
                    };
                    nearest = Some((short, Way::not_here(remedy, Vec::new(), vec![remark])));
                }
                continue;
            }
            if highest <= lowest {
                // One frame holds it all: nothing to join.
                single = true;
                continue;
            }
            if f <= best_mm {
                continue;
            }
            let count = 1 + ((highest - lowest) / (STEP * frame.height_mm)).ceil() as usize;
            let pictured = wanted.standing(origin, f * frame.pixels_per_mm().1, 1.0 / frame.pixels_per_mm().1);
            let own = lens.name == origin.measured.standing.lens.name;
            let mut kit = if own { Vec::new() } else { vec![Equipment::Lens(lens.name.clone())] };
            kit.push(Equipment::Frames(count));
            let moved = Remark::FramesMoved { from_mm: lowest, to_mm: highest };
            best = Some(projected(origin, remedy, &pictured, kit, vec![moved]));
            best_mm = f;
        }
    }
    best.or(nearest.filter(|_| !single).map(|(_, way)| way))
}

/// Frames turned up and down, and to the sides where it takes that, joined and projected level.
pub(super) fn pitched(origin: &Origin<'_>) -> Option<Way> {
    let standing = &origin.measured.standing;
    if standing.lens.mapping != Mapping::Rectilinear {
        return None;
    }
    let wanted = TargetPicture::of(origin)?;
    let remedy = Remedy::PitchedFrames;
    if wanted.picture.0.max(wanted.picture.1).max(wanted.picture.2) > STEEPEST {
        return Some(Way::not_here(
            remedy,
            Vec::new(),
            vec![Remark::NotStraightened(crate::verticals::StraightenFailure::TooSteep)],
        ));
    }
    let mut choices: Vec<(f64, &Lens)> = Vec::new();
    for lens in origin.bag.iter().chain([&standing.lens]).filter(|lens| lens.mapping == Mapping::Rectilinear) {
        choices.extend([lens.focal_mm, lens.longest_mm()].iter().chain(&lens.marks_mm).map(|&mm| (mm, lens)));
    }
    let own = |lens: &Lens| lens.name == standing.lens.name;
    choices.push((standing.camera.focal_mm, &standing.lens));
    choices.retain(|(focal_mm, _)| *focal_mm >= standing.camera.focal_mm);
    // The shortest first; of equal ones the lens that is on.
    choices.sort_by(|a, b| a.0.total_cmp(&b.0).then(own(b.1).cmp(&own(a.1))));
    choices.dedup_by(|b, a| a.0 == b.0);
    let mut chosen: Option<(Camera, &Lens, FrameGrid)> = None;
    for (focal_mm, lens) in choices {
        let camera = Camera {
            rise_mm: 0.0,
            shift_mm: 0.0,
            focal_mm,
            distortion: lens.distortion_at(focal_mm),
            ..standing.camera
        };
        let Some(frames) = FrameGrid::over(&wanted, &camera) else { break };
        let count = frames.attitudes.len();
        // The longest that few frames do; else the shortest that more than one does.
        if count > 1 && (count <= FEW_FRAMES || chosen.is_none()) {
            chosen = Some((camera, lens, frames));
        }
    }
    let Some((camera, lens, frames)) = chosen else {
        let fullness =
            (wanted.picture.0 + wanted.picture.1) * standing.camera.focal_mm / standing.camera.frame.height_mm;
        // Where one frame holds it all and no longer lens is there, there is nothing to join.
        return (fullness > 1.0).then(|| Way::not_here(remedy, Vec::new(), vec![Remark::TooLongHere { fullness }]));
    };
    let focal_px = frames.unstretched_focal_px(&wanted, &camera)?;
    let pictured = wanted.standing(origin, focal_px, 1.0 / camera.frame.pixels_per_mm().1);
    let taken = Remark::Frames {
        focal_mm: camera.focal_mm,
        columns: frames.columns,
        rows: frames.rows,
        from_deg: frames.attitudes.iter().map(|a| a.pitch.degrees()).fold(f64::INFINITY, f64::min),
        to_deg: frames.attitudes.iter().map(|a| a.pitch.degrees()).fold(f64::NEG_INFINITY, f64::max),
    };
    let mut kit = if own(lens) { Vec::new() } else { vec![Equipment::Lens(lens.name.clone())] };
    kit.push(Equipment::Frames(frames.attitudes.len()));
    Some(projected(origin, remedy, &pictured, kit, vec![taken, Remark::TurningGainsNoHeight]))
}

/// Frames that cover the wanted picture.
struct FrameGrid {
    columns: usize,
    rows: usize,
    attitudes: Vec<Attitude>,
}

impl FrameGrid {
    /// As few as cover it, no more than a person takes.
    fn over(wanted: &TargetPicture, camera: &Camera) -> Option<Self> {
        let mut counts: Vec<(usize, usize)> =
            (1..=MOST_FRAMES).flat_map(|rows| (1..=MOST_FRAMES / rows).map(move |columns| (rows, columns))).collect();
        counts.sort_by_key(|&(rows, columns)| (rows * columns, columns));
        counts.into_iter().find_map(|(rows, columns)| {
            let (top, bottom, side) = wanted.picture;
            let [across, down, _] = camera.fields();
            let (across, down) = (across?.radians(), down?.radians());
            // Of a frame that is turned aside, the top edge falls towards the middle; a pitched one is narrower at its
            // near edge.
            let overlap = if columns > 1 { (0.5 * across).cos() } else { 1.0 };
            let narrowed = 2.0 * ((0.5 * across).tan() * if rows > 1 { (0.5 * down).cos() } else { 1.0 }).atan();
            let pitches = spread(-(bottom / overlap).atan(), (top / overlap).atan(), down, rows)?;
            let turns = spread(-side.atan(), side.atan(), narrowed, columns)?;
            let attitudes: Vec<Attitude> = pitches
                .iter()
                .flat_map(|&pitch| turns.iter().map(move |&turn| (pitch, turn)))
                .map(|(pitch, turn)| Attitude {
                    heading: wanted.heading + crate::angle::Angle::from_radians(turn),
                    pitch: crate::angle::Angle::from_radians(pitch),
                    roll: crate::angle::Angle::ZERO,
                })
                .collect();
            let frames = Self { columns, rows, attitudes };
            frames.covers(wanted, camera).then_some(frames)
        })
    }

    fn covers(&self, wanted: &TargetPicture, camera: &Camera) -> bool {
        let (top, bottom, side) = wanted.picture;
        let level = Attitude::level(wanted.heading).view_from_world().transpose();
        // A hair inside, for rounding.
        grid(top - 1e-9, bottom - 1e-9, side - 1e-9).all(|slope| {
            self.attitudes.iter().any(|attitude| {
                let view = attitude.view_from_world() * (level * slope);
                camera.pixel_from_view(&view).is_some_and(|pixel| camera.holds(pixel))
            })
        })
    }

    /// The focal length at which the joined picture stretches no pixel of its frames over the subject, each point taken
    /// from the frame that draws it most finely.
    fn unstretched_focal_px(&self, wanted: &TargetPicture, camera: &Camera) -> Option<f64> {
        let (up, down, aside) = wanted.subject;
        let level = Attitude::level(wanted.heading).view_from_world().transpose();
        let views: Vec<_> = self.attitudes.iter().map(|attitude| attitude.view_from_world() * level).collect();
        grid(up, down, aside)
            .map(|slope| {
                let finest = views.iter().filter_map(|view_from_level| {
                    let view: ViewVector = view_from_level * slope;
                    let (pixel, jacobian) = camera.pixel_with_jacobian(&view)?;
                    let slopes: Matrix2<f64> = jacobian * view_from_level.fixed_columns::<2>(0);
                    camera.holds(pixel).then(|| smallest_singular_value(&slopes))
                });
                finest.fold(0.0, f64::max)
            })
            .reduce(f64::min)
            .filter(|focal_px| *focal_px > 0.0)
    }
}

/// Directions over a level picture, as slopes: right, down, ahead.
fn grid(up: f64, down: f64, aside: f64) -> impl Iterator<Item = ViewVector> {
    (0..JUDGED.0).flat_map(move |row| {
        let y = -up + (up + down) * row as f64 / (JUDGED.0 - 1) as f64;
        (0..JUDGED.1).map(move |column| {
            let x = aside * (2.0 * column as f64 / (JUDGED.1 - 1) as f64 - 1.0);
            ViewVector::new(x, y, 1.0)
        })
    })
}

/// Where so many frames of a field point to cover an angle; `None` where they would lie too far apart, or more than cover it.
fn spread(low: f64, high: f64, field: f64, count: usize) -> Option<Vec<f64>> {
    if count == 1 {
        return Some(vec![0.5 * (low + high)]);
    }
    let between = (high - low - field) / (count - 1) as f64;
    // Frames of a level picture are wider at their ends, so they may crowd; they may not gape.
    (between > 0.0 && between <= STEP * field)
        .then(|| (0..count).map(|frame| low + 0.5 * field + frame as f64 * between).collect())
}
