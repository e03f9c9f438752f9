//! Where does the sun's shadow fall? One depth map, drawn once for a site and sun.

use bevy::asset::RenderAssetUsages;
use bevy::camera::visibility::RenderLayers;
use bevy::camera::{RenderTarget, ScalingMode};
use bevy::core_pipeline::Core3dSystems;
use bevy::core_pipeline::prepass::DepthPrepass;
use bevy::core_pipeline::schedule::Core3d;
use bevy::image::{ImageCompareFunction, ImageFilterMode, ImageSampler, ImageSamplerDescriptor};
use bevy::prelude::*;
use bevy::render::RenderApp;
use bevy::render::camera::ExtractedCamera;
use bevy::render::extract_resource::{ExtractResource, ExtractResourcePlugin};
use bevy::render::render_asset::RenderAssets;
use bevy::render::render_resource::{
    Extent3d, Origin3d, TexelCopyTextureInfo, TextureAspect, TextureDimension, TextureFormat,
};
use bevy::render::renderer::{RenderContext, ViewQuery};
use bevy::render::texture::GpuImage;
use bevy::render::view::ViewDepthTexture;

use crate::site::{Model, Sun};

use super::cards::CASTERS;
use super::narrow::{Narrow, direction};

const MAP_PX: u32 = 2048;
/// The order by which the shadow's camera is known in the render world.
const ORDER: isize = -7;
/// Frames after which the map is surely drawn.
const DRAWN_AFTER: u32 = 20;

pub(super) fn plugin(app: &mut App) {
    app.add_plugins(ExtractResourcePlugin::<ShadeMap>::default()).add_systems(Update, rest);
    if let Some(render) = app.get_sub_app_mut(RenderApp) {
        render.add_systems(Core3d, keep_depth.after(Core3dSystems::Prepass).before(Core3dSystems::MainPass));
    }
}

/// The shadow as the cards use it.
#[derive(Resource, Clone, Debug)]
pub(super) struct Shade {
    pub(super) map: Handle<Image>,
    pub(super) clip_from_world: Mat4,
    pub(super) toward_sun: Vec3,
    /// Whether there is a sun that casts shadows.
    pub(super) casts: bool,
}

#[derive(Resource, Clone, ExtractResource)]
struct ShadeMap(Handle<Image>);

#[derive(Component)]
struct SunCamera {
    frames: u32,
}

/// Sets up the map and the camera that draws it.
pub(super) fn cast(
    commands: &mut Commands,
    images: &mut Assets<Image>,
    model: &Model,
    narrow: &Narrow,
    sun: Option<Sun>,
) -> Shade {
    let mut map = Image::new_uninit(
        Extent3d { width: MAP_PX, height: MAP_PX, depth_or_array_layers: 1 },
        TextureDimension::D2,
        TextureFormat::Depth32Float,
        RenderAssetUsages::default(),
    );
    map.sampler = ImageSampler::Descriptor(ImageSamplerDescriptor {
        compare: Some(ImageCompareFunction::GreaterEqual),
        mag_filter: ImageFilterMode::Linear,
        min_filter: ImageFilterMode::Linear,
        ..default()
    });
    let map = images.add(map);
    commands.insert_resource(ShadeMap(map.clone()));
    let shining = sun.filter(|sun| sun.altitude_deg > 1.0);
    let toward = shining.unwrap_or(Sun { azimuth_deg: 225.0, altitude_deg: 40.0 });
    let toward_sun = direction(&toward.direction());
    let (centre, radius) = around(model, narrow);
    let light = Transform::from_translation(centre + toward_sun * (radius + 50.0)).looking_at(centre, Vec3::Z);
    let depth = 2.0 * radius + 100.0;
    let clip_from_world =
        Mat4::orthographic_rh(-radius, radius, -radius, radius, depth, 0.1) * light.to_matrix().inverse();
    commands.spawn((
        SunCamera { frames: 0 },
        Camera3d::default(),
        Camera { order: ORDER, ..default() },
        RenderTarget::None { size: UVec2::splat(MAP_PX) },
        Msaa::Off,
        DepthPrepass,
        Projection::Orthographic(OrthographicProjection {
            near: 0.1,
            far: depth,
            scaling_mode: ScalingMode::Fixed { width: 2.0 * radius, height: 2.0 * radius },
            ..OrthographicProjection::default_3d()
        }),
        light,
        RenderLayers::layer(CASTERS),
    ));
    Shade { map, clip_from_world, toward_sun, casts: shining.is_some() }
}

/// A ball around all blocks, at most 400 m in radius.
fn around(model: &Model, narrow: &Narrow) -> (Vec3, f32) {
    let bounds = model.solids.iter().map(|solid| solid.bounds()).reduce(|a, b| (a.0.inf(&b.0), a.1.sup(&b.1)));
    bounds.map_or((Vec3::ZERO, 50.0), |(low, high)| {
        let (low, high) = (narrow.point(&low), narrow.point(&high));
        (0.5 * (low + high), (0.5 * (high - low).length()).clamp(20.0, 400.0))
    })
}

/// The map stays as it is: its camera need not draw again.
fn rest(mut cameras: Query<(&mut SunCamera, &mut Camera)>) {
    for (mut sun, mut camera) in &mut cameras {
        sun.frames = sun.frames.saturating_add(1);
        if sun.frames > DRAWN_AFTER && camera.is_active {
            camera.is_active = false;
        }
    }
}

/// Copies the sun's depth into the map that the cards read.
fn keep_depth(
    view: ViewQuery<(&ExtractedCamera, &ViewDepthTexture)>,
    map: Option<Res<ShadeMap>>,
    images: Res<RenderAssets<GpuImage>>,
    mut context: RenderContext,
) {
    let (camera, depth) = view.into_inner();
    let (ORDER, Some(map)) = (camera.order, map) else { return };
    let (Some(image), Some(size)) = (images.get(map.0.id()), camera.physical_target_size) else { return };
    let whole = |texture| TexelCopyTextureInfo {
        texture,
        mip_level: 0,
        origin: Origin3d::default(),
        aspect: TextureAspect::DepthOnly,
    };
    context.command_encoder().copy_texture_to_texture(
        whole(&depth.texture),
        whole(&image.texture),
        Extent3d { width: size.x, height: size.y, depth_or_array_layers: 1 },
    );
}
