//! How far may the camera be off before the verdict changes? In words, with what ends it; plan, scales and picture show it as
//! arrows and brackets.

use bevy_egui::egui::Ui;

use crate::angle::Angle;
use crate::tolerance::{EXACTLY_M, FARTHEST_M, Tolerance, ToleranceEnd};
use crate::units::Units;
use crate::wording;

use super::context::PanelContext;
use super::style::{choice, row_widths};

/// The switch between the two ways of moving a camera.
pub(super) fn ways_of_moving_ui(ui: &mut Ui, panel: &PanelContext<'_>, as_set: &mut bool) {
    let style = &panel.style;
    let gap = style.px(4.0);
    let widths = row_widths(ui, style, ["Aimed anew", "As set"], (ui.available_width() - gap).min(style.px(190.0)));
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = gap;
        let ways = [
            ("Aimed anew", false, "a tripod that is carried, and the camera aimed at the subject again"),
            ("As set", true, "a camera that keeps its pitch and bearing as it is moved"),
        ];
        for ((word, of, help), width) in ways.into_iter().zip(widths) {
            if choice(ui, style, word, &format!("tolerance: {word}"), *as_set == of, width)
                .on_hover_text(help)
                .clicked()
            {
                *as_set = of;
            }
        }
    });
}

/// The tolerance in plain words, with what ends it.
pub(super) fn tolerance_ui(ui: &mut Ui, panel: &PanelContext<'_>) {
    let style = &panel.style;
    match panel.tolerance() {
        Some(tolerance) => {
            for sentence in sentences(tolerance, panel.units()) {
                ui.label(style.note(sentence));
            }
        }
        None if panel.measured().account.convergence.is_none() => {
            ui.label(style.note("Unknown: the subject is not in front of the camera."));
        }
        None => {
            ui.label(style.note("Appears when you stand still."));
        }
    }
}

/// A length one way, and at a limit what to give.
fn length(metres: f64, way: &str, units: Units) -> String {
    if metres < EXACTLY_M {
        return format!("{way} at its limit, give {} the other way", units.length(EXACTLY_M, 2));
    }
    format!("{} {way}", units.offset(metres))
}

/// For each thing that ends it, how far one may go: "3 m right, 1.2 m nearer: then the subject is hidden."
fn sentences(tolerance: &Tolerance, units: Units) -> Vec<String> {
    let ends = &tolerance.ends;
    let lengths = [
        ("left", tolerance.left_m, ends.left),
        ("right", tolerance.right_m, ends.right),
        ("nearer", tolerance.forward_m, ends.forward),
        ("back", tolerance.back_m, ends.back),
        ("up", tolerance.up_m, ends.up),
        ("down", tolerance.down_m, ends.down),
    ];
    let angles = [
        ("pitch", tolerance.pitch, ends.pitch),
        ("bearing", tolerance.heading, ends.heading),
        ("roll", tolerance.roll, ends.roll),
    ];
    let told = |end: Option<ToleranceEnd>| -> Vec<String> {
        let moved = lengths
            .iter()
            .filter(|way| way.2 == end)
            .filter_map(|(word, far_m, _)| far_m.map(|far_m| length(far_m, word, units)));
        let turned = angles.iter().filter(|way| way.2 == end);
        let degrees = |angle: Angle| format!("±{:.1}°", angle.degrees());
        moved.chain(turned.filter_map(|(word, by, _)| by.map(|by| format!("{word} {}", degrees(by))))).collect()
    };
    let mut sentences: Vec<String> = ToleranceEnd::ALL
        .into_iter()
        .map(|end| (told(Some(end)), end.words()))
        .filter(|(parts, _)| !parts.is_empty())
        .map(|(parts, then)| wording::capital(&format!("{}: then {then}.", parts.join(", "))))
        .collect();
    let plain = told(None);
    if !plain.is_empty() {
        sentences.push(wording::capital(&format!("{}.", plain.join(", "))));
    }
    if sentences.is_empty() {
        sentences.push(format!("More than {} in every direction.", units.length(FARTHEST_M, 0)));
    }
    sentences
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tolerance::ToleranceEnds;

    #[test]
    fn what_ends_the_tolerance_is_told_and_a_limit_is_never_nought() {
        let tolerance = Tolerance {
            left_m: Some(3.04),
            right_m: Some(0.004),
            back_m: Some(12.0),
            up_m: Some(0.04),
            pitch: Some(Angle::from_degrees(0.42)),
            ends: ToleranceEnds {
                left: Some(ToleranceEnd::Lean),
                right: Some(ToleranceEnd::Hidden),
                back: Some(ToleranceEnd::Cut),
                up: Some(ToleranceEnd::Cut),
                pitch: Some(ToleranceEnd::Lean),
                ..ToleranceEnds::default()
            },
            ..Tolerance::default()
        };
        let told = [
            "Right at its limit, give 0.01 m the other way: then the subject is hidden.",
            "12 m back, 0.04 m up: then the frame cuts the subject.",
            "3.0 m left, pitch ±0.4°: then a lean has changed.",
        ];
        assert_eq!(sentences(&tolerance, Units::M), told);
        assert_eq!(sentences(&Tolerance::default(), Units::M), ["More than 50 m in every direction."]);
    }
}
