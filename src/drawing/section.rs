//! Why do the verticals close? Camera, sensor plane, plumb and subject from the side.
//!
//! The section runs in plan from the camera to the middle of the subject and is true to scale, so that every angle in it
//! is the angle there is. Blocks are drawn where the section cuts them, the subject as it stands beyond.

use crate::angle::Angle;
use crate::outline::hull;
use crate::pose::WorldPoint;
use crate::site::{PlanPoint, Solid};
use crate::survey::{Measured, Survey};
use crate::units::Units;

use super::canvas::{Canvas, written_degrees};
use super::labels::{Label, Labels};
use super::plan::subject_words;
use super::{Align, CanvasPoint, Drawing, Role, Room, Text};

/// Points of the ground's profile.
const PROFILE: usize = 160;
/// Sensor and plumb count as parallel below this.
const PARALLEL_DEG: f64 = 0.05;

/// The upright plane of the section: metres along it from the camera, and up.
struct Plane {
    eye: WorldPoint,
    sine: f64,
    cosine: f64,
}

impl Plane {
    /// Metres ahead of the camera, and to the right of the plane.
    fn along_and_aside(&self, (x, y): PlanPoint) -> (f64, f64) {
        let (east, north) = (x - self.eye.x, y - self.eye.y);
        (east * self.sine + north * self.cosine, east * self.cosine - north * self.sine)
    }

    fn plan_of(&self, along_m: f64) -> PlanPoint {
        (self.eye.x + along_m * self.sine, self.eye.y + along_m * self.cosine)
    }
}

/// What of the section must be seen.
#[derive(Clone, Copy)]
struct SectionExtent {
    /// The least distance along the section.
    start_m: f64,
    /// The greatest distance along it.
    end_m: f64,
    /// The least height.
    low_m: f64,
    /// The greatest height.
    high_m: f64,
}

/// Where the section lies on the canvas.
#[derive(Clone, Copy)]
struct SectionScale {
    /// Where `start_m` is drawn.
    left_pt: f64,
    /// Where `low_m` is drawn.
    bottom_pt: f64,
    /// The least distance along the section that must be seen.
    start_m: f64,
    /// The least height that must be seen.
    low_m: f64,
    points_per_m: f64,
}

impl SectionScale {
    /// Shows an extent as large as it fits into a room.
    fn fitting(room: &Room, extent: SectionExtent) -> Self {
        let SectionExtent { start_m, end_m, low_m, high_m } = extent;
        let across = (room.right - room.left).max(10.0) / (end_m - start_m).max(1.0);
        let up = (room.bottom - room.top).max(10.0) / (high_m - low_m).max(1.0);
        let points_per_m = across.min(up);
        // Centred where the height decides the scale.
        let left_pt = 0.5 * (room.left + room.right) - 0.5 * points_per_m * (end_m - start_m);
        Self { left_pt, bottom_pt: room.bottom, start_m, low_m, points_per_m }
    }

    /// The place of a distance along the section and a height.
    fn at(&self, along_m: f64, up_m: f64) -> CanvasPoint {
        (
            self.left_pt + (along_m - self.start_m) * self.points_per_m,
            self.bottom_pt - (up_m - self.low_m) * self.points_per_m,
        )
    }

    /// The distance along the section that is drawn so far to the right.
    fn along_m(&self, right_pt: f64) -> f64 {
        (right_pt - self.left_pt) / self.points_per_m + self.start_m
    }

    fn ring(&self, ring: &[(f64, f64)]) -> Vec<CanvasPoint> {
        ring.iter().map(|&(along_m, up_m)| self.at(along_m, up_m)).collect()
    }
}

/// What a section is drawn from.
#[derive(Clone, Copy, Debug)]
pub struct SectionRequest<'a> {
    /// The site.
    pub survey: &'a Survey,
    /// The stance that the section runs from.
    pub measured: &'a Measured,
    /// The unit of its lengths.
    pub units: Units,
    /// Its width in points.
    pub width_pt: f64,
    /// Its height in points.
    pub height_pt: f64,
    /// Whether a title and a note stand at the top.
    pub titled: bool,
}

/// The section from the camera through the subject; without a subject along the camera's heading.
pub fn section(request: &SectionRequest<'_>) -> Drawing {
    let SectionRequest { survey, measured, units, titled, .. } = *request;
    let mut canvas = Canvas::new(request.width_pt, request.height_pt);
    let (width_pt, height_pt) = (canvas.drawing.width_pt, canvas.drawing.height_pt);
    let standing = &measured.standing;
    let (eye, attitude) = (standing.pose.eye, standing.pose.attitude);
    let apart = attitude.pitch.abs();
    let parallel = apart.degrees() < PARALLEL_DEG;
    let note = if parallel {
        "sensor and plumb are parallel".to_owned()
    } else {
        format!("sensor and plumb are {} apart", written_degrees(apart))
    };
    let mut taken = if titled { canvas.title("Section", &note) } else { Vec::new() };

    let subject = survey.subject.as_ref().ok();
    let bearing = match (&measured.account.outline, subject) {
        (Ok(outline), _) => outline.middle(),
        (Err(_), Some(subject)) if (subject.middle - eye).xy().norm() > 1e-6 => {
            Angle::bearing_of(subject.middle.x - eye.x, subject.middle.y - eye.y)
        }
        _ => attitude.heading,
    };
    let (sine, cosine) = bearing.sin_cos();
    let plane = Plane { eye, sine, cosine };
    let blocks: &[usize] = subject.map_or(&[], |subject| &subject.blocks);
    let outlines: Vec<Vec<(f64, f64)>> =
        blocks.iter().map(|&block| elevation(survey, &survey.model.solids[block], &plane)).collect();
    let reach =
        |pick: fn(f64, f64) -> f64, start: f64| outlines.iter().flatten().map(|corner| corner.0).fold(start, pick);
    let (nearest_m, farthest_m) = if outlines.iter().all(Vec::is_empty) {
        (10.0, 30.0)
    } else {
        (reach(f64::min, f64::INFINITY), reach(f64::max, f64::NEG_INFINITY))
    };

    // What must be seen: the camera and the ground under it, and the subject from base to top.
    let ground_m = |along_m: f64| survey.model.site.terrain.height_m(plane.plan_of(along_m));
    let feet_m = standing.footing.as_ref().map_or_else(|| ground_m(0.0), |footing| footing.height_m.min(ground_m(0.0)));
    let (base_m, top_m) =
        subject.map_or((ground_m(nearest_m), eye.z + 2.0), |subject| (subject.base_m, subject.highest_m));
    let (low_m, high_m) = (feet_m.min(base_m).min(ground_m(nearest_m)), top_m.max(eye.z + 0.5));
    let (start_m, end_m) = (farthest_m.min(nearest_m).min(0.0), farthest_m.max(0.5));
    let room =
        Room { left: 30.0, top: if titled { 42.0 } else { 14.0 }, right: width_pt - 34.0, bottom: height_pt - 26.0 };
    let scale = SectionScale::fitting(&room, SectionExtent { start_m, end_m, low_m, high_m });
    let at = |along_m: f64, up_m: f64| scale.at(along_m, up_m);

    draw_ground(&mut canvas, survey, &plane, &scale);
    draw_others(&mut canvas, survey, &plane, &scale);
    for outline in &outlines {
        canvas.area(&[scale.ring(outline)], Some(Role::Side.thinned(0.14)), Some(Role::Side.pen(1.7)));
    }

    let lens = at(0.0, eye.z);
    // Sight lines to base and top, the lens axis, and the edges of the frame.
    let mut lines: Vec<Vec<CanvasPoint>> = Vec::new();
    if let Some(subject) = subject
        && nearest_m > 0.0
    {
        let (top_at_m, base_at_m) = (0.5 * (nearest_m + farthest_m), nearest_m);
        for (along_m, up_m) in [(base_at_m, subject.base_m), (top_at_m, subject.highest_m)] {
            let line = vec![lens, at(along_m, up_m)];
            canvas.line(&line, Role::Soft.pen(0.8));
            lines.push(line);
        }
    }
    // Along the section the lens axis is as steep as its pitch, turned by how far the camera looks past the subject.
    let aside = (attitude.heading - bearing).wrapped();
    let (axis_along, axis_up) = (attitude.pitch.cos() * aside.cos(), attitude.pitch.sin());
    let size = axis_along.hypot(axis_up).max(1e-9);
    let (axis_along, axis_up) = (axis_along / size, axis_up / size);
    let reach_pt = (0.45 * (width_pt - scale.left_pt)).max(30.0);
    let axis = vec![lens, (lens.0 + reach_pt * axis_along, lens.1 - reach_pt * axis_up)];
    canvas.line(&axis, Role::Ink.dashed(0.9));
    lines.push(axis);
    let half = (0.13 * height_pt).clamp(14.0, 26.0);
    draw_camera(&mut canvas, lens, (axis_along, axis_up), half, (!parallel).then_some(attitude.pitch));

    if let Some(distance_m) = measured.account.distance_m {
        taken.extend(dimension(
            &mut canvas,
            at(0.0, low_m),
            at(nearest_m.max(0.0), low_m),
            &units.drawn(distance_m),
            height_pt,
        ));
    }
    taken.push(Room { left: lens.0 - half, top: lens.1 - 1.2 * half, right: lens.0 + half, bottom: lens.1 + half });
    let mut labels = Labels::on(&canvas, taken);
    for line in &lines {
        labels.keep_clear(line);
    }
    for outline in &outlines {
        labels.keep_clear(&scale.ring(outline));
    }
    let mut write = |text: &str, at, reach_pt: f64, role, strong| {
        let clear_pt = (reach_pt, reach_pt);
        labels.write(&mut canvas, &Label { text, at, clear_pt, role, strong, upon: false, hides: usize::MAX });
    };
    if !parallel {
        let side = if attitude.pitch.radians() > 0.0 { -1.0 } else { 1.0 };
        let place = (lens.0 + side * 0.3 * half, lens.1 - 1.3 * half);
        write(&written_degrees(apart), place, 2.0, Role::Plumb, true);
    }
    if let Some(subject) = subject {
        let middle_m = 0.5 * (nearest_m + farthest_m);
        let rise_m = subject.highest_m - subject.base_m;
        let half_pt = 0.5 * (farthest_m - nearest_m) * scale.points_per_m;
        write(&format!("{} high", units.drawn(rise_m)), at(middle_m, base_m + 0.6 * rise_m), half_pt, Role::Side, true);
        if let Some(head) = measured.account.top_elevation {
            let way = if head.radians() < 0.0 { "down" } else { "up" };
            let text = format!("looking {way} {} at the top", written_degrees(head));
            let share = 0.55;
            let place = at(share * middle_m, eye.z + share * (subject.highest_m - eye.z));
            write(&text, place, 3.0, Role::Soft, false);
        }
    }
    if let Some(height_m) = standing.height_m() {
        write(&units.drawn(height_m), at(0.0, eye.z - height_m * 0.5), half, Role::Soft, false);
    }
    canvas.finish(words(survey, measured, units, &note))
}

/// The blocks that are not the subject, where the plane cuts them.
fn draw_others(canvas: &mut Canvas, survey: &Survey, plane: &Plane, scale: &SectionScale) {
    for (index, block) in survey.model.site.blocks.iter().enumerate() {
        if block.subject {
            continue;
        }
        let rings: Vec<Vec<CanvasPoint>> =
            cut(&survey.model.solids[index], plane).iter().map(|ring| scale.ring(ring)).collect();
        canvas.area(&rings, Some(Role::Well.full()), Some(Role::Ink.pen(0.9)));
    }
}

/// The camera: the sensor plane stands square to the axis, drawn through the lens, and the plumb hangs through it; their
/// angle over the camera, where they have one.
fn draw_camera(canvas: &mut Canvas, lens: CanvasPoint, axis: (f64, f64), half: f64, pitch: Option<Angle>) {
    let sensor = [(lens.0 + half * axis.1, lens.1 + half * axis.0), (lens.0 - half * axis.1, lens.1 - half * axis.0)];
    let plumb = [(lens.0, lens.1 - 1.35 * half), (lens.0, lens.1 + 1.35 * half)];
    canvas.line(&plumb, Role::Plumb.dotted(1.6));
    if let Some(pitch) = pitch {
        // The angle between them, over the camera.
        let radius = 1.12 * half;
        let steps = 12;
        let arc: Vec<CanvasPoint> = (0..=steps)
            .map(|step| {
                let turn = pitch.radians() * f64::from(step) / f64::from(steps);
                (lens.0 - radius * turn.sin(), lens.1 - radius * turn.cos())
            })
            .collect();
        canvas.line(&arc, Role::Plumb.pen(0.9));
    }
    canvas.line(&sensor, Role::Ink.pen(3.0));
    canvas.circle(lens, 2.6, Some(Role::Panel.full()), Some(Role::Ink.pen(1.4)));
}

/// A distance along the bottom, between ticks; the room that it takes, where there is enough.
fn dimension(canvas: &mut Canvas, from: CanvasPoint, to: CanvasPoint, text: &str, height_pt: f64) -> Option<Room> {
    let y = (from.1.max(to.1) + 14.0).min(height_pt - 8.0);
    let mut text = Text::caption(text, (0.5 * (from.0 + to.0), y), Align::Middle, Role::Soft);
    text.plate = true;
    let room = text.room();
    if to.0 - from.0 < room.right - room.left + 8.0 {
        return None;
    }
    canvas.line(&[(from.0, y), (to.0, y)], Role::Soft.pen(0.7));
    for x in [from.0, to.0] {
        canvas.line(&[(x, y - 4.0), (x, y + 4.0)], Role::Soft.pen(0.9));
    }
    canvas.text(text);
    Some(room)
}

/// The ground as far as the canvas reaches, and water over it.
fn draw_ground(canvas: &mut Canvas, survey: &Survey, plane: &Plane, scale: &SectionScale) {
    let (width_pt, height_pt) = (canvas.drawing.width_pt, canvas.drawing.height_pt);
    let at = |along_m: f64, up_m: f64| scale.at(along_m, up_m);
    let (from_m, to_m) = (scale.along_m(-8.0), scale.along_m(width_pt + 8.0));
    let places: Vec<f64> = (0..=PROFILE).map(|step| from_m + (to_m - from_m) * step as f64 / PROFILE as f64).collect();
    let bed_m: Vec<f64> =
        places.iter().map(|&along_m| survey.model.site.terrain.height_m(plane.plan_of(along_m))).collect();
    let profile: Vec<CanvasPoint> = places.iter().zip(&bed_m).map(|(&along_m, &up_m)| at(along_m, up_m)).collect();
    if let Some(water_m) = survey.model.site.water_level_m {
        for (index, pair) in bed_m.windows(2).enumerate() {
            if pair[0] < water_m && pair[1] < water_m {
                let stretch = [places[index], places[index + 1]];
                let ring = vec![at(stretch[0], water_m), at(stretch[1], water_m), profile[index + 1], profile[index]];
                canvas.area(&[ring], Some(Role::Water.full()), None);
                canvas.line(&[at(stretch[0], water_m), at(stretch[1], water_m)], Role::Soft.pen(0.7));
            }
        }
    }
    let mut earth = profile.clone();
    earth.extend([(width_pt + 8.0, height_pt + 8.0), (-8.0, height_pt + 8.0)]);
    canvas.area(&[earth], Some(Role::Ground.thinned(0.8)), None);
    canvas.line(&profile, Role::Ink.pen(1.0));
}

/// A block of the subject as it stands beyond the plane, above the ground: the hull of its corners.
fn elevation(survey: &Survey, solid: &Solid, plane: &Plane) -> Vec<(f64, f64)> {
    let corners = solid.vertices.iter().map(|corner| {
        let ground_m = survey.model.site.terrain.height_m((corner.x, corner.y));
        (plane.along_and_aside((corner.x, corner.y)).0, corner.z.max(ground_m))
    });
    hull(corners.collect())
}

/// A place of the section to the hundredth of a millimetre: those that agree are one.
type Welded = (i64, i64);
/// The places that a place is joined to, with where they are before they are rounded.
type Joined = Vec<(Welded, (f64, f64))>;

/// Where the plane cuts a block, ahead of the camera: closed rings.
fn cut(solid: &Solid, plane: &Plane) -> Vec<Vec<(f64, f64)>> {
    let (low, high) = solid.bounds();
    let sides = [(low.x, low.y), (high.x, low.y), (high.x, high.y), (low.x, high.y)];
    let sides = sides.map(|corner| plane.along_and_aside(corner).1);
    if sides.iter().all(|side| *side > 0.0) || sides.iter().all(|side| *side < 0.0) {
        return Vec::new();
    }
    // Each triangle that reaches over the plane gives a stretch; its ends lie on sides that its neighbours share.
    let key = |(along_m, up_m): (f64, f64)| ((along_m * 1e5).round() as i64, (up_m * 1e5).round() as i64);
    let mut joined: std::collections::BTreeMap<Welded, Joined> = std::collections::BTreeMap::new();
    for triangle in &solid.triangles {
        let corners = solid.corners(triangle).map(|corner| {
            let (along_m, aside_m) = plane.along_and_aside((corner.x, corner.y));
            (along_m, corner.z, aside_m)
        });
        let mut ends = Vec::new();
        for side in 0..3 {
            // The same way round from either neighbour, so that both find the same place.
            let (mut a, mut b) = (corners[side], corners[(side + 1) % 3]);
            if (a.2 > 0.0) == (b.2 > 0.0) {
                continue;
            }
            if a.2 > 0.0 {
                std::mem::swap(&mut a, &mut b);
            }
            let share = a.2 / (a.2 - b.2);
            ends.push((a.0 + (b.0 - a.0) * share, a.1 + (b.1 - a.1) * share));
        }
        if let [a, b] = ends[..]
            && key(a) != key(b)
        {
            joined.entry(key(a)).or_default().push((key(b), b));
            joined.entry(key(b)).or_default().push((key(a), a));
        }
    }
    let mut rings = Vec::new();
    let starts: Vec<Welded> = joined.keys().copied().collect();
    for start in starts {
        let mut ring = Vec::new();
        let mut here = start;
        while let Some((there, place)) = joined.get_mut(&here).and_then(Vec::pop) {
            if let Some(back) = joined.get_mut(&there)
                && let Some(at) = back.iter().position(|(to, _)| *to == here)
            {
                back.swap_remove(at);
            }
            ring.push(place);
            here = there;
        }
        if ring.len() >= 3 {
            rings.push(ring);
        }
    }
    rings
}

fn words(survey: &Survey, measured: &Measured, units: Units, note: &str) -> String {
    let mut words = format!("Section from the camera through {}: {note}.", subject_words(survey));
    if let Some(height_m) = measured.standing.height_m() {
        words += &format!(" The camera is {} above the feet.", units.drawn(height_m));
    }
    if let Some(distance_m) = measured.account.distance_m {
        words += &format!(" It is {} from {}", units.drawn(distance_m), subject_words(survey));
        if let Ok(subject) = &survey.subject {
            words += &format!(", which is {} high", units.drawn(subject.highest_m - subject.base_m));
        }
        words += ".";
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::site::{Model, Site};

    fn block(text: &str) -> std::sync::Arc<Solid> {
        let text = format!("(format: 1, name: \"test\", blocks: [{text}])");
        let site: Site = crate::files::ron_options().from_str(&text).expect("a site");
        Model::build(site).solids.remove(0)
    }

    #[test]
    fn the_cut_through_a_house_is_its_gable() {
        let solid = block("(name: \"a\", at: (0, 20), shape: Gable(width_m: 10, depth_m: 6, eaves_m: 3, ridge_m: 5))");
        let plane = Plane { eye: WorldPoint::new(0.7, 0.0, 1.6), sine: 0.0, cosine: 1.0 };
        let rings = cut(&solid, &plane);
        assert_eq!(rings.len(), 1);
        let (low, high) =
            rings[0].iter().fold(((1e9, 1e9), (-1e9, -1e9)), |(low, high): ((f64, f64), (f64, f64)), &(x, y)| {
                ((low.0.min(x), low.1.min(y)), (high.0.max(x), high.1.max(y)))
            });
        assert!((low.0 - 17.0).abs() < 1e-9 && (high.0 - 23.0).abs() < 1e-9, "{low:?} {high:?}");
        assert!((high.1 - 5.0).abs() < 1e-9);
        // Beside it nothing is cut.
        let beside = Plane { eye: WorldPoint::new(9.0, 0.0, 1.6), ..plane };
        assert!(cut(&solid, &beside).is_empty());
    }
}
