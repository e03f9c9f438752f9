//! The ray-cast picture, measured on its pixels.

use std::path::PathBuf;

use plumbsight::angle::Angle;
use plumbsight::optics::{Camera, Frame};
use plumbsight::pose::{Attitude, Pose, WorldPoint};
use plumbsight::progress::Progress;
use plumbsight::sight::Sight;
use plumbsight::site::Sun;
use plumbsight::still::{Picture, Scene, Style, View, render};
use plumbsight::theme::Theme;

use crate::station::station;

fn look(eye: (f64, f64, f64), heading_deg: f64, pitch_deg: f64) -> Pose {
    let attitude = Attitude {
        heading: Angle::from_degrees(heading_deg),
        pitch: Angle::from_degrees(pitch_deg),
        roll: Angle::ZERO,
    };
    Pose { eye: WorldPoint::new(eye.0, eye.1, eye.2), attitude }
}

fn frame(width_px: u32, height_px: u32) -> Frame {
    Frame { width_mm: 36.0, height_mm: 24.0, width_px, height_px }
}

fn keep(name: &str, picture: &Picture) {
    if let Some(folder) = std::env::var_os("PLUMBSIGHT_PICTURES") {
        let path = PathBuf::from(folder).join(name);
        std::fs::write(&path, picture.png().expect("a PNG")).expect("the folder named by PLUMBSIGHT_PICTURES");
    }
}

#[test]
fn the_station_can_be_pictured_in_both_themes() {
    let model = station();
    let sight = Sight::over(&model);
    let scene = Scene { model: &model, sight: &sight };
    let ground_m = |x, y| model.site.terrain.height_m((x, y));
    let views = [
        ("yard", look((-9.0, -47.0, ground_m(-9.0, -47.0) + 1.6), 10.0, 15.0), 24.0),
        ("back", look((-38.0, -118.0, ground_m(-38.0, -118.0) + 1.6), 17.0, 6.5), 50.0),
        ("above", look((80.0, -95.0, 48.0), 322.0, -14.0), 28.0),
    ];
    for theme in Theme::ALL {
        for (name, pose, focal_mm) in views {
            let view = View { camera: Camera::plain(frame(1500, 1000), focal_mm), pose, focus: None };
            let style = Style {
                theme,
                sun: Some(Sun { azimuth_deg: 238.0, altitude_deg: 27.0 }),
                figures: vec![(-3.0, -17.0), (-1.9, -16.4), (4.5, -9.0), (12.0, -37.0)],
                ..Style::default()
            };
            let started = std::time::Instant::now();
            let picture = render(&scene, &view, &style, &Progress::unwatched()).expect("a picture");
            eprintln!("{name} {theme:?}: {:?}", started.elapsed());
            keep(&format!("{name}-{theme:?}.png").to_lowercase(), &picture);
        }
    }
}
