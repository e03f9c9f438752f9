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
use super::narrow::{Narrow, direction, screen};

/// The order by which the shadow's camera is known in the render world.
const ORDER: isize = -70;
/// A lower sun casts shadows without end.
const LOWEST_SUN_DEG: f64 = 1.0;

pub(super) fn plugin(app: &mut App) {
    app.add_plugins(ExtractResourcePlugin::<ShadeMap>::default());
    if let Some(render) = app.get_sub_app_mut(RenderApp) {
        render.add_systems(Core3d, keep_depth.after(Core3dSystems::Prepass).before(Core3dSystems::MainPass));
    }
}

/// The shadow as the cards use it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Shade {
    pub(super) clip_from_world: Mat4,
    pub(super) toward_sun: Vec3,
    /// Whether there is a sun that casts shadows.
    pub(super) casts: bool,
    /// The width of a texel of the map, in metres.
    pub(super) texel_m: f32,
}

/// The map, which lasts as long as the program.
#[derive(Resource, Clone, ExtractResource)]
pub(super) struct ShadeMap(pub(super) Handle<Image>);

/// The camera that looks along the sunlight.
#[derive(Component)]
pub(super) struct SunCamera;

/// Sets up an empty map and the camera that will draw it.
pub(super) fn set_up(commands: &mut Commands, images: &mut Assets<Image>, map_px: u32) {
    let mut map = Image::new_uninit(
        Extent3d { width: map_px, height: map_px, depth_or_array_layers: 1 },
        TextureDimension::D2,
        TextureFormat::Depth32Float,
        RenderAssetUsages::RENDER_WORLD,
    );
    map.sampler = ImageSampler::Descriptor(ImageSamplerDescriptor {
        compare: Some(ImageCompareFunction::GreaterEqual),
        mag_filter: ImageFilterMode::Linear,
        min_filter: ImageFilterMode::Linear,
        ..default()
    });
    commands.insert_resource(ShadeMap(images.add(map)));
    commands.spawn((
        SunCamera,
        Camera3d::default(),
        Camera { order: ORDER, is_active: false, ..default() },
        RenderTarget::None { size: UVec2::splat(map_px) },
        Msaa::Off,
        DepthPrepass,
        Projection::Orthographic(OrthographicProjection::default_3d()),
        Transform::default(),
        RenderLayers::layer(CASTERS),
    ));
}

/// Turns the sun's camera so that it sees all blocks, and tells the cards how the map lies.
pub(super) fn cast(
    (projection, transform): (&mut Projection, &mut Transform),
    map_px: u32,
    model: &Model,
    narrow: &Narrow,
    sun: Option<Sun>,
) -> Shade {
    let shining = sun.filter(|sun| sun.altitude_deg > LOWEST_SUN_DEG);
    let toward = shining.unwrap_or(Sun { azimuth_deg: 225.0, altitude_deg: 42.0 });
    let toward_sun = direction(&toward.direction());
    let (centre, radius) = around(model, narrow);
    let light = Transform::from_translation(centre + toward_sun * (radius + 50.0)).looking_at(centre, Vec3::Z);
    let depth = 2.0 * radius + 100.0;
    let clip_from_world =
        Mat4::orthographic_rh(-radius, radius, -radius, radius, depth, 0.1) * light.to_matrix().inverse();
    *transform = light;
    *projection = Projection::Orthographic(OrthographicProjection {
        near: 0.1,
        far: depth,
        scaling_mode: ScalingMode::Fixed { width: 2.0 * radius, height: 2.0 * radius },
        ..OrthographicProjection::default_3d()
    });
    Shade { clip_from_world, toward_sun, casts: shining.is_some(), texel_m: 2.0 * radius / screen(f64::from(map_px)) }
}

/// A ball around all blocks, at most 400 m in radius.
fn around(model: &Model, narrow: &Narrow) -> (Vec3, f32) {
    let bounds = model.solids.iter().map(|solid| solid.bounds()).reduce(|a, b| (a.0.inf(&b.0), a.1.sup(&b.1)));
    bounds.map_or((Vec3::ZERO, 50.0), |(low, high)| {
        let (low, high) = (narrow.point(&low), narrow.point(&high));
        (0.5 * (low + high), (0.5 * (high - low).length()).clamp(20.0, 400.0))
    })
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
