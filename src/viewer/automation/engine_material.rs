//! How fast would the engine's own material draw the same card? For the bench that compares them.

use bevy::camera::visibility::RenderLayers;
use bevy::light::{CascadeShadowConfig, NotShadowCaster, NotShadowReceiver};
use bevy::prelude::*;

use crate::theme::Theme;

use crate::viewer::render::narrow::linear;
use crate::viewer::render::scene::SitePart;
use crate::viewer::render::shadow_map::SunCamera;
use crate::viewer::render::surfaces::{SurfaceKind, SurfaceMaterial};

/// The meshes that lie on the table, each with what it stands for if it is card.
pub(in crate::viewer) type Parts<'w, 's> = Query<'w, 's, (Entity, Option<&'static SurfaceKind>), With<SitePart>>;

/// Dresses the same meshes in the engine's own material, under its own sun with its cascaded shadow as the engine sets them up
/// unless told otherwise; the sky in the cheapest kind of it, which neither takes nor throws light. Ink it has none of: it
/// goes, which spares it work, as does what [`crate::viewer::engine::workarounds::unused_passes`] leaves out.
pub(in crate::viewer) fn take_over(
    commands: &mut Commands,
    materials: &mut Assets<StandardMaterial>,
    parts: &Parts<'_, '_>,
    sun: Option<&Transform>,
    theme: Theme,
) {
    let palette = theme.palette();
    for (part, kind) in parts {
        let colour = match kind {
            Some(SurfaceKind::Blocks { .. }) => palette.card_lit,
            Some(SurfaceKind::Ground) => palette.ground,
            Some(SurfaceKind::Water) => palette.water,
            Some(SurfaceKind::Sky) => palette.sky_high,
            None => {
                commands.entity(part).despawn();
                continue;
            }
        };
        let is_sky = kind == Some(&SurfaceKind::Sky);
        let [r, g, b] = linear(colour);
        let material = materials.add(StandardMaterial {
            base_color: Color::linear_rgb(r, g, b),
            perceptual_roughness: 1.0,
            cull_mode: None,
            double_sided: true,
            unlit: is_sky,
            ..default()
        });
        let mut part = commands.entity(part);
        part.remove::<(MeshMaterial3d<SurfaceMaterial>, RenderLayers)>().insert(MeshMaterial3d(material));
        if is_sky {
            part.insert((NotShadowCaster, NotShadowReceiver));
        }
    }
    commands.spawn((
        DirectionalLight { shadow_maps_enabled: true, ..default() },
        CascadeShadowConfig::default(),
        sun.copied().unwrap_or_else(|| Transform::default().looking_to(Vec3::new(0.5, 0.5, -0.7), Vec3::Z)),
    ));
}

/// Where the sun stands, as the shadow's own camera looks along it.
pub(in crate::viewer) type SunPlace<'w, 's> = Query<'w, 's, &'static Transform, With<SunCamera>>;
