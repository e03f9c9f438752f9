//! How does what the graphics card holds follow the desk? Another site is spawned anew, another sun casts its shadow once,
//! another theme changes the colours.

use bevy::prelude::*;

use crate::survey::Survey;
use crate::theme::Theme;

use super::edges::{self, EdgeMaterial};
use super::finder::FinderCamera;
use super::narrow::Narrow;
use super::shadow_map::{self, SceneLight, ShadowMap, SunCamera};
use super::site_parts::SitePart;
use super::surfaces::{self, ShadowUse, SurfaceKind, SurfaceMaterial};
use crate::viewer::engine::adapter::Quality;

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
    spawned: Option<(u64, Narrow)>,
    coloured: Option<SceneInput>,
    /// Frames for which the shadow must still be drawn.
    shadow_due: u32,
}

type SunParts = (&'static mut Camera, &'static mut Projection, &'static mut Transform);

/// What it takes to spawn and colour a site.
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
        self.spawned.as_ref().map(|(_, narrow)| narrow)
    }

    /// Spawns and colours what has changed. `unsettled` is set while not everything has arrived on the graphics card.
    /// Returns whether something is to be seen otherwise.
    pub(in crate::viewer) fn follow(
        &mut self,
        assets: &mut SceneAssets<'_, '_>,
        survey: &Survey,
        input: SceneInput,
        unsettled: bool,
    ) -> bool {
        if self.spawned.as_ref().is_none_or(|(site, _)| *site != input.site) {
            for part in &assets.parts {
                assets.commands.entity(part).despawn();
            }
            let narrow = Narrow::about(survey);
            let shadow = ShadowUse { map: &assets.map.0, casts: input.light.casts, soft: assets.quality.soft_shadow };
            let (commands, meshes, model) = (&mut assets.commands, &mut assets.meshes, &survey.model);
            surfaces::spawn(commands, meshes, &mut assets.surface_materials, model, &narrow, &shadow);
            edges::spawn(commands, meshes, &mut assets.edge_materials, model, &narrow);
            self.spawned = Some((input.site, narrow));
            self.coloured = None;
            // The new meshes are there in the next frame; then they get their colours.
            return true;
        }
        let Some((_, narrow)) = &self.spawned else { return false };
        let Ok((mut camera, mut projection, mut transform)) = assets.sun.single_mut() else { return false };
        let changed = self.coloured != Some(input);
        if changed {
            let recast = self.coloured.is_none_or(|coloured| coloured.light != input.light) && input.light.casts;
            let cast = shadow_map::cast(&survey.model, narrow, input.light, &assets.quality);
            (*projection, *transform) = (cast.projection, cast.transform);
            surfaces::set_colours(
                assets.surfaces.iter(),
                &mut assets.surface_materials,
                &survey.model,
                &cast.shadow,
                input.theme,
                input.interval_m,
            );
            edges::set_colour(assets.lines.iter(), &mut assets.edge_materials, input.theme);
            if recast {
                self.shadow_due = SHADOW_FRAMES;
            }
            self.coloured = Some(input);
        }
        let due = unsettled || self.shadow_due > 0;
        self.shadow_due = self.shadow_due.saturating_sub(1);
        if camera.is_active != due {
            camera.is_active = due;
        }
        changed
    }

    /// Whether what is to be seen is not all there yet.
    pub(in crate::viewer) fn is_unfinished(&self) -> bool {
        self.coloured.is_none() || self.shadow_due > 0
    }
}

/// The shadow is drawn in this many frames, so that it is there whatever arrived late.
const SHADOW_FRAMES: u32 = 2;
