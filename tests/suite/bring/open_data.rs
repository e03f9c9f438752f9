//! Do real places come in whole?
//!
//! The files are open data, read in place; what they hold was found by other programs: counts, bounds, heights and
//! bilinear samples of the grids by GDAL's reader, areas of footprints on the ellipsoid by PROJ, validity by GEOS.
//!
//! Every test here needs these files and none elsewhere does: `tests/run` leaves this module out, by its name, where a
//! person asks for that.

use plumbsight::bring::HeightUnit;

use super::*;
use crate::support::open_data;

#[test]
fn merewether_stands_on_its_own_ground() {
    let data = open_data();
    let files = [data.join("asc/merewether_topography1.asc"), data.join("geojson/merewether_houses.geojson")];
    let options = BringOptions { subject: Some("house000".into()), ..options() };
    let brought = bring(&files, &options, None).expect("brought");
    for line in brought.summary.iter().chain(&brought.warnings) {
        tell(&format!("merewether: {line}"));
    }
    // Named in the old-style .prj beside the grid.
    let crs = Crs::from_epsg(32756).expect("known");

    // The houses.
    assert_eq!(brought.blocks.len(), 60);
    assert_bounds(&brought, [151.7411667, -32.9430884, 151.7435821, -32.9403386]);
    let area_m2 = footprints_m2(&brought);
    assert!((area_m2 / 6445.6 - 1.0).abs() < 1e-3, "{area_m2} m²");
    assert_eq!(prisms(&brought).map(|(outline, _, _)| outline.len()).sum::<usize>(), 313);
    assert!(prisms(&brought).all(|(outline, _, height_m)| height_m == 6.0 && ring_area_m2(outline) > 0.0));
    warned(&brought, "60 blocks without any height: 6 m assumed");
    let subjects: Vec<&str> =
        brought.blocks.iter().filter(|block| block.subject).map(|block| block.name.as_str()).collect();
    assert_eq!(subjects, ["house000"]);

    // The ground: every post in its place.
    let terrain = grid(&brought);
    assert_eq!((terrain.columns(), terrain.rows.len()), (321, 416));
    warned(&brought, "73 of 133536 posts had no height");
    assert_eq!(brought.warnings.len(), 2, "{:#?}", brought.warnings);
    let cell_m = 0.99993681000029;
    for column in [0, 100, 320] {
        for row in [0, 200, 415] {
            let (x, y) = terrain.plan_from_grid(f64::from(column), f64::from(row));
            let map = (
                382249.79174463 + cell_m * (f64::from(column) + 0.5),
                6354265.4322858 + cell_m * (f64::from(row) + 0.5),
            );
            let (true_x, true_y) = in_plan(&brought, &crs, map);
            assert!((x - true_x).hypot(y - true_y) < 0.01, "post {column}, {row}");
        }
    }
    let (low_m, high_m) = brought.terrain.as_ref().expect("terrain").range_m();
    assert!((low_m + brought.anchor.height_m - 16.4731).abs() < 1e-6, "{low_m}");
    assert!((high_m + brought.anchor.height_m - 51.9693).abs() < 1e-6, "{high_m}");
    // At the highest post's own centre its height is met.
    assert!((ground_m(&brought, &crs, (382315.287606, 6354659.907357)) - 51.9693).abs() < 0.01);
    // The mean of the posts with data is published; those filled in are few.
    let mean_m = terrain.rows.iter().flatten().sum::<f64>() / 133_536.0 + brought.anchor.height_m;
    assert!((mean_m - 28.15926).abs() < 0.02, "{mean_m}");

    // Between posts our surface is four triangles a cell, the samples are bilinear: they differ by at most a quarter of
    // how far the cell's corners stand off a plane, so 5 cm is allowed.
    let mut worst_m = 0.0_f64;
    for (x, y, height_m) in [
        (382330.586639, 6354577.26258, 34.5408),
        (382410.581584, 6354473.269152, 19.391),
        (382491.576465, 6354556.263907, 18.114),
        // Under the middles of house000, house001 and house002.
        (382432.26, 6354410.71, 22.184),
        (382426.31, 6354425.45, 20.853),
        (382402.50, 6354404.50, 21.080),
    ] {
        let found_m = ground_m(&brought, &crs, (x, y));
        worst_m = worst_m.max((found_m - height_m).abs());
        assert!((found_m - height_m).abs() < 0.05, "{found_m} for {height_m} at ({x}, {y})");
    }
    tell(&format!("merewether: ground within {worst_m:.4} m of the bilinear samples"));
    for (name, middle, height_m) in [
        ("house000", (382432.26, 6354410.71), 22.184),
        ("house001", (382426.31, 6354425.45), 20.853),
        ("house002", (382402.50, 6354404.50), 21.080),
    ] {
        let block = brought.blocks.iter().find(|block| block.name == name).expect("a house");
        let (x, y) = in_plan(&brought, &crs, middle);
        // The published middles are rounded to 1 cm.
        assert!((x - block.at.0).hypot(y - block.at.1) < 0.015, "{name}: {:?} for ({x}, {y})", block.at);
        let found_m = brought.terrain.as_ref().expect("terrain").height_m(block.at) + brought.anchor.height_m;
        assert!((found_m - height_m).abs() < 0.05, "{name}: {found_m} for {height_m}");
    }

    // Grid north at the anchor, which is the grid's centre.
    let anchor = Geographic::from_degrees(brought.anchor.latitude_deg, brought.anchor.longitude_deg, 0.0);
    let at = crs.map_from_geographic(&anchor.expect("a place")).expect("in the zone");
    let convergence_deg = crs.convergence(at).expect("in the zone").degrees();
    assert!((terrain.turned_deg - convergence_deg).abs() < 1e-5, "{} for {convergence_deg}", terrain.turned_deg);
    // 1.2576° west of the zone's central meridian at 32.94° south, by the sphere's formula: grid north lies east.
    let sphere_deg =
        ((151.7424_f64 - 153.0).to_radians().tan() * (-32.9417_f64).to_radians().sin()).atan().to_degrees();
    assert!((convergence_deg - sphere_deg).abs() < 2e-3, "{convergence_deg} for {sphere_deg}");

    let site = site(brought);
    assert_reads_back(&site);
    let model = Model::build(site);
    assert_closed(&model);
    // All houses stand on the ground that is known to be under them.
    let anchor_m = model.site.anchor.as_ref().expect("anchored").height_m;
    for block in &model.site.blocks {
        let height_m = model.site.terrain.height_m(block.at) + anchor_m;
        assert!((17.562 - 0.05..24.111 + 0.05).contains(&height_m), "{}: {height_m}", block.name);
    }
}

#[test]
fn files_meet_in_either_order_and_join_a_site() {
    let data = open_data();
    let (terrain, houses) =
        (data.join("asc/merewether_topography1.asc"), data.join("geojson/merewether_houses.geojson"));
    let houses_first = bring(&[houses.clone(), terrain.clone()], &options(), None).expect("brought");
    // The centre of the first file is the anchor.
    assert!((houses_first.anchor.longitude_deg - 0.5 * (151.7411667 + 151.7435821)).abs() < 1e-6);
    assert!((houses_first.anchor.latitude_deg + 0.5 * (32.9430884 + 32.9403386)).abs() < 1e-6);
    assert!((houses_first.anchor.height_m - 20.0).abs() <= 5.0, "{:?}", houses_first.anchor);
    assert_eq!(houses_first.anchor.vertical_datum.as_deref(), Some("that of merewether_topography1.asc"));

    // Brought one after the other, the second joins the first one's axes and all lies as before.
    let ground =
        one(&terrain, &BringOptions { anchor: Some(houses_first.anchor.clone()), ..options() }).expect("brought");
    assert_eq!(ground.terrain, houses_first.terrain);
    let ground = site(ground);
    let joined = bring(std::slice::from_ref(&houses), &options(), Some(&ground)).expect("brought");
    assert_eq!(joined.anchor, houses_first.anchor);
    assert_eq!(joined.blocks, houses_first.blocks);

    // The ground's own level is named in the anchor; another one's would be worth a word, and so is a second ground.
    assert!(!joined.warnings.iter().any(|warning| warning.contains("level")), "{:?}", joined.warnings);
    let mut on_ellipsoid = ground.clone();
    on_ellipsoid.anchor.as_mut().expect("anchored").vertical_datum = None;
    let replaced = bring(std::slice::from_ref(&terrain), &options(), Some(&on_ellipsoid)).expect("brought");
    warned(&replaced, "the same level as the anchor's, the ellipsoid");
    warned(&replaced, "takes the place of the site's own terrain");
    let nowhere = Site { anchor: None, blocks: joined.blocks.clone(), ..ground };
    warned(&bring(std::slice::from_ref(&terrain), &options(), Some(&nowhere)).expect("brought"), "had no anchor");

    // A second time their names are taken.
    let full = site(houses_first);
    let again = bring(std::slice::from_ref(&houses), &options(), Some(&full)).expect("brought");
    assert_eq!(again.blocks[7].name, format!("{} (2)", full.blocks[7].name));
    warned(&again, "60 blocks are already on the site");

    // Another anchor would tear the site apart.
    let elsewhere = Anchor { latitude_deg: -32.9, ..full.anchor.clone().expect("anchored") };
    let moved = BringOptions { anchor: Some(elsewhere), ..options() };
    assert!(matches!(bring(&[houses], &moved, Some(&full)), Err(BringError::AnchorDiffers { .. })));
    let twice = bring(&[terrain.clone(), terrain], &options(), None);
    assert!(matches!(twice, Err(BringError::SecondTerrain { .. })));
}

#[test]
fn a_quarter_of_a_town_comes_in_but_for_the_two_footprints_that_touch_themselves() {
    let data = open_data();
    let brought = one(&data.join("geojson/saltriver_buildings.geojson"), &options()).expect("brought");
    for line in brought.summary.iter().chain(&brought.warnings) {
        tell(&format!("saltriver: {line}"));
    }
    assert_eq!(brought.blocks.len(), 1375);
    warned(&brought, "left out 2 polygons that no solid can stand on");
    // One of the two has the sixteenth court of the file; together they cover 2057.7 m² and are 25.0 m high.
    assert_eq!(prisms(&brought).map(|(_, holes, _)| holes.len()).sum::<usize>(), 15);
    let area_m2 = footprints_m2(&brought);
    assert!((area_m2 / (481328.6 - 2057.7) - 1.0).abs() < 1e-4, "{area_m2} m²");
    let heights_m: Vec<f64> = prisms(&brought).map(|(_, _, height_m)| height_m).collect();
    let sum_m = heights_m.iter().sum::<f64>();
    assert!((sum_m - (6659.3 - 25.0)).abs() < 1e-6, "{sum_m}");
    assert_eq!(heights_m.iter().copied().fold(f64::INFINITY, f64::min), 1.3);
    assert_eq!(heights_m.iter().copied().fold(0.0, f64::max), 32.1);
    let names: std::collections::BTreeSet<&str> = brought.blocks.iter().map(|block| block.name.as_str()).collect();
    assert_eq!(names.len(), brought.blocks.len());
    let brought = site(brought);
    assert_reads_back(&brought);
    assert_closed(&Model::build(brought));

    // Only what is near: neither more nor less than the whole town has there.
    let town = one(&data.join("geojson/saltriver_buildings.geojson"), &options()).expect("brought");
    let is_near = |at: &PlanPoint, outline: &[PlanPoint]| {
        outline.iter().all(|corner| (at.0 + corner.0).hypot(at.1 + corner.1) < 300.0)
    };
    let count = town.blocks.iter().zip(prisms(&town)).filter(|(block, (ring, _, _))| is_near(&block.at, ring)).count();
    let near = BringOptions { within_m: Some(300.0), ..options() };
    let brought = one(&data.join("geojson/saltriver_buildings.geojson"), &near).expect("brought");
    assert_eq!((brought.blocks.len(), &brought.anchor), (count, &town.anchor));
    warned(&brought, "not wholly within reach");
}

#[test]
fn lighthouses_all_over_a_country_are_no_site() {
    let data = open_data();
    let error = one(&data.join("geojson/uk_lighthouses.geojson"), &options()).expect_err("refused").to_string();
    tell(&error);
    assert!(error.contains("259 Points") && error.contains("no footprint"), "{error}");
    // 592 km by 1223 km at the southern edge; at the middle latitude less across.
    assert!(error.contains(" km by 1221 km") || error.contains(" km by 1222 km"), "{error}");
}

#[test]
fn one_building_in_a_file_of_its_own() {
    let data = open_data();
    let subject = BringOptions { subject: Some("empire state building".into()), ..options() };
    let brought = one(&data.join("geojson/empire_state.geojson"), &subject).expect("brought");
    assert_eq!(brought.blocks.len(), 1);
    let block = &brought.blocks[0];
    assert!(block.subject && block.name == "Empire State Building");
    let (outline, _, height_m) = prisms(&brought).next().expect("a block");
    // The height counts, not the number of floors.
    assert_eq!((outline.len(), height_m), (7, 443.2));
    assert!((footprints_m2(&brought) / 7702.0 - 1.0).abs() < 1e-3);
    assert_bounds(&brought, [-73.9865012, 40.7479255, -73.9848166, 40.7489585]);
    assert!(brought.warnings.is_empty(), "{:?}", brought.warnings);
}

#[test]
fn heights_in_feet_are_feet_only_where_that_is_said() {
    let data = open_data();
    let path = data.join("geojson/nyc_three_feet.geojson");
    let feet = BringOptions { height_unit: HeightUnit::Feet, ..options() };
    let brought = one(&path, &feet).expect("brought");
    let mut heights_m: Vec<f64> = prisms(&brought).map(|(_, _, height_m)| height_m).collect();
    heights_m.sort_by(f64::total_cmp);
    assert_eq!(heights_m, [17.624, 18.425, 139.749]);
    assert!((footprints_m2(&brought) / 2080.0 - 1.0).abs() < 1e-3, "{}", footprints_m2(&brought));
    assert_eq!(
        brought.blocks.iter().map(|block| block.name.as_str()).collect::<Vec<_>>(),
        ["block 1", "block 2", "block 3"]
    );
    let brought = one(&path, &options()).expect("brought");
    let tallest_m = prisms(&brought).map(|(_, _, height_m)| height_m).fold(0.0, f64::max);
    assert!((tallest_m - 458.495).abs() < 0.001);
}

/// What a reader of the same grid said.
struct Facts {
    file: &'static str,
    code: u16,
    size: (usize, usize),
    /// Outer bounds' west and south.
    corner: (f64, f64),
    cell: f64,
    range_m: (f64, f64),
    first_and_last_m: Option<(f64, f64)>,
    highest_at: PlanPoint,
    /// Bilinear between the cells' centres.
    samples: &'static [(f64, f64, f64)],
}

#[test]
fn grids_of_every_make_are_read_as_other_readers_read_them() {
    let data = open_data();
    // None of these names its projection; each is laid into a zone where its coordinates are places.
    let grids = [
        Facts {
            file: "kootenai.asc",
            code: 32611,
            size: (50, 37),
            corner: (556440.0, 5394932.0),
            cell: 1.0,
            range_m: (537.359985, 543.809998),
            first_and_last_m: Some((543.340026855469, 539.559997558594)),
            highest_at: (556468.5, 5394965.5),
            samples: &[
                (556452.8, 5394959.85, 542.7659),
                (556465.8, 5394950.85, 538.0276),
                (556478.8, 5394957.85, 538.2633),
            ],
        },
        Facts {
            file: "pixel_per_line.asc",
            code: 32633,
            size: (15, 12),
            corner: (100000.0, 650000.0),
            cell: 50.0,
            range_m: (0.0, 3450.0),
            first_and_last_m: Some((0.0, 5.03)),
            highest_at: (100675.0, 650225.0),
            samples: &[],
        },
        Facts {
            file: "hugo_site.asc",
            code: 32613,
            size: (76, 55),
            corner: (0.0, 0.0),
            cell: 10.0,
            range_m: (1660.0, 1711.0),
            first_and_last_m: None,
            highest_at: (595.0, 65.0),
            samples: &[(388.0, 268.5, 1693.205), (578.0, 388.5, 1682.35), (258.0, 188.5, 1692.75)],
        },
        Facts {
            file: "4_x_3.asc",
            code: 32633,
            size: (3, 4),
            corner: (1.0, 2.0),
            cell: 10.0,
            range_m: (0.0, 11.0),
            first_and_last_m: Some((0.0, 11.0)),
            highest_at: (26.0, 7.0),
            samples: &[(19.0, 30.5, 3.25), (19.0, 10.5, 9.25)],
        },
        Facts {
            file: "4_x_3_no_nodata.asc",
            code: 32633,
            size: (3, 4),
            corner: (1.0, 2.0),
            cell: 10.0,
            range_m: (0.0, 11.0),
            first_and_last_m: Some((0.0, 11.0)),
            highest_at: (26.0, 7.0),
            samples: &[(19.0, 30.5, 3.25), (19.0, 10.5, 9.25)],
        },
        Facts {
            file: "nodata_nan.asc",
            code: 32633,
            size: (3, 2),
            corner: (0.0, 0.0),
            cell: 1.0,
            range_m: (-1.0, 3.0),
            first_and_last_m: None,
            highest_at: (2.5, 0.5),
            samples: &[(1.8, 0.85, 1.25)],
        },
    ];
    for facts in grids {
        let path = data.join("asc").join(facts.file);
        assert!(matches!(one(&path, &options()), Err(BringError::NoCrs { .. })), "{}", facts.file);
        let brought = one(&path, &in_system(facts.code)).unwrap_or_else(|error| panic!("{error}"));
        for line in brought.summary.iter().chain(&brought.warnings) {
            tell(line);
        }
        let crs = Crs::from_epsg(facts.code).expect("known");
        let terrain = grid(&brought);
        let anchor_m = brought.anchor.height_m;
        assert_eq!((terrain.columns(), terrain.rows.len()), facts.size, "{}", facts.file);
        let (low_m, high_m) = brought.terrain.as_ref().expect("terrain").range_m();
        assert!((low_m + anchor_m - facts.range_m.0).abs() < 2e-6, "{}: {low_m}", facts.file);
        assert!((high_m + anchor_m - facts.range_m.1).abs() < 2e-6, "{}: {high_m}", facts.file);
        if let Some((first_m, last_m)) = facts.first_and_last_m {
            let (north_west, south_east) = (terrain.rows[0][0], *terrain.rows[facts.size.1 - 1].last().expect("posts"));
            assert!((north_west + anchor_m - first_m).abs() < 2e-6, "{}: {north_west}", facts.file);
            assert!((south_east + anchor_m - last_m).abs() < 2e-6, "{}: {south_east}", facts.file);
        }
        // The highest post is where it should be, and so is the south-west one.
        let (true_x, true_y) = in_plan(&brought, &crs, facts.highest_at);
        // Of several as high, one.
        let found = terrain.rows.iter().rev().enumerate().any(|(row, posts)| {
            posts.iter().enumerate().any(|(column, &post_m)| {
                let (x, y) = terrain.plan_from_grid(column as f64, row as f64);
                post_m == high_m && (x - true_x).hypot(y - true_y) < 0.01
            })
        });
        assert!(found, "{}: no highest post at ({true_x}, {true_y})", facts.file);
        let first_post = (facts.corner.0 + 0.5 * facts.cell, facts.corner.1 + 0.5 * facts.cell);
        let (true_x, true_y) = in_plan(&brought, &crs, first_post);
        let (x, y) = terrain.south_west;
        assert!((x - true_x).hypot(y - true_y) < 0.01, "{}: ({x}, {y}) for ({true_x}, {true_y})", facts.file);
        for &(x, y, height_m) in facts.samples {
            let found_m = ground_m(&brought, &crs, (x, y));
            // Four triangles a cell stand off a bilinear surface by at most a quarter of the cell's twist.
            let (column, row) = ((x - first_post.0) / facts.cell, (y - first_post.1) / facts.cell);
            let corner = |dx: usize, dy: usize| {
                terrain.rows[facts.size.1 - 1 - (row.floor() as usize + dy)][column.floor() as usize + dx]
            };
            let twist_m = (corner(0, 0) + corner(1, 1) - corner(0, 1) - corner(1, 0)).abs();
            assert!(
                (found_m - height_m).abs() < 0.25 * twist_m + 0.002,
                "{}: {found_m} for {height_m}, twist {twist_m}",
                facts.file
            );
        }
    }
    let hugo = one(&data.join("asc/hugo_site.asc"), &in_system(32613)).expect("brought");
    warned(&hugo, "2028 of 4180 posts had no height");
    let nan = one(&data.join("asc/nodata_nan.asc"), &in_system(32633)).expect("brought");
    warned(&nan, "1 of 6 posts had no height");
}

#[test]
fn a_row_that_is_too_short_is_told_by_its_line() {
    let data = open_data();
    let error = one(&data.join("asc/wrong_num_columns.asc"), &in_system(32756)).expect_err("refused").to_string();
    assert!(error.contains("line 9: a row of 3 where 4 are promised; 46 heights"), "{error}");
}

#[test]
fn a_grid_in_degrees_is_ten_kilometres_wide_and_no_needle() {
    let data = open_data();
    let path = data.join("asc/srtmgl3_boulder.asc");
    // 10 km by 13 km: more than a site.
    let error = one(&path, &options()).expect_err("refused");
    assert!(matches!(error, BringError::TooFar { .. }) && error.to_string().contains("8.3 km"), "{error}");
    // Read as metres it would be 0.12 m wide.
    let error = one(&path, &in_system(32613)).expect_err("refused").to_string();
    assert!(error.contains("--crs 4326"), "{error}");

    let near = BringOptions { within_m: Some(3000.0), ..options() };
    let brought = one(&path, &near).expect("brought");
    for line in brought.summary.iter().chain(&brought.warnings) {
        tell(line);
    }
    warned(&brought, "taken as WGS 84");
    warned(&brought, "posts too far from the anchor were left out");
    let terrain = grid(&brought);
    // 0.000833333333° at 40.15° north: 92.53 m of latitude, by the meridian's radius 6363.3 km; 71.0 m of longitude.
    assert!(
        (terrain.spacing_m.0 - 71.0).abs() < 0.1 && (terrain.spacing_m.1 - 92.5).abs() < 0.1,
        "{:?}",
        terrain.spacing_m
    );
    assert!(terrain.turned_deg.abs() < 0.01);
    // On slopes like these a metre in plan and the twist of a cell of 70 m by 90 m are some metres of height.
    let found_m = ground_m(&brought, &Crs::wgs84(), (-105.49975, 40.150292));
    assert!((found_m - 2751.2366).abs() < 5.0, "{found_m}");
    let (low_m, high_m) = brought.terrain.as_ref().expect("terrain").range_m();
    assert!(low_m + brought.anchor.height_m >= 2186.0 && high_m + brought.anchor.height_m <= 3345.0);
    assert_reads_back(&site(brought));
}
