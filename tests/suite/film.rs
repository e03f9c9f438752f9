//! Do films go where they should, and do other programs play them?

use std::path::PathBuf;

use plumbsight::handover::film::{Film, LOWEST_M, rise};
use plumbsight::handover::sequence::FrameStyle;
use plumbsight::scenes::SCENES;
use plumbsight::still::Look;
use plumbsight::theme::Theme;
use plumbsight::units::Units;
use serde_json::{Value, json};

use crate::support::program::run;
use crate::support::project;
use crate::support::python::ask;
use crate::support::surveyed::surveyed;

/// A folder with a site in it.
fn folder() -> (tempfile::TempDir, PathBuf) {
    let base = tempfile::tempdir().expect("a folder");
    let folder = base.path().join("film 🗼");
    std::fs::create_dir(&folder).expect("made");
    std::fs::copy(project().join("tests/golden/mill.site.ron"), folder.join("a.site.ron")).expect("copied");
    (base, folder)
}

const GLIDE: [&str; 17] = [
    "film",
    "a.site.ron",
    "--through",
    "near, low",
    "--through",
    "far",
    "--through",
    "near, low",
    "--seconds",
    "0.5",
    "--per-second",
    "8",
    "--width",
    "97",
    "--samples",
    "1",
    "-o",
];

#[test]
fn a_glide_is_an_animation_that_others_read() {
    let (_base, folder) = folder();
    let arguments = [&GLIDE[..], &["glide.png"]].concat();
    let told = run(&folder, &arguments).good();
    assert!(told.contains("glide.png is written"), "{told}");
    let read: Value = ask("tests/oracles/pictures.py", &json!({ "files": [folder.join("glide.png")] }));
    // Two moves of half a second at 8 a second: 5 cameras each, the middle one shared. Sides are even.
    assert_eq!((&read[0]["form"], &read[0]["frames"]), (&json!("PNG"), &json!(9)));
    let size: Vec<u64> = serde_json::from_value(read[0]["size"].clone()).expect("two numbers");
    assert!(size[0] == 96 && size[1].is_multiple_of(2), "{size:?}");
    let first = std::fs::read(folder.join("glide.png")).expect("a film");
    run(&folder, &arguments).refused(2, "glide.png already exists; use --replace");
    run(&folder, &[&arguments[..], &["--replace"]].concat()).good();
    assert!(std::fs::read(folder.join("glide.png")).expect("a film") == first, "not the same bytes");
}

#[cfg(feature = "video")]
#[test]
fn a_video_is_av1_that_others_play() {
    let (_base, folder) = folder();
    let arguments = [&GLIDE[..], &["glide.mp4"]].concat();
    run(&folder, &arguments).good();
    let first = std::fs::read(folder.join("glide.mp4")).expect("a film");
    run(&folder, &[&arguments[..], &["--replace"]].concat()).good();
    assert!(std::fs::read(folder.join("glide.mp4")).expect("a film") == first, "not the same bytes");

    let output = std::process::Command::new("exiftool").args(["-j", "-n"]).arg(folder.join("glide.mp4")).output();
    let output = output.expect("exiftool runs; tests/run installs it");
    let tags: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!((&tags[0]["FileType"], &tags[0]["CompressorID"]), (&json!("MP4"), &json!("av01")));
    assert_eq!(tags[0]["ImageWidth"], json!(96));
    // Three rests of a second, and three cameras on the way in each of two moves, at 8 a second.
    let duration_s = tags[0]["Duration"].as_f64().expect("a number");
    assert!((duration_s - (3.0 + 6.0 / 8.0)).abs() < 0.01, "{duration_s}");

    // FFmpeg with dav1d plays it: every frame at its time, and as the animation has it, but for what the coding loses.
    run(&folder, &[&GLIDE[..], &["glide.png"]].concat()).good();
    let both = json!({ "video": folder.join("glide.mp4"), "animation": folder.join("glide.png") });
    let played: Played = ask("tests/oracles/video.py", &both);
    assert_eq!((played.decoder.as_str(), json!(played.size)), ("libdav1d", json!([96, tags[0]["ImageHeight"]])));
    let at_s: Vec<f64> = played.frames.iter().map(|frame| frame.at_s).collect();
    assert_eq!(at_s, [0.0, 1.0, 1.125, 1.25, 1.375, 2.375, 2.5, 2.625, 2.75]);
    for (number, frame) in played.frames.iter().enumerate() {
        // It goes there and back the same way.
        let same = |other: usize| other == number || other == 8 - number;
        for (other, &apart) in frame.apart.iter().enumerate() {
            assert!(if same(other) { apart < 2.5 } else { apart > 4.0 }, "{number} and {other} are {apart} apart");
        }
    }
}

/// What another player shows of a video.
#[cfg(feature = "video")]
#[derive(serde::Deserialize)]
struct Played {
    decoder: String,
    size: [u32; 2],
    frames: Vec<PlayedFrame>,
}

#[cfg(feature = "video")]
#[derive(serde::Deserialize)]
struct PlayedFrame {
    at_s: f64,
    /// How far it is from each frame of the animation, of 255.
    apart: Vec<f64>,
}

#[test]
fn the_verticals_open_up_as_the_camera_rises() {
    for scene in SCENES {
        let survey = surveyed(scene.text, scene.name);
        let stance = survey.model.site.stances.first().expect("a stance");
        let film = Film {
            stops: rise(stance, 6.0),
            seconds: 1.0,
            style: FrameStyle {
                width_px: 60,
                samples: 1,
                look: Look::Card,
                theme: Theme::Paper,
                overlay: false,
                per_second: 12,
                units: Units::M,
            },
            caption: true,
        };
        let frames = film.frames(&survey).unwrap_or_else(|error| panic!("{}: {error}", scene.name));
        assert_eq!((frames.len(), frames[0].1, frames[1].1), (13, 12, 1));
        let up_m: Vec<f64> = frames.iter().map(|(frame, _)| frame.pose.eye.z).collect();
        assert!(up_m.windows(2).all(|pair| pair[1] > pair[0]), "{up_m:?}");
        assert!((up_m[12] - up_m[0] - (6.0 - LOWEST_M)).abs() < 1e-9);
        let convergence = |index: usize| {
            frames[index].0.account.convergence.map(|found| found.angle().degrees().abs()).expect("in front")
        };
        assert!(convergence(12) <= convergence(0) + 1e-9, "{}: {} {}", scene.name, convergence(0), convergence(12));
    }
}

#[test]
fn a_film_that_cannot_be_is_refused() {
    let (_base, folder) = folder();
    let film = |more: &[&str]| run(&folder, &[&["film", "a.site.ron"], more].concat());
    film(&["-o", "a.png"]).refused(2, "--through");
    film(&["--through", "far", "-o", "a.png"]).refused(2, "two stances or more");
    film(&["--through", "far", "--through", "near, low", "-o", "a.gif"]).refused(2, ".png or .mp4");
    film(&["--rise", "far", "--seconds", "0", "-o", "a.png"]).refused(2, "0 s at 24 frames a second");
    film(&["--rise", "far", "--per-second", "0", "-o", "a.png"]).refused(2, "must lie between 1 and 60");
    assert_eq!(std::fs::read_dir(&folder).expect("a folder").count(), 1);
}
