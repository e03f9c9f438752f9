//! Which lines of the site ought to stand upright in the picture, and how does each come out?
//!
//! A *vertical* is plumb in reality: an upright edge, or the outline of a cylinder. A *side* is the outline of
//! something that truly tapers or leans; it is never counted among the verticals.

use nalgebra::Matrix3;

use crate::angle::Angle;
use crate::optics::{Camera, IdealWindow, PixelPoint};
use crate::outline::{tangent_points, touching_points};
use crate::pose::{Pose, ViewVector, WorldPoint, WorldVector};
use crate::sight::Sight;
use crate::site::Model;

/// An edge that leans more than this off plumb (30°) is no side but a roof.
const SIDE_COSINE: f64 = 0.866_025_4;
/// Lines shorter than this are not measured.
const SHORTEST_M: f64 = 0.05;
/// How many points of a line are looked at, for bends and for sight.
const STEPS: usize = 16;
/// Slopes this far within the ideal window are surely framed: its sides are found from points of the frame's.
const WELL_WITHIN: f64 = 1e-3;
/// No round body's outline lies farther outside its mesh.
const BEYOND_MESH_M: f64 = 0.01;
/// How far a point of an edge is taken off its own solid before asking whether it can be seen.
const NUDGE_M: f64 = 4e-3;

/// What a line is in reality.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LineKind {
    /// Plumb.
    Vertical,
    /// The outline of something that tapers or leans.
    Side,
}

/// A line of the site as it stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StandingLine {
    /// The block it belongs to.
    pub block: usize,
    /// What it is.
    pub kind: LineKind,
    /// Its lower end, where it meets the ground or its block's base.
    pub base: WorldPoint,
    /// Its upper end.
    pub top: WorldPoint,
    /// Away from the solid, of length 1.
    pub outward: WorldVector,
    /// Whether both faces that meet there look away from the eye: its own block hides it.
    pub turned_away: bool,
}

/// Why a point has no place in the picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NotDrawn {
    /// It lies behind the camera.
    Behind,
    /// The lens draws nothing so far off its axis.
    OutsideLens,
}

impl NotDrawn {
    /// In plain words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Behind => "behind the camera",
            Self::OutsideLens => "outside what the lens draws",
        }
    }
}

/// A line as the camera draws it.
#[derive(Clone, Debug, PartialEq)]
pub struct DrawnLine {
    /// The line in reality.
    pub line: StandingLine,
    /// Where its base is drawn, inside the frame or not.
    pub base_px: Result<PixelPoint, NotDrawn>,
    /// Where its top is drawn, inside the frame or not.
    pub top_px: Result<PixelPoint, NotDrawn>,
    /// The part inside the frame.
    pub part: Option<FramedPart>,
    /// The lean in the ideal rectilinear picture; absent when all of it is behind the camera or it runs through the eye.
    pub ideal_lean: Option<Angle>,
    /// The lean of the chord of its part in the frame, under the lens's mapping and distortion.
    pub lean: Option<Angle>,
    /// How far that part bends off its chord, outwards positive, in % of the picture's height.
    pub line_bend_percent: Option<f64>,
    /// The stretches of its part that can be seen, as shares of the line from base to top; absent where nobody looked.
    pub seen: Option<Vec<(f64, f64)>>,
}

/// The part of a line inside the frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FramedPart {
    /// The share of the line, from its base, at which it enters the frame.
    pub from: f64,
    /// The share of the line, from its base, at which it leaves the frame.
    pub to: f64,
    /// The lower end's place.
    pub lower_px: PixelPoint,
    /// The upper end's place.
    pub upper_px: PixelPoint,
}

impl StandingLine {
    /// The point at a share of the way from base to top.
    pub fn at(&self, share: f64) -> WorldPoint {
        self.base + (self.top - self.base) * share
    }
}

impl DrawnLine {
    /// Whether any of it can be seen in the frame; unknown where nobody looked.
    pub fn is_visible(&self) -> Option<bool> {
        self.seen.as_ref().map(|stretches| !stretches.is_empty())
    }
}

/// Every vertical of a block, and every side as seen from an eye; the risers of steps are none.
pub fn standing_lines(model: &Model, block: usize, eye: &WorldPoint, lines: &mut Vec<StandingLine>) {
    let solid = &model.solids[block];
    let ground_m = |point: &WorldPoint| model.site.terrain.height_m((point.x, point.y));
    let mut add = |kind, base: WorldPoint, top: WorldPoint, outward: WorldVector, turned_away| {
        let base = on_ground(&ground_m, base, top);
        if top.z - base.z >= SHORTEST_M {
            lines.push(StandingLine { block, kind, base, top, outward, turned_away });
        }
    };
    for edge in solid.edges.iter().filter(|edge| !model.is_riser(block, edge)) {
        let [base, top] = edge.ends.map(|end| solid.vertices[end as usize]);
        let along = top - base;
        if !edge.plumb && along.z < SIDE_COSINE * along.norm() {
            continue;
        }
        let [one, other] = edge.faces.map(|face| &solid.faces[face as usize]);
        let faces_eye = [one, other].map(|face| face.normal.dot(&(eye - base)) > 0.0);
        let outward = (one.normal + other.normal).try_normalize(1e-9).unwrap_or(one.normal);
        if edge.plumb {
            add(LineKind::Vertical, base, top, outward, !faces_eye[0] && !faces_eye[1]);
        } else if faces_eye[0] != faces_eye[1] {
            add(LineKind::Side, base, top, outward, false);
        }
    }
    for round in &solid.rounds {
        let (kind, ends) = if round.is_cylinder() {
            let points = tangent_points(round.axis, round.base_radius_m, eye);
            (LineKind::Vertical, points.map(|points| (points, points)))
        } else {
            let level_radius_m = round.base_radius_m + round.slope() * (round.base_m - eye.z);
            let at = |radius_m| touching_points(round.axis, radius_m, eye, level_radius_m);
            (LineKind::Side, at(round.base_radius_m).zip(at(round.top_radius_m)))
        };
        let Some((bases, tops)) = ends else { continue };
        for (base, top) in bases.into_iter().zip(tops) {
            let (x, y) = (base.0 - round.axis.0, base.1 - round.axis.1);
            let outward = WorldVector::new(x, y, 0.0).try_normalize(1e-12).unwrap_or_else(WorldVector::z);
            let lift = |(x, y): (f64, f64), z| WorldPoint::new(x, y, z);
            add(kind, lift(base, round.base_m), lift(top, round.top_m), outward, false);
        }
    }
}

/// Where a line from base to top comes out of the ground.
fn on_ground(ground_m: &dyn Fn(&WorldPoint) -> f64, base: WorldPoint, top: WorldPoint) -> WorldPoint {
    let plumb = base.x == top.x && base.y == top.y;
    let ground_at_base_m = ground_m(&base);
    if ground_at_base_m <= base.z {
        return base;
    }
    if plumb {
        return WorldPoint::new(base.x, base.y, ground_at_base_m.min(top.z));
    }
    let above = |share: f64| {
        let point = base + (top - base) * share;
        point.z >= ground_m(&point)
    };
    if !above(1.0) {
        return top;
    }
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        if above(middle) { high = middle } else { low = middle }
    }
    base + (top - base) * high
}

/// A camera at a place, with its rotation worked out once.
#[derive(Clone, Copy, Debug)]
pub struct Viewpoint<'a> {
    /// The camera.
    pub camera: &'a Camera,
    /// Where it is and how it is turned.
    pub pose: &'a Pose,
    view_from_world: Matrix3<f64>,
    window: IdealWindow,
    /// What lies outside is not in the frame, where there is such a window.
    outer: Option<IdealWindow>,
    straight: bool,
}

impl<'a> Viewpoint<'a> {
    /// A camera at a place.
    pub fn new(camera: &'a Camera, pose: &'a Pose) -> Self {
        Self {
            camera,
            pose,
            view_from_world: pose.attitude.view_from_world(),
            window: camera.ideal_window(),
            outer: Some(camera.outer_window()).filter(IdealWindow::is_bounded),
            straight: camera.draws_straight(),
        }
    }

    /// A world point in camera axes.
    pub fn view_of(&self, point: &WorldPoint) -> ViewVector {
        self.view_from_world * (point - self.pose.eye)
    }

    /// The rotation from the world to camera axes.
    pub const fn rotation(&self) -> &Matrix3<f64> {
        &self.view_from_world
    }

    /// The part of the ideal picture plane that the frame covers.
    pub const fn window(&self) -> &IdealWindow {
        &self.window
    }

    /// Where a world point is drawn.
    pub fn pixel_of(&self, point: &WorldPoint) -> Result<PixelPoint, NotDrawn> {
        self.pixel_of_view(&self.view_of(point))
    }

    fn pixel_of_view(&self, view: &ViewVector) -> Result<PixelPoint, NotDrawn> {
        self.camera.pixel_from_view(view).ok_or(if view.z <= 0.0 { NotDrawn::Behind } else { NotDrawn::OutsideLens })
    }

    /// The line as this camera draws it; what stands in between is asked of `sight` where there is one.
    pub fn draw(&self, line: &StandingLine, sight: Option<&Sight>) -> DrawnLine {
        let (base, top) = (self.view_of(&line.base), self.view_of(&line.top));
        let part = if self.straight { self.straight_part(&base, &top) } else { self.bent_part(&base, &top) };
        let ideal_lean = ideal_lean(&base, &top);
        let (lean, line_bend_percent) = match &part {
            None => (None, None),
            Some(_) if self.straight => (ideal_lean, Some(0.0)),
            Some(part) => (self.chord_lean(part), self.line_bend(&base, &top, part)),
        };
        let seen = sight.map(|sight| part.map_or_else(Vec::new, |part| self.seen_stretches(line, &part, sight)));
        DrawnLine {
            line: *line,
            base_px: self.pixel_of_view(&base),
            top_px: self.pixel_of_view(&top),
            part,
            ideal_lean,
            lean,
            line_bend_percent,
            seen,
        }
    }

    /// Whether nothing of a box, given by its lowest and highest corner, can be in the frame.
    pub fn surely_misses(&self, (low, high): (WorldPoint, WorldPoint)) -> bool {
        let Some(window) = &self.outer else { return false };
        let middle = self.view_of(&nalgebra::center(&low, &high));
        let half = 0.5 * (high - low) + WorldVector::repeat(BEYOND_MESH_M);
        sides(window).iter().any(|side| side.dot(&middle) < -self.view_from_world.tr_mul(side).abs().dot(&half))
    }

    /// The part of a straight line inside the frame.
    fn straight_part(&self, base: &ViewVector, top: &ViewVector) -> Option<FramedPart> {
        let (from, to) = clipped(base, top, &self.window)?;
        let end = |share: f64| self.camera.pixel_from_view(&(base + (top - base) * share));
        Some(FramedPart { from, to, lower_px: end(from)?, upper_px: end(to)? })
    }

    /// The longest part of a bent line inside the frame, its ends found by halving.
    fn bent_part(&self, base: &ViewVector, top: &ViewVector) -> Option<FramedPart> {
        let at = |share: f64| self.camera.pixel_from_view(&(base + (top - base) * share));
        let inside = |share: f64| at(share).is_some_and(|pixel| self.camera.holds(pixel));
        if self.surely_frames(base) && self.surely_frames(top) && inside(0.0) && inside(1.0) {
            return Some(FramedPart { from: 0.0, to: 1.0, lower_px: at(0.0)?, upper_px: at(1.0)? });
        }
        // However short a stretch of a long line the frame holds, enough steps fall into it.
        let (start, end) = match &self.outer {
            Some(outer) => clipped(base, top, outer)?,
            None => (0.0, 1.0),
        };
        let steps = 4 * STEPS;
        let share = |step: usize| start + (end - start) * (step as f64 / steps as f64);
        let (mut longest, mut entered): (Option<(usize, usize)>, Option<usize>) = (None, None);
        for step in 0..=steps {
            if inside(share(step)) {
                let first = *entered.get_or_insert(step);
                if longest.is_none_or(|(a, b)| step - first > b - a) {
                    longest = Some((first, step));
                }
            } else {
                entered = None;
            }
        }
        let (first, last) = longest?;
        let border = |mut within: f64, mut without: f64| {
            for _ in 0..50 {
                let middle = 0.5 * (within + without);
                if inside(middle) { within = middle } else { without = middle }
            }
            within
        };
        let from = if first == 0 { start } else { border(share(first), share(first - 1)) };
        let to = if last == steps { end } else { border(share(last), share(last + 1)) };
        (from < to).then_some(())?;
        Some(FramedPart { from, to, lower_px: at(from)?, upper_px: at(to)? })
    }

    /// Whether a point is well within the ideal window, which is convex: of a line between two such points all is framed.
    fn surely_frames(&self, view: &ViewVector) -> bool {
        let (x, y) = (view.x / view.z, view.y / view.z);
        view.z > 0.0
            && (self.window.left + WELL_WITHIN..=self.window.right - WELL_WITHIN).contains(&x)
            && (self.window.top + WELL_WITHIN..=self.window.bottom - WELL_WITHIN).contains(&y)
    }

    fn chord_lean(&self, part: &FramedPart) -> Option<Angle> {
        let chord = self.camera.picture_from_pixel(part.upper_px) - self.camera.picture_from_pixel(part.lower_px);
        (chord.norm() > 0.0).then(|| Angle::from_radians((-chord.x).atan2(chord.y)))
    }

    /// How long the longest stretch of a line that can be seen is drawn, as a share of the frame's height; `None` where none is
    /// seen, or nobody looked.
    pub fn longest_stretch(&self, drawn: &DrawnLine) -> Option<f64> {
        let height_px = f64::from(self.camera.frame.height_px);
        let length = |&(from, to): &(f64, f64)| {
            let [lower, upper] = [from, to].map(|share| self.pixel_of(&drawn.line.at(share)).ok());
            Some((upper? - lower?).norm() / height_px)
        };
        drawn.seen.as_ref()?.iter().filter_map(length).reduce(f64::max)
    }

    /// The largest departure from the chord, signed outwards from the centre of the picture, in % of its height.
    fn line_bend(&self, base: &ViewVector, top: &ViewVector, part: &FramedPart) -> Option<f64> {
        let lower = self.camera.picture_from_pixel(part.lower_px);
        let chord = self.camera.picture_from_pixel(part.upper_px) - lower;
        let across = nalgebra::Vector2::new(-chord.y, chord.x).try_normalize(0.0)?;
        let outwards = if (lower + chord * 0.5).dot(&across) < 0.0 { -across } else { across };
        let sagitta_mm = (1..STEPS)
            .filter_map(|step| {
                let share = part.from + (part.to - part.from) * step as f64 / STEPS as f64;
                self.camera.picture_from_view(&(base + (top - base) * share))
            })
            .map(|point| (point - lower).dot(&outwards))
            .fold(0.0, |largest: f64, sagitta| if sagitta.abs() > largest.abs() { sagitta } else { largest });
        Some(100.0 * sagitta_mm / self.camera.frame.height_mm)
    }

    fn seen_stretches(&self, line: &StandingLine, part: &FramedPart, sight: &Sight) -> Vec<(f64, f64)> {
        let mut stretches: Vec<(f64, f64)> = Vec::new();
        if line.turned_away {
            return stretches;
        }
        let length = (part.to - part.from) / STEPS as f64;
        let starts: [f64; STEPS] = std::array::from_fn(|step| part.from + length * step as f64);
        let points = starts.map(|from| line.at(from + 0.5 * length) + line.outward * NUDGE_M);
        // In a town most lines stand behind one house.
        if sight.is_hidden_by_one(&self.pose.eye, [&points[0], &points[STEPS - 1]]) {
            return stretches;
        }
        for (from, free) in starts.into_iter().zip(sight.free_many(&self.pose.eye, &points)) {
            if !free {
                continue;
            }
            match stretches.last_mut() {
                Some(last) if (last.1 - from).abs() < 1e-9 => last.1 = from + length,
                _ => stretches.push((from, from + length)),
            }
        }
        stretches
    }
}

/// Inward normals of what lies in front of the camera and inside a window: of the plane across the axis, and of those through
/// the eye and the window's sides.
fn sides(window: &IdealWindow) -> [ViewVector; 5] {
    [
        ViewVector::new(0.0, 0.0, 1.0),
        ViewVector::new(1.0, 0.0, -window.left),
        ViewVector::new(-1.0, 0.0, window.right),
        ViewVector::new(0.0, 1.0, -window.top),
        ViewVector::new(0.0, -1.0, window.bottom),
    ]
}

/// The shares of a line between which it lies in front of the camera and inside a window: clipped against the planes
/// through the eye and the window's sides.
fn clipped(base: &ViewVector, top: &ViewVector, window: &IdealWindow) -> Option<(f64, f64)> {
    let (mut from, mut to) = (0.0_f64, 1.0_f64);
    for plane in sides(window) {
        let (at_base, at_top) = (plane.dot(base), plane.dot(top));
        if at_base < 0.0 && at_top < 0.0 {
            return None;
        }
        if at_base < 0.0 {
            from = from.max(at_base / (at_base - at_top));
        } else if at_top < 0.0 {
            to = to.min(at_base / (at_base - at_top));
        }
    }
    (from < to).then_some((from, to))
}

/// The lean of a line in the ideal rectilinear picture, from its ends in camera axes; positive when its top leans left.
///
/// # Formula
/// The direction in the picture is ((p×d)ᵧ, −(p×d)ₓ), d being the line's own direction: the same all along it. For a
/// plumb line at bearing α from a camera of pitch θ and roll ρ it is atan2(tan α·sin θ) + ρ.
///
/// # Valid range
/// `None` where all of it lies behind the camera, or where it runs through the eye.
pub fn ideal_lean(base: &ViewVector, top: &ViewVector) -> Option<Angle> {
    if base.z <= 0.0 && top.z <= 0.0 {
        return None;
    }
    let along = top - base;
    let cross = base.cross(&along);
    // Right in the picture is (p×d)ᵧ, up in the picture is (p×d)ₓ.
    let (right, up) = (cross.y, cross.x);
    let scale = base.norm().max(top.norm()) * along.norm();
    (right.hypot(up) > 1e-12 * scale).then(|| Angle::from_radians((-right).atan2(up)))
}
