//! How does a block look on the shelf, and from its front? A card model drawn in lines, lit as the finder is.

use std::collections::BTreeMap;

use bevy_egui::egui::{Color32, Mesh, Pos2, Rect, Shape, Stroke, Vec2};

use crate::pose::WorldVector;
use crate::site::{Block, Model, Shape as BlockForm, Site, Solid, Terrain};

use super::super::style::{WindowStyle, colour};
use crate::theme::Theme;
use crate::viewer::render::narrow::screen;

/// Card in full light, and turned away from it.
const LIT: (u8, u8, u8) = (0xff, 0xfd, 0xf8);
const SHADED: (u8, u8, u8) = (0xc4, 0xba, 0xa6);

/// From where a block is looked at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct CardView {
    /// To the right on the paper.
    right: WorldVector,
    /// Up on the paper.
    up: WorldVector,
}

impl CardView {
    /// From the front left, somewhat from above, without perspective.
    pub(super) fn oblique() -> Self {
        let (turn, tilt) = (0.5_f64, 0.32_f64);
        let right = WorldVector::new(turn.cos(), turn.sin(), 0.0);
        let away = WorldVector::new(-turn.sin(), turn.cos(), 0.0);
        let up = tilt.sin() * away + tilt.cos() * WorldVector::z();
        Self { right, up }
    }

    /// Straight towards the block's front, which looks along its heading: the elevation.
    pub(super) fn front(heading_deg: f64) -> Self {
        let (sine, cosine) = heading_deg.to_radians().sin_cos();
        // Whoever looks at the front has the block's own x axis to the left.
        Self { right: WorldVector::new(-cosine, sine, 0.0), up: WorldVector::z() }
    }

    fn towards_eye(&self) -> WorldVector {
        self.right.cross(&self.up)
    }
}

/// The solid of a block that stands alone on level ground.
pub(super) fn alone(block: Block) -> Option<std::sync::Arc<Solid>> {
    let site = Site {
        format: crate::site::SITE_FORMAT,
        name: "alone".into(),
        anchor: None,
        time_zone: None,
        terrain: Terrain::default(),
        water_level_m: None,
        sun: None,
        front: None,
        underlay: None,
        blocks: vec![block],
        grounds: Vec::new(),
        kit: None,
        stances: Vec::new(),
    };
    Model::build(site).solids.into_iter().next()
}

/// The solid of a shape of the palette.
pub(super) fn of_shape(shape: BlockForm) -> Option<std::sync::Arc<Solid>> {
    // The front looks towards whoever stands before the shelf.
    let block = Block { heading_deg: 180.0, ..Block::new("shape", (0.0, 0.0), shape) };
    alone(block)
}

/// A drawing of a solid within a place, and how many points a metre is.
pub(super) struct CardDrawing {
    pub(super) shapes: Vec<Shape>,
    /// The bounds of what is drawn.
    pub(super) rect: Rect,
}

/// Draws solids as card, as large as they go, standing on the place's lower edge.
pub(super) fn card_drawing(style: &WindowStyle, solids: &[&Solid], view: CardView, place: Rect) -> CardDrawing {
    let flat = |point: &WorldVector| (point.dot(&view.right), point.dot(&view.up));
    let points = || solids.iter().flat_map(|solid| solid.vertices.iter().map(|vertex| flat(&vertex.coords)));
    let (mut low, mut high) = ((f64::MAX, f64::MAX), (f64::MIN, f64::MIN));
    for (x, y) in points() {
        low = (low.0.min(x), low.1.min(y));
        high = (high.0.max(x), high.1.max(y));
    }
    if low.0 >= high.0 || low.1 >= high.1 {
        return CardDrawing { shapes: Vec::new(), rect: Rect::from_center_size(place.center_bottom(), Vec2::ZERO) };
    }
    let scale = (f64::from(place.width()) / (high.0 - low.0)).min(f64::from(place.height()) / (high.1 - low.1));
    let middle = 0.5 * (low.0 + high.0);
    let at = |point: &WorldVector| {
        let (x, y) = flat(point);
        Pos2::new(place.center().x + screen((x - middle) * scale), place.bottom() - screen((y - low.1) * scale))
    };
    let eye = view.towards_eye();
    let sun = (0.9 * eye - 0.55 * view.right + WorldVector::z()).normalize();
    let ink = Stroke::new(style.px(0.9), colour(Theme::Paper.palette().ink));
    // What is farther is drawn first; each face with the lines that bound it, so that what lies before it covers both.
    let mut faces: Vec<(f64, Vec<Shape>)> = Vec::new();
    for solid in solids {
        faces.extend(drawn_faces(solid, eye, sun, ink, &at));
    }
    faces.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (width, height) = (screen((high.0 - low.0) * scale), screen((high.1 - low.1) * scale));
    let rect = Rect::from_min_size(
        Pos2::new(place.center().x - 0.5 * width, place.bottom() - height),
        Vec2::new(width, height),
    );
    CardDrawing { shapes: faces.into_iter().flat_map(|(_, shapes)| shapes).collect(), rect }
}

/// The faces of a solid that are turned to the eye, each with how near it is.
fn drawn_faces(
    solid: &Solid,
    eye: WorldVector,
    sun: WorldVector,
    ink: Stroke,
    at: &dyn Fn(&WorldVector) -> Pos2,
) -> Vec<(f64, Vec<Shape>)> {
    let faces_eye = |face: u32| solid.faces[face as usize].normal.dot(&eye) > 1e-6;
    let vertex = |index: u32| solid.vertices[index as usize].coords;
    let mut faces: BTreeMap<u32, FaceDrawing> = BTreeMap::new();
    // Of each side of a triangle, the face that is turned to the eye and whether another one is turned away.
    let mut outline: BTreeMap<(u32, u32), (Option<u32>, bool)> = BTreeMap::new();
    for triangle in &solid.triangles {
        let front = faces_eye(triangle.face);
        for side in 0..3 {
            let (a, b) = (triangle.corners[side], triangle.corners[(side + 1) % 3]);
            let known = outline.entry((a.min(b), a.max(b))).or_default();
            if front { known.0 = Some(triangle.face) } else { known.1 = true }
        }
        if front {
            let corners = triangle.corners.map(vertex);
            faces.entry(triangle.face).or_default().add(corners.map(|corner| (at(&corner), corner.dot(&eye))));
        }
    }
    for edge in &solid.edges {
        let ends = edge.ends.map(|end| at(&vertex(end)));
        for face in edge.faces.iter().filter(|face| faces_eye(**face)) {
            faces.entry(*face).or_default().lines.push(ends);
        }
    }
    for (&(a, b), &(front, back)) in &outline {
        if let (Some(face), true) = (front, back) {
            faces.entry(face).or_default().lines.push([a, b].map(|end| at(&vertex(end))));
        }
    }
    let tone = |face: u32| {
        let light = solid.faces[face as usize].normal.dot(&sun).clamp(0.0, 1.0);
        let between = |lit: u8, shaded: u8| {
            let (lit, shaded) = (f64::from(lit), f64::from(shaded));
            (shaded + light * (lit - shaded)).round() as u8
        };
        let ((lit_r, lit_g, lit_b), (r, g, b)) = (LIT, SHADED);
        Color32::from_rgb(between(lit_r, r), between(lit_g, g), between(lit_b, b))
    };
    faces.into_iter().map(|(face, drawing)| drawing.shapes(tone(face), ink)).collect()
}

/// A face while it is put together.
#[derive(Default)]
struct FaceDrawing {
    corners: Vec<Pos2>,
    /// The depths of its corners, added up.
    depth: f64,
    lines: Vec<[Pos2; 2]>,
}

impl FaceDrawing {
    fn add(&mut self, corners: [(Pos2, f64); 3]) {
        for (corner, depth) in corners {
            self.corners.push(corner);
            self.depth += depth;
        }
    }

    /// How near it is, and what is drawn. A mesh, not polygons: a smoothed edge of a triangle thinner than a pixel would run
    /// away from it.
    fn shapes(self, fill: Color32, ink: Stroke) -> (f64, Vec<Shape>) {
        let mut mesh = Mesh::default();
        for (index, corner) in (0..).zip(&self.corners) {
            mesh.colored_vertex(*corner, fill);
            if index % 3 == 2 {
                mesh.add_triangle(index - 2, index - 1, index);
            }
        }
        let depth = self.depth / self.corners.len().max(1) as f64;
        let lines = self.lines.into_iter().map(|ends| Shape::line_segment(ends, ink));
        (depth, std::iter::once(Shape::mesh(mesh)).chain(lines).collect())
    }
}
