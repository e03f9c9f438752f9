//! How does what the graphics card holds follow the desk? Another site is laid out anew, another sun casts its shadow once,
//! another theme changes the colours.

use bevy::prelude::*;

use crate::survey::Survey;
use crate::theme::Theme;

use super::edges::{self, Ink};
use super::finder::FinderCamera;
use super::narrow::Narrow;
use super::shadow_map::{self, Light, ShadeMap, SunCamera};
use super::site_parts::SitePart;
use super::surfaces::{self, Card, Stuff};
use crate::viewer::engine::adapter::Quality;

/// What is shown of the desk.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::viewer) struct SceneLook {
    /// Which reading of which site.
    pub(in crate::viewer) site: u64,
    pub(in crate::viewer) light: Light,
    pub(in crate::viewer) theme: Theme,
    /// From contour line to contour line.
    pub(in crate::viewer) interval_m: Option<f64>,
}

/// What the graphics card holds.
#[derive(Resource, Default)]
pub(in crate::viewer) struct Scene {
    laid: Option<(u64, Narrow)>,
    dressed: Option<SceneLook>,
    /// Frames for which the shadow must still be drawn.
    shade_due: u32,
}

type SunParts = (&'static mut Camera, &'static mut Projection, &'static mut Transform);

/// What it takes to lay a site out.
#[derive(bevy::ecs::system::SystemParam)]
pub(in crate::viewer) struct SceneAssets<'w, 's> {
    commands: Commands<'w, 's>,
    meshes: ResMut<'w, Assets<Mesh>>,
    cards: ResMut<'w, Assets<Card>>,
    inks: ResMut<'w, Assets<Ink>>,
    parts: Query<'w, 's, Entity, With<SitePart>>,
    stuff: Query<'w, 's, (&'static Stuff, &'static MeshMaterial3d<Card>)>,
    lines: Query<'w, 's, &'static MeshMaterial3d<Ink>>,
    sun: Query<'w, 's, SunParts, (With<SunCamera>, Without<FinderCamera>)>,
    map: Res<'w, ShadeMap>,
    quality: Res<'w, Quality>,
}

impl Scene {
    /// Where the graphics card's world has its origin; `None` until a site is laid out.
    pub(in crate::viewer) fn narrow(&self) -> Option<&Narrow> {
        self.laid.as_ref().map(|(_, narrow)| narrow)
    }

    /// Lays out and dresses what has changed. `unsettled` is set while not everything has arrived on the graphics card.
    /// Returns whether something is to be seen otherwise.
    pub(in crate::viewer) fn follow(
        &mut self,
        assets: &mut SceneAssets<'_, '_>,
        survey: &Survey,
        wanted: SceneLook,
        unsettled: bool,
    ) -> bool {
        if self.laid.as_ref().is_none_or(|(site, _)| *site != wanted.site) {
            for part in &assets.parts {
                assets.commands.entity(part).despawn();
            }
            let narrow = Narrow::about(survey);
            let site = (&survey.model, &narrow);
            let shade = (&assets.map.0, wanted.light.casts, assets.quality.soft_shade);
            surfaces::lay(&mut assets.commands, &mut assets.meshes, &mut assets.cards, site, shade);
            edges::draw(&mut assets.commands, &mut assets.meshes, &mut assets.inks, site);
            self.laid = Some((wanted.site, narrow));
            self.dressed = None;
            // The new meshes are there in the next frame; then they get their colours.
            return true;
        }
        let Some((_, narrow)) = &self.laid else { return false };
        let Ok((mut camera, mut projection, mut transform)) = assets.sun.single_mut() else { return false };
        let changed = self.dressed != Some(wanted);
        if changed {
            let recast = self.dressed.is_none_or(|dressed| dressed.light != wanted.light) && wanted.light.casts;
            let shade = shadow_map::cast(
                (&mut projection, &mut transform),
                assets.quality.shade_px,
                &survey.model,
                narrow,
                wanted.light,
            );
            surfaces::dress(
                assets.stuff.iter(),
                &mut assets.cards,
                &survey.model,
                (&shade, assets.quality.soft_shade),
                (wanted.theme, wanted.interval_m),
            );
            edges::dress(assets.lines.iter(), &mut assets.inks, wanted.theme);
            if recast {
                self.shade_due = SHADE_FRAMES;
            }
            self.dressed = Some(wanted);
        }
        let due = unsettled || self.shade_due > 0;
        self.shade_due = self.shade_due.saturating_sub(1);
        if camera.is_active != due {
            camera.is_active = due;
        }
        changed
    }

    /// Whether what is to be seen is not all there yet.
    pub(in crate::viewer) fn is_unfinished(&self) -> bool {
        self.dressed.is_none() || self.shade_due > 0
    }
}

/// The shadow is drawn in this many frames, so that it is there whatever arrived late.
const SHADE_FRAMES: u32 = 2;
