//! Can anything at all that is read from outside bring the program down?
//!
//! One target a format. Each takes good files, changes them at random for two seconds (or as many as
//! `PLUMBSIGHT_FUZZ_SECONDS` says) and reads what comes of it: it may be refused, but nothing may break, nothing may take
//! long, and what is taken must read the same once it is written. An input that is answered in a way not heard before is
//! changed further, so that the changes find their way past the first checks without help from the compiler.
//!
//! Each run changes other things. An input is laid down before it is read: one that breaks something, even one that ends the
//! whole process, stays where the failure says. Make it a test in `hostile` or beside the code then.

use std::collections::BTreeSet;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::time::{Duration, Instant, SystemTime};

use plumbsight::bring::{BringOptions, bring, laid_by_file, read_picture};
use plumbsight::files::ron_options;
use plumbsight::handover::Brand;
use plumbsight::place::crs_of_prj;
use plumbsight::plan::{parse_kit, parse_plan, write_plan};
use plumbsight::progress::Progress;
use plumbsight::record::Record;
use plumbsight::scenes::SCENES;
use plumbsight::search::{Criteria, Piece, Search};
use plumbsight::site::{Anchor, SITE_FORMAT, Severity, Site, check_text, parse_site, write_new};
use plumbsight::survey::MeasureSettings;
use sha2::{Digest, Sha256};

use crate::support::random::Random;
use crate::support::surveyed::{record, surveyed, surveyed_blocks};
use crate::support::tell;

/// No input may take longer, on a machine that does other things as well.
const LONGEST: Duration = Duration::from_secs(20);
/// The longest input that is made.
const LARGEST_BYTES: usize = 100_000;
/// The most bytes of an input that a failure shows.
const LONGEST_QUOTE: usize = 4000;
/// The most inputs that are kept to be changed further.
const MOST_KEPT: usize = 400;

/// What every format is sensitive to.
const PIECES: [&str; 36] = [
    "",
    "-",
    "+",
    ".",
    ",",
    ":",
    "e9",
    "1e308",
    "-1e308",
    "5e-324",
    "nan",
    "NaN",
    "inf",
    "0",
    "-0",
    "1",
    "65536",
    "4294967296",
    "18446744073709551615",
    "\n",
    "\r\n",
    "\t",
    " ",
    "\0",
    "\u{feff}",
    "\u{202e}",
    "é",
    "\u{1f5fc}",
    "(",
    ")",
    "[",
    "]",
    "{",
    "}",
    "\"",
    "/*",
];

/// How long each target is tried.
fn time() -> Duration {
    let wanted = std::env::var("PLUMBSIGHT_FUZZ_SECONDS").map(|text| text.parse().expect("PLUMBSIGHT_FUZZ_SECONDS"));
    Duration::from_secs(wanted.unwrap_or(2))
}

/// An input with a few changes; `other` is one to take parts of.
fn changed(input: &[u8], other: &[u8], words: &[&str], random: &mut Random) -> Vec<u8> {
    let mut bytes = input.to_vec();
    let below = |random: &mut Random, most: usize| (random.bits() % (most as u64 + 1)) as usize;
    for _ in 0..=below(random, 3) {
        let at = below(random, bytes.len());
        // Short ranges far more often than long ones.
        let longest = [2, 8, 40, 400][below(random, 3)];
        let to = (at + below(random, longest)).min(bytes.len());
        match random.bits() % 7 {
            0 if at < bytes.len() => bytes[at] ^= 1 << (random.bits() % 8),
            1 => drop(bytes.drain(at..to)),
            2 => {
                let piece = bytes[at..to].to_vec();
                bytes.splice(at..at, piece);
            }
            3 => {
                let from = below(random, other.len());
                let piece = &other[from..(from + longest).min(other.len())];
                bytes.splice(at..to, piece.iter().copied());
            }
            4 => drop(bytes.splice(at..to, random.one_of(words).bytes())),
            5 => {
                // A whole number, from its first digit to its last.
                let start = bytes.iter().skip(at).position(u8::is_ascii_digit).map_or(at, |found| at + found);
                let digits = bytes[start..].iter().take_while(|byte| byte.is_ascii_digit()).count();
                bytes.splice(start..start + digits, random.one_of(&PIECES).bytes());
            }
            _ => drop(bytes.splice(at..at, random.one_of(&PIECES).bytes())),
        }
    }
    bytes.truncate(LARGEST_BYTES);
    bytes
}

/// An answer without what differs from one input to the next: numbers, and what stands in quotation marks.
fn kind(answer: &str) -> String {
    let outside = answer.split(['\'', '"', '`']).step_by(2);
    outside.flat_map(|part| part.chars().filter(|c| !c.is_ascii_digit())).take(300).collect()
}

/// Tries a target: `read` tells in words how it took an input, and panics if something is wrong.
///
/// `seeds` are good files, `words` what the format is made of besides [`PIECES`].
fn hunt(name: &str, seeds: &[Vec<u8>], words: &[&str], read: impl Fn(&[u8]) -> String) {
    let laid_down = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("fuzz-{name}"));
    let now = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH).expect("a time");
    let mut random = Random::new(now.as_nanos() as u64);
    let mut known = BTreeSet::new();
    let mut kept: Vec<Vec<u8>> = Vec::new();
    let mut seeds = seeds.iter();
    let (mut count, mut longest) = (0_u32, Duration::ZERO);
    let until = Instant::now() + time();
    while Instant::now() < until || seeds.len() > 0 {
        let seed = seeds.next();
        let input = match seed {
            Some(seed) => seed.clone(),
            None => {
                let (input, other) = (random.one_of::<Vec<u8>>(&kept), random.one_of::<Vec<u8>>(&kept));
                changed(input, other, words, &mut random)
            }
        };
        std::fs::write(&laid_down, &input).expect("written");
        let started = Instant::now();
        let answer = catch_unwind(AssertUnwindSafe(|| read(&input)));
        longest = longest.max(started.elapsed());
        let Ok(answer) = answer else { panic!("{name}: {} brings it down:\n{}", laid_down.display(), quoted(&input)) };
        assert!(longest < LONGEST, "{name}: {} takes {longest:?}", laid_down.display());
        count += 1;
        if known.insert(kind(&answer)) && kept.len() < MOST_KEPT || seed.is_some() {
            kept.push(input);
        }
    }
    std::fs::remove_file(&laid_down).expect("laid down");
    tell(&format!("fuzz: {name}: {count} inputs, {} kinds of answer, {longest:?} at most", known.len()));
    // Whatever the machine is busy with: changes are made, and not all are answered alike.
    assert!(count > 10 && known.len() > 2, "{name}: {count} inputs, {known:#?}");
}

/// The beginning of an input, for who cannot get at the file.
fn quoted(input: &[u8]) -> String {
    input[..input.len().min(LONGEST_QUOTE)].escape_ascii().to_string()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn scenes() -> Vec<Vec<u8>> {
    SCENES.iter().map(|scene| scene.text.as_bytes().to_vec()).collect()
}

#[test]
fn site_files() {
    let small = "Site(format: 1, name: \"s\", blocks: [(name: \"a\", subject: true, at: (0, 0), shape: Prism(outline: [(0, 0), \
                 (5, 0), (5, 5)], height_m: 3))], stances: [(name: \"b\", at: (0, -20), lens: \"24-70 mm\", aim: Fill)])";
    let seeds: Vec<Vec<u8>> = scenes().into_iter().chain([small.as_bytes().to_vec()]).collect();
    let words = [
        "blocks: [",
        "stances: [",
        "grounds: [",
        "kit: (lenses: [(name: \"l\", focal_mm: 9)])",
        "subject: true",
        "at: (1, 2)",
        "Box(width_m: 1, depth_m: 1, height_m: 1)",
        "Wall(path: [(0, 0), (1, 1)], thickness_m: 1, height_m: 1)",
        "Tree(height_m: 8, crown_radius_m: 2, crown_base_m: 2, trunk_radius_m: 1)",
        "heading_deg: ",
        "lift_m: ",
        "height_pm_m: ",
        "height_from: \"by eye\"",
        "Fill",
        "Rise",
        "terrain: Grid((south_west: (0, 0), spacing_m: (1, 1), rows: [[1, 2], [3, 4]]))",
        "water_level_m: ",
        "Some(",
        "r#\"",
    ];
    hunt("site", &seeds, &words, |bytes| {
        let text = text(bytes);
        let told = check_text(&text, "fuzz.site.ron");
        for problem in &told.problems {
            assert!(text.get(problem.span.clone()).is_some());
            assert_eq!(problem.line, text[..problem.span.start].matches('\n').count() + 1);
        }
        told.render(false, 80);
        let ron: Option<Site> = ron_options().from_str(&text).ok();
        match parse_site(&text, "fuzz.site.ron") {
            Ok(site) => {
                assert!(!told.has_errors());
                assert!(ron.is_none_or(|ron| ron == site));
                assert_eq!(parse_site(&write_new(&site), "again.site.ron").as_ref(), Ok(&site));
                let mut answer = "read".to_owned();
                // A site without a subject, and one with few blocks, is measured quickly.
                if site.blocks.len() < 4 {
                    let survey = surveyed(&text, "fuzz.site.ron");
                    for stance in site.stances.iter().take(2) {
                        answer += &match survey.measure(stance, &MeasureSettings::default()) {
                            Ok(measured) => format!(", measured {}", measured.cautions.len()),
                            Err(error) => format!(", {error}"),
                        };
                    }
                }
                answer
            }
            Err(problems) => {
                assert!(problems.has_errors());
                // What RON can read is refused for what it says, not for how it is written.
                let for_the_writing = problems
                    .problems
                    .iter()
                    .any(|p| p.severity == Severity::Error && p.field.is_empty() && p.item.is_empty());
                assert!(ron.is_none() || !for_the_writing);
                problems.problems.first().map(|problem| format!("{problem:?}")).unwrap_or_default()
            }
        }
    });
}

/// Brings a file of a name from a folder of its own; what is brought makes a site that reads back.
fn brought(folder: &Path, file: &str, bytes: &[u8], options: &BringOptions) -> String {
    let path = folder.join(file);
    std::fs::write(&path, bytes).expect("written");
    match bring(&[path], options, None) {
        Ok(brought) => {
            let answer = brought.warnings.join("; ");
            let site = Site {
                format: SITE_FORMAT,
                name: "brought".into(),
                anchor: Some(brought.anchor),
                time_zone: None,
                terrain: brought.terrain.unwrap_or_default(),
                water_level_m: None,
                sun: None,
                front: None,
                underlay: None,
                blocks: brought.blocks,
                grounds: Vec::new(),
                kit: None,
                stances: Vec::new(),
            };
            assert_eq!(parse_site(&write_new(&site), "brought.site.ron").as_ref(), Ok(&site));
            answer
        }
        Err(error) => error.to_string(),
    }
}

#[test]
fn geojson() {
    let folder = tempfile::tempdir().expect("a folder");
    let seed = r#"{"type": "FeatureCollection", "crs": {"type": "name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}},
        "features": [{"type": "Feature", "properties": {"name": "shed", "height": "12 ft", "building:levels": 2}, "geometry":
        {"type": "Polygon", "coordinates": [[[8, 50], [8.0002, 50], [8.0002, 50.0002], [8, 50.0002], [8, 50]]]}},
        {"type": "Feature", "properties": {"height": 30}, "geometry": {"type": "MultiPolygon", "coordinates":
        [[[[8, 50], [8.0009, 50], [8.0009, 50.0009], [8, 50.0009], [8, 50]],
        [[8.0003, 50.0003], [8.0006, 50.0003], [8.0006, 50.0006], [8.0003, 50.0003]]]]}}]}"#;
    let words = [
        "\"type\": \"GeometryCollection\"",
        "\"geometries\": []",
        "\"Point\"",
        "\"LineString\"",
        "\"coordinates\": []",
        "null",
        "\"min_height\": 2",
        "\"num_floors\": 3",
        "\"name\"",
        "EPSG::32632",
        "EPSG::2263",
        "true",
        "[8, 50]",
        "[180, 90]",
    ];
    hunt("geojson", &[seed.into()], &words, |bytes| {
        brought(folder.path(), "f.geojson", bytes, &BringOptions::default())
    });
}

#[test]
fn esri_grids() {
    let folder = tempfile::tempdir().expect("a folder");
    let seed = "ncols 3\nnrows 4\nxllcorner 500000\nyllcorner 5500000\ndx 2.5\ndy 2\nNODATA_value -9999\n1 2 3\n4 -9999 6\n7 \
                8.5 9\n1e1 11 12\n";
    let words =
        ["ncols", "nrows", "xllcenter", "yllcenter", "cellsize 3", "-9999", "1.#QNAN", "NODATA_value nan", "1 2 3 4"];
    hunt("grid", &[seed.into()], &words, |bytes| {
        brought(folder.path(), "g.asc", bytes, &BringOptions { crs: Some(32632), ..BringOptions::default() })
    });
}

#[test]
fn projection_files() {
    let seeds = [
        "Projection UTM\nZone 56\nDatum WGS84\nZunits NO\nUnits METERS\nXshift 0\nYshift 10000000\nParameters\n",
        "PROJCS[\"WGS_1984_UTM_Zone_32N\",GEOGCS[\"GCS_WGS_1984\",DATUM[\"D_WGS_1984\",SPHEROID[\"WGS_1984\",6378137.0,\
         298.257223563]],PRIMEM[\"Greenwich\",0.0],UNIT[\"Degree\",0.0174532925199433]],PROJECTION[\"Transverse_Mercator\"],\
         PARAMETER[\"Central_Meridian\",9.0],UNIT[\"Meter\",1.0],AUTHORITY[\"EPSG\",\"32632\"]]",
        "EPSG:25832",
    ]
    .map(|seed| seed.as_bytes().to_vec());
    let words =
        ["GEOGRAPHIC", "UTM", "Zone 61", "Datum NAD27", "ID[\"EPSG\",4326]", "AUTHORITY", "UNIT[", "ETRS_1989", "_1S"];
    hunt("prj", &seeds, &words, |bytes| match crs_of_prj(&text(bytes)) {
        Ok(crs) => format!("EPSG {}", crs.is_geographic()),
        Err(error) => error.to_string(),
    });
}

/// Lays a picture from above, and reads it; what is laid can stand in a site.
fn laid(picture: &Path) -> String {
    let anchor = Anchor { latitude_deg: 50.0, longitude_deg: 9.0, height_m: 0.0, vertical_datum: None };
    let place = match laid_by_file(picture, Some(&anchor)) {
        Ok(Some(laying)) => {
            let mut site = parse_site(SCENES[0].text, "demo").expect("good");
            site.underlay = Some(laying.underlay);
            assert_eq!(parse_site(&write_new(&site), "laid.site.ron").as_ref(), Ok(&site));
            "laid".to_owned()
        }
        Ok(None) => "nowhere".into(),
        Err(error) => error.to_string(),
    };
    let read = match read_picture(picture, 16) {
        Ok(raster) => {
            assert!(raster.size_px.iter().all(|side_px| (1..=16).contains(side_px)));
            assert_eq!(
                raster.rgba.len() as u64,
                raster.size_px.iter().map(|side_px| u64::from(*side_px)).product::<u64>() * 4
            );
            "read".to_owned()
        }
        Err(error) => error.to_string(),
    };
    format!("{place}; {read}")
}

#[test]
fn pictures_from_above() {
    let folder = tempfile::tempdir().expect("a folder");
    let pixels: Vec<u8> = (0..24 * 20 * 3).map(|at: u32| (at * 7 % 253) as u8).collect();
    let mut png = Vec::new();
    let mut encoder = png::Encoder::new(&mut png, 24, 20);
    encoder.set_color(png::ColorType::Rgb);
    encoder.write_header().and_then(|mut writer| writer.write_image_data(&pixels)).expect("a PNG");
    let mut jpeg = Vec::new();
    jpeg_encoder::Encoder::new(&mut jpeg, 90).encode(&pixels, 24, 20, jpeg_encoder::ColorType::Rgb).expect("a JPEG");
    let tiff = |compression| {
        let mut file = std::io::Cursor::new(Vec::new());
        let encoder = tiff::encoder::TiffEncoder::new(&mut file).expect("a TIFF");
        let mut encoder = encoder.with_compression(compression);
        let mut image = encoder.new_image::<tiff::encoder::colortype::RGB8>(24, 20).expect("its head");
        let tags = image.encoder();
        tags.write_tag(tiff::tags::Tag::ModelPixelScaleTag, &[0.5, 0.5, 0.0][..]).expect("a scale");
        tags.write_tag(tiff::tags::Tag::ModelTiepointTag, &[0.0, 0.0, 0.0, 500_010.0, 5_538_640.0, 0.0][..])
            .expect("a tie");
        let keys = [1_u16, 1, 0, 3, 1024, 0, 1, 1, 1025, 0, 1, 1, 3072, 0, 1, 32632];
        tags.write_tag(tiff::tags::Tag::GeoKeyDirectoryTag, &keys[..]).expect("its map");
        image.write_data(&pixels).expect("its pixels");
        file.into_inner()
    };
    let plain = tiff(tiff::encoder::Compression::Uncompressed);
    std::fs::write(folder.path().join("good.tif"), &plain).expect("written");
    assert_eq!(laid(&folder.path().join("good.tif")), "laid; read");
    let seeds = [png, jpeg, plain, tiff(tiff::encoder::Compression::Lzw)];
    hunt("picture", &seeds, &["\u{ff}\u{d8}", "II*\0", "MM\0*", "IDAT", "IHDR", "PLTE", "\u{1}\u{1}"], |bytes| {
        let path = folder.path().join("p.png");
        std::fs::write(&path, bytes).expect("written");
        laid(&path)
    });
}

#[test]
fn world_files() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("p.png");
    let mut png = Vec::new();
    let encoder = png::Encoder::new(&mut png, 8, 4);
    encoder.write_header().and_then(|mut writer| writer.write_image_data(&[9; 32])).expect("a PNG");
    std::fs::write(&path, png).expect("written");
    let seeds = ["0.5\n0\n0\n-0.5\n12.25\n-30\n", "0.35355\r\n-0.35355\r\n-0.35355\r\n-0.35355\r\n1e2\r\n+7\r\n"];
    hunt("world", &seeds.map(|seed| seed.as_bytes().to_vec()), &["0.5\n", "-0.5\n", "1e300\n", "1e-300\n"], |bytes| {
        std::fs::write(folder.path().join("p.pgw"), bytes).expect("written");
        laid(&path)
    });
}

#[test]
fn records() {
    let site = surveyed(SCENES[0].text, SCENES[0].name);
    let record = record(&site, &site.model.site.stances[1]);
    let old = std::fs::read(crate::support::project().join("tests/golden/far-1.record.json")).expect("a record");
    let seeds = [record.to_json().into_bytes(), record.to_ron().into_bytes(), old];
    hunt("record", &seeds, &["null", "None", "Some(", "\"format\": 1", "format: 2", "[[", "true"], |bytes| {
        match Record::read(&text(bytes)) {
            Ok(record) => {
                for again in [record.to_json(), record.to_ron()] {
                    assert_eq!(Record::read(&again).expect("its own writing"), record);
                }
                "read".into()
            }
            Err(error) => error.to_string(),
        }
    });
}

#[test]
fn plans() {
    let site = surveyed(SCENES[0].text, SCENES[0].name);
    let plan = format!(
        "(format: 1, prints: [(id: (1), name: \"p\", stance: {})])",
        ron_options().to_string(&site.model.site.stances[0]).expect("written")
    );
    let seeds = [plan.into_bytes(), b"(format: 1)".to_vec(), b"(format: 1, against: Some((1)), laid: [(2)])".to_vec()];
    hunt("plan", &seeds, &["prints: [", "laid: [", "against: ", "bag: [\"24 mm\"]", "format: 2", "Some("], |bytes| {
        match parse_plan(&text(bytes), "fuzz.plan.ron") {
            Ok(plan) => {
                assert_eq!(parse_plan(&write_plan(&plan), "again.plan.ron").as_ref(), Ok(&plan));
                "read".into()
            }
            Err(problems) => {
                problems.render(false, 80);
                problems.problems.first().map(|problem| format!("{problem:?}")).unwrap_or_default()
            }
        }
    });
}

#[test]
fn kits() {
    let seed = "(formats: [(name: \"f\", width_mm: 36, height_mm: 24, width_px: 6000, height_px: 4000)], lenses: [(name: \"l\", \
                focal_mm: 24, widest_f: 2.8, rise_mm: 12, mapping: Rectilinear)])";
    let built_in = std::fs::read(crate::support::project().join("assets/kit.ron")).expect("the kit");
    let words =
        ["focal_mm: (10, 20)", "Equisolid", "distortion: [0.1]", "circle_mm: 60", "lateral_shift_mm: 3", "Some("];
    hunt("kit", &[seed.into(), built_in], &words, |bytes| match parse_kit(&text(bytes), "kit.ron") {
        Ok(kit) => {
            for lens in &kit.lenses {
                assert_eq!(kit.lens(&lens.name).expect("its own").name, lens.name);
            }
            "read".into()
        }
        Err(problems) => {
            problems.render(false, 80);
            problems.problems.first().map(|problem| format!("{problem:?}")).unwrap_or_default()
        }
    });
}

#[test]
fn brands() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("brand.ron");
    let mark = std::fs::read(crate::support::project().join("assets/pictures/saltings-lean.png")).expect("a picture");
    std::fs::write(folder.path().join("mark.png"), mark).expect("written");
    let seed = "(name: \"Yard Pictures & Co\", contact: [\"1 Quay Yard\"], client: \"the station keepers\", mark: \"mark.png\")";
    let words =
        ["title: \"t\"", "text: \"t\"", "Some(\"", "mark: \"../mark.png\"", "mark: \"brand.ron\"", "contact: []"];
    hunt("brand", &[seed.into()], &words, |bytes| {
        std::fs::write(&path, bytes).expect("written");
        Brand::read(&path).map_or_else(|error| error.to_string(), |brand| format!("{}", brand.logo_file.is_some()))
    });
}

#[test]
fn pieces_of_a_search() {
    let survey = surveyed_blocks(
        "(name: \"tower\", subject: true, at: (0, 0), shape: Box(width_m: 5, depth_m: 5, height_m: 18)), \
         (name: \"stage\", at: (0, -20), shape: Stage(width_m: 3, depth_m: 3, floor_m: 2.7))",
    );
    let criteria = Criteria { spacing_m: 4.0, distance_m: (10.0, 30.0), ..Criteria::default() };
    let search = Search::in_pieces(&survey, criteria, 2).expect("requirements");
    let pieces = [1, 2].map(|piece| search.run_piece(piece, 2, &Progress::unwatched()).expect("found"));
    // The checksum is made anew for what is changed, so that it is read.
    let mark = b"plumbsight piece of a search, format ".len() + 2;
    let content = |piece: &Piece| piece.to_bytes(&search)[mark + 32..].to_vec();
    let seeds: Vec<Vec<u8>> = pieces.iter().map(content).collect();
    let words =
        ["\"piece\":1", "\"pieces\":1", "\"pieces\":0", "\"front\":99999999", "\"extras\":7", "\u{0}\u{0}\u{0}\u{0}"];
    let sealed = |content: &[u8]| {
        let mark = b"plumbsight piece of a search, format 4\n";
        let sum = Sha256::new().chain_update(mark).chain_update(content).finalize();
        [mark.as_slice(), &sum, content].concat()
    };
    hunt("piece", &seeds, &words, |bytes| match Piece::from_bytes(&sealed(bytes), &search) {
        Ok(piece) => {
            let number = piece.number();
            let other = pieces.iter().find(|other| other.number() != number).expect("two of them");
            let other = Piece::from_bytes(&other.to_bytes(&search), &search).expect("its own writing");
            match search.put_together(vec![piece, other]) {
                Ok(answer) => format!("{} ranked", answer.ranked.len().min(9)),
                Err(error) => error.to_string(),
            }
        }
        Err(error) => error.to_string(),
    });
}

#[cfg(feature = "viewer")]
#[test]
fn settings() {
    use plumbsight::viewer::state::settings::Settings;
    let seed = "(theme: Dusk, units: Ft, recent: [\"a.site.ron\"], presets: [(name: \"eye\", height_m: 1.6)])";
    let words = ["theme: ", "Paper", "presets: [", "recent: [", "height_m: ", "Some("];
    hunt("settings", &[seed.into(), b"()".to_vec()], &words, |bytes| {
        match Settings::parse(&text(bytes), "settings.ron") {
            Ok(_) => "read".into(),
            Err(problems) => {
                problems.render(false, 80);
                problems.problems.first().map(|problem| format!("{problem:?}")).unwrap_or_default()
            }
        }
    });
}

#[cfg(feature = "viewer")]
#[test]
fn scripts() {
    use plumbsight::viewer::Script;
    let seed = "hold W 2.5\nkey Ctrl+Z # a comment\nwheel -1\ndrag 40 -20\nclick 640 300\ntype some words\nsit Compare\nleaf Field \
                card\nsearch\nsettle\nwait 0.5\npicture a.png\nquit\n";
    let words =
        ["hold ", "down ", "up ", "open ", "scene ", "deck ", "folder ", "against ", "lay ", "tell", "Shift+", "F1"];
    hunt("script", &[seed.into()], &words, |bytes| match Script::parse(&text(bytes)) {
        Ok(_) => "read".into(),
        Err(error) => error.mend,
    });
}
