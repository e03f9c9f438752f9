//! How does what a camera has drawn come into the texture it draws for? Carried over as it is.
//!
//! The engine draws it there once more, pixel by pixel, from linear light and back: on a processor that plays graphics card that
//! was a third of a frame. A camera whose output mode is `Skip` is left out of that; here its picture is copied, code by code.
//!
//! Mends: the extra pass of the engine from a camera's picture into the texture that it draws for.
//!
//! Remove when the engine's upscaling copies a picture of the same size and format, or writes it into its texture at once.

use bevy::core_pipeline::schedule::Core3d;
use bevy::core_pipeline::upscaling::upscaling;
use bevy::prelude::*;
use bevy::render::camera::ExtractedCamera;
use bevy::render::extract_component::{ExtractComponent, ExtractComponentPlugin};
use bevy::render::render_asset::RenderAssets;
use bevy::render::renderer::{RenderContext, ViewQuery};
use bevy::render::texture::{GpuImage, OutputColorAttachment};
use bevy::render::view::{ViewTarget, ViewTargetAttachments, prepare_view_attachments, prepare_view_targets};
use bevy::render::{Render, RenderApp, RenderSystems};

/// The texture into which a camera's picture is carried: as large as the picture, as [`crate::viewer::render::finder::texture`] makes them.
#[derive(Component, Clone, Debug, ExtractComponent)]
pub(in crate::viewer) struct CopiedInto(pub(in crate::viewer) Handle<Image>);

pub(in crate::viewer) fn plugin(app: &mut App) {
    app.add_plugins(ExtractComponentPlugin::<CopiedInto>::default());
    if let Some(render) = app.get_sub_app_mut(RenderApp) {
        render
            .add_systems(
                Render,
                attach.in_set(RenderSystems::PrepareViews).after(prepare_view_attachments).before(prepare_view_targets),
            )
            .add_systems(Core3d, copy.after(upscaling));
    }
}

/// A camera that writes nowhere is not drawn at all: each gets its texture all the same.
fn attach(
    cameras: Query<(&ExtractedCamera, &CopiedInto)>,
    images: Res<RenderAssets<GpuImage>>,
    mut attachments: ResMut<ViewTargetAttachments>,
) {
    for (camera, into) in &cameras {
        if let (Some(image), Some(target)) = (images.get(&into.0), &camera.target) {
            let attachment = || OutputColorAttachment::new(image.texture_view.clone(), image.texture_descriptor.format);
            attachments.entry(target.clone()).or_insert_with(attachment);
        }
    }
}

fn copy(view: ViewQuery<(&ViewTarget, &CopiedInto)>, images: Res<RenderAssets<GpuImage>>, mut context: RenderContext) {
    let (drawn, into) = view.into_inner();
    let Some(image) = images.get(&into.0) else { return };
    let source = drawn.main_texture();
    // A texture of another size has just been asked for, and comes with the next frame.
    if source.size() == image.texture.size() {
        context.command_encoder().copy_texture_to_texture(
            source.as_image_copy(),
            image.texture.as_image_copy(),
            source.size(),
        );
    }
}
