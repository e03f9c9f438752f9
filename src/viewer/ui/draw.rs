//! How does a drawing come on to the window? Plan, section and gauge are lists of marks; here they become egui's shapes.
//!
//! Letters move within egui's texture: shapes may be kept from frame to frame, laid-out type may not. A dotted line is clipped
//! before it is cut into dots: a horizon that runs a million pixels beyond the frame would be a million dots.

use std::sync::Arc;

use bevy_egui::egui::{self, Align2, Color32, FontFamily, FontId, Painter, Pos2, Rect, Shape, Stroke, Vec2};

use crate::drawing::{Align, CanvasPoint, Dash, Mark, PLATE, Pen, Text, Tint, Weight, arrow_head, triangles};
use crate::theme::Palette;

use super::style::{WindowStyle, colour, thinned};
use crate::viewer::render::narrow::screen;

/// Where a drawing's canvas lies on the window.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct DrawingPlacement {
    /// The canvas on the window.
    pub(super) rect: Rect,
    /// The window's points to one of the canvas.
    pub(super) scale: f32,
    /// The display's pixels to a point of the window.
    pub(super) pixels_per_point: f32,
}

/// A part of a drawing. Type is laid out anew each time, for its letters may move in the texture that holds them.
enum DrawnPart {
    Lines(Arc<egui::Mesh>),
    Text { text: String, at: Pos2, anchor: Align2, font: FontId, ink: Color32, plate: Option<(Rect, Color32)> },
}

/// Marks made ready for one place of the window: in triangles, which cost little to show for as long as nothing in them
/// changes.
pub(super) struct ScreenDrawing {
    parts: Vec<DrawnPart>,
    placing: DrawingPlacement,
}

impl ScreenDrawing {
    /// Lays out some marks.
    pub(super) fn of(style: &WindowStyle, marks: &[Mark], placing: DrawingPlacement) -> Self {
        let options = egui::epaint::TessellationOptions {
            // Discs that are drawn beforehand move with the letters.
            prerasterized_discs: false,
            ..Default::default()
        };
        let mut tessellator = egui::epaint::Tessellator::new(placing.pixels_per_point, options, [1, 1], Vec::new());
        tessellator.set_clip_rect(placing.rect);
        let mut parts = Vec::new();
        let mut shapes = Vec::new();
        let mut lines = egui::Mesh::default();
        for mark in marks {
            if let Mark::Text(text) = mark {
                if !lines.is_empty() {
                    parts.push(DrawnPart::Lines(Arc::new(std::mem::take(&mut lines))));
                }
                parts.push(lay_text(style.palette(), text, &placing));
                continue;
            }
            lay(style.palette(), mark, placing.scale, &mut shapes);
            for mut shape in shapes.drain(..) {
                shape.translate(placing.rect.min.to_vec2());
                tessellator.tessellate_shape(shape, &mut lines);
            }
        }
        if !lines.is_empty() {
            parts.push(DrawnPart::Lines(Arc::new(lines)));
        }
        Self { parts, placing }
    }

    /// Where it lies.
    pub(super) const fn placing(&self) -> &DrawingPlacement {
        &self.placing
    }

    /// Puts it on the window, cut at its own canvas.
    pub(super) fn paint(&self, painter: &Painter) {
        self.paint_beside(painter, Rect::NOTHING);
    }

    /// The same, without the texts that what is laid over it would cover.
    pub(super) fn paint_beside(&self, painter: &Painter, covered: Rect) {
        let inside = painter.with_clip_rect(self.placing.rect.intersect(painter.clip_rect()));
        for part in &self.parts {
            match part {
                DrawnPart::Lines(mesh) => {
                    inside.add(Shape::Mesh(Arc::clone(mesh)));
                }
                DrawnPart::Text { text, at, anchor, font, ink, plate } => {
                    let galley = inside.layout_no_wrap(text.clone(), font.clone(), *ink);
                    let place = anchor.anchor_size(*at, galley.size());
                    if covered.intersects(place) {
                        continue;
                    }
                    if let Some((plate, fill)) = plate {
                        let plate = plate.union(place.expand2(Vec2::new(2.0, -1.0)));
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

fn lay_text(palette: &Palette, text: &Text, placing: &DrawingPlacement) -> DrawnPart {
    let on_window = |point: CanvasPoint| placing.rect.min + at(point, placing.scale).to_vec2();
    let family = match text.weight {
        Weight::Regular => FontFamily::Proportional,
        Weight::Semibold => FontFamily::Name("semibold".into()),
    };
    let room = text.room();
    DrawnPart::Text {
        text: text.text.clone(),
        at: on_window(text.at),
        anchor: match text.align {
            Align::Start => Align2::LEFT_CENTER,
            Align::Middle => Align2::CENTER_CENTER,
            Align::End => Align2::RIGHT_CENTER,
        },
        font: FontId::new(screen(text.size_pt) * placing.scale, family),
        ink: colour(text.role.colour(palette)),
        plate: text.plate.then(|| {
            let rect = Rect::from_min_max(on_window((room.left, room.top)), on_window((room.right, room.bottom)));
            // Opaque: what shows through a thinned plate is mixed otherwise on the window than on paper.
            (rect, colour(PLATE.role.colour(palette)))
        }),
    }
}
