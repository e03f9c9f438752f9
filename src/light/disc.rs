//! When does the sun's disc touch the subject's outline, pass behind it and leave it, as seen from a place?
//!
//! The disc is a circle on the sphere of directions about the eye. The outline's nearest distance from its middle is
//! exact: over the arcs of all sides of the subject's triangles that face the eye. Whether all of the disc is behind the
//! subject is asked at 360 points of its rim: between them a straight edge is missed by less than a hundred-thousandth
//! of a degree, which the sun passes in 3 ms.

use std::f64::consts::TAU;

use crate::outline::Subject;
use crate::pose::{WorldPoint, WorldVector};
use crate::sight::Sight;
use crate::site::Model;

use super::moment::Moment;
use super::sky::{RISE_DEG, Sky, SunPosition};

/// The sun moves by less than this, in radians a second: 15.04″ as the Earth turns, and a little for the air.
const FASTEST: f64 = 7.6e-5;
/// Points on the disc's rim.
const RIM: usize = 360;
/// While the disc is at the outline it is looked at so often.
const AT_EDGE_S: f64 = 4.0;
/// How finely a moment is found.
const FOUND_MS: i64 = 20;

/// How much of the sun's disc the subject hides.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Cover {
    /// Nothing.
    Clear,
    /// Its rim is at the outline.
    Partly,
    /// All of it.
    Whole,
}

/// What happens between disc and outline.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ContactKind {
    /// The disc touches the outline from outside.
    Touches,
    /// The last of it goes behind the subject.
    Behind,
    /// The first of it appears again.
    Appears,
    /// It leaves the outline.
    Leaves,
}

impl ContactKind {
    /// In plain words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Touches => "touches the outline",
            Self::Behind => "is wholly behind the subject",
            Self::Appears => "appears again at the outline",
            Self::Leaves => "leaves the outline",
        }
    }

    /// Its name in files.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Touches => "touches",
            Self::Behind => "behind",
            Self::Appears => "appears",
            Self::Leaves => "leaves",
        }
    }
}

/// One meeting of disc and outline.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Contact {
    /// When, to the second.
    pub at: Moment,
    /// What happens.
    pub kind: ContactKind,
    /// Where the sun stands then.
    pub sun: SunPosition,
    /// Whether any of the disc is seen then, past everything else on the site.
    pub seen: bool,
}

/// The subject's skin as seen from one eye.
#[derive(Clone, Debug)]
pub struct SkinFromEye {
    triangles: Vec<SeenTriangle>,
}

#[derive(Clone, Debug)]
struct SeenTriangle {
    /// From the eye.
    corners: [WorldVector; 3],
    /// Outward normals of the planes through the eye and each side, of length 1: inside, all products are negative.
    sides: [WorldVector; 3],
    /// A cone about it: its axis, and the angle to its farthest corner.
    axis: WorldVector,
    reach: f64,
}

impl SkinFromEye {
    /// What of the subject's skin faces an eye.
    pub fn of(model: &Model, subject: &Subject, eye: &WorldPoint) -> Self {
        let solids = subject.blocks.iter().map(|&block| &model.solids[block]);
        let triangles = solids
            .flat_map(|solid| solid.triangles.iter().map(|triangle| solid.corners(triangle)))
            .filter_map(|corners| SeenTriangle::of(corners.map(|corner| corner - eye)))
            .collect();
        Self { triangles }
    }

    /// How far the nearest of the subject stands off a direction (of length 1), in radians; nought where it is there.
    pub fn separation(&self, direction: &WorldVector) -> f64 {
        let mut least = std::f64::consts::PI;
        for triangle in &self.triangles {
            if angle_between(&triangle.axis, direction) - triangle.reach < least {
                least = least.min(triangle.separation(direction));
            }
        }
        least
    }

    /// How much of a disc the subject hides.
    pub fn cover(&self, middle: &WorldVector, radius: f64) -> Cover {
        if self.separation(middle) >= radius {
            return Cover::Clear;
        }
        let near: Vec<&SeenTriangle> = self
            .triangles
            .iter()
            .filter(|triangle| angle_between(&triangle.axis, middle) <= triangle.reach + radius)
            .collect();
        let hidden = |direction: &WorldVector| near.iter().any(|triangle| triangle.holds(direction));
        if hidden(middle) && rim(middle, radius).all(|direction| hidden(&direction)) {
            Cover::Whole
        } else {
            Cover::Partly
        }
    }

    /// Every meeting of the sun's disc and the subject's outline between two moments, while the sun is up.
    ///
    /// A gap that the disc fills for less than four seconds is passed over.
    pub fn contacts(&self, sky: &Sky, bounds: (Moment, Moment)) -> Vec<(Moment, ContactKind)> {
        let mut found = Vec::new();
        for (start, end) in sky.crossings(bounds, RISE_DEG).spans_above(bounds) {
            let mut before = start;
            let mut was = self.cover_at(sky, start);
            while before < end {
                let after = before.plus_s(self.stride_s(sky, before, was)).min(end);
                let is = self.cover_at(sky, after);
                // Where it both comes and goes between two looks, each step between is a meeting of its own.
                while was != is {
                    let next = if is > was { step_up(was) } else { step_down(was) };
                    let at =
                        self.change(sky, (before, after), |cover| if is > was { cover >= next } else { cover <= next });
                    found.push((at, kind(was, next)));
                    was = next;
                }
                before = after;
            }
        }
        found
    }

    fn cover_at(&self, sky: &Sky, moment: Moment) -> Cover {
        let sun = sky.sun(moment);
        self.cover(&sun.direction(), sun.semi_diameter.radians())
    }

    /// How long nothing can happen, or how often it is looked.
    fn stride_s(&self, sky: &Sky, moment: Moment, cover: Cover) -> f64 {
        if cover != Cover::Clear {
            return AT_EDGE_S;
        }
        let sun = sky.sun(moment);
        ((self.separation(&sun.direction()) - sun.semi_diameter.radians()) / FASTEST).clamp(1.0, 3600.0)
    }

    /// The first moment of a stretch from which on `changed` holds, by halving.
    fn change(&self, sky: &Sky, (mut low, mut high): (Moment, Moment), changed: impl Fn(Cover) -> bool) -> Moment {
        while high.unix_ms() - low.unix_ms() > FOUND_MS {
            let middle = low.halfway(high);
            if changed(self.cover_at(sky, middle)) { high = middle } else { low = middle }
        }
        high
    }
}

/// Every meeting of disc and outline as seen from an eye, with whether anything of the sun is seen past all else.
pub fn contacts(
    model: &Model,
    subject: &Subject,
    sight: &Sight,
    eye: &WorldPoint,
    sky: &Sky,
    bounds: (Moment, Moment),
) -> Vec<Contact> {
    let skin = SkinFromEye::of(model, subject, eye);
    let with_sun = |(at, kind): (Moment, ContactKind)| {
        // What is at the outline is seen a moment before it goes, or after it comes.
        let (looked, in_sight) = match kind {
            ContactKind::Touches | ContactKind::Appears | ContactKind::Leaves => (sky.sun(at.plus_s(0.5)), at),
            ContactKind::Behind => (sky.sun(at.plus_s(-0.5)), at),
        };
        let radius = looked.semi_diameter.radians();
        let seen = rim(&looked.direction(), radius).any(|limb| sight.is_open_towards(eye, &limb));
        Contact { at: in_sight, kind, sun: sky.sun(at), seen }
    };
    skin.contacts(sky, bounds).into_iter().map(with_sun).collect()
}

/// Points on the rim of a disc.
pub(super) fn rim(middle: &WorldVector, radius: f64) -> impl Iterator<Item = WorldVector> {
    let aside = WorldVector::new(middle.y, -middle.x, 0.0).try_normalize(1e-12).unwrap_or_else(WorldVector::x);
    let above = aside.cross(middle);
    let (sine, cosine) = radius.sin_cos();
    let middle = *middle;
    (0..RIM).map(move |index| {
        let (up, across) = (TAU * index as f64 / RIM as f64).sin_cos();
        middle * cosine + (aside * across + above * up) * sine
    })
}

fn step_up(cover: Cover) -> Cover {
    if cover == Cover::Clear { Cover::Partly } else { Cover::Whole }
}

fn step_down(cover: Cover) -> Cover {
    if cover == Cover::Whole { Cover::Partly } else { Cover::Clear }
}

fn kind(from: Cover, to: Cover) -> ContactKind {
    match (from, to) {
        (Cover::Clear, _) => ContactKind::Touches,
        (_, Cover::Whole) => ContactKind::Behind,
        (Cover::Whole, _) => ContactKind::Appears,
        (Cover::Partly, _) => ContactKind::Leaves,
    }
}

fn angle_between(a: &WorldVector, b: &WorldVector) -> f64 {
    a.cross(b).norm().atan2(a.dot(b))
}

impl SeenTriangle {
    /// A triangle by its corners from the eye; `None` where it turns its back or its edge to it.
    fn of(corners: [WorldVector; 3]) -> Option<Self> {
        let [a, b, c] = corners;
        // The outward normal looks towards the eye.
        if (b - a).cross(&(c - a)).dot(&a) >= 0.0 {
            return None;
        }
        let mut sides = [WorldVector::zeros(); 3];
        for side in 0..3 {
            sides[side] = corners[(side + 1) % 3].cross(&corners[side]).try_normalize(1e-15)?;
        }
        // Seen from outside the corners run anticlockwise.
        let middle = (a.normalize() + b.normalize() + c.normalize()).try_normalize(1e-12)?;
        let turn = if sides.iter().all(|side| side.dot(&middle) <= 0.0) { 1.0 } else { -1.0 };
        let reach = corners.iter().map(|corner| angle_between(&middle, corner)).fold(0.0, f64::max);
        Some(Self { corners, sides: sides.map(|side| side * turn), axis: middle, reach })
    }

    fn holds(&self, direction: &WorldVector) -> bool {
        self.sides.iter().all(|side| side.dot(direction) <= 1e-12) && self.axis.dot(direction) > 0.0
    }

    fn separation(&self, direction: &WorldVector) -> f64 {
        if self.holds(direction) {
            return 0.0;
        }
        let mut least = std::f64::consts::PI;
        for (index, side) in self.sides.iter().enumerate() {
            let (from, to) = (&self.corners[index], &self.corners[(index + 1) % 3]);
            let off = side.dot(direction);
            // The nearest point of the great circle, if it lies on the arc.
            let foot = direction - side * off;
            let along = from.cross(to);
            let on_arc = from.cross(&foot).dot(&along) >= 0.0 && foot.cross(to).dot(&along) >= 0.0;
            let apart = if on_arc {
                off.abs().min(1.0).asin()
            } else {
                angle_between(from, direction).min(angle_between(to, direction))
            };
            least = least.min(apart);
        }
        least
    }
}
