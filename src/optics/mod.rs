//! How does a point of the world become a point of the picture, and back?
//!
//! Camera axes are x right, y down, z forward. The picture is upright, in millimetres, u right and v up from the
//! centre of the frame. Pixel (0, 0) is the *corner* of the top left pixel; its centre is (0.5, 0.5).
//! Rectilinear: u = f·x/z − shift, v = −f·y/z − rise.

mod camera;
mod distortion;
mod focus;
mod format;
mod kit;
mod lens;
mod mapping;
pub mod polynomial;

pub use camera::{Camera, IdealWindow, PictureJacobian, PicturePoint, PixelPoint};
pub use distortion::{Distortion, DistortionError};
pub use focus::{DepthOfField, FARTHEST_FOCUS_M, Focus, airy_disc_mm, circle_of_confusion_mm, exposure_value};
pub use format::{Format, Frame, Margins, Orientation, Proportion};
pub use kit::{Kit, KitError};
pub use lens::{DistortionAt, Lens};
pub use mapping::Mapping;
