//! Where does a picture's file say that it lies? A world file beside it, or the tags of a GeoTIFF, laid into a site's plane.
//!
//! Both give an affine map of (right, down) in pixels to a map's coordinates. Here it counts from the outer corner of the
//! first pixel, as an [`Underlay`] does; a world file counts from the middle of that pixel, a GeoTIFF from either.

use std::path::{Path, PathBuf};

use tiff::tags::Tag;

use super::grid_file::prj_beside;
use super::picture::{PictureFile, PictureFormat};
use super::picture_error::PictureError;
use super::words::file_name;
use crate::files::{FileKind, read_text};
use crate::place::{Crs, Geographic, TangentPlane, VALID_RADIUS_M, crs_of_prj};
use crate::site::{Anchor, PicturePoint, PlanPoint, Underlay, usual_strength};

/// A picture as it is laid under a plan at first.
#[derive(Clone, Debug, PartialEq)]
pub struct PictureLaying {
    /// Where it lies; its file's name is that of the file that was read.
    pub underlay: Underlay,
    /// Every guess, each a sentence.
    pub notes: Vec<String>,
}

/// How much of the view's width a picture takes that says nothing of its scale.
const SHARE_OF_VIEW: f64 = 0.8;
/// How far a picture may miss its place, laid with square pixels, as a share of its diagonal (common practice, no source).
const MISS_SHARE: f64 = 0.001;
/// How far from the origin coordinates are taken for a site's own, where nothing names a map.
const OWN_AXES_M: f64 = VALID_RADIUS_M;

/// Map coordinates of a place on a picture: x = a·right + b·down + c, and y likewise.
#[derive(Clone, Copy, Debug, PartialEq)]
struct MapAffine {
    x: [f64; 3],
    y: [f64; 3],
}

/// Where a place of a map lies in plan.
type InPlan<'a> = dyn Fn((f64, f64)) -> Result<PlanPoint, PictureError> + 'a;

impl MapAffine {
    fn at(&self, (right, down): PicturePoint) -> (f64, f64) {
        let along = |[a, b, c]: [f64; 3]| a * right + b * down + c;
        (along(self.x), along(self.y))
    }

    /// The same where it counted from the middle of the first pixel.
    fn counted_from_pixel_middle(self) -> Self {
        let (x, y) = self.at((-0.5, -0.5));
        Self { x: [self.x[0], self.x[1], x], y: [self.y[0], self.y[1], y] }
    }

    /// What is wrong with it, if it is none.
    fn fault(&self) -> Option<&'static str> {
        let area = self.x[0] * self.y[1] - self.x[1] * self.y[0];
        if !self.x.iter().chain(&self.y).all(|value| value.is_finite()) || !area.is_finite() {
            Some("one of its numbers is none or without bounds")
        } else if area == 0.0 {
            Some("by its numbers a pixel has no area")
        } else {
            None
        }
    }
}

/// How a picture is laid at first: where its file or a world file says, in the plane of the `anchor`; `None` where nothing
/// says it.
///
/// Without a map system the coordinates are taken as the site's own metres east and north, where they are near enough.
///
/// # Errors
/// The picture or what places it cannot be read, or it lies elsewhere, sheared, mirrored or with pixels that are not square.
pub fn laid_by_file(path: &Path, anchor: Option<&Anchor>) -> Result<Option<PictureLaying>, PictureError> {
    let file = PictureFile::read(path)?;
    let size_px = file.size_px()?;
    let tagged = match file.format {
        PictureFormat::Tiff => tiff_tags(path, &file)?,
        PictureFormat::Png | PictureFormat::Jpeg => None,
    };
    let (map, code) = match (tagged, world_file_beside(path)) {
        (Some(tagged), _) => tagged,
        (None, Some(world)) => (read_world_file(&world)?, None),
        (None, None) => return Ok(None),
    };
    let crs = match (code, prj_beside(path)) {
        (Some(code), _) => {
            Some(Crs::from_epsg(code).map_err(|source| PictureError::Place { path: path.into(), source })?)
        }
        (None, Some(prj)) => Some(
            crs_of_prj(&read_text(&prj, FileKind::Projection)?)
                .map_err(|source| PictureError::Place { path: prj, source })?,
        ),
        (None, None) => None,
    };
    lay(path, size_px, &map, crs.as_ref(), anchor).map(Some)
}

/// A picture that says nothing of where it lies: upright in the middle of a view, and a little less wide. The scale is a guess.
///
/// # Errors
/// The picture cannot be read, or would be out of range.
pub fn laid_in_view(path: &Path, middle: PlanPoint, width_m: f64) -> Result<PictureLaying, PictureError> {
    let [width_px, height_px] = PictureFile::read(path)?.size_px()?.map(f64::from);
    let metres_per_pixel = SHARE_OF_VIEW * width_m / width_px;
    let centre = (0.5 * width_px, 0.5 * height_px);
    let right = (centre.0 + 1.0, centre.1);
    let points = [(centre, middle), (right, (middle.0 + metres_per_pixel, middle.1))];
    let underlay = blank(path)
        .laid_by_points(&points)
        .map_err(|source| PictureError::Laying { path: path.into(), source })?
        .rounded();
    let notes = vec![format!("{}: its scale is a guess; press two points on it that you know", file_name(path))];
    Ok(PictureLaying { underlay, notes })
}

fn blank(path: &Path) -> Underlay {
    Underlay {
        file: file_name(path),
        at: (0.0, 0.0),
        metres_per_pixel: 1.0,
        turned_deg: 0.0,
        strength: usual_strength(),
    }
}

/// Lays a picture by its map coordinates.
fn lay(
    path: &Path,
    size_px: [u32; 2],
    map: &MapAffine,
    crs: Option<&Crs>,
    anchor: Option<&Anchor>,
) -> Result<PictureLaying, PictureError> {
    let mut notes = Vec::new();
    let [width_px, height_px] = size_px.map(f64::from);
    let corner = map.at((0.0, 0.0));
    let in_plan: Box<InPlan<'_>> = match (crs, anchor) {
        (Some(crs), Some(anchor)) => {
            let place = Geographic::from_degrees(anchor.latitude_deg, anchor.longitude_deg, anchor.height_m);
            let place = place.map_err(|source| PictureError::Place { path: path.into(), source })?;
            notes.extend(crs.datum_caution().map(|caution| format!("{}: {caution}", file_name(path))));
            let (plane, height_m) = (TangentPlane::new(place), anchor.height_m);
            Box::new(move |(x, y)| {
                let place = crs.geographic_from_map((x, y), height_m).ok_or_else(|| PictureError::OffTheMap {
                    path: path.into(),
                    x,
                    y,
                    crs: crs.to_string(),
                })?;
                Ok(plane.plan_from_geographic(&place))
            })
        }
        (Some(crs), None) => return Err(PictureError::NoAnchor { path: path.into(), crs: crs.to_string() }),
        (None, _) if corner.0.hypot(corner.1) > OWN_AXES_M => {
            return Err(PictureError::NoCrs { path: path.into(), x: corner.0, y: corner.1 });
        }
        (None, _) => {
            notes.push(format!(
                "{}: nothing names a map; its coordinates were taken as the site's own, metres east and north",
                file_name(path)
            ));
            Box::new(Ok)
        }
    };
    // The far edges and the middle, so that a map that bends is laid as well as it can be.
    let mut points = Vec::with_capacity(9);
    for down in [0.0, 0.5, 1.0] {
        for right in [0.0, 0.5, 1.0] {
            let pixel = (right * width_px, down * height_px);
            points.push((pixel, in_plan(map.at(pixel))?));
        }
    }
    let (_, middle) = points[4];
    if middle.0.hypot(middle.1) > VALID_RADIUS_M {
        return Err(PictureError::TooFar { path: path.into(), distance_km: middle.0.hypot(middle.1) / 1000.0 });
    }
    let laid =
        blank(path).laid_by_points(&points).map_err(|source| PictureError::Laying { path: path.into(), source })?;
    let (_, first) = points[0];
    let (_, last) = points[8];
    let diagonal_m = (first.0 - last.0).hypot(first.1 - last.1);
    let miss_m = laid.largest_miss_m(&points);
    // A pixel either way is the picture's own fineness.
    if miss_m.is_nan() || miss_m > laid.metres_per_pixel.max(MISS_SHARE * diagonal_m) {
        return Err(PictureError::NotSquare { path: path.into(), miss_m });
    }
    Ok(PictureLaying { underlay: laid.rounded(), notes })
}

/// The world file that belongs to a picture: first and last letter of its ending and a w, its ending and a w, or `wld`.
fn world_file_beside(path: &Path) -> Option<PathBuf> {
    let ending = path.extension()?.to_string_lossy().into_owned();
    let (first, last) = (ending.chars().next()?, ending.chars().last()?);
    let endings = [format!("{first}{last}w"), format!("{ending}w"), "wld".to_owned()];
    let cased = endings.iter().flat_map(|ending| [ending.clone(), ending.to_lowercase(), ending.to_uppercase()]);
    cased.map(|ending| path.with_extension(ending)).find(|world| world.is_file() && world != path)
}

/// The map that a world file describes.
///
/// # Source
/// Esri, *World files for raster datasets*: A, D, B, E, C, F in this order, for the middle of a pixel.
fn read_world_file(path: &Path) -> Result<MapAffine, PictureError> {
    let text = read_text(path, FileKind::WorldFile)?;
    let wrong = |why: String| PictureError::WorldFile { path: path.into(), why };
    let numbers = text
        .trim_start_matches('\u{feff}')
        .lines()
        .map(str::trim)
        .filter(|line| !line.is_empty())
        .enumerate()
        .map(|(index, line)| {
            let number = line.parse::<f64>().or_else(|_| line.replace(',', ".").parse());
            number.ok().filter(|number| number.is_finite()).ok_or_else(|| {
                let shown: String = line.chars().filter(|letter| !letter.is_control()).take(40).collect();
                wrong(format!("line {} is '{shown}', no number", index + 1))
            })
        })
        .collect::<Result<Vec<f64>, _>>()?;
    let &[a, d, b, e, c, f] = numbers.as_slice() else {
        return Err(wrong(format!("it has {} numbers", numbers.len())));
    };
    let map = MapAffine { x: [a, b, c], y: [d, e, f] };
    match map.fault() {
        Some(why) => Err(wrong(why.into())),
        None => Ok(map.counted_from_pixel_middle()),
    }
}

/// Keys of the GeoTIFF directory.
const MODEL_TYPE: u16 = 1024;
const RASTER_TYPE: u16 = 1025;
const GEOGRAPHIC_CODE: u16 = 2048;
const PROJECTED_CODE: u16 = 3072;
/// The code of a system that the file describes itself.
const OWN_SYSTEM: u16 = 32767;

/// The map that a GeoTIFF's tags describe, and the code of its system; `None` where it has none.
///
/// # Source
/// OGC 19-008r4, *GeoTIFF Standard*, version 1.1, 2019, annex B and sections 7.1 to 7.3.
fn tiff_tags(path: &Path, file: &PictureFile<'_>) -> Result<Option<(MapAffine, Option<u16>)>, PictureError> {
    let (mut decoder, _) = file.tiff()?;
    let mut numbers = |tag: Tag| -> Result<Option<Vec<f64>>, PictureError> {
        let found = decoder.find_tag(tag).map_err(|error| file.broken(error))?;
        found.map(tiff::decoder::ifd::Value::into_f64_vec).transpose().map_err(|error| file.broken(error))
    };
    let wrong = |why: String| PictureError::GeoTags { path: path.into(), why };
    let transformation = numbers(Tag::ModelTransformationTag)?;
    let (scale, ties) = (numbers(Tag::ModelPixelScaleTag)?, numbers(Tag::ModelTiepointTag)?);
    let map = match (transformation.as_deref(), scale.as_deref(), ties.as_deref()) {
        (Some(&[a, b, _, c, d, e, _, f, ..]), _, _) => MapAffine { x: [a, b, c], y: [d, e, f] },
        (None, Some(&[scale_x, scale_y, ..]), Some(&[right, down, _, x, y, _])) => {
            MapAffine { x: [scale_x, 0.0, x - scale_x * right], y: [0.0, -scale_y, y + scale_y * down] }
        }
        (None, None, None) => return Ok(None),
        (None, None, Some(ties)) if ties.len() > 6 => {
            return Err(wrong(format!("it is placed by {} tie points, which are not read", ties.len() / 6)));
        }
        _ => return Err(wrong("its tags of scale and tie point do not go together".into())),
    };
    if let Some(why) = map.fault() {
        return Err(wrong(why.into()));
    }
    let keys = match decoder.find_tag(Tag::GeoKeyDirectoryTag).map_err(|error| file.broken(error))? {
        Some(keys) => keys.into_u16_vec().map_err(|error| file.broken(error))?,
        None => Vec::new(),
    };
    // A header of four numbers, then key, where its value stands (0 for here), how many, and the value.
    let value = |wanted: u16| {
        keys.as_chunks::<4>().0.iter().skip(1).find(|[key, place, ..]| *key == wanted && *place == 0).map(|key| key[3])
    };
    let map = if value(RASTER_TYPE) == Some(2) { map.counted_from_pixel_middle() } else { map };
    let code = if value(MODEL_TYPE) == Some(2) { value(GEOGRAPHIC_CODE) } else { value(PROJECTED_CODE) };
    Ok(Some((map, code.filter(|code| *code != OWN_SYSTEM))))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn picture(folder: &Path, name: &str) -> PathBuf {
        let path = folder.join(name);
        let mut file = Vec::new();
        let mut encoder = png::Encoder::new(&mut file, 40, 20);
        encoder.set_color(png::ColorType::Grayscale);
        let mut writer = encoder.write_header().expect("a header");
        writer.write_image_data(&[7; 800]).expect("its pixels");
        writer.finish().expect("an end");
        std::fs::write(&path, file).expect("written");
        path
    }

    #[test]
    fn a_world_file_counts_from_the_middle_of_its_first_pixel() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = picture(folder.path(), "yard.png");
        assert_eq!(laid_by_file(&path, None).expect("read"), None);
        // Half a metre a pixel; the middle of the first pixel at (10.25, 19.75), so its corner at (10, 20).
        std::fs::write(folder.path().join("yard.pgw"), "0.5\n0\n0\n-0.5\n10.25\n19.75\n").expect("written");
        let laid = laid_by_file(&path, None).expect("read").expect("laid");
        assert_eq!(
            laid.underlay,
            Underlay {
                file: "yard.png".into(),
                at: (10.0, 20.0),
                metres_per_pixel: 0.5,
                turned_deg: 0.0,
                strength: 0.4
            }
        );
        assert!(laid.notes[0].contains("nothing names a map"), "{:?}", laid.notes);
        // Turned clockwise by a right angle: a step to the right goes south, a step down goes west.
        std::fs::write(folder.path().join("yard.pgw"), "0\n-0.5\n-0.5\n0\n10.25\n19.75\n").expect("written");
        let turned = laid_by_file(&path, None).expect("read").expect("laid").underlay;
        assert_eq!((turned.turned_deg, turned.at), (90.0, (10.5, 20.0)));
    }

    #[test]
    fn world_files_that_are_none_are_refused_with_their_place() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = picture(folder.path(), "yard.png");
        let told = |text: &str| {
            std::fs::write(folder.path().join("yard.wld"), text).expect("written");
            laid_by_file(&path, None).expect_err("refused").to_string()
        };
        for (text, words) in [
            ("0.5\n0\n0\n-0.5\n10\n", "it has 5 numbers"),
            ("", "it has 0 numbers"),
            ("0.5\n0\nnought\n-0.5\n10\n20\n", "line 3 is 'nought', no number"),
            ("NaN\n0\n0\n-0.5\n10\n20\n", "line 1 is 'NaN', no number"),
            ("0\n0\n0\n0\n10\n20\n", "a pixel has no area"),
            ("1e200\n0\n0\n1e200\n10\n20\n", "without bounds"),
            ("0.5\n0\n0\n0.5\n10\n20\n", "mirrored"),
            ("0.5\n0\n0\n-1.5\n10\n20\n", "not square"),
            ("0.5\n0\n0\n-0.5\n412000\n5500000\n", "nothing tells which"),
            ("500\n0\n0\n-500\n0\n0\n", "km"),
        ] {
            let error = told(text);
            assert!(error.contains(words) && error.contains("yard."), "{text:?}: {error}");
        }
        // A map that is named, and a site that is nowhere.
        std::fs::write(folder.path().join("yard.prj"), "EPSG:32632").expect("written");
        assert!(told("0.5\n0\n0\n-0.5\n612000\n5899000\n").contains("has no anchor"));
    }

    #[test]
    fn a_picture_without_a_place_lies_in_the_middle_of_the_view() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = picture(folder.path(), "yard.png");
        let laid = laid_in_view(&path, (30.0, -10.0), 100.0).expect("laid").underlay;
        // 40 pixels over 80 m, 20 over 40 m.
        assert_eq!((laid.metres_per_pixel, laid.turned_deg, laid.at), (2.0, 0.0, (-10.0, 10.0)));
        assert!(laid_in_view(&path, (30.0, -10.0), f64::NAN).is_err());
    }
}
