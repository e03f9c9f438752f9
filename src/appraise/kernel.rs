//! What does one candidate of a search amount to, in well under a microsecond?
//!
//! The full account draws every line and looks at every sample; a search asks for a handful of figures at millions of
//! candidates. From one eye the subject is three numbers a corner: d ahead, x to the right and h above, in a frame whose
//! "ahead" runs to the subject's middle. For a camera turned right by δ and pitched up by θ, with p = tan δ, q = tan θ,
//! g = √(1+p²) and s = √(1+q²), a corner's slopes in the picture are
//!
//! X = s·(x − p·d)/w, Y = (g·h − q·D)/w, with D = d + p·x and w = D + q·g·h,
//!
//! so aiming needs no trigonometry: two unknowns, p and q, by Newton's method on the four corners drawn outermost. The
//! lean of a plumb line is atan(tan α · sin θ) with tan α = (x − p·d)/D, whatever the lens. Lenses that bend lines, and
//! places where this does not settle, go through [`aim`] itself.
//!
//! The file is longer than others: all of it is one inner loop, which the compiler is to see as a whole, with the test that
//! holds it to the full account.

use nalgebra::Matrix3;

use crate::aim::{AimError, Aimed, Mounting, aim};
use crate::angle::Angle;
use crate::optics::{Camera, Format, Frame, Lens, Margins, Orientation, Proportion};
use crate::outline::{OutlineError, Sample, Subject, tangent_points};
use crate::pose::{Attitude, Pose, WorldPoint, WorldVector};
use crate::site::{Aim, Model, Round};
use crate::verticals::{Convergence, LineKind, StandingLine, Viewpoint, surface_detail};

use super::judged_surface;

/// Steps of Newton's method for one set of outermost corners.
const STEPS: usize = 16;
/// How often the set of outermost corners may change before the slower, certain way is taken.
const ROUNDS: usize = 12;
/// A step this small squares to less than a rounding error: after it the solution stands.
const SETTLED: f64 = 1e-8;
/// A corner takes another's place as outermost only by more than this, so that two equal ones do not take turns.
const HAIR: f64 = 1e-12;
/// What is proven to be less is taken to be less by at least this share of it.
const SURELY: f64 = 1e-9;
/// A triangle that ends so near to a height is asked for it too.
const AROUND_M: f64 = 0.01;
/// A subject that takes no more of the room than this is held by it.
const HELD: f64 = 1.0 + 1e-9;
/// Lines shorter than this are not measured.
const SHORTEST_M: f64 = 0.05;

/// The figures of candidates on one site with one body.
#[derive(Debug)]
pub struct Kernel<'a> {
    model: &'a Model,
    subject: &'a Subject,
    frames: Vec<(Orientation, Frame)>,
    uprights: Vec<Upright>,
    cylinders: Vec<Round>,
    named: [NamedHeight; 3],
}

/// A height at which the body's detail is judged, and the triangles that reach it.
#[derive(Debug)]
struct NamedHeight {
    height_m: f64,
    triangles: Vec<usize>,
}

/// A plumb edge of the subject.
#[derive(Clone, Copy, Debug)]
struct Upright {
    line: StandingLine,
    faces: [WorldVector; 2],
    /// Its lower end before the ground was asked, from which its faces are judged.
    base: WorldPoint,
}

/// A lens and what is held on it.
#[derive(Clone, Debug, PartialEq)]
pub struct Mounted {
    /// The lens.
    pub lens: Lens,
    /// The focal length, if it is held.
    pub focal_mm: Option<f64>,
}

impl Mounted {
    fn range_mm(&self) -> (f64, f64) {
        range_mm(&self.lens, self.focal_mm)
    }
}

/// The shortest and the longest focal length of a lens, or the one that is held.
fn range_mm(lens: &Lens, held_mm: Option<f64>) -> (f64, f64) {
    held_mm.map_or((lens.focal_mm, lens.longest_mm()), |held_mm| (held_mm, held_mm))
}

/// What one candidate amounts to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Candidate {
    /// How the camera is held.
    pub orientation: Orientation,
    /// The camera as set.
    pub camera: Camera,
    /// How much of the frame within its margins the subject takes: 1 touches them, more is cut into.
    pub fullness: f64,
    /// As in the full account: the largest lean of the subject's verticals in the frame.
    pub largest_lean: Option<Angle>,
    turn: AimTurn,
}

/// How a candidate's camera is turned.
#[derive(Clone, Copy, Debug, PartialEq)]
enum AimTurn {
    /// From the direction towards the subject's middle (its sine and cosine) by the tangents p and q.
    Tangents { ahead: (f64, f64), p: f64, q: f64 },
    /// As the slower way found it.
    Found(Attitude),
}

impl AimTurn {
    fn attitude(&self) -> Attitude {
        match *self {
            Self::Tangents { ahead: (sine, cosine), p, q } => Attitude {
                heading: Angle::bearing_of(sine + p * cosine, cosine - p * sine),
                pitch: Angle::from_radians(q.atan()),
                roll: Angle::ZERO,
            },
            Self::Found(attitude) => attitude,
        }
    }

    /// [`Attitude::view_from_world`], without an angle where there is none.
    fn view_from_world(&self) -> Matrix3<f64> {
        match *self {
            Self::Tangents { ahead: (sine, cosine), p, q } => {
                let (g, s) = ((1.0 + p * p).sqrt(), (1.0 + q * q).sqrt());
                let (east, north) = ((sine + p * cosine) / g, (cosine - p * sine) / g);
                let (level, rise) = (1.0 / s, q / s);
                Matrix3::new(
                    north,
                    -east,
                    0.0, //
                    rise * east,
                    rise * north,
                    -level, //
                    level * east,
                    level * north,
                    rise,
                )
            }
            Self::Found(attitude) => attitude.view_from_world(),
        }
    }
}

impl Candidate {
    /// How the camera is turned.
    pub fn attitude(&self) -> Attitude {
        self.turn.attitude()
    }

    /// From the world's axes to the camera's.
    pub fn view_from_world(&self) -> Matrix3<f64> {
        self.turn.view_from_world()
    }
}

/// The subject as it stands before one eye. Made once and filled anew for each eye.
#[derive(Clone, Debug)]
pub struct SubjectView {
    eye: WorldPoint,
    /// Sine and cosine of the bearing of the subject's middle.
    ahead: (f64, f64),
    corners: Corners,
    outline: Result<(), OutlineError>,
    /// The tangents of the outline's bearings, right of ahead; absent where one is 90° or more off.
    bounds: Option<(f64, f64)>,
    /// Ahead, right, and the heights of base and top, of each vertical that does not face away.
    standing: Vec<[f64; 4]>,
    lines: Vec<StandingLine>,
    /// For each way of holding the camera: the aim at which the subject just fills the frame, if it was asked for, and what
    /// was settled last, from which the next one starts.
    filled: [Option<Option<Solved>>; 2],
    last: [Option<Solved>; 2],
}

/// The corners that may be drawn outermost, as seen from one eye: side by side, so that all are looked at in one go.
#[derive(Clone, Debug, Default)]
struct Corners {
    ahead: Vec<f64>,
    right: Vec<f64>,
    above: Vec<f64>,
    /// One over the distance in plan.
    nearness: Vec<f64>,
    /// The slopes of the flattest and of the steepest line of sight.
    flattest: f64,
    steepest: f64,
}

impl Corners {
    fn len(&self) -> usize {
        self.above.len()
    }

    fn get(&self, index: usize) -> [f64; 3] {
        [self.ahead[index], self.right[index], self.above[index]]
    }

    /// The tangent of half the angle between the flattest and the steepest line, and that of half their sum.
    fn halves(&self) -> (f64, f64) {
        let (low, high) = (self.flattest, self.steepest);
        let (low_s, high_s) = ((1.0 + low * low).sqrt(), (1.0 + high * high).sqrt());
        ((high - low) / (low_s * high_s + 1.0 + low * high), (low * high_s + high * low_s) / (low_s + high_s))
    }

    /// A height in the picture, as a share of the focal length, below which no camera, however it is turned, draws the
    /// subject; 0 where none is known.
    ///
    /// # Formula
    /// A point of slope t = h/ρ at the bearing β is drawn at Y = tan(φ − θ) with tan φ = t/cos β, so one above the eye at
    /// φ ≥ atan t and one below it at φ ≤ atan t; and tan(a − θ) − tan(b − θ) ≥ 2·tan((a − b)/2) for any θ.
    fn least_height(&self) -> f64 {
        if self.flattest <= 0.0 && self.steepest >= 0.0 { 2.0 * self.halves().0 } else { 0.0 }
    }
}

/// A settled aim of a lens that draws straight.
#[derive(Clone, Copy, Debug)]
struct Solved {
    /// Tangents of the turn and the pitch.
    p: f64,
    q: f64,
    /// The corners drawn farthest left, right, down and up.
    active: [usize; 4],
    /// One over the focal length, and the tangent halfway between the steepest and the flattest line of sight.
    k: f64,
    halfway: f64,
    /// The outermost slopes: left, right, bottom, top.
    slopes: [f64; 4],
}

/// What the picture's middle and size must come to, in mm.
#[derive(Clone, Copy, Debug)]
struct FrameRoom {
    shift_mm: f64,
    /// The height of the room's middle above the lens's axis.
    middle_mm: f64,
    width_mm: f64,
    height_mm: f64,
    /// The room's lower and upper side.
    bottom_mm: f64,
    top_mm: f64,
}

impl FrameRoom {
    fn of(frame: &Frame, shift_mm: f64) -> Self {
        let [left_mm, right_mm, bottom_mm, top_mm] = frame.room_mm();
        Self {
            shift_mm,
            middle_mm: 0.5 * (bottom_mm + top_mm),
            width_mm: right_mm - left_mm,
            height_mm: top_mm - bottom_mm,
            bottom_mm,
            top_mm,
        }
    }
}

impl Default for SubjectView {
    fn default() -> Self {
        Self {
            eye: WorldPoint::new(f64::NAN, f64::NAN, f64::NAN),
            ahead: (0.0, 1.0),
            corners: Corners::default(),
            outline: Err(OutlineError::NoSubject),
            bounds: None,
            standing: Vec::new(),
            lines: Vec::new(),
            filled: [None; 2],
            last: [None; 2],
        }
    }
}

impl SubjectView {
    /// The bearing of the subject's middle.
    fn bearing(&self) -> Angle {
        Angle::bearing_of(self.ahead.0, self.ahead.1)
    }
}

impl<'a> Kernel<'a> {
    /// Prepares a subject for candidates of one format, held one way or whichever way suits.
    pub fn new(
        model: &'a Model,
        subject: &'a Subject,
        format: &Format,
        orientation: Option<Orientation>,
        crop: Option<Proportion>,
        margins: Option<Margins>,
    ) -> Self {
        let ways = orientation.map_or_else(|| vec![Orientation::Landscape, Orientation::Portrait], |way| vec![way]);
        let mut uprights = Vec::new();
        let mut cylinders = Vec::new();
        for &block in &subject.blocks {
            let solid = &model.solids[block];
            cylinders.extend(solid.rounds.iter().filter(|round| round.is_cylinder()));
            for edge in solid.edges.iter().filter(|edge| edge.plumb && !model.is_riser(block, edge)) {
                let [base, top] = edge.ends.map(|end| solid.vertices[end as usize]);
                let faces = edge.faces.map(|face| solid.faces[face as usize].normal);
                let ground_m = model.site.terrain.height_m((base.x, base.y));
                let standing_base = WorldPoint::new(top.x, top.y, base.z.max(ground_m.min(top.z)));
                if top.z - standing_base.z >= SHORTEST_M {
                    let outward = (faces[0] + faces[1]).try_normalize(1e-9).unwrap_or(faces[0]);
                    let kind = LineKind::Vertical;
                    let line = StandingLine { block, kind, base: standing_base, top, outward, turned_away: false };
                    uprights.push(Upright { line, faces, base });
                }
            }
        }
        let frames = ways.into_iter().map(|way| (way, format.frame(way, crop).with_margins(margins))).collect();
        let body = &model.solids[subject.body];
        let named = super::NAMED_SHARES.map(|share| {
            let height_m = subject.base_m + share * (subject.top_m - subject.base_m);
            let reaches = |index: &usize| {
                let heights_m = body.corners(&body.triangles[*index]).map(|corner| corner.z - height_m);
                // A ray may pass a triangle a little beyond its sides.
                heights_m.iter().any(|&above_m| above_m > -AROUND_M)
                    && heights_m.iter().any(|&above_m| above_m < AROUND_M)
            };
            NamedHeight { height_m, triangles: (0..body.triangles.len()).filter(reaches).collect() }
        });
        Self { model, subject, frames, uprights, cylinders, named }
    }

    /// Takes the subject in from an eye.
    pub fn look(&self, eye: &WorldPoint, subject_view: &mut SubjectView) {
        subject_view.filled = [None; 2];
        if subject_view.eye.x != eye.x || subject_view.eye.y != eye.y {
            self.look_in_plan(eye, subject_view);
        }
        subject_view.eye = *eye;
        let corners = &mut subject_view.corners;
        let (mut flattest, mut steepest) = (f64::INFINITY, f64::NEG_INFINITY);
        for ((above, outermost), nearness) in
            corners.above.iter_mut().zip(&self.subject.outermost).zip(&corners.nearness)
        {
            *above = outermost.z - eye.z;
            let slope = *above * nearness;
            (flattest, steepest) = (flattest.min(slope), steepest.max(slope));
        }
        (corners.flattest, corners.steepest) = (flattest, steepest);
    }

    fn look_in_plan(&self, eye: &WorldPoint, subject_view: &mut SubjectView) {
        let towards = self.subject.middle - eye;
        let distance_m = towards.xy().norm();
        let (sine, cosine) =
            if distance_m > 0.0 { (towards.x / distance_m, towards.y / distance_m) } else { (0.0, 1.0) };
        let ahead_and_right =
            |x: f64, y: f64| ((x - eye.x) * sine + (y - eye.y) * cosine, (x - eye.x) * cosine - (y - eye.y) * sine);
        subject_view.ahead = (sine, cosine);
        subject_view.last = [None; 2];
        let corners = &mut subject_view.corners;
        let count = self.subject.outermost.len();
        for list in [&mut corners.ahead, &mut corners.right, &mut corners.above, &mut corners.nearness] {
            list.clear();
            list.resize(count, 0.0);
        }
        for (index, corner) in self.subject.outermost.iter().enumerate() {
            let (ahead, right) = ahead_and_right(corner.x, corner.y);
            (corners.ahead[index], corners.right[index]) = (ahead, right);
            corners.nearness[index] = 1.0 / (ahead * ahead + right * right).sqrt();
        }
        (subject_view.outline, subject_view.bounds) = match self.ahead_of(ahead_and_right) {
            Some(bounds) => (Ok(()), Some(bounds)),
            None => self.bounds(eye, towards),
        };
        subject_view.standing.clear();
        subject_view.lines.clear();
        let mut stand = |line: StandingLine| {
            let (ahead, right) = ahead_and_right(line.base.x, line.base.y);
            subject_view.standing.push([ahead, right, line.base.z, line.top.z]);
            subject_view.lines.push(line);
        };
        for upright in &self.uprights {
            let towards_eye = WorldVector::new(eye.x - upright.base.x, eye.y - upright.base.y, 0.0);
            if upright.faces.iter().any(|normal| normal.dot(&towards_eye) > 0.0) {
                stand(upright.line);
            }
        }
        for round in &self.cylinders {
            for touch in tangent_points(round.axis, round.base_radius_m, eye).into_iter().flatten() {
                let ground_m = self.model.site.terrain.height_m(touch);
                let (foot_m, head_m) = (round.base_m.max(ground_m.min(round.top_m)), round.top_m);
                if head_m - foot_m >= SHORTEST_M {
                    let at = |z| WorldPoint::new(touch.0, touch.1, z);
                    let outward = WorldVector::new(touch.0 - round.axis.0, touch.1 - round.axis.1, 0.0);
                    stand(StandingLine {
                        block: self.subject.body,
                        kind: LineKind::Vertical,
                        base: at(foot_m),
                        top: at(head_m),
                        outward: outward.try_normalize(1e-12).unwrap_or_else(WorldVector::z),
                        turned_away: false,
                    });
                }
            }
        }
    }

    /// The tangents of the outline's bearings, where all of it lies ahead of an eye.
    fn ahead_of(&self, ahead_and_right: impl Fn(f64, f64) -> (f64, f64)) -> Option<(f64, f64)> {
        let (mut left, mut right) = (f64::INFINITY, f64::NEG_INFINITY);
        for &(x, y) in &self.subject.plan_corners {
            let (ahead, aside) = ahead_and_right(x, y);
            if ahead <= 0.0 {
                return None;
            }
            let tangent = aside / ahead;
            (left, right) = (left.min(tangent), right.max(tangent));
        }
        for round in &self.subject.rounds {
            let (ahead, aside) = ahead_and_right(round.axis.0, round.axis.1);
            let radius_m = round.base_radius_m.max(round.top_radius_m);
            let beyond = ahead * ahead + aside * aside - radius_m * radius_m;
            if ahead <= radius_m || beyond <= 0.0 {
                return None;
            }
            // The tangents of a sum and a difference of two angles, from their own.
            let (tangent, half) = (aside / ahead, radius_m / beyond.sqrt());
            left = left.min((tangent - half) / (1.0 + tangent * half));
            right = right.max((tangent + half) / (1.0 - tangent * half));
        }
        Some((left, right))
    }

    /// The same where some of it may not, or why there is no outline.
    fn bounds(&self, eye: &WorldPoint, towards: WorldVector) -> (Result<(), OutlineError>, Option<(f64, f64)>) {
        let outline = match self.subject.outline(eye) {
            Ok(outline) => outline,
            Err(error) => return (Err(error), None),
        };
        let middle = Angle::bearing_of(towards.x, towards.y);
        let side = |bearing: Angle| {
            let off = (bearing - middle).wrapped();
            (off.radians().abs() < 1.57).then(|| off.tan())
        };
        (Ok(()), side(outline.left).zip(side(outline.right)))
    }

    /// One candidate: a lens and a way of aiming, from the eye that the prospect was taken from.
    ///
    /// # Errors
    /// The subject is all around the eye, or the lens does not draw all of it.
    pub fn candidate(
        &self,
        subject_view: &mut SubjectView,
        mounted: &Mounted,
        wanted: Aim,
    ) -> Result<Candidate, AimError> {
        subject_view.outline?;
        let [first, second] = match self.frames.len() {
            1 => return self.held(subject_view, 0, mounted, wanted).map(|aimed| self.judged(subject_view, 0, &aimed)),
            // The way that lets the subject be drawn larger first: the other one mostly cannot be better.
            _ if self.frames[1].1.height_mm > self.frames[0].1.height_mm => [1, 0],
            _ => [0, 1],
        };
        let mut held = [Err(AimError::TooWide), Err(AimError::TooWide)];
        held[first] = self.held(subject_view, first, mounted, wanted);
        if let Ok(aimed) = &held[first]
            && wanted == Aim::Fill
            && self.cannot_suit(subject_view, second, mounted, aimed)
        {
            return Ok(self.judged(subject_view, first, aimed));
        }
        held[second] = self.held(subject_view, second, mounted, wanted);
        let (index, aimed) = match &held {
            [Ok(first), Ok(second)] => {
                let second_suits = second.aimed(wanted).suits_better(&first.aimed(wanted), wanted);
                if second_suits { (1, second) } else { (0, first) }
            }
            [Ok(first), _] => (0, first),
            [_, Ok(second)] => (1, second),
            [Err(error), _] => return Err(*error),
        };
        Ok(self.judged(subject_view, index, aimed))
    }

    /// Whether a camera held one way surely suits less than another that is already aimed: it would fill more of the frame,
    /// or reach less far, whichever way it looked.
    fn cannot_suit(&self, subject_view: &SubjectView, index: usize, mounted: &Mounted, other: &AimedStraight) -> bool {
        let least = subject_view.corners.least_height();
        if other.found.is_some() || least <= 0.0 {
            return false;
        }
        let (shortest_mm, longest_mm) = mounted.range_mm();
        let reach_mm = (1.0 + SURELY) * FrameRoom::of(&self.frames[index].1, 0.0).height_mm / least;
        let (focal_mm, farthest_mm) = (other.camera.focal_mm, reach_mm.clamp(shortest_mm, longest_mm.max(shortest_mm)));
        farthest_mm < focal_mm || farthest_mm == focal_mm && other.fullness < (1.0 - SURELY) * focal_mm / reach_mm
    }

    /// The focal length at which the subject would just fill the frame, aimed by heading and pitch, and how the camera is
    /// then held; `None` where no lens draws all of it.
    pub fn needed_focal_mm(&self, subject_view: &mut SubjectView) -> Option<(f64, Orientation)> {
        subject_view.outline.ok()?;
        let mut best: Option<(f64, Orientation)> = None;
        let least = subject_view.corners.least_height();
        let mut ways: Vec<usize> = (0..self.frames.len()).collect();
        ways.sort_by(|&a, &b| self.frames[b].1.height_mm.total_cmp(&self.frames[a].1.height_mm));
        for index in ways {
            let (way, frame) = &self.frames[index];
            let room = FrameRoom::of(frame, 0.0);
            if best.is_some_and(|(known_mm, _)| (1.0 + SURELY) * room.height_mm < known_mm * least) {
                continue;
            }
            let solved = self.filled(subject_view, index, &room)?;
            let focal_mm = focal_filling_mm(&solved, &room);
            // Of equals the first way.
            if best.is_none_or(|(known_mm, _)| focal_mm > known_mm || focal_mm == known_mm && index == 0) {
                best = Some((focal_mm, *way));
            }
        }
        best
    }

    /// The camera held one way.
    fn held(
        &self,
        subject_view: &mut SubjectView,
        index: usize,
        mounted: &Mounted,
        wanted: Aim,
    ) -> Result<AimedStraight, AimError> {
        let mounting = Mounting {
            frame: self.frames[index].1,
            lens: &mounted.lens,
            focal_mm: mounted.focal_mm,
            rise_mm: None,
            shift_mm: 0.0,
            distortion: None,
        };
        let straight =
            mounted.lens.mapping == crate::optics::Mapping::Rectilinear && mounted.lens.distortion.is_empty();
        let quick = if straight {
            match wanted {
                Aim::Fill => self.fill(subject_view, index, &mounting),
                Aim::Level | Aim::Rise => level(subject_view, &mounting, wanted == Aim::Rise),
                Aim::LeastTilt => self.least_tilt(subject_view, index, &mounting),
                Aim::Correct | Aim::At(..) | Aim::Turned { .. } => None,
            }
        } else {
            None
        };
        if let Some(aimed) = quick {
            return Ok(aimed);
        }
        let aimed = aim(wanted, &subject_view.eye, Some(self.subject), &mounting)?;
        let solved = Solved {
            p: (aimed.attitude.heading - subject_view.bearing()).wrapped().tan(),
            q: aimed.attitude.pitch.tan(),
            active: [0; 4],
            k: 0.0,
            halfway: 0.0,
            slopes: [0.0; 4],
        };
        let fullness = aimed.fullness.unwrap_or(f64::INFINITY);
        Ok(AimedStraight {
            camera: aimed.camera,
            fullness,
            solved,
            found: Some(aimed.attitude),
            straightens_to: aimed.straightens_to,
        })
    }

    /// The attitude and focal length at which the subject is centred and touches the room, for a frame without shift.
    fn filled(&self, subject_view: &mut SubjectView, index: usize, room: &FrameRoom) -> Option<Solved> {
        if let Some(known) = subject_view.filled[index] {
            return known;
        }
        let solved = centred(&subject_view.corners, room, None, subject_view.last[index].as_ref());
        subject_view.filled[index] = Some(solved);
        subject_view.last[index] = solved.or(subject_view.last[index]);
        solved
    }

    fn fill(&self, subject_view: &mut SubjectView, index: usize, mounting: &Mounting<'_>) -> Option<AimedStraight> {
        let room = FrameRoom::of(&mounting.frame, mounting.shift_mm);
        let (shortest_mm, longest_mm) = range_mm(mounting.lens, mounting.focal_mm);
        let held = |subject_view: &mut SubjectView, focal_mm: f64| {
            let solved = centred(&subject_view.corners, &room, Some(focal_mm), subject_view.last[index].as_ref())?;
            subject_view.last[index] = Some(solved);
            let fullness = focal_mm / focal_filling_mm(&solved, &room);
            Some(AimedStraight {
                camera: mounting.camera(focal_mm, 0.0),
                fullness,
                solved,
                found: None,
                straightens_to: None,
            })
        };
        if longest_mm <= shortest_mm {
            return held(subject_view, shortest_mm);
        }
        // From far away even the longest leaves room, which spares a question.
        if subject_view.filled[index].is_none() && longest_mm * subject_view.corners.least_height() < room.height_mm {
            let longest = held(subject_view, longest_mm)?;
            if longest.fullness <= 1.0 {
                return Some(longest);
            }
        }
        let free = self.filled(subject_view, index, &room)?;
        let needed_mm = focal_filling_mm(&free, &room);
        if needed_mm > shortest_mm && needed_mm < longest_mm {
            let camera = mounting.camera(needed_mm, 0.0);
            return Some(AimedStraight { camera, fullness: 1.0, solved: free, found: None, straightens_to: None });
        }
        held(subject_view, if needed_mm <= shortest_mm { shortest_mm } else { longest_mm })
    }

    /// Level where that holds the subject; else at the shortest focal length, with the subject's top, or its base, just within
    /// its margin. Where the sides are in the way that is for the slower way.
    fn least_tilt(
        &self,
        subject_view: &mut SubjectView,
        index: usize,
        mounting: &Mounting<'_>,
    ) -> Option<AimedStraight> {
        let (shortest_mm, _) = range_mm(mounting.lens, mounting.focal_mm);
        let shortest = Mounting { focal_mm: Some(shortest_mm), ..*mounting };
        // Where a corner lies beside the level camera, it cannot hold the subject.
        if let Some(straight) = level(subject_view, &shortest, false)
            && straight.fullness <= HELD
        {
            return level(subject_view, mounting, false);
        }
        let filled = self.fill(subject_view, index, &shortest)?;
        let room = FrameRoom::of(&mounting.frame, mounting.shift_mm);
        let surely_cut = shortest_mm * subject_view.corners.least_height() > (1.0 + SURELY) * room.height_mm;
        if filled.fullness > HELD && surely_cut {
            return Some(filled);
        }
        let touching = if filled.solved.q > 0.0 { Touching::Top } else { Touching::Bottom };
        let start = (filled.solved.p, filled.solved.q);
        let solved =
            centred_from(&subject_view.corners, &room, Some(shortest_mm), touching, start, filled.solved.active)?;
        let [left, right, bottom, top] = solved.slopes.map(|slope| slope * shortest_mm);
        let fullness = ((right - left) / room.width_mm).max(bottom / room.bottom_mm).max(top / room.top_mm);
        if fullness <= HELD && solved.q * filled.solved.q > 0.0 && solved.q.abs() <= filled.solved.q.abs() {
            let camera = mounting.camera(shortest_mm, 0.0);
            return Some(AimedStraight { camera, fullness, solved, found: None, straightens_to: None });
        }
        (filled.fullness > HELD).then_some(filled)
    }

    /// The leans of the plumb lines that bound the subject; absent where one runs beside or behind the camera.
    pub fn convergence(&self, subject_view: &SubjectView, candidate: &Candidate) -> Option<Convergence> {
        match candidate.turn {
            AimTurn::Tangents { p, q, .. } => convergence(subject_view.bounds, p, q),
            AimTurn::Found(attitude) => {
                self.subject.outline(&subject_view.eye).ok().and_then(|outline| Convergence::of(&outline, &attitude))
            }
        }
    }

    /// The leans of an aimed candidate.
    fn judged(&self, subject_view: &SubjectView, index: usize, aimed: &AimedStraight) -> Candidate {
        let Solved { p, q, .. } = aimed.solved;
        let turn = aimed.found.map_or(AimTurn::Tangents { ahead: subject_view.ahead, p, q }, AimTurn::Found);
        let orientation = self.frames[index].0;
        let mut candidate =
            Candidate { orientation, camera: aimed.camera, fullness: aimed.fullness, largest_lean: None, turn };
        candidate.largest_lean = if subject_view.standing.is_empty() {
            self.convergence(subject_view, &candidate).map(|convergence| convergence.largest())
        } else {
            let quick = if aimed.found.is_none() { largest_in_frame(subject_view, aimed) } else { None };
            quick.unwrap_or_else(|| self.largest_drawn(subject_view, &aimed.camera, turn.attitude()))
        };
        candidate
    }

    /// The largest lean of the verticals in the frame, each drawn as the full account draws it.
    fn largest_drawn(&self, subject_view: &SubjectView, camera: &Camera, attitude: Attitude) -> Option<Angle> {
        let pose = Pose { eye: subject_view.eye, attitude };
        let viewpoint = Viewpoint::new(camera, &pose);
        subject_view.lines.iter().filter_map(|line| viewpoint.draw(line, None).lean.map(Angle::abs)).reduce(Angle::max)
    }

    /// The surface at those samples of the subject that are seen from an eye, where the detail is judged there.
    pub fn judge(&self, eye: &WorldPoint, seen: impl Iterator<Item = usize>, judged: &mut Vec<JudgedSurface>) {
        judged.clear();
        judged.extend(seen.filter_map(|index| {
            let sample = &self.subject.samples[index];
            Some(JudgedSurface::from(eye, judged_surface(sample, &(eye - sample.point))?))
        }));
    }

    /// The points at the body's base, middle and top, on the side that faces an eye in plan, whatever its height; see
    /// [`JudgedSurface::of`] for whether the detail is judged there.
    pub fn named_points(&self, eye: &WorldPoint) -> [Option<Sample>; 3] {
        self.named.each_ref().map(|NamedHeight { height_m, triangles }| {
            let among = triangles.iter().copied();
            let (point, normal) = self.subject.facing_point_among(self.model, eye, *height_m, among)?;
            Some(Sample { point, normal, curved: false })
        })
    }

    /// Of these samples, how many the frame holds.
    pub fn framed(
        &self,
        subject_view: &SubjectView,
        candidate: &Candidate,
        facing: impl Iterator<Item = usize>,
    ) -> usize {
        let drawing = PointDrawing::of(candidate);
        facing.filter(|&index| drawing.frames(&(self.subject.samples[index].point - subject_view.eye))).count()
    }
}

/// A piece of surface by which the detail is judged, as it lies before an eye.
#[derive(Clone, Copy, Debug)]
pub struct JudgedSurface {
    /// The surface itself.
    pub surface: Sample,
    /// From the eye.
    towards: WorldVector,
    /// The cosine of the angle at which the line of sight meets it.
    facing: f64,
}

impl JudgedSurface {
    /// A piece of surface before an eye, if the detail is judged there: not where it is seen nearly edge-on.
    pub fn of(eye: &WorldPoint, surface: Sample) -> Option<Self> {
        judged_surface(&surface, &(eye - surface.point)).map(|judged| Self::from(eye, judged))
    }

    /// A piece of surface before an eye.
    pub fn from(eye: &WorldPoint, surface: Sample) -> Self {
        let towards = surface.point - eye;
        let facing = (surface.normal.dot(&towards) / towards.norm()).abs();
        Self { surface, towards, facing }
    }
}

/// How one candidate draws points.
#[derive(Debug)]
pub struct PointDrawing<'a> {
    candidate: &'a Candidate,
    view_from_world: Matrix3<f64>,
    focal_px: (f64, f64),
    straight: bool,
    whole: bool,
}

impl<'a> PointDrawing<'a> {
    /// Gets ready to draw.
    pub fn of(candidate: &'a Candidate) -> Self {
        let straight = candidate.camera.draws_straight();
        Self {
            candidate,
            view_from_world: candidate.view_from_world(),
            focal_px: candidate.camera.focal_px(),
            straight,
            whole: straight && candidate.fullness <= 1.0,
        }
    }

    /// The least detail, in px/m, over judged samples of the subject that are in the frame; as the full account judges
    /// them, but for the named points of the body, see [`PointDrawing::less`].
    pub fn least(&self, judged: &[JudgedSurface]) -> Option<f64> {
        // What is seen most flatly and from farthest off is mostly the least, and spares the others a closer look.
        let likely =
            |a: &JudgedSurface, b: &JudgedSurface| (a.facing * self.depth(b)).total_cmp(&(b.facing * self.depth(a)));
        let first = judged.iter().min_by(|a, b| likely(a, b))?;
        let mut least = None;
        for judged in std::iter::once(first).chain(judged) {
            least = self.lesser(judged, least, self.whole).or(least);
        }
        least
    }

    /// The detail at a judged point that the frame holds, if it is less than what is known.
    pub fn less(&self, judged: &JudgedSurface, known: Option<f64>) -> Option<f64> {
        self.lesser(judged, known, false)
    }

    fn lesser(&self, judged: &JudgedSurface, known: Option<f64>, surely_framed: bool) -> Option<f64> {
        let surely_more = known.is_some_and(|known| self.straight && self.detail_at_least(judged) > known);
        if surely_more || !(surely_framed || self.frames(&judged.towards)) {
            return None;
        }
        let px_per_m = self.detail(judged)?;
        known.is_none_or(|known| px_per_m < known).then_some(px_per_m)
    }

    fn depth(&self, judged: &JudgedSurface) -> f64 {
        self.view_from_world.row(2).tr_dot(&judged.towards)
    }

    fn frames(&self, towards: &WorldVector) -> bool {
        let camera = &self.candidate.camera;
        camera.pixel_from_view(&(self.view_from_world * towards)).is_some_and(|pixel| camera.holds(pixel))
    }

    /// What the detail of a straight lens is not less than.
    ///
    /// # Formula
    /// See [`PointDrawing::detail`]: the larger singular value is at most (f/z)·√(1 + p²), so the smaller one is at least
    /// f·(n·v)/(z·|v|).
    fn detail_at_least(&self, judged: &JudgedSurface) -> f64 {
        (1.0 - SURELY) * self.focal_px.0.min(self.focal_px.1) * judged.facing / self.depth(judged)
    }

    /// The smallest singular value of ∂pixel/∂surface.
    ///
    /// # Formula
    /// With p the point's slopes, n the normal in camera axes and e = (nₓ, nᵧ) − n_z·p, the squares of the singular values
    /// are those of (f/z)²·(1 + p·pᵀ − e·eᵀ); its determinant is (n·v/z)².
    fn detail(&self, judged: &JudgedSurface) -> Option<f64> {
        let JudgedSurface { surface, towards, .. } = judged;
        if !self.straight {
            let pose = Pose { eye: surface.point - towards, attitude: self.candidate.attitude() };
            let viewpoint = Viewpoint::new(&self.candidate.camera, &pose);
            return surface_detail(&viewpoint, &surface.point, &surface.normal).map(|detail| detail.px_per_m);
        }
        let view = self.view_from_world * towards;
        if view.z <= 0.0 {
            return None;
        }
        let normal = self.view_from_world * surface.normal;
        let (x, y) = (view.x / view.z, view.y / view.z);
        let (across, down) = (normal.x - normal.z * x, normal.y - normal.z * y);
        let (focal_x, focal_y) = self.focal_px;
        let a = focal_x * focal_x * (1.0 + x * x - across * across);
        let c = focal_y * focal_y * (1.0 + y * y - down * down);
        let b = focal_x * focal_y * (x * y - across * down);
        let half = 0.5 * (a + c);
        let largest = (half + (0.25 * (a - c) * (a - c) + b * b).sqrt()).sqrt();
        let facing = (normal.x * x + normal.y * y + normal.z).abs();
        Some(if largest > 0.0 { facing * focal_x * focal_y / (largest * view.z) } else { 0.0 })
    }
}

/// An aimed camera and, for a lens that draws straight, the tangents it was aimed by.
#[derive(Clone, Copy, Debug)]
struct AimedStraight {
    camera: Camera,
    fullness: f64,
    solved: Solved,
    /// As the slower way found it.
    found: Option<Attitude>,
    straightens_to: Option<(bool, f64)>,
}

impl AimedStraight {
    /// What decides which way of holding the camera suits.
    fn aimed(&self, wanted: Aim) -> Aimed {
        // The tilt alone decides, and only where the least is wanted: an angle costs as much as a corner.
        let tilt = if wanted == Aim::LeastTilt { self.solved.q.atan() } else { 0.0 };
        let pitch = Angle::from_radians(tilt);
        let attitude = self.found.unwrap_or(Attitude { pitch, ..Attitude::default() });
        Aimed { camera: self.camera, attitude, fullness: Some(self.fullness), straightens_to: self.straightens_to }
    }
}

/// The focal length at which a centred subject touches the room.
fn focal_filling_mm(solved: &Solved, room: &FrameRoom) -> f64 {
    1.0 / share_filled(&solved.slopes, room)
}

/// How much of the room a picture at a focal length of 1 mm takes.
fn share_filled([left, right, bottom, top]: &[f64; 4], room: &FrameRoom) -> f64 {
    ((right - left) / room.width_mm).max((top - bottom) / room.height_mm)
}

/// The leans of two plumb lines of which the bearings' tangents are known.
fn convergence(bounds: Option<(f64, f64)>, p: f64, q: f64) -> Option<Convergence> {
    let sine = q / (1.0 + q * q).sqrt();
    let lean = |tangent: f64| {
        let (across, along) = (tangent - p, 1.0 + tangent * p);
        (along > 0.0).then(|| Angle::from_radians((across / along * sine).atan()))
    };
    let (left, right) = bounds?;
    Some(Convergence { left: lean(left)?, right: lean(right)? })
}

/// A camera's turn and pitch, by their tangents, with what every corner needs of them.
#[derive(Clone, Copy)]
struct TurnedCamera {
    p: f64,
    q: f64,
    g: f64,
    s: f64,
}

/// A corner's slopes, and their changes with p and q.
struct CornerSlopes {
    x: f64,
    y: f64,
    x_by: [f64; 2],
    y_by: [f64; 2],
}

impl TurnedCamera {
    fn by(p: f64, q: f64) -> Self {
        Self { p, q, g: (1.0 + p * p).sqrt(), s: (1.0 + q * q).sqrt() }
    }

    fn slopes_of(&self, [ahead, right, above]: [f64; 3]) -> Option<CornerSlopes> {
        let Self { p, q, g, s } = *self;
        let (depth, across, up) = (ahead + p * right, right - p * ahead, g * above);
        let w = depth + q * up;
        if w <= 0.0 {
            return None;
        }
        let (inverse, up_by_p) = (1.0 / w, p / g * above);
        let (w_by_p, rise) = (right + q * up_by_p, up - q * depth);
        let squared = inverse * inverse;
        Some(CornerSlopes {
            x: s * across * inverse,
            y: rise * inverse,
            x_by: [-s * (ahead * w + across * w_by_p) * squared, across * (q / s * w - s * up) * squared],
            y_by: [((up_by_p - q * right) * w - rise * w_by_p) * squared, -(depth * depth + up * up) * squared],
        })
    }

    /// The slopes alone, and the depth.
    fn place_of(&self, [ahead, right, above]: [f64; 3]) -> (f64, f64, f64) {
        let (depth, up) = (ahead + self.p * right, self.g * above);
        let w = depth + self.q * up;
        (w, self.s * (right - self.p * ahead) / w, (up - self.q * depth) / w)
    }

    /// Whether all corners lie in front, and none is drawn outside these slopes (left, right, bottom, top) by more than a
    /// hair; all are asked, which is faster than to stop at the first.
    fn holds(&self, corners: &Corners, [left, right, bottom, top]: [f64; 4]) -> bool {
        let (left, right, bottom, top) = (left - HAIR, right + HAIR, bottom - HAIR, top + HAIR);
        let (mut nearest, mut outside) = (f64::INFINITY, f64::NEG_INFINITY);
        for ((&ahead, &aside), &above) in corners.ahead.iter().zip(&corners.right).zip(&corners.above) {
            let (depth, up) = (ahead + self.p * aside, self.g * above);
            let w = depth + self.q * up;
            let (x, y) = (self.s * (aside - self.p * ahead), up - self.q * depth);
            let across = (x - right * w).max(left * w - x);
            let over = (y - top * w).max(bottom * w - y);
            nearest = nearest.min(w);
            outside = outside.max(across).max(over);
        }
        nearest > 0.0 && outside <= 0.0
    }

    /// The corners drawn farthest left, right, down and up; `None` where one is not in front. A corner of `known` keeps its
    /// place unless another lies farther by more than a hair.
    fn outermost(&self, corners: &Corners, known: Option<[usize; 4]>) -> Option<[usize; 4]> {
        let mut found = known.unwrap_or([0; 4]);
        if corners.len() == 0 {
            return None;
        }
        let [left, right, bottom, top] = found.map(|index| self.place_of(corners.get(index)));
        let (mut left, mut right, mut bottom, mut top) = (left.1, right.1, bottom.2, top.2);
        let hair = if known.is_some() { HAIR } else { 0.0 };
        for index in 0..corners.len() {
            let (w, x, y) = self.place_of(corners.get(index));
            if w <= 0.0 {
                return None;
            }
            if x < left - hair {
                (left, found[0]) = (x, index);
            }
            if x > right + hair {
                (right, found[1]) = (x, index);
            }
            if y < bottom - hair {
                (bottom, found[2]) = (y, index);
            }
            if y > top + hair {
                (top, found[3]) = (y, index);
            }
        }
        Some(found)
    }
}

/// Turns and pitches a lens that draws straight until the subject is centred in the room: at a focal length, or at the one
/// at which it touches. `None` where Newton's method does not settle. It starts from a solution near by, or else ahead and
/// halfway between the steepest and the flattest line of sight.
fn centred(corners: &Corners, room: &FrameRoom, focal_mm: Option<f64>, near: Option<&Solved>) -> Option<Solved> {
    let halfway = corners.halves().1;
    if let Some(near) = near {
        // The pitch follows the subject, and makes up for what the room's middle lies aside in a shorter or longer picture.
        let k = focal_mm.map_or(near.k, |focal_mm| 1.0 / focal_mm);
        let q = near.q + halfway - near.halfway - room.middle_mm * (k - near.k) * (1.0 + near.q * near.q);
        if let Some(solved) = centred_from(corners, room, focal_mm, Touching::Neither, (near.p, q), near.active) {
            return Some(Solved { halfway, ..solved });
        }
    }
    let active = TurnedCamera::by(0.0, halfway).outermost(corners, None)?;
    centred_from(corners, room, focal_mm, Touching::Neither, (0.0, halfway), active)
        .map(|solved| Solved { halfway, ..solved })
}

/// Which side of the room the subject touches, rather than standing in its middle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Touching {
    Neither,
    Top,
    Bottom,
}

fn centred_from(
    corners: &Corners,
    room: &FrameRoom,
    focal_mm: Option<f64>,
    touching: Touching,
    (mut p, mut q): (f64, f64),
    mut active: [usize; 4],
) -> Option<Solved> {
    for _ in 0..ROUNDS {
        (p, q) = settled(corners, &active, room, focal_mm, touching, (p, q))?;
        let turned = TurnedCamera::by(p, q);
        let [left, right, bottom, top] = active.map(|index| turned.place_of(corners.get(index)));
        let slopes = [left.1, right.1, bottom.2, top.2];
        let known = active;
        if !turned.holds(corners, slopes) {
            active = turned.outermost(corners, Some(active))?;
        }
        if known == active {
            let k = focal_mm.map_or_else(|| share_filled(&slopes, room), |focal_mm| 1.0 / focal_mm);
            return Some(Solved { p, q, active, k, halfway: 0.0, slopes });
        }
    }
    None
}

/// Newton's method for one set of outermost corners.
fn settled(
    corners: &Corners,
    active: &[usize; 4],
    room: &FrameRoom,
    focal_mm: Option<f64>,
    touching: Touching,
    (mut p, mut q): (f64, f64),
) -> Option<(f64, f64)> {
    let [left, right, bottom, top] = active.map(|index| corners.get(index));
    for _ in 0..STEPS {
        let turned = TurnedCamera::by(p, q);
        let (left, right) = (turned.slopes_of(left)?, turned.slopes_of(right)?);
        let (bottom, top) = (turned.slopes_of(bottom)?, turned.slopes_of(top)?);
        let (k, k_by) = match focal_mm {
            Some(focal_mm) => (1.0 / focal_mm, [0.0; 2]),
            None => {
                let (across, up) = ((right.x - left.x) / room.width_mm, (top.y - bottom.y) / room.height_mm);
                if across > up {
                    (across, [0, 1].map(|n| (right.x_by[n] - left.x_by[n]) / room.width_mm))
                } else {
                    (up, [0, 1].map(|n| (top.y_by[n] - bottom.y_by[n]) / room.height_mm))
                }
            }
        };
        // How much base and top count, and where in the room their mean is to come.
        let (low, high, goal_mm) = match touching {
            Touching::Neither => (0.5, 0.5, room.middle_mm),
            Touching::Top => (0.0, 1.0, room.top_mm),
            Touching::Bottom => (1.0, 0.0, room.bottom_mm),
        };
        let off = (0.5 * (left.x + right.x) - room.shift_mm * k, low * bottom.y + high * top.y - goal_mm * k);
        let by = [0, 1].map(|n| {
            (
                0.5 * (left.x_by[n] + right.x_by[n]) - room.shift_mm * k_by[n],
                low * bottom.y_by[n] + high * top.y_by[n] - goal_mm * k_by[n],
            )
        });
        let determinant = by[0].0 * by[1].1 - by[1].0 * by[0].1;
        if determinant == 0.0 {
            return None;
        }
        let step =
            (-(off.0 * by[1].1 - off.1 * by[1].0) / determinant, -(off.1 * by[0].0 - off.0 * by[0].1) / determinant);
        (p, q) = (p + step.0, q + step.1);
        if !(p.is_finite() && q.is_finite()) {
            return None;
        }
        if step.0.abs().max(step.1.abs()) < SETTLED * (1.0 + p.abs() + q.abs()) {
            return Some((p, q));
        }
    }
    None
}

/// A level camera, with or without rise: everything in closed form but for the rise that runs out.
fn level(subject_view: &SubjectView, mounting: &Mounting<'_>, rises: bool) -> Option<AimedStraight> {
    if mounting.shift_mm != 0.0 {
        return None;
    }
    let corners = &subject_view.corners;
    if corners.ahead.iter().any(|&ahead| ahead <= 0.0) {
        return None;
    }
    let slope = |index: &usize| corners.right[*index] / corners.ahead[*index];
    let by = |a: &usize, b: &usize| slope(a).total_cmp(&slope(b));
    let (left, right) = ((0..corners.len()).min_by(by)?, (0..corners.len()).max_by(by)?);
    let (left, right) = (corners.get(left), corners.get(right));
    // (x − p·d)/(d + p·x) of both sum to nought: a·p² − b·p − a = 0.
    let a = left[1] * right[0] + right[1] * left[0];
    let b = 2.0 * (left[1] * right[1] - left[0] * right[0]);
    let p = 2.0 * a / ((b * b + 4.0 * a * a).sqrt() - b);
    let turned = TurnedCamera::by(p, 0.0);
    let active = turned.outermost(corners, None)?;
    let [left, right, bottom, top] = active.map(|index| turned.place_of(corners.get(index)));
    let slopes = [left.1, right.1, bottom.2, top.2];
    let solved = Solved { p, q: 0.0, active, k: 0.0, halfway: 0.0, slopes };
    let room = FrameRoom::of(&mounting.frame, 0.0);
    let limit_mm = if rises { mounting.rise_limit_mm() } else { 0.0 };
    let at = |focal_mm: f64| {
        let rise_mm = (0.5 * focal_mm * (slopes[2] + slopes[3]) - room.middle_mm).clamp(-limit_mm, limit_mm);
        let fullness = (focal_mm * (slopes[1] - slopes[0]) / room.width_mm)
            .max((focal_mm * slopes[2] - rise_mm) / room.bottom_mm)
            .max((focal_mm * slopes[3] - rise_mm) / room.top_mm);
        (rise_mm, fullness)
    };
    let lens = mounting.lens;
    let (shortest_mm, longest_mm) = range_mm(lens, mounting.focal_mm);
    let focal_mm = if longest_mm <= shortest_mm || at(shortest_mm).1 >= 1.0 {
        shortest_mm
    } else if at(longest_mm).1 <= 1.0 {
        longest_mm
    } else {
        // The fullness grows with the focal length, along straight pieces: a secant lands on the last of them.
        let (mut low_mm, mut high_mm) = (shortest_mm, longest_mm);
        for _ in 0..80 {
            let (low, high) = (at(low_mm).1, at(high_mm).1);
            let guess_mm = low_mm + (high_mm - low_mm) * ((1.0 - low) / (high - low)).clamp(0.0, 1.0);
            let next_mm = if guess_mm > low_mm && guess_mm < high_mm { guess_mm } else { 0.5 * (low_mm + high_mm) };
            if next_mm <= low_mm || next_mm >= high_mm || 1.0 - low < 1e-15 {
                break;
            }
            let there = at(next_mm).1;
            if there <= 1.0 {
                low_mm = next_mm
            } else {
                high_mm = next_mm
            }
            // Convex from below: also halve, lest one end never moves.
            let middle_mm = 0.5 * (low_mm + high_mm);
            if at(middle_mm).1 <= 1.0 { low_mm = middle_mm } else { high_mm = middle_mm }
        }
        low_mm
    };
    let (rise_mm, fullness) = at(focal_mm);
    let rise_mm = if rises { rise_mm } else { 0.0 };
    Some(AimedStraight {
        camera: mounting.camera(focal_mm, rise_mm),
        fullness,
        solved,
        found: None,
        straightens_to: None,
    })
}

/// The largest lean among verticals of which the frame of a straight lens holds a part; the outer `None` where one runs
/// beside or behind the camera, which is for the slower way.
fn largest_in_frame(subject_view: &SubjectView, aimed: &AimedStraight) -> Option<Option<Angle>> {
    let Solved { p, q, .. } = aimed.solved;
    let whole = aimed.fullness <= 1.0;
    let window = aimed.camera.ideal_window();
    let TurnedCamera { g, s, .. } = TurnedCamera::by(p, q);
    let mut steepest: Option<f64> = None;
    for &[ahead, right, foot_m, head_m] in &subject_view.standing {
        let (depth, across) = (ahead + p * right, right - p * ahead);
        if depth <= 0.0 {
            return None;
        }
        if !whole {
            let eye_m = subject_view.eye.z;
            // Signed distances from the planes through the eye and the frame's sides, at base and top: linear between.
            let (mut from, mut to) = (0.0_f64, 1.0_f64);
            let at = |height_m: f64| {
                let up = g * (height_m - eye_m);
                let (w, x, y) = (depth + q * up, s * across, -(up - q * depth));
                [w, x - window.left * w, window.right * w - x, y - window.top * w, window.bottom * w - y]
            };
            let outside = at(foot_m).into_iter().zip(at(head_m)).any(|(at_foot, at_head)| {
                if at_foot < 0.0 && at_head < 0.0 {
                    return true;
                }
                if at_foot < 0.0 {
                    from = from.max(at_foot / (at_foot - at_head));
                } else if at_head < 0.0 {
                    to = to.min(at_foot / (at_foot - at_head));
                }
                false
            });
            if outside || from >= to {
                continue;
            }
        }
        let tangent = (across / depth).abs();
        steepest = Some(steepest.map_or(tangent, |known| known.max(tangent)));
    }
    let sine = q.abs() / s;
    Some(steepest.map(|tangent| Angle::from_radians((tangent * sine).atan())))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::appraise::{Measures, appraise};
    use crate::optics::Kit;
    use crate::site::Stance;
    use crate::stance::stand;

    const SUBJECTS: [&str; 6] = [
        "(name: \"a\", subject: true, at: (0, 0), heading_deg: 20, shape: Box(width_m: 9, depth_m: 6, height_m: 24))",
        "(name: \"a\", subject: true, at: (0, 0), shape: RoundTaper(foot_radius_m: 2.6, head_radius_m: 1.5, height_m: 42))",
        "(name: \"a\", subject: true, at: (0, 0), shape: RoundTaper(foot_radius_m: 3, head_radius_m: 3, height_m: 20))",
        "(name: \"a\", subject: true, at: (0, 0), heading_deg: 180, shape: Facade(width_m: 22, depth_m: 14, height_m: 19, bays: 7, storeys: 5))",
        "(name: \"a\", subject: true, at: (0, 0), shape: PolygonTaper(sides: 6, foot_across_m: 8, head_across_m: 5, height_m: 30)),
         (name: \"b\", subject: true, at: (9, 3), shape: Box(width_m: 4, depth_m: 4, height_m: 11))",
        "(name: \"a\", subject: true, at: (0, 0), heading_deg: 33, shape: Gable(width_m: 14, depth_m: 9, eaves_m: 6, ridge_m: 11))",
    ];

    fn model(blocks: &str) -> Model {
        let text = format!("(format: 1, name: \"t\", blocks: [{blocks}])");
        Model::build(crate::files::ron_options().from_str(&text).expect("a site"))
    }

    fn near(quick: f64, full: f64, scale: f64) -> bool {
        (quick - full).abs() <= 1e-9 * scale.max(full.abs())
    }

    #[test]
    fn a_candidates_figures_are_the_full_accounts() {
        let kit = Kit::built_in();
        let lenses = ["24-70 mm", "70-200 mm", "14 mm", "24 mm with 12 mm rise", "12 mm equisolid fisheye"];
        let mut compared = 0;
        for blocks in SUBJECTS {
            let model = model(blocks);
            let subject = Subject::of(&model).expect("a subject");
            let format = kit.format("36x24").expect("known");
            let kernel = Kernel::new(&model, &subject, &format, None, None, None);
            let (mut subject_view, mut judged) = (SubjectView::default(), Vec::new());
            for step in 0..36 {
                let (turn, away_m) = (f64::from(step) * 2.399_963, 13.0 + 4.5 * f64::from(step));
                let at = (away_m * turn.sin(), away_m * turn.cos());
                let height_m = [0.9, 1.6, 4.0, 27.0][step as usize % 4];
                kernel.look(&WorldPoint::new(at.0, at.1, height_m), &mut subject_view);
                for lens in lenses {
                    let mounted = Mounted { lens: kit.lens(lens).expect("known"), focal_mm: None };
                    for wanted in [Aim::Fill, Aim::Level, Aim::Rise, Aim::LeastTilt] {
                        let stance = Stance { height_m, lens: lens.into(), aim: wanted, ..Stance::plain("t", at) };
                        let standing = stand(&model, Some(&subject), &stance, &kit);
                        let quick = kernel.candidate(&mut subject_view, &mounted, wanted);
                        let (Ok(standing), Ok(quick)) = (&standing, &quick) else {
                            assert_eq!(standing.is_err(), quick.is_err(), "{at:?} {lens} {wanted:?}: {quick:?}");
                            continue;
                        };
                        compared += 1;
                        let full = appraise(&model, Ok(&subject), None, standing, &Measures::default());
                        let context = format!(
                            "{blocks}\nat {at:?}, {height_m} m, {lens}, {wanted:?}\n{quick:?}\n{:?} {:?} {:?}",
                            standing.camera, standing.pose.attitude, standing.fullness
                        );
                        assert_eq!(quick.orientation, standing.orientation, "{context}");
                        for (quick, full) in [
                            (quick.camera.focal_mm, standing.camera.focal_mm),
                            (quick.camera.rise_mm, standing.camera.rise_mm),
                            (quick.fullness, standing.fullness.expect("aimed")),
                            (quick.attitude().heading.sin(), standing.pose.attitude.heading.sin()),
                            (quick.attitude().heading.cos(), standing.pose.attitude.heading.cos()),
                            (quick.attitude().pitch.radians(), standing.pose.attitude.pitch.radians()),
                        ] {
                            assert!(near(quick, full, 1.0), "{quick} for {full}: {context}");
                        }
                        let convergence = kernel.convergence(&subject_view, quick);
                        let pairs = [
                            (quick.largest_lean, full.largest_lean),
                            (convergence.map(|c| c.left), full.convergence.map(|c| c.left)),
                            (convergence.map(|c| c.right), full.convergence.map(|c| c.right)),
                        ];
                        for (quick, full) in pairs {
                            let same = match (quick, full) {
                                (Some(quick), Some(full)) => near(quick.radians(), full.radians(), 1.0),
                                (quick, full) => quick == full,
                            };
                            assert!(same, "{quick:?} for {full:?}: {context}");
                        }
                        let eye = standing.pose.eye;
                        let facing = |&index: &usize| {
                            let sample = &subject.samples[index];
                            sample.normal.dot(&(eye - sample.point)) > 0.0
                        };
                        let facing = || (0..subject.samples.len()).filter(facing);
                        kernel.judge(&eye, facing(), &mut judged);
                        let drawing = PointDrawing::of(quick);
                        let least =
                            kernel.named_points(&eye).into_iter().flatten().fold(drawing.least(&judged), |l, named| {
                                let named = JudgedSurface::of(&eye, named);
                                named.and_then(|named| drawing.less(&named, l)).or(l)
                            });
                        let full_least = full.lowest_detail.map(|(detail, _)| detail.px_per_m);
                        let same = least.zip(full_least).is_some_and(|(quick, full)| near(quick, full, 1.0));
                        assert!(
                            same || (least.is_none() && full_least.is_none()),
                            "{least:?} {full_least:?}: {context}"
                        );
                        let share = kernel.framed(&subject_view, quick, facing()) as f64 / facing().count() as f64;
                        assert_eq!(Some(share), full.in_frame_share, "{context}");
                    }
                }
            }
        }
        assert!(compared > 3400, "{compared}");
    }

    #[test]
    fn the_needed_focal_length_fills_the_frame() {
        let model = model(SUBJECTS[0]);
        let subject = Subject::of(&model).expect("a subject");
        let kit = Kit::built_in();
        let kernel = Kernel::new(&model, &subject, &kit.format("36x24").expect("known"), None, None, None);
        let mut subject_view = SubjectView::default();
        let at = (31.0, -55.0);
        kernel.look(&WorldPoint::new(at.0, at.1, 1.6), &mut subject_view);
        let (focal_mm, orientation) = kernel.needed_focal_mm(&mut subject_view).expect("framed");
        let stance = Stance { lens: format!("{focal_mm} mm"), ..Stance::plain("t", at) };
        let standing = stand(&model, Some(&subject), &stance, &kit).expect("framed");
        assert_eq!(standing.orientation, orientation);
        assert!((standing.fullness.expect("aimed") - 1.0).abs() < 1e-9);
    }
}
