//! Does the window show what is measured, hear what is done to it, and hold together at every size?
//!
//! The panels are driven without a graphics card: by an accessibility tree, as a screen reader would, and by the shapes that
//! they hand over. `tests/pictures` leaves pictures of the window to be looked at.

use std::collections::BTreeSet;
use std::sync::Arc;

use bevy_egui::egui::{self, Pos2, Rect, Vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use plumbsight::angle::Angle;
use plumbsight::compare::CONVERGENCE;
use plumbsight::scenes::SCENES;
use plumbsight::site::{Aim, LoadedSite, parse_site, site_hash};
use plumbsight::survey::{MeasureSettings, Survey};
use plumbsight::theme::{Palette, Theme};
use plumbsight::units::Units;
use plumbsight::viewer::state::desk::{
    Action, CameraAction, CameraMove, Desk, DeskName, PrintAction, SettingAction, first_stance,
};
use plumbsight::viewer::ui::{FinderPicture, FinderPlace, Panels};

/// Sizes in points, and pixels to a point.
const SIZES: [(f32, f32, f32); 7] = [
    (1280.0, 720.0, 1.0),
    (1440.0, 860.0, 1.0),
    (1920.0, 1080.0, 1.0),
    (1280.0, 720.0, 2.0),
    (900.0, 600.0, 1.0),
    (640.0, 480.0, 1.0),
    (300.0, 500.0, 1.0),
];

pub(crate) fn survey(scene: usize) -> Arc<Survey> {
    let scene = &SCENES[scene];
    let site = parse_site(scene.text, scene.name).expect("in order");
    let path = std::path::PathBuf::from(format!("{}.site.ron", scene.name));
    let hash = site_hash(scene.text);
    Arc::new(Survey::of(LoadedSite { site, path, text: scene.text.into(), hash, warnings: Default::default() }))
}

pub(crate) fn desk(scene: usize) -> Desk {
    let survey = survey(scene);
    let stance = first_stance(&survey);
    let mut desk = Desk::new(survey, stance, MeasureSettings::default()).expect("a stance");
    desk.act(SettingAction::Guide(false));
    desk
}

/// A desk with a few prints, one of them compared with.
pub(crate) fn busy_desk(scene: usize) -> Desk {
    let mut desk = desk(scene);
    let stances = desk.survey().model.site.stances.clone();
    for stance in stances.iter().take(5) {
        desk.act(CameraMove::TakeUp(Box::new(stance.clone())));
        desk.act(PrintAction::Pin);
    }
    let ids: Vec<_> = desk.prints().iter().map(|pinned| pinned.print.id).collect();
    desk.act(PrintAction::CompareWith(ids.first().copied()));
    for id in ids.iter().take(2) {
        desk.act(PrintAction::Lay(*id, true));
    }
    desk.act(CameraMove::TakeUp(Box::new(stances[1].clone())));
    desk.rest();
    desk
}

/// A finder's picture that is nowhere looked at.
struct Blank;

impl FinderPicture for Blank {
    fn paint(&self, painter: &egui::Painter, place: &FinderPlace, palette: &Palette) {
        let vignette = palette.vignette;
        painter.rect_filled(place.shown, 0.0, egui::Color32::from_rgb(vignette.0, vignette.1, vignette.2));
    }
}

/// A window that is drawn by hand, frame by frame.
struct Window {
    context: egui::Context,
    panels: Panels,
    size: Vec2,
    scale: f32,
    shapes: Vec<egui::epaint::ClippedShape>,
    time_s: f64,
}

impl Window {
    fn new(width: f32, height: f32, scale: f32) -> Self {
        Self {
            context: egui::Context::default(),
            panels: Panels::default(),
            size: Vec2::new(width, height),
            scale,
            shapes: Vec::new(),
            time_s: 0.0,
        }
    }

    fn frame(&mut self, desk: &Desk) {
        // A tenth of a second a frame: whatever glides has arrived when the window has settled.
        self.time_s += 0.1;
        let mut input = egui::RawInput {
            time: Some(self.time_s),
            screen_rect: Some(Rect::from_min_size(Pos2::ZERO, self.size)),
            ..egui::RawInput::default()
        };
        let viewport = input.viewports.entry(input.viewport_id).or_default();
        viewport.native_pixels_per_point = Some(self.scale);
        let mut output = self.context.clone().run_ui(input, |ui| {
            self.panels.ui(ui, desk, Some(&Blank));
        });
        self.shapes = output.shapes;
        // Nothing draws them here.
        output.textures_delta.clear();
    }

    /// Draws until everything has found its place.
    fn settle(&mut self, desk: &Desk) {
        for _ in 0..5 {
            self.frame(desk);
        }
    }
}

/// Cards that open over the window, by the name of what opens them.
const CARDS: [(&str, &str); 13] = [
    ("site:", "Open a site"),
    ("position of the sun", "Use the site's"),
    ("largest lean that is upright", "What is upright"),
    ("No notices", "There are no notices."),
    ("body:", "53.7 × 40.4 mm, 101 MP"),
    ("lens:", "70–200 mm zoom · no rise"),
    ("print coal stage,", "Show note"),
    ("name heights", "Named heights"),
    ("held:", "Landscape"),
    ("units, colours and text size", "Less motion"),
    ("5 more readings", "If straightened:"),
    ("stance:", "Saved stances"),
    ("stand elsewhere", "Stand on"),
];

/// The middles of all controls of a name, in the order of the window.
pub(crate) fn middles_of(desk: Desk, width: f32, height: f32, name: &str) -> Vec<Pos2> {
    let harness = seat(desk, width, height);
    harness.query_all_by_label_contains(name).map(|control| control.rect().center()).collect()
}

#[test]
fn panels_open_their_cards() {
    for (opener, content) in CARDS {
        let mut harness = seat(busy_desk(0), 1440.0, 860.0);
        harness.get_by_label_contains(opener).click();
        harness.run_steps(4);
        assert!(
            harness.query_all_by_label_contains(content).next().is_some(),
            "'{opener}' opens nothing that tells '{content}'"
        );
    }
}

/// A window that a person uses, as an accessibility tree sees it.
pub(crate) struct Seat {
    pub(crate) desk: Desk,
    panels: Panels,
    /// Everything that was asked for.
    asked: Vec<Action>,
    /// Whether the desk does what is asked.
    pub(crate) acts: bool,
}

pub(crate) fn seat(desk: Desk, width: f32, height: f32) -> Harness<'static, Seat> {
    let state = Seat { desk, panels: Panels::default(), asked: Vec::new(), acts: true };
    let mut harness =
        Harness::builder().with_size(Vec2::new(width, height)).with_step_dt(0.02).with_max_steps(12).build_ui_state(
            |ui, seat: &mut Seat| {
                let wanted = seat.panels.ui(ui, &seat.desk, None);
                for action in wanted.actions {
                    if seat.acts {
                        seat.desk.act(action.clone());
                    }
                    seat.asked.push(action);
                }
            },
            state,
        );
    harness.run_steps(4);
    harness
}

pub(crate) fn asked(harness: &mut Harness<'_, Seat>) -> Vec<Action> {
    std::mem::take(&mut harness.state_mut().asked)
}

/// What a reader of the screen would call a node.
pub(crate) fn spoken(node: &egui_kittest::Node<'_>) -> String {
    let node = node.accesskit_node();
    node.label().or_else(|| node.value()).unwrap_or_default()
}

#[test]
fn panels_hold_at_every_size() {
    let sites: Vec<Desk> = (0..SCENES.len()).map(busy_desk).collect();
    for mut desk in sites {
        for theme in Theme::ALL {
            desk.act(SettingAction::Theme(theme));
            for name in DeskName::ALL {
                desk.act(SettingAction::ShowDesk(name));
                for (width, height, scale) in SIZES.into_iter().chain([(120.0, 90.0, 1.0), (20.0, 20.0, 1.0)]) {
                    let mut window = Window::new(width, height, scale);
                    window.settle(&desk);
                    assert!(!window.shapes.is_empty(), "{name:?} at {width}×{height}");
                }
            }
        }
    }
}

/// Every text with where it stands and where it is cut.
pub(crate) fn texts(shapes: &[egui::epaint::ClippedShape]) -> Vec<(String, Rect, Rect)> {
    fn walk(shape: &egui::Shape, clip: Rect, found: &mut Vec<(String, Rect, Rect)>) {
        match shape {
            egui::Shape::Vec(shapes) => shapes.iter().for_each(|shape| walk(shape, clip, found)),
            egui::Shape::Text(text) if !text.galley.text().trim().is_empty() => {
                found.push((text.galley.text().to_owned(), text.visual_bounding_rect(), clip));
            }
            _ => {}
        }
    }
    let mut found = Vec::new();
    for clipped in shapes {
        walk(&clipped.shape, clipped.clip_rect, &mut found);
    }
    found
}

#[test]
fn panels_cut_no_text_at_its_sides() {
    let mut wrong = Vec::new();
    for scene in 0..SCENES.len() {
        let mut desk = busy_desk(scene);
        for name in [DeskName::Walk, DeskName::Search, DeskName::HandOver] {
            desk.act(SettingAction::ShowDesk(name));
            for (width, height, scale) in SIZES {
                let mut window = Window::new(width, height, scale);
                window.settle(&desk);
                for (text, place, clip) in texts(&window.shapes) {
                    let shown = place.intersect(clip);
                    // Prints and the plan's own labels run under the edge of what they lie on; they scroll and pan.
                    let loose = desk.prints().iter().any(|pinned| {
                        let convergence = pinned.measured.as_ref().ok().and_then(|measured| CONVERGENCE.of(measured));
                        text.starts_with(&pinned.print.name)
                            || convergence.is_some_and(|value| CONVERGENCE.written(value, Units::M) == text)
                    });
                    if !shown.is_positive() || loose {
                        continue;
                    }
                    let cut = (clip.left() - place.left()).max(place.right() - clip.right());
                    let off = place.right() - width;
                    if cut.max(off) > 1.5 {
                        wrong.push(format!("{name:?} {width}×{height} scene {scene}: '{text}' by {:.1}", cut.max(off)));
                    }
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{} texts are cut:\n{}", wrong.len(), wrong.join("\n"));
}

#[test]
fn panels_lay_no_text_on_another() {
    let mut wrong = Vec::new();
    for scene in 0..SCENES.len() {
        let mut desk = busy_desk(scene);
        for name in DeskName::ALL {
            desk.act(SettingAction::ShowDesk(name));
            for (width, height, scale) in SIZES {
                let mut window = Window::new(width, height, scale);
                window.settle(&desk);
                let found: Vec<_> = texts(&window.shapes)
                    .into_iter()
                    .map(|(text, place, clip)| (text, place.intersect(clip).shrink(1.5)))
                    .filter(|(_, place)| place.is_positive())
                    .collect();
                for (index, (text, place)) in found.iter().enumerate() {
                    for (other, taken) in &found[index + 1..] {
                        if place.intersect(*taken).is_positive() {
                            wrong.push(format!("{name:?} {width}×{height} scene {scene}: '{text}' and '{other}'"));
                        }
                    }
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{} pairs of texts overlap:\n{}", wrong.len(), wrong.join("\n"));
}

#[test]
fn panels_show_what_is_measured() {
    let desk = desk(0);
    let convergence = desk.measured().account.convergence.expect("in front").angle().degrees().abs();
    let harness = seat(desk, 1440.0, 860.0);
    let reading = harness.get_by_label_contains("Convergence of the stack:");
    let said = spoken(&reading);
    assert!(said.contains(&format!("{convergence:.1}°")), "{said} does not tell {convergence}");
    let desk = &harness.state().desk;
    let verdict = spoken(&harness.get_by_label_contains("verdict: "));
    assert!(verdict.contains(&desk.measured().verdict.headline(Units::M)), "{verdict}");
    for why in desk.measured().verdict.why(Units::M) {
        assert!(verdict.contains(&why), "{verdict} does not tell {why}");
    }
}

/// The type of every text, in points.
fn type_sizes(shapes: &[egui::epaint::ClippedShape]) -> Vec<(String, f32)> {
    fn walk(shape: &egui::Shape, found: &mut Vec<(String, f32)>) {
        match shape {
            egui::Shape::Vec(shapes) => shapes.iter().for_each(|shape| walk(shape, found)),
            egui::Shape::Text(text) => {
                let sizes = text.galley.job.sections.iter().map(|section| section.format.font_id.size);
                found.extend(sizes.map(|size| (text.galley.text().to_owned(), size)));
            }
            _ => {}
        }
    }
    let mut found = Vec::new();
    shapes.iter().for_each(|clipped| walk(&clipped.shape, &mut found));
    found
}

#[test]
fn panels_write_nothing_below_11_points() {
    let mut small = BTreeSet::new();
    let mut desk = busy_desk(0);
    for name in DeskName::ALL {
        desk.act(SettingAction::ShowDesk(name));
        for (width, height, scale) in SIZES {
            let mut window = Window::new(width, height, scale);
            window.settle(&desk);
            let sizes = type_sizes(&window.shapes).into_iter().filter(|(_, size)| *size < 10.99);
            small.extend(sizes.map(|(text, size)| format!("{name:?}: '{text}' at {size}")));
        }
    }
    assert!(small.is_empty(), "{small:#?}");
}

#[test]
fn panels_write_larger_where_the_settings_say_so() {
    let mut desk = desk(0);
    let largest = |desk: &Desk| {
        let mut window = Window::new(1440.0, 900.0, 1.0);
        window.settle(desk);
        let figures = type_sizes(&window.shapes).into_iter().filter(|(text, _)| text == "Walk");
        figures.map(|(_, size)| size).fold(0.0, f32::max)
    };
    let usual = largest(&desk);
    desk.act(SettingAction::TextSize(1.3));
    assert!((largest(&desk) / usual - 1.3).abs() < 0.01, "{usual}");
    // Never smaller than usual, and never too large to be read either.
    for (asked, given) in [(0.2, 1.0), (9.0, 2.0), (f64::NAN, 2.0), (1.25, 1.3)] {
        desk.act(SettingAction::TextSize(asked));
        assert_eq!(desk.settings().text_size, given, "asked for {asked}");
    }
}

#[test]
fn panels_give_equal_buttons_equal_type() {
    let mut window = Window::new(1024.0, 640.0, 1.0);
    window.settle(&busy_desk(0));
    let of = |wanted: &str| {
        let found: Vec<f32> =
            type_sizes(&window.shapes).into_iter().filter(|(text, _)| text == wanted).map(|(_, size)| size).collect();
        found.first().copied().unwrap_or_else(|| panic!("no '{wanted}'"))
    };
    let sizes = ["Level", "Tilt least", "Fill", "Plan", "Section", "Pin", "Save picture", "Help"].map(of);
    assert!(sizes.iter().all(|size| (size - sizes[0]).abs() < 1e-3), "{sizes:?}");
}

#[test]
fn a_notice_covers_no_other_text_and_goes_with_its_reason() {
    for (width, height, scale) in SIZES {
        let mut desk = desk(0);
        let mut window = Window::new(width, height, scale);
        desk.act(CameraMove::Lens("24 mm".into()));
        window.settle(&desk);
        let picture = texts(&window.shapes);
        desk.act(CameraMove::Aim(Aim::Rise));
        let told = desk.notices().last().expect("told").text.clone();
        assert!(told.contains("24 mm") && told.contains("no rise"), "{told}");
        window.settle(&desk);
        let found = texts(&window.shapes);
        // In a narrower window it takes the place of the site's name for a while.
        if width >= 1000.0 {
            let head: String = told.chars().skip(1).take(12).collect();
            let slip = found.iter().find(|(text, _, _)| text.contains(&head)).expect("shown").1;
            let covered = picture.iter().find(|(_, place, _)| place.intersect(slip).is_positive());
            assert!(covered.is_none(), "{width}×{height}: it lies on {covered:?}");
        }
        desk.act(CameraMove::Level);
        assert!(!desk.notices().iter().any(|notice| notice.text == told), "{:?}", desk.notices());
        window.settle(&desk);
        assert!(!texts(&window.shapes).iter().any(|(text, _, _)| text.contains("has no rise")), "it is still shown");
    }
}

#[test]
fn a_print_has_its_menu_under_the_right_button() {
    let mut harness = seat(busy_desk(0), 1440.0, 900.0);
    harness.state_mut().acts = false;
    let id = harness.state().desk.prints()[0].print.id;
    let name = harness.state().desk.prints()[0].print.name.clone();
    harness.get_by_label_contains(&format!("print {name},")).click_secondary();
    harness.run_steps(4);
    asked(&mut harness);
    harness.get_by_label("Remove").click();
    harness.run_steps(3);
    assert_eq!(asked(&mut harness), [PrintAction::Unpin(id).into()]);
}

#[test]
fn panels_tell_their_names_to_screen_readers() {
    for name in DeskName::ALL {
        let mut desk = busy_desk(0);
        desk.act(SettingAction::ShowDesk(name));
        let harness = seat(desk, 1440.0, 860.0);
        let nameless: Vec<String> = harness
            .root()
            .children_recursive()
            .filter(|node| {
                let node = node.accesskit_node();
                // The axes of a plot have no role, and nothing can be done to them here.
                node.role() != egui::accesskit::Role::Unknown
                    && node.data().supports_action(egui::accesskit::Action::Focus)
                    && node.label().is_none()
                    && node.value().is_none()
            })
            .map(|node| format!("{:?} at {:?}", node.accesskit_node().role(), node.rect()))
            .collect();
        assert!(nameless.is_empty(), "{name:?}: controls without a name: {nameless:#?}");
    }
}

#[test]
fn panels_hear_buttons() {
    let mut harness = seat(busy_desk(0), 1440.0, 860.0);
    asked(&mut harness);
    for (name, action) in [
        ("Level", CameraMove::Level.into()),
        ("Fill", CameraMove::Aim(Aim::Fill).into()),
        ("Tilt least", CameraMove::Aim(Aim::LeastTilt).into()),
        ("For correction", CameraMove::Aim(Aim::Correct).into()),
        ("Look at", CameraMove::LookAtSubject.into()),
        ("Pin", PrintAction::Pin.into()),
        ("Search", SettingAction::ShowDesk(DeskName::Search).into()),
    ] {
        harness.state_mut().acts = false;
        harness.get_by_label(name).click();
        harness.run_steps(3);
        let asked = asked(&mut harness);
        assert!(asked.contains(&action), "'{name}' asked for {asked:?}");
    }
}

#[test]
fn panels_turn_barrels_by_keys_and_by_typing() {
    let mut desk = desk(0);
    desk.act(CameraMove::Lens("24-70 mm".into()));
    let mut harness = seat(desk, 1440.0, 860.0);
    asked(&mut harness);
    harness.state_mut().acts = false;
    harness.get_by_label("focal length").focus();
    harness.run_steps(2);
    harness.key_press(egui::Key::ArrowRight);
    harness.run_steps(2);
    assert_eq!(asked(&mut harness), [CameraMove::FocalStop(1).into()]);
    harness.key_press(egui::Key::End);
    harness.run_steps(2);
    assert_eq!(asked(&mut harness), [CameraMove::Focal(70.0).into()]);
    // A digit starts a number, Enter ends it.
    harness.event(egui::Event::Text("3".into()));
    harness.run_steps(3);
    harness.event(egui::Event::Text("5".into()));
    harness.run_steps(2);
    harness.key_press(egui::Key::Enter);
    harness.run_steps(3);
    assert_eq!(asked(&mut harness), [CameraMove::Focal(35.0).into()]);
    harness.get_by_label("aperture").focus();
    harness.run_steps(2);
    harness.key_press(egui::Key::ArrowRight);
    harness.run_steps(2);
    assert_eq!(asked(&mut harness), [CameraMove::Aperture(9.0).into()]);
}

#[test]
fn panels_level_by_a_double_click() {
    let mut harness = seat(desk(0), 1440.0, 860.0);
    harness.state_mut().acts = false;
    let glass = harness.get_by_label("pitch").rect().center();
    asked(&mut harness);
    harness.event(egui::Event::PointerMoved(glass));
    for pressed in [true, false, true, false] {
        harness.event(egui::Event::PointerButton {
            pos: glass,
            button: egui::PointerButton::Primary,
            pressed,
            modifiers: egui::Modifiers::NONE,
        });
    }
    harness.run_steps(2);
    let asked = asked(&mut harness);
    assert!(asked.contains(&CameraMove::Pitch(Angle::ZERO).into()), "{asked:?}");
}

#[test]
fn panels_set_heights_on_the_staff() {
    let mut harness = seat(desk(0), 1440.0, 860.0);
    harness.state_mut().acts = false;
    asked(&mut harness);
    harness.get_by_label_contains("pole, 4.50").click();
    harness.run_steps(3);
    assert_eq!(asked(&mut harness), [CameraMove::Height(4.5).into()]);
    harness.get_by_label("camera height").focus();
    harness.run_steps(2);
    harness.event(egui::Event::Text("2".into()));
    harness.run_steps(3);
    harness.event(egui::Event::Text(".4".into()));
    harness.run_steps(2);
    harness.key_press(egui::Key::Enter);
    harness.run_steps(3);
    assert_eq!(asked(&mut harness), [CameraMove::Height(2.4).into()]);
}

#[test]
fn panels_stand_where_the_plan_is_clicked() {
    let mut harness = seat(desk(0), 1440.0, 860.0);
    harness.state_mut().acts = false;
    let plan = harness.get_by_label_contains("plan:").rect();
    asked(&mut harness);
    harness.drag_at(plan.center());
    harness.drop_at(plan.center());
    harness.run_steps(3);
    let asked = asked(&mut harness);
    assert!(
        asked.iter().any(|action| matches!(action, Action::Camera(CameraAction::Move(CameraMove::StandAt(..))))),
        "{asked:?}"
    );
}

#[test]
fn panels_pick_prints_up() {
    let mut harness = seat(busy_desk(0), 1440.0, 860.0);
    harness.state_mut().acts = false;
    let id = harness.state().desk.prints()[1].print.id;
    let name = harness.state().desk.prints()[1].print.name.clone();
    harness.get_by_label_contains(&format!("print {name},")).click();
    harness.run_steps(4);
    asked(&mut harness);
    harness.get_by_label("Go there").click();
    harness.run_steps(3);
    assert_eq!(asked(&mut harness), [PrintAction::TakeUp(id).into()]);
}

#[test]
fn panels_can_be_walked_by_the_tab_key() {
    for name in DeskName::ALL {
        let mut desk = busy_desk(0);
        desk.act(SettingAction::ShowDesk(name));
        let mut harness = seat(desk, 1440.0, 860.0);
        harness.state_mut().acts = false;
        let mut reached: BTreeSet<String> = BTreeSet::new();
        for _ in 0..160 {
            harness.key_press(egui::Key::Tab);
            harness.run_steps(1);
            let focused = harness.root().children_recursive().find(|node| node.is_focused());
            reached.extend(focused.map(|node| spoken(&node)));
        }
        let wanted: &[&str] = match name {
            DeskName::Walk => {
                &["focal length", "focus", "aperture", "camera height", "pitch", "roll", "heading", "Pin"]
            }
            DeskName::Search => &["Walk", "Help"],
            DeskName::Compare => &["Walk", "Help"],
            DeskName::HandOver => &["Screen size", "Choose folder…"],
            DeskName::Build => &["things on the site", "New site", "shape: box", "Save this stance in the site"],
        };
        for control in wanted {
            assert!(reached.contains(*control), "{name:?}: the Tab key does not reach '{control}': {reached:#?}");
        }
    }
}

#[test]
fn panels_are_drawn_in_time() {
    // Two cores of a server shared with others: the fastest of many is what the panels themselves take.
    let desk = busy_desk(0);
    let mut window = Window::new(1440.0, 860.0, 1.0);
    window.settle(&desk);
    let fastest = (0..60)
        .map(|_| {
            let start = std::time::Instant::now();
            window.frame(&desk);
            let shapes = std::mem::take(&mut window.shapes);
            let primitives = window.context.tessellate(shapes, 1.0);
            assert!(!primitives.is_empty());
            start.elapsed()
        })
        .min()
        .expect("many");
    crate::support::tell(&format!("the panels of the Walk desk: {:.2} ms a frame", 1000.0 * fastest.as_secs_f64()));
    assert!(fastest.as_millis() < 8, "the panels take {fastest:?}");
}

#[test]
fn ways_are_told_at_rest_and_a_click_goes_there() {
    let mut harness = seat(desk(0), 1440.0, 860.0);
    harness.state_mut().acts = false;
    let desk = &mut harness.state_mut().desk;
    assert!(desk.ways().is_none());
    desk.rest();
    // Looked for on a thread of its own; a busy machine may take its time.
    assert!(desk.settle(std::time::Duration::from_secs(120)), "no ways in two minutes");
    assert!(desk.ways().is_some_and(|view| view.found.is_ok() && view.elsewhere.is_none()));
    harness.run_steps(2);
    asked(&mut harness);
    let way = harness.query_all_by_label_contains("go: ").next().expect("waited for");
    way.click();
    harness.run_steps(3);
    let asked = asked(&mut harness);
    assert!(matches!(asked.as_slice(), [Action::Camera(CameraAction::Move(CameraMove::TakeUp(_)))]), "{asked:?}");
}
