//! Is a site built in the window what its file says, byte for byte where nothing was touched?

use std::path::PathBuf;
use std::time::{Duration, Instant};

use bevy_egui::egui;
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use plumbsight::scenes::SCENES;
use plumbsight::site::{Block, Front, Shape, Stance, moved, parse_site};
use plumbsight::survey::MeasureSettings;
use plumbsight::viewer::state::desk::{
    BuildAction, CameraAction, CameraMove, Desk, DeskName, FileAction, Picked, SettingAction, SiteChange, SiteSaving,
};
use plumbsight::viewer::state::opening::{Home, Source};
use plumbsight::viewer::state::work::Wake;

use crate::panels::{Seat, seat, spoken};
use crate::support::random::Random;

const PATIENCE: Duration = Duration::from_secs(60);

pub(crate) struct Place {
    folder: tempfile::TempDir,
}

impl Place {
    pub(crate) fn new() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        std::fs::write(folder.path().join("mine.site.ron"), SCENES[0].text).expect("written");
        Self { folder }
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(crate) fn desk(&self, source: Source) -> Desk {
        let home = Home { configuration: Some(self.path("configuration")), dialogs: false, wake: Wake::default() };
        Desk::open(home, source, None, MeasureSettings::default()).unwrap_or_else(|error| panic!("{error}"))
    }

    pub(crate) fn mine(&self) -> Desk {
        self.desk(Source::File(self.path("mine.site.ron")))
    }

    pub(crate) fn on_disk(&self) -> String {
        std::fs::read_to_string(self.path("mine.site.ron")).expect("there")
    }
}

pub(crate) fn until(desk: &mut Desk, what: &str, holds: impl Fn(&Desk) -> bool) {
    let end = Instant::now() + PATIENCE;
    while !holds(desk) {
        let told: Vec<&str> = desk.notices().iter().map(|notice| notice.text.as_str()).collect();
        assert!(Instant::now() < end, "never: {what}; told {told:?}");
        desk.catch_up();
        std::thread::sleep(Duration::from_millis(5));
    }
}

pub(crate) fn saved(desk: &mut Desk) {
    until(desk, "saved", |desk| *desk.site_saving() == SiteSaving::Saved);
}

fn block_named(desk: &Desk, name: &str) -> (usize, plumbsight::site::Block) {
    let blocks = &desk.survey().model.site.blocks;
    let index = blocks.iter().position(|block| block.name == name).unwrap_or_else(|| panic!("no {name}"));
    (index, blocks[index].clone())
}

#[test]
fn what_is_dragged_is_tried_at_once_and_written_when_the_hand_lets_go() {
    let place = Place::new();
    let before = place.on_disk();
    let mut desk = place.mine();
    let (index, house) = block_named(&desk, "engine house");
    let convergence = |desk: &Desk| desk.measured().account.convergence.expect("in front").angle().degrees();
    let stood = convergence(&desk);
    for step in 1..=13 {
        let by = (0.25 * f64::from(step), 0.0);
        desk.act(BuildAction::Try(SiteChange::SetBlocks(vec![(index, moved(&house, by))])));
        assert!((block_named(&desk, "engine house").1.at.0 - house.at.0 - by.0).abs() < 1e-9);
    }
    // Nothing is written while it is tried, and letting go without a change leaves all as it was.
    assert_eq!(place.on_disk(), before);
    desk.act(BuildAction::LetGo);
    assert_eq!(block_named(&desk, "engine house").1, house);
    desk.act(BuildAction::Change(SiteChange::SetBlocks(vec![(index, moved(&house, (3.25, 0.0)))]), None));
    saved(&mut desk);
    let written = parse_site(&place.on_disk(), "mine").expect("good");
    let there = written.blocks.iter().find(|block| block.name == "engine house").expect("there");
    assert!((there.at.0 - house.at.0 - 3.25).abs() < 1e-9 && there.at.1 == house.at.1, "{:?}", there.at);
    // Of the text one line has changed.
    let changed = place.on_disk().lines().zip(before.lines()).filter(|(now, then)| now != then).count();
    assert_eq!(changed, 1);
    assert_eq!(place.on_disk().lines().count(), before.lines().count());
    // The subject's own height changes what is measured at once.
    let subject = desk.survey().subject.as_ref().expect("a subject").body;
    let block = desk.survey().model.site.blocks[subject].clone();
    let Shape::RoundTaper { foot_radius_m, head_radius_m, height_m } = block.shape else { panic!("{block:?}") };
    let shape = Shape::RoundTaper { foot_radius_m, head_radius_m, height_m: height_m + 6.0 };
    desk.act(BuildAction::Try(SiteChange::SetBlocks(vec![(subject, plumbsight::site::Block { shape, ..block })])));
    assert!((convergence(&desk) - stood).abs() > 0.05, "{} {stood}", convergence(&desk));
}

#[test]
fn steps_of_camera_and_site_are_one_list_and_go_back_to_the_very_bytes() {
    let place = Place::new();
    let before = place.on_disk();
    let mut desk = place.mine();
    let at = desk.stance().at;
    desk.act(CameraMove::StandAt(at.0 + 2.0, at.1));
    desk.rest();
    let added = Block::new("kiosk", (-20.0, -30.0), Shape::Box { width_m: 2.0, depth_m: 2.0, height_m: 3.0 });
    desk.act(BuildAction::Change(SiteChange::AddBlocks(vec![added]), None));
    let (index, kiosk) = block_named(&desk, "kiosk");
    desk.act(BuildAction::Choose(vec![Picked::Block(index)]));
    assert_eq!(desk.chosen(), [Picked::Block(index)]);
    desk.act(BuildAction::Change(SiteChange::SetBlocks(vec![(index, moved(&kiosk, (1.0, 0.0)))]), None));
    desk.act(CameraMove::StandAt(at.0 + 4.0, at.1));
    desk.rest();
    desk.act(BuildAction::Change(SiteChange::Remove(vec![Picked::Block(index)]), None));
    assert_eq!(desk.chosen(), []);
    let (past, future) = desk.steps();
    assert_eq!(past, ["Moved the camera", "Added kiosk", "Moved kiosk", "Moved the camera", "Removed kiosk"]);
    assert!(future.is_empty());
    let after = desk.site_text().expect("open").to_owned();
    for _ in 0..5 {
        assert!(desk.act(CameraAction::Undo));
    }
    assert_eq!((desk.site_text(), desk.stance().at), (Some(before.as_str()), at));
    assert_eq!(desk.steps().1.len(), 5);
    saved(&mut desk);
    assert_eq!(place.on_disk(), before);
    for _ in 0..5 {
        assert!(desk.act(CameraAction::Redo));
    }
    assert_eq!(desk.site_text(), Some(after.as_str()));
    saved(&mut desk);
    assert_eq!(place.on_disk(), after);
}

#[test]
fn what_another_program_writes_is_merged_or_asked_about() {
    let place = Place::new();
    let mut desk = place.mine();
    // Somewhere else in the file: both stay.
    let (index, house) = block_named(&desk, "engine house");
    std::fs::write(place.path("mine.site.ron"), format!("{}// theirs\n", place.on_disk())).expect("written");
    desk.act(BuildAction::Change(SiteChange::SetBlocks(vec![(index, moved(&house, (0.5, 0.0)))]), None));
    until(&mut desk, "merged", |desk| {
        desk.site_text().is_some_and(|text| text.contains("// theirs")) && *desk.site_saving() == SiteSaving::Saved
    });
    assert!(place.on_disk().ends_with("// theirs\n"));
    let written = parse_site(&place.on_disk(), "mine").expect("good");
    assert!((written.blocks[index].at.0 - house.at.0 - 0.5).abs() < 1e-9);
    // In the same place: the person is asked, and nothing is written over.
    let text = place.on_disk();
    let line = text.lines().find(|line| line.contains("name: \"engine house\"")).expect("its line").to_owned();
    let theirs = text.replace(&line, &format!("{line} // theirs, too"));
    std::fs::write(place.path("mine.site.ron"), &theirs).expect("written");
    desk.act(BuildAction::Change(
        SiteChange::SetBlocks(vec![(
            index,
            plumbsight::site::Block { name: "old engine house".into(), ..house.clone() },
        )]),
        None,
    ));
    until(&mut desk, "asked", |desk| matches!(desk.site_saving(), SiteSaving::Conflict(_)));
    assert_eq!(place.on_disk(), theirs);
    desk.act(BuildAction::Resolve { keep_mine: true });
    saved(&mut desk);
    assert!(place.on_disk().contains("old engine house") && !place.on_disk().contains("theirs, too"));
    // Taken back, their version is there again.
    assert!(desk.act(CameraAction::Undo));
    saved(&mut desk);
    assert!(!place.on_disk().contains("old engine house"));
}

#[test]
fn a_demo_is_changed_in_the_window_and_saved_as_ones_own() {
    let place = Place::new();
    let mut desk = place.desk(Source::Scene(0));
    desk.act(BuildAction::Change(SiteChange::SetFront(Some(Front::Bearing(190.0))), None));
    assert_eq!(desk.survey().model.site.front, Some(Front::Bearing(190.0)));
    assert_eq!(*desk.site_saving(), SiteSaving::Demo);
    desk.act(BuildAction::SaveAs(place.path("own")));
    until(&mut desk, "opened", |desk| desk.source() == Some(&Source::File(place.path("own.site.ron"))));
    assert_eq!(desk.survey().model.site.front, Some(Front::Bearing(190.0)));
    assert_eq!(*desk.site_saving(), SiteSaving::Saved);
    // A file that is there is never written over.
    let known = std::fs::read(place.path("own.site.ron")).expect("there");
    desk.act(FileAction::CreateSite { path: place.path("own.site.ron"), text: "x".into() });
    assert!(desk.notices().iter().any(|notice| notice.text.contains("not saved")));
    assert_eq!(std::fs::read(place.path("own.site.ron")).expect("there"), known);
}

#[test]
fn stances_are_saved_renamed_reordered_and_removed_in_the_file() {
    let place = Place::new();
    let mut desk = place.mine();
    let before: Vec<String> = desk.survey().model.site.stances.iter().map(|stance| stance.name.clone()).collect();
    let stance = Stance { name: "by the gate".into(), note: Some("mind the step".into()), ..desk.stance().clone() };
    desk.act(BuildAction::Change(SiteChange::AddStance(Box::new(stance.clone())), None));
    let last = before.len();
    desk.act(BuildAction::Change(SiteChange::MoveStance { from: last, to: 0 }, None));
    let renamed = Stance { name: "gate".into(), ..stance };
    desk.act(BuildAction::Change(SiteChange::SetStance(0, Box::new(renamed)), None));
    desk.act(BuildAction::Change(SiteChange::Remove(vec![Picked::Stance(1)]), None));
    saved(&mut desk);
    let written = parse_site(&place.on_disk(), "mine").expect("good");
    let names: Vec<&str> = written.stances.iter().map(|stance| stance.name.as_str()).collect();
    let expected: Vec<&str> = std::iter::once("gate").chain(before[1..].iter().map(String::as_str)).collect();
    assert_eq!(names, expected);
}

#[test]
fn what_cannot_be_is_refused_with_its_reason_and_a_file_that_cannot_be_written_keeps_the_work() {
    let place = Place::new();
    let mut desk = place.mine();
    let (index, house) = block_named(&desk, "engine house");
    let nameless = plumbsight::site::Block { name: String::new(), ..house.clone() };
    let text = desk.site_text().expect("open").to_owned();
    desk.act(BuildAction::Change(SiteChange::SetBlocks(vec![(index, nameless)]), None));
    assert_eq!(desk.site_text(), Some(text.as_str()));
    assert!(desk.notices().iter().any(|notice| notice.text.contains("name")));
    // A folder in the file's place cannot be written over.
    std::fs::remove_file(place.path("mine.site.ron")).expect("removed");
    std::fs::create_dir(place.path("mine.site.ron")).expect("made");
    desk.act(BuildAction::Change(SiteChange::SetBlocks(vec![(index, moved(&house, (1.0, 0.0)))]), None));
    until(&mut desk, "failed", |desk| matches!(desk.site_saving(), SiteSaving::Failed(_)));
    assert!((block_named(&desk, "engine house").1.at.0 - house.at.0 - 1.0).abs() < 1e-9);
    // Elsewhere it is saved.
    desk.act(BuildAction::SaveAs(place.path("rescued.site.ron")));
    until(&mut desk, "opened", |desk| desk.source() == Some(&Source::File(place.path("rescued.site.ron"))));
    assert!((block_named(&desk, "engine house").1.at.0 - house.at.0 - 1.0).abs() < 1e-9);
}

#[test]
fn a_thousand_edits_taken_back_give_the_very_bytes() {
    let place = Place::new();
    let before = place.on_disk();
    let mut desk = place.mine();
    let mut random = Random::new(77);
    let mut made = 0;
    for round in 0..1000 {
        let site = &desk.survey().model.site;
        let change = match random.bits() % 4 {
            0 => {
                let at = (random.between(-200.0, 200.0).round(), random.between(-200.0, 200.0).round());
                let shape = Shape::Box { width_m: 3.0, depth_m: 2.0, height_m: 4.0 };
                SiteChange::AddBlocks(vec![Block::new(format!("new {round}"), at, shape)])
            }
            1 if site.blocks.len() > 12 => SiteChange::Remove(vec![Picked::Block(site.blocks.len() - 1)]),
            _ => {
                let index = (random.bits() as usize) % site.blocks.len();
                let by = (random.between(-1.0, 1.0), random.between(-1.0, 1.0));
                SiteChange::SetBlocks(vec![(index, moved(&site.blocks[index], by))])
            }
        };
        let steps = desk.steps().0.len();
        desk.act(BuildAction::Change(change, None));
        made += desk.steps().0.len() - steps;
    }
    assert!(made > 900, "{made}");
    while desk.can_undo_redo().0 {
        desk.act(CameraAction::Undo);
    }
    assert_eq!(desk.site_text(), Some(before.as_str()));
    saved(&mut desk);
    assert_eq!(place.on_disk(), before);
}

/// Presses, moves in steps and lets go, as a mouse does.
pub(crate) fn drag(harness: &mut Harness<'_, Seat>, from: egui::Pos2, to: egui::Pos2, modifiers: egui::Modifiers) {
    let button =
        |pos, pressed| egui::Event::PointerButton { pos, button: egui::PointerButton::Primary, pressed, modifiers };
    harness.event(egui::Event::ModifiersChanged(modifiers));
    harness.event(egui::Event::PointerMoved(from));
    harness.run_steps(1);
    harness.event(button(from, true));
    harness.run_steps(1);
    for part in 1..=5_u8 {
        harness.event(egui::Event::PointerMoved(from + (to - from) * (f32::from(part) / 5.0)));
        harness.run_steps(1);
    }
    harness.event(button(to, false));
    harness.run_steps(2);
    harness.event(egui::Event::ModifiersChanged(egui::Modifiers::NONE));
}

pub(crate) fn press(harness: &mut Harness<'_, Seat>, at: egui::Pos2) {
    drag(harness, at, at, egui::Modifiers::NONE);
    // A second press soon after would be a double one.
    for _ in 0..30 {
        harness.run_steps(1);
    }
}

pub(crate) fn plan_rect(harness: &Harness<'_, Seat>) -> egui::Rect {
    let node = harness.root().children_recursive().find(|node| spoken(node).starts_with("plan with"));
    node.expect("the plan").rect()
}

#[test]
fn a_mouse_sets_a_block_down_drags_it_and_types_its_height() {
    let place = Place::new();
    let mut desk = place.mine();
    desk.act(SettingAction::Guide(false));
    desk.act(SettingAction::ShowDesk(DeskName::Build));
    let mut harness = seat(desk, 1440.0, 860.0);
    let rect = plan_rect(&harness);
    // Two boxes set down tell where the plan's points lie: pixels are metres over the scale.
    let spots =
        [rect.left_bottom() + egui::Vec2::new(120.0, -140.0), rect.left_bottom() + egui::Vec2::new(220.0, -140.0)];
    for spot in spots {
        harness.get_by_label("shape: box").click();
        harness.run_steps(2);
        press(&mut harness, spot);
    }
    let at = |harness: &Harness<'_, Seat>, name: &str| block_named(&harness.state().desk, name).1.at;
    let (first, second) = (at(&harness, "box"), at(&harness, "box 2"));
    let metres_per_point = (second.0 - first.0) / 100.0;
    assert!(metres_per_point > 0.01 && (first.1 - second.1).abs() < 0.26, "{first:?} {second:?}");
    // Set down on the grid.
    assert!((first.0 * 4.0).fract() == 0.0 && (first.1 * 4.0).fract() == 0.0, "{first:?}");
    // Dragged by 3.25 m: the file says so, to the millimetre, and Escape had nothing to take back.
    let by = egui::Vec2::new((3.25 / metres_per_point) as f32, 0.0);
    drag(&mut harness, spots[1], spots[1] + by + egui::Vec2::new(0.0, 60.0), egui::Modifiers::NONE);
    drag(&mut harness, spots[1] + by + egui::Vec2::new(0.0, 60.0), spots[1] + by, egui::Modifiers::NONE);
    let moved = at(&harness, "box 2");
    assert!((moved.0 - second.0 - 3.25).abs() < 0.13 + metres_per_point, "{second:?} {moved:?}");
    // The height is typed where it stands.
    let field = harness.root().children_recursive().find(|node| spoken(node).starts_with("height: "));
    field.expect("the height's field").click();
    harness.run_steps(3);
    for letter in ["1", "2", ".", "5"] {
        harness.event(egui::Event::Text(letter.into()));
        harness.run_steps(1);
    }
    harness.key_press(egui::Key::Enter);
    harness.run_steps(3);
    let (_, block) = block_named(&harness.state().desk, "box 2");
    let Shape::Box { height_m, .. } = block.shape else { panic!("{block:?}") };
    assert!((height_m - 12.5).abs() < 1e-9, "{height_m}");
    // All of it goes back.
    let steps = harness.state().desk.steps().0.len();
    assert!(steps >= 4, "{steps}");
    for _ in 0..steps {
        harness.state_mut().desk.act(CameraAction::Undo);
    }
    assert_eq!(harness.state().desk.site_text(), Some(SCENES[0].text));
}

#[test]
fn the_keyboard_alone_draws_chooses_moves_and_removes() {
    let place = Place::new();
    let mut desk = place.mine();
    desk.act(SettingAction::Guide(false));
    desk.act(SettingAction::ShowDesk(DeskName::Build));
    let mut harness = seat(desk, 1440.0, 860.0);
    let focus = |harness: &mut Harness<'_, Seat>, name: &str| {
        for _ in 0..200 {
            let focused = harness.root().children_recursive().find(|node| node.is_focused());
            if focused.is_some_and(|node| spoken(&node).starts_with(name)) {
                return;
            }
            harness.key_press(egui::Key::Tab);
            harness.run_steps(1);
        }
        panic!("the Tab key does not reach '{name}'");
    };
    focus(&mut harness, "shape: box");
    harness.key_press(egui::Key::Enter);
    harness.run_steps(2);
    focus(&mut harness, "plan with");
    harness.key_press(egui::Key::Enter);
    harness.run_steps(2);
    let (_, set) = block_named(&harness.state().desk, "box");
    for key in [egui::Key::ArrowRight, egui::Key::ArrowRight, egui::Key::ArrowUp, egui::Key::CloseBracket] {
        harness.key_press(key);
        harness.run_steps(2);
    }
    let (_, now) = block_named(&harness.state().desk, "box");
    assert!((now.at.0 - set.at.0 - 0.5).abs() < 1e-9 && (now.at.1 - set.at.1 - 0.25).abs() < 1e-9, "{now:?}");
    assert!((now.heading_deg - 5.0).abs() < 1e-9, "{now:?}");
    harness.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::D);
    harness.run_steps(2);
    block_named(&harness.state().desk, "box 2");
    harness.key_press(egui::Key::Delete);
    harness.run_steps(2);
    let names: Vec<&str> =
        harness.state().desk.survey().model.site.blocks.iter().map(|block| block.name.as_str()).collect();
    assert!(names.contains(&"box") && !names.contains(&"box 2"), "{names:?}");
}

#[test]
fn four_questions_make_a_site_that_one_stands_in_front_of() {
    let place = Place::new();
    let mut desk = place.mine();
    desk.act(SettingAction::Guide(false));
    desk.act(SettingAction::ShowDesk(DeskName::Build));
    let mut harness = seat(desk, 1440.0, 860.0);
    let before = harness.state().desk.stance().clone();
    harness.get_by_label("New site").click();
    harness.run_steps(4);
    harness.get_by_label("it is a chimney").click();
    harness.run_steps(4);
    harness.get_by_label("behind: closed; press to change it").click();
    harness.run_steps(4);
    // The first picture is live: the figures are those of the new site.
    let seen = &harness.state().desk.survey().model.site;
    assert!(
        seen.blocks.iter().any(|block| block.subject && matches!(block.shape, Shape::RoundTaper { .. })),
        "{:?}",
        seen.name
    );
    assert!(harness.state().desk.measured().account.convergence.is_some());
    harness.get_by_label("stand in front of it").click();
    harness.run_steps(4);
    // The site before is shown again until the new one has its place.
    assert_eq!(harness.state().desk.stance(), &before);
    let path = place.path("chimney.site.ron");
    harness.state_mut().desk.act(BuildAction::SaveAs(path.clone()));
    let source = Source::File(path.clone());
    until(&mut harness.state_mut().desk, "opened", |desk| desk.source() == Some(&source));
    let desk = &harness.state().desk;
    let written = std::fs::read_to_string(&path).expect("written");
    assert_eq!(desk.site_text(), Some(written.as_str()));
    assert_eq!(desk.desk_name(), DeskName::Walk);
    assert!(desk.measured().account.visible_share.is_some_and(|share| share > 0.9));
}

/// A town of so many houses about a tower.
fn town(houses: usize) -> String {
    let side = (houses as f64).sqrt().ceil() as usize;
    let mut text = String::from(
        "Site(format: 1, name: \"town\", blocks: [\n    (name: \"tower\", subject: true, at: (0, 0), shape: Box(width_m: 6, depth_m: 6, height_m: 40)),\n",
    );
    for house in 0..houses {
        let (row, column) = (house / side, house % side);
        let at = (14.0 * (column as f64 - 0.5 * side as f64) + 20.0, 14.0 * row as f64 + 30.0);
        text.push_str(&format!(
            "    (name: \"house {house}\", at: ({}, {}), shape: Gable(width_m: 9, depth_m: 7, eaves_m: 5, ridge_m: 8)),\n",
            at.0, at.1
        ));
    }
    text.push_str("], stances: [(name: \"before\", at: (0, -60), lens: \"24-70 mm\")])\n");
    text
}

#[test]
fn what_is_dragged_is_followed_in_time() {
    let mut of_a_hundred = Duration::MAX;
    for houses in [100, 10_000] {
        let place = Place::new();
        std::fs::write(place.path("mine.site.ron"), town(houses)).expect("written");
        let mut desk = place.mine();
        let (index, house) = block_named(&desk, "house 7");
        let mut fastest = Duration::MAX;
        for step in 1..=6 {
            let change = SiteChange::SetBlocks(vec![(index, moved(&house, (0.25 * f64::from(step), 0.0)))]);
            let start = Instant::now();
            desk.act(BuildAction::Try(change));
            fastest = fastest.min(start.elapsed());
        }
        let start = Instant::now();
        desk.act(BuildAction::Change(SiteChange::SetBlocks(vec![(index, moved(&house, (3.25, 0.0)))]), None));
        let kept = start.elapsed();
        let start = Instant::now();
        desk.act(CameraAction::Undo);
        let undone = start.elapsed();
        let ms = |time: Duration| 1000.0 * time.as_secs_f64();
        crate::support::tell(&format!(
            "{houses} blocks: a step of a drag {:.1} ms, letting go {:.1} ms, undoing {:.1} ms",
            ms(fastest),
            ms(kept),
            ms(undone)
        ));
        if houses == 100 {
            assert!(fastest < Duration::from_millis(40), "{houses} blocks: {fastest:?}");
            of_a_hundred = fastest;
        } else {
            // A hundred times as many blocks take a hundred times as long at the most.
            assert!(fastest < 100 * of_a_hundred, "{houses} blocks: {fastest:?}, a hundred {of_a_hundred:?}");
        }
    }
}

#[test]
fn a_fault_is_shown_and_mended_by_a_press() {
    let place = Place::new();
    let mut desk = place.mine();
    let kiosk = Block {
        lift_m: 0.4,
        ..Block::new("kiosk", (-60.0, -60.0), Shape::Box { width_m: 2.0, depth_m: 2.0, height_m: 3.0 })
    };
    desk.act(BuildAction::Change(SiteChange::AddBlocks(vec![kiosk]), None));
    desk.rest();
    let site = &desk.survey().model.site;
    let words: Vec<String> =
        desk.site_suspects().iter().map(|fault| fault.words(site, plumbsight::units::Units::M)).collect();
    let number =
        words.iter().position(|words| words.contains("'kiosk' floats 0.3")).unwrap_or_else(|| panic!("{words:?}"));
    desk.act(BuildAction::Mend(number));
    desk.rest();
    assert_eq!(block_named(&desk, "kiosk").1.lift_m, 0.0);
    assert!(
        desk.site_suspects().iter().all(|fault| fault.mend.as_ref().is_none_or(|mend| mend.label != "Set it down"))
    );
    assert_eq!(desk.steps().0.last(), Some(&"Set it down"));
}

#[test]
fn the_doubt_about_a_height_is_told_for_the_stance_that_was_asked_about() {
    let place = Place::new();
    let mut desk = place.mine();
    assert!(desk.height_doubt().is_empty());
    let (index, stack) = block_named(&desk, "stack");
    let doubtful = Block { height_pm_m: Some(6.0), ..stack.clone() };
    desk.act(BuildAction::Change(SiteChange::SetBlocks(vec![(index, doubtful)]), None));
    desk.rest();
    assert!(desk.settle(PATIENCE));
    let told = desk.height_doubt().join(" ");
    assert!(told.starts_with("If the stack is "), "{told}");
    // From elsewhere nothing is known yet; with a certain height there is no doubt.
    let at = desk.stance().at;
    desk.act(CameraMove::StandAt(at.0 + 3.0, at.1));
    assert!(desk.height_doubt().is_empty());
    desk.act(BuildAction::Change(SiteChange::SetBlocks(vec![(index, stack)]), None));
    desk.rest();
    assert!(desk.settle(PATIENCE));
    assert!(desk.height_doubt().is_empty());
}

/// Runs as the whole of another process, which is killed in the middle of its work.
const CHILD: &str = "PLUMBSIGHT_TEST_BUILDING_CHILD";

#[test]
fn a_kill_while_editing_loses_at_most_what_was_in_hand() {
    const HAIR_M: f64 = 0.001;
    if let Some(site) = std::env::var_os(CHILD) {
        let site = PathBuf::from(site);
        let configuration = site.with_file_name("configuration");
        let home = Home { configuration: Some(configuration), dialogs: false, wake: Wake::default() };
        let mut desk = Desk::open(home, Source::File(site.clone()), None, MeasureSettings::default()).expect("opened");
        loop {
            let (index, house) = block_named(&desk, "engine house");
            desk.act(BuildAction::Try(SiteChange::SetBlocks(vec![(index, moved(&house, (-5.0, 0.0)))])));
            let there = moved(&house, (HAIR_M, 0.0));
            let east_m = there.at.0;
            desk.act(BuildAction::Change(SiteChange::SetBlocks(vec![(index, there)]), None));
            until(&mut desk, "saved", |desk| *desk.site_saving() == SiteSaving::Saved);
            std::fs::write(site.with_file_name("keeping"), east_m.to_string()).expect("written");
            std::fs::rename(site.with_file_name("keeping"), site.with_file_name("kept")).expect("renamed");
        }
    }
    let place = Place::new();
    let before = place.on_disk();
    let mut random = Random::new(5);
    let east_m = |text: &str| {
        let site = parse_site(text, "mine").unwrap_or_else(|problems| panic!("{problems}\n{text}"));
        site.blocks.iter().find(|block| block.name == "engine house").expect("there").at.0
    };
    let mut last_m = east_m(&before);
    // Eight, or as many as `PLUMBSIGHT_KILLS` says.
    let kills = std::env::var("PLUMBSIGHT_KILLS").ok().and_then(|kills| kills.parse().ok()).unwrap_or(8);
    for _ in 0..kills {
        let mut child = std::process::Command::new(std::env::current_exe().expect("this program"))
            .args(["building::a_kill_while_editing_loses_at_most_what_was_in_hand", "--exact", "--test-threads=1"])
            .env(CHILD, place.path("mine.site.ron"))
            .stdout(std::process::Stdio::null())
            .spawn()
            .expect("a process");
        let kept = || std::fs::read_to_string(place.path("kept")).ok().and_then(|text| text.parse::<f64>().ok());
        let end = Instant::now() + PATIENCE;
        while kept().is_none_or(|kept_m| kept_m <= last_m) {
            assert!(Instant::now() < end, "the process changes nothing");
            std::thread::sleep(Duration::from_millis(2));
        }
        std::thread::sleep(Duration::from_micros(random.between(100.0, 60_000.0) as u64));
        child.kill().expect("killed");
        child.wait().expect("ended");
        let text = place.on_disk();
        let (now_m, kept_m) = (east_m(&text), kept().unwrap_or(last_m));
        // What was said to be saved is there, and at most the change that was in hand besides.
        assert!(now_m >= kept_m - 1e-9 && now_m <= kept_m + HAIR_M + 1e-9, "{kept_m} {now_m}");
        assert_eq!(text.lines().zip(before.lines()).filter(|(now, then)| now != then).count(), 1);
        last_m = now_m;
    }
}
