//! How far may one be off? As arrows with their lengths.

use crate::drawing::{Align, CanvasPoint, Drawing, Mark, Role, Text, Weight};
use crate::handover::told::Teller;
use crate::stance::Standing;
use crate::tolerance::{EXACTLY_M, FARTHEST_M, Tolerance};

/// The drawing's canvas.
const CANVAS_PT: (f64, f64) = (360.0, 104.0);
/// How long an arrow is: its length is written beside it, for a metre to the side and fifty away are on one card.
const ARROW_PT: f64 = 26.0;
/// The size of its type.
const TYPE_PT: f64 = 9.4;

/// The tolerance of a stance that is taken up: aside and away as seen from above, up and down, then turns of the camera.
pub(super) fn tolerance_arrows(teller: &Teller<'_>, standing: &Standing, tolerance: &Tolerance) -> Drawing {
    let words = teller.words;
    let length = |length_m: Option<f64>| {
        length_m.map_or_else(
            || words.any_distance(&teller.roundly(FARTHEST_M)),
            |length_m| teller.by_tape(length_m.max(EXACTLY_M)),
        )
    };
    let [nearer, farther] = [tolerance.forward_m, tolerance.back_m].map(length);
    let [left, right] = [tolerance.left_m, tolerance.right_m].map(length);
    let down = match (tolerance.down_m, standing.height_m()) {
        (None, Some(_)) => words.to_the_ground(),
        (Some(down_m), Some(height_m)) if down_m >= height_m - EXACTLY_M => words.to_the_ground(),
        (down_m, _) => words.lower(&length(down_m)),
    };
    let (nearer, farther, up) = (words.nearer(&nearer), words.farther(&farther), words.higher(&length(tolerance.up_m)));
    let mut marks = Vec::new();
    let feet = (86.0, 52.0);
    arrows(&mut marks, feet, &[(0.0, -1.0), (0.0, 1.0), (-1.0, 0.0), (1.0, 0.0)]);
    let beside = |at: CanvasPoint, (right, down): CanvasPoint| (at.0 + right, at.1 + down);
    text(&mut marks, &nearer, beside(feet, (8.0, -ARROW_PT - 6.0)), Align::Start, false);
    text(&mut marks, &farther, beside(feet, (8.0, ARROW_PT + 6.0)), Align::Start, false);
    text(&mut marks, &left, beside(feet, (-ARROW_PT - 6.0, 0.0)), Align::End, true);
    text(&mut marks, &right, beside(feet, (ARROW_PT + 6.0, 0.0)), Align::Start, true);
    let lens = (212.0, 52.0);
    arrows(&mut marks, lens, &[(0.0, -1.0), (0.0, 1.0)]);
    text(&mut marks, &up, beside(lens, (8.0, -ARROW_PT - 4.0)), Align::Start, false);
    text(&mut marks, &down, beside(lens, (8.0, ARROW_PT + 4.0)), Align::Start, false);
    bubble(&mut marks, (335.0, 20.0));
    let angle = |angle: Option<crate::angle::Angle>| {
        angle.map_or_else(|| words.any_angle(), |angle| words.figures(&format!("± {:.1}°", angle.degrees().max(0.05))))
    };
    let turns = [
        words.tolerance_roll(&angle(tolerance.roll)),
        words.tolerance_pitch(&angle(tolerance.pitch)),
        words.tolerance_bearing(&angle(tolerance.heading)),
    ];
    for (index, turn) in turns.iter().enumerate() {
        text(&mut marks, turn, (CANVAS_PT.0 - 2.0, 44.0 + 16.0 * index as f64), Align::End, index == 0);
    }
    let said = [vec![nearer, farther, format!("← {left}"), format!("→ {right}"), up, down], turns.to_vec()].concat();
    Drawing { width_pt: CANVAS_PT.0, height_pt: CANVAS_PT.1, marks, plan: None, words: said.join("; ") }
}

fn arrows(marks: &mut Vec<Mark>, at: CanvasPoint, ways: &[CanvasPoint]) {
    for (right, down) in ways {
        let to = (at.0 + right * ARROW_PT, at.1 + down * ARROW_PT);
        marks.push(Mark::Arrow { from: at, to, pen: Role::Ink.pen(1.3) });
    }
    marks.push(Mark::Circle { centre: at, radius_pt: 4.0, fill: Some(Role::Ink.full()), pen: None });
}

fn text(marks: &mut Vec<Mark>, text: &str, at: CanvasPoint, align: Align, strong: bool) {
    let weight = if strong { Weight::Semibold } else { Weight::Regular };
    let text = Text { text: text.into(), at, align, size_pt: TYPE_PT, weight, role: Role::Ink, plate: false };
    marks.push(Mark::Text(text));
}

/// A spirit level with its bubble in the middle.
fn bubble(marks: &mut Vec<Mark>, (x, y): CanvasPoint) {
    let (half, radius) = (22.0, 7.0);
    let cap = |centre: f64, from: f64| {
        (0..=8).map(move |step| {
            let turn = from + std::f64::consts::PI * f64::from(step) / 8.0;
            (centre + radius * turn.cos(), y + radius * turn.sin())
        })
    };
    let quarter = std::f64::consts::FRAC_PI_2;
    let ring = cap(x + half - radius, -quarter).chain(cap(x - half + radius, quarter)).collect();
    marks.push(Mark::Area { rings: vec![ring], fill: Some(Role::Well.full()), pen: Some(Role::Soft.pen(0.9)) });
    for side in [-6.5, 6.5] {
        let points = vec![(x + side, y - radius), (x + side, y + radius)];
        marks.push(Mark::Line { points, pen: Role::Soft.pen(0.9) });
    }
    marks.push(Mark::Circle {
        centre: (x, y),
        radius_pt: 4.4,
        fill: Some(Role::Panel.full()),
        pen: Some(Role::Ink.pen(1.2)),
    });
}
