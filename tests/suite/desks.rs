//! Do the Search and Hand over desks do what the core does, and show what it says?
//!
//! Searches run beside the window, as they do for a person; what is found is held to the core's own answer.

use std::time::{Duration, Instant};

use bevy_egui::egui;
use egui_kittest::kittest::Queryable;
use plumbsight::handover::deliver::{DeliveryForm, DeliveryKind, IfExists, PageForm, Prepared};
use plumbsight::handover::page::Paper;
use plumbsight::handover::places::PlacesForm;
use plumbsight::handover::{CardRequest, DocumentSettings, field_card};
use plumbsight::progress::Progress;
use plumbsight::search::{self, MapFigure, Search};
use plumbsight::survey;
use plumbsight::viewer::state::desk::{
    Action, CameraMove, DeliveryAction, DeliveryOptions, Desk, DeskName, NoticeKind, PathQuestion, PrintAction,
    SearchAction, SettingAction, WorkAction,
};

use crate::panels::{asked, busy_desk, desk, seat, spoken};
use crate::support::listing;

/// So long a busy machine may take.
const PATIENCE: Duration = Duration::from_secs(900);

/// Criteria that are looked for quickly: few places near the subject.
fn quick(desk: &Desk) -> search::Criteria {
    search::Criteria {
        spacing_m: 14.0,
        samples: 16,
        places: 3,
        distance_m: (20.0, 64.0),
        ..desk.search().request.criteria
    }
}

fn requirement(desk: &mut Desk, change: impl FnOnce(&mut search::Criteria)) {
    let mut seeking = desk.search().request;
    change(&mut seeking.criteria);
    desk.act(SearchAction::Change(Box::new(seeking)));
}

/// A desk that has searched.
fn searched(scene: usize) -> Desk {
    let mut desk = desk(scene);
    desk.act(SettingAction::ShowDesk(DeskName::Search));
    let criteria = quick(&desk);
    requirement(&mut desk, |now| *now = criteria);
    desk.act(SearchAction::Start);
    assert!(desk.settle(PATIENCE), "the search takes longer than a busy machine should");
    assert!(desk.search().answer.is_some(), "{:?}", desk.notices().last());
    desk
}

#[test]
fn desks_search_as_the_core_does() {
    let mut desk = searched(0);
    let view = desk.search();
    let criteria = view.request.criteria.clone();
    let survey = desk.survey().clone();
    let core = Search::new(&survey, criteria).expect("requirements in order");
    let core = core.run(&Progress::unwatched(), &|_| {}).expect("nobody cancels");
    let answer = view.answer.expect("found");
    assert_eq!(format!("{:?}", answer.ranked), format!("{:?}", core.ranked));
    assert_eq!((answer.met, answer.looked), (core.met, core.looked));
    assert!(view.outdated.is_none() && view.map_outdated.is_none());
    // Each has its picture.
    assert_eq!(view.pictures.len(), core.ranked.len());
    assert!(view.pictures.iter().all(Option::is_some));
    // Going there measures what was promised, to the last digit.
    let best = core.ranked.first().expect("some place serves");
    desk.act(CameraMove::TakeUp(Box::new(best.stance.clone())));
    assert_eq!(desk.stance(), &best.stance);
    let measured = survey.measure(&best.stance, &survey::MeasureSettings::default()).expect("a stance");
    let account = &desk.measured().account;
    assert_eq!(account.largest_lean, measured.account.largest_lean);
    assert_eq!(account.largest_lean.map(|lean| lean.degrees()), best.figures.largest_lean_deg);
    // Standing elsewhere makes nothing old; another body would.
    assert!(desk.search().outdated.is_none());
}

#[test]
fn desks_mark_what_is_out_of_date() {
    let mut desk = searched(0);
    let answered = desk.search().request;
    requirement(&mut desk, |criteria| criteria.largest_lean_deg = Some(2.0));
    assert_eq!(desk.search().outdated, Some("the requirements have changed"));
    assert_eq!(desk.search().map_outdated, Some("the requirements have changed"));
    desk.act(SearchAction::Change(Box::new(answered)));
    assert_eq!(desk.search().outdated, None);
    let other = desk.survey().kit.formats.iter().find(|format| format.name != desk.stance().format);
    let other = other.expect("more than one body").name.clone();
    desk.act(CameraMove::Format(other));
    assert_eq!(desk.search().outdated, Some("the requirements have changed"), "{:?}", desk.notices().last());
}

#[test]
fn desks_leave_a_search_and_say_what_cannot_be_looked_for() {
    let mut desk = desk(0);
    desk.act(SettingAction::ShowDesk(DeskName::Search));
    requirement(&mut desk, |criteria| criteria.spacing_m = 0.75);
    desk.act(SearchAction::Start);
    assert!(desk.search().running.is_some());
    // The first, coarse map is shown while the search goes on.
    let start = Instant::now();
    while desk.search().map.is_none() {
        assert!(start.elapsed() < PATIENCE, "no first map");
        std::thread::sleep(Duration::from_millis(5));
        desk.catch_up();
    }
    assert!(desk.search().map.is_some_and(|map| map.step() > 1));
    assert!(desk.act(SearchAction::Stop));
    let view = desk.search();
    assert!(view.running.is_none() && view.stopped && view.answer.is_none());
    assert!(desk.settle(PATIENCE), "a search that was left goes on");
    assert!(desk.search().answer.is_none());
    // Two hundred million places: refused with the numbers before anything is built.
    requirement(&mut desk, |criteria| (criteria.spacing_m, criteria.distance_m) = (0.02, (1.0, 1000.0)));
    let refused = desk.search().asked.expect_err("too many");
    assert!(refused.contains("places of 0.02 m"), "{refused}");
    desk.act(SearchAction::Start);
    assert_eq!(desk.search().failed, Some(refused.as_str()));
    requirement(&mut desk, |criteria| (criteria.spacing_m, criteria.lenses) = (5.0, Vec::new()));
    assert!(desk.search().asked.is_err_and(|words| words.starts_with("lenses: 0 are given")));
}

#[test]
fn desks_tell_what_remains_on_the_day() {
    let mut desk = desk(0);
    desk.act(SettingAction::ShowDesk(DeskName::Search));
    let subject = desk.survey().subject.as_ref().expect("a subject").blocks.clone();
    let blocks = &desk.survey().model.site.blocks;
    let other = (0..blocks.len()).find(|index| !subject.contains(index)).expect("another block");
    let name = blocks[other].name.clone();
    let mut seeking = desk.search().request;
    (seeking.criteria, seeking.may_come) = (quick(&desk), vec![name.clone()]);
    desk.act(SearchAction::Change(Box::new(seeking)));
    desk.act(SearchAction::Start);
    assert!(desk.settle(PATIENCE));
    let view = desk.search();
    let (answer, remains) = (view.answer.expect("found"), view.remains.expect("told"));
    assert_eq!((remains.with.as_slice(), remains.met_without), ([name].as_slice(), answer.met));
    assert!(remains.met <= remains.met_without && remains.listed.len() <= answer.ranked.len());
    assert!(view.pictures.iter().all(Option::is_some));
}

#[test]
fn desks_are_searched_by_name() {
    let mut desk = searched(0);
    desk.act(SearchAction::ShowFigure(MapFigure::Detail));
    let best = desk.search().answer.expect("found").ranked[0].stance.clone();
    let place = desk.search().answer.expect("found").ranked[0].place.words(desk.settings().units);
    let mut harness = seat(desk, 1440.0, 860.0);
    harness.state_mut().acts = false;
    asked(&mut harness);
    harness.get_by_label("go to standpoint 1").click();
    harness.run_steps(3);
    assert_eq!(asked(&mut harness), [CameraMove::TakeUp(Box::new(best.clone())).into()]);
    harness.get_by_label("walk to standpoint 1").click();
    harness.run_steps(3);
    assert_eq!(asked(&mut harness).last(), Some(&SettingAction::ShowDesk(DeskName::Walk).into()));
    harness.get_by_label("pin standpoint 1").click();
    harness.run_steps(3);
    let pinned = plumbsight::site::Stance { name: place, ..best.clone() };
    assert_eq!(asked(&mut harness), [PrintAction::PinStance(Box::new(pinned)).into()]);
    harness.get_by_label_contains("go to standpoint 1:").click();
    harness.run_steps(3);
    assert_eq!(asked(&mut harness), [CameraMove::TakeUp(Box::new(best)).into()]);
    harness.get_by_label("Search again").click();
    harness.run_steps(3);
    assert_eq!(asked(&mut harness), [SearchAction::Start.into()]);
    let legend = harness.get_by_label_contains("map of Lowest detail, px/m, from 0");
    assert!(spoken(&legend).contains("hatched: closed"));
    // A requirement is set by keys alone.
    harness.get_by_label("largest lean at most").focus();
    harness.run_steps(2);
    harness.key_press(egui::Key::ArrowLeft);
    harness.run_steps(2);
    let asked = asked(&mut harness);
    let Some(Action::Search(SearchAction::Change(seeking))) = asked.first() else { panic!("{asked:?}") };
    assert_eq!(seeking.criteria.largest_lean_deg, Some(15.0));
}

#[test]
fn desks_show_the_trade_and_what_rules_out() {
    let desk = searched(0);
    let front = desk.search().answer.expect("found").front[0].stance.clone();
    let mut harness = seat(desk, 1440.0, 860.0);
    harness.state_mut().acts = false;
    harness.get_by_label("results: Trade-offs").click();
    harness.run_steps(4);
    asked(&mut harness);
    assert!(harness.query_by_label_contains("trade-offs: largest lean against detail").is_some());
    harness.query_all_by_label_contains("go to: ").next().expect("a row").click();
    harness.run_steps(3);
    assert_eq!(asked(&mut harness), [CameraMove::TakeUp(Box::new(front)).into()]);
    harness.get_by_label("results: Exclusions").click();
    harness.run_steps(4);
    assert!(harness.query_all_by_label_contains("of the subject seen: excludes").next().is_some());
    assert!(harness.query_all_by_label_contains("What to pack").next().is_some());
}

/// A desk that hands a kind of thing over, into a folder of its own.
fn handing_over(scene: usize, kind: DeliveryKind, folder: &std::path::Path) -> Desk {
    let mut desk = desk(scene);
    for stance in desk.survey().model.site.stances.clone().iter().take(3) {
        desk.act(CameraMove::TakeUp(Box::new(stance.clone())));
        desk.act(PrintAction::Pin);
    }
    desk.act(DeliveryAction::Folder(folder.into()));
    desk.act(SettingAction::ShowDesk(DeskName::HandOver));
    desk.act(DeliveryAction::ShowPage(kind));
    let options = DeliveryOptions { day: "2026-06-21".parse().ok(), ..desk.delivery().options.clone() };
    desk.act(DeliveryAction::SetOptions(Box::new(options)));
    desk
}

#[test]
fn desks_write_the_card_that_they_show_and_nothing_over_another() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut desk = handing_over(0, DeliveryKind::Card, folder.path());
    assert!(desk.settle(PATIENCE));
    let Some(Ok(Prepared::Card(card))) = desk.delivery().prepared.cloned() else {
        panic!("{:?}", desk.delivery().prepared)
    };
    // It is the core's card of this stance.
    let survey = desk.survey().clone();
    let criteria = *desk.measure_settings();
    let measured = survey.measure(desk.stance(), &criteria).expect("a stance");
    let day = "2026-06-21".parse().expect("a day");
    let request = CardRequest {
        stance: desk.stance().clone(),
        settings: criteria,
        paper: Paper::default(),
        document: DocumentSettings::on(day),
    };
    let core = field_card(&survey, &request, &measured, &Progress::unwatched()).expect("a card");
    assert!(*card == core, "the window shows another card than the core makes");
    desk.act(DeliveryAction::Write(DeliveryForm::Card(PageForm::Html)));
    assert!(desk.settle(PATIENCE));
    let written = listing(folder.path());
    let [name] = written.as_slice() else { panic!("{written:?}: {:?}", desk.notices().last()) };
    assert!(name.ends_with("-card.html"), "{name}");
    let page = std::fs::read_to_string(folder.path().join(name)).expect("read");
    assert_eq!(page, core.html().expect("a page"));
    // Once more: it is in the way, and stays as it is until somebody decides.
    std::fs::write(folder.path().join(name), "mine").expect("written");
    desk.act(DeliveryAction::Write(DeliveryForm::Card(PageForm::Html)));
    assert!(desk.settle(PATIENCE));
    assert!(desk.delivery().in_the_way.is_some_and(|there| there.path.ends_with(name)));
    desk.act(DeliveryAction::Resolve(None));
    assert!(desk.settle(PATIENCE) && desk.delivery().in_the_way.is_none());
    assert_eq!(std::fs::read_to_string(folder.path().join(name)).expect("read"), "mine");
    desk.act(DeliveryAction::Write(DeliveryForm::Card(PageForm::Html)));
    desk.act(DeliveryAction::Resolve(Some(IfExists::KeepBoth)));
    assert!(desk.settle(PATIENCE));
    assert_eq!(std::fs::read_to_string(folder.path().join(name)).expect("read"), "mine");
    assert_eq!(listing(folder.path()).len(), 2);
    desk.act(DeliveryAction::Write(DeliveryForm::Card(PageForm::Html)));
    desk.act(DeliveryAction::Resolve(Some(IfExists::Replace)));
    assert!(desk.settle(PATIENCE));
    assert_eq!(std::fs::read_to_string(folder.path().join(name)).expect("read"), page);
    assert_eq!(desk.delivery().written.len(), 2);
}

#[test]
fn desks_place_what_goes_in_and_tell_where_nothing_can_be_placed() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut desk = handing_over(0, DeliveryKind::Places, folder.path());
    let first = desk.prints()[0].print.clone();
    let options = DeliveryOptions { left_out: vec![first.id], ..desk.delivery().options.clone() };
    desk.act(DeliveryAction::SetOptions(Box::new(options)));
    assert!(desk.settle(PATIENCE));
    let Some(Ok(Prepared::Places(places))) = desk.delivery().prepared.cloned() else {
        panic!("{:?}", desk.delivery().prepared)
    };
    assert_eq!(places.stances.len(), desk.prints().len() - 1);
    assert!(places.stances.iter().all(|stance| stance.name != first.name));
    for form in [PlacesForm::Gpx, PlacesForm::Kml, PlacesForm::GeoJson] {
        desk.act(DeliveryAction::Write(DeliveryForm::Places(form)));
        assert!(desk.settle(PATIENCE));
    }
    let written = listing(folder.path());
    assert_eq!(written.len(), 3, "{written:?}: {:?}", desk.notices().last());
    for name in &written {
        let form = PlacesForm::of(std::path::Path::new(name)).expect("its ending says so");
        let text = std::fs::read_to_string(folder.path().join(name)).expect("read");
        assert_eq!(text, places.to_text(form));
    }
    // A folder that cannot be: told, and nothing written.
    let file = folder.path().join(&written[0]);
    desk.act(DeliveryAction::Folder(file.join("inside")));
    desk.act(DeliveryAction::Write(DeliveryForm::Places(PlacesForm::Gpx)));
    assert!(desk.settle(PATIENCE));
    let told = desk.notices().last().expect("told").clone();
    assert_eq!(told.kind, NoticeKind::Error, "{}", told.text);
    assert!(told.text.contains("inside"), "{}", told.text);
}

#[test]
fn desks_hand_a_sheet_over_with_the_users_own_title() {
    let folder = tempfile::tempdir().expect("a folder");
    let brand = folder.path().join("mine.ron");
    std::fs::write(&brand, "(name: \"Yard Pictures\", title: \"Not this one\")").expect("written");
    let home = folder.path().join("out");
    let mut desk = handing_over(0, DeliveryKind::Sheet, &home);
    desk.act(DeliveryAction::Brand(Some(brand.clone())));
    let keep = desk.prints()[0].print.id;
    let left_out = desk.prints().iter().map(|pinned| pinned.print.id).filter(|id| *id != keep).collect();
    let options = DeliveryOptions {
        left_out,
        title: "The stack, seen from the yard".into(),
        headline: "So steht er gerade.".into(),
        said: vec![(keep, "Hier ist Platz.".into())],
        words: "de".into(),
        ..desk.delivery().options.clone()
    };
    desk.act(DeliveryAction::SetOptions(Box::new(options)));
    assert!(desk.settle(PATIENCE));
    let Some(Ok(Prepared::Sheet(sheet))) = desk.delivery().prepared.cloned() else {
        panic!("{:?}", desk.delivery().prepared)
    };
    assert_eq!((&*sheet.title, sheet.chosen.number), ("The stack, seen from the yard", 1));
    assert!(sheet.second.is_none() && sheet.others.is_empty());
    // In the planner's words and the client's language.
    assert_eq!((&*sheet.headline, &*sheet.why), ("So steht er gerade.", "Hier ist Platz."));
    assert!(sheet.html().expect("a page").contains("<html lang=\"de\">"));
    desk.act(DeliveryAction::Write(DeliveryForm::Sheet));
    assert!(desk.settle(PATIENCE));
    let written = listing(&home);
    let [name] = written.as_slice() else { panic!("{written:?}: {:?}", desk.notices().last()) };
    assert_eq!(listing(&home.join(name)), ["sheet.html", "sheet.pdf"]);
    let page = std::fs::read_to_string(home.join(name).join("sheet.html")).expect("read");
    assert!(page.contains("Yard Pictures") && page.contains("The stack, seen from the yard"));
    // What is wrong with the file is told in its place.
    std::fs::write(&brand, "(\n  nmae: \"x\")").expect("written");
    desk.act(DeliveryAction::Brand(None));
    desk.act(DeliveryAction::Brand(Some(brand)));
    assert!(desk.settle(PATIENCE));
    assert!(
        matches!(desk.delivery().prepared, Some(Err(told)) if told.contains("mine.ron:2:")),
        "{:?}",
        desk.delivery().prepared
    );
    let options = DeliveryOptions {
        left_out: desk.prints().iter().map(|pinned| pinned.print.id).collect(),
        brand: None,
        ..desk.delivery().options.clone()
    };
    desk.act(DeliveryAction::SetOptions(Box::new(options)));
    assert!(desk.settle(PATIENCE));
    assert!(matches!(desk.delivery().prepared, Some(Err(told)) if told.contains("no print is included")));
}

#[test]
fn desks_picture_the_way_between_two_prints() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut desk = handing_over(2, DeliveryKind::Sequence, folder.path());
    let prints: Vec<_> = desk.prints().iter().map(|pinned| pinned.print.id).collect();
    // The first two prints between which there is a way.
    let mut pairs = prints.iter().flat_map(|from| prints.iter().map(move |to| (*from, *to))).filter(|(a, b)| a != b);
    let found = pairs.find(|(from, to)| {
        let options = DeliveryOptions {
            ends: [Some(*from), Some(*to)],
            frames: 3,
            width_px: 96,
            ..desk.delivery().options.clone()
        };
        desk.act(DeliveryAction::SetOptions(Box::new(options)));
        assert!(desk.settle(PATIENCE));
        matches!(desk.delivery().prepared, Some(Ok(_)))
    });
    assert!(found.is_some(), "{:?}", desk.delivery().prepared);
    let Some(Ok(Prepared::Sequence(steps))) = desk.delivery().prepared.cloned() else {
        panic!("{:?}", desk.delivery().prepared)
    };
    assert_eq!(steps.len(), 3);
    desk.act(DeliveryAction::Write(DeliveryForm::Sequence));
    assert!(desk.settle(PATIENCE));
    let written = listing(folder.path());
    let [name] = written.as_slice() else { panic!("{written:?}: {:?}", desk.notices().last()) };
    let frames = listing(&folder.path().join(name));
    assert_eq!(frames, ["animated.png", "frame-001.png", "frame-002.png", "frame-003.png", "frames.csv"]);
    // Called off: nothing is left.
    let options = DeliveryOptions { frames: 200, width_px: 960, ..desk.delivery().options.clone() };
    desk.act(DeliveryAction::SetOptions(Box::new(options)));
    desk.act(DeliveryAction::Write(DeliveryForm::Sequence));
    desk.act(DeliveryAction::Resolve(Some(IfExists::KeepBoth)));
    let work = desk.works().first().expect("it is being written").id;
    desk.act(WorkAction::Cancel(work));
    assert!(desk.settle(PATIENCE));
    assert_eq!(listing(folder.path()), written);
    assert!(desk.notices().last().is_some_and(|notice| notice.text.contains("cancelled")));
}

#[test]
fn desks_ask_for_a_folder_and_go_on() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut desk = busy_desk(0);
    desk.act(SettingAction::ShowDesk(DeskName::HandOver));
    desk.act(DeliveryAction::ShowPage(DeliveryKind::Places));
    desk.act(DeliveryAction::Write(DeliveryForm::Places(PlacesForm::GeoJson)));
    assert_eq!(desk.asking(), Some(PathQuestion::Folder));
    desk.act(DeliveryAction::Folder(folder.path().into()));
    assert!(desk.settle(PATIENCE));
    assert_eq!(listing(folder.path()).len(), 1);
}

#[test]
fn desks_hand_over_by_name() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut desk = handing_over(0, DeliveryKind::Card, folder.path());
    assert!(desk.settle(PATIENCE));
    let mut harness = seat(desk, 1440.0, 860.0);
    harness.state_mut().acts = false;
    asked(&mut harness);
    for (name, action) in [
        ("Save for phone", DeliveryAction::Write(DeliveryForm::Card(PageForm::Html)).into()),
        ("Save for paper", DeliveryAction::Write(DeliveryForm::Card(PageForm::Pdf)).into()),
        ("hand over: Maps and GPS", DeliveryAction::ShowPage(DeliveryKind::Places).into()),
        ("Choose folder…", DeliveryAction::ChooseFolder.into()),
    ] {
        harness.get_by_label(name).click();
        harness.run_steps(3);
        let asked = asked(&mut harness);
        assert!(asked.contains(&action), "'{name}' asked for {asked:?}");
    }
    // The very page stands in the window, with its words.
    assert!(harness.query_by_label_contains("Before you press").is_some());
    // What is in the way is asked about.
    harness.state_mut().acts = true;
    harness.state_mut().desk.act(DeliveryAction::ShowPage(DeliveryKind::Places));
    for _ in 0..2 {
        harness.state_mut().desk.act(DeliveryAction::Write(DeliveryForm::Places(PlacesForm::Gpx)));
        assert!(harness.state_mut().desk.settle(PATIENCE));
    }
    harness.run_steps(4);
    harness.state_mut().acts = false;
    asked(&mut harness);
    harness.get_by_label("Replace").click();
    harness.run_steps(3);
    assert_eq!(asked(&mut harness), [DeliveryAction::Resolve(Some(IfExists::Replace)).into()]);
}

#[test]
fn desks_lay_the_first_two_prints_side_by_side() {
    let mut desk = desk(0);
    let stances = desk.survey().model.site.stances.clone();
    for stance in stances.iter().take(3) {
        desk.act(CameraMove::TakeUp(Box::new(stance.clone())));
        desk.act(PrintAction::Pin);
    }
    let laid: Vec<_> = desk.laid().map(|pinned| pinned.print.id).collect();
    let prints: Vec<_> = desk.prints().iter().map(|pinned| pinned.print.id).collect();
    assert_eq!(laid, prints[..2]);
    for id in laid {
        desk.act(PrintAction::Lay(id, false));
    }
    desk.act(SettingAction::ShowDesk(DeskName::Compare));
    assert_eq!(desk.laid().count(), 2);
}
