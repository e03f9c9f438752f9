//! How is the engine set up, and what is reported when it or the graphics device breaks?
//!
//! A graphics device that is lost amid a frame breaks the engine before its loss is reported: the driver is asked once more, while
//! its queue is still held, else the report would be "broken" instead of "lost".

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use bevy::app::PluginGroupBuilder;
use bevy::camera::visibility::RenderLayers;
use bevy::camera::{CameraOutputMode, RenderTarget};
use bevy::core_pipeline::tonemapping::Tonemapping;
use bevy::log::{Level, LogPlugin};
use bevy::prelude::*;
use bevy::render::RenderPlugin;
use bevy::render::error_handler::{RenderErrorHandler, RenderErrorPolicy};
use bevy::render::render_resource::PollType;
use bevy::render::renderer::{RenderDevice, RenderQueue};
use bevy::render::settings::{RenderCreation, WgpuSettings};
use bevy_egui::PrimaryEguiContext;

use super::workarounds::output_copy::CopiedInto;
use super::workarounds::srgb_panels;
use super::workarounds::unused_passes;
use crate::viewer::error::ViewerError;
use crate::viewer::render::narrow;
use crate::viewer::state::desk::Desk;

/// A device that does not answer by then is not lost but hangs.
const ANSWER: Duration = Duration::from_secs(1);

/// The engine's parts as both ways of showing the window have them.
pub(in crate::viewer) fn engine(backends: wgpu::Backends) -> PluginGroupBuilder {
    // Only what goes wrong is printed on the error stream.
    let quiet = LogPlugin { level: Level::ERROR, filter: "error".into(), ..default() };
    DefaultPlugins.set(render(backends)).set(quiet).set(unused_passes::pbr())
}

fn render(backends: wgpu::Backends) -> RenderPlugin {
    let settings = WgpuSettings::default();
    let backends = settings.backends.map(|wanted| wanted & backends).filter(|left| !left.is_empty()).or(Some(backends));
    RenderPlugin {
        render_creation: RenderCreation::Automatic(Box::new(WgpuSettings { backends, ..settings })),
        synchronous_pipeline_compilation: true,
        ..default()
    }
}

/// The camera that the panels are painted by.
pub(in crate::viewer) fn spawn_panel_camera(commands: &mut Commands, target: RenderTarget) {
    let image = if let RenderTarget::Image(image) = &target { Some(image.handle.clone()) } else { None };
    let mut camera = commands.spawn((
        PrimaryEguiContext,
        Camera3d::default(),
        target,
        Msaa::Off,
        Tonemapping::None,
        srgb_panels::SPACE,
        RenderLayers::none(),
    ));
    // HeadlessTarget takes the picture as it is; a display may have its colours in another order.
    if let Some(image) = image {
        camera.insert((Camera { output_mode: CameraOutputMode::Skip, ..default() }, CopiedInto(image)));
    }
}

/// The window is cleared to its background: no panel has to paint it.
pub(in crate::viewer) fn colour_background(desk: Res<Desk>, mut cameras: Query<&mut Camera, With<PrimaryEguiContext>>) {
    let [r, g, b] = narrow::linear(desk.settings().theme.palette().table);
    for mut camera in &mut cameras {
        camera.clear_color = ClearColorConfig::Custom(Color::linear_rgb(r, g, b));
    }
}

/// What went wrong on the graphics device, if anything, and the device to ask.
#[derive(Resource, Clone, Default)]
pub(in crate::viewer) struct EngineFailure {
    reason: Arc<Mutex<Option<String>>>,
    device: Arc<Mutex<Option<(RenderDevice, RenderQueue)>>>,
}

impl EngineFailure {
    /// Keeps the first thing that went wrong: what follows comes of it.
    fn note(&self, text: &str) {
        let mut reason = self.reason.lock().unwrap_or_else(PoisonError::into_inner);
        reason.get_or_insert_with(|| text.lines().next().map(str::trim).unwrap_or("no reason given").to_owned());
    }

    /// What went wrong on the device. Where a device is lost amid a frame, the engine breaks on it before it hears of it: the
    /// driver is asked once more.
    fn reason(&self) -> Option<String> {
        // A device whose queue is dropped answers no more: it is held as well.
        if let Some((device, _queue)) = self.device.lock().unwrap_or_else(PoisonError::into_inner).take() {
            let late = self.clone();
            device.wgpu_device().set_device_lost_callback(move |_, text| late.note(&text));
            // What is not answered here was no loss.
            let _ = device.poll(PollType::Wait { submission_index: None, timeout: Some(ANSWER) });
        }
        self.reason.lock().unwrap_or_else(PoisonError::into_inner).take()
    }
}

impl Plugin for EngineFailure {
    fn build(&self, app: &mut App) {
        app.insert_resource(self.clone()).insert_resource(RenderErrorHandler(lost)).add_systems(Startup, keep_device);
    }
}

/// Keeps the device at hand for when something goes wrong on it.
fn keep_device(device: Res<RenderDevice>, queue: Res<RenderQueue>, failure: Res<EngineFailure>) {
    *failure.device.lock().unwrap_or_else(PoisonError::into_inner) = Some((device.clone(), queue.clone()));
}

/// The device is gone: what is kept is kept, the window ends.
fn lost(error: &bevy::render::error_handler::RenderError, main: &mut World, _render: &mut World) -> RenderErrorPolicy {
    if let Some(failure) = main.get_resource::<EngineFailure>() {
        failure.note(&error.description);
    }
    main.write_message(AppExit::error());
    RenderErrorPolicy::StopRendering
}

/// Runs the engine so that nothing it breaks on breaks the program.
pub(in crate::viewer) fn guarded(run: impl FnOnce(EngineFailure) -> AppExit) -> Result<(), ViewerError> {
    let failure = EngineFailure::default();
    let (broken, noted) = (Arc::new(Mutex::new(None::<String>)), failure.clone());
    let heard = Arc::clone(&broken);
    let usual = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |panic| {
        let text = panic.payload_as_str().unwrap_or("no reason given").lines().next().unwrap_or_default().to_owned();
        heard.lock().unwrap_or_else(PoisonError::into_inner).get_or_insert(text);
    }));
    let ended = catch_unwind(AssertUnwindSafe(move || run(noted)));
    std::panic::set_hook(usual);
    if let Some(reason) = failure.reason() {
        return Err(ViewerError::Lost { reason });
    }
    if matches!(ended, Ok(AppExit::Success)) {
        return Ok(());
    }
    let reason = broken.lock().unwrap_or_else(PoisonError::into_inner).take();
    // The engine's own words for a display that does not answer.
    if reason.as_ref().is_some_and(|reason| reason.starts_with("Failed to build event loop")) {
        return Err(ViewerError::NoDisplay);
    }
    Err(ViewerError::Broken { reason: reason.unwrap_or_else(|| "no reason given".into()) })
}
