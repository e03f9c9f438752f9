//! What of the engine is left out? This window has no lamps and only a few large meshes: the graphics card need neither sort
//! lamps into each view, in five passes a camera and frame, nor gather meshes, in some more. On a processor that plays
//! graphics card that was a quarter of a walked frame.
//!
//! Mends: passes of the engine that run though there is nothing for them to do.
//!
//! Remove when the engine leaves these passes out by itself where there is no lamp and the meshes are few.

use bevy::light::cluster::{ClusterConfig, GlobalClusterSettings};
use bevy::pbr::PbrPlugin;
use bevy::prelude::*;
use bevy::render::batching::gpu_preprocessing::{GpuPreprocessingMode, GpuPreprocessingSupport};
use bevy::render::{ExtractSchedule, RenderApp};

/// The engine's own part, without what [`plugin`] goes without.
pub(in crate::viewer) fn pbr() -> PbrPlugin {
    PbrPlugin { use_gpu_instance_buffer_builder: false, ..default() }
}

pub(in crate::viewer) fn plugin(app: &mut App) {
    // Each camera has one cell for all the lamps there are not.
    app.register_required_components_with::<Camera3d, ClusterConfig>(|| ClusterConfig::Single);
    app.add_systems(PreStartup, |mut lamps: ResMut<GlobalClusterSettings>| lamps.gpu_clustering = None);
    if let Some(render) = app.get_sub_app_mut(RenderApp) {
        // The engine finds out by itself what the card can do, at the start and after each loss: this comes after it.
        render.add_systems(ExtractSchedule, |mut support: ResMut<GpuPreprocessingSupport>| {
            support.max_supported_mode = GpuPreprocessingMode::None;
        });
    }
}
