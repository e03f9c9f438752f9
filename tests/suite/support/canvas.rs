//! What does a window look like? Its panels, painted without a graphics card.
//!
//! A plain rasteriser of the triangles that egui hands over: enough to look at every panel, and to hold a test to what is
//! really painted.

use std::collections::{BTreeMap, BTreeSet};

use bevy_egui::egui::{
    self, ClippedPrimitive, Color32, ColorImage, ImageData, Mesh, Pos2, Rect, TextureId, TexturesDelta,
    epaint::Primitive,
};
use plumbsight::still::Picture;

/// A painted window.
pub(crate) struct Canvas {
    width: usize,
    height: usize,
    scale: f32,
    pixels: Vec<Color32>,
    textures: BTreeMap<TextureId, ColorImage>,
    /// Textures that are shown texel by texel.
    coarse: BTreeSet<TextureId>,
}

impl Canvas {
    /// A canvas of so many points, each `scale` pixels wide.
    pub(crate) fn new(size: egui::Vec2, scale: f32) -> Self {
        let (width, height) = ((size.x * scale) as usize, (size.y * scale) as usize);
        let pixels = vec![Color32::BLACK; width * height];
        Self { width, height, scale, pixels, textures: BTreeMap::new(), coarse: BTreeSet::new() }
    }

    /// A picture under a texture's name.
    pub(crate) fn hang(&mut self, id: TextureId, picture: &Picture) {
        let size = [picture.width_px as usize, picture.height_px as usize];
        self.textures.insert(id, ColorImage::from_rgb(size, &picture.rgb));
    }

    /// Takes in the textures that a frame changed.
    pub(crate) fn take_in(&mut self, mut delta: TexturesDelta) {
        for (id, changed) in delta.set.iter().flat_map(|(id, list)| list.iter().map(move |changed| (id, changed))) {
            let ImageData::Color(image) = &changed.image;
            match changed.pos {
                None => {
                    if changed.options.magnification == egui::TextureFilter::Nearest {
                        self.coarse.insert(*id);
                    }
                    self.textures.insert(*id, image.as_ref().clone());
                }
                Some([left, top]) => {
                    let Some(texture) = self.textures.get_mut(id) else { continue };
                    for row in 0..image.height() {
                        let from = row * image.width();
                        let to = (top + row) * texture.width() + left;
                        texture.pixels[to..to + image.width()]
                            .copy_from_slice(&image.pixels[from..from + image.width()]);
                    }
                }
            }
        }
        delta.clear();
    }

    /// Paints a frame on a table of this colour, over whatever was there.
    pub(crate) fn paint(&mut self, table: Color32, primitives: &[ClippedPrimitive]) {
        self.pixels.fill(table);
        for ClippedPrimitive { clip_rect, primitive } in primitives {
            if let Primitive::Mesh(mesh) = primitive {
                self.paint_mesh(clip_rect, mesh);
            }
        }
    }

    fn paint_mesh(&mut self, clip: &Rect, mesh: &Mesh) {
        let texture = self.textures.get(&mesh.texture_id).cloned();
        let coarse = self.coarse.contains(&mesh.texture_id);
        let bounds = |low: f32, high: f32, most: usize| {
            ((low * self.scale).round().max(0.0) as usize, ((high * self.scale).round().max(0.0) as usize).min(most))
        };
        let (left, right) = bounds(clip.left(), clip.right(), self.width);
        let (top, bottom) = bounds(clip.top(), clip.bottom(), self.height);
        for corners in mesh.indices.chunks_exact(3) {
            let [a, b, c] = [0, 1, 2].map(|index| mesh.vertices[corners[index] as usize]);
            let [pa, pb, pc] = [a, b, c].map(|vertex| vertex.pos * self.scale);
            let area = cross(pa, pb, pc);
            if area == 0.0 || !area.is_finite() {
                continue;
            }
            let low = pa.min(pb).min(pc);
            let high = pa.max(pb).max(pc);
            let rows = (low.y.floor().max(top as f32) as usize)..(high.y.ceil().min(bottom as f32).max(0.0) as usize);
            for y in rows {
                let columns =
                    (low.x.floor().max(left as f32) as usize)..(high.x.ceil().min(right as f32).max(0.0) as usize);
                for x in columns {
                    let at = Pos2::new(x as f32 + 0.5, y as f32 + 0.5);
                    let shares = [cross(pb, pc, at) / area, cross(pc, pa, at) / area, cross(pa, pb, at) / area];
                    if !shares.iter().zip([(pb, pc), (pc, pa), (pa, pb)]).all(|(&share, (from, to))| {
                        // A pixel on a shared edge belongs to one of its triangles only.
                        let (dx, dy) = ((to.x - from.x) * area.signum(), (to.y - from.y) * area.signum());
                        share > 0.0 || (share == 0.0 && (dy < 0.0 || (dy == 0.0 && dx > 0.0)))
                    }) {
                        continue;
                    }
                    let mix = |of: &dyn Fn(&egui::epaint::Vertex) -> f32| {
                        shares[0] * of(&a) + shares[1] * of(&b) + shares[2] * of(&c)
                    };
                    let uv = Pos2::new(mix(&|v| v.uv.x), mix(&|v| v.uv.y));
                    let texel = texture.as_ref().map_or([1.0; 4], |texture| sampled(texture, uv, coarse));
                    let source: [f32; 4] =
                        std::array::from_fn(|k| mix(&|v| f32::from(v.color.to_array()[k]) / 255.0) * texel[k]);
                    // Light is mixed linearly, as the window's own target does.
                    let pixel = &mut self.pixels[y * self.width + x];
                    let below = pixel.to_array();
                    let over: [u8; 4] = std::array::from_fn(|k| {
                        let light = linear(source[k]) + linear(f32::from(below[k]) / 255.0) * (1.0 - source[3]);
                        (255.0 * coded(light)).round().clamp(0.0, 255.0) as u8
                    });
                    *pixel = Color32::from_rgba_premultiplied(over[0], over[1], over[2], 255);
                }
            }
        }
    }

    /// What is painted, as a picture.
    pub(crate) fn picture(&self) -> Picture {
        let rgb = self.pixels.iter().flat_map(|pixel| [pixel.r(), pixel.g(), pixel.b()]).collect();
        Picture { width_px: self.width as u32, height_px: self.height as u32, rgb }
    }
}

/// Light of a coded channel (IEC 61966-2-1).
fn linear(coded: f32) -> f32 {
    if coded <= 0.04045 { coded / 12.92 } else { ((coded + 0.055) / 1.055).powf(2.4) }
}

/// The code of a channel's light.
fn coded(light: f32) -> f32 {
    let light = light.clamp(0.0, 1.0);
    if light <= 0.003_130_8 { light * 12.92 } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 }
}

fn cross(a: Pos2, b: Pos2, c: Pos2) -> f32 {
    (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x)
}

/// The colour of a texture between its texels, or of the nearest one.
fn sampled(texture: &ColorImage, uv: Pos2, coarse: bool) -> [f32; 4] {
    let [width, height] = texture.size;
    let (mut x, mut y) = (uv.x * width as f32 - 0.5, uv.y * height as f32 - 0.5);
    if coarse {
        (x, y) = ((x + 0.5).floor(), (y + 0.5).floor());
    }
    let (fx, fy) = (x - x.floor(), y - y.floor());
    let texel = |dx: f32, dy: f32| {
        let column = (x.floor() + dx).clamp(0.0, width as f32 - 1.0) as usize;
        let row = (y.floor() + dy).clamp(0.0, height as f32 - 1.0) as usize;
        texture.pixels[row * width + column].to_array().map(|channel| f32::from(channel) / 255.0)
    };
    let corners = [texel(0.0, 0.0), texel(1.0, 0.0), texel(0.0, 1.0), texel(1.0, 1.0)];
    std::array::from_fn(|k| {
        (1.0 - fy) * ((1.0 - fx) * corners[0][k] + fx * corners[1][k])
            + fy * ((1.0 - fx) * corners[2][k] + fx * corners[3][k])
    })
}
