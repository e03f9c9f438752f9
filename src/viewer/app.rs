//! How does the window live? It draws on need: when a key is held, the mouse moves, or the desk has changed.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use bevy::app::AppExit;
use bevy::prelude::*;
use bevy::render::render_resource::PipelineCache;
use bevy::render::renderer::RenderAdapterInfo;
use bevy::render::{Render, RenderApp, RenderSystems};
use bevy::window::{FileDragAndDrop, WindowCloseRequested};
use bevy_egui::{
    EguiContexts, EguiGlobalSettings, EguiInput, EguiPlugin, EguiPreUpdateSet, EguiPrimaryContextPass, egui,
};

use crate::optics::Camera as Lens;
use crate::pose::Pose;
use crate::stance::Standing;
use crate::still::{View, contour_interval_m};
use crate::survey::Survey;
use crate::theme::Theme;

use super::engine::adapter::Quality;
use super::engine::workarounds::output_copy;
use super::engine::workarounds::srgb_panels;
use super::engine::workarounds::unchanged_modifiers;
use super::engine::workarounds::unused_passes;
use super::render::edges;
use super::render::finder::{Easel, Finder, Next};
use super::render::finder_sheet::FinderPlace;
use super::render::narrow::screen;
use super::render::scene::{Scene, Table, Wanted};
use super::render::shadow_map;
use super::render::shadow_map::Light;
use super::render::surfaces;
use super::state::desk::{Desk, FileAction};
use super::ui::keys::Hands;
use super::ui::{self, FinderPicture, Panels};

/// Frames in which nothing more must arrive on the graphics card until everything counts as there.
const SETTLED_FRAMES: u32 = 3;
/// The longest time that counts as one step of a held key, in seconds: a window that hung does not leap.
const LONGEST_STEP_S: f64 = 0.1;
/// The time that the first frame of a held key counts for.
const FIRST_STEP_S: f64 = 1.0 / 60.0;

/// The walker has come to rest after so long without a step, in seconds.
const RESTED_S: f64 = 0.3;

/// What the window shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Content {
    /// Finder, instruments and panels.
    Everything,
    /// The finder alone, filling it.
    Finder,
}

/// Who walks, and what they look at.
#[derive(Resource)]
pub(super) struct Walker {
    pub(super) desk: Desk,
    pub(super) content: Content,
    /// Whether only the finest picture will do.
    pub(super) steady: bool,
}

impl Walker {
    pub(super) fn theme(&self) -> Theme {
        self.desk.settings().theme
    }
}

/// Whether everything that is drawn with has arrived on the graphics card.
#[derive(Resource, Clone, Default)]
struct Arrived(Arc<AtomicBool>);

/// How far the window has come.
#[derive(Resource, Default)]
pub(super) struct Progress {
    /// Frames since the last thing arrived on the graphics card.
    arrived_frames: u32,
    /// What the finder wants to go on.
    next: Next,
    /// The theme the panels wear, once they are dressed.
    dressed: Option<Theme>,
    /// When something was last done, by the window's clock, until the walker has rested since.
    acted_at_s: Option<f64>,
    /// From contour line to contour line, as it was found at some place on some site.
    contours: Option<((u64, Lens, Pose), Option<f64>)>,
}

impl Progress {
    fn acted(&mut self, now_s: f64) {
        self.acted_at_s = Some(now_s);
    }

    /// From contour line to contour line as the still would draw them from here. Lines do not leap about while one walks: a
    /// new interval comes when the walker has come to rest.
    fn contours(&mut self, survey: &Survey, standing: &Standing, site: u64) -> Option<f64> {
        let here = (site, standing.camera, standing.pose);
        if let Some((from, interval_m)) = &self.contours
            && (*from == here || (from.0 == site && self.acted_at_s.is_some()))
        {
            return *interval_m;
        }
        let view = View { camera: standing.camera, pose: standing.pose, focus: None };
        let interval_m = contour_interval_m(&survey.model, &survey.sight, &view);
        self.contours = Some((here, interval_m));
        interval_m
    }

    /// Whether the picture is what it will stay until something changes.
    pub(super) fn is_settled(&self) -> bool {
        self.arrived_frames >= SETTLED_FRAMES
            && self.next == Next::Rest
            && self.dressed.is_some()
            && self.acted_at_s.is_none()
    }
}

/// All input of a frame is there.
#[derive(SystemSet, Clone, Debug, PartialEq, Eq, Hash)]
pub(super) struct Calm;

pub(super) fn plugin(app: &mut App) {
    // Arrays of textures cost more than they save where a few textures are drawn.
    app.add_plugins(EguiPlugin { bindless_mode_array_size: None })
        .add_plugins((
            surfaces::plugin,
            output_copy::plugin,
            srgb_panels::plugin,
            edges::plugin,
            shadow_map::plugin,
            unused_passes::plugin,
        ))
        .init_resource::<Scene>()
        .init_resource::<Finder>()
        .init_resource::<Progress>()
        .init_resource::<Hands>()
        .init_resource::<Arrived>()
        .add_systems(PreStartup, set_up)
        .add_systems(
            PreUpdate,
            unchanged_modifiers::calm
                .in_set(Calm)
                .after(EguiPreUpdateSet::ProcessInput)
                .before(EguiPreUpdateSet::BeginPass),
        )
        .add_systems(Update, (take_keys, follow).chain())
        .add_systems(EguiPrimaryContextPass, show);
    app.world_mut().resource_mut::<EguiGlobalSettings>().auto_create_primary_context = false;
    let arrived = app.world().resource::<Arrived>().clone();
    if let Some(render) = app.get_sub_app_mut(RenderApp) {
        render.insert_resource(arrived).add_systems(Render, tell_arrival.in_set(RenderSystems::Cleanup));
    }
}

fn set_up(
    mut commands: Commands,
    mut images: ResMut<Assets<Image>>,
    adapter: Res<RenderAdapterInfo>,
    mut progress: ResMut<Progress>,
) {
    // Whoever arrives comes to rest, too.
    progress.acted(0.0);
    let quality = Quality::of(adapter.device_type);
    shadow_map::set_up(&mut commands, &mut images, quality.shade_px);
    commands.insert_resource(quality);
}

fn tell_arrival(cache: Res<PipelineCache>, arrived: Res<Arrived>) {
    let there = cache.pipelines().next().is_some() && cache.waiting_pipelines().next().is_none();
    arrived.0.store(there, Ordering::Relaxed);
}

/// What asks for something that is not drawn by the panels.
type Asks<'w, 's> = (MessageReader<'w, 's, FileDragAndDrop>, MessageReader<'w, 's, WindowCloseRequested>);

/// Does what the keys and the desktop ask for, before anything is drawn.
fn take_keys(
    mut contexts: EguiContexts,
    inputs: Query<&EguiInput>,
    (mut walker, mut hands, mut progress): (ResMut<Walker>, ResMut<Hands>, ResMut<Progress>),
    (mut dropped, mut closed): Asks<'_, '_>,
    mut exit: MessageWriter<AppExit>,
    mut last_s: Local<f64>,
) {
    for message in dropped.read() {
        if let FileDragAndDrop::DroppedFile { path_buf, .. } = message {
            walker.desk.act(FileAction::Open(path_buf.clone()));
        }
    }
    if closed.read().count() > 0 {
        walker.desk.act(FileAction::Quit);
        exit.write(AppExit::Success);
    }
    let (Ok(context), Ok(input)) = (contexts.ctx_mut(), inputs.single()) else { return };
    if walker.desk.catch_up() {
        context.request_repaint();
    }
    let now_s = input.time.unwrap_or_default();
    let since_s = if hands.are_held() { (now_s - *last_s).clamp(0.0, LONGEST_STEP_S) } else { FIRST_STEP_S };
    *last_s = now_s;
    let actions =
        hands.take(&ui::left_to_hands(context, &input.events), context.text_edit_focused(), since_s, &walker.desk);
    let acted = !actions.is_empty();
    for action in actions {
        walker.desk.act(action);
    }
    if acted || hands.are_held() || context.input(|input| input.pointer.any_down()) {
        progress.acted(now_s);
    }
    match progress.acted_at_s.map(|acted_s| RESTED_S - (now_s - acted_s)) {
        Some(wait_s) if wait_s > 0.0 => context.request_repaint_after_secs(screen(wait_s)),
        Some(_) => {
            progress.acted_at_s = None;
            if walker.desk.rest() {
                context.request_repaint();
            }
        }
        None => {}
    }
    if hands.are_held() || walker.desk.leaving() {
        context.request_repaint();
    }
    if walker.desk.leaving() {
        exit.write(AppExit::Success);
    }
}

/// Lets the graphics card follow the desk.
fn follow(
    (walker, quality): (Res<Walker>, Res<Quality>),
    (mut scene, mut finder, mut progress): (ResMut<Scene>, ResMut<Finder>, ResMut<Progress>),
    (mut table, mut easel): (Table<'_, '_>, Easel<'_, '_>),
    arrived: Res<Arrived>,
    time: Res<Time<Real>>,
) {
    progress.arrived_frames =
        if arrived.0.load(Ordering::Relaxed) { progress.arrived_frames.saturating_add(1) } else { 0 };
    let unsettled = progress.arrived_frames < SETTLED_FRAMES;
    let measured = walker.desk.measured();
    let site = walker.desk.site_version();
    let wanted = Wanted {
        site,
        light: Light::of(measured.sun, measured.standing.pose.attitude.heading),
        theme: walker.theme(),
        interval_m: progress.contours(walker.desk.survey(), &measured.standing, site),
    };
    scene.follow(&mut table, walker.desk.survey(), wanted, unsettled);
    let Some(narrow) = scene.narrow() else { return };
    let standing = &measured.standing;
    // Straightened, the picture is what a camera would take that is turned so from the same place.
    let (camera, pose) = match walker.desk.straightened() {
        Some(Ok(straight)) => (straight.camera, Pose { attitude: straight.attitude, ..standing.pose }),
        _ => (standing.camera, standing.pose),
    };
    let next = finder.draw(
        &mut easel,
        (&camera, &pose),
        narrow,
        (&quality, scene.version(), time.elapsed_secs_f64()),
        (unsettled || scene.is_unfinished(), walker.steady),
    );
    progress.next = next;
}

/// Draws the window and does what it asks.
fn show(
    mut contexts: EguiContexts,
    mut walker: ResMut<Walker>,
    mut finder: ResMut<Finder>,
    mut progress: ResMut<Progress>,
    mut panels: Local<Panels>,
) -> Result {
    let context = contexts.ctx_mut()?;
    match progress.next {
        Next::Rest => {}
        Next::Sharpen(wait_s) => context.request_repaint_after_secs(screen(wait_s)),
        Next::Again => context.request_repaint(),
    }
    if progress.dressed != Some(walker.theme()) {
        panels.dress(context, &walker.desk);
        // Type is there from the next frame on.
        progress.dressed = Some(walker.theme());
        context.request_repaint();
        return Ok(());
    }
    let place = match walker.content {
        Content::Everything => {
            let wanted =
                panels.window_ui(context, &walker.desk, finder.sheet().map(|sheet| sheet as &dyn FinderPicture));
            let acted = !wanted.actions.is_empty();
            for action in wanted.actions {
                walker.desk.act(action);
            }
            if acted {
                progress.acted(context.input(|input| input.time));
                context.request_repaint();
            }
            wanted.finder
        }
        Content::Finder => {
            let whole = context.content_rect();
            let place = FinderPlace { frame: whole, shown: whole };
            if let Some(sheet) = finder.sheet() {
                let painter = context.layer_painter(egui::LayerId::background());
                sheet.paint(&painter, &place, walker.theme().palette());
            }
            Some(place)
        }
    };
    let pixels_per_point = context.pixels_per_point();
    if let Some(place) = place {
        let [width_px, height_px] =
            [place.frame.width(), place.frame.height()].map(|side| (side * pixels_per_point).round().max(0.0) as u32);
        walker.desk.shown_at(width_px, height_px);
    }
    if finder.put(place, pixels_per_point) {
        progress.next = Next::Again;
        context.request_repaint();
    }
    Ok(())
}
