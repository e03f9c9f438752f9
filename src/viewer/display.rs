//! Where is the window shown: on a display, or on paper where there is none?

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use bevy::app::{PluginGroupBuilder, ScheduleRunnerPlugin};
use bevy::camera::visibility::RenderLayers;
use bevy::camera::{CameraOutputMode, ImageRenderTarget, RenderTarget};
use bevy::core_pipeline::tonemapping::Tonemapping;
use bevy::log::{Level, LogPlugin};
use bevy::prelude::*;
use bevy::render::error_handler::{RenderErrorHandler, RenderErrorPolicy};
use bevy::render::gpu_readback::{Readback, ReadbackComplete};
use bevy::render::render_resource::PollType;
use bevy::render::renderer::{RenderAdapterInfo, RenderDevice, RenderQueue};
use bevy::render::settings::{RenderCreation, WgpuSettings};
use bevy::render::{Render, RenderApp, RenderPlugin, RenderSystems};
use bevy::window::{ExitCondition, Monitor, OnMonitor, PresentMode, PrimaryWindow, WindowResolution};
use bevy::winit::{EventLoopProxyWrapper, UpdateMode, WinitPlugin, WinitSettings, WinitUserEvent};
use bevy_egui::{EguiContexts, EguiInput, EguiPreUpdateSet, PrimaryEguiContext, egui};

use crate::still::Picture;
use crate::theme::Theme;

use super::adapter::{Quality, has_display, name, require_adapter};
use super::carry::CarriedInto;
use super::desk::Desk;
use super::finder::Finder;
use super::pace::{Frames, Pace, StopWatch};
use super::script::{Scenery, Script};
use super::walk::{self, Content, Progress, Walker};
use super::{ViewerError, codes, narrow, peer, thrift};

/// The window at first, in points, where the screen is large enough.
const ROOMY: UVec2 = UVec2::new(1440, 860);
/// How much of a screen a window may fill at first; the rest is for its frame and the desktop's bars.
const SCREEN_SHARE: Vec2 = Vec2::new(0.98, 0.9);
/// Frames after which a picture that has not come will not come.
const GIVEN_UP: u32 = 3000;
/// How long a frame waits for work beside the window.
const BUSY_PAUSE: Duration = Duration::from_millis(4);
/// Frames in which nothing must change until a picture is taken: panels find their places within a few.
const SETTLED_FRAMES: u32 = 4;
/// A device that does not answer by then is not lost but hangs.
const ANSWER: Duration = Duration::from_secs(1);
/// Without a display, frames are told to be so far apart.
const FRAME_S: f64 = 1.0 / 60.0;
/// More frames in which only panels change tell nothing new.
const MOST_PANEL_FRAMES: usize = 1000;
/// Frames that are not counted before the time is taken.
const RUN_UP: usize = 10;

/// The paper that the window is drawn on where there is no display.
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

/// What a script brought back.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Report {
    /// What was told, line by line.
    pub told: Vec<String>,
    /// What was pictured, and where it is to go.
    pub pictures: Vec<(PathBuf, Picture)>,
}

/// Opens the window on a desk and stays until it is closed; a script may use it meanwhile.
///
/// # Errors
/// There is no display or graphics adapter, or the graphics device is lost.
pub fn open_window(desk: Desk, script: Option<Script>) -> Result<Report, ViewerError> {
    if !has_display() {
        return Err(ViewerError::NoDisplay);
    }
    let backends = require_adapter()?;
    let report = Told::default();
    let handed_in = report.clone();
    guarded(move |trouble| {
        let title = title(&desk);
        // What moves elsewhere on the desktop wakes nobody.
        let resting = UpdateMode::reactive_low_power(Duration::from_secs(3600));
        let mut app = App::new();
        app.add_plugins(engine(backends).set(WindowPlugin {
            primary_window: Some(Window {
                title,
                resolution: WindowResolution::new(ROOMY.x, ROOMY.y),
                present_mode: PresentMode::AutoNoVsync,
                ..default()
            }),
            close_when_requested: false,
            ..default()
        }));
        if let Some(proxy) = app.world().get_resource::<EventLoopProxyWrapper>() {
            let proxy = (**proxy).clone();
            let waker: super::work::Waker = Arc::new(move || {
                // A window that has closed needs no waking.
                let _ = proxy.send_event(WinitUserEvent::WakeUp);
            });
            desk.wake().connect(Arc::clone(&waker));
            app.insert_resource(Alarm::set_up(waker));
        }
        app.add_plugins(walk::plugin)
            .add_plugins(trouble)
            .insert_resource(WinitSettings { focused_mode: resting, unfocused_mode: resting })
            .insert_resource(Walker { desk, content: Content::Everything, steady: false })
            .add_systems(Startup, |mut commands: Commands| {
                spawn_table(&mut commands, RenderTarget::default());
            })
            .add_systems(Update, (colour_table, connect_alarm, entitle, fit_screen));
        if let Some(script) = script {
            app.insert_resource(script)
                .insert_resource(handed_in)
                .init_resource::<Wish>()
                .add_systems(PreUpdate, follow_script.in_set(Feeding))
                .configure_sets(PreUpdate, Feeding.after(EguiPreUpdateSet::ProcessInput).before(walk::Calm))
                .add_systems(Last, keep_going);
        }
        app.run()
    })?;
    Ok(report.take())
}

/// The picture that the graphics card draws of the window, or of its finder, without a display.
///
/// # Errors
/// There is no graphics adapter, or it gives no picture back.
pub fn picture(desk: Desk, sheet: Sheet) -> Result<Picture, ViewerError> {
    let report = unseen(desk, sheet, true, move |app, _| {
        app.insert_resource(Wish { path: Some(PathBuf::new()), last: true, ..Wish::default() });
    })?;
    report.pictures.into_iter().next().map(|(_, picture)| picture).ok_or(ViewerError::NoPicture)
}

/// Drives the window by a script, without a display.
///
/// # Errors
/// There is no graphics adapter, or the graphics device is lost.
pub fn drive(desk: Desk, sheet: Sheet, script: Script) -> Result<Report, ViewerError> {
    unseen(desk, sheet, false, move |app, _| {
        app.insert_resource(script)
            .init_resource::<Wish>()
            .add_systems(PreUpdate, follow_script.in_set(Feeding).after(keep_time));
    })
}

/// Takes the time of `frames` frames while the walker walks, and of as many in which only the panels change, without a
/// display. `started` is when the program began.
///
/// # Errors
/// There is no graphics adapter, or the graphics device is lost.
pub fn pace(desk: Desk, sheet: Sheet, frames: usize, started: Instant) -> Result<Pace, ViewerError> {
    timed(desk, sheet, frames, started, Leg::Panels)
}

/// Takes the time of `frames` frames while the walker walks, and of as many with the same meshes in the engine's own material
/// and cascaded shadow, without a display.
///
/// # Errors
/// There is no graphics adapter, or the graphics device is lost.
pub fn contest(desk: Desk, sheet: Sheet, frames: usize) -> Result<Pace, ViewerError> {
    timed(desk, sheet, frames, Instant::now(), Leg::Peer)
}

fn timed(desk: Desk, sheet: Sheet, frames: usize, started: Instant, after: Leg) -> Result<Pace, ViewerError> {
    let found = Arc::new(Mutex::new(Pace::default()));
    let wanted = Arc::clone(&found);
    unseen(desk, sheet, false, move |app, _| {
        app.insert_resource(Race { found: wanted, frames, started, after, leg: Leg::Start, watch: StopWatch::start() })
            .insert_resource(Script::circling(2.0 * frames as f64 * FRAME_S + 60.0))
            .init_resource::<Wish>()
            .add_systems(PreUpdate, race.in_set(Feeding).after(keep_time))
            .add_systems(Last, lap);
    })?;
    let pace = found.lock().unwrap_or_else(PoisonError::into_inner).clone();
    if pace.walking.is_some() { Ok(pace) } else { Err(ViewerError::NoPicture) }
}

/// Runs the window on paper.
fn unseen(desk: Desk, sheet: Sheet, steady: bool, errand: impl FnOnce(&mut App, &Told)) -> Result<Report, ViewerError> {
    let backends = require_adapter()?;
    let report = Told::default();
    let handed_in = report.clone();
    guarded(move |trouble| {
        let content = if sheet.panels { Content::Everything } else { Content::Finder };
        let mut app = App::new();
        app.add_plugins(
            engine(backends)
                .set(WindowPlugin { primary_window: None, exit_condition: ExitCondition::DontExit, ..default() })
                .disable::<WinitPlugin>(),
        )
        .add_plugins(ScheduleRunnerPlugin::run_loop(Duration::ZERO))
        .add_plugins(walk::plugin)
        .add_plugins(trouble)
        .insert_resource(Walker { desk, content, steady })
        .insert_resource(handed_in.clone())
        .add_systems(Startup, move |mut commands: Commands, mut images: ResMut<Assets<Image>>| {
            let size_px = [sheet.width_px, sheet.height_px];
            let handle = images.add(super::finder::texture(size_px));
            let target = ImageRenderTarget { handle: handle.clone(), scale_factor: sheet.scale };
            spawn_table(&mut commands, RenderTarget::Image(target));
            commands.insert_resource(Paper { handle, size_px });
        })
        .configure_sets(PreUpdate, Feeding.after(EguiPreUpdateSet::ProcessInput).before(walk::Calm))
        .add_systems(PreUpdate, keep_time.in_set(Feeding))
        .add_systems(Update, colour_table)
        .add_systems(Last, take);
        if let Some(render) = app.get_sub_app_mut(RenderApp) {
            // Nobody but the clock waits for a frame on paper.
            render.add_systems(Render, finish_frame.in_set(RenderSystems::Cleanup));
        }
        errand(&mut app, &handed_in);
        app.run()
    })?;
    Ok(report.take())
}

/// The input of a frame is made up here.
#[derive(SystemSet, Clone, Debug, PartialEq, Eq, Hash)]
struct Feeding;

/// The engine's parts as both ways of showing the window have them.
fn engine(backends: wgpu::Backends) -> PluginGroupBuilder {
    // Only what goes wrong is told on the error stream.
    let quiet = LogPlugin { level: Level::ERROR, filter: "error".into(), ..default() };
    DefaultPlugins.set(render(backends)).set(quiet).set(thrift::pbr())
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

fn title(desk: &Desk) -> String {
    format!("{} - Plumbsight", desk.survey().model.site.name)
}

/// What went wrong on the graphics device, if anything, and the device to ask.
#[derive(Resource, Clone, Default)]
struct Trouble {
    told: Arc<Mutex<Option<String>>>,
    device: Arc<Mutex<Option<(RenderDevice, RenderQueue)>>>,
}

impl Trouble {
    /// Keeps the first thing that went wrong: what follows comes of it.
    fn tell(&self, text: &str) {
        let mut told = self.told.lock().unwrap_or_else(PoisonError::into_inner);
        told.get_or_insert_with(|| text.lines().next().map(str::trim).unwrap_or("no reason given").to_owned());
    }

    /// What went wrong on the device. Where a device is lost amid a frame, the engine breaks on it before it is told: the
    /// driver is asked once more.
    fn reason(&self) -> Option<String> {
        // A device whose queue is dropped answers no more: it is held as well.
        if let Some((device, _queue)) = self.device.lock().unwrap_or_else(PoisonError::into_inner).take() {
            let late = self.clone();
            device.wgpu_device().set_device_lost_callback(move |_, text| late.tell(&text));
            // What is not answered here was no loss.
            let _ = device.poll(PollType::Wait { submission_index: None, timeout: Some(ANSWER) });
        }
        self.told.lock().unwrap_or_else(PoisonError::into_inner).take()
    }
}

impl Plugin for Trouble {
    fn build(&self, app: &mut App) {
        app.insert_resource(self.clone()).insert_resource(RenderErrorHandler(lost)).add_systems(Startup, keep_device);
    }
}

/// Keeps the device at hand for when something goes wrong on it.
fn keep_device(device: Res<RenderDevice>, queue: Res<RenderQueue>, trouble: Res<Trouble>) {
    *trouble.device.lock().unwrap_or_else(PoisonError::into_inner) = Some((device.clone(), queue.clone()));
}

/// The device is gone: what is kept is kept, the window ends.
fn lost(error: &bevy::render::error_handler::RenderError, main: &mut World, _render: &mut World) -> RenderErrorPolicy {
    if let Some(trouble) = main.get_resource::<Trouble>() {
        trouble.tell(&error.description);
    }
    main.write_message(AppExit::error());
    RenderErrorPolicy::StopRendering
}

/// Runs the engine so that nothing it breaks on breaks the program.
fn guarded(run: impl FnOnce(Trouble) -> AppExit) -> Result<(), ViewerError> {
    let trouble = Trouble::default();
    let (broken, told) = (Arc::new(Mutex::new(None::<String>)), trouble.clone());
    let heard = Arc::clone(&broken);
    let usual = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |panic| {
        let text = panic.payload_as_str().unwrap_or("no reason given").lines().next().unwrap_or_default().to_owned();
        heard.lock().unwrap_or_else(PoisonError::into_inner).get_or_insert(text);
    }));
    let ended = catch_unwind(AssertUnwindSafe(move || run(told)));
    std::panic::set_hook(usual);
    if let Some(reason) = trouble.reason() {
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

/// Wakes the window when it wished to be woken: the engine's loop does not do that by itself.
#[derive(Resource, Clone)]
struct Alarm(Sender<Instant>);

impl Alarm {
    fn set_up(waker: super::work::Waker) -> Self {
        let (send, receive) = channel::<Instant>();
        std::thread::spawn(move || {
            let mut due: Option<Instant> = None;
            loop {
                let got = match due {
                    None => receive.recv().map_err(|_| RecvTimeoutError::Disconnected),
                    Some(due) => receive.recv_timeout(due.saturating_duration_since(Instant::now())),
                };
                match got {
                    Ok(wanted) => due = Some(due.map_or(wanted, |due| due.min(wanted))),
                    Err(RecvTimeoutError::Timeout) => {
                        due = None;
                        waker();
                    }
                    Err(RecvTimeoutError::Disconnected) => return,
                }
            }
        });
        Self(send)
    }
}

/// The panels' wishes to be drawn again later go to the alarm.
fn connect_alarm(mut contexts: EguiContexts, alarm: Option<Res<Alarm>>, mut connected: Local<bool>) {
    let (false, Some(alarm), Ok(context)) = (*connected, alarm, contexts.ctx_mut()) else { return };
    *connected = true;
    let alarm = alarm.0.clone();
    context.set_request_repaint_callback(move |wish| {
        // What is wished at once is drawn at once, without being woken; what is an hour away is nobody's wish.
        if !wish.delay.is_zero() && wish.delay < Duration::from_secs(3600) {
            let _ = alarm.send(Instant::now() + wish.delay);
        }
    });
}

/// The window is called after its site.
fn entitle(walker: Res<Walker>, mut windows: Query<&mut Window, With<PrimaryWindow>>, mut version: Local<u64>) {
    if *version == walker.desk.site_version() {
        return;
    }
    *version = walker.desk.site_version();
    for mut window in &mut windows {
        window.title = title(&walker.desk);
    }
}

/// Makes the window no larger than the screen it opens on, once that is known.
fn fit_screen(
    mut windows: Query<(&mut Window, &OnMonitor), With<PrimaryWindow>>,
    screens: Query<&Monitor>,
    mut fitted: Local<bool>,
) {
    if *fitted {
        return;
    }
    let Ok((mut window, on)) = windows.single_mut() else { return };
    let Ok(screen) = screens.get(on.0) else { return };
    *fitted = true;
    let wanted = window.size();
    let fitting = wanted.min(room(screen));
    if fitting != wanted {
        window.resolution.set(fitting.x, fitting.y);
    }
}

/// The points of a screen that a window may fill at first.
fn room(screen: &Monitor) -> Vec2 {
    (screen.physical_size().as_vec2() / narrow::screen(screen.scale_factor) * SCREEN_SHARE).floor()
}

/// The camera that the panels are painted by.
fn spawn_table(commands: &mut Commands, target: RenderTarget) {
    let paper = if let RenderTarget::Image(paper) = &target { Some(paper.handle.clone()) } else { None };
    let mut table = commands.spawn((
        PrimaryEguiContext,
        Camera3d::default(),
        target,
        Msaa::Off,
        Tonemapping::None,
        codes::SPACE,
        RenderLayers::none(),
    ));
    // Paper takes the picture as it is; a display may have its colours in another order.
    if let Some(paper) = paper {
        table.insert((Camera { output_mode: CameraOutputMode::Skip, ..default() }, CarriedInto(paper)));
    }
}

/// The table itself is what the window is cleared to: no panel has to paint it.
fn colour_table(
    walker: Res<Walker>,
    mut tables: Query<&mut Camera, With<PrimaryEguiContext>>,
    mut worn: Local<Option<Theme>>,
) {
    if *worn == Some(walker.theme()) {
        return;
    }
    let [r, g, b] = narrow::linear(walker.theme().palette().table);
    for mut camera in &mut tables {
        camera.clear_color = ClearColorConfig::Custom(Color::linear_rgb(r, g, b));
        *worn = Some(walker.theme());
    }
}

/// What an errand brings back.
#[derive(Resource, Clone, Default)]
struct Told(Arc<Mutex<Report>>);

impl Told {
    fn with(&self, change: impl FnOnce(&mut Report)) {
        change(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner));
    }

    fn take(&self) -> Report {
        std::mem::take(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

#[derive(Resource)]
struct Paper {
    handle: Handle<Image>,
    size_px: [u32; 2],
}

/// A picture that is wanted, and how far it is.
#[derive(Resource, Default)]
struct Wish {
    path: Option<PathBuf>,
    /// Whether nothing is left to do after it.
    last: bool,
    settled_frames: u32,
    asked: bool,
    frames: u32,
}

fn finish_frame(device: Res<RenderDevice>) {
    // What goes wrong on the device is told by its own handler.
    let _ = device.poll(PollType::wait_indefinitely());
}

/// Without a display, time goes by in even steps: the same input gives the same picture.
fn keep_time(mut inputs: Query<&mut EguiInput>, mut frames: Local<u64>) {
    *frames += 1;
    for mut input in &mut inputs {
        input.time = Some(*frames as f64 * FRAME_S);
        input.focused = true;
    }
}

/// Gives the window what the script has for this frame.
fn follow_script(
    mut inputs: Query<&mut EguiInput>,
    (mut script, mut walker, mut wish): (ResMut<Script>, ResMut<Walker>, ResMut<Wish>),
    (finder, progress, report): (Res<Finder>, Res<Progress>, Res<Told>),
    mut exit: MessageWriter<AppExit>,
) {
    let Ok(mut input) = inputs.single_mut() else { return };
    if wish.path.is_some() {
        return;
    }
    if script.is_over() {
        exit.write(AppExit::Success);
        return;
    }
    let turn = script.turn(&Scenery {
        now_s: input.time.unwrap_or_default(),
        place: finder.place(),
        settled: progress.is_settled() && !walker.desk.is_busy(),
        desk: &walker.desk,
    });
    for action in &turn.actions {
        walker.desk.act(action);
    }
    input.events.extend(turn.events);
    report.with(|report| report.told.extend(turn.told));
    *wish = Wish { path: turn.picture, ..Wish::default() };
}

/// A script goes on whether or not anything is to be seen.
fn keep_going(mut contexts: EguiContexts) {
    if let Ok(context) = contexts.ctx_mut() {
        context.request_repaint();
    }
}

/// Takes the wanted picture once everything has settled.
fn take(
    mut commands: Commands,
    (progress, paper, report, walker): (Res<Progress>, Res<Paper>, Res<Told>, Res<Walker>),
    wish: Option<ResMut<Wish>>,
    mut exit: MessageWriter<AppExit>,
) {
    let Some(mut wish) = wish else { return };
    let Some(path) = wish.path.clone() else { return };
    let busy = walker.desk.is_busy();
    if busy {
        // Work beside the window ends by itself, and wants the processor meanwhile.
        std::thread::sleep(BUSY_PAUSE);
    } else {
        wish.frames += 1;
    }
    if !wish.asked {
        let settled = progress.is_settled() && !busy;
        wish.settled_frames = if settled { wish.settled_frames + 1 } else { 0 };
        if wish.settled_frames == SETTLED_FRAMES {
            wish.asked = true;
            let (report, path) = (report.clone(), path.clone());
            let size_px = paper.size_px;
            commands.spawn(Readback::texture(paper.handle.clone())).observe(
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
    report.with(|report| answered = report.pictures.last().is_some_and(|(taken, _)| wish.asked && *taken == path));
    if !answered && wish.frames < GIVEN_UP {
        return;
    }
    if wish.last || !answered {
        exit.write(AppExit::Success);
    }
    *wish = Wish::default();
}

/// A picture from the bytes of a texture, whose rows the graphics card fills up.
fn picture_of([width_px, height_px]: [u32; 2], bytes: &[u8]) -> Picture {
    let row = RenderDevice::align_copy_bytes_per_row(4 * width_px as usize);
    let pixels = bytes.chunks(row).flat_map(|row| row[..4 * width_px as usize].chunks_exact(4));
    Picture { width_px, height_px, rgb: pixels.flat_map(|pixel| [pixel[0], pixel[1], pixel[2]]).collect() }
}

/// How far the taking of time is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Leg {
    Start,
    Walking,
    Pause,
    Panels,
    /// The engine's own material takes over, and its pipelines arrive.
    Swap,
    Peer,
}

#[derive(Resource)]
struct Race {
    found: Arc<Mutex<Pace>>,
    frames: usize,
    started: Instant,
    /// What comes after the walk: panels alone, or the engine's own material.
    after: Leg,
    leg: Leg,
    watch: StopWatch,
}

impl Race {
    fn note(&self, change: impl FnOnce(&mut Pace)) {
        change(&mut self.found.lock().unwrap_or_else(PoisonError::into_inner));
    }
}

/// Walks, or moves the mouse over the panels.
fn race(
    mut inputs: Query<&mut EguiInput>,
    (mut script, race, walker, finder): (ResMut<Script>, Res<Race>, Res<Walker>, Res<Finder>),
    mut step: Local<u32>,
) {
    let Ok(mut input) = inputs.single_mut() else { return };
    match race.leg {
        Leg::Walking | Leg::Swap | Leg::Peer => {
            let now_s = input.time.unwrap_or_default();
            let scenery = Scenery { now_s, place: finder.place(), settled: false, desk: &walker.desk };
            input.events.extend(script.turn(&scenery).events);
        }
        Leg::Panels => {
            *step += 1;
            // Up and down the instruments at the left.
            let along = narrow::screen(f64::from(*step % 100)) / 100.0;
            input.events.push(egui::Event::PointerMoved(egui::Pos2::new(200.0, 80.0 + 560.0 * along)));
        }
        Leg::Start | Leg::Pause => {
            if race.leg == Leg::Pause {
                input.events.push(egui::Event::WindowFocused(false));
            }
        }
    }
}

/// What it takes to have the engine's own material take over.
type Peers<'w, 's> = (
    Commands<'w, 's>,
    ResMut<'w, Assets<StandardMaterial>>,
    ResMut<'w, Quality>,
    peer::Parts<'w, 's>,
    peer::SunPlace<'w, 's>,
);

/// Takes the time, leg by leg.
fn lap(
    mut race: ResMut<Race>,
    (progress, finder, adapter, walker): (Res<Progress>, Res<Finder>, Res<RenderAdapterInfo>, Res<Walker>),
    (mut commands, mut materials, mut quality, parts, sun): Peers<'_, '_>,
    mut exit: MessageWriter<AppExit>,
    mut frames: Local<u32>,
) {
    *frames += 1;
    let whole = race.frames + RUN_UP;
    match race.leg {
        Leg::Start if progress.is_settled() => {
            let first = race.started.elapsed();
            race.note(|pace| (pace.adapter, pace.first) = (name(&adapter), first));
            (race.leg, race.watch) = (Leg::Walking, StopWatch::start());
            *frames = 0;
        }
        Leg::Walking if *frames as usize > RUN_UP => {
            race.watch.tick();
            if race.watch.count() == race.frames {
                let walking = race.watch.read();
                race.note(|pace| pace.walking = walking);
                race.leg = if race.after == Leg::Peer { Leg::Swap } else { Leg::Pause };
                if race.leg == Leg::Swap {
                    peer::take_over(&mut commands, &mut materials, &parts, sun.single().ok(), walker.theme());
                    // The engine left to itself draws every pixel of the window.
                    quality.moving_share = 1.0;
                }
                *frames = 0;
            }
        }
        // Its pipelines are many: they are there when frames have come for a while.
        Leg::Swap if *frames as usize > 2 * RUN_UP => {
            (race.leg, race.watch) = (Leg::Peer, StopWatch::start());
        }
        Leg::Peer => {
            race.watch.tick();
            if race.watch.count() == race.frames {
                let standard = race.watch.read();
                race.note(|pace| pace.standard = standard);
                exit.write(AppExit::Success);
            }
        }
        Leg::Pause if progress.is_settled() => {
            (race.leg, race.watch) = (Leg::Panels, StopWatch::start());
            *frames = 0;
        }
        Leg::Panels if *frames as usize > RUN_UP => {
            // Were the finder drawn as well, it would be no time of the panels.
            if !finder.is_drawing() {
                race.watch.tick();
            }
            if race.watch.count() == race.frames.min(MOST_PANEL_FRAMES) || *frames as usize > 10 * whole {
                let panels: Option<Frames> = race.watch.read();
                race.note(|pace| pace.panels = panels);
                exit.write(AppExit::Success);
            }
        }
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenes::SCENES;
    use crate::site::{LoadedSite, parse_site, site_hash};
    use crate::survey::{Survey, Wishes};
    use crate::viewer::desk::first_stance;

    /// Takes the graphics device away after a few frames.
    fn take_away(device: Res<RenderDevice>, mut frames: Local<u32>) {
        *frames += 1;
        if *frames == 20 {
            device.wgpu_device().destroy();
        }
    }

    /// What comes of it when `errand` takes the device away.
    fn ended(errand: impl FnOnce(&mut App)) -> Result<Report, ViewerError> {
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
        let desk = Desk::new(survey, stance, Wishes::default()).expect("a stance");
        let sheet = Sheet { width_px: 640, height_px: 480, scale: 1.0, panels: true };
        let give_up = |mut frames: Local<u32>, mut exit: MessageWriter<AppExit>| {
            *frames += 1;
            if *frames == 2000 {
                exit.write(AppExit::Success);
            }
        };
        unseen(desk, sheet, false, |app, _| {
            app.add_systems(Last, give_up);
            errand(app);
        })
    }

    /// The first window on a screen of so many pixels and so many pixels a point.
    fn opened_on(width_px: u32, height_px: u32, scale: f64) -> Vec2 {
        let mut app = App::new();
        let screen = Monitor {
            name: None,
            physical_width: width_px,
            physical_height: height_px,
            physical_position: IVec2::ZERO,
            refresh_rate_millihertz: None,
            scale_factor: scale,
            video_modes: Vec::new(),
        };
        let screen = app.world_mut().spawn(screen).id();
        let mut window = Window { resolution: WindowResolution::new(ROOMY.x, ROOMY.y), ..default() };
        window.resolution.set_scale_factor(narrow::screen(scale));
        let roomy = ROOMY.as_vec2();
        window.resolution.set(roomy.x, roomy.y);
        let window = app.world_mut().spawn((window, PrimaryWindow, OnMonitor(screen))).id();
        app.add_systems(Update, fit_screen);
        app.update();
        app.world().get::<Window>(window).expect("a window").size()
    }

    #[test]
    fn the_first_window_fits_its_screen() {
        assert_eq!(opened_on(1920, 1080, 1.0), ROOMY.as_vec2(), "there is room");
        assert_eq!(opened_on(3840, 2160, 2.0), ROOMY.as_vec2(), "a fine screen has no less");
        assert_eq!(opened_on(1366, 768, 1.0), Vec2::new(1338.0, 691.0));
        assert_eq!(opened_on(1440, 900, 1.0), Vec2::new(1411.0, 810.0));
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
