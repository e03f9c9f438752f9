//! Does the window show the light of a day as the core has it, and can everything new on the Build desk be done by hand?

use std::path::PathBuf;
use std::time::Duration;

use bevy_egui::egui::{self, Vec2};
use egui_kittest::kittest::Queryable;
use plumbsight::cautions::CautionKind;
use plumbsight::handover::deliver::{DayForm, DeliveryForm, DeliveryKind, PageForm, Prepared};
use plumbsight::light::{FaceLight, LightLimits, LightRequirement, Moment, Shade, Sky};
use plumbsight::search::LightWhen;
use plumbsight::site::{Access, Shape, Support, Terrain, is_bare, parse_site};
use plumbsight::viewer::state::desk::{
    BuildAction, CameraMove, DeliveryAction, Desk, DeskName, LightAction, Picked, SettingAction, SiteChange,
};

use crate::building::{Place, plan_rect, press, saved};
use crate::panels::{Seat, seat};

const PATIENCE: Duration = Duration::from_secs(60);

fn on(desk: Desk, name: DeskName) -> egui_kittest::Harness<'static, Seat> {
    let mut desk = desk;
    desk.act(SettingAction::Guide(false));
    desk.act(SettingAction::ShowDesk(name));
    desk.rest();
    seat(desk, 1440.0, 860.0)
}

#[test]
fn the_strip_of_the_day_sets_the_sun_as_the_core_has_it() {
    let mut harness = on(Place::new().mine(), DeskName::Walk);
    let sky = Sky::over(&harness.state().desk.survey().model.site).expect("anchored");
    let noon = sky.zone().read("2026-06-21T12:00:00+01:00").expect("a moment").moment;
    harness.state_mut().desk.act(LightAction::Show(noon));
    assert_eq!(harness.state().desk.sun(), Some(sky.sun(noon).seen()));
    harness.run_steps(2);
    harness.get_by_label("position of the sun").click();
    harness.run_steps(4);
    assert!(harness.state_mut().desk.settle(PATIENCE));
    harness.run_steps(4);
    // Dragged from noon to the right by a sixth of its width: four hours later, to the minute.
    let strip = harness.get_by_label("hour of the day").rect().shrink2(Vec2::new(8.0, 0.0));
    let at = |share: f32| strip.left_center() + Vec2::new(share * strip.width(), 0.0);
    crate::building::drag(&mut harness, at(0.5), at(0.5 + 1.0 / 6.0), egui::Modifiers::NONE);
    let shown = harness.state().desk.light().moment.expect("a moment");
    let later_min = shown.seconds_since(noon) / 60.0;
    assert!((later_min - 240.0).abs() < 4.0, "{later_min}");
    assert_eq!(later_min.fract(), 0.0);
    assert_eq!(harness.state().desk.sun(), Some(sky.sun(shown).seen()));
    // The sun that is set by hand is no moment's.
    let dial = plumbsight::site::Sun { azimuth_deg: 90.0, altitude_deg: 30.0 };
    harness.state_mut().desk.act(plumbsight::viewer::state::desk::CameraAction::Sun(Some(dial)));
    assert_eq!(harness.state().desk.light().moment, None);
}

#[test]
fn the_days_light_on_the_front_is_the_cores_and_the_next_such_light_is_found() {
    let mut desk = Place::new().mine();
    desk.rest();
    let sky = Sky::over(&desk.survey().model.site).expect("anchored");
    let start = sky.zone().read("2026-03-10T09:00:00Z").expect("a moment").moment;
    desk.act(LightAction::Show(start));
    desk.act(LightAction::LookAtDay);
    assert!(desk.settle(PATIENCE));
    desk.act(LightAction::LookAtYear);
    assert!(desk.settle(PATIENCE));
    let survey = std::sync::Arc::clone(desk.survey());
    let shade = Shade { sight: &survey.sight, limits: LightLimits::default() };
    let day = desk.light().day.expect("known").clone();
    let (face, spans) = day.front.as_ref().expect("a subject");
    // Brute force: each half hour as it is asked by itself.
    for half in 0..48_u8 {
        let moment = sky.zone().at(sky.zone().clock(start).day, half / 2, 30 * (half % 2)).expect("there").moment;
        let light = face.lighting(&sky.sun(moment), &shade).light;
        assert_eq!(day.light_at(moment), Some(light), "{}", sky.zone().minutes(moment));
    }
    assert!(spans.iter().any(|span| span.light.has_sun()));
    let year = desk.light().year.expect("known");
    let of_day = year.days.iter().find(|found| found.day == day.sun.day).expect("in the year");
    let noon = face.lighting(&sky.sun(of_day.start.plus_s(43_200.0)), &shade).light;
    assert_eq!(of_day.lights[usize::try_from(12 * 60 / year.step_min).expect("small")], noon);
    // The next light that is asked for, and none that cannot be.
    desk.act(LightAction::FindNext(LightRequirement {
        lit: true,
        from_minute: Some(900),
        ..LightRequirement::default()
    }));
    assert!(desk.settle(PATIENCE));
    let found = desk.light().moment.expect("a moment");
    assert!(found > start && sky.zone().clock(found).hour >= 15);
    assert!(matches!(face.lighting(&sky.sun(found), &shade).light, FaceLight::Lit | FaceLight::Grazing));
    let never = LightRequirement { from_minute: Some(600), before_minute: Some(600), ..LightRequirement::default() };
    desk.act(LightAction::FindNext(never));
    assert!(desk.settle(PATIENCE));
    assert!(desk.notices().iter().any(|notice| notice.text.contains("no such light")), "{:?}", desk.notices());
    assert_eq!(desk.light().moment, Some(found));
}

#[test]
fn trees_out_of_season_are_told_and_turned() {
    let place = Place::new();
    let mut harness = on(place.mine(), DeskName::Walk);
    let sky = Sky::over(&harness.state().desk.survey().model.site).expect("anchored");
    let show = |harness: &mut egui_kittest::Harness<'static, Seat>, day: &str| {
        let noon = sky.zone().read(&format!("{day}T12:00")).expect("a moment").moment;
        harness.state_mut().desk.act(LightAction::Show(noon));
        harness.run_steps(4);
    };
    harness.get_by_label("position of the sun").click();
    show(&mut harness, "2026-07-15");
    let told = |harness: &egui_kittest::Harness<'static, Seat>| harness.query_by_label_contains("bare then").is_some();
    assert!(!told(&harness));
    show(&mut harness, "2026-01-15");
    assert!(told(&harness));
    harness.get_by_label("bare trees").click();
    harness.run_steps(4);
    assert!(!told(&harness));
    let all_bare =
        harness.state().desk.survey().model.site.blocks.iter().all(|block| is_bare(&block.shape) != Some(false));
    assert!(all_bare);
    show(&mut harness, "2026-07-15");
    assert!(harness.query_by_label_contains("in leaf then").is_some());
}

/// Half past ten of a June morning with the tide coming in, by a table that lies at the place.
fn in_the_tide(place: &Place, desk: &mut Desk) -> (Moment, PathBuf) {
    desk.rest();
    let sky = Sky::over(&desk.survey().model.site).expect("anchored");
    let moment = sky.zone().read("2026-06-21T10:30:00+01:00").expect("a moment").moment;
    let tides = place.path("tides.csv");
    std::fs::write(&tides, "2026-06-21T06:00,-2\n2026-06-21T12:00,3\n2026-06-21T18:00,-2\n").expect("written");
    desk.act(LightAction::Show(moment));
    desk.act(LightAction::Tide(Some(tides.clone())));
    (moment, tides)
}

#[test]
fn the_water_stands_on_the_site_as_the_tide_has_it() {
    let place = Place::new();
    let mut desk = place.mine();
    desk.rest();
    let filed_m = desk.survey().model.site.water_level_m;
    let dry_version = desk.site_version();
    let warned = |desk: &Desk| desk.measured().cautions.iter().any(|caution| caution.kind == CautionKind::Water);
    assert!(!warned(&desk));
    let (moment, _) = in_the_tide(&place, &mut desk);
    desk.rest();
    // 2.27 m by the rule of the cosine, see below.
    assert_eq!(desk.survey().model.site.water_level_m, Some(2.27));
    assert_eq!(desk.filed_survey().model.site.water_level_m, filed_m);
    assert!(desk.site_version() > dry_version && warned(&desk));
    let footing = desk.measured().standing.footing.clone().expect("something");
    assert_eq!((footing.support, footing.height_m), (Support::Water, 2.27));
    // Whoever walks meets it too.
    desk.act(CameraMove::Walk { ahead_m: -1.0, right_m: 0.0 });
    desk.rest();
    assert!(warned(&desk));
    // At low water the same ground is dry.
    desk.act(LightAction::Show(moment.plus_s(-4.5 * 3600.0)));
    desk.rest();
    assert_eq!(desk.survey().model.site.water_level_m, Some(-2.0));
    assert!(!warned(&desk));
    // A change of the site does not write the tide into its file.
    desk.act(LightAction::Show(moment));
    desk.rest();
    desk.act(BuildAction::Change(SiteChange::SetName("tidal".into()), None));
    desk.rest();
    assert_eq!(desk.survey().model.site.water_level_m, Some(2.27));
    saved(&mut desk);
    let written = parse_site(&place.on_disk(), "mine.site.ron").expect("a site");
    assert_eq!((written.name.as_str(), written.water_level_m), ("tidal", filed_m));
    desk.act(LightAction::Tide(None));
    desk.rest();
    assert_eq!(desk.survey().model.site.water_level_m, filed_m);
}

#[test]
fn the_planned_moment_and_the_tides_come_back_with_the_site() {
    let place = Place::new();
    let mut desk = place.mine();
    let (moment, tides) = in_the_tide(&place, &mut desk);
    desk.rest();
    let sky = Sky::over(&desk.survey().model.site).expect("anchored");
    let level = |desk: &Desk| desk.light().water.expect("known").level_m.expect("in reach");
    // By hand: three quarters of the way in time, half a cosine up five metres.
    let by_hand_m = -2.0 + 5.0 * 0.5 * (1.0 - (0.75 * std::f64::consts::PI).cos());
    assert!((level(&desk) - by_hand_m).abs() < 1e-9);
    let planned = desk.measured().planned.clone().expect("planned");
    assert_eq!((planned.moment, desk.sun()), (moment, Some(sky.sun(moment).seen())));
    drop(desk);
    let mut desk = place.mine();
    desk.rest();
    assert_eq!(desk.light().moment, Some(moment));
    assert_eq!(desk.measured().planned.as_ref(), Some(&planned));
    assert!((level(&desk) - by_hand_m).abs() < 1e-9);
    // A table that is none is told with its line, and the one before stays.
    let bad = place.path("bad.csv");
    std::fs::write(&bad, "2026-06-21T06:00,1\n2026-06-21T03:00,2\n").expect("written");
    desk.act(LightAction::Tide(Some(bad)));
    desk.rest();
    assert!(desk.notices().iter().any(|notice| notice.text.contains("line 2")), "{:?}", desk.notices());
    assert_eq!(desk.light().water.expect("known").path, tides);
    desk.act(LightAction::Tide(None));
    desk.rest();
    assert!(desk.light().water.is_none());
}

#[test]
fn light_and_tide_are_asked_for_on_the_search_desk() {
    let place = Place::new();
    let mut desk = place.mine();
    in_the_tide(&place, &mut desk);
    let mut harness = on(desk, DeskName::Search);
    harness.run_steps(4);
    let asked = |harness: &egui_kittest::Harness<'static, Seat>| harness.state().desk.search().request.criteria.clone();
    assert_eq!(asked(&harness).light, None);
    harness.get_by_label("light: From 10:30 on 2026-06-21").click();
    harness.run_steps(4);
    let light = asked(&harness).light.expect("asked for");
    assert_eq!(light.when, LightWhen::From("2026-06-21T10:30:00+01:00".into()));
    harness.get_by_label("light: All its month").click();
    harness.run_steps(4);
    let LightWhen::Days { first, last, from_minute, to_minute } = asked(&harness).light.expect("asked for").when else {
        panic!("days")
    };
    assert_eq!((first.to_string(), last.to_string()), ("2026-06-01".into(), "2026-06-30".into()));
    assert!(from_minute < to_minute);
    harness.get_by_label_contains("Water at ").click();
    harness.run_steps(4);
    let level_m = harness.state().desk.light().water.expect("known").level_m;
    assert_eq!(asked(&harness).water_level_m, level_m);
    harness.get_by_label("light: Any light").click();
    harness.run_steps(4);
    assert_eq!(asked(&harness).light, None);
}

#[test]
fn the_order_of_the_day_is_handed_over_in_every_form() {
    let place = Place::new();
    let mut desk = place.mine();
    desk.rest();
    let out = place.path("out");
    desk.act(DeliveryAction::Folder(out.clone()));
    desk.act(SettingAction::ShowDesk(DeskName::HandOver));
    desk.act(DeliveryAction::ShowPage(DeliveryKind::Day));
    let mut options = desk.delivery().options.clone();
    options.day = Some("2026-06-21".parse().expect("a day"));
    options.day_order.wanted = plumbsight::day::WantedLight::Daylight;
    desk.act(DeliveryAction::SetOptions(Box::new(options)));
    assert!(desk.settle(PATIENCE));
    let prepared = desk.delivery().prepared.expect("prepared").as_ref().expect("in order").clone();
    let Prepared::Day(pages) = &prepared else { panic!("{prepared:?}") };
    for form in [DayForm::Page(PageForm::Html), DayForm::Page(PageForm::Pdf), DayForm::Calendar, DayForm::Route] {
        desk.act(DeliveryAction::Write(DeliveryForm::Day(form)));
        assert!(desk.settle(PATIENCE));
    }
    let mut endings: Vec<String> = std::fs::read_dir(&out)
        .expect("a folder")
        .map(|entry| entry.expect("an entry").path().extension().expect("an ending").to_string_lossy().into_owned())
        .collect();
    endings.sort();
    assert_eq!(endings, ["gpx", "html", "ics", "pdf"], "{:?}", desk.notices());
    let written = |ending: &str| {
        let path = std::fs::read_dir(&out).expect("a folder").map(|entry| entry.expect("an entry").path());
        let path = path.into_iter().find(|path| path.extension().is_some_and(|found| found == ending));
        std::fs::read_to_string(path.expect("there")).expect("text")
    };
    assert_eq!(written("ics"), pages.calendar());
    assert_eq!(written("gpx"), pages.route());
    let html = written("html");
    for visit in &pages.plan.visits {
        assert!(html.contains(&visit.stance.name), "{}", visit.stance.name);
    }
    assert!(html.contains("Sunrise") && html.contains("Order of the day"));
}

/// A tower on level ground, nowhere on the Earth.
fn plain_site() -> Place {
    let place = Place::new();
    std::fs::write(
        place.path("mine.site.ron"),
        "(format: 1, name: \"x\", blocks: [(name: \"tower\", subject: true, at: (0, 0), shape: Box(width_m: 4, depth_m: 4, height_m: 20))], stances: [(name: \"a\", at: (0, -30), lens: \"24 mm\")])",
    )
    .expect("written");
    place
}

#[test]
fn a_site_without_a_place_on_the_earth_gets_one_on_the_build_desk() {
    let mut desk = plain_site().mine();
    desk.rest();
    assert!(desk.light().sky.is_err());
    desk.act(LightAction::LookAtDay);
    assert!(desk.notices().iter().any(|notice| notice.text.contains("anchor")), "{:?}", desk.notices());
    let anchor =
        plumbsight::site::Anchor { latitude_deg: 48.2, longitude_deg: 16.37, height_m: 0.0, vertical_datum: None };
    desk.act(BuildAction::Change(SiteChange::SetPlace(Some(anchor), Some("Europe/Vienna".into())), None));
    desk.rest();
    assert_eq!(desk.light().sky.expect("anchored").zone().name(), "Europe/Vienna");
    let text = desk.site_text().expect("open");
    assert_eq!(parse_site(text, "x").expect("good").time_zone.as_deref(), Some("Europe/Vienna"));
    // Of a zone that is none it is told where the day would be.
    let site = desk.survey().model.site.clone();
    desk.act(BuildAction::Change(SiteChange::SetPlace(site.anchor, Some("Europe/Nowhere".into())), None));
    desk.rest();
    assert!(desk.light().sky.is_err_and(|why| why.contains("Europe/Nowhere")));
}

#[test]
fn blocks_are_kept_together_by_a_press_and_taken_apart() {
    let mut harness = on(Place::new().mine(), DeskName::Build);
    let names = ["engine house", "stack"];
    let numbers: Vec<usize> = {
        let blocks = &harness.state().desk.survey().model.site.blocks;
        let found = |name: &str| blocks.iter().position(|block| block.name == name);
        names.iter().filter_map(|name| found(name)).collect()
    };
    let numbers = if numbers.len() == 2 { numbers } else { vec![0, 1] };
    harness.state_mut().desk.act(BuildAction::Choose(numbers.iter().map(|index| Picked::Block(*index)).collect()));
    harness.run_steps(4);
    harness.get_by_label("keep together").click();
    harness.run_steps(4);
    let together = |harness: &egui_kittest::Harness<'_, Seat>| -> Vec<Option<String>> {
        let blocks = &harness.state().desk.survey().model.site.blocks;
        numbers.iter().map(|index| blocks[*index].together.clone()).collect()
    };
    let set = together(&harness);
    assert!(set[0].is_some() && set[0] == set[1], "{set:?}");
    harness.get_by_label("take apart").click();
    harness.run_steps(4);
    assert_eq!(together(&harness), [None, None]);
}

#[test]
fn paths_kerbs_and_contours_are_drawn_on_the_plan() {
    let place = plain_site();
    let mut harness = on(place.mine(), DeskName::Build);
    let rect = plan_rect(&harness);
    let spot = |across: f32, down: f32| rect.min + Vec2::new(across * rect.width(), down * rect.height());
    let (grounds, blocks) = {
        let site = &harness.state().desk.survey().model.site;
        (site.grounds.len(), site.blocks.len())
    };
    let draw = |harness: &mut egui_kittest::Harness<'_, Seat>, what: &str, places: &[(f32, f32)]| {
        harness.get_by_label(what).click();
        harness.run_steps(2);
        for (across, down) in places {
            press(harness, spot(*across, *down));
        }
        harness.key_press(egui::Key::Enter);
        harness.run_steps(4);
    };
    draw(&mut harness, "draw: path", &[(0.5, 0.8), (0.6, 0.8), (0.7, 0.9)]);
    draw(&mut harness, "draw: kerb", &[(0.5, 0.7), (0.7, 0.7)]);
    let site = harness.state().desk.survey().model.site.clone();
    assert_eq!((site.grounds.len(), site.blocks.len()), (grounds + 1, blocks + 1));
    let path = site.grounds.last().expect("a path");
    assert_eq!((path.access, path.outline.len()), (Access::Open, 6));
    assert!(matches!(site.blocks.last().expect("a kerb").shape, Shape::Wall { height_m: 0.12, .. }));
    // Two contours a metre apart make a slope between them.
    draw(&mut harness, "draw: contour", &[(0.4, 0.2), (0.4, 0.5)]);
    // The pen stays in the hand for the next one.
    for (across, down) in [(0.8, 0.2), (0.8, 0.5)] {
        press(&mut harness, spot(across, down));
    }
    harness.key_press(egui::Key::Enter);
    harness.run_steps(4);
    harness.get_by_label_contains("Shape the ground so").click();
    harness.run_steps(4);
    let terrain = &harness.state().desk.survey().model.site.terrain;
    let Terrain::Grid(grid) = terrain else { panic!("{terrain:?}, {:?}", harness.state().desk.notices()) };
    let heights: Vec<f64> = grid.rows.iter().flatten().copied().collect();
    let (low, high) =
        heights.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), m| (low.min(*m), high.max(*m)));
    assert!(low.abs() < 1e-9 && (high - 1.0).abs() < 1e-9, "{low} {high}");
}

#[test]
fn footprints_and_heights_join_the_site_from_a_file() {
    let place = Place::new();
    let mut desk = place.mine();
    let before = desk.survey().model.site.blocks.len();
    let anchor = desk.survey().model.site.anchor.clone().expect("anchored");
    let (latitude, longitude) = (anchor.latitude_deg, anchor.longitude_deg);
    let square = |east: f64| {
        let corner = |x: f64, y: f64| format!("[{}, {}]", longitude + east + x, latitude + y);
        let ring = [corner(0.0, 0.0), corner(1e-4, 0.0), corner(1e-4, 1e-4), corner(0.0, 1e-4), corner(0.0, 0.0)];
        format!(
            "{{\"type\": \"Feature\", \"properties\": {{\"height\": 7}}, \"geometry\": {{\"type\": \"Polygon\", \"coordinates\": [[{}]]}}}}",
            ring.join(", ")
        )
    };
    let text = format!("{{\"type\": \"FeatureCollection\", \"features\": [{}, {}]}}", square(2e-3), square(3e-3));
    std::fs::write(place.path("houses.geojson"), text).expect("written");
    desk.act(BuildAction::Bring(place.path("houses.geojson")));
    assert!(desk.settle(PATIENCE));
    let blocks = &desk.survey().model.site.blocks;
    assert_eq!(blocks.len(), before + 2, "{:?}", desk.notices());
    assert!(blocks[before..].iter().all(|block| (block.shape.height_m() - 7.0).abs() < 1e-9));
    assert_eq!(desk.steps().0.last(), Some(&"Brought 2 blocks"));
    desk.act(plumbsight::viewer::state::desk::CameraAction::Undo);
    assert_eq!(desk.survey().model.site.blocks.len(), before);
    // What cannot be read is told, and changes nothing.
    desk.act(BuildAction::Bring(place.path("nothing.geojson")));
    assert!(desk.settle(PATIENCE));
    assert!(desk.notices().iter().any(|notice| notice.text.contains("nothing.geojson")), "{:?}", desk.notices());
}
