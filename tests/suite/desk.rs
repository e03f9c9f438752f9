//! Does the window keep what a planner does at it? Whole journeys at a [`Desk`], without a screen.

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use plumbsight::angle::Angle;
use plumbsight::plan::{plan_path, read_plan};
use plumbsight::scenes::SCENES;
use plumbsight::site::Aim;
use plumbsight::survey::MeasureSettings;
use plumbsight::theme::Theme;
use plumbsight::units::Units;
use plumbsight::viewer::state::desk::{
    CameraAction, CameraMove, DeliveryAction, Desk, DeskName, FileAction, NoticeKind, PathQuestion, PrintAction,
    SearchAction, SettingAction, WorkAction,
};
use plumbsight::viewer::state::opening::{Home, Source};
use plumbsight::viewer::state::work::Wake;

/// Long for anything that is waited for, on a machine that is busy.
const PATIENCE: Duration = Duration::from_secs(120);

/// A folder of its own with a site in it and a configuration folder.
struct Ground {
    folder: tempfile::TempDir,
}

impl Ground {
    fn new() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        std::fs::write(folder.path().join("saltings.site.ron"), SCENES[0].text).expect("written");
        Self { folder }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn site(&self) -> PathBuf {
        self.path("saltings.site.ron")
    }

    fn home(&self) -> Home {
        Home { configuration: Some(self.path("configuration")), dialogs: false, wake: Wake::default() }
    }

    fn desk(&self) -> Desk {
        self.desk_of(Source::File(self.site()))
    }

    fn desk_of(&self, source: Source) -> Desk {
        Desk::open(self.home(), source, None, MeasureSettings::default()).unwrap_or_else(|error| panic!("{error}"))
    }
}

fn names(desk: &Desk) -> Vec<String> {
    desk.prints().iter().map(|pinned| pinned.print.name.clone()).collect()
}

fn told(desk: &Desk) -> Vec<&str> {
    desk.notices().iter().map(|notice| notice.text.as_str()).collect()
}

/// Fetches news until something holds.
fn until(desk: &mut Desk, what: &str, holds: impl Fn(&Desk) -> bool) {
    let end = Instant::now() + PATIENCE;
    while !holds(desk) {
        assert!(Instant::now() < end, "never: {what}; told {:?}", told(desk));
        desk.catch_up();
        std::thread::sleep(Duration::from_millis(10));
    }
}

#[test]
fn desk_journey_all_is_still_there_when_the_window_is_opened_again() {
    let ground = Ground::new();
    let stills = ground.path("stills");
    let mut desk = ground.desk_of(Source::Scene(0));
    assert!(desk.guide());
    desk.act(SettingAction::Guide(false));
    for action in
        [SettingAction::Units(Units::Ft), SettingAction::Theme(Theme::Dusk), SettingAction::ShowDesk(DeskName::Compare)]
    {
        desk.act(action);
    }
    desk.act(SettingAction::Preset { index: 99, name: "monopod".into(), height_m: 2.6 });
    let mut requirement_words = desk.search().request;
    requirement_words.criteria.largest_lean_deg = Some(1.5);
    requirement_words.criteria.lenses = vec!["85 mm".into()];
    desk.act(SearchAction::Change(Box::new(requirement_words.clone())));
    assert_eq!(desk.search().request, requirement_words);
    // From where one walks was not chosen, and goes on following the site.
    assert!(desk.plan().sought.as_ref().is_some_and(|sought| sought.criteria.from.is_none()));
    // What no search can look for is told and not taken.
    let mut wrong = requirement_words.clone();
    wrong.criteria.seen_share = 2.0;
    desk.act(SearchAction::Change(Box::new(wrong)));
    assert!(told(&desk).iter().any(|text| text.contains("share seen")), "{:?}", told(&desk));
    // To the foot of the coal stage's steps, which lead east, and up.
    desk.act(CameraMove::StandAt(0.2, -38.0));
    desk.act(CameraMove::Heading(Angle::from_degrees(90.0)));
    for _ in 0..60 {
        desk.act(CameraMove::Walk { ahead_m: 0.14, right_m: 0.0 });
    }
    let feet_m = desk.measured().standing.footing.as_ref().expect("feet").height_m;
    assert!(feet_m > 2.5, "{feet_m}");
    // Moved from where it was saved, it is called by where it is, in the unit that is chosen.
    let name = desk.stance().name.clone();
    assert!(name.starts_with("coal stage, ") && name.contains(" ft south"), "{name}");
    desk.rest();
    desk.act(CameraMove::Height(0.9));
    assert_eq!(desk.stance().name, format!("{name}, crouching"));
    desk.act(CameraAction::Undo);
    desk.act(CameraMove::Heading(Angle::from_degrees(12.0)));
    assert_eq!(desk.stance().name, name, "a turn of the head is no move");
    desk.rest();
    desk.act(CameraAction::Undo);
    desk.rest();
    desk.act(CameraMove::LookAtSubject);
    desk.act(CameraMove::Lens("24-70 mm".into()));
    desk.act(CameraMove::Focal(50.0));
    desk.rest();
    desk.act(PrintAction::Pin);
    let first = desk.prints()[0].print.id;
    desk.act(PrintAction::Rename(first, "from the stage".into()));
    desk.act(PrintAction::Note(first, "rail on the west side".into()));
    desk.act(CameraMove::StandAt(10.0, -60.0));
    desk.act(CameraMove::Aim(Aim::Fill));
    desk.rest();
    assert!(desk.settle(Duration::from_secs(60)));
    assert!(desk.measured().tolerance.is_some() && desk.measured().tolerance_as_set.is_some());
    desk.act(PrintAction::Pin);
    let second = desk.prints()[1].print.id;
    desk.act(PrintAction::CompareWith(Some(first)));
    let here = desk.stance().clone();
    desk.act(PrintAction::Flick);
    assert!(desk.flicked() && desk.stance().at != here.at);
    desk.act(PrintAction::Flick);
    assert_eq!(desk.stance(), &here);
    desk.act(PrintAction::Lay(first, true));
    desk.act(PrintAction::Lay(second, true));
    desk.act(SettingAction::Carry("135 mm".into(), false));
    desk.shown_at(300, 300);
    desk.act(DeliveryAction::Capture { full: false, folder: Some(stills.clone()) });
    desk.act(DeliveryAction::Capture { full: false, folder: None });
    assert!(desk.settle(PATIENCE));
    assert_eq!(desk.captures().len(), 2, "{:?}", told(&desk));
    for capture in desk.captures() {
        let png = std::fs::read(&capture.picture).expect("a picture");
        let header = png::Decoder::new(std::io::Cursor::new(png)).read_info().expect("a png").info().size();
        // As shown, but large enough to be of use.
        assert_eq!(header.0.max(header.1), 2000, "{header:?}");
        assert!(std::fs::read_to_string(&capture.record).expect("a record").contains("heading_deg"));
    }
    assert!(desk.prints().iter().all(|pinned| pinned.thumbnail.is_some()), "pictures of prints");
    desk.act(FileAction::Quit);
    assert!(desk.leaving());
    drop(desk);

    let desk = ground.desk_of(Source::Scene(0));
    assert_eq!(names(&desk), ["from the stage", &here.name]);
    assert_eq!(desk.print(first).expect("there").print.note, "rail on the west side");
    assert_eq!(desk.stance(), &here);
    assert_eq!(desk.against().expect("compared").print.id, first);
    assert_eq!(desk.laid().map(|pinned| pinned.print.id).collect::<Vec<_>>(), [first, second]);
    assert_eq!((desk.settings().units, desk.settings().theme), (Units::Ft, Theme::Dusk));
    assert_eq!(desk.settings().presets.last().expect("one").name, "monopod");
    assert!(!desk.guide() && !desk.carries("135 mm") && desk.carries("85 mm"));
    assert_eq!(desk.plan().folder.as_deref(), Some(stills.as_path()));
    assert_eq!(desk.captures().len(), 2);
    assert_eq!(desk.search().request, requirement_words);
}

#[test]
fn desk_two_windows_on_one_site_keep_each_others_prints() {
    let ground = Ground::new();
    let (mut first, mut second) = (ground.desk(), ground.desk());
    for round in 0..4 {
        first.act(CameraMove::StandAt(10.0 + f64::from(round), -60.0));
        first.act(PrintAction::Pin);
        second.act(CameraMove::StandAt(-10.0 - f64::from(round), -60.0));
        second.act(PrintAction::Pin);
    }
    until(&mut first, "the other's prints", |desk| desk.prints().len() == 8);
    until(&mut second, "the other's prints", |desk| desk.prints().len() == 8);
    assert!(told(&first).iter().any(|text| text.contains("another window")), "{:?}", told(&first));
    let gone = first.prints()[0].print.id;
    first.act(PrintAction::Unpin(gone));
    until(&mut second, "a print that the other took away", |desk| desk.print(gone).is_none());
    first.act(FileAction::Quit);
    second.act(FileAction::Quit);
    let (plan, _) = read_plan(&plan_path(&ground.site())).expect("read").expect("there");
    assert_eq!(plan.prints.len(), 7);
    assert_eq!(std::fs::read_to_string(ground.site()).expect("there"), SCENES[0].text, "the site is never rewritten");
}

/// Runs as the whole of another process, which is killed in the middle of its work.
const CHILD: &str = "PLUMBSIGHT_TEST_CHILD";

#[test]
fn desk_killed_in_the_middle_loses_nothing_that_was_kept() {
    if let Some(site) = std::env::var_os(CHILD) {
        let site = PathBuf::from(site);
        let configuration = site.with_file_name("configuration");
        let home = Home { configuration: Some(configuration), dialogs: false, wake: Wake::default() };
        let mut desk = Desk::open(home, Source::File(site.clone()), None, MeasureSettings::default()).expect("opened");
        for number in 0_u32.. {
            desk.act(CameraMove::StandAt(10.0, -60.0 - f64::from(number % 50)));
            desk.act(PrintAction::Pin);
            let kept =
                read_plan(&plan_path(&site)).expect("whole at every moment").map_or(0, |(plan, _)| plan.prints.len());
            std::fs::write(site.with_file_name("kept"), kept.to_string()).expect("written");
        }
        return;
    }
    let ground = Ground::new();
    let mut lived = 0;
    for wait_ms in [300, 450, 620] {
        let mut child = std::process::Command::new(std::env::current_exe().expect("this program"))
            .args(["desk_killed_in_the_middle_loses_nothing_that_was_kept", "--test-threads=1"])
            .env(CHILD, ground.site())
            .stdout(std::process::Stdio::null())
            .spawn()
            .expect("a process");
        let end = Instant::now() + PATIENCE;
        let kept = || -> usize {
            // Half a number is none.
            std::fs::read_to_string(ground.path("kept")).ok().and_then(|text| text.parse().ok()).unwrap_or(0)
        };
        while kept() <= lived {
            assert!(Instant::now() < end, "the process pins nothing");
            std::thread::sleep(Duration::from_millis(20));
        }
        std::thread::sleep(Duration::from_millis(wait_ms));
        child.kill().expect("killed");
        child.wait().expect("ended");
        lived = kept();
        let (plan, _) = read_plan(&plan_path(&ground.site())).expect("whole").expect("there");
        assert!(plan.prints.len() >= lived, "{} of {lived}", plan.prints.len());
        let desk = ground.desk();
        assert!(desk.prints().len() >= lived);
        assert!(desk.notices().iter().all(|notice| notice.kind != NoticeKind::Error), "{:?}", told(&desk));
        lived = desk.prints().len();
    }
}

#[test]
fn desk_reloads_a_site_that_changes_and_keeps_the_last_good_one() {
    let ground = Ground::new();
    let mut desk = ground.desk();
    desk.act(CameraMove::StandAt(10.0, -60.0));
    desk.act(PrintAction::Pin);
    let (stance, version) = (desk.stance().clone(), desk.site_version());
    std::fs::write(ground.site(), SCENES[0].text.replacen("shape:", "shapes:", 1)).expect("written");
    until(&mut desk, "problems in place", |desk| desk.site_problems().is_some());
    assert!(desk.site_problems().expect("told").contains("shapes"), "{:?}", desk.site_problems());
    assert_eq!((desk.site_version(), desk.stance()), (version, &stance));
    // As editors do: another file, renamed over it.
    let renamed = ground.path(".saltings.swp");
    std::fs::write(&renamed, format!("{}\n// mended\n", SCENES[0].text)).expect("written");
    std::fs::rename(&renamed, ground.site()).expect("renamed");
    until(&mut desk, "the mended site", |desk| desk.site_version() > version);
    assert_eq!((desk.site_problems(), desk.stance()), (None, &stance));
    assert!(desk.prints()[0].measured.is_ok());
}

#[test]
fn desk_opens_by_path_scene_and_recent_and_tells_what_does_not_open() {
    let ground = Ground::new();
    let mut desk = ground.desk();
    let version = desk.site_version();
    std::fs::write(ground.path("bad.site.ron"), "Site(format: 1, name: \"x\", blocks: [(name: \"s\")])")
        .expect("written");
    for wrong in [ground.path("nowhere.site.ron"), ground.path("bad.site.ron"), ground.folder.path().into()] {
        desk.act(FileAction::Open(wrong));
        assert!(desk.settle(PATIENCE));
        assert_eq!(desk.site_version(), version);
        assert_eq!(desk.notices().last().map(|notice| notice.kind), Some(NoticeKind::Error));
    }
    for (index, scene) in SCENES.iter().enumerate() {
        desk.act(FileAction::OpenScene(index));
        assert!(desk.settle(PATIENCE));
        assert_eq!(desk.survey().mark.file, format!("{}.site.ron", scene.name));
    }
    assert_eq!(desk.settings().recent, [ground.site()]);
    desk.act(FileAction::OpenDialog);
    assert_eq!(desk.asking(), Some(PathQuestion::Site));
    desk.act(FileAction::Open(ground.site()));
    assert!(desk.settle(PATIENCE));
    assert_eq!((desk.asking(), desk.survey().mark.name.as_str()), (None, ground.desk().survey().mark.name.as_str()));
}

#[test]
fn desk_leaves_a_plan_it_cannot_read_and_says_so() {
    let ground = Ground::new();
    let file = plan_path(&ground.site());
    std::fs::write(&file, "(format: 9, wonders: 7)").expect("written");
    let mut desk = ground.desk();
    let error = desk.notices().iter().find(|notice| notice.kind == NoticeKind::Error).expect("told");
    assert!(error.text.contains("newer program") && error.text.contains("saltings.plan.ron"), "{}", error.text);
    assert_eq!(std::fs::read_to_string(&file).expect("there"), "(format: 9, wonders: 7)");
    desk.act(PrintAction::Pin);
    desk.act(FileAction::Quit);
    let aside = ground.path("saltings.plan.unread-1.ron");
    assert_eq!(std::fs::read_to_string(aside).expect("put aside"), "(format: 9, wonders: 7)");
    assert_eq!(names(&ground.desk()).len(), 1);
}

#[test]
fn desk_kit_of_ones_own_is_in_the_bag_and_broken_files_never_stop_it() {
    let ground = Ground::new();
    let configuration = ground.path("configuration");
    std::fs::create_dir(&configuration).expect("made");
    std::fs::write(configuration.join("kit.ron"), "(lenses: [(name: \"55 mm f1.2\", focal_mm: 55)])").expect("written");
    let mut desk = ground.desk();
    desk.act(CameraMove::Lens("55 mm f1.2".into()));
    assert_eq!(desk.measured().standing.camera.focal_mm, 55.0);
    drop(desk);
    std::fs::write(configuration.join("kit.ron"), "(lenses: [(name: \"55 mm f1.2\", focal_mm: -5)])").expect("written");
    std::fs::write(configuration.join("settings.ron"), "(upright_deg: \"much\")").expect("written");
    let desk = ground.desk();
    let errors = desk.notices().iter().filter(|notice| notice.kind == NoticeKind::Error);
    let errors: Vec<&str> = errors.map(|notice| notice.text.as_str()).collect();
    assert!(errors.iter().any(|text| text.contains("focal_mm")), "{errors:?}");
    assert!(errors.iter().any(|text| text.contains("settings")), "{errors:?}");
}

#[test]
fn desk_asks_where_captures_go_and_calls_them_off() {
    let ground = Ground::new();
    let mut desk = ground.desk();
    desk.act(DeliveryAction::Capture { full: true, folder: None });
    assert_eq!(desk.asking(), Some(PathQuestion::Folder));
    desk.act(DeliveryAction::Folder(Path::new("stills").into()));
    let work = desk.works().into_iter().next().expect("at work");
    desk.act(WorkAction::Cancel(work.id));
    assert!(desk.settle(PATIENCE));
    assert!(told(&desk).iter().any(|text| text.contains("cancelled")), "{:?}", told(&desk));
    assert!(desk.captures().is_empty() && !ground.path("stills").exists());
    // A file where the folder would be.
    std::fs::write(ground.path("stills"), "x").expect("written");
    desk.shown_at(40, 40);
    desk.act(DeliveryAction::Capture { full: false, folder: None });
    assert!(desk.settle(PATIENCE));
    assert_eq!(desk.notices().last().map(|notice| notice.kind), Some(NoticeKind::Error));
}

#[test]
fn desk_moves_are_undone_one_by_one_and_runs_as_one() {
    let ground = Ground::new();
    let mut desk = ground.desk();
    let start = desk.stance().clone();
    let moves = [
        CameraMove::StandAt(10.0, -60.0),
        CameraMove::Height(3.0),
        CameraMove::Heading(Angle::from_degrees(350.0)),
        CameraMove::Pitch(Angle::from_degrees(8.0)),
        CameraMove::Roll(Angle::from_degrees(1.0)),
        CameraMove::Aperture(11.0),
        CameraMove::Focus(Some(30.0)),
        CameraMove::Focus(None),
        CameraMove::Turn,
        CameraMove::Format("23.5x15.6".into()),
        CameraMove::Lens("24 mm with 12 mm rise".into()),
        CameraMove::Rise(6.0),
        CameraMove::Shift(-3.0),
        CameraMove::LookAtSubject,
        CameraMove::Level,
    ];
    let mut passed = vec![start];
    for action in &moves {
        assert!(desk.act(action.clone()), "{action:?}");
        desk.rest();
        assert_ne!(Some(desk.stance()), passed.last(), "{action:?} {:?}", told(&desk));
        passed.push(desk.stance().clone());
    }
    for _ in 0..20 {
        desk.act(CameraMove::Walk { ahead_m: -0.05, right_m: 0.0 });
        desk.act(CameraMove::Look { heading: Angle::from_degrees(0.1), pitch: Angle::ZERO });
    }
    desk.rest();
    for earlier in passed.iter().rev() {
        assert!(desk.act(CameraAction::Undo));
        assert_eq!(desk.stance(), earlier);
    }
    assert!(!desk.act(CameraAction::Undo));
    for later in &passed[1..] {
        assert!(desk.act(CameraAction::Redo));
        assert_eq!(desk.stance(), later);
    }
}

#[test]
fn desk_wheel_stops_at_marks_and_takes_the_next_lens_of_the_bag() {
    let ground = Ground::new();
    let mut desk = ground.desk();
    desk.act(CameraMove::Heading(Angle::ZERO));
    desk.act(CameraMove::Lens("24-70 mm".into()));
    desk.act(CameraMove::Focal(30.0));
    let mut seen = Vec::new();
    let mut notices: Vec<String> = Vec::new();
    for _ in 0..8 {
        desk.act(CameraMove::FocalStop(1));
        notices.extend(told(&desk).into_iter().map(str::to_owned));
        seen.push((desk.stance().lens.clone(), desk.measured().standing.camera.focal_mm));
    }
    let short: Vec<_> = seen.iter().map(|(lens, focal_mm)| (lens.as_str(), *focal_mm)).collect();
    let tele = "70-200 mm";
    let expected = [("24-70 mm", 35.0), ("24-70 mm", 50.0), ("24-70 mm", 70.0)];
    assert_eq!(short[..3], expected);
    assert_eq!(short[3..6], [(tele, 100.0), (tele, 135.0), (tele, 200.0)]);
    assert_eq!(short[6..], [(tele, 200.0), (tele, 200.0)], "the last lens of the bag ends the wheel");
    assert!(notices.iter().any(|text| text.contains("70-200 mm lens is on")), "{notices:?}");
    // What is left at home does not go on.
    desk.act(SettingAction::Carry("16-35 mm".into(), false));
    desk.act(CameraMove::Lens("24-70 mm".into()));
    desk.act(CameraMove::Focal(20.0));
    assert_ne!(desk.stance().lens, "16-35 mm");
    assert!(desk.measured().standing.camera.focal_mm < 24.0);
}

#[test]
fn undo_takes_back_a_pin_and_a_removal_in_their_order() {
    let ground = Ground::new();
    let mut desk = ground.desk();
    let names = |desk: &Desk| desk.prints().iter().map(|pinned| pinned.print.name.clone()).collect::<Vec<_>>();
    desk.act(PrintAction::Pin);
    let first = names(&desk);
    desk.act(CameraMove::StandAt(10.0, -60.0));
    desk.rest();
    let there = desk.stance().clone();
    desk.act(PrintAction::Pin);
    let both = names(&desk);
    desk.act(PrintAction::Unpin(desk.prints()[0].print.id));
    let second = names(&desk);
    assert_eq!((first.len(), both.len(), second.len()), (1, 2, 1));
    // The removal, the pin, the move, the first pin; and forward again.
    desk.act(CameraAction::Undo);
    assert_eq!(names(&desk), both);
    desk.act(CameraAction::Undo);
    assert_eq!((names(&desk), desk.stance()), (first.clone(), &there));
    desk.act(CameraAction::Undo);
    assert_ne!(desk.stance(), &there);
    assert_eq!(names(&desk), first);
    desk.act(CameraAction::Undo);
    assert!(names(&desk).is_empty());
    for _ in 0..4 {
        desk.act(CameraAction::Redo);
    }
    assert_eq!((names(&desk), desk.stance()), (second, &there));
}

#[test]
fn a_fault_of_the_site_file_is_told_with_its_line() {
    let ground = Ground::new();
    let mut desk = ground.desk();
    std::fs::write(ground.site(), SCENES[0].text.replacen("shape:", "shapes:", 1)).expect("written");
    until(&mut desk, "problems in place", |desk| desk.site_problems().is_some());
    let faults = desk.site_faults().expect("read").listed();
    let line = SCENES[0].text.lines().position(|line| line.contains("shape:")).expect("a shape") + 1;
    let fault = faults.iter().find(|fault| fault.sentence().contains("'shapes'")).expect("told");
    assert_eq!(fault.line, line);
    let (written, span) = fault.excerpt(90);
    assert_eq!(&written[span], "shapes");
    // Our own layout: no marks of a compiler's, no numbers of lists.
    let text = desk.site_problems().expect("told");
    assert!(text.starts_with("Error in ") && !text.contains("-->") && !text.contains("blocks["), "{text}");
}
