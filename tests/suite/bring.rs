//! Do footprints and terrain come in whole, and are bad files refused plainly?
//!
//! Here are files that the tests write themselves; `open_data` reads real places, `written_by_others` and `from_above` what
//! other libraries write.

mod from_above;
mod open_data;
mod written_by_others;

use std::path::{Path, PathBuf};

use plumbsight::bring::{BringError, BringOptions, Brought, bring};
use plumbsight::place::{Crs, Geographic, TangentPlane};
use plumbsight::pose::{WorldPoint, WorldVector};
use plumbsight::site::{
    Anchor, Model, PlanPoint, SITE_FORMAT, Shape, Site, Terrain, TerrainGrid, parse_site, write_new,
};

use crate::support::random::Random;
use crate::support::tell;

fn options() -> BringOptions {
    BringOptions::default()
}

fn in_system(code: u16) -> BringOptions {
    BringOptions { crs: Some(code), ..options() }
}

fn one(path: &Path, options: &BringOptions) -> Result<Brought, BringError> {
    bring(&[path.to_path_buf()], options, None)
}

/// A file of its own in a folder of its own.
fn written(name: &str, content: impl AsRef<[u8]>) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join(name);
    std::fs::write(&path, content).expect("written");
    (folder, path)
}

fn site(brought: Brought) -> Site {
    Site {
        format: SITE_FORMAT,
        name: "a real place".into(),
        anchor: Some(brought.anchor),
        time_zone: None,
        terrain: brought.terrain.unwrap_or_default(),
        water_level_m: None,
        front: None,
        underlay: None,
        sun: None,
        blocks: brought.blocks,
        grounds: Vec::new(),
        kit: None,
        stances: Vec::new(),
    }
}

fn grid(brought: &Brought) -> &TerrainGrid {
    match &brought.terrain {
        Some(Terrain::Grid(grid)) => grid,
        other => panic!("a grid, not {other:?}"),
    }
}

fn plane(anchor: &Anchor) -> TangentPlane {
    let place = Geographic::from_degrees(anchor.latitude_deg, anchor.longitude_deg, anchor.height_m);
    TangentPlane::new(place.expect("a place"))
}

/// Where a map point lies in the site's plan.
fn in_plan(brought: &Brought, crs: &Crs, map: PlanPoint) -> PlanPoint {
    plane(&brought.anchor).plan_from_geographic(&crs.geographic_from_map(map, 0.0).expect("on the map"))
}

fn ground_m(brought: &Brought, crs: &Crs, map: PlanPoint) -> f64 {
    let terrain = brought.terrain.as_ref().expect("terrain");
    terrain.height_m(in_plan(brought, crs, map)) + brought.anchor.height_m
}

fn ring_area_m2(ring: &[PlanPoint]) -> f64 {
    ring.iter().zip(ring.iter().cycle().skip(1)).map(|(a, b)| a.0 * b.1 - b.0 * a.1).sum::<f64>() / 2.0
}

/// Outline, holes and height of every block.
fn prisms(brought: &Brought) -> impl Iterator<Item = (&[PlanPoint], &[Vec<PlanPoint>], f64)> {
    brought.blocks.iter().map(|block| match &block.shape {
        Shape::Prism { outline, holes, height_m } => (outline.as_slice(), holes.as_slice(), *height_m),
        other => panic!("a prism, not {other:?}"),
    })
}

fn footprints_m2(brought: &Brought) -> f64 {
    // Holes run the other way round and count negative.
    prisms(brought)
        .map(|(outline, holes, _)| ring_area_m2(outline) + holes.iter().map(|hole| ring_area_m2(hole)).sum::<f64>())
        .sum()
}

/// West, south, east and north of all blocks, in degrees.
fn bounds_deg(brought: &Brought) -> [f64; 4] {
    let plane = plane(&brought.anchor);
    let mut bounds = [f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY];
    for (block, (outline, _, _)) in brought.blocks.iter().zip(prisms(brought)) {
        for corner in outline {
            let point = WorldPoint::new(block.at.0 + corner.0, block.at.1 + corner.1, 0.0);
            let place = plane.geographic_from_world(&point).expect("a place");
            let (x, y) = (place.longitude().degrees(), place.latitude().degrees());
            bounds = [bounds[0].min(x), bounds[1].min(y), bounds[2].max(x), bounds[3].max(y)];
        }
    }
    bounds
}

fn assert_bounds(brought: &Brought, expected: [f64; 4]) {
    for (found, expected) in bounds_deg(brought).into_iter().zip(expected) {
        // A millimetre, and the last digit of what is expected, which is 1 cm.
        assert!((found - expected).abs() < 7e-8, "{found} for {expected}");
    }
}

fn warned(brought: &Brought, words: &str) {
    assert!(brought.warnings.iter().any(|warning| warning.contains(words)), "'{words}' in {:#?}", brought.warnings);
}

/// Written as a file, the site passes the checks of a person's own and says the same.
fn assert_reads_back(site: &Site) {
    let text = write_new(site);
    let read = parse_site(&text, "brought.site.ron").unwrap_or_else(|problems| panic!("{problems}"));
    assert!(read == *site, "the site reads back otherwise");
}

/// Every solid is closed: the areas of its triangles, as vectors, cancel.
fn assert_closed(model: &Model) {
    for (block, solid) in model.site.blocks.iter().zip(&model.solids) {
        let mut sum = WorldVector::zeros();
        let mut skin_m2 = 0.0;
        for triangle in &solid.triangles {
            let [a, b, c] = solid.corners(triangle);
            let area = (b - a).cross(&(c - a)) * 0.5;
            sum += area;
            skin_m2 += area.norm();
        }
        assert!(skin_m2 > 0.0 && sum.norm() < 1e-6 * skin_m2, "{}: {sum} of {skin_m2} m²", block.name);
    }
}

fn square_at(longitude_deg: f64, latitude_deg: f64, properties: &str) -> String {
    let (w, s, e, n) = (longitude_deg, latitude_deg, longitude_deg + 1e-4, latitude_deg + 1e-4);
    format!(
        r#"{{"type": "Feature", "properties": {properties}, "geometry": {{"type": "Polygon", "coordinates":
            [[[{w}, {s}], [{e}, {s}], [{e}, {n}], [{w}, {n}], [{w}, {s}]]]}}}}"#
    )
}

fn collection(features: &[String]) -> String {
    format!(r#"{{"type": "FeatureCollection", "features": [{}]}}"#, features.join(","))
}

#[test]
fn names_heights_and_guesses() {
    let (_folder, path) = written(
        "footprints.json",
        collection(&[
            square_at(8.0, 50.0, r#"{"name": "shed", "height": "12 m"}"#),
            square_at(8.001, 50.0, r#"{"name": "shed", "building:levels": "2"}"#),
            square_at(8.002, 50.0, r#"{"name": "shed (2)", "height": "tall"}"#),
            square_at(8.003, 50.0, "null"),
        ]),
    );
    let default = BringOptions { default_height_m: 4.5, subject: Some("shed".into()), ..options() };
    let brought = one(&path, &default).expect("brought");
    let told: Vec<(&str, f64)> = brought
        .blocks
        .iter()
        .zip(prisms(&brought))
        .map(|(block, (_, _, height_m))| (block.name.as_str(), height_m))
        .collect();
    assert_eq!(told, [("shed", 12.0), ("shed (2)", 6.0), ("shed (2) (2)", 4.5), ("block 4", 4.5)]);
    assert_eq!(brought.blocks.iter().filter(|block| block.subject).count(), 1);
    warned(&brought, "1 block with a number of storeys but no height");
    warned(&brought, "2 blocks without any height: 4.5 m assumed");
    warned(&brought, r#"could not read 1 height: 'shed (2): height: "tall"'"#);

    let missing = BringOptions { subject: Some("mill".into()), ..options() };
    let error = one(&path, &missing).expect_err("no mill").to_string();
    assert!(error.contains("'mill'") && error.contains("'shed'"), "{error}");
    for bad in [0.0, 0.001, -1.0, f64::NAN, f64::INFINITY, 5000.1] {
        let option = BringOptions { within_m: Some(bad), ..options() };
        assert!(matches!(one(&path, &option), Err(BringError::OptionRange { .. })), "{bad}");
        let option = BringOptions { default_height_m: bad, ..options() };
        assert!(matches!(one(&path, &option), Err(BringError::OptionRange { .. })), "{bad}");
    }
}

#[test]
fn all_parts_of_the_subject_are_the_subject() {
    let parts = r#"{"type": "Feature", "properties": {"name": "minster", "height": 30}, "geometry": {"type": "MultiPolygon",
        "coordinates": [[[[8, 50], [8.0001, 50], [8.0001, 50.0001], [8, 50]]],
                        [[[8.0002, 50], [8.0003, 50], [8.0003, 50.0001], [8.0002, 50]]]]}}"#;
    let (_folder, path) =
        written("minster.geojson", collection(&[parts.into(), square_at(8.001, 50.0, r#"{"name": "minster"}"#)]));
    let brought = one(&path, &BringOptions { subject: Some("minster".into()), ..options() }).expect("brought");
    let marked: Vec<(&str, bool)> = brought.blocks.iter().map(|block| (block.name.as_str(), block.subject)).collect();
    assert_eq!(marked, [("minster", true), ("minster (2)", true), ("minster (3)", false)]);
}

#[test]
fn footprints_across_the_date_line_stay_together() {
    let (_folder, path) =
        written("line.geojson", collection(&[square_at(179.9999, -17.0, "null"), square_at(-179.9995, -17.0, "null")]));
    let brought = one(&path, &options()).expect("brought");
    let gap_m =
        (brought.blocks[1].at.0 - brought.blocks[0].at.0).hypot(brought.blocks[1].at.1 - brought.blocks[0].at.1);
    // 0.0006° of longitude at 17° south.
    assert!((gap_m - 63.9).abs() < 0.2, "{gap_m}");
    assert!(brought.anchor.longitude_deg.abs() > 179.999);
}

#[test]
fn footprints_in_map_coordinates_need_their_map() {
    // A square of 10 m at Merewether.
    let ring = "[[382400, 6354400], [382410, 6354400], [382410, 6354410], [382400, 6354410], [382400, 6354400]]";
    let polygon = format!(r#"{{"type": "Polygon", "coordinates": [{ring}]}}"#);
    let (_folder, path) = written("map.geojson", &polygon);
    let error = one(&path, &options()).expect_err("no longitude").to_string();
    assert!(error.contains("feature 1: (382400.0, 6354400.0) is no longitude"), "{error}");
    let by_option = one(&path, &in_system(32756)).expect("brought");
    let named = format!(
        r#"{{"type": "FeatureCollection", "crs": {{"type": "name", "properties": {{"name": "urn:ogc:def:crs:EPSG::32756"}}}},
            "features": [{{"type": "Feature", "properties": null, "geometry": {polygon}}}]}}"#
    );
    let (_folder, path) = written("named.geojson", &named);
    let by_name = one(&path, &options()).expect("brought");
    assert_eq!(by_name.blocks, by_option.blocks);
    // UTM's scale there is 0.99977: 100 m² of map are 100.046 m² of ground.
    assert!((footprints_m2(&by_name) - 100.046).abs() < 0.02, "{}", footprints_m2(&by_name));
    let (_folder, path) = written("unknown.geojson", named.replace("EPSG::32756", "EPSG::1"));
    assert!(one(&path, &options()).expect_err("unknown").to_string().contains("EPSG::1"));
    let (_folder, path) = written(
        "crs84.geojson",
        collection(&[square_at(8.0, 50.0, "null")]).replace(
            r#""features""#,
            r#""crs": {"type": "name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}, "features""#,
        ),
    );
    assert_eq!(one(&path, &options()).expect("brought").blocks.len(), 1);
}

#[test]
fn what_lies_too_far_is_refused_unless_only_what_is_near_is_wanted() {
    let (_folder, path) = written(
        "far.geojson",
        collection(&[square_at(8.0, 50.0, "null"), square_at(8.2, 50.0, r#"{"name": "far mill"}"#)]),
    );
    let error = one(&path, &options()).expect_err("too far").to_string();
    assert!(error.contains("'block 1'") && error.contains("7.2 km") && error.contains("--within"), "{error}");
    let anchor = Anchor { latitude_deg: 50.0, longitude_deg: 8.0, height_m: 110.0, vertical_datum: None };
    let near = BringOptions { within_m: Some(1000.0), anchor: Some(anchor.clone()), ..options() };
    let brought = one(&path, &near).expect("brought");
    assert_eq!((brought.blocks.len(), &brought.anchor), (1, &anchor));
    warned(&brought, "left out 1 polygon not wholly within reach");
    let nowhere =
        BringOptions { anchor: Some(Anchor { latitude_deg: -50.0, longitude_deg: -172.0, ..anchor }), ..near };
    assert!(matches!(one(&path, &nowhere), Err(BringError::NothingNear { .. })));
    let no_place = Anchor { latitude_deg: 95.0, longitude_deg: 0.0, height_m: 0.0, vertical_datum: None };
    let wrong = BringOptions { anchor: Some(no_place), ..options() };
    assert!(matches!(one(&path, &wrong), Err(BringError::Anchor(_))));
}

#[test]
fn a_large_grid_is_cropped_and_a_feet_grid_says_so() {
    let columns = 2100;
    let mut text = format!("ncols {columns}\nnrows {columns}\nxllcorner 500000\nyllcorner 5500000\ncellsize 1\n");
    text.push_str(&"7 ".repeat(columns * columns));
    let (_folder, path) = written("large.asc", text);
    let error = one(&path, &in_system(32632)).expect_err("too many").to_string();
    assert!(error.contains("2100 × 2100") && error.contains("--within 900"), "{error}");
    let near = BringOptions { within_m: Some(100.0), ..in_system(32632) };
    let brought = one(&path, &near).expect("brought");
    let terrain = grid(&brought);
    // The circle and a post more on every side.
    assert!((202..=205).contains(&terrain.columns()) && (202..=205).contains(&terrain.rows.len()));
    // Flat at 7 m, which is the anchor's height.
    assert!(brought.anchor.height_m == 7.0 && brought.terrain.as_ref().expect("terrain").range_m() == (0.0, 0.0));

    let (_folder, path) =
        written("feet.asc", "ncols 2\nnrows 2\nxllcorner 980000\nyllcorner 190000\ncellsize 100\n1 2 3 4");
    let brought = one(&path, &in_system(2263)).expect("brought");
    assert!((grid(&brought).spacing_m.0 - 30.48).abs() < 0.01);
    warned(&brought, "counts in units of 0.3048");
}

#[test]
fn hostile_files_are_refused_plainly() {
    let header = "ncols 3\nnrows 3\nxllcorner 500000\nyllcorner 5500000\ncellsize 1\n";
    let square = square_at(8.0, 50.0, "null");
    let cut = &square[..square.len() / 2];
    let cases: Vec<(Vec<u8>, &str)> = vec![
        (Vec::new(), "begins with ''"),
        (b"GIF89a\x01".to_vec(), "is a GIF picture"),
        (b"ncols 3\nnrows \xff".to_vec(), "UTF-8"),
        (b"\xef\xbb\xbf{".to_vec(), "no whole GeoJSON"),
        (cut.into(), "no whole GeoJSON"),
        (b"{\"type\": \"FeatureCollection\", \"features\": []}".to_vec(), "an empty list"),
        (b"{\"type\": \"Polygon\", \"coordinates\": [[]]}".to_vec(), "only 1 without geometry"),
        (b"{\"type\": \"Polygon\", \"coordinates\": [[[1e300, 1e300], [0, 0], [1, 1]]]}".to_vec(), "no place in"),
        (
            b"{\"type\": \"Polygon\", \"coordinates\": [[[8, 50], [8.001, 50.001], [8.001, 50], [8, 50.001]]]}"
                .to_vec(),
            "'block 1 touches or crosses itself",
        ),
        (b"{\"type\": \"Polygon\", \"coordinates\": [[[8]]]}".to_vec(), "fewer than two"),
        (format!("{{\"a\":{}", "[".repeat(1_000_000)).into_bytes(), "no whole GeoJSON"),
        (header.replace("ncols 3", "ncols 1e12").into_bytes(), "promises 1000000000000"),
        (header.replace("ncols 3", "ncols 99999999999999999999").into_bytes(), "whole number"),
        (header.as_bytes().to_vec(), "promises 3 × 3"),
        (format!("{header}1 2 3\n4 5 6\n7 8 NaN NaN\n").into_bytes(), "a row of 4"),
        (format!("{header}{}", "nan ".repeat(9)).into_bytes(), "all are without data"),
        (format!("{header}{}", "-9999 ".repeat(9)).into_bytes(), "all are without data"),
        (format!("{header}{}", "1e40 ".repeat(9)).into_bytes(), "no height"),
        (format!("{header}{}", "9001 ".repeat(9)).into_bytes(), "no height"),
        // A gap's mark that the header does not name, where the anchor comes to stand.
        (
            format!("{header}nodata_value -9899\n1 2 3\n4 -9999 6\n7 8 9\n").into_bytes(),
            "heights of 9 m and -9999 m at the anchor cannot both be ground",
        ),
        (header.replace(" 500000", " 1e308").replace("cellsize 1", "cellsize 1e308").into_bytes(), "promises"),
        (format!("{}{}", header.replace("cellsize 1", "cellsize 1e308"), "1 ".repeat(9)).into_bytes(), "every 1e308"),
        (
            format!("{}{}", header.replace(" 500000", " 1e308"), "1 ".repeat(9)).into_bytes(),
            "(1e308, 5500001.5) is no place",
        ),
        (format!("{}{}", header.replace(" 500000", " -8e7"), "1 ".repeat(9)).into_bytes(), "no place in EPSG:32632"),
    ];
    for (content, told) in cases {
        let begins = String::from_utf8_lossy(&content[..content.len().min(60)]).into_owned();
        let (_folder, path) = written("file.any", content);
        let error = match one(&path, &BringOptions { within_m: None, ..in_system(32632) }) {
            Err(error) => error.to_string(),
            Ok(brought) => panic!("{begins}: brought {brought:?}"),
        };
        assert!(error.contains(told), "{begins}\n{error}");
    }
    assert!(matches!(bring(&[], &options(), None), Err(BringError::NoFiles)));
    assert!(matches!(one(Path::new("no such file.asc"), &options()), Err(BringError::File(_))));
    let (folder, path) = written("grid.asc", format!("{header}{}", "5 ".repeat(9)));
    std::fs::write(folder.path().join("grid.prj"), "Projection LAMBERT\nDatum NAD27").expect("written");
    let error = one(&path, &options()).expect_err("unclear").to_string();
    assert!(error.contains("grid.prj") && error.contains("LAMBERT") && error.contains("EPSG"), "{error}");
    let error = one(&path, &in_system(4978)).expect_err("geocentric").to_string();
    assert!(error.contains("EPSG:4978"), "{error}");
    let error = one(&path, &in_system(4326)).expect_err("degrees").to_string();
    assert!(error.contains("degrees"), "{error}");
    let (_folder, path) =
        written("grid.asc", format!("{}{}", header.replace("cellsize 1", "cellsize 2500"), "5 ".repeat(9)));
    let error = one(&path, &in_system(32632)).expect_err("coarse").to_string();
    assert!(error.contains("too coarse"), "{error}");
}

/// Thousands of damaged copies of good files: each is brought or refused, and what is brought is sound.
#[test]
fn damaged_files_never_break_anything() {
    let mut random = Random::new(4096);
    let grid = "ncols 3\nnrows 4\nxllcorner 500000\nyllcorner 5500000\ndx 2.5\ndy 2\nNODATA_value -9999\n1 2 3\n4 -9999 6\n7 \
                8.5 9\n1e1 11 12\n";
    let footprints = collection(&[
        square_at(8.0, 50.0, r#"{"name": "shed", "height": "12 ft", "building:levels": 2}"#),
        r#"{"type": "Feature", "properties": {"height": 30}, "geometry": {"type": "MultiPolygon", "coordinates":
            [[[[8, 50], [8.0009, 50], [8.0009, 50.0009], [8, 50.0009], [8, 50]],
              [[8.0003, 50.0003], [8.0006, 50.0003], [8.0006, 50.0006], [8.0003, 50.0003]]]]}}"#
            .into(),
    ]);
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("file");
    // Pieces that grids and GeoJSON are sensitive to.
    let pieces = [
        "",
        "-",
        "e9",
        "nan",
        "inf",
        "1e308",
        "999999999999",
        ".",
        "\n",
        " ",
        "[",
        "]",
        "{",
        "}",
        ",",
        "\"",
        "null",
        "\0",
        "é",
        "0",
        "0",
        "1",
        "3",
        "7",
    ];
    let (mut brought_count, mut refused_count) = (0, 0);
    for round in 0..2000 {
        let mut text = if round % 2 == 0 { grid.to_owned() } else { footprints.clone() };
        for _ in 0..1 + random.bits() % 2 {
            let places: Vec<usize> = text.char_indices().map(|(at, _)| at).collect();
            let from = *random.one_of(&places);
            let length = (random.bits() % 3) as usize;
            let to = places.iter().copied().find(|&at| at >= from + length).unwrap_or(text.len());
            text.replace_range(from..to, random.one_of::<&str>(&pieces));
        }
        std::fs::write(&path, &text).expect("written");
        match one(&path, &in_system(32632)) {
            Err(error) => {
                refused_count += 1;
                assert!(!error.to_string().is_empty());
            }
            Ok(brought) => {
                brought_count += 1;
                for (block, (outline, holes, height_m)) in brought.blocks.iter().zip(prisms(&brought)) {
                    let numbers = outline.iter().chain(holes.iter().flatten()).flat_map(|&(x, y)| [x, y]);
                    assert!(numbers.chain([block.at.0, block.at.1]).all(|number| number.abs() < 5001.0), "{text}");
                    assert!(ring_area_m2(outline) > 0.0 && height_m > 0.0 && height_m <= 2000.0, "{text}");
                }
                if let Some(Terrain::Grid(grid)) = &brought.terrain {
                    assert!(grid.spacing_m.0 > 0.0 && grid.spacing_m.1 > 0.0, "{text}");
                    let columns = grid.columns();
                    assert!(columns >= 2 && grid.rows.len() >= 2, "{text}");
                    assert!(
                        grid.rows.iter().all(|row| row.len() == columns && row.iter().all(|post| post.is_finite()))
                    );
                }
            }
        }
    }
    tell(&format!("damaged files: {brought_count} brought, {refused_count} refused"));
    assert!(brought_count > 100 && refused_count > 100);
}
