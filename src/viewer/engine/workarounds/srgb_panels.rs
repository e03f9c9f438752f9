//! How are the panels' colours mixed? As they are coded in sRGB, which is how egui means them.
//!
//! Bevy_egui knows only textures that turn codes into linear light and back wherever they are read, mixed and written: on a
//! processor that plays graphics card that was much of a frame.
//!
//! Mends: the conversion to linear light and back for every pixel of the panels, and mixing that egui does not mean.
//!
//! Remove when bevy_egui draws into a target without conversion, and mixes colours as they are coded in sRGB.

use bevy::camera::CompositingSpace;
use bevy::prelude::*;
use bevy::render::render_resource::{PipelineCache, SpecializedRenderPipelines, TextureFormat, TextureViewDescriptor};
use bevy::render::{Render, RenderApp, RenderSystems};
use bevy::shader::Shader;
use bevy_egui::render::systems::{EguiPipelines, queue_pipelines_system};
use bevy_egui::render::{EGUI_SHADER_HANDLE, EguiPipeline, EguiPipelineKey};
use bevy_egui::{EguiManagedTextures, EguiPostUpdateSet};

/// What the panels' camera mixes in.
pub(in crate::viewer) const SPACE: CompositingSpace = CompositingSpace::Srgb;
/// Holds codes as they are: what the engine gives such a camera, and what the panels read.
pub(in crate::viewer) const FORMAT: TextureFormat = TextureFormat::Rgba8Unorm;

/// Goes behind egui's own plugin.
pub(in crate::viewer) fn plugin(app: &mut App) {
    app.add_systems(PostUpdate, read_codes.after(EguiPostUpdateSet::PostProcessOutput));
    let shader =
        Shader::from_wgsl(include_str!("srgb_panels.wgsl"), "plumbsight/viewer/engine/workarounds/srgb_panels.wgsl");
    if app.world_mut().resource_mut::<Assets<Shader>>().insert(EGUI_SHADER_HANDLE.id(), shader).is_err() {
        bevy::log::error!("the panels' shader was not taken: their colours are wrong");
    }
    if let Some(render) = app.get_sub_app_mut(RenderApp) {
        render.add_systems(Render, write_codes.in_set(RenderSystems::Queue).after(queue_pipelines_system));
    }
}

/// What egui has painted itself, letters above all, is read as it is coded. Its texture stays what bevy_egui takes it for, which
/// paints letters into it later.
fn read_codes(textures: Res<EguiManagedTextures>, mut images: ResMut<Assets<Image>>) {
    for texture in textures.values() {
        let id = texture.handle.id();
        // Whoever asks to change it sends it to the graphics card again.
        if images.get(id).is_some_and(|image| image.texture_view_descriptor.is_none())
            && let Some(mut image) = images.get_mut(id)
        {
            image.texture_descriptor.view_formats = &[FORMAT];
            image.texture_view_descriptor = Some(TextureViewDescriptor { format: Some(FORMAT), ..default() });
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

#[cfg(test)]
mod tests {
    use bevy::asset::RenderAssetUsages;
    use bevy::ecs::system::RunSystemOnce;
    use bevy::render::render_resource::{Extent3d, TextureDimension};
    use bevy_egui::EguiManagedTexture;
    use bevy_egui::egui::{Color32, ColorImage};

    use super::*;

    #[test]
    fn letters_that_come_later_are_coded_as_those_that_came_first() {
        let mut world = World::new();
        let mut images = Assets::<Image>::default();
        // As bevy_egui makes it, and as it paints into it later.
        let first = Image::new_fill(
            Extent3d { width: 2, height: 1, depth_or_array_layers: 1 },
            TextureDimension::D2,
            &[128; 4],
            TextureFormat::Rgba8UnormSrgb,
            RenderAssetUsages::all(),
        );
        let handle = images.add(first);
        let mut textures = EguiManagedTextures::default();
        let color_image = ColorImage::filled([2, 1], Color32::from_rgba_premultiplied(128, 128, 128, 128));
        textures.insert((Entity::PLACEHOLDER, 0), EguiManagedTexture { handle: handle.clone(), color_image });
        world.insert_resource(images);
        world.insert_resource(textures);
        world.run_system_once(read_codes).expect("it runs");
        let mut images = world.resource_mut::<Assets<Image>>();
        let mut image = images.get_mut(&handle).expect("there");
        image.set_color_at(1, 0, Color::srgba_u8(128, 128, 128, 128)).expect("inside");
        assert_eq!(image.data.as_deref(), Some([128; 8].as_slice()));
        let view = image.texture_view_descriptor.as_ref().and_then(|view| view.format);
        assert_eq!(view, Some(FORMAT));
    }
}
