//! Do the importers read what other libraries write?
//!
//! GDAL writes every file anew for the test; shapely shapes the footprints, PROJ tells where their corners and the grids'
//! posts lie on the Earth, how large the footprints are there, and where all of that is in the site's axes.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::*;
use crate::support::python::ask;

#[derive(Serialize)]
struct Wanted<'a> {
    folder: &'a Path,
    projected: &'a [u16],
    grids: &'a [&'a str],
}

#[derive(Deserialize)]
struct Written {
    footprints: Vec<Footprints>,
    grids: Vec<Grid>,
}

#[derive(Deserialize)]
struct Footprints {
    file: String,
    code: u16,
    polygons: Vec<Polygon>,
}

#[derive(Deserialize)]
struct Polygon {
    name: String,
    height_m: Option<f64>,
    area_m2: f64,
    /// Longitudes and latitudes.
    rings: Vec<Vec<(f64, f64)>>,
}

#[derive(Deserialize)]
struct Grid {
    file: String,
    code: u16,
    prj: String,
    /// Columns and rows.
    size: (usize, usize),
    /// From the north.
    heights_m: Vec<Vec<Option<f64>>>,
    /// Longitude and latitude of each post.
    places: Vec<Vec<(f64, f64)>>,
}

fn written_into(folder: &Path, projected: &[u16], grids: &[&str]) -> Written {
    ask("tests/oracles/brought.py", &Wanted { folder, projected, grids })
}

/// Where PROJ puts places (longitude and latitude) of the anchor's own height: metres east and north of it.
pub(super) fn in_axes(anchor: &Anchor, places: &[(f64, f64)]) -> Vec<(f64, f64)> {
    #[derive(Deserialize)]
    struct Answer {
        anchors: Vec<Vec<Place>>,
    }
    #[derive(Deserialize)]
    struct Place {
        topocentric: (f64, f64, f64),
    }
    let places: Vec<_> = places.iter().map(|(longitude, latitude)| (latitude, longitude, anchor.height_m)).collect();
    let question = serde_json::json!({
        "systems": [], "per_system": 0, "places": places,
        "anchors": [(anchor.latitude_deg, anchor.longitude_deg, anchor.height_m)],
    });
    let Answer { anchors } = ask("tests/oracles/place.py", &question);
    anchors[0].iter().map(|place| (place.topocentric.0, place.topocentric.1)).collect()
}

pub(super) fn distance_m(a: (f64, f64), b: (f64, f64)) -> f64 {
    (a.0 - b.0).hypot(a.1 - b.1)
}

#[test]
fn footprints_that_gdal_writes_are_brought_as_shapely_and_proj_have_them() {
    let folder = tempfile::tempdir().expect("a folder");
    // Zones of UTM on two datums that agree, the map of web pages, and equal areas all over Europe.
    let written = written_into(folder.path(), &[32632, 25832, 3857, 3035], &[]);
    assert_eq!(written.footprints.len(), 8);
    for Footprints { file, code, polygons } in &written.footprints {
        let brought = one(&folder.path().join(file), &options()).unwrap_or_else(|error| panic!("{file}: {error}"));
        // Two of them are one multipolygon.
        assert_eq!((brought.blocks.len(), polygons.len()), (8, 8), "{file}");
        let holes: Vec<usize> = prisms(&brought).map(|(_, holes, _)| holes.len()).collect();
        assert_eq!(holes.iter().sum::<usize>(), 3, "{file}: {holes:?}");
        let places: Vec<(f64, f64)> = polygons.iter().flat_map(|polygon| &polygon.rings).flatten().copied().collect();
        let mut in_axes = in_axes(&brought.anchor, &places).into_iter();
        let mut names = BTreeMap::<&str, usize>::new();
        let (mut off_m, mut off_m2) = (0.0_f64, 0.0_f64);
        for (polygon, (block, (outline, holes, height_m))) in
            polygons.iter().zip(brought.blocks.iter().zip(prisms(&brought)))
        {
            let told = || format!("{file}: {}", block.name);
            let count = names.entry(&polygon.name).or_default();
            *count += 1;
            let numbered = format!("{} ({count})", polygon.name);
            assert_eq!(block.name, if *count == 1 { polygon.name.as_str() } else { &numbered });
            // Two storeys of 3 m where no height is told: common practice, no source.
            assert_eq!(height_m, polygon.height_m.unwrap_or(6.0), "{}", told());

            let ours: Vec<Vec<(f64, f64)>> = std::iter::once(outline)
                .chain(holes.iter().map(Vec::as_slice))
                .map(|ring| ring.iter().map(|corner| (block.at.0 + corner.0, block.at.1 + corner.1)).collect())
                .collect();
            assert_eq!(ours.len(), polygon.rings.len(), "{}", told());
            for (ours, theirs) in ours.iter().zip(&polygon.rings) {
                let theirs: Vec<(f64, f64)> = in_axes.by_ref().take(theirs.len()).collect();
                // Rings may begin at another corner and run the other way round, but have the same corners.
                assert_eq!(ours.len(), theirs.len(), "{}", told());
                for (from, to) in [(ours, &theirs), (&theirs, ours)] {
                    for corner in from {
                        let nearest_m = to.iter().map(|other| distance_m(*corner, *other)).fold(f64::MAX, f64::min);
                        off_m = off_m.max(nearest_m);
                    }
                }
            }
            let area_m2 = ring_area_m2(outline) + holes.iter().map(|hole| ring_area_m2(hole)).sum::<f64>();
            off_m2 = off_m2.max((area_m2 - polygon.area_m2).abs());
        }
        tell(&format!(
            "brought: {file} (EPSG:{code}): corners within {off_m:.6} m, areas within {off_m2:.4} m² of PROJ's"
        ));
        // A site file's millimetres, and what they make of an outline up to 150 m long.
        assert!(off_m < 0.001_5, "{file}: {off_m} m");
        assert!(off_m2 < 0.05, "{file}: {off_m2} m²");
        warned(&brought, "1 block with a number of storeys but no height");
        let site = site(brought);
        assert_reads_back(&site);
        assert_closed(&Model::build(site));
    }
}

#[test]
fn grids_that_gdal_writes_are_brought_with_every_post_in_its_place() {
    let folder = tempfile::tempdir().expect("a folder");
    // In degrees the rows of a grid that has one spacing cannot be as much shorter toward the pole as the Earth's are.
    let allowed_m = BTreeMap::from([("square", 0.01), ("whole metres", 0.01), ("oblong", 0.01), ("degrees", 0.12)]);
    let names: Vec<&str> = allowed_m.keys().copied().collect();
    let written = written_into(folder.path(), &[], &names);
    assert_eq!(written.grids.len(), names.len());
    for (name, Grid { file, code, size, heights_m, places, .. }) in names.iter().zip(&written.grids) {
        // Its system is found in the .prj that GDAL has written beside it.
        let brought = one(&folder.path().join(file), &options()).unwrap_or_else(|error| panic!("{file}: {error}"));
        let terrain = grid(&brought);
        assert_eq!((terrain.columns(), terrain.rows.len()), *size, "{file}");
        warned(&brought, &format!("6 of {} posts had no height", size.0 * size.1));
        let places: Vec<(f64, f64)> = places.iter().flatten().copied().collect();
        let in_axes = in_axes(&brought.anchor, &places);
        let (mut off_m, mut higher_m, mut posts) = (0.0_f64, 0.0_f64, 0);
        for (index, (theirs, height_m)) in in_axes.iter().zip(heights_m.iter().flatten()).enumerate() {
            let (column, row) = (index % size.0, index / size.0);
            let ours = terrain.plan_from_grid(column as f64, (size.1 - 1 - row) as f64);
            off_m = off_m.max(distance_m(ours, *theirs));
            if let Some(height_m) = height_m {
                let ours_m = terrain.rows[row][column] + brought.anchor.height_m;
                higher_m = higher_m.max((ours_m - height_m).abs());
                posts += 1;
            }
        }
        tell(&format!(
            "brought: {file} (EPSG:{code}): posts within {off_m:.4} m of PROJ's, heights within {higher_m:.1e} m"
        ));
        assert_eq!(posts, size.0 * size.1 - 6, "{file}");
        assert!(off_m < allowed_m[name], "{file}: {off_m} m");
        assert!(higher_m < 2e-6, "{file}: {higher_m} m");
        assert_reads_back(&site(brought));
    }
}

/// A national grid's .prj names no EPSG code; its datum is not guessed.
#[test]
fn a_national_grids_prj_is_refused_by_its_name_and_read_by_its_code() {
    let folder = tempfile::tempdir().expect("a folder");
    let written = written_into(folder.path(), &[], &["national"]);
    let [Grid { file, code, prj, size, heights_m, .. }] = written.grids.as_slice() else { panic!("one grid") };
    assert!(prj.starts_with("PROJCS[\"DHDN_3_Degree_Gauss_Zone_3\""), "{prj}");
    let path = folder.path().join(file);
    let error = one(&path, &options()).expect_err("unclear").to_string();
    assert!(error.contains("DHDN_3_Degree_Gauss_Zone_3") && error.contains("EPSG"), "{error}");
    let brought = one(&path, &in_system(*code)).unwrap_or_else(|error| panic!("{error}"));
    let terrain = grid(&brought);
    assert_eq!((terrain.columns(), terrain.rows.len()), *size);
    for (ours, theirs) in terrain.rows.iter().flatten().zip(heights_m.iter().flatten()) {
        assert!(theirs.is_none_or(|theirs| (ours + brought.anchor.height_m - theirs).abs() < 2e-6));
    }
}
