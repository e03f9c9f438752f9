//! How far can the camera move before a lean changes?

use bevy_egui::egui::Ui;

use crate::tolerance::Tolerance;
use crate::units::Units;

use super::context::PanelContext;

/// The tolerance in plain words; plan, scales and picture show it as arrows and brackets.
pub(super) fn tolerance_ui(ui: &mut Ui, panel: &PanelContext<'_>) {
    let style = &panel.style;
    ui.label(style.title("Tolerance"));
    let lean_change = panel.desk.measure_settings().lean_change.map_or(0.2, |angle| angle.degrees());
    let words = match &panel.measured().tolerance {
        Some(tolerance) => format!(
            "{} before a lean changes by {lean_change:.1}°, or the subject is cut.",
            words(tolerance, panel.units())
        ),
        None if panel.measured().account.convergence.is_none() => {
            "Unknown: the subject is not in front of the camera.".into()
        }
        None => "Appears when you stand still.".into(),
    };
    ui.label(style.note(words));
}

/// Metres and degrees, in one sentence: "3 m either way, 6 m back, 2 m nearer, 0.8 m up, 0.5 m down, 0.4° of pitch".
fn words(tolerance: &Tolerance, units: Units) -> String {
    let length = |metres: Option<f64>| {
        metres.map(|metres| {
            let shown = units.from_metres(metres);
            // A hundredth is told where a tenth would be nothing.
            let digits = if shown >= 10.0 {
                0
            } else if shown >= 0.1 {
                1
            } else {
                2
            };
            units.length(metres, digits)
        })
    };
    let mut parts = Vec::new();
    match (length(tolerance.left_m), length(tolerance.right_m)) {
        (Some(left), Some(right)) if left == right => parts.push(format!("{left} either way")),
        (left, right) => {
            parts.extend(left.map(|left| format!("{left} left")));
            parts.extend(right.map(|right| format!("{right} right")));
        }
    }
    parts.extend(length(tolerance.back_m).map(|back| format!("{back} back")));
    parts.extend(length(tolerance.forward_m).map(|nearer| format!("{nearer} nearer")));
    match (length(tolerance.up_m), length(tolerance.down_m)) {
        (Some(up), Some(down)) if up == down => parts.push(format!("{up} up or down")),
        (up, down) => {
            parts.extend(up.map(|up| format!("{up} up")));
            parts.extend(down.map(|down| format!("{down} down")));
        }
    }
    let degrees = |what: &str, angle: Option<crate::angle::Angle>| {
        angle.map(|angle| format!("{:.1}° of {what}", angle.degrees()))
    };
    parts.extend(degrees("pitch", tolerance.pitch));
    parts.extend(degrees("roll", tolerance.roll));
    parts.extend(degrees("heading", tolerance.heading));
    if parts.is_empty() {
        return format!("More than {} in every direction", units.length(50.0, 0));
    }
    parts.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::angle::Angle;

    #[test]
    fn tolerance_is_one_sentence() {
        let tolerance = Tolerance {
            left_m: Some(3.04),
            right_m: Some(2.96),
            back_m: Some(12.0),
            up_m: Some(0.04),
            pitch: Some(Angle::from_degrees(0.42)),
            ..Tolerance::default()
        };
        assert_eq!(words(&tolerance, Units::M), "3.0 m either way, 12 m back, 0.04 m up, 0.4° of pitch");
    }
}
