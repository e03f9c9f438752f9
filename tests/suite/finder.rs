//! Does the graphics card draw what the core measures?
//!
//! One frame of the finder is drawn without a window by the real program, on whatever adapter there is (in software where
//! there is no other), and held against the ray-cast still of the same stance.

use std::process::Command;

use plumbsight::progress::Progress;
use plumbsight::still::{Picture, Scene, Style, View, render};
use plumbsight::survey::Survey;

use crate::support::project;

const WIDTH_PX: u32 = 600;

fn drawn(scene: &str, stance: &str, folder: &std::path::Path) -> Picture {
    viewed(scene, stance, &["--width", &WIDTH_PX.to_string(), "--picture"], folder)
}

/// What the real program draws; the last of the options takes the picture's path.
fn viewed(scene: &str, stance: &str, options: &[&str], folder: &std::path::Path) -> Picture {
    let path = folder.join("viewed.png");
    let output = Command::new(env!("CARGO_BIN_EXE_plumbsight"))
        .args(["view", &format!("scenes/{scene}.site.ron"), "--stance", stance])
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
    Picture { width_px: info.width, height_px: info.height, rgb }
}

fn cast(scene: &str, stance: &str) -> Picture {
    let survey = Survey::open(&project().join(format!("scenes/{scene}.site.ron"))).expect("a site");
    let stance = survey.model.site.stance(stance).expect("saved").clone();
    let standing = survey.stand(&stance).expect("taken up");
    let mut camera = standing.camera;
    camera.frame = camera.frame.with_width_px(WIDTH_PX);
    let view = View { camera, pose: standing.pose, focus: None };
    let style = Style { sun: survey.model.site.sun, ..Style::default() };
    render(&Scene { model: &survey.model, sight: &survey.sight }, &view, &style, &Progress::unwatched()).expect("drawn")
}

fn brightness(picture: &Picture, x: u32, y: u32) -> f64 {
    picture.pixel(x, y).expect("inside").map(f64::from).iter().sum::<f64>() / 3.0
}

/// Where the stack's flanks stand on a row: the first pixel from either side that is not the sky's any more.
fn flanks(picture: &Picture, y: u32) -> Option<(u32, u32)> {
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
        let (Some(drawn), Some(cast)) = (flanks(&finder, y), flanks(&still, y)) else { continue };
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
