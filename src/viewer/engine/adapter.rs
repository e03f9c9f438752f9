//! What draws the finder, and how well may it be drawn without making the walker wait?

use bevy::prelude::*;
use bevy::render::renderer::RenderAdapterInfo;
use wgpu::DeviceType;

use crate::viewer::error::ViewerError;

/// How the finder is drawn.
#[derive(Resource, Clone, Copy, Debug, PartialEq)]
pub(in crate::viewer) struct Quality {
    /// Samples a pixel while it moves.
    pub(in crate::viewer) moving: Msaa,
    /// The share of the frame's pixels each way that is drawn while it moves.
    pub(in crate::viewer) moving_share: f32,
    /// Samples a pixel once it has come to rest.
    pub(in crate::viewer) resting: Msaa,
    /// Pixels each way of the shadow map.
    pub(in crate::viewer) shadow_px: u32,
    /// Whether the shadow's edge is softened by several looks at the map.
    pub(in crate::viewer) soft_shadow: bool,
}

impl Quality {
    /// A processor that plays graphics card.
    const SOFTWARE: Self =
        Self { moving: Msaa::Off, moving_share: 0.75, resting: Msaa::Sample4, shadow_px: 2048, soft_shadow: false };
    /// A graphics card.
    const HARDWARE: Self =
        Self { moving: Msaa::Sample4, moving_share: 1.0, resting: Msaa::Sample4, shadow_px: 4096, soft_shadow: true };

    /// What an adapter of a kind can do without effort.
    pub(in crate::viewer) fn of(kind: DeviceType) -> Self {
        match kind {
            DeviceType::Cpu => Self::SOFTWARE,
            DeviceType::IntegratedGpu | DeviceType::DiscreteGpu | DeviceType::VirtualGpu | DeviceType::Other => {
                Self::HARDWARE
            }
        }
    }
}

/// The ways to reach a graphics adapter here, the best first; the engine would end the program without any, so it is looked
/// for before.
pub(in crate::viewer) fn require_adapter() -> Result<wgpu::Backends, ViewerError> {
    [wgpu::Backends::PRIMARY, wgpu::Backends::SECONDARY]
        .into_iter()
        .find(|backends| {
            let wanted = wgpu::InstanceDescriptor {
                backends: *backends,
                ..wgpu::InstanceDescriptor::new_without_display_handle()
            };
            let found = pollster::block_on(wgpu::Instance::new(wanted).enumerate_adapters(*backends));
            // The panels' colours are read and written in two ways, see `codes`.
            found
                .iter()
                .any(|adapter| adapter.get_downlevel_capabilities().flags.contains(wgpu::DownlevelFlags::VIEW_FORMATS))
        })
        .ok_or(ViewerError::NoAdapter)
}

/// Whether there is a display; the engine would end the program without one.
pub fn has_display() -> bool {
    let named =
        ["WAYLAND_DISPLAY", "DISPLAY"].iter().any(|name| std::env::var_os(name).is_some_and(|value| !value.is_empty()));
    named || !cfg!(all(unix, not(target_os = "macos")))
}

/// The adapter's name, as its driver gives it.
pub(in crate::viewer) fn name(info: &RenderAdapterInfo) -> String {
    let kind = match info.device_type {
        DeviceType::Cpu => "software",
        DeviceType::IntegratedGpu => "integrated",
        DeviceType::DiscreteGpu => "discrete",
        DeviceType::VirtualGpu => "virtual",
        DeviceType::Other => "other",
    };
    format!("{} ({kind}, {})", info.name, info.backend)
}
