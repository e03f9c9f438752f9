//! How does a map leave for other programs?
//!
//! The site's own axes are, to under a millimetre within 5 km, the azimuthal equidistant projection about its anchor: an
//! Esri ASCII grid keeps them and names that projection beside it. A GeoTIFF carries the anchor's UTM zone, into which the
//! cells are turned by one affine transformation, so that no value is resampled.

use std::fmt::Write;

use thiserror::Error;

use crate::place::{Crs, Geographic, PlaceError, TangentPlane};
use crate::pose::WorldPoint;
use crate::site::{Anchor, PlanPoint};

use super::map::{Map, MapFigure};

/// What stands for a place without a value.
pub const NO_VALUE: f64 = -9999.0;

/// Why a map cannot leave.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum ExportError {
    /// The anchor lies where no map projection is.
    #[error(transparent)]
    Place(#[from] PlaceError),
    /// Too near a pole, or too far from the anchor.
    #[error("the map cannot be placed on the Earth: UTM has no place for it; write an Esri ASCII grid (.asc) instead")]
    OffTheMap,
}

/// The map of a figure as an Esri ASCII grid, in the site's own metres.
pub fn esri_grid(map: &Map, figure: MapFigure) -> String {
    let (west, south) = map.corner();
    let mut text = format!(
        "ncols {}\nnrows {}\nxllcorner {west}\nyllcorner {south}\ncellsize {}\nNODATA_value {NO_VALUE}\n",
        map.columns(),
        map.rows(),
        map.spacing_m()
    );
    for row in (0..map.rows()).rev() {
        for column in 0..map.columns() {
            let value = map.value(column, row, figure).unwrap_or(NO_VALUE);
            let between = if column == 0 { "" } else { " " };
            // Writing to a string cannot fail.
            let _ = write!(text, "{between}{value}");
        }
        text.push('\n');
    }
    text
}

/// The projection of an Esri ASCII grid, as its `.prj` file.
pub fn projection_beside(anchor: &Anchor) -> String {
    format!(
        "PROJCS[\"Site about its anchor\",GEOGCS[\"GCS_WGS_1984\",DATUM[\"D_WGS_1984\",SPHEROID[\"WGS_1984\",6378137.0,\
         298.257223563]],PRIMEM[\"Greenwich\",0.0],UNIT[\"Degree\",0.0174532925199433]],\
         PROJECTION[\"Azimuthal_Equidistant\"],PARAMETER[\"False_Easting\",0.0],PARAMETER[\"False_Northing\",0.0],\
         PARAMETER[\"Central_Meridian\",{}],PARAMETER[\"Latitude_Of_Origin\",{}],UNIT[\"Meter\",1.0]]\n",
        anchor.longitude_deg, anchor.latitude_deg
    )
}

/// The map of a figure as a GeoTIFF of 64-bit numbers, north row first; on a site with an anchor placed in its UTM zone.
///
/// # Source
/// Aldus, *TIFF revision 6.0*, 1992; OGC 19-008r4, *GeoTIFF standard* 1.1: ModelTransformationTag (34264), and keys 1024,
/// 1025 and 3072.
///
/// # Errors
/// The anchor has no place in UTM.
pub fn geotiff(map: &Map, figure: MapFigure, anchor: Option<&Anchor>) -> Result<Vec<u8>, ExportError> {
    let placed = anchor.map(|anchor| in_utm(map, anchor)).transpose()?;
    let (columns, rows) = (map.columns(), map.rows());
    let mut pixels = Vec::with_capacity(columns as usize * rows as usize * 8);
    for row in (0..rows).rev() {
        for column in 0..columns {
            pixels.extend(map.value(column, row, figure).unwrap_or(NO_VALUE).to_le_bytes());
        }
    }
    let transformation = placed.as_ref().map_or_else(|| in_site(map), |(_, transformation)| *transformation);
    let mut tiff = TiffWriter::default();
    tiff.longs(256, &[columns]);
    tiff.longs(257, &[rows]);
    tiff.shorts(258, &[64]);
    tiff.shorts(259, &[1]);
    tiff.shorts(262, &[1]);
    tiff.shorts(277, &[1]);
    tiff.longs(278, &[rows]);
    tiff.longs(279, &[pixels.len() as u32]);
    tiff.shorts(339, &[3]);
    tiff.doubles(34264, &transformation);
    let mut keys: Vec<[u16; 4]> = vec![[1024, 0, 1, if placed.is_some() { 1 } else { 32767 }], [1025, 0, 1, 1]];
    keys.extend(placed.iter().map(|(code, _)| [3072, 0, 1, *code]));
    let mut directory = vec![1, 1, 1, keys.len() as u16];
    directory.extend(keys.into_iter().flatten());
    tiff.shorts(34735, &directory);
    tiff.text(42113, &format!("{NO_VALUE}"));
    Ok(tiff.file(&pixels))
}

/// From column and row, counted from the north-west corner, to the site's own metres.
fn in_site(map: &Map) -> [f64; 16] {
    let (west, south) = map.corner();
    let north = south + f64::from(map.rows()) * map.spacing_m();
    let size = map.spacing_m();
    [size, 0.0, 0.0, west, 0.0, -size, 0.0, north, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0]
}

/// The EPSG code of the anchor's UTM zone, and the transformation from column and row into it, true about the map's
/// middle.
fn in_utm(map: &Map, anchor: &Anchor) -> Result<(u16, [f64; 16]), ExportError> {
    if !(-80.0..=84.0).contains(&anchor.latitude_deg) {
        return Err(ExportError::OffTheMap);
    }
    let zone = ((anchor.longitude_deg + 180.0).rem_euclid(360.0) / 6.0).floor() as u16 + 1;
    let code = if anchor.latitude_deg < 0.0 { 32700 } else { 32600 } + zone.min(60);
    let crs = Crs::from_epsg(code)?;
    let plane =
        TangentPlane::new(Geographic::from_degrees(anchor.latitude_deg, anchor.longitude_deg, anchor.height_m)?);
    let utm = |(x, y): PlanPoint| {
        let place = plane.geographic_from_world(&WorldPoint::new(x, y, 0.0))?;
        crs.map_from_geographic(&place)
    };
    let (west, south) = map.corner();
    let size = map.spacing_m();
    let (wide, deep) = (f64::from(map.columns()) * size, f64::from(map.rows()) * size);
    let middle = (west + 0.5 * wide, south + 0.5 * deep);
    let (half_wide, half_deep) = (0.5 * wide, 0.5 * deep);
    let ends = [
        utm((middle.0 - half_wide, middle.1)),
        utm((middle.0 + half_wide, middle.1)),
        utm((middle.0, middle.1 - half_deep)),
        utm((middle.0, middle.1 + half_deep)),
        utm(middle),
    ];
    let [Some(left), Some(right), Some(bottom), Some(top), Some(centre)] = ends else {
        return Err(ExportError::OffTheMap);
    };
    let (columns, rows) = (f64::from(map.columns()), f64::from(map.rows()));
    let by_column = ((right.0 - left.0) / columns, (right.1 - left.1) / columns);
    // Rows run down from the north.
    let by_row = ((bottom.0 - top.0) / rows, (bottom.1 - top.1) / rows);
    let corner = (
        centre.0 - 0.5 * (columns * by_column.0 + rows * by_row.0),
        centre.1 - 0.5 * (columns * by_column.1 + rows * by_row.1),
    );
    let row = [0.0; 4];
    let mut matrix = [0.0; 16];
    matrix[..4].copy_from_slice(&[by_column.0, by_row.0, 0.0, corner.0]);
    matrix[4..8].copy_from_slice(&[by_column.1, by_row.1, 0.0, corner.1]);
    matrix[8..12].copy_from_slice(&row);
    matrix[15] = 1.0;
    Ok((code, matrix))
}

/// One picture's directory; fields in rising order of their tags, but for the place of the pixels, which is put in last.
#[derive(Default)]
struct TiffWriter {
    fields: Vec<(u16, u16, u32, Vec<u8>)>,
}

impl TiffWriter {
    fn shorts(&mut self, tag: u16, values: &[u16]) {
        let bytes = values.iter().flat_map(|value| value.to_le_bytes()).collect();
        self.fields.push((tag, 3, values.len() as u32, bytes));
    }

    fn longs(&mut self, tag: u16, values: &[u32]) {
        let bytes = values.iter().flat_map(|value| value.to_le_bytes()).collect();
        self.fields.push((tag, 4, values.len() as u32, bytes));
    }

    fn doubles(&mut self, tag: u16, values: &[f64]) {
        let bytes = values.iter().flat_map(|value| value.to_le_bytes()).collect();
        self.fields.push((tag, 12, values.len() as u32, bytes));
    }

    fn text(&mut self, tag: u16, text: &str) {
        let bytes: Vec<u8> = text.bytes().chain([0]).collect();
        self.fields.push((tag, 2, bytes.len() as u32, bytes));
    }

    fn file(mut self, pixels: &[u8]) -> Vec<u8> {
        const HEADER: usize = 8;
        self.longs(273, &[HEADER as u32]);
        self.fields.sort_by_key(|field| field.0);
        let directory_at = HEADER + pixels.len().next_multiple_of(8);
        let mut values_at = directory_at + 2 + 12 * self.fields.len() + 4;
        let mut file = Vec::with_capacity(values_at + 1024);
        file.extend(b"II");
        file.extend(42_u16.to_le_bytes());
        file.extend((directory_at as u32).to_le_bytes());
        file.extend(pixels);
        file.resize(directory_at, 0);
        file.extend((self.fields.len() as u16).to_le_bytes());
        let mut values = Vec::new();
        for (tag, kind, count, bytes) in &self.fields {
            file.extend(tag.to_le_bytes());
            file.extend(kind.to_le_bytes());
            file.extend(count.to_le_bytes());
            if bytes.len() <= 4 {
                file.extend(bytes);
                file.resize(file.len() + 4 - bytes.len(), 0);
            } else {
                file.extend((values_at as u32).to_le_bytes());
                values.extend(bytes);
                values.resize(bytes.len().next_multiple_of(2) - bytes.len() + values.len(), 0);
                values_at = directory_at + 2 + 12 * self.fields.len() + 4 + values.len();
            }
        }
        file.extend(0_u32.to_le_bytes());
        file.extend(values);
        file
    }
}
