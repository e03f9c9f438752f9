//! What does the finder show? The picture as the camera would take it, drawn by the graphics card into a texture.
//!
//! The texture holds the ideal picture plane over a window of slopes; a mesh whose coordinates the core computes bends it
//! into the lens's own mapping and distortion. For a plain lens the window is the frame and the mesh is flat.

use bevy::asset::RenderAssetUsages;
use bevy::camera::{CameraProjection, RenderTarget, SubCameraView};
use bevy::core_pipeline::tonemapping::Tonemapping;
use bevy::math::Vec3A;
use bevy::prelude::*;
use bevy::render::render_resource::{Extent3d, TextureDimension, TextureFormat, TextureUsages};

use crate::optics::{Camera as Lens, IdealWindow, PixelPoint};
use crate::pose::Pose;

use super::narrow::{self, Narrow};

/// Cells of the mesh that bends the picture, across and down.
const CELLS: [usize; 2] = [64, 48];
/// A flat picture is drawn no farther off its axis than this slope (78°).
const STEEPEST: f64 = 4.7;
const NEAR_M: f32 = 0.05;

/// The camera that draws the finder.
#[derive(Component)]
pub(super) struct Finder;

/// A window of slopes, anywhere about the axis.
#[derive(Clone, Copy, Debug)]
pub(super) struct OffAxis {
    window: [f32; 4],
}

impl CameraProjection for OffAxis {
    fn get_clip_from_view(&self) -> Mat4 {
        // Left, right, bottom and top slopes; reversed depth without end.
        let [left, right, bottom, top] = self.window;
        Mat4::from_cols(
            Vec4::new(2.0 / (right - left), 0.0, 0.0, 0.0),
            Vec4::new(0.0, 2.0 / (top - bottom), 0.0, 0.0),
            Vec4::new((right + left) / (right - left), (top + bottom) / (top - bottom), 0.0, -1.0),
            Vec4::new(0.0, 0.0, NEAR_M, 0.0),
        )
    }

    fn get_clip_from_view_for_sub(&self, _: &SubCameraView) -> Mat4 {
        self.get_clip_from_view()
    }

    fn update(&mut self, _: f32, _: f32) {}

    fn far(&self) -> f32 {
        1e6
    }

    fn get_frustum_corners(&self, near: f32, far: f32) -> [Vec3A; 8] {
        let [left, right, bottom, top] = self.window;
        let at = |depth: f32, x: f32, y: f32| Vec3A::new(x * depth.abs(), y * depth.abs(), depth);
        [
            at(near, right, bottom),
            at(near, right, top),
            at(near, left, top),
            at(near, left, bottom),
            at(far, right, bottom),
            at(far, right, top),
            at(far, left, top),
            at(far, left, bottom),
        ]
    }
}

/// The part of the ideal picture plane that must be drawn so that every pixel of the frame finds its ray, and for each
/// corner of the bending mesh (row by row) its place in that part, from its top left; `None` where no ray arrives.
pub(super) fn bending(lens: &Lens) -> (IdealWindow, Vec<Option<[f32; 2]>>) {
    let (width, height) = (f64::from(lens.frame.width_px), f64::from(lens.frame.height_px));
    let slopes: Vec<Option<(f64, f64)>> = (0..=CELLS[1])
        .flat_map(|row| (0..=CELLS[0]).map(move |column| (column, row)))
        .map(|(column, row)| {
            let share = (column as f64 / CELLS[0] as f64, row as f64 / CELLS[1] as f64);
            let view = lens.view_from_pixel(PixelPoint::new(share.0 * width, share.1 * height))?;
            (view.z > 0.0).then(|| (view.x / view.z, view.y / view.z))
        })
        .map(|slope| slope.filter(|(x, y)| x.abs() < STEEPEST && y.abs() < STEEPEST))
        .collect();
    let start = IdealWindow { left: f64::MAX, right: f64::MIN, top: f64::MAX, bottom: f64::MIN };
    let window = slopes.iter().flatten().fold(start, |window, &(x, y)| IdealWindow {
        left: window.left.min(x),
        right: window.right.max(x),
        top: window.top.min(y),
        bottom: window.bottom.max(y),
    });
    let places = slopes
        .iter()
        .map(|slope| {
            slope.map(|(x, y)| {
                [(x - window.left) / (window.right - window.left), (y - window.top) / (window.bottom - window.top)]
                    .map(narrow::screen)
            })
        })
        .collect();
    (window, places)
}

/// Cells of the bending mesh.
pub(super) const fn cells() -> [usize; 2] {
    CELLS
}

/// The projection of a window of slopes.
pub(super) fn projection(window: &IdealWindow) -> Projection {
    Projection::custom(OffAxis { window: [window.left, window.right, -window.bottom, -window.top].map(narrow::screen) })
}

/// Where the engine's camera stands.
pub(super) fn transform(pose: &Pose, narrow: &Narrow) -> Transform {
    Transform::from_translation(narrow.point(&pose.eye)).with_rotation(narrow::rotation(&pose.attitude))
}

/// A texture for the finder.
pub(super) fn texture(width: u32, height: u32) -> Image {
    let mut image = Image::new_fill(
        Extent3d { width: width.max(1), height: height.max(1), depth_or_array_layers: 1 },
        TextureDimension::D2,
        &[0, 0, 0, 255],
        TextureFormat::Rgba8UnormSrgb,
        RenderAssetUsages::default(),
    );
    image.texture_descriptor.usage |= TextureUsages::RENDER_ATTACHMENT | TextureUsages::COPY_SRC;
    image
}

/// Spawns the finder's camera.
pub(super) fn spawn(commands: &mut Commands, target: Handle<Image>, lens: &Lens, pose: &Pose, narrow: &Narrow) {
    let (window, _) = bending(lens);
    commands.spawn((
        Finder,
        Camera3d::default(),
        Camera { order: -1, ..default() },
        RenderTarget::Image(target.into()),
        Msaa::Sample4,
        Tonemapping::None,
        projection(&window),
        transform(pose, narrow),
    ));
}
