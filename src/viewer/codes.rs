//! How are the panels' colours mixed? As they are coded in sRGB, which is how egui means them.
//!
//! Bevy_egui knows only textures that turn codes into linear light and back wherever they are read, mixed and written: on a
//! processor that plays graphics card that was much of a frame.

use bevy::camera::CompositingSpace;
use bevy::prelude::*;
use bevy::render::render_resource::{PipelineCache, SpecializedRenderPipelines, TextureFormat};
use bevy::render::{Render, RenderApp, RenderSystems};
use bevy::shader::Shader;
use bevy_egui::render::systems::{EguiPipelines, queue_pipelines_system};
use bevy_egui::render::{EGUI_SHADER_HANDLE, EguiPipeline, EguiPipelineKey};
use bevy_egui::{EguiManagedTextures, EguiPostUpdateSet};

/// What the panels' camera mixes in.
pub(super) const SPACE: CompositingSpace = CompositingSpace::Srgb;
/// Holds codes as they are: what the engine gives such a camera, and what the panels read.
pub(super) const FORMAT: TextureFormat = TextureFormat::Rgba8Unorm;

/// Goes behind egui's own plugin.
pub(super) fn plugin(app: &mut App) {
    app.add_systems(PostUpdate, read_codes.after(EguiPostUpdateSet::PostProcessOutput));
    let shader = Shader::from_wgsl(include_str!("panels.wgsl"), "plumbsight/viewer/panels.wgsl");
    if app.world_mut().resource_mut::<Assets<Shader>>().insert(EGUI_SHADER_HANDLE.id(), shader).is_err() {
        bevy::log::error!("the panels' shader was not taken: their colours are wrong");
    }
    if let Some(render) = app.get_sub_app_mut(RenderApp) {
        render.add_systems(Render, write_codes.in_set(RenderSystems::Queue).after(queue_pipelines_system));
    }
}

/// What egui has painted itself, letters above all, is read as it is coded.
fn read_codes(textures: Res<EguiManagedTextures>, mut images: ResMut<Assets<Image>>) {
    for texture in textures.values() {
        let id = texture.handle.id();
        // Whoever asks to change it sends it to the graphics card again.
        if images.get(id).is_some_and(|image| image.texture_descriptor.format != FORMAT)
            && let Some(mut image) = images.get_mut(id)
        {
            image.texture_descriptor.format = FORMAT;
        }
    }
}

fn write_codes(
    mut pipelines: ResMut<EguiPipelines>,
    cache: Res<PipelineCache>,
    mut specialized: ResMut<SpecializedRenderPipelines<EguiPipeline>>,
    pipeline: Res<EguiPipeline>,
) {
    for chosen in pipelines.0.values_mut() {
        *chosen = specialized.specialize(&cache, &pipeline, EguiPipelineKey { target_format: FORMAT });
    }
}
