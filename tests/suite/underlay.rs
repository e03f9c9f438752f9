//! Is a picture from above laid, scaled, moved and faded on the Build desk as a hand means it, and is no file written over?

use std::path::{Path, PathBuf};

use bevy_egui::egui::{self, Vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use plumbsight::site::{Underlay, parse_site};
use plumbsight::viewer::state::desk::{
    BuildAction, CameraAction, Desk, DeskName, PathQuestion, SettingAction, SiteChange, SiteSaving,
};
use plumbsight::viewer::state::opening::Source;

use crate::building::{Place, drag, plan_rect, press, saved, until};
use crate::panels::{Seat, seat, spoken};

/// A picture of 400 by 200 pixels, each of another colour than its neighbours.
fn picture(folder: &Path, name: &str, of: u8) -> PathBuf {
    std::fs::create_dir_all(folder).expect("a folder");
    let pixels: Vec<u8> = (0..400 * 200).flat_map(|at: u32| [(at % 251) as u8, (at / 400) as u8, of]).collect();
    let mut file = Vec::new();
    let mut encoder = png::Encoder::new(&mut file, 400, 200);
    encoder.set_color(png::ColorType::Rgb);
    let mut writer = encoder.write_header().expect("a header");
    writer.write_image_data(&pixels).expect("its pixels");
    writer.finish().expect("an end");
    let path = folder.join(name);
    std::fs::write(&path, file).expect("written");
    path
}

fn underlay(desk: &Desk) -> Option<Underlay> {
    desk.survey().model.site.underlay.clone()
}

fn is_read(desk: &Desk) -> bool {
    desk.underlay().is_some_and(|view| matches!(view.picture, Some(Ok(_))))
}

#[test]
fn a_picture_is_copied_beside_the_site_and_never_over_another() {
    let place = Place::new();
    let before = place.on_disk();
    let mut desk = place.mine();
    let own = picture(&place.path("."), "yard.png", 1);
    let kept = std::fs::read(&own).expect("there");
    let theirs = picture(&place.path("elsewhere"), "yard.png", 2);
    desk.act(BuildAction::AskPicture { middle: (20.0, -10.0), width_m: 100.0 });
    assert_eq!(desk.asking(), Some(PathQuestion::PictureFromAbove));
    desk.act(BuildAction::LayPicture(theirs.clone()));
    until(&mut desk, "laid", is_read);
    // 400 pixels over eight tenths of the view, about its middle.
    let laid = underlay(&desk).expect("laid");
    let wanted = Underlay {
        file: "yard 2.png".into(),
        at: (-20.0, 10.0),
        metres_per_pixel: 0.2,
        turned_deg: 0.0,
        strength: 0.4,
    };
    assert_eq!(laid, wanted);
    assert_eq!(std::fs::read(&own).expect("there"), kept);
    assert_eq!(std::fs::read(place.path("yard 2.png")).ok(), std::fs::read(&theirs).ok());
    assert!(desk.notices().iter().any(|notice| notice.text.contains("its scale is a guess")));
    saved(&mut desk);
    assert_eq!(parse_site(&place.on_disk(), "mine").expect("good").underlay, Some(wanted));
    // Laid again it is not copied again; one that lies there already is not copied at all.
    desk.act(BuildAction::LayPicture(theirs));
    until(&mut desk, "at rest", |desk| !desk.is_busy());
    assert!(!place.path("yard 3.png").exists());
    desk.act(BuildAction::LayPicture(own));
    until(&mut desk, "the other", |desk| underlay(desk).is_some_and(|laid| laid.file == "yard.png") && is_read(desk));
    // A world file says where it lies.
    std::fs::write(place.path("yard.pgw"), "0.5\n0\n0\n-0.5\n-99.75\n49.75\n").expect("written");
    desk.act(BuildAction::LayPicture(place.path("yard.png")));
    until(&mut desk, "by its world file", |desk| underlay(desk).is_some_and(|laid| laid.metres_per_pixel == 0.5));
    assert_eq!(underlay(&desk).expect("laid").at, (-100.0, 50.0));
    assert_eq!(desk.steps().0.last(), Some(&"Moved the picture"));
    while desk.can_undo_redo().0 {
        desk.act(CameraAction::Undo);
    }
    assert_eq!(desk.site_text(), Some(before.as_str()));
}

#[test]
fn what_is_no_picture_or_has_no_place_is_told() {
    let place = Place::new();
    let mut desk = place.mine();
    let told = |desk: &Desk, words: &str| desk.notices().iter().any(|notice| notice.text.contains(words));
    let good = picture(&place.path("elsewhere"), "cut.png", 3);
    let bytes = std::fs::read(&good).expect("there");
    std::fs::write(&good, &bytes[..bytes.len() / 2]).expect("written");
    desk.act(BuildAction::LayPicture(good));
    until(&mut desk, "told", |desk| told(desk, "cannot be read as PNG"));
    desk.act(BuildAction::LayPicture(place.path("none.png")));
    until(&mut desk, "told", |desk| told(desk, "none.png"));
    assert!(underlay(&desk).is_none() && !place.path("cut.png").exists());
    // A picture that went away is told where it should be, and the site is as good as before.
    let lost =
        Underlay { file: "lost.png".into(), at: (0.0, 0.0), metres_per_pixel: 1.0, turned_deg: 0.0, strength: 1.0 };
    desk.act(BuildAction::Change(SiteChange::SetUnderlay(Some(lost.clone())), None));
    until(&mut desk, "looked for", |desk| desk.underlay().is_some_and(|view| matches!(view.picture, Some(Err(_)))));
    // What is out of range is refused with its reason.
    let wide = Underlay { metres_per_pixel: 60.0, ..lost.clone() };
    desk.act(BuildAction::Change(SiteChange::SetUnderlay(Some(wide)), None));
    assert!(told(&desk, "metres_per_pixel is 60") && underlay(&desk) == Some(lost));
    // A demo has no folder to put it in.
    let mut demo = place.desk(Source::Scene(0));
    assert_eq!(*demo.site_saving(), SiteSaving::Demo);
    demo.act(BuildAction::AskPicture { middle: (0.0, 0.0), width_m: 100.0 });
    assert!(demo.asking().is_none() && told(&demo, "save this site as your own first"));
}

fn field(harness: &mut Harness<'_, Seat>, name: &str, typed: &str) {
    let node = harness.root().children_recursive().find(|node| spoken(node).starts_with(name));
    node.unwrap_or_else(|| panic!("no {name}")).click();
    harness.run_steps(3);
    harness.event(egui::Event::Text(typed.into()));
    harness.run_steps(1);
    harness.key_press(egui::Key::Enter);
    harness.run_steps(3);
}

#[test]
fn two_points_bring_it_to_its_scale_and_place() {
    let place = Place::new();
    let path = picture(&place.path("elsewhere"), "yard.png", 5);
    let mut desk = place.mine();
    desk.act(SettingAction::Guide(false));
    desk.act(SettingAction::ShowDesk(DeskName::Build));
    let mut harness = seat(desk, 1440.0, 860.0);
    let sheet = plan_rect(&harness);
    harness.get_by_label("lay a picture from above under the plan").click();
    harness.run_steps(3);
    assert_eq!(harness.state().desk.asking(), Some(PathQuestion::PictureFromAbove));
    harness.state_mut().desk.act(BuildAction::LayPicture(path));
    until(&mut harness.state_mut().desk, "laid", is_read);
    assert_eq!(harness.state().desk.asking(), None);
    harness.run_steps(3);
    let laid = |harness: &Harness<'_, Seat>| underlay(&harness.state().desk).expect("laid");
    // It is 400 pixels wide, over eight tenths of the sheet, about its middle.
    harness.get_by_label("mark two points on the picture").click();
    harness.run_steps(3);
    let spots = [sheet.center() + Vec2::new(-100.0, 20.0), sheet.center() + Vec2::new(100.0, 20.0)];
    for spot in spots {
        press(&mut harness, spot);
    }
    let pixels = spots.map(|spot| {
        let by = (spot - sheet.center()) * (400.0 / (0.8 * sheet.width()));
        (200.0 + f64::from(by.x), 100.0 + f64::from(by.y))
    });
    let first = laid(&harness);
    let a = first.plan_of_pixel(pixels[0]);
    field(&mut harness, "distance from A to B: ", "30.5");
    let scaled = laid(&harness);
    let apart = |laid: &Underlay| {
        let [a, b] = pixels.map(|pixel| laid.plan_of_pixel(pixel));
        (a.0 - b.0).hypot(a.1 - b.1)
    };
    assert!((apart(&scaled) - 30.5).abs() < 0.02, "{} {scaled:?}", apart(&scaled));
    let kept = scaled.plan_of_pixel(pixels[0]);
    assert!((kept.0 - a.0).hypot(kept.1 - a.1) < 0.02, "{a:?} {kept:?}");
    // B is dragged straight up by as far as A lies to the left of it: turned anticlockwise by half a right angle, and A stays.
    let metres_per_point = first.metres_per_pixel * 400.0 / (0.8 * f64::from(sheet.width()));
    let long = (30.5 / metres_per_point) as f32;
    let b = spots[0] + Vec2::new(long, 0.0);
    drag(&mut harness, b, b - Vec2::new(0.0, long), egui::Modifiers::ALT);
    let turned = laid(&harness);
    assert!((turned.turned_deg + 45.0).abs() < 1.0, "{turned:?}");
    assert!((apart(&turned) / apart(&scaled) - 2.0_f64.sqrt()).abs() < 0.02, "{turned:?}");
    let kept = turned.plan_of_pixel(pixels[0]);
    assert!((kept.0 - a.0).hypot(kept.1 - a.1) < 0.02, "{a:?} {kept:?}");
    // A drag of the strength is one step; then the picture goes.
    let steps = harness.state().desk.steps().0.len();
    let knob = harness.root().children_recursive().find(|node| spoken(node).starts_with("strength of the picture"));
    let line = knob.expect("the strength").rect();
    drag(&mut harness, line.center(), line.right_center() - Vec2::new(2.0, 0.0), egui::Modifiers::NONE);
    assert_eq!((laid(&harness).strength, harness.state().desk.steps().0.len()), (1.0, steps + 1));
    harness.get_by_label("remove the picture from above").click();
    harness.run_steps(3);
    assert_eq!(underlay(&harness.state().desk), None);
    assert!(place.path("yard.png").exists(), "the file is the person's");
}
