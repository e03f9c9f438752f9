//! How does the sun fall on the subject's faces: lit, at a grazing angle, in a shadow, from behind?
//!
//! A face is looked at in points spread evenly over it; the share of them from which a ray to the middle of the sun's
//! disc is free is the share that is lit. Blocks, terrain, level ground and water cast shadows, the subject's own parts
//! too; the soft edge of a shadow, half a degree wide, counts as lit up to its middle.

use crate::angle::Angle;
use crate::outline::{FrontFace, Subject, Wall};
use crate::pose::{WorldPoint, WorldVector};
use crate::sight::Sight;
use crate::site::{Model, Triangle};

use super::moment::Moment;
use super::sky::{Sky, SunPosition};

/// Faces of one subject that are told of at most: its largest.
pub const MOST_FACES: usize = 12;
/// How many points stand for a face.
const POINTS: usize = 64;
/// A ray starts so far off its surface.
const CLEAR_M: f64 = 5e-3;
/// Triangles that look the same way within 2° belong to one flat face.
const SAME_WAY: f64 = 0.999_39;
/// A side of something round is what looks its way within 45°.
const ROUND_WAY: f64 = std::f64::consts::FRAC_1_SQRT_2;
/// How finely the moment at which the light changes is found.
const CHANGE_MS: i64 = 500;

/// What counts as what. Common practice, no source: they may be set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LightLimits {
    /// Light grazes a face from this angle of incidence on.
    pub grazing_from: Angle,
    /// A face counts as lit if at least this share of what is turned to the sun has it.
    pub lit_share: f64,
    /// Altitudes of the sun's centre between which the light is golden.
    pub golden_deg: (f64, f64),
    /// Altitudes of the sun's centre between which the sky is deep blue.
    pub blue_deg: (f64, f64),
}

impl Default for LightLimits {
    fn default() -> Self {
        Self {
            grazing_from: Angle::from_degrees(60.0),
            lit_share: 0.5,
            golden_deg: (-4.0, 6.0),
            blue_deg: (-6.0, -4.0),
        }
    }
}

/// What light a face has.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FaceLight {
    /// The sun falls on it.
    Lit,
    /// The sun falls on it at a grazing angle, which brings out its relief.
    Grazing,
    /// It is turned to the sun, and something is in the way.
    Shaded,
    /// It is turned away from the sun.
    Away,
    /// The sun is below the horizon.
    Night,
}

impl FaceLight {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Lit, Self::Grazing, Self::Shaded, Self::Away, Self::Night];

    /// In a word.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Lit => "lit",
            Self::Grazing => "grazing light",
            Self::Shaded => "in shadow",
            Self::Away => "turned away from the sun",
            Self::Night => "sun below the horizon",
        }
    }

    /// Its name in files.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Lit => "lit",
            Self::Grazing => "grazing",
            Self::Shaded => "shaded",
            Self::Away => "away",
            Self::Night => "night",
        }
    }

    /// Whether the sun is on it.
    pub const fn has_sun(self) -> bool {
        matches!(self, Self::Lit | Self::Grazing)
    }
}

/// A face of the subject, ready to be asked what light it has.
#[derive(Clone, Debug)]
pub struct LitFace {
    /// Its block and the bearing it looks along, such as "counting house, 180°".
    pub name: String,
    /// Its outward normal, of length 1; of a side of something round, that of its middle.
    pub normal: WorldVector,
    /// Whether it is the front that the site names.
    pub is_front: bool,
    /// Points spread evenly over it, each with its own normal.
    points: Vec<(WorldPoint, WorldVector)>,
}

/// The light on a face at a moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lighting {
    /// What it amounts to.
    pub light: FaceLight,
    /// The angle between the sun and the face's normal: 0 straight on, 90° along it, more from behind.
    pub incidence: Angle,
    /// The share of the face that the sun is on, from 0 to 1.
    pub lit_share: f64,
}

/// A stretch of time with one light.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LightSpan {
    /// From when.
    pub from: Moment,
    /// Until when.
    pub to: Moment,
    /// Which light.
    pub light: FaceLight,
}

/// What casts shadows, and what counts as what.
#[derive(Clone, Copy, Debug)]
pub struct Shade<'a> {
    /// The site's blocks, ground and water.
    pub sight: &'a Sight,
    /// What counts as what.
    pub limits: LightLimits,
}

/// The angle between the sun and a surface's normal.
///
/// # Source
/// Reda & Andreas, NREL/TP-560-34302, §3.15, there from slope and azimuth of the surface; the scalar product is the same.
///
/// # Example
/// ```
/// use plumbsight::{light::incidence, pose::WorldVector, site::Sun};
/// // A wall that looks south, the sun in the south at 60°.
/// let sun = Sun { azimuth_deg: 180.0, altitude_deg: 60.0 }.direction();
/// assert!((incidence(&WorldVector::new(0.0, -1.0, 0.0), &sun).degrees() - 60.0).abs() < 1e-9);
/// ```
pub fn incidence(normal: &WorldVector, to_sun: &WorldVector) -> Angle {
    // By the tangent: the cosine alone says little near 0°.
    Angle::from_radians(normal.cross(to_sun).norm().atan2(normal.dot(to_sun)))
}

/// The faces of a subject: the front that the site names first, then its walls by block and bearing, the largest dozen of
/// them; of a subject without flat walls its four sides.
pub fn faces(model: &Model, subject: &Subject) -> Vec<LitFace> {
    let mut found = Vec::new();
    if let Some(front) = &subject.named_front {
        found.push(face_of(model, subject, front, true));
    }
    // The walls of a block that look the same way are one face.
    let mut walls: Vec<Wall> = Vec::new();
    for wall in &subject.walls {
        match walls.iter_mut().find(|other| other.block == wall.block && other.normal.dot(&wall.normal) > SAME_WAY) {
            Some(same) => same.area_m2 += wall.area_m2,
            None => walls.push(*wall),
        }
    }
    walls.sort_by(|a, b| b.area_m2.total_cmp(&a.area_m2));
    walls.truncate(MOST_FACES);
    let bearing = |wall: &Wall| Angle::bearing_of(wall.normal.x, wall.normal.y).compass_degrees();
    walls.sort_by(|a, b| a.block.cmp(&b.block).then(bearing(a).total_cmp(&bearing(b))));
    if walls.is_empty() {
        walls = sides(subject).to_vec();
    }
    for wall in &walls {
        let face = face_of(model, subject, wall, false);
        let is_known = found.iter().any(|known: &LitFace| known.name == face.name);
        if !is_known && !face.points.is_empty() {
            found.push(face);
        }
    }
    found
}

/// The four sides of a subject without flat walls.
fn sides(subject: &Subject) -> [Wall; 4] {
    [(0.0, 1.0), (1.0, 0.0), (0.0, -1.0), (-1.0, 0.0)].map(|(east, north)| Wall {
        block: subject.body,
        normal: WorldVector::new(east, north, 0.0),
        area_m2: 0.0,
        heights_m: (subject.base_m, subject.top_m),
        middle: subject.middle,
        corner: subject.middle,
    })
}

/// The wall that a picture from an eye is of: the front that the site names, else the wall that is seen largest, else, of
/// something round or from amid it, the side that looks towards the eye.
pub fn wall_towards(subject: &Subject, eye: &WorldPoint) -> Option<FrontFace> {
    if let Some(front) = subject.front(eye) {
        return Some(front);
    }
    let towards = eye - subject.middle;
    let facing = |wall: &Wall| wall.normal.dot(&towards);
    let walls = if subject.walls.is_empty() { sides(subject).to_vec() } else { subject.walls.clone() };
    let wall = walls.into_iter().reduce(|best, wall| if facing(&wall) > facing(&best) { wall } else { best })?;
    Some(FrontFace { wall, named: false })
}

/// The face that a picture from an eye is of.
pub fn face_towards(model: &Model, subject: &Subject, eye: &WorldPoint) -> Option<LitFace> {
    wall_towards(subject, eye).map(|front| face_of(model, subject, &front.wall, front.named))
}

/// The stretches in which the light is as wanted, those that follow on one another as one.
pub fn stretches_of(spans: &[LightSpan], wanted: impl Fn(FaceLight) -> bool) -> Vec<(Moment, Moment)> {
    let mut joined: Vec<(Moment, Moment)> = Vec::new();
    for span in spans.iter().filter(|span| wanted(span.light)) {
        match joined.last_mut() {
            Some(last) if last.1 == span.from => last.1 = span.to,
            _ => joined.push((span.from, span.to)),
        }
    }
    joined
}

/// One wall of the subject, or one side of it where it has no such wall.
pub fn face_of(model: &Model, subject: &Subject, wall: &Wall, is_front: bool) -> LitFace {
    let bearing_deg = Angle::bearing_of(wall.normal.x, wall.normal.y).compass_degrees().round() % 360.0;
    let name = format!("{}, {bearing_deg:.0}°", model.site.blocks[wall.block].name);
    let flat = points(model, &[wall.block], &wall.normal, SAME_WAY);
    let points = if flat.is_empty() { points(model, &subject.blocks, &wall.normal, ROUND_WAY) } else { flat };
    LitFace { name, normal: wall.normal, is_front, points }
}

/// Points spread by area over what looks one way, each with its normal; none under ground or inside of something.
fn points(model: &Model, blocks: &[usize], way: &WorldVector, least_cosine: f64) -> Vec<(WorldPoint, WorldVector)> {
    let mut parts: Vec<(f64, usize, &Triangle)> = Vec::new();
    let mut total_m2 = 0.0;
    for &block in blocks {
        let solid = &model.solids[block];
        for triangle in &solid.triangles {
            if solid.faces[triangle.face as usize].normal.dot(way) >= least_cosine {
                let [a, b, c] = solid.corners(triangle);
                total_m2 += 0.5 * (b - a).cross(&(c - a)).norm();
                parts.push((total_m2, block, triangle));
            }
        }
    }
    let laid = |count: usize| -> Vec<(WorldPoint, WorldVector)> {
        (0..count)
            .filter_map(|index| {
                let wanted_m2 = total_m2 * (index as f64 + 0.5) / count as f64;
                let &(_, block, triangle) = parts.get(parts.partition_point(|&(up_to_m2, ..)| up_to_m2 < wanted_m2))?;
                let solid = &model.solids[block];
                let [a, b, c] = solid.corners(triangle);
                // Martin Roberts's sequence on the plastic number, from memory.
                let (mut s, mut t) =
                    ((0.754_877_666_246_69 * index as f64).fract(), (0.569_840_290_998_05 * index as f64).fract());
                if s + t > 1.0 {
                    (s, t) = (1.0 - s, 1.0 - t);
                }
                let normal = solid.faces[triangle.face as usize].normal;
                let point = a + (b - a) * s + (c - a) * t + normal * CLEAR_M;
                let open = point.z >= model.surface_m((point.x, point.y)) && model.block_around(&point).is_none();
                open.then_some((point, normal))
            })
            .collect()
    };
    if total_m2 <= 0.0 {
        return Vec::new();
    }
    let found = laid(POINTS);
    match found.len() {
        // Most of it may be buried, or covered by what stands against it.
        few if few < POINTS / 2 => laid(8 * POINTS).into_iter().take(POINTS).collect(),
        _ => found,
    }
}

impl LitFace {
    /// The light on it under a sun.
    pub fn lighting(&self, sun: &SunPosition, shade: &Shade<'_>) -> Lighting {
        let to_sun = sun.direction();
        let incidence = incidence(&self.normal, &to_sun);
        let dark = |light| Lighting { light, incidence, lit_share: 0.0 };
        if !sun.is_up() {
            return dark(FaceLight::Night);
        }
        let (mut facing, mut lit) = (0_usize, 0_usize);
        for (point, normal) in &self.points {
            if normal.dot(&to_sun) > 0.0 {
                facing += 1;
                lit += usize::from(shade.sight.is_open_towards(point, &to_sun));
            }
        }
        if 2 * facing < self.points.len() || facing == 0 {
            return Lighting { lit_share: lit as f64 / self.points.len().max(1) as f64, ..dark(FaceLight::Away) };
        }
        let light = if (lit as f64) < shade.limits.lit_share * facing as f64 || lit == 0 {
            FaceLight::Shaded
        } else if incidence.radians() >= shade.limits.grazing_from.radians() {
            FaceLight::Grazing
        } else {
            FaceLight::Lit
        };
        Lighting { light, incidence, lit_share: lit as f64 / self.points.len() as f64 }
    }

    /// The light on it between two moments, looked at every `step_s` seconds, each change found to the second.
    pub fn spans(&self, sky: &Sky, shade: &Shade<'_>, (start, end): (Moment, Moment), step_s: f64) -> Vec<LightSpan> {
        let light_at = |moment: Moment| self.lighting(&sky.sun(moment), shade).light;
        let mut spans = vec![LightSpan { from: start, to: end, light: light_at(start) }];
        let mut before = start;
        while before < end {
            let after = before.plus_s(step_s).min(end);
            let light = light_at(after);
            let was = spans[spans.len() - 1].light;
            if light != was {
                let (mut low, mut high) = (before, after);
                while high.unix_ms() - low.unix_ms() > CHANGE_MS {
                    let middle = low.halfway(high);
                    if light_at(middle) == was { low = middle } else { high = middle }
                }
                if let Some(last) = spans.last_mut() {
                    last.to = high;
                }
                spans.push(LightSpan { from: high, to: end, light });
            }
            before = after;
        }
        spans
    }

    /// The points that stand for it.
    pub fn points(&self) -> impl Iterator<Item = &WorldPoint> {
        self.points.iter().map(|(point, _)| point)
    }
}
