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

pub use annotate::annotations;
use figures::Company;
pub(crate) use figures::STATURE_M;
pub(crate) use lettering::Lettering;
pub use lettering::Weight;
pub use overlay::{LabelAnchor, MarkForm, Overlay, OverlayCount, OverlayInk, OverlayLabel, OverlayLine, OverlayMark};
pub use picture::Picture;
use picture::{Coding, screen};
use rays::TILE_PX;
pub use request::{LARGEST_MEGAPIXELS, Look, SAMPLES, Scene, StillError, Style, View};
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
    render_sparing(scene, view, style, progress, true)
}

/// [`render`]; `spares` says whether what the rays of a tile cannot meet is left out beforehand, which alters no byte.
fn render_sparing(
    scene: &Scene<'_>,
    view: &View,
    style: &Style,
    progress: &Progress,
    spares: bool,
) -> Result<Picture, StillError> {
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
    let mut table = StillScene::laid(model, sight, view, style, first_figure);
    table.spares = spares;

    let coding = Coding::new();
    let tiles_across = width_px.div_ceil(TILE_PX);
    progress.start(u64::from(tiles_across) * u64::from(height_px.div_ceil(TILE_PX)));
    let mut rgb = vec![0; 3 * width_px as usize * height_px as usize];
    let row_bytes = 3 * width_px as usize;
    rgb.par_chunks_mut(row_bytes * TILE_PX as usize).enumerate().try_for_each(|(band, rows)| {
        let top = band as u32 * TILE_PX;
        let mut hand = TileRenderer::at(&table);
        for left in (0..tiles_across).map(|tile| tile * TILE_PX) {
            progress.advance(1)?;
            let end = (width_px.min(left + TILE_PX), height_px.min(top + TILE_PX));
            let put = |(x, y): (u32, u32), light: Light, sky: bool| {
                let colour = coding.bytes(&light, if sky { screen(x, y) } else { 0.5 });
                let start = (y - top) as usize * row_bytes + 3 * x as usize;
                rows[start..start + 3].copy_from_slice(&colour);
            };
            match &table.materials {
                Some(materials) => hand.tile_of_materials(materials, (left, top), end, put),
                None => hand.tile((left, top), end, put),
            }
        }
        Ok::<(), Cancelled>(())
    })?;
    Ok(Picture { width_px, height_px, rgb })
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

    #[test]
    fn what_is_spared_alters_no_byte() {
        let model = model(THIN_THINGS);
        let sight = Sight::over(&model);
        let scene = Scene { model: &model, sight: &sight };
        let frame = Frame { width_mm: 36.0, height_mm: 24.0, width_px: 201, height_px: 135, margins: Margins::USUAL };
        let places = [
            ((-9.0, -47.0, 1.6), 10.0, 15.0, 24.0),
            ((60.0, -60.0, 40.0), 315.0, -18.0, 35.0),
            ((3.0, -30.0, 1.6), 0.0, 0.0, 70.0),
        ];
        for (eye, heading_deg, pitch_deg, focal_mm) in places {
            let attitude = Attitude {
                heading: Angle::from_degrees(heading_deg),
                pitch: Angle::from_degrees(pitch_deg),
                roll: Angle::from_degrees(1.0),
            };
            let pose = Pose { eye: WorldPoint::new(eye.0, eye.1, eye.2), attitude };
            let camera = Camera { rise_mm: 3.0, ..Camera::plain(frame, focal_mm) };
            let view = View { camera, pose, focus: None };
            for look in [Look::Card, Look::Materials] {
                let sun = Some(Sun { azimuth_deg: 238.0, altitude_deg: 27.0 });
                let style = Style { sun, samples: if look == Look::Card { 4 } else { 1 }, ..Style::of(look) };
                let [spared, whole] = [true, false].map(|spares| {
                    render_sparing(&scene, &view, &style, &Progress::unwatched(), spares).expect("a picture")
                });
                let differ = spared.rgb.iter().zip(&whole.rgb).filter(|(a, b)| a != b).count();
                assert_eq!(differ, 0, "{look:?} from {eye:?}");
            }
        }
    }
}
