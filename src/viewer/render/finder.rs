//! What does the finder show? The picture as the camera would take it, drawn by the graphics card into textures.
//!
//! Each face of [`super::lens_warp`] has a camera and a texture of its own, twice: a lighter one for while the finder moves, and
//! a finer one for when it has come to rest. Whatever has not changed is not drawn again.

use bevy::asset::RenderAssetUsages;
use bevy::camera::{CameraOutputMode, CameraProjection, RenderTarget, SubCameraView};
use bevy::core_pipeline::tonemapping::Tonemapping;
use bevy::math::Vec3A;
use bevy::prelude::*;
use bevy::render::render_resource::{Extent3d, TextureDimension, TextureUsages};
use bevy_egui::{EguiTextureHandle, EguiUserTextures, egui};

use crate::optics::{Camera as Lens, IdealWindow};
use crate::pose::Pose;

use super::finder_mesh::{FinderMesh, FinderPlace};
use super::lens_warp::{ShownPart, WarpFace, warp};
use super::narrow::{self, Narrow};
use crate::viewer::engine::adapter::Quality;
use crate::viewer::engine::workarounds::output_copy::CopiedInto;
use crate::viewer::engine::workarounds::srgb_panels;

const NEAR_M: f32 = 0.05;

/// A window of slopes, anywhere about the axis.
#[derive(Clone, Copy, Debug)]
struct OffAxis {
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

/// How a picture is drawn: lightly while it moves, finely when it rests.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Tier {
    Moving,
    Resting,
}

/// Everything that decides what the finder's textures hold.
#[derive(Clone, Copy, Debug, PartialEq)]
struct FinderKey {
    lens: Lens,
    pose: Pose,
    shown: ShownPart,
    size_px: [u32; 2],
}

/// A camera with the texture it draws into.
struct FaceCamera {
    camera: Entity,
    image: Handle<Image>,
    texture: egui::TextureId,
    size_px: [u32; 2],
}

#[derive(Component)]
pub(in crate::viewer) struct FinderCamera;

/// The finder's cameras and textures, and what they hold.
#[derive(Resource, Default)]
pub(in crate::viewer) struct Finder {
    place: Option<(FinderPlace, f32)>,
    faces: Vec<WarpFace>,
    moving: Vec<FaceCamera>,
    resting: Vec<FaceCamera>,
    drawn: Option<FinderKey>,
    tier: Option<Tier>,
    /// Whether what was drawn last may have come too early.
    again: bool,
    /// Whether the lighter picture has been drawn before.
    warm: bool,
    drawing: bool,
    /// Seconds since the program's start at which the picture last changed.
    changed_at_s: f64,
    mesh: Option<FinderMesh>,
}

/// What the finder wants to go on.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(in crate::viewer) enum NextFrame {
    /// Nothing: it holds what it should.
    Rest,
    /// A finer picture in so many seconds.
    Sharpen(f64),
    /// Another frame at once.
    #[default]
    Again,
}

/// How long nothing may change until the finer picture is drawn.
const SHARPEN_AFTER_S: f64 = 0.12;

type Cameras<'w, 's> = Query<
    'w,
    's,
    (&'static mut Camera, &'static mut RenderTarget, &'static mut Projection, &'static mut Transform),
    With<FinderCamera>,
>;

/// What the finder is to show.
pub(in crate::viewer) struct FinderRequest<'a> {
    pub(in crate::viewer) lens: &'a Lens,
    pub(in crate::viewer) pose: &'a Pose,
    /// From the site to the graphics card's world.
    pub(in crate::viewer) narrow: &'a Narrow,
    pub(in crate::viewer) quality: &'a Quality,
    /// Whether site, sun or colours are to be seen otherwise than in the frame before.
    pub(in crate::viewer) scene_changed: bool,
    /// Seconds since the program's start.
    pub(in crate::viewer) now_s: f64,
    /// Whether not everything has arrived on the graphics card.
    pub(in crate::viewer) unsettled: bool,
    /// Whether only the finer picture will do.
    pub(in crate::viewer) steady: bool,
}

/// What it takes to draw.
#[derive(bevy::ecs::system::SystemParam)]
pub(in crate::viewer) struct FinderAssets<'w, 's> {
    commands: Commands<'w, 's>,
    images: ResMut<'w, Assets<Image>>,
    textures: ResMut<'w, EguiUserTextures>,
    cameras: Cameras<'w, 's>,
}

impl Finder {
    /// Where the window shows the finder, if it does. Returns whether that is news.
    pub(in crate::viewer) fn put(&mut self, place: Option<FinderPlace>, pixels_per_point: f32) -> bool {
        let place = place.map(|place| (place, pixels_per_point));
        let news = self.place != place;
        self.place = place;
        news
    }

    /// Where the window shows the finder, if it does.
    pub(in crate::viewer) fn place(&self) -> Option<FinderPlace> {
        self.place.map(|(place, _)| place)
    }

    /// The picture to paint.
    pub(in crate::viewer) fn mesh(&self) -> Option<&FinderMesh> {
        self.mesh.as_ref()
    }

    /// Has the surfaces, lines and shadow drawn that are to be seen now.
    pub(in crate::viewer) fn draw(
        &mut self,
        assets: &mut FinderAssets<'_, '_>,
        request: &FinderRequest<'_>,
    ) -> NextFrame {
        let &FinderRequest { lens, pose, quality, scene_changed, now_s, unsettled, steady, .. } = request;
        for face_camera in self.moving.iter().chain(&self.resting) {
            if let Ok((mut camera, ..)) = assets.cameras.get_mut(face_camera.camera)
                && camera.is_active
            {
                camera.is_active = false;
            }
        }
        let Some((place, pixels_per_point)) = self.place else {
            (self.drawn, self.drawing) = (None, false);
            return NextFrame::Rest;
        };
        let key =
            FinderKey { lens: *lens, pose: *pose, shown: place.shares(), size_px: place.size_px(pixels_per_point) };
        let moved = self.drawn != Some(key);
        let is_bent =
            |drawn: &FinderKey| drawn.lens == key.lens && drawn.shown == key.shown && drawn.size_px == key.size_px;
        if !self.drawn.as_ref().is_some_and(is_bent) {
            self.faces = warp(lens, &key.shown, key.size_px);
            self.mesh = None;
        }
        if moved {
            self.changed_at_s = now_s;
        }
        let plain = steady || (quality.moving == quality.resting && quality.moving_share >= 1.0);
        let rested = now_s - self.changed_at_s >= SHARPEN_AFTER_S;
        let tier = if plain || self.drawn.is_none() || (!moved && rested) || self.tier == Some(Tier::Resting) && !moved
        {
            Tier::Resting
        } else {
            Tier::Moving
        };
        let due = moved || scene_changed || unsettled || self.again || self.tier != Some(tier);
        let mut grown = false;
        self.drawing = due;
        if due {
            grown = self.place_cameras(assets, tier, request);
            if self.tier != Some(tier) || self.mesh.is_none() || grown {
                let cameras = self.cameras_of(tier);
                let textures: Vec<egui::TextureId> = cameras.iter().map(|camera| camera.texture).collect();
                self.mesh = Some(FinderMesh::of(&self.faces, &textures, place));
            }
        }
        (self.drawn, self.tier, self.again) = (Some(key), Some(tier), grown);
        if grown || unsettled {
            NextFrame::Again
        } else if tier == Tier::Moving {
            NextFrame::Sharpen((SHARPEN_AFTER_S - (now_s - self.changed_at_s)).max(0.0))
        } else if !plain && !self.warm {
            // The lighter picture is drawn once unseen, so that the first step does not wait for it.
            self.warm = true;
            self.place_cameras(assets, Tier::Moving, request);
            NextFrame::Again
        } else {
            NextFrame::Rest
        }
    }

    /// Whether the picture is drawn in this frame.
    pub(in crate::viewer) fn is_drawing(&self) -> bool {
        self.drawing
    }

    fn cameras_of(&self, tier: Tier) -> &Vec<FaceCamera> {
        match tier {
            Tier::Moving => &self.moving,
            Tier::Resting => &self.resting,
        }
    }

    /// Points a tier's cameras at the faces. Returns whether a camera or texture is new, so that it must draw once more.
    fn place_cameras(&mut self, assets: &mut FinderAssets<'_, '_>, tier: Tier, request: &FinderRequest<'_>) -> bool {
        let &FinderRequest { pose, narrow, quality, .. } = request;
        let (share, msaa) = match tier {
            Tier::Moving => (quality.moving_share, quality.moving),
            Tier::Resting => (1.0, quality.resting),
        };
        let cameras = match tier {
            Tier::Moving => &mut self.moving,
            Tier::Resting => &mut self.resting,
        };
        let mut grown = false;
        for (index, face) in self.faces.iter().enumerate() {
            let size_px = face.size_px.map(|side_px| ((f64::from(side_px) * f64::from(share)).round() as u32).max(1));
            let (projection, transform) = (projection(&face.window), transform(pose, face, narrow));
            let Some(face_camera) = cameras.get_mut(index) else {
                grown = true;
                let image = assets.images.add(texture(size_px));
                let texture = assets.textures.add_image(EguiTextureHandle::Strong(image.clone()));
                let camera = assets
                    .commands
                    .spawn((
                        FinderCamera,
                        Camera3d::default(),
                        // Each draws before the window, in an order of its own.
                        Camera { order: -1 - index as isize, output_mode: CameraOutputMode::Skip, ..default() },
                        target(size_px),
                        CopiedInto(image.clone()),
                        msaa,
                        Tonemapping::None,
                        projection,
                        transform,
                    ))
                    .id();
                cameras.push(FaceCamera { camera, image, texture, size_px });
                continue;
            };
            if face_camera.size_px != size_px {
                grown = true;
                face_camera.size_px = size_px;
                // The handle stays, so the window's texture follows.
                let _ = assets.images.insert(face_camera.image.id(), texture(size_px));
            }
            if let Ok((mut camera, mut its_target, mut its_projection, mut its_transform)) =
                assets.cameras.get_mut(face_camera.camera)
            {
                camera.is_active = true;
                *its_target = target(size_px);
                (*its_projection, *its_transform) = (projection, transform);
            } else {
                grown = true;
            }
        }
        grown
    }
}

/// The projection of a window of slopes.
fn projection(window: &IdealWindow) -> Projection {
    Projection::custom(OffAxis { window: [window.left, window.right, -window.bottom, -window.top].map(narrow::screen) })
}

/// A camera's picture goes nowhere by itself, see [`crate::viewer::engine::workarounds::output_copy`].
fn target([width, height]: [u32; 2]) -> RenderTarget {
    RenderTarget::None { size: UVec2::new(width, height) }
}

/// Where the engine's camera of a face stands.
fn transform(pose: &Pose, face: &WarpFace, narrow: &Narrow) -> Transform {
    let face_from_world = face.face_from_view * pose.attitude.view_from_world();
    Transform::from_translation(narrow.point(&pose.eye)).with_rotation(narrow::rotation(&face_from_world))
}

/// A picture of so many pixels for the graphics card to draw on, or for [`crate::viewer::engine::workarounds::output_copy`] to copy into.
pub(in crate::viewer) fn texture([width, height]: [u32; 2]) -> Image {
    let mut image = Image::new_fill(
        Extent3d { width, height, depth_or_array_layers: 1 },
        TextureDimension::D2,
        &[0, 0, 0, 255],
        srgb_panels::FORMAT,
        RenderAssetUsages::RENDER_WORLD,
    );
    image.texture_descriptor.usage |=
        TextureUsages::RENDER_ATTACHMENT | TextureUsages::COPY_SRC | TextureUsages::COPY_DST;
    image
}
