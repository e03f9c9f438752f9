//! How are edges inked on the graphics card?
//!
//! Each edge is a quad that faces the screen and carries the normals of its two faces; the shader drops it where both look
//! away, and draws the joints inside a curved surface only where they are its outline.

use std::collections::BTreeMap;

use bevy::asset::{RenderAssetUsages, embedded_asset};
use bevy::mesh::{Indices, MeshVertexAttribute, MeshVertexBufferLayoutRef, PrimitiveTopology, VertexFormat};
use bevy::pbr::{MaterialPipeline, MaterialPipelineKey};
use bevy::prelude::*;
use bevy::render::render_resource::{AsBindGroup, RenderPipelineDescriptor, ShaderType, SpecializedMeshPipelineError};
use bevy::shader::ShaderRef;

use crate::pose::{WorldPoint, WorldVector};
use crate::site::{Model, Solid};
use crate::still::{contacts_of, feet};
use crate::theme::Theme;

use super::narrow::{Narrow, direction, linear};
use super::site_parts::{Cell, SitePart, is_quiet};

const THERE: MeshVertexAttribute = MeshVertexAttribute::new("There", 730_114_001, VertexFormat::Float32x3);
const ONE: MeshVertexAttribute = MeshVertexAttribute::new("One", 730_114_002, VertexFormat::Float32x3);
const OTHER: MeshVertexAttribute = MeshVertexAttribute::new("Other", 730_114_003, VertexFormat::Float32x3);
const SIDE: MeshVertexAttribute = MeshVertexAttribute::new("Side", 730_114_004, VertexFormat::Float32x3);
/// How heavy the lines of what the picture is about are, and of the rest, as the still's pen has them.
const WEIGHTS: [f32; 2] = [1.12, 0.9];

pub(in crate::viewer) fn plugin(app: &mut App) {
    embedded_asset!(app, "edges.wgsl");
    app.add_plugins(MaterialPlugin::<EdgeMaterial>::default());
}

/// Lines of constant width.
#[derive(Asset, TypePath, AsBindGroup, Clone, Debug)]
pub(in crate::viewer) struct EdgeMaterial {
    #[uniform(0)]
    uniform: EdgeUniform,
}

#[derive(ShaderType, Clone, Copy, Debug, Default)]
struct EdgeUniform {
    colour: Vec4,
}

impl Material for EdgeMaterial {
    fn vertex_shader() -> ShaderRef {
        "embedded://plumbsight/viewer/render/edges.wgsl".into()
    }

    fn fragment_shader() -> ShaderRef {
        "embedded://plumbsight/viewer/render/edges.wgsl".into()
    }

    fn alpha_mode(&self) -> AlphaMode {
        AlphaMode::Blend
    }

    fn enable_prepass() -> bool {
        false
    }

    fn enable_shadows() -> bool {
        false
    }

    fn specialize(
        _: &MaterialPipeline,
        descriptor: &mut RenderPipelineDescriptor,
        layout: &MeshVertexBufferLayoutRef,
        _: MaterialPipelineKey<Self>,
    ) -> Result<(), SpecializedMeshPipelineError> {
        descriptor.vertex.buffers = vec![layout.0.get_layout(&[
            Mesh::ATTRIBUTE_POSITION.at_shader_location(0),
            THERE.at_shader_location(1),
            ONE.at_shader_location(2),
            OTHER.at_shader_location(3),
            SIDE.at_shader_location(4),
        ])?];
        descriptor.primitive.cull_mode = None;
        Ok(())
    }
}

#[derive(Default)]
struct EdgeQuads {
    here: Vec<Vec3>,
    there: Vec<Vec3>,
    one: Vec<Vec3>,
    other: Vec<Vec3>,
    side: Vec<Vec3>,
    indices: Vec<u32>,
}

impl EdgeQuads {
    fn add(&mut self, ends: [Vec3; 2], normals: [WorldVector; 2], joint: bool, weight: f32) {
        let first = self.here.len() as u32;
        let [a, b] = ends;
        // A line seen from its other end runs the other way, and its sides with it.
        for (here, there, side, end) in [(a, b, 1.0, 0.0), (a, b, -1.0, 0.0), (b, a, -1.0, 2.0), (b, a, 1.0, 2.0)] {
            self.here.push(here);
            self.there.push(there);
            self.one.push(direction(&normals[0]));
            self.other.push(direction(&normals[1]));
            self.side.push(Vec3::new(side, if joint { 1.0 } else { 0.0 } + end, weight));
        }
        self.indices.extend([first, first + 1, first + 2, first + 2, first + 1, first + 3]);
    }
}

/// Spawns the lines of every edge in some cells of the site.
pub(in crate::viewer) fn spawn(
    commands: &mut Commands,
    meshes: &mut Assets<Mesh>,
    ink: &Handle<EdgeMaterial>,
    model: &Model,
    narrow: &Narrow,
    cells: &[(Cell, &[usize])],
) {
    let mut quads: Vec<EdgeQuads> = cells.iter().map(|_| EdgeQuads::default()).collect();
    let mut place_of = vec![None; model.solids.len()];
    for (place, (_, members)) in cells.iter().enumerate() {
        for &block in *members {
            place_of[block] = Some(place);
        }
    }
    let weight = |block: usize| WEIGHTS[usize::from(is_quiet(model, block))];
    let is_asked = |block: usize| place_of[block].is_some();
    for (block, solid) in model.solids.iter().enumerate() {
        let Some(quads) = place_of[block].map(|place| &mut quads[place]) else { continue };
        let at = |corner: u32| narrow.point(&solid.vertices[corner as usize]);
        for edge in &solid.edges {
            // What is in the ground is not seen: where the block comes out of it, its foot is drawn.
            if edge.ends.iter().all(|&end| is_buried(model, &solid.vertices[end as usize])) {
                continue;
            }
            let normals = edge.faces.map(|face| solid.faces[face as usize].normal);
            quads.add(edge.ends.map(at), normals, false, weight(block));
        }
        for (ends, normals) in joints(solid) {
            quads.add([ends.0, ends.1].map(at), normals, true, weight(block));
        }
    }
    // Where solids run into one another, and where they stand on the ground or in the water, no edge of theirs is, but the
    // pen draws one.
    for contact in contacts_of(&model.solids, is_asked) {
        let normals = [0, 1].map(|side| {
            let solid = &model.solids[contact.solids[side]];
            solid.faces[solid.triangles[contact.triangles[side]].face as usize].normal
        });
        let block = contact.solids[0];
        let Some(quads) = place_of[block].map(|place| &mut quads[place]) else { continue };
        quads.add(contact.ends.map(|end| narrow.point(&end)), normals, false, weight(block));
    }
    for (ends, block, normal) in feet(&model.solids, is_asked, &standing_on(model)) {
        let Some(quads) = place_of[block].map(|place| &mut quads[place]) else { continue };
        // As heavy as an outline, whatever is behind it, and above the ground.
        let normals = [normal, -WorldVector::z()];
        quads.add(ends.map(|end| narrow.point(&end)), normals, false, -weight(block));
    }
    for ((cell, _), quads) in cells.iter().zip(quads).filter(|(_, quads)| !quads.here.is_empty()) {
        let mesh = Mesh::new(PrimitiveTopology::TriangleList, RenderAssetUsages::RENDER_WORLD)
            .with_inserted_attribute(Mesh::ATTRIBUTE_POSITION, quads.here)
            .with_inserted_attribute(THERE, quads.there)
            .with_inserted_attribute(ONE, quads.one)
            .with_inserted_attribute(OTHER, quads.other)
            .with_inserted_attribute(SIDE, quads.side)
            .with_inserted_indices(Indices::U32(quads.indices));
        commands.spawn((SitePart(Some(*cell)), Mesh3d(meshes.add(mesh)), MeshMaterial3d(ink.clone())));
    }
}

/// The material of lines in a theme.
pub(in crate::viewer) fn ink(theme: Theme) -> EdgeMaterial {
    let [r, g, b] = linear(theme.palette().edge);
    EdgeMaterial { uniform: EdgeUniform { colour: Vec4::new(r, g, b, 1.0) } }
}

/// Whether a corner is deeper in the ground or the water than a hand.
fn is_buried(model: &Model, corner: &WorldPoint) -> bool {
    corner.z < model.surface_m((corner.x, corner.y)) - 0.02
}

/// The ground and the water near the blocks.
fn standing_on(model: &Model) -> Vec<[WorldPoint; 3]> {
    let bounds = model.solids.iter().map(|solid| solid.bounds()).reduce(|a, b| (a.0.inf(&b.0), a.1.sup(&b.1)));
    let Some((low, high)) = bounds else { return Vec::new() };
    let level = |height_m: f64| {
        let at = |x: f64, y: f64| WorldPoint::new(x, y, height_m);
        let (west, south, east, north) = (low.x - 1.0, low.y - 1.0, high.x + 1.0, high.y + 1.0);
        let [sw, se, ne, nw] = [at(west, south), at(east, south), at(east, north), at(west, north)];
        [[sw, se, ne], [sw, ne, nw]]
    };
    let mut surface = model.site.terrain.triangles();
    if surface.is_empty() {
        surface.extend(level(model.site.terrain.height_m((0.0, 0.0))));
    }
    surface.extend(model.site.water_level_m.map(level).into_iter().flatten());
    surface
}

/// The joints between the flat pieces of curved surfaces, each with the normals of its two pieces.
fn joints(solid: &Solid) -> Vec<((u32, u32), [WorldVector; 2])> {
    let mut sides: BTreeMap<(u32, u32), Vec<u32>> = BTreeMap::new();
    for triangle in &solid.triangles {
        if solid.faces[triangle.face as usize].curve.is_none() {
            continue;
        }
        for side in 0..3 {
            let (a, b) = (triangle.corners[side], triangle.corners[(side + 1) % 3]);
            sides.entry((a.min(b), a.max(b))).or_default().push(triangle.face);
        }
    }
    sides
        .into_iter()
        .filter_map(|(ends, faces)| match faces[..] {
            [one, other] if one != other => Some((ends, [one, other].map(|face| solid.faces[face as usize].normal))),
            _ => None,
        })
        .collect()
}
