//! How does the window stand on a display: how large, under which title, and awake when?

use std::sync::Arc;
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::time::{Duration, Instant};

use bevy::camera::RenderTarget;
use bevy::prelude::*;
use bevy::window::{Monitor, OnMonitor, PresentMode, PrimaryWindow, WindowResolution};
use bevy::winit::{EventLoopProxyWrapper, UpdateMode, WinitSettings, WinitUserEvent};
use bevy_egui::EguiContexts;

use super::adapter::{has_display, require_adapter};
use super::setup::{engine, guarded, spawn_panel_camera};
use crate::viewer::app::{self, Content, FrameStep, Presentation};
use crate::viewer::automation::playback::{Report, SharedReport, WantedPicture, follow_script, keep_going};
use crate::viewer::automation::script::Script;
use crate::viewer::error::ViewerError;
use crate::viewer::render::narrow;
use crate::viewer::state::desk::Desk;
use crate::viewer::state::work::Waker;

/// The window at first, in points, where the screen is large enough.
const ROOMY: UVec2 = UVec2::new(1440, 860);
/// How much of a screen a window may fill at first; the rest is for its frame and the desktop's bars.
const SCREEN_SHARE: Vec2 = Vec2::new(0.98, 0.9);

/// Opens the window on a desk and stays until it is closed; a script may use it meanwhile.
///
/// # Errors
/// There is no display or graphics adapter, or the graphics device is lost.
pub fn open_window(desk: Desk, script: Option<Script>) -> Result<Report, ViewerError> {
    if !has_display() {
        return Err(ViewerError::NoDisplay);
    }
    let backends = require_adapter()?;
    let report = SharedReport::default();
    let handed_in = report.clone();
    guarded(move |failure| {
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
            let waker: Waker = Arc::new(move || {
                // A window that has closed needs no waking.
                let _ = proxy.send_event(WinitUserEvent::WakeUp);
            });
            desk.wake().connect(Arc::clone(&waker));
            app.insert_resource(Alarm::set_up(waker));
        }
        app.add_plugins(app::plugin)
            .add_plugins(failure)
            .insert_resource(WinitSettings { focused_mode: resting, unfocused_mode: resting })
            .insert_resource(desk)
            .insert_resource(Presentation { content: Content::Everything, steady: false })
            .add_systems(Startup, |mut commands: Commands| {
                spawn_panel_camera(&mut commands, RenderTarget::default());
            })
            .add_systems(Update, (connect_alarm, entitle.run_if(resource_changed::<Desk>), fit_screen));
        if let Some(script) = script {
            app.insert_resource(script)
                .insert_resource(handed_in)
                .init_resource::<WantedPicture>()
                .add_systems(PreUpdate, follow_script.in_set(FrameStep::Script))
                .add_systems(Last, keep_going);
        }
        app.run()
    })?;
    Ok(report.take())
}

fn title(desk: &Desk) -> String {
    format!("{} - Plumbsight", desk.survey().model.site.name)
}

/// Wakes the window when it required to be woken: the engine's loop does not do that by itself.
#[derive(Resource, Clone)]
struct Alarm(Sender<Instant>);

impl Alarm {
    fn set_up(waker: Waker) -> Self {
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

/// The panels' requirements to be drawn again later go to the alarm.
fn connect_alarm(mut contexts: EguiContexts, alarm: Option<Res<Alarm>>, mut connected: Local<bool>) {
    let (false, Some(alarm), Ok(context)) = (*connected, alarm, contexts.ctx_mut()) else { return };
    *connected = true;
    let alarm = alarm.0.clone();
    context.set_request_repaint_callback(move |wanted| {
        // What is required at once is drawn at once, without being woken; what is an hour away is nobody's requirement.
        if !wanted.delay.is_zero() && wanted.delay < Duration::from_secs(3600) {
            let _ = alarm.send(Instant::now() + wanted.delay);
        }
    });
}

/// The window is called after its site.
fn entitle(desk: Res<Desk>, mut windows: Query<&mut Window, With<PrimaryWindow>>) {
    let title = title(&desk);
    for mut window in &mut windows {
        if window.title != title {
            window.title.clone_from(&title);
        }
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

#[cfg(test)]
mod tests {
    use super::*;

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
}
