//! How does what a camera has drawn come into the texture it draws for? Carried over as it is.
//!
//! The engine draws it there once more, pixel by pixel, from linear light and back: on a processor that plays graphics card that
//! was a third of a frame. A camera whose output mode is `Skip` is left out of that; here its picture is copied, where its
//! texture is of the same size and format, as those of [`super::finder::texture`] are.

use bevy::camera::{CameraOutputMode, NormalizedRenderTarget};
use bevy::core_pipeline::schedule::Core3d;
use bevy::core_pipeline::upscaling::upscaling;
use bevy::prelude::*;
use bevy::render::camera::ExtractedCamera;
use bevy::render::render_asset::RenderAssets;
use bevy::render::renderer::{RenderContext, ViewQuery};
use bevy::render::texture::{GpuImage, OutputColorAttachment};
use bevy::render::view::{ViewTarget, ViewTargetAttachments, prepare_view_attachments, prepare_view_targets};
use bevy::render::{Render, RenderApp, RenderSystems};

pub(super) fn plugin(app: &mut App) {
    if let Some(render) = app.get_sub_app_mut(RenderApp) {
        render
            .add_systems(
                Render,
                attach.in_set(RenderSystems::PrepareViews).after(prepare_view_attachments).before(prepare_view_targets),
            )
            .add_systems(Core3d, carry.after(upscaling));
    }
}

/// The texture that a camera draws for without writing into it.
fn texture_of<'a>(camera: &ExtractedCamera, images: &'a RenderAssets<GpuImage>) -> Option<&'a GpuImage> {
    match (camera.output_mode, &camera.target) {
        (CameraOutputMode::Skip, Some(NormalizedRenderTarget::Image(target))) => images.get(target.handle.id()),
        _ => None,
    }
}

/// A camera that writes nowhere is not drawn at all: each gets its texture all the same.
fn attach(
    cameras: Query<&ExtractedCamera>,
    images: Res<RenderAssets<GpuImage>>,
    mut attachments: ResMut<ViewTargetAttachments>,
) {
    for camera in &cameras {
        if let (Some(image), Some(target)) = (texture_of(camera, &images), &camera.target) {
            let attachment = || OutputColorAttachment::new(image.texture_view.clone(), image.texture_descriptor.format);
            attachments.entry(target.clone()).or_insert_with(attachment);
        }
    }
}

fn carry(
    view: ViewQuery<(&ViewTarget, &ExtractedCamera)>,
    images: Res<RenderAssets<GpuImage>>,
    mut context: RenderContext,
) {
    let (drawn, camera) = view.into_inner();
    let Some(image) = texture_of(camera, &images) else { return };
    let source = drawn.main_texture();
    // A texture of another size has just been asked for, and comes with the next frame.
    if source.size() == image.texture.size() && source.format() == image.texture.format() {
        context.command_encoder().copy_texture_to_texture(
            source.as_image_copy(),
            image.texture.as_image_copy(),
            source.size(),
        );
    }
}
