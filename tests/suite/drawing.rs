//! Do plan, section and plumb gauge show what was measured, legibly, and alike in every form?

use plumbsight::angle::Angle;
use plumbsight::drawing::{
    Drawing, Mark, Pin, PlanLabels, PlanRequest, PlanView, Role, Room, SectionRequest, SiteShapes, SvgColours,
    SvgLetters, Text, gauge, plan, section,
};
use plumbsight::scenes::SCENES;
use plumbsight::site::Aim;
use plumbsight::survey::{MeasureSettings, Measured, Survey};
use plumbsight::theme::Theme;
use plumbsight::units::Units;

use crate::support::program::run;
use crate::support::project;
use crate::support::surveyed::{stance, surveyed, surveyed_blocks, turned};

fn texts(drawing: &Drawing) -> Vec<&Text> {
    drawing.marks.iter().filter_map(|mark| if let Mark::Text(text) = mark { Some(text) } else { None }).collect()
}

fn plan_of(survey: &Survey, measured: &Measured, pins: &[Pin], width_pt: f64, height_pt: f64) -> Drawing {
    let shapes = SiteShapes::of(&survey.model);
    let eye = measured.standing.pose.eye;
    let view = PlanView::whole(&shapes, &[(eye.x, eye.y)], width_pt, height_pt);
    plan(&PlanRequest {
        survey,
        shapes: &shapes,
        measured: Some(measured),
        pins,
        walks: &[],
        view,
        units: Units::M,
        titled: true,
        labels: PlanLabels::default(),
    })
}

fn section_of(survey: &Survey, measured: &Measured, units: Units, width_pt: f64, height_pt: f64) -> Drawing {
    section(&SectionRequest { survey, measured, units, width_pt, height_pt, titled: true })
}

/// Every stance of the demo sites with its plan and section, small and large.
fn every_drawing(mut look: impl FnMut(&str, &Drawing)) {
    for scene in SCENES {
        let survey = surveyed(scene.text, scene.name);
        let pins: Vec<Pin> = survey
            .model
            .site
            .stances
            .iter()
            .filter_map(|stance| Some(Pin::of(&stance.name, &survey.stand(stance).ok()?, None)))
            .collect();
        for stance in &survey.model.site.stances {
            let Ok(measured) = survey.measure(stance, &MeasureSettings::default()) else { continue };
            for (width_pt, height_pt) in [(262.0, 240.0), (720.0, 540.0)] {
                look(&stance.name, &plan_of(&survey, &measured, &pins, width_pt, height_pt));
                look(&stance.name, &section_of(&survey, &measured, Units::M, width_pt, height_pt));
            }
            look(&stance.name, &gauge(&survey, &measured, 66.0, 100.0));
        }
    }
}

#[test]
fn no_two_labels_lie_on_one_another_and_none_is_cut() {
    let mut looked_at = 0;
    every_drawing(|name, drawing| {
        let rooms: Vec<(Room, &str)> = texts(drawing)
            .into_iter()
            .filter(|text| text.plate)
            .map(|text| (text.room(), text.text.as_str()))
            .collect();
        for (index, (room, text)) in rooms.iter().enumerate() {
            assert!(
                room.left >= 0.0
                    && room.top >= 0.0
                    && room.right <= drawing.width_pt
                    && room.bottom <= drawing.height_pt,
                "{name}: '{text}' is cut: {room:?}"
            );
            for (other, what) in &rooms[..index] {
                assert!(!other.meets(room, 0.0), "{name}: '{text}' lies on '{what}'");
            }
            looked_at += 1;
        }
        assert!(!drawing.words.is_empty());
    });
    assert!(looked_at > 300, "{looked_at}");
}

#[test]
fn plumb_red_and_the_flank_colour_mean_one_thing_each() {
    every_drawing(|name, drawing| {
        // A plan has no plumb lines: nothing in it is red.
        if drawing.plan.is_some() {
            for mark in &drawing.marks {
                let red = match mark {
                    Mark::Line { pen, .. } | Mark::Arrow { pen, .. } => pen.role == Role::Plumb,
                    Mark::Area { fill, pen, .. } | Mark::Circle { fill, pen, .. } => {
                        fill.is_some_and(|tint| tint.role == Role::Plumb)
                            || pen.is_some_and(|pen| pen.role == Role::Plumb)
                    }
                    Mark::Text(text) => text.role == Role::Plumb,
                };
                assert!(!red, "{name}: {mark:?}");
            }
        }
    });
}

#[test]
fn the_section_tells_the_angle_between_sensor_and_plumb() {
    let survey = surveyed_blocks(
        "(name: \"mast\", subject: true, at: (0, 0), shape: Box(width_m: 2, depth_m: 2, height_m: 20))",
    );
    for (pitch_deg, note) in [
        (15.5, "sensor and plumb are 15.5° apart"),
        (0.0, "sensor and plumb are parallel"),
        (-7.0, "sensor and plumb are 7.0° apart"),
    ] {
        let stance = stance((0.0, -40.0), 1.6, "24 mm", turned(0.0, pitch_deg, 0.0));
        let measured = survey.measure(&stance, &MeasureSettings::default()).expect("a stance");
        let drawing = section_of(&survey, &measured, Units::M, 560.0, 360.0);
        assert!(texts(&drawing).iter().any(|text| text.text == note), "{note}");
        // The sensor is the heavy line, the plumb the red dotted one: the angle between them as drawn.
        let line = |wanted: &dyn Fn(&plumbsight::drawing::Pen) -> bool| {
            let found = drawing.marks.iter().find_map(|mark| match mark {
                Mark::Line { points, pen } if wanted(pen) => Some((points[0], points[points.len() - 1])),
                _ => None,
            });
            let ((x, y), (x_end, y_end)) = found.expect("drawn");
            Angle::bearing_of(x_end - x, y - y_end)
        };
        let sensor = line(&|pen| pen.role == Role::Ink && pen.width_pt == 3.0);
        let plumb = line(&|pen| pen.role == Role::Plumb);
        let apart = (sensor - plumb).wrapped().degrees().rem_euclid(180.0);
        assert!((apart.min(180.0 - apart) - pitch_deg.abs()).abs() < 1e-6, "{apart} for {pitch_deg}");
    }
}

#[test]
fn drawings_are_in_the_unit_that_is_asked_for() {
    let survey = surveyed(SCENES[0].text, SCENES[0].name);
    let stance = survey.model.site.stances[0].clone();
    let measured = survey.measure(&stance, &MeasureSettings::default()).expect("a stance");
    let (account, shapes) = (&measured.account, SiteShapes::of(&survey.model));
    // An international foot is 0.3048 m.
    let feet = |metres: f64, digits: usize| format!("{:.digits$} ft", metres / 0.3048);
    let distance = feet(account.distance_m.expect("beside the subject"), 1);
    let subject = survey.subject.as_ref().expect("a subject");
    let high = format!("{} high", feet(subject.highest_m - subject.base_m, 1));
    let eye = measured.standing.pose.eye;
    let view = PlanView::whole(&shapes, &[(eye.x, eye.y)], 720.0, 540.0);
    let plan = plan(&PlanRequest {
        survey: &survey,
        shapes: &shapes,
        measured: Some(&measured),
        pins: &[],
        walks: &[],
        view,
        units: Units::Ft,
        titled: true,
        labels: PlanLabels::default(),
    });
    let section = section_of(&survey, &measured, Units::Ft, 560.0, 360.0);
    let written = |drawing: &Drawing| texts(drawing).iter().map(|text| text.text.clone()).collect::<Vec<_>>();
    assert!(written(&plan).contains(&format!("{distance} from the stack")), "{:?}", written(&plan));
    assert!(written(&section).contains(&distance) && written(&section).contains(&high), "{:?}", written(&section));
    for drawing in [&plan, &section] {
        assert!(drawing.words.contains(&distance), "{}", drawing.words);
        for text in written(drawing).iter().chain([&drawing.words]) {
            let metric = text.split(' ').any(|word| word.trim_end_matches([',', '.']) == "m");
            assert!(!metric, "{text}");
        }
    }
    // The bar is a round number of feet, and as long as it says.
    assert!(written(&plan).contains(&"100 ft".to_owned()), "{:?}", written(&plan));
    let bar_pt = 100.0 * 0.3048 / plan.plan.expect("a plan").metres_per_point;
    let is_bar = |mark: &Mark| matches!(mark, Mark::Line { points, .. } if points.len() == 4 && (points[2].0 - points[1].0 - bar_pt).abs() < 1e-6);
    assert!(plan.marks.iter().any(is_bar));
}

#[test]
fn the_plan_shows_blocks_where_they_stand_and_closed_ground_hatched() {
    let text = "Site(format: 1, name: \"test\", blocks: [
        (name: \"mast\", subject: true, at: (0, 0), shape: Box(width_m: 2, depth_m: 2, height_m: 20)),
        (name: \"shed\", at: (10, 0), heading_deg: 90, shape: Box(width_m: 4, depth_m: 6, height_m: 3))],
        grounds: [(name: \"paddock\", access: Closed, outline: [(-20, -20), (-5, -20), (-5, -5), (-20, -5)])])";
    let survey = surveyed(text, "test");
    let stance = stance((0.0, -30.0), 1.6, "24 mm", Aim::Fill);
    let measured = survey.measure(&stance, &MeasureSettings::default()).expect("a stance");
    let drawing = plan_of(&survey, &measured, &[], 600.0, 600.0);
    let view = drawing.plan.expect("a plan's view");
    // The shed, 4 wide and turned to the east, spans 6 m west to east.
    let shed = drawing.marks.iter().find_map(|mark| match mark {
        Mark::Area { rings, fill: Some(fill), .. } if fill.role == Role::Well => Some(&rings[0]),
        _ => None,
    });
    let corners: Vec<_> = shed.expect("a shed").iter().map(|&corner| view.plan_of(corner)).collect();
    let reach =
        |pick: fn(f64, f64) -> f64, start: f64, of: fn(&(f64, f64)) -> f64| corners.iter().map(of).fold(start, pick);
    for (found, wanted) in [
        (reach(f64::min, f64::INFINITY, |corner| corner.0), 7.0),
        (reach(f64::max, f64::NEG_INFINITY, |corner| corner.0), 13.0),
        (reach(f64::min, f64::INFINITY, |corner| corner.1), -2.0),
        (reach(f64::max, f64::NEG_INFINITY, |corner| corner.1), 2.0),
    ] {
        assert!((found - wanted).abs() < 1e-5, "{found} for {wanted}");
    }
    // Hatching: thin soft lines, each within the paddock.
    let hatching: Vec<_> = drawing
        .marks
        .iter()
        .filter_map(|mark| match mark {
            Mark::Line { points, pen } if pen.role == Role::Soft && pen.width_pt == 0.5 => Some(points),
            _ => None,
        })
        .collect();
    assert!(hatching.len() > 10, "{}", hatching.len());
    for line in hatching {
        for &end in line {
            let (x, y) = view.plan_of(end);
            assert!((-20.001..=-4.999).contains(&x) && (-20.001..=-4.999).contains(&y), "{x}, {y}");
        }
    }
    assert!(texts(&drawing).iter().any(|text| text.text == "paddock, closed"));
}

#[test]
fn the_gauge_is_true_to_scale() {
    let survey = surveyed_blocks(
        "(name: \"tower\", subject: true, at: (0, 0), shape: Box(width_m: 4, depth_m: 4, height_m: 20))",
    );
    let stance = stance((0.0, -40.0), 1.6, "24 mm", turned(0.0, 20.0, 0.0));
    let measured = survey.measure(&stance, &MeasureSettings::default()).expect("a stance");
    let drawing = gauge(&survey, &measured, 160.0, 240.0);
    let outlines: Vec<_> = drawing
        .marks
        .iter()
        .filter_map(|mark| match mark {
            Mark::Area { rings, pen: Some(pen), .. } if pen.role == Role::Side => Some(&rings[0]),
            _ => None,
        })
        .collect();
    assert_eq!(outlines.len(), 2);
    let taper = measured.account.taper.expect("a taper");
    for (outline, wanted) in outlines.into_iter().zip([taper.seen, taper.shape]) {
        let (low, high) =
            outline.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), &(_, y)| (low.min(y), high.max(y)));
        let width = |y: f64| {
            let at = outline.iter().filter(|corner| (corner.1 - y).abs() < 0.5).map(|corner| corner.0);
            at.clone().fold(f64::NEG_INFINITY, f64::max) - at.fold(f64::INFINITY, f64::min)
        };
        let found = width(low) / width(high);
        assert!((found - wanted).abs() < 0.01, "{found} for {wanted}");
    }
}

#[test]
fn drawings_hold_whatever_they_are_asked() {
    let survey = surveyed(SCENES[0].text, SCENES[0].name);
    let shapes = SiteShapes::of(&survey.model);
    let stance = survey.model.site.stances[0].clone();
    let measured = survey.measure(&stance, &MeasureSettings::default()).expect("a stance");
    for side in [f64::NAN, f64::INFINITY, -5.0, 0.0, 1.0, 33.0, 1e9] {
        for metres_per_point in [f64::NAN, 0.0, 1e-9, 0.2, 1e9] {
            let view = PlanView { centre: (side, -side), metres_per_point, width_pt: side.abs(), height_pt: 200.0 };
            // A canvas of 100,000 points is drawn, though nobody looks at one.
            let drawing = plan(&PlanRequest {
                survey: &survey,
                shapes: &shapes,
                measured: Some(&measured),
                pins: &[],
                walks: &[],
                view,
                units: Units::M,
                titled: true,
                labels: PlanLabels::default(),
            });
            assert!(drawing.width_pt.is_finite());
        }
        let drawn = [section_of(&survey, &measured, Units::M, side, 100.0), gauge(&survey, &measured, 100.0, side)];
        for drawing in drawn {
            assert!(drawing.svg(SvgColours::Variables, SvgLetters::Type).starts_with("<svg"));
            let _ = drawing.picture(Theme::Dusk, 1.0);
        }
    }
}

#[test]
fn the_program_draws_all_three_in_both_forms() {
    let folder = tempfile::tempdir().expect("a folder");
    let site = project().join("scenes/saltings.site.ron");
    let site = site.to_str().expect("a path in UTF-8");
    for what in ["plan", "section", "gauge"] {
        for form in ["svg", "png"] {
            let out = format!("{what} of yard.{form}");
            let arguments = ["draw", site, "--stance", "yard, standing", "--what", what, "--out", &out];
            let said = run(folder.path(), &arguments).good();
            assert!(said.contains(&out) && said.contains("stack"), "{said}");
            let bytes = std::fs::read(folder.path().join(&out)).expect("a file");
            match form {
                "svg" => {
                    let text = String::from_utf8(bytes).expect("text");
                    assert!(text.contains("<title>") && text.trim_end().ends_with("</svg>"));
                }
                _ => assert!(bytes.starts_with(b"\x89PNG")),
            }
            run(folder.path(), &arguments).refused(2, "--replace");
        }
    }
    run(folder.path(), &["draw", site, "--stance", "yard, standing", "--out", "a.gif"]).refused(2, ".svg or .png");
}
