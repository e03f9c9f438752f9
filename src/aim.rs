//! How must the camera be turned, zoomed or shifted so that the subject sits in the frame?
//!
//! `fill` centres the subject between its margins by heading and pitch, and zooms until it touches them; `level` does so
//! with the camera level; `rise` shifts the lens as far as it goes; `least-tilt` pitches no more than it takes to hold the
//! subject; `correct` does what lets a straightened picture keep the most detail. Margins are 5 % of the frame at the sides
//! and below, 8 % above.

use thiserror::Error;

use crate::angle::Angle;
use crate::optics::{Camera, Distortion, Frame, Lens, PicturePoint};
use crate::outline::{OutlineError, Subject};
use crate::pose::{Attitude, Pose, ViewVector, WorldPoint};
use crate::site::Aim;
use crate::verticals::{Straightening, Viewpoint, straighten};

/// Steps of Newton's method before the slower, certain way is taken.
const NEWTON_STEPS: usize = 24;
/// The subject is centred to within this.
const CENTRED_MM: f64 = 1e-9;
/// A heading this near north, in radians, is north but for rounding, which would be read as a hair short of 360°.
const NORTH: f64 = 1e-13;
/// A zoom fills the frame to within this share.
const FILLED: f64 = 1e-12;
/// A subject that takes no more of the room than this is held by it.
const HELD: f64 = 1.0 + 1e-9;
/// How finely a pitch is looked for: how many are tried between level and the farthest before the least is found by halving, and
/// how often it is halved.
#[derive(Clone, Copy, Debug)]
struct Fineness {
    steps: usize,
    halvings: usize,
}

/// To the rounding of an angle.
const LEAST_TILT: Fineness = Fineness { steps: 12, halvings: 44 };
/// To a thousandth of a degree.
const CORRECTED: Fineness = Fineness { steps: 12, halvings: 14 };
/// Where none of those steps serves.
const FINELY_CORRECTED: Fineness = Fineness { steps: 240, halvings: 14 };
/// Focal lengths of a zoom that are tried for straightening before the best is found by thirds, and by how many.
const FOCAL_STEPS: usize = 8;
const THIRDS: usize = 8;

/// A frame and what can be set on its lens; what is given is held.
#[derive(Clone, Copy, Debug)]
pub struct Mounting<'a> {
    /// The upright picture.
    pub frame: Frame,
    /// The lens.
    pub lens: &'a Lens,
    /// The focal length, if it is held.
    pub focal_mm: Option<f64>,
    /// The rise, if it is held.
    pub rise_mm: Option<f64>,
    /// The shift.
    pub shift_mm: f64,
    /// A distortion in place of the lens's own.
    pub distortion: Option<Distortion>,
}

/// A camera that has been aimed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Aimed {
    /// The camera as set.
    pub camera: Camera,
    /// How it is turned.
    pub attitude: Attitude,
    /// How much of the frame within its margins the subject takes: 1 touches them, more is cut into.
    pub fullness: Option<f64>,
    /// For an aim at straightening: whether the straightened picture keeps the margins, and its focal length, which is how
    /// finely it draws; absent where there is no such picture.
    pub straightens_to: Option<(bool, f64)>,
}

/// Why the camera cannot be aimed so.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum AimError {
    /// There is no subject, or it is all around.
    #[error(transparent)]
    Outline(#[from] OutlineError),
    /// Part of the subject is drawn nowhere by this lens, however it is turned.
    #[error("the subject cannot be framed from here: it spans more than this lens can draw; move further away")]
    TooWide,
    /// The point to aim at is the eye itself.
    #[error("the camera is at the point it is aimed at")]
    AtItself,
}

impl Mounting<'_> {
    /// The camera at a focal length and rise.
    pub fn camera(&self, focal_mm: f64, rise_mm: f64) -> Camera {
        Camera {
            frame: self.frame,
            focal_mm,
            rise_mm,
            shift_mm: self.shift_mm,
            mapping: self.lens.mapping,
            distortion: self.distortion.unwrap_or_else(|| self.lens.distortion_at(focal_mm)),
        }
    }

    fn focal_range(&self) -> (f64, f64) {
        self.focal_mm.map_or((self.lens.focal_mm, self.lens.longest_mm()), |held| (held, held))
    }

    /// How far the lens can rise or fall on this frame: its own travel, and what its image circle still covers.
    pub fn rise_limit_mm(&self) -> f64 {
        let covered = self.lens.circle_mm.map_or(f64::INFINITY, |circle_mm| {
            let across = 0.5 * self.frame.width_mm + self.shift_mm.abs();
            (0.25 * circle_mm * circle_mm - across * across).max(0.0).sqrt() - 0.5 * self.frame.height_mm
        });
        self.lens.rise_mm.min(covered).max(0.0)
    }
}

impl Aimed {
    /// Whether a camera held this way suits an aim better than one held the other way: for the least tilt the one that is
    /// tilted less, for straightening the one that keeps more; else the one that lets a zoom reach further, else the one in
    /// which the subject takes less of the frame.
    pub(crate) fn suits_better(&self, other: &Self, wanted: Aim) -> bool {
        let holds = |aimed: &Self| fullness(aimed) <= HELD;
        let (here, there) = (self.attitude.pitch.abs(), other.attitude.pitch.abs());
        if wanted == Aim::LeastTilt && holds(self) != holds(other) {
            holds(self)
        } else if wanted == Aim::LeastTilt && holds(self) && here != there {
            here < there
        } else if self.straightens_to != other.straightens_to {
            self.straightens_to > other.straightens_to
        } else if self.camera.focal_mm != other.camera.focal_mm {
            self.camera.focal_mm > other.camera.focal_mm
        } else {
            fullness(self) < fullness(other)
        }
    }
}

/// Aims a camera from an eye.
///
/// # Errors
/// There is no subject to aim at, it is all around the eye, or no attitude draws all of it.
pub fn aim(
    wanted: Aim,
    eye: &WorldPoint,
    subject: Option<&Subject>,
    mounting: &Mounting<'_>,
) -> Result<Aimed, AimError> {
    let mut aimed = aim_exactly(wanted, eye, subject, mounting)?;
    let heading = &mut aimed.attitude.heading;
    if heading.wrapped().radians().abs() <= NORTH && !matches!(wanted, Aim::Turned { .. }) {
        *heading = Angle::ZERO;
    }
    Ok(aimed)
}

/// [`aim`], but for north's rounding.
fn aim_exactly(
    wanted: Aim,
    eye: &WorldPoint,
    subject: Option<&Subject>,
    mounting: &Mounting<'_>,
) -> Result<Aimed, AimError> {
    let held_rise_mm = mounting.rise_mm.unwrap_or(0.0);
    let (shortest_mm, longest_mm) = mounting.focal_range();
    match wanted {
        Aim::Turned { heading_deg, pitch_deg, roll_deg } => {
            let attitude = Attitude {
                heading: Angle::from_degrees(heading_deg),
                pitch: Angle::from_degrees(pitch_deg),
                roll: Angle::from_degrees(roll_deg),
            };
            Ok(as_turned(mounting.camera(shortest_mm, held_rise_mm), attitude, eye, subject))
        }
        Aim::At(east, north, up) => {
            let towards = WorldPoint::new(east, north, up) - eye;
            if towards.norm() < 1e-6 {
                return Err(AimError::AtItself);
            }
            let attitude = Attitude {
                heading: Angle::bearing_of(towards.x, towards.y),
                pitch: Angle::from_radians(towards.z.atan2(towards.x.hypot(towards.y))),
                roll: Angle::ZERO,
            };
            Ok(as_turned(mounting.camera(shortest_mm, held_rise_mm), attitude, eye, subject))
        }
        Aim::LeastTilt | Aim::Correct => {
            let subject = subject.ok_or(OutlineError::NoSubject)?;
            subject.outline(eye)?;
            let tilting = Tilting { eye: *eye, subject, mounting };
            if wanted == Aim::LeastTilt { tilting.least_tilt() } else { tilting.correct() }
        }
        Aim::Fill | Aim::Level | Aim::Rise => {
            let subject = subject.ok_or(OutlineError::NoSubject)?;
            let outline = subject.outline(eye)?;
            let framing = Framing { eye: *eye, subject, mounting, wanted };
            let start = framing.start(outline.middle());
            // The fullness grows with the focal length: take the longest that still fits.
            let shortest = framing.at(shortest_mm, start).ok_or(AimError::TooWide)?;
            if longest_mm <= shortest_mm || fullness(&shortest) >= 1.0 {
                return Ok(shortest);
            }
            if let Some(longest) = framing.at(longest_mm, shortest.attitude).filter(|longest| fullness(longest) <= 1.0)
            {
                return Ok(longest);
            }
            Ok(framing.touching(shortest, longest_mm))
        }
    }
}

fn fullness(aimed: &Aimed) -> f64 {
    aimed.fullness.unwrap_or(f64::INFINITY)
}

fn as_turned(camera: Camera, attitude: Attitude, eye: &WorldPoint, subject: Option<&Subject>) -> Aimed {
    let fullness = subject.and_then(|subject| {
        let extent = extent(&camera, attitude, eye, subject)?;
        Some(extent.reach(&camera.frame.room_mm()))
    });
    Aimed { camera, attitude, fullness, straightens_to: None }
}

/// The outermost points of the subject in the picture: left, right, bottom, top.
#[derive(Clone, Copy, Debug)]
struct Extent {
    mm: [f64; 4],
    corners: [WorldPoint; 4],
}

fn extent(camera: &Camera, attitude: Attitude, eye: &WorldPoint, subject: &Subject) -> Option<Extent> {
    let view_from_world = attitude.view_from_world();
    let view_of = |corner: &WorldPoint| view_from_world * (corner - eye);
    let corners = if camera.draws_straight() {
        // A straight picture grows with the slopes, which cost less than its millimetres.
        let slopes = |view: ViewVector| (view.z > 0.0).then(|| PicturePoint::new(view.x, -view.y) / view.z);
        four_outermost(&subject.outermost, |corner| slopes(view_of(corner)))
    } else {
        // Where lines are bent, any corner may be drawn outermost.
        four_outermost(&subject.corners, |corner| camera.picture_from_view(&view_of(corner)))
    }?;
    let [left, right, bottom, top] = corners.map(|corner| camera.picture_from_view(&view_of(&corner)));
    Some(Extent { mm: [left?.x, right?.x, bottom?.y, top?.y], corners })
}

/// The corners that lie farthest left, right, down and up; `None` where there are none, or one has no place.
fn four_outermost(
    corners: &[WorldPoint],
    place: impl Fn(&WorldPoint) -> Option<PicturePoint>,
) -> Option<[WorldPoint; 4]> {
    let first = *corners.first()?;
    let start = place(&first)?;
    let (mut low, mut high, mut found) = (start, start, [first; 4]);
    for corner in corners {
        let point = place(corner)?;
        if point.x < low.x {
            (low.x, found[0]) = (point.x, *corner);
        }
        if point.x > high.x {
            (high.x, found[1]) = (point.x, *corner);
        }
        if point.y < low.y {
            (low.y, found[2]) = (point.y, *corner);
        }
        if point.y > high.y {
            (high.y, found[3]) = (point.y, *corner);
        }
    }
    Some(found)
}

impl Extent {
    /// How far from the middle of the room the extent's middle is, across and up.
    fn off_centre(&self, room: &[f64; 4]) -> (f64, f64) {
        let off = |low: usize, high: usize| 0.5 * (self.mm[low] - room[low] + self.mm[high] - room[high]);
        (off(0, 1), off(2, 3))
    }

    /// Its size over that of the room: 1 touches.
    fn share(&self, room: &[f64; 4]) -> (f64, f64) {
        let share = |low: usize, high: usize| (self.mm[high] - self.mm[low]) / (room[high] - room[low]);
        (share(0, 1), share(2, 3))
    }

    /// How far it reaches from the frame's own centre over how far the room does, at its farthest side.
    fn reach(&self, room: &[f64; 4]) -> f64 {
        (0..4).map(|side| self.mm[side] / room[side]).fold(0.0, f64::max)
    }
}

/// The search for an attitude and focal length.
struct Framing<'a> {
    eye: WorldPoint,
    subject: &'a Subject,
    mounting: &'a Mounting<'a>,
    wanted: Aim,
}

impl Framing<'_> {
    /// Towards the middle of the subject, by angle.
    fn start(&self, heading: Angle) -> Attitude {
        let (low, high) =
            self.subject.outermost.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), corner| {
                let offset = corner - self.eye;
                let slope = offset.z / offset.xy().norm();
                (low.min(slope), high.max(slope))
            });
        let pitch = 0.5 * (low.atan() + high.atan());
        let pitch = if self.wanted == Aim::Fill { Angle::from_radians(pitch) } else { Angle::ZERO };
        Attitude { heading, pitch, roll: Angle::ZERO }
    }

    /// The camera centred at a focal length; `None` where the lens does not draw all of the subject.
    fn at(&self, focal_mm: f64, start: Attitude) -> Option<Aimed> {
        let rise_mm = self.mounting.rise_mm.unwrap_or(0.0);
        let camera = self.mounting.camera(focal_mm, rise_mm);
        let room = camera.frame.room_mm();
        let (attitude, extent) = self.centred(&camera, start, self.wanted == Aim::Fill)?;
        let (across, up) = extent.share(&room);
        let (camera, fullness) = match self.wanted {
            Aim::Fill => (camera, across.max(up)),
            Aim::Rise if self.mounting.rise_mm.is_none() => {
                // Rise moves the whole picture down by itself.
                let limit_mm = self.mounting.rise_limit_mm();
                let rise_mm = extent.off_centre(&room).1.clamp(-limit_mm, limit_mm);
                let shifted = Extent {
                    mm: [extent.mm[0], extent.mm[1], extent.mm[2] - rise_mm, extent.mm[3] - rise_mm],
                    ..extent
                };
                (
                    self.mounting.camera(focal_mm, rise_mm),
                    across.max(shifted.mm[2] / room[2]).max(shifted.mm[3] / room[3]),
                )
            }
            _ => (camera, across.max(extent.mm[2] / room[2]).max(extent.mm[3] / room[3])),
        };
        Some(Aimed { camera, attitude, fullness: Some(fullness), straightens_to: None })
    }

    /// Centred by heading, and by pitch if it `tilts`: by Newton's method on the four outermost points, then by halving where
    /// that does not settle.
    fn centred(&self, camera: &Camera, start: Attitude, tilts: bool) -> Option<(Attitude, Extent)> {
        let room = camera.frame.room_mm();
        let residual = |extent: &Extent| {
            let (across, up) = extent.off_centre(&room);
            (across, if tilts { up } else { 0.0 })
        };
        let mut attitude = start;
        let mut found = extent(camera, attitude, &self.eye, self.subject)?;
        let mut error = residual(&found);
        for _ in 0..NEWTON_STEPS {
            if error.0.abs().max(error.1.abs()) < CENTRED_MM {
                return Some((attitude, found));
            }
            let Some(step) = self.newton_step(camera, attitude, &found, error, tilts) else { break };
            let mut share = 1.0;
            let better = loop {
                let tried = Attitude {
                    heading: attitude.heading + Angle::from_radians(step.0 * share),
                    pitch: attitude.pitch + Angle::from_radians(step.1 * share),
                    ..attitude
                };
                if let Some(extent) = extent(camera, tried, &self.eye, self.subject) {
                    let now = residual(&extent);
                    if now.0.hypot(now.1) < error.0.hypot(error.1) {
                        break Some((tried, extent, now));
                    }
                }
                share *= 0.5;
                if share < 1e-4 {
                    break None;
                }
            };
            let Some(better) = better else { break };
            (attitude, found, error) = better;
        }
        if error.0.abs().max(error.1.abs()) < 1e3 * CENTRED_MM {
            return Some((attitude, found));
        }
        self.halved(camera, start, tilts)
    }

    fn newton_step(
        &self,
        camera: &Camera,
        attitude: Attitude,
        extent: &Extent,
        error: (f64, f64),
        tilts: bool,
    ) -> Option<(f64, f64)> {
        const STEP: f64 = 1e-6;
        let off = |attitude: Attitude| {
            let view_from_world = attitude.view_from_world();
            let place = |side: usize| camera.picture_from_view(&(view_from_world * (extent.corners[side] - self.eye)));
            Some((0.5 * (place(0)?.x + place(1)?.x), 0.5 * (place(2)?.y + place(3)?.y)))
        };
        let slope = |turned: fn(Attitude, Angle) -> Attitude| {
            let (ahead, behind) =
                (off(turned(attitude, Angle::from_radians(STEP)))?, off(turned(attitude, Angle::from_radians(-STEP)))?);
            Some(((ahead.0 - behind.0) / (2.0 * STEP), (ahead.1 - behind.1) / (2.0 * STEP)))
        };
        let by_heading = slope(|a, by| Attitude { heading: a.heading + by, ..a })?;
        if !tilts {
            return (by_heading.0 != 0.0).then(|| (-error.0 / by_heading.0, 0.0));
        }
        let by_pitch = slope(|a, by| Attitude { pitch: a.pitch + by, ..a })?;
        let determinant = by_heading.0 * by_pitch.1 - by_pitch.0 * by_heading.1;
        (determinant != 0.0).then(|| {
            (
                -(error.0 * by_pitch.1 - error.1 * by_pitch.0) / determinant,
                -(error.1 * by_heading.0 - error.0 * by_heading.1) / determinant,
            )
        })
    }

    /// Heading and pitch by turns, each by halving between attitudes that draw all of the subject.
    fn halved(&self, camera: &Camera, start: Attitude, tilts: bool) -> Option<(Attitude, Extent)> {
        let room = camera.frame.room_mm();
        let mut attitude = start;
        for _ in 0..60 {
            for (axis, turned) in [
                (0, (|a, by| Attitude { heading: a.heading + by, ..a }) as fn(Attitude, Angle) -> Attitude),
                (1, |a, by| Attitude { pitch: a.pitch + by, ..a }),
            ] {
                if axis == 1 && !tilts {
                    continue;
                }
                let off = |by: f64| {
                    let extent = extent(camera, turned(attitude, Angle::from_radians(by)), &self.eye, self.subject)?;
                    let (across, up) = extent.off_centre(&room);
                    Some(if axis == 0 { across } else { up })
                };
                let here = off(0.0)?;
                // Turning towards the side on which the subject lies brings it back: widen until it crosses over.
                let sense = here.signum();
                let (mut near, mut far) = (0.0, sense * 1e-4);
                while far.abs() < 1.5 && off(far).is_some_and(|value| value.signum() == sense) {
                    near = far;
                    far *= 1.5;
                }
                for _ in 0..60 {
                    let middle = 0.5 * (near + far);
                    if off(middle).is_some_and(|value| value.signum() == sense) { near = middle } else { far = middle }
                }
                attitude = turned(attitude, Angle::from_radians(near));
            }
        }
        Some((attitude, extent(camera, attitude, &self.eye, self.subject)?))
    }

    /// The focal length at which the subject just touches the margins, between one that fits and one that is too long.
    fn touching(&self, fits: Aimed, too_long_mm: f64) -> Aimed {
        let (mut best, mut low_mm, mut high_mm) = (fits, fits.camera.focal_mm, too_long_mm);
        // The picture grows about in proportion to the focal length, so a straight step nearly always lands.
        let mut guess_mm = low_mm / fullness(&best);
        for _ in 0..80 {
            if !(guess_mm > low_mm && guess_mm < high_mm) {
                guess_mm = 0.5 * (low_mm + high_mm);
            }
            if guess_mm <= low_mm || guess_mm >= high_mm {
                break;
            }
            match self.at(guess_mm, best.attitude) {
                Some(tried) if fullness(&tried) <= 1.0 => {
                    (best, low_mm) = (tried, guess_mm);
                    if 1.0 - fullness(&best) < FILLED {
                        break;
                    }
                    guess_mm = low_mm / fullness(&best);
                }
                Some(tried) => {
                    high_mm = guess_mm;
                    guess_mm /= fullness(&tried);
                }
                None => {
                    high_mm = guess_mm;
                    guess_mm = 0.5 * (low_mm + high_mm);
                }
            }
        }
        best
    }
}

/// The search for the pitch that is nearest to level, and for the one that suits straightening best.
struct Tilting<'a> {
    eye: WorldPoint,
    subject: &'a Subject,
    mounting: &'a Mounting<'a>,
}

impl Tilting<'_> {
    fn framing(&self, wanted: Aim) -> Framing<'_> {
        Framing { eye: self.eye, subject: self.subject, mounting: self.mounting, wanted }
    }

    fn aimed(&self, wanted: Aim) -> Result<Aimed, AimError> {
        aim_exactly(wanted, &self.eye, Some(self.subject), self.mounting)
    }

    /// The camera at a focal length and pitch, with the subject centred from side to side.
    fn pitched(&self, focal_mm: f64, near: Attitude, pitch_rad: f64) -> Option<Aimed> {
        let (camera, attitude, extent) = self.centred(focal_mm, near, pitch_rad)?;
        let room = camera.frame.room_mm();
        let fullness = extent.share(&room).0.max(extent.mm[2] / room[2]).max(extent.mm[3] / room[3]);
        Some(Aimed { camera, attitude, fullness: Some(fullness), straightens_to: None })
    }

    /// The same, and where the subject is drawn.
    fn centred(&self, focal_mm: f64, near: Attitude, pitch_rad: f64) -> Option<(Camera, Attitude, Extent)> {
        let camera = self.mounting.camera(focal_mm, self.mounting.rise_mm.unwrap_or(0.0));
        let start = Attitude { pitch: Angle::from_radians(pitch_rad), ..near };
        let (attitude, extent) = self.framing(Aim::Level).centred(&camera, start, false)?;
        Some((camera, attitude, extent))
    }

    /// As level as the lens allows at its shortest; where it may be level, as long as that allows.
    fn least_tilt(&self) -> Result<Aimed, AimError> {
        let (shortest_mm, _) = self.mounting.focal_range();
        let shortest = Mounting { focal_mm: Some(shortest_mm), ..*self.mounting };
        let level = aim_exactly(Aim::Level, &self.eye, Some(self.subject), &shortest);
        if level.as_ref().is_ok_and(|level| fullness(level) <= HELD) {
            return self.aimed(Aim::Level);
        }
        let filled = aim_exactly(Aim::Fill, &self.eye, Some(self.subject), &shortest)?;
        // Where the subject's end just touches its margin: no lesser pitch holds it.
        let touching = self.touching(&filled).filter(|touching| fullness(touching) <= HELD);
        if let Some(touching) = touching {
            return Ok(touching);
        }
        if fullness(&filled) > HELD {
            return Ok(filled);
        }
        let holds = |pitched: &Aimed| fullness(pitched) <= 1.0 + FILLED;
        Ok(self.nearest_level(&filled, filled.attitude.pitch.radians(), LEAST_TILT, holds).unwrap_or(filled))
    }

    /// The least pitch on the way from level to centred at which the subject's top, or its base where the camera looks down on it,
    /// is within its margin; `None` where it is so level, or not even centred.
    fn touching(&self, filled: &Aimed) -> Option<Aimed> {
        let to_rad = filled.attitude.pitch.radians();
        let end_is_within = |pitch_rad: f64| {
            let (camera, _, extent) = self.centred(filled.camera.focal_mm, filled.attitude, pitch_rad)?;
            let room = camera.frame.room_mm();
            Some(if to_rad > 0.0 { extent.mm[3] <= room[3] } else { extent.mm[2] >= room[2] })
        };
        if end_is_within(0.0) == Some(true) || end_is_within(to_rad) != Some(true) {
            return None;
        }
        let (mut beyond_rad, mut within_rad) = (0.0, to_rad);
        for _ in 0..LEAST_TILT.halvings {
            let middle_rad = 0.5 * (beyond_rad + within_rad);
            if end_is_within(middle_rad) == Some(true) { within_rad = middle_rad } else { beyond_rad = middle_rad }
        }
        self.pitched(filled.camera.focal_mm, filled.attitude, within_rad)
    }

    /// Between level and a pitch: the camera pitched least that serves; `None` where none does. Where what serves has gaps it
    /// is the first stretch, if that is no narrower than a step.
    fn nearest_level(
        &self,
        near: &Aimed,
        to_rad: f64,
        fineness: Fineness,
        serves: impl Fn(&Aimed) -> bool,
    ) -> Option<Aimed> {
        let focal_mm = near.camera.focal_mm;
        let at = |pitch_rad: f64| self.pitched(focal_mm, near.attitude, pitch_rad).filter(|pitched| serves(pitched));
        let mut short_rad = 0.0;
        let (mut best, mut good_rad) = (0..=fineness.steps).find_map(|step| {
            let pitch_rad = to_rad * step as f64 / fineness.steps as f64;
            let found = at(pitch_rad);
            if found.is_none() {
                short_rad = pitch_rad;
            }
            found.map(|found| (found, pitch_rad))
        })?;
        for _ in 0..if good_rad == 0.0 { 0 } else { fineness.halvings } {
            let middle_rad = 0.5 * (short_rad + good_rad);
            match at(middle_rad) {
                Some(found) => (best, good_rad) = (found, middle_rad),
                None => short_rad = middle_rad,
            }
        }
        Some(best)
    }

    /// What keeps the most detail once it is straightened, with its margins if any does. From one eye the straightened picture
    /// draws the subject as finely as its focal length is long, so that alone is compared.
    fn correct(&self) -> Result<Aimed, AimError> {
        let (shortest_mm, longest_mm) = self.mounting.focal_range();
        let mut best: Option<Aimed> = None;
        let mut offer = |focal_mm: f64| {
            let found = self.corrected(focal_mm, CORRECTED);
            if let Some(found) = found
                && best.is_none_or(|best| found.straightens_to > best.straightens_to)
            {
                best = Some(found);
            }
            found.and_then(|found| found.straightens_to)
        };
        if longest_mm <= shortest_mm {
            offer(shortest_mm);
        } else {
            // No longer than the frame can hold the subject without its margins.
            let filled = self.aimed(Aim::Fill)?;
            let reach_mm = filled.camera.focal_mm / fullness(&filled) / filled.camera.frame.margins.least_left();
            let step_mm = (reach_mm.clamp(shortest_mm, longest_mm) - shortest_mm) / FOCAL_STEPS as f64;
            let focal_mm = |step: usize| shortest_mm + step_mm * step as f64;
            let kept: Vec<_> = (0..=FOCAL_STEPS).map(|step| offer(focal_mm(step))).collect();
            let finest = (0..kept.len()).reduce(|a, b| if kept[b] > kept[a] { b } else { a }).unwrap_or(0);
            // By thirds, about the best of the steps.
            let (mut low_mm, mut high_mm) =
                (focal_mm(finest.saturating_sub(1)), focal_mm((finest + 1).min(FOCAL_STEPS)));
            for _ in 0..THIRDS {
                let third_mm = (high_mm - low_mm) / 3.0;
                if offer(high_mm - third_mm) > offer(low_mm + third_mm) {
                    low_mm += third_mm;
                } else {
                    high_mm -= third_mm;
                }
            }
        }
        // What serves may be narrower than a step.
        let best = best.or_else(|| self.corrected(shortest_mm, FINELY_CORRECTED));
        best.map_or_else(|| self.least_tilt(), Ok)
    }

    /// The pitch nearest to level at which a straightened picture holds the subject with its margins, else without them; for a
    /// lens that bends lines the one that keeps the most.
    fn corrected(&self, focal_mm: f64, fineness: Fineness) -> Option<Aimed> {
        let held = Mounting { focal_mm: Some(focal_mm), ..*self.mounting };
        let filled = aim_exactly(Aim::Fill, &self.eye, Some(self.subject), &held).ok()?;
        let straightens_to = |aimed: &Aimed| {
            let pose = Pose { eye: self.eye, attitude: aimed.attitude };
            let frame = &aimed.camera.frame;
            let wanted = Straightening { tilt_left: 0.0, proportion: frame.width_mm / frame.height_mm };
            let kept = straighten(&Viewpoint::new(&aimed.camera, &pose), &self.subject.outermost, &[], wanted).ok()?;
            Some((kept.margins_kept, kept.camera.focal_mm))
        };
        // Beyond the centred pitch too: the straightened picture may need more room below than the frame has.
        let to_rad = 1.5 * filled.attitude.pitch.radians();
        if !filled.camera.draws_straight() || filled.camera.rise_mm != 0.0 {
            return self.finest(&filled, to_rad, straightens_to);
        }
        let least = |margins: bool| {
            let serves = |aimed: &Aimed| straightens_to(aimed).is_some_and(|(kept, _)| kept || !margins);
            self.nearest_level(&filled, to_rad, fineness, serves)
        };
        let aimed = least(true).or_else(|| least(false))?;
        Some(Aimed { straightens_to: straightens_to(&aimed), ..aimed })
    }

    /// Between level and a pitch, what keeps the most once it is straightened. A straight picture is the finer the farther off its
    /// axis, so that the least tilt keeps the most; a bent one may be finest about its axis, and one with rise where it is pitched
    /// away from the subject.
    fn finest(
        &self,
        near: &Aimed,
        to_rad: f64,
        straightens_to: impl Fn(&Aimed) -> Option<(bool, f64)>,
    ) -> Option<Aimed> {
        let mut best: Option<Aimed> = None;
        let mut offer = |pitch_rad: f64| {
            let kept = self.pitched(near.camera.focal_mm, near.attitude, pitch_rad).and_then(|aimed| {
                let straightens_to = Some(straightens_to(&aimed)?);
                Some(Aimed { straightens_to, ..aimed })
            });
            if let Some(kept) = kept
                && best.is_none_or(|best| kept.straightens_to > best.straightens_to)
            {
                best = Some(kept);
            }
            kept.and_then(|kept| kept.straightens_to)
        };
        let step_rad = to_rad / CORRECTED.steps as f64;
        let kept: Vec<_> = (0..=CORRECTED.steps).map(|step| offer(step_rad * step as f64)).collect();
        let finest = (0..kept.len()).reduce(|a, b| if kept[b] > kept[a] { b } else { a }).unwrap_or(0);
        let mut low_rad = step_rad * finest.saturating_sub(1) as f64;
        let mut high_rad = step_rad * (finest + 1).min(CORRECTED.steps) as f64;
        for _ in 0..THIRDS {
            let third_rad = (high_rad - low_rad) / 3.0;
            if offer(high_rad - third_rad) > offer(low_rad + third_rad) {
                low_rad += third_rad;
            } else {
                high_rad -= third_rad;
            }
        }
        best
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::optics::Margins;
    use crate::site::Model;

    fn subject(shape: &str) -> Subject {
        let text =
            format!("(format: 1, name: \"t\", blocks: [(name: \"s\", subject: true, at: (0, 0), shape: {shape})])");
        let model = Model::build(crate::files::ron_options().from_str(&text).expect("a site"));
        Subject::of(&model).expect("a subject")
    }

    fn portrait() -> Frame {
        Frame { width_mm: 24.0, height_mm: 36.0, width_px: 4000, height_px: 6000, margins: Margins::USUAL }
    }

    fn mounting(lens: &Lens) -> Mounting<'_> {
        Mounting { frame: portrait(), lens, focal_mm: None, rise_mm: None, shift_mm: 0.0, distortion: None }
    }

    #[test]
    fn a_zoom_fills_the_frame_to_its_margins_and_centres_the_subject() {
        let subject = subject("RoundTaper(foot_radius_m: 2.6, head_radius_m: 1.5, height_m: 42)");
        let zoom = Lens { to_mm: Some(200.0), ..Lens::prime(15.0) };
        for eye in
            [WorldPoint::new(3.0, -40.0, 1.6), WorldPoint::new(-100.0, 20.0, 8.0), WorldPoint::new(20.0, 50.0, 60.0)]
        {
            let aimed = aim(Aim::Fill, &eye, Some(&subject), &mounting(&zoom)).expect("framed");
            assert!((aimed.fullness.expect("known") - 1.0).abs() < 1e-9, "{:?}", aimed.fullness);
            let extent = extent(&aimed.camera, aimed.attitude, &eye, &subject).expect("drawn");
            let (across, up) = extent.off_centre(&aimed.camera.frame.room_mm());
            assert!(across.abs() < 1e-6 && up.abs() < 1e-6, "{across} {up}");
        }
    }

    #[test]
    fn at_half_the_subjects_height_the_filling_pitch_is_nought() {
        // With equal margins above and below; the default's larger one above tilts the camera up a little.
        let subject = subject("Box(width_m: 6, depth_m: 0.02, height_m: 30)");
        let lens = Lens::prime(24.0);
        let eye = WorldPoint::new(0.0, -60.0, 15.0);
        let aimed = aim(Aim::Fill, &eye, Some(&subject), &mounting(&lens)).expect("framed");
        let margin_mm = 0.5 * (Margins::USUAL.above - Margins::USUAL.side) * 36.0;
        let expected = (margin_mm / 24.0_f64).atan();
        assert!(
            (aimed.attitude.pitch.radians() - expected).abs() < 0.2 * expected,
            "{}",
            aimed.attitude.pitch.degrees()
        );
    }

    #[test]
    fn level_stays_level_and_rise_shifts_up_to_what_the_lens_allows() {
        let subject = subject("Box(width_m: 6, depth_m: 6, height_m: 20)");
        let eye = WorldPoint::new(0.0, -43.0, 1.6);
        let zoom = Lens { to_mm: Some(70.0), ..Lens::prime(16.0) };
        let level = aim(Aim::Level, &eye, Some(&subject), &mounting(&zoom)).expect("framed");
        assert_eq!(level.attitude.pitch, Angle::ZERO);
        // The near top edge, 18.4 m up at 40 m, touches the margin at 0.42 × 36 mm: by hand.
        assert!((level.camera.focal_mm - 0.42 * 36.0 / (18.4 / 40.0)).abs() < 1e-6, "{}", level.camera.focal_mm);
        let shifting = Lens { rise_mm: 12.0, circle_mm: Some(67.2), ..Lens::prime(45.0) };
        let rise = aim(Aim::Rise, &eye, Some(&subject), &mounting(&shifting)).expect("framed");
        // Foot and near top edge at −1.8 and 20.7 mm between margins at −16.2 and 15.12 mm: by hand.
        assert!((rise.camera.rise_mm - 9.99).abs() < 1e-9, "{}", rise.camera.rise_mm);
        // The circle covers √(33.6² − 12²) − 18 = 13.4 mm; the lens itself moves 12.
        let held = Lens { rise_mm: 20.0, ..shifting };
        assert!((mounting(&held).rise_limit_mm() - ((33.6_f64 * 33.6 - 144.0).sqrt() - 18.0)).abs() < 1e-12);
    }

    #[test]
    fn a_subject_all_around_is_told() {
        let subject = subject("Box(width_m: 60, depth_m: 60, height_m: 3)");
        let lens = Lens::prime(24.0);
        let over = aim(Aim::Fill, &WorldPoint::new(0.0, 0.0, 10.0), Some(&subject), &mounting(&lens));
        assert_eq!(over, Err(AimError::Outline(OutlineError::Surrounds)));
        let beside = aim(Aim::Level, &WorldPoint::new(0.0, -30.001, 1.6), Some(&subject), &mounting(&lens));
        assert!(beside.is_ok() || beside == Err(AimError::TooWide));
        let nothing = aim(Aim::Fill, &WorldPoint::new(0.0, 0.0, 10.0), None, &mounting(&lens));
        assert_eq!(nothing, Err(AimError::Outline(OutlineError::NoSubject)));
    }
}
