//! Where is the camera, and which way does it look?
//!
//! World axes: x east, y north, z up, metres. Camera axes: x right, y *down*, z forward. Heading ψ runs clockwise
//! from north, pitch θ upwards, roll ρ clockwise as seen from behind the camera;
//! forward = (sin ψ cos θ, cos ψ cos θ, sin θ).

use nalgebra::{Matrix3, Point3, Vector3};

use crate::angle::Angle;

/// A plan position or a block's own plan coordinates: metres east and north.
pub type PlanPoint = (f64, f64);
/// A place in the world: metres east, north and up from the site's anchor.
pub type WorldPoint = Point3<f64>;
/// A displacement or direction in world axes.
pub type WorldVector = Vector3<f64>;
/// A displacement or direction in camera axes: right, down, forward.
pub type ViewVector = Vector3<f64>;

/// The attitude of the camera.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Attitude {
    /// The plan direction of the lens axis, clockwise from north.
    pub heading: Angle,
    /// The lens axis above the horizon; negative looks down. Valid from −90° to 90°.
    pub pitch: Angle,
    /// The camera's turn about the lens axis, clockwise as seen from behind it.
    pub roll: Angle,
}

impl Attitude {
    /// Level, looking along a heading.
    pub fn level(heading: Angle) -> Self {
        Self { heading, ..Self::default() }
    }

    /// The rotation that takes world directions to camera directions; proper (determinant 1).
    ///
    /// # Example
    /// ```
    /// use plumbsight::{angle::Angle, pose::Attitude};
    /// let north = Attitude::level(Angle::ZERO).view_from_world() * nalgebra::Vector3::new(0.0, 1.0, 0.0);
    /// assert!((north - nalgebra::Vector3::new(0.0, 0.0, 1.0)).norm() < 1e-15);
    /// ```
    pub fn view_from_world(&self) -> Matrix3<f64> {
        let (sin_heading, cos_heading) = self.heading.sin_cos();
        let (sin_pitch, cos_pitch) = self.pitch.sin_cos();
        let (sin_roll, cos_roll) = self.roll.sin_cos();
        let forward = WorldVector::new(sin_heading * cos_pitch, cos_heading * cos_pitch, sin_pitch);
        let level_right = WorldVector::new(cos_heading, -sin_heading, 0.0);
        let level_down = forward.cross(&level_right);
        let right = level_right * cos_roll + level_down * sin_roll;
        let down = level_down * cos_roll - level_right * sin_roll;
        Matrix3::from_rows(&[right.transpose(), down.transpose(), forward.transpose()])
    }

    /// The lens axis in the world.
    pub fn forward(&self) -> WorldVector {
        let (sin_heading, cos_heading) = self.heading.sin_cos();
        let (sin_pitch, cos_pitch) = self.pitch.sin_cos();
        WorldVector::new(sin_heading * cos_pitch, cos_heading * cos_pitch, sin_pitch)
    }
}

/// The eye of the camera (its entrance pupil, taken as a point) and its attitude.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pose {
    /// Where the eye is.
    pub eye: WorldPoint,
    /// How the camera is turned.
    pub attitude: Attitude,
}

impl Pose {
    /// A world point as seen from the eye, in camera axes.
    pub fn view_of(&self, point: &WorldPoint) -> ViewVector {
        self.attitude.view_from_world() * (point - self.eye)
    }

    /// The plan bearing of a point to the right of the heading, in (−180°, 180°].
    ///
    /// Above or below the eye itself the bearing is 0 and has no meaning.
    pub fn bearing_right_of_heading(&self, point: &WorldPoint) -> Angle {
        let offset = point - self.eye;
        (Angle::bearing_of(offset.x, offset.y) - self.attitude.heading).wrapped()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rotation_is_proper_for_any_attitude() {
        for (heading, pitch, roll) in [(0.0, 0.0, 0.0), (123.0, 45.0, 7.0), (-200.0, 90.0, -33.0), (10.0, -90.0, 180.0)]
        {
            let attitude = Attitude {
                heading: Angle::from_degrees(heading),
                pitch: Angle::from_degrees(pitch),
                roll: Angle::from_degrees(roll),
            };
            let rotation = attitude.view_from_world();
            assert!((rotation.determinant() - 1.0).abs() < 1e-12);
            assert!((rotation * rotation.transpose() - Matrix3::identity()).norm() < 1e-12);
            assert!((rotation * attitude.forward() - ViewVector::z()).norm() < 1e-12);
        }
    }

    #[test]
    fn a_clockwise_roll_lowers_the_cameras_right_side() {
        let rolled = Attitude { roll: Angle::from_degrees(10.0), ..Attitude::default() };
        let right_in_world = rolled.view_from_world().transpose() * ViewVector::x();
        assert!(right_in_world.z < 0.0);
    }
}
