//! How does a block look on the shelf, and from its front? A card model drawn in lines, lit as the finder is.

use bevy_egui::egui::{Color32, Mesh, Pos2, Rect, Shape, Stroke, Vec2};

use crate::pose::WorldVector;
use crate::site::{Block, Model, Shape as BlockForm, Site, Solid, Terrain};

use super::super::style::WindowStyle;
use crate::viewer::render::narrow::screen;

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
pub(super) fn alone(block: Block) -> Option<Solid> {
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
pub(super) fn of_shape(shape: BlockForm) -> Option<Solid> {
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
    // What is farther is drawn first.
    let mut faces: Vec<(f64, [Pos2; 3], Color32)> = Vec::new();
    let mut lines: Vec<(f64, [Pos2; 2])> = Vec::new();
    let lit = Color32::from_rgb(0xff, 0xfd, 0xf8);
    for solid in solids {
        for triangle in &solid.triangles {
            let normal = solid.faces[triangle.face as usize].normal;
            if normal.dot(&eye) <= 1e-6 {
                continue;
            }
            let corners = solid.corners(triangle).map(|corner| corner.coords);
            let depth = corners.iter().map(|corner| corner.dot(&eye)).sum::<f64>() / 3.0;
            let light = 0.62 + 0.38 * normal.dot(&sun).max(0.0);
            faces.push((depth, corners.map(|corner| at(&corner)), lit.gamma_multiply(screen(light)).to_opaque()));
        }
        for edge in &solid.edges {
            let facing = edge.faces.map(|face| solid.faces[face as usize].normal.dot(&eye) > 1e-6);
            if !facing.iter().any(|faces| *faces) {
                continue;
            }
            let ends = edge.ends.map(|end| solid.vertices[end as usize].coords);
            let depth = 0.5 * (ends[0] + ends[1]).dot(&eye) + 1e-3;
            lines.push((depth, ends.map(|end| at(&end))));
        }
    }
    let mut parts: Vec<(f64, Shape)> = Vec::with_capacity(faces.len() + lines.len());
    parts.extend(faces.into_iter().map(|(depth, corners, fill)| {
        // A mesh, not a polygon: a smoothed edge of a triangle thinner than a pixel would run away from it.
        let mut mesh = Mesh::default();
        corners.iter().for_each(|corner| mesh.colored_vertex(*corner, fill));
        mesh.add_triangle(0, 1, 2);
        (depth, Shape::mesh(mesh))
    }));
    let ink = Stroke::new(style.px(0.9), super::super::style::colour(crate::theme::Theme::Paper.palette().ink));
    parts.extend(lines.into_iter().map(|(depth, ends)| (depth, Shape::line_segment(ends, ink))));
    parts.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (width, height) = (screen((high.0 - low.0) * scale), screen((high.1 - low.1) * scale));
    let rect = Rect::from_min_size(
        Pos2::new(place.center().x - 0.5 * width, place.bottom() - height),
        Vec2::new(width, height),
    );
    CardDrawing { shapes: parts.into_iter().map(|(_, shape)| shape).collect(), rect }
}
