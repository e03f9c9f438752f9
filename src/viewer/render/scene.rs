//! How does what the graphics card holds follow the desk? Another site is spawned anew, another sun casts its shadow once,
//! another theme changes the colours.

use std::sync::Arc;

use bevy::camera::RenderTarget;
use bevy::prelude::*;

use crate::still::{FlatTones, Look};
use crate::survey::Survey;
use crate::theme::Theme;

use super::edges::{self, EdgeMaterial};
use super::finder::FinderCamera;
use super::narrow::Narrow;
use super::shadow_map::{self, MapDetail, SceneLight, ShadowMaps, SunCamera};
use super::site_parts::{Cell, SiteGroups, SitePart};
use super::surfaces::{self, SurfaceColours, SurfaceKind, SurfaceMaterial, SurfaceSpawner};
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
    pub(in crate::viewer) look: Look,
}

/// What the graphics card holds.
#[derive(Resource, Default)]
pub(in crate::viewer) struct RenderedScene {
    spawned: Option<SpawnedSite>,
    coloured: Option<SceneInput>,
    /// Frames for which the shadow must still be drawn.
    shadow_due: u32,
    /// How well it is drawn: coarsely while the sun goes on, fully once it stands.
    detail: MapDetail,
}

/// The site that meshes were made of.
struct SpawnedSite {
    version: u64,
    survey: Arc<Survey>,
    narrow: Narrow,
    groups: SiteGroups,
    ink: Handle<EdgeMaterial>,
}

type SunParts = (&'static mut Camera, &'static mut Projection, &'static mut Transform, &'static mut RenderTarget);

/// What it takes to spawn and colour a site.
#[derive(bevy::ecs::system::SystemParam)]
pub(in crate::viewer) struct SceneAssets<'w, 's> {
    commands: Commands<'w, 's>,
    meshes: ResMut<'w, Assets<Mesh>>,
    surface_materials: ResMut<'w, Assets<SurfaceMaterial>>,
    edge_materials: ResMut<'w, Assets<EdgeMaterial>>,
    parts: Query<'w, 's, (Entity, &'static SitePart)>,
    surfaces: Query<'w, 's, (&'static SurfaceKind, &'static MeshMaterial3d<SurfaceMaterial>)>,
    sun: Query<'w, 's, SunParts, (With<SunCamera>, Without<FinderCamera>)>,
    maps: Res<'w, ShadowMaps>,
    quality: Res<'w, Quality>,
}

impl RenderedScene {
    /// Where the graphics card's world has its origin; `None` until a site is laid out.
    pub(in crate::viewer) fn narrow(&self) -> Option<&Narrow> {
        self.spawned.as_ref().map(|spawned| &spawned.narrow)
    }

    /// Spawns and colours what has changed. `unsettled` is set while not everything has arrived on the graphics card.
    /// Returns whether something is to be seen otherwise.
    pub(in crate::viewer) fn follow(
        &mut self,
        assets: &mut SceneAssets<'_, '_>,
        survey: &Arc<Survey>,
        input: SceneInput,
        unsettled: bool,
    ) -> bool {
        let other_site = self.spawned.as_ref().is_none_or(|spawned| spawned.version != input.site);
        let relit = self.coloured.is_none_or(|coloured| coloured.light != input.light);
        let stands = self.detail == MapDetail::Coarse && self.shadow_due == 0 && !relit;
        let changed = self.coloured != Some(input) || stands;
        if changed {
            self.detail = match relit && !other_site && input.light.casts {
                true => MapDetail::Coarse,
                false if self.shadow_due > 0 => self.detail,
                false => MapDetail::Full,
            };
            let narrow =
                self.spawned.as_ref().map_or_else(|| Narrow::about(survey), |spawned| spawned.narrow.kept_for(survey));
            let cast = shadow_map::cast(&survey.model, &narrow, input.light, (&assets.quality, self.detail));
            let map = assets.maps.of(self.detail).clone();
            let flat = (input.look == Look::Materials)
                .then(|| FlatTones::of(&survey.model, input.light.casts.then_some(&input.light.from)));
            let colours = SurfaceColours {
                materials: flat.as_ref(),
                shadow: &cast.shadow,
                map: &map,
                theme: input.theme,
                interval_m: input.interval_m,
                water_m: survey.model.site.water_level_m,
            };
            // Meshes of card know no colours.
            let other_look = self.coloured.is_some_and(|coloured| coloured.look != input.look);
            if other_look {
                self.spawned = None;
            }
            let respawns = other_site || other_look;
            surfaces::set_colours(assets.surfaces.iter(), &mut assets.surface_materials, &colours);
            if let Some(spawned) = &self.spawned
                && let Some(mut ink) = assets.edge_materials.get_mut(&spawned.ink)
            {
                *ink = edges::ink(input.theme);
            }
            if respawns {
                let before = self.spawned.take();
                self.spawned = Some(spawn(assets, survey, input, narrow, colours, before));
            }
            if (respawns || relit || stands) && input.light.casts {
                self.shadow_due = SHADOW_FRAMES;
            }
            if let Ok((_, mut projection, mut transform, mut target)) = assets.sun.single_mut() {
                (*projection, *transform, *target) = (cast.projection, cast.transform, cast.target);
            }
            self.coloured = Some(input);
        }
        let due = unsettled || self.shadow_due > 0;
        self.shadow_due = self.shadow_due.saturating_sub(1);
        if let Ok((mut camera, ..)) = assets.sun.single_mut()
            && camera.is_active != due
        {
            camera.is_active = due;
        }
        changed
    }

    /// Whether what is to be seen is not all there yet.
    pub(in crate::viewer) fn is_unfinished(&self) -> bool {
        self.coloured.is_none() || self.shadow_due > 0 || self.detail == MapDetail::Coarse
    }
}

/// Makes meshes of a site; those that it has in common with the site `before` stay.
fn spawn(
    assets: &mut SceneAssets<'_, '_>,
    survey: &Arc<Survey>,
    input: SceneInput,
    narrow: Narrow,
    colours: SurfaceColours<'_>,
    before: Option<SpawnedSite>,
) -> SpawnedSite {
    let model = &survey.model;
    let alike = before.filter(|before| {
        let (site, other) = (&model.site, &before.survey.model.site);
        before.narrow == narrow && site.terrain == other.terrain && site.water_level_m == other.water_level_m
    });
    let (groups, stale, ink) = match alike {
        Some(SpawnedSite { survey: before, groups, ink, .. }) => {
            let (groups, stale) = groups.after(&before.model, model);
            (groups, Some(stale), ink)
        }
        None => (SiteGroups::over(model), None, assets.edge_materials.add(edges::ink(input.theme))),
    };
    let is_stale = |cell: &Cell| stale.as_ref().is_none_or(|stale| stale.contains(cell));
    for (part, SitePart(cell)) in &assets.parts {
        if cell.as_ref().map_or(stale.is_none(), is_stale) {
            assets.commands.entity(part).despawn();
        }
    }
    let made: Vec<(Cell, &[usize])> =
        groups.cells.iter().filter(|(cell, _)| is_stale(cell)).map(|(cell, members)| (*cell, &members[..])).collect();
    let mut spawner = SurfaceSpawner {
        commands: &mut assets.commands,
        meshes: &mut assets.meshes,
        materials: &mut assets.surface_materials,
        colours,
        narrow: &narrow,
    };
    for (cell, members) in &made {
        spawner.blocks(model, *cell, members);
    }
    if stale.is_none() {
        spawner.everywhere(model);
    }
    // Materials have no inked edges.
    if input.look == Look::Card {
        edges::spawn(&mut assets.commands, &mut assets.meshes, &ink, model, &narrow, &made);
    }
    SpawnedSite { version: input.site, survey: Arc::clone(survey), narrow, groups, ink }
}

/// The shadow is drawn in this many frames, so that it is there whatever arrived late.
const SHADOW_FRAMES: u32 = 2;
