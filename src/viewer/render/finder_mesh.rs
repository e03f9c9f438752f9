//! How does the finder's picture come on to the window?
//!
//! The graphics card has drawn flat pictures into textures; meshes bend them into the lens's own picture, see
//! [`super::lens_warp`].

use std::sync::Arc;

use bevy_egui::egui::{self, Color32, Pos2, Rect, Vec2};

use crate::theme::{Colour, Palette};

use super::lens_warp::{ShownPart, WarpFace};
use super::narrow::screen;

/// How much of the surround is veiled.
const VEIL: f32 = 0.62;

/// Where the finder stands in the window, in points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FinderPlace {
    /// The picture's frame.
    pub frame: Rect,
    /// All that is shown of what the lens draws; equal to the frame where there is no surround.
    pub shown: Rect,
}

impl FinderPlace {
    /// What is shown, in shares of the frame.
    pub(in crate::viewer) fn shares(&self) -> ShownPart {
        let (frame, shown) = (self.frame, self.shown);
        let across = |x: f32| f64::from((x - frame.left()) / frame.width().max(1.0));
        let down = |y: f32| f64::from((y - frame.top()) / frame.height().max(1.0));
        ShownPart {
            left: across(shown.left()),
            top: down(shown.top()),
            right: across(shown.right()),
            bottom: down(shown.bottom()),
        }
    }

    /// The pixels of what is shown.
    pub(in crate::viewer) fn size_px(&self, pixels_per_point: f32) -> [u32; 2] {
        [self.shown.width(), self.shown.height()].map(|side| (side * pixels_per_point).round().max(1.0) as u32)
    }
}

/// The finder's picture, ready to be painted.
#[derive(Clone, Debug)]
pub(in crate::viewer) struct FinderMesh {
    place: FinderPlace,
    meshes: Vec<Arc<egui::Mesh>>,
    /// Whether nothing can be seen behind it.
    covers: bool,
}

impl FinderMesh {
    /// The sheet of some faces, each with its texture, laid out at a place.
    pub(in crate::viewer) fn of(faces: &[WarpFace], textures: &[egui::TextureId], place: FinderPlace) -> Self {
        let meshes = faces
            .iter()
            .zip(textures)
            .map(|(face, texture)| {
                let mut mesh = egui::Mesh::with_texture(*texture);
                mesh.indices.clone_from(&face.indices);
                mesh.vertices.extend(face.corners.iter().map(|corner| egui::epaint::Vertex {
                    pos: at(&place.shown, corner.place),
                    uv: Pos2::new(screen(corner.source[0]), screen(corner.source[1])),
                    color: Color32::WHITE,
                }));
                Arc::new(mesh)
            })
            .collect();
        let covers = faces.len() == 1 && faces[0].indices.len() == 6;
        Self { place, meshes, covers }
    }

    /// Paints the picture, with the surround veiled.
    pub(in crate::viewer) fn paint(&self, painter: &egui::Painter, place: &FinderPlace, palette: &Palette) {
        let inside = painter.with_clip_rect(painter.clip_rect().intersect(place.shown));
        if !self.covers {
            inside.rect_filled(place.shown, 0.0, colour(palette.vignette));
        }
        for mesh in &self.meshes {
            if *place == self.place {
                inside.add(egui::Shape::Mesh(Arc::clone(mesh)));
                continue;
            }
            // The window has just been laid out anew: until the card has drawn for it, the old picture is stretched.
            let mut moved = egui::Mesh::clone(mesh);
            let (from, to) = (self.place.shown, place.shown);
            for vertex in &mut moved.vertices {
                let share = (vertex.pos - from.min) / from.size().max(Vec2::splat(1.0));
                vertex.pos = to.min + share * to.size();
            }
            inside.add(egui::Shape::mesh(moved));
        }
        veil(&inside, place, palette);
    }
}

fn at(rect: &Rect, place: [f64; 2]) -> Pos2 {
    rect.min + rect.size() * Vec2::new(screen(place[0]), screen(place[1]))
}

/// Dims what lies beyond the frame.
fn veil(painter: &egui::Painter, place: &FinderPlace, palette: &Palette) {
    let (frame, shown) = (place.frame.intersect(place.shown), place.shown);
    let dim = colour(palette.table).gamma_multiply(VEIL);
    for strip in [
        Rect::from_min_max(shown.min, Pos2::new(shown.right(), frame.top())),
        Rect::from_min_max(Pos2::new(shown.left(), frame.bottom()), shown.max),
        Rect::from_min_max(Pos2::new(shown.left(), frame.top()), frame.left_bottom()),
        Rect::from_min_max(frame.right_top(), Pos2::new(shown.right(), frame.bottom())),
    ] {
        if strip.is_positive() {
            painter.rect_filled(strip, 0.0, dim);
        }
    }
}

fn colour(colour: Colour) -> Color32 {
    Color32::from_rgb(colour.0, colour.1, colour.2)
}
