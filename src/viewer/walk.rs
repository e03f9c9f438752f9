//! How does the window live? It draws on need: when a key is held, the mouse moves, or the desk has changed.

use std::collections::BTreeSet;
use std::sync::Arc;

use bevy::camera::RenderTarget;
use bevy::camera::visibility::RenderLayers;
use bevy::core_pipeline::tonemapping::Tonemapping;
use bevy::prelude::*;
use bevy::render::RenderPlugin;
use bevy::window::{PresentMode, PrimaryWindow, WindowResolution};
use bevy::winit::{UpdateMode, WinitSettings};
use bevy_egui::{
    EguiContexts, EguiGlobalSettings, EguiInput, EguiPlugin, EguiPreUpdateSet, EguiPrimaryContextPass,
    EguiTextureHandle, EguiUserTextures, PrimaryEguiContext, egui,
};

use crate::angle::Angle;
use crate::site::{Aim, Stance};
use crate::survey::{Survey, Wishes};
use crate::theme::Theme;

use super::desk::{Action, Desk};
use super::finder::{self, Finder};
use super::narrow::Narrow;
use super::window::{FinderImage, dress, window_ui};
use super::{ViewerError, cards, has_display, ink, quiet, require_adapter, shade};

/// Walking pace and running pace, metres a second.
const WALK_M_PER_S: f64 = 2.2;
const RUN_M_PER_S: f64 = 7.0;
/// How fast the arrows turn, degrees a second.
const TURN_DEG_PER_S: f64 = 32.0;
/// The finder is drawn this many frames after it changed, then rests.
const FRESH_FRAMES: u32 = 3;
/// Frames at the start in which materials and textures arrive.
const WARM_FRAMES: u32 = 40;

#[derive(Resource)]
struct Walker {
    desk: Desk,
    theme: Theme,
    narrow: Narrow,
}

#[derive(Resource)]
struct FinderTexture {
    handle: Handle<Image>,
    image: FinderImage,
    size: (u32, u32),
    /// Frames for which the finder still has to be drawn.
    fresh: u32,
}

/// Opens the window on a stance and stays until it is closed.
///
/// # Errors
/// There is no display or graphics adapter, or the stance is impossible.
pub fn open_window(survey: Arc<Survey>, stance: Stance, wishes: Wishes, theme: Theme) -> Result<(), ViewerError> {
    if !has_display() {
        return Err(ViewerError::NoDisplay);
    }
    require_adapter()?;
    let narrow = Narrow::about(&survey);
    let desk = Desk::new(survey, stance, wishes)?;
    let title = format!("{} - Plumbsight", desk.survey().model.site.name);
    let resting = UpdateMode::reactive(std::time::Duration::from_secs(3600));
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
    .add_plugins(EguiPlugin::default())
    .add_plugins((cards::plugin, ink::plugin, shade::plugin))
    .insert_resource(WinitSettings { focused_mode: resting, unfocused_mode: resting })
    .insert_resource(Walker { desk, theme, narrow })
    .add_systems(Startup, set_up)
    .add_systems(PreUpdate, calm.after(EguiPreUpdateSet::ProcessInput).before(EguiPreUpdateSet::BeginPass))
    .add_systems(EguiPrimaryContextPass, show)
    .add_systems(Update, refresh);
    app.world_mut().resource_mut::<EguiGlobalSettings>().auto_create_primary_context = false;
    app.run();
    Ok(())
}

fn set_up(
    mut commands: Commands,
    walker: Res<Walker>,
    mut meshes: ResMut<Assets<Mesh>>,
    mut images: ResMut<Assets<Image>>,
    mut cards: ResMut<Assets<cards::Card>>,
    mut inks: ResMut<Assets<ink::Ink>>,
    mut textures: ResMut<EguiUserTextures>,
) {
    let (survey, narrow, theme) = (walker.desk.survey(), &walker.narrow, walker.theme);
    let measured = walker.desk.measured();
    let shade = shade::cast(&mut commands, &mut images, &survey.model, narrow, measured.sun);
    cards::lay(&mut commands, &mut meshes, &mut cards, &survey.model, narrow, &shade, theme);
    ink::draw(&mut commands, &mut meshes, &mut inks, &survey.model, narrow, theme);
    let size = (900, 600);
    let handle = images.add(finder::texture(size.0, size.1));
    let id = textures.add_image(EguiTextureHandle::Strong(handle.clone()));
    finder::spawn(&mut commands, handle.clone(), &measured.standing.camera, &measured.standing.pose, narrow);
    commands.insert_resource(FinderTexture { handle, image: FinderImage { id }, size, fresh: WARM_FRAMES });
    let [r, g, b] = super::narrow::linear(theme.palette().table);
    commands.spawn((
        PrimaryEguiContext,
        Camera3d::default(),
        Camera { clear_color: ClearColorConfig::Custom(Color::linear_rgb(r, g, b)), ..default() },
        RenderTarget::default(),
        Msaa::Off,
        Tonemapping::None,
        RenderLayers::none(),
    ));
}

/// An unchanged state of the modifier keys is no reason to draw again.
fn calm(mut inputs: Query<&mut EguiInput>, mut last: Local<egui::Modifiers>) {
    for mut input in &mut inputs {
        let mut known = *last;
        input.0.events.retain(|event| match event {
            egui::Event::ModifiersChanged(modifiers) => {
                let changed = *modifiers != known;
                known = *modifiers;
                changed
            }
            _ => true,
        });
        *last = known;
    }
}

/// Draws the window and does what it asks.
fn show(
    mut contexts: EguiContexts,
    mut walker: ResMut<Walker>,
    texture: Option<ResMut<FinderTexture>>,
    mut dressed: Local<bool>,
) -> Result {
    let context = contexts.ctx_mut()?;
    if !*dressed {
        dress(context, walker.theme);
        // Type is there from the next frame on.
        *dressed = true;
        context.request_repaint();
        return Ok(());
    }
    let Some(mut texture) = texture else { return Ok(()) };
    let mut wanted = window_ui(context, &walker.desk, Some(texture.image), walker.theme);
    wanted.actions.extend(keys(context, &walker.desk));
    let mut changed = false;
    for action in &wanted.actions {
        changed |= walker.desk.act(action);
    }
    if wanted.actions.is_empty() {
        walker.desk.rest();
    }
    if let Some(size) = wanted.finder_px.filter(|size| *size != texture.size && size.0 > 0 && size.1 > 0) {
        texture.size = size;
        changed = true;
    }
    if changed {
        texture.fresh = texture.fresh.max(FRESH_FRAMES);
    }
    if texture.fresh > 0 {
        context.request_repaint();
    }
    Ok(())
}

/// What the keys ask for.
fn keys(context: &egui::Context, desk: &Desk) -> Vec<Action> {
    use egui::Key;
    if context.egui_wants_keyboard_input() {
        return Vec::new();
    }
    let mut actions = Vec::new();
    let held: BTreeSet<Key> = context.input(|input| input.keys_down.iter().copied().collect());
    let (seconds, running) = context.input(|input| (f64::from(input.stable_dt.min(0.1)), input.modifiers.shift));
    let axis = |more: Key, less: Key| f64::from(i8::from(held.contains(&more)) - i8::from(held.contains(&less)));
    let (ahead, right) = (axis(Key::W, Key::S), axis(Key::D, Key::A));
    if ahead != 0.0 || right != 0.0 {
        let step_m = if running { RUN_M_PER_S } else { WALK_M_PER_S } * seconds;
        actions.push(Action::Walk { ahead_m: ahead * step_m, right_m: right * step_m });
    }
    let (turn, tilt) = (axis(Key::ArrowRight, Key::ArrowLeft), axis(Key::ArrowUp, Key::ArrowDown));
    if turn != 0.0 || tilt != 0.0 {
        let by = |sense: f64| Angle::from_degrees(sense * TURN_DEG_PER_S * seconds);
        actions.push(Action::Look { heading: by(turn), pitch: by(tilt) });
    }
    let climb = axis(Key::E, Key::Q);
    if climb != 0.0 {
        let standing = &desk.measured().standing;
        let height_m = standing.height_m().unwrap_or(standing.pose.eye.z);
        actions.push(Action::Height(height_m + climb * seconds));
    }
    if !actions.is_empty() {
        context.request_repaint();
    }
    let pressed = |key: Key| context.input(|input| input.key_pressed(key));
    for (key, action) in [
        (Key::F, Action::Aim(Aim::Fill)),
        (Key::L, Action::Level),
        (Key::R, Action::Aim(Aim::Rise)),
        (Key::V, Action::Turn),
        (Key::Backspace, Action::Undo),
        (Key::Enter, Action::Redo),
    ] {
        if pressed(key) {
            actions.push(action);
        }
    }
    actions
}

/// Brings the finder up to date while it is fresh, then lets it rest.
fn refresh(
    walker: Res<Walker>,
    texture: Option<ResMut<FinderTexture>>,
    mut images: ResMut<Assets<Image>>,
    mut cameras: Query<(&mut Camera, &mut Projection, &mut Transform), With<Finder>>,
    windows: Query<&Window, With<PrimaryWindow>>,
) {
    let (Some(mut texture), false) = (texture, windows.is_empty()) else { return };
    let Ok((mut camera, mut projection, mut transform)) = cameras.single_mut() else { return };
    if texture.fresh == 0 {
        if camera.is_active {
            camera.is_active = false;
        }
        return;
    }
    texture.fresh -= 1;
    let size = texture.size;
    if images.get(&texture.handle).is_some_and(|image| (image.width(), image.height()) != size) {
        // The handle stays, so the window's texture and the camera's target follow.
        let _ = images.insert(texture.handle.id(), finder::texture(size.0, size.1));
    }
    camera.is_active = true;
    let standing = &walker.desk.measured().standing;
    let (window, _) = finder::bending(&standing.camera);
    *projection = finder::projection(&window);
    *transform = finder::transform(&standing.pose, &walker.narrow);
}
