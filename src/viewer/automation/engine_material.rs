//! How fast would the engine's own material draw the same card? For the bench that compares them.

use std::time::Instant;

use bevy::camera::visibility::RenderLayers;
use bevy::light::{CascadeShadowConfig, NotShadowCaster, NotShadowReceiver};
use bevy::prelude::*;

use crate::theme::Theme;
use crate::viewer::engine::adapter::Quality;
use crate::viewer::engine::headless::HeadlessWindow;
use crate::viewer::error::ViewerError;
use crate::viewer::render::narrow::linear;
use crate::viewer::render::shadow_map::SunCamera;
use crate::viewer::render::site_parts::SitePart;
use crate::viewer::render::surfaces::{SurfaceKind, SurfaceMaterial};
use crate::viewer::state::desk::Desk;

use super::frame_times::{FrameClock, Timings};
use super::timed_frames::{Leg, RUN_UP, Timing, time_walk, timed};

/// Takes the time of `frames` frames while the camera walks, and of as many with the same meshes in the engine's own material
/// and cascaded shadow, without a display.
///
/// # Errors
/// There is no graphics adapter, or the graphics device is lost.
pub fn time_engine_material(desk: Desk, window: HeadlessWindow, frames: usize) -> Result<Timings, ViewerError> {
    timed(desk, window, Timing::new(frames, Instant::now()), |app| {
        app.init_resource::<ComparisonStep>().add_systems(Last, compare.after(time_walk));
    })
}

/// How far the comparison is.
#[derive(Resource, Default)]
enum ComparisonStep {
    /// The window's own material is being timed.
    #[default]
    Ours,
    /// The engine's own has taken over, and its pipelines arrive: they are many, and there when frames have come for a while.
    Arriving(usize),
    /// The engine's own is being timed.
    Engine(FrameClock),
}

/// What it takes to have the engine's own material take over.
type EngineParts<'w, 's> =
    (Commands<'w, 's>, ResMut<'w, Assets<StandardMaterial>>, ResMut<'w, Quality>, Parts<'w, 's>, SunPlace<'w, 's>);

/// Takes the time of the engine's own material once the walk has been timed; the walk goes on.
fn compare(
    mut comparison: ResMut<ComparisonStep>,
    (timing, desk): (Res<Timing>, Res<Desk>),
    (mut commands, mut materials, mut quality, parts, sun): EngineParts<'_, '_>,
    mut exit: MessageWriter<AppExit>,
) {
    match &mut *comparison {
        ComparisonStep::Ours => {
            if timing.leg == Leg::Walked {
                take_over(&mut commands, &mut materials, &parts, sun.single().ok(), desk.settings().theme);
                // The engine left to itself draws every pixel of the window.
                quality.moving_share = 1.0;
                *comparison = ComparisonStep::Arriving(0);
            }
        }
        ComparisonStep::Arriving(frames) => {
            *frames += 1;
            if *frames > 2 * RUN_UP {
                *comparison = ComparisonStep::Engine(FrameClock::start());
            }
        }
        ComparisonStep::Engine(clock) => {
            clock.tick();
            if clock.count() == timing.frames {
                let standard = clock.read();
                timing.note(|timings| timings.standard = standard);
                exit.write(AppExit::Success);
            }
        }
    }
}

/// The meshes of the site, each with what it stands for if it is card.
type Parts<'w, 's> = Query<'w, 's, (Entity, Option<&'static SurfaceKind>), With<SitePart>>;

/// Dresses the same meshes in the engine's own material, under its own sun with its cascaded shadow as the engine sets them up
/// unless told otherwise; the sky in the cheapest kind of it, which neither takes nor throws light. Ink it has none of: it
/// goes, which spares it work, as does what [`crate::viewer::engine::workarounds::unused_passes`] leaves out.
fn take_over(
    commands: &mut Commands,
    materials: &mut Assets<StandardMaterial>,
    parts: &Parts<'_, '_>,
    sun: Option<&Transform>,
    theme: Theme,
) {
    let palette = theme.palette();
    for (part, stuff) in parts {
        let colour = match stuff {
            Some(SurfaceKind::Blocks { .. }) => palette.card_lit,
            Some(SurfaceKind::Ground) => palette.ground,
            Some(SurfaceKind::Water) => palette.water,
            Some(SurfaceKind::Sky) => palette.sky_high,
            None => {
                commands.entity(part).despawn();
                continue;
            }
        };
        let is_sky = stuff == Some(&SurfaceKind::Sky);
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
type SunPlace<'w, 's> = Query<'w, 's, &'static Transform, With<SunCamera>>;
