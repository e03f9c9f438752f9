//! Where is the window shown: on a display, or in a picture?

use std::sync::{Arc, Mutex};
use std::time::Duration;

use bevy::app::ScheduleRunnerPlugin;
use bevy::camera::visibility::RenderLayers;
use bevy::camera::{ImageRenderTarget, RenderTarget};
use bevy::core_pipeline::tonemapping::Tonemapping;
use bevy::log::{Level, LogPlugin};
use bevy::prelude::*;
use bevy::render::RenderPlugin;
use bevy::render::render_resource::{Extent3d, TextureDimension, TextureFormat, TextureUsages};
use bevy::render::view::screenshot::{Screenshot, ScreenshotCaptured};
use bevy::window::{ExitCondition, PresentMode, WindowResolution};
use bevy::winit::{UpdateMode, WinitPlugin, WinitSettings};
use bevy_egui::{EguiInput, EguiPreUpdateSet, PrimaryEguiContext};

use crate::still::Picture;
use crate::theme::Theme;

use super::adapter::{has_display, require_adapter};
use super::desk::Desk;
use super::walk::{self, Content, Progress, Walker};
use super::{ViewerError, narrow};

/// Frames after which a picture that has not come will not come.
const GIVEN_UP: u32 = 600;
/// A picture's frames are told to be so far apart.
const FRAME_S: f64 = 1.0 / 60.0;

/// What is pictured of the window.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sheet {
    /// Pixels across.
    pub width_px: u32,
    /// Pixels down.
    pub height_px: u32,
    /// Pixels a point: 2 on a fine display.
    pub scale: f32,
    /// Whether the panels are there, or only the finder.
    pub panels: bool,
}

/// Opens the window on a desk and stays until it is closed.
///
/// # Errors
/// There is no display or graphics adapter.
pub fn open_window(desk: Desk) -> Result<(), ViewerError> {
    if !has_display() {
        return Err(ViewerError::NoDisplay);
    }
    require_adapter()?;
    let title = format!("{} - Plumbsight", desk.survey().model.site.name);
    let resting = UpdateMode::reactive(Duration::from_secs(3600));
    let mut app = App::new();
    app.add_plugins(
        DefaultPlugins
            .set(WindowPlugin {
                primary_window: Some(Window {
                    title,
                    resolution: WindowResolution::new(1440, 860),
                    present_mode: PresentMode::AutoNoVsync,
                    ..default()
                }),
                ..default()
            })
            .set(RenderPlugin { synchronous_pipeline_compilation: true, ..default() })
            .set(quiet()),
    )
    .add_plugins(walk::plugin)
    .insert_resource(WinitSettings { focused_mode: resting, unfocused_mode: resting })
    .insert_resource(Walker { desk, content: Content::Everything, steady: false })
    .add_systems(Startup, |mut commands: Commands, walker: Res<Walker>| {
        spawn_table(&mut commands, RenderTarget::default(), walker.theme());
    });
    app.run();
    Ok(())
}

/// The picture that the graphics card draws of the window, or of its finder, without a display.
///
/// # Errors
/// There is no graphics adapter, or it gives no picture back.
pub fn picture(desk: Desk, sheet: Sheet) -> Result<Picture, ViewerError> {
    require_adapter()?;
    let answer = Answer(Arc::new(Mutex::new(None)));
    let theme = desk.settings().theme;
    let content = if sheet.panels { Content::Everything } else { Content::Finder };
    let mut app = App::new();
    app.add_plugins(
        DefaultPlugins
            .set(WindowPlugin { primary_window: None, exit_condition: ExitCondition::DontExit, ..default() })
            .set(RenderPlugin { synchronous_pipeline_compilation: true, ..default() })
            .set(quiet())
            .disable::<WinitPlugin>(),
    )
    .add_plugins(ScheduleRunnerPlugin::run_loop(Duration::ZERO))
    .add_plugins(walk::plugin)
    .insert_resource(Walker { desk, content, steady: true })
    .insert_resource(answer.clone())
    .add_systems(Startup, move |mut commands: Commands, mut images: ResMut<Assets<Image>>| {
        let image = images.add(paper([sheet.width_px, sheet.height_px]));
        let target = ImageRenderTarget { handle: image.clone(), scale_factor: sheet.scale };
        spawn_table(&mut commands, RenderTarget::Image(target), theme);
        commands.insert_resource(Paper(image));
    })
    .add_systems(PreUpdate, keep_time.after(EguiPreUpdateSet::ProcessInput).before(EguiPreUpdateSet::BeginPass))
    .add_systems(Last, take);
    app.run();
    let picture = answer.0.lock().map_or(None, |mut answer| answer.take());
    picture.ok_or(ViewerError::NoPicture)
}

/// Only what goes wrong is told on the error stream.
fn quiet() -> LogPlugin {
    LogPlugin { level: Level::ERROR, filter: "error".into(), ..default() }
}

/// The camera that the panels are painted by.
fn spawn_table(commands: &mut Commands, target: RenderTarget, theme: Theme) {
    let [r, g, b] = narrow::linear(theme.palette().table);
    commands.spawn((
        PrimaryEguiContext,
        Camera3d::default(),
        Camera { clear_color: ClearColorConfig::Custom(Color::linear_rgb(r, g, b)), ..default() },
        target,
        Msaa::Off,
        Tonemapping::None,
        RenderLayers::none(),
    ));
}

#[derive(Resource, Clone)]
struct Answer(Arc<Mutex<Option<Picture>>>);

#[derive(Resource)]
struct Paper(Handle<Image>);

/// What the window is drawn on where there is no display.
fn paper([width, height]: [u32; 2]) -> Image {
    let mut image = Image::new_fill(
        Extent3d { width, height, depth_or_array_layers: 1 },
        TextureDimension::D2,
        &[0, 0, 0, 255],
        TextureFormat::Rgba8UnormSrgb,
        bevy::asset::RenderAssetUsages::RENDER_WORLD,
    );
    image.texture_descriptor.usage |= TextureUsages::RENDER_ATTACHMENT | TextureUsages::COPY_SRC;
    image
}

/// Without a display, time goes by in even steps: the same input gives the same picture.
fn keep_time(mut inputs: Query<&mut EguiInput>, mut frames: Local<u64>) {
    *frames += 1;
    for mut input in &mut inputs {
        input.time = Some(*frames as f64 * FRAME_S);
        input.focused = true;
    }
}

/// Takes the picture once everything has settled, then leaves.
fn take(
    mut commands: Commands,
    (progress, paper, answer): (Res<Progress>, Res<Paper>, Res<Answer>),
    mut exit: MessageWriter<AppExit>,
    mut frames: Local<u32>,
    mut settled_frames: Local<u32>,
) {
    *frames += 1;
    // Panels find their places within a few frames.
    *settled_frames = if progress.is_settled() { *settled_frames + 1 } else { 0 };
    if *settled_frames == 4 {
        let answer = answer.clone();
        commands.spawn(Screenshot::image(paper.0.clone())).observe(move |captured: On<ScreenshotCaptured>| {
            let image = &captured.image;
            let (width_px, height_px) = (image.width(), image.height());
            let pixels = image.data.as_deref().unwrap_or_default();
            let rgb = pixels.chunks_exact(4).flat_map(|pixel| [pixel[0], pixel[1], pixel[2]]).collect();
            if let Ok(mut answer) = answer.0.lock() {
                *answer = Some(Picture { width_px, height_px, rgb });
            }
        });
    }
    let answered = answer.0.lock().is_ok_and(|answer| answer.is_some());
    if answered || *frames > GIVEN_UP {
        exit.write(AppExit::Success);
    }
}
