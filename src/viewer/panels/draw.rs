//! How does a drawing come on to the window? Plan, section and gauge are lists of marks; here they become egui's shapes.

use std::sync::Arc;

use bevy_egui::egui::{self, Align2, Color32, FontFamily, FontId, Painter, Pos2, Rect, Shape, Stroke, Vec2};

use crate::drawing::{Align, CanvasPoint, Dash, Drawing, Mark, PLATE, Pen, Text, Tint, Weight, arrow_head, triangles};
use crate::theme::Palette;

use super::look::{Look, colour, thinned};
use crate::viewer::narrow::screen;

/// A part of a drawing. Type is laid out anew each time, for its letters may move in the texture that holds them.
enum Part {
    Shape(Shape),
    Text { text: String, at: Pos2, anchor: Align2, font: FontId, ink: Color32, plate: Option<(Rect, Color32)> },
}

/// A drawing made ready for egui: its shapes stand relative to the canvas's own corner, so that it can be kept as long as
/// nothing in it changes.
pub(super) struct Sheet {
    parts: Vec<Part>,
    /// The drawing in words.
    pub(super) words: String,
}

impl Sheet {
    /// Lays out a drawing whose canvas is `scale` times as large on the window.
    pub(super) fn of(look: &Look, drawing: &Drawing, scale: f32) -> Self {
        let mut parts = Vec::with_capacity(drawing.marks.len());
        let mut shapes = Vec::new();
        for mark in &drawing.marks {
            match mark {
                Mark::Text(text) => parts.push(lay_text(look.palette(), text, scale)),
                _ => lay(look.palette(), mark, scale, &mut shapes),
            }
            parts.extend(shapes.drain(..).map(Part::Shape));
        }
        Self { parts, words: drawing.words.clone() }
    }

    /// Puts it on the window with its corner at a place, cut at its own canvas.
    pub(super) fn paint(&self, painter: &Painter, rect: Rect) {
        self.paint_beside(painter, rect, Rect::NOTHING);
    }

    /// The same, without the texts that what is laid over it would cover.
    pub(super) fn paint_beside(&self, painter: &Painter, rect: Rect, covered: Rect) {
        let inside = painter.with_clip_rect(rect.intersect(painter.clip_rect()));
        let by = rect.min.to_vec2();
        for part in &self.parts {
            match part {
                Part::Shape(shape) => {
                    let mut shape = shape.clone();
                    shape.translate(by);
                    inside.add(shape);
                }
                Part::Text { text, at, anchor, font, ink, plate } => {
                    let galley = inside.layout_no_wrap(text.clone(), font.clone(), *ink);
                    let place = anchor.anchor_size(*at + by, galley.size());
                    if covered.intersects(place) {
                        continue;
                    }
                    if let Some((plate, fill)) = plate {
                        let plate = plate.translate(by).union(place.expand2(Vec2::new(2.0, -1.0)));
                        inside.rect_filled(plate, 3.0, *fill);
                    }
                    inside.galley(place.min, galley, *ink);
                }
            }
        }
    }
}

fn at(point: CanvasPoint, scale: f32) -> Pos2 {
    Pos2::new(screen(point.0), screen(point.1)) * scale
}

fn tint(palette: &Palette, tint: Tint) -> Color32 {
    thinned(colour(tint.role.colour(palette)), screen(tint.opacity))
}

fn stroke(palette: &Palette, pen: &Pen, scale: f32) -> Stroke {
    Stroke::new(screen(pen.width_pt) * scale, colour(pen.role.colour(palette)))
}

fn line(palette: &Palette, points: &[Pos2], pen: &Pen, scale: f32, shapes: &mut Vec<Shape>) {
    let stroke = stroke(palette, pen, scale);
    match (pen.dash, pen.pattern()) {
        (Dash::Dotted, Some([_, gap])) => {
            shapes.extend(Shape::dotted_line(points, stroke.color, screen(gap) * scale, 0.5 * stroke.width));
        }
        (_, Some([dash, gap])) => {
            shapes.extend(Shape::dashed_line(points, stroke, screen(dash) * scale, screen(gap) * scale));
        }
        (_, None) => shapes.push(Shape::line(points.to_vec(), stroke)),
    }
}

fn lay(palette: &Palette, mark: &Mark, scale: f32, shapes: &mut Vec<Shape>) {
    match mark {
        Mark::Line { points, pen } => {
            let points: Vec<Pos2> = points.iter().map(|&point| at(point, scale)).collect();
            line(palette, &points, pen, scale, shapes);
        }
        Mark::Area { rings, fill, pen } => {
            if let Some(fill) = fill {
                let mut mesh = egui::Mesh::default();
                let ink = tint(palette, *fill);
                for triangle in triangles(rings) {
                    let first = u32::try_from(mesh.vertices.len()).unwrap_or(u32::MAX);
                    for corner in triangle {
                        mesh.colored_vertex(at(corner, scale), ink);
                    }
                    mesh.add_triangle(first, first + 1, first + 2);
                }
                shapes.push(Shape::Mesh(Arc::new(mesh)));
            }
            if let Some(pen) = pen {
                for ring in rings {
                    let mut points: Vec<Pos2> = ring.iter().map(|&point| at(point, scale)).collect();
                    points.extend(points.first().copied());
                    line(palette, &points, pen, scale, shapes);
                }
            }
        }
        Mark::Circle { centre, radius_pt, fill, pen } => {
            let (centre, radius) = (at(*centre, scale), screen(*radius_pt) * scale);
            if let Some(fill) = fill {
                shapes.push(Shape::circle_filled(centre, radius, tint(palette, *fill)));
            }
            if let Some(pen) = pen {
                shapes.push(Shape::circle_stroke(centre, radius, stroke(palette, pen, scale)));
            }
        }
        Mark::Arrow { from, to, pen } => {
            line(palette, &[at(*from, scale), at(*to, scale)], pen, scale, shapes);
            if let Some(head) = arrow_head(*from, *to, pen) {
                shapes.push(Shape::line(head.map(|point| at(point, scale)).to_vec(), stroke(palette, pen, scale)));
            }
        }
        Mark::Text(_) => {}
    }
}

fn lay_text(palette: &Palette, text: &Text, scale: f32) -> Part {
    let family = match text.weight {
        Weight::Regular => FontFamily::Proportional,
        Weight::Semibold => FontFamily::Name("semibold".into()),
    };
    let room = text.room();
    Part::Text {
        text: text.text.clone(),
        at: at(text.at, scale),
        anchor: match text.align {
            Align::Start => Align2::LEFT_CENTER,
            Align::Middle => Align2::CENTER_CENTER,
            Align::End => Align2::RIGHT_CENTER,
        },
        font: FontId::new(screen(text.size_pt) * scale, family),
        ink: colour(text.role.colour(palette)),
        plate: text.plate.then(|| {
            let rect = Rect::from_min_max(at((room.left, room.top), scale), at((room.right, room.bottom), scale));
            // Opaque: what shows through a thinned plate is mixed otherwise on the window than on paper.
            (rect, colour(PLATE.role.colour(palette)))
        }),
    }
}
