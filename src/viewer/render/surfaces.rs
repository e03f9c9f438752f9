//! How does the site become meshes of card?

use std::collections::HashMap;

use bevy::asset::{RenderAssetUsages, embedded_asset};
use bevy::camera::visibility::{NoFrustumCulling, RenderLayers};
use bevy::mesh::{Indices, MeshVertexBufferLayoutRef, PrimitiveTopology};
use bevy::pbr::{MaterialPipeline, MaterialPipelineKey};
use bevy::prelude::*;
use bevy::render::render_resource::{AsBindGroup, RenderPipelineDescriptor, ShaderType, SpecializedMeshPipelineError};
use bevy::shader::ShaderRef;

use crate::pose::WorldPoint;
use crate::site::{Finish, Model};
use crate::still::{FlatTones, GroundSurface, card_tones, face_tones};
use crate::theme::{Colour, Theme};

use super::narrow::{Narrow, direction, linear, screen};
use super::shadow_map::SunShadow;
use super::site_parts::{CASTERS, Cell, SitePart, is_quiet};

/// Half the width of level ground, water and sky.
const FAR_M: f64 = 20_000.0;
/// The ground's triangles are cut finer, as long as there are no more than so many: contours bend in them.
const GROUND_TRIANGLES: usize = 60_000;

pub(in crate::viewer) fn plugin(app: &mut App) {
    embedded_asset!(app, "surfaces.wgsl");
    app.add_plugins(MaterialPlugin::<SurfaceMaterial>::default());
}

/// Matt card under one sun; also the ground, and the sky.
#[derive(Asset, TypePath, AsBindGroup, Clone, Debug)]
#[bind_group_data(SurfaceKey)]
pub(in crate::viewer) struct SurfaceMaterial {
    #[uniform(0)]
    uniform: SurfaceUniform,
    #[texture(1, sample_type = "depth")]
    #[sampler(2, sampler_type = "comparison")]
    shade: Option<Handle<Image>>,
    key: SurfaceKey,
}

/// By which of the shader's pipelines a card is drawn.
#[repr(C)]
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(in crate::viewer) struct SurfaceKey(u32);

impl SurfaceKey {
    const BLOCKS: u32 = 1;
    const GROUND: u32 = 2;
    const WATER: u32 = 4;
    const SKY: u32 = 8;
    const SHADE: u32 = 16;
    const SOFT_SHADE: u32 = 32;
    const MATERIALS: u32 = 64;
    const WORDS: [(u32, &str); 7] = [
        (Self::BLOCKS, "BLOCKS"),
        (Self::GROUND, "GROUND"),
        (Self::WATER, "WATER"),
        (Self::SKY, "SKY"),
        (Self::SHADE, "SHADE"),
        (Self::SOFT_SHADE, "SOFT_SHADE"),
        (Self::MATERIALS, "MATERIALS"),
    ];

    fn of(kind: SurfaceKind, casts: bool, soft: bool, materials: bool) -> Self {
        let kind = match kind {
            SurfaceKind::Blocks { .. } => Self::BLOCKS,
            SurfaceKind::Ground => Self::GROUND,
            SurfaceKind::Water => Self::WATER,
            SurfaceKind::Sky => Self::SKY,
        };
        let set = |bit: u32, on: bool| if on { bit } else { 0 };
        Self(kind | set(Self::SHADE, casts) | set(Self::SOFT_SHADE, casts && soft) | set(Self::MATERIALS, materials))
    }
}

impl From<&SurfaceMaterial> for SurfaceKey {
    fn from(card: &SurfaceMaterial) -> Self {
        card.key
    }
}

/// See the shader for what each holds.
#[derive(ShaderType, Clone, Copy, Debug, Default)]
struct SurfaceUniform {
    lit: Vec4,
    shaded: Vec4,
    line: Vec4,
    haze: Vec4,
    glow: Vec4,
    sun: Vec4,
    ground: Vec4,
    shade: Vec4,
    light_clip_from_world: Mat4,
}

impl Material for SurfaceMaterial {
    fn fragment_shader() -> ShaderRef {
        "embedded://plumbsight/viewer/render/surfaces.wgsl".into()
    }

    fn alpha_mode(&self) -> AlphaMode {
        // The sky hides nothing and comes when all else is there, so that only what is seen of it is drawn.
        if self.key.0 & SurfaceKey::SKY == 0 { AlphaMode::Opaque } else { AlphaMode::Mask(0.0) }
    }

    fn specialize(
        _: &MaterialPipeline,
        descriptor: &mut RenderPipelineDescriptor,
        _: &MeshVertexBufferLayoutRef,
        key: MaterialPipelineKey<Self>,
    ) -> Result<(), SpecializedMeshPipelineError> {
        if let Some(fragment) = &mut descriptor.fragment {
            let words = SurfaceKey::WORDS.into_iter().filter(|(bit, _)| key.bind_group_data.0 & bit != 0);
            fragment.shader_defs.extend(words.map(|(_, word)| word.into()));
        }
        // The sky is seen from inside, decks from below.
        descriptor.primitive.cull_mode = None;
        Ok(())
    }
}

/// Corners on their way to the graphics card.
#[derive(Default)]
struct SurfaceMesh {
    positions: Vec<Vec3>,
    normals: Vec<Vec3>,
    /// For ground: the height that contours count by, and 1 where it is known.
    marks: Vec<Vec2>,
    /// For blocks in their materials: what each corner's face is.
    tones: Vec<[f32; 4]>,
    indices: Vec<u32>,
}

impl SurfaceMesh {
    fn corner(&mut self, position: Vec3, normal: Vec3) {
        self.indices.push(self.positions.len() as u32);
        self.positions.push(position);
        self.normals.push(normal);
    }

    fn mesh(self) -> Mesh {
        let mesh = Mesh::new(PrimitiveTopology::TriangleList, RenderAssetUsages::RENDER_WORLD)
            .with_inserted_attribute(Mesh::ATTRIBUTE_POSITION, self.positions)
            .with_inserted_attribute(Mesh::ATTRIBUTE_NORMAL, self.normals)
            .with_inserted_indices(Indices::U32(self.indices));
        let mesh = match self.marks.is_empty() {
            true => mesh,
            false => mesh.with_inserted_attribute(Mesh::ATTRIBUTE_UV_0, self.marks),
        };
        match self.tones.is_empty() {
            true => mesh,
            false => mesh.with_inserted_attribute(Mesh::ATTRIBUTE_COLOR, self.tones),
        }
    }
}

/// What a mesh of the site stands for.
#[derive(Component, Clone, Copy, Debug, PartialEq)]
pub(in crate::viewer) enum SurfaceKind {
    /// Blocks of one finish; quiet where the picture is not about them.
    Blocks {
        finish: Finish,
        quiet: bool,
    },
    Ground,
    Water,
    Sky,
}

/// How surfaces are coloured.
pub(in crate::viewer) struct SurfaceColours<'a> {
    pub(in crate::viewer) shadow: &'a SunShadow,
    /// The map that it is drawn on.
    pub(in crate::viewer) map: &'a Handle<Image>,
    pub(in crate::viewer) theme: Theme,
    /// From contour line to contour line.
    pub(in crate::viewer) interval_m: Option<f64>,
    pub(in crate::viewer) water_m: Option<f64>,
    /// What the site is like in its materials, where it is shown in them.
    pub(in crate::viewer) materials: Option<&'a FlatTones>,
}

impl SurfaceColours<'_> {
    fn key(&self, kind: SurfaceKind) -> SurfaceKey {
        SurfaceKey::of(kind, self.shadow.casts, self.shadow.soft, self.materials.is_some())
    }

    fn uniform(&self, kind: SurfaceKind) -> SurfaceUniform {
        let palette = self.theme.palette();
        let light = |colour| {
            let [r, g, b] = linear(colour);
            Vec4::new(r, g, b, 1.0)
        };
        let coded = |colour: Colour| {
            let [r, g, b] = [colour.0, colour.1, colour.2].map(|channel| f32::from(channel) / 255.0);
            Vec4::new(r, g, b, 1.0)
        };
        let [lit, shaded] = match (kind, self.materials) {
            (SurfaceKind::Blocks { .. }, Some(flat)) => flat.light,
            (SurfaceKind::Ground, Some(flat)) => flat.ground,
            (SurfaceKind::Water, Some(flat)) => [flat.water, flat.water],
            (SurfaceKind::Sky, Some(flat)) => flat.sky,
            (SurfaceKind::Blocks { finish, quiet }, None) => card_tones(palette, finish, quiet),
            (SurfaceKind::Ground, None) => [palette.ground, palette.ground_shadow],
            (SurfaceKind::Water, None) => [palette.water, palette.water],
            (SurfaceKind::Sky, None) => [palette.sky_high, palette.sky_low],
        };
        let haze = self.materials.map_or(palette.sky_low, |flat| flat.sky[1]);
        let interval = self.interval_m.map_or(0.0, screen);
        SurfaceUniform {
            lit: coded(lit),
            shaded: coded(shaded),
            line: light(palette.contour),
            haze: light(haze),
            glow: light(palette.card_lit),
            sun: self.shadow.toward_sun.extend(0.0),
            ground: Vec4::new(interval, screen(self.water_m.unwrap_or(-1e6)), 0.0, 0.0),
            shade: Vec4::new(self.shadow.texel_m, self.shadow.step, 0.0, 0.0),
            light_clip_from_world: self.shadow.clip_from_world,
        }
    }
}

/// What is made on its way to the graphics card.
pub(in crate::viewer) struct SurfaceSpawner<'a, 'w, 's> {
    pub(in crate::viewer) commands: &'a mut Commands<'w, 's>,
    pub(in crate::viewer) meshes: &'a mut Assets<Mesh>,
    pub(in crate::viewer) materials: &'a mut Assets<SurfaceMaterial>,
    pub(in crate::viewer) colours: SurfaceColours<'a>,
    pub(in crate::viewer) narrow: &'a Narrow,
}

impl SurfaceSpawner<'_, '_, '_> {
    /// Spawns the blocks of a cell.
    pub(in crate::viewer) fn blocks(&mut self, model: &Model, cell: Cell, members: &[usize]) {
        for finish in Finish::CARDS {
            for quiet in [false, true] {
                let mesh = blocks(members, model, self.narrow, (finish, quiet), self.colours.materials.is_some());
                if !mesh.positions.is_empty() {
                    let part = self.spawn(mesh.mesh(), SurfaceKind::Blocks { finish, quiet }, Some(cell));
                    self.commands.entity(part).insert(RenderLayers::from_layers(&[0, CASTERS]));
                }
            }
        }
    }

    /// Spawns ground, water and sky, which are everywhere.
    pub(in crate::viewer) fn everywhere(&mut self, model: &Model) {
        let water = model.site.water_level_m.map(|water_m| (level(self.narrow, water_m).mesh(), SurfaceKind::Water));
        let sky = Cuboid::from_length(screen(4.0 * FAR_M)).mesh().build();
        let ground = (ground(model, self.narrow).mesh(), SurfaceKind::Ground);
        for (mesh, kind) in [Some(ground), water, Some((sky, SurfaceKind::Sky))].into_iter().flatten() {
            let part = self.spawn(mesh, kind, None);
            self.commands.entity(part).insert(NoFrustumCulling);
        }
    }

    fn spawn(&mut self, mesh: Mesh, kind: SurfaceKind, cell: Option<Cell>) -> Entity {
        let material = SurfaceMaterial {
            uniform: self.colours.uniform(kind),
            shade: Some(self.colours.map.clone()),
            key: self.colours.key(kind),
        };
        let (mesh, material) = (self.meshes.add(mesh), self.materials.add(material));
        self.commands.spawn((SitePart(cell), kind, Mesh3d(mesh), MeshMaterial3d(material))).id()
    }
}

/// Gives each mesh its colours.
pub(in crate::viewer) fn set_colours<'a>(
    surfaces: impl Iterator<Item = (&'a SurfaceKind, &'a MeshMaterial3d<SurfaceMaterial>)>,
    materials: &mut Assets<SurfaceMaterial>,
    colours: &SurfaceColours<'_>,
) {
    for (kind, handle) in surfaces {
        if let Some(mut material) = materials.get_mut(&handle.0) {
            material.key = colours.key(*kind);
            material.uniform = colours.uniform(*kind);
            material.shade = Some(colours.map.clone());
        }
    }
}

fn blocks(
    group: &[usize],
    model: &Model,
    narrow: &Narrow,
    (finish, quiet): (Finish, bool),
    in_materials: bool,
) -> SurfaceMesh {
    let mut mesh = SurfaceMesh::default();
    for &index in group {
        let (block, solid) = (&model.site.blocks[index], &model.solids[index]);
        if block.finish.card() != finish || is_quiet(model, index) != quiet {
            continue;
        }
        let tones: Vec<[f32; 4]> = if in_materials {
            let coloured = |colour: &Colour| {
                let [r, g, b] = linear(*colour);
                [r, g, b, 1.0]
            };
            face_tones(model, index).iter().map(coloured).collect()
        } else {
            Vec::new()
        };
        // Triangles of one face share their corners, for each costs time in every frame.
        let mut known: HashMap<(u32, u32), u32> = HashMap::new();
        for triangle in &solid.triangles {
            for (name, corner) in triangle.corners.into_iter().zip(solid.corners(triangle)) {
                let index = *known.entry((triangle.face, name)).or_insert_with(|| {
                    mesh.positions.push(narrow.point(&corner));
                    mesh.normals.push(direction(&solid.normal_at(triangle, &corner)));
                    mesh.tones.extend(tones.get(triangle.face as usize));
                    (mesh.positions.len() - 1) as u32
                });
                mesh.indices.push(index);
            }
        }
    }
    mesh
}

fn ground(model: &Model, narrow: &Narrow) -> SurfaceMesh {
    let terrain = &model.site.terrain;
    let triangles = terrain.triangles();
    if triangles.is_empty() {
        return level(narrow, terrain.height_m((0.0, 0.0)));
    }
    let relief = GroundSurface::of(terrain);
    let mut mesh = SurfaceMesh::default();
    let parts = [3, 2].into_iter().find(|parts| triangles.len() * parts * parts <= GROUND_TRIANGLES).unwrap_or(1);
    for [a, b, c] in &triangles {
        // Points of the triangle, by rows from a to the side between b and c; neighbours share them, for each costs time in
        // every frame.
        let first = mesh.positions.len() as u32;
        for row in 0..=parts {
            for place in 0..=row {
                let (down, along) = (row as f64 / parts as f64, place as f64 / parts as f64);
                let point = a + (b - a) * (down - along) + (c - a) * along;
                let at = (point.x, point.y);
                let mark =
                    relief.rounded_height_m(at).map_or(Vec2::ZERO, |(height_m, _)| Vec2::new(screen(height_m), 1.0));
                mesh.positions.push(narrow.point(&point));
                mesh.normals.push(direction(&relief.rounded_normal(at)));
                mesh.marks.push(mark);
            }
        }
        let index = |row: usize, place: usize| first + (row * (row + 1) / 2 + place) as u32;
        for row in 0..parts {
            for place in 0..=row {
                mesh.indices.extend([index(row, place), index(row + 1, place), index(row + 1, place + 1)]);
                if place < row {
                    mesh.indices.extend([index(row, place), index(row + 1, place + 1), index(row, place + 1)]);
                }
            }
        }
    }
    mesh
}

fn level(narrow: &Narrow, height_m: f64) -> SurfaceMesh {
    let mut mesh = SurfaceMesh::default();
    let corner = |x: f64, y: f64| narrow.point(&WorldPoint::new(x * FAR_M, y * FAR_M, height_m));
    let [sw, se, ne, nw] = [corner(-1.0, -1.0), corner(1.0, -1.0), corner(1.0, 1.0), corner(-1.0, 1.0)];
    for position in [sw, se, ne, sw, ne, nw] {
        mesh.corner(position, Vec3::Z);
    }
    mesh
}
