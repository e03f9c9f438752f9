//! Do pictures from above lie where GDAL and PROJ say, pixel by pixel, with the colours that GDAL reads?

use plumbsight::bring::{laid_by_file, picture_size_px, read_picture};
use serde::{Deserialize, Serialize};

use super::written_by_others::{distance_m, in_axes};
use super::*;
use crate::support::python::ask;

#[derive(Serialize)]
struct Wanted<'a> {
    folder: &'a Path,
}

#[derive(Deserialize)]
struct Written {
    file: String,
    size: [u32; 2],
    pixels: Vec<(f64, f64)>,
    places: Vec<(f64, f64)>,
    /// Column, row, red, green, blue.
    colours: Vec<(u32, u32, u8, u8, u8)>,
    exact: bool,
}

/// About 180 m from the pictures' corner.
fn anchor() -> Anchor {
    Anchor { latitude_deg: 53.2288, longitude_deg: 10.676, height_m: 12.0, vertical_datum: None }
}

#[test]
fn pictures_that_gdal_writes_lie_where_they_belong() {
    let folder = tempfile::tempdir().expect("a folder");
    let written: Vec<Written> = ask("tests/oracles/from_above.py", &Wanted { folder: folder.path() });
    assert_eq!(written.len(), 8);
    for Written { file, size, pixels, places, colours, exact } in &written {
        let path = folder.path().join(file);
        assert_eq!(picture_size_px(&path).expect("a size"), *size, "{file}");
        let laid = laid_by_file(&path, Some(&anchor())).unwrap_or_else(|error| panic!("{error}")).expect("a place");
        let theirs = in_axes(&anchor(), places);
        let off_m = pixels
            .iter()
            .zip(&theirs)
            .map(|(pixel, at)| distance_m(laid.underlay.plan_of_pixel(*pixel), *at))
            .fold(0.0, f64::max);
        let raster = read_picture(&path, 4096).unwrap_or_else(|error| panic!("{error}"));
        let off_by = |&(column, row, red, green, blue): &(u32, u32, u8, u8, u8)| {
            let at = 4 * (row * size[0] + column) as usize;
            raster.rgba[at..at + 3].iter().zip([red, green, blue]).map(|(ours, theirs)| ours.abs_diff(theirs)).max()
        };
        let colour_off = colours.iter().filter_map(off_by).max().expect("colours");
        tell(&format!("from above: {file}: pixels within {off_m:.5} m of PROJ's, colours within {colour_off}"));
        // Millimetres of a site file, and what they make of 16 m.
        assert!(off_m < 0.001_5, "{file}: {off_m} m");
        assert!(colour_off <= if *exact { 0 } else { 6 }, "{file}: {colour_off}");
        // Moved to another place it is refused.
        let elsewhere = Anchor { latitude_deg: 53.4, ..anchor() };
        let refused = laid_by_file(&path, Some(&elsewhere)).expect_err("too far").to_string();
        assert!(refused.contains("km from the site's anchor"), "{refused}");
    }
}
