//! How does what the graphics card holds follow the desk? Another site is laid out anew, another sun casts its shadow once,
//! another theme changes the colours.

use bevy::prelude::*;

use crate::survey::Survey;
use crate::theme::Theme;

use super::edges::{self, EdgeMaterial};
use super::finder::FinderCamera;
use super::narrow::Narrow;
use super::shadow_map::{self, SceneLight, ShadowMap, SunCamera};
use super::surfaces::{self, SurfaceKind, SurfaceMaterial};
use crate::viewer::engine::adapter::Quality;

/// A mesh that goes when the site goes.
#[derive(Component)]
pub(in crate::viewer) struct SitePart;

/// What is shown of the desk.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::viewer) struct SceneInput {
    /// Which reading of which site.
    pub(in crate::viewer) site: u64,
    pub(in crate::viewer) light: SceneLight,
    pub(in crate::viewer) theme: Theme,
    /// From contour line to contour line.
    pub(in crate::viewer) interval_m: Option<f64>,
}

/// What the graphics card holds.
#[derive(Resource, Default)]
pub(in crate::viewer) struct RenderedScene {
    laid: Option<(u64, Narrow)>,
    applied: Option<SceneInput>,
    /// Frames for which the shadow must still be drawn.
    shadow_due: u32,
    version: u64,
}

type SunParts = (&'static mut Camera, &'static mut Projection, &'static mut Transform);

/// What it takes to lay a site out.
#[derive(bevy::ecs::system::SystemParam)]
pub(in crate::viewer) struct SceneAssets<'w, 's> {
    commands: Commands<'w, 's>,
    meshes: ResMut<'w, Assets<Mesh>>,
    surface_materials: ResMut<'w, Assets<SurfaceMaterial>>,
    edge_materials: ResMut<'w, Assets<EdgeMaterial>>,
    parts: Query<'w, 's, Entity, With<SitePart>>,
    surfaces: Query<'w, 's, (&'static SurfaceKind, &'static MeshMaterial3d<SurfaceMaterial>)>,
    lines: Query<'w, 's, &'static MeshMaterial3d<EdgeMaterial>>,
    sun: Query<'w, 's, SunParts, (With<SunCamera>, Without<FinderCamera>)>,
    map: Res<'w, ShadowMap>,
    quality: Res<'w, Quality>,
}

impl RenderedScene {
    /// Where the graphics card's world has its origin; `None` until a site is laid out.
    pub(in crate::viewer) fn narrow(&self) -> Option<&Narrow> {
        self.laid.as_ref().map(|(_, narrow)| narrow)
    }

    /// Grows whenever something is to be seen otherwise.
    pub(in crate::viewer) fn version(&self) -> u64 {
        self.version
    }

    /// Lays out and dresses what has changed. `unsettled` is set while not everything has arrived on the graphics card.
    pub(in crate::viewer) fn follow(
        &mut self,
        assets: &mut SceneAssets<'_, '_>,
        survey: &Survey,
        input: SceneInput,
        unsettled: bool,
    ) {
        if self.laid.as_ref().is_none_or(|(site, _)| *site != input.site) {
            for part in &assets.parts {
                assets.commands.entity(part).despawn();
            }
            let narrow = Narrow::about(survey);
            let site = (&survey.model, &narrow);
            let shade = (&assets.map.0, input.light.casts, assets.quality.soft_shadow);
            surfaces::lay(&mut assets.commands, &mut assets.meshes, &mut assets.surface_materials, site, shade);
            edges::draw(&mut assets.commands, &mut assets.meshes, &mut assets.edge_materials, site);
            self.laid = Some((input.site, narrow));
            self.applied = None;
            self.version += 1;
            // The new meshes are there in the next frame; then they get their colours.
            return;
        }
        let Some((_, narrow)) = &self.laid else { return };
        let Ok((mut camera, mut projection, mut transform)) = assets.sun.single_mut() else { return };
        if self.applied != Some(input) {
            let recast = self.applied.is_none_or(|applied| applied.light != input.light) && input.light.casts;
            let shade = shadow_map::cast(
                (&mut projection, &mut transform),
                assets.quality.shadow_px,
                &survey.model,
                narrow,
                input.light,
            );
            surfaces::dress(
                assets.surfaces.iter(),
                &mut assets.surface_materials,
                &survey.model,
                (&shade, assets.quality.soft_shadow),
                (input.theme, input.interval_m),
            );
            edges::dress(assets.lines.iter(), &mut assets.edge_materials, input.theme);
            if recast {
                self.shadow_due = SHADOW_FRAMES;
            }
            self.applied = Some(input);
            self.version += 1;
        }
        let due = unsettled || self.shadow_due > 0;
        self.shadow_due = self.shadow_due.saturating_sub(1);
        if camera.is_active != due {
            camera.is_active = due;
        }
    }

    /// Whether what is to be seen is not all there yet.
    pub(in crate::viewer) fn is_unfinished(&self) -> bool {
        self.applied.is_none() || self.shadow_due > 0
    }
}

/// The shadow is drawn in this many frames, so that it is there whatever arrived late.
const SHADOW_FRAMES: u32 = 2;
