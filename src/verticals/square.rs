//! How squarely does the camera face the subject's main face?

use crate::angle::Angle;
use crate::outline::Subject;
use crate::pose::{Pose, ViewVector, WorldPoint, WorldVector};
use crate::site::Model;

/// A face whose normal rises or falls more than this is no wall.
const WALL_SINE: f64 = 0.1;

/// The largest flat wall of the subject that faces the eye.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MainFace {
    /// Its block.
    pub block: usize,
    /// Its outward normal.
    pub normal: WorldVector,
    /// Its lowest and highest points' heights.
    pub heights_m: (f64, f64),
    /// A point in the middle of its box.
    pub middle: WorldPoint,
}

/// How the camera stands to the main face.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Squareness {
    /// How far the heading is turned clockwise from looking squarely at the face; 0 keeps its horizontals parallel.
    pub off_square: Angle,
    /// The angle between the pictures of its top and foot: positive where they close to the right. `None` where one
    /// runs behind the camera.
    pub horizontals: Option<Angle>,
}

impl MainFace {
    /// The main face as seen from an eye; `None` for a subject without flat walls, such as a round tower.
    pub fn towards(model: &Model, subject: &Subject, eye: &WorldPoint) -> Option<Self> {
        let mut best: Option<(f64, usize, u32)> = None;
        for &block in &subject.blocks {
            let solid = &model.solids[block];
            let mut areas = vec![0.0; solid.faces.len()];
            for triangle in &solid.triangles {
                let face = &solid.faces[triangle.face as usize];
                if face.curve.is_none() && face.normal.z.abs() < WALL_SINE {
                    let [a, b, c] = solid.corners(triangle);
                    if face.normal.dot(&(eye - a)) > 0.0 {
                        areas[triangle.face as usize] += (b - a).cross(&(c - a)).norm();
                    }
                }
            }
            for (face, &area) in areas.iter().enumerate() {
                if area > best.map_or(0.0, |(known, ..)| known * (1.0 + 1e-9)) {
                    best = Some((area, block, face as u32));
                }
            }
        }
        let (_, block, face) = best?;
        let solid = &model.solids[block];
        let corners = solid.triangles.iter().filter(|triangle| triangle.face == face).flat_map(|t| solid.corners(t));
        let (low, high) = corners.map(|corner| (corner, corner)).reduce(|a, b| (a.0.inf(&b.0), a.1.sup(&b.1)))?;
        let middle = nalgebra::center(&low, &high);
        let foot_m = low.z.max(model.site.terrain.height_m((middle.x, middle.y)));
        Some(Self { block, normal: solid.faces[face as usize].normal, heights_m: (foot_m, high.z), middle })
    }

    /// How a camera stands to it.
    pub fn squareness(&self, pose: &Pose) -> Squareness {
        let inwards = Angle::bearing_of(-self.normal.x, -self.normal.y);
        let rotation = pose.attitude.view_from_world();
        let along = rotation * WorldVector::new(-self.normal.y, self.normal.x, 0.0);
        let slope = |height_m: f64| {
            let point: ViewVector = rotation * (WorldPoint::new(self.middle.x, self.middle.y, height_m) - pose.eye);
            let cross = point.cross(&along);
            // Right in the picture is (p×d)ᵧ, up is (p×d)ₓ; the line is the same whichever way it runs.
            let (right, up) = if cross.y < 0.0 { (-cross.y, -cross.x) } else { (cross.y, cross.x) };
            (point.z > 0.0 && right.hypot(up) > 0.0).then(|| up.atan2(right))
        };
        let horizontals = slope(self.heights_m.0).zip(slope(self.heights_m.1));
        Squareness {
            off_square: (pose.attitude.heading - inwards).wrapped(),
            horizontals: horizontals.map(|(foot, top)| Angle::from_radians(foot - top)),
        }
    }
}
