//! What will the picture look like, exactly?
//!
//! One ray, or several, for each pixel, through the same [`Camera`](crate::optics::Camera) that the measurements use: every mapping,
//! distortion, rise and shift comes out as it is measured. The site is shown as a card model: matt blocks, ink edges,
//! one sun, contour lines on paper ground, a plain sky.

mod ambient;
mod annotate;
mod caption;
mod contacts;
mod dressed;
mod figures;
mod ground;
mod joints;
mod lettering;
mod materials;
mod overlay;
mod picture;
mod rays;
mod request;
mod shadows;
mod surfaces;
mod tiles;
mod tones;

use rayon::prelude::*;

use crate::progress::{Cancelled, Progress};
use crate::sight::Sight;

pub use annotate::{annotations, edge_of};
use figures::Company;
pub(crate) use figures::STATURE_M;
pub(crate) use lettering::Lettering;
pub use lettering::Weight;
pub use overlay::{LabelAnchor, MarkForm, Overlay, OverlayCount, OverlayInk, OverlayLabel, OverlayLine, OverlayMark};
pub use picture::Picture;
use picture::{Coding, PixelLight, fine, screen};
use rays::TILE_PX;
pub use request::{Depth, LARGEST_MEGAPIXELS, Look, SAMPLES, Scene, StillError, Style, Surround, View};
use tiles::{StillScene, TileRenderer};
use tones::Light;

#[cfg(feature = "paper")]
pub(crate) use lettering::FONTS;
#[cfg(feature = "viewer")]
pub(crate) use {
    contacts::{contacts_of, feet},
    ground::GroundSurface,
    materials::{FlatTones, face_tones},
    tiles::contour_interval_m,
    tones::card_tones,
};

/// Makes the picture.
///
/// The same scene, view and style give the same bytes, whatever the number of threads.
///
/// # Errors
/// A picture of no pixels or of more than [`LARGEST_MEGAPIXELS`], a number of samples that is not one of [`SAMPLES`], an
/// eye or a focus out of all range, or the watcher has cancelled.
pub fn render(scene: &Scene<'_>, view: &View, style: &Style, progress: &Progress) -> Result<Picture, StillError> {
    let (width_px, height_px) = (view.camera.frame.width_px, view.camera.frame.height_px);
    request::check(view, style)?;
    progress.check()?;
    let peopled = (!style.figures.is_empty() || style.company).then(|| {
        let company = Company { people: &style.figures, about_subject: style.company };
        let model = figures::with_figures(scene.model, &company, &view.pose.eye);
        let sight = Sight::over(&model);
        (model, sight)
    });
    let first_figure = scene.model.solids.len();
    let (model, sight) = peopled.as_ref().map_or((scene.model, scene.sight), |(model, sight)| (model, sight));
    let table = StillScene::laid(model, sight, view, style, first_figure);

    let coding = Coding::new();
    let tiles_across = width_px.div_ceil(TILE_PX);
    progress.start(u64::from(tiles_across) * u64::from(height_px.div_ceil(TILE_PX)));
    let pixels = width_px as usize * height_px as usize;
    let mut rgb = vec![0; 3 * pixels];
    let mut fine_rgb = vec![0; if style.depth == Depth::Sixteen { 3 * pixels } else { 0 }];
    let mut cover = vec![0; if style.surround == Surround::Clear { pixels } else { 0 }];
    let band_pixels = width_px as usize * TILE_PX as usize;
    // What is not asked for has bands of nothing.
    let bands = rgb
        .par_chunks_mut(3 * band_pixels)
        .zip(bands_of(&mut fine_rgb, 3 * band_pixels, height_px))
        .zip(bands_of(&mut cover, band_pixels, height_px));
    bands.enumerate().try_for_each(|(band, ((rgb, fine_rgb), cover))| {
        let top = band as u32 * TILE_PX;
        let mut hand = TileRenderer::at(&table);
        for left in (0..tiles_across).map(|tile| tile * TILE_PX) {
            progress.advance(1)?;
            let end = (width_px.min(left + TILE_PX), height_px.min(top + TILE_PX));
            let put = |(x, y): (u32, u32), seen: PixelLight| {
                let pixel = (y - top) as usize * width_px as usize + x as usize;
                let light = over(style.surround, &seen);
                // Steps of 16 bits are seen by nobody.
                let only_sky = style.surround == Surround::Sky && seen.sky >= 1.0;
                let colour = coding.bytes(&light, if only_sky { screen(x, y) } else { 0.5 });
                rgb[3 * pixel..3 * pixel + 3].copy_from_slice(&colour);
                if let Some(place) = fine_rgb.get_mut(3 * pixel..3 * pixel + 3) {
                    place.copy_from_slice(&fine(&light));
                }
                if let Some(place) = cover.get_mut(pixel) {
                    *place = (65_535.0 * (1.0 - seen.sky) + 0.5) as u16;
                }
            };
            match &table.materials {
                Some(materials) => hand.tile_of_materials(materials, (left, top), end, put),
                None => hand.tile((left, top), end, put),
            }
        }
        Ok::<(), Cancelled>(())
    })?;
    Ok(Picture {
        width_px,
        height_px,
        rgb,
        fine: (style.depth == Depth::Sixteen).then_some(fine_rgb),
        cover: (style.surround == Surround::Clear).then_some(cover),
    })
}

/// A buffer in bands of rows of tiles; as many empty bands where there is no buffer.
fn bands_of<T: Send>(buffer: &mut [T], band: usize, height_px: u32) -> impl IndexedParallelIterator<Item = &mut [T]> {
    let count = height_px.div_ceil(TILE_PX) as usize;
    let mut rest = buffer;
    let bands: Vec<&mut [T]> = (0..count)
        .map(|_| {
            let (band, after) = std::mem::take(&mut rest).split_at_mut_checked(band).unwrap_or_default();
            rest = after;
            band
        })
        .collect();
    bands.into_par_iter()
}

/// A pixel's light over what is shown in place of the sky; clear pixels have white colours.
fn over(surround: Surround, seen: &PixelLight) -> Light {
    let white = Light::new(1.0, 1.0, 1.0);
    match surround {
        Surround::Sky => seen.all,
        Surround::White => seen.solid + white * seen.sky,
        Surround::Clear if seen.sky >= 1.0 => white,
        Surround::Clear => seen.solid / (1.0 - seen.sky),
    }
}

#[cfg(test)]
mod look_tests;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::angle::Angle;
    use crate::optics::{Camera, Frame, Margins};
    use crate::pose::{Attitude, Pose, WorldPoint};
    use crate::site::{Model, Site, Sun};

    fn model(text: &str) -> Model {
        let site: Site = crate::files::ron_options().from_str(text).expect("a site");
        Model::build(site)
    }

    /// A mast with stays, a stage of thin posts, a round stack, a front with windows, a tree, a lamp post thinner than a pixel.
    pub(super) const THIN_THINGS: &str = "(format: 1, name: \"t\", blocks: [
        (name: \"stack\", subject: true, at: (0, 0), shape: RoundTaper(foot_radius_m: 2.6, head_radius_m: 1.5, height_m: 42)),
        (name: \"mast\", at: (12, 5), shape: Mast(foot_radius_m: 0.15, head_radius_m: 0.05, height_m: 36, stays: 3,
            stay_heights_m: [12, 30], stay_radius_m: 11)),
        (name: \"lamp\", at: (-6, -12), shape: RoundTaper(foot_radius_m: 0.01, head_radius_m: 0.008, height_m: 9)),
        (name: \"stage\", at: (7, -14), heading_deg: 20, shape: Stage(width_m: 6, depth_m: 3, floor_m: 4, rail_m: 1.05)),
        (name: \"front\", at: (-16, 8), heading_deg: 160, shape: Facade(width_m: 14, depth_m: 9, height_m: 12, bays: 4, storeys: 3)),
        (name: \"house\", at: (22, 14), heading_deg: -12, shape: Gable(width_m: 12, depth_m: 8, eaves_m: 5, ridge_m: 9)),
        (name: \"elm\", at: (-9, -20), shape: Tree(height_m: 8, crown_radius_m: 3, crown_base_m: 2, trunk_radius_m: 0.2), finish: Leaf)])";

    /// How much two pictures differ: in how many bytes by more than this, and at most.
    fn apart(one: &Picture, other: &Picture, more_than: u8) -> (usize, u8) {
        let off = || one.rgb.iter().zip(&other.rgb).map(|(a, b)| a.abs_diff(*b));
        (off().filter(|&off| off > more_than).count(), off().max().unwrap_or(0))
    }

    /// One ray for a pixel that sees one surface gives what all rays everywhere give: on card within one step of 255, wherever
    /// edges, lines, shadows' ends and the sun's limb run, and where the sun grazes a round shaft.
    #[test]
    fn what_is_spared_is_not_missed() {
        let model = model(THIN_THINGS);
        let sight = Sight::over(&model);
        let scene = Scene { model: &model, sight: &sight };
        let frame = Frame { width_mm: 36.0, height_mm: 24.0, width_px: 201, height_px: 135, margins: Margins::USUAL };
        let places = [
            ((-9.0, -47.0, 1.6), 10.0, 15.0, 24.0),
            ((60.0, -60.0, 40.0), 315.0, -18.0, 35.0),
            ((3.0, -30.0, 1.6), 0.0, 0.0, 70.0),
            // Into the sun, beside the stack.
            ((14.0, 9.5, 2.0), 238.0, 27.0, 20.0),
        ];
        for (eye, heading_deg, pitch_deg, focal_mm) in places {
            let attitude = Attitude {
                heading: Angle::from_degrees(heading_deg),
                pitch: Angle::from_degrees(pitch_deg),
                roll: Angle::from_degrees(1.0),
            };
            let pose = Pose { eye: WorldPoint::new(eye.0, eye.1, eye.2), attitude };
            let straight = Camera { rise_mm: 3.0, ..Camera::plain(frame, focal_mm) };
            let bent = crate::optics::Distortion::from_slice(&[-0.08, 0.02, 0.0, 0.0, 0.0]).expect("mild");
            for camera in [straight, Camera { distortion: bent, ..straight }] {
                let view = View { camera, pose, focus: None };
                for (look, samples) in [(Look::Card, 1), (Look::Card, 4), (Look::Materials, 1), (Look::Materials, 4)] {
                    let sun = Some(Sun { azimuth_deg: 238.0, altitude_deg: 27.0 });
                    let style = Style { sun, samples, ..Style::of(look) };
                    let [spared, whole] = [false, true].map(|every_ray| {
                        let style = Style { every_ray, ..style.clone() };
                        render(&scene, &view, &style, &Progress::unwatched()).expect("a picture")
                    });
                    let (differ, most) = apart(&spared, &whole, 3);
                    match (look, samples) {
                        (Look::Materials, 1) => assert!(differ < spared.rgb.len() / 2000, "{differ} from {eye:?}"),
                        (Look::Card, _) => assert!(most <= 1, "{most} from {eye:?}"),
                        // Patterns are averaged over a pixel about its middle, not about the mean of four places in it.
                        (Look::Materials, _) => assert!(differ < spared.rgb.len() / 25, "{differ} from {eye:?}"),
                    }
                }
            }
        }
    }

    #[test]
    fn without_the_sky_what_is_left_is_the_same() {
        let model = model(THIN_THINGS);
        let sight = Sight::over(&model);
        let scene = Scene { model: &model, sight: &sight };
        let frame = Frame { width_mm: 36.0, height_mm: 24.0, width_px: 120, height_px: 80, margins: Margins::USUAL };
        let attitude =
            Attitude { heading: Angle::from_degrees(10.0), pitch: Angle::from_degrees(15.0), roll: Angle::ZERO };
        let pose = Pose { eye: WorldPoint::new(-9.0, -47.0, 1.6), attitude };
        let view = View { camera: Camera::plain(frame, 24.0), pose, focus: None };
        for look in [Look::Card, Look::Materials] {
            let take = |surround, depth| {
                let style = Style { surround, depth, ..Style::of(look) };
                render(&scene, &view, &style, &Progress::unwatched()).expect("a picture")
            };
            let (sky, white, clear) = (
                take(Surround::Sky, Depth::Sixteen),
                take(Surround::White, Depth::Eight),
                take(Surround::Clear, Depth::Sixteen),
            );
            let cover = clear.cover.as_ref().expect("clear somewhere");
            let whole = cover.iter().filter(|&&cover| cover == u16::MAX).count();
            let none = cover.iter().filter(|&&cover| cover == 0).count();
            assert!(whole > 2000 && none > 2000 && whole + none < cover.len(), "{whole} {none}");
            for (index, &cover) in cover.iter().enumerate() {
                let at = 3 * index..3 * index + 3;
                if cover == u16::MAX {
                    assert_eq!(clear.rgb[at.clone()], white.rgb[at.clone()]);
                    assert_eq!(clear.rgb[at.clone()], sky.rgb[at.clone()]);
                } else if cover == 0 {
                    assert_eq!(white.rgb[at.clone()], [255; 3]);
                }
                let (fine, bytes) = (&sky.fine.as_ref().expect("fine")[at.clone()], &sky.rgb[at]);
                // A byte of the sky may be screened up or down.
                assert!(fine.iter().zip(bytes).all(|(fine, byte)| fine.abs_diff(257 * u16::from(*byte)) <= 260));
            }
        }
    }
}
