//! How does the site become meshes of card?

use bevy::asset::{RenderAssetUsages, embedded_asset};
use bevy::camera::visibility::{NoFrustumCulling, RenderLayers};
use bevy::mesh::{Indices, MeshVertexBufferLayoutRef, PrimitiveTopology};
use bevy::pbr::{MaterialPipeline, MaterialPipelineKey};
use bevy::prelude::*;
use bevy::render::render_resource::{AsBindGroup, RenderPipelineDescriptor, ShaderType, SpecializedMeshPipelineError};
use bevy::shader::ShaderRef;

use crate::pose::WorldPoint;
use crate::site::{Finish, Model, Terrain};
use crate::theme::{Palette, Theme};

use super::narrow::{Narrow, direction, linear, screen};
use super::scene::SitePart;
use super::shade::Shade;

/// The layer of what casts shadows.
pub(super) const CASTERS: usize = 1;
/// Half the width of level ground, water and sky.
const FAR_M: f64 = 20_000.0;
/// How fast distance fades into the sky, per metre.
const HAZE_PER_M: f32 = 1.0 / 2600.0;

pub(super) fn plugin(app: &mut App) {
    embedded_asset!(app, "cards.wgsl");
    app.add_plugins(MaterialPlugin::<Card>::default());
}

/// Matt card under one sun; also the ground, and the sky.
#[derive(Asset, TypePath, AsBindGroup, Clone, Debug)]
pub(super) struct Card {
    #[uniform(0)]
    look: CardLook,
    #[texture(1, sample_type = "depth")]
    #[sampler(2, sampler_type = "comparison")]
    shade: Option<Handle<Image>>,
}

#[derive(ShaderType, Clone, Copy, Debug, Default)]
struct CardLook {
    lit: Vec4,
    shaded: Vec4,
    line: Vec4,
    haze: Vec4,
    sun: Vec4,
    kind: Vec4,
    light_clip_from_world: Mat4,
}

impl Material for Card {
    fn fragment_shader() -> ShaderRef {
        "embedded://plumbsight/viewer/cards.wgsl".into()
    }

    fn specialize(
        _: &MaterialPipeline,
        descriptor: &mut RenderPipelineDescriptor,
        _: &MeshVertexBufferLayoutRef,
        _: MaterialPipelineKey<Self>,
    ) -> Result<(), SpecializedMeshPipelineError> {
        // The sky is seen from inside, decks from below.
        descriptor.primitive.cull_mode = None;
        Ok(())
    }
}

/// Positions and normals on their way to the graphics card.
#[derive(Default)]
struct Sheet {
    positions: Vec<Vec3>,
    normals: Vec<Vec3>,
}

impl Sheet {
    fn mesh(self) -> Mesh {
        let indices = (0..self.positions.len() as u32).collect();
        Mesh::new(PrimitiveTopology::TriangleList, RenderAssetUsages::RENDER_WORLD)
            .with_inserted_attribute(Mesh::ATTRIBUTE_POSITION, self.positions)
            .with_inserted_attribute(Mesh::ATTRIBUTE_NORMAL, self.normals)
            .with_inserted_indices(Indices::U32(indices))
    }
}

/// What a mesh of the site stands for.
#[derive(Component, Clone, Copy, Debug, PartialEq)]
pub(super) enum Stuff {
    Blocks(Finish),
    Ground,
    Water,
    Sky,
}

/// Lays out the whole site, not yet in its colours: each mesh with what it stands for.
pub(super) fn lay(
    commands: &mut Commands,
    meshes: &mut Assets<Mesh>,
    cards: &mut Assets<Card>,
    (model, narrow): (&Model, &Narrow),
    map: &Handle<Image>,
) {
    let mut lay = |mesh: Mesh, stuff: Stuff| {
        let card = cards.add(Card { look: CardLook::default(), shade: Some(map.clone()) });
        let laid =
            commands.spawn((SitePart, stuff, Mesh3d(meshes.add(mesh)), MeshMaterial3d(card), NoFrustumCulling)).id();
        if matches!(stuff, Stuff::Blocks(_)) {
            commands.entity(laid).insert(RenderLayers::from_layers(&[0, CASTERS]));
        }
    };
    for finish in [Finish::Card, Finish::Grey, Finish::Dark, Finish::Leaf] {
        let sheet = blocks(model, narrow, finish);
        if !sheet.positions.is_empty() {
            lay(sheet.mesh(), Stuff::Blocks(finish));
        }
    }
    lay(ground(model, narrow).mesh(), Stuff::Ground);
    if let Some(water_m) = model.site.water_level_m {
        lay(level(narrow, water_m).mesh(), Stuff::Water);
    }
    lay(Cuboid::from_length(screen(4.0 * FAR_M)).mesh().build(), Stuff::Sky);
}

/// Gives each mesh its colours under a sun.
pub(super) fn dress<'a>(
    laid: impl Iterator<Item = (&'a Stuff, &'a MeshMaterial3d<Card>)>,
    cards: &mut Assets<Card>,
    model: &Model,
    shade: &Shade,
    theme: Theme,
) {
    let palette = theme.palette();
    let four = |colour, last: f32| {
        let [r, g, b] = linear(colour);
        Vec4::new(r, g, b, last)
    };
    let interval = contour_interval(model);
    for (stuff, material) in laid {
        let ([lit, shaded], kind, interval) = match stuff {
            Stuff::Blocks(finish) => (tones(palette, *finish), 0.0, 0.0),
            Stuff::Ground => ([palette.ground, palette.ground_shadow], 1.0, interval),
            Stuff::Water => ([palette.water, palette.water], 1.0, 0.0),
            Stuff::Sky => ([palette.sky_high, palette.sky_low], 2.0, 0.0),
        };
        if let Some(mut card) = cards.get_mut(&material.0) {
            card.look = CardLook {
                lit: four(lit, 1.0),
                shaded: four(shaded, 1.0),
                line: four(palette.contour, 1.0),
                haze: four(palette.sky_low, HAZE_PER_M),
                sun: shade.toward_sun.extend(if shade.casts { 1.0 } else { 0.0 }),
                kind: Vec4::new(kind, interval, 0.0, 0.0),
                light_clip_from_world: shade.clip_from_world,
            };
        }
    }
}

fn tones(palette: &Palette, finish: Finish) -> [crate::theme::Colour; 2] {
    match finish {
        Finish::Card => [palette.card_lit, palette.card_shaded],
        Finish::Grey => palette.grey,
        Finish::Dark => palette.dark,
        Finish::Leaf => palette.leaf,
    }
}

fn blocks(model: &Model, narrow: &Narrow, finish: Finish) -> Sheet {
    let mut sheet = Sheet::default();
    for (block, solid) in model.site.blocks.iter().zip(&model.solids) {
        if block.finish != finish {
            continue;
        }
        for triangle in &solid.triangles {
            for corner in solid.corners(triangle) {
                sheet.positions.push(narrow.point(&corner));
                sheet.normals.push(direction(&solid.normal_at(triangle, &corner)));
            }
        }
    }
    sheet
}

fn ground(model: &Model, narrow: &Narrow) -> Sheet {
    let terrain = &model.site.terrain;
    let (Terrain::Grid(grid), triangles) = (terrain, terrain.triangles()) else {
        return level(narrow, terrain.height_m((0.0, 0.0)));
    };
    let step_m = grid.spacing_m.0.min(grid.spacing_m.1);
    let mut sheet = Sheet::default();
    for triangle in triangles {
        for corner in triangle {
            let slope = |dx: f64, dy: f64| {
                let height = |sense: f64| terrain.height_m((corner.x + sense * dx, corner.y + sense * dy));
                (height(1.0) - height(-1.0)) / (2.0 * step_m)
            };
            let normal = crate::pose::WorldVector::new(-slope(step_m, 0.0), -slope(0.0, step_m), 1.0).normalize();
            sheet.positions.push(narrow.point(&corner));
            sheet.normals.push(direction(&normal));
        }
    }
    sheet
}

fn level(narrow: &Narrow, height_m: f64) -> Sheet {
    let corner = |x: f64, y: f64| narrow.point(&WorldPoint::new(x * FAR_M, y * FAR_M, height_m));
    let [sw, se, ne, nw] = [corner(-1.0, -1.0), corner(1.0, -1.0), corner(1.0, 1.0), corner(-1.0, 1.0)];
    Sheet { positions: vec![sw, se, ne, sw, ne, nw], normals: vec![Vec3::Z; 6] }
}

/// A readable interval: about a dozen lines over the site's relief, in steps of 1, 2 and 5.
fn contour_interval(model: &Model) -> f32 {
    let (low, high) = model.site.terrain.range_m();
    let wanted = (high - low) / 12.0;
    if wanted <= 0.0 {
        return 0.0;
    }
    let decade = 10.0_f64.powf(wanted.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].into_iter().find(|step| step * decade >= wanted).unwrap_or(10.0);
    screen(step * decade)
}
