//! How does the window live? It draws on need: when a key is held, the mouse moves, or the desk has changed.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use bevy::app::AppExit;
use bevy::prelude::*;
use bevy::render::render_resource::PipelineCache;
use bevy::render::renderer::RenderAdapterInfo;
use bevy::render::{Render, RenderApp, RenderSystems};
use bevy::window::{FileDragAndDrop, MonitorSelection, PrimaryWindow, WindowCloseRequested, WindowMode};
use bevy_egui::{
    EguiContexts, EguiGlobalSettings, EguiInput, EguiPlugin, EguiPostUpdateSet, EguiPreUpdateSet,
    EguiPrimaryContextPass, egui,
};

use crate::optics::Camera as Lens;
use crate::pose::Pose;
use crate::stance::Standing;
use crate::still::{Look, View, contour_interval_m};
use crate::survey::Survey;
use crate::theme::Theme;

use super::engine::adapter::Quality;
use super::engine::setup::colour_background;
use super::engine::workarounds::late_frames;
use super::engine::workarounds::output_copy;
use super::engine::workarounds::srgb_panels;
use super::engine::workarounds::unchanged_modifiers;
use super::engine::workarounds::unused_passes;
use super::render::edges;
use super::render::finder::{Finder, FinderAssets, FinderRequest, NextFrame};
use super::render::finder_mesh::FinderPlace;
use super::render::narrow::screen;
use super::render::scene::{RenderedScene, SceneAssets, SceneInput};
use super::render::shadow_map;
use super::render::shadow_map::SceneLight;
use super::render::surfaces;
use super::state::desk::{Action, BuildAction, Desk, DeskName, FileAction, PathQuestion, ShowAction};
use super::ui::keys::{self, HeldKeys};
use super::ui::{FinderPicture, Panels, placed};

/// Frames in which nothing more must arrive on the graphics card until everything counts as there.
const SETTLED_FRAMES: u32 = 3;
/// The longest time that counts as one step of a held key, in seconds: a window that hung does not leap.
const LONGEST_STEP_S: f64 = 0.1;
/// The time that the first frame of a held key counts for.
const FIRST_STEP_S: f64 = 1.0 / 60.0;

/// The camera has come to rest after so long without a step, in seconds.
const RESTED_S: f64 = 0.3;

/// What the window shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Content {
    /// Finder, instruments and panels.
    Everything,
    /// The finder alone, filling it.
    Finder,
}

/// How the window shows the desk.
#[derive(Resource)]
pub(super) struct Presentation {
    pub(super) content: Content,
    /// Whether only the finest picture will do.
    pub(super) steady: bool,
}

/// The steps of a frame, in their order.
#[derive(SystemSet, Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum FrameStep {
    /// A script makes up the input.
    Script,
    /// All input is there, and is put right.
    Input,
    /// The desk does what keys, mouse and desktop ask for.
    Act,
    /// The graphics card follows the desk.
    Follow,
    /// The panels are drawn, and the desk does what they ask for.
    Show,
}

/// Does one thing on the desk, which counts as changed only if something that is shown has.
pub(super) fn act(desk: &mut ResMut<Desk>, action: impl Into<Action>) {
    if desk.bypass_change_detection().act(action) {
        desk.set_changed();
    }
}

/// Whether everything that is drawn with has arrived on the graphics card.
#[derive(Resource, Clone, Default)]
struct Arrived(Arc<AtomicBool>);

/// How far the picture is from what it will stay.
#[derive(Resource, Default)]
pub(super) struct Settling {
    /// Frames since the last thing arrived on the graphics card.
    arrived_frames: u32,
    /// What the finder wants to go on.
    next: NextFrame,
    /// The theme the panels wear, once they are styled.
    styled: Option<Theme>,
    /// When something was last done, by the window's clock, until the camera has rested since.
    acted_at_s: Option<f64>,
    /// From contour line to contour line, as it was found at some place on some site.
    contours: Option<((u64, Lens, Pose), Option<f64>)>,
}

impl Settling {
    fn acted(&mut self, now_s: f64) {
        self.acted_at_s = Some(now_s);
    }

    /// From contour line to contour line as the still would draw them from here. Lines do not leap about while one walks: a
    /// new interval comes when the camera has come to rest.
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
            && self.next == NextFrame::Rest
            && self.styled.is_some()
            && self.acted_at_s.is_none()
    }
}

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
        .init_resource::<RenderedScene>()
        .init_resource::<Finder>()
        .init_resource::<Settling>()
        .init_resource::<HeldKeys>()
        .init_resource::<Arrived>()
        .configure_sets(
            PreUpdate,
            (FrameStep::Script, FrameStep::Input)
                .chain()
                .after(EguiPreUpdateSet::ProcessInput)
                .before(EguiPreUpdateSet::BeginPass),
        )
        .configure_sets(Update, (FrameStep::Act, FrameStep::Follow).chain())
        .add_systems(PreStartup, set_up)
        .add_systems(PreUpdate, unchanged_modifiers::calm.in_set(FrameStep::Input))
        .add_systems(
            Update,
            (
                take_keys.in_set(FrameStep::Act),
                (follow, fill_screen, colour_background.run_if(resource_changed::<Desk>)).in_set(FrameStep::Follow),
            ),
        )
        .add_systems(EguiPrimaryContextPass, show.in_set(FrameStep::Show))
        .add_systems(
            PostUpdate,
            late_frames::draw_again.after(EguiPostUpdateSet::EndPass).before(EguiPostUpdateSet::ProcessOutput),
        );
    app.world_mut().resource_mut::<EguiGlobalSettings>().auto_create_primary_context = false;
    let arrived = app.world().resource::<Arrived>().clone();
    if let Some(render) = app.get_sub_app_mut(RenderApp) {
        render.insert_resource(arrived).add_systems(Render, note_arrival.in_set(RenderSystems::Cleanup));
    }
}

fn set_up(
    mut commands: Commands,
    mut images: ResMut<Assets<Image>>,
    adapter: Res<RenderAdapterInfo>,
    mut settling: ResMut<Settling>,
) {
    // Whoever arrives comes to rest, too.
    settling.acted(0.0);
    let quality = Quality::of(adapter.device_type);
    shadow_map::set_up(&mut commands, &mut images, quality.shadow_px);
    commands.insert_resource(quality);
}

fn note_arrival(cache: Res<PipelineCache>, arrived: Res<Arrived>) {
    let there = cache.pipelines().next().is_some() && cache.waiting_pipelines().next().is_none();
    arrived.0.store(there, Ordering::Relaxed);
}

/// What the desktop asks for.
type DesktopRequests<'w, 's> = (MessageReader<'w, 's, FileDragAndDrop>, MessageReader<'w, 's, WindowCloseRequested>);

/// Does what the keys and the desktop ask for, before anything is drawn.
fn take_keys(
    mut contexts: EguiContexts,
    inputs: Query<&EguiInput>,
    (mut desk, mut hands, mut settling): (ResMut<Desk>, ResMut<HeldKeys>, ResMut<Settling>),
    (mut dropped, mut closed): DesktopRequests<'_, '_>,
    mut exit: MessageWriter<AppExit>,
    mut last_s: Local<f64>,
) {
    for message in dropped.read() {
        if let FileDragAndDrop::DroppedFile { path_buf, .. } = message {
            // While a picture is asked for, a file that is dropped is the answer.
            if desk.asking() == Some(PathQuestion::PictureFromAbove) {
                act(&mut desk, BuildAction::LayPicture(path_buf.clone()));
            } else {
                act(&mut desk, FileAction::Open(path_buf.clone()));
            }
        }
    }
    if closed.read().count() > 0 {
        act(&mut desk, FileAction::Quit);
        exit.write(AppExit::Success);
    }
    let (Ok(context), Ok(input)) = (contexts.ctx_mut(), inputs.single()) else { return };
    if desk.bypass_change_detection().catch_up() {
        desk.set_changed();
        context.request_repaint();
    }
    let now_s = input.time.unwrap_or_default();
    let since_s =
        if hands.are_held() || desk.is_gliding() { (now_s - *last_s).clamp(0.0, LONGEST_STEP_S) } else { FIRST_STEP_S };
    *last_s = now_s;
    let mut actions =
        hands.take(&keys::without_focus_keys(context, &input.events), context.text_edit_focused(), since_s, &desk);
    if desk.is_gliding() {
        actions.push(ShowAction::Pass(since_s).into());
        context.request_repaint();
    }
    if !actions.is_empty() || hands.are_held() || context.input(|input| input.pointer.any_down()) {
        settling.acted(now_s);
    }
    for action in actions {
        act(&mut desk, action);
    }
    match settling.acted_at_s.map(|acted_s| RESTED_S - (now_s - acted_s)) {
        Some(wait_s) if wait_s > 0.0 => context.request_repaint_after_secs(screen(wait_s)),
        Some(_) => {
            settling.acted_at_s = None;
            if desk.bypass_change_detection().rest() {
                desk.set_changed();
                context.request_repaint();
            }
        }
        None => {}
    }
    if hands.are_held() || desk.leaving() {
        context.request_repaint();
    }
    if desk.leaving() {
        exit.write(AppExit::Success);
    }
}

/// Lets the graphics card follow the desk. It runs in every frame: what was asked of the card arrives over several.
fn follow(
    (desk, presentation, quality): (Res<Desk>, Res<Presentation>, Res<Quality>),
    (mut scene, mut finder, mut settling): (ResMut<RenderedScene>, ResMut<Finder>, ResMut<Settling>),
    (mut scene_assets, mut finder_assets): (SceneAssets<'_, '_>, FinderAssets<'_, '_>),
    arrived: Res<Arrived>,
    time: Res<Time<Real>>,
) {
    settling.arrived_frames =
        if arrived.0.load(Ordering::Relaxed) { settling.arrived_frames.saturating_add(1) } else { 0 };
    let unsettled = settling.arrived_frames < SETTLED_FRAMES;
    let measured = desk.measured();
    let standing = &measured.standing;
    let site = desk.site_version();
    // The Build desk measures: there the site stays of card.
    let shown_as = if desk.desk_name() == DeskName::Build { Look::Card } else { desk.settings().finder_look };
    let look = SceneInput {
        site,
        light: SceneLight::of(desk.survey().light(measured.sun), standing.pose.attitude.heading),
        theme: desk.settings().theme,
        interval_m: settling.contours(desk.survey(), standing, site).filter(|_| shown_as == Look::Card),
        look: shown_as,
    };
    let scene_changed = scene.follow(&mut scene_assets, desk.survey(), look, unsettled);
    let Some(narrow) = scene.narrow() else { return };
    let (lens, pose) = desk.shown_camera();
    settling.next = finder.draw(
        &mut finder_assets,
        &FinderRequest {
            lens: &lens,
            pose: &pose,
            narrow,
            quality: &quality,
            now_s: time.elapsed_secs_f64(),
            scene_changed,
            unsettled: unsettled || scene.is_unfinished(),
            steady: presentation.steady,
        },
    );
}

/// The presentation fills the screen.
fn fill_screen(desk: Res<Desk>, mut windows: Query<&mut Window, With<PrimaryWindow>>, mut filled: Local<bool>) {
    if desk.is_showing() == *filled {
        return;
    }
    *filled = desk.is_showing();
    for mut window in &mut windows {
        window.mode =
            if *filled { WindowMode::BorderlessFullscreen(MonitorSelection::Current) } else { WindowMode::Windowed };
    }
}

/// Draws the window and does what it asks.
fn show(
    mut contexts: EguiContexts,
    (mut desk, presentation): (ResMut<Desk>, Res<Presentation>),
    (mut finder, mut settling): (ResMut<Finder>, ResMut<Settling>),
    mut panels: Local<Panels>,
) -> Result {
    let context = contexts.ctx_mut()?;
    match settling.next {
        NextFrame::Rest => {}
        NextFrame::Sharpen(wait_s) => context.request_repaint_after_secs(screen(wait_s)),
        NextFrame::Again => context.request_repaint(),
    }
    let theme = desk.settings().theme;
    if settling.styled != Some(theme) {
        panels.apply_style(context, &desk);
        // Type is there from the next frame on.
        settling.styled = Some(theme);
        context.request_repaint();
        return Ok(());
    }
    let place = match presentation.content {
        Content::Everything if desk.is_showing() => {
            let place = placed(&desk, context.content_rect());
            let place = FinderPlace { shown: place.frame, ..place };
            let painter = context.layer_painter(egui::LayerId::background());
            if let Some(mesh) = finder.mesh() {
                mesh.paint(&painter, &place, theme.palette());
            }
            Some(place)
        }
        Content::Everything => {
            let wanted = panels.window_ui(context, &desk, finder.mesh().map(|mesh| mesh as &dyn FinderPicture));
            if !wanted.actions.is_empty() {
                settling.acted(context.input(|input| input.time));
                context.request_repaint();
            }
            for action in wanted.actions {
                act(&mut desk, action);
            }
            wanted.finder
        }
        Content::Finder => {
            let whole = context.content_rect();
            let place = FinderPlace { frame: whole, shown: whole };
            if let Some(mesh) = finder.mesh() {
                let painter = context.layer_painter(egui::LayerId::background());
                mesh.paint(&painter, &place, theme.palette());
            }
            Some(place)
        }
    };
    let pixels_per_point = context.pixels_per_point();
    if let Some(place) = place {
        let [width_px, height_px] =
            [place.frame.width(), place.frame.height()].map(|side| (side * pixels_per_point).round().max(0.0) as u32);
        desk.bypass_change_detection().shown_at(width_px, height_px);
    }
    if finder.put(place, pixels_per_point) {
        settling.next = NextFrame::Again;
        context.request_repaint();
    }
    Ok(())
}
