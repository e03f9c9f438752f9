//! How much of what narrows towards the top is the subject's own shape, and how much is the camera's tilt?

use crate::angle::Angle;
use crate::pose::{Attitude, Pose, WorldPoint};
use crate::site::{Model, Shape};

use super::lines::{LineKind, StandingLine, ideal_lean};

/// The lines that bound the subject's body on either side: its sides, or its outermost verticals.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BodySides {
    /// The left one.
    pub left: StandingLine,
    /// The right one.
    pub right: StandingLine,
}

/// Widths at the top over widths at the base, both along the horizon's direction, in the ideal rectilinear picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Taper {
    /// In the picture as pitched.
    pub seen: f64,
    /// In the levelled picture from the same place: the subject's own shape.
    pub shape: f64,
    /// In the model itself, where its shape has such a ratio.
    pub nominal: Option<f64>,
}

impl Taper {
    /// What the tilt makes of the shape: seen = shape × this.
    pub fn tilt_factor(&self) -> f64 {
        self.seen / self.shape
    }
}

impl BodySides {
    /// The body's sides among its lines; `None` where it has fewer than two that reach from base to top.
    pub fn among(lines: &[StandingLine], body: usize, eye: &WorldPoint) -> Option<Self> {
        let rise_m = |line: &StandingLine| line.top.z - line.base.z;
        let own = || lines.iter().filter(|line| line.block == body && !line.turned_away);
        let tallest_m = own().map(rise_m).fold(0.0, f64::max);
        let whole = own().filter(|line| rise_m(line) > 0.5 * tallest_m);
        // Order by the plan bearing of the middle, relative to the first.
        let bearing = |line: &StandingLine| {
            let middle = line.at(0.5) - eye;
            Angle::bearing_of(middle.x, middle.y)
        };
        let first = bearing(own().next()?);
        let relative = |line: &StandingLine| (bearing(line) - first).wrapped().radians();
        let left = whole.clone().min_by(|a, b| relative(a).total_cmp(&relative(b)))?;
        let right = whole.max_by(|a, b| relative(a).total_cmp(&relative(b)))?;
        (relative(left) < relative(right)).then_some(Self { left: *left, right: *right })
    }

    /// The angle between the body's own sides in the ideal picture: positive where they converge toward the top.
    ///
    /// `None` where its sides are plumb, or behind the camera.
    pub fn sides_convergence(&self, pose: &Pose) -> Option<Angle> {
        if self.left.kind == LineKind::Vertical && self.right.kind == LineKind::Vertical {
            return None;
        }
        let lean = |line: &StandingLine| ideal_lean(&pose.view_of(&line.base), &pose.view_of(&line.top));
        Some((lean(&self.right)? - lean(&self.left)?).wrapped())
    }

    /// The taper of the body; `None` where part of it is behind the camera.
    pub fn taper(&self, model: &Model, pose: &Pose) -> Option<Taper> {
        let levelled = Pose { attitude: Attitude::level(pose.attitude.heading), ..*pose };
        Some(Taper {
            seen: self.ratio(pose)?,
            shape: self.ratio(&levelled)?,
            nominal: nominal_taper(&model.site.blocks[self.left.block].shape),
        })
    }

    fn ratio(&self, pose: &Pose) -> Option<f64> {
        let rotation = pose.attitude.view_from_world();
        let (sin_roll, cos_roll) = pose.attitude.roll.sin_cos();
        // Along the horizon's direction, which the roll turns: (cos ρ, −sin ρ) with y down.
        let along_horizon = |point: &WorldPoint| {
            let view = rotation * (point - pose.eye);
            (view.z > 0.0).then(|| (view.x * cos_roll - view.y * sin_roll) / view.z)
        };
        let base = along_horizon(&self.right.base)? - along_horizon(&self.left.base)?;
        let top = along_horizon(&self.right.top)? - along_horizon(&self.left.top)?;
        (base > 0.0).then(|| top / base)
    }
}

/// The ratio of a shape's top to its base, where it has one.
fn nominal_taper(shape: &Shape) -> Option<f64> {
    match shape {
        Shape::RoundTaper { foot_radius_m, head_radius_m, .. } | Shape::Mast { foot_radius_m, head_radius_m, .. } => {
            Some(head_radius_m / foot_radius_m)
        }
        Shape::PolygonTaper { foot_across_m, head_across_m, .. } => Some(head_across_m / foot_across_m),
        Shape::Box { .. } | Shape::Prism { .. } | Shape::Facade { .. } => Some(1.0),
        _ => None,
    }
}
