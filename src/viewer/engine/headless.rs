//! How is the window drawn where there is no display? Into an image that is read back.

use std::path::PathBuf;
use std::time::Duration;

use bevy::app::ScheduleRunnerPlugin;
use bevy::camera::{ImageRenderTarget, RenderTarget};
use bevy::prelude::*;
use bevy::render::gpu_readback::{Readback, ReadbackComplete};
use bevy::render::render_resource::PollType;
use bevy::render::renderer::RenderDevice;
use bevy::render::{Render, RenderApp, RenderSystems};
use bevy::window::ExitCondition;
use bevy::winit::WinitPlugin;
use bevy_egui::EguiInput;

use crate::still::Picture;

use super::adapter::require_adapter;
use super::setup::{engine, guarded, spawn_panel_camera};
use crate::viewer::app::{self, Content, FrameStep, Presentation, Settling};
use crate::viewer::automation::playback::{Report, SharedReport, WantedPicture, follow_script};
use crate::viewer::automation::script::Script;
use crate::viewer::error::ViewerError;
use crate::viewer::state::desk::Desk;

/// Frames after which a picture that has not come will not come.
const GIVEN_UP: u32 = 3000;
/// How long a frame waits for work in the background.
const BUSY_PAUSE: Duration = Duration::from_millis(4);
/// Frames in which nothing must change until a picture is taken: panels find their places within a few.
const SETTLED_FRAMES: u32 = 4;
/// Without a display, frames are told to be so far apart.
pub(in crate::viewer) const FRAME_S: f64 = 1.0 / 60.0;

/// The window where there is no display.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeadlessWindow {
    /// Pixels across.
    pub width_px: u32,
    /// Pixels down.
    pub height_px: u32,
    /// Pixels a point: 2 on a fine display.
    pub scale: f32,
    /// Whether the panels are there, or only the finder.
    pub panels: bool,
}

/// The picture that the graphics card draws of the window, or of its finder, without a display.
///
/// # Errors
/// There is no graphics adapter, or it gives no picture back.
pub fn picture(desk: Desk, sheet: HeadlessWindow) -> Result<Picture, ViewerError> {
    let report = headless(desk, sheet, true, move |app, _| {
        app.insert_resource(WantedPicture { path: Some(PathBuf::new()), last: true, ..WantedPicture::default() });
    })?;
    report.pictures.into_iter().next().map(|(_, picture)| picture).ok_or(ViewerError::NoPicture)
}

/// Drives the window by a script, without a display.
///
/// # Errors
/// There is no graphics adapter, or the graphics device is lost.
pub fn drive(desk: Desk, sheet: HeadlessWindow, script: Script) -> Result<Report, ViewerError> {
    headless(desk, sheet, false, move |app, _| {
        app.insert_resource(script)
            .init_resource::<WantedPicture>()
            .add_systems(PreUpdate, follow_script.in_set(FrameStep::Script).after(keep_time));
    })
}

/// Runs the window on image.
pub(in crate::viewer) fn headless(
    desk: Desk,
    sheet: HeadlessWindow,
    steady: bool,
    prepare: impl FnOnce(&mut App, &SharedReport),
) -> Result<Report, ViewerError> {
    let backends = require_adapter()?;
    let report = SharedReport::default();
    let handed_in = report.clone();
    guarded(move |failure| {
        let content = if sheet.panels { Content::Everything } else { Content::Finder };
        let mut app = App::new();
        app.add_plugins(
            engine(backends)
                .set(WindowPlugin { primary_window: None, exit_condition: ExitCondition::DontExit, ..default() })
                .disable::<WinitPlugin>(),
        )
        .add_plugins(ScheduleRunnerPlugin::run_loop(Duration::ZERO))
        .add_plugins(app::plugin)
        .add_plugins(failure)
        .insert_resource(desk)
        .insert_resource(Presentation { content, steady })
        .insert_resource(handed_in.clone())
        .add_systems(Startup, move |mut commands: Commands, mut images: ResMut<Assets<Image>>| {
            let size_px = [sheet.width_px, sheet.height_px];
            let handle = images.add(crate::viewer::render::finder::texture(size_px));
            let target = ImageRenderTarget { handle: handle.clone(), scale_factor: sheet.scale };
            spawn_panel_camera(&mut commands, RenderTarget::Image(target));
            commands.insert_resource(HeadlessTarget { handle, size_px });
        })
        .add_systems(PreUpdate, keep_time.in_set(FrameStep::Script))
        .add_systems(Last, take.run_if(resource_exists::<WantedPicture>));
        if let Some(render) = app.get_sub_app_mut(RenderApp) {
            // Nobody but the clock waits for a frame on image.
            render.add_systems(Render, finish_frame.in_set(RenderSystems::Cleanup));
        }
        prepare(&mut app, &handed_in);
        app.run()
    })?;
    Ok(report.take())
}

#[derive(Resource)]
struct HeadlessTarget {
    handle: Handle<Image>,
    size_px: [u32; 2],
}

fn finish_frame(device: Res<RenderDevice>) {
    // What goes wrong on the device is told by its own handler.
    let _ = device.poll(PollType::wait_indefinitely());
}

/// Without a display, time goes by in even steps: the same input gives the same picture.
pub(in crate::viewer) fn keep_time(mut inputs: Query<&mut EguiInput>, mut frames: Local<u64>) {
    *frames += 1;
    for mut input in &mut inputs {
        input.time = Some(*frames as f64 * FRAME_S);
        input.focused = true;
    }
}

/// Takes the wanted picture once everything has settled.
fn take(
    mut commands: Commands,
    (settling, image, report, desk): (Res<Settling>, Res<HeadlessTarget>, Res<SharedReport>, Res<Desk>),
    mut wanted: ResMut<WantedPicture>,
    mut exit: MessageWriter<AppExit>,
) {
    let Some(path) = wanted.path.clone() else { return };
    let busy = desk.is_busy();
    if busy {
        // Work in the background ends by itself, and wants the processor meanwhile.
        std::thread::sleep(BUSY_PAUSE);
    } else {
        wanted.frames += 1;
    }
    if !wanted.asked {
        let settled = settling.is_settled() && !busy;
        wanted.settled_frames = if settled { wanted.settled_frames + 1 } else { 0 };
        if wanted.settled_frames == SETTLED_FRAMES {
            wanted.asked = true;
            let (report, path) = (report.clone(), path.clone());
            let size_px = image.size_px;
            commands.spawn(Readback::texture(image.handle.clone())).observe(
                move |read: On<ReadbackComplete>, mut commands: Commands, mut taken: Local<bool>| {
                    // It is read in every frame until it is told to stop.
                    if !std::mem::replace(&mut *taken, true) {
                        report.with(|report| report.pictures.push((path.clone(), picture_of(size_px, &read.data))));
                        commands.entity(read.entity).despawn();
                    }
                },
            );
        }
    }
    let mut answered = false;
    report.with(|report| answered = report.pictures.last().is_some_and(|(taken, _)| wanted.asked && *taken == path));
    if !answered && wanted.frames < GIVEN_UP {
        return;
    }
    if wanted.last || !answered {
        exit.write(AppExit::Success);
    }
    *wanted = WantedPicture::default();
}

/// A picture from the bytes of a texture, whose rows the graphics card fills up.
fn picture_of([width_px, height_px]: [u32; 2], bytes: &[u8]) -> Picture {
    let row = RenderDevice::align_copy_bytes_per_row(4 * width_px as usize);
    let pixels = bytes.chunks(row).flat_map(|row| row[..4 * width_px as usize].chunks_exact(4));
    Picture::of_rgb(width_px, height_px, pixels.flat_map(|pixel| [pixel[0], pixel[1], pixel[2]]).collect())
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use bevy::render::{Render, RenderApp, RenderSystems};

    use super::*;
    use crate::scenes::SCENES;
    use crate::site::{LoadedSite, parse_site, site_hash};
    use crate::survey::{MeasureSettings, Survey};
    use crate::viewer::state::desk::first_stance;

    /// Takes the graphics device away after a few frames.
    fn take_away(device: Res<RenderDevice>, mut frames: Local<u32>) {
        *frames += 1;
        if *frames == 20 {
            device.wgpu_device().destroy();
        }
    }

    /// What comes of it when `prepare` takes the device away.
    fn ended(prepare: impl FnOnce(&mut App)) -> Result<Report, ViewerError> {
        let text = SCENES[0].text;
        let site = parse_site(text, "saltings").expect("in order");
        let loaded = LoadedSite {
            site,
            path: "saltings.site.ron".into(),
            text: text.into(),
            hash: site_hash(text),
            warnings: Default::default(),
        };
        let survey = Arc::new(Survey::of(loaded));
        let stance = first_stance(&survey);
        let desk = Desk::new(survey, stance, MeasureSettings::default()).expect("a stance");
        let sheet = HeadlessWindow { width_px: 640, height_px: 480, scale: 1.0, panels: true };
        let give_up = |mut frames: Local<u32>, mut exit: MessageWriter<AppExit>| {
            *frames += 1;
            if *frames == 2000 {
                exit.write(AppExit::Success);
            }
        };
        headless(desk, sheet, false, |app, _| {
            app.add_systems(Last, give_up);
            prepare(app);
        })
    }

    #[test]
    fn a_graphics_device_that_is_lost_ends_the_window_with_a_word() {
        let between = ended(|app| {
            app.add_systems(Last, take_away);
        });
        let amid = ended(|app| {
            let render = app.get_sub_app_mut(RenderApp).expect("an engine that draws");
            render.add_systems(Render, take_away.in_set(RenderSystems::PrepareAssets));
        });
        for ended in [between, amid] {
            let Err(ViewerError::Lost { reason }) = &ended else { panic!("{ended:?}") };
            assert!(!reason.is_empty());
        }
    }
}
