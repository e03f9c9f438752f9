//! Where does the core's `f64` become the graphics card's `f32`?
//!
//! Only here: positions are taken relative to a local origin at the subject, so that a millimetre stays a millimetre.

use bevy::math::{Mat3, Quat, Vec3};
use nalgebra::Matrix3;

use crate::pose::{WorldPoint, WorldVector};
use crate::survey::Survey;
use crate::theme::Colour;

/// An origin this near the subject serves as well as one at it: there `f32` still counts by hundredths of a millimetre.
const NEAR_M: f64 = 100.0;

/// The world as the graphics card sees it: metres from a local origin, east, north and up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::viewer) struct Narrow {
    pub(in crate::viewer) origin: WorldPoint,
}

impl Narrow {
    pub(in crate::viewer) fn about(survey: &Survey) -> Self {
        let origin = survey.subject.as_ref().map_or_else(|_| WorldPoint::origin(), |subject| subject.middle);
        Self { origin: WorldPoint::new(origin.x.round(), origin.y.round(), 0.0) }
    }

    /// The origin that served until now, as long as it is near enough the subject: then meshes made about it still hold.
    pub(in crate::viewer) fn kept_for(self, survey: &Survey) -> Self {
        let new = Self::about(survey);
        if (new.origin - self.origin).norm() < NEAR_M { self } else { new }
    }

    pub(in crate::viewer) fn point(&self, point: &WorldPoint) -> Vec3 {
        direction(&(point - self.origin))
    }
}

pub(in crate::viewer) fn direction(vector: &WorldVector) -> Vec3 {
    Vec3::new(vector.x as f32, vector.y as f32, vector.z as f32)
}

/// The rotation of the engine's camera, whose axes are right, up and back.
pub(in crate::viewer) fn rotation(view_from_world: &Matrix3<f64>) -> Quat {
    let row = |index: usize| {
        let row = view_from_world.row(index);
        Vec3::new(row[0] as f32, row[1] as f32, row[2] as f32)
    };
    Quat::from_mat3(&Mat3::from_cols(row(0), -row(1), -row(2)))
}

/// A slope, a share or a place on the screen.
pub(in crate::viewer) fn screen(value: f64) -> f32 {
    value as f32
}

/// A colour in linear light.
pub(in crate::viewer) fn linear(colour: Colour) -> [f32; 3] {
    colour.linear().map(|channel| channel as f32)
}
