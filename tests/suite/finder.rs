//! Does the graphics card draw what the core measures?
//!
//! One frame of the finder is drawn without a window by the real program, on whatever adapter there is (in software where
//! there is no other), and held against the ray-cast still of the same stance.

use std::path::Path;
use std::process::Command;

use plumbsight::optics::PixelPoint;
use plumbsight::progress::Progress;
use plumbsight::sight::{Sight, Surface};
use plumbsight::site::{Model, write_new};
use plumbsight::still::{Picture, Scene, Style, View, render};
use plumbsight::survey::Survey;
use plumbsight::verticals::Viewpoint;

use crate::agreement::{crossing_px, outermost};
use crate::support::{project, tell};

const WIDTH_PX: u32 = 600;

fn drawn(scene: &str, stance: &str, folder: &Path) -> Picture {
    viewed(scene, stance, &["--width", &WIDTH_PX.to_string(), "--picture"], folder)
}

/// What the real program draws; the last of the options takes the picture's path.
fn viewed(scene: &str, stance: &str, options: &[&str], folder: &Path) -> Picture {
    seen(&project().join(format!("scenes/{scene}.site.ron")), stance, options, folder)
}

fn seen(site: &Path, stance: &str, options: &[&str], folder: &Path) -> Picture {
    let path = folder.join("viewed.png");
    let output = Command::new(env!("CARGO_BIN_EXE_plumbsight"))
        .arg("view")
        .arg(site)
        .args(["--stance", stance])
        .args(options)
        .arg(&path)
        .env("XDG_CONFIG_HOME", folder)
        .current_dir(project())
        .output()
        .expect("the program runs");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let file = std::io::BufReader::new(std::fs::File::open(&path).expect("a picture"));
    let mut reader = png::Decoder::new(file).read_info().expect("a PNG");
    let mut rgb = vec![0; reader.output_buffer_size().expect("a size")];
    let info = reader.next_frame(&mut rgb).expect("a frame");
    Picture::of_rgb(info.width, info.height, rgb)
}

fn cast(scene: &str, stance: &str) -> Picture {
    let survey = Survey::open(&project().join(format!("scenes/{scene}.site.ron"))).expect("a site");
    taken(&survey, stance)
}

/// How a saved stance sees, as coarsely as the finder is drawn here.
fn view(survey: &Survey, stance: &str) -> View {
    let stance = survey.model.site.stance(stance).expect("saved").clone();
    let standing = survey.stand(&stance).expect("taken up");
    let mut camera = standing.camera;
    camera.frame = camera.frame.with_width_px(WIDTH_PX);
    View { camera, pose: standing.pose, focus: None }
}

fn taken(survey: &Survey, stance: &str) -> Picture {
    let view = view(survey, stance);
    let style = Style { sun: survey.model.site.sun, ..Style::default() };
    render(&Scene { model: &survey.model, sight: &survey.sight }, &view, &style, &Progress::unwatched()).expect("drawn")
}

fn brightness(picture: &Picture, x: u32, y: u32) -> f64 {
    picture.pixel(x, y).expect("inside").map(f64::from).iter().sum::<f64>() / 3.0
}

/// Where the stack's sides stand on a row: the first pixel from either side that is not the sky's any more.
fn sides(picture: &Picture, y: u32) -> Option<(u32, u32)> {
    let [left, right] = [0, WIDTH_PX - 1].map(|x| brightness(picture, x, y));
    let from_left = (0..WIDTH_PX).find(|&x| (brightness(picture, x, y) - left).abs() > 14.0)?;
    let from_right = (0..WIDTH_PX).rev().find(|&x| (brightness(picture, x, y) - right).abs() > 14.0)?;
    Some((from_left, from_right))
}

#[test]
fn the_window_is_pictured_on_fine_displays_too() {
    let folder = tempfile::tempdir().expect("a folder");
    for (scale, size) in [("1", "900x600"), ("2", "1800x1200")] {
        let options = ["--scale", scale, "--size", size, "--window-picture"];
        let picture = viewed("saltings", "yard, with rise", &options, folder.path());
        let table = plumbsight::theme::Theme::Paper.palette().table;
        assert_eq!(
            picture.pixel(1, 1),
            Some([table.0, table.1, table.2]),
            "scale {scale}: the table shows at the corner"
        );
        let ink = (0..picture.height_px)
            .flat_map(|y| (0..picture.width_px).map(move |x| (x, y)))
            .filter(|&(x, y)| brightness(&picture, x, y) < 80.0)
            .count();
        let share = ink as f64 / f64::from(picture.width_px * picture.height_px);
        assert!((0.005..0.2).contains(&share), "scale {scale}: {share} of it is ink");
    }
}

#[test]
fn the_finder_and_the_still_agree_within_a_pixel() {
    let folder = tempfile::tempdir().expect("a folder");
    let (finder, still) = (drawn("saltings", "yard, with rise", folder.path()), cast("saltings", "yard, with rise"));
    assert_eq!((finder.width_px, finder.height_px), (still.width_px, still.height_px));
    // The stack against the sky, from its head down to the roofs.
    let mut rows = 0;
    for y in (200..450).step_by(10) {
        let (Some(drawn), Some(cast)) = (sides(&finder, y), sides(&still, y)) else { continue };
        assert!(drawn.0.abs_diff(cast.0) <= 1 && drawn.1.abs_diff(cast.1) <= 1, "row {y}: {drawn:?} and {cast:?}");
        rows += 1;
    }
    assert!(rows >= 15, "only {rows} rows show the stack against the sky");
    // All of the picture: hardly any pixel is of another surface.
    let pixels = f64::from(finder.width_px * finder.height_px);
    let other = (0..finder.height_px)
        .flat_map(|y| (0..finder.width_px).map(move |x| (x, y)))
        .filter(|&(x, y)| (brightness(&finder, x, y) - brightness(&still, x, y)).abs() > 40.0)
        .count();
    assert!((other as f64) < 0.02 * pixels, "{other} of {pixels} pixels differ");
}

/// Colours of one surface differ by less in the two pictures, those of different ones often by more.
const COLOURS_APART: u8 = 24;
/// Blocks that show fewer pixels than this in the still are not held: their edges are all there is of them.
const LEAST_PX: usize = 40;
/// So many of a view's smallest blocks are also left out in turn.
const SMALLEST: usize = 6;
/// The share of a larger block's pixels that may look otherwise in the finder.
const MOST_MISSING: f64 = 0.02;

/// For each block the pixels of a still on which rays from the eye meet it first.
fn shown(survey: &Survey, view: &View) -> Vec<Vec<(u32, u32)>> {
    let mut shown = vec![Vec::new(); survey.model.solids.len()];
    let world_from_view = view.pose.attitude.view_from_world().transpose();
    for y in 0..view.camera.frame.height_px {
        for x in 0..view.camera.frame.width_px {
            let middle = PixelPoint::new(f64::from(x) + 0.5, f64::from(y) + 0.5);
            let Some(ray) = view.camera.view_from_pixel(middle) else { continue };
            let direction = (world_from_view * ray).normalize();
            let hit = survey.sight.first_hit(&view.pose.eye, &direction, 0.0);
            if let Some(Surface::Block { block, .. }) = hit.map(|hit| hit.surface) {
                shown[block as usize].push((x, y));
            }
        }
    }
    shown
}

/// The share of a block's pixels whose colour is nowhere in the other picture, at their place or the eight around it.
fn missing_share(pixels: &[(u32, u32)], still: &Picture, other: &Picture) -> f64 {
    let alike = |a: [u8; 3], b: [u8; 3]| a.into_iter().zip(b).all(|(a, b)| a.abs_diff(b) < COLOURS_APART);
    let missing = pixels.iter().filter(|&&(x, y)| {
        let colour = still.pixel(x, y).expect("inside");
        let near = |at: u32, most: u32| at.saturating_sub(1)..(at + 2).min(most);
        !near(y, other.height_px)
            .flat_map(|y| near(x, other.width_px).map(move |x| (x, y)))
            .any(|(x, y)| alike(colour, other.pixel(x, y).expect("inside")))
    });
    missing.count() as f64 / pixels.len() as f64
}

/// A site without one of its blocks.
fn without(survey: &Survey, block: usize) -> Model {
    let mut site = survey.model.site.clone();
    site.blocks.remove(block);
    Model::build(site)
}

/// The share of a block's pixels that are missing in a still without it: what a finder that loses the block would lack.
fn missing_without(survey: &Survey, view: &View, block: usize, pixels: &[(u32, u32)], still: &Picture) -> f64 {
    let model = without(survey, block);
    let sight = Sight::over(&model);
    let style = Style { sun: survey.model.site.sun, ..Style::default() };
    let scene = Scene { model: &model, sight: &sight };
    let left_out = render(&scene, view, &style, &Progress::unwatched()).expect("drawn");
    missing_share(pixels, still, &left_out)
}

/// Block by block, so that none can vanish: a small one may lack half of what it would lack if it were not there.
#[test]
fn every_block_of_the_still_stands_in_the_finder() {
    let folder = tempfile::tempdir().expect("a folder");
    let (mut held, mut tried) = (0, 0);
    let mut faults = Vec::new();
    for (scene, stance) in [
        ("saltings", "slip, standing"),
        ("saltings", "gantry"),
        ("ropewalk", "along the street"),
        ("wendle", "churchyard, level and wide"),
    ] {
        let survey = Survey::open(&project().join(format!("scenes/{scene}.site.ron"))).expect("a site");
        let view = view(&survey, stance);
        let (finder, still) = (drawn(scene, stance, folder.path()), taken(&survey, stance));
        let mut shown: Vec<_> = shown(&survey, &view).into_iter().enumerate().collect();
        shown.retain(|(_, pixels)| pixels.len() >= LEAST_PX);
        shown.sort_by_key(|(_, pixels)| pixels.len());
        for (place, (block, pixels)) in shown.iter().enumerate() {
            let missing = missing_share(pixels, &still, &finder);
            let most = if place < SMALLEST {
                tried += 1;
                0.5 * missing_without(&survey, &view, *block, pixels, &still)
            } else {
                MOST_MISSING
            };
            let name = &survey.model.site.blocks[*block].name;
            let told =
                format!("{scene}, {stance}: {name}: {missing:.4} of {} px missing, {most:.4} at most", pixels.len());
            tell(&format!("finder: {told}"));
            // A bound of nothing would hold nothing.
            if missing >= most || most * (pixels.len() as f64) < 1.0 {
                faults.push(told);
            }
            held += 1;
        }
    }
    assert!(faults.is_empty(), "{faults:#?}");
    assert!(held >= 20 && tried >= 16, "{held} blocks held, {tried} of them left out");
}

/// The graphics card itself leaves a small block out: the check finds it.
#[test]
fn a_small_block_that_the_finder_leaves_out_is_missed() {
    let folder = tempfile::tempdir().expect("a folder");
    let survey = Survey::open(&project().join("scenes/saltings.site.ron")).expect("a site");
    let stance = "slip, standing";
    let (view, still) = (view(&survey, stance), taken(&survey, stance));
    let (block, pixels) = shown(&survey, &view)
        .into_iter()
        .enumerate()
        .filter(|(_, pixels)| pixels.len() >= LEAST_PX)
        .min_by_key(|(_, pixels)| pixels.len())
        .expect("blocks");
    let site = folder.path().join("without.site.ron");
    std::fs::write(&site, write_new(&without(&survey, block).site)).expect("written");
    let finder = seen(&site, stance, &["--width", &WIDTH_PX.to_string(), "--picture"], folder.path());
    let (missing, most) =
        (missing_share(&pixels, &still, &finder), 0.5 * missing_without(&survey, &view, block, &pixels, &still));
    assert!(missing > most && most > 0.0, "{}: {missing} for {most}", survey.model.site.blocks[block].name);
}

/// Where an inked block ends against the sky in a row near `x_px`: coming from the sky, the place at which half of its light
/// is gone, between the middles of two pixels. `None` where the sky is not plain or the picture ends.
fn inked_edge_px(picture: &Picture, row: i64, x_px: f64) -> Option<f64> {
    const REACH_PX: i64 = 12;
    let (middle, row) = (x_px.floor() as i64, u32::try_from(row).ok()?);
    let lights: Option<Vec<f64>> = (middle - REACH_PX..middle + REACH_PX)
        .map(|x| u32::try_from(x).ok().filter(|x| *x < picture.width_px).map(|x| brightness(picture, x, row)))
        .collect();
    let lights = lights?;
    let last = lights.len() - 1;
    let from_left = lights[0] > lights[last];
    let light = |step: usize| lights[if from_left { step } else { last - step }];
    let darkest = lights.iter().copied().fold(f64::MAX, f64::min);
    if (light(0) - light(5)).abs() > 4.0 || light(0) - darkest < 40.0 {
        return None;
    }
    let half = 0.5 * (light(0) + darkest);
    let after = (1..=last).find(|&step| light(step) < half)?;
    let share = (light(after - 1) - half) / (light(after - 1) - light(after));
    let along = (after - 1) as f64 + share;
    let start = (middle - REACH_PX) as f64 + 0.5;
    Some(start + if from_left { along } else { last as f64 - along })
}

/// A dark tower seen by lenses of every mapping, plain and with everything at once that a lens may do to it.
const LENSES: &str = r#"Site(format: 1, name: "lenses", terrain: Plane(height_m: 0), sun: (azimuth_deg: 200, altitude_deg: 40),
    blocks: [(name: "tower", subject: true, at: (0, 0), heading_deg: 12, finish: Dark, shape: Box(width_m: 9, depth_m: 7, height_m: 28))],
    kit: (lenses: [
        (name: "Rectilinear", focal_mm: 22, rise_mm: 12, lateral_shift_mm: 12, mapping: Rectilinear),
        (name: "Equidistant", focal_mm: 15, rise_mm: 12, lateral_shift_mm: 12, mapping: Equidistant),
        (name: "Equisolid", focal_mm: 15, rise_mm: 12, lateral_shift_mm: 12, mapping: Equisolid),
        (name: "Stereographic", focal_mm: 15, rise_mm: 12, lateral_shift_mm: 12, mapping: Stereographic),
        (name: "Orthographic", focal_mm: 20, rise_mm: 12, lateral_shift_mm: 12, mapping: Orthographic),
    ]),
    stances: [STANCES])"#;

#[test]
fn through_every_lens_finder_still_and_projected_points_agree_within_a_pixel() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut stances = String::new();
    let mappings = ["Rectilinear", "Equidistant", "Equisolid", "Stereographic", "Orthographic"];
    for mapping in mappings {
        for (kind, extra) in [
            ("plain", ""),
            ("moved and bent", ", rise_mm: 4, lateral_shift_mm: -3, distortion: [-0.08, 0.01, 0.001, -0.0006, 0]"),
        ] {
            stances += &format!(
                "(name: \"{mapping}, {kind}\", at: (6, -34), orientation: Landscape, lens: \"{mapping}\"{extra}, \
                 aim: Turned(heading_deg: -7, pitch_deg: 14, roll_deg: 3)),"
            );
        }
    }
    let site = folder.path().join("lenses.site.ron");
    std::fs::write(&site, LENSES.replace("STANCES", &stances)).expect("written");
    let survey = Survey::open(&site).expect("a site");
    for stance in &survey.model.site.stances {
        let standing = survey.stand(stance).expect("taken up");
        let mut camera = standing.camera;
        camera.frame = camera.frame.with_width_px(WIDTH_PX);
        let viewpoint = Viewpoint::new(&camera, &standing.pose);
        let drawn = seen(&site, &stance.name, &["--width", &WIDTH_PX.to_string(), "--picture"], folder.path());
        let cast = taken(&survey, &stance.name);
        let (mut projected_px, mut cast_px, mut found) = (0.0_f64, 0.0_f64, 0);
        for line in outermost(&survey, &viewpoint) {
            for row in (0..i64::from(camera.frame.height_px)).step_by(5) {
                let Some(x_px) = crossing_px(&viewpoint, &line, row) else { continue };
                let (Some(edge), Some(still)) = (inked_edge_px(&drawn, row, x_px), inked_edge_px(&cast, row, x_px))
                else {
                    continue;
                };
                projected_px = projected_px.max((edge - x_px).abs());
                cast_px = cast_px.max((edge - still).abs());
                found += 1;
            }
        }
        tell(&format!(
            "finder: {}: {found} edges within {projected_px:.2} px of the projected lines, {cast_px:.2} px of the still's",
            stance.name
        ));
        assert!(found > 20, "{}: only {found} edges were found", stance.name);
        assert!(projected_px < 1.0 && cast_px < 1.0, "{}: {projected_px} px, {cast_px} px", stance.name);
    }
}

/// Without an adapter there is a clear line and an exit code, and where nothing was asked for but to look, the exact picture.
#[test]
fn without_a_graphics_adapter_the_exact_picture_is_taken_instead() {
    let folder = tempfile::tempdir().expect("a folder");
    let blind = |options: &[&str]| {
        Command::new(env!("CARGO_BIN_EXE_plumbsight"))
            .arg("view")
            .arg(project().join("scenes/saltings.site.ron"))
            .args(options)
            .env("XDG_CONFIG_HOME", folder.path())
            // No driver is found by the loaders of Vulkan and of EGL, and no display by anything else.
            .envs([
                ("VK_DRIVER_FILES", "/none"),
                ("VK_ICD_FILENAMES", "/none"),
                ("__EGL_VENDOR_LIBRARY_FILENAMES", "/none"),
            ])
            .env_remove("DISPLAY")
            .env_remove("WAYLAND_DISPLAY")
            .current_dir(folder.path())
            .output()
            .expect("the program runs")
    };
    let asked = blind(&["--picture", "asked.png"]);
    let told = String::from_utf8_lossy(&asked.stderr).into_owned();
    assert_eq!(asked.status.code(), Some(2), "{told}");
    assert!(told.contains("no graphics adapter was found") && !told.contains("panicked"), "{told}");
    let looked = blind(&["--size", "300x200"]);
    let told = String::from_utf8_lossy(&looked.stdout).into_owned();
    assert!(looked.status.success(), "{told}{}", String::from_utf8_lossy(&looked.stderr));
    assert!(told.contains("no graphics adapter"), "{told}");
    assert!(folder.path().join("saltings.still.png").exists(), "{told}");
}

#[test]
fn the_window_is_pictured_however_small_it_is() {
    let folder = tempfile::tempdir().expect("a folder");
    for size in ["300x700", "300x200", "40x40"] {
        let picture = viewed("wendle", "scaffold", &["--size", size, "--window-picture"], folder.path());
        assert_eq!(format!("{}x{}", picture.width_px, picture.height_px), size);
    }
}
