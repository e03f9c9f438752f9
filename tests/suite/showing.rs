//! Do the prints go full screen as hands mean it: gone through, flicked, glided, raised; and is the desk as before afterwards?

use plumbsight::viewer::state::desk::{PrintAction, ShowAction};

use crate::panels::desk;

#[test]
fn prints_are_gone_through_flicked_and_glided() {
    let mut desk = desk(0);
    let saved: Vec<_> = desk.survey().model.site.stances.iter().take(3).cloned().collect();
    for stance in &saved {
        desk.act(PrintAction::PinStance(Box::new(stance.clone())));
    }
    let before = (desk.stance().clone(), desk.shown_camera());
    let camera_of = |stance| {
        let standing = desk.survey().stand(stance).expect("stood");
        (standing.camera, standing.pose)
    };
    let cameras: Vec<_> = saved.iter().map(camera_of).collect();

    desk.act(ShowAction::Begin);
    assert!(desk.is_showing() && !desk.is_gliding());
    assert_eq!(desk.shown_camera(), cameras[0]);
    desk.act(ShowAction::Step(1));
    desk.act(ShowAction::Step(1));
    desk.act(ShowAction::Step(1));
    assert_eq!(desk.shown_camera(), cameras[2], "after the last comes no other");
    desk.act(ShowAction::Step(-2));
    assert_eq!(desk.shown_camera(), cameras[0]);
    for place in [2, 0, 2] {
        desk.act(ShowAction::Flick);
        assert_eq!(desk.shown_camera(), cameras[place]);
    }
    // Back at the first, slowly to the second: under way it is at neither, and it ends exactly there.
    desk.act(ShowAction::Flick);
    desk.act(ShowAction::Glide);
    assert!(desk.is_gliding() && desk.shown_camera() == cameras[0]);
    desk.act(ShowAction::Pass(3.0));
    let (_, half) = desk.shown_camera();
    let [from, to] = [cameras[0].1.eye, cameras[1].1.eye];
    assert!((half.eye - from).norm() > 0.3 * (to - from).norm() && (half.eye - to).norm() > 0.3 * (to - from).norm());
    desk.act(ShowAction::Pass(3.1));
    assert!(!desk.is_gliding());
    assert_eq!(desk.shown_stance().map(|stance| stance.at), Some(saved[1].at));
    assert_eq!(desk.shown_camera(), cameras[1]);

    desk.act(ShowAction::End);
    assert!(!desk.is_showing());
    assert_eq!((desk.stance().clone(), desk.shown_camera()), before, "the desk is as it was left");
}

#[test]
fn the_camera_rises_from_the_ground_and_sinks_again() {
    let mut desk = desk(0);
    desk.act(ShowAction::Begin);
    let eye_m = |desk: &plumbsight::viewer::state::desk::Desk| desk.shown_camera().1.eye.z;
    let pitch = |desk: &plumbsight::viewer::state::desk::Desk| desk.shown_camera().1.attitude.pitch.degrees();
    desk.act(ShowAction::Rise { up: true });
    let (low_m, steep) = (eye_m(&desk), pitch(&desk));
    desk.act(ShowAction::Pass(20.0));
    let high_m = eye_m(&desk);
    // From 0.3 to 8 m over the feet.
    assert!((high_m - low_m - 7.7).abs() < 1e-9, "{low_m} {high_m}");
    assert!(pitch(&desk) < steep, "from higher up the camera is tilted less");
    desk.act(ShowAction::Rise { up: false });
    desk.act(ShowAction::Pass(3.0));
    assert!(eye_m(&desk) > low_m && eye_m(&desk) < high_m);
    desk.act(ShowAction::Step(1));
    assert!(!desk.is_gliding());
}
