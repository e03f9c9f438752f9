//! What does a person see who stands on the site with their own camera? The window.
//!
//! The window computes no number that it shows: a [`desk::Desk`] holds the stance, the core measures it, and the graphics card
//! draws the same model through the same lens.

mod cards;
pub mod desk;
mod finder;
mod ink;
mod narrow;
pub mod settings;
mod shade;
mod walk;
mod window;
pub mod work;

use std::sync::{Arc, Mutex};

use bevy::app::ScheduleRunnerPlugin;
use bevy::log::{Level, LogPlugin};
use bevy::prelude::*;
use bevy::render::RenderPlugin;
use bevy::render::view::screenshot::{Screenshot, ScreenshotCaptured};
use bevy::window::ExitCondition;
use bevy::winit::WinitPlugin;
use thiserror::Error;

use crate::optics::Camera as Lens;
use crate::pose::Pose;
use crate::site::Sun;
use crate::survey::Survey;
use crate::theme::Theme;

/// Frames after which everything has surely been loaded and drawn.
const SETTLED: u32 = 30;
/// Frames after which a picture that has not come will not come.
const GIVEN_UP: u32 = 600;

/// Why there is no picture.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum ViewerError {
    /// There is no graphics adapter.
    #[error(
        "no graphics adapter was found; install a Vulkan driver (Debian: mesa-vulkan-drivers), or use `plumbsight still`"
    )]
    NoAdapter,
    /// There is no display to open a window on.
    #[error("there is no display to open a window on; use `plumbsight still`, or `view --picture`")]
    NoDisplay,
    /// The stance cannot be taken up.
    #[error(transparent)]
    Stance(#[from] crate::stance::StanceError),
    /// The adapter took the work and gave nothing back.
    #[error("the graphics adapter gave no picture back; use `plumbsight still`")]
    NoPicture,
}

/// What is drawn.
#[derive(Clone, Debug)]
pub struct FinderView {
    /// The lens and frame; its pixels are the picture's.
    pub lens: Lens,
    /// Where it is and how it is turned.
    pub pose: Pose,
    /// Where the sun stands.
    pub sun: Option<Sun>,
    /// The colours.
    pub theme: Theme,
}

/// A picture from the graphics card, in sRGB, three bytes a pixel.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FinderPicture {
    /// Pixels across.
    pub width_px: u32,
    /// Pixels down.
    pub height_px: u32,
    /// Row by row from the top left.
    pub rgb: Vec<u8>,
}

pub use walk::open_window;

#[derive(Resource)]
struct Asked {
    survey: Arc<Survey>,
    view: FinderView,
    answer: Arc<Mutex<Option<FinderPicture>>>,
}

#[derive(Resource)]
struct Target(Handle<Image>);

/// Draws one frame of the finder without a window: the ideal picture plane over the frame, of a plain rectilinear lens.
///
/// # Errors
/// There is no graphics adapter, or it gives no picture back.
pub fn draw_finder(survey: Arc<Survey>, view: FinderView) -> Result<FinderPicture, ViewerError> {
    require_adapter()?;
    let answer = Arc::new(Mutex::new(None));
    let mut app = App::new();
    app.add_plugins(
        DefaultPlugins
            .set(bevy::window::WindowPlugin {
                primary_window: None,
                exit_condition: ExitCondition::DontExit,
                ..default()
            })
            .set(RenderPlugin { synchronous_pipeline_compilation: true, ..default() })
            .set(quiet())
            .disable::<WinitPlugin>(),
    )
    .add_plugins(ScheduleRunnerPlugin::run_loop(std::time::Duration::ZERO))
    .add_plugins((cards::plugin, ink::plugin, shade::plugin))
    .insert_resource(Asked { survey, view, answer: Arc::clone(&answer) })
    .add_systems(Startup, set_up)
    .add_systems(Update, take);
    app.run();
    let picture = answer.lock().map_or(None, |mut answer| answer.take());
    picture.ok_or(ViewerError::NoPicture)
}

/// The engine would end the program without a graphics adapter; so it is looked for first.
fn require_adapter() -> Result<(), ViewerError> {
    let instance = wgpu::Instance::new(wgpu::InstanceDescriptor::new_without_display_handle());
    let adapters = pollster::block_on(instance.enumerate_adapters(wgpu::Backends::PRIMARY));
    if adapters.is_empty() { Err(ViewerError::NoAdapter) } else { Ok(()) }
}

/// Whether a window can be opened here.
pub fn can_open() -> bool {
    has_display() && require_adapter().is_ok()
}

/// Whether there is a display; the engine would end the program without one.
fn has_display() -> bool {
    let named =
        ["WAYLAND_DISPLAY", "DISPLAY"].iter().any(|name| std::env::var_os(name).is_some_and(|value| !value.is_empty()));
    named || !cfg!(all(unix, not(target_os = "macos")))
}

/// Only what goes wrong is told on the error stream.
fn quiet() -> LogPlugin {
    LogPlugin { level: Level::ERROR, filter: "error".into(), ..default() }
}

fn set_up(
    mut commands: Commands,
    asked: Res<Asked>,
    mut meshes: ResMut<Assets<Mesh>>,
    mut images: ResMut<Assets<Image>>,
    mut cards: ResMut<Assets<cards::Card>>,
    mut inks: ResMut<Assets<ink::Ink>>,
) {
    let (survey, view) = (&asked.survey, &asked.view);
    let narrow = narrow::Narrow::about(survey);
    let shade = shade::cast(&mut commands, &mut images, &survey.model, &narrow, view.sun);
    cards::lay(&mut commands, &mut meshes, &mut cards, &survey.model, &narrow, &shade, view.theme);
    ink::draw(&mut commands, &mut meshes, &mut inks, &survey.model, &narrow, view.theme);
    let target = images.add(finder::texture(view.lens.frame.width_px, view.lens.frame.height_px));
    finder::spawn(&mut commands, target.clone(), &view.lens, &view.pose, &narrow);
    commands.insert_resource(Target(target));
}

/// Takes the picture once everything has settled, then leaves.
fn take(
    mut frames: Local<u32>,
    mut commands: Commands,
    target: Res<Target>,
    mut exit: MessageWriter<AppExit>,
    asked: Res<Asked>,
) {
    *frames += 1;
    if *frames == SETTLED {
        let answer = Arc::clone(&asked.answer);
        commands.spawn(Screenshot::image(target.0.clone())).observe(move |captured: On<ScreenshotCaptured>| {
            let image = &captured.image;
            let (width_px, height_px) = (image.width(), image.height());
            let rgb = image.data.iter().flatten().copied().collect::<Vec<u8>>();
            let rgb = rgb.chunks_exact(4).flat_map(|pixel| [pixel[0], pixel[1], pixel[2]]).collect();
            if let Ok(mut answer) = answer.lock() {
                *answer = Some(FinderPicture { width_px, height_px, rgb });
            }
        });
    }
    let answered = asked.answer.lock().is_ok_and(|answer| answer.is_some());
    if answered || *frames > GIVEN_UP {
        exit.write(AppExit::Success);
    }
}
