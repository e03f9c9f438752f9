//! Where does the sun's shadow fall? One depth map, drawn once for a site and sun; a coarser one while the sun goes on.

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

use crate::angle::Angle;
use crate::pose::WorldPoint;
use crate::site::{Model, Sun};

use super::narrow::{Narrow, direction, screen};
use super::site_parts::CASTERS;
use crate::viewer::engine::adapter::Quality;

/// The order by which the shadow's camera is known in the render world.
const ORDER: isize = -70;
/// Blocks farther from the subject than this cast no shadow on the map, which would be too coarse.
const NEAR_M: f64 = 600.0;

pub(in crate::viewer) fn plugin(app: &mut App) {
    app.add_plugins(ExtractResourcePlugin::<ShadowMaps>::default());
    if let Some(render) = app.get_sub_app_mut(RenderApp) {
        render.add_systems(Core3d, keep_depth.after(Core3dSystems::Prepass).before(Core3dSystems::MainPass));
    }
}

/// The shadow as the surfaces use it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::viewer) struct SunShadow {
    pub(in crate::viewer) clip_from_world: Mat4,
    pub(in crate::viewer) toward_sun: Vec3,
    /// Whether there is a sun that casts shadows.
    pub(in crate::viewer) casts: bool,
    /// Whether its edge is soft.
    pub(in crate::viewer) soft: bool,
    /// The width of a texel of the map, in metres.
    pub(in crate::viewer) texel_m: f32,
    /// The width of a texel as a share of the map.
    pub(in crate::viewer) step: f32,
}

/// How well the shadow is drawn.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(in crate::viewer) enum MapDetail {
    /// On the large map.
    #[default]
    Full,
    /// On one half as wide, in a quarter of the time, while the sun goes on.
    Coarse,
}

impl MapDetail {
    /// The width of its map, where the large one has so many pixels.
    const fn map_px(self, full_px: u32) -> u32 {
        match self {
            Self::Full => full_px,
            Self::Coarse => full_px / 2,
        }
    }
}

/// Where light comes from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::viewer) struct SceneLight {
    pub(in crate::viewer) from: Sun,
    /// Whether it is the sun, and casts shadows.
    pub(in crate::viewer) casts: bool,
}

impl SceneLight {
    /// The sun's while it is up; else an even one over the left shoulder of who looks along a heading, as the still has it.
    pub(in crate::viewer) fn of(sun: Sun, heading: Angle) -> Self {
        let risen = Some(sun).filter(|sun| sun.altitude_deg > 0.0 && sun.azimuth_deg.is_finite());
        let azimuth_deg = heading.compass_degrees().round() + 180.0 + 50.0;
        risen.map_or(Self { from: Sun { azimuth_deg, altitude_deg: 42.0 }, casts: false }, |from| Self {
            from,
            casts: true,
        })
    }
}

/// The maps, which last as long as the program.
#[derive(Resource, Clone, ExtractResource)]
pub(in crate::viewer) struct ShadowMaps {
    full: Handle<Image>,
    coarse: Handle<Image>,
}

impl ShadowMaps {
    pub(in crate::viewer) fn of(&self, detail: MapDetail) -> &Handle<Image> {
        match detail {
            MapDetail::Full => &self.full,
            MapDetail::Coarse => &self.coarse,
        }
    }
}

/// The camera that looks along the sunlight.
#[derive(Component)]
pub(in crate::viewer) struct SunCamera;

/// An empty map.
fn empty(map_px: u32) -> Image {
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
    map
}

/// Sets up empty maps and the camera that will draw them.
pub(in crate::viewer) fn set_up(commands: &mut Commands, images: &mut Assets<Image>, full_px: u32) {
    let [full, coarse] = [MapDetail::Full, MapDetail::Coarse].map(|detail| images.add(empty(detail.map_px(full_px))));
    commands.insert_resource(ShadowMaps { full, coarse });
    commands.spawn((
        SunCamera,
        Camera3d::default(),
        Camera { order: ORDER, is_active: false, ..default() },
        RenderTarget::None { size: UVec2::splat(full_px) },
        Msaa::Off,
        DepthPrepass,
        Projection::Orthographic(OrthographicProjection::default_3d()),
        Transform::default(),
        RenderLayers::layer(CASTERS),
    ));
}

/// The sun's camera turned so that it sees all blocks, and the shadow it draws.
pub(in crate::viewer) struct CastShadow {
    pub(in crate::viewer) projection: Projection,
    pub(in crate::viewer) transform: Transform,
    pub(in crate::viewer) target: RenderTarget,
    pub(in crate::viewer) shadow: SunShadow,
}

/// Casts the shadow of the site under a light.
pub(in crate::viewer) fn cast(
    model: &Model,
    narrow: &Narrow,
    light: SceneLight,
    (quality, detail): (&Quality, MapDetail),
) -> CastShadow {
    let toward_sun = direction(&light.from.direction());
    let turned = Transform::default().looking_to(-toward_sun, Vec3::Z);
    let along_light = turned.rotation.inverse();
    let (low, high) = around(model, narrow, |point| along_light * point);
    let (size, middle) = (high - low, 0.5 * (low + high));
    // A step back, so that the nearest roof is in front of the camera.
    let back = 1.0;
    let depth = size.z + 2.0 * back;
    let eye = turned.rotation * Vec3::new(middle.x, middle.y, high.z + back);
    let light_at = Transform::from_translation(eye).with_rotation(turned.rotation);
    let (half_width, half_height) = (0.5 * size.x, 0.5 * size.y);
    let clip_from_view = Mat4::orthographic_rh(-half_width, half_width, -half_height, half_height, depth, 0.0);
    let projection = Projection::Orthographic(OrthographicProjection {
        near: 0.0,
        far: depth,
        scaling_mode: ScalingMode::Fixed { width: size.x, height: size.y },
        ..OrthographicProjection::default_3d()
    });
    let target_px = detail.map_px(quality.shadow_px);
    let map_px = screen(f64::from(target_px));
    let shadow = SunShadow {
        clip_from_world: clip_from_view * light_at.to_matrix().inverse(),
        toward_sun,
        casts: light.casts,
        soft: quality.soft_shadow,
        texel_m: size.x.max(size.y) / map_px,
        step: 1.0 / map_px,
    };
    let target = RenderTarget::None { size: UVec2::splat(target_px) };
    CastShadow { projection, transform: light_at, target, shadow }
}

/// The bounds of all blocks that are not far from the subject, along the axes of the light.
fn around(model: &Model, narrow: &Narrow, along_light: impl Fn(Vec3) -> Vec3) -> (Vec3, Vec3) {
    let bounds: Vec<(WorldPoint, WorldPoint)> = model.solids.iter().map(|solid| solid.bounds()).collect();
    let near =
        |(low, high): &&(WorldPoint, WorldPoint)| (nalgebra::center(low, high) - narrow.origin).xy().norm() < NEAR_M;
    let corners = |(low, high): &(WorldPoint, WorldPoint)| {
        [low.x, high.x]
            .into_iter()
            .flat_map(|x| {
                [low.y, high.y]
                    .into_iter()
                    .flat_map(move |y| [low.z, high.z].into_iter().map(move |z| WorldPoint::new(x, y, z)))
            })
            .collect::<Vec<_>>()
    };
    let any_near = bounds.iter().any(|bounds| near(&bounds));
    let range = bounds
        .iter()
        .filter(|bounds| !any_near || near(bounds))
        .flat_map(corners)
        .map(|corner| along_light(narrow.point(&corner)))
        .fold(None, |range: Option<(Vec3, Vec3)>, point| {
            Some(range.map_or((point, point), |(low, high)| (low.min(point), high.max(point))))
        });
    let (low, high) = range.unwrap_or((Vec3::splat(-10.0), Vec3::splat(10.0)));
    // Nothing is cut off at the edge of the map, and a single post has a map, too.
    let margin = Vec3::splat(0.5).max(0.01 * (high - low));
    (low - margin, high + margin)
}

/// Copies the sun's depth into the map that the cards read.
fn keep_depth(
    view: ViewQuery<(&ExtractedCamera, &ViewDepthTexture)>,
    maps: Option<Res<ShadowMaps>>,
    images: Res<RenderAssets<GpuImage>>,
    mut context: RenderContext,
) {
    let (camera, depth) = view.into_inner();
    let (ORDER, Some(maps), Some(size)) = (camera.order, maps, camera.physical_target_size) else { return };
    let drawn = [&maps.full, &maps.coarse].into_iter().filter_map(|map| images.get(map.id()));
    let Some(image) = drawn.into_iter().find(|image| image.texture_descriptor.size.width == size.x) else { return };
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
