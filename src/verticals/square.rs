//! How squarely does the camera face the subject's main face?

use crate::angle::Angle;
use crate::outline::Wall;
use crate::pose::{Pose, ViewVector, WorldPoint, WorldVector};

/// How the camera stands to the main face.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Squareness {
    /// How far the heading is turned clockwise from looking squarely at the face; 0 keeps its horizontals parallel.
    pub off_square: Angle,
    /// The angle between the pictures of its top and base: positive where they close to the right. `None` where one
    /// runs behind the camera.
    pub horizontals: Option<Angle>,
}

impl Squareness {
    /// How a camera stands to a wall.
    pub fn of(wall: &Wall, pose: &Pose) -> Self {
        let inwards = Angle::bearing_of(-wall.normal.x, -wall.normal.y);
        let rotation = pose.attitude.view_from_world();
        let along = rotation * WorldVector::new(-wall.normal.y, wall.normal.x, 0.0);
        let slope = |height_m: f64| {
            let point: ViewVector = rotation * (WorldPoint::new(wall.middle.x, wall.middle.y, height_m) - pose.eye);
            let cross = point.cross(&along);
            // Right in the picture is (p×d)ᵧ, up is (p×d)ₓ; the line is the same whichever way it runs.
            let (right, up) = if cross.y < 0.0 { (-cross.y, -cross.x) } else { (cross.y, cross.x) };
            (point.z > 0.0 && right.hypot(up) > 0.0).then(|| up.atan2(right))
        };
        let horizontals = slope(wall.heights_m.0).zip(slope(wall.heights_m.1));
        Self {
            off_square: (pose.attitude.heading - inwards).wrapped(),
            horizontals: horizontals.map(|(base, top)| Angle::from_radians(base - top)),
        }
    }
}
