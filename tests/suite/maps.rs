//! Do the search's maps and lists mean to other programs what they mean here?
//!
//! Grids are read back by GDAL (`tests/oracles/maps.py`), the list by a reader of comma-separated values, the picture
//! pixel by pixel against the values.

use std::collections::BTreeMap;
use std::path::PathBuf;

use plumbsight::drawing::{MapRequest, MapSheet, Pin, SiteShapes};
use plumbsight::place::{Geographic, TangentPlane};
use plumbsight::pose::WorldPoint;
use plumbsight::progress::Progress;
use plumbsight::search::{
    Answer, Criteria, Map, MapFigure, NO_VALUE, PlaceStatus, Search, esri_grid, geotiff, projection_beside,
};
use plumbsight::site::{Access, Anchor};
use plumbsight::survey::Survey;
use plumbsight::theme::{Colour, Theme, contrast};
use plumbsight::units::Units;
use serde::{Deserialize, Serialize};

use crate::support::program::run;
use crate::support::python::ask;
use crate::support::surveyed::surveyed;
use crate::support::tell;

const SCRIPT: &str = "tests/oracles/maps.py";

/// Nothing about it is the same when it is mirrored or turned.
const QUAY: &str = r#"Site(format: 1, name: "quay", ANCHOR
    water_level_m: -1,
    terrain: Grid((south_west: (-60, -60), spacing_m: (20, 20), rows: [
        [0, 0, 0, 0, 0, 0, 0], [0, 0, 0, 0, 0, 0, 0], [0, 0, 0, 0, 0, 0, 0], [0, 0, 0, 0, 0, 0, 0],
        [0, 0, 0, 0, 0, 0, 0], [-4, -4, 0, 0, 0, 0, 0], [-4, -4, -4, 0, 0, 0, 0]])),
    blocks: [
        (name: "beacon", subject: true, at: (3, 5), shape: RoundTaper(foot_radius_m: 2, head_radius_m: 1, height_m: 18)),
        (name: "store", at: (22, -9), heading_deg: 20, shape: Box(width_m: 14, depth_m: 9, height_m: 7)),
    ],
    grounds: [(name: "garden", access: Closed, outline: [(-50, 20), (-20, 20), (-20, 50), (-50, 50)])],
    stances: [(name: "steps", at: (10, -30), lens: "24-70 mm")])"#;

fn quay(anchor: Option<(f64, f64)>) -> Survey {
    let anchor = anchor.map_or_else(String::new, |(latitude, longitude)| {
        format!("anchor: (latitude_deg: {latitude}, longitude_deg: {longitude}, height_m: 20),")
    });
    surveyed(&QUAY.replace("ANCHOR", &anchor), "quay")
}

fn found(survey: &Survey) -> Answer {
    let criteria = Criteria {
        spacing_m: 3.0,
        area: Some([(-58.0, -49.0), (47.0, 41.0)]),
        distance_m: (6.0, 55.0),
        access: Access::Open,
        ..Criteria::default()
    };
    let search = Search::new(survey, criteria).unwrap_or_else(|error| panic!("{error}"));
    search.run(&Progress::unwatched(), &|_| {}).expect("nobody cancels")
}

#[derive(Serialize)]
struct Question {
    files: Vec<PathBuf>,
    /// Longitude and latitude.
    places: Vec<(f64, f64)>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Read {
    driver: String,
    size: (u32, u32),
    no_value: f64,
    epsg: Option<u32>,
    transform: [f64; 6],
    values: Vec<Vec<Option<f64>>>,
    cells: Vec<(f64, f64)>,
}

/// Every cell's value is the map's, the north row first.
fn agree(read: &Read, map: &Map, figure: MapFigure) {
    assert_eq!(read.size, (map.columns(), map.rows()), "{}", read.driver);
    assert_eq!(read.no_value, NO_VALUE);
    let (mut with, mut without) = (0, 0);
    for (row, values) in (0..map.rows()).rev().zip(&read.values) {
        for (column, value) in (0..map.columns()).zip(values) {
            assert_eq!(*value, map.value(column, row, figure), "{}: column {column}, row {row}", read.driver);
            *(if value.is_some() { &mut with } else { &mut without }) += 1;
        }
    }
    assert!(with > 300 && without > 300, "{with} {without}");
}

#[test]
fn grids_are_read_by_gdal_with_their_values_and_their_place_on_the_earth() {
    // Zones north and south of the equator, one beside a zone's edge, and one near the north's limit of UTM.
    let anchors = [(53.7, -0.31, 32630), (-32.9, 151.75, 32756), (0.4, 5.98, 32631), (70.2, 25.3, 32635)];
    for (latitude_deg, longitude_deg, zone) in anchors {
        let survey = quay(Some((latitude_deg, longitude_deg)));
        let answer = found(&survey);
        let (map, anchor) = (&answer.map, survey.model.site.anchor.expect("an anchor"));
        let folder = tempfile::tempdir().expect("a folder");
        let [tiff, grid] = ["lean.tif", "lean.asc"].map(|name| folder.path().join(name));
        std::fs::write(&tiff, geotiff(map, MapFigure::LargestLean, Some(&anchor)).expect("in UTM")).expect("written");
        std::fs::write(&grid, esri_grid(map, MapFigure::LargestLean)).expect("written");
        std::fs::write(grid.with_extension("prj"), projection_beside(&anchor)).expect("written");
        // The middles of cells, by the site's own tangent plane.
        let geographic = Geographic::from_degrees(anchor.latitude_deg, anchor.longitude_deg, anchor.height_m);
        let plane = TangentPlane::new(geographic.expect("a place"));
        let cells: Vec<(u32, u32)> = (0..map.rows())
            .step_by(7)
            .flat_map(|row| (0..map.columns()).step_by(8).map(move |column| (column, row)))
            .collect();
        let places = cells.iter().map(|&(column, row)| {
            let (x, y) = map.lattice().at(column, row);
            let place = plane.geographic_from_world(&WorldPoint::new(x, y, 0.0)).expect("near the anchor");
            (place.longitude().degrees(), place.latitude().degrees())
        });
        let question = Question { files: vec![tiff, grid], places: places.collect() };
        let read: Vec<Read> = ask(SCRIPT, &question);
        for read in &read {
            agree(read, map, MapFigure::LargestLean);
            for (&(column, row), found) in cells.iter().zip(&read.cells) {
                // To a thousandth of a cell of 3 m: 3 mm.
                let expected = (f64::from(column) + 0.5, f64::from(map.rows() - row) - 0.5);
                let off = (found.0 - expected.0).hypot(found.1 - expected.1);
                assert!(off < 1e-3, "{} at {latitude_deg}, {longitude_deg}: {found:?} for {expected:?}", read.driver);
            }
            assert_eq!(read.cells.len(), cells.len());
        }
        assert_eq!((read[0].driver.as_str(), read[0].epsg), ("GTiff", Some(zone)));
        assert_eq!(read[1].driver, "AAIGrid");
    }
    tell("maps: 8 grids read by GDAL, every value the same, every place within 3 mm");
}

#[test]
fn a_site_without_an_anchor_keeps_its_own_metres() {
    let survey = quay(None);
    let answer = found(&survey);
    let map = &answer.map;
    let folder = tempfile::tempdir().expect("a folder");
    let [tiff, grid] = ["seen.tif", "seen.asc"].map(|name| folder.path().join(name));
    std::fs::write(&tiff, geotiff(map, MapFigure::Seen, None).expect("needs no zone")).expect("written");
    std::fs::write(&grid, esri_grid(map, MapFigure::Seen)).expect("written");
    let read: Vec<Read> = ask(SCRIPT, &Question { files: vec![tiff, grid], places: Vec::new() });
    let (west, south) = map.corner();
    let north = south + f64::from(map.rows()) * map.spacing_m();
    for read in &read {
        assert_eq!(read.transform, [3.0, 0.0, west, 0.0, -3.0, north], "{}", read.driver);
        assert_eq!(read.epsg, None);
        assert_eq!(read.size, (map.columns(), map.rows()));
        for (row, values) in (0..map.rows()).rev().zip(&read.values) {
            for (column, value) in (0..map.columns()).zip(values) {
                assert_eq!(*value, map.value(column, row, MapFigure::Seen));
            }
        }
    }
    let nowhere = Anchor { latitude_deg: 86.0, ..quay(Some((80.0, 10.0))).model.site.anchor.expect("an anchor") };
    let told = geotiff(map, MapFigure::Seen, Some(&nowhere)).expect_err("no zone there").to_string();
    assert!(told.contains("UTM") && told.contains(".asc"), "{told}");
}

/// Which pixels of a picture lie in the middle of a cell and have nothing drawn over them: as most of a cell's kind do.
#[test]
fn the_picture_shows_each_cell_in_the_colour_of_its_value_or_as_what_it_is() {
    let survey = quay(None);
    let answer = found(&survey);
    let (map, shapes) = (&answer.map, SiteShapes::of(&survey.model));
    for (figure, theme) in
        [(MapFigure::LargestLean, Theme::Paper), (MapFigure::Seen, Theme::Dusk), (MapFigure::Focal, Theme::Paper)]
    {
        let pins = [Pin { name: "1".into(), at: (10.0, -30.0), heading: None, number: Some(1) }];
        let (survey, shapes, units) = (&survey, &shapes, Units::M);
        let sheet = MapSheet::of(MapRequest { survey, shapes, map, figure, pins: &pins, units, theme });
        let ramp = sheet.ramp().expect("values");
        let scale = 2.0;
        let picture = sheet.picture(scale).expect("a picture");
        let pixel = |x: f64, y: f64| {
            let [red, green, blue] = picture.pixel((x * scale) as u32, (y * scale) as u32).expect("on the sheet");
            Colour(red, green, blue)
        };
        let (mut values, mut shown) = (0, 0);
        // The colours of cells without a value, by what they are.
        let mut others: BTreeMap<String, BTreeMap<[u8; 3], usize>> = BTreeMap::new();
        for (row, column) in (0..map.rows()).flat_map(|row| (0..map.columns()).map(move |column| (row, column))) {
            let (x, y) = sheet.view().point_of(map.lattice().at(column, row));
            match map.value(column, row, figure) {
                Some(value) if map.ground(column, row) == PlaceStatus::Looked => {
                    values += 1;
                    shown += usize::from(pixel(x, y) == ramp.colour(value, theme));
                }
                _ => {
                    let kind = others.entry(format!("{:?}", map.ground(column, row))).or_default();
                    let side = 0.5 * map.spacing_m() / sheet.view().metres_per_point - 0.6;
                    for step in 0..64 {
                        let (right, down) = (f64::from(step % 8) / 3.5 - 1.0, f64::from(step / 8) / 3.5 - 1.0);
                        let Colour(red, green, blue) = pixel(x + right * side, y + down * side);
                        *kind.entry([red, green, blue]).or_default() += 1;
                    }
                }
            }
        }
        // Blocks, contours, names and pins lie over some.
        assert!(values > 300 && shown * 10 > values * 8, "{figure:?}: {shown} of {values}");
        let palette = theme.palette();
        let share = |kind: &str, colour: Colour| {
            let pixels = &others[kind];
            let all: usize = pixels.values().sum();
            pixels.get(&[colour.0, colour.1, colour.2]).copied().unwrap_or(0) as f64 / all as f64
        };
        // Hatched: mostly panel, with soft lines over it. (The plan lays its own tone over water.)
        let (panel, line) = (share("Closed", palette.panel), share("Closed", palette.soft));
        assert!(panel > 0.25 && line > 0.005, "{panel} {line} {:?}", others["Closed"]);
        let far_off = share("TooFar", palette.soft);
        assert!(far_off < 0.5 * line, "{far_off} {line} {:?}", others["TooFar"]);
        // Every cover that is on the map stands in the legend; what is not there does not.
        let words: Vec<&str> = sheet
            .drawing()
            .marks
            .iter()
            .filter_map(|mark| match mark {
                plumbsight::drawing::Mark::Text(text) => Some(text.text.as_str()),
                _ => None,
            })
            .collect();
        let told = |part: &str| words.iter().any(|words| words.contains(part));
        assert!(
            told("left out: closed") && told("too near or too far") && told(figure.title()) && told("quay"),
            "{words:?}"
        );
        assert!(!told("not computed"), "{words:?}");
        // Scale bar and north arrow.
        assert!(told(" m") && words.contains(&"N"), "{words:?}");
        // The legend's letters can be read, and ticks stand along the ramp.
        assert!(contrast(palette.ink, palette.panel) > 7.0);
        let ticks = ramp.ticks(Units::M, 6);
        assert!(ticks.len() > 1 && ticks.iter().all(|tick| words.contains(&tick.text.as_str())), "{words:?}");
    }
}

#[test]
fn the_list_is_the_same_in_every_form_and_the_picture_is_written_whole() {
    let folder = tempfile::tempdir().expect("a folder");
    let site = QUAY.replace("ANCHOR", "anchor: (latitude_deg: 53.7, longitude_deg: -0.31, height_m: 2),");
    let site = site.replace("\"beacon\"", "\"beacon, \\\"old\\\" one\"");
    std::fs::write(folder.path().join("quay.site.ron"), site).expect("written");
    let search = |more: &[&str]| {
        let arguments = [&["search", "quay.site.ron", "--spacing", "3", "--distance", "8,60", "--apart", "12"], more];
        run(folder.path(), &arguments.concat())
    };
    let found = search(&["--json"]).json();
    let listed = found["ranked"].as_array().expect("a list");
    assert!(listed.len() > 2);
    let mut reader =
        csv::Reader::from_reader(search(&["--csv"]).good().into_bytes().as_slice().to_vec().leak() as &[u8]);
    let header = reader.headers().expect("a header").clone();
    let rows: Vec<csv::StringRecord> = reader.records().map(|row| row.expect("as many fields as the header")).collect();
    assert_eq!(rows.len(), listed.len());
    for (row, item) in rows.iter().zip(listed) {
        let field = |name: &str| &row[header.iter().position(|field| field == name).expect("named")];
        let figures = &item["figures"];
        for name in
            ["focal_mm", "heading_deg", "pitch_deg", "worst_lean_deg", "detail_px_per_m", "visible_share", "effort_m"]
        {
            let (one, other) = (field(name).parse::<f64>().ok(), figures[name].as_f64());
            assert_eq!(one, other, "{name}");
        }
        assert_eq!(field("east_m").parse::<f64>().ok(), item["stance"]["at"][0].as_f64());
        assert_eq!(field("north_m").parse::<f64>().ok(), item["stance"]["at"][1].as_f64());
        assert_eq!(Some(field("place")), item["place"].as_str());
        assert_eq!(Some(field("reason")), item["reason"].as_str());
    }
    // What is written is written once, and not over anything.
    let written = search(&["--map", "lean", "--out", "lean map.png"]);
    written.good();
    search(&["--map", "lean", "--out", "lean map.png"]).refused(2, "already exists");
    search(&["--map", "lean", "--out", "lean map.png", "--replace"]).good();
    let bytes = std::fs::read(folder.path().join("lean map.png")).expect("the picture");
    let decoder = png::Decoder::new(std::io::Cursor::new(bytes));
    let info = decoder.read_info().expect("a PNG");
    assert_eq!(info.info().width, 1800);
    search(&["--map", "lean", "--out", "lean.jpg"]).refused(2, ".png");
    search(&["--map", "leanness", "--out", "lean.png"]).refused(2, "write one of lean");
}
